"""Several things told in one answer: what else a sentence says of questions that are still open, and questions asked as one.

`also` looks in an answer that was taken for what the questions after it ask, where that is said plainly and in an amount
of another kind; nothing is read twice, and nothing where there is doubt. `STEPS` is one question for the four things that
may be done between the salt and the dryer; whoever answers it has answered the doors of their sections.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from flakeyard import tables
from flakeyard.messages import say
from flakeyard.steps.intent.fields import Flag, OneOf
from flakeyard.units import InputError, is_unit
from flakeyard.workbook import offering
from flakeyard.workbook.asking import (
    LEFT_OUT,
    NO,
    NO_MORE,
    NO_WORDS,
    SOAKS,
    YES,
    Question,
    Story,
    questions,
    tell,
)
from flakeyard.workbook.loosely import SAME, Reading, heard, in_digits, plain_amounts
from flakeyard.workbook.plainly import (
    CLEAR,
    DOUBT,
    GUESS,
    clear_words,
    doubted,
    numbers_in,
    only_wiped,
    plain_word,
)

FOLLOWING = {  # by key of the answer (or section of a door), the keys that may be told with it
    "species": ("raw_weight", "origin", "stock", "gutted", "smells_normal", "skin"),
    "raw_weight": ("origin", "stock", "gutted", "smells_normal", "skin"), "origin": ("stock", "gutted", "smells_normal", "skin"),
    "stock": ("origin", "frozen_at", "gutted", "smells_normal", "skin"), "hours_above_4c": ("warmest", "gutted", "smells_normal"), "gutted": ("smells_normal", "skin"),
    "smells_normal": ("gutted",), "form": ("thickness", "skin"), "thickness": ("skin",), "skin": ("thickness",),
    "presoak": ("time", "temperature"), "brine": ("time", "temperature", "what"), "what": (), "time": ("temperature",), "rest": ("time", "temperature"),
    "freshen": ("water", "time", "temperature"), "water": ("time", "temperature"), "heat": ("core", "checked"), "core": ("checked",),
    "dryer": (), "temperature": ("trays", "tray_area", "faces", "moving", "relative_humidity"),
    "trays": ("tray_area", "faces", "moving"), "tray_area": ("faces", "moving", "trays"), "faces": ("moving",), "heater": ("moving",),
    "place": ("wanted_days", "pack"), "wanted_days": ("pack",), "pack": ("wanted_days",),
}  # fmt: skip
NOT_FOR = re.compile(
    r"\b(?:each|every|per|apiece|ago|since|old|before|until|till|later|wide|long|then)\b"
)  # beside an amount
LABELS = {"2": "label.both_sides", "1": "label.one_side"}
DAMP = re.compile(r"(?<![\w.,])([0-9]{1,3}) ?(?:%|per ?cent|pct|procent)(?: (?:humid\w*|damp|rh))?")
COUNTED_TRAYS = re.compile(
    r"(?<![\w.,])([0-9]{1,2}) (?:(?:round|wire|mesh|oven|plastic|steel) ){0,2}(?:trays?|racks?|shelves|screens?|grids?)\b"
)
OTHER_WORDS = frozenset(  # of a list of what goes in: words that name nothing which goes in
    ["brine", "brined", "wet", "dry", "salted", "salt", "cure", "cured", "marinade", "marinated", "soak", "soaked", "rub", "rubbed", "fridge", "refrigerator", "overnight", "for", "hours", "hour", "cold", "cool", "at", "c", "f", "degrees", "kept", "keep", "it", "made", "make", "yes", "simple", "plain", "strong", "weak", "a", "the", "of", "in", "my", "own"]
)  # fmt: skip


# What else a sentence tells


def also(story: Story, question: Question, text: str) -> Reading | None:
    """What an answer tells of open questions after it, as one reading; None where it tells nothing more."""
    said = " ".join(text.replace("’", "'").casefold().split())
    if question.section == "heat":
        said = re.sub(r"\b(?:until|till?) (?=(?:\w+ ){0,4}[0-9])", "to ", said)
    if len(said.split()) < 2 or DOUBT.search(said):
        return None
    told: list[tuple[str, str]] = []
    shown: list[str] = []
    now = story
    for one in _open_after(story, question):
        for found in _told_of(now, one, said, question):
            try:
                now = found.put_in(now)
            except InputError:
                continue
            told += found.told
            shown.append(found.shown)
    return Reading(tuple(told), "; ".join(shown), sure=True) if told else None


def _open_after(story: Story, question: Question) -> Iterator[Question]:
    """Open questions that may be told together with one, in the order of `FOLLOWING`."""
    keys = FOLLOWING.get(question.section if question.door else question.key, ())
    here = [
        one
        for one in questions(story)
        if not story.answered(one.place) and not one.door and one.place != question.place
    ]
    for key in keys:
        for one in here:
            near = one.section == question.section or one.place in ("cut.skin",)
            if (
                one.key == key
                and near
                and not (question.key == "temperature" and question.section not in ("dryer", "room"))
            ):
                yield one
                break


def _told_of(story: Story, one: Question, said: str, asked: Question) -> list[Reading]:
    """What a sentence plainly tells of one question."""
    if one.key == "what":
        return _list_of(story, one, said)
    if one.key == "relative_humidity":
        found = DAMP.findall(said)
        return [labelled(one, found[0])] if len(found) == 1 and not GUESS.search(said) else []
    if one.key == "trays":
        found = COUNTED_TRAYS.findall(in_digits(one, said))
        return [labelled(one, found[0])] if len(found) == 1 and not doubted(said) else []
    if one.key == "pack":
        return _pack_of(story, one, said)
    if isinstance(one.kind, OneOf | Flag) or one.key == "faces":
        return _word_of(one, said)
    return _amount_of(story, one, said, asked)


def _word_of(one: Question, said: str) -> list[Reading]:
    """The clear word of a choice."""
    if one.key not in CLEAR and one.key != "moving":
        return []
    lead = re.match(r"(?:yes|no|nope|yep)\b[,.]? *", said)
    said = said[lead.end() :] if lead else said  # said of the question itself
    if one.key == "skin":
        said = re.sub(r"(?<!skin )(?<!skins )(?<!skin is )\boff\b(?! skin)", " ", said)  # "off the boat"
    if one.key == "faces":
        said = re.sub(r"(?<!baking )\bsheets?\b|\bplates?\b|\bboards?\b", " ", said)
    if one.key == "moving":
        found = {"fan"} if re.search(r"\b(?:fan|convection|ventilator)\b", said) else set()
        clear = found and not doubted(said) and not re.search(r"\b(?:no|not|without|broken|off)\b", said)
        return [labelled(one, "fan")] if clear else []
    words = clear_words(one, said)
    return [labelled(one, word) for word in words if len(words) == 1 and plain_word(one, said, word)]


def _amount_of(story: Story, one: Question, said: str, asked: Question) -> list[Reading]:
    """The one amount of a kind that no other question of this sentence has, with its unit."""
    if getattr(one.kind, "kinds", None) == getattr(asked.kind, "kinds", "") or not _may_be(one, said):
        return []
    if one.key == "thickness":
        said = re.sub(r"\b(?:in|into) (?=strips|fillets|slices)", " ", said)
        if re.search(r"\b(?:wide|width|long|length)\b", said):
            return []
    found = plain_amounts(story, one, said)
    values = {round(amount.value, 9) for amount in found}
    ranged = one.key == "thickness" and 1 < len(values) < 4
    if (len(values) != 1 and not ranged) or (GUESS.search(said) and not ranged) or NOT_FOR.search(said):
        return []
    if one.key == "raw_weight" and numbers_in(in_digits(one, said)) != 1:
        return []  # "2 trout, 400 g"
    text = in_digits(one, said) if ranged else found[0].text
    answer = heard(story, one, text)
    if answer.sure:
        return [answer.sure if ranged else labelled(one, answer.sure.told[0][1])]
    return [labelled(one, text)] if answer.story and not ranged and answer.story.get(one.place) is not None else []


def _may_be(one: Question, said: str) -> bool:
    """Whether the words of a sentence leave an amount to be what one of the guarded questions asks."""
    if one.key == "core":
        return bool(re.search(r"\b(?:core|middle|inside|centre|center|internal|probe)\b", said)) and not re.search(
            r"\b(?:oven|air|water|steamer|dial)\b", said
        )
    if one.key == "frozen_at":
        return bool(re.search(r"froze\w*[^,.;0-9]* at (?:about )?(?:-|minus)", said))
    if one.key == "warmest":
        return "°" in said or bool(re.search(r"[0-9] ?[cf]\b|degrees", said))
    return one.key not in ("hold", "to_tray", "hours_above_21c", "frozen_days", "weight_after")


def _pack_of(story: Story, one: Question, said: str) -> list[Reading]:
    if doubted(said) or re.search(r"\b(?:then|once|open\w*)\b", said):
        return []
    answer = heard(story, one, said)
    return [labelled(one, answer.sure.told[0][1])] if answer.sure else []


def _list_of(story: Story, one: Question, said: str) -> list[Reading]:
    """A list of what goes in, where amounts are told of two things or more and no word is left over."""
    reading = heard(story, one, said).sure
    if reading is None or sum(place.endswith(".amount") for place, _ in reading.told) < 2:
        return []
    left = [word for word in re.findall(r"[^\W\d]+", reading.rest) if word not in OTHER_WORDS and not is_unit(word)]
    return [] if left else [replace(reading, rest="")]


def labelled(question: Question, text: str) -> Reading:
    """A reading that says which question it answers."""
    text = re.sub(r"(?<=[0-9 °])([cf])$", lambda degrees: degrees[1].upper(), text)
    return Reading(((question.place, text),), label(question, text))


def label(question: Question, text: str) -> str:
    """A short name of a question with what was read."""
    if question.key == "faces" and text in LABELS:
        text = say(LABELS[text])
    return say("label.read", what=say(f"label.{question.key}"), reading=text)


# Four doors asked as one


STEPS = "steps"
STEP_DOORS = ("presoak", "rest", "freshen.1", "heat")
STEP_CUES = {  # what people say of each, as patterns
    "presoak": r"(?:butter)?milk|sugar ?water|lemon\w*|vinegar|first bath|pre-?soak\w*",
    "rest": r"rests?|resting|rested|racks?|hangs?|hanging|hung|pellicle|air[- ]?dr\w+|uncovered|stands?|sits?|tacky|over ?night|(?:in|on) the (?:fridge|refrigerator|counter|table)|fan[- ]dr\w+",
    "freshen.1": r"plain water|fresh water|clean water|desalt\w*|de-?salt\w*|freshen\w*|soak\w*(?! in (?:butter)?milk)",
    "heat": r"heat\w*|cook\w*|steam\w*|ovens?|boil\w*|bak\w+|poach\w*|simmer\w*|blanch\w*|roast\w*|grill\w*|hot[- ]smok\w*|par-?cook\w*|pre-?cook\w*",
}  # fmt: skip
NOT_NOW = re.compile(r"\b(?:eat\w*|later|afterwards?|serv\w*|after the dryer|when dry|in the end)\b")
NOTHING_ELSE = re.compile(
    r"^(?:no\b|nope\b|nah\b|none\b|nothing\b|not?\b|neither\b)|\b(?:straight|directly|right away)\b|\bno(?:ne|thing)? of (?:these|them|those|that)\b"
)


def next_asked(question: Question | None, story: Story) -> Question | None:
    """The next question, or the one that asks it together with others: what is done before the dryer, how much of each."""
    if question is None:
        return None
    several = f"{question.section}.amounts" not in story.left
    if question.place in STEP_DOORS and STEPS not in story.left and len(doors := open_steps(story)) > 1:
        what = ", ".join(say(f"step.{one.place.partition('.')[0]}") for one in doors)
        return Question(STEPS, STEPS, "gate.steps", OneOf((YES, NO)), "", empty=NO, of=what)
    rows = open_amounts(story, question.section) if question.key == "amount" and several else []
    if len(rows) > 1 and rows[0].place == question.place:
        return replace(question, of="; ".join(one.of for one in rows))
    return question


def open_steps(story: Story) -> list[Question]:
    """Doors of the sections between the salt and the dryer that are not answered."""
    return [one for one in questions(story) if one.place in STEP_DOORS and not story.answered(one.place)]


def steps_told(story: Story, text: str) -> Reading | None:
    """What is done before the dryer; None where it has to be asked one by one."""
    said = " ".join(text.replace("’", "'").casefold().split()).rstrip(".!")
    doors = open_steps(story)
    named = [] if said in LEFT_OUT else [one for one in doors if _done(one.place, said)]
    nothing = not said or said in (*LEFT_OUT, *NO_WORDS) or NOTHING_ELSE.search(said) or only_wiped(said)
    if DOUBT.search(said) or not (named or nothing):
        return None
    told = [(one.place, _step_word(one, said) if one in named else NO) for one in doors]
    shown = "; ".join(say(f"step.{one.place.partition('.')[0]}") for one in named) or say("begin.no")
    return Reading(tuple(told), shown, sure=True)


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


# Amounts of several things at once


HOW_MUCH = re.compile(rf"{offering.NUMBER.pattern}|{SAME.pattern}|\b(?:an?|pinch|dash|splash|few|couple)\b")


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
    said = " ".join(text.replace("’", "'").split())
    parts = [
        one.strip()
        for one in re.split(r"(?<![0-9]),|,(?![0-9])|[;+&]|\band\b(?! (?:a |an )?(?:half|quarter|third))", said)
        if one.strip()
    ]
    if re.search(r"\b(?:each|of all)\b", said.casefold()) and len(parts) == 1:
        parts = [re.sub(r"\b(?:of )?(?:each|all)\b", "", said, flags=re.IGNORECASE).strip()] * len(rows)
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


def one_by_one(story: Story, section: str) -> Story:
    """The story with the amounts of a section to be asked one by one."""
    return story.left_open(f"{section}.amounts", YES)


def _in_order(rows: list[Question], parts: list[str]) -> list[tuple[str, str]]:
    """Which part tells of which row: those that are named, else one after the other."""
    named = {}
    for part in parts:
        here = [one for one in rows if re.search(rf"\b{re.escape(one.of.casefold())}\b", part.casefold())]
        if here:
            best = max(here, key=lambda one: len(one.of))
            named[best.place] = re.sub(rf"\b(?:of )?{re.escape(best.of)}\b", "", part, flags=re.IGNORECASE).strip()
    if len(named) == len(parts):
        return list(named.items())
    return list(zip((one.place for one in rows), parts, strict=False)) if not named else []


def complete(story: Story, section: str) -> bool:
    """Whether a list of what goes in can be a whole one: every amount told, a salt, and in a bath something wet."""
    rows = story.get(f"{section}.ingredient") or []
    if not rows or any("what" not in row or "amount" not in row for row in rows):
        return False
    records = [tables.ingredient(row["what"]) for row in rows]
    wet = story.get(f"{section}.method") != "wet" or any(one.water > 0.3 for one in records)
    return wet and any(one.kind == "salt" for one in records)


def closed(story: Story, section: str) -> Story:
    """The story with nothing more that goes in. Raises: InputError where that cannot be a bath."""
    more = next(
        one
        for one in questions(story)
        if one.section == section and one.empty == NO_MORE and not story.answered(one.place)
    )
    return tell(story, more, "")


def part_about(door: Question, doors: list[Question], typed: str) -> str:
    """The parts of an answer from where one step is named to where another one is."""
    said, here, kept = typed.replace("’", "'").casefold(), False, []
    for part in re.split(r"[,;.](?![0-9])|\b(?:and|then)\b", said):
        named = [one for one in doors if _done(one.place, part)]
        here = door in named if named else here
        kept += [part.strip()] if here else []
    return ", ".join(kept)
