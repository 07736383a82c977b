"""What was measured of the fish itself moves the draws of a plan to where it puts them, before anything is dried.

A reading is compared with what every member says of the same thing, and all are taken in at once by a few linear updates
of the standard normal numbers behind the draws (source: ensemble_smoother; several for one, emerick_reynolds_2013), as a log
learns of the make-up of the fish by one. Only quantities that a reading can hang on move: those that were asked for until the fish lies on its trays.

A reading counts with its error; one whose error was not told counts with a wide one, and where that cannot be, not at all.
One that the plan and the other readings cannot explain is told and left out. A meter's reading on which
the rules would not count where it makes the fish drier moves nothing (it warns, by the rules); and no weight to stop at lies
above that at which it was read (`chain.stopping`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from flakeyard.messages import number, say
from flakeyard.remembered import Remembered
from flakeyard.steps.chain import drying
from flakeyard.steps.chain.fish import Flesh
from flakeyard.steps.chain.laying import Laid, until_laid
from flakeyard.steps.intent.records import Batch, Keep, Measured
from flakeyard.steps.intent.spread import Draws
from flakeyard.steps.judge.water_check import TRUSTED, error_that_counts, opens_alone
from flakeyard.units import show

AnyDraws = TypeVar("AnyDraws", bound=Draws)
STEP_SD = 0.6  # of a scale's step: error of a reading (judgement: rounding is 0.29, a restless display the rest)
UNTOLD_STEP = 0.005  # kg, of a scale whose step was not told (judgement: no better than the coarsest of a kitchen)
DRAINED_LN_SD = 0.01  # of the fish drained after its salting: drops (judgement)
STRIP_LN_SD = 0.10  # of a chloride strip, of its reading, at the least (judgement)
UNTOLD_STRIP_LN_SD = 0.25  # where its error was not told (judgement)
OVEN_SD = 0.01  # kg/kg, water of an oven-dried sample against other pieces (judgement)
WEIGHED_LN_SD = 0.01  # of the share of its weight as laid that a piece had when it was measured (judgement)
LEAST_METER_ERROR = 0.003  # no meter knows better (judgement)
ROUNDS = 4  # of updates (judgement)
STRANGE = 3.5  # sd from what the plan and the other readings say: such a reading is left out (judgement)


@dataclass(frozen=True)
class Reading:
    """A single reading that is compared directly: what the members say (members,), what was read, its sd, in words."""

    said: np.ndarray
    read: float
    sd: float
    words: str


def taken_in(batch: Batch, draws: AnyDraws) -> AnyDraws:
    """The draws moved to where the readings of a batch put them; as they are where nothing was measured, or was taken in
    already."""
    if draws.taken is not None or not _anything(batch):
        return draws
    asking = replace(draws, asked=Remembered())
    used, strange = explained(list(readings_of(batch, until_laid(batch, asking), asking)))
    told = tuple(say("measured.strange", what=reading.words) for reading in strange)
    if not used:
        return replace(draws, taken=told)
    counted = say("measured.counted", what="; ".join(reading.words for reading in used))
    return replace(_moved(batch, draws, tuple(asking.asked), {one.words for one in used}), taken=(counted, *told))


def _moved(batch: Batch, draws: AnyDraws, names: tuple[str, ...], used: set[str]) -> AnyDraws:
    """The draws after some updates, each with errors so much wider that together they count once: what a reading hangs on
    is no straight line."""
    for part in range(ROUNDS):
        readings = [one for one in readings_of(batch, until_laid(batch, draws), draws) if one.words in used]
        wider = [replace(one, sd=one.sd * np.sqrt(ROUNDS)) for one in readings]
        moved = moved_by(draws.normals(names), wider, part)
        draws = replace(draws, moved=draws.moved | dict(zip(names, moved.T, strict=True)))
    return draws


def _anything(batch: Batch) -> bool:
    """Whether there is a reading that may move draws; the errors told besides only narrow them."""
    told, keep = batch.measured, batch.keep
    samples = (told.raw_oven_dry, told.laid_oven_dry, told.dried_oven_dry)
    return (
        any(one is not None for one in (told.salted_weight, told.strip_salt, *samples)) or keep.measured_at is not None
    )


def moved_by(place: np.ndarray, readings: list[Reading], part: int = 0) -> np.ndarray:
    """Standard normal numbers (members, names) moved to where readings put them, by one linear update; ``part``: which of some.

    Returns: (members, names) [1, any]
    Source: ensemble_smoother
    """
    said = np.column_stack([reading.said for reading in readings])
    sd = np.array([reading.sd for reading in readings])
    off = np.array([reading.read for reading in readings]) - said + errors_drawn(np.diag(sd**2), len(said), part)
    gain = covary(place, said) @ np.linalg.inv(covary(said, said) + np.diag(sd**2))
    return place + off @ gain.T


def covary(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Covariance of the columns of one (members, …) with those of another.

    Returns: (columns, columns) [unit of the values, any]
    Source: the values given
    """
    return (one - one.mean(axis=0)).T @ (other - other.mean(axis=0)) / len(one)


def errors_drawn(covariance: np.ndarray, members: int, part: int = 0) -> np.ndarray:
    """Errors that may have been made (members, sayings), in pairs about 0 so that their mean is exact.

    Returns: (members, sayings) [unit of the values, any]
    Source: the covariance given
    """
    values, vectors = np.linalg.eigh(covariance)
    half = np.random.default_rng(members + part).standard_normal(((members + 1) // 2, len(values)))
    both = np.concatenate([half, -half])[:members]
    return both / np.maximum(both.std(axis=0), 1e-9) @ (vectors * np.sqrt(np.maximum(values, 0.0))).T


def explained(readings: list[Reading]) -> tuple[list[Reading], list[Reading]]:
    """Readings that the plan and the other readings can explain, and those that they cannot."""
    used, strange = list(readings), []
    while used:
        said = np.column_stack([reading.said for reading in used])
        off = np.array([reading.read for reading in used]) - said.mean(axis=0)
        inverse = np.linalg.inv(covary(said, said) + np.diag([reading.sd**2 for reading in used]))
        away = np.abs(inverse @ off) / np.sqrt(np.diag(inverse))
        worst = int(np.argmax(away))
        if away[worst] <= STRANGE:
            break
        strange.append(used.pop(worst))
    return used, strange


def readings_of(batch: Batch, laid: Laid, draws: Draws) -> Iterator[Reading]:
    """The readings of a batch beside what the members say of the same thing."""
    told = batch.measured
    if told.salted_weight is not None:
        yield of_salted_weight(laid, told.salted_weight, step_of(told))
    if told.strip_salt is not None:
        yield of_strip(laid, told.strip_salt, told.strip_error)
    raw, (usual, _) = laid.raw.flesh, drying.marked_as_laid(laid.cured, draws, 1)
    for flesh, name in ((raw, "raw"), (usual, "laid")):
        sample, dry = getattr(told, f"{name}_sample"), getattr(told, f"{name}_oven_dry")
        if sample is not None and dry is not None:
            yield of_sample(flesh, name, sample, dry, step_of(told))
    yield from _of_the_dried_piece(batch, laid, draws)


def _of_the_dried_piece(batch: Batch, laid: Laid, draws: Draws) -> Iterator[Reading]:
    """Of the marked piece, where it was told at what share of its weight as laid it was measured."""
    told, keep = batch.measured, batch.keep
    if keep.measured_at is None:
        return
    piece, isotherm = drying.marked_as_laid(laid.cured, draws)
    dried = drying.dried_to(piece, keep.measured_at)
    if told.dried_sample is not None and told.dried_oven_dry is not None:
        yield of_sample(dried, "dried", told.dried_sample, told.dried_oven_dry, step_of(told), WEIGHED_LN_SD)
    if keep.measured_water_activity is not None and may_dry(keep):
        yield of_meter(drying.activity(dried, isotherm), keep)


def step_of(told: Measured) -> float:
    """The step of the scale that counts.

    Returns: float [kg, above 0]
    Source: as told; judgement where it is not
    """
    return UNTOLD_STEP if told.scale_step is None else told.scale_step


def of_salted_weight(laid: Laid, kilograms: float, step: float) -> Reading:
    """All the fish on a scale, drained, after its soaks and rests."""
    sd = float(np.hypot(STEP_SD * step / kilograms, DRAINED_LN_SD))
    words = say("measured.salted_weight", weight=show(kilograms, "mass", "both", 3))
    return Reading(np.log(laid.salted.mass), float(np.log(kilograms)), sd, words)


def of_strip(laid: Laid, read: float, error: float | None) -> Reading:
    """A strip in the juice of the fish as laid."""
    sd = UNTOLD_STRIP_LN_SD if error is None else max(error / read, STRIP_LN_SD)
    words = say("measured.strip", salt=number(100 * read, ".1f"))
    return Reading(np.log(laid.cured.water_phase_salt), float(np.log(read)), sd, words)


def of_sample(flesh: Flesh, name: str, sample: float, dry: float, step: float, more_ln_sd: float = 0.0) -> Reading:
    """A sample before and after an oven: the water in it."""
    left, scale = dry / sample, STEP_SD * step / sample
    sd = float(np.linalg.norm([OVEN_SD, scale * np.hypot(1.0, left), more_ln_sd * left]))
    words = say(f"measured.{name}_sample", water=number(100 * (1 - left), ".1f"))
    return Reading(np.asarray(flesh.water / flesh.mass), 1 - left, sd, words)


def of_meter(said: np.ndarray, keep: Keep) -> Reading:
    """A meter over the dried piece; for a household hygrometer no small error counts."""
    sd = max(error_that_counts(keep.measured_error, keep.measured_by) or 0.0, LEAST_METER_ERROR)
    read = keep.measured_water_activity or 0.0
    return Reading(said, read, sd, say("measured.meter", read=number(read, ".2f")))


def may_dry(keep: Keep) -> bool:
    """Whether a measured water activity may make the fish drier than its estimate: only where the rules count on it."""
    alone = opens_alone(keep.measured_error, keep.measured_by)
    return alone or (keep.measured_error is not None and keep.measured_by in TRUSTED and not keep.airless)
