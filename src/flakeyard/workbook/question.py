"""One question of the story: the place its answer goes to, the kind that reads it, its words and why it is asked.

Its words come from `flakeyard.messages` by the name of its message; limits and figures in them are filled in here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from flakeyard import limits, tables
from flakeyard.messages import number, say, texts
from flakeyard.steps.chain.fish import UNTOLD_ASH
from flakeyard.steps.intent import records
from flakeyard.steps.intent.batch_file import SERVING
from flakeyard.steps.intent.fields import NOT_KNOWN, Flag, OneOf
from flakeyard.steps.judge.storing import AMOUNT
from flakeyard.units import fahrenheit, show
from flakeyard.workbook.short_words import NO


@dataclass(frozen=True)
class Question:
    """A question of the story: the place its answer goes to, the kind that reads it, its message and the section it
    stands under; ``empty`` is what an empty answer means, ``kind`` of a door is the choice that opens the section, ``of``
    is the ingredient it is about, ``more`` says that few can answer it."""

    place: str
    section: str
    message: str
    kind: object
    metric: str
    us: str = ""
    empty: str = NOT_KNOWN
    of: str = ""
    more: bool = False

    @property
    def key(self) -> str:
        return self.place.rpartition(".")[2]

    @property
    def door(self) -> bool:
        """Whether it only asks if there is such a section."""
        return isinstance(self.kind, OneOf) and NO in self.kind.words

    @property
    def needed(self) -> bool:
        """Whether no plan can be made while it is open."""
        return (self.kind.needed or self.key == "recipe_liquid") and self.empty == NOT_KNOWN

    @property
    def where(self) -> str:
        """How messages of mistakes call the place."""
        above, _, key = self.place.rpartition(".")
        if self.door or not above:
            return f"[{self.place}]" if self.door else key
        name, _, row = above.rpartition(".")
        return f"[{name} {row}] {key}" if row.isdigit() else f"[{above}] {key}"

    @property
    def words(self) -> str:
        """The question itself, which names the ingredient it is about."""
        if self.of and (self.key == "amount" or self.message == "gate.steps"):
            return say("ingredient.amounts.named" if self.together else f"{self.message}.named", what=self.of)
        if self.of and self.key == "thickness":
            return say("cut.thickness.named", thickest=self.of)
        if self.of and self.key == "tray_area":
            return say("dryer.tray_area.named", what=self.of)
        return _filled(f"{self.message}.words")

    @property
    def together(self) -> bool:
        """Whether it asks for the amounts of several things at once."""
        return self.key == "amount" and "; " in self.of

    @property
    def several(self) -> str:
        """An answer that tells several things at once, as an example; "" where there is none."""
        if self.key == "tray_area" and not self.of:
            return ""
        return _filled(f"{self.message}.several") if self.message in SEVERAL else ""

    @property
    def why(self) -> str:
        """Why it is asked."""
        return _filled(f"{self.message}.why")

    @property
    def cost(self) -> str:
        """What it costs not to know it."""
        return _filled(f"{self.message}.cost")

    @property
    def examples(self) -> str:
        """How an answer may look, in both systems where they differ."""
        return say("ask.either", metric=self.metric, us=self.us) if self.us else self.metric

    def examples_in(self, system: str) -> str:
        """How an answer may look in one system; in both where that is not known yet ("")."""
        return {"metric": self.metric, "us": self.us or self.metric}.get(system, self.examples)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the table that may be answered; none where there is no table."""
        return NAMES[self.message]() if self.message in NAMES else ()

    @property
    def allowed(self) -> str:
        """What may be answered, in words."""
        if isinstance(self.kind, Flag):
            return say("ask.yes_no")
        return say("ask.name_of_table") if self.names else self.kind.allowed


def _filled(message: str) -> str:
    """A text of a question, with the limits and the figures that count where nothing is told."""
    if "{" not in texts()[message]:
        return say(message)
    return say(
        message, thickest=number(records.UNTOLD_THICKEST, "g"), ash=number(100 * UNTOLD_ASH, ".1f"), serving=SERVING,
        to_tray=show(records.UNTOLD_TO_TRAY, "time"), pack=show(AMOUNT, "mass", "both"), cold=degrees(limits.COLD),
        warm=degrees(limits.WARM), hot_room=degrees(limits.HOT_ROOM), freezer=degrees(limits.PARASITE_FREEZER),
        kill=degrees(limits.KILL_CORE), kill_held=at_least(limits.KILL_CORE_HELD), room_hours=number(limits.ROOM_HOURS, "g"),
        hot_room_hours=number(limits.HOT_ROOM_HOURS, "g"), freezing_days=number(limits.PARASITE_DAYS, "g"),
    )  # fmt: skip


def degrees(celsius: float) -> str:
    """Degrees in both systems."""
    return show(celsius, "temperature", "both")


def at_least(celsius: float) -> str:
    """A temperature that has to be reached, rounded up."""
    return f"{math.ceil(celsius - 1e-6)} °C ({math.ceil(fahrenheit(celsius) - 1e-6)} °F)"


def _fish_names() -> tuple[str, ...]:
    """Fish of the table, without those that must not be used."""
    return tuple(fish.common_name for fish in tables.all_species() if fish.usable and not fish.advisory)


SEVERAL = (
    "fish.species",
    "fish.hours_above_4c",
    "room.temperature",
    "cut.form",
    "gate.brine",
    "gate.heating",
    "dryer.tray_area",
    "ingredient.what",
    "dryer.temperature",
    "keep.place",
)
NAMES = {
    "fish.species": _fish_names,
    "ingredient.what": lambda: tuple(row.common_name for row in tables.ingredients()),
    "ingredient.more": lambda: tuple(row.common_name for row in tables.ingredients()),
    "keep.pack": lambda: tuple(pack.common_name for pack in tables.packs()),
}
