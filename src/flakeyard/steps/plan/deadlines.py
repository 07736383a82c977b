"""Deadlines instead of a guess: by when the marked piece must have its stop weight for the milder verdict to hold.

A forecast of hours is wide, and a verdict that reads its upper end is often severer than what will happen. The hours
themselves are something a preserver sees. So the plan says what the verdict will be for each of them, and how many
such batches make it; the log counts the hours that really passed.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from flakeyard.models.constants import HOUR
from flakeyard.models.warm_clock import WarmCounts
from flakeyard.steps.chain.drying import Thickest
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.judge import safety, warm_hours
from flakeyard.steps.judge.safety import EAT, Deadline, Facts
from flakeyard.steps.judge.warm_hours import NONE_YET, WarmHours


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
    if not safety.Case(facts).killed or best == EAT[-1]:
        return ()
    bench = on_the_bench(batch)
    ends = warm_hours.deadlines(clock, course, bench)
    told = [(ends.caution_until, best), (ends.no_after, "not_known"), (math.inf, EAT[-1])]
    found: list[Deadline] = []
    for hours, eat in told:
        eat = safety.severest([best, eat], EAT)
        if hours < 0 or (found and found[-1].hours is None):
            continue
        since_heating = None if math.isinf(hours) else hours + batch.heat.bench_hours
        found = [one for one in found if one.eat != eat]
        found.append(Deadline(since_heating, eat, float(np.mean(np.asarray(finish) <= hours))))
    return tuple(found)
