"""What a cupboard would take by the rules, for somebody whose fish is refused there: how dry, which weight, what is in the way."""

from __future__ import annotations

import math

from flakeyard import limits
from flakeyard.messages import number, say
from flakeyard.steps.judge.facts import PLACES
from flakeyard.steps.judge.safety import KEEP
from flakeyard.steps.plan.plan import Outcome
from flakeyard.workbook import words


def refused_there(outcome: Outcome) -> bool:
    """Whether the cupboard was asked for and is not given, for how the fish is and not for whether it may be eaten at all."""
    place, keep = outcome.batch.keep.aim, outcome.verdict.keep
    return place == "cupboard" and keep in PLACES.values() and KEEP.index(keep) > KEEP.index(PLACES[place])


def not_for_it(outcome: Outcome, wanted_before: bool) -> str:
    """That fish granted for the cold is not what keeps in a cupboard, where that is what somebody may think: ``wanted_before``,
    or where it stays far moister; "" else."""
    verdict, used = outcome.verdict, outcome.facts.water_activity_cautious
    if KEEP.index(verdict.keep) <= KEEP.index(PLACES["cupboard"]) or outcome.batch.keep.aim == "cupboard":
        return ""
    if not (wanted_before or used is None or used > limits.MOIST):
        return ""
    return say("cupboard.not_for_it", place=say(f"ways.{outcome.batch.keep.aim}"))


def takes(outcome: Outcome, hours: str) -> str:
    """What a cupboard asks of it and what of that is missing here; ``hours`` – how long this fish takes to its weight to stop
    at, in words."""
    told = {
        "aim": f"{limits.CUPBOARD_AIM:.2f}",
        "most": f"{limits.CUPBOARD_ESTIMATE:.2f}",
        "moist": f"{limits.MOIST:.2f}",
    }
    return " ".join((say("cupboard.takes", **told), _missing(outcome, hours)))


def _missing(outcome: Outcome, hours: str) -> str:
    """What stands between this fish and the cupboard."""
    facts, ratio = outcome.facts, outcome.drying["mass_ratio"].mid
    if facts.cupboard_outside:
        return say("cupboard.room")
    if not facts.target_reached and ratio is not None:
        return say("cupboard.not_reached", percent=str(words.stop_percent(ratio)), hours=hours)
    if facts.water_activity_cautious is None:
        return say("cupboard.not_known")
    used = math.ceil(100 * facts.water_activity_cautious - 1e-6) / 100  # so that no excess reads as the limit itself
    return say("cupboard.brine" if facts.brine_stays else "cupboard.moist", used=number(used, ".2f"))
