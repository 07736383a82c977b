"""A move of a slider: the sketch behind it, against the whole plan of the same batch."""

from pathlib import Path

import numpy as np
import pytest

from flakeyard.models import slab_drying
from flakeyard.steps.chain import drying
from flakeyard.steps.plan import plan as batches

DEMO = Path(__file__).parents[3] / "data_demo"
HERON = batches.load_batch(DEMO / "heron.toml")
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
    return batches.Explorer(HERON, members=20)


@pytest.mark.parametrize("name", MOVES)
def test_a_sketch_of_the_thickest_piece_is_the_fine_solution_within_06_per_cent_of_the_weight(name, explorer):
    seen = explorer.at(**MOVES[name])
    cured = batches.until_laid(seen.batch, explorer.draws)[1]
    laid = drying._lay(seen.batch, cured, explorer.draws, slice(-1, None))
    fine = slab_drying.dry(laid.slab, laid.box, drying.SHORT_TIMES, nodes=41, tolerance=1e-4, longest_step=3600.0)
    assert np.abs(seen.load.result.mass_ratio - fine.mass_ratio).max() < 0.006  # of every member, so of the band too


@pytest.mark.parametrize("name", MOVES)
def test_a_glimpse_says_what_the_plan_of_that_batch_says(name, explorer):
    seen = explorer.at(**MOVES[name])
    plan = batches.plan(seen.batch, members=20)
    assert seen.drying["mass_ratio"] == plan.drying["mass_ratio"]
    for end in ("low", "mid", "high"):
        ours, whole = (getattr(bands["hours_to_target"], end) for bands in (seen.drying, plan.drying))
        if ours is not None:  # a sketch ends after two days
            assert ours == pytest.approx(whole, rel=0.03)
    assert (seen.verdict.keep, seen.verdict.eat, seen.keep) == (plan.verdict.keep, plan.verdict.eat, plan.keep)


def test_move_after_move_is_the_same_as_each_by_itself(explorer):
    for move in ("thin", "thick", "as it is"):
        for temperature in (55.0, 70.0):
            values = MOVES[move] | {"temperature": temperature}
            one, alone = explorer.at(**values), batches.explore(HERON, members=20, **values)
            assert one.drying == alone.drying and one.verdict == alone.verdict
            assert np.array_equal(one.load.result.moisture, alone.load.result.moisture)


def test_a_batch_without_brine_can_be_given_one():
    plain = batches.read_batch({name: part for name, part in HERON.typed.items() if name != "brine"})
    salted = batches.explore(plain, members=8, **MOVES["as it is"])
    unsalted = batches.explore(plain, members=8, **MOVES["unsalted"])
    assert salted.batch.brine is not None and unsalted.batch.brine is None
    assert salted.drying["mass_ratio"].mid > unsalted.drying["mass_ratio"].mid


def test_kept_draws_are_the_usual_draws():
    kept, usual = batches.KeptDraws(20), batches.Draws(20)
    for _ in range(2):
        assert np.array_equal(kept.lognormal("thickness", 1.0, 0.1), usual.lognormal("thickness", 1.0, 0.1))
