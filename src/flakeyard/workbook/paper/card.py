"""The batch card: one page for the kitchen wall, with what to weigh, when, and at what weight to stop.

A batch that is refused gets no times and no weight to stop at: its card says why, and the way out.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime

from flakeyard.messages import say
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.plan import timetable as times
from flakeyard.steps.plan.plan import Outcome, already_dry
from flakeyard.units import show, show_band
from flakeyard.workbook import words
from flakeyard.workbook.paper.report import by_when, heating_lines, portion
from flakeyard.workbook.paper.sheet import MARGIN, TICK, Column, Page

PIECES = (20, 40, 60, 80, 100, 150)  # g, weights of a marked piece as laid, for the ladder of stop weights
LOOK_FOR = (
    "Cut the thickest piece: one colour through and through, no wet, glassy middle. A hard outside is not dryness.",
    "Bend it: it bends and cracks a little. Oily fish stays bendable and feels greasy; that is oil, not water.",
    "When cool, close a few pieces in a dry jar for an hour. Drops or mist on the glass: back to the dryer.",
)
SMALL = 7.4
REFUSAL = (8.6, 7.8, 7.0, 6.2)  # sizes to try for the reasons of a batch that is not to be made
NO_MORE = "No times and no weight to stop at are given for a batch that is not to be made."
ROW = 15.5  # height of a row to write in


def keep_until(outcome: Outcome, start: datetime | None) -> str:
    """Where and until when, in words; a date, counted from the earliest end of the drying, when the start is known."""
    keep = outcome.keep
    if keep.place is None:
        return "Until: no keeping time can be given."
    if keep.days is None:
        return keep.reasons[0].text
    limit = words.LIMITED_BY_WORDS[keep.limited_by]
    until = f"{words.days_words(keep.days)} after drying at most"
    if start:
        day = times.last_day(outcome, start)
        until = f"{day:%Y-%m-%d} at the latest ({words.days_words(keep.days)})"
    return f"In the {keep.place} until {until}. What decides: {limit}."


def shopping(outcome: Outcome, system: str) -> Iterator[str]:
    """What to weigh out, line by line."""
    batch = outcome.batch
    yield f"{show(batch.fish.raw_weight, 'mass', system)} {batch.fish.species or 'fish'}, trimmed"
    for row in times.shopping(batch):
        yield f"{portion(row.amount, system, digits=3)} {row.what}{_weighs(row.weighs, system)}"
    for soak in batch.freshen:
        yield f"{soak.waters} × {portion(soak.water, system)} plain cold water"


def _weighs(weight: Band | None, system: str) -> str:
    return "" if weight is None else f": weighs about {show_band(weight.low, weight.high, 'mass', system)}"


def batch_card(outcome: Outcome, start: datetime | None = None, system: str = "both", paper: str = "a4") -> Page:
    """One page for one batch.

    Parameters: start – when the fish meets the salt; without it hours are counted from then;
    system – metric, us or both; paper – a4 or letter.
    """
    if words.refused(outcome.verdict):
        hurry = by_when(outcome, system)
        pages = (_refused_card(outcome, hurry, paper, size) for size in REFUSAL)
        return next((page for page in pages if page.overfull <= 0), None) or _refused_card(
            outcome, [], paper, REFUSAL[-1]
        )
    page = Page(paper)
    (head,) = page.columns(MARGIN)
    _head(head, outcome, start)
    left, right = page.columns(head.top + 2, (1.08, 1.0))
    _weigh_out(left, outcome, system)
    _times(left, outcome, start, system)
    _stop(left, outcome, system)
    _weighings(left, outcome)
    _heat(right, outcome, system)
    _by_when(right, outcome, start, system)
    _look(right)
    _judged(right, outcome)
    return page


def _head(head: Column, outcome: Outcome, start: datetime | None) -> None:
    when = f"starts {start:%Y-%m-%d %H:%M}" if start else "hours are counted from the first salt"
    refused = words.refused(outcome.verdict)
    head.page.text(head.page.width - MARGIN, head.top + 14, "not to be made" if refused else when, 8.5, align="right")
    head.line(outcome.batch.title, 15, bold=True)
    if refused:
        head.line(words.DO_NOT_MAKE, 13, bold=True)
    keep, eat = words.headline(outcome.verdict, outcome.keep).split("   ")
    head.skip(2)
    head.line(f"To keep: {keep}      To eat: {eat}", 11.5, bold=True)
    if not refused:
        head.paragraph(keep_until(outcome, start), 9)
    head.paragraph(words.caution_line(outcome.verdict), 9, bold=True)


def _refused_card(outcome: Outcome, hurry: list[str], paper: str, size: float) -> Page:
    """One page that says why a batch is not to be made; ``hurry``: its deadlines and what would gain time."""
    page = Page(paper)
    (head,) = page.columns(MARGIN)
    _head(head, outcome, None)
    left, right = page.columns(head.top + 2, (1.4, 1.0))
    _changes(left, outcome, hurry, size)
    _not_told(right, outcome, size)
    _cautions(right, outcome)
    return page


def _changes(column: Column, outcome: Outcome, hurry: list[str], size: float) -> None:
    """Each reason with its way out, deadlines, and that no more stands on this card."""
    column.heading("Why, and the way out")
    for reasons, way in words.changes_needed(outcome.verdict):
        for reason in reasons:
            column.item(f"{reason.text} [{reason.rule}]", size)
        column.paragraph(f"{words.WAY_OUT}{way}" if way else "", size, bold=True, indent=1.6 * size)
        column.skip(3)
    if hurry:
        column.heading("By when")
        for line in hurry:
            column.item(line, size)
    column.skip(4)
    column.paragraph(NO_MORE, size, bold=True)


def _not_told(column: Column, outcome: Outcome, size: float) -> None:
    if outcome.unknown:
        column.heading(words.STILL_NEEDED)
        for line in words.plain_words(outcome.unknown):
            column.item(line, min(size, SMALL), TICK)


def _heat(column: Column, outcome: Outcome, system: str) -> None:
    """How to heat it through, and room for the reading of the probe; nothing for fish that is not heated."""
    lines = heating_lines(outcome, system)
    if not lines:
        return
    column.heading("Heat it through first")
    how, reading = lines
    column.paragraph(how, SMALL)
    column.skip(2)
    column.paragraph(reading, 9, bold=True)


def _by_when(column: Column, outcome: Outcome, start: datetime | None, system: str) -> None:
    """Deadlines, by the clock where the start is known."""

    def clock(hours: float) -> str:
        at = times.since_heating(outcome) + 3600 * hours
        return f"{times.early_clock(at, start):%a %H:%M}"

    lines = by_when(outcome, system, clock if start else None)
    if not lines:
        return
    column.heading("By when")
    for line in lines:
        column.item(line, SMALL)


def _weigh_out(column: Column, outcome: Outcome, system: str) -> None:
    column.heading("Weigh out")
    for line in shopping(outcome, system):
        column.item(line, mark=TICK)
    brine = outcome.brine
    if brine["mass_kg"].mid:
        salt = 100 * brine["solute_fraction_salt"].mid
        column.paragraph(f"Makes a brine of {salt:.1f} % salt, {brine['salometer'].mid:.0f} degrees salometer.", SMALL)


def _times(column: Column, outcome: Outcome, start: datetime | None, system: str) -> None:
    column.heading("When")
    rows = []
    for moment in times.timetable(outcome):
        told = ": ".join(filter(None, (words.what(moment, system), words.lasts(moment, system))))
        rows.append((words.when(moment, start), told, TICK))
    column.table(("clock" if start else "hour", "what to do", ""), rows, (1.45 if start else 1.0, 5, 0.4))


def _stop(column: Column, outcome: Outcome, system: str) -> None:
    ratio = outcome.drying["mass_ratio"].mid
    column.heading("Stop by weight")
    if outcome.load.no_drying:
        column.paragraph(already_dry(outcome.batch, outcome.load), bold=True)
        return
    if ratio is None or not outcome.load.reached:
        column.paragraph(
            "No weight to stop at can be given: in this plan the fish may never get dry enough.", bold=True
        )
        return
    column.paragraph(
        f"Mark the thickest piece, weigh it by itself, and stop when it weighs {words.stop_percent(ratio)} % of its weight as laid. "
        "Take thinner pieces out as they get there.", bold=True,
    )  # fmt: skip
    column.skip(3)
    column.table(
        ["as laid, g", *map(str, PIECES)], [["stop at, g", *(f"{math.floor(ratio * grams)}" for grams in PIECES)]], [2, *[1] * len(PIECES)]
    )  # fmt: skip
    trays, laid, end = outcome.batch.dryer.trays, outcome.salted["mass_kg"], outcome.drying["target_mass_kg"]
    column.paragraph(
        f"A tray with an even share weighs {_share(laid, trays, system)} of fish as laid and "
        f"{_share(end, trays, system)} when all is done, if nothing was taken out before ({trays} trays). A tray cannot show one thick piece.", SMALL,
    )  # fmt: skip
    load, sodium = outcome.dried["mass_kg"], outcome.dried["sodium_mg_per_serving"]
    if load.known and sodium.known:
        told = {"mass": _share(load, 1, system), "sodium": f"{round(sodium.low, -1):.0f}–{round(sodium.high, -1):.0f}"}
        column.paragraph(say("card.load", serving=show(outcome.batch.serving, "mass", system), **told), SMALL)


def _share(mass: Band, trays: int, system: str) -> str:
    if not mass.known or mass.high is None:
        return "not known"
    return f"about {show_band(mass.low / trays, mass.high / trays, 'mass', system)}"


def _weighings(column: Column, outcome: Outcome) -> None:
    column.heading("My weighings (grams; tray weight taken off)")
    trays = min(3, outcome.batch.dryer.trays)
    head = ["time", "marked piece", *(f"tray {n + 1}" for n in range(trays)), "note"]
    shares = [1.1, 1.3, *[1] * trays, 1.8]
    rows = max(3, int((column.room - 28) / ROW))
    column.table(head, [[""] * len(head)] * rows, shares, SMALL, ROW)


def _look(column: Column) -> None:
    column.heading("Look for")
    for line in LOOK_FOR:
        column.item(line, SMALL, TICK)


def _judged(column: Column, outcome: Outcome) -> None:
    column.heading("Why this verdict")
    for reason in outcome.verdict.reasons:
        column.item(f"{reason.text} [{reason.rule}]", SMALL)
    _cautions(column, outcome)


def _cautions(column: Column, outcome: Outcome) -> None:
    """As many cautions as there is room for; those that always stand are kept whatever the room."""
    verdict = outcome.verdict
    column.heading("Cautions")
    always = [c for c in verdict.cautions if c.rule in ("E1", "E2", "E3", "H1")]
    others = [c for c in verdict.cautions if c not in always]
    more = "The full plan has more cautions. Read them too."
    for caution in always:
        column.item(caution.text, SMALL)
    for number, caution in enumerate(others):
        needed = (column.lines_for(caution.text, SMALL, 1.6 * SMALL) + 1.3) * SMALL * 1.28
        if column.room < needed + (0 if number == len(others) - 1 else 12):
            column.item(more, SMALL)
            return
        column.item(caution.text, SMALL)
