"""Drying of a slab of fish: moisture inside, temperature, time to a target, for a whole ensemble of pieces at once.

The piece is cut into thin layers, finest near the surface that dries. Water moves between layers by Fick's law with
a diffusivity that falls as the flesh dries; at the surface it leaves through the air film, held back by the water
activity there; the piece as a whole has one temperature, warmed by the air and cooled by evaporation.

How it is solved:

1. Nodes at xi = 1 - (1 - u)^1.5 of the drying half thickness, u even from 0 (middle, or closed face) to 1 (surface).
   Between two nodes the diffusivity is averaged by Simpson's rule, (left + 4 middle + right) / 6; plain or harmonic
   means are ten times worse. What one layer loses the next one gains, so the water lost is exactly the water given off.
2. The unknowns of a member are its node moistures and, as the last link of the same chain, its temperature. Members
   stand end to end, with no link between them: one tridiagonal system serves one piece or ten thousand.
3. Time: ROS34PW2, a linearly implicit method of third order that damps stiff parts completely and keeps its order
   when the Jacobian is not exact. So the Jacobian may leave out what would spoil the chain (the influence of the
   temperature on the diffusivity inside) and use the diffusivity itself for the slope of a flux: any smooth law may
   replace D(X) or the isotherm without a derivative being written. No iteration; four solves a step.
4. Every member has its own step size. A member whose error estimate is too large repeats its step alone.
5. Between steps, moisture and temperature are cubic Hermite curves; the drying time is read off the mean's curve.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg.lapack import dgttrf, dgttrs

from flakeyard.models.drying_physics import KELVIN, Air, Box, Dryer, Slab
from flakeyard.models.inputs import checked

__all__ = ["Air", "Box", "Slab", "SlabResult", "dry", "hours_between"]

NODES, POWER = 17, 1.5
TOLERANCE = 3e-3
LONGEST_STEP, FIRST_STEP = 7200.0, 5.0  # s
CHUNK = 512  # members solved together, so that their arrays stay in the cache
FLOOR, CEILING = (1e-6, 200.0), (1e3, 450.0)  # of trial states: moisture [kg/kg], temperature [K]
PROBE = np.array([[0.0, 1e-6, 0.0]]), np.array([[0.0, 0.0, 1e-3]])  # part of the moisture, K: for surface slopes
ERROR_OFFSET, ERROR_TEMPERATURE = 0.1, 100.0  # kg/kg and K against which errors are weighed
STEP_LIMIT = 20_000

# ROS34PW2 (Rang and Angermann 2005, BIT 45, 761-787): stage weights alpha, gamma; step weights and their second set
GAMMA = 4.3586652150845900e-1
_ALPHA = np.zeros((4, 4))
_ALPHA[1, 0], _ALPHA[2, :2], _ALPHA[3, 2] = 8.7173304301691801e-1, (8.4457060015369423e-1, -1.1299064236484185e-1), 1.0
_GAMMAS = GAMMA * np.eye(4)
_GAMMAS[1, 0], _GAMMAS[2, :2] = -8.7173304301691801e-1, (-9.0338057013044082e-1, 5.4180672388095326e-2)
_GAMMAS[3, :3] = 2.4212380706095346e-1, -1.2232505839045147, 5.4526025533510214e-1
_WEIGHTS = np.array([2.4212380706095346e-1, -1.2232505839045147, 1.5452602553351020, GAMMA])
_SECOND = np.array([3.7810903145819369e-1, -9.6042292212423178e-2, 0.5, 2.1793326075422950e-1])
# The same method with stages scaled so that no product with the Jacobian is needed (Hairer and Wanner, IV.7)
_INVERSE = np.linalg.inv(_GAMMAS)
STAGE = _ALPHA @ _INVERSE
COUPLING = np.eye(4) / GAMMA - _INVERSE
STEP = _WEIGHTS @ _INVERSE
ERROR = STEP - _SECOND @ _INVERSE


@dataclass(frozen=True)
class SlabResult:
    """What happened to the pieces: arrays of the ensemble's shape, then the times; nan is "not computed"."""

    times: np.ndarray
    moisture: np.ndarray
    surface: np.ndarray
    centre: np.ndarray
    temperature: np.ndarray
    air_temperature: np.ndarray
    air_humidity_ratio: np.ndarray
    heater_energy: np.ndarray
    time_to_target: np.ndarray
    dryer: Dryer

    @property
    def mass_ratio(self) -> np.ndarray:
        """Mass of the piece over its mass as loaded."""
        start = (self.dryer.start * self.dryer.solids_share).reshape(*self.dryer.shape, 1)
        return (1.0 + self.moisture) / (1.0 + start)

    def centre_water_activity(self) -> np.ndarray:
        """Water activity of the centre at its own temperature, or at 25 degC while it is cooler (the higher of both)."""
        x_ff = self.centre.reshape(-1, len(self.times)) / self.dryer.solids_share
        warm = np.maximum(self.temperature.reshape(x_ff.shape), 25.0)
        return self.dryer.isotherm.water_activity(x_ff, warm).reshape(self.centre.shape)


class _Chain:
    """All members end to end: per member its nodes from the middle to the surface, then its temperature."""

    def __init__(self, dryer, nodes, power):
        self.nodes = nodes
        place = 1.0 - (1.0 - np.linspace(0.0, 1.0, nodes)) ** power
        self.width = np.diff(0.5 * (place[1:] + place[:-1]), prepend=0.0, append=1.0)
        self.per_width, per_gap = 1.0 / self.width, 1.0 / np.diff(place)
        self.per_gap = per_gap / 6.0  # with the sixth of Simpson's rule
        self.to_after, self.to_before = -per_gap * self.per_width[1:], -per_gap * self.per_width[:-1]
        self.to_itself = (np.append(0.0, per_gap) + np.append(per_gap, 0.0)) * self.per_width
        self.readout = np.zeros((nodes + 1, 4))  # mean, centre, surface and temperature of a state
        self.readout[:nodes, 0] = self.width
        self.readout[[0, nodes - 1, nodes], [1, 2, 3]] = 1.0
        self.floor, self.ceiling = (np.append(np.full(nodes, x), t) for x, t in (FLOOR, CEILING))
        self.error_weight = np.append(self.width, ERROR_TEMPERATURE**-2)
        self._set(dryer)

    def _set(self, dryer):
        self.dryer = dryer
        self.flux = np.zeros((len(dryer.start), self.nodes + 1))
        self.lower, self.diagonal, self.upper = np.zeros((3, *self.flux.shape))

    def take(self, members):
        """Go on with some of the members only."""
        self._set(self.dryer.take(members))

    def start(self):
        """The state as loaded: the same moisture everywhere."""
        return np.hstack((np.repeat(self.dryer.start, self.nodes, axis=1), self.dryer.start_temperature))

    def rates(self, state, slopes=False):
        """Rate of change of a state; with slopes the three bands of minus the Jacobian are set as well."""
        nodes, moisture, temperature = self.nodes, state[:, : self.nodes], state[:, self.nodes :]
        step = moisture[:, 1:] - moisture[:, :-1]
        slowing = self.dryer.slowing(np.concatenate((moisture, moisture[:, :-1] + 0.5 * step), axis=1))
        warmth = self.dryer.warmth(temperature)
        face = 4.0 * slowing[:, nodes:]
        face += slowing[:, : nodes - 1]
        face += slowing[:, 1:nodes]
        face *= step
        np.multiply(face, warmth * self.per_gap, out=self.flux[:, 1:nodes])
        leaving, heat = self._surface(moisture, temperature, slopes)
        np.negative(leaving[:, 0], out=self.flux[:, nodes])
        rate = np.empty_like(state)
        inside = np.subtract(self.flux[:, 1:], self.flux[:, :-1], out=rate[:, :nodes])
        inside *= self.per_width
        rate[:, nodes] = heat[:, 0]
        if slopes:
            self._jacobian(slowing[:, :nodes] * warmth, moisture[:, -1], leaving, heat)
        return rate

    def _surface(self, moisture, temperature, slopes):
        """Mean moisture lost [1/s] and warming [K/s]; with slopes also a little moister and a little warmer."""
        surface = moisture[:, -1:]
        capacity = self.dryer.heat_capacity(moisture.dot(self.width)[:, None])
        if slopes:
            surface, temperature = surface + surface * PROBE[0], temperature + PROBE[1]
        leaving, heat = self.dryer.surface(surface, temperature)
        return leaving / self.dryer.solids_per_area, heat / capacity

    def _jacobian(self, diffusion, surface, leaving, heat):
        nodes, last = self.nodes, self.per_width[-1]
        moister, warmer = 1.0 / (PROBE[0][0, 1] * surface), 1.0 / PROBE[1][0, 2]
        np.multiply(diffusion[:, :-1], self.to_after, out=self.lower[:, 1:nodes])
        np.multiply(diffusion[:, 1:], self.to_before, out=self.upper[:, : nodes - 1])
        np.multiply(diffusion, self.to_itself, out=self.diagonal[:, :nodes])
        self.diagonal[:, nodes - 1] += (leaving[:, 1] - leaving[:, 0]) * moister * last
        self.upper[:, nodes - 1] = (leaving[:, 2] - leaving[:, 0]) * (warmer * last)
        self.lower[:, nodes] = (heat[:, 0] - heat[:, 1]) * moister
        self.diagonal[:, nodes] = (heat[:, 0] - heat[:, 2]) * warmer

    def advance(self, state, rate, step):
        """State after a step of each member's own length, and its error as a multiple of 1 (not of the tolerance)."""
        factors = dgttrf(
            self.lower.ravel()[1:], (self.diagonal + 1.0 / (GAMMA * step)).ravel(), self.upper.ravel()[:-1]
        )[:5]
        stages = np.empty((4, state.size))
        per_step = 1.0 / step
        for i in range(4):
            if i:
                trial = state + STAGE[i, :i].dot(stages[:i]).reshape(state.shape)
                np.maximum(trial, self.floor, out=trial)
                np.minimum(trial, self.ceiling, out=trial)
                rate = self.rates(trial)
                rate += COUPLING[i, :i].dot(stages[:i]).reshape(state.shape) * per_step
            stages[i] = dgttrs(*factors, rate.ravel())[0]
        after = state + STEP.dot(stages).reshape(state.shape)
        error = ERROR.dot(stages).reshape(state.shape)
        error[:, :-1] /= ERROR_OFFSET + np.maximum(state, after)[:, :-1]
        return after, np.sqrt((error * error).dot(self.error_weight))


class _Track:
    """The steps taken, kept for all members: times, the four readings and their rates."""

    def __init__(self, time, readings, rates):
        self.time, self.readings, self.rates = [time], [readings], [rates]

    def add(self, members, *news):
        """Note where the given members are now; the others stay where they were."""
        for kept, new in zip((self.time, self.readings, self.rates), news):
            if len(new) < len(kept[0]):
                full = kept[-1].copy()
                full[members] = new
                new = full
            kept.append(new)

    def close(self):
        """Arrays (members, steps) and (members, steps, 4)."""
        self.time, self.readings, self.rates = (np.stack(kept, 1) for kept in (self.time, self.readings, self.rates))

    def at(self, times):
        """Readings (members, times, 4) by cubic Hermite curves; nan after a member's last step."""
        values = self.between(np.arange(len(self.time))[:, None], self.step_of(times), times)
        values[times > self.time[:, -1:] * (1.0 + 1e-12)] = np.nan
        return values

    def step_of(self, times):
        """Index (members, times) of the step each time lies in."""
        members, steps = self.time.shape
        row = np.arange(members)[:, None]
        lift = 2.0 * (max(times[-1], self.time.max()) + 1.0) * row  # puts all members on one rising line
        found = np.searchsorted((self.time + lift).ravel(), (times + lift).ravel(), side="right")
        return np.clip(found.reshape(members, -1) - 1 - steps * row, 0, steps - 2)

    def between(self, member, index, times):
        """Readings of members at times inside the steps that begin at an index."""
        begin = self.time[member, index]
        length = self.time[member, index + 1] - begin
        part = ((times - begin) / np.where(length > 0.0, length, 1.0))[..., None]
        (left, right), (d_left, d_right) = (
            (v[member, index], v[member, index + 1]) for v in (self.readings, self.rates)
        )
        change, length = right - left, length[..., None]
        bend = (1.0 - part) * (length * d_left - change) - part * (length * d_right - change)
        return left + part * (change + (1.0 - part) * bend)

    def crossing(self, target):
        """Time at which the mean first comes down to a target (members,); nan if it never does."""
        mean = self.readings[:, :, 0]
        below = mean <= target[:, None]
        after = below.argmax(axis=1)
        member = np.arange(len(mean))
        index = np.maximum(after - 1, 0)
        low, high = self.time[member, index], self.time[member, np.minimum(index + 1, mean.shape[1] - 1)]
        for _ in range(40):  # halving: 40 times leaves 1e-12 of a step
            middle = 0.5 * (low + high)
            above = self.between(member, index, middle)[:, 0] > target
            low, high = np.where(above, middle, low), np.where(above, high, middle)
        return np.where(below.any(axis=1), np.where(after > 0, high, 0.0), np.nan)


def _follow(dryer, end, target, stop, nodes, power, tolerance, longest_step):
    """Solve some members from zero to the end time and keep the track."""
    chain = _Chain(dryer, nodes, power)
    state = chain.start()
    rate = chain.rates(state, slopes=True)
    members = np.arange(len(state))
    time, step = np.zeros(len(state)), np.full(len(state), FIRST_STEP)
    track = _Track(time, state.dot(chain.readout), rate.dot(chain.readout))
    for _ in range(STEP_LIMIT):
        step = np.minimum(np.minimum(step, longest_step), end - time)
        after, error = chain.advance(state, rate, step[:, None])
        error /= tolerance
        error[~(error < 1e3)] = 1e3
        refused = error > 1.0
        time = time + step
        if refused.any():
            after[refused] = state[refused]
            time[refused] -= step[refused]
        step = step * np.clip(0.9 * np.maximum(error, 1e-6) ** (-1 / 3), 0.2, 6.0)
        state = after
        rate = chain.rates(state, slopes=True)
        readings = state.dot(chain.readout)
        track.add(members, time, readings, rate.dot(chain.readout))
        going = time < end * (1.0 - 1e-12)
        if stop:
            going &= readings[:, 0] > target[members]
        if not going.all():
            if not going.any():
                track.close()
                return track
            members, state, rate, time, step = (v[going] for v in (members, state, rate, time, step))
            chain.take(going)
            chain.rates(state, slopes=True)
    raise RuntimeError(f"no solution after {STEP_LIMIT} steps")


def dry(
    slab: Slab,
    air: Air | Box,
    times,
    *,
    target=None,
    stop: bool = False,
    nodes: int = NODES,
    power: float = POWER,
    tolerance: float = TOLERANCE,
    longest_step: float = LONGEST_STEP,
) -> SlabResult:
    """Dry pieces in air and give moisture and temperature at the times asked, and when the target is met."""
    dryer, times = Dryer(slab, air), np.atleast_1d(checked("times", times))
    members = len(dryer.start)
    goal = np.full(members, -1.0)
    if target is not None:
        goal = np.broadcast_to(checked("target", target), dryer.shape).reshape(-1) / dryer.solids_share[:, 0]
    parts = []
    for first in range(0, members, CHUNK):
        part = slice(first, first + CHUNK)
        some = dryer.take(part) if members > CHUNK else dryer
        track = _follow(some, times[-1], goal[part], stop, nodes, power, tolerance, longest_step)
        parts.append(_report(some, track, times, goal[part]))
    mean, centre, surface, piece, air_temperature, ratio, energy, hit = map(np.concatenate, zip(*parts))
    full = (*dryer.shape, len(times))
    share = dryer.solids_share
    return SlabResult(
        times=times,
        moisture=(mean * share).reshape(full),
        surface=(surface * share).reshape(full),
        centre=(centre * share).reshape(full),
        temperature=(piece - KELVIN).reshape(full),
        air_temperature=(air_temperature - KELVIN).reshape(full),
        air_humidity_ratio=ratio.reshape(full),
        heater_energy=energy.reshape(full),
        time_to_target=hit.reshape(dryer.shape),
        dryer=dryer,
    )


def _report(dryer, track, times, goal):
    """Readings, air and heater energy at the times, and the time of the goal."""
    readings = track.at(times)
    mean, centre, surface, piece = np.moveaxis(readings, -1, 0)
    air_temperature, ratio = dryer.air_state(surface, piece)
    energy = _heater_energy(dryer, track, times) if dryer.is_box else np.full_like(mean, np.nan)
    return mean, centre, surface, piece, air_temperature, ratio, energy, track.crossing(goal)


def _heater_energy(dryer, track, times):
    """Energy drawn [J] up to each time: Simpson's rule over the steps, and over the part of a step up to the time."""
    member, steps = np.arange(len(track.time))[:, None], np.arange(track.time.shape[1] - 1)

    def simpson(index, begin, end):
        instants = (begin, 0.5 * (begin + end), end)
        power = [dryer.box_heat(track.between(member, index, instant)[..., 3]) for instant in instants]
        return (end - begin) * (power[0] + 4.0 * power[1] + power[2]) / 6.0

    whole = np.cumsum(simpson(steps, track.time[:, :-1], track.time[:, 1:]), axis=1)
    index = track.step_of(times)
    before = np.take_along_axis(np.pad(whole, ((0, 0), (1, 0))), index, axis=1)
    return before + simpson(index, track.time[member, index], times)


def hours_between(result: SlabResult, low, high, water_activity_above=0.85, until=None) -> np.ndarray:
    """Hours the centre spends in a temperature window while its water activity is above a limit."""
    water_activity = result.centre_water_activity()
    windows = ((result.temperature, low, high), (water_activity, water_activity_above, np.inf))
    (enter, leave), (wet_from, wet_to) = (_inside(values, *window) for values, *window in windows)
    length = np.diff(result.times)
    last = np.inf if until is None else np.asarray(until, float)[..., None]
    share = np.clip((last - result.times[:-1]) / length, 0.0, 1.0)
    overlap = np.minimum(np.minimum(leave, wet_to), share) - np.maximum(enter, wet_from)
    return np.sum(np.maximum(overlap, 0.0) * length, axis=-1) / 3600.0


def _inside(values, low, high):
    """Where, from 0 to 1, straight lines between neighbouring values enter and leave a window."""
    begin, change = values[..., :-1], np.diff(values, axis=-1)
    slope = np.where(np.abs(change) > 1e-12, change, 1e-12)
    ends = np.stack(((low - begin) / slope, (high - begin) / slope))
    return np.clip(ends.min(axis=0), 0.0, 1.0), np.clip(ends.max(axis=0), 0.0, 1.0)
