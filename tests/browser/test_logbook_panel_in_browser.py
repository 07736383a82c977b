"""A weighing typed in the browser, by keyboard alone: the band shrinks, a mistake is told, the file holds the rows."""

import csv

import pytest
from conftest import write_notebook
from test_panels_in_browser import seen

pytestmark = pytest.mark.browser

CELLS = [
    "from flakeyard.workbook.panels import logbook as logbook_panel\nfrom flakeyard.workbook.panels import panel as panels\nchoice = panels.Choice('metric')\n"
    "logbook_panel.logbook_panel(choice=choice)",
    "logbook_panel.own_logbook('own-logbook', choice)",
]
WIDE = "() => [...document.querySelectorAll('.fy-live')].some(told => /went from .* h wide/.test(told.innerText))"


@pytest.fixture
def logbooks(notebooks, open_notebook):
    (notebooks / "own-logbook").mkdir(exist_ok=True)
    write_notebook(notebooks / "two_logbooks.ipynb", *CELLS)
    page = open_notebook("two_logbooks.ipynb")
    page.locator("img.fy-picture").nth(1).wait_for()
    return page, notebooks / "own-logbook"


def field(box, label):
    return box.locator(".widget-text", has=box.page.get_by_text(label, exact=True)).locator("input")


def put(page, box, label, text):
    field(box, label).focus()
    page.keyboard.press("Control+a")
    page.keyboard.type(text)


def press(page, box, label):
    box.get_by_role("button", name=label).focus()
    page.keyboard.press("Enter")


def widths(box):
    """The two numbers of "went from 3.0 to 2.8 h wide"."""
    words = box.get_by_text("h wide").inner_text().split("went from ")[1].split()
    return float(words[0]), float(words[2])


def test_a_weighing_of_the_demo_typed_in_narrows_the_band(logbooks, shoot):
    page, _ = logbooks
    box = page.locator(".fy-box").first
    before = seen(box)
    shoot("logbook_before")
    put(page, box, "Weight", "169")
    press(page, box, "Keep this weighing")
    page.wait_for_function(WIDE)
    wide, narrow = widths(box)
    assert narrow < wide
    page.wait_for_function("() => /After weighing 2/.test(document.querySelector('.fy-sentence').innerText)")
    after = seen(box)
    assert before[0] != after[0] and before[1] != after[1]
    assert field(box, "Tray").input_value() == "2" and field(box, "Weight").input_value() == ""
    shoot("logbook_after")
    press(page, box, "What to change next time")
    box.get_by_role("table").wait_for()
    shoot("logbook_changes")


def test_a_mistake_is_told_and_stays_in_the_field(logbooks, shoot):
    page, _ = logbooks
    box = page.locator(".fy-box").first
    sentence = seen(box)[1]
    put(page, box, "Weight", "407")
    press(page, box, "Keep this weighing")
    box.get_by_text("gained more than 2 %").wait_for()
    assert field(box, "Weight").input_value() == "407"
    assert seen(box)[1] == sentence
    shoot("logbook_refused")


def test_own_weighings_are_in_the_file_at_once(logbooks, shoot):
    page, folder = logbooks
    box = page.locator(".fy-box").nth(1)
    box.scroll_into_view_if_needed()
    assert box.get_by_role("slider").count() == 0
    for clock, tray, grams in (("2026-11-20 17:00", "1", "322"), ("2026-11-20 19:00", "1", "220")):
        for label, text in (("Time", clock), ("Tray", tray), ("Weight", grams)):
            put(page, box, label, text)
        press(page, box, "Keep this weighing")
        box.get_by_text(f"{grams} g: kept in my-log.csv").wait_for()
        rows = list(csv.DictReader((folder / "my-log.csv").read_text(encoding="utf-8").splitlines()))
        assert (rows[-1]["time"], rows[-1]["tray"], rows[-1]["mass_g"]) == (clock, tray, grams)
    box.get_by_text("After weighing 1").wait_for()
    assert box.get_by_role("slider").count() == 1
    shoot("logbook_own")
    press(page, box, "Save the batch card")
    box.get_by_text("my-batch-card.pdf").wait_for()
    assert (folder / "my-batch-card.pdf").read_bytes().startswith(b"%PDF")
