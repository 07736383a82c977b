"""From the plan's members to members that agree with a log: weights, and new members where too few agree.

First the plan's own members are weighed by how well they agree. Where that leaves an effective sample under LEAST, the
log is read as a linear statement about the members (by regression: how each name moves the time at which the weights
seen are reached), which gives a normal distribution to draw new members from. The new ones are weighed exactly, by
prior × likelihood / the distribution they were drawn from, so the regression need not be right, only near; and it is
nearer in every round, because it is made again about the members that fit.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flakeyard.remembered import Remembered
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.learn.evidence import (
    SCALE,
    TRAY_LN_SD,
    Agreement,
    Reading,
    Rows,
    agreement,
    effective,
    normalised,
    readings_of,
    tempered,
    tempo,
)  # fmt: skip
from flakeyard.steps.learn.logbook import Log
from flakeyard.steps.learn.members import Course, Members, Schedule, follow

LEAST = 50.0  # effective sample below which new members are drawn
ROUNDS = 4
FLATTEST = 1e-4  # ln of mass per ln of time (judgement): on a flatter curve a weight says nothing of the pace
MORE = 2  # new members for each one of the plan: not all of them will count
WIDER = 1.5  # variance of the errors when drawing: members to either side cost less than members that are missing
BROAD = 1.25  # likewise of where members are drawn, so that tails the regression does not see are drawn too


@dataclass(frozen=True)
class Fit:
    """Members with weights, their agreement with the log, and how it went."""

    course: Course
    agreement: Agreement
    weights: np.ndarray
    rounds: int
    effective: float
    wanted: int

    @property
    def rough(self) -> bool:
        """Whether even the last round fits badly, so that the weights had to be levelled."""
        return self.effective < LEAST - 1.0


def fit(batch: Batch, log: Log, plan: Schedule, rows: Rows, course: Course, scale=SCALE) -> Fit:
    """Weigh the members of a plan against a log and, where few agree, draw others. Deterministic."""
    trays = batch.dryer.trays
    names = course.members.names
    wanted = course.members.members
    drawn_from = None  # mean, inverse triangle and ln determinant of where the members were drawn
    for number in range(ROUNDS + 1):
        readings = readings_of(log, plan, course, trays, scale)
        agreed = agreement(rows, course, readings, LEAST)
        place = course.members.normals(names)
        log_weights = agreed.log_likelihood
        if drawn_from is not None:
            log_weights = log_weights + _ln_normal(place) - _ln_normal(*drawn_from(place))
        weights = normalised(log_weights)
        if effective(weights) >= LEAST or number == ROUNDS:
            break
        middle, spread = _statement(place, tempered(log_weights, LEAST)[1], rows, agreed, course, readings)
        triangle = np.linalg.cholesky(BROAD * spread)
        drawn_from = _drawn_from(middle, triangle)
        start = _standard(MORE * wanted, len(names), course.members.seed + number)
        moved = middle + start @ triangle.T
        members = replace(course.members, members=len(start), moved=dict(zip(names, moved.T, strict=True)))
        course = follow(batch, plan, members, sketch=True)
    return Fit(course, agreed, tempered(log_weights, LEAST)[1], number, effective(weights), wanted)


def _ln_normal(place, ln_volume: float = 0.0) -> np.ndarray:
    return -0.5 * (place**2).sum(axis=1) - ln_volume


def _drawn_from(middle, triangle):
    inverse, ln_volume = np.linalg.inv(triangle), float(np.log(np.diag(triangle)).sum())
    return lambda place: ((place - middle) @ inverse.T, ln_volume)


def _standard(members: int, names: int, seed: int) -> np.ndarray:
    """Standard normal numbers, in pairs about 0 so that their mean is exact, scaled so that their spread is too."""
    half = np.random.default_rng(seed).standard_normal(((members + 1) // 2, names))
    both = np.concatenate([half, -half])[:members]
    return both / both.std(axis=0)


def _statement(place, weights, rows: Rows, agreed: Agreement, course: Course, readings: list[Reading]):
    """Mean and covariance of the members that a log asks for, by linear regression of what they say on where they are."""
    said, error = _sayings(rows, agreed, course, readings)
    design = np.column_stack([np.ones(len(place)), place])
    local = np.sqrt(0.5 * weights + 0.5 / len(weights))[
        :, None
    ]  # those that fit count for more, the others still count
    ridge = 1e-3 * np.eye(design.shape[1])
    ridge[0, 0] = 0.0
    solved = np.linalg.solve(
        (local * design).T @ (local * design) + ridge / len(place), (local * design).T @ (local * said)
    )
    off = local * (said - design @ solved)
    error = WIDER * (error + off.T @ off)
    slope = solved[1:]  # (names, sayings)
    gain = slope @ np.linalg.inv(slope.T @ slope + error)
    spread = np.eye(len(slope)) - gain @ slope.T
    return -gain @ solved[0], 0.5 * (spread + spread.T)


def _sayings(rows: Rows, agreed: Agreement, course: Course, readings: list[Reading]):
    """What a member says less what was seen, near linear in its place: ln of the time at which the weights seen are
    reached over the time at which they were seen, trays together; then the readings. With the covariance of errors."""
    said: list[np.ndarray] = []
    scale_error: list[float] = []
    seen_at: list[float] = []
    for thickest in (False, True):
        for moment in np.unique(rows.hours[rows.hours > 0]):
            seen = _together(rows, moment, thickest)
            if seen is None:
                continue
            ratio, variance, count = seen
            curve = course.pieces[-1] if thickest else course.load
            said.append(_ln_reached(course.times, curve, ratio) - np.log(3600 * moment))
            slope = np.median(np.abs(agreed.slope[(rows.hours == moment) & (rows.thickest == thickest)]))
            scale_error.append(variance / max(slope, FLATTEST) ** 2 + TRAY_LN_SD**2 / count)
            seen_at.append(moment)
    hours = np.array(seen_at)
    error = np.diag(scale_error) + tempo(hours[:, None], hours[None, :]) if len(hours) else np.zeros((0, 0))
    said += [reading.said - reading.read for reading in readings]
    whole = np.zeros((len(said), len(said)))
    whole[: len(hours), : len(hours)] = error
    whole[range(len(hours), len(said)), range(len(hours), len(said))] = [reading.sd**2 for reading in readings]
    return np.column_stack([np.empty((len(agreed.left), 0)), *said]), whole  # nothing may have been seen twice


def _together(rows: Rows, moment: float, thickest: bool):
    """Mass over mass as laid of all trays weighed at a moment, its relative variance, and how many they were."""
    now, laid, error, count = 0.0, 0.0, 0.0, 0
    for row in np.flatnonzero((rows.hours == moment) & (rows.thickest == thickest)):
        first = np.flatnonzero((rows.group == rows.group[row]) & (rows.hours == 0.0))
        if len(first):
            mass = np.exp(rows.ln_mass[row])
            now, laid, count = now + mass, laid + np.exp(rows.ln_mass[first[0]]), count + 1
            error += 2 * rows.variance[row] * mass**2
    return (now / laid, error / now**2, count) if count else None


def _ln_reached(times, curves, ratio: float) -> np.ndarray:
    """ln of the moment [s] at which each curve comes down to a ratio; far on for one that never does."""
    below = curves <= ratio
    after = np.where(below.any(axis=1), below.argmax(axis=1), len(times) - 1).clip(1)
    rows = np.arange(len(curves))
    high, low = curves[rows, after - 1], curves[rows, after]
    part = np.clip((high - ratio) / np.maximum(high - low, 1e-9), 0.0, 3.0)
    return np.log(np.maximum(times[after - 1] + part * (times[after] - times[after - 1]), 60.0))


def chosen(fitted: Fit) -> np.ndarray:
    """Indices of as many members as the plan had, each taken about as often as its weight says (systematic).

    Returns: (members,) [count, 0 up]
    Source: the weights given
    """
    places = (np.arange(fitted.wanted) + 0.5) / fitted.wanted
    return np.searchsorted(np.cumsum(fitted.weights), places).clip(max=len(fitted.weights) - 1)


def taken(fitted: Fit) -> Members:
    """The members chosen, as draws for a plan."""
    names, members = fitted.course.members.names, fitted.course.members
    place = members.normals(names)[chosen(fitted)]
    return replace(members, members=fitted.wanted, moved=dict(zip(names, place.T, strict=True)), asked=Remembered())


def reached_hours(rows: Rows, course: Course, moment: float) -> np.ndarray | None:
    """Drying hours at which each member has the weight that all trays together had at a moment; None if not weighed.

    Returns: (members,) or None [h, 0 up, or infinite]
    Source: the weighings given
    """
    seen = _together(rows, moment, thickest=False)
    thickest = seen is None
    seen = seen or _together(rows, moment, thickest=True)
    if seen is None:
        return None
    curve = course.pieces[-1] if thickest else course.load
    return np.exp(_ln_reached(course.times, curve, min(seen[0], 0.999))) / 3600
