"""Two kinds of piece, move after move: the right directions, and what a plan of the same batch says."""

import numpy as np
import pytest

from flakeyard.steps.intent.batch_file import with_typed
from flakeyard.steps.plan import weighing
from flakeyard.steps.plan.explore import explore
from flakeyard.workbook.own import demo_batch

HERON = with_typed(
    with_typed(demo_batch("heron"), "cut", thickness="6 mm", thinnest="5 mm", thickest="8 mm"),
    "dryer",
    temperature="63 °C",
)
START = {"thickness": 0.006, "thicker": 0.35, "fat": 0.06, "salt": 0.08, "temperature": 63.0}
SCALES = weighing.Scales(HERON)


def at(**values):
    return SCALES.at(**(START | values))


@pytest.mark.parametrize(
    ("change", "longer"),
    [({"thickness": 0.010}, True), ({"thicker": 0.0}, False), ({"fat": 0.12}, True), ({"temperature": 72.0}, False)],
)
def test_hours_of_the_thickest_go_the_right_way(change, longer):
    before, after = at().thickest_done.mid, at(**change).thickest_done.mid
    assert (after > 1.1 * before) if longer else (after < 0.9 * before)


def test_more_than_in_step_and_at_most_the_square():
    thin, thick = (at(thickness=mm / 1000, thicker=0.0).usual_done.mid for mm in (5, 10))
    assert 2 < thick / thin < 4.2


@pytest.mark.parametrize("name", ["fat", "salt"])
def test_fat_and_salt_let_a_piece_stop_heavier(name):
    lower, higher = (at(**{name: share}).stop for share in (0.02, 0.15))
    assert higher > lower + 0.02


def test_unevenness_moves_the_thickest_piece_and_leaves_the_usual_one():
    even, uneven = at(thicker=0.0), at(thicker=0.6)
    assert np.array_equal(even.usual, uneven.usual)
    assert uneven.thickest_done.mid > 1.3 * uneven.usual_done.mid
    assert even.thickest_done.mid == pytest.approx(even.usual_done.mid, rel=0.01)


def test_the_thickest_piece_is_that_of_a_plan_of_the_whole_batch():
    uneven = with_typed(with_typed(HERON, "cut", thickest="8.1 mm", thinnest=None), "fish", fat=6.0)
    drawn = explore(uneven, thickness=0.006, fat=0.06, salt=0.08, temperature=63.0, members=weighing.MEMBERS)
    drying = at()
    assert drying.stop == pytest.approx(drawn.drying["mass_ratio"].mid, abs=1e-4)
    assert drying.thickest_done.mid == pytest.approx(3600 * drawn.drying["hours_to_target"].mid, rel=1e-3)


def test_at_its_moment_the_curve_is_at_the_weight_to_stop_at():
    drying = at()
    for done, curves in ((drying.usual_done, drying.usual), (drying.thickest_done, drying.thickest)):
        assert np.interp(done.mid / 3600, drying.hours, curves[1]) == pytest.approx(drying.stop, abs=0.015)


def test_a_face_is_drier_than_the_middle():
    face, mean, middle = at().inside
    assert 0 < face < 0.5 * mean < mean < middle


def test_the_usual_piece_of_a_move_is_kept_for_the_next():
    scales = weighing.Scales(HERON, members=8)
    first, second = (scales.at(**(START | {"thicker": thicker})) for thicker in (0.1, 0.4))
    assert len(scales._usual) == 1 and np.array_equal(first.usual, second.usual)
