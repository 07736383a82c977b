"""A change of pace that nobody noted: the dial turned, the door left open, the heater off.

All trays together (a tray that changed its place is none) and the marked piece are followed from weighing to weighing.
A pace that wanders as a steady dryer's may is one story; a step at one of the weighings is the other. How many sd the
step lies from no step at all is how `clear` it is. Looked for is a slowing or quickening of late: one that began in the
first hour of a long day is the plan's error, which the bands hold.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flakeyard.steps.learn.evidence import CLOCK, Lags, model_stretch, own_paces

STEADY = 0.25  # of the variance of the model's pace: what no dryer did (tuned on simulated kitchens, even seeds)
DRIFT_LN_SD = 0.10  # of the pace for each e-fold of the time: a curve of another shape (tuned likewise)
NOTED = 0.20  # h, of the time of a weighing, alike for all that is weighed then (tuned likewise)
OF_LATE = 3.0  # times as long ago as the change, drying may have begun (tuned likewise)
CLEAR = 2.15  # sd from which on it is asked about: of steady evenings at most 8 % of any kind (simulated, even seeds)


@dataclass(frozen=True)
class PaceStep:
    """A change of pace: ln of the pace after it over the pace before, since about when [h of drying], and how clear."""

    ln_pace: float
    since: float
    clear: float  # sd

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
        found.append(PaceStep(float(size), float(since), float(abs(size) * np.sqrt(sure))))
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
    model = STEADY * model_stretch(rows.hours[:, None], rows.hours[None, :], finish)
    pace = seen.time @ (model + DRIFT_LN_SD**2 * np.outer(late, late) + own_paces(rows)) @ seen.time.T
    mass = seen.mass @ rows.mass_errors() @ seen.mass.T
    at = rows.hours[rows.later]
    begun = CLOCK / np.maximum(at, CLOCK)
    noted = (NOTED / np.maximum(at, NOTED)) ** 2 * np.equal.outer(at, at) + np.outer(begun, begun)
    return np.atleast_2d(np.cov(members)) + together @ (pace + mass + noted) @ together.T
