"""Random batches as a person might type them; built of typed texts only, so that no change of the code changes them.

``random_typed`` stays inside what a batch file allows and the models were tested for; ``odd_typed`` goes to the edges
and beyond: own composition, pounds and inches, whole fish, a cold or hot dial, thick pieces, anything left out.
"""

from __future__ import annotations

import random

from flakeyard import tables

SPECIES = tuple(fish.id for fish in tables.all_species() if fish.usable)
PACKS = tuple(pack.id for pack in tables.packs())
SALTS = ("pickling salt", "table salt", "fine sea salt", "coarse sea salt", "salt")
EXTRAS = (
    ("sugar", "1/2 cup"),
    ("honey", "100 g"),
    ("soy sauce", "120 mL"),
    ("vinegar", "100 mL"),
    ("aromatics", "20 g"),
)


def some(luck: random.Random, share: float, **typed) -> dict:
    """Each field with a chance of its own: the others are not told."""
    return {key: value for key, value in typed.items() if luck.random() < share}


def amount(luck: random.Random, low: float, high: float, unit: str) -> str:
    return f"{luck.uniform(low, high):.2f} {unit}"


def random_fish(luck: random.Random, told: float = 0.8) -> dict:
    history = some(
        luck, told,
        stock=luck.choice(("fresh", "frozen")), frozen_at=f"{luck.randint(-40, -10)} °C", frozen_days=luck.randint(0, 60),
        origin=luck.choice(("farmed", "wild")), gutted=luck.random() < 0.9, smells_normal=luck.random() < 0.95,
        hours_above_4c=round(luck.uniform(0, 3), 2), hours_above_21c=round(luck.choice((0, 0, 0.5, 1.5)), 2),
        thawed_in_vacuum=luck.random() < 0.1, warmest=amount(luck, 0, 35, "°C"),
    )  # fmt: skip
    own = some(luck, 0.3, fat=round(luck.uniform(0.5, 22.0), 1))
    return {"species": luck.choice(SPECIES), "raw_weight": amount(luck, 0.2, 4, "kg")} | own | history


def random_cut(luck: random.Random) -> dict:
    thin, usual, thick = sorted(luck.uniform(3.0, 15.0) for _ in range(3))
    return {
        "form": luck.choice(("strips", "fillets", "split")), "skin": luck.choice(("off", "off", "one side")),
        "thinnest": f"{thin:.3f} mm", "thickness": f"{usual:.3f} mm", "thickest": f"{thick:.3f} mm",
        "width": f"{luck.uniform(15, 80):.1f} mm",
    }  # fmt: skip


def random_brine(luck: random.Random, kilograms: float) -> dict:
    """A wet brine of 1 to 35 % salt on the water (a full brine holds less), or dry salt on the fish."""
    times = {"time": amount(luck, 0.5, 48, "h"), "temperature": amount(luck, 0, 20, "°C")}
    if luck.random() < 0.35:
        dose = {"what": luck.choice(SALTS), "amount": f"{1000 * kilograms * luck.uniform(0.01, 0.3):.1f} g"}
        return {"method": "dry", "ingredient": [dose]} | times
    water = kilograms * luck.uniform(0.5, 5)
    rows = [{"what": "water", "amount": f"{water:.3f} kg"}]
    rows.append({"what": luck.choice(SALTS), "amount": f"{1000 * water * luck.uniform(0.01, 0.35):.1f} g"})
    if luck.random() < 0.4:
        rows.append(dict(zip(("what", "amount"), luck.choice(EXTRAS), strict=True)))
    return {"method": "wet", "ingredient": rows} | times


def random_freshening(luck: random.Random, kilograms: float) -> dict:
    return {
        "water": f"{kilograms * luck.uniform(0.5, 5):.3f} kg", "time": amount(luck, 0.2, 12, "h"),
        "changes": luck.randint(1, 3), "temperature": amount(luck, 0, 20, "°C"),
    }  # fmt: skip


def random_typed(luck: random.Random, told: float = 0.8) -> dict:
    """A batch as typed: any fish, cut, cure, heating, dryer, room and place, some of it not told."""
    fish = random_fish(luck, told)
    kilograms = float(fish["raw_weight"].split()[0])
    typed = {"fish": fish, "cut": random_cut(luck)}
    if luck.random() < 0.75:
        typed["brine"] = random_brine(luck, kilograms)
        typed["freshen"] = [random_freshening(luck, kilograms) for _ in range(luck.randint(0, 2))]
    if luck.random() < 0.2:
        typed["rest"] = {"time": amount(luck, 1, 48, "h"), "temperature": amount(luck, 0, 12, "°C")}
    if luck.random() < 0.6:
        typed["heat"] = {"core": amount(luck, 50, 85, "°C")} | some(
            luck,
            told,
            hold=amount(luck, 0, 5, "min"),
            checked=luck.choice(("probe", "probe", "probe", "not checked")),
            to_tray=amount(luck, 2, 40, "min"),
        )
    typed["dryer"] = {
        "temperature": amount(luck, 25, 75, "°C"), "trays": luck.randint(1, 12), "tray_area": amount(luck, 400, 2000, "cm2"),
    } | some(
        luck, (told + 1) / 2, faces=luck.choice((1, 2)),
    ) | some(
        luck, told / 2, heater=amount(luck, 200, 1500, "W"), fresh_air=amount(luck, 2, 80, "m3/h"),
    )  # fmt: skip
    typed["room"] = some(
        luck, told,
        temperature=amount(luck, 5, 35, "°C"), relative_humidity=luck.randint(15, 95), altitude=amount(luck, 0, 3000, "m"),
    )  # fmt: skip
    place = some(luck, told, place=luck.choice(("cupboard", "refrigerator", "freezer")), pack=luck.choice(PACKS))
    typed["keep"] = place | some(luck, 0.4, target_moisture=luck.randint(10, 50), per_pack=amount(luck, 30, 400, "g"))
    return typed


def odd_typed(luck: random.Random) -> dict:
    """A batch with odd things in it: each of them possible, some far from what was tested."""
    typed = random_typed(luck, told=luck.choice((0.3, 0.8, 1.0)))
    for change in luck.sample(ODD, luck.randint(1, 4)):
        change(luck, typed)
    for section in ("fish", "cut", "dryer", "keep"):
        for key in [key for key in typed[section] if key not in NEEDED and luck.random() < 0.15]:
            del typed[section][key]
    return typed


NEEDED = ("species", "water", "protein", "raw_weight", "thickness", "temperature", "trays", "tray_area", "fat")


def _own_composition(luck, typed):
    fat, protein = round(luck.uniform(0.3, 20.0), 1), round(luck.uniform(14.0, 22.0), 1)
    own = {"water": round(98.8 - fat - protein, 1), "protein": protein, "fat": fat, "ash": 1.2}
    typed["fish"] = {key: value for key, value in typed["fish"].items() if key != "species"} | own


def _us_units(luck, typed):
    sixteenths = luck.randint(2, 9)
    typed["fish"]["raw_weight"] = f"{luck.uniform(0.5, 9):.1f} lb"
    typed["cut"] = {"thickness": f"{sixteenths}/16 in", "thickest": f"{sixteenths + 2}/16 in"}
    typed["dryer"] |= {"temperature": f"{luck.randint(95, 165)} °F", "tray_area": f"{luck.randint(80, 250)} in2"}


def _whole(luck, typed):
    typed["cut"]["form"] = "whole"


def _dial(luck, typed):
    typed["dryer"]["temperature"] = amount(luck, *luck.choice(((5, 20), (75, 80))), "°C")


def _thick(luck, typed):
    typed["cut"] = {"thickness": amount(luck, 15, 30, "mm"), "skin": "one side"}


def _thin(luck, typed):
    typed["cut"] = {"thickness": amount(luck, 2, 3, "mm"), "form": "strips", "width": amount(luck, 5, 12, "mm")}


def _wet_history(luck, typed):
    typed["fish"] |= {"hours_above_4c": round(luck.uniform(3, 60), 1), "warmest": amount(luck, 15, 40, "°C")}


def _strong_bath(luck, typed):
    kilograms = 2.0
    typed["brine"] = random_brine(luck, kilograms) | {"time": amount(luck, 48, 700, "h")}
    typed["presoak"] = random_brine(luck, kilograms)


def _metered(luck, typed):
    typed["keep"]["measured_water_activity"] = round(luck.uniform(0.4, 0.98), 3)
    if luck.random() < 0.7:
        typed["keep"]["measured_error"] = round(luck.uniform(0.0, 0.1), 3)


def _mountain(luck, typed):
    typed["room"] = {"altitude": amount(luck, 3000, 4500, "m"), "temperature": amount(luck, -10, 5, "°C")}


def _overload(luck, typed):
    typed["dryer"] |= {"trays": 1, "tray_area": amount(luck, 60, 300, "cm2"), "heater": amount(luck, 30, 200, "W")}


def _fresh_wild(luck, typed):
    typed["fish"] |= {"origin": "wild", "stock": "fresh", "gutted": luck.random() < 0.5}


def _sweet(luck, typed):
    """Much sugar and little water, or a syrup told by any means at any strength it may have."""
    told = luck.choice(
        (
            {"one_cup_weighs": amount(luck, 150, 400, "g")},
            {"brix": luck.randint(0, 85)},
            {"recipe_sugar": "3 cup", "recipe_liquid": "1/2 cup"},
        )
    )
    rows = [
        {"what": "syrup of your own", "amount": amount(luck, 0.1, 4, "kg")} | told,
        {"what": "salt", "amount": amount(luck, 5, 600, "g")},
    ]
    rows += [{"what": "water", "amount": amount(luck, 1, 300, "mL")}] if luck.random() < 0.5 else []
    typed["brine"] = {
        "method": luck.choice(("wet", "dry")),
        "time": amount(luck, 1, 72, "h"),
        "temperature": "3 °C",
        "ingredient": rows,
    }


def _lean_and_soaked(luck, typed):
    """No fat at all, and all salt soaked out again."""
    typed["fish"]["fat"] = 0
    typed["freshen"] = [{"water": "50 L", "time": "5 days", "changes": luck.randint(1, 10), "temperature": "3 °C"}]


def _purging(luck, typed):
    fat = luck.choice((10, 18, 20))
    typed["fish"] |= {
        "species": luck.choice(("Escolar", "Oilfish")),
        "water": 98.7 - fat - 18,
        "protein": 18,
        "fat": fat,
        "ash": 1.3,
    }


def _cup_of_salt(luck, typed):
    kilograms = float(typed["fish"]["raw_weight"].split()[0])
    rows = [
        {"what": "salt", "amount": "1 cup", "one_cup_weighs": amount(luck, 150, 400, "g")},
        {"what": "water", "amount": f"{3 * kilograms:.2f} L"},
    ]
    typed["brine"] = {"time": "8 h", "temperature": "2 °C", "ingredient": rows}


def _keys_of_today(luck, typed):
    typed["fish"] |= some(luck, 0.5, waters=luck.choice(("cold or temperate", "tropical or reef")))
    typed["keep"] |= some(
        luck,
        0.5,
        measured_by=luck.choice(("laboratory", "meter", "household hygrometer")),
        stop_at=round(luck.uniform(0.1, 1.0), 2),
    )


ODD = (
    _own_composition, _us_units, _whole, _dial, _thick, _thin, _wet_history, _strong_bath, _metered, _mountain, _overload,
    _fresh_wild, _sweet, _lean_and_soaked, _purging, _cup_of_salt, _keys_of_today,
)  # fmt: skip
