"""When each step begins, until when the fish may be kept, and what has to be weighed out. Batches are invented."""

from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flakeyard.steps.intent.batch_file import load_batch
from flakeyard.steps.intent.records import Freshen, Heat, Ingredient, Portion, Rest, Soak
from flakeyard.steps.intent.spread import UNKNOWN, Band
from flakeyard.steps.judge.safety import Deadline
from flakeyard.steps.plan import timetable as times
from flakeyard.steps.plan.plan import plan
from flakeyard.units import InputError

DEMO = Path(__file__).parents[3] / "data_demo"
START = datetime(2026, 12, 5, 18, 0)
HERON = load_batch(DEMO / "heron.toml")
BANDS = st.lists(st.floats(0.5, 90.0), min_size=3, max_size=3).map(lambda hours: Band(*sorted(hours)))


def outcome_of(batch=HERON, hours=UNKNOWN, days=None):
    """What a timetable reads of a plan."""
    return SimpleNamespace(
        batch=batch,
        drying={"hours_to_target": hours},
        keep=SimpleNamespace(days=days),
        load=SimpleNamespace(no_drying=False),
    )


def at(moments, step):
    return next(moment.at for moment in moments if moment.step == step)


@given(
    soaks=st.lists(st.floats(60.0, 1e6), min_size=3, max_size=3),
    waters=st.lists(st.tuples(st.floats(60.0, 1e5), st.integers(1, 5)), max_size=3),
    heated=st.booleans(),
    hours=BANDS,
)
def test_the_timetable_runs_forward_and_each_step_begins_when_the_one_before_ends(soaks, waters, heated, hours):
    batch = replace(
        HERON,
        presoak=Soak(time=soaks[0], temperature=4.0), brine=Soak(time=soaks[1], temperature=4.0),
        rest=Rest(time=soaks[2], temperature=4.0), heat=Heat(core=74.0) if heated else None,
        freshen=tuple(Freshen(time=time, temperature=4.0, water=Portion(mass=3.0), changes=n) for time, n in waters),
    )  # fmt: skip
    moments = times.timetable(outcome_of(batch, hours))
    before = moments[: [moment.step for moment in moments].index("dry") + 1]
    for one, after in pairwise(before):
        assert after.at == one.at + one.lasts
    assert moments[0].at == 0.0 and [moment.at for moment in moments] == sorted(moment.at for moment in moments)
    soaked = sum(soaks) + sum(time * n for time, n in waters)
    assert at(moments, "dry") == pytest.approx(soaked + times.HEATING * heated)
    assert [moment.turn for moment in moments if moment.step == "freshen"] == [
        turn for _, n in waters for turn in range(1, n + 1)
    ]


@pytest.mark.parametrize("name", ["heron", "otter", "kingfisher"])
def test_the_drying_takes_the_hours_of_the_plan(name):
    outcome = plan(load_batch(DEMO / f"{name}.toml"), members=60)
    moments, hours = times.timetable(outcome), outcome.drying["hours_to_target"]
    for step, told in ((times.MAY_BE_DONE, hours.low), ("likely done", hours.mid), ("latest", hours.high)):
        assert at(moments, step) - at(moments, "dry") == pytest.approx(3600 * told)


def test_a_load_that_may_never_get_there_is_looked_at_and_has_no_end():
    moments = times.timetable(outcome_of())
    assert [moment.step for moment in moments[-2:]] == ["dry", times.NEVER]
    assert at(moments, times.NEVER) - at(moments, "dry") == times.FIRST_LOOK
    open_end = times.timetable(outcome_of(hours=Band(6.0, 9.0, None)))
    assert open_end[-1].step == "likely done"


@given(hours=BANDS, days=st.floats(0.0, 200.0))
def test_days_of_keeping_are_whole_and_counted_from_the_earliest_end(hours, days):
    outcome = outcome_of(hours=hours, days=days)
    done = START + timedelta(seconds=at(times.timetable(outcome), times.MAY_BE_DONE))
    last = times.last_day(outcome, START)
    assert last == done + timedelta(days=int(days)) and last - done <= timedelta(days=days)


def test_without_days_there_is_no_last_day():
    assert times.last_day(outcome_of(hours=Band(5.0, 6.0, 7.0)), START) is None


@pytest.mark.parametrize(
    ("seconds", "told"), [(0, "18:00"), (149, "18:00"), (151, "18:05"), (6 * 3600 + 3599, "01:00")]
)
def test_clocks_are_told_to_five_minutes(seconds, told):
    assert f"{times.clock(times.Moment('dry', seconds), START):%H:%M}" == told


@pytest.mark.parametrize(
    "typed", ["tomorrow", "18:00", "2026-13-01 18:00", "", "9999-12-31", "0001-01-01", "2200-01-01", "x" * 5000]
)
def test_a_start_that_is_no_date_is_refused_with_an_example(typed):
    with pytest.raises(InputError, match=r"start: .*2026-12-05 18:00"):
        times.read_start(typed)


def test_a_start_is_read_and_may_be_left_out():
    assert times.read_start(" 2026-12-05 18:00") == START and times.read_start(None) is None


def test_a_volume_of_salt_is_given_its_weight_and_a_weight_is_not():
    cup = Portion(volume=236.588e-6)
    rows = tuple(Ingredient(what=name, amount=cup) for name in ("flake salt", "table salt", "water"))
    weighed = Ingredient(what="table salt", amount=Portion(mass=0.1))
    batch = replace(HERON, brine=replace(HERON.brine, ingredients=(*rows, weighed)))
    flakes, table, water, mass = times.shopping(batch)
    assert flakes.weighs.low < flakes.weighs.mid < flakes.weighs.high < table.weighs.low
    assert np.isclose(table.weighs.mid, 0.29, rtol=0.1)  # usda_sr28: a tablespoon of table salt is 18 g, 16 in a cup
    assert water.weighs is None and mass.weighs is None and mass.amount == Portion(mass=0.1)


# ---- heating through, and deadlines by the clock

TROUT = plan(HERON, members=8).raw.flesh


@pytest.mark.parametrize("way", ["steam", "simmer", "boil", "covered_dish"])
def test_minutes_to_plan_are_whole_at_the_slow_end_and_rise_with_thickness_and_height(way):
    minutes = [times.minutes_to_plan(way, size / 1000, 2, TROUT) for size in (4, 6, 9, 12, 15, 20)]
    assert minutes == sorted(minutes) and all(isinstance(one, int) for one in minutes)
    assert times.minutes_to_plan(way, 0.015, 2, TROUT, 3000.0) >= times.minutes_to_plan(way, 0.015, 2, TROUT)
    assert way in ("boil", "simmer") or times.minutes_to_plan(way, 0.012, 2, TROUT, 3000.0) > times.minutes_to_plan(
        way, 0.012, 2, TROUT
    )
    assert times.minutes_to_plan(way, 0.010, 1, TROUT) == times.minutes_to_plan(way, 0.020, 2, TROUT)
    assert times.minutes_to_plan(way, 0.002, 2, TROUT) == times.minutes_to_plan(way, 0.004, 2, TROUT)


def test_simmering_takes_the_published_five_minutes_at_least():
    """jerky_boil_text (read): boil strips for 5 minutes, longer above a quarter inch."""
    assert [times.minutes_to_plan("simmer", size / 1000, 2, TROUT) for size in (4, 6, 8)] == [5, 5, 5]
    assert times.minutes_to_plan("boil", 0.012, 2, TROUT) > 5 and times.minutes_to_plan("simmer", 0.009, 2, TROUT) > 5
    assert times.minutes_to_plan("steam", 0.006, 2, TROUT) == 2  # heating_through_computed: 0.7 to 1.8 min


def test_no_time_is_told_for_an_open_oven_or_thicker_than_computed():
    assert times.minutes_to_plan("open_oven", 0.006, 2, TROUT) is None
    assert times.minutes_to_plan("steam", 0.021, 2, TROUT) is None
    assert times.minutes_to_plan("steam", 0.011, 1, TROUT) is None


def test_a_deadline_counts_from_the_probe_reading_and_is_never_told_later_than_it_is():
    outcome = outcome_of(hours=Band(5.0, 6.0, 7.0))
    reading = times.since_heating(outcome)
    assert at(times.timetable(outcome), "dry") - reading == pytest.approx(600)  # to_tray = "10 min"
    assert times.deadline_at(outcome, Deadline(6.0, "ready", 0.5)) - reading == pytest.approx(6 * 3600)
    assert f"{times.early_clock(3600 + 299, START):%H:%M:%S}" == "19:00:00"
    assert f"{times.early_clock(3600 + 300, START):%H:%M:%S}" == "19:05:00"
