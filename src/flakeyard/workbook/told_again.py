"""What goes in, put into the rows of a list: what stands already is not added a second time by telling it again.

The same amount of the same thing is the same thing. Where another amount of it is told, it is asked back which one counts,
or whether both go in, the one first that leaves less salt in the water.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from flakeyard import tables
from flakeyard.messages import say
from flakeyard.steps.chain import brining
from flakeyard.steps.intent import records
from flakeyard.steps.intent.fields import INGREDIENT
from flakeyard.steps.intent.spread import Draws
from flakeyard.units import InputError
from flakeyard.workbook.meant import Reading
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.telling import FLAVOUR

SALTY = 0.05  # kg/kg: what counts for its salt (judgement)
ALIKE = 0.01  # of an amount: so near, two amounts are one (judgement)
STANDS, NOW, BOTH = "stands", "now", "both"  # which of two amounts counts
ANY_SALT = "salt_unknown"  # what the table knows a plain "salt" as
MORE_OF_IT = re.compile(r"\b(?:another|again|more|extra|second)\b")  # beside a thing that stands already


@dataclass(frozen=True)
class Thing:
    """Something that goes in: its name, how much of it ("" where that is not said), whether it is said to be more of it, and
    whether the amount is a guess."""

    name: str
    much: str
    more: bool = False
    guess: bool = False


@dataclass
class Rows:
    """The rows of a list by number, with what is told of them, and things that stand there in another amount."""

    above: str
    stand: dict[int, Thing]
    next: int
    last: int  # row that is told
    told: list[tuple[str, str]] = field(default_factory=list)
    shown: dict[object, str] = field(default_factory=dict)
    differ: list[tuple[int, Thing]] = field(default_factory=list)

    def add(self, thing: Thing) -> None:
        """Put a thing into a row of its own, or to the one it stands in."""
        flavour = tables.ingredient(thing.name).kind == FLAVOUR
        row = None if flavour else self.row_of(thing)
        if row is None:
            self.told.append((f"{self.above}.{self.next}.what", thing.name))
            self.shown[thing.name if flavour else self.next] = thing.name
            if not flavour:
                row, self.next = self.next, max(self.next, self.last) + 1
                self.stand[row] = Thing(thing.name, "")
        elif not (thing.much or row in self.shown):
            self.shown[row] = say("ingredient.stands", what=_words(self.stand[row]))
        if row is not None and thing.much:
            self.measure(row, thing)

    def measure(self, row: int, thing: Thing) -> None:
        """Put how much of a thing goes in to its row, unless as much stands there already."""
        before = self.stand[row]
        if not before.much:
            self.told.append((f"{self.above}.{row}.amount", thing.much))
            self.stand[row] = replace(before, much=thing.much, guess=thing.guess)
            self.shown[row] = _words(self.stand[row])
        elif thing.more or not _as_much(before, thing):
            self.differ.append((row, thing))
        elif row not in self.shown:
            self.shown[row] = say("ingredient.stands", what=_words(before))

    def row_of(self, thing: Thing) -> int | None:
        """The row in which a thing stands; a plain "salt" is the one that is told already."""
        id = tables.ingredient(thing.name).id
        for row, one in self.stand.items():
            record = tables.ingredient(one.name)
            if record.id == id or (id == ANY_SALT and record.kind == "salt"):
                return row
        return None


def stands_already(story: Story, place: str, name: str) -> bool:
    """Whether a name alone, told as the next thing that goes in, is one that stands in another row."""
    try:
        thing = Thing(name, "")
        return _rows(story, place).row_of(thing) is not None and tables.ingredient(name).kind != FLAVOUR
    except InputError:
        return False


def put_down(story: Story, place: str, named: list[Thing], rest: str) -> list[Reading]:
    """What a list comes to, told at the place of a name; several readings where an amount differs from the one told before."""
    rows = _rows(story, place)
    for thing in named:
        rows.add(thing)
    if not rows.differ:
        guess = any(thing.guess and tables.ingredient(thing.name).kind != FLAVOUR for thing in named)
        return [Reading(tuple(rows.told), "; ".join(rows.shown.values()), sure=not guess, rest=rest)]
    found: dict[tuple, Reading] = {}
    for choose in (_careful, lambda *_: STANDS, lambda *_: NOW, lambda *_: BOTH):
        told, shown = _decided(rows, choose)
        found.setdefault(tuple(told), Reading(tuple(told), "; ".join(shown), rest=rest))
    return list(found.values())


def _decided(rows: Rows, choose: Callable[[Thing, Thing], str]) -> tuple[list[tuple[str, str]], list[str]]:
    """What a list tells and what to show of it, where of every two amounts it is chosen which one counts."""
    told, shown, number = list(rows.told), dict(rows.shown), rows.next
    for row, thing in rows.differ:
        before, which = rows.stand[row], choose(rows.stand[row], thing)
        shown[row] = _words(before)
        if which == NOW and not _as_much(before, thing):
            told.append((f"{rows.above}.{row}.amount", thing.much))
            shown[row] = _words(replace(thing, name=before.name))
        elif which == BOTH:
            told += [(f"{rows.above}.{number}.what", thing.name), (f"{rows.above}.{number}.amount", thing.much)]
            number = max(number, rows.last) + 1
            shown[row] = say("ingredient.both", what=_words(before), more=thing.much)
    return told, list(shown.values())


def _rows(story: Story, place: str) -> Rows:
    """The rows of a list without the one that is asked."""
    above, _, number = place.rpartition(".")[0].rpartition(".")
    told = story.get(above) or []
    stand = {
        row: Thing(one["what"], str(one.get("amount", "")))
        for row, one in enumerate(told, 1)
        if "what" in one and row != int(number)
    }
    return Rows(above, stand, int(number), len(told))


def _words(thing: Thing) -> str:
    much = say("ingredient.guess", amount=thing.much) if thing.guess else thing.much
    return f"{thing.name}, {much}" if much else thing.name


def salty(record) -> bool:
    """Whether something brings salt that counts: a salt, or a sauce such as soy sauce."""
    return record.kind == "salt" or record.salt > SALTY


def _careful(before: Thing, thing: Thing) -> str:
    """Which of two amounts leaves less salt in the water: all of a water, the less of all else."""
    record = tables.ingredient(before.name)
    if record.water > 0.3 and not salty(record):
        return BOTH
    one, two = _mass(before.name, before.much), _mass(before.name, thing.much)
    return NOW if one is not None and two is not None and two < one else STANDS


def _as_much(before: Thing, thing: Thing) -> bool:
    """Whether two amounts of one thing are the same."""
    one, two = _mass(before.name, before.much), _mass(before.name, thing.much)
    if one is None or two is None:
        return before.much.casefold() == thing.much.casefold()
    return abs(one - two) <= ALIKE * max(one, two)


def _mass(name: str, much: str) -> float | None:
    """Kilograms of a thing; None where that cannot be told."""
    try:
        amount = INGREDIENT["amount"].read(much, "amount")
        return float(brining.mass_of(records.Ingredient(what=name, amount=amount), Draws(1)).flat[0])
    except InputError:
        return None
