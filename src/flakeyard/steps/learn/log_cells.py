"""Columns, cells and times of a log: what a spreadsheet or a hand may have written, read with care or refused.

Refused is what could be read two ways: a comma for thousands, a date whose day may be its month.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from datetime import datetime, timedelta

from flakeyard.units import InputError

LIGHTEST, HEAVIEST = 0.001, 100.0  # kg on a kitchen scale
POUND, OUNCE = 0.45359237, 0.45359237 / 16  # kg, exact


EXAMPLE = "time,tray,mass_g,note\n2026-11-20 17:00,1,322,as laid"


@dataclass(frozen=True)
class Column:
    """A column of numbers: SI = number × factor + offset, between low and high (SI)."""

    means: str
    factor: float = 1.0
    offset: float = 0.0
    low: float = 0.0
    high: float = 1.0
    words: str = ""


def _degrees(means: str, low: float, high: float) -> tuple[Column, Column]:
    return (
        Column(means, 1.0, 0.0, low, high, f"{low:g} to {high:g} °C"),
        Column(means, 1 / 1.8, -32 / 1.8, low, high, f"{low * 1.8 + 32:g} to {high * 1.8 + 32:g} °F"),
    )


_DIAL, _ROOM, _MASS = _degrees("dial", 5.0, 80.0), _degrees("room", -10.0, 45.0), (LIGHTEST, HEAVIEST)
COLUMNS = {
    "hours": Column("hours", low=-1000.0, high=1000.0, words="hours since the start, 0 to 1000"),
    "mass_g": Column("mass", 0.001, 0.0, *_MASS, "1 to 100 000 g"),
    "mass_kg": Column("mass", 1.0, 0.0, *_MASS, "0.001 to 100 kg"),
    "mass_oz": Column("mass", OUNCE, 0.0, *_MASS, "0.04 to 3527 oz"),
    "mass_lb": Column("mass", POUND, 0.0, *_MASS, "0.0025 to 220 lb"),
    "dial_c": _DIAL[0], "dial_f": _DIAL[1], "room_c": _ROOM[0], "room_f": _ROOM[1],
    "room_humidity_percent": Column("room_humidity", 0.01, 0.0, 0.02, 1.0, "2 to 100 per cent"),
    "strip_salt_percent": Column("strip_salt", 0.01, 0.0, 0.001, 0.26, "0.1 to 26 per cent, salt in the water of the fish"),
    "taste_salt_percent": Column("taste_salt", 0.01, 0.0, 0.001, 0.26, "0.1 to 26 per cent, salt in the water of the fish"),
    "oven_dry_g": Column("oven_dry", 0.001, 0.0, 0.0005, 1.0, "0.5 to 1000 g, less than the mass in the same row"),
    "water_activity": Column("water_activity", low=0.2, high=1.0, words="0.2 to 1"),
    "water_activity_error": Column("water_activity_error", low=0.0, high=0.1, words="0 to 0.1"),
}  # fmt: skip
TEXTS = ("time", "tray", "note", "event")


def column_name(cell: str) -> str:
    """Name of a column, so that "Mass (g)" or "mass g" is mass_g."""
    return re.sub(r"[^a-z0-9]+", "_", cell.strip().lower().replace("°", "").replace("%", "percent")).strip("_")


def check_header(names: list[str], header: list[str], where: str) -> tuple[str, ...]:
    """Refuse a header that cannot be used; other columns than ours are left alone and remarked on."""
    known, remarks = [*TEXTS, *COLUMNS], []
    for name, cell in zip(names, header, strict=True):
        if name and names.count(name) > 1:
            raise InputError(f"{where}, {name}", cell, "this column is there twice", "each column once", EXAMPLE)
        if name in known or not name:
            continue
        if name in ("mass", "weight", "dial", "room", "oven_dry"):
            raise InputError(f"{where}, {name}", cell, "the unit is missing", _with_unit(name), EXAMPLE)
        near = difflib.get_close_matches(name, known, 1, cutoff=0.75)
        if near:
            raise InputError(
                f"{where}, {name}",
                cell,
                f'this column is not known; did you mean "{near[0]}"?',
                ", ".join(known),
                EXAMPLE,
            )
        remarks.append(f'The column "{cell.strip()}" is not one we know and was left out.')
    means: dict[str, str] = {}
    for name in (name for name in names if name in COLUMNS):
        one = means.setdefault(COLUMNS[name].means, name)
        if one != name:
            raise InputError(
                f"{where}, {name}", name, f"{one} says the same in another unit", "one unit a column", EXAMPLE
            )
    if ("time" in names) == ("hours" in names):
        raise InputError(where, ", ".join(header), "one column must say when", "either time or hours", EXAMPLE)
    if not any(name in COLUMNS and COLUMNS[name].means == "mass" for name in names):
        raise InputError(where, ", ".join(header), "no column holds a mass", _with_unit("mass"), EXAMPLE)
    return tuple(remarks)


def _with_unit(name: str) -> str:
    wanted = {"weight": "mass"}.get(name, name)
    return ", ".join(column for column in COLUMNS if column.startswith(f"{wanted}_") and "humidity" not in column)


def read_number(cell: str, name: str, where: str) -> float | None:
    """A number in SI; a decimal comma is as good as a point. An empty cell is None."""
    column = COLUMNS[name]
    text = cell.replace("\u00a0", "").replace("\u2212", "-")
    if not text:
        return None
    place = f"{where}, {name}"
    if column.means == "mass" and name in ("mass_g", "mass_oz") and re.fullmatch(r"\d{1,3},\d{3}", text):
        raise InputError(
            place, cell, "is the comma for thousands or for decimals?", "no commas for thousands", text.replace(",", "")
        )
    if not re.fullmatch(r"[+-]?\d+([.,]\d*)?", text):
        unit = re.fullmatch(r"[\d.,]+ *[a-zA-Z°%]+", text)
        why = "the unit belongs in the name of the column, not here" if unit else "this is not a number"
        raise InputError(place, cell, why, column.words, "249")
    value = float(text.replace(",", ".")) * column.factor + column.offset
    if not column.low - 1e-12 <= value <= column.high + 1e-12:
        why = (
            "this cannot be: leave the cell empty if nothing was weighed"
            if column.means == "mass"
            else "outside what is allowed"
        )
        raise InputError(
            place, cell, why, column.words, "249" if column.means == "mass" else column.words.split(" ")[0]
        )
    return value


_FORMS = ("%d.%m.%Y %H:%M", "%d.%m.%Y %H:%M:%S", "%d.%m.%y %H:%M")
_CLOCKS = ("%H:%M", "%H:%M:%S", "%I:%M %p", "%I:%M%p", "%H.%M")
_SLASHED = {
    "day first": ("%d/%m/%Y %H:%M", "%d/%m/%Y %H:%M:%S", "%d/%m/%Y %I:%M %p", "%d/%m/%Y %I:%M:%S %p"),
    "month first": ("%m/%d/%Y %H:%M", "%m/%d/%Y %H:%M:%S", "%m/%d/%Y %I:%M %p", "%m/%d/%Y %I:%M:%S %p"),
}
_TIME_WORDS = "2026-11-20 17:00, 20.11.2026 17:00, or only 17:00"


def read_times(cells: list[tuple[int, str]], where: str) -> list[datetime]:
    """Moments of all rows; slashed dates are read one way for the whole file, and only if just one way is possible."""
    slashed = [cell for _, cell in cells if "/" in cell]
    ways = [forms for forms in _SLASHED.values() if all(_by_form(cell, forms) for cell in slashed)]
    if len(ways) == 2 and any(_by_form(cell, ways[0]) != _by_form(cell, ways[1]) for cell in slashed):
        raise InputError(
            f"{where}, line {cells[0][0]}, time",
            slashed[0],
            "is the day first or the month?",
            _TIME_WORDS,
            "2026-11-20 17:00",
        )
    forms = (*_FORMS, *(ways[0] if ways else ()))
    stamps: list[datetime] = []
    for line, cell in cells:
        stamp = _stamp(cell, forms, stamps[-1] if stamps else None)
        if stamp is None:
            why = "this is needed" if not cell else "this is not understood as a time"
            raise InputError(f"{where}, line {line}, time", cell or "nothing", why, _TIME_WORDS, "2026-11-20 17:00")
        if stamps and (stamp.tzinfo is None) != (stamps[0].tzinfo is None):
            raise InputError(
                f"{where}, line {line}, time",
                cell,
                "some times name a zone and some do not",
                "all with a zone, or none",
                "2026-11-20 17:00",
            )
        if stamps and stamp < stamps[-1]:
            raise InputError(
                f"{where}, line {line}, time", cell, f"time runs backwards: line {cells[len(stamps) - 1][0]} is later; a new day, or two rows in the wrong order?",
                "the same moment as the row before, or later", "2026-11-21 01:00",
            )  # fmt: skip
        stamps.append(stamp)
    return stamps


def _by_form(cell: str, forms) -> datetime | None:
    for form in forms:
        try:
            return datetime.strptime(cell.upper(), form)
        except ValueError:
            continue
    return None


def _stamp(cell: str, forms, before: datetime | None) -> datetime | None:
    clock = _by_form(cell, _CLOCKS)
    if clock is not None:  # a time of day only: of the day of the row before, or of the next day when far behind it
        day = before or datetime(1900, 1, 1)
        stamp = datetime.combine(day.date(), clock.time(), day.tzinfo)
        return stamp + timedelta(days=1) if before and stamp < before - timedelta(hours=12) else stamp
    if re.match(r"\d{4}-\d{2}-\d{2}.\d", cell):
        try:
            return datetime.fromisoformat(cell)
        except ValueError:
            return None
    return _by_form(cell, forms)
