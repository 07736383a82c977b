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

from flakeyard.models import sorption
from flakeyard.models.inputs import checked

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


# What is possible at all, not what was tested: least and most of every field above
LIMITS = {
    **dict.fromkeys(("thickness", "load_thickness"), (1e-5, 1.0)),
    **dict.fromkeys(("faces", "load_faces"), (1.0, 2.0)),
    **dict.fromkeys(("water", "solids", "protein_factor"), (1e-6, 1e6)),
    **dict.fromkeys(("salt", "fat"), (0.0, 1e6)),
    **dict.fromkeys(("fat_effect", "salt_effect"), (0.0, 1.0)),
    **dict.fromkeys(("temperature", "set_temperature", "room_temperature"), (-40.0, 99.0)),
    **dict.fromkeys(("humidity_ratio", "room_humidity_ratio"), (0.0, 1.0)),
    **dict.fromkeys(("velocity", "radiation"), (0.0, 100.0)),
    "diffusivity": (1e-14, 1e-6),
    "activation": (0.0, 1e6),
    "dry_end": (1e-3, 1.0),
    "transition": (1e-3, 1e3),
    "gab_k": (0.5, 0.9999),
    "start_temperature": (-5.0, 99.0),
    "pressure": (3e4, 2e5),
    "film_factor": (1e-3, 1e3),
    "length": (1e-3, 10.0),
    "heater": (0.0, 1e9),
    "fresh_air": (1e-9, 1e9),
    "load": (1e-9, 1e6),
    "wall_loss": (0.0, 1e6),
}
UNLIMITED = {"heater": 1e9, "fresh_air": 1e9}  # stands for infinity where a field may be infinite


def possible(record) -> dict:
    """The fields of a record as float arrays, each checked; fields left None are left out."""
    given = {field.name: getattr(record, field.name) for field in fields(record)}
    capped = {
        name: np.minimum(value, UNLIMITED.get(name, np.inf)) for name, value in given.items() if value is not None
    }
    return {name: checked(name, value, *LIMITS[name]) for name, value in capped.items()}


# Densities [kg/m3] and heat capacities [J/kg/K] near 20 degC of what the piece is made of (Choi and Okos; salt: halite)
DENSITIES = {"water": 995.7, "solids": 1319.5, "fat": 917.2, "salt": 2165.0}
HEAT_CAPACITIES = {"water": 4180.0, "solids": 2030.0, "fat": 2010.0, "salt": 880.0}
BINDING = sorption.BINDING_ENERGY / WATER_MOLAR_MASS  # J/kg per unit of -ln(water activity)
AIR_HEAT_CAPACITY, VAPOUR_HEAT_CAPACITY = 1006.0, 1860.0  # J/kg/K


class Dryer:
    """A slab and its air as columns of shape (members, 1), with the closures of both."""

    def __init__(self, slab: Slab, air: Air | Box):
        piece, around = possible(slab), possible(air)
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
        self.isotherm = sorption.isotherm(self.salt_ratio, self.protein_factor, self.gab_k)

    def warmth(self, temperature):
        """D(T) / L2 of moist flesh [1/s] at a piece temperature [K]."""
        return self.rate * np.exp(self.activation_kelvin * (1.0 / REFERENCE_TEMPERATURE - 1.0 / temperature))

    def slowing(self, x_ff):
        """Diffusivity at a moisture over that of moist flesh: 1 - (1 - r) / (1 + (x / x0)^3)."""
        cubed = x_ff * x_ff
        cubed *= x_ff
        cubed *= self.per_transition_cubed
        cubed += 1.0
        np.divide(self.falling, cubed, out=cubed)
        return np.subtract(1.0, cubed, out=cubed)

    def heat_capacity(self, x_ff):
        """Heat capacity of the piece [J/K] per kg of fat-free salt-free solids times the latter per area."""
        return self.solids_per_area * (self.dry_capacity + HEAT_CAPACITIES["water"] * x_ff)

    def surface(self, x_ff, temperature):
        """Water leaving [kg/m2/s] and heat gained [W/m2] by a surface at x_ff and a temperature [K]."""
        celsius = temperature - KELVIN
        activity = self.isotherm.water_activity(x_ff, celsius)
        vapour_pressure = activity * saturation_pressure(celsius)
        air_pressure, air_temperature = self.air(vapour_pressure, temperature)
        leaving = self.mass_film * (vapour_pressure - air_pressure)
        latent = 2.501e6 - 2360.0 * celsius - BINDING * np.log(activity)
        return leaving, self.heat_film * (air_temperature - temperature) - latent * leaving

    def air(self, vapour_pressure, temperature):
        """Partial pressure of vapour [Pa] and temperature [K] of the air, given those of the surface."""
        if not self.is_box:
            return self.air_pressure, self.air_temperature
        ratio = self.box_humidity(vapour_pressure)
        return self.pressure * ratio / (VAPOUR_RATIO + ratio), self.box_air(temperature)

    def air_state(self, x_ff, temperature):
        """Temperature [K] and humidity ratio of the air, given surface moisture and temperature [K] of the piece."""
        celsius = temperature - KELVIN
        vapour_pressure = self.isotherm.water_activity(x_ff, celsius) * saturation_pressure(celsius)
        pressure, air_temperature = self.air(vapour_pressure, temperature)
        ratio = VAPOUR_RATIO * pressure / (self.pressure - pressure)
        return np.broadcast_arrays(air_temperature + 0.0 * temperature, ratio + 0.0 * temperature)

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
        "per_transition_cubed": piece["transition"] ** -3,
        "solids_per_area": density * solids / total * half,
        "dry_capacity": dry_capacity,
        "solids_share": solids / (total - piece["water"]),
        "salt_ratio": piece["salt"] / solids,
        "protein_factor": piece["protein_factor"],
        "gab_k": piece["gab_k"],
        "density": density,
    }


def _air_columns(piece, around, is_box):
    temperature = around["set_temperature" if is_box else "temperature"]
    heat, mass = film(temperature, around["velocity"], around["length"], around["pressure"])
    heat, mass = heat * around["film_factor"], mass * around["film_factor"]
    columns = {
        "pressure": around["pressure"],
        "heat_film": heat + around["radiation"],
        "mass_film": mass / (GAS_CONSTANT / WATER_MOLAR_MASS * (temperature + KELVIN)),
    }
    if is_box:
        return columns | _box_columns(piece, around, columns)
    ratio = around["humidity_ratio"]
    columns["air_pressure"] = around["pressure"] * ratio / (VAPOUR_RATIO + ratio)
    return columns | {"air_temperature": temperature + KELVIN, "air_ratio": ratio}


def _box_columns(piece, around, films):
    density = _piece_columns(piece)["density"]
    area = around["load"] / (density * around.get("load_thickness", piece["thickness"]))
    area = area * around.get("load_faces", piece["faces"])
    moist_capacity = AIR_HEAT_CAPACITY + VAPOUR_HEAT_CAPACITY * around["room_humidity_ratio"]
    return {
        "room_ratio": around["room_humidity_ratio"],
        "ventilation": area * films["mass_film"] / around["fresh_air"],
        "room": around["room_temperature"] + KELVIN,
        "setting": around["set_temperature"] + KELVIN,
        "heater": around["heater"],
        "losses": around["fresh_air"] * moist_capacity + around["wall_loss"],
        "contact": area * films["heat_film"],
    }


def saturation_pressure(celsius):
    return np.exp(25.6266601 - 4850.20012 / (celsius + 252.465333) - 3.39162894e-3 * celsius)


def film(temperature, velocity, length, pressure):
    kelvin = temperature + KELVIN
    density = pressure / (287.05 * kelvin)
    conductivity, viscosity = 0.0243 + 7.0e-5 * temperature, 13.3e-6 + 0.095e-6 * temperature
    nusselt = 0.664 * np.sqrt(velocity * length / viscosity) * 0.707 ** (1 / 3)
    heat = np.maximum(nusselt * conductivity / length, 4.0)
    lewis = conductivity / (density * 1007.0) / (2.26e-5 * (kelvin / 273.15) ** 1.81 * 101325.0 / pressure)
    return heat, heat / (density * 1007.0) * lewis ** (-2 / 3)
