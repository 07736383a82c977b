"""What is said to somebody who asks back: "what should it be?", "you tell me", "whatever's safe".

One sentence from the question's own rule. A value is offered with it only where it describes what the person will do, and it
counts only when confirmed; of what has happened nothing is ever offered.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from flakeyard import limits, spoken
from flakeyard.messages import say
from flakeyard.models.drying_physics import drying_range
from flakeyard.steps.plan.mending import CUTS, HOT, SOON
from flakeyard.units import show
from flakeyard.workbook.asked import ASKED
from flakeyard.workbook.heating_told import HEATING, KEYS
from flakeyard.workbook.meant import Reading
from flakeyard.workbook.question import Question, at_least, degrees
from flakeyard.workbook.short_words import YES
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.which_units import system_of
from flakeyard.workbook.words import in_system

ASKS = re.compile(
    r"\bwhat (?:should|must|shall|would|do) (?:it|they|that|i|we|you)\b|\byou (?:tell me|say|decide|choose|pick)\b"
    r"|\bwhat(?:ever|'s| is)?(?:'s| is)? (?:safe|best|right|needed|recommended|necessary)\b|\bwhatever (?:it takes|you (?:say|think|recommend))\b"
    r"|\b(?:if|when) i (?:should|must|have to|need to)\b|\bhow (?:hot|long|thick|thin|warm|many|soon) (?:should|must|does|do|is)\b"
    r"|\btell me what\b|\bwhat(?:'s| is) an? (?:\w+ )?(?:probe|core|thermometer)\b"
)
COULD_GET = re.compile(r"\b(?:could|can|would|will|i'll) (?:buy|get|borrow) (?:one|it|that|a)\b")
WILL_DO = (
    "heat",
    HEATING,
    "heat.core",
    "heat.hold",
    "heat.checked",
    "heat.to_tray",
    "cut.thickness",
    "dryer.temperature",
)
ADVISED = (*WILL_DO, "keep.wanted_days")  # places where somebody may ask back
OF_THE_HEATING = {one.key: (one.metric, one.us or one.metric) for one in ASKED["heat"] if one.key in KEYS}


@dataclass(frozen=True)
class Advice:
    """What the rule of a question says, and what may be done by it, to be confirmed; None where nothing is offered."""

    words: str
    offered: Reading | None


def advised(story: Story, question: Question, text: str) -> Advice | None:
    """What to say to an answer that asks back what it should be; None where it does not, or holds a number."""
    said = " ".join(text.replace("’", "'").casefold().split())
    asks = ASKS.search(said) or (question.section == "heat" and COULD_GET.search(said))
    if question.place not in ADVISED or not asks or re.search("[0-9]", spoken.numbers(said)):
        return None
    told = _told(question, us=system_of(story) == "us")
    words = in_system(_rule(question), system_of(story) or "both")
    return Advice(words, Reading(told, _shown(question, told)) if told else None)


def _rule(question: Question) -> str:
    """What the rule says, in one sentence."""
    low, high, _ = drying_range.bounds["thickness"]
    return say(
        f"advised.{'heating' if question.place in ('heat', HEATING) else question.key}",
        kill=degrees(limits.KILL_CORE), kill_held=at_least(limits.KILL_CORE_HELD), soon=SOON, top=degrees(limits.GROWTH_TOP),
        hottest=degrees(drying_range.bounds["temperature"][1]), low=show(low, "length", "both"), high=show(high, "length", "both"),
    )  # fmt: skip


def _told(question: Question, us: bool) -> tuple[tuple[str, str], ...]:
    """What may be done by the rule, place by place."""
    if question.place in ("heat", HEATING):
        door = (("heat", YES),) if question.place == "heat" else ()
        return (*door, *((f"heat.{key}", much[us]) for key, much in OF_THE_HEATING.items()))
    if question.section == "heat":
        return ((question.place, OF_THE_HEATING[question.key][us]),)
    if question.place == "cut.thickness":
        thinnest, usual, thickest = CUTS[1][us]
        return ((question.place, usual), ("cut.thinnest", thinnest), ("cut.thickest", thickest))
    return ((question.place, HOT[0][1 + us]),) if question.place == "dryer.temperature" else ()


def _shown(question: Question, told: tuple[tuple[str, str], ...]) -> str:
    """What is offered, in words."""
    if question.place in ("heat", HEATING):
        return say("advised.heat_it", core=told[-4][1], hold=told[-3][1], soon=told[-1][1])
    if question.place == "cut.thickness":
        return say("advised.cut_it", thinnest=told[1][1], thickest=told[2][1])
    return told[0][1]
