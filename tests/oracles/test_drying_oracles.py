"""The drying solver against three independent routes: a series, spectral collocation, and a fine difference scheme.

All three share the laws of the surface with the solver (`SlabInAir`), but neither its nodes, nor its mean diffusivity, nor
its steps in time. The two numerical routes are integrated by scipy's LSODA, a multistep method.
"""

import dataclasses

import numpy as np
import pytest
from scipy.integrate import odeint

from flakeyard.models import moist_air
from flakeyard.models.drying_physics import KELVIN, SlabInAir
from flakeyard.models.slab_drying import Air, Box, Slab, dry

HOUR = 3600.0
TIMES = HOUR * np.linspace(0.0, 48.0, 97)
PIECE = Slab(thickness=0.008, faces=2, water=0.77, salt=0.025, fat=0.02, solids=0.185)
UNSALTED = dataclasses.replace(PIECE, salt=0.0, solids=0.21)
WARM = Air(temperature=63.0, humidity_ratio=0.0073, velocity=1.0)
LOADED = Box(
    heater=600.0, set_temperature=63.0, fresh_air=0.006, load=4.0,
    room_temperature=20.0, room_humidity_ratio=0.0073, velocity=1.0,
)  # fmt: skip

CASES = {
    "unsalted": (UNSALTED, WARM),
    "salted": (PIECE, WARM),
    "very salty": (dataclasses.replace(PIECE, salt=0.08, solids=0.13), WARM),
    "thin and hot": (dataclasses.replace(UNSALTED, thickness=0.003), dataclasses.replace(WARM, temperature=75.0)),
    "thick, one face": (dataclasses.replace(PIECE, thickness=0.012, faces=1), WARM),
    "cool and humid": (PIECE, Air(temperature=15.0, humidity_ratio=0.006, velocity=2.0)),
    "still air": (UNSALTED, dataclasses.replace(WARM, film_factor=0.4, radiation=2.0)),
    "loaded box": (PIECE, LOADED),
}


def fick_series(fourier, terms=60):
    """Water left of a slab whose surface is held dry, as a part of all that can leave (crank_1975, eq. 4.18, from memory)."""
    odd = 2.0 * np.arange(terms) + 1.0
    return np.exp(-np.multiply.outer(fourier, odd**2) * np.pi**2 / 4.0) @ (8.0 / (np.pi * odd) ** 2)


@pytest.mark.parametrize("faces", [1, 2])
def test_constant_diffusivity_is_the_fick_series(faces):
    """No fall of D with moisture or temperature, a film that resists nothing: then a series is exact."""
    slab = dataclasses.replace(UNSALTED, faces=faces, dry_end=1.0, activation=0.0, start_temperature=40.0)
    air = Air(40.0, moist_air.humidity_ratio(40.0, 0.3), velocity=20.0, film_factor=1000.0)
    half = slab.thickness / faces
    rate = slab.diffusivity * np.exp(-0.06 * 2.0) / half**2
    fourier = np.array([0.03, 0.1, 0.2, 0.5, 1.0, 1.5])
    result = dry(slab, air, fourier / rate)
    start, end = slab.water / 0.23, dry(slab, air, [20.0 / rate]).moisture[0, 0]
    left = (result.moisture[0] - end) / (start - end)
    # 0.3 % of what can leave: 17 nodes; the film still resists 1/2000 of the way
    np.testing.assert_allclose(left, fick_series(fourier), atol=3e-3)
    finer = dry(slab, air, fourier / rate, nodes=61, tolerance=1e-5)
    np.testing.assert_allclose((finer.moisture[0] - end) / (start - end), fick_series(fourier), atol=7e-4)


def chebyshev(count):
    """Points on 0 to 1 and the matrix that differentiates there (trefethen_2006, program cheb, rebuilt)."""
    angle = np.pi * np.arange(count + 1) / count
    place = np.cos(angle)
    weight = np.r_[2.0, np.ones(count - 1), 2.0] * (-1.0) ** np.arange(count + 1)
    difference = np.subtract.outer(place, place) + np.eye(count + 1)
    matrix = np.outer(weight, 1.0 / weight) / difference
    matrix -= np.diag(matrix.sum(axis=1))
    return 0.5 * (1.0 - place), -2.0 * matrix


def mean_weights(place):
    """Weights that integrate the polynomial through the points exactly (moments of Legendre polynomials)."""
    legendre = np.polynomial.legendre.legvander(2.0 * place - 1.0, len(place) - 1)
    return np.linalg.solve(legendre.T, np.r_[1.0, np.zeros(len(place) - 1)])


def laws(slab, air):
    """Diffusivity over L² and what the surface gives off, written anew over plain floats."""
    dryer = SlabInAir(slab, air)
    own = {name: float(column[0, 0]) for name, column in dryer.columns.items()}

    def diffusion(moisture, kelvin):
        cube = moisture**3
        shape = 1.0 - own["falling"] + own["falling"] * cube / (cube + 1.0 / own["per_transition_cubed"])
        return own["rate"] * np.exp(-own["activation_kelvin"] * (1.0 / kelvin - 1.0 / 303.15)) * shape

    def surface(moisture, kelvin, mean):
        leaving, heat = dryer.surface(*(np.array([[value]]) for value in (moisture, kelvin, mean)))
        capacity = own["solids_per_area"] * (own["dry_heat"] + 4180.0 * mean)
        return leaving[0, 0] / own["solids_per_area"], heat[0, 0] / capacity

    return own, diffusion, surface


def by_collocation(slab, air, times, count=40):
    """Mean moisture (dry basis) and temperature by Chebyshev collocation of the flux, LSODA in time."""
    own, diffusion, surface = laws(slab, air)
    place, slope = chebyshev(count)
    weights = mean_weights(place)

    def rates(state, _):
        moisture = np.maximum(state[:-1], 1e-6)
        leaving, warming = surface(moisture[-1], state[-1], moisture @ weights)
        flux = diffusion(moisture, state[-1]) * (slope @ moisture)
        flux[0], flux[-1] = 0.0, -leaving
        return np.append(slope @ flux, warming)

    start = np.append(np.full(count + 1, own["start"]), own["start_temperature"])
    states = odeint(rates, start, times, rtol=1e-7, atol=1e-8, mxstep=20_000)
    return states[:, :-1] @ weights * own["solids_share"], states[:, -1] - KELVIN


def by_differences(slab, air, times, cells):
    """The same by finite volumes: even cells in the square of the depth, plain mean diffusivity, banded LSODA."""
    own, diffusion, surface = laws(slab, air)
    edges = 1.0 - np.linspace(1.0, 0.0, cells) ** 2
    width = np.diff(0.5 * (edges[1:] + edges[:-1]), prepend=0.0, append=1.0)

    def rates(state, _):
        moisture = np.maximum(state[:-1], 1e-6)
        leaving, warming = surface(moisture[-1], state[-1], moisture @ width)
        diffusivity = diffusion(moisture, state[-1])
        flux = 0.5 * (diffusivity[1:] + diffusivity[:-1]) * np.diff(moisture) / np.diff(edges)
        return np.append(np.diff(flux, prepend=0.0, append=-leaving) / width, warming)

    start = np.append(np.full(cells, own["start"]), own["start_temperature"])
    states = odeint(rates, start, times, rtol=1e-7, atol=1e-8, ml=1, mu=1, mxstep=20_000)
    return states[:, :-1] @ width * own["solids_share"]


@pytest.mark.parametrize("case", CASES)
def test_against_chebyshev_collocation(case):
    slab, air = CASES[case]
    result = dry(slab, air, TIMES)
    mean, temperature = by_collocation(slab, air, TIMES)
    # what the solver promises (1 % at worst); temperature where a minute's lag is several kelvin
    np.testing.assert_allclose(result.moisture[0], mean, rtol=5e-3)
    np.testing.assert_allclose(result.temperature[0], temperature, atol=0.5)
    finer = dry(slab, air, TIMES, nodes=101, tolerance=1e-5, longest_step=900.0)
    # error of the finer grid is (17/101)² of 0.2 %; collocation at the plateau's corners about 1e-4
    np.testing.assert_allclose(finer.moisture[0], mean, rtol=5e-4)


@pytest.mark.parametrize("case", ["unsalted", "very salty", "loaded box"])
def test_against_fine_differences(case):
    slab, air = CASES[case]
    coarse, fine = (by_differences(slab, air, TIMES, cells) for cells in (61, 121))
    extrapolated = fine + (fine - coarse) / 3.0  # second order (Richardson)
    finer = dry(slab, air, TIMES, nodes=101, tolerance=1e-5, longest_step=900.0)
    np.testing.assert_allclose(finer.moisture[0], extrapolated, rtol=1e-3)
    np.testing.assert_allclose(dry(slab, air, TIMES).moisture[0], extrapolated, rtol=5e-3)


@pytest.mark.parametrize("salt", [0.0, 0.025, 0.08])
def test_drying_times_of_the_usual_and_a_fine_solution(salt):
    slab = dataclasses.replace(PIECE, salt=salt, solids=0.21 - salt)
    targets = np.array([1.0, 0.5, 0.25, 0.12])
    usual = dry(slab, WARM, TIMES, target=targets).time_to_target
    fine = dry(slab, WARM, TIMES, target=targets, nodes=101, tolerance=1e-5, longest_step=900.0).time_to_target
    np.testing.assert_allclose(usual, fine, rtol=3e-3)


def wide_draws(members, seed, salted):
    """Pieces and air over all that a workbook may ask: film 3–100 W/m2/K, D five times either way, 10–80 degC."""
    random = np.random.default_rng(seed)
    even = lambda low, high: random.uniform(low, high, members)  # noqa: E731
    ratio = lambda low, high: np.exp(random.uniform(np.log(low), np.log(high), members))  # noqa: E731
    water, fat, faces = even(0.6, 0.82), even(0.0, 0.13), random.integers(1, 3, members)
    salt = even(0.005, 0.08) if salted else np.zeros(members)
    temperature = even(10.0, 80.0)
    air_ratio = np.minimum(moist_air.humidity_ratio(temperature, ratio(0.02, 0.75)), 0.03)
    slab = Slab(
        thickness=ratio(0.001, 0.012) * faces, faces=faces, water=water, salt=salt, fat=fat,
        solids=np.maximum(1.0 - water - salt - fat, 0.05), diffusivity=3.4e-10 * ratio(0.2, 5.0),
        activation=even(30e3, 60e3), dry_end=even(0.1, 0.4), protein_factor=even(0.83, 1.25), gab_k=even(0.96, 0.995),
    )  # fmt: skip
    film = moist_air.film(temperature, 1.0, 0.10)[0]
    return slab, Air(temperature, air_ratio, 1.0, film_factor=ratio(3.0, 100.0) / film)


@pytest.mark.parametrize("salted", [False, True])
def test_errors_over_wide_draws(salted):
    """The promise of `dry`: 95 of 100 wide draws within 0.3 %, none off by 1 %, drying times within 0.3 %."""
    slab, air = wide_draws(100, 20, salted)
    usual = dry(slab, air, TIMES, target=0.33)
    fine = dry(slab, air, TIMES, target=0.33, nodes=61, tolerance=5e-5, longest_step=3600.0)
    error = np.abs(usual.moisture / fine.moisture - 1.0).max(axis=1)
    assert np.quantile(error, 0.95) < 3e-3 and error.max() < 0.01
    both = np.isfinite(usual.time_to_target) & np.isfinite(fine.time_to_target)
    assert both.sum() > 50
    np.testing.assert_allclose(usual.time_to_target[both], fine.time_to_target[both], rtol=3e-3)


@pytest.mark.slow
def test_ten_thousand_wide_draws_come_to_their_end():
    slab, air = wide_draws(10_000, 21, True)
    assert np.isfinite(dry(slab, air, TIMES).moisture).all()
