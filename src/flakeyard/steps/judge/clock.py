"""Hours that add up to one clock, where some of the parts may not be known."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from flakeyard.messages import say


@dataclass(frozen=True)
class Clock:
    """Hours in all [h] and the names of the parts that are missing; with one missing, the hours are a lower bound."""

    hours: float
    missing: tuple[str, ...] = ()

    def past(self, limit: float) -> bool:
        """Whether the parts that are known are already more than a limit [h]; then a missing part changes nothing."""
        return self.hours > limit

    def within(self, limit: float) -> bool:
        """Whether every part is known and all together keep to a limit [h]; False where either is not so."""
        return not self.missing and self.hours <= limit

    def holding(self, part: Clock) -> Clock:
        """The same clock, at least as long as a narrower one that runs only while this one does."""
        missing = tuple(dict.fromkeys((*self.missing, *part.missing)))
        return Clock(max(self.hours, part.hours), missing)


def add_hours(parts: Mapping[str, float | None]) -> Clock:
    """Add the parts of a clock by name [h]; None or not-a-number is missing and never counts as no time at all.

    Returns: the sum of what is known, with the names of what is not; endless hours are allowed.
    Raises: ValueError naming a part that is below zero.
    """
    known = {name: float(hours) for name, hours in parts.items() if hours is not None and not math.isnan(hours)}
    for name, hours in known.items():
        if hours < 0.0:
            raise ValueError(say("input.least_zero", name=name, hours=hours))
    return Clock(math.fsum(known.values()), tuple(name for name in parts if name not in known))
