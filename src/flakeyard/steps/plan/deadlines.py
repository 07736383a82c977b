"""Deadlines instead of a guess: by when the marked piece must have its stop weight for the milder verdict to hold.

A forecast of hours is wide, and a verdict that reads its upper end is often severer than what will happen. The hours
themselves are something a preserver sees. So the plan says what the verdict will be for each of them, and how many
such batches make it; the log counts the hours that really passed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from flakeyard.models.constants import HOUR
from flakeyard.models.warm_clock import WarmCounts
from flakeyard.steps.chain.drying import TESTED, Thickest, dry_thickest
from flakeyard.steps.chain.laying import until_laid
from flakeyard.steps.chain.salting import Cured
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Band, Draws, band
from flakeyard.steps.judge import safety, warm_hours
from flakeyard.steps.judge.safety import EAT, Deadline, Facts
from flakeyard.steps.judge.warm_hours import NONE_YET, WarmHours
from flakeyard.steps.plan.measured import taken_in

THINNER, HALF, WARMER = (
    0.75,
    0.5,
    7.0,
)  # of the thickness, of the load, K on the dial: what a kitchen can do (judgement)
SKETCHED = 40  # members behind a change that is tried: enough for "so many of ten" (judgement)


@dataclass(frozen=True)
class Gain:
    """A change of the plan tried by itself: "thinner", "half" or "warmer", the hours of drying it then takes, and the
    share of such batches that keep to the first deadline they then have."""

    change: str
    hours: Band
    in_time: float


def on_the_bench(batch: Batch) -> WarmHours:
    """What the time between the heating and the warm trays adds to every count."""
    return warm_hours.pause(batch.heat.bench_hours) if batch.heat else NONE_YET


def of_a_plan(batch: Batch, load: Thickest, facts: Facts) -> tuple[Deadline, ...]:
    """Deadlines of a batch as it is forecast, from the cautious end of its counts at every moment."""
    return of_a_course(batch, load.result.times / HOUR, warm_hours.upper_course(load.counts), load.hours, facts)


def of_a_course(batch: Batch, clock, course: WarmCounts, finish, facts: Facts) -> tuple[Deadline, ...]:
    """Deadlines along a course.

    Parameters: clock – hours since drying began, rising (moments,) [h]; course – the cautious end of the counts up to
    each of them; finish – when each member has its stop weight (members,) [h]; facts – all else that is known.
    Returns: none where no heating counts, or where nothing would be gained by being quick.
    """
    best = safety.judge(replace(facts, warm=NONE_YET)).eat
    heat = batch.heat
    if heat is None or not safety.Case(facts).killed or best == EAT[-1]:
        return ()
    bench = on_the_bench(batch)
    ends = warm_hours.deadlines(clock, course, bench)
    told = [(ends.caution_until, best), (ends.no_after, "not_known"), (math.inf, EAT[-1])]
    found: list[Deadline] = []
    for hours, eat in told:
        eat = safety.severest([best, eat], EAT)
        if hours < 0 or (found and found[-1].hours is None):
            continue
        since_heating = None if math.isinf(hours) else hours + heat.bench_hours
        found = [one for one in found if one.eat != eat]
        found.append(Deadline(since_heating, eat, float(np.mean(np.asarray(finish) <= hours))))
    return tuple(found)


def stands(by: tuple[Deadline, ...]) -> bool:
    """Whether a clock stands in the way: whether being late makes the verdict severer."""
    return any(one.hours is not None for one in by)


def gains(batch: Batch, facts: Facts, by: tuple[Deadline, ...], members: int = SKETCHED) -> tuple[Gain, ...]:
    """What would gain time, each change tried by itself on a sketch of the drying; none where no deadline stands.

    Parameters: batch, facts, by – of the plan; members – draws of a sketch. Changes that lead out of what the drying
    was tested for, or after which the fish may never get there, are left out.
    """
    if not stands(by):
        return ()
    draws = taken_in(batch, Draws(members))
    tried = ((change, other, dry_thickest(other, cured, draws)) for change, other, cured in _changes(batch, draws))
    found = (
        Gain(change, band(load.hours), _in_time(of_a_plan(other, load, facts), by[0].eat))
        for change, other, load in tried
    )
    return tuple(gain for gain in found if gain.hours.mid is not None)


def _in_time(by: tuple[Deadline, ...], eat: str) -> float:
    """The share that gets a verdict on eating."""
    return next((one.chance for one in by if one.eat == eat), 0.0)


def _changes(batch: Batch, draws: Draws) -> Iterator[tuple[str, Batch, Cured]]:
    """Each change with the batch and the fish as it then lies on the trays."""
    cured, dial = until_laid(batch, draws).cured, batch.dryer.temperature
    if THINNER * batch.cut.sizes[0] >= TESTED["thickness"][0]:
        thinner = replace(batch, cut=batch.cut.scaled(THINNER))
        yield "thinner", thinner, until_laid(thinner, draws).cured
    yield "half", batch, replace(cured, fish=replace(cured.fish, mass=HALF * cured.fish.mass))
    if dial + WARMER <= TESTED["temperature"][1]:
        yield "warmer", replace(batch, dryer=replace(batch.dryer, temperature=dial + WARMER)), cured
