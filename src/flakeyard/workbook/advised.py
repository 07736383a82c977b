"""What is said to somebody who asks back: "what should it be?", "you tell me", "whatever's safe".

One sentence from the question's own rule. A value is offered with it only where it describes what the person will do, and it
counts only when confirmed; of what has happened nothing is ever offered.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from flakeyard import limits, spoken
from flakeyard.messages import say
from flakeyard.models.drying_physics import drying_range
from flakeyard.steps.plan.mending import CUTS, HOT, SOON
from flakeyard.units import celsius, show
from flakeyard.workbook.amounts_in import MORE_THAN_DEGREES
from flakeyard.workbook.asked import ASKED
from flakeyard.workbook.dial import ALL_IT_DOES, AT_MOST, ENDS, SET_SO, TOPS, has_no_degrees, without_the_refused
from flakeyard.workbook.heating_told import HEATING, KEYS
from flakeyard.workbook.loosely import heard
from flakeyard.workbook.meant import Reading, plain
from flakeyard.workbook.plainly import DOUBT
from flakeyard.workbook.question import Question, at_least, degrees
from flakeyard.workbook.short_words import YES, as_said
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.which_units import system_of
from flakeyard.workbook.words import in_system

ASKS = re.compile(
    r"\bwhat (?:should|must|shall|would|do) (?:it|they|that|i|we|you)\b|\byou (?:tell me|say|decide|choose|pick)\b"
    r"|\bwhat(?:ever|'s| is)?(?:'s| is)? (?:safe|best|right|good|needed|recommended|necessary)\b|\bwhat (?:would|might|could) be (?:safe|best|right|good)\b|\b(?:what|which) (?:is |would be |'s )?a? ?(?:good |best )?(?:thickness|temperature|setting) (?:is |would be )?(?:good|best|right|safe)?|\bwhatever (?:it takes|you (?:say|think|recommend))\b"
    r"|\b(?:if|when) i (?:should|must|have to|need to)\b|\bhow (?:hot|long|thick|thin|warm|many|soon) (?:should|must|does|do|is)\b"
    r"|\btell me what\b|\bwhat(?:'s| is) an? (?:\w+ )?(?:probe|core|thermometer)\b"
)
NOT_YET = re.compile(  # gutted
    r"\bnot (?:\w+ )?yet\b|\byet to\b|\bstill (?:have|has|need)\b|\b(?:i|we)(?:'ll| will| shall|'m going to| am going to|'m gonna) (?:\w+ )?(?:gut|clean|do)\b|\bhaven't\b"
)
LATER = re.compile(r"[0-9]|\b(?:after\w*|later|when|once|dry|dried|eat|cook\w*|tomorrow)\b")  # no gutting at once
HOW_MUCH = re.compile(r"\bhow much\b")
SALT = re.compile(r"\bsalt\b")
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
CAN_DO = re.compile(r"\b(?:from|goes?|rang\w*|adjust\w*|which setting|don't know|dont know|not sure|no idea)\b")
ANYTHING = re.compile(  # a machine that can be set to whatever is wanted
    r"\b(?:(?:i|we|you|it|which|that) )?(?:can|could|may)(?: be)? (?:set|turn\w*|adjust\w*|put|go|do)(?: (?:it|that|them))?(?: (?:to|at|on))? (?:whatever|anything|any(?: \w+)?|what (?:i|we|you) (?:like|want|need)|where\w*)(?: (?:i|we|you|it) (?:like|want|need|please|say)s?)?"
    r"|\b(?:fully |freely )?adjustable\b|\bany (?:temp\w*|setting|heat|degrees?)(?: (?:i|we|you) (?:like|want|need))?"
)
WIDE_OPEN = re.compile(r"\b(?:wide open|full|flat out|max\w*|all the way|highest|hottest|top)\b")
NO_MACHINE = re.compile(r"\b(?:sun\w*|solar|outside|outdoors|nights?|days?|shed|attic|wind)\b")
A_SETTING = re.compile(r"(?<![\w.,/])[0-9]{2,3} ?(?:°|deg|[cf]\b)")
WIDE = 20.0  # K between the ends of what a dial can do, where nothing says what they are (judgement)
WARM_DRYER = 55.0  # °C that only a machine reaches (judgement)
OF_THE_HEATING = {one.key: (one.metric, one.us or one.metric) for one in ASKED["heat"] if one.key in KEYS}


@dataclass(frozen=True)
class Advice:
    """What the rule of a question says, and what may be done by it, to be confirmed; None where nothing is offered."""

    words: str
    offered: Reading | None
    besides: str = ""  # what the answer tells of other questions
    left_open: str = ""  # words that are kept while the question stays open


def advised(story: Story, question: Question, text: str) -> Advice | None:
    """What to say to an answer that asks back what it should be; None where it does not, or holds a number."""
    said = " ".join(text.replace("’", "'").casefold().split())
    if question.place == "dryer.temperature":
        if unmeasured := _without_degrees(story, question, said):
            return unmeasured
        free = ANYTHING.search(said)
        without = ANYTHING.sub("", said).strip(" ,;.")
        if found := _range_of_the_dial(story, without):
            return _within(story, question, without, found)
        if free:
            return _freely_set(story, question, without)
    if question.key == "gutted" and NOT_YET.search(said) and not LATER.search(said):
        return Advice(say("advised.gutted"), Reading(((question.place, YES),), say("advised.gut_now")))
    asks = ASKS.search(said) or (question.section == "heat" and COULD_GET.search(said))
    if _of_salt(question, said) and (asks or HOW_MUCH.search(said)) and not re.search("[0-9]", spoken.numbers(said)):
        needed = {"keeping": f"{100 * limits.KEEPING_SALT:.0f}", "moist": f"{limits.MOIST:.2f}"}
        return Advice(say("advised.salt", salty=f"{100 * limits.VERY_SALTY:.0f}", **needed), None)
    if question.place not in ADVISED or not asks or re.search("[0-9]", spoken.numbers(said)):
        return None
    return advice(question, system_of(story) or "both")


def still_unmeasured(story: Story, question: Question) -> str:
    """How to measure the dial without degrees that was told before, where it is asked again; "" elsewhere."""
    told = has_no_degrees(as_said(story.notes.get(question.place, "")))
    return say("ask.no_degrees") if told and question.place == "dryer.temperature" else ""


def _without_degrees(story: Story, question: Question, said: str) -> Advice | None:
    """How to measure a dial without degrees, told now or before: no number is offered that nobody can set."""
    asks = ASKS.search(said)
    if not (
        has_no_degrees(said)
        or (still_unmeasured(story, question) and asks and not re.search("[0-9]", spoken.numbers(said)))
    ):
        return None
    rule = f"{in_system(_rule(question), system_of(story) or 'both')} " if asks else ""
    words = said if has_no_degrees(said) else story.notes[question.place]
    return Advice(rule + say("ask.no_degrees"), None, besides=said, left_open=words)


def advice(question: Question, system: str) -> Advice:
    """What the rule of a question says, and what may be done by it, in a system of units."""
    told = _told(question, us=system == "us")
    return Advice(in_system(_rule(question), system), Reading(told, _shown(question, told)) if told else None)


def _of_salt(question: Question, said: str) -> bool:
    """Whether salt is asked about: where its amount is asked, alone or with others, or what goes in and the answer names it."""
    if question.key == "what":
        return bool(SALT.search(said) and HOW_MUCH.search(said))
    return question.key == "amount" and bool(SALT.search(question.of.casefold()))


def _range_of_the_dial(story: Story, said: str) -> re.Match | None:
    """Where it stands what a machine can be set to, and no setting is told."""
    ends, most = ENDS.search(said), AT_MOST.search(said)
    found = ends or most
    if not found or NO_MACHINE.search(said):
        return None
    rest = said[: found.start()] + "," + said[found.end() :]
    if SET_SO.search(rest) or A_SETTING.search(rest):
        return None
    if not ends:
        return None if WIDE_OPEN.search(rest) else most
    low, high = (_celsius(story, ends, end) for end in ("low", "high"))
    return ends if CAN_DO.search(said) or (high - low >= WIDE and high >= WARM_DRYER) else None


def _in_fahrenheit(story: Story, found: re.Match) -> bool:
    """Whether the degrees of a dial are American: by their unit, else by the story; no dryer ends below 100 °F."""
    if found["unit"]:
        return found["unit"] == "f"
    return system_of(story) != "metric" and _number(found["high"]) > 100.0


def _number(degrees: str) -> float:
    return float(re.match("[0-9]+", degrees)[0])


def _celsius(story: Story, found: re.Match, end: str) -> float:
    number = _number(found[end])
    return celsius(number) if _in_fahrenheit(story, found) else number


def end_of_the_dial(story: Story, question: Question, text: str) -> str:
    """The most that a machine is said to be able to be set to, as an amount; "" where that is not said."""
    said = " ".join(text.replace("’", "'").casefold().split())
    if question.place != "dryer.temperature" or NO_MACHINE.search(said):
        return ""
    rest = without_the_refused(said)
    tops = (TOPS.search(said), AT_MOST.search(rest), ALL_IT_DOES.search(rest))
    found = _range_of_the_dial(story, said) or next(filter(None, tops), None)
    if not found:
        return ""
    return f"{_number(found['high']):.0f} {'°F' if _in_fahrenheit(story, found) else '°C'}"


def _within(story: Story, question: Question, said: str, found: re.Match) -> Advice:
    """The hottest that a machine can be set to and drying was tested at, to be confirmed; and what else is told."""
    us = _in_fahrenheit(story, found)
    most, tested = _number(found["high"]), HOT[-1][1 + us]
    hottest = tested if _number(tested) < most else f"{most:.0f} {'°F' if us else '°C'}"
    rest = re.split(r"[,;.](?![0-9])", f"{said[: found.start()]},{said[found.end() :]}")
    besides = ", ".join(one.strip() for one in rest if one.strip() and not DOUBT.search(one))
    return Advice(say("advised.range", hottest=tested), Reading(((question.place, hottest),), hottest), besides)


def _freely_set(story: Story, question: Question, said: str) -> Advice | None:
    """What the rule says beside the one setting that is told, or with what it advises where none is; None where several are."""
    told = heard(story, question, said)
    degrees = str(told.story.get(question.place)) if told.story and told.story.get(question.place) else ""
    readings = told.readings or ((plain(question, said),) if degrees else ())
    by_rule = advice(question, system_of(story) or "both")
    if not readings:
        return None if re.search("[0-9]", MORE_THAN_DEGREES.sub("", said)) else replace(by_rule, besides=said)
    return replace(by_rule, offered=readings[0], besides=said) if len(readings) == 1 else None


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
