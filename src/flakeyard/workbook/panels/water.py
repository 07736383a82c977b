"""Panel: how free the water of a piece is at each weight left (`steps.plan.free_water`), and what can still grow in it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flakeyard import limits
from flakeyard.models import sorption
from flakeyard.models.inputs import outside
from flakeyard.models.sorption import water_activity, water_activity_cautious
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.judge import water_check
from flakeyard.steps.plan.free_water import ROOM, Water, free_water, ladder_findings, piece_of, spread_of_protein
from flakeyard.workbook import words
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import figures
from flakeyard.workbook.panels.figures import Picture
from flakeyard.workbook.panels.panel import Choice, Control, Panel, Said
from flakeyard.workbook.table import Table

LOWEST = 0.50  # of the picture; nothing is known to grow further down

CONTROLS = (
    Control("fat", "Fat in the raw fish", "fish", "percent", 0.0, 0.20, 0.01, 0.06),
    Control("salt", "Salt, % of dry solids", "salt", "percent", 0.0, 0.40, 0.01, 0.13),
    Control("left", "Weight left", "air", "percent", 0.30, 1.00, 0.01, 0.58),
    Control("temperature", "The piece is at", "air", "temperature", 5.0, 65.0, 1.0, ROOM),
)
LOOK_FOR = (
    f"More salt: does a water activity of {limits.MOIST:.2f} come at a higher or a lower weight?",
    "Salt at 20 %: where does the curve run level, and what does salt do below that step?",
    f"The solid curve reaches {limits.MOIST:.2f} first. How much lighter must the piece be until the dashed one does?",
)
MARKS = {"grows": "full", "perhaps": "left", "stopped": "none"}  # how much of a round mark on the ladder is filled
MARK_WORDS = ("● grows by the estimate", "◐ by the cautious end only", "○ stopped by both")
STOPPED = "What is stopped is not dead, and a poison made earlier stays."
ONE_RULE = "Water is one rule of many: gutting, hours, heat and pack count too."
TOO_LIGHT = "A piece of this make-up cannot weigh {left} of its weight as laid: {dry} of that weight is not water."


@dataclass(frozen=True)
class GrowthLine:
    """A line of the ladder: a water activity, what grows down to it, and whether that was read or remembered."""

    organism: str
    words: str

    @property
    def limit(self) -> water_check.GrowthLimit:
        return water_check.limit_of(self.organism)

    @property
    def activity(self) -> float:
        return self.limit.least_water_activity

    @property
    def label(self) -> str:
        remembered = "*" if self.limit.how == "memory" else ""
        return f"{f'{self.activity:.3f}'.removesuffix('0')} {self.words}{remembered}"


LADDER = (
    GrowthLine("Clostridium botulinum type E and non-proteolytic B and F", "botulism, cold kind"),
    GrowthLine("Clostridium botulinum type A and proteolytic B and F", "botulism, warm kind"),
    GrowthLine("Listeria monocytogenes, older table", "Listeria"),
    GrowthLine("all pathogens in dried fish", "Staphylococcus, poison"),
    GrowthLine("Staphylococcus aureus, growth", "Staphylococcus, slowly"),
    GrowthLine("halophilic bacteria (pink)", "pink salt-fish bacteria"),
    GrowthLine("Eurotium repens", "common store mould"),
    GrowthLine("a few moulds in dried-fish stores", "a few moulds"),
    GrowthLine("any microbe", "the last of the moulds"),
)


def growth_table() -> Table:
    """What grows down to which water activity, whether that was read or remembered, and where."""
    rows = []
    for rung in LADDER:
        source = rung.limit.source
        who = f"{source.body_or_authors.split(',')[0]} {source.year or '(no year)'}"
        rows.append((*rung.label.split(" ", 1), rung.limit.how, who))
    return Table(("down to", "what grows", "how seen", "by"), tuple(rows))


def measured_table() -> Table:
    """Fish with a published water activity beside the estimate and its cautious end."""
    rows = []
    for row in water_check.measured_fish():
        both = (one(*row.flesh, native=row.native) for one in (water_activity, water_activity_cautious))
        shown = (f"{float(activity):.2f}" for activity in (row.published_mid, *both))
        rows.append((row.product, *shown, row.use))
    return Table(("fish", "published", "estimate", "cautious", "used for"), tuple(rows))


def picture(choice: Choice) -> Picture:
    """The frame: water activity over weight left, and the ladder of limits at its right side."""
    made = Picture(size=(7.4, 4.2))
    on = figures.axes(
        made, "weight left, % of weight as laid (← drying)", "water activity", (20, 100), (LOWEST, 1.025),
        place=(0.09, 0.125, 0.575, 0.785),
    )  # fmt: skip
    for rung in LADDER:
        on.axhline(rung.activity, color="#777777", linewidth=0.8, linestyle=(0, (1, 2)), zorder=0)
    figures.add_band(made, "band", on, 0, "8 of 10 pieces")
    figures.add_curve(made, "mid", on, 0, "estimate")
    figures.add_curve(made, "cautious", on, 1, f"cautious end, at {choice.show(ROOM, 'temperature')}")
    figures.add_point(made, "now", on, 0)
    figures.add_point(made, "upper", on, 1)
    figures.legend(on)
    for name in ("now", "upper"):
        made[name].set_clip_on(False)
    _add_ladder(made, on)
    on.text(104.5, LOWEST, "\n".join(MARK_WORDS), fontsize=figures.FONT_SIZE - 2, va="bottom", linespacing=1.35)
    return made


def _add_ladder(made: Picture, on) -> None:
    """The words of the rungs, which stand still, and the marks before them, which move."""
    for rung, height in zip(LADDER, HEIGHTS, strict=True):
        leader = [100, 101.5, 103.0], [rung.activity, rung.activity, height]
        on.plot(*leader, color="#777777", linewidth=0.8, clip_on=False)
        on.text(107.0, height, rung.label, fontsize=figures.FONT_SIZE - 1, va="center", clip_on=False)
    round_marks = {"marker": "o", "markersize": 7, "color": figures.BLACK, "markerfacecoloralt": "white"}
    for name, filled in MARKS.items():
        made.add(name, on.plot([], [], linestyle="", clip_on=False, fillstyle=filled, **round_marks)[0])
    made.add(
        "unknown", on.plot([], [], linestyle="", clip_on=False, marker="$?$", color=figures.BLACK, markersize=7)[0]
    )


def spaced(heights: list[float], least: float) -> list[float]:
    """Heights from high to low, pushed apart to a least distance and kept near where they were."""
    placed = list(heights)
    for _ in range(200):
        for upper in range(len(placed) - 1):
            lacking = least - (placed[upper] - placed[upper + 1])
            if lacking > 1e-6:
                placed[upper] += lacking / 2
                placed[upper + 1] -= lacking / 2
    return placed


HEIGHTS = spaced([rung.activity for rung in LADDER], 0.029)


def draw(made: Picture, water: Water, _choice: Choice) -> None:
    """Set the curves, the two points of the piece, and the marks of the ladder."""
    across = 100 * water.left
    made["mid"].set_data(across, water.mid)
    made["cautious"].set_data(across, water.cautious)
    figures.set_band(made["band"], across, water.low, water.high)
    known = water.activity is not None
    _set_point(made, "now", water.now, water.activity.mid if known else np.nan)
    _set_point(made, "upper", water.now, water.upper if known else np.nan)
    states = [water.growth(rung.activity) for rung in LADDER]
    for name in (*MARKS, "unknown"):
        heights = [height for height, state in zip(HEIGHTS, states, strict=True) if state == name]
        made[name].set_data([105.0] * len(heights), heights)


def _set_point(made: Picture, name: str, left: float, activity: float) -> None:
    """The estimate with its number below the rising curve, the cautious end with its number left of it."""
    text = "" if np.isnan(activity) else f"below {LOWEST:.2f}" if activity < LOWEST else _two(activity, name == "upper")
    figures.set_point(made, name, 100 * left, max(activity, LOWEST), text)
    if name == "upper":
        made["upper_words"].set(ha="right", va="center", position=(-10, 0 if activity > 0.96 else 5))
    else:
        made["now_words"].set(ha="right" if left > 0.85 else "left", va="top", position=(-4 if left > 0.85 else 9, -8))


def _two(activity: float, up: bool = False) -> str:
    """A water activity to two decimals; the cautious end is rounded up, as verdicts do."""
    return f"{math.ceil(100 * activity - 1e-6) / 100 if up else activity:.2f}"


def tell(water: Water, choice: Choice) -> Said:
    """The water activity in a sentence, the price of not measuring, the rung of the rules as the caution."""
    if water.activity is None:
        sentence = TOO_LIGHT.format(left=choice.show(water.now, "percent"), dry=choice.show(water.dry, "percent"))
        sentence += " The water activity is not known."
    else:
        sentence = f"{_make_up(water, choice)} {_activity(water, choice)} {_growers(water)}"
    alt = f"Water activity rises with the weight left. {_courses(water)} {sentence}"
    return Said(sentence, _how_sure(water, choice), f"{_rung(water)} {STOPPED} {ONE_RULE} {words.caution_line()}", alt)


def _make_up(water: Water, choice: Choice) -> str:
    share, now = (choice.show(value, "percent") for value in (water.water_fraction, water.now))
    parts = choice.show(water.water_ratio, "fraction")
    return f"At {now} of its weight as laid the piece is {share} water ({parts} g of water to 1 g of dry solids)."


def _activity(water: Water, choice: Choice) -> str:
    here, room = (choice.show(degrees, "temperature") for degrees in (water.temperature, ROOM))
    low, mid, high = (_two(value) for value in (water.activity.low, water.activity.mid, water.activity.high))
    likely = "" if low == high else f", likely {low} to {high}"
    at_room = "" if water.temperature == ROOM else f" Back at {room} it is {_two(water.at_room)}."
    return f"Water activity at {here}: {mid}{likely}.{at_room} A verdict reads the cautious end, {_two(water.upper, True)}."


def _growers(water: Water) -> str:
    """How much of the ladder the cautious end does not stop."""
    grown = [rung for rung in LADDER if water.growth(rung.activity) != "stopped"]
    if not grown:
        return "Going by that end, nothing known can grow."
    if len(grown) == 1:
        return f"Going by that end, only {grown[0].words} could still grow."
    return f"Going by that end, {len(grown)} of the {len(LADDER)} on the ladder could still grow; the first still to fear is {grown[0].words}."


def _how_sure(water: Water, choice: Choice) -> str:
    estimate, cautious = (choice.show(weight, "percent") for weight in water.line)
    told = (
        f"8 of 10 pieces of this make-up lie in the likely range. The estimate is down to {limits.MOIST:.2f} at {estimate} left, the "
        f"cautious end only at {cautious}: that is the price of not measuring. A limit marked * is remembered, not read."
    )
    if water.activity is None:
        return told
    tested = sorption.water_activity_range
    beyond = outside(tested, water_activity=water.activity.mid, temperature=water.temperature)
    return f"{told} Take this point as not known: {'; '.join(beyond)}." if beyond else told


def _rung(water: Water) -> str:
    """What the rules say of this water activity, in their own words."""
    return " ".join(finding.text for finding in ladder_findings(water))


def _courses(water: Water) -> str:
    marks = [weight for weight in (0.4, 0.6, 0.8, 1.0) if weight > water.left[0]]
    pairs = [
        f"{100 * weight:.0f} % left: estimate {np.interp(weight, water.left, water.mid):.2f}, "
        f"cautious end {np.interp(weight, water.left, water.cautious):.2f}"
        for weight in marks
    ]
    return f"{'; '.join(pairs)}. A ladder of {len(LADDER)} limits stands at the right."


def water_panel(batch: Batch | None = None, choice: Choice | None = None) -> Panel:
    """Sliders for fat, salt, weight left and temperature of a piece of a batch (the demonstration batch if none)."""
    piece, spread = piece_of(batch or demo_batch("heron")), spread_of_protein()
    starts = {"fat": piece.fat, "salt": piece.salt}
    controls = tuple(replace(one, start=one.nearest(starts.get(one.name, one.start))) for one in CONTROLS)
    return Panel(
        "Weight left, water activity, and what can grow",
        controls,
        lambda **values: free_water(piece, spread, **values),
        picture,
        draw,
        tell,
        choice=choice,
        look_for=LOOK_FOR,
    )
