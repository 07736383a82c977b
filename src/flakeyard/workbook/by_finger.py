"""A finger as a thickness: its cautious end is offered, with what a finger is roughly and that a ruler is better."""

from __future__ import annotations

import re
from dataclasses import replace

from flakeyard.messages import say
from flakeyard.workbook.amounts_in import in_digits, plain_amounts
from flakeyard.workbook.meant import Reading, plain
from flakeyard.workbook.question import Question
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.which_units import system_of

FINGER = r"(?:finger|thumb)(?:s|'s|s')?"
FINGERS = re.compile(rf"\b(?:(?P<many>half)(?: of)?(?: (?:an?|my))? )?(?P<which>{FINGER})\b")
AS_THICK = re.compile(rf"\b{FINGER}(?: width| breadth)?[- ]thick\b|\bthick as (?:an?|my|your|the) (?:\w+ )?{FINGER}\b")
ACROSS = {  # from and to, metric and US (judgement: common practice, no source)
    "half": (("7 mm", "10 mm"), ("5/16 in", "3/8 in")), "finger": (("15 mm", "20 mm"), ("5/8 in", "3/4 in")),
    "thumb": (("20 mm", "25 mm"), ("3/4 in", "1 in")),
}  # fmt: skip


def finger_thick(story: Story, question: Question, text: str) -> tuple[Reading, ...]:
    """The thicker end of a finger, to be confirmed; nothing where a length or another number is told."""
    said = text.casefold()
    found = list(FINGERS.finditer(said))
    if question.place != "cut.thickness" or len(found) != 1 or plain_amounts(story, question, said):
        return ()
    if re.search("[0-9]|half", in_digits(question, FINGERS.sub(" ", said)).replace("1 ", "")):
        return ()
    low, high = ACROSS[found[0]["many"] or found[0]["which"][:6].rstrip("s'")][system_of(story) == "us"]
    return (replace(plain(question, high), shown=say("loosely.finger", size=high, low=low, high=high)),)
