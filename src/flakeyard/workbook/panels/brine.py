"""How strong a brine from cups and spoons is: the panel of workbook 02, its tables, and the form for one's own brine."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import ipywidgets as widgets
import numpy as np

from flakeyard import tables
from flakeyard.models import solutions
from flakeyard.steps.chain import brining
from flakeyard.steps.chain.brining import Brine, per_cents
from flakeyard.steps.chain.fish import prepare_fish
from flakeyard.steps.intent.batch_file import read_soak, written
from flakeyard.steps.intent.partial import retold
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Draws, band
from flakeyard.steps.judge.facts import rule_texts
from flakeyard.steps.plan.recipes import MEMBERS, ROOM, Mixed, Published, mix_by_volume, published_recipes, recompute
from flakeyard.units import CUP
from flakeyard.workbook import own, words
from flakeyard.workbook.form import form
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import figures
from flakeyard.workbook.panels.figures import Picture
from flakeyard.workbook.panels.panel import Choice, Control, Panel, Said
from flakeyard.workbook.table import Table

KINDS = (  # id in the table of salts, short name; from the lightest cup to the heaviest
    ("salt_unknown", "kind not known"),
    ("salt_pyramid", "pyramid flakes"),
    ("salt_kosher_flake", "hollow flakes"),
    ("salt_kosher_rolled", "rolled grains"),
    ("salt_sea_fine", "fine sea salt"),
    ("salt_sea_coarse", "coarse sea salt"),
    ("salt_table", "table salt"),
    ("salt_pickling", "pickling salt"),
)
PER_CENTS = tuple(  # how a "per cent" of salt may be meant, and the kind of unit that shows it
    zip(brining.PER_CENTS, ("percent", "percent", "percent", "salometer"), strict=True)
)


# Tables for the page


def four_ways(brine: Brine, choice: Choice) -> Table:
    """One brine and the four numbers that a recipe may call its "per cent"."""
    return Table(("per cent salt", "this brine"), tuple(zip(brining.PER_CENTS, _four(brine, choice), strict=True)))


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
    return Table(("kind of salt", f"1 {measure}, usual", "lightest filling", "heaviest filling"), tuple(rows))


def published_table(choice: Choice) -> Table:
    """Published brines side by side: what each is called, and what it is with a heavy and with a light salt."""
    head = ("published by", "for", "salt in water", "called", "with pickling salt", "with hollow flakes")
    return Table(head, tuple(_published(recipe, choice) for recipe in published_recipes()))


def _published(recipe: Published, choice: Choice) -> tuple[str, ...]:
    heavy, light = recompute(recipe), recompute(recipe, "hollow-flake kosher salt")
    dense, loose = (choice.show(np.median(brine.salt_fraction), "percent") for brine in (heavy, light))
    degrees = choice.show(np.median(heavy.salometer), "salometer")
    asked = f"{recipe.salt} in {recipe.water}"
    return recipe.body, recipe.purpose, asked, recipe.called or "–", f"{dense} ({degrees})", loose


# The panel


@dataclass(frozen=True)
class KindOfSalt(Control):
    """A slider that runs through the kinds of salt and shows their names."""

    def reading(self, value: float, choice: Choice) -> str:
        return KINDS[round(value)][1]


LOOK_FOR = (
    "Same cup, lighter salt: move the kind of salt from pickling salt to pyramid flakes. What is left of the strength?",
    "Sugar in: does the salt by weight rise, fall or stay? And the water activity?",
    "How much salt until some stays on the bottom? Which numbers stop there?",
)
SURE = (
    "8 of 10 fillings of the cup lie in the likely range. Weigh the salt and that range is gone; what is left, purity and "
    "formulas, is at most 3 % of the strength (8 % may be 7.8 to 8.2 %)."
)


def controls(batch: Batch) -> tuple[Control, ...]:
    """The sliders, starting near the brine of the batch in whole quarter cups."""
    start = starting_values(batch)
    quarter = CUP / 4
    return (
        Control("fish", "Fish that goes in", "fish", "mass", 0.25, 5.0, 0.25, start["fish"], digits=3),
        KindOfSalt("kind", "Kind of salt", "salt", "count", 0, len(KINDS) - 1, 1, start["kind"]),
        Control("salt", "Salt", "salt", "volume", quarter, 15 * quarter, quarter, start["salt"], digits=3),
        Control("water", "Water", "salt", "volume", 0.0005, 0.004, 0.00025, start["water"], digits=3),
        Control("sugar", "Sugar", "salt", "volume", 0.0, 4 * quarter, quarter / 2, start["sugar"], digits=3),
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
        "salt": float(np.clip(salt, CUP / 4, 3.75 * CUP)),
        "water": float(np.clip(water, 0.0005, 0.004)),
        "sugar": float(np.clip(sugar, 0.0, CUP)),
    }


def brine_picture(_choice: Choice) -> Picture:
    """Left: one brine under its four names. Right: where it stands on the curve of water activity."""
    picture = Picture(size=(7.4, 3.3))
    left = figures.axes(
        picture, "what each counting calls “per cent”", "", (0, 142), (-0.6, 3.6), (0.215, 0.15, 0.4, 0.72)
    )
    left.set_yticks(range(4), [name for name, _ in reversed(PER_CENTS)])
    left.set_xticks(range(0, 101, 20))
    left.grid(visible=False, axis="y")
    left.tick_params(axis="y", length=0)
    full = solutions.nacl_saturation(ROOM)
    ends = (full, full / (1 - full), full * solutions.nacl_density(full, ROOM) / 1000, solutions.salometer(full) / 100)
    rows = [3 - place for place in range(4)]
    left.barh(
        rows,
        [100 * end for end in ends],
        0.62,
        facecolor="none",
        edgecolor="#666666",
        linestyle="--",
        label="a full brine",
    )
    for place, row in enumerate(rows):
        figures.add_band(picture, f"bar{place}", left, place, "")
        (reach,) = left.plot(
            [], [], color=figures.BLACK, marker="|", markersize=11, markeredgewidth=1.8, linewidth=1.8, zorder=4
        )
        picture.add(f"reach{place}", reach).set_label("likely range" if place == 0 else "")
        number = left.text(141, row, "", ha="right", va="center", fontsize=figures.FONT_SIZE, fontweight="bold")
        picture.add(f"number{place}", number)
    figures.legend(left, 2)
    _activity_side(picture, full)
    return picture


def _activity_side(picture: Picture, full: float) -> None:
    right = figures.axes(
        picture, "salt in salt + water, %", "water activity", (0, 28), (0.70, 1.01), (0.715, 0.15, 0.27, 0.60)
    )
    salt = np.linspace(0.0, full, 80)
    right.plot(
        100 * salt, solutions.nacl_water_activity(salt), color="#666666", linewidth=1.8, label="salt alone", zorder=2
    )
    figures.add_band(picture, "spread", right, 1, "")
    figures.add_point(picture, "now", right, 0, "this brine")
    (square,) = right.plot(
        [], [], linestyle="", marker="s", markersize=9, color=figures.BLACK, label="evened out with fish"
    )
    square.set(markerfacecolor="white", zorder=4)
    picture.add("later", square)
    figures.legend(right, 1)


def draw_brine(picture: Picture, mixed: Mixed, choice: Choice) -> None:
    """Set bars, likely ranges, numbers and points."""
    for place, ((name, kind), row) in enumerate(zip(PER_CENTS, (3, 2, 1, 0), strict=True)):
        reach, scale = mixed.per_cents[name], 1.0 if kind == "salometer" else 100.0
        figures.set_band(picture[f"bar{place}"], [0, scale * reach.mid], [row - 0.31] * 2, [row + 0.31] * 2)
        picture[f"reach{place}"].set_data([scale * reach.low, scale * reach.high], [row, row])
        picture[f"number{place}"].set_text(choice.show(reach.mid, kind))
    salt = band(100 * mixed.water_phase)
    figures.set_band(picture["spread"], [salt.low, salt.high], [0.70] * 2, [1.01] * 2)
    activity = np.median(mixed.brine.water_activity)
    figures.set_point(picture, "now", salt.mid, activity, f"{activity:.2f}")
    picture["later"].set_data([100 * np.median(mixed.shared)], [np.median(mixed.shared_activity)])


def tell_brine(mixed: Mixed, choice: Choice) -> Said:
    """What the cups come to, in the sentence; that no brine makes fish keep, in the caution."""
    brine = mixed.brine
    short = dict(KINDS)[mixed.kind]
    kind = short if "salt" in short else f"salt ({short})"
    scooped, made = (
        choice.show(mixed.spooned, "volume", digits=3),
        choice.show(np.median(brine.volume) / 1000, "volume"),
    )
    activity = f"{np.median(brine.water_activity):.2f}"
    parts = [f"{scooped} of {kind} weighs {choice.show_band(band(mixed.whole_salt), 'mass')}."]
    strength = choice.show_band(mixed.per_cents["of the brine's weight"], "percent")
    parts.append(f"It makes {made} of brine. Salt by weight: {strength}; water activity {activity}.")
    if np.median(brine.undissolved) > 0:
        rest = choice.show(np.median(brine.undissolved), "mass")
        parts.append(f"The water is full: about {rest} of the salt stays on the bottom.")
    later = choice.show(np.median(mixed.shared), "percent")
    fish = choice.show(mixed.fish, "mass", digits=3)
    parts.append(f"With {fish} of fish in it for days, the water of both comes to {later} salt.")
    alt = (
        f"Four bars and a curve. The same brine is called {_called(mixed, choice)}. On the falling curve of water activity "
        f"it stands at {activity}; evened out with the fish, at {np.median(mixed.shared_activity):.2f}. {' '.join(parts)}"
    )
    caution = f"{rule_texts()['B4', ''].text} Brine in the refrigerator, and use a brine once. {words.caution_line()}"
    return Said(" ".join(parts), SURE, caution, alt)


def _called(mixed: Mixed, choice: Choice) -> str:
    return ", ".join(f"{choice.show(mixed.per_cents[name].mid, kind)} {name}" for name, kind in PER_CENTS)


def brine_panel(batch: Batch | None = None, choice: Choice | None = None) -> Panel:
    """Cups of salt, sugar and water, and how strong the brine is that they make."""
    batch = batch or demo_batch("heron")
    flesh_water = float(np.mean(prepare_fish(batch, Draws(MEMBERS)).flesh.water))

    def compute(kind: float, **values: float) -> Mixed:
        return mix_by_volume(KINDS[round(kind)][0], **values, flesh_water=flesh_water)

    return Panel(
        "Cups, spoons and the strength of a brine", controls(batch), compute, brine_picture, draw_brine, tell_brine,
        choice=choice, look_for=LOOK_FOR,
    )  # fmt: skip


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
    return form(lines, "Save my brine", keep)


ROW_LABELS = ("Ingredient", "Amount", "One cup weighs")
SOAK_LABELS = {"time": "Time in it", "temperature": "Kept at"}


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
        return "It is a dry cure: its strength is not that of a brine, workbook 03 works it out."
    brine, choice = brining.mix(batch.brine, Draws()), Choice("metric")
    shown = (f"{told} {name}" for told, (name, _) in zip(_four(brine, choice), PER_CENTS, strict=True))
    return " ".join([f"Your salt: {'; '.join(shown)}.", *brine.notes])
