"""Quantities at the front door: a pint Quantity as the words a learner would have typed, and an amount as text.

A Quantity may come from any registry. pint is loaded only where a Quantity is made; as long as it is not, nothing can
be one.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Mapping

import numpy as np

from flakeyard import units
from flakeyard.messages import joined, say
from flakeyard.units import KINDS, Amount, InputError, read_amount

TYPED_IN = {  # kinds that a dimension tells apart: the unit to write a Quantity in, for pint and as it is typed
    "mass": ("gram", "g"), "volume": ("milliliter", "mL"), "length": ("millimeter", "mm"), "area": ("centimeter ** 2", "cm2"),
    "temperature": ("degree_Celsius", "°C"), "time": ("second", "s"), "power": ("watt", "W"), "energy": ("kilowatt_hour", "kWh"),
    "flow": ("kilogram / hour", "kg/h"), "volume_flow": ("meter ** 3 / hour", "m3/h"), "velocity": ("meter / second", "m/s"),
    "pressure": ("kilopascal", "kPa"), "density": ("kilogram / liter", "kg/L"), "percent": ("percent", "%"),
}  # fmt: skip
DIGITS = 15  # of a Quantity that count: those below are the noise of changing units
KINDS_TYPED = (*TYPED_IN, "brix", "salometer")


def is_quantity(value) -> bool:
    """Whether a value is a pint Quantity, of whatever registry."""
    pint = sys.modules.get("pint")
    return pint is not None and isinstance(value, pint.Quantity)


def kind_of(quantity, field: str = "amount") -> str:
    """The kind of amount a Quantity is, a name of KINDS. Raises: InputError for a difference, or for no kind of ours."""
    if "delta_" not in str(quantity.units):
        for kind, (unit, _) in TYPED_IN.items():
            if quantity.is_compatible_with(unit):
                return kind
    words = ", ".join(KINDS[kind].words for kind in TYPED_IN)
    raise InputError(
        field,
        str(quantity),
        say("amount.it_is_in", units=quantity.units),
        words,
        joined("words.or", ('Quantity(6, "mm")', '"6 mm"')),
    )


def number_in(quantity, unit: str, field: str = "amount") -> float:
    """One finite number: a Quantity in a unit. Raises: InputError."""
    allowed = say("amount.one_number_in", unit=unit) if unit else say("amount.one_number")
    try:
        number = float(quantity.m_as(unit))
    except (TypeError, ValueError) as mistake:  # of pint, for another dimension; of an array
        raise InputError(field, str(quantity), str(mistake), allowed, f'Quantity(2, "{unit}")') from None
    if not math.isfinite(number):
        raise InputError(field, str(quantity), say("amount.no_number"), allowed, f'Quantity(2, "{unit}")')
    return number


def typed(value, field: str = "amount"):
    """A Quantity or an Amount in the words a learner would have typed; anything else as it is."""
    if isinstance(value, Amount):
        return value.typed
    if not is_quantity(value):
        return value
    unit, name = TYPED_IN[kind_of(value, field)]
    number = float(f"{number_in(value, unit, field):.{DIGITS}g}")
    return f"{np.format_float_positional(number, trim='-')} {name}"


def amount(given, kind: str | None = None) -> Amount:
    """Read an amount: typed text such as "1 1/2 cup", "6 mm", "145 °F", or a Quantity.

    Parameters: kind – what it must be ("mass", "length", "temperature" …); without it any kind of amount
    Returns: Amount – ``value`` in SI (temperature in °C, per cent as a fraction), ``kind``, ``quantity``
    Raises: InputError saying what was given, why it cannot be used, what is allowed, and an example
    Example:
        >>> amount("1/4 in").value
        0.00635
    """
    return read_amount(typed(given), kind or KINDS_TYPED, "amount")


def show(value, kind: str | None = None, system: str = "both", digits: int = 2) -> str:
    """An amount as text in metric units, US units or both; an array of amounts as a range.

    Parameters: value – typed text, Amount, Quantity, or a number in SI together with its kind, where None is "not known";
        kind – "mass", "length", "time" …, for a bare number; system – "metric", "us", "both" (metric first) or
        "both-us"; digits – significant digits
    Returns: str
    Raises: InputError
    Example:
        >>> show("6 mm")
        '6 mm (0.24 in)'
    """
    if isinstance(value, str):
        value = amount(value, kind)
    if isinstance(value, Amount):
        value, kind = value.value, value.kind
    if is_quantity(value):
        kind = kind_of(value)
        value = value.m_as(KINDS[kind].pint_unit)
    if kind not in KINDS:
        raise InputError("kind", kind, say("amount.bare_number"), " | ".join(KINDS), 'show(0.006, "length")')
    ends = (min(value), max(value)) if getattr(value, "ndim", 0) else (value, value)
    return units.show_band(*ends, kind, system, digits)


def in_words(given, kinds: Mapping, place: str = ""):
    """What is told of a batch, with every Quantity in it as a batch file would say it.

    Parameters: kinds – by key the kind of a field (`fields`), or such a table for a section
    """
    if isinstance(given, Mapping):
        return {key: in_words(one, _of(kinds, key), key) for key, one in given.items()}
    if isinstance(given, list | tuple):
        return [in_words(one, kinds, place) for one in given]
    if is_quantity(given) and hasattr(kinds, "share"):  # a bare number there
        return number_in(given, _bare_unit(place, kinds.share), place)
    return typed(given, place)


def _of(kinds, key: str):
    return kinds.get(key, {}) if isinstance(kinds, Mapping) else {}


def _bare_unit(key: str, share: bool) -> str:
    """The unit in which a batch file writes a bare number."""
    if share:
        return "percent"
    return "hour" if key.startswith("hours_") else "day" if key.endswith("_days") else ""
