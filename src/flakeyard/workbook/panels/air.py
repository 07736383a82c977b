"""The panel of workbook 04: the air in the dryer, what the fish does to it, and how warm the fish is meanwhile.

The fish is salted and heated once, when the panel is made; a move of a slider lays more or less of it on the trays,
changes the dryer or the room, and dries the load again with twenty draws of what is not known.
"""

from dataclasses import dataclass
from pathlib import Path

import ipywidgets as widgets
import numpy as np

from flakeyard import limits
from flakeyard.messages import number, say
from flakeyard.remembered import Remembered
from flakeyard.steps.chain import drying
from flakeyard.steps.chain.salting import Cured
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.judge.facts import rule_texts
from flakeyard.steps.judge.warm_hours import rung
from flakeyard.steps.plan.loading import WarmLoad, fill_dryer, holds, lay
from flakeyard.workbook import own, words
from flakeyard.workbook.form import FormField, form
from flakeyard.workbook.panels import drawing
from flakeyard.workbook.panels.live import Lesson, Live, Told
from flakeyard.workbook.panels.panel import Choice, Control

GROWTH_ZONE = (limits.GROWTH_BOTTOM, limits.GROWTH_TOP)  # degC, the span of the official clock
LONGEST = 12.0  # hours, where the axis ends
HOTTEST = 80.0  # degC, where the axis ends; the last colour of the box
PITCH, WALL, FLOOR = 26.0, 6.0, 10.0  # mm as drawn: from tray to tray, from tray to wall, below the lowest tray
ABOVE = 18.0  # mm above the highest load, which keep its handle off the words there
KNOTS = (1.0, 3.0, 5.0)  # hours, where a guess has its points
KEPT = 60  # loads that are kept for when a slider comes back
NEXT = say("live.air.run_next_cell")
COOL = 2.0  # K; air this far under the dial is worth a word
SURE = say("live.air.8_10_dryers")
OWN_FORM = (
    FormField("dryer", "temperature", say("live.air.dryer_set")),
    FormField("dryer", "trays", say("live.air.trays")),
    FormField("dryer", "tray_area", say("live.air.area_one_tray")),
    FormField("dryer", "faces", say("live.air.open_faces_1")),
    FormField("dryer", "heater", say("live.air.heater_from_label")),
    FormField("room", "temperature", say("live.air.room_temperature")),
    FormField("room", "relative_humidity", say("live.air.room_humidity")),
    FormField("room", "altitude", say("live.air.altitude")),
)


@dataclass(frozen=True)
class Looked:
    """A load at the moment one looks [s]: so much fish as laid [kg] on so many trays, each that wide [mm], the thickest
    piece that thick [mm]."""

    load: WarmLoad
    moment: float
    mass: float
    trays: int
    wide: float
    thick: float

    @property
    def seen(self) -> float:
        """The moment in hours; what is dry enough is taken out, and seen as it was then."""
        return min(self.moment / 3600, float(self.load.hours[-1]))

    @property
    def fish(self) -> float:
        return self.load.fish_at(self.seen)

    @property
    def air(self) -> float:
        return float(np.interp(self.seen, self.load.hours, self.load.air))


# The picture


def draw_air(looked: Looked, choice: Choice) -> dict:
    """The box with its trays, as full and as warm as they are; beside it the temperatures against the hours."""
    load, plot = looked.load, _warmth_field(looked, choice)
    full, foot = looked.mass / looked.load.coverage, _foot(looked.trays)
    level, right = foot - FLOOR - PITCH * looked.trays * load.coverage, looked.wide + 2 * WALL
    laid = {"offset": foot - FLOOR, "scale": -PITCH * looked.trays / full, "right": right + 8}
    now = next(mark for mark in plot["marks"] if mark.get("style") == "now" and mark["kind"] == "curve")
    return {
        "fields": [_box_field(looked, choice), plot],
        "handles": [
            drawing.handle("load", 0, right, **laid),
            drawing.handle("temperature", 1, 0.9 * LONGEST, line="end", words=say("live.air.dial"), stands=load.dial,
                           paper_words=say("live.air.dial")),
            drawing.handle("hours", 1, 0.0, "across", scale=1 / 3600, line="later", stands=looked.moment / 3600,
                           paper_words=""),
        ],
        "buttons": [],
        "trace": {
            "0": {"strokes": [[right - 14, round(level, 2), right + 14, round(level, 2)]]},
            "1": {"x": now["x"], "y": now["y"]},
        },
        "guessed": {
            "field": 1, "axis": "up", "at": list(KNOTS), "start": 40.0, "step": 1.0, "unit": "°C", "ends": [0.0, HOTTEST],
            "names": [say("live.air.guess", hours=choice.show(3600 * knot, "time")) for knot in KNOTS],
        },
    }  # fmt: skip


def _foot(trays: int) -> float:
    """The floor of the box, in mm under the place of as many trays again and what is above them."""
    return round(ABOVE + 2 * trays * PITCH + FLOOR, 1)


def _box_field(looked: Looked, choice: Choice) -> dict:
    """Trays from below to above, laid full one after the other; what finds no tray stands above the box, in dashes."""
    foot, right, trays = _foot(looked.trays), looked.wide + 2 * WALL, looked.trays
    top, air, fish = foot - FLOOR - trays * PITCH, looked.air / HOTTEST, looked.fish / HOTTEST
    taken = looked.load.done.mid is not None and looked.moment / 3600 > looked.seen
    told = say(
        "live.air.out" if taken else "live.air.now",
        mass=choice.show(looked.mass, "mass"),
        air=choice.show(looked.air, "temperature"),
        fish=choice.show(looked.fish, "temperature"),
    )
    marks = [
        {
            "kind": "area",
            "style": "air",
            "words": told,
            "hushed": say("live.air.laid", mass=choice.show(looked.mass, "mass")),
        },
        drawing.box((0, right), (top, foot), tint="warm", shade=round(air, 3), edge="line"),
    ]
    for tray in range(2 * trays):
        level, share = foot - FLOOR - tray * PITCH, float(np.clip(looked.load.coverage * trays - tray, 0, 1))
        homeless = tray >= trays
        if not homeless:
            marks.append(drawing.outline([WALL - 3, right - WALL + 3], [level, level]))
        if share:
            across, up = (WALL, WALL + share * looked.wide), (level - looked.thick, level)
            marks.append(
                drawing.box(across, up, tint="warm", shade=round(fish, 3), edge="dash" if homeless else "line")
            )
    if looked.load.coverage > 1:
        between = top - (PITCH + looked.thick) / 2  # the first layer without a tray and the next one
        marks.append(drawing.label(WALL, between, say("live.air.homeless"), halo=True))
    return drawing.cuts_field(right + 4, foot + 1, marks, share=0.48, head=24.0, slender=250, margin=116)


def _warmth_field(looked: Looked, choice: Choice) -> dict:
    """Fish, air and wet bulb against the hours, the growth zone behind them, and where the fish is dry enough."""
    load, shown = (
        looked.load,
        np.append(looked.load.hours[looked.load.hours < LONGEST], min(looked.load.hours[-1], LONGEST)),
    )
    low, mid, high, air = (np.interp(shown, load.hours, part) for part in (*load.fish, load.air))
    done = load.done.mid is not None and load.hours[-1] <= LONGEST
    marks = [
        drawing.box((0, LONGEST), GROWTH_ZONE[::-1], style="zone", given=True),
        drawing.label(LONGEST - 0.2, GROWTH_ZONE[0] + 3.5, say("live.air.zone"), anchor="end", given=True),
        drawing.band("now", shown, low, high),
        drawing.curve("before", [0, LONGEST], [load.wet_bulb] * 2, say("live.air.wet_bulb")),
        drawing.curve("second", shown, air, say("live.air.air")),
        drawing.curve("now", shown, mid, "" if done else say("live.air.fish")),
    ]
    if done:
        hours = say("live.air.done", hours=number(load.hours[-1], ".1f"))
        marks.append(drawing.point(load.hours[-1], mid[-1], hours, above=False))
    marks.append({"kind": "note", "style": "now", "words": say("live.air.band"), "given": True})
    across = drawing.axis(say("live.batch.across"), 0.0, LONGEST, range(0, 13, 2))
    return {"across": across, "up": _degrees(choice), "marks": marks}


def _degrees(choice: Choice) -> dict:
    """Degrees Celsius, or Fahrenheit: the places stay Celsius."""
    if choice.system == "us":
        ticks = (32, *range(60, 161, 20))
        return drawing.axis(
            say("live.air.up", unit="°F"), 0.0, HOTTEST, [(one - 32) / 1.8 for one in ticks], map(str, ticks)
        )
    return drawing.axis(say("live.air.up", unit="°C"), 0.0, HOTTEST, range(0, 81, 20))


def reply_air(looked: Looked, guess: dict, choice: Choice) -> str:
    """What is said to a guessed course: its first hour, beside the fish's."""
    guessed, load = float(np.interp(1.0, guess["x"], guess["y"])), looked.load
    low, mid, high = (float(np.interp(1.0, load.hours, curve)) for curve in load.fish)
    where = "below" if guessed < low else "above" if guessed > high else "inside"
    told = choice.show(guessed, "temperature"), choice.show_band(Band(low, mid, high), "temperature")
    return say("live.air.reply", guess=told[0], told=told[1]) + " " + say(f"live.guess.{where}")


# The words


def tell_air(looked: Looked, choice: Choice) -> Told:
    """How warm the fish is, how long in the growth zone, when dry and for how much electricity; what that does not do."""
    load, moment = looked.load, choice.show(3600 * looked.seen, "time")
    dial, wet = choice.show(load.dial, "temperature"), choice.show(load.wet_bulb, "temperature")
    air, clock = choice.show(load.coolest, "temperature"), choice.show_band(load.clock, "time")
    fish = choice.show(looked.fish, "temperature")
    parts = [say("live.air.after_fish_dial", moment=moment, fish=fish, dial=dial, wet=wet)]
    if load.coolest < load.dial - COOL:
        parts.append(say("live.air.air_falls", air=air))
    if load.done.mid is None:
        last = choice.show(3600 * load.hours[-1], "time")
        parts.append(say("live.air.when_dry_enough", last=last, clock=clock))
    else:
        done, energy = choice.show_band(load.done, "time"), choice.show_band(load.energy, "energy")
        parts.append(say("live.air.moist_growth_zone", clock=clock, done=done, energy=energy))
    if load.coverage > 1:
        over = choice.show(load.coverage, "percent")
        parts.append(say("live.air.too_much_side", over=over))
    sentence = " ".join(parts)
    numbers = (
        (say("live.air.fish_then"), fish),
        (say("live.air.air_then"), choice.show(looked.air, "temperature")),
        (say("live.air.clock"), choice.show(load.clock.mid, "time")),
        (say("live.air.takes"), choice.show(load.done.mid, "time")),
    )
    caution = f"{_caution(load)} {words.caution_line()}"
    return Told(sentence, SURE, caution, f"{_seen(looked, choice)} {sentence}", numbers, _chips(load, choice))


def _chips(load: WarmLoad, choice: Choice) -> tuple[tuple[str, str], ...]:
    likely = choice.likely(load.done, "time")
    covered = choice.show(load.coverage, "percent")
    return (
        (say("live.likely"), likely or say("live.not_known")),
        (say("live.air.covered"), say("live.air.over", share=covered) if load.coverage > 1 else covered),
        (say("live.air.energy"), choice.show(load.energy.mid, "energy")),
    )


def _caution(load: WarmLoad) -> str:
    """The dial heats nothing through; what that means for fish whose heating counts, and for fish that counts as raw."""
    after = rule_texts()["K1", "raw"].text if load.warm is None else rung(load.warm)[1][0].text
    dial = rule_texts()["K3", ""].text.partition(". ")[
        0
    ]  # its numbers are those of a bare wet bulb; the picture has its own
    return f"{dial}. {after}"


def _seen(looked: Looked, choice: Choice) -> str:
    load, full = looked.load, int(min(looked.load.coverage, 1) * looked.trays + 1e-9)
    marks = [
        say("live.air.after_h", fish_at=choice.show(load.fish_at(hours), 'temperature'), hours=hours) for hours in (0.5, 1, 2, 4, 8)
        if hours <= load.hours[-1]
    ]  # fmt: skip
    return say("live.air.dryer_trays_them", trays=looked.trays, full=full, marks=", ".join(marks))


def air_controls(batch: Batch, laid: Cured) -> tuple[Control, ...]:
    """The sliders, standing where the batch stands; no slider for open faces where a skin or a belly settles that."""
    faces = 2 if batch.dryer.faces is None else batch.dryer.faces
    heater = drying.HEATER_UNKNOWN[1] if batch.dryer.heater is None else batch.dryer.heater
    humidity = drying.ROOM_HUMIDITY[1] if batch.room.relative_humidity is None else batch.room.relative_humidity
    twice = 2 * holds(batch, laid)
    step = 0.25 * max(1, round(twice / 10))
    most = step * max(2, int(twice / step))
    rows = [
        ("load", say("live.air.fish_on_trays"), "fish", "mass", step, most, step, float(np.median(laid.mass))),
        ("faces", say("live.air.open_faces_piece"), "air", "count", 1.0, 2.0, 1.0, float(faces)),
        ("temperature", say("live.air.dryer_set"), "air", "temperature", 35.0, 75.0, 1.0, batch.dryer.temperature),
        ("heater", say("live.air.heater"), "air", "power", 200.0, 1500.0, 50.0, heater),
        ("humidity", say("live.air.humidity_room"), "air", "percent", 0.10, 0.90, 0.05, humidity),
        ("hours", say("live.air.look_after"), "air", "time", 0.0, 3600 * LONGEST, 1800.0, 3600.0),
    ]
    if batch.cut.closed_face:
        rows = [row for row in rows if row[0] != "faces"]
    return tuple(
        Control(*row[:-1], start=float(np.clip(row[-1], row[4], row[5])), digits=3 if row[0] == "hours" else 2)
        for row in rows
    )


def air_panel(batch: Batch | None = None, choice: Choice | None = None, **start: float) -> Live:
    """A dryer to load and to look into, for a batch (the demonstration batch when none is given); `start` are controls that
    begin elsewhere than the batch does."""
    batch = batch or own.demo_batch("heron")
    laid, kept = lay(batch), Remembered(KEPT)
    trays, wide = batch.dryer.trays, round(1000 * batch.dryer.tray_area**0.5, 1)

    def compute(hours: float, **values: float) -> Looked:
        load = kept(tuple(values.values()), lambda: fill_dryer(batch, laid, **values))
        return Looked(load, hours, values["load"], trays, wide, 1000 * batch.cut.sizes[-1])

    lesson = Lesson(
        say("live.air.title"), say("live.air.prompt"), air_controls(batch, laid), compute, draw_air, tell_air, reply_air,
        say("live.air.guess_prompt"), ("load", "temperature", "hours"), "hours",
        (say("live.weight.play"), say("live.salt.step")),
        tuple((say(f"live.air.look_{n}"), say(f"live.air.saw_{n}")) for n in (1, 2, 3)), start,
    )  # fmt: skip
    return Live(lesson, choice)


def dryer_form(folder: str | Path = ".") -> widgets.VBox:
    """A form for the learner's own dryer and room; what is typed is checked and kept in ``my-batch.toml`` on Save."""
    fields = own.own_fields(OWN_FORM, folder)
    return form([*fields.values()], say("live.air.save_my_dryer"), lambda: keep_dryer(own.typed_in(fields), folder))


def keep_dryer(typed: dict[tuple[str, str], str], folder: str | Path = ".") -> str:
    """Check what was typed and write it into the batch file as it is now; returns what to tell the learner."""
    return own.save(lambda told: own.with_fields(told, typed), folder, lambda _batch: NEXT)
