"""The teacher's page: the logs of every group on one figure, what was predicted beside what was measured.

What comes out is one picture, one table in CSV with a row for each weighing, and a few lines to read out.
"""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pandas as pd
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from flakeyard.files import write_whole
from flakeyard.steps.learn import class_log
from flakeyard.steps.learn.class_log import Group, Weighing
from flakeyard.steps.learn.logbook import THICKEST
from flakeyard.workbook import words

COLUMNS = (
    "group", "time", "hours", "tray", "mass_g", "measured_left_percent", "predicted_left_low_percent",
    "predicted_left_mid_percent", "predicted_left_high_percent", "inside",
)  # fmt: skip

# Colours that people with the common kinds of colour blindness can tell apart: Okabe and Ito, Color Universal Design. Colour
# is never the only cue: the n-th group has the n-th dash pattern, hatch and marker too.
COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9")
DASHES = ("-", "--", "-.", ":", (0, (8, 2)), (0, (1, 3)))
HATCHES = ("///", "\\\\\\", "...", "xxx", "---", "ooo")
MARKERS = ("o", "s", "^", "D", "v", "P")


def table_of(groups: list[Group]) -> pd.DataFrame:
    """One row for each weighing after the start: weight left as measured, and as the plan said before any weighing."""
    return pd.DataFrame([_row(one) for one in class_log.weighings(groups)], columns=list(COLUMNS))


def _row(one: Weighing) -> tuple:
    said = one.predicted
    shares = (round(100 * share, 1) for share in (one.left, said.low, said.mid, said.high))
    inside = "yes" if one.inside else "no"
    return (one.group, one.time, round(one.hours, 2), one.tray, round(1000 * one.mass, 1), *shares, inside)


def read_out(groups: list[Group]) -> str:
    """What a leader reads out, never without the caution."""
    return "\n".join([*class_log.summary(groups), words.caution_line()])


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
    hours = np.linspace(0.0, max(1.15 * group.log.last, 1.0), 80)
    low, mid, high = group.predicted(hours)
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
    groups = class_log.read_class(folder)
    table = table_of(groups)
    place = Path(out)
    place.mkdir(parents=True, exist_ok=True)
    picture = io.BytesIO()
    draw(groups, table).savefig(picture, format="png")
    pages = {"csv": table.to_csv(index=False), "png": picture.getvalue(), "txt": read_out(groups) + "\n"}
    return [write_whole(place / f"class.{ending}", page) for ending, page in pages.items()]
