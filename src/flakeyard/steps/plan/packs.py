"""Try a pack: where dried fish may be kept in it, until when, and what becomes of it there.

Only water, fat, pack and place count here: all rules about gutting, germs, hours and heat are taken as kept (`judged`).
What they say about the batch itself stays with its `LaidPiece`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from flakeyard import tables
from flakeyard.remembered import Remembered
from flakeyard.steps.chain import drying
from flakeyard.steps.chain.fish import Flesh
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Band, band, upper_end
from flakeyard.steps.judge import packing, safety, storing
from flakeyard.steps.judge.facts import PLAIN, Facts
from flakeyard.steps.judge.warm_hours import NONE_YET
from flakeyard.steps.plan.plan import plan

MEMBERS = 40  # draws behind one move; the upper end of so few lies a little above that of the 200 of a plan
DAYS = np.geomspace(1.0, 1000.0, 70)  # in the pack, of a course
SOON = 30.0  # days; at which the water activity is told
PARTS = tuple(Flesh.__dataclass_fields__)
IN_ORDER = Facts(  # every rule but those of water, fat, pack and place is kept
    species_known=True, histamine_former=False, advisory_species=False, refused_as=PLAIN, gutted=True, origin="farmed",
    stock="fresh", hours_above_4c=0.0, hours_above_21c=0.0, warmest_held=4.0, smells_normal=True, thawed_in_vacuum=False,
    cure_hours_above_4c=0.0, cure_hours_above_10c=0.0, cure_hours_above_21c=0.0, heat_core=74.0, heat_hold_min=1.0,
    heat_probed=True, warm=NONE_YET, hours_flesh_10_to_57=0.0, hours_flesh_above_21=0.0, target_reached=True,
    measured_by="laboratory",
)  # fmt: skip


def judged(**told) -> safety.Verdict:
    """The verdict on a batch of which everything is in order but what is told here; see `facts.Facts`.

    A pack may be told by its name.
    """
    pack = told.get("pack")
    return safety.judge(replace(IN_ORDER, **told | ({"pack": tables.pack(pack)} if isinstance(pack, str) else {})))


@dataclass(frozen=True)
class LaidPiece:
    """The thickest piece as laid on the tray (per kg), as drawn for a batch, and what else a move needs of it.

    ``fat_raw`` is per kg raw fish over the members, ``isotherm`` the uncertain numbers of the water activity, ``amount``
    the fish in one pack [kg], ``verdict`` what all rules say of the batch.
    """

    piece: Flesh
    fat_raw: np.ndarray
    isotherm: dict
    amount: float
    verdict: safety.Verdict
    curves: Remembered = field(default_factory=Remembered, repr=False)

    def curve(self, fat: float) -> tuple[Flesh, np.ndarray, np.ndarray]:
        """The piece of a fish with this fat, weights left, and the middle estimate at each; kept for the next move.

        Returns: piece; weights left [share, 0–1]; water activity [water activity, 0–1]
        Source: models.sorption.water_activity
        """
        return self.curves(fat, lambda: self._curve(self.with_fat(fat)))

    def _curve(self, piece: Flesh) -> tuple[Flesh, np.ndarray, np.ndarray]:
        ratios = np.linspace(float(np.median(1.0 - piece.water)) + 0.004, 1.0, 60)
        activity = drying.activity(drying.dried_to(piece, ratios[:, None]), self.isotherm)
        return piece, ratios, np.median(activity, axis=-1)

    def with_fat(self, fat: float) -> Flesh:
        """The piece of a fish with another middle fat: what is not fat keeps its parts and makes room."""
        own = np.zeros_like(self.fat_raw)
        if fat > 0:
            own = np.clip(fat + self.fat_raw - np.median(self.fat_raw), 0.0, 0.5)
        lean = (1.0 - own) / (1.0 - self.fat_raw)
        parts = {name: getattr(self.piece, name) * lean for name in PARTS}
        parts["fat"] = self.piece.fat * own / np.maximum(self.fat_raw, 1e-6)
        total = sum(parts.values())
        return Flesh(**{name: part / total for name, part in parts.items()})


@dataclass(frozen=True)
class Kept:
    """One pack: what the fish was dried to, what the rules say, and the course of the pack where it was asked for.

    ``estimate`` and ``cautious`` are water activities, ``weight`` is over the weight as laid; courses are water
    activities over `DAYS`, ``soon`` is that after `SOON` days. ``batch_verdict`` is what all rules say of the batch.
    """

    estimate: float
    cautious: float
    weight: float
    fat: float
    pack: tables.Pack | None
    place: str
    temperature: float
    humidity: float
    verdict: safety.Verdict
    keeping: storing.Keeping
    low: np.ndarray
    mid: np.ndarray
    high: np.ndarray
    soon: Band
    batch_verdict: safety.Verdict

    @property
    def allowed(self) -> bool:
        """Whether the place asked is one that the rules allow for this fish in this pack."""
        return self.keeping.place == self.place


def lay_piece(batch: Batch) -> LaidPiece:
    """The thickest piece of a batch after salting, soaking and heating, over the draws of a plan."""
    outcome = plan(batch, members=MEMBERS, sketch=True)
    flesh = outcome.cured.flesh
    laid = {name: np.broadcast_to(getattr(flesh, name), flesh.mass.shape)[-1] / flesh.mass[-1] for name in PARTS}
    piece = Flesh(**laid)
    amount = storing.AMOUNT if batch.keep.per_pack is None else batch.keep.per_pack
    fat = np.broadcast_to(outcome.raw.flesh.fat, piece.mass.shape)
    return LaidPiece(piece, fat, outcome.load.isotherm, amount, outcome.verdict)


def dry_to(laid: LaidPiece, activity: float, fat: float) -> tuple[float, Flesh]:
    """The weight (fraction of that as laid) at which the middle estimate is at a water activity, and the piece then.

    Returns: weight left [share, 0–1]; the piece
    Source: models.sorption.water_activity
    """
    piece, ratios, middle = laid.curve(fat)
    weight = float(np.interp(activity, middle, ratios))
    return weight, drying.dried_to(piece, weight)


def try_pack(
    laid: LaidPiece, *, fat: float, activity: float, pack: tables.Pack | None, place: str, temperature: float,
    humidity: float,
) -> Kept:  # fmt: skip
    """Judge and follow one pack of the fish of a batch.

    Parameters: fat – of the raw fish [0–1]; activity – estimated water activity it is dried to [0–1]; pack – None: not
    told; place, temperature [degC], humidity [0–1] – where it is to stand
    """
    weight, dried = dry_to(laid, activity, fat)
    cautious = upper_end(drying.activity(dried, laid.isotherm, cautious=True))
    told = {
        "water_activity_cautious": cautious,
        "water_activity_mid": activity,
        "place": place,
        "pack": pack,
        "fat_raw": fat,
    }
    verdict = judged(**told, cupboard_outside=storing.cupboard_outside(temperature))
    store = storing.Storage(
        pack=pack, amount=laid.amount, place=place, room_temperature=temperature, room_humidity=humidity, fat_raw=fat
    )
    until = storing.keep_until(dried, verdict, store, laid.isotherm)
    course = packing.course(
        dried, np.append(DAYS, SOON), pack=pack, place=place, temperature=temperature, humidity=humidity,
        isotherm=laid.isotherm, amount=laid.amount,
    )  # fmt: skip
    low, mid, high = np.quantile(course[..., :-1], [0.1, 0.5, 0.9], axis=(0, 1))
    return Kept(
        activity, cautious, weight, fat, pack, place, temperature, humidity, verdict, until, low, mid, high,
        band(course[..., -1]), laid.verdict,
    )  # fmt: skip
