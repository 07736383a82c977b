"""When a log cannot be the log of the batch that was planned, say so instead of fitting nonsense."""

from __future__ import annotations

import numpy as np
from scipy.stats import chi2

from flakeyard.steps.learn.evidence import HANDLING_LN_SD, TRAY_LN_SD, Rows, foreseen, load_as_laid
from flakeyard.steps.learn.fitting import Fit, reached_hours
from flakeyard.steps.learn.log_cells import unit_slip
from flakeyard.steps.learn.logbook import Log
from flakeyard.steps.learn.members import Course

BEYOND = 1e-6  # probability under the plan below which a log is not believed (judgement)
MISFIT = 1e-4  # likewise under the best members
TOO_FAR = 3.5  # sd of the ln pace
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
    return (
        f"As laid the load weighed {1000 * laid:.0f} g, but the plan expects about {1000 * np.exp(planned.mean()):.0f} g. Was the tray itself "
        f"weighed too, a tray left out, or the raw weight typed wrong? {unit_slip(np.exp(planned.mean()) / laid, log.column)}".rstrip()
        + " Correct it and ask again."
    )


def _wrong_pace(rows: Rows, prior: Course, log: Log) -> str | None:
    """Drying far faster or slower than any plan of this kind."""
    last = rows.hours.max() if len(rows.hours) else 0.0
    reached = reached_hours(rows, prior, last) if last > 0 else None
    if reached is None:
        return None
    pace = np.log(last / reached)  # above 0: slower than the member
    away = pace.mean() / np.hypot(pace.std(), TRAY_LN_SD)
    if abs(away) < TOO_FAR:
        return None
    times = np.exp(abs(np.median(pace)))
    if away > 0:
        return (
            f"By {log.clock(log.last)} the fish has lost as little as the plan expects after {last / times:.1f} h of drying: {times:.1f} times slower. "
            "Was the heater off, the dial lower, the air shut off, are pieces laid over each other, or is a weight wrong?"
        )
    return (
        f"By {log.clock(log.last)} the fish has lost as much as the plan expects only after {last * times:.1f} h of drying: {times:.1f} times faster. "
        "Are the pieces much thinner than typed, were pieces taken out, or is a weight wrong?"
    )


def _wrong_course(rows: Rows, prior: Course, log: Log) -> str | None:
    free = len(rows.hours) - len(set(rows.group))
    if free < 1:
        return None
    middle, inverse = foreseen(rows, prior)
    off = rows.ln_mass - middle
    return _course_words(log) if chi2.sf(off @ inverse @ off, free) < BEYOND else None


def misfit(fitted: Fit, log: Log) -> str | None:
    """Whether even the members that fit best do not fit."""
    return _course_words(log) if fitted.agreement.misfit(fitted.weights) < MISFIT else None


def _course_words(log: Log) -> str:
    return (
        f"No steady dryer gives the weights seen up to {log.clock(log.last)}: they fall too fast at one time for how slowly they fall at another. "
        "Was the heater off or the dial turned for a while, were trays mixed up, pieces moved or eaten? Note it in the log (event, dial) and ask again."
    )
