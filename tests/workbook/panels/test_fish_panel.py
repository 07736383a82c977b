"""The panel of fish and thickness without a browser, and the small tables beside it."""

from dataclasses import replace

import numpy as np
import pytest

from flakeyard.steps.intent.batch_file import read_batch, written
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import fish as fish_panel
from flakeyard.workbook.panels import panel as panels
from flakeyard.workbook.panels.panel import Choice


@pytest.fixture(scope="module")
def kept():
    return fish_panel.fish_panel(choice=panels.Choice("metric"))


@pytest.fixture
def panel(kept):
    kept.choice.system = "metric"
    kept.set(**{control.name: control.start for control in kept.controls})
    return kept


def result(panel):
    return panel._compute(**panel.values)


def place(panel, name):
    return next(control for control in panel.controls if control.name == "fish").names.index(name)


@pytest.mark.parametrize("name", ["fish", "thickness", "thicker", "faces"])
def test_both_ends_of_every_slider_are_finite_in_order_and_told(panel, name):
    seen = set()
    for index in (0, len(panel.sliders[name].options) - 1):
        panel.sliders[name].index = index
        assert panel.trouble is None
        cut = result(panel)
        known = np.isfinite(cut.high)
        assert np.all(cut.low[known] <= cut.mid[known]) and np.all(cut.mid[known] <= cut.high[known])
        assert np.all(cut.usual_mid[known] <= cut.mid[known] + 1e-9)
        assert sum(cut.raw) == pytest.approx(1.0, abs=0.02) and sum(cut.dried) < 0.8
        told = " ".join((panel.said.sentence, panel.said.how_sure, panel.said.caution, panel.said.alt))
        assert not {"nan", "None", "inf"} & set(told.replace(",", " ").split())
        seen.add((panel._image.value, panel.said.sentence))
    assert len({image for image, _ in seen}) == len({sentence for _, sentence in seen}) == 2


def test_thicker_uneven_and_closed_faces_take_longer(panel):
    start = result(panel).seconds.mid
    for change in ({"thickness": 0.008}, {"thicker": 0.5}, {"faces": 1}):
        panel.set(**change)
        assert result(panel).seconds.mid > start, change
        panel.set(**{control.name: control.start for control in panel.controls})


def test_oily_fish_holds_less_water_and_leaves_more(panel):
    panel.set(fish=place(panel, "Atlantic cod"))
    lean = result(panel)
    panel.set(fish=place(panel, "Atlantic mackerel"))
    oily = result(panel)
    assert oily.raw[0] < lean.raw[0] and oily.raw[2] > lean.raw[2] and oily.weight_left.mid > lean.weight_left.mid


def test_too_thick_is_not_known_and_shows_no_point(panel):
    panel.set(thickness=0.012, thicker=0.6)
    assert "not known" in panel.said.sentence and "15 mm" in panel.said.sentence
    assert not panel.picture["here"].get_visible()
    panel.set(thickness=0.006)
    assert panel.picture["here"].get_visible() and "not known" not in panel.said.sentence


def test_more_than_two_days_is_said(panel):
    panel.set(fish=place(panel, "sablefish"), thickness=0.012, thicker=0.2, faces=1)
    assert result(panel).seconds.mid is None and "more than 48 h" in panel.said.sentence


def test_a_fish_that_can_form_histamine_is_named_so_and_every_caution_stands(panel):
    for name, warned in (("Atlantic mackerel", True), ("Atlantic cod", False)):
        panel.set(fish=place(panel, name))
        assert ("histamine" in panel.said.caution) is warned
        assert "says nothing about safety" in panel.said.caution and "teaching estimate" in panel.said.caution


def test_units_follow_the_choice(panel):
    panel.choice.system = "us"
    assert "in thick" in panel.said.sentence and " mm" not in panel.said.sentence
    assert panel.picture["curve"].axes.get_xlabel().endswith(", in")
    assert panel.picture["here"].get_xdata()[0] == pytest.approx(0.005 / 0.0254)


def test_the_point_lies_on_the_curve_and_the_line_goes_through_both(panel):
    across, hours = panel.picture["curve"].get_data()
    at, up = panel.picture["here"].get_data()
    assert up[0] == pytest.approx(np.interp(at[0], across, hours), rel=0.01)
    ends, heights = panel.picture["straight"].get_data()
    assert heights[0] == 0 and heights[1] / ends[1] == pytest.approx(up[0] / at[0])


def test_bars_stand_on_each_other(panel):
    cut = result(panel)
    for state, parts in (("raw", cut.raw), ("dried", cut.dried)):
        tops = [panel.picture[f"{state} {part}"].get_y() + panel.picture[f"{state} {part}"].get_height()
                for part in fish_panel.PARTS]  # fmt: skip
        assert tops == pytest.approx(100 * np.cumsum(parts))


def test_fish_run_from_lean_to_oily_and_the_own_one_is_the_batch_as_it_is():
    for name in ("heron", "otter", "kingfisher"):
        own = demo_batch(name)
        choices = fish_panel.fish_choices(own)
        fat = [one.fish.record.fat if one.fish.fat is None else one.fish.fat for _, one in choices]
        assert fat == sorted(fat) and sum(one is own for _, one in choices) == 1
        assert len({label for label, _ in choices}) == len(choices)


def test_a_fish_known_by_its_parts_only_has_a_mark_and_its_histamine_is_not_known():
    typed = written(demo_batch("heron"))
    parts = {"raw_weight": "1 kg", "water": 75.0, "protein": 20.0, "fat": 4.0, "ash": 1.2}
    own = read_batch(typed | {"fish": parts})
    panel = fish_panel.fish_panel(own)
    assert panel.said.sentence.startswith("This batch") and "not known" in panel.said.caution


def test_sliders_start_at_the_batch():
    panel = fish_panel.fish_panel(demo_batch("otter"))
    assert panel.values["thickness"] == 0.009 and panel.values["thicker"] == pytest.approx(0.2)
    heron = demo_batch("heron")
    skinned = replace(heron, cut=replace(heron.cut, skin="one side"))
    assert fish_panel.fish_panel(skinned).values["faces"] == 1


def test_tables_name_what_they_do_not_know():
    herring, cod = fish_panel.fish_table("herring", "cod").rows
    assert herring[-2:] == ("4.5–22", "can form it") and cod[-1] == "not listed"
    assert fish_panel.yield_table("herring").rows == (("herring", "not known", "62", "46"),)
    assert fish_panel.facts("grayling").lines[0].startswith("not known")
    assert "composition not known" in repr(fish_panel.facts("haddock"))
    assert "do not dry" in repr(fish_panel.facts("escolar"))


def test_a_published_dried_fish_stands_beside_the_raw_one_without_its_water():
    for name, part, published, computed, difference in fish_panel.dried_table(("whitefish", "whitefish_dried")).rows:
        assert "% water" in name and part in ("protein", "fat", "ash")
        assert float(computed) - float(published) == pytest.approx(float(difference), abs=0.11)


def test_one_way_of_freezing_is_gone_by():
    rows = fish_panel.freezing_table(Choice("metric")).rows
    assert [row[1::2] for row in rows if row[-1] == "used"] == [("-20 °C", "7 days")]
