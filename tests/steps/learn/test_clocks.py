"""Warm hours and deadlines, from the plan through the log: what a plan promises for a deadline, a log that keeps it gets."""

from dataclasses import replace

import numpy as np
import pytest

from flakeyard.steps.intent.batch_file import with_typed
from flakeyard.steps.judge.safety import EAT, KEEP
from flakeyard.steps.learn import lessons
from flakeyard.steps.learn.clocks import seen_done
from flakeyard.steps.learn.learning import learn
from flakeyard.steps.learn.logbook import read_log
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook.own import demo_batch

HERON = with_typed(demo_batch("heron"), "keep", pack="paper bag")  # so that it need not be dried as far as for a jar
WORDS = {"no": 3, "not_known": 2, "caution": 0}


def at_dial(temperature: float):
    return replace(HERON, dryer=replace(HERON.dryer, temperature=float(temperature)))


@pytest.fixture(scope="module")
def cool():
    """Heron at a dial of 62 °C: the plan's upper end is past a limit, most batches are not."""
    return plan(at_dial(62))


@pytest.mark.parametrize(
    ("dial", "mildest"),
    [*((dial, "no") for dial in (25, 30, 35, 40, 45, 50)), (55, "no"), (60, "not_known"), (65, "not_known"), (70, "ready"), (75, "ready")],
)  # fmt: skip
def test_heron_at_every_dial(dial, mildest):
    """The ladder of warm hours: 8 mm of heated fish in lukewarm air is not for eating (warm_ladder.csv)."""
    verdict = plan(at_dial(dial)).verdict
    assert EAT.index(verdict.eat) >= EAT.index(mildest) and (mildest != "no" or verdict.keep == "nowhere")
    assert mildest != "ready" or verdict.eat == "ready"


def log_done_at(outcome, done: float, last: float = 1.03):
    """Weighings of the marked piece of a batch that follows the middle of a plan, done at some hour."""
    times, piece = outcome.load.result.times / 3600, np.median(outcome.load.result.mass_ratio[-200:], axis=0)
    planned = np.interp(-outcome.drying["mass_ratio"].mid, -piece, times)
    rows = [f"{hour:.3f},thickest,{500 * np.interp(hour * planned / done, times, piece):.2f}" for hour in np.linspace(0, last * done, 7)]  # fmt: skip
    return read_log("\n".join(["hours,tray,mass_g", *rows]))


def down_to(outcome, learned, done: float) -> float:
    """Hours at which the pieces of `log_done_at` weigh what the log asks for: a per cent less, it may be, than the plan."""
    times, piece = outcome.load.result.times / 3600, np.median(outcome.load.result.mass_ratio[-200:], axis=0)
    planned, asked = (np.interp(-one.drying["mass_ratio"].mid, -piece, times) for one in (outcome, learned.outcome))
    return done * asked / planned


def test_a_plan_past_a_limit_at_its_upper_end_gives_a_deadline_and_its_chance(cool):
    first, *later = cool.verdict.by
    assert cool.verdict.eat == "not_known" and first.eat == "ready" and 0.2 < first.chance < 0.8
    bench = cool.batch.heat.bench_hours
    assert first.chance == pytest.approx(np.mean(cool.load.hours <= first.hours - bench))
    assert [EAT.index(one.eat) for one in (first, *later)] == sorted(EAT.index(one.eat) for one in (first, *later))
    assert later[-1].hours is None and later[-1].chance == 1.0


@pytest.mark.parametrize(("share", "eat"), [(0.93, "ready"), (1.15, "not_known"), (1.4, "no")])
def test_a_log_that_keeps_the_deadline_gets_what_was_promised_and_one_that_misses_it_does_not(cool, share, eat):
    deadline = cool.verdict.by[0].hours - cool.batch.heat.bench_hours
    learned = learn(cool.batch, log_done_at(cool, share * deadline, 1.12))
    assert learned.contradiction is None and learned.outcome.verdict.eat == eat
    assert learned.hours_to_target.mid == pytest.approx(down_to(cool, learned, share * deadline), rel=0.03)
    assert learned.hours_to_target.width < 0.11 * share * deadline + 0.1  # h: as sure as clock, scale and course


def test_what_was_seen_done_is_read_between_two_weighings():
    log = read_log("hours,tray,mass_g\n0,thickest,100\n4,thickest,70\n6,thickest,50\n")
    assert seen_done(log, 0.6) == pytest.approx(5.0) and seen_done(log, 0.4) is None
    assert seen_done(read_log("hours,tray,mass_g\n0,1,100\n6,1,50\n"), 0.6) is None


def paused(hours: float, event: str = "pause"):
    rows = ["hours,tray,mass_g,event", "0,1,322,", "0,2,321,", "2,1,240,", "2,2,239,"]
    rows += [f"2.2,,,{event}", f"{2.2 + hours},,,go on", f"{4 + hours},1,200,", f"{4 + hours},2,199,"]
    return learn(replace(HERON, dryer=replace(HERON.dryer, trays=2), fish=replace(HERON.fish, raw_weight=0.72)), read_log("\n".join(rows)))  # fmt: skip


@pytest.fixture(scope="module")
def pauses():
    return {hours: paused(hours).outcome for hours in (1, 3, 9, 48)}


def test_a_longer_pause_in_the_room_is_never_milder_and_nine_hours_are_too_long(pauses):
    verdicts = [outcome.verdict for outcome in pauses.values()]
    assert [EAT.index(one.eat) for one in verdicts] == sorted(EAT.index(one.eat) for one in verdicts)
    assert [KEEP.index(one.keep) for one in verdicts] == sorted(KEEP.index(one.keep) for one in verdicts)
    assert pauses[9].verdict.eat == pauses[48].verdict.eat == "no"
    assert EAT.index(pauses[3].verdict.eat) >= EAT.index("not_known")


def test_reasons_and_cautions_tell_the_newest_hours(pauses):
    told = " ".join(one.text for one in (*pauses[48].verdict.reasons, *pauses[48].verdict.cautions))
    hours = np.quantile(pauses[48].load.taken_off.h, 0.975, method="higher") + HERON.heat.bench_hours
    assert f"{np.ceil(10 * hours - 1e-6) / 10:g} h" in told and hours > 48


def test_a_pause_in_the_refrigerator_adds_no_warm_hours(pauses):
    cold, short = (paused(hours, "pause cold").outcome for hours in (9, 0.01))
    assert cold.verdict.eat == short.verdict.eat != "no" and np.max(cold.load.taken_off.c40) < 1.0
    assert np.max(pauses[9].load.taken_off.c40) >= 9.0


def test_a_log_may_not_make_milder_what_no_clock_decides(cool):
    ungutted = replace(cool.batch, fish=replace(cool.batch.fish, gutted=False))
    learned = learn(ungutted, log_done_at(cool, 4.5))
    assert (learned.outcome.verdict.keep, learned.outcome.verdict.eat) == ("nowhere", "no")


def test_a_log_that_cannot_be_followed_counts_at_least_the_hours_that_passed(cool):
    """Fish that has lost next to nothing after 30 h is refused as a forecast; its warm hours are those of 30 h all the same."""
    rows = [f"{hour},thickest,{grams}" for hour, grams in ((0, 100), (2, 99.5), (10, 98.5), (30, 97))]
    learned = learn(cool.batch, read_log("\n".join(["hours,tray,mass_g", *rows])))
    counted = learned.outcome.load.taken_off
    assert learned.contradiction and np.all(learned.outcome.load.growth_hours == counted.h)
    assert np.all(counted.h >= cool.load.taken_off.h - 1e-9) and np.quantile(counted.h, 0.975) > 12.0
    assert learned.outcome.verdict.eat == "no"


def test_fish_that_loses_nothing_for_a_day_is_never_taken_for_dry(cool):
    """Its weight as laid is not set aside as a slip: then the rest would look like the flat end of a drying curve."""
    learned = learn(cool.batch, read_log("hours,tray,mass_g\n0,1,322\n2,1,320\n10,1,316\n30,1,311\n"))
    assert learned.contradiction and learned.outcome.verdict.eat == "no" and learned.hours_to_target.mid is None
    assert all(entry.hours > 0 for entry in learned.set_aside)


@pytest.mark.parametrize(("width", "form"), [(0.025, "strips"), (0.040, "strips"), (0.025, "fillets")])
def test_hours_go_with_the_power_of_the_thickness_that_is_told(width, form):
    """Of a small load at 63 °C, from 5 to 10 mm; computed anew with the present model."""
    heron = demo_batch("heron")
    batch = replace(
        heron, fish=replace(heron.fish, raw_weight=0.5), dryer=replace(heron.dryer, temperature=63.0),
        keep=replace(heron.keep, stop_at=0.45),
    )  # fmt: skip
    sizes = (0.005, 0.010)
    cuts = (replace(batch.cut, form=form, width=width, thinnest=one, thickness=one, thickest=one) for one in sizes)
    hours = [np.median(plan(replace(batch, cut=cut), members=20, sketch=True).load.hours) for cut in cuts]
    found = np.log(hours[1] / hours[0]) / np.log(2.0)
    assert found == pytest.approx(lessons.thickness_power(cuts_width(form, width)), abs=0.08)


def cuts_width(form: str, width: float) -> float:
    return width if form == "strips" else np.inf
