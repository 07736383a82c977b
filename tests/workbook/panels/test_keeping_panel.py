"""The keeping panel, its tables and the form for one's own keeping, without a browser."""

import io

import numpy as np
import pytest
from PIL import Image

from flakeyard.steps.intent.batch_file import dump_batch, with_typed, without, written
from flakeyard.steps.judge import storing
from flakeyard.steps.plan import packs
from flakeyard.workbook.own import FILE, demo_batch, own_batch, own_told
from flakeyard.workbook.panels import keeping as kp
from flakeyard.workbook.panels.panel import Choice

CONTROLS = {control.name: control for control in kp.CONTROLS}
START = {"fat": 0.06, "activity": 0.70, "pack": 5, "humidity": 0.50, "spot": 4, "day": 0}
FIELDS = [entry for entries in kp.ASKED.values() for entry in entries]
FREEZER, WARMEST, CLOTH, PAPER = 0, len(kp.SPOTS) - 1, 1, 2


@pytest.fixture(scope="module")
def laid():
    return packs.lay_piece(demo_batch("heron"))


@pytest.fixture(scope="module")
def panel():
    return kp.keeping_panel(choice=Choice("metric"), pack=PAPER, humidity=0.70)


def marks(panel, kind, field=0):
    return [mark for mark in panel.record["fields"][field]["marks"] if mark["kind"] == kind]


def words(panel):
    return " ".join(
        mark[key] for mark in panel.record["fields"][0]["marks"] for key in ("words", "reading") if key in mark
    )


# the panel


@pytest.mark.parametrize("end", ["low", "start", "high"])
@pytest.mark.parametrize("name", CONTROLS)
def test_every_end_of_every_slider_is_computed_and_told(panel, name, end):
    panel.set(**START)
    panel.set(**{name: getattr(CONTROLS[name], end)})
    assert panel.trouble is None
    said = panel.said
    text = " ".join([said.sentence, said.how_sure, said.caution, said.alt, *sum(said.numbers + said.chips, ())])
    assert not any(word in text for word in ("nan", "None", "inf ", " safe"))
    assert "throw it out" in panel.said.caution and "rules on gutting" in panel.said.caution
    assert "estimated" in panel.said.sentence and "cautious end" in panel.said.sentence


def test_the_lesson_begins_with_a_paper_bag_in_a_damp_room_and_comes_back_to_it(panel):
    begin = {one.name: one.start for one in panel.controls}
    assert (begin["pack"], begin["humidity"], begin["day"]) == (PAPER, 0.70, 0)
    assert kp.keeping_panel().values["pack"] == 5  # without being told, what the batch itself tells


def test_a_batch_that_fails_on_other_rules_says_so_here_too():
    ungutted = kp.keeping_panel(with_typed(demo_batch("heron"), "fish", gutted=False))
    assert "Do not keep" in ungutted.said.caution
    assert "Do not keep" not in kp.keeping_panel().said.caution


def test_the_caution_names_the_place_refused_first(panel):
    panel.set(**(START | {"activity": 0.85}))
    assert "Water activity estimated 0.85" in panel.said.caution and "botulism" in panel.said.caution
    assert "You asked for the cupboard" in panel.said.caution
    assert "in the freezer: not where you asked" in words(panel)


def test_fuses_end_where_the_clocks_say_and_the_first_is_named(panel, laid):
    for change in ({}, {"pack": PAPER, "humidity": 0.9}, {"fat": 0.0}):
        panel.set(**(START | change))
        shelf = kp.Packs(laid).at(**panel.values)
        ends = {mark["at"]: mark["to"] for mark in marks(panel, "bar")}
        for name, row in zip(kp.CLOCKS, kp.ROWS, strict=True):
            assert ends[row] == pytest.approx(min(shelf.until.clocks[name], kp.LAST_DAY), abs=0.01)
        (first,) = [mark for mark in marks(panel, "label") if mark["strong"]]
        assert first["words"] == kp.CLOCKS[shelf.until.limited_by]
        assert marks(panel, "curve")[0]["x"] == [shelf.until.days] * 2


@pytest.mark.parametrize(("day", "flames", "told"), [(0, 3, "day 7 is the last"), (7, 2, "this is the last day"), (8, 2, "throw it away"), (42, 0, "throw it away")])  # fmt: skip
def test_the_day_burns_the_fuses_and_the_last_one_is_told(panel, day, flames, told):
    panel.set(**(START | {"day": day}))
    assert len(marks(panel, "flame")) == flames and told in dict(panel.said.chips)[f"Day {day}"]
    assert told in panel.said.sentence and panel.said.numbers[1][1] == "7 days"
    assert (day > 7) == ("7 days: run out" in words(panel))


def test_damp_air_shortens_the_mould_fuse_of_a_bag(panel):
    days = []
    for humidity in (0.5, 0.7, 0.9):
        panel.set(**(START | {"pack": PAPER, "humidity": humidity}))
        days.append(panel.result(**panel.values).until.clocks["mould"])
    assert days[0] > days[1] > days[2]


def test_days_that_are_not_known_have_words_and_no_line(panel):
    panel.set(**(START | {"activity": 0.95, "fat": 0.18, "spot": FREEZER, "day": 20}))
    assert panel.trouble is None and panel.said.numbers[0][1] == "not known"
    assert not marks(panel, "curve") and len(marks(panel, "bar")) == 4 and "? not known" in words(panel)
    assert "days are not known" in panel.said.sentence and "no line is drawn" in panel.said.alt
    assert "days are not known" in panel.said.caution and "not known" in dict(panel.said.chips)["Day 20"]


def test_only_the_moist_edge_of_the_packs_is_drawn_and_told(panel):
    """How dry the others may be counts for nothing: nobody is told a low end."""
    panel.set(**START)
    kept, band = panel.result(**panel.values).kept, marks(panel, "band", 1)[0]
    assert band["low"] == marks(panel, "curve", 1)[0]["y"] and max(band["high"]) == pytest.approx(
        kept.high[0], abs=0.02
    )
    assert "0.71, in 9 of 10 at most 0.75" in panel.said.sentence


@pytest.mark.parametrize(("guess", "told"), [(3, "before: good"), (7, "Right."), (21, "throw away")])
def test_a_guess_of_the_days_is_answered(panel, guess, told):
    panel.set(**START)
    reply = kp.reply_keeping(panel.result(**panel.values), {"knots": [guess]}, panel.choice)
    assert told in reply and "7 days at most" in reply
    panel.set(spot=FREEZER)
    assert "not known" in kp.reply_keeping(panel.result(**panel.values), {"knots": [guess]}, panel.choice)


@pytest.mark.parametrize(
    ("days", "text"), [(7.9, "7 days"), (0.3, "less than a day"), (14.0, "14 days"), (2000.0, "over 1000 days"), (np.inf, "none expected")]
)  # fmt: skip
def test_a_clock_is_rounded_down(days, text):
    assert kp.clock_words(days) == text


@pytest.mark.parametrize(
    "change", [{}, {"activity": 0.95, "fat": 0.0}, {"pack": CLOTH, "humidity": 0.9}, {"spot": FREEZER}]
)
def test_what_is_written_on_paper_lies_inside_the_sheet(change):
    panel = kp.keeping_panel(choice=Choice("both"))
    panel.set(**(START | change))
    figure = panel.paper()
    figure.canvas.draw()
    for on in figure.axes:
        for box in (text.get_window_extent() for text in on.texts if text.get_text()):
            assert box.x0 >= 0 and box.x1 <= figure.bbox.x1 and box.y0 >= 0 and box.y1 <= figure.bbox.y1


def test_units_change_readings_words_and_nothing_else():
    choice = Choice("metric")
    panel = kp.keeping_panel(choice=choice)
    before, metric = panel.values, panel.said.sentence
    choice.system = "us"
    assert panel.values == before
    assert "°F" in panel.said.sentence and "°F" not in metric
    readings = {
        one["name"]: one["readings"][one["values"].index(before[one["name"]])] for one in panel.setup["controls"]
    }
    assert readings["spot"] == "at 68 °F" and readings["pack"] == "glass jar" and readings["activity"] == "0.70"


def test_the_sliders_start_at_the_batch():
    kingfisher = demo_batch("kingfisher")
    begin = kp.starts(kingfisher, packs.lay_piece(kingfisher))
    assert begin["fat"] < 0.05 and begin["humidity"] == 0.45 and kp.PACKS[begin["pack"]][0] == "glass_jar"
    untold = without(without(kingfisher, "keep"), "room")
    begin = kp.starts(untold, packs.lay_piece(untold))
    assert kp.PACKS[begin["pack"]][0] is None and begin["humidity"] == storing.ROOM[1]


@pytest.mark.parametrize("change", ["unsalted", "raw", "otter"])
def test_other_batches_have_a_panel_too(change):
    heron = demo_batch("heron")
    batch = {"unsalted": without(heron, "brine"), "raw": without(heron, "heat"), "otter": demo_batch("otter")}[change]
    assert kp.keeping_panel(batch).trouble is None


def test_static_picture_and_words(panel):
    panel.set(**START)
    twin = panel.static()
    assert "Pack glass jar" in twin.settings and "keep it at 20 °C" in twin.settings
    assert Image.open(io.BytesIO(twin.png)).size[0] > 600
    assert panel.said.sentence in panel.said.alt


# one's own keeping


def inside(widget):
    yield widget
    for child in getattr(widget, "children", ()):
        yield from inside(child)


def typed(**given):
    return {(one.section, one.name): given.get(one.name, "") for one in FIELDS}


def test_own_keeping_is_kept_and_the_rest_of_the_batch_with_it(tmp_path):
    told = kp.keep_keeping(
        typed(place="freezer", pack="zip bag", temperature="70 °F", relative_humidity="55"), tmp_path
    )
    assert told.startswith("Saved in my-batch.toml")
    place = {"keep": {"place": "freezer", "pack": "zip bag"}}
    assert own_told(tmp_path) == place | {"room": {"temperature": "70 °F", "relative_humidity": 55}}
    (tmp_path / FILE).write_text(dump_batch(demo_batch("otter")), encoding="utf-8")
    kp.keep_keeping({("keep", "place"): "cupboard"}, tmp_path)
    assert own_told(tmp_path) == written(demo_batch("otter")) | {"keep": {"place": "cupboard", "pack": "vacuum pouch"}}


def test_an_older_file_stays_and_fields_of_other_forms_too(tmp_path):
    kp.keep_keeping(typed(place="freezer", pack="zip bag"), tmp_path)
    first = (tmp_path / FILE).read_text(encoding="utf-8")
    (tmp_path / FILE).write_text(first.replace("[keep]", "[keep]\ntarget_moisture = 30"), encoding="utf-8")
    kp.keep_keeping(typed(place="refrigerator", pack="paper bag"), tmp_path)
    kept = own_batch(tmp_path)
    assert kept.keep.target_moisture == 0.30 and kept.keep.place == "refrigerator"
    assert (tmp_path / "my-batch-1.toml").exists()


@pytest.mark.parametrize(
    ("given", "word"),
    [
        ({"place": "shelf"}, "cupboard"),
        ({"pack": "glas jar"}, "glass jar"),
        ({"per_pack": "150"}, "unit"),
        ({"relative_humidity": "damp"}, "humidity"),
        ({"relative_humidity": "120"}, "100"),
        ({"measured_water_activity": "78"}, "0.2 to 1"),
        ({"temperature": "20"}, "unit"),
    ],
)
def test_a_mistake_is_explained_and_nothing_is_written(tmp_path, given, word):
    told = kp.keep_keeping(typed(**given), tmp_path)
    assert told.startswith("Not saved") and word in told
    assert list(tmp_path.iterdir()) == []


def test_a_reading_without_its_error_is_told_to_be_not_known(tmp_path):
    told = kp.keep_keeping(typed(place="cupboard", pack="glass jar", measured_water_activity="0.78"), tmp_path)
    assert "counts as not known" in told
    reading = {"measured_water_activity": "0.78", "measured_error": "0.01"}
    told = kp.keep_keeping(typed(place="cupboard", **reading), tmp_path)
    assert "not known" not in told and "at least 0.05" in told
    told = kp.keep_keeping(typed(place="cupboard", measured_by="laboratory", **reading), tmp_path)
    assert "at least" not in told and own_batch(tmp_path).keep.measured_error == 0.01


def test_the_form_shows_what_is_in_the_file_and_saves_it_by_its_button(tmp_path):
    kp.keep_keeping(typed(place="freezer", pack="zip bag", temperature="19 °C"), tmp_path)
    form = kp.own_keeping_form(tmp_path)
    fields = {part.description: part for part in inside(form) if getattr(part, "description", "")}
    values = [fields[entry.label].value for entry in FIELDS]
    assert values[:2] == ["freezer", "zip bag"] and "19 °C" in values
    assert sum(map(bool, values)) == 3  # nothing of the demonstration stands in it
    fields["Place"].value, fields["Gutted"].value, fields["Checked with"].value = "refrigerator", "yes", "not checked"
    fields["Middle heated to"].value, fields["Hours over 21 °C (70 °F)"].value = "74 °C", "0"
    next(child for child in form.children if hasattr(child, "click")).click()
    kept = own_batch(tmp_path)
    assert kept.keep.place == "refrigerator" and kept.fish.gutted is True and kept.fish.hours_above_21c == 0
    assert kept.heat.core == 74.0 and kept.heat.probed is False
    told = next(child for child in form.children if "fy-live" in child._dom_classes)
    assert "Saved in my-batch.toml" in told.value and "counts as raw" in told.value


def test_labels_fit_beside_their_sliders():
    """Some 18 letters have room there in a browser; longer ones are cut."""
    for control in kp.CONTROLS:
        assert max(len(label) for label, _ in control.options(Choice("both"))) <= 18
