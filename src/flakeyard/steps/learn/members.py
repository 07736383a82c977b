"""An ensemble of possible batches that follows a real one: what each member's trays would weigh, hour by hour.

A member is a point in a space of independent standard normal numbers, one for each uncertain quantity of the plan, by
the name under which it is drawn. There every prior looks alike, so members can be moved about and weighed against
each other without knowing what the numbers mean. A dryer's profile shifts and narrows the names it knows.

What happened to the batch is turned into curves over the hours spent drying: a pause stands still, and where the dial
was turned (or the fish freshened) the member goes on along the curve of the new air (or of the moister fish) from the
point at which its pieces hold the same water. That leaves out how the water lies inside them just then.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flakeyard.models.warm_clock import WarmCounts
from flakeyard.steps.chain.drying import when_down_to
from flakeyard.steps.chain.fish import CLASS_WEIGHTS
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import EDGE, Draws, normal_share
from flakeyard.steps.learn.logbook import Entry, Log
from flakeyard.steps.plan import measured
from flakeyard.steps.plan import plan as batches

SAME_DIAL = 0.5  # °C: a dial read again within this was not turned


@dataclass(frozen=True)
class Members(Draws):
    """Draws given by standard normal numbers: ``moved`` (members, one array a name) or else the usual draws.

    ``known`` is the mean and the lower triangle of a profile over the names in ``known_names``.
    """

    known_names: tuple[str, ...] = ()
    known: tuple[np.ndarray, np.ndarray] | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """All names that matter: those a plan asked for, and those a profile ties to them."""
        return tuple(dict.fromkeys([*self.asked, *self.known_names]))

    def placed(self, names) -> np.ndarray:
        """The same with the profile, so that 0 is the middle of the plan and 1 its spread.

        Returns: (members, names) [1, any]
        Source: the draws; the profile given
        """
        return np.stack([self._placed(name) for name in names], axis=1)

    def _placed(self, name):
        if name not in self.known_names:
            return self._normal(name)
        middle, triangle = self.known
        row = self.known_names.index(name)
        return middle[row] + self.normals(self.known_names) @ triangle[row]

    def _shares(self, name):
        if not self.moved and name not in self.known_names:
            return super()._shares(name)
        self.asked(name, lambda: None)
        return np.clip(normal_share(self._placed(name)), EDGE, 1 - EDGE)


@dataclass(frozen=True)
class Schedule:
    """What happened to the dryer: pauses [h, h, cold], dial settings (drying hours, °C), gains of soaks (drying hours,
    mass after over mass before, drying hours when that was weighed)."""

    pauses: tuple[tuple[float, float, bool], ...] = ()
    dials: tuple[tuple[float, float], ...] = ()
    gains: tuple[tuple[float, float, float], ...] = ()

    def drying(self, hours):
        """Hours spent drying up to a moment [h since the start]."""
        hours = np.asarray(hours, float)
        return hours - sum(np.clip(hours - begin, 0.0, end - begin) for begin, end, _ in self.pauses)

    def clock(self, drying):
        """The moment [h since the start] at which so many hours were spent drying."""
        moment = np.asarray(drying, float)
        for begin, end, _ in self.pauses:
            moment = np.where(moment > begin + 1e-9, moment + end - begin, moment)
        return moment

    @property
    def warm_pause(self) -> float:
        """Hours of pauses that were not in the refrigerator.

        Returns: float [h, 0 up]
        Source: the log given
        """
        return sum(end - begin for begin, end, cold in self.pauses if not cold)


def schedule(log: Log, planned: float) -> Schedule:
    """Pauses, dial and soaks of a log; ``planned`` is the dial of the plan [°C]. A pause that has not ended lasts so far."""
    pauses: list[tuple[float, float, bool]] = []
    begun: Entry | None = None
    for entry in log.events("pause", "pause cold", "go on"):
        if begun is not None and entry.event == "go on":
            pauses.append((begun.hours, entry.hours, begun.event == "pause cold"))
        begun = entry
    if begun is not None and begun.event != "go on":
        pauses.append((begun.hours, log.last, begun.event == "pause cold"))
    bare = Schedule(tuple(pauses))
    dials = [(0.0, planned)]
    for entry in log.entries:
        dial = entry.readings.get("dial")
        if dial is None or abs(dial - dials[-1][1]) < SAME_DIAL:
            continue
        at = max(float(bare.drying(entry.hours)), 0.0)
        dials = [*(dials if at > 0 else []), (at, dial)]
    return replace(bare, dials=tuple(dials), gains=tuple(_gains(log, bare)))


def _gains(log: Log, bare: Schedule) -> list[tuple[float, float, float]]:
    """At each soak: what the soaked trays weighed after it over what they weighed last before, together."""
    gains = []
    soaks = log.events("freshened")
    for hours in sorted({entry.hours for entry in soaks}):
        after = {entry.tray: entry.kg for entry in soaks if entry.hours == hours}
        before = [
            entry for entry in log.weighings if entry.tray in after and entry.hours <= hours and entry not in soaks
        ]
        last = max((entry.hours for entry in before), default=None)
        pairs = {entry.tray: entry.kg for entry in before if entry.hours == last}
        if pairs:
            gain = sum(after[tray] for tray in pairs) / sum(pairs.values())
            gains.append((float(bare.drying(hours)), gain, float(bare.drying(last))))
    return gains


@dataclass(frozen=True)
class Course:
    """Members followed through a schedule; arrays (classes, members, times) over drying time, thickest piece last."""

    outcome: batches.Outcome
    members: Members
    times: np.ndarray  # s of drying
    pieces: np.ndarray  # mass of a piece over its mass as laid
    load: np.ndarray  # likewise of a whole tray (members, times)
    mass: np.ndarray  # of the load as laid, kg (members,)
    warm: np.ndarray  # h above 21 degC, the longer of those of all dial settings
    counts: WarmCounts  # h up to each moment (members, times), likewise
    dry_hours: np.ndarray  # h of drying until the middle is dry, the longest of all settings
    done_at: np.ndarray  # mass of the thickest piece over its mass as laid at which it is done (members,)
    soaked: float = 0.0  # s of drying at the last soak: what was dry before it is not any more

    @property
    def finish(self) -> np.ndarray:
        """Drying hours until each class of pieces is done (classes, members); inf for never.

        Returns: (classes, members) [h, 0 up, or infinite]
        Source: models.slab_drying.dry
        """
        return self.at_ratio(self.done_at)

    def at_ratio(self, ratio: float | np.ndarray) -> np.ndarray:
        """Drying hours until each class of pieces is down to a ratio of its mass as laid (classes, members).

        Returns: (classes, members) [h, 0 up, or infinite]
        Source: models.slab_drying.dry
        """
        still = np.where(self.times < self.soaked, np.inf, self.pieces)
        return np.stack([when_down_to(self.times, piece, ratio) for piece in still]) / 3600

    def at(self, drying_hours, thickest: bool) -> np.ndarray:
        """Mass over mass as laid (members, moments), of a tray or of the thickest piece.

        Returns: (members, moments) [share, 0–1]
        Source: models.slab_drying.dry
        """
        return at_times(self.times, self.pieces[-1] if thickest else self.load, 3600 * np.asarray(drying_hours, float))

    def take(self, chosen: np.ndarray) -> Course:
        """The courses of some members; what the fish is made of (``outcome``) stays that of all."""
        own = {name: getattr(self, name)[chosen] for name in ("load", "mass", "warm", "dry_hours", "done_at")}
        counts = WarmCounts(*(count[chosen] for count in self.counts))
        return replace(self, pieces=self.pieces[:, chosen], counts=counts, **own)

    def paced(self, pace: np.ndarray) -> Course:
        """The same members on their way at a pace (members,) of their own: their curves as the clock sees them."""
        moments = self.times * pace[:, None]
        pieces = np.stack([_own(self.times, piece[:, None, :], moments) for piece in self.pieces])
        return replace(self, pieces=pieces, load=_own(self.times, self.load[:, None, :], moments))


def follow(batch: Batch, plan: Schedule, members: Members, sketch: bool = False) -> Course:
    """Carry members through the plan, and through what happened since."""
    members = measured.taken_in(batch, members)
    settings = tuple(dict.fromkeys(dial for _, dial in plan.dials)) or (batch.dryer.temperature,)
    outcomes = {dial: batches.plan(_set_to(batch, dial), draws=members, sketch=sketch) for dial in settings}
    outcome = outcomes[plan.dials[-1][1]] if plan.dials else outcomes[settings[0]]
    return course_of(outcome, members, plan, outcomes)


def course_of(
    outcome: batches.Outcome, members: Members, plan: Schedule, outcomes: dict[float, batches.Outcome] | None = None
) -> Course:
    """The course of an outcome through a schedule; ``outcomes`` by dial, where it was turned."""
    outcomes = outcomes or {outcome.batch.dryer.temperature: outcome}
    loads = [one.load for one in outcomes.values()]
    shape = outcome.cured.flesh.mass.shape
    curves = {dial: one.load.result.mass_ratio.reshape(*shape, -1) for dial, one in outcomes.items()}
    share = CLASS_WEIGHTS[:, None] * outcome.cured.flesh.mass
    share = share / share.sum(axis=0)
    times = loads[0].result.times
    pieces = _joined(times, curves, plan, share)
    return Course(
        outcome, members, times, pieces, np.einsum("cm,cmt->mt", share, pieces), outcome.cured.mass,
        np.max([load.warm_hours for load in loads], axis=0),
        WarmCounts(*(np.max(counts, axis=0) for counts in zip(*(load.counts for load in loads), strict=True))),
        np.max([load.dry_hours for load in loads], axis=0), outcome.load.done_at,
        max((3600 * at for at, _, _ in plan.gains), default=0.0),
    )  # fmt: skip


def _set_to(batch: Batch, dial: float) -> Batch:
    same = abs(dial - batch.dryer.temperature) < 1e-9
    return batch if same else replace(batch, dryer=replace(batch.dryer, temperature=dial), air=())


def _joined(times, curves, plan: Schedule, share) -> np.ndarray:
    """Mass ratios (classes, members, times) along the schedule: pieces of the curves, joined where the masses agree."""
    knots = [(at, dial, 1.0, at) for at, dial in plan.dials[1:]] + [
        (at, None, gain, since) for at, gain, since in plan.gains
    ]
    dial = plan.dials[0][1] if plan.dials else next(iter(curves))
    whole = curves[dial]
    shift = np.zeros(whole.shape[:2])  # s to add to the drying time to find the place on the present curve
    for at, new_dial, gain, since in sorted(knots, key=lambda knot: knot[0]):
        begin = 3600 * at
        here = at_times(times, whole, np.array([3600 * since]))[..., 0]
        if new_dial is None:
            tray = (share * here).sum(axis=0)
            place = when_down_to(times, np.einsum("cm,cmt->mt", share, curves[dial]), tray * gain)
            place = np.broadcast_to(place, shift.shape)
        else:
            dial = new_dial
            place = np.stack([when_down_to(times, one, ratio) for one, ratio in zip(curves[dial], here, strict=True)])
        shift = np.where(np.isfinite(place), place, times[-1]) - begin
        later = _own(times, curves[dial][..., None, :], (times + shift[..., None]))
        whole = np.where(times > begin, later, whole)
    return whole


def at_times(times, curves, moments) -> np.ndarray:
    """Values of curves (..., times) at moments they share (..., moments), along straight lines.

    Returns: (..., moments) [unit of the values, any]
    Source: the curves given
    """
    step = np.clip(np.searchsorted(times, moments, side="right") - 1, 0, len(times) - 2)
    part = np.clip((moments - times[step]) / (times[step + 1] - times[step]), 0.0, 1.0)
    return curves[..., step] * (1 - part) + curves[..., step + 1] * part


def _own(times, curves, moments) -> np.ndarray:
    """Value of every curve at its own moment (or moments: then curves have an axis of one before the times)."""
    step = np.clip(np.searchsorted(times, moments, side="right") - 1, 0, len(times) - 2)
    part = np.clip((moments - times[step]) / (times[step + 1] - times[step]), 0.0, 1.0)
    wide = (
        np.broadcast_to(curves, (*moments.shape, curves.shape[-1])) if curves.ndim > moments.ndim else curves[..., 0, :]
    )
    low = np.take_along_axis(wide, step[..., None], axis=-1)[..., 0]
    high = np.take_along_axis(wide, step[..., None] + 1, axis=-1)[..., 0]
    return low * (1 - part) + high * part
