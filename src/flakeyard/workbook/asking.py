"""The story of a fish as questions, in the order a cook tells it: the fish, the cut, the salt, the heat, the dryer, keeping.

A terminal and a form on the page ask the same: `questions` are those that apply to what was told so far, one for every
key that `asked` has and for every door. What an answer does to the story `telling` says.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from flakeyard.steps.intent.fields import FIELDS, INGREDIENT, LISTS, SOAKS
from flakeyard.workbook.asked import AFTER_HEAT, AFTER_SALT, ASKED, DOORS, ORDER
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO, NO_MORE
from flakeyard.workbook.so_far import Story

MOST_SOAKS = 3  # in plain water that are asked for; a file may hold more (judgement)
MOST_INGREDIENTS = 12  # that are asked for; a file may hold more (judgement)


def questions(story: Story) -> Iterator[Question]:
    """All questions that apply to what was told so far, answered or not, in their order."""
    for section in ORDER:
        yield from (one for one in _of_section(story, section) if one.place not in AFTER_HEAT)
        if section == "heat":
            yield from (one for one in _of_section(story, "fish") if one.place in AFTER_HEAT)


def _of_section(story: Story, section: str) -> Iterator[Question]:
    """The questions of a section that apply, its door first."""
    if section in AFTER_SALT and not any(name in story.typed for name in SOAKS):
        return
    if section in LISTS:
        yield from _repeated(story, section)
        return
    if section in DOORS:
        yield _door(section, section)
        if section not in story.typed:
            return
    yield from _of(story, section, "soak" if section in SOAKS else section, section)
    if section in SOAKS:
        yield from _ingredients(story, section)


def next_question(story: Story, more: bool = True) -> Question | None:
    """The first question that is not answered yet, those that few can answer last or (without ``more``) not at all; None
    where all are."""
    still = [one for one in questions(story) if not story.answered(one.place)]
    few = [one for one in still if one.more or one.section == "measured"]
    return next((one for one in still if one not in few), few[0] if few and more else None)


def _of(story: Story, section: str, asked: str, place: str) -> Iterator[Question]:
    """The questions of a section or row that apply."""
    fields = INGREDIENT if asked == "ingredient" else FIELDS[section]
    for one in ASKED[asked]:
        here = (story.get(place) if place else story.typed) or {}
        if one.when(here, story.typed):
            at = f"{place}.{one.key}" if place else one.key
            of = here.get("what", "") if asked == "ingredient" and one.key != "what" else ""
            more = one.more(here, story.typed)
            yield Question(at, section, message_of(section, at), fields[one.key], one.metric, one.us, of=of, more=more)


def message_of(section: str, place: str) -> str:
    """The message of a key, which both baths and all rows of ingredients share."""
    key = place.rpartition(".")[2]
    if ".ingredient." in place:
        return f"ingredient.{key}"
    return f"soak.{key}" if section in SOAKS else f"{section or 'batch'}.{key}"


def _door(section: str, place: str, message: str = "") -> Question:
    kind = DOORS[section]
    return Question(place, section, f"gate.{message or section}", kind, kind.words[0], empty=NO)


def _ingredients(story: Story, section: str) -> Iterator[Question]:
    """The ingredients told, and the first question of the next one."""
    rows = len(story.get(f"{section}.ingredient") or [])
    for count in range(1, min(rows + 1, max(rows, MOST_INGREDIENTS)) + 1):
        first, *others = _of(story, section, "ingredient", f"{section}.ingredient.{count}")
        yield first if count == 1 else replace(first, message="ingredient.more", metric="honey", empty=NO_MORE)
        if count <= rows:
            yield from others


def _repeated(story: Story, section: str) -> Iterator[Question]:
    """Soaks told, and the door to the next one."""
    rows = len(story.get(section) or [])
    for count in range(1, min(rows + 1, max(rows, MOST_SOAKS)) + 1):
        place = f"{section}.{count}"
        yield _door(section, place, "" if count == 1 else "again")
        if count <= rows:
            yield from _of(story, section, section, place)


def reopened(story: Story) -> Story:
    """The story with everything asked again that was left open although no plan can be made without it."""
    needed = {one.place for one in questions(story) if one.needed}
    if "species" not in story.typed.get("fish", {}):
        needed |= {f"fish.{key}" for key in ("species", "water", "protein", "fat")}
    return replace(story, left={place: word for place, word in story.left.items() if place not in needed})


def question_at(place: str) -> Question:
    """The question that belongs to a place, whatever was told so far."""
    section, key = place.split(".")[0], place.rpartition(".")[2]
    if place in DOORS or (section in LISTS and place.count(".") == 1):
        return _door(section, place)
    asked = "ingredient" if ".ingredient." in place else "soak" if section in SOAKS else section
    one = next(one for one in ASKED[asked] if one.key == key)
    kind = (INGREDIENT if asked == "ingredient" else FIELDS[section])[key]
    return Question(place, section, message_of(section, place), kind, one.metric, one.us)
