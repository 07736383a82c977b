"""Moist air: humidity, wet bulb, dew point, enthalpy, and how fast it brings heat to a surface and takes water off.

Humidity is `humidity_ratio`, kg water per kg dry air, because warming air does not change it; relative humidity is
a fraction. Air and vapour are ideal gases here: the enhancement of the vapour pressure by the air (1.004 to 1.006) is
left out, so a humidity ratio from a relative humidity is 0.4 to 0.6 % low. Water below 0 °C is taken as undercooled.
"""

import numpy as np

from flakeyard.messages import say
from flakeyard.models.constants import (
    AIR_HEAT,
    DRY_AIR_GAS_CONSTANT,
    GRAVITY,
    KELVIN,
    LATENT_AT_ZERO,
    REFERENCE_KELVIN,
    STANDARD_PRESSURE,
    STEFAN_BOLTZMANN,
    VAPOUR_HEAT,
    VAPOUR_RATIO,
    WATER_HEAT,
)
from flakeyard.models.inputs import Numbers, Range, checked, rising_root

COLDEST, HOTTEST = -60.0, 150.0  # degC, what is accepted at all

# Vapour pressure over water (iapws_saturation): critical point, factors and the powers of 1 - T/Tc they belong to.
CRITICAL_KELVIN, CRITICAL_PRESSURE = 647.096, 22.064e6
SATURATION_TERMS = (-7.85951783, 1.84408259, -11.7866497, 22.6807411, -15.9618719, 1.80122502)

moist_air_range = Range(
    "moist_air",
    {"temperature": (0.0, 100.0, "°C"), "pressure": (70e3, 105e3, "Pa")},
    "0.1 % of the vapour pressure, 0.6 % of the humidity ratio, 0.05 °C of the wet bulb",
    "psychrolib",
)
film_range = Range(
    "air_film",
    {"temperature": (0.0, 90.0, "°C"), "velocity": (0.2, 5.0, "m/s"), "length": (0.02, 1.0, "m")},
    "a factor of 1.5 in a real dryer (judgement): fans do not blow smoothly along a plate",
    "flat_plate",
)


def saturation_pressure(temperature: Numbers) -> Numbers:
    """Vapour pressure over water.

    Parameters:
        temperature : float or array – of the water [degC], allowed -60–150
    Returns: float or array – pressure [Pa]
    Equation: ln(p/pc) = (Tc/T) (a1 v + a2 v^1.5 + a3 v^3 + a4 v^3.5 + a5 v^4 + a6 v^7.5), v = 1 - T/Tc
    Valid for: 0.01–100 degC, 0.01 %; undercooled water to -20 degC, 0.1 %; not for ice (`moist_air_range`)
    Raises: ValueError when the temperature is impossible
    Source: iapws_saturation
    Example:
        >>> f"{float(saturation_pressure(temperature=20)):.4g}"  # check value vapour_pressure_20c
        '2339'
    """
    kelvin = checked("temperature", temperature, COLDEST, HOTTEST) + KELVIN
    a1, a2, a3, a4, a5, a6 = SATURATION_TERMS
    v = 1.0 - kelvin / CRITICAL_KELVIN
    half, cube = np.sqrt(v), v * v * v
    total = v * (a1 + a2 * half) + cube * (a3 + a4 * half + a5 * v + a6 * cube * v * half)
    return CRITICAL_PRESSURE * np.exp(CRITICAL_KELVIN / kelvin * total)


def latent_heat(temperature: Numbers) -> Numbers:
    """Heat that evaporates water.

    Parameters:
        temperature : float or array – of the water [degC], allowed -60–150
    Returns: float or array – heat [J/kg]
    Equation: cubic in t
    Valid for: 0–100 degC, 0.002 %
    Raises: ValueError when the temperature is impossible
    Source: coolprop_water, fitted here
    """
    t = checked("temperature", temperature, COLDEST, HOTTEST)
    return np.polyval((-1.22599706e-2, 0.524358955, -2374.79636, 2500907.65), t)


def vapour_pressure(humidity_ratio: Numbers, pressure: Numbers = STANDARD_PRESSURE) -> Numbers:
    """Partial pressure of the vapour in moist air.

    Parameters:
        humidity_ratio : float or array – water per dry air [kg/kg], allowed 0 and above
        pressure : float or array – of the whole air [Pa], allowed 1 000–1 000 000
    Returns: float or array – pressure [Pa]
    Equation: pv = p W / (0.621945 + W)
    Valid for: ideal gases
    Raises: ValueError when the humidity ratio is negative
    Source: ashrae_fundamentals
    """
    ratio = checked("humidity_ratio", humidity_ratio)
    return checked("pressure", pressure, 1e3, 1e6) * ratio / (VAPOUR_RATIO + ratio)


def humidity_ratio(temperature: Numbers, relative_humidity: Numbers, pressure: Numbers = STANDARD_PRESSURE) -> Numbers:
    """Water in air per kg dry air, given temperature and relative humidity.

    Parameters:
        temperature : float or array – of the air [degC], allowed -60–150
        relative_humidity : float or array – fraction of saturation [-], allowed 0–1
        pressure : float or array – of the whole air [Pa], allowed 1 000–1 000 000
    Returns: float or array – water per dry air [kg/kg]
    Equation: W = 0.621945 pv / (p - pv), pv = rh ps(t)
    Valid for: 0–90 degC; 0.4 to 0.6 % low (`moist_air_range`)
    Raises: ValueError when an input is impossible, or the vapour alone would exceed the pressure (boiling)
    Source: ashrae_fundamentals
    Example:
        >>> f"{float(humidity_ratio(temperature=20.0, relative_humidity=0.4)):.4g}"  # check value humidity_ratio_pl_20c_40
        '0.005797'
    """
    humid = checked("relative_humidity", relative_humidity, 0.0, 1.0)
    partial = humid * saturation_pressure(temperature)
    whole = checked("pressure", pressure, 1e3, 1e6)
    if np.any(partial >= whole):
        highest = np.min(whole / saturation_pressure(temperature))
        raise ValueError(say("input.boils", humid=np.max(humid), highest=highest))
    return VAPOUR_RATIO * partial / (whole - partial)


def relative_humidity(temperature: Numbers, humidity_ratio: Numbers, pressure: Numbers = STANDARD_PRESSURE) -> Numbers:
    """Relative humidity, given temperature and water content: the inverse of `humidity_ratio`.

    Parameters:
        temperature : float or array – of the air [degC], allowed -60–150
        humidity_ratio : float or array – water per dry air [kg/kg], allowed 0 and above
        pressure : float or array – of the whole air [Pa], allowed 1 000–1 000 000
    Returns: float or array – fraction of saturation [-]; above 1 means fog
    Equation: rh = pv / ps(t)
    Valid for: 0–100 degC; 0.4 to 0.6 % high
    Raises: ValueError when an input is impossible
    Source: ashrae_fundamentals
    Example:
        >>> f"{float(relative_humidity(temperature=50.0, humidity_ratio=0.005796)):.4g}"  # check value relative_humidity_pl_0
        '0.07574'
    """
    return vapour_pressure(humidity_ratio, pressure) / saturation_pressure(temperature)


def dew_point(humidity_ratio: Numbers, pressure: Numbers = STANDARD_PRESSURE) -> Numbers:
    """Temperature at which cooled air begins to wet things.

    Parameters:
        humidity_ratio : float or array – water per dry air [kg/kg], allowed 0 and above
        pressure : float or array – of the whole air [Pa], allowed 1 000–1 000 000
    Returns: float or array – temperature, not below -60 (dry air) [degC]
    Equation: ps(t) = pv, solved for t
    Valid for: 0–100 degC, 0.02 degC; below 0 over undercooled water, not frost
    Raises: ValueError when an input is impossible
    Source: iapws_saturation
    """
    target = np.log(np.maximum(vapour_pressure(humidity_ratio, pressure), 1e-6))
    return rising_root(lambda t: np.log(saturation_pressure(t)) - target, np.full(np.shape(target), COLDEST), HOTTEST)


def enthalpy(temperature: Numbers, humidity_ratio: Numbers) -> Numbers:
    """Heat content of moist air per kg dry air, from dry air and liquid water at 0 degC.

    Parameters:
        temperature : float or array – of the air [degC], allowed -60–150
        humidity_ratio : float or array – water per dry air [kg/kg], allowed 0 and above
    Returns: float or array – heat content [J/kg dry air]
    Equation: h = 1006 t + W (2501000 + 1860 t)
    Valid for: -5–100 degC; 0.2 % of differences
    Raises: ValueError when an input is impossible
    Source: ashrae_fundamentals
    """
    t = checked("temperature", temperature, COLDEST, HOTTEST)
    return AIR_HEAT * t + checked("humidity_ratio", humidity_ratio) * (LATENT_AT_ZERO + VAPOUR_HEAT * t)


def wet_bulb(temperature: Numbers, humidity_ratio: Numbers, pressure: Numbers = STANDARD_PRESSURE) -> Numbers:
    """Temperature that air reaches by evaporating water into itself: about that of a wet piece in it.

    Parameters:
        temperature : float or array – of the air [degC], allowed -60–150
        humidity_ratio : float or array – water per dry air [kg/kg], allowed 0 and above
        pressure : float or array – of the whole air [Pa], allowed 1 000–1 000 000
    Returns: float or array – temperature, that of the air when it is saturated or foggy [degC]
    Equation: h(t, W) + (Ws(t*) - W) 4186 t* = h(t*, Ws(t*)), solved for t*
    Valid for: -5–100 degC, 0.05 degC against two libraries; thermodynamic, over undercooled water below 0
    Raises: ValueError when an input is impossible
    Source: ashrae_fundamentals
    Example:
        >>> f"{float(wet_bulb(temperature=50.0, humidity_ratio=0.005796)):.4g}"  # check value wet_bulb_pl_0
        '22.51'
    """
    t = checked("temperature", temperature, COLDEST, HOTTEST)
    whole = checked("pressure", pressure, 1e3, 1e6)
    heat = enthalpy(t, humidity_ratio)
    t, ratio, whole, heat = np.broadcast_arrays(t, np.asarray(humidity_ratio, dtype=float), whole, heat)

    def missing(trial):  # times the dry air's share of the pressure, so that it stays finite where water boils
        partial = saturation_pressure(trial)
        dry, saturated = whole - partial, VAPOUR_RATIO * partial
        after = dry * AIR_HEAT * trial + saturated * (LATENT_AT_ZERO + VAPOUR_HEAT * trial)
        return after - dry * heat - (saturated - ratio * dry) * WATER_HEAT * trial

    return rising_root(missing, np.full(t.shape, COLDEST), t)


def drying_capacity(temperature: Numbers, humidity_ratio: Numbers, pressure: Numbers = STANDARD_PRESSURE) -> Numbers:
    """Water that air can still take from wet things before it is full, when its own warmth is the only heat.

    Parameters:
        temperature : float or array – of the air [degC], allowed -60–150
        humidity_ratio : float or array – water per dry air [kg/kg], allowed 0 and above
        pressure : float or array – of the whole air [Pa], allowed 1 000–1 000 000
    Returns: float or array – water per dry air [kg/kg]; 0 for saturated or foggy air
    Equation: Ws(t*) - W, t* the wet bulb
    Valid for: as `wet_bulb`; 0.5 % of the saturated humidity ratio. A real dryer lets air go half full
    Raises: ValueError when an input is impossible
    Source: ashrae_fundamentals
    Example:
        >>> f"{float(drying_capacity(temperature=63, humidity_ratio=0.0073)):.4g}"  # check value capacity_63c_0.0073
        '0.01513'
    """
    full = saturation_pressure(wet_bulb(temperature, humidity_ratio, pressure))
    return np.maximum(VAPOUR_RATIO * full / (np.asarray(pressure) - full) - humidity_ratio, 0.0)


def density(temperature: Numbers, humidity_ratio: Numbers = 0.0, pressure: Numbers = STANDARD_PRESSURE) -> Numbers:
    """Mass of a cubic metre of moist air.

    Parameters:
        temperature : float or array – of the air [degC], allowed -60–150
        humidity_ratio : float or array – water per dry air [kg/kg], allowed 0 and above
        pressure : float or array – of the whole air [Pa], allowed 1 000–1 000 000
    Returns: float or array – mass of dry air and vapour [kg/m3]
    Equation: rho = p (1 + W) / (287.042 T (1 + W/0.621945))
    Valid for: ideal gases; 0.2 %
    Raises: ValueError when an input is impossible
    Source: ashrae_fundamentals
    """
    kelvin = checked("temperature", temperature, COLDEST, HOTTEST) + KELVIN
    ratio = checked("humidity_ratio", humidity_ratio)
    whole = checked("pressure", pressure, 1e3, 1e6)
    return whole * (1.0 + ratio) / (DRY_AIR_GAS_CONSTANT * kelvin * (1.0 + ratio / VAPOUR_RATIO))


def altitude_pressure(altitude: Numbers) -> Numbers:
    """Pressure of the air at a height above the sea, in the standard atmosphere.

    Parameters:
        altitude : float or array – height above the sea [m], allowed -500–11 000
    Returns: float or array – pressure [Pa]
    Equation: p = 101325 (1 - 0.0065 z / 288.15)^5.25588
    Valid for: up to 11 000 m; weather moves it by 3 %
    Raises: ValueError when the altitude is impossible
    Source: icao_atmosphere
    Example:
        >>> f"{float(altitude_pressure(altitude=500.0)):.4g}"  # check value pressure_at_500_m
        '9.546e+04'
    """
    height = checked("altitude", altitude, -500.0, 11000.0)
    return STANDARD_PRESSURE * (1.0 - 0.0065 * height / 288.15) ** 5.25588


def boiling_temperature(pressure: Numbers = STANDARD_PRESSURE) -> Numbers:
    """Temperature at which water boils: the warm mark for checking a thermometer.

    Parameters:
        pressure : float or array – of the air [Pa], allowed 1 000–400 000
    Returns: float or array – temperature [degC]
    Equation: ps(t) = p, solved for t
    Valid for: pure water, 0.01–140 degC, 0.01 degC; salt for the kitchen pot adds a few tenths
    Raises: ValueError when the pressure is impossible
    Source: iapws_saturation
    Example:
        >>> f"{float(boiling_temperature(pressure=89874.6)):.4g}"  # check value boiling_1000m
        '96.65'
    """
    target = np.log(checked("pressure", pressure, 1e3, 4e5))
    return rising_root(lambda t: np.log(saturation_pressure(t)) - target, np.zeros(np.shape(target)), HOTTEST)


def air_conductivity(temperature: Numbers) -> Numbers:
    """Heat conductivity of air.

    Parameters:
        temperature : float or array – of the air [degC], allowed -60–150
    Returns: float or array – conductivity [W/m/K]
    Equation: k = 0.026237 (T/298.15)^0.8368
    Valid for: -5–100 degC, 0.2 % of dry air; vapour lowers it by up to 2 %
    Raises: ValueError when the temperature is impossible
    Source: coolprop_air, fitted here
    """
    return 0.026237 * ((checked("temperature", temperature, COLDEST, HOTTEST) + KELVIN) / REFERENCE_KELVIN) ** 0.8368


def air_viscosity(temperature: Numbers) -> Numbers:
    """Dynamic viscosity of air.

    Parameters:
        temperature : float or array – of the air [degC], allowed -60–150
    Returns: float or array – viscosity [Pa s]
    Equation: mu = 1.8440e-5 (T/298.15)^0.7713
    Valid for: -5–100 degC, 0.2 % of dry air
    Raises: ValueError when the temperature is impossible
    Source: coolprop_air, fitted here
    """
    return 1.8440e-5 * ((checked("temperature", temperature, COLDEST, HOTTEST) + KELVIN) / REFERENCE_KELVIN) ** 0.7713


def vapour_diffusivity(temperature: Numbers, pressure: Numbers = STANDARD_PRESSURE) -> Numbers:
    """Diffusion coefficient of water vapour in air.

    Parameters:
        temperature : float or array – of the air [degC], allowed -60–150
        pressure : float or array – of the whole air [Pa], allowed 1 000–1 000 000
    Returns: float or array – diffusion coefficient [m2/s]
    Equation: D = 1.87e-10 T^2.072 (101325/p)
    Valid for: 9–177 degC, 5 %
    Raises: ValueError when an input is impossible
    Source: marrero_mason_1972, from memory
    """
    kelvin = checked("temperature", temperature, COLDEST, HOTTEST) + KELVIN
    return 1.87e-10 * kelvin**2.072 * STANDARD_PRESSURE / checked("pressure", pressure, 1e3, 1e6)


def film(
    temperature: Numbers,
    velocity: Numbers,
    length: Numbers,
    pressure: Numbers = STANDARD_PRESSURE,
    difference: Numbers = 10.0,
) -> tuple[Numbers, Numbers]:
    """How readily air brings heat to a flat piece and takes vapour from it, without radiation.

    Parameters:
        temperature : float or array – of the air [degC], allowed -60–150
        velocity : float or array – of the air along the piece [m/s], allowed 0–50
        length : float or array – of the piece along the air [m], allowed 0.001–10
        pressure : float or array – of the whole air [Pa], allowed 1 000–1 000 000
        difference : float or array – between air and piece, drives the still-air floor [K], allowed 0–100
    Returns: tuple of two float or array – heat coefficient [W/m2/K], mass coefficient on vapour density [m/s]
    Equation: Nu = 0.664 Re^0.5 Pr^(1/3), at least 0.54 Ra^0.25; hm = h / (rho cp) Le^(-2/3)
    Valid for: smooth flow along a plate, Re below 5e5 (`film_range`); in a real dryer a factor of 1.5 (judgement)
    Raises: ValueError when an input is impossible
    Source: flat_plate, from memory
    """
    speed, long = checked("velocity", velocity, 0.0, 50.0), checked("length", length, 1e-3, 10.0)
    drive = checked("difference", difference, 0.0, 100.0)
    conductivity, rho = air_conductivity(temperature), density(temperature, 0.0, pressure)
    kinematic, heat_diffusivity = air_viscosity(temperature) / rho, conductivity / (rho * AIR_HEAT)
    prandtl = kinematic / heat_diffusivity
    rayleigh = GRAVITY * drive * long**3 / ((np.asarray(temperature) + KELVIN) * kinematic * heat_diffusivity)
    forced = 0.664 * np.sqrt(speed * long / kinematic) * np.cbrt(prandtl)
    heat = np.maximum(forced, 0.54 * rayleigh**0.25) * conductivity / long
    lewis = heat_diffusivity / vapour_diffusivity(temperature, pressure)
    return heat, heat / (rho * AIR_HEAT) * lewis ** (-2.0 / 3.0)


def radiation_coefficient(temperature: Numbers, surroundings: Numbers, emissivity: Numbers = 0.9) -> Numbers:
    """Heat radiated to a piece by warmer walls and trays, as a coefficient to add to that of the film.

    Parameters:
        temperature : float or array – of the piece [degC], allowed -60–150
        surroundings : float or array – of what it sees [degC], allowed -60–150
        emissivity : float or array – of the piece; moist flesh 0.9 from memory [-], allowed 0–1
    Returns: float or array – heat coefficient [W/m2/K]
    Equation: h = e s (T1² + T2²) (T1 + T2)
    Valid for: a piece that sees only walls of one temperature
    Raises: ValueError when an input is impossible
    Source: flat_plate, from memory
    """
    piece = checked("temperature", temperature, COLDEST, HOTTEST) + KELVIN
    walls = checked("surroundings", surroundings, COLDEST, HOTTEST) + KELVIN
    return checked("emissivity", emissivity, 0.0, 1.0) * STEFAN_BOLTZMANN * (piece**2 + walls**2) * (piece + walls)
