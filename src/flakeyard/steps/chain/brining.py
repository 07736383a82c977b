"""Make a brine from kitchen measures: how strong it is, how much there is, and what did not dissolve."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flakeyard import tables
from flakeyard.messages import say
from flakeyard.models import solutions
from flakeyard.models.constants import SALOMETER_TEMPERATURE
from flakeyard.steps.intent.outside import Outside, beyond, joined
from flakeyard.steps.intent.records import Ingredient, Portion, Soak
from flakeyard.steps.intent.spread import Draws
from flakeyard.units import InputError, show

LIGHTEST_SYRUP = 950.0  # kg/m3 (judgement): a cup read a little short may hold water alone
SYRUP_READING_SD = 0.01  # judgement: sugar fraction from one weighed cup (cup filled to 2 %, kitchen scale)
PARTS = ("water", "salt", "sucrose", "hexose", "acid", "other")
PER_CENTS = ("of the brine's weight", "of the water's weight", "of the brine's volume", "of a full brine")


@dataclass(frozen=True)
class Brine:
    """A brine before the fish goes in; masses in kg, arrays (members,).

    ``salt`` is dissolved salt; ``undissolved`` lies on the bottom. ``notes`` are sentences for the learner.
    """

    water: np.ndarray
    salt: np.ndarray
    sucrose: np.ndarray
    hexose: np.ndarray
    acid: np.ndarray
    other: np.ndarray
    undissolved: np.ndarray
    temperature: float
    notes: tuple[str, ...] = ()
    outside: tuple[Outside, ...] = ()

    @property
    def sugar(self) -> np.ndarray:
        """All sugar of the brine.

        Returns: (members,) [kg, 0 up]
        Source: a balance of masses
        """
        return self.sucrose + self.hexose

    @property
    def mass(self) -> np.ndarray:
        """The whole brine, what cannot dissolve left out.

        Returns: (members,) [kg, above 0]
        Source: a balance of masses
        """
        return self.water + self.salt + self.sugar + self.acid + self.other

    @property
    def salt_fraction(self) -> np.ndarray:
        """Salt per brine.

        Returns: (members,) [kg/kg, 0–0.27]
        Source: a balance of masses
        """
        return self.salt / self.mass

    @property
    def sugar_fraction(self) -> np.ndarray:
        """Sugar per brine.

        Returns: (members,) [kg/kg, 0–1]
        Source: a balance of masses
        """
        return self.sugar / self.mass

    @property
    def salometer(self) -> np.ndarray:
        """Degrees from the salt alone: a hydrometer would read the sugar too.

        Returns: (members,) [degrees, 0–103]
        Source: models.solutions.salometer
        """
        return np.asarray(solutions.salometer(self.salt_fraction))

    @property
    def water_activity(self) -> np.ndarray:
        """Water activity of the brine at 25 °C.

        Returns: (members,) [water activity, 0–1]
        Source: models.solutions.mixture_water_activity
        """
        solutes = {"salt": self.salt, "sucrose": self.sucrose, "hexose": self.hexose, "acetic_acid": self.acid}
        return np.asarray(solutions.mixture_water_activity(self.water, **solutes))

    @property
    def volume(self) -> np.ndarray:
        """Volume at 20 °C.

        Returns: (members,) [L, above 0]
        Source: models.solutions.mixture_density
        """
        density = solutions.mixture_density(
            self.water,
            salt=self.salt,
            sucrose=self.sucrose,
            hexose=self.hexose,
            acetic_acid=self.acid,
            temperature=20.0,
        )
        return 1000 * (self.mass - self.other) / density

    @property
    def strength(self) -> np.ndarray:
        """Salt per water: what drives salt into the fish.

        Returns: (members,) [kg/kg, 0–0.37]
        Source: a balance of masses
        """
        return self.salt / self.water


def mix(soak: Soak, draws: Draws, where: str = "brine") -> Brine:
    """Brine (or dry cure) from the ingredients of a soak; weights are exact, volumes carry the spread of the filling."""
    totals = dict.fromkeys(PARTS, np.zeros(draws.members))
    notes: list[str] = []
    outside = joined(*(_syrup_outside(row) for row in soak.ingredients))
    for number, row in enumerate(soak.ingredients, 1):
        parts = _parts(row, draws, f"[{where}.ingredient {number}]")
        totals = {name: totals[name] + parts.get(name, 0.0) for name in PARTS}
        if row.record.kind == "acid":
            notes.append(say("brine.acid", ingredient=row.what))
    if soak.dry:
        return Brine(
            **totals,
            undissolved=np.zeros(draws.members),
            temperature=soak.temperature,
            notes=tuple(notes),
            outside=outside,
        )
    if np.any(totals["water"] <= 0):
        raise InputError(
            f"[[{where}.ingredient]]", ", ".join(row.what for row in soak.ingredients),
            say("brine.needs_water"),
            say("brine.brings_water"), 'what = "water"\namount = "2 L"',
        )  # fmt: skip
    saturated = solutions.nacl_saturation(max(soak.temperature, 0.2))
    most = totals["water"] * saturated / (1 - saturated)
    undissolved = np.maximum(totals["salt"] - most, 0.0)
    if np.median(undissolved) > 0:
        notes.append(
            say("brine.undissolved", salt=show(float(np.median(undissolved)), "mass", "both"), percent=100 * saturated)
        )
    totals["salt"] = totals["salt"] - undissolved
    brine = Brine(**totals, undissolved=undissolved, temperature=soak.temperature, notes=tuple(notes), outside=outside)
    return replace(brine, outside=joined(outside, _outside(brine)))


def _outside(brine: Brine) -> tuple[Outside, ...]:
    """What of a wet brine lies outside what its formulas were tested for: notes, since no verdict reads the brine."""
    warmth, salt, sugar = brine.temperature, brine.salt_fraction, brine.sugar_fraction
    found = [
        beyond(solutions.nacl_density_range, False, solute_fraction=salt, temperature=warmth),
        beyond(solutions.nacl_saturation_range, False, temperature=warmth),
        beyond(solutions.nacl_water_activity_range, False, solute_fraction=salt, temperature=warmth),
    ]
    if warmth < 0:
        found.append(beyond(solutions.freezing_point_range, False, solute_fraction=salt))
    if np.median(sugar) > 0:
        syrup = sugar / (sugar + brine.water / brine.mass)
        found += [
            beyond(solutions.sucrose_saturation_range, False, temperature=warmth),
            beyond(solutions.sucrose_water_activity_range, False, solute_fraction=syrup),
            beyond(solutions.mixture_water_activity_range, False, salt=salt, sucrose=sugar),
        ]
    return joined(*found)


def _syrup_outside(row: Ingredient) -> tuple[Outside, ...]:
    brix = row.brix
    return () if brix is None else beyond(solutions.sucrose_density_range, False, solute_fraction=brix / 100)


def per_cents(brine: Brine) -> dict[str, np.ndarray]:
    """The four meanings of "per cent salt" of one brine: three as fractions, the last in degrees salometer.

    Returns: by name, (members,) [kg/kg, 0–0.37], by volume [kg/L, 0–0.33], the last [degrees, 0–103]
    Source: the brine given; models.solutions.salometer
    """
    by_volume = brine.salt / brine.volume  # kg in a litre, which is a tenth of g in 100 mL
    meanings = (brine.salt_fraction, brine.strength, by_volume, brine.salometer)
    return dict(zip(PER_CENTS, meanings, strict=True))


def hydrometer_degrees(brine: Brine) -> np.ndarray:
    """What a salometer floating in the brine at 60 °F would show: it takes whatever makes the brine heavy for salt.

    Returns: (members,) [degrees, 0 up]
    Source: models.solutions.mixture_density; models.solutions.salometer
    """
    density = solutions.mixture_density(
        brine.water, brine.salt, brine.sucrose, brine.hexose, brine.acid, SALOMETER_TEMPERATURE
    )
    return np.asarray(solutions.salometer(solutions.nacl_fraction_for_density(density, SALOMETER_TEMPERATURE)))


def mass_of(row: Ingredient, draws: Draws) -> np.ndarray:
    """What one ingredient of a soak weighs: exact by weight, with the spread of its filling by volume.

    Returns: (members,) [kg, above 0]
    Source: as told; tables.Substance
    """
    return np.broadcast_to(sum(_parts(row, draws, "ingredient").values()), (draws.members,))


def _parts(row: Ingredient, draws: Draws, where: str) -> dict[str, np.ndarray]:
    """Masses of each part that one ingredient brings."""
    record = row.record
    mass = _mass(row.amount, record, draws)
    told = (row.one_cup_weighs, row.brix, row.recipe_sugar) != (None, None, None)
    if record.kind == "syrup" and told:
        sugar = _syrup_strength(row, draws, where)
        if row.amount.volume is not None:
            mass = np.asarray(row.amount.volume * solutions.sucrose_density(sugar, 20.0))
        return {"sucrose": mass * sugar, "water": mass * (1 - sugar)}
    known = {name: getattr(record, name) for name in ("water", "salt", "sucrose", "hexose", "acid")}
    parts = {name: mass * share for name, share in known.items() if share}
    parts["other"] = mass * max(0.0, 1 - sum(known.values()))
    if record.kind == "aromatics":  # fresh herbs to dry spice: counted as water, with a wide spread (judgement)
        share = draws.uniform(f"aromatics {row.what}", 0.1, 0.9)
        parts = {"water": mass * share, "other": mass * (1 - share)}
    return parts


def _mass(amount: Portion, record: tables.Substance, draws: Draws) -> np.ndarray:
    """Mass of an ingredient, kg. A volume of salt or sugar is only as sure as its filling."""
    if amount.mass is not None:
        return np.full(draws.members, amount.mass)
    density = draws.triangular(f"filling {record.id}", record.density_low, record.density_mid, record.density_high)
    return amount.volume * density


def _syrup_strength(row: Ingredient, draws: Draws, where: str) -> np.ndarray:
    """Sugar fraction of a syrup: from the weight of one US cup of it, from degrees Brix, or from its recipe."""
    if row.brix is not None:
        sugar = np.full(draws.members, row.brix / 100)
    elif row.one_cup_weighs is not None:
        density = row.one_cup_weighs / tables.kitchen("cup")
        heaviest = float(solutions.sucrose_density(1.0, 20.0))
        if not LIGHTEST_SYRUP <= density <= heaviest:
            why = say("brine.cup_not_full") if density < heaviest else say("brine.cup_weighed")
            raise InputError(
                f"{where} one_cup_weighs", say("brine.cup_weighs", grams=1000 * row.one_cup_weighs), why,
                say("brine.cup_allowed"), 'one_cup_weighs = "312 g"',
            )  # fmt: skip
        sugar = draws.normal(
            "syrup reading",
            float(solutions.syrup_fraction_for_density(max(density, float(solutions.water_density(20.0))), 20.0)),
            SYRUP_READING_SD,
        )
    else:
        if row.recipe_liquid is None or row.recipe_sugar is None:
            raise InputError(
                f"{where} recipe_liquid", say("error.nothing"), say("brine.recipe_needs"),
                say("brine.recipe_allowed"), 'recipe_sugar = "2 cup"\nrecipe_liquid = "1 cup"',
            )  # fmt: skip
        sugar_mass = _mass(row.recipe_sugar, tables.ingredient("sugar"), draws)
        water_mass = _mass(row.recipe_liquid, tables.ingredient("water"), draws)
        sugar = sugar_mass / (sugar_mass + water_mass)
    return np.clip(sugar, 0.0, 0.85)
