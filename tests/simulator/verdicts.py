"""What the package's rules would say of a simulated batch if they knew the truth: its warm hours, its water activity, and
whether it came to its weight. Whatever else the rules ask for is told, so that those three decide."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from flakeyard.models import warm_clock
from flakeyard.steps.judge import safety
from flakeyard.steps.judge.warm_hours import WarmHours
from flakeyard.steps.plan import deadlines
from flakeyard.steps.plan.judging import facts_of

FISH = {
    "gutted": True, "origin": "farmed", "smells_normal": True, "hours_above_4c": 0.2, "hours_above_21c": 0.0, "warmest": "10 °C",
    "thawed_in_vacuum": False, "waters": "cold or temperate",
}  # fmt: skip
HEAT = {"checked": "probe", "to_tray": "10 min"}


def told(batch: dict) -> dict:
    """A batch file in which the history of the fish is told and harmless."""
    heat = {"heat": batch["heat"] | HEAT} if "heat" in batch else {}
    return batch | {"fish": batch["fish"] | FISH} | heat


def said_and_true(kitchen, learned) -> tuple[tuple[str, str], tuple[str, str]]:
    """(keep, eat) as a log said it, and as the same rules say it of the truth."""
    truth, outcome = kitchen.truth, learned.outcome
    ratio = outcome.drying["mass_ratio"].mid
    done, activity = truth.hours(ratio), truth.water_activity(ratio)
    warm = deadlines.on_the_bench(outcome.batch).plus(_warm(truth, done))
    facts = replace(
        facts_of(outcome.batch, outcome.laid, outcome.load), warm=warm, hours_flesh_10_to_57=warm.h,
        water_activity_cautious=activity, water_activity_mid=activity, water_activity_measured=activity, measured_error=0.0,
        measured_by="laboratory", target_reached=bool(np.isfinite(done)),
    )  # fmt: skip
    true = safety.judge(facts)
    return (outcome.verdict.keep, outcome.verdict.eat), (true.keep, true.eat)


def _warm(truth, done: float) -> WarmHours:
    """The five counts of the marked piece, until it was dry (or to the end)."""
    made, (tray, size) = truth.laid, truth.hidden["marked"]
    water = np.maximum(made.water - (1 - np.minimum.accumulate(truth.marked)), 1e-4)
    activity = np.clip(truth.law.activity(water / made.solids, made.salt / made.solids, made.sugar / made.solids), 0, 1)
    flesh, air = truth.course.flesh[:, tray, size], truth.course.air[:, tray]
    begun = truth.times[0]
    short = len(truth.times) - len(flesh)  # what has no row before the first
    flesh, air = (np.concatenate([one[:1].repeat(max(short, 0)), one])[: len(truth.times)] for one in (flesh, air))
    until = 3600 * ((done if np.isfinite(done) else truth.times[-1]) - begun)
    return WarmHours(
        *(float(n) for n in warm_clock.warm_hours(3600 * (truth.times - begun), flesh, air, activity, until))
    )


def milder(said: tuple[str, str], true: tuple[str, str]) -> bool:
    """Whether a verdict asks for less than the truth does."""
    orders = (safety.KEEP, safety.EAT)
    return any(order.index(one) < order.index(other) for order, one, other in zip(orders, said, true, strict=True))
