"""Every limit once: what decides a verdict, an aim, a caution or a sentence, as a plain number by its name.

``limits.GROWTH_TOP`` is the row ``growth_top`` of ``data/limits.csv``. Temperatures are in degC, whatever the source
prints; all else is in the unit of its row. A name that is not there is refused with the names nearest to it. How long a
kind of food may be kept is another table, ``data/keeping_caps.csv``; what a formula was tested on stands beside it.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass

from flakeyard.messages import joined, say
from flakeyard.tables import Record, read_records

__all__ = ["LIMITS", "Limit"]


@dataclass(frozen=True, kw_only=True)
class Limit(Record):
    """One limit as its source prints it; ``rule`` holds the rules that read it or say it, empty where none does."""

    id: str
    what: str
    value: float
    unit: str
    rule: str
    note: str

    @property
    def number(self) -> float:
        """The value as it is reckoned with: degrees Fahrenheit turned into degC, without rounding."""
        return (self.value - 32.0) / 1.8 if self.unit == "degF" else self.value

    def __str__(self) -> str:
        unit = "degC" if self.unit == "degF" else self.unit
        printed = f", printed as {self.value:g} degF" if self.unit == "degF" else ""
        return f"{self.id.upper()} = {self.number:.6g} {unit}".rstrip() + f": {self.what} ({self.source_id}{printed})"


LIMITS = {row.id.upper(): row for row in read_records("limits.csv", Limit)}
globals().update({name: row.number for name, row in LIMITS.items()})
__doc__ += "\n" + "\n".join(map(str, LIMITS.values()))  # so that help(limits) tells unit and source of each


def __getattr__(name: str):
    near = difflib.get_close_matches(name.upper(), LIMITS, 3, cutoff=0.5)
    meant = joined("words.or", near) or say("limits.any")
    raise AttributeError(say("limits.none", name=name, meant=meant))
