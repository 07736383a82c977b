"""A weighing typed in the browser, by keyboard alone: the band shrinks, a mistake is told, the file holds the rows."""

import csv

import pytest
from alone import drag
from conftest import write_notebook

pytestmark = pytest.mark.browser

CELLS = [
    "from flakeyard.workbook.panels import logbook as logbook_panel\nfrom flakeyard.workbook.panels import panel as panels\nchoice = panels.Choice('metric')\n"
    "logbook_panel.logbook_panel(choice=choice)",
    "logbook_panel.own_logbook('own-logbook', choice)",
]
SHOWN = "() => /Weighing 2/.test(document.querySelector('.fy-chips').innerText)"
WIDE = "() => [...document.querySelectorAll('.fy-live')].some(told => /went from .* h wide/.test(told.innerText))"


@pytest.fixture
def logbooks(notebooks, open_notebook):
    (notebooks / "own-logbook").mkdir(exist_ok=True)
    write_notebook(notebooks / "two_logbooks.ipynb", *CELLS)
    page = open_notebook("two_logbooks.ipynb")
    page.locator(".fy-touch").nth(1).wait_for()
    return page, notebooks / "own-logbook"


def seen(picture):
    """What is drawn, and what is said."""
    return picture.locator("svg").inner_html(), picture.locator(".fy-words").inner_text()


def test_a_guess_brings_the_next_weighing_to_light_and_escape_puts_a_drag_back(logbooks, shoot):
    page, _ = logbooks
    picture = page.locator(".fy-touch").first
    assert picture.locator(".fy-bar").count() == 0 and not picture.locator(".fy-large").is_visible()
    picture.locator(".fy-grip[aria-label*=guess]").press("PageDown")
    picture.get_by_role("button", name="Show what is computed").click()
    page.wait_for_function(SHOWN)
    assert "the scale showed 52 %" in picture.locator(".fy-reply").inner_text().replace("\u00a0", " ")
    assert picture.locator(".fy-bar").count() == 3 and "→" in picture.locator(".fy-large").inner_text()
    shoot("logbook_guessed")
    handle = picture.locator(".fy-grip[aria-label='Weighings used so far']")
    drag(page, handle, dx=-60, up=False)
    assert handle.get_attribute("aria-valuetext") != "2, after 4 h"
    page.keyboard.press("Escape")
    page.mouse.up()
    assert handle.get_attribute("aria-valuetext") == "2, after 4 h"
    picture.get_by_role("button", name="Back to the start").click()
    page.wait_for_function("() => /Weighing 1/.test(document.querySelector('.fy-chips').innerText)")


def field(box, label):
    return box.locator(".widget-text", has=box.page.get_by_text(label, exact=True)).locator("input")


def choice(box, label):
    return box.locator(".widget-dropdown", has=box.page.get_by_text(label, exact=True)).locator("select")


def chosen(box, label):
    return " ".join(choice(box, label).evaluate("one => one.selectedOptions[0].text").split())


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
    box, picture = page.locator(".fy-box").first, page.locator(".fy-touch").first
    picture.locator("input[type=range]").focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_function(SHOWN)
    page.keyboard.press("ArrowLeft")
    page.wait_for_function("() => /Weighing 1/.test(document.querySelector('.fy-chips').innerText)")
    before = seen(picture)
    shoot("logbook_before")
    put(page, box, "Weight", "169")
    press(page, box, "Keep this weighing")
    page.wait_for_function(WIDE)
    wide, narrow = widths(box)
    assert narrow < wide
    page.wait_for_function(SHOWN)
    after = seen(picture)
    assert before[0] != after[0] and before[1] != after[1]
    assert chosen(box, "Tray") == "tray 2" and field(box, "Weight").input_value() == ""
    shoot("logbook_after")
    press(page, box, "What to change next time")
    box.get_by_role("table").wait_for()
    shoot("logbook_changes")


def test_a_mistake_is_told_and_stays_in_the_field(logbooks, shoot):
    page, _ = logbooks
    box, picture = page.locator(".fy-box").first, page.locator(".fy-touch").first
    sentence = seen(picture)[1]
    put(page, box, "Weight", "407")
    press(page, box, "Keep this weighing")
    box.get_by_text("gained more than 2 %").wait_for()
    assert field(box, "Weight").input_value() == "407"
    assert seen(picture)[1] == sentence
    shoot("logbook_refused")


def test_own_weighings_are_in_the_file_at_once(logbooks, shoot):
    page, folder = logbooks
    box, picture = page.locator(".fy-box").nth(1), page.locator(".fy-touch").nth(1)
    box.scroll_into_view_if_needed()
    assert picture.get_by_role("slider").count() == 0
    for clock, tray, grams in (("2026-11-20 17:00", "1", "322"), ("2026-11-20 19:00", "1", "220")):
        choice(box, "Tray").select_option(label=f"tray {tray}")
        for label, text in (("Time", clock), ("Weight", grams)):
            put(page, box, label, text)
        press(page, box, "Keep this weighing")
        box.get_by_text(f"{grams} g: kept in my-log.csv").wait_for()
        rows = list(csv.DictReader((folder / "my-log.csv").read_text(encoding="utf-8").splitlines()))
        assert (rows[-1]["time"], rows[-1]["tray"], rows[-1]["mass_g"]) == (clock, tray, grams)
    picture.get_by_text("Weighing 1", exact=True).wait_for()
    assert picture.get_by_role("slider").count() == 2  # the line in the picture and its slider
    shoot("logbook_own")
    press(page, box, "Save the batch card")
    box.get_by_text("my-batch-card.pdf").wait_for()
    assert (folder / "my-batch-card.pdf").read_bytes().startswith(b"%PDF")
