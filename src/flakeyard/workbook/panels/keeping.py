"""Panel of workbook 07: where dried fish may be kept and until when, and the form for one's own keeping.

Three clocks run beside each other: guidance, mould, rancid fat. The earliest decides, at the place the rules allow. All
rules about germs and hours are taken as kept in the panel: it shows what water, fat, pack and place do, and says so.
"""

from __future__ import annotations

import html
from dataclasses import replace
from functools import partial
from pathlib import Path

import ipywidgets as widgets
import numpy as np

from flakeyard import limits, tables
from flakeyard.models import keeping
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.judge import safety, storing
from flakeyard.steps.judge.water_check import HYGROMETER_ERROR, TRUSTED
from flakeyard.steps.plan.packs import DAYS, SOON, Kept, LaidPiece, lay_piece, try_pack
from flakeyard.workbook import own, words
from flakeyard.workbook.form import FormField, form
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import figures
from flakeyard.workbook.panels.figures import Picture
from flakeyard.workbook.panels.keeping_tables import PACKS, PLACE_WORDS
from flakeyard.workbook.panels.panel import Choice, Control, Panel, Said

SPOTS = (  # where it may stand, and how warm it is there, degC
    ("freezer", limits.FREEZER),
    ("refrigerator", limits.COLD),
    *(("cupboard", warmth) for warmth in (12.0, 16.0, 20.0, 25.0, 30.0, 35.0)),
)
LOOK_FOR = (
    "Less fat: which clock gets longer, and does the time you may count on?",
    "Dry less and less: at which estimate is the cupboard lost, and at which the refrigerator?",
    "The tightest pack, the coolest cupboard: how many days at most?",
)
CLOCKS = (("official_cap", "guidance"), ("mould", "mould"), ("rancidity", "rancid fat"))
SURE = (
    "Guidance is a rule made for similar food, not a forecast. Mould (read on cakes) and rancid fat are told at their cautious "
    "end: laboratories differ, so some three tenths of their middle days count, or less. 8 of 10 such packs lie in the band."
)
AS_IF = "This panel assumes that the rules on gutting, histamine, parasites, hours and heat are kept. The last cell under Your kitchen checks them."


class Worded(Control):
    """A slider that runs through a list of things and shows their names."""

    def reading(self, value: float, choice: Choice) -> str:
        return pack_words(value) if self.name == "pack" else spot_words(value, choice)


class Activity(Control):
    """A slider of water activities, always with two decimals."""

    def reading(self, value: float, choice: Choice) -> str:
        return f"{value:.2f}"


def pack_words(number: float) -> str:
    return PACKS[round(number)][1]


def pack_name(pack: tables.Pack | None) -> str:
    """What the slider calls a pack."""
    return dict(PACKS)[pack.id if pack else None]


def spot_words(number: float, choice: Choice) -> str:
    """Short enough for the room beside a slider; the picture and the sentence name the cupboard."""
    place, warmth = SPOTS[round(number)]
    return f"at {choice.show(warmth, 'temperature')}" if place == "cupboard" else place


CONTROLS = (
    Control("fat", "Fat in the raw fish", "fish", "percent", 0.0, 0.20, 0.01, 0.06),
    Activity("activity", "Dried to water activity", "air", "fraction", 0.60, 0.95, 0.01, limits.CUPBOARD_AIM),
    Worded("pack", "Pack", "keeping", "count", 0, len(PACKS) - 1, 1, 5),
    Control("humidity", "Humidity of the room", "keeping", "percent", 0.30, 0.90, 0.05, 0.50),
    Worded("spot", "You would keep it", "keeping", "count", 0, len(SPOTS) - 1, 1, 4),
)


def keep_at(laid: LaidPiece, *, fat: float, activity: float, pack: float, humidity: float, spot: float) -> Kept:
    """Judge and follow one pack for one move of the sliders."""
    name, place, warmth = PACKS[round(pack)][0], *SPOTS[round(spot)]
    record = tables.pack(name) if name else None
    return try_pack(laid, fat=fat, activity=activity, pack=record, place=place, temperature=warmth, humidity=humidity)


def picture(choice: Choice) -> Picture:
    """Left: water activity in the pack over days. Right: the three clocks."""
    made = Picture(size=(7.4, 3.75))
    left = figures.axes(
        made, "days in the pack", "water activity", (1, 1000), (0.0, 1.0), place=(0.075, 0.135, 0.405, 0.63)
    )
    left.set_xscale("log")
    _days_across(left)
    figures.add_band(made, "band", left, 0, "8 of 10 packs")
    figures.add_curve(made, "mid", left, 0, "fish, estimate")
    figures.add_curve(made, "air", left, 1, "air around it", width=1.8)
    figures.legend(left, 2)
    for limit, what in ((limits.MOIST, "germs"), (keeping.MOULD_DRIEST, "moulds")):
        label = f"{limit:.2f} {what}"
        left.axhline(limit, color="#555555", linewidth=1.0, linestyle=(0, (1, 2)), zorder=0)
        text = left.text(900, limit, label, fontsize=figures.FONT_SIZE - 2, ha="right", va="center", zorder=6)
        text.set_bbox({"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1.0})
        made.add(label, text)
    made.add("asked", left.text(0.0, 1.215, "", transform=left.transAxes, fontsize=figures.FONT_SIZE, va="bottom"))
    _add_clocks(made)
    return made


def _days_across(on) -> None:
    on.set_xticks([1, 10, 100, 1000], ["1", "10", "100", "1000"])
    on.minorticks_off()


def _add_clocks(made: Picture) -> None:
    right = figures.axes(
        made, "days that each clock gives", "", (1, 1000), (-0.55, 2.55), place=(0.625, 0.135, 0.345, 0.63)
    )
    right.set_xscale("log")
    _days_across(right)
    right.set_yticks([2, 1, 0], [label for _, label in CLOCKS])
    right.grid(visible=False, axis="y")
    right.tick_params(axis="y", length=0)
    for place, (name, _) in enumerate(CLOCKS):
        figures.add_band(made, f"bar_{name}", right, place, "")
        text = right.text(1, 2 - place, "", va="center", fontsize=figures.FONT_SIZE, zorder=6)
        text.set_bbox({"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1.2})
        made.add(f"days_{name}", text)
    (line,) = right.plot([], [], color=figures.BLACK, linewidth=2.2, zorder=5)
    made.add("earliest", line)
    made.add("where", right.text(0.0, 1.215, "", transform=right.transAxes, fontsize=figures.FONT_SIZE, va="bottom"))
    note = right.text(
        0.0, 1.05, "", transform=right.transAxes, fontsize=figures.FONT_SIZE, va="bottom", fontweight="bold"
    )
    made.add("until", note)


def draw(made: Picture, kept: Kept, choice: Choice) -> None:
    """Set the course, the humidity around it and the clocks."""
    made["mid"].set_data(DAYS, kept.mid)
    figures.set_band(made["band"], DAYS, kept.low, kept.high)
    _, around = storing.climate_around(kept.place, kept.temperature, kept.humidity)
    made["air"].set_data([1, 1000], [around, around])
    made["asked"].set_text(f"Asked: {kept.place}, {choice.show(kept.temperature, 'temperature')}")
    _draw_clocks(made, kept.keeping)
    where = f"{words.SHAPES[kept.verdict.keep]} {kept.keeping.place}"
    made["where"].set_text(f"These rules: {where}" if kept.allowed else f"These rules: not there, {where}")


def _draw_clocks(made: Picture, until: storing.Keeping) -> None:
    for place, (name, _) in enumerate(CLOCKS):
        days, row = until.clocks[name], 2 - place
        end = float(np.clip(days, 1.0, 1000.0))
        figures.set_band(made[f"bar_{name}"], [1.0, end], [row - 0.3] * 2, [row + 0.3] * 2)
        text = made[f"days_{name}"]
        first = name == until.limited_by
        text.set_text(f"{clock_words(days)}{' ◄' if first else ''}")
        inside = end > 60.0
        text.set(
            x=end * (0.93 if inside else 1.08),
            ha="right" if inside else "left",
            fontweight="bold" if first else "normal",
        )
    known = until.days is not None
    made["earliest"].set_data([max(until.days, 1) if known else np.nan] * 2, [-0.55, 2.55])
    made["until"].set_text(f"{words.days_words(until.days)} at most" if known else "days not known")


def clock_words(days: float) -> str:
    """What a clock shows: whole days, or that it does not run out in the picture."""
    if not np.isfinite(days):
        return "none expected"
    return "over 1000" if days >= 1000 else f"{int(days + 1e-9)}"


def tell(kept: Kept, choice: Choice) -> Said:
    """The verdict of these rules, what decides, what the pack does; why in the caution."""
    sentence = f"{_dried(kept, choice)} {_verdict(kept)} {_course(kept, choice)}"
    clocks = "; ".join(f"{label} {clock_words(kept.keeping.clocks[name])}".replace("\n", " ") for name, label in CLOCKS)
    marks = ", ".join(
        f"{np.interp(day, DAYS, kept.mid):.2f} after {words.days_words(day)}" for day in (1, 10, 100, 1000)
    )
    line = "no line is drawn" if kept.keeping.days is None else "a line marks the earliest"
    alt = (
        f"Left: the water activity of the fish in the pack, {marks}, with a hatched band. Right, in days, in the "
        f"{kept.keeping.place}: {clocks}; {line}. {sentence}"
    )
    return Said(sentence, _how_sure(kept, choice), _caution(kept), alt)


def _dried(kept: Kept, choice: Choice) -> str:
    weight = choice.show(kept.weight, "percent")
    upper = _up(kept.cautious)
    return (
        f"Dried to {weight} of the weight as laid: water activity estimated {kept.estimate:.2f}, cautious end {upper}."
    )


def _up(activity: float) -> str:
    """The cautious end to two decimals, rounded up as in verdicts."""
    return f"{np.ceil(100 * activity - 1e-6) / 100:.2f}"


def _verdict(kept: Kept) -> str:
    keep = kept.verdict.keep
    return f"To keep: {words.SHAPES[keep]} {PLACE_WORDS[keep]}. {words.keeping_sentence(kept.keeping)}"


def _course(kept: Kept, choice: Choice) -> str:
    low, mid, high = (f"{value:.2f}" for value in (kept.soon.low, kept.soon.mid, kept.soon.high))
    likely = "" if low == high else f", likely {low} to {high}"
    spot = f"{kept.place} at {choice.show(kept.temperature, 'temperature')}"
    if kept.place == "cupboard":
        spot += f" and {choice.show(kept.humidity, 'percent')} humidity"
    return f"Asked for: {pack_name(kept.pack)}, {spot}. Water activity there after {SOON:.0f} days: {mid}{likely}."


def _how_sure(kept: Kept, choice: Choice) -> str:
    """Adds where the mould clock was tested, when it counts and this pack is outside."""
    (driest, moistest, _), (coolest, warmest, _) = keeping.mould_range.bounds.values()
    inside = driest <= kept.mid[-1] <= moistest and coolest <= kept.temperature <= warmest
    if inside or not np.isfinite(kept.keeping.clocks["mould"]):
        return SURE
    warmth = f"{choice.show(coolest, 'temperature')} to {choice.show(warmest, 'temperature')}"
    return f"{SURE} Mould was tested from {driest:.2f} to {moistest:.2f} and {warmth}; outside that range we only extended the line: take it as a guess."


def _caution(kept: Kept) -> str:
    reasons = [reason for reason in kept.verdict.reasons if reason.rule != words.HEATED]
    asked = sorted(reasons, key=lambda reason: reason.rule != "A1")  # first of all: not where you wanted
    return " ".join(
        filter(None, [_whole(kept.batch_verdict), *(reason.text for reason in asked), AS_IF, words.caution_line()])
    )


def _whole(verdict: safety.Verdict) -> str:
    """A word on the batch itself when it fails on other rules than the panel is about."""
    if verdict.keep not in ("nowhere", "not_known"):
        return ""
    return f"By all rules the batch behind these sliders is: {words.headline(verdict)}."


def starts(batch: Batch, laid: LaidPiece) -> dict[str, float]:
    """Where the sliders begin: the batch's own fat, pack and room, but dried for the cupboard and put there."""
    room, humidity = (
        usual if told is None else told
        for told, usual in zip((batch.room.temperature, batch.room.relative_humidity), storing.ROOM, strict=True)
    )
    begin = {"fat": float(np.median(laid.fat_raw)), "humidity": humidity}
    names, pack = [name for name, _ in PACKS], batch.keep.pack_record
    begin["pack"] = names.index(pack.id) if pack and pack.id in names else 0
    cupboards = [number for number, (place, _) in enumerate(SPOTS) if place == "cupboard"]
    begin["spot"] = min(cupboards, key=lambda number: abs(SPOTS[number][1] - room))
    return begin


def keeping_panel(batch: Batch | None = None, choice: Choice | None = None) -> Panel:
    """Sliders for fat, dryness, pack, room and place (the demonstration batch when none is given)."""
    batch = batch or demo_batch("heron")
    laid = lay_piece(batch)
    begin = starts(batch, laid)
    controls = tuple(replace(one, start=one.nearest(begin.get(one.name, one.start))) for one in CONTROLS)
    return Panel(
        "Where to keep it, and three clocks", controls, partial(keep_at, laid), picture, draw, tell,
        choice=choice, look_for=LOOK_FOR,
    )  # fmt: skip


# One's own keeping

ASKED = {  # what a verdict rests on besides fish, cut, salt and dryer; a field left empty is taken out of the file
    "Where it will stand": (
        FormField("keep", "place", "Place"),
        FormField("keep", "pack", "Pack"),
        FormField("keep", "per_pack", "Fish in one pack"),
        FormField("room", "temperature", "Room"),
        FormField("room", "relative_humidity", "Room humidity, %"),
    ),
    "Water activity, if it was measured": (
        FormField("keep", "measured_water_activity", "Reading"),
        FormField("keep", "measured_error", "Its error"),
        FormField("keep", "measured_by", "Measured by"),
    ),
    "How it was heated through before drying": (
        FormField("heat", "core", "Middle heated to"),
        FormField("heat", "hold", "Held there for"),
        FormField("heat", "checked", "Checked with"),
        FormField("heat", "to_tray", "From pot to trays"),
    ),
    "The raw fish": (
        FormField("fish", "gutted", "Gutted"),
        FormField("fish", "smells_normal", "Smelled normal"),
        FormField("fish", "origin", "Farmed or wild"),
        FormField("fish", "waters", "Caught in"),
        FormField("fish", "hours_above_4c", "Hours over 4 °C (40 °F)"),
        FormField("fish", "hours_above_21c", "Hours over 21 °C (70 °F)"),
        FormField("fish", "warmest", "Warmest place"),
        FormField("fish", "stock", "Fresh or frozen"),
        FormField("fish", "frozen_at", "Frozen at"),
        FormField("fish", "frozen_days", "Days frozen"),
        FormField("fish", "thawed_in_vacuum", "Thawed in its vacuum"),
    ),
}


def own_keeping_form(folder: str | Path = ".") -> widgets.VBox:
    """A form for place, pack and room of one's own batch, what was measured, how it was heated and held; Save checks it.

    An existing file stays as a numbered copy. A mistake is said under the form, and nothing typed is lost.
    """
    fields = own.own_fields([entry for entries in ASKED.values() for entry in entries], folder)
    groups = []
    for title, entries in ASKED.items():
        head = widgets.HTML(f'<span class="fy-title">{html.escape(title)}</span>')
        groups.append(widgets.VBox([head, *(fields[one.section, one.name] for one in entries)]))
    beside = widgets.HBox(groups, layout=widgets.Layout(flex_flow="row wrap"))
    return form([beside], "Save my keeping", lambda: keep_keeping(own.typed_in(fields), folder))


def keep_keeping(typed: dict[tuple[str, str], str], folder: str | Path = ".") -> str:
    """Check what was typed and write it into the batch file as it is now; returns what to tell the learner."""
    return own.save(lambda told: own.with_fields(told, typed), folder, _what_is_missing)


def _what_is_missing(batch: Batch) -> str:
    keep, heat = batch.keep, batch.heat
    told = []
    if keep.measured_water_activity is not None and keep.measured_error is None:
        told.append("A reading without its error counts as not known.")
    elif keep.measured_water_activity is not None and keep.measured_by not in TRUSTED:
        told.append(
            f"The reading counts with an error of at least {HYGROMETER_ERROR:.2f}; alone it opens no cupboard, and "
            "in a pack without fresh air it never makes the fish drier than the estimate."
        )
    if heat is not None and not heat.probed:
        told.append("A heating that no probe showed does not count: the fish counts as raw.")
    return " ".join([*told, "Run the next cell for the verdict."])
