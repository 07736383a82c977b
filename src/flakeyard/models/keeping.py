"""What happens to dried fish in a pack: moisture gained through the pack, the mould clock, the rancidity clock.

**Moisture.** The pack lets water vapour through in proportion to the difference of vapour pressure, and the fish inside
has one water activity. Between two moistures its isotherm is taken as a straight piece, and for a straight piece the
time is known in closed form; so a long storage is a few dozen such pieces, whatever its length.
**Mould.** Mould-free days at one water activity come from a published line; where it changes, the parts used
up are added, and mould is expected when they come to one.
**Rancidity.** Days until the fat tastes old, by one constant set on published storage of dried fish; good to a
factor of two. Both clocks are about quality. Neither says that fish may be eaten.
"""

import math

import numpy as np

from flakeyard.messages import say
from flakeyard.models import moist_air, sorption
from flakeyard.models.constants import DAY, GAS_CONSTANT, KELVIN
from flakeyard.models.inputs import Numbers, Range, checked

TEST_TEMPERATURE, TEST_HUMIDITY = 38.0, 0.90  # conditions of tabled film values: biosystems_engineering, table 11.2
FILM_ACTIVATION = 33e3  # J/mol, water through polyethylene; 0–60e3 is plausible (from memory)

MOULD_LINES = (
    (21.0, 7.91, 8.10),
    (27.0, 6.42, 6.47),
)  # degC, a and b: cauvain_seiler, adams_moss_mould
MOULD_COOL_FACTOR = 2.0  # judgement: times longer for each 10 K below 21 degC
MOULD_WARMEST = 35.0  # degC, judgement: the two lines are carried on no further
MOULD_DRIEST = 0.65  # a few moulds grow at 65 % humidity: wflo_dried_fish
MOULD_PART = 0.5  # judgement: half the days of the line, which was read on cakes

RANCID_CONSTANT = 700.0  # days x g fat per 100 g at 25 degC: dried_fish_rancidity, set on 12 rows
RANCID_LONGEST = 180.0  # days, judgement: no promise beyond the longest lean study read (165 and more than 180 days)
COOLER_FACTOR = 1.2  # for each 10 K below 25 degC; 1.16–1.4 is read: kenya_sardine_2015, lee_1985
# For each 10 K above 25 degC: dried anchovy 1.4 (lee_1985), fish oil 2.4 (hong_1995); the middle is kept at the strict
# end, because a plan counts on it; the band is for comparisons.
WARMER_FACTOR, WARMER_BAND = 2.0, (1.4, 2.0)  # judgement between the two
SALTED_FACTOR = 0.8  # judgement on size; that salt speeds it up is read (aubourg_2000)
LIGHT_FACTOR = 0.7  # judgement on size; that light speeds it up is read (manzocco_2012)
OVERDRIED_FACTOR, OVERDRIED = 0.7, 0.20  # judgement: faster below this water activity
AIR_FACTORS = {  # times longer than in air
    "air": 1.0,
    "barrier": 1.4,  # foil against paper: lee_1985
    "vacuum": 2.0,  # vacuum against air: kenya_sardine_2015
    "absorber": 2.5,  # judgement
}

mould_range = Range(
    "mould",
    {"water_activity": (0.74, 0.90, ""), "temperature": (21.0, 27.0, "degC")},
    "a factor of 2 against what could be read on fish; far too short for cooked, packed mackerel",
    "adams_moss_mould",
)
rancidity_range = Range(
    "rancidity",
    {"fat_fraction": (0.03, 0.15, "kg/kg"), "temperature": (-5.0, 35.0, "degC")},
    "a factor of 2; model over observed 0.47–1.61 on the rows it was set on",
    "dried_fish_rancidity",
)


def film_permeance(transmission: Numbers, temperature: Numbers, activation: Numbers = FILM_ACTIVATION) -> Numbers:
    """Turn a tabled water-vapour transmission into a permeance at another temperature.

    Parameters:
        transmission : float or array – of the film, 38 degC, 90 % to 0 % humidity [kg/(m2 s)], allowed 0 and above
        temperature : float or array – of the store [degC], allowed -40–60
        activation : float or array – activation energy of the permeance [J/mol], allowed 0–2e5
    Returns: float or array – permeance [kg/(m2 s Pa)]
    Equation: P = W / (0.90 psat(38)) exp(-Ea/R (1/T - 1/T38))
    Valid for: plastic films, 0–40 degC; the tabled range of one film is a factor of two
    Raises: ValueError when an input is impossible
    Source: biosystems_engineering, table 11.2; activation energy from memory
    """
    rate, t = checked("transmission", transmission), checked("temperature", temperature, -40.0, 60.0)
    energy = checked("activation", activation, 0.0, 2e5)
    tested = rate / (TEST_HUMIDITY * moist_air.saturation_pressure(TEST_TEMPERATURE))
    return (tested * np.exp(-energy / GAS_CONSTANT * (1.0 / (t + KELVIN) - 1.0 / (TEST_TEMPERATURE + KELVIN))))[()]


def pack_conductance(transmission: Numbers, area: Numbers, temperature: Numbers, leak: Numbers = 0.0) -> Numbers:
    """Give the water that gets into a whole pack for each unit of difference in water activity.

    Parameters:
        transmission : float or array – of the film, 38 degC, 90 % to 0 % humidity [kg/(m2 s)], allowed 0 and above
        area : float or array – of the film [m2], allowed 0 and above
        temperature : float or array – of the store [degC], allowed -40–60
        leak : float or array – through lid and seals, 38 degC, 90 % to 0 % humidity [kg/s], allowed 0 and above
    Returns: float or array – conductance [kg/s]
    Equation: K = (P A + leak / (0.90 psat(38))) psat(T); the leak is air, so only vapour pressure counts
    Valid for: 0–40 degC; a pack that stays closed
    Raises: ValueError when an input is impossible
    Source: labuza_1988 (form); biosystems_engineering (values)
    """
    film = checked("area", area) * film_permeance(transmission, temperature)
    gaps = checked("leak", leak) / (TEST_HUMIDITY * moist_air.saturation_pressure(TEST_TEMPERATURE))
    return (film + gaps) * moist_air.saturation_pressure(np.maximum(temperature, 0.0))  # below 0 degC as at 0: more


def straight_isotherm_seconds(
    moisture_start: Numbers,
    moisture_end: Numbers,
    moisture_room: Numbers,
    slope: Numbers,
    dry_mass: Numbers,
    conductance: Numbers,
) -> Numbers:
    """Give the time in which packed food goes from one moisture to another when its isotherm is a straight line.

    Parameters:
        moisture_start : float or array – at packing, dry basis [kg/kg], allowed 0 and above
        moisture_end : float or array – reached, dry basis [kg/kg], allowed 0 and above
        moisture_room : float or array – in balance with the room, dry basis [kg/kg], allowed 0 and above
        slope : float or array – moisture per unit of water activity [kg/kg], allowed above 0
        dry_mass : float or array – dry matter in the pack [kg], allowed above 0
        conductance : float or array – of the pack, `pack_conductance` [kg/s], allowed above 0
    Returns: float or array – time; infinite when the end lies beyond what the room gives [s]
    Equation: t = ln[(Me - M0) / (Me - Mc)] Ws b / K
    Valid for: a straight isotherm between the two moistures
    Raises: ValueError when an input is impossible
    Source: labuza_1988
    """
    start, end = checked("moisture_start", moisture_start), checked("moisture_end", moisture_end)
    room, rise = checked("moisture_room", moisture_room), checked("slope", slope, 1e-12)
    mass, flow = checked("dry_mass", dry_mass, 1e-12), checked("conductance", conductance, 1e-300)
    away, left = room - start, room - end
    within = (away * left > 0.0) & (np.abs(left) <= np.abs(away))
    parts = np.where(within, away / np.where(left == 0.0, 1.0, left), 1.0)
    return np.where(within, np.log(parts) * mass * rise / flow, np.where(start == end, 0.0, np.inf))[()]


def passage_seconds(water: Numbers, water_activity: Numbers, humidity: Numbers, conductance: Numbers) -> Numbers:
    """Give the moments at which packed fish passes a row of moistures on its way towards the room's humidity.

    Parameters:
        water : array – water in the pack, row after row towards the room, (..., nodes) [kg], allowed 0 and above
        water_activity : array – of the fish at those waters, (..., nodes) [-], allowed 0–1
        humidity : float or array – relative humidity around the pack, shape (...) [-], allowed 0–1
        conductance : float or array – of the pack, shape (...) [kg/s], allowed above 0
    Returns: array – time since packing, infinite from where the room cannot take it, (..., nodes) [s]
    Equation: in each piece dw/dt = K (RH - aw), aw a straight line of w: dt = dw / (K times the log mean of RH - aw)
    Valid for: one water activity throughout the pack
    Raises: ValueError when an input is impossible
    Source: labuza_1988
    """
    masses, activity = checked("water", water), checked("water_activity", water_activity, 0.0, 1.0)
    room, flow = checked("humidity", humidity, 0.0, 1.0), checked("conductance", conductance, 1e-300)
    pull = room[..., None] - activity
    steps = np.diff(masses, axis=-1)
    left, right = pull[..., :-1], pull[..., 1:]
    way = np.sign(steps)
    passable = (left * way > 0.0) & (right * way > 0.0)
    left, right = np.where(passable, left, 1.0), np.where(passable, right, 1.0)
    even = np.abs(left - right) < 1e-9 * np.abs(left)
    inverse = np.where(even, 1.0 / left, np.log(left / right) / np.where(even, 1.0, left - right))
    seconds = np.where(passable, steps * inverse / flow[..., None], np.where(steps == 0.0, 0.0, np.inf))
    start = np.zeros((*np.broadcast_shapes(masses.shape, pull.shape)[:-1], 1))
    return np.concatenate([start, np.cumsum(seconds, axis=-1)], axis=-1)


def moisture_course(
    water: Numbers,
    salt: Numbers,
    fat: Numbers,
    solids: Numbers,
    humidity: Numbers,
    conductance: Numbers,
    temperature: Numbers = 25.0,
    nodes: int = 60,
    *,
    protein_factor: Numbers = 1.0,
    gab_k: Numbers = sorption.GAB_K,
    native: Numbers = 1.0,
    flesh_water: Numbers = 1.0,
) -> tuple[np.ndarray, np.ndarray]:
    """Follow the water activity of packed fish until it is nearly in balance with the room.

    Parameters:
        water : float or array – in the pack at packing, (members,) [kg], allowed 0 and above
        salt : float or array – in the pack [kg], allowed 0 and above
        fat : float or array – in the pack [kg], allowed 0 and above
        solids : float or array – fat-free, salt-free dry matter in the pack [kg], allowed 0 and above
        humidity : float or array – relative humidity around the pack [-], allowed 0–1
        conductance : float or array – of the pack [kg/s], allowed above 0
        temperature : float or array – of the store [degC], allowed -30–60
        nodes : int – number of moistures on the way [-], allowed 10–1000
        protein_factor : float or array – as `sorption.water_activity` [-], allowed 0.05–20
        gab_k : float or array – as `sorption.water_activity` [-], allowed 0.5–0.9999
        native : float or array – as `sorption.water_activity` [-], allowed 0–5
        flesh_water : float or array – as `sorption.water_activity` [-], allowed 0.1–10
    Returns: two arrays (members, nodes): time since packing [s] and water activity [-]
    Equation: `passage_seconds` over water activities that crowd towards the room's; the last is a thousandth short
    Valid for: as `sorption.water_activity`; packs that stay closed, humidity up to 0.97
    Raises: ValueError when an input is impossible
    Source: labuza_1988; the isotherm as in `sorption.water_activity`
    """
    room = np.minimum(checked("humidity", humidity, 0.0, 1.0), 0.97)
    masses = (checked("water", water), checked("salt", salt), checked("fat", fat), checked("solids", solids))
    wide = np.broadcast_arrays(*masses, room, np.asarray(conductance, float))
    start, salty, fatty, dry, around, flow = (part[..., None] for part in wide)
    degrees = np.asarray(temperature, float)[..., None]
    kinds = {"protein_factor": protein_factor, "gab_k": gab_k, "native": native, "flesh_water": flesh_water}
    curve = {name: np.asarray(value)[..., None] for name, value in kinds.items()}
    first = np.clip(sorption.water_activity(start, salty, fatty, dry, degrees, **curve), 0.0, 1.0)
    short = np.linspace(1.0, 0.03, int(checked("nodes", nodes, 10, 1000))) ** 2
    activity = around + (first - around) * short
    held = np.asarray(sorption.water_for(activity, salty, fatty, dry, degrees, **curve))
    held[..., :1] = start
    on_the_way = np.where(around > first, np.maximum(held, start), np.minimum(held, start))
    return np.asarray(passage_seconds(on_the_way, activity, around[..., 0], flow[..., 0])), activity


def mould_free_days(water_activity: Numbers, temperature: Numbers) -> Numbers:
    """Give the days without visible mould at one water activity, by a line read on cakes.

    Parameters:
        water_activity : float or array – of the food [-], allowed 0–1
        temperature : float or array – of the store [degC], allowed -40–60
    Returns: float or array – days; infinite below a water activity of 0.65 [d]
    Equation: log10 days = 7.91 - 8.10 aw at 21 degC, 6.42 - 6.47 aw at 27 degC, a straight line of log10 days between
        and on to 35 degC, nowhere longer than at 21 degC; twice as long for each 10 K below 21 degC
    Valid for: `mould_range`; below 0.74 and outside 21–27 degC carried on
    Raises: ValueError when an input is impossible
    Source: cauvain_seiler (21 degC); adams_moss_mould, equation 3.34 (27 degC)
    Example:
        >>> f"{float(mould_free_days(water_activity=0.74, temperature=21)):.3g}"  # check value mould_free_21_74
        '82.4'
    """
    activity, t = checked("water_activity", water_activity, 0.0, 1.0), checked("temperature", temperature, -40.0, 60.0)
    (cool, a_cool, b_cool), (warm, a_warm, b_warm) = MOULD_LINES
    at_cool, at_warm = a_cool - b_cool * activity, a_warm - b_warm * activity
    above = at_cool + (np.minimum(at_warm, at_cool) - at_cool) * (np.minimum(t, MOULD_WARMEST) - cool) / (warm - cool)
    below = at_cool + math.log10(MOULD_COOL_FACTOR) * (cool - t) / 10.0
    return np.where(activity < MOULD_DRIEST, np.inf, 10.0 ** np.where(t <= cool, below, above))[()]


def mould_clock_days(
    times: Numbers, water_activity: Numbers, temperature: Numbers, part: float = MOULD_PART
) -> Numbers:
    """Give the day on which mould is expected in a pack whose water activity changes.

    Parameters:
        times : array – moments, not falling; infinite ones at the end are allowed, (..., moments) [s]
        water_activity : array – of the fish at those moments; the last one stays, (..., moments) [-], allowed 0–1
        temperature : float or array – of the store, shape (...) [degC], allowed -40–60
        part : float – part of the published days that is counted on [-], allowed 0.01–1
    Returns: float or array – day on which the used-up parts come to one; infinite when never, shape (...) [d]
    Equation: integral of dt / (part x mould_free_days) = 1, each step at the moister of its two ends
    Valid for: as `mould_free_days`
    Raises: ValueError when an input is impossible
    Source: judgement (half the days, the sum of parts); cauvain_seiler, adams_moss_mould (days)
    """
    life = checked("part", part, 0.01, 1.0) * mould_free_days(water_activity, np.asarray(temperature, float)[..., None])
    days, life = np.broadcast_arrays(np.asarray(times, float) / DAY, life)
    ends = np.concatenate([days, np.full_like(days[..., :1], np.inf)], axis=-1)  # the last water activity stays
    lives = np.minimum(life, np.concatenate([life[..., 1:], life[..., -1:]], axis=-1))
    with np.errstate(invalid="ignore"):
        spans = np.nan_to_num(np.diff(ends, axis=-1), nan=0.0, posinf=np.inf)  # after an endless step none follows
        used = np.where(np.isfinite(lives), spans / lives, 0.0)
    before = np.concatenate([np.zeros_like(used[..., :1]), np.cumsum(used, axis=-1)], axis=-1)
    step = np.argmax(before[..., 1:] >= 1.0, axis=-1)[..., None]
    begun, spent, each = (np.take_along_axis(values, step, -1)[..., 0] for values in (days, before, lives))
    return np.where(before[..., -1] >= 1.0, begun + np.maximum(1.0 - spent, 0.0) * each, np.inf)[()]


def rancidity_days(
    fat_fraction: Numbers,
    temperature: Numbers,
    air: str = "air",
    salted: bool | np.ndarray = False,
    lit: bool | np.ndarray = False,
    water_activity: Numbers = 0.6,
    warmer_factor: Numbers = WARMER_FACTOR,
) -> Numbers:
    """Give the middle estimate of the days until the fat of dried fish tastes old; good to a factor of two.

    Parameters:
        fat_fraction : float or array – fat per product [kg/kg], allowed 0–1
        temperature : float or array – of the store [degC], allowed -60–60
        air : str – what the pack does about air: air, barrier, vacuum or absorber
        salted : bool or array – more than 3 % salt in the dry matter
        lit : bool or array – kept in the light
        water_activity : float or array – of the fish [-], allowed 0–1
        warmer_factor : float or array – times quicker for each 10 K above 25 degC [-], allowed 1–5
    Returns: float or array – days [d]
    Equation: min(700 / fat per cent, 180) x factors of pack, salt, light and over-drying x Q^((25 - T)/10), Q 1.2 / 2.0
    Valid for: `rancidity_range`; set on 12 rows of published storage, not tested on others
    Raises: ValueError when an input is impossible
    Source: dried_fish_rancidity (rows in data/rancidity.csv)
    """
    fat, t = checked("fat_fraction", fat_fraction, 0.0, 1.0), checked("temperature", temperature, -60.0, 60.0)
    if air not in AIR_FACTORS:
        raise ValueError(say("input.air", air=air, known=", ".join(AIR_FACTORS)))
    factor = AIR_FACTORS[air] * np.where(salted, SALTED_FACTOR, 1.0) * np.where(lit, LIGHT_FACTOR, 1.0)
    dry = np.where(checked("water_activity", water_activity, 0.0, 1.0) < OVERDRIED, OVERDRIED_FACTOR, 1.0)
    middle = np.minimum(RANCID_CONSTANT / (100.0 * np.maximum(fat, 1e-3)), RANCID_LONGEST)
    per_ten_kelvin = np.where(t > 25.0, checked("warmer_factor", warmer_factor, 1.0, 5.0), COOLER_FACTOR)
    return (middle * factor * dry * per_ten_kelvin ** ((25.0 - t) / 10.0))[()]
