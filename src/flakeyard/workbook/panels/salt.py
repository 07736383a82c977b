"""Salt through the thickness of a piece: in a brine, out again in fresh water, and what is left in a portion.

What is computed stands in `steps.plan.soaking`; here are the settings a learner moves, the picture, the words and the
form for one's own soaks.
"""

from dataclasses import replace
from pathlib import Path

import ipywidgets as widgets
import numpy as np

from flakeyard import limits, units
from flakeyard.messages import number, say
from flakeyard.steps.chain.brining import mix
from flakeyard.steps.chain.fish import prepare_fish
from flakeyard.steps.intent.fields import FIELDS
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Band, Draws, band
from flakeyard.steps.judge.facts import rule_texts
from flakeyard.steps.plan.soaking import ACROSS, HOUR, MEMBERS, Soaked, salted, soak_piece, soaks_told
from flakeyard.units import InputError
from flakeyard.workbook import own, words
from flakeyard.workbook.form import HOW, form
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import drawing
from flakeyard.workbook.panels.live import Lesson, Live, Told
from flakeyard.workbook.panels.panel import Choice, Control

DAY_LIMIT = limits.SODIUM_WHO  # mg; the stricter of the two
SCALES = ((4.0, 1.0), (8.0, 2.0), (16.0, 4.0), (28.0, 4.0))  # % salt in the water, and its steps, by the brine
DEEPEST = 20.0  # mm, where the axis ends
STRIP = (0.5, 16.5)  # mm of the broad piece that the cut shows
KNOTS = {
    0.0: "live.at.upper", 0.25: "live.at.quarter", 0.5: "live.at.middle", 0.75: "live.at.three_quarters",
    1.0: "live.at.lower",
}  # fmt: skip

CONTROLS = (
    Control("thickness", say("live.salt.thickness"), "fish", "length", 0.003, 0.020, 0.001, 0.005),
    Control("fat", say("live.salt.fat_raw_fish"), "fish", "percent", 0.0, 0.20, 0.01, 0.06),
    Control("faces", say("live.salt.open_faces_1"), "fish", "count", 1.0, 2.0, 1.0, 2.0),
    Control("strength", say("live.salt.salt_brine_weight"), "salt", "percent", 0.02, 0.26, 0.01, 0.08),
    Control("brine", say("live.salt.brine_times_fish"), "salt", "count", 0.5, 5.0, 0.5, 1.0),
    Control("time", say("live.salt.time_brine"), "salt", "time", 0.5 * HOUR, 24 * HOUR, 0.5 * HOUR, 10 * HOUR, 3),
    Control("waters", say("live.salt.fresh_waters_1"), "salt", "count", 0.0, 6.0, 1.0, 0.0),
    Control("moisture", say("live.salt.water_left_when"), "air", "percent", 0.15, 0.50, 0.05, 0.40),
)
LOOK_FOR = tuple((f"live.salt.look_{n}", f"live.salt.saw_{n}") for n in (1, 2, 3))
SURE = say("live.salt.8_10_pieces")


def draw_salt(soaked: Soaked, choice: Choice) -> dict:
    """A cut through the piece, coloured by its salt, beside the salt against the depth. The scale follows the brine alone."""
    end, ceiling, faces = 1000 * soaked.thickness, 100 * soaked.ceiling.mid, soaked.faces
    low, mid, high = (100 * part for part in soaked.profile)
    top, step = next(scale for scale in SCALES if scale[0] >= 100 * soaked.strength - 1e-9 or scale is SCALES[-1])
    now = drawing.curve("now", ACROSS * end, mid, say("live.salt.now"))
    marks = [
        drawing.curve("end", [0, DEEPEST], [ceiling, ceiling], say("live.salt.end"), given=True),
        drawing.band("now", ACROSS * end, low, high),
        *(
            [drawing.curve("before", ACROSS * end, 100 * soaked.brined, say("live.salt.brined"))]
            if soaked.waters
            else []
        ),
        drawing.curve("later", ACROSS * end, 100 * soaked.rested, say("live.salt.rested")),
        now,
        {"kind": "note", "style": "now", "words": say("live.salt.band"), "given": True},
    ]
    up = drawing.axis(say("live.salt.up"), 0.0, top, np.arange(0.0, top + 1, step))
    plot = {"across": drawing.depth_axis(choice.system, DEEPEST), "up": up, "marks": marks}
    return {
        "fields": [_cut_field(soaked, mid / top, choice), plot],
        "handles": [drawing.handle("thickness", 0, 8.5, scale=1000.0, down=True, right=STRIP[1])],
        "buttons": [drawing.skin_button(faces, STRIP[0], say("live.salt.skin_on"), say("live.skin_off"))],
        "trace": {"0": {"bottoms": [[*STRIP, end]]}, "1": {"x": now["x"], "y": now["y"]}},
        "guessed": _guessed(end, top, faces),
    }


def _cut_field(soaked: Soaked, shade: np.ndarray, choice: Choice) -> dict:
    """The brine and the piece in it; the words inside stand where the salt comes last."""
    at_skin, last = soaked.faces == 1, shade[np.argmin(shade)] if soaked.waters == 0 else shade[len(shade) // 2]
    share = say("live.salt.equal") if soaked.brine == 1 else say("live.salt.times", times=number(soaked.brine, "g"))
    around = say("live.salt.brine", strength=choice.show(soaked.strength, "percent"), share=share)
    inside = say("live.salt.skin" if at_skin else "live.salt.middle", salt=choice.show(soaked.middle.mid, "percent"))
    piece = drawing.cut(
        *STRIP, 1000 * soaked.thickness, shade, "salt", held="thickness", skin=at_skin, upper=say("live.upper_face"),
        words=[{"at": 1.0 if at_skin else 0.5, "words": inside, "ink": "#ffffff" if last > 0.45 else "#1b1b1b"}],
        reading=choice.show(soaked.thickness, "length", digits=3),
    )  # fmt: skip
    return drawing.cuts_field(17.5, 24.5, [{"kind": "area", "style": "now", "words": around}, piece])


def _guessed(end: float, top: float, faces: int) -> dict:
    """Where the learner's guess has its knots: on a thin piece fewer, so that fingers find them apart."""
    parts = [part for part in KNOTS if end >= 8 or part in (0.0, 0.5, 1.0)]
    names = [say("live.salt.guess", place=say(KNOTS[part])) for part in parts]
    return {
        "field": 1, "axis": "up", "at": [round(end * part, 3) for part in parts], "names": names, "start": top / 2,
        "step": 0.1, "unit": "%", "ends": [0.0, top],
    }  # fmt: skip


def reply_salt(soaked: Soaked, guess: dict, choice: Choice) -> str:
    """What is said to a guess: its middle beside the computed one, and whether it lies in the likely range."""
    guessed = np.interp(0.5 * max(guess["x"]), guess["x"], guess["y"]) / 100
    middle = np.quantile([part[len(ACROSS) // 2] for part in soaked.profile], [0.0, 0.5, 1.0])
    where = "below" if guessed < middle[0] else "above" if guessed > middle[2] else "inside"
    told = choice.show_band(Band(*middle), "percent")
    return (
        say("live.salt.reply", guess=choice.show(float(guessed), "percent"), told=told)
        + " "
        + say(f"live.guess.{where}")
    )


def tell_salt(soaked: Soaked, choice: Choice) -> Told:
    """How salty on average and in the middle, the ceiling, and the sodium of a portion beside a day's limit."""
    mean, middle = (choice.show_band(part, "percent") for part in (soaked.mean, soaked.middle))
    ends = (number(round(value, -1), ",.0f") for value in (soaked.sodium.low, soaked.sodium.high))
    sentence = say(
        "live.salt.sentence_middle" if soaked.faces == 2 else "live.salt.sentence_skin",
        mean=mean, middle=middle, end=choice.show(soaked.ceiling.mid, "percent"),
        moisture=choice.show(soaked.moisture, "percent"), portion=choice.show(soaked.serving, "mass"),
        sodium="–".join(dict.fromkeys(ends)), who=DAY_LIMIT, us=limits.SODIUM_US,
    )  # fmt: skip
    rises = soaked.profile[1][0] > soaked.middle.mid
    alt = say("live.salt.alt_rises" if rises else "live.salt.alt_falls", sentence=sentence)
    numbers = (
        (say("live.salt.average"), choice.show(soaked.mean.mid, "percent")),
        (say("live.salt.inside" if soaked.faces == 2 else "live.salt.at_skin"), choice.show(soaked.middle.mid, "percent")),
        (say("live.salt.sodium", portion=choice.show(soaked.serving, "mass")), f"{number(round(soaked.sodium.mid, -1), ',.0f')} mg"),
    )  # fmt: skip
    likely = [units.show_band(part.low, part.high, "percent", choice.system) for part in (soaked.mean, soaked.middle)]
    chips = (
        (say("live.likely"), say("live.salt.likely", average=likely[0], middle=likely[1])),
        (say("live.salt.end"), choice.show(soaked.ceiling.mid, "percent")),
        (
            say("live.salt.day"),
            say("live.salt.day_limit", who=number(DAY_LIMIT, ",.0f"), us=number(limits.SODIUM_US, ",.0f")),
        ),
    )
    return Told(sentence, SURE, _cautions(soaked), alt, numbers, chips)


def _cautions(soaked: Soaked) -> str:
    """A salty portion, soaked fish or salt that preserves nothing; and the caution that always stands."""
    parts = []
    if soaked.sodium.high > limits.SALTY_PORTION * DAY_LIMIT:
        parts.append(say("live.salt.very_salty_portion"))
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


def salt_panel(batch: Batch | None = None, choice: Choice | None = None, **start: float) -> Live:
    """Salt in and salt out, for the fish of a batch (the demonstration batch when none is given); `start` are controls
    that begin elsewhere than the batch does."""
    batch = batch or demo_batch("heron")
    lesson = Lesson(
        say("live.salt.title"), say("live.salt.prompt"), controls_for(batch), lambda **values: soak_piece(batch, **values),
        draw_salt, tell_salt, reply_salt, say("live.salt.guess_prompt"), ("thickness", "time", "waters"), "time",
        (say("live.salt.play"), say("live.salt.step")), tuple((say(asked), say(saw)) for asked, saw in LOOK_FOR), start,
    )  # fmt: skip
    return Live(lesson, choice)


# --- the learner's own soaks -----------------------------------------------------------------------------------------

SOAKS = (  # field, label, example; a field left empty is taken out of the file
    ("time", say("live.salt.time_brine"), "10 h"),
    ("temperature", say("live.salt.brine_temperature"), "3 °C"),
    ("water", say("live.salt.fresh_water_each"), "3 L"),
    ("each", say("live.salt.time_each_water"), "1 h"),
    ("at", say("live.salt.fresh_water"), "4 °C"),
    ("changes", say("live.salt.how_many_waters"), "2"),
    ("serving", say("live.salt.portion_dried"), "30 g"),
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
    return form(
        [*fields.values()], say("live.salt.save_my_soaks"), lambda: keep_soaks(own.typed_in(fields), choice, folder)
    )


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
                    f"[{name}] {key}",
                    say("live.salt.nothing"),
                    say("live.salt.needed"),
                    f"{key} = …",
                    f"{key} = {kind.example}",
                )
    return told


def _given(typed: dict[str, str]) -> dict:
    """What stands in the fields of the form; an empty one tells nothing."""
    given = {name: text.strip() or None for name, text in typed.items()}
    return given | {"changes": _count(given.get("changes"))}


def _count(text: str | None):
    if text is None:
        return None
    count = units.read_amount(text, "count", say("live.salt.how_many_waters"), low=1, high=20, example="2").value
    return int(count) if count == int(count) else count


def tell_own(batch: Batch, choice: Choice) -> str:
    """How salty the batch will be as laid on the trays, and the caution that goes with it."""
    cured = salted(batch, 100)
    mean, middle = band(cured.water_phase_salt), band(cured.water_phase_salt_centre)
    return say(
        "live.salt.as_laid", mean=choice.show_band(mean, "percent"), middle=choice.show_band(middle, "percent"),
        caution=words.caution_line(),
    )  # fmt: skip
