"""Explorers without Python: the drying time and the keeping of a batch on a grid, in one page that works from a stick.

The package computes the grid, and the sliders stop on its corners. On a coarser grid the page interpolates: numbers
between the corners around the settings, a verdict is the strictest of those corners, days are the fewest of them, and
where one corner is not known the answer is not known.
"""

from __future__ import annotations

import base64
import html
import itertools
import json
import multiprocessing
import os
import signal
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path

import numpy as np

from flakeyard import limits
from flakeyard.files import write_whole
from flakeyard.messages import code, draft_line, point, say, unfilled
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.judge.safety import EAT, KEEP
from flakeyard.steps.plan.corners import UNKNOWN, drying_corner, keeping_corner, placeless
from flakeyard.steps.plan.explore import told_by
from flakeyard.units import show
from flakeyard.workbook import words
from flakeyard.workbook.pages import live_pages

LIMITS = (  # of the water activity
    (limits.MOIST, "above", say("explorer.germs", limit=limits.MOIST)),
    (limits.CUPBOARD_ESTIMATE, "below", say("explorer.cupboard", limit=limits.CUPBOARD_ESTIMATE)),
    (limits.STORE_MOULD, "below", say("explorer.mould", limit=limits.STORE_MOULD)),
)


@dataclass(frozen=True)
class Axis:
    """One slider: `marks` are the corners of the grid in SI, `stops` what the slider can be set to."""

    name: str
    label: str
    kind: str
    marks: tuple[float, ...]
    stops: tuple[float, ...]
    start: float
    log: bool = False
    digits: int = 2

    def as_dict(self) -> dict:
        readings = {system: [self.reading(stop, system) for stop in self.stops] for system in ("metric", "us")}
        return {
            "name": self.name, "label": self.label, "log": self.log, "marks": self.marks, "stops": self.stops,
            "start": self.stops.index(self.start), "readings": readings,
        }  # fmt: skip

    def reading(self, value: float, system: str) -> str:
        return show(value, self.kind, system, digits=self.digits)


@dataclass(frozen=True)
class ExplorerPage:
    """A page: its sliders, what is computed at a corner, and the words around it.

    `point` gives, for a batch and one corner, the numbers `numbers` and the codes `codes` by name; a code is a place in
    a list that rises in severity, `days` counts the fewest.
    """

    name: str
    title: str
    question: str
    axes: tuple[Axis, ...]
    numbers: tuple[str, ...]
    logs: tuple[str, ...]
    point: Callable
    along: str
    rows: tuple[str, str, str]
    up: str
    limits: tuple
    sure: str
    look_for: tuple[str, ...]


MOST_WORKERS = 8  # each of them holds the whole package
CODES = ("keep", "eat", "days")


def _steps(low: float, high: float, step: float) -> tuple[float, ...]:
    return tuple(round(low + n * step, 6) for n in range(round((high - low) / step) + 1))


FATS, SALTS = (0.0, 0.06, 0.12, 0.20), (0.0, 0.05, 0.08, 0.12, 0.20)
# Every slider stops on corners only. Between them the 10th and 90th of 40 members jump, by up to 6 % of the hours.
FAT = Axis("fat", say("explorer.fat_raw_fish"), "percent", FATS, FATS, 0.06)
SALT = Axis("salt", say("explorer.salt_brine_weight"), "percent", SALTS, SALTS, 0.08)


THICKNESSES = (*_steps(0.003, 0.008, 0.001), 0.010, 0.012, 0.015)
THICKNESS = Axis(
    "thickness", say("explorer.usual_thickness"), "length", THICKNESSES, THICKNESSES, 0.006, log=True, digits=3
)
SETTINGS = (50.0, 56.0, 63.0, 70.0, 75.0)
TEMPERATURE = Axis("temperature", say("explorer.dryer_set"), "temperature", SETTINGS, SETTINGS, 63.0)
WATERS = _steps(0.09, 0.48, 0.03)
WATER = Axis("water", say("explorer.water_left_dried"), "percent", WATERS, WATERS, 0.30)
DRYING_TIME = ExplorerPage(
    "drying-time", say("explorer.explorer_how_long"), say("explorer.how_do_thickness"),
    (THICKNESS, FAT, SALT, TEMPERATURE), ("low", "mid", "high", "ratio"), ("low", "mid", "high"), drying_corner,
    "thickness", (say("explorer.8_of_10"), say("explorer.thickest_piece_middle"), say("explorer.your_setting")), say("explorer.hours_until_thickest"), (),
    say("explorer.8_10_batches"),
    (say("explorer.twice_thick_twice"), say("explorer.which_slider_changes"), say("explorer.where_band_widest")),
)  # fmt: skip
KEEPING = ExplorerPage(
    "keeping", say("explorer.explorer_will_keep"), say("explorer.how_do_water"),
    (FAT, SALT, WATER), ("low", "mid", "high"), (), keeping_corner,
    "water", (say("explorer.likely_low_cautious"), say("explorer.water_activity_middle"), say("explorer.your_setting")), say("explorer.water_activity"), LIMITS,
    say("explorer.estimate_from_water"),
    (say("explorer.how_dry_cupboard"), say("explorer.verdict_reads_cautious"), say("explorer.what_does_fat")),
)  # fmt: skip
EXPLORERS = (DRYING_TIME, KEEPING)


def compute(explorer: ExplorerPage, batch: Batch) -> dict[str, np.ndarray]:
    """Everything the page needs at every corner of the grid, by name; arrays in the shape of the axes."""
    parts = [slice_of(explorer, batch, first) for first in range(len(explorer.axes[0].marks))]
    return {name: np.stack([part[name] for part in parts]) for name in parts[0]}


def slice_of(explorer: ExplorerPage, batch: Batch, first: int) -> dict[str, np.ndarray]:
    """The same at the corners of one mark of the first axis."""
    batch, shape = placeless(batch), tuple(len(axis.marks) for axis in explorer.axes[1:])
    grid = {name: np.full(shape, UNKNOWN) for name in (*explorer.numbers, *CODES)}
    for place in np.ndindex(*shape):
        for name, value in corner(explorer, batch, (first, *place)).items():
            grid[name][place] = value
    return grid


def corner(explorer: ExplorerPage, batch: Batch, place: Iterable[int]) -> dict:
    """What is computed at one corner of the grid, for a batch with no place asked for."""
    values = {axis.name: axis.marks[index] for axis, index in zip(explorer.axes, place, strict=True)}
    return explorer.point(batch, **values)


def interpolate(explorer: ExplorerPage, grid, settings: dict[str, float]) -> dict[str, float]:
    """What the page shows for some settings: the same rule as the page's own, for tests and for print.

    `grid` holds arrays, or is a function from a corner's place to its values.
    """
    at = grid if callable(grid) else lambda place: {name: values[place] for name, values in grid.items()}
    spans = [_span(axis, settings[axis.name]) for axis in explorer.axes]
    found: dict[str, float] = dict.fromkeys(explorer.numbers, 0.0) | {"keep": 0, "eat": 0, "days": np.inf}
    for side in itertools.product((0, 1), repeat=len(spans)):
        weight = np.prod([part if on else 1 - part for on, (_, part) in zip(side, spans, strict=True)])
        if weight == 0:
            continue
        values = at(tuple(index + on for on, (index, _) in zip(side, spans, strict=True)))
        for name in explorer.numbers:
            found[name] += weight * (np.log(values[name]) if name in explorer.logs else values[name])
        found["keep"], found["eat"] = max(found["keep"], values["keep"]), max(found["eat"], values["eat"])
        found["days"] = np.minimum(found["days"], values["days"])  # one corner not known makes it not known
    return {name: float(np.exp(value)) if name in explorer.logs else float(value) for name, value in found.items()}


def _span(axis: Axis, value: float) -> tuple[int, float]:
    """The mark below a value, and how far it lies on the way to the next."""
    marks = np.log(axis.marks) if axis.log else np.asarray(axis.marks)
    value = np.log(value) if axis.log else value
    index = int(np.clip(np.searchsorted(marks, value, side="right") - 1, 0, len(marks) - 2))
    part = (value - marks[index]) / (marks[index + 1] - marks[index])
    return index, float(np.clip(round(part, 9), 0, 1))


def write_explorers(batch: Batch, folder: Path, tell: Callable[[str], None] = lambda _line: None) -> list[Path]:
    """Work out all explorers of a batch, on all processors, and write each as one file. Raises: OSError."""
    folder.mkdir(parents=True, exist_ok=True)
    pages = [at_the_batch(one, batch) for one in EXPLORERS]
    with _workers() as workers:
        slices = {page.name: [workers.submit(slice_of, page, batch, first) for first in range(len(page.axes[0].marks))] for page in pages}  # fmt: skip
        texts = {one.file: workers.submit(live_pages.text_of, one, batch) for one in live_pages.PAGES}
        written = []
        for one in pages:
            parts = [part.result() for part in slices[one.name]]
            grid = {name: np.stack([part[name] for part in parts]) for name in parts[0]}
            written.append(write_whole(folder / file_of(one), page(one, grid, batch)))
            tell(say("explorer.settings", page=one.name, settings=grid["days"].size))
        for file, text in texts.items():
            written.append(write_whole(folder / file, text.result()))
            tell(say("explorer.written", file=file))
    return written


def file_of(explorer: ExplorerPage) -> str:
    return f"explorer-{explorer.name}.html"


def all_files() -> list[str]:
    """The names of all explorers, those with a lesson's own picture last."""
    return [*map(file_of, EXPLORERS), *(one.file for one in live_pages.PAGES)]


@contextmanager
def _workers() -> Iterator[ProcessPoolExecutor]:
    """A process for each processor; Ctrl-C is heard by the one that waits for them."""
    how = {
        "mp_context": multiprocessing.get_context("spawn"),
        "initializer": signal.signal,
        "initargs": (signal.SIGINT, signal.SIG_IGN),
    }
    workers = ProcessPoolExecutor(min(os.cpu_count() or 1, MOST_WORKERS), **how)
    try:
        yield workers
    finally:
        workers.shutdown(cancel_futures=True)


def at_the_batch(explorer: ExplorerPage, batch: Batch) -> ExplorerPage:
    """The page with its sliders where they stand for a batch."""
    told = told_by(batch, {axis.name: axis.start for axis in explorer.axes})
    return replace(explorer, axes=tuple(_standing_at(axis, told[axis.name]) for axis in explorer.axes))


def _standing_at(axis: Axis, own: float) -> Axis:
    """A slider whose stop nearest to the batch lies on it, where its ends reach so far."""
    near = min(axis.stops, key=lambda stop: abs(stop - own))
    start = own if axis.stops[0] <= own <= axis.stops[-1] else near
    marks, stops = (tuple(start if one == near else one for one in all_of) for all_of in (axis.marks, axis.stops))
    return replace(axis, marks=marks, stops=stops, start=start)


def page(explorer: ExplorerPage, grid: dict[str, np.ndarray], batch: Batch) -> str:
    """The whole page: sliders, picture, sentence, cautions, and the grid inside it."""
    data = {
        "axes": [axis.as_dict() for axis in explorer.axes], "along": explorer.along, "numbers": explorer.numbers, "logs": explorer.logs,
        "grid": {name: base64.b64encode(values.astype("<f4").tobytes()).decode() for name, values in grid.items()},
        "keep": [[words.SHAPES[key], words.KEEP_WORDS[key]] for key in KEEP], "eat": [[words.SHAPES[key], words.EAT_WORDS[key]] for key in EAT],
        "keys": KEEP, "words": unfilled("explorer.") | unfilled("words."), "point": point(),
        "short": words.SHORT_TIME, "limits": explorer.limits, "rows": explorer.rows, "up": explorer.up, "kind": explorer.name,
        "not_known": words.NOT_KNOWN, "cook": words.COOK,
    }  # fmt: skip
    heated = show(batch.heat.core, "temperature", "both") if batch.heat else None
    told = {
        "fish": words.fish_name(batch.fish) or say("explorer.any_fish"),
        "pack": words.pack_name(batch.keep.pack) if batch.keep.pack else say("explorer.any_pack"),
    }
    made_for = say("explorer.made_heated" if batch.heat else "explorer.made", **told, core=heated)
    caution = say("panel.caution", text=words.caution_line()), say("explorer.code"), draft_line()
    text = files("flakeyard.workbook").joinpath("pages", "explorer.html").read_text(encoding="utf-8")
    for mark, value in {
        "@LANG@": code(), "@TITLE@": html.escape(explorer.title), "@QUESTION@": html.escape(explorer.question),
        "@UNITS@": html.escape(say("panel.units")), "@METRIC@": html.escape(say("page.metric")), "@US@": html.escape(say("page.us")),
        "@BACK@": html.escape(say("live.back")), "@LOOK_FOR@": html.escape(say("live.look_for")),
        "@SURE@": html.escape(f"{say('panel.how_sure', text=explorer.sure)} {say('explorer.every_setting')}"),
        "@LOOK@": "".join(f"<li>{html.escape(line)}</li>" for line in explorer.look_for), "@BATCH@": html.escape(made_for),
        "@CAUTION@": html.escape(" ".join(filter(None, caution))), "@DATA@": json.dumps(data, separators=(",", ":")).replace("</", "<\\/"),
    }.items():  # fmt: skip
        text = text.replace(mark, value)
    return text
