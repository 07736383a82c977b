"""In plain sentences: what weighing taught, what it cannot tell apart, and what to change next time."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flakeyard.messages import number, say
from flakeyard.models.constants import FLESH_DENSITY
from flakeyard.models.salt_transport import DIFFUSIVITY_LN_SD as SALT_LN_SD
from flakeyard.models.salt_transport import THICKNESS_LN_SD
from flakeyard.steps.chain.drying import AIR_SPEED_LN_SD, DIFFUSIVITY_LN_SD
from flakeyard.steps.intent.records import Batch, Ingredient, Portion
from flakeyard.steps.intent.spread import Band, band
from flakeyard.steps.learn.logbook import THICKEST, Log
from flakeyard.steps.learn.members import Course, Members, follow, schedule
from flakeyard.tables import study_term
from flakeyard.units import INCH, fahrenheit, show

NARROWER = 0.85  # width left of a quantity below which something was learned of it
HOTTEST_TIP, WARMER = 75.0, 7.0  # °C: no tip goes beyond what the drying model was tested for
# Hours go with a power of the thickness: computed with the present model, 4–12 mm in a box set to 63 °C, both faces open,
# down to 45 %. Less than 2, for film and warming up go with the thickness; edges let a strip gain less from being thinner.
SLAB_POWER, EDGE_POWER = 1.49, 0.0042  # m; strips of 40, 25 and 15 mm: 1.40, 1.32, 1.17
FILM_POWER = 0.5  # the film goes with the root of the air speed: flat_plate
WORTH_IT = 0.1  # share of the hours a change must save to be worth a word on a wall (judgement)
ABOUT_AS_PLANNED = (0.95, 1.05)  # of the planned hours: nothing worth a word (judgement)
SPEEDS = (  # smallest ratio of the speeds, and what is said of it: speed.slower.… and speed.faster.… of the messages
    (0.95, "alike"), (0.85, "tenth"), (0.775, "fifth"), (0.71, "quarter"), (0.58, "third"), (0.45, "half"),
)  # fmt: skip


def sentences(learned, prior: Course, course: Course, rows, happened) -> tuple[str, ...]:
    """Everything worth telling, the most useful first."""
    if not len(rows.hours) or rows.hours.max() <= 0.0:
        told = [say("log.not_begun")]
    else:
        told = [how_long(learned.pace), _alike(learned)]
    told = (
        _changed(learned)
        + done(learned)
        + told
        + _as_laid(prior, course)
        + _trays(learned)
        + _other_readings(learned, prior, course)
    )
    told += _next(learned, rows)
    if rows.thickest.any():
        told.append(say("log.piece_weighed"))
    elif len(rows.hours):
        told.append(say("log.piece_not_weighed"))
    told += aside(learned)
    told += _happenings(happened)
    return tuple(line for line in told if line)


def _changed(learned) -> list[str]:
    """A change of pace that shows, as a question with its time."""
    if learned.changed is None:
        return []
    speed, since = learned.changed
    how = say(
        "log.slowed" if speed < 1 else "log.quickened",
        times=number(min(speed, 1 / speed) if speed < 1 else speed, ".1f"),
    )
    return [say("log.pace_changed", how=how, when=learned.log.clock(since))]


def _next(learned, rows) -> list[str]:
    """What to weigh next and when, in one sentence."""
    if learned.next_weighing_h is None:
        return []
    when = learned.log.clock(learned.next_weighing_h)
    laid = any(entry.tray == THICKEST and entry.hours == 0.0 for entry in rows.entries)
    return [say("log.weigh_piece" if laid else "log.weigh_trays", when=when)]


def how_long(pace: Band) -> str:
    """The hours of a load over those of the plan, in words."""
    if not pace.known:
        return say("log.no_end")
    low, mid, high = pace.ends
    if ABOUT_AS_PLANNED[0] <= mid <= ABOUT_AS_PLANNED[1]:
        return say("log.as_planned", low=low, high=high)
    return say("log.times_as_long", mid=mid, low=low, high=high)


def how_fast(speed: float) -> str:
    """A speed over the planned one in words."""
    part = min(speed, 1 / speed)
    share = next((name for least, name in SPEEDS if part >= least), "times")
    return say(f"speed.{'slower' if speed < 1 else 'faster'}.{share}", times=1 / part)


def factors(members: Members) -> dict[str, Band]:
    """Diffusivity, film, thickness and the pace of flesh and film together, as factors of their middle in the plan.

    Returns: by name, Bands [1, above 0]
    Source: the members given
    """
    asked = members.asked
    found = {}
    for name, scale, power in (
        ("drying diffusivity", DIFFUSIVITY_LN_SD, 1.0), ("air speed", AIR_SPEED_LN_SD, FILM_POWER), ("thickness", THICKNESS_LN_SD, 1.0),
        ("study drying hours", study_term("drying hours").sd, 1.0),
    ):  # fmt: skip
        if name in asked:
            found[name] = band(np.exp(scale * power * members.placed([name])[:, 0]))
    return found


def _alike(learned) -> str:
    """Which quantities the weighings cannot tell apart, as what each would have to be if it alone were the cause."""
    pace = learned.pace
    if not pace.known or ABOUT_AS_PLANNED[0] <= pace.mid <= ABOUT_AS_PLANNED[1]:
        return say("log.alike")
    thickness = 1000 * learned.outcome.batch.cut.thickness
    slow = pace.mid > 1
    alone = thickness * pace.mid ** (1 / thickness_power(learned.outcome.batch.cut.strip_width))
    told = say("log.alike_slower" if slow else "log.alike_faster", alone=alone, thickness=thickness)
    parts = ((say(f"factor.{name.replace(' ', '_')}"), one.ends) for name, one in factors(learned.members).items())
    mixture = (say("log.factor", what=what, low=low, middle=mid, high=high) for what, (low, mid, high) in parts)
    return f"{told} {say('log.mixture')} {', '.join(mixture)}."


def thickness_power(width: float) -> float:
    """The power of the thickness that hours go with, of strips so wide [m]; endless: a slab.

    Returns: float [1, 1–1.49]
    Source: models.slab_drying.dry, computed over 4–12 mm
    """
    return max(SLAB_POWER - EDGE_POWER / width, 1.0)


def _as_laid(prior: Course, course: Course) -> list[str]:
    before, after = (_water_as_laid(one) for one in (prior, course))
    if after.width > NARROWER * before.width:
        return []
    now, was = ([100 * share for share in one.ends] for one in (after, before))
    return [
        say("log.held_as_laid", now=now[1], least=now[0], most=now[2], was=was[1], was_least=was[0], was_most=was[2])
    ]


def _water_as_laid(course: Course) -> Band:
    flesh = course.outcome.cured.flesh
    return band(flesh.water[1] / flesh.mass[1])


def _trays(learned) -> list[str]:
    told = []
    for tray, pace in learned.trays.items():
        if tray != THICKEST and (pace.low > 1.02 or pace.high < 0.98):
            name = "log.tray_faster" if pace.mid > 1 else "log.tray_slower"
            told.append(say(name, tray=tray, percent=100 * abs(pace.mid - 1)))
    return told


def _other_readings(learned, prior: Course, course: Course) -> list[str]:
    told = []
    entries = learned.log.entries
    if any("taste_salt" in entry.readings for entry in entries):
        told.append(say("log.taste"))
    if any("strip_salt" in entry.readings for entry in entries):
        before, after = (band(one.outcome.cured.water_phase_salt) for one in (prior, course))
        low, mid, high = (100 * share for share in after.ends)
        told.append(
            say(
                "log.salt_moved",
                middle=mid,
                least=low,
                most=high,
                planned=100 * before.ends[1],
                how=how_fast(_salt_speed(course)),
            )
        )
    if any("water_activity" in entry.readings for entry in entries):
        told.append(say("log.meter_corrected"))
    if any("oven_dry" in entry.readings for entry in entries):
        told.append(say("log.oven_corrected"))
    return told + _stop_moved(learned)


def _stop_moved(learned) -> list[str]:
    """That the weight to stop at is another, where a reading of the fish itself moved it."""
    before, after = (one.drying["mass_ratio"].mid for one in (learned.plan, learned.outcome))
    if None in (before, after) or abs(after - before) < 0.002:
        return []
    return [say("log.stop_moved", after=number(100 * after, ".1f"), before=number(100 * before, ".1f"))]


def _salt_speed(course: Course) -> float:
    """Diffusivity of salt over the middle of the plan; 1 where no soak asked for it."""
    asked = "salt diffusivity" in course.members.asked
    return float(np.exp(SALT_LN_SD * np.median(course.members.placed(["salt diffusivity"])))) if asked else 1.0


def done(learned) -> list[str]:
    """Whether the marked piece has come down to the weight to stop at."""
    weighed = [entry for entry in learned.log.weighings if entry.tray == THICKEST and entry not in learned.set_aside]
    target = learned.target_tray_kg.get(THICKEST)
    if not weighed or target is None or not target.known or weighed[-1].mass > target.mid:
        return []
    weight, goal = (show(mass, "mass", "both", 3) for mass in (weighed[-1].mass, target.mid))
    return [say("log.dry_by_weight", weight=weight, goal=goal)]


def aside(learned) -> list[str]:
    """Which weighings were not believed, and what may have been mixed up.

    Returns: list of sentences [text, any]
    Source: as weighed
    """
    lines = [
        say("log.set_aside", line=entry.line, tray=entry.tray, grams=1000 * entry.mass) for entry in learned.set_aside
    ]
    return lines + _swapped(learned)


def _swapped(learned) -> list[str]:
    """Two weighings of one moment set aside together, of which each tray's would fit the other."""
    aside = [entry for entry in learned.log.weighings if entry in learned.set_aside]
    pairs = [(a, b) for i, a in enumerate(aside) for b in aside[i + 1 :] if a.hours == b.hours and a.tray != b.tray]
    return [say("log.swapped", one=a.tray, other=b.tray, moment=learned.log.clock(a.hours)) for a, b in pairs]


def _happenings(happened) -> list[str]:
    told = []
    if happened.pauses:
        hours = sum(end - begin for begin, end, _ in happened.pauses)
        told.append(say("log.pauses", hours=hours, warm=happened.warm_pause))
    if len(happened.dials) > 1:
        told.append(say("log.dial_turned"))
    if happened.gains:
        told.append(say("log.soaked_again"))
    return told


@dataclass(frozen=True)
class Change:
    """Something to do otherwise next time, and the hours it would have taken (10th, 50th, 90th percentile)."""

    what: str
    hours: Band
    saved: float  # share of the middle hours, negative when it takes longer


def changes(batch: Batch, learned) -> tuple[Change, ...]:
    """What to change next time, ranked by effect: each tried by itself on the batch as it was learned."""
    members = learned.members
    base = _hours(batch, members)
    tried = [Change(what, *_compare(changed, members, base)) for what, changed in _ideas(batch)]
    return tuple(sorted((change for change in tried if change.hours.mid is not None), key=lambda change: -change.saved))


def next_time(learned, faster: bool = True) -> list[str]:
    """What a group does otherwise with its next batch, in plain sentences; ``faster``: also what saves the most hours."""
    if learned.contradiction:
        return [say("class.look")]
    best = next(iter(changes(learned.outcome.batch, learned)), None) if faster else None
    if best is None or best.saved < WORTH_IT:
        return _trays(learned)
    what = best.what[0].upper() + best.what[1:]
    return [say("class.change", what=what, percent=5 * round(20 * best.saved)), *_trays(learned)]


def _ideas(batch: Batch):
    cut, dryer = batch.cut, batch.dryer
    thin = replace(batch, cut=cut.scaled(0.75))
    heap = batch.fish.raw_weight > FLESH_DENSITY * thin.cut.thickness * dryer.area
    what = say("change.thinner_less" if heap else "change.thinner", thickness=_both(thin.cut.thickness))
    yield what, _part(thin, 0.75) if heap else thin
    if cut.thickest is not None and cut.thickest > 1.1 * cut.thickness:
        even = 1.1 * cut.thickness
        yield say("change.evenly", thickest=_both(even)), _cut(batch, thickest=even)
    if dryer.faces == 1 and not cut.closed_face:
        yield say("change.mesh"), replace(batch, dryer=replace(dryer, faces=2))
    if cut.skin_on and not cut.whole:
        yield say("change.skin"), _cut(batch, skin="off")
    yield say("change.half"), _part(batch, 0.5)
    if dryer.temperature <= HOTTEST_TIP - WARMER:
        warmer = dryer.temperature + WARMER
        yield (
            say("change.warmer", warmer=warmer, us=fahrenheit(warmer)),
            replace(batch, dryer=replace(dryer, temperature=warmer)),
        )


def _both(length: float) -> str:
    return say("change.length", metric=1000 * length, us=length / INCH)


def _cut(batch: Batch, **sizes) -> Batch:
    return replace(batch, cut=replace(batch.cut, **sizes))


def _part(batch: Batch, share: float) -> Batch:
    """A part of the fish; under dry salt also of the salt, so that only the load changes."""
    part = replace(batch, fish=replace(batch.fish, raw_weight=share * batch.fish.raw_weight))
    if batch.heat and batch.heat.weight_after is not None:
        part = replace(part, heat=replace(batch.heat, weight_after=share * batch.heat.weight_after))
    if batch.brine and batch.brine.dry:
        rows = tuple(_part_of(row, share) for row in batch.brine.ingredients)
        part = replace(part, brine=replace(batch.brine, ingredients=rows))
    return part


def _part_of(row: Ingredient, share: float) -> Ingredient:
    told = {name: share * value for name, value in vars(row.amount).items() if value is not None}
    return replace(row, amount=Portion(**told))


def _hours(batch: Batch, members: Members) -> Band:
    course = follow(batch, schedule(Log(()), batch.dryer.temperature), members, sketch=True)
    return band(course.finish[-1])


def _compare(batch: Batch, members: Members, base: Band) -> tuple[Band, float]:
    hours = _hours(batch, members)
    saved = 1 - hours.mid / base.mid if hours.mid is not None and base.mid else 0.0
    return hours, saved
