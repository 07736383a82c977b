"""Salt (and sugar) moving between a bath or dry salt and the water held in a piece of fish.

Salt lives in the water of the flesh. Its strength is a ratio r, kg salt per kg water, and it spreads by Fick's law in a
slab (one open face over skin, or two open faces) or in a strip (thickness and width). A bath is well mixed and finite.
The flesh's water and thickness are held constant while salt moves; the change of water is added afterwards by
`water_held`. Stirring, drip, pressure and injection are not modelled.

Two routes share one idea, the Laplace transform turned back on a short contour in the complex plane:
`slab_uptake` and `strip_uptake` start from an even piece and use the exact transfer function; `SaltState` keeps the
whole profile on a few Gauss-Lobatto nodes, so that soaks, rests and dry cures can follow each other in any order.
"""

from dataclasses import dataclass, replace
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.polynomial import legendre

# Limiting diffusion coefficients of the two ions in water, 1e-10 m2/s: value at 0 degC and rise per degC.
SODIUM_LINE = (6.06, 0.297)  # boudreau_1997, as tabulated in marelac_r
CHLORIDE_LINE = (9.60, 0.438)  # boudreau_1997, as tabulated in marelac_r
PROTEIN_DENSITY, FAT_DENSITY = 1.35, 0.92  # relative to water, from memory (usual food-engineering values)

DIFFUSIVITY_FACTOR = 0.8  # judgement, between 0.24 and 1.06 implied by measurements on fish and squid (see below)
DIFFUSIVITY_LN_SD = 0.5  # judgement: barretto_2018 gives 0.68, lee_2020 1.06, lee_1998 0.79 and 0.24
THICKNESS_LN_SD = 0.10  # judgement: pieces cut by hand
# Sugar against salt, diffusion coefficients in water at 25 degC (sugar: ribeiro_2006, table 5; salt: the lines above).
SUGAR_RATIO = {"sucrose": 0.523 / 1.628, "hexose": 0.6825 / 1.628}
SUGAR_LN_SD = 0.6  # judgement: salt's spread, and that flesh may sieve the larger molecule more than water does
RAW_SALT = 0.0014  # kg salt per kg raw flesh: 54 mg sodium per 100 g of raw cod, usda_fdc_171955

SATURATED_STRENGTH = 0.26395  # kg salt per kg saturated brine at 60 degF: 100 degrees salometer, salometer_table
CROSSOVER, CROSSOVER_BAND = 0.14, (0.10, 0.18)  # judgement: gain at 10 %, loss at 20 % (duan_2008, oh_1997)
SATURATED_HOLD, SATURATED_HOLD_SD = 0.60, 0.05  # judgement from 57-60 % water in fully salted cod, gudjonsdottir_2015
SATURATED_LOSS, SATURATED_LOSS_BAND = 0.10, (0.05, 0.15)  # fillets: 12-13 % of protein, gildberg_2009; band judgement
SATURATED_LOSS_SMALL_WHOLE = 0.30  # small whole anchovy, oh_1997
SWELLING_BAND = (0.0, 0.10)  # judgement: size of the gain in weak brine was not found; 5-15 % for cod from memory

salt_diffusivity_range = {"temperature": (2.0, 25.0), "water": (0.60, 0.85), "protein": (0.10, 0.25), "fat": (0.0, 0.20)}

_WIDTH_MODES = 60  # strip_uptake is then right to about 2e-5 at its worst, near a Fourier number of 3e-4
_SLAB_NODES, _STRIP_NODES = 20, (13, 10)


def _checked(name, value, low, high, allowed):
    """The value as float array, or a ValueError that names what is wrong."""
    array = np.asarray(value, dtype=float)
    good = (array >= low) & (array <= high)  # not-a-number fails both
    if not np.all(good):
        raise ValueError(f"{name} = {array[~good].flat[0]:g} is not possible: allowed is {allowed}")
    return array


def _length(name, value, endless=False):
    return _checked(name, value, 1e-9, np.inf if endless else 1e3, "a length above 0 m")


def _duration(seconds):
    return _checked("seconds", seconds, 0.0, 1e12, "a time of 0 s or more")


def _rate(diffusivity):
    return _checked("diffusivity", diffusivity, 0.0, 1e-6, "0 to 1e-6 m2/s")


def _strength(name, value):
    return _checked(name, value, 0.0, 10.0, "0 or more kg salt per kg water")


def _bath_share(bath_ratio):
    """kg flesh water per kg bath water: 0 for an unlimited bath."""
    return 1.0 / _checked("bath_ratio", bath_ratio, 1e-9, np.inf, "above 0 kg bath water per kg flesh water")


def _plain(array):
    """A float instead of a 0-d array."""
    return array[()] if np.ndim(array) == 0 else array


# --- how fast: diffusion coefficients ---------------------------------------------------------------------------------


def salt_diffusivity_in_water(temperature):
    """Diffusion coefficient of sodium chloride in pure water, given the temperature.

    Parameters:
        temperature : float or array – water temperature [degC], allowed -15 to 100
    Returns: float or array – diffusion coefficient at infinite dilution [m2/s]
    Equation: D = 2 D_Na D_Cl / (D_Na + D_Cl), each ion a straight line in temperature
    Valid for: 0–30 degC; about 1 % above the value from ionic conductivities at 25 degC, and 5–10 % above strong brine
    Raises: ValueError when temperature is impossible
    Source: boudreau_1997 (ions), Nernst–Hartley relation
    """
    celsius = _checked("temperature", temperature, -15.0, 100.0, "-15 to 100 degC")
    sodium, chloride = (1e-10 * (start + slope * celsius) for start, slope in (SODIUM_LINE, CHLORIDE_LINE))
    return _plain(2.0 * sodium * chloride / (sodium + chloride))


def obstruction(water, protein, fat):
    """Share of the free-water diffusion coefficient that is left in flesh, given its make-up.

    Parameters:
        water : float or array – water of the flesh [kg/kg], allowed 0–1, not 0
        protein : float or array – protein of the flesh [kg/kg], allowed 0–1
        fat : float or array – fat of the flesh [kg/kg], allowed 0–1
    Returns: float or array – obstruction factor [-], 0–1
    Equation: ((1 - phi) / (1 + phi))², phi = volume fraction of protein and fat
    Valid for: wet flesh, phi up to about 0.4; nothing in it is fitted to fish
    Raises: ValueError when a fraction is impossible
    Source: mackie_meares_1955 (from memory)
    """
    free = _checked("water", water, 1e-6, 1.0, "above 0, at most 1 kg/kg")
    solid = _checked("protein", protein, 0.0, 1.0, "0 to 1 kg/kg") / PROTEIN_DENSITY
    solid = solid + _checked("fat", fat, 0.0, 1.0, "0 to 1 kg/kg") / FAT_DENSITY
    blocked = solid / (solid + free)
    return _plain(((1.0 - blocked) / (1.0 + blocked)) ** 2)


def salt_diffusivity(temperature, water, protein, fat):
    """Diffusion coefficient of salt in the water of fish flesh (middle value), given temperature and make-up.

    Parameters:
        temperature : float or array – flesh temperature [degC], allowed -15 to 100
        water : float or array – water of the flesh [kg/kg], allowed 0–1, not 0
        protein : float or array – protein of the flesh [kg/kg], allowed 0–1
        fat : float or array – fat of the flesh [kg/kg], allowed 0–1
    Returns: float or array – diffusion coefficient, the factor 0.8 included [m2/s]
    Equation: D = 0.8 D_water(T) ((1 - phi)/(1 + phi))²
    Valid for: raw skinless fish in brine, 2–25 degC; ln-sd 0.5 (1 sd ×/÷ 1.65). Brine strength and freezing are ignored
    Raises: ValueError when an input is impossible
    Source: boudreau_1997, mackie_meares_1955; factor by judgement from barretto_2018, lee_2020, lee_1998
    """
    return DIFFUSIVITY_FACTOR * salt_diffusivity_in_water(temperature) * obstruction(water, protein, fat)


def sugar_diffusivity(temperature, water, protein, fat, sugar="sucrose"):
    """Diffusion coefficient of a sugar in the water of fish flesh, given temperature and make-up.

    Parameters:
        temperature : float or array – flesh temperature [degC], allowed -15 to 100
        water : float or array – water of the flesh [kg/kg], allowed 0–1, not 0
        protein : float or array – protein of the flesh [kg/kg], allowed 0–1
        fat : float or array – fat of the flesh [kg/kg], allowed 0–1
        sugar : text – "sucrose", or "hexose" for glucose, fructose and honey
    Returns: float or array – diffusion coefficient [m2/s]
    Equation: D_sugar = D_salt × (ratio of the two in water at 25 degC)
    Valid for: an estimate; the ratio falls by about 4 % from 25 to 5 degC, sieving by flesh is not known
    Raises: ValueError when an input is impossible or the sugar has no row
    Source: ribeiro_2006, table 5 (sugars at infinite dilution)
    """
    if sugar not in SUGAR_RATIO:
        raise ValueError(f"sugar = {sugar!r} is not known: allowed is one of {', '.join(SUGAR_RATIO)}")
    return SUGAR_RATIO[sugar] * salt_diffusivity(temperature, water, protein, fat)


# --- how much, from an even start: closed forms -----------------------------------------------------------------------


def _contour(points):
    """Nodes and weights that turn a Laplace transform F back: f(t) = sum Re(weight F(node / t)) / t.

    A cotangent contour around the negative real axis, upper half only; the error falls like 3.89 to the minus points
    (trefethen_2006, contour constants there).
    """
    angle = np.pi * np.arange(1, points, 2) / points
    turn = 0.6407 * angle
    node = points * (0.5017 * angle / np.tan(turn) - 0.6122 + 0.2645j * angle)
    slope = points * (0.5017 / np.tan(turn) - 0.5017 * turn / np.sin(turn) ** 2 + 0.2645j)
    return node, -2j / points * np.exp(node) * slope


_NODES, _WEIGHTS = _contour(18)
_SOAK_NODES, _SOAK_WEIGHTS = _contour(14)


def _slab_transfer(node, fourier):
    """Mean of a slab over the strength at its face, both Laplace-transformed."""
    root = np.sqrt(node / fourier)
    return np.tanh(root) / root


def _strip_transfer(node, shorter, longer):
    """The same for a strip; `longer` is the larger Fourier number, whose direction is expanded in modes."""
    odd = np.arange(1, 2 * _WIDTH_MODES, 2)
    weight, rate = 8.0 / (np.pi * odd) ** 2, (np.pi * odd / 2.0) ** 2
    shifted = node[..., None] + rate * longer[..., None]
    modes = (weight * _slab_transfer(shifted, shorter[..., None]) / shifted).sum(axis=-1)
    return _slab_transfer(node, longer) + node * modes


def _uptake(transfer, share):
    """Fraction of the equilibrium change, from the transfer function at the contour nodes (last axis)."""
    image = (1.0 + share) * transfer / (_NODES * (1.0 + share * transfer))
    return _plain(np.clip((_WEIGHTS * image).real.sum(axis=-1), 0.0, 1.0))


def _fourier(name, value):
    """Fourier numbers on a new last axis; the floor and ceiling only keep 0 and inf computable."""
    return np.clip(_checked(name, value, 0.0, np.inf, "0 or more"), 1e-20, 1e6)[..., None]


def slab_uptake(fourier, bath_ratio):
    """Fraction of the way from start to equilibrium that an even slab has gone, given time and size of the bath.

    Parameters:
        fourier : float or array – D t / L², L half the thickness (two faces) or all of it (one face) [-], allowed ≥ 0
        bath_ratio : float or array – bath water per flesh water [kg/kg], allowed above 0, inf for an unlimited bath
    Returns: float or array – fraction of the equilibrium change, 0–1 [-]
    Equation: transform (1+g) H / (s (1 + g H)), H = tanh(√s)/√s, g = 1/bath_ratio, turned back numerically
    Valid for: well-mixed bath, constant D; numerical error below 1e-8
    Raises: ValueError when an input is impossible
    Source: crank_1975, plane sheet in a stirred solution of limited volume
    """
    number, share = _fourier("fourier", fourier), _bath_share(bath_ratio)[..., None]
    return _uptake(_slab_transfer(_NODES, number), share)


def strip_uptake(fourier_1, fourier_2, bath_ratio):
    """Fraction of the way from start to equilibrium that an even strip has gone, given time and size of the bath.

    Parameters:
        fourier_1 : float or array – D t / L² through the thickness [-], allowed ≥ 0
        fourier_2 : float or array – D t / (half width)² [-], allowed ≥ 0; 0 gives the slab
        bath_ratio : float or array – bath water per flesh water [kg/kg], allowed above 0, inf for an unlimited bath
    Returns: float or array – fraction of the equilibrium change, 0–1 [-]
    Equation: as the slab, with H of the product solution (1 - E_1)(1 - E_2)
    Valid for: well-mixed bath, constant D, long strips; numerical error below 3e-5
    Raises: ValueError when an input is impossible
    Source: crank_1975, product of two plane sheets; Duhamel's theorem for the falling bath
    """
    first, second = np.broadcast_arrays(_fourier("fourier_1", fourier_1), _fourier("fourier_2", fourier_2))
    share = _bath_share(bath_ratio)[..., None]
    return _uptake(_strip_transfer(_NODES, np.minimum(first, second), np.maximum(first, second)), share)


def equilibrium_ratio(bath_ratio, bath_strength, flesh_strength=0.0):
    """Salt per water that flesh and bath share at last, given what both start with.

    Parameters:
        bath_ratio : float or array – bath water per flesh water [kg/kg], allowed above 0, inf for an unlimited bath
        bath_strength : float or array – salt of the bath at the start [kg/kg water], allowed ≥ 0
        flesh_strength : float or array – mean salt of the flesh at the start [kg/kg water], allowed ≥ 0
    Returns: float or array – common salt per water [kg/kg water]
    Equation: r = (B r_bath + r_flesh) / (B + 1)
    Valid for: equal water-phase salt on both sides; tilapia in two brines agrees within 0.5 point
    Raises: ValueError when an input is impossible
    Source: mass balance; checked against medina_vivanco_tilapia
    """
    share = _bath_share(bath_ratio)
    bath, flesh = _strength("bath_strength", bath_strength), _strength("flesh_strength", flesh_strength)
    return _plain((bath + share * flesh) / (1.0 + share))


def hours_to_strength(
    target, thickness, faces, diffusivity, bath_ratio, bath_strength, flesh_strength=0.0, width=np.inf
):
    """Hours in a bath until the mean salt of an even piece reaches a target, given piece and bath.

    Parameters:
        target : float or array – wanted mean salt [kg/kg water], allowed ≥ 0
        thickness : float or array – thickness of the piece [m], allowed above 0
        faces : int or array – open faces, 2, or 1 when the other is skin
        diffusivity : float or array – of salt in the flesh [m2/s], allowed 0–1e-6
        bath_ratio : float or array – bath water per flesh water [kg/kg], allowed above 0, inf for an unlimited bath
        bath_strength : float or array – salt of the bath at the start [kg/kg water], allowed ≥ 0
        flesh_strength : float or array – mean salt of the flesh at the start [kg/kg water], allowed ≥ 0
        width : float or array – width of a strip [m], allowed above 0, inf for a slab
    Returns: float or array – time [h]; 0 when already there or past it, inf when this bath can never do it
    Equation: strip_uptake(D t/L², D t/(width/2)²) = (target - r_flesh) / (r_equilibrium - r_flesh), by bisection
    Valid for: as strip_uptake
    Raises: ValueError when an input is impossible
    Source: crank_1975
    """
    depth, half_width = _depth(thickness, faces), _length("width", width, endless=True) / 2.0
    goal, start = _strength("target", target), _strength("flesh_strength", flesh_strength)
    change = equilibrium_ratio(bath_ratio, bath_strength, flesh_strength) - start
    part = np.divide(goal - start, change, out=np.full(np.broadcast(goal, change).shape, -1.0), where=change != 0.0)
    wanted, rate = np.where(goal == start, 0.0, np.where(part < 0.0, 1.0, part)), _rate(diffusivity)
    low, high = (np.full(np.broadcast(wanted, depth, half_width, rate).shape, edge) for edge in (-12.0, 2.0))
    for _ in range(50):  # in the logarithm of the Fourier number through the thickness
        middle = 0.5 * (low + high)
        short = strip_uptake(10.0**middle, 10.0**middle * (depth / half_width) ** 2, bath_ratio) < wanted
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    with np.errstate(divide="ignore"):
        hours = 10.0**high * depth**2 / (rate * 3600.0)
    return _plain(np.where(wanted <= 0.0, 0.0, np.where(wanted >= 1.0, np.inf, hours)))


def evening_out_time(thickness, faces, diffusivity, remaining=0.1):
    """Time of rest out of the bath until the difference from face to centre has shrunk to a given part.

    Parameters:
        thickness : float or array – thickness of the piece [m], allowed above 0
        faces : int or array – faces that took up salt, 2, or 1 when the other is skin
        diffusivity : float or array – of salt in the flesh [m2/s], allowed 0–1e-6
        remaining : float or array – part of the difference that may be left [-], allowed 0–1, not 0
    Returns: float or array – time [s]
    Equation: t = -ln(remaining) L² / (π² D), the slowest mode of a slab with closed faces
    Valid for: slabs; a strip is faster
    Raises: ValueError when an input is impossible
    Source: crank_1975, plane sheet without flow through its faces
    """
    part = _checked("remaining", remaining, 1e-12, 1.0, "above 0, at most 1")
    return _plain(-np.log(part) * _depth(thickness, faces) ** 2 / (np.pi**2 * _rate(diffusivity)))


# --- what the water and the solids do ---------------------------------------------------------------------------------


def water_held(strength_fraction, crossover=CROSSOVER, saturated_hold=SATURATED_HOLD, swelling=0.0):
    """Water that flesh holds once salted, per water at the start, given the water-phase salt it has reached.

    Parameters:
        strength_fraction : float or array – water-phase salt, salt/(salt + water) [kg/kg], allowed 0–0.30
        crossover : float or array – water-phase salt at which the weight is back at the start [kg/kg], allowed 0.01–0.25
        saturated_hold : float or array – water held at saturation [kg/kg], allowed 0.3–1
        swelling : float or array – extra water at half the crossover [kg/kg], allowed 0–0.5
    Returns: float or array – water / water at the start [-]
    Equation: w = 1 - c + A c (1 - c/c0) + 4 s (c/c0)(1 - c/c0) below c0; A from w(saturation) = saturated_hold
    Valid for: signs only are published (gain up to 10 %, loss from 20 %); draw swelling from SWELLING_BAND
    Raises: ValueError when an input is impossible
    Source: own curve; duan_2008 and oh_1997 (signs), gudjonsdottir_2015 (saturated end)
    """
    c = _checked("strength_fraction", strength_fraction, 0.0, 0.30, "0 to 0.30 kg/kg")
    c0 = _checked("crossover", crossover, 0.01, 0.25, "0.01 to 0.25 kg/kg")
    end = _checked("saturated_hold", saturated_hold, 0.3, 1.0, "0.3 to 1 kg/kg")
    extra = _checked("swelling", swelling, 0.0, 0.5, "0 to 0.5 kg/kg")
    bend = (end - 1.0 + SATURATED_STRENGTH) / (SATURATED_STRENGTH * (1.0 - SATURATED_STRENGTH / c0))
    hump = np.maximum(0.0, (c / c0) * (1.0 - c / c0))
    return _plain(1.0 - c + bend * c * (1.0 - c / c0) + 4.0 * extra * hump)


def solids_kept(strength_fraction, saturated_loss=SATURATED_LOSS):
    """Dry matter of the flesh that has not been leached, given the water-phase salt it has reached.

    Parameters:
        strength_fraction : float or array – water-phase salt, salt/(salt + water) [kg/kg], allowed 0–0.30
        saturated_loss : float or array – part leached at saturation [kg/kg], allowed 0–0.6
    Returns: float or array – solids / solids at the start [-]
    Equation: 1 - loss × min(1, c / c_saturated)
    Valid for: fillets 0.05–0.15 (judgement around gildberg_2009); small whole fish 0.30 (oh_1997)
    Raises: ValueError when an input is impossible
    Source: gildberg_2009; straight line by judgement
    """
    c = _checked("strength_fraction", strength_fraction, 0.0, 0.30, "0 to 0.30 kg/kg")
    loss = _checked("saturated_loss", saturated_loss, 0.0, 0.6, "0 to 0.6 kg/kg")
    return _plain(1.0 - loss * np.minimum(1.0, c / SATURATED_STRENGTH))


# --- a piece with a profile: any chain of soaks, rests and dry cures --------------------------------------------------


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


def _depth(thickness, faces):
    """Way that salt has to go: half the thickness with two open faces, all of it with one."""
    count = np.asarray(faces)
    if not np.all((count == 1) | (count == 2)):
        raise ValueError(f"faces = {faces} is not possible: allowed is 1 (skin on one side) or 2")
    return _length("thickness", thickness) / count


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
        return _plain(_mean(self.values, self.directions))

    @property
    def centre(self):
        """Salt per water in the middle of the piece, or at the skin when one face is closed [kg/kg]."""
        return _plain(np.maximum(self.values[..., 0, 0], 0.0))

    def profile(self, position):
        """Salt per water through the thickness, midway across the width [kg/kg].

        Parameters:
            position : float or array – 0 middle or skin, 1 open face [-], allowed 0–1
        Returns: float or array – shape of the pieces, then shape of position [kg/kg]
        Raises: ValueError when a position is outside the piece
        """
        place = _checked("position", position, 0.0, 1.0, "0 to 1")
        nodes = self.directions[0].position ** 2  # even polynomials are polynomials in the square
        gap = nodes[:, None] - nodes + np.eye(nodes.size)
        steps = (place[..., None, None] ** 2 - nodes) / gap
        steps[..., np.arange(nodes.size), np.arange(nodes.size)] = 1.0
        line = self.values[..., 0]
        found = np.tensordot(line, np.prod(steps, axis=-1), axes=(-1, -1))
        edge = (...,) + (None,) * place.ndim
        return _plain(np.clip(found, np.maximum(line.min(axis=-1), 0.0)[edge], line.max(axis=-1)[edge]))

    def rescaled(self, factor):
        """The same salt in another amount of flesh water.

        Parameters:
            factor : float or array – new flesh water / flesh water before [-], allowed above 0
        Returns: SaltState – every salt per water divided by the factor
        Raises: ValueError when factor is not above 0
        """
        times = _checked("factor", factor, 1e-9, 1e9, "above 0")
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
    depth, half_width = _depth(thickness, faces), _length("width", width, endless=True) / 2.0
    slab = np.isinf(half_width)
    if slab.any() != slab.all():
        raise ValueError("width = inf for some pieces only is not possible: allowed is inf for all of them or for none")
    depth, half_width, start = np.broadcast_arrays(depth, half_width, _strength("ratio", ratio))
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
    for node, weight in zip(_SOAK_NODES, _SOAK_WEIGHTS, strict=True):
        inverse = 1.0 / (node + decay)
        pull = held.mean(held.excess * inverse)
        hold = held.mean(held.even * decay * inverse)
        bath = -share * pull / (1.0 + share * (held.rim + hold))
        added += ((weight * bath)[..., None, None] * inverse).real
    return held.even * decay * added


def soak(state, seconds, diffusivity, bath_ratio, bath_strength):
    """A piece and its well-mixed bath after some time together; brining, rinsing and freshening are all this.

    Parameters:
        state : SaltState – the piece before
        seconds : float or array – time in the bath [s], allowed ≥ 0
        diffusivity : float or array – of salt in the flesh [m2/s], allowed 0–1e-6
        bath_ratio : float or array – bath water per flesh water [kg/kg], allowed above 0, inf for an unlimited bath
        bath_strength : float or array – salt of the bath at the start [kg/kg water], allowed ≥ 0
    Returns: (SaltState, float or array) – the piece after, and the bath's salt then [kg/kg water]
    Equation: dr/dt = D ∇²r, r(face) = r_bath, B dr_bath/dt = -d(mean r)/dt
    Valid for: constant D and flesh water; salt kept to rounding; mean right to 1e-4 of the change from D t/L² = 1e-3 on
    Raises: ValueError when an input is impossible
    Source: crank_1975; contour of trefethen_2006
    """
    share, start = _bath_share(bath_ratio), _strength("bath_strength", bath_strength)
    time = _rate(diffusivity) * _duration(seconds)
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
    return replace(after, values=values), _plain(np.where(still, start, bath))


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
    return _evened(state, _rate(diffusivity) * _duration(seconds))


def _used_up(held, decay, wanted):
    """Part of the time, 0–1, after which the modes' share of the mean has risen to `wanted`; by bisection."""
    low, high = np.zeros(wanted.shape), np.ones(wanted.shape)
    for _ in range(45):
        middle = 0.5 * (low + high)
        short = held.mean(held.excess * np.exp(-decay * middle[..., None, None])) < wanted
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return high


def dry_cure(state, seconds, diffusivity, dose, saturated):
    """A piece under dry salt after some time: its face is saturated while undissolved salt is left, then it evens out.

    Parameters:
        state : SaltState – the piece before
        seconds : float or array – time under salt [s], allowed ≥ 0
        diffusivity : float or array – of salt in the flesh [m2/s], allowed 0–1e-6
        dose : float or array – salt laid on per flesh water [kg/kg], allowed ≥ 0, inf for more than it can take
        saturated : float or array – salt per water of saturated brine [kg/kg], allowed ≥ 0
    Returns: (SaltState, float or array) – the piece after, and the salt not yet taken up per flesh water [kg/kg]
    Equation: r(face) = saturated until mean r has risen by dose; no flow after that
    Valid for: nothing drained and no pressing; pickle that runs off takes salt with it
    Raises: ValueError when an input is impossible
    Source: crank_1975; ceiling by mass balance
    """
    given = _checked("dose", dose, 0.0, np.inf, "0 or more kg salt per kg flesh water")
    before = _mean(state.values, state.directions)
    # Flesh that lost water may already be past saturation: then it takes nothing up and gives nothing back.
    contact = np.maximum(_strength("saturated", saturated), before)
    held = _held(state, contact)
    decay = held.rate * (_rate(diffusivity) * _duration(seconds))[..., None, None]
    shape = np.broadcast(held.excess, decay, given[..., None, None]).shape
    held, decay = held._replace(excess=np.broadcast_to(held.excess, shape)), np.broadcast_to(decay, shape)
    given, before, contact = (np.broadcast_to(array, shape[:-2]) for array in (given, before, contact))
    enough = contact + held.mean(held.excess * np.exp(-decay)) <= before + given
    part = np.ones(enough.shape)
    if not enough.all():
        wanted = (before + given - contact)[~enough]
        part[~enough] = _used_up(held._replace(excess=held.excess[~enough]), decay[~enough], wanted)
    return _after_dry_cure(state, held, decay, part, before, given, contact)
