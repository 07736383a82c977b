"""What a preserver intends, as frozen records: plain numbers in SI (temperature in degC), None where nothing was told.

Every default and everything that follows from what was told stands here, once: how many faces are open, how thick the
thinnest and thickest pieces are, how often the water is changed. An experiment is a changed record:
``replace(batch, cut=replace(batch.cut, thickness=0.005))``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from flakeyard import tables

UNTOLD_PLACE = "refrigerator"  # the aim of drying when no place to keep it is told
UNTOLD_THICKEST = 1.3  # judgement: the thickest piece over the usual one when only that was measured
MOVING = ("fan", "still", "wind")  # what moves the air over the fish
METERS = ("laboratory", "meter", "household hygrometer")  # what a water activity may be measured by
UNTOLD_TO_TRAY = 1800.0  # s (judgement): 6–12 mm cool from 74 to 30 °C on a bench in 13–52 min, computed


@dataclass(frozen=True)
class Portion:
    """So much of something, by weight [kg] or by volume [m3]; one of them is told."""

    mass: float | None = None
    volume: float | None = None

    def kilograms(self, density):
        """Weight [kg]; ``density`` [kg/m3] counts only for a volume.

        Returns: float or array [kg, above 0]
        Source: as told
        """
        return self.mass if self.mass is not None else self.volume * density


@dataclass(frozen=True)
class Airflow:
    """Fresh air of a dryer, by mass of dry air [kg/s] or by volume at its outlet [m3/s]; one of them is told."""

    flow: float | None = None
    volume_flow: float | None = None


@dataclass(frozen=True, kw_only=True)
class Fish:
    """The raw fish: weight [kg] as it meets the salt, composition [kg/kg], where it comes from and how it was held.

    ``hours_above_4c`` and ``hours_above_21c`` [h] and ``warmest`` [degC] since it was caught or bought; ``frozen_at`` [degC].
    """

    raw_weight: float
    species: str | None = None
    water: float | None = None
    protein: float | None = None
    fat: float | None = None
    ash: float | None = None
    stock: str | None = None
    frozen_at: float | None = None
    frozen_days: float | None = None
    thawed_in_vacuum: bool | None = None
    origin: str | None = None
    gutted: bool | None = None
    hours_above_4c: float | None = None
    hours_above_21c: float | None = None
    warmest: float | None = None
    smells_normal: bool | None = None
    waters: str | None = None

    @property
    def told_sum(self) -> float | None:
        """What an own composition adds up to; None where it is not told in whole.

        Returns: float or None [kg/kg, 0.93–1.03 in a batch that was read]
        Source: as told
        """
        if self.water is None or self.protein is None or self.fat is None or self.ash is None:
            return None
        return self.water + self.protein + self.fat + self.ash

    @property
    def record(self) -> tables.Species | None:
        """Its row of the species table."""
        return None if self.species is None else tables.species(self.species)


@dataclass(frozen=True, kw_only=True)
class Cut:
    """Pieces: usual, thinnest and thickest thickness and width [m], form, skin."""

    thickness: float
    form: str | None = None
    thinnest: float | None = None
    thickest: float | None = None
    width: float | None = None
    skin: str | None = None

    @property
    def sizes(self) -> tuple[float, float, float]:
        """Thinnest, usual and thickest piece, m; a thickest piece that was not measured counts as thicker than usual.

        Returns: thinnest, usual, thickest [m, 0.001–0.04]; rising in a batch that was read
        Source: as told; judgement where the thickest is not
        """
        usual = self.thickness
        return (
            usual if self.thinnest is None else self.thinnest,
            usual,
            UNTOLD_THICKEST * usual if self.thickest is None else self.thickest,
        )

    @property
    def skin_on(self) -> bool:
        """Whether skin closes a face; skin that is not told counts as on."""
        return self.skin != "off"

    @property
    def whole(self) -> bool:
        return self.form == "whole"

    @property
    def closed_face(self) -> bool:
        """Whether nothing moves through one face: skin on it, or a whole fish."""
        return self.skin_on or self.whole

    @property
    def strip_width(self) -> float:
        """Width of strips, m; wide pieces count as endless.

        Returns: float [m, 0.005–0.5, or infinite]
        Source: as told
        """
        return self.width if self.form == "strips" and self.width is not None else math.inf

    def scaled(self, factor: float) -> Cut:
        """The same cut with all sizes that were told times a factor."""
        thin, thick = (None if size is None else size * factor for size in (self.thinnest, self.thickest))
        return replace(self, thinnest=thin, thickness=self.thickness * factor, thickest=thick)


@dataclass(frozen=True, kw_only=True)
class Ingredient:
    """Something in a brine or cure; a syrup is told by what one cup weighs [kg], by degrees Brix, or by its recipe."""

    what: str
    amount: Portion
    one_cup_weighs: float | None = None
    brix: float | None = None
    recipe_sugar: Portion | None = None
    recipe_liquid: Portion | None = None

    @property
    def record(self) -> tables.Substance:
        """Its row of the tables of salts, sugars and liquids."""
        return tables.ingredient(self.what)


@dataclass(frozen=True, kw_only=True)
class Rest:
    """Out of the bath: time [s] at a temperature [degC]."""

    time: float
    temperature: float

    @property
    def hours(self) -> float:
        """Hours out of the bath.

        Returns: float [h, above 0]
        Source: as told
        """
        return self.time / 3600


@dataclass(frozen=True, kw_only=True)
class Soak(Rest):
    """A wet brine or a dry cure."""

    method: str = "wet"
    ingredients: tuple[Ingredient, ...] = ()

    @property
    def dry(self) -> bool:
        return self.method == "dry"


@dataclass(frozen=True, kw_only=True)
class Freshen(Rest):
    """Plain water; ``time`` [s] is for each of its ``changes``."""

    water: Portion
    changes: int | None = None

    @property
    def waters(self) -> int:
        """How often the fish lies in fresh water; once when not told.

        Returns: int [count, 1–20]
        Source: as told
        """
        return 1 if self.changes is None else int(self.changes)

    @property
    def hours(self) -> float:
        """Of all waters together.

        Returns: float [h, above 0]
        Source: as told
        """
        return self.waters * self.time / 3600


@dataclass(frozen=True, kw_only=True)
class Heat:
    """Heated through before drying: core [degC], hold [s], drained weight after it [kg], how the core was checked,
    time from then to the warm trays [s]."""

    core: float
    hold: float | None = None
    weight_after: float | None = None
    checked: str | None = None
    to_tray: float | None = None

    @property
    def hold_minutes(self) -> float:
        """Minutes that count; none when not told.

        Returns: float [min, 0–360]
        Source: as told
        """
        return 0.0 if self.hold is None else self.hold / 60

    @property
    def probed(self) -> bool | None:
        """Whether a probe reads the core; None where that was not told."""
        return None if self.checked is None else self.checked == "probe"

    @property
    def bench_hours(self) -> float:
        """Hours between the reading and the trays that count; half an hour when not told.

        Returns: float [h, 0–6]
        Source: as told; judgement where it is not
        """
        return (UNTOLD_TO_TRAY if self.to_tray is None else self.to_tray) / 3600


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What was measured on the way, with the errors told: of a typed composition [kg/kg] and of the sizes [m]; the step of
    the scale [kg]; all the fish drained after its salting [kg]; salt in the water of the fish as laid by a strip, and its
    error [kg/kg]; samples before and after an oven [kg], of the raw fish, of a usual piece as laid, of the marked piece dried."""

    composition_error: float | None = None
    thickness_error: float | None = None
    scale_step: float | None = None
    raw_sample: float | None = None
    raw_oven_dry: float | None = None
    salted_weight: float | None = None
    strip_salt: float | None = None
    strip_error: float | None = None
    laid_sample: float | None = None
    laid_oven_dry: float | None = None
    dried_sample: float | None = None
    dried_oven_dry: float | None = None

    @property
    def of_the_raw_fish(self) -> Measured:
        """What of it still holds when the fish is cut, salted or heated otherwise, or there is more of it."""
        kept = ("composition_error", "thickness_error", "scale_step", "raw_sample", "raw_oven_dry")
        return Measured(**{name: getattr(self, name) for name in kept})


@dataclass(frozen=True, kw_only=True)
class Dryer:
    """Dial [degC], trays and the area of one [m2], faces that the trays leave open, heater [W; 0: none], fresh air, what
    moves the air, and how often the trays change places [s]. Without a heater the temperature is that of the air."""

    temperature: float
    trays: int
    tray_area: float
    faces: int | None = None
    heater: float | None = None
    fresh_air: Airflow | None = None
    moving: str | None = None
    rotated: float | None = None

    @property
    def turning(self) -> tuple[float, int]:
        """How often the trays change places, and among how many; one place for ever where that is not told.

        Returns: hours, count [h, above 0 or infinite; 1 up]
        Source: as told
        """
        return (math.inf, 1) if self.rotated is None or self.trays < 2 else (self.rotated / 3600, self.trays)

    @property
    def open_air(self) -> bool:
        """Whether nothing heats the air."""
        return self.heater == 0.0

    @property
    def area(self) -> float:
        """Of all trays, m2.

        Returns: float [m2, 0.005–120]
        Source: as told
        """
        return self.trays * self.tray_area


@dataclass(frozen=True, kw_only=True)
class AirPhase:
    """For so long [s] an air of its own: dial or, without a heater, the air itself [degC]; the air drawn in [degC] and its
    relative humidity [0–1]; heater [W; 0: none]; what moves the air; whether it comes only once, at the beginning."""

    time: float
    temperature: float
    room_temperature: float | None = None
    relative_humidity: float | None = None
    heater: float | None = None
    moving: str | None = None
    once: bool | None = None


@dataclass(frozen=True, kw_only=True)
class Room:
    """Air around the dryer: temperature [degC], relative humidity [0–1], altitude [m]."""

    temperature: float | None = None
    relative_humidity: float | None = None
    altitude: float | None = None


@dataclass(frozen=True, kw_only=True)
class Keep:
    """How it will be kept: place, pack, weight in a pack [kg]; for how many days it is wanted, which no rule reads; own
    aim as moisture [0–1]; a measured water activity, its error as told, and by what; and at what share of its weight as laid
    the marked piece was measured."""

    place: str | None = None
    pack: str | None = None
    per_pack: float | None = None
    target_moisture: float | None = None
    measured_water_activity: float | None = None
    measured_error: float | None = None
    measured_by: str | None = None
    measured_at: float | None = None
    stop_at: float | None = None
    wanted_days: float | None = None

    @property
    def aim(self) -> str:
        """The place that drying aims at."""
        return UNTOLD_PLACE if self.place is None else self.place

    @property
    def airless(self) -> bool:
        """Whether the pack keeps fresh air out; one that is not told counts as one that does."""
        pack = self.pack_record
        return pack is None or pack.airtight or pack.removes_air

    @property
    def pack_record(self) -> tables.Pack | None:
        """Its row of the packs table."""
        return None if self.pack is None else tables.pack(self.pack)


@dataclass(frozen=True, kw_only=True)
class Batch:
    """What a preserver intends. ``typed`` holds what was typed, for writing it back and for saying it in those words;
    ``borrowed`` names what nobody told ("dryer.trays") and stands in from another batch (`partial`)."""

    title: str
    serving: float
    fish: Fish
    cut: Cut
    dryer: Dryer
    room: Room = Room()
    measured: Measured = Measured()
    keep: Keep = Keep()
    presoak: Soak | None = None
    brine: Soak | None = None
    rest: Rest | None = None
    freshen: tuple[Freshen, ...] = ()
    air: tuple[AirPhase, ...] = ()
    heat: Heat | None = None
    borrowed: tuple[str, ...] = ()
    typed: dict = field(default_factory=dict, repr=False, compare=False)

    @property
    def open_faces(self) -> int:
        """Faces that dry: two on an open mesh, one on a solid tray, with a face closed, or where it is not told.

        Returns: int [count, 1–2]
        Source: as told
        """
        if self.cut.closed_face or self.dryer.faces is None:
            return 1
        return self.dryer.faces

    @property
    def wet_brine(self) -> bool:
        return self.brine is not None and not self.brine.dry

    @property
    def rests(self) -> tuple[Rest, ...]:
        """Everything the fish goes through between raw and heated, in order: soaks, rest, freshening."""
        return tuple(step for step in (self.presoak, self.brine, self.rest, *self.freshen) if step is not None)

    @property
    def ingredients(self) -> tuple[Ingredient, ...]:
        """Of all soaks."""
        return tuple(row for soak in (self.presoak, self.brine) if soak for row in soak.ingredients)
