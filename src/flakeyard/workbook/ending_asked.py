"""What is said to somebody who asks something at the end: how long it keeps, also out of the cold, who may eat it, how salty
it is and whether it can be less, whether it must be cooked, what counts without a probe, what a dial cannot do.

All of it is what the plan and its rules say already; what they do not know is said to be not known.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from flakeyard import limits
from flakeyard.messages import joined, number, say
from flakeyard.steps.intent.batch_file import read_batch, written
from flakeyard.steps.intent.fields import FIELDS
from flakeyard.steps.intent.places import put
from flakeyard.steps.plan.plan import Outcome, plan, salt_of
from flakeyard.steps.plan.ways import asked, lasts, ways
from flakeyard.units import celsius, show, show_kitchen
from flakeyard.workbook import ending_work, why_days, words
from flakeyard.workbook.paper import kitchen
from flakeyard.workbook.question import at_least, degrees
from flakeyard.workbook.why_days import Why

Told = tuple[tuple[str, object], ...]
WHY_SO = re.compile(r"(?:but )?(?:why|how come)\b")
POISON = re.compile(r"\bpoison\w*|\btoxin\w*|\bgerms?\b|\bbacteria\b|\bkill\w*\b")
HOURS = re.compile(
    r"\b(?:why|how come|what)\b[^.;!]*\b(?:hours?|hrs?)\b|\bwhy\b[^.;!]*\b(?:so long|slow\w*|dry\w* (?:take|for)\w*)\b"
)
OF_OLD = re.compile(
    r"\bold[- ]?timers?\b|\b(?:grand\w*|mother|father|ancestors|vikings|people|they|folks?)(?:'s)? (?:\w+ )?(?:kept|hung|did|made|dried|used)\b|\bin the old days\b"
)
ENOUGH_SALT = re.compile(
    r"\b(?:enough|more|right amount of|much) salt\b|\bsalt\w* (?:is )?(?:enough|right|ok|okay|all right)\b"
)
CUPBOARD = re.compile(r"\b(?:cupboard|larder|pantry|shelf)\b")
PLACE = re.compile(r"\b(?:freezer|freez\w+|fridge|refrigerator|ice ?box)\b")
HOW_TO_HEAT = re.compile(r"\bhow\b[^.;!]*\b(?:heat|cook|steam|get it to|bring it to|reach)\b")
HOW_HOT = re.compile(r"\b(?:heat|cook|steam|simmer)\w*\b[^;!]*\bhow hot\b")
DEGREES_ASKED = re.compile(
    r"\b(?:is|are|will|would)\b[^.;!?0-9]*[0-9]{2,3} ?(?:°|degrees?|deg|[cf]\b)?[^.;!?]*\b(?:all right|alright|ok|okay|enough|fine|do|good|work|hot)\b"
)
PROBE = r"\b(?:probes?|thermometers?)\b"
NO_PROBE = re.compile(
    rf"(?:\b(?:no|without|lack|skip|leave out|do i|must i|have to|really)\b|n't )[^.;!]*{PROBE}|{PROBE}[^.;!]*\b(?:necessary|needed|optional)\b"
)
LESS_SALT = re.compile(
    r"\b(?:less|reduce|lower|cut down|cut back|without|leave out|unsalted|too|so|skip)\b[^.;!?]*\b(?:salt\w*|sodium)\b|\bunsalted\b"
    r"|\bsalt\w*[^.;!?]*\b(?:less|lower|reduced?|out of it)\b|\blow(?:er)?[- ](?:salt|sodium)\b"
)
HOW_SALTY = re.compile(r"\bhow (?:much )?(?:salt\w*|sodium)\b|\b(?:salty|sodium)\b")
CHILDREN = r"\b(?:child\w*|kids?|bab(?:y|ies)|toddlers?|infants?|sons?|daughters?|grand(?:son|daughter|child|kid)\w*|boys?|girls?)\b"
PREGNANT = r"\b(?:pregnan\w*|expecting|breast ?-?feed\w*|nursing)\b"
PRESSURE = r"\b(?:blood pressure|hypertens\w*|heart|kidneys?|low[- ](?:salt|sodium))\b"
ALLERGY = r"\ballerg\w*"
WEAK = r"\b(?:immune|elderly|old (?:people|person|man|woman|father|mother|parents)|grand(?:ma|pa|mother|father|parents)\w*|diabet\w*|sick|ill|cancer|chemo\w*)\b"
LONG_AGO = r"(?!(?:'s)? (?:always )?(?:kept|hung|did|made|dried|used|salted)\b)"  # what people did of old asks nothing
WHO = r"\bwho\b[^.;!?]*\beat\b"
PEOPLE = re.compile(f"(?:{'|'.join((CHILDREN, PREGNANT, PRESSURE, ALLERGY, WEAK))}){LONG_AGO}|{WHO}")
OUT_OF_COLD = re.compile(
    r"\b(?:back ?packs?|rucksack|hik\w*|trail|camping|lunch ?box\w*|pocket|unrefrigerated|room temperature|counter|carry|by (?:post|mail))\b"
    r"|\bout(?:side)?(?: of)? (?:the|my|a|its) (?:fridge|refrigerator|freezer|ice ?box|cold)\b|\bin (?:the|a|my) car\b"
    r"|\b(?:without|not?) (?:a |the |any )?(?:fridge|refrigerat\w+|freezer|cooler)\b|\b(?:leave (?:it|them) out|left out|(?:lie|lying|sit|sitting) out)\b|\b(?:cupboard|larder|pantry|shelf)\b|\btake it (?:along|with)\b"
)
HOW_LONG = re.compile(
    r"\bhow (?:long|many (?:days|weeks|months))\b|\bshelf life\b|\b(?:go|goes|gone) (?:bad|off)\b|\bbest before\b"
)
COOK = re.compile(
    r"\b(?:do i|must i|must it|does it|should i|have to|has to|need to|need(?:s|ed)?|why|without|skip|leave out|really|can i|not)\b"
    r"[^.;!?]*\b(?:cook\w*|heat(?:ed|ing|s)?|steam\w*|simmer\w*)\b|\b(?:eat|dry|leave)\w* (?:it|them|the fish)? ?raw\b"
)
DIAL_ENDS = re.compile(
    r"\b(?:only|just|max\w*|tops out|ends|stops|most)\b[^.;!?0-9]*?(?P<high>[0-9]{2,3})(?![\w.]*[0-9]) ?(?:°|degrees?\b|deg\b)? ?(?P<unit>[cf]\b)?"
    r"(?! ?(?:days?|h\b|hours?|min\w*|%|g\b|mm|w\b|watts?|lbs?|oz|kg))"
)
OF_A_DIAL = re.compile(r"\b(?:dryer|drier|dehydrator|dial|oven|machine|goes|knob|setting)\b")


@dataclass(frozen=True)
class Said:
    """What an ending has said that a question may be about: the plan, the reasons of days, what was found of less salt, and
    what each change that is offered tells, by its mark."""

    outcome: Outcome
    whys: tuple[Why | None, ...] = ()
    salt: tuple[str, ...] = ()
    offered: dict[str, Told] = field(default_factory=dict)

    @property
    def refused(self) -> bool:
        return words.refused(self.outcome.verdict)


def answers(wish: str, said: Said, system: str) -> list[str]:
    """What to say to a question, one paragraph for each thing that is asked; nothing where none is known."""
    wish = " ".join(wish.replace("’", "'").casefold().split())
    found = list(ending_work.answers(wish, said.outcome, system))
    if not found or not ending_work.settled(wish):
        found += [line for answer in ANSWERS for line in answer(wish, said, system)]
    if not found and WHY_SO.match(wish):
        found = [say("ending.why_so")]
    return [words.in_system(one, system) for one in dict.fromkeys(found)]


def percent(share: float) -> str:
    return f"{100 * share:.0f}"


def hottest(told: Told) -> float | None:
    """The dial that a change tells [°C]; None where it tells none."""
    dial = next((value for place, value in told if place == "dryer.temperature" and value is not None), None)
    return None if dial is None else FIELDS["dryer"]["temperature"].read(dial, "")


def _less_salt(wish: str, said: Said, _system: str) -> Iterator[str]:
    """What was found of less salt; where nothing was looked for, how salty it is and why not."""
    if not LESS_SALT.search(wish):
        return
    if said.salt:
        yield from said.salt
        return
    very = percent(limits.VERY_SALTY)
    yield _holds(said.outcome)
    yield say("asked.less_salt" if asked(said.outcome).granted else "asked.less_salt_later", very=very)


def _salt(wish: str, said: Said, system: str) -> Iterator[str]:
    if HOW_SALTY.search(wish) and not LESS_SALT.search(wish):
        yield " ".join([_holds(said.outcome), *_sodium(said, system)])


def _holds(outcome: Outcome) -> str:
    return say("asked.salt", salt=percent(salt_of(outcome.load)), very=percent(limits.VERY_SALTY))


def _sodium(said: Said, system: str) -> Iterator[str]:
    """The sodium of a serving, beside the limit of adults; nothing of fish that is served to nobody."""
    outcome = said.outcome
    sodium = outcome.dried["sodium_mg_per_serving"]
    if said.refused:
        return
    if not sodium.known or sodium.high is None:
        yield say("keeping.sodium_serving_not")
        return
    low, high = (f"{round(value, -1):.0f}" for value in (sodium.low, sodium.high))
    serving = show_kitchen(outcome.batch.serving, "mass", system)
    yield say("kitchen.sodium", serving=serving, low=low, high=high, limit=number(limits.SODIUM_US, ",.0f"))


def _people(wish: str, said: Said, system: str) -> Iterator[str]:
    """Who should not eat it, by the cautions of the rules; of all else that it is not known."""
    if not PEOPLE.search(wish):
        return
    more = {"H2": f"{ALLERGY}|{WHO}", "H4": f"{PREGNANT}|{CHILDREN}"}
    rules = ["H1", *(rule for rule, who in more.items() if re.search(who, wish))]
    cautions = [one.text for one in said.outcome.verdict.cautions if one.rule in rules]
    how_salty = any(_salt(wish, said, system))  # that is told already
    salt = _sodium(said, system) if re.search(f"{PRESSURE}|{CHILDREN}", wish) and not how_salty else []
    nobody = [say("asked.nobody")] if said.refused else []
    yield " ".join([*nobody, *cautions, *salt, say("asked.people_not_known")])


def _out_of_the_cold(wish: str, said: Said, _system: str) -> Iterator[str]:
    """Out of the cold counts as the cupboard, for fish that is granted it; for all other it is not known."""
    if not OUT_OF_COLD.search(wish) or why_days.answer(wish, said.whys):
        return
    keep, outcome = said.outcome.keep, said.outcome
    no = [say("asked.not_cupboard")] if CUPBOARD.search(wish) else []
    if said.refused:
        yield " ".join([*no, say("asked.nobody"), say("asked.along_after")])
    elif asked(outcome).granted and keep.place == "cupboard" and keep.days is not None:
        around = why_days.around(outcome, keep.place)
        yield say("asked.along_cupboard", days=words.days_words(keep.days), around=around)
    else:
        yield " ".join([*no, say("asked.along_cold")])


def _days(wish: str, said: Said, _system: str) -> Iterator[str]:
    """Why it keeps no longer; how long it keeps."""
    if why := why_days.answer(wish, said.whys):
        yield from why
        return
    if (
        not HOW_LONG.search(wish)
        or OUT_OF_COLD.search(wish)
        or not re.search(r"\b(?:keep|last|good|stor\w*|bad|off|eat|life|before)", wish)
    ):
        return
    keep = said.outcome.keep
    if said.refused:
        yield say("asked.nobody")
    elif keep.days is None:
        yield say("ending.keeps_unsaid")
    else:
        yield say("asked.keeps", place=say(f"ways.{keep.place}"), days=words.days_words(keep.days))
    yield from dict.fromkeys(one.words for one in said.whys if one is not None)


def _cooked(wish: str, said: Said, _system: str) -> Iterator[str]:
    """What comes of it without the heating: the plan without it, or the changes that do without."""
    if not COOK.search(wish) or re.search(PROBE, wish) or HOW_TO_HEAT.search(wish):
        return
    outcome = said.outcome
    if not said.refused and outcome.batch.heat is None:
        yield say("asked.raw", headline=_headline(outcome))
    elif not said.refused:
        raw = plan(read_batch(put(written(outcome.batch), [("heat", None)])))
        yield f"{say('asked.unheated', headline=_headline(raw))} {say('asked.dryer_is_no_heating')}"
    else:
        yield f"{say('asked.dryer_is_no_heating')} {_changes_without(said)}"
    if WHY_SO.match(wish):
        yield say("ending.why_so")


def _headline(outcome: Outcome) -> str:
    """A verdict in a line; a refusal in plain words."""
    if words.refused(outcome.verdict):
        return say("asked.refused")
    return f"{words.headline(outcome.verdict, outcome.keep)}. {words.COOK if outcome.verdict.eat == 'cook_first' else ''}".strip()


def _changes_without(said: Said) -> str:
    """Which of the changes that are offered heat nothing first."""
    heated = said.outcome.batch.heat is not None
    without = [
        mark
        for mark, told in said.offered.items()
        if not any(place.startswith("heat.") and value is not None for place, value in told) and not heated
    ]
    return say("asked.changes_raw", marks=joined("words.and", without)) if without else say("asked.no_change_raw")


def _no_probe(wish: str, _said: Said, _system: str) -> Iterator[str]:
    if NO_PROBE.search(wish):
        yield f"{say('advised.checked')} {say('ending.no_probe')}"


def _dial(wish: str, said: Said, system: str) -> Iterator[str]:
    """Which of the changes that are offered ask for more heat than a dial is said to give."""
    found = DIAL_ENDS.search(wish)
    if not found or not OF_A_DIAL.search(wish):
        return
    in_us = found["unit"] == "f" or (not found["unit"] and system == "us")
    most = celsius(float(found["high"])) if in_us else float(found["high"])
    beyond = [mark for mark, told in said.offered.items() if (hottest(told) or 0.0) > most + 0.5]
    name = "asked.dial_beyond" if beyond else "asked.dial_enough"
    if not beyond and said.outcome.batch.dryer.temperature > most + 0.5:
        name = "asked.dial_told"
    yield say(name, marks=joined("words.and", beyond), most=show(most, "temperature", "both"))


def _places(wish: str, said: Said, _system: str) -> Iterator[str]:
    """What a plan grants in refrigerator and freezer, where one of them is asked about."""
    if not PLACE.search(wish) or OUT_OF_COLD.search(wish) or why_days.answer(wish, said.whys):
        return
    if said.refused:
        yield f"{say('asked.nobody')} {say('asked.place_after')}"
        return
    found = {(one.place, one.pack): one for one in ways(said.outcome) if one.place != "cupboard"}
    for one in {way.place: way for way in sorted(found.values(), key=lasts)}.values():
        days = say("ways.no_days_said") if one.days is None else say("ways.days", days=words.days_words(one.days))
        best = say("ways.in_pack", place=say(f"ways.{one.place}"), pack=words.pack_name(one.pack))
        eat = words.eat_words(one.eat).lower()
        yield say("asked.place", best=best, days=days, eat=eat, percent=words.stop_percent(one.mass_ratio))
    if not found:
        yield say("asked.no_place")


def _poison(wish: str, _said: Said, _system: str) -> Iterator[str]:
    if POISON.search(wish):
        yield say("asked.poison")


def _hours(wish: str, said: Said, _system: str) -> Iterator[str]:
    """What the hours hang on."""
    if HOURS.search(wish) and not why_days.answer(wish, said.whys):
        yield say("asked.hours")


def _of_old(wish: str, _said: Said, _system: str) -> Iterator[str]:
    if OF_OLD.search(wish):
        yield say("asked.of_old", salt=percent(limits.KEEPING_SALT), moist=f"{limits.MOIST:.2f}")


def _enough_salt(wish: str, said: Said, _system: str) -> Iterator[str]:
    if ENOUGH_SALT.search(wish):
        yield f"{_holds(said.outcome)} {say('asked.enough_salt', salt=percent(limits.KEEPING_SALT), moist=f'{limits.MOIST:.2f}')}"


def _how_to_heat(wish: str, said: Said, system: str) -> Iterator[str]:
    """How a heating is done, and what counts of it."""
    if HOW_HOT.search(wish):
        yield say("advised.core", kill=degrees(limits.KILL_CORE), kill_held=at_least(limits.KILL_CORE_HELD))
    if HOW_HOT.search(wish) or (HOW_TO_HEAT.search(wish) and not HOW_LONG.search(wish)):
        outcome = said.outcome
        told = {"ways": kitchen.minutes(outcome, system), "witness": kitchen.witness(outcome.batch, system)}
        yield say("order.heat_so", **told)


def _degrees(wish: str, said: Said, _system: str) -> Iterator[str]:
    """What a number of degrees is enough for: the middle of the fish, and the dial of the plan."""
    if DEGREES_ASKED.search(wish):
        core, held = degrees(limits.KILL_CORE), at_least(limits.KILL_CORE_HELD)
        dial = show(said.outcome.batch.dryer.temperature, "temperature", "both")
        yield f"{say('advised.core', kill=core, kill_held=held)} {say('asked.dial_counted', dial=dial)}"


ANSWERS: tuple[Callable[[str, Said, str], Iterator[str]], ...] = (
    _less_salt,
    _salt,
    _enough_salt,
    _people,
    _out_of_the_cold,
    _days,
    _places,
    _hours,
    _of_old,
    _poison,
    _how_to_heat,
    _degrees,
    _cooked,
    _no_probe,
    _dial,
)
