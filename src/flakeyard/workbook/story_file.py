"""A story as a batch file: what was told, and every other key beside it as a remark, with its question and an example.

A key that was left open on purpose is a remark too, ``# waters = not known``, and a section that was declined is
``# [heat] "no"``; so a story that is read again knows what was asked before. The file can be planned as it is, and told
on by hand: take away the # of an example and change it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import tomli_w

from flakeyard import reading
from flakeyard.messages import say
from flakeyard.steps.intent.batch_file import Mistakes, mistakes
from flakeyard.steps.intent.fields import FIELDS, INGREDIENT, LISTS, NOT_KNOWN, SOAKS
from flakeyard.workbook.asked import DOORS
from flakeyard.workbook.asking import message_of
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO, NO_MORE
from flakeyard.workbook.so_far import Story

_HEAD = re.compile(r'(?:# )?\[\[?([a-z.]+)\]\]?(?: "(no|no more)")?\s*')
_NOTE = re.compile(r"# said of ([a-z0-9_.]+): (.+)")
_OPEN = re.compile(r"# ([a-z0-9_]+) = not known\s*")


def text_of(story: Story, file: str) -> str:
    """A story as the text of a batch file; ``file`` is what it will be called."""
    lines = [f"# {say('file.head')}", f"# {say('file.next', file=file)}", "", *_keys(story, "", "")]
    for section in (name for name in FIELDS if name):
        lines += ["", *_section(story, section)]
    notes = [f"# said of {place}: {words}" for place, words in story.notes.items()]
    return "\n".join([*lines, *([""] if notes else []), *notes]) + "\n"


def _section(story: Story, section: str) -> Iterator[str]:
    if section in LISTS:
        yield from _rows(story, section, section, f"{section}.{{}}")
        return
    there = section in story.typed or section not in DOORS
    yield f"[{section}]" if there else _closed(f"[{section}]", story.left.get(section))
    yield from _keys(story, section, section)
    if section in SOAKS:
        yield ""
        yield from _rows(story, section, f"{section}.ingredient", f"{section}.ingredient.{{}}.what")


def _rows(story: Story, section: str, place: str, door: str) -> Iterator[str]:
    """Rows that were told, and one more as an example, with the word that closed it."""
    rows = len(story.get(place) or [])
    for number in range(1, rows + 1):
        yield f"[[{place}]]"
        yield from _keys(story, section, f"{place}.{number}", examples=False)
        yield ""
    yield _closed(f"[[{place}]]", story.left.get(door.format(rows + 1)))
    yield from _keys(story, section, f"{place}.{rows + 1}")


def _closed(head: str, word: str | None) -> str:
    return f'# {head} "{word}"' if word in (NO, NO_MORE) else f"# {head}"


def _keys(story: Story, section: str, place: str, examples: bool = True) -> Iterator[str]:
    """Each key of a section or row with its question: told, left open, or as an example (where those are wanted)."""
    fields = INGREDIENT if ".ingredient." in place else FIELDS[section]
    here = (story.get(place) if place else story.typed) or {}
    for key, kind in fields.items():
        question = question_of(section, f"{place}.{key}" if place else key, kind)
        if not examples and not story.answered(question.place):
            continue
        allowed = say("ask.name_of_table") if question.names else kind.allowed
        yield f"# {say('file.allowed', words=question.words, allowed=allowed)}"
        if key in here:
            yield tomli_w.dumps({key: here[key]}).rstrip("\n")
        elif story.left.get(question.place) == NOT_KNOWN:
            yield f"# {key} = {NOT_KNOWN}"
        else:
            yield f"# {key} = {kind.example}"


def question_of(section: str, place: str, kind) -> Question:
    """The question about a key, whether it is asked or only told by hand."""
    return Question(place, section, message_of(section, place), kind, kind.example.strip('"'))


def story_of(text: str, where: str) -> Story:
    """A story from the text of a batch file, written by `text_of` or by hand.

    Raises: InputError or InputErrors where something in it cannot be used; what is only missing may still be told
    """
    typed = reading.read_toml(text, where)
    found = Mistakes()
    found.extend(mistakes(typed))
    found.end()
    told = {name: value for name, value in typed.items() if value != {} or name in DOORS}
    return Story(told, dict(_left(text)), dict(one.groups() for one in map(_NOTE.fullmatch, text.splitlines()) if one))


def _left(text: str) -> Iterator[tuple[str, str]]:
    """Places that were left open on purpose, with the word."""
    place, counted = "", {}
    for line in text.splitlines():
        if head := _HEAD.fullmatch(line):
            name, word = head.groups()
            place = name
            if name in LISTS or name.endswith(".ingredient"):
                counted[name] = counted.get(name, 0) + 1
                place = f"{name}.{counted[name]}"
            if word:
                yield (f"{place}.what" if word == NO_MORE else place), word
        elif found := _OPEN.fullmatch(line):
            yield (f"{place}.{found[1]}" if place else found[1]), NOT_KNOWN
