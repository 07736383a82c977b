"""The keeping panel, its tables and the form for one's own keeping, without a browser."""

import io
from dataclasses import fields

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
START = {"fat": 0.06, "activity": 0.70, "pack": 5, "humidity": 0.50, "spot": 4}
FIELDS = [entry for entries in kp.ASKED.values() for entry in entries]
FREEZER, WARMEST, CLOTH = 0, len(kp.SPOTS) - 1, 1


@pytest.fixture(scope="module")
def laid():
    return packs.lay_piece(demo_batch("heron"))


@pytest.fixture(scope="module")
def panel():
    return kp.keeping_panel(choice=Choice("metric"))


# the panel


@pytest.mark.parametrize("end", ["low", "start", "high"])
@pytest.mark.parametrize("name", CONTROLS)
def test_every_end_of_every_slider_is_computed_and_told(panel, name, end):
    panel.set(**START)
    panel.set(**{name: getattr(CONTROLS[name], end)})
    assert panel.trouble is None
    text = " ".join(getattr(panel.said, field.name) for field in fields(panel.said))
    assert not any(word in text for word in ("nan", "None", "inf ", " safe"))
    assert "throw it out" in panel.said.caution and "rules on gutting" in panel.said.caution
    assert "estimated" in panel.said.sentence and "cautious end" in panel.said.sentence


@pytest.mark.parametrize("name", CONTROLS)
def test_both_ends_of_a_slider_differ_in_picture_and_sentence(panel, name):
    seen = []
    for end in (CONTROLS[name].low, CONTROLS[name].high):
        panel.set(**START)
        panel.set(**{name: end})
        seen.append((panel.picture.image(), panel.said.sentence))
    assert seen[0][0] != seen[1][0] and seen[0][1] != seen[1][1]


def test_a_batch_that_fails_on_other_rules_says_so_here_too():
    ungutted = kp.keeping_panel(with_typed(demo_batch("heron"), "fish", gutted=False))
    assert "Do not keep" in ungutted.said.caution
    assert "Do not keep" not in kp.keeping_panel().said.caution


def test_the_caution_names_the_place_refused_first(panel):
    panel.set(**(START | {"activity": 0.85}))
    assert panel.said.caution.startswith("You asked for the cupboard")
    assert "botulism" in panel.said.caution and "not there, ■ freezer" in panel.picture["where"].get_text()


def test_the_bars_stand_where_the_clocks_say(panel, laid):
    panel.set(**START)
    kept = kp.keep_at(laid, **panel.values)
    for name, _ in kp.CLOCKS:
        right_end = panel.picture[f"bar_{name}"].get_paths()[0].vertices[:, 0].max()
        assert right_end == pytest.approx(min(kept.keeping.clocks[name], 1000.0))
    assert "◄" in panel.picture[f"days_{kept.keeping.limited_by}"].get_text()


def test_days_that_are_not_known_have_words_and_no_line(panel):
    panel.set(**(START | {"activity": 0.95, "fat": 0.18, "spot": FREEZER}))
    assert panel.trouble is None and panel.picture["until"].get_text() == "days not known"
    assert np.isnan(panel.picture["earliest"].get_xdata()).all()
    assert "days are not known" in panel.said.sentence and "no line is drawn" in panel.said.alt


@pytest.mark.parametrize(
    ("days", "text"), [(7.9, "7"), (0.3, "0"), (14.0, "14"), (2000.0, "over 1000"), (np.inf, "none expected")]
)
def test_a_clock_is_rounded_down(days, text):
    assert kp.clock_words(days) == text


@pytest.mark.parametrize("system", ["metric", "us", "both"])
@pytest.mark.parametrize(
    "change",
    [{}, {"activity": 0.95, "fat": 0.0}, {"pack": CLOTH, "humidity": 0.9, "spot": WARMEST}, {"spot": FREEZER}],
)
def test_nothing_written_in_the_picture_is_cut_off_or_overlaps(system, change):
    panel = kp.keeping_panel(choice=Choice(system))
    panel.set(**(START | change))
    figure, renderer = panel.picture.figure, panel.picture.canvas.get_renderer()
    left, right = figure.axes
    moving = [panel.picture[name] for name in ("asked", "where", "until", *(f"days_{name}" for name, _ in kp.CLOCKS))]
    texts = [text for on in (left, right) for text in (*on.get_xticklabels(), *on.get_yticklabels(), on.xaxis.label)]
    for text in [*moving, *texts, *left.get_legend().get_texts()]:
        box = text.get_window_extent(renderer)
        assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= figure.bbox.x1 and box.y1 <= figure.bbox.y1, text
    asked, where, until = (one.get_window_extent(renderer) for one in moving[:3])
    assert asked.x1 < where.x0 and until.y1 < where.y0
    assert left.get_legend().get_window_extent(renderer).y1 < asked.y0 + 3


def test_units_change_readings_words_and_nothing_else():
    choice = Choice("metric")
    panel = kp.keeping_panel(choice=choice)
    before, metric = panel.values, panel.said.sentence
    choice.system = "us"
    assert panel.values == before
    assert "°F" in panel.said.sentence and "°F" not in metric
    assert panel.sliders["spot"].label == "at 68 °F" and panel.sliders["pack"].label == "glass jar"
    assert panel.sliders["activity"].label == "0.70"


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
