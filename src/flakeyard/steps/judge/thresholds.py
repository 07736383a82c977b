"""At how many hours a verdict becomes severer, asked of the rules one clock at a time, for a page that cannot ask them.

Every rule can only make a verdict severer and more hours never make one milder, so along one clock a verdict is a few steps.
Whoever reads them takes the severest of all clocks: that is never milder than the rules are.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from flakeyard.steps.judge import safety
from flakeyard.steps.judge.safety import EAT, KEEP, Facts
from flakeyard.steps.judge.shown import LOG
from flakeyard.steps.judge.warm_hours import COUNTS, NONE_YET

LONGEST = 400.0  # h to which a clock is followed: four times what a forecast looks at (judgement)
NEAR = 1e-3  # h, to which a step is found; a step is told so much too early at most
SOME = 1e-6  # h: more than none

Severity = tuple[int, int]  # places in KEEP and EAT
Step = tuple[float, int, int]  # above so many hours the verdict is this


def severity(facts: Facts) -> Severity:
    """The verdict on keeping and on eating as places in the lists that rise in severity.

    Returns: two places [1, 0 up]
    Source: steps.judge.safety.judge
    """
    verdict = safety.judge(facts, LOG)
    return KEEP.index(verdict.keep), EAT.index(verdict.eat)


def steps_along(judged: Callable[[float], Severity], low: float = 0.0, high: float = LONGEST) -> list[Step]:
    """The hours above which a verdict that only rises takes its next values; the first is what no hours at all give.

    Returns: steps [h, 0 up]
    Source: the verdicts given
    """
    first = judged(low)
    return [(-1.0, *first), *_between(judged, low, first, high, judged(high))]


def _between(judged, low: float, below: Severity, high: float, above: Severity) -> list[Step]:
    if below == above:
        return []
    if high - low < NEAR:
        return [(low, *above)]
    middle = 0.5 * (low + high)
    between = judged(middle)
    return [*_between(judged, low, below, middle, between), *_between(judged, middle, between, high, above)]


def warm_steps(facts: Facts) -> dict[str, list[Step]]:
    """For each of the five counts of warm hours after heating, what the verdict is above how many of them.

    Returns: steps by count [h, 0 up]
    Source: data/warm_ladder.csv; steps.judge.safety.judge
    """

    def along(count: str):
        return lambda hours: severity(replace(facts, warm=replace(NONE_YET, **{"h": hours, count: hours})))

    return {count: steps_along(along(count)) for count in COUNTS}


def raw_steps(facts: Facts) -> list[tuple[float, list[Step]]]:
    """What the verdict is above so many hours in the growth zone, for hours above 21 degC: rows that hold above their first
    number, each judged at its end.

    Returns: rows of steps [h, 0 up]
    Source: steps.judge.safety.judge
    """

    def at(warm: float):
        return lambda grown: severity(
            replace(facts, warm=NONE_YET, hours_flesh_10_to_57=grown, hours_flesh_above_21=warm)
        )

    by_warmth = steps_along(lambda warm: at(warm)(0.0))
    begins = [-1.0, 0.0, *(step[0] for step in by_warmth[1:])]
    ends = [0.0, *(begin + SOME for begin in begins[2:]), LONGEST]
    return [(begin, steps_along(at(end))) for begin, end in zip(begins, ends, strict=True)]


def reckoned(facts: Facts) -> dict:
    """Everything of a verdict that hours can still change: by clock, when it may never get dry, and what stands anyway.

    Returns: steps and places by name [h; 1]
    Source: steps.judge.safety.judge
    """
    none = replace(facts, warm=NONE_YET, hours_flesh_10_to_57=0.0, hours_flesh_above_21=0.0)
    return {
        "warm": warm_steps(none), "raw": raw_steps(none), "never": severity(replace(none, target_reached=False)),
        "lost": (KEEP.index("not_known"), EAT.index("not_known")),
    }  # fmt: skip
