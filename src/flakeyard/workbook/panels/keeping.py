"""Panel of workbook 07: where dried fish may be kept and until when, and the form for one's own keeping.

Three clocks run beside each other: guidance, mould, rancid fat. The earliest decides, at the place the rules allow. All
rules about germs and hours are taken as kept in the panel: it shows what water, fat, pack and place do, and says so.
"""

from __future__ import annotations

import html
from dataclasses import dataclass, replace
from pathlib import Path

import ipywidgets as widgets
import numpy as np

from flakeyard import limits, tables
from flakeyard.messages import number, say, translated
from flakeyard.models import keeping
from flakeyard.remembered import Remembered
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.judge import safety, storing
from flakeyard.steps.judge.water_check import HYGROMETER_ERROR, TRUSTED
from flakeyard.steps.plan.packs import DAYS, SOON, Kept, LaidPiece, lay_piece, try_pack
from flakeyard.workbook import own, words
from flakeyard.workbook.form import FormField, form
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import drawing
from flakeyard.workbook.panels.keeping_tables import PACKS, PLACE_WORDS
from flakeyard.workbook.panels.live import Lesson, Live, Told
from flakeyard.workbook.panels.panel import Choice, Control

SPOTS = (  # where it may stand, and how warm it is there, degC
    ("freezer", limits.FREEZER),
    ("refrigerator", limits.COLD),
    *(("cupboard", warmth) for warmth in (12.0, 16.0, 20.0, 25.0, 30.0, 35.0)),
)
CLOCKS = {name: say(f"live.keep.clock_{name}") for name in ("official_cap", "mould", "rancidity")}
ROWS, TOP = (2.45, 1.45, 0.45), 3.2  # of the fuses
LAST_DAY = 42  # six weeks, where the axis ends
ACTIVITIES = (0.3, 1.0)  # where the axis begins and ends
SURE = say("live.keep.guidance_rule_made")
AS_IF = say("live.keep.panel_assumes_rules")


class Worded(Control):
    """A slider that runs through a list of things and shows their names."""

    def reading(self, value: float, choice: Choice) -> str:
        if self.name == "day":
            return say("live.keep.day_mark", day=f"{value:.0f}")
        return pack_words(value) if self.name == "pack" else spot_words(value, choice)


class Activity(Control):
    """A slider of water activities, always with two decimals."""

    def reading(self, value: float, choice: Choice) -> str:
        return number(value, ".2f")


def pack_words(number: float) -> str:
    return PACKS[round(number)][1]


def pack_name(pack: tables.Pack | None) -> str:
    """What the slider calls a pack."""
    return dict(PACKS)[pack.id if pack else None]


def spot_words(number: float, choice: Choice) -> str:
    """Short enough for the room beside a slider; the picture and the sentence name the cupboard."""
    place, warmth = SPOTS[round(number)]
    if place != "cupboard":
        return translated(place)
    return say("live.keep.spot_at", warmth=choice.show(warmth, "temperature"))


CONTROLS = (
    Control("fat", say("live.keep.fat_raw_fish"), "fish", "percent", 0.0, 0.20, 0.01, 0.06),
    Activity(
        "activity", say("live.keep.dried_water_activity"), "air", "fraction", 0.60, 0.95, 0.01, limits.CUPBOARD_AIM
    ),
    Worded("pack", say("live.keep.pack"), "keeping", "words", 0, len(PACKS) - 1, 1, 5),
    Control("humidity", say("live.keep.humidity_room"), "keeping", "percent", 0.30, 0.90, 0.05, 0.50),
    Worded("spot", say("live.keep.you_would_keep"), "keeping", "words", 0, len(SPOTS) - 1, 1, 4),
    Worded("day", say("live.keep.days_gone"), "keeping", "words", 0, LAST_DAY, 1, 0),
)


@dataclass(frozen=True)
class Shelf:
    """A pack on a day: what the rules and the model say of it, and how many days it has stood."""

    kept: Kept
    day: int

    @property
    def until(self) -> storing.Keeping:
        return self.kept.keeping

    @property
    def state(self) -> str:
        """How the day stands to the last one."""
        if self.until.days is None:
            return "unknown"
        return "burning" if self.day < self.until.days else "last" if self.day == self.until.days else "past"

    def clock(self, name: str) -> float | None:
        """Days that a clock gives; None where it was never tested."""
        if self.until.place == "freezer" and name == "rancidity":
            return None
        return self.until.clocks.get(name)


class Packs:
    """The fish of a batch, to be tried in packs; a pack is followed once, whatever day one looks at it."""

    def __init__(self, laid: LaidPiece):
        self.laid, self._tried = laid, Remembered(200)

    def at(self, *, day: float, **values: float) -> Shelf:
        return Shelf(self._tried(tuple(values.items()), lambda: keep_at(self.laid, **values)), round(day))


def keep_at(laid: LaidPiece, *, fat: float, activity: float, pack: float, humidity: float, spot: float) -> Kept:
    """Judge and follow one pack for one move of the sliders."""
    name, place, warmth = PACKS[round(pack)][0], *SPOTS[round(spot)]
    record = tables.pack(name) if name else None
    return try_pack(laid, fat=fat, activity=activity, pack=record, place=place, temperature=warmth, humidity=humidity)


# The picture


def draw_keeping(shelf: Shelf, choice: Choice) -> dict:
    """The clocks as fuses, burnt as far as the days have gone; beside them the water activity in the pack."""
    course = _course_field(shelf)
    line = {"line": "later", "stands": shelf.day, "paper_words": ""}
    return {
        "fields": [_fuses_field(shelf, choice), course],
        "handles": [drawing.handle("day", 0, 0.0, "across", **line)],
        "buttons": [],
        "trace": {
            "0": {"strokes": [[end, row - 0.22, end, row + 0.22] for row, end in _ends(shelf)]},
            "1": {name: course["marks"][0][name] for name in ("x", "y")},
        },
        "guessed": {
            "field": 0, "axis": "across", "at": [TOP / 2], "names": [say("live.keep.guess")], "start": 21.0, "step": 1.0,
            "unit": say("live.keep.days"), "ends": [0.0, TOP],
        },
    }  # fmt: skip


def _ends(shelf: Shelf) -> list[tuple[float, float]]:
    """Row and end of every fuse that has one in the picture."""
    days = [shelf.clock(name) for name in CLOCKS]
    return [(row, min(end, LAST_DAY)) for row, end in zip(ROWS, days, strict=True) if end is not None]


def _fuses_field(shelf: Shelf, choice: Choice) -> dict:
    """Where it stands, a fuse for each clock, and the line at which the first one ends."""
    place = translated(shelf.until.place) if shelf.until.place else say("live.not_known")
    where = say("live.keep.there" if shelf.kept.allowed else "live.keep.elsewhere", place=place)
    marks = [{"kind": "area", "style": "air", "words": where, "given": True}]
    if shelf.until.days is not None and shelf.until.days <= LAST_DAY:
        marks.append(drawing.curve("stop", [shelf.until.days] * 2, [0.0, TOP]))
    for name, row in zip(CLOCKS, ROWS, strict=True):
        marks += _fuse(shelf, name, row)
    across = drawing.axis(say("live.keep.across"), 0.0, LAST_DAY, range(0, LAST_DAY + 1, 7))
    return {
        "across": across,
        "up": drawing.axis("", 0.0, TOP),
        "marks": marks,
        "share": 0.55,
        "margin": 112,
        "tall": 270,
    }


def _fuse(shelf: Shelf, name: str, row: float) -> list[dict]:
    """A fuse: ashes as far as it burnt, what is left of it, a flame at its head; without an end, no fuse at all."""
    days, strong = shelf.clock(name), name == shelf.until.limited_by
    marks = [drawing.label(0.0, row + 0.36, CLOCKS[name], strong=strong, halo=True)]
    if days is None:
        return [*marks, drawing.label(0.0, row, say("live.keep.no_end"), strong=True, halo=True)]
    end, left = min(days, LAST_DAY), shelf.day < days
    burnt, reading = min(shelf.day, end), clock_words(days)
    told = {"reading": reading if shelf.day <= days else say("live.keep.run_out", days=reading), "strong": strong}
    if burnt:
        marks.append(drawing.bar("ghost", row, 0.0, burnt, thick=3, **({} if left else told)))
    if left:
        marks.append(drawing.bar("second" if strong else "now", row, burnt, end, open=days > LAST_DAY, **told))
        marks.append({"kind": "flame", "x": float(burnt), "y": row})
    return marks


def _course_field(shelf: Shelf) -> dict:
    """The water activity in the pack against the days, the edge under which 9 of 10 packs stay, air and limits."""
    kept, seen = shelf.kept, DAYS <= LAST_DAY
    days = np.append(DAYS[seen], LAST_DAY)
    mid, high = (np.clip(np.interp(days, DAYS, one), *ACTIVITIES) for one in (kept.mid, kept.high))
    _, around = storing.climate_around(kept.place, kept.temperature, kept.humidity)
    now = np.interp(max(shelf.day, 1), days, mid)
    marks = [
        drawing.curve("now", days, mid, say("live.keep.fish")),
        drawing.band("now", days, mid, high),
        drawing.curve("second", [0, LAST_DAY], [around] * 2, say("live.keep.air")),
        {"kind": "note", "style": "now", "words": say("live.keep.band")},
        drawing.point(max(shelf.day, 1), now, number(now, ".2f") if now > ACTIVITIES[0] else ""),
    ]
    for limit, what in ((limits.MOIST, "germs"), (keeping.MOULD_DRIEST, "moulds")):
        told = say(f"live.keep.{what}", limit=number(limit, ".2f"))
        marks.append(drawing.curve("end", [0, LAST_DAY], [limit] * 2, told, given=True))
    across = drawing.axis(say("live.keep.across"), 0.0, LAST_DAY, range(0, LAST_DAY + 1, 14))
    ticks = np.arange(0.3, 1.01, 0.1)
    return {
        "across": across,
        "up": drawing.axis(say("live.keep.up"), *ACTIVITIES, ticks, [number(t, ".1f") for t in ticks]),
        "marks": marks,
    }


def clock_words(days: float) -> str:
    """What a clock shows: whole days, or that it does not run out in the picture."""
    if not np.isfinite(days):
        return say("live.keep.none_expected")
    return say("live.keep.over_1000") if days >= 1000 else words.days_words(days)


def reply_keeping(shelf: Shelf, guess: dict, choice: Choice) -> str:
    """What is said to a guess of the days."""
    days, until = guess["knots"][0], shelf.until.days
    if until is None:
        return say("live.keep.no_reply")
    where = "early" if days < until else "late" if days > until else "right"
    told = say(
        "live.keep.reply",
        guess=words.days_words(days),
        days=words.days_words(until),
        first=CLOCKS[shelf.until.limited_by],
    )
    return f"{told} {say(f'live.keep.{where}')}"


# The words


def tell_keeping(shelf: Shelf, choice: Choice) -> Told:
    """The verdict of these rules, what decides, what the pack does; why in the caution."""
    kept = shelf.kept
    sentence = f"{_dried(kept, choice)} {_verdict(kept)} {_day(shelf)} {_course(kept, choice)}"
    clocks = "; ".join(f"{label} {_told_clock(shelf, name)}" for name, label in CLOCKS.items())
    marks = ", ".join(
        say("live.keep.after", activity=np.interp(day, DAYS, kept.mid), days=words.days_words(day))
        for day in (1, 7, 14, 42)
    )
    line = say("live.keep.no_line" if kept.keeping.days is None else "live.keep.a_line")
    place = translated(str(kept.keeping.place))
    alt = say("live.keep.alt", place=place, clocks=clocks, line=line, marks=marks, sentence=sentence)
    return Told(sentence, _how_sure(kept, choice), _caution(kept), alt, _numbers(shelf, choice), _chips(shelf))


def _told_clock(shelf: Shelf, name: str) -> str:
    days = shelf.clock(name)
    return say("live.not_known") if days is None else clock_words(days)


def _numbers(shelf: Shelf, choice: Choice) -> tuple[tuple[str, str], ...]:
    """The days left large; how many there were, where, what decides, and how dry it is packed."""
    kept, until = shelf.kept, shelf.until
    known = until.days is not None
    left = (
        words.days_words(until.days - shelf.day) if shelf.state == "burning" else say(f"live.keep.left_{shelf.state}")
    )
    return (
        (say("live.keep.left"), left),
        (say("live.keep.at_most"), words.days_words(until.days) if known else say("live.not_known")),
        (say("live.batch.keep"), f"{words.SHAPES[kept.verdict.keep]} {PLACE_WORDS[kept.verdict.keep]}"),
        (say("live.keep.first"), CLOCKS[until.limited_by] if known else say("live.not_known")),
        (say("live.keep.dried"), choice.show(kept.weight, "percent")),
    )


def _chips(shelf: Shelf) -> tuple[tuple[str, str], ...]:
    """The day beside the last one, and the water activity to come."""
    return (
        (_day_name(shelf), _day_words(shelf)),
        (say("live.keep.soon", days=f"{SOON:.0f}"), say("live.keep.soon_text", soon=_soon(shelf.kept))),
    )


def _day_name(shelf: Shelf) -> str:
    return say("live.keep.day", day=shelf.day)


def _day_words(shelf: Shelf) -> str:
    return say(f"live.keep.{shelf.state}", days=shelf.until.days)


def _day(shelf: Shelf) -> str:
    return say("live.keep.day_is", day=_day_name(shelf), what=_day_words(shelf))


def _dried(kept: Kept, choice: Choice) -> str:
    weight = choice.show(kept.weight, "percent")
    upper = _up(kept.cautious)
    return say("live.keep.dried_to", weight=weight, estimate=kept.estimate, upper=upper)


def _up(activity: float) -> str:
    """The cautious end to two decimals, rounded up as in verdicts."""
    return number(np.ceil(100 * activity - 1e-6) / 100, ".2f")


def _verdict(kept: Kept) -> str:
    keep = kept.verdict.keep
    where = say("live.keep.to_keep", place=f"{words.SHAPES[keep]} {PLACE_WORDS[keep]}")
    return f"{where} {words.keeping_sentence(kept.keeping)}"


def _course(kept: Kept, choice: Choice) -> str:
    told = {
        "pack": pack_name(kept.pack), "place": translated(kept.place), "warmth": choice.show(kept.temperature, "temperature"),
        "humidity": choice.show(kept.humidity, "percent"), "days": f"{SOON:.0f}", "soon": _soon(kept),
    }  # fmt: skip
    return say("live.keep.asked_cupboard" if kept.place == "cupboard" else "live.keep.asked_cold", **told)


def _soon(kept: Kept) -> str:
    """The middle, and the edge under which 9 of 10 packs stay; how dry the others are counts for nothing."""
    mid, high = number(kept.soon.mid, ".2f"), _up(kept.soon.high)
    return mid if mid == high else say("live.keep.up_to", mid=mid, high=high)


def _how_sure(kept: Kept, choice: Choice) -> str:
    """Adds where the mould clock was tested, when it counts and this pack is outside."""
    (driest, moistest, _), (coolest, warmest, _) = keeping.mould_range.bounds.values()
    inside = driest <= kept.mid[-1] <= moistest and coolest <= kept.temperature <= warmest
    if inside or not np.isfinite(kept.keeping.clocks["mould"]):
        return SURE
    coolest, warmest = (choice.show(one, "temperature") for one in (coolest, warmest))
    return f"{SURE} {say('live.keep.mould_tested', driest=driest, moistest=moistest, coolest=coolest, warmest=warmest)}"


def _caution(kept: Kept) -> str:
    reasons = [reason for reason in kept.verdict.reasons if reason.rule != words.HEATED]
    unknown = words.keeping_sentence(kept.keeping) if kept.keeping.days is None else ""
    asked = sorted(reasons, key=lambda reason: reason.rule != "A1")  # first of all: not where you wanted
    return " ".join(
        filter(
            None, [_whole(kept.batch_verdict), unknown, *(reason.text for reason in asked), AS_IF, words.caution_line()]
        )
    )


def _whole(verdict: safety.Verdict) -> str:
    """A word on the batch itself when it fails on other rules than the panel is about."""
    if verdict.keep not in ("nowhere", "not_known"):
        return ""
    return say("live.keep.whole", verdict=words.headline(verdict))


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


def keeping_panel(batch: Batch | None = None, choice: Choice | None = None, **start: float) -> Live:
    """The clocks of a pack of a batch (the demonstration batch when none is given); `start` are controls that begin
    elsewhere than the batch does."""
    laid = lay_piece(batch or demo_batch("heron"))
    begin = starts(batch or demo_batch("heron"), laid)
    lesson = Lesson(
        say("live.keep.title"), say("live.keep.prompt"),
        tuple(replace(one, start=one.nearest(begin.get(one.name, one.start))) for one in CONTROLS), Packs(laid).at,
        draw_keeping, tell_keeping, reply_keeping, say("live.keep.guess_prompt"), ("pack", "humidity", "spot"), "day",
        (say("live.keep.play"), say("live.keep.step")),
        tuple((say(f"live.keep.look_{n}"), say(f"live.keep.saw_{n}")) for n in (1, 2, 3)), start,
    )  # fmt: skip
    return Live(lesson, choice)


# One's own keeping

ASKED = {  # what a verdict rests on besides fish, cut, salt and dryer; a field left empty is taken out of the file
    say("live.keep.where_will_stand"): (
        FormField("keep", "place", say("live.keep.place")),
        FormField("keep", "pack", say("live.keep.pack")),
        FormField("keep", "per_pack", say("live.keep.fish_one_pack")),
        FormField("room", "temperature", say("live.keep.room")),
        FormField("room", "relative_humidity", say("live.keep.room_humidity")),
    ),
    say("live.keep.water_activity_if"): (
        FormField("keep", "measured_water_activity", say("live.keep.reading")),
        FormField("keep", "measured_error", say("live.keep.error")),
        FormField("keep", "measured_by", say("live.keep.measured")),
    ),
    say("live.keep.how_was_heated"): (
        FormField("heat", "core", say("live.keep.middle_heated")),
        FormField("heat", "hold", say("live.keep.held_there")),
        FormField("heat", "checked", say("live.keep.checked")),
        FormField("heat", "to_tray", say("live.keep.from_pot_trays")),
    ),
    say("live.keep.raw_fish"): (
        FormField("fish", "gutted", say("live.keep.gutted")),
        FormField("fish", "smells_normal", say("live.keep.smelled_normal")),
        FormField("fish", "origin", say("live.keep.farmed_wild")),
        FormField("fish", "waters", say("live.keep.caught")),
        FormField("fish", "hours_above_4c", say("live.keep.hours_over_4")),
        FormField("fish", "hours_above_21c", say("live.keep.hours_over_21")),
        FormField("fish", "warmest", say("live.keep.warmest_place")),
        FormField("fish", "stock", say("live.keep.fresh_frozen")),
        FormField("fish", "frozen_at", say("live.keep.frozen")),
        FormField("fish", "frozen_days", say("live.keep.days_frozen")),
        FormField("fish", "thawed_in_vacuum", say("live.keep.thawed_vacuum")),
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
    return form([beside], say("live.keep.save_my_keeping"), lambda: keep_keeping(own.typed_in(fields), folder))


def keep_keeping(typed: dict[tuple[str, str], str], folder: str | Path = ".") -> str:
    """Check what was typed and write it into the batch file as it is now; returns what to tell the learner."""
    return own.save(lambda told: own.with_fields(told, typed), folder, _what_is_missing)


def _what_is_missing(batch: Batch) -> str:
    keep, heat = batch.keep, batch.heat
    told = []
    if keep.measured_water_activity is not None and keep.measured_error is None:
        told.append(say("live.keep.reading_without_error"))
    elif keep.measured_water_activity is not None and keep.measured_by not in TRUSTED:
        told.append(say("live.keep.reading_counts_error", HYGROMETER_ERROR=HYGROMETER_ERROR))
    if heat is not None and not heat.probed:
        told.append(say("live.keep.heating_no_probe"))
    return " ".join([*told, say("live.keep.run_next_cell")])
