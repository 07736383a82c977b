"""The heating asked as one question: how hot in the middle, for how long, how it is checked, how soon on the trays."""

from __future__ import annotations

import re

from flakeyard.messages import say
from flakeyard.steps.intent.fields import NOT_KNOWN
from flakeyard.workbook.amounts_in import all_amounts, as_written, at_most, in_digits, plain_amounts
from flakeyard.workbook.asking import questions
from flakeyard.workbook.joined import accounted
from flakeyard.workbook.left_open import tells_nothing
from flakeyard.workbook.loosely import heard
from flakeyard.workbook.meant import Reading
from flakeyard.workbook.one_amount import ROUGHLY, UNSURE
from flakeyard.workbook.plainly import AROUND_IT, BOUND, CLEAR, DOUBT
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO, YES
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.together import SAID_TWICE, labelled
from flakeyard.workbook.words_in import CAREFUL, NOT_IN_THE_FISH

HEATING = "heating"
KEYS = ("core", "hold", "checked", "to_tray")
FEWEST = 3  # of these still open, for which one question is asked (judgement)
SOON = re.compile(r"\b(?:within|in|after|then|trays?|dryer|dehydrator|later)\b[^0-9,;]*$")  # before a time
SOON_AFTER = re.compile(r"^[^0-9,;.]*\b(?:to|on|onto|until|till|later|before|after)\b")  # behind it
CLOUDS = (ROUGHLY, UNSURE, DOUBT)
DEGREES_ALONE = re.compile(r"^(.*?[0-9]{2,3} ?°? ?(?:[cf]\b|degrees?)?).*$")  # without what is said behind them
OR_ELSE = re.compile(  # of two temperatures
    r"[0-9] ?°? ?[cf]? ?(?:or|to|–|-) ?(?:maybe |even )?[0-9]+(?![0-9.,/]| ?(?:min\w*|h\b|hours?|sec\w*|s\b|m\b))"
)
AT_THAT = re.compile(r"^ (?:at|there)\b")
NOT_CHECKED = CAREFUL["checked"]
ROUGH_END = re.compile(r"\b(?:about|around|roughly|maybe|some|nearly|almost)(?= $)")
LOWER_END = re.compile(r"[0-9][0-9.,/]* ?(?:or|to|–|-) ?$")  # of a range
NOT_HEATED = re.compile(  # the whole answer
    r"(?:it(?:'s| is| was)? |(?:i|we) )?(?:(?:not|never) (?:heated|cooked)|un(?:heated|cooked)|(?:don't|do not|didn't|did not|won't|will not) (?:heat|cook)(?: it| the fish)?|no heat(?:ing)?)(?: at all)?"
)
TILL_INSIDE = re.compile(  # parts what is said of the oven from what is said of the fish
    r"\b(?:un)?till?\b(?=[^,;]*\b(?:middle|inside|core|cent(?:re|er)|thickest|internal)\b)"
)
RIGHT_BEHIND = re.compile(  # a temperature of the middle, right before a time
    r"(?<![0-9.,])([0-9]+) ?°? ?(?:[cf]|degrees?)?(?: (?:inside|at the core|in the (?:middle|core|cent(?:re|er)|thickest \w+)))?,? $"
)
HELD = re.compile(r"\b(?:for|held?|holding|keep|kept|stays?)\b[^0-9,;]*$")


def asked_at_once(story: Story, core: Question) -> Question | None:
    """The one question for all of the heating; None where it is asked one by one, or little of it is open."""
    if core.place != "heat.core" or HEATING in story.left or len(open_heating(story)) < FEWEST:
        return None
    return Question(HEATING, "heat", "gate.heating", core.kind, core.metric, core.us)


def asked_as(story: Story, question: Question) -> Question:
    """The one question for all of the heating, where a question is part of it; else that question."""
    still = open_heating(story)
    return (question in still and asked_at_once(story, still[0])) or question


def asked_singly(story: Story, question: Question, text: str) -> tuple[Story, str]:
    """What becomes of an answer that tells nothing of a heating, and what is said of it: all of it is asked one by one, or
    stays open where nothing is known."""
    story = story.left_open(HEATING, YES)
    if not tells_nothing(question, text):
        return story, say("begin.one_by_one")
    for one in open_heating(story):
        story = story.left_open(one.place, NOT_KNOWN)
    return story, say("begin.needed")


def open_heating(story: Story) -> list[Question]:
    """Questions about the heating that are not answered."""
    return [
        one for one in questions(story) if one.section == "heat" and one.key in KEYS and not story.answered(one.place)
    ]


def heating_told(story: Story, text: str) -> Reading | None:
    """What an answer tells of a heating; sure where all of it is said plainly. None where it tells nothing."""
    said = SAID_TWICE.sub("", " ".join(text.replace("’", "'").casefold().split()))
    if NOT_HEATED.fullmatch(said.rstrip(" .!")):
        return Reading((("heat", NO),), say("begin.no"), sure=True)
    core = _core(story, said)
    inside = TILL_INSIDE.split(said)[-1]
    behind = _right_behind(story, inside, core) if core else {}
    times = behind or (_times(story, inside) if core else {})
    found = {"core": core, "checked": _checked(said) or _checked(inside), **times}
    told, shown, now = [], [], story
    for one in open_heating(story):
        if not (much := found.get(one.key)):
            continue
        answer = heard(now, one, much)
        now = answer.story or (answer.readings[0].put_in(now) if answer.readings else now)
        if now.get(one.place) is None and much != NOT_CHECKED:
            continue
        much = str(now.get(one.place) or much)
        told.append((one.place, much))
        shown.append(labelled(one, much).shown)
    if not told:
        return None
    whole = Reading(tuple(told), "; ".join(shown))
    clear = not (DOUBT.search(said) or ROUGHLY.search(said) or BOUND.search(_no_bounds(said)))
    return Reading(whole.told, whole.shown, sure=clear and not behind and accounted(whole, said))


def _no_bounds(said: str) -> str:
    return re.sub(r"\bmin\b", " ", said)


def _core(story: Story, said: str) -> str:
    """The one temperature, unless it is said of the oven, roughly or as a bound: a rule hangs on it."""
    question = next((one for one in open_heating(story) if one.key == "core"), None)
    if question is None:
        return ""
    every = [part for one in re.split(r"[,;](?![0-9])|\band\b", said) for part in TILL_INSIDE.split(one)]
    clear = [part for part in every if not AROUND_IT.search(part)]
    parts = [part for part in clear if not any(one.search(DEGREES_ALONE.sub(r"\1", part)) for one in CLOUDS)]
    found = [one for part in parts for one in plain_amounts(story, question, part)]
    if any(OR_ELSE.search(in_digits(question, part)) for part in parts):
        return ""
    bare = [] if found else [one for part in parts for one in _bare(story, question, part)]
    told = {as_written(one) for one in ([one.text for one in found] or bare)}
    return told.pop() if len(told) == 1 else ""


def _bare(story: Story, question: Question, part: str) -> list[str]:
    """A number of degrees without them, in the units of all else."""
    number = re.match(
        r"(?:to |heat (?:it )?to |about |yes,? )*([0-9]{2,3})(?![0-9.,/])(?! ?(?:min|h\b|sec|s\b|m\b))", part.strip()
    )
    answer = heard(story, question, number[1]) if number else None
    return [one.told[0][1] for one in answer.readings[:1]] if answer and len(answer.readings) == 1 else []


def _checked(said: str) -> str:
    """How it is checked, where one way is named."""
    ways = {way for way, cue in CLEAR["checked"].items() if re.search(rf"(?<![\w'-])(?:{cue})(?![\w'-])", said)}
    if NOT_CHECKED in ways:
        return NOT_CHECKED
    return "" if NOT_IN_THE_FISH.search(said) else next(iter(ways), "")


def _times(story: Story, said: str) -> dict[str, str]:
    """How long it is held, and how soon it lies on the trays: by the words around each time, else one after the other."""
    question = next((one for one in open_heating(story) if one.key in ("hold", "to_tray")), None)
    if question is None:
        return {}
    said = in_digits(question, said)
    every = all_amounts(question, said)
    found = [one for one in every if one.unit]
    told: dict[str, list[str]] = {"hold": [], "to_tray": []}
    unclear, at = [], 0
    for one in found:
        before, at = said[at : one.begin], one.end
        soon = SOON.search(LOWER_END.sub("", before)) or SOON_AFTER.search(said[one.end :])
        lower = LOWER_END.search(before)
        text = f"{lower[0]}{one.text}" if lower else one.text
        text = f"{rough[0]} {text}" if (rough := ROUGH_END.search(before)) else text
        if HELD.search(LOWER_END.sub("", before)) or AT_THAT.match(said[one.end :]):
            told["hold"].append(text)
        elif soon:
            told["to_tray"].append(text)
        else:
            unclear.append(text)
    if any(at_most(said, one) for one in every if not one.unit or one.text in unclear):
        told["to_tray"] = []  # "on the trays in 2 min, 5 tops": asked on its own
    if len(unclear) == 2 and len(found) == 2:
        return {"hold": unclear[0], "to_tray": unclear[1]}
    if len(unclear) == 1 and len(found) == 2 and told["to_tray"]:
        told["hold"] += unclear
    return {key: many[0] for key, many in told.items() if len(many) == 1}


def _right_behind(story: Story, said: str, core: str) -> dict[str, str]:
    """The only time, as how long it is held, where it stands right behind the temperature; it has to be confirmed."""
    question = next((one for one in open_heating(story) if one.key == "hold"), None)
    said = in_digits(question, said) if question else ""
    found = [one for one in all_amounts(question, said) if one.unit] if said else []
    if len(found) != 1:
        return {}
    before, after = RIGHT_BEHIND.search(said[: found[0].begin]), said[found[0].end :]
    elsewhere = SOON_AFTER.search(after) or AROUND_IT.search(after)
    return {"hold": found[0].text} if before and core.startswith(before[1]) and not elsewhere else {}
