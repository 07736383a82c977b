"""Panels and questions as a learner meets them: JupyterLab in a real browser, moved with the keyboard alone."""

from importlib.resources import files
from pathlib import Path

import pytest
from conftest import IDLE, ROOT, run_all, write_notebook

pytestmark = pytest.mark.browser

WORKBOOKS = sorted(path.name for path in (ROOT / "workbooks").glob("*.ipynb"))
AXE = files("axe_playwright_python") / "axe.min.js"  # axe-core
QUESTIONS = (
    "import flakeyard as fy\nfy.ask('How long?', kind='time', model=36000.0, why='Because it is thin.', example='8 h', within=0.25)",
    "fy.ask('Which?', {'thick': 'No: longer.', 'thin': 'Yes: less way to go.'}, 'thin')",
)
STATE = """() => { const shown = window.jupyterapp.shell.currentWidget.content;
  return [shown.activeCellIndex, shown.mode, shown.widgets.length,
          shown.widgets.filter(cell => cell.headingCollapsed).length]; }"""


def check_touch(page, panel):
    """A picture one can touch wakes, says what changed, and keeps the keys to itself; its sliders are swept elsewhere."""
    panel.scroll_into_view_if_needed()
    if not panel.get_by_role("slider").count():  # a log that nobody has written in yet
        return
    panel.locator("input[type=range]").first.press("ArrowRight")  # nobody has to guess
    handle = panel.locator(".fy-grip").first
    handle.press("Home")
    page.wait_for_function(IDLE)
    state = page.evaluate(STATE)
    handle.press("End")
    panel.locator(".fy-was").first.wait_for()
    assert panel.locator(".fy-large").is_visible() and panel.locator(".fy-caution").is_visible()
    assert page.evaluate(STATE) == state, "the keys did something else in JupyterLab"


@pytest.mark.parametrize("name", WORKBOOKS)
def test_a_workbook_as_a_learner_opens_and_runs_it(name, open_notebook, shoot):
    """Before it is run: pictures, no broken widgets. After: every panel follows the keyboard, axe-core finds nothing."""
    page = open_notebook(name, run=False)
    page.wait_for_timeout(1000)
    assert page.get_by_text("Error displaying widget").count() == 0
    shoot(f"{Path(name).stem}_not_run")
    run_all(page, name)
    assert page.locator("[data-mime-type='application/vnd.jupyter.error']").count() == 0
    for number, panel in enumerate(page.locator(".fy-touch").all()):
        check_touch(page, panel)
        shoot(f"{Path(name).stem}_touch{number}")
    assert broken_by_axe(page) == []


def test_questions_are_answered_with_the_keyboard(notebooks, open_notebook, shoot):
    write_notebook(notebooks / "questions.ipynb", *QUESTIONS)
    page = open_notebook("questions.ipynb")
    predict, choose = page.locator(".fy-question").all()
    predict.locator("input").focus()
    page.keyboard.type("8 h")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    predict.locator(".fy-right").wait_for()
    assert "Because it is thin." in predict.locator(".fy-right").inner_text()
    choose.locator("input").first.focus()
    page.keyboard.press("Space")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    choose.locator(".fy-right").wait_for()
    choose.scroll_into_view_if_needed()
    assert broken_by_axe(page) == []
    shoot("questions")


def broken_by_axe(page) -> list[str]:
    """What axe-core finds in the output areas, rule by rule."""
    page.evaluate(AXE.read_text() + ";undefined")
    options = "{resultTypes: ['violations']}"
    result = page.evaluate(f"async () => await axe.run({{include: [['.jp-OutputArea']]}}, {options})")
    return [
        f"{rule['impact']} {rule['id']}: {node['html'][:160]}"
        for rule in result["violations"]
        for node in rule["nodes"]
    ]
