"""When each step of a batch begins, from the first salt to the jar, and what has to be weighed out before it.

Seconds are counted from the first salt. Up to the trays they are what was told; the hours of drying carry their spread.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from flakeyard.steps.chain.brining import mass_of
from flakeyard.steps.intent.records import Batch, Ingredient, Portion
from flakeyard.steps.intent.spread import MEMBERS, Band, Draws, band
from flakeyard.steps.plan.plan import Outcome
from flakeyard.units import InputError

HEATING = 3600.0  # s, to heat the fish through and lay it out (judgement)
FIRST_LOOK = 4 * 3600.0  # s of drying, to the weighing of a load that may never get there (judgement)
WHOLE = 300.0  # s; a clock is told to five minutes
MAY_BE_DONE, NEVER = "may be done", "never"


@dataclass(frozen=True)
class Moment:
    """A step begins: at so many seconds from the first salt; how long it takes [s] and how warm it is [degC], where told.

    ``step`` is presoak, brine, rest, freshen (``turn`` numbers its waters), heat, dry, then, while it dries, first
    weighing, MAY_BE_DONE, likely done, latest, or NEVER when the plan does not get there.
    """

    step: str
    at: float
    lasts: float | None = None
    temperature: float | None = None
    turn: int = 1


def timetable(outcome: Outcome) -> list[Moment]:
    """What to do from the first salt to the jar, in order."""
    moments, at = [], 0.0
    for moment in _before_drying(outcome.batch):
        moments.append(replace(moment, at=at))
        at += moment.lasts
    laid = Moment("dry", at, temperature=outcome.batch.dryer.temperature)
    return [*moments, laid, *_drying(at, outcome.drying["hours_to_target"])]


def _before_drying(batch: Batch) -> Iterator[Moment]:
    """Every soak, rest and heating, in order, as if each began the batch."""
    for name in ("presoak", "brine", "rest"):
        if soak := getattr(batch, name):
            yield Moment(name, 0.0, soak.time, soak.temperature)
    for soak in batch.freshen:
        for turn in range(1, soak.waters + 1):
            yield Moment("freshen", 0.0, soak.time, soak.temperature, turn)
    if batch.heat:
        yield Moment("heat", 0.0, HEATING, batch.heat.core)


def _drying(laid: float, hours: Band) -> Iterator[Moment]:
    """When to weigh a load laid at a moment [s], and the times at which it may be done."""
    if hours.mid is None:
        yield Moment(NEVER, laid + FIRST_LOOK)
        return
    low = hours.low if hours.low is not None else hours.mid
    yield Moment("first weighing", laid + 1800 * low)
    yield Moment(MAY_BE_DONE, laid + 3600 * low)
    yield Moment("likely done", laid + 3600 * hours.mid)
    if hours.high is not None:
        yield Moment("latest", laid + 3600 * hours.high)


def read_start(text: str | None) -> datetime | None:
    """When the fish meets the salt, such as "2026-12-05 18:00"; None when not told. Raises: InputError."""
    if text is None:
        return None
    try:
        return datetime.fromisoformat(text.strip())
    except ValueError:
        raise InputError(
            "start", text, "it is not a date with an hour", "year-month-day hour:minute", "2026-12-05 18:00"
        ) from None


def clock(moment: Moment, start: datetime) -> datetime:
    """The moment by the clock, to five minutes."""
    return start + timedelta(seconds=WHOLE * round(moment.at / WHOLE))


def last_day(outcome: Outcome, start: datetime) -> datetime | None:
    """Until when it may be kept at most, counted from the earliest end of the drying; None without a keeping time."""
    if outcome.keep.days is None:
        return None
    end = next(moment.at for moment in timetable(outcome) if moment.step in (MAY_BE_DONE, NEVER))
    return start + timedelta(seconds=end) + timedelta(days=int(outcome.keep.days))


@dataclass(frozen=True)
class Needed:
    """Something to weigh out; ``weighs`` [kg] is told where the amount is a volume that could be filled in many ways."""

    what: str
    amount: Portion
    weighs: Band | None = None


def shopping(batch: Batch) -> Iterator[Needed]:
    """What goes into the soaks. A measure by volume is given its weight too: a cup of salt is not one weight."""
    draws = Draws(MEMBERS)
    for row in batch.ingredients:
        yield Needed(row.what, row.amount, _weighs(row, draws))


def _weighs(row: Ingredient, draws: Draws) -> Band | None:
    return None if row.amount.mass is not None or row.what == "water" else band(mass_of(row, draws))
