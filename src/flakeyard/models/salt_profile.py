"""A piece of fish with a profile of salt in its water: any chain of soaks, rests and dry cures.

The profile of a slab (thickness) or a strip (thickness and width) is kept on a few Gauss-Lobatto nodes. With its faces
held, or closed, it falls into modes that each decay by themselves, so time needs no steps. A finite bath couples the
modes; that small system is solved in the Laplace transform, which a short contour in the complex plane turns back.
Shapes follow the pieces: (classes, members) or anything that broadcasts.
"""

from dataclasses import dataclass, replace
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.polynomial import legendre

from flakeyard.messages import say
from flakeyard.models.inputs import checked

_SLAB_NODES, _STRIP_NODES = 20, (16, 16)


def plain(value):
    """A float instead of a 0-d array; anything larger as it is.

    Parameters:
        value : float or array – numbers [any]
    Returns: float or array – the same numbers
    """
    return value[()] if np.ndim(value) == 0 else value


def checked_or_endless(name, value, low):
    """The value as an array of floats where infinity is a fair answer, or a ValueError as `checked` gives it.

    Parameters:
        name : str – the parameter as the caller knows it
        value : float or array – what was given [any]
        low : float – least possible value [as value]
    Returns: array – the same numbers
    Raises: ValueError when a number is below `low` or not a number
    """
    numbers = np.asarray(value, dtype=float)
    checked(name, np.where(np.isposinf(numbers), low, numbers), low)
    return numbers


def bath_share(bath_ratio):
    """Flesh water per bath water, 0 for an unlimited bath.

    Parameters:
        bath_ratio : float or array – bath water per flesh water [kg/kg], allowed above 0, inf for an unlimited bath
    Returns: float or array – its inverse [kg/kg]
    Raises: ValueError when bath_ratio is not above 0
    """
    return 1.0 / checked_or_endless("bath_ratio", bath_ratio, 1e-6)


def diffusion_depth(thickness, faces):
    """Way that salt has to go: half the thickness with two open faces, all of it with one.

    Parameters:
        thickness : float or array – thickness of the piece [m], allowed above 0
        faces : int or array – open faces, 2, or 1 when the other is skin
    Returns: float or array – length L of the Fourier number [m]
    Raises: ValueError when an input is impossible
    """
    count = np.asarray(faces)
    if not np.all((count == 1) | (count == 2)):
        raise ValueError(say("input.faces", faces=faces))
    return checked("thickness", thickness, 1e-6, 10.0) / count


def contour(points):
    """Nodes and weights that turn a Laplace transform back, on the upper half of a contour round the negative axis.

    Parameters:
        points : int – nodes on the whole contour, even; the error falls like 3.89 to the minus points
    Returns: (array, array) – node z and weight w, points / 2 of each
    Equation: f(t) = sum Re(w F(z / t)) / t, z = N (0.5017 a cot(0.6407 a) - 0.6122 + 0.2645 i a), a = π/N, 3π/N, …
    Valid for: transforms whose poles lie on the negative real axis
    Source: trefethen_2006 (contour constants from memory; accuracy found here by comparison with series)
    """
    angle = np.pi * np.arange(1, points, 2) / points
    turn = 0.6407 * angle
    node = points * (0.5017 * angle / np.tan(turn) - 0.6122 + 0.2645j * angle)
    slope = points * (0.5017 / np.tan(turn) - 0.5017 * turn / np.sin(turn) ** 2 + 0.2645j)
    return node, -2j / points * np.exp(node) * slope


NODES, WEIGHTS = contour(18)


class _Direction(NamedTuple):
    """One direction of a piece on Gauss-Lobatto nodes: position 0 is the middle or the skin, 1 the open face."""

    position: np.ndarray
    weight: np.ndarray  # sums to 1
    open_rate: np.ndarray  # decay of the modes with a held face, per unit of D t / L²
    open_modes: np.ndarray  # (node without the face, mode), orthonormal under the weights
    closed_rate: np.ndarray
    closed_modes: np.ndarray

    @property
    def inner(self):
        return slice(0, self.open_modes.shape[0])


# A slab has no second direction: one node, nothing happens.
_NO_DIRECTION = _Direction(np.zeros(1), np.ones(1), np.zeros(1), np.ones((1, 1)), np.zeros(1), np.ones((1, 1)))


def _lobatto(degree):
    """Gauss-Lobatto nodes on -1..1, their weights, and the matrix of first derivatives."""
    coefficients = np.eye(degree + 1)[degree]
    inside = np.sort(legendre.legroots(legendre.legder(coefficients)).real)
    x = np.concatenate(([-1.0], inside, [1.0]))
    top = legendre.legval(x, coefficients)
    gap = x[:, None] - x + np.eye(degree + 1)
    slope = top[:, None] / (top * gap) * (1.0 - np.eye(degree + 1))
    slope[0, 0], slope[-1, -1] = -degree * (degree + 1) / 4.0, degree * (degree + 1) / 4.0
    return x, 2.0 / (degree * (degree + 1) * top**2), slope


def _modes(stiffness, weight):
    """Decay rates and weight-orthonormal modes of d(profile)/dt = -(stiffness profile)/weight."""
    root = np.sqrt(weight)
    rate, vectors = np.linalg.eigh(stiffness / np.outer(root, root))
    return rate, vectors / root[:, None]


@cache
def _direction(nodes):
    """Half of a symmetric Lobatto grid, so that the middle (or skin) lets nothing through."""
    x, weight, slope = _lobatto(2 * (nodes - 1))
    fold = np.vstack((np.eye(nodes)[:0:-1], np.eye(nodes)))
    half_weight = fold.T @ weight / 2.0
    stiffness = fold.T @ (slope.T @ (weight[:, None] * slope)) @ fold / 2.0
    closed_rate, closed_modes = _modes(stiffness, half_weight)
    closed_rate[0], closed_modes[:, 0] = 0.0, 1.0  # the mean never decays, to the last bit
    return _Direction(
        x[nodes - 1 :], half_weight, *_modes(stiffness[:-1, :-1], half_weight[:-1]), closed_rate, closed_modes
    )


@dataclass(frozen=True, eq=False)
class SaltState:
    """Salt in the water of a piece, point by point; shapes follow the pieces (classes, members)."""

    depth: np.ndarray  # m
    half_width: np.ndarray  # m, inf for a slab
    values: np.ndarray  # kg salt per kg water, (..., thickness node, width node)

    @property
    def directions(self):
        """The grids through thickness and width."""
        if self.values.shape[-1] == 1:
            return _direction(_SLAB_NODES), _NO_DIRECTION
        return tuple(_direction(nodes) for nodes in _STRIP_NODES)

    @property
    def mean(self):
        """Mean salt per water [kg/kg]."""
        return self.mean_of(self.values)

    def mean_of(self, values):
        """Mean over the piece of something known at its nodes.

        Parameters:
            values : array – (..., thickness node, width node) [any]
        Returns: float or array – shape of the pieces [as values]
        """
        return plain(_mean(values, self.directions))

    @property
    def centre(self):
        """Salt per water in the middle of the piece, or at the skin when one face is closed [kg/kg]."""
        return plain(np.maximum(self.values[..., 0, 0], 0.0))

    def profile(self, position):
        """Salt per water through the thickness, midway across the width [kg/kg].

        Parameters:
            position : float or array – 0 middle or skin, 1 open face [-], allowed 0–1
        Returns: float or array – shape of the pieces, then shape of position [kg/kg]
        Raises: ValueError when a position is outside the piece
        """
        place = checked("position", position, 0.0, 1.0)
        nodes = self.directions[0].position ** 2  # even polynomials are polynomials in the square
        gap = nodes[:, None] - nodes + np.eye(nodes.size)
        steps = (place[..., None, None] ** 2 - nodes) / gap
        steps[..., np.arange(nodes.size), np.arange(nodes.size)] = 1.0
        line = self.values[..., 0]
        found = np.tensordot(line, np.prod(steps, axis=-1), axes=(-1, -1))
        edge = (...,) + (None,) * place.ndim
        return plain(np.clip(found, np.maximum(line.min(axis=-1), 0.0)[edge], line.max(axis=-1)[edge]))

    def rescaled(self, factor):
        """The same salt in another amount of flesh water.

        Parameters:
            factor : float or array – new flesh water / flesh water before [-], allowed above 0
        Returns: SaltState – every salt per water divided by the factor
        Raises: ValueError when factor is not above 0
        """
        times = checked("factor", factor, 1e-6, 1e6)
        return replace(self, values=self.values / times[..., None, None])


def fresh_state(thickness, faces, width=np.inf, ratio=0.0):
    """A piece with its salt spread evenly, given its size.

    Parameters:
        thickness : float or array – thickness of the piece [m], allowed above 0
        faces : int or array – open faces, 2, or 1 when the other is skin
        width : float or array – width of a strip, both edges open [m], allowed above 0, inf for a slab
        ratio : float or array – salt per water of the flesh [kg/kg], allowed ≥ 0
    Returns: SaltState – with the shape that the inputs broadcast to
    Valid for: slabs or long strips; pieces that share one state are all slabs or all strips
    Raises: ValueError when an input is impossible or slabs and strips are mixed
    Source: crank_1975 (geometry)
    """
    depth, half_width = diffusion_depth(thickness, faces), checked_or_endless("width", width, 1e-6) / 2.0
    slab = np.isinf(half_width)
    if slab.any() != slab.all():
        raise ValueError(say("input.width"))
    depth, half_width, start = np.broadcast_arrays(depth, half_width, checked("ratio", ratio, 0.0, 10.0))
    nodes = (_SLAB_NODES, 1) if slab.all() else _STRIP_NODES
    return SaltState(depth, half_width, np.broadcast_to(start[..., None, None], start.shape + nodes).copy())


def _mean(values, directions):
    """Mean over the nodes, by the weights of both directions."""
    return np.einsum("...ij,i,j->...", values, directions[0].weight, directions[1].weight)


def _onto(values, first, second):
    """Both node axes of `values` through a matrix each: sum over i and j of values[i, j] first[i, m] second[j, n]."""
    return first.T @ values @ second


class _Held(NamedTuple):
    """A piece whose faces are held at one strength, as modes of its distance from a level."""

    excess: np.ndarray  # (..., m, n)
    rate: np.ndarray  # decay per D t, 1/m2
    even: np.ndarray  # (m, n), the modes' share of an even piece
    rim: float  # part of the flesh water that the face nodes stand for

    def mean(self, modes):
        """What the modes add to the mean of the piece."""
        return np.einsum("...mn,mn->...", modes, self.even)


def _held(state, level):
    """The piece as modes that decay while its faces are held, measured from `level`."""
    one, two = state.directions
    weigh = tuple(axis.weight[axis.inner, None] * axis.open_modes for axis in (one, two))
    even = np.multiply.outer(weigh[0].sum(axis=0), weigh[1].sum(axis=0))
    rate = one.open_rate[:, None] / state.depth[..., None, None] ** 2
    rate = rate + two.open_rate / state.half_width[..., None, None] ** 2
    excess = _onto(state.values[..., one.inner, two.inner], *weigh) - even * level[..., None, None]
    return _Held(excess, rate, even, 1.0 - np.sum(even**2))


def _rebuilt(state, modes, level, face):
    """State from mode amplitudes around `level`, with `face` on every open face."""
    one, two = state.directions
    inner = _onto(modes, one.open_modes.T, two.open_modes.T) + level[..., None, None]
    values = np.empty(inner.shape[:-2] + state.values.shape[-2:])
    values[...] = face[..., None, None]
    values[..., one.inner, two.inner] = inner
    return replace(state, values=values)


def _evened(state, time):
    """The piece after D t = `time` with closed faces."""
    one, two = state.directions
    modes = _onto(state.values, *(axis.weight[:, None] * axis.closed_modes for axis in (one, two)))
    rate = one.closed_rate[:, None] / state.depth[..., None, None] ** 2
    rate = rate + two.closed_rate / state.half_width[..., None, None] ** 2
    modes = modes * np.exp(-rate * time[..., None, None])
    return replace(state, values=_onto(modes, one.closed_modes.T, two.closed_modes.T))


def _bath_drift(held, decay, share):
    """What the bath's own change adds to the modes after time: the coupled system, solved in the Laplace transform."""
    added = np.zeros(np.broadcast(held.excess, decay, share[..., None, None]).shape)
    for node, weight in zip(NODES, WEIGHTS, strict=True):
        inverse = 1.0 / (node + decay)
        pull = held.mean(held.excess * inverse)
        hold = held.mean(held.even * decay * inverse)
        bath = -share * pull / (1.0 + share * (held.rim + hold))
        added += ((weight * bath)[..., None, None] * inverse).real
    return held.even * decay * added


def soak(state, seconds, diffusivity, bath_ratio, bath_strength, partition=1.0):
    """A piece and its well-mixed bath after some time together; brining, rinsing and freshening are all this.

    Parameters:
        state : SaltState – the piece before
        seconds : float or array – time in the bath [s], allowed ≥ 0
        diffusivity : float or array – of salt in the flesh [m2/s], allowed 0–1e-6
        bath_ratio : float or array – bath water per flesh water [kg/kg], allowed above 0, inf for an unlimited bath
        bath_strength : float or array – salt of the bath at the start [kg/kg water], allowed ≥ 0
        partition : float or array – salt per water of flesh over that of the bath at balance [-], allowed 0.1–1.5
    Returns: (SaltState, float or array) – the piece after, and the bath's salt then [kg/kg water]
    Equation: dr/dt = D ∇²r, r(face) = K r_bath, B dr_bath/dt = -d(mean r)/dt
    Valid for: constant D and flesh water; salt kept to rounding; mean right to 1e-4 of the change from D t/L² = 1e-3 on
    Raises: ValueError when an input is impossible
    Source: crank_1975; contour of trefethen_2006
    """
    # Within, salt is reckoned on the part K of the water that takes as much of it as the bath does.
    solvent = checked("partition", partition, 0.1, 1.5)
    state, share = state.rescaled(solvent), solvent * bath_share(bath_ratio)
    start = checked("bath_strength", bath_strength, 0.0, 10.0)
    time = checked("diffusivity", diffusivity, 0.0, 1e-6) * checked("seconds", seconds, 0.0, 1e12)
    level = (start + share * _mean(state.values, state.directions)) / (1.0 + share)  # equilibrium
    held = _held(state, level)
    decay = held.rate * time[..., None, None]
    modes = held.excess * np.exp(-decay)
    if np.any(share > 0.0):
        modes = modes + _bath_drift(held, decay, share)
    bath = level - share * held.mean(modes) / (1.0 + share * held.rim)
    after = _rebuilt(state, modes, np.broadcast_to(level, bath.shape), bath)
    still = np.broadcast_to(time == 0.0, bath.shape)  # no time, no exchange: not even at the face
    values = np.where(still[..., None, None], state.values, after.values)
    return replace(after, values=values * solvent[..., None, None]), plain(np.where(still, start, bath))


def rest(state, seconds, diffusivity):
    """A piece after some time by itself, its faces closed: the salt evens out and none is lost.

    Parameters:
        state : SaltState – the piece before
        seconds : float or array – time of rest [s], allowed ≥ 0
        diffusivity : float or array – of salt in the flesh [m2/s], allowed 0–1e-6
    Returns: SaltState – the piece after, its mean unchanged
    Equation: dr/dt = D ∇²r, no flow through any face
    Valid for: no drip
    Raises: ValueError when an input is impossible
    Source: crank_1975
    """
    return _evened(state, checked("diffusivity", diffusivity, 0.0, 1e-6) * checked("seconds", seconds, 0.0, 1e12))


def _used_up(held, decay, wanted):
    """Part of the time, 0–1, after which the modes' share of the mean has risen to `wanted`; by bisection."""
    low, high = np.zeros(wanted.shape), np.ones(wanted.shape)
    growth, modes = -decay, np.empty(np.broadcast(decay, held.excess).shape)
    for _ in range(45):
        middle = 0.5 * (low + high)
        np.exp(np.multiply(growth, middle[..., None, None], out=modes), out=modes)
        modes *= held.excess
        short = held.mean(modes) < wanted
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return high


def dry_cure(state, seconds, diffusivity, dose, saturated, partition=1.0):
    """A piece under dry salt after some time: its face is saturated while undissolved salt is left, then it evens out.

    Parameters:
        state : SaltState – the piece before
        seconds : float or array – time under salt [s], allowed ≥ 0
        diffusivity : float or array – of salt in the flesh [m2/s], allowed 0–1e-6
        dose : float or array – salt laid on per flesh water [kg/kg], allowed ≥ 0, inf for more than it can take
        saturated : float or array – salt per water of saturated brine [kg/kg], allowed ≥ 0
        partition : float or array – salt per water of flesh over that of the brine at balance [-], allowed 0.1–1.5
    Returns: (SaltState, float or array) – the piece after, and the salt not yet taken up per flesh water [kg/kg]
    Equation: r(face) = K saturated until mean r has risen by dose; no flow after that
    Valid for: nothing drained and no pressing; pickle that runs off takes salt with it
    Raises: ValueError when an input is impossible
    Source: crank_1975; ceiling by mass balance
    """
    given = checked_or_endless("dose", dose, 0.0)
    time = checked("diffusivity", diffusivity, 0.0, 1e-6) * checked("seconds", seconds, 0.0, 1e12)
    before = _mean(state.values, state.directions)
    # Flesh that lost water may already be past saturation: then it takes nothing up and gives nothing back.
    strongest = checked("partition", partition, 0.1, 1.5) * checked("saturated", saturated, 0.0, 10.0)
    contact = np.maximum(strongest, before)
    time, given, before, contact = np.broadcast_arrays(time, given, before, contact)
    held = _held(state, contact)
    decay = held.rate * time[..., None, None]
    enough = contact + held.mean(held.excess * np.exp(-decay)) <= before + given
    part = np.ones(enough.shape)
    if not enough.all():  # the dose runs out on the way
        wanted = (before + given - contact)[~enough]
        part[~enough] = _used_up(held._replace(excess=held.excess[~enough]), decay[~enough], wanted)
    modes = held.excess * np.exp(-decay * part[..., None, None])
    # The faces hold the contact strength, or exactly what the used-up dose leaves for them.
    face = np.where(enough, contact, contact + (before + given - contact - held.mean(modes)) / held.rim)
    cured = _evened(_rebuilt(state, modes, contact, face), time * (1.0 - part))
    values = np.where(((time == 0.0) | (given == 0.0))[..., None, None], state.values, cured.values)
    cured = replace(cured, values=values)
    left = np.maximum(given - (_mean(values, state.directions) - before), 0.0)
    return cured, plain(
        np.where(enough | (time == 0.0), left, 0.0)
    )  # a dose that ran out leaves nothing, to the last bit
