"""The panel of drying to a weight: finite and ordered everywhere, right directions, words for every outcome."""

import io
import re
from dataclasses import fields
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image

from flakeyard.steps.intent.batch_file import with_typed, without
from flakeyard.steps.plan import plan as batch
from flakeyard.steps.plan.weighing import Scales
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import weight as wp
from flakeyard.workbook.panels.panel import Choice

HERON = demo_batch("heron")
START = {"thickness": 0.005, "thicker": 0.20, "fat": 0.06, "salt": 0.08, "temperature": 70.0}
ENDS = [(one.name, value) for one in wp.CONTROLS for value in (one.low, one.start, one.high)]
SCALES = Scales(HERON)


def at(**values):
    return SCALES.at(**(START | values))


@pytest.fixture(scope="module")
def panel():
    return wp.weight_panel(HERON, Choice("metric"))


def texts(said):
    return " ".join(getattr(said, field.name) for field in fields(said))


@pytest.mark.parametrize(("name", "value"), ENDS)
def test_every_end_of_every_slider_is_finite_ordered_and_told(name, value):
    drying = at(**{name: value})
    for curves in (drying.usual, drying.thickest):
        assert np.isfinite(curves).all() and (np.diff(curves, axis=0) >= 0).all() and (curves <= 1 + 1e-9).all()
    assert (drying.thickest[1] >= drying.usual[1] - 2e-3).all()
    assert 0 < drying.stop < 1
    assert not re.search(r"\b(nan|None|inf)\b", texts(wp.tell_weight(drying, Choice("both"))))


@pytest.mark.parametrize("name", [control.name for control in wp.CONTROLS])
def test_both_ends_of_a_slider_give_another_picture_and_another_sentence(panel, name):
    panel.set(**START)
    slider, seen = panel.sliders[name], []
    for index in (0, len(slider.options) - 1):
        slider.index = index
        assert panel.trouble is None
        seen.append((panel._image.value, panel.said.sentence))
    assert seen[0][0] != seen[1][0] and seen[0][1] != seen[1][1]


def test_a_piece_too_thick_to_be_tested_is_not_known(panel):
    panel.set(**(START | {"thickness": 0.013}))
    assert panel.trouble is None
    assert "not known" in panel.said.sentence and "marked thickest" not in panel.said.sentence
    assert panel.picture["untested"].get_visible() and not panel.picture["thickest_done"].get_visible()
    assert panel.picture["middle_words"].get_text() == "?"
    panel.set(**START)
    assert "marked thickest" in panel.said.sentence and not panel.picture["untested"].get_visible()


def test_beside_a_piece_too_thick_the_usual_one_is_told_with_its_own_weight():
    untested, alone = at(thickness=0.013), at(thickness=0.013, thicker=0.0)
    assert not untested.tested and untested.stop == alone.stop and untested.usual_done == alone.usual_done
    sentences = [wp.tell_weight(at(thickness=0.013, fat=fat), Choice("metric")).sentence for fat in (0.0, 0.2)]
    assert sentences[0] != sentences[1]


def test_a_weight_never_reached_is_not_known():
    damp = with_typed(demo_batch("otter"), "room", relative_humidity=95)
    cupboard = Scales(with_typed(damp, "keep", place="cupboard"))
    drying = cupboard.at(**(START | {"thickness": 0.010, "thicker": 0.5, "temperature": 50.0}))
    said = wp.tell_weight(drying, Choice("metric"))
    assert drying.thickest_done.mid is None and np.isnan(drying.inside).all()
    assert "when, is not known" in said.sentence and "face" not in said.sentence
    made = wp.weight_picture(Choice("metric"))
    wp.draw_weight(made, drying, Choice("metric"))
    assert made["middle_words"].get_text() == "?" and not made["thickest_done"].get_visible()


def test_the_caution_never_lets_a_weight_stand_for_safety(panel):
    panel.set(**START)
    assert "not proof" in panel.said.caution and "throw it out" in panel.said.caution
    assert "cautious end" in panel.said.caution
    panel.set(**(START | {"thickness": 0.006, "thicker": 0.35, "temperature": 63.0}))
    assert "fit to eat is not known" in panel.said.caution and "not proof" in panel.said.caution


def test_units_change_words_and_readings_and_nothing_else():
    choice = Choice("metric")
    panel = wp.weight_panel(HERON, choice)
    before, metric = panel.values, panel.said.sentence
    choice.system = "us"
    assert panel.values == before
    assert " g " in metric and "oz" not in metric and "oz" in panel.said.sentence and " mm" not in panel.said.sentence
    assert panel.sliders["temperature"].label == "158 °F"
    assert panel.sliders["thicker"].label == "by 20 %"


@pytest.mark.parametrize("system", ["metric", "us", "both"])
@pytest.mark.parametrize("move", [{}, {"thickness": 0.003, "thicker": 0.0}, {"fat": 0.20, "salt": 0.20}])
def test_nothing_written_in_the_picture_is_cut_off_or_overlaps(system, move):
    choice = Choice(system)
    made = wp.weight_picture(choice)
    wp.draw_weight(made, at(**move), choice)
    made.png()
    renderer, edge = made.canvas.get_renderer(), made.figure.bbox
    places = [label for on in made.figure.axes for label in on.get_xticklabels()]
    written = [text for on in made.figure.axes for text in (on.xaxis.label, on.yaxis.label, on.title)]
    written += made.figure.axes[0].get_legend().get_texts() + places
    written += [made[f"{name}_words"] for name in ("usual_done", "thickest_done", *wp.PLACES)]
    for text in written:
        box = text.get_window_extent(renderer)
        assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= edge.x1 and box.y1 <= edge.y1, text
    left, right = made.figure.axes
    assert right.yaxis.label.get_window_extent(renderer).x0 > left.get_window_extent(renderer).x1 + 10
    bars = [label.get_window_extent(renderer) for label in made.figure.axes[1].get_xticklabels()]
    assert all(left.x1 < right.x0 for left, right in pairwise(bars))
    pair = [made[f"{name}_words"].get_window_extent(renderer) for name in ("usual_done", "thickest_done")]
    assert not pair[0].overlaps(pair[1])


def test_sliders_start_at_the_batch_and_stay_in_their_range():
    start = wp.starting_values(HERON)
    assert start["thickness"] == 0.005 and start["temperature"] == 70.0
    assert start["thicker"] == pytest.approx(0.2) and start["salt"] == pytest.approx(0.081, abs=0.003)
    assert wp.starting_values(without(HERON, "brine"))["salt"] == 0.0
    thick = with_typed(HERON, "cut", thickness="20 mm", thickest="40 mm")
    held = wp.controls(with_typed(thick, "dryer", temperature="40 °C"))
    assert all(control.low <= control.start <= control.high for control in held)


@pytest.mark.parametrize("name", ["otter", "kingfisher"])
def test_other_batches_have_a_panel_too(name):
    assert wp.weight_panel(demo_batch(name)).trouble is None


def test_static_picture_and_words(panel):
    twin = panel.static()
    assert "Usual thickness" in twin.settings and Image.open(io.BytesIO(twin.png)).size[0] > 600
    assert panel.said.sentence in panel.said.alt


# the table of one's own weights


@pytest.fixture(scope="module")
def plan():
    return batch.plan(HERON, members=20)


def test_a_marked_piece_and_a_tray_get_their_weights(plan):
    piece, tray = wp.stop_table(plan, Choice("metric"), "42 g", "315 g").rows
    assert piece[1] == "42 g" and piece[2] == Choice("metric").show(
        0.042 * plan.drying["mass_ratio"].mid, "mass", digits=3
    )
    assert "likely" in tray[2] and float(tray[2].split()[0]) < 315 * plan.drying["mass_ratio"].mid


def test_typed_weights_are_read_in_any_unit_and_a_mistake_is_told(plan):
    assert "oz" in wp.stop_table(plan, Choice("us"), "1 1/2 oz", "11 oz").rows[0][2]
    (row,) = wp.stop_table(plan, Choice("metric"), "42", "315 g").rows
    assert "unit is missing" in row[0] and row[1:] == ("not known", "not known")


def test_a_batch_that_never_gets_there_has_no_weight_to_stop_at():
    cool = with_typed(HERON, "dryer", temperature="22 °C")
    damp = with_typed(cool, "room", temperature="22 °C", relative_humidity=95)
    rows = wp.stop_table(batch.plan(damp, members=20), Choice("metric"), "42 g", "315 g").rows
    assert [row[2] for row in rows] == ["not known", "not known"]
