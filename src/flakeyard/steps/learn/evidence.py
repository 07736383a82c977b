"""What a log says of hours: rows of weights, how wrong each may be, and when a member would weigh as much.

Every weighing is read as a moment: by then a piece, or a tray, had lost so much. A member of the plan comes to that
weight at an hour of its own; ln of one over the other is its `lag`. What a lag may be off by

- the scale: its step, a drift, drops on a tray as laid (an error of mass, over the slope of the curve);
- the clock of the log;
- a tray that dries faster or slower than the dryer, for as long as it keeps its place, and a marked piece that dries
  faster or slower than a piece of its thickness should;
- the model: the load runs along its curve a little faster or slower than computed, and the more so the longer it has
  run and the drier it is. It is alike for all that is weighed, so more weighings do not average it away.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from flakeyard.messages import say
from flakeyard.models.moist_air import saturation_pressure
from flakeyard.steps.chain import airing, drying
from flakeyard.steps.chain.drying import when_down_to
from flakeyard.steps.chain.fish import Flesh
from flakeyard.steps.intent.records import Batch, Dryer, Room
from flakeyard.steps.judge.water_check import TRUSTED, error_that_counts
from flakeyard.steps.learn.log_course import STEPS, step_of
from flakeyard.steps.learn.logbook import ALL, THICKEST, Entry, Log
from flakeyard.steps.learn.members import Course, Schedule, at_times
from flakeyard.steps.plan.measured import OVEN_SD, STEP_SD, STRIP_LN_SD, Reading

Scale = tuple[float | None, float]  # sd of one reading [kg; None: by the step it shows], and as a share of the mass
SCALE: Scale = (None, 0.003)  # of a kitchen scale (judgement)
DRIFT = 0.00015  # kg/h at first, of a scale that keeps its zero (judgement)
DRIFTING = (0.03, 0.002)  # chance of a scale that does not, and its drift, kg/h at first (judgement)
DRIFT_LASTS = 25.0  # h, in which it slows down: no zero goes astray without end (judgement)
WET = 0.0015  # kg, drops on a tray or in its mesh when it is weighed as laid (judgement)
CLOCK = 0.08  # h, of a time noted (judgement: quarter hours, rounded)
STAYING = (np.inf, 1)  # h and places: a tray that stays where it was laid
TRAY_LN_SD = 0.09  # of a tray's pace about the dryer's (tuned on simulated kitchens, even seeds)
MARKED_LN_SD = 0.12  # of the marked piece's pace about that of a piece of its thickness (tuned likewise)
OTHER_PIECE = (0.2, 0.3)  # chance that it is no such piece, and ln sd of its pace then (tuned likewise)
TEMPO_LN_SD, TEMPO_REACH = 0.04, 1.0  # of the model's pace, and the ln time over which it changes (tuned likewise)
VAPOUR_LN_SD = 0.16  # of the vapour in the air drawn in, as a room or a day turns damp or dry (tuned likewise)
DAMPEST = 1.0  # of that vapour, the most for each part that the air can still take up (judgement)
WALK_LN_SD = 0.10  # of the model's pace at the finish, as a random walk in time from the start (tuned likewise)
END_LN_SD, END_POWER = 0.10, 3  # likewise of the dry end, and how late it shows (tuned likewise)
ANY_MASS = 9.0  # variance of the ln of a weight as laid: anything
HANDLING_LN_SD = 0.02  # of the load as laid against the plan: crumbs, drip, pieces eaten (judgement)
METER_ERROR = 0.03  # of a water-activity meter whose error was not told (judgement): more than a small one that was
STRANGE, STRANGE_SHARE = 4.5, 0.25  # sd from all other weighings, and the largest share set aside
FLATTEST = 1e-3  # ln of mass per ln of time (judgement): on a flatter curve a weight says nothing of the hour
FARTHEST = 1.5  # ln of time beyond the end of the forecast to which a curve is drawn out (judgement)
STRAIGHTENED = 3  # rounds: a drift is no straight line in ln mass
SHOWN_LEFT = 0.3  # of a weight, whatever the drift (judgement)
SOONEST = 1 / 60  # h: within a minute all is one moment


@dataclass(frozen=True)
class Rows:
    """Weighings as arrays: drying hours, ln mass, and whose they are; ``scale`` is the error of one reading [kg].

    ``drift``: sd of the scale's drift at first [kg/h], ``marked``: of the marked piece's own ln pace, ``tempo``: of the
    model's, in the air of this batch; ``drifted``: drift that shows in the weights [kg/h].
    """

    entries: tuple[Entry, ...]
    hours: np.ndarray
    ln_mass: np.ndarray
    group: np.ndarray  # rows with one weight as laid
    thickest: np.ndarray
    places: np.ndarray = field(repr=False)  # (rows, tray places): share of the drying time spent there
    scale: tuple[float, float]
    drift: float = DRIFT
    marked: float = MARKED_LN_SD
    tempo: float = TEMPO_LN_SD
    drifted: float = 0.0

    def take(self, chosen) -> Rows:
        entries = tuple(self.entries[row] for row in np.arange(len(self.hours))[chosen])
        arrays = {n: getattr(self, n)[chosen] for n in ("hours", "ln_mass", "group", "thickest", "places")}
        return replace(self, entries=entries, **arrays)

    def without(self, row: int) -> Rows:
        return self.take(np.arange(len(self.hours)) != row)

    def with_more(self, like: int, hours: float, ln_ratio: float) -> Rows:
        """The same with one weighing more of what a row weighed, lighter by so much."""
        grown = self.take(np.append(np.arange(len(self.hours)), like))
        ln_mass = np.append(self.ln_mass, self.ln_mass[like] + ln_ratio)
        return replace(grown, hours=np.append(self.hours, hours), ln_mass=ln_mass)

    @property
    def first(self) -> np.ndarray:
        """For each row the first one of its group.

        Returns: (rows,) [count, 0 up]
        Source: the weighings given
        """
        rows = np.arange(len(self.hours))
        return np.array([min(rows[self.group == group], key=lambda row: self.hours[row]) for group in self.group], int)

    @property
    def later(self) -> np.ndarray:
        """Rows that say how much was lost since the first of their group.

        Returns: (rows,) [count, 0 up]
        Source: the weighings given
        """
        return np.flatnonzero(self.hours > self.hours[self.first]) if len(self.hours) else np.zeros(0, int)

    def down_to(self, ratio: float) -> bool:
        """Whether the marked piece, weighed as laid, was last seen down to a share of that weight."""
        own = np.flatnonzero(self.thickest)
        return bool(
            len(own) > 1
            and self.hours[own[0]] == 0.0
            and self.ln_mass[own[-1]] <= self.ln_mass[own[0]] + np.log(ratio) < self.ln_mass[own[0]]
        )

    def mass_errors(self) -> np.ndarray:
        """Covariance of the errors of ln mass that come from the scale (rows, rows).

        Returns: (rows, rows) [1, any]
        Source: judgement; the scale as given
        """
        per_kg = np.exp(-self.ln_mass)
        laid = (self.hours == 0.0) & ~self.thickest
        own = (self.scale[0] * per_kg) ** 2 + self.scale[1] ** 2 + laid * (WET * per_kg) ** 2
        return np.diag(own) + self.drift**2 * np.outer(self.drift_per_kg, self.drift_per_kg)

    @property
    def adrift(self) -> np.ndarray:
        """Hours of drift at its first pace that have come together, at most `DRIFT_LASTS`.

        Returns: (rows,) [h, 0 up]
        Source: judgement
        """
        return -DRIFT_LASTS * np.expm1(-self.hours / DRIFT_LASTS)

    @property
    def straight(self) -> np.ndarray:
        """ln mass without the drift that shows.

        Returns: (rows,) [1, any]
        Source: the weighings given
        """
        shown = np.exp(self.ln_mass)
        return np.log(np.maximum(shown - self.drifted * self.adrift, SHOWN_LEFT * shown))

    @property
    def drift_per_kg(self) -> np.ndarray:
        """What a drift of one kg/h at first does to ln mass.

        Returns: (rows,) [h/kg, 0 up]
        Source: the weighings given
        """
        return self.adrift * np.exp(-self.straight)

    @property
    def read(self) -> np.ndarray:
        """ln mass as read, were a drift a straight line in it.

        Returns: (rows,) [1, any]
        Source: the weighings given
        """
        return self.straight + self.drifted * self.drift_per_kg


def rows_of(log: Log, plan: Schedule, scale: Scale = SCALE, turning: tuple[float, int] = STAYING) -> Rows:
    """The weighings of a log, ready to be compared; ``turning``: how often trays change places [h], and among how many."""
    entries = tuple(entry for entry in log.weighings if entry.hours >= 0.0)
    hours = np.array([float(plan.drying(entry.hours)) for entry in entries])
    mass = np.array([entry.kg for entry in entries])
    groups, restarts = [], dict.fromkeys(log.trays, 0)
    for entry in entries:
        restarts[entry.tray] += entry.event in ("taken out", "freshened")
        groups.append((entry.tray, restarts[entry.tray]))
    names = list(dict.fromkeys(groups))
    return Rows(
        entries, hours, np.log(mass), np.array([names.index(group) for group in groups], int),
        np.array([entry.tray == THICKEST for entry in entries], bool), _places(log, plan, entries, hours, turning),
        (STEP_SD * step_of(mass) if scale[0] is None else scale[0], scale[1]),
    )  # fmt: skip


def as_laid(course: Course) -> Rows:
    """The whole load on the scale before it dries, as the plan has it."""
    one = np.zeros(1)
    return Rows(
        (Entry(0, 0.0, ALL),),
        one,
        np.log([np.median(course.mass)]),
        one.astype(int),
        one > 0,
        np.zeros((1, 0)),
        (STEPS[-1], SCALE[1]),
        tempo=tempo_of(course.outcome.batch),
    )


def _places(log: Log, plan: Schedule, entries, hours, turning: tuple[float, int]) -> np.ndarray:
    """Share of its drying time that a tray had spent in each of its places; the whole load has no place.

    Where trays are told to change places every so often, each comes to all of them in turn; noted as well, that is the same.
    """
    moved = {tray: [0.0] for tray in log.trays}
    for entry in log.events("moved"):
        if entry.tray == ALL and turning != STAYING:
            continue
        for tray in moved if entry.tray == ALL else [entry.tray]:
            if tray in moved:
                moved[tray].append(float(plan.drying(entry.hours)))
    columns = [
        (tray, begin, end, place)
        for tray, times in moved.items()
        for begin, end in zip(times, [*times[1:], np.inf])
        for place in range(turning[1])
        if tray not in (ALL, THICKEST)
    ]
    shares = np.zeros((len(entries), len(columns)))
    for column, (tray, begin, end, place) in enumerate(columns):
        for row, entry in enumerate(entries):
            if entry.tray == tray:
                spent = _spent(max(min(hours[row], end), begin), place, turning) - _spent(begin, place, turning)
                shares[row, column] = spent / hours[row] if hours[row] > 0 else float(begin == 0.0 and place == 0)
    return shares


def _spent(hours: float, place: int, turning: tuple[float, int]) -> float:
    """Hours up to a moment in one of the places that a tray comes to in turn."""
    every, among = turning
    if among == 1:
        return hours
    rounds, rest = divmod(hours, every * among)
    return rounds * every + min(max(rest - place * every, 0.0), every)


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


def tempo_of(batch: Batch) -> float:
    """How far the pace may wander in the air of a batch (sd of its ln): cool air that comes in damp can hardly take up
    more, so that a little more or less of what it brings along is much of what it takes away.

    Returns: float [1, above 0]
    Source: models.moist_air.saturation_pressure; judgement
    """
    brought = max(_brought(dryer, room) for dryer, room in airing.each(batch))
    return float(np.hypot(TEMPO_LN_SD, VAPOUR_LN_SD * brought))


def _brought(dryer: Dryer, room: Room) -> float:
    """Vapour in the air drawn in, for each part that it can still take up over the fish."""
    usual = drying.OUTDOOR_HUMIDITY if dryer.open_air else drying.ROOM_HUMIDITY
    damp = usual[1] if room.relative_humidity is None else room.relative_humidity
    else_warm = dryer.temperature if dryer.open_air else drying.ROOM_TEMPERATURE[1]
    vapour = damp * saturation_pressure(else_warm if room.temperature is None else room.temperature)
    more = saturation_pressure(dryer.temperature) - vapour
    return float(min(vapour / more, DAMPEST)) if more > 0.0 else DAMPEST


def model_stretch(one, other, finish: float, tempo: float = TEMPO_LN_SD) -> np.ndarray:
    """Covariance of the ln of the mean pace up to two drying times [h], of a load that takes about ``finish`` hours.

    Returns: (times, times) [1, any]
    Source: judgement
    """
    one, other = np.maximum(one, 0.05), np.maximum(other, 0.05)  # h: within three minutes all is one moment
    wander = tempo**2 * np.exp(-np.abs(np.log(one / other)) / TEMPO_REACH)
    early, late = np.minimum(one, other) / finish, np.maximum(one, other) / finish
    walk = WALK_LN_SD**2 * 3 * early * (0.5 - early / (6 * late))  # of the mean of a random walk; 1 at the finish
    return wander + walk + END_LN_SD**2 * (early * late) ** END_POWER


def stretch(rows: Rows, finish: float) -> np.ndarray:
    """Covariance of the ln of the mean pace up to each row (rows, rows): the model's, the trays', the marked piece's.

    Returns: (rows, rows) [1, any]
    Source: judgement
    """
    return model_stretch(rows.hours[:, None], rows.hours[None, :], finish, rows.tempo) + own_paces(rows)


def own_paces(rows: Rows) -> np.ndarray:
    """The same of the paces that trays in their places and the marked piece have for themselves (rows, rows).

    Returns: (rows, rows) [1, 0 up]
    Source: judgement
    """
    marked = rows.marked**2 * np.outer(rows.thickest, rows.thickest)
    return marked + TRAY_LN_SD**2 * rows.places @ rows.places.T


def noted(hours: np.ndarray) -> np.ndarray:
    """Covariance of the ln of time from the clock (rows, rows): each time noted, and the start that all share.

    Returns: (rows, rows) [1, 0 up]
    Source: judgement
    """
    part = CLOCK / np.maximum(hours, CLOCK)
    return np.diag(part**2) + np.outer(part, part)


def covariance(rows: Rows, slope: np.ndarray, finish: float) -> np.ndarray:
    """Of all errors of ln mass (rows, rows), with slopes (rows,) of the curve.

    Returns: (rows, rows) [1, any]
    Source: judgement; the scale as given
    """
    same = rows.group[:, None] == rows.group[None, :]
    time = stretch(rows, finish) + noted(rows.hours)
    return rows.mass_errors() + ANY_MASS * same + slope[:, None] * slope[None, :] * time


def ln_reached(times, curves, goals) -> np.ndarray:
    """ln of the hour at which each falling curve (members, times) comes down to its goal; drawn out beyond the end.

    Returns: (members,) [1, any]
    Source: the curves given
    """
    hours = when_down_to(times, curves, goals) / 3600
    end, before = curves[:, -1], at_times(times, curves, np.array([0.8 * times[-1]]))[:, 0]
    fall = np.maximum(np.log(before / end) / np.log(1 / 0.8), FLATTEST)
    beyond = np.clip(np.log(end / np.minimum(goals, end)) / fall, 0.0, FARTHEST)
    drawn_out = np.log(times[-1] / 3600) + beyond
    return np.where(
        np.isfinite(hours), np.log(np.maximum(np.where(np.isfinite(hours), hours, 1.0), SOONEST)), drawn_out
    )


@dataclass(frozen=True)
class Lags:
    """What the later rows say: ln of a member's hour over the hour noted (members, sayings), and of their errors
    ``time`` what the pace of each row does to each saying, ``mass`` what ln mass of each row does (sayings, rows)."""

    rows: Rows
    lag: np.ndarray
    time: np.ndarray
    mass: np.ndarray

    def errors(self, finish: float) -> np.ndarray:
        """Covariance of the lags' errors (sayings, sayings).

        Returns: (sayings, sayings) [1, any]
        Source: judgement; the scale as given
        """
        at = self.rows.hours[self.rows.later]
        stretched = self.time @ stretch(self.rows, finish) @ self.time.T
        return stretched + self.mass @ self.rows.mass_errors() @ self.mass.T + noted(at)


def lags(rows: Rows, course: Course) -> Lags:
    """Compare every member with every later row."""
    later, first, straight = rows.later, rows.first, rows.straight
    lag = np.zeros((course.pieces.shape[1], len(later)))
    time, mass = np.zeros((2, len(later), len(rows.hours)))
    for number, row in enumerate(later):
        curves = course.pieces[-1] if rows.thickest[row] else course.load
        begun = rows.hours[first[row]]
        laid = at_times(course.times, curves, np.array([3600 * begun]))[:, 0]
        goals = laid * np.exp(straight[row] - straight[first[row]])
        reached = ln_reached(course.times, curves, goals)
        lag[:, number] = reached - np.log(rows.hours[row])
        middle = np.median(curves, axis=0)
        here = max(-_slope(course.times, middle, float(np.exp(np.median(reached)))), FLATTEST)
        there = max(-_slope(course.times, middle, begun), 0.0) if begun > 0 else 0.0
        time[number, row], time[number, first[row]] = 1.0, -min(there / here, 1.0)
        mass[number, row], mass[number, first[row]] = 1 / here, -1 / here
    return Lags(rows, np.clip(lag, -2.0, 2.0) - mass @ (rows.read - straight), time, mass)


def _slope(times, curve, hours: float) -> float:
    """Of ln mass against ln time, about an hour; near the end of the forecast that of its last stretch."""
    late = 3600 * min(hours, times[-1] / 3600 / 1.2)
    one, other = (np.log(np.interp(moment, times, curve)) for moment in (late / 1.1, late * 1.1))
    return float(other - one) / np.log(1.21)


def readings_of(
    log: Log, plan: Schedule, course: Course, weighed: Course, trays: int, scale: Scale = SCALE
) -> list[Reading]:
    """What may move the make-up of the fish: a drained weight, a strip, a meter, an oven-dried piece. No tray, no taste;
    a household hygrometer only where it shows the fish moister.

    Parameters: course – of the plan; weighed – the same as the weighings have it, which says how far a piece had dried
    """
    found = []
    for entry in log.events("drained"):
        if entry.mass is not None:
            step = STEP_SD * STEPS[0] if scale[0] is None else scale[0]
            sd = np.sqrt((step * np.sqrt(trays) / entry.mass) ** 2 + scale[1] ** 2 + HANDLING_LN_SD**2)
            words = say("log.read.drained", grams=1000 * entry.mass)
            found.append(Reading(np.log(course.mass), np.log(entry.mass), sd, words))
    for entry in log.entries:
        found += _measured(entry, plan, course, weighed)
    return found


def _measured(entry: Entry, plan: Schedule, course: Course, weighed: Course) -> list[Reading]:
    found = []
    if "strip_salt" in entry.readings:
        read, said = entry.readings["strip_salt"], np.log(course.outcome.cured.water_phase_salt)
        words = say("log.read.strip", percent=100 * read)
        found.append(Reading(said, np.log(read), STRIP_LN_SD, words))
    if "oven_dry" in entry.readings:
        read = 1 - entry.readings["oven_dry"] / entry.kg
        said, doubt = _of_piece(entry, plan, course, weighed, lambda piece: 1 - piece.solid_share)
        words = say("log.read.oven", percent=100 * read)
        found.append(Reading(said, read, float(np.hypot(OVEN_SD, doubt)), words))
    if "water_activity" in entry.readings:
        read, told = entry.readings["water_activity"], entry.readings.get("water_activity_error", METER_ERROR)
        error = error_that_counts(told, course.outcome.batch.keep.measured_by)
        said, doubt = _of_piece(entry, plan, course, weighed, lambda piece: piece.activity)
        words = say("log.read.meter", activity=read)
        sd = float(np.hypot(max(METER_ERROR if error is None else error, 0.003), doubt))
        if course.outcome.batch.keep.measured_by in TRUSTED or read > np.median(said):
            found.append(Reading(said, read, sd, words))  # a household hygrometer makes no fish drier
    return found


def _of_piece(entry: Entry, plan: Schedule, course: Course, weighed: Course, what) -> tuple[np.ndarray, float]:
    """What the members say of the piece that was measured, dried as far as the weighings have it, and how much that
    leaves open (sd)."""
    row = -1 if entry.tray == THICKEST else 1
    flesh = course.outcome.cured.flesh
    whole = Flesh(**{n: getattr(flesh, n)[row] / flesh.mass[row] for n in Flesh.__dataclass_fields__})
    moment = np.array([3600 * max(float(plan.drying(entry.hours)), 0.0)])
    ratio = np.quantile(at_times(weighed.times, weighed.pieces[row], moment)[:, 0], [0.16, 0.5, 0.84])
    low, said, high = (what(_Piece(drying.dried_to(whole, one), course.outcome.load.isotherm)) for one in ratio)
    return said, 0.5 * float(np.median(high - low))


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


def load_as_laid(log: Log, trays: int) -> float | None:
    """Mass of the whole load before drying: drained, or all trays as laid, if all were weighed.

    Returns: float or None [kg, above 0]
    Source: the log given
    """
    for entry in log.entries:
        whole = entry.event == "drained" or (entry.weighed and entry.tray == ALL and entry.hours == 0.0)
        if whole and entry.mass is not None:
            return entry.mass
    laid = {entry.tray: entry.kg for entry in log.weighings if entry.hours == 0.0 and entry.tray not in (ALL, THICKEST)}
    return sum(laid.values()) if len(laid) == trays else None


def believed(rows: Rows, course: Course) -> Rows:
    """The same with the drift of the scale and the marked piece's own pace as wide as the weighings make them, and the
    model's pace as its air makes it.

    A scale that does not keep its zero takes as many grams from a small piece as from a full tray, so it shows where both
    are weighed; so does a marked piece that is no piece of its thickness. Each of these stories counts by its chance before
    and by how well it foresees the weights. Where only one of both is weighed, nothing tells these pieces apart.
    """
    rows = replace(rows, tempo=tempo_of(course.outcome.batch))
    scales, pieces = ((1 - DRIFTING[0], DRIFT), DRIFTING), ((1 - OTHER_PIECE[0], MARKED_LN_SD), OTHER_PIECE)
    if not rows.thickest[rows.later].any() or rows.thickest.all():
        return replace(rows, marked=sum(chance * wide for chance, wide in pieces))
    stories = [(a * b, drift, marked) for a, drift in scales for b, marked in pieces]
    said = expected(rows, course)
    for _ in range(STRAIGHTENED):
        told = [_story(replace(rows, drift=drift, marked=marked), course, said) for _, drift, marked in stories]
        likely, shown = np.array(told).T
        likely = likely + np.log([chance for chance, _, _ in stories])
        share = np.exp(likely - likely.max()) / np.exp(likely - likely.max()).sum()
        rows = replace(rows, drifted=float(share @ shown))
    drift, marked = (float(share @ [one[number] for one in stories]) for number in (1, 2))
    return replace(rows, drift=drift, marked=marked)


def _story(rows: Rows, course: Course, said) -> tuple[float, float]:
    """ln of how likely the weights are, and the drift that they would show [kg/h]."""
    middle, inverse = foreseen(rows, course, said)
    pull = inverse @ (rows.read - middle)
    likely = 0.5 * (np.linalg.slogdet(inverse)[1] - (rows.read - middle) @ pull)
    return likely, rows.drift**2 * rows.drift_per_kg @ pull


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
    return inverse @ (rows.read - middle) / np.sqrt(np.diag(inverse))


def foreseen(rows: Rows, course: Course, expectation=None) -> tuple[np.ndarray, np.ndarray]:
    """What the plan says of all weighings before they are made: mean, and inverse of the covariance.

    Parameters: expectation – what ``expected`` gives for these hours, to save its time
    Returns: mean (rows,) [1, any]; inverse of the covariance [1, any]
    Source: steps.learn.evidence.expected
    """
    said, slopes = expectation or expected(rows, course)
    finish = middle_finish(course)
    spread = covariance(rows, slopes.mean(axis=0), finish) + np.atleast_2d(np.cov(said, rowvar=False))
    return said.mean(axis=0), np.linalg.inv(spread)


def ln_finish(course: Course) -> np.ndarray:
    """ln of the drying hours to the finish (members,), drawn out where a forecast ends before it.

    Returns: (members,) [1, any]
    Source: models.slab_drying.dry
    """
    still = np.where(course.times < course.soaked, np.inf, course.pieces[-1])
    return ln_reached(course.times, still, course.done_at)


def middle_finish(course: Course) -> float:
    """Median of the drying hours to the finish.

    Returns: float [h, above 0]
    Source: models.slab_drying.dry
    """
    return float(np.exp(np.median(ln_finish(course))))
