"""How free the water of a piece is at each weight left, and what that stops.

Only water leaves a piece while it dries, so its weight tells its water, and water, salt and solids tell the water
activity. The estimate is drawn at the temperature of the piece; the cautious end, which verdicts read, at 25 °C.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flakeyard import limits
from flakeyard.models import sorption
from flakeyard.models.constants import FLESH_DENSITY, WATER_DENSITY
from flakeyard.steps.chain import drying
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Band, Draws, upper_end
from flakeyard.steps.judge import safety
from flakeyard.steps.plan.plan import plan

MEMBERS = 40  # draws of the protein's water; the upper end of so few is nearly that of the 200 of a plan
ROOM = 25.0  # degC, where water activities of verdicts are read
LEAST_WATER = 0.01  # kg per kg dry solids, where the curves begin
POINTS = 120  # of a curve


@dataclass(frozen=True)
class Piece:
    """A piece as it is laid on the tray: water, sugar and salt per kg of dry solids (without fat, salt, sugar).

    ``native`` is the share of the flesh's own solutes that it still has.
    ``thickness`` [m] is that of the thickest piece.
    ``lean_solids`` are kg of dry solids as laid from a kg of fat-free raw flesh, which turn ``fat``, per kg of raw
    fish, into fat per dry solids.
    """

    water: float
    sugar: float
    lean_solids: float
    fat: float
    salt: float
    native: float
    thickness: float

    def dead_weight(self, fat: float, salt: float) -> float:
        """Everything that is not water, with another fat (kg per kg raw fish) and salt (kg per kg dry solids).

        Returns: float [kg per kg dry solids, 1 up]
        Source: a balance of masses
        """
        return 1.0 + salt + self.sugar + fat / ((1.0 - fat) * self.lean_solids)


@dataclass(frozen=True)
class Water:
    """Water activity over ``left``, the weight as a fraction of that as laid: low, mid, high at the temperature of the
    piece, cautious at 25 degC. Of the piece itself, ``now``: ``dry`` is the part that is not water; the rest is None
    when the piece cannot be as light as that. ``line`` is the weight left at which the estimate at 25 degC, and the
    cautious end, is at 0.85.
    """

    left: np.ndarray
    low: np.ndarray
    mid: np.ndarray
    high: np.ndarray
    cautious: np.ndarray
    now: float
    dry: float
    temperature: float
    line: tuple[float, float]
    water_fraction: float | None = None
    water_ratio: float | None = None
    activity: Band | None = None
    at_room: float | None = None
    upper: float | None = None
    laid_thickness: float = math.nan

    @property
    def thickness(self) -> float | None:
        """Of the piece, had it shrunk by the room of the water that left, and in thickness alone; None where it cannot be.

        Returns: float or None [m, above 0]
        Source: models.constants.FLESH_DENSITY, models.constants.WATER_DENSITY: a balance of volumes
        """
        if self.activity is None:
            return None
        return self.laid_thickness * (1.0 - (1.0 - self.now) * FLESH_DENSITY / WATER_DENSITY)

    def growth(self, least: float) -> str:
        """Whether what grows down to a water activity of ``least`` "grows" by the estimate at 25 degC, "perhaps"
        (only by the cautious end), or is "stopped" by both; "unknown" when the piece cannot be."""
        if self.at_room is None or self.upper is None:
            return "unknown"
        if self.at_room >= least:
            return "grows"
        return "perhaps" if self.upper >= least else "stopped"


def piece_of(batch: Batch) -> Piece:
    """The thickest piece of a batch as laid: after salting, soaking and heating; middle values."""
    outcome = plan(batch, sketch=True)
    raw, laid = outcome.raw.flesh, outcome.cured.flesh
    per_solids = {
        name: float(np.median(getattr(laid, name)[-1] / laid.solids[-1])) for name in ("water", "sugar", "salt")
    }
    lean_solids = float(np.median(laid.solids[-1] / (1.0 - raw.fat)))  # both per kg raw fish
    native = float(np.median(outcome.cured.native_share[-1]))
    return Piece(
        **per_solids, lean_solids=lean_solids, fat=float(np.median(raw.fat)), native=native, thickness=batch.cut.sizes[-1]
    )  # fmt: skip


def spread_of_protein() -> dict[str, np.ndarray]:
    """The same uncertain numbers of the isotherm that a plan draws, as columns; ``native`` of flesh that lost none.

    Returns: by name, (members, 1) [1, above 0]
    Source: steps.chain.drying.draw_isotherm
    """
    draws = Draws(MEMBERS)
    curve = drying.draw_isotherm(draws) | {"native": draws.normal("native solutes", 1.0, sorption.NATIVE_SD)}
    return {name: values[:, None] for name, values in curve.items()}


def free_water(piece: Piece, spread: dict, *, fat: float, salt: float, left: float, temperature: float) -> Water:
    """Water activity over the weight left, and of a piece of weight ``left`` [as laid: 1] itself.

    Parameters: fat – kg per kg raw fish; salt – kg per kg dry solids; temperature – of the piece [degC].
    """
    dead = piece.dead_weight(fat, salt)
    laid = dead + piece.water
    now = left * laid - dead
    possible = now >= LEAST_WATER
    spread = spread | {"native": piece.native * spread["native"]}
    ratios = np.append(np.geomspace(LEAST_WATER, piece.water, POINTS), now if possible else LEAST_WATER)
    (low, mid, high), middle, upper = _activities(ratios, salt, dead, temperature, spread)
    weights = (ratios + dead)[:-1] / laid
    crossed, cautious = (float(np.interp(limits.MOIST, one[:-1], weights)) for one in (middle, upper))
    curves = (weights, low[:-1], mid[:-1], high[:-1], upper[:-1], left, dead / laid, temperature, (crossed, cautious))
    if not possible:
        return Water(*curves, laid_thickness=piece.thickness)
    band = Band(*(float(one[-1]) for one in (low, mid, high)))
    return Water(*curves, now / (left * laid), now, band, float(middle[-1]), float(upper[-1]), piece.thickness)


def _activities(ratios: np.ndarray, salt: float, dead: float, temperature: float, spread: dict) -> tuple:
    """For water per dry solids: percentiles at the temperature of the piece, the middle and the cautious end at 25 degC."""
    flesh = (ratios, salt, dead - 1.0 - salt, 1.0)
    warm = sorption.water_activity(*flesh, temperature, **spread)
    room = warm if temperature == ROOM else sorption.water_activity(*flesh, ROOM, **spread)
    cautious = np.asarray(sorption.water_activity_cautious(*flesh, ROOM, **spread))
    upper = np.array([upper_end(one) for one in cautious.T])
    return np.quantile(warm, [0.1, 0.5, 0.9], axis=0), np.median(room, axis=0), upper


def ladder_findings(water: Water) -> tuple[safety.Finding, ...]:
    """What the rules say of this water activity."""
    facts = safety.Facts(water_activity_cautious=water.upper, water_activity_mid=water.at_room, target_reached=True)
    return tuple(safety.ladder(safety.Case(facts)))
