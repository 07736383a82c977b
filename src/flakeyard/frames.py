"""Results as tables to go on working with: DataFrames and Quantities of numbers that carry their spread.

pandas and pint are loaded when a frame or a Quantity is asked for, not before. What is not known is <NA> in a frame:
asked whether it is more or less than something, it answers with an error and never with "no".
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from flakeyard.messages import joined, say
from flakeyard.units import InputError, registry

ENDS = ("low", "middle", "high")  # 10th, 50th and 90th percentile
PINT_UNITS = {"%": "percent", "°C": "degC", "°SAL": "", "": ""}  # others are called the same


@dataclass(frozen=True)
class PredictedNumber:
    """A predicted number in the unit in which it is read: 10th, 50th and 90th percentile, None where not known."""

    unit: str
    low: float | None
    middle: float | None
    high: float | None

    def head(self, name: str) -> str:
        """A name with the unit behind it."""
        return headed(name, self.unit)


def headed(name: str, unit: str) -> str:
    """A name with its unit: "hours [h]"; alone where it has none."""
    return f"{name} [{unit}]" if unit else name


def frame_of(rows: Iterable[Mapping], index: str | None = None):
    """A DataFrame of rows, its columns in the order of the first; None becomes <NA>."""
    import pandas as pd

    rows = list(rows)
    columns = {name: [row[name] for row in rows] for name in (rows[0] if rows else ())}
    frame = pd.DataFrame({name: pd.Series(cells, dtype=_dtype(cells)) for name, cells in columns.items()})
    return frame.set_index(index) if index else frame


def _dtype(cells: list) -> str:
    """A kind of column in which what is not known is <NA>."""
    kinds = {type(cell) for cell in cells if cell is not None}
    return "boolean" if kinds == {bool} else "string" if kinds == {str} else "Float64"


class Predicted:
    """A result whose numbers carry their spread. Whoever is one says ``numbers()`` and ``caution()``."""

    def numbers(self) -> dict[str, PredictedNumber]:
        """What is predicted, by the name that `quantity` knows and a frame shows."""
        raise NotImplementedError

    def caution(self) -> str:
        """What must be read beside the numbers."""
        raise NotImplementedError

    def frame(self):
        """A DataFrame with a row for each number, "hours [h]" the name of one: low, middle, high (10th, 50th, 90th
        percentile; <NA> where not known), and the caution that goes with it."""
        caution = self.caution()
        rows = (
            {"what": one.head(name), **{end: getattr(one, end) for end in ENDS}, "caution": caution}
            for name, one in self.numbers().items()
        )
        return frame_of(rows, "what")

    def quantity(self, what: str, end: str | None = None):
        """A number as a pint Quantity: low, middle and high together, or one end of it.

        Parameters: what – a name of `numbers`, such as "hours"; end – "low", "middle" or "high"
        Raises: InputError for another name; ValueError where it is not known
        """
        numbers = self.numbers()
        one = numbers[known(what, numbers, "what")]
        ends = ENDS if end is None else (known(end, ENDS, "end"),)
        values = [getattr(one, name) for name in ends]
        if None in values:
            raise ValueError(say("table.not_known", what=what, ends=joined("words.and", ends)))
        return quantity_of(values if end is None else values[0], one.unit)


def quantity_of(values, unit: str):
    """A number, or several as one array, as a pint Quantity in a unit as it is read ("%", "°C", "h" …)."""
    import numpy as np

    magnitude = np.asarray(values, float) if isinstance(values, list) else values
    return registry().Quantity(magnitude, PINT_UNITS.get(unit, unit))


def known(name: str, names: Iterable[str], field: str) -> str:
    """The name, where it is one of these. Raises: InputError."""
    names = list(names)
    if name in names:
        return name
    raise InputError(field, name, say("table.no_such"), " | ".join(names), f'"{names[0]}"')
