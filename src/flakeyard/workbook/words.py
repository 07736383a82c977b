"""The words on the screen: verdicts, limits, cautions.

The texts of the rules themselves stand in ``data/safety_rules.csv``, where the judging reads them too. This module
adds the short words built on them, so that every panel, card and print-out says the same thing in the same words.
A verdict always comes with a plain shape and words; colour may be added but never carries the meaning.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from flakeyard import limits
from flakeyard.steps.judge.facts import fact_words, rule_texts
from flakeyard.steps.judge.safety import Verdict
from flakeyard.steps.judge.storing import Keeping
from flakeyard.units import show

KEEP_WORDS = {
    "cupboard": "Cupboard, {days} at most",
    "cold": "Refrigerator or freezer",
    "freezer": "Freezer only",
    "not_known": "Not known",
    "nowhere": "Do not keep",
}
EAT_WORDS = {
    "ready": "Ready to eat",
    "cook_first": "Cook before eating",
    "not_known": "Not known",
    "no": "Do not eat",
}
SHAPES = {
    "cupboard": "●",
    "ready": "●",
    "cold": "◆",
    "cook_first": "◆",
    "freezer": "■",
    "not_known": "?",
    "nowhere": "✕",
    "no": "✕",
}
SHORT_TIME = "a short time"
COOK = f"Cook it to {show(limits.KILL_CORE, 'temperature', 'both')} in the middle before you eat it."
NOT_KNOWN = "Not known is not a good sign: treat it as a no until you know."
LIMITED_BY_WORDS = {
    "mould": "mould",
    "rancidity": "rancid fat",
    "official_cap": "the longest time that guidance for similar food gives",
    "no_shelf_life": "no keeping time",
}
READING_WORDS = {
    "estimated": "The water activity is estimated, not measured; the verdict uses the cautious end of the estimate.",
    "measured": "The water activity was measured; the verdict adds the error of the meter.",
}
SODIUM = (
    "A serving of {serving} holds about {sodium} mg of sodium; "
    f"{limits.SODIUM_US:,.0f} mg a day is the upper limit for adults."
)
NOT_COVERED = "N6"  # the rule that names what is not covered
HEATED = "K1"  # the one rule whose reason may speak for the fish: it was heated through
ALWAYS_RULES = ("E1", "E2", "E3", "H1", "H2", "H3", "H4")


def days_words(days: float) -> str:
    """Days in words, rounded down: "1 day", "14 days", "less than a day"."""
    whole = math.floor(days)
    return {0: "less than a day", 1: "1 day"}.get(whole, f"{whole} days")


def keep_words(keep: str, days: float | None = None) -> str:
    """The verdict on keeping, as it stands on cards and screens; ``days`` are those of the cupboard."""
    return KEEP_WORDS[keep].format(days=SHORT_TIME if days is None else days_words(days))


def eat_words(eat: str) -> str:
    """The verdict on eating, as it stands on cards and screens."""
    return EAT_WORDS[eat]


def headline(verdict: Verdict, keeping: Keeping | None = None) -> str:
    """Both verdicts on one line, each with its shape."""
    days = keeping.days if keeping and keeping.place == "cupboard" else None
    keep, eat = keep_words(verdict.keep, days), eat_words(verdict.eat)
    return f"{SHAPES[verdict.keep]} {keep}   {SHAPES[verdict.eat]} {eat}"


def keeping_sentence(keeping: Keeping) -> str:
    """Where, for how long at most, and what decides; what would go wrong next."""
    if keeping.days is None:
        return " ".join(reason.text for reason in keeping.reasons)
    limit = LIMITED_BY_WORDS[keeping.limited_by]
    first = f"In the {keeping.place} {days_words(keeping.days)} at most; what decides is {limit}."
    return f"{first} {keeping.next_problem}".strip()


def verdict_sentence(verdict: Verdict, keeping: Keeping | None = None) -> str:
    """The verdict as sentences for a screen: headline, keeping, what to do; never without the fixed caution."""
    parts = [headline(verdict, keeping) + "."]
    if keeping is not None:
        parts.append(keeping_sentence(keeping))
    if verdict.eat == "cook_first":
        parts.append(COOK)
    if "not_known" in (verdict.keep, verdict.eat):
        parts.append(NOT_KNOWN)
    if verdict.unknown:
        parts.append(unknown_sentence(verdict.unknown))
    return " ".join([*parts, caution_line()])


def first_reason(verdict: Verdict) -> str:
    """The first thing that speaks against eating or keeping the fish as it is; nothing where there is none."""
    return next((reason.text for reason in verdict.reasons if reason.rule != HEATED), "")


def unknown_sentence(names) -> str:
    """Missing facts in plain words."""
    return "Not told: " + ", ".join(fact_words().get(name, name.replace("_", " ")) for name in names) + "."


def sodium_sentence(serving: str, low: float, high: float) -> str:
    """Sodium of a serving beside the daily limit; the serving in words ("30 g (1 oz)"), sodium in mg."""
    rounded = [f"{round(value, -1):.0f}" for value in (low, high)]
    return SODIUM.format(serving=serving, sodium="–".join(dict.fromkeys(rounded)))


def caution_line() -> str:
    """The caution that goes with every result."""
    return rule_texts()["E1", ""].text


def where_to_ask() -> str:
    """Whose word counts more than this workbook's."""
    return rule_texts()["E2", ""].text


def when_ill() -> str:
    """Signs that need a poison centre or emergency care."""
    return rule_texts()["E3", ""].text


def not_covered() -> str:
    """What this workbook is not for."""
    return rule_texts()[NOT_COVERED, ""].text


def ladder_texts() -> list[tuple[str, str]]:
    """The rungs of water activity from moist to dry: the rule and what it says, without a number of any batch."""
    rungs = (row for row in rule_texts().values() if row.section == "ladder" and row.rule != "L9" and not row.variant)
    return [(row.rule, row.text.replace("Water activity {aw}. ", "")) for row in rungs]


def all_texts() -> Iterator[tuple[str, str]]:
    """Every text that a verdict can show, with the place it stands; for checking them as a whole."""
    for row in rule_texts().values():
        yield f"{row.rule} {row.variant}".strip(), row.text
    for name, table in (("keep", KEEP_WORDS), ("eat", EAT_WORDS), ("limit", LIMITED_BY_WORDS), ("aw", READING_WORDS)):
        yield from ((f"{name} {key}", text) for key, text in table.items())
    yield from ((f"fact {name}", text) for name, text in fact_words().items())
    yield from (("cook", COOK), ("not known", NOT_KNOWN), ("sodium", SODIUM))
