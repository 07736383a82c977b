"""What to change in a plan that is refused, so that the fish may be kept and eaten: a few changes that do it together.

Every lever is a row of changes from "as told" to the strongest. All are pulled at once; then each is let back as far as
it goes, the most troublesome first. Changes are told as an answer is, place by place, so that a mend put into a batch
file gives just the verdict that it promised: the whole plan was run on that file. What only an answer could mend (a
heater nobody has read the label of) is tried last, and such a mend says what has to be so.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from flakeyard import limits
from flakeyard.messages import point, say
from flakeyard.remembered import Remembered
from flakeyard.steps.intent.batch_file import read_batch, written
from flakeyard.steps.intent.fields import FIELDS
from flakeyard.steps.intent.places import put
from flakeyard.steps.intent.records import Batch, Portion
from flakeyard.steps.intent.spread import MEMBERS
from flakeyard.steps.judge.safety import EAT, KEEP
from flakeyard.steps.plan.judging import heating_counts
from flakeyard.steps.plan.next_answer import untold
from flakeyard.steps.plan.plan import Outcome, plan, salt_of
from flakeyard.steps.plan.soaking import COLD, REFRIGERATED, WATER_SHARE
from flakeyard.steps.plan.ways import HOTTEST, Way, asked, lasts, nearest, ways
from flakeyard.units import fahrenheit, show, show_kitchen

TRIED = 60  # members of a plan that is only tried (judgement)
UNDONE = 2  # levers that are pulled again where the whole ensemble says otherwise (judgement)
FEWEST = 20  # of one that tells whether a search is worth it (judgement)
CUTS = (  # thinnest, usual and thickest piece of a cut with a steady hand, metric and US (judgement); tested from 3 mm on
    (("6 mm", "7 mm", "8 mm"), ("1/4 in", "9/32 in", "5/16 in")),
    (("4 mm", "5 mm", "6 mm"), ("3/16 in", "7/32 in", "1/4 in")),
    (("3 mm", "4 mm", "5 mm"), ("1/8 in", "5/32 in", "3/16 in")),
    (("3 mm", "3.5 mm", "4 mm"), ("1/8 in", "9/64 in", "5/32 in")),
)
HOT = ((70.0, "70 °C", "158 °F"), (HOTTEST, "75 °C", "167 °F"))  # of many dryers, and as hot as drying was tested
ON_TRAYS, SOON = 600.0, "10 min"  # from the probe to the trays at the most, where that counts (judgement)
OWN_HEATER = "500 W"  # of a dryer for a kitchen (judgement)
WATERS, EACH = (1, 2, 3, 4, 6, 8), "1 h"  # fresh waters that take out salt, and for how long (judgement)
LESS_SALT = (0.8, 0.65, 0.5, 0.4, 0.3, 0.25, 0.2, 0.15, 0.1)  # of the salt that was told (judgement)
KEPT = 12  # plans that a search remembers: some steps are tried again soon after (judgement)
SPARE = 0.95  # of a limit, so that the whole ensemble says what a few members do (judgement)
BESIDES_A_SOAK = ("fan", "open", "cut", "hot")  # what may have to go with it, as it puts water back in
ANSWERS = (  # what may be so, and can be found out or looked for, but not decided
    "gutted", "smells_normal", "hours_above_4c", "hours_above_21c", "warmest", "waters", "heater",
    "relative_humidity",
)  # fmt: skip


@dataclass(frozen=True)
class Step:
    """One change: its words, and what is told then, place by place (None: taken out); ``if_so`` where nobody can decide it."""

    words: str
    told: tuple[tuple[str, object], ...] = ()
    if_so: bool = False


AS_TOLD = Step("")
Lever = tuple[Step, ...]  # from the weakest to the strongest
DONE = (
    "gut",
    "freeze",
    "cut",
    "open",
    "cold",
    "salt",
    "soak",
    "heat",
    "soon",
    "fan",
    "hot",
    "load",
)  # the order in which a cook does it
SMALL = ("hot", "cut", "fan", "open", "soon", "cold", "load")  # changes that may do by themselves, the smallest first
SPARED = ("load", "cut")  # what hotter air may spare


@dataclass(frozen=True)
class Mend:
    """Steps that mend a plan together, by the name of their lever, and the way to keep the fish that they earn;
    ``longest`` is the way in which the same fish keeps longest, ``salt`` what it holds dried [kg/kg]."""

    steps: dict[str, Step]
    way: Way
    longest: Way
    salt: float | None = None

    @property
    def changes(self) -> tuple[str, ...]:
        """What to do, in words, in the order it is done."""
        return tuple(one.words for one in self._in_order() if one.words and not one.if_so)

    @property
    def if_so(self) -> tuple[str, ...]:
        """What has to be so, in words; nothing where all of it can be decided."""
        return tuple(one.words for one in self.steps.values() if one.if_so)

    @property
    def told(self) -> tuple[tuple[str, object], ...]:
        """What is told then, place by place; None takes out what was told there."""
        return tuple(pair for one in self.steps.values() for pair in one.told)

    @property
    def decided(self) -> tuple[tuple[str, object], ...]:
        """The same without what has to be so, which nobody can decide."""
        return tuple(pair for one in self.steps.values() if not one.if_so for pair in one.told)

    def does(self, name: str) -> bool:
        """Whether a lever is pulled."""
        return name in self.steps and bool(self.steps[name].told)

    def _in_order(self) -> list[Step]:
        return [self.steps[name] for name in DONE if name in self.steps]


def mends(outcome: Outcome, us: bool = False) -> Iterator[Mend]:
    """Sets of changes, each of which makes a refused plan one whose fish may be kept and eaten: with heating, the same in
    hotter air where that spares something, without heating, and, where there is none of these, if something is so.

    Each is run only when it is asked for. ``us``: whether amounts are told in US units.
    """
    batch = outcome.batch
    if batch.borrowed:
        return
    search, levers, none = _Search(batch), _levers(batch, us), True
    usual = search.least(_heated(batch, us) | levers | {"hot": levers["hot"][:-1] or levers["hot"]})
    if usual:
        none = False
        yield usual
    if hot := search.spared(usual, levers) if usual else search.least(_heated(batch, us) | levers):
        none = False
        yield hot
    if not heating_counts(batch.heat) and (raw := search.least(_frozen(batch, us) | levers)):
        none = False
        yield raw
    if none and (answers := _dried_elsewhere(batch, us) | _answers(batch)):
        if_so = search.least(answers | _heated(batch, us) | levers)
        yield from [if_so] if if_so else []


def earned(outcome: Outcome, us: bool = False) -> Iterator[Mend]:
    """For a plan that does not grant what was asked: the nearest way that is granted, and the least that would earn what was
    asked: one change by itself, else a set of them."""
    batch, search = outcome.batch, _Search(outcome.batch)
    if best := nearest(outcome, ways(outcome)):
        yield Mend({"keep": _kept(batch, best)}, best, _longest(outcome, best))
    levers = _heated(batch, us) | _levers(batch, us)
    for name in [name for name in (*SMALL, "heat") if len(levers.get(name, ())) > 1 or name == "heat"]:
        if mend := search.least({name: levers.get(name, (AS_TOLD,))}, as_asked=True):
            yield mend
            return
    if mend := search.least(levers, as_asked=True):
        yield mend


def lasting(mend: Mend) -> Mend | None:
    """The same mend, kept where it keeps longest; None where that is so already."""
    way = mend.longest
    if (way.place, way.pack) == (mend.way.place, mend.way.pack):
        return None
    given_up = [pair for pair in mend.steps["keep"].told if pair[1] is None]
    keep = Step("", (("keep.place", way.place), ("keep.pack", way.pack), *given_up))
    return Mend(mend.steps | {"keep": keep}, way, way)


def freshened(outcome: Outcome, us: bool = False) -> Mend | None:
    """The least soak in plain water after which the fish of a granted plan is not very salty, alone or with what then dries
    it quickly enough; None where the place asked is then no longer granted, and nothing that makes the verdict milder."""
    batch = outcome.batch
    if batch.borrowed or not batch.ingredients or not asked(outcome).granted:
        return None
    search = _Search(batch, lambda after: _mildly_salty(after) and asked(after).granted and _as_strict(after, outcome))
    for besides in ((), BESIDES_A_SOAK):
        levers = {name: _levers(batch, us)[name] for name in besides}
        soak = search.enough(_soaks(batch, us), {name: lever[-1] for name, lever in levers.items()})
        if soak and (mend := search.least(levers | {"soak": (soak,)}, as_asked=True)):
            return mend
    return None


def less_salted(outcome: Outcome, us: bool = False) -> Mend | None:
    """The most of its salt, for fish that does not lie in it yet, with which the fish of a granted plan is not very salty; None
    where the place asked is then no longer granted, and nothing that makes the verdict milder."""
    batch = outcome.batch
    if batch.borrowed or not asked(outcome).granted:
        return None
    search = _Search(batch, lambda after: _mildly_salty(after) and asked(after).granted and _as_strict(after, outcome))
    for besides in ((), BESIDES_A_SOAK):
        levers = {name: _levers(batch, us)[name] for name in besides}
        step = search.enough(_less_salt(batch, us), {name: lever[-1] for name, lever in levers.items()}, "salt")
        if step and (mend := search.least(levers | {"salt": (step,)}, as_asked=True)):
            return mend
    return None


def _mildly_salty(outcome: Outcome) -> bool:
    return salt_of(outcome.load) <= limits.VERY_SALTY


def _as_strict(after: Outcome, now: Outcome) -> bool:
    """Whether a verdict is in nothing milder than another."""
    return KEEP.index(after.verdict.keep) >= KEEP.index(now.verdict.keep) and EAT.index(after.verdict.eat) >= EAT.index(
        now.verdict.eat
    )


def all_changed(outcome: Outcome, *besides: tuple[str, object], at_best: bool = True) -> Outcome:
    """The plan with everything changed that can be: what still stands against it no plan can mend. ``besides``: what is told
    anew at a place; ``at_best``: with everything left open at its best too."""
    batch = outcome.batch
    levers = (_answers(batch) if at_best else {}) | _heated(batch, False) | _levers(batch, False)
    steps = {name: lever[-1] for name, lever in levers.items()} | {"besides": Step("", besides)}
    return _Search(batch).plan(steps, FEWEST, sketch=True)


class _Search:
    """The least of some levers with which a batch is granted a place; ``wanted`` of a plan where more is wanted of it."""

    def __init__(self, batch: Batch, wanted: Callable[[Outcome], bool] = lambda outcome: asked(outcome).granted):
        self.batch, self.typed, self.wanted = batch, written(batch), wanted
        self.tried = Remembered(KEPT)

    def least(self, levers: dict[str, Lever], as_asked: bool = False) -> Mend | None:
        """Every lever as far back as it goes, one after the other; None where even all of them do not do it.

        ``as_asked``: for the place and pack asked alone, not for the nearest that is granted
        """
        chosen = {name: lever[-1] for name, lever in levers.items()}
        strongest = self.plan(chosen, FEWEST, sketch=True)
        if as_asked and not self.wanted(strongest):
            return None
        best = None if as_asked else nearest(strongest, ways(strongest))
        if best is None and not as_asked:
            return None
        chosen["keep"] = AS_TOLD if best is None else _kept(self.batch, best)
        for name, lever in levers.items():
            chosen[name] = self._weakest(chosen, name, lever)
        return self._promised(chosen, levers, as_asked)

    def enough(self, lever: Lever, besides: dict[str, Step], name: str = "soak") -> Step | None:
        """The least of a lever with which the fish is not very salty; None where not even the most does it. The least of all
        and the most are tried first: the one is often enough, the other often is not."""

        def does(step: Step) -> bool:
            after = self.plan(besides | {name: step}, FEWEST, sketch=True)
            return salt_of(after.load) <= SPARE * limits.VERY_SALTY

        if not lever or does(lever[0]):
            return lever[0] if lever else None
        return _first(lever[1:], does) if does(lever[-1]) else None

    def spared(self, usual: Mend, levers: dict[str, Lever]) -> Mend | None:
        """The same mend in hotter air, where the load may then be larger or the pieces thicker."""
        fixed = {name: (step,) for name, step in usual.steps.items() if name != "keep"}
        freed = {name: levers[name][: levers[name].index(usual.steps[name]) + 1] for name in SPARED}
        if usual.steps["hot"] is levers["hot"][-1] or all(len(lever) == 1 for lever in freed.values()):
            return None
        hot = self.least(fixed | freed | {"hot": levers["hot"][-1:]})
        return hot if hot and any(hot.steps[name] is not usual.steps[name] for name in SPARED) else None

    def _weakest(self, chosen: dict[str, Step], name: str, lever: Lever) -> Step:
        """The weakest step of a lever with which a plan is still granted, found by halves."""
        return _first(lever, lambda step: self.wanted(self.plan(chosen | {name: step}, TRIED, sketch=True)))

    def _promised(self, chosen: dict[str, Step], levers: dict[str, Lever], as_asked: bool) -> Mend | None:
        """The steps with what the whole plan of the changed file grants. Where that grants less than the small ensemble
        did, levers are pulled again, the last first; then the nearest place is taken that it does grant, if it may be another.
        """
        loose = [name for name, lever in levers.items() if chosen[name] is not lever[-1]]
        again = loose[-UNDONE:]
        while not self.wanted(outcome := self._whole(chosen)):
            best = None if as_asked or again else nearest(outcome, ways(outcome))
            if again:
                name = again.pop()
                chosen[name] = levers[name][levers[name].index(chosen[name]) + 1]
            elif best:
                chosen["keep"] = _kept(self.batch, best)
            elif any(chosen[name] is not levers[name][-1] for name in loose):
                chosen |= {name: levers[name][-1] for name in loose}
            else:
                return None
        return _mend(chosen, outcome)

    def _whole(self, chosen: dict[str, Step]) -> Outcome:
        """The whole plan; its quick sketch where that grants nothing already."""
        outcome = self.plan(chosen, MEMBERS, sketch=True)
        return self.plan(chosen, MEMBERS) if self.wanted(outcome) else outcome

    def plan(self, steps: dict[str, Step], members: int, sketch: bool = False) -> Outcome:
        """The plan of the batch with some steps taken, worked out once."""
        told = tuple(pair for one in steps.values() for pair in one.told)
        return self.tried(
            (told, members, sketch), lambda: plan(read_batch(put(self.typed, told)), members, sketch=sketch)
        )


def _first(lever: Lever, does: Callable[[Step], bool]) -> Step:
    """The first step of a lever that does it, found by halves; its last is known to."""
    low, high = 0, len(lever) - 1
    while low < high:
        middle = (low + high) // 2
        if does(lever[middle]):
            high = middle
        else:
            low = middle + 1
    return lever[high]


def _mend(chosen: dict[str, Step], outcome: Outcome) -> Mend:
    keep, verdict, hours = outcome.batch.keep, outcome.verdict, outcome.drying["hours_to_target"]
    ratio = outcome.drying["mass_ratio"].mid or outcome.load.mass_ratio
    way = Way("", keep.aim, keep.pack or "", ratio, hours, verdict.keep, verdict.eat, outcome.keep.days, outcome.keep)
    return Mend(dict(chosen), way, _longest(outcome, way), salt_of(outcome.load))


def _longest(outcome: Outcome, way: Way) -> Way:
    """The way in which the fish keeps longest; a freezer for which no days are said counts as such."""
    return max((way, *ways(outcome)), key=lasts)


def _kept(batch: Batch, best: Way) -> Step:
    """Another place or pack, where it takes one; a moisture or a weight of one's own is given up."""
    told = (
        {"place": best.place, "pack": best.pack}
        if (best.place, best.pack) != (batch.keep.place, batch.keep.pack)
        else {}
    )
    own = [name for name in ("target_moisture", "stop_at") if getattr(batch.keep, name) is not None]
    return Step("", tuple((f"keep.{name}", value) for name, value in (told | dict.fromkeys(own)).items()))


# Levers


def _levers(batch: Batch, us: bool) -> dict[str, Lever]:
    """All that can be decided but heating and freezing, the most troublesome first."""
    steps = {
        "load": _loads(batch, us),
        "gut": (Step(say("mending.gut"), (("fish.gutted", True),)),) if batch.fish.gutted is False else (),
        "cold": _colder(batch, us),
        "open": _opened(batch),
        "fan": _fanned(batch),
        "cut": _cuts(batch, us),
        "hot": _hotter(batch, us),
    }
    return {name: (AS_TOLD, *lever) for name, lever in steps.items()}


def _both(metric: str, us: str) -> str:
    return say("mending.both", metric=metric, us=us)


def _frozen(batch: Batch, us: bool) -> dict[str, Lever]:
    """Freezing against parasites, of fish that is not known to be farmed or to have been frozen so."""
    if batch.fish.origin == "farmed":
        return {}
    cold, days = ("−20 °C", "−4 °F"), limits.PARASITE_DAYS
    told = {"stock": "frozen", "frozen_at": _typed(*cold, us), "frozen_days": int(days)}
    if batch.fish.stock == "fresh":  # what was thawed before is not mended
        told["thawed_in_vacuum"] = False
    words = say("mending.freeze", cold=_both(*cold), days=f"{days:g}")
    return {"freeze": (AS_TOLD, _step(words, "fish", told))}


def _heated(batch: Batch, us: bool) -> dict[str, Lever]:
    """A heating that counts: the one that was told, with a probe where that is all it lacks, or another; soon laid out."""
    heat = batch.heat
    if heat is None or not heating_counts(replace(heat, checked="probe")):
        told = {"core": _typed("75 °C", "167 °F", us), "hold": "1 min", "checked": "probe", "to_tray": SOON}
        return {
            "heat": (
                Step(
                    say("mending.heat", hot=_both("75 °C", "167 °F"), soon=SOON),
                    (*_step("", "heat", told).told, ("heat.weight_after", None), *_unmeasured(batch)),
                ),
            )
        }
    slow = heat.to_tray is None or heat.to_tray > ON_TRAYS
    return {
        "heat": (AS_TOLD if heat.probed else _step(say("ways.probe"), "heat", {"checked": "probe"}),),
        "soon": (AS_TOLD, _step(say("mending.soon"), "heat", {"to_tray": SOON})) if slow else (AS_TOLD,),
    }


def _colder(batch: Batch, us: bool) -> Lever:
    """Soaks and rest as cold as counts as cold."""
    warm = [f"{name}.temperature" for name in ("presoak", "brine", "rest") if _is_warm(getattr(batch, name))]
    warm += [f"freshen.{row}.temperature" for row, one in enumerate(batch.freshen, 1) if _is_warm(one)]
    told = tuple((place, _typed("4 °C", "39 °F", us)) for place in warm)
    return (Step(say("mending.cold", cold=_both("4 °C", "39 °F")), told),) if warm else ()


def _is_warm(bath) -> bool:
    return bath is not None and bath.temperature > limits.COLD


def _opened(batch: Batch) -> Lever:
    """Nothing closing a face: no skin, and open mesh."""
    if batch.cut.whole:
        return ()  # `_cuts` makes strips of it
    if batch.cut.skin_on:
        told = (("cut.skin", "off"), ("dryer.faces", 2), *_unmeasured(batch))
        return (Step(say("mending.skin_off"), told),)
    return (Step(say("ways.mesh"), (("dryer.faces", 2),)),) if batch.dryer.faces != 2 else ()


def _fanned(batch: Batch) -> Lever:
    """A fan where a heated dryer has none."""
    if batch.dryer.moving in (None, "fan") or batch.dryer.heater == 0 or batch.air:
        return ()
    return (Step(say("mending.fan"), (("dryer.moving", "fan"),)),)


def _cuts(batch: Batch, us: bool) -> Lever:
    """Thinner pieces, nearly alike; strips, where it is no strips yet."""
    cut, steps = batch.cut, []
    for metric, american in CUTS:
        sizes = dict(zip(("thinnest", "thickness", "thickest"), american if us else metric, strict=True))
        told = sizes | ({} if cut.form == "strips" else {"form": "strips"})
        told |= {"skin": "off"} if cut.whole else {}
        usual, thick = (FIELDS["cut"][name].read(sizes[name], name) for name in ("thickness", "thickest"))
        if usual < cut.thickness and thick < cut.sizes[-1]:
            spans = [say("amount.from_to", low=one[0].rpartition(" ")[0], high=one[2]) for one in (metric, american)]
            now = _both(*spans)
            words = say("mending.thin" if cut.form == "strips" else "mending.strips", now=now)
            mesh = (("dryer.faces", 2),) if cut.whole else ()
            steps.append(Step(words, (*_step("", "cut", told).told, *mesh, *_unmeasured(batch))))
    return tuple(steps)


def _hotter(batch: Batch, us: bool) -> Lever:
    """A hotter dial of a dryer with a heater."""
    if batch.dryer.heater == 0 or batch.air:
        return ()
    return tuple(
        Step(say("ways.warmer" if hot < HOTTEST else "mending.hottest", warmer=_both(metric, american)), (("dryer.temperature", _typed(metric, american, us)),))
        for hot, metric, american in HOT
        if batch.dryer.temperature < hot - 0.5
    )  # fmt: skip


def _loads(batch: Batch, us: bool) -> Lever:
    """Half of the fish at a time, or a quarter, with as much of all that goes in."""
    return tuple(
        Step(say(f"mending.{name}"), (*_parts(batch, share, us), *_unmeasured(batch)))
        for name, share in (("half", 0.5), ("quarter", 0.25), ("eighth", 0.125))
    )


def _parts(batch: Batch, share: float, us: bool) -> Iterator[tuple[str, object]]:
    yield "fish.raw_weight", _amount("mass", share * batch.fish.raw_weight, us)
    for name in ("presoak", "brine"):
        if soak := getattr(batch, name):
            for row, one in enumerate(soak.ingredients, 1):
                yield f"{name}.ingredient.{row}.amount", _portion(one.amount, share, us)
    for row, water in enumerate(batch.freshen, 1):
        yield f"freshen.{row}.water", _portion(water.water, share, us)
    if batch.heat and batch.heat.weight_after is not None:
        yield "heat.weight_after", _amount("mass", share * batch.heat.weight_after, us)


def _portion(portion: Portion, share: float, us: bool, digits: int = 4) -> str:
    kind, much = next((kind, much) for kind, much in vars(portion).items() if much is not None)
    return _amount(kind, share * much, us, digits)


def _amount(kind: str, value: float, us: bool, digits: int = 4) -> str:
    """An amount as it may be typed: with a point, as "5,545" may be thousands or decimals."""
    return show(value, kind, "us" if us else "metric", digits=digits).replace(point(), ".")


def _unmeasured(batch: Batch) -> Iterator[tuple[str, object]]:
    """Measurements that then say nothing more, taken out."""
    kept = vars(batch.measured.of_the_raw_fish)
    return (
        (f"measured.{name}", None)
        for name, value in vars(batch.measured).items()
        if value is not None and kept[name] is None
    )


def _less_salt(batch: Batch, us: bool) -> Lever:
    """Less and less of the salt in all baths and cures, with all else as told; none where there is none."""
    rows = [
        (f"{name}.ingredient.{row}.amount", one)
        for name in ("presoak", "brine")
        if (soak := getattr(batch, name))
        for row, one in enumerate(soak.ingredients, 1)
        if one.record.kind == "salt"
    ]
    gone = [*_unmeasured(batch), *([("heat.weight_after", None)] if batch.heat and batch.heat.weight_after else [])]
    return tuple(_salted_less(rows, share, gone, us) for share in LESS_SALT if rows)


def _salted_less(rows: list, share: float, gone: list, us: bool) -> Step:
    told = [(place, _portion(one.amount, share, us, digits=2), one.what) for place, one in rows]
    words = say(
        "mending.less_salt", amounts=", ".join(f"{much.replace('.', point())} {what}" for _place, much, what in told)
    )
    return Step(words, (*((place, much) for place, much, _what in told), *gone))


def _soaks(batch: Batch, us: bool) -> Lever:
    """More and more fresh waters after all that was told; none where a file holds no such amount."""
    litres = math.ceil(2 * WATER_SHARE * batch.fish.raw_weight - 1e-6) / 2  # a kg a litre
    if litres / 1000 > FIELDS["freshen"]["water"].high["volume"]:
        return ()
    water, cold = show_kitchen(litres / 1000, "volume", "us" if us else "metric"), _refrigerator(batch, us)
    gone = [*_unmeasured(batch), *([("heat.weight_after", None)] if batch.heat and batch.heat.weight_after else [])]
    row = f"freshen.{len(batch.freshen) + 1}"
    return tuple(
        Step(
            say("mending.soak", waters=waters, water=water, time=EACH, cold=cold),
            (*_step("", row, {"water": water, "time": EACH, "temperature": cold, "changes": waters}).told, *gone),
        )
        for waters in WATERS
    )


def _refrigerator(batch: Batch, us: bool) -> str:
    """How cold the refrigerator is, by the warmest that was told of it, rounded up."""
    told = max([COLD, *(one.temperature for one in batch.rests if one.temperature <= REFRIGERATED)])
    metric, american = (math.ceil(one - 1e-6) for one in (told, fahrenheit(told)))
    return _typed(f"{metric} °C", f"{american} °F", us)


def _dried_elsewhere(batch: Batch, us: bool) -> dict[str, Lever]:
    """A dryer, for fish that is to dry without one."""
    if batch.dryer.heater != 0.0 and not batch.air:
        return {}
    hot = _typed("70 °C", "158 °F", us)
    told = {"heater": OWN_HEATER, "moving": "fan", "temperature": hot}
    words = say("mending.if_so.dryer", heater=OWN_HEATER, hot=_both("70 °C", "158 °F"))
    step = replace(_step(words, "dryer", told), if_so=True)
    return {"dryer": (AS_TOLD, replace(step, told=(*step.told, ("air", None))))}


def _answers(batch: Batch) -> dict[str, Lever]:
    """What was left open and cannot be decided, at the best that may plausibly be so."""
    found: dict[str, Lever] = {}
    for fact in untold(batch):
        if fact.key in ANSWERS:
            told = {key: one for key, one in fact.typed.items() if getattr(getattr(batch, fact.section), key) is None}
            step = replace(_step(say(f"mending.if_so.{fact.key}", **_limits()), fact.section, told), if_so=True)
            found[f"{fact.section}.{fact.key}"] = (AS_TOLD, step)
    return found


def _limits() -> dict[str, str]:
    return {name: show(one, "temperature", "both") for name, one in (("cold", limits.COLD), ("warm", limits.WARM))}


def _typed(metric: str, us: str, in_us: bool) -> str:
    return (us if in_us else metric).replace("−", "-")


def _step(words: str, section: str, told: dict) -> Step:
    return Step(words, tuple((f"{section}.{key}", value) for key, value in told.items()))
