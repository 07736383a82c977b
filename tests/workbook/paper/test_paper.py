"""Pages for the printer: the batch card, as a reader of the PDF finds them. Batches are invented."""

import io
import re
from dataclasses import replace
from datetime import datetime
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

from flakeyard import tables
from flakeyard.messages import say
from flakeyard.steps.intent.batch_file import read_batch, with_typed, without, written
from flakeyard.steps.intent.spread import UNKNOWN
from flakeyard.steps.judge.safety import Deadline
from flakeyard.steps.plan import plan as batches
from flakeyard.steps.plan.timetable import last_day, minutes_to_plan, timetable
from flakeyard.workbook import own, words
from flakeyard.workbook.paper import card, card_back, kitchen, report, worth_text
from flakeyard.workbook.paper import sheet as paper

ROOT = Path(__file__).resolve().parents[3]
START = datetime(2026, 12, 5, 18, 0)


@cache
def planned(name: str):
    return batches.plan(own.demo_batch(name), members=60)


@pytest.fixture(scope="module", params=["heron", "otter", "kingfisher"])
def outcome(request):
    return planned(request.param)


def text_of(page) -> str:
    """What stands on a page, by what was drawn."""
    return flat(" ".join(text.get_text() for text in page.figure.texts))


def flat(text: str) -> str:
    return " ".join(text.split())


def printed(pages, tmp_path) -> list[str]:
    """What a reader of the PDF finds, page by page."""
    reader = PdfReader(paper.save_pdf(pages, tmp_path / "card.pdf", "A card"))
    return [flat(page.extract_text()) for page in reader.pages]


def cautions_on(page) -> int:
    """How many cautions stand on a front."""
    drawn = [text.get_text() for text in page.figure.texts]
    return drawn[drawn.index(say("card.heed")) :].count("•")


@pytest.mark.parametrize("size", ["a4", "letter"])
@pytest.mark.parametrize("system", ["metric", "us", "both"])
def test_a_card_fits_two_pages_and_holds_what_counts(outcome, size, system):
    pages = card.batch_card(outcome, START, system, size)
    assert [page.overfull <= 0 for page in pages] == [True, True]
    front, back = map(text_of, pages)
    keep, eat = words.headline(outcome.verdict, outcome.keep).split("   ")
    degrees = "°F" if system == "us" else "°C"
    for told in (
        outcome.batch.title,
        words.caution_line(outcome.verdict),
        keep,
        eat,
        f"probe read ____ {degrees} at __:__",
        "Sat 18:00",
    ):
        assert told in front
    percent = words.stop_percent(outcome.drying["mass_ratio"].mid)
    assert f"× 0.{percent} = STOP AT {'oz' if system == 'us' else 'g'}" in front
    assert kitchen.example(percent, system) in front and kitchen.example(percent, system) in flat(
        kitchen.kitchen(outcome, system)
    )
    assert min(text.get_fontsize() for text in pages[0].figure.texts) >= 11
    assert 2 < cautions_on(pages[0]) <= card.MOST_CAUTIONS
    for one in (*outcome.verdict.cautions, *outcome.verdict.reasons):
        assert f"{words.in_system(one.text, system)} [{one.rule}]" in back
        if one.rule in card.ALWAYS:
            assert kitchen.short(one) in front
    assert not re.search(
        r"°F|\boz\b|\blb\b" if system == "metric" else r"°C|\bkg\b" if system == "us" else "never", front
    )


def test_readings_go_by_one_name_on_plan_card_and_phone(outcome):
    plan, (_, back) = flat(report.report(outcome)), card.batch_card(outcome)
    for kind, name in worth_text.named().items():
        assert say(f"phone.kind_{kind}") == name and name in plan and name in text_of(back)


def test_a_reader_of_the_pdf_finds_box_deadline_label_and_sources(tmp_path):
    outcome = planned("otter")
    by = (Deadline(6.0, "ready", 0.77), Deadline(None, "not_known", 1.0))
    late = replace(outcome, verdict=replace(outcome.verdict, by=by))
    front, back = printed(card.batch_card(late, START), tmp_path)
    assert "STOP AT" in front and "Deadline: stop weight within 6 h of the heating. Later: not known." in front
    assert (
        "Fish, keep in the freezer" in front
        and "Packed on" in front
        and "Last day" in front
        and outcome.batch.fish.species in front
    )
    for one in outcome.verdict.reasons:
        assert str(tables.sources()[one.source])[:30] in back


def test_the_hardest_cautions_of_a_batch_stand_on_the_wall():
    otter = batches.plan(own.demo_batch("otter"), members=20)
    told = card.hardest(otter)
    assert len(told) == card.MOST_CAUTIONS
    for expected, line in zip(
        ("Histamine", "botulism", "toxin that no heat undoes", "weak immune system", "poison centre"), told, strict=True
    ):
        assert expected in line
    fewer = card.hardest(otter, 3)
    assert fewer == [told[0], *told[-2:]]


def test_the_pdf_has_title_language_and_its_fonts_inside(tmp_path):
    reader = PdfReader(paper.save_pdf(card.batch_card(planned("heron")), tmp_path / "card.pdf", "Batch card: x"))
    root = reader.trailer["/Root"]
    assert reader.metadata.title == "Batch card: x"
    assert root["/Lang"] == "en" and root["/ViewerPreferences"]["/DisplayDocTitle"]
    for page in reader.pages:
        fonts = page["/Resources"]["/Font"]
        assert fonts
        for font in fonts.values():
            inner = font.get_object().get("/DescendantFonts", [font])[0].get_object()
            assert "/FontFile2" in inner["/FontDescriptor"].get_object()
        assert "/Image" not in str(page["/Resources"].get("/XObject", ""))  # drawn, not a picture


def test_an_older_card_stays_and_the_same_card_is_the_same_file(tmp_path):
    pages, path = [paper.Page(), paper.Page()], tmp_path / "card.pdf"
    pages[0].text(50, 50, "a card", 11)
    first = paper.save_pdf(pages, path, "one", keep_copy=True).read_bytes()
    assert paper.save_pdf(pages, path, "one", keep_copy=True).read_bytes() == first
    paper.save_pdf(pages, path, "two", keep_copy=True)
    assert (tmp_path / "card-1.pdf").read_bytes() == first and path.read_bytes() != first


def test_nothing_stands_past_the_edge_and_nothing_needs_colour(outcome):
    for page in card.batch_card(outcome, START):
        picture = np.asarray(Image.open(io.BytesIO(paper.as_png(page))).convert("RGB"), int)
        edge = int(0.8 * paper.MARGIN * 110 / 72)
        for strip in (picture[:edge], picture[-edge:], picture[:, :edge], picture[:, -edge:]):
            assert strip.min() == 255
        assert np.ptp(picture, axis=2).max() == 0  # black, white and grey only


@pytest.mark.parametrize(
    ("percent", "laid", "unit", "left"), [(57, 100, "g", "57"), (44, 20, "g", "8"), (57, 1, "oz", "0.57")]
)
def test_stop_weights_agree_with_their_per_cent_and_are_rounded_down(percent, laid, unit, left):
    assert words.stop_weight(percent, laid, unit) == left


def test_the_ladder_of_a_card_holds_the_weights_of_its_per_cent(outcome):
    percent = words.stop_percent(outcome.drying["mass_ratio"].mid)
    rungs = re.findall(r"(\d+) → (\d+)", text_of(card.batch_card(outcome)[0]))
    assert [int(laid) for laid, _ in rungs] == list(card.PIECES["g"])
    assert all(int(left) == int(laid) * percent // 100 for laid, left in rungs)


def test_every_moment_has_its_words(outcome):
    told = [(words.what(moment, "metric"), words.lasts(moment, "metric")) for moment in timetable(outcome)]
    hours = {"Heron": 10, "Otter": 6, "Kingfisher": 12}[outcome.batch.title.split(",")[0]]
    assert [text.replace("\u00a0", " ") for text in told[0]] == ["Into the salt", f"{hours} h at 3 °C"]
    assert all(what and "{" not in what + lasts for what, lasts in told)
    front = text_of(card.batch_card(outcome, START, "metric")[0])
    assert all(what in front for what, _ in told)


def test_many_waters_stand_in_one_row():
    soaks = [{"water": "3 L", "time": f"{time} min", "temperature": "4 °C", "changes": 9} for time in (30, 20)]
    outcome = batches.plan(read_batch(written(HERON) | {"freshen": soaks}), members=10)
    front = text_of(card.batch_card(outcome, START, "metric")[0])
    for clock, time in (("Sun 04:00", 30), ("Sun 08:30", 20)):
        assert f"{clock} Into plain water, 9 times, fresh water each time: {time} min at 4 °C" in front
    assert "number 2" not in front


def test_the_fullest_batch_fits_the_smaller_paper():
    bath = {
        "method": "wet",
        "time": "30 min",
        "temperature": "3 °C",
        "ingredient": [{"what": "water", "amount": "2 L"}],
    }
    soaks = [{"water": "3 L", "time": "20 min", "temperature": "4 °C", "changes": 2}] * 3
    told = written(own.demo_batch("otter")) | {
        "presoak": bath,
        "freshen": soaks,
        "rest": {"time": "2 h", "temperature": "3 °C"},
    }
    outcome = batches.plan(
        with_typed(
            read_batch(told | {"title": 9 * "a long name "}), "fish", species=None, water=64, protein=19, fat=15
        ),
        members=10,
    )
    by = (Deadline(6.0, "ready", 0.77), Deadline(9.0, "not_known", 0.9), Deadline(None, "no", 1.0))
    outcome = replace(outcome, verdict=replace(outcome.verdict, keep="freezer", eat="ready", by=by))
    pages = card.batch_card(outcome, START, "both", "letter")
    assert [page.overfull <= 0 for page in pages] == [True, True]
    assert cautions_on(pages[0]) >= 3 and "poison centre" in text_of(pages[0])


def test_the_date_is_that_of_the_last_day(outcome):
    day, front = last_day(outcome, START), text_of(card.batch_card(outcome, START)[0])
    told = "How long it keeps is not known" if day is None else f"{day:%Y-%m-%d} at the latest"
    assert told in card.keep_until(outcome, START) and outcome.keep.place in card.keep_until(outcome, START)
    assert "2026" not in card.keep_until(outcome, None)
    assert front.count("use early" if day is None else f"{day:%Y-%m-%d}") == (1 if day is None else 2)  # head and label


@pytest.mark.parametrize(("trays", "columns"), [(1, 1), (7, 7), (30, card.MOST_TRAYS)])
def test_weighings_have_a_column_for_every_tray(trays, columns):
    small = with_typed(HERON, "fish", raw_weight=f"{min(0.36 * trays, 1.8):.2f} kg")
    outcome = batches.plan(with_typed(small, "dryer", trays=trays), members=10)
    page = card.batch_card(outcome)[0]
    drawn = [text.get_text() for text in page.figure.texts]
    head = drawn[
        drawn.index(say("card.marked")) + 1 : drawn.index(say("card.first_row"), drawn.index(say("card.marked")))
    ]
    assert len(head) == columns and page.overfull <= 0
    assert ("21 to 30 on a sheet of your own" in flat(" ".join(drawn))) == (trays > columns)


def test_the_graph_holds_the_band_of_the_plan(outcome):
    """The stop line and the middle forecast meet at the middle hours."""
    page = paper.Page()
    graph = card.Graph(page, 50.0, 100.0, 400.0, 200.0, 20.0, 30)
    assert (float(graph.across(0)), float(graph.across(20))) == (50.0, 450.0)
    assert (float(graph.down(100)), float(graph.down(30))) == (100.0, 300.0)
    hours = outcome.drying["hours_to_target"]
    assert card._axis_end(outcome) >= min(hours.high, 2.9 * hours.mid)


def test_a_fish_that_never_gets_there_has_no_weight_to_stop_at():
    """A plan that the rules let pass, as if no forecast had come down to its weight."""
    outcome = batches.plan(own.demo_batch("kingfisher"), members=20)
    never = replace(outcome.load, hours=np.full_like(outcome.load.hours, np.inf))
    outcome = replace(outcome, load=never, drying=outcome.drying | {"hours_to_target": UNKNOWN})
    assert not words.refused(outcome.verdict)
    front = text_of(card.batch_card(outcome, START)[0])
    assert "No weight to stop at can be given" in front and "never get dry enough" in front and "STOP" not in front


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
def test_a_batch_that_is_refused_gets_no_times_and_no_weight_to_stop_at(name, size):
    outcome = batches.plan(NOT_MADE[name], members=20)
    assert words.refused(outcome.verdict)
    pages = card.batch_card(outcome, START, "both", size)
    assert [page.overfull <= 0 for page in pages] == [True, True]
    front, back = map(text_of, pages)
    large = max(pages[0].figure.texts, key=lambda text: text.get_fontsize()).get_text()
    assert "DO NOT EAT" in large or "NOT KNOWN" in large
    assert say("card.do_not_make") in front and say("card.no_more") in front
    assert min(text.get_fontsize() for text in pages[0].figure.texts) >= 11
    for number, (reasons, way) in enumerate(words.changes_needed(outcome.verdict)):
        assert way and f"{words.WAY_OUT}{way}" in back
        assert all(reason.text in back for reason in reasons)
        assert number or (reasons[0].text in front and f"{words.WAY_OUT}{way}" in front)
    assert (say("card.more_reasons") in front) == any(
        reason.text not in front for reason in words.blocking(outcome.verdict)
    )
    for never in (
        "STOP AT",
        "As laid →",
        "My weighings",
        "Sat 18:00",
        "2026-",
        "Weigh out",
        "What decides",
        "Packed on",
    ):
        assert never not in front + back


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


def test_deadlines_stand_in_the_plan_and_by_the_clock_on_the_card():
    """A verdict with a clock in its way, whether or not it refuses the batch."""
    outcome = batches.plan(THICK, members=40)
    by = (Deadline(6.0, "ready", 0.77), Deadline(None, "not_known", 1.0))
    allowed = replace(outcome, verdict=replace(outcome.verdict, keep="freezer", eat="ready", by=by, reasons=()))
    flat = " ".join(report.report(allowed).split())
    assert "within 6 h of the heating: 7 of 10 such batches make it." in flat and "What would gain time" in flat
    assert "in time" in flat and flat.index("By when") < flat.index("What to do")
    front, back = map(text_of, card.batch_card(allowed, START))
    told = "Deadline: stop weight within 6 h of the heating. Later: not known."
    assert f"Sun 10:50 {told}" in front  # salt at 18:00, 10 h, 1 h to heat and lay, 10 min of it to the trays
    assert "within 6 h (Sun 10:50) of the heating" in back
    front, back = map(text_of, card.batch_card(allowed))
    assert f"+16.8 h {told}" in front and "within 6 h of the heating" in back
    quick = replace(allowed, verdict=replace(allowed.verdict, by=(Deadline(None, "ready", 1.0),)))
    assert "By when" not in report.report(quick)
    assert not any("Deadline" in text_of(page) or "By when" in text_of(page) for page in card.batch_card(quick, START))


def test_a_cup_is_given_its_weight():
    rows = [{"what": "flake salt", "amount": "1 cup"}, {"what": "water", "amount": "1.8 L"}]
    batch = with_typed(own.demo_batch("heron"), "brine", ingredient=rows)
    lines = list(card_back.weigh_out(batches.plan(batch, members=10), "metric"))
    assert any("flake salt: weighs about" in line and " g" in line for line in lines)
    assert not any("water: weighs" in line for line in lines)


def test_fresh_water_told_by_weight_stays_a_weight():
    soak = {"water": "3 kg", "time": "1 h", "temperature": "4 °C", "changes": 2}
    batch = read_batch(written(own.demo_batch("heron")) | {"freshen": [soak]})
    assert list(card_back.weigh_out(batches.plan(batch, members=10), "metric"))[-1] == "2 × 3 kg plain cold water"


def test_text_is_wrapped_within_its_width_and_numbers_keep_their_units():
    text = "Heat it through to 74 °C (165 °F) in the middle and weigh 250 g of it " * 3
    for width in (60, 90, 140):
        lines = paper.wrap(text, width, 8)
        assert all(paper.width_of(line, 8) <= width or " " not in line for line in lines)
        assert not any(line.endswith((" 74", "(165", " 250")) for line in lines)
        assert " ".join(lines).replace("\u00a0", " ") == text.strip()


def test_unknown_paper_is_refused():
    with pytest.raises(ValueError, match="paper is 'a5'; allowed is one of a4, letter"):
        paper.Page("a5")
