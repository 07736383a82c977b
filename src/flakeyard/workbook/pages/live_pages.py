"""Pictures one can touch, without Python: a lesson's panel at every setting of a few of its handles, in one page.

The panel itself answers beforehand what a hand could ask (`panels.live`), in both unit systems, and the page looks the
answers up: same picture, same words, same cautions. Handles that a page leaves out stand where they stand for the batch.
"""

from __future__ import annotations

import base64
import html
import itertools
import json
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from importlib.resources import files

from flakeyard.messages import code, say, unfilled
from flakeyard.remembered import Remembered
from flakeyard.steps.intent.records import Batch
from flakeyard.workbook.panels import live
from flakeyard.workbook.panels.air import air_panel
from flakeyard.workbook.panels.keeping import keeping_panel
from flakeyard.workbook.panels.live import Lesson, Live
from flakeyard.workbook.panels.panel import Choice
from flakeyard.workbook.panels.salt import salt_panel

HOUR = 3600.0
SYSTEMS = ("metric", "us")
# Of a record: the page makes them itself, or has none.
LEFT_OUT = ("values", "ghost", "guess", "guessed", "reply", "spoken")


@dataclass(frozen=True)
class LivePage:
    """A page: its file's name, the panel it shows, and the handles it keeps, each from a low to a high mark in steps."""

    name: str
    panel: Callable[..., Live]
    marks: dict[str, tuple[float, float, float]]

    @property
    def file(self) -> str:
        return f"explorer-{self.name}.html"


PAGES = (
    LivePage("salt-through", salt_panel, {
        "thickness": (0.003, 0.015, 0.002), "strength": (0.04, 0.24, 0.04), "time": (2 * HOUR, 22 * HOUR, 4 * HOUR), "waters": (0, 4, 2),
    }),
    LivePage("dryer-box", air_panel, {"load": (0.5, 3.0, 0.5), "temperature": (40, 75, 5), "hours": (0, 12 * HOUR, HOUR)}),
    LivePage("pack-and-room", keeping_panel, {"pack": (0, 7, 1), "humidity": (0.3, 0.9, 0.2), "spot": (0, 7, 1), "day": (0, 42, 14)}),
)  # fmt: skip


def lesson_of(page: LivePage, batch: Batch) -> Lesson:
    """The panel's lesson with the handles of the page alone, and nothing to guess: only Python can answer a guess."""
    whole = page.panel(batch).lesson
    fixed = {one.name: one.start for one in whole.controls if one.name not in page.marks}
    kept = [_coarser(one, *page.marks[one.name]) for one in whole.controls if one.name in page.marks]
    worked_out = Remembered(most=None)

    def compute(**values):
        return worked_out(tuple(values.values()), lambda: whole.compute(**fixed | values))

    return replace(
        whole, controls=tuple(kept), compute=compute, reply=None, guess_prompt="", start={}, back=None,
        in_view=tuple(one.name for one in kept), plays=whole.plays if whole.plays in page.marks else "",
    )  # fmt: skip


def _coarser(control, low: float, high: float, step: float):
    wide = replace(control, low=low, high=high, step=step, start=low)
    return replace(wide, start=wide.nearest(control.start))


def states(lesson: Lesson) -> Iterator[tuple[dict[str, float], str]]:
    """Every setting of a lesson, and the key under which the page looks it up: the numbers of the marks."""
    for place in itertools.product(*(range(len(one.values())) for one in lesson.controls)):
        values = {one.name: one.values()[mark] for one, mark in zip(lesson.controls, place, strict=True)}
        yield values, ",".join(map(str, place))


def data_of(lesson: Lesson) -> dict:
    """What the page needs: the setups and, for every setting, what the panel shows and says in both systems."""
    panels = {system: Live(lesson, Choice(system)) for system in SYSTEMS}
    told = {system: {} for system in SYSTEMS}
    for values, key in states(lesson):
        for system, panel in panels.items():
            told[system][key] = _kept(panel.at(**values), lesson)
            if panel.trouble:
                raise panel.trouble
    return {
        "setups": {system: panel.setup for system, panel in panels.items()}, "states": told, "short": live.SHORT,
        "words": {name: unfilled("live.")[name] for name in ("before", "changed", "stands")},
    }  # fmt: skip


def _kept(record: dict, lesson: Lesson) -> dict:
    """A record without what the page makes itself, and without handles and buttons of what it cannot move."""
    marks = {one.name: one.values() for one in lesson.controls}
    kept = {name: value for name, value in record.items() if name not in LEFT_OUT}
    return kept | {
        "handles": [one for one in record["handles"] if one["control"] in marks],
        "buttons": [one for one in record["buttons"] if one["value"] in marks.get(one["control"], ())],
        "values": record["values"],
        "guess": None,
        "reply": "",
    }


def text_of(page: LivePage, batch: Batch) -> str:
    """The whole page, which asks for nothing."""
    lesson = lesson_of(page, batch)
    packed = base64.b64encode(zlib.compress(json.dumps(data_of(lesson), separators=(",", ":")).encode(), 6)).decode()
    text = files("flakeyard.workbook").joinpath("pages", "live_page.html").read_text(encoding="utf-8")
    words = {
        "NAME": say("page.of_lesson", lesson=lesson.title), "TITLE": say("page.title", title=batch.title), "UNITS": say("page.units"), "METRIC": say("page.metric"), "US": say("page.us"), "OLD": say("page.old"),
        "FOOT": say("page.foot", title=batch.title), "LANG": code(),
    }  # fmt: skip
    for mark, value in words.items():
        text = text.replace(f"@{mark}@", html.escape(value))
    for mark, name in (("CSS", "live.css"), ("JS", "live.js")):
        text = text.replace(f"@{mark}@", live.SOURCE.joinpath(name).read_text(encoding="utf-8"))
    return text.replace("@DATA@", packed)
