"""When a log cannot be the log of the batch that was planned, say so instead of fitting nonsense."""

from __future__ import annotations

import math

import numpy as np

from flakeyard.messages import say
from flakeyard.steps.learn.evidence import HANDLING_LN_SD, Rows, expected, foreseen, lags, load_as_laid, middle_finish
from flakeyard.steps.learn.fitting import Fit
from flakeyard.steps.learn.log_cells import unit_slip
from flakeyard.steps.learn.logbook import Log
from flakeyard.steps.learn.members import Course

BEYOND = 1e-6  # probability under the plan below which a log is not believed (judgement)
TOO_CLEAR = 5.5  # sd of a change of pace: one in a hundred simulated dials turned down by 15 K (even seeds)
TOO_FAR = 3.5  # sd of the ln pace
TOO_MANY_TIMES = 5.0  # slower or faster than the middle of the plan, however wide that is (judgement)
SAME_WEIGHT = 0.05  # of the weight as laid: where the plan expects that weight by then, no pace is wrong (judgement)
TOO_HEAVY = 5.0  # sd of the load as laid


def found(rows: Rows, prior: Course, log: Log, trays: int) -> str | None:
    """What in a log no plan of this kind can explain, or None."""
    return _wrong_load(prior, log, trays) or _wrong_pace(rows, prior, log) or _wrong_course(rows, prior, log)


def _wrong_load(prior: Course, log: Log, trays: int) -> str | None:
    laid = load_as_laid(log, trays)
    if laid is None:
        return None
    planned = np.log(prior.mass)
    away = (np.log(laid) - planned.mean()) / np.hypot(planned.std(), HANDLING_LN_SD)
    if abs(away) < TOO_HEAVY:
        return None
    slip = unit_slip(np.exp(planned.mean()) / laid, log.column)
    name = "contradiction.load.unit" if slip else "contradiction.load"
    return say(name, laid=1000 * laid, planned=1000 * np.exp(planned.mean()), slip=slip)


def _wrong_pace(rows: Rows, prior: Course, log: Log) -> str | None:
    """Drying far faster or slower than any plan of this kind, by the last weighing before it would be done.

    Fish that stays in when it is dry comes to weights that others never see: they tell how dry it can get, not how fast.
    """
    seen = lags(rows, prior)
    if not len(rows.later):
        return None
    hours, finish = rows.hours[rows.later], middle_finish(prior)
    before = np.log(hours) + seen.lag.mean(axis=0) < np.log(finish)
    last = hours[before].max() if before.any() else hours.min()
    newest = hours == last
    slower = -seen.lag[:, newest].mean(axis=1)  # above 0: slower than the member
    errors = seen.errors(finish)[np.ix_(newest, newest)].mean()
    away = abs(slower.mean()) / np.sqrt(slower.var() + errors)
    times = float(np.exp(abs(np.median(slower))))
    if away < TOO_FAR and (times < TOO_MANY_TIMES or _as_heavy(rows, prior, last)):
        return None
    late = np.median(slower) > 0
    expects = last / times if late else last * times
    name = "contradiction.slower" if late else "contradiction.faster"
    return say(name, moment=log.clock(rows.entries[rows.later[newest][0]].hours), expects=expects, times=times)


def _as_heavy(rows: Rows, prior: Course, last: float) -> bool:
    """Whether the newest weights are near those the plan expects by then: fish that stays in when dry loses no more."""
    said, newest = np.median(expected(rows, prior)[0], axis=0), np.flatnonzero(rows.hours == last)
    left = rows.ln_mass[newest] - rows.ln_mass[rows.first[newest]]
    return bool(np.all(np.abs(np.exp(left) - np.exp(said[newest] - said[rows.first[newest]])) < SAME_WEIGHT))


def _wrong_course(rows: Rows, prior: Course, log: Log) -> str | None:
    free = len(rows.hours) - len(set(rows.group))
    if free < 1:
        return None
    middle, inverse = foreseen(rows, prior)
    off = rows.read - middle
    return _course_words(log) if chance_beyond(off @ inverse @ off, free) < BEYOND else None


def chance_beyond(off: float, free: int) -> float:
    """Chance that the squares of so many standard normal numbers add up to more.

    Parameters: off – the sum, 0 up; free – how many numbers, 1 up
    Returns: float [share, 0–1]
    Equation: with h = off / 2: Σ e^-h h^i / Γ(i + 1) over i = 0, 1, … (even number) or i = 1/2, 3/2, … (odd), below free / 2;
        for an odd number erfc(√h) besides. The tail of chi-squared in closed form
    Source: mathematics for what is given, recalled from memory and held against scipy.stats by the tests
    """
    half = off / 2
    if half <= 0 or half == math.inf:
        return float(half <= 0)
    odd = free % 2
    terms = (i + odd / 2 for i in range(free // 2))
    tail = sum(math.exp(i * math.log(half) - half - math.lgamma(i + 1)) for i in terms)
    return tail + (math.erfc(math.sqrt(half)) if odd else 0.0)


def unbelievable(free: int) -> float:
    """The sum of squares of so many standard normal numbers that is passed with the chance `BEYOND`.

    Returns: float [1, above 0]
    Source: judgement (`BEYOND`), by halving
    """
    low, high = 0.0, 2.0 * free + 100.0
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if chance_beyond(middle, free) > BEYOND else (low, middle)
    return high


def broken(fitted: Fit, log: Log) -> str | None:
    """Whether the pace has changed so much that no hour is worth telling until it is known what happened."""
    return _course_words(log) if fitted.step is not None and fitted.step.clear > TOO_CLEAR else None


def _course_words(log: Log) -> str:
    return say("contradiction.course", moment=log.clock(log.last))
