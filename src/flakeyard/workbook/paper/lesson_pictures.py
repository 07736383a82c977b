"""The pictures of a lesson for a class with pencils: axes to sketch a guess on, a cut to shade, the picture left empty, and
the panel at three settings of its first handle, as it stands on a screen."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from flakeyard.workbook import own
from flakeyard.workbook.panels import batch_book
from flakeyard.workbook.panels.air import air_panel
from flakeyard.workbook.panels.brine import brine_panel
from flakeyard.workbook.panels.fish import fish_panel
from flakeyard.workbook.panels.keeping import keeping_panel
from flakeyard.workbook.panels.live import Live
from flakeyard.workbook.panels.logbook import LogbookPanel
from flakeyard.workbook.panels.panel import Choice
from flakeyard.workbook.panels.salt import salt_panel
from flakeyard.workbook.panels.water import water_panel
from flakeyard.workbook.panels.weight import weight_panel
from flakeyard.workbook.panels.whole_batch import whole_batch_panel

WALLS, ZONES = ("outline", "rung"), ("untested", "zone")  # what is there before anything is found out
LEVELS = ("stop", "end", "later")  # lines that a guess is about
AT = {  # number of a lesson: how its workbook opens the panel, and the three marks of the first handle (None: where it begins)
    "00": (lambda batch, choice: whole_batch_panel(batch, choice), (0.004, 0.006, 0.012)),
    "01": (lambda batch, choice: fish_panel(batch, choice), (0, None, 8)),
    "02": (lambda batch, choice: brine_panel(batch, choice), (0, 1, 7)),
    "03": (lambda batch, choice: salt_panel(batch, choice, time=2 * 3600), (0.005, 0.010, 0.020)),
    "04": (lambda batch, choice: air_panel(batch, choice), (0.5, 1.5, 3.0)),
    "05": (lambda batch, choice: water_panel(batch, choice), (0.0, 0.06, 0.15)),
    "06": (lambda batch, choice: weight_panel(batch, choice), (0.005, 0.008, 0.013)),
    "07": (lambda batch, choice: keeping_panel(batch, choice, pack=2, humidity=0.70), (2, 4, 7)),
    "08": (lambda _batch, choice: LogbookPanel(batch_book.demo_book(), choice, 1).live, (0, 1, 6)),
}


@dataclass(frozen=True)
class State:
    """A panel at one setting: what is set, the picture, and what it says."""

    setting: str
    drawing: dict
    numbers: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Pictures:
    """The pictures of one lesson, by its number, in the units that were chosen."""

    number: str
    system: str = "metric"

    @cached_property
    def panel(self) -> Live:
        """The panel as its workbook opens it for the demo batch."""
        return AT[self.number][0](own.demo_batch("heron"), Choice(self.system))

    @cached_property
    def handle(self):
        """The first handle of the panel that is in sight."""
        return next(
            one for one in self.panel.controls if one.name in self.panel.lesson.in_view or not self.panel.lesson.in_view
        )

    def states(self) -> list[State]:
        """Three settings of the first handle, all else as it begins."""
        return [self._state(self.handle.start if mark is None else mark) for mark in AT[self.number][1]]

    def _state(self, mark: float) -> State:
        panel, choice = self.panel, self.panel.choice
        panel.set(**{self.handle.name: mark})
        value = panel.values[self.handle.name]
        setting = f"{self.handle.label}: {self.handle.reading(value, choice)}"
        return State(setting, panel.record | {"ghost": None}, panel.said.numbers)

    def others(self) -> str:
        """Where all the other handles stand."""
        shown = [one for one in self.panel.controls if one.name != self.handle.name]
        return "; ".join(f"{one.label} {one.reading(one.start, self.panel.choice)}" for one in shown)

    def guess(self) -> dict:
        """The axes on which a guess is made, with what is given on the screen too, and no level that would answer it."""
        record, asked = self._start, self._start["guessed"]["field"]
        field = record["fields"][asked]
        shown = [mark for mark in field["marks"] if mark.get("given") or mark["kind"] == "label"]
        handles = [
            one
            for one in record["handles"]
            if one["field"] == asked and one["axis"] == "up" and one.get("line") == "end"
        ]
        alone = _untouched([field | {"ruled": True, "marks": [_unlit(mark) for mark in shown if not _answers(mark)]}])
        return record | alone | {"handles": [one | {"field": 0} for one in handles]}

    def cut(self) -> dict | None:
        """The fish cut through, not shaded; None for a lesson without one."""
        record = self._start
        for field in record["fields"]:
            cuts = [mark for mark in field["marks"] if mark["kind"] == "cut"]
            if cuts:
                foot = (
                    field["up"] if field.get("rests") else field["up"] | {"low": max(one["bottom"] for one in cuts) + 1}
                )
                return record | _untouched([emptied(field) | {"up": foot}])
        return None

    def empty(self) -> dict:
        """The whole picture with nothing in it that a lesson is to find out."""
        return self._start | _untouched([emptied(field) for field in self._start["fields"]])

    @cached_property
    def _start(self) -> dict:
        return self.panel.at(**{one.name: one.start for one in self.panel.controls})


def _untouched(fields: list[dict]) -> dict:
    return {"fields": fields, "handles": [], "buttons": [], "ghost": None, "guess": None}


def _answers(mark: dict) -> bool:
    return mark.get("style") in LEVELS or mark["kind"] in ("note", "area")


def _unlit(mark: dict) -> dict:
    """Lamps to be filled in by hand, and no words that stand out because of what was found."""
    return mark | {name: value for name, value in (("state", "stopped"), ("strong", False)) if name in mark}


def emptied(field: dict) -> dict:
    """A field with its axes, walls, rungs and zones; a cut in it is left to be shaded, a scale to be read by hand."""
    walls = [mark for mark in field["marks"] if mark["kind"] == "outline"]
    kept = [one for mark in field["marks"] for one in _left(mark, walls, field.get("quiet", False))]
    return field | {"ruled": True, "marks": kept}


def _left(mark: dict, walls: list[dict], quiet: bool) -> list[dict]:
    kind = mark["kind"]
    if kind == "cut":
        return [mark | {"shade": [], "words": []}]
    if kind == "scale":
        return [mark | {"words": ""}]
    if kind == "box" and walls and _around(mark, walls):
        return [{name: value for name, value in mark.items() if name not in ("tint", "shade")}]
    named = kind == "label" and (not mark.get("strong") if walls else not quiet)
    return [_unlit(mark)] if named or kind in WALLS or mark.get("style") in ZONES else []


def _around(box: dict, walls: list[dict]) -> bool:
    """Whether it is a vessel itself: all its shelves lie in it, or it holds nothing."""
    (left, right), (top, foot) = box["x"], box["y"]
    inside = all(left <= x <= right and top <= y <= foot for wall in walls for x, y in zip(wall["x"], wall["y"]))
    return inside or "tint" not in box
