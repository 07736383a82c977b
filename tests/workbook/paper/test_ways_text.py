"""The ways to keep a batch as text and as JSON: what stands there is what the ways are, and never milder."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from flakeyard import cli, tables
from flakeyard.steps.judge.safety import EAT
from flakeyard.steps.plan import ways
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.paper import ways_text
from flakeyard.workbook.paper.report import report
from flakeyard.workbook.words import stop_percent

MEMBERS = 200  # a few members have a severe upper end, and earn nothing
DEMO = Path(__file__).parents[3] / "data_demo"


@pytest.fixture(scope="module")
def heron():
    return plan(demo_batch("heron"), MEMBERS)


def otter(**keep):
    batch = demo_batch("otter")
    return plan(replace(batch, keep=replace(batch.keep, **keep)), MEMBERS)


def test_the_table_says_what_the_ways_are(heron):
    found = ways.ways(heron)
    head, *lines = ways_text.table(found)
    assert head.split() == ["place", "pack", "stop", "at", "hours", "likely", "days", "at", "most"]
    assert len(lines) == len(found)
    for line, way in zip(lines, found, strict=True):
        assert line.startswith(way.place) and way.pack in line and f"{stop_percent(way.mass_ratio)} %" in line
        assert line.endswith("not known" if way.days is None else f" {way.days}")


def test_a_change_says_of_what_is_not_known_what_it_is(heron):
    way = replace(ways.ways(heron)[0], days=None, change="cut thinner")
    assert "how long it keeps is not known" in ways_text.change_line(way)


def test_fish_that_must_be_cooked_is_marked_and_the_mark_is_told(heron):
    found = tuple(replace(way, eat="cook_first") for way in ways.ways(heron))
    _, *lines, foot = ways_text.table(found)
    assert all(line.endswith("*") for line in lines) and foot.startswith("* Cook it to 74 °C (165 °F)")


def test_a_long_name_of_a_pack_does_not_widen_the_page(heron):
    batch = replace(heron.batch, keep=replace(heron.batch.keep, pack="foil laminate pouch with oxygen absorber"))
    told = report(plan(batch, MEMBERS))
    assert max(map(len, told.splitlines())) <= 80 and "foil laminate" in told


def test_no_name_of_a_pack_is_cut(heron):
    first, names = ways.ways(heron)[0], [pack.common_name for pack in tables.packs()]
    found = tuple(replace(first, pack=pack.id) for pack in tables.packs())
    assert [row[1] for row in ways_text.rows(found)[1:]] == names
    head, *lines = ways_text.table(found)
    start, end = head.index("pack"), head.index("stop at")
    assert " ".join(line[start:end].strip() for line in lines) == " ".join(names)
    assert max(map(len, (head, *lines))) <= 80 and sum(line.endswith(str(first.days)) for line in lines) == len(names)


def test_a_pack_is_called_by_its_name_whatever_was_typed(heron):
    batch = replace(heron.batch, keep=replace(heron.batch.keep, place="cupboard", pack="mason jar", wanted_days=2))
    outcome = plan(batch, MEMBERS)
    found = ways.ways(outcome)
    told = " ".join([ways_text.not_granted(outcome, found), *ways_text.table(found), ways_text.wanted(outcome, found)])
    assert "glass jar" in told and "mason" not in told


def test_what_was_asked_and_is_granted_needs_no_line(heron):
    assert ways_text.not_granted(heron, ways.ways(heron)) == ""
    told = report(heron)
    assert "Not as you asked" not in told and told.index("What to do") < told.index("Ways to keep it") < told.index(
        "What to expect"
    )


def test_what_is_not_granted_is_said_first_with_the_nearest_way():
    outcome = otter(place="cupboard", pack="glass jar")
    found = ways.ways(outcome)
    assert found and not ways.asked(outcome).granted
    told = report(outcome)
    assert told.index("Not as you asked: this plan does not earn the cupboard, glass jar.") < told.index("TO KEEP:")
    best = ways.nearest(outcome, found)
    assert best.place in ("refrigerator", "freezer") and f"the {best.place}, {best.pack}" in " ".join(told.split())


def test_fish_that_may_be_kept_but_not_eaten_is_told_so(heron):
    outcome = replace(heron, verdict=replace(heron.verdict, eat="not_known"))
    told = ways_text.not_granted(outcome, ())
    assert "could be kept in the refrigerator, glass jar" in told and "Not known" in told


def test_where_nothing_is_granted_no_way_is_named():
    batch = demo_batch("heron")
    outcome = plan(replace(batch, fish=replace(batch.fish, gutted=False)), MEMBERS)
    assert ways.ways(outcome) == () and "No other place, pack or weight that was tried mends that" in " ".join(
        report(outcome).split()
    )
    assert "Ways to keep it" not in report(outcome)
    assert ways.told(outcome) == {"aim": {"place": "refrigerator", "pack": "glass jar", "granted": False}, "ways": []}


@pytest.mark.parametrize(("wanted", "order"), [("cupboard", "cupboard refrigerator freezer"), ("refrigerator", "refrigerator freezer cupboard"), ("freezer", "freezer refrigerator cupboard")])  # fmt: skip
def test_the_nearest_way_is_the_same_place_then_a_colder_one(wanted, order, heron):
    outcome = replace(heron, batch=replace(heron.batch, keep=replace(heron.batch.keep, place=wanted)))
    found = ways.ways(heron)
    for place in order.split():
        assert ways.nearest(outcome, found).place == place
        found = tuple(way for way in found if way.place != place)
    assert ways.nearest(outcome, ()) is None


def test_of_two_packs_the_milder_verdict_then_the_longer_time_is_nearest(heron):
    first, *_ = (way for way in ways.ways(heron) if way.place == "refrigerator")
    longer, cooked = replace(first, days=first.days + 5), replace(first, days=first.days + 9, eat="cook_first")
    assert ways.nearest(heron, (cooked, first, longer)) is longer
    assert EAT.index(longer.eat) < EAT.index(cooked.eat)


def test_days_that_were_wished_for_are_compared_with_every_way(heron):
    found = ways.ways(heron)
    longest = max(way.days or 0 for way in found)
    for days, words in ((longest, "So long grant: "), (longest + 1, "No way that was tried grants so long")):
        wish = replace(heron, batch=replace(heron.batch, keep=replace(heron.batch.keep, wanted_days=days)))
        assert words in ways_text.wanted(wish, found) and f"{days} days" in ways_text.wanted(wish, found)
    assert ways_text.wanted(heron, found) == ""


def test_days_that_are_wished_for_change_no_verdict(heron):
    wish = plan(replace(heron.batch, keep=replace(heron.batch.keep, wanted_days=700)), MEMBERS)
    assert (wish.verdict, wish.keep, wish.drying) == (heron.verdict, heron.keep, heron.drying)


def test_json_holds_aim_and_ways_always_and_changes_when_asked(capsys):
    for words, changed in (((), False), (("--ways",), True)):
        assert cli.main(["plan", str(DEMO / "heron.toml"), "--json", *words]) == 0
        told = json.loads(capsys.readouterr().out)
        assert told["aim"] == {"place": "refrigerator", "pack": "glass jar", "granted": True}
        keys = {"change", "place", "pack", "mass_ratio", "hours_to_target", "keep", "eat", "days"}
        assert all(set(way) == keys for way in told["ways"])
        assert any("thinner" in way["change"] for way in told["ways"]) == changed


def test_changes_stand_in_the_text_when_asked(capsys):
    assert cli.main(["plan", str(DEMO / "heron.toml"), "--ways"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "Single changes that earn what was asked" in told and "- cut it 1 mm thinner, to 4 mm: stop at" in told
