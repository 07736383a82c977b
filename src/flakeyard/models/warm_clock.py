"""How long heated fish stays warm and moist, counted five ways: what the ladder after heating reads.

Heating kills what grows in raw fish, not its spores, and hands bring new germs. What can come back hangs on the warmth
of the flesh, on that of the air and on how moist the middle is, so one clock is not enough:

* ``h`` flesh or air at 10 degC or more, and flesh below 57 degC;
* ``hs`` the part of it with flesh below 54 degC and the middle above a water activity of 0.93: spores can grow there;
* ``f48`` the part with flesh below 48 degC: Staphylococcus aureus can grow there;
* ``c54`` and ``c40`` the parts in air below 54 and 40 degC, whatever the flesh is.

All stop while the middle is at or below a water activity of 0.85, and when counting ends. Between two moments all
courses are straight lines. Not-a-number is "not known" and counts in every count.
"""

from typing import NamedTuple

import numpy as np

from flakeyard.messages import say
from flakeyard.models.constants import HOUR
from flakeyard.models.growth import STILL_MOIST, ZONE_HIGH, ZONE_LOW
from flakeyard.models.inputs import Numbers, checked

# Upper end of the zone, from `growth`: above 57 degC no spore former is likely to grow, bfr_hot_holding_2020
SPORES_DRIEST = 0.93  # Clostridium perfringens: perfringens_2022
SPORES_HOTTEST = 54.0  # degC: roasts may be held there, hot_holding_wac; perfringens grows to 50 or 52
STAPH_HOTTEST = 48.0  # degC: fsis_cooking_2021 (118 °F), fsanz_seafood
AIR_WARM, AIR_COOL = 54.0, 40.0  # degC: coolest air of advice on heated strips, uw_jerky_dehydrator; judgement


class WarmCounts(NamedTuple):
    """The five counts [h], arrays of one shape."""

    h: np.ndarray
    hs: np.ndarray
    f48: np.ndarray
    c54: np.ndarray
    c40: np.ndarray


def warm_course(
    times: Numbers,
    flesh_temperature: Numbers | None,
    air_temperature: Numbers | None,
    water_activity: Numbers | None,
    until: Numbers | None = None,
) -> WarmCounts:
    """Hours of each of the five counts up to each moment.

    Parameters:
        times : array – moments since the heating, rising, shape (times,) [s], allowed 0 and above
        flesh_temperature : array – middle of the piece, (..., times) [degC], allowed -60–300; None or nan: not known
        air_temperature : array – around the piece, (..., times) [degC], allowed -60–300; None or nan: not known
        water_activity : array – middle of the piece, (..., times) [-], allowed 0–1; None or nan: not known
        until : float or array – moment counting ends, (...) [s]; None, nan or infinite: with the last of the times
    Returns: WarmCounts – hours so far, each (..., times) [h]
    Equation: sum over steps of dt times the part of the step in which all conditions of a count hold
    Valid for: any course; a crossing inside a step lies on the straight line between its ends
    Raises: ValueError when an input is impossible or the times do not rise
    Source: fda_hazards_app4 (zone); the five conditions are judgement on the sources named in data/warm_ladder.csv
    """
    moments = checked("times", times)
    if moments.ndim != 1 or moments.size < 2 or np.any(np.diff(moments) <= 0.0):
        raise ValueError(say("input.moments", times=times))
    flesh = _known("flesh_temperature", flesh_temperature, -60.0, 300.0, moments.size)
    air = _known("air_temperature", air_temperature, -60.0, 300.0, moments.size)
    activity = _known("water_activity", water_activity, 0.0, 1.0, moments.size)
    length = np.diff(moments)
    cold = (_above(ZONE_LOW - flesh, unknown=False), _above(ZONE_LOW - air, unknown=False))
    always = (_above(activity - STILL_MOIST), _above(ZONE_HIGH - flesh), _before(until, moments))

    def hours(*more):
        part = np.maximum(_overlap(*always, *more) - _overlap(*always, *more, *cold), 0.0)
        return np.insert(np.cumsum(part * length, axis=-1), 0, 0.0, axis=-1) / HOUR

    spores = hours(_above(activity - SPORES_DRIEST), _above(SPORES_HOTTEST - flesh))
    by_air = (hours(_above(limit - air)) for limit in (AIR_WARM, AIR_COOL))
    return WarmCounts(*np.broadcast_arrays(hours(), spores, hours(_above(STAPH_HOTTEST - flesh)), *by_air))


def warm_hours(
    times: Numbers,
    flesh_temperature: Numbers | None,
    air_temperature: Numbers | None,
    water_activity: Numbers | None,
    until: Numbers | None = None,
) -> WarmCounts:
    """The five counts of whole courses: the last moment of `warm_course`.

    Parameters:
        times : array – moments since the heating, rising, shape (times,) [s], allowed 0 and above
        flesh_temperature : array – middle of the piece, (..., times) [degC], allowed -60–300; None or nan: not known
        air_temperature : array – around the piece, (..., times) [degC], allowed -60–300; None or nan: not known
        water_activity : array – middle of the piece, (..., times) [-], allowed 0–1; None or nan: not known
        until : float or array – moment counting ends, (...) [s]; None, nan or infinite: with the last of the times
    Returns: WarmCounts – hours, each (...) [h]
    Equation: as `warm_course`
    Valid for: as `warm_course`
    Raises: ValueError when an input is impossible or the times do not rise
    Source: as `warm_course`
    """
    course = warm_course(times, flesh_temperature, air_temperature, water_activity, until)
    return WarmCounts(*(count[..., -1] for count in course))


def standing_hours(
    hours: Numbers,
    air_temperature: Numbers | None,
    water_activity: Numbers | None,
    covered: Numbers,
    refrigerated: float,
) -> WarmCounts:
    """What a pause or time on the bench adds to the five counts, when only the air is known.

    Covered and refrigerated it adds nothing. Else the flesh may be anywhere on its way to the air, so a pause counts
    in full in the counts that ask for the flesh, even in cool air.

    Parameters:
        hours : float or array – how long [h], allowed 0 and above; nan: not known
        air_temperature : float or array – around the fish [degC], allowed -60–300; None or nan: not known
        water_activity : float or array – middle of the piece [-], allowed 0–1; None or nan: not known, so moist
        covered : bool or array – in a closed box or under a lid
        refrigerated : float – air at or below it keeps covered fish cold [degC], allowed -60–10
    Returns: WarmCounts – hours to add [h]; nan where the hours are not known
    Equation: hours in each count whose conditions may hold
    Valid for: pauses in one air; a warm dryer belongs into `warm_course`
    Raises: ValueError when an input is impossible
    Source: judgement
    """
    given = np.asarray(hours, float)
    long = np.where(np.isnan(given), np.nan, checked("hours", np.where(np.isnan(given), 0.0, given)))
    air = _known("air_temperature", air_temperature, -60.0, 300.0)
    activity = _known("water_activity", water_activity, 0.0, 1.0)
    kept_cold = np.asarray(covered, bool) & (air <= checked("refrigerated", refrigerated, -60.0, ZONE_LOW) + 1e-6)
    counts = ~kept_cold & ~(activity <= STILL_MOIST)
    very_moist = counts & ~(activity <= SPORES_DRIEST)
    parts = (counts, very_moist, counts, counts & ~(air >= AIR_WARM), counts & ~(air >= AIR_COOL))
    return WarmCounts(*np.broadcast_arrays(*(np.where(part, long, 0.0) for part in parts)))


def _known(name, value, low, high, length=None):
    """Values as an array in which not-a-number stands for not known; the rest checked."""
    numbers = np.asarray(np.nan if value is None else value, float)
    checked(name, np.where(np.isnan(numbers), low, numbers), low, high)
    if length is not None and value is not None and numbers.shape[-1:] != (length,):
        raise ValueError(say("input.shape", value=name, shape=numbers.shape))
    return numbers if length is None or value is not None else np.full(length, np.nan)


def _above(margin, unknown=True):
    """Start and end, as parts of each step, of the stretch in which a straight line lies above zero."""
    left, right = margin[..., :-1], margin[..., 1:]
    crossing = left / np.where(left == right, 1.0, left - right)
    start = np.where(left > 0.0, 0.0, np.where(right > 0.0, crossing, 1.0))
    end = np.where(right > 0.0, 1.0, np.where(left > 0.0, crossing, 0.0))
    open_end = np.isnan(left) | np.isnan(right)
    return np.where(open_end, 0.0 if unknown else 1.0, start), np.where(open_end, float(unknown), end)


def _before(until, moments):
    """The stretch of each step that lies before the end of counting."""
    end = np.asarray(np.inf if until is None else until, float)[..., None]
    end = np.where(np.isnan(end), np.inf, end)
    return 0.0, np.clip((end - moments[:-1]) / np.diff(moments), 0.0, 1.0)


def _overlap(*stretches):
    """Part of each step that lies in all stretches."""
    start, end = stretches[0]
    for first, last in stretches[1:]:
        start, end = np.maximum(start, first), np.minimum(end, last)
    return np.maximum(end - start, 0.0)
