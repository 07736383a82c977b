"""Draws: the same name gives the same column, strata are met once, percentiles tell what was never reached."""

import numpy as np
import pytest

from flakeyard.steps.intent.spread import Draws, band, exact, triangular_quantile, triangular_share, upper_end


def test_a_name_always_gives_the_same_column():
    one, other = Draws(50), Draws(50)
    other.uniform("something else", 0, 1)
    np.testing.assert_array_equal(one.normal("water", 0, 1), other.normal("water", 0, 1))
    assert not np.array_equal(one.normal("water", 0, 1), one.normal("fat", 0, 1))
    assert not np.array_equal(one.normal("water", 0, 1), Draws(50, seed=1).normal("water", 0, 1))


def test_every_slice_is_met_once():
    shares = np.sort(Draws(200).uniform("x", 0, 1))
    assert np.all((shares * 200).astype(int) == np.arange(200))


def test_percentiles_of_a_known_distribution():
    told = band(Draws(2000).normal("x", 10.0, 2.0))
    assert told.low == pytest.approx(10 - 1.2816 * 2, abs=0.02)  # normal quantile 0.9: 1.2816, any statistics table
    assert told.mid == pytest.approx(10, abs=0.01)
    assert told.high == pytest.approx(10 + 1.2816 * 2, abs=0.02)


def test_what_is_never_reached_has_no_upper_end():
    told = band([1.0, 2.0, 3.0, np.inf, np.inf])
    assert (told.low, told.mid, told.high) == (2.0, 3.0, None)
    assert band([np.nan] * 3).mid is None
    assert exact(2).as_dict() == {"low": 2.0, "mid": 2.0, "high": 2.0}


def test_cautious_end_is_never_below_the_percentile():
    values = Draws(200).normal("x", 0, 1)
    assert upper_end(values) >= np.quantile(values, 0.975)


def test_triangular_share_and_quantile_are_inverse():
    shares = np.linspace(0.01, 0.99, 25)
    np.testing.assert_allclose(triangular_share(triangular_quantile(shares, 4, 6, 9), 4, 6, 9), shares, rtol=1e-12)
    assert np.all(triangular_quantile(shares, 5, 5, 5) == 5)


def test_fixed_names_are_not_drawn():
    np.testing.assert_array_equal(Draws(3, fixed={"x": np.array([1.0, 2.0, 3.0])}).uniform("x", 0, 1), [1, 2, 3])
