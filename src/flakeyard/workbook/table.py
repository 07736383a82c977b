"""Tables and texts that a workbook sets as such, and a terminal prints line by line."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping
from dataclasses import dataclass

from flakeyard import check, tables
from flakeyard.frames import frame_of
from flakeyard.messages import number, say

WORDS = 40  # letters of a source
DECIMALS = 6  # the most of a check value that are shown


@dataclass(frozen=True)
class Table:
    """Column heads and rows, every cell in the words to be shown; sentences beneath."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    foot: tuple[str, ...] = ()

    def frame(self):
        """The same as a DataFrame of words, to go on working with."""
        return frame_of([dict(zip(self.head, row, strict=True)) for row in self.rows])

    def _repr_markdown_(self) -> str:
        lines = [self.head, ("---",) * len(self.head), *self.rows]
        escaped = ([cell.replace("|", "\\|") for cell in line] for line in lines)
        return "\n\n".join(["\n".join(f"| {' | '.join(line)} |" for line in escaped), *self.foot])

    def __repr__(self) -> str:
        return "\n".join([*("  |  ".join(line) for line in (self.head, *self.rows)), *self.foot])


def heads(name: str) -> tuple[str, ...]:
    """The heads of a table's columns: one message, divided by bars."""
    return tuple(say(name).split("|"))


@dataclass(frozen=True)
class Text:
    """Sentences, as paragraphs or as a list."""

    lines: tuple[str, ...]
    listed: bool = True

    def _repr_markdown_(self) -> str:
        return "\n".join(f"- {line}" for line in self.lines) if self.listed else "\n\n".join(self.lines)

    def __repr__(self) -> str:
        return "\n".join(self.lines)


def check_table(wanted: Mapping[str, str]) -> Table:
    """Published values, by the id of the check value and what to call it, beside what is computed here."""
    found = {row.id: check.compute(row) for row in tables.check_values() if row.id in wanted}
    rows = tuple(_checked(name, found[id]) for id, name in wanted.items())
    return Table(heads("table.check"), rows)


def _checked(name: str, row: check.Result) -> tuple[str, ...]:
    places = min(max(0, -math.floor(math.log10(row.tolerance))), DECIMALS)
    plain, signed = f".{places}f", f"+.{places}f"
    numbers = number(row.published, plain), number(row.computed, plain), number(row.difference, signed)
    by = next(part for part in row.source.split(", ") if not part.isdigit())  # not a year without authors
    short = textwrap.shorten(by, WORDS, placeholder=" …")
    seen = say("table.from_memory", source=short) if row.obtained == "memory" else short
    return name, *numbers, number(row.tolerance, plain), seen
