"""The batch card, for the kitchen wall: what to do when, at what weight to stop, and graph paper to dot weighings into.

Two pages: the first is read at arm's length, the second (`card_back`) says why. A batch that is refused gets no times and
no weight to stop at: its first page says so, with each reason and the way out. A label is cut from the foot of the first.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import numpy as np

from flakeyard.messages import draft_line, number, say, texts, translated
from flakeyard.models.constants import HOUR
from flakeyard.steps.judge.safety import Reason
from flakeyard.steps.plan import timetable as times
from flakeyard.steps.plan import weighing
from flakeyard.steps.plan.plan import Outcome, already_dry
from flakeyard.workbook import words
from flakeyard.workbook.paper import kitchen
from flakeyard.workbook.paper.card_back import back
from flakeyard.workbook.paper.sheet import GREY, LEADING, MARGIN, TICK, Column, Page, width_of, wrap

BODY = 11.0  # pt, the least on the first page
LABEL = 50.0  # pt, the strip at the foot that is cut off
ROW, HEADINGS = 19.0, 62.0  # pt: a row to write weighings into; what the headings of cautions and weighings take
SHARED = (  # rows of weighings, cautions, and how high the graph then has to be at least [pt]; the last where none fits
    *((6, 5, 170), (5, 5, 160), (4, 5, 140), (3, 5, 100), (3, 4, 100), (3, 3, 95)),
)
NUMBERED, MOST_TRAYS = 4, 20  # trays named in full; columns that a page has
PIECES = {"g": (20, 30, 40, 60, 80, 100), "oz": (1, 2, 3, 4, 5, 6)}  # marked pieces as laid, for the ladder
STEPS = (1, 2, 3, 4, 6, 8, 12, 24)  # h between two lines of the graph
MOST_CAUTIONS = 5
REFUSED = (15.0, 14.0, 13.0, 12.0, BODY)  # pt, sizes to try for the reasons of a batch that is not to be made
ALWAYS = ("H1", "E3")
HARDEST = (  # cautions and reasons for the wall, by rule: what can hurt comes first
    *("G2", "T1", "P1", "A1", "W1", "W12", "B1", "P3", "P2", "B6", "L1", "L2", "L3", "L4", "R2", "R3", "P5", "E4"),
    *("L5", "L6", "P7", "P6", "P8", "T6"),
)
IN_PLACE = ("B6",)  # its short words lean on the step beside which they stand


@dataclass(frozen=True)
class Sheet:
    """What a card is made of: the plan, when the fish meets the salt, units, paper."""

    outcome: Outcome
    start: datetime | None
    system: str
    paper: str

    @property
    def unit(self) -> str:
        return "oz" if self.system == "us" else "g"

    @property
    def percent(self) -> int | None:
        """The weight to stop at; None where there is none to give, or nothing to dry."""
        load, ratio = self.outcome.load, self.outcome.drying["mass_ratio"].mid
        return None if load.no_drying or ratio is None or not load.reached else words.stop_percent(ratio)

    def said(self, text: str) -> str:
        return words.in_system(text, self.system)


def batch_card(
    outcome: Outcome, start: datetime | None = None, system: str = "both", paper: str = "a4"
) -> tuple[Page, Page]:
    """The two pages of a batch.

    Parameters: start – when the fish meets the salt; without it hours are counted from then;
    system – metric, us or both; paper – a4 or letter.
    """
    sheet = Sheet(outcome, start, system, paper)
    if words.refused(outcome.verdict):
        return _not_made(sheet), back(outcome, start, system, paper)
    return _wall(sheet), back(outcome, start, system, paper, LABEL)


def title(outcome: Outcome) -> str:
    """What the card is called."""
    return say("card.title", title=outcome.batch.title)


def _wall(sheet: Sheet) -> Page:
    page = Page(sheet.paper)
    (column,) = page.columns(MARGIN, foot=LABEL)
    _head(column, sheet)
    _stop(column, sheet)
    _times(column, sheet)
    _the_rest(column, sheet)
    _label(page, sheet)
    return page


def _head(column: Column, sheet: Sheet) -> None:
    outcome, start = sheet.outcome, sheet.start
    refused = words.refused(outcome.verdict)
    beside = say("card.not_made") if refused else say("card.no_start")
    if start and not refused:
        beside = say("card.starts", start=f"{start:%Y-%m-%d %H:%M}")
    name, page, top = outcome.batch.title, column.page, column.top
    column.paragraph(name, 16, bold=True)
    if width_of(name, 16, bold=True) + width_of(beside, BODY) + 20 > column.width:
        column.paragraph(beside, BODY)
    else:
        page.text(page.width - MARGIN, top + 16, beside, BODY, align="right")
    if not refused:
        keep, eat = words.headline(outcome.verdict, outcome.keep).split("   ")
        column.paragraph(say("card.verdict", keep=keep, eat=eat), 13, bold=True)
        column.paragraph(sheet.said(keep_until(outcome, start)), BODY)
        if outcome.verdict.eat == "cook_first":
            column.paragraph(sheet.said(words.COOK), BODY, bold=True)
    column.paragraph(words.caution_line(outcome.verdict), BODY, bold=True)
    if draft_line():
        column.paragraph(draft_line(), BODY)
    column.skip(5)


def keep_until(outcome: Outcome, start: datetime | None) -> str:
    """Where and until when, in words; a date, counted from the earliest end of the drying, when the start is known."""
    keep = outcome.keep
    if keep.place is None:
        return say("card.no_time")
    if keep.days is None:
        most = words.days_words(keep.clocks["official_cap"])
        return say("kitchen.days_not_tested", place=translated(keep.place), days=most)
    days = words.days_words(keep.days)
    if start is None:
        return say("card.after", place=translated(keep.place), days=days)
    return say("card.until", place=translated(keep.place), days=days, day=f"{times.last_day(outcome, start):%Y-%m-%d}")


# ---- the box


def _stop(column: Column, sheet: Sheet) -> None:
    """The weight to stop at, large, with rules to write on."""
    percent, top = sheet.percent, column.top
    inner = Column(column.page, column.left + 10, column.width - 20, top + 5, column.bottom)
    if percent is None:
        load = sheet.outcome.load
        told = already_dry(sheet.outcome.batch, load) if load.no_drying else say("kitchen.no_stop")
        inner.paragraph(told, 15, bold=True)
    else:
        _equation(inner, sheet, percent)
        inner.paragraph(say("card.share", percent=percent, example=kitchen.example(percent, sheet.system)), BODY)
        inner.paragraph(_ladder(sheet.unit, percent), BODY)
    column.page.box(column.left, top, column.width, inner.top + 5 - top, edge=2.5)
    column.top = inner.top + 9


def _equation(column: Column, sheet: Sheet, percent: int) -> None:
    """marked piece as laid ___ g × 0.44 = STOP AT ___ g"""
    page, base, large, unit = column.page, column.top + 40, 26, sheet.unit
    parts = (say("card.factor", unit=unit, factor=number(percent / 100, ".2f")), say("card.stop"))
    widths = [width_of(part, size, bold=True) for part, size in zip(parts, (large - 6, large), strict=True)]
    room = (column.width - sum(widths) - width_of(unit, large, bold=True) - 24) / 2
    page.text(column.left, column.top + BODY, say("card.laid"), BODY)
    page.text(column.left + column.width, column.top + BODY, say("card.thinner"), BODY, align="right")
    left = column.left
    for part, width, size in ((parts[0], widths[0], large - 6), (unit, 0, large)):
        page.rule(left, base + 2, room)
        page.text(left + room + 4, base, part, size, bold=True)
        left += room + width + 12
        page.text(left, base, parts[1] if width else "", large, bold=True)
        left += widths[1] + 6
    column.top = base + 8


def _ladder(unit: str, percent: int) -> str:
    """Weights to stop at for round weights as laid, for those who do not like to multiply."""
    rungs = (say("card.rung", laid=laid, left=words.stop_weight(percent, laid, unit)) for laid in PIECES[unit])
    return say("card.ladder", unit=unit, weights=", ".join(rungs))


# ---- the timetable


def _times(column: Column, sheet: Sheet) -> None:
    rows = [((TICK, clock, told), due) for _, clock, told, due in sorted(_rows(sheet))]
    column.rows(rows, (18.0, 70.0, column.width - 88.0), BODY)


def _rows(sheet: Sheet) -> Iterator[tuple[float, str, str, bool]]:
    """Moments and deadlines: seconds from the first salt, by the clock or in hours, what to do; whether it is a deadline."""
    for group in _in_groups(times.timetable(sheet.outcome)):
        if len(group) > 2:
            told = f"{say('moment.freshen_all', waters=len(group))}: {words.lasts(group[0], sheet.system)}"
            yield group[0].at, words.when(group[0], sheet.start), told, False
        else:
            yield from ((one.at, words.when(one, sheet.start), _to_do(one, sheet), False) for one in group)
    yield from _deadlines(sheet)


def _in_groups(moments: Iterable[times.Moment]) -> list[list[times.Moment]]:
    """Waters of one kind together, every other moment by itself."""
    groups: list[list[times.Moment]] = []
    for moment in moments:
        if moment.step == "freshen" and moment.turn > 1:
            groups[-1].append(moment)
        else:
            groups.append([moment])
    return groups


def _to_do(moment: times.Moment, sheet: Sheet) -> str:
    told = ": ".join(filter(None, (words.what(moment, sheet.system), words.lasts(moment, sheet.system))))
    blanks = {"heat": say("card.probe", degrees="°F" if sheet.system == "us" else "°C"), "dry": say("card.laid_at")}
    return "; ".join(filter(None, (told, blanks.get(moment.step, ""))))


def _deadlines(sheet: Sheet) -> Iterator[tuple[float, str, str, bool]]:
    by = sheet.outcome.verdict.by
    for deadline, later in pairwise(by):
        at = times.deadline_at(sheet.outcome, deadline)
        early = math.floor(at / 360 + 1e-9) / 10
        clock = words.day_and_hour(times.early_clock(at, sheet.start)) if sheet.start else f"+{number(early, '.1f')} h"
        told = say("card.by", hours=words.hours_words(deadline.hours), eat=words.LATER_EAT[later.eat])
        yield at, clock, told, True


# ---- cautions


def hardest(outcome: Outcome, most: int = MOST_CAUTIONS) -> list[str]:
    """The cautions for the wall: the hardest of this batch, then those that always stand there."""
    said = [*outcome.verdict.reasons, *outcome.verdict.cautions]
    always = [_on_the_wall(one) for one in said if one.rule in ALWAYS]
    own = sorted((one for one in said if one.rule in HARDEST), key=lambda one: HARDEST.index(one.rule))
    return [*list(dict.fromkeys(map(_on_the_wall, own)))[: most - len(always)], *always]


def _on_the_wall(one: Reason) -> str:
    """A caution in words that stand by themselves."""
    name = f"card.{one.row or one.rule}"
    if name in texts():
        return say(name)
    return one.text if one.rule in IN_PLACE else kitchen.short(one)


def _heed(column: Column, sheet: Sheet, lines: list[str]) -> None:
    column.heading(say("card.heed"), 12)
    for line in lines:
        column.item(sheet.said(line), BODY)


# ---- the graph and the weighings


def _the_rest(column: Column, sheet: Sheet) -> None:
    """Cautions, graph and weighings: rows and, in the end, cautions give way to the graph; the second page has them all."""
    if sheet.outcome.load.no_drying:
        _heed(column, sheet, hardest(sheet.outcome))
        return
    for rows, most, least in SHARED:
        lines = hardest(sheet.outcome, most)
        height = column.room - _height(column, lines) - rows * ROW - HEADINGS
        if height >= least:
            break
    _heed(column, sheet, lines)
    if height >= least:
        _graph(column, sheet, height)
    else:
        rows += max(0, int(height // ROW))
    _weighings(column, sheet, rows)


FIRST_WORDS = (("card.first_row", False), ("card.marked", True))  # the longest of the two columns of words


def _weighings(column: Column, sheet: Sheet, rows: int) -> None:
    trays = sheet.outcome.batch.dryer.trays
    name = "" if trays <= NUMBERED else "_many" if trays <= MOST_TRAYS else "_more"
    column.line(say(f"card.weighings{name}", unit=sheet.unit, first=MOST_TRAYS + 1, last=trays), BODY, bold=True)
    column.skip(2)
    shown = range(1, min(trays, MOST_TRAYS) + 1)
    heads = [say("card.tray", number=n) if trays <= NUMBERED else str(n) for n in shown]
    head = [say("card.clock"), say("card.marked"), *heads]
    blank = [[say("card.first_row") if n == 0 else "", *[""] * (len(head) - 1)] for n in range(rows)]
    first, second = (max(60.0, width_of(say(name), BODY, bold=bold) + 10) for name, bold in FIRST_WORDS)
    shares = [first, second, *[(column.width - first - second) / len(heads)] * len(heads)]
    column.table(head, blank, shares, BODY, ROW)


class Graph:
    """Graph paper: hours across, per cent of the weight as laid down, from 100 to under the weight to stop at."""

    def __init__(self, page: Page, left: float, top: float, width: float, height: float, hours: float, least: int):
        self.page, self.left, self.top, self.width, self.height = page, left, top, width, height
        self.hours, self.least = hours, least

    def across(self, hours):
        return self.left + self.width * np.asarray(hours) / self.hours

    def down(self, percent):
        return self.top + self.height * (100 - np.asarray(percent)) / (100 - self.least)

    def paper(self, step: int) -> None:
        page, foot, right = self.page, self.top + self.height, self.left + self.width
        for half in range(2 * int(self.hours // step) + 1):
            at, whole = float(self.across(half * step / 2)), half % 2 == 0
            page.stroke([at, at], [self.top, foot], "#999999" if whole else "#d4d4d4", 0.6 if whole else 0.4)
            if whole:
                page.text(at, foot + 13, f"{half * step // 2}", BODY, align="center")
        for percent in range(self.least, 101, 5):
            at, whole = float(self.down(percent)), percent % 10 == 0
            page.stroke([self.left, right], [at, at], "#999999" if whole else "#d4d4d4", 0.6 if whole else 0.4)
            if percent % 20 == 0:
                page.text(self.left - 4, at + 4, f"{percent}", BODY, align="right")


def _graph(column: Column, sheet: Sheet, height: float) -> None:
    """The band of the plan, with room on the right for the grams of one's own piece; so high with its words."""
    column.line(say("card.dots"), BODY, bold=True)
    hours, percent, page = _axis_end(sheet.outcome), sheet.percent, column.page
    low, mid, high = 100 * np.clip(weighing.thickest_left(sheet.outcome), 0, 1)
    lowest = percent if percent is not None else float(mid.min())
    least = max(10 * math.floor(lowest / 10 - 0.5), 0)
    graph = Graph(page, column.left + 26, column.top + 8, column.width - 126, height - 42, hours, least)
    seen = np.linspace(0, hours, 200)
    low, mid, high = (np.interp(seen, sheet.outcome.load.result.times / HOUR, one) for one in (low, mid, high))
    page.area(graph.across(seen), graph.down(np.maximum(high, least)), graph.down(np.maximum(low, least)), "#e0e0e0")
    graph.paper(_step(hours))
    on = mid >= least
    page.stroke(graph.across(seen[on]), graph.down(mid[on]), "black", 1.6)
    page.text(graph.left + graph.width + 14, graph.top + graph.height + 13, say("card.hours"), BODY)
    _own_grams(graph, percent, sheet.unit)
    column.top += height - BODY * LEADING


def _own_grams(graph: Graph, percent: int | None, unit: str) -> None:
    """At the right edge: what the lines of the paper mean in grams of one's own piece, to be filled in."""
    page, right = graph.page, graph.left + graph.width
    page.text(right + 4, graph.top + 4, say("card.at_laid", unit=unit), BODY)
    taken = [graph.top]
    if percent is not None:
        at = float(graph.down(percent))
        page.stroke([graph.left, right], [at, at], "black", 1.6, (0, (5, 3)))
        page.text(right + 4, at + 4, say("card.at_stop", unit=unit), BODY, bold=True)
        taken.append(at)
    for part in (80, 60, 40):
        at = float(graph.down(part))
        if part > graph.least and all(abs(at - other) > 15 for other in taken):
            page.text(right + 4, at + 4, say("card.at_part", part=number(part / 100, "g"), unit=unit), BODY)


def _axis_end(outcome: Outcome) -> float:
    """Hours that the graph shows: to the late end of the forecast, but no more than three times its middle."""
    hours = outcome.drying["hours_to_target"]
    if hours.mid is None:
        return 48.0
    end = 3 * hours.mid if hours.high is None else min(1.1 * hours.high, 3 * hours.mid)
    step = _step(end)
    return float(step * math.ceil(end / step))


def _step(hours: float) -> int:
    return next((step for step in STEPS if hours / step <= 10), STEPS[-1])


# ---- the label


def _label(page: Page, sheet: Sheet) -> None:
    """A strip to cut from the foot of the page in one straight cut."""
    outcome, keep = sheet.outcome, sheet.outcome.keep
    top = page.height - MARGIN - LABEL + 8
    cut = f"✂ {say('card.label')} "
    page.text(MARGIN, top + 4, cut, BODY)
    page.rule(MARGIN + width_of(cut, BODY) + 4, top, page.inside - width_of(cut, BODY) - 4, GREY, (0, (4, 3)))
    last = say("card.label_open")
    if keep.days is not None:
        day = times.last_day(outcome, sheet.start) if sheet.start else None
        last = f"{day:%Y-%m-%d}" if day else say("card.label_days", days=words.days_words(keep.days))
    name = say("card.label_keep", place=translated(keep.place)) if keep.place else say("card.label_fish")
    fish = wrap(words.fish_name(outcome.batch.fish) or outcome.batch.title, 0.4 * page.inside, 13, bold=True)[0]
    fields = ((name, fish), (say("card.label_date"), ""), (say("card.label_last"), last))
    for (name, told), left, width in zip(fields, (0, 0.42, 0.66), (0.4, 0.22, 0.34), strict=True):
        at = MARGIN + left * page.inside
        page.text(at, top + 20, name, BODY)
        page.text(at, top + 36, told, 13, bold=True)
        if not told:
            page.rule(at, top + 38, width * page.inside)


# ---- a batch that is not to be made


def _not_made(sheet: Sheet) -> Page:
    """Why a batch is not to be made, and the ways out, as large as there is room; the least size leaves some to page 2."""
    pages = (_refused(sheet, size) for size in REFUSED)
    return next((page for page in pages if page.overfull <= 0), None) or _refused(sheet, BODY, cut=True)


def _refused(sheet: Sheet, size: float, cut: bool = False) -> Page:
    page = Page(sheet.paper)
    (column,) = page.columns(MARGIN)
    _head(column, sheet)
    _forbidden(column, sheet)
    people = [sheet.said(kitchen.short(one)) for one in sheet.outcome.verdict.cautions if one.rule in ALWAYS]
    ends = [say("card.no_more"), say("card.more_reasons")]
    column.heading(say("card.way_out"), size + 2)
    _ways_out(
        column, sheet, size, column.room - _height(column, [*people, *ends], size) - 4 * size if cut else math.inf
    )
    column.heading(say("card.heed"), size + 2)
    for line in people:
        column.item(line, size)
    column.skip(4)
    column.paragraph(ends[0], size, bold=True)
    return page


def _forbidden(column: Column, sheet: Sheet) -> None:
    """In the place of the weight to stop at: the verdict."""
    verdict, top = sheet.outcome.verdict, column.top
    inner = Column(column.page, column.left + 10, column.width - 20, top + 8, column.bottom)
    both = (("eat", verdict.eat, words.EAT_WORDS), ("keep", verdict.keep, words.KEEP_WORDS))
    for name, told, table in both:
        if told in words.REFUSED:
            text = say(f"card.to_{name}", verdict=table[told]) if told == "not_known" else table[told]
            inner.line(f"{words.SHAPES[told]} {text.upper()}", 30, bold=True)
    inner.paragraph(say("card.do_not_make"), 15, bold=True)
    if "not_known" in (verdict.keep, verdict.eat):
        inner.paragraph(words.NOT_KNOWN, BODY)
    column.page.box(column.left, top, column.width, inner.top + 6 - top, edge=2.5)
    column.top = inner.top + 8


def _height(column: Column, lines: Iterable[str], size: float = BODY) -> float:
    return sum((column.lines_for(line, size, 1.6 * size) + 0.15) * size * LEADING for line in lines)


def _ways_out(column: Column, sheet: Sheet, size: float, room: float) -> None:
    """Reasons that share a way out, with that way; so many as have room, the first in any case."""
    end = column.top + room
    for place, (reasons, way) in enumerate(words.changes_needed(sheet.outcome.verdict)):
        lines = [sheet.said(reason.text) for reason in reasons]
        way = sheet.said(f"{words.WAY_OUT}{way}") if way else ""
        if place and end - column.top < _height(column, [*lines, way], size):
            column.paragraph(say("card.more_reasons"), size, bold=True)
            return
        for line in lines:
            column.item(line, size)
        column.paragraph(way, size, bold=True, indent=1.6 * size)
        column.skip(0.4 * size)
