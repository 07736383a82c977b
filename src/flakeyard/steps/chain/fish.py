"""Choose and cut: what the fish is made of, how thick its pieces are, and how surely either is known."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flakeyard import tables
from flakeyard.messages import say
from flakeyard.models.salt_transport import RAW_SALT, THICKNESS_LN_SD
from flakeyard.steps.intent.records import Batch, Fish
from flakeyard.steps.intent.spread import Draws, triangular_share

STATED_FAT_SD = 0.01  # judgement: a label or a table value used for one's own fish
WATER_SD = 0.012  # judgement: fish to fish at the same fat
UNEVEN = 0.03  # judgement: of a thickness, what a caliper misses because no piece is the same all over
DRIP = (0.02, 0.04, 0.08)  # from memory: thaw drip, kg per kg of frozen fish
UNTOLD_ASH = 0.012  # judgement: kg per kg of raw fish, the middle of the species table
DRIP_WATER = 0.90  # from memory: drip is mostly water, the rest is soluble protein
CLASSES = ("thinnest", "usual", "thickest")
CLASS_WEIGHTS = np.array(
    [1 / 6, 2 / 3, 1 / 6]
)  # Simpson weights over a batch with most pieces near the usual thickness


@dataclass(frozen=True)
class Flesh:
    """Fish in kg per kg of raw fish; arrays of shape (members,) or (classes, members).

    ``other`` is ash and what else is neither water, salt, sugar, protein nor fat. ``solids`` hold no water,
    salt, sugar or fat.
    """

    water: np.ndarray
    protein: np.ndarray
    fat: np.ndarray
    other: np.ndarray
    salt: np.ndarray
    sugar: np.ndarray

    @property
    def solids(self) -> np.ndarray:
        """What is neither water, fat, salt nor sugar.

        Returns: as the parts [unit of the values, 0 up]
        Source: a balance of masses
        """
        return self.protein + self.other

    @property
    def mass(self) -> np.ndarray:
        """All parts together.

        Returns: as the parts [unit of the values, above 0]
        Source: a balance of masses
        """
        return self.water + self.solids + self.fat + self.salt + self.sugar

    @property
    def water_phase_salt(self) -> np.ndarray:
        """Salt per salt and water.

        Returns: as the parts [kg/kg, 0–1]
        Source: a balance of masses
        """
        return self.salt / (self.salt + self.water)

    def changed(self, **parts) -> Flesh:
        return replace(self, **parts)


@dataclass(frozen=True)
class RawFish:
    """The raw fish of a batch: mass [kg], flesh and piece thickness [m] of shape (classes, members), faces that salt enters."""

    species: tables.Species | None
    mass: float
    flesh: Flesh
    thickness: np.ndarray
    typed_thickness: tuple[float, float, float]
    width: float
    open_faces: int
    fat_raw: float

    def share_thinner(self, thickness: float) -> float:
        """Share of the pieces that are thinner than a thickness [m].

        Returns: float [share, 0–1]
        Source: as told; judgement, that sizes lie in a triangle
        """
        thin, usual, thick = self.typed_thickness
        return float(triangular_share(thickness, thin, usual, thick))


def prepare_fish(batch: Batch, draws: Draws) -> RawFish:
    """Raw flesh and piece sizes of a batch, drawn within what is known of them."""
    species = batch.fish.record
    flesh = _composition(batch.fish, species, draws, batch.measured.composition_error)
    ruler = draws.lognormal("thickness", 1.0, ruler_ln_sd(batch))
    return RawFish(
        species=species,
        mass=batch.fish.raw_weight,
        flesh=flesh,
        thickness=np.array(batch.cut.sizes)[:, None] * ruler,
        typed_thickness=batch.cut.sizes,
        width=batch.cut.strip_width,
        open_faces=1 if batch.cut.closed_face else 2,
        fat_raw=float(np.median(flesh.fat)),
    )


def ruler_ln_sd(batch: Batch) -> float:
    """How surely the thickness is known: as cut by hand, or by the error that was told for the usual piece.

    Returns: float [1, above 0]
    Source: as told; judgement where it is not
    """
    error = batch.measured.thickness_error
    return THICKNESS_LN_SD if error is None else math.hypot(error / batch.cut.thickness, UNEVEN)


def _composition(own: Fish, species: tables.Species | None, draws: Draws, error: float | None) -> Flesh:
    """Water, protein, fat and the rest per kg of raw fish.

    Where the fat is the learner's own, water makes room for it: in oily fish water and fat together stay nearly
    constant through the season (from memory; the seasonal rows of the species table show the same trade).
    """
    fat_mid = _either(own.fat, species, "fat")
    fat_sd = STATED_FAT_SD if own.fat is not None or species is None or species.fat_sd is None else species.fat_sd
    fat_sd = error if error is not None and own.fat is not None else fat_sd
    fat = np.clip(draws.normal("fat", fat_mid, fat_sd), 0.1 * fat_mid, 0.40)
    protein = np.full(draws.members, _either(own.protein, species, "protein"))
    if own.water is not None:
        water_mid = own.water + fat_mid - fat
    else:
        water_mid = _either(None, species, "water") + _either(None, species, "fat") - fat
    water_sd = max(WATER_SD, (species and species.water_sd) or 0.0)
    water_sd = error if error is not None and own.water is not None else water_sd
    water = draws.normal("water", 0.0, water_sd) + water_mid
    other = np.full(draws.members, _ash(own, species))
    total = water + protein + fat + other  # protein takes up what the drawn water leaves
    protein = protein + 1.0 - total
    if own.stock == "frozen":
        drip = draws.triangular("drip", *DRIP)
        water, protein = water - DRIP_WATER * drip, protein - (1 - DRIP_WATER) * drip
        whole = 1.0 - drip
        water, protein, fat, other = water / whole, protein / whole, fat / whole, other / whole
    nothing = np.zeros(draws.members)
    salt = np.full(draws.members, own_salt(species))
    return Flesh(water - salt, np.maximum(protein, 0.02), fat, other, salt, nothing)


def _either(told: float | None, species: tables.Species | None, name: str) -> float:
    """A part of the flesh [kg/kg]: what was told, else what the table has."""
    found = getattr(species, name, None) if told is None else told
    if found is None:
        raise ValueError(say("input.not_tabled", name=name))
    return found


def _ash(own: Fish, species: tables.Species | None) -> float:
    if own.ash is not None:
        return own.ash
    return UNTOLD_ASH if species is None or species.ash is None else species.ash


def own_salt(species) -> float:
    """Salt of the raw flesh from its sodium; 0.14 % where no sodium is tabled (cod, 54 mg sodium).

    Returns: float [kg/kg, 0–0.02]
    Source: own row of the species table
    """
    return RAW_SALT if species is None or species.salt is None else species.salt
