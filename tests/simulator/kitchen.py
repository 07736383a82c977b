"""A drying kitchen: a learner, a dryer, fish and a scale. `simulate` gives what was typed, what was logged, what was true.

Nothing here comes from the package under test. All spreads are invented unless a source stands beside them. Draws of a
mechanism depend on kind, seed and its own name only, so switching one on or off leaves the others as they were.

Even seeds are for tuning and looking at; odd seeds are only ever scored, and nothing is changed because of one of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from math import inf
from zlib import crc32

import numpy as np

from . import kinds
from .air import AIR_HEAT, Box, Room, pressure_at
from .drying import HORIZON, Course, Happened, Pieces, Spell, dry
from .flesh import MIDDLE, Law, MakeUp
from .kinds import Recipe
from .logbook import Weighed, written
from .mechanisms import ALL, DRYER, MECHANISMS, SALT_SLOWING

SIZES = 8  # of pieces on a tray
ALTITUDE = 150.0  # m, as typed
AIMED = {"refrigerator": 0.85, "freezer": 0.85, "cupboard": 0.70}  # water activity at which this learner stops weighing
LONGEST_LOG = 12  # weighings


@dataclass(frozen=True)
class Change:
    """Something that changed the course after the plan: hours since the log begins, what, in the log or not, its length."""

    hours: float
    what: str
    logged: bool
    length: float = 0.0


@dataclass(frozen=True)
class Truth:
    """What really happened. Hours are those of the learner's log (its first row is 0); masses in kg.

    ``marked``, ``thickest``: mass over mass as laid of the marked piece, and of the load's thickest; ``trays``: (times,
    trays). ``hidden`` holds every number that was drawn and not typed, ``active`` the mechanisms that came into play.
    """

    times: np.ndarray
    marked: np.ndarray
    thickest: np.ndarray
    trays: np.ndarray
    marked_mass: float
    laid: MakeUp
    law: Law
    hidden: dict
    active: tuple[str, ...]
    changes: tuple[Change, ...]
    course: Course = field(repr=False)

    def hours(self, ratio: float, piece: str = "marked") -> float:
        """When the marked (or the thickest) piece is down to a ratio of its mass as laid; inf for never."""
        curve = np.minimum.accumulate(self.marked if piece == "marked" else self.thickest)
        return float(np.interp(-ratio, -curve, self.times)) if curve[-1] <= ratio else inf

    def water_activity(self, ratio: float) -> float:
        """Of the marked piece once it is down to a ratio and evened out, at 25 degC, by the simulator's own isotherm."""
        made = self.laid
        water = max(made.water - (1 - ratio), 1e-4)
        return float(self.law.activity(water / made.solids, made.salt / made.solids, made.sugar / made.solids))

    def ratio_for(self, activity: float) -> float:
        """The largest ratio at which the marked piece has at most this water activity."""
        ratios = np.linspace(1 - float(self.laid.water) + 1e-3, 1.0, 2000)
        dry_enough = np.array([self.water_activity(ratio) <= activity for ratio in ratios])
        return float(ratios[dry_enough][-1])


@dataclass(frozen=True)
class Kitchen:
    """One simulated batch: what was typed (a batch file as a dictionary), the log as text, and the truth."""

    kind: str
    seed: int
    mechanisms: tuple[str, ...]
    batch: dict
    log_csv: str
    truth: Truth


class Dice:
    """Draws of the mechanisms that are on; the plain value of the others. Everything drawn is kept in ``hidden``.

    ``settled``: values by the name under which they are kept, that are neither drawn nor plain
    """

    def __init__(
        self, kind: str, seed: int, on: tuple[str, ...], dryer: int | None = None, settled: dict | None = None
    ):
        self.on, self.hidden, self.settled = on, {}, settled or {}
        seeds = {name: seed if dryer is None or name not in DRYER else dryer for name in ALL}
        self._rng = {n: np.random.default_rng([s, crc32(kind.encode()), crc32(n.encode())]) for n, s in seeds.items()}

    def __call__(self, mechanism: str, name: str, plain, drawn: Callable):
        """The plain value, or what ``drawn`` makes of the mechanism's own generator."""
        value = drawn(self._rng[mechanism]) if mechanism in self.on else plain
        self.hidden[name] = self.settled.get(name, value)
        return self.hidden[name]

    def happens(self, mechanism: str, chance: float) -> bool:
        """Whether something happens in this batch; surely so when it is the only mechanism."""
        lucky = self._rng[mechanism].random() < chance
        return mechanism in self.on and (lucky or len(self.on) == 1)

    def rng(self, mechanism: str) -> np.random.Generator:
        return self._rng[mechanism]


@dataclass(frozen=True)
class Evening:
    """What is settled and not drawn: hours between weighings, kelvin by which the dial is turned without a note, the
    seed of a dryer that several batches share, and numbers by their names in ``Truth.hidden``."""

    every: float | None = None
    turned: float | None = None
    dryer: int | None = None
    settled: dict = field(default_factory=dict)


def simulate(
    kind: str, seed: int, mechanisms: tuple[str, ...] = ALL, horizon: float = HORIZON, evening: Evening = Evening()
) -> Kitchen:
    """One batch of a kind. Even seeds tune, odd seeds are only scored.

    Raises: ValueError for a kind or a mechanism that is not known
    """
    for name in mechanisms:
        if name not in MECHANISMS:
            raise ValueError(f'mechanism "{name}" is not known; allowed are {", ".join(MECHANISMS)}')
    recipe, dice = kinds.draw(kind, seed), Dice(kind, seed, tuple(mechanisms), evening.dryer, evening.settled)
    law = _law(dice)
    millimetres, recipe = _cut(recipe, dice)
    pieces, raw_share = _laid(recipe, dice, millimetres)
    box, room = _box(recipe, dice), _room(recipe, dice)
    moments, happened, changes = _events(recipe, dice, evening)
    marked, thickest, pieces = _mark(dice, pieces)
    course = dry(pieces, law, box, room, happened, horizon)
    truth = _truth(recipe.place, dice, law, pieces, course, marked, thickest, changes, raw_share)
    log = _log(recipe, dice, truth, moments, changes)
    return Kitchen(kind, seed, tuple(mechanisms), kinds.typed(recipe), *log)


def batches(kind: str, count: int, start_seed: int, mechanisms: tuple[str, ...] = ALL) -> Iterator[Kitchen]:
    """``count`` batches of a kind under every second seed: start even to tune, odd to score."""
    for number in range(count):
        yield simulate(kind, start_seed + 2 * number, mechanisms)


def _law(dice: Dice) -> Law:
    """How this fish holds and moves water."""
    return replace(
        MIDDLE,
        diffusivity=dice("fish", "diffusivity", MIDDLE.diffusivity, lambda r: MIDDLE.diffusivity * _ln(r, 0.30)),
        power=dice("fish", "power", MIDDLE.power, lambda r: r.uniform(1.1, 1.9)),
        energy_moist=dice("fish", "energy", MIDDLE.energy_moist, lambda r: r.normal(34e3, 5e3)),
        fat_power=dice("fish", "fat power", MIDDLE.fat_power, lambda r: r.uniform(1.0, 4.0)),
        held=dice("fish", "held", MIDDLE.held, lambda r: MIDDLE.held * _ln(r, 0.12)),
        held_power=dice("fish", "held power", MIDDLE.held_power, lambda r: r.normal(0.66, 0.03)),
        salt_slowing=dice("salt slowing", "salt slowing", 0.0, lambda r: SALT_SLOWING * _ln(r, 0.4)),
        crust=dice("crust", "crust", 0.0, lambda r: 4e7 * _ln(r, 0.7)),
        edges="edges" in dice.on,
        drip=dice("drip and oil", "drip", 0.0, lambda r: r.uniform(0.0, 0.03)),
        oil=dice("drip and oil", "oil", 0.0, lambda r: r.uniform(0.0, 0.10)),
    )


def _ln(rng, sd: float, size=None):
    return np.exp(sd * rng.standard_normal(size))


def _cut(recipe: Recipe, dice: Dice) -> tuple[np.ndarray, Recipe]:
    """True thickness [mm] of the pieces (trays, sizes) as cut, and the recipe with what a ruler made of them."""
    thin, usual, thick = recipe.sizes
    share = (np.arange(SIZES) + 0.5) / SIZES
    split = (usual - thin) / (thick - thin)
    below = thin + np.sqrt(share * (thick - thin) * (usual - thin))
    above = thick - np.sqrt((1 - share) * (thick - thin) * (thick - usual))
    plain = np.tile(np.where(share < split, below, above), (recipe.trays, 1))
    plain[recipe.trays // 2, -1] = thick
    if "sizes" not in dice.on:
        return plain, recipe
    rng = dice.rng("sizes")
    spread = dice("sizes", "ln sd of thickness", 0.0, lambda r: r.uniform(0.08, 0.18))
    true = usual * np.exp(spread * rng.standard_normal(plain.shape) + rng.normal(0, 0.03))
    read = [np.round(value + rng.normal(0, 0.4)) for value in (true.min(), np.median(true), true.max())]
    return true, kinds.with_sizes(recipe, *(float(np.clip(value, 2, 30)) for value in read))


def _laid(recipe: Recipe, dice: Dice, millimetres: np.ndarray) -> tuple[Pieces, float]:
    """The pieces as laid, and the mass as laid over the raw mass."""
    more_fat = dice("fish", "fat more", 0.0, lambda r: r.normal(0, 0.012))
    more_water = dice("fish", "water more", 0.0, lambda r: r.normal(0, 0.012))
    gain = (0.03 if recipe.method == "wet" else 0.0) + dice("fish", "gain", 0.0, lambda r: r.normal(0, 0.02))
    cook_out = dice("fish", "cook-out", 0.17, lambda r: np.clip(r.normal(0.17, 0.045), 0.06, 0.30))
    speed = dice("fish", "salt diffusivity", 6e-10, lambda r: 6e-10 * _ln(r, 0.3))
    plumper = dice("fish", "plumper", 1.0, lambda r: _ln(r, 0.05))
    made, mass = recipe.cure(cook_out=cook_out if recipe.heated else 0.0, gain=gain, diffusivity=speed).of(
        recipe.flesh(more_fat, more_water), millimetres / 1000
    )
    thickness = plumper * millimetres / 1000
    full = dice("sizes", "trays full", np.ones(recipe.trays), lambda r: _ln(r, 0.06, recipe.trays))
    raw = millimetres * full[:, None]
    laid = recipe.raw * raw / raw.sum() * mass
    lower = (recipe.faces - 1) * dice("blocked", "lower face", 1.0, lambda r: r.uniform(0.3, 0.85))
    local = dice("uneven", "film of the trays", np.ones(recipe.trays), lambda r: _ln(r, 0.15, recipe.trays))
    even = np.ones(millimetres.shape)
    pieces = Pieces(
        thickness, laid / (thickness * made.density), made, even, lower * even, local[:, None] * even, 0 * even,
        width=recipe.width / 1000 if recipe.width else inf, start=30.0 if recipe.heated else 5.0,
    )  # fmt: skip
    dice.hidden["pieces of a size"] = np.maximum(np.round(1000 * laid / (recipe.piece * raw / raw.mean())), 1)
    return pieces, float(laid.sum() / recipe.raw)


def _box(recipe: Recipe, dice: Dice) -> Box:
    watts = dice("heater", "heater", inf, lambda r: recipe.heater * r.uniform(0.85, 1.05))
    share = dice("stream", "share of the heater for fresh air", 0.6, lambda r: r.uniform(0.35, 0.9))
    fresh = recipe.blown or share * recipe.heater / (AIR_HEAT * (recipe.dial - recipe.room[0]))
    rounds = dice("stream", "rounds of the air", 0.0, lambda r: r.uniform(1.5, 4.0))
    flow = fresh * (1.0 if recipe.blown else rounds) if "stream" in dice.on else inf
    return Box(
        recipe.dial, dice("dial", "dial is off", 0.0, lambda r: r.normal(0, 3.0)),
        dice("thermostat", "hysteresis", 0.0, lambda r: r.uniform(2, 8)), watts, fresh, flow,
        speed=recipe.speed * dice("uneven", "fan", 1.0, lambda r: _ln(r, 0.35)),
    )  # fmt: skip


def _room(recipe: Recipe, dice: Dice) -> Room:
    warm, damp = recipe.room
    return Room(
        warm + dice("weather", "room warmer", 0.0, lambda r: r.normal(0, 1.5)),
        float(np.clip(damp / 100 + dice("weather", "room damper", 0.0, lambda r: r.normal(0, 0.07)), 0.15, 0.95)),
        dice("weather", "swing", 0.0, lambda r: r.uniform(1, 4)), dice("weather", "phase", 0.0, lambda r: r.uniform(0, 24)),
        pressure_at(ALTITUDE),
    )  # fmt: skip


def _mark(dice: Dice, pieces: Pieces) -> tuple[tuple[int, int], tuple[int, int], Pieces]:
    """Where the marked piece lies (tray, size), where the thickest does, and the pieces with the marked one's oddities."""
    order = np.argsort(-pieces.thickness.ravel(), kind="stable")
    mistaken = dice("sizes", "rank of the marked piece", 0, lambda r: int(r.choice(3, p=(0.7, 0.2, 0.1))))
    marked = np.unravel_index(order[mistaken], pieces.thickness.shape)
    fields = {name: getattr(pieces, name).copy() for name in ("thickness", "area", "film", "warmer")}
    thicker = dice("mark", "marked piece thicker", 1.0, lambda r: _ln(r, 0.07))
    fields["thickness"][marked] *= thicker
    fields["area"][marked] /= thicker
    fields["film"][marked] *= dice("mark", "film at the marked piece", 1.0, lambda r: _ln(r, 0.12))
    fields["warmer"][marked] += dice("mark", "marked piece warmer", 0.0, lambda r: r.normal(0, 1.5))
    pieces = replace(pieces, **fields)
    thickest = np.unravel_index(np.argmax(pieces.thickness), pieces.thickness.shape)
    return tuple(int(n) for n in marked), tuple(int(n) for n in thickest), pieces


def _events(recipe: Recipe, dice: Dice, evening: Evening) -> tuple[list[float], Happened, tuple[Change, ...]]:
    """When the learner weighs, what else happens and whether it is logged (true hours)."""
    rng = np.random.default_rng(crc32(recipe.title.encode()))
    often = int(rng.integers(4, 7))
    guess = recipe.guess * float(_ln(rng, 0.15))
    step = max(round(4 * guess / often) / 4, 0.5)
    if evening.every:
        step = evening.every
    plain = [step * number for number in range(1, LONGEST_LOG * (2 if evening.every else 1) + 1)]
    spells, changes = [], []
    if dice.happens("pause", 0.4):
        before, length = int(dice.rng("pause").integers(1, 4)), float(dice.rng("pause").uniform(5, 10))
        begin = plain[before - 1] + 0.25
        spells.append(Spell(begin, begin + length, "cold"))
        changes.append(Change(begin, "pause", True, length))
        plain = [moment + (length if number >= before else 0.0) for number, moment in enumerate(plain)]
    minutes = dice("outside", "minutes outside", 0.0, lambda r: r.uniform(3, 13))
    spells += [Spell(moment, moment + minutes / 60, "outside") for moment in plain if minutes]
    turns, orders = [], []
    if dice.happens("door", 0.5):
        begin, length = (
            _free(dice.rng("door").uniform(0.1, 0.7) * guess, spells),
            float(dice.rng("door").uniform(0.3, 1.2)),
        )
        spells.append(Spell(begin, begin + length, "door"))
        changes.append(Change(begin, "door", False, length))
    if dice.happens("turned", 0.6) or evening.turned:
        at, dial, logged = _turn(recipe, dice.rng("turned"), guess, evening.turned)
        turns.append((_free(at, spells), dial))
        changes.append(Change(turns[0][0], f"dial {dial:g}", logged))
    if dice.happens("swaps", 0.7):
        orders, moved = _orders(recipe.trays, dice.rng("swaps"), plain)
        changes += moved
    happened = Happened(tuple(sorted(spells, key=lambda spell: spell.kind != "cold")), tuple(turns), tuple(orders))
    return plain, happened, tuple(sorted(changes, key=lambda change: change.hours))


def _free(moment: float, spells: list[Spell]) -> float:
    """A moment that is not within the pause."""
    inside = (spell for spell in spells if spell.kind == "cold" and spell.begin <= moment < spell.end)
    return float(next((spell.end + 0.1 for spell in inside), moment))


def _turn(recipe: Recipe, rng, guess: float, settled: float | None) -> tuple[float, float, bool]:
    change = float(rng.choice((-1, 1)) * np.round(rng.uniform(3, 8)))
    dial = float(np.clip(recipe.dial + (settled or change), recipe.room[0] + 3, 79))
    return float(rng.uniform(0.2, 0.6) * guess), dial, bool(rng.random() < 0.5) and settled is None


def _orders(trays: int, rng, moments: list[float]) -> tuple[list, list[Change]]:
    """At some weighings, at least the first, all trays are rotated by one place, or two trays swapped."""
    orders, changes, order = [], [], list(range(trays))
    for number, moment in enumerate(moments[:6]):
        if number and rng.random() > 0.3:
            continue
        logged = bool(rng.random() < 0.6)
        if rng.random() < 0.5:
            order, what = [*order[-1:], *order[:-1]], "moved all"
        else:
            one, other = (int(n) for n in rng.choice(trays, 2, replace=False))
            order[one], order[other] = order[other], order[one]
            what = f"moved {order[one] + 1} {order[other] + 1}"
        orders.append((moment, tuple(order)))
        changes.append(Change(moment, what, logged))
    return orders, changes


def _truth(place: str, dice, law, pieces: Pieces, course: Course, marked, thickest, changes, raw_share) -> Truth:
    late = dice("clock", "start noted late", 0.0, lambda r: r.uniform(-0.2, 0.2))
    made = MakeUp(*(float(getattr(pieces.made, name)[marked]) for name in MakeUp.__dataclass_fields__))
    noted = tuple(replace(change, hours=change.hours - late) for change in changes)
    events = {"pause": "pause", "door": "door", "turned": "dial", "swaps": "moved"}
    hidden = dice.hidden | {
        "marked": marked, "thickest": thickest, "mass as laid over raw": raw_share,
        "marked thickness": float(pieces.thickness[marked]), "thickest thickness": float(pieces.thickness[thickest]),
    }  # fmt: skip
    ratio = course.mass / course.mass[0]
    own = float(course.mass[0][marked] / dice.hidden["pieces of a size"][marked])
    curves = course.times - late, ratio[:, *marked], ratio[:, *thickest], course.mass.sum(axis=2)
    truth = Truth(*curves, own, made, law, hidden, dice.on, noted, course)
    hidden["aim"] = truth.ratio_for(AIMED[place])
    done = truth.hours(hidden["aim"])
    happened = {change.what.split(" ")[0] for change in noted if change.hours < done}
    return replace(truth, active=tuple(name for name in dice.on if events.get(name, "") in {"", *happened}))


def _log(recipe: Recipe, dice: Dice, truth: Truth, moments, changes) -> tuple[str, Truth]:
    """The log as the learner keeps it, until the marked piece is dry enough; and the truth with what the scale hid."""
    late = dice.hidden["start noted late"]
    done = truth.hours(truth.hidden["aim"]) + late
    last = next((n for n, moment in enumerate(moments) if moment >= done), len(moments) - 1)
    kept = [0.0, *(moment for moment in moments[: last + 1] if moment <= truth.course.times[-1])]
    noted = [change for change in changes if change.logged and change.hours <= kept[-1]]
    text = written(Weighed(recipe.trays, dice, truth), kept, noted, late)
    return text, replace(truth, hidden=dice.hidden | truth.hidden)
