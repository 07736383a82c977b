"""How near the hours that count are to their limit: a plan may be granted and hold by a few minutes only."""

from __future__ import annotations

import math
from dataclasses import dataclass

from flakeyard import limits
from flakeyard.messages import number, say
from flakeyard.steps.judge.safety import Case
from flakeyard.steps.judge.warm_hours import ladder
from flakeyard.steps.plan.plan import Outcome
from flakeyard.units import show
from flakeyard.workbook import words

AT_ITS_LIMIT = 0.9  # of the hours that count: a plan that uses up more is at its limit (judgement)
RAW_CLOCK = ("T1", "T2")  # the rules of its hours: one cause, and none that a heating afterwards mends
RAW = "raw"  # the clock of fish that no heating counts for


@dataclass(frozen=True)
class Near:
    """Hours that count, by the name of their count, beside the limit from which on no fish is known to be fit to eat."""

    count: str
    hours: float
    limit: float

    @property
    def share(self) -> float:
        return self.hours / self.limit

    @property
    def told(self) -> dict[str, str]:
        """Hours, limit and which hours they are, in words."""
        which = say("ending.at_limit.raw" if self.count == RAW else "ending.at_limit.heated")
        return {"hours": up(self.hours), "limit": f"{self.limit:g}", "count": which}


def first_limit(count: str) -> float:
    """The hours of a count from which on no fish is known to be fit to eat."""
    return min(row.limit for row in ladder() if row.count == count and row.says in ("not_known", "no"))


def up(hours: float) -> str:
    """Hours rounded up, so that no breach reads as the limit itself."""
    if not math.isfinite(hours):
        return say("safety.countless")
    return number(-(-hours // 1), "g") if hours >= 10 else number(-(-hours * 10 // 1) / 10, "g")


def nearest_of_heated(outcome: Outcome) -> Near:
    """The count of heated fish that is nearest its limit."""
    counted = outcome.facts.warm.filled()
    return max((Near(one, hours, first_limit(one)) for one, hours in counted.items()), key=lambda one: one.share)


def nearest(outcome: Outcome) -> Near | None:
    """The hours of a plan that are nearest their limit; None where they are not known, or nothing is dried."""
    if outcome.load.no_drying:
        return None
    case = Case(outcome.facts)
    if case.killed:
        return None if outcome.facts.warm.unsure else nearest_of_heated(outcome)
    clock, warm = case.raw_clock("cure_hours_above_10c"), case.raw_warm_clock
    both = (Near(RAW, clock.hours, limits.CLOCK_HOURS), Near(RAW, warm.hours, limits.CLOCK_WARM_HOURS))
    return max(both, key=lambda one: one.share)


def at_limit(outcome: Outcome) -> Near | None:
    """The hours of a granted plan that are within a tenth of their limit; None where none are."""
    near = None if words.refused(outcome.verdict) else nearest(outcome)
    return near if near and AT_ITS_LIMIT < near.share <= 1 else None


def at_limit_words(outcome: Outcome, name: str = "ending.at_limit") -> str:
    """That a granted plan is at its limit, and what helps most; "" where it is not. ``name``: of the message."""
    near = at_limit(outcome)
    return say(name, **near.told) if near else ""


def warm_already(outcome: Outcome) -> str:
    """That the hours told of the fish as it is are past their limit, whatever is done with it; "" where they are not."""
    fish = outcome.batch.fish
    for hours, above, limit in (
        (fish.hours_above_4c, limits.COLD, limits.CLOCK_HOURS),
        (fish.hours_above_21c, limits.WARM, limits.CLOCK_WARM_HOURS),
    ):
        if hours is not None and hours > limit:
            above_it = show(above, "temperature", "both")
            return say("ending.warm.already", hours=up(hours), above=above_it, limit=f"{limit:g}")
    return ""
