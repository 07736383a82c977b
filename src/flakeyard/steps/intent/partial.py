"""A batch of which only a part is told: its file holds what was told and nothing else.

What no batch can do without is borrowed from another batch to compute with, and named in ``Batch.borrowed``; nothing
else of that batch is taken over, and no verdict rests on what is borrowed.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace

from flakeyard.messages import say
from flakeyard.steps.intent.batch_file import read_batch, written
from flakeyard.steps.intent.fields import FIELDS, INGREDIENT, LISTS, NEEDED, SOAKS
from flakeyard.steps.intent.records import Batch

COMPOSITION = {"species", "water", "protein", "fat"}  # a fish is told by its species, or by the other three
BEGUN = (*SOAKS, "rest", *LISTS, "heat")  # sections that may be left out, but not half told


def filled(told: dict, lender: Batch) -> Batch:
    """A batch from what is told (as TOML gives it), with the parts that are needed besides as the lender has them.

    A section that was begun is needed to its end; what the lender does not have of it is an example of the table of
    fields. Raises: InputError on the first mistake in what is told, or where it does not go together with what is borrowed
    """
    lent, paths = _lent(written(lender), told), []
    whole = {"title": say("borrowed.title")} | {
        name: value for name, value in told.items() if value != {} or name in BEGUN
    }
    for name in (*NEEDED, *(name for name in BEGUN if name in told)):
        section, begun = told.get(name, {}), lent.get(name, {})
        if isinstance(section, dict):
            keys = _missing(name, section)
            whole[name] = section | {key: begun[key] if key in begun else _example(name, key) for key in keys}
            paths += [f"{name}.{key}" for key in keys]
            if isinstance(section.get("ingredient"), list) and "ingredient" not in keys:
                whole[name]["ingredient"] = _rows(section["ingredient"], INGREDIENT, f"{name}.ingredient", paths)
        elif name in LISTS and isinstance(section, list):
            whole[name] = _rows(section, FIELDS[name], name, paths)
    return replace(read_batch({name: one for name, one in whole.items() if one != {}}), borrowed=tuple(paths))


def _lent(lent: dict, told: dict) -> dict:
    """What may be borrowed, so that it can go together with what is told: a size between sizes, a weight like a weight."""
    cut, heat = (dict(one) if isinstance(one := told.get(name), dict) else {} for name in ("cut", "heat"))
    size, weight = cut.get("thinnest", cut.get("thickest")), heat.get("weight_after")
    like = {"cut": {"thickness": size} if size else {}, "fish": {"raw_weight": weight} if weight else {}}
    return {
        name: section | like.get(name, {}) if isinstance(section, dict) else section for name, section in lent.items()
    }


def _rows(told: list, fields: dict, place: str, paths: list[str]) -> list:
    """Rows of a list with examples of what they need besides; ``paths`` grows by what that is."""
    rows = []
    for number, row in enumerate(told, 1):
        keys = [key for key, kind in fields.items() if kind.needed and key not in row] if isinstance(row, dict) else []
        paths += [f"{place}.{number}.{key}" for key in keys]
        rows.append(row | {key: _value(fields[key]) for key in keys} if keys else row)
    return rows


def _example(name: str, key: str):
    if key == "ingredient":
        return [{one: _value(INGREDIENT[one]) for one in ("what", "amount")}]
    return _value(FIELDS[name][key])


def _value(kind):
    """An example of a field as TOML gives it."""
    return tomllib.loads(f"one = {kind.example}")["one"]


def _missing(name: str, section: dict) -> list[str]:
    """Keys of a section without which no batch can be made."""
    missing = [key for key, kind in FIELDS[name].items() if kind.needed and key not in section]
    whole = "species" in section or section.keys() >= COMPOSITION - {"species"}
    ingredients = ["ingredient"] if name in SOAKS and not section.get("ingredient") else []
    return [*(["species"] if name == "fish" and not whole else []), *ingredients, *missing]


def nothing_told(batch: Batch) -> bool:
    """Whether all that a batch is computed with is borrowed: nobody has told anything of it."""
    sections = {name: one for name, one in batch.typed.items() if name != "title"}
    keys = (f"{name}.{key}" for name, one in sections.items() for key in (one if isinstance(one, dict) else ["1"]))
    return bool(batch.borrowed) and set(keys) <= set(batch.borrowed)


def borrowed_words(batch: Batch) -> str:
    """What is borrowed, in words: a section alone where nothing of what it needs is told; "" for nothing."""
    words = []
    for name in (*NEEDED, *BEGUN):
        keys = [path.split(".", 1)[1] for path in batch.borrowed if path.startswith(f"{name}.")]
        all_of_it = name in NEEDED and keys == _missing(name, {})
        whole = say(f"borrowed.{name}") if keys and all_of_it else ""
        words += [whole] if whole else [say(f"borrowed.{name}.{_numberless(key)}") for key in keys]
    return ", ".join(dict.fromkeys(words))


def _numberless(key: str) -> str:
    return ".".join(part for part in key.split(".") if not part.isdigit())


def retold(told: dict, section: str, **typed) -> dict:
    """What is told, with fields of one section typed anew; None takes a field out, and an empty section goes too."""
    changed = {key: value for key, value in (told.get(section, {}) | typed).items() if value is not None}
    rest = {name: value for name, value in told.items() if name != section}
    return rest | ({section: changed} if changed else {})
