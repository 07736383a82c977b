"""The panel of drying to a weight: finite and ordered everywhere, right directions, words for every outcome."""

import io
import re
from dataclasses import fields

import numpy as np
import pytest
from PIL import Image

from flakeyard.steps.intent.batch_file import with_typed, without
from flakeyard.steps.plan import plan as batch
from flakeyard.steps.plan import weighing
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
    return " ".join(str(getattr(said, field.name)) for field in fields(said))


@pytest.mark.parametrize(("name", "value"), ENDS)
def test_every_end_of_every_slider_is_finite_ordered_and_told(name, value):
    drying = at(**{name: value})
    for curves in (drying.usual, drying.thickest):
        assert np.isfinite(curves).all() and (np.diff(curves, axis=0) >= 0).all() and (curves <= 1 + 1e-9).all()
    assert (drying.thickest[1] >= drying.usual[1] - 2e-3).all()
    assert 0 < drying.stop < 1
    assert not re.search(r"\b(nan|None|inf)\b", texts(wp.tell_weight(drying, Choice("both"))))


def cuts(panel):
    return [mark for mark in panel.record["fields"][0]["marks"] if mark["kind"] == "cut"]


def scales(panel):
    return [mark["words"] for mark in panel.record["fields"][0]["marks"] if mark["kind"] == "scale"]


def test_a_piece_too_thick_to_be_tested_is_not_known(panel):
    panel.set(**(START | {"thickness": 0.013}))
    assert panel.trouble is None
    assert "not known" in panel.said.sentence and "marked thickest" not in panel.said.sentence
    assert scales(panel)[1] == "?" and cuts(panel)[1]["words"][0]["words"] == "not tested"
    assert len([mark for mark in panel.record["fields"][1]["marks"] if mark["kind"] == "point"]) == 1
    assert panel.record["numbers"][0]["text"] == "not known" and ("After 2 h", "not tested") in panel.said.chips
    panel.set(**START)
    assert "marked thickest" in panel.said.sentence and scales(panel)[1] != "?"


def test_scale_and_colour_follow_the_clock(panel):
    panel.set(**START | {"hours": 0.0})
    assert scales(panel) == ["100 g", "100 g"] and min(cuts(panel)[0]["shade"]) == max(cuts(panel)[0]["shade"])
    panel.set(hours=6 * 3600.0)
    usual, thickest = (float(told.split()[0]) for told in scales(panel))
    assert usual < thickest < 45 and cuts(panel)[0]["shade"][0] < cuts(panel)[0]["shade"][20]
    assert cuts(panel)[0]["shade"][20] < cuts(panel)[1]["shade"][20]
    assert panel.record["handles"][2]["stands"] == 6.0 and "at or below" in panel.said.chips[1][1]


def test_water_across_has_its_face_and_middle_and_lies_between_them():
    load = SCALES._glimpse(0.2, {"thickness": 0.005, "fat": 0.06, "salt": 0.08, "temperature": 70.0}).load
    face, mean, middle = weighing.water_inside(load)
    across = weighing.water_across(load, 2)
    assert across[[0, 20, 40]] == pytest.approx([face, middle, face]) and (np.diff(across[:21]) >= 0).all()
    ratio = across / (1 - across)
    assert np.trapezoid(ratio, dx=1 / 40) == pytest.approx(mean / (1 - mean), rel=0.02)
    one = weighing.water_across(load, 1, 2.0)
    assert one.argmax() == 40 and one.argmin() == 0
    assert weighing.water_across(load, 2, 0.0) == pytest.approx(
        np.full(41, weighing.water_across(load, 2, 0.0)[0]), abs=0.01
    )


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
    marks = wp.draw_weight(drying, Choice("metric"))["fields"][1]["marks"]
    assert len([mark for mark in marks if mark["kind"] == "point"]) <= 1
    assert "nobody can say" in wp.reply_weight(drying, {"knots": [8.0]}, Choice("metric"))


def test_the_caution_never_lets_a_weight_stand_for_safety(panel):
    panel.set(**START)
    assert "not proof" in panel.said.caution and "throw it out" in panel.said.caution
    assert "cautious end" in panel.said.caution
    panel.set(**(START | {"thickness": 0.006, "thicker": 0.20, "temperature": 70.0}))
    assert "fit to eat is not known" in panel.said.caution and "not proof" in panel.said.caution


def test_units_change_words_and_readings_and_nothing_else():
    choice = Choice("metric")
    panel = wp.weight_panel(HERON, choice)
    before, metric = panel.values, panel.said.sentence
    choice.system = "us"
    assert panel.values == before
    assert " g " in metric and "oz" not in metric and "oz" in panel.said.sentence and " mm" not in panel.said.sentence
    read = {
        one["name"]: one["readings"][one["values"].index(panel.values[one["name"]])] for one in panel.setup["controls"]
    }
    assert read["temperature"] == "158 °F" and read["thicker"] == "by 20 %"


@pytest.mark.parametrize(("hours", "told"), [(1.0, "too little"), (4.5, "likely range"), (20.0, "too much")])
def test_a_guess_of_the_thickest_piece_is_answered(panel, hours, told):
    panel.set(**START)
    reply = wp.reply_weight(panel.result(**panel.values), {"knots": [hours]}, panel.choice)
    assert told in reply and panel.record["numbers"][0]["text"] in reply


def test_what_the_folded_answers_say_can_be_seen():
    hours = [at(thicker=share).thickest_done.mid / 3600 for share in (0.0, 0.2, 0.6)]
    assert hours == pytest.approx([3.7, 4.7, 7.4], abs=0.1)
    assert [100 * at(fat=fat).stop for fat in (0.02, 0.18)] == pytest.approx([40, 55], abs=0.5)
    assert at(thickness=0.012).tested and not at(thickness=0.013).tested


def test_sliders_start_at_the_batch_and_stay_in_their_range():
    start = wp.starting_values(HERON)
    assert start["thickness"] == 0.005 and start["temperature"] == 70.0
    assert start["thicker"] == pytest.approx(0.2) and start["salt"] == pytest.approx(0.081, abs=0.003)
    assert wp.starting_values(without(HERON, "brine"))["salt"] == 0.0
    thick = with_typed(HERON, "cut", thickness="20 mm", thickest="40 mm")
    held = wp.weight_panel(with_typed(thick, "dryer", temperature="40 °C")).controls
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
