"""The batch file: what a preserver intends, as TOML in, checked, and out again in the words it was typed in.

Reading walks the table of `fields`, so each error can name the field, what was given, what is allowed and an example.
Writing walks it too: a value that is still what was typed goes back in those words, any other as a number with a unit.
"""

from __future__ import annotations

import os
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import tomli_w

from flakeyard import files, reading, refused, tables
from flakeyard.messages import say
from flakeyard.spelling import alike
from flakeyard.steps.intent.fields import FIELDS, INGREDIENT, LISTS, NEEDED, RECORDS, SOAKS
from flakeyard.steps.intent.records import Batch, Cut, Fish, Heat, Ingredient, Keep, Measured, Soak
from flakeyard.units import InputError, InputErrors, read_amount, show

SERVING = "30 g"  # when none is told
SAMPLES = ("raw", "laid", "dried")  # that an oven may dry
TOO_ROUGH = 0.5  # of the thickness: an error above which it was not measured (judgement)
DRIEST_SAMPLE = 0.05  # of it that is left, at the least (judgement: no flesh holds so much water)
SHORTEST_KEY = 4  # letters; the names of keys lie far apart


def load_batch(path: str | os.PathLike) -> Batch:
    """Read a batch file.

    Raises InputError, naming the file, the line and column of a TOML mistake, or the field that is not understood.
    """
    return parse_batch(reading.read_text(path, "batch file"), reading.named(path))


def parse_batch(text: str, where: str = "batch") -> Batch:
    """Read the text of a batch file."""
    return read_batch(reading.read_toml(text, where))


def read_batch(typed: dict) -> Batch:
    """Check a nested dictionary (as TOML gives it) and make a Batch of it.

    Raises InputErrors with all that cannot be used, or InputError where that is one thing.
    """
    found = Mistakes()
    head, read = _read(typed, found)
    found.end()
    return Batch(
        title=head.get("title", say("batch_file.untitled")),
        serving=head.get("serving", read_amount(SERVING, "mass", "serving").value),
        typed=_copy(typed),
        **read,
    )


def mistakes(typed: dict) -> tuple[InputError, ...]:
    """What cannot be used of a batch that is not told to its end: all but what is only missing."""
    found = Mistakes(whole=False)
    _read(typed, found)
    return tuple(found)


def read_soak(typed: dict, name: str = "brine") -> Soak:
    """Check a brine or cure by itself, typed as in a batch file. Raises InputError or InputErrors."""
    found = Mistakes()
    soak = _read_section(name, typed, found)
    if not found:
        _check_ingredients(name, soak, found)
    found.end()
    return soak


class Mistakes(list[InputError]):
    """Mistakes found so far, in the order of the file; ``whole``: what is missing is one too."""

    def __init__(self, whole: bool = True):
        super().__init__()
        self.whole, self.lacks = whole, 0

    @property
    def wrong(self) -> int:
        """How many things told cannot be used.

        Returns: int [count, 0 up]
        Source: as told
        """
        return len(self) - self.lacks

    def lack(self, field: str, why: str, allowed: str, example: str) -> None:
        """Something that is needed is not there."""
        if self.whole:
            self.lacks += 1
            self.append(InputError(field, say("error.nothing"), why, allowed, example))

    @contextmanager
    def noted(self):
        """Go on after a mistake."""
        try:
            yield
        except InputError as mistake:
            self.extend(getattr(mistake, "mistakes", (mistake,)))

    def end(self) -> None:
        """Raise what was found, if anything."""
        if self:
            raise self[0] if len(self) == 1 else InputErrors(self)


def _read(typed: dict, found: Mistakes) -> tuple[dict, dict]:
    """The top level as values and the sections as records, as far as they can be read."""
    with found.noted():
        reading.check_values(typed)
    if found:
        return {}, {}
    if found.whole and not any(name in typed for name in NEEDED):
        found.append(InputError(
            "file", say("batch_file.no_section"), say("batch_file.empty"),
            say("batch_file.sections"),
            '[fish]\nspecies = "rainbow trout, farmed"\nraw_weight = "1.8 kg"',
        ))  # fmt: skip
        return {}, {}
    head = _section("", {name: value for name, value in typed.items() if name not in FIELDS}, FIELDS[""], found)
    for name in NEEDED:
        if name not in typed:
            needed = [key for key, kind in FIELDS[name].items() if kind.needed]
            found.lack(
                f"[{name}]",
                say("batch_file.section_missing"),
                say("batch_file.section_with", section=name, keys=", ".join(needed)),
                f"[{name}]",
            )
    read: dict[str, Any] = {}
    clean: dict[str, Any] = {}
    for name, value in typed.items():
        if name in FIELDS and name:
            before = found.wrong
            read[name] = _read_section(name, value, found)
            clean |= {name: read[name]} if found.wrong == before else {}
    _check_together(clean, typed, found)
    return head, read


def _read_section(name: str, given, found: Mistakes):
    if name in LISTS:
        if not isinstance(given, list):
            why = say("batch_file.soaks", section=name)
            found.append(InputError(f"[{name}]", given, why, f"[[{name}]]", f"[[{name}]]"))
            return ()
        rows = [_section(f"{name} {n}", one, FIELDS[name], found) for n, one in enumerate(given, 1)]
        return tuple(RECORDS[name](**row) for row in rows)
    if not isinstance(given, dict):
        why = say("batch_file.not_a_value")
        found.append(InputError(f"[{name}]", given, why, say("batch_file.own_line", section=name), f"[{name}]"))
        return None
    rest = {key: value for key, value in given.items() if not (name in SOAKS and key == "ingredient")}
    read = _section(name, rest, FIELDS[name], found)
    extra = {"ingredients": _ingredients(name, given, found)} if name in SOAKS else {}
    return RECORDS[name](**read, **extra)


def _ingredients(name: str, given: dict, found: Mistakes) -> tuple[Ingredient, ...]:
    rows = given.get("ingredient", [])
    if not isinstance(rows, list) or not rows:
        why, example = say("batch_file.ingredient_missing"), 'what = "pickling salt"\namount = "160 g"'
        words = (why, say("batch_file.ingredients", section=name), f"[[{name}.ingredient]]\n{example}")
        if rows:
            found.append(InputError(f"[[{name}.ingredient]]", rows, *words))
        else:
            found.lack(f"[[{name}.ingredient]]", *words)
        return ()
    read = [_section(f"{name}.ingredient {n}", row, INGREDIENT, found) for n, row in enumerate(rows, 1)]
    return tuple(Ingredient(**row) for row in read)


def _section(name: str, given, fields: dict, found: Mistakes) -> dict:
    """What was told in a section; None stands for what is needed and cannot be read."""
    where = f"[{name}] " if name else ""
    told = {key: None for key, kind in fields.items() if kind.needed}
    if not isinstance(given, dict):
        found.append(InputError(f"[{name}]", given, say("batch_file.not_a_value"), f"[{name}]", f"[{name}]"))
        return told
    for key in given:
        if key not in fields:
            found.append(_not_a_key(f"{where}{key}", key, given[key], fields, [*fields, *(FIELDS if not name else ())]))
    for key, kind in fields.items():
        if kind.needed and key not in given:
            found.lack(f"{where}{key}", say("field.needed"), f"{key} = …", f"{key} = {kind.example}")
    for key in (key for key in given if key in fields):
        with found.noted():
            told[key] = fields[key].read(given[key], f"{where}{key}")
    return {key: value for key, value in told.items() if value is not None or fields[key].needed}


def _not_a_key(where: str, key: str, given, fields: dict, known: list[str]) -> InputError:
    near = alike(str(key), known, SHORTEST_KEY)
    why = say("batch_file.near", near=near[0]) if near else say("batch_file.unknown")
    return InputError(where, given, why, ", ".join(one for one in known if one), _example(fields, near))


def _example(fields: dict, near: list[str]) -> str:
    key = near[0] if near and near[0] in fields else next(iter(fields))
    return f"{key} = {fields[key].example}"


def _check_together(read: dict, typed: dict, found: Mistakes) -> None:
    """Things that are possible one by one but not together; ``read``: the sections in which all that is told can be read."""
    if "fish" in read:
        with found.noted():
            check_composition(read["fish"], found.whole)
    if "cut" in read:
        with found.noted():
            _check_sizes(read["cut"], typed["cut"])
    for name in SOAKS:
        if name in read:
            _check_ingredients(name, read[name], found)
    if "keep" in read and read["keep"].pack is not None:
        with found.noted():
            tables.pack(read["keep"].pack, field="[keep] pack")
    if "heat" in read and "fish" in read:
        with found.noted():
            _check_weights(read["heat"], read["fish"], typed)
    if "measured" in read:
        _check_samples(read["measured"], typed["measured"], found)
        if "cut" in read:
            with found.noted():
                _check_thickness_error(read["measured"], read["cut"], typed["measured"])
    if "keep" in read:
        with found.noted():
            _check_measured_at(read["keep"], typed["keep"])


def _check_sizes(cut: Cut, typed: dict) -> None:
    if cut.thickness is None:
        return
    thin, usual, thick = cut.sizes
    if thin > usual or thick < usual:
        told = [str(typed.get(name) or typed["thickness"]) for name in ("thinnest", "thickness", "thickest")]
        raise InputError(
            "[cut] thinnest, thickness, thickest", ", ".join(told), say("batch_file.not_rising"),
            "thinnest ≤ thickness ≤ thickest", 'thinnest = "5 mm", thickness = "6 mm", thickest = "8 mm"',
        )  # fmt: skip


def _check_weights(heat: Heat, fish: Fish, typed: dict) -> None:
    if heat.weight_after is None:
        return
    ratio = heat.weight_after / fish.raw_weight
    if not 0.4 <= ratio <= 1.3:
        raise InputError(
            "[heat] weight_after", typed["heat"]["weight_after"],
            say("batch_file.of_raw_weight", share=ratio, raw=typed['fish']['raw_weight']),
            say("batch_file.weight_after"), 'weight_after = "1.5 kg"',
        )  # fmt: skip


def _check_samples(measured: Measured, typed: dict, found: Mistakes) -> None:
    for name in SAMPLES:
        sample, dry = getattr(measured, f"{name}_sample"), getattr(measured, f"{name}_oven_dry")
        if sample is not None and dry is not None and not DRIEST_SAMPLE <= dry / sample < 1.0:
            found.append(InputError(
                f"[measured] {name}_oven_dry", typed[f"{name}_oven_dry"],
                say("batch_file.of_sample", share=dry / sample, sample=typed[f'{name}_sample']),
                say("batch_file.sample_allowed", least=DRIEST_SAMPLE), FIELDS["measured"][f"{name}_oven_dry"].example,
            ))  # fmt: skip


def _check_thickness_error(measured: Measured, cut: Cut, typed: dict) -> None:
    if measured.thickness_error is None or cut.thickness is None:
        return
    most = TOO_ROUGH * cut.thickness
    if measured.thickness_error > most:
        raise InputError(
            "[measured] thickness_error", typed["thickness_error"], say("measured.too_rough"),
            say("measured.at_most_half", most=show(most, "length", digits=2)), FIELDS["measured"]["thickness_error"].example,
        )  # fmt: skip


def _check_measured_at(keep: Keep, typed: dict) -> None:
    """A reading of drier fish says nothing for fish that is taken off moister."""
    if keep.measured_at is None or keep.stop_at is None or keep.measured_water_activity is None:
        return
    if keep.stop_at > keep.measured_at:
        raise InputError(
            "[keep] stop_at", typed["stop_at"], say("batch_file.measured_drier", at=typed['measured_at']),
            say("batch_file.not_heavier"), f"stop_at = {typed['measured_at']}",
        )  # fmt: skip


def _check_ingredients(name: str, soak: Soak, found: Mistakes) -> None:
    for number, row in enumerate(soak.ingredients, 1):
        with found.noted():
            if row.what is not None:
                refused.ingredient(row.what, field=f"[{name}.ingredient {number}] what")


def check_composition(fish: Fish, whole_fish: bool = True) -> None:
    """Whether a fish can be made of this; raises InputError when the species is not known or the parts do not add up.

    Parameters: whole_fish – False where more may still be told: then neither species nor composition has to be there.
    """
    own = [part for part in (fish.water, fish.protein, fish.fat, fish.ash) if part is not None]
    whole = None not in (fish.water, fish.protein, fish.fat)
    if fish.species is not None:
        record = refused.species(fish.species, field="[fish] species")
        if not record.usable and not whole:
            against = refused.of(record)
            why = say("batch_file.no_composition", note=record.note) if against is None else against.why
            raise InputError(
                "[fish] species", fish.species, why,
                say("batch_file.species_allowed"),
                "water = 78.0, protein = 19.0, fat = 2.0",
            )  # fmt: skip
    elif not whole and whole_fish:
        raise InputError(
            "[fish] species", say("error.nothing"), say("batch_file.species_needed"),
            say("batch_file.species_or_parts"), 'species = "rainbow trout, farmed"',
        )  # fmt: skip
    total = sum(own)
    if whole and not 0.93 <= total <= 1.03:
        raise InputError(
            "[fish] water, protein, fat, ash", say("batch_file.sum", percent=100 * total), say("batch_file.adds_up"),
            say("batch_file.sum_allowed"), "water = 73.8, protein = 19.9, fat = 5.1, ash = 1.2",
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
    told = {f"{section}.{key}" for key in typed}
    return replace(read_batch(changed), borrowed=tuple(path for path in batch.borrowed if path not in told))


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
        if key in batch.typed or word != {"title": say("batch_file.untitled"), "serving": SERVING}[key]
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
