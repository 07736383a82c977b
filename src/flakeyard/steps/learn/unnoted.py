"""A change of pace that nobody noted: the dial turned, the door left open, the heater off.

All trays together (a tray that changed its place is none) and the marked piece are followed from weighing to weighing.
A pace that wanders as a steady dryer's may is one story; a step at one of the weighings is the other. How many sd the
step lies from no step at all is how `clear` it is. Looked for is a change of late: one that began in the first hour of a
long day is the plan's error, which the bands hold. Nearly all that goes wrong slows the drying, so a quickening has to be
clearer to be asked about.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flakeyard.steps.learn.evidence import CLOCK, Lags, Rows, own_paces

DRIFT_LN_SD = (
    0.07  # of the pace for each e-fold of the time: a curve of another shape (tuned on simulated kitchens, even seeds)
)
NOTED = 0.20  # h, of the time of a weighing, alike for all that is weighed then (tuned likewise)
PAUSED = 0.20  # h, gained or lost by a pause: the fish has to warm up, its water has evened out (tuned likewise)
OF_LATE = 4.0  # times as long ago as the change, drying may have begun (tuned likewise)
RARER = 0.3  # sd by which a quickening must be clearer than a slowing (judgement)
CLEAR = 2.3  # sd from which on it is asked about: in 9 % of steady evenings (simulated, folds of the even seeds)


@dataclass(frozen=True)
class PaceStep:
    """A change of pace: ln of the pace after it over the pace before, since about when [h of drying], and how clear."""

    ln_pace: float
    since: float
    clear: float  # sd, a quickening's less RARER

    def part(self, hours: np.ndarray) -> np.ndarray:
        """Part of the time up to some hours that came after it.

        Returns: (hours,) [share, 0–1]
        Source: the step given
        """
        return np.maximum(hours - self.since, 0.0) / np.maximum(hours, 1e-9)


def clearest_step(seen: Lags, finish: float) -> PaceStep | None:
    """The change of pace at a weighing that would explain the log best; None where nothing could show one.

    Parameters: seen – the weighings compared; finish – drying hours that the load takes [h]
    """
    hours = seen.rows.hours
    at = np.unique(hours)[1:-1]
    at = at[at * OF_LATE >= hours.max()] if len(at) else at
    if not len(at):
        return None
    together = _together(seen)
    off = -together @ seen.lag.mean(axis=0)
    inverse = np.linalg.inv(_steady(seen, together, finish))
    found = []
    for since in at:
        pattern = -together @ seen.time @ PaceStep(0.0, float(since), 0.0).part(hours)
        sure = max(pattern @ inverse @ pattern, 1e-12)
        size = pattern @ inverse @ off / sure
        clear = abs(size) * np.sqrt(sure) - (RARER if size > 0 else 0.0)
        found.append(PaceStep(float(size), float(since), float(clear)))
    return max(found, key=lambda step: step.clear)


def _together(seen: Lags) -> np.ndarray:
    """Weights (sayings, later rows) that make one saying of all trays of a weighing, by their mass, one of the marked piece."""
    rows = seen.rows.take(seen.rows.later)
    groups = dict.fromkeys(zip(rows.thickest, rows.hours, strict=True))
    own = [((rows.thickest == thickest) & (rows.hours == hours)) * np.exp(rows.ln_mass) for thickest, hours in groups]
    return np.array([one / one.sum() for one in own])


def _steady(seen: Lags, together: np.ndarray, finish: float) -> np.ndarray:
    """Covariance of these sayings in a dryer that nobody touched."""
    rows, members = seen.rows, together @ seen.lag.T
    late = np.log(np.maximum(rows.hours, NOTED) / finish)
    pace = DRIFT_LN_SD**2 * np.outer(late, late) + own_paces(rows) + _paused(rows)
    mass = seen.mass @ rows.mass_errors() @ seen.mass.T
    at = rows.hours[rows.later]
    begun = CLOCK / np.maximum(at, CLOCK)
    noted = (NOTED / np.maximum(at, NOTED)) ** 2 * np.equal.outer(at, at) + np.outer(begun, begun)
    return np.atleast_2d(np.cov(members)) + together @ (seen.time @ pace @ seen.time.T + mass + noted) @ together.T


def _paused(rows: Rows) -> np.ndarray:
    """Covariance of the ln of time from what pauses did besides standing still (rows, rows)."""
    stood = np.array([entry.hours for entry in rows.entries]) - rows.hours
    begun = np.unique(np.round(stood, 2))[1:]  # h stood still after each pause
    after = (stood[:, None] > begun - 0.01) / np.maximum(rows.hours, NOTED)[:, None]
    return PAUSED**2 * after @ after.T
