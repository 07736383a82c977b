"""Heating a flat piece of fish through: the temperature of its middle, and how long until it is hot enough.

The piece is a wide slab between two equal faces (or one, with skin or a tray on the other) in steam or liquid of one
temperature. Its properties stay those at 40 degC. A covered dish is one body that an oven warms until its liquid
boils. Nothing here was measured on strips in a kitchen: a probe shows the step, a computed time only helps to plan it.
"""

import numpy as np

from flakeyard.models import flesh, growth, moist_air
from flakeyard.models.inputs import Numbers, Range, checked, rising_root
from flakeyard.models.salt_profile import diffusion_depth

MIDDLE_OF_THE_WAY = 40.0  # degC at which the properties of the flesh are taken: about half of 5 to 74 (judgement)
TERMS = 60  # of the series: good to 1e-4 from a Fourier number of 3e-4 on, where the middle has not moved yet
STEPS = 400  # straight pieces of a course when deaths are added up: 0.2 % against 4000

heating_range = Range(
    "heating_through",
    {
        "thickness": (0.004, 0.020, "m"),
        "medium": (85.0, 100.0, "degC"),
        "film_coefficient": (20.0, 5000.0, "W/m2/K"),
    },
    "4.5 % of the time against a slab whose properties follow its temperature; no strip of fish was measured",
    "heating_through_computed",
)
dish_range = Range(
    "covered_dish",
    {"oven": (165.0, 190.0, "degC"), "film_coefficient": (15.0, 35.0, "W/m2/K")},
    "a factor 2.4 between a slow and a quick oven (judgement); no household dish was measured",
    "heating_through_computed",
)


def roots(biot: Numbers, terms: int = TERMS) -> np.ndarray:
    """First roots of the slab with a film on its faces, in rising order.

    Parameters:
        biot : float or array – Biot number h L / k [-], allowed above 0, infinite for a face held at the medium
        terms : int – how many roots [-], allowed 1–1000
    Returns: array – roots [rad], shape (..., terms)
    Equation: zeta tan(zeta) = Bi; the n-th root lies from (n - 1) pi to (n - 1/2) pi
    Valid for: every Biot number above 0
    Raises: ValueError when an input is impossible
    Source: incropera_2007, equation 5.39c
    """
    count = int(checked("terms", terms, 1, 1000))
    given = np.asarray(biot, float)
    endless = np.isposinf(given)
    film = checked("biot", np.where(endless, 1.0, given), 1e-12)[..., None]
    inner = np.where(endless[..., None], 0.0, 1.0 / (1.0 + film))
    outer = np.where(endless[..., None], 1.0, film / (1.0 + film))
    first = np.pi * np.arange(count)

    def off(beyond):  # the equation times cos, scaled to stay between -1 and n pi
        return inner * (first + beyond) * np.sin(beyond) - outer * np.cos(beyond)

    return first + rising_root(off, np.zeros((*inner.shape[:-1], count)), 0.5 * np.pi)


def amplitudes(root: Numbers) -> Numbers:
    """Weight of each term of the slab series in the middle plane.

    Parameters:
        root : float or array – root of `roots` [rad], allowed above 0
    Returns: float or array – weight [-], of alternating sign
    Equation: A = 4 sin(zeta) / (2 zeta + sin(2 zeta))
    Valid for: a slab of one temperature at the start
    Raises: ValueError when a root is not above 0
    Source: incropera_2007, equation 5.39b
    """
    zeta = checked("root", root, 1e-9)
    return 4.0 * np.sin(zeta) / (2.0 * zeta + np.sin(2.0 * zeta))


def temperature_share(fourier: Numbers, biot: Numbers, position: Numbers = 0.0) -> Numbers:
    """Part of the difference between start and medium that a place in the slab still has.

    Parameters:
        fourier : float or array – a t / L² [-], allowed 0 and above
        biot : float or array – Biot number h L / k [-], allowed above 0
        position : float or array – 0 the middle (or the closed face), 1 the open face [-], allowed 0–1
    Returns: float or array – 1 at the start, 0 when it is as hot as the medium [-]
    Equation: theta = Σ A_n cos(zeta_n x) exp(-zeta_n² Fo)
    Valid for: the middle at any time; the open face from a Fourier number of 0.001 on
    Raises: ValueError when an input is impossible
    Source: incropera_2007, equation 5.39a
    """
    time = checked("fourier", fourier)[..., None]
    place = checked("position", position, 0.0, 1.0)[..., None]
    zeta = roots(biot)
    decay = np.exp(-np.minimum(zeta**2 * time, 700.0))
    share = np.sum(amplitudes(zeta) * np.cos(zeta * place) * decay, axis=-1)
    return np.where(time[..., 0] == 0.0, 1.0, np.clip(share, 0.0, 1.0))[()]


def heat_spread(
    water: Numbers,
    protein: Numbers,
    fat: Numbers,
    carbohydrate: Numbers = 0.0,
    ash: Numbers = 0.0,
    temperature: Numbers = MIDDLE_OF_THE_WAY,
) -> tuple[Numbers, Numbers]:
    """Conductivity of flesh and how fast warmth spreads in it, for the functions below.

    Parameters:
        water : float or array – mass fraction [kg/kg], allowed 0–1
        protein : float or array – mass fraction [kg/kg], allowed 0–1
        fat : float or array – mass fraction [kg/kg], allowed 0–1
        carbohydrate : float or array – mass fraction [kg/kg], allowed 0–1
        ash : float or array – mass fraction, salt included [kg/kg], allowed 0–1
        temperature : float or array – at which the properties are taken [degC], allowed -40–150
    Returns: pair of floats or arrays – conductivity [W/m/K], thermal diffusivity [m2/s]
    Equation: a = k / (rho c)
    Valid for: as `flesh.flesh_range`
    Raises: ValueError when fractions are impossible or miss one by more than 0.02
    Source: choi_okos_1986; the temperature is judgement
    """
    made_of = (water, protein, fat, carbohydrate, ash, temperature)
    conductivity = flesh.conductivity(*made_of)
    return conductivity, conductivity / (flesh.density(*made_of) * flesh.heat_capacity(*made_of))


def slab_temperature(
    seconds: Numbers,
    thickness: Numbers,
    faces: Numbers,
    start: Numbers,
    medium: Numbers,
    film_coefficient: Numbers,
    conductivity: Numbers,
    thermal_diffusivity: Numbers,
    position: Numbers = 0.0,
) -> Numbers:
    """Temperature of the middle of a flat piece after some time in a hotter (or colder) medium.

    Parameters:
        seconds : float or array – time in the medium [s], allowed 0 and above
        thickness : float or array – of the piece [m], allowed above 0
        faces : int or array – open faces: 2, or 1 with skin or a tray on the other
        start : float or array – temperature of the piece [degC], allowed -60–300
        medium : float or array – steam, liquid or air around it [degC], allowed -60–300
        film_coefficient : float or array – heat to the face per K [W/m2/K], allowed above 0
        conductivity : float or array – of the flesh [W/m/K], allowed above 0
        thermal_diffusivity : float or array – of the flesh [m2/s], allowed above 0
        position : float or array – 0 the middle (or the closed face), 1 the open face [-], allowed 0–1
    Returns: float or array – temperature [degC]
    Equation: T = T_medium + (T_start - T_medium) theta(a t / L², h L / k); L half the thickness, or all of it
    Valid for: `heating_range`; a piece by itself, wide against its thickness, of one temperature at the start
    Raises: ValueError when an input is impossible
    Source: incropera_2007, section 5.5
    """
    depth, biot = _depth_and_biot(thickness, faces, film_coefficient, conductivity)
    fourier = checked("seconds", seconds) * checked("thermal_diffusivity", thermal_diffusivity, 1e-12) / depth**2
    cool, around = checked("start", start, -60.0, 300.0), checked("medium", medium, -60.0, 300.0)
    return (around + (cool - around) * temperature_share(fourier, biot, position))[()]


def seconds_to(
    target: Numbers,
    thickness: Numbers,
    faces: Numbers,
    start: Numbers,
    medium: Numbers,
    film_coefficient: Numbers,
    conductivity: Numbers,
    thermal_diffusivity: Numbers,
) -> Numbers:
    """Time until the middle of a flat piece is as hot as wanted: the inverse of `slab_temperature`.

    Parameters:
        target : float or array – temperature the middle has to reach [degC], allowed -60–300
        thickness : float or array – of the piece [m], allowed above 0
        faces : int or array – open faces: 2, or 1 with skin or a tray on the other
        start : float or array – temperature of the piece [degC], allowed -60–300
        medium : float or array – steam, liquid or air around it [degC], allowed -60–300
        film_coefficient : float or array – heat to the face per K [W/m2/K], allowed above 0
        conductivity : float or array – of the flesh [W/m/K], allowed above 0
        thermal_diffusivity : float or array – of the flesh [m2/s], allowed above 0
    Returns: float or array – time [s]; 0 when it starts that hot, infinite when the medium is not hotter than the target
    Equation: theta(Fo, Bi) = (T_medium - T_target) / (T_medium - T_start), solved for Fo
    Valid for: `heating_range`, 4.5 % of the time; the film coefficient is known within a factor 2 to 5 only
    Raises: ValueError when an input is impossible
    Source: incropera_2007, section 5.5
    """
    wanted, cool = checked("target", target, -60.0, 300.0), checked("start", start, -60.0, 300.0)
    around = checked("medium", medium, -60.0, 300.0)
    depth, biot = _depth_and_biot(thickness, faces, film_coefficient, conductivity)
    spread = checked("thermal_diffusivity", thermal_diffusivity, 1e-12)
    wanted, cool, around, depth, biot, spread = np.broadcast_arrays(wanted, cool, around, depth, biot, spread)
    comes = (wanted > cool) & (around > wanted)
    left = np.where(comes, around - wanted, 1.0) / np.where(comes, around - cool, 2.0)
    time = _fourier_at(left, biot) * depth**2 / spread
    return np.where(wanted <= cool, 0.0, np.where(comes, time, np.inf))[()]


def boiling_at(altitude: Numbers) -> Numbers:
    """Temperature at which water boils at a height above the sea: the hottest that steam and pot get.

    Parameters:
        altitude : float or array – height above the sea [m], allowed -500–11 000
    Returns: float or array – temperature [degC]
    Equation: ps(T) = p(z)
    Valid for: the standard atmosphere; weather moves it by 1 degC, salt in a brine raises it by up to 1 (judgement)
    Raises: ValueError when the altitude is impossible
    Source: icao_atmosphere; iapws_saturation
    """
    return moist_air.boiling_temperature(moist_air.altitude_pressure(altitude))


def dish_temperature(
    seconds: Numbers,
    start: Numbers,
    oven: Numbers,
    boiling: Numbers,
    film_coefficient: Numbers,
    area: Numbers,
    heat_content: Numbers,
) -> Numbers:
    """Temperature of a covered dish with fish and liquid that an oven warms up.

    Parameters:
        seconds : float or array – time in the hot oven [s], allowed 0 and above
        start : float or array – temperature of dish and food [degC], allowed -60–300
        oven : float or array – air of the oven [degC], allowed -60–300
        boiling : float or array – where the liquid boils [degC], allowed -60–300
        film_coefficient : float or array – heat to the dish per K, radiation included [W/m2/K], allowed above 0
        area : float or array – outside of the dish [m2], allowed above 0
        heat_content : float or array – heat that warms fish, liquid and dish by 1 K [J/K], allowed above 0
    Returns: float or array – temperature, at most that of boiling [degC]
    Equation: T = T_oven - (T_oven - T_start) exp(-U A t / C)
    Valid for: `dish_range`; well mixed, so the middle of a piece lags by 1–5 min
    Raises: ValueError when an input is impossible
    Source: judgement (one body of one temperature)
    """
    cold, hot = checked("start", start, -60.0, 300.0), checked("oven", oven, -60.0, 300.0)
    pace = _dish_pace(film_coefficient, area, heat_content)
    warm = hot - (hot - cold) * np.exp(-np.minimum(checked("seconds", seconds) * pace, 700.0))
    return np.minimum(warm, np.maximum(checked("boiling", boiling, -60.0, 300.0), cold))[()]


def dish_seconds(
    target: Numbers,
    start: Numbers,
    oven: Numbers,
    boiling: Numbers,
    film_coefficient: Numbers,
    area: Numbers,
    heat_content: Numbers,
) -> Numbers:
    """Time until a covered dish in an oven is as hot as wanted: the inverse of `dish_temperature`.

    Parameters:
        target : float or array – temperature to reach [degC], allowed -60–300
        start : float or array – temperature of dish and food [degC], allowed -60–300
        oven : float or array – air of the oven [degC], allowed -60–300
        boiling : float or array – where the liquid boils [degC], allowed -60–300
        film_coefficient : float or array – heat to the dish per K, radiation included [W/m2/K], allowed above 0
        area : float or array – outside of the dish [m2], allowed above 0
        heat_content : float or array – heat that warms fish, liquid and dish by 1 K [J/K], allowed above 0
    Returns: float or array – time [s]; infinite when the oven is not hotter, or the liquid boils before
    Equation: t = C / (U A) ln[(T_oven - T_start) / (T_oven - T_target)]
    Valid for: as `dish_temperature`
    Raises: ValueError when an input is impossible
    Source: judgement (one body of one temperature)
    """
    wanted, cold = checked("target", target, -60.0, 300.0), checked("start", start, -60.0, 300.0)
    hot, boils = checked("oven", oven, -60.0, 300.0), checked("boiling", boiling, -60.0, 300.0)
    pace = _dish_pace(film_coefficient, area, heat_content)
    comes = (wanted > cold) & (wanted < hot) & (wanted <= boils)
    ratio = np.where(comes, hot - cold, 1.0) / np.where(comes, hot - wanted, 1.0)
    return np.where(wanted <= cold, 0.0, np.where(comes, np.log(ratio) / pace, np.inf))[()]


def centre_log_reductions(
    seconds: Numbers,
    thickness: Numbers,
    faces: Numbers,
    start: Numbers,
    medium: Numbers,
    film_coefficient: Numbers,
    conductivity: Numbers,
    thermal_diffusivity: Numbers,
    reference_time: float,
    reference_temperature: float,
    temperature_step: float,
) -> Numbers:
    """Factors of ten by which the living germs in the middle of a piece have fallen after some time of heating.

    Parameters:
        seconds : float or array – time in the medium [s], allowed 0 and above
        thickness : float or array – of the piece [m], allowed above 0
        faces : int or array – open faces: 2, or 1 with skin or a tray on the other
        start : float or array – temperature of the piece [degC], allowed -60–300
        medium : float or array – steam, liquid or air around it [degC], allowed -60–300
        film_coefficient : float or array – heat to the face per K [W/m2/K], allowed above 0
        conductivity : float or array – of the flesh [W/m/K], allowed above 0
        thermal_diffusivity : float or array – of the flesh [m2/s], allowed above 0
        reference_time : float – D at the reference temperature [s], allowed above 0
        reference_temperature : float – where that D was measured [degC], allowed -60–300
        temperature_step : float – z, the rise that makes D ten times shorter [K], allowed above 0
    Returns: float or array – log reductions [-]
    Equation: integral of dt / D(T(t)) over `slab_temperature`
    Valid for: moist flesh; D above 66 degC by extrapolation, so a large figure says "many" and no more
    Raises: ValueError when an input is impossible
    Source: mackey_bratchell_1989 (form); values in data/lethality.csv
    """
    part, whole = np.linspace(0.0, 1.0, STEPS + 1), checked("seconds", seconds)
    inputs = (thickness, faces, start, medium, film_coefficient, conductivity, thermal_diffusivity)
    course = slab_temperature(whole[..., None] * part, *(np.asarray(one)[..., None] for one in inputs))
    dead = growth.log_reductions_course(part, course, reference_time, reference_temperature, temperature_step)
    return (dead * whole)[()]


def _depth_and_biot(thickness, faces, film_coefficient, conductivity):
    """Way of the heat [m] and the Biot number."""
    depth = diffusion_depth(thickness, faces)
    film = checked("film_coefficient", film_coefficient, 1e-6, 1e7)
    return depth, film * depth / checked("conductivity", conductivity, 1e-6)


def _fourier_at(left, biot):
    """Fourier number at which the middle has a part of the difference left; the first term alone is never below."""
    zeta = roots(biot)
    weights = amplitudes(zeta)
    latest = np.maximum(np.log(weights[..., 0] / left), 0.0) / zeta[..., 0] ** 2 * (1.0 + 1e-9) + 1e-12

    def warmed(part):
        decay = np.exp(-np.minimum(zeta**2 * (part * latest)[..., None], 700.0))
        return left - np.minimum(np.sum(weights * decay, axis=-1), 1.0)

    return rising_root(warmed, np.zeros(left.shape), 1.0) * latest


def _dish_pace(film_coefficient, area, heat_content):
    """Part of the difference that a dish makes up in a second [1/s]."""
    film = checked("film_coefficient", film_coefficient, 1e-6, 1e7)
    return film * checked("area", area, 1e-6) / checked("heat_content", heat_content, 1e-6)
