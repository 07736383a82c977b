"""A move of a slider: the sketch behind it, against the whole plan of the same batch."""

from pathlib import Path

import numpy as np
import pytest

from flakeyard.models import slab_drying
from flakeyard.steps.chain import drying
from flakeyard.steps.chain.laying import until_laid
from flakeyard.steps.intent.batch_file import load_batch, with_typed, without
from flakeyard.steps.intent.spread import Draws
from flakeyard.steps.judge.safety import KEEP
from flakeyard.steps.plan import explore
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook.own import demo_batch

DEMO = Path(__file__).parents[3] / "data_demo"
HERON = with_typed(
    with_typed(load_batch(DEMO / "heron.toml"), "cut", thickness="6 mm", thinnest="5 mm", thickest="8 mm"),
    "dryer",
    temperature="63 °C",
)
MOVES = {
    "as it is": {"thickness": 0.006, "fat": 0.06, "salt": 0.08, "temperature": 63.0},
    "thin": {"thickness": 0.003, "fat": 0.02, "salt": 0.05, "temperature": 70.0},
    "thick": {"thickness": 0.015, "fat": 0.06, "salt": 0.08, "temperature": 63.0},
    "unsalted": {"thickness": 0.006, "fat": 0.06, "salt": 0.0, "temperature": 63.0},
    "very salty, cool": {"thickness": 0.006, "fat": 0.20, "salt": 0.20, "temperature": 50.0},
    "hot": {"thickness": 0.012, "fat": 0.02, "salt": 0.20, "temperature": 75.0},
}


@pytest.fixture(scope="module")
def explorer():
    return explore.Explorer(HERON, members=20)


@pytest.mark.parametrize("name", MOVES)
def test_a_sketch_of_the_thickest_piece_is_the_fine_solution_within_06_per_cent_of_the_weight(name, explorer):
    seen = explorer.at(**MOVES[name])
    cured = until_laid(seen.batch, explorer.draws).cured
    laid = drying._lay(seen.batch, cured, explorer.draws, slice(-1, None))
    fine = slab_drying.dry(laid.slab, laid.box, drying.SHORT_TIMES, nodes=41, tolerance=1e-4, longest_step=3600.0)
    assert np.abs(seen.load.result.mass_ratio - fine.mass_ratio).max() < 0.006  # of every member, so of the band too


@pytest.mark.parametrize("name", MOVES)
def test_a_glimpse_says_what_the_plan_of_that_batch_says(name, explorer):
    seen = explorer.at(**MOVES[name])
    whole = plan(seen.batch, members=20)
    assert seen.drying["mass_ratio"] == whole.drying["mass_ratio"]
    there = np.isfinite(seen.load.hours)  # a sketch ends after two days
    assert there.sum() >= 8 and np.all(whole.load.hours[~there] > 47.0)
    assert seen.load.hours[there] == pytest.approx(whole.load.hours[there], rel=0.03)
    assert (seen.verdict.keep, seen.verdict.eat, seen.keep) == (whole.verdict.keep, whole.verdict.eat, whole.keep)


def test_move_after_move_is_the_same_as_each_by_itself(explorer):
    for move in ("thin", "thick", "as it is"):
        for temperature in (55.0, 70.0):
            values = MOVES[move] | {"temperature": temperature}
            one, alone = explorer.at(**values), explore.explore(HERON, members=20, **values)
            assert one.drying == alone.drying and one.verdict == alone.verdict
            assert np.array_equal(one.load.result.moisture, alone.load.result.moisture)


def test_a_batch_without_brine_can_be_given_one():
    plain = without(HERON, "brine")
    salted = explore.explore(plain, members=8, **MOVES["as it is"])
    unsalted = explore.explore(plain, members=8, **MOVES["unsalted"])
    assert salted.batch.brine is not None and unsalted.batch.brine is None
    assert salted.drying["mass_ratio"].mid > unsalted.drying["mass_ratio"].mid


def test_draws_come_again_the_same():
    one, again = Draws(20), Draws(20)
    for _ in range(2):
        assert np.array_equal(one.lognormal("thickness", 1.0, 0.1), again.lognormal("thickness", 1.0, 0.1))


def test_an_experiment_is_not_rounded_on_its_way():
    seen = explore.changed(HERON, 0.0061234567891, 0.0612345678912, 0.08, 63.123456789)
    assert (seen.cut.thickness, seen.fish.fat, seen.dryer.temperature) == (
        0.0061234567891,
        0.0612345678912,
        63.123456789,
    )
    salt, water = (row.amount.mass for row in reversed(seen.brine.ingredients))
    assert salt / (salt + water) == pytest.approx(0.08, rel=1e-14)


def test_where_nothing_moved_the_batch_is_that_of_its_plan_and_what_moves_moves_alone():
    start = {"thickness": 0.006, "fat": 0.06, "salt": 0.08, "temperature": 63.0}
    mover, whole = explore.Explorer(HERON, members=20, start=start), plan(HERON, members=20)
    seen = mover.at(**start)
    assert seen.batch == HERON and seen.verdict == whole.verdict and seen.keep == whole.keep
    assert np.array_equal(seen.load.hours, whole.load.hours)
    warmer = mover.at(**start | {"temperature": 70.0})
    assert warmer.batch.dryer.temperature == 70.0 and warmer.batch.fish == HERON.fish
    assert warmer.batch.brine == HERON.brine and warmer.batch.cut == HERON.cut


def test_a_drier_weight_of_ones_own_is_never_judged_the_severer():
    start = {"thickness": 0.005, "fat": 0.06, "salt": 0.08, "temperature": 70.0}
    mover = explore.Explorer(demo_batch("heron"), members=60, start=start)
    keep = [KEEP.index(mover.at(**start, stop_at=share).verdict.keep) for share in (0.30, 0.36, 0.40, 0.43, 0.50, 0.70)]
    assert keep == sorted(keep) and keep[0] < keep[-1]
    note = plan(with_typed(demo_batch("heron"), "keep", stop_at=0.30), members=20).notes
    assert any("bone dry" in one for one in note)
