"""Planning backwards: so much fish, at most so salty, done by an hour, no work at night, carried warm for so many days.

A wish changes what is planned and never what is judged: every batch that comes of it goes through the whole plan and all
rules again. What cannot be met is named, so that it can be said before anything else.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np

from flakeyard import tables
from flakeyard.models.constants import HOUR
from flakeyard.steps.intent.records import Batch, Ingredient, Portion, Rest, Soak
from flakeyard.steps.intent.spread import MEMBERS
from flakeyard.steps.judge import storing
from flakeyard.steps.judge.safety import EAT, KEEP
from flakeyard.steps.plan import timetable, ways
from flakeyard.steps.plan.judging import judge
from flakeyard.steps.plan.plan import Outcome, plan

LEAST_SALT = 0.01  # of the salt typed: below it there is none left to take away (judgement)
HALVINGS = 6  # of the search for the salt: known to a fiftieth of what was typed
SALT_KNOWN_TO = 1.02  # times the most: what a larger ensemble may say otherwise (judgement)
SKETCHED = 40  # members behind a trial of the search (judgement)
HANDS_ON = 900.0  # s of work at a soak, a change of water or a weighing (judgement)
RESTS = (
    0.0,
    2.0,
    4.0,
    6.0,
    8.0,
    10.0,
    12.0,
)  # h out of the salt, in the refrigerator, that are tried to get past a night
REST_AT = 3.0  # degC
STEP, AHEAD = 900.0, 7 * 24 * HOUR  # s: starts that are tried, and how far away


@dataclass(frozen=True)
class Carried:
    """Kept in a bag for so many days at so many degC."""

    days: float
    temperature: float


@dataclass(frozen=True)
class Wish:
    """What is wished for; None where nothing is: raw fish or dried fish [kg], salt of the dried fish [kg/kg], the hour it
    is to be dry, hours of the day without work (from, to) [min since midnight], carried warm."""

    raw: float | None = None
    dried: float | None = None
    most_salt: float | None = None
    done_by: datetime | None = None
    no_work: tuple[int, int] | None = None
    carried: Carried | None = None


@dataclass(frozen=True)
class Unmet:
    """A wish that cannot be met: which (``raw``, ``loads``, ``severer`` …), and the values its words need."""

    wish: str
    told: dict = field(default_factory=dict)


@dataclass(frozen=True)
class Task:
    """Something to do: a step of the timetable at a moment, for so many seconds."""

    step: str
    at: float
    lasts: float = HANDS_ON


@dataclass(frozen=True)
class Wished:
    """One load as it is to be made, how many such loads, when it begins, what is not met, and the work that falls in
    the hours without work."""

    outcome: Outcome
    loads: int = 1
    start: datetime | None = None
    unmet: tuple[Unmet, ...] = ()
    night: tuple[Task, ...] = ()

    def as_dict(self) -> dict:
        """What came of the wishes beside the plan, ready for JSON."""
        start = None if self.start is None else self.start.isoformat(sep=" ")
        return {"loads": self.loads, "start": start, "unmet": [one.wish for one in self.unmet]}


def granted(batch: Batch, wish: Wish, now: datetime | None = None, members: int = MEMBERS) -> Wished:
    """The batch as it is wished for, with what cannot be met.

    Parameters: batch – as told; wish – all None for none; now – when planning begins, needed for a time of day;
    members – of the ensemble. Raises: InputError where what comes of it cannot be.
    """
    before = plan(batch, members)
    found = _salted(_amount(before, wish, members), wish, members)
    found = _carried(found, wish.carried)
    if (wish.done_by or wish.no_work) and now is not None:
        found = _by_the_clock(found, wish, now, members)
    worse = _severer(before, found.outcome)
    return replace(found, unmet=(*found.unmet, *([Unmet("severer", worse)] if worse else [])))


def _severer(before: Outcome, after: Outcome) -> dict:
    """Both verdicts, where that of the wish is the severer one."""
    told = ((after.verdict.keep, before.verdict.keep, KEEP), (after.verdict.eat, before.verdict.eat, EAT))
    if not any(order.index(now) > order.index(then) for now, then, order in told):
        return {}
    return {"now": after.verdict, "before": before.verdict}


# ---- how much


def scaled(batch: Batch, factor: float) -> Batch:
    """So many times the batch: fish, salt, sugar and every water; a weight that was read off a scale is dropped.

    Returns: Batch [all amounts times the factor; times, thicknesses and the dryer as they were]
    Source: as told
    """
    changed = {
        name: replace(soak, ingredients=tuple(_more(row, factor) for row in soak.ingredients))
        for name in ("presoak", "brine") if (soak := getattr(batch, name)) is not None
    }  # fmt: skip
    waters = tuple(replace(soak, water=_portion(soak.water, factor)) for soak in batch.freshen)
    heat = batch.heat and replace(batch.heat, weight_after=None)
    fish = replace(batch.fish, raw_weight=batch.fish.raw_weight * factor)
    return replace(batch, fish=fish, freshen=waters, heat=heat, measured=batch.measured.of_the_raw_fish, **changed)


def _portion(amount: Portion, factor: float) -> Portion:
    return Portion(*(None if part is None else part * factor for part in (amount.mass, amount.volume)))


def _more(row: Ingredient, factor: float) -> Ingredient:
    """The same strength, more of it: a syrup's own recipe stays what it is."""
    return replace(row, amount=_portion(row.amount, factor))


def loads_of(outcome: Outcome) -> int:
    """How many loads the fish makes on these trays, laid side by side.

    Returns: int [count, 1 up]
    Source: steps.chain.drying, area of the pieces over that of the trays
    """
    return max(1, math.ceil(outcome.load.load_area_ratio - 1e-9))


def _amount(outcome: Outcome, wish: Wish, members: int) -> Wished:
    """The batch with as much fish as is wished for, in as many loads as the trays need."""
    if wish.raw is None and wish.dried is None:
        return Wished(outcome)
    loads, dried = 1, wish.dried
    for _ in range(3):  # a larger load may ask for another weight to stop at: the share is looked at again
        whole = _raw_for(outcome, dried) if wish.raw is None and dried is not None else wish.raw
        if whole is None:
            return Wished(outcome, unmet=(Unmet("dried"),))
        batch = scaled(outcome.batch, whole / loads / outcome.batch.fish.raw_weight)
        outcome = plan(batch, members)
        more = loads * loads_of(outcome)
        if more == loads and wish.raw is not None:
            break
        loads = more
    if whole is not None and loads > 1 and loads_of(outcome) > 1:
        outcome = plan(scaled(outcome.batch, whole / loads / outcome.batch.fish.raw_weight), members)
    unmet = (Unmet("loads", {"loads": loads, "each": outcome.batch.fish.raw_weight, "whole": whole}),)
    return Wished(outcome, loads, unmet=unmet if loads > 1 else ())


def _raw_for(outcome: Outcome, dried: float) -> float | None:
    """Raw fish for so much dried fish, by the middle of the plan; None where it may never get dry."""
    mass = dried_mass(outcome)
    return None if mass is None else dried * outcome.batch.fish.raw_weight / mass


def dried_mass(outcome: Outcome) -> float | None:
    """What the fish of a plan weighs dried, each piece taken out at its own weight to stop at: what every text shows.

    Returns: float or None [kg, above 0]
    Source: steps.chain.drying, the middle of the plan
    """
    return outcome.dried["mass_kg"].mid if outcome.load.reached else None


# ---- what to buy


@dataclass(frozen=True)
class Buying:
    """What to buy for all loads: trimmed fish, fillet and whole fish (low, high) [kg], what goes into the soaks, and how
    many packs of so much dried fish [kg]; None where it cannot be said."""

    trimmed: float
    fillet: float
    whole: tuple[float, float]
    needed: tuple[timetable.Needed, ...]
    packs: int | None
    per_pack: float


def buying(outcome: Outcome, loads: int = 1) -> Buying:
    """What to buy for so many loads of a batch.

    Returns: Buying [kg, above 0]
    Source: data/yields.csv; the recipe as told
    """
    batch, mass = outcome.batch, dried_mass(outcome)
    trimmed = loads * batch.fish.raw_weight
    fillet = trimmed / _trimming().mid
    whole = sorted(fillet / share for share in _shares(batch))
    per_pack = storing.AMOUNT if batch.keep.per_pack is None else batch.keep.per_pack
    packs = None if mass is None else loads * math.ceil(mass / per_pack - 1e-9)
    needed = tuple(timetable.shopping(batch if loads == 1 else scaled(batch, loads)))
    return Buying(trimmed, fillet, (whole[0], whole[-1]), needed, packs, per_pack)


def _trimming() -> tables.Yield:
    return next(row for row in tables.yields() if row.to_form == "trimmed fillet")


def _shares(batch: Batch) -> tuple[float, ...]:
    """Fillet over whole fish of this kind, with skin or without; of any fish where its own kind is not in the table."""
    record = batch.fish.record
    name = "" if record is None else record.common_name.lower()
    skin = "fillet, skin on" if batch.cut.skin_on else "fillet, skin off"
    rows = [row for row in tables.yields() if row.usable and row.from_form == "whole"]
    own = [
        row.mid
        for row in rows
        if row.to_form in (skin, "fillet") and row.fish.split(" (")[0].rstrip("0123456789- g") in name
    ]
    any_fish = next(row for row in rows if row.to_form == "steaks and fillets")
    return tuple(own) if name and own else (any_fish.low, any_fish.high)


# ---- how salty


def _salted(found: Wished, wish: Wish, members: int) -> Wished:
    """No saltier than is wished for, nine times in ten: less salt goes in, and all is judged anew; never more."""
    most, outcome = wish.most_salt, found.outcome
    if most is None or _salt(outcome) <= most:
        return found
    unmet = replace(found, unmet=(*found.unmet, Unmet("salt", {"most": most, "salt": _salt(outcome)})))
    low, high = LEAST_SALT, 1.0
    if _salt(plan(_with_salt(outcome.batch, low), SKETCHED)) > most:
        return unmet
    for _ in range(HALVINGS):
        part = 0.5 * (low + high)
        low, high = (part, high) if _salt(plan(_with_salt(outcome.batch, part), SKETCHED)) <= most else (low, part)
    after = plan(_with_salt(outcome.batch, low), members)
    return replace(found, outcome=after) if _salt(after) <= most * SALT_KNOWN_TO else unmet


def _salt(outcome: Outcome) -> float:
    """Salt of the dried fish that nine batches in ten stay under."""
    high = outcome.dried["salt_fraction"].high
    return math.inf if high is None else high


def _with_salt(batch: Batch, part: float) -> Batch:
    """The batch with a part of its salt."""

    def less(soak: Soak | None) -> Soak | None:
        if soak is None:
            return None
        rows = (_more(row, part) if row.record.kind == "salt" else row for row in soak.ingredients)
        return replace(soak, ingredients=tuple(rows))

    measured = batch.measured.of_the_raw_fish
    return replace(batch, presoak=less(batch.presoak), brine=less(batch.brine), measured=measured)


# ---- carried warm


def _carried(found: Wished, carried: Carried | None) -> Wished:
    """Dried for the cupboard in the room there is, and judged once more for a warmer place; never milder for a cooler."""
    if carried is None:
        return found
    batch = found.outcome.batch
    keep = replace(batch.keep, place="cupboard", wanted_days=carried.days)
    outcome = plan(replace(batch, keep=keep), found.outcome.load.hours.size)
    room = outcome.batch.room.temperature
    warmest = max(carried.temperature, -math.inf if room is None else room)
    outcome = _judged_at(outcome, warmest)
    long_enough = ways.grants(outcome.verdict, "cupboard") and (outcome.keep.days or 0) >= carried.days
    told = {"days": carried.days, "temperature": warmest, "granted": outcome.keep.days}
    name = "carried" if not ways.grants(outcome.verdict, "cupboard") else "carried_days"
    return replace(found, outcome=outcome, unmet=(*found.unmet, *(() if long_enough else (Unmet(name, told),))))


def _judged_at(outcome: Outcome, warmth: float | None) -> Outcome:
    """The same fish judged for a cupboard as warm as that [°C]; None: as warm as the room."""
    if warmth is None:
        return outcome
    room = replace(outcome.batch.room, temperature=warmth)
    judged = judge(replace(outcome.batch, room=room), outcome.laid, outcome.load)
    return replace(outcome, verdict=judged.verdict, keep=judged.keep, facts=judged.facts, carried_at=warmth)


# ---- by the clock


def tasks(outcome: Outcome) -> tuple[Task, ...]:
    """Everything that needs hands, in seconds from the first salt: soaks, heating, laying, and a weighing every hour from
    the time it may be done to the latest, or to the middle forecast where one batch in ten may never get there."""
    return tuple(_tasks(timetable.timetable(outcome)))


def _tasks(moments) -> Iterator[Task]:
    dried = {moment.step: moment.at for moment in moments}
    for moment in moments:
        if moment.step in ("rest", "likely done", "latest", timetable.MAY_BE_DONE, timetable.NO_DRYING):
            continue
        yield Task(moment.step, moment.at, timetable.HEATING if moment.step == "heat" else HANDS_ON)
    if timetable.MAY_BE_DONE in dried:
        begin, end = dried[timetable.MAY_BE_DONE], dried.get("latest", dried["likely done"])
        yield from (Task(timetable.MAY_BE_DONE, float(at)) for at in np.arange(begin, end + 0.5 * HOUR, HOUR))


def at_night(work: tuple[Task, ...], start: datetime, no_work: tuple[int, int] | None) -> tuple[Task, ...]:
    """What of the work falls in the hours without work."""
    if no_work is None:
        return ()
    return tuple(task for task in work if _overlaps(start + timedelta(seconds=task.at), task.lasts, no_work))


def _overlaps(begin: datetime, lasts: float, no_work: tuple[int, int]) -> bool:
    night, morning = no_work
    length = (morning - night) % 1440
    since = (begin.hour * 60 + begin.minute + begin.second / 60 - night) % 1440  # min since the night last began
    return since < length or since + lasts / 60 > 1440


def _by_the_clock(found: Wished, wish: Wish, now: datetime, members: int) -> Wished:
    """The latest start that is done in time without work at night; a rest in the cold may bridge the night. Where there is
    none, the start with least such work, and what is not met."""
    best = None
    for hours in RESTS:
        other = _rested(found.outcome, hours, members)
        if other is None:
            continue
        start, night, late = _start(tasks(other), wish, now)
        if not night and not late:
            return replace(found, outcome=other, start=start)
        rank = (late, len(night), start + timedelta(seconds=_end(tasks(other))))
        if best is None or rank < best[0]:
            best = (rank, other, start, night)
    if best is None:
        return replace(found, unmet=(*found.unmet, Unmet("no_end")))
    (late, _, end), outcome, start, night = best
    unmet = [Unmet("done_by", {"wished": wish.done_by, "end": end})] if late else []
    unmet += [Unmet("night", {"tasks": night, "start": start, "no_work": wish.no_work})] if night else []
    if outcome.drying["hours_to_target"].high is None:
        unmet.append(Unmet("no_end"))
    return replace(found, outcome=outcome, start=start, night=night, unmet=(*found.unmet, *unmet))


def _rested(outcome: Outcome, hours: float, members: int) -> Outcome | None:
    """The batch with a rest out of the salt; None where none fits, or where it would make the verdict severer."""
    batch = outcome.batch
    if hours == 0.0:
        return outcome
    if batch.brine is None or batch.rest is not None or batch.freshen or batch.heat is None:
        return None
    other = plan(replace(batch, rest=Rest(time=hours * HOUR, temperature=REST_AT)), members)
    other = _judged_at(other, outcome.carried_at)
    return None if _severer(outcome, other) else other


def _end(work: tuple[Task, ...]) -> float:
    return max(task.at + task.lasts for task in work)


def _start(work: tuple[Task, ...], wish: Wish, now: datetime) -> tuple[datetime, tuple[Task, ...], bool]:
    """A start, the work at night it means, and whether it ends too late."""
    soonest = _quarter(now)
    late = False
    if wish.done_by is not None:
        last = _quarter(wish.done_by - timedelta(seconds=_end(work))) - timedelta(seconds=STEP)
        late = last < soonest
        starts = _starts(last, -STEP, soonest)
    if wish.done_by is None or late:
        starts = _starts(soonest, STEP, soonest + timedelta(seconds=AHEAD))
    if late:  # the soonest that leaves the night free; where there is none, as soon as may be is the least late
        starts = [start for start in starts if not at_night(work, start, wish.no_work)][:1] or [soonest]
    found = min(starts, key=lambda start: len(at_night(work, start, wish.no_work)))
    return found, at_night(work, found, wish.no_work), late


def _quarter(moment: datetime) -> datetime:
    """The next quarter of an hour."""
    seconds = (moment - moment.replace(hour=0, minute=0, second=0, microsecond=0)).total_seconds()
    midnight = moment.replace(hour=0, minute=0, second=0, microsecond=0)
    return midnight + timedelta(seconds=STEP * math.ceil(seconds / STEP))


def _starts(first: datetime, step: float, last: datetime) -> list[datetime]:
    count = 1 + int(min(abs((last - first).total_seconds()), AHEAD) / abs(step))
    return [first + timedelta(seconds=step * number) for number in range(count)]
