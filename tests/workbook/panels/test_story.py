"""The story of a fish as a form: what is in view, what is taken and kept, what is refused and stays, what is said beneath."""

import errno
import os
import re
import tempfile
import threading
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flakeyard.steps.intent.batch_file import dump_batch, load_batch
from flakeyard.steps.intent.fields import FIELDS
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook import begin_ending, own, words
from flakeyard.workbook.advised import WILL_DO, advised
from flakeyard.workbook.asked import AFTER_HEAT
from flakeyard.workbook.asking import questions
from flakeyard.workbook.grouped import STEP_DOORS, STEPS
from flakeyard.workbook.heating_told import HEATING, KEYS
from flakeyard.workbook.kept_story import DIAL
from flakeyard.workbook.panels import ruler as rulers
from flakeyard.workbook.panels import story, story_result
from flakeyard.workbook.panels.panel import Choice
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.story_file import text_of

PIKE = {
    "fish.species": "Northern pike", "fish.raw_weight": "2 lb", "fish.origin": "wild", "fish.stock": "fresh",
    "fish.hours_above_4c": "1", "fish.hours_above_21c": "0", "fish.gutted": "yes", "fish.smells_normal": "yes",
    "cut.form": "fillets", "cut.thickness": "5/32 in", "cut.thickest": "3/16 in", "cut.skin": "off",
    "brine": "dry", "brine.time": "12 h", "brine.temperature": "38 °F",
    "brine.ingredient.1.what": "pickling salt", "brine.ingredient.1.amount": "40 g",
    "heat": "yes", "heat.core": "75 °C", "heat.hold": "1 min", "heat.checked": "probe", "heat.to_tray": "10 min",
    "dryer.temperature": "158 °F", "dryer.trays": "4", "dryer.tray_area": "12 x 14 in", "dryer.faces": "2",
    "room.temperature": "70 °F", "keep.place": "cupboard", "keep.pack": "paper bag",
}  # fmt: skip
TOLD = {  # the same as a batch file holds it
    "fish": {"species": "Northern pike", "raw_weight": "2 lb", "origin": "wild", "stock": "fresh", "hours_above_4c": 1,
             "hours_above_21c": 0, "gutted": True, "smells_normal": True},
    "cut": {"form": "fillets", "thickness": "5/32 in", "thickest": "3/16 in", "skin": "off"},
    "brine": {"method": "dry", "time": "12 h", "temperature": "38 °F", "ingredient": [{"what": "pickling salt", "amount": "40 g"}]},
    "heat": {"core": "75 °C", "hold": "1 min", "checked": "probe", "to_tray": "10 min"},
    "dryer": {"temperature": "158 °F", "trays": 4, "tray_area": "12 x 14 in", "faces": 2},
    "room": {"temperature": "70 °F"}, "keep": {"place": "cupboard", "pack": "paper bag"},
}  # fmt: skip

TYPED = (
    "Atlantic cod",
    "not known",
    "",
    "6 mm",
    "1/4 in",
    "3 °C",
    "12 h",
    "0",
    "5",
    "honey",
    "250 g",
    "2 L",
    "💧",
    "nan",
    "1e9",
    "<i>",
)


@pytest.fixture
def unplanned(monkeypatch):
    """Forms that plan nothing, for tests of the asking."""
    monkeypatch.setattr(story_result.StoryResult, "_soon", lambda *_given, **_rest: None)


def find(form, place):
    """The row of a question, on the page where it stands; what is asked together with others is asked one by one."""
    for together, singly in ((STEPS, "yes"), (HEATING, "oven at 70 °C")):
        if place not in all_asked(form) and together in all_asked(form):
            form.open_at(together)
            form.rows[together].field.value = singly
    form.open_at(place)
    return form.rows[place]


def all_asked(form):
    return [one.place for name in form.all_chapters for one in story.asked(form.story, name)]


def answer(form, *places):
    for place in places or PIKE:
        find(form, place).field.value = PIKE[place]
    return form


def in_view(form):
    return [place for place, row in form.rows.items() if "fy-hidden" not in row._dom_classes]


def needed(form):
    """What stands beneath as still needed."""
    return " ".join(one.description for one in form.result._jumps.children)


def said(form):
    """The short lines beneath."""
    return " ".join(getattr(one, "value", "") or one.children[0].value for one in form.result.lines.children)


def whole(folder):
    """A form that goes on from the whole story in the file."""
    (folder / own.FILE).write_text(text_of(Story(TOLD), own.FILE), encoding="utf-8")
    return story.story_form(folder)


def in_file(folder):
    told = tomllib.loads((folder / own.FILE).read_text(encoding="utf-8"))
    return {name: section for name, section in told.items() if section != {}}


# A whole story


def test_a_fish_is_told_to_the_verdict_that_the_plan_gives(tmp_path):
    told = TOLD | {"dryer": {key: one for key, one in TOLD["dryer"].items() if key != "trays"}}
    (tmp_path / own.FILE).write_text(text_of(Story(told), own.FILE), encoding="utf-8")
    form = story.story_form(tmp_path)
    assert "No verdict yet" in form.result.headline.value
    answer(form, "dryer.trays")
    outcome = plan(load_batch(tmp_path / own.FILE))
    assert words.headline(outcome.verdict, outcome.keep) in form.result.headline.value
    assert "Ready to eat" in form.result.headline.value and words.caution_line() in form.result.details.value
    assert f"weighs {words.stop_percent(outcome.drying['mass_ratio'].mid)} %" in said(form)
    assert form.result.ways.value.count("<tr>") > 1 and not form.result.help.value


def test_every_answer_is_in_the_file_before_the_next_and_nothing_else(tmp_path, unplanned):
    form = story.story_form(tmp_path)
    assert not list(tmp_path.iterdir())
    for number, place in enumerate(PIKE, 1):
        answer(form, place)
        there = Story(tomllib.loads((tmp_path / own.FILE).read_text(encoding="utf-8")))
        assert sum(there.get(told) is not None for told in PIKE) == number
    assert in_file(tmp_path) == TOLD == form.story.typed
    assert [path.name for path in tmp_path.glob("*.toml")] == [own.FILE]
    again = story.story_form(tmp_path)
    assert again.story.typed == form.story.typed and again.chapter == "story.salt"  # the first that is not whole


def test_no_verdict_before_all_that_is_needed_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr(story_result, "plan", lambda _batch: pytest.fail("planned too early"))
    form = story.story_form(tmp_path)
    for place in PIKE:
        if place in ("dryer.tray_area", "dryer.faces", "room.temperature", "keep.place", "keep.pack"):
            continue
        answer(form, place)
        assert "No verdict yet" in form.result.headline.value and "How large is one tray" in needed(form)
    assert "Which fish is it?" not in needed(form)
    find(form, "rest").field.value = "yes"
    assert "How long does it rest?" in needed(form)


def test_an_amount_that_is_needed_is_named_with_its_ingredient(tmp_path, unplanned):
    form = story.story_form(tmp_path)
    for place in ("brine", "brine.ingredient.1.what"):
        answer(form, place)
    assert "How much pickling salt goes in?" in needed(form) and "What goes in" not in needed(form)


def test_a_section_nobody_told_of_is_said_to_count_as_no(tmp_path):
    told = {name: section for name, section in TOLD.items() if name != "heat"}
    (tmp_path / own.FILE).write_text(dump_batch(own.whole(told)), encoding="utf-8")
    form = story.story_form(tmp_path)
    assert "counted as no: Before the salt, A rest, Plain water, The heating" in form.result.details.value
    assert words.DO_NOT_MAKE in form.result.details.value and words.WAY_OUT in form.result.details.value
    assert "✕ Do not" in form.result.headline.value and "stop when" not in said(form)
    assert "What was measured" not in form.result.details.value  # few measure
    assert "✕ Do not eat" in form.result.headline.value and "must not be kept and must not be eaten" not in said(form)


def test_a_freezing_that_came_from_a_change_is_a_thing_to_do(tmp_path):
    form = whole(tmp_path)
    form.change((("fish.stock", "frozen"), ("fish.frozen_at", "-4 °F"), ("fish.frozen_days", 7)))
    assert "in this order:</p><ol><li>freeze it at" in said(form) and "was frozen" not in said(form)
    form.go("story.salt")
    assert "days still to be frozen: 7" in [one.description for one in form._told.children]
    find(form, "fish.frozen_days").field.value = "8"
    assert "The fish was frozen 8 days" in said(form)


def test_the_end_of_a_dial_is_noted_on_the_page_and_told_to_the_ending(tmp_path, monkeypatch):
    told, form = [], whole(tmp_path)
    monkeypatch.setattr(story_result.begin_ending, "ending", lambda *given: told.append(given[2]) or iter(()))
    find(form, "dryer.temperature").field.value = "from 35 to 70 c, don't know which setting"
    assert form.story.notes[DIAL] == "70 °C" and "# said of dryer.dial: 70 °C" in (tmp_path / own.FILE).read_text(
        "utf-8"
    )
    find(form, "dryer.temperature").field.value = "60 °C"
    assert told[-1].dial_end == 70.0


def test_what_is_looked_for_stands_there_until_it_is_found(tmp_path, monkeypatch):
    form, seen = whole(tmp_path), []

    def lines(*_given):
        yield begin_ending.Looking("What would help:")
        seen.append(form.result.help.value)
        yield "found"

    monkeypatch.setattr(story_result.begin_ending, "ending", lines)
    find(form, "dryer.temperature").field.value = "61 °C"
    assert seen == ["<p>What would help:</p>"] and form.result.help.value == ""
    assert len(form.result.lines.children) == 1


def test_how_it_is_done_stands_in_the_item_of_its_step(tmp_path):
    lines = said(whole(tmp_path))
    assert re.search(
        r"<li>heat the fish until its middle is at [^<]*<br>A thin probe goes [^<]*not in an open oven\.</li><li>within",
        lines,
    )
    assert re.search(r"<li>salt it dry [^<]*wipe the salt off<br>A quick rinse", lines)


def test_trouble_is_told_in_words(tmp_path, monkeypatch):
    def fail(_batch):
        raise RuntimeError("a wheel <came> off")

    monkeypatch.setattr(story_result, "plan", fail)
    form = whole(tmp_path)
    assert "No verdict" in form.result.headline.value and "a wheel &lt;came&gt; off" in form.result.details.value


def test_what_is_out_of_date_is_never_said(tmp_path, monkeypatch):
    waiting = []
    monkeypatch.setattr(
        story_result.StoryResult, "_soon", lambda _self, work, *given, **_rest: waiting.append((work, given))
    )
    form = whole(tmp_path)
    find(form, "heat.core").field.value = "74 °C"
    find(form, "heat.checked").field.value = ""
    (early, first), *_, (work, last) = waiting
    work(*last)
    said = form.result.headline.value
    assert "Working" not in said
    early(*first)
    assert form.result.headline.value == said


def test_a_change_is_made_with_its_button_and_gives_its_own_verdict(tmp_path, monkeypatch):
    told = (("heat.core", "75 °C"), ("cut.skin", None), ("keep.place", "freezer"))
    heater = next(one for one in questions(Story(TOLD)) if one.place == "dryer.heater")
    offered = [
        "why",
        begin_ending.Choice("colder. Then: Ready to eat", told),
        begin_ending.Answer("how strong", heater),
    ]
    monkeypatch.setattr(story_result.begin_ending, "ending", lambda *_given: iter(offered))
    form = whole(tmp_path)
    find(form, "keep.place")
    _why, choice, open_one = form.result.lines.children
    open_one.children[1].click()
    assert "dryer.heater" in in_view(form)
    assert "Change 1: colder" in choice.children[0].value and choice.children[1].description == "Change the plan so"
    choice.children[1].click()
    assert form._helper.focus.startswith(".fy-result")
    assert form.story.get("keep.place") == "freezer" == find(form, "keep.place").field.value
    assert "skin" not in in_file(tmp_path)["cut"] and "Changed in my-batch.toml" in form.said.value
    assert sorted(path.name for path in tmp_path.glob("*.toml")) == ["my-batch-1.toml", "my-batch.toml"]
    outcome = plan(load_batch(tmp_path / own.FILE))
    assert words.headline(outcome.verdict, outcome.keep) in form.result.headline.value
    assert "fy-hidden" not in form.result.back._dom_classes and not form.result.back.disabled
    form.result.back.click()
    assert form.story.typed == TOLD and "fy-hidden" in form.result.back._dom_classes


def test_a_change_that_was_taken_is_taken_back_with_a_button_as_long_as_nothing_was_told_since(tmp_path, unplanned):
    form, freezer, jar = whole(tmp_path), (("keep.place", "freezer"), ("heat", None)), (("keep.pack", "glass jar"),)
    before = form.story
    assert form.result.back.disabled
    for change in (freezer, freezer, jar):  # the second of a double click changes nothing
        form.change(change)
    form.result.back.click()
    assert form.story.get("keep.pack") == "paper bag" and form.story.get("heat") is None
    form.result.back.click()
    assert form.story == before and in_file(tmp_path) == TOLD and form.result.back.disabled
    assert form._helper.focus.startswith(".fy-result") and "As it was" in form.said.value
    assert find(form, "heat.core").field.value == "75 °C"
    form.change(freezer)
    find(form, "fish.raw_weight").field.value = "3 lb"
    assert form.result.back.disabled
    form.take_back()
    assert form.story.get("fish.raw_weight") == "3 lb" and form.story.get("keep.place") == "freezer"


def test_a_change_is_not_taken_back_over_what_another_form_has_saved(tmp_path, unplanned):
    form = whole(tmp_path)
    form.change((("keep.place", "freezer"),))
    own.keep_numbers({("room", "temperature"): "25 °C"}, tmp_path)
    form.result.back.click()
    assert form.story.get("room.temperature") == "25 °C" and form.story.get("keep.place") == "freezer"
    assert form.result.back.disabled


def test_what_cannot_be_taken_back_because_nothing_can_be_written_is_said(tmp_path, unplanned, monkeypatch):
    form = whole(tmp_path)
    form.change((("keep.place", "freezer"),))

    def refuse(*_given, **_options):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as full:
        full.setattr(os, "replace", refuse)
        form.result.back.click()
    assert "Not saved" in form.said.value and not form.result.back.disabled
    form.result.back.click()
    assert form.story.get("keep.place") == "cupboard"


# Pages


@pytest.mark.parametrize("name", ["heron", "otter", "kingfisher", ""])
def test_at_most_seven_in_view_and_what_is_open_is_asked_once(tmp_path, unplanned, name):
    if name:
        (tmp_path / own.FILE).write_text(dump_batch(own.demo_batch(name)), encoding="utf-8")
    form, pages = story.story_form(tmp_path), []
    while True:
        pages.append((form.chapter, in_view(form)))
        assert 1 <= len(in_view(form)) <= 7
        form.forward()
        if pages[-1] == (form.chapter, in_view(form)):
            break
    seen = [place for _chapter, view in pages for place in view]
    asked_for = [one.place for name in form.chapters for one in story.asked(form.story, name)]
    assert seen == [place for place in asked_for if not form.story.answered(place)]
    assert {*asked_for, *(one.place for one in story.asked(form.story, story.FEW))} >= {
        one.place for one in questions(form.story) if one.place not in (*story.OF_A_LABEL, *STEP_DOORS)
    }
    for page in pages[-2::-1]:
        form.back()
        assert (form.chapter, in_view(form)) == page


def test_what_is_told_stands_in_short_and_is_opened_with_a_click(tmp_path, unplanned):
    form = answer(story.story_form(tmp_path), "fish.species", "fish.raw_weight")
    assert not form._told.children  # a page does not move under the learner
    form.forward(), form.back(), form.forward()
    assert "Northern pike" in form._told.children[0].description
    untold = next(one for one in form._told.children if "fy-untold" in one._dom_classes)
    assert "not known" in untold.description
    form._told.children[0].click()
    assert in_view(form)[0] == "fish.species" and "fy-at-fish-species" in form._helper.focus
    form.rows["fish.species"].field.value = "Atlantic cod"
    assert form.story.get("fish.species") == "Atlantic cod"


def test_a_pack_given_by_its_id_in_the_file_is_called_by_its_name(tmp_path, unplanned):
    told = TOLD | {"keep": {"place": "freezer", "pack": "freezer_bag"}}
    (tmp_path / own.FILE).write_text(text_of(Story(told), own.FILE), encoding="utf-8")
    form = story.story_form(tmp_path)
    form.go("story.keeping")
    assert "pack: zip bag, freezer weight" in [one.description for one in form._told.children]


def test_the_heading_counts_what_is_open_on_the_page_and_after_it(tmp_path, unplanned):
    form = story.story_form(tmp_path)
    assert form._head.value == "The fish: 7 to answer here, then 2 more"
    answer(form, "fish.species", "fish.raw_weight")
    assert form._head.value == "The fish: 5 to answer here, then 2 more"
    form.go("section.cut")
    answer(form, "cut.form", "cut.thickness", "cut.skin")
    assert form._head.value == "The cut: all told here"


def test_a_question_that_has_only_just_come_up_is_not_passed_by(tmp_path, unplanned, monkeypatch):
    now = [0.0]
    monkeypatch.setattr(story, "monotonic", lambda: now[0])
    form = story.story_form(tmp_path)
    form.go("story.salt")
    form.rows[STEPS].field.value = "steamed first"
    form.forward()
    assert form.chapter == "story.salt" and HEATING in in_view(form) and "brine" not in in_view(form)
    now[0] += 10.0
    form.forward()
    assert form.chapter == "story.drying"


def test_a_list_told_at_once_is_said_back_and_is_not_asked_again(tmp_path, unplanned):
    form = story.story_form(tmp_path)
    find(form, "brine").field.value = "wet"
    row = find(form, "brine.ingredient.1.what")
    row.field.value = "a quart of water, half a cup of kosher salt"
    assert "water, 1 quart; kosher salt, 1/2 cup" in row._became.value and not row.refused
    assert "brine.ingredient.1.amount" not in in_view(form)
    assert [one.description for one in form._told.children] == [
        "water: 1 quart", "what goes in: kosher salt, 1/2 cup", "what else goes in: no more",
    ]  # fmt: skip


def test_what_no_table_knows_is_asked_back_with_what_it_may_be(tmp_path, unplanned):
    form = story.story_form(tmp_path)
    find(form, "brine").field.value = "wet"
    row = find(form, "brine.ingredient.1.what")
    row.field.value = "a quart of water, half a cup of kosher salt, fizzlewort"
    assert "fizzlewort" in row.refused and form.story.get("brine.ingredient.2.what") == "kosher salt"
    row.children[3].click()
    assert not row.refused and len(form.story.get("brine.ingredient")) == 3
    row = find(form, "fish.species")
    row.field.value = "blobbelfisk"
    assert "not in the list of fish" in row.refused and "fish.species" not in row.refused


def test_one_answer_tells_several_things(tmp_path, unplanned):
    form = story.story_form(tmp_path)
    form.rows["fish.species"].field.value = "Northern pike, wild, fresh, 2 lb"
    assert in_file(tmp_path)["fish"] == {
        "species": "Northern pike",
        "origin": "wild",
        "stock": "fresh",
        "raw_weight": "2 lb",
    }
    assert "Also read: weight: 2 lb" in form.rows["fish.species"].became
    assert "fish.origin" not in in_view(form) and "weight: 2 lb" in [one.description for one in form._told.children]


def test_what_is_done_before_the_dryer_is_one_question(tmp_path, unplanned):
    form = answer(story.story_form(tmp_path), "brine")
    assert STEPS in in_view(form) and "presoak" not in in_view(form)
    form.rows[STEPS].field.value = "2 hours on a rack, then steamed"
    assert form.story.get("rest") == {"time": "2 hours"} and form.story.left["presoak"] == "no"
    assert HEATING in in_view(form) and STEPS not in in_view(form)
    assert "a rest; heating" in form._heard.value


def heated(folder, **told):
    """A form with the page open on which the heating is asked, of which some things are told."""
    (folder / own.FILE).write_text(text_of(Story({"heat": told}), own.FILE), encoding="utf-8")
    form = story.story_form(folder)
    form.go("story.salt")
    return form


def of_the_heat(form):
    return [place for place in in_view(form) if place == HEATING or place.startswith("heat.")]


def test_the_heating_is_one_question_and_each_part_of_it_is_mended_alone(tmp_path, unplanned):
    form = heated(tmp_path)
    assert of_the_heat(form) == [HEATING]
    row = form.rows[HEATING]
    row.field.value = "oven 70 C till 74 in the middle, 5 min"
    assert offered(row) == ["Yes: middle at: 74 °C; held: 5 min"] and form.story.get("heat") == {}
    row._offers[0].click()
    assert in_file(tmp_path)["heat"] == {"core": "74 °C", "hold": "5 min"}
    assert of_the_heat(form) == ["heat.checked", "heat.to_tray"] and "held: 5 min" in form._heard.value
    told = {one.description: one for one in form._told.children}
    told["held: 5 min"].click()
    form.rows["heat.hold"].field.value = "2 min"
    assert in_file(tmp_path)["heat"] == {"core": "74 °C", "hold": "2 min"}


@pytest.mark.parametrize(
    ("text", "kept", "open_ones"),
    [
        ("74 °C for 1 min by a probe, on the trays within 10 min", {"core": "74 °C", "hold": "1 min", "checked": "probe", "to_tray": "10 min"}, []),
        ("oven at 70 C", {}, ["heat.core", "heat.hold", "heat.checked", "heat.to_tray"]), ("not heated", None, []), ("don't know", {}, []),
    ],
)  # fmt: skip
def test_what_is_told_of_the_heating_is_read_as_in_the_terminal(tmp_path, unplanned, text, kept, open_ones):
    form = heated(tmp_path)
    form.rows[HEATING].field.value = text
    assert form.story.get("heat") == kept and [one for one in of_the_heat(form) if one != "heat"] == open_ones
    assert HEATING not in all_asked(form) and form._heard.value


def test_what_is_told_of_the_heating_keeps_its_own_field(tmp_path, unplanned):
    form = heated(tmp_path, hold="1 min")
    assert of_the_heat(form) == [HEATING] and "held: 1 min" in {one.description for one in form._told.children}
    form.rows[HEATING].field.value = "74 °C by a probe, on the trays within 10 min"
    assert form.story.get("heat.hold") == "1 min" and form.story.get("heat.to_tray") == "10 min"
    assert of_the_heat(heated(tmp_path, core="74 °C")) == ["heat.hold", "heat.checked", "heat.to_tray"]
    form = heated(tmp_path)
    form.go("section.fish")
    form.open_at("heat.core")  # as what is needed leads to it
    assert form.chapter == "story.salt" and of_the_heat(form) == [HEATING]


# What it should be


def rule_button(form, place):
    return next((one for one in find(form, place).children if "fy-ask-back" in one._dom_classes), None)


def test_what_it_should_be_is_offered_where_the_terminal_offers_it_and_nowhere_else(tmp_path, unplanned):
    form = answer(heated(tmp_path), "fish.species", "cut.form", "brine", *(f"heat.{key}" for key in KEYS))
    for place in [one for one in all_asked(form) if one != STEPS]:
        button = rule_button(form, place)
        told = advised(form.story, form.rows[place].question, "what should it be?")
        assert bool(button) == bool(told and told.offered), place
    assert {HEATING, "cut.thickness", "dryer.temperature"} <= set(WILL_DO)
    assert "fy-hidden" in rule_button(form, "heat.core")._dom_classes  # told already


def test_what_a_rule_offers_counts_only_when_it_is_pressed(tmp_path, unplanned):
    form = heated(tmp_path)
    row = form.rows[HEATING]
    rule_button(form, HEATING).click()
    assert "What counts is 74 °C" in row.became and form.story.get("heat") == {} and not row.refused
    row.field.value = "oven at 70 °C"  # typed instead: nothing of the rule stays
    assert form.story.get("heat") == {}
    rule_button(form, "heat.core").click()
    form.rows["heat.core"]._offers[0].click()
    assert form.story.get("heat") == {"core": "74 °C"}
    rule_button(form, "cut.thickness").click()
    row = form.rows["cut.thickness"]
    assert offered(row) == ["Yes: 4 mm to 6 mm thick, all alike"] and "cut" not in form.story.typed
    row._offers[0].click()
    assert form.story.get("cut.thickness") == row.typed == "5 mm" and form.story.get("cut.thickest") == "6 mm"


def test_who_types_the_question_is_told_the_same(tmp_path, unplanned):
    form = heated(tmp_path)
    row = form.rows[HEATING]
    row.field.value = "what should it be?"
    assert row.refused and form.story.get("heat") == {}
    row._offers[0].click()
    assert form.story.get("heat") == {"core": "74 °C", "hold": "1 min", "checked": "probe", "to_tray": "10 min"}
    dial = find(form, "dryer.temperature")
    dial.field.value = "it goes from 35 to 80 C, 5 trays"
    assert form.story.get("dryer") is None and "Drying was tested up to 75 °C" in dial.became
    dial._offers[0].click()
    assert (form.story.get("dryer.temperature"), form.story.get("dryer.trays")) == ("75 °C", 5)


def test_what_a_rule_offers_is_said_in_the_units_of_the_page(tmp_path, unplanned):
    form = story.StoryForm(tmp_path, Choice("us"))
    rule_button(form, "cut.thickness").click()
    assert "in thick" in offered(form.rows["cut.thickness"])[0]


def test_how_it_was_frozen_is_asked_beneath_the_heat_and_not_where_heat_makes_it_needless(tmp_path, unplanned):
    frozen = {"species": "Northern pike", "origin": "wild", "stock": "frozen"}
    unheated, heated = Story({"fish": frozen}), Story({"fish": frozen, "heat": TOLD["heat"]})
    assert not [one for one in story.asked(unheated, "section.fish") if one.place in AFTER_HEAT]
    places = [one.place for one in story.asked(unheated, "story.salt")]
    assert places[-2:] == list(AFTER_HEAT) and "fish.stock" not in places
    assert not [one for one in story.asked(heated, "story.salt") if one.place in AFTER_HEAT]
    form = story.StoryForm(tmp_path)
    form.kept.keep(unheated)
    form.open_at("fish.frozen_at")
    assert form.chapter == "story.salt" and form.rows["fish.frozen_at"] in form._sections[story.BENEATH_HEAT].children


def test_how_it_was_frozen_comes_up_once_the_heat_is_settled(tmp_path, unplanned):
    frozen = Story({"fish": {"species": "Northern pike", "origin": "wild", "stock": "frozen"}})
    (tmp_path / own.FILE).write_text(text_of(frozen, own.FILE), encoding="utf-8")
    form = story.story_form(tmp_path)
    form.go("story.salt")
    assert STEPS in in_view(form) and not {*AFTER_HEAT} & {*in_view(form)}
    form.rows[STEPS].field.value = "steamed"
    answer(form, "heat.core", "heat.hold", "heat.to_tray")
    assert "heat.checked" in in_view(form) and not {*AFTER_HEAT} & {*in_view(form)}
    answer(form, "heat.checked")  # with a probe: the parasites are ended
    assert not {*AFTER_HEAT} & {*in_view(form)} and "fy-hidden" not in form._forward._dom_classes
    form.rows["heat.checked"].field.value = "not checked"
    assert {*AFTER_HEAT} <= {*in_view(form)}


@pytest.mark.parametrize("settle", ["no", "forward", "open_at"])
def test_how_it_was_frozen_is_asked_where_the_heat_is_left_out_or_passed_by(tmp_path, unplanned, monkeypatch, settle):
    now = [0.0]
    monkeypatch.setattr(story, "monotonic", lambda: now[0])
    frozen = Story({"fish": {"species": "Northern pike", "origin": "wild", "stock": "frozen"}})
    (tmp_path / own.FILE).write_text(text_of(frozen, own.FILE), encoding="utf-8")
    form = story.story_form(tmp_path)
    form.go("story.salt")
    if settle == "no":
        form.rows[STEPS].field.value = "no"
    elif settle == "forward":
        form.forward()
    else:
        form.open_at("fish.frozen_at")
    assert form.chapter == "story.salt" and "fish.frozen_at" in in_view(form)


def offered(row):
    return [one.description for one in row._offers if "fy-hidden" not in one._dom_classes]


CHEST = "six walleye, wild, in our chest freezer (about zero Fahrenheit) in bags for five days"


def test_what_was_told_before_its_question_is_asked_back_there_and_counts_only_then(tmp_path, unplanned):
    form = story.story_form(tmp_path)
    form.rows["fish.species"].field.value = CHEST
    form.rows["fish.species"]._offers[0].click()  # a walleye
    stock = form.rows["fish.stock"]
    assert offered(stock) == ["Yes: frozen"] and not stock.refused and stock.typed == ""
    assert form.story.get("fish.stock") is None and "No verdict while" not in form.result.headline.value
    stock._offers[0].click()
    assert form.story.get("fish.stock") == "frozen" == stock.typed and not offered(stock)
    form.go("story.salt")
    form.rows[STEPS].field.value = "no"
    cold, days = (form.rows[place] for place in AFTER_HEAT)
    assert (offered(cold), offered(days)) == (["Yes: 0 fahrenheit"], ["Yes: 5 days"])
    assert not {*AFTER_HEAT} & {f"fish.{key}" for key in in_file(tmp_path)["fish"]}
    cold._offers[0].click()
    days.field.value = "10"
    assert in_file(tmp_path)["fish"] | {"frozen_at": "0 fahrenheit", "frozen_days": 10} == in_file(tmp_path)["fish"]
    assert not offered(days)


def test_what_was_told_in_passing_goes_with_the_answer_that_told_it(tmp_path, unplanned):
    form = story.story_form(tmp_path)
    form.rows["fish.species"].field.value = "walleye, skinned fillets, been in my chest freezer five days"
    assert offered(form.rows["fish.stock"])
    form.rows["fish.species"].field.value = "Atlantic cod"
    assert not offered(form.rows["fish.stock"]) and form.rows["fish.stock"].became == ""


def test_dry_air_and_a_night_told_in_passing_are_asked_back_and_plain_trays_echoed(tmp_path, unplanned):
    form = story.story_form(tmp_path)
    find(form, "dryer.temperature").field.value = "a round dehydrator with five trays, I think 155 or 160"
    form.rows["dryer.temperature"]._offers[0].click()
    assert form.story.get("dryer.trays") == 5 and "trays: 5" in form.rows["dryer.temperature"]._became.value
    find(form, "room.temperature").field.value = "kitchen, about 68, real dry in winter"
    damp = find(form, "room.relative_humidity")
    (air,) = offered(damp)
    assert "no number" in air and not form.story.answered("room.relative_humidity")
    damp._offers[0].click()
    assert form.story.left["room.relative_humidity"] == "not known"
    find(form, "brine").field.value = "wet"
    find(form, "brine.time").field.value = "9 h"
    find(form, STEPS).field.value = "rest overnight on a rack"
    assert form.story.get("rest.time") is None and offered(find(form, "rest.time")) == ["Yes: 12 h"]


def test_what_is_needed_is_a_button_that_leads_to_its_question(tmp_path, unplanned):
    form = story.story_form(tmp_path)
    asked_for = {one.description: one for one in form.result._jumps.children}
    asked_for["How many trays or racks do you load?"].click()
    assert form.chapter == "story.drying" and "dryer.trays" in in_view(form)
    form.rows["dryer.trays"].field.value = "a heap"
    assert [one.description for one in form.result._jumps.children] == ["How many trays or racks do you load?"]


def test_figures_of_a_label_are_asked_for_fish_that_no_table_knows(tmp_path, unplanned):
    form = story.story_form(tmp_path)
    assert "fish.water" not in in_view(form)
    form.rows["fish.species"].field.value = "not known"
    assert "fish.water" in in_view(form) and form.rows["fish.species"].field.value == "not known"
    form.rows["fish.species"].field.value = "Atlantic cod"
    assert "fish.water" not in in_view(form)


def test_every_field_has_its_question_as_a_name_and_says_what_it_costs(tmp_path, unplanned):
    form = story.story_form(tmp_path)
    for place in in_view(form):
        row = form.rows[place]
        assert row.field.description.replace("\N{NO-BREAK SPACE}", " ") == row.question.words
        assert story.html.escape(row.question.cost) in row._note.value
    form.rows["fish.origin"].field.value = "farmed"
    assert form.rows["fish.origin"].question.cost not in form.rows["fish.origin"]._note.value


def test_the_first_taste_is_the_first_chapter_and_the_whole_story_goes_on_from_it(tmp_path, unplanned):
    taste = story.first_taste(tmp_path)
    fish = [place for place in PIKE if place.startswith("fish.")]
    answer(taste, *fish)
    taste.forward()
    assert taste.chapter == "section.fish" and set(taste.rows) <= {f"fish.{key}" for key in FIELDS["fish"]}
    assert "comes in workbook 08" in taste.result.headline.value and "needed" not in taste.result.headline.value
    assert "trays" not in needed(taste) and taste._save.description == "Save"
    form = answer(story.story_form(tmp_path), *(place for place in PIKE if place not in fish))
    assert in_file(tmp_path) == TOLD == form.story.typed


# What is refused


@pytest.mark.parametrize(
    ("place", "typed", "because"),
    [
        ("fish.species", "puffer", "nerve poison"), ("fish.species", "<b>", "not in the list of fish"), ("fish.raw_weight", "a bucket", "number"),
        ("fish.fat", "120", "0 to 35"), ("cut.thickness", "6 kg", "mm"),
        ("brine.ingredient.1.what", "pink curing salt", "nitrite"), ("cut.thickest", "2 mm", "rising order"),
    ],
)  # fmt: skip
def test_an_answer_that_is_refused_stays_and_nothing_is_lost(tmp_path, unplanned, place, typed, because):
    form = whole(tmp_path)
    before = (tmp_path / own.FILE).read_bytes()
    row = find(form, place)
    row.field.value = typed
    assert because in row.refused and "fy-wrong" in row.refused and "<b>" not in row.refused
    assert row.field.value == typed and (tmp_path / own.FILE).read_bytes() == before
    assert "No verdict while" in form.result.headline.value and row.question.words in needed(form)
    form.forward(), form.open_at(place)
    assert form.rows[place].field.value == typed
    row.field.value = PIKE.get(place, "")
    assert not row.refused and "No verdict while" not in form.result.headline.value


def test_a_reading_is_offered_as_a_button_and_counts_when_it_is_pressed(tmp_path, unplanned):
    form = whole(tmp_path)
    row = find(form, "fish.hours_above_4c")
    row.field.value = "2 or 3 hours in the car"
    offer = row.children[3]
    assert (
        offer.description == "Yes: 3 hours" and "Not taken" not in row.refused and "fy-hidden" not in offer._dom_classes
    )
    assert row.refused and form.story.get("fish.hours_above_4c") != 3
    offer.click()
    assert form.story.get("fish.hours_above_4c") == 3 and row.typed == "3" and not row.refused
    assert "fy-hidden" in offer._dom_classes
    row.field.value = "an hour each way"
    assert row.refused and "fy-hidden" in offer._dom_classes and "[fish]" not in row.refused


def test_what_is_refused_may_be_left_open_with_a_button_where_a_plan_can_do_without(tmp_path, unplanned):
    form = whole(tmp_path)
    row = find(form, "keep.pack")
    row.field.value = "a hollow log"
    leave = row.children[-1]
    assert row.refused and "fy-hidden" not in leave._dom_classes
    leave.click()
    assert not row.refused and row.field.value == "not known" and "fy-hidden" in leave._dom_classes
    assert form.story.left["keep.pack"] == "not known" and form.story.notes["keep.pack"] == "a hollow log"
    row = find(form, "dryer.trays")
    row.field.value = "heaps"
    assert row.refused and "fy-hidden" in row.children[-1]._dom_classes


def test_a_file_that_cannot_be_written_is_told_and_tried_again(tmp_path, unplanned, monkeypatch):
    form = answer(story.story_form(tmp_path), "fish.species")

    def refuse(*_given, **_options):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as full:
        full.setattr(os, "replace", refuse)
        answer(form, "fish.raw_weight")
    row = form.rows["fish.raw_weight"]
    assert "Not saved" in row.refused and "Errno" not in row.refused and row.field.value == "2 lb"
    assert in_file(tmp_path) == {"fish": {"species": "Northern pike"}}
    form.save()
    assert not row.refused and in_file(tmp_path)["fish"]["raw_weight"] == "2 lb"
    led = form._helper.focus
    form.save()
    assert led != form._helper.focus and form._helper.focus.startswith(".fy-result ")  # there again


def test_a_file_that_cannot_be_used_is_told_and_stays_as_a_copy(tmp_path, unplanned):
    (tmp_path / own.FILE).write_text("[fish\n", encoding="utf-8")
    form = story.story_form(tmp_path)
    assert "cannot be used" in form.said.value
    answer(form, "fish.species")
    assert {path.read_text("utf-8") for path in tmp_path.glob("*.toml")} > {"[fish\n"}
    assert in_file(tmp_path) == {"fish": {"species": "Northern pike"}}


# What an answer does to others


def test_what_another_form_saved_meanwhile_is_not_lost(tmp_path, unplanned):
    form = answer(story.story_form(tmp_path), "fish.species")
    own.keep_numbers({("room", "temperature"): "25 °C"}, tmp_path)
    find(form, "fish.raw_weight").field.value = "weighs 2 lb all in all"  # read in other words
    assert in_file(tmp_path) == {
        "fish": {"species": "Northern pike", "raw_weight": "2 lb"},
        "room": {"temperature": "25 °C"},
    }
    assert find(form, "room.temperature").field.value == "25 °C"


def test_a_copy_is_kept_of_what_is_changed_but_not_of_what_grows(tmp_path, unplanned):
    form = whole(tmp_path)
    assert len(list(tmp_path.glob("*.toml"))) == 1
    find(form, "fish.raw_weight").field.value = "3 lb"
    kept = [tomllib.loads(path.read_text("utf-8")) for path in tmp_path.glob("*.toml")]
    assert sorted(one["fish"]["raw_weight"] for one in kept) == ["2 lb", "3 lb"]


def test_a_section_that_is_closed_and_opened_again_has_its_answers(tmp_path, unplanned):
    form = whole(tmp_path)
    for place, closed in (("heat", "no"), ("brine", "no")):
        find(form, place).field.value = closed
        assert place not in in_file(tmp_path) and find(story.story_form(tmp_path), place).field.value == "no"
        find(form, place).field.value = PIKE[place]
    assert form.story.typed == TOLD == in_file(tmp_path)


def test_another_fish_has_no_history_yet(tmp_path, unplanned):
    form = whole(tmp_path)
    find(form, "fish.species").field.value = "Atlantic mackerel"
    assert in_file(tmp_path)["fish"] == {"species": "Atlantic mackerel", "raw_weight": "2 lb"}
    for place in ("fish.gutted", "fish.hours_above_4c", "fish.origin"):
        assert find(form, place).field.value == ""


@pytest.mark.parametrize("taken_away", ["", "nope"])
def test_an_ingredient_whose_name_is_taken_away_goes_whole(tmp_path, unplanned, taken_away):
    form = whole(tmp_path)
    for number, (what, amount) in enumerate((("water", "1 L"), ("honey", "2 tbsp")), 2):
        find(form, f"brine.ingredient.{number}.what").field.value = what
        find(form, f"brine.ingredient.{number}.amount").field.value = amount
    find(form, "brine.ingredient.2.what").field.value = taken_away
    told = [("pickling salt", "40 g"), ("honey", "2 tbsp")]
    assert [(row["what"], row["amount"]) for row in in_file(tmp_path)["brine"]["ingredient"]] == told
    assert [find(form, f"brine.ingredient.{n}.what").field.value for n in (1, 2, 3)] == ["pickling salt", "honey", ""]
    find(form, "brine.ingredient.3.what").field.value = "water"
    assert find(form, "brine.ingredient.3.amount").field.value == ""


def test_an_answer_that_waits_for_its_turn_on_another_thread_is_not_wiped_out(tmp_path, unplanned):
    form = story.story_form(tmp_path)
    row = form.rows["fish.origin"]

    def choose():
        row.field.value = "wild"

    other = threading.Thread(target=choose)
    with form._turn:
        other.start()
        other.join(0.2)
        assert row.field.value == "wild" and form.story.get("fish.origin") is None
        form.follow()
        answer(form, "fish.species")
        assert row.field.value == "wild"
    other.join()
    assert in_file(tmp_path) == {"fish": {"species": "Northern pike", "origin": "wild"}}


@settings(max_examples=8, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(0, 0.999),
            st.sampled_from(TYPED),
            st.sampled_from(["", "", "forward", "back", "save", *story.CHAPTERS, story.FEW]),
        ),
        max_size=25,
    )
)
def test_whatever_is_typed_is_taken_or_refused_and_the_file_can_be_used(steps):
    with pytest.MonkeyPatch.context() as patch, tempfile.TemporaryDirectory() as folder:
        patch.setattr(story_result.StoryResult, "_soon", lambda *_given, **_rest: None)
        form = story.story_form(folder)
        for share, typed, turn in steps:
            if not in_view(form):
                form.go("section.fish")
            row = form.rows[in_view(form)[int(share * len(in_view(form)))]]
            choices = [value for _, value in getattr(row.field, "options", ())] if hasattr(row.field, "index") else []
            row.field.value = choices[int(share * len(choices))] if choices else typed
            if turn:
                form.go(turn) if "." in turn else getattr(form, turn)()
            assert len(in_view(form)) <= 7
            told = own.read_told(folder)
            assert all(told.get(name, {}) == form.story.typed.get(name, {}) for name in {*told, *form.story.typed})
            assert not row.refused or row.field.value == typed
            for place in in_view(form):
                shown = form.rows[place]
                assert shown.refused or shown.typed == story.answer_in_field(form.story, shown.question)


# The ruler, and where no widget lives


@pytest.mark.parametrize(
    ("typed", "wide", "said"), [("6 mm", 6.0, "6 mm"), ("1/4 in", 6.35, "1/4 in"), ("1 cm", 10.0, "10 mm")]
)
def test_the_ruler_shows_a_piece_in_true_size(typed, wide, said):
    picture = rulers.ruler({"thickness": typed, "form": "strips"}, Choice("both"))
    bars = re.findall(r'<rect x="1" y="[\d.]+" width="([\d.]+)"', picture)
    assert [float(bar) for bar in bars] == [wide]
    size = re.search(r'width="(\d+)mm" height="(\d+)mm" viewBox="0 0 (\d+) (\d+)"', picture).groups()
    assert size[:2] == size[2:]
    assert said in re.search(r'aria-label="([^"]+)"', picture)[1]


def test_the_ruler_has_a_mark_for_each_millimetre_and_sixteenth():
    lines = re.findall(r'<line x1="([\d.]+)" y1="([\d.]+)"', rulers.ruler({}, Choice("us")))
    metric = sorted(float(x) - 1 for x, y in lines if float(y) == 1)
    inches = sorted((float(x) - 1) / 25.4 for x, y in lines if float(y) != 1)
    assert metric == pytest.approx(range(51)) and inches == pytest.approx(
        [part / 16 for part in range(len(inches))], abs=1e-4
    )
    assert len(inches) > 16


def test_the_ruler_stands_where_thickness_is_asked_only(tmp_path, unplanned):
    form = story.story_form(tmp_path)
    assert form._ruler.value == ""
    form.go("section.cut")
    assert "<svg" in form._ruler.value
    form.rows["cut.thickness"].field.value = "7 mm"
    assert "7 mm" in form._ruler.value


def test_where_no_widget_lives_the_form_says_what_it_asks(tmp_path, unplanned):
    told = story.story_form(tmp_path)._repr_mimebundle_()
    assert "The fish (9)" in told["text/plain"] and "Keeping (3)" in told["text/html"]


def test_what_stands_in_the_bath_already_is_said_and_another_amount_gets_its_buttons(tmp_path, unplanned):
    (tmp_path / own.FILE).write_text(text_of(Story(TOLD), own.FILE), encoding="utf-8")
    form = story.story_form(tmp_path)
    row = find(form, "brine.ingredient.2.what")
    row.field.value = "40 g pickling salt"
    assert "stands already" in row.became + form._heard.value and len(form.story.get("brine.ingredient")) == 1
    row.field.value = "50 g pickling salt"
    shown = [one.description for one in row._offers if "fy-hidden" not in one._dom_classes]
    assert shown == ["pickling salt, 40 g", "pickling salt, 50 g", "both: pickling salt, 40 g and 50 g more"]
    row._offers[1].click()
    assert form.story.get("brine.ingredient") == [{"what": "pickling salt", "amount": "50 g"}]
    row.field.value = "60 g pickling salt"
    row._offers[0].click()
    assert form.story.get("brine.ingredient") == [{"what": "pickling salt", "amount": "50 g"}] and not row.refused
