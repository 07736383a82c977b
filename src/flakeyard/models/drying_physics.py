"""What a drying piece and the air around it do: the closures behind `slab_drying`.

Three frozen records describe a problem: `Slab` (the piece), and `Air` (constant air) or `Box` (a heater, a fresh-air
flow and a load, from which the air follows). `Dryer` joins a slab and its air into columns, one row a member of the
ensemble, and gives what a solver needs: how fast water moves inside, how fast it leaves the surface, how fast the
piece warms.

Moisture inside is `x_ff`, kg water per kg fat-free salt-free solids, because that is what holds the water. Lengths
and diffusivity are those of the undried piece: shrinkage is then part of the diffusivity, as it is in printed ones.
Piece and film temperatures are in kelvin inside `Dryer` and in degC everywhere else.
"""

from dataclasses import dataclass, fields

import numpy as np

KELVIN = 273.15
GAS_CONSTANT = 8.314462618  # J/mol/K, exact in the SI since 2019
WATER_MOLAR_MASS = 0.018015268  # kg/mol
VAPOUR_RATIO = 0.621945  # molar mass of water over that of dry air
REFERENCE_TEMPERATURE = 30.0 + KELVIN  # K, at which a diffusivity is quoted


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
    """A heater, a thermostat, a fresh-air flow and a load; the air follows from what the fish gives off."""

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


LIMITS = {  # (least, most, least is allowed): what is possible at all, not what was tested
    "thickness": (0.0, 1.0, False),
    "faces": (1.0, 2.0, True),
    "water": (0.0, np.inf, False),
    "salt": (0.0, np.inf, True),
    "fat": (0.0, np.inf, True),
    "solids": (0.0, np.inf, False),
    "diffusivity": (0.0, 1e-4, False),
    "activation": (0.0, 1e6, True),
    "dry_end": (0.0, 1.0, False),
    "transition": (0.0, np.inf, False),
    "fat_effect": (0.0, 1.0, True),
    "salt_effect": (0.0, 1.0, True),
    "protein_factor": (0.0, 10.0, False),
    "gab_k": (0.0, 1.0, False),
    "start_temperature": (-2.0, 100.0, True),
    "temperature": (-40.0, 99.0, True),
    "set_temperature": (-40.0, 99.0, True),
    "room_temperature": (-40.0, 60.0, True),
    "humidity_ratio": (0.0, 1.0, True),
    "room_humidity_ratio": (0.0, 1.0, True),
    "velocity": (0.0, 100.0, True),
    "pressure": (3e4, 2e5, True),
    "film_factor": (0.0, 100.0, False),
    "length": (0.0, 10.0, False),
    "radiation": (0.0, 100.0, True),
    "heater": (0.0, np.inf, True),
    "fresh_air": (0.0, np.inf, False),
    "load": (0.0, np.inf, False),
    "wall_loss": (0.0, np.inf, True),
    "load_thickness": (0.0, 1.0, False),
    "load_faces": (1.0, 2.0, True),
}


def checked(record) -> dict:
    """The fields of a record as float arrays, each inside what is possible; fields left None are left out."""
    values = {f.name: getattr(record, f.name) for f in fields(record)}
    return {name: _possible(name, value) for name, value in values.items() if value is not None}


def _possible(name, value):
    low, high, closed = LIMITS[name]
    array = np.asarray(value, float)
    inside = (array >= low if closed else array > low) & (array <= high)
    if not inside.all():  # NaN fails every comparison and so lands here too
        worst = array[~inside].flat[0] if array.ndim else array
        raise ValueError(f"{name} is {worst:g}; allowed is {'from' if closed else 'above'} {low:g} up to {high:g}")
    return array


# Densities [kg/m3] and heat capacities [J/kg/K] near 20 degC of what the piece is made of (Choi and Okos; salt: halite)
DENSITIES = {"water": 995.7, "solids": 1319.5, "fat": 917.2, "salt": 2165.0}
HEAT_CAPACITIES = {"water": 4180.0, "solids": 2030.0, "fat": 2010.0, "salt": 880.0}
AIR_HEAT_CAPACITY, VAPOUR_HEAT_CAPACITY = 1006.0, 1860.0  # J/kg/K


class Dryer:
    """A slab and its air as columns of shape (members, 1), with the closures of both."""

    def __init__(self, slab: Slab, air: Air | Box):
        piece, around = checked(slab), checked(air)
        self.shape = np.broadcast_shapes(*(v.shape for v in (*piece.values(), *around.values()))) or (1,)
        self.is_box = isinstance(air, Box)
        piece, around = (
            {k: np.broadcast_to(v, self.shape).reshape(-1, 1) for k, v in d.items()} for d in (piece, around)
        )
        self.columns = {**_piece_columns(piece), **_air_columns(piece, around, self.is_box)}
        self._spread()

    def take(self, members):
        """The same dryer for some of its members."""
        part = object.__new__(Dryer)
        part.shape, part.is_box = (len(self.columns["start"][members]),), self.is_box
        part.columns = {name: column[members] for name, column in self.columns.items()}
        part._spread()
        return part

    def _spread(self):
        self.__dict__.update(self.columns)
        self.isotherm = _isotherm(self.salt_ratio[:, 0], self.protein_factor[:, 0], self.gab_k[:, 0])

    def warmth(self, temperature):
        """D(T) / L2 of moist flesh [1/s] at a piece temperature [K]."""
        return self.rate * np.exp(self.activation_kelvin * (1.0 / REFERENCE_TEMPERATURE - 1.0 / temperature))

    def surface(self, x_ff, temperature):
        """Water leaving [kg/m2/s] and heat gained [W/m2] by a surface at x_ff and a temperature [K]."""
        celsius = temperature - KELVIN
        vapour_pressure = self.isotherm.water_activity(x_ff, celsius) * saturation_pressure(celsius)
        air_pressure, air_temperature = self.air(vapour_pressure, temperature)
        leaving = self.mass_film * (vapour_pressure - air_pressure)
        latent = 2.501e6 - 2360.0 * celsius + net_sorption_heat(x_ff)
        return leaving, self.heat_film * (air_temperature - temperature) - latent * leaving

    def air(self, vapour_pressure, temperature):
        """Partial pressure of vapour [Pa] and temperature [K] of the air, given those of the surface."""
        if not self.is_box:
            return self.air_pressure, self.air_temperature
        ratio = self.box_humidity(vapour_pressure)
        return self.pressure * ratio / (VAPOUR_RATIO + ratio), self.box_air(temperature)

    def box_humidity(self, vapour_pressure):
        """Humidity ratio in the box: what the fish gives off leaves with the fresh air.

        G (W - W_room) = A k (p_s - P W / (e + W)) is a quadratic in W with one root above zero.
        """
        half = 0.5 * (VAPOUR_RATIO - self.room_ratio + self.ventilation * (self.pressure - vapour_pressure))
        last = VAPOUR_RATIO * (self.room_ratio + self.ventilation * vapour_pressure)
        return last / (half + np.sqrt(half * half + last))

    def box_air(self, temperature):
        """Air temperature [K] in the box: all the heater can do, but never above the setting."""
        with_fish = self.contact * (temperature - self.room)
        free = self.room + (self.heater + with_fish) / (self.losses + self.contact)
        return np.minimum(self.setting, free)

    def box_heat(self, temperature):
        """Power the heater draws [W] while the piece is at a temperature [K]."""
        air = self.box_air(temperature)
        return np.maximum(self.losses * (air - self.room) + self.contact * (air - temperature), 0.0)


def _piece_columns(piece):
    solids, total = piece["solids"], sum(piece[name] for name in DENSITIES)
    density = total / sum(piece[name] / rho for name, rho in DENSITIES.items())
    half = piece["thickness"] / piece["faces"]
    slowing = np.exp(-100.0 * (piece["fat_effect"] * piece["fat"] + piece["salt_effect"] * piece["salt"]) / total)
    dry_capacity = sum(piece[name] * HEAT_CAPACITIES[name] for name in ("solids", "fat", "salt")) / solids
    return {
        "start": piece["water"] / solids,
        "start_temperature": piece["start_temperature"] + KELVIN,
        "rate": piece["diffusivity"] * slowing / half**2,
        "activation_kelvin": piece["activation"] / GAS_CONSTANT,
        "falling": 1.0 - piece["dry_end"],
        "transition_cubed": piece["transition"] ** 3,
        "solids_per_area": density * solids / total * half,
        "dry_capacity": dry_capacity,
        "solids_share": solids / (total - piece["water"]),
        "salt_ratio": piece["salt"] / solids,
        "protein_factor": piece["protein_factor"],
        "gab_k": piece["gab_k"],
        "density": density,
    }
