"""The salt panel: both ends of every slider, directions, what is said, and the learner's own soaks."""

import re
from dataclasses import replace

import numpy as np
import pytest

from flakeyard import messages
from flakeyard.steps.intent.batch_file import said
from flakeyard.steps.plan.soaking import soak_piece, time_to
from flakeyard.workbook import own
from flakeyard.workbook.panels import salt as salt_panel
from flakeyard.workbook.panels.panel import Choice

HERON = own.demo_batch("heron")
START = {control.name: control.start for control in salt_panel.controls_for(HERON)}
ENDS = [(control.name, value) for control in salt_panel.CONTROLS for value in (control.low, control.high)]


@pytest.fixture(scope="module")
def panel():
    return salt_panel.salt_panel()


def check_orders(result):
    low, mid, high = result.profile
    assert np.isfinite([low, mid, high, result.brined, result.rested]).all()
    assert (low <= mid).all() and (mid <= high).all() and low.min() >= 0 and high.max() < 0.31
    for band in (result.mean, result.middle, result.ceiling, result.sodium):
        assert 0 < band.low <= band.mid <= band.high
    assert result.sodium.high < 30_000 * 0.4  # the portion is not salt alone


@pytest.mark.parametrize(("name", "value"), [("thickness", START["thickness"]), *ENDS])
def test_every_end_of_every_slider_computes_and_tells(name, value, panel):
    check_orders(soak_piece(HERON, **START | {name: value}))
    panel.set(**START | {name: value})
    assert panel.trouble is None
    told = " ".join((panel.said.sentence, panel.said.how_sure, panel.said.caution, panel.said.alt))
    assert not re.search(r"nan|None|inf\b|not known", told)
    assert panel.said.sentence in panel.said.alt and "When in doubt, throw it out." in panel.said.caution


@pytest.mark.parametrize("faces", [1.0, 2.0])
@pytest.mark.parametrize("waters", [0.0, 6.0])
def test_corners_of_all_sliders_together(faces, waters):
    lowest = {control.name: control.low for control in salt_panel.CONTROLS}
    highest = {control.name: control.high for control in salt_panel.CONTROLS}
    for corner in (lowest, highest):
        check_orders(soak_piece(HERON, **corner | {"faces": faces, "waters": waters}))


def test_a_saltiness_the_brine_cannot_give_is_told_as_not_known():
    assert Choice().show_band(time_to(HERON, 0.08), "time") == "not known"


def test_a_very_salty_portion_is_warned_of(panel):
    panel.set(**START | {"strength": 0.26})
    assert "more than half of a day's sodium" in panel.said.caution
    panel.set(**START | {"strength": 0.02})
    assert "more than half" not in panel.said.caution and "Salt does not make this fish keep" in panel.said.caution


def test_soaked_fish_is_called_fresh_fish(panel):
    panel.set(**START | {"waters": 2.0})
    assert "Soaking salt out puts water back in" in panel.said.caution


def test_units_follow_the_choice():
    choice = Choice("metric")
    shown = salt_panel.salt_panel(choice=choice)
    assert shown.setup["controls"][0]["readings"][2] == "5 mm" and "30 g holds" in shown.said.sentence
    choice.system = "us"
    assert shown.setup["controls"][0]["readings"][2] == "0.2 in" and "1.1 oz holds" in shown.said.sentence
    assert shown.record["fields"][1]["across"]["label"].startswith("inches")


def test_skin_closes_the_lower_face_and_the_scale_follows_the_brine_alone(panel):
    panel.set(**START | {"faces": 1.0, "strength": 0.12})
    piece, button = panel.record["fields"][0]["marks"][1], panel.record["buttons"][0]
    assert (
        piece["skin"]
        and piece["shade"][-1] == min(piece["shade"])
        and piece["words"][0]["words"].startswith("at the skin")
    )
    assert button["value"] == 2.0 and button["pressed"]
    assert panel.record["fields"][1]["up"]["high"] == 16.0


def test_a_lesson_may_begin_at_two_hours():
    shown = salt_panel.salt_panel(time=7200.0)
    shown.set(time=36_000.0)
    start = {one["name"]: one["start"] for one in shown.setup["controls"]}
    assert start == START | {"time": 7200.0}


@pytest.mark.parametrize(
    ("name", "move", "told"),
    [
        ("saw_1", {"time": 7200.0}, ("3.8 %",)),
        ("saw_1", {"time": 14_400.0}, ("4.4 %",)),
        ("saw_1", {"time": 7200.0, "thickness": 0.010}, ("2.4 %", "0.5 %")),
        ("saw_2", {"waters": 4.0}, ("1.0 %", "1.5 %")),
        ("saw_3", {"time": 86_400.0}, ("4.7 %",)),
        ("saw_3", {"time": 86_400.0, "strength": 0.12}, ("7.0 %",)),
        ("saw_3", {"time": 86_400.0, "brine": 3.0}, ("6.4 %",)),
    ],
)
def test_what_the_folded_answers_say_can_be_seen(name, move, told):
    soaked = soak_piece(HERON, **START | move)
    seen = [f"{100 * part.mid:.1f} %" for part in (soaked.mean, soaked.middle, soaked.ceiling)]
    assert set(told) <= set(seen) and all(text in messages.texts()[f"live.salt.{name}"] for text in told)


@pytest.mark.parametrize(("knot", "told"), [(0.0, "too little"), (2.7, "in the likely range"), (8.0, "too much")])
def test_a_guess_is_compared_in_the_middle(knot, told):
    shown = salt_panel.salt_panel(time=7200.0, choice=Choice("metric"))
    guess = {"x": [0.0, 2.5, 5.0], "y": [4.0, knot, 4.0]}
    reply = salt_panel.reply_salt(shown.result(**shown.values), guess, shown.choice)
    assert told in reply and shown.record["numbers"][1]["text"] in reply


def test_sliders_start_at_the_batch_and_stay_inside():
    otter = {control.name: control.start for control in salt_panel.controls_for(own.demo_batch("otter"))}
    assert (otter["thickness"], otter["strength"], otter["time"]) == (0.009, 0.12, 21600.0)
    thick = replace(HERON, cut=replace(HERON.cut, thickness=0.028, thinnest=None, thickest=None))
    assert {c.name: c.start for c in salt_panel.controls_for(thick)}["thickness"] == 0.020
    kingfisher = salt_panel.salt_panel(own.demo_batch("kingfisher"))  # dry salted: the brine sliders start as usual
    assert kingfisher.trouble is None and kingfisher.values["strength"] == 0.08


# the learner's own soaks

TYPED = {"time": "6 h", "temperature": "3 °C", "water": "3 L", "each": "45 min", "at": "4 °C", "changes": "2", "serving": "1 oz"}  # fmt: skip


def test_own_soaks_are_kept_and_an_older_file_stays(tmp_path):
    first = salt_panel.keep_soaks(TYPED, Choice("metric"), tmp_path)
    assert first.startswith("Saved in my-batch.toml.") and "throw it out" in first
    kept = own.own_batch(tmp_path)
    assert kept.brine.time == 21600.0 and kept.freshen[0].changes == 2 and said(kept, "serving") == "1 oz"
    assert own.own_told(tmp_path).keys() == {"brine", "freshen", "serving"}
    assert own.own_told(tmp_path)["brine"].keys() == {"time", "temperature"} and "brine ingredient" in first
    salt_panel.keep_soaks(TYPED | {"time": "8 h"}, Choice(), tmp_path)
    assert 'time = "6 h"' in (tmp_path / "my-batch-1.toml").read_text(encoding="utf-8")


def test_own_soaks_keep_what_another_form_saved_meanwhile(tmp_path):
    form = salt_panel.own_soaks_form(Choice(), tmp_path)
    own.keep_numbers({("cut", "thickness"): "5 mm"}, tmp_path)
    form.children[len(salt_panel.SOAKS)].click()
    assert own.own_told(tmp_path) == {"cut": {"thickness": "5 mm"}}


def test_empty_fields_take_the_fresh_waters_out(tmp_path):
    salt_panel.keep_soaks(TYPED, Choice(), tmp_path)
    salt_panel.keep_soaks(TYPED | dict.fromkeys(("water", "each", "at", "changes", "serving"), " "), Choice(), tmp_path)
    kept = own.own_batch(tmp_path)
    assert kept.freshen == () and said(kept, "serving") == ""


@pytest.mark.parametrize(
    ("field", "typed", "told"),
    [
        ("time", "10", "a unit is missing"),
        ("time", "", "time"),
        ("water", "", "water"),
        ("at", "", "temperature"),
        ("changes", "2.5", "whole number"),
        ("changes", "many", "How many waters"),
        ("serving", "30 °C", "a mass"),
    ],
)
def test_a_mistake_is_told_and_nothing_is_written(field, typed, told, tmp_path):
    reply = salt_panel.keep_soaks(TYPED | {field: typed}, Choice(), tmp_path)
    assert reply.startswith("Not saved:") and told in reply
    assert list(tmp_path.iterdir()) == []


def test_form_shows_what_the_file_says(tmp_path):
    salt_panel.keep_soaks(TYPED, Choice(), tmp_path)
    form = salt_panel.own_soaks_form(Choice(), tmp_path)
    shown = [field.value for field in form.children[: len(salt_panel.SOAKS)]]
    assert shown == list(TYPED.values())
