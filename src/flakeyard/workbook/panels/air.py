"""The panel of workbook 04: the air in the dryer, what the fish does to it, and how warm the fish is meanwhile.

The fish is salted and heated once, when the panel is made; a move of a slider lays more or less of it on the trays,
changes the dryer or the room, and dries the load again with twenty draws of what is not known.
"""

from pathlib import Path

import ipywidgets as widgets
import numpy as np

from flakeyard import limits
from flakeyard.steps.chain import drying
from flakeyard.steps.chain.salting import Cured
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.judge.facts import rule_texts
from flakeyard.steps.judge.warm_hours import rung
from flakeyard.steps.plan.loading import WarmLoad, fill_dryer, lay
from flakeyard.workbook import own, words
from flakeyard.workbook.form import FormField, form
from flakeyard.workbook.panels import figures
from flakeyard.workbook.panels.figures import Picture
from flakeyard.workbook.panels.panel import Choice, Control, Panel, Said

GROWTH_ZONE = (limits.GROWTH_BOTTOM, limits.GROWTH_TOP)  # degC, the span of the official clock
HORIZONS = (6.0, 12.0, 18.0, 24.0, 36.0, 48.0, 60.0, 72.0)  # hours; room to the right of the end for its words
NEXT = "Run the next cell to see this dryer."
COOL = 2.0  # K; air this far under the dial is worth a word
SURE = (
    "8 of 10 dryers like this one should lie in the likely ranges. How much fresh air yours takes in and how hard its fan "
    "blows are not known; every tray is taken to have the same air. Put a thermometer on a tray and trust that."
)
LOOK_FOR = (
    "More fish: is it the air or the fish that gets cooler? And the hours?",
    "Room air from very dry to very humid: how many hours does it cost? And closing one face?",
    "Turn the dial down to where the fish never leaves the growth zone. What does the sentence say?",
)
OWN_FORM = (
    FormField("dryer", "temperature", "Dryer set to"),
    FormField("dryer", "trays", "Trays"),
    FormField("dryer", "tray_area", "Area of one tray"),
    FormField("dryer", "faces", "Open faces, 1 or 2"),
    FormField("dryer", "heater", "Heater, from the label"),
    FormField("room", "temperature", "Room temperature"),
    FormField("room", "relative_humidity", "Room humidity, %"),
    FormField("room", "altitude", "Altitude"),
)


def air_picture(choice: Choice) -> Picture:
    """Temperatures against hours, with the growth zone as a hatched field behind them."""
    picture = Picture(size=(7.4, 3.5))
    on = figures.axes(picture, "hours in the dryer", "temperature", (0, 12), (0, 80), place=(0.085, 0.135, 0.835, 0.69))
    on.axhspan(*GROWTH_ZONE, facecolor="#f4f0e4", edgecolor="#ddd3b4", hatch="..", linewidth=0.0, zorder=0)
    zone = f"growth zone, {_span(*GROWTH_ZONE, choice)}".replace(" and ", " to ")
    on.text(
        0.99, GROWTH_ZONE[0] + 1.5, zone, transform=on.get_yaxis_transform(), fontsize=figures.FONT_SIZE - 1,
        ha="right", bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1.5},
    )  # fmt: skip
    _degrees_up(on, choice)
    figures.add_band(picture, "band", on, 0, "8 of 10 dryers")
    figures.add_curve(picture, "fish", on, 0, "fish, thickest piece")
    figures.add_curve(picture, "air", on, 1, "air in the box")
    figures.add_curve(picture, "dial", on, 2, "dial", width=1.4)
    figures.add_curve(picture, "wet_bulb", on, 3, "wet bulb at that dial", width=1.8)
    figures.add_point(picture, "done", on, 0)
    figures.legend(on)
    return picture


def _degrees_up(on, choice: Choice) -> None:
    """Number the upright side in °C, in °F, or left in one and right in the other."""
    fahrenheit = np.arange(40, 180, 20)
    celsius = (fahrenheit - 32) / 1.8
    if choice.system == "us":
        on.set_yticks(celsius, labels=[f"{degrees}" for degrees in fahrenheit])
    on.set_ylabel(f"temperature, {'°F' if choice.system == 'us' else '°C'}", fontsize=figures.FONT_SIZE)
    if choice.system == "both":
        right = on.secondary_yaxis("right")
        right.set_yticks(celsius, labels=[f"{degrees}" for degrees in fahrenheit])
        right.tick_params(labelsize=figures.FONT_SIZE - 1)
        right.set_ylabel("°F", fontsize=figures.FONT_SIZE)


def _span(low: float, high: float, choice: Choice) -> str:
    return f"{choice.show(low, 'temperature')} and {choice.show(high, 'temperature')}"


def draw_air(picture: Picture, load: WarmLoad, choice: Choice) -> None:
    """Set the curves of fish, air, dial and wet bulb, and the moment when the fish is dry enough."""
    on = picture["fish"].axes
    end = load.hours[-1]
    horizon = next((horizon for horizon in HORIZONS if end <= 0.62 * horizon), HORIZONS[-1])
    figures.set_across(on, horizon)
    low, middle, high = load.fish
    figures.set_band(picture["band"], load.hours, low, high)
    picture["fish"].set_data(load.hours, middle)
    picture["air"].set_data(load.hours, load.air)
    picture["dial"].set_data([0, horizon], [load.dial, load.dial])
    picture["wet_bulb"].set_data([0, horizon], [load.wet_bulb, load.wet_bulb])
    known = load.done.mid is not None
    said = f"dry enough: {choice.show(load.done.mid, 'time')}"
    figures.set_point(picture, "done", end if known else np.nan, middle[-1], said, falling=False)


def tell_air(load: WarmLoad, choice: Choice) -> Said:
    """How warm the fish is, how long in the growth zone, when dry and for how much electricity; what that does not do."""
    fish = choice.show(load.fish_at(1.0), "temperature")
    dial, wet = choice.show(load.dial, "temperature"), choice.show(load.wet_bulb, "temperature")
    air, clock = choice.show(load.coolest, "temperature"), choice.show_band(load.clock, "time")
    fallen = f" The air falls to {air}." if load.coolest < load.dial - COOL else ""
    sentence = f"After one hour the fish is at {fish}; the dial says {dial}, the wet bulb is {wet}.{fallen} "
    if load.done.mid is None:
        last = choice.show(3600 * load.hours[-1], "time")
        sentence += f"When it is dry enough is not known: not within {last}, with {clock} in the growth zone till then."
    else:
        done, energy = choice.show_band(load.done, "time"), choice.show_band(load.energy, "energy")
        sentence += f"Moist and in the growth zone for {clock}. Dry enough after {done}, for {energy}."
    if load.coverage > 1:
        over = choice.show(load.coverage, "percent")
        sentence += f" Too much: side by side it covers {over} of the trays, and pieces that overlap dry far slower."
    return Said(sentence, SURE, f"{_caution(load)} {words.caution_line()}", f"{_seen(load, choice)} {sentence}")


def _caution(load: WarmLoad) -> str:
    """The dial heats nothing through; what that means for fish whose heating counts, and for fish that counts as raw."""
    after = rule_texts()["K1", "raw"].text if load.warm is None else rung(load.warm)[1][0].text
    dial = rule_texts()["K3", ""].text.partition(". ")[
        0
    ]  # its numbers are those of a bare wet bulb; the picture has its own
    return f"{dial}. {after}"


def _seen(load: WarmLoad, choice: Choice) -> str:
    marks = [
        f"{choice.show(load.fish_at(hours), 'temperature')} after {hours:g} h" for hours in (0.5, 1, 2, 4, 8, 16)
        if hours <= load.hours[-1]
    ]  # fmt: skip
    return (
        f"Temperature against hours. The fish rises slowly: {', '.join(marks)}; a hatched band goes with it. Above it runs "
        "the air in the box, then the level line of the dial; the line of the wet bulb lies below."
    )


def air_controls(batch: Batch, laid: Cured) -> tuple[Control, ...]:
    """The sliders, standing where the batch stands; no slider for open faces where a skin or a belly settles that."""
    faces = 2 if batch.dryer.faces is None else batch.dryer.faces
    heater = drying.HEATER_UNKNOWN[1] if batch.dryer.heater is None else batch.dryer.heater
    humidity = drying.ROOM_HUMIDITY[1] if batch.room.relative_humidity is None else batch.room.relative_humidity
    rows = [
        ("load", "Fish on the trays", "fish", "mass", 0.25, 8.0, 0.25, float(np.median(laid.mass))),
        ("faces", "Open faces of a piece", "air", "count", 1.0, 2.0, 1.0, float(faces)),
        ("temperature", "Dryer set to", "air", "temperature", 35.0, 75.0, 1.0, batch.dryer.temperature),
        ("heater", "Heater", "air", "power", 200.0, 1500.0, 50.0, heater),
        ("humidity", "Humidity of the room", "air", "percent", 0.10, 0.90, 0.05, humidity),
    ]
    if batch.cut.closed_face:
        rows = [row for row in rows if row[0] != "faces"]
    return tuple(Control(*row[:-1], start=float(np.clip(row[-1], row[4], row[5]))) for row in rows)


def air_panel(batch: Batch | None = None, choice: Choice | None = None) -> Panel:
    """Sliders for load, faces, dial, heater and room, for a batch (the demonstration batch when none is given)."""
    batch = batch or own.demo_batch("heron")
    laid = lay(batch)
    return Panel(
        "The air and the fish: two temperatures in one box",
        air_controls(batch, laid),
        lambda **values: fill_dryer(batch, laid, **values),
        air_picture,
        draw_air,
        tell_air,
        choice=choice,
        look_for=LOOK_FOR,
    )


def dryer_form(folder: str | Path = ".") -> widgets.VBox:
    """A form for the learner's own dryer and room; what is typed is checked and kept in ``my-batch.toml`` on Save."""
    fields = own.own_fields(OWN_FORM, folder)
    return form([*fields.values()], "Save my dryer", lambda: keep_dryer(own.typed_in(fields), folder))


def keep_dryer(typed: dict[tuple[str, str], str], folder: str | Path = ".") -> str:
    """Check what was typed and write it into the batch file as it is now; returns what to tell the learner."""
    return own.save(lambda told: own.with_fields(told, typed), folder, lambda _batch: NEXT)
