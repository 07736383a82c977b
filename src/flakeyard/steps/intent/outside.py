"""What lies outside the range on which a formula was tested, in a learner's words, and whether a verdict may still stand.

Every step asks here about its own formulas and hands the words on. Where the formula carries the verdict (`decides`),
the verdict is then "not known"; where it only colours a picture or a side number, the words are a note.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flakeyard.models.inputs import Range
from flakeyard.units import show, show_band

KINDS = {"m": "length", "°C": "temperature", "degC": "temperature", "m/s": "velocity", "Pa": "pressure"}
PER_CENT = ("kg/kg", "kg per kg brine")
WORDS = {"solute_fraction": "strength", "strength_fraction": "salt in the water of the flesh", "fat_fraction": "fat"}
ROUNDING = 1e-9  # of a bound: a typed amount that lies on it is inside


@dataclass(frozen=True)
class Outside:
    """One thing outside one tested range: the words, and whether they decide a verdict."""

    formula: str
    words: str
    decides: bool


def beyond(tested: Range, decides: bool, **inputs) -> tuple[Outside, ...]:
    """What of some inputs [units of the range] lies outside a tested range; of many members the middle counts."""
    found = []
    for name, value in inputs.items():
        low, high, unit = tested.bounds[name]
        middle = float(np.median(value))
        if not low - ROUNDING <= middle <= high + ROUNDING:
            limits, own = _told(low, high, unit), _told(middle, middle, unit)
            what = WORDS.get(name, name.replace("_", " "))
            found.append(
                Outside(tested.formula, f"{tested.formula}: {what} {own}, but it was tested for {limits}", decides)
            )
    return tuple(found)


def _told(low: float, high: float, unit: str) -> str:
    if unit in KINDS:
        return show_band(low, high, KINDS[unit], "both") if low < high else show(low, KINDS[unit], "both")
    if unit in PER_CENT:
        return show_band(low, high, "percent", digits=3) if low < high else show(low, "percent", digits=3)
    return f"{low:g} to {high:g}" if low < high else f"{low:.3g}"


def joined(*parts: tuple[Outside, ...]) -> tuple[Outside, ...]:
    """All that several steps said, each once."""
    return tuple(dict.fromkeys(one for part in parts for one in part))


def spoken(outside: tuple[Outside, ...]) -> tuple[str, ...]:
    """The sentences; formulas that say the same of the same thing share one."""
    said: dict[str, list[str]] = {}
    for one in outside:
        formula, _, rest = one.words.partition(": ") if one.words.startswith(one.formula) else ("", "", one.words)
        said.setdefault(rest, []).append(formula)
    return tuple(f"{', '.join(formulas)}: {rest}" if all(formulas) else rest for rest, formulas in said.items())
