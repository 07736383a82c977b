"""What lies outside the range on which a formula was tested, in a learner's words, and whether a verdict may still stand.

Every step asks here about its own formulas and hands the words on. Where the formula carries the verdict (`decides`),
the verdict is then "not known"; where it only colours a picture or a side number, the words are a note.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flakeyard.messages import say
from flakeyard.models.inputs import Range
from flakeyard.units import show, show_band

KINDS = {"m": "length", "°C": "temperature", "degC": "temperature", "m/s": "velocity", "Pa": "pressure"}
PER_CENT = ("kg/kg", "kg per kg brine")
CALLED = ("solute_fraction", "strength_fraction", "fat_fraction")  # inputs that have another name here: tested.called.…
ROUNDING = 1e-9  # of a bound: a typed amount that lies on it is inside


@dataclass(frozen=True)
class Outside:
    """One thing outside one tested range: the words, whether they decide a verdict, and the words without the formula where
    they begin with it."""

    formula: str
    words: str
    decides: bool
    rest: str = ""


def of_formula(tested: Range, rest: str, decides: bool) -> Outside:
    """What is said of one formula by its name."""
    return Outside(tested.formula, say("tested.said_of", formulas=tested.formula, rest=rest), decides, rest)


def beyond(tested: Range, decides: bool, **inputs) -> tuple[Outside, ...]:
    """What of some inputs [units of the range] lies outside a tested range; of many members the middle counts."""
    found = []
    for name, value in inputs.items():
        low, high, unit = tested.bounds[name]
        middle = float(np.median(value))
        if not low - ROUNDING <= middle <= high + ROUNDING:
            limits, own = _told(low, high, unit), _told(middle, middle, unit)
            what = say(f"tested.called.{name}" if name in CALLED else f"tested.of.{name}")
            found.append(of_formula(tested, say("tested.beyond", what=what, given=own, limits=limits), decides))
    return tuple(found)


def _told(low: float, high: float, unit: str) -> str:
    if unit in KINDS:
        return show_band(low, high, KINDS[unit], "both") if low < high else show(low, KINDS[unit], "both")
    if unit in PER_CENT:
        return show_band(low, high, "percent", digits=3) if low < high else show(low, "percent", digits=3)
    return say("tested.limits", low=low, high=high, unit="").strip() if low < high else say("tested.one", number=low)


def joined(*parts: tuple[Outside, ...]) -> tuple[Outside, ...]:
    """All that several steps said, each once."""
    return tuple(dict.fromkeys(one for part in parts for one in part))


def spoken(outside: tuple[Outside, ...]) -> tuple[str, ...]:
    """The sentences; formulas that say the same of the same thing share one."""
    said: dict[str, list[Outside]] = {}
    for one in outside:
        said.setdefault(one.rest or one.words, []).append(one)
    return tuple(
        say("tested.said_of", formulas=", ".join(one.formula for one in those), rest=rest)
        if all(one.rest for one in those)
        else rest
        for rest, those in said.items()
    )
