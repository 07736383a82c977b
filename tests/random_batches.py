"""Random batches as a person might type them: every section, every field, odd ones among them.

``typed_batch(rng)`` gives the dictionary of a batch file. It is built of typed texts only and knows nothing of the
package, so that what it makes stays the same whatever becomes of the code.
"""

from __future__ import annotations

import numpy as np

FISH = (
    "rainbow trout, farmed", "Atlantic mackerel", "tilapia", "Atlantic cod", "Atlantic herring", "Pink salmon",
    "common carp", "burbot", "Pacific herring", "northern pike", "walleye", "Yellowfin tuna", "sardine", "whitefish, mixed species",
)  # fmt: skip
SALTS = ("pickling salt", "table salt", "fine sea salt", "coarse sea salt")
PACKS = (
    "glass jar",
    "paper bag",
    "foil laminate pouch",
    "thin polyethylene bag",
    "plastic tub with lid",
    "cloth bag or open basket",
)
LIQUIDS = ("honey", "granulated sugar", "maple syrup", "vinegar 5 %", "soy sauce")


def _maybe(rng, share: float) -> bool:
    return bool(rng.random() < share)


def _pick(rng, options):
    return options[int(rng.integers(len(options)))]


def _text(value: float, unit: str, digits: int = 2) -> str:
    return f"{value:.{digits}f} {unit}"


def typed_fish(rng) -> dict:
    fish = {"raw_weight": _pick(rng, (_text(rng.uniform(0.2, 6.0), "kg"), f"{rng.uniform(0.5, 9):.1f} lb"))}
    if _maybe(rng, 0.15):
        fat = round(rng.uniform(0.5, 18.0), 1)
        protein = round(rng.uniform(15.0, 22.0), 1)
        fish |= {"water": round(98.7 - fat - protein, 1), "protein": protein, "fat": fat, "ash": 1.3}
    else:
        fish["species"] = _pick(rng, FISH)
        if _maybe(rng, 0.3):
            fish["fat"] = round(rng.uniform(0.4, 20.0), 1)
    if _maybe(rng, 0.8):
        fish["stock"] = _pick(rng, ("fresh", "frozen"))
    if fish.get("stock") == "frozen" and _maybe(rng, 0.8):
        fish["frozen_at"] = _text(rng.uniform(-30, -12), "°C", 0)
        fish["frozen_days"] = int(rng.integers(1, 60))
    for key, share, draw in (
        ("origin", 0.85, lambda: _pick(rng, ("farmed", "wild"))),
        ("gutted", 0.9, lambda: _maybe(rng, 0.95)),
        ("hours_above_4c", 0.85, lambda: round(rng.exponential(1.0), 1)),
        ("hours_above_21c", 0.85, lambda: round(rng.exponential(0.15), 1)),
        ("warmest", 0.3, lambda: _text(rng.uniform(2, 25), "°C", 0)),
        ("smells_normal", 0.9, lambda: _maybe(rng, 0.97)),
        ("thawed_in_vacuum", 0.3, lambda: _maybe(rng, 0.1)),
    ):
        if _maybe(rng, share):
            fish[key] = draw()
    return fish


def typed_cut(rng, odd: bool) -> dict:
    usual = rng.uniform(3.0, 18.0 if odd else 12.0)
    cut = {"thickness": _text(usual, "mm")}
    if _maybe(rng, 0.8):
        cut["form"] = _pick(rng, ("strips", "fillets", "split") + (("whole",) if odd else ()))
    if _maybe(rng, 0.7):
        cut["thinnest"] = _text(max(1.0, usual * rng.uniform(0.6, 1.0)), "mm")
        cut["thickest"] = _text(min(40.0, usual * rng.uniform(1.0, 1.6)), "mm")
    if _maybe(rng, 0.6):
        cut["width"] = _text(rng.uniform(10, 60), "mm", 0)
    if _maybe(rng, 0.75):
        cut["skin"] = _pick(rng, ("off", "off", "one side"))
    return cut


def typed_soak(rng, kilograms: float) -> dict:
    cold = _text(rng.uniform(1, 9), "°C", 0)
    salt = _pick(rng, SALTS)
    if _maybe(rng, 0.25):
        strewn = _text(1000 * kilograms * rng.uniform(0.02, 0.2), "g", 0)
        rows = [{"what": salt, "amount": strewn}]
        return {"method": "dry", "time": _text(rng.uniform(2, 72), "h", 1), "temperature": cold, "ingredient": rows}
    litres = kilograms * rng.uniform(0.8, 3.0)
    share = rng.uniform(0.02, 0.22)
    rows = [{"what": salt, "amount": _text(1000 * litres * share / (1 - share), "g", 0)}]
    rows.append({"what": "water", "amount": _text(litres, "L")})
    if _maybe(rng, 0.4):
        rows.append({"what": _pick(rng, LIQUIDS), "amount": _pick(rng, ("2 tbsp", "1/2 cup", "60 g", "100 g"))})
    return {"method": "wet", "time": _text(rng.uniform(0.5, 24), "h", 1), "temperature": cold, "ingredient": rows}


def typed_dryer(rng, odd: bool) -> dict:
    dryer = {
        "temperature": _text(rng.uniform(15, 80) if odd else rng.uniform(45, 75), "°C", 0),
        "trays": int(rng.integers(2, 12)),
        "tray_area": _text(rng.uniform(600, 1500), "cm2", 0),
    }
    if _maybe(rng, 0.75):
        dryer["faces"] = int(rng.integers(1, 3))
    if _maybe(rng, 0.6):
        dryer["heater"] = _text(rng.uniform(250, 1200), "W", 0)
    if _maybe(rng, 0.3):
        dryer["fresh_air"] = _pick(rng, ("not known", "40 kg/h", "30 m3/h"))
    return dryer


def typed_keep(rng) -> dict:
    keep = {}
    if _maybe(rng, 0.8):
        keep["place"] = _pick(rng, ("cupboard", "refrigerator", "freezer"))
    if _maybe(rng, 0.8):
        keep["pack"] = _pick(rng, PACKS)
    if _maybe(rng, 0.3):
        keep["per_pack"] = _text(rng.uniform(50, 500), "g", 0)
    if _maybe(rng, 0.1):
        keep["target_moisture"] = round(rng.uniform(15, 55), 1)
    if _maybe(rng, 0.1):
        keep |= {"measured_water_activity": round(rng.uniform(0.5, 0.95), 2)}
        keep |= {"measured_error": 0.02} if _maybe(rng, 0.8) else {}
    return keep


def typed_batch(rng: np.random.Generator, odd_share: float = 0.25) -> dict:
    """One batch file as a dictionary; about ``odd_share`` of them lie at or beyond the edges of what was tested."""
    odd = _maybe(rng, odd_share)
    fish = typed_fish(rng)
    kilograms = float(fish["raw_weight"].split()[0]) * (0.4536 if fish["raw_weight"].endswith("lb") else 1.0)
    batch = {"title": "Random", "fish": fish, "cut": typed_cut(rng, odd)}
    if _maybe(rng, 0.3):
        batch["serving"] = _text(rng.uniform(15, 60), "g", 0)
    if _maybe(rng, 0.1):
        batch["presoak"] = typed_soak(rng, kilograms) | {"time": "1 h"}
    if _maybe(rng, 0.85):
        batch["brine"] = typed_soak(rng, kilograms)
    if _maybe(rng, 0.2):
        batch["rest"] = {"time": _text(rng.uniform(1, 30), "h", 1), "temperature": "3 °C"}
    if "brine" in batch and _maybe(rng, 0.3):
        water = _text(kilograms * rng.uniform(1, 4), "L")
        one = {"water": water, "time": _text(rng.uniform(0.3, 6), "h", 1), "temperature": "4 °C"}
        batch["freshen"] = [one | ({"changes": int(rng.integers(1, 4))} if _maybe(rng, 0.7) else {})]
    if _maybe(rng, 0.65):
        batch["heat"] = {"core": _text(rng.uniform(60, 85), "°C", 0)}
        if _maybe(rng, 0.7):
            batch["heat"]["hold"] = _text(rng.uniform(0, 5), "min", 0)
    batch["dryer"] = typed_dryer(rng, odd)
    if _maybe(rng, 0.8):
        batch["room"] = {
            "temperature": _text(rng.uniform(5, 32), "°C", 0), "relative_humidity": int(rng.integers(20, 90)),
            "altitude": _text(rng.uniform(0, 2500), "m", 0),
        }  # fmt: skip
    if _maybe(rng, 0.85):
        batch["keep"] = typed_keep(rng)
    return batch
