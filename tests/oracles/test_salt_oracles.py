"""Salt transport against independent routes: root series, LSODA on a fine line, and a plain 2-D difference scheme."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.special import erfcx

from flakeyard.models import salt_transport as salt

FOURIER = np.array([1e-3, 3e-3, 0.01, 0.03, 0.1, 0.3, 1.0, 3.0])


def crank_roots(ratio, count=120):
    """Positive roots of tan q = -ratio q, one in each ((n - 1/2) pi, n pi), bracketed."""
    return np.array(
        [
            brentq(lambda q: np.sin(q) + ratio * q * np.cos(q), (n - 0.5) * np.pi + 1e-9, n * np.pi - 1e-9)
            for n in range(1, count + 1)
        ]
    )


def crank_series(fourier, ratio):
    """Plane sheet in a stirred solution of limited volume (crank_1975; form from memory, checked by the next tests)."""
    q = crank_roots(ratio)
    weight = 2 * ratio * (1 + ratio) / (1 + ratio + (ratio * q) ** 2)
    return 1 - np.exp(-np.multiply.outer(fourier, q**2)) @ weight


@pytest.mark.parametrize("ratio", [0.3, 1.0, 5.0, 100.0])
def test_slab_against_root_series(ratio):
    # 120 roots: the first term left out is below exp(-140) at the smallest Fourier number used here.
    np.testing.assert_allclose(salt.slab_uptake(FOURIER, ratio), crank_series(FOURIER, ratio), atol=1e-9)


@pytest.mark.parametrize("ratio", [0.3, 1.0, 5.0])
def test_slab_against_short_time_form(ratio):
    # Half-infinite slab and limited bath, exact but for terms like exp(-1/Fo) (crank_1975, from memory).
    fourier = np.array([1e-6, 1e-4, 1e-3, 0.01])
    short = (1 + ratio) * (1 - erfcx(np.sqrt(fourier) / ratio))
    np.testing.assert_allclose(salt.slab_uptake(fourier, ratio), short, atol=1e-9)


def fine_line(ratio, start, bath, fourier, cells=200, closed=False):
    """Finite volumes packed towards the face, with the bath as last unknown, by LSODA: (mean, bath, centre)."""
    edge = 1.0 - (1.0 - np.linspace(0.0, 1.0, cells + 1)) ** 2
    size, place = np.diff(edge), 0.5 * (edge[1:] + edge[:-1])
    gap = np.append(np.diff(place), 1.0 - place[-1])

    def slope(_, level):
        flow = np.diff(level) / gap  # inward, towards the middle
        flow[-1] *= not closed
        return np.append((flow - np.append(0.0, flow[:-1])) / size, -flow[-1] / ratio)

    answer = solve_ivp(
        slope, (0.0, fourier), np.append(start(place), bath), "LSODA", rtol=1e-9, atol=1e-12, lband=1, uband=1
    )
    level = answer.y[:, -1]
    return size @ level[:-1], level[-1], level[0]


def test_chain_of_soaks_against_lsoda():
    """Brine, rest, fresh water: the second and third step start from a profile, not from an even piece."""
    depth, rate = 0.006, 4e-10
    fourier = np.array([0.15, 0.05, 0.2])
    seconds = fourier * depth**2 / rate
    state, brine = salt.soak(salt.fresh_state(2 * depth, 2), seconds[0], rate, 2.0, 0.12)
    mean, bath, centre = fine_line(2.0, np.zeros_like, 0.12, fourier[0])
    assert (state.mean, brine, state.centre) == pytest.approx((mean, bath, centre), abs=1e-5)

    rested = salt.rest(state, seconds[1], rate)
    mean, _, centre = fine_line(1.0, state.profile, brine, fourier[1], closed=True)
    assert (rested.mean, rested.centre) == pytest.approx((mean, centre), abs=1e-5)

    fresh, water = salt.soak(rested, seconds[2], rate, 3.0, 0.0)
    mean, bath, centre = fine_line(3.0, rested.profile, 0.0, fourier[2])
    assert (fresh.mean, water, fresh.centre) == pytest.approx((mean, bath, centre), abs=1e-5)


def test_dry_salt_that_runs_out_against_lsoda():
    """The dose is gone part of the way through; from there on the face is closed."""
    depth, rate, dose, saturated = 0.006, 4e-10, 0.06, 0.358
    gone = brentq(lambda fourier: saturated * salt.slab_uptake(fourier, np.inf) - dose, 1e-4, 1.0)
    total = gone + 0.1
    state, left = salt.dry_cure(salt.fresh_state(2 * depth, 2), total * depth**2 / rate, rate, dose, saturated)

    def at_gone(place):
        n = np.arange(400)[:, None]
        odd = (2 * n + 1) * np.pi / 2
        return saturated * (1 - (2 * (-1.0) ** n / odd * np.cos(odd * place) * np.exp(-(odd**2) * gone)).sum(0))

    mean, _, centre = fine_line(1.0, at_gone, 0.0, total - gone, closed=True)
    assert (state.mean, state.centre) == pytest.approx((mean, centre), abs=2e-5)
    assert state.mean == pytest.approx(dose, rel=1e-12) and left == 0.0


def difference_strip(ratio, aspect, fourier, cells=48):
    """Explicit differences on a quarter cross-section (second order, bath updated each step): uptake fraction."""
    step = 1.0 / cells
    across = step * aspect
    pace = 0.2 / (1.0 / step**2 + 1.0 / across**2)
    count = int(np.ceil(fourier / pace))
    pace = fourier / count
    level, bath = np.zeros((cells, cells)), 1.0
    for _ in range(count):
        # Ghost cells: mirror at the middle, twice the face value minus the last cell outside.
        deep = np.vstack((level[:1], level, 2 * bath - level[-1:]))
        wide = np.hstack((level[:, :1], level, 2 * bath - level[:, -1:]))
        before = level.mean()
        level = level + pace * (np.diff(deep, 2, axis=0) / step**2 + np.diff(wide, 2, axis=1) / across**2)
        bath -= (level.mean() - before) / ratio
    return level.mean() * (1 + ratio) / ratio


@pytest.mark.parametrize(("ratio", "aspect", "fourier"), [(0.5, 1.0, 0.08), (2.0, 2.4, 0.15), (10.0, 4.0, 0.05)])
def test_strip_against_two_dimensional_differences(ratio, aspect, fourier):
    coarse, fine = (difference_strip(ratio, aspect, fourier, cells) for cells in (24, 48))
    answer = fine + (fine - coarse) / 3.0  # second order
    assert salt.strip_uptake(fourier, fourier / aspect**2, ratio) == pytest.approx(answer, abs=3e-4)
    depth, rate = 0.005, 4e-10
    state, _ = salt.soak(
        salt.fresh_state(2 * depth, 2, 2 * depth * aspect), fourier * depth**2 / rate, rate, ratio, 1.0
    )
    assert state.mean * (1 + ratio) / ratio == pytest.approx(answer, abs=3e-4)


@pytest.mark.parametrize("aspect", [1.0, 3.0, 20.0])
def test_strip_in_an_unlimited_bath_is_the_product_of_two_slabs(aspect):
    # Product solution (crank_1975): exact only when the bath does not weaken.
    left = (1 - salt.slab_uptake(FOURIER, np.inf)) * (1 - salt.slab_uptake(FOURIER / aspect**2, np.inf))
    np.testing.assert_allclose(salt.strip_uptake(FOURIER, FOURIER / aspect**2, np.inf), 1 - left, atol=3e-5)


def test_endless_strip_is_the_slab():
    np.testing.assert_allclose(salt.strip_uptake(FOURIER, 0.0, 2.0), salt.slab_uptake(FOURIER, 2.0), atol=1e-9)
