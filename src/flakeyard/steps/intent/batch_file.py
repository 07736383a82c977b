"""The batch file: what a preserver intends, as TOML in, checked, and out again unchanged.

Every field is described once, in FIELDS: its kind, its limits and an example. Reading walks that description, so each
error can name the field, what was given, what is allowed and an example. Amounts keep the words they were typed in.
"""

from __future__ import annotations

import difflib
import os
import tomllib
from dataclasses import dataclass, field, replace
from pathlib import Path

import tomli_w

from flakeyard import tables
from flakeyard.units import Amount, InputError, read_amount

LARGEST_FILE = 1_000_000  # bytes; a batch file is a page of text
NOT_KNOWN = "not known"
NEEDED = ("fish", "cut", "dryer")
HOUR, DAY = 3600.0, 86400.0


@dataclass(frozen=True)
class Measure:
    """An amount with a unit, typed as text."""

    kinds: str | tuple[str, ...]
    low: float | None
    high: float | dict | None
    example: str
    needed: bool = False
    may_be_unknown: bool = False

    def read(self, given, where: str):
        if self.may_be_unknown and isinstance(given, str) and given.strip().lower() == NOT_KNOWN:
            return None
        return read_amount(given, self.kinds, where, low=self.low, high=self.high, example=self.example)


@dataclass(frozen=True)
class Number:
    """A bare number; ``share`` turns per cent into a fraction."""

    low: float
    high: float
    example: str
    share: bool = False
    whole: bool = False
    needed: bool = False

    def read(self, given, where: str):
        allowed = f"a {'whole ' if self.whole else ''}number from {self.low:g} to {self.high:g}"
        allowed += " (per cent)" if self.share else ""
        if isinstance(given, bool) or not isinstance(given, int | float):
            raise InputError(
                where, given, "a plain number is needed here, without quotes or a unit", allowed, self.example
            )
        if not self.low <= given <= self.high:  # also refuses NaN
            raise InputError(where, given, "outside what is allowed", allowed, self.example)
        if self.whole and given != int(given):
            raise InputError(where, given, "a whole number is needed", allowed, self.example)
        return given / 100 if self.share else given


@dataclass(frozen=True)
class Choice:
    """One of a few words."""

    words: tuple[str, ...]
    needed: bool = False

    @property
    def example(self) -> str:
        return f'"{self.words[0]}"'

    def read(self, given, where: str):
        if isinstance(given, str) and given.strip().lower() in self.words:
            return given.strip().lower()
        near = difflib.get_close_matches(str(given).lower(), self.words, 1)
        why = f'did you mean "{near[0]}"?' if near else "this word is not known here"
        raise InputError(where, given, why, " | ".join(self.words), self.example)


@dataclass(frozen=True)
class Flag:
    """true or false."""

    example: str = "true"
    needed: bool = False

    def read(self, given, where: str):
        if isinstance(given, bool):
            return given
        raise InputError(where, given, "true or false is needed, without quotes", "true | false", self.example)


@dataclass(frozen=True)
class Words:
    """Free text."""

    example: str
    needed: bool = False

    def read(self, given, where: str):
        if isinstance(given, str) and given.strip():
            return given.strip()
        raise InputError(where, given, "a few words in quotes are needed", "text in quotes", self.example)


def _share(low: float, high: float, example: str) -> Number:
    return Number(low, high, example, share=True)


def _time(high: float, example: str, needed: bool = False) -> Measure:
    return Measure("time", None, high, example, needed)


def _kitchen(kilograms: float, example: str, needed: bool = False) -> Measure:
    """A weight, or a volume of up to a litre for each kilogram allowed."""
    return Measure(("mass", "volume"), None, {"mass": kilograms, "volume": kilograms / 1000}, example, needed)


COLD_BATH = Measure("temperature", -5.0, 40.0, '"3 °C"')
INGREDIENT = {
    "what": Words('"pickling salt"', needed=True),
    "amount": _kitchen(200.0, '"160 g"', needed=True),
    "one_cup_weighs": Measure("mass", 0.15, 0.40, '"312 g"'),
    "brix": Number(0, 85, "65"),
    "recipe_sugar": _kitchen(20.0, '"2 cup"'),
    "recipe_liquid": _kitchen(20.0, '"1 cup"'),
}
SOAK = {
    "method": Choice(("wet", "dry")),
    "time": _time(30 * DAY, '"10 h"', needed=True),
    "temperature": replace(COLD_BATH, needed=True),
}
FIELDS = {
    "": {"title": Words('"First evening"'), "serving": Measure("mass", 0.001, 1.0, '"30 g"')},
    "fish": {
        "species": Words('"rainbow trout, farmed"'),
        "water": _share(40, 90, "74.0"),
        "protein": _share(5, 35, "20.0"),
        "fat": _share(0, 35, "6.2"),
        "ash": _share(0, 6, "1.2"),
        "raw_weight": Measure("mass", 0.02, 200.0, '"1.8 kg"', needed=True),
        "stock": Choice(("fresh", "frozen")),
        "frozen_at": Measure("temperature", -80.0, 0.0, '"-20 °C"'),
        "frozen_days": Number(0, 1000, "8"),
        "thawed_in_vacuum": Flag("false"),
        "origin": Choice(("farmed", "wild")),
        "gutted": Flag(),
        "hours_above_4c": Number(0, 2000, "0.5"),
        "hours_above_21c": Number(0, 2000, "0"),
        "warmest": Measure("temperature", -5.0, 60.0, '"12 °C"'),
        "smells_normal": Flag(),
    },
    "cut": {
        "form": Choice(("strips", "fillets", "split", "whole")),
        "thickness": Measure("length", 0.002, 0.030, '"6 mm"', needed=True),
        "thinnest": Measure("length", 0.001, 0.040, '"5 mm"'),
        "thickest": Measure("length", 0.002, 0.040, '"8 mm"'),
        "width": Measure("length", 0.005, 0.50, '"25 mm"'),
        "skin": Choice(("off", "one side")),
    },
    "presoak": SOAK,
    "brine": SOAK,
    "rest": {"time": _time(10 * DAY, '"12 h"', needed=True), "temperature": replace(COLD_BATH, needed=True)},
    "freshen": {
        "water": _kitchen(200.0, '"3 L"', needed=True),
        "time": _time(7 * DAY, '"1 h"', needed=True),
        "changes": Number(1, 20, "2", whole=True),
        "temperature": replace(COLD_BATH, needed=True),
    },
    "heat": {
        "core": Measure("temperature", 30.0, 110.0, '"74 °C"', needed=True),
        "hold": Measure("time", 0.0, 6 * HOUR, '"1 min"'),
        "weight_after": Measure("mass", 0.01, 200.0, '"1.5 kg"'),
    },
    "dryer": {
        "temperature": Measure("temperature", 5.0, 80.0, '"63 °C"', needed=True),
        "trays": Number(1, 60, "5", whole=True, needed=True),
        "tray_area": Measure("area", 0.005, 2.0, '"900 cm2"', needed=True),
        "faces": Number(1, 2, "2", whole=True),
        "heater": Measure("power", 30.0, 10_000.0, '"500 W"', may_be_unknown=True),
        "fresh_air": Measure(("flow", "volume_flow"), None, 1.0, '"not known"', may_be_unknown=True),
    },
    "room": {
        "temperature": Measure("temperature", -10.0, 45.0, '"20 °C"'),
        "relative_humidity": _share(2, 100, "50"),
        "altitude": Measure("length", 0.0, 4500.0, '"150 m"'),
    },
    "keep": {
        "place": Choice(("cupboard", "refrigerator", "freezer")),
        "pack": Words('"glass jar"'),
        "per_pack": Measure("mass", 0.01, 5.0, '"150 g"'),
        "target_moisture": _share(5, 60, "25"),
        "measured_water_activity": Number(0.2, 1.0, "0.78"),
        "measured_error": Number(0.0, 0.1, "0.01"),
    },
}
LISTS = {"freshen"}


@dataclass(frozen=True)
class Batch:
    """What a preserver intends: one dictionary of read values per section; a value not given is absent.

    Amounts are ``units.Amount`` (SI value and the words typed), per cent are fractions. ``soaks`` hold the ingredients
    as tuples of dictionaries. ``with_(section, key=typed)`` gives a changed copy, checked like a file.
    """

    title: str
    serving: Amount
    fish: dict
    cut: dict
    dryer: dict
    room: dict = field(default_factory=dict)
    keep: dict = field(default_factory=dict)
    presoak: dict | None = None
    brine: dict | None = None
    rest: dict | None = None
    freshen: tuple[dict, ...] = ()
    heat: dict | None = None
    typed: dict = field(default_factory=dict, repr=False)

    def with_(self, section: str, **typed) -> Batch:
        """A copy with fields of one section typed anew (None takes a field out; section '' is the top level)."""
        changed = {name: _copy(value) for name, value in self.typed.items()}
        place = changed if section == "" else changed.setdefault(section, {})
        for key, value in typed.items():
            if value is None:
                place.pop(key, None)
            else:
                place[key] = value
        return read_batch(changed)

    def without(self, section: str) -> Batch:
        """A copy without a whole section."""
        return read_batch({name: _copy(value) for name, value in self.typed.items() if name != section})


def _copy(value):
    if isinstance(value, dict):
        return {key: _copy(inner) for key, inner in value.items()}
    return [_copy(inner) for inner in value] if isinstance(value, list) else value


def load_batch(path: str | os.PathLike) -> Batch:
    """Read a batch file.

    Raises InputError, naming the file, the line and column of a TOML mistake, or the field that is not understood.
    """
    path = Path(path)
    where = f"file {path.name}"
    allowed, example = "a TOML batch file of at most one page or two", "heron.toml"
    if path.is_dir():
        raise InputError(where, str(path), "this is a folder, not a file", allowed, example)
    if not path.exists():
        raise InputError(where, str(path), "there is no such file", allowed, example)
    if path.stat().st_size > LARGEST_FILE:
        raise InputError(
            where, f"{path.stat().st_size / 1e6:.0f} MB", "far too large for a batch file", allowed, example
        )
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as mistake:
        raise InputError(
            where, f"byte {mistake.start}", "the text is not in UTF-8; save it as UTF-8", allowed, example
        ) from None
    return parse_batch(text, where)


def parse_batch(text: str, where: str = "batch") -> Batch:
    """Read the text of a batch file."""
    try:
        typed = tomllib.loads(text)
    except tomllib.TOMLDecodeError as mistake:
        raise InputError(
            where,
            _line_of(text, str(mistake)),
            f"not valid TOML: {mistake}",
            "lines such as: key = value",
            'time = "10 h"',
        ) from None
    return read_batch(typed)


def _line_of(text: str, message: str) -> str:
    """The line a TOML message points at, so that the learner sees what was typed."""
    digits = message.split("line ")[-1].split(",")[0] if "line " in message else ""
    lines = text.splitlines()
    number = int(digits) if digits.isdigit() else len(lines)
    return lines[number - 1].strip() if 0 < number <= len(lines) else "the end of the file"


def read_batch(typed: dict) -> Batch:
    """Check a nested dictionary (as TOML gives it) and make a Batch of it. Raises InputError on the first mistake."""
    if not any(name in typed for name in NEEDED):
        raise InputError(
            "file", "no section that is needed", "the file is empty or has no sections",
            "the sections [fish], [cut] and [dryer]; often also [brine], [heat], [room], [keep]",
            '[fish]\nspecies = "rainbow trout, farmed"\nraw_weight = "1.8 kg"',
        )  # fmt: skip
    top = {name: value for name, value in typed.items() if name not in FIELDS}
    sections = {name: value for name, value in typed.items() if name in FIELDS and name}
    head = _section("", top, FIELDS[""])
    for name in NEEDED:
        if name not in typed:
            needed = [key for key, kind in FIELDS[name].items() if kind.needed]
            raise InputError(
                f"[{name}]", "nothing", "this section is missing", f"[{name}] with {', '.join(needed)}", f"[{name}]"
            )
    read = {name: _read_section(name, value) for name, value in sections.items()}
    batch = Batch(
        title=head.get("title", "Untitled batch"),
        serving=head.get("serving") or read_amount("30 g", "mass", "serving"),
        typed=_copy(typed),
        **read,
    )
    _check_together(batch)
    return batch


def _read_section(name: str, given):
    if name in LISTS:
        if not isinstance(given, list):
            raise InputError(
                f"[{name}]", given, f"each soak is a section of its own: write [[{name}]]", f"[[{name}]]", f"[[{name}]]"
            )
        return tuple(_section(f"{name} {number}", one, FIELDS[name]) for number, one in enumerate(given, 1))
    if not isinstance(given, dict):
        raise InputError(
            f"[{name}]", given, "this is a section, not a value", f"[{name}] on a line of its own", f"[{name}]"
        )
    if name not in ("brine", "presoak"):
        return _section(name, given, FIELDS[name])
    rows = given.get("ingredient", [])
    if not isinstance(rows, list) or not rows:
        raise InputError(
            f"[[{name}.ingredient]]", rows or "nothing", "a brine or cure needs at least one ingredient",
            f"one or more [[{name}.ingredient]]", f'[[{name}.ingredient]]\nwhat = "pickling salt"\namount = "160 g"',
        )  # fmt: skip
    rest = {key: value for key, value in given.items() if key != "ingredient"}
    section = {"method": "wet"} | _section(name, rest, FIELDS[name])
    section["ingredient"] = tuple(_section(f"{name}.ingredient {n}", row, INGREDIENT) for n, row in enumerate(rows, 1))
    return section


def _section(name: str, given, fields: dict) -> dict:
    where = f"[{name}] " if name else ""
    if not isinstance(given, dict):
        raise InputError(f"[{name}]", given, "this is a section, not a value", f"[{name}]", f"[{name}]")
    for key in given:
        if key not in fields:
            known = [*fields, *(FIELDS if not name else ())]
            near = difflib.get_close_matches(str(key), [k for k in known if k], 1, cutoff=0.5)
            why = f'this name is not known here; did you mean "{near[0]}"?' if near else "this name is not known here"
            raise InputError(f"{where}{key}", given[key], why, ", ".join(k for k in known if k), _example(fields, near))
    for key, kind in fields.items():
        if kind.needed and key not in given:
            raise InputError(f"{where}{key}", "nothing", "this is needed", f"{key} = …", f"{key} = {kind.example}")
    read = {key: fields[key].read(value, f"{where}{key}") for key, value in given.items()}
    return {key: value for key, value in read.items() if value is not None}


def _example(fields: dict, near: list[str]) -> str:
    key = near[0] if near and near[0] in fields else next(iter(fields))
    return f"{key} = {fields[key].example}"


def _check_together(batch: Batch) -> None:
    """Things that are possible one by one but not together."""
    _check_composition(batch.fish)
    cut = batch.cut
    usual = cut["thickness"]
    thin, thick = cut.get("thinnest", usual), cut.get("thickest", usual)
    if thin.value > usual.value or thick.value < usual.value:
        raise InputError(
            "[cut] thinnest, thickness, thickest", f"{thin}, {usual}, {thick}", "they are not in rising order",
            "thinnest ≤ thickness ≤ thickest", 'thinnest = "5 mm", thickness = "6 mm", thickest = "8 mm"',
        )  # fmt: skip
    for name in ("presoak", "brine"):
        soak = getattr(batch, name)
        for number, row in enumerate(soak["ingredient"] if soak else (), 1):
            tables.ingredient(row["what"], field=f"[{name}.ingredient {number}] what")
    if "pack" in batch.keep:
        tables.pack(batch.keep["pack"], field="[keep] pack")
    if batch.heat and "weight_after" in batch.heat:
        ratio = batch.heat["weight_after"].value / batch.fish["raw_weight"].value
        if not 0.4 <= ratio <= 1.3:
            raise InputError(
                "[heat] weight_after", str(batch.heat["weight_after"]),
                f"that is {ratio:.0%} of the raw weight ({batch.fish['raw_weight']})",
                "40 % to 130 % of the raw weight", 'weight_after = "1.5 kg"',
            )  # fmt: skip


def _check_composition(fish: dict) -> None:
    own = {key: fish[key] for key in ("water", "protein", "fat", "ash") if key in fish}
    if "species" in fish:
        record = tables.species(fish["species"], field="[fish] species")
        if not record.usable and not {"water", "protein", "fat"} <= own.keys():
            raise InputError(
                "[fish] species", fish["species"], f"no composition that can be used: {record.note}",
                "the same species with water, protein, fat (per cent) from a label, or a near species",
                "water = 78.0, protein = 19.0, fat = 2.0",
            )  # fmt: skip
    elif not {"water", "protein", "fat"} <= own.keys():
        raise InputError(
            "[fish] species", "nothing", "the species, or its composition, is needed",
            "species = a name of the table, or water, protein and fat in per cent", 'species = "rainbow trout, farmed"',
        )  # fmt: skip
    total = sum(own.values())
    if {"water", "protein", "fat"} <= own.keys() and not 0.93 <= total <= 1.03:
        raise InputError(
            "[fish] water, protein, fat, ash", f"a sum of {100 * total:.0f} %", "a composition adds up to about 100 %",
            "a sum between 93 % and 103 %", "water = 73.8, protein = 19.9, fat = 5.1, ash = 1.2",
        )  # fmt: skip


def dump_batch(batch: Batch) -> str:
    """The batch as TOML text, every amount in the words it was typed in."""
    return tomli_w.dumps(batch.typed)


def save_batch(batch: Batch, path: str | os.PathLike) -> Path:
    """Write a batch file; an existing file is kept as a numbered copy, and the new one appears whole or not at all."""
    path = Path(path)
    scratch = path.with_name(path.name + ".part")
    scratch.write_text(dump_batch(batch), encoding="utf-8")
    if path.exists():
        numbers = (path.with_name(f"{path.stem}-{number}{path.suffix}") for number in range(1, 100_000))
        os.link(path, next(copy for copy in numbers if not copy.exists()))
    os.replace(scratch, path)
    return path
