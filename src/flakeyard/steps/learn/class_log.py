"""A class and its logs: what each group weighed beside what its plan had said before any weighing.

A folder holds a batch file and a log for each group: NAME.toml and NAME-weighings.csv.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from flakeyard.messages import say
from flakeyard.steps.intent.batch_file import load_batch
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.learn import learning
from flakeyard.steps.learn.learning import Learned
from flakeyard.steps.learn.logbook import THICKEST, Entry, Log, read_log
from flakeyard.steps.learn.members import Course, Schedule, schedule
from flakeyard.units import InputError

LOG = "-weighings.csv"
INVENTED = "invented"  # in a note of a log


@dataclass(frozen=True)
class Group:
    """One group's batch: its name, plan and log, what the log taught, and the plan followed through what happened."""

    name: str
    batch: Batch
    log: Log
    learned: Learned
    prior: Course = field(repr=False)

    @property
    def happened(self) -> Schedule:
        return schedule(self.log, self.batch.dryer.temperature)

    @property
    def says_invented(self) -> bool:
        """Whether a note of the log says that nobody dried this batch."""
        return any(INVENTED in entry.note.lower() for entry in self.log.entries)

    @property
    def marked(self) -> bool:
        """Whether the thickest piece was weighed by itself."""
        return any(entry.tray == THICKEST for entry in self.log.weighings)

    def predicted(self, hours, thickest: bool = False) -> np.ndarray:
        """Weight left over weight as laid before any weighing, at hours on the clock: (10th, 50th, 90th percentile; hours).

        Returns: (3, hours) [share, 0–1]
        Source: steps.learn.learning.prior_course
        """
        drying = self.happened.drying(np.atleast_1d(hours))
        return np.quantile(self.prior.at(drying, thickest), [0.1, 0.5, 0.9], axis=0)


@dataclass(frozen=True)
class Weighing:
    """A weighing after the start: weight left over weight as laid, as measured and as the plan said (0–1)."""

    group: str
    time: str
    hours: float
    tray: str
    mass: float
    left: float
    predicted: Band

    @property
    def inside(self) -> bool:
        """Whether the scale showed what 8 of 10 batches should."""
        low, _, high = self.predicted.ends
        return low <= self.left <= high


def read_class(folder: str | Path) -> list[Group]:
    """Every group of a folder, in the order of its names.

    Raises: InputError when there is no pair of files, or one that cannot be read
    """
    groups = []
    for batch_file in sorted(Path(folder).glob("*.toml")):
        log_file = batch_file.with_name(batch_file.stem + LOG)
        if log_file.is_file():
            groups.append(group_of(batch_file.stem, load_batch(batch_file), read_log(log_file)))
    if not groups:
        raise InputError(
            "folder", str(Path(folder).name), say("class.no_pair"),
            say("class.pairs", ending=LOG), f"heron.toml and heron{LOG}",
        )  # fmt: skip
    return groups


def group_of(name: str, batch: Batch, log: Log) -> Group:
    """A group with what its log taught."""
    prior = learning.prior_course(batch, log)
    return Group(name, batch, log, learning.learn(batch, log, prior=prior), prior)


def weighings(groups: list[Group]) -> list[Weighing]:
    """Every weighing after the start, group by group."""
    return [row for group in groups for row in _weighings(group)]


def _weighings(group: Group) -> Iterator[Weighing]:
    """A tray is followed from its first weighing, and anew from one at which something happened, as the plan has it then."""
    laid: dict[str, float] = {}
    for entry in group.log.weighings:
        said = _said(group, entry)
        if entry.tray not in laid or entry.event:
            laid[entry.tray] = entry.kg / said.ends[1]
            continue
        left = entry.kg / laid[entry.tray]
        yield Weighing(group.name, group.log.clock(entry.hours), entry.hours, entry.tray, entry.kg, left, said)


def _said(group: Group, entry: Entry) -> Band:
    low, mid, high = group.predicted(entry.hours, entry.tray == THICKEST)[:, 0]
    return Band(float(low), float(mid), float(high))
