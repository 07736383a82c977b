"""A log as the text to work by: when it is done by the clock, when to weigh next, at what weight to stop, what changed.

The verdict is said anew only where it is no longer the plan's, or refuses the batch. What comes after the stop weight
follows as in the plan. What the plan's text has said already, of steps that are over or of who should not eat the fish,
is left to it; every weighing, number and caution stands in `report.log_report`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime, timedelta

from flakeyard.messages import number, say
from flakeyard.steps.judge.safety import Reason
from flakeyard.steps.learn.clocks import seen_done
from flakeyard.steps.learn.log_trays import THICKEST
from flakeyard.units import show
from flakeyard.workbook import near_limit, words
from flakeyard.workbook.paper import kitchen
from flakeyard.workbook.paper.kitchen import Placed, items, laid_out
from flakeyard.workbook.paper.report import example, log_deadlines

FIVE = 5  # min: a clock is told to five minutes
MEASURED = ("oven_dry", "water_activity")  # readings that tell what the fish is made of
BEFORE = ("before", "salt", "freshen", "heat")  # what is over when the trays are in
PEOPLE = ("H3", "H4", "E2")  # of who should eat it and whom to ask, what no weighing changes


def log_text(learned, units: str = "both") -> str:
    """The new forecast from weighings as text for the kitchen; ``units`` is metric, us or both."""
    outcome = learned.outcome
    refused = words.refused(outcome.verdict)
    placed = Placed(outcome, (*(words.blocking(outcome.verdict) if refused else ()), *left_to_plan(learned)))
    placed.take("head")
    parts = [
        kitchen.title(outcome),
        say("log.contradicts", why=learned.contradiction) if learned.contradiction else "",
        "\n".join([*_when(learned), *_stop(learned, units)]),
        "\n".join([*_verdict(learned), *log_deadlines(learned)]),
        *_after(learned, placed, refused),
        items(say("log.taught"), _taught(learned)),
        items(say("log.remarks"), learned.log.remarks),
        kitchen.who(outcome, placed, units),
    ]
    return f"{laid_out(parts, units)}\n{laid_out([say('log.more')], units)}"


def _after(learned, placed: Placed, refused: bool) -> Iterator[str]:
    """What is still to do, with its cautions, and what to watch; of fish that is refused, what else speaks against it."""
    now = placed.take("lay", "stop")
    steps = [] if refused else [" ".join(step) for step in kitchen.to_the_end(learned.outcome, placed)]
    if steps:
        yield items(say("log.then"), [*now, *steps])
    rest = placed.take(*(place for place in placed.places if place not in ("who", *BEFORE)))
    told = [] if steps else now
    yield items(say("kitchen.watch"), [*told, *rest, *placed.take(*BEFORE), *_noted(learned)])


def left_to_plan(learned) -> tuple[Reason, ...]:
    """What the plan's text has said in the same words, of steps that are over or of people, and no weighing changes."""
    plan, now = learned.plan.verdict, learned.outcome.verdict
    said = {_bare(one) for one in (*plan.reasons, *plan.cautions)}
    return tuple(
        one
        for one in (*now.reasons, *now.cautions)
        if _bare(one) in said and (one.rule in PEOPLE or kitchen.place_of(one) in BEFORE)
    )


def _bare(one: Reason) -> str:
    return one.row.removesuffix(" log")


def _taught(learned) -> list[str]:
    """What weighing taught, without the next weighing, which stands above, and without what a scale cannot tell apart."""
    when = learned.next_weighing_h
    above = (
        ()
        if when is None
        else [say(name, when=learned.log.clock(when)) for name in ("log.weigh_piece", "log.weigh_trays")]
    )
    return [line for line in learned.learned if say("log.mixture") not in line and line not in above]


def _noted(learned) -> list[str]:
    """What the plan did not remark yet."""
    before = kitchen.notes(learned.plan)
    return [note for note in kitchen.notes(learned.outcome) if note not in before]


# ---- when


def _when(learned) -> Iterator[str]:
    """When the thickest piece is done, and when to weigh next; nothing where there is nothing to dry."""
    if learned.outcome.load.no_drying:
        return
    log, hours = learned.log, learned.hours_to_target
    done = seen_done(log, stop_ratio(learned) or 0.0, learned.set_aside)
    if learned.contradiction or hours.mid is None:
        yield say("log.may_never")
    elif done is not None:
        yield say("log.done", when=moment(log, done))
        return
    else:
        yield " ".join([_forecast(learned), *_remarks(learned)])
    following = learned.next_weighing_h
    late = following is None or (hours.mid is not None and hours.mid <= log.last)
    yield say("log.now") if late else say("log.next", when=moment(log, following))


def _forecast(learned) -> str:
    log, hours = learned.log, learned.hours_to_target
    band = ""
    if None not in (hours.low, hours.high) and hours.low < hours.high:
        ends = {"low": clock(log, hours.low, math.floor), "high": clock(log, hours.high, math.ceil)}
        band = f" {say('log.band', **ends)}"
    return say("log.will_be", when=moment(log, hours.mid), band=band)


def _remarks(learned) -> Iterator[str]:
    """That the hour is past; what it is beside the plan; that it is counted to a heavier piece than the one to stop at."""
    hours, planned = learned.hours_to_target.mid, learned.plan.drying["hours_to_target"].mid
    if hours <= learned.log.last:
        yield say("log.past")
    if planned is not None and words.about_hours(hours) != words.about_hours(planned):
        told = (f"{words.about_hours(one)} h" for one in (hours, planned))
        yield say("log.instead", **dict(zip(("now", "planned"), told, strict=True)))
    counted = learned.outcome.drying["mass_ratio"].mid
    if counted is not None and words.stop_percent(counted) > words.stop_percent(stop_ratio(learned)):
        yield say(
            "log.not_before", counted=words.stop_percent(counted), percent=words.stop_percent(stop_ratio(learned))
        )


def moment(log, hours: float) -> str:
    """A moment in words: by the clock, with its day where that is known; else in hours since drying began."""
    if log.began is None:
        return say("log.after", hours=words.hours_words(hours))
    at = _clock(log, hours, round)
    if isinstance(at, datetime):
        return say("log.at_day", clock=f"{at:%H:%M}", day=words.day(at))
    return say("log.at", clock=clock(log, hours, round))


def clock(log, hours: float, rounded) -> str:
    """A time of day to five minutes; hours since drying began where the log has no clock."""
    if log.began is None:
        return words.hours_words(hours)
    at = _clock(log, hours, rounded)
    if isinstance(at, datetime):
        return f"{at:%H:%M}"
    return f"{at.seconds // 3600:02d}:{at.seconds // 60 % 60:02d}"


def _clock(log, hours: float, rounded):
    minutes = (log.began + timedelta(hours=hours) - _midnight(log)) / timedelta(minutes=1)
    return _midnight(log) + timedelta(minutes=FIVE * rounded(minutes / FIVE))


def _midnight(log):
    if isinstance(log.began, datetime):
        return log.began.replace(hour=0, minute=0, second=0, microsecond=0)
    return timedelta(0)


# ---- at what weight


def stop_ratio(learned) -> float | None:
    """The weight to stop at over the weight as laid: the lower of the plan's and the log's, unless what the fish is made
    of was measured; None where none can be given.

    A scale alone cannot tell a moister fish from a slower one, so weighing it makes no piece ready sooner.
    """
    planned, now = (one.drying["mass_ratio"].mid for one in (learned.plan, learned.outcome))
    if now is None or planned is None:
        return None
    read = {name for entry in learned.log.entries for name in entry.readings}
    return now if read & set(MEASURED) else min(planned, now)


def _stop(learned, units: str) -> Iterator[str]:
    ratio = stop_ratio(learned)
    if learned.outcome.load.no_drying:
        yield kitchen.nothing_to_dry(learned.outcome)
        return
    if ratio is None:
        yield say("log.no_stop")
        return
    percent = words.stop_percent(ratio)
    yield say("log.stop", percent=percent, example=_own_weight(learned, percent, units))
    trays = {tray: mass.mid for tray, mass in learned.target_tray_kg.items() if tray != THICKEST and mass.known}
    if trays:
        told = (f"{tray}:\N{NO-BREAK SPACE}{_grams(mass, units)}" for tray, mass in trays.items())
        yield say("log.trays", trays=", ".join(told))


def _own_weight(learned, percent: int, units: str) -> str:
    """The marked piece by its own weight as laid, where it was weighed; else a hundred grams."""
    own = [entry for entry in learned.log.weighings if entry.tray == THICKEST and entry not in learned.set_aside]
    if own and own[0].hours == 0.0:
        laid, left = own[0].mass, own[0].mass * percent / 100
        return say("log.own_weight", laid=_grams(laid, units), left=_grams(left, units, math.floor))
    return example(percent, units)


def _grams(mass: float, units: str, rounded=round) -> str:
    if units == "us":
        return f"{number(rounded(mass / 0.028349523125 * 100) / 100, 'g')} oz"
    return f"{rounded(1000 * mass + 1e-9)} g" if mass < 10 else show(mass, "mass", "metric", 3)


# ---- what changed


def _verdict(learned) -> Iterator[str]:
    """The verdict where it is no longer that of the plan, or refuses the batch."""
    now, before = learned.outcome, learned.plan
    same = (now.verdict.keep, now.verdict.eat, now.keep.days) == (
        before.verdict.keep,
        before.verdict.eat,
        before.keep.days,
    )
    if same and not words.refused(now.verdict):
        yield say("log.same")
        yield from _close(now)
        return
    yield say("log.verdict" if same else "log.changed")
    yield from kitchen.verdict_lines(now)
    yield from _close(now)
    if words.refused(now.verdict):
        yield from (f"- {reason.text}" for reason in words.blocking(now.verdict))


def _close(outcome) -> Iterator[str]:
    """That a verdict hangs on hours close to their limit, so that the next weighing may take it away."""
    near = near_limit.at_limit(outcome)
    if near:
        yield say("log.close", **near.told)
