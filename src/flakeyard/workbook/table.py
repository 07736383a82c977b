"""A small table that a workbook shows as a table, a terminal as text."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Table:
    """Column heads and rows, every cell in the words to be shown; sentences beneath."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    foot: tuple[str, ...] = ()

    def _repr_markdown_(self) -> str:
        lines = [self.head, ("---",) * len(self.head), *self.rows]
        escaped = ([cell.replace("|", "\\|") for cell in line] for line in lines)
        return "\n\n".join(["\n".join(f"| {' | '.join(line)} |" for line in escaped), *self.foot])

    def __repr__(self) -> str:
        return "\n".join([*("  |  ".join(line) for line in (self.head, *self.rows)), *self.foot])
