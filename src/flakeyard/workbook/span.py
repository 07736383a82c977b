"""Words of an answer that can be read, and where they stand in it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from flakeyard import spoken

LONGEST = 6  # words that may make up one reading (judgement)
NUMBER = re.compile(r"[0-9½⅓⅔¼¾⅛⅜⅝⅞]|\b(?:half|quarter|third|" + "|".join(spoken.NUMBER_WORDS) + r")\b")


@dataclass(frozen=True)
class Span:
    """Words of an answer that can be read, and where they stand."""

    begin: int
    end: int
    text: str
    value: object


def without_spans(said: str, spans) -> str:
    """What is left of an answer without some of its parts."""
    for begin, end in sorted(spans, reverse=True):
        said = f"{said[:begin]} | {said[end:]}"
    return said
