"""How well each possible batch agrees with what the scale showed.

A weighing is compared as the logarithm of its mass, so the weight as laid drops out as an unknown of its tray, and
with it a scale that reads low throughout. What a member says may be off by

- the error of the scale;
- a tray that dries faster or slower than the dryer on the whole, for as long as it keeps its place;
- the model itself: the load runs along its curve a little faster or slower than computed, in a way that changes
  slowly (TEMPO_LN_SD, alike for all trays).

The last two stretch time, so they act through the slope of the curve. All errors together are normal, with one
covariance for all members (its slopes are those of the members that fit best), and one factorisation serves them all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2

from flakeyard.steps.chain import drying
from flakeyard.steps.chain.fish import Flesh
from flakeyard.steps.judge.water_check import error_that_counts
from flakeyard.steps.learn.logbook import ALL, THICKEST, Entry, Log
from flakeyard.steps.learn.members import Course, Schedule, at_times

SCALE = (0.002, 0.005)  # kg, and share of the mass: one standard deviation of a kitchen scale (judgement)
TRAY_LN_SD = 0.07  # of a tray's, or a single piece's, pace about the dryer's (judgement)
TEMPO_LN_SD, TEMPO_REACH = 0.05, 1.0  # of the model's pace, and the ln time over which it changes (judgement)
ANY_MASS = 9.0  # variance of the ln of a weight as laid: anything
HANDLING_LN_SD = 0.02  # of the load as laid against the plan: crumbs, drip, pieces eaten (judgement)
STRIP_LN_SD, TASTE_LN_SD = 0.10, 0.30  # of a chloride strip and of a taste (judgement)
OVEN_SD = 0.01  # kg/kg, water of an oven-dried piece against others of its tray (judgement)
METER_ERROR = 0.03  # of a water-activity meter whose error was not told (judgement): more than a small one that was
STRANGE, STRANGE_SHARE = 4.5, 0.25  # sd from all other weighings, and the largest share set aside


@dataclass(frozen=True)
class Rows:
    """Weighings as arrays: drying hours, ln mass, variance of the scale, and whose they are."""

    entries: tuple[Entry, ...]
    hours: np.ndarray
    ln_mass: np.ndarray
    variance: np.ndarray
    group: np.ndarray  # rows with one weight as laid
    thickest: np.ndarray
    places: np.ndarray  # (rows, tray places): share of the drying time spent there

    def without(self, row: int) -> Rows:
        keep = np.arange(len(self.hours)) != row
        entries = tuple(entry for entry, kept in zip(self.entries, keep, strict=True) if kept)
        arrays = (getattr(self, n)[keep] for n in ("hours", "ln_mass", "variance", "group", "thickest", "places"))
        return Rows(entries, *arrays)


@dataclass(frozen=True)
class Reading:
    """A single reading that is compared directly: what the members say (members,), what was read, its sd, in words."""

    said: np.ndarray
    read: float
    sd: float
    words: str

    @property
    def log_likelihood(self) -> np.ndarray:
        """ln of how likely each member makes what was read, but for a constant.

        Returns: (members,) [1, 0 or less]
        Source: the reading given; judgement, its error
        """
        return -0.5 * ((self.said - self.read) / self.sd) ** 2


def rows_of(log: Log, plan: Schedule, scale=SCALE) -> Rows:
    """The weighings of a log, ready to be compared."""
    entries = tuple(entry for entry in log.weighings if entry.hours >= 0.0)
    hours = np.array([float(plan.drying(entry.hours)) for entry in entries])
    mass = np.array([entry.mass for entry in entries])
    groups, restarts = [], dict.fromkeys(log.trays, 0)
    for entry in entries:
        restarts[entry.tray] += entry.event in ("taken out", "freshened")
        groups.append((entry.tray, restarts[entry.tray]))
    names = list(dict.fromkeys(groups))
    return Rows(
        entries, hours, np.log(mass), (scale[0] / mass) ** 2 + scale[1] ** 2,
        np.array([names.index(group) for group in groups], int),
        np.array([entry.tray == THICKEST for entry in entries], bool), _places(log, plan, entries, hours),
    )  # fmt: skip


def _places(log: Log, plan: Schedule, entries, hours) -> np.ndarray:
    """Share of its drying time that a tray had spent in each of its places; the whole load has no place."""
    moved = {tray: [0.0] for tray in log.trays}
    for entry in log.events("moved"):
        for tray in moved if entry.tray == ALL else [entry.tray]:
            if tray in moved:
                moved[tray].append(float(plan.drying(entry.hours)))
    columns = [(tray, begin, end) for tray, times in moved.items() for begin, end in zip(times, [*times[1:], np.inf])]
    shares = np.zeros((len(entries), len(columns)))
    for column, (tray, begin, end) in enumerate(columns):
        for row, entry in enumerate(entries):
            if entry.tray == tray != ALL:
                spent = max(min(hours[row], end) - begin, 0.0)
                shares[row, column] = spent / hours[row] if hours[row] > 0 else float(begin == 0.0)
    return shares


def expected(rows: Rows, course: Course) -> tuple[np.ndarray, np.ndarray]:
    """ln of mass over mass as laid, and its slope against the ln of time (members, rows).

    Returns: (members, rows) [1, 0 or less]; its slope [1, 0 or less]
    Source: models.slab_drying.dry
    """
    moments = 3600 * rows.hours
    said = [np.log(at_times(course.times, curve, moments)) for curve in (course.load, course.pieces[-1])]
    later = [np.log(at_times(course.times, curve, 1.02 * moments)) for curve in (course.load, course.pieces[-1])]
    pick = rows.thickest
    value = np.where(pick, said[1], said[0])
    return value, (np.where(pick, later[1], later[0]) - value) / np.log(1.02)


def tempo(one, other) -> np.ndarray:
    """Covariance of the model's ln pace at two drying times.

    Returns: (times, times) [1, any]
    Source: judgement
    """
    one, other = np.maximum(one, 0.05), np.maximum(other, 0.05)  # h: within three minutes all is one moment
    return TEMPO_LN_SD**2 * np.exp(-np.abs(np.log(one / other)) / TEMPO_REACH)


def stretch(rows: Rows) -> np.ndarray:
    """Covariance of the ln pace (rows, rows): the model's and the trays'.

    Returns: (rows, rows) [1, any]
    Source: judgement
    """
    model = tempo(rows.hours[:, None], rows.hours[None, :])
    return model + TRAY_LN_SD**2 * rows.places @ rows.places.T


def covariance(rows: Rows, slope: np.ndarray) -> np.ndarray:
    """Of all errors of ln mass (rows, rows), with slopes (rows,) of the curve.

    Returns: (rows, rows) [1, any]
    Source: judgement; the scale as given
    """
    same = rows.group[:, None] == rows.group[None, :]
    return np.diag(rows.variance) + ANY_MASS * same + slope[:, None] * slope[None, :] * stretch(rows)


def readings_of(log: Log, plan: Schedule, course: Course, trays: int, scale=SCALE) -> list[Reading]:
    """Everything that was read besides the weighings of drying trays."""
    found = []
    as_laid = load_as_laid(log, trays)
    if as_laid is not None:
        sd = np.sqrt((scale[0] * np.sqrt(trays) / as_laid) ** 2 + scale[1] ** 2 + HANDLING_LN_SD**2)
        found.append(
            Reading(np.log(course.mass), np.log(as_laid), sd, f"the load as laid weighed {1000 * as_laid:.0f} g")
        )
    for entry in log.entries:
        for kind, sd in (("strip_salt", STRIP_LN_SD), ("taste_salt", TASTE_LN_SD)):
            if kind in entry.readings:
                read, said = entry.readings[kind], np.log(course.outcome.cured.water_phase_salt)
                found.append(
                    Reading(
                        said,
                        np.log(read),
                        sd,
                        f"{kind.split('_')[0]} after brining: {100 * read:.1f} % salt in the water",
                    )
                )
        if "oven_dry" in entry.readings:
            read = 1 - entry.readings["oven_dry"] / entry.kg
            said = 1 - _piece(entry, plan, course).solid_share
            found.append(Reading(said, read, OVEN_SD, f"an oven-dried piece held {100 * read:.1f} % water"))
        if "water_activity" in entry.readings:
            read, told = entry.readings["water_activity"], entry.readings.get("water_activity_error", METER_ERROR)
            error = error_that_counts(told, course.outcome.batch.keep.measured_by)
            found.append(
                Reading(
                    _piece(entry, plan, course).activity,
                    read,
                    max(METER_ERROR if error is None else error, 0.003),
                    f"a meter showed a water activity of {read:.2f}",
                )
            )
    return found


@dataclass(frozen=True)
class _Piece:
    flesh: Flesh
    isotherm: dict

    @property
    def solid_share(self) -> np.ndarray:
        return 1 - self.flesh.water / self.flesh.mass

    @property
    def activity(self) -> np.ndarray:
        return drying.activity(self.flesh, self.isotherm)


def _piece(entry: Entry, plan: Schedule, course: Course) -> _Piece:
    """The piece that was measured, as the members have it then: the thickest, or one of the usual ones."""
    row = -1 if entry.tray == THICKEST else 1
    flesh = course.outcome.cured.flesh
    whole = Flesh(**{n: getattr(flesh, n)[row] / flesh.mass[row] for n in Flesh.__dataclass_fields__})
    moment = np.array([3600 * max(float(plan.drying(entry.hours)), 0.0)])
    ratio = at_times(course.times, course.pieces[row], moment)[:, 0]
    load = course.outcome.load
    return _Piece(drying.dried_to(whole, ratio), load.isotherm)


def load_as_laid(log: Log, trays: int) -> float | None:
    """Mass of the whole load before drying: drained, or all trays as laid, if all were weighed.

    Returns: float or None [kg, above 0]
    Source: the log given
    """
    for entry in log.entries:
        if entry.mass is not None and (entry.event == "drained" or (entry.tray == ALL and entry.hours == 0.0)):
            return entry.mass
    laid = {entry.tray: entry.kg for entry in log.weighings if entry.hours == 0.0 and entry.tray not in (ALL, THICKEST)}
    return sum(laid.values()) if len(laid) == trays else None


@dataclass(frozen=True)
class Agreement:
    """Members against a log: ln likelihood (members,), and what it was made of."""

    log_likelihood: np.ndarray
    rows: Rows
    left: np.ndarray  # ln mass minus what the member says (members, rows)
    slope: np.ndarray  # (rows,)
    inverse: np.ndarray  # of the covariance

    def misfit(self, weights: np.ndarray) -> float:
        """Share of batches that would fit worse than the best members do: near 0 when none fits.

        Returns: float [share, 0–1]
        Source: the weighings given
        """
        free = len(self.rows.hours) - len(set(self.rows.group))
        if free < 1:
            return 1.0
        squares = np.einsum("mi,ij,mj->m", self.left, self.inverse, self.left)
        return float(chi2.sf(np.min(squares[weights > 0]), free))

    def pace_left(self, finish: np.ndarray, own_place: bool) -> tuple[np.ndarray, float]:
        """ln of the stretch of time of the thickest piece at its finish [h]: mean by member, and sd, given the weighings.

        Returns: (members,) [1, any]; sd [1, 0 up]
        Source: the weighings given
        """
        cross = tempo(finish[:, None], self.rows.hours[None, :])
        if own_place:
            cross = cross + TRAY_LN_SD**2 * self.rows.thickest
        cross = cross * self.slope
        mean = np.einsum("mi,ij,mj->m", cross, self.inverse, self.left)
        middle = cross[len(cross) // 2]
        variance = TEMPO_LN_SD**2 + TRAY_LN_SD**2 - middle @ self.inverse @ middle
        return mean, float(np.sqrt(max(variance, 1e-8)))

    def trays(self, weights: np.ndarray) -> dict[str, tuple[float, float]]:
        """ln pace of each tray about the dryer's: mean and sd given the weighings.

        Returns: by tray, mean and sd [1, any]
        Source: the weighings given
        """
        left = weights @ self.left
        found = {}
        for tray in dict.fromkeys(entry.tray for entry in self.rows.entries if entry.tray != ALL):
            own = np.array([entry.tray == tray for entry in self.rows.entries])
            cross = TRAY_LN_SD**2 * self.slope * own * self.rows.places.sum(axis=1)
            variance = TRAY_LN_SD**2 - cross @ self.inverse @ cross
            found[tray] = (float(cross @ self.inverse @ left), float(np.sqrt(max(variance, 0.0))))
        return found


def agreement(rows: Rows, course: Course, readings: list[Reading], least: float = 50.0) -> Agreement:
    """Compare members with weighings and readings; the slopes are found in two rounds, from the members that fit."""
    said, slopes = expected(rows, course)
    left = rows.ln_mass - said
    other = sum((reading.log_likelihood for reading in readings), np.zeros(len(left)))
    slope, inverse, weighed = slopes.mean(axis=0), np.eye(len(rows.hours)), other
    for _ in range(3):
        inverse = np.linalg.inv(covariance(rows, slope))
        weighed = other - 0.5 * np.einsum("mi,ij,mj->m", left, inverse, left)
        used, slope = slope, tempered(weighed, least)[1] @ slopes
    return Agreement(weighed, rows, left, used, inverse)


def tempered(log_weights: np.ndarray, least: float) -> tuple[float, np.ndarray]:
    """The largest power (at most 1) of the weights that leaves an effective sample of ``least``, and those weights.

    Returns: power [1, 0–1]; weights (members,) [share, 0–1]
    Source: the weights given
    """
    low, high = 0.0, 1.0
    for _ in range(40):
        weights = normalised(high * log_weights)
        if effective(weights) >= least and high == 1.0:
            return 1.0, weights
        middle = 0.5 * (low + high)
        low, high = (middle, high) if effective(normalised(middle * log_weights)) >= least else (low, middle)
    return low, normalised(low * log_weights)


def normalised(log_weights: np.ndarray) -> np.ndarray:
    """Weights that add up to one, from their logarithms.

    Returns: (members,) [share, 0–1]
    Source: the weights given
    """
    weights = np.exp(log_weights - np.max(log_weights))
    return weights / weights.sum()


def effective(weights: np.ndarray) -> float:
    """Effective sample: how many equal members would say as much.

    Returns: float [count, 1 up]
    Source: the weights given
    """
    return float(1.0 / np.sum(weights**2))


def set_strange_aside(rows: Rows, course: Course) -> tuple[Rows, tuple[Entry, ...]]:
    """Leave out weighings that no plan and the other weighings can explain: at most one, or a quarter of them.

    A weight as laid stays: without it fish that loses nothing for a day would look like fish that is dry.
    """
    strange: list[Entry] = []
    most = max(1, int(STRANGE_SHARE * len(rows.hours)))
    while len(strange) < most and len(rows.hours) > 2:
        away = np.where(rows.hours > 0.0, _away(rows, course), 0.0)
        worst = int(np.argmax(np.abs(away)))
        if abs(away[worst]) < STRANGE:
            break
        strange.append(rows.entries[worst])
        rows = rows.without(worst)
    return rows, tuple(strange)


def _away(rows: Rows, course: Course) -> np.ndarray:
    """How many sd each weighing lies from what the plan and all the other weighings say of it."""
    middle, inverse = foreseen(rows, course)
    return inverse @ (rows.ln_mass - middle) / np.sqrt(np.diag(inverse))


def foreseen(rows: Rows, course: Course) -> tuple[np.ndarray, np.ndarray]:
    """What the plan says of all weighings before they are made: mean, and inverse of the covariance.

    Returns: mean (rows,) [1, any]; inverse of the covariance [1, any]
    Source: steps.learn.evidence.expected
    """
    said, slopes = expected(rows, course)
    spread = covariance(rows, slopes.mean(axis=0)) + np.atleast_2d(np.cov(said, rowvar=False))
    return said.mean(axis=0), np.linalg.inv(spread)
