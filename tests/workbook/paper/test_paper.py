"""Pages for the printer: the batch card and the worksheets, as a reader of the PDF finds them. Batches are invented."""

import io
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

from flakeyard.steps.intent.batch_file import read_batch, with_typed, without, written
from flakeyard.steps.intent.spread import UNKNOWN
from flakeyard.steps.judge.safety import Deadline
from flakeyard.steps.plan import plan as batches
from flakeyard.steps.plan.timetable import last_day, minutes_to_plan, timetable
from flakeyard.workbook import own, words
from flakeyard.workbook.paper import card, report, worksheets
from flakeyard.workbook.paper import sheet as paper

ROOT = Path(__file__).resolve().parents[3]
START = datetime(2026, 12, 5, 18, 0)
SHEET = """# A sheet

## Before you start

1. How long will it take? ______

- [ ] *look* at the fish

Write here what you
saw.

________

| tray | weight |
|---|---|
| 1 | |
| 2 | |
"""


@pytest.fixture(scope="module", params=["heron", "otter", "kingfisher"])
def outcome(request):
    return batches.plan(own.demo_batch(request.param), members=60)


def text_of(page, tmp_path) -> str:
    reader = PdfReader(paper.save_pdf([page], tmp_path / "page.pdf", "A page"))
    assert len(reader.pages) == 1
    return " ".join(reader.pages[0].extract_text().split())


@pytest.mark.parametrize("size", ["a4", "letter"])
@pytest.mark.parametrize("system", ["metric", "us", "both"])
def test_a_card_fits_one_page_and_holds_what_counts(outcome, size, system, tmp_path):
    page = card.batch_card(outcome, START, system, size)
    assert page.overfull <= 0
    text = text_of(page, tmp_path)
    assert outcome.batch.title in text
    assert words.caution_line(outcome.verdict) in text
    assert "Heat it through first" in text and f"probe read ____ {'°F' if system == 'us' else '°C'} at __:__" in text
    keep, eat = words.headline(outcome.verdict, outcome.keep).split("   ")
    assert keep in text and eat in text
    assert f"stop when it weighs {words.stop_percent(outcome.drying['mass_ratio'].mid)} % of its weight" in text
    assert "Sat 18:00" in text
    for caution in outcome.verdict.cautions:
        if caution.rule in ("E2", "E3", "H1"):
            assert caution.text in text


def test_the_pdf_has_title_language_and_its_fonts_inside(outcome, tmp_path):
    reader = PdfReader(paper.save_pdf([card.batch_card(outcome)], tmp_path / "card.pdf", "Batch card: x"))
    root = reader.trailer["/Root"]
    assert reader.metadata.title == "Batch card: x"
    assert root["/Lang"] == "en" and root["/ViewerPreferences"]["/DisplayDocTitle"]
    fonts = reader.pages[0]["/Resources"]["/Font"]
    assert fonts
    for font in fonts.values():
        inner = font.get_object().get("/DescendantFonts", [font])[0].get_object()
        assert "/FontFile2" in inner["/FontDescriptor"].get_object()
    assert "/Image" not in str(reader.pages[0]["/Resources"].get("/XObject", ""))  # drawn, not a picture


def test_nothing_stands_past_the_edge_and_nothing_needs_colour(outcome):
    picture = np.asarray(Image.open(io.BytesIO(paper.as_png(card.batch_card(outcome, START)))).convert("RGB"), int)
    edge = int(0.8 * paper.MARGIN * 110 / 72)
    for strip in (picture[:edge], picture[-edge:], picture[:, :edge], picture[:, -edge:]):
        assert strip.min() == 255
    assert np.ptp(picture, axis=2).max() == 0  # black, white and grey only


def test_stop_weights_are_rounded_down(outcome):
    ratio = outcome.drying["mass_ratio"].mid
    drawn = [text.get_text() for text in card.batch_card(outcome).figure.texts]
    place = drawn.index("stop at, g")
    for grams, shown in zip(card.PIECES, drawn[place + 1 :], strict=False):
        assert ratio * grams - 1 < int(shown) <= ratio * grams


def test_every_moment_has_its_words(outcome):
    assert set(card.WHAT) >= {moment.step for moment in timetable(outcome)}
    told = [(words.what(moment, "metric"), words.lasts(moment, "metric")) for moment in timetable(outcome)]
    hours = {"Heron": 10, "Otter": 6, "Kingfisher": 12}[outcome.batch.title.split(",")[0]]
    assert [text.replace("\u00a0", " ") for text in told[0]] == ["Into the salt", f"{hours} h at 3 °C"]
    assert all(what and "{" not in what + lasts for what, lasts in told)


def test_the_date_is_that_of_the_last_day(outcome):
    day = last_day(outcome, START)
    told = "the days are not known" if day is None else f"{day:%Y-%m-%d} at the latest"
    assert told in card.keep_until(outcome, START) and outcome.keep.place in card.keep_until(outcome, START)
    assert "-" not in card.keep_until(outcome, None).split("What decides")[0]


def test_a_fish_that_never_gets_there_has_no_weight_to_stop_at(tmp_path):
    """A plan that the rules let pass, as if no forecast had come down to its weight."""
    outcome = batches.plan(own.demo_batch("kingfisher"), members=20)
    never = replace(outcome.load, hours=np.full_like(outcome.load.hours, np.inf))
    outcome = replace(outcome, load=never, drying=outcome.drying | {"hours_to_target": UNKNOWN})
    assert not words.refused(outcome.verdict)
    text = text_of(card.batch_card(outcome, START), tmp_path)
    assert "No weight to stop at can be given" in text and "never get dry enough" in text


HERON = own.demo_batch("heron")
THICK = with_typed(HERON, "cut", thickness="8 mm", thinnest="7 mm", thickest="10 mm")
NOT_MADE = {
    "never dry": with_typed(
        with_typed(with_typed(HERON, "cut", thickness="15 mm", thinnest="14 mm", thickest="15 mm"), "dryer", temperature="20 °C", faces=1),
        "room", relative_humidity=95,
    ),
    "late": with_typed(THICK, "dryer", temperature="55 °C"),
    "raw": without(with_typed(HERON, "dryer", temperature="30 °C"), "heat"),
    "not gutted": with_typed(HERON, "fish", gutted=False),
    "little told": read_batch({
        "fish": {"species": "Atlantic mackerel", "raw_weight": "1 kg"}, "cut": {"thickness": "20 mm"},
        "dryer": {"temperature": "40 °C", "trays": 1, "tray_area": "900 cm2"},
    }),
}  # fmt: skip


@pytest.mark.parametrize("size", ["a4", "letter"])
@pytest.mark.parametrize("name", NOT_MADE)
def test_a_batch_that_is_refused_gets_no_times_and_no_weight_to_stop_at(name, size, tmp_path):
    outcome = batches.plan(NOT_MADE[name], members=20)
    assert words.refused(outcome.verdict)
    page = card.batch_card(outcome, START, "both", size)
    assert page.overfull <= 0
    text = text_of(page, tmp_path)
    assert words.DO_NOT_MAKE in text and card.NO_MORE in text
    for reasons, way in words.changes_needed(outcome.verdict):
        assert way and f"{words.WAY_OUT}{way}" in text
        assert all(reason.text in text for reason in reasons)
    for never in ("Stop by weight", "stop at, g", "My weighings", "Sat 18:00", "2026", "Weigh out", "What decides"):
        assert never not in text


@pytest.mark.parametrize("name", NOT_MADE)
def test_a_plan_that_is_refused_begins_with_that(name):
    outcome = batches.plan(NOT_MADE[name], members=20)
    text = report.report(outcome)
    assert max(map(len, text.splitlines())) <= 80
    lines = text.split("\n\n")
    assert lines[1].startswith(words.DO_NOT_MAKE) and words.WAY_OUT.upper().strip() in lines[1]
    flat = " ".join(text.split())
    assert flat.index(words.DO_NOT_MAKE) < flat.index("TO KEEP:") < flat.index(report.NOT_YET) < flat.index("STOP when")
    assert all(flat.count(reason.text) == 1 for reason in outcome.verdict.reasons)
    assert "Keeping:" not in flat and "days at most" not in flat
    assert all(one in flat for one in words.plain_words(outcome.unknown))


def test_a_plan_that_may_be_made_says_nothing_of_the_kind():
    text = report.report(batches.plan(HERON, members=60))
    assert words.DO_NOT_MAKE not in text and "What to do" in text


# ---- heating, and by when


def test_the_heating_is_taught_for_the_thickest_piece_at_its_height():
    outcome = batches.plan(HERON, members=8)
    how, reading = report.heating_lines(outcome, "both")
    minutes = minutes_to_plan("steam", 0.006, 2, outcome.raw.flesh, 150.0)
    for words_of_it in (
        f"plan {minutes} min",
        "6 mm",
        "150 m",
        "5 min simmering",
        "single layer",
        "lengthwise",
        "count to 30",
    ):
        assert words_of_it in how
    assert (
        "witness piece at least 12 mm" in how and "74 °C (165 °F)" in how and "probe read ____ °C at __:__" in reading
    )
    assert "witness" not in report.heating_lines(batches.plan(THICK, members=8), "metric")[0]
    assert report.heating_lines(batches.plan(without(HERON, "heat"), members=8), "both") == []


def test_where_no_minutes_can_be_told_none_are():
    thick = with_typed(HERON, "cut", thickness="14 mm", thickest="21 mm")
    assert "no time can be told" in report.heating_lines(batches.plan(thick, members=8), "metric")[0]
    told = with_typed(HERON, "room", altitude=None)
    assert "at sea level, longer higher up" in report.heating_lines(batches.plan(told, members=8), "metric")[0]


def test_deadlines_stand_in_the_plan_and_by_the_clock_on_the_card(tmp_path):
    """A verdict with a clock in its way, whether or not it refuses the batch."""
    outcome = batches.plan(THICK, members=40)
    by = (Deadline(6.0, "ready", 0.77), Deadline(None, "not_known", 1.0))
    allowed = replace(outcome, verdict=replace(outcome.verdict, keep="freezer", eat="ready", by=by, reasons=()))
    flat = " ".join(report.report(allowed).split())
    assert "within 6 h of the heating: 7 of 10 such batches make it." in flat and "What would gain time" in flat
    assert "in time" in flat and flat.index("By when") < flat.index("What to do")
    text = text_of(card.batch_card(allowed, START), tmp_path)
    assert (
        "within 6 h (Sun 10:50) of the heating" in text
    )  # salt at 18:00, 10 h, 1 h to heat and lay, 10 min of it to the trays
    assert "within 6 h of the heating" in text_of(card.batch_card(allowed), tmp_path)
    quick = replace(allowed, verdict=replace(allowed.verdict, by=(Deadline(None, "ready", 1.0),)))
    assert "By when" not in report.report(quick) and "By when" not in text_of(card.batch_card(quick, START), tmp_path)


def test_a_cup_is_given_its_weight():
    rows = [{"what": "flake salt", "amount": "1 cup"}, {"what": "water", "amount": "1.8 L"}]
    batch = with_typed(own.demo_batch("heron"), "brine", ingredient=rows)
    lines = list(card.shopping(batches.plan(batch, members=10), "metric"))
    assert any("flake salt: weighs about" in line and " g" in line for line in lines)
    assert not any("water: weighs" in line for line in lines)


def test_fresh_water_told_by_weight_stays_a_weight():
    soak = {"water": "3 kg", "time": "1 h", "temperature": "4 °C", "changes": 2}
    batch = read_batch(written(own.demo_batch("heron")) | {"freshen": [soak]})
    assert list(card.shopping(batches.plan(batch, members=10), "metric"))[-1] == "2 × 3 kg plain cold water"


def test_text_is_wrapped_within_its_width_and_numbers_keep_their_units():
    text = "Heat it through to 74 °C (165 °F) in the middle and weigh 250 g of it " * 3
    for width in (60, 90, 140):
        lines = paper.wrap(text, width, 8)
        assert all(paper.width_of(line, 8) <= width or " " not in line for line in lines)
        assert not any(line.endswith((" 74", "(165", " 250")) for line in lines)
        assert " ".join(lines).replace("\u00a0", " ") == text.strip()


def test_a_worksheet_is_set_with_room_to_write(tmp_path):
    text = text_of(worksheets.worksheet(SHEET), tmp_path)
    for part in (
        "A sheet",
        "Before you start",
        "1. How long will it take?",
        "look at the fish",
        "Write here what you saw.",
    ):
        assert part in text
    assert "*" not in text and "__" not in text and "|" not in text


def test_a_worksheet_too_long_for_a_page_is_refused():
    with pytest.raises(ValueError, match="too long for one page"):
        worksheets.worksheet(SHEET * 9)


@pytest.mark.parametrize("size", ["a4", "letter"])
def test_every_worksheet_of_the_course_fits_its_page(size):
    for file in worksheets.worksheet_files(ROOT):
        worksheets.worksheet(file.read_text(encoding="utf-8"), size)


def test_unknown_paper_is_refused():
    with pytest.raises(ValueError, match="paper is 'a5'; allowed is one of a4, letter"):
        paper.Page("a5")
