"""The panel of water activity over weight left: numbers at all ends, directions, words, units."""

import itertools
import re
from dataclasses import replace

import numpy as np
import pytest

from flakeyard import limits
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.judge import water_check
from flakeyard.steps.plan.free_water import free_water, piece_of, spread_of_protein
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import water as water_panel
from flakeyard.workbook.panels.panel import Choice


@pytest.fixture(scope="module")
def panel():
    return water_panel.water_panel(demo_batch("heron"))


def back(panel):
    panel.set(**{control.name: control.start for control in panel.controls})


def test_the_ladder_stands_on_the_tables():
    heights = [rung.activity for rung in water_panel.LADDER]
    assert heights == sorted(heights, reverse=True)
    for rung in water_panel.LADDER:
        assert rung.label.endswith("*") == (water_check.limit_of(rung.organism).how == "memory")
    assert limits.MOIST in heights and min(heights) > water_panel.LOWEST
    placed = water_panel.spaced(heights, 0.029)
    assert np.all(-np.diff(placed) > 0.0289) and np.allclose(placed, heights, atol=0.02)


def test_every_end_of_every_slider_draws_and_says_something_else(panel):
    for name, slider in panel.sliders.items():
        seen = set()
        for index in (0, slider.index, len(slider.options) - 1):
            slider.index = index
            assert panel.trouble is None
            for text in (panel.said.sentence, panel.said.how_sure, panel.said.caution, panel.said.alt):
                assert not re.search(r"\bnan\b|None|inf\b", text), (name, text)
            seen.add((panel._image.value, panel.said.sentence))
        assert len(seen) == 3, name
        back(panel)


def test_the_sentence_names_estimate_cautious_end_and_what_is_not_stopped(panel):
    panel.set(left=0.58)
    assert re.search(r"Water activity at 25 °C \(77 °F\): 0\.8\d, likely", panel.said.sentence)
    assert "cautious end, 0.9" in panel.said.sentence and "on the ladder could still grow" in panel.said.sentence
    assert (
        "botulism" in panel.said.caution and "not dead" in panel.said.caution and "throw it out" in panel.said.caution
    )
    back(panel)


def test_the_words_agree_with_the_rule_of_the_verdict(panel):
    panel.set(left=0.40)  # on the level stretch: too moist for an estimate
    assert "For the cupboard the estimate should be at most 0.70" in panel.said.caution  # rule L4
    panel.set(left=0.39, salt=0.15)
    assert "Harmful germs should not grow below 0.85" in panel.said.caution  # rule L5
    panel.set(left=1.0, salt=0.0)
    assert "like fresh fish" in panel.said.caution and "9 of the 9 on the ladder" in panel.said.sentence
    back(panel)


def test_a_point_above_the_tested_water_activity_is_told_as_not_known():
    start = {control.name: control.start for control in water_panel.CONTROLS}
    water = free_water(piece_of(demo_batch("heron")), spread_of_protein(), **start | {"left": 1.0, "salt": 0.0})
    assert "not known" not in water_panel.tell(replace(water, activity=Band(0.98, 0.99, 0.994)), Choice()).how_sure
    assert "not known" in water_panel.tell(replace(water, activity=Band(0.99, 0.996, 0.999)), Choice()).how_sure


def test_a_weight_that_cannot_be_is_told_and_no_point_is_shown(panel):
    panel.set(left=0.30, fat=0.20)
    assert panel.trouble is None
    assert "cannot weigh 30 %" in panel.said.sentence and "not known" in panel.said.sentence
    assert "Treat the fish as fresh fish" in panel.said.caution
    assert not panel.picture["now"].get_visible() and len(panel.picture["unknown"].get_xdata()) == 9
    panel.set(left=0.8)
    assert panel.picture["now"].get_visible() and "not known" not in panel.said.sentence
    back(panel)


def test_trouble_is_told_in_words_by_the_panel(panel, monkeypatch):
    def refuse(**_values):
        raise ValueError("salt is -1; allowed is 0 and above")

    monkeypatch.setattr(panel, "_compute", refuse)
    panel.redraw()
    assert "cannot be worked out: salt is -1" in panel.said.sentence and isinstance(panel.trouble, ValueError)
    monkeypatch.undo()
    back(panel)
    assert panel.trouble is None


def test_units_follow_the_choice():
    choice = Choice("metric")
    panel = water_panel.water_panel(demo_batch("kingfisher"), choice)
    panel.set(left=0.5)
    assert "°F" not in panel.said.sentence and "25 °C" in panel.said.sentence
    choice.system = "us"
    assert "77 °F" in panel.said.sentence and "°C" not in panel.said.sentence
    assert "77 °F" in panel.picture["cautious"].get_label()


def test_the_sliders_start_at_the_batch_given():
    panel = water_panel.water_panel(demo_batch("otter"))
    assert panel.values["fat"] == pytest.approx(0.16, abs=0.011)
    assert panel.values["salt"] < 0.10  # freshened twice
    twin = str(panel.static())
    assert "Fat in the raw fish 16 %" in twin and "Caution:" in twin


def test_texts_of_the_picture_lie_apart_and_inside(panel):
    """At the default and where both points are high: no text over another, none cut by the edge."""
    for values in ({}, {"left": 1.0, "salt": 0.0}):
        panel.set(**values)
        made = panel.picture
        made.image()
        on = made["now"].axes
        texts = [text for text in on.texts if text.get_text() and text.get_visible()]
        assert len(texts) == len(water_panel.LADDER) + 3  # the rungs, what their marks mean, the two numbers
        boxes = [text.get_window_extent() for text in texts] + [on.get_legend().get_window_extent()]
        width, height = made.canvas.get_width_height()
        assert all(box.x0 >= 0 and box.x1 <= width and box.y0 >= 0 and box.y1 <= height for box in boxes)
        assert not any(first.overlaps(second) for first, second in itertools.combinations(boxes, 2))
        back(panel)
