"""The pages without Python on a phone's width and on a desk's, by keyboard, against the same rule in Python."""

import re
from dataclasses import replace

import numpy as np
import pytest
from test_panels_in_browser import AXE

from flakeyard.workbook import own
from flakeyard.workbook.pages import explorers, live_pages
from flakeyard.workbook.panels.live import Live
from flakeyard.workbook.panels.panel import Choice

pytestmark = pytest.mark.browser
HERON = own.demo_batch("heron")


def smooth_grid(explorer):
    """An invented grid that changes along every axis, so that every slider is seen to work."""
    shape = tuple(len(axis.marks) for axis in explorer.axes)
    sums = np.indices(shape).sum(axis=0) / sum(shape)
    middle = 4 + 30 * sums if explorer.logs else 0.5 + 0.4 * sums
    grid = {"low": 0.8 * middle, "mid": middle, "high": 1.1 * middle, "ratio": 0.4 + 0.3 * sums}
    codes = {
        "keep": np.minimum(4, (5 * sums).astype(int)),
        "eat": np.minimum(3, (4 * sums).astype(int)),
        "days": 60 - 50 * sums,
    }
    return {name: grid[name] for name in explorer.numbers} | codes


@pytest.fixture(scope="session", params=explorers.EXPLORERS, ids=lambda explorer: explorer.name)
def made(request, tmp_path_factory):
    explorer, grid = request.param, smooth_grid(request.param)
    path = tmp_path_factory.mktemp("explorers") / f"{explorer.name}.html"
    path.write_text(explorers.page(explorer, grid, HERON), encoding="utf-8")
    return explorer, grid, path


@pytest.mark.parametrize("wide", [390, 1280])
def test_every_slider_follows_the_keyboard(made, wide, page, shoot):
    explorer, _, path = made
    page.set_viewport_size({"width": wide, "height": 900})
    page.goto(path.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= wide
    for handle in page.get_by_role("slider").all():
        seen = []
        for key in ("Home", "End"):
            handle.focus()
            page.keyboard.press(key)
            seen.append((page.locator("#said").inner_text(), page.locator("#picture").inner_html()))
            assert handle.get_attribute("aria-valuetext")
        assert seen[0][0] != seen[1][0] and seen[0][1] != seen[1][1]
    shoot(f"explorer_{explorer.name}_{wide}")
    page.get_by_role("button").press("Enter")
    shoot(f"explorer_{explorer.name}_{wide}_start")
    assert page.locator("svg title").text_content().endswith(page.locator("#said").text_content())


def test_the_page_says_what_the_same_rule_says_in_python(made, page):
    explorer, grid, path = made
    page.goto(path.as_uri())
    for steps in ((3, 1, 2, 5), (0, 4, 1, 2), (7, 2, 3, 9)):
        page.get_by_role("button").press("Enter")
        settings = {}
        for axis, handle, count in zip(explorer.axes, page.get_by_role("slider").all(), steps, strict=False):
            handle.focus()
            page.keyboard.press("Home")
            for _ in range(count):
                page.keyboard.press("ArrowRight")
            settings[axis.name] = axis.stops[min(count, len(axis.stops) - 1)]
        wanted = explorers.interpolate(explorer, grid, settings)
        said = page.locator("#said").inner_text()
        middle = wanted["mid"]
        number = f"{middle:.2f}" if not explorer.logs else f"{middle:.0f}" if middle >= 10 else f"{middle:.1f}"
        assert re.search(rf"(takes|about) {re.escape(number)}", said), (number, said)


def test_units_are_switched(made, page):
    explorer, _, path = made
    page.goto(path.as_uri())
    first = page.get_by_role("slider").first
    page.get_by_label("US (in, °F)").check()
    axis = explorer.axes[0]
    assert first.get_attribute("aria-valuetext") == axis.reading(axis.start, "us")


def test_explorers_pass_axe(made, page):
    _, _, path = made
    free = path.with_name("axe.html")
    free.write_text(re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", path.read_text("utf-8")), "utf-8")
    page.goto(free.as_uri())
    page.evaluate(AXE.read_text() + ";undefined")
    result = page.evaluate("async () => await axe.run(document, {resultTypes: ['violations']})")
    assert [(rule["id"], rule["nodes"][0]["html"][:120]) for rule in result["violations"]] == []


# ---- with a lesson's own picture


@pytest.fixture(scope="module")
def touched(tmp_path_factory):
    """A page of few settings, and its panel in Python."""
    few = replace(live_pages.PAGES[0], marks={"thickness": (0.003, 0.007, 0.002), "waters": (0, 2, 2)})
    path = tmp_path_factory.mktemp("live") / few.file
    path.write_text(live_pages.text_of(few, HERON), encoding="utf-8")
    return Live(live_pages.lesson_of(few, HERON), Choice("us")), path


@pytest.mark.parametrize("wide", [390, 1280])
def test_a_handle_of_the_page_shows_what_the_panel_says(touched, page, wide, shoot):
    panel, path = touched
    page.set_viewport_size({"width": wide, "height": 900})
    page.goto(path.as_uri())
    page.wait_for_selector(".fy-touch svg > g[role=img]")
    page.get_by_label("US (in, °F)").check()
    page.get_by_role("slider", name="Fresh waters").last.focus()
    page.keyboard.press("ArrowRight")
    record = panel.at(thickness=0.005, waters=2)
    for one in record["numbers"]:
        assert one["text"].replace(" ", "\u00a0") in page.locator(".fy-words").inner_text().replace(" ", "\u00a0")
    assert page.locator(".fy-caution").inner_text().replace("\u00a0", " ").endswith(record["caution"])
    assert "before" in page.locator(".fy-touch svg").inner_html()
    assert page.evaluate("document.documentElement.scrollWidth") <= wide
    shoot(f"explorer_live_{wide}")
