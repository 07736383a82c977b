"""Hours that add up: what is missing is never no time at all."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flakeyard.steps.judge.clock import Clock, add_hours

hours = st.floats(0.0, 1e4)
parts = st.dictionaries(st.sampled_from("abcdef"), st.none() | hours, max_size=6)


def test_parts_add_up():
    clock = add_hours({"raw": 0.5, "cure": 0.0, "drying": 1.25})
    assert clock == Clock(1.75)
    assert clock.within(1.75) and not clock.past(1.75) and clock.past(1.7)


@pytest.mark.parametrize("missing", [None, math.nan])
def test_a_missing_part_keeps_a_clock_from_being_within(missing):
    clock = add_hours({"raw": 0.5, "drying": missing})
    assert clock.missing == ("drying",) and clock.hours == 0.5
    assert not clock.within(100.0) and not clock.past(0.5)
    assert clock.past(0.4), "what is known is already too long"


def test_nothing_told_is_nothing_known_and_endless_is_past():
    assert not add_hours({"raw": None}).within(math.inf)
    assert add_hours({"raw": math.inf, "cure": None}).past(1e9)


def test_time_below_zero_is_refused():
    with pytest.raises(ValueError, match=r"cure = -1 is impossible: allowed is a number of at least 0"):
        add_hours({"raw": 1.0, "cure": -1.0})


@given(parts, st.sampled_from("abcdef"), st.floats(0.0, 20.0))
def test_a_part_left_out_never_makes_a_clock_better(known, name, limit):
    whole, less = add_hours(known), add_hours(known | {name: None})
    assert not less.within(limit)
    assert less.hours <= whole.hours or known.get(name) is None


@given(parts, hours, st.floats(0.0, 20.0))
def test_more_hours_never_make_a_clock_better(known, more, limit):
    before, after = add_hours(known), add_hours(known | {"more": more})
    assert after.past(limit) or not before.past(limit)
    assert before.within(limit) or not after.within(limit)


@given(parts, parts)
def test_a_clock_holds_its_part(wide, narrow):
    """Hours above 21 °C are hours above 10 °C, whatever was told of either; what one does not know, neither does."""
    wide, narrow = add_hours(wide), add_hours(narrow)
    both = wide.holding(narrow)
    assert both.hours == max(wide.hours, narrow.hours)
    assert set(both.missing) == set(wide.missing) | set(narrow.missing)
