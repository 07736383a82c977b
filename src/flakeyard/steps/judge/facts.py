"""What is known of a batch when it is judged, and the tables of words that the judging reads.

A fact is a plain float, word or flag; None stands for "not known" and is never taken as the better value.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache
from typing import Any

from flakeyard import refused
from flakeyard.messages import joined, say
from flakeyard.models.constants import KELVIN
from flakeyard.steps.intent import records
from flakeyard.steps.judge.warm_hours import WarmHours
from flakeyard.tables import Record, read_records

PLAIN = "plain"  # a fish against which the table of refused fish says nothing
PLACES = {"cupboard": "cupboard", "refrigerator": "cold", "freezer": "freezer"}  # place asked -> verdict it needs


@dataclass(frozen=True, kw_only=True)
class RuleText(Record):
    """One row of the rule table: a rule, in one of its variants, in words and with its source.

    The variants are those that the rules tell apart; several rows of one variant (``case``) say it in several ways, each
    with its conditions: ``tense`` and the ``when`` columns hold the words of `shown.Scene` that fit, an empty one fits
    always. ``way_out`` says what to change where the row refuses a batch.
    """

    rule: str
    variant: str
    section: str
    show: str
    text: str
    basis: str
    case: str = ""
    tense: str = ""
    when_keep: str = ""
    when_eat: str = ""
    when_place: str = ""
    when_pack: str = ""
    when: str = ""
    way_out: str = ""


@cache
def rule_rows() -> dict[tuple[str, str], tuple[RuleText, ...]]:
    """All rows of the rule table by (rule, variant), in the order of the table."""
    found: dict[tuple[str, str], tuple[RuleText, ...]] = {}
    for row in read_records("safety_rules.csv", RuleText):
        found[row.rule, row.variant] = (*found.get((row.rule, row.variant), ()), row)
    return found


@cache
def rule_texts() -> dict[tuple[str, str], RuleText]:
    """The first row of each rule and variant: what it says of a plan."""
    return {key: rows[0] for key, rows in rule_rows().items()}


@dataclass(frozen=True)
class FactWords:
    """A fact that can be missing, or a path of a plan that cannot be said, in plain words."""

    name: str
    words: str


@cache
def fact_words() -> dict[str, str]:
    """What can be missing, in plain words: facts by their names in `Facts`, numbers and fields of a plan by their paths."""
    return {row.name: row.words for row in read_records("fact_words.csv", FactWords)}


@dataclass(frozen=True)
class Facts:
    """What is known of a batch when it is judged; None is "not known".

    Temperatures in degC, times in h (the heating hold in min, freezing in days), fractions 0–1. ``heat_core`` None is
    "no heating step". The three ``cure_hours`` are from brining, resting and freshening; the two ``hours_flesh`` (upper
    ends) are of drying, while still moist. ``water_activity_cautious`` is the upper end. ``pack`` is any record
    with ``airtight`` and ``removes_air``. ``refused_as`` is the row of ``data/refused.csv`` that the fish falls under, or
    `PLAIN` for none. ``outside_range`` holds words, one entry for each thing out of range;
    ``cupboard_outside`` likewise for a room in which no cupboard can be judged. ``borrowed``: in words, what nobody told
    and was taken from another batch to compute with; "" for nothing. ``brine_stays``: the cupboard is asked for fish with so
    much salt that its brine, at about 0.75, does not dry away.
    """

    species_known: bool | None = None
    histamine_former: bool | None = None
    advisory_species: bool | None = None
    refused_as: str | None = None
    waters: str | None = None
    gutted: bool | None = None
    origin: str | None = None
    stock: str | None = None
    frozen_at: float | None = None
    frozen_days: float | None = None
    hours_above_4c: float | None = None
    hours_above_21c: float | None = None
    warmest_held: float | None = None
    smells_normal: bool | None = None
    thawed_in_vacuum: bool | None = None
    cure_hours_above_4c: float | None = None
    cure_hours_above_10c: float | None = None
    cure_hours_above_21c: float | None = None
    vinegar_or_acid: bool | None = None
    sugar_used: bool | None = None
    freshened: bool | None = None
    heat_core: float | None = None
    heat_hold_min: float | None = None
    heat_probed: bool | None = None
    hours_flesh_10_to_57: float | None = None
    hours_flesh_above_21: float | None = None
    warm: WarmHours | None = None
    water_activity_cautious: float | None = None
    water_activity_mid: float | None = None
    water_activity_measured: float | None = None
    measured_error: float | None = None
    measured_by: str | None = None
    water_phase_salt: float | None = None
    place: str | None = None
    pack: Any = None
    fat_raw: float | None = None
    outside_range: tuple[str, ...] = ()
    cupboard_outside: tuple[str, ...] = ()
    borrowed: str = ""
    target_reached: bool | None = None
    brine_stays: bool | None = None

    def __post_init__(self):
        for item in fields(self):
            _possible(item.name, getattr(self, item.name))


_FRACTIONS: tuple[str, ...] = (
    "water_activity_cautious",
    "water_activity_mid",
    "water_activity_measured",
    "measured_error",
)
_FRACTIONS += ("water_phase_salt", "fat_raw")
_TEMPERATURES = ("frozen_at", "warmest_held", "heat_core")
_WORDS = {
    "origin": ("wild", "farmed"), "stock": ("fresh", "frozen"), "place": tuple(PLACES), "waters": refused.WATERS,
    "measured_by": records.METERS, "refused_as": (PLAIN, *(row.id for row in refused.refused_rows() if row.kind == "fish")),
}  # fmt: skip
_HOURS: tuple[str, ...] = ("frozen_days", "heat_hold_min", "hours_above_4c", "hours_above_21c", "hours_flesh_10_to_57")
_HOURS += ("hours_flesh_above_21", "cure_hours_above_4c", "cure_hours_above_10c", "cure_hours_above_21c")


def _possible(name: str, value) -> None:
    """Refuse what cannot be: the message names the field, the value and what is allowed."""
    if value is None:
        return
    if name in _WORDS:
        kind, fits = "words", value in _WORDS[name]
    elif name in _FRACTIONS:
        kind, fits = "fraction", 0.0 <= value <= 1.0
    elif name in _HOURS:
        kind, fits = "positive", value >= 0.0
    elif name in _TEMPERATURES:
        kind, fits = "degrees", -KELVIN <= value <= 1000.0
    else:
        return
    if not fits:
        words = joined("words.or", _WORDS.get(name, ()))
        allowed = words if kind == "words" else say(f"allowed.{kind}", least=-KELVIN)
        raise ValueError(say("input.allowed", name=name, value=value, allowed=allowed))
