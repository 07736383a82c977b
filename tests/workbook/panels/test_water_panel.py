"""The panel of water activity over weight left: numbers at all ends, directions, words, units."""

import itertools
import re
from dataclasses import replace

import numpy as np
import pytest

from flakeyard.models import sorption
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.judge import safety, water_check
from flakeyard.steps.plan import plan as chain
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import water as water_panel
from flakeyard.workbook.panels.panel import Choice

SPREAD = water_panel.spread_of_protein()
START = {control.name: control.start for control in water_panel.CONTROLS}
ENDS = {control.name: (control.low, control.high) for control in water_panel.CONTROLS}
MOVES = [START | {name: end} for name, ends in ENDS.items() for end in ends]
CORNERS = [dict(zip(ENDS, corner, strict=True)) for corner in itertools.product(*ENDS.values())]


@pytest.fixture(scope="module")
def piece():
    return water_panel.piece_of(demo_batch("heron"))


@pytest.fixture(scope="module")
def panel():
    return water_panel.water_panel(demo_batch("heron"))


@pytest.fixture
def moved(piece):
    return lambda **values: water_panel.compute(piece, SPREAD, **(START | values))


def back(panel):
    panel.set(**{control.name: control.start for control in panel.controls})


@pytest.mark.parametrize("values", [START, *MOVES, *CORNERS], ids=str)
def test_curves_are_finite_ordered_and_rise_with_the_weight(moved, values):
    water = moved(**values)
    for curve in (water.low, water.mid, water.high, water.cautious):
        assert np.all((curve >= 0) & (curve <= 1)) and np.all(np.diff(curve) > -1e-9)
    assert np.all(water.low <= water.mid) and np.all(water.mid <= water.high)
    assert 0.2 < water.left[0] < water.left[-1] == pytest.approx(1.0)
    assert water.line[1] < water.line[0]  # the cautious end reaches 0.85 at a lower weight


@pytest.mark.parametrize("values", [START, *MOVES], ids=str)
def test_the_cautious_end_lies_a_margin_above_the_estimate_at_room_temperature(moved, values):
    water = moved(**values)
    if water.activity is not None:
        assert water.upper >= min(1.0, water.at_room + sorption.CAUTION_MARGIN - 1e-9)
        assert water.activity.low <= water.activity.mid <= water.activity.high


def test_the_weight_to_stop_at_is_where_the_plan_says_it_is():
    """The panel leaves out the spread of fish and salt, and the little that sugar binds; the middle must agree."""
    for name in ("heron", "otter"):
        batch = demo_batch(name)
        piece, plan = water_panel.piece_of(batch), chain.plan(batch)
        here = {"fat": piece.fat, "salt": piece.salt, "left": plan.drying["mass_ratio"].mid, "temperature": 25.0}
        water = water_panel.compute(piece, SPREAD, **here)
        assert water.at_room == pytest.approx(plan.dried["water_activity"].mid, abs=0.02)
        assert water.water_fraction == pytest.approx(plan.dried["water_fraction"].mid, abs=0.02)


def test_more_salt_reaches_the_line_at_a_higher_weight_and_buys_nothing_below_the_step(moved):
    lines = [moved(salt=salt).line for salt in (0.0, 0.1, 0.2, 0.4)]
    assert lines == sorted(lines) and lines[0][0] < lines[-1][0] - 0.1
    few, much = (water_panel.sorption.water_activity(0.15, salt, 0, 1) for salt in (0.1, 0.3))
    assert few == much < sorption.PLATEAU


def test_fat_is_ballast_the_same_water_per_solids_has_the_same_activity(piece, moved):
    lean, fatty = (moved(fat=fat, left=0.7) for fat in (0.02, 0.15))
    left = (piece.dead_weight(0.15, START["salt"]) + lean.water_ratio) / (
        piece.dead_weight(0.15, START["salt"]) + piece.water
    )
    same = moved(fat=0.15, left=left)
    assert same.water_ratio == pytest.approx(lean.water_ratio)
    assert same.at_room == pytest.approx(lean.at_room)
    assert fatty.line[0] > lean.line[0]


def test_a_warm_piece_has_the_freer_water_but_the_verdict_stays_at_room_temperature(moved):
    cold, room, warm = (moved(temperature=degrees, salt=0.0, left=0.42) for degrees in (5.0, 25.0, 63.0))
    assert cold.activity.mid < room.activity.mid < warm.activity.mid
    assert cold.upper == room.upper == warm.upper and cold.at_room == warm.at_room == room.activity.mid


def test_drier_stops_more_of_the_ladder_and_never_less(moved):
    states = []
    for left in np.arange(0.38, 1.0, 0.02):
        water = moved(left=float(left))
        states.append(
            [["stopped", "perhaps", "grows"].index(water_panel.can_grow(rung, water)) for rung in water_panel.LADDER]
        )
    assert np.all(np.diff(states, axis=0) >= 0)
    assert sum(states[0]) < sum(states[-1])


def test_the_ladder_stands_on_the_tables():
    heights = [rung.activity for rung in water_panel.LADDER]
    assert heights == sorted(heights, reverse=True)
    for rung in water_panel.LADDER:
        assert rung.label.endswith("*") == (water_check.limit_of(rung.organism).how == "memory")
    assert safety.SHELF_MEASURED in heights and min(heights) > water_panel.LOWEST
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
    panel.set(left=0.40)
    assert "Harmful germs should not grow below 0.85" in panel.said.caution  # rule L5
    panel.set(left=1.0, salt=0.0)
    assert "like fresh fish" in panel.said.caution and "9 of the 9 on the ladder" in panel.said.sentence
    back(panel)


def test_a_point_above_the_tested_water_activity_is_told_as_not_known(moved):
    water = moved(left=1.0, salt=0.0)
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


def test_a_piece_without_salt_and_sugar_is_the_plain_isotherm(piece):
    plain = replace(piece, sugar=0.0)
    water = water_panel.compute(plain, SPREAD, fat=0.0, salt=0.0, left=0.6, temperature=25.0)
    middle = sorption.water_activity(water.water_ratio, 0.0, 0.0, 1.0, **SPREAD)
    assert water.at_room == pytest.approx(float(np.median(middle)))
