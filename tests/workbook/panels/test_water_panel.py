"""The panel of water activity over weight left: numbers at all ends, directions, words, units."""

import re
from dataclasses import replace

import numpy as np
import pytest

from flakeyard import limits
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.judge import water_check
from flakeyard.steps.plan.free_water import ROOM, free_water, piece_of, spread_of_protein
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import water as water_panel
from flakeyard.workbook.panels.panel import Choice


@pytest.fixture(scope="module")
def whole():
    return water_panel.water_panel(demo_batch("heron"), Choice("metric"))


@pytest.fixture
def panel(whole):
    whole.set(**{control.name: control.start for control in whole.controls})
    return whole


def marks(panel, kind):
    return [mark for mark in panel.record["fields"][1]["marks"] if mark["kind"] == kind]


def test_the_ladder_stands_on_the_tables():
    heights = [rung.activity for rung in water_panel.LADDER]
    assert heights == sorted(heights, reverse=True)
    for rung in water_panel.LADDER:
        assert rung.label.endswith("*") == (water_check.limit_of(rung.organism).how == "memory")
    assert limits.MOIST in heights and min(heights) > water_panel.LOWEST
    placed = water_panel.spaced(heights, 0.031)
    assert np.all(-np.diff(placed) > 0.0309) and np.allclose(placed, heights, atol=0.021)


@pytest.mark.parametrize("end", [0, -1])
@pytest.mark.parametrize("name", [control.name for control in water_panel.CONTROLS])
def test_every_end_of_every_slider_is_told_in_whole_words(panel, name, end):
    panel.set(**{name: next(one for one in panel.controls if one.name == name).values()[end]})
    assert panel.trouble is None
    told = [panel.said.sentence, panel.said.how_sure, panel.said.caution, panel.said.alt]
    for text in (*told, *(text for _, text in (*panel.said.numbers, *panel.said.chips))):
        assert not re.search(r"\bnan\b|None|inf\b", text), text


def test_the_sentence_names_estimate_cautious_end_and_what_is_not_stopped(panel):
    assert re.search(r"Water activity at 25 °C: 0\.8\d, likely", panel.said.sentence)
    assert "cautious end, 0.9" in panel.said.sentence and "on the ladder could still grow" in panel.said.sentence
    assert (
        "botulism" in panel.said.caution and "not dead" in panel.said.caution and "throw it out" in panel.said.caution
    )


def test_lamps_go_out_on_the_way_down_and_none_lights_again(panel):
    seen = []
    for left in (1.0, 0.8, 0.58, 0.46, 0.38):
        panel.set(left=left)
        lamps = [rung["state"] for rung in marks(panel, "rung")]
        seen.append([("stopped", "perhaps", "grows").index(lamp) for lamp in lamps])
        lit = sum(lamp != "stopped" for lamp in lamps)
        assert dict(panel.said.numbers)["● and ◐ of the ladder: can still grow"] == f"{lit} of {len(lamps)}"
    assert np.all(np.diff(seen, axis=0) <= 0) and sum(seen[0]) > sum(seen[-1])


def test_the_strip_shrinks_by_the_water_that_left_and_the_scale_reads_it(panel):
    laid = demo_batch("heron").cut.sizes[-1]
    for left, thick in ((1.0, laid), (0.6, laid * (1 - 0.4 * 1060 / 998.2))):  # flesh and water in kg/m3
        panel.set(left=left)
        cut, scale = (mark for mark in panel.record["fields"][0]["marks"] if mark["kind"] in ("cut", "scale"))
        assert cut["bottom"] - cut["top"] == pytest.approx(1000 * thick, abs=0.01)
        assert scale["words"] == f"{100 * left:.0f} g"


def test_the_handle_lies_on_the_curve(panel):
    handle, curve = panel.record["handles"][0], marks(panel, "curve")[0]
    now = handle["offset"] + handle["scale"] * panel.values["left"]
    assert np.interp(now, handle["along"]["x"], handle["along"]["y"]) == pytest.approx(
        panel.result(**panel.values).activity.mid, abs=0.002
    )
    assert handle["along"]["x"] == curve["x"][::-1] and np.all(np.diff(handle["along"]["x"]) > 0)


def test_the_words_agree_with_the_rule_of_the_verdict(panel):
    panel.set(left=0.40)  # on the level stretch: too moist for an estimate
    assert "For the cupboard the estimate should be at most 0.70" in panel.said.caution  # rule L4
    panel.set(left=0.39, salt=0.15)
    assert "Harmful germs should not grow below 0.85" in panel.said.caution  # rule L5
    panel.set(left=1.0, salt=0.0)
    assert "like fresh fish" in panel.said.caution and "9 of the 9 on the ladder" in panel.said.sentence


def test_a_point_above_the_tested_water_activity_is_told_as_not_known_where_all_see_it():
    start = {control.name: control.start for control in water_panel.CONTROLS}
    heron = piece_of(demo_batch("heron"))
    water = free_water(heron, spread_of_protein(), temperature=ROOM, **start | {"left": 1.0, "salt": 0.0})
    tested, beyond = (replace(water, activity=Band(0.98, mid, 0.999)) for mid in (0.99, 0.996))
    assert "not known" not in water_panel.tell_water(tested, Choice()).caution
    assert water_panel.tell_water(beyond, Choice()).caution.startswith("Take this point as not known")


def test_a_weight_that_cannot_be_is_told_and_no_point_is_shown(panel):
    panel.set(left=0.30, fat=0.20)
    assert panel.trouble is None
    assert "cannot weigh 30 %" in panel.said.sentence and "not known" in panel.said.sentence
    assert {text for _, text in (*panel.said.numbers, *panel.said.chips)} == {"not known"}
    assert "Treat the fish as fresh fish" in panel.said.caution
    assert not marks(panel, "point") and {rung["state"] for rung in marks(panel, "rung")} == {"unknown"}
    strip = panel.record["fields"][0]["marks"]
    assert not [mark for mark in strip if mark["kind"] == "cut"] and strip[-1]["words"] == "?"
    panel.set(left=0.8)
    assert marks(panel, "point") and "not known" not in panel.said.sentence


@pytest.mark.parametrize(("guess", "told"), [(90, "too early"), (50, "not yet"), (40, "Dry enough for both")])
def test_a_guess_is_answered_by_both_lines(panel, guess, told):
    reply = water_panel.reply_water(panel.result(**panel.values), {"knots": [guess]}, panel.choice)
    assert told in reply and reply.startswith(f"You guessed {guess} %") and "54 %" in reply and "47 %" in reply


def test_units_follow_the_choice():
    choice = Choice("metric")
    panel = water_panel.water_panel(demo_batch("kingfisher"), choice)
    panel.set(left=0.5)
    assert "°F" not in panel.said.sentence and "25 °C" in panel.said.sentence
    choice.system = "us"
    assert "77 °F" in panel.said.sentence and "°C" not in panel.said.sentence
    assert panel.record["fields"][0]["marks"][-1]["words"].endswith(" oz")


def test_the_sliders_start_at_the_batch_given():
    panel = water_panel.water_panel(demo_batch("otter"))
    assert panel.values["fat"] == pytest.approx(0.16, abs=0.011)
    assert panel.values["salt"] < 0.10  # freshened twice
    twin = str(panel.static())
    assert "Fat in the raw fish 16 %" in twin and "Caution:" in twin


def test_what_is_written_on_paper_lies_inside_the_sheet(panel):
    for values in ({}, {"left": 1.0, "salt": 0.0}, {"left": 0.36}):
        panel.set(**values)
        figure = panel.paper()
        figure.canvas.draw()
        for on in figure.axes:
            for box in (text.get_window_extent() for text in on.texts if text.get_text()):
                assert box.x0 >= 0 and box.x1 <= figure.bbox.x1 and box.y0 >= 0 and box.y1 <= figure.bbox.y1
