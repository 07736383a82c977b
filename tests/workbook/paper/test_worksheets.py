"""Worksheets with pictures: room to write and draw, nothing that answers a guess, and the leader's page with the panel."""

import re
from functools import cache
from pathlib import Path

import pytest
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from pypdf import PdfReader

from flakeyard.messages import say
from flakeyard.workbook import words
from flakeyard.workbook.paper import lesson_pictures, worksheets
from flakeyard.workbook.paper import sheet as paper
from flakeyard.workbook.paper.lesson_pictures import Pictures

ROOT = Path(__file__).resolve().parents[3]
FILES = worksheets.worksheet_files(ROOT)
QUICK = ("02", "03", "04", "07")  # lessons whose panel is worked out in a second
MM = 25.4 / 72
SHEET = """# A sheet

## Before you start

1. How long will it take? ______
2. From ____ g to ____ g.

- [ ] *look* at the fish

Write here what you
saw.

________

| tray | weight |
|---|---|
| 1 | |
| 2 | |

---

## Look for

[picture]
"""
every = pytest.mark.parametrize(
    "number",
    [number if number in QUICK else pytest.param(number, marks=pytest.mark.slow) for number in lesson_pictures.AT],
)


@cache
def pictures(number: str, system: str = "us") -> Pictures:
    return Pictures(number, system)


def text_of(number: str) -> str:
    return next(file for file in FILES if file.stem.startswith(number)).read_text(encoding="utf-8")


def words_on(page) -> list[Text]:
    return [text for text in page.figure.findobj(Text) if text.get_text().strip() and text.get_visible()]


def sound(page) -> None:
    """Nothing over the foot of the page, beyond its edge or too small to read."""
    assert page.overfull <= 0
    page.figure.draw_without_rendering()
    box = page.figure.bbox
    for text in words_on(page):
        place = text.get_window_extent()
        assert box.x0 <= place.x0 and place.x1 <= box.x1 and box.y0 <= place.y0 and place.y1 <= box.y1, text.get_text()
        assert text.get_fontsize() >= 8, text.get_text()


def test_a_worksheet_is_set_with_room_to_write(tmp_path):
    pages = worksheets.worksheet(SHEET)
    told = PdfReader(paper.save_pdf(pages, tmp_path / "sheet.pdf", "A sheet")).pages
    text = " ".join(" ".join(page.extract_text() for page in told).split())
    for part in (
        "A sheet",
        "Before you start",
        "1. How long will it take?",
        "look at the fish",
        "Write here what you saw.",
        "A sheet · 2",
    ):
        assert part in text
    assert "*" not in text and "|" not in text and "[" not in text and len(pages) == 2


def test_what_is_to_be_filled_in_is_8_mm_high_and_20_mm_wide():
    (page, _) = worksheets.worksheet(SHEET)
    height = page.figure.bbox.height * 72 / page.figure.dpi * MM
    rules = sorted(
        height * (1 - line.get_ydata()[0]) for line in page.figure.findobj(Line2D) if line.get_color() == paper.GREY
    )
    written = sorted(height * (1 - text.get_position()[1]) for text in words_on(page))
    for rule in rules:
        assert rule - max(at for at in written if at < rule) >= 8
    cells = [box.get_height() * height for box in page.figure.findobj(Rectangle)]
    assert len(rules) == 2 and sum(8 <= tall <= 40 for tall in cells) == 4
    (blank,) = [text for text in words_on(page) if "____" in text.get_text()]
    above = max(at for at in [*rules, *written] if at < height * (1 - blank.get_position()[1]) - 1)
    assert height * (1 - blank.get_position()[1]) - above >= 8
    assert paper.width_of(re.search("_+", blank.get_text())[0], blank.get_fontsize()) * MM >= 20


def test_a_worksheet_too_long_for_a_page_is_refused():
    with pytest.raises(ValueError, match="too long for its pages of a4"):
        worksheets.worksheet(SHEET.replace("\n---\n", "") * 9)


@pytest.mark.parametrize("size", ["a4", "letter"])
def test_every_worksheet_of_the_course_has_two_pages_with_axes_and_the_whole_picture(size):
    for file in FILES:
        text = file.read_text(encoding="utf-8")
        assert text.count("\n[sketch]\n") == text.count("\n[picture]\n") == 1, file.stem
        assert len(worksheets.worksheet(text, size)) == 2, file.stem


@every
def test_the_pages_of_a_lesson_are_whole_and_have_a_cut_where_it_has_one(number):
    text, drawn = text_of(number), pictures(number)
    for page in worksheets.worksheet(text, "letter", drawn):
        sound(page)
    assert ("[cut]" in text) == (drawn.cut() is not None)


@pytest.mark.parametrize(
    ("system", "told"), [("metric", "1. 160 g of salt, 6 mm"), ("us", "1. 5.6 oz of salt, 1/4 in")]
)
def test_amounts_are_told_in_the_units_that_were_chosen(system, told):
    page = worksheets.Setting(paper.Page(), "1. 160 g (5.6 oz) of salt, 6 mm (1/4 in)", 11, system=system).page
    assert " ".join(text.get_text() for text in words_on(page)).replace("\u00a0", " ") == told


def test_no_amount_of_a_sheet_is_counted_over_for_want_of_a_round_one():
    for file in FILES:
        for line in file.read_text(encoding="utf-8").splitlines():
            assert not re.search(r"\d\.\d{3}", words.in_system(line, "us")) or re.search(r"\d\.\d{3}", line), line


@every
def test_nothing_on_a_sheet_answers_a_guess(number):
    drawn = pictures(number)
    cut = drawn.cut()
    for drawing in (drawn.guess(), drawn.empty(), *([cut] if cut else [])):
        marks = [mark for field in drawing["fields"] for mark in field["marks"]]
        assert drawing["ghost"] is None and not [mark for mark in marks if mark["kind"] in ("bar", "flame", "note")]
        assert not [mark for mark in marks if mark.get("shade") or mark.get("style") in lesson_pictures.LEVELS]
        assert {mark.get("state", "stopped") for mark in marks} <= {"stopped"}
    assert not [
        mark
        for field in drawn.empty()["fields"]
        for mark in field["marks"]
        if mark["kind"] in ("curve", "band", "point")
    ]
    asked = drawn.guess()["fields"][0]
    on_screen = drawn.panel.record["fields"][drawn.panel.record["guessed"]["field"]]
    assert (asked["across"], asked["up"]) == (on_screen["across"], on_screen["up"])
    given = [mark for mark in on_screen["marks"] if mark.get("given")]
    assert all(mark in given for mark in asked["marks"] if mark["kind"] in ("curve", "band"))


@every
def test_the_leader_has_the_panel_at_three_settings_of_its_first_handle(number):
    drawn = pictures(number)
    states = drawn.states()
    assert len({state.setting for state in states}) == len({str(state.drawing["fields"]) for state in states}) == 3
    assert all(state.setting.startswith(drawn.handle.label) and state.numbers for state in states)
    page = worksheets.leader_sheet("A lesson", "letter", drawn)
    sound(page)
    shown = " ".join(" ".join(text.get_text() for text in words_on(page)).split())
    assert say("worksheet.leader", title="A lesson") in shown
    for state in states:
        assert all(
            text.split(" (")[0].replace("\u00a0", " ") in shown.replace("\u00a0", " ") for _, text in state.numbers
        )


@pytest.mark.slow
def test_both_files_are_written(tmp_path):
    sheets, leader = worksheets.write_worksheets(ROOT, tmp_path / "sheets.pdf", "a4", "metric")
    assert (sheets.name, leader.name) == ("sheets.pdf", "sheets-leader.pdf")
    assert (len(PdfReader(sheets).pages), len(PdfReader(leader).pages)) == (2 * len(FILES), len(FILES))
