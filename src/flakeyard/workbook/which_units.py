"""Which units a story is told in, metric or those of the United States, by all its amounts so far."""

from __future__ import annotations

import re
from collections.abc import Iterator

from flakeyard.workbook.so_far import Story

US = re.compile(
    r"(?:°\s*|[0-9 ])F\b|(?<![^\W\d])(?:in|inch|inches|lbs?|pounds?|oz|ounces?|qt|quarts?|gal|gallons?|feet|ft)\b|[0-9]\""
)
METRIC = re.compile(r"(?:°\s*|[0-9 ])C\b|(?<![^\W\d])(?:mm|cm|m|kg|g|grams?|l|litres?|liters?|ml)\b", re.IGNORECASE)
ENOUGH = 1  # amounts that show which system a story is told in; what is read so is confirmed with its unit (judgement)


def system_of(story: Story) -> str:
    """The system that every amount of a story was told in; "" where there are few, or both."""
    return told_in(story.typed)


def told_in(typed: dict) -> str:
    """The system that every amount of a file as typed was told in; "" where there are few, or both."""
    told = [one for one in _texts(typed) if re.match(r"[^\W\d]*\s*[0-9]", one)]
    us = [bool(US.search(one)) for one in told]
    metric = [bool(METRIC.search(one)) for one in told]
    if sum(us) >= ENOUGH and not any(metric):
        return "us"
    return "metric" if sum(metric) >= ENOUGH and not any(us) else ""


def _texts(typed) -> Iterator[str]:
    for one in typed.values() if isinstance(typed, dict) else typed:
        if isinstance(one, dict | list):
            yield from _texts(one)
        elif isinstance(one, str):
            yield one
