"""What is typed again after an offer and only mends a part of it: the rest of the offer stays.

Of the fish: the weight was that of the whole fish. Of the thickness: how thick the thickest pieces are.
"""

from __future__ import annotations

import re
from dataclasses import replace

from flakeyard import refused
from flakeyard.messages import say
from flakeyard.workbook.amounts_in import amounts, in_digits
from flakeyard.workbook.asking import question_at
from flakeyard.workbook.loosely import can_be
from flakeyard.workbook.meant import Reading
from flakeyard.workbook.one_amount import value_of
from flakeyard.workbook.question import Question
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.summing_up import label
from flakeyard.workbook.words_in import names_in

WEIGHT = "fish.raw_weight"
NOT_CUT = re.compile(
    r"\b(?:whole(?! (?:lot|batch|thing|amount|load))|uncut|before (?:i|we|it was|they were)? ?(?:cut|cutting|filleted|filleting))\b"
)
A_WEIGHT = re.compile(r"\b(?:lbs?|pounds?|oz|kg|kilos?|grams?|weigh\w*)\b")
THICK_ONES = re.compile(
    r"\bthick(?:er|est)? (?:ones?|parts?|pieces?|ends?|bits?)\b|\b(?:the |at (?:the|its|their) )thickest\b"
)
REPLACED = re.compile(r"\b(?:all|every\w*|not|no|wrong|instead|rather|meant)\b")


def corrected(story: Story, question: Question, offered: tuple[Reading, ...], typed: str) -> Reading | None:
    """An offer with the part of it that an answer mends, to be confirmed where it is not ``sure``; None where it mends
    none of it, or all."""
    said = typed.replace("\N{RIGHT SINGLE QUOTATION MARK}", "'").casefold()
    if len(offered) != 1:
        return None
    if question.key == "species":
        return _of_whole_fish(question, offered[0], said)
    return _with_the_thickest(story, question, offered[0], said) if question.place == "cut.thickness" else None


def _of_whole_fish(question: Question, offered: Reading, said: str) -> Reading | None:
    """The fish without its weight, which was told before it was cut."""
    told = tuple(one for one in offered.told if one[0] != WEIGHT)
    of_the_whole = NOT_CUT.search(said) and A_WEIGHT.search(said)
    if len(told) == len(offered.told) or not of_the_whole or refused.fish(said) or names_in(question, said):
        return None
    fish, *others = told
    shown = "; ".join([fish[1], *(label(question_at(place), text) for place, text in others)])
    return replace(offered, told=told, shown=say("corrected.whole_fish", reading=shown), sure=False)


def _with_the_thickest(story: Story, question: Question, offered: Reading, said: str) -> Reading | None:
    """The usual thickness as it was offered, with the thickest piece beside it."""
    found = amounts(story, question, in_digits(question, said))
    usual = offered.told[0][1] if len(offered.told) == 1 else ""
    if len(found) != 1 or not usual or not THICK_ONES.search(said) or REPLACED.search(said):
        return None
    before = value_of(question, usual, "")
    if before is None or found[0].value <= before:
        return None
    told = ((question.place, usual), ("cut.thickest", found[0].text))
    sizes = zip(("story.thickness", "story.thickest"), told, strict=True)
    shown = ", ".join(say("loosely.size", what=say(name), size=text) for name, (_, text) in sizes)
    return next(iter(can_be(story, [Reading(told, shown, sure=True)])), None)
