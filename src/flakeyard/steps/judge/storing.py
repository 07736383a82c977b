"""Pack and keep: until when, which limit decides, and what would go wrong next.

Three clocks run beside each other: mould, rancidity (half its middle estimate) and the cap of official guidance for
similar food. The earliest decides. Days are read at the cautious end (10th percentile) and rounded down.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from flakeyard import limits
from flakeyard.messages import say
from flakeyard.models import keeping, sorption
from flakeyard.models.constants import DAY, SODIUM_PER_SALT
from flakeyard.steps.intent.outside import Outside, beyond
from flakeyard.steps.intent.spread import places_of_a_lognormal
from flakeyard.steps.judge.facts import rule_texts
from flakeyard.steps.judge.safety import Reason, Verdict, place_kept
from flakeyard.tables import Pack, Record, read_records, study_term
from flakeyard.units import show, show_band

CAUTIOUS_END = 10.0  # percentile of the days
SLICES = 40  # enough that the 10th percentile of the days is known to a hundredth (judgement)
RANCID_PART = 0.5  # no observed life was shorter than half the middle estimate: dried_fish_rancidity
ROOM = (25.0, 0.75)  # degC and humidity when the room is not described (judgement: warm and damp)
REFRIGERATOR_HUMIDITY = 0.80  # judgement
AMOUNT = 0.2  # kg of fish that the tabled area of a pack is for
SEALED = 1e-15  # kg/s; a pack that is not known may hold all moisture in …
OPEN_AIR = 10.0 / DAY  # kg/(m2 s), … or let the fish follow the room (judgement)
OPEN_AREA = 0.06  # m2 for 200 g (judgement)
SALTED = 0.03  # salt per dry matter from which salt speeds up rancidity (judgement)
MOULD_WETTEST = keeping.mould_range.bounds["water_activity"][1]  # moister fish spoils by bacteria: see the caps
COOLEST_CUPBOARD = 15.0  # degC (judgement): a cooler room sweats, and no mould on fish was watched so cool
USUAL_CURVE = {"protein_factor": 1.0, "gab_k": sorption.GAB_K, "native": 0.0, "flesh_water": 1.0}
BRINE = "brine"  # state of fish so salty that it stays on the brine's plateau
CLOCK_RULES = {"mould": "S1", "rancidity": "S2", "official_cap": "S3"}


@dataclass(frozen=True, kw_only=True)
class Cap(Record):
    """The longest keeping that guidance for similar food gives: one row of ``data/keeping_caps.csv``."""

    place: str
    state: str
    fat: str
    days: float
    basis: str
    note: str


@dataclass(frozen=True)
class Keeping:
    """Until when: whole days (None: no keeping time), the clock that decides and all clocks in days; ``cap`` is the row of
    guidance that was read."""

    days: int | None
    limited_by: str
    place: str | None
    clocks: dict[str, float]
    next_problem: str
    reasons: tuple[Reason, ...]
    outside: tuple[Outside, ...] = ()
    cap: Cap | None = None


@cache
def caps() -> tuple[Cap, ...]:
    """All rows of the table of caps."""
    return read_records("keeping_caps.csv", Cap)


@dataclass(frozen=True, kw_only=True)
class Storage:
    """How packed fish is kept; None is not known and never counts as the better value.

    ``pack`` – a record of the packs table; ``amount`` – kg of fish in a pack; ``place`` – the one asked; ``room_temperature``
    [degC] and ``room_humidity`` [0–1] – of the room; ``fat_raw`` – kg fat per kg raw fish; ``measured`` – water activity by
    a meter, with its error; ``lit`` – kept in the light; ``brine_stays`` – so salty that it stays on the brine's
    plateau.
    """

    pack: Pack | None = None
    amount: float | None = None
    place: str | None = None
    room_temperature: float | None = None
    room_humidity: float | None = None
    fat_raw: float | None = None
    measured: float | None = None
    lit: bool = False
    brine_stays: bool = False


def keep_until(dried, verdict: Verdict, store: Storage, isotherm: Mapping | None = None) -> Keeping:
    """Say until when packed fish may be kept at the place asked, or at the mildest place the verdict allows.

    Parameters: dried – the flesh with arrays ``water``, ``salt``, ``fat``, ``solids``, ``sugar`` over the ensemble, in
    one unit; isotherm – ``protein_factor``, ``gab_k``, ``native``, ``flesh_water`` of `sorption`, over the ensemble.
    """
    where = place_kept(store.place, verdict.keep)
    if where is None:
        why = {"nowhere": say("keeping.must_not"), "not_known": say("keeping.not_known")}[verdict.keep]
        return Keeping(None, "no_shelf_life", None, {}, "", (_reason("S4", why=why),))
    parts = pack_of(dried, AMOUNT if store.amount is None else store.amount)
    climate = climate_around(where, store.room_temperature, store.room_humidity)
    curve = {name: np.ravel(value) for name, value in (USUAL_CURVE | dict(isotherm or {})).items()}
    cap = cap_for(where, verdict.water_activity_used, store.fat_raw, store.brine_stays)
    mould, activity = _mould(parts, store, where, climate, curve)
    life = RANCID_PART * _rancidity(parts, store, climate[0], activity)
    mould, life = (np.multiply.outer(days, _between_studies()) for days in (mould, life))
    clocks = {"official_cap": cap.days, "mould": _cautious(mould), "rancidity": _cautious(life)}
    outside = _outside(parts, where, climate[0], activity)
    return _by_the_first(clocks, where, cap, outside)


def _by_the_first(clocks: dict[str, float], where: str, cap: Cap, outside: tuple[Outside, ...]) -> Keeping:
    """The clock that runs out first decides."""
    if where == "freezer":
        return _in_the_freezer(clocks, cap, outside)
    limit, following = sorted(clocks, key=clocks.__getitem__)[:2]
    reasons = (_reason(CLOCK_RULES[limit], source=cap.source_id), _reason("S5"))
    following = _next(following, clocks[following])
    return Keeping(math.floor(clocks[limit] + 1e-9), limit, where, clocks, following, reasons, outside, cap)


def _in_the_freezer(clocks: dict[str, float], cap: Cap, outside: tuple[Outside, ...]) -> Keeping:
    """A cap decides, since rancidity was never watched this cold; where it may come sooner, the strictest cap or none."""
    rancid = clocks["rancidity"]
    if rancid < cap.days:
        cap = min((row for row in caps() if row.place == "freezer"), key=lambda row: row.days)
        clocks = clocks | {"official_cap": cap.days}
    if rancid < cap.days:
        reasons = (_reason("S2", variant="untested", days=math.floor(cap.days)), _reason("S5"))
        return Keeping(None, "rancidity", "freezer", clocks, "", reasons, outside, cap)
    reasons = (_reason("S3", source=cap.source_id), _reason("S5"))
    return Keeping(math.floor(cap.days + 1e-9), "official_cap", "freezer", clocks, "", reasons, outside, cap)


def _outside(parts: Mapping, where: str, temperature: float, activity) -> tuple[Outside, ...]:
    """What the clocks were not tested for; the caps of guidance hold all the same, so these are notes."""
    fat = parts["fat"] / sum(parts.values())
    found = beyond(keeping.rancidity_range, False, fat_fraction=fat, temperature=temperature)
    if where == "freezer":
        return found
    wettest = np.minimum(activity, MOULD_WETTEST)
    return found + beyond(keeping.mould_range, False, water_activity=wettest, temperature=temperature)


def cupboard_outside(temperature: float | None) -> tuple[str, ...]:
    """Words for a room in which no cupboard can be judged: far from the warmth at which mould was watched."""
    warmest = keeping.mould_range.bounds["temperature"][1]
    if temperature is None or COOLEST_CUPBOARD <= temperature <= warmest:
        return ()
    between, own = show_band(COOLEST_CUPBOARD, warmest, "temperature", "both"), show(temperature, "temperature", "both")
    return (say("keeping.cupboard", own=own, formula=keeping.mould_range.formula, between=between),)


def cap_for(place: str, water_activity: float | None, fat_raw: float | None, brine_stays: bool = False) -> Cap:
    """The strictest cap for a place; a water activity that is not known counts as fresh, a fat not known as fatty.

    In the cupboard fish in which brine stays has a cap of its own, whatever its fat.
    """
    known = 1.0 if water_activity is None else water_activity
    state = "like_fresh" if known > limits.LIKE_FRESH else "moist" if known > limits.MOIST else "dry"
    fat = "lean" if fat_raw is not None and fat_raw < limits.FATTY else "fatty"
    fitting = [cap for cap in caps() if cap.place == place and cap.state in (state, "any") and cap.fat in (fat, "any")]
    if not fitting:
        raise ValueError(say("input.place", place=place, known=known))
    strictest = min(fitting, key=lambda cap: cap.days)
    if brine_stays and place == "cupboard" and strictest.days > limits.BRINE_DAYS:
        return replace(strictest, state=BRINE, days=limits.BRINE_DAYS, source_id="judgement", how="memory")
    return strictest


def sodium_mg_per_serving(salt_fraction, serving) -> float | np.ndarray:
    """Sodium of a serving in mg, from salt per product [kg/kg] and the serving [kg]: 393.4 mg in a gram of salt.

    Returns: float or array [mg, 0 up]
    Source: models.constants.SODIUM_PER_SALT
    Example:
        >>> f"{float(sodium_mg_per_serving(salt_fraction=0.05, serving=0.03)):.3g}"  # check value sodium_of_salt
        '590'
    """
    salt, mass = np.asarray(salt_fraction, float), np.asarray(serving, float)
    if not np.all((salt >= 0.0) & (salt <= 1.0)):
        raise ValueError(say("input.salt_fraction", salt_fraction=salt_fraction))
    if not np.all(mass >= 0.0):
        raise ValueError(say("input.serving", serving=serving))
    return (1e6 * SODIUM_PER_SALT * salt * mass)[()]


def pack_of(dried, amount: float) -> dict[str, np.ndarray]:
    """Masses in one pack, kg, flat over the ensemble; sugar is counted with the solids (it holds no water here).

    Returns: by name, (members,) [kg, 0–amount]
    Source: the piece given
    """
    parts = {name: np.asarray(getattr(dried, name), float) for name in ("water", "salt", "fat", "solids")}
    parts["solids"] = parts["solids"] + np.asarray(getattr(dried, "sugar", 0.0), float)
    total = parts["water"] + parts["salt"] + parts["fat"] + parts["solids"]
    return {name: np.ravel(amount * np.broadcast_to(value, total.shape) / total) for name, value in parts.items()}


def climate_around(place: str, temperature, humidity) -> tuple:
    """Temperature [degC] and humidity [0–1] around a pack; the room's own, or a cautious one, in a cupboard only."""
    if place == "freezer":  # no mould grows there and hardly any moisture moves
        return limits.FREEZER, REFRIGERATOR_HUMIDITY
    if place == "refrigerator":
        return limits.COLD, REFRIGERATOR_HUMIDITY
    return (ROOM[0] if temperature is None else temperature), (ROOM[1] if humidity is None else humidity)


def let_in(pack, amount: float | None, temperature) -> tuple[float | np.ndarray, ...]:
    """Water that a pack lets in for each unit of water activity [kg/s], at both ends of what is tabled for it.

    A pack that is not known (None) may be tight or no pack at all. More fish than the tabled amount has a larger pack.

    Returns: the tighter end, the leakier end [kg/s, 0 up]
    Source: leak and transmission of the pack's own row
    """
    if pack is None:
        return SEALED, keeping.pack_conductance(OPEN_AIR, OPEN_AREA, temperature)
    area = pack.area * max(1.0, (amount or AMOUNT) / AMOUNT) ** (2 / 3)  # a smaller amount keeps the tabled area
    ends = ((pack.transmission_low, pack.leak_low), (pack.transmission_high, pack.leak_high))
    return tuple(
        keeping.pack_conductance(1e-3 * film / DAY, area, temperature, 1e-3 * leak / DAY) for film, leak in ends
    )


def _mould(parts, store: Storage, place: str, climate, curve):
    """Days to mould over the ensemble, the shorter of both ends of the pack, and the water activity at packing."""
    flesh = [parts[name] for name in ("water", "salt", "fat", "solids")]
    at_packing = sorption.water_activity(*flesh, **curve)
    if place == "freezer":
        return np.full(np.shape(at_packing), np.inf), at_packing
    temperature, humidity = climate
    watched = keeping.mould_range.bounds["temperature"][0]  # no cupboard counts on more time than was seen at its edge
    clock_at = np.maximum(temperature, watched) if place == "cupboard" else temperature
    days = []
    for conductance in let_in(store.pack, store.amount, temperature):
        times, activity = keeping.moisture_course(
            **parts, humidity=humidity, conductance=conductance, temperature=temperature, **curve
        )
        least = max(store.measured or 0.0, sorption.PLATEAU if store.brine_stays else 0.0)
        wettest = np.clip(activity, least, None)
        days.append(np.asarray(keeping.mould_clock_days(times, np.minimum(wettest, MOULD_WETTEST), clock_at)))
    return np.minimum.reduce(days), at_packing


def _rancidity(parts, store: Storage, temperature, activity):
    """Middle estimate of the days to rancidity over the ensemble."""
    total = sum(parts.values())
    salted = parts["salt"] > SALTED * (total - parts["water"])
    activity = np.minimum(activity, 1.0)
    return keeping.rancidity_days(parts["fat"] / total, temperature, _air(store.pack), salted, store.lit, activity)


def _air(pack) -> str:
    """What the pack does about air. A jar counts as air: what is left above the fish holds oxygen enough."""
    if pack is None:
        return "air"
    if pack.removes_air:
        return "vacuum"
    return "barrier" if pack.barrier == "full" and pack.leak_high == 0.0 else "air"


@cache
def _between_studies() -> np.ndarray:
    """What laboratories lying apart leave of the days of both clocks, in slices of equal chance (SLICES,) [-].

    Both clocks count on half of the middle days already, because no life was shorter. That half and the draw tell of the
    same thing, so they are not multiplied: of the two the shorter counts.
    """
    factor = places_of_a_lognormal(study_term("rancidity").sd, SLICES)
    return np.minimum(1.0, factor / RANCID_PART)


def _cautious(days) -> float:
    """The 10th percentile, by an order statistic (infinite days are allowed)."""
    return float(np.percentile(days, CAUTIOUS_END, method="lower"))


def _next(name: str, days: float) -> str:
    if not math.isfinite(days):
        return ""
    text = rule_texts()[CLOCK_RULES[name], "next"].text
    return text.format(days=math.floor(days))


def _reason(rule: str, source: str | None = None, variant: str = "", **words) -> Reason:
    row = rule_texts()[rule, variant]
    return Reason(rule, row.text.format(**words), source if source and rule == "S3" else row.source_id)
