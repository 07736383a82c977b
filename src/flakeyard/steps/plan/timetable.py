"""When each step of a batch begins, from the first salt to the jar, and what has to be weighed out before it.

Seconds are counted from the first salt. Up to the trays they are what was told; the hours of drying carry their spread.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from flakeyard.messages import say
from flakeyard.models import heating
from flakeyard.steps.chain.brining import mass_of
from flakeyard.steps.chain.fish import Flesh
from flakeyard.steps.chain.heating_through import heating_method, minutes_through
from flakeyard.steps.intent.records import Batch, Ingredient, Portion
from flakeyard.steps.intent.spread import MEMBERS, Band, Draws, band
from flakeyard.steps.judge.safety import Deadline
from flakeyard.steps.plan.plan import Outcome
from flakeyard.units import InputError

HEATING = 3600.0  # s, to heat the fish through and lay it out (judgement)
FIRST_LOOK = 4 * 3600.0  # s of drying, to the weighing of a load that may never get there (judgement)
WHOLE = 300.0  # s; a clock is told to five minutes
OUR_TIME = range(1970, 2200)  # years in which a batch begins (judgement): calendars of computers hold what follows
MAY_BE_DONE, NEVER, NO_DRYING = "may be done", "never", "no drying"
SIMMER = 5  # min at least in simmering or boiling liquid: jerky_boil_text (read, meat strips of at most 6 mm)
THIN = 0.008  # m (judgement): up to here SIMMER is enough, above it grows with the thickness; a probe is hard to place
WITNESS = 0.012  # m (judgement): a piece so thick holds the whole sensing part of a probe, and lags all thinner ones


@dataclass(frozen=True)
class Moment:
    """A step begins: at so many seconds from the first salt; how long it takes [s] and how warm it is [degC], where told.

    ``step`` is presoak, brine, rest, freshen (``turn`` numbers its waters), heat, dry, then, while it dries, first
    weighing, MAY_BE_DONE, likely done, latest, or NEVER when the plan does not get there; NO_DRYING in place of all these
    when the fish is as dry as was asked before it is laid.
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
        at += moment.lasts or 0.0
    if outcome.load.no_drying:
        return [*moments, Moment(NO_DRYING, at)]
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
        start = datetime.fromisoformat(text.strip())
        why = "" if start.year in OUR_TIME else say("start.no_batch")
    except ValueError:
        why = say("start.no_date")
    if why:
        allowed = say("start.allowed", first=OUR_TIME[0], last=OUR_TIME[-1])
        raise InputError("start", text, why, allowed, "2026-12-05 18:00")
    return start


def clock(moment: Moment, start: datetime) -> datetime:
    """The moment by the clock, to five minutes."""
    return start + timedelta(seconds=WHOLE * round(moment.at / WHOLE))


def early_clock(seconds: float, start: datetime) -> datetime:
    """A moment that must not be missed by the clock [s from the first salt], to five minutes and never later than it is."""
    return start + timedelta(seconds=WHOLE * math.floor(seconds / WHOLE + 1e-9))


def since_heating(outcome: Outcome) -> float:
    """When the clock of the deadlines starts, the probe's reading: seconds from the first salt.

    Returns: float [s, any]
    Source: the timetable of the plan
    """
    laid = next(moment.at for moment in timetable(outcome) if moment.step in ("dry", NO_DRYING))
    return laid - (3600.0 * outcome.batch.heat.bench_hours if outcome.batch.heat else 0.0)


def deadline_at(outcome: Outcome, deadline: Deadline) -> float:
    """A deadline in seconds from the first salt.

    Returns: float [s, any]
    Raises: ValueError where it has no hour
    Source: steps.plan.deadlines
    """
    if deadline.hours is None:
        raise ValueError(say("input.deadline"))
    return since_heating(outcome) + 3600.0 * deadline.hours


def minutes_to_plan(way: str, thickness: float, faces: int, flesh: Flesh, altitude: float | None = None) -> int | None:
    """Whole minutes to plan for heating a piece through, at the slow end: a probe, not they, shows that it was done.

    Parameters: way – of ``data/heating_methods.csv``; thickness – of the thickest piece [m]; faces – open ones, 1 or 2;
    flesh – raw; altitude – [m], sea level when not told. Returns: int [min, 0 up]; None where no time may be told.
    Source: models.heating; steps.chain.heating_through
    """
    least, most, _ = heating.heating_range.bounds["thickness"]
    thick = max(thickness, least)
    if thick * (3 - faces) > most + 1e-9:  # one closed face counts as twice the thickness
        return None
    parts = (flesh.water, flesh.protein, flesh.fat, flesh.sugar, flesh.other + flesh.salt)
    conductivity, spread = map(float, heating.heat_spread(*(float(np.median(part)) for part in parts)))
    method = heating_method(way)
    minutes = minutes_through(
        method, thick, faces, conductivity=conductivity, thermal_diffusivity=spread, altitude=altitude or 0.0
    )
    if minutes is None or not math.isfinite(minutes[-1]):
        return None
    published = SIMMER * max(1.0, thick * (3 - faces) / THIN) if way in ("simmer", "boil") else 1.0
    return math.ceil(max(minutes[-1], published) - 1e-9)


def last_day(outcome: Outcome, start: datetime) -> datetime | None:
    """Until when it may be kept at most, counted from the earliest end of the drying; None without a keeping time."""
    if outcome.keep.days is None:
        return None
    end = next(moment.at for moment in timetable(outcome) if moment.step in (MAY_BE_DONE, NEVER, NO_DRYING))
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
