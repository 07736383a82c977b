"""How strong a brine from cups and spoons is: the panel of workbook 02, its tables, and the form for one's own brine."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import ipywidgets as widgets
import numpy as np

from flakeyard import tables
from flakeyard.messages import number, say, translated
from flakeyard.models import solutions
from flakeyard.steps.chain import brining
from flakeyard.steps.chain.brining import Brine, per_cents
from flakeyard.steps.chain.fish import prepare_fish
from flakeyard.steps.intent.batch_file import read_soak, written
from flakeyard.steps.intent.partial import retold
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Band, Draws, band
from flakeyard.steps.judge.facts import rule_texts
from flakeyard.steps.plan.recipes import (
    AMOUNTS,
    MEMBERS,
    MOST_SALT,
    ROOM,
    Mixed,
    Published,
    mix_by_volume,
    published_recipes,
    recipe_weight,
    recompute,
)  # fmt: skip
from flakeyard.units import CUP
from flakeyard.workbook import own, words
from flakeyard.workbook.form import form
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import drawing
from flakeyard.workbook.panels.live import Lesson, Live, Told
from flakeyard.workbook.panels.panel import Choice, Control, NamedControl
from flakeyard.workbook.table import Table, heads

KINDS = tuple(  # id in the table of salts, short name; from the lightest cup to the heaviest
    (salt, say(f"live.brine.{salt}"))
    for salt in (
        "salt_unknown",
        "salt_pyramid",
        "salt_kosher_flake",
        "salt_kosher_rolled",
        "salt_sea_fine",
        "salt_sea_coarse",
        "salt_table",
        "salt_pickling",
    )
)
PER_CENTS = tuple(  # how a "per cent" of salt may be meant, and the kind of unit that shows it
    zip(brining.PER_CENTS, ("percent", "percent", "percent", "salometer"), strict=True)
)


# Tables for the page


def four_ways(brine: Brine, choice: Choice) -> Table:
    """One brine and the four numbers that a recipe may call its "per cent"."""
    return Table(
        heads("live.brine.four"), tuple(zip(map(translated, brining.PER_CENTS), _four(brine, choice), strict=True))
    )


def _four(brine: Brine, choice: Choice) -> list[str]:
    return [
        _shown(values, kind, choice) for values, (_, kind) in zip(per_cents(brine).values(), PER_CENTS, strict=True)
    ]


def _shown(values, kind: str, choice: Choice) -> str:
    """A strength with its likely range; a weighed one, known to 1 in 100, as one number with a digit more."""
    reach = band(values)
    if reach.high - reach.low <= 0.01 * reach.mid:
        return choice.show(reach.mid, kind, digits=3)
    return choice.show_band(reach, kind)


def cup_table(choice: Choice, measure: str = "cup") -> Table:
    """What one cup (or spoon) of each salt weighs, and how wide that is."""
    volume, rows = tables.kitchen(measure), []
    for name, short in reversed(KINDS):
        low, mid, high = tables.ingredient(name).mass_of(volume)
        rows.append((short, *(choice.show(mass, "mass") for mass in (mid, low, high))))
    return Table(tuple(say("live.brine.cup_heads", measure=translated(measure)).split("|")), tuple(rows))


def published_table(choice: Choice) -> Table:
    """Published brines side by side: what each is called, and what it is with a heavy and with a light salt."""
    head = heads("live.brine.published_heads")
    return Table(head, tuple(_published(recipe, choice) for recipe in published_recipes()))


def _published(recipe: Published, choice: Choice) -> tuple[str, ...]:
    heavy, light = recompute(recipe), recompute(recipe, "hollow-flake kosher salt")
    dense, loose = (choice.show(np.median(brine.salt_fraction), "percent") for brine in (heavy, light))
    degrees = choice.show(np.median(heavy.salometer), "salometer")
    asked = say("live.brine.salt_in_water", salt=recipe.salt, water=recipe.water)
    return recipe.body, translated(recipe.purpose), asked, recipe.called or "–", f"{dense} ({degrees})", loose


# The panel


@dataclass(frozen=True)
class RecipeSalt(Control):
    """How much salt a recipe asks for: cups, and what these weigh of pickling salt."""

    def reading(self, value: float, choice: Choice) -> str:
        volume, mass = choice.show(value, self.kind, digits=3), choice.show(recipe_weight(value), "mass")
        return f"{volume.partition(' (')[2].rstrip(')') or volume}, {mass.partition(' (')[0]}"


WAYS = (say("live.brine.way_cup"), say("live.brine.way_scale"))
JUG, JAR = (36.0, 128.0), (282.0, 432.0)  # mm; both are round, and this is how wide they are
JUG_FOOT, TABLE = 236.0, 270.0  # mm under the upper edge: the jug stands on a scale
RIMS = (34.0, 20.0)  # mm under the upper edge
PLAIN = 1e9 / (np.pi / 4) / (JUG[1] - JUG[0]) ** 2, 1e9 / (np.pi / 4) / (JAR[1] - JAR[0]) ** 2  # mm of level for a m3
HIGHEST = 40.0  # %, where the axis ends
FLAKES = 1  # of KINDS: those the guess is about
BY_WEIGHT = brining.PER_CENTS[0]
SALT_MARKS = tuple(CUP / 4 * number for number in range(1, 11))  # m3 of salt in a recipe
STYLES = dict(zip(brining.PER_CENTS, ("now", "second", "later"), strict=False))
SURE = say("live.brine.8_10_fillings")


def controls(batch: Batch) -> tuple[Control, ...]:
    """The sliders, starting near the brine of the batch in whole quarter cups."""
    start = starting_values(batch)
    quarter = CUP / 4
    names = tuple(name for _, name in KINDS)
    return (
        Control("fish", say("live.brine.fish_goes"), "fish", "mass", 0.25, 5.0, 0.25, start["fish"], digits=3),
        NamedControl(
            "kind", say("live.brine.kind_salt"), "salt", "name", 0, len(KINDS) - 1, 1, start["kind"], names=names
        ),
        RecipeSalt("salt", say("live.brine.salt_recipe"), "salt", "volume", quarter, MOST_SALT, quarter, start["salt"]),
        Control("water", say("live.brine.water"), "salt", "volume", 0.0005, 0.004, 0.00025, start["water"], digits=3),
        Control(
            "sugar", say("live.brine.sugar"), "salt", "volume", 0.0, 4 * quarter, quarter / 2, start["sugar"], digits=3
        ),
        NamedControl("weighed", say("live.brine.salt_measured"), "salt", "name", 0, 1, 1, 0, names=WAYS),
    )


def starting_values(batch: Batch) -> dict[str, float]:
    """Where the sliders start: at the batch's own brine if it has a wet one, else at half a cup in 1.75 litres."""
    start = {"fish": min(max(batch.fish.raw_weight, 0.25), 5.0), "kind": len(KINDS) - 1}
    if not batch.wet_brine:
        return start | {"salt": CUP / 2, "water": 0.00175, "sugar": 0.0}
    brine, names = brining.mix(batch.brine, Draws(MEMBERS)), [name for name, _ in KINDS]
    salts = [row.record.id for row in batch.brine.ingredients]
    start["kind"] = next((names.index(name) for name in salts if name in names), 0)
    salt = np.median(brine.salt + brine.undissolved) / tables.bulk_density(names[start["kind"]])
    sugar = np.median(brine.sugar) / tables.bulk_density("sugar")
    water = np.median(brine.water) / tables.bulk_density("water")
    return start | {
        "salt": float(np.clip(salt, CUP / 4, MOST_SALT)),
        "water": float(np.clip(water, 0.0005, 0.004)),
        "sugar": float(np.clip(sugar, 0.0, CUP)),
    }


# The picture


def draw_brine(mixed: Mixed, choice: Choice) -> dict:
    """A jug of salt on a scale and a jar of brine, to scale; beside them how strong it gets with more and more salt."""
    plot = _strength_field(mixed, choice)
    levels = JUG_FOOT - PLAIN[0] * mixed.filled, TABLE - PLAIN[1] * _litres(mixed) / 1000
    salt = {"offset": JUG_FOOT, "scale": -PLAIN[0] * mixed.filled / mixed.asked, "right": JUG[1]}
    water = {"offset": levels[1] + PLAIN[1] * mixed.poured, "scale": -PLAIN[1], "right": JAR[1]}
    if mixed.weighed:
        salt["readings"] = [choice.show(recipe_weight(value), "mass") for value in SALT_MARKS]
    else:
        salt["readings"] = [choice.show(value, "volume", digits=2 if value < 1e-4 else 3) for value in SALT_MARKS]
    now = next(mark for mark in plot["marks"] if mark.get("style") == "now" and mark["kind"] == "curve")
    strokes = [[JUG[0] - 4, levels[0], JUG[1] + 4, levels[0]], [JAR[0] - 4, levels[1], JAR[1] + 4, levels[1]]]
    return {
        "fields": [_kitchen_field(mixed, levels, salt["readings"], choice), plot],
        "handles": [
            drawing.handle("salt", 0, sum(JUG) / 2, **salt), drawing.handle("water", 0, sum(JAR) / 2, **water),
        ],
        "buttons": [_way_button(mixed.weighed)],
        "trace": {"0": {"strokes": strokes}, "1": {"x": now["x"], "y": now["y"]}},
        "guessed": {
            "field": 1, "axis": "across", "at": [100 * mixed.per_cents[BY_WEIGHT].mid], "names": [say("live.brine.guess")],
            "start": 0.5 * mixed.asked / CUP, "step": 0.125, "unit": say("live.brine.cups"), "ends": [0.0, HIGHEST],
            "then": {"kind": float(FLAKES), "weighed": 0.0},
        },
    }  # fmt: skip


def _litres(mixed: Mixed) -> float:
    return float(np.median(mixed.brine.volume))


def _way_button(weighed: bool) -> dict:
    """A click on it goes from the cup to the scale, or back."""
    word, value = ("live.brine.by_cup", 0.0) if weighed else ("live.brine.by_scale", 1.0)
    return {
        "control": "weighed", "field": 0, "left": JAR[0] - 12, "top": -38.0, "words": say(word), "value": value, "pressed": weighed,
    }  # fmt: skip


def _kitchen_field(mixed: Mixed, levels: tuple[float, float], readings: list[str], choice: Choice) -> dict:
    """The jug on its scale and the jar, as full as they are; the darker the saltier."""
    strength, left = mixed.per_cents[BY_WEIGHT].mid, float(np.median(mixed.brine.undissolved))
    shade, bottom = (
        strength / solutions.nacl_saturation(ROOM),
        TABLE - PLAIN[1] * left / tables.bulk_density(mixed.kind),
    )
    weighs = choice.show(mixed.weighs.mid, "mass").partition(" (")[0]
    marks = [
        {"kind": "area", "style": "air", "words": _short(mixed)},
        drawing.box(JUG, (levels[0], JUG_FOOT), tint="water", shade=1.0, edge="line", held="salt", given=True,
                    reading=readings[int(np.argmin(np.abs(np.array(SALT_MARKS) - mixed.asked)))]),
        drawing.box((JUG[0] - 8, JUG[1] + 8), (JUG_FOOT + 1, TABLE), edge="line", given=True),
        drawing.label(sum(JUG) / 2, (JUG_FOOT + TABLE + 8) / 2, weighs, anchor="middle", strong=True, given=True),
        drawing.box(JAR, (levels[1], TABLE), say("live.brine.in_jar", strength=choice.show(strength, "percent")),
                    tint="salt", shade=round(float(shade), 3), held="water", given=True,
                    ink="#ffffff" if shade > 0.6 else "#1b1b1b", reading=choice.show(mixed.poured, "volume", digits=3)),
        drawing.box(JAR, (bottom, TABLE), tint="water", shade=1.0, edge="line", given=True),
    ]  # fmt: skip
    for (at, end), rim, foot in ((JUG, RIMS[0], JUG_FOOT), (JAR, RIMS[1], TABLE)):
        marks.append(drawing.outline([at, at, end, end], [rim, foot, foot, rim]))
    for cups in range(1, 6):
        level = JUG_FOOT - PLAIN[0] * cups * CUP
        marks.append(drawing.outline([JUG[0], JUG[0] + 7], [level] * 2))
        marks.append(drawing.label(JUG[0] - 4, level, f"{cups}", anchor="end", given=True))
    marks.append(drawing.label(JUG[0] - 4, RIMS[0] - 8, say("live.brine.cups"), anchor="end", given=True))
    return drawing.cuts_field(JAR[1], TABLE + 2, marks, share=0.5, margin=78, slender=250, head=40.0)


def _short(mixed: Mixed) -> str:
    return say(f"live.brine.{mixed.kind}_in_jug")


def _strength_field(mixed: Mixed, choice: Choice) -> dict:
    """Three of the per cents against the salt of the recipe; where this brine stands, and where it meets the fish."""
    across, here = AMOUNTS / CUP, mixed.asked / CUP
    low, _, high = 100 * mixed.course[BY_WEIGHT]
    marks = [drawing.band("now", across, low, high) | {"given": True}]
    for name, style in STYLES.items():
        end = say(f"live.brine.{style}")
        marks.append(drawing.curve(style, across, 100 * mixed.course[name][1], end, given=style == "now"))
    strength, shared = mixed.per_cents[BY_WEIGHT].mid, float(np.median(mixed.shared))
    words = choice.show(strength, "percent"), say("live.brine.with_fish", salt=choice.show(shared, "percent"))
    marks.append(drawing.point(here, 100 * strength, words[0], given=True, under=1))
    marks.append(drawing.point(here, 100 * shared, words[1], shape="s", level=True, under=0))
    marks.append({"kind": "note", "style": "now", "words": say("live.brine.band"), "given": True})
    up = drawing.axis(say("live.brine.up"), 0.0, HIGHEST, range(0, 41, 10))
    return {"across": _amount_axis(choice), "up": up, "marks": marks}


def _amount_axis(choice: Choice) -> dict:
    """Millilitres of salt, or cups: the places stay cups."""
    end = MOST_SALT / CUP
    if choice.system == "metric":
        parts = range(0, 501, 100)
        return drawing.axis(
            say("live.brine.across", unit="mL"),
            0.0,
            end,
            [1e-6 * part / CUP for part in parts],
            [f"{part}" for part in parts],
        )
    ticks = np.arange(0.0, 2.6, 0.5)
    return drawing.axis(
        say("live.brine.across", unit=say("live.brine.cups")), 0.0, end, ticks, ("0", "½", "1", "1½", "2", "2½")
    )


def reply_brine(mixed: Mixed, guess: dict, choice: Choice) -> str:
    """What is said to a guess of the cups of flakes that weigh as much as the salt at hand."""
    weight, flakes = mixed.weighs.mid, tables.ingredient(KINDS[FLAKES][0])
    low, mid, high = (weight / density for density in (flakes.density_high, flakes.density_mid, flakes.density_low))
    guessed = guess["knots"][0] * CUP
    where = "below" if guessed < low else "above" if guessed > high else "inside"
    told = choice.show(guessed, "volume"), choice.show_band(Band(low, mid, high), "volume")
    return say("live.brine.reply", guess=told[0], told=told[1]) + " " + say(f"live.guess.{where}")


# The words


def tell_brine(mixed: Mixed, choice: Choice) -> Told:
    """What the cups come to, in the sentence; that no brine makes fish keep, in the caution."""
    brine, left = mixed.brine, float(np.median(mixed.brine.undissolved))
    filled, made = choice.show(mixed.filled, "volume", digits=3), choice.show(_litres(mixed) / 1000, "volume")
    activity = number(np.median(brine.water_activity), ".2f")
    kind = say(f"live.brine.{mixed.kind}_weighs")
    parts = [say("live.brine.weighs", filled=filled, kind=kind, weighs=choice.show_band(mixed.weighs, "mass"))]
    strength = choice.show_band(mixed.per_cents[BY_WEIGHT], "percent")
    parts.append(say("live.brine.makes_brine_salt", made=made, strength=strength, activity=activity))
    if left > 0:
        parts.append(say("live.brine.water_full_about", left=choice.show(left, "mass")))
    later, fish = choice.show(np.median(mixed.shared), "percent"), choice.show(mixed.fish, "mass", digits=3)
    parts.append(say("live.brine.fish_days_water", fish=fish, later=later))
    alt = say("live.brine.alt", called=_called(mixed, choice), sentence=" ".join(parts))
    caution = " ".join([rule_texts()["B4", ""].text, say("live.brine.once"), words.caution_line()])
    numbers = tuple((translated(name), choice.show(mixed.per_cents[name].mid, kind)) for name, kind in PER_CENTS)
    likely = choice.likely(mixed.per_cents[BY_WEIGHT], "percent")
    chips = [
        (say("live.likely"), likely or say("live.brine.known")),
        (say("live.brine.activity"), activity),
        (say("live.brine.fish", fish=fish), say("live.brine.both", salt=later)),
    ]
    chips += [(say("live.brine.bottom"), choice.show(left, "mass"))] if left > 0 else []
    return Told(" ".join(parts), SURE, caution, alt, numbers, tuple(chips))


def _called(mixed: Mixed, choice: Choice) -> str:
    return ", ".join(f"{choice.show(mixed.per_cents[name].mid, kind)} {translated(name)}" for name, kind in PER_CENTS)


def brine_panel(batch: Batch | None = None, choice: Choice | None = None, **start: float) -> Live:
    """Salt by the cup or on the scale, water, sugar, and how strong the brine is that they make; `start` are controls that
    begin elsewhere than the batch does."""
    batch = batch or demo_batch("heron")
    flesh_water = float(np.mean(prepare_fish(batch, Draws(MEMBERS)).flesh.water))

    def compute(kind: float, weighed: float, **values: float) -> Mixed:
        return mix_by_volume(KINDS[round(kind)][0], **values, flesh_water=flesh_water, weighed=bool(weighed))

    lesson = Lesson(
        say("live.brine.title"), say("live.brine.prompt"), controls(batch), compute, draw_brine, tell_brine, reply_brine,
        say("live.brine.guess_prompt"), ("kind", "salt", "water"),
        look_for=tuple((say(f"live.brine.look_{n}"), say(f"live.brine.saw_{n}")) for n in (1, 2, 3)), start=start,
    )  # fmt: skip
    return Live(lesson, choice)


# One's own brine


NO_ROW = ("", "", "")
SPARE_ROWS = 2


def own_brine_form(folder: str | Path = ".") -> widgets.VBox:
    """A form for the brine of one's own batch; on Save it is checked, kept in ``my-batch.toml`` and told as four numbers.

    An existing file stays as a numbered copy. A mistake is said under the form, and nothing typed is lost. Beside the
    empty fields of a first brine stand the words of the demonstration.
    """
    brine, shown = own.own_told(folder).get("brine", {}), written(demo_batch("heron"))["brine"]
    wide = widgets.Layout(width="19em")
    rows = [*(_typed_row(row) for row in brine.get("ingredient", ())), *[NO_ROW] * SPARE_ROWS]
    rows += [NO_ROW] * (len(shown["ingredient"]) - len(rows))
    examples = [*map(_typed_row, shown["ingredient"]), *[NO_ROW] * len(rows)] if not brine else [NO_ROW] * len(rows)
    fields = [
        tuple(_field(*words, wide) for words in zip(ROW_LABELS, row, example, strict=True))
        for row, example in zip(rows, examples, strict=False)
    ]
    soak = {name: _field(label, brine.get(name, ""), shown[name], wide) for name, label in SOAK_LABELS.items()}

    def keep() -> str:
        typed = [tuple(field.value.strip() for field in row) for row in fields]
        return keep_brine(typed, {name: field.value.strip() for name, field in soak.items()}, folder)

    wrapped = widgets.Layout(flex_flow="row wrap")
    lines = [widgets.HBox(row, layout=wrapped) for row in (*fields, tuple(soak.values()))]
    return form(lines, say("live.brine.save_my_brine"), keep)


ROW_LABELS = (say("live.brine.ingredient"), say("live.brine.amount"), say("live.brine.one_cup_weighs"))
SOAK_LABELS = {"time": say("live.brine.time"), "temperature": say("live.brine.kept")}


def _typed_row(row: dict) -> tuple[str, str, str]:
    return row.get("what", ""), row.get("amount", ""), row.get("one_cup_weighs", "")


def _field(label: str, text: str, example: str, layout: widgets.Layout) -> widgets.Text:
    return widgets.Text(
        value=str(text), placeholder=str(example), description=label, continuous_update=False,
        style={"description_width": "8em"}, layout=layout,
    )  # fmt: skip


def keep_brine(rows: list[tuple[str, str, str]], soak: dict[str, str], folder: str | Path = ".") -> str:
    """Check a brine as typed and write it into the batch file as it is now; returns what to tell the learner.

    Everything else in the file, and every detail of an ingredient that the form does not show, stays as it was.
    """

    def change(told: dict) -> dict:
        before = [*told.get("brine", {}).get("ingredient", ()), *[{}] * len(rows)]
        kept = [_whole_row(row, old) for row, old in zip(rows, before, strict=False) if any(row)]
        anew = retold(told, "brine", **{name: text or None for name, text in soak.items()}, ingredient=kept)
        read_soak(anew.get("brine", {}))  # a recipe that is told by halves is no recipe
        return anew

    return own.save(change, folder, _strength)


def _whole_row(row: tuple[str, str, str], old: dict) -> dict:
    shown = dict(zip(("what", "amount", "one_cup_weighs"), row, strict=True))
    hidden = {key: value for key, value in old.items() if key not in shown and old.get("what") == shown["what"]}
    return {key: value for key, value in shown.items() if value} | hidden


def _strength(batch: Batch) -> str:
    if batch.brine.dry:
        return say("live.brine.dry_cure_strength")
    brine, choice = brining.mix(batch.brine, Draws()), Choice("metric")
    shown = (f"{told} {translated(name)}" for told, (name, _) in zip(_four(brine, choice), PER_CENTS, strict=True))
    return " ".join([say("live.brine.your_salt", salt="; ".join(shown)), *brine.notes])
