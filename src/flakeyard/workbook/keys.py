"""The page of all keys of a batch file, made from the table that reads it and from the questions about it."""

from __future__ import annotations

from collections.abc import Iterator

from flakeyard.messages import say
from flakeyard.steps.intent.fields import FIELDS, INGREDIENT, LISTS, SOAKS, Flag, Measure, Number, OneOf
from flakeyard.workbook.asked import DOORS
from flakeyard.workbook.story_file import question_of

KINDS = {Measure: "amount", Number: "number", OneOf: "choice", Flag: "flag"}


def keys_page() -> str:
    """All keys as a page in Markdown; ``workbooks/keys.md`` is what this returns."""
    parts = [f"# {say('keys.title')}", say("keys.head")]
    for section, fields in FIELDS.items():
        parts += [_heading(section), *_remarks(section), "\n".join(_table(section, section, fields))]
        if section in SOAKS:
            place = f"{section}.ingredient"
            parts += [f"## `[[{place}]]`", say("keys.rows"), "\n".join(_table(section, f"{place}.1", INGREDIENT))]
    return "\n\n".join(parts) + "\n"


def _heading(section: str) -> str:
    if not section:
        return f"## {say('keys.top')}"
    return f"## `[[{section}]]`" if section in LISTS else f"## `[{section}]`"


def _remarks(section: str) -> Iterator[str]:
    """What holds for a section as a whole."""
    if section in DOORS:
        yield f"{say(f'gate.{section}.words')} {say('keys.optional')} {say(f'gate.{section}.cost')}"
    if section in LISTS:
        yield say("keys.rows")


def _table(section: str, place: str, fields: dict) -> Iterator[str]:
    """A line for each key: what it says, its kind, what is allowed, an example, and what is so where it is left out."""
    head = [column.strip() for column in say("keys.columns").split("|")]
    yield from (_line(head), _line(["---"] * len(head)))
    for key, kind in fields.items():
        question = question_of(section, f"{place}.{key}" if place else key, kind)
        allowed = f"{say('ask.name_of_table')}: {'; '.join(question.names)}" if question.names else kind.allowed
        example = f"`{key} = {kind.example}`"
        says = f"{question.words} {question.why}"
        yield _line(
            [f"`{key}`", says, say(f"keys.kind.{KINDS.get(type(kind), 'words')}"), allowed, example, question.cost]
        )


def _line(cells: list[str]) -> str:
    return f"| {' | '.join(cell.replace('|', say('keys.or')) for cell in cells)} |"


if __name__ == "__main__":
    print(keys_page(), end="")
