"""What an answer does to the story: it is told, leaves its question open, or is refused with the reason.

`tell` reads an answer by the kind of its own question and looks whether it can be with what was told before.
"""

from __future__ import annotations

import re
from dataclasses import replace

from flakeyard import tables
from flakeyard.messages import say
from flakeyard.steps.chain import brining
from flakeyard.steps.intent import records
from flakeyard.steps.intent.batch_file import mistakes, read_soak
from flakeyard.steps.intent.fields import INGREDIENT, SOAKS
from flakeyard.steps.intent.places import taken_out
from flakeyard.steps.intent.spread import Draws
from flakeyard.units import InputError, one_line, show
from flakeyard.workbook.as_value import how_to_tell, valued, word_of
from flakeyard.workbook.left_open import tells_nothing
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import LEFT_OUT, NO, NO_MORE, as_said, unquoted
from flakeyard.workbook.so_far import Story

FLAVOUR = "aromatics"  # the kind of what goes in for the flavour alone


def tell(story: Story, question: Question, text: str) -> Story:
    """The story with an answer as it was typed; an empty one, or "not known", leaves the question open on purpose.

    Raises: InputError where the answer cannot be read, or cannot be with what was told before; the story stays as it is
    """
    text = unquoted(text.strip())
    if tells_nothing(question, text):
        _check_bath(story, question)
        return story.left_open(question.place, question.empty)
    if question.door:
        return _opened(story, question, text)
    value = valued(question, text)
    question.kind.read(value, question.where)
    told = _what_follows(story, story.told(question.place, value), question.place)
    before = {str(one) for one in mistakes(story.typed)}
    for mistake in mistakes(told.typed):
        if str(mistake) not in before:
            raise mistake
    _check_syrup(told, question)
    if question.key == "what" and tables.ingredient(value).kind == FLAVOUR:
        return _flavoured(story, question, value)
    return told


def _flavoured(story: Story, question: Question, name: str) -> Story:
    """The story with something that only gives flavour: it needs no amount, changes nothing and stays as a note."""
    place = f"{question.section}.flavour"
    told = [one for one in story.notes.get(place, "").split("; ") if one and one != name]
    return story.noted(place, "; ".join([*told, name]))


def refusal(mistake: InputError, question: Question | None = None) -> str:
    """Why an answer was not taken, in plain words and without the name of a key."""
    why = mistake.why
    if question and how_to_tell(question, str(mistake.given)) == why:
        return why
    if question and question.place == "dryer.temperature" and why == say("amount.too_much"):
        why = say("ask.too_hot", most=show(question.kind.high, "temperature", "both"))
    if question and question.place == "dryer.tray_area" and why == say("amount.too_much"):
        why = say("ask.too_large")
    example = re.sub(r'^"([^"]*)"$', r"\1", str(mistake.example))
    yes_no = {True: say("ask.yes"), False: say("begin.no")}
    given = yes_no[mistake.given] if isinstance(mistake.given, bool) else one_line(str(mistake.given), 80)
    end = "" if why.endswith((".", "?")) else "."
    return say("story.refused", given=given, why=f"{why}{end}", allowed=mistake.allowed, example=example)


def _opened(story: Story, question: Question, text: str) -> Story:
    word = NO if as_said(text) in LEFT_OUT else word_of(question.kind, text)
    word = question.kind.read(word, question.where)
    if word == NO:
        return story.left_open(question.place, NO)
    before = story.get(question.place) or {}
    return story.told(question.place, before | {"method": word} if question.place in SOAKS else before)


def _what_follows(before: Story, now: Story, place: str) -> Story:
    """What an answer says besides itself: another fish has another history, and fish never above 4 °C was never above 21 °C."""
    old, new = before.get(place), now.get(place)
    if place == "fish.species" and old not in (None, new):
        kept = {key: value for key, value in now.typed["fish"].items() if key in ("species", "raw_weight")}
        left = {name: word for name, word in now.left.items() if not name.startswith("fish.")}
        return replace(now, typed=now.typed | {"fish": kept}, left=left)
    if place == "fish.hours_above_4c" and new == 0:
        return now.told("fish.hours_above_21c", 0)
    if place == "fish.hours_above_4c" and old == 0:
        return replace(now, typed=taken_out(now.typed, "fish.hours_above_21c"))
    return now


def _check_bath(story: Story, question: Question) -> None:
    """With the last ingredient told, look whether it can be a bath at all. Raises: InputError."""
    if question.empty != NO_MORE:
        return
    section = question.section
    try:
        brining.mix(read_soak(story.typed[section], section), Draws(1), section)
    except InputError as mistake:
        if not mistake.lacking:  # what is only missing may still be told
            raise


def _check_syrup(story: Story, question: Question) -> None:
    """Look whether a syrup can be as heavy as it was told. Raises: InputError."""
    row = story.get(question.place.rpartition(".")[0]) if question.key == "one_cup_weighs" else {}
    if "amount" in row:
        read = {key: INGREDIENT[key].read(value, key) for key, value in row.items()}
        brining.mass_of(records.Ingredient(**read), Draws(1))
