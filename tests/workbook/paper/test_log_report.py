"""A log as text: the hours that really passed beside the deadlines, by the clock; what was, in words of what was."""

import re
from dataclasses import replace

import pytest
from test_kitchen import must

from flakeyard.steps.intent.batch_file import with_typed
from flakeyard.steps.intent.spread import UNKNOWN, exact
from flakeyard.steps.judge.warm_hours import WarmHours
from flakeyard.steps.learn.learning import learn
from flakeyard.steps.learn.logbook import read_log
from flakeyard.workbook import own, words
from flakeyard.workbook.paper import kitchen, log_text
from flakeyard.workbook.paper.kitchen import only_in_all, short
from flakeyard.workbook.paper.report import log_deadlines, log_report

HERON = own.demo_batch("heron")
THICK = with_typed(
    with_typed(HERON, "cut", thickness="8 mm", thinnest="7 mm", thickest="10 mm"), "keep", pack="paper bag"
)
ROWS = ((0.0, 40.0), (2.0, 32.0), (4.0, 27.0), (5.5, 23.5), (6.5, 21.0))


def learned(rows, batch=THICK, dated=True):
    """A log of the marked piece, 17:00 on a day, or in hours."""
    if dated:
        lines = [f"2026-11-20 {17 + int(hour):02d}:{int(60 * (hour % 1)):02d},thickest,{mass}" for hour, mass in rows]
        return learn(batch, read_log("time,tray,mass_g\n" + "\n".join(lines) + "\n"), members=60, sketch=True)
    lines = [f"{hour},thickest,{mass}" for hour, mass in rows]
    return learn(batch, read_log("hours,tray,mass_g\n" + "\n".join(lines) + "\n"), members=60, sketch=True)


@pytest.fixture(scope="module")
def on_its_way():
    return learned(ROWS[:3])


@pytest.fixture(scope="module")
def done():
    return learned(ROWS)


def test_deadlines_stand_with_the_hour_of_the_day_and_what_has_passed(on_its_way):
    by, told = on_its_way.outcome.verdict.by, log_deadlines(on_its_way)
    assert by[0].hours is not None and by[0].eat == "ready"
    hours = words.hours_words(by[0].hours)
    clock = re.search(rf"within {re.escape(hours)} \(2026-11-20 (\d\d):(\d\d)\) of the heating", told[0])
    late = 17 + by[0].hours - 10 / 60  # drying began at 17:00, ten minutes after the heating
    assert late - 5 / 60 - 1e-3 <= int(clock[1]) + int(clock[2]) / 60 <= late + 1e-3
    assert "such batches make" in told[0]
    assert told[-1] == "At the last row of the log 4 h 10 min had passed since the heating."


def test_a_log_in_hours_has_no_hour_of_the_day():
    told = log_deadlines(learned(ROWS[:3], dated=False))
    assert "(" not in told[0] and "4 h 10 min had passed" in told[-1]


def test_a_piece_seen_done_is_told_with_its_own_hours_and_no_chance(done):
    told = log_deadlines(done)
    assert "such batches" not in told[0]
    found = re.fullmatch(
        r"The marked piece was down to its stop weight (\d) h(?: (\d+) min)? after the heating\.", told[-1]
    )
    assert 5.5 < int(found[1]) + int(found[2] or 0) / 60 < 6.7
    assert "It should be done by now" not in log_report(done)


def test_a_log_that_no_clock_threatens_says_nothing_of_deadlines():
    quick = learned(((0.0, 40.0), (2.0, 29.0)), with_typed(HERON, "dryer", temperature="75 °C"))
    assert not words.deadline_words(quick.outcome.verdict.by) and log_deadlines(quick) == []
    assert "By when" not in log_report(quick)


def test_a_log_says_first_what_stands_against_its_batch_and_speaks_of_what_was(on_its_way):
    text = log_report(on_its_way)
    assert max(map(len, text.splitlines())) <= 80
    flat = " ".join(text.split())
    assert words.refused(on_its_way.outcome.verdict) and words.DO_NOT_MAKE not in flat
    assert flat.index("TO EAT:") < flat.index("What stands against this batch") < flat.index("Forecast")
    assert "The fish was heated to" in flat and "is to be heated" not in flat
    for reason in on_its_way.outcome.verdict.reasons:
        assert flat.count(" ".join(reason.text.split())) == 1
    assert "dryer.fresh_air" not in text and "how much fresh air the dryer takes in" in flat


def test_a_log_that_contradicts_its_plan_has_a_reason_for_not_known():
    told = learned(((0.0, 40.0), (6.0, 39.8)))
    assert told.contradiction and told.outcome.verdict.eat in ("not_known", "no")
    assert words.blocking(told.outcome.verdict)


# ---- the text for the kitchen


def flat(learned, units: str = "both") -> str:
    return " ".join(log_text.log_text(learned, units).split())


def test_the_kitchen_reads_clock_then_weighing_then_weight(on_its_way, done):
    text = flat(on_its_way)
    places = [text.index(name) for name in ("teaching estimate", "DONE:", "WEIGH:", "STOP:", "VERDICT")]
    assert places == sorted(places)
    assert re.search(r"DONE: the thickest piece should be done about \d\d:\d[05] on (Fri|Satur)day", text)
    assert "Take it off" in flat(done) and "WEIGH:" not in flat(done)
    assert max(map(len, log_text.log_text(on_its_way).splitlines())) <= 80


def test_the_weight_to_stop_at_is_that_of_the_marked_piece_and_never_above_the_plans(on_its_way):
    ratio = log_text.stop_ratio(on_its_way)
    assert ratio <= on_its_way.plan.drying["mass_ratio"].mid
    percent = words.stop_percent(ratio)
    assert f"down to {percent} % of its weight as laid: yours from 40 g to {40 * percent // 100} g." in flat(on_its_way)
    assert f"down to {percent} %" in flat(on_its_way, "us") and " oz." in flat(on_its_way, "us")


def test_a_measured_composition_may_move_the_weight_to_stop_at(on_its_way):
    heavier = replace(on_its_way.outcome, drying=on_its_way.outcome.drying | {"mass_ratio": exact(0.9)})
    weighed = replace(on_its_way, outcome=heavier)
    assert log_text.stop_ratio(weighed) == on_its_way.plan.drying["mass_ratio"].mid
    read = replace(weighed.log.entries[-1], readings={"oven_dry": 0.4})
    measured = replace(weighed, log=replace(weighed.log, entries=(*weighed.log.entries[:-1], read)))
    assert log_text.stop_ratio(measured) == 0.9
    soaked = replace(weighed, outcome=replace(heavier, drying=heavier.drying | {"mass_ratio": UNKNOWN}))
    assert log_text.stop_ratio(soaked) is None and "no weight can be given" in flat(soaked)


def test_a_verdict_is_told_where_it_changed_or_refuses():
    quick = learned(((0.0, 40.0), (2.0, 29.0)), with_typed(HERON, "dryer", temperature="75 °C"))
    same = replace(quick, outcome=replace(quick.outcome, verdict=quick.plan.verdict, keep=quick.plan.keep))
    assert "VERDICT: still that of the plan." in flat(same) and "TO KEEP:" not in flat(same)
    verdict = replace(same.outcome.verdict, keep="freezer")
    assert "VERDICT CHANGED: TO KEEP: ■ Freezer only" in flat(
        replace(same, outcome=replace(same.outcome, verdict=verdict))
    )


def test_a_refused_batch_is_told_why_and_gets_nothing_to_do(on_its_way):
    text = flat(on_its_way)
    assert words.refused(on_its_way.outcome.verdict) and "TO EAT:" in text and "What is left to do" not in text
    for reason in words.blocking(on_its_way.outcome.verdict):
        assert " ".join(reason.text.split()) in text
    assert "Label:" not in text


def test_no_caution_of_a_log_is_lost_and_hours_have_words(on_its_way, done):
    for told in (on_its_way, done):
        text, left = flat(told), log_text.left_to_plan(told)
        for one in told.outcome.verdict.cautions:
            elsewhere = one.rule == "E1" or one in left or only_in_all(one, told.outcome.batch)
            assert elsewhere or re.search(must(one.row.removesuffix(" log")) or re.escape(short(one)), text), one.row
        for said in (
            "Double vision",
            "Pregnant",
            "allergy",
            "throw it out",
            "What the plan said",
            "flakeyard plan FILE",
        ):
            assert said in text
        assert "As a mixture" not in text and "As a mixture" not in "".join(told.log.remarks)
    hours = learned(ROWS[:3], dated=False)
    assert re.search(r"done \d+ h(?: \d+ min)? after drying began", flat(hours))


def test_only_what_the_plans_text_says_and_no_weighing_changes_is_left_to_it(on_its_way, done):
    for told in (on_its_way, done):
        planned = " ".join(kitchen.kitchen(told.plan, earn=False).split())
        left = log_text.left_to_plan(told)
        assert {"H3", "H4", "E2"} <= {one.rule for one in left}
        for one in left:
            assert re.search(must(one.row.removesuffix(" log")), planned), one.row
    bare = replace(on_its_way.plan, verdict=replace(on_its_way.plan.verdict, cautions=()))
    text = flat(replace(on_its_way, plan=bare))  # what the plan did not say is said here
    assert "Local rules come first" in text and "mg of sodium" in text


def test_a_contradiction_stands_first_and_names_no_hour():
    told = learned(((0.0, 40.0), (6.0, 39.8)))
    text = flat(told)
    assert text.index("THE LOG CONTRADICTS THE PLAN") < text.index("DONE:") and "cannot be said when" in text


@pytest.mark.parametrize(("hours", "said"), [(5.85, "up to 5.9 h of the 6 h"), (4.0, ""), (6.1, "")])
def test_a_verdict_that_hangs_on_hours_near_their_limit_says_so(hours, said):
    quick = learned(((0.0, 40.0), (2.0, 29.0)), with_typed(HERON, "dryer", temperature="75 °C"))
    warm = WarmHours(h=hours, hs=hours, f48=1.0, c54=0.5, c40=0.2)
    near = replace(quick.outcome, facts=replace(quick.outcome.facts, warm=warm))
    told = flat(replace(quick, outcome=near))
    assert near.verdict.eat == "ready" and (said in told if said else "Close to its limit" not in told)


def test_a_batch_seen_done_is_not_to_be_weighed_again_and_its_weight_is_told_in_the_units_chosen(done):
    assert done.next_weighing_h is None
    told = " ".join(log_report(done, "us").split())
    assert "weighs 0.741 oz, its weight to stop at is" in told and "Weigh next" not in told and "0.74" in told
