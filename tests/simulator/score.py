"""Score the forecasts of `flakeyard log` against simulated batches: `python tests/simulator/score.py --count 6`.

For every batch the log is read as it stood before any weighing (update 0) and after each; the forecast of
hours_to_target is compared with when the simulated marked piece came to the weight at which the forecast said stop.
An 80 % band should hold four truths of five, at every update, for every kind, with every mechanism. The verdict is
compared with what the same rules say of the truth (`verdicts`).

--start even (0) tunes, odd (1) scores: a number changed because of an odd seed spoils all odd seeds.
Updates before a change that the learner noted (a pause, a turned dial, moved trays) are not held against a dial that was
still to be turned: a later pause is taken out of the truth, an update before a noted turn is left out and counted.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from simulator import ALL, HARD, KINDS, MECHANISMS, Evening, Kitchen, simulate


@dataclass(frozen=True)
class Update:
    """One forecast of one batch beside the truth [h since the log began]; share: part of the truth that had gone by."""

    kind: str
    seed: int
    active: tuple[str, ...]
    number: int
    last: bool
    hours: float
    low: float
    mid: float
    high: float
    truth: float
    truth_thickest: float
    ratio: float
    refused: bool
    left_out: bool
    flagged: bool = False
    said: tuple[str, str] = ("", "")  # keep and eat, as the log has them
    true: tuple[str, str] = ("", "")  # and as the same rules have them of the truth

    @property
    def known(self) -> bool:
        return not self.refused and not self.flagged and not self.left_out and np.isfinite(self.mid)

    @property
    def judged(self) -> bool:
        """Whether there is a verdict on fish that came to its weight: what never does is not taken off by it."""
        return bool(self.said[0]) and not self.refused and bool(np.isfinite(self.truth))

    @property
    def ahead(self) -> bool:
        """Whether the piece was still to come to its weight: later it is no forecast."""
        return self.hours < self.truth

    @property
    def inside(self) -> bool:
        return self.low <= self.truth <= self.high

    @property
    def width(self) -> float:
        return (self.high - self.low) / self.truth

    @property
    def error(self) -> float:
        """ln of forecast over truth."""
        return float(np.log(self.mid / self.truth))


def forecasts_of(kitchen: Kitchen, members: int, sketch: bool):
    """(hours, Learned) before any weighing and after each, by the package under test; imported late."""
    from flakeyard.steps.intent.batch_file import read_batch
    from flakeyard.steps.learn import learning
    from flakeyard.steps.learn.logbook import read_log
    from simulator.verdicts import told

    return learning.forecasts(
        read_batch(told(kitchen.batch)), read_log(kitchen.log_csv), members=members, sketch=sketch
    )


@dataclass(frozen=True)
class Told:
    """What one forecast says: the low end, the middle and the high end of its hours, the ratio of the stop weight."""

    low: float
    mid: float
    high: float
    ratio: float
    refused: bool
    flagged: bool

    @classmethod
    def of(cls, band, ratio: float, refused: bool, flagged: bool) -> Told:
        return cls(
            *(np.inf if end is None else end for end in (band.low, band.mid, band.high)), ratio, refused, flagged
        )


def fitted(batch, log, prior):
    """A log read as `learning.learn` reads it, without its verdicts: the fit (None where it is refused), what was set aside."""
    from flakeyard.steps.learn import contradiction, evidence, fitting
    from flakeyard.steps.learn.members import schedule

    told = evidence.rows_of(log, schedule(log, batch.dryer.temperature), turning=batch.dryer.turning)
    rows, strange = evidence.set_strange_aside(evidence.believed(told, prior), prior)
    if contradiction.found(rows, prior, log, batch.dryer.trays):
        return None, strange
    found = fitting.fit(rows, prior)
    return (None if contradiction.broken(found, log) else found), strange


def hours_alone(kitchen: Kitchen, members: int, sketch: bool):
    """(hours, Told) as `forecasts_of` has them, without the verdicts: in a tenth of the time."""
    from flakeyard.steps.intent.batch_file import read_batch
    from flakeyard.steps.intent.spread import UNKNOWN, band
    from flakeyard.steps.learn import learning
    from flakeyard.steps.learn.logbook import read_log
    from flakeyard.steps.learn.members import schedule
    from simulator.verdicts import told

    batch, log = read_batch(told(kitchen.batch)), read_log(kitchen.log_csv)
    prior, before = None, None
    for hours in (0.0, *log.moments):
        so_far = log.until(hours)
        happened = schedule(so_far, batch.dryer.temperature)
        if happened != before:
            prior, before = learning.prior_course(batch, so_far, members, sketch=sketch), happened
        found, strange = fitted(batch, so_far, prior)
        said = UNKNOWN if found is None else band(learning._hours(so_far, happened, found, strange)[0][-1])
        ratio = prior.outcome.drying["mass_ratio"].mid
        yield hours, Told.of(said, ratio, found is None, found is not None and found.step is not None)


def truth_at(kitchen: Kitchen, hours: float, ratio: float, piece: str = "marked") -> float:
    """Hours to a ratio, without pauses that had not begun at the time of the update."""
    whole = kitchen.truth.hours(ratio, piece)
    later = [change for change in kitchen.truth.changes if change.what == "pause" and hours < change.hours < whole]
    return whole - sum(change.length for change in later)


def updates_of(kitchen: Kitchen, members: int = 200, sketch: bool = False, hours_only: bool = False) -> list[Update]:
    """All forecasts of one batch; ``hours_only``: without verdicts."""
    from simulator.verdicts import said_and_true

    if hours_only:
        found = [(hours, told, ()) for hours, told in hours_alone(kitchen, members, sketch)]
    else:
        found = [
            (hours, _as_learned(learned), said_and_true(kitchen, learned))
            for hours, learned in forecasts_of(kitchen, members, sketch)
        ]
    turned = [c.hours for c in kitchen.truth.changes if c.what.startswith("dial") and c.logged]
    updates = []
    for number, (hours, told, verdicts) in enumerate(found):
        truth, thickest = (truth_at(kitchen, hours, told.ratio, piece) for piece in ("marked", "thickest"))
        one = Update(
            kitchen.kind, kitchen.seed, kitchen.truth.active, number, number == len(found) - 1, hours, told.low, told.mid,
            told.high, truth, thickest, told.ratio, told.refused, any(hours < at < truth for at in turned), told.flagged,
            *verdicts,
        )  # fmt: skip
        updates.append(one)
    return updates


def _as_learned(learned) -> Told:
    ratio = learned.outcome.drying["mass_ratio"].mid
    return Told.of(learned.hours_to_target, ratio, learned.contradiction is not None, learned.changed is not None)


def scored(job: tuple) -> list[Update]:
    """The forecasts of one batch; kept in a folder, if one is told, and read from there the next time."""
    kind, seed, mechanisms, evening, some, *how, folder = job
    if folder is None:
        return updates_of(simulate(kind, seed, mechanisms, evening=evening), *how)
    file = Path(folder) / f"{kind}, {seed}, {some}.json"
    if not file.exists():
        found = [asdict(one) for one in updates_of(simulate(kind, seed, mechanisms, evening=evening), *how)]
        file.parent.mkdir(parents=True, exist_ok=True)
        file.with_suffix(".part").write_text(json.dumps(found), encoding="utf-8")
        file.with_suffix(".part").rename(file)
    kept = json.loads(file.read_text(encoding="utf-8"))
    return [Update(**one | {name: tuple(one[name]) for name in ("active", "said", "true")}) for one in kept]


def line(name: str, updates: list[Update]) -> str:
    """Coverage, width over truth, median error and what could not be scored, of some updates."""
    asked = [one for one in updates if one.ahead]
    known = [one for one in asked if one.known and np.isfinite(one.truth)]
    refused, left_out = sum(one.refused for one in asked), sum(one.left_out for one in asked)
    flagged = sum(one.flagged and not one.refused for one in asked)
    never = sum(one.known and not np.isfinite(one.truth) for one in asked)
    head = f"{name:38} {len(asked):5} {refused:7} {flagged:7} {left_out:8} {never:5}"
    if not known:
        return head
    inside = np.array([one.inside for one in known])
    early = np.mean([one.truth < one.low for one in known])
    late = np.mean([one.truth > one.high for one in known])
    width = np.median([one.width for one in known])
    errors = np.array([one.error for one in known])
    return (
        f"{head} {100 * inside.mean():6.0f}% {100 * early:6.0f}% {100 * late:6.0f}% {width:7.2f}"
        f" {100 * np.expm1(np.median(errors)):+7.0f}% {np.median(np.abs(errors)):7.2f}"
    )


HEADER = (
    f"{'':38} {'n':>5} {'refused':>7} {'asked':>7} {'left out':>8} {'never':>5} {'inside':>7} {'sooner':>7} {'later':>7}"
    f" {'width':>7} {'bias':>8} {'|ln|':>7}"
)


def report(updates: list[Update], by_mechanism: bool) -> str:
    """The table: by kind and update, by kind, by mechanism that came into play, and how far the stop weight moved."""
    lines = [HEADER]
    for kind in dict.fromkeys(one.kind for one in updates):
        own = [one for one in updates if one.kind == kind]
        lines.append(line(kind, own))
        for number in range(max(one.number for one in own) + 1):
            lines.append(line(f"  after {number} weighings", [one for one in own if one.number == number]))
    lines += [line("all kinds", updates), line("  before any", [one for one in updates if one.number == 0])]
    lines.append(line("  after any", [one for one in updates if one.number > 0]))
    for number in range(1, 1 + max(one.number for one in updates)):
        lines.append(line(f"  after {number} weighings", [one for one in updates if one.number == number]))
    lines.append(line("  past half of the time", [one for one in updates if one.hours > 0.5 * one.truth]))
    lines.append(line("  the load's thickest piece", [replace(one, truth=one.truth_thickest) for one in updates]))
    lines += ["", *by_batch(updates), "", *milder_verdicts(updates)]
    if by_mechanism:
        lines += ["", "batches in which it came into play | did not, after any weighing", HEADER]
        after = [one for one in updates if one.number > 0]
        for name in MECHANISMS:
            groups = [[one for one in after if (name in one.active) is wanted] for wanted in (True, False)]
            lines += [line(name, groups[0]), line("  not", groups[1])] if all(groups) else []
    return "\n".join([*lines, "", stops(updates)])


def batches_of(updates: list[Update]) -> list[list[Update]]:
    found: dict[tuple, list[Update]] = {}
    for one in updates:
        found.setdefault((one.kind, one.seed), []).append(one)
    return list(found.values())


def by_batch(updates: list[Update]) -> list[str]:
    """Inside after any weighing, all forecasts of one batch counted as one, with the range that chance leaves (95 %)."""
    lines = [
        "one batch counted as one, after any weighing: inside, of how many batches, asked about a change of pace in"
    ]
    for kind in (*dict.fromkeys(one.kind for one in updates), "all kinds"):
        own = batches_of([one for one in updates if kind in (one.kind, "all kinds") and one.number and one.ahead])
        known = [[one for one in batch if one.known and np.isfinite(one.truth)] for batch in own]
        held = np.array([np.mean([one.inside for one in batch]) for batch in known if batch])
        asked = sum(any(one.flagged for one in batch) for batch in own)
        if len(held):
            chance = 196 * held.std() / np.sqrt(len(held))
            lines.append(f"  {kind:36} {100 * held.mean():3.0f} % ± {chance:.0f} ({len(held)} batches), {asked}")
    return lines


def milder_verdicts(updates: list[Update]) -> list[str]:
    """In how many batches a log's verdict asks for less than the rules do when they are told the truth."""
    from simulator.verdicts import milder

    lines = [
        "verdicts milder than the truth (not refused, and the weight to stop at is reached in truth): last weighing, any"
    ]
    for kind in (*dict.fromkeys(one.kind for one in updates), "all kinds"):
        own = batches_of([one for one in updates if kind in (one.kind, "all kinds") and one.judged])
        last = [batch[-1] for batch in own if batch[-1].last]
        counts = sum(milder(one.said, one.true) for one in last), len(last)
        ever = sum(any(milder(one.said, one.true) for one in batch) for batch in own), len(own)
        lines.append(f"  {kind:36} {counts[0]} of {counts[1]}, {ever[0]} of {ever[1]}")
    return lines


def stops(updates: list[Update]) -> str:
    """How far the stop weight moved from update to update, and how much of it the truth had passed."""
    batches: dict[tuple, list[Update]] = {}
    for one in updates:
        batches.setdefault((one.kind, one.seed, one.active), []).append(one)
    moved = np.array([max(o.ratio for o in own) - min(o.ratio for o in own) for own in batches.values()])
    said = f"stop weight (share of the mass as laid): moved in {np.mean(moved > 1e-6):.0%} of {len(moved)} batches"
    missed = [own for own in batches.values() if not np.isfinite(own[-1].truth)]
    return f"{said}, by {moved.max():.4f} at most; never reached in truth: {len(missed)}"


def alone(runs: list[tuple[str, list[Update]]]) -> str:
    """The table of mechanisms that were each alone and of a settled size, after any weighing."""
    lines = [HEADER]
    for name in dict.fromkeys(name for name, _ in runs):
        own = [one for some, run in runs if some == name for one in run if one.number]
        lines.append(line(name, own))
        kinds = dict.fromkeys(one.kind for one in own)
        lines += [line(f"  {kind}", [one for one in own if one.kind == kind]) for kind in kinds]
        lines.append(line("  with what is asked about", [replace(one, flagged=False) for one in own]))
    return "\n".join(lines)


def _sets(given) -> list[tuple[str, tuple[str, ...], Evening]]:
    """What is tried: its name, the mechanisms that are on, what is settled."""
    if given.hard:
        names = list(HARD) if given.hard == ["each"] else given.hard
        return [(name, HARD[name][0], Evening(**HARD[name][1])) for name in names]
    told = given.mechanism
    sets = [tuple(name for name in (ALL if told is None else told) if name not in (*given.without, "none"))]
    if told == ["each"]:
        sets = [(name,) for name in ALL]
    return [("all" if some == ALL else " ".join(some) or "none", some, Evening()) for some in sets]


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    asked.add_argument("--count", type=int, default=4, help="batches a kind")
    asked.add_argument("--kinds", nargs="*", default=list(KINDS), choices=list(KINDS))
    asked.add_argument("--mechanism", nargs="*", help='only these at once; "none": plain; "each": one after the other')
    asked.add_argument("--hard", nargs="*", help=f'alone and at a settled size: "each", or of {", ".join(HARD)}')
    asked.add_argument("--without", nargs="*", default=[], choices=ALL, help="all others at once")
    asked.add_argument("--start", type=int, default=0, help="first seed: even to tune, odd to score")
    asked.add_argument("--members", type=int, default=200)
    asked.add_argument("--sketch", action="store_true", help="coarser forecasts, sooner")
    asked.add_argument("--hours", action="store_true", help="no verdicts, sooner")
    asked.add_argument("--processes", type=int, default=1)
    asked.add_argument("--keep", help="folder in which every batch scored is kept, so that a run can go on later")
    given = asked.parse_args()
    jobs = [
        (
            kind,
            given.start + 2 * number,
            mechanisms,
            evening,
            some,
            given.members,
            given.sketch,
            given.hours,
            given.keep,
        )
        for number in range(given.count)
        for some, mechanisms, evening in _sets(given)
        for kind in given.kinds
    ]
    began = time.perf_counter()
    with ProcessPoolExecutor(given.processes) as pool:
        runs = list(pool.map(scored, jobs) if given.processes > 1 else map(scored, jobs))
    if given.hard:
        print(alone([(job[4], run) for job, run in zip(jobs, runs, strict=True)]))
    else:
        print(report([one for run in runs for one in run], by_mechanism=given.mechanism in (None, ["each"])))
    seconds = time.perf_counter() - began
    print(f"{len(jobs)} batches, {sum(map(len, runs))} forecasts, {seconds:.0f} s on {given.processes} process(es)")


if __name__ == "__main__":
    main()
