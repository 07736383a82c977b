"""Stop by the scale: what pieces and trays weigh at a moment, how moist a piece still is inside, how it evens out.

`Scales` follows sliders: a usual and a thickest piece from the whole chain, move after move.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from flakeyard.models.inputs import checked
from flakeyard.models.moist_air import KELVIN
from flakeyard.remembered import Remembered
from flakeyard.steps.chain import drying
from flakeyard.steps.chain.fish import CLASS_WEIGHTS, CLASSES, Flesh
from flakeyard.steps.chain.stopping import done_at
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Band, band
from flakeyard.steps.judge.safety import Verdict
from flakeyard.steps.plan.explore import Explorer, Glimpse
from flakeyard.steps.plan.judging import TESTED_THICKNESS
from flakeyard.steps.plan.plan import Outcome, plan

JAR = 20.0  # degC, a cool room
MEMBERS = 20  # of the ensemble behind one move
KEPT = 2  # moves whose usual piece is remembered, and shares by which the thickest is thicker: some 4 and 14 MB each


@dataclass(frozen=True)
class WeighedLoad:
    """A load at the moment it is weighed: weight left, of the weight as laid, of each kind of piece and of a mixed tray.

    ``activity`` is the estimated water activity of the thickest piece once it has evened out. Bands are not known where
    a forecast never comes so far.
    """

    hours: Band
    left: dict[str, Band]
    activity: Band


def when_done(outcome: Outcome) -> WeighedLoad:
    """The load when its thickest piece has the weight to stop at."""
    return _moment(outcome, outcome.load.hours)


def when_tray_weighs(outcome: Outcome, left: float) -> WeighedLoad:
    """The load when a tray with pieces of all sizes is down to a part of its weight as laid.

    Parameters: left – weight over weight as laid, 0–1.
    """
    left = float(checked("left", left, 0.0, 1.0))
    times, tray = outcome.load.result.times, _weights_left(outcome)[-1]
    return _moment(outcome, _until(times, tray, np.full(len(tray), left)) / 3600)


def _moment(outcome: Outcome, hours: np.ndarray) -> WeighedLoad:
    times, reached = outcome.load.result.times, np.isfinite(hours)
    left = np.array([_each_at(times, one, 3600 * hours) for one in _weights_left(outcome)])
    piece = Flesh(**{name: part[-1] / outcome.cured.flesh.mass[-1] for name, part in vars(outcome.cured.flesh).items()})
    dried = drying.dried_to(piece, np.where(reached, left[2], 1.0))
    activity = np.where(reached, drying.activity(dried, outcome.load.isotherm), np.inf)
    names = (*CLASSES, "tray")
    return WeighedLoad(band(hours), {name: band(one) for name, one in zip(names, left, strict=True)}, band(activity))


def _weights_left(outcome: Outcome) -> np.ndarray:
    """Weight left of thinnest, usual and thickest piece and of a mixed tray: (4, members, times)."""
    laid = CLASS_WEIGHTS[:, None] * outcome.cured.flesh.mass
    pieces = outcome.load.result.mass_ratio.reshape(*laid.shape, -1)
    tray = np.einsum("cm,cmt->mt", laid / laid.sum(axis=0), pieces)
    return np.concatenate([pieces, tray[None]])


def thickest_left(outcome: Outcome) -> np.ndarray:
    """Weight left of the thickest piece over its weight as laid: (10th, 50th, 90th percentile; times of the load).

    Returns: (3, times) [share, 0–1 and a little more in damp air]
    Source: models.slab_drying.dry
    """
    return np.quantile(_weights_left(outcome)[2], [0.1, 0.5, 0.9], axis=0)


def _each_at(times, curves, moments) -> np.ndarray:
    """Every curve at its own moment [s]; infinite, which a band takes for not known, where that never comes."""
    found = [np.interp(moment, times, curve, right=np.inf) for moment, curve in zip(moments, curves, strict=True)]
    return np.array(found)


def water_inside(load: drying.Thickest) -> np.ndarray:
    """Water of the thickest piece at the weight to stop at, kg per kg there: at its face, on average, in its middle.

    Middle forecast; not a number where most forecasts never get there.

    Returns: face, mean, middle [kg/kg, 0–1]
    Source: models.slab_drying.dry
    """
    times, last = load.result.times, load.result.times[-1]
    members = len(load.hours)
    curves = (getattr(load.result, name)[-members:] for name in ("surface", "moisture", "centre"))
    moments = np.minimum(3600 * load.hours, last)
    ratios = np.array([np.median(_each_at(times, curve, moments)) for curve in curves])
    return ratios / (1 + ratios) if load.reached else np.full(3, np.nan)


def water_across(load: drying.Thickest, faces: float, hours: float | None = None) -> np.ndarray:
    """Water through the thickest piece from its upper face to its lower one, kg per kg there: at a moment, or when it is
    stopped. Middle forecast; where one face is closed it is the lower one.

    Parameters: faces – that dry, 1 or 2; hours – since it was laid [h], left out: at the weight to stop at
    Returns: (41,) [kg/kg, 0–1]; not a number where most forecasts never get there
    Equation: x = centre - (centre - face) ξ^n, ξ from the middle (or the closed face) to the open one, n so that its mean is
        the piece's: a curve through three figures that were computed, for a picture
    Source: models.slab_drying.dry
    """
    if hours is None:
        share = water_inside(load)
        face, mean, centre = share / (1 - share)
    else:
        rows, times = slice(-len(load.hours), None), load.result.times
        face, mean, centre = (
            np.interp(3600 * hours, times, np.median(getattr(load.result, name)[rows], axis=0))
            for name in ("surface", "moisture", "centre")
        )
    z = np.linspace(0.0, 1.0, 41)
    way = np.abs(2 * z - 1) if faces == 2 else 1 - z
    steep = np.clip((centre - face) / max(centre - mean, 1e-9) - 1, 1.0, 30.0)
    ratio = centre - (centre - face) * way**steep
    return ratio / (1 + ratio)


def evening_out(load: drying.Thickest, temperature: float = JAR, remaining: float = 0.1) -> np.ndarray:
    """Hours of rest in a closed jar until face and middle of the thickest piece have come together.

    Water has to creep through flesh that is cool and half dry. Between one piece and another it has to go through the
    air of the jar as well, which takes longer.

    Parameters:
        load – dried to its weight; temperature – of the jar [degC]; remaining – part of the difference still left, 0–1
    Equation: t = -ln(remaining) L² / (π² D), the slowest mode of a slab that nothing leaves; D at its mean moisture
    Valid for: the order of the time; the dry face is slower than the mean, the moist middle faster
    Returns: (members,) [h, 0 up]
    Source: crank_1975, plane sheet without flow through its faces
    """
    part = checked("remaining", remaining, 1e-12, 1.0)
    kelvin = checked("temperature", temperature, -5.0, 99.0) + KELVIN
    dryer = load.result.dryer.take(slice(-len(load.hours), None))
    moisture = load.dried.water / (load.dried.solids + load.dried.sugar)
    rate = (dryer.warmth(kelvin) * dryer.slowing(moisture[:, None]))[:, 0]  # D / L², 1/s
    return -np.log(part) / (np.pi**2 * rate) / 3600


def weight_left(load: drying.Thickest) -> np.ndarray:
    """Weight left of the thickest piece over its weight as laid, at each of the times: (10th, 50th, 90th percentile; times).

    Returns: (3, times) [share, 0–1 and a little more in damp air]
    Source: models.slab_drying.dry
    """
    return np.quantile(_thickest(load), [0.1, 0.5, 0.9], axis=0)


def _thickest(load: drying.Thickest) -> np.ndarray:
    """Weight left of the thickest piece (members, times), which stands last where others were dried too."""
    return load.result.mass_ratio[-len(load.hours) :]


@dataclass(frozen=True)
class TwoPieces:
    """One move: curves of weight left (low, mid, high) at `hours`, of the usual and of the thickest piece.

    `usual_done` and `thickest_done` are the seconds until each has the weight to stop at, `stop` that weight over the
    weight as laid; `inside` the water at face, on average and in the middle of the thickest piece at that moment; sizes
    in m. `moment` [s] is when one looks: then `left` is weight left, and `water` the water across (`water_across`), each of
    the usual and of the thickest piece.
    """

    hours: np.ndarray
    usual: np.ndarray
    thickest: np.ndarray
    usual_done: Band
    thickest_done: Band
    stop: float
    inside: np.ndarray
    thickest_size: float
    usual_size: float
    verdict: Verdict
    moment: float
    left: tuple[float, ...]
    water: tuple[np.ndarray, ...]

    @property
    def tested(self) -> bool:
        return _tested(self.thickest_size)


def _tested(thickness: float) -> bool:
    return thickness <= TESTED_THICKNESS[1] + 1e-9


class Scales:
    """A batch that dries in two kinds of piece for move after move of the sliders.

    ``start`` says at which marks the sliders stand for the batch as it was told, as in `Explorer`: with all of them there,
    both pieces are those of its whole plan.
    """

    def __init__(self, batch: Batch, members: int = MEMBERS, start: Mapping[str, float] | None = None):
        self.batch, self.members, self.start = batch, members, dict(start or {})
        self._explorers, self._usual, self._told = Remembered(most=KEPT), Remembered(most=KEPT), Remembered(most=1)

    def at(
        self, thickness: float, thicker: float, fat: float, salt: float, temperature: float, hours: float = 0.0
    ) -> TwoPieces:
        """Dry a usual piece and one thicker by a share; both are stopped at the weight that is right for the thickest.

        Where the thickest is too thick for the model, the weight is that of the usual piece, and holds for it alone.

        Parameters: thickness – of the usual piece [m]; thicker – 0.3: by 30 %; hours – when one looks [s]; the
            others as in `explore`
        """
        move = {"thickness": thickness, "fat": fat, "salt": salt, "temperature": temperature}
        if {**move, "thicker": thicker} == {name: self.start.get(name) for name in (*move, "thicker")}:
            return self._as_told(hours)
        usual = self._usual(tuple(move.values()), lambda: self._glimpse(0.0, move))
        thickest = self._glimpse(thicker, move) if thicker else usual
        size, times = thickness * (1 + thicker), usual.load.result.times
        decides = thickest if _tested(size) else usual
        stop = decides.load.mass_ratio
        done = done_at(usual.load.piece, decides.batch.keep, usual.load.isotherm, stop)
        loads, faces = (usual.load, thickest.load), self.batch.open_faces
        return TwoPieces(
            hours=times / 3600, usual=weight_left(usual.load), thickest=weight_left(thickest.load),
            usual_done=band(_until(times, _thickest(usual.load), done)), thickest_done=band(3600 * thickest.load.hours), stop=stop,
            inside=water_inside(thickest.load), thickest_size=size, usual_size=thickness, verdict=thickest.verdict,
            moment=hours, left=tuple(float(np.interp(hours, times, weight_left(one)[1])) for one in loads),
            water=tuple(water_across(one, faces, hours / 3600) for one in loads),
        )  # fmt: skip

    def _as_told(self, hours: float) -> TwoPieces:
        """The usual and the thickest piece of the whole plan of the batch."""
        outcome = self._told("", lambda: plan(self.batch))
        load, faces, sizes = outcome.load, self.batch.open_faces, self.batch.cut.sizes
        members, times = len(load.hours), load.result.times
        usual = replace(load, result=load.result.take(slice(members, 2 * members)), hours=load.hours_by_class[1])
        loads = (usual, load)
        return TwoPieces(
            hours=times / 3600, usual=weight_left(usual), thickest=weight_left(load), usual_done=band(3600 * usual.hours),
            thickest_done=band(3600 * load.hours), stop=load.mass_ratio, inside=water_inside(load), thickest_size=sizes[2],
            usual_size=sizes[1], verdict=outcome.verdict, moment=hours,
            left=tuple(float(np.interp(hours, times, weight_left(one)[1])) for one in loads),
            water=tuple(water_across(one, faces, hours / 3600) for one in loads),
        )  # fmt: skip

    def _glimpse(self, thicker: float, move: dict[str, float]) -> Glimpse:
        return self._explorers(thicker, lambda: Explorer(self._uneven(thicker), self.members, self.start, False)).at(
            **move
        )

    def _uneven(self, thicker: float) -> Batch:
        """The batch with its thickest piece thicker than the usual one by a share, and none thinner."""
        cut = self.batch.cut
        return replace(self.batch, cut=replace(cut, thinnest=None, thickest=cut.thickness * (1 + thicker)))


def _until(times, curves, left) -> np.ndarray:
    """Moments [s] at which each falling curve is down to its weight; infinite where that never comes."""
    return np.array([np.interp(-end, -curve, times, right=np.inf) for end, curve in zip(left, curves, strict=True)])
