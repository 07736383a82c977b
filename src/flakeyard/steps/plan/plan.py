"""The whole chain: from what a preserver intends (a Batch) to what to expect (an Outcome)."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from flakeyard import limits
from flakeyard.messages import number, say
from flakeyard.steps.chain import airing, drying
from flakeyard.steps.chain.brining import Brine
from flakeyard.steps.chain.drying import Drying
from flakeyard.steps.chain.fish import RawFish
from flakeyard.steps.chain.laying import Laid, until_laid
from flakeyard.steps.chain.salting import Cured
from flakeyard.steps.intent.batch_file import Batch, load_batch, read_batch
from flakeyard.steps.intent.outside import spoken
from flakeyard.steps.intent.spread import MEMBERS, UNKNOWN, Band, Draws, band, exact
from flakeyard.steps.judge import safety, storing
from flakeyard.steps.plan import measured
from flakeyard.steps.plan.judging import judge
from flakeyard.units import show

__all__ = ["Batch", "Outcome", "load_batch", "plan", "read_batch"]

MISPRINT = 0.015  # of 1: labels are rounded (judgement)
TAKES_UP = 0.005  # of the weight as laid, below which it is not worth a word (judgement)
SOURCES = ("laliberte_2009", "appelo_2015", "crank_1975", "boudreau_1997", "usda_sr28", "fda_hazards_2001")
SECTIONS = ("fish", "brine", "salted", "drying", "dried", "marked")
HELPFUL = {  # what a plan asks for, by section; what is not told of it is named
    "fish": ("gutted", "origin", "hours_above_4c", "hours_above_21c", "smells_normal", "stock"),
    "dryer": ("heater", "fresh_air"), "room": ("temperature", "relative_humidity"), "keep": ("place", "pack"),
}  # fmt: skip


@dataclass(frozen=True)
class Outcome:
    """What to expect of a batch: every number a Band (10th, 50th, 90th percentile); the steps are kept for pictures.

    Two states: ``marked`` is the marked, thickest piece at its weight to stop at, which all safety is read from; ``dried`` is
    the load, each piece taken out at that share of its own weight (its water activity is that of the marked piece).
    """

    batch: Batch
    fish: dict[str, Band]
    brine: dict[str, Band]
    salted: dict[str, Band]
    drying: dict[str, Band]
    dried: dict[str, Band]
    marked: dict[str, Band]
    verdict: safety.Verdict
    keep: storing.Keeping
    unknown: tuple[str, ...]
    sources: tuple[str, ...]
    notes: tuple[str, ...]
    hours_by_share: dict[str, Band]
    laid: Laid = field(repr=False)
    load: Drying = field(repr=False)
    facts: safety.Facts = field(repr=False)
    carried_at: float | None = None  # °C, where the cupboard is judged for a warmer place than the room

    @property
    def cured(self) -> Cured:
        """The fish as it is laid on the trays."""
        return self.laid.cured

    @property
    def raw(self) -> RawFish:
        return self.laid.raw

    def as_dict(self) -> dict:
        """The same as plain dictionaries, lists and numbers, ready for JSON."""
        bands = {name: {key: value.as_dict() for key, value in getattr(self, name).items()} for name in SECTIONS}
        verdict = {
            "keep": self.verdict.keep,
            "eat": self.verdict.eat,
            "water_activity_used": self.verdict.water_activity_used,
            "reasons": [_told(reason) for reason in self.verdict.reasons],
            "cautions": [_told(caution) for caution in self.verdict.cautions],
            "by": [vars(deadline) for deadline in self.verdict.by],
        }
        keep = {"days": self.keep.days, "limited_by": self.keep.limited_by}
        tail = {"unknown": list(self.unknown), "sources": list(self.sources), "notes": list(self.notes)}
        return {"title": self.batch.title} | bands | {"verdict": verdict, "keep": keep} | tail


def _told(reason) -> dict:
    return {"rule": reason.rule, "text": reason.text, "source": reason.source}


def plan(batch: Batch, members: int = MEMBERS, draws: Draws | None = None, sketch: bool = False) -> Outcome:
    """Carry a batch through the whole chain.

    Parameters: batch – from a batch file; members – size of the ensemble; draws – own draws instead of the usual ones;
    sketch – two days of drying, solved to about 0.6 % of the weight left, for a picture that follows a hand.
    Raises: InputError for input that cannot be; odd but possible input is computed and judged.
    """
    draws = measured.taken_in(batch, draws or Draws(members))
    laid = until_laid(batch, draws)
    load = drying.dry_load(batch, laid.cured, draws, sketch)
    judged = judge(batch, laid, load)
    sections = _sections(batch, laid, load)
    rules = [reason.source for reason in judged.verdict.reasons if reason.source]
    return Outcome(
        batch=batch, **sections, verdict=judged.verdict, keep=judged.keep, laid=laid, load=load, facts=judged.facts,
        unknown=_unknown(batch, sections, judged.verdict), sources=tuple(dict.fromkeys([*SOURCES, *rules])),
        notes=laid.cured.notes + (draws.taken or ()) + _load_notes(batch, load) + spoken(judged.outside), hours_by_share=hours_by_share_of(load),
    )  # fmt: skip


def _sections(batch: Batch, laid: Laid, load: Drying) -> dict:
    """The numbers of the plan, section by section."""
    fish, cured, marked, taken_out = laid.raw, laid.cured, load.dried, load.taken_out
    activity, salt = band(drying.activity(marked, load.isotherm)), taken_out.salt / taken_out.mass
    return {
        "fish": {
            "water_fraction": band(fish.flesh.water), "protein_fraction": band(fish.flesh.protein), "fat_fraction": band(fish.flesh.fat),
        },
        "brine": _brine_bands(cured.brine if batch.wet_brine else None, cure=batch.brine is not None),
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
            "water_fraction": band(taken_out.water / taken_out.mass), "salt_fraction": band(salt), "water_activity": activity,
            "sodium_mg_per_serving": band(storing.sodium_mg_per_serving(salt, batch.serving)),
            "mass_kg": band(taken_out.mass), "yield_of_raw": band(taken_out.mass / fish.mass),
        },
        "marked": {
            "water_fraction": band(marked.water / marked.mass), "salt_fraction": band(marked.salt / marked.mass),
            "water_activity": activity,
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
    """When a quarter, half, three quarters and all of the pieces are done: hours are interpolated over the piece sizes.

    Returns: Bands by share [h, 0 up]; None where it is never reached
    Source: models.slab_drying.dry; judgement, how sizes are shared out
    """
    thin, usual, thick = np.minimum.accumulate(load.hours_by_class[::-1])[::-1]  # all come out with the thickest
    with np.errstate(invalid="ignore"):
        quarter, three_quarters = 0.4 * thin + 0.6 * usual, 0.7 * usual + 0.3 * thick
    return {"a quarter": band(quarter), "half": band(usual), "three quarters": band(three_quarters), "all": band(thick)}


def already_dry(batch: Batch, load: Drying) -> str:
    """That there is nothing to dry, in words: by salt alone where no weight of one's own was asked for; "" where there is.

    Returns: str [sentence, any]
    Source: the weight to stop at
    """
    if not load.no_drying:
        return ""
    own = batch.keep.stop_at is not None or batch.keep.target_moisture is not None
    return say("plan.already_dry" if own or batch.brine is None else "plan.already_dry_by_salt")


def too_light(load: drying.Thickest) -> str:
    """That a weight of one's own is lighter than the piece can get, in words.

    Returns: str [sentence, any]
    Source: steps.chain.stopping.bone_dry
    """
    return say("plan.too_light", percent=number(100 * load.lightest, ".0f"))


def _load_notes(batch: Batch, load: Drying) -> tuple[str, ...]:
    notes = []
    if load.load_area_ratio > 1.0:
        name = "overload" if load.layers > 1 else "crowded"
        ratio = load.load_area_ratio
        over = number(ratio, ".1f") if load.layers > 1 else number(max(1.01, ratio), ".2f")
        notes.append(say(f"plan.{name}", over=over, layers=str(load.layers)))
    told = batch.fish.told_sum
    if told is not None and abs(told - 1.0) > MISPRINT:
        notes.append(say("plan.adds_up", percent=100 * told))
    if load.no_drying:
        notes.append(already_dry(batch, load))
    if batch.keep.stop_at is not None and load.mass_ratio < load.lightest:
        notes.append(too_light(load))
    if load.brine_stays:
        notes.append(say("plan.brine_stays"))
    notes += filter(None, (airing.in_words(batch),))
    wettest = float(np.median(load.result.mass_ratio.max(axis=-1)))
    if wettest > 1.0 + TAKES_UP:
        notes.append(say("plan.takes_up", percent=100 * (wettest - 1)))
    setting = batch.dryer.temperature
    if load.coolest_air < setting - 5 and not airing.changes(batch):
        notes.append(say("plan.cools", air=show(load.coolest_air, "temperature", "both")))
    notes += filter(None, (very_salty(load),))
    return tuple(notes)


def very_salty(load: Drying) -> str:
    """That dried fish is very salty, and what to do about it; nothing where it is not."""
    salt = salt_of(load)
    return say("plan.very_salty", salt=f"{100 * salt:.0f}") if salt > limits.VERY_SALTY else ""


def salt_of(load: Drying) -> float:
    """Salt of the dried fish, in the middle of all draws.

    Returns: float [kg/kg, 0–1]
    Source: a balance of masses
    """
    return float(np.median(load.taken_out.salt / load.taken_out.mass))


def _unknown(batch: Batch, sections: dict, verdict) -> tuple[str, ...]:
    """What could not be said, by path, and what was not told, by field."""
    paths = [f"{name}.{key}" for name, part in sections.items() for key, value in part.items() if not value.known]
    fields = [
        f"{section}.{key}"
        for section, keys in HELPFUL.items()
        for key in keys
        if getattr(getattr(batch, section), key) is None
    ]
    return tuple(dict.fromkeys([*paths, *batch.borrowed, *fields, *verdict.unknown]))
