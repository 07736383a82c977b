"""Load the trays, dry, and stop by weight: hours, the weight to stop at, and what the air in the box does meanwhile."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np

from flakeyard import limits
from flakeyard.messages import say
from flakeyard.models import drying_physics, edges, moist_air, slab_drying, sorption
from flakeyard.models import flesh as physics
from flakeyard.models.constants import DRY_AIR_DENSITY, FLESH_DENSITY, HOUR, KELVIN
from flakeyard.models.drying_chain import Unsolved
from flakeyard.models.warm_clock import WarmCounts, warm_course
from flakeyard.steps.chain import airing
from flakeyard.steps.chain.fish import CLASS_WEIGHTS, Flesh
from flakeyard.steps.chain.salting import Cured
from flakeyard.steps.chain.stopping import (
    activity,
    bone_dry,
    brine_stays,
    done_at,
    dried_to,
    salted_as_its_middle,
    stopping_ratio,
)
from flakeyard.steps.intent.batch_file import said
from flakeyard.steps.intent.outside import Outside, beyond, joined, of_formula
from flakeyard.steps.intent.records import Airflow, Batch, Keep
from flakeyard.steps.intent.spread import Draws
from flakeyard.units import InputError

TESTED = drying_physics.drying_range.bounds
HORIZON_HOURS = 96.0
KILOWATT_HOUR = 3.6e6  # J
ALREADY = 1e-6  # of the weight as laid: so near to it there is nothing to dry (judgement)
HEAVIEST = 9.0  # of the mass as laid: stands for the infinite weight of a piece that was wetted since
HOTTER = 200.0  # degC, hotter than any flesh
TIMES = 3600.0 * np.concatenate([np.linspace(0, 24, 97), np.linspace(24.5, 48, 48), np.linspace(49, HORIZON_HOURS, 48)])
SHORT_TIMES = 3600.0 * np.concatenate([np.linspace(0, 24, 73), np.linspace(25, 48, 24)])  # for a moving picture
QUIET, STILL = 96 * HOUR, 0.002  # s in which no piece loses more of its weight as laid: it stays so (judgement)
COARSER = {"tolerance": 1e-3, "longest_step": 6 * HOUR}  # of many short ways through air that changes
SKETCH = {"nodes": 11, "tolerance": 1e-2, "longest_step": 28800.0}

# Spread of the drying parameters. Middle values and ranges: undried-geometry diffusivity of fish flesh
DIFFUSIVITY, DIFFUSIVITY_LN_SD = 3.4e-10, 0.40  # m2/s at 30 °C, 1.5–5e-10 (from memory; zogzas_1996 gives 0.8–3.4e-10)
ACTIVATION = (30e3, 40e3, 60e3)  # J/mol, from times to 25 % moisture at four temperatures, yapar_erdol
DRY_END = (0.03, 0.20, 0.40)  # diffusivity of dry over moist flesh (from memory; its low end judgement)
FAT_EFFECT = (0.03, 0.06, 0.10)  # per per cent of fat (from memory)
SALT_EFFECT = (0.03, 0.10, 0.13)  # per per cent of salt, yapar_erdol
GAB_K = (sorption.GAB_K_RANGE[0], sorption.GAB_K, sorption.GAB_K_RANGE[1])  # spread of the moist end
FASTEST = 15.0  # times the pace of the plan, which no draw passes: no two laboratories lie farther apart (judgement)
DIAL_SD = 2.5  # K, of the air about the pieces against the dial: thermostat and place together (judgement: 2 to 4)
HOTTEST_AIR = 99.0  # degC, the most that the model takes
JUST_WARM = limits.WARM + 1.0  # degC, within all windows of the clocks
REGULATED = 0.01  # K: air so near to what the thermostat holds is held by it
DIAL_POWER, COOLEST_FITTED = 2.0, 20.0  # of the dial [degC] that hours go with: middles 1.75-1.9, computed 20-75 degC
AIR_SPEED = {None: 1.0, "fan": 1.0, "still": 0.15, "wind": 2.0}  # m/s over the fish (judgement)
AIR_SPEED_LN_SD = 0.5  # (judgement); half the speed costs about 7 % time
WALL_LOSS = (0.5, 1.5, 3.0)  # W/K, box walls (judgement)
HEATER_UNKNOWN = (300.0, 500.0, 1000.0)  # W, household dryers sold (range read in product-neutral surveys; judgement)
FRESH_AIR_SHARE = (
    0.35,
    0.90,
)  # share of the heater's spare power that warms fresh air at the set temperature (judgement)
AIR_HEAT = 1010.0  # J/kg K, humid room air
PUSHED = 1.1  # times the trays' area: pushed together, their edges closed, pieces still lie side by side (judgement)
DEEPEST = 10  # pieces one over another: a deeper heap does not dry within the hours looked at either (judgement)
TALLEST = 1.0  # m, the most that the model takes for a load; nothing so tall was tested, and the verdict says so
OUTDOOR_HUMIDITY = (0.60, 0.80, 0.95)  # of air without a heater, where it is not told (judgement)
WEATHER_SD, WEATHER_HUMIDITY_SD = 2.0, 0.08  # K and share: air without a heater against what was told of it (judgement)
OF_THE_AIR = (
    "heater",
    "set_temperature",
    "fresh_air",
    "room_temperature",
    "room_humidity_ratio",
    "velocity",
    "wall_loss",
)
ROOM_TEMPERATURE, ROOM_HUMIDITY = (16.0, 20.0, 26.0), (0.30, 0.50, 0.75)  # when the room is not described (judgement)
START_TEMPERATURE = {
    False: 5.0,
    True: 30.0,
}  # °C as laid: from the refrigerator, or still warm from heating (judgement)


def is_no_drying(mass_ratio: float) -> bool:
    """Whether a weight to stop at is that as laid."""
    return mass_ratio >= 1.0 - ALREADY


@dataclass(frozen=True)
class PieceCourse:
    """How the thickest piece may dry, as its clocks see it: the ensemble, and the water activity of its middle (members,
    times); ``longer`` are hours of a clock over those of the course, none below one (members,)."""

    result: slab_drying.SlabResult
    middle: np.ndarray
    longer: np.ndarray

    @property
    def counts(self) -> WarmCounts:
        """The warm hours up to each moment (members, times)."""
        times, one = self.result.times, self.result
        counts = warm_course(times, one.temperature, one.air_temperature, self.middle)
        return WarmCounts(*(_drawn_out(times, count, self.longer) for count in counts))


@dataclass(frozen=True)
class Thickest:
    """The thickest piece of a load drying, which decides when the load is done; arrays over members.

    ``counts`` are the warm hours up to each moment (members, times) if the piece stays where it is; ``taken_off`` those
    when it is taken off (members,), where ``growth_hours`` and ``warm_hours`` end too; from ``dry_hours`` on its middle is
    dry enough to stop every count. All of these read the ``courses``, not only the one that ``hours`` are told by, as
    ``counted``: no clock relies on a dryer that is hotter than its dial says.
    ``result`` has that piece in its last members, behind those of the other classes where these were dried too.
    ``layers`` is how many pieces deep the load lies: above 1 the trays hold far less than all of it side by side.
    ``piece`` is the thickest one per kg as laid, ``dried`` the same when it is taken off: at ``mass_ratio``, or at the
    weight of ``done_at`` (members,) where that one is wrong for it. The clocks always run until ``mass_ratio``.
    """

    hours: np.ndarray
    mass_ratio: float
    done_at: np.ndarray
    growth_hours: np.ndarray
    warm_hours: np.ndarray
    counts: WarmCounts
    taken_off: WarmCounts
    dry_hours: np.ndarray
    piece: Flesh
    dried: Flesh
    salt_centre: np.ndarray
    isotherm: dict[str, np.ndarray]
    result: slab_drying.SlabResult
    courses: tuple[PieceCourse, ...]
    counted: tuple[PieceCourse, ...]
    layers: int
    aim: str
    outside: tuple[Outside, ...]

    @property
    def reached(self) -> bool:
        """Whether at least the middle forecast gets there."""
        return bool(np.mean(np.isfinite(self.hours)) >= 0.5)

    @property
    def sure_to_reach(self) -> bool:
        """Whether nine in ten forecasts get there: what a verdict wants to see."""
        return bool(np.mean(np.isfinite(self.hours)) >= 0.9)

    @property
    def brine_stays(self) -> bool:
        """Whether the cupboard is asked for fish with so much salt that its brine does not dry away."""
        return self.aim == "cupboard" and brine_stays(self.piece, self.isotherm)

    @property
    def no_drying(self) -> bool:
        """Whether the piece is as dry as was asked already as it is laid."""
        return is_no_drying(self.mass_ratio)

    @property
    def lightest(self) -> float:
        """The weight of the piece, per kg as laid, at which nothing known grows in it: it hardly gets lighter.

        Returns: float [share, 0–1]
        Source: steps.chain.stopping.bone_dry
        """
        return float(np.median(bone_dry(self.piece, self.isotherm)))

    def cautious_activity(self) -> np.ndarray:
        """The water activity at its stop that verdicts read (members,); where brine stays, that of the middle counts.

        Returns: (members,) [water activity, 0–1]
        Source: models.sorption.water_activity_cautious
        """
        found = activity(self.dried, self.isotherm, cautious=True)
        if not self.brine_stays:
            return found
        middle = salted_as_its_middle(self.dried, self.piece, self.salt_centre)
        return np.maximum(found, activity(middle, self.isotherm, cautious=True))


@dataclass(frozen=True)
class Drying(Thickest):
    """A load drying: its thickest piece, and what goes for the load; ``result`` is flat over classes × members.

    ``pieces`` are per kg as laid and ``masses`` [kg] those of the classes as laid (classes, members). Two states of the
    load: ``taken_out`` [kg] is the sum of its pieces, each taken out when it is down to its own weight to stop at;
    ``target_mass`` [kg] is what all weighs together if nothing was taken out before the thickest piece was done.
    """

    pieces: Flesh
    masses: np.ndarray
    hours_by_class: np.ndarray
    taken_out: Flesh
    target_mass: np.ndarray
    wet_bulb: np.ndarray
    kwh: np.ndarray
    load_area_ratio: float
    coolest_air: float


@dataclass(frozen=True)
class _Laid:
    """Pieces on the trays, shape (classes, members): per kg as laid, and their air.

    Pieces that the trays do not hold side by side are ``crowded``: their edges are closed, and a tenth over that they lie
    ``layers`` deep. The faces between them are closed then: they dry as one slab of so many thicknesses (judgement; any of them may lie under another). ``slab`` and
    ``box`` are of such a heap; `_ways_to_lie` has the piece by itself too, ``usual`` being how thick a usual piece is.
    ``phases``: from when on [s] what of the box is how, for each member, where the air is not that of a heater and a fan.
    """

    pieces: Flesh
    centre: np.ndarray
    slab: slab_drying.Slab
    box: slab_drying.Box
    isotherm: dict
    layers: int
    width: float
    usual: np.ndarray
    crowded: bool
    phases: tuple[tuple[float, dict], ...]


def dry_load(batch: Batch, cured: Cured, draws: Draws, sketch: bool = False) -> Drying:
    """Dry the whole load until the thickest piece has the weight to stop at; a sketch is coarser and shorter."""
    batch = airing.steady(batch)
    times, numerics = _followed_at(batch, sketch)
    laid, thickest = (_lay(batch, cured, draws, classes) for classes in (slice(None), slice(-1, None)))
    result, courses = _dried(laid, thickest, times, numerics)
    found = _followed(batch, thickest, courses) | {"result": result}
    found |= _whole_load(batch, cured, draws, laid, result)
    ratio = stopping_ratio(found["piece"], batch.keep, laid.isotherm, found["salt_centre"])
    outside = _outside(batch, cured, laid, ratio)
    found |= _taken_off(found, batch.keep, ratio)
    return Drying(**found, outside=outside, **_load_then(found))


def _followed_at(batch: Batch, sketch: bool) -> tuple[np.ndarray, dict]:
    """When to look, and how finely to reckon."""
    times, numerics = (SHORT_TIMES, SKETCH) if sketch else (TIMES, {})
    return (airing.moments(batch, times) if airing.changes(batch) else times), numerics


def dry_thickest(batch: Batch, cured: Cured, draws: Draws) -> Thickest:
    """Sketch how the thickest piece dries in the air that the whole load makes, and leave out the rest."""
    batch = airing.steady(batch)
    laid = _lay(batch, cured, draws, slice(-1, None))
    result, courses = _dried(laid, laid, *_followed_at(batch, True))
    found = _followed(batch, laid, courses) | {"result": result}
    ratio = stopping_ratio(found["piece"], batch.keep, laid.isotherm, found["salt_centre"])
    return Thickest(**found, outside=_outside(batch, cured, laid, ratio), **_taken_off(found, batch.keep, ratio))


def stopped_for(load: Thickest, keep: Keep) -> Thickest:
    """The same load, taken off at the weight that another way to keep it asks for."""
    ratio = stopping_ratio(load.piece, keep, load.isotherm, load.salt_centre)
    then = _taken_off(vars(load), keep, ratio)
    if isinstance(load, Drying):
        then |= _load_then(vars(load) | then)
    moist = _activity_outside(load.piece, ratio, load.isotherm)
    others = tuple(one for one in load.outside if one.formula != sorption.water_activity_range.formula)
    outside = load.outside if set(load.outside) == {*others, *moist} else joined(others, moist)
    return replace(load, aim=keep.aim, outside=outside, **then)


def _lay(batch: Batch, cured: Cured, draws: Draws, classes: slice = slice(None)) -> _Laid:
    """Lay pieces of some classes on the trays, thinnest first; what is not known of them and of the air is drawn."""
    pieces, thickness = _select(_per_piece(cured.flesh), classes), cured.fish.thickness[classes]
    shape = pieces.mass.shape
    native = cured.native_share[classes] * draws.normal("native solutes", 1.0, sorption.NATIVE_SD)
    isotherm = draw_isotherm(draws) | {"native": native[-1]}
    held, pace = pieces.solids + pieces.sugar, np.minimum(draws.study("drying hours"), FASTEST)
    over = _area_ratio(batch, cured)
    layers = min(DEEPEST, max(1, int(np.ceil(over / PUSHED - 1e-9))))
    width = cured.fish.width if over <= 1.0 else np.inf
    slab = slab_drying.Slab(
        thickness=layers * thickness.ravel(), faces=float(batch.open_faces), width=width,
        water=pieces.water.ravel(), salt=pieces.salt.ravel(), fat=pieces.fat.ravel(),
        solids=held.ravel(), native=(native * pieces.solids / held).ravel(),
        diffusivity=_wide(pace * draws.lognormal("drying diffusivity", DIFFUSIVITY, DIFFUSIVITY_LN_SD), shape),
        activation=_wide(draws.triangular("activation", *ACTIVATION), shape),
        dry_end=_wide(draws.triangular("dry end", *DRY_END), shape),
        fat_effect=_wide(draws.triangular("fat effect", *FAT_EFFECT), shape),
        salt_effect=_wide(draws.triangular("salt effect", *SALT_EFFECT), shape),
        salt_cap=_wide(draws.uniform("salt cap", *drying_physics.SALT_CAP_BAND), shape),
        protein_factor=_wide(isotherm["protein_factor"], shape), gab_k=_wide(isotherm["gab_k"], shape),
        start_temperature=START_TEMPERATURE[batch.heat is not None],
    )  # fmt: skip
    box = _box(batch, cured, draws, shape)
    box = replace(box, film_factor=_wide(pace, shape), radiation=_wide(pace * slab_drying.Box.radiation, shape))
    usual = np.asarray(box.load_thickness)
    if over > 1.0:  # no more of the load meets the air than the trays have room for
        box = replace(box, load_thickness=np.minimum(over * usual, TALLEST), load_width=width)
    return _Laid(
        pieces, cured.salt.centre[classes], slab, box, isotherm, layers, cured.fish.width, usual, over > 1.0, _phases(batch, cured, draws),
    )  # fmt: skip


def _phases(batch: Batch, cured: Cured, draws: Draws) -> tuple[tuple[float, dict], ...]:
    """The air from when on, member by member; nothing for a heater and a fan that stay as they are."""
    if not airing.changes(batch):
        return ()
    shape = (draws.members,)
    boxes = {
        around: _box(replace(batch, dryer=around[0], room=around[1]), cured, draws, shape)
        for around in airing.each(batch)
    }
    airs = {around: {name: getattr(box, name) for name in OF_THE_AIR} for around, box in boxes.items()}
    return tuple((begin, airs[around]) for begin, around in airing.phases(batch))


def _area_ratio(batch: Batch, cured: Cured) -> float:
    """Area of the load laid side by side over that of the trays."""
    return cured.fish.mass / (FLESH_DENSITY * cured.fish.typed_thickness[1]) / batch.dryer.area


def marked_as_laid(cured: Cured, draws: Draws, row: int = -1) -> tuple[Flesh, dict[str, np.ndarray]]:
    """The thickest piece per kg as laid, or that of another class, and its isotherm.

    Returns: Flesh [kg/kg, 0–1] and the isotherm by name [1, above 0], each (members,)
    Source: the draws
    """
    native = cured.native_share[row] * draws.normal("native solutes", 1.0, sorption.NATIVE_SD)
    return _select(_per_piece(cured.flesh), row), draw_isotherm(draws) | {"native": native}


def draw_isotherm(draws: Draws) -> dict[str, np.ndarray]:
    """What is not known of the isotherm, by the names that `activity` takes.

    Returns: by name, (members,) [1, above 0]
    Source: the draws; models.sorption.PROTEIN_FACTOR_LN_SD
    """
    return {
        "protein_factor": draws.lognormal("protein water", 1.0, sorption.PROTEIN_FACTOR_LN_SD),
        "gab_k": draws.triangular("isotherm moist end", *GAB_K),
        "flesh_water": draws.study("water activity"),
    }


def _per_piece(flesh: Flesh) -> Flesh:
    """Per kg of piece as laid instead of per kg of raw fish."""
    return Flesh(**{name: getattr(flesh, name) / flesh.mass for name in Flesh.__dataclass_fields__})


def _select(flesh: Flesh, row: int | slice) -> Flesh:
    return Flesh(**{name: getattr(flesh, name)[row] for name in Flesh.__dataclass_fields__})


def _wide(values, shape):
    return np.broadcast_to(values, shape).ravel()


def _room(batch: Batch, draws: Draws) -> tuple[np.ndarray, np.ndarray, float]:
    """Temperature [°C], humidity ratio [kg/kg] and pressure [Pa] of the air drawn in; drawn where not described."""
    if batch.dryer.open_air:
        return _weather(batch, draws)
    room = batch.room
    warm = (
        np.full(draws.members, room.temperature)
        if room.temperature is not None
        else draws.triangular("room", *ROOM_TEMPERATURE)
    )
    humid = (
        np.full(draws.members, room.relative_humidity)
        if room.relative_humidity is not None
        else draws.triangular("room humidity", *ROOM_HUMIDITY)
    )
    pressure = float(moist_air.altitude_pressure(room.altitude or 0.0))
    return warm, np.asarray(moist_air.humidity_ratio(warm, humid, pressure)), pressure


def _weather(batch: Batch, draws: Draws) -> tuple[np.ndarray, np.ndarray, float]:
    """The same of air that nothing heats: as told of the room, else as warm as over the fish, and no weather is just as told.
    Over the fish it is as moist as where it comes from, at the most full."""
    room, away = batch.room, draws.normal("weather", 0.0, WEATHER_SD)
    warm = (batch.dryer.temperature if room.temperature is None else room.temperature) + away
    told = room.relative_humidity
    humid = draws.triangular("outdoor humidity", *OUTDOOR_HUMIDITY) if told is None else np.full(draws.members, told)
    humid = np.clip(humid + draws.normal("weather humidity", 0.0, WEATHER_HUMIDITY_SD), 0.02, 1.0)
    pressure = float(moist_air.altitude_pressure(room.altitude or 0.0))
    full = moist_air.humidity_ratio(batch.dryer.temperature + away, 1.0, pressure)
    return warm, np.minimum(np.asarray(moist_air.humidity_ratio(warm, humid, pressure)), full), pressure


def _open_air(batch: Batch, cured: Cured, draws: Draws, shape: tuple[int, ...]) -> slab_drying.Box:
    """Air as it is, plenty of it, as a box that neither heats nor holds it back."""
    away = draws.normal("weather", 0.0, WEATHER_SD)
    _, ratio, pressure = _room(batch, draws)
    air = _wide(batch.dryer.temperature + away, shape)
    return slab_drying.Box(
        heater=0.0, set_temperature=air, fresh_air=np.inf, load=_wide(cured.mass, shape), room_temperature=air,
        room_humidity_ratio=_wide(ratio, shape),
        velocity=_wide(draws.lognormal("air speed", AIR_SPEED[batch.dryer.moving], AIR_SPEED_LN_SD), shape),
        load_thickness=_wide(cured.fish.thickness[1], shape), load_faces=float(batch.open_faces),
        load_width=cured.fish.width, pressure=pressure,
    )  # fmt: skip


def _box(batch: Batch, cured: Cured, draws: Draws, shape: tuple[int, ...]) -> slab_drying.Box:
    """The dryer as a box with a heater, fresh air and this load; what is not known is drawn. All of the load stays in it to
    the end: with thin pieces taken out the air is warmer and drier, and no hours are shorter for that here."""
    if batch.dryer.open_air:
        return _open_air(batch, cured, draws, shape)
    warm, ratio, pressure = _room(batch, draws)
    setting = batch.dryer.temperature
    heater = (
        np.full(draws.members, batch.dryer.heater)
        if batch.dryer.heater is not None
        else draws.triangular("heater", *HEATER_UNKNOWN)
    )
    wall = draws.triangular("wall loss", *WALL_LOSS)
    lift = np.maximum(setting - warm, 1.0)
    spare = np.maximum(heater - wall * lift, 0.1 * heater)
    fresh_air = (
        np.full(draws.members, _air_mass(batch.dryer.fresh_air, setting))
        if batch.dryer.fresh_air is not None
        else draws.uniform("fresh air", *FRESH_AIR_SHARE) * spare / (AIR_HEAT * lift)
    )
    return slab_drying.Box(
        heater=_wide(heater, shape), set_temperature=_air_set(setting, draws, shape), fresh_air=_wide(fresh_air, shape),
        load=_wide(cured.mass, shape), room_temperature=_wide(warm, shape), room_humidity_ratio=_wide(ratio, shape),
        velocity=_wide(draws.lognormal("air speed", AIR_SPEED[batch.dryer.moving], AIR_SPEED_LN_SD), shape), wall_loss=_wide(wall, shape),
        load_thickness=_wide(cured.fish.thickness[1], shape), load_faces=float(batch.open_faces),
        load_width=cured.fish.width, pressure=pressure,
    )  # fmt: skip


def _air_set(dial: float, draws: Draws, shape: tuple[int, ...]) -> np.ndarray:
    """Temperature [°C] at which the thermostat holds the air about the pieces, which the dial tells only roughly."""
    return _wide(np.minimum(dial + draws.normal("dial", 0.0, DIAL_SD), HOTTEST_AIR), shape)


def _unsalted_centre(laid: _Laid, result) -> np.ndarray:
    """Water activity of the centre with its own salt, which lags behind the mean after a short or strong cure.

    The salt is held where the soaks left it: it evens out while the fish dries, so this errs to the moist side. So does
    the water: where laboratories differ, more counts in full and less not at all.
    """
    pieces, shape = laid.pieces, laid.pieces.mass.shape
    solids = pieces.solids + pieces.sugar
    moister = np.maximum(laid.isotherm["flesh_water"], 1.0)
    x_ff = result.centre.reshape(*shape, -1) * (moister * (1 - pieces.water) / solids)[..., None]
    salt = np.minimum(laid.centre * pieces.water, pieces.salt) / solids
    names = ("protein_factor", "gab_k", "native")
    factor, gab_k, native = (np.broadcast_to(laid.isotherm[name], shape)[..., None] for name in names)
    curve = sorption.isotherm(salt[..., None], factor, gab_k, native)
    warm = np.maximum(result.temperature.reshape(*shape, -1), 25.0)
    return curve.water_activity(x_ff, warm).reshape(result.centre.shape)


def _air_mass(air: Airflow, temperature: float) -> float:
    """kg/s of a flow of air given by mass, or by volume at the outlet of the dryer."""
    if air.flow is not None:
        return air.flow
    return (air.volume_flow or 0.0) * DRY_AIR_DENSITY / (temperature + KELVIN)  # one of both is told


def _dried(
    laid: _Laid, thickest: _Laid, times, numerics: Mapping
) -> tuple[slab_drying.SlabResult, tuple[PieceCourse, ...]]:
    """How all pieces dry, and the courses of the thickest: of a strip also how it would dry without its edges, in the
    air of a load without edges.

    Edges make a strip dry sooner, and cool the air of a box while it is wet. No clock counts on the one or leaves out
    the other, because pieces that touch or lie against a rim have fewer edges than they were given by the knife. A heap
    dries more slowly: no clock leaves out the piece that lies by itself.
    """
    slab, box, rows, own = laid.slab, laid.box, laid.pieces.mass.size, thickest.pieces.mass.size
    others = _ways_to_lie(thickest)
    for other_slab, other_box in others:
        slab = _stacked(slab, other_slab, np.size(slab.thickness), own)
        box = _stacked(box, other_box, np.size(box.load), own)
    try:
        if thickest.phases:
            found = _through(thickest, slab, box, times, numerics, slice(rows - own, None))
        else:
            found = slab_drying.dry(slab, box, times, **numerics)
    except Unsolved as unsolved:
        given, why, allowed = (say(f"drying.unsolved.{part}") for part in ("given", "why", "allowed"))
        raise InputError("[dryer]", given, why, allowed, "temperature = 63") from unsolved
    members = [slice(rows + (way - 1) * own, rows + way * own) for way in range(1 + len(others))]
    seen = [found.take(part) for part in members]
    middles = [np.maximum(one.centre_water_activity, _unsalted_centre(thickest, one)) for one in seen]
    return found.take(slice(rows)), tuple(PieceCourse(*both, np.ones(own)) for both in zip(seen, middles, strict=True))


def _set_at(batch: Batch, thickest: _Laid, times: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Dial, or the air as told, and what it is in truth (members, times) at each moment, or at all alike (…, 1)."""
    if not thickest.phases:
        return np.array([batch.dryer.temperature]), np.asarray(thickest.box.set_temperature)[:, None]
    begins = [begin for begin, _ in thickest.phases]
    which = np.searchsorted(begins, times, side="left").clip(1) - 1  # at its end it is still the same phase
    told = np.array([dryer.temperature for _, (dryer, _) in airing.phases(batch)])
    held = np.stack([air["set_temperature"] for _, air in thickest.phases], axis=1)
    return told[which], held[:, which]


def _counted(course: PieceCourse, dial: np.ndarray, held: np.ndarray) -> PieceCourse:
    """A course as its clocks count it: no clock relies on a dryer that is hotter than its dial, or cooler.

    Beside the air that the thermostat of a member holds, ``held`` (members, times), stands that of the dial: the cooler of
    both counts, but as warm where the other is, and the hours of a hotter dryer are drawn out by DIAL_POWER. Air without a
    heater is held by the weather, and its dial is what was told of it.
    """
    air = course.result.air_temperature
    other = np.where(air < held - REGULATED, np.minimum(air, dial), dial)
    flesh, base = course.result.temperature, np.maximum(dial, COOLEST_FITTED)
    longer = ((np.maximum(base + held - dial, base) / base) ** DIAL_POWER).max(axis=1)
    own = _between(flesh, flesh + other - air), _between(air, other)
    return PieceCourse(replace(course.result, temperature=own[0], air_temperature=own[1]), course.middle, longer)


def _between(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """The cooler of two temperatures [°C], but warm where either is."""
    return np.maximum(np.minimum(one, other), np.minimum(np.maximum(one, other), JUST_WARM))


def _drawn_out(times: np.ndarray, count: np.ndarray, longer: np.ndarray) -> np.ndarray:
    """A count up to each moment (members, times), of courses that take so many times as long (members,)."""
    rows = np.flatnonzero(longer > 1.0)
    moments = times / longer[rows, None]
    before = np.clip(np.searchsorted(times, moments, side="right") - 1, 0, len(times) - 2)
    part = (moments - times[before]) / (times[before + 1] - times[before])
    low, high = (np.take_along_axis(count[rows], step, axis=1) for step in (before, before + 1))
    found = count.copy()
    found[rows] = longer[rows, None] * (low + part * (high - low))
    return found


def _through(laid: _Laid, slab, box, times, numerics: Mapping, thickest: slice) -> slab_drying.SlabResult:
    """The same pieces through air that changes, until the thickest are as dry as they get in it."""
    wide = np.size(box.load)

    def then(air: dict) -> slab_drying.Box:
        return replace(
            box, **{name: np.tile(one, wide // one.size) if np.ndim(one) else one for name, one in air.items()}
        )

    def enough(found: slab_drying.SlabResult) -> bool:
        """Whether hardly any of them got lighter in the last days."""
        since = found.times[-1] - QUIET
        if since < HORIZON_HOURS * HOUR:
            return False
        curves = np.minimum.accumulate(found.mass_ratio[thickest], axis=-1)
        return bool(np.quantile(curves[:, np.searchsorted(found.times, since)] - curves[:, -1], 0.975) < STILL)

    boxes = ((begin, then(air)) for begin, air in laid.phases)
    return slab_drying.dry_through(slab, boxes, times, enough, **{**COARSER, **numerics})


def _ways_to_lie(piece: _Laid) -> list[tuple[slab_drying.Slab, slab_drying.Box]]:
    """The other ways in which the thickest piece may lie: by itself where the load is a heap, without edges if a strip."""
    slab, box, ways = piece.slab, piece.box, []
    if piece.crowded:
        slab = replace(slab, thickness=slab.thickness / piece.layers, width=piece.width)
        box = replace(box, load_thickness=piece.usual, load_width=piece.width)
        ways.append((slab, box))
    if np.isfinite(piece.width):
        ways.append((replace(slab, width=np.inf), replace(box, load_width=np.inf)))
    return ways


def _stacked(one, other, rows: int, more: int):
    """Two records of the same kind as one, its members behind one another; what is the same for all stays a number."""
    parts = {}
    for item in fields(one):
        first, second = getattr(one, item.name), getattr(other, item.name)
        if np.ndim(first) or np.ndim(second) or first != second:
            first = np.concatenate([np.broadcast_to(first, rows), np.broadcast_to(second, more)])
        parts[item.name] = first
    return replace(one, **parts)


def _followed(batch: Batch, thickest: _Laid, courses: tuple[PieceCourse, ...]) -> dict:
    """The fields of `Thickest` that ask neither for other pieces nor when it is taken off."""
    times = courses[0].result.times
    dial, held = _set_at(batch, thickest, times)
    counted = tuple(_counted(one, dial, held) for one in courses)
    return {
        "courses": courses, "counted": counted, "counts": _longest(one.counts for one in counted),
        "piece": _select(thickest.pieces, -1),
        "dry_hours": np.max([one.longer * _dry_after(times, one.middle) for one in counted], axis=0),
        "salt_centre": thickest.centre[-1], "isotherm": thickest.isotherm, "aim": batch.keep.aim, "layers": thickest.layers,
    }  # fmt: skip


def _longest(counts) -> WarmCounts:
    """Of each count the longest of several courses."""
    return WarmCounts(*(np.max(count, axis=0) for count in zip(*counts, strict=True)))


def _taken_off(found: Mapping, keep: Keep, ratio: float) -> dict:
    """The fields of `Thickest` for a weight at which the piece is taken off; its clocks run until the last course is there."""
    courses, times = found["courses"], found["courses"][0].result.times
    goal = done_at(found["piece"], keep, found["isotherm"], ratio)
    hours = [when_down_to(times, one.result.mass_ratio, ratio) / HOUR for one in courses]
    off = _last(np.max(hours, axis=0), times)
    warm = [
        one.longer * slab_drying.hours_between(one.result, limits.WARM, HOTTER, limits.MOIST, off, one.middle)
        for one in found["counted"]
    ]
    last = _last(np.max([one.longer * off / HOUR for one in found["counted"]], axis=0), times)
    ended = WarmCounts(*(_at(times, count, last) for count in found["counts"]))
    return {
        "hours": when_down_to(times, courses[0].result.mass_ratio, goal) / HOUR, "mass_ratio": ratio, "done_at": goal,
        "taken_off": ended, "growth_hours": ended.h, "warm_hours": np.max(warm, axis=0),
        "dried": dried_to(found["piece"], goal),
    }  # fmt: skip


def _dry_after(times: np.ndarray, activity: np.ndarray) -> np.ndarray:
    """Hours after which each member's water activity stays at or below the limit of the clocks; infinite for never."""
    moist = activity > limits.MOIST
    last = moist.shape[-1] - 1 - np.argmax(moist[:, ::-1], axis=-1)
    hours = np.append(times[1:], np.inf)[last] / HOUR
    return np.where(moist.any(axis=-1), hours, 0.0)


def _whole_load(batch: Batch, cured: Cured, draws: Draws, laid: _Laid, result) -> dict:
    """The fields that `Drying` has beside those of its thickest piece, and that do not ask when it is taken off."""
    air = result.air_temperature.reshape(*laid.pieces.mass.shape, -1)[1]
    _, ratio, pressure = _room(batch, draws)
    return {
        "pieces": laid.pieces,
        "masses": cured.fish.mass * CLASS_WEIGHTS[:, None] * cured.flesh.mass,
        "wet_bulb": moist_air.wet_bulb(batch.dryer.temperature, ratio, pressure),
        "load_area_ratio": _area_ratio(batch, cured),
        "coolest_air": float(np.median(air[:, result.times <= 2 * HOUR].min(axis=1))),
    }


def _load_then(found: Mapping) -> dict:
    """What goes for the load when its thickest piece is done."""
    result, shape = found["result"], found["masses"].shape
    times, by_class = result.times, result.mass_ratio.reshape(*shape, -1)
    hours = np.stack([when_down_to(times, one, found["done_at"]) for one in by_class]) / HOUR
    last, reached = _last(hours[-1], times), np.isfinite(hours[-1])
    then = np.stack([_at(times, one, last) for one in by_class])
    energy = result.heater_energy.reshape(*shape, -1)[1]
    return {
        "hours_by_class": hours,
        "taken_out": _taken_out(found, hours, then),
        "target_mass": np.where(reached, (found["masses"] * then).sum(axis=0), np.nan),
        "kwh": np.where(reached, _at(times, energy, last) / KILOWATT_HOUR, np.nan),
    }


def _taken_out(found: Mapping, hours: np.ndarray, then: np.ndarray) -> Flesh:
    """The load as the sum of its pieces, each taken out at its own weight to stop at, with the thickest at the latest.

    ``hours`` – until each class is there; ``then`` – weight left of each when the thickest is (classes, members). So salty a
    thin piece may be that its dry matter alone is heavier. Where the thickest never gets there, all count as if they did.
    """
    late = (hours > hours[-1]) & np.isfinite(hours[-1])
    dried = dried_to(found["pieces"], np.where(late, np.maximum(then, found["done_at"]), found["done_at"]))
    parts = {name: (found["masses"] * getattr(dried, name)).sum(axis=0) for name in Flesh.__dataclass_fields__}
    return Flesh(**parts)


def _outside(batch: Batch, cured: Cured, laid: _Laid, ratio: float) -> tuple[Outside, ...]:
    """What of pieces, dryer and room the drying formulas were not tested for."""
    dial, raw_flesh, box = batch.dryer.temperature, cured.fish.flesh, laid.box
    return joined(
        _pieces_outside(batch, laid.layers), _dial_outside(batch),
        beyond(drying_physics.drying_range, True, water=raw_flesh.water, fat=raw_flesh.fat),
        beyond(physics.flesh_range, True, temperature=dial),
        beyond(moist_air.moist_air_range, True, temperature=box.room_temperature, pressure=box.pressure),
        beyond(moist_air.film_range, True, temperature=dial, velocity=box.velocity, length=box.length),
        _salt_outside(laid), airing.beyond_all_tests(batch),
        _edges_outside(cured),
        _activity_outside(_select(laid.pieces, -1), ratio, laid.isotherm),
        _whole_outside(batch),
    )  # fmt: skip


def _activity_outside(piece: Flesh, ratio: float, isotherm: dict) -> tuple[Outside, ...]:
    """A stop so moist or so dry that the water activity was not tested there; a side number only."""
    return beyond(sorption.water_activity_range, False, water_activity=activity(dried_to(piece, ratio), isotherm))


def _pieces_outside(batch: Batch, layers: int) -> tuple[Outside, ...]:
    (low, high, _), (thin, _, thick) = TESTED["thickness"], batch.cut.sizes
    if thin >= low - 1e-9 and layers * thick <= high + 1e-9:
        return ()
    words = say("drying.pieces" if layers == 1 else "drying.heap", thin=1000 * thin, thick=1000 * thick, layers=layers)
    return (Outside(drying_physics.drying_range.formula, words, True),)


def _dial_outside(batch: Batch) -> tuple[Outside, ...]:
    low, high, _ = TESTED["temperature"]
    dials = [dryer.temperature for dryer, _ in airing.each(batch)]
    if all(low <= dial <= high for dial in dials):
        return ()
    words = say("drying.dial", temperature=said(batch, "dryer", "temperature"))
    return (Outside(drying_physics.drying_range.formula, words, True),)


def _salt_outside(laid: _Laid) -> tuple[Outside, ...]:
    """More salt than was ever dried in a test: the hours are a guess then, but the weight to stop at does not hang on it."""
    tested, salt = drying_physics.salt_effect_range, float(np.median(laid.pieces.salt))
    most = tested.bounds["salt"][1]
    if salt <= most + 1e-9:
        return ()
    return (of_formula(tested, say("plan.salt_outside", salt=f"{100 * salt:.0f}", most=f"{100 * most:.0f}"), False),)


def _edges_outside(cured: Cured) -> tuple[Outside, ...]:
    """Strips whose edges were not tested for; a slab has none that count."""
    if np.isinf(cured.fish.width):
        return ()
    return beyond(edges.edges_range, False, thickness=np.median(cured.fish.thickness, axis=-1), width=cured.fish.width)


def _whole_outside(batch: Batch) -> tuple[Outside, ...]:
    return (Outside(say("drying.whole"), say("drying.whole_untested"), True),) if batch.cut.whole else ()


def when_down_to(times: np.ndarray, curves: np.ndarray, goals) -> np.ndarray:
    """Moment at which each falling curve (members, times) comes down to its goal.

    Returns: (members,) [unit of the values, or infinite for never]
    Source: the curves given
    """
    below = curves <= np.asarray(goals, float)[..., None]
    after = np.where(below.any(axis=-1), below.argmax(axis=-1), len(times) - 1).clip(1)
    rows = np.arange(len(curves))
    high, low = np.minimum(curves[rows, after - 1], HEAVIEST), curves[rows, after]
    part = np.clip((high - goals) / np.maximum(high - low, 1e-12), 0.0, 1.0)
    moment = times[after - 1] + part * (times[after] - times[after - 1])
    return np.where(below.any(axis=-1), moment, np.inf)


def _last(hours: np.ndarray, times: np.ndarray) -> np.ndarray:
    """The moment [s] at which the thickest piece is taken off, at the latest when nobody looks any more."""
    return np.minimum(HOUR * hours, times[-1])


def _at(times, curves, moments):
    """Value of every member's curve (members, times) at its own moment (members,), on a straight line between two times."""
    before = np.clip(np.searchsorted(times, moments, side="right") - 1, 0, len(times) - 2)
    member, since = np.arange(len(moments)), np.clip(moments, times[0], times[-1]) - times[before]
    low, high = curves[member, before], curves[member, before + 1]
    between = low + (high - low) / (times[before + 1] - times[before]) * since
    return np.where(moments >= times[-1], high, np.where(since == 0.0, low, between))  # next to a gap too
