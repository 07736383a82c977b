"""The bridge from a batch to the rules: what is known of it as facts, and what the rules and the clocks make of them.

One function judges, for the plan, for every panel and for the log: `judge`. Whatever is not told or cannot be known
stays None on its way across, and the rules take it for the worse value.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flakeyard import limits, refused, tables
from flakeyard.models.warm_clock import WarmCounts
from flakeyard.steps.chain import drying
from flakeyard.steps.chain.drying import Thickest
from flakeyard.steps.chain.laying import Laid
from flakeyard.steps.intent.outside import Outside, joined
from flakeyard.steps.intent.partial import borrowed_words
from flakeyard.steps.intent.records import Batch, Heat
from flakeyard.steps.intent.spread import upper_end
from flakeyard.steps.judge import safety, storing, warm_hours, water_check
from flakeyard.steps.judge.facts import PLAIN
from flakeyard.steps.judge.shown import PLAN
from flakeyard.steps.judge.warm_hours import WarmHours
from flakeyard.steps.plan import deadlines

TESTED_THICKNESS = drying.TESTED["thickness"][:2]  # m
ROUNDING = 1e-6  # K: a bath typed at a limit is not above it
SUGAR_COUNTS = 1e-4  # kg per kg as laid; less than a trace of sugar is none (judgement)


@dataclass(frozen=True)
class Judgement:
    """What the rules were told of a batch, and what they and the clocks of keeping said."""

    facts: safety.Facts
    verdict: safety.Verdict
    keep: storing.Keeping
    outside: tuple[Outside, ...]


def judge(batch: Batch, laid: Laid, load: Thickest, tense: str = PLAN) -> Judgement:
    """Judge a batch from what is intended, how it lies on the trays, and how its thickest piece dries (or dried, in the
    words of `shown.LOG`)."""
    outside = joined(laid.cured.outside, load.outside)
    facts = facts_of(batch, laid, load, tuple(one.words for one in outside if one.decides))
    verdict = safety.judge(facts, tense)
    verdict = replace(verdict, by=deadlines.of_a_plan(batch, load, facts))
    keep = keeping_of(batch, laid, load, verdict)
    return Judgement(facts, verdict, keep, joined(outside, keep.outside))


def facts_of(batch: Batch, laid: Laid, load: Thickest, outside: tuple[str, ...] = ()) -> safety.Facts:
    """What the rules need to know, at the cautious end; None stands for not known."""
    return safety.Facts(
        **_of_the_fish(batch, laid), **_of_the_soaks(batch), **_of_the_heating(batch.heat), **_of_the_drying(batch, load),
        **_of_the_keeping(batch), water_phase_salt=float(np.quantile(laid.cured.water_phase_salt_centre, 0.025)),
        outside_range=outside, borrowed=borrowed_words(batch),
    )  # fmt: skip


def _of_the_fish(batch: Batch, laid: Laid) -> dict:
    own = batch.fish
    species = None if "fish.species" in batch.borrowed else laid.raw.species
    told = ("gutted", "origin", "stock", "frozen_at", "frozen_days", "hours_above_4c", "hours_above_21c")
    return {name: getattr(own, name) for name in (*told, "smells_normal", "thawed_in_vacuum")} | {
        "warmest_held": own.warmest, "species_known": species is not None,
        "histamine_former": species.histamine_former if species else None,
        "advisory_species": bool(species.advisory) if species else None, "refused_as": _refused_as(species),
        "waters": own.waters, "fat_raw": laid.raw.fat_raw if species or own.fat is not None else None,
    }  # fmt: skip


def _refused_as(species: tables.Species | None) -> str | None:
    """The row of the table of refused fish that a fish falls under; None where the fish is not known."""
    if species is None:
        return None
    against = refused.of(species)
    return against.id if against else PLAIN


def _of_the_soaks(batch: Batch) -> dict:
    """Hours of soaks and rests above three temperatures, and what was in them."""
    above = {
        limit: sum(step.hours for step in batch.rests if step.temperature > limit + ROUNDING)
        for limit in (limits.COLD, limits.GROWTH_BOTTOM, limits.WARM)
    }
    return {
        "cure_hours_above_4c": above[limits.COLD], "cure_hours_above_10c": above[limits.GROWTH_BOTTOM], "cure_hours_above_21c": above[limits.WARM],
        "vinegar_or_acid": any(row.record.kind == "acid" for row in batch.ingredients), "freshened": bool(batch.freshen),
    }  # fmt: skip


def _of_the_heating(step: Heat | None) -> dict:
    if step is None:
        return {}
    return {"heat_core": step.core, "heat_hold_min": step.hold_minutes, "heat_probed": step.probed}


def heating_counts(step: Heat | None) -> bool:
    """Whether a heating kills what it should, by the rules."""
    return safety.Case(safety.Facts(**_of_the_heating(step))).killed


def warm_so_far(batch: Batch, counts: WarmCounts) -> WarmHours:
    """The cautious end of warm hours on the trays (members,), after those between the heating and the trays."""
    return deadlines.on_the_bench(batch).plus(warm_hours.upper_hours(counts))


def _of_the_drying(batch: Batch, load: Thickest) -> dict:
    return {
        "warm": warm_so_far(batch, load.taken_off),
        "sugar_used": bool(np.median(load.dried.sugar) > SUGAR_COUNTS), "target_reached": load.sure_to_reach,
        "hours_flesh_10_to_57": upper_end(load.growth_hours), "hours_flesh_above_21": upper_end(load.warm_hours),
        "water_activity_cautious": upper_end(load.cautious_activity()),
        "water_activity_mid": float(np.median(drying.activity(load.dried, load.isotherm))), "brine_stays": load.brine_stays,
    }  # fmt: skip


def _of_the_keeping(batch: Batch) -> dict:
    keep = batch.keep
    return {
        "water_activity_measured": keep.measured_water_activity, "measured_error": keep.measured_error,
        "measured_by": keep.measured_by, "place": keep.place, "pack": keep.pack_record, "cupboard_outside": storing.cupboard_outside(batch.room.temperature),
    }  # fmt: skip


def keeping_of(batch: Batch, laid: Laid, load: Thickest, verdict: safety.Verdict) -> storing.Keeping:
    """Until when the batch may be kept, by the clocks of keeping."""
    keep, room = batch.keep, batch.room
    measured = water_check.end_of_reading(keep.measured_water_activity, keep.measured_error, keep.measured_by)
    store = storing.Storage(
        pack=keep.pack_record, amount=keep.per_pack, place=keep.place, room_temperature=room.temperature,
        room_humidity=room.relative_humidity, fat_raw=laid.raw.fat_raw, measured=measured,
        brine_stays=load.brine_stays,
    )  # fmt: skip
    return storing.keep_until(load.dried, verdict, store, load.isotherm)
