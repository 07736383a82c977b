"""The whole chain: from what a preserver intends (a Batch) to what to expect (an Outcome)."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from flakeyard import tables
from flakeyard.steps.chain import drying, salting
from flakeyard.steps.chain.brining import Brine, mix
from flakeyard.steps.chain.fish import Fish, prepare_fish
from flakeyard.steps.chain.freshening import freshen
from flakeyard.steps.chain.heating import Heated, heat
from flakeyard.steps.chain.salting import Cured
from flakeyard.steps.intent.batch_file import Batch, dump_batch, load_batch, parse_batch, read_batch, save_batch
from flakeyard.steps.intent.spread import MEMBERS, UNKNOWN, Band, Draws, band, exact, upper_end
from flakeyard.steps.judge import safety, storing

__all__ = ["Batch", "Outcome", "dump_batch", "load_batch", "parse_batch", "plan", "read_batch", "save_batch"]

TESTED_THICKNESS = (0.003, 0.015)  # m; drying data behind the model: 3–15 mm slabs
TESTED_DRYER = (20.0, 75.0)  # °C; likewise
VERY_SALTY = 0.06  # kg/kg dried fish (judgement): 30 g of it hold 700 mg sodium, a third of a day's limit
SIZES = ("thinnest", "thickness", "thickest")
SOURCES = ("laliberte_2009", "appelo_2015", "crank_1975", "boudreau_1997", "usda_sr28", "fda_hazards_2001")


@dataclass(frozen=True)
class Outcome:
    """What to expect of a batch: every number a Band (10th, 50th, 90th percentile); the steps are kept for pictures."""

    batch: Batch
    fish: dict[str, Band]
    brine: dict[str, Band]
    salted: dict[str, Band]
    drying: dict[str, Band]
    dried: dict[str, Band]
    verdict: safety.Verdict
    keep: storing.Keeping
    unknown: tuple[str, ...]
    sources: tuple[str, ...]
    notes: tuple[str, ...]
    hours_by_share: dict[str, Band]
    load: Drying = field(repr=False, default=None)
    cured: Cured = field(repr=False, default=None)
    raw: Fish = field(repr=False, default=None)

    def as_dict(self) -> dict:
        """The same as plain dictionaries, lists and numbers, ready for JSON."""
        bands = {
            name: {key: value.as_dict() for key, value in getattr(self, name).items()}
            for name in ("fish", "brine", "salted", "drying", "dried")
        }
        verdict = {
            "keep": self.verdict.keep,
            "eat": self.verdict.eat,
            "water_activity_used": self.verdict.water_activity_used,
            "reasons": [_told(reason) for reason in self.verdict.reasons],
            "cautions": [_told(caution) for caution in self.verdict.cautions],
        }
        keep = {"days": self.keep.days, "limited_by": self.keep.limited_by}
        tail = {"unknown": list(self.unknown), "sources": list(self.sources), "notes": list(self.notes)}
        return {"title": self.batch.title} | bands | {"verdict": verdict, "keep": keep} | tail


Drying, Thickest = drying.Drying, drying.Thickest


def _told(reason) -> dict:
    return {"rule": reason.rule, "text": reason.text, "source": reason.source}


def plan(batch: Batch, members: int = MEMBERS, draws: Draws | None = None, sketch: bool = False) -> Outcome:
    """Carry a batch through the whole chain.

    Parameters: batch – from a batch file; members – size of the ensemble; draws – own draws instead of the usual ones;
    sketch – two days of drying, solved to about 0.6 % of the weight left, for a picture that follows a hand.
    Raises: InputError for input that cannot be; odd but possible input is computed and judged.
    """
    draws = draws or Draws(members)
    fish, cured, heated = until_laid(batch, draws)
    load = drying.dry_load(batch, cured, draws, sketch)
    outside = outside_tested(batch, load)
    facts = facts_of(batch, fish, cured, heated, load, outside)
    verdict = safety.judge(facts)
    keep = keeping_of(batch, fish, load, verdict, draws)
    sections = _sections(batch, fish, cured, cured.brine, load)
    unknown = _unknown(batch, sections, verdict)
    rules = [reason.source for reason in verdict.reasons if reason.source]
    notes = cured.notes + _load_notes(batch, load) + tuple(outside)
    return Outcome(
        batch=batch, **sections, verdict=verdict, keep=keep, unknown=unknown,
        sources=tuple(dict.fromkeys([*SOURCES, *rules])), notes=notes,
        hours_by_share=hours_by_share_of(load), load=load, cured=cured, raw=fish,
    )  # fmt: skip


def soaked(batch: Batch, draws: Draws) -> tuple[Fish, Cured]:
    """The fish as it comes, and after all its soaks and rests, before any heating."""
    fish = prepare_fish(batch, draws)
    cured = salting.raw(fish)
    for name in ("presoak", "brine"):
        soak = getattr(batch, name)
        cured = salting.cure(cured, soak, draws, name) if soak else cured
    if batch.rest:
        cured = salting.rest(cured, batch.rest["time"].value, batch.rest["temperature"].value, draws)
    for soak in batch.freshen:
        cured = freshen(cured, soak, draws)
    return fish, cured


def until_laid(batch: Batch, draws: Draws) -> tuple[Fish, Cured, Heated | None]:
    """The fish as it comes, as it is laid on the trays, and how it was heated."""
    fish, cured = soaked(batch, draws)
    heated = heat(cured, batch.heat, draws) if batch.heat else None
    return fish, heated.cured if heated else cured, heated


@dataclass(frozen=True)
class Glimpse:
    """What follows a slider: how the thickest piece dries, the weight to stop at, the verdict and the keeping."""

    batch: Batch
    drying: dict[str, Band]
    verdict: safety.Verdict
    keep: storing.Keeping
    load: Thickest = field(repr=False)


class Explorer:
    """A batch with four things that a slider changes; what a move leaves as it was is kept from the move before."""

    def __init__(self, batch: Batch, members: int = 20):
        self.batch, self.draws = batch, KeptDraws(members)
        self._brine_water = _brine_water(batch)
        self._laid = (None, None)

    def at(self, *, thickness: float, fat: float, salt: float, temperature: float) -> Glimpse:
        """See `explore`."""
        batch = self._changed(thickness, fat, salt, temperature)
        if self._laid[0] != (thickness, fat, salt):
            self._laid = (thickness, fat, salt), until_laid(batch, self.draws)
        fish, cured, heated = self._laid[1]
        load = drying.dry_thickest(batch, cured, self.draws)
        verdict = safety.judge(facts_of(batch, fish, cured, heated, load, outside_tested(batch, load)))
        bands = {"hours_to_target": band(load.hours), "mass_ratio": exact(load.mass_ratio)}
        return Glimpse(batch, bands, verdict, keeping_of(batch, fish, load, verdict, self.draws), load)

    def _changed(self, thickness: float, fat: float, salt: float, temperature: float) -> Batch:
        scale = thickness / self.batch.cut["thickness"].value
        sizes = {n: f"{1000 * self.batch.cut[n].value * scale:.3f} mm" for n in SIZES if n in self.batch.cut}
        typed = self.batch.typed | {
            "cut": self.batch.typed["cut"] | sizes,
            "fish": self.batch.typed["fish"] | {"fat": round(100 * fat, 3)},
            "dryer": self.batch.typed["dryer"] | {"temperature": f"{temperature:g} °C"},
        }
        if salt > 0:
            water = 1000 * self._brine_water
            rows = [{"what": "water", "amount": f"{water:.3f} g"}]
            rows.append({"what": "pickling salt", "amount": f"{water * salt / (1 - salt):.3f} g"})
            soak = typed.get("brine", {"time": "10 h", "temperature": "3 °C"})
            typed["brine"] = soak | {"method": "wet", "ingredient": rows}
        else:
            typed = {name: value for name, value in typed.items() if name not in ("brine", "freshen")}
        return read_batch(typed)


def explore(
    batch: Batch, *, thickness: float, fat: float, salt: float, temperature: float, members: int = 20
) -> Glimpse:
    """The batch with four things changed, as a slider would: usual thickness [m], fat [fraction], salt of the
    brine [fraction of the whole brine] and dryer temperature [°C]. The other pieces keep their ratio to it. Drying is
    a sketch of two days (`plan`). An `Explorer` is quicker for move after move.
    """
    return Explorer(batch, members).at(thickness=thickness, fat=fat, salt=salt, temperature=temperature)


def _brine_water(batch: Batch) -> float:
    """Water of the batch's own brine, kg; without one, or for a dry cure, a brine of the fish's own weight."""
    if batch.brine is None or batch.brine["method"] == "dry":
        return batch.fish["raw_weight"].value
    return float(np.median(mix(batch.brine, Draws(1)).water))


@dataclass(frozen=True)
class KeptDraws(Draws):
    """Draws that are asked for again and again: the places in every distribution are drawn once."""

    kept: dict[str, np.ndarray] = field(default_factory=dict, repr=False)

    def _shares(self, name: str) -> np.ndarray:
        if name not in self.kept:
            self.kept[name] = super()._shares(name)
        return self.kept[name]


def _sections(batch: Batch, fish: Fish, cured: Cured, brine: Brine | None, load: Drying) -> dict:
    """The numbers of the plan, section by section."""
    dried = load.dried
    mass = dried.mass
    serving = batch.serving.value
    wet = batch.brine is not None and batch.brine["method"] == "wet"
    return {
        "fish": {
            "water_fraction": band(fish.flesh.water), "protein_fraction": band(fish.flesh.protein), "fat_fraction": band(fish.flesh.fat),
        },
        "brine": _brine_bands(brine if wet else None, cure=batch.brine is not None),
        "salted": {
            "water_phase_salt": band(cured.water_phase_salt), "water_phase_salt_centre": band(cured.water_phase_salt_centre),
            "salt_fraction": band(cured.salt_fraction), "mass_kg": band(cured.mass),
        },
        "drying": {
            "wet_bulb_c": band(load.wet_bulb), "hours_to_target": band(load.hours),
            "hours_flesh_10_to_57_c": band(load.growth_hours), "hours_flesh_above_21_c": band(load.warm_hours),
            "target_mass_kg": _if_reached(load, load.target_mass), "mass_ratio": exact(load.mass_ratio), "kwh": _if_reached(load, load.kwh),
        },
        "dried": {
            "water_fraction": band(dried.water / mass), "salt_fraction": band(dried.salt / mass),
            "water_activity": band(drying.activity(dried, load.isotherm)),
            "sodium_mg_per_serving": band(storing.sodium_mg_per_serving(dried.salt / mass, serving)),
        },
    }  # fmt: skip


def _if_reached(load: Drying, values) -> Band:
    return UNKNOWN if not load.reached else band(values)


def _brine_bands(brine: Brine | None, cure: bool) -> dict[str, Band]:
    names = ("solute_fraction_salt", "solute_fraction_sugar", "salometer", "water_activity", "mass_kg", "volume_l")
    if brine is None and cure:
        return dict.fromkeys(names, UNKNOWN)
    if brine is None:
        return dict(zip(names, (exact(0), exact(0), exact(0), exact(1), exact(0), exact(0)), strict=True))
    values = (
        brine.salt_fraction,
        brine.sugar_fraction,
        brine.salometer,
        brine.water_activity,
        brine.mass,
        brine.volume,
    )
    return dict(zip(names, map(band, values), strict=True))


def hours_by_share_of(load: Drying) -> dict[str, Band]:
    """When a quarter, half, three quarters and all of the pieces are done: hours are interpolated over the piece sizes."""
    thin, usual, thick = load.hours_by_class
    with np.errstate(invalid="ignore"):
        quarter, three_quarters = 0.4 * thin + 0.6 * usual, 0.7 * usual + 0.3 * thick
    return {"a quarter": band(quarter), "half": band(usual), "three quarters": band(three_quarters), "all": band(thick)}


def outside_tested(batch: Batch, load: Thickest) -> list[str]:
    """What lies outside the range in which the models were tested, in words; then no verdict is given."""
    words = []
    thin, _, thick = load_sizes(batch)
    if thin < TESTED_THICKNESS[0] - 1e-9 or thick > TESTED_THICKNESS[1] + 1e-9:
        words.append(
            f"pieces of {1000 * thin:.0f}–{1000 * thick:.0f} mm: the drying model was tested for 3–15 mm (1/8–5/8 in)"
        )
    if not TESTED_DRYER[0] <= batch.dryer["temperature"].value <= TESTED_DRYER[1]:
        words.append(f"a dryer at {batch.dryer['temperature']}: the drying model was tested for 20–75 °C (68–167 °F)")
    if batch.cut.get("form") == "whole":
        words.append(
            "whole fish: salt and water move through the belly cavity, which the models for flat pieces leave out"
        )
    return words


def load_sizes(batch: Batch) -> tuple[float, float, float]:
    """Thinnest, usual and thickest piece, m."""
    usual = batch.cut["thickness"].value
    return tuple(batch.cut[n].value if n in batch.cut else usual for n in SIZES)


def _load_notes(batch: Batch, load: Drying) -> tuple[str, ...]:
    notes = []
    if load.load_area_ratio > 1.0:
        notes.append(
            f"Overload: laid side by side this fish covers {load.load_area_ratio:.1f} times the area of the trays. Pieces that "
            "overlap dry from one face or not at all: dry it in two batches or add trays."
        )
    setting = batch.dryer["temperature"].value
    if load.coolest_air < setting - 5:
        notes.append(
            f"With this load the air in the dryer falls to about {load.coolest_air:.0f} °C ({load.coolest_air * 1.8 + 32:.0f} °F) in the "
            f"first two hours, well under the dial: the heater is busy drying. Less fish at a time keeps it warmer and drier."
        )
    salt = float(np.median(load.dried.salt / load.dried.mass))
    if salt > VERY_SALTY:
        notes.append(
            f"Very salty: the dried fish will be about {100 * salt:.0f} % salt. Freshening in plain water before drying is wise, or "
            "serve small portions with unsalted rice, potatoes or in soup."
        )
    return tuple(notes)


def facts_of(
    batch: Batch, fish: Fish, cured: Cured, heated: Heated | None, load: Thickest, outside: list[str]
) -> safety.Facts:
    """What the rules need to know, at the cautious end; None stands for not known."""
    own, keep = batch.fish, batch.keep
    soaks = [
        (soak["temperature"].value, soak["time"].value / 3600)
        for soak in (batch.presoak, batch.brine, batch.rest)
        if soak
    ]
    soaks += [(soak["temperature"].value, soak["time"].value / 3600 * soak.get("changes", 1)) for soak in batch.freshen]
    warm = {limit: sum(hours for degrees, hours in soaks if degrees > limit) for limit in (4.4, 10.0, 21.1)}
    brine_salt = (batch.presoak or {}).get("ingredient", ()) + (batch.brine or {}).get("ingredient", ())
    kinds = {tables.ingredient(row["what"]).kind for row in brine_salt}
    return safety.Facts(
        species_known=fish.species is not None,
        histamine_former=fish.species.histamine_former if fish.species else None,
        advisory_species=bool(fish.species.advisory) if fish.species else False,
        gutted=own.get("gutted"), origin=own.get("origin"), stock=own.get("stock"),
        frozen_at=own["frozen_at"].value if "frozen_at" in own else None, frozen_days=own.get("frozen_days"),
        hours_above_4c=own.get("hours_above_4c"), hours_above_21c=own.get("hours_above_21c"),
        warmest_held=own["warmest"].value if "warmest" in own else None,
        smells_normal=own.get("smells_normal"), thawed_in_vacuum=own.get("thawed_in_vacuum"),
        cure_hours_above_4c=warm[4.4], cure_hours_above_10c=warm[10.0], cure_hours_above_21c=warm[21.1],
        vinegar_or_acid="acid" in kinds, sugar_used=bool(np.median(load.dried.sugar) > 1e-4), freshened=bool(batch.freshen),
        heat_core=heated.core if heated else None, heat_hold_min=heated.hold_minutes if heated else None,
        hours_flesh_10_to_57=upper_end(load.growth_hours), hours_flesh_above_21=upper_end(load.warm_hours),
        water_activity_cautious=upper_end(drying.activity(load.dried, load.isotherm, cautious=True)),
        water_activity_mid=float(np.median(drying.activity(load.dried, load.isotherm))),
        water_activity_measured=keep.get("measured_water_activity"), measured_error=keep.get("measured_error"),
        water_phase_salt=float(np.quantile(cured.water_phase_salt_centre, 0.025)),
        place=keep.get("place"), pack=tables.pack(keep["pack"]) if "pack" in keep else None,
        fat_raw=fish.fat_raw, outside_range=tuple(outside), target_reached=load.sure_to_reach,
    )  # fmt: skip


def keeping_of(batch: Batch, fish: Fish, load: Thickest, verdict, draws: Draws) -> storing.Keeping:
    keep, room = batch.keep, batch.room
    return storing.keep_until(
        load.dried,
        pack=tables.pack(keep["pack"]) if "pack" in keep else None,
        amount=keep["per_pack"].value if "per_pack" in keep else None,
        place=keep.get("place"),
        room_temperature=room["temperature"].value if "temperature" in room else None,
        room_humidity=room.get("relative_humidity"),
        verdict=verdict,
        fat_raw=fish.fat_raw,
        **load.isotherm,
        measured_water_activity=_measured(keep),
    )


def _measured(keep: dict) -> float | None:
    """A meter's water activity with its error added; without the error it counts for nothing."""
    if not {"measured_water_activity", "measured_error"} <= keep.keys():
        return None
    return min(keep["measured_water_activity"] + keep["measured_error"], 1.0)


def _unknown(batch: Batch, sections: dict, verdict) -> tuple[str, ...]:
    """What could not be said, by path, and what was not told, by field."""
    paths = [f"{name}.{key}" for name, part in sections.items() for key, value in part.items() if not value.known]
    fields = [
        f"{section}.{key}"
        for section, keys in (
            ("fish", ("gutted", "origin", "hours_above_4c", "hours_above_21c", "smells_normal", "stock")),
            ("dryer", ("heater", "fresh_air")), ("room", ("temperature", "relative_humidity")), ("keep", ("place", "pack")),
        )
        for key in keys
        if key not in getattr(batch, section)
    ]  # fmt: skip
    return tuple(dict.fromkeys([*paths, *fields, *getattr(verdict, "unknown", ())]))
