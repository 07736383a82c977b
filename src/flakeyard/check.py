"""Published values beside what is computed here: every row of data/check_values, run and told."""

from __future__ import annotations

import functools
import importlib
import textwrap
from dataclasses import dataclass
from itertools import groupby

from flakeyard import tables
from flakeyard.frames import frame_of
from flakeyard.messages import number, say

COLUMNS = ("id", "topic", "unit", "published", "computed", "difference", "tolerance", "within", "source", "obtained")
ROUNDING = 1e-12  # of the published value: floating point, not physics


@dataclass(frozen=True)
class Result:
    """One published value and what our function gives for it."""

    id: str
    topic: str
    function: str
    published: float
    computed: float
    tolerance: float
    unit: str
    source: str
    locator: str
    obtained: str
    why_tolerance: str

    @property
    def difference(self) -> float:
        return self.computed - self.published

    @property
    def within(self) -> bool:
        return abs(self.difference) <= self.tolerance + ROUNDING * abs(self.published)


def run() -> list[Result]:
    """Compute every check value of the package."""
    return [compute(row) for row in tables.check_values()]


def frame():
    """Every check value as a DataFrame: published beside computed, in the unit of its row, and whether it is met."""
    return frame_of([{name: getattr(result, name) for name in COLUMNS} for result in run()], "id")


def compute(row: tables.CheckValue) -> Result:
    """Compute one check value."""
    import numpy as np

    inputs = {name: np.array(given) if isinstance(given, list) else given for name, given in row.inputs.items()}
    given = function_named(row.function)(**inputs)
    value = np.asarray(getattr(given, "value", given), dtype=float).item()
    return Result(
        id=row.id,
        topic=row.topic,
        function=row.function,
        published=row.expected,
        computed=value,
        tolerance=row.atol + row.rtol * abs(row.expected),
        unit=row.unit,
        source=str(row.source),
        locator=row.locator,
        obtained=row.obtained,
        why_tolerance=row.why_tolerance,
    )


def function_named(path: str):
    """The function at a dotted path below the package, such as models.solutions.nacl_density."""
    module, _, name = path.rpartition(".")
    return getattr(importlib.import_module(f"flakeyard.{module}"), name)


def only_from_memory() -> list[str]:
    """Functions that nothing but recalled values supports."""
    obtained: dict[str, set[str]] = {}
    for row in tables.check_values():
        obtained.setdefault(row.function, set()).add(row.obtained)
    return sorted(function for function, how in obtained.items() if how == {"memory"})


def table(results: list[Result], width: int = 80) -> str:
    """The results as text: a section for each topic, in it a block for each source, and a summary at the end."""
    heading = _line(
        width, *(say(f"check.{name}") for name in ("value", "published", "computed", "difference", "unit")), ""
    )
    lines = []
    for topic, rows in groupby(sorted(results, key=_place), key=lambda result: result.topic):
        lines += ["", topic.replace("_", " ").upper(), heading, "-" * width]
        for source, block in groupby(rows, key=lambda result: result.source):
            lines += textwrap.wrap(say("check.source", source=source), width)
            lines += [_row(width, result) for result in block]
    return "\n".join([*lines[1:], "", *_summary(results, width)])


def _place(result: Result) -> tuple[str, str]:
    return result.topic, result.source


def _row(width: int, result: Result) -> str:
    mark = "" if result.within else "!"
    note = {"memory": "m", "computed": "c"}.get(result.obtained, "") + mark
    return _line(
        width,
        result.id,
        number(result.published, ".6g"),
        number(result.computed, ".6g"),
        number(result.difference, "+.2g"),
        result.unit,
        note,
    )


def _line(width: int, name: str, published: str, computed: str, difference: str, unit: str, note: str) -> str:
    room = width - 50
    name = name if len(name) <= room else f"{name[: room - 1]}…"
    return f"{name:<{room}} {published:>11} {computed:>11} {difference:>11} {unit[:9]:<9} {note:<2}".rstrip()


def _summary(results: list[Result], width: int) -> list[str]:
    wrap = functools.partial(textwrap.wrap, width=width)
    outside = [result.id for result in results if not result.within]
    lines = wrap(say("check.summary", values=len(results), within=len(results) - len(outside)))
    if outside:
        lines += wrap(say("check.outside", names=", ".join(outside)))
    if recalled := only_from_memory():
        lines += wrap(say("check.recalled", names=", ".join(recalled)))
    return lines
