"""Water activity of fish flesh from its water, salt, fat and temperature, and the way back.

Water in flesh is held in two ways, and the additive rule gives each its own share at one common water activity:

* protein water, by a GAB curve on the fat-free, salt-free dry matter (fat holds none);
* salt water, as much as makes a brine of that water activity; below 0.753 salt is crystalline and holds none, and at
  0.753 the flesh stays for as long as dissolved and solid salt are there together (the plateau).

Below the plateau more salt therefore buys nothing. The additive rule is the estimate; for a verdict
`water_activity_cautious` takes the higher of it and the product rule, plus a margin.
"""

from dataclasses import dataclass

import numpy as np

from flakeyard.models import solutions
from flakeyard.models.inputs import Numbers, Range, checked

GAS_CONSTANT = 8.314462618  # J/mol/K, exact in the SI since 2019
KELVIN = 273.15
REFERENCE_KELVIN = 298.15

GAB_MONOLAYER = 0.060
GAB_C = 12.0
GAB_K = 0.990
BINDING_ENERGY = 5000.0  # J/mol
PLATEAU = solutions.SATURATED_WATER_ACTIVITY
CAUTION_MARGIN = 0.03


def _fit_salt_water():
    """Cubic in √(1 - aw) through (1 - aw) / (molar mass x molality) of NaCl brine at 25 °C; worst 2e-5 in aw."""
    molality = np.linspace(0.02, 7.2, 400)
    activity = np.exp(-solutions._nacl_log_activity(molality, 25.0))
    dryness = 1.0 - activity
    return np.polyfit(np.sqrt(dryness), dryness / (solutions.NACL_MOLAR_MASS * molality), 3, w=molality)


SALT_WATER = _fit_salt_water()
SALT_WATER_SLOPE = np.polyder(SALT_WATER)
SALT_LINE = (0.548, 0.60)  # straight line near the same curve in 1 - aw, good to 0.003 in aw: starts the search


def _exponent(temperature):
    """Power p in b = aw^p, b the water activity the same moisture has at 25 degC."""
    reciprocal = 1.0 / REFERENCE_KELVIN - 1.0 / (temperature + KELVIN)
    return 1.0 / (1.0 - BINDING_ENERGY / GAS_CONSTANT * reciprocal)


@dataclass(frozen=True)
class Isotherm:
    """Water activity of an ensemble of pieces against their moisture, quick enough for the inside of a solver.

    Nothing is checked here. `softness` rounds the two corners of the plateau (water activity off by at most half of
    it, in the corners only); `turns` is the number of Newton steps above the plateau: one leaves an error of 5e-5.
    """

    salt_ratio: Numbers
    protein_factor: Numbers
    gab_k: Numbers
    softness: float
    turns: int

    def protein_water(self, activity, exponent=1.0):
        """Water the protein holds and its derivative by the water activity, kg per kg fat-free salt-free solids."""
        b = self.gab_k * activity**exponent
        room = (1.0 - b) * (1.0 + (GAB_C - 1.0) * b)
        held = self.protein_factor * (GAB_MONOLAYER * GAB_C) * b / room
        return held, held * exponent * (1.0 + (GAB_C - 1.0) * b * b) / (room * activity)

    def protein_activity(self, x_ff, exponent=1.0):
        """Water activity when the protein holds all the water: `protein_water` turned round."""
        x = x_ff / self.protein_factor
        linear = GAB_MONOLAYER * GAB_C - (GAB_C - 2.0) * x
        b = 2.0 * x / (linear + np.sqrt(linear * linear + (4.0 * (GAB_C - 1.0)) * x * x))
        return np.minimum(b / self.gab_k, 1.0) ** (1.0 / exponent)

    def _start(self, x, exponent):
        """Dryness 1 - aw above the plateau to 0.003, from a quadratic (both holdings nearly go as 1/dryness)."""
        fixed, rising = SALT_LINE
        gap, pull = 1.0 - self.gab_k, self.gab_k * exponent
        free = np.maximum(x - self.salt_ratio * rising, 0.02 * x)
        salt = self.salt_ratio * fixed
        half = 0.5 * (gap * free - self.protein_factor * GAB_MONOLAYER - salt * pull)
        square = pull * free
        dryness = (np.sqrt(half * half + square * salt * gap) - half) / square
        return np.clip(dryness, 1e-7, 1.0 - PLATEAU)

    def _above_plateau(self, x, exponent):
        """Water activity that shares all the water between protein and dissolved salt, and its slope by moisture."""
        dryness = self._start(x, exponent)
        for _ in range(self.turns):
            root = np.sqrt(dryness)
            held, rise = self.protein_water(1.0 - dryness, exponent)
            brine = np.polyval(SALT_WATER, root)
            salt = self.salt_ratio / dryness
            rise = rise + salt * (brine / dryness - 0.5 * np.polyval(SALT_WATER_SLOPE, root) / root)
            dryness = np.clip(dryness + (held + salt * brine - x) / rise, 1e-7, 1.1 * (1.0 - PLATEAU))
        return 1.0 - dryness, 1.0 / rise

    def water_activity(self, x_ff, temperature):
        """Water activity, given kg water per kg fat-free salt-free solids and the temperature [degC]."""
        return self.with_slope(x_ff, temperature)[0]

    def with_slope(self, x_ff, temperature):
        """Water activity and its derivative by moisture, as `water_activity`."""
        exponent = _exponent(temperature)
        x = np.maximum(x_ff, 1e-9)
        dry = self.protein_activity(x, exponent)
        dry_slope = 1.0 / self.protein_water(np.minimum(dry, 1.0), exponent)[1]
        if not np.any(self.salt_ratio):
            return dry, dry_slope
        wet, wet_slope = self._above_plateau(x, exponent)
        corner = np.sqrt((wet - PLATEAU) ** 2 + self.softness**2) + 1e-300
        upper = 0.5 * (wet + PLATEAU + corner)
        upper_slope = 0.5 * (1.0 + (wet - PLATEAU) / corner) * wet_slope
        corner = np.sqrt((dry - upper) ** 2 + self.softness**2) + 1e-300
        side = (dry - upper) / corner
        activity = 0.5 * (dry + upper - corner)
        slope = 0.5 * ((1.0 - side) * dry_slope + (1.0 + side) * upper_slope)
        salted = self.salt_ratio > 0.0
        return np.where(salted, activity, dry), np.where(salted, slope, dry_slope)


def isotherm(
    salt_ratio: Numbers,
    protein_factor: Numbers = 1.0,
    gab_k: Numbers = GAB_K,
    softness: float = 0.001,
    turns: int = 1,
) -> Isotherm:
    """Prepare the isotherm of an ensemble of pieces: ask it `.water_activity(x_ff, temperature)`."""
    return Isotherm(
        checked("salt_ratio", salt_ratio),
        checked("protein_factor", protein_factor, 0.05, 20.0),
        checked("gab_k", gab_k, 0.5, 0.9999),
        softness,
        turns,
    )
