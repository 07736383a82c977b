"""Panels and questions as a learner meets them: JupyterLab in a real browser, moved with the keyboard alone."""

from importlib.resources import files
from pathlib import Path

import pytest
from conftest import IDLE, ROOT, run_all, write_notebook

pytestmark = pytest.mark.browser

WORKBOOKS = sorted(path.name for path in (ROOT / "workbooks").glob("*.ipynb"))
AXE = files("axe_playwright_python") / "axe.min.js"  # axe-core
DEMO = [
    f"import sys, time\nsys.path.insert(0, {str(ROOT / 'tests')!r})\nimport toy\n"
    "import flakeyard as fy\nchoice = fy.choose_units('metric')\nchoice",
    "toy.panel(choice)",
    "quick = toy.panel(choice)\nquick",
    "slow = toy.panel(choice)\nfast_compute = slow._compute\n"
    "slow._compute = lambda **values: (time.sleep(0.15), fast_compute(**values))[1]\nslow.add_class('slow-toy')",
    "fy.ask('How long?', kind='time', model=36000.0, why='Because it is thin.', example='8 h', within=0.25)",
    "fy.ask('Which?', {'thick': 'No: longer.', 'thin': 'Yes: less way to go.'}, 'thin')",
    "slow.static()",
]
STATE = """() => { const shown = window.jupyterapp.shell.currentWidget.content;
  return [shown.activeCellIndex, shown.mode, shown.widgets.length,
          shown.widgets.filter(cell => cell.headingCollapsed).length]; }"""

DOTS = """async image => {
  await image.decode().catch(() => null);
  if (!image.naturalWidth) return 0;   // a new picture is just arriving
  const canvas = new OffscreenCanvas(image.naturalWidth, image.naturalHeight);
  const brush = canvas.getContext('2d');
  brush.drawImage(image, 0, 0);
  let sum = 7;
  for (const dot of brush.getImageData(0, 0, canvas.width, canvas.height).data) sum = (sum * 31 + dot) | 0;
  return sum; }"""


@pytest.fixture(scope="session")
def demo(notebooks):
    write_notebook(notebooks / "demo_panels.ipynb", *DEMO)
    return "demo_panels.ipynb"


@pytest.fixture
def demo_page(demo, open_notebook):
    page = open_notebook(demo)
    page.locator("img.fy-picture").nth(2).wait_for()
    return page


def seen(panel):
    """The dots of the picture, as a short number, and the sentence."""
    dots = panel.locator("img.fy-picture").evaluate(DOTS)
    return dots, " ".join(panel.locator(".fy-sentence").inner_text().split())


def press_until_settled(page, panel, handle, key, times=1):
    """Press a key on a slider and wait until its panel has shown no change for a while and the kernel rests."""
    handle.focus()
    for _ in range(times):
        page.keyboard.press(key)
    before, quiet = None, 0
    while quiet < 4:
        page.wait_for_timeout(100)
        now = seen(panel)
        quiet = quiet + 1 if now == before and page.evaluate(IDLE) else 0
        before = now
    return before


def check_panel(page, panel):
    """Both ends of every slider give another picture and another sentence, and no key did anything else in Lab."""
    panel.scroll_into_view_if_needed()
    sliders = panel.get_by_role("slider").all()
    assert sliders
    for handle in sliders:
        middle = handle.get_attribute("aria-valuenow")
        low = press_until_settled(page, panel, handle, "Home")
        state = page.evaluate(STATE)
        high = press_until_settled(page, panel, handle, "End")
        name = handle.get_attribute("aria-label")
        assert low[0] != high[0], f"{name}: same picture"
        assert low[1] != high[1], f"{name}: same sentence"
        assert "went wrong" not in high[1] + low[1]
        assert page.evaluate(STATE) == state, f"{name}: the keys did something else in JupyterLab"
        press_until_settled(page, panel, handle, "ArrowLeft")
        assert handle.get_attribute("aria-valuenow") != middle or float(middle) == 0


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
    for number, panel in enumerate(page.locator(".fy-panel").all()):
        check_panel(page, panel)
        shoot(f"{Path(name).stem}_panel{number}")
    for number, panel in enumerate(page.locator(".fy-touch").all()):
        check_touch(page, panel)
        shoot(f"{Path(name).stem}_touch{number}")
    assert broken_by_axe(page) == []


def test_demo_panels_follow_the_keyboard(demo_page, shoot):
    for number, panel in enumerate(demo_page.locator(".fy-panel").all()):
        check_panel(demo_page, panel)
        shoot(f"demo_panel{number}")


def test_handles_have_names_and_pictures_have_words(demo_page):
    for panel in demo_page.locator(".fy-panel").all():
        for handle in panel.get_by_role("slider").all():
            press_until_settled(demo_page, panel, handle, "ArrowRight")
            row = handle.locator("xpath=ancestor::*[contains(@class, 'widget-slider')]")
            assert handle.get_attribute("aria-label") == row.locator(".widget-label").inner_text().strip()
            assert handle.get_attribute("aria-valuetext") == row.locator(".widget-readout").inner_text().strip()
        assert seen(panel)[1] in panel.locator("img.fy-picture").get_attribute("alt")
        assert panel.locator(".fy-live [aria-live=polite]").count() == 1


def test_when_the_slider_outruns_the_computation_the_newest_value_is_shown_last(demo_page):
    panel = demo_page.locator(".slow-toy")
    handle = panel.get_by_role("slider").nth(1)
    press_until_settled(demo_page, panel, handle, "Home")
    for key, times in (("ArrowRight", 17), ("ArrowLeft", 6)):
        press_until_settled(demo_page, panel, handle, key, times)
    demo_page.wait_for_timeout(1500)
    shown = seen(panel)
    assert handle.get_attribute("aria-valuetext") == "21 °C"
    press_until_settled(demo_page, panel, handle, "ArrowRight")
    assert press_until_settled(demo_page, panel, handle, "ArrowLeft") == shown


def test_trouble_is_told_inside_the_panel(demo_page, shoot):
    panel = demo_page.locator(".fy-panel").nth(1)
    for handle in panel.get_by_role("slider").all():
        after = press_until_settled(demo_page, panel, handle, "End")
    assert "allowed at this warmth is up to 8 mm" in after[1]
    assert demo_page.locator("[data-mime-type='application/vnd.jupyter.error']").count() == 0
    shoot("demo_trouble")


def test_units_are_changed_with_the_keyboard(demo_page, shoot):
    panel = demo_page.locator(".fy-panel").nth(1)
    assert panel.locator(".widget-readout").first.inner_text() == "5 mm"
    demo_page.locator("input[type=radio]").first.focus()
    demo_page.keyboard.press("ArrowDown")
    demo_page.wait_for_function(
        "() => document.querySelectorAll('.fy-panel')[1].querySelector('.widget-readout').innerText === '0.2 in'"
    )
    assert panel.locator(".widget-readout").first.inner_text() == "0.2 in"
    assert panel.get_by_role("slider").first.get_attribute("aria-valuetext") == "0.2 in"
    shoot("demo_us")


def test_questions_are_answered_with_the_keyboard(demo_page, shoot):
    predict, choose = demo_page.locator(".fy-question").all()
    predict.locator("input").focus()
    demo_page.keyboard.type("8 h")
    demo_page.keyboard.press("Tab")
    demo_page.keyboard.press("Enter")
    predict.locator(".fy-right").wait_for()
    assert "Because it is thin." in predict.locator(".fy-right").inner_text()
    choose.locator("input").first.focus()
    demo_page.keyboard.press("Space")
    demo_page.keyboard.press("ArrowDown")
    demo_page.keyboard.press("Tab")
    demo_page.keyboard.press("Enter")
    choose.locator(".fy-right").wait_for()
    choose.scroll_into_view_if_needed()
    shoot("demo_questions")


def test_nothing_jumps_when_a_slider_moves(demo_page):
    panel = demo_page.locator(".fy-panel").first
    heights = set()
    for handle in panel.get_by_role("slider").all():
        for key in ("Home", "End"):
            press_until_settled(demo_page, panel, handle, key)
            heights.add(round(panel.bounding_box()["height"]))
    assert len(heights) == 1


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


def test_output_areas_of_the_demo_pass_axe(demo_page):
    demo_page.wait_for_timeout(1000)
    assert broken_by_axe(demo_page) == []
