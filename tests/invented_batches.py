"""Invented batches for the tests of learning: drawn from the very priors and errors that learning assumes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flakeyard.steps.intent.records import Batch
from flakeyard.steps.learn.evidence import MARKED_LN_SD, STEP_SD, STEPS, TRAY_LN_SD, ln_finish, model_stretch
from flakeyard.steps.learn.logbook import Log, read_log
from flakeyard.steps.learn.members import Course, Members, Schedule, follow

AHEAD = np.array([0.25, 0.5, 1.0, 1.5])  # of a member's own finish, where the model's pace is drawn besides


@dataclass(frozen=True)
class Invented:
    """A batch that "happened": its log, and when its thickest piece reaches a ratio of its mass as laid."""

    log: Log
    times: np.ndarray
    thickest: np.ndarray
    piece_pace: float
    at: np.ndarray  # drying hours at which the model's ln pace was drawn
    tempo: np.ndarray

    def finish(self, ratio: float) -> float:
        """Hours to a ratio; inf when it is never reached."""
        if self.thickest[-1] > ratio:
            return np.inf
        age = np.interp(-ratio, -self.thickest, self.times) / 3600
        hours = age
        for _ in range(20):  # the pace depends on the very moment that is sought
            hours = age / np.exp(self.piece_pace + np.interp(np.log(hours), np.log(self.at), self.tempo))
        return float(hours)


def invent(batch: Batch, count: int, hours: tuple[float, ...], seed: int, thickest: bool = False) -> list[Invented]:
    """Batches with members drawn from the plan's own spread, weighed at the hours given and as laid."""
    members = Members(count, seed=seed)
    course = follow(batch, Schedule(dials=((0.0, batch.dryer.temperature),)), members, sketch=True)
    noise = np.random.default_rng(seed)
    return [_weighed(course, row, batch.dryer.trays, hours, noise, thickest) for row in range(count)]


def _weighed(course: Course, row: int, trays: int, hours, noise, thickest: bool) -> Invented:
    own, finish = course.pieces[-1, row], float(np.exp(ln_finish(course)[row]))
    at = np.unique(np.concatenate([np.array([h for h in hours if h > 0]), finish * AHEAD, [0.25]]))
    spread = model_stretch(at[:, None], at[None, :], finish) + 1e-10 * np.eye(len(at))
    tempo = np.linalg.cholesky(spread) @ noise.standard_normal(len(at))
    tempo = np.log(np.maximum.accumulate(at * np.exp(tempo)) / at)  # no fish takes water up again
    laid = course.mass[row] * np.exp(noise.normal(0, 0.02)) / trays * (1 + 0.03 * np.sin(np.arange(1, trays + 1)))
    pace, piece_pace = noise.normal(0, TRAY_LN_SD, trays), noise.normal(0, MARKED_LN_SD)
    names = [(str(tray + 1), laid[tray], pace[tray], course.load[row]) for tray in range(trays)]
    names += [("thickest", 0.06, piece_pace, own)] if thickest else []
    lines = ["hours,tray,mass_g,note"]
    for hour in hours:
        for name, mass, faster, curve in names:
            stretch = faster + (np.interp(np.log(hour), np.log(at), tempo) if hour > 0 else 0.0)
            left = mass * np.interp(3600 * hour * np.exp(stretch), course.times, curve)
            read = left + noise.normal(0, np.hypot(STEP_SD * STEPS[-1], 0.003 * left))
            lines.append(f"{hour},{name},{1000 * read:.2f},")
    return Invented(read_log("\n".join(lines)), course.times, own, piece_pace, at, tempo)
