"""The panel of workbook 00: a whole batch, from wet fish to the weight at which to stop."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache, partial

import numpy as np

from flakeyard.messages import say
from flakeyard.steps.chain.drying import is_no_drying
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Band, band
from flakeyard.steps.judge.safety import Verdict
from flakeyard.steps.judge.storing import Keeping
from flakeyard.steps.plan.explore import Explorer
from flakeyard.steps.plan.plan import Outcome
from flakeyard.steps.plan.weighing import thickest_left, weight_left
from flakeyard.workbook import words
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import figures
from flakeyard.workbook.panels.figures import Picture
from flakeyard.workbook.panels.panel import Choice, Control, Panel, Said, StaticTwin

CONTROLS = (
    Control("thickness", "Usual thickness", "fish", "length", 0.003, 0.015, 0.001, 0.005),
    Control("fat", "Fat in the raw fish", "fish", "percent", 0.0, 0.20, 0.01, 0.06),
    Control("salt", "Salt in brine, by weight", "salt", "percent", 0.0, 0.20, 0.01, 0.08),
    Control("temperature", "Dryer set to", "air", "temperature", 50.0, 75.0, 1.0, 70.0),
)
LOOK_FOR = (
    "Twice as thick: twice as long, or more?",
    "More salt: does the fish stop lighter or heavier?",
    "Where does the band get widest, and what does that mean for your own batch?",
)
SURE = "8 of 10 batches should lie in the likely range. Trust the scale before the clock."
HORIZONS = (12.0, 24.0, 48.0, 96.0)  # hours; the picture keeps to these, so that it seldom changes its scale
KEPT = 200  # moves whose outcome is kept for when a slider comes back
MEMBERS = 200  # behind one move, as behind a plan: of fewer the upper end falls short, and the verdict came out milder


@dataclass(frozen=True)
class WholeBatch:
    """One move of the whole-batch panel: how the thickest piece loses weight, where to stop, what then.

    `low`, `mid` and `high` are the weight left, as a fraction of the weight as laid, at each of `hours`; `stop_time` is
    in seconds.
    """

    hours: np.ndarray
    low: np.ndarray
    mid: np.ndarray
    high: np.ndarray
    stop_ratio: Band
    stop_time: Band
    verdict: Verdict
    keeping: Keeping


def explore_batch(explorer: Explorer, **values: float) -> WholeBatch:
    """The whole chain, from fish to keeping, for one move of the sliders."""
    seen = explorer.at(**values)
    hours, done = seen.load.result.times / 3600, band(3600 * seen.load.hours)
    return WholeBatch(hours, *weight_left(seen.load), seen.drying["mass_ratio"], done, seen.verdict, seen.keep)


def whole_batch_picture(_choice: Choice) -> Picture:
    """The frame of the drying curve of the thickest piece."""
    picture = Picture()
    on = figures.axes(picture, "hours in the dryer", "weight left, % of weight as laid", (0, 1), (0, 105))
    figures.add_band(picture, "band", on, 0, "8 of 10 batches")
    figures.add_curve(picture, "curve", on, 0, "thickest piece, middle estimate")
    figures.add_curve(picture, "stop_line", on, 1, "weight to stop at", width=1.8)
    figures.add_point(picture, "stop", on, 0)
    figures.legend(on)
    return picture


def draw_whole_batch(picture: Picture, batch: WholeBatch, _choice: Choice) -> None:
    """Set the curve, its band, and the point where to stop."""
    hours, ratio = _number(batch.stop_time.mid) / 3600, 100 * _number(batch.stop_ratio.mid)
    figures.set_across(picture["curve"].axes, _horizon(hours))
    picture["curve"].set_data(batch.hours, 100 * batch.mid)
    figures.set_band(picture["band"], batch.hours, 100 * batch.low, 100 * batch.high)
    picture["stop_line"].set_data([0, HORIZONS[-1]], [ratio, ratio])
    figures.set_point(picture, "stop", hours, ratio, f"stop here: {ratio:.0f} % left")


def tell_whole_batch(batch: WholeBatch, choice: Choice) -> Said:
    """The verdict in a sentence, the spread in a line, the caution that always stands beside it."""
    ratio = choice.show_band(batch.stop_ratio, "percent")
    if batch.stop_ratio.mid is not None and is_no_drying(batch.stop_ratio.mid):
        sentence = say("plan.already_dry")
    elif batch.stop_time.mid is None:
        last = choice.show(3600 * batch.hours[-1], "time")
        sentence = f"When to stop is not known: after {last} the thickest piece still weighs more than {ratio}."
    else:
        hours = choice.show_band(batch.stop_time, "time")
        sentence = f"Stop when the thickest piece weighs {ratio} of its weight as laid. That takes {hours}."
    keep, eat = words.headline(batch.verdict, batch.keeping).split("   ")
    sentence = " ".join([f"{sentence} To keep: {keep}. To eat: {eat}.", *words.deadline_words(batch.verdict.by)])
    marks = [f"{100 * np.interp(h, batch.hours, batch.mid):.0f} % after {h} hours" for h in (3, 6, 12)]
    alt = f"A falling curve of weight left against hours: {', '.join(marks)}, inside a hatched band. {sentence}"
    caution = f"{words.first_reason(batch.verdict)} {words.caution_line(batch.verdict)}".strip()
    return Said(sentence, SURE, caution, alt)


def _number(value: float | None) -> float:
    return np.nan if value is None else value


def _horizon(hours: float) -> float:
    """The shortest of the fixed time scales that shows this time with room to spare; the longest when it is unknown."""
    return next((horizon for horizon in HORIZONS if horizon >= 1.25 * hours), HORIZONS[-1])


def whole_batch_panel(batch: Batch | None = None, choice: Choice | None = None) -> Panel:
    """Sliders for the whole way from fish to a dry piece, for a batch (the demonstration batch when none is given)."""
    explorer = Explorer(batch or demo_batch("heron"), MEMBERS)
    return Panel(
        "A whole batch: from wet fish to the weight at which to stop",
        CONTROLS,
        lru_cache(KEPT)(partial(explore_batch, explorer)),
        whole_batch_picture,
        draw_whole_batch,
        tell_whole_batch,
        choice=choice,
        look_for=LOOK_FOR,
        look_ahead=True,
    )


def still(outcome: Outcome, choice: Choice) -> StaticTwin:
    """The picture of a plan with its words, without sliders."""
    hours, done = outcome.load.result.times / 3600, band(3600 * outcome.load.hours)
    stop = outcome.drying["mass_ratio"]
    batch = WholeBatch(hours, *thickest_left(outcome), stop, done, outcome.verdict, outcome.keep)
    picture = whole_batch_picture(choice)
    draw_whole_batch(picture, batch, choice)
    said = tell_whole_batch(batch, choice)
    return StaticTwin("The thickest piece, from wet to dry", outcome.batch.title, said, picture.png(), picture.width)
