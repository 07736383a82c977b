"""The warm hours of a batch as it really went: drying at its own pace, and every pause in the air it had."""

from __future__ import annotations

import numpy as np

from flakeyard.models.constants import HOUR
from flakeyard.models.warm_clock import WarmCounts
from flakeyard.steps.learn.logbook import THICKEST, Entry, Log
from flakeyard.steps.learn.members import Course, Schedule


def warm_counts(course: Course, happened: Schedule, pace: np.ndarray, clock: np.ndarray) -> WarmCounts:
    """The five counts of every member up to moments on the clock.

    Parameters: pace – of each member about its own in the plan (1.1: a tenth faster), (members,); a faster one is counted
    as no faster, so the hours that passed count as the plan has them; clock – hours since drying began, (members, moments)
    [h]; infinite ones count as the end of the forecast.
    Returns: WarmCounts – hours (members, moments), pauses included
    """
    last, slow = course.times[-1] / HOUR, np.minimum(pace, 1.0)[:, None]
    age = np.minimum(happened.drying(np.minimum(clock, 10 * last)) * slow, last)
    on_trays = (
        np.stack([np.interp(own, course.times / HOUR, count) for own, count in zip(age, counts, strict=True)])
        for counts in course.counts
    )
    standing = _standing(course, happened, slow, clock)
    return WarmCounts(*(hours / slow + standing for hours in on_trays))


def _standing(course: Course, happened: Schedule, slow: np.ndarray, clock: np.ndarray) -> np.ndarray:
    """Hours of pauses in the room up to each moment, of the members whose middle was still moist then (members, moments)."""
    hours = np.zeros(np.shape(clock))
    for begin, end, cold in happened.pauses:
        moist = happened.drying(begin) * slow < course.dry_hours[:, None]
        hours += np.where(moist & (not cold), np.clip(clock - begin, 0.0, end - begin), 0.0)
    return hours


def seen_done(log: Log, ratio: float, set_aside: tuple[Entry, ...] = ()) -> float | None:
    """The hour at which the marked piece was seen to have its weight to stop at, between its weighings; None: not yet.

    Returns: float or None [h, above 0]
    Source: the log given
    """
    own = _marked(log, set_aside)
    if len(own) < 2 or own[-1].kg > ratio * own[0].kg or ratio >= 1.0:
        return None
    left = np.minimum.accumulate([entry.kg / own[0].kg for entry in own])
    return float(np.interp(-ratio, -left, [entry.hours for entry in own]))


def _marked(log: Log, set_aside: tuple[Entry, ...]) -> list[Entry]:
    """Weighings of the marked piece, if it was weighed as laid."""
    own = [entry for entry in log.weighings if entry.tray == THICKEST and entry not in set_aside]
    return own if own and own[0].hours <= 0.0 else []


def still_wet(log: Log, ratio: float, set_aside: tuple[Entry, ...] = ()) -> float:
    """The last hour at which the marked piece was weighed and had not come to its weight to stop at; 0: never weighed.

    Returns: float [h, 0 up]
    Source: the log given
    """
    own = _marked(log, set_aside)
    return max((entry.hours for entry in own if entry.kg > ratio * own[0].kg), default=0.0)
