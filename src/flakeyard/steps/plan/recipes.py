"""Brines from recipes: in kitchen words, in cups and spoons beside a fish, and as official bodies have published them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from flakeyard import tables
from flakeyard.models import solutions
from flakeyard.models.salt_transport import equilibrium_ratio
from flakeyard.steps.chain.brining import Brine, mass_of, mix, per_cents
from flakeyard.steps.intent.batch_file import read_soak
from flakeyard.steps.intent.records import Ingredient, Portion, Soak
from flakeyard.steps.intent.spread import Band, Draws, band
from flakeyard.tables import Record, read_records
from flakeyard.units import CUP

ROOM = 20.0  # degC; brines are mixed, and volumes told, at room temperature
MEMBERS = 100  # cheap here: nothing is solved
ANY_TIME = "1 h"  # how strong a brine is does not depend on how long fish lies in it
RECIPE_SALT = "salt_pickling"  # what the cups of a recipe are taken to mean
MOST_SALT = 2.5 * CUP  # m3, of the amounts that are followed
AMOUNTS = np.linspace(0.0, MOST_SALT, 21)  # m3 of salt, as the recipe counts it
FLESH_WATER = 0.75  # judgement: kg of water per kg of raw fish, when no fish is told


# In kitchen words


def make_brine(ingredients: Mapping[str, str | dict], temperature: str = "20 °C") -> Brine:
    """A brine from what a recipe says, such as {"pickling salt": "1 cup", "water": "1 gallon"}.

    A syrup of unknown strength is told as {"syrup": {"amount": "1 cup", "one_cup_weighs": "312 g"}}.
    Raises: InputError for words, amounts or a brine that cannot be.
    """
    rows = [
        {"what": what} | (given if isinstance(given, dict) else {"amount": given})
        for what, given in ingredients.items()
    ]
    soak = {"method": "wet", "time": ANY_TIME, "temperature": temperature, "ingredient": rows}
    return mix(read_soak(soak), Draws())


@dataclass(frozen=True, kw_only=True)
class Published(Record):
    """A brine that an official body has published: its salt and water as printed, and what it is ``called`` there."""

    id: str
    body: str
    purpose: str
    salt: str
    water: str
    called: str
    note: str


@cache
def published_recipes() -> tuple[Published, ...]:
    """All published brines of the table."""
    return read_records("published/brines.csv", Published)


def recompute(recipe: Published, kind: str = "pickling salt") -> Brine:
    """A published brine made from a kind of salt."""
    return make_brine({kind: recipe.salt, "water": recipe.water})


# In cups and spoons, beside a fish


@dataclass(frozen=True)
class Mixed:
    """A brine of a ``kind`` of salt, as much as ``asked`` for [m3], in so much water ``poured`` [m3], and where it and so
    much fish [kg] would meet.

    ``per_cents`` are its strengths as in `brining.per_cents`, and ``course`` the same strengths, low, middle and high, of
    the ``AMOUNTS`` of salt in the same water; ``filled`` is the room its salt takes [m3], ``weighs`` what a scale
    says of it [kg]. ``shared`` is the salt per salt
    and water once it has evened out with the fish, ``shared_activity`` the water activity then.
    """

    brine: Brine
    kind: str
    asked: float
    fish: float
    poured: float
    filled: float
    weighs: Band
    weighed: bool
    per_cents: dict[str, Band]
    course: dict[str, np.ndarray]
    shared: np.ndarray
    shared_activity: np.ndarray

    @property
    def whole_salt(self) -> np.ndarray:
        """Salt, dissolved or not.

        Returns: (members,) [kg, 0 up]
        Source: steps.chain.brining.mix
        """
        return self.brine.salt + self.brine.undissolved

    @property
    def water_phase(self) -> np.ndarray:
        """Salt per salt and water of the brine.

        Returns: (members,) [kg/kg, 0–0.27]
        Source: steps.chain.brining.mix
        """
        return self.brine.salt / (self.brine.salt + self.brine.water)


def recipe_weight(salt: float) -> float:
    """What a volume of salt [m3] weighs, when a recipe that counts in cups means pickling salt.

    Returns: float [kg, 0 up]
    Source: tables.bulk_density
    """
    return salt * tables.bulk_density(RECIPE_SALT)


def mix_by_volume(
    kind: str, salt: float, water: float, sugar: float, fish: float, flesh_water=FLESH_WATER, weighed: bool = False
) -> Mixed:
    """The brine of so much salt of a kind, water and sugar [m3], and what it comes to with so much fish [kg] in it.

    ``flesh_water`` is the fish's own water, kg per kg; ``weighed`` – the salt is put on a scale, as much of it as the
    recipe's cups of pickling salt weigh, whatever room it takes.
    """
    ingredients = _filled(kind, salt, water, sugar, weighed)
    brine = mix(Soak(time=0.0, temperature=ROOM, ingredients=ingredients), Draws(MEMBERS))
    shared = shared_strength(brine, fish * flesh_water)
    everywhere = brine.water + fish * flesh_water
    activity = solutions.mixture_water_activity(everywhere, salt=shared * everywhere, sucrose=brine.sucrose)
    bands = {name: band(values) for name, values in per_cents(brine).items()}
    filled = recipe_weight(salt) / tables.bulk_density(kind) if weighed else salt
    weighs = band(mass_of(ingredients[0], Draws(MEMBERS)))
    course = _course(brine, AMOUNTS / salt)
    return Mixed(
        brine,
        kind,
        salt,
        fish,
        water,
        filled,
        weighs,
        weighed,
        bands,
        course,
        shared / (1 + shared),
        np.asarray(activity),
    )


def _filled(kind: str, salt: float, water: float, sugar: float, weighed: bool) -> tuple[Ingredient, ...]:
    amount = Portion(mass=recipe_weight(salt)) if weighed else Portion(volume=salt)
    asked = [("water", water), *([("sugar", sugar)] if sugar else [])]
    return (
        Ingredient(what=kind, amount=amount),
        *(Ingredient(what=what, amount=Portion(volume=volume)) for what, volume in asked),
    )


def _course(brine: Brine, times: np.ndarray) -> dict[str, np.ndarray]:
    """Strengths of a brine with so many times its salt in the same water, as far as it dissolves: (3, amounts) by name."""
    full = solutions.nacl_saturation(brine.temperature)
    whole = times[:, None] * (brine.salt + brine.undissolved)
    salt = np.minimum(whole, brine.water * full / (1 - full))
    found = per_cents(replace(brine, salt=salt, undissolved=whole - salt))
    return {name: np.quantile(values, [0.1, 0.5, 0.9], axis=1) for name, values in found.items()}


def shared_strength(brine: Brine, inside: float) -> np.ndarray:
    """Salt per water [kg/kg] once all salt of a brine has evened out with the water inside a fish [kg]; at most full.

    Returns: (members,) [kg/kg, 0–0.36]
    Source: models.salt_transport.equilibrium_ratio; models.solutions.nacl_saturation
    """
    full = solutions.nacl_saturation(ROOM)
    salt = (brine.salt + brine.undissolved) / brine.water
    return np.minimum(equilibrium_ratio(brine.water / inside, salt), full / (1 - full))
