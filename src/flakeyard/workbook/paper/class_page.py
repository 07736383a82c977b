"""The class poster: every group's picture on one sheet, each with its words beneath, for the wall and for reading out.

A picture holds what the plan said before any weighing (a band), what the scale showed (shapes) and the weight to stop
at. Groups differ by their shape and their words, so nothing is lost on a printer without colour; the key stands above
the pictures and never in them. Beside the poster: a table in CSV with a row for each weighing, and the words to read out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from flakeyard.files import write_whole
from flakeyard.messages import draft_line, say, translated
from flakeyard.steps.learn import class_log, lessons
from flakeyard.steps.learn.class_log import Group, Weighing
from flakeyard.steps.learn.logbook import THICKEST
from flakeyard.workbook import words
from flakeyard.workbook.paper import sheet
from flakeyard.workbook.paper.log_text import stop_ratio
from flakeyard.workbook.paper.sheet import LEADING, Column, Page, wrap

COLUMNS = (
    "group", "time", "hours", "tray", "mass_g", "measured_left_percent", "predicted_left_low_percent",
    "predicted_left_mid_percent", "predicted_left_high_percent", "inside",
)  # fmt: skip
SHAPES = {
    "circles": "o", "squares": "s", "triangles": "^", "diamonds": "D", "upside-down triangles": "v", "crosses": "P",
    "stars": "*", "slanting crosses": "X",
}  # fmt: skip
A_SHEET = len(SHAPES)
FEW = 3  # groups up to which each has the whole width
TEXT, GAP = 7.3, 7.0  # pt
AXIS = 12.0  # pt below a picture, for its hours
TALLEST = 200.0  # pt of a picture
BAND, OWN_BAND = "#dddddd", (0, (4, 2))
QUARTER = 0.25  # of the weight as laid, between two lines
TOP = 1.06  # of the weight as laid, at the upper edge of a picture
STEPS = (1, 2, 3, 4, 6, 12, 24, 48)  # h between the ticks
MANY = 20  # weighings, all inside, from which that wants a word: 0.8**20 is 1 % were they independent (judgement)


def table_of(groups: list[Group]) -> pd.DataFrame:
    """One row for each weighing after the start: weight left as measured, and as the plan said before any weighing."""
    return pd.DataFrame([_row(one) for one in class_log.weighings(groups)], columns=list(COLUMNS))


def _row(one: Weighing) -> tuple:
    said = one.predicted
    shares = (round(100 * share, 1) for share in (one.left, said.low, said.mid, said.high))
    inside = "yes" if one.inside else "no"
    return (one.group, one.time, round(one.hours, 2), one.tray, round(1000 * one.mass, 1), *shares, inside)


# ---- in words


def read_out(groups: list[Group], system: str = "both") -> str:
    """What a leader reads out, never without the caution."""
    told = []
    for group in groups:
        told += [f"{group.name}:", *(f"  {line}" for line in group_words(group, system))]
    return "\n".join([*told, *honesty(groups), words.caution_line()])


def group_words(group: Group, system: str = "both") -> list[str]:
    """A group's verdict, its stop weight, hours and weighings, and what to do otherwise next time; short, for the wall."""
    outcome = group.learned.outcome
    told = [_verdict(outcome), f"{_stop(group)} {_hours(group)} {_lay(group)}"]
    told += [_next_time(group)] if _next_time(group) else []
    return [words.in_system(line, system) for line in told]


def _verdict(outcome) -> str:
    verdict, days = outcome.verdict, outcome.keep.days if outcome.keep.place == "cupboard" else None
    keep, eat = words.keep_words(verdict.keep, days), words.eat_words(verdict.eat)
    return say("class.verdict", keep=f"{words.SHAPES[verdict.keep]} {keep}", eat=f"{words.SHAPES[verdict.eat]} {eat}")


def _stop(group: Group) -> str:
    ratio = stop_ratio(group.learned)
    return say("class.no_stop") if ratio is None else say("class.stop", percent=words.stop_percent(ratio))


def _hours(group: Group) -> str:
    learned = group.learned
    planned, now = (_hours_words(one) for one in (learned.plan.drying["hours_to_target"], learned.hours_to_target))
    return say("class.hours", planned=planned, now=now)


def _hours_words(hours) -> str:
    if hours.mid is None:
        return say("class.not_known")
    likely = say("class.or_longer") if None in (hours.low, hours.high) else words.hours_range(hours.low, hours.high)
    return f"{words.about_hours(hours.mid)} h ({likely})"


def _lay(group: Group) -> str:
    rows = class_log.weighings([group])
    if not rows:
        return say("class.none_weighed")
    return say("class.inside", inside=sum(row.inside for row in rows), all=len(rows))


def _next_time(group: Group) -> str:
    """The way out of a batch that is not made, before anything that saves time; of lost fish nothing saves time."""
    verdict = group.learned.outcome.verdict
    lost = verdict.keep == "nowhere" or verdict.eat == "no"
    ways = [way for _, way in words.changes_needed(verdict) if way] if words.refused(verdict) else []
    told = [*ways[:1], *lessons.next_time(group.learned, faster=not lost)]
    return " ".join([say("class.next_time"), *told]) if told else ""


def honesty(groups: list[Group]) -> list[str]:
    """How all the weighings lay beside 8 of 10; that logs say they are invented, and what a class all inside is worth;
    which groups have not weighed the piece that decides."""
    rows = class_log.weighings(groups)
    inside = sum(row.inside for row in rows)
    told = [say("class.all", inside=inside, all=len(rows))] if rows else []
    told += [say("class.too_good", inside=inside, all=len(rows))] if inside == len(rows) >= MANY else []
    for name, some in (
        ("class.invented", [group.name for group in groups if group.says_invented]),
        ("class.mark", [group.name for group in groups if not group.marked]),
    ):
        told += [say(name, groups=", ".join(some))] if some else []
    return told


# ---- on paper


def poster(groups: list[Group], system: str = "both", paper: str = "a4") -> list[Page]:
    """The sheets, eight groups on each; all pictures have the same hours and the same weights."""
    scale = _scale(groups)
    told = {group.name: group_words(group, system) for group in groups}
    parts = [groups[first : first + A_SHEET] for first in range(0, len(groups), A_SHEET)]
    return [_sheet(part, told, honesty(groups), scale, paper) for part in parts]


def _scale(groups: list[Group]) -> tuple[float, float]:
    """The hours and the lowest share that all pictures have room for."""
    hours = max(1.1 * max(group.log.last for group in groups), 1.0)
    lowest = min(
        [0.5, *(row.left for row in class_log.weighings(groups)), *(_lowest(group, hours) for group in groups)]
    )
    return hours, max(np.floor((lowest - 0.02) / QUARTER), 0) * QUARTER


def _lowest(group: Group, hours: float) -> float:
    return min(group.predicted(hours)[0, 0], stop_ratio(group.learned) or 1.0)


def _sheet(
    groups: Sequence[Group], told: dict[str, list[str]], foot: list[str], scale: tuple[float, float], paper: str
) -> Page:
    page = Page(paper)
    (head,) = page.columns(page.margin)
    head.line(say("class.title"), 15, bold=True)
    _key(page, head)
    foot = [*filter(None, [draft_line()]), *foot, words.caution_line()]
    tall = sum(head.lines_for(line, TEXT + 0.5) for line in foot) * (TEXT + 0.5) * LEADING + 12
    across = 1 if len(groups) <= FEW else 2
    rows = -(-len(groups) // across)
    free = (head.room - tall) / rows
    for row in range(rows):
        some = groups[across * row : across * (row + 1)]
        columns = page.columns(head.top + row * free, (1.0,) * across, gap=18)
        wordy = max(_lines(columns[0], told[group.name]) for group in some)
        picture = min(free - wordy * TEXT * LEADING - 13 - AXIS - GAP, TALLEST)
        for place, (group, column) in enumerate(zip(some, columns, strict=False)):
            _group(page, column, group, list(SHAPES)[across * row + place], told[group.name], scale, picture)
    head.top = page.height - page.margin - tall + 6
    page.rule(head.left, head.top, head.width)
    head.skip(4)
    for line in foot:
        head.paragraph(line, TEXT + 0.5)
    return page


def _lines(column: Column, told: list[str]) -> int:
    return sum(len(wrap(line, column.width, TEXT, bold=number == 0)) for number, line in enumerate(told))


def _key(page: Page, head: Column) -> None:
    """What the signs mean, above the pictures: each sign, then its words."""
    signs = (
        ("class.key_band", lambda left, base: page.area([left, left + 18], [base - 8] * 2, [base + 1] * 2, BAND)),
        ("class.key_tray", lambda left, base: page.marks([left + 9], [base - 3], "o")),
        ("class.key_piece_band", lambda left, base: page.rule(left, base - 3, 18, dashes=OWN_BAND)),
        ("class.key_piece", lambda left, base: page.marks([left + 9], [base - 3], "o", filled=False)),
        ("class.key_stop", lambda left, base: page.stroke([left, left + 18], [base - 3] * 2, width=1.6)),
        ("class.key_done", lambda left, base: _done_mark(page, left, left + 9, left + 18, base - 3)),
    )
    half = head.width / 2
    head.line(say("class.key"), TEXT)
    head.skip(2)
    for number, (name, draw) in enumerate(signs):
        left, base = head.left + half * (number % 2), head.top + TEXT + 2
        draw(left, base)
        page.text(left + 24, base, say(name), TEXT)
        head.top += (TEXT * LEADING + 1) * (number % 2)
    head.skip(6)


def _group(
    page: Page, column: Column, group: Group, shape: str, told: list[str], scale: tuple[float, float], tall: float
) -> None:
    page.marks([column.left + 5], [column.top + 6.5], SHAPES[shape])
    page.text(
        column.left + 14, column.top + 10, say("class.group", group=group.name, shape=translated(shape)), 9.5, bold=True
    )
    column.skip(13)
    _draw(page, Picture(column.left + 20, column.top, column.width - 20, tall, *scale), group, SHAPES[shape])
    column.skip(tall + AXIS)
    for number, line in enumerate(told):
        column.paragraph(line, TEXT, bold=number == 0)


@dataclass(frozen=True)
class Picture:
    """A rectangle on the page, with hours across it and the share of the weight as laid upwards, from the lowest on."""

    left: float
    top: float
    width: float
    tall: float
    hours: float
    lowest: float

    def across(self, hours):
        return self.left + self.width * np.asarray(hours, float) / self.hours

    def down(self, share):
        return self.top + self.tall * (TOP - np.asarray(share, float)) / (TOP - self.lowest)


def _draw(page: Page, on: Picture, group: Group, marker: str) -> None:
    _axes(page, on)
    hours = np.linspace(0.0, on.hours, 120)
    low, _, high = group.predicted(hours)
    page.area(on.across(hours), on.down(high), on.down(low), BAND)
    rows = class_log.weighings([group])
    if any(row.tray == THICKEST for row in rows):
        own = group.predicted(hours, thickest=True)
        for line in (own[0], own[2]):
            page.stroke(on.across(hours), on.down(line), dashes=OWN_BAND)
    _stop_mark(page, on, group)
    for marked in (False, True):
        some = [row for row in rows if (row.tray == THICKEST) == marked]
        page.marks(
            on.across([row.hours for row in some]), on.down([row.left for row in some]), marker, filled=not marked
        )


def _axes(page: Page, on: Picture) -> None:
    for share in np.arange(on.lowest, 1.01, QUARTER):
        page.rule(on.left, float(on.down(share)), on.width, "#bbbbbb" if share > on.lowest else "black")
        page.text(on.left - 3, float(on.down(share)) + 2.2, f"{100 * share:.0f} %", 6, align="right")
    step = next((step for step in STEPS if on.hours / step <= 9), STEPS[-1])
    for hour in np.arange(0, on.hours, step):
        across = float(on.across(hour))
        page.stroke([across, across], [on.top + on.tall, on.top + on.tall + 2.5])
        page.text(across, on.top + on.tall + 9, f"{hour:.0f} h", 6, align="center")


def _stop_mark(page: Page, on: Picture, group: Group) -> None:
    """The weight to stop at, and upon it the hour at which the thickest piece is done by the newest forecast."""
    ratio = stop_ratio(group.learned)
    if ratio is None:
        return
    down = float(on.down(ratio))
    page.stroke([on.left, on.left + on.width], [down, down], width=1.6)
    done = group.learned.hours_to_target
    if done.mid is not None:
        low, high = (done.mid if end is None else end for end in (done.low, done.high))
        ends = [float(on.across(min(hour, on.hours))) for hour in (low, done.mid, high)]
        _done_mark(page, *ends, down, beyond=done.mid > on.hours)


def _done_mark(page: Page, low: float, mid: float, high: float, down: float, beyond: bool = False) -> None:
    """A bar between two ticks, a taller one in the middle; nothing in the middle where that lies beyond the picture."""
    for across, tall in ((low, 2.5), (high, 2.5), *(() if beyond else ((mid, 5.0),))):
        page.stroke([across, across], [down - tall, down + tall], width=1.1)
    page.stroke([low, high], [down, down], "white", width=0.7)


# ---- in files


def write_class(folder: str | Path, out: str | Path, system: str = "both", paper: str = "a4") -> list[Path]:
    """Write the table, the sheets as PDF and PNG and the words of a folder's groups. Raises: InputError, OSError."""
    groups = class_log.read_class(folder)
    place = Path(out)
    place.mkdir(parents=True, exist_ok=True)
    pages = poster(groups, system, paper)
    written = [write_whole(place / "class.csv", table_of(groups).to_csv(index=False))]
    written.append(sheet.save_pdf(pages, place / "class.pdf", say("class.title")))
    for number, page in enumerate(pages, 1):
        name = f"class-{number}.png" if number > 1 else "class.png"
        written.append(write_whole(place / name, sheet.as_png(page, 150)))
    return [*written, write_whole(place / "class.txt", read_out(groups, system) + "\n")]
