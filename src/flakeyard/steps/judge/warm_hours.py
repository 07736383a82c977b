"""The warm hours after heating: what five counts of hours say about eating the fish, and until when.

The rungs are rows of ``data/warm_ladder.csv``; every one can only raise the severity. The hours come from
`models.warm_clock`, from a forecast or from a log alike. A count that is missing is taken as the whole of the hours.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

import numpy as np

from flakeyard import limits
from flakeyard.messages import number, say
from flakeyard.models.warm_clock import WarmCounts, standing_hours
from flakeyard.steps.intent.spread import UPPER_END, upper_end
from flakeyard.tables import Record, read_records

COUNTS = WarmCounts._fields
SAYS = ("silent", "caution", "not_known", "no")  # severity rises
SILENT_RULE, MISSING_RULE = "W0", "W11"
ROUNDING = 1e-9  # h: floating point, not time


@dataclass(frozen=True, kw_only=True)
class Rung(Record):
    """A row of the ladder: what it says when a count is above so many hours."""

    rule: str
    says: str
    count: str
    above_hours: float | None
    text: str
    basis: str
    also_source_id: str
    note: str
    way_out: str

    @property
    def limit(self) -> float:
        """Hours that it lets pass; none where the table tells none.

        Returns: float [h, 0 up]
        Source: its own row
        """
        return 0.0 if self.above_hours is None else self.above_hours


@dataclass(frozen=True)
class Hit:
    """A rung that holds, with the hours that reached it (None where they are not known)."""

    rung: Rung
    hours: float | None

    @property
    def text(self) -> str:
        return self.rung.text.format(hours=_shown(self.hours))


@dataclass(frozen=True)
class WarmHours:
    """The five counts of one piece, h; None or not-a-number is "not known". What they count: `models.warm_clock`.

    ``more`` says that hours nobody knows came on top: the counts are then lower bounds.
    """

    h: float | None = None
    hs: float | None = None
    f48: float | None = None
    c54: float | None = None
    c40: float | None = None
    more: bool = field(default=False, kw_only=True)

    def __post_init__(self):
        for name, value in self.known().items():
            if value < 0.0:
                raise ValueError(say("input.hours", name=name, value=value))

    def known(self) -> dict[str, float]:
        """The counts that are known, by name.

        Returns: by name [h, 0 up]
        Source: the counts given
        """
        values = {name: getattr(self, name) for name in COUNTS}
        return {name: value for name, value in values.items() if value is not None and not math.isnan(value)}

    @property
    def unsure(self) -> bool:
        """Whether the whole may be longer than what is counted."""
        return self.more or "h" not in self.known()

    def filled(self) -> Mapping[str, float]:
        """Counts to judge by: the whole is at least each of its parts, and a missing part is the whole.

        Where the whole itself is missing, it and the parts that are missing too hold their lower bounds.

        Returns: by name [h, 0 up]
        Source: the counts given; judgement, that a missing part is the whole
        """
        known = self.known()
        whole = max(known.values(), default=0.0)
        missing = dict.fromkeys(COUNTS, whole if "h" in known else 0.0)
        return missing | known | {"h": whole}

    def plus(self, other: WarmHours) -> WarmHours:
        """Both stretches together."""
        one, two = self.filled(), other.filled()
        return WarmHours(*(one[name] + two[name] for name in COUNTS), more=self.unsure or other.unsure)


NONE_YET = WarmHours(0.0, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Deadlines:
    """Elapsed hours until which the ladder says at most caution, and after which it says no.

    Infinite: not within the hours ``followed``. Minus infinity: too late from the first of them.
    """

    caution_until: float
    no_after: float
    followed: float


@cache
def ladder() -> tuple[Rung, ...]:
    """All rungs, in the order of the table."""
    return read_records("warm_ladder.csv", Rung)


def rung(hours: WarmHours) -> tuple[str, tuple[Hit, ...]]:
    """What the ladder says of a piece that spent these hours warm and moist, and the rungs that say it, severest first."""
    counted = hours.filled()
    hits = [Hit(row, counted[row.count]) for row in ladder() if row.count and _above(row, counted)]
    if hours.unsure:
        hits.append(Hit(_row(MISSING_RULE), None))
    if not hits:
        hits.append(Hit(_row(SILENT_RULE), counted["h"]))
    hits.sort(key=lambda hit: -SAYS.index(hit.rung.says))
    return hits[0].rung.says, tuple(hits)


def upper_hours(counts: WarmCounts) -> WarmHours:
    """The cautious end of each count over all members: what a verdict reads."""
    return WarmHours(*map(upper_end, counts))


def upper_course(counts: WarmCounts) -> WarmCounts:
    """The cautious end of each count at each moment, from courses of shape (members, times)."""
    return WarmCounts(*(np.quantile(count, UPPER_END, axis=0, method="higher") for count in counts))


def pause(hours: float | None, air_temperature: float | None = None, covered: bool | None = None,
          water_activity: float | None = None) -> WarmHours:  # fmt: skip
    """What a pause, or the time from pot to tray, adds.

    Parameters: hours – None for not known; air_temperature – around the fish [degC], None for not known; covered –
    None counts as not covered; water_activity – of the middle, None counts as moist.
    Returns: the hours to add to each count: none when it is covered in air that counts as cold, or dry.
    """
    long = math.nan if hours is None else hours
    return WarmHours(*map(float, standing_hours(long, air_temperature, water_activity, bool(covered), limits.COLD)))


def hours_at(elapsed: np.ndarray, course: WarmCounts, hours: float) -> WarmHours:
    """The counts of one course, of shape (times,), at an elapsed time within it [h]."""
    if not elapsed[0] <= hours <= elapsed[-1]:
        raise ValueError(say("input.from_to", hours=hours, low=elapsed[0], high=elapsed[-1]))
    return WarmHours(*(float(np.interp(hours, elapsed, count)) for count in course))


def deadlines(elapsed: np.ndarray, course: WarmCounts, before: WarmHours = NONE_YET) -> Deadlines:
    """When a piece on a course must be done: the latest hour that still says caution, and the hour from which it is no.

    A forecast gives `upper_course` of its members; a log gives what really passed, with a forecast behind it.

    Parameters: elapsed – hours since the heating, rising, shape (times,) [h]; course – the five counts up to each of
    them; before – hours that came before the course, on the bench for instance.
    """
    moments = np.asarray(elapsed, float)
    if moments.ndim != 1 or moments.size < 2 or not np.all(np.diff(moments) > 0.0):
        raise ValueError(say("input.elapsed", elapsed=elapsed))
    used = before.filled()
    ends = {
        says: min(_passes(moments, getattr(course, row.count) + used[row.count], row) for row in rows)
        for says, rows in _rows_by_severity().items()
    }
    caution_until = -math.inf if before.unsure else min(ends["not_known"], ends["no"])
    return Deadlines(caution_until, ends["no"], float(moments[-1]))


def _rows_by_severity() -> dict[str, list[Rung]]:
    """The counting rungs that end a deadline, by what they say."""
    return {says: [row for row in ladder() if row.count and row.says == says] for says in ("not_known", "no")}


def _passes(elapsed, counts, row: Rung) -> float:
    """The last moment at which a count that never falls is still within a rung's limit."""
    limit = row.limit + ROUNDING
    if counts[0] > limit:
        return -math.inf
    if counts[-1] <= limit:
        return math.inf
    after = int(np.argmax(counts > limit))
    left, right = counts[after - 1], counts[after]
    part = (row.limit - left) / (right - left)
    return float(elapsed[after - 1] + max(part, 0.0) * (elapsed[after] - elapsed[after - 1]))


def _above(row: Rung, counted: Mapping[str, float]) -> bool:
    return counted[row.count] > row.limit + ROUNDING


def _row(rule: str) -> Rung:
    return next(row for row in ladder() if row.rule == rule)


def _shown(hours: float | None) -> str:
    """Hours to one decimal, rounded up so that no breach reads as the limit itself."""
    if hours is None or not math.isfinite(hours):
        return say("safety.countless")
    return number(math.ceil(hours * 10 - 1e-6) / 10, "g")
