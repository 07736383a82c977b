"""The tables of workbook 07 and a verdict as a page."""

from dataclasses import replace
from itertools import pairwise

import pytest

from flakeyard import tables
from flakeyard.models import growth, warm_clock
from flakeyard.steps.intent.batch_file import with_typed
from flakeyard.steps.judge import safety, storing, warm_hours
from flakeyard.steps.plan.packs import IN_ORDER, judged
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook import words
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import keeping_tables as kt
from flakeyard.workbook.panels.panel import Choice


def test_the_ladder_never_gets_milder_with_more_water_and_a_measurement_is_never_stricter():
    order = [kt.PLACE_WORDS[name] for name in safety.KEEP]
    rows = [tuple(map(order.index, row[1:])) for row in kt.ladder_table().rows]
    for moist, dry in pairwise(rows):
        assert all(one >= two for one, two in zip(moist, dry, strict=True))
    assert all(measured <= estimated <= tight for estimated, measured, tight in rows)
    assert any(measured < estimated for estimated, measured, _ in rows)


def test_each_rung_of_the_rules_is_on_the_ladder():
    """One water activity for each rung: the rules name a different one for every line."""
    named = [next(r.rule for r in judged(water_activity_measured=used, measured_error=0, pack="paper bag",
             fat_raw=0.02).reasons if r.rule[0] == "L") for used in kt.LADDER]  # fmt: skip
    assert len(set(named)) == len(named) - 1  # 0.83 and 0.78 are one rung when measured: only an estimate parts them


def test_cases_say_the_worst_reason_and_never_call_the_unknown_fine():
    rows = {row[0]: row[1:] for row in kt.cases_table().rows}
    assert rows["not gutted"][0].endswith("Do\u00a0not\u00a0keep")
    assert rows["nobody knows whether it was gutted"][:2] == ("?\u00a0Not\u00a0known",) * 2
    assert "10 and 57 °C" in rows["not heated, 6 hours lukewarm in the dryer"][2]
    assert rows["the same, but not heated before drying"][1] == "◆\u00a0Cook\u00a0before\u00a0eating"
    assert "not known" in rows["water activity not known"][2]
    assert sum("Ready" in row[1] for row in rows.values()) == 3


def test_in_order_facts_alone_are_judged_by_water_only():
    verdict = judged(water_activity_cautious=0.5, water_activity_mid=0.45, pack="glass jar", fat_raw=0.02)
    assert (verdict.keep, verdict.eat, verdict.unknown) == ("cupboard", "ready", ())
    assert safety.judge(replace(IN_ORDER)).keep == "not_known"  # no water activity told: not known


def test_tables_are_whole():
    choice = Choice("both")
    for table in (kt.ladder_table(), kt.cases_table(), kt.pack_table(choice), kt.caps_table()):
        lines = table._repr_markdown_().splitlines()
        assert len({line.count("|") for line in lines}) == 1
        assert not any(word in table._repr_markdown_() for word in ("nan", "None", " inf"))
    assert len(kt.caps_table().rows) == len(storing.caps())


def test_heating_takes_longer_for_thicker_pieces_and_no_time_is_told_for_an_open_oven():
    table = kt.heating_table()
    for way, *cells in table.rows:
        minutes = [int(cell.split()[0]) for cell in cells if cell != kt.PROBE_ALONE]
        assert len(minutes) == (0 if "open oven" in way else len(kt.SIZES) + 1)
        assert minutes[:-1] == sorted(minutes[:-1]) and minutes[-1:] >= minutes[1:2]
    assert len({line.count("|") for line in table._repr_markdown_().splitlines()}) == 1
    assert [row[1] for row in table.rows if row[0].startswith("simmered")] == ["5 min"]


def test_the_table_of_warm_hours_holds_every_rung_that_counts():
    table = kt.warm_table()
    told = [float(cell.split()[0]) for _, *cells in table.rows for cell in cells if cell != kt.NO_RUNG]
    assert sorted(told) == sorted(row.above_hours for row in warm_hours.ladder() if row.count)
    assert tuple(kt.COUNTED) == warm_hours.COUNTS
    for _, *cells in table.rows:
        hours = [float(cell.split()[0]) for cell in cells if cell != kt.NO_RUNG]
        assert hours == sorted(hours) and cells[-1] != kt.NO_RUNG
    ends = (
        growth.ZONE_HIGH,
        warm_clock.SPORES_HOTTEST,
        warm_clock.STAPH_HOTTEST,
        warm_clock.AIR_WARM,
        warm_clock.AIR_COOL,
    )
    assert all(f"{end:.0f} °C" in what for end, what in zip(ends, kt.COUNTED.values(), strict=True))
    assert f"{warm_clock.SPORES_DRIEST:g}" in kt.COUNTED["hs"] and f"{growth.ZONE_LOW:g} and" in kt.COUNTED["h"]
    assert table.rows[1][1:] == ("1.5 h", "6 h", "12 h")  # fsis_appendix_b_1999, ca_cooling_910_15, judgement


def test_packs_go_from_leaky_to_tight():
    days = [
        kt.packing.days_until(0.75, start=0.6, pack=tables.pack(name), temperature=25.0, humidity=0.85)[0]
        for name, _ in kt.PACKS[1:4]
    ]
    assert days == sorted(days)


@pytest.mark.parametrize(
    ("short", "long", "text"),
    [(1.09, 5.4, "1 to 5 days"), (460, 920, "15 to 30 months"), (700, 2000, "23 months or more"), (2000, 9e9, "years")],
)
def test_spans_in_words(short, long, text):
    assert kt._span(short, long) == text


@pytest.mark.parametrize("change", [{}, {"gutted": None}, {"hours_above_4c": 30}])
def test_a_whole_plan_is_told_with_reasons_whom_to_ask_and_its_salt(change):
    outcome = plan(with_typed(demo_batch("heron"), "fish", **change), members=20, sketch=True)
    page = kt.verdict_page(outcome)
    told = page._repr_markdown_()
    assert told.split() == [word for word in repr(page).split()]
    assert all(reason.text in told for reason in outcome.verdict.reasons)
    assert "Cooperative Extension" in told and "throw it out" in told and "mg of sodium" in told
    assert told.count(words.headline(outcome.verdict, outcome.keep)) == 1


def test_a_serving_is_told_in_the_words_of_the_file_or_as_the_usual_one():
    heron = demo_batch("heron")
    for batch, words_of_it in (
        (with_typed(heron, "", serving="1 oz"), "1 oz"),
        (with_typed(heron, "", serving=None), "30 g"),
    ):
        assert (
            f"A serving of {words_of_it} holds"
            in kt.verdict_page(plan(batch, members=8, sketch=True))._repr_markdown_()
        )
