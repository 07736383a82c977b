"""Panel: how free the water of a piece is at each weight left (`steps.plan.free_water`), and what can still grow in it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flakeyard import limits
from flakeyard.messages import in_signs, number, say, translated
from flakeyard.models import sorption
from flakeyard.models.inputs import outside
from flakeyard.models.sorption import water_activity, water_activity_cautious
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.judge import water_check
from flakeyard.steps.plan.free_water import ROOM, Water, free_water, ladder_findings, piece_of, spread_of_protein
from flakeyard.workbook import words
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import drawing
from flakeyard.workbook.panels.live import Lesson, Live, Told
from flakeyard.workbook.panels.panel import Choice, Control
from flakeyard.workbook.table import Table, heads

TENTHS = (0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
LOWEST, HIGHEST = 0.45, TENTHS[-1]  # of the picture; nothing is known to grow further down
HEAVIEST, LIGHTEST = 100.0, 30.0  # % left, where the axis begins and ends
MARKED = 0.100  # kg, what the strip weighed as laid
STRIP = (1.0, 9.0)  # mm of the strip that its cut shows
WET = 0.75  # kg/kg; the palest colour of the cut

CONTROLS = (
    Control("fat", say("live.water.fat_raw_fish"), "fish", "percent", 0.0, 0.20, 0.01, 0.06),
    Control("salt", say("live.water.salt_dry_solids"), "salt", "percent", 0.0, 0.40, 0.01, 0.13),
    Control("left", say("live.water.weight_left"), "air", "percent", 0.30, 1.00, 0.01, 0.58),
)
STOPPED = say("live.water.what_stopped_not")
ONE_RULE = say("live.water.water_one_rule")


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
    def number(self) -> str:
        return in_signs(number(self.activity, ".3f").removesuffix("0"))

    @property
    def label(self) -> str:
        return self.words + ("*" if self.limit.how == "memory" else "")


LADDER = (
    GrowthLine("Clostridium botulinum type E and non-proteolytic B and F", say("live.water.rung.botulism_cold_kind")),
    GrowthLine("Clostridium botulinum type A and proteolytic B and F", say("live.water.rung.botulism_warm_kind")),
    GrowthLine("Listeria monocytogenes, older table", say("live.water.rung.listeria")),
    GrowthLine("all pathogens in dried fish", say("live.water.rung.staphylococcus_poison")),
    GrowthLine("Staphylococcus aureus, growth", say("live.water.rung.staphylococcus_slowly")),
    GrowthLine("halophilic bacteria (pink)", say("live.water.rung.pink_salt_fish_bacteria")),
    GrowthLine("Eurotium repens", say("live.water.rung.common_store_mould")),
    GrowthLine("a few moulds in dried-fish stores", say("live.water.rung.a_few_moulds")),
    GrowthLine("any microbe", say("live.water.rung.the_last_of_the_moulds")),
)


def growth_table() -> Table:
    """What grows down to which water activity, whether that was read or remembered, and where."""
    rows = []
    for rung in LADDER:
        source = rung.limit.source
        who = f"{source.body_or_authors.split(',')[0]} {source.year or say('live.water.no_year')}"
        rows.append((rung.number, rung.label, translated(rung.limit.how), who))
    return Table(heads("live.water.growth_heads"), tuple(rows))


def measured_table() -> Table:
    """Fish with a published water activity beside the estimate and its cautious end."""
    rows = []
    for row in water_check.measured_fish():
        both = (one(*row.flesh, native=row.native) for one in (water_activity, water_activity_cautious))
        shown = (number(float(activity), ".2f") for activity in (row.published_mid, *both))
        rows.append((translated(row.product), *shown, translated(row.use)))
    return Table(heads("live.water.measured_heads"), tuple(rows))


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


HEIGHTS = spaced([rung.activity for rung in LADDER], 0.031)


# The picture


def draw_water(water: Water, choice: Choice) -> dict:
    """The strip on its scale; beside it the water activity as the piece gets lighter, and the ladder at its end."""
    plot = _plot(water)
    curve = plot["marks"][0]
    along = {"x": curve["x"][::-1], "y": curve["y"][::-1]}  # rising, as the page walks along it
    now = 1000 * (water.thickness or water.laid_thickness)
    return {
        "fields": [_strip_field(water, choice), plot],
        "handles": [drawing.handle("left", 1, HIGHEST, "across", scale=100.0, down=True, along=along)],
        "buttons": [],
        "trace": {
            "0": {"bottoms": [[*STRIP, -now]]},
            "1": {"x": curve["x"], "y": curve["y"], "strokes": _mark_at(water)},
        },
        "guessed": {
            "field": 1, "axis": "across", "at": [limits.MOIST], "names": [say("live.water.guess")], "start": 75.0,
            "step": 1.0, "unit": "%", "ends": [LOWEST, HIGHEST],
        },
    }  # fmt: skip


def _strip_field(water: Water, choice: Choice) -> dict:
    """A strip that weighed 100 g as laid: as thin as the water that left makes it, and what the scale says now."""
    laid, tray = 1000 * water.laid_thickness, choice.show(MARKED, "mass", digits=3).partition(" (")[0]
    known = water.thickness is not None
    marks = [{"kind": "area", "style": "air", "words": say("live.water.strip", laid=tray)}]
    marks.append(drawing.curve("before", STRIP, [-laid, -laid], say("live.water.laid")))
    if known:
        shade = [water.water_fraction / WET] * 2
        reads = choice.show(water.thickness, "length")
        marks.append(drawing.cut(*STRIP, 0.0, shade, "water", top=-1000 * water.thickness, reading=reads))
    weighs = choice.show(MARKED * water.now, "mass", digits=3).partition(" (")[0] if known else "?"
    small = say("live.weight.laid", laid=tray)
    marks.append({"kind": "scale", "left": STRIP[0], "right": STRIP[1], "words": weighs, "small": small})
    field = drawing.cuts_field(16.0, 0.0, marks, share=0.27)
    return field | {"up": drawing.axis("", 0.0, -laid - 2.0), "rests": True}


def _plot(water: Water) -> dict:
    """Estimate with its band, cautious end and the two points of the piece, from wet to dry, and the ladder."""
    weights, seen = 100 * water.left, water.mid >= LOWEST
    low, high = (np.clip(one[seen], LOWEST, HIGHEST)[::-1] for one in (water.low, water.high))
    marks = [
        drawing.curve("now", weights[seen][::-1], water.mid[seen][::-1], say("live.water.estimate")),
        drawing.band("now", weights[seen][::-1], low, high),
    ]
    seen = water.cautious >= LOWEST
    marks.append(drawing.curve("second", weights[seen][::-1], water.cautious[seen][::-1], say("live.water.cautious")))
    marks += [
        drawing.rung(rung.activity, height, rung.number, rung.label, water.growth(rung.activity))
        for rung, height in zip(LADDER, HEIGHTS, strict=True)
    ]
    if water.activity is not None:
        upper = max(water.upper, LOWEST)
        marks.append(drawing.point(100 * water.now, upper, _two(upper, True), shape="s"))
        mid = water.activity.mid
        told = _two(mid) if mid >= LOWEST else say("live.water.below", low=number(LOWEST, ".2f"))
        marks.append(drawing.point(100 * water.now, max(mid, LOWEST), told, above=mid < LOWEST + 0.05))
    across = drawing.axis(say("live.water.across"), HEAVIEST, LIGHTEST, range(100, 39, -20))
    up = drawing.axis(say("live.water.up"), LOWEST, HIGHEST, TENTHS, [number(one, ".1f") for one in TENTHS])
    return {"across": across, "up": up, "marks": marks, "margin": 212, "slim": 176, "tall": 330}


def _mark_at(water: Water) -> list[list[float]]:
    """Where the piece stands, as a short upright stroke through both its points."""
    if water.activity is None:
        return []
    ends = max(water.activity.mid, LOWEST), max(water.upper, LOWEST)
    return [[100 * water.now, ends[0] - 0.01, 100 * water.now, ends[1] + 0.01]] if ends[0] - 0.01 >= LOWEST else []


def _two(activity: float, up: bool = False) -> str:
    """A water activity to two decimals; the cautious end is rounded up, as verdicts do."""
    return number(math.ceil(100 * activity - 1e-6) / 100 if up else activity, ".2f")


def reply_water(water: Water, guess: dict, choice: Choice) -> str:
    """What is said to a guess of the weight left at the official line."""
    guessed, (estimate, cautious) = guess["knots"][0] / 100, water.line
    where = "early" if guessed > estimate else "between" if guessed > cautious else "dry"
    shown = (choice.show(share, "percent") for share in (guessed, estimate, cautious))
    told = dict(zip(("guess", "estimate", "cautious"), shown, strict=True))
    return f"{say('live.water.reply', line=number(limits.MOIST, '.2f'), **told)} {say(f'live.water.{where}')}"


# The words


def tell_water(water: Water, choice: Choice) -> Told:
    """The water activity in a sentence, the price of not measuring, the rung of the rules as the caution."""
    if water.activity is None:
        left, dry = choice.show(water.now, "percent"), choice.show(water.dry, "percent")
        sentence = say("live.water.piece_make_up", left=left, dry=dry)
    else:
        sentence = f"{_make_up(water, choice)} {_activity(water, choice)} {_growers(water)}"
    alt = say("live.water.strip_on_scale", courses=_courses(water), sentence=sentence)
    parts = (_beyond(water), _rung(water), STOPPED, ONE_RULE, words.caution_line())
    caution = " ".join(filter(None, parts))
    return Told(sentence, _how_sure(water, choice), caution, alt, _numbers(water, choice), _chips(water))


def _numbers(water: Water, choice: Choice) -> tuple[tuple[str, str], ...]:
    """The estimate large; then what verdicts read, the water in the piece, and how much of the ladder is still lit."""
    unknown = say("live.not_known")
    if water.activity is None:
        texts = (unknown, unknown, unknown, unknown)
    else:
        texts = (
            _two(water.activity.mid), _two(water.upper, True), choice.show(water.water_fraction, "percent"),
            say("live.water.of", grow=len(_grown(water)), all=len(LADDER)),
        )  # fmt: skip
    names = ("activity", "upper", "inside", "grow")
    return tuple((say(f"live.water.{name}"), text) for name, text in zip(names, texts, strict=True))


def _chips(water: Water) -> tuple[tuple[str, str], ...]:
    """The likely range, and what is still to be feared first."""
    if water.activity is None:
        return ((say("live.likely"), say("live.not_known")), (say("live.water.fear"), say("live.not_known")))
    low, high = _two(water.activity.low), _two(water.activity.high)
    grown = _grown(water)
    return (
        (say("live.likely"), low if low == high else say("live.water.range", low=low, high=high)),
        (say("live.water.fear"), grown[0].words if grown else say("live.water.none")),
    )


def _make_up(water: Water, choice: Choice) -> str:
    share, now = (choice.show(value, "percent") for value in (water.water_fraction, water.now))
    parts = choice.show(water.water_ratio, "fraction")
    return say("live.water.weight_laid_piece", now=now, share=share, parts=parts)


def _activity(water: Water, choice: Choice) -> str:
    here = choice.show(water.temperature, "temperature")
    low, mid, high = (_two(value) for value in (water.activity.low, water.activity.mid, water.activity.high))
    upper = _two(water.upper, True)
    if low == high:
        return say("live.water.water_activity_verdict", here=here, mid=mid, upper=upper)
    return say("live.water.water_activity_likely", here=here, mid=mid, low=low, high=high, upper=upper)


def _grown(water: Water) -> list[GrowthLine]:
    """What of the ladder the cautious end does not stop."""
    return [rung for rung in LADDER if water.growth(rung.activity) != "stopped"]


def _growers(water: Water) -> str:
    """How much of the ladder the cautious end does not stop."""
    grown = _grown(water)
    if not grown:
        return say("live.water.going_end_nothing")
    if len(grown) == 1:
        return say("live.water.going_end_only", words=grown[0].words)
    all_of_them = len(LADDER)
    return say("live.water.going_end_on", grown=len(grown), all_of_them=all_of_them, words=grown[0].words)


def _how_sure(water: Water, choice: Choice) -> str:
    estimate, cautious = (choice.show(weight, "percent") for weight in water.line)
    price = say("live.water.8_10_pieces", MOIST=limits.MOIST, estimate=estimate, cautious=cautious)
    return f"{price} {say('live.water.drawn')}"


def _beyond(water: Water) -> str:
    """Where the isotherm was not tested the point is not known, and that stands where everybody sees it."""
    if water.activity is None:
        return ""
    tested = sorption.water_activity_range
    beyond = outside(tested, water_activity=water.activity.mid, temperature=water.temperature)
    return say("live.water.take_point_not", beyond="; ".join(beyond)) if beyond else ""


def _rung(water: Water) -> str:
    """What the rules say of this water activity, in their own words."""
    return " ".join(finding.text for finding in ladder_findings(water))


def _courses(water: Water) -> str:
    marks = [weight for weight in (0.4, 0.6, 0.8, 1.0) if weight > water.left[0]]
    pairs = [
        say(
            "live.water.course", left=round(100 * weight), estimate=np.interp(weight, water.left, water.mid),
            cautious=np.interp(weight, water.left, water.cautious),
        )
        for weight in marks
    ]  # fmt: skip
    rungs = len(LADDER)
    return say("live.water.ladder_limits_stands", pairs="; ".join(pairs), rungs=rungs)


def water_panel(batch: Batch | None = None, choice: Choice | None = None, **start: float) -> Live:
    """A piece of a batch (the demonstration batch if none) on its way down the curve; `start` are controls that begin
    elsewhere than the batch does."""
    piece, spread = piece_of(batch or demo_batch("heron")), spread_of_protein()
    starts = {"fat": piece.fat, "salt": piece.salt}
    controls = tuple(replace(one, start=one.nearest(starts.get(one.name, one.start))) for one in CONTROLS)
    lesson = Lesson(
        say("live.water.title"), say("live.water.prompt"), controls,
        lambda **values: free_water(piece, spread, temperature=ROOM, **values), draw_water, tell_water, reply_water,
        say("live.water.guess_prompt"), ("fat", "salt", "left"),
        look_for=tuple((say(f"live.water.look_{n}"), say(f"live.water.saw_{n}")) for n in (1, 2, 3)), start=start,
    )  # fmt: skip
    return Live(lesson, choice)
