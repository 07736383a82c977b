"""A batch and its log: forecasts made once and remembered, tables, the batch card, what the dryer taught.

A `Book` is a batch with its log file. What is typed goes into the file before anything is computed; a demonstration
writes into a scratch copy. Files of one's own stand beside the workbook, and an older one stays as a numbered copy.
"""

from __future__ import annotations

import base64
import html
import io
import tempfile
from dataclasses import dataclass, field, replace
from importlib.resources import files
from pathlib import Path

import numpy as np
from PIL import Image

from flakeyard.files import kept_copies, why, write_whole
from flakeyard.steps.intent.batch_file import Batch
from flakeyard.steps.intent.spread import Band, band
from flakeyard.steps.learn import dryer_profile, learning, lessons, logbook
from flakeyard.steps.learn.learning import Learned
from flakeyard.steps.learn.logbook import RESTARTS, THICKEST, Entry, Log
from flakeyard.steps.learn.members import Course, at_times, schedule
from flakeyard.steps.plan import plan as batches
from flakeyard.units import InputError
from flakeyard.workbook import own, words
from flakeyard.workbook.panels.panel import Choice
from flakeyard.workbook.paper import sheet as paper
from flakeyard.workbook.paper.card import batch_card, read_start, timetable
from flakeyard.workbook.table import Table

LOG, DRYER, CARD = "my-log.csv", "my-dryer.toml", "my-batch-card.pdf"
MEMBERS = 200  # of the ensemble: with fewer, more rounds are needed and no time is saved
HORIZONS = (6.0, 9.0, 12.0, 18.0, 24.0, 36.0, 48.0, 96.0)  # hours across the picture
COLUMNS = ("time", "tray", "mass_g", "event", "note")


# A batch and its log


class Book:
    """A batch, its log file, and the forecasts made from it, each worked out once."""

    def __init__(self, batch: Batch, path: str | Path, profile: dryer_profile.DryerProfile | None = None):
        self.batch, self.path, self.profile = batch, Path(path), profile
        self._priors: dict[str, Course] = {}
        self._made: dict[str, Learned] = {}
        self.read()

    def read(self) -> None:
        """Take the log from its file anew; a book without a file has an empty log."""
        self.log, self.trouble = Log(()), ""
        if self.path.exists():
            try:
                self.log = logbook.read_log(self.path)
            except InputError as mistake:  # the file stays as it is, and nothing is added to it until it is mended
                self.trouble = f"{self.path.name} cannot be read yet. {mistake}"

    @property
    def moments(self) -> tuple[float, ...]:
        """Hours at which something was weighed after drying began."""
        return self.log.moments

    def upto(self, used: int) -> Log:
        """The log as it stood when so many weighings had been made; with the last, all that is in it."""
        if used >= len(self.moments):
            return self.log
        return self.log.until(self.moments[used - 1] if used else 0.0)

    def prior(self, log: Log) -> Course:
        """The plan through what happened to the dryer, before any weighing."""
        key = repr([entry for entry in log.entries if entry.event or entry.readings])
        if key not in self._priors:
            self._priors[key] = learning.prior_course(self.batch, log, MEMBERS, self.profile, sketch=True)
        return self._priors[key]

    def learned(self, used: int) -> Learned:
        """The forecast made after so many weighings."""
        return self.what_if(self.upto(used))

    def what_if(self, log: Log) -> Learned:
        """The forecast from any log of this batch, such as one with another weight in it."""
        key = repr(log.entries)
        if key not in self._made:
            prior = self.prior(log)
            self._made[key] = learning.learn(self.batch, log, MEMBERS, self.profile, prior=prior, sketch=True)
        return self._made[key]

    def keep(self, used: int, **row) -> None:
        """Add a row at the end of the log file, whatever the slider says: it is refused, or it is in the file."""
        begun = {} if self.path.exists() else {"event": ""}  # a new file has a column for what happens later
        self.log = logbook.append(self.path, **begun | row)

    def at(self, used: float) -> Step:
        """What there is to see after so many weighings."""
        used = min(round(used), len(self.moments))
        return Step(
            self, used, self.learned(used), [self.learned(number).hours_to_target for number in range(used + 1)]
        )

    @property
    def horizon(self) -> float:
        """Hours that the picture shows: the plan with room to spare."""
        try:
            hours = self.learned(0).plan.drying["hours_to_target"]
        except ValueError:  # told where the curves would be
            hours = Band(None, None, None)
        wanted = max(1.1 * (hours.high or 1.6 * (hours.mid or 30.0)), 1.05 * self.log.last)
        return next((horizon for horizon in HORIZONS if horizon >= wanted), HORIZONS[-1])


class Trial(Book):
    """A book on a scratch copy of a log: whatever is typed is tried, and the log itself stays as it is."""

    def __init__(self, batch: Batch, log: Log):
        self._room, self.whole = tempfile.TemporaryDirectory(), log
        path = Path(self._room.name) / "scratch-copy.csv"
        _write_rows(path, log.entries, log)
        super().__init__(batch, path)

    def keep(self, used: int, **row) -> None:
        """Go on from a weighing, as if the later ones had not been made; a row that is refused changes nothing."""
        before = self.log
        _write_rows(self.path, self.upto(used).entries, before)
        try:
            super().keep(used, **row)
        except (InputError, OSError):
            _write_rows(self.path, before.entries, before)
            raise

    def restore(self) -> None:
        _write_rows(self.path, self.whole.entries, self.whole)
        self.read()


def _write_rows(path: Path, entries: tuple[Entry, ...], log: Log) -> None:
    lines = [",".join(COLUMNS)]
    for entry in entries:
        grams = "" if entry.mass is None else f"{1000 * entry.mass:g}"
        lines.append(f"{log.clock(entry.hours)},{entry.tray},{grams},{entry.event},{entry.note}")
    write_whole(path, "\n".join(lines) + "\n")


def demo_book(name: str = "heron") -> Trial:
    """One of the invented batches of the demo class with its log."""
    folders = (
        own.course_folder_without_copying() / "data_demo",
        Path(str(files("flakeyard"))) / "course" / "data_demo",
    )
    path = next(path for folder in folders if (path := folder / f"{name}-weighings.csv").exists())
    return Trial(own.demo_batch(name), logbook.read_log(path))


def own_book(folder: str | Path = ".") -> Book:
    """One's own batch with ``my-log.csv``, and what ``my-dryer.toml`` knows of the dryer from batches before.

    Without a batch file the plan is Heron's, told as such, and without the history of Heron's fish.
    """
    folder = Path(folder)
    book = Book(own.batch_to_keep(folder), folder / LOG)
    book.trouble = " ".join(filter(None, (_whose_plan(folder / own.FILE), book.trouble)))
    try:
        book.profile = profile_before(book, folder)
    except InputError as mistake:
        book.trouble = " ".join(filter(None, (book.trouble, f"{DRYER} is left out for now. {mistake}")))
    return book


def _whose_plan(path: Path) -> str:
    try:
        batches.load_batch(path)
        return ""
    except InputError as mistake:
        why = f"{path.name} cannot be used yet. {mistake}" if path.exists() else f"There is no {path.name} yet."
        return f"{why} Fish, cut and dryer are Heron's: save your own in workbook 01, then run this cell again."


def profile_before(book: Book, folder: str | Path = ".") -> dryer_profile.DryerProfile | None:
    """The newest profile that was not learned from this very batch: the file itself, else one of its numbered copies."""
    folder, name = Path(folder), learning._name(book.batch, book.log)
    for path in (folder / DRYER, *kept_copies(folder / DRYER)):
        if path.exists():
            profile = dryer_profile.read_profile(path)
            if name not in profile.batches:
                return profile
    return None


# One move of the slider


@dataclass(frozen=True)
class Step:
    """What was known after so many weighings, and what had been forecast on the way there."""

    book: Book
    used: int
    learned: Learned
    made: list[Band]

    @property
    def by_piece(self) -> bool:
        """Whether the marked thickest piece was on the scale by itself."""
        return any(entry.tray == THICKEST for entry in self.book.log.weighings if entry.hours == 0.0)

    def curve(self, course: Course, log: Log, hours: np.ndarray) -> np.ndarray:
        """Weight left at hours on the clock (10th, 50th, 90th percentile), of the marked piece or of the whole load."""
        drying = schedule(log, self.book.batch.dryer["temperature"].value).drying(hours)
        curves = course.pieces[-1] if self.by_piece else course.load
        return np.quantile(at_times(course.times, curves, 3600 * drying), [0.1, 0.5, 0.9], axis=0)

    @property
    def stop(self) -> float:
        """Weight at which to stop over weight as laid, of what the curve shows; not a number where it is not known."""
        return stop_ratio(self.learned, self.by_piece)

    @property
    def happened(self) -> float | None:
        """Hour at which the scale itself showed the weight to stop at, going straight from weighing to weighing."""
        book = self.book
        hours, left = points(book.log, self.by_piece)
        stop = stop_ratio(book.learned(len(book.moments)), self.by_piece)
        if not len(left) or not left[-1] <= stop:
            return None
        after = int(np.argmax(left <= stop))
        return float(np.interp(-stop, -left[after - 1 : after + 1], hours[after - 1 : after + 1]))


def stop_ratio(learned: Learned, by_piece: bool) -> float:
    """Weight at which to stop over weight as laid, of the thickest piece or of the whole load at that moment."""
    if learned.contradiction or not learned.hours_to_target.known:
        return np.nan
    course = learned.course
    if by_piece:
        return float(np.median(course.outcome.load.mass_ratio))
    done = 3600 * np.minimum(course.finish[-1], course.times[-1] / 3600)
    left = [np.interp(moment, course.times, curve) for moment, curve in zip(done, course.load, strict=True)]
    return float(np.median(left))


def points(log: Log, by_piece: bool) -> tuple[np.ndarray, np.ndarray]:
    """Hours, and weight left over weight as laid, of the marked piece or of all trays weighed at that hour together.

    A tray that pieces were taken from, or that was soaked again, drops out: its weight as laid is no longer known.
    """
    laid: dict[str, float] = {}
    sums: dict[float, list[float]] = {}
    for entry in log.weighings:
        if entry.event in RESTARTS:
            laid.pop(entry.tray, None)
        elif entry.hours == 0.0 and (entry.tray == THICKEST) == by_piece:
            laid[entry.tray] = entry.mass
        if entry.tray in laid:
            sums.setdefault(entry.hours, []).append((entry.mass, laid[entry.tray]))
    hours = np.array(sorted(sums))
    return hours, np.array([np.divide(*np.sum(sums[hour], axis=0)) for hour in hours])


# Tables for the page


def hours_words(hours: Band, choice: Choice) -> str:
    """A band of hours as text."""
    return choice.show_band(Band(*(None if one is None else 3600 * one for one in vars(hours).values())), "time")


@dataclass(frozen=True)
class Lines:
    """Sentences that a workbook shows as a list, and a terminal line by line."""

    lines: tuple[str, ...]

    def _repr_markdown_(self) -> str:
        return "\n".join(f"- {line}" for line in self.lines)

    def __repr__(self) -> str:
        return "\n".join(self.lines)


def taught(book: Book) -> Lines:
    """All that the whole log says, the most useful first."""
    return Lines(book.learned(len(book.moments)).learned)


def weighed_table(book: Book) -> Table:
    """The load on the scale at each weighing, in grams, and what is left of its weight as laid."""
    hours, left = points(book.log, by_piece=False)
    laid = sum(entry.mass for entry in book.log.weighings if entry.hours == 0.0 and entry.tray != THICKEST)
    rows = [(f"{hour:.3g} h", f"{1000 * laid * part:.0f} g", f"{100 * part:.0f} %") for hour, part in zip(hours, left)]
    return Table(("weighed at", "all trays together", "of weight as laid"), tuple(rows))


def history_table(book: Book, choice: Choice) -> Table:
    """Each forecast made on the way beside what the scale showed in the end."""
    last = book.at(len(book.moments))
    rows = []
    for used, made in enumerate(last.made):
        off = "not known" if None in (last.happened, made.mid) else f"{round(made.mid - last.happened, 1) + 0.0:+.1f} h"
        rows.append(("as laid" if not used else f"{book.moments[used - 1]:.3g} h", hours_words(made, choice), off))
    return Table(("weighed up to", "done after (forecast)", "off from what happened"), tuple(rows))


def change_table(book: Book, choice: Choice) -> Table:
    """What to do otherwise next time, ranked by the hours it would have saved."""
    learned = book.learned(len(book.moments))
    if learned.contradiction:
        return Table(
            ("next time", "done after", "time saved"), (("not known: the log contradicts the plan", "–", "–"),)
        )
    rows = [
        (change.what, hours_words(change.hours, choice), f"{round(100 * change.saved)} %")
        for change in lessons.changes(learned.outcome.batch, learned)
    ]
    return Table(("next time", "done after", "time saved"), tuple(rows))


def next_plan_table(book: Book, choice: Choice, batch: Batch | None = None) -> Table:
    """The plan of the next batch, without and with what this one taught of the dryer."""
    learned = book.learned(len(book.moments))
    rows = []
    for name, profile in (("without", book.profile), ("with what was learned", learned.profile(before=book.profile))):
        hours = next_plan(batch or book.batch, profile)
        wide = "not known" if None in (hours.low, hours.high) else f"× {hours.high / hours.low:.1f}"
        rows.append((name, hours_words(hours, choice), wide))
    return Table(("plan of the next batch", "done after", "high end over low end"), tuple(rows))


def next_plan(batch: Batch, profile: dryer_profile.DryerProfile | None) -> Band:
    """Hours until the thickest piece of a batch yet to come is done, with what a profile knows of the dryer."""
    return band(learning.prior_course(batch, Log(()), MEMBERS, profile, sketch=True).finish[-1])


def hours_by_hand(book: Book, used: int) -> float:
    """The rule of three: planned hours, stretched as the weight seen is late against the plan's middle curve."""
    log = book.upto(used)
    hours, left = points(log, by_piece=False)
    course = book.prior(log)
    planned = np.interp(-left[-1], -np.median(course.load, axis=0), course.times / 3600)
    return float(np.median(course.finish[-1]) * hours[-1] / planned)


def retyped(log: Log, line: int, grams: float) -> Log:
    """A log with another weight in one line of its file."""
    entries = (replace(entry, mass=grams / 1000) if entry.line == line else entry for entry in log.entries)
    return replace(log, entries=tuple(entries))


def only(log: Log, hours: float) -> Log:
    """A log of which only the weights as laid and those of one moment were written down."""
    return replace(log, entries=tuple(entry for entry in log.entries if entry.hours in (0.0, hours)))


def width(hours: Band) -> float:
    """Hours from the low to the high end of a forecast."""
    return np.inf if None in (hours.low, hours.high) else hours.high - hours.low


# The batch card on the screen


@dataclass(frozen=True)
class CardPicture:
    """A batch card as a picture with its words."""

    png: bytes = field(repr=False)
    alt: str

    def __str__(self) -> str:
        return self.alt

    def _repr_html_(self) -> str:
        data = base64.b64encode(self.png).decode()
        return (
            f'<img alt="{html.escape(self.alt)}" style="width:100%;max-width:720px;border:1px solid #999" '
            f'src="data:image/png;base64,{data}">'
        )


def card_picture(outcome: batches.Outcome, start: str | None = None, choice: Choice | None = None) -> CardPicture:
    """The one-page card of a plan, to look at. Start: when the fish meets the salt, such as "2026-12-05 18:00"."""
    system = (choice or Choice()).system
    page = batch_card(outcome, read_start(start), system)
    moments = "; ".join(f"+{moment.at / 3600:.1f} h {moment.what}" for moment in timetable(outcome, system))
    keep = " ".join(words.headline(outcome.verdict, outcome.keep).split())
    return CardPicture(_small(paper.as_png(page, 120)), f"Batch card: {outcome.batch.title}. {keep}. {moments}.")


def _small(png: bytes) -> bytes:
    packed = io.BytesIO()
    Image.open(io.BytesIO(png)).convert("L").quantize(12).save(packed, "png", optimize=True)
    return packed.getvalue()


def save_card(batch: Batch, folder: str | Path = ".", system: str = "both", start: str | None = None) -> str:
    """Plan a batch and write its card as PDF beside the workbook; returns what to tell the learner."""
    try:
        page = batch_card(batches.plan(batch), read_start(start), system)
        path = paper.save_pdf([page], Path(folder) / CARD, f"Batch card: {batch.title}")
    except InputError as mistake:
        return f"Not saved: {mistake}"
    except OSError as trouble:
        return f"Not saved: {why(trouble)}"
    return f"Saved as {path.name} beside this workbook: one page to print."


# What the dryer taught


def keep_dryer(book: Book, folder: str | Path = ".") -> str:
    """Write what this log taught of the dryer; an older file stays as a numbered copy. Returns what to tell."""
    path = Path(folder) / DRYER
    try:
        learned = book.learned(len(book.moments))
    except ValueError as mistake:
        return f"Nothing was kept: {mistake}"
    if learned.contradiction or not book.moments:
        return "Nothing was kept: there is no weighing yet that fits the plan."
    title = book.profile.title if book.profile else "my dryer"
    before = path.exists()
    try:
        dryer_profile.write_profile(learned.profile(title, book.profile), path)
    except OSError as trouble:
        return f"Not saved: {why(trouble)}"
    kept = f" The one before is kept as {kept_copies(path)[0].name}." if before else ""
    return f"Saved in {path.name}: your next plan with this dryer starts from it.{kept}"
