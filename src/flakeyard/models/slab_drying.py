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

from flakeyard.models.drying_physics import KELVIN, REFERENCE_TEMPERATURE, Air, Box, Dryer, Slab
from flakeyard.models.inputs import checked

__all__ = ["Air", "Box", "Slab", "SlabResult", "dry", "hours_between"]

NODES, POWER = 17, 1.5
TOLERANCE = 3e-3
LONGEST_STEP, FIRST_STEP = 7200.0, 5.0  # s
CHUNK = 512  # members solved together, so that their arrays stay in the cache
LEAST_MOISTURE = 1e-4  # kg/kg, floor of a trial state
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
    """What happened to the pieces; arrays have the shape of the ensemble, then the times; nan is "not computed"."""

    times: np.ndarray
    moisture: np.ndarray
    surface: np.ndarray
    centre: np.ndarray
    temperature: np.ndarray
    air_temperature: np.ndarray
    air_humidity_ratio: np.ndarray
    heater_energy: np.ndarray
    time_to_target: np.ndarray
    steps: int

    @property
    def mass_ratio(self):
        """Mass over mass as loaded."""
        return (1.0 + self.moisture) / (1.0 + self.start[..., None])


class _Chain:
    """Rates and Jacobian of all members as one chain: per member the nodes, then the temperature."""

    def __init__(self, dryer, nodes, power):
        self.dryer, self.nodes = dryer, nodes
        place = 1.0 - (1.0 - np.linspace(0.0, 1.0, nodes)) ** power
        middle = 0.5 * (place[1:] + place[:-1])
        self.width = np.diff(middle, prepend=0.0, append=1.0)
        self.inverse_gap = 1.0 / np.diff(place)
        left, right = np.append(0.0, self.inverse_gap), np.append(self.inverse_gap, 0.0)
        self.from_left, self.from_right = left[1:] / self.width[1:], right[:-1] / self.width[:-1]
        self.leaving = (left + right) / self.width
        self.readout = np.zeros((nodes + 1, 4))  # mean, centre, surface, temperature of a state
        self.readout[:nodes, 0] = self.width
        self.readout[[0, nodes - 1, nodes], [1, 2, 3]] = 1.0
        self.allocate()

    def allocate(self):
        members, nodes = len(self.dryer.start), self.nodes
        self.points = np.empty((members, 2 * nodes - 1))
        self.flux = np.zeros((members, nodes + 1))
        self.probe = np.empty((2, members, 3))
        self.bands = np.zeros((3, members, nodes + 1))
        self.per_node = 1.0 / self.width

    def take(self, members):
        self.dryer = self.dryer.take(members)
        self.allocate()

    def slowing(self, moisture):
        """Diffusivity at a moisture over that of moist flesh: 1 - (1 - r) / (1 + (x / x0)^3)."""
        cubed = moisture * moisture
        cubed *= moisture
        cubed /= self.dryer.transition_cubed
        cubed += 1.0
        np.divide(self.dryer.falling, cubed, out=cubed)
        return np.subtract(1.0, cubed, out=cubed)
