"""Air that changes: which air the fish lies in from when on, as told in the sections ``[[air]]`` of a batch.

Sections marked ``once`` come first, in their order; the others repeat, day by day, for as long as it takes. Neighbours that are
alike are one: a schedule of one air alone is that of a dryer with this air, and nothing else is reckoned for it. Without a
heater the fish hangs in the air as it is, plenty of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import chain, cycle

import numpy as np

from flakeyard.messages import say
from flakeyard.models.constants import DAY
from flakeyard.steps.intent.outside import Outside
from flakeyard.steps.intent.records import AirPhase, Batch, Dryer, Room
from flakeyard.units import show

HORIZON = 56 * DAY  # s, how far air that changes, or has no heater, is followed (judgement: stockfish hangs for weeks)
LOOK = DAY / 2  # s between moments that are reported in the end (judgement)
FAN = "fan"  # what moves the air where nothing else is told
Around = tuple[Dryer, Room]


def steady(batch: Batch) -> Batch:
    """The batch with its air told in ``[dryer]`` and ``[room]``, where all its phases are alike; else as it is."""
    if not batch.air:
        return batch
    around = each(batch)
    return replace(batch, dryer=around[0][0], room=around[0][1], air=()) if len(around) == 1 else batch


def changes(batch: Batch) -> bool:
    """Whether the air is other than that of a heater and a fan which stay as they are."""
    return bool(batch.air) or batch.dryer.open_air or batch.dryer.moving not in (None, FAN)


def phases(batch: Batch) -> Iterator[tuple[float, Around]]:
    """From when on [s] which air, as far as it is followed; neighbours that are alike are one.

    Returns: pairs of a moment [s, 0 up] and the air from then on
    Source: as told
    """
    once, again = _rounds(batch)
    begin, before = 0.0, None
    for time, around in chain(once, cycle(again)):
        if begin >= HORIZON:
            return
        if around != before:
            yield begin, around
        begin, before = round(begin + time, 3), around  # as `moments` are: each phase ends at one of them


def each(batch: Batch) -> tuple[Around, ...]:
    """Every air there is, once."""
    once, again = _rounds(batch)
    return tuple(dict.fromkeys(around for _, around in (*once, *again)))


def _rounds(batch: Batch) -> tuple[list[tuple[float, Around]], list[tuple[float, Around]]]:
    """Phases that come once, and those that come again and again: for how long [s] which air."""
    told = [(phase.time, _around(batch, phase), bool(phase.once)) for phase in batch.air]
    once = [(time, around) for time, around, first in told if first]
    again = [(time, around) for time, around, first in told if not first]
    return once, again or [(np.inf, (batch.dryer, batch.room))]


def _around(batch: Batch, phase: AirPhase) -> Around:
    """Dryer and room of a phase; what it does not tell is as in ``[dryer]`` and, with a heater, in ``[room]``."""
    heater = batch.dryer.heater if phase.heater is None else phase.heater
    moving = batch.dryer.moving if phase.moving is None else phase.moving
    dryer = replace(batch.dryer, temperature=phase.temperature, heater=heater, moving=moving)
    room = Room(altitude=batch.room.altitude) if dryer.open_air else batch.room
    told = {"temperature": phase.room_temperature, "relative_humidity": phase.relative_humidity}
    return dryer, replace(room, **{name: value for name, value in told.items() if value is not None})


def moments(batch: Batch, close: np.ndarray) -> np.ndarray:
    """When to look [s], up to `HORIZON`: as closely as in any dryer at first, then twice a day, and at the middle and the end
    of every phase.

    Parameters: close – when to look in a dryer whose air stays as it is [s]
    Returns: moments, rising [s, 0 up]
    Source: judgement
    """
    ends = np.array([*(begin for begin, _ in phases(batch)), HORIZON])
    later = np.arange(close[-1], HORIZON, LOOK)
    return np.unique(np.concatenate([close, later, ends, 0.5 * (ends[1:] + ends[:-1])]).round(3))


def beyond_all_tests(batch: Batch) -> tuple[Outside, ...]:
    """That nobody has tested the formulas in air as it is, or in still air; nothing for a heater and a fan."""
    if not any(dryer.open_air or dryer.moving not in (None, FAN) for dryer, _ in each(batch)):
        return ()
    return (Outside(say("air.changes"), say("air.untested"), True),)


def in_words(batch: Batch, system: str = "both") -> str:
    """The schedule in a sentence; "" where there is none."""
    if not batch.air:
        return ""
    told: dict[bool, list[str]] = {True: [], False: []}
    for one in batch.air:
        warmth = show(one.temperature, "temperature", system)
        told[bool(one.once)].append(say("air.phase", time=show(one.time, "time"), warmth=warmth))
    last = told[False]
    over = (
        say("air.over", phases=", ".join(last))
        if len(last) > 1
        else say("air.on", phase=last[0])
        if last
        else say("air.stays")
    )
    return say("air.schedule", phases=", ".join([*told[True], over]))


def where(batch: Batch, warmth: str) -> str:
    """In what air the fish dries, in words; ``warmth`` is that of the dial in the words of the text."""
    if batch.air:
        return in_words(batch).rstrip(".")
    return say("air.open" if batch.dryer.open_air else "air.dryer", warmth=warmth)
