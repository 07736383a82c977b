"""Questions asked as one: what is done between the salt and the dryer, and how much of each of several things.

Whoever answers the one has answered the doors of the four sections; who answers it unclearly is asked one by one.
"""

from __future__ import annotations

import re
from dataclasses import replace

from flakeyard import tables
from flakeyard.messages import say
from flakeyard.steps.intent.fields import SOAKS, OneOf
from flakeyard.steps.intent.places import taken_out
from flakeyard.workbook.as_value import soy_sauce
from flakeyard.workbook.asking import questions
from flakeyard.workbook.loosely import SAME, heard
from flakeyard.workbook.meant import Reading
from flakeyard.workbook.plainly import (
    DOUBT,
    only_wiped,
)
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import LEFT_OUT, NO, NO_MORE, NO_WORDS, YES
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.span import NUMBER
from flakeyard.workbook.telling import tell
from flakeyard.workbook.told_again import salty

STEPS = "steps"
STEP_DOORS = ("presoak", "rest", "freshen.1", "heat")
FEWEST_BESIDES = 2  # open questions of the dryer that are asked with its trays (judgement)
STEP_CUES = {  # what people say of each, as patterns
    "presoak": r"(?:butter)?milk|sugar ?water|lemon\w*|vinegar|first bath|pre-?soak\w*",
    "rest": r"rests?|resting|rested|racks?|hangs?|hanging|hung|pellicle|air[- ]?dr\w+|uncovered|stands?|sits?|tacky|over ?night|(?:in|on) the (?:fridge|refrigerator|counter|table)|fan[- ]dr\w+",
    "freshen.1": r"plain water|fresh water|clean water|desalt\w*|de-?salt\w*|freshen\w*|soak\w*(?! in (?:butter)?milk)",
    "heat": r"heat\w*|cook\w*|steam\w*|ovens?|boil\w*|bak\w+|poach\w*|simmer\w*|blanch\w*|roast\w*|grill\w*|hot[- ]smok\w*|par-?cook\w*|pre-?cook\w*",
}  # fmt: skip
NOT_NOW = re.compile(r"\b(?:eat\w*|later|afterwards?|serv\w*|after the dryer|when dry|in the end)\b")
ASKING = re.compile(
    r"(?:why (?:would|should|do|does|is)|(?:should|must|shall|do|can) (?:i|we)|does it|is (?:it|that) (?:needed|necessary|better|safe))\b"
)
NOTHING_ELSE = re.compile(
    r"^(?:no\b|nope\b|nah\b|none\b|nothing\b|not?\b|neither\b)|\b(?:straight|directly|right away)\b|\bno(?:ne|thing)? of (?:these|them|those|that)\b"
)


def next_asked(question: Question | None, story: Story) -> Question | None:
    """The next question, or the one that asks it together with others: what is done before the dryer, how much of each."""
    if question is None:
        return None
    if question.place == "dryer.tray_area" and len(besides := _of_the_dryer(story)) >= FEWEST_BESIDES:
        return replace(question, of="; ".join(say(f"dryer.tray_area.{one.key}") for one in besides))
    if question.place == "cut.thickness" and (thickest := story.get("cut.thickest")):
        return replace(question, of=str(thickest))
    several = f"{question.section}.amounts" not in story.left
    if question.place in STEP_DOORS and STEPS not in story.left and len(doors := open_steps(story)) > 1:
        what = ", ".join(say(f"step.{one.place.partition('.')[0]}") for one in doors)
        return Question(STEPS, STEPS, "gate.steps", OneOf((YES, NO)), "", empty=NO, of=what)
    rows = open_amounts(story, question.section) if question.key == "amount" and several else []
    if len(rows) > 1 and rows[0].place == question.place:
        return replace(question, of="; ".join(one.of for one in rows))
    return question


def _of_the_dryer(story: Story) -> list[Question]:
    """Open questions of the dryer that are asked together with its trays."""
    keys = ("faces", "heater", "moving")
    return [
        one for one in questions(story) if one.section == "dryer" and one.key in keys and not story.answered(one.place)
    ]


def open_steps(story: Story) -> list[Question]:
    """Doors of the sections between the salt and the dryer that are not answered."""
    return [one for one in questions(story) if one.place in STEP_DOORS and not story.answered(one.place)]


def steps_told(story: Story, text: str) -> Reading | None:
    """What is done before the dryer; None where it has to be asked one by one."""
    said = " ".join(text.replace("’", "'").casefold().split()).rstrip(".!")
    asking, told = sentences(said)
    wondered = [one for one in open_steps(story) if one in asked_about(story, said) and not _needless(asking)]
    doors = [one for one in open_steps(story) if one not in wondered]
    if asking and not told:
        return None
    said = told
    named = [] if said in LEFT_OUT else [one for one in doors if _done(one.place, said)]
    nothing = not said or said in (*LEFT_OUT, *NO_WORDS) or NOTHING_ELSE.search(said) or only_wiped(said)
    if DOUBT.search(said) or not (named or nothing):
        return None
    told = [(one.place, _step_word(one, said) if one in named else NO) for one in doors]
    shown = "; ".join(say(f"step.{one.place.partition('.')[0]}") for one in named) or say(
        "step.rinse" if re.search(r"\brins", said) else "begin.no"
    )
    return Reading(tuple(told), shown, sure=True)


def sentences(said: str) -> tuple[str, str]:
    """The sentences of an answer that ask something, and the others."""
    every = [one.strip() for one in re.findall(r"(?:[^.!?;]|[.](?=[0-9]))+[.!?;]*", said)]
    asking = [one for one in every if one.endswith("?") or ASKING.match(one)]
    return " ".join(asking), " ".join(one for one in every if one not in asking).rstrip(".!;")


def asked_about(story: Story, text: str) -> list[Question]:
    """The steps of which an answer asks something."""
    asking, _ = sentences(text.replace("’", "'").casefold())
    return [one for one in open_steps(story) if asking and _done(one.place, asking)]


def _needless(asking: str) -> bool:
    """Whether it is asked why at all: that is a no."""
    return bool(
        re.match(r"(?:why|what) (?:would|should|do) (?:i|we)\b|what(?:'s| is) (?:it|that|a \w+(?: \w+)?) for\b", asking)
    )


def _done(place: str, said: str) -> bool:
    """Whether a step is named and not denied."""
    for part in re.split(r"[,;.]| but | and (?!then\b)", said):
        found = re.search(rf"(?<![\w'-])(?:{STEP_CUES[place]})(?![\w'-])", part)
        denied = found and re.search(r"\b(?:no|not|never|without|neither|nor)\b|n't\b", part[: found.start()])
        if found and not denied and not (place == "heat" and NOT_NOW.search(said)):
            return True
    return False


def _step_word(door: Question, said: str) -> str:
    if door.place in SOAKS:
        return "dry" if re.search(r"\b(?:strew\w*|strewn|rubb\w*|sprinkl\w*)\b", said) else "wet"
    return YES


HOW_MUCH = re.compile(rf"{NUMBER.pattern}|{SAME.pattern}|\b(?:an?|pinch|dash|splash|few|couple)\b")


def open_amounts(story: Story, section: str) -> list[Question]:
    """Questions for the amounts of what goes in that are still open."""
    return [
        one
        for one in questions(story)
        if one.section == section and one.key == "amount" and not story.answered(one.place)
    ]


def amounts_told(story: Story, question: Question, text: str) -> Reading | None:
    """How much of each of several things: by their names, or one after the other; None where that is not clear."""
    rows = open_amounts(story, question.section)
    said = soy_sauce(" ".join(text.replace("’", "'").split()))
    parts = [
        one.strip()
        for one in re.split(r"(?<![0-9]),|,(?![0-9])|[;+&]|\band\b(?! (?:a |an )?(?:half|quarter|third))", said)
        if one.strip()
    ]
    if re.search(r"\b(?:each|of all)\b", said.casefold()) and len(parts) == 1:
        parts = [re.sub(r"\b(?:of )?(?:each|all)\b", "", said, flags=re.IGNORECASE).strip()] * len(rows)
    if len(parts) > len(rows) and not HOW_MUCH.search(parts[0].casefold()) and not _names(rows, parts[0]):
        parts = parts[1:]  # "I told you, 1 cup"
    for at in range(len(parts) - 1, 0, -1):  # "one cup, packed down" is one amount
        if not HOW_MUCH.search(parts[at].casefold()):
            parts[at - 1 : at + 1] = [f"{parts[at - 1]} {parts[at]}"]
    order = _in_order(rows, parts) if 1 < len(parts) <= len(rows) else []
    if not order:
        return None
    told, shown, now = [], [], story
    for place, part in order:
        row = next(one for one in rows if one.place == place)
        answer = heard(now, row, part)
        if not (answer.sure or answer.story) or (answer.story and answer.story.get(place) is None):
            return None
        now = answer.sure.put_in(now) if answer.sure else answer.story
        told.append((place, str(now.get(place))))
        shown.append(say("label.read", what=row.of, reading=now.get(place)))
    return Reading(tuple(told), "; ".join(shown), sure=True)


NONE_OF_IT = re.compile(
    r"^(?:none|no|nope|nothing|zero|0|leave it out|there(?:'s| is| isn't| is no)|not)\b(?!.*\b(?:sure|idea|clue|know)\b)"
)


def left_out(story: Story, question: Question, text: str) -> Story | None:
    """The story without a thing of which nothing goes in: "none", "there is no sugar"; None where that is not said."""
    said = text.strip().casefold()
    if question.key != "amount" or question.together or not NONE_OF_IT.search(said) or re.search("[1-9]", said):
        return None
    row = question.place.rpartition(".")[0]
    rows = row.rpartition(".")[0]
    left = {place: word for place, word in story.left.items() if not place.startswith(rows)}
    return replace(story, typed=taken_out(story.typed, row), left=left)


def one_by_one(story: Story, section: str) -> Story:
    """The story with the amounts of a section to be asked one by one."""
    return story.left_open(f"{section}.amounts", YES)


def _in_order(rows: list[Question], parts: list[str]) -> list[tuple[str, str]]:
    """Which part tells of which row: those that are named, else one after the other."""
    named = {}
    for part in parts:
        if here := _names(rows, part):
            best = max(here, key=lambda one: len(one.of))
            named[best.place] = re.sub(rf"\b(?:of )?{re.escape(best.of)}\b", "", part, flags=re.IGNORECASE).strip()
    if len(named) == len(parts):
        return list(named.items())
    return list(zip((one.place for one in rows), parts, strict=False)) if not named else []


def _names(rows: list[Question], part: str) -> list[Question]:
    """The rows whose thing a part names."""
    return [one for one in rows if re.search(rf"\b{re.escape(one.of.casefold())}\b", part.casefold())]


def complete(story: Story, section: str) -> bool:
    """Whether a list of what goes in can be a whole one: every amount told, a salt, and in a bath something wet."""
    rows = story.get(f"{section}.ingredient") or []
    if not rows or any("what" not in row or "amount" not in row for row in rows):
        return False
    records = [tables.ingredient(row["what"]) for row in rows]
    wet = story.get(f"{section}.method") != "wet" or any(one.water > 0.3 for one in records)
    return wet and any(map(salty, records))


def closed(story: Story, section: str) -> Story:
    """The story with nothing more that goes in. Raises: InputError where that cannot be a bath."""
    more = (one for one in questions(story) if one.section == section and one.empty == NO_MORE)
    still = next((one for one in more if not story.answered(one.place)), None)
    return tell(story, still, "") if still else story


def part_about(door: Question, doors: list[Question], typed: str) -> str:
    """The parts of an answer from where one step is named to where another one is."""
    said, here, kept = typed.replace("’", "'").casefold(), False, []
    for part in re.split(r"[,;.](?![0-9])|\b(?:and|then)\b", said):
        named = [one for one in doors if _done(one.place, part)]
        here = door in named if named else here
        kept += [part.strip()] if here else []
    return ", ".join(kept)
