"""Pieces drying in the simulator: water per volume moves through a piece that shrinks as it goes.

Every piece is cut into layers of fixed dry matter from its upper to its lower face, each as thick as its dry matter
and water are just now. Both faces have their own film; the air of a tray is what the trays before it left. One linear
system a step, implicit in the water; what leaves one layer enters the next, so no water is made or lost.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise
from math import isinf

import numpy as np
from scipy.linalg.lapack import dgtsv

from .air import AIR_HEAT, DILUTE, RADIATION, Box, Heater, Room, along, film, latent, mass_film, passed
from .air import saturation as vapour_of
from .air import saturation_slope as vapour_slope
from .flesh import DRY_HEAT, WATER_DENSITY, WATER_HEAT, Law, MakeUp

LAYERS = 15
SHORTEST, LONGEST, GROWTH = 40.0, 1300.0, 0.014  # s, s, of the time gone by: hours good to about 1 %
AFTERWARDS = 1.5  # growth of a step over the one before it, when something has just happened
HORIZON = 120.0  # h
DRIEST = 0.10  # kg/kg: pieces this dry need not be followed
DRIP_TIME, OIL_TIME, OIL_MELTS = 1800.0, 4 * 3600.0, 30.0  # s, s, degC; invented
OUTSIDE_FILM = 0.4  # of the film in the box; invented
COLD = 4.0  # degC of a refrigerator


@dataclass(frozen=True)
class Pieces:
    """Pieces on the trays, arrays (trays, sizes). ``area``: footprint of all pieces of one size on one tray."""

    thickness: np.ndarray  # m
    area: np.ndarray  # m2
    made: MakeUp
    upper: np.ndarray  # of the film, on the upper face
    lower: np.ndarray
    film: np.ndarray  # of the box's film, here
    warmer: np.ndarray  # K, here
    width: float = np.inf  # m, of strips
    start: float = 5.0  # degC

    @property
    def mass(self) -> np.ndarray:
        return self.area * self.thickness * self.made.density


@dataclass(frozen=True)
class Spell:
    """Some time in which the fish was elsewhere: "outside" in the room, "door" open, "cold" in the refrigerator [h]."""

    begin: float
    end: float
    kind: str


@dataclass(frozen=True)
class Happened:
    """Spells, turns of the dial (h, degC) and new orders of the trays (h, order)."""

    spells: tuple[Spell, ...] = ()
    turns: tuple[tuple[float, float], ...] = ()
    orders: tuple[tuple[float, tuple[int, ...]], ...] = ()

    @property
    def moments(self) -> list[float]:
        edges = [moment for spell in self.spells for moment in (spell.begin, spell.end)]
        return sorted({*edges, *(at for at, _ in self.turns), *(at for at, _ in self.orders)})


@dataclass(frozen=True)
class Course:
    """What came of it. ``mass`` (times, trays, sizes) [kg]; the last four in kg over the times, of the whole load."""

    times: np.ndarray  # h
    mass: np.ndarray
    evaporated: np.ndarray
    dripped: np.ndarray  # water
    lost: np.ndarray  # oil, and salt that dripped off
    carried: np.ndarray  # water that the air took to the room
    air: np.ndarray = field(repr=False, default=None)  # (times, trays) degC
    flesh: np.ndarray = field(repr=False, default=None)  # (times, trays, sizes) degC
    driest: float = 0.0  # least water in any layer, kg/m2


def moments(happened: Happened, horizon: float, finer: float = 1.0) -> np.ndarray:
    """Steps [s] that grow with time, stop at everything that happens, and begin short again behind it."""
    marks = [3600 * moment for moment in happened.moments if 0 < moment < horizon]
    steps, step = [0.0], SHORTEST
    for mark in [*marks, 3600 * horizon]:
        step = SHORTEST
        while steps[-1] < mark - 1e-3:
            step = min(AFTERWARDS * step, max(GROWTH * steps[-1], SHORTEST), LONGEST)
            steps.append(min(steps[-1] + step / finer, mark))
    return np.array(steps)


class Load:
    """State of all pieces, one row a piece: water of its layers [kg/m2 of first footprint], temperature [degC]."""

    def __init__(self, pieces: Pieces, law: Law):
        self.law, self.pieces, self.shape = law, pieces, pieces.thickness.shape
        made = MakeUp(
            *(np.broadcast_to(getattr(pieces.made, n), self.shape).ravel() for n in MakeUp.__dataclass_fields__)
        )
        place = 0.5 * (1 - np.cos(np.pi * np.linspace(0, 1, LAYERS)))
        share = np.diff(0.5 * (place[1:] + place[:-1]), prepend=0.0, append=1.0)
        whole = (pieces.thickness.ravel() * made.density)[:, None] * share
        self.area = pieces.area.ravel()
        self.water, self.dry = whole * made.water[:, None], whole.sum(axis=1) * (1 - made.water)
        self.solids, self.dry_volume = whole * made.solids[:, None], whole * made.dry_volume[:, None]
        self.salt, self.sugar = made.salt / made.solids, made.sugar / made.solids
        self.salt_mass, self.fat_mass = whole.sum(axis=1) * made.salt, whole.sum(axis=1) * made.fat
        self.slowed = law.slowed(made.salt, made.fat * made.density / 920.0)
        self.volume = (self.dry_volume + self.water / WATER_DENSITY).sum(axis=1)
        self.celsius, self.lost = np.full(self.area.size, float(pieces.start)), np.zeros(self.area.size)
        self.edge_loss, self.oil_out, self.driest = np.zeros(self.area.size), 0.0, float(self.water.min())

    def mass(self) -> np.ndarray:
        return (self.area * (self.water.sum(axis=1) + self.dry - self.lost)).reshape(self.shape)

    def all_below(self, moisture: float) -> bool:
        return bool(np.all(self.water.sum(axis=1) < moisture * self.solids.sum(axis=1)))

    def shrunk(self):
        """Volumes of the layers, and the footprint over the first one."""
        volume = self.dry_volume + self.water / WATER_DENSITY
        return volume, (volume.sum(axis=1) / self.volume) ** self.law.sideways

    def surface(self):
        """Of both faces (2, pieces): water activity, its rise by water, resistance of the crust [Pa m2 s/kg]."""
        moisture = (self.water[:, [0, -1]] / self.solids[:, [0, -1]]).T
        drier = 0.9 * moisture
        both = self.law.activity(np.stack([moisture, drier]), self.salt, self.sugar, self.celsius)
        rise = (both[0] - both[1]) / (0.1 * moisture * self.solids[:, [0, -1]].T)
        crust = self.law.crust * np.clip(1 - moisture / self.law.crust_begins, 0.0, 1.0) ** 2
        return both[0], rise, crust

    def edge_rates(self, dampness, moisture, footprint):
        """Share of a layer's water that leaves by the edges of the strip [1/s]."""
        if not self.law.edges or isinf(self.pieces.width):
            return np.zeros_like(moisture)
        active = self.law.activity(moisture, self.salt[:, None], self.sugar[:, None], self.celsius[:, None])
        width = self.pieces.width * np.sqrt(footprint)[:, None]
        speed = 12 * self.law.moves(moisture, self.celsius[:, None]) * self.slowed[:, None] / width**2
        return speed * np.maximum(1 - dampness[:, None] / active, 0.0)

    def warm(self, seconds, surface, films, air, walls, vapour, footprint):
        """New temperature of the pieces: film, walls, evaporation."""
        heat, mass = films
        active, _, crust = surface
        full, slope = vapour_of(self.celsius), vapour_slope(self.celsius)
        open_to = mass / (1 + mass * crust)
        leaving = (open_to * (active * full - vapour)).sum(axis=0) * footprint + self.edge_loss
        rises = (open_to * active * slope).sum(axis=0) * footprint
        holds = (self.dry * DRY_HEAT + self.water.sum(axis=1) * WATER_HEAT) / seconds
        film_heat, wall_heat = heat.sum(axis=0) * footprint, RADIATION * footprint
        gained = film_heat * (air - self.celsius) + wall_heat * (walls - self.celsius) - latent(self.celsius) * leaving
        self.celsius = self.celsius + gained / (holds + film_heat + wall_heat + latent(self.celsius) * rises)

    def move(self, seconds, surface, mass, vapour):
        """Move water through the pieces and out of them; returns what evaporated from each [kg/m2]."""
        active, rise, crust = surface
        volume, footprint = self.shrunk()
        moisture = self.water / self.solids
        between = self.law.moves(0.5 * (moisture[:, 1:] + moisture[:, :-1]), self.celsius[:, None])
        thick = volume / footprint[:, None]
        eases = between * (self.slowed * footprint)[:, None] / (0.5 * (thick[:, 1:] + thick[:, :-1]))
        richness, richer = self.water / volume, self.dry_volume / volume**2
        flow = eases * (richness[:, :-1] - richness[:, 1:])
        edge = self.edge_rates(vapour / vapour_of(self.celsius), moisture, footprint)
        open_to = footprint * mass / (1 + mass * crust)
        leaves, follows = (
            open_to * (active * vapour_of(self.celsius) - vapour),
            open_to * vapour_of(self.celsius) * rise,
        )
        diagonal, right = 1 / seconds + edge, -edge * self.water
        diagonal[:, :-1] += eases * richer[:, :-1]
        diagonal[:, 1:] += eases * richer[:, 1:]
        right[:, :-1] -= flow
        right[:, 1:] += flow
        right[:, [0, -1]] -= leaves.T
        links = -eases * richer[:, :-1], diagonal, -eases * richer[:, 1:], right
        change = _chain(*links, follows)
        if np.any(self.water + change <= 0):  # a step too long for a face: as if activity fell on a line to nothing
            follows = np.maximum(follows, np.maximum(leaves, 0) / self.water[:, [0, -1]].T)
            change = _chain(*links, follows)
        gone = (leaves + follows * change[:, [0, -1]].T).sum(axis=0) * seconds
        self.edge_loss = (edge * (self.water + change)).sum(axis=1)
        self.water = self.water + change
        self.driest = min(self.driest, float(self.water.min()))
        return gone + self.edge_loss * seconds

    def drop(self, begin, end):
        """Drip and oil that run off from one moment to the next [s]; returns water and other [kg]."""
        share = self.law.drip * (np.exp(-begin / DRIP_TIME) - np.exp(-end / DRIP_TIME))
        water = share * self.water.sum(axis=1)
        self.water = self.water * (1 - share)
        oil = 0.0
        if self.law.oil and float(np.mean(self.celsius)) > OIL_MELTS:
            left = self.law.oil - self.oil_out
            runs = left * -np.expm1(-(end - begin) / OIL_TIME)
            self.oil_out += runs
            oil = runs * self.fat_mass
        other = oil + share * self.salt_mass
        self.lost = self.lost + other
        return float(self.area @ water), float(self.area @ other)


def _chain(lower, diagonal, upper, right, follows):
    """Solve for all pieces at once: their layers stand one behind the other, unlinked from piece to piece."""
    diagonal = diagonal.copy()
    diagonal[:, [0, -1]] += follows.T
    pad = np.zeros((len(diagonal), 1))
    down, up = np.hstack([lower, pad]).ravel()[:-1], np.hstack([upper, pad]).ravel()[:-1]
    return dgtsv(down, diagonal.ravel(), up, right.ravel())[3].reshape(diagonal.shape)


class Stream:
    """The air of the box and what it meets; one object follows one load."""

    def __init__(self, load: Load, box: Box, room: Room, order):
        self.load, self.box, self.room, self.order = load, box, room, list(order)
        self.heater = Heater(box, room.temperature if box.band > 0 else box.dial + box.offset)
        self.trays, self.sizes = load.shape
        pieces = load.pieces
        self.faces = np.stack([np.broadcast_to(f, load.shape).ravel() for f in (pieces.upper, pieces.lower)])
        self.local = np.broadcast_to(pieces.film, load.shape).ravel()
        self.warmer = np.broadcast_to(pieces.warmer, load.shape).ravel()

    def films(self, elsewhere: str):
        """Heat and mass films of both faces (2, pieces)."""
        heat = film(self.box.speed, self.local) * np.ones((2, 1))
        heat = heat * (OUTSIDE_FILM if elsewhere in ("outside", "cold") else 1.0)
        mass = mass_film(heat, self.room.pressure) * self.faces * (0.0 if elsewhere == "cold" else 1.0)
        return heat * (0.4 + 0.6 * self.faces), mass  # a blocked face still touches warm metal

    def turned(self, dial: float):
        self.box = replace(self.box, dial=dial)
        self.heater.box = self.box

    def by_tray(self, values) -> np.ndarray:
        return values.reshape(self.trays, self.sizes).sum(axis=1)

    def pieces_of(self, trays) -> np.ndarray:
        return np.repeat(trays, self.sizes)

    def air(self, hours, seconds, surface, films, footprint, elsewhere):
        """Air in front of each piece: temperature, vapour [Pa], parts of the heat and mass film that act, walls, outlet."""
        room, vapour = self.room.warmth(hours), self.room.vapour(hours)
        if elsewhere in ("outside", "cold"):
            warmth, damp = (room, vapour) if elsewhere == "outside" else (COLD, 0.8 * float(vapour_of(COLD)))
            even = np.ones(len(self.local))
            return warmth * even, damp * even, even, even, warmth * even, vapour
        heat_in, heat_part, heated = self._warmth(room, seconds, films[0], footprint)
        damp_in, damp_part, outlet = self._vapour(vapour, surface, films[1], footprint)
        if elsewhere == "door":
            heat_in, damp_in = 0.5 * (heat_in + room), 0.5 * (damp_in + vapour)
        return heat_in + self.warmer, damp_in, heat_part, damp_part, heated + self.warmer, outlet

    def _warmth(self, room, seconds, heat, footprint):
        box, load = self.box, self.load
        each = load.area * footprint * heat.sum(axis=0)
        contact = self.by_tray(each)
        flesh = self.by_tray(each * load.celsius) / contact
        radiated = RADIATION * float(load.area @ footprint)
        given, part = passed(contact, box.flow * AIR_HEAT)
        before, rise, last, last_rise = along(self.order, given, flesh)
        if isinf(box.flow):
            through = box.fresh * AIR_HEAT
            lost, drawn = through + contact.sum(), through * room + float(contact @ flesh)
        else:
            through = box.flow * AIR_HEAT
            lost, drawn = (
                through * (1 - (1 - box.share) * last_rise),
                through * (box.share * room + (1 - box.share) * last),
            )
        lost, drawn = (
            lost + box.wall + radiated,
            drawn + box.wall * room + radiated * float(load.area @ load.celsius) / load.area.sum(),
        )
        heated = self.heater.run(seconds, lost, drawn)
        return self.pieces_of(before + rise * heated), self.pieces_of(part), heated

    def _vapour(self, room, surface, mass, footprint):
        box, load = self.box, self.load
        active, _, crust = surface
        each = load.area * footprint * mass / (1 + mass * crust)
        contact = self.by_tray(each.sum(axis=0))
        wet = self.by_tray((each * active).sum(axis=0) * vapour_of(load.celsius)) / contact
        given, part = passed(contact, box.flow * DILUTE / self.room.pressure)
        before, rise, last, last_rise = along(self.order, given, wet)
        first = room
        if not isinf(box.flow):
            first = (box.share * room + (1 - box.share) * last) / (1 - (1 - box.share) * last_rise)
        return self.pieces_of(before + rise * first), self.pieces_of(part), last + last_rise * first


def dry(
    pieces: Pieces,
    law: Law,
    box: Box,
    room: Room,
    happened: Happened | None = None,
    horizon: float = HORIZON,
    finer: float = 1.0,
    driest: float = DRIEST,
) -> Course:
    """Follow a load until all pieces are below a moisture [kg/kg]; ``finer`` makes all steps shorter by a factor."""
    happened = happened or Happened()
    load = Load(pieces, law)
    stream = Stream(load, box, room, range(load.shape[0]))
    times = moments(happened, horizon, finer)
    masses, steps = [load.mass()], []
    for begin, end in pairwise(times):
        steps.append(_step(load, stream, happened, begin, end))
        masses.append(load.mass())
        if load.all_below(driest):
            break
    reached = len(masses)
    gone, dripped, lost, carrying, air, flesh = (np.array(column) for column in zip(*steps))
    carried = np.append(carrying[1:], carrying[-1]) * np.diff(times[:reached])  # the outlet as each step leaves it
    ledger = (np.append(0.0, np.cumsum(amounts)) for amounts in (gone, dripped, lost, carried))
    return Course(times[:reached] / 3600, np.array(masses), *ledger, air=air, flesh=flesh, driest=load.driest)


def _step(load: Load, stream: Stream, happened: Happened, begin: float, end: float):
    """One step [s]: what evaporated, dripped, was lost otherwise [kg], what goes to the room [kg/s], air, flesh [degC]."""
    middle, seconds = 0.5 * (begin + end) / 3600, end - begin
    for at, dial in happened.turns:
        if begin <= 3600 * at + 1e-3 < end:
            stream.turned(dial)
    for at, order in happened.orders:
        if begin <= 3600 * at + 1e-3 < end:
            stream.order = list(order)
    elsewhere = next((spell.kind for spell in happened.spells if spell.begin <= middle < spell.end), "")
    surface, films, footprint = load.surface(), stream.films(elsewhere), load.shrunk()[1]
    air, vapour, heat_part, damp_part, walls, outlet = stream.air(middle, seconds, surface, films, footprint, elsewhere)
    load.warm(seconds, surface, (films[0] * heat_part, films[1] * damp_part), air, walls, vapour, footprint)
    gone = float(load.area @ load.move(seconds, surface, films[1] * damp_part, vapour))
    dripped, lost = load.drop(begin, end)
    fresh = 0.0 if isinf(stream.box.flow) else stream.box.fresh
    carrying = fresh * DILUTE / stream.room.pressure * (outlet - stream.room.vapour(middle))
    return gone, dripped, lost, carrying, air.reshape(load.shape).mean(axis=1), load.celsius.reshape(load.shape)
