"""What a drying piece and the air around it do: the closures behind `slab_drying`.

Three frozen records describe a problem: `Slab` (the piece), and `Air` (constant air) or `Box` (a heater, a fresh-air
flow and a load, from which the air follows). `SlabInAir` joins a slab and its air into columns, one row a member of the
ensemble, and gives what a solver needs: how fast water moves inside, how fast it leaves the surface, how fast the
piece warms.

Moisture inside is `x_ff`, kg water per kg fat-free salt-free solids, because that is what holds the water. Lengths
and diffusivity are those of the undried piece: shrinkage is then part of the diffusivity, as it is in printed ones.
(Put into shrunken coordinates the same printed values would dry a piece two to three times too fast.)
Temperatures are in kelvin inside `SlabInAir` and in degC in the records. A strip is the slab that dries in its time, with
the surface of the strip (`edges`). Left out: the drift of air that evaporation itself makes, and a temperature profile
inside (the piece has one temperature: against a profile the drying time moves by 0.02 % for half thicknesses of 2 to
10 mm; computed).
"""

from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np

from flakeyard.models import edges, flesh, moist_air, sorption
from flakeyard.models.constants import (
    AIR_HEAT,
    GAS_CONSTANT,
    KELVIN,
    STANDARD_PRESSURE,
    VAPOUR_HEAT,
    VAPOUR_RATIO,
    WARM_WATER_HEAT,
    WATER_MOLAR_MASS,
)
from flakeyard.models.inputs import Numbers, Range, checked

REFERENCE_TEMPERATURE = 30.0 + KELVIN  # K, at which a diffusivity is quoted
# Net heat of sorption falls with moisture x_ff as q0 exp(-x / x1) between the two points read in sardine_isotherm:
# 12.07 kJ/mol at 0.0276 and 0.86 kJ/mol at 0.375 kg/kg
BINDING_MOISTURE = float((0.375 - 0.0276) / np.log(12.07 / 0.86))  # kg/kg
BINDING = float(12.07e3 / WATER_MOLAR_MASS * np.exp(0.0276 / BINDING_MOISTURE))  # J/kg

# The solver asks these thousands of times, so it takes quick forms fitted here to `moist_air` over -5 to 100 degC:
# ln p = a + b / (t + 252.5) + c t, good to 0.03 %, and a straight line for the latent heat, good to 0.1 %.
_T = np.linspace(-5.0, 100.0, 211)
_VAPOUR_POLE = 252.5
_VAPOUR = np.linalg.lstsq(
    np.stack((np.ones_like(_T), 1.0 / (_T + _VAPOUR_POLE), _T), axis=1),
    np.log(moist_air.saturation_pressure(_T)),
    rcond=None,
)[0].tolist()  # plain numbers are quicker
_LATENT_SLOPE, _LATENT = np.polyfit(_T, moist_air.latent_heat(_T), 1).tolist()

drying_range = Range(
    "slab_drying",
    {
        "thickness": (0.003, 0.015, "m"),
        "temperature": (20.0, 75.0, "°C"),
        "water": (0.50, 0.85, "kg/kg"),
        "fat": (0.0, 0.20, "kg/kg"),
    },
    "times by a factor of 1.7 either way before anything is weighed (judgement); 22 % rms on twelve published times",
    "yapar_erdol",
)


# Salt slows drying up to a cap. Nothing readable measures fish of 10 to 20 % salt: the twelve trout times end at 10 %
# and cannot choose a shape (computed here), but without a cap wet-salted cod would take a week and more where the
# trade takes two to four days (salt_cod_tunnel).
SALT_CAP, SALT_CAP_BAND = 0.07, (0.04, 0.10)  # kg/kg, judgement; to be drawn evenly

salt_effect_range = Range(
    "salt_slows",
    {"salt": (0.0, 0.10, "kg/kg")},
    "a factor of 1.4 to 2.4 in time at the cap",
    "yapar_erdol",
)


@dataclass(frozen=True)
class Slab:
    """A flat piece of fish as it is laid on the tray; every field is a float or an array, broadcast together.

    Parameters:
        thickness : float or array – of the whole piece [m], allowed 1e-5–1
        width : float or array – of a strip, whose edges dry too; inf for a slab [m], allowed 1e-5 and above
        faces : float or array – faces that dry, two on a mesh, one on a tray or skin [-], allowed 1–2
        water, salt, fat, solids : float or array – masses as loaded; solids: all that is neither [kg/kg], 0 and above
        diffusivity : float or array – of water in moist lean flesh at 30 degC, undried lengths [m2/s], 1e-14–1e-6
        activation : float or array – activation energy of the diffusivity [J/mol], allowed 0–1e6
        dry_end : float or array – diffusivity of dry over moist flesh [-], allowed 0.001–1
        transition : float or array – moisture x_ff half way between the two [kg/kg], allowed 0.001–1000
        fat_effect, salt_effect : float or array – fall of ln D per per cent of the piece [-], allowed 0–1
        salt_cap : float or array – salt of the piece above which more slows no further [kg/kg], allowed 0–1
        protein_factor, gab_k, native : float or array – of the isotherm, see `sorption.isotherm` [-]
        start_temperature : float or array – of the piece as laid [degC], allowed -5–99
    Equation: D = D30 exp(-Ea/R (1/T - 1/303.15)) (r + (1-r) x³/(x³ + x0³)) exp(-a fat% - b min(salt%, cap))
    Valid for: `drying_range`, `salt_effect_range`. Spread: D30 1.5–5e-10, Ea 30–60 kJ/mol, r 0.1–0.4, fat 0.03–0.10,
        salt 0.03–0.13, cap `SALT_CAP_BAND`
    Source: jason_1958, from memory (D30, r, transition, fat); yapar_erdol, computed here (Ea, salt); cap by judgement
    """

    thickness: Numbers
    faces: Numbers
    water: Numbers
    salt: Numbers
    fat: Numbers
    solids: Numbers
    diffusivity: Numbers = 3.4e-10
    activation: Numbers = 40e3
    dry_end: Numbers = 0.22
    transition: Numbers = 0.60
    fat_effect: Numbers = 0.06
    salt_effect: Numbers = 0.10
    salt_cap: Numbers = SALT_CAP
    protein_factor: Numbers = 1.0
    gab_k: Numbers = sorption.GAB_K
    native: Numbers = 1.0
    start_temperature: Numbers = 5.0
    width: Numbers = np.inf


@dataclass(frozen=True)
class Air:
    """Air that stays as it is, whatever the piece gives off.

    Parameters:
        temperature : float or array – of the air [degC], allowed -40–99
        humidity_ratio : float or array – [kg/kg dry air], allowed 0–1
        velocity : float or array – along the piece [m/s], allowed 0–50
        pressure : float or array – [Pa], allowed 3e4–2e5
        film_factor : float or array – times the heat and mass film of a smooth plate [-], allowed 0.001–1000
        length : float or array – of the piece along the air [m], allowed 0.001–10
        radiation : float or array – heat coefficient added by warm walls [W/m2/K], allowed 0–100
    Source: flat_plate; radiation about 6 W/m2/K between walls at 60 degC and a moist piece at 35 (computed)
    """

    temperature: Numbers
    humidity_ratio: Numbers
    velocity: Numbers
    pressure: Numbers = STANDARD_PRESSURE
    film_factor: Numbers = 1.0
    length: Numbers = 0.10
    radiation: Numbers = 6.0


@dataclass(frozen=True)
class Box:
    """A heater, a thermostat, a fresh-air flow and a load; the air follows from what the fish gives off.

    The air is well mixed and holds no heat or water of its own. The load is many pieces like the slab, all in the same
    state; its area follows from thickness, faces and width of the usual piece. Other fields as in `Air`.

    Parameters:
        heater : float or array – the most it gives, inf allowed [W], allowed 0 and above
        set_temperature : float or array – of the thermostat, which the heater never passes [degC], allowed -40–99
        fresh_air : float or array – dry air in and out, inf allowed [kg/s], allowed above 0
        load : float or array – fish as loaded [kg], allowed above 0
        room_temperature, room_humidity_ratio : float or array – of the air drawn in [degC, kg/kg]
        wall_loss : float or array – heat through the walls per K above the room [W/K], 1.5 is a judgement
        load_thickness, load_faces, load_width : float or array – of the usual piece; left out: of the slab [m, -, m]
    Equation: G (W - Wroom) = A J;  Q = (G c + U) (T - Troom) + A h (T - Tpiece), Q at most the heater, T at most the setting
    Source: judgement (a balance of water and of heat, no measured constant but the film)
    """

    heater: Numbers
    set_temperature: Numbers
    fresh_air: Numbers
    load: Numbers
    room_temperature: Numbers
    room_humidity_ratio: Numbers
    velocity: Numbers
    wall_loss: Numbers = 1.5
    load_thickness: Numbers | None = None
    load_faces: Numbers | None = None
    load_width: Numbers | None = None
    pressure: Numbers = STANDARD_PRESSURE
    film_factor: Numbers = 1.0
    length: Numbers = 0.10
    radiation: Numbers = 6.0


# What is possible at all, not what was tested: least and most of every field above
LIMITS = {
    **dict.fromkeys(("thickness", "load_thickness"), (1e-5, 1.0)),
    **dict.fromkeys(("faces", "load_faces"), (1.0, 2.0)),
    **dict.fromkeys(("width", "load_width"), (1e-5, np.inf)),
    **dict.fromkeys(("water", "solids"), (1e-6, 1e6)),
    **dict.fromkeys(("salt", "fat"), (0.0, 1e6)),
    **dict.fromkeys(("fat_effect", "salt_effect", "salt_cap"), (0.0, 1.0)),
    **dict.fromkeys(("temperature", "set_temperature", "room_temperature"), (-40.0, 99.0)),
    **dict.fromkeys(("humidity_ratio", "room_humidity_ratio"), (0.0, 1.0)),
    "velocity": (0.0, 50.0),
    "radiation": (0.0, 100.0),
    "diffusivity": (1e-14, 1e-6),
    "activation": (0.0, 1e6),
    "dry_end": (1e-3, 1.0),
    "transition": (1e-3, 1e3),
    "protein_factor": (0.05, 20.0),
    "gab_k": (0.5, 0.9999),
    "native": (0.0, 5.0),
    "start_temperature": (-5.0, 99.0),
    "pressure": (3e4, 2e5),
    "film_factor": (1e-3, 1e3),
    "length": (1e-3, 10.0),
    "heater": (0.0, np.inf),
    "fresh_air": (1e-9, np.inf),
    "load": (1e-9, 1e6),
    "wall_loss": (0.0, 1e6),
}
ENDLESS = {"heater": 1e15, "fresh_air": 1e6, "width": 1e6, "load_width": 1e6}  # W, kg/s and m that stand for infinity


def _fields(record) -> dict:
    """The fields of a record as float arrays, each checked; fields left None are left out."""
    given = {field.name: getattr(record, field.name) for field in fields(record)}
    finite = {name: np.minimum(value, ENDLESS.get(name, np.inf)) for name, value in given.items() if value is not None}
    return {name: checked(name, value, *LIMITS[name]) for name, value in finite.items()}


class SlabInAir:
    """A slab and its air as columns of shape (members, 1), with the closures of both; a shape may widen the ensemble."""

    start: np.ndarray  # moisture as loaded, kg water per kg of all dry matter
    solids_share: np.ndarray  # kg of fat-free, salt-free solids per kg of all dry matter

    def __init__(self, slab: Slab, air: Air | Box, shape: tuple = ()):
        piece, around = _fields(slab), _fields(air)
        self.shape = np.broadcast_shapes((1,), shape, *(value.shape for value in (*piece.values(), *around.values())))
        self.is_box = isinstance(air, Box)
        piece, around = (
            {name: np.broadcast_to(value, self.shape).reshape(-1, 1) for name, value in part.items()}
            for part in (piece, around)
        )
        own = _piece_columns(piece)
        self._set(own | _air_columns(piece, own, around, self.is_box))

    def _set(self, columns):
        self.columns = columns
        self.__dict__.update(columns)

    @cached_property
    def isotherm(self):
        """The isotherms of the members, made when the first is asked for."""
        return sorption.Isotherm(self.salt_ratio, self.protein_factor, self.gab_k, self.native)

    def _with(self, columns):
        other = object.__new__(SlabInAir)
        other.is_box, other.shape = self.is_box, columns["start"].shape[:1]
        other._set(columns)
        return other

    def take(self, members):
        """The same dryer for some of its members."""
        return self._with({name: column[members] for name, column in self.columns.items()})

    def in_rows(self, copies):
        """The same dryer, its columns laid down as rows and repeated: several times quicker to ask for one face each."""
        return self._with({name: np.concatenate([column[:, 0]] * copies) for name, column in self.columns.items()})

    def warmth(self, temperature):
        """D(T) / L² of moist flesh [1/s] at a piece temperature [K]."""
        return self.rate * np.exp(self.activation_kelvin * (1.0 / REFERENCE_TEMPERATURE - 1.0 / temperature))

    def slowing(self, x_ff):
        """Diffusivity at a moisture over that of moist flesh: 1 - (1 - r) / (1 + (x / x0)³)."""
        part = x_ff * x_ff
        part *= x_ff
        part *= self.per_transition_cubed
        part += 1.0
        np.divide(self.falling, part, out=part)
        return np.subtract(1.0, part, out=part)

    def heat_capacity(self, x_ff):
        """Heat that warms a drying face and what is behind it [J/m2/K] at a mean moisture."""
        return self.solids_per_area * (self.dry_heat + WARM_WATER_HEAT * x_ff)

    def surface(self, x_ff, temperature, mean):
        """Water leaving [kg/m2/s] and heat gained [W/m2] by a surface at x_ff, a temperature [K] and a mean moisture.

        The heat of sorption is taken at the mean moisture, because that is where the water comes from: what a dry
        surface binds more tightly it gave back as heat when it arrived there.
        """
        celsius = temperature - KELVIN
        vapour_pressure = self.isotherm.water_activity(x_ff, celsius) * _vapour_pressure(celsius)
        air_pressure, air_temperature = self.air(vapour_pressure, temperature)
        leaving = self.mass_film * (vapour_pressure - air_pressure)
        latent = _LATENT + _LATENT_SLOPE * celsius + BINDING * np.exp(mean * (-1.0 / BINDING_MOISTURE))
        return leaving, self.heat_film * (air_temperature - temperature) - latent * leaving

    def air(self, vapour_pressure, temperature):
        """Partial pressure of vapour [Pa] and temperature [K] of the air, given those of the surface."""
        if not self.is_box:
            return self.air_pressure, self.air_temperature
        ratio = self._box_humidity(vapour_pressure)
        return self.pressure * ratio / (VAPOUR_RATIO + ratio), self._box_air(temperature)

    def activity(self, x_ff, celsius):
        """Water activity at a moisture and a temperature [degC]; not known where the moisture is not."""
        known = np.isfinite(x_ff)  # the isotherm itself looks at all members together and must not meet a gap
        return np.where(
            known, self.isotherm.water_activity(np.where(known, x_ff, 1.0), np.where(known, celsius, 25.0)), np.nan
        )

    def air_state(self, x_ff, temperature):
        """Temperature [K] and humidity ratio of the air, given surface moisture and temperature [K] of the piece."""
        celsius = temperature - KELVIN
        pressure, air_temperature = self.air(self.activity(x_ff, celsius) * _vapour_pressure(celsius), temperature)
        ratio = VAPOUR_RATIO * pressure / (self.pressure - pressure)
        followed = np.where(np.isnan(temperature), np.nan, 0.0)
        return air_temperature + followed, ratio + followed

    def _box_humidity(self, vapour_pressure):
        """Humidity ratio in the box: what the fish gives off leaves with the fresh air.

        G (W - Wroom) = A k (ps - p W / (e + W)) is a quadratic in W with one root that is not negative.
        """
        half = self.half_dry - self.half_wet * vapour_pressure
        last = self.last_dry + self.last_wet * vapour_pressure
        return last / (half + np.sqrt(half * half + last))

    def _box_air(self, temperature):
        """Air temperature [K] in the box: all the heater can do, but never above the setting."""
        return np.minimum(self.setting, self.heated + self.follows * temperature)

    def box_power(self, temperature):
        """Power the heater draws [W] while the piece is at a temperature [K]."""
        air = self._box_air(temperature)
        return np.maximum(self.losses * (air - self.room) + self.contact * (air - temperature), 0.0)


def _vapour_pressure(celsius):
    return np.exp(_VAPOUR[0] + _VAPOUR[1] / (celsius + _VAPOUR_POLE) + _VAPOUR[2] * celsius)


def _piece_columns(piece):
    solids = piece["solids"]
    dry = piece["salt"] + piece["fat"] + solids  # a sum, so that no share of it comes out above 1
    total = piece["water"] + dry
    size = (piece["thickness"], piece["faces"], piece["width"])
    half = edges.edged_thickness(*size) / piece["faces"]
    density = flesh.density(piece["water"] / total, solids / total, piece["fat"] / total, ash=piece["salt"] / total)
    dry_heat = flesh.heat_capacity(0.0, solids / dry, piece["fat"] / dry, ash=piece["salt"] / dry, temperature=40.0)
    salt = np.minimum(piece["salt"] / total, piece["salt_cap"])
    slowing = np.exp(-100.0 * (piece["fat_effect"] * piece["fat"] / total + piece["salt_effect"] * salt))
    return {
        "start": piece["water"] / solids,
        "start_temperature": piece["start_temperature"] + KELVIN,
        "rate": piece["diffusivity"] * slowing / half**2,
        "activation_kelvin": piece["activation"] / GAS_CONSTANT,
        "falling": 1.0 - piece["dry_end"],
        "per_transition_cubed": piece["transition"] ** -3,
        "density": density,
        "solids_per_area": density * solids / total * half,
        "rim": half * edges.surface_per_volume(*size),  # surface of the piece over that of the slab it dries like
        "dry_heat": dry_heat * dry / solids,
        "solids_share": solids / dry,
        "salt_ratio": piece["salt"] / solids,
        "protein_factor": piece["protein_factor"],
        "gab_k": piece["gab_k"],
        "native": piece["native"],
    }


def _air_columns(piece, own, around, is_box):
    temperature = around["set_temperature" if is_box else "temperature"]
    heat, mass = moist_air.film(temperature, around["velocity"], around["length"], around["pressure"])
    heat = heat * around["film_factor"] + around["radiation"]
    # per Pa of partial pressure, which drives vapour through a film whose temperature is not even
    mass = mass * around["film_factor"] * WATER_MOLAR_MASS / (GAS_CONSTANT * (temperature + KELVIN))
    columns = {"pressure": around["pressure"], "heat_film": heat * own["rim"], "mass_film": mass * own["rim"]}
    if is_box:
        return columns | _box_columns(piece, own, around, heat, mass)
    ratio = around["humidity_ratio"]
    return columns | {
        "air_pressure": around["pressure"] * ratio / (VAPOUR_RATIO + ratio),
        "air_temperature": temperature + KELVIN,
    }


def _box_columns(piece, own, around, heat_film, mass_film):
    usual = (around.get("load_" + name, piece[name]) for name in ("thickness", "faces", "width"))
    area = around["load"] / own["density"] * edges.surface_per_volume(*usual)
    room, ratio = around["room_temperature"] + KELVIN, around["room_humidity_ratio"]
    ventilation, contact = area * mass_film / around["fresh_air"], area * heat_film
    losses = around["fresh_air"] * (AIR_HEAT + VAPOUR_HEAT * ratio) + around["wall_loss"]
    return {
        "room": room,
        "setting": around["set_temperature"] + KELVIN,
        "losses": losses,
        "contact": contact,
        # the air without a thermostat, Q = heater, as a straight line in the temperature of the piece
        "heated": room + (around["heater"] - contact * room) / (losses + contact),
        "follows": contact / (losses + contact),
        # the quadratic for the humidity, its two terms as straight lines in the vapour pressure at the surface
        "half_dry": 0.5 * (VAPOUR_RATIO - ratio + ventilation * around["pressure"]),
        "half_wet": 0.5 * ventilation,
        "last_dry": VAPOUR_RATIO * ratio,
        "last_wet": VAPOUR_RATIO * ventilation,
    }
