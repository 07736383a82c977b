"""From a plan and its log to new hours, by one linear update.

The members of a plan say together how ln of the hours to the finish goes with the lag of each weighing (`evidence`), and
the errors say how far both may be off. For normal quantities that is all there is to know: the hours move by what the
lags seen were not expected to be, of a load that is late a little more (`SLOWING`), and become as sure as the errors allow
(source: ensemble_smoother). No plan is made anew, so no log is too odd for it and none costs more than a small system of
equations. Which members carry these hours, and so how warm their air and flesh may have been, is chosen by how well each
agrees with the log.

Weights of trays and of the marked piece move hours and paces, never what the fish is made of, so no weight to stop at
and no water activity follows from them. Readings that say something of the make-up itself move that, in `made_of`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flakeyard.remembered import Remembered
from flakeyard.steps.learn import unnoted
from flakeyard.steps.learn.dryer_profile import KEPT
from flakeyard.steps.learn.evidence import (
    FARTHEST,
    TRAY_LN_SD,
    Lags,
    Rows,
    as_laid,
    lags,
    ln_finish,
    middle_finish,
    model_stretch,
)  # fmt: skip
from flakeyard.steps.learn.logbook import ALL, THICKEST
from flakeyard.steps.learn.members import Course, Members, at_times
from flakeyard.steps.learn.unnoted import PaceStep
from flakeyard.steps.plan.measured import Reading, covary, errors_drawn, moved_by

ROUNDS = 2  # the errors grow towards the finish, which the first round moves
LEAST = 50.0  # members that count at least, however few agree
SETTLED = 0.45  # of the members' own variance that is left once the scale knows their pace (tuned on simulated kitchens, even seeds)
SLOWING = 0.15  # of how much slower than its plan a load dries: so much slower still it goes on (tuned likewise)
STEP_LN_SD = 0.5  # of a pace that has changed, until it is known what happened (judgement)


@dataclass(frozen=True)
class Fit:
    """What weighings made of the hours.

    ``chosen``: the members that carry the hours; ``ln_hours`` (members,): of drying, to the finish of the thickest piece;
    ``lags``, ``off`` (sayings,): what was seen beyond the middle of the plan; ``inverse`` of all its covariance.
    """

    course: Course
    chosen: np.ndarray
    ln_hours: np.ndarray
    lags: Lags
    off: np.ndarray
    inverse: np.ndarray
    drawn: np.ndarray  # (members, sayings): errors that may have been made
    finish: float
    variance: float  # of ln hours
    step: PaceStep | None = None  # a change of pace that is clear

    @property
    def pace(self) -> np.ndarray:
        """Of each member chosen against its own course in the plan (1.1: a tenth faster).

        Returns: (members,) [1, above 0]
        Source: the weighings given
        """
        return np.exp(ln_finish(self.course)[self.chosen] - self.ln_hours)

    @property
    def carried(self) -> Course:
        """The course of the members chosen."""
        return self.course.take(self.chosen)

    def trays(self) -> dict[str, tuple[float, float]]:
        """ln pace of each tray, or of the marked piece, about the dryer's: mean and sd given the weighings.

        Returns: by tray, mean and sd [1, any]
        Source: the weighings given
        """
        rows, found = self.lags.rows, {}
        for tray in dict.fromkeys(entry.tray for entry in rows.entries if entry.tray != ALL):
            own = np.array([entry.tray == tray for entry in rows.entries])
            size = rows.marked if tray == THICKEST else TRAY_LN_SD
            share = own * (1.0 if tray == THICKEST else rows.places.sum(axis=1))
            cross = -(size**2) * self.lags.time @ share
            variance = size**2 - cross @ self.inverse @ cross
            found[tray] = (float(cross @ self.inverse @ self.off), float(np.sqrt(max(variance, 0.0))))
        return found

    def sureness_after(self, hours: float) -> float:
        """Variance of ln hours once the marked piece (or else every tray) is weighed again after so much drying [h].

        Returns: float [1, 0 up]
        Source: the weighings given; judgement
        """
        rows = self.lags.rows if len(self.lags.rows.hours) else as_laid(self.course)
        course = self.carried.paced(self.pace)
        for row in np.unique(rows.first[rows.thickest] if rows.thickest.any() else rows.first):
            curves = course.pieces[-1] if rows.thickest[row] else course.load
            then, laid = (
                np.median(at_times(course.times, curves, np.array([3600 * at]))) for at in (hours, rows.hours[row])
            )
            rows = rows.with_more(row, hours, float(np.log(then / laid)))
        return sureness(rows, self.course, self.finish)

    def moved(self) -> Members:
        """The members where the log puts them, in the names that tell how fast fish dries and nothing else."""
        members = self.course.members
        names = members.names
        place = members.normals(names)
        of_pace = np.array([name in KEPT for name in names])
        if len(self.off):
            together = covary(place, self.lags.lag)
            place = place + of_pace * ((-self.lags.lag + self.drawn) @ (together @ self.inverse).T)
        return replace(members, moved=dict(zip(names, place.T, strict=True)))


def sureness(rows: Rows, course: Course, finish: float) -> float:
    """Variance of ln hours to the finish once some weighings are taken in.

    Returns: float [1, 0 up]
    Source: the weighings given; judgement
    """
    return _updated(course, lags(rows, course), ln_finish(course), finish).variance


def fit(rows: Rows, course: Course) -> Fit:
    """Move the hours of a plan to where a log puts them; where a change of pace shows, more widely. Deterministic."""
    seen, goal = lags(rows, course), ln_finish(course)
    found, step = _rounds(course, seen, goal, middle_finish(course), None), None
    clearest = unnoted.clearest_step(seen, found.finish)
    if clearest is not None and clearest.clear > unnoted.CLEAR:
        step, found = clearest, _rounds(course, seen, goal, found.finish, clearest)
    return replace(found, step=step)


def _rounds(course: Course, seen: Lags, goal, finish: float, step: PaceStep | None) -> Fit:
    for _ in range(ROUNDS):
        found = _updated(course, seen, goal, finish, step)
        finish = float(np.exp(np.median(found.ln_hours)))
    return found


def _updated(course: Course, seen: Lags, goal, finish: float, step: PaceStep | None = None) -> Fit:
    """One update; members far beyond the end of the forecast stay there: no weight tells whether they get dry."""
    members, count = seen.lag.shape
    there = goal < np.log(course.times[-1] / 3600) + FARTHEST - 1e-9
    errors, cross, own = _errors(seen, finish)
    own = own if count else 0.0  # with nothing weighed since drying began the hours are the plan's
    if step is not None:
        slowed, at_finish = seen.time @ step.part(seen.rows.hours), step.part(np.array(max(finish, step.since)))
        errors = errors + STEP_LN_SD**2 * np.outer(slowed, slowed)
        ahead = replace(step, since=float(seen.rows.hours.max())).part(np.array(finish))  # it may end, or go on
        cross = cross + STEP_LN_SD**2 * slowed * at_finish
        own += STEP_LN_SD**2 * float(at_finish**2 + ahead**2)
    drawn = errors_drawn(np.block([[errors, cross[:, None]], [cross[None, :], np.array([[own]])]]), members)
    used = there if there.sum() > 1 else np.ones(members, bool)
    lag, ahead = seen.lag[used], goal[used]
    inverse = np.linalg.inv(np.atleast_2d(np.cov(lag, rowvar=False)) + errors) if count else np.zeros((0, 0))
    together = covary(ahead[:, None], lag)[0] + cross
    gain = together @ inverse
    later = -lag.mean(axis=0) @ gain  # than planned
    slowing = 0.0 if seen.rows.down_to(course.outcome.load.mass_ratio) else SLOWING  # seen done, it goes on no more
    middle = ahead.mean() + later + slowing * max(later, 0.0)
    between = _between((ahead - lag @ gain).var(), ahead.var())
    spread = np.sqrt(max(between + own - (2 * cross - errors @ gain) @ gain, 1e-8))
    chosen = _chosen(seen.lag, errors)
    to_errors = np.linalg.solve(errors, cross) if count else np.zeros(0)
    moved = goal[chosen] - drawn[:, -1] + (drawn[:, :-1] - seen.lag[chosen]) @ to_errors
    stay, own_spread = there[chosen], moved[there[chosen]] if there[chosen].sum() > 1 else moved
    exact = middle + spread * (moved - own_spread.mean()) / max(own_spread.std(), 1e-12)
    hours = np.where(stay, exact, goal[chosen])
    return Fit(course, chosen, hours, seen, -lag.mean(axis=0), inverse, drawn[:, :-1], finish, spread**2)


def _between(left: float, before: float) -> float:
    """How far apart the members count: all of it before the scale knows anything, `SETTLED` of what it leaves of their shapes.

    A plan holds what nobody told, and how far laboratories lie apart, as wide as each may be, all at once. Of fish whose
    pace was seen less than that is open; a weighing that says little settles little.
    """
    known = max(1.0 - left / max(before, 1e-12), 0.0)
    return left * (1.0 - (1.0 - SETTLED) * known)


def _chosen(lag: np.ndarray, errors: np.ndarray) -> np.ndarray:
    """Indices of as many members as there are, each about as often as it agrees with the log (systematic)."""
    members, count = lag.shape
    if not count:
        return np.arange(members)
    agreed = -0.5 * np.einsum("mi,ij,mj->m", lag, np.linalg.inv(errors), lag)
    low, high = 0.0, 1.0  # the largest power of the likelihood that leaves LEAST members
    for _ in range(30):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _effective(middle * agreed) >= min(LEAST, members / 2) else (low, middle)
    share = np.cumsum(_shares((high if high == 1.0 else low) * agreed))
    return np.searchsorted(share, (np.arange(members) + 0.5) / members).clip(max=members - 1)


def _shares(ln_weights: np.ndarray) -> np.ndarray:
    weights = np.exp(ln_weights - ln_weights.max())
    return weights / weights.sum()


def _effective(ln_weights: np.ndarray) -> float:
    """How many equal members would say as much."""
    return float(1.0 / np.sum(_shares(ln_weights) ** 2))


def _errors(seen: Lags, finish: float) -> tuple[np.ndarray, np.ndarray, float]:
    """Covariance of the errors of the lags, of these with ln pace at the finish, and variance of that one."""
    rows = seen.rows
    to_finish = model_stretch(rows.hours, np.array(finish), finish, rows.tempo) + rows.marked**2 * rows.thickest
    own = float(model_stretch(finish, finish, finish, rows.tempo)) + rows.marked**2
    return seen.errors(finish), seen.time @ to_finish, own


def made_of(course: Course, readings: list[Reading]) -> Members:
    """The members of a plan moved to where readings of the fish itself put them: the same update, of all names."""
    members = course.members
    names = members.names
    place = members.normals(names)
    moved = moved_by(place, readings)
    return replace(members, moved=dict(zip(names, moved.T, strict=True)), asked=Remembered())
