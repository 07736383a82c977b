"""The teacher's page: the logs of every group on one figure, what was predicted beside what was measured.

A folder holds a batch file and a log for each group: NAME.toml and NAME-weighings.csv. What comes out is one picture
and one table in CSV, a row for each weighing.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from flakeyard.files import write_whole
from flakeyard.steps.intent.batch_file import Batch, load_batch
from flakeyard.steps.learn import learning
from flakeyard.steps.learn.learning import Learned
from flakeyard.steps.learn.logbook import THICKEST, Log, read_log
from flakeyard.units import InputError
from flakeyard.workbook import words
from flakeyard.workbook.panels.figures import COLOURS, DASHES, HATCHES, MARKERS

LOG = "-weighings.csv"
COLUMNS = (
    "group", "time", "hours", "tray", "mass_g", "measured_left_percent", "predicted_left_low_percent",
    "predicted_left_mid_percent", "predicted_left_high_percent", "inside",
)  # fmt: skip


@dataclass(frozen=True)
class Group:
    """One group's batch: its name, plan and log, and what the log taught."""

    name: str
    batch: Batch
    log: Log
    learned: Learned


def read_class(folder: str | Path) -> list[Group]:
    """Every group of a folder, in the order of its names.

    Raises: InputError when there is no pair of files, or one that cannot be read
    """
    groups = []
    for batch_file in sorted(Path(folder).glob("*.toml")):
        log_file = batch_file.with_name(batch_file.stem + LOG)
        if log_file.is_file():
            batch, log = load_batch(batch_file), read_log(log_file)
            groups.append(Group(batch_file.stem, batch, log, learning.learn(batch, log)))
    if not groups:
        raise InputError(
            "folder", str(Path(folder).name), "it holds no batch file with a log beside it",
            f"pairs of files, NAME.toml and NAME{LOG}", f"heron.toml and heron{LOG}",
        )  # fmt: skip
    return groups


def weighings(groups: list[Group]) -> pd.DataFrame:
    """One row for each weighing after the start: weight left as measured, and as the plan said before any weighing."""
    rows = [row for group in groups for row in _rows(group)]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _rows(group: Group):
    course = learning.prior_course(group.batch, group.log)
    happened = learning.schedule(group.log, group.batch.dryer["temperature"].value)
    laid: dict[str, float] = {}
    for entry in group.log.weighings:
        if entry.tray not in laid or entry.event:
            laid[entry.tray] = entry.mass / (1.0 if entry.tray not in laid else _mid(course, happened, entry))
            continue
        left = entry.mass / laid[entry.tray]
        low, mid, high = _predicted(course, happened, entry)
        yield (
            group.name, group.log.clock(entry.hours), round(entry.hours, 2), entry.tray, round(1000 * entry.mass, 1),
            *(round(100 * value, 1) for value in (left, low, mid, high)), "yes" if low <= left <= high else "no",
        )  # fmt: skip


def _predicted(course, happened, entry) -> np.ndarray:
    drying = happened.drying(np.array([entry.hours]))
    return np.quantile(course.at(drying, entry.tray == THICKEST)[:, 0], [0.1, 0.5, 0.9])


def _mid(course, happened, entry) -> float:
    return float(_predicted(course, happened, entry)[1])


def summary(groups: list[Group]) -> str:
    """What a leader reads out: for each group the hours planned, the hours after the log, and what was learned."""
    lines = []
    for group in groups:
        plan, now = group.learned.plan.drying["hours_to_target"], group.learned.hours_to_target
        lines.append(f"{group.name}: planned {_hours(plan)}, after {len(group.log.moments)} weighings {_hours(now)}.")
        lines += [f"  {sentence}" for sentence in group.learned.learned]
        lines += [f"  {group.learned.contradiction}"] if group.learned.contradiction else []
    return "\n".join([*lines, words.caution_line()])


def _hours(band) -> str:
    if band.mid is None:
        return "not known"
    high = "longer" if band.high is None else f"{band.high:.1f}"
    return f"{band.mid:.1f} h ({'?' if band.low is None else f'{band.low:.1f}'} to {high})"


def draw(groups: list[Group], table: pd.DataFrame) -> Figure:
    """Two pictures: weight left against hours for every group; measured against predicted, on the line when they agree."""
    figure = Figure(figsize=(11.0, 4.6), dpi=130, facecolor="white")
    FigureCanvasAgg(figure)
    over_time, agree = figure.subplots(1, 2, gridspec_kw={"width_ratios": [1.55, 1.0]})
    for number, group in enumerate(groups):
        style = number % len(COLOURS)
        own = table[table["group"] == group.name]
        _draw_group(over_time, group, own, style)
        agree.errorbar(
            own["predicted_left_mid_percent"], own["measured_left_percent"],
            xerr=[own["predicted_left_mid_percent"] - own["predicted_left_low_percent"], own["predicted_left_high_percent"] - own["predicted_left_mid_percent"]],
            linestyle="", marker=MARKERS[style], color=COLOURS[style], elinewidth=0.7, markersize=5, label=group.name,
        )  # fmt: skip
    over_time.set(xlabel="hours since drying began", ylabel="weight left, % of weight as laid", ylim=(0, 105))
    over_time.set_xlim(left=0)
    agree.plot([0, 105], [0, 105], color="black", linewidth=0.8)
    agree.set(xlabel="predicted before any weighing, %", ylabel="measured, %", xlim=(20, 102), ylim=(20, 102))
    inside = (table["inside"] == "yes").sum()
    agree.set_title(f"{inside} of {len(table)} weighings inside the likely range", fontsize=10)
    for on in (over_time, agree):
        on.grid(color="#cccccc", linewidth=0.6)
        on.set_axisbelow(True)
        on.legend(fontsize=8, frameon=False)
    figure.tight_layout()
    return figure


def _draw_group(on, group: Group, own: pd.DataFrame, style: int) -> None:
    course = learning.prior_course(group.batch, group.log)
    happened = learning.schedule(group.log, group.batch.dryer["temperature"].value)
    hours = np.linspace(0.0, max(1.15 * group.log.last, 1.0), 80)
    low, mid, high = np.quantile(course.at(happened.drying(hours), False), [0.1, 0.5, 0.9], axis=0)
    on.fill_between(
        hours,
        100 * low,
        100 * high,
        facecolor=COLOURS[style] + "22",
        edgecolor=COLOURS[style] + "55",
        hatch=HATCHES[style],
        linewidth=0.4,
    )
    on.plot(hours, 100 * mid, color=COLOURS[style], linestyle=DASHES[style], label=f"{group.name}, plan")
    for kind, face in (("trays", COLOURS[style]), ("thickest piece", "white")):
        part = own[(own["tray"] == THICKEST) == (kind != "trays")]
        if len(part):
            on.plot(part["hours"], part["measured_left_percent"], linestyle="", marker=MARKERS[style], color=COLOURS[style], markerfacecolor=face, markersize=5, label=f"{group.name}, {kind}")  # fmt: skip


def write_class(folder: str | Path, out: str | Path) -> list[Path]:
    """Write class.csv and class.png for the groups of a folder. Raises: InputError, OSError."""
    groups = read_class(folder)
    table = weighings(groups)
    place = Path(out)
    place.mkdir(parents=True, exist_ok=True)
    picture = io.BytesIO()
    draw(groups, table).savefig(picture, format="png")
    pages = {"csv": table.to_csv(index=False), "png": picture.getvalue(), "txt": summary(groups) + "\n"}
    return [write_whole(place / f"class.{ending}", page) for ending, page in pages.items()]
