"""Verdicts as steps along each clock: what a page finds in them is what the rules say, and never milder."""

from dataclasses import replace

import numpy as np
import pytest

from flakeyard.steps.judge import thresholds
from flakeyard.steps.judge.thresholds import severity, steps_along
from flakeyard.steps.judge.warm_hours import COUNTS, WarmHours
from flakeyard.steps.plan import plan
from flakeyard.workbook import own

MEMBERS = 24


@pytest.fixture(scope="module")
def heated():
    return plan.plan(own.demo_batch("heron"), members=MEMBERS).facts


@pytest.fixture(scope="module")
def raw(heated):
    return replace(heated, heat_core=None, heat_hold_min=None, heat_probed=None, hours_above_21c=0.0, origin="farmed")


def looked_up(steps, hours):
    return [step[1:] for step in steps if hours > step[0]][-1]


def found(table, counts, grown=0.0, warm=0.0):
    """As the page looks it up: the severest of all clocks."""
    rows = [steps for begin, steps in table["raw"] if warm > begin][-1]
    told = [looked_up(rows, grown), *(looked_up(table["warm"][name], counts[name]) for name in COUNTS)]
    return tuple(max(one[k] for one in told) for k in (0, 1))


def test_steps_stand_where_a_verdict_rises():
    told = steps_along(lambda hours: (0, 0) if hours <= 3 else (0, 1) if hours <= 7.5 else (4, 3))
    assert [step[1:] for step in told] == [(0, 0), (0, 1), (4, 3)]
    assert [step[0] for step in told[1:]] == pytest.approx([3, 7.5], abs=thresholds.NEAR)
    assert all(step[0] <= limit for step, limit in zip(told[1:], (3, 7.5), strict=True))  # never too late


def test_heated_fish_is_judged_by_its_warm_hours(heated):
    table, dice = thresholds.reckoned(heated), np.random.default_rng(1)
    different = set()
    for _ in range(60):
        whole = float(dice.exponential(6.0))
        counts = {name: float(part * whole) for name, part in zip(COUNTS, (1.0, *dice.uniform(0, 1, 4)), strict=True)}
        said = severity(replace(heated, warm=WarmHours(**counts)))
        assert found(table, counts) == said
        different.add(said)
    assert len(different) > 2


def test_raw_fish_is_judged_by_its_hours_in_the_growth_zone(raw):
    table, dice = thresholds.reckoned(raw), np.random.default_rng(2)
    none = dict.fromkeys(COUNTS, 0.0)
    milder, severer, different = 0, 0, set()
    for _ in range(60):
        grown = float(dice.exponential(8.0))
        warm = float(dice.choice([0.0, min(grown, dice.exponential(2.0))]))
        said = severity(replace(raw, hours_flesh_10_to_57=grown, hours_flesh_above_21=warm, warm=WarmHours(**none)))
        told = found(table, none, grown, warm)
        milder += any(one < other for one, other in zip(told, said, strict=True))
        severer += told != said
        different.add(said)
    assert milder == 0 and severer <= 3 and len(different) > 1


def test_fish_that_may_never_be_dry_and_a_lost_log_are_severer(heated):
    table = thresholds.reckoned(heated)
    plain = severity(heated)
    assert max(table["never"][0], plain[0]) > plain[0] and table["lost"] > plain
