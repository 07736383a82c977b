"""Kinds of batches: what a learner meant to do and typed. All ranges are invented for the tests.

Make-up of raw fish per 100 g: USDA food composition tables (release 28), rounded.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from zlib import crc32

import numpy as np

from .flesh import Cure, MakeUp

RAW = {  # water, protein and ash, fat: g per 100 g
    "rainbow trout, farmed": (73.8, 21.2, 6.2),
    "Atlantic mackerel": (63.6, 20.0, 13.9),
    "tilapia": (78.1, 21.0, 1.7),
    "Atlantic cod": (81.2, 19.0, 0.7),
}
HONEY_SUGAR = 0.017  # kg of sugars in a tablespoon; invented (21 g of honey)


@dataclass(frozen=True)
class Recipe:
    """One batch as planned. Grams, kilograms, millimetres, hours, watts, degC and per cent, as a learner types them."""

    kind: str
    title: str
    species: str
    raw: float  # kg
    fat: float | None  # per cent, typed; None: the table's
    stock: str
    form: str
    sizes: tuple[float, float, float]  # mm: thinnest, usual, thickest
    width: float | None  # mm
    method: str
    salt: float  # g
    water: float  # kg
    honey: int  # tablespoons
    hours: float
    freshened: tuple[tuple[float, float], ...]  # litres, hours
    heated: bool
    dial: float
    trays: int
    tray_area: float  # cm2
    faces: int
    heater: float
    room: tuple[float, float]  # degC, per cent
    place: str
    pack: str
    speed: float  # m/s, not typed
    blown: float  # kg/s of a strong fan without a round trip, not typed; 0: what the heater can warm
    piece: float  # g of a usual piece, not typed
    guess: float  # h the learner expects, not typed

    @property
    def fat_share(self) -> float:
        return (self.fat if self.fat is not None else RAW[self.species][2]) / 100

    def flesh(self, fat_more: float = 0.0, water_more: float = 0.0) -> MakeUp:
        """The raw fish; fat that is more or less than in the table stands in for water."""
        water, solids, fat = (part / 100 for part in RAW[self.species])
        true_fat = max(self.fat_share + fat_more, 0.002)
        return MakeUp(water + fat - true_fat + water_more, 0.0, 0.0, true_fat, solids - water_more)

    def cure(self, **hidden) -> Cure:
        return Cure(
            self.raw, self.salt / 1000, self.hours, self.water if self.method == "wet" else 0.0,
            self.honey * HONEY_SUGAR, self.freshened, faces=self.faces, **hidden,
        )  # fmt: skip


def _between(rng, low: float, high: float, step: float) -> float:
    return float(np.round(rng.uniform(low, high) / step) * step)


def _thin_trout(rng) -> dict:
    usual = _between(rng, 5, 8, 1)
    raw = _between(rng, 1.0, 2.2, 0.1)
    return {
        "species": "rainbow trout, farmed", "raw": raw, "fat": _between(rng, 4, 9, 0.1), "stock": "frozen", "form": "strips",
        "sizes": (usual - 1, usual, usual + 2), "width": _between(rng, 20, 30, 5), "method": "wet",
        "salt": _between(rng, 120, 200, 10), "water": _between(rng, 1.6, 2.2, 0.1), "honey": int(rng.integers(0, 3)),
        "hours": _between(rng, 6, 14, 1), "heated": True, "dial": _between(rng, 57, 68, 1), "trays": int(rng.integers(4, 7)),
        "heater": _between(rng, 400, 650, 50), "place": "refrigerator", "pack": "glass jar", "piece": 25.0, "guess": 7.0 * usual / 6,
    }  # fmt: skip


def _thick_fatty(rng) -> dict:
    usual = _between(rng, 8, 11, 1)
    return {
        "species": "Atlantic mackerel", "raw": _between(rng, 1.8, 3.0, 0.1), "fat": _between(rng, 10, 20, 1), "stock": "frozen",
        "form": "split", "sizes": (usual - 2, usual, usual + 2), "method": "wet", "salt": _between(rng, 300, 420, 20),
        "water": _between(rng, 2.2, 3.0, 0.1), "hours": _between(rng, 4, 9, 1), "heated": True,
        "freshened": ((_between(rng, 3, 5, 0.5), 1.0),) * int(rng.integers(1, 3)), "dial": _between(rng, 60, 70, 1),
        "trays": int(rng.integers(6, 11)), "tray_area": 1100.0, "heater": _between(rng, 600, 1000, 100),
        "place": "freezer", "pack": "vacuum pouch", "piece": 110.0, "guess": 16.0 * usual / 9,
    }  # fmt: skip


def _salted_cupboard(rng) -> dict:
    usual = _between(rng, 4, 6, 1)
    raw = _between(rng, 0.9, 1.6, 0.1)
    return {
        "species": "tilapia", "raw": raw, "form": "strips", "sizes": (usual - 1, usual, usual + 2),
        "width": _between(rng, 30, 45, 5), "method": "dry", "salt": float(round(1000 * raw * rng.uniform(0.04, 0.07))),
        "hours": _between(rng, 8, 24, 1), "heated": True, "dial": _between(rng, 64, 72, 1), "trays": int(rng.integers(3, 6)),
        "heater": _between(rng, 800, 1200, 100), "place": "cupboard", "pack": "glass jar", "piece": 30.0, "guess": 9.0 * usual / 5,
    }  # fmt: skip


def _cold_wind(rng) -> dict:
    usual = _between(rng, 4, 7, 1)
    dial = _between(rng, 15, 30, 1)
    return {
        "species": "Atlantic cod", "raw": _between(rng, 0.8, 2.0, 0.1), "form": "fillets", "sizes": (usual - 1, usual, usual + 2),
        "method": "wet", "salt": _between(rng, 140, 240, 20), "water": _between(rng, 1.6, 2.4, 0.1), "hours": _between(rng, 2, 8, 1),
        "dial": dial, "trays": int(rng.integers(3, 6)), "tray_area": 1200.0, "heater": _between(rng, 300, 600, 50),
        "room": (_between(rng, max(dial - 12, 6), dial - 4, 1), _between(rng, 35, 60, 5)), "place": "freezer", "pack": "glass jar",
        "speed": 2.0, "blown": float(rng.uniform(0.04, 0.10)), "piece": 50.0, "guess": 20.0 * usual / 5,
    }  # fmt: skip


def _low_oven(rng) -> dict:
    usual = _between(rng, 5, 8, 1)
    return {
        "species": "rainbow trout, farmed", "raw": _between(rng, 0.5, 1.0, 0.1), "form": "strips", "sizes": (usual - 1, usual, usual + 2),
        "width": _between(rng, 20, 30, 5), "method": "wet", "salt": _between(rng, 60, 120, 10), "water": 1.0, "hours": _between(rng, 4, 12, 1),
        "heated": True, "dial": _between(rng, 65, 80, 5), "trays": 2, "tray_area": 1400.0, "faces": 1, "heater": 1200.0,
        "place": "refrigerator", "pack": "glass jar", "speed": 0.5, "piece": 25.0, "guess": 14.0 * usual / 6,
    }  # fmt: skip


KINDS = {
    "thin trout": _thin_trout,
    "thick fatty": _thick_fatty,
    "salted cupboard": _salted_cupboard,
    "cold wind": _cold_wind,
    "low oven": _low_oven,
}
USUAL = {
    "fat": None, "stock": "fresh", "width": None, "honey": 0, "freshened": (), "heated": False, "tray_area": 900.0, "faces": 2,
    "water": 0.0, "speed": 1.0, "blown": 0.0,
}  # fmt: skip


def draw(kind: str, seed: int) -> Recipe:
    """The batch that a learner plans under this seed."""
    if kind not in KINDS:
        raise ValueError(f'kind = "{kind}" is not known; allowed are {", ".join(KINDS)}')
    rng = np.random.default_rng([seed, crc32(kind.encode())])
    room = (_between(rng, 17, 24, 1), _between(rng, 35, 65, 5))
    return Recipe(kind=kind, title=f"Simulated {kind}, {seed}", **(USUAL | {"room": room} | KINDS[kind](rng)))


def with_sizes(recipe: Recipe, thinnest: float, usual: float, thickest: float) -> Recipe:
    return replace(recipe, sizes=(min(thinnest, usual), usual, max(thickest, usual)))


def typed(recipe: Recipe) -> dict:
    """The batch file that goes with a recipe, as a dictionary."""
    thin, usual, thick = recipe.sizes
    fish = {
        "species": recipe.species, "raw_weight": f"{recipe.raw:.2f} kg", "stock": recipe.stock, "gutted": True,
        "hours_above_4c": 0.5, "hours_above_21c": 0, "smells_normal": True,
    }  # fmt: skip
    fish |= {"fat": round(recipe.fat, 1)} if recipe.fat is not None else {}
    fish |= {"frozen_at": "-20 °C", "frozen_days": 8} if recipe.stock == "frozen" else {}
    cut = {"form": recipe.form, "thickness": f"{usual:g} mm", "thinnest": f"{thin:g} mm", "thickest": f"{thick:g} mm"}
    cut |= ({"width": f"{recipe.width:g} mm"} if recipe.width else {}) | {"skin": "off"}
    batch = {
        "title": recipe.title,
        "serving": "30 g",
        "fish": fish,
        "cut": cut,
        "brine": _brine(recipe),
        "dryer": _dryer(recipe),
    }
    if recipe.freshened:
        batch["freshen"] = [
            {"water": f"{litres:g} L", "time": f"{hours:g} h", "temperature": "4 °C"}
            for litres, hours in recipe.freshened
        ]
    if recipe.heated:
        batch["heat"] = {"core": "74 °C", "hold": "1 min"}
    batch["room"] = {
        "temperature": f"{recipe.room[0]:g} °C",
        "relative_humidity": int(recipe.room[1]),
        "altitude": "150 m",
    }
    batch["keep"] = {"place": recipe.place, "pack": recipe.pack}
    return batch


def _brine(recipe: Recipe) -> dict:
    rows = [{"what": "pickling salt", "amount": f"{recipe.salt:g} g"}]
    rows += [{"what": "honey", "amount": f"{recipe.honey} tbsp"}] if recipe.honey else []
    rows += [{"what": "water", "amount": f"{recipe.water:.1f} L"}] if recipe.method == "wet" else []
    return {"method": recipe.method, "time": f"{recipe.hours:g} h", "temperature": "3 °C", "ingredient": rows}


def _dryer(recipe: Recipe) -> dict:
    return {
        "temperature": f"{recipe.dial:g} °C", "trays": recipe.trays, "tray_area": f"{recipe.tray_area:g} cm2",
        "faces": recipe.faces, "heater": f"{recipe.heater:g} W", "fresh_air": "not known",
    }  # fmt: skip
