"""Ways to keep a batch: for each place and pack that can be granted, the weight to stop at, the hours, until when.

The drying curves of the plan serve them all: another way to keep the same fish only takes it off at another weight. Then
the smallest single changes that would earn what was asked, each of them carried through the whole plan.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from flakeyard import tables
from flakeyard.messages import say, translated
from flakeyard.remembered import Remembered
from flakeyard.steps.chain.drying import is_no_drying, stopped_for
from flakeyard.steps.chain.stopping import aim_of
from flakeyard.steps.intent.records import Batch, Heat
from flakeyard.steps.intent.spread import Band, band
from flakeyard.steps.judge.facts import PLACES
from flakeyard.steps.judge.safety import EAT, KEEP, Verdict
from flakeyard.steps.judge.storing import Keeping
from flakeyard.steps.plan.judging import judge
from flakeyard.steps.plan.plan import Outcome, plan
from flakeyard.units import show

TIGHT, OPEN = "glass jar", "paper bag"  # one pack that keeps air out and one that lets it in, for comparison
AIRLESS = "vacuum bag"
THINNER = (0.001, 0.002)  # m
HOTTER, HOTTEST = 5.0, 75.0  # degC: by how much, and no further than the drying was tested
ENOUGH = Heat(
    core=75.0, hold=60.0, checked="probe", to_tray=600.0
)  # a heating step that counts: 74 °C, with a degree to spare
MEMBERS = 100
UNSAID = 30  # days for which a freezer counts where none are said, to choose a place by and no more (judgement)


@dataclass(frozen=True)
class Way:
    """A way to keep the batch: what to change, place, pack, weight to stop at over the weight as laid, hours, verdict, days,
    and what limits them."""

    change: str
    place: str
    pack: str
    mass_ratio: float
    hours: Band
    keep: str
    eat: str
    days: int | None
    until: Keeping | None = None

    @property
    def no_drying(self) -> bool:
        """Whether the fish is as dry as this way asks already as it is laid.

        Returns: bool [yes or no, any]
        Source: the weight to stop at
        """
        return is_no_drying(self.mass_ratio)

    def as_dict(self) -> dict:
        told = {name: getattr(self, name) for name in ("change", "place", "pack", "mass_ratio", "keep", "eat", "days")}
        return told | {"hours_to_target": self.hours.as_dict()}


@dataclass(frozen=True)
class Asked:
    """What was asked, and whether the verdict grants it."""

    place: str
    pack: str | None
    granted: bool


def asked(outcome: Outcome) -> Asked:
    """The place and pack of a plan, and whether it reaches them."""
    keep = outcome.batch.keep
    return Asked(keep.aim, keep.pack, grants(outcome.verdict, keep.aim))


def grants(verdict: Verdict, place: str) -> bool:
    """Whether a verdict allows a place, and eating what was kept there."""
    return KEEP.index(verdict.keep) <= KEEP.index(PLACES[place]) and EAT.index(verdict.eat) <= EAT.index("cook_first")


def ways(outcome: Outcome) -> tuple[Way, ...]:
    """Every place and pack that can be granted by drying further or less far, the asked pack first."""
    own = outcome.batch.keep
    packs = _packs(own.pack or TIGHT)
    pairs = [(place, pack) for place in PLACES for pack in (packs[:1] if place == "freezer" else packs)]
    loads = Remembered()
    if own.stop_at is None and own.target_moisture is None:
        loads(aim_of(own), lambda: outcome.load)
    found = [_way(outcome, place, pack, loads) for place, pack in pairs]
    return tuple(way for way in found if way is not None)


def longest(outcome: Outcome, found: tuple[Way, ...]) -> Way | None:
    """The way in which the fish keeps longest; where rancid fat decides, a pack without air is looked at too."""
    airless = None
    if outcome.keep.limited_by == "rancidity" and outcome.keep.place is not None:
        airless = _way(outcome, outcome.keep.place, AIRLESS, Remembered())
    return max((*found, *([airless] if airless else [])), key=lasts, default=None)


def lasts(way: Way) -> int:
    """Days by which ways are compared; a freezer for which none are said counts as some.

    Returns: int [days, 0 up]
    Source: judgement, UNSAID; steps.judge.storing.keep_until
    """
    return UNSAID if way.place == "freezer" and way.days is None else way.days or 0


def _packs(asked_for: str) -> tuple[str, ...]:
    """The asked pack, one that keeps air out and one that lets it in: each once, whatever it is called."""
    packs: dict[str, str] = {}
    for name in (asked_for, TIGHT, OPEN):
        packs.setdefault(tables.pack(name).id, name)
    return tuple(packs.values())


def told(outcome: Outcome, with_changes: bool = False) -> dict:
    """What was asked and the ways to keep the batch, ready for JSON; changes are runs of the whole plan and take seconds."""
    found = ways(outcome) + (changes(outcome) if with_changes else ())
    return {"aim": vars(asked(outcome)), "ways": [way.as_dict() for way in found]}


def nearest(outcome: Outcome, found: tuple[Way, ...]) -> Way | None:
    """The way nearest to what was asked: the same place in another pack, else a colder one, else a warmer one."""
    order, wanted = list(PLACES), list(PLACES).index(outcome.batch.keep.aim)

    def far(way: Way) -> tuple:
        step = order.index(way.place) - wanted
        return step if step >= 0 else len(order) - step, EAT.index(way.eat), -(way.days or 0)

    return min(found, key=far, default=None)


def _way(outcome: Outcome, place: str, pack: str, loads: Remembered) -> Way | None:
    """One place and pack, judged on the curves of the plan; None where it is not granted."""
    keep = replace(outcome.batch.keep, place=place, pack=pack, target_moisture=None, stop_at=None)
    batch = replace(outcome.batch, keep=keep)
    if place == "cupboard" and outcome.carried_at is not None:
        batch = replace(batch, room=replace(batch.room, temperature=outcome.carried_at))
    load = replace(loads(aim_of(keep), lambda: stopped_for(outcome.load, keep)), aim=keep.aim)
    judged = judge(batch, outcome.laid, load)
    if not grants(judged.verdict, place):
        return None
    change = (
        "" if keep == outcome.batch.keep else say(f"ways.keep.{place}", pack=translated(tables.pack(pack).common_name))
    )
    days = judged.keep.days
    return Way(
        change,
        place,
        pack,
        load.mass_ratio,
        band(load.hours),
        judged.verdict.keep,
        judged.verdict.eat,
        days,
        judged.keep,
    )


def changes(outcome: Outcome, members: int = MEMBERS) -> tuple[Way, ...]:
    """Single changes of the batch that would earn the place asked in the pack asked, each run through the whole plan."""
    return tuple(earning(outcome.batch, members))


def earning(batch: Batch, members: int = MEMBERS) -> Iterator[Way]:
    """The same one by one, the smallest change first: each is run only when it is asked for."""
    return (way for what, other in ideas(batch) if (way := _after(what, other, members)) is not None)


def _after(what: str, batch: Batch, members: int) -> Way | None:
    outcome = plan(batch, members=members)
    hours, ratio = outcome.drying["hours_to_target"], outcome.drying["mass_ratio"].mid
    if ratio is None or not asked(outcome).granted:
        return None
    verdict, keep = outcome.verdict, batch.keep
    return Way(
        what, keep.aim, keep.pack or "", ratio, hours, verdict.keep, verdict.eat, outcome.keep.days, outcome.keep
    )


def ideas(batch: Batch) -> Iterator[tuple[str, Batch]]:
    """Changes to try, the smallest first: what to do in words, and the batch with it done."""
    cut, dryer, heat, raw = batch.cut, batch.dryer, batch.heat, batch.measured.of_the_raw_fish
    if heat is not None and not heat.probed:
        yield say("ways.probe"), replace(batch, heat=replace(heat, checked="probe"))
    if heat is None:
        yield say("ways.heat"), replace(batch, heat=ENOUGH, measured=raw)
    if cut.skin_on and not cut.whole:
        yield say("ways.skin_off"), replace(batch, cut=replace(cut, skin="off"), measured=raw)
    if dryer.faces != 2 and not cut.closed_face:
        yield say("ways.mesh"), replace(batch, dryer=replace(dryer, faces=2))
    for less in THINNER:
        if cut.thickness - less >= 0.003:
            factor = (cut.thickness - less) / cut.thickness
            words = say("ways.thinner", less=1000 * less, now=1000 * (cut.thickness - less))
            yield words, replace(batch, cut=cut.scaled(factor), measured=raw)
    if dryer.temperature + HOTTER <= HOTTEST:
        warmer = dryer.temperature + HOTTER
        yield (
            say("ways.warmer", warmer=show(warmer, "temperature", "both")),
            replace(batch, dryer=replace(dryer, temperature=warmer)),
        )
