"""Which fish, and how thick: a panel of drying time against thickness, and small tables to choose a fish by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from matplotlib.patches import Rectangle

from flakeyard import refused, tables
from flakeyard.models.constants import DAY
from flakeyard.remembered import Remembered
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.plan.cutting import ACROSS, LONGEST, OneCut, one_cut, study_cuts, with_less_water
from flakeyard.steps.plan.judging import TESTED_THICKNESS
from flakeyard.units import InputError
from flakeyard.workbook import words
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import figures
from flakeyard.workbook.panels.figures import Picture
from flakeyard.workbook.panels.panel import Choice, Control, Panel, Said
from flakeyard.workbook.table import Table, Text

# A pick of the species table for the slider: common ones, lean to oily, with names short enough to stand beside it
FISH = {
    "cod_atlantic": "Atlantic cod",
    "perch": "perch",
    "tilapia": "tilapia",
    "mullet": "striped mullet",
    "salmon_sockeye": "sockeye salmon",
    "carp": "carp",
    "whitefish": "lake whitefish",
    "trout_rainbow_farmed": "rainbow trout",
    "mackerel_pacific": "Pacific mackerel",
    "herring_atlantic": "Atlantic herring",
    "salmon_chinook": "chinook salmon",
    "salmon_atlantic_farmed": "Atlantic salmon",
    "mackerel_atlantic": "Atlantic mackerel",
    "sablefish": "sablefish",
}
OWN = "this batch"
FACES = ("one (skin, tray)", "two (on a mesh)")
LOOK_FOR = (
    "Put the thickness from 6 to 12 mm. Twice the hours, or more?",
    "Make the pieces uneven. Which curve runs away from the other?",
    "How thick can the thickest piece be before the answer is not known?",
)
SCALES = (12.0, LONGEST / 2, LONGEST)  # hours; the picture keeps to these, so that it seldom changes its scale
PARTS = ("water", "protein", "fat", "salt")
WORDS_ON_WHITE = {"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1.5}
QUARTER_INCH = 0.00635  # m
SURE = "8 of 10 batches should lie in the likely range. Fat counted with here: {fat}; your fish has its own."
HISTAMINE = {
    True: "This kind of fish can form histamine when it is warm: keep it on ice from the water to the salt. Washing, "
    "salting, drying, freezing or cooking does not take histamine out.",
    None: "Whether this fish can form histamine is not known: keep it on ice, as if it could.",
    False: "",
}
NO_PROMISE = "A drying time says nothing about safety, nor where this fish may be kept."


@dataclass(frozen=True)
class NamedControl(Control):
    """A slider over a list of names, the first of them at its low end; its value counts on from there."""

    names: tuple[str, ...] = ()

    def reading(self, value: float, choice: Choice) -> str:
        return self.names[round(value - self.low)]


def fish_choices(batch: Batch) -> tuple[tuple[str, Batch], ...]:
    """Name and batch for each mark of the fish slider, lean to oily; the batch's own fish is one of them, as it is."""
    own = batch.fish.record
    nothing = dict.fromkeys(("water", "protein", "fat", "ash"))
    others = [
        (tables.species(key).fat, name, replace(batch, fish=replace(batch.fish, species=key, **nothing)))
        for key, name in FISH.items()
        if own is None or key != own.id
    ]
    name = FISH.get(own.id, own.common_name.split(",")[0]) if own else OWN
    fat = batch.fish.fat if batch.fish.fat is not None else own.fat
    return tuple((name, one) for _, name, one in sorted([*others, (fat, name, batch)], key=lambda row: row[:2]))


def cut_picture(choice: Choice) -> Picture:
    """Frame: hours against thickness on the left, what 100 g become on the right."""
    picture = Picture()
    unit, size = ("in", 0.0254) if choice.system == "us" else ("mm", 0.001)
    on = figures.axes(
        picture, f"thickness of the usual piece, {unit}", "hours to stopping weight",
        (0, 0.016 / size), (0, SCALES[1]), (0.09, 0.155, 0.60, 0.66),
    )  # fmt: skip
    on.axvline(QUARTER_INCH / size, color="#777777", linewidth=0.9, linestyle=(0, (2, 3)), zorder=0.5)
    on.text(QUARTER_INCH / size, 0.99, " ¼ in", fontsize=figures.FONT_SIZE - 1.5, color="#444444", va="top",
            transform=on.get_xaxis_transform())  # fmt: skip
    figures.add_band(picture, "band", on, 0, "8 of 10 batches")
    figures.add_curve(picture, "curve", on, 0, "thickest piece")
    figures.add_curve(picture, "usual", on, 1, "usual piece", width=1.8)
    figures.add_curve(picture, "straight", on, 2, "in proportion to thickness", width=1.6)
    figures.add_band(picture, "untested", on, 4, None)
    picture.add("untested_words", on.text(0, 0.21, "not tested", rotation=90, ha="center", va="center", zorder=6,
                transform=on.get_xaxis_transform(), fontsize=figures.FONT_SIZE - 0.5, bbox=WORDS_ON_WHITE))  # fmt: skip
    figures.add_point(picture, "here", on, 0)
    figures.legend(on, columns=2)
    _add_bars(picture)
    return picture


def _add_bars(picture: Picture) -> None:
    on = figures.axes(picture, "", "g of 100 g trimmed", (-0.6, 1.6), (0, 105), (0.785, 0.155, 0.205, 0.66))
    on.set_xticks([0, 1], ["raw", "dried"])
    for style, part in enumerate(PARTS):
        for place, state in enumerate(("raw", "dried")):
            bar = Rectangle((place - 0.36, 0), 0.72, 0, facecolor=figures.COLOURS[style] + "55",
                            edgecolor=figures.COLOURS[style], hatch=figures.HATCHES[style], linewidth=0.8)  # fmt: skip
            bar.set_label(part if place == 0 else None)
            picture.add(f"{state} {part}", on.add_patch(bar))
    words_above = on.text(1, 0, "", ha="center", va="bottom", fontsize=figures.FONT_SIZE)
    picture.add("dried_words", words_above)
    on.legend(loc="lower right", bbox_to_anchor=(1.05, 0.99), ncols=2, fontsize=figures.FONT_SIZE - 1, frameon=False,
              handlelength=1.4, columnspacing=1.0, borderaxespad=0.0)  # fmt: skip


def draw_cut(picture: Picture, cut: OneCut, choice: Choice) -> None:
    """Set curves, bands, the point and the bars."""
    size = 0.0254 if choice.system == "us" else 0.001
    hours, on = _or_endless(cut.seconds.mid) / 3600, picture["curve"].axes
    _set_up(on, next((scale for scale in SCALES if scale >= 2.5 * hours), SCALES[-1]))
    top, ends = on.get_ylim()[1], np.array([0.0, 0.016])
    across = ACROSS / size
    picture["curve"].set_data(across, _shown(cut.mid))
    picture["usual"].set_data(across, _shown(cut.usual_mid))
    figures.set_band(picture["band"], across, np.minimum(cut.low, 2 * top), np.minimum(cut.high, 2 * top))
    first = min(TESTED_THICKNESS[1] * cut.thickness / cut.thickest, 0.016)
    figures.set_band(picture["untested"], np.array([first, 0.016]) / size, [0.0, 0.0], [top, top])
    picture["untested_words"].set_x((first + 0.016) / 2 / size)
    known = hours if cut.tested and np.isfinite(hours) else np.nan
    picture["straight"].set_data(ends / size, known / cut.thickness * ends)
    figures.set_point(picture, "here", cut.thickness / size, known, f"{hours:.1f} h", falling=False)
    _draw_bars(picture, cut)


def _draw_bars(picture: Picture, cut: OneCut) -> None:
    for state, parts in (("raw", cut.raw), ("dried", cut.dried)):
        below = 0.0
        for part, share in zip(PARTS, parts, strict=True):
            picture[f"{state} {part}"].set(y=below, height=100 * share)
            below += 100 * share
    picture["dried_words"].set(text=f"{100 * cut.weight_left.mid:.0f} g", y=100 * sum(cut.dried) + 1)


def _or_endless(value: float | None) -> float:
    return np.inf if value is None else value


def _shown(hours: np.ndarray) -> np.ndarray:
    """Hours for a curve, which ends where they are not known."""
    return np.where(np.isfinite(hours), hours, np.nan)


def _set_up(on, high: float) -> None:
    """Let the axes run up to `high` in six parts; does nothing when they already do."""
    if on.get_ylim() != (0.0, high):
        on.set_ylim(0.0, high)
    on.set_yticks(np.linspace(0.0, high, 7))


def tell_cut(cut: OneCut, choice: Choice) -> Said:
    """How long the thickest piece takes, what is left of a kilogram, how much tray it covers."""
    usual, thickest = (choice.show(value, "length") for value in (cut.thickness, cut.thickest))
    how = f"{cut.name}, {usual} thick, the thickest piece {thickest}, {'both faces' if cut.faces == 2 else 'one face'} open"
    how = how[0].upper() + how[1:]
    if not cut.tested:
        limit = choice.show(TESTED_THICKNESS[1], "length")
        time = f"how long that takes is not known, because the drying model was tested up to {limit} only"
    elif cut.seconds.mid is None:
        time = f"that takes more than {choice.show(3600 * LONGEST, 'time')}, too long for a wet piece in warm air"
    else:
        time = f"at the stopping weight for the {cut.aim} after {choice.show_band(cut.seconds, 'time')}"
    left = choice.show_band(cut.weight_left, "percent")
    area = choice.show(cut.tray_area, "area")
    sentence = f"{how}: {time}. Left of the trimmed raw fish: {left}. 1 kg of pieces covers {area} of tray."
    sure = SURE.format(fat=choice.show_band(cut.fat, "percent"))
    caution = " ".join(filter(None, (HISTAMINE[cut.histamine_former], NO_PROMISE, words.caution_line())))
    return Said(sentence, sure, caution, _in_words(cut, choice, sentence))


def _in_words(cut: OneCut, choice: Choice, sentence: str) -> str:
    marks = [(mm, np.interp(mm / 1000, ACROSS, cut.mid)) for mm in (4, 8, 12)]
    told = ", ".join(
        f"{choice.show(mm / 1000, 'length')} "
        + (choice.show(3600 * hours, "time") if np.isfinite(hours) else "more than two days")
        for mm, hours in marks
    )
    parts = ", ".join(
        f"{part} {100 * raw:.0f} to {100 * dried:.0f} g"
        for part, raw, dried in zip(PARTS, cut.raw, cut.dried, strict=True)
    )
    return (
        f"Left: a curve of hours against thickness that bends upwards, for the thickest piece at {told}; a hatched band, and "
        f"a straight line from zero for comparison. Right: bars of 100 g raw and dried, {parts}. {sentence}"
    )


def fish_panel(batch: Batch | None = None, choice: Choice | None = None) -> Panel:
    """Sliders for the fish, how thick it is cut, how evenly, and how many faces dry."""
    batch = batch or demo_batch("heron")
    choices = fish_choices(batch)
    studied = Remembered()

    def compute(fish: float, thickness: float, thicker: float, faces: float) -> OneCut:
        place, open_faces = round(fish), round(faces)
        name, one = choices[place]
        cuts = studied((place, open_faces), lambda: study_cuts(one, open_faces))
        return one_cut(cuts, name, one.fish.record, open_faces, thickness, thicker)

    return Panel(
        "Which fish, and how thick: hours, and what is left",
        _controls(batch, choices), compute, cut_picture, draw_cut, tell_cut, choice=choice, look_for=LOOK_FOR,
    )  # fmt: skip


def _controls(batch: Batch, choices) -> tuple[Control, ...]:
    """The sliders, set to the batch as far as they reach."""
    cut, names = batch.cut, tuple(name for name, _ in choices)
    usual, thickest = cut.thickness, cut.sizes[-1]
    thicker, faces = thickest / usual - 1, batch.open_faces
    own = next(place for place, (_, one) in enumerate(choices) if one is batch)
    return (
        NamedControl("fish", "Fish (lean to oily)", "fish", "count", 0, len(names) - 1, 1, own, names=names),
        Control("thickness", "Usual thickness", "fish", "length", *TESTED_THICKNESS, 0.001, _within(usual, *TESTED_THICKNESS)),
        Control("thicker", "Thickest is thicker by", "fish", "percent", 0.0, 0.6, 0.1, _within(thicker, 0.0, 0.6)),
        NamedControl("faces", "Open faces", "fish", "count", 1, 2, 1, faces, names=FACES),
    )  # fmt: skip


def _within(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


# small tables for reading


def fish_table(*names: str) -> Table:
    """Composition of raw fish in g per 100 g, the range its fat was found in, and whether it can form histamine."""
    rows = []
    for record in map(tables.species, names):
        found = "–" if record.fat_low_g is None else f"{record.fat_low_g:.2g}–{record.fat_high_g:.2g}"
        parts = [f"{100 * part:.0f}" for part in (record.water, record.protein)]
        rows.append((record.common_name, *parts, f"{100 * record.fat:.1f}", found, _histamine(record)))
    return Table(("g in 100 g raw", "water", "protein", "fat", "fat range", "histamine"), tuple(rows))


def _histamine(record) -> str:
    return {True: "can form it", False: "not listed", None: "not known"}[record.histamine_former]


def yield_table(*fish: str) -> Table:
    """Per cent of the whole fish that is left by cutting, for fish named as in the table of yields."""
    forms = ("gutted, head on", "fillet, skin on", "fillet, skin off")
    found = {(row.fish, row.to_form): row.mid for row in tables.yields() if row.from_form == "whole" and row.usable}
    rows = (
        (name, *(f"{100 * found[name, form]:.0f}" if (name, form) in found else "not known" for form in forms))
        for name in fish
    )
    return Table(("% of the whole fish", *forms), tuple(rows))


def dried_table(*pairs: tuple[str, str]) -> Table:
    """Published dried fish beside what follows from the raw fish of their kind when only water leaves, in g per 100 g.

    Parameters: pairs – a name of the species table and an id of the table of dried products
    """
    rows = tuple(row for raw_name, dried_id in pairs for row in _dried(raw_name, dried_id))
    return Table(("dried fish", "part", "published", "computed", "difference"), rows)


def _dried(raw_name: str, dried_id: str) -> Iterator[tuple[str, ...]]:
    raw, dried = tables.species(raw_name), next(row for row in tables.dried_products() if row.id == dried_id)
    computed = with_less_water(raw.water, raw.protein, raw.fat, raw.ash, dried.water_g / 100)
    name = f"{dried.common_name} ({dried.water_g:.0f} % water)"
    for part, published, value in zip(("protein", "fat", "ash"), (dried.protein_g, dried.fat_g, dried.ash_g), computed):
        yield name, part, f"{published:.1f}", f"{100 * value:.1f}", f"{100 * value - published:+.1f}"


@dataclass(frozen=True, kw_only=True)
class Freezing(tables.Record):
    """A published way to freeze fish against parasites; ``used`` says whether the verdicts here go by it."""

    method: str
    temperature_c: float
    where_measured: str
    days: float
    used: str
    note: str


def freezing_table(choice: Choice) -> Table:
    """Published times and temperatures that kill parasites in fish, and the one that is used here."""
    rows = []
    for row in tables.read_records("freezing_schedules.csv", Freezing):
        cold, time = choice.show(row.temperature_c, "temperature"), choice.show(DAY * row.days, "time")
        rows.append((row.method, cold, row.where_measured, time, "used" if row.used == "yes" else "not used"))
    return Table(("way of freezing", "temperature", "measured in the", "time", "here"), tuple(rows))


def facts(name: str) -> Text:
    """What the table knows of one fish, in a few lines; a fish it does not know is "not known"."""
    try:
        record = refused.species(name, field="fish")
    except InputError as mistake:
        return Text((f"not known: {mistake}",))
    lines = [f"{record.common_name} ({record.latin_name}, {record.family})"]
    if record.usable:
        lines.append(f"fat {record.fat_g:g} % and water {100 * record.water:.0f} % of the raw flesh")
    else:
        lines.append(f"composition not known here; {record.note}")
    if record.fat_low_g is not None:
        where = tables.source(record.season_source_id)
        lines.append(f"fat found between {record.fat_low_g:.2g} and {record.fat_high_g:.2g} %: {where}")
    against = refused.of(record)
    lines += [f"histamine: {_histamine(record)}", *filter(None, [record.advisory, against and against.why])]
    return Text((*lines, f"composition from: {record.source}"))
