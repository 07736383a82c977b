"""Growth and death of microbes: the growth-zone clock, growth rates for pictures, and what heat does.

Three separate things, of very different standing:

* the **clock** counts the hours that flesh is both warm and moist; verdicts read it, by the rows of official tables;
* the **growth rate** multiplies a factor for temperature with one for water activity (the gamma concept). It is for
  learning: a curve of a growth model never makes a verdict milder;
* **thermal death** in moist flesh by D and z values: D is the time for one log reduction (to a tenth), z the rise in
  temperature that makes D ten times shorter. It does not hold for flesh that is drying: microbes stand heat
  better the drier they are.
"""

import math

import numpy as np

from flakeyard.messages import say
from flakeyard.models.constants import HOUR
from flakeyard.models.inputs import Numbers, Range, checked

# Growth zone and moisture of the clock, as rows growth_bottom, growth_top, warm and moist of data/limits.csv: models read
# no files, so they stand here again and a test holds them together (fda_hazards_app4, fda_hazards_2001)
ZONE_LOW, ZONE_HIGH, WARM_ABOVE = (50.0 - 32.0) / 1.8, (135.0 - 32.0) / 1.8, (70.0 - 32.0) / 1.8  # degC
STILL_MOIST = 0.85

# Staphylococcus aureus 2064 in broth, 8–50 degC, water activity 0.83–0.999: medvedova_2019, abstract
STAPH_LOWEST, STAPH_OPTIMUM, STAPH_HIGHEST = 7.7, 40.6, 46.7  # degC
STAPH_DRIEST, STAPH_BEST_ACTIVITY = 0.808, 0.994
STAPH_BEST_RATE = 1.97 / HOUR  # 1/s

# The same strain by the square-root model: medvedova_2009, abstract (its end temperatures are not printed there)
ROOT_SLOPE, ROOT_BEND = 0.0456, 0.447  # h^-0.5/K, 1/K

growth_range = Range(
    "aureus",
    {"temperature": (8.0, 46.7, "degC"), "water_activity": (0.83, 0.999, "")},
    "17.5 % standard error of prediction in broth; the water-activity factor is a straight line (judgement)",
    "medvedova_2019",
)
death_range = Range(
    "thermal_death",
    {"temperature": (55.0, 66.0, "degC")},
    "D within a factor 2 between fish; above 66 degC by extrapolation",
    "ben_embarek_1993",
)


def zone_hours(
    times: Numbers,
    temperature: Numbers,
    water_activity: Numbers,
    low: float,
    high: float,
    moist_above: float,
) -> Numbers:
    """Count the hours that flesh spends in a temperature zone while it is still moist.

    Parameters:
        times : array – moments, rising, shape (times,) [s], allowed 0 and above
        temperature : array – of the flesh at those moments, (..., times) [degC], allowed -60–300
        water_activity : array – of the flesh at those moments, (..., times) [-], allowed 0–1
        low : float – lower end of the zone [degC], allowed -60–300
        high : float – upper end of the zone [degC], allowed -60–300
        moist_above : float – the clock stands still at or below this water activity [-], allowed 0–1
    Returns: float or array – hours, shape (...) [h]
    Equation: sum over steps of dt times the part of the step in which all three conditions hold, lines between moments
    Valid for: any course; a crossing inside a step is found on the straight line between its ends
    Raises: ValueError when an input is impossible or times do not rise
    Source: fda_hazards_app4, summary; fda_hazards_2001, chapter 14
    """
    moments = checked("times", times)
    if moments.ndim != 1 or moments.size < 2 or np.any(np.diff(moments) <= 0.0):
        raise ValueError(say("input.moments", times=times))
    degrees = checked("temperature", temperature, -60.0, 300.0)
    moisture = checked("water_activity", water_activity, 0.0, 1.0)
    enter, leave = np.zeros(1), np.ones(1)
    for course, level, sign in ((degrees, low, 1.0), (degrees, high, -1.0), (moisture, moist_above, 1.0)):
        first, last = _part_above(sign * (course - level))
        enter, leave = np.maximum(enter, first), np.minimum(leave, last)
    return (np.maximum(leave - enter, 0.0) @ np.diff(moments) / HOUR)[()]


def _part_above(margin):
    """Start and end, as parts of each step, of the stretch in which a straight line lies above zero."""
    left, right = margin[..., :-1], margin[..., 1:]
    crossing = left / np.where(left == right, 1.0, left - right)
    start = np.where(left > 0.0, 0.0, np.where(right > 0.0, crossing, 1.0))
    end = np.where(right > 0.0, 1.0, np.where(left > 0.0, crossing, 0.0))
    return start, end


def cardinal_factor(
    temperature: Numbers,
    lowest: Numbers = STAPH_LOWEST,
    optimum: Numbers = STAPH_OPTIMUM,
    highest: Numbers = STAPH_HIGHEST,
) -> Numbers:
    """Give the growth rate at a temperature as a part of the rate at the best temperature.

    Parameters:
        temperature : float or array – of the food [degC], allowed -60–300
        lowest : float or array – no growth at or below it [degC], allowed -60–300
        optimum : float or array – fastest growth [degC], allowed above the middle of lowest and highest
        highest : float or array – no growth at or above it [degC], allowed -60–300
    Returns: float or array – 0 outside the end temperatures, 1 at the optimum [-]
    Equation: (T-Tmax)(T-Tmin)² / {(Topt-Tmin)[(Topt-Tmin)(T-Topt) - (Topt-Tmax)(Topt+Tmin-2T)]}
    Valid for: the default values: Staphylococcus aureus 2064 in broth, 8–50 degC
    Raises: ValueError when an input is impossible
    Source: rosso_1993 (form, from memory); medvedova_2019 (default values)
    """
    t = checked("temperature", temperature, -60.0, 300.0)
    low, best = checked("lowest", lowest, -60.0, 300.0), checked("optimum", optimum, -60.0, 300.0)
    high = checked("highest", highest, -60.0, 300.0)
    if np.any(best <= 0.5 * (low + high)) or np.any(best >= high):
        raise ValueError(say("input.optimum", optimum=optimum))
    inside = (t > low) & (t < high)
    t = np.where(inside, t, best)
    span = best - low
    factor = (t - high) * (t - low) ** 2 / (span * (span * (t - best) - (best - high) * (best + low - 2.0 * t)))
    return np.where(inside, factor, 0.0)[()]


def moisture_factor(
    water_activity: Numbers, driest: Numbers = STAPH_DRIEST, best_activity: Numbers = STAPH_BEST_ACTIVITY
) -> Numbers:
    """Give the growth rate at a water activity as a part of the rate at the best one: a straight line.

    Parameters:
        water_activity : float or array – of the food [-], allowed 0–1
        driest : float or array – no growth at or below it [-], allowed 0–1
        best_activity : float or array – full rate at or above it [-], allowed 0–1
    Returns: float or array – 0 to 1 [-]
    Equation: (aw - aw,min) / (aw,opt - aw,min), held between 0 and 1
    Valid for: pictures. Near the dry end real growth is far slower (days of lag), so the line is on the fast side
    Raises: ValueError when an input is impossible
    Source: medvedova_2019 (end values); the straight line is judgement
    """
    activity, dry = checked("water_activity", water_activity, 0.0, 1.0), checked("driest", driest, 0.0, 1.0)
    best = checked("best_activity", best_activity, 0.0, 1.0)
    if np.any(dry >= best):
        raise ValueError(say("input.driest", driest=driest))
    return np.clip((activity - dry) / (best - dry), 0.0, 1.0)[()]


def growth_rate(temperature: Numbers, water_activity: Numbers, best_rate: Numbers = STAPH_BEST_RATE) -> Numbers:
    """Give the growth rate of Staphylococcus aureus, for pictures only: a verdict never reads it.

    Parameters:
        temperature : float or array – of the food [degC], allowed -60–300
        water_activity : float or array – of the food [-], allowed 0–1
        best_rate : float or array – rate at the best temperature and water activity [1/s], allowed 0 and above
    Returns: float or array – specific growth rate, natural logarithm [1/s]
    Equation: best rate x cardinal_factor x moisture_factor
    Valid for: `growth_range`; broth without lag, competition or acid
    Raises: ValueError when an input is impossible
    Source: medvedova_2019
    """
    best = checked("best_rate", best_rate)
    return best * cardinal_factor(temperature) * moisture_factor(water_activity)


def growth_rate_square_root(temperature: Numbers) -> Numbers:
    """Give the growth rate of the same strain by a second published formula, to show how far the two agree.

    Parameters:
        temperature : float or array – of the food [degC], allowed -60–300
    Returns: float or array – specific growth rate at full moisture, natural logarithm [1/s]
    Equation: sqrt(mu) = 0.0456 (T - Tmin) [1 - exp(0.447 (T - Tmax))], mu in 1/h
    Valid for: 7–51 degC, broth; the end temperatures are those of the cardinal model
    Raises: ValueError when an input is impossible
    Source: medvedova_2009
    """
    t = checked("temperature", temperature, -60.0, 300.0)
    inside = (t > STAPH_LOWEST) & (t < STAPH_HIGHEST)
    t = np.where(inside, t, STAPH_OPTIMUM)
    root = ROOT_SLOPE * (t - STAPH_LOWEST) * -np.expm1(ROOT_BEND * (t - STAPH_HIGHEST))
    return np.where(inside, root**2 / HOUR, 0.0)[()]


def doubling_hours(temperature: Numbers, water_activity: Numbers = STAPH_BEST_ACTIVITY) -> Numbers:
    """Give the hours in which Staphylococcus aureus doubles; infinite where it does not grow. For pictures only.

    Parameters:
        temperature : float or array – of the food [degC], allowed -60–300
        water_activity : float or array – of the food [-], allowed 0–1
    Returns: float or array – doubling time [h]
    Equation: ln 2 / growth_rate
    Valid for: as `growth_rate`
    Raises: ValueError when an input is impossible
    Source: medvedova_2019
    """
    rate = np.asarray(growth_rate(temperature, water_activity)) * HOUR
    return np.where(rate > 0.0, math.log(2.0) / np.where(rate > 0.0, rate, 1.0), np.inf)[()]


def decimal_time(
    temperature: Numbers, reference_time: Numbers, reference_temperature: Numbers, temperature_step: Numbers
) -> Numbers:
    """Give the time in which heat brings the living germs in moist flesh down to a tenth (D).

    Parameters:
        temperature : float or array – of the flesh [degC], allowed -60–300
        reference_time : float or array – D at the reference temperature [s], allowed above 0
        reference_temperature : float or array – where that D was measured [degC], allowed -60–300
        temperature_step : float or array – z, the rise that makes D ten times shorter [K], allowed above 0
    Returns: float or array – decimal reduction time [s]
    Equation: D = Dref 10^((Tref - T) / z)
    Valid for: moist flesh; `death_range`. Not for flesh that is drying
    Raises: ValueError when an input is impossible
    Source: mackey_bratchell_1989 (form and reference process); values in data/lethality.csv
    """
    t, reference = checked("temperature", temperature, -60.0, 300.0), checked("reference_time", reference_time, 1e-12)
    base = checked("reference_temperature", reference_temperature, -60.0, 300.0)
    step = checked("temperature_step", temperature_step, 1e-6)
    return (reference * 10.0 ** ((base - t) / step))[()]


def log_reductions(
    seconds: Numbers,
    temperature: Numbers,
    reference_time: Numbers,
    reference_temperature: Numbers,
    temperature_step: Numbers,
) -> Numbers:
    """Give by how many factors of ten a hold at one temperature lowers the living germs in moist flesh.

    Parameters:
        seconds : float or array – how long it is held [s], allowed 0 and above
        temperature : float or array – of the flesh [degC], allowed -60–300
        reference_time : float or array – D at the reference temperature [s], allowed above 0
        reference_temperature : float or array – where that D was measured [degC], allowed -60–300
        temperature_step : float or array – z, the rise that makes D ten times shorter [K], allowed above 0
    Returns: float or array – log reductions [-]
    Equation: seconds / D(T)
    Valid for: as `decimal_time`; tails of a few resistant germs are left out, so large figures are arithmetic only
    Raises: ValueError when an input is impossible
    Source: mackey_bratchell_1989; values in data/lethality.csv
    """
    held = checked("seconds", seconds)
    return (held / decimal_time(temperature, reference_time, reference_temperature, temperature_step))[()]


def log_reductions_course(
    times: Numbers,
    temperature: Numbers,
    reference_time: float,
    reference_temperature: float,
    temperature_step: float,
) -> Numbers:
    """Give the log reductions over a measured course of the core temperature.

    Parameters:
        times : array – moments, rising, shape (times,) [s], allowed 0 and above
        temperature : array – of the core at those moments, (..., times) [degC], allowed -60–300
        reference_time : float – D at the reference temperature [s], allowed above 0
        reference_temperature : float – where that D was measured [degC], allowed -60–300
        temperature_step : float – z, the rise that makes D ten times shorter [K], allowed above 0
    Returns: float or array – log reductions, shape (...) [-]
    Equation: integral of dt / D(T), exact for a straight line of temperature between two moments
    Valid for: as `decimal_time`
    Raises: ValueError when an input is impossible
    Source: mackey_bratchell_1989; values in data/lethality.csv
    """
    moments = checked("times", times)
    rate = np.log(1.0 / np.asarray(decimal_time(temperature, reference_time, reference_temperature, temperature_step)))
    left, right = rate[..., :-1], rate[..., 1:]
    change = right - left
    flat = np.abs(change) < 1e-9
    mean = np.where(flat, np.exp(0.5 * (left + right)), np.exp(left) * np.expm1(change) / np.where(flat, 1.0, change))
    return (mean @ np.diff(moments))[()]
