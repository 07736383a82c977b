"""Columns and numbers of a log: what a spreadsheet or a hand may have written, read with care or refused.

Refused is what could be read two ways: a comma or point for thousands, a decimal comma that parts a cell in two.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass

from flakeyard.messages import joined, say
from flakeyard.units import OUNCE, POUND, InputError, celsius

LIGHTEST, HEAVIEST = 0.001, 100.0  # kg on a kitchen scale


EXAMPLE = "time,tray,mass_g,note\n2026-11-20 17:00,1,322,as laid"


@dataclass(frozen=True)
class LogColumn:
    """A column of numbers: SI = number × factor + offset, between low and high (SI); ``says``: log.column.… of the messages."""

    means: str
    factor: float = 1.0
    offset: float = 0.0
    low: float = 0.0
    high: float = 1.0
    says: str = ""

    @property
    def words(self) -> str:
        """What is allowed in it."""
        return say(f"log.column.{self.says}", low=self.typed(self.low), high=self.typed(self.high))

    def typed(self, value: float) -> float:
        """A number as it is typed in this column.

        Returns: float [unit of the values, any]
        Source: as told
        """
        return (value - self.offset) / self.factor


def _degrees(means: str, low: float, high: float) -> tuple[LogColumn, LogColumn]:
    return (
        LogColumn(means, 1.0, 0.0, low, high, "celsius"),
        LogColumn(means, 1 / 1.8, celsius(0.0), low, high, "fahrenheit"),
    )


_DIAL, _ROOM, _MASS = _degrees("dial", 5.0, 80.0), _degrees("room", -10.0, 45.0), (LIGHTEST, HEAVIEST)
COLUMNS = {
    "hours": LogColumn("hours", low=-1000.0, high=1000.0, says="hours"),
    "mass_g": LogColumn("mass", 0.001, 0.0, *_MASS, "mass_g"),
    "mass_kg": LogColumn("mass", 1.0, 0.0, *_MASS, "mass_kg"),
    "mass_oz": LogColumn("mass", OUNCE, 0.0, *_MASS, "mass_oz"),
    "mass_lb": LogColumn("mass", POUND, 0.0, *_MASS, "mass_lb"),
    "dial_c": _DIAL[0], "dial_f": _DIAL[1], "room_c": _ROOM[0], "room_f": _ROOM[1],
    "room_humidity_percent": LogColumn("room_humidity", 0.01, 0.0, 0.02, 1.0, "humidity"),
    "strip_salt_percent": LogColumn("strip_salt", 0.01, 0.0, 0.001, 0.26, "salt"),
    "taste_salt_percent": LogColumn("taste_salt", 0.01, 0.0, 0.001, 0.26, "salt"),
    "oven_dry_g": LogColumn("oven_dry", 0.001, 0.0, 0.0005, 1.0, "oven_dry"),
    "water_activity": LogColumn("water_activity", low=0.2, high=1.0, says="activity"),
    "water_activity_error": LogColumn("water_activity_error", low=0.0, high=0.1, says="error"),
}  # fmt: skip
TEXTS = ("time", "date", "tray", "note", "event")
MASSES = tuple(name for name, column in COLUMNS.items() if column.means == "mass")
SAME_NAMES = {  # how else people call our columns
    "date_time": "time", "datetime": "time", "date_and_time": "time", "timestamp": "time", "when": "time",
    "tray_no": "tray", "tray_nr": "tray", "tray_number": "tray", "tray_name": "tray",
}  # fmt: skip
SAME_UNITS = {
    "grams": "g", "gram": "g", "gr": "g", "gm": "g", "kilograms": "kg", "kilogram": "kg", "kilos": "kg", "kgs": "kg",
    "ounces": "oz", "ounce": "oz", "pounds": "lb", "pound": "lb", "lbs": "lb", "celsius": "c", "fahrenheit": "f",
}  # fmt: skip
_UNITS = ("g", "kg", "oz", "lb")  # unit.…_said of the messages
TRAY_RANGE = 0.02, 10.0  # kg: what a tray of fish may weigh (judgement)


def column_name(cell: str) -> str:
    """Name of a column, so that "Mass (g)", "mass g" or "Weight, grams" is mass_g."""
    plain = cell.strip().lower().replace("°", "").replace("%", "percent")
    *words, last = re.sub(r"[^a-z0-9]+", "_", plain).strip("_").split("_")
    words = [word for word in words if word not in ("in", "deg", "degrees")]
    if words == ["weight"] and SAME_UNITS.get(last, last) in _UNITS:
        words = ["mass"]
    name = "_".join([*words, SAME_UNITS.get(last, last) if words else last])
    return SAME_NAMES.get(name, name)


def header_names(header: list[str]) -> list[str]:
    """Names of all columns; a date without a time beside it holds both."""
    names = [column_name(cell) for cell in header]
    alone = "date" in names and not {"time", "hours"} & set(names)
    return ["time" if alone and name == "date" else name for name in names]


def check_header(names: list[str], header: list[str], where: str) -> tuple[str, ...]:
    """Refuse a header that cannot be used; other columns than ours are left alone and remarked on."""
    known, remarks = [*TEXTS, *COLUMNS], []
    for name, cell in zip(names, header, strict=True):
        if name and names.count(name) > 1:
            raise InputError(f"{where}, {name}", cell, say("log.column_twice"), say("log.column_once"), EXAMPLE)
        if name in known or not name:
            continue
        if name in ("mass", "weight", "dial", "room", "oven_dry"):
            raise InputError(f"{where}, {name}", cell, say("log.column_unit"), _with_unit(name), EXAMPLE)
        near = difflib.get_close_matches(name, known, 1, cutoff=0.75)
        if near:
            raise InputError(
                f"{where}, {name}",
                cell,
                say("log.column_near", near=near[0]),
                ", ".join(known),
                EXAMPLE,
            )
        remarks.append(say("log.column_unknown", column=cell.strip()[:40]))
    _check_one_way(names, header, where)
    if "date" in names and "hours" in names:
        remarks.append(say("log.column_date"))
    return tuple(remarks)


def _check_one_way(names: list[str], header: list[str], where: str) -> None:
    """Refuse columns that say one thing twice, and a header without a time or a mass."""
    means: dict[str, str] = {}
    for name in (name for name in names if name in COLUMNS):
        one = means.setdefault(COLUMNS[name].means, name)
        if one != name:
            raise InputError(f"{where}, {name}", name, say("log.same_in_unit", one=one), say("log.one_unit"), EXAMPLE)
    if ("time" in names) == ("hours" in names):
        raise InputError(where, ", ".join(header), say("log.must_say_when"), say("log.time_or_hours"), EXAMPLE)
    if not set(MASSES) & set(names):
        raise InputError(where, ", ".join(header), say("log.no_mass"), _with_unit("mass"), EXAMPLE)


def _with_unit(name: str) -> str:
    wanted = {"weight": "mass"}.get(name, name)
    return ", ".join(column for column in COLUMNS if column.startswith(f"{wanted}_") and "humidity" not in column)


def check_commas(cells: list[str], names: list[str], where: str) -> None:
    """In a file parted by commas, ask where 322,5 may be one number in two cells. Raises: InputError."""
    for name, cell, follows, after in zip(names, cells, [*names[1:], ""], cells[1:]):
        if name not in COLUMNS or follows == "hours" or not (cell.isdigit() and after.isdigit()):
            continue
        text = follows in ("note", "event", "")
        short = len(after) == 1 or (len(after) == 2 and name in MASSES and name != "mass_g" and len(cells) < len(names))
        if text or (follows in COLUMNS and short and not _goes_on_in_words(cells)):
            raise InputError(
                f"{where}, {name}", f"{cell},{after}", say("log.one_or_two_cells"),
                say("log.comma_allowed", cell=cell, after=after),
                f"{cell}.{after}",
            )  # fmt: skip


def _goes_on_in_words(cells: list[str]) -> bool:
    """Whether the last cell holds words: then no cell is missing at the end of the row."""
    return bool(cells[-1]) and not cells[-1].replace(".", "").isdigit()


_THIN = "\u00a0\u202f\u2007\u2008\u2009\u200a"  # spaces that do not break a line


def read_number(cell: str, name: str, where: str) -> float | None:
    """A number in SI; a decimal comma is as good as a point, a thin space parts thousands. An empty cell is None.

    Returns: float or None [unit of the value, any]
    Source: as told
    """
    column, place = COLUMNS[name], f"{where}, {name}"
    text = _plain_number(cell)
    if not text:
        return None
    _check_thousands(text, cell, name, place)
    if not re.fullmatch(r"[+-]?\d+([.,]\d*)?", text):
        raise InputError(place, cell, _no_number(text), column.words, "249")
    value = float(text.replace(",", ".")) * column.factor + column.offset
    if not column.low - 1e-12 <= value <= column.high + 1e-12:
        why = say("field.outside")
        if column.means == "mass":
            why = _other_unit(value, name) or say("log.cannot_be")
        example = {"mass": "249", "hours": "2.5"}.get(column.means, f"{column.typed(column.low):g}")
        raise InputError(place, cell, why, column.words, example)
    return value


def _plain_number(cell: str) -> str:
    """A cell with the signs of a keyboard, and without thin spaces where they part thousands."""
    text = cell.strip().replace("\u2212", "-")
    if re.fullmatch(rf"[+-]?\d{{1,3}}([{_THIN}]\d{{3}})+([.,]\d*)?", text):
        return re.sub(f"[{_THIN}]", "", text)
    return re.sub(f"[{_THIN}]", " ", text)


def _check_thousands(text: str, cell: str, name: str, place: str) -> None:
    comma = name in ("mass_g", "mass_oz") and re.fullmatch(r"[1-9]\d{0,2},\d{3}", text)
    point = name == "mass_g" and re.fullmatch(r"[1-9]\d?\.\d{3}", text) and float(text) <= TRAY_RANGE[1]
    if comma or point:
        sign = "comma" if comma else "point"
        why, allowed = say(f"log.thousands.{sign}"), say(f"log.thousands.no_{sign}s")
        raise InputError(place, cell, why, allowed, re.sub("[.,]", "", text))


def _no_number(text: str) -> str:
    if re.fullmatch(r"[\d.,]+ *[a-zA-Z°%]+", text):
        return say("log.unit_in_cell")
    if re.fullmatch(r"[\d.,' ’]+", text):
        return say("log.signs_in_number")
    return say("log.no_number")


def _fitting(mass: float, name: str, low: float, high: float) -> list[str]:
    """Columns in which the number of a mass [kg] would lie between low and high [kg]."""
    number = mass / COLUMNS[name].factor
    return [other for other in MASSES if other != name and low <= number * COLUMNS[other].factor <= high]


def _other_unit(mass: float, name: str) -> str:
    """The units in which a number that cannot be a mass [kg] would be the weight of a tray."""
    fitting = _fitting(mass, name, *TRAY_RANGE)
    if not fitting:
        return ""
    units, columns = joined("words.or", map(_unit, fitting)), joined("words.or", fitting)
    return say("log.cannot_be.unit", units=units, columns=columns)


def in_other_units(mass: float, name: str, low: float, high: float) -> str:
    """A sentence on what the number of an unlikely mass would be in likely units; or nothing."""
    number = mass / COLUMNS[name].factor
    told = [
        say("log.in_unit", unit=_unit(other), grams=1000 * number * COLUMNS[other].factor)
        for other in _fitting(mass, name, low, high)
    ]
    return say("log.would_be", told=", ".join(told)) if told else ""


def _unit(name: str) -> str:
    return say(f"unit.{name.split('_')[1]}_said")


SLIP = math.log(2.1)  # a number is in another unit when it is off by that unit within a factor of so much (judgement)
LIKE = math.log(4.0)  # kilograms and pounds are too near to be told apart by size


def unit_slip(share: float, name: str) -> str:
    """A question to ask where a mass would have to be a share larger, because it is so in another unit; or nothing."""
    off = {other: math.log(COLUMNS[other].factor / COLUMNS[name].factor) for other in MASSES if other != name}
    other = min(off, key=lambda one: abs(math.log(share) - off[one]))
    if abs(off[other]) < LIKE or abs(math.log(share) - off[other]) > SLIP:
        return ""
    return say("log.other_unit", unit=_unit(other), other=other, column=name, holds=_unit(name))
