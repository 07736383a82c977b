"""All that a story tells, in a few short lines, to be looked over once before the verdict: what decides, and what was read."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from flakeyard import limits
from flakeyard.messages import number, say
from flakeyard.steps.intent.fields import NONE, SOAKS
from flakeyard.units import show
from flakeyard.workbook import unasked, words
from flakeyard.workbook.asking import questions
from flakeyard.workbook.kept_story import FREEZING, to_freeze
from flakeyard.workbook.meant import as_written
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO_MORE, YES
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.which_units import system_of

LINES = {  # name of each, as a message, and its sections
    "section.fish": ("fish",), "section.cut": ("cut",), "section.brine": ("brine",), "section.steps": ("presoak", "rest", "freshen", "heat"),
    "section.dryer": ("dryer",), "section.room": ("room",), "section.keep": ("keep",),
}  # fmt: skip
BARE = (
    "species",
    "raw_weight",
    "origin",
    "stock",
    "form",
    "place",
    "pack",
    "tray_area",
    "moving",
    "waters",
    "time",
    "temperature",
    "heater",
)  # need no label
WITH = {  # by key of a place, keys that have to be told again with it
    "hours_above_4c": ("hours_above_21c", "warmest"), "hours_above_21c": ("warmest",), "thickness": ("thinnest", "thickest"),
}  # fmt: skip


@dataclass(frozen=True)
class Item:
    """Something told, in short, and the place to tell it again at."""

    place: str
    words: str

    def forgotten(self, story: Story) -> Story:
        """The story with this to be asked again, and what hangs on it."""
        above, _, key = self.place.rpartition(".")
        for place in (self.place, *(f"{above}.{one}" for one in WITH.get(key, ()))):
            story = story.forgotten(place)
        return story


def lines(story: Story) -> list[tuple[str, list[Item]]]:
    """Name and items of each line that has any."""
    every = list(questions(story))
    told = [
        (say(name), [item for one in sections for item in _of(story, one, every)]) for name, sections in LINES.items()
    ]
    return [(name, items) for name, items in told if items]


def _of(story: Story, section: str, every: list[Question]) -> Iterator[Item]:
    for one in every:
        told = story.get(one.place)
        if one.section != section or told is None or ".ingredient." in one.place:
            continue
        if one.door:
            name = told.get("method") if section in SOAKS else say(f"step.{section}")
            yield Item(one.place, name or YES)
        else:
            yield Item(
                one.place,
                _of_a_change(story, one, told) or _very_warm(story, one, told) or _words(one, told, system_of(story)),
            )
    if rows := (story.get(f"{section}.ingredient") if section in SOAKS else None):
        yield Item(
            f"{section}.ingredient",
            ", ".join(f"{row['what']} {row.get('amount', '')}".strip() for row in rows if "what" in row),
        )


def _words(question: Question, told, system: str) -> str:
    if isinstance(told, bool):
        told = say("ask.yes" if told else "begin.no")
    if isinstance(told, float):
        told = number(told, ".2g")
    if question.place == "keep.pack":
        told = words.pack_name(told)
    told = as_written(question, str(told))
    return told if question.key in BARE and told != NONE else label(question, told, system)


def _of_a_change(story: Story, question: Question, told) -> str:
    """For how many days the fish is still to be frozen; "" elsewhere."""
    if question.place != FREEZING or not to_freeze(story):
        return ""
    return say("label.read", what=say("label.days_to_freeze"), reading=told)


def _very_warm(story: Story, question: Question, told) -> str:
    """That all warm hours count as very warm, where it was not told; "" elsewhere."""
    if question.place != unasked.PLACE or story.notes.get(question.place) != say("unasked.very_warm"):
        return ""
    return say("told.above_all", degrees=_above(question.key, system_of(story)))


def _above(key: str, system: str) -> str:
    return show(ABOVE[key], "temperature", system or "both")


def label(question: Question, text: str, system: str = "") -> str:
    """A short name of a question with what was read."""
    if question.key in ABOVE:
        hours = f"{text} h" if re.fullmatch(r"[0-9.,]+", text) else text
        return say("told.above", degrees=_above(question.key, system), hours=hours)
    if question.key == "faces" and text in FACES:
        text = say(FACES[text])
    what, text = say(f"label.{question.key}"), as_written(question, text)
    if what.endswith(PER_CENT) and re.fullmatch(r"[0-9.,]+", text):
        what, text = what.removesuffix(PER_CENT), f"{text} %"
    return say("label.read", what=what, reading=text)


PER_CENT = ", %"  # behind the name of what is asked in per cent
ABOVE = {"hours_above_4c": limits.COLD, "hours_above_21c": limits.WARM}  # °C
FACES = {"2": "label.both_sides", "1": "label.one_side"}


def retold(story: Story, item: Item) -> Story:
    """The story with an item to be asked again; a list that is told again may also end again."""
    story = item.forgotten(story)
    ended = [place for place, word in story.left.items() if word == NO_MORE and place.startswith(item.place)]
    for place in ended:
        story = story.forgotten(place)
    return story
