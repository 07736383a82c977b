"""What learning needs, as plain numbers: for a page that learns without Python by the same update as `fitting`.

The members travel as curves: ln of the weight left of the marked piece and of a tray, at a few settings of the dial. They
are so nearly alike that a mean and a few shapes hold them all. Beside them stand every constant of the errors, read from
where it stands, and the verdict as steps (`thresholds`): the page has arithmetic and no number or rule of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flakeyard.models.constants import HOUR
from flakeyard.steps.chain import airing
from flakeyard.steps.chain.drying import TESTED
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import MEMBERS, UPPER_END, places_of_a_lognormal
from flakeyard.steps.judge import thresholds
from flakeyard.steps.judge.safety import EAT, KEEP, Case
from flakeyard.steps.judge.shown import LOG
from flakeyard.steps.judge.warm_hours import COUNTS, NONE_YET
from flakeyard.steps.learn import contradiction, evidence, fitting, jumps, learning, log_course, unnoted
from flakeyard.steps.learn.log_cells import COLUMNS
from flakeyard.steps.learn.members import SAME_DIAL, Course, Members, Schedule, follow
from flakeyard.steps.plan import deadlines, judging
from flakeyard.steps.plan.plan import Outcome

TURNED = (-10.0, -5.0, 0.0, 5.0, 10.0)  # K that a dial may be turned, within what drying was tested for (judgement)
SHAPES = 16  # of curves; with twelve ln of a weight is up to 0.016 off, with these 0.007 (computed, the demo batches)
MOST_FREE = 120  # weighings beyond which no log of a kitchen goes
KEPT = np.concatenate([np.arange(0, 12, 0.25), np.arange(12, 24, 0.5), np.arange(24, 48, 1), np.arange(48, 97, 2)])  # h
LATER = 6.0  # h between moments after those, in air that changes
FEW = 5.0  # members that agree with a log, below which the laptop is asked for (judgement)
STEP16 = 32767
DRAWS = 4  # times as many as members: of these the page reads the one that errs to the safe side (judgement)
ERRORS = {
    "scale_share": evidence.SCALE[1], "step_sd": evidence.STEP_SD, "drift": evidence.DRIFT, "drifting": evidence.DRIFTING, "drift_lasts": evidence.DRIFT_LASTS, "other": evidence.OTHER_PIECE, "straightened": evidence.STRAIGHTENED,
    "shown_left": evidence.SHOWN_LEFT, "wet": evidence.WET,
    "clock": evidence.CLOCK, "tray": evidence.TRAY_LN_SD, "marked": evidence.MARKED_LN_SD,
    "tempo_reach": evidence.TEMPO_REACH, "walk": evidence.WALK_LN_SD, "end": evidence.END_LN_SD, "end_power": evidence.END_POWER,
    "any_mass": evidence.ANY_MASS, "handling": evidence.HANDLING_LN_SD,
    "strange": evidence.STRANGE, "strange_share": evidence.STRANGE_SHARE, "flattest": evidence.FLATTEST,
    "farthest": evidence.FARTHEST, "soonest": evidence.SOONEST, "rounds": fitting.ROUNDS, "least": fitting.LEAST, "settled": fitting.SETTLED, "slowing": fitting.SLOWING,
    "step_clear": unnoted.CLEAR, "step_rarer": unnoted.RARER, "step_drift": unnoted.DRIFT_LN_SD, "step_noted": unnoted.NOTED,
    "step_paused": unnoted.PAUSED,
    "of_late": unnoted.OF_LATE, "step": fitting.STEP_LN_SD, "too_clear": contradiction.TOO_CLEAR,
    "too_far": contradiction.TOO_FAR, "too_many_times": contradiction.TOO_MANY_TIMES, "same_weight": contradiction.SAME_WEIGHT,
    "too_heavy": contradiction.TOO_HEAVY, "jump": jumps.JUMP, "next": learning.SOONEST, "moments": learning.MOMENTS,
    "steps": log_course.STEPS, "betrayed": log_course.BETRAYED, "gain": log_course.GAIN, "gain_kg": log_course.GAIN_GRAMS,
    "least_left": log_course.LEAST_LEFT, "same_dial": SAME_DIAL, "few": FEW, "upper": UPPER_END,
}  # fmt: skip


@dataclass(frozen=True)
class Exported:
    """An ensemble to travel: the plan it belongs to, and its numbers; arrays stand as they are."""

    outcome: Outcome
    numbers: dict


def exported(batch: Batch, members: int = MEMBERS) -> Exported:
    """Everything a page needs to learn from the weighings of a batch; the members are those that `learning.learn` takes.

    Returns: numbers by name [h, kg/kg, ln, °C]
    Source: steps.learn.members.follow; steps.judge.thresholds
    """
    home = batch.dryer.temperature
    dials = [home] if airing.changes(batch) else _dials(home)
    courses = [follow(batch, Schedule((), ((0.0, dial),), ()), Members(members)) for dial in dials]
    here = courses[dials.index(home)]
    outcome = here.outcome
    hours, shapes, places = _curves(courses)
    ln_mass = np.log(here.mass)
    numbers = {
        "members": members, "dials": dials, "home": dials.index(home), "hours": hours, "rank": len(shapes) - 1, "shapes": shapes, "numbers": places,
        "done_at": outcome.load.done_at, "ratio": outcome.load.mass_ratio, "trays": batch.dryer.trays, "turning": list(batch.dryer.turning) if batch.dryer.turning[1] > 1 else None,
        "ln_mass": [ln_mass.mean(), ln_mass.std()], "clocks": [_clocks(course) for course in courses],
        "normals": np.log(places_of_a_lognormal(1.0, DRAWS * members)), "errors": ERRORS | {"tempo": evidence.tempo_of(batch)}, "unbelievable": np.array([contradiction.unbelievable(free) for free in range(1, MOST_FREE + 1)]),
        "dial_ends": [COLUMNS["dial_c"].low, COLUMNS["dial_c"].high], "judged": _judged(batch, courses, here),
    }  # fmt: skip
    return Exported(outcome, numbers)


def _dials(home: float) -> list[float]:
    """The dial of the plan, and how far it may be turned either way; air that changes has no dial to turn."""
    low, high = TESTED["temperature"][:2]
    return sorted({min(max(home + turn, min(low, home)), max(high, home)) for turn in TURNED})


def _curves(courses: list[Course]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Hours; mean and shapes of ln of the weight left (1 + shapes, 2 × hours: marked piece, tray); the members' numbers
    (dials, shapes, members) in whole steps."""
    at = courses[0].times / HOUR
    wanted = [*KEPT, *np.arange(KEPT[-1], at[-1] + LATER, LATER)]
    kept = np.unique([int(np.abs(at - hour).argmin()) for hour in wanted])
    whole = [np.log(np.hstack([course.pieces[-1][:, kept], course.load[:, kept]])) for course in courses]
    curves = np.concatenate(whole)
    mean = curves.mean(axis=0)
    left, size, right = np.linalg.svd(curves - mean, full_matrices=False)
    found = left[:, :SHAPES] * size[:SHAPES]
    step = np.maximum(np.abs(found).max(axis=0), 1e-9) / STEP16
    places = np.round(found / step).astype("<i2").reshape(len(courses), -1, found.shape[1])
    shapes = np.vstack([mean, right[:SHAPES] * step[:, None]]).astype("<f4")
    return at[kept], shapes, np.ascontiguousarray(places.transpose(0, 2, 1))


def _clocks(course: Course) -> dict[str, np.ndarray]:
    """The clocks of the members (members,): a count runs from an hour on until it has its most, and then stands."""
    hours = course.times / HOUR
    told = {"dry": course.dry_hours, "warm": course.warm}
    for name, count in zip(COUNTS, course.counts, strict=True):
        rises = np.diff(count, axis=1) > 1e-9
        begins = np.where(rises.any(axis=1), hours[rises.argmax(axis=1)], 0.0)
        told |= {f"{name}_from": begins, f"{name}_most": count[:, -1]}
    return {name: values.astype("<f4") for name, values in told.items()}


def _judged(batch: Batch, courses: list[Course], here: Course) -> dict:
    """The verdict as steps; under which it never falls: as planned, and at each dial without a guess of warm hours; and the
    best it can be where deadlines hold."""
    outcome, load = here.outcome, here.outcome.load
    facts = judging.judge(batch, outcome.laid, load, LOG).facts
    best = thresholds.severity(replace(facts, warm=NONE_YET))[1]
    timed = batch.heat is not None and Case(facts).killed and best != len(EAT) - 1
    floors = [thresholds.severity(replace(course.outcome.facts, warm=NONE_YET)) for course in courses]
    return thresholds.reckoned(facts) | {
        "plan": thresholds.severity(outcome.facts), "floors": floors, "bench": deadlines.on_the_bench(batch).filled()["h"], "keep": KEEP, "eat": EAT,
        "best": best if timed else None, "bench_hours": batch.heat.bench_hours if batch.heat else 0.0,
    }  # fmt: skip
