"""Air of the simulator: vapour, films, and the box whose air passes over one tray after another.

Everything is in partial pressures of vapour [Pa], with the vapour taken as dilute: W = 0.622 p / P. Temperatures in
degC, flows in kg dry air a second.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, inf, isinf, log, pi, sin

import numpy as np

AIR_HEAT = 1010.0  # J/kg/K, moist room air; textbook value, from memory
DILUTE = 0.622  # kg/mol of water over that of air
LEWIS = 1.09  # mass over heat film: Le^(-2/3) with Le 0.88; textbook value, from memory
SEA_LEVEL = 101325.0  # Pa
STILL, BLOWN, POWER = 7.0, 12.0, 0.6  # W/m2/K, -: film over rough pieces on a mesh, invented
RADIATION = 5.0  # W/m2/K from walls near the air's temperature; invented (emissivity 0.8 at 40 degC)


def saturation(celsius):
    """Vapour pressure of water [Pa]: Magnus form, Alduchov and Eskridge 1996, from memory."""
    return 610.94 * np.exp(17.625 * celsius / (celsius + 243.04))


def saturation_slope(celsius):
    """Its rise [Pa/K]."""
    return saturation(celsius) * 17.625 * 243.04 / (celsius + 243.04) ** 2


def latent(celsius):
    """Heat of evaporation [J/kg]: straight line of steam tables, from memory."""
    return 2.501e6 - 2380.0 * celsius


def pressure_at(metres):
    """Pressure of the air at a height [Pa], falling by a factor e in 8.4 km."""
    return SEA_LEVEL * exp(-metres / 8400.0)


def film(speed, factor=1.0):
    """Heat film [W/m2/K] at an air speed [m/s], without radiation."""
    return (STILL + BLOWN * np.asarray(speed) ** POWER) * factor


def mass_film(heat_film, pressure=SEA_LEVEL):
    """Mass film [kg/m2/s/Pa] that goes with a heat film."""
    return heat_film * LEWIS * DILUTE / (AIR_HEAT * pressure)


@dataclass(frozen=True)
class Room:
    """Air that is drawn in: means, and a swing over the day that takes humidity the other way; phase in hours."""

    temperature: float = 20.0
    humidity: float = 0.5
    swing: float = 0.0  # K, half of warmest less coldest
    phase: float = 0.0  # h from the start of drying to the middle of the warming
    pressure: float = SEA_LEVEL

    def warmth(self, hours: float) -> float:
        return self.temperature + self.swing * sin(2 * pi * (hours - self.phase) / 24)

    def vapour(self, hours: float) -> float:
        """The vapour in it is steadier than the relative humidity: half of the swing shows in it."""
        return self.humidity * float(saturation(self.temperature + 0.5 * (self.warmth(hours) - self.temperature)))


@dataclass(frozen=True)
class Box:
    """The dryer. Endless ``flow`` means that all trays see the same air and the room's vapour; endless ``heater``
    that the dial is always reached; ``band`` 0 that it is held exactly."""

    dial: float
    offset: float = 0.0  # K, true less dial
    band: float = 0.0  # K between off and on
    heater: float = inf  # W
    fresh: float = 0.01  # kg/s that enters and leaves
    flow: float = inf  # kg/s over the trays; what is not fresh goes round
    wall: float = 1.5  # W/K; invented
    holds: float = 6000.0  # J/K of walls and trays; invented (four kilograms of sheet and plastic)
    speed: float = 1.0  # m/s

    @property
    def share(self) -> float:
        """Part of the flow that is fresh."""
        return 0.0 if isinf(self.flow) else min(self.fresh / self.flow, 1.0)


def passed(conductance: np.ndarray, capacity: float) -> tuple[np.ndarray, np.ndarray]:
    """What a stream gives up on a tray (0 nothing, 1 all), and the film that acts against the incoming air."""
    if isinf(capacity):
        return np.zeros_like(conductance), np.ones_like(conductance)
    units = np.maximum(conductance / capacity, 1e-9)
    given = -np.expm1(-units)
    return given, given / units


def along(order, given, surface) -> tuple[np.ndarray, np.ndarray, float, float]:
    """Air in front of every tray as a + b × (air in front of the first), and the same behind the last.

    ``order``: trays in the order of the stream; ``given``, ``surface``: of each tray.
    """
    a, b = 0.0, 1.0
    before_a, before_b = np.empty(len(order)), np.empty(len(order))
    for tray in order:
        before_a[tray], before_b[tray] = a, b
        a, b = a * (1 - given[tray]) + given[tray] * surface[tray], b * (1 - given[tray])
    return before_a, before_b, a, b


@dataclass
class Heater:
    """Thermostat with hysteresis: keeps its state from step to step."""

    box: Box
    temperature: float
    on: bool = True

    def run(self, seconds: float, lost: float, drawn: float) -> float:
        """Mean temperature of the heated air over some seconds; heat lost is ``lost`` × T - ``drawn`` [W]."""
        box, goal = self.box, self.box.dial + self.box.offset
        if box.band <= 0.0:
            self.temperature = max(min(goal, (drawn + box.heater) / lost), drawn / lost)
            return self.temperature
        low, high = goal - 0.5 * box.band, goal + 0.5 * box.band
        power = min(box.heater, 2.5 * max(lost * goal - drawn, 1.0))  # endless: twice and a half what it takes
        time, area, left = box.holds / lost, 0.0, seconds
        while left > 1e-6:
            end = (drawn + (power if self.on else 0.0)) / lost
            edge = high if self.on else low
            span, after = _until(self.temperature, end, edge, time)
            turns = span <= left
            span = min(span, left)
            after = edge if turns else end + (self.temperature - end) * exp(-span / time)
            area += end * span + (self.temperature - end) * time * -np.expm1(-span / time)
            self.temperature, left, self.on = after, left - span, self.on != turns
        return float(area / seconds)


def _until(now: float, end: float, edge: float, time: float) -> tuple[float, float]:
    """Seconds until a temperature on its way to ``end`` crosses an edge, and the temperature then."""
    rising = end > now
    if (rising and now >= edge) or (not rising and now <= edge):
        passed_it = (rising and edge > end) or (not rising and edge < end)
        return (inf, end) if passed_it else (1e-3, edge)
    if (rising and end <= edge) or (not rising and end >= edge):
        return inf, end
    return time * log((now - end) / (edge - end)), edge
