"""What is said at the end to who asks about the work: when it is dry, what to write down, what can go wrong, what to do where
it is too slow, why it is cut first, worms, a late gutting, a setting of the dial, another fish, another plan.

Every number is that of the plan or of a rule.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from flakeyard import limits, tables
from flakeyard.messages import say
from flakeyard.steps.plan.plan import Outcome
from flakeyard.steps.plan.ways import HOTTEST
from flakeyard.units import celsius, show, show_kitchen
from flakeyard.workbook import words
from flakeyard.workbook.in_order import stop_example
from flakeyard.workbook.near_limit import nearest, up
from flakeyard.workbook.paper import kitchen

HEAT = r"(?:steam|heat|cook|simmer|boil)\w*"
DRY = re.compile(
    r"\b(?:how|when)\b[^.;!?]*\b(?:know|tell|see|is it|are they|it's|they're)\b[^.;!?]*\b(?:dry|dried|done|ready|finished)\b"
    r"|\bwhen (?:do|can|should) (?:i|we|they) (?:stop|take)\b|\bhow dry\b"
)
WRITE = re.compile(
    r"\bwhat\b[^.;!?]*\b(?:write|note|record|log|jot)\b|\b(?:write|note|record|log|jot)\w* (?:it |that |things )?down\b"
)
WRONG = re.compile(
    r"\b(?:do|does|go|goes|going|get|gets)\b[^.;!?]*\bwrong\b|\bmistakes?\b|\b(?:mess|screw)\w* (?:it |this |that )?up\b"
    r"|\bwatch (?:out )?for\b|\b(?:pay attention|careful|critical|most important)\b"
)
LATE = re.compile(
    r"\b(?:what (?:if|happens|then)|what (?:do|should|can) (?:i|we|they) do|and if)\b[^;!]*\b(?:dry|dried|hours?|hrs?|in time|finish\w*|slow\w*|too long|longer)\b"
)
CUT_FIRST = re.compile(
    rf"\bcut\w*\b[^.;!?]*\bbefore\b[^.;!?]*\b{HEAT}|\b{HEAT}[^.;!?]*\b(?:whole|first|then|before)\b[^.;!?]*\b(?:cut|slice)\w*\b"
)
WORMS = re.compile(r"\b(?:\w*worms?|parasit\w*|anisaki\w*|larvae?)\b")
GUTTED = re.compile(
    r"\bgut\w*\b[^.;!?]*\b(?:late\w*|after\w*|hours?|at home|too)\b|\blate\w*\b[^.;!?]*\bgut\w*|\bspoil\w*"
)
OTHER_FISH = re.compile(
    r"^(?:and|but|so|what about|how about)[, ]+(?:what about )?(?:the |my |our )?(?P<name>[a-z' -]+?)\s*(?:[?.!,]|$)"
)
OTHER_PLAN = re.compile(
    r"\b(?:i'd|i'll|i could|i would|i will|i might|if i|can i|could i|may i)\b[^;!?]*\b(?:steam|heat|cook|dry|cut|slice|set|put|use|take|soak|freeze|salt)\b"
    r"[^;!]*\b(?:would|will|does|is|wouldn't)\b (?:that|it|this)\b[^;!?]*\b(?:do|work|help|enough|ok|okay|all right|fine|be)\b"
)
DIAL = re.compile(r"\b(?:dryer|drier|dehydrator|dial|oven|machine|knob|settings?|set)\b")
LEVEL = re.compile(r"\b(?:low|medium|high)\b")
IS_IT_RIGHT = re.compile(
    r"\b(?:is|are|will|would|can i|take|use)\b[^.;!?0-9]*(?P<degrees>[0-9]{2,3}) ?(?:°|degrees?\b|deg\b)? ?(?P<unit>[cf]\b)?"
    r"[^.;!?]*\b(?:all right|alright|ok|okay|enough|fine|do|good|work|right)\b"
)


def answers(wish: str, outcome: Outcome, system: str) -> Iterator[str]:
    """What to say to a question about the work; nothing where it is about something else."""
    for answer in (_dry, _write, _wrong, _late, _cut_first, _worms, _gutted_late, _dial, _other_fish, _other_plan):
        yield from answer(wish, outcome, system)


def settled(wish: str) -> bool:
    """Whether such a question is answered here alone, though its words may stand in others too."""
    return any(one.search(wish) for one in (LATE, CUT_FIRST, WORMS, OTHER_PLAN)) or of_a_dial(wish)


def of_a_dial(wish: str) -> bool:
    return bool(IS_IT_RIGHT.search(wish) and DIAL.search(wish))


def _refused(outcome: Outcome) -> bool:
    return words.refused(outcome.verdict)


def _dry(wish: str, outcome: Outcome, system: str) -> Iterator[str]:
    if not DRY.search(wish):
        return
    if _refused(outcome):
        yield f"{say('asked.nobody')} {say('asked.dry_after')}"
    elif not outcome.load.no_drying:
        yield say("asked.dry", **stop_example(outcome, system))


def _write(wish: str, outcome: Outcome, _system: str) -> Iterator[str]:
    if WRITE.search(wish):
        yield " ".join([*([say("asked.nobody")] if _refused(outcome) else []), say("asked.write")])


def _wrong(wish: str, outcome: Outcome, system: str) -> Iterator[str]:
    """The points that a granted plan hangs on, with its own numbers."""
    if not WRONG.search(wish):
        return
    if _refused(outcome):
        yield f"{say('asked.nobody')} {say('asked.wrong_after')}"
    else:
        yield say("asked.wrong", points="; ".join(_points(outcome, system)))


def _points(outcome: Outcome, system: str) -> Iterator[str]:
    batch, heat, near = outcome.batch, outcome.batch.heat, nearest(outcome)
    yield say("asked.wrong.cold", cold=show(limits.COLD, "temperature", "both"))
    yield say("asked.wrong.cut", thick=show_kitchen(batch.cut.sizes[-1], "length", system))
    if heat and heat.probed:
        hold = show(heat.hold, "time") if heat.hold else ""
        core = kitchen.at_least(heat.core)
        yield say("asked.wrong.heat", held=say("kitchen.held", core=core, time=hold) if hold else core)
    if heat and heat.to_tray:
        yield say("asked.wrong.soon", soon=show(heat.to_tray, "time"))
    if outcome.load.no_drying:
        return
    load = show_kitchen(batch.fish.raw_weight, "mass", system)
    yield say("asked.wrong.dryer", dial=show(batch.dryer.temperature, "temperature", "both"), load=load)
    yield say("asked.wrong.stop", percent=stop_example(outcome, system)["percent"])
    if near:
        yield say("asked.wrong.hours", **near.told)


def _late(wish: str, outcome: Outcome, _system: str) -> Iterator[str]:
    """What to do where the fish is moist and warm for longer than its limit."""
    if not LATE.search(wish):
        return
    near = nearest(outcome)
    if _refused(outcome) or near is None:
        yield " ".join([*([say("asked.nobody")] if _refused(outcome) else []), say("asked.late_any")])
    else:
        yield say("asked.late", **near.told)


def _cut_first(wish: str, _outcome: Outcome, _system: str) -> Iterator[str]:
    if CUT_FIRST.search(wish):
        yield say("asked.cut_first")


def _worms(wish: str, outcome: Outcome, _system: str) -> Iterator[str]:
    """How parasites end, by the rule; also where a plan is denied."""
    if not WORMS.search(wish):
        return
    told = {
        "freezer": show(limits.PARASITE_FREEZER, "temperature", "both"),
        "home": show(limits.FREEZER, "temperature", "both"),
        "days": f"{limits.PARASITE_DAYS:g}",
        "core": kitchen.at_least(limits.PARASITE_CORE),
    }
    yield " ".join([say("asked.worms", **told), *([say("asked.worms_only")] if _refused(outcome) else [])])


def _gutted_late(wish: str, outcome: Outcome, _system: str) -> Iterator[str]:
    if not GUTTED.search(wish):
        return
    hours = outcome.batch.fish.hours_above_4c
    told = {"cold": show(limits.COLD, "temperature", "both"), "limit": f"{limits.CLOCK_HOURS:g}"}
    told["hours"] = say("asked.hours_untold") if hours is None else f"{up(hours)} h"
    past = [say("asked.past_it")] if hours is not None and hours > limits.CLOCK_HOURS else []
    yield " ".join([say("asked.gutted_late", **told), *past])


def _dial(wish: str, outcome: Outcome, system: str) -> Iterator[str]:
    """Whether a setting that is named will do: what is cooler than planned holds nothing, what is hotter is another plan."""
    found, planned = IS_IT_RIGHT.search(wish), outcome.batch.dryer.temperature
    if not DIAL.search(wish) or not (found or LEVEL.search(wish)):
        return
    if not found:
        yield say("asked.level", dial=show(planned, "temperature", "both"))
        return
    in_us = found["unit"] == "f" or (not found["unit"] and system == "us")
    asked = celsius(float(found["degrees"])) if in_us else float(found["degrees"])
    name = "cooler" if asked < planned - 0.5 else "beyond_tested" if asked > HOTTEST + 0.5 else "hotter"
    told = {"asked": asked, "dial": planned, "hottest": HOTTEST}
    degrees = {key: show(one, "temperature", "both") for key, one in told.items()}
    nobody = [say("asked.nobody")] if _refused(outcome) else []
    yield " ".join([*nobody, say(f"asked.dial_{name}", **degrees), say("asked.tell_anew")])


def _other_fish(wish: str, outcome: Outcome, _system: str) -> Iterator[str]:
    """That a batch is one kind of fish, to who asks about another."""
    found = OTHER_FISH.search(wish)
    own = words.fish_name(outcome.batch.fish)
    if found and found["name"].split()[-1] in _kinds() - set(re.findall(r"[\w'-]+", own.casefold())):
        yield say("asked.other_fish", fish=own)


def _kinds() -> set[str]:
    """The last word of every fish of the table: perch, pike, trout."""
    heads = (one.common_name.casefold().partition(",")[0].partition(" (")[0].split() for one in tables.all_species())
    return {head[-1] for head in heads if head}


def _other_plan(wish: str, _outcome: Outcome, _system: str) -> Iterator[str]:
    """How a plan is changed, to who says what he would do instead."""
    if OTHER_PLAN.search(wish) and not CUT_FIRST.search(wish):
        minutes = [say("asked.minutes")] if re.search(rf"\b{HEAT}", wish) and re.search(r"\bmin", wish) else []
        yield " ".join([*minutes, say("asked.other_plan"), say("asked.tell_anew")])
