"""Places of a batch as typed: "fish.species", "brine.ingredient.2.what"; rows of a list are counted from one."""

from __future__ import annotations


def placed(typed, place: str, value):
    """A copy with a value put at a place; the row after the last of a list is a new one."""
    return _placed(typed, place.split("."), value)


def taken_out(typed, place: str):
    """A copy without what is at a place; a list that is empty then goes too."""
    return _without(typed, place.split("."))


def put(typed: dict, told) -> dict:
    """A copy with several values, each at its place; None takes out what is there."""
    for place, value in told:
        typed = taken_out(typed, place) if value is None else placed(typed, place, value)
    return typed


def _placed(typed, path: list[str], value):
    step, *rest = path
    if not step.isdigit():
        inner = (typed or {}).get(step)
        return (typed or {}) | {step: _placed(inner, rest, value) if rest else value}
    rows, row = list(typed or []), int(step) - 1
    rows += [{}] * (row + 1 - len(rows))
    rows[row] = _placed(rows[row], rest, value) if rest else value
    return rows


def _without(typed, path: list[str]):
    step, *rest = path
    key = int(step) - 1 if step.isdigit() else step
    there = dict(enumerate(typed)) if isinstance(typed, list) else dict(typed)
    if key in there:
        inner = _without(there[key], rest) if rest else None
        there = {name: value for name, value in there.items() if name != key} | (
            {} if inner in (None, []) else {key: inner}
        )
    return [there[row] for row in sorted(there)] if isinstance(typed, list) else there
