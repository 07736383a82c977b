"""The batch card: one page for the kitchen wall, with what to weigh, when, and at what weight to stop."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from flakeyard.steps.chain.brining import mass_of
from flakeyard.steps.intent.spread import Band, Draws
from flakeyard.steps.plan.plan import Outcome
from flakeyard.units import InputError, show, show_band
from flakeyard.workbook import words
from flakeyard.workbook.paper.sheet import MARGIN, TICK, Column, Page

HEATING = 3600.0  # s, to heat the fish through and lay it out (judgement)
PIECES = (20, 40, 60, 80, 100, 150)  # g, weights of a marked piece as laid, for the ladder of stop weights
LOOK_FOR = (
    "Cut the thickest piece: one colour through and through, no wet, glassy middle. A hard outside is not dryness.",
    "Bend it: it bends and cracks a little. Oily fish stays bendable and feels greasy; that is oil, not water.",
    "When cool, close a few pieces in a dry jar for an hour. Drops or mist on the glass: back to the dryer.",
)
SMALL = 7.4
ROW = 15.5  # height of a row to write in
DONE = "May be done"
NEVER = "Weigh. In this plan the fish may never get dry enough: see the cautions"


@dataclass(frozen=True)
class Moment:
    """One step of the timetable: seconds from the start, what to do, how long it takes."""

    at: float
    what: str
    lasts: str = ""


def read_start(text: str | None) -> datetime | None:
    """When the fish meets the salt, such as "2026-12-05 18:00"; None when not told."""
    if text is None:
        return None
    try:
        return datetime.fromisoformat(text.strip())
    except ValueError:
        raise InputError(
            "start", text, "it is not a date with an hour", "year-month-day hour:minute", "2026-12-05 18:00"
        ) from None


def timetable(outcome: Outcome, system: str = "both") -> list[Moment]:
    """What to do from the first salt to the jar, with seconds from the start; drying hours carry their spread."""
    batch, moments, at = outcome.batch, [], 0.0
    soaks = [("presoak", "Into the first soak"), ("brine", "Into the salt"), ("rest", "Out, drain, rest cold")]
    for name, what in soaks:
        soak = getattr(batch, name)
        if soak:
            moments.append(Moment(at, what, _soak(soak, system)))
            at += soak["time"].value
    for soak in batch.freshen:
        for turn in range(int(soak.get("changes", 1))):
            moments.append(Moment(at, f"Into plain water, number {turn + 1}", _soak(soak, system)))
            at += soak["time"].value
    if batch.heat:
        moments.append(
            Moment(at, f"Drain; heat through to {show(batch.heat['core'].value, 'temperature', system)}", "1 h")
        )
        at += HEATING
    setting = show(batch.dryer["temperature"].value, "temperature", system)
    moments.append(Moment(at, f"Weigh every tray and the marked piece; dry at {setting}"))
    return moments + _drying_moments(at, outcome.drying["hours_to_target"])


def _drying_moments(at: float, hours: Band) -> list[Moment]:
    """When to weigh, and the three times at which it may be done."""
    if hours.mid is None:
        return [Moment(at + 4 * 3600, NEVER)]
    low = hours.low if hours.low is not None else hours.mid
    moments = [Moment(at + 1800 * low, "First weighing")]
    moments.append(Moment(at + 3600 * low, f"{DONE}: from now on weigh every hour"))
    moments.append(Moment(at + 3600 * hours.mid, "Most likely done, thickest piece"))
    if hours.high is not None:
        moments.append(
            Moment(at + 3600 * hours.high, "Latest. Not done? Something differs: check air, load, thickness")
        )
    return moments


def _soak(soak: dict, system: str) -> str:
    return f"{show(soak['time'].value, 'time')} at {show(soak['temperature'].value, 'temperature', system)}"


def keep_until(outcome: Outcome, start: datetime | None) -> str:
    """Where and until when, in words; a date, counted from the earliest end of the drying, when the start is known."""
    keep = outcome.keep
    if keep.days is None:
        return "Until: no keeping time can be given."
    end = next(moment.at for moment in timetable(outcome) if moment.what.startswith(DONE) or moment.what == NEVER)
    limit = words.LIMITED_BY_WORDS[keep.limited_by]
    until = f"{words.days_words(keep.days)} after drying at most"
    if start:
        day = start + timedelta(seconds=end) + timedelta(days=int(keep.days))
        until = f"{day:%Y-%m-%d} at the latest ({words.days_words(keep.days)})"
    return f"In the {keep.place} until {until}. What decides: {limit}."


def shopping(outcome: Outcome, system: str) -> Iterator[str]:
    """What to weigh out; a measure by volume is given its weight too, because a cup of salt is not one weight."""
    batch, draws = outcome.batch, Draws(200)
    yield f"{show(batch.fish['raw_weight'].value, 'mass', system)} {batch.fish.get('species', 'fish')}, trimmed"
    for name in ("presoak", "brine"):
        for row in (getattr(batch, name) or {}).get("ingredient", ()):
            amount = show(row["amount"].value, row["amount"].kind, system, digits=3)
            yield f"{amount} {row['what']}{_weighs(row, draws, system)}"
    for soak in batch.freshen:
        yield f"{int(soak.get('changes', 1))} × {show(soak['water'].value, 'volume', system)} plain cold water"


def _weighs(row: dict, draws: Draws, system: str) -> str:
    if row["amount"].kind == "mass" or row["what"] == "water":
        return ""
    low, high = np.quantile(mass_of(row, draws), [0.1, 0.9])
    return f": weighs about {show_band(low, high, 'mass', system)}"


def batch_card(outcome: Outcome, start: datetime | None = None, system: str = "both", paper: str = "a4") -> Page:
    """One page for one batch.

    Parameters: start – when the fish meets the salt; without it hours are counted from then;
    system – metric, us or both; paper – a4 or letter.
    """
    page = Page(paper)
    (head,) = page.columns(MARGIN)
    _head(head, outcome, start)
    left, right = page.columns(head.top + 2, (1.08, 1.0))
    _weigh_out(left, outcome, system)
    _times(left, outcome, start, system)
    _stop(left, outcome, system)
    _weighings(left, outcome)
    _look(right)
    _judged(right, outcome)
    return page


def _head(head: Column, outcome: Outcome, start: datetime | None) -> None:
    when = f"starts {start:%Y-%m-%d %H:%M}" if start else "hours are counted from the first salt"
    head.page.text(head.page.width - MARGIN, head.top + 14, when, 8.5, align="right")
    head.line(outcome.batch.title, 15, bold=True)
    keep, eat = words.headline(outcome.verdict, outcome.keep).split("   ")
    head.skip(2)
    head.line(f"To keep: {keep}      To eat: {eat}", 11.5, bold=True)
    head.paragraph(keep_until(outcome, start), 9)
    head.paragraph(words.caution_line(), 9, bold=True)


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
    for moment in timetable(outcome, system):
        minutes = 5 * round(moment.at / 300)
        clock = f"{start + timedelta(minutes=minutes):%a %H:%M}" if start else f"+{moment.at / 3600:.1f} h"
        what = f"{moment.what}: {moment.lasts}" if moment.lasts else moment.what
        rows.append((clock, what, TICK))
    column.table(("clock" if start else "hour", "what to do", ""), rows, (1.45 if start else 1.0, 5, 0.4))


def _stop(column: Column, outcome: Outcome, system: str) -> None:
    ratio = outcome.drying["mass_ratio"].mid
    column.heading("Stop by weight")
    if ratio is None or not outcome.load.reached:
        column.paragraph(
            "No weight to stop at can be given: in this plan the fish may never get dry enough.", bold=True
        )
        return
    column.paragraph(
        f"Mark the thickest piece, weigh it by itself, and stop when it weighs {100 * ratio:.0f} % of its weight as laid. "
        "Take thinner pieces out as they get there.", bold=True,
    )  # fmt: skip
    column.skip(3)
    column.table(
        ["as laid, g", *map(str, PIECES)], [["stop at, g", *(f"{math.floor(ratio * grams)}" for grams in PIECES)]], [2, *[1] * len(PIECES)]
    )  # fmt: skip
    trays, laid, end = (
        int(outcome.batch.dryer.get("trays", 1)),
        outcome.salted["mass_kg"],
        outcome.drying["target_mass_kg"],
    )
    column.paragraph(
        f"A tray with an even share weighs {_share(laid, trays, system)} of fish as laid and "
        f"{_share(end, trays, system)} when all is done ({trays} trays). A tray cannot show one thick piece.", SMALL,
    )  # fmt: skip


def _share(mass: Band, trays: int, system: str) -> str:
    if not mass.known or mass.high is None:
        return "not known"
    return f"about {show_band(mass.low / trays, mass.high / trays, 'mass', system)}"


def _weighings(column: Column, outcome: Outcome) -> None:
    column.heading("My weighings (grams; tray weight taken off)")
    trays = min(3, int(outcome.batch.dryer.get("trays", 1)))
    head = ["time", "marked piece", *(f"tray {n + 1}" for n in range(trays)), "note"]
    shares = [1.1, 1.3, *[1] * trays, 1.8]
    rows = max(3, int((column.room - 28) / ROW))
    column.table(head, [[""] * len(head)] * rows, shares, SMALL, ROW)


def _look(column: Column) -> None:
    column.heading("Look for")
    for line in LOOK_FOR:
        column.item(line, SMALL, TICK)


def _judged(column: Column, outcome: Outcome) -> None:
    """Reasons and cautions, those that always stand last kept whatever the room."""
    verdict = outcome.verdict
    column.heading("Why this verdict")
    for reason in verdict.reasons:
        column.item(f"{reason.text} [{reason.rule}]", SMALL)
    column.heading("Cautions")
    always = [c for c in verdict.cautions if c.rule in ("E1", "E2", "E3", "H1")]
    others = [c for c in verdict.cautions if c not in always]
    more = "More cautions stand in the full plan: read them too."
    for caution in always:
        column.item(caution.text, SMALL)
    for number, caution in enumerate(others):
        needed = (column.lines_for(caution.text, SMALL, 1.6 * SMALL) + 1.3) * SMALL * 1.28
        if column.room < needed + (0 if number == len(others) - 1 else 12):
            column.item(more, SMALL)
            return
        column.item(caution.text, SMALL)
