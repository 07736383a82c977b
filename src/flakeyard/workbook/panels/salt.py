"""Salt through the thickness of a piece: in a brine, out again in fresh water, and what is left in a portion.

What is computed stands in `steps.plan.soaking`; here are the settings a learner moves, the picture, the words and the
form for one's own soaks.
"""

from dataclasses import replace
from pathlib import Path

import ipywidgets as widgets
import numpy as np

from flakeyard import limits, units
from flakeyard.steps.chain.brining import mix
from flakeyard.steps.chain.fish import prepare_fish
from flakeyard.steps.intent.fields import FIELDS
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Draws, band
from flakeyard.steps.judge.facts import rule_texts
from flakeyard.steps.plan.soaking import ACROSS, HOUR, MEMBERS, Soaked, salted, soak_piece, soaks_told
from flakeyard.units import InputError
from flakeyard.workbook import own, words
from flakeyard.workbook.form import HOW, form
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import figures
from flakeyard.workbook.panels.figures import Picture
from flakeyard.workbook.panels.panel import Choice, Control, Panel, Said

DAY_LIMIT = limits.SODIUM_WHO  # mg; the stricter of the two is the line of the picture
WIDTHS = {  # the picture keeps to these scales, so that it seldom changes them
    "mm": (0.001, 6, (6.0, 12.0, 24.0, 30.0)),  # size of one [m], parts, scales
    "inches": (0.0254, 5, (0.25, 0.5, 1.0, 1.25)),  # an inch is exact
}
HEIGHTS = (4.0, 8.0, 16.0, 30.0, 40.0)  # % salt in the water
SODIUM_HEIGHTS = (2500.0, 5000.0, 10_000.0, 100_000.0)  # mg

CONTROLS = (
    Control("thickness", "Thickness", "fish", "length", 0.003, 0.020, 0.001, 0.005),
    Control("fat", "Fat in the raw fish", "fish", "percent", 0.0, 0.20, 0.01, 0.06),
    Control("faces", "Open faces (1: skin on)", "fish", "count", 1.0, 2.0, 1.0, 2.0),
    Control("strength", "Salt in brine, by weight", "salt", "percent", 0.02, 0.26, 0.01, 0.08),
    Control("brine", "Brine, times the fish", "salt", "count", 0.5, 5.0, 0.5, 1.0),
    Control("time", "Time in the brine", "salt", "time", 0.5 * HOUR, 24 * HOUR, 0.5 * HOUR, 10 * HOUR, 3),
    Control("waters", "Fresh waters, 1 h each", "salt", "count", 0.0, 6.0, 1.0, 0.0),
    Control("moisture", "Water left when dried", "air", "percent", 0.15, 0.50, 0.05, 0.40),
)
LOOK_FOR = (
    "Twice the hours: twice as salty? Then try twice the thickness.",
    "More fresh waters: where does the salt leave first, and where last?",
    "Can the average ever pass the dash-dotted line, however long you wait?",
)
PORTION = (
    "a portion of {portion} holds about {sodium} mg of sodium; an adult's limit is "
    f"{DAY_LIMIT:,.0f} mg a day (WHO; United States: {limits.SODIUM_US:,.0f} mg)."
)
SURE = (
    "8 of 10 pieces should lie in the likely range. Where fish and brine end is known to about half a point, the speed "
    "only to a factor of 1.65 either way, for two pieces in three. This is a piece away from its edges; narrow strips "
    "are quicker."
)


def salt_picture(choice: Choice) -> Picture:
    """The frame: salt across the piece on the left, sodium of a portion on the right."""
    picture = Picture(size=(7.4, 3.45))
    on = figures.axes(
        picture,
        f"{_length(choice)} under the upper face",
        "salt in the water, %",
        (0, 1),
        (0, 1),
        (0.085, 0.14, 0.62, 0.68),
    )
    figures.add_band(picture, "band", on, 0, "8 of 10 pieces")
    figures.add_curve(picture, "now", on, 0, "out of the last bath")
    figures.add_curve(picture, "brined", on, 1, "out of the brine", width=1.8)
    figures.add_curve(picture, "ceiling", on, 2, "fish and brine evened out", width=1.8)
    figures.add_curve(picture, "rested", on, 3, "after a night of rest", width=2.4)
    figures.add_point(picture, "middle", on, 1)
    figures.add_point(picture, "mean", on, 2)
    _add_edge(picture, on)
    on.legend(
        loc="lower left", bbox_to_anchor=(-0.1, 1.0), ncols=3, fontsize=figures.FONT_SIZE - 1, frameon=False,
        handlelength=2.6, columnspacing=1.6, borderaxespad=0.0,
    )  # fmt: skip
    beside = figures.axes(picture, "", "sodium in a portion, mg", (0, 1), (0, 1), (0.845, 0.14, 0.145, 0.68))
    beside.set_xticks([])
    beside.axhline(DAY_LIMIT, color=figures.BLACK, linestyle="--", linewidth=1.4, label="a day (WHO)")
    beside.legend(
        loc="lower right", bbox_to_anchor=(1.07, 1.0), fontsize=figures.FONT_SIZE - 1, frameon=False, handlelength=2.0,
        borderaxespad=0.0,
    )  # fmt: skip
    figures.add_band(picture, "bar", beside, 5, "_bar")
    figures.add_curve(picture, "range", beside, 0, "_range", width=2.0)
    picture["range"].set(color=figures.BLACK, marker="_", markersize=9)
    figures.add_point(picture, "sodium", beside, 0)
    return picture


def _add_edge(picture: Picture, on) -> None:
    """The lower face of the piece: a line and the word for it."""
    figures.add_curve(picture, "edge", on, 0, "_edge", width=1.2)
    picture["edge"].set(color=figures.BLACK, zorder=2)
    text = on.annotate("", (0, 0), (5, -3), textcoords="offset points", fontsize=figures.FONT_SIZE - 1, va="top")
    picture.add("edge_words", text)


def _length(choice: Choice) -> str:
    return "inches" if choice.system == "us" else "mm"


def draw_salt(picture: Picture, soaked: Soaked, choice: Choice) -> None:
    """Set the profiles, the marks of mean and middle, and the bar of sodium."""
    on = picture["now"].axes
    size, parts, widths = WIDTHS[_length(choice)]
    low, mid, high = (100 * part for part in soaked.profile)
    brined, ceiling = 100 * soaked.brined, 100 * soaked.ceiling.mid
    wide, end = _room(widths, 1.3 * soaked.thickness / size), soaked.thickness / size
    tall = _room(HEIGHTS, 1.12 * max(high.max(), brined.max(), ceiling))
    figures.set_across(on, wide, parts)
    _set_up(on, tall)
    picture["now"].set_data(ACROSS * end, mid)
    picture["brined"].set_data(ACROSS * end, brined if soaked.waters else np.full(ACROSS.size, np.nan))
    picture["rested"].set_data(ACROSS * end, 100 * soaked.rested)
    picture["ceiling"].set_data([0, wide], [ceiling, ceiling])
    figures.set_band(picture["band"], ACROSS * end, low, high)
    picture["edge"].set(data=([end, end], [0, tall]), linewidth=1.2 if soaked.faces == 2 else 4.0)
    picture["edge_words"].set(text="lower face" if soaked.faces == 2 else "skin")
    picture["edge_words"].xy = (end, tall)
    _mark_levels(picture, soaked, end, tall, choice)
    _draw_sodium(picture, soaked)


def _mark_levels(picture: Picture, soaked: Soaked, end: float, tall: float, choice: Choice) -> None:
    """Mean beside the piece; middle on its curve, its words on the side that the curve leaves free."""
    mean, middle = 100 * soaked.mean.mid, 100 * soaked.middle.mid
    figures.set_point(picture, "mean", 1.04 * end, mean, f"average {choice.show(soaked.mean.mid, 'percent')}")
    picture["mean_words"].set(ha="left", va="center")
    picture["mean_words"].xyann = (8, 0)
    at_skin = soaked.faces == 1
    figures.set_point(
        picture, "middle", end if at_skin else end / 2, middle,
        f"{'at the skin' if at_skin else 'middle'} {choice.show(soaked.middle.mid, 'percent')}",
    )  # fmt: skip
    below = middle < 100 * soaked.profile[1].max() - 1e-6 and middle > 0.2 * tall
    picture["middle_words"].set(ha="right" if at_skin else "center", va="top" if below else "bottom")
    picture["middle_words"].xyann = (-8 if at_skin else 0, -9 if below else 9)


def _draw_sodium(picture: Picture, soaked: Soaked) -> None:
    beside, sodium = picture["sodium"].axes, soaked.sodium
    _set_up(beside, _room(SODIUM_HEIGHTS, 1.15 * sodium.high))
    figures.set_band(picture["bar"], [0.25, 0.75], [0, 0], [sodium.mid, sodium.mid])
    picture["range"].set_data([0.5, 0.5], [sodium.low, sodium.high])
    figures.set_point(picture, "sodium", 0.5, sodium.mid, f"{round(sodium.mid, -1):,.0f}")
    picture["sodium_words"].set(ha="center", va="bottom")
    picture["sodium_words"].xy, picture["sodium_words"].xyann = (0.5, sodium.high), (0, 8)


def _room(scales: tuple[float, ...], needed: float) -> float:
    """The smallest of the fixed scales that holds what is needed."""
    return next((scale for scale in scales if scale >= needed), scales[-1])


def _set_up(on, high: float) -> None:
    """Let the axes stand from 0 to high; does nothing when they already do."""
    if on.get_ylim() != (0.0, high):
        on.set_ylim(0.0, high)


def tell_salt(soaked: Soaked, choice: Choice) -> Said:
    """How salty on average and in the middle, the ceiling, and the sodium of a portion beside a day's limit."""
    mean, middle = (choice.show_band(part, "percent") for part in (soaked.mean, soaked.middle))
    where = "in the middle" if soaked.faces == 2 else "at the skin"
    sodium = "–".join(dict.fromkeys(f"{round(value, -1):,.0f}" for value in (soaked.sodium.low, soaked.sodium.high)))
    sentence = (
        f"Salt in the water of the piece, on average: {mean}; {where}: {middle}. This brine alone would end at "
        f"{choice.show(soaked.ceiling.mid, 'percent')}. Dried to {choice.show(soaked.moisture, 'percent')} water, "
        f"{PORTION.format(portion=choice.show(soaked.serving, 'mass'), sodium=sodium)}"
    )
    shape = "rises from the middle to the faces" if soaked.profile[1][0] > soaked.middle.mid else "falls to the faces"
    alt = f"Salt across the piece as a curve that {shape}, in a hatched band; a bar of sodium on the right. {sentence}"
    return Said(sentence, SURE, _cautions(soaked), alt)


def _cautions(soaked: Soaked) -> str:
    """A salty portion, soaked fish or salt that preserves nothing; and the caution that always stands."""
    parts = []
    if soaked.sodium.high > limits.SALTY_PORTION * DAY_LIMIT:
        parts.append("Very salty: this portion alone may hold more than half of a day's sodium.")
    if soaked.waters:
        parts.append(rule_texts()["B6", ""].text)
    elif soaked.middle.low < limits.KEEPING_SALT:
        parts.append(rule_texts()["B4", ""].text)
    return " ".join([*parts, words.caution_line()])


def controls_for(batch: Batch) -> tuple[Control, ...]:
    """The sliders, starting at what the batch itself plans (at the nearest mark)."""
    fish = prepare_fish(batch, Draws(MEMBERS))
    start = {"thickness": batch.cut.thickness, "fat": fish.fat_raw, "faces": 1 if batch.cut.skin_on else 2}
    if batch.wet_brine:
        brine = mix(batch.brine, Draws(MEMBERS))
        start |= {
            "strength": float(np.median(brine.salt_fraction)),
            "brine": float(np.median(brine.mass)) / fish.mass,
            "time": batch.brine.time,
        }
    return tuple(replace(one, start=one.nearest(start.get(one.name, one.start))) for one in CONTROLS)


def salt_panel(batch: Batch | None = None, choice: Choice | None = None) -> Panel:
    """Sliders for salt in and salt out, for the fish of a batch (the demonstration batch when none is given)."""
    batch = batch or demo_batch("heron")
    return Panel(
        "Salt through the thickness of a piece",
        controls_for(batch),
        lambda **values: soak_piece(batch, **values),
        salt_picture,
        draw_salt,
        tell_salt,
        choice=choice,
        look_for=LOOK_FOR,
    )


# --- the learner's own soaks -----------------------------------------------------------------------------------------

SOAKS = (  # field, label, example; a field left empty is taken out of the file
    ("time", "Time in the brine", "10 h"),
    ("temperature", "Brine temperature", "3 °C"),
    ("water", "Fresh water, each", "3 L"),
    ("each", "Time in each water", "1 h"),
    ("at", "Fresh water at", "4 °C"),
    ("changes", "How many waters", "2"),
    ("serving", "A portion, dried", "30 g"),
)


def own_soaks_form(choice: Choice | None = None, folder: str | Path = ".") -> widgets.VBox:
    """A form for brine time, fresh waters and portion of the learner's own batch; Save checks it and writes the file."""
    choice, now = choice or Choice(), typed_soaks(own.own_told(folder))
    fields = {
        name: widgets.Text(
            value=now.get(name, ""), description=label, placeholder=example, continuous_update=False, **HOW
        )
        for name, label, example in SOAKS
    }
    return form([*fields.values()], "Save my soaks", lambda: keep_soaks(own.typed_in(fields), choice, folder))


def typed_soaks(told: dict) -> dict[str, str]:
    """What a batch file tells of its soaks, in the words it was typed in."""
    brine, water = told.get("brine", {}), (told.get("freshen") or [{}])[0]
    found = {name: brine.get(name) for name in ("time", "temperature")}
    found |= {"water": water.get("water"), "each": water.get("time"), "changes": water.get("changes")}
    found |= {"at": water.get("temperature"), "serving": told.get("serving")}
    return {name: str(value) for name, value in found.items() if value is not None}


def keep_soaks(typed: dict[str, str], choice: Choice, folder: str | Path = ".") -> str:
    """Check what was typed, write it to the batch file (an older file stays as a numbered copy), say what comes of it."""
    return own.save(
        lambda told: _whole_soaks(soaks_told(told, **_given(typed))), folder, lambda batch: tell_own(batch, choice)
    )


def _whole_soaks(told: dict) -> dict:
    """What is told, or a refusal: a soak that is told by halves is none."""
    for name, soaks in (("brine", [told.get("brine", {})]), ("freshen", told.get("freshen", []))):
        for key, kind in FIELDS[name].items():
            if kind.needed and any(soak and key not in soak for soak in soaks):
                raise InputError(
                    f"[{name}] {key}", "nothing", "this is needed", f"{key} = …", f"{key} = {kind.example}"
                )
    return told


def _given(typed: dict[str, str]) -> dict:
    """What stands in the fields of the form; an empty one tells nothing."""
    given = {name: text.strip() or None for name, text in typed.items()}
    return given | {"changes": _count(given.get("changes"))}


def _count(text: str | None):
    if text is None:
        return None
    count = units.read_amount(text, "count", "How many waters", low=1, high=20, example="2").value
    return int(count) if count == int(count) else count


def tell_own(batch: Batch, choice: Choice) -> str:
    """How salty the batch will be as laid on the trays, and the caution that goes with it."""
    cured = salted(batch, 100)
    mean, middle = band(cured.water_phase_salt), band(cured.water_phase_salt_centre)
    return (
        f"As laid on the trays: {choice.show_band(mean, 'percent')} salt in the water on average, "
        f"{choice.show_band(middle, 'percent')} in the middle of the thickest piece. {words.caution_line()}"
    )
