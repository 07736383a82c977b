"""The logbook panel: every step of its slider, its form, and what it says."""

import json
import re
from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest
from traitlets import TraitError

from flakeyard.steps.intent.batch_file import save_batch
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.learn.book import Trial, only, width
from flakeyard.steps.learn.jumps import jump
from flakeyard.steps.learn.logbook import read_log
from flakeyard.workbook import own
from flakeyard.workbook.panels import batch_book as bb
from flakeyard.workbook.panels import log_form
from flakeyard.workbook.panels import logbook as lp
from flakeyard.workbook.panels.panel import Choice

TYPED = {"time": "2026-11-20 21:00", "tray": "1", "mass": "169", "event": "", "note": ""}


@pytest.fixture(scope="module")
def heron():
    return bb.demo_book("heron")


@pytest.fixture
def panel(heron):
    heron.restore()
    return lp.logbook_panel(heron, Choice("metric"), start=1)


def press(panel, **typed):
    for name, text in typed.items():
        panel.form.fields[name].value = text
    panel.form.buttons.children[0].click()
    return panel.form.told.value


def marks(panel, kind, field=0, style=""):
    found = panel.live.record["fields"][field]["marks"]
    return [mark for mark in found if mark["kind"] == kind and style in mark.get("style", style)]


def test_every_step_has_its_own_picture_and_sentence_on_axes_that_stand_still(panel):
    seen, frames = [], set()
    for used in range(7):
        panel.set(used=used)
        assert panel.trouble is None
        record, said = panel.live.record, panel.said
        seen.append((said.sentence, json.dumps(record["fields"])))
        frames.add(json.dumps([(field["across"], field["up"]) for field in record["fields"]]))
        told = " ".join([said.sentence, said.how_sure, said.caution, said.alt, *sum(said.numbers + said.chips, ())])
        assert not any(word in told for word in ("nan", "None", "inf ")), told
    assert len({sentence for sentence, _ in seen}) == len({drawn for _, drawn in seen}) == 7 and len(frames) == 1


def test_the_picture_holds_what_was_known_then_and_nothing_that_came_later(panel):
    for used in (0, 2, 6):
        panel.set(used=used)
        step, handle = panel.book.at(used), panel.live.record["handles"][0]
        assert handle["places"][used] == handle["stands"] == (panel.book.moments[used - 1] if used else 0.0)
        assert len([dot for dot in marks(panel, "point") if not dot["words"]]) == used + 1
        assert [bar["at"] for bar in marks(panel, "bar", 1)] == list(range(used + 1))
        assert bool(marks(panel, "curve", 1)) == (step.happened is not None and used == 6)
        low, mid, high = step.curve(step.learned.course, step.learned.log, np.linspace(0, 12, 30))
        assert np.all(low <= mid) and np.all(mid <= high) and np.all(np.diff(mid) <= 1e-12)


def test_the_bars_are_the_forecasts(panel):
    panel.set(used=3)
    for bar, made in zip(marks(panel, "bar", 1), panel.book.at(3).made, strict=True):
        assert (bar["from"], bar["middle"], bar["to"]) == pytest.approx((made.low, made.mid, made.high), rel=1e-3)


def test_the_next_weighing_is_guessed_before_it_is_shown_and_then_the_band_closes(panel):
    asked = panel.live.record["guessed"]
    assert asked["at"] == [4.0] and asked["then"] == {"used": 2} and asked["start"] == 68.0
    before = dict(panel.said.numbers)
    knots = {"x": asked["ends"], "y": [54.0] * 2, "knots": [54.0], "values": {"used": 1.0}}
    question = {"who": "me", "serial": 1, "values": asked["then"], "rest": {"used": 1.0}, "guess": knots}
    panel.live._asked(panel.live, question, [])
    reply = panel.live.record["reply"]
    assert panel.values == {"used": 2} and "You guessed 54 %; the scale showed 52 %" in reply and "Near" in reply
    hours = [float(numbers["so wide is that"].split()[0]) for numbers in (before, dict(panel.said.numbers))]
    assert hours[1] < hours[0] and panel.live.record["guessed"]["at"] == [5.0]
    panel.set(used=6)
    assert panel.live.record["guessed"] is None


def test_the_sentence_tells_finish_plan_pace_and_next_weighing(panel):
    panel.set(used=2)
    said = panel.said
    for part in ("After weighing 2", "The plan said", "times as long as planned", "Weigh again"):
        assert part in said.sentence
    assert "by itself" in said.how_sure and "not proof that fish is safe" in said.caution
    panel.set(used=0)
    assert "without a weighing" in panel.said.how_sure and "by itself" not in panel.said.how_sure


def test_a_typed_weighing_shrinks_the_band(panel):
    before = width(panel.book.learned(1).hours_to_target)
    told = press(panel, mass="169")
    assert "scratch copy" in told and "wide" in told
    assert panel.values == {"used": 2} and panel.trouble is None
    assert width(panel.book.learned(2).hours_to_target) < before
    assert panel.form.typed | {"note": ""} == {**TYPED, "tray": "2", "mass": ""}  # ready for the next tray


def test_each_question_at_the_foot_is_done_as_written_and_its_answer_is_what_is_seen(panel):
    saw = [answer for _, answer in panel.live.setup["look_for"]]
    wide = [width(panel.book.learned(n).hours_to_target) for n in range(7)]
    assert [f"{hours:.0f}" for hours in wide[:3]] == re.findall(r"\b\d+\b", saw[0])
    assert wide[2] - min(wide[3:]) < 0.5  # hardly any more
    press(panel, mass="169")
    narrower = 1 - width(panel.book.learned(2).hours_to_target) / wide[1]
    assert 0.15 < narrower < 0.27 and "about a fifth narrower" in saw[1]
    press(panel, mass="191")
    assert "weigh again" in saw[1] and len(panel.book.learned(2).set_aside) == 1
    panel.book.restore()
    panel.set(used=6)
    assert "Nobody weighed the thickest piece by itself" in panel.said.how_sure and saw[2].startswith("Nobody weighed")


def test_a_mistake_is_told_and_nothing_typed_is_lost(panel):
    sentence = panel.said.sentence
    told = press(panel, mass="280", note="wet")
    assert told.startswith("Not kept") and "gained more than 2 %" in told
    assert panel.form.typed == TYPED | {"mass": "280", "note": "wet"}
    assert panel.said.sentence == sentence and len(panel.book.moments) == 6


def test_back_to_the_start_brings_the_log_back(panel):
    press(panel, mass="169")
    question = {"who": "me", "serial": 9, "values": {"used": 1}, "rest": {}, "guess": None, "back": True}
    panel.live._asked(panel.live, question, [])
    assert len(panel.book.moments) == 6 and panel.values == {"used": 1} and panel.live.record["serial"] == 9
    assert len(panel.live.setup["controls"][0]["values"]) == 7
    assert panel.form.typed == TYPED | {"mass": ""}


def test_a_log_that_does_not_fit_is_told_without_a_forecast():
    other = only(bb.demo_book("kingfisher").log, 6.0)
    strange = lp.LogbookPanel(Trial(own.demo_batch("otter"), other), Choice("metric"))
    assert strange.trouble is None
    assert "does not fit the plan" in strange.said.sentence and "not known" in strange.said.how_sure
    assert "Weigh again" not in strange.said.sentence
    assert not strange.said.numbers and strange.live.record["sentence"] == strange.said.sentence
    assert not marks(strange, "curve", style="now") and not marks(strange, "band", style="now")
    assert not [dot for dot in marks(strange, "point") if dot["words"]]


def test_units_follow_the_choice():
    panel = lp.logbook_panel(bb.demo_book("heron", pack="paper bag"), Choice("metric"), start=1)
    for system in ("us", "both", "metric"):
        panel.choice.system = system
        assert panel.trouble is None and ("°F" in panel.said.caution) == (system != "metric")
        reading = panel.live.controls[0].reading(2, panel.choice)
        assert reading == "2, after 4 h" and panel.static().settings.endswith("1, after 2 h")


def test_changes_are_ranked_below_the_panel(panel):
    panel.set(used=5)
    panel.form.buttons.children[2].click()
    assert "the most hours first" in panel.form.told.value
    saved = [int(share) for share in re.findall(r">(-?\d+) %<", panel._table.value)]
    assert len(saved) > 2 and saved == sorted(saved, reverse=True)
    assert panel._table.value.index("thinner") < panel._table.value.index("half as much")


def test_rows_of_the_strip_are_the_first_and_the_latest():
    assert lp.rows_shown(5) == [0, 1, 2, 3, 4, 5]
    assert lp.rows_shown(20) == [0, 13, 14, 15, 16, 17, 18, 19, 20]
    assert len(lp.rows_shown(8)) == len(lp.rows_shown(9)) == lp.ROWS


@pytest.mark.parametrize(
    ("changed", "row"),
    [
        ({}, {"time": "2026-11-20 21:00", "tray": "1", "mass_g": 169}),
        ({"mass": "7,25 oz"}, {"time": "2026-11-20 21:00", "tray": "1", "mass_g": 205.53}),
        ({"mass": "", "tray": "", "event": "pause"}, {"time": "2026-11-20 21:00", "event": "pause"}),
        (
            {"mass": " 0.5 kg ", "note": "moist"},
            {"time": "2026-11-20 21:00", "tray": "1", "mass_g": 500, "note": "moist"},
        ),
    ],
)
def test_what_is_typed_becomes_a_row(changed, row):
    """An ounce is 28.349523125 g (nist_hb44): 7.25 oz are 205.53 g."""
    assert log_form.read_row(TYPED | changed) == row


@pytest.mark.parametrize(
    ("changed", "word"),
    [
        ({"mass": "9 stone"}, "stone"),
        ({"mass": ""}, "scale"),
        ({"time": " "}, "when"),
        ({"tray": ""}, "which tray"),
        ({"mass": "-3"}, "more than zero"),
    ],
)
def test_what_cannot_be_a_row_is_refused(changed, word):
    with pytest.raises(log_form.InputError, match=word):
        log_form.read_row(TYPED | changed)


def test_narrower_in_words():
    wide, thin = Band(4.0, 6.0, 9.0), Band(5.0, 6.0, 7.0)
    assert lp.narrower(wide, thin) == "The likely range went from 5.0 to 2.0 h wide."
    assert "not known" in lp.narrower(wide, Band(None, None, None))
    assert "upper end" in lp.narrower(wide, Band(5.0, 6.0, None))


# one's own logbook


@pytest.fixture
def heron_told(tmp_path):
    """A learner's folder with a whole plan: Heron's, told as one's own."""
    save_batch(own.demo_batch("heron"), tmp_path / own.FILE)


@pytest.fixture
def mine(tmp_path, heron_told):
    panel = lp.own_logbook(tmp_path, Choice("metric"), start="2026-12-05 18:00")
    return tmp_path, panel


def test_an_empty_logbook_has_no_slider_and_suggests_now(tmp_path, heron_told):
    panel = lp.LogbookPanel(bb.own_book(tmp_path), clock=lambda: datetime(2026, 12, 6, 5, 7))
    assert panel.trouble is None and panel.live.setup["controls"] == panel.live.record["handles"] == []
    assert panel.form.typed == {"time": "2026-12-06 05:07", "tray": "1", "mass": "", "event": "", "note": ""}
    assert "Weigh 3.3 h" in panel.said.sentence and not (tmp_path / bb.LOG).exists()


def test_nobodys_verdict_is_shown_where_no_batch_is_told(tmp_path):
    panel = lp.own_logbook(tmp_path)
    assert "Still the demonstration's" in panel.said.caution and "No verdict is yours before" in panel.said.caution
    assert "histamine" not in panel.said.caution
    (tmp_path / own.FILE).write_text('[fish]\nspecies = "Yellowfin tuna"\nhours_above_4c = 30\n', encoding="utf-8")
    told = lp.own_logbook(tmp_path).said.caution  # what is told speaks against it, whatever else is borrowed
    assert "Still the demonstration's" in told and "histamine" in told


def test_rows_are_in_the_file_at_once_and_twice_pressed_is_once_kept(mine):
    folder, panel = mine
    for number, grams in enumerate((322, 321), 1):
        press(panel, time="2026-11-20 17:00", mass=str(grams))
        assert read_log(folder / bb.LOG).entries[-1].tray == str(number)
    plan = width(panel.book.learned(0).hours_to_target)
    press(panel, time="19:00", tray="1", mass="220")
    assert "in the log already" in press(panel, tray="1", mass="220")
    log = read_log(folder / bb.LOG)
    assert len(log.entries) == 3 and log.moments == (2.0,)
    assert len(panel.live.setup["controls"]) == len(panel.live.record["handles"]) == 1
    assert panel.live.record["guessed"] is None and not panel.live.setup["guess_prompt"]  # what comes is not known
    assert width(panel.book.learned(1).hours_to_target) < plan
    press(panel, time="19:30", tray="", mass="", event="pause")
    assert read_log(folder / bb.LOG).entries[-1].event == "pause"


def test_a_refused_row_leaves_the_file_as_it_was(mine):
    folder, panel = mine
    press(panel, time="2026-11-20 17:00", mass="322")
    before = (folder / bb.LOG).read_bytes()
    assert "Not kept" in press(panel, time="yesterday", mass="300")
    panel.form._refused_at = -np.inf  # a second later
    assert "runs backwards" in press(panel, time="2026-11-20 16:00")
    assert (folder / bb.LOG).read_bytes() == before
    assert panel.form.typed["mass"] == "300"


def test_an_answer_that_arrives_after_the_press_is_taken(mine):
    folder, panel = mine
    assert "Not kept" in press(panel, time="2026-11-20 17:00", tray="1", mass="")
    panel.form.fields["mass"].value = "322"  # the page sends it late
    assert read_log(folder / bb.LOG).entries[-1].mass == pytest.approx(0.322)


def test_card_and_dryer_are_saved_by_their_buttons(tmp_path):
    (tmp_path / bb.LOG).write_text("time,tray,mass_g\n2026-11-20 17:00,1,322\n19:00,1,220\n", encoding="utf-8")
    panel = lp.own_logbook(tmp_path, start="2026-12-05 18:00")
    card, dryer = panel.form.buttons.children[3:]
    card.click()
    assert "my-batch-card.pdf" in panel.form.told.value and (tmp_path / bb.CARD).exists()
    dryer.click()
    assert "my-dryer.toml" in panel.form.told.value and (tmp_path / bb.DRYER).exists()


def test_a_log_that_cannot_be_read_is_told_in_the_form(tmp_path):
    (tmp_path / bb.LOG).write_text("time,tray\n17:00,1\n", encoding="utf-8")
    panel = lp.own_logbook(tmp_path)
    assert "no column holds a mass" in panel.form.told.value
    assert panel.trouble is None


def test_the_marked_piece_that_is_light_enough_is_said_to_be_dry_by_weight(tmp_path, heron_told):
    lines = ["time,tray,mass_g"]
    for clock, piece in (("2026-11-20 17:00", 24), ("2026-11-20 20:00", 18), ("2026-11-21 04:00", 10.2)):
        lines.append(f"{clock},thickest,{piece}")
    (tmp_path / bb.LOG).write_text("\n".join([*lines, ""]), encoding="utf-8")
    panel = lp.own_logbook(tmp_path)
    assert "dry by weight" in panel.said.sentence and "not proof that fish is safe" in panel.said.caution
    assert panel.book.at(2).by_piece and "by itself" not in panel.said.how_sure


# traps of the form


def laid(panel, *rows):
    """Put rows into one's own log by the form: clock, tray, grams."""
    return [press(panel, time=clock, tray=tray, mass=str(grams)) for clock, tray, grams in rows]


def later(panel):
    """Two seconds go by."""
    panel.form._done_at = panel.form._refused_at = -np.inf


def test_what_can_be_on_the_scale_is_a_choice_of_the_plans_trays(mine):
    _, panel = mine
    tray = panel.form.fields["tray"]
    assert [value for _, value in tray.options] == ["1", "2", "3", "4", "5", "thickest", "all", ""]
    assert [words for words, _ in tray.options][4:7] == ["tray 5", "the marked piece, by itself", "all trays together"]
    with pytest.raises(TraitError):
        tray.value = "tray2"
    (told,) = laid(panel, ("2026-11-20 17:00", "thickest", 24))
    assert "the marked piece, by itself, 24 g: kept" in told and tray.value == "thickest"


def test_a_tray_that_only_the_log_names_can_be_chosen_too(tmp_path, heron_told):
    (tmp_path / bb.LOG).write_text("time,tray,mass_g,event,note\n2026-11-20 17:00,top,322,,\n", encoding="utf-8")
    panel = lp.own_logbook(tmp_path)
    assert "top" in [value for _, value in panel.form.fields["tray"].options]


def test_a_double_click_keeps_one_row_and_its_message_stays(mine):
    folder, panel = mine
    (told,) = laid(panel, ("2026-11-20 17:00", "1", 322))
    panel.form.buttons.children[0].click()  # it was waiting while the kernel worked
    assert panel.form.told.value == told and len(read_log(folder / bb.LOG).entries) == 1
    panel.form.fields["mass"].value = "321"  # of the next tray, typed at once: kept only when the button is pressed
    assert len(read_log(folder / bb.LOG).entries) == 1
    later(panel)
    panel.form.fields["mass"].value = ""
    panel.form.buttons.children[0].click()
    assert panel.form.told.value.startswith("Not kept") and "scale" in panel.form.told.value


def test_the_last_row_is_taken_back_and_stands_in_the_form_again(mine):
    folder, panel = mine
    laid(panel, ("2026-11-20 17:00", "1", 322))
    first = (folder / bb.LOG).read_bytes()
    laid(panel, ("19:00", "1", 220))
    undo = panel.form.buttons.children[1]
    undo.click()
    assert panel.form.told.value.startswith("Taken back: 19:00") and (folder / bb.LOG).read_bytes() == first
    assert panel.form.typed == {"time": "19:00", "tray": "1", "mass": "220", "event": "", "note": ""}
    assert len(panel.book.moments) == 0 and "without a weighing" in str(panel.said)
    undo.click()
    assert not (folder / bb.LOG).exists() and panel.form.typed["mass"] == "322"
    undo.click()
    assert "Nothing was kept from here" in panel.form.told.value


def test_a_row_is_not_taken_back_from_a_file_changed_elsewhere(mine):
    folder, panel = mine
    laid(panel, ("2026-11-20 17:00", "1", 322))
    changed = (folder / bb.LOG).read_bytes() + b"2026-11-20 19:00,1,220,,\n"
    (folder / bb.LOG).write_bytes(changed)
    panel.form.buttons.children[1].click()
    assert "changed elsewhere" in panel.form.told.value and (folder / bb.LOG).read_bytes() == changed


def test_a_weight_far_from_the_one_expected_is_asked_back(mine):
    folder, panel = mine
    laid(panel, ("2026-11-20 17:00", "1", 322))
    before = (folder / bb.LOG).read_bytes()
    (told,) = laid(panel, ("2026-11-20 19:00", "1", 150))
    assert told.startswith("Not kept yet: 150 g for tray 1 is") and "% less" in told
    assert (folder / bb.LOG).read_bytes() == before and panel.form.typed["mass"] == "150"
    panel.form.buttons.children[0].click()  # of a double click: no answer to the question
    assert (folder / bb.LOG).read_bytes() == before
    later(panel)
    panel.form.fields["mass"].value = "318"
    panel.form.buttons.children[0].click()
    assert "% more" in panel.form.told.value and (folder / bb.LOG).read_bytes() == before
    later(panel)
    panel.form.buttons.children[0].click()
    assert "318 g: kept in" in panel.form.told.value and len(read_log(folder / bb.LOG).entries) == 2


def test_the_demonstrations_own_weighings_are_not_asked_back(heron):
    heron.restore()
    for entry in heron.log.weighings:
        seen = heron.upto(heron.moments.index(entry.hours)) if entry.hours else heron.upto(0)
        log = replace(heron.log, entries=(*seen.entries, entry))
        assert jump(heron.what_if(seen), log) is None


def test_that_a_weighing_was_set_aside_is_said(heron):
    heron.restore()
    learned, log = heron.learned(5), heron.log
    assert log_form.aside_words(replace(learned, set_aside=(log.entries[0],)), log) == ""
    assert "set aside" in log_form.aside_words(replace(learned, set_aside=(log.entries[-1],)), log)


def test_the_answer_to_a_row_that_was_set_aside_begins_with_that(mine, monkeypatch):
    _, panel = mine
    monkeypatch.setattr(lp, "aside_words", lambda learned, log: f"Set aside, line {log.entries[-1].line}.")
    (told,) = laid(panel, ("2026-11-20 17:00", "1", 322))
    assert "Set aside, line 2." in told
