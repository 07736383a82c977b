"""Flesh of the simulator: its isotherm, how fast water moves in it, and how salty a cure makes it.

All numbers are invented unless a source stands beside them. ``MIDDLE`` was set by hand so that most published drying
times come out within a factor of two (`published`); of several sets that did, one was kept whose plain hours are not
those of the package under test (they are 14 to 45 % shorter on the plain batches looked at). It was never drawn towards
the package. X is kg water per kg of fat-free, salt-free dry matter.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

GAS = 8.314  # J/mol/K
WATER_MOLE, SALT_MOLE, SUGAR_MOLE = 0.018015, 0.05844, 0.25  # kg/mol; sugars between honey's and table sugar
SATURATED = 6.15  # mol salt per kg water at 25 degC; handbooks, from memory
PLATEAU = 0.753  # water activity of saturated brine; handbooks, from memory
WATER_DENSITY = 1000.0  # kg/m3
DENSITIES = {"solids": 1350.0, "fat": 920.0, "salt": 2160.0, "sugar": 1550.0}  # kg/m3; handbooks, from memory
WATER_HEAT, DRY_HEAT = 4180.0, 1700.0  # J/kg/K; handbooks, from memory


@dataclass(frozen=True)
class Law:
    """How this flesh holds and moves water."""

    diffusivity: float = 3.4e-10  # m2/s of moist lean flesh at 30 degC, in shrinking lengths
    knee: float = 1.6  # kg/kg: above it water moves freely
    power: float = 1.5  # below the knee D falls as this power of X
    least: float = 0.02  # of the free diffusivity
    energy_moist: float = 34e3  # J/mol
    energy_dry: float = 42e3  # J/mol, reached as X goes to nothing
    energy_fall: float = 0.6  # kg/kg
    fat_power: float = 2.0  # D goes with (1 - volume of fat) to this power
    salt_slowing: float = 0.0  # D is divided by 1 + this × salt per kg of piece
    sideways: float = 0.25  # power of the volume with which the footprint shrinks
    held: float = 0.112  # kg/kg, Oswin constant at 25 degC
    held_power: float = 0.66  # Oswin power
    held_fall: float = 0.006  # 1/K
    crust: float = 0.0  # Pa m2 s/kg, resistance of a bone-dry surface
    crust_begins: float = 0.6  # kg/kg at the surface
    edges: bool = False
    drip: float = 0.0  # of the water as laid, drops off in the first hour or two
    oil: float = 0.0  # of the fat as laid, runs out in the warm over some hours

    def slowed(self, salt, fat_volume):
        """Share of the lean, unsalted diffusivity."""
        return (1 - fat_volume) ** self.fat_power / (1 + self.salt_slowing * salt)

    def moves(self, moisture, celsius):
        """Diffusivity of water in volume [m2/s]."""
        part = np.clip(moisture / self.knee, 1e-6, 1.0) ** self.power
        energy = self.energy_moist + (self.energy_dry - self.energy_moist) * np.exp(-moisture / self.energy_fall)
        warmth = (1 / 303.15 - 1 / (celsius + 273.15)) / GAS
        return self.diffusivity * np.maximum(part, self.least) * np.exp(energy * warmth)

    def activity(self, moisture, salt, sugar=0.0, celsius=25.0):
        """Water activity: Oswin times Raoult while the brine in the flesh lasts, then protein water alone.

        ``salt``, ``sugar``: kg per kg fat-free, salt-free dry matter. Between them lies the plateau of saturated brine,
        sloping a little because kitchen salt is not pure.
        """
        x = np.maximum(moisture, 1e-6)
        room = (x / (self.held * np.exp(-self.held_fall * (celsius - 25.0)))) ** (1 / self.held_power)
        protein = room / (1 + room)
        strength = np.minimum(salt / SALT_MOLE / x, SATURATED)
        doubled = 1.8 + 0.18 * strength  # particles a mole of salt counts for: 1.86 thin, 2.9 saturated
        sweet = np.minimum(sugar / SUGAR_MOLE / x, 10.0)
        brine = 1 / (1 + WATER_MOLE * (doubled * strength + sweet))
        return np.where(
            salt > 0, np.maximum(protein * brine, np.minimum(protein, PLATEAU * protein**0.08)), protein * brine
        )


MIDDLE = Law()


@dataclass(frozen=True)
class MakeUp:
    """What a piece is made of, kg per kg of piece (or arrays of it)."""

    water: np.ndarray
    salt: np.ndarray
    sugar: np.ndarray
    fat: np.ndarray
    solids: np.ndarray

    def scaled(self) -> MakeUp:
        total = self.water + self.salt + self.sugar + self.fat + self.solids
        return MakeUp(*(part / total for part in (self.water, self.salt, self.sugar, self.fat, self.solids)))

    @property
    def dry_volume(self):
        """Of all that is not water [m3/kg of piece]."""
        return sum(getattr(self, name) / density for name, density in DENSITIES.items())

    @property
    def density(self):
        return 1 / (self.water / WATER_DENSITY + self.dry_volume)


def taken_up(thickness, seconds, diffusivity, faces=2):
    """Share of the salt that a long soak would bring, after some seconds: a rounded square-root law."""
    root = 1.128 * np.sqrt(diffusivity * seconds) / (thickness / faces)
    return root / (1 + root**4) ** 0.25


@dataclass(frozen=True)
class Cure:
    """A cure as it was done: kg of all the fish, of salt, sugar and water around it; hours; waters to freshen in."""

    fish: float
    salt: float
    hours: float
    water: float = 0.0  # none: strewn on dry
    sugar: float = 0.0
    freshened: tuple[tuple[float, float], ...] = ()  # kg water, hours
    warm: float = 3.0
    cook_out: float = 0.0  # of the mass, when heated
    gain: float = 0.0  # of the water, in the brine
    diffusivity: float = 6e-10  # m2/s at 3 degC
    faces: int = 2

    def of(self, raw: MakeUp, thickness) -> tuple[MakeUp, np.ndarray]:
        """The make-up as laid, and the mass as laid over the raw mass, by piece."""
        speed = self.diffusivity * np.exp(0.03 * (self.warm - 3.0))  # 3 % a kelvin
        part = taken_up(thickness, 3600 * self.hours, speed, self.faces)
        around = self.water + raw.water * self.fish
        salt, sweet = raw.water * part * self.salt / around, 0.6 * raw.water * part * self.sugar / around
        water = raw.water * (1 + self.gain)
        if self.water == 0.0:  # dry: nearly all of the dose goes in, thin pieces take more, water drains off
            dose = self.salt / self.fish
            salt, water = 0.92 * dose * (np.mean(thickness) / thickness) ** 0.3, water - 1.1 * dose
        for bath, hours in self.freshened:
            share = taken_up(thickness, 3600 * hours, speed, self.faces)
            left = raw.water * self.fish / (raw.water * self.fish + bath)
            salt, sweet = (solute * (1 - share * (1 - left)) for solute in (salt, sweet))
        juice = water + salt + sweet
        whole = juice + raw.fat + raw.solids
        stays = 1 - np.minimum(self.cook_out * whole / juice, 0.8)
        laid = MakeUp(water * stays, (salt + 0.001) * stays, sweet * stays, raw.fat + 0 * stays, raw.solids + 0 * stays)
        mass = laid.water + laid.salt + laid.sugar + laid.fat + laid.solids
        return laid.scaled(), mass
