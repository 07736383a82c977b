"""Panels, pictures and questions without a browser: sliders are set, pictures and words are read."""

import html
import re
import subprocess
import sys

import pytest

import flakeyard as fy
from flakeyard.steps.plan.explore import changed, stopped_at
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import panel as panels
from flakeyard.workbook.panels import questions, whole_batch
from flakeyard.workbook.panels.panel import Choice, Control


def plain(widget) -> str:
    return html.unescape(re.sub("<[^>]*>", " ", widget.value)).replace("\u00a0", " ")


def test_a_control_of_no_known_group_is_refused():
    with pytest.raises(ValueError, match=r"'weather'; allowed is one of fish, salt, air, keeping"):
        Control("x", "X", "weather", "length", 0.0, 1.0, 0.1, 0.5)


def test_a_control_that_starts_outside_its_range_is_refused():
    with pytest.raises(ValueError, match="starts at 2"):
        Control("x", "X", "air", "length", 0.0, 1.0, 0.1, 2.0)


def test_words_of_results_cannot_become_markup():
    said = panels.Said("<img src=x> & 3 mm", "<b>", "<i>", "<u>")
    page = panels.StaticTwin("<s>", "<em>", said, b"")._repr_html_()
    assert not any(mark in page for mark in ("<img src=x", "<b>", "<i>", "<u>", "<s>", "<em>"))
    assert "3&nbsp;mm" in page


def test_a_band_is_told_with_one_unit_and_gaps_are_not_known():
    choice = Choice("both")
    band = panels.Band
    assert choice.show_band(band(0.005, 0.006, 0.008), "length").startswith("6 mm (0.24 in), likely 5 to 8 mm")
    assert choice.show_band(band(3600.0, 3600.0, 3600.0), "time") == choice.show(3600.0, "time")
    assert choice.show_band(band(7200.0, 10800.0, None), "time") == "3 h, likely 2 h or more"
    assert choice.show_band(band(None, None, None), "time") == "not known"


# questions


def prediction(**more):
    settings = {"kind": "time", "model": 36000.0, "why": "Because.", "example": "8 h", "within": 0.25} | more
    return questions.Prediction("How long?", **settings)


@pytest.mark.parametrize(
    ("typed", "verdict"),
    [
        ("10 h", True),
        ("12.5 h", True),
        ("12.6 h", False),
        ("7,5 h", True),
        ("450 min", True),
        ("20 h", False),
        ("10", True),
        ("20", False),
    ],
)
def test_a_prediction_is_compared_with_its_tolerance(typed, verdict):
    question = prediction()
    question.field.value = typed
    assert question.check() is verdict
    assert typed in question.reply and "10 h" in question.reply and "Because." in question.reply


@pytest.mark.parametrize("typed", ["", "/", "some hours", "60 °C", "-3 h"])
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
    asked = panel.values
    batch = changed(demo_batch("heron"), **{name: asked[name] for name in change if name != "stop_at"})
    batch = stopped_at(batch, asked["stop_at"]) if asked["stop_at"] else batch
    seen, planned = panel.result(**asked).verdict, plan(batch).verdict
    assert (seen.keep, seen.eat) == (planned.keep, planned.eat)


def test_units_chosen_once_hold_in_the_next_workbook(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    panels.choose_units(choice := fy.choose_units())
    choice.system = "us"
    assert fy.choose_units().system == fy.choose_units("both").system == "us"
    assert fy.choose_units("metric").system == "metric"
    (tmp_path / panels.UNITS_FILE).write_text("furlongs", encoding="utf-8")
    assert fy.choose_units().system == "both"


def test_a_mistake_in_a_cell_is_said_without_a_traceback():
    """The words of the mistake, and the cell still counts as one that failed."""
    cell = "import flakeyard as fy; fy.change(fy.batch('heron'), 'cut', thickness='thin')"
    code = f"from IPython.core.interactiveshell import InteractiveShell as Shell\nprint(Shell.instance().run_cell({cell!r}).success)"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
    said = told.stdout + told.stderr
    assert told.stdout.strip().endswith("False") and "thin" in said and "Example" in said
    assert "Traceback" not in said and "units.py" not in said
