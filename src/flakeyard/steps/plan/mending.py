"""What to change in a plan that is refused, so that the fish may be kept and eaten: a few changes that do it together.

All changes that may help are made at once, and then those that are not needed are taken back one by one. What is left was
run as a whole plan, with as many members as the plan itself, so that the changed file gives just the verdict promised.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from flakeyard import limits
from flakeyard.messages import say
from flakeyard.steps.intent.records import Batch, Measured, Portion, Soak
from flakeyard.steps.plan.plan import Outcome, plan
from flakeyard.steps.plan.ways import ENOUGH, HOTTEST, Way, asked, nearest, ways
from flakeyard.units import show, show_band

TRIED = 20  # members of a plan that is only tried (judgement)
UNEVEN = 0.25  # how far pieces cut with care differ (judgement)
THINNEST = 0.003  # m, that drying was tested for
HALF = 0.5  # of the thickness, for a piece that dries too slowly (judgement)
THIN = 0.0035  # m, and no thinner than this (judgement)


@dataclass(frozen=True)
class Mend:
    """Changes in words that mend a plan together, and the way to keep the fish that they earn."""

    changes: tuple[str, ...]
    way: Way


@dataclass(frozen=True)
class Step:
    """One change: its words and what it makes of a batch."""

    words: str
    change: Callable[[Batch], Batch]

    def __call__(self, batch: Batch) -> Batch:
        return self.change(batch)


def mends(outcome: Outcome) -> Iterator[Mend]:
    """Up to two sets of changes that make a refused plan one whose fish may be kept and eaten: with heating, without it.

    Each is run only when it is asked for; the second one only where it is another.
    """
    told = set()
    for steps in _sets(outcome.batch):
        found = _mended(outcome.batch, steps)
        if found and found.changes not in told:
            told.add(found.changes)
            yield found


def _sets(batch: Batch) -> Iterator[tuple[Step, ...]]:
    common = (*_colder(batch), *_opened(batch), *_thinner(batch), *_fanned(batch), *_warmer(batch), *_halved(batch))
    for first in (_frozen(batch), _heated(batch)):
        if first or common:
            yield (*first, *common)


def _mended(batch: Batch, steps: tuple[Step, ...]) -> Mend | None:
    """The fewest of some changes that do it, with the way they earn; all of them where a small ensemble took too many back."""
    whole = plan(_with(batch, steps), TRIED)
    if not asked(whole).granted:
        best = nearest(whole, ways(whole))
        if best is None:
            return None
        batch = replace(batch, keep=replace(batch.keep, place=best.place, pack=best.pack))
    needed = steps
    for step in reversed(steps):
        fewer = tuple(one for one in needed if one is not step)
        if asked(plan(_with(batch, fewer), TRIED)).granted:
            needed = fewer
    return _promised(batch, needed) or _promised(batch, steps)


def _promised(batch: Batch, steps: tuple[Step, ...]) -> Mend | None:
    """The changes with the way that a whole plan grants; None where it grants none after all."""
    outcome = plan(_with(batch, steps))
    best = nearest(outcome, ways(outcome))
    return None if best is None else Mend(tuple(one.words for one in steps), best)


def _with(batch: Batch, steps: tuple[Step, ...]) -> Batch:
    for step in steps:
        batch = step(batch)
    return batch


def _frozen(batch: Batch) -> tuple[Step, ...]:
    """Freezing against parasites, of fish that is not known to be farmed."""
    if batch.fish.origin == "farmed":
        return ()
    words = say(
        "mending.freeze", cold=show(limits.PARASITE_FREEZER, "temperature", "both"), days=f"{limits.PARASITE_DAYS:g}"
    )

    def frozen(one: Batch) -> Batch:
        thawed = (
            False if one.fish.stock == "fresh" else one.fish.thawed_in_vacuum
        )  # what was thawed before is not mended
        cold = replace(one.fish, stock="frozen", frozen_at=limits.PARASITE_FREEZER, frozen_days=limits.PARASITE_DAYS)
        return replace(one, fish=replace(cold, thawed_in_vacuum=thawed))

    return (Step(words, frozen),)


def _heated(batch: Batch) -> tuple[Step, ...]:
    """A heating that counts, or a probe in the one that was told."""
    if (heat := batch.heat) is not None and not heat.probed:
        return (Step(say("ways.probe"), lambda one: replace(one, heat=replace(heat, checked="probe"))),)
    return (Step(say("ways.heat"), lambda one: _raw(one, heat=ENOUGH)),)


def _colder(batch: Batch) -> tuple[Step, ...]:
    """The soaks and the rest kept as cold as counts as cold."""
    warm = [
        name
        for name in ("presoak", "brine", "rest")
        if (there := getattr(batch, name)) is not None and there.temperature > limits.COLD
    ]
    if not warm:
        return ()

    def colder(one: Batch) -> Batch:
        return _raw(one, **{name: replace(getattr(one, name), temperature=limits.COLD - 1.0) for name in warm})

    return (Step(say("mending.cold", cold=show(limits.COLD, "temperature", "both")), colder),)


def _opened(batch: Batch) -> tuple[Step, ...]:
    cut = batch.cut
    if cut.skin_on and not cut.whole:

        def bare(one: Batch) -> Batch:
            return _raw(one, cut=replace(one.cut, skin="off"), dryer=replace(one.dryer, faces=2))

        return (Step(say("mending.skin_off"), bare),)
    if batch.dryer.faces != 2 and not cut.closed_face:
        return (Step(say("ways.mesh"), lambda one: replace(one, dryer=replace(one.dryer, faces=2))),)
    return ()


def _thinner(batch: Batch) -> tuple[Step, ...]:
    """Pieces about half as thick and nearly alike, which dry in a quarter to a half of the time."""
    usual = round(2000 * max(HALF * batch.cut.thickness, THIN)) / 2000
    least, most = max(THINNEST, (1 - UNEVEN) * usual), (1 + UNEVEN) * usual
    if batch.cut.whole or usual > batch.cut.thickness:
        return ()
    words = say("mending.thin", now=show_band(least, most, "length", "both"))

    def thinner(one: Batch) -> Batch:
        return _raw(one, cut=replace(one.cut, thickness=usual, thinnest=least, thickest=most))

    return (Step(words, thinner),)


def _fanned(batch: Batch) -> tuple[Step, ...]:
    """A fan where a heated dryer has none."""
    if batch.dryer.moving in (None, "fan") or batch.dryer.heater == 0 or batch.air:
        return ()
    return (Step(say("mending.fan"), lambda one: replace(one, dryer=replace(one.dryer, moving="fan"))),)


def _warmer(batch: Batch) -> tuple[Step, ...]:
    """The dryer of a batch with a heater as warm as it may be."""
    hot = min(HOTTEST, 70.0)
    if batch.dryer.heater == 0 or batch.dryer.temperature >= hot or batch.air:
        return ()
    words = say("ways.warmer", warmer=show(hot, "temperature", "both"))
    return (Step(words, lambda one: replace(one, dryer=replace(one.dryer, temperature=hot))),)


def _halved(batch: Batch) -> tuple[Step, ...]:
    """Half of the fish at a time, with half of all that goes in."""

    def half(one: Batch) -> Batch:
        presoak, brine = one.presoak and _half_soak(one.presoak), one.brine and _half_soak(one.brine)
        waters = tuple(replace(water, water=_half(water.water)) for water in one.freshen)
        fish = replace(one.fish, raw_weight=one.fish.raw_weight / 2)
        return replace(one, fish=fish, presoak=presoak, brine=brine, freshen=waters, measured=Measured())

    return (Step(say("mending.half"), half),)


def _half_soak(soak: Soak) -> Soak:
    rows = tuple(replace(row, amount=_half(row.amount)) for row in soak.ingredients)
    return replace(soak, ingredients=rows)


def _half(portion: Portion) -> Portion:
    return Portion(**{name: None if much is None else much / 2 for name, much in vars(portion).items()})


def _raw(batch: Batch, **changed) -> Batch:
    """The batch with something changed, and without measurements that then say nothing more."""
    return replace(batch, **changed, measured=batch.measured.of_the_raw_fish)
