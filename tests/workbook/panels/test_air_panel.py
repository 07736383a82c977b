"""The panel of the air in the dryer: finite and ordered everywhere, right directions, words for every outcome."""

import io
import re

import numpy as np
import pytest
from PIL import Image

from flakeyard.steps.intent.batch_file import said, with_typed, without
from flakeyard.steps.plan import loading
from flakeyard.workbook import own
from flakeyard.workbook.panels import air as air_panel
from flakeyard.workbook.panels.panel import Choice

HERON = own.demo_batch("heron")
LAID = loading.lay(HERON)
START = {"load": 1.5, "faces": 2.0, "temperature": 70.0, "heater": 500.0, "humidity": 0.5}
CONTROLS = air_panel.air_controls(HERON, LAID)
ENDS = [(control.name, value) for control in CONTROLS for value in (control.low, control.start, control.high)]


def run(batch=HERON, laid=LAID, **values):
    return loading.fill_dryer(batch, laid, **(START | values))


def told(load, system="both"):
    return air_panel.tell_air(load, Choice(system))


@pytest.fixture(scope="module")
def usual():
    return run()


@pytest.fixture(scope="module")
def panel():
    return air_panel.air_panel(HERON)


@pytest.mark.parametrize(("name", "value"), ENDS)
def test_at_every_end_of_every_slider_numbers_are_finite_ordered_and_told(name, value):
    load = run(**{name: value})
    assert np.isfinite(load.fish).all() and np.isfinite(load.air).all()
    assert (np.diff(load.hours) > 0).all() and (np.diff(load.fish, axis=0) >= 0).all()
    assert load.clock.low <= load.clock.mid <= load.clock.high
    assert load.fish.max() <= load.dial + 1e-6 and load.air.max() <= load.dial + 1e-6
    words = told(load)
    for text in (words.sentence, words.how_sure, words.caution, words.alt):
        assert text and not re.search(r"\b(nan|None|inf)\b", text)


def test_moving_any_slider_changes_picture_and_sentence_at_both_ends(panel):
    for name, slider in panel.sliders.items():
        seen = set()
        for index in (0, len(slider.options) - 1):
            slider.index = index
            assert panel.trouble is None, (name, index, panel.trouble)
            seen.add((panel._image.value, panel.said.sentence))
        assert len({image for image, _ in seen}) == len({sentence for _, sentence in seen}) == 2, name
        panel.set(**START)


def test_what_does_not_get_dry_in_time_is_not_known_and_has_no_point_in_the_picture():
    wet = run(load=8.0, heater=200.0, faces=1.0, temperature=35.0, humidity=0.9)
    assert wet.done.mid is None
    words = told(wet)
    assert "not known" in words.sentence and "48 h" in words.sentence and "for 0" not in words.sentence
    picture = air_panel.air_picture(Choice())
    air_panel.draw_air(picture, wet, Choice())
    assert not picture["done"].get_visible() and not picture["done_words"].get_visible()


def test_overlap_is_told_only_when_the_trays_are_overfull(usual):
    assert "overlap" not in told(usual).sentence
    assert "overlap" in told(run(load=6.0)).sentence


def test_the_air_is_told_only_when_it_falls():
    assert "The air falls to" not in told(run(load=0.25)).sentence
    assert "The air falls to" in told(run(load=4.0)).sentence


def test_the_caution_says_that_the_dial_heats_nothing_and_what_counts_for_raw_fish(usual):
    assert "The dial of the dryer is not a heating step." in told(usual).caution
    assert "gloves" in told(usual).caution and "teaching estimate" in told(usual).caution
    assert "not known" in told(run(temperature=63.0)).caution
    raw = without(HERON, "heat")
    cold = run(raw, loading.lay(raw))
    assert "There is no heating step" in told(cold).caution and cold.fish_at(0.0) == pytest.approx(5.0, abs=0.5)


def test_units_follow_the_choice(usual):
    metric, us = told(usual, "metric"), told(usual, "us")
    assert "70 °C" in metric.sentence and "°F" not in metric.sentence
    assert "158 °F" in us.sentence and "°C" not in us.sentence


@pytest.mark.parametrize("system", ["metric", "us", "both"])
def test_all_words_of_the_picture_lie_inside_it_and_apart(system, usual):
    choice = Choice(system)
    picture = air_panel.air_picture(choice)
    air_panel.draw_air(picture, usual, choice)
    picture.image()
    on = picture.figure.axes[0]
    boxes = [text.get_window_extent() for text in (*on.texts, picture["done_words"], on.xaxis.label, on.yaxis.label)]
    boxes.append(on.get_legend().get_window_extent())
    edge = picture.figure.bbox
    assert all(box.x0 >= 0 and box.y0 >= 0 and box.x1 <= edge.x1 and box.y1 <= edge.y1 for box in boxes)
    zone, point = on.texts[0].get_window_extent(), picture["done_words"].get_window_extent()
    assert not zone.overlaps(point)


def test_sides_are_numbered_in_the_chosen_units():
    ticks = {}
    for system in ("metric", "us", "both"):
        picture = air_panel.air_picture(Choice(system))
        picture.image()
        on = picture.figure.axes[0]
        ticks[system] = [label.get_text() for label in on.get_yticklabels()], len(on.child_axes)
    assert "60" in ticks["metric"][0] and ticks["metric"][1] == 0
    assert "140" in ticks["us"][0] and ticks["us"][1] == 0
    assert "60" in ticks["both"][0] and ticks["both"][1] == 1


def test_fish_with_skin_on_one_side_has_no_slider_for_faces():
    names = [control.name for control in air_panel.air_controls(with_typed(HERON, "cut", skin="one side"), LAID)]
    assert "faces" not in names and "load" in names


def test_a_batch_outside_the_sliders_starts_at_their_end():
    controls = {
        control.name: control for control in air_panel.air_controls(with_typed(HERON, "dryer", heater="3 kW"), LAID)
    }
    assert controls["heater"].start == controls["heater"].high


def test_the_static_twin_is_a_picture_with_its_words(panel):
    twin = panel.static()
    assert "Fish on the trays" in str(twin) and panel.said.sentence in str(twin)
    assert Image.open(io.BytesIO(twin.png)).size[0] > 600


# the learner's own dryer


def typed_fields(**changes):
    typed = {(one.section, one.name): said(HERON, one.section, one.name) for one in air_panel.OWN_FORM}
    return typed | {tuple(name.split("__")): text for name, text in changes.items()}


def test_own_dryer_is_kept_and_read_again(tmp_path):
    told = air_panel.keep_dryer(typed_fields(dryer__heater="800 W", dryer__trays="7", room__altitude=""), tmp_path)
    kept = own.own_batch(tmp_path)
    assert "Saved in my-batch.toml" in told
    assert kept.dryer.heater == 800.0 and kept.dryer.trays == 7 and kept.room.altitude is None
    assert own.own_told(tmp_path).keys() == {"dryer", "room"} and "fish, cut." in told


def test_saving_the_dryer_keeps_what_another_workbook_saved_meanwhile(tmp_path):
    form = air_panel.dryer_form(tmp_path)
    own.keep_numbers({("fish", "raw_weight"): "2.5 kg"}, tmp_path)
    form.children[4].value = "750 W"
    form.children[-3].click()
    kept = own.own_batch(tmp_path)
    assert kept.fish.raw_weight == 2.5 and kept.dryer.heater == 750.0
    assert len(list(tmp_path.glob("*.toml"))) == 2  # the older file stays as a numbered copy


@pytest.mark.parametrize(
    ("field", "text", "hint"),
    [
        ("dryer__trays", "many", "number"),
        ("dryer__heater", "500", "unit"),
        ("room__relative_humidity", "140", "100"),
    ],
)
def test_a_mistake_is_told_and_nothing_is_written(tmp_path, field, text, hint):
    told = air_panel.keep_dryer(typed_fields(**{field: text}), tmp_path)
    assert told.startswith("Not saved:") and hint in told and text in told
    assert not list(tmp_path.iterdir())


def test_per_cent_may_be_typed_with_its_sign_and_a_comma(tmp_path):
    air_panel.keep_dryer(typed_fields(room__relative_humidity="47,5 %"), tmp_path)
    assert own.own_batch(tmp_path).room.relative_humidity == 0.475
