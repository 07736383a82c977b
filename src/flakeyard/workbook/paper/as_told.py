"""Amounts of what goes in, in the words in which they were told, with the other system of units beside them."""

from __future__ import annotations

from flakeyard.messages import translated
from flakeyard.steps.intent.batch_file import said
from flakeyard.steps.intent.records import Batch, Portion
from flakeyard.units import read_amount, show_kitchen

METRIC = ("g", "kg", "hg", "mg", "L", "dL", "cL", "mL", "metric tsp", "metric tbsp", "metric cup")
OF_ANY_KITCHEN = ("tsp", "tbsp", "cup", "metric tsp", "metric tbsp", "metric cup")


def ingredients(batch: Batch, name: str, units: str) -> str:
    """All that goes into the soak of a name, how much of each."""
    rows = getattr(batch, name).ingredients
    return ", ".join(
        f"{amount(batch, row.amount, units, name, 'ingredient', n, 'amount')} {translated(row.what)}"
        for n, row in enumerate(rows)
    )


def amount(batch: Batch, portion: Portion, units: str, *place) -> str:
    """So much of something, told at a place: as it was told where that still holds; in one system where only one is asked,
    but for spoons and cups, which stay beside it."""
    typed = _typed(batch, *place)
    if not typed:
        return in_kitchen(portion, units)
    unit = read_amount(typed, ("mass", "volume"), "").unit
    own = "metric" if unit in METRIC else "us"
    if units == own:
        return typed
    other = in_kitchen(portion, "us" if own == "metric" else "metric")
    return f"{typed} ({other})" if units == "both" or unit in OF_ANY_KITCHEN else other


def in_kitchen(portion: Portion, units: str) -> str:
    """A portion in the fractions of a kitchen."""
    kind, value = ("mass", portion.mass) if portion.mass is not None else ("volume", portion.volume)
    return show_kitchen(value, kind, units)


def _typed(batch: Batch, *place) -> str:
    """The words in which something was typed, where it still says the same; else nothing."""
    found = batch.typed
    for step in place:
        found = (
            found[step]
            if isinstance(found, list) and step < len(found)
            else found.get(step, {})
            if isinstance(found, dict)
            else {}
        )
    return found if found and found == said(batch, *place) else ""
