"""Names spelled nearly alike, for offering the one that was meant; a guess that is wider would offer something else."""

from __future__ import annotations

from collections.abc import Iterable

SHORTEST = 6  # letters (judgement): one slip makes another word of a shorter one, such as shad of scad


def one_slip(one: str, other: str) -> bool:
    """Whether a letter was left out, added, taken for another, or changed places with the next."""
    if abs(len(one) - len(other)) > 1:
        return False
    start = next((i for i, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other)))
    rest, goal = one[start:], other[start:]
    swapped = rest[1:2] + rest[:1] + rest[2:]
    return goal in (rest[1:], swapped) or rest == goal[1:] or rest[1:] == goal[1:]


def alike(name: str, names: Iterable[str], shortest: int = SHORTEST) -> list[str]:
    """Those of some names that are one slip away from what was typed, capitals ignored; none that are shorter."""
    typed = name.casefold().strip()
    return [one for one in names if len(one) >= shortest and one_slip(typed, one.casefold())]
