"""The panel of fish and thickness without a browser, and the small tables beside it."""

import itertools
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
    return panel.result(**panel.values)


def place(panel, name):
    return next(control for control in panel.controls if control.name == "fish").names.index(name)


def marks(panel, kind, field=1):
    return [mark for mark in panel.record["fields"][field]["marks"] if mark["kind"] == kind]


@pytest.mark.parametrize("name", ["fish", "thickness", "thicker", "faces"])
def test_both_ends_of_every_slider_are_finite_in_order_and_told(panel, name):
    control = next(one for one in panel.controls if one.name == name)
    for value in (control.low, control.high):
        panel.set(**{name: value})
        assert panel.trouble is None
        cut = result(panel)
        known = np.isfinite(cut.high)
        assert np.all(cut.low[known] <= cut.mid[known]) and np.all(cut.mid[known] <= cut.high[known])
        assert np.all(cut.usual_mid[known] <= cut.mid[known] + 1e-9)
        assert sum(cut.raw) == pytest.approx(1.0, abs=0.02) and sum(cut.dried) < 0.8
        said = panel.said
        told = " ".join((said.sentence, said.how_sure, said.caution, said.alt, str(said.numbers), str(said.chips)))
        assert not {"nan", "None", "inf"} & set(told.replace(",", " ").replace("'", " ").split())


def test_thicker_uneven_and_closed_faces_take_longer(panel):
    start = result(panel).seconds.mid
    for change in ({"thickness": 0.008}, {"thicker": 0.5}, {"faces": 1}):
        panel.set(**{control.name: control.start for control in panel.controls} | change)
        assert result(panel).seconds.mid > start, change


def test_oily_fish_holds_less_water_and_leaves_more(panel):
    panel.set(fish=place(panel, "Atlantic cod"))
    lean = result(panel)
    panel.set(fish=place(panel, "Atlantic mackerel"))
    oily = result(panel)
    assert oily.raw[0] < lean.raw[0] and oily.raw[2] > lean.raw[2] and oily.weight_left.mid > lean.weight_left.mid


def test_too_thick_is_not_known_and_shows_no_point(panel):
    panel.set(thickness=0.012, thicker=0.6)
    assert "not known" in panel.said.sentence and "15 mm" in panel.said.sentence
    assert panel.said.numbers[0][1] == "not known" and not marks(panel, "point")
    panel.set(thickness=0.006)
    assert marks(panel, "point") and "not known" not in panel.said.sentence


def test_more_than_two_days_is_said(panel):
    panel.set(fish=place(panel, "sablefish"), thickness=0.012, thicker=0.2, faces=1)
    assert result(panel).seconds.mid is None and "more than 48 h" in panel.said.sentence
    assert panel.said.numbers[0][1] == "more than 48 h" and not marks(panel, "point")


def test_a_fish_that_can_form_histamine_is_named_so_and_every_caution_stands(panel):
    for name, warned in (("Atlantic mackerel", True), ("Atlantic cod", False)):
        panel.set(fish=place(panel, name))
        assert ("histamine" in panel.said.caution) is warned
        assert "says nothing about safety" in panel.said.caution and "teaching estimate" in panel.said.caution


def test_units_follow_the_choice(panel):
    panel.choice.system = "us"
    assert "in thick" in panel.said.sentence and " mm" not in panel.said.sentence
    assert panel.record["fields"][1]["across"]["label"].startswith("inches")
    assert marks(panel, "point")[0]["x"] == pytest.approx(5.0)  # places stay in mm


def test_the_point_lies_on_the_curve_and_the_line_goes_through_both(panel):
    curves = {mark["style"]: mark for mark in marks(panel, "curve")}
    (point,) = marks(panel, "point")
    assert point["y"] == pytest.approx(np.interp(point["x"], curves["now"]["x"], curves["now"]["y"]), rel=0.01)
    line = curves["later"]
    assert line["y"][0] == 0 and line["y"][1] / line["x"][1] == pytest.approx(point["y"] / point["x"], rel=0.001)


def test_arrows_are_as_long_as_the_way_of_the_water(panel):
    for faces, ways in ((2, 4), (1, 2)):  # a piece has two columns of arrows
        panel.set(faces=faces)
        arrows, cuts = marks(panel, "arrow", 0), marks(panel, "cut", 0)
        for cut, held in zip(cuts, (arrows[:ways], arrows[ways:]), strict=True):
            assert len(held) == ways
            for arrow in held:
                assert abs(arrow["y"][1] - arrow["y"][0]) == pytest.approx(cut["bottom"] / faces)
                assert cut["left"] < arrow["x"][0] < cut["right"] and arrow["y"][1] in (0.0, cut["bottom"])
        if faces == 1:
            assert {arrow["y"][1] for arrow in arrows} == {0.0}  # nothing leaves through skin


def test_a_gram_is_as_long_in_both_bars(panel):
    cut, boxes = result(panel), marks(panel, "box", 0)
    for held, parts in ((boxes[:4], cut.raw), (boxes[4:], cut.dried)):
        assert [box["x"][1] - box["x"][0] for box in held] == pytest.approx(
            100 * fish_panel.GRAM * np.array(parts), abs=0.01
        )
        assert all(right["x"][0] == left["x"][1] for left, right in itertools.pairwise(held))


@pytest.mark.parametrize(("hours", "told"), [(3.0, "too little"), (12.0, "likely range")])
def test_a_guessed_curve_is_answered_at_its_end(panel, hours, told):
    reply = fish_panel.reply_cut(result(panel), {"knots": [2.0, 5.0, hours]}, panel.choice)
    assert told in reply and reply.startswith(f"You drew {hours:.0f} h for 12 mm")
    panel.set(thicker=0.3)  # then a piece of 12 mm is one of nearly 16, which was not tested
    assert "not known" in fish_panel.reply_cut(result(panel), {"knots": [2.0, 5.0, hours]}, panel.choice)


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


def test_the_folded_answers_say_what_the_panel_says(panel):
    """Each question is done as it is written, and its answer names these numbers."""

    def hours(**values):
        panel.set(**{control.name: control.start for control in panel.controls} | values)
        return panel.said.numbers[0][1]

    saw = [answer for _, answer in panel.setup["look_for"]]
    assert (hours(thickness=0.006), hours(thickness=0.012)) == ("6 h", "14 h") and "6 h become 14 h" in saw[0]
    alike = {"thicker": 0.0}
    closed, thick = hours(thickness=0.006, faces=1, **alike), hours(thickness=0.012, **alike)
    assert closed == thick == "12 h" and "12 h both times" in saw[1]
    assert hours(thickness=0.009, thicker=0.6) != hours(thickness=0.010, thicker=0.6) == "not known"
    assert "From 10 mm" in saw[2]
