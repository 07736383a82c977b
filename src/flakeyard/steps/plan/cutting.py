"""Choose a fish and a cut: how long its pieces dry from thin to thick, even or uneven, and what a kilogram becomes.

One solve holds four thicknesses of three kinds of pieces, so that every thickness between is read off, not solved anew.
All pieces get the cure of the batch as it is written: only the thickness differs between them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flakeyard.models import flesh as physics
from flakeyard.steps.chain import drying
from flakeyard.steps.chain.fish import Flesh, ruler_ln_sd
from flakeyard.steps.chain.laying import until_laid
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Band, Draws, band, places
from flakeyard.steps.plan.judging import TESTED_THICKNESS
from flakeyard.tables import Species

KNOTS = np.geomspace(*TESTED_THICKNESS, 4)  # m, usual thickness: the range the drying model was tested on
OVER_USUAL = np.array([1.3, 1.0, 1.6])  # thickness over that of the usual piece, which stands second, as everywhere
LONGEST = drying.SHORT_TIMES[-1] / 3600  # hours; how far a sketch is followed
MEMBERS = 20
ACROSS = np.linspace(*TESTED_THICKNESS, 25)  # m, usual thicknesses of a curve


@dataclass(frozen=True)
class Repeated(Draws):
    """The draws of a small ensemble, the same again for each of several blocks of members."""

    blocks: int = 1

    def _shares(self, name: str) -> np.ndarray:
        return np.tile(places(self.members // self.blocks, self.seed, name), self.blocks)


@dataclass(frozen=True)
class Cuts:
    """What a fish becomes and how long its pieces dry, of the shape (pieces, thicknesses, members).

    ``raw`` and ``dried`` are kg per kg of trimmed raw fish (members,); ``hours`` is infinite where two days are not enough.
    """

    raw: Flesh
    dried: Flesh
    hours: np.ndarray
    aim: str

    def hours_for(self, thickness, thicker: float = 0.0) -> np.ndarray:
        """Hours until a piece that is ``thicker`` (0.3: by 30 %) than the usual one [m] has the weight to stop at.

        Shape (10th, 50th, 90th percentile; thicknesses), infinite beyond two days. Read off by polynomials in the logarithms.

        Returns: (3, thicknesses) [h, 0–48, or infinite]
        Source: models.slab_drying.dry
        """
        along = _weights(np.log(KNOTS), np.log(np.atleast_1d(thickness)))
        over = _weights(np.log(OVER_USUAL), np.log([1.0 + thicker]))[0]
        members = np.exp(np.einsum("nk,p,pkm->nm", along, over, np.log(_continued(self.hours))))
        found = np.quantile(members, [0.1, 0.5, 0.9], axis=1)
        return np.where(found > LONGEST, np.inf, found)

    def middle_hours(self, thickness: float, thicker: float = 0.0) -> float:
        """The middle forecast of `hours_for` one piece.

        Returns: float [h, 0–48, or infinite]
        Source: models.slab_drying.dry
        """
        return float(self.hours_for(thickness, thicker)[1, 0])

    @property
    def weight_left(self) -> Band:
        """Dried weight over trimmed raw weight.

        Returns: Band [kg/kg, 0–1]
        Source: the draws it was made of
        """
        return band(self.dried.mass)

    def tray_area(self, thickness: float) -> float:
        """Tray covered by a kilogram of raw pieces laid side by side, m2.

        Returns: float [m2/kg, above 0]
        Source: models.flesh.density
        """
        return tray_area(self.raw, thickness)


def study_cuts(batch: Batch, faces: int | None = None, members: int = MEMBERS) -> Cuts:
    """Dry the fish of a batch, cured as the batch says, in pieces of many thicknesses, all in its own dryer.

    Parameters: batch – from a batch file; faces – faces that dry, instead of the batch's own; members – draws of each.
    """
    draws = Repeated(members * len(KNOTS), blocks=len(KNOTS))
    cured = until_laid(batch, draws).cured
    ruler = draws.lognormal("thickness", 1.0, ruler_ln_sd(batch))
    pieces = OVER_USUAL[:, None] * np.repeat(KNOTS, members) * ruler
    alike = Flesh(
        **{name: np.broadcast_to(getattr(cured.flesh, name)[1], pieces.shape) for name in Flesh.__dataclass_fields__}
    )
    cured = replace(cured, fish=replace(cured.fish, thickness=pieces), flesh=alike)
    load = drying.dry_load(_dried_from(batch, faces), cured, draws, sketch=True)
    laid = alike.mass[1, :members]
    dried = Flesh(**{name: getattr(load.dried, name)[:members] * laid for name in Flesh.__dataclass_fields__})
    raw = Flesh(**{name: getattr(cured.fish.flesh, name)[:members] for name in Flesh.__dataclass_fields__})
    return Cuts(raw, dried, load.hours_by_class.reshape(len(OVER_USUAL), len(KNOTS), members), load.aim)


@dataclass(frozen=True)
class OneCut:
    """One fish and cut, read off `Cuts`; hours [h] at `ACROSS`, thickness [m], parts and weights in kg per kg of trimmed raw fish.

    ``low``, ``mid`` and ``high`` are of the thickest piece, ``usual_mid`` of the usual one; ``seconds`` are of the
    thickest piece of this cut, None where two days are not enough.
    """

    name: str
    thickness: float
    thickest: float
    faces: int
    low: np.ndarray
    mid: np.ndarray
    high: np.ndarray
    usual_mid: np.ndarray
    seconds: Band
    weight_left: Band
    fat: Band
    raw: tuple[float, ...]
    dried: tuple[float, ...]
    tray_area: float
    aim: str
    histamine_former: bool | None

    @property
    def tested(self) -> bool:
        """Whether the drying model was tested on a piece as thick as its thickest."""
        return self.thickest <= TESTED_THICKNESS[1] + 1e-9


def one_cut(cuts: Cuts, name: str, species: Species | None, faces: int, thickness: float, thicker: float) -> OneCut:
    """One cut read off what was solved for this fish and these faces; whether a fish without a species can form
    histamine is not known."""
    low, mid, high = cuts.hours_for(ACROSS, thicker)
    seconds = (3600 * cuts.hours_for(thickness, thicker))[:, 0]
    return OneCut(
        name=name,
        thickness=thickness,
        thickest=thickness * (1 + thicker),
        faces=faces,
        low=low,
        mid=mid,
        high=high,
        usual_mid=cuts.hours_for(ACROSS)[1],
        seconds=Band(*(float(one) if np.isfinite(one) else None for one in seconds)),
        weight_left=cuts.weight_left,
        fat=band(cuts.raw.fat),
        raw=_parts(cuts.raw),
        dried=_parts(cuts.dried),
        tray_area=cuts.tray_area(thickness),
        aim=cuts.aim,
        histamine_former=species.histamine_former if species else None,
    )


def _parts(flesh: Flesh) -> tuple[float, ...]:
    """Middle water, protein with all else that is dry, fat, salt with sugar."""
    return tuple(float(np.median(part)) for part in (flesh.water, flesh.solids, flesh.fat, flesh.salt + flesh.sugar))


def tray_area(flesh: Flesh, thickness: float) -> float:
    """Area of a kilogram of flesh cut to a thickness [m], one face, m2: 1 / (density × thickness).

    Returns: float [m2/kg, above 0]
    Source: models.flesh.density
    """
    ash = flesh.other + flesh.salt
    density = physics.density(flesh.water, flesh.protein, flesh.fat, flesh.sugar, ash, temperature=4.0)
    return float(np.median(1.0 / (density * thickness)))


def with_less_water(water: float, protein: float, fat: float, ash: float, water_left: float) -> tuple[float, ...]:
    """Protein, fat and ash of a fish (fractions) once drying has left it a fraction ``water_left``: only water goes.

    Returns: protein, fat, ash [kg/kg, 0–1]
    Source: a balance of masses
    """
    concentrated = (1.0 - water_left) / (1.0 - water)
    return protein * concentrated, fat * concentrated, ash * concentrated


def _dried_from(batch: Batch, faces: int | None) -> Batch:
    """The batch as it lies in the dryer, with so many open faces."""
    if faces is None:
        return batch
    return replace(
        batch, cut=replace(batch.cut, skin="off", form="fillets"), dryer=replace(batch.dryer, faces=int(faces))
    )


def _weights(knots: np.ndarray, at) -> np.ndarray:
    """Weights (moments, knots) of the polynomial through the knots (Lagrange)."""
    at = np.asarray(at, float)[:, None]
    others = ~np.eye(len(knots), dtype=bool)
    return np.stack([np.prod((at - knots[row]) / (knots[n] - knots[row]), axis=1) for n, row in enumerate(others)], 1)


def _continued(hours: np.ndarray) -> np.ndarray:
    """Hours with those beyond two days carried on by the square law, so that the knots before them can be read between."""
    carried = hours.copy()
    for knot in range(len(KNOTS)):
        before = carried[:, knot - 1] * (KNOTS[knot] / KNOTS[knot - 1]) ** 2 if knot else 2 * LONGEST
        carried[:, knot] = np.where(np.isfinite(hours[:, knot]), hours[:, knot], np.maximum(before, LONGEST))
    return carried
