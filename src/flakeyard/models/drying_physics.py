"""What a drying piece and the air around it do: the closures behind `slab_drying`.

Three frozen records describe a problem: `Slab` (the piece), `Air` (constant air) or `Box` (a heater, a fresh-air
flow and a load, from which the air follows). `Dryer` joins a slab and its air into flat arrays, one row a member of
the ensemble, and gives the three things a solver needs: how fast water moves inside, how fast it leaves the surface,
and how fast the piece warms.

Moisture inside is `x_ff`, kg water per kg fat-free salt-free solids, because that is what holds the water.
Lengths and diffusivity are those of the undried piece: shrinkage is then in the diffusivity, as it is in printed ones.
"""

from dataclasses import dataclass, fields, replace

import numpy as np

KELVIN = 273.15
GAS_CONSTANT = 8.314462618  # J/mol/K, exact in the SI since 2019
WATER_MOLAR_MASS = 0.018015268  # kg/mol
VAPOUR_RATIO = 0.621945  # molar mass of water / of dry air
REFERENCE_TEMPERATURE = 30.0  # degC at which a diffusivity is quoted
EVAPORATION_FLOOR = 1e-4  # kg/kg, the least moisture a trial state may have


@dataclass(frozen=True)
class Slab:
    """A flat piece of fish as it is laid on the tray; every field is a float or an array, broadcast together."""

    thickness: float
    faces: float
    water: float
    salt: float
    fat: float
    solids: float
    diffusivity: float = 3.4e-10
    activation: float = 40e3
    dry_end: float = 0.22
    transition: float = 0.60
    fat_effect: float = 0.06
    salt_effect: float = 0.10
    protein_factor: float = 1.0
    gab_k: float = 0.990
    start_temperature: float = 5.0


@dataclass(frozen=True)
class Air:
    """Air that stays as it is, whatever the piece gives off."""

    temperature: float
    humidity_ratio: float
    velocity: float
    pressure: float = 101325.0
    film_factor: float = 1.0
    length: float = 0.10
    radiation: float = 6.0


@dataclass(frozen=True)
class Box:
    """A dryer with a heater, a thermostat, a fresh-air flow and a load; its air follows from what the fish gives off."""

    heater: float
    set_temperature: float
    fresh_air: float
    load: float
    room_temperature: float
    room_humidity_ratio: float
    velocity: float
    wall_loss: float = 1.5
    load_thickness: float | None = None
    load_faces: float | None = None
    pressure: float = 101325.0
    film_factor: float = 1.0
    length: float = 0.10
    radiation: float = 6.0
