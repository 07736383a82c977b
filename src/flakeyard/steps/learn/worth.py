"""What a measurement would be worth: how wide the hours and the cautious water activity of a plan would be after it.

Every member of the plan is taken for the truth once: what would be read then, and how wide would the others be that agree with
it? The mean of these widths is what may be expected of the measurement (source: preposterior). A plan takes readings in by
straight lines (`measured`), which find no more than that: where what is read goes in steps, as water activity does between
dissolved and dry salt, it counts as read less finely. Weighings of the marked piece go through the update of a log instead
(`fitting`), whose errors grow with the hours. Nothing is dried anew for any of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from flakeyard.messages import number, say
from flakeyard.models.constants import HOUR
from flakeyard.steps.chain.drying import activity
from flakeyard.steps.chain.fish import UNEVEN, Flesh, ruler_ln_sd
from flakeyard.steps.intent.records import Keep
from flakeyard.steps.intent.spread import normal_quantile
from flakeyard.steps.learn.evidence import SCALE, Rows, ln_finish
from flakeyard.steps.learn.fitting import sureness
from flakeyard.steps.learn.logbook import THICKEST, Entry
from flakeyard.steps.learn.members import Course, Members, Schedule, course_of
from flakeyard.steps.plan import measured
from flakeyard.steps.plan.measured import Reading
from flakeyard.steps.plan.plan import Outcome

WEIGHED_AT = (0.2, 0.4, 0.6)  # of the middle hours: three weighings before the first pieces are done (judgement)
FINE, COARSE = 0.0001, 0.005  # kg, steps of a scale for samples and of one for all the fish (judgement)
SAMPLE, PIECE = 0.020, 0.060  # kg, of a sample and of the marked piece (judgement)
SCALE_STEP = 0.001  # kg, of a kitchen scale (judgement)
CALIPER = 0.0003  # m (judgement)
STRIP = 0.10  # of its reading (judgement)
CHECKED = 0.01  # of a meter checked over wet salts (judgement)
FOUND_BY_ROUNDS = (
    0.5  # of the variance that no straight line follows (judgement: three demo batches typed in lie about it)
)
HELPS = 0.7  # of the width before, at the most: a measurement worth a sentence (judgement)
DECILE = 1.2816  # sd from the middle to the 10th and the 90th percentile


@dataclass(frozen=True)
class Worth:
    """A measurement: what it is, the error it is reckoned with (SI, of a ``kind`` of amount or ""), and how wide hours (90th over 10th percentile) and cautious
    water activity (90th less 10th) may be expected to be after it."""

    name: str
    what: str
    error: float
    kind: str
    hours: float
    activity: float

    def as_dict(self) -> dict:
        """The same by name, ready for JSON."""
        return {
            "what": self.what,
            "error": self.error,
            "of": self.kind,
            "hours": self.hours,
            "water_activity": self.activity,
        }


@dataclass(frozen=True)
class Worths:
    """The widths of a plan as they are, and after each measurement by itself."""

    hours: float
    activity: float
    each: tuple[Worth, ...]

    def best(self, of: str) -> Worth | None:
        """The measurement that narrows "hours" or "activity" most; None where none is worth it."""
        found = min(self.each, key=lambda one: _spread(of, getattr(one, of)), default=None)
        now = _spread(of, getattr(self, of))
        return found if found and _spread(of, getattr(found, of)) <= HELPS * now else None

    def as_dict(self) -> dict:
        """The same by name, ready for JSON."""
        each = [one.as_dict() for one in self.each]
        return {"hours": self.hours, "water_activity": self.activity, "after": each}


def _spread(of: str, width: float) -> float:
    """A width as it grows with what is not known: the ratio of hours as its logarithm."""
    return float(np.log(width)) if of == "hours" else width


def worths(outcome: Outcome) -> Worths:
    """What each measurement that was not made yet would be worth, those of one plan beside each other."""
    course = course_of(outcome, Members(outcome.load.hours.size), Schedule())
    hours, cautious = ln_finish(course), outcome.load.cautious_activity()
    now, everything = _widths(hours, cautious, np.zeros_like(hours), np.inf)
    each = [_weighed(outcome, course, everything)] if not outcome.load.no_drying else []
    for name, error, kind, reading in _may_be_read(outcome):
        ln_hours, activities = _widths(hours, cautious, *_seen(reading))
        each.append(Worth(name, say(f"worth.{name}"), error, kind, float(np.exp(ln_hours)), activities))
    return Worths(float(np.exp(now)), everything, tuple(each))


def _seen(reading: Reading) -> tuple[np.ndarray, float]:
    """What the members say of a reading, and its error as the updates of a plan use it."""
    said = np.asarray(reading.said, float)
    return said, float(np.hypot(reading.sd, np.sqrt(1.0 - FOUND_BY_ROUNDS) * _uneven(said)))


def _uneven(said: np.ndarray) -> float:
    """How far sayings lie from the straight line in the standard normal numbers of their places [sd]."""
    scores = normal_quantile((np.arange(said.size) + 0.5) / said.size)
    values = np.sort(said)
    slope = np.mean(scores * values) / np.mean(scores**2)
    return float(np.std(values - slope * scores))


def _widths(hours: np.ndarray, cautious: np.ndarray, said: np.ndarray, sd: float) -> tuple[float, float]:
    """Expected widths of ln hours and of the cautious water activity once it is read what the members say, with an error."""
    read = said + (measured.errors_drawn(np.array([[sd**2]]), len(said))[:, 0] if np.isfinite(sd) else 0.0)
    off = (read[:, None] - said) / sd
    weights = np.exp(-0.5 * off**2)
    nothing = np.ones((1, len(hours)))  # no measurement is expected to widen anything: what is left of that is chance
    ln_hours, activities = (min(_width(values, weights), _width(values, nothing)) for values in (hours, cautious))
    return ln_hours, activities


def _width(values: np.ndarray, weights: np.ndarray) -> float:
    """Mean, over rows of weights, of the 90th less the 10th percentile of values."""
    order = np.argsort(values)
    share = np.cumsum(weights[:, order], axis=1)
    low, high = (np.argmax(share >= part * share[:, -1:], axis=1) for part in (0.1, 0.9))
    return float(np.mean(values[order][high] - values[order][low]))


def _weighed(outcome: Outcome, course: Course, activities: float) -> Worth:
    """The marked piece, weighed three times."""
    middle = float(np.exp(np.median(ln_finish(course))))
    at = sorted({max(0.5, round(2 * part * middle) / 2) for part in WEIGHED_AT})
    variance = sureness(_marked(course, at), course, middle)
    when = (
        say("worth.times", first=", ".join(number(hours, "g") for hours in at[:-1]), last=number(at[-1], "g"))
        if at[1:]
        else number(at[0], "g")
    )
    width = float(np.exp(2 * DECILE * np.sqrt(variance)))
    return Worth("weighed", say("worth.weighed", when=when), SCALE_STEP, "mass", width, activities)


def _marked(course: Course, at: list[float]) -> Rows:
    """The marked piece on a scale as laid and at some hours, as the middle of the plan has it."""
    curve = np.median(course.pieces[-1], axis=0)
    hours = np.array([0.0, *at])
    laid = np.log(PIECE)
    return Rows(
        tuple(Entry(0, float(one), THICKEST) for one in hours), hours,
        laid + np.log(np.interp(HOUR * hours, course.times, curve)), np.zeros(len(hours), int), np.ones(len(hours), bool),
        np.zeros((len(hours), 0)), (measured.STEP_SD * SCALE_STEP, SCALE[1]),
    )  # fmt: skip


def _may_be_read(outcome: Outcome) -> Iterator[tuple[str, float, str, Reading]]:
    """Measurements that were not made yet, each with its error and what the members say."""
    batch, laid, load = outcome.batch, outcome.laid, outcome.load
    told, keep = batch.measured, batch.keep
    if told.thickness_error is None:
        spread = ruler_ln_sd(batch)
        ruler = np.log(laid.raw.thickness[1] / batch.cut.thickness)
        sd = float(np.hypot(CALIPER / batch.cut.thickness, UNEVEN))
        if sd < spread:
            yield "thickness", CALIPER, "length", Reading(ruler, 0.0, sd, "")
    if told.raw_oven_dry is None:
        yield "raw_sample", FINE, "mass", _of_sample(laid.raw.flesh, "raw")
    if batch.rests and told.salted_weight is None:
        yield (
            "salted_weight",
            COARSE,
            "mass",
            measured.of_salted_weight(laid, float(np.median(laid.salted.mass)), COARSE),
        )
    if batch.rests and told.strip_salt is None:
        read = float(np.median(laid.cured.water_phase_salt))
        yield "strip", STRIP, "", measured.of_strip(laid, read, STRIP * read)
    if told.laid_oven_dry is None:
        usual = Flesh(**{name: getattr(laid.cured.flesh, name)[1] for name in Flesh.__dataclass_fields__})
        yield "laid_sample", FINE, "mass", _of_sample(usual, "laid")
    if told.dried_oven_dry is None:
        yield "dried_sample", FINE, "mass", _of_sample(load.dried, "dried", measured.WEIGHED_LN_SD)
    if keep.measured_water_activity is None:
        said = activity(load.dried, load.isotherm)
        for name, error, by in (("meter", CHECKED, "meter"), ("hygrometer", 0.0, "household hygrometer")):
            read = float(np.median(said))
            metered = Keep(pack=keep.pack, measured_water_activity=read, measured_error=error, measured_by=by)
            reading = measured.of_meter(said, metered)
            counts = reading if measured.may_dry(metered) else replace(reading, sd=np.inf)  # it can only warn
            yield name, reading.sd, "", counts


def _of_sample(flesh: Flesh, name: str, more_ln_sd: float = 0.0) -> Reading:
    left = SAMPLE * float(np.median(1 - flesh.water / flesh.mass))
    return measured.of_sample(flesh, name, SAMPLE, left, FINE, more_ln_sd)
