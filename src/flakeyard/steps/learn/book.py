"""A batch with its log file: what was forecast after each weighing, what happened in the end, what if it had gone otherwise.

What is added goes into the file before anything is computed from it; each forecast is worked out once. A `Trial` does
the same on a scratch copy, so that a log can be played with.
"""

from __future__ import annotations

import csv
import io
import tempfile
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np

from flakeyard.files import kept_copies, write_whole
from flakeyard.messages import say
from flakeyard.remembered import Remembered
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import UNKNOWN, Band, band
from flakeyard.steps.learn import dryer_profile, learning, logbook
from flakeyard.steps.learn.dryer_profile import DryerProfile
from flakeyard.steps.learn.learning import Learned
from flakeyard.steps.learn.logbook import RESTARTS, THICKEST, Entry, Log
from flakeyard.steps.learn.members import Course, at_times, schedule
from flakeyard.steps.plan.plan import plan
from flakeyard.units import InputError

MEMBERS = 200  # of the ensemble: with fewer, more rounds are needed and no time is saved
COLUMNS = ("time", "tray", "mass_g", "event", "note")


class Book:
    """A batch, its log file, and the forecasts made from it, each worked out once."""

    def __init__(self, batch: Batch, path: str | Path, profile: DryerProfile | None = None):
        self.batch, self.path, self.profile = batch, Path(path), profile
        self._priors, self._made = Remembered(), Remembered()
        self.read()

    def read(self) -> None:
        """Take the log from its file anew; a book without a file has an empty log."""
        self.log, self.trouble = Log(()), ""
        if self.path.exists():
            try:
                self.log = logbook.read_log(self.path)
            except InputError as mistake:  # the file stays as it is, and nothing is added to it until it is mended
                self.trouble = say("log.cannot_be_read", file=self.path.name, mistake=mistake)

    @property
    def moments(self) -> tuple[float, ...]:
        """Hours at which something was weighed after drying began.

        Returns: [h, above 0]
        Source: the log given
        """
        return self.log.moments

    def upto(self, used: int) -> Log:
        """The log as it stood when so many weighings had been made; with the last, all that is in it."""
        if used >= len(self.moments):
            return self.log
        return self.log.until(self.moments[used - 1] if used else 0.0)

    def prior(self, log: Log) -> Course:
        """The plan through what happened to the dryer, before any weighing."""
        happened = repr([entry for entry in log.entries if entry.event or entry.readings])
        return self._priors(happened, lambda: self._prior(log))

    def _prior(self, log: Log) -> Course:
        """A sketch to learn on; what it says of drying is that of the whole plan, as every other page says it."""
        sketch = learning.prior_course(self.batch, log, MEMBERS, self.profile, sketch=True)
        whole = plan(sketch.outcome.batch, draws=sketch.members)
        return replace(sketch, outcome=replace(sketch.outcome, drying=whole.drying))

    def learned(self, used: int) -> Learned:
        """The forecast made after so many weighings."""
        return self.what_if(self.upto(used))

    def what_if(self, log: Log) -> Learned:
        """The forecast from any log of this batch, such as one with another weight in it."""
        return self._made(repr(log.entries), lambda: self._learn(log))

    def _learn(self, log: Log) -> Learned:
        prior = self.prior(log)
        return learning.learn(self.batch, log, MEMBERS, self.profile, prior=prior, sketch=True)

    def keep(self, used: int, **row) -> None:
        """Add a row at the end of the log file, whatever the slider says: it is refused, or it is in the file."""
        begun = {} if self.path.exists() else {"event": ""}  # a new file has a column for what happens later
        self.log = logbook.append(self.path, **begun | row)

    def at(self, used: float) -> Step:
        """What there is to see after so many weighings."""
        used = min(round(used), len(self.moments))
        made = [self.learned(number).hours_to_target for number in range(used + 1)]
        return Step(self, used, self.learned(used), made)

    @property
    def planned(self) -> Band:
        """Hours as planned, before any weighing; not known where the plan cannot be made.

        Returns: Band [h, 0 up, or not known]
        Source: steps.learn.learning.prior_course
        """
        try:
            return self.learned(0).plan.drying["hours_to_target"]
        except ValueError:
            return UNKNOWN


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
    told = io.StringIO()
    rows = csv.writer(told, lineterminator="\n")
    rows.writerow(COLUMNS)
    for entry in entries:
        grams = "" if entry.mass is None else f"{1000 * entry.mass:g}"
        rows.writerow((log.clock(entry.hours), entry.tray, grams, entry.event, entry.note))
    write_whole(path, told.getvalue())


def profile_before(book: Book, path: str | Path) -> DryerProfile | None:
    """The newest profile that was not learned from this very batch: the file itself, else one of its numbered copies.

    Raises: InputError when one that is looked at cannot be read
    """
    name = learning.batch_name(book.batch, book.log)
    for file in (Path(path), *kept_copies(path)):
        if file.exists():
            profile = dryer_profile.read_profile(file)
            if name not in profile.batches:
                return profile
    return None


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
        """Weight left at hours on the clock (10th, 50th, 90th percentile), of the marked piece or of the whole load.

        Returns: (3, hours) [share, 0–1]
        Source: models.slab_drying.dry; the log given
        """
        drying = schedule(log, self.book.batch.dryer.temperature).drying(hours)
        curves = course.pieces[-1] if self.by_piece else course.load
        return np.quantile(at_times(course.times, curves, 3600 * drying), [0.1, 0.5, 0.9], axis=0)

    @cached_property
    def stop(self) -> float:
        """Weight at which to stop over weight as laid, of what the curve shows; not a number where it is not known.

        Returns: float [share, 0–1, or not a number]
        Source: steps.chain.stopping.stopping_ratio
        """
        return stop_ratio(self.learned, self.by_piece)

    @cached_property
    def happened(self) -> float | None:
        """Hour at which the scale itself showed the weight to stop at, going straight from weighing to weighing.

        Returns: float or None [h, above 0]
        Source: the log given
        """
        book = self.book
        hours, left = points(book.log, self.by_piece)
        stop = stop_ratio(book.learned(len(book.moments)), self.by_piece)
        if not len(left) or not left[-1] <= stop:
            return None
        after = int(np.argmax(left <= stop))
        return float(np.interp(-stop, -left[after - 1 : after + 1], hours[after - 1 : after + 1]))

    @property
    def misses(self) -> list[float | None]:
        """Hours by which each forecast was late (negative: early) against what happened; None where either is not known.

        Returns: [h, any, or None]
        Source: the log given; steps.learn.learning.learn
        """
        happened = self.happened
        return [None if happened is None or made.mid is None else made.mid - happened for made in self.made]


def stop_ratio(learned: Learned, by_piece: bool) -> float:
    """Weight at which to stop over weight as laid, of the thickest piece or of the whole load at that moment.

    Returns: float [share, 0–1, or not a number]
    Source: steps.chain.stopping.stopping_ratio
    """
    if learned.contradiction or not learned.hours_to_target.known:
        return np.nan
    course = learned.course
    if course is None:
        return np.nan
    if by_piece:
        return float(np.median(course.outcome.load.mass_ratio))
    done = 3600 * np.minimum(course.finish[-1], course.times[-1] / 3600)
    left = [np.interp(moment, course.times, curve) for moment, curve in zip(done, course.load, strict=True)]
    return float(np.median(left))


def points(log: Log, by_piece: bool) -> tuple[np.ndarray, np.ndarray]:
    """Hours, and weight left over weight as laid, of the marked piece or of all trays weighed at that hour together.

    A tray that pieces were taken from, or that was soaked again, drops out: its weight as laid is no longer known.

    Returns: hours (moments,) [h, 0 up]; weight left (moments,) [share, 0 up]
    Source: the log given
    """
    laid: dict[str, float] = {}
    sums: dict[float, list[tuple[float, float]]] = {}
    for entry in log.weighings:
        if entry.event in RESTARTS:
            laid.pop(entry.tray, None)
        elif entry.hours == 0.0 and (entry.tray == THICKEST) == by_piece:
            laid[entry.tray] = entry.kg
        if entry.tray in laid:
            sums.setdefault(entry.hours, []).append((entry.kg, laid[entry.tray]))
    hours = np.array(sorted(sums))
    return hours, np.array([np.divide(*np.sum(sums[hour], axis=0)) for hour in hours])


def trays_as_laid(log: Log) -> float:
    """What all trays weighed together as laid.

    Returns: float [kg, 0 up]
    Source: the log given
    """
    return sum(entry.kg for entry in log.weighings if entry.hours == 0.0 and entry.tray != THICKEST)


def next_plan(batch: Batch, profile: DryerProfile | None) -> Band:
    """Hours until the thickest piece of a batch yet to come is done, with what a profile knows of the dryer.

    Returns: Band [h, 0 up, or not known]
    Source: steps.learn.learning.prior_course
    """
    return band(learning.prior_course(batch, Log(()), MEMBERS, profile).finish[-1])


def hours_by_hand(book: Book, used: int) -> float:
    """The rule of three: planned hours, stretched as the weight seen is late against the plan's middle curve.

    Returns: float [h, above 0]
    Source: the log given; steps.learn.learning.prior_course
    """
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
    """Hours from the low to the high end of a forecast.

    Returns: float [h, 0 up, or infinite]
    Source: the band given
    """
    return hours.width
