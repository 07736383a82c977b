"""Impossible inputs are refused with a sentence; unusual ones are told; the root finder finds roots."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flakeyard.models import solutions
from flakeyard.models.inputs import Range, checked, outside, rising_root


@pytest.mark.parametrize("wrong", [-0.1, 1.1, np.nan, np.inf, [0.5, np.nan], [[0.2], [2.0]]])
def test_impossible_values_are_refused_by_name(wrong):
    with pytest.raises(ValueError, match=r"solute_fraction = .* is impossible: allowed is a number between 0 and 1"):
        checked("solute_fraction", wrong, 0.0, 1.0)


def test_the_message_names_the_first_wrong_value():
    with pytest.raises(ValueError, match="salt = -3 is impossible: allowed is a number at least 0"):
        checked("salt", [1.0, -3.0, -4.0])


def test_possible_values_come_back_as_floats():
    assert checked("salt", 2).dtype == float
    assert checked("salt", [1, 2]).tolist() == [1.0, 2.0]


def test_outside_says_which_input_and_what_was_tested():
    tested = solutions.nacl_density_range
    assert outside(tested, solute_fraction=0.1, temperature=[0.0, 60.0]) == ()
    (sentence,) = outside(tested, solute_fraction=0.1, temperature=72.0)
    assert sentence == "salt brine density: temperature 72 is outside the tested 0 to 60 °C"


@pytest.mark.parametrize("missing", [None, np.nan, [1.0, np.nan]])
def test_a_missing_input_is_not_known_never_fine(missing):
    assert outside(solutions.nacl_saturation_range, temperature=missing) == (
        "solubility of salt: temperature is not known",
    )
    assert outside(solutions.nacl_saturation_range) == ("solubility of salt: temperature is not known",)


def test_ranges_are_frozen():
    with pytest.raises(AttributeError):
        Range("formula", {}, "none", "source").error = "better"


@given(st.lists(st.floats(-5.0, 5.0), min_size=1, max_size=5), st.floats(0.2, 20.0))
def test_roots_are_found_to_rounding(places, steepness):
    places = np.array(places)
    found = rising_root(lambda x: np.sinh(steepness * (x - places)), np.full(places.shape, -6.0), 6.0)
    assert found == pytest.approx(places, abs=1e-12)


def test_a_jump_counts_as_a_crossing_and_bounds_come_back_without_one():
    assert rising_root(lambda x: np.where(x < 0.3, -1.0, 2.0), 0.0, 1.0) == pytest.approx(0.3, abs=1e-12)
    assert rising_root(lambda x: x + 1.0, 0.0, 1.0) == 0.0
    assert rising_root(lambda x: x - 2.0, 0.0, 1.0) == 1.0
