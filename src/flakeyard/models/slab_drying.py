"""Drying of a slab of fish: moisture inside, temperature, time to a target, for a whole ensemble of pieces at once.

The piece is cut into thin layers, finest near the surface that dries. Water moves between layers by Fick's law with
a diffusivity that falls as the flesh dries; at the surface it leaves through the air film, held back by the water
activity there; the piece as a whole has one temperature, warmed by the air and cooled by evaporation. These laws and
their records `Slab`, `Air` and `Box` are in `drying_physics`; how they are followed in time is told in `drying_chain`.

In short: seventeen nodes, Simpson's mean of the diffusivity between two of them (so no water is made or lost), and a
linearly implicit method of third order with a private step length for every member. All members make one chain for
one tridiagonal solver, which is why a thousand pieces cost about as much as a dozen solved one by one.

A drying time says nothing about safety. Warm air does not make the piece warm while it is wet: see `hours_between`.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from flakeyard.messages import say
from flakeyard.models.constants import HOUR, KELVIN
from flakeyard.models.drying_chain import follow
from flakeyard.models.drying_physics import Air, Box, Slab, SlabInAir, drying_range
from flakeyard.models.inputs import checked

__all__ = ["Air", "Box", "Slab", "SlabResult", "dry", "dry_through", "drying_range", "hours_between"]

CHUNK = 512  # members solved together: more would leave the cache
SERIES = ("moisture", "centre", "surface", "temperature", "air_temperature", "air_humidity_ratio", "heater_energy")


@dataclass(frozen=True)
class SlabResult:
    """What happened to the pieces: arrays of the ensemble's shape, then the times; nan means "not followed so far".

    Moistures are kg water per kg of all dry matter, temperatures degC, the heater's energy J since the start (nan
    without a `Box`). `time_to_target` [s] has the ensemble's shape and is nan where the target is never reached.
    """

    times: np.ndarray
    moisture: np.ndarray
    surface: np.ndarray
    centre: np.ndarray
    temperature: np.ndarray
    air_temperature: np.ndarray
    air_humidity_ratio: np.ndarray
    heater_energy: np.ndarray
    time_to_target: np.ndarray
    dryer: SlabInAir

    @property
    def mass_ratio(self) -> np.ndarray:
        """Mass of the piece over its mass as loaded."""
        start = (self.dryer.start * self.dryer.solids_share).reshape(*self.dryer.shape, 1)
        return (1.0 + self.moisture) / (1.0 + start)

    def take(self, members) -> "SlabResult":
        """The same for some members of an ensemble of one axis."""
        named = {name: getattr(self, name)[members] for name in (*SERIES, "time_to_target")}
        return SlabResult(self.times, **named, dryer=self.dryer.take(members))

    @property
    def centre_water_activity(self) -> np.ndarray:
        """Water activity of the centre at its own temperature, or at 25 degC while it is cooler: the higher of both."""
        x_ff = self.centre.reshape(-1, len(self.times)) / self.dryer.solids_share
        warm = np.maximum(self.temperature.reshape(x_ff.shape), 25.0)
        return self.dryer.activity(x_ff, warm).reshape(self.centre.shape)


def dry(
    slab: Slab,
    air: Air | Box,
    times: np.ndarray,
    *,
    target: float | np.ndarray | None = None,
    stop: bool = False,
    nodes: int = 17,
    power: float = 1.5,
    tolerance: float = 6e-4,
    longest_step: float = 7200.0,
) -> SlabResult:
    """Dry pieces in air: moisture, temperature and air at the times asked, and when the target is reached.

    Parameters:
        slab : Slab – the pieces, scalars or one value a member
        air : Air or Box – what they dry in, likewise
        times : array – moments to report, rising, from the start of drying [s], allowed 0–1e8
        target : float or array – mean moisture to reach [kg water/kg dry matter], allowed 0 and above
        stop : bool – follow a member only as far as its target and the next moment reported after that step
        nodes : int – points through the drying thickness [-], allowed 5–1000
        power : float – how much finer they are near the surface; 1 is even [-], allowed 1–3
        tolerance : float – error allowed in one step, relative to 0.1 kg/kg plus the moisture [-], allowed 1e-9–0.1
        longest_step : float – [s], allowed 1–1e6
    Returns: SlabResult – arrays (members, times)
    Equation: dX/dt = d/dz (D(X, T) dX/dz); at the surface -rho_s D dX/dz = k (aw(X, T) ps(T) - p);
        C dT/dt = h (T_air - T) - (L + q) J
    Valid for: `drying_range`; numerically 0.3 % in moisture (95 of 100 wide draws; none above 1 %), 0.3 % in time
    Raises: ValueError when an input is impossible
    Source: crank_1975 (diffusion in a sheet); rang_angermann_2005 (time steps)
    """
    goal = np.asarray(-1.0) if target is None else checked("target", target)
    dryer, times = SlabInAir(slab, air, goal.shape), _rising(times)
    goal = np.broadcast_to(goal, dryer.shape).reshape(-1) / dryer.solids_share[:, 0]
    numerics = {
        "nodes": int(checked("nodes", nodes, 5, 1000)),
        "power": float(checked("power", power, 1.0, 3.0)),
        "tolerance": float(checked("tolerance", tolerance, 1e-9, 0.1)),
        "longest_step": float(checked("longest_step", longest_step, 1.0, 1e6)),
    }
    found, reached = np.empty((len(SERIES), goal.size, len(times))), np.empty(goal.size)
    for first in range(0, goal.size, CHUNK):
        some = slice(first, first + CHUNK)
        part = dryer if goal.size <= CHUNK else dryer.take(some)
        reached[some] = _fill(
            found[:, some], part, follow(part, times, goal[some], stop, **numerics), goal[some], times
        )
    named = {name: values.reshape(*dryer.shape, len(times)) for name, values in zip(SERIES, found, strict=True)}
    return SlabResult(times=times, **named, time_to_target=reached.reshape(dryer.shape), dryer=dryer)


def dry_through(
    slab: Slab,
    phases: Iterable[tuple[float, Box]],
    times: np.ndarray,
    enough: Callable[[SlabResult], bool] | None = None,
    *,
    nodes: int = 17,
    power: float = 1.5,
    tolerance: float = 6e-4,
    longest_step: float = 7200.0,
) -> SlabResult:
    """Dry pieces in air that changes: each box from its moment on, the pieces as the one before left them.

    Parameters:
        slab : Slab – the pieces, as in `dry`
        phases : pairs – from when on [s, rising, the first 0], and what they dry in
        times : array – moments to report, as in `dry`; each phase ends at one of them [s], allowed 0–1e8
        enough : function – asked at the end of each phase with all there is so far; True ends it there
        nodes : int – as in `dry` [-], allowed 5–1000
        power : float – as in `dry` [-], allowed 1–3
        tolerance : float – as in `dry` [-], allowed 1e-9–0.1
        longest_step : float – as in `dry` [s], allowed 1–1e6
    Returns: SlabResult – as of `dry`, without a time to a target; ``dryer`` is that of the first phase, and the energy is that
        of all phases so far
    Equation: as `dry`, with the air of the phase
    Valid for: as `dry`, each phase by itself; nobody has tested air that changes
    Raises: ValueError when an input is impossible
    Source: as `dry`
    """
    times, numerics = _rising(times), (nodes, power, tolerance, longest_step)
    parts: list[np.ndarray] = []
    state, energy, first = None, 0.0, None
    for begin, box, end in _spans(phases, times):
        dryer = SlabInAir(slab, box)
        first = first or dryer
        here = times[(times > begin if parts else times >= begin) & (times <= end)] - begin
        found, state = _of_phase(dryer, here, state, numerics)
        found[SERIES.index("heater_energy")] += energy
        energy = found[SERIES.index("heater_energy")][:, -1:]
        parts.append(found)
        so_far = np.concatenate(parts, axis=2)
        result = _result(times[: so_far.shape[2]], so_far, first)
        if enough is not None and enough(result):
            break
    return result


def _spans(phases: Iterable[tuple[float, Box]], times: np.ndarray) -> Iterator[tuple[float, Box, float]]:
    """Each phase with its begin and its end, until the times are out."""
    last = float(times[-1])
    told = [(begin, box) for begin, box in phases if begin < last]
    for (begin, box), end in zip(told, [*(begin for begin, _ in told[1:]), last], strict=True):
        yield begin, box, end


def _of_phase(dryer: SlabInAir, here: np.ndarray, state, numerics: tuple[int, float, float, float]):
    """The series of one phase (series, members, times), and the state at its end."""
    members = dryer.shape[0]
    found, last = np.empty((len(SERIES), members, len(here))), np.empty((members, numerics[0] + 1))
    for begin in range(0, members, CHUNK):
        some = slice(begin, begin + CHUNK)
        part, goal = dryer.take(some), np.full(len(last[some]), -1.0)
        track = follow(part, here, goal, False, *numerics, None if state is None else state[some])
        last[some] = track.last
        _fill(found[:, some], part, track, goal, here)
    return found, last


def _result(times, found, dryer: SlabInAir) -> SlabResult:
    named = dict(zip(SERIES, found, strict=True))
    return SlabResult(times=times, **named, time_to_target=np.full(dryer.shape, np.nan), dryer=dryer)


def hours_between(
    result: SlabResult,
    low: float,
    high: float,
    water_activity_above: float,
    until: float | np.ndarray | None = None,
    water_activity: np.ndarray | None = None,
) -> np.ndarray:
    """Hours the centre spends between two temperatures while its water activity is above a limit.

    The water activity is that of the centre's own moisture at its own temperature, at least 25 degC. Between the
    moments reported, temperature and water activity are straight lines.

    Parameters:
        result : SlabResult – of `dry`
        low : float – least temperature [degC]
        high : float – greatest temperature [degC]
        water_activity_above : float – limit that counts as moist [-], allowed 0–1
        until : float or array – moment the piece is taken off, one a member; left out: all the times [s]
        water_activity : array – of the centre at all the times, where it is known better; left out: `centre_water_activity`
            [-], allowed 0–1
    Returns: array – hours, the shape of the ensemble; nan where the piece was not followed that far
    Equation: sum of the time in which low <= T <= high and aw >= limit
    Valid for: as `dry`; a count for a growth clock, not a proof that nothing grew
    Raises: ValueError when the limit is impossible
    Source: judgement (the higher water activity, so that the count errs to the long side)
    """
    limit = checked("water_activity_above", water_activity_above, 0.0, 1.0)
    length = np.diff(result.times)
    last = np.inf if until is None else np.asarray(until, float)[..., None]
    taken_off = np.clip((last - result.times[:-1]) / length, 0.0, 1.0)
    warm_from, warm_to = _part_inside(result.temperature, low, high)
    moist = result.centre_water_activity if water_activity is None else np.asarray(water_activity, float)
    moist_from, moist_to = _part_inside(moist, limit, np.inf)
    part = np.minimum(np.minimum(warm_to, moist_to), taken_off) - np.maximum(warm_from, moist_from)
    return np.sum(np.where(taken_off == 0.0, 0.0, np.maximum(part, 0.0)) * length, axis=-1) / HOUR


def _rising(times):
    moments = np.atleast_1d(checked("times", times, 0.0, 1e8))
    if moments.ndim != 1 or np.any(np.diff(moments) <= 0.0) or moments[-1] <= 0.0:
        raise ValueError(say("input.rising", times=times))
    return moments


def _part_inside(values, low, high):
    """Where, from 0 to 1, straight lines between neighbouring values enter a window and leave it."""
    begin, change = values[..., :-1], np.diff(values, axis=-1)
    slope = np.where(np.abs(change) < 1e-12, 1e-12, change)
    one, other = np.clip((low - begin) / slope, 0.0, 1.0), np.clip((high - begin) / slope, 0.0, 1.0)
    return np.minimum(one, other), np.maximum(one, other)


def _fill(found, dryer, track, goal, times):
    """Put the series a result has, in the order of SERIES, where they belong; the moment of the goal comes back."""
    step = track.step_of(times)
    readings, after = track.at(step, times), times > track.end[:, None] * (1.0 + 1e-9)
    readings[after] = np.nan
    mean, centre, surface, piece = np.moveaxis(readings, -1, 0)
    for row, moisture in enumerate((mean, centre, surface)):
        np.multiply(moisture, dryer.solids_share, out=found[row])
    np.subtract(piece, KELVIN, out=found[3])
    air_temperature, found[5] = dryer.air_state(surface, piece)
    found[4] = air_temperature - KELVIN
    found[6] = _heater_energy(dryer, track, step, times, piece) if dryer.is_box else np.nan
    found[:, after] = np.nan
    return track.crossing(goal)


def _heater_energy(dryer, track, step, times, piece):
    """Energy drawn [J] up to each moment: Simpson's rule over whole steps, and over the part of a step that is left."""

    def drawn(within, begin, end, first, last):
        middle = track.at(within, 0.5 * (begin + end), 3)
        power = dryer.box_power(first) + 4.0 * dryer.box_power(middle) + dryer.box_power(last)
        return (end - begin) / 6.0 * power

    time, kelvin = track.time, track.readings[:, :, 3]
    steps = np.arange(time.shape[1] - 1)
    whole = drawn(steps, time[:, :-1], time[:, 1:], kelvin[:, :-1], kelvin[:, 1:])
    before = np.pad(np.cumsum(whole, axis=1), ((0, 0), (1, 0)))[track.member, step]
    part = drawn(step, time[track.member, step], times, kelvin[track.member, step], piece)
    most = np.pad(whole, ((0, 0), (0, 1)), constant_values=np.inf)[
        track.member, step
    ]  # no part draws more than its step
    return np.maximum.accumulate(before + np.minimum(part, most), axis=-1)
