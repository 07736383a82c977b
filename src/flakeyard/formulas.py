"""The formulas of the lessons, one by one: plain numbers in SI (temperatures in °C, fractions 0-1), or arrays of them."""

from flakeyard.models.keeping import mould_clock_days, mould_free_days, rancidity_days
from flakeyard.models.moist_air import (
    altitude_pressure,
    boiling_temperature,
    drying_capacity,
    humidity_ratio,
    relative_humidity,
    saturation_pressure,
    wet_bulb,
)
from flakeyard.models.salt_transport import equilibrium_ratio, evening_out_time, salt_diffusivity
from flakeyard.models.solutions import salometer, syrup_fraction_for_density
from flakeyard.models.sorption import water_activity, water_activity_cautious, water_for

__all__ = [
    "altitude_pressure", "boiling_temperature", "drying_capacity", "equilibrium_ratio", "evening_out_time",
    "humidity_ratio", "mould_clock_days", "mould_free_days", "rancidity_days", "relative_humidity", "salometer",
    "salt_diffusivity", "saturation_pressure", "syrup_fraction_for_density", "water_activity", "water_activity_cautious",
    "water_for", "wet_bulb",
]  # fmt: skip
