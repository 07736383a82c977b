"""How long it takes and at what weight to stop: the panel of workbook 06, and its tables.

Two kinds of piece are shown for each move: the usual one, and the thickest, which decides.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flakeyard import units
from flakeyard.steps.chain import brining
from flakeyard.steps.chain.fish import prepare_fish
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import UNKNOWN, Band, Draws
from flakeyard.steps.plan import weighing
from flakeyard.steps.plan.cutting import LONGEST
from flakeyard.steps.plan.judging import TESTED_THICKNESS
from flakeyard.steps.plan.plan import Outcome
from flakeyard.steps.plan.weighing import MEMBERS, Scales, TwoPieces
from flakeyard.workbook import words
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import figures
from flakeyard.workbook.panels.figures import Picture
from flakeyard.workbook.panels.panel import Choice, Control, Panel, Said
from flakeyard.workbook.table import Table

MARKED = 0.100  # kg, the marked piece of the sentence
HORIZONS = (6.0, 12.0, 18.0, 24.0, 36.0, 48.0)  # hours; the picture keeps to these, so that it seldom changes its scale
PLACES = ("face", "whole", "middle")
LOOK_FOR = (
    "Make the pieces more uneven: which curve moves, and which stays?",
    "More fat: how many more hours, and does the fish stop lighter or heavier?",
    "When the thickest piece is done, how dry are its face and its middle?",
)
SURE = (
    "8 of 10 batches should lie in the likely range; of the seven published drying results we could test, four did. The weight "
    "is surer than the hours. Trust the scale before the clock."
)
NOT_SAFE = "A weight reached is not proof that fish is safe."
TOO_THICK = "When it is done, and at what weight, is not known: the drying model was tested only for pieces of {range}."


@dataclass(frozen=True)
class Evenness(Control):
    """A slider for how much thicker the thickest piece is than the usual one."""

    def reading(self, value: float, choice: Choice) -> str:
        return f"by {choice.show(value, self.kind)}" if value else "all alike"


CONTROLS = (
    Control("thickness", "Usual thickness", "fish", "length", 0.003, 0.015, 0.001, 0.005),
    Evenness("thicker", "Thickest is thicker", "fish", "percent", 0.0, 0.60, 0.05, 0.35),
    Control("fat", "Fat in the raw fish", "fish", "percent", 0.0, 0.20, 0.01, 0.06),
    Control("salt", "Salt in brine, by weight", "salt", "percent", 0.0, 0.20, 0.01, 0.08),
    Control("temperature", "Dryer set to", "air", "temperature", 50.0, 75.0, 1.0, 70.0),
)


def controls(batch: Batch) -> tuple[Control, ...]:
    """The sliders, starting at the batch; a dry cure has no brine, so its salt starts at that of a usual brine."""
    start = starting_values(batch)
    return tuple(replace(one, start=min(max(start[one.name], one.low), one.high)) for one in CONTROLS)


def starting_values(batch: Batch) -> dict[str, float]:
    """Where the sliders start, before they are held to their range."""
    start = {control.name: control.start for control in CONTROLS}
    _, usual, thickest = batch.cut.sizes
    start |= {"thickness": usual, "thicker": thickest / usual - 1, "temperature": batch.dryer.temperature}
    start["fat"] = prepare_fish(batch, Draws(MEMBERS)).fat_raw
    if batch.brine is None:
        start["salt"] = 0.0
    elif batch.wet_brine:
        start["salt"] = float(np.median(brining.mix(batch.brine, Draws(MEMBERS)).salt_fraction))
    return start


# Tables for the page


def stop_table(outcome: Outcome, choice: Choice, marked: str, tray: str) -> Table:
    """Where to stop: a marked thickest piece and a mixed tray, as weighed when laid (typed), and what they will weigh."""
    head = ("on the scale", "as laid", "stop at")
    try:
        laid = [units.read_amount(typed, "mass", where, example="42 g").value for typed, where in _typed(marked, tray)]
    except units.InputError as trouble:
        return Table(head, ((str(trouble), "not known", "not known"),))
    left = weighing.when_done(outcome).left
    parts = (outcome.drying["mass_ratio"] if outcome.load.reached else UNKNOWN, left["tray"])
    names = ("the marked thickest piece", "a tray of all sizes, at that moment")
    rows = zip(names, laid, parts, strict=True)
    return Table(
        head, tuple((name, choice.show(mass, "mass", digits=3), _of(part, mass, choice)) for name, mass, part in rows)
    )


def _typed(marked: str, tray: str) -> tuple[tuple[str, str], ...]:
    return (marked, "The marked piece"), (tray, "The tray")


def _of(part: Band, mass: float, choice: Choice) -> str:
    return choice.show_band(
        Band(*(None if share is None else mass * share for share in vars(part).values())), "mass", digits=3
    )


# The picture


def weight_picture(_choice: Choice) -> Picture:
    """Left: weight left against hours, of two pieces. Right: how moist the thickest is inside when it is done."""
    picture = Picture(size=(7.4, 3.5))
    on = figures.axes(
        picture, "hours in the dryer", "weight left, % of weight as laid", (0, 12), (20, 105),
        place=(0.085, 0.135, 0.615, 0.70),
    )  # fmt: skip
    figures.add_band(picture, "usual_band", on, 0, None)
    figures.add_band(picture, "thickest_band", on, 1, "8 of 10 batches")
    figures.add_curve(picture, "usual", on, 0, "usual piece")
    figures.add_curve(picture, "thickest", on, 1, "thickest piece")
    figures.add_curve(picture, "stop", on, 3, "weight to stop at", width=1.8)
    figures.add_point(picture, "usual_done", on, 0)
    figures.add_point(picture, "thickest_done", on, 1)
    untested = on.text(
        0.5, 0.88, "", transform=on.transAxes, ha="center", fontsize=figures.FONT_SIZE, fontweight="bold"
    )
    picture.add("untested", untested).set_bbox({"facecolor": "white", "edgecolor": "#777777", "pad": 3})
    figures.legend(on, columns=2)
    _add_inside(picture)
    return picture


def _add_inside(picture: Picture) -> None:
    on = figures.axes(picture, "", "water, %", (-0.6, 2.6), (0, 80), (0.793, 0.135, 0.203, 0.70))
    on.set_title("thickest, when done", fontsize=figures.FONT_SIZE - 0.5, x=0.42)
    on.set_xticks(range(3), PLACES, fontsize=figures.FONT_SIZE - 1)
    on.grid(visible=False, axis="x")
    for style, place in enumerate(PLACES):
        figures.add_band(picture, place, on, style, "")
        picture.add(f"{place}_words", on.text(style, 0, "", ha="center", va="bottom", fontsize=figures.FONT_SIZE))


def draw_weight(picture: Picture, two: TwoPieces, choice: Choice) -> None:
    """Set both curves with their bands, the line and the points where each is done, and the bars."""
    known = two.tested
    ends = [_hours(one) for one in (two.usual_done, two.thickest_done)]
    figures.set_across(picture["usual"].axes, _horizon(ends[1]))
    for name, curves in (("usual", two.usual), ("thickest", two.thickest)):
        low, mid, high = 100 * curves
        picture[name].set_data(two.hours, mid)
        figures.set_band(picture[f"{name}_band"], two.hours, low, high)
    picture["untested"].set(text=f"thickest {choice.show(two.thickest_size, 'length')}: not tested", visible=not known)
    stop = 100 * two.stop
    picture["stop"].set_data([0, LONGEST], [stop, stop])
    figures.set_point(picture, "usual_done", ends[0], stop, f"{ends[0]:.1f} h")
    figures.set_point(picture, "thickest_done", ends[1] if known else np.nan, stop, f"{ends[1]:.1f} h")
    _point_words(picture)
    for place, (name, water) in enumerate(zip(PLACES, 100 * two.inside, strict=True)):
        shown = known and np.isfinite(water)
        figures.set_band(picture[name], [place - 0.36, place + 0.36], [0, 0], [water if shown else 0] * 2)
        picture[f"{name}_words"].set(y=water + 1 if shown else 1, text=f"{water:.0f}" if shown else "?")


def _point_words(picture: Picture) -> None:
    """The usual piece is told below its point and the thickest above, so that the two never overlap."""
    for name, side, high in (("usual_done", "right", "top"), ("thickest_done", "left", "bottom")):
        text = picture[f"{name}_words"]
        text.set(ha=side, va=high)
        text.xyann = (-7 if side == "right" else 7, -6 if high == "top" else 6)


def _hours(seconds: Band) -> float:
    return np.nan if seconds.mid is None else seconds.mid / 3600


def _horizon(hours: float) -> float:
    """The shortest of the fixed time scales that shows this time with room to spare; the longest when it is unknown."""
    return next((horizon for horizon in HORIZONS if horizon >= 1.4 * hours), HORIZONS[-1])


# The words


def tell_weight(two: TwoPieces, choice: Choice) -> Said:
    """Both times, the weight of a marked piece, how moist it is inside; the verdict's first reason as the caution."""
    sizes = [choice.show(size, "length") for size in (two.usual_size, two.thickest_size)]
    caution = " ".join(filter(None, (NOT_SAFE, words.first_reason(two.verdict), words.caution_line(two.verdict))))
    marked, done = (choice.show(mass, "mass", digits=3) for mass in (MARKED, MARKED * two.stop))
    times = [_time_words(one, choice) for one in (two.usual_done, two.thickest_done)]
    if not two.tested:
        tested = units.show_band(*TESTED_THICKNESS, "length", choice.system)
        sentence = (
            f"The thickest piece is {sizes[1]}. {TOO_THICK.format(range=tested)} A usual piece, {sizes[0]}, that weighed "
            f"{marked} as laid is done at {done}; it gets there {times[0]}."
        )
        return Said(sentence, SURE, caution, f"Two falling curves; that of the thickest piece has no end. {sentence}")
    sentence = (
        f"A marked thickest piece that weighed {marked} as laid is done at {done}. The usual piece, {sizes[0]}, gets there "
        f"{times[0]}; the thickest, {sizes[1]}, {times[1]}. {_inside_words(two, choice)}"
    ).strip()
    marks = [f"{100 * np.interp(h, two.hours, two.thickest[1]):.0f} % after {h} hours" for h in (2, 4, 8)]
    alt = (
        f"Two falling curves of weight left, in hatched bands. The usual piece (solid) falls faster; the thickest (dashed) is at "
        f"{', '.join(marks)}. A dotted line shows the weight to stop at. At the right three bars of water. {sentence}"
    )
    return Said(sentence, SURE, caution, alt)


def _time_words(seconds: Band, choice: Choice) -> str:
    if seconds.mid is None:
        return f"not within {choice.show(3600 * LONGEST, 'time')}: when, is not known"
    return f"after {choice.show_band(seconds, 'time')}"


def _inside_words(two: TwoPieces, choice: Choice) -> str:
    if not np.isfinite(two.inside).all():
        return ""
    face, _, middle = (choice.show(water, "percent") for water in two.inside)
    return f"Then its face holds {face} water, its middle {middle}."


def weight_panel(batch: Batch | None = None, choice: Choice | None = None) -> Panel:
    """Sliders for pieces and dryer, and the weight left of the usual and of the thickest piece."""
    scales = Scales(batch or demo_batch("heron"))
    return Panel(
        "Weight left: the usual piece and the thickest", controls(scales.batch), scales.at, weight_picture, draw_weight,
        tell_weight, choice=choice, look_for=LOOK_FOR,
    )  # fmt: skip
