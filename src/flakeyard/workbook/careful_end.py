"""Which end of two amounts is the cautious one, by what is asked; and the words that make an amount a bound."""

from __future__ import annotations

import re

from flakeyard.workbook.question import Question

LARGER = (  # keys whose larger amount is the cautious one
    "hours_above_4c", "hours_above_21c", "warmest", "frozen_at", "thickness", "thickest", "width", "raw_weight", "to_tray", "wanted_days",
    "relative_humidity",
)  # fmt: skip
SMALLER = ("frozen_days", "hold", "trays", "tray_area", "heater", "fresh_air", "per_pack", "altitude")
MORE_THAN = re.compile(r"\b(?:more than|at least|over|above|longer than|min(?:imum)?|from)$")
LESS_THAN = re.compile(r"\b(?:less than|at most|under|up to|below|no more than|not more than|max(?:imum)?)$")
AT_MOST_AFTER = re.compile(r"^(?:tops|at most|max(?:imum)?|or less)\b")
AT_LEAST_AFTER = re.compile(r"^(?:or more|at least|plus|and more|min(?:imum)?)\b")
DENIED = re.compile(r"\b(?:not|never|no|\w+n't|without|minus|below|negative|nearly|almost)$")


def larger(question: Question) -> bool:
    """Whether the larger amount is the cautious one."""
    soaked = question.section in ("presoak", "brine", "rest", "freshen")
    waits = question.key == "time" and question.section in ("rest", "freshen")  # hours count, and salt goes out
    return question.key in LARGER or waits or (question.key == "temperature" and (soaked or question.section == "room"))


def smaller(question: Question) -> bool:
    """Whether the smaller amount is the cautious one: in a salt bath less salt goes in."""
    return question.key in SMALLER or (question.key == "time" and question.section in ("presoak", "brine"))
