"""The five counts after heating: by hand, against a fine sum, and what is not known counts in every count."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flakeyard import limits
from flakeyard.models import growth, warm_clock
from flakeyard.models.warm_clock import WarmCounts, standing_hours, warm_course, warm_hours

HOUR = 3600.0
COLD = limits.COLD


def hours(*numbers):
    return HOUR * np.array(numbers, float)


def still(flesh, air, activity, length=2.0):
    """Counts of a piece at which nothing changes."""
    flat = [None if value is None else np.full(2, float(value)) for value in (flesh, air, activity)]
    return tuple(float(count) for count in warm_hours(hours(0, length), *flat))


@pytest.mark.parametrize(
    ("flesh", "air", "activity", "counted"),
    [
        (30, 35, 0.98, (2, 2, 2, 2, 2)),
        (30, 60, 0.98, (2, 2, 2, 0, 0)),
        (50, 60, 0.98, (2, 2, 0, 0, 0)),
        (55, 60, 0.98, (2, 0, 0, 0, 0)),
        (60, 70, 0.98, (0, 0, 0, 0, 0)),
        (30, 45, 0.90, (2, 0, 2, 2, 0)),
        (30, 45, 0.93, (2, 0, 2, 2, 0)),  # above 0.93 only
        (30, 35, 0.85, (0, 0, 0, 0, 0)),  # at 0.85 the clock stands
        (8, 11, 0.98, (2, 2, 2, 2, 2)),  # a cool shed: wet flesh is colder than its air
        (10, 4, 0.98, (2, 2, 2, 2, 2)),
        (8, 9, 0.98, (0, 0, 0, 0, 0)),
        (30, 54, 0.98, (2, 2, 2, 0, 0)),
        (30, 40, 0.98, (2, 2, 2, 2, 0)),
        (54, 60, 0.98, (2, 0, 0, 0, 0)),
        (48, 60, 0.98, (2, 2, 0, 0, 0)),
        (None, 60, 0.98, (2, 2, 2, 0, 0)),
        (30, None, 0.98, (2, 2, 2, 2, 2)),
        (8, None, 0.98, (2, 2, 2, 2, 2)),
        (30, 60, None, (2, 2, 2, 0, 0)),
        (None, None, None, (2, 2, 2, 2, 2)),
    ],
)
def test_each_condition_by_itself(flesh, air, activity, counted):
    assert still(flesh, air, activity) == counted


def test_crossings_inside_a_step_lie_on_the_straight_line():
    """Flesh from 30 to 60 °C in 3 h: below 48 for 1.8 h, below 54 for 2.4 h, below 57.2 for 2.722 h."""
    for moments in ([0, 3], [0, 1, 2.9, 3]):
        times = hours(*moments)
        flesh = 30.0 + times / HOUR * 10.0
        counts = warm_hours(times, flesh, np.full(times.size, 70.0), np.full(times.size, 0.97))
        assert counts.h == pytest.approx((growth.ZONE_HIGH - 30.0) / 10.0)
        assert (counts.hs, counts.f48) == (pytest.approx(2.4), pytest.approx(1.8))
        assert (counts.c54, counts.c40) == (0.0, 0.0)


def test_drying_ends_the_counts_one_after_the_other():
    """Water activity from 0.97 to 0.81 in 4 h: above 0.93 for 1 h, above 0.85 for 3 h."""
    times = hours(0, 4)
    counts = warm_hours(times, np.full(2, 35.0), np.full(2, 45.0), np.array([0.97, 0.81]))
    assert tuple(counts) == (pytest.approx(3.0), pytest.approx(1.0), pytest.approx(3.0), pytest.approx(3.0), 0.0)


def test_each_member_stops_at_its_own_moment_and_nan_behind_it_does_not_matter():
    times = hours(0, 1, 2, 3)
    flesh = np.array([[30, 30, 30, 30], [30, 30, np.nan, np.nan], [30, 30, 30, 30]], float)
    until = np.array([2.5, 1.0, np.inf]) * HOUR
    counts = warm_hours(times, flesh, np.full(4, 35.0), np.full(4, 0.98), until)
    assert counts.h == pytest.approx([2.5, 1.0, 3.0])
    assert warm_hours(times, flesh, np.full(4, 35.0), None, np.full(3, np.nan)).c40 == pytest.approx([3.0, 3.0, 3.0])


def test_the_course_ends_in_the_whole_and_never_falls():
    times = hours(*np.linspace(0, 10, 41))
    flesh = np.stack([30 + 20 * np.sin(times / HOUR), 45 + 0 * times])
    activity = np.linspace(0.99, 0.80, times.size)
    course = warm_course(times, flesh, 50 + 10 * np.cos(times / HOUR), activity)
    for count, whole in zip(course, warm_hours(times, flesh, 50 + 10 * np.cos(times / HOUR), activity), strict=True):
        assert count.shape == (2, times.size) and np.all(count[:, 0] == 0.0) and np.all(np.diff(count) >= 0.0)
        assert count[:, -1] == pytest.approx(whole, abs=1e-12)


def test_without_air_below_the_limits_it_is_the_old_clock():
    times = hours(0, 2, 5, 9)
    flesh, activity = np.array([20.0, 45.0, 62.0, 40.0]), np.array([0.99, 0.95, 0.90, 0.80])
    old = growth.zone_hours(times, flesh, activity, growth.ZONE_LOW, growth.ZONE_HIGH, growth.STILL_MOIST)
    assert warm_hours(times, flesh, np.full(4, 63.0), activity).h == pytest.approx(old, rel=1e-12)


points = st.tuples(st.floats(0, 80), st.floats(0, 80), st.floats(0.75, 1.0))
courses = st.lists(points, min_size=2, max_size=8)


def counted(course, until=None):
    return warm_hours(hours(*range(len(course))), *np.array(course).T, until)


@settings(deadline=None)
@given(courses)
def test_against_a_fine_sum(course):
    """Five thousand slices an hour: each crossing may be off by a slice, of which there are a few to each step."""
    flesh, air, activity = np.array(course).T
    slices = 5000 * (len(course) - 1)
    middle = (np.arange(slices) + 0.5) / 5000
    flesh, air, activity = (np.interp(middle, range(len(course)), part) for part in (flesh, air, activity))
    whole = (activity > 0.85) & (flesh < growth.ZONE_HIGH) & ((flesh >= 10) | (air >= 10))
    parts = (
        whole,
        whole & (activity > 0.93) & (flesh < 54),
        whole & (flesh < 48),
        whole & (air < 54),
        whole & (air < 40),
    )
    for count, part in zip(counted(course), parts, strict=True):
        assert count == pytest.approx(part.sum() / 5000, abs=8 * len(course) / 5000)


@settings(deadline=None)
@given(courses)
def test_parts_are_never_more_than_the_whole(course):
    counts = counted(course)
    assert all(0.0 <= part <= counts.h + 1e-12 for part in counts) and counts.h <= len(course) - 1 + 1e-12
    assert counts.c40 <= counts.c54 + 1e-12


@settings(deadline=None)
@given(courses, st.integers(0, 7), st.sampled_from((0, 1, 2)))
def test_not_known_never_counts_less(course, where, which):
    known = counted(course)
    holed = [list(point) for point in course]
    holed[where % len(course)][which] = np.nan
    assert all(more >= less - 1e-12 for more, less in zip(counted(holed), known, strict=True))


@settings(deadline=None)
@given(courses, st.floats(0, 0.3))
def test_moister_flesh_never_counts_less(course, more):
    moister = [(flesh, air, min(1.0, activity + more)) for flesh, air, activity in course]
    assert all(a >= b - 1e-12 for a, b in zip(counted(moister), counted(course), strict=True))


@settings(deadline=None)
@given(courses, st.floats(0, 8), st.floats(0, 8))
def test_stopping_later_never_counts_less(course, one, other):
    one, other = sorted((one, other))
    first, second = counted(course, one * HOUR), counted(course, other * HOUR)
    assert all(b >= a - 1e-12 for a, b in zip(first, second, strict=True))


@pytest.mark.parametrize(
    ("air", "activity", "covered", "added"),
    [
        (20.0, 0.98, False, (1.5, 1.5, 1.5, 1.5, 1.5)),
        (20.0, None, True, (1.5, 1.5, 1.5, 1.5, 1.5)),
        (None, None, True, (1.5, 1.5, 1.5, 1.5, 1.5)),
        (4.0, None, True, (0, 0, 0, 0, 0)),
        ((40.0 - 32.0) / 1.8, None, True, (0, 0, 0, 0, 0)),  # 40 °F as typed
        (4.6, None, True, (1.5, 1.5, 1.5, 1.5, 1.5)),
        (4.0, None, False, (1.5, 1.5, 1.5, 1.5, 1.5)),
        (45.0, 0.98, False, (1.5, 1.5, 1.5, 1.5, 0)),
        (60.0, 0.98, False, (1.5, 1.5, 1.5, 0, 0)),
        (20.0, 0.90, False, (1.5, 0, 1.5, 1.5, 1.5)),
        (20.0, 0.85, False, (0, 0, 0, 0, 0)),
    ],
)
def test_what_a_pause_adds(air, activity, covered, added):
    assert tuple(standing_hours(1.5, air, activity, covered, COLD)) == added


def test_a_pause_of_unknown_length_is_not_known_and_members_are_taken_together():
    assert all(np.isnan(count) for count in standing_hours(np.nan, 20.0, None, False, COLD))
    counts = standing_hours(2.0, 20.0, np.array([0.98, 0.90, 0.80]), False, COLD)
    assert (
        isinstance(counts, WarmCounts)
        and counts.h == pytest.approx([2, 2, 0])
        and counts.hs == pytest.approx([2, 0, 0])
    )
    assert standing_hours(np.nan, 4.0, None, True, COLD).h == 0.0


@pytest.mark.parametrize(
    ("name", "bad"),
    [
        ("times", {"times": hours(1, 0)}),
        ("flesh_temperature", {"flesh_temperature": np.array([20.0, 400.0])}),
        ("air_temperature", {"air_temperature": np.array([20.0, np.inf])}),
        ("water_activity", {"water_activity": np.array([0.9, 1.1])}),
        ("air_temperature", {"air_temperature": np.full(3, 20.0)}),
    ],
)
def test_what_cannot_be_is_refused_by_name(name, bad):
    good = {"times": hours(0, 1), "flesh_temperature": np.full(2, 20.0)}
    good |= {"air_temperature": np.full(2, 20.0), "water_activity": np.full(2, 0.95)}
    with pytest.raises(ValueError, match=name):
        warm_course(**good | bad)
    with pytest.raises(ValueError, match="hours"):
        standing_hours(-1.0, 20.0, None, False, COLD)


def test_limits_are_those_of_the_sources():
    """118 °F (fsis_cooking_2021) and 48 degC (fsanz_seafood) for Staphylococcus; 130 °F for roasts held hot, rounded."""
    assert warm_clock.STAPH_HOTTEST >= (118 - 32) / 1.8
    assert warm_clock.SPORES_HOTTEST == warm_clock.AIR_WARM == pytest.approx((130 - 32) / 1.8, abs=0.5)
