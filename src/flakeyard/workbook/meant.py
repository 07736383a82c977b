"""What an answer may mean: places with texts that are told as any other answer is."""

from __future__ import annotations

import re
from dataclasses import dataclass

from flakeyard.messages import say
from flakeyard.steps.intent.fields import NOT_KNOWN, Flag, Measure, OneOf
from flakeyard.workbook.asking import question_at, questions
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO, NO_MORE, YES
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.telling import tell

DEGREES = re.compile(r"(?<![\w.,])([-−]?)([0-9]+(?:[.,][0-9]+)?) ?(?:°|degrees?|deg)? ?([cf])\b", re.IGNORECASE)


@dataclass(frozen=True)
class Reading:
    """What an answer may mean: places with texts that `tell` takes, what to show of it, whether it needs no confirming,
    words of a list that nobody knows, and words to keep as a note."""

    told: tuple[tuple[str, str], ...]
    shown: str
    sure: bool = False
    rest: str = ""
    notes: tuple[tuple[str, str], ...] = ()

    def put_in(self, story: Story) -> Story:
        """The story with this told. Raises: InputError."""
        for place, text in self.told:
            question = next((one for one in questions(story) if one.place == place), None) or question_at(place)
            story = tell(story, question, "" if text in (NOT_KNOWN, NO_MORE) else text)
        for place, words in self.notes:
            story = story.noted(place, words)
        return story


def chosen(question: Question) -> tuple[str, ...]:
    """The words that may be answered, where they are few."""
    if isinstance(question.kind, Flag):
        return (YES, NO)
    return question.kind.words if isinstance(question.kind, OneOf) else ()


def plain(question: Question, word: str) -> Reading:
    """A word of a choice as a reading."""
    return Reading(((question.place, word),), say("begin.open") if word == NOT_KNOWN else as_written(question, word))


def as_written(question: Question, text: str) -> str:
    """An answer as it is written by hand: degrees with their sign, of what is asked in degrees ("2 c" of sugar is two cups)."""
    if not isinstance(question.kind, Measure) or question.kind.kinds != "temperature":
        return text
    return DEGREES.sub(lambda one: f"{'−' * bool(one[1])}{one[2]} °{one[3].upper()}", text)
