"""Strips and rods dried in two directions, against the slabs that are to take the same time.

The quarter of a strip's cross-section (or the radius of a rod) is cut into cells round graded nodes, its mean moisture
and one temperature followed by LSODA. The laws of the surface are those of the solver (`SlabInAir`); nodes, steps and the
second direction are not. A strip without edges gives back the solver's slab, which tests this file itself.
"""

from dataclasses import replace as changed

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.sparse import bmat, csc_matrix, diags, kron

from flakeyard.models import edges
from flakeyard.models.drying_physics import SlabInAir
from flakeyard.models.slab_drying import Air, Slab, dry

HOUR = 3600.0
PIECE = Slab(thickness=0.008, faces=2, water=0.78, salt=0.0, fat=0.0, solids=0.22)
WARM = Air(temperature=63.0, humidity_ratio=0.0073, velocity=1.0)
TARGETS = np.array([0.60, 0.35])  # kg/kg
SHAPES = ((5, 40), (6, 25), (8, 25), (12, 24), (10, 15), (13, 13))  # thickness and width, mm


class Way:
    """One direction on graded nodes from the middle (0) to the open end: cells round the nodes, gaps between them."""

    def __init__(self, length, count, round_rod=False):
        place = length * (1.0 - (1.0 - np.linspace(0.0, 1.0, count)) ** 1.8)
        walls = np.concatenate(([0.0], 0.5 * (place[1:] + place[:-1]), [length]))
        self.count, self.end = count, length if round_rod else 1.0  # end: rim of the last cell per length the other way
        self.cell = np.diff(walls**2) / 2.0 if round_rod else np.diff(walls)
        self.conduct = (walls[1:-1] if round_rod else np.ones(count - 1)) / np.diff(place)


class NoWay:
    """A direction in which nothing happens: one cell, closed."""

    count, end, cell, conduct = 1, 0.0, np.ones(1), np.zeros(0)


class Section:
    """A cross-section, one way by the other, in which water moves; nothing of its state is kept."""

    def __init__(self, slab, air, one, two):
        self.dryer, self.one, self.two = (
            SlabInAir(changed(slab, width=np.inf), air),
            one,
            two,
        )  # its laws, not its edges
        self.own = {name: float(column[0, 0]) for name, column in self.dryer.columns.items()}
        half = slab.thickness / slab.faces
        self.density, self.speed = self.own["solids_per_area"] / half, self.own["rate"] * half**2
        self.area = np.outer(one.cell, two.cell)
        rim = np.zeros(self.area.shape)
        rim[-1] += one.end * two.cell
        rim[:, -1] += two.end * one.cell
        self.rim = rim.ravel()
        self.open = np.flatnonzero(self.rim)
        across = kron(self._links(one), diags(two.cell)) + kron(diags(one.cell), self._links(two))
        self.links = diags(1.0 / self.area.ravel()) @ across

    @staticmethod
    def _links(way):
        """Matrix that gives what flows into every cell along one way, for a diffusivity of one."""
        own = -np.append(way.conduct, 0.0) - np.append(0.0, way.conduct)
        return diags([way.conduct, own, way.conduct], [-1, 0, 1], shape=(way.count, way.count))

    def diffusivity(self, moisture):
        cube, own = moisture**3, self.own
        return 1.0 - own["falling"] + own["falling"] * cube / (cube + 1.0 / own["per_transition_cubed"])

    def warmth(self, kelvin):
        return self.speed * np.exp(-self.own["activation_kelvin"] * (1.0 / kelvin - 1.0 / 303.15))

    def inflow(self, moisture, way):
        """Into every cell along the first axis, with Simpson's mean of the diffusivity."""
        inner, outer = moisture[:-1], moisture[1:]
        mean = (self.diffusivity(inner) + self.diffusivity(outer) + 4.0 * self.diffusivity(0.5 * (inner + outer))) / 6.0
        return np.diff((way.conduct * (mean * (outer - inner)).T).T, axis=0, prepend=0.0, append=0.0)

    def mean(self, moisture):
        return (moisture * self.area.ravel()).sum() / self.area.sum()

    def rim_loss(self, moisture, kelvin):
        """Fall of the moisture of the open cells and warming of the piece, by what the rim gives off."""
        mean = self.mean(moisture)
        leaving, heat = (part.ravel() for part in self.dryer.surface(moisture[self.open], kelvin, mean))
        capacity = self.area.sum() * self.density * (self.own["dry_heat"] + 4180.0 * mean)
        share = self.rim[self.open] / (self.density * self.area.ravel()[self.open])
        return leaving * share, (heat * self.rim[self.open]).sum() / capacity

    def rates(self, _, state):
        flat, kelvin = np.maximum(state[:-1], 1e-6), state[-1]
        moisture = flat.reshape(self.area.shape)
        into = self.inflow(moisture, self.one) * self.two.cell
        into += (self.inflow(moisture.T, self.two) * self.one.cell).T
        rate = self.warmth(kelvin) * (into / self.area).ravel()
        loss, warming = self.rim_loss(flat, kelvin)
        rate[self.open] -= loss
        return np.append(rate, warming)

    def jacobian(self, _, state):
        """Near enough for the steps: slopes of fluxes are diffusivities, those of the rim small differences."""
        flat, kelvin = np.maximum(state[:-1], 1e-6), state[-1]
        loss, warming = self.rim_loss(flat, kelvin)
        wetter, warmer = self.rim_loss(1.01 * flat, kelvin), self.rim_loss(flat, kelvin + 0.01)
        rim, column = np.zeros(flat.size), np.zeros(flat.size)
        rim[self.open], column[self.open] = (wetter[0] - loss) / (0.01 * flat[self.open]), (loss - warmer[0]) / 0.01
        inside = self.warmth(kelvin) * self.links @ diags(self.diffusivity(flat)) - diags(rim)
        row = csc_matrix(np.zeros((1, flat.size)))
        return bmat([[inside, csc_matrix(column[:, None])], [row, [[(warmer[1] - warming) / 0.01]]]], format="csc")

    def hours(self):
        """Hours to the targets."""
        start = np.append(np.full(self.area.size, self.own["start"]), self.own["start_temperature"])
        dry_enough = [lambda _, state, target=target: self.mean(state[:-1]) - target for target in TARGETS]
        dry_enough[-1].terminal = True
        run = solve_ivp(
            self.rates, (0.0, 90.0 * HOUR), start, "BDF", events=dry_enough, jac=self.jacobian, rtol=1e-4, atol=1e-4
        )
        return np.array([moment[0] for moment in run.t_events]) / HOUR


def strip_hours(piece, air=WARM, count=(16, 18)):
    """Of a strip in two directions."""
    ways = Way(piece.thickness / piece.faces, count[0]), Way(piece.width / 2.0, count[1])
    return Section(piece, air, *ways).hours()


def solver_hours(piece, air=WARM):
    """Of the same strip as the solver has it: a slab."""
    share = piece.solids / (piece.solids + piece.salt + piece.fat)  # targets are per fat-free salt-free solids
    return dry(piece, air, [0.0, 90.0 * HOUR], target=TARGETS * share, stop=True).time_to_target / HOUR


def logarithms(shapes, air=WARM, **more):
    """ln of the solver's hours over those in two directions, (shapes, targets)."""
    pieces = [changed(PIECE, thickness=thick / 1e3, width=wide / 1e3, **more) for thick, wide in shapes]
    return np.array([np.log(solver_hours(piece, air) / strip_hours(piece, air)) for piece in pieces])


def test_without_edges_it_is_the_slab_of_the_solver():
    own = Section(PIECE, WARM, Way(PIECE.thickness / 2.0, 24), NoWay).hours()
    np.testing.assert_allclose(own, solver_hours(PIECE), rtol=3e-3)


def test_its_own_grid_is_fine_enough():
    strip = changed(PIECE, thickness=0.010, width=0.015)
    np.testing.assert_allclose(strip_hours(strip), strip_hours(strip, count=(24, 26)), rtol=3e-3)


def test_six_strips():
    error = logarithms(SHAPES)
    print("ln of hours, solver over two directions:", error.round(3).tolist())
    assert np.sqrt(np.mean(error**2)) < 0.025 and np.abs(error).max() < 0.04


@pytest.mark.parametrize(
    "change",
    [
        {"air": changed(WARM, velocity=0.3)},
        {"air": changed(WARM, velocity=4.0)},
        {"air": Air(20.0, 0.0073, 2.0)},
        {"faces": 1},
        {"diffusivity": 1.7e-10},
        {"salt": 0.03, "solids": 0.19},
    ],
    ids=["slow air", "fast air", "cool", "on a tray", "slow inside", "salted"],
)
def test_strips_under_other_conditions(change):
    error = logarithms(((6, 25), (10, 15)), **change)
    print(error.round(3).tolist())
    assert np.abs(error).max() < 0.05


def test_a_strip_for_which_edges_are_left_out_is_said_to_dry_too_slowly():
    thick = changed(PIECE, thickness=0.010, width=0.015)
    flat, strip = solver_hours(changed(thick, width=np.inf)), strip_hours(thick)
    assert np.all(flat > 1.5 * strip)


@pytest.mark.parametrize("diameter", [0.006, 0.020])
def test_a_rod_is_a_slab_of_part_of_its_diameter(diameter):
    radius = changed(PIECE, thickness=diameter)  # the section has the radius for its half thickness
    rod = Section(radius, WARM, Way(diameter / 2.0, 24, round_rod=True), NoWay).hours()
    more = 2.0 * edges.ROD_SHARE
    around = changed(WARM, film_factor=more, radiation=more * WARM.radiation)
    np.testing.assert_allclose(
        solver_hours(changed(PIECE, thickness=edges.rod_thickness(diameter)), around), rod, rtol=0.02
    )
