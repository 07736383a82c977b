"""The log of a real batch: weighings and what else happened, as a CSV file that a person or a spreadsheet keeps.

One row a moment: ``time, tray, mass_g, note``, and, where there is something to say, the columns of COLUMNS and EVENTS.
The unit stands in the name of the column and nowhere else. A tray may have any name; "all" is the whole load on the
scale at once, "thickest" the marked thickest piece weighed by itself. What cannot be a weighing, or could be read two
ways, is refused with line, column and a way out; what was assumed, or looks odd, is told in a remark. A log is never
changed in place, and a new row appears whole or not at all.
"""

from __future__ import annotations

import codecs
import csv
import io
import os
import re
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import cached_property
from pathlib import Path

from flakeyard import reading
from flakeyard.files import turn, write_whole
from flakeyard.messages import say
from flakeyard.spelling import alike
from flakeyard.steps.learn.log_cells import (
    COLUMNS,
    EXAMPLE,
    MASSES,
    check_commas,
    check_header,
    header_names,
    read_number,
)
from flakeyard.steps.learn.log_course import RESTARTS, check_course, odd_course, odd_piece_aside
from flakeyard.steps.learn.log_times import FIRST_DAY, Times, has_date, read_times
from flakeyard.steps.learn.log_trays import ALL, THICKEST, tray_name, without_sums
from flakeyard.units import InputError

__all__ = ["ALL", "EVENTS", "RESTARTS", "THICKEST", "Entry", "Log", "append", "read_log"]

SHORTEST_EVENT = 5  # letters; what is no slip of an event is another one, such as soaked of moved
EVENTS = ("start", "drained", "pause", "pause cold", "go on", "moved", "taken out", "freshened")
MOST_REMARKS = 20
BEFORE_DRYING = ("drained",)


def event_words(event: str) -> str:
    """What an event of a log means, in words."""
    return say(f"log.event.{event.replace(' ', '_')}")


@dataclass(frozen=True)
class Entry:
    """One row: hours since drying began, tray, mass [kg] or None, event or "", note, other readings in SI."""

    line: int
    hours: float
    tray: str
    mass: float | None = None
    event: str = ""
    note: str = ""
    readings: dict[str, float] = field(default_factory=dict)

    @property
    def kg(self) -> float:
        """The mass of a row that has one.

        Returns: float [kg, above 0]
        Raises: ValueError where nothing was weighed
        Source: as told
        """
        if self.mass is None:
            raise ValueError(say("log.not_weighed", line=self.line))
        return self.mass

    @property
    def weighed(self) -> bool:
        """Whether this is a weighing of fish that dries."""
        return self.mass is not None and "oven_dry" not in self.readings and self.event not in BEFORE_DRYING


@dataclass(frozen=True)
class Log:
    """A log that was read.

    Its entries in rising order; the moment drying began (a timedelta since midnight of the first row's day where no row
    has a date, None where hours were typed); remarks on what was assumed and what looks odd; the column of the masses.
    """

    entries: tuple[Entry, ...]
    began: datetime | timedelta | None = None
    remarks: tuple[str, ...] = ()
    column: str = "mass_g"

    @property
    def dated(self) -> bool:
        """Whether the day on which drying began is known."""
        return isinstance(self.began, datetime)

    @cached_property
    def weighings(self) -> tuple[Entry, ...]:
        return tuple(entry for entry in self.entries if entry.weighed)

    @cached_property
    def trays(self) -> tuple[str, ...]:
        """Names on the scale, in the order they first appear."""
        return tuple(dict.fromkeys(entry.tray for entry in self.weighings))

    @property
    def last(self) -> float:
        """Hours since drying began of the last row.

        Returns: float [h, 0 up]
        Source: the log given
        """
        return self.entries[-1].hours if self.entries else 0.0

    @cached_property
    def moments(self) -> tuple[float, ...]:
        """Hours at which something was weighed, rising, without the weighing as laid.

        Returns: [h, above 0]
        Source: the log given
        """
        return tuple(sorted({entry.hours for entry in self.weighings if entry.hours > 0.0}))

    def until(self, hours: float) -> Log:
        """The log as it stood at a time."""
        return replace(self, entries=tuple(entry for entry in self.entries if entry.hours <= hours + 1e-9))

    def events(self, *kinds: str) -> tuple[Entry, ...]:
        return tuple(entry for entry in self.entries if entry.event in kinds)

    def clock(self, hours: float) -> str:
        """A moment as the learner reads it: date and time, time and day of the log, or hours from the start."""
        stamp = self.stamp(hours)
        if self.began is None:
            return say("log.hours_from_start", hours=hours)
        if not stamp.startswith("day "):
            return stamp
        _, day, clock = stamp.split()
        return say("log.day_clock", day=day, clock=clock)

    def stamp(self, hours: float) -> str:
        """The same as a log has it, in any language."""
        if self.began is None:
            return f"{hours:.1f} h"
        moment = self.began + timedelta(hours=hours)
        if isinstance(moment, datetime):
            return moment.strftime("%Y-%m-%d %H:%M")
        minutes = int(moment / timedelta(minutes=1))
        clock = f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"
        return clock if moment.days < 1 else f"day {moment.days + 1} {clock}"


def read_log(source: str | os.PathLike) -> Log:
    """Read a log from a file, or from text (anything with a line break in it).

    Raises: InputError naming line and column, what was given, what is allowed, an example
    """
    if isinstance(source, str) and ("\n" in source or "\r" in source):
        return _parse(source, "log")
    path = Path(source)
    return _parse(_decode(reading.read_bytes(path, "log"), path.name), say("file.named", name=path.name))


def append(path: str | os.PathLike, **row) -> Log:
    """Add one row to a log file, or begin the file; returns the log as it then stands.

    Parameters: row – by column name as typed, such as ``time="2026-11-20 19:00", tray="1", mass_g=249, note=""``
    The file appears anew whole or stays as it was: a crash, a full disk or a refused row loses nothing, nor do two
    programs that append at once. A new column is not added to a file that lacks it.
    Raises: InputError when the log with that row could not be read, or the file has no such column; OSError
    """
    path = Path(path)
    with turn(path):
        content, log = _with_row(path, row)
        write_whole(path, content)
    return log


def _with_row(path: Path, row: dict) -> tuple[bytes, Log]:
    """A log file as it will be with one more row, and the log read from that."""
    old = reading.read_bytes(path, "log") if path.exists() else b""
    text = _decode(old, path.name) if old else ",".join(dict.fromkeys(("time", "tray", "mass_g", "note", *row))) + "\n"
    delimiter = _delimiter(text)
    names = header_names(next(csv.reader([_head(text)], delimiter=delimiter)))
    for name in row:
        if name not in names:
            raise InputError(
                f"{say('file.named', name=path.name)}, {name}",
                row[name],
                say("log.no_column"),
                ", ".join(names),
                EXAMPLE,
            )
    ending = "\r\n" if "\r\n" in text else "\n"
    told = io.StringIO()
    cells = [_cell(row.get(name), delimiter) for name in names]
    csv.writer(told, delimiter=delimiter, lineterminator=ending).writerow(cells)
    text = text + ("" if text.endswith(("\n", "\r")) else ending) + told.getvalue()
    log = _parse(text, say("file.named", name=path.name))
    try:
        return text.encode(_encoding(old)), log
    except UnicodeEncodeError as mistake:
        raise InputError(
            say("file.named", name=path.name),
            mistake.object,
            say("log.letters"),
            say("log.plain_letters"),
            EXAMPLE,
        ) from None


def _cell(value, delimiter: str) -> str:
    """A value as the file writes it: columns parted by semicolons go with decimal commas."""
    if value is None:
        return ""
    return str(value).replace(".", ",") if delimiter == ";" and isinstance(value, float) else str(value)


def _encoding(content: bytes) -> str:
    """UTF-8 or UTF-16, with or without its mark, else the old western one of spreadsheets (notes only)."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    for name, high_bytes in (("utf-16-le", content[1:40:2]), ("utf-16-be", content[0:40:2])):
        if high_bytes and not any(high_bytes):
            return name
    try:
        content.decode("utf-8")
        return "utf-8-sig" if content.startswith(codecs.BOM_UTF8) else "utf-8"
    except UnicodeDecodeError:
        return "cp1252"


def _decode(content: bytes, name: str) -> str:
    try:
        text = content.decode(_encoding(content))
    except UnicodeDecodeError:
        text = "\0"
    if "\0" in text:
        raise InputError(say("file.named", name=name), say("log.no_text"), say("log.no_csv"), say("log.text"), EXAMPLE)
    return text.lstrip("\ufeff")


_SEP = re.compile(r'\ufeff?"?sep=([,;\t|])"?[,;\t|]*[ ]*(?=[\r\n])', re.IGNORECASE)  # a first line for spreadsheets


def _head(text: str) -> str:
    """The first line that is neither empty nor a remark."""
    text = _SEP.sub("", text, count=1) if _SEP.match(text) else text
    return next((line for line in text.lstrip("\ufeff").splitlines() if line.strip() and not line.startswith("#")), "")


def _delimiter(text: str) -> str:
    told = _SEP.match(text)
    return told[1] if told else max(",;\t", key=_head(text).count)


def _parse(text: str, where: str) -> Log:
    reading.check_lines(text, where)
    delimiter = _delimiter(text)
    rows = _rows(text, delimiter, where)
    if not rows:
        raise InputError(where, say("error.nothing"), say("log.empty"), say("log.lines"), EXAMPLE)
    (line, header), body = rows[0], rows[1:]
    names = header_names(header)
    remarks = list(check_header(names, header, say("file.line", where=where, line=line)))
    tables, again = [], []
    for line, cells in body:
        if header_names(cells) == names:
            again.append(say("log.names_again", line=line))
            continue
        tables.append((line, _cells(cells, names, delimiter, say("file.line", where=where, line=line))))
    tables, sums = without_sums(tables, where)
    cut = _cut_off(text, names, body)
    log = _assemble(tables, where, next(name for name in names if name in MASSES))
    return replace(log, remarks=_few([*log.remarks, *cut, *remarks, *again, *sums]))


def _few(remarks: list[str]) -> tuple[str, ...]:
    """Not more remarks than a person reads; those on weights and times come first."""
    more = len(remarks) - MOST_REMARKS
    return (*remarks[:MOST_REMARKS], *([say("log.more_remarks", more=more)] if more > 0 else []))


_INVISIBLE = dict.fromkeys(
    [0xAD, *range(0x200B, 0x2010), *range(0x202A, 0x202F), *range(0x2060, 0x2065), 0xFEFF]
)  # signs without width


def _rows(text: str, delimiter: str, where: str) -> list[tuple[int, list[str]]]:
    """Rows that say something, with their line numbers."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            cells = [cell.translate(_INVISIBLE).strip() for cell in cells]
            _check_quotes(cells, delimiter, say("file.line", where=where, line=reader.line_num))
            rows.append((reader.line_num, cells))
    except csv.Error as mistake:
        raise InputError(
            say("file.line", where=where, line=reader.line_num), text.splitlines()[min(reader.line_num, len(text.splitlines())) - 1],
            say("log.quotes", mistake=mistake), say("log.quotes_allowed"), EXAMPLE,
        ) from None  # fmt: skip
    skipped = 1 if _SEP.match(text) else 0
    return [(line, cells) for line, cells in rows[skipped:] if any(cells) and not _remark(cells[0])]


def _remark(cell: str) -> bool:
    """Whether a row is a remark; "#1" in the first column is a tray."""
    return cell.startswith("#") and not re.fullmatch(r"# ?\d+", cell)


def _check_quotes(cells: list[str], delimiter: str, place: str) -> None:
    """Refuse a quote that was left open and took the rows after it into its cell."""
    for cell in cells:
        if any(line.count(delimiter) >= 2 for line in cell.splitlines()[1:]):
            raise InputError(
                place, cell, say("log.quote_open"),
                say("log.quotes_allowed"), EXAMPLE,
            )  # fmt: skip


def _cells(cells: list[str], names: list[str], delimiter: str, place: str) -> dict[str, str]:
    """The cells of a row by name; a date in a column of its own joins its time."""
    if any(cells[len(names) :]):
        raise InputError(
            place, delimiter.join(cells), say("log.values", cells=len(cells), names=len(names)),
            say("log.values_allowed"), "2026-11-20 17:00;1;249,5;",
        )  # fmt: skip
    if delimiter == ",":
        check_commas(cells, names, place)
    row = dict(zip(names, [*cells, *[""] * len(names)]))
    if row.get("date") and "time" in row and not (row["time"] and has_date(row["time"])):
        row["time"] = f"{row['date']} {row['time']}".strip()
    return row


def _cut_off(text: str, names: list[str], body: list[tuple[int, list[str]]]) -> list[str]:
    """What to say of a last row that has neither an end nor all its cells, where others have them."""
    if text.endswith(("\n", "\r")) or len(body) < 2:
        return []
    line, cells = body[-1]
    if len(cells) >= len(names) or all(len(other) < len(names) for _, other in body[:-1]):
        return []
    return [say("log.cut_off", line=line)]


def _assemble(tables: list[tuple[int, dict]], where: str, column: str) -> Log:
    if not tables:
        raise InputError(where, say("log.only_names"), say("log.no_weighing"), say("log.line_a_weighing"), EXAMPLE)
    numbers = [
        {
            name: read_number(row[name], name, say("file.line", where=where, line=line))
            for name in row
            if name in COLUMNS
        }
        for line, row in tables
    ]
    hours, began, times = _hours(tables, numbers, where)
    entries, again = _once(
        _entry(line, row, read, hour, say("file.line", where=where, line=line))
        for (line, row), read, hour in zip(tables, numbers, hours, strict=True)
    )
    entries, odd = odd_piece_aside(list(entries))
    check_course(entries, where, column, began, times.assumed, times.night)
    return Log(tuple(entries), began, (*times.remarks, *odd, *odd_course(entries, column), *again), column)


def _hours(tables: list[tuple[int, dict]], numbers: list[dict], where: str):
    """Hours since drying began of each row, when that was, and what is to be said of the times."""
    if "time" not in tables[0][1]:
        return [row.get("hours") for row in numbers], None, Times((), True, frozenset(), None, ())
    times = read_times([(line, row["time"]) for line, row in tables], where)
    start = times.stamps[_begin([row for _, row in tables], numbers)]
    hours = [(stamp - start).total_seconds() / 3600 for stamp in times.stamps]
    return hours, start.replace(tzinfo=None) - FIRST_DAY if times.undated else start, times


def _once(rows) -> tuple[list[Entry], list[str]]:
    """Entries without those that repeat another of the same moment word by word, and what to say of these."""
    entries: list[Entry] = []
    remarks: list[str] = []
    seen: dict[str, int] = {}
    for entry in rows:
        said = repr(replace(entry, line=0))
        if said in seen:
            remarks.append(say("log.repeats", line=entry.line, before=seen[said]))
        else:
            seen[said] = entry.line
            entries.append(entry)
    return entries, remarks


def _begin(rows: list[dict], numbers: list[dict]) -> int:
    """The row at which drying began: the one that says so, else the first weighing that is not from before drying."""
    events = [row.get("event", "").lower() for row in rows]
    if "start" in events:
        return events.index("start")
    weighed = [any(read.get(name) for name in MASSES) for read in numbers]
    drying = (row for row, event in enumerate(events) if weighed[row] and event not in BEFORE_DRYING)
    return next(drying, 0)


def _entry(line: int, row: dict, read: dict, hours: float | None, where: str) -> Entry:
    if hours is None:
        raise InputError(f"{where}, hours", say("error.nothing"), say("field.needed"), COLUMNS["hours"].words, "2.5")
    event = row.get("event", "").lower()
    if event and event not in EVENTS:
        near = alike(event, EVENTS, SHORTEST_EVENT)
        why = say("log.event_near", near=near[0]) if near else say("log.event_unknown")
        raise InputError(f"{where}, event", row["event"], why, ", ".join(EVENTS), "pause")
    known = {COLUMNS[name].means: value for name, value in read.items() if value is not None and name != "hours"}
    mass = known.pop("mass", None)
    tray = tray_name(row.get("tray", ""), f"{where}, tray")
    if mass is not None and not tray:
        raise InputError(f"{where}, tray", say("error.nothing"), say("log.which_tray"), say("log.name_or_all"), "1")
    if event in RESTARTS and mass is None:
        raise InputError(
            f"{where}, mass", say("error.nothing"), say("log.after_event", event=event), say("log.mass_now"), "249"
        )
    if "oven_dry" in known and (mass is None or known["oven_dry"] >= mass):
        raise InputError(
            f"{where}, oven_dry_g",
            row["oven_dry_g"],
            say("log.less_than_mass"),
            COLUMNS["oven_dry_g"].words,
            "mass_g 24, oven_dry_g 18",
        )
    return Entry(line, hours, tray or ALL, mass, event, row.get("note", ""), known)
