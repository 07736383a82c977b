"""The log of a real batch: weighings and what else happened, as a CSV file that a person or a spreadsheet keeps.

One row a moment: ``time, tray, mass_g, note``, and, where there is something to say, the columns of COLUMNS and EVENTS.
The unit stands in the name of the column and nowhere else. A tray may have any name; "all" is the whole load on the
scale at once, "thickest" the marked thickest piece weighed by itself. What cannot be a weighing is refused with line,
column and a way out; a log is never changed in place, and a new row appears whole or not at all.
"""

from __future__ import annotations

import codecs
import csv
import difflib
import io
import os
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import cached_property
from pathlib import Path

from flakeyard.files import turn, write_whole
from flakeyard.steps.learn.log_cells import COLUMNS, EXAMPLE, check_header, column_name, read_number, read_times
from flakeyard.units import InputError

LARGEST_FILE = 1_000_000  # bytes; a log is a few pages
GAIN, GAIN_GRAMS = 0.02, 0.002  # kg/kg and kg: fish that dries does not gain more from one weighing to the next
LEAST_LEFT = 0.12  # kg/kg: less than the dry matter of any fish, so a digit is missing (judgement)
ALL, THICKEST = "all", "thickest"
EVENTS = {
    "start": "drying begins",
    "drained": "drained weight before drying",
    "pause": "out of the warm air or the heater off, in the room",
    "pause cold": "likewise, in the refrigerator",
    "go on": "back in the warm air",
    "moved": "the tray changed its place; tray all: the trays were rotated",
    "taken out": "pieces were taken off; the mass is what is left on the tray",
    "freshened": "soaked in water again; the mass is after draining",
}
RESTARTS = ("taken out", "freshened")
BEFORE_DRYING = ("drained",)


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
    def weighed(self) -> bool:
        """Whether this is a weighing of fish that dries."""
        return self.mass is not None and "oven_dry" not in self.readings and self.event not in BEFORE_DRYING


@dataclass(frozen=True)
class Log:
    """A log that was read: entries in rising order, the moment drying began (None: hours were typed), remarks."""

    entries: tuple[Entry, ...]
    began: datetime | None = None
    remarks: tuple[str, ...] = ()

    @cached_property
    def weighings(self) -> tuple[Entry, ...]:
        return tuple(entry for entry in self.entries if entry.weighed)

    @cached_property
    def trays(self) -> tuple[str, ...]:
        """Names on the scale, in the order they first appear."""
        return tuple(dict.fromkeys(entry.tray for entry in self.weighings))

    @property
    def last(self) -> float:
        """Hours since drying began of the last row."""
        return self.entries[-1].hours if self.entries else 0.0

    @cached_property
    def moments(self) -> tuple[float, ...]:
        """Hours at which something was weighed, rising, without the weighing as laid."""
        return tuple(sorted({entry.hours for entry in self.weighings if entry.hours > 0.0}))

    def until(self, hours: float) -> Log:
        """The log as it stood at a time."""
        return replace(self, entries=tuple(entry for entry in self.entries if entry.hours <= hours + 1e-9))

    def events(self, *kinds: str) -> tuple[Entry, ...]:
        return tuple(entry for entry in self.entries if entry.event in kinds)

    def clock(self, hours: float) -> str:
        """A moment as the learner reads it: date and time, or hours from the start."""
        if self.began is None:
            return f"{hours:.1f} h"
        return (self.began + timedelta(hours=hours)).strftime("%Y-%m-%d %H:%M")


def read_log(source: str | os.PathLike) -> Log:
    """Read a log from a file, or from text (anything with a line break in it).

    Raises: InputError naming line and column, what was given, what is allowed, an example
    """
    if isinstance(source, str) and ("\n" in source or "\r" in source):
        return _parse(source, "log")
    path = Path(source)
    return _parse(_decode(_bytes(path), path.name), f"file {path.name}")


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
    old = _bytes(path) if path.exists() else b""
    text = _decode(old, path.name) if old else ",".join(dict.fromkeys(("time", "tray", "mass_g", "note", *row))) + "\n"
    delimiter = _delimiter(text)
    names = [column_name(cell) for cell in next(csv.reader([_head(text)], delimiter=delimiter))]
    for name in row:
        if name not in names:
            raise InputError(
                f"file {path.name}, {name}", row[name], "the file has no such column", ", ".join(names), EXAMPLE
            )
    ending = "\r\n" if "\r\n" in text else "\n"
    told = io.StringIO()
    cells = [_cell(row.get(name), delimiter) for name in names]
    csv.writer(told, delimiter=delimiter, lineterminator=ending).writerow(cells)
    text = text + ("" if text.endswith(("\n", "\r")) else ending) + told.getvalue()
    log = _parse(text, f"file {path.name}")
    try:
        return text.encode(_encoding(old)), log
    except UnicodeEncodeError as mistake:
        raise InputError(
            f"file {path.name}",
            mistake.object,
            "the file cannot hold these letters; save it as UTF-8",
            "plain letters",
            EXAMPLE,
        ) from None


def _cell(value, delimiter: str) -> str:
    """A value as the file writes it: columns parted by semicolons go with decimal commas."""
    if value is None:
        return ""
    return str(value).replace(".", ",") if delimiter == ";" and isinstance(value, float) else str(value)


def _bytes(path: Path) -> bytes:
    where, allowed = f"file {path.name}", "a CSV file of a page or two"
    if path.is_dir() or not path.exists():
        why = "this is a folder, not a file" if path.is_dir() else "there is no such file"
        raise InputError(where, str(path), why, allowed, "heron-weighings.csv")
    if path.stat().st_size > LARGEST_FILE:
        raise InputError(where, f"{path.stat().st_size / 1e6:.0f} MB", "far too large for a log", allowed, EXAMPLE)
    return path.read_bytes()


def _encoding(content: bytes) -> str:
    """UTF-8 with or without its mark, UTF-16 with its mark, else the old western one of spreadsheets (notes only)."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
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
        raise InputError(
            f"file {name}", "bytes that are not text", "this is not a CSV file: save the sheet as CSV", "text", EXAMPLE
        )
    return text.lstrip("\ufeff")


def _head(text: str) -> str:
    """The first line that is neither empty nor a remark."""
    return next((line for line in text.lstrip("\ufeff").splitlines() if line.strip() and not line.startswith("#")), "")


def _delimiter(text: str) -> str:
    head = _head(text)
    return max(",;\t", key=head.count)


def _parse(text: str, where: str) -> Log:
    delimiter = _delimiter(text)
    rows = _rows(text, delimiter, where)
    if not rows:
        raise InputError(
            where, "nothing", "the log is empty", "a line of column names, then a line a weighing", EXAMPLE
        )
    (_, header), body = rows[0], rows[1:]
    names = [column_name(cell) for cell in header]
    remarks = check_header(names, header, f"{where}, line {rows[0][0]}")
    tables = []
    for line, cells in body:
        if len(cells) > len(names) and any(cell.strip() for cell in cells[len(names) :]):
            raise InputError(
                f"{where}, line {line}", delimiter.join(cells), f"{len(cells)} values for {len(names)} columns; a decimal comma in a file parted by commas?",
                "decimal points, or columns parted by semicolons", "2026-11-20 17:00;1;249,5;",
            )  # fmt: skip
        tables.append((line, dict(zip(names, (cell.strip() for cell in cells)))))
    return _assemble(tables, where, remarks)


def _rows(text: str, delimiter: str, where: str) -> list[tuple[int, list[str]]]:
    """Rows that say something, with their line numbers."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        rows = [(reader.line_num, cells) for cells in reader]
    except csv.Error as mistake:
        raise InputError(
            f"{where}, line {reader.line_num}", text.splitlines()[min(reader.line_num, len(text.splitlines())) - 1],
            f"the quotes do not match ({mistake})", "a quote at either end of a text, or none", EXAMPLE,
        ) from None  # fmt: skip
    return [(line, cells) for line, cells in rows if any(map(str.strip, cells)) and not cells[0].startswith("#")]


def _assemble(tables: list[tuple[int, dict]], where: str, remarks: tuple[str, ...]) -> Log:
    if not tables:
        raise InputError(where, "only column names", "no weighing yet", "a line a weighing", EXAMPLE)
    numbers = [
        {name: read_number(row[name], name, f"{where}, line {line}") for name in row if name in COLUMNS}
        for line, row in tables
    ]
    if "time" in tables[0][1]:
        stamps = read_times([(line, row.get("time", "")) for line, row in tables], where)
        begin = _begin([row for _, row in tables], numbers)
        hours = [(stamp - stamps[begin]).total_seconds() / 3600 for stamp in stamps]
        began = stamps[begin]
    else:
        hours, began = [row.get("hours") for row in numbers], None
    entries = []
    for (line, row), read, hour in zip(tables, numbers, hours, strict=True):
        entries.append(_entry(line, row, read, hour, f"{where}, line {line}"))
    _check_course(entries, where, began)
    return Log(tuple(entries), began, remarks)


def _begin(rows: list[dict], numbers: list[dict]) -> int:
    """The row at which drying began: the one that says so, else the first weighing that is not from before drying."""
    events = [row.get("event", "").lower() for row in rows]
    if "start" in events:
        return events.index("start")
    weighed = [any(COLUMNS[name].means == "mass" and value for name, value in read.items()) for read in numbers]
    drying = (row for row, event in enumerate(events) if weighed[row] and event not in BEFORE_DRYING)
    return next(drying, 0)


def _entry(line: int, row: dict, read: dict, hours: float | None, where: str) -> Entry:
    if hours is None:
        raise InputError(f"{where}, hours", "nothing", "this is needed", COLUMNS["hours"].words, "2.5")
    event = row.get("event", "").lower()
    if event and event not in EVENTS:
        near = difflib.get_close_matches(event, EVENTS, 1, cutoff=0.5)
        hint = f'; did you mean "{near[0]}"?' if near else "; write it in the note"
        raise InputError(f"{where}, event", row["event"], f"this event is not known{hint}", ", ".join(EVENTS), "pause")
    known = {COLUMNS[name].means: value for name, value in read.items() if value is not None and name != "hours"}
    mass = known.pop("mass", None)
    tray = row.get("tray", "").lower()
    if mass is not None and not tray:
        raise InputError(f"{where}, tray", "nothing", "which tray was weighed?", "a name or number; all; thickest", "1")
    if event in RESTARTS and mass is None:
        raise InputError(
            f"{where}, mass", "nothing", f'after "{event}" the tray must be weighed', "its mass now", "249"
        )
    if "oven_dry" in known and (mass is None or known["oven_dry"] >= mass):
        raise InputError(
            f"{where}, oven_dry_g",
            row["oven_dry_g"],
            "it must be less than the mass of the same piece",
            COLUMNS["oven_dry_g"].words,
            "mass_g 24, oven_dry_g 18",
        )
    return Entry(line, hours, tray or ALL, mass, event, row.get("note", ""), known)


def _check_course(entries: list[Entry], where: str, began: datetime | None) -> None:
    """What is possible row by row but not one after the other."""
    last: dict[str, Entry] = {}
    first: dict[str, float] = {}
    paused, before = False, -float("inf")
    for entry in entries:
        place = f"{where}, line {entry.line}"
        if began is None and entry.hours < before:
            raise InputError(
                f"{place}, hours", entry.hours, "time runs backwards", f"{before:g} or more", f"{before:g}"
            )
        before = entry.hours
        if entry.event in ("pause", "pause cold", "go on"):
            if paused == (entry.event != "go on"):
                raise InputError(
                    f"{place}, event",
                    entry.event,
                    "the pause before has not ended" if paused else "there was no pause before",
                    "pause, later go on",
                    "go on",
                )
            paused = not paused
        if not entry.weighed:
            continue
        previous = last.get(entry.tray)
        if previous is not None and entry.event not in RESTARTS:
            _check_pair(previous, entry, first[entry.tray], place)
        last[entry.tray] = entry
        first[entry.tray] = entry.mass if previous is None or entry.event in RESTARTS else first[entry.tray]


def _check_pair(previous: Entry, entry: Entry, first: float, place: str) -> None:
    """Refuse a second weight of the same moment, a gain while drying, and a loss beyond all water."""
    grams, before = f"{1000 * entry.mass:.6g} g", f"{1000 * previous.mass:.6g} g in line {previous.line}"
    if entry.hours == previous.hours and entry.mass != previous.mass:
        raise InputError(
            f"{place}, mass",
            grams,
            f"tray {entry.tray} has two weights at one moment ({before})",
            "one of them",
            "leave the wrong row out",
        )
    if entry.mass > previous.mass * (1 + GAIN) and entry.mass > previous.mass + GAIN_GRAMS:
        raise InputError(
            f"{place}, mass", grams, f"tray {entry.tray} gained more than 2 % while drying, from {before}: weigh again; is that line wrong, was another tray on the scale, were pieces added?",
            f"at most {1000 * previous.mass * (1 + GAIN):.0f} g", 'leave the mass empty and say so in the note, or event "freshened"',
        )  # fmt: skip
    if entry.mass < LEAST_LEFT * first:
        raise InputError(
            f"{place}, mass", grams, f"tray {entry.tray} would have lost more than all its water: is a digit missing, or were pieces taken out?",
            f"at least {1000 * LEAST_LEFT * first:.0f} g", 'the right weight, or event "taken out"',
        )  # fmt: skip
