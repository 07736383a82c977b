"""What a log may and may not do: the weight to stop at, odd readings, the step of a scale, changes of pace, pooling."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flakeyard.steps.intent.batch_file import load_batch, with_typed
from flakeyard.steps.learn import evidence, fitting, learning, unnoted
from flakeyard.steps.learn.dryer_profile import KEPT, OTHER_DRYER, DryerProfile, pooled
from flakeyard.steps.learn.evidence import DRIFT, MARKED_LN_SD, believed, ln_finish, rows_of
from flakeyard.steps.learn.fitting import _between, fit
from flakeyard.steps.learn.log_course import step_of
from flakeyard.steps.learn.logbook import read_log
from flakeyard.steps.learn.members import Schedule
from flakeyard.units import InputError

HEAD = "hours,tray,mass_g,strip_salt_percent,taste_salt_percent,oven_dry_g"


@pytest.fixture(scope="module")
def heron():
    return load_batch(Path(__file__).parents[3] / "data_demo" / "heron.toml")


@pytest.fixture(scope="module")
def prior(heron):
    return learning.prior_course(heron, read_log(f"{HEAD}\n0,1,300,,,\n"), members=60, sketch=True)


def learned(heron, prior, rows):
    return learning.learn(heron, read_log("\n".join([HEAD, *rows, ""])), members=60, prior=prior, sketch=True)


def middle(prior, hours, thickest=True, pace=1.0):
    return float(np.median(prior.at(np.array([hours * pace]), thickest)))


@settings(max_examples=25, deadline=None)
@given(st.floats(0.4, 2.0), st.lists(st.floats(-0.08, 0.08), min_size=6, max_size=6), st.booleans(), st.booleans())
def test_no_weight_of_trays_or_pieces_moves_the_weight_to_stop_at(heron, prior, pace, off, trays, tasted):
    rows = ["0,thickest,30,,,", *(f"0,{n},310,,," for n in (1, 2) if trays), *(["1,,,,9," ] if tasted else [])]  # fmt: skip
    for hours, one, other in ((1.5, *off[:2]), (3.0, *off[2:4]), (4.5, *off[4:])):
        rows.append(f"{hours},thickest,{30 * min(middle(prior, hours, pace=pace) * np.exp(0.3 * one), 1):.2f},,,")
        tray = middle(prior, hours, False, pace)
        rows += [f"{hours},{n},{310 * min(tray * np.exp(0.3 * other), 1):.2f},,," for n in (1, 2) if trays]
    try:
        told = learned(heron, prior, sorted(rows, key=lambda row: float(row.split(",")[0])))
    except InputError:  # these weights gain too much to be a log at all
        return
    planned, now = (one.drying["mass_ratio"] for one in (told.plan, told.outcome))
    assert now.mid == planned.mid
    if told.contradiction is None:
        assert told.target_tray_kg["thickest"].high == pytest.approx(0.030 * planned.mid)
        assert not any("moved the weight to stop at" in line for line in told.learned)


def test_an_oven_dried_piece_may_move_it_and_then_it_is_said(heron, prior):
    rows = ["0,2,310,,,", f"3,2,{310 * middle(prior, 3, False):.1f},,,"]
    wet, dry = (learned(heron, prior, [*rows, f"3,2,20,,,{grams}"]) for grams in (6.5, 9.5))
    ratios = [one.outcome.drying["mass_ratio"].mid for one in (wet, wet.plan, dry) if hasattr(one, "outcome")]
    assert ratios[0] < ratios[-1]
    assert any("moved the weight to stop at" in line for line in (*wet.learned, *dry.learned))


@pytest.mark.parametrize("by", [None, "household hygrometer"])
def test_a_household_hygrometer_may_make_the_fish_moister_and_never_drier(heron, prior, by):
    """Without a laboratory or a checked meter a dry reading teaches nothing of the make-up, nor of the hours that hang on it."""
    batch = with_typed(heron, "keep", measured_by=by)
    prior = replace(prior, outcome=replace(prior.outcome, batch=batch))
    head, rows = (
        "hours,tray,mass_g,water_activity,water_activity_error",
        ["0,2,310,,", f"3,2,{310 * middle(prior, 3, False):.1f},,"],
    )

    def water(read):
        log = read_log("\n".join([head, *rows, *([f"3.1,2,,{read},0.01"] if read else []), ""]))
        return float(
            np.median(learning.learn(batch, log, members=60, prior=prior, sketch=True).outcome.cured.flesh.water[1])
        )

    assert water(0.30) == water(0.60) == water(None) < water(0.99)


def test_a_piece_seen_wet_is_not_done_before(heron, prior):
    rows = ["0,thickest,30,,,", *(f"{hours},thickest,{30 * middle(prior, 0.6 * hours):.1f},,," for hours in (3, 6, 8))]
    told = learned(heron, prior, rows)
    assert told.contradiction is None and np.all(told.hours >= 8.0)


@pytest.mark.parametrize(
    ("grams", "line"),
    [
        ((30, 24, 28, 15, 13), 3),  # the lighter of two that do not go together
        ((30, 24, 34, 15, 13), 4),  # heavier than as laid
        ((30, 24, 19, 15, 18), 5),
    ],
)
def test_one_odd_weight_of_the_marked_piece_is_set_aside_by_its_line(heron, prior, grams, line):
    rows = [f"{2 * number},thickest,{weight},,," for number, weight in enumerate(grams)]
    log = read_log("\n".join([HEAD, *rows, ""]))
    assert len(log.weighings) == 4 and {entry.line for entry in log.weighings} == {2, 3, 4, 5, 6} - {line}
    assert any(f"Line {line} (the marked piece, {grams[line - 2]} g)" in remark for remark in log.remarks)


def test_two_odd_weights_are_refused_still():
    rows = [f"{2 * number},thickest,{weight},,," for number, weight in enumerate((30, 24, 29, 15, 24, 12))]
    with pytest.raises(InputError, match="gained more than 2 %"):
        read_log("\n".join([HEAD, *rows, ""]))


def test_the_limit_knows_the_step_of_the_scale():
    grams = (300, 250, 255, 200, 180, 160)
    rows = [f"{2 * number},thickest,{weight},,," for number, weight in enumerate(grams)]
    assert step_of([weight / 1000 for weight in grams]) == 0.005
    assert len(read_log("\n".join([HEAD, *rows, ""])).weighings) == 6
    assert step_of([0.300, 0.252, 0.25, 0.2, 0.18, 0.16]) == 0.002
    assert step_of([0.3, 0.25]) == step_of([0.301, 0.25, 0.2, 0.2, 0.2, 0.2]) == 0.001
    coarse = rows_of(read_log("\n".join([HEAD, *rows, ""])), Schedule())
    assert coarse.scale[0] == pytest.approx(0.6 * 0.005)


def test_a_dial_turned_down_and_not_written_is_asked_about_with_its_time(heron, prior):
    """Hour by hour at the middle of the plan, from the third hour at a third of that pace."""
    hours = np.arange(0.0, 8.0)
    age = np.minimum(hours, 3.0) + 0.3 * np.maximum(hours - 3.0, 0.0)
    rows = [f"{hour:g},{n},{310 * middle(prior, a, False):.1f},,," for hour, a in zip(hours, age) for n in (1, 2, 3)]
    told = learned(heron, prior, rows)
    speed, since = told.changed
    assert 0.15 < speed < 0.7 and since == pytest.approx(3.0, abs=1.01)
    assert "slowed to about" in told.learned[0] and "dial" in told.learned[0]
    steady = learned(
        heron, prior, [f"{h:g},{n},{310 * middle(prior, h, False):.1f},,," for h in hours[:5] for n in (1, 2, 3)]
    )
    assert steady.changed is None


def test_a_change_of_pace_widens_the_band(heron, prior, monkeypatch):
    rows = [
        "0,1,310,,,",
        *(f"{h},1,{310 * middle(prior, a, False):.1f},,," for h, a in ((1, 1), (2, 2), (3, 2.2), (4, 2.4))),
    ]
    seen = rows_of(read_log("\n".join([HEAD, *rows, ""])), Schedule())
    monkeypatch.setattr("flakeyard.steps.learn.unnoted.CLEAR", 0.5)
    asked = fit(seen, prior)
    monkeypatch.setattr("flakeyard.steps.learn.unnoted.CLEAR", 50.0)
    steady = fit(seen, prior)
    assert asked.step is not None and steady.step is None and asked.variance > steady.variance
    assert unnoted.clearest_step(steady.lags, steady.finish).ln_pace < 0


def step_of_pace(prior, pace: float, paused: float = 0.0):
    """The clearest step in a log at the middle of the plan, whose pace changes after two hours and a pause."""
    ages = (0, 1, 2, *(2 + pace * hours for hours in (1, 2, 3)))
    clock = [hours + (paused if hours > 2 else 0) for hours in range(6)]
    rows = [f"{h:g},1,{310 * middle(prior, a, False):.1f},,," for h, a in zip(clock, ages, strict=True)]
    pauses = ((2.0, 2.0 + paused, True),) if paused else ()
    fitted = fit(rows_of(read_log("\n".join([HEAD, *rows, ""])), Schedule(pauses)), prior)
    return unnoted.clearest_step(fitted.lags, fitted.finish)


def test_a_quickening_must_be_clearer_than_a_slowing(prior, monkeypatch):
    slower, faster = (step_of_pace(prior, pace) for pace in (0.4, 2.0))
    assert slower.ln_pace < 0 < faster.ln_pace
    monkeypatch.setattr("flakeyard.steps.learn.unnoted.RARER", 0.0)
    assert step_of_pace(prior, 0.4).clear == slower.clear
    assert step_of_pace(prior, 2.0).clear > faster.clear


def test_after_a_pause_a_step_is_less_clear(prior):
    plain, paused = (step_of_pace(prior, 0.4, hours) for hours in (0.0, 7.0))
    assert paused.since == plain.since and paused.clear < plain.clear


def test_the_marked_piece_is_asked_for_first(heron, prior):
    rows = ["0,thickest,30,,,", "0,1,310,,,", f"2,thickest,{30 * middle(prior, 2):.1f},,,"]
    told = learned(heron, prior, rows)
    assert any("the marked piece first" in line for line in told.learned)
    assert told.next_weighing_h > 2.0


def test_groups_with_dryers_of_their_own_teach_less_than_one_shared_dryer():
    group = DryerProfile("one", ("a",), ("air speed", "thickness"), np.array([-1.0, 0.2]), np.diag([0.1, 0.8]))
    own, shared = (pooled([group] * 6, "class", shared) for shared in (False, True))
    assert shared.spread[0, 0] < own.spread[0, 0] < 1.0
    assert own.spread[0, 0] > 1 - KEPT["air speed"] * OTHER_DRYER - 1e-9
    assert shared.middle[0] < own.middle[0] < -0.3
    assert shared.middle[1] == pytest.approx(own.middle[1])  # knives are alike wherever they cut


def drifting(prior, per_hour, hours=(1.5, 3.0, 4.5), slower=1.0, names=("thickest", "1", "2")):
    """Rows of a log at the middle of the plan on a scale that creeps [g/h]; ``slower``: the marked piece by so much."""
    laid = {name: 30.0 if name == "thickest" else 310.0 for name in names}
    rows = [f"0,{name},{grams},,," for name, grams in laid.items()]
    for hour in hours:
        for name, grams in laid.items():
            own = middle(prior, hour / (slower if name == "thickest" else 1.0), name == "thickest")
            rows.append(f"{hour},{name},{grams * own + per_hour * hour:.2f},,,")
    return rows


def weighed(rows):
    return rows_of(read_log("\n".join([HEAD, *rows, ""])), Schedule())


@pytest.mark.parametrize("grams", [2.0, -2.0])
def test_a_scale_that_creeps_is_seen_where_a_piece_and_trays_are_weighed(heron, prior, grams):
    rows = believed(weighed(drifting(prior, grams)), prior)
    assert rows.drifted == pytest.approx(grams / 1000, rel=0.3) and rows.drift > 5 * DRIFT
    steady, creeping = (learned(heron, prior, drifting(prior, one)).hours_to_target for one in (0.0, grams))
    assert creeping.mid == pytest.approx(steady.mid, rel=0.1)
    assert np.log(creeping.high / creeping.low) > np.log(steady.high / steady.low)
    unseen = believed(weighed(drifting(prior, grams, names=("1", "2"))), prior)
    assert unseen.drifted == 0.0 and unseen.drift == DRIFT


def test_a_marked_piece_that_is_slower_than_its_trays_is_believed_to_be_another(prior):
    alike, other = (believed(weighed(drifting(prior, 0.0, slower=slower)), prior).marked for slower in (1.0, 1.6))
    assert MARKED_LN_SD < alike < other


@pytest.mark.parametrize("slower", [0.7, 1.0, 1.5])
def test_three_weighings_of_the_marked_piece_are_worth_more_than_half_of_the_band(heron, prior, slower):
    plan = learned(heron, prior, ["0,thickest,40,,,"]).hours_to_target  # as laid: that tells no hours
    rows = [
        f"{h},thickest,{40 * middle(prior, h / slower):.1f},,," for h in (0.0, *(slower * h for h in (2.0, 4.0, 6.0)))
    ]
    found = learned(heron, prior, rows).hours_to_target
    assert np.log(found.high / found.low) < 0.6 * np.log(plan.high / plan.low)
    assert max(found.high / found.mid, found.mid / found.low) < 1.4


def test_a_weighing_that_says_nothing_settles_nothing(prior):
    """The members count with all their spread until the scale knows something, and with less of it the more it knows."""
    rows = rows_of(read_log(f"{HEAD}\n0,thickest,30,,,\n3,thickest,{30 * middle(prior, 3):.2f},,,\n"), Schedule())
    plan = float(np.var(ln_finish(prior)))
    blunt, *_, sharp = (fit(replace(rows, scale=(kg, 0.0)), prior).variance for kg in (1.0, 0.003, 0.0003))
    assert blunt > 0.98 * plan > 2 * sharp
    assert _between(1.0, 1.0) == 1.0 and _between(0.1, 1.0) < 0.1


def test_a_piece_seen_done_is_no_surer_than_its_weighings(heron, prior):
    """What a scale of one gram says of a light piece leaves its hour more open than of a heavy one."""
    ratio, bands = prior.outcome.load.mass_ratio, []
    for grams in (30, 300):
        rows = [f"{h},thickest,{grams * middle(prior, h):.1f},,," for h in (0.0, 4.0, 8.0)]
        bands.append(learned(heron, prior, rows).hours_to_target)
    hour = next(hour for hour in np.arange(4.0, 8.0, 0.1) if middle(prior, hour) <= ratio)
    assert all(one.low < hour < one.high for one in bands)
    assert np.log(bands[0].high / bands[0].low) > np.log(bands[1].high / bands[1].low)


def test_fish_left_in_long_after_it_was_dry_is_not_refused(heron, prior):
    """Twice as fast as planned, and drier than the plan's fish ever gets so soon: that tells how dry it is, not how fast."""
    ages = {1: 2, 2: 5, 3: 18, 4: 24}
    rows = ["0,1,310,,,", *(f"{h},1,{310 * middle(prior, age, False):.1f},,," for h, age in ages.items())]
    told = learned(heron, prior, rows)
    assert told.contradiction is None and told.hours_to_target.high < 5.0


@pytest.mark.parametrize(
    ("dial", "room", "humidity", "least", "most"),
    [
        ("60 °C", "20 °C", 50, 0.040, 0.042),  # hot air takes up far more than it brings along
        ("20 °C", "14 °C", 50, 0.080, 0.105),
        ("20 °C", "14 °C", 65, 0.120, 0.150),
        ("20 °C", "19 °C", 99, 0.16, 0.17),  # it can hardly take up anything
    ],
)
def test_cool_air_that_comes_in_damp_lets_a_pace_wander(heron, dial, room, humidity, least, most):
    cool = with_typed(
        with_typed(heron, "dryer", temperature=dial), "room", temperature=room, relative_humidity=humidity
    )
    assert least < evidence.tempo_of(cool) < most


def test_a_late_weighing_does_not_see_most_of_the_dry_end():
    """The dry end's own error of the mean pace grows with the cube of the time: at four fifths of it little more than half is
    there."""
    end, late = (float(evidence.model_stretch(at, at, 10.0)) for at in (10.0, 8.0))
    bare_end, bare_late = (evidence.TEMPO_LN_SD**2 + evidence.WALK_LN_SD**2 * at / 10.0 for at in (10.0, 8.0))
    seen = np.sqrt((late - bare_late) / (end - bare_end))
    assert seen == pytest.approx(0.8**3) and seen < 0.55


def test_a_scales_drift_comes_to_rest():
    """Within some hours it is as large as it goes on at first; after days no larger than that of `DRIFT_LASTS` hours."""
    rows = rows_of(
        read_log("hours,tray,mass_g\n0,thickest,40\n1,thickest,39\n50,thickest,20\n90,thickest,19\n"), Schedule()
    )
    adrift = rows.adrift
    assert adrift[0] == 0.0 and adrift[1] == pytest.approx(1.0, abs=0.03)
    assert adrift[2] < adrift[3] < evidence.DRIFT_LASTS and adrift[3] - adrift[2] < 0.15 * 40.0


@pytest.mark.parametrize("pace", [0.7, 1.3])
def test_a_load_slower_than_planned_goes_on_slowing_and_a_quick_one_is_held_to_nothing(heron, prior, monkeypatch, pace):
    rows = [f"{h},thickest,{300 * middle(prior, h, pace=pace):.1f},,," for h in (0.0, 2.0, 4.0)]
    told = learned(heron, prior, rows).hours_to_target.mid
    monkeypatch.setattr(fitting, "SLOWING", 0.0)
    bare, planned = learned(heron, prior, rows).hours_to_target.mid, prior.outcome.drying["hours_to_target"].mid
    assert 1.0 < told / bare < (bare / planned) ** 0.5 if pace < 1 else told == bare
