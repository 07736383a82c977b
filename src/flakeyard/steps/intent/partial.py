"""A batch of which only a part is told: its file holds what was told and nothing else.

What no batch can do without is borrowed from another batch to compute with, and named in ``Batch.borrowed``; nothing
else of that batch is taken over, and no verdict rests on what is borrowed.
"""

from __future__ import annotations

from dataclasses import replace

from flakeyard.steps.intent.batch_file import read_batch, written
from flakeyard.steps.intent.fields import FIELDS, NEEDED
from flakeyard.steps.intent.records import Batch

COMPOSITION = {"species", "water", "protein", "fat"}  # a fish is told by its species, or by the other three
ANY_NAME = "My own batch"


def filled(told: dict, lender: Batch) -> Batch:
    """A batch from what is told (as TOML gives it), with the parts that are needed besides as the lender has them.

    Raises: InputError on the first mistake in what is told, or where it does not go together with what is borrowed
    """
    lent = written(lender)
    borrowed = {name: _missing(name, told.get(name)) for name in (*NEEDED, "brine")}
    whole = {"title": ANY_NAME} | {name: value for name, value in told.items() if value != {}}
    for name, keys in borrowed.items():
        if keys:
            whole[name] = told.get(name, {}) | {key: lent[name][key] for key in keys if key in lent[name]}
    paths = tuple(f"{name}.{key}" for name, keys in borrowed.items() for key in keys)
    return replace(read_batch(whole), borrowed=paths)


def _missing(name: str, told) -> list[str]:
    """Keys of a section without which no batch can be made."""
    if told is not None and not isinstance(told, dict):
        return []  # the reader says what is wrong with it
    section = told or {}
    if name == "brine":
        return ["ingredient"] if section and "ingredient" not in section else []
    missing = [key for key, kind in FIELDS[name].items() if kind.needed and key not in section]
    whole = "species" in section or section.keys() >= COMPOSITION - {"species"}
    return [*(["species"] if name == "fish" and not whole else []), *missing]


def borrowed_words(batch: Batch) -> str:
    """What is borrowed, in words: a section alone where nothing of what it needs is told; "" for nothing."""
    words = []
    for name in (*NEEDED, "brine"):
        keys = [path.split(".")[1] for path in batch.borrowed if path.startswith(f"{name}.")]
        all_of_it = keys == _missing(name, None)
        words += [name] if keys and all_of_it else [f"{name} {key.replace('_', ' ')}" for key in keys]
    return ", ".join(words)


def retold(told: dict, section: str, **typed) -> dict:
    """What is told, with fields of one section typed anew; None takes a field out, and an empty section goes too."""
    changed = {key: value for key, value in (told.get(section, {}) | typed).items() if value is not None}
    rest = {name: value for name, value in told.items() if name != section}
    return rest | ({section: changed} if changed else {})
