"""The verdict of a plan against a truth it cannot see, and that knowing less never makes a verdict milder.

A plan is made from its own ensemble. The truth is one member of another ensemble: a fish, a dryer and an isotherm drawn
from the same spreads (the isotherm's own error is among them), dried to the weight that the plan gave. What it then has
for water activity and hours goes into the same rules without any margin. All batches are invented here.
"""

import random
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_chain_properties import PACKS, cured_fish, less, random_fish, random_typed

from flakeyard import tables
from flakeyard.steps import batch as batches
from flakeyard.steps import drying, safety, storing
from flakeyard.steps.batch_file import read_batch
from flakeyard.steps.heating import heat
from flakeyard.steps.safety import EAT, KEEP, Facts, judge
from flakeyard.steps.spread import Draws, upper_end

TRUTHS = 8  # members drawn as the truth for each plan
MOST_MILDER = 0.02  # judgement: the share of cases in which a cautious end at 97.5 % may be passed
GOOD = {
    "gutted": True, "origin": "farmed", "stock": "fresh", "smells_normal": True,
    "hours_above_4c": 0.0, "hours_above_21c": 0.0, "thawed_in_vacuum": False,
}  # fmt: skip


def milder(one, other) -> bool:
    """Whether the first verdict is milder than the second, for keeping or for eating."""
    return KEEP.index(one.keep) < KEEP.index(other.keep) or EAT.index(one.eat) < EAT.index(other.eat)


def facts_of(batch, draws: Draws, ratio: float | None = None) -> tuple[Facts, batches.Outcome]:
    """The facts that a plan is judged by, and the plan; with a ratio it stops at that weight instead of its own."""
    seen = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(safety, "judge", lambda facts: seen.append(facts) or judge(facts))
        if ratio is not None:
            patch.setattr(drying, "stopping_ratio", lambda *_: ratio)
        outcome = batches.plan(batch, draws=draws)
    return seen[0], outcome


def near_a_water_activity(luck: random.Random) -> dict:
    """A well kept, heated batch whose cautious end lies within 0.03 of a line of the ladder at the weight to stop."""
    typed = random_typed(luck, told=1.0)
    typed["fish"] |= GOOD
    typed["heat"] = {"core": "75 °C", "hold": "1 min"}
    typed["dryer"]["temperature"] = f"{luck.uniform(45, 75):.2f} °C"
    typed["room"]["relative_humidity"] = luck.randint(15, 60)
    wanted = luck.choice((safety.SHELF_ESTIMATED, safety.SHELF_MEASURED)) + luck.uniform(-0.03, 0.03)
    typed["keep"] = {"place": "cupboard", "pack": "paper bag", "target_moisture": moisture_for(typed, wanted)}
    return typed


def moisture_for(typed: dict, wanted: float) -> float:
    """Per cent of moisture at which the cautious end is as wanted, as near as a batch file takes it."""
    batch, draws = read_batch(typed), Draws(100)
    flesh = heat(cured_fish(batch, draws), batch.heat, draws).cured.flesh
    piece = drying._select(drying._per_piece(flesh), -1)
    isotherm = {
        "protein_factor": draws.lognormal("protein water", 1.0, drying.PROTEIN_LN_SD),
        "gab_k": draws.triangular("isotherm moist end", *drying.GAB_K),
    }
    dry = float(np.median(1 - piece.water))
    low, high = 0.05, 0.60
    for _ in range(25):
        middle = 0.5 * (low + high)
        end = upper_end(drying.activity(drying.dried_to(piece, dry / (1 - middle)), isotherm, cautious=True))
        low, high = (middle, high) if end < wanted else (low, middle)
    return round(100 * low, 3)


def near_a_clock(luck: random.Random) -> dict:
    """A well kept batch of thin raw fish, that dries in a few hours."""
    typed = random_typed(luck, told=1.0)
    typed["fish"] |= GOOD
    usual = luck.uniform(3.0, 5.0)
    typed["cut"] = {"form": "strips", "skin": "off", "thickness": f"{usual:.2f} mm", "width": "30 mm"}
    typed["dryer"] = {"temperature": f"{luck.uniform(40, 75):.2f} °C", "trays": 12, "tray_area": "2000 cm2", "faces": 2}
    typed["room"]["relative_humidity"] = luck.randint(15, 60)
    typed["fish"]["raw_weight"] = "0.30 kg"
    typed["keep"] = {"place": luck.choice(("cupboard", "freezer")), "pack": "paper bag"}
    return {name: typed[name] for name in typed if name not in ("heat", "brine", "freshen", "rest")}


def at_a_limit(luck: random.Random, facts: Facts) -> dict:
    """Hours before the drying that bring the clock to within half an hour of one of its limits."""
    limits = (("hours_above_4c", "hours_flesh_10_to_57", safety.CLOCK_HOURS),)
    limits += (("hours_above_21c", "hours_flesh_above_21", safety.CLOCK_WARM_HOURS),)
    name, drying_hours, limit = luck.choice(limits)
    return {name: max(0.0, limit - getattr(facts, drying_hours) + luck.uniform(-0.5, 0.5))}


def compare(number: int, members: int) -> tuple[list[bool], bool]:
    """For every truth of one batch, whether the plan's verdict is milder; and whether the batch lies near a limit."""
    luck = random.Random(number)
    kind = ("any", "water activity", "any", "clock")[number % 4]
    make = {"any": lambda luck: random_typed(luck, told=0.97), "water activity": near_a_water_activity, "clock": near_a_clock}
    batch = read_batch(make[kind](luck))
    facts, outcome = facts_of(batch, Draws(members))
    before = at_a_limit(luck, facts) if kind == "clock" else {}
    verdict = judge(replace(facts, **before))
    assert before or (verdict.keep, verdict.eat) == (outcome.verdict.keep, outcome.verdict.eat)
    return [milder(verdict, judge(true)) for true in truths(batch, number, outcome.load.mass_ratio, before)], verdict, kind


def truths(batch, number: int, ratio: float, before: dict) -> list[Facts]:
    """The facts as they are for single members of another ensemble, dried to the plan's weight; nothing is added."""
    facts, outcome = facts_of(batch, Draws(TRUTHS, seed=1000 + number), ratio)
    load = outcome.load
    activity = drying.activity(load.dried, {"protein_factor": load.protein_factor, "gab_k": load.gab_k})
    return [
        replace(
            facts, water_activity_cautious=float(activity[i]), water_activity_mid=float(activity[i]),
            hours_flesh_10_to_57=float(load.growth_hours[i]), hours_flesh_above_21=float(load.warm_hours[i]),
            target_reached=bool(np.isfinite(load.hours[i])), **before,
        )
        for i in range(TRUTHS)
    ]  # fmt: skip
