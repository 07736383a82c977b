"""What can grow at a water activity, and how a hygrometer in a jar is checked over wet salt.

The limits are rows of ``data/growth_limits.csv`` and ``data/mould.csv``: the least water activity at which growth was
seen, each with its source and whether it was read or only remembered. They are for showing; verdicts are made by the
rules of `safety`. The humidities over saturated salts are rows of ``data/humidity_points.csv``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from flakeyard import limits
from flakeyard.messages import say
from flakeyard.tables import Record, read_records

HYGROMETER_ERROR = 0.05  # judgement: a household hygrometer after it was checked over wet salt
TRUSTED = ("laboratory", "meter")  # a meter that was checked over wet salts; by these an error counts as it is told


@dataclass(frozen=True, kw_only=True)
class GrowthLimit(Record):
    """The least water activity at which an organism was seen to grow."""

    organism: str
    least_water_activity: float
    note: str


@dataclass(frozen=True, kw_only=True)
class HumidityPoint(Record):
    """Humidity [0–1] of the air over a salt that is wet but not dissolved, at a temperature [degC], with its error."""

    salt: str
    what: str
    temperature_c: float
    humidity: float
    error: float
    note: str


@cache
def growth_limits() -> tuple[GrowthLimit, ...]:
    """All limits of germs and moulds, from the moist end to the dry end."""
    rows = (row for name in ("growth_limits.csv", "mould.csv") for row in read_records(name, GrowthLimit))
    return tuple(sorted(rows, key=lambda row: -row.least_water_activity))


def limit_of(organism: str) -> GrowthLimit:
    """The limit of one organism by its name in the tables."""
    return next(row for row in growth_limits() if row.organism == organism)


def growing(water_activity: float) -> tuple[GrowthLimit, ...]:
    """The limits that a water activity does not keep to; one that lies on a limit counts as growing.

    Parameters: water_activity – of the food [0–1].
    Raises: ValueError when it is not a number between 0 and 1: what is not known may not read as "nothing grows".
    """
    if not 0.0 <= water_activity <= 1.0:
        raise ValueError(say("input.fraction", water_activity=water_activity))
    return tuple(row for row in growth_limits() if row.least_water_activity <= water_activity)


@cache
def humidity_points() -> tuple[HumidityPoint, ...]:
    """All rows of the table of saturated salts."""
    return read_records("humidity_points.csv", HumidityPoint)


def humidity_over(salt: str, temperature: float) -> float | None:
    """Humidity [0–1] in a closed jar over a wet salt, a straight line between the rows of the table.

    Parameters: salt – a name of the table; temperature – of salt and jar [degC].
    Returns: the humidity [0–1]; None (not known) for another salt, or outside the temperatures of the table.
    Source: greenspan_1977
    """
    rows = [row for row in humidity_points() if row.salt == salt]
    if not rows or not rows[0].temperature_c <= temperature <= rows[-1].temperature_c:
        return None
    return float(np.interp(temperature, [row.temperature_c for row in rows], [row.humidity for row in rows]))


def corrected_reading(reading: float, reading_over_salt: float, temperature: float = 25.0) -> float | None:
    """What a hygrometer would have shown over the fish, had it been right over wet table salt.

    Parameters: reading – steady humidity [0–1] in the jar with the fish; reading_over_salt – steady humidity [0–1] in
    the same jar over wet table salt; temperature – of the jar both times [degC].
    Returns: the humidity [0–1]; None (not known) outside the temperatures of the salt table.
    Raises: ValueError when a reading is not between 0 and 1.
    Source: greenspan_1977 by `humidity_over`
    """
    for name, value in (("reading", reading), ("reading_over_salt", reading_over_salt)):
        if not 0.0 <= value <= 1.0:
            raise ValueError(say("input.a_fraction", name=name, value=value))
    right = humidity_over("table salt", temperature)
    return None if right is None else min(1.0, max(0.0, reading + right - reading_over_salt))


def error_that_counts(told: float | None, by: str | None) -> float | None:
    """Error of a measured water activity [0–1]: None where none was told, whatever it was measured by.

    Parameters: told – as typed [0–1]; by – one of `records.METERS`; None counts as a household hygrometer, for which
    no smaller error than `HYGROMETER_ERROR` counts.
    Returns: float or None [water activity, 0–1]
    Source: as told; judgement, HYGROMETER_ERROR
    """
    return told if told is None or by in TRUSTED else max(told, HYGROMETER_ERROR)


def end_of_reading(measured: float | None, told: float | None, by: str | None) -> float | None:
    """A measured water activity with its error added [0–1]; None where either is not known.

    Returns: float or None [water activity, 0–1]
    Source: as told
    """
    error = error_that_counts(told, by)
    return None if measured is None or error is None else min(1.0, round(measured + error, 6))


def opens_alone(told: float | None, by: str | None) -> bool:
    """Whether a reading may count in a pack without fresh air where the estimate is moister: by a laboratory or a meter
    that was checked over wet salts, whose error was told and is no more than `limits.SMALL_METER_ERROR`."""
    return by in TRUSTED and told is not None and told <= limits.SMALL_METER_ERROR + 1e-9


@dataclass(frozen=True, kw_only=True)
class MeasuredFish(Record):
    """Fish whose water activity was published; masses per kg of product, where not told by the source an `assumed` range."""

    product: str
    use: str
    water_low: float | None
    water_high: float | None
    salt_low: float | None
    salt_high: float | None
    fat_low: float | None
    fat_high: float | None
    native_low: float | None
    native_high: float | None
    published_mid: float | None
    assumed: str

    @property
    def flesh(self) -> tuple[float, float, float, float]:
        """Middle of the water, salt, fat and dry solids.

        Returns: four [kg/kg, 0–1]
        Source: its own row
        """
        pairs = (self.water_low, self.water_high), (self.salt_low, self.salt_high), (self.fat_low, self.fat_high)
        water, salt, fat = (_middle(low, high) for low, high in pairs)
        return water, salt, fat, 1.0 - water - salt - fat

    @property
    def native(self) -> float:
        """Middle of the share of its own solutes that is left; all where nothing was soaked out.

        Returns: float [1, 0–1]
        Source: its own row
        """
        return 1.0 if self.native_low is None else _middle(self.native_low, self.native_high)


def _middle(low: float | None, high: float | None) -> float:
    """The middle of two ends of a row; not a number where one was not told."""
    return math.nan if low is None or high is None else 0.5 * (low + high)


@cache
def measured_fish() -> tuple[MeasuredFish, ...]:
    """Published fish of known or assumed make-up; `use` says whether a row helped to choose the model ("fitted")."""
    rows = read_records("published/water_activity.csv", MeasuredFish)
    return tuple(row for row in rows if row.published_mid and row.water_low)
