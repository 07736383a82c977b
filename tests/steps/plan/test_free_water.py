"""Water activity over weight left: numbers at all ends, directions, agreement with the plan, what can grow."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from flakeyard.models import sorption
from flakeyard.steps.judge import safety, water_check
from flakeyard.steps.plan.free_water import free_water, ladder_findings, piece_of, spread_of_protein
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook.own import demo_batch

SPREAD = spread_of_protein()
START = {"fat": 0.06, "salt": 0.13, "left": 0.58, "temperature": 25.0}
ENDS = {"fat": (0.0, 0.20), "salt": (0.0, 0.40), "left": (0.30, 1.00), "temperature": (5.0, 65.0)}
MOVES = [START | {name: end} for name, ends in ENDS.items() for end in ends]
CORNERS = [dict(zip(ENDS, corner, strict=True)) for corner in itertools.product(*ENDS.values())]
LIMITS = [row.least_water_activity for row in water_check.growth_limits()]


@pytest.fixture(scope="module")
def piece():
    return piece_of(demo_batch("heron"))


@pytest.fixture
def moved(piece):
    return lambda **values: free_water(piece, SPREAD, **(START | values))


@pytest.mark.parametrize("values", [START, *MOVES, *CORNERS], ids=str)
def test_curves_are_finite_ordered_and_rise_with_the_weight(moved, values):
    water = moved(**values)
    for curve in (water.low, water.mid, water.high, water.cautious):
        assert np.all((curve >= 0) & (curve <= 1)) and np.all(np.diff(curve) > -1e-9)
    assert np.all(water.low <= water.mid) and np.all(water.mid <= water.high)
    assert 0.2 < water.left[0] < water.left[-1] == pytest.approx(1.0)
    assert water.line[1] < water.line[0]  # the cautious end reaches 0.85 at a lower weight


@pytest.mark.parametrize("values", [START, *MOVES], ids=str)
def test_the_cautious_end_lies_a_margin_above_the_estimate_at_room_temperature(moved, values):
    water = moved(**values)
    if water.activity is not None:
        assert water.upper >= min(1.0, water.at_room + sorption.CAUTION_MARGIN - 1e-9)
        assert water.activity.low <= water.activity.mid <= water.activity.high


def test_the_weight_to_stop_at_is_where_the_plan_says_it_is():
    """The panel leaves out the spread of fish and salt, and the little that sugar binds; the middle must agree."""
    for name in ("heron", "otter"):
        batch = demo_batch(name)
        piece, outcome = piece_of(batch), plan(batch)
        here = {"fat": piece.fat, "salt": piece.salt, "left": outcome.drying["mass_ratio"].mid, "temperature": 25.0}
        water = free_water(piece, SPREAD, **here)
        assert water.at_room == pytest.approx(outcome.dried["water_activity"].mid, abs=0.02)
        assert water.water_fraction == pytest.approx(outcome.marked["water_fraction"].mid, abs=0.02)


def test_more_salt_reaches_the_line_at_a_higher_weight_and_buys_nothing_below_the_step(moved):
    lines = [moved(salt=salt).line for salt in (0.0, 0.1, 0.2, 0.4)]
    assert lines == sorted(lines) and lines[0][0] < lines[-1][0] - 0.1
    few, much = (sorption.water_activity(0.15, salt, 0, 1) for salt in (0.1, 0.3))
    assert few == much < sorption.PLATEAU


def test_fat_is_ballast_the_same_water_per_solids_has_the_same_activity(piece, moved):
    lean, fatty = (moved(fat=fat, left=0.7) for fat in (0.02, 0.15))
    left = (piece.dead_weight(0.15, START["salt"]) + lean.water_ratio) / (
        piece.dead_weight(0.15, START["salt"]) + piece.water
    )
    same = moved(fat=0.15, left=left)
    assert same.water_ratio == pytest.approx(lean.water_ratio)
    assert same.at_room == pytest.approx(lean.at_room)
    assert fatty.line[0] > lean.line[0]


def test_a_warm_piece_has_the_freer_water_but_the_verdict_stays_at_room_temperature(moved):
    cold, room, warm = (moved(temperature=degrees, salt=0.0, left=0.42) for degrees in (5.0, 25.0, 63.0))
    assert cold.activity.mid < room.activity.mid < warm.activity.mid
    assert cold.upper == room.upper == warm.upper and cold.at_room == warm.at_room == room.activity.mid


def test_drier_stops_more_of_the_ladder_and_never_less(moved):
    states = []
    for left in np.arange(0.38, 1.0, 0.02):
        water = moved(left=float(left))
        states.append([["stopped", "perhaps", "grows"].index(water.growth(least)) for least in LIMITS])
    assert np.all(np.diff(states, axis=0) >= 0)
    assert sum(states[0]) < sum(states[-1])


def test_a_piece_without_salt_and_sugar_is_the_plain_isotherm(piece):
    plain = replace(piece, sugar=0.0)
    water = free_water(plain, SPREAD, fat=0.0, salt=0.0, left=0.6, temperature=25.0)
    left = SPREAD | {"native": piece.native * SPREAD["native"]}
    middle = sorption.water_activity(water.water_ratio, 0.0, 0.0, 1.0, **left)
    assert water.at_room == pytest.approx(float(np.median(middle)))


def test_what_lies_between_estimate_and_cautious_end_can_perhaps_grow(moved):
    water = moved()
    assert water.growth(water.at_room) == "grows" and water.growth(water.upper) == "perhaps"
    assert water.growth(water.upper + 1e-9) == "stopped"


def test_a_piece_that_cannot_be_so_light_is_not_known_and_never_called_stopped(moved):
    water = moved(left=0.30, fat=0.20)
    assert water.activity is None and {water.growth(least) for least in LIMITS} == {"unknown"}
    told = ladder_findings(water)
    assert told and all(safety.KEEP.index(finding.keep) > safety.KEEP.index("cupboard") for finding in told)
