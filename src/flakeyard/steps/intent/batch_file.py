"""The batch file: what a preserver intends, as TOML in, checked, and out again in the words it was typed in.

Reading walks the table of `fields`, so each error can name the field, what was given, what is allowed and an example.
Writing walks it too: a value that is still what was typed goes back in those words, any other as a number with a unit.
"""

from __future__ import annotations

import difflib
import os
import tomllib
from pathlib import Path

import tomli_w

from flakeyard import files, tables
from flakeyard.steps.intent.fields import FIELDS, INGREDIENT, LISTS, NEEDED, RECORDS, SOAKS
from flakeyard.steps.intent.records import Batch, Fish, Ingredient, Soak
from flakeyard.units import InputError, read_amount

LARGEST_FILE = 1_000_000  # bytes; a batch file is a page of text
SERVING = "30 g"  # when none is told


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
    head = _section("", {name: value for name, value in typed.items() if name not in FIELDS}, FIELDS[""])
    for name in NEEDED:
        if name not in typed:
            needed = [key for key, kind in FIELDS[name].items() if kind.needed]
            raise InputError(
                f"[{name}]", "nothing", "this section is missing", f"[{name}] with {', '.join(needed)}", f"[{name}]"
            )
    read = {name: _read_section(name, value) for name, value in typed.items() if name in FIELDS and name}
    batch = Batch(
        title=head.get("title", "Untitled batch"),
        serving=head.get("serving", read_amount(SERVING, "mass", "serving").value),
        typed=_copy(typed),
        **read,
    )
    _check_together(batch)
    return batch


def read_soak(typed: dict, name: str = "brine") -> Soak:
    """Check a brine or cure by itself, typed as in a batch file. Raises InputError on the first mistake."""
    soak = _read_section(name, typed)
    _check_ingredients(name, soak)
    return soak


def _read_section(name: str, given):
    if name in LISTS:
        if not isinstance(given, list):
            raise InputError(
                f"[{name}]", given, f"each soak is a section of its own: write [[{name}]]", f"[[{name}]]", f"[[{name}]]"
            )
        return tuple(RECORDS[name](**_section(f"{name} {n}", one, FIELDS[name])) for n, one in enumerate(given, 1))
    if not isinstance(given, dict):
        raise InputError(
            f"[{name}]", given, "this is a section, not a value", f"[{name}] on a line of its own", f"[{name}]"
        )
    rest = {key: value for key, value in given.items() if not (name in SOAKS and key == "ingredient")}
    extra = {"ingredients": _ingredients(name, given)} if name in SOAKS else {}
    return RECORDS[name](**_section(name, rest, FIELDS[name]), **extra)


def _ingredients(name: str, given: dict) -> tuple[Ingredient, ...]:
    rows = given.get("ingredient", [])
    if not isinstance(rows, list) or not rows:
        raise InputError(
            f"[[{name}.ingredient]]", rows or "nothing", "a brine or cure needs at least one ingredient",
            f"one or more [[{name}.ingredient]]", f'[[{name}.ingredient]]\nwhat = "pickling salt"\namount = "160 g"',
        )  # fmt: skip
    return tuple(Ingredient(**_section(f"{name}.ingredient {n}", row, INGREDIENT)) for n, row in enumerate(rows, 1))


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
    check_composition(batch.fish)
    thin, usual, thick = batch.cut.sizes
    if thin > usual or thick < usual:
        told = [
            said(batch, "cut", name) or said(batch, "cut", "thickness")
            for name in ("thinnest", "thickness", "thickest")
        ]
        raise InputError(
            "[cut] thinnest, thickness, thickest", ", ".join(told), "they are not in rising order",
            "thinnest ≤ thickness ≤ thickest", 'thinnest = "5 mm", thickness = "6 mm", thickest = "8 mm"',
        )  # fmt: skip
    for name in SOAKS:
        if soak := getattr(batch, name):
            _check_ingredients(name, soak)
    if batch.keep.pack is not None:
        tables.pack(batch.keep.pack, field="[keep] pack")
    if batch.heat and batch.heat.weight_after is not None:
        ratio = batch.heat.weight_after / batch.fish.raw_weight
        if not 0.4 <= ratio <= 1.3:
            raise InputError(
                "[heat] weight_after", said(batch, "heat", "weight_after"),
                f"that is {ratio:.0%} of the raw weight ({said(batch, 'fish', 'raw_weight')})",
                "40 % to 130 % of the raw weight", 'weight_after = "1.5 kg"',
            )  # fmt: skip


def _check_ingredients(name: str, soak: Soak) -> None:
    for number, row in enumerate(soak.ingredients, 1):
        tables.ingredient(row.what, field=f"[{name}.ingredient {number}] what")


def check_composition(fish: Fish) -> None:
    """Whether a fish can be made of this; raises InputError when the species is not known or the parts do not add up."""
    own = [part for part in (fish.water, fish.protein, fish.fat, fish.ash) if part is not None]
    whole = None not in (fish.water, fish.protein, fish.fat)
    if fish.species is not None:
        record = tables.species(fish.species, field="[fish] species")
        if not record.usable and not whole:
            raise InputError(
                "[fish] species", fish.species, f"no composition that can be used: {record.note}",
                "the same species with water, protein, fat (per cent) from a label, or a near species",
                "water = 78.0, protein = 19.0, fat = 2.0",
            )  # fmt: skip
    elif not whole:
        raise InputError(
            "[fish] species", "nothing", "the species, or its composition, is needed",
            "species = a name of the table, or water, protein and fat in per cent", 'species = "rainbow trout, farmed"',
        )  # fmt: skip
    total = sum(own)
    if whole and not 0.93 <= total <= 1.03:
        raise InputError(
            "[fish] water, protein, fat, ash", f"a sum of {100 * total:.0f} %", "a composition adds up to about 100 %",
            "a sum between 93 % and 103 %", "water = 73.8, protein = 19.9, fat = 5.1, ash = 1.2",
        )  # fmt: skip


def with_typed(batch: Batch, section: str, **typed) -> Batch:
    """A copy with fields of one section typed anew (None takes a field out; section '' is the top level)."""
    changed = written(batch)
    place = changed if section == "" else changed.setdefault(section, {})
    for key, value in typed.items():
        if value is None:
            place.pop(key, None)
        else:
            place[key] = value
    return read_batch(changed)


def without(batch: Batch, section: str) -> Batch:
    """A copy without a whole section."""
    return read_batch({name: value for name, value in written(batch).items() if name != section})


def _copy(value):
    if isinstance(value, dict):
        return {key: _copy(inner) for key, inner in value.items()}
    return [_copy(inner) for inner in value] if isinstance(value, list) else value


def written(batch: Batch) -> dict:
    """The batch as the nested dictionary of its file; what is still as it was typed keeps its words."""
    told = {"title": batch.title, "serving": batch.serving}
    typed = {"title": batch.title, "serving": SERVING} | batch.typed
    head = {key: _word(kind, told[key], typed[key]) for key, kind in FIELDS[""].items()}
    head = {
        key: word
        for key, word in head.items()
        if key in batch.typed or word != {"title": "Untitled batch", "serving": SERVING}[key]
    }
    return head | {name: section for name in _order(batch) if (section := _written_section(batch, name)) is not None}


def _order(batch: Batch) -> list[str]:
    """Sections in the order they were typed in, then those that were not typed."""
    return list(dict.fromkeys([*(name for name in batch.typed if name in RECORDS), *RECORDS]))


def _written_section(batch: Batch, name: str):
    record, typed = getattr(batch, name), batch.typed.get(name)
    if name in LISTS:
        rows = typed if isinstance(typed, list) else []
        return _rows(FIELDS[name], record, rows) or ([] if name in batch.typed else None)
    if record is None:
        return None
    section = _words(FIELDS[name], record, typed or {})
    if name in SOAKS:
        section["ingredient"] = _rows(INGREDIENT, record.ingredients, (typed or {}).get("ingredient", []))
    return section if section or typed is not None else None


def _rows(fields: dict, told: tuple, typed: list) -> list[dict]:
    return [_words(fields, one, typed[n] if n < len(typed) else {}) for n, one in enumerate(told)]


def _words(fields: dict, record, typed: dict) -> dict:
    """A section as words: first the keys that were typed, in their order, then the others that were told."""
    names = dict.fromkeys([*(key for key in typed if key in fields), *fields])
    found = {key: _word(fields[key], getattr(record, key), typed.get(key)) for key in names}
    return {key: word for key, word in found.items() if word is not None and not _default(record, key, typed)}


def _default(record, key: str, typed: dict) -> bool:
    """Whether a key was not typed and stands at its default, so that it need not be written."""
    return key not in typed and getattr(record, key) == getattr(type(record), key, None)


def _word(kind, value, typed):
    """What was typed where it still says the value, else the value in words; None where nothing is told."""
    if typed is not None and kind.read(typed, "") == value:
        return typed
    return None if value is None else kind.write(value)


def said(batch: Batch, *place) -> str:
    """A value of the batch in the words it was typed in: ``said(batch, "brine", "time")``; "" where it was not told."""
    found = written(batch)
    for step in place:
        found = found.get(step, "") if isinstance(found, dict) else found[step]
    return str(found)


def dump_batch(batch: Batch) -> str:
    """The batch as TOML text, every amount in the words it was typed in."""
    return tomli_w.dumps(written(batch))


def save_batch(batch: Batch, path: str | os.PathLike) -> Path:
    """Write a batch file; an existing file is kept as a numbered copy, and the new one appears whole or not at all."""
    return files.write_whole(path, dump_batch(batch), keep_copy=True)
