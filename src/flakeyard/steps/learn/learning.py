"""Learn from the scale: the plan of a batch and its log make a new forecast, and say what was learned and what was not.

``learn`` compares the plan's members with the log (`evidence`) and moves their hours to where it puts them (`fitting`).
What the fish is made of, and so the weight to stop at, is moved by readings of the fish alone. It warns instead of
fitting when no plan can explain the log. A forecast from weighings can make a verdict severer, never milder, and the
official clock counts every pause.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from flakeyard.messages import say
from flakeyard.models.warm_clock import WarmCounts
from flakeyard.steps.chain.drying import Drying
from flakeyard.steps.intent.batch_file import load_batch
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import MEMBERS, UNKNOWN, Band, band
from flakeyard.steps.judge import safety, warm_hours
from flakeyard.steps.judge.shown import LOG
from flakeyard.steps.judge.warm_hours import NONE_YET
from flakeyard.steps.learn import contradiction, dryer_profile, lessons
from flakeyard.steps.learn.clocks import seen_done, still_wet, warm_counts
from flakeyard.steps.learn.evidence import (
    METER_ERROR,
    SCALE,
    STEP_SD,
    Rows,
    Scale,
    believed,
    load_as_laid,
    middle_finish,
    readings_of,
    rows_of,
    set_strange_aside,
)
from flakeyard.steps.learn.fitting import Fit, fit, made_of
from flakeyard.steps.learn.log_course import against_plan
from flakeyard.steps.learn.logbook import THICKEST, Entry, Log, read_log
from flakeyard.steps.learn.members import Course, Members, Schedule, at_times, follow, schedule
from flakeyard.steps.plan import deadlines
from flakeyard.steps.plan import plan as batches
from flakeyard.steps.plan.judging import facts_of, judge, keeping_of
from flakeyard.units import InputError

MOMENTS = 241  # on the clock at which deadlines are looked for
SOONEST = 0.5  # h from the last weighing to the next
NO_LONGER = ("drying.target_mass_kg", "drying.mass_ratio", "dried", "marked", "verdict")  # not known after another soak


@dataclass(frozen=True)
class Learned:
    """A new forecast. Bands are 10th, 50th, 90th percentile; hours are on the clock since drying began.

    ``outcome`` is the plan anew, with everything the log taught; ``plan`` the one before. ``trays`` holds the pace of
    each tray about the dryer's (1.1: a tenth faster). ``contradiction`` says why nothing was learned, or is None.
    """

    outcome: batches.Outcome
    plan: batches.Outcome
    log: Log
    hours_to_target: Band
    target_mass_kg: Band
    target_tray_kg: dict[str, Band]
    learned: tuple[str, ...]
    next_weighing_h: float | None
    contradiction: str | None
    set_aside: tuple[Entry, ...]
    trays: dict[str, Band]
    pace: Band
    hours: np.ndarray = field(repr=False)
    members: Members = field(repr=False)
    course: Course | None = field(repr=False, default=None)
    changed: tuple[float, float] | None = None  # a change of pace: after over before, and since when [h]

    def as_dict(self) -> dict:
        """The plan's dictionary with the new forecast in it and beside it, ready for JSON."""
        return self.outcome.as_dict() | {
            "hours_to_target": self.hours_to_target.as_dict(),
            "target_mass_kg": self.target_mass_kg.as_dict(),
            "target_tray_kg": {tray: mass.as_dict() for tray, mass in self.target_tray_kg.items()},
            "learned": list(self.learned),
            "next_weighing_h": self.next_weighing_h,
            "contradiction": self.contradiction,
            "log_notes": list(self.log.remarks),
            "set_aside": [
                say("log.weighing", line=entry.line, tray=entry.tray, grams=1000 * entry.kg) for entry in self.set_aside
            ],
        }

    def profile(self, title: str = "", before: dryer_profile.DryerProfile | None = None):
        """What carries over to the next batch; ``before`` is the profile this batch was learned with.

        A log that contradicts its plan teaches nothing: then the profile stays as it was.
        """
        if self.contradiction and before:
            return before
        names = tuple(name for name in dryer_profile.KEPT if name in self.members.asked)
        placed = dict(zip(names, self.members.placed(names).T, strict=True))
        batches = (
            *(before.batches if before else ()),
            *(() if self.contradiction else (batch_name(self.plan.batch, self.log),)),
        )
        return dryer_profile.carried(title or say("profile.mine"), placed, batches, before)


def learn(
    batch: Batch, log: Log, members: int = MEMBERS, profile: dryer_profile.DryerProfile | None = None,
    scale: Scale = SCALE, prior: Course | None = None,
    sketch: bool = False,
) -> Learned:  # fmt: skip
    """Learn from a log.

    Parameters: batch, log – as read; members – size of the ensemble; profile – of this dryer, from batches before;
    scale – one standard deviation of the kitchen scale, kg (None: by the step it shows) and share of the mass; prior – of ``prior_course`` for the
    same batch, profile and dial, to save its time; sketch – coarser and shorter, for a picture that follows a hand
    """
    if profile and batch_name(batch, log) in profile.batches:
        raise InputError(
            "profile", profile.title, say("profile.this_batch"),
            say("profile.batches_before"), say("profile.kept_before"),
        )  # fmt: skip
    batch = _as_told(batch, log)
    happened = schedule(log, batch.dryer.temperature)
    prior = prior or follow(batch, happened, _draws(members, profile), sketch)
    log = _looked_at(log, prior, batch.dryer.trays)
    weighed = believed(rows_of(log, happened, scale, batch.dryer.turning), prior)
    rows, strange = set_strange_aside(weighed, prior)
    against = contradiction.found(rows, prior, log, batch.dryer.trays)
    if against:
        return _refused(prior, log, happened, strange, against)
    fitted = fit(rows, prior)
    if against := contradiction.broken(fitted, log):
        return _refused(prior, log, happened, strange, against)
    readings = readings_of(log, happened, prior, fitted.carried.paced(fitted.pace), batch.dryer.trays, scale)
    if readings:
        fitted = fit(rows, follow(batch, happened, made_of(prior, readings), sketch))
    return _forecast(batch, log, happened, prior, fitted, strange)


def _looked_at(log: Log, prior: Course, trays: int) -> Log:
    """The log with a remark where what was weighed as laid is far from what the plan lays on a tray."""
    told = against_plan(log.weighings, float(np.exp(np.log(prior.mass).mean())), trays, log.column)
    return replace(log, remarks=tuple(dict.fromkeys([*log.remarks, told]))) if told else log


def prior_course(batch: Batch, log: Log, members: int = MEMBERS, profile=None, sketch: bool = False) -> Course:
    """The plan followed through what happened to the dryer, before any weighing: the same for every update of a log."""
    batch = _as_told(batch, log)
    return follow(batch, schedule(log, batch.dryer.temperature), _draws(members, profile), sketch)


def forecasts(
    batch: Batch, log: Log, members: int = MEMBERS, profile=None, scale=SCALE, sketch: bool = False
) -> list[tuple[float, Learned]]:
    """What would have been forecast before any weighing, and after each: (hours of the weighing, Learned).

    Returns: hours of the weighing [h, 0 up] and what was learned by then
    Source: the log given
    """
    made, prior, before = [], None, None
    for hours in (0.0, *log.moments):
        so_far = log.until(hours)
        told = (_as_told(batch, so_far), schedule(so_far, batch.dryer.temperature))
        if told != before:  # the same plan serves until the dial is turned, the fish soaked, the room read
            prior, before = prior_course(batch, so_far, members, profile, sketch), told
        made.append((hours, learn(batch, so_far, members, profile, scale, prior, sketch)))
    return made


def pool(groups: Iterable[tuple[Batch, Log]], title: str = "", members: int = MEMBERS, shared: bool = False):
    """A class learns together: one profile of all groups' batches (logs that contradict their plan are left out).

    ``shared``: all of them were dried in one dryer; else each group is taken to have one of its own
    """
    learned = [learn(batch, log, members) for batch, log in groups]
    title = title or say("profile.ours")
    used = [one.profile(title) for one in learned if one.contradiction is None]
    if not used:
        raise ValueError(say("profile.none_agrees"))
    return dryer_profile.pooled(used, title, shared)


def learn_files(batch_file, log_file, **options) -> Learned:
    """``learn`` from a batch file and a log file."""
    return learn(load_batch(batch_file), read_log(log_file), **options)


def scale_of(step: float | None) -> Scale:
    """The error of a scale from the step it is said to have [kg]; None: by what it shows."""
    return (None if step is None else STEP_SD * step, SCALE[1])


def batch_name(batch: Batch, log: Log) -> str:
    """A batch's name in a profile: its title and when its drying began, where no date tells that its first weighing.

    It is the same in every language: a batch is known again by it.
    """
    first = f"{1000 * log.weighings[0].kg:.1f} g" if log.weighings else "not weighed"
    clock = () if log.began is None else (log.stamp(0.0),)
    return ", ".join([batch.title, *clock, *(() if log.dated else (first,))])


def _draws(members: int, profile) -> Members:
    if profile is None:
        return Members(members)
    return Members(members, known_names=profile.names, known=(profile.middle, profile.triangle))


def _as_told(batch: Batch, log: Log) -> Batch:
    """The batch with the room as it was read, and with a meter's word on the thickest piece when nothing came after."""
    for name, reading in (("temperature", "room"), ("relative_humidity", "room_humidity")):
        read = [entry.readings[reading] for entry in log.entries if reading in entry.readings]
        if read:
            batch = replace(batch, room=replace(batch.room, **{name: float(np.mean(read))}))
    metered = [entry for entry in log.entries if "water_activity" in entry.readings]
    if (
        metered
        and metered[-1].tray == THICKEST
        and not any(soak.hours > metered[-1].hours for soak in log.events("freshened"))
    ):
        last = metered[-1].readings
        error = last.get("water_activity_error", METER_ERROR)
        keep = replace(batch.keep, measured_water_activity=last["water_activity"], measured_error=error)
        batch = replace(batch, keep=keep)
    return batch


def _forecast(batch, log, happened: Schedule, prior: Course, fitted: Fit, strange) -> Learned:
    course, rows, pace = fitted.carried, fitted.lags.rows, fitted.pace
    hours, done = _hours(log, happened, fitted, strange)
    trays = _tray_masses(rows, course, pace)
    whole = _whole_mass(batch, log, course, trays, course.finish[-1])
    load = _load_as_it_went(course, happened, pace, hours, whole)
    outcome = _anew(
        course.outcome, prior.outcome, load, soaked=bool(happened.gains), happened=(course, happened, pace), done=done
    )
    known = outcome.drying
    spread = {
        tray: Band(*(float(np.exp(middle + step * wide)) for step in (-1.2816, 0.0, 1.2816)))
        for tray, (middle, wide) in fitted.trays().items()
    }
    learned = Learned(
        outcome=outcome, plan=prior.outcome, log=log, hours_to_target=known["hours_to_target"], target_mass_kg=known["target_mass_kg"],
        target_tray_kg={} if happened.gains else {tray: band(mass) for tray, mass in trays.items()},
        learned=(), next_weighing_h=None if done is not None else _next_weighing(log, happened, fitted, hours[-1]), contradiction=None,
        set_aside=strange, trays=spread, pace=band(_slower(prior, fitted)), hours=hours[-1], members=fitted.moved(),
        course=course.paced(pace), changed=_changed(fitted, happened),
    )  # fmt: skip
    return replace(learned, learned=lessons.sentences(learned, prior, course, rows, happened))


def _changed(fitted: Fit, happened: Schedule) -> tuple[float, float] | None:
    step = fitted.step
    return None if step is None else (float(np.exp(step.ln_pace)), float(happened.clock(step.since)))


def _hours(log: Log, happened: Schedule, fitted: Fit, strange) -> tuple[np.ndarray, float | None]:
    """Hours on the clock until each class of pieces is done (classes, members), inf beyond what a forecast looks at; and
    the hour at which the marked piece was seen done. Until it is seen so, it is not done."""
    course = fitted.carried
    ratio, last = course.outcome.load.mass_ratio, course.times[-1] / 3600
    drying = course.finish / fitted.pace
    drying[-1] = np.exp(fitted.ln_hours)
    drying = np.maximum(drying, course.soaked / 3600)
    hours = happened.clock(np.where(drying > last, np.inf, drying))
    done = seen_done(log, ratio, strange)
    if done is not None:
        hours = np.minimum(hours, np.maximum(hours[-1], done))
    hours[-1] = np.maximum(hours[-1], still_wet(log, ratio, strange))
    return hours, done


def _load_as_it_went(course: Course, happened: Schedule, pace, hours, whole) -> Drying:
    """The load with the hours of the log: when its pieces are done, and what its clocks show by then."""
    ended = warm_counts(course, happened, pace, hours[-1][:, None])
    ended = WarmCounts(*(count[:, 0] for count in ended))
    return replace(
        course.outcome.load, hours=hours[-1], hours_by_class=hours, target_mass=whole, growth_hours=ended.h, taken_off=ended,
        warm_hours=course.warm / np.minimum(pace, 1.0) + happened.warm_pause,
    )  # fmt: skip


def _slower(prior: Course, fitted: Fit) -> np.ndarray:
    """Drying hours over those of the middle of the plan."""
    return np.exp(fitted.ln_hours) / middle_finish(prior)


def _tray_masses(rows: Rows, course: Course, pace) -> dict[str, np.ndarray]:
    """What each tray weighs when the thickest piece is done [kg], from its weight as laid; the marked piece by itself."""
    found, paced = {}, course.paced(pace)
    for tray in dict.fromkeys(entry.tray for entry in rows.entries):
        newest = max(rows.first[i] for i, entry in enumerate(rows.entries) if entry.tray == tray)
        curve = paced.pieces[-1] if tray == THICKEST else paced.load
        laid = np.exp(rows.ln_mass[newest]) / at_times(course.times, curve, 3600 * rows.hours[[newest]])[:, 0]
        found[tray] = laid * (
            course.outcome.load.mass_ratio if tray == THICKEST else _at_finish(course, course.finish[-1])
        )
    return found


def _at_finish(course: Course, finish) -> np.ndarray:
    moments = 3600 * np.minimum(finish, course.times[-1] / 3600)
    return np.array(
        [np.interp(moment, course.times, curve) for moment, curve in zip(moments, course.load, strict=True)]
    )


def _whole_mass(batch: Batch, log: Log, course: Course, trays: dict, finish) -> np.ndarray:
    """Mass of all that is in the dryer when the thickest piece is done; nan where it is never done."""
    single = [mass for tray, mass in trays.items() if tray not in (THICKEST, "all")]
    if "all" in trays:
        mass = trays["all"]
    elif len(single) == batch.dryer.trays:
        mass = np.sum(single, axis=0)
    else:
        laid = load_as_laid(log, batch.dryer.trays)
        mass = (course.mass if laid is None else laid) * _at_finish(course, finish)
    return np.where(np.isfinite(finish), mass, np.nan)


def _anew(
    after: batches.Outcome, before: batches.Outcome, load, soaked: bool = False, refused: bool = False,
    happened: tuple[Course, Schedule, np.ndarray] | None = None, done: float | None = None,
) -> batches.Outcome:  # fmt: skip
    """The plan anew: its hours and masses as forecast, its verdict never milder than before, but for a clock that was
    seen to stop in time."""
    bands = {
        "hours_to_target": band(load.hours), "hours_flesh_10_to_57_c": band(load.growth_hours),
        "hours_flesh_above_21_c": band(load.warm_hours), "target_mass_kg": band(load.target_mass) if load.reached else UNKNOWN,
    }  # fmt: skip
    if refused:
        bands = dict.fromkeys(("hours_to_target", "hours_flesh_10_to_57_c", "hours_flesh_above_21_c"), UNKNOWN)
    if soaked:
        bands |= dict.fromkeys(("target_mass_kg", "mass_ratio"), UNKNOWN)
    dried, marked = (dict.fromkeys(part, UNKNOWN) if soaked else part for part in (after.dried, after.marked))
    verdict = _verdict(after, before, load, soaked or refused, done)
    if happened and not soaked and not refused:
        verdict = replace(verdict, by=_deadlines(after.batch, load, *happened, facts_of(after.batch, after.laid, load)))
    keep = keeping_of(after.batch, after.laid, load, verdict)
    days = [one.days for one in (keep, before.keep) if one.days is not None]
    keep = replace(keep, days=min(days) if len(days) == 2 else None)
    drying = after.drying | bands
    paths = [
        f"{name}.{key}"
        for name, part in (("drying", drying), ("dried", dried), ("marked", marked))
        for key, value in part.items()
        if not value.known
    ]
    unknown = tuple(
        dict.fromkeys(
            [
                *paths,
                *(path for path in after.unknown if not path.startswith(("drying.", "dried.", "marked."))),
                *verdict.unknown,
            ]
        )
    )
    shares = {name: UNKNOWN for name in after.hours_by_share} if refused else batches.hours_by_share_of(load)
    return replace(
        after,
        drying=drying,
        dried=dried,
        marked=marked,
        verdict=verdict,
        keep=keep,
        unknown=unknown,
        hours_by_share=shares,
        load=load,
    )


def _verdict(after: batches.Outcome, before: batches.Outcome, load, lost: bool, done: float | None) -> safety.Verdict:
    """Judged anew from the newest hours; then the severer of that and of the plan's; "not known" at least when the log
    cannot be followed. Once the marked piece was seen done, the plan's guess of warm hours counts no more."""
    judged = judge(after.batch, after.laid, load, LOG)
    told = before.facts if done is None else replace(before.facts, warm=NONE_YET)
    floor = ("not_known", "not_known") if lost else (safety.KEEP[0], safety.EAT[0])
    lowest = safety.judge(told, LOG, floor)
    verdict = safety.judge(judged.facts, LOG, (lowest.keep, lowest.eat))
    reasons = verdict.reasons
    if (judged.verdict.keep, judged.verdict.eat) != (verdict.keep, verdict.eat):
        said = {reason.rule for reason in reasons}
        reasons += tuple(reason for reason in lowest.reasons if reason.rule not in said)
        reasons += (safety.Reason("R2", say("log.lost"), "judgement", *floor),) if lost else ()
        reasons = safety.deciding_first(reasons, verdict.keep, verdict.eat)
    unknown = tuple(dict.fromkeys([*verdict.unknown, *lowest.unknown]))
    return replace(verdict, reasons=reasons, unknown=unknown, by=() if lost else judged.verdict.by)


def _deadlines(batch: Batch, load, course: Course, happened: Schedule, pace, facts) -> tuple[safety.Deadline, ...]:
    """By when the piece must be done, from the hours that passed and those that are forecast."""
    clock = np.linspace(0.0, course.times[-1] / 3600 + happened.warm_pause, MOMENTS)
    counts = warm_counts(course, happened, pace, np.broadcast_to(clock, (len(pace), MOMENTS)))
    return deadlines.of_a_course(batch, clock, warm_hours.upper_course(counts), load.hours, facts)


def _refused(prior: Course, log: Log, happened: Schedule, strange, against: str) -> Learned:
    """The plan, with no forecast in it: what happened is not what was planned, so neither hours nor clock are known. Its
    warm hours are drawn out to the last weighing, or to the one that saw the marked piece done, and never cut short."""
    load = prior.outcome.load
    planned, done = load.hours, seen_done(log, load.mass_ratio, strange)
    passed = happened.drying(log.last if done is None else done)
    pace = np.where(passed > planned, np.maximum(planned, 1e-3) / np.maximum(passed, 1e-3), 1.0)
    ended = warm_counts(prior, happened, pace, happened.clock(planned / pace)[:, None])
    ended = WarmCounts(*(np.maximum(*both) for both in zip((c[:, 0] for c in ended), load.taken_off, strict=True)))
    load = replace(load, taken_off=ended, growth_hours=ended.h, warm_hours=prior.warm / pace + happened.warm_pause)
    outcome = _anew(prior.outcome, prior.outcome, load, bool(happened.gains), refused=True)
    return Learned(
        outcome=outcome, plan=prior.outcome, log=log, hours_to_target=UNKNOWN, target_mass_kg=outcome.drying["target_mass_kg"], target_tray_kg={},
        learned=(say("log.nothing_learned"),), next_weighing_h=round(log.last + SOONEST, 1), contradiction=against, set_aside=strange,
        trays={}, pace=UNKNOWN, hours=np.full_like(load.hours, np.nan), members=prior.members, course=prior,
    )  # fmt: skip


def _next_weighing(log: Log, happened: Schedule, fitted: Fit, hours) -> float | None:
    """When a weighing would narrow the forecast most, before the first pieces could be done [h since the start]."""
    known = hours[np.isfinite(hours)]
    if not len(known):
        return round(log.last + 2.0, 1)
    begin, end = log.last + SOONEST, float(np.quantile(known, 0.1))
    if end <= begin:
        return round(begin, 1) if float(np.median(known)) > log.last else None
    moments = np.linspace(begin, end, 9)
    left = [fitted.sureness_after(float(happened.drying(moment))) for moment in moments]
    return round(float(moments[int(np.argmin(left))]), 1)
