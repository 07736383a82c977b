"""Which fish, and how thick: a panel of drying time against thickness, and small tables to choose a fish by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from flakeyard import refused, tables
from flakeyard.messages import number, say, translated
from flakeyard.models.constants import DAY
from flakeyard.remembered import Remembered
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.plan.cutting import ACROSS, LONGEST, OneCut, one_cut, study_cuts, with_less_water
from flakeyard.steps.plan.judging import TESTED_THICKNESS
from flakeyard.units import InputError
from flakeyard.workbook import words
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import drawing
from flakeyard.workbook.panels.live import Lesson, Live, Told
from flakeyard.workbook.panels.panel import Choice, Control, NamedControl
from flakeyard.workbook.table import Table, Text, heads

# A pick of the species table for the slider: common ones, lean to oily, with names short enough to stand beside it
FISH = (
    "cod_atlantic",
    "perch",
    "tilapia",
    "mullet",
    "salmon_sockeye",
    "carp",
    "whitefish",
    "trout_rainbow_farmed",
    "mackerel_pacific",
    "herring_atlantic",
    "salmon_chinook",
    "salmon_atlantic_farmed",
    "mackerel_atlantic",
    "sablefish",
)
OWN = say("live.fish.own")
FACES = (say("live.fish.one_open"), say("live.fish.two_open"))
THICKER = tuple(round(0.1 * step, 1) for step in range(7))  # how much thicker the thickest piece may be
USUAL, THICKEST = (0.5, 12.5), (27.0, 39.0)  # mm of each piece that its cut shows
DEEPEST = 34.9  # mm; the thickest piece of all sliders is 24 mm, and the bars lie below it
GRAM = 0.36  # mm of a bar
HOURS, WIDEST = 24.0, 16.0  # where the axes of hours and of mm end
KNOTS = (3.0, 8.0, 12.0)  # mm, where a guess has its points
WATERY = 1.05  # kg/kg; the palest colour of a piece
PARTS = (
    ("water", "water", 1.0),
    ("protein", "water", 0.6),
    ("fat", "warm", 0.5),
    ("salt", "salt", 1.0),
)  # of a bar: colour
HISTAMINE = {True: "live.fish.forms_histamine", None: "live.fish.may_form_histamine"}
NO_PROMISE = say("live.fish.drying_time_says")


def fish_choices(batch: Batch) -> tuple[tuple[str, Batch], ...]:
    """Name and batch for each mark of the fish slider, lean to oily; the batch's own fish is one of them, as it is."""
    own = batch.fish.record
    nothing = dict.fromkeys(("water", "protein", "fat", "ash"))
    others = [
        (tables.species(key).fat, name, replace(batch, fish=replace(batch.fish, species=key, **nothing)))
        for key, name in _fish_names().items()
        if own is None or key != own.id
    ]
    name = _fish_names().get(own.id, translated(own.common_name).split(",")[0]) if own else OWN
    fat = batch.fish.fat if batch.fish.fat is not None else own.fat
    return tuple((name, one) for _, name, one in sorted([*others, (fat, name, batch)], key=lambda row: row[:2]))


def _fish_names() -> dict[str, str]:
    return {key: say(f"live.fish.name.{key}") for key in FISH}


# The picture


def draw_cut(cut: OneCut, choice: Choice) -> dict:
    """Two pieces cut through, with the way their water has to go; what 100 g become; hours against thickness."""
    plot, sizes = _hours_field(cut, choice), (1000 * cut.thickness, 1000 * cut.thickest)
    readings = [choice.show(cut.thickness * (1 + share), "length") for share in THICKER]
    return {
        "fields": [_pieces_field(cut, choice), plot],
        "handles": [
            *drawing.pair_handles(USUAL, THICKEST, sizes[0], readings),
        ],
        "buttons": [drawing.skin_button(cut.faces, USUAL[0], say("live.fish.skin_on"), say("live.skin_off"))],
        "trace": {"0": {"bottoms": [[*USUAL, sizes[0]], [*THICKEST, sizes[1]]]}, "1": _trace(cut)},
        "guessed": {
            "field": 1, "axis": "up", "at": list(KNOTS), "start": 10.0, "step": 0.5, "unit": "h", "ends": [0.0, HOURS],
            "names": [say("live.fish.guess", size=choice.show(knot / 1000, "length")) for knot in KNOTS],
        },
    }  # fmt: skip


def _pieces_field(cut: OneCut, choice: Choice) -> dict:
    """The usual and the thickest piece to scale, arrows as long as the water's way, and below them 100 g raw and dried."""
    marks = [{"kind": "area", "style": "air", "words": say(f"live.fish.faces_{cut.faces}")}]
    pieces = ((USUAL, cut.thickness, "thickness", "usual"), (THICKEST, cut.thickest, "thicker", "thickest"))
    for place, size, held, name in pieces:
        marks.append(
            drawing.cut(
                *place, 1000 * size, [cut.raw[0] / WATERY] * 2, "water", held=held, skin=cut.faces == 1,
                upper=say(f"live.weight.{name}"), reading=choice.show(size, "length"),
            )
        )  # fmt: skip
        marks += _ways(place, 1000 * size, cut.faces)
    for top, state, parts, weight in ((27.4, "raw", cut.raw, 1.0), (32.3, "dried", cut.dried, cut.weight_left.mid)):
        marks += _bar(top, parts, say(f"live.fish.{state}", weight=f"{100 * weight:.0f}"))
    return drawing.cuts_field(49.0, DEEPEST, marks, share=0.5, margin=14, slender=250, head=5.0)


def _ways(place: tuple[float, float], bottom: float, faces: int) -> list[dict]:
    """From where the water has the longest way to the face by which it leaves: the middle, or the skin."""
    at = [place[0] + part * (place[1] - place[0]) for part in (0.2, 0.8)]
    ends = [(bottom, 0.0)] if faces == 1 else [(bottom / 2, 0.0), (bottom / 2, bottom)]
    return [drawing.arrow([x, x], end) for x in at for end in ends]


def _bar(top: float, parts: tuple[float, ...], words: str) -> list[dict]:
    """Water, protein, fat and salt lying side by side, a gram as long in every bar; above them the words for it."""
    ends = GRAM * 100 * np.cumsum([0.0, *parts]) + USUAL[0]
    boxes = [
        drawing.box((left, right), (top, top + 2.2), tint=tint, shade=shade, edge="line", given=True)
        for left, right, (_, tint, shade) in zip(ends, ends[1:], PARTS)
    ]
    told = ", ".join(
        f"{translated(part)} {100 * share:.0f}" for (part, *_), share in zip(PARTS, parts) if share >= 0.005
    )
    return [*boxes, drawing.label(USUAL[0], top - 1.2, f"{words}: {told}", given=True)]


def _hours_field(cut: OneCut, choice: Choice) -> dict:
    """Hours of the thickest and of the usual piece against the thickness; a straight line beside them; what was not tested."""
    first = 1000 * min(TESTED_THICKNESS[1] * cut.thickness / cut.thickest, WIDEST / 1000)
    marks = [drawing.box((first, WIDEST), (HOURS, 0.0), say("live.weight.untested"), style="untested", given=True)]
    across, low, high = 1000 * ACROSS, cut.low, np.minimum(cut.high, HOURS)
    marks += (
        [drawing.band("now", across[low <= HOURS], low[low <= HOURS], high[low <= HOURS])] if low[0] < HOURS else []
    )
    for style, hours, name in (("second", cut.usual_mid, "usual"), ("now", cut.mid, "thickest")):
        x, y = _shown(hours)
        marks += [drawing.curve(style, x, y, say(f"live.weight.{name}"))] if len(x) > 1 else []
    here = _hours(cut)
    if here <= HOURS:
        end = min(WIDEST, HOURS * 1000 * cut.thickness / here)
        marks.append(
            drawing.curve("later", [0, end], [0, here * end / (1000 * cut.thickness)], say("live.fish.straight"))
        )
        marks.append(
            drawing.point(
                1000 * cut.thickness, here, say("live.batch.done", hours=number(here, ".1f")), given=True, above=False
            )
        )
    marks.append({"kind": "note", "style": "now", "words": say("live.batch.band"), "given": True})
    up = drawing.axis(say("live.fish.up"), 0.0, HOURS, range(0, 25, 4))
    return {"across": _thickness_axis(choice), "up": up, "marks": marks}


def _thickness_axis(choice: Choice) -> dict:
    """Millimetres, or inches in eighths: the places stay millimetres."""
    if choice.system == "us":
        ticks = np.arange(0.0, WIDEST, drawing.INCH / 8)
        return drawing.axis(
            say("live.fish.across", unit=say("live.fish.inches")), 0.0, WIDEST, ticks, ("0", "⅛", "¼", "⅜", "½", "⅝")
        )
    return drawing.axis(say("live.fish.across", unit="mm"), 0.0, WIDEST, range(0, 16, 3))


def _hours(cut: OneCut) -> float:
    return np.inf if cut.seconds.mid is None or not cut.tested else cut.seconds.mid / 3600


def _shown(hours: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A curve of hours as far as its axis goes, to the very edge."""
    inside = hours <= HOURS
    x, y = 1000 * ACROSS[inside], hours[inside]
    if inside.all() or not inside.any() or not np.isfinite(hours[len(x)]):
        return x, y
    return np.append(x, 1000 * np.interp(HOURS, hours[: len(x) + 1], ACROSS[: len(x) + 1])), np.append(y, HOURS)


def _trace(cut: OneCut) -> dict:
    """The curve of the thickest piece, and the point on it as a line down to its thickness."""
    (x, y), here, at = _shown(cut.mid), _hours(cut), 1000 * cut.thickness
    if len(x) < 2:
        return {}
    strokes = [[round(at, 3), 0.0, round(at, 3), round(here, 3)]] if here <= HOURS else []
    return {"x": drawing.numbers(x), "y": drawing.numbers(y), "strokes": strokes}


def reply_cut(cut: OneCut, guess: dict, choice: Choice) -> str:
    """What is said to a guessed curve: its end, beside the hours computed for a piece as thick."""
    size = KNOTS[-1] / 1000
    low, middle, high = (float(np.interp(size, ACROSS, curve)) for curve in (cut.low, cut.mid, cut.high))
    if size * cut.thickest / cut.thickness > TESTED_THICKNESS[1] + 1e-9:
        return say("live.weight.no_reply")
    where = "below" if guess["knots"][-1] < low else "above" if guess["knots"][-1] > high else "inside"
    told = Band(*(None if np.isinf(hours) else 3600 * hours for hours in (low, middle, high)))
    shown = choice.show(3600 * guess["knots"][-1], "time"), choice.show_band(told, "time"), choice.show(size, "length")
    return say("live.fish.reply", guess=shown[0], told=shown[1], size=shown[2]) + " " + say(f"live.guess.{where}")


# The words


def tell_cut(cut: OneCut, choice: Choice) -> Told:
    """How long the thickest piece takes, what is left of a kilogram, how much tray it covers."""
    usual, thickest = (choice.show(value, "length") for value in (cut.thickness, cut.thickest))
    how = say(f"live.fish.how_{cut.faces}", fish=cut.name[0].upper() + cut.name[1:], usual=usual, thickest=thickest)
    if not cut.tested:
        limit = choice.show(TESTED_THICKNESS[1], "length")
        sentence = say("live.fish.how_long_takes", how=how, limit=limit)
    elif cut.seconds.mid is None:
        limit = choice.show(3600 * LONGEST, "time")
        sentence = say("live.fish.takes_more_than", how=how, limit=limit)
    else:
        time, aim = choice.show_band(cut.seconds, "time"), translated(cut.aim)
        sentence = say("live.fish.stopping_weight_after", how=how, aim=aim, time=time)
    left, area = choice.show_band(cut.weight_left, "percent"), choice.show(cut.tray_area, "area")
    sentence += " " + say("live.fish.left_trimmed_raw", left=left, area=area)
    sure = say("live.fish.sure", fat=choice.show_band(cut.fat, "percent"))
    caution = " ".join(
        filter(
            None,
            (
                say(HISTAMINE[cut.histamine_former]) if cut.histamine_former is not False else "",
                NO_PROMISE,
                words.caution_line(),
            ),
        )
    )
    return Told(sentence, sure, caution, _in_words(cut, choice, sentence), _numbers(cut, choice), _chips(cut, choice))


def _numbers(cut: OneCut, choice: Choice) -> tuple[tuple[str, str], ...]:
    """The thickest piece's hours large; its water's way, what is left of a kilogram, and the tray a kilogram covers."""
    hundred = choice.show(0.1, "mass", digits=3).partition(" (")[0]
    return (
        (say("live.weight.takes"), _time(cut, choice)),
        (say("live.fish.way"), choice.show(cut.thickest / cut.faces, "length")),
        (say("live.fish.left", raw=hundred), choice.show(0.1 * cut.weight_left.mid, "mass")),
        (say("live.fish.tray", mass=choice.show(1.0, "mass").partition(" (")[0]), choice.show(cut.tray_area, "area")),
    )


def _time(cut: OneCut, choice: Choice) -> str:
    if not cut.tested:
        return say("live.not_known")
    return (
        say("live.fish.over", time=choice.show(3600 * LONGEST, "time"))
        if cut.seconds.mid is None
        else choice.show(cut.seconds.mid, "time")
    )


def _chips(cut: OneCut, choice: Choice) -> tuple[tuple[str, str], ...]:
    likely = choice.likely(cut.seconds, "time") if cut.tested else ""
    formed = {True: "live.fish.histamine", None: "live.fish.histamine_unknown", False: "live.fish.no_histamine"}
    return (
        (say("live.likely"), likely or say("live.not_known")),
        (cut.name[0].upper() + cut.name[1:], say(formed[cut.histamine_former])),
    )


def _in_words(cut: OneCut, choice: Choice, sentence: str) -> str:
    marks = [(mm, np.interp(mm / 1000, ACROSS, cut.mid)) for mm in (4, 8, 12)]
    told = ", ".join(
        f"{choice.show(mm / 1000, 'length')} "
        + (choice.show(3600 * hours, "time") if np.isfinite(hours) else say("live.fish.more_than_two_days"))
        for mm, hours in marks
    )
    parts = ", ".join(
        say("live.fish.part", part=translated(part), raw=round(100 * raw), dried=round(100 * dried))
        for (part, *_), raw, dried in zip(PARTS, cut.raw, cut.dried, strict=True)
    )
    return say(f"live.fish.in_words_{cut.faces}", parts=parts, told=told, sentence=sentence)


def fish_panel(batch: Batch | None = None, choice: Choice | None = None, **start: float) -> Live:
    """Which fish, how thick it is cut, how evenly, and how many faces dry; `start` are controls that begin elsewhere than
    the batch does."""
    batch = batch or demo_batch("heron")
    choices = fish_choices(batch)
    studied = Remembered()

    def compute(fish: float, thickness: float, thicker: float, faces: float) -> OneCut:
        place, open_faces = round(fish), round(faces)
        name, one = choices[place]
        cuts = studied((place, open_faces), lambda: study_cuts(one, open_faces))
        return one_cut(cuts, name, one.fish.record, open_faces, thickness, thicker)

    lesson = Lesson(
        say("live.fish.title"), say("live.fish.prompt"), _controls(batch, choices), compute, draw_cut, tell_cut, reply_cut,
        say("live.fish.guess_prompt"), ("fish", "thickness", "thicker"),
        look_for=tuple((say(f"live.fish.look_{n}"), say(f"live.fish.saw_{n}")) for n in (1, 2, 3)), start=start,
    )  # fmt: skip
    return Live(lesson, choice)


def _controls(batch: Batch, choices) -> tuple[Control, ...]:
    """The sliders, set to the batch as far as they reach."""
    cut, names = batch.cut, tuple(name for name, _ in choices)
    usual, thickest = cut.thickness, cut.sizes[-1]
    thicker, faces = thickest / usual - 1, batch.open_faces
    own = next(place for place, (_, one) in enumerate(choices) if one is batch)
    return (
        NamedControl("fish", say("live.fish.fish_lean_oily"), "fish", "name", 0, len(names) - 1, 1, own, names=names),
        Control("thickness", say("live.fish.usual_thickness"), "fish", "length", *TESTED_THICKNESS, 0.001, _within(usual, *TESTED_THICKNESS)),
        Control("thicker", say("live.fish.thickest_thicker"), "fish", "percent", THICKER[0], THICKER[-1], 0.1, _within(thicker, 0.0, 0.6)),
        NamedControl("faces", say("live.fish.faces_piece"), "fish", "name", 1, 2, 1, faces, names=FACES),
    )  # fmt: skip


def _within(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


# small tables for reading


def fish_table(*names: str) -> Table:
    """Composition of raw fish in g per 100 g, the range its fat was found in, and whether it can form histamine."""
    rows = []
    for record in map(tables.species, names):
        ends = (record.fat_low_g, record.fat_high_g)
        found = "–" if None in ends else "–".join(number(end, ".2g") for end in ends)
        parts = [f"{100 * part:.0f}" for part in (record.water, record.protein)]
        rows.append(
            (translated(record.common_name), *parts, number(100 * record.fat, ".1f"), found, _histamine(record))
        )
    return Table(heads("live.fish.composition"), tuple(rows))


def _histamine(record) -> str:
    return say(
        {True: "live.fish.can_form", False: "live.fish.not_listed", None: "live.not_known"}[record.histamine_former]
    )


def yield_table(*fish: str) -> Table:
    """Per cent of the whole fish that is left by cutting, for fish named as in the table of yields."""
    forms = ("gutted, head on", "fillet, skin on", "fillet, skin off")  # as in the table
    found = {(row.fish, row.to_form): row.mid for row in tables.yields() if row.from_form == "whole" and row.usable}
    rows = (
        (
            translated(name),
            *(f"{100 * found[name, form]:.0f}" if (name, form) in found else say("live.not_known") for form in forms),
        )
        for name in fish
    )
    return Table((say("live.fish.of_whole"), *map(translated, forms)), tuple(rows))


def dried_table(*pairs: tuple[str, str]) -> Table:
    """Published dried fish beside what follows from the raw fish of their kind when only water leaves, in g per 100 g.

    Parameters: pairs – a name of the species table and an id of the table of dried products
    """
    rows = tuple(row for raw_name, dried_id in pairs for row in _dried(raw_name, dried_id))
    return Table(heads("live.fish.dried_heads"), rows)


def _dried(raw_name: str, dried_id: str) -> Iterator[tuple[str, ...]]:
    raw, dried = tables.species(raw_name), next(row for row in tables.dried_products() if row.id == dried_id)
    computed = with_less_water(raw.water, raw.protein, raw.fat, raw.ash, dried.water_g / 100)
    name = say("live.fish.dried_name", fish=translated(dried.common_name), water=f"{dried.water_g:.0f}")
    for part, published, value in zip(("protein", "fat", "ash"), (dried.protein_g, dried.fat_g, dried.ash_g), computed):
        yield (
            name,
            translated(part),
            *(
                number(one, form)
                for one, form in zip((published, 100 * value, 100 * value - published), (".1f", ".1f", "+.1f"))
            ),
        )


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
        here = say("live.fish.used" if row.used == "yes" else "live.fish.not_used")
        rows.append((translated(row.method), cold, translated(row.where_measured), time, here))
    return Table(heads("live.fish.freezing_heads"), tuple(rows))


def facts(name: str) -> Text:
    """What the table knows of one fish, in a few lines; a fish it does not know is "not known"."""
    try:
        record = refused.species(name, field="fish")
    except InputError as mistake:
        return Text((say("live.fish.unknown", why=mistake),))
    lines = [f"{translated(record.common_name)} ({record.latin_name}, {record.family})"]
    if record.usable:
        lines.append(say("live.fish.fat_water", fat=number(record.fat_g, "g"), water=round(100 * record.water)))
    else:
        lines.append(say("live.fish.no_composition", note=record.note))
    if record.fat_low_g is not None:
        where = tables.source(record.season_source_id).short
        lines.append(
            say(
                "live.fish.fat_found",
                low=number(record.fat_low_g, ".2g"),
                high=number(record.fat_high_g, ".2g"),
                where=where,
            )
        )
    against = refused.of(record)
    lines += [
        say("live.fish.histamine_is", what=_histamine(record)),
        *filter(None, [record.advisory, against and against.why]),
    ]
    return Text((*lines, say("live.fish.from", source=record.source)))
