"""The bridge from a batch to the rules: what is known of it as facts, and what the rules and the clocks make of them.

One function judges, for the plan, for every panel and for the log: `judge`. Whatever is not told or cannot be known
stays None on its way across, and the rules take it for the worse value.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flakeyard.steps.chain import drying
from flakeyard.steps.chain.drying import Thickest
from flakeyard.steps.chain.laying import Laid
from flakeyard.steps.intent.outside import Outside, joined
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import upper_end
from flakeyard.steps.judge import safety, storing

TESTED_THICKNESS = drying.TESTED["thickness"][:2]  # m
COLD, COOL, WARM = 4.4, 10.0, 21.1  # degC: what the clocks of the raw fish call above 40, 50 and 70 °F
SUGAR_COUNTS = 1e-4  # kg per kg as laid; less than a trace of sugar is none (judgement)


@dataclass(frozen=True)
class Judgement:
    """What the rules were told of a batch, and what they and the clocks of keeping said."""

    facts: safety.Facts
    verdict: safety.Verdict
    keep: storing.Keeping
    outside: tuple[Outside, ...]


def judge(batch: Batch, laid: Laid, load: Thickest) -> Judgement:
    """Judge a batch from what is intended, how it lies on the trays, and how its thickest piece dries (or dried)."""
    outside = joined(laid.cured.outside, load.outside)
    facts = facts_of(batch, laid, load, tuple(one.words for one in outside if one.decides))
    verdict = safety.judge(facts)
    keep = keeping_of(batch, laid, load, verdict)
    return Judgement(facts, verdict, keep, joined(outside, keep.outside))


def facts_of(batch: Batch, laid: Laid, load: Thickest, outside: tuple[str, ...] = ()) -> safety.Facts:
    """What the rules need to know, at the cautious end; None stands for not known."""
    return safety.Facts(
        **_of_the_fish(batch, laid), **_of_the_soaks(batch), **_of_the_heating(laid), **_of_the_drying(load),
        **_of_the_keeping(batch), water_phase_salt=float(np.quantile(laid.cured.water_phase_salt_centre, 0.025)),
        outside_range=outside,
    )  # fmt: skip


def _of_the_fish(batch: Batch, laid: Laid) -> dict:
    own, species = batch.fish, laid.raw.species
    told = ("gutted", "origin", "stock", "frozen_at", "frozen_days", "hours_above_4c", "hours_above_21c")
    return {name: getattr(own, name) for name in (*told, "smells_normal", "thawed_in_vacuum")} | {
        "warmest_held": own.warmest, "species_known": species is not None,
        "histamine_former": species.histamine_former if species else None,
        "advisory_species": bool(species.advisory) if species else False, "fat_raw": laid.raw.fat_raw,
    }  # fmt: skip


def _of_the_soaks(batch: Batch) -> dict:
    """Hours of soaks and rests above three temperatures, and what was in them."""
    above = {limit: sum(step.hours for step in batch.rests if step.temperature > limit) for limit in (COLD, COOL, WARM)}
    return {
        "cure_hours_above_4c": above[COLD], "cure_hours_above_10c": above[COOL], "cure_hours_above_21c": above[WARM],
        "vinegar_or_acid": any(row.record.kind == "acid" for row in batch.ingredients), "freshened": bool(batch.freshen),
    }  # fmt: skip


def _of_the_heating(laid: Laid) -> dict:
    heated = laid.heated
    return {"heat_core": heated and heated.core, "heat_hold_min": heated and heated.hold_minutes}


def _of_the_drying(load: Thickest) -> dict:
    return {
        "sugar_used": bool(np.median(load.dried.sugar) > SUGAR_COUNTS), "target_reached": load.sure_to_reach,
        "hours_flesh_10_to_57": upper_end(load.growth_hours), "hours_flesh_above_21": upper_end(load.warm_hours),
        "water_activity_cautious": upper_end(drying.activity(load.dried, load.isotherm, cautious=True)),
        "water_activity_mid": float(np.median(drying.activity(load.dried, load.isotherm))),
    }  # fmt: skip


def _of_the_keeping(batch: Batch) -> dict:
    keep = batch.keep
    return {
        "water_activity_measured": keep.measured_water_activity, "measured_error": keep.measured_error,
        "place": keep.place, "pack": keep.pack_record, "cupboard_outside": storing.cupboard_outside(batch.room.temperature),
    }  # fmt: skip


def keeping_of(batch: Batch, laid: Laid, load: Thickest, verdict: safety.Verdict) -> storing.Keeping:
    """Until when the batch may be kept, by the clocks of keeping."""
    keep, room = batch.keep, batch.room
    store = storing.Storage(
        pack=keep.pack_record, amount=keep.per_pack, place=keep.place, room_temperature=room.temperature,
        room_humidity=room.relative_humidity, fat_raw=laid.raw.fat_raw, measured=keep.measured_end,
    )  # fmt: skip
    return storing.keep_until(load.dried, verdict, store, load.isotherm)
