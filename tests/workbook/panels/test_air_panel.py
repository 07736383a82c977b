"""The panel of the air in the dryer: finite and ordered everywhere, right directions, words for every outcome."""

import io
import re

import numpy as np
import pytest
from PIL import Image

from flakeyard.models.constants import FLESH_DENSITY
from flakeyard.steps.chain import drying
from flakeyard.steps.intent.batch_file import said, with_typed, without
from flakeyard.steps.plan import loading
from flakeyard.workbook import own
from flakeyard.workbook.panels import air as air_panel
from flakeyard.workbook.panels.panel import Choice

HERON = own.demo_batch("heron")
LAID = loading.lay(HERON)
START = {"load": 1.5, "faces": 2.0, "temperature": 70.0, "heater": 500.0, "humidity": 0.5}
CONTROLS = air_panel.air_controls(HERON, LAID)
ENDS = [(one.name, value) for one in CONTROLS if one.name != "hours" for value in (one.low, one.start, one.high)]


def run(batch=HERON, laid=LAID, **values):
    return loading.fill_dryer(batch, laid, **(START | values))


def told(load, system="both", hours=1.0):
    return air_panel.tell_air(air_panel.Looked(load, 3600 * hours, 1.5, 5, 300.0, 6.0), Choice(system))


def marks(panel, kind, field=0):
    return [mark for mark in panel.record["fields"][field]["marks"] if mark["kind"] == kind]


@pytest.fixture(scope="module")
def usual():
    return run()


@pytest.fixture(scope="module")
def panel():
    return air_panel.air_panel(HERON, Choice("metric"))


@pytest.mark.parametrize(("name", "value"), ENDS)
def test_at_every_end_of_every_slider_numbers_are_finite_ordered_and_told(name, value):
    load = run(**{name: value})
    assert np.isfinite(load.fish).all() and np.isfinite(load.air).all()
    assert (np.diff(load.hours) > 0).all() and (np.diff(load.fish, axis=0) >= 0).all()
    assert load.clock.low <= load.clock.mid <= load.clock.high
    assert load.fish[1].max() <= load.dial + 1e-6 and load.air.max() <= load.dial + 0.1  # a tenth: of the draws
    assert load.fish[2].max() <= load.dial + 1.2816 * drying.DIAL_SD  # where nine of ten dryers hold the air
    words = told(load)
    for text in (words.sentence, words.how_sure, words.caution, words.alt):
        assert text and not re.search(r"\b(nan|None|inf)\b", text)


def test_what_does_not_get_dry_in_time_is_not_known_and_has_no_point_in_the_picture(panel):
    panel.set(load=4.0, heater=200.0, faces=1.0, temperature=35.0, humidity=0.9)
    said = panel.said
    assert "not known" in said.sentence and "48 h" in said.sentence and "for 0" not in said.sentence
    assert dict(said.numbers)["dry enough after"] == "not known" and not marks(panel, "point", 1)
    panel.set(**START)
    assert len(marks(panel, "point", 1)) == 1


def test_the_trays_hold_the_load_and_the_hand_stands_on_it(panel):
    """A full tray is as wide as a tray, and all of them together carry what is laid, piece beside piece."""
    for load in (0.25, 1.5, 2.0, 3.5):
        panel.set(**START | {"load": load})
        _, *fish = marks(panel, "box")
        wide = [box["x"][1] - box["x"][0] for box in fish]
        assert all(one == pytest.approx(300.0) for one in wide[:-1])
        area = sum(wide) / 1000 * 0.3  # m2, of trays as deep as wide
        raw = load * LAID.fish.mass / np.median(LAID.mass)
        assert area == pytest.approx(raw / FLESH_DENSITY / HERON.cut.thickness, rel=0.01)
        assert sum(box["edge"] == "dash" for box in fish) == max(0, len(fish) - 5)  # five trays
        handle = panel.record["handles"][0]
        full, floor = loading.holds(HERON, LAID), handle["offset"]
        assert floor - (handle["offset"] + handle["scale"] * load) == pytest.approx(
            5 * air_panel.PITCH * load / full, rel=0.01
        )


def test_colours_are_the_temperatures_and_the_air_is_the_warmer(panel):
    panel.set(**START)
    box, fish, *_ = marks(panel, "box")
    looked = panel.result(**panel.values)
    assert box["shade"] * air_panel.HOTTEST == pytest.approx(looked.air, abs=0.1)
    assert fish["shade"] * air_panel.HOTTEST == pytest.approx(looked.fish, abs=0.1) and fish["shade"] < box["shade"]


def test_what_is_dry_enough_is_taken_out_and_seen_as_it_was_then(panel):
    panel.set(**START | {"hours": 12 * 3600.0})
    looked = panel.result(**panel.values)
    assert looked.seen == pytest.approx(looked.load.done.mid / 3600)
    assert "taken out" in marks(panel, "area")[0]["words"] and "After 12 h" not in panel.said.sentence
    panel.set(hours=3600.0)
    assert "taken out" not in marks(panel, "area")[0]["words"]


def test_another_moment_is_read_off_and_not_dried_again(panel, monkeypatch):
    panel.set(**START | {"hours": 3600.0})
    monkeypatch.setattr(air_panel, "fill_dryer", lambda *_a, **_k: pytest.fail("dried again"))
    panel.set(hours=7200.0)
    assert panel.trouble is None


@pytest.mark.parametrize(("degrees", "answer"), [(30.0, "too little"), (45.0, "likely range"), (70.0, "too much")])
def test_a_guessed_course_is_answered_at_one_hour(panel, degrees, answer):
    panel.set(**START)
    looked, guess = panel.result(**panel.values), {"x": [0.5, 4.0], "y": [degrees, degrees]}
    assert answer in air_panel.reply_air(looked, guess, panel.choice)


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
def test_what_is_written_on_paper_lies_inside_the_sheet(system):
    panel = air_panel.air_panel(HERON, Choice(system))
    for load in (1.5, 4.0):
        panel.set(load=load)
        figure = panel.paper()
        for text in (text for on in figure.axes for text in on.texts if text.get_text()):
            box = text.get_window_extent()
            assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= figure.bbox.x1 and box.y1 <= figure.bbox.y1, text


def test_the_upright_side_is_numbered_in_the_chosen_units(panel):
    panel.choice.system = "us"
    up = panel.record["fields"][1]["up"]
    panel.choice.system = "metric"
    assert up["label"].endswith("°F") and [60.0, "140"] in up["ticks"]
    assert [60.0, "60"] in panel.record["fields"][1]["up"]["ticks"]


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


def test_the_folded_answers_say_what_the_panel_says(panel):
    """Each question is done as it is written, and its answer names these numbers."""
    saw = [answer for _, answer in panel.setup["look_for"]]

    def numbers(**values):
        panel.set(**START | {"hours": 3600.0} | values)
        return [text for _, text in panel.said.numbers]

    fish, air, clock = zip(*(numbers(load=load)[:3] for load in (0.5, 1.5, 2.0)), strict=True)
    assert air == ("70 °C", "61 °C", "57 °C") and "70, 61 and 57 °C" in saw[0]
    assert fish == ("53 °C", "45 °C", "43 °C") and "53, 45 and 43 °C" in saw[0]
    assert [round(2 * float(one.split()[0])) for one in clock] == [5, 6, 8] and "2½, 3 and 4 h" in saw[0]
    assert numbers(load=3.0)[3] == "18 h" and "3 kg (6.6 lb) take 18 h" in saw[0]
    dry, humid = (float(numbers(humidity=share)[3].split()[0]) for share in (0.10, 0.90))
    assert humid - dry < 0.2 and "A few minutes" in saw[1]
    assert numbers()[3] == "4.8 h" and numbers(faces=1.0)[3] == "12 h" and "12 h of 4.8 h" in saw[1]
    cautions = []
    for dial in (66.0, 65.0, 60.0, 59.0):
        numbers(temperature=dial)
        cautions.append(panel.said.caution)
    assert ["is not known" in one for one in cautions] == [False, True, True, False] and "65 °C" in saw[2]
    assert ["Do not eat" in one for one in cautions] == [False, False, False, True] and "59 °C" in saw[2]
