"""Panels, pictures and questions without a browser: sliders are set, pictures and words are read."""

import html
import io
import re
import subprocess
import sys

import numpy as np
import pytest
import toy
from PIL import Image

from flakeyard.steps.plan.explore import changed
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import figures, questions, whole_batch
from flakeyard.workbook.panels import panel as panels
from flakeyard.workbook.panels.panel import Choice, Control, Panel

PANELS = {"toy": toy.panel}


def plain(widget) -> str:
    return html.unescape(re.sub("<[^>]*>", " ", widget.value)).replace("\u00a0", " ")


def dots(picture_bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(picture_bytes)).convert("L"), float)


@pytest.fixture(params=PANELS)
def panel(request):
    return PANELS[request.param]()


def test_moving_any_slider_changes_picture_and_sentence(panel):
    for name, slider in panel.sliders.items():
        seen = set()
        for index in (0, len(slider.options) - 1):
            slider.index = index
            assert panel.trouble is None, (name, index, panel.trouble)
            seen.add((panel._image.value, panel.said.sentence))
        assert len({image for image, _ in seen}) == len({sentence for _, sentence in seen}) == 2, name
        panel.set(**{control.name: control.start for control in panel.controls})


def test_every_panel_says_sentence_how_sure_and_caution(panel):
    assert plain(panel._sentence).strip() == panel.said.sentence.strip()
    assert "How sure:" in plain(panel._notes) and panel.said.how_sure in plain(panel._notes)
    assert "Caution:" in plain(panel._notes) and panel.said.caution in plain(panel._notes)


def test_text_alternative_keeps_step_with_the_sentence(panel):
    slider = next(iter(panel.sliders.values()))
    slider.index = len(slider.options) - 1
    assert panel.said.sentence in panel._helper.alt


def test_same_settings_give_the_same_picture_again(panel):
    first, slider = panel._image.value, next(iter(panel.sliders.values()))
    start = slider.index
    slider.index = len(slider.options) - 1
    slider.index = start
    assert panel._image.value == first


def test_back_to_the_start(panel):
    start = panel.values
    first = panel._image.value
    for slider in panel.sliders.values():
        slider.index = 0
    buttons = [child for child in panel.children[0].children[1].children if hasattr(child, "click")]
    buttons[0].click()
    assert panel.values == start and panel._image.value == first


def test_a_move_makes_no_figure_and_imports_nothing(panel, monkeypatch):
    slider = next(iter(panel.sliders.values()))
    slider.index = 1  # what is loaded once, and frames that are drawn once, are done with here
    panel.redraw()
    monkeypatch.setattr(figures.Figure, "__init__", lambda *_a, **_k: pytest.fail("a figure was made"))
    monkeypatch.setattr(figures.FigureCanvasAgg, "draw", lambda *_a, **_k: pytest.fail("the frame was drawn again"))
    before = set(sys.modules)
    panel.redraw()
    assert set(sys.modules) == before


def test_sliders_stand_in_the_one_order_whatever_the_author_wrote():
    assert [control.group for control in toy.panel().controls] == ["fish", "air"]
    assert list(toy.panel().sliders) == ["depth", "warmth"]


def test_a_control_of_no_known_group_is_refused():
    with pytest.raises(ValueError, match=r"'weather'; allowed is one of fish, salt, air, keeping"):
        Control("x", "X", "weather", "length", 0.0, 1.0, 0.1, 0.5)


def test_a_control_that_starts_outside_its_range_is_refused():
    with pytest.raises(ValueError, match="starts at 2"):
        Control("x", "X", "air", "length", 0.0, 1.0, 0.1, 2.0)


def test_impossible_settings_are_told_in_words_and_no_old_curve_is_left():
    panel = toy.panel()
    panel.set(depth=0.009, warmth=30.0)
    assert "allowed at this warmth is up to 8 mm" in plain(panel._sentence)
    assert isinstance(panel.trouble, ValueError)
    assert panel._image.value == panel.picture.image(moving=False)
    assert "empty picture" in panel._helper.alt
    panel.set(depth=0.005)
    assert panel.trouble is None and "allowed" not in plain(panel._sentence)


def test_a_fault_in_the_workbook_is_told_too():
    panel = toy.panel()
    panel.set(depth=0.009, warmth=10.0)
    assert "KeyError" in plain(panel._sentence) and "not known" in plain(panel._notes)


def test_the_picture_last_shown_is_of_the_newest_values():
    """A slider moved again while a computation runs: what is computed last is what the sliders say in the end."""
    moved = []

    def slow(depth, warmth):
        if len(moved) < 3:  # the learner drags on while this is computed
            moved.append(depth)
            panel.sliders["depth"].value = round(depth + 0.001, 10)
        return toy.compute(depth, warmth)

    panel = Panel("Toy", toy.CONTROLS, toy.compute, toy.picture, toy.draw, toy.tell)
    panel._compute = slow
    panel.sliders["depth"].value = 0.002
    assert panel.sliders["depth"].value == 0.005
    assert panel.said.sentence == toy.tell(toy.compute(0.005, 20.0), panel.choice).sentence
    toy.draw(panel.picture, toy.compute(0.005, 20.0), panel.choice)
    assert panel._image.value == panel.picture.image()


def test_units_change_readings_and_words_but_no_setting():
    choice = Choice("metric")
    panel = toy.panel(choice)
    panel.set(depth=0.008)
    assert panel.sliders["depth"].label == "8 mm" and "8 mm" in panel.said.sentence
    before = panel.values
    radio = panels.choose_units(choice).children[0]
    radio.value = "us"
    assert choice.system == "us" and panel.values == before
    assert panel.sliders["depth"].label == "0.31 in" and "0.31 in" in panel.said.sentence
    assert panel.sliders["warmth"].label == "68 °F"
    choice.system = "both"
    assert radio.value == "both" and panel.sliders["depth"].label == "8 mm (0.31 in)"


def test_two_panels_with_their_own_choice_do_not_disturb_each_other():
    first, second = toy.panel(Choice("metric")), toy.panel(Choice("us"))
    first.choice.system = "both"
    assert second.sliders["depth"].label == "0.2 in"


def test_on_release_sliders_wait_for_the_hand_to_let_go():
    assert all(slider.continuous_update for slider in toy.panel().sliders.values())
    assert not any(slider.continuous_update for slider in toy.panel(on_release=True).sliders.values())


def test_static_twin_holds_settings_words_and_picture(panel):
    twin = panel.static()
    page = twin._repr_html_()
    assert twin.said == panel.said and panel.said.sentence in str(twin)
    assert 'alt="' in page and "data:image/png;base64," in page and "widget" not in page
    for control in panel.controls:
        assert control.label in twin.settings
    assert Image.open(io.BytesIO(twin.png)).size[0] > 200


def test_a_stored_notebook_holds_the_static_twin_beside_the_live_panel():
    bundle = toy.panel()._repr_mimebundle_()
    assert set(bundle) == {"text/plain", "text/html", "application/vnd.jupyter.widget-view+json"}


def test_words_of_results_cannot_become_markup():
    panel = toy.panel()
    panel._tell = lambda _result, _choice: panels.Said("<img src=x> & 3 mm", "<b>", "<i>")
    panel.redraw()
    assert "<img" not in panel._sentence.value and "<b>" not in panel._notes.value
    assert "3&nbsp;mm" in panel._sentence.value


def test_a_band_is_told_with_one_unit_and_gaps_are_not_known():
    choice = Choice("both")
    band = panels.Band
    assert choice.show_band(band(0.005, 0.006, 0.008), "length").startswith("6 mm (0.24 in), likely 5 to 8 mm")
    assert choice.show_band(band(3600.0, 3600.0, 3600.0), "time") == choice.show(3600.0, "time")
    assert choice.show_band(band(7200.0, 10800.0, None), "time") == "3 h, likely 2 h or more"
    assert choice.show_band(band(None, None, None), "time") == "not known"


# pictures


def test_kept_frame_with_moving_artists_is_the_same_as_a_whole_new_drawing():
    made = toy.picture(Choice())
    toy.draw(made, toy.compute(0.003, 20.0), None)
    made.image()
    toy.draw(made, toy.compute(0.006, 25.0), None)
    blitted = np.asarray(made._dots(True), float)
    whole = io.BytesIO()
    made.figure.savefig(whole, format="png", dpi=made.figure.dpi)
    fresh = np.asarray(Image.open(whole).convert("RGB"), float)
    # the legend of the frame lies beneath moving artists and above them in a whole drawing: a few dots differ
    assert np.mean(np.abs(blitted - fresh) > 16) < 0.01


def test_a_new_scale_draws_a_new_frame_and_an_old_one_is_kept():
    made = toy.picture(Choice())
    toy.draw(made, toy.compute(0.003, 20.0), None)
    narrow = made.image()
    figures.set_across(made.figure.axes[0], 20.0)
    wide = made.image()
    figures.set_across(made.figure.axes[0], 10.0)
    assert made.image() == narrow != wide
    assert len(made._frames) == 2


def test_a_point_that_is_not_known_is_not_drawn():
    made = toy.picture(Choice())
    figures.set_point(made, "end", 5.0, 50.0, "here")
    shown = dots(made.image())
    figures.set_point(made, "end", np.nan, 50.0, "here")
    assert dots(made.image()).mean() > shown.mean() and not made["end"].get_visible()


@pytest.mark.parametrize("across", [0.2, 5.0, 9.8])
def test_words_of_a_point_stay_inside_the_axes_sideways(across):
    made = toy.picture(Choice())
    figures.set_point(made, "end", across, 50.0, "stop here: 41 % left")
    made.image()
    box, frame = made["end_words"].get_window_extent(), made.figure.bbox
    assert box.x0 >= frame.x0 and box.x1 <= frame.x1


def test_styles_never_differ_by_colour_alone():
    for styles in (figures.COLOURS, figures.DASHES, figures.HATCHES, figures.MARKERS):
        assert len(set(styles)) == len(styles) == 6


# questions


def prediction(**more):
    settings = {"kind": "time", "model": 36000.0, "why": "Because.", "example": "8 h", "within": 0.25} | more
    return questions.Prediction("How long?", **settings)


@pytest.mark.parametrize(
    ("typed", "verdict"),
    [("10 h", True), ("12.5 h", True), ("12.6 h", False), ("7,5 h", True), ("450 min", True), ("20 h", False)],
)
def test_a_prediction_is_compared_with_its_tolerance(typed, verdict):
    question = prediction()
    question.field.value = typed
    assert question.check() is verdict
    assert typed in question.reply and "10 h" in question.reply and "Because." in question.reply


@pytest.mark.parametrize("typed", ["", "10", "some hours", "60 °C", "-3 h"])
def test_a_prediction_that_cannot_be_read_is_neither_right_nor_wrong_and_gives_nothing_away(typed):
    question = prediction(model=lambda: pytest.fail("the model was asked too early"))
    question.field.value = typed
    assert question.check() is None
    assert "8 h" in question.reply and "Because" not in question.reply


def test_a_prediction_of_a_temperature_goes_by_degrees_not_by_shares():
    question = prediction(kind="temperature", model=40.0, example="35 °C", within=0.0, off_by=5.0)
    for typed, verdict in (("45 °C", True), ("113 °F", True), ("46 °C", False)):
        question.field.value = typed
        assert question.check() is verdict


def test_a_prediction_without_a_tolerance_is_refused():
    with pytest.raises(ValueError, match="tolerance"):
        prediction(within=0.0)


def test_choosing_replies_to_the_answer_chosen():
    question = questions.Choosing("Which?", {"thin": "Yes: less way to go.", "thick": "No: longer."}, "thin")
    assert question.check() is None
    question.field.value = "thick"
    assert question.check() is False and question.reply == "No: longer."
    question.field.value = "thin"
    assert question.check() is True and "less way" in question._text.value


def test_an_answer_that_arrives_just_behind_the_button_counts(monkeypatch):
    question = questions.Choosing("Which?", {"thin": "Yes: less way to go.", "thick": "No: longer."}, "thin")
    question.field.value = "thick"
    question.check()
    question.field.value = "thin"
    assert question.right is True
    monkeypatch.setattr(questions, "LATE", 0.0)
    question.field.value = "thick"
    assert question.right is True and "less way" in question.reply


def test_a_right_answer_that_is_not_offered_is_refused():
    with pytest.raises(ValueError, match="dry"):
        questions.Choosing("Which?", {"thin": "", "thick": ""}, "dry")


def test_the_package_itself_loads_neither_pictures_nor_widgets():
    code = "import flakeyard, sys; print([m for m in ('matplotlib', 'ipywidgets', 'pandas') if m in sys.modules])"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True).stdout.strip() == "[]"


@pytest.mark.parametrize("change", [{}, {"temperature": 68.0}, {"thickness": 0.007}, {"stop_at": 0.5}])
def test_the_whole_batch_panel_judges_as_the_plan_of_the_same_batch_does(change):
    panel = whole_batch.whole_batch_panel()
    panel.set(**change)
    seen, planned = panel.result(**panel.values).verdict, plan(changed(demo_batch("heron"), **panel.values)).verdict
    assert (seen.keep, seen.eat) == (planned.keep, planned.eat)
