"""The ladder of warm hours: worked cases, never milder with more hours or less knowledge, deadlines that agree with it."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flakeyard import tables
from flakeyard.models.warm_clock import WarmCounts, warm_course
from flakeyard.steps.judge import warm_hours as ladder
from flakeyard.steps.judge.warm_hours import COUNTS, SAYS, WarmHours, deadlines, hours_at, pause, rung


def cases():
    with Path(__file__).with_name("warm_cases.csv").open(encoding="utf-8") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def of(row, end):
    return WarmHours(*(float(row[f"{name}_{end}"]) for name in ("H", "Hs", "F48", "C54", "C40")))


def severity(hours):
    return SAYS.index(rung(hours)[0])


@pytest.mark.parametrize("row", cases(), ids=lambda row: row["case"])
def test_worked_cases(row):
    assert rung(of(row, "upper"))[0] == row["says_upper"]
    assert rung(of(row, "median"))[0] == row["says_median"]


def test_the_cases_reach_every_rung():
    seen = {hit.rung.rule for row in cases() for hit in rung(of(row, "upper"))[1]}
    assert seen >= {row.rule for row in ladder.ladder() if row.count}
    assert {rung(of(row, "median"))[0] for row in cases()} == set(SAYS)


@pytest.mark.parametrize(
    ("counts", "says", "rules"),
    [
        ({"h": 3.0, "hs": 1.5, "f48": 3.0, "c54": 3.0, "c40": 0.0}, "silent", {"W0"}),
        ({"h": 3.1, "hs": 0.0, "f48": 0.0, "c54": 0.0, "c40": 0.0}, "caution", {"W1"}),
        ({"h": 2.0, "hs": 1.6, "f48": 0.0, "c54": 0.0, "c40": 0.0}, "caution", {"W1"}),
        ({"h": 5.0, "hs": 0.0, "f48": 4.1, "c54": 0.0, "c40": 0.0}, "caution", {"W1", "W12"}),
        ({"h": 7.0, "hs": 6.1, "f48": 0.0, "c54": 0.0, "c40": 0.0}, "not_known", {"W1", "W2"}),
        ({"h": 7.0, "hs": 0.0, "f48": 6.1, "c54": 0.0, "c40": 0.0}, "not_known", {"W1", "W3", "W12"}),
        ({"h": 2.5, "hs": 0.0, "f48": 0.0, "c54": 2.5, "c40": 2.1}, "not_known", {"W4"}),
        ({"h": 4.5, "hs": 0.0, "f48": 0.0, "c54": 4.1, "c40": 0.0}, "not_known", {"W1", "W5"}),
        ({"h": 12.1, "hs": 0.0, "f48": 0.0, "c54": 0.0, "c40": 0.0}, "not_known", {"W1", "W6"}),
        ({"h": 9.0, "hs": 0.0, "f48": 0.0, "c54": 9.0, "c40": 9.0}, "no", {"W1", "W4", "W5", "W7"}),
        ({"h": 9.0, "hs": 0.0, "f48": 8.1, "c54": 0.0, "c40": 0.0}, "no", {"W1", "W3", "W8", "W12"}),
        ({"h": 13.0, "hs": 12.1, "f48": 0.0, "c54": 0.0, "c40": 0.0}, "no", {"W1", "W2", "W6", "W9"}),
        ({"h": 13.0, "hs": 0.0, "f48": 0.0, "c54": 12.1, "c40": 0.0}, "no", {"W1", "W5", "W6", "W10"}),
        ({"h": 24.1, "hs": 0.0, "f48": 0.0, "c54": 0.0, "c40": 0.0}, "no", {"W1", "W6", "W10"}),
    ],
)
def test_each_rung_by_itself(counts, says, rules):
    said, hits = rung(WarmHours(**counts))
    assert said == says and {hit.rung.rule for hit in hits} == rules
    order = [SAYS.index(hit.rung.says) for hit in hits]
    assert order == sorted(order, reverse=True) and hits[0].rung.says == said


def test_a_limit_itself_is_still_within_it():
    for row in ladder.ladder():
        if row.count:
            below = dict.fromkeys(COUNTS, 0.0) | {"h": row.above_hours, row.count: row.above_hours}
            assert row not in [hit.rung for hit in rung(WarmHours(**below))[1]]
            above = below | {"h": row.above_hours + 1e-6, row.count: row.above_hours + 1e-6}
            assert row in [hit.rung for hit in rung(WarmHours(**above))[1]]


counts = st.tuples(*[st.floats(0, 30)] * 5)
maybe = st.tuples(*[st.none() | st.floats(0, 30)] * 5)


@settings(max_examples=300)
@given(maybe, st.sampled_from(COUNTS), st.floats(0, 30))
def test_more_hours_are_never_milder(values, name, more):
    hours = WarmHours(*values)
    given_hours = getattr(hours, name)
    if given_hours is not None:
        longer = WarmHours(**hours.known() | {name: given_hours + more})
        assert severity(longer) >= severity(hours)


@settings(max_examples=300)
@given(counts, st.sampled_from(COUNTS[1:]), st.floats(0, 1))
def test_a_missing_part_is_never_milder_than_any_value_the_whole_allows(values, name, part):
    whole = max(values)
    hours = {**dict(zip(COUNTS, values, strict=True)), "h": whole, name: part * whole}
    assert severity(WarmHours(**hours | {name: None})) >= severity(WarmHours(**hours))


@given(maybe)
def test_unknown_hours_are_never_better_than_not_known(values):
    assert severity(WarmHours(None, *values[1:])) >= SAYS.index("not_known")


def test_no_hours_at_all_are_not_known_and_say_so():
    said, hits = rung(WarmHours())
    assert said == "not_known" and [hit.rung.rule for hit in hits] == ["W11"] and "{" not in hits[0].text
    said, hits = rung(WarmHours(c40=9.0))
    assert said == "no" and {hit.rung.rule for hit in hits} >= {"W7", "W11"}


def test_the_whole_is_at_least_its_parts():
    assert rung(WarmHours(1.0, 0.0, 0.0, 13.0, 0.0))[0] == "no"
    assert WarmHours(1.0, 2.0).filled() == {"h": 2.0, "hs": 2.0, "f48": 2.0, "c54": 2.0, "c40": 2.0}
    assert WarmHours(None, 2.0).filled() == {"h": 2.0, "hs": 2.0, "f48": 0.0, "c54": 0.0, "c40": 0.0}


@pytest.mark.parametrize("name", COUNTS)
def test_hours_that_cannot_be_are_refused_by_name(name):
    with pytest.raises(ValueError, match=name):
        WarmHours(**{name: -0.1})


def test_not_a_number_is_not_known():
    assert rung(WarmHours(math.nan)) == rung(WarmHours()) and WarmHours(3.0, math.nan).filled()["hs"] == 3.0


def test_texts_show_hours_rounded_up_and_say_why():
    said, hits = rung(WarmHours(9.01, 6.01, 8.01, 4.01, 2.01))
    texts = {hit.rung.rule: hit.text for hit in hits}
    assert said == "no" and "8.1 h" in texts["W8"] and "6.1 h" in texts["W2"] and "2.1 h" in texts["W4"]
    assert "countless h" in rung(WarmHours(math.inf))[1][0].text


def test_every_row_is_whole_gives_both_scales_and_a_reason():
    for row in ladder.ladder():
        assert row.says in SAYS and row.source.title and (not row.also_source_id or tables.source(row.also_source_id))
        assert (row.count in COUNTS) == (row.above_hours is not None) and row.basis in ("S", "J", "S and J")
        assert (row.basis == "J") == (row.source_id == "judgement") == (row.how == "memory")
        assert row.text.count("°C") == row.text.count("°F")
        if row.says in ("not_known", "no"):
            assert "Spores" in row.text or "eat does not undo" in row.text or "not undo" in row.text, row.rule
            assert ("Do not eat" in row.text) == (row.says == "no"), row.rule
    assert {row.rule for row in ladder.ladder()} == {f"W{number}" for number in range(13)}


def test_the_cautious_end_is_an_order_statistic_of_each_count():
    members = WarmCounts(*(np.arange(200.0) for _ in range(5)))
    assert ladder.upper_hours(members).h == 195.0  # the value that 97.5 % of the members do not pass
    course = ladder.upper_course(WarmCounts(*(np.arange(200.0)[:, None] * [0.0, 1.0] for _ in range(5))))
    assert course.c40.tolist() == [0.0, 195.0]


@pytest.mark.parametrize(
    ("given_pause", "says"),
    [
        ({"hours": 9.0, "air_temperature": 20.0}, "no"),
        ({"hours": 9.0}, "no"),
        ({"hours": 9.0, "air_temperature": 4.0, "covered": True}, "silent"),
        ({"hours": 9.0, "air_temperature": 4.0, "covered": None}, "no"),
        ({"hours": 9.0, "air_temperature": 20.0, "water_activity": 0.80}, "silent"),
        ({"hours": 2.0, "air_temperature": 20.0}, "caution"),
        ({"hours": 0.2, "air_temperature": 20.0}, "silent"),
        ({"hours": None, "air_temperature": 20.0}, "not_known"),
    ],
)
def test_a_pause_by_itself(given_pause, says):
    assert rung(pause(**given_pause))[0] == says


def test_stretches_add_up_and_not_known_stays_not_known():
    both = WarmHours(1.0, 1.0, 1.0, 0.0, 0.0).plus(pause(1.5, 20.0))
    assert both == WarmHours(2.5, 2.5, 2.5, 1.5, 1.5)
    assert both.plus(WarmHours(1.0)) == WarmHours(3.5, 3.5, 3.5, 2.5, 2.5)
    unsure = both.plus(pause(None, 20.0))
    assert unsure.unsure and rung(unsure)[0] == "not_known" and not both.unsure


@given(maybe, maybe)
def test_a_stretch_on_top_is_never_milder(one, other):
    one, other = WarmHours(*one), WarmHours(*other)
    assert severity(one.plus(other)) >= max(severity(one), severity(other))


ELAPSED = np.linspace(0.0, 30.0, 61)


def steady(flesh=30.0, air=60.0, activity=0.98):
    flat = (np.full(ELAPSED.size, value) for value in (flesh, air, activity))
    return warm_course(3600.0 * ELAPSED, *flat)


@pytest.mark.parametrize(
    ("flesh", "air", "activity", "caution_until", "no_after"),
    [
        (30.0, 60.0, 0.98, 6.0, 8.0),  # moist and below 48 °C
        (50.0, 60.0, 0.98, 6.0, 12.0),  # too warm for Staphylococcus, not for spores
        (50.0, 60.0, 0.90, 12.0, 24.0),
        (30.0, 35.0, 0.98, 2.0, 4.0),
        (50.0, 52.0, 0.90, 4.0, 12.0),
        (60.0, 70.0, 0.98, math.inf, math.inf),
        (30.0, 35.0, 0.80, math.inf, math.inf),
    ],
)
def test_deadlines_of_a_steady_dryer(flesh, air, activity, caution_until, no_after):
    found = deadlines(ELAPSED, steady(flesh, air, activity))
    assert (found.caution_until, found.no_after) == (pytest.approx(caution_until), pytest.approx(no_after))
    assert found.followed == 30.0


def test_time_on_the_bench_is_taken_off_the_deadline():
    course = steady(30.0, 35.0)
    later = deadlines(ELAPSED, course)
    sooner = deadlines(ELAPSED, course, pause(0.5, 20.0))
    assert sooner.caution_until == pytest.approx(later.caution_until - 0.5)
    assert deadlines(ELAPSED, course, pause(0.5, 4.0, covered=True)) == later
    spent = deadlines(ELAPSED, course, pause(3.0, 20.0))
    assert spent.caution_until == -math.inf and spent.no_after == pytest.approx(1.0)
    unknown = deadlines(ELAPSED, course, pause(None, 20.0))
    assert unknown.caution_until == -math.inf and unknown.no_after <= later.no_after


paths = st.lists(
    st.tuples(st.floats(5, 70), st.floats(5, 75), st.floats(0.8, 1.0)), min_size=2, max_size=12
)  # one point each 2 h


@settings(deadline=None, max_examples=150)
@given(paths, st.floats(0, 3), st.floats(0.001, 0.999))
def test_deadlines_agree_with_the_ladder(path, bench, share):
    elapsed = 2.0 * np.arange(len(path))
    course = warm_course(3600.0 * elapsed, *np.array(path).T)
    # the course itself is followed on straight lines between its moments, as the deadlines are
    before = pause(bench, 20.0)
    found = deadlines(elapsed, course, before)
    moment = share * elapsed[-1]
    says = severity(hours_at(elapsed, course, moment).plus(before))
    if abs(moment - found.caution_until) > 1e-6:
        assert (says <= SAYS.index("caution")) == (moment < found.caution_until)
    if abs(moment - found.no_after) > 1e-6:
        assert (says < SAYS.index("no")) == (moment < found.no_after)
    assert found.caution_until <= found.no_after


@settings(deadline=None, max_examples=100)
@given(paths, st.floats(0, 3), st.floats(0, 3))
def test_more_hours_before_never_move_a_deadline_later(path, one, more):
    elapsed = 2.0 * np.arange(len(path))
    course = warm_course(3600.0 * elapsed, *np.array(path).T)
    first, second = (deadlines(elapsed, course, pause(hours, 20.0)) for hours in (one, one + more))
    assert second.caution_until <= first.caution_until + 1e-9 and second.no_after <= first.no_after + 1e-9


def test_a_moment_outside_the_course_is_refused():
    with pytest.raises(ValueError, match="hours"):
        hours_at(ELAPSED, steady(), 31.0)
    with pytest.raises(ValueError, match="elapsed"):
        deadlines(ELAPSED[::-1], steady())
