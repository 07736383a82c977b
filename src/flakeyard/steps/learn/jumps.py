"""Whether a weight just typed lies far from what a forecast expects: a finger that slipped, or another tray, is asked back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flakeyard.models.constants import HOUR
from flakeyard.steps.learn.learning import Learned
from flakeyard.steps.learn.logbook import RESTARTS, THICKEST, Entry, Log
from flakeyard.steps.learn.members import at_times, schedule

JUMP = 0.25  # of the weight expected, beyond which is asked back (judgement: most slips are larger)


@dataclass(frozen=True)
class Jump:
    """A weight far from the one expected; both in kg."""

    entry: Entry
    expected: float

    @property
    def off(self) -> float:
        """How far it is off, over what was expected; below zero where it is lighter.

        Returns: float [share, above -1]
        Source: the log given
        """
        return self.entry.kg / self.expected - 1.0


def expected(learned: Learned, log: Log, entry: Entry) -> float | None:
    """What a tray, or the marked piece, weighs by the middle of a forecast made before it was weighed.

    Parameters: learned – that forecast; log – with the weighing in it; entry – the weighing.
    Returns: float or None [kg, above 0]; None where nothing can be expected: as laid, after something happened to that
        tray, without its weight as laid, or where the log contradicts the plan
    Source: models.slab_drying.dry; the log given
    """
    course = learned.course
    own = [one for one in log.weighings if one.tray == entry.tray and one is not entry]
    laid = next((one.kg for one in own if one.hours == 0.0), None)
    touched = entry.event or any(one.event in RESTARTS for one in own)
    if course is None or learned.contradiction or laid is None or touched or entry.hours == 0.0:
        return None
    curves = course.pieces[-1] if entry.tray == THICKEST else course.load
    dried = schedule(log, learned.outcome.batch.dryer.temperature).drying(np.array([entry.hours]))
    return laid * float(np.median(at_times(course.times, curves, HOUR * dried)))


def jump(learned: Learned, log: Log) -> Jump | None:
    """The last weighing of a log, where it lies more than JUMP from what a forecast without it expects."""
    entry = log.entries[-1]
    if entry.mass is None:
        return None
    usual = expected(learned, log, entry)
    return None if usual is None or abs(entry.kg / usual - 1.0) <= JUMP else Jump(entry, usual)
