"""How a drying slab is followed in time: the nodes, the linear systems, the steps, and what is kept of them.

1. Nodes at 1 - (1 - u)^1.5 of the drying thickness, u even from 0 (middle, or closed face) to 1 (surface). Between
   two nodes the diffusivity is averaged by Simpson's rule, (left + 4 middle + right) / 6: the plain mean is three
   times worse, the harmonic mean ten times. What one layer loses the next one gains, so water is kept exactly.
2. The unknowns of a member are the moistures of its nodes and, as the last link of the same chain, its temperature.
   Members stand end to end with no link between them: one tridiagonal system serves one piece or a thousand.
3. Time steps by ROS34PW2, a linearly implicit method of third order that damps stiff parts entirely and keeps its
   order when the Jacobian is not exact. So the Jacobian may leave out what would spoil the chain (temperature acting
   on the diffusivity inside) and take the diffusivity itself for the slope of a flux: any smooth law can replace
   D(x) or the isotherm, and no derivative of it is ever written. Four solves with one factorisation, no iteration.
4. Every member has its own step length. One whose error estimate is too large repeats its step alone.
5. Within a step moisture and temperature follow the method's own cubic, which stays calm where the surface is stiff
   (a curve through the rates at both ends does not). Drying times are read off the cubic of the mean moisture.
"""

import importlib.util
import sys
from importlib.machinery import PathFinder
from types import ModuleType

import numpy as np
import scipy

from flakeyard.messages import say


def _lapack() -> ModuleType:
    """LAPACK by itself: all of scipy.linalg, of which nothing else is used here, takes longer to load than a fish to salt.

    What is loaded so is what scipy.linalg itself would load, and what it takes up when it is loaded later.
    """
    name = "scipy.linalg._flapack"
    found = PathFinder.find_spec(name, [f"{place}/linalg" for place in scipy.__path__])
    if name in sys.modules or "scipy.linalg" in sys.modules or found is None or found.loader is None:
        from scipy.linalg import lapack

        return lapack
    made = importlib.util.module_from_spec(found)
    found.loader.exec_module(made)
    sys.modules[name] = made
    return made


_LAPACK = _lapack()
dgttrf, dgttrs = _LAPACK.dgttrf, _LAPACK.dgttrs
FIRST_STEP = 60.0  # s
STEP_LIMIT = 20_000
WORST = 91.0  # error, in tolerances, that shrinks a step to a fifth: the most
KEEP, FEW = 0.75, 8  # members that are through go along until they are more than a quarter and these few
FLOOR, CEILING = (1e-6, 200.0), (1e3, 450.0)  # of trial states: moisture [kg/kg], temperature [K]
# Slopes at the surface are taken over 2 % of the moisture, drier and wetter, and 1e-3 K warmer. The steeper of the
# first two counts: at the corners of the salt plateau one side is level, and steps that know of the steep side need
# not creep round the corner (a hundred steps in place of thousands, where a little salt makes the plateau short)
PROBE_MOISTURE, PROBE_TEMPERATURE = 0.02, 1e-3
_MOISTURES = np.array([[1.0], [1.0 - PROBE_MOISTURE], [1.0 + PROBE_MOISTURE], [1.0]])  # itself, drier, wetter, warmer
_WARMTHS = np.array([[0.0], [0.0], [0.0], [PROBE_TEMPERATURE]])
ERROR_MOISTURE, ERROR_TEMPERATURE = 0.1, 300.0  # kg/kg added to the moisture, and K, that errors are measured by

# ROS34PW2 (rang_angermann_2005): sums for the stages, for the step, for its embedded second, and inside a step
_STAGES = np.zeros((4, 4))
_STAGES[1, 0], _STAGES[3, 2] = 8.7173304301691801e-1, 1.0
_STAGES[2, :2] = 8.4457060015369423e-1, -1.1299064236484185e-1
GAMMA = 4.3586652150845900e-1
_GAMMAS = GAMMA * np.eye(4)
_GAMMAS[1, 0], _GAMMAS[2, :2] = -8.7173304301691801e-1, (-9.0338057013044082e-1, 5.4180672388095326e-2)
_GAMMAS[3, :3] = 2.4212380706095346e-1, -1.2232505839045147, 5.4526025533510214e-1
_STEP = np.array([2.4212380706095346e-1, -1.2232505839045147, 1.5452602553351020, GAMMA])
_EMBEDDED = np.array([3.7810903145819369e-1, -9.6042292212423178e-2, 0.5, 2.1793326075422950e-1])
_WITHIN = np.array(  # rows: first, second and third power of the part of the step that has passed (petsc_rosw)
    [
        [1.0564298455794094, 2.296429974281067, -1.307599564525376, -1.045260255335102],
        [-1.3864882699759573, -8.262611700275677, 7.250979895056055, 2.398120075195581],
        [0.5721822314575016, 4.742931142090097, -4.398120075195578, -0.9169932983520199],
    ]
)
# The same sums over stages scaled so that no product with the Jacobian is needed (hairer_wanner, section IV.7)
_SCALED = np.linalg.inv(_GAMMAS)
STAGES, STEP, ERROR, WITHIN = (sums @ _SCALED for sums in (_STAGES, _STEP, _STEP - _EMBEDDED, _WITHIN))
SUMS = [
    np.stack((stage[:i], coupling[:i])) for i, (stage, coupling) in enumerate(zip(STAGES, np.eye(4) / GAMMA - _SCALED))
]


class Unsolved(RuntimeError):
    """No step of the solver is small enough: bone-dry pieces, or air that nobody has."""


class Chain:
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
        self.dryer, self.face, self.probes = dryer, dryer.in_rows(1), dryer.in_rows(4)
        self.flux = np.zeros((len(dryer.start), self.nodes + 1))  # into each node from its right, none into the middle
        self.lower, self.diagonal, self.upper = np.zeros((3, *self.flux.shape))

    def take(self, members):
        """Go on with some of the members only."""
        self._set(self.dryer.take(members))

    def start(self):
        """The state as loaded: the same moisture everywhere."""
        return np.hstack((np.repeat(self.dryer.start, self.nodes, axis=1), self.dryer.start_temperature))

    def rates(self, state, slopes=False):
        """Rate of change of a state; with slopes the three bands of minus the Jacobian are set as well."""
        nodes, moisture, temperature = self.nodes, state[:, : self.nodes], state[:, self.nodes].copy()
        rise = moisture[:, 1:] - moisture[:, :-1]
        slowing = self.dryer.slowing(np.concatenate((moisture, moisture[:, :-1] + 0.5 * rise), axis=1))
        warmth = self.face.warmth(temperature)[:, None]
        face = 4.0 * slowing[:, nodes:]
        face += slowing[:, : nodes - 1]
        face += slowing[:, 1:nodes]
        face *= rise
        np.multiply(face, warmth * self.per_gap, out=self.flux[:, 1:nodes])
        leaving, heating = self._surface(moisture, temperature, slopes)  # first of one or four: at the state itself
        np.negative(leaving[0], out=self.flux[:, nodes])
        rate = np.empty_like(state)
        inside = np.subtract(self.flux[:, 1:], self.flux[:, :-1], out=rate[:, :nodes])
        inside *= self.per_width
        rate[:, nodes] = heating[0]
        if slopes:
            self._jacobian(slowing[:, :nodes] * warmth, moisture[:, -1], leaving, heating)
        return rate

    def _surface(self, moisture, temperature, slopes):
        """Fall of the mean moisture [1/s] and warming [K/s]; with slopes also a little drier and a little warmer."""
        face, surface, mean = self.face, moisture[:, -1].copy(), moisture.dot(self.width)
        if slopes:
            face, mean = self.probes, np.concatenate((mean, mean, mean, mean))
            surface, temperature = (_MOISTURES * surface).ravel(), (_WARMTHS + temperature).ravel()
        leaving, heat = face.surface(surface, temperature, mean)
        leaving /= face.solids_per_area
        heat /= face.heat_capacity(mean)
        return leaving.reshape(-1, len(moisture)), heat.reshape(-1, len(moisture))

    def _jacobian(self, diffusion, surface, leaving, heating):
        nodes, last = self.nodes, self.per_width[-1]
        moister, warmer = 1.0 / (PROBE_MOISTURE * surface), 1.0 / PROBE_TEMPERATURE
        drier, wetter = leaving[0] - leaving[1], leaving[2] - leaving[0]
        np.multiply(diffusion[:, :-1], self.to_after, out=self.lower[:, 1:nodes])
        np.multiply(diffusion[:, 1:], self.to_before, out=self.upper[:, : nodes - 1])
        np.multiply(diffusion, self.to_itself, out=self.diagonal[:, :nodes])
        self.diagonal[:, nodes - 1] += np.maximum(drier, wetter) * moister * last
        self.upper[:, nodes - 1] = (leaving[3] - leaving[0]) * (warmer * last)
        self.lower[:, nodes] = np.where(wetter > drier, heating[0] - heating[2], heating[1] - heating[0]) * moister
        self.diagonal[:, nodes] = (heating[0] - heating[3]) * warmer

    def advance(self, state, rate, length):
        """State after a step of each member's own length, the cubic of its readings on the way, and its error."""
        shape, per_length = state.shape, 1.0 / length
        diagonal = self.diagonal + per_length / GAMMA
        factors = dgttrf(self.lower.ravel()[1:], diagonal.ravel(), self.upper.ravel()[:-1], overwrite_d=True)[:5]
        stages = np.empty((4, state.size))
        for i in range(4):
            if i:
                trial, coupling = SUMS[i].dot(stages[:i]).reshape(2, *shape)
                trial += state
                rate = self.rates(np.fmin(np.fmax(trial, self.floor), self.ceiling))  # also of what is not a number
                coupling *= per_length
                rate += coupling
            stages[i] = dgttrs(*factors, rate.ravel())[0]
        after = state + STEP.dot(stages).reshape(shape)
        error = ERROR.dot(stages).reshape(shape)
        error[:, :-1] /= ERROR_MOISTURE + np.maximum(state, after)[:, :-1]
        cubic = WITHIN.dot(stages.reshape(-1, shape[1]).dot(self.readout).reshape(4, -1)).reshape(3, -1, 4)
        return after, cubic, np.sqrt((error * error).dot(self.error_weight))


class Track:
    """The steps that were taken, of all members: when each began, the four readings then, and their cubics; and the state
    in which each came to its end (members, nodes and temperature), where it was asked for."""

    def __init__(self, time, readings, end):
        self.end, self.last = end, None
        self.time, self.readings, self.cubics = [time], [readings], []

    def add(self, members, time, readings, cubic):
        """Note where some members are now and how they came there; the others stay where they were."""
        if len(members) < len(self.time[0]):
            whole = self.time[-1].copy(), self.readings[-1].copy(), np.zeros((3, len(self.time[0]), 4))
            whole[0][members], whole[1][members], whole[2][:, members] = time, readings, cubic
            time, readings, cubic = whole
        self.time.append(time)
        self.readings.append(readings)
        self.cubics.append(cubic)

    def close(self):
        """Turn lists by step into arrays by member and step."""
        self.time, self.readings = np.stack(self.time, axis=1), np.stack(self.readings, axis=1)
        self.cubics = np.stack(self.cubics, axis=2)
        self.member = np.arange(len(self.time))[:, None]
        return self

    def step_of(self, times):
        """Index (members, times) of the step that each moment lies in."""
        steps = self.time.shape[1]
        lift = 2.0 * (self.time.max() + times[-1] + 1.0) * self.member  # all members on one rising line: one search
        found = np.searchsorted((self.time + lift).ravel(), (times + lift).ravel(), side="right")
        return np.clip(found.reshape(len(self.time), -1) - 1 - steps * self.member, 0, steps - 2)

    def at(self, step, times, which=slice(None)):
        """Readings (members, times, those asked for: all four) at moments inside known steps."""
        begin = self.time[self.member, step]
        length = self.time[self.member, step + 1] - begin
        part = (times - begin) / np.where(length > 0.0, length, 1.0)
        part = part if isinstance(which, int) else part[..., None]
        first, second, third = (cubic[self.member, step] for cubic in self.cubics[..., which])
        return self.readings[self.member, step, which] + part * (first + part * (second + part * third))

    def crossing(self, goal):
        """Moment (members,) at which the mean first comes down to a goal; nan where it never does."""
        below = self.readings[:, :, 0] <= goal[:, None]
        after, member = below.argmax(axis=1), self.member[:, 0]
        step = np.maximum(after - 1, 0)
        begin, mean, (first, second, third) = (
            self.time[member, step], self.readings[member, step, 0], self.cubics[:, member, step, 0],
        )  # fmt: skip
        low, high = np.zeros((2, len(goal)))
        high[after > 0] = 1.0  # parts of the step
        for _ in range(30 if below.any() else 0):  # halving: leaves 1e-9 of a step
            middle = 0.5 * (low + high)
            above = mean + middle * (first + middle * (second + middle * third)) > goal
            low, high = np.where(above, middle, low), np.where(above, high, middle)
        moment = begin + high * (self.time[member, after] - begin)
        return np.where(below.any(axis=1) & (moment <= self.end), moment, np.nan)


def follow(dryer, times, goal, stop, nodes, power, tolerance, longest_step, start=None):
    """Solve the members from zero to the last of the times, or to the first after their goal, and keep the track.

    Parameters:
        dryer : SlabInAir – the pieces and their air
        times : array – moments that will be asked for, rising [s]
        goal : array – mean moisture to reach, of each member [kg/kg fat-free salt-free solids]
        stop : bool – whether to stop at the first of the times after the goal
        nodes, power, tolerance, longest_step : as in `slab_drying.dry`
        start : array – state to begin with, as a track's ``last``; left out: as loaded [kg/kg, K]
    Returns: Track – the steps taken
    Raises: Unsolved when the end is not reached in STEP_LIMIT steps
    Source: rang_angermann_2005
    """
    chain = Chain(dryer, nodes, power)
    state, members = chain.start() if start is None else start.copy(), np.arange(len(goal))
    rate = chain.rates(state, slopes=True)
    time, length, end = np.zeros(len(goal)), np.full(len(goal), FIRST_STEP), np.full(len(goal), times[-1])
    track = Track(time, state.dot(chain.readout), end.copy())
    track.last = np.full(state.shape, np.nan)
    for _ in range(STEP_LIMIT):
        left = end - time
        length = np.minimum(np.minimum(length, longest_step), np.where(left > 0.0, left, np.inf))
        after, cubic, error = chain.advance(state, rate, length[:, None])
        sound = (error < WORST * tolerance) & (after.min(axis=1) > 0.0)  # a number, and no moisture below zero
        error = np.where(sound, error / tolerance, WORST)
        refused = error > 1.0
        time = np.where(refused, time, time + length)
        after[refused] = state[refused]
        length = length * np.minimum(0.9 * np.maximum(error, 1e-6) ** (-1 / 3), np.where(refused, 0.7, 6.0))
        state, rate, readings = after, chain.rates(after, slopes=True), after.dot(chain.readout)
        track.add(members, time, readings, cubic)
        if stop:
            reached = times[times.searchsorted(time).clip(max=times.size - 1)]
            end = np.where(readings[:, 0] <= goal[members], np.minimum(end, reached), end)
        going = time < end * (1.0 - 1e-12)
        here = members[~going & np.isnan(track.last[members, 0])]
        if here.size:
            track.last[here] = state[np.isin(members, here)]
        if going.sum() < max(KEEP * going.size - FEW, 1.0):
            track.end[members] = end
            if not going.any():
                return track.close()
            members, state, time, length, end = (kept[going] for kept in (members, state, time, length, end))
            chain.take(going)
            rate = chain.rates(state, slopes=True)
    raise Unsolved(say("input.no_end", steps=STEP_LIMIT))
