"""The weight to stop at: how dry the thickest piece must be for the way it will be kept, shown as a weight.

The preserver reads a scale, so the decision is a weight, and the water activity at that weight is what is uncertain.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flakeyard import limits
from flakeyard.models import sorption
from flakeyard.steps.chain.fish import Flesh
from flakeyard.steps.intent.records import Keep
from flakeyard.steps.intent.spread import upper_end

PARTS = 100  # a weight to stop at is a whole per cent: what is shown is what is meant, everywhere (judgement)
CLOSE = 1e-7  # kg/kg as laid: what two ways of reckoning the same curve may differ by
DRIEST = 0.002  # kg/kg as laid: what no household dryer takes out (judgement)


@dataclass(frozen=True)
class Aim:
    """How dry for a place and a pack: the most for the middle estimate of the water activity, and for its cautious end
    (None: no more is asked of it)."""

    estimate: float
    cautious: float | None


def aim_of(keep: Keep) -> Aim:
    """What the rules ask before they grant the place asked in the pack asked.

    A pack that keeps air out wants fish that is surely dry outside the freezer; the cupboard has an aim of its own. Both are
    asked of the thickest piece once it is evened out, as it is packed after its rest: until then its middle is moister. How its
    salt lies hardly matters to that: salt holds water in proportion.
    """
    if keep.aim == "cupboard":
        return Aim(limits.CUPBOARD_AIM, limits.CUPBOARD_ESTIMATE)
    return Aim(limits.MOIST, limits.MOIST if keep.aim == "refrigerator" and keep.airless else None)


def stopping_ratio(piece: Flesh, keep: Keep, isotherm: dict, salt_centre: np.ndarray | None = None) -> float:
    """The one weight (kg per kg as laid) at which the thickest piece is dry enough for the way it will be kept.

    The largest that meets the aim of `aim_of`; where none does, the largest that meets its middle estimate alone. An own
    weight counts as it is; an own moisture is met by the middle composition. None lies above the weight as laid. With
    more brine than dries away (`brine_stays`) the cupboard asks for the cautious end alone, in the middle of the piece
    too, whose salt per water ``salt_centre`` tells. Nor does one lie above that at which its water activity was measured: a
    reading of drier fish says nothing of moister fish.

    Returns: float [share, 0–1]
    Source: limits.MOIST; models.sorption.water_for
    """
    if keep.stop_at is not None:
        return keep.stop_at
    if keep.measured_at is not None and keep.measured_water_activity is not None:
        open_end = replace(keep, measured_at=None)
        return min(stopping_ratio(piece, open_end, isotherm, salt_centre), keep.measured_at)
    if keep.target_moisture is not None:
        return min(float(np.median(1 - piece.water) / (1 - keep.target_moisture)), 1.0)
    aim = aim_of(keep)
    if keep.aim == "cupboard" and brine_stays(piece, isotherm):
        middle = piece if salt_centre is None else salted_as_its_middle(piece, piece, salt_centre)
        return _largest(middle, Aim(1.0, aim.cautious), isotherm) or _lightest(piece)
    return _largest(piece, aim, isotherm) or _largest(piece, Aim(aim.estimate, None), isotherm) or _lightest(piece)


def done_at(piece: Flesh, keep: Keep, isotherm: dict, ratio: float) -> np.ndarray:
    """The weight (members,) at which each member is done: the weight to stop at, or that at which nothing known grows.

    The weight is one for all, and wrong for a piece with more dry matter than the middle: such a piece would be dried to
    the bone and never get there. It counts as done once its own water activity, by the cautious rule, is as low as
    `limits.ANY_MICROBE`; so too where the preserver asked for a weight still lighter, for drier is no moister fish. An own
    moisture counts as it is.

    Returns: (members,) [share, 0–1]
    Source: models.sorption.water_for
    """
    if keep.target_moisture is not None:
        return np.full(piece.water.shape, ratio)
    return np.maximum(ratio, bone_dry(piece, isotherm))


def bone_dry(piece: Flesh, isotherm: dict) -> np.ndarray:
    """The weight at which nothing known grows in each member: the cautious rule says `limits.ANY_MICROBE`.

    Returns: (members,) [share, 0–1]
    Source: models.sorption.water_for
    """
    moister = isotherm | {"flesh_water": np.maximum(isotherm["flesh_water"], 1.0)}
    lowest = limits.ANY_MICROBE - sorption.CAUTION_MARGIN
    water = sorption.water_for(lowest, piece.salt, piece.fat, piece.solids, **moister)
    return 1.0 - piece.water + np.minimum(water, piece.water)


def brine_stays(piece: Flesh, isotherm: dict) -> bool:
    """Whether a piece has so much salt that drying does not bring it to `limits.CUPBOARD_AIM`.

    Saturated brine stands at about 0.75, above that aim, and the aim is met only when all brine is gone and salt is left
    in crystals. Fish that comes out at more than `limits.BRINE_SALT` then is not dried so far by anybody.
    """
    water = sorption.water_for(limits.CUPBOARD_AIM, piece.salt, piece.fat, piece.solids, **isotherm)
    return bool(np.median(piece.salt / (1.0 - piece.water + water)) > limits.BRINE_SALT)


def salted_as_its_middle(dried: Flesh, piece: Flesh, salt_centre: np.ndarray) -> Flesh:
    """A dried piece with no more salt than the middle of it had as laid (``piece``), where salt comes last."""
    return dried.changed(salt=np.minimum(dried.salt, salt_centre * piece.water))


def _lightest(piece: Flesh) -> float:
    return float(np.median(1 - piece.water)) * 0.9


def _largest(piece: Flesh, aim: Aim, isotherm: dict) -> float | None:
    """The largest weight, in whole per cent, that meets an aim; None where none does."""
    low = math.floor(PARTS * _lightest(piece))
    high = math.floor(PARTS * min(_estimated(piece, aim.estimate, isotherm), 1.0))
    if high < low:
        return None
    if aim.cautious is None or _surely(piece, high / PARTS, aim.cautious, isotherm):
        return high / PARTS
    if not _surely(piece, low / PARTS, aim.cautious, isotherm):
        return None
    while high - low > 1:
        between = (low + high) // 2
        low, high = (between, high) if _surely(piece, between / PARTS, aim.cautious, isotherm) else (low, between)
    return low / PARTS


def _estimated(piece: Flesh, most: float, isotherm: dict) -> float:
    """The weight at which the middle estimate of the water activity comes down to a value: half the members are there."""
    water = sorption.water_for(most, piece.salt, piece.fat, piece.solids, sugar=piece.sugar, **isotherm)
    weights = np.broadcast_to(1.0 - piece.water + water, piece.water.shape)
    there = (weights.size - 1) // 2  # the lower of two in the middle
    return float(np.partition(weights, there)[there]) - CLOSE


def _surely(piece: Flesh, ratio: float, most: float, isotherm: dict) -> bool:
    """Whether at a weight the cautious end of the water activity is low enough; at every lighter weight it then is too."""
    return bool(upper_end(activity(dried_to(piece, ratio), isotherm, cautious=True)) <= most)


def activity(dried: Flesh, isotherm: dict, cautious: bool = False) -> np.ndarray:
    """Water activity of an evened-out piece at 25 °C: the estimate, or the one that verdicts read.

    Returns: (members,) [water activity, 0–1]
    Source: models.sorption.water_activity
    """
    if cautious:  # sugar never helps a verdict
        return np.asarray(
            sorption.water_activity_cautious(dried.water, dried.salt, dried.fat, dried.solids, **isotherm)
        )
    flesh = (dried.water, dried.salt, dried.fat, dried.solids)
    return np.asarray(sorption.water_activity(*flesh, sugar=dried.sugar, **isotherm))


def dried_to(piece: Flesh, ratio: float | np.ndarray) -> Flesh:
    """A piece (per kg as laid) once its weight is down to a ratio, one for all members or for each; only water leaves."""
    return piece.changed(water=np.maximum(piece.water - (1 - ratio), DRIEST))
