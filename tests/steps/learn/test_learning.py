"""Learning from the scale: forecasts of the demo logs, robustness, safety, and what other readings teach."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from invented_batches import invent

from flakeyard.steps.intent.batch_file import load_batch, with_typed, without
from flakeyard.steps.judge import safety
from flakeyard.steps.learn import contradiction, learning, lessons
from flakeyard.steps.learn.logbook import read_log
from flakeyard.steps.learn.members import Members, Schedule, follow, schedule
from flakeyard.units import InputError

DEMO = Path(__file__).parents[3] / "data_demo"
NAMES = ("heron", "otter", "kingfisher")
HEAD = "hours,tray,mass_g,event,dial_c"


def demo(name):
    return load_batch(DEMO / f"{name}.toml"), read_log(DEMO / f"{name}-weighings.csv")


@pytest.fixture(scope="module")
def thick():
    """A batch of about ten hours, and one that "happened": weighed as laid and after 2, 4 and 6 h."""
    batch = with_typed(demo("heron")[0], "cut", thickness="8 mm", thinnest="7 mm", thickest="10 mm")
    batch = with_typed(with_typed(batch, "keep", pack="paper bag"), "dryer", temperature="63 °C")  # a jar takes a day
    return batch, invent(batch, 3, (0, 2, 4, 6), seed=29)[1]


@pytest.fixture(scope="module")
def prior(thick):
    batch, world = thick
    return learning.prior_course(batch, world.log, sketch=True)


def rows(world):
    return [(entry.hours, entry.tray, 1000 * entry.mass, "") for entry in world.log.weighings]


def log_of(weighings, extra=()):
    lines = [*weighings, *extra]
    told = [
        f"{row[0]},{row[1]},{row[2] if row[2] == '' else format(row[2], '.2f')},{row[3]},{row[4] if len(row) > 4 else ''}"
        for row in sorted(lines, key=lambda row: row[0])
    ]
    return read_log("\n".join([HEAD, *told, ""]))


def learned_from(thick, prior, log):
    return learning.learn(thick[0], log, prior=prior, sketch=True)


def near(one, other, share):
    return abs(one.mid / other.mid - 1) < share


@pytest.mark.parametrize("name", NAMES)
def test_demo_logs_sharpen_the_forecast(name):
    batch, log = demo(name)
    two = learning.learn(
        batch, log.until(log.moments[1]), sketch=name != "otter"
    )  # which may take longer than a sketch
    plan, now = two.plan.drying["hours_to_target"], two.hours_to_target
    assert two.contradiction is None
    assert now.low < now.mid < now.high
    assert np.log(now.high / now.low) < 0.6 * np.log(plan.high / plan.low)
    mass = two.target_mass_kg
    planned = two.plan.drying["target_mass_kg"]
    assert mass.high - mass.low < 1.1 * (planned.high - planned.low)  # what the fish is made of is still to be known
    assert sum(tray.mid for tray in two.target_tray_kg.values()) == pytest.approx(mass.mid, rel=0.01)
    assert two.next_weighing_h > log.moments[1]


def test_dictionary_has_the_keys_that_stay(thick, prior):
    told = learned_from(thick, prior, thick[1].log).as_dict()
    assert {"hours_to_target", "target_mass_kg", "learned", "next_weighing_h", "contradiction"} <= told.keys()
    assert (
        told["drying"].keys()
        == learning.learn(thick[0], thick[1].log.until(0), prior=prior, sketch=True).plan.drying.keys()
    )
    assert told["drying"]["hours_to_target"] == told["hours_to_target"]
    assert told["contradiction"] is None
    assert told["learned"]


def test_learning_is_repeatable(thick, prior):
    one, other = (learned_from(thick, prior, thick[1].log) for _ in range(2))
    assert one.as_dict() == other.as_dict()


def test_no_weighing_leaves_the_plan(thick, prior):
    laid = learned_from(thick, prior, log_of([(0, "1", 300.0, "")]))
    plan = laid.plan.drying["hours_to_target"]
    assert near(laid.hours_to_target, plan, 0.05)
    assert any("No weighing" in line for line in laid.learned)


def test_weights_on_the_plan_teach_no_other_pace(thick, prior):
    """Weights exactly as the median member would give them."""
    laid = 1000 * np.median(prior.mass) / 5
    curve = [(hour, float(np.median(prior.at(np.array([hour]), False)))) for hour in (0.0, 2.0, 4.0, 6.0)]
    told = learned_from(
        thick, prior, log_of([(hour, str(tray), laid * left, "") for hour, left in curve for tray in range(1, 6)])
    )
    assert told.pace.low < 1.0 < told.pace.high
    assert told.pace.mid == pytest.approx(1.0, abs=0.1)
    assert "about as long as planned" in told.learned[0]


def test_a_slower_dryer_is_noticed_and_said(thick, prior):
    laid = 1000 * np.median(prior.mass) / 5
    curve = [(hour, float(np.median(prior.at(np.array([hour / 1.5]), False)))) for hour in (0.0, 2.0, 4.0, 6.0)]
    told = learned_from(
        thick, prior, log_of([(hour, str(tray), laid * left, "") for hour, left in curve for tray in range(1, 6)])
    )
    assert told.pace.low > 1.15
    assert "times as long as planned" in told.learned[0]
    assert "cannot tell these apart" in told.learned[1]


def test_one_wild_weighing_is_set_aside(thick, prior):
    plain = learned_from(thick, prior, thick[1].log)
    wild = learned_from(
        thick, prior, log_of([(h, t, m * (0.9 if (h, t) == (4.0, "2") else 1), e) for h, t, m, e in rows(thick[1])])
    )
    assert [(entry.hours, entry.tray) for entry in wild.set_aside] == [(4.0, "2")]
    assert near(wild.hours_to_target, plain.hours_to_target, 0.05)
    assert any("set aside: weigh again" in line for line in wild.learned)


def test_trays_taken_for_each_other(thick, prior):
    plain = learned_from(thick, prior, thick[1].log)
    at_four = {tray: mass for hours, tray, mass, _ in rows(thick[1]) if hours == 4.0}
    other = {"2": "5", "5": "2"}
    swapped = log_of([(h, t, at_four[other[t]] if h == 4.0 and t in other else m, e) for h, t, m, e in rows(thick[1])])
    told = learned_from(thick, prior, swapped)
    assert near(told.hours_to_target, plain.hours_to_target, 0.05)
    assert any("Trays 2 and 5 may have been taken for each other" in line for line in told.learned)


def test_a_scale_that_reads_three_per_cent_low(thick, prior):
    plain = learned_from(thick, prior, thick[1].log)
    low = learned_from(thick, prior, log_of([(h, t, 0.97 * m, e) for h, t, m, e in rows(thick[1])]))
    assert low.contradiction is None
    assert near(low.hours_to_target, plain.hours_to_target, 0.10)
    assert low.target_mass_kg.mid == pytest.approx(0.97 * plain.target_mass_kg.mid, rel=0.03)


def test_a_pause_that_was_noted_only_moves_the_clock(thick, prior):
    plain = learned_from(thick, prior, thick[1].log)
    later = [(h + 2 * (h >= 4), t, m, e) for h, t, m, e in rows(thick[1])]
    paused = learning.learn(thick[0], log_of(later, [(3.0, "", "", "pause"), (5.0, "", "", "go on")]), sketch=True)
    assert paused.hours_to_target.mid == pytest.approx(plain.hours_to_target.mid + 2, abs=1e-6)
    clock, warm = (f"hours_flesh_{name}" for name in ("10_to_57_c", "above_21_c"))
    for name in (clock, warm):
        assert paused.outcome.drying[name].mid == pytest.approx(plain.outcome.drying[name].mid + 2, abs=1e-6)
    cold = learning.learn(thick[0], log_of(later, [(3.0, "", "", "pause cold"), (5.0, "", "", "go on")]), sketch=True)
    assert cold.outcome.drying[clock].mid == pytest.approx(plain.outcome.drying[clock].mid, abs=1e-6)


def test_a_pause_that_was_not_noted_is_asked_about(thick, prior):
    """A night without heat, not in the log: no steady dryer gives such weights, and that is said."""
    told = learned_from(thick, prior, log_of([(h + 6 * (h >= 4), t, m, e) for h, t, m, e in rows(thick[1])]))
    assert "heater off" in told.contradiction
    assert told.hours_to_target.mid is None
    assert "drying.hours_to_target" in told.outcome.unknown


@pytest.mark.parametrize(
    ("weights", "word"),
    [
        ([(0.0, 311.0), (3.0, 305.0)], "heater off"),
        ([(0.0, 311.0), (0.5, 120.0)], "times faster"),
        ([(0.0, 560.0), (2.0, 500.0)], "tray itself"),
        ([(0.0, 311.0), (2.0, 230.0), (4.0, 190.0), (6.0, 189.0), (9.0, 188.0)], "steady dryer"),
    ],
)
def test_what_no_plan_can_explain_is_not_fitted(thick, prior, weights, word):
    told = learned_from(thick, prior, log_of([(h, str(tray), m, "") for h, m in weights for tray in range(1, 6)]))
    assert word in told.contradiction
    assert told.hours_to_target.as_dict() == {"low": None, "mid": None, "high": None}
    assert told.outcome.verdict.keep in ("not_known", "nowhere")
    assert told.outcome.verdict.eat in ("not_known", "no")


def test_a_dial_turned_at_hour_four(thick):
    """Another member's weights with the dial turned down, against that member's own finish in the cooler air."""
    batch, _ = thick
    cool = follow(batch, Schedule(dials=((0.0, 63.0), (4.0, 50.0))), Members(3, seed=29), sketch=True)
    laid = 1000 * cool.mass[1] / 5
    weights = [
        (h, str(t), laid * float(cool.at(np.array([h]), False)[1, 0]), "")
        for h in (0.0, 2.0, 4.0, 6.0, 8.0)
        for t in range(1, 6)
    ]
    told = learning.learn(batch, log_of(weights, [(0.0, "", "", "", 63), (4.0, "", "", "", 50)]), sketch=True)
    true = np.interp(-told.outcome.load.mass_ratio, -cool.pieces[-1, 1], cool.times) / 3600
    assert told.hours_to_target.low < true < told.hours_to_target.high
    warm = learning.learn(batch, log_of(weights[:15]), sketch=True)
    assert told.hours_to_target.mid > warm.hours_to_target.mid + 1.0


def test_a_dial_turned_to_where_it_was_changes_nothing():
    batch, _ = demo("heron")
    members = Members(5)
    still = follow(batch, Schedule(dials=((0.0, 63.0),)), members, sketch=True)
    turned = follow(batch, Schedule(dials=((0.0, 63.0), (3.0, 63.0))), members, sketch=True)
    np.testing.assert_allclose(turned.pieces, still.pieces, atol=1e-9)


def test_the_schedule_of_a_log():
    log = read_log(f"{HEAD}\n0,1,300,,60\n2,,,,50\n3,,,pause,\n5,,,go on,\n6,,,,50.2\n")
    happened = schedule(log, 63.0)
    assert happened.dials == ((0.0, 60.0), (2.0, 50.0))
    assert happened.pauses == ((3.0, 5.0, False),)
    np.testing.assert_allclose(happened.drying([2.0, 4.0, 7.0]), [2.0, 3.0, 5.0])
    np.testing.assert_allclose(happened.clock(happened.drying([1.0, 2.5, 5.5, 9.0])), [1.0, 2.5, 5.5, 9.0])
    assert happened.warm_pause == 2.0


def test_pieces_taken_out_do_not_look_like_drying(thick, prior):
    plain = learned_from(thick, prior, thick[1].log)
    left = [(h, t, m * (0.6 if t == "1" and h > 4 else 1), e) for h, t, m, e in rows(thick[1])]
    mass = next(m for h, t, m, _ in rows(thick[1]) if (h, t) == (4.0, "1"))
    told = learned_from(thick, prior, log_of([*left, (4.0, "1", 0.6 * mass, "taken out")]))
    assert near(told.hours_to_target, plain.hours_to_target, 0.05)
    assert told.target_tray_kg["1"].mid == pytest.approx(0.6 * plain.target_tray_kg["1"].mid, rel=0.03)


def test_begun_without_weighing(thick, prior):
    """Weighed first two hours into drying: less is known, nothing is refused."""
    plain = learned_from(thick, prior, thick[1].log)
    told = learned_from(thick, prior, log_of([row for row in rows(thick[1]) if row[0] > 0], [(0.0, "", "", "start")]))
    assert told.contradiction is None
    assert near(told.hours_to_target, plain.hours_to_target, 0.2)


def test_soaked_again_gives_no_weight_to_stop_at(thick, prior):
    at_six = [(t, m) for h, t, m, _ in rows(thick[1]) if h == 6.0]
    log = log_of(
        [
            *rows(thick[1]),
            *((7.0, t, 1.2 * m, "freshened") for t, m in at_six),
            *((9.0, t, 0.98 * m, "") for t, m in at_six),
        ]
    )
    told = learning.learn(thick[0], log, sketch=True)
    assert told.target_mass_kg.mid is None
    assert told.target_tray_kg == {}
    assert {"drying.target_mass_kg", "drying.mass_ratio", "dried.water_activity"} <= set(told.outcome.unknown)
    assert told.outcome.verdict.keep in ("not_known", "nowhere")
    assert np.all(told.hours >= 7.0)


@pytest.mark.parametrize("name", NAMES)
def test_a_verdict_is_never_milder_than_the_plan(name):
    batch, log = demo(name)
    for hours in (0.0, log.moments[1], log.last):
        told = learning.learn(batch, log.until(hours), members=60, sketch=True)
        for part, order in (("keep", safety.KEEP), ("eat", safety.EAT)):
            assert order.index(getattr(told.outcome.verdict, part)) >= order.index(getattr(told.plan.verdict, part))
        days = (told.plan.keep.days, told.outcome.keep.days)
        assert days[1] is None or days[1] <= days[0]


def test_a_fast_log_does_not_undo_a_clock_that_the_plan_fears():
    """Dried raw: the plan's clock says no; weights that fall fast do not turn it into a yes."""
    batch, _ = demo("kingfisher")
    batch = without(batch, "heat")
    quick = learning.prior_course(batch, log_of([(0.0, "1", 300.0, "")]), sketch=True)
    fast = np.argsort(quick.finish[-1])[10]
    weights = [(h, "1", 300.0 * float(quick.at(np.array([h]), False)[fast, 0]), "") for h in (0.0, 1.0, 2.0)]
    told = learning.learn(batch, log_of(weights), prior=quick, sketch=True)
    assert told.plan.verdict.eat == "no"
    assert told.outcome.verdict.eat == "no"
    assert told.outcome.drying["hours_flesh_10_to_57_c"].high < told.plan.drying["hours_flesh_10_to_57_c"].high


def test_the_thickest_piece_by_itself_is_a_row_of_its_own(thick):
    batch, _ = thick
    world = invent(batch, 3, (0, 2, 4, 6), seed=7, thickest=True)[0]
    with_piece = learning.learn(batch, world.log, sketch=True)
    without = learning.learn(batch, log_of([row for row in rows(world) if row[1] != "thickest"]), sketch=True)
    width = [np.log(one.hours_to_target.high / one.hours_to_target.low) for one in (with_piece, without)]
    assert width[0] < width[1]
    assert with_piece.target_tray_kg["thickest"].mid == pytest.approx(
        0.06 * with_piece.outcome.drying["mass_ratio"].mid, rel=0.03
    )
    assert any("cannot show its thickest piece" in line for line in without.learned)


def test_a_tray_in_a_bad_place_is_named(thick, prior):
    laid = 1000 * np.median(prior.mass) / 5
    pace = {"1": 1.0, "2": 1.0, "3": 0.75, "4": 1.0, "5": 1.0}
    weights = [
        (h, t, laid * float(np.median(prior.at(np.array([h * p]), False))), "")
        for h in (0.0, 2.0, 4.0, 6.0)
        for t, p in pace.items()
    ]
    told = learned_from(thick, prior, log_of(weights))
    assert min(told.trays, key=lambda tray: told.trays[tray].mid) == "3"
    assert any(line.startswith("Tray 3 dries about") and "slower" in line for line in told.learned)


HEAD_MORE = "hours,tray,mass_g,strip_salt_percent,taste_salt_percent,oven_dry_g,water_activity,water_activity_error"


def test_a_strip_teaches_salt_and_a_taste_nothing(thick, prior):
    batch, _ = thick
    said = float(np.median(prior.outcome.cured.water_phase_salt))
    told = [
        learning.learn(batch, read_log(f"{HEAD_MORE}\n-1,,,{cells},,,\n0,1,300,,,,,\n"), prior=prior, sketch=True)
        for cells in (f"{130 * said:.2f},", f",{130 * said:.2f}")
    ]
    salts = [one.outcome.salted["water_phase_salt"] for one in told]
    before = prior.outcome.salted["water_phase_salt"]
    assert salts[1].mid == pytest.approx(said) and said < salts[0].mid < 1.3 * said * 1.02
    assert salts[0].high - salts[0].low < before.high - before.low
    assert any("Salt in the water of the fish" in line for line in told[0].learned)


def test_an_oven_dried_piece_teaches_its_water(thick, prior):
    batch, world = thick
    text = f"{HEAD_MORE}\n" + "\n".join(f"{h},{t},{m:.2f},,,,," for h, t, m, _ in rows(world))
    wet = learning.learn(batch, read_log(text + "\n6,2,20,,,12,,\n"), prior=prior, sketch=True)
    dry = learning.learn(batch, read_log(text + "\n6,2,20,,,13.4,,\n"), prior=prior, sketch=True)
    assert wet.outcome.cured.flesh.water.mean() > dry.outcome.cured.flesh.water.mean()
    assert any("oven-dried" in line for line in dry.learned)


def test_a_meter_on_the_thickest_piece_stands_in_the_verdict(thick, prior):
    batch, world = with_typed(thick[0], "keep", measured_by="laboratory", target_moisture=37), thick[1]
    text = f"{HEAD_MORE}\n" + "\n".join(f"{h},{t},{m:.2f},,,,," for h, t, m, _ in rows(world))
    told = learning.learn(batch, read_log(text + "\n9,thickest,,,,,0.80,0.01\n"), sketch=True)
    assert told.outcome.verdict.water_activity_used == pytest.approx(0.81)
    untold = learning.learn(
        with_typed(batch, "keep", measured_by=None), read_log(text + "\n9,thickest,,,,,0.80,0.01\n"), sketch=True
    )
    assert untold.outcome.verdict.water_activity_used == pytest.approx(0.85)  # as from a household hygrometer
    assert "measured_by" in untold.outcome.unknown
    other = learning.learn(batch, read_log(text + "\n9,2,,,,,0.80,0.01\n"), sketch=True)
    assert other.outcome.verdict.water_activity_used != pytest.approx(0.81)
    estimates = [one.dried["water_activity"] for one in (other.outcome, other.plan)]
    assert estimates[0].high - estimates[0].low < estimates[1].high - estimates[1].low


def test_forecasts_narrow_from_weighing_to_weighing():
    batch, log = demo("kingfisher")
    made = [(hours, learning.learn(batch, log.until(hours), members=100, sketch=True)) for hours in (0.0, *log.moments)]
    wide = [one.hours_to_target.high / one.hours_to_target.low for _, one in made]  # the hours themselves may move up
    assert max(wide[2:]) < wide[1] < wide[0]


def test_what_to_change_next_time_is_ranked(thick, prior):
    batch, world = thick
    told = lessons.changes(batch, learned_from(thick, prior, world.log))
    saved = [change.saved for change in told]
    assert saved == sorted(saved, reverse=True)
    assert "thinner" in told[0].what
    assert any("half as much fish" in change.what for change in told)


def test_a_thinner_cut_that_no_longer_lies_side_by_side_is_told_with_less_fish():
    heron = demo("heron")[0]
    loads = [replace(heron, fish=replace(heron.fish, raw_weight=kilograms)) for kilograms in (0.9, 1.8)]
    ideas = [dict(lessons._ideas(load)) for load in loads]
    assert [next(iter(idea)).endswith("less fish") for idea in ideas] == [False, True]
    for idea, kilograms in zip(ideas, (0.9, 1.35)):
        assert next(iter(idea.values())).fish.raw_weight == pytest.approx(kilograms)


@pytest.mark.parametrize(
    ("speed", "words"),
    [
        (1.0, "about as fast as planned"), (0.91, "about a tenth slower than planned"), (0.8, "about a fifth slower than planned"),
        (0.667, "about a third slower than planned"), (0.5, "about half as fast as planned"), (2.0, "about twice as fast as planned"),
        (1.25, "about a fifth faster than planned"), (0.2, "about 5.0 times slower than planned"),
    ],
)  # fmt: skip
def test_how_fast_in_words(speed, words):
    assert lessons.how_fast(speed) == words


def test_a_batch_does_not_count_twice(thick, prior):
    told = learned_from(thick, prior, thick[1].log)
    with pytest.raises(InputError, match="count twice"):
        learning.learn(thick[0], thick[1].log, profile=told.profile("box"), sketch=True)


@pytest.mark.parametrize("free", [1, 2, 3, 8, 25, 120])
def test_a_log_is_not_believed_by_the_tail_of_chi_squared(free):
    from scipy.stats import chi2

    for off in (0.0, 0.3, 4.0, 30.0, 200.0, np.inf):
        assert contradiction.chance_beyond(off, free) == pytest.approx(chi2.sf(off, free), rel=1e-11)
    assert contradiction.unbelievable(free) == pytest.approx(chi2.isf(contradiction.BEYOND, free), rel=1e-11)
    assert np.isnan(contradiction.chance_beyond(np.nan, free))
