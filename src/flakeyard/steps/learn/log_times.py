"""Times of a log: dates in the forms of hands and spreadsheets, and the nights in which clocks are changed.

Refused is what could be two moments: a date whose day may be its month, an hour of the morning or of the evening, a
clock that runs backwards. What was assumed all the same is told in a remark.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone
from itertools import pairwise

from flakeyard.messages import say
from flakeyard.units import InputError

EXAMPLE, WITH_ZONE = "2026-11-20 17:00", "2026-10-25 02:30+01:00"
FIRST_YEAR, LAST_YEAR = 1900, 2199
AHEAD, PAST = 2, 5  # years from today beyond which a year looks mistyped (judgement)
HOUR = timedelta(hours=1)
NIGHT = 5  # o'clock by which clocks have been changed everywhere (summer_time, memory)
# of clocks: month, which Sunday, 0 the last (summer_time, memory)
CHANGES = ((3, 2), (3, 0), (4, 1), (9, 0), (10, 1), (10, 0), (11, 1))
FIRST_DAY = datetime(2000, 1, 1)  # stands for the day of the first row where no row has a date; never shown
SERIAL_ZERO = datetime(1899, 12, 30)  # day 0 of a spreadsheet that holds 2000-01-01 for 36526 (memory)
SERIALS = (36526, 73050)  # the years 2000 to 2099

_FORM = re.compile(
    r"""
    (?: (?: (?P<year>\d{4}) [-/.] (?P<month>\d{1,2}) [-/.] (?P<day>\d{1,2})
          | (?P<dotted>\d{1,2} \. \d{1,2} \. (?: \d{4} | \d{2} ))
          | (?P<slashed>\d{1,2} (?P<dash>[-/]) \d{1,2} (?P=dash) \d{4})
          | day [ ] (?P<number>\d{1,2})
        ) (?: t | ,?[ ] ) )?
    (?P<hour>\d{1,2}) (?P<dot>[:.]) (?P<minute>\d{2}) (?: : (?P<second>\d{2}) (?: [.,]\d{1,6} )? )?
    (?: [ ]? (?P<half>[ap]) \.? m \.? )?
    (?: [ ]? (?P<zone> z | [+-]\d{2} (?: :? \d{2} )? ) )?
    """,
    re.VERBOSE | re.ASCII,
)


@dataclass(frozen=True)
class TypedTime:
    """What one cell says: a clock, and a date in numbers as they stand, or the day of the log, or neither."""

    line: int
    cell: str
    clock: time
    date: tuple[int, int, int] | None = None  # year, month, day; slashed: year, first, second
    slashed: bool = False
    number: int | None = None
    half: bool = False  # AM or PM was said
    serial: bool = False

    @property
    def dated(self) -> bool:
        return self.date is not None

    def moment(self, day_first: bool, before: datetime | None) -> datetime:
        """The moment; a clock alone is of the day of the row before, or of the next when far behind it."""
        if self.date is not None:
            year, one, two = self.date
            day = date(year, two, one) if self.slashed and day_first else date(year, one, two)
            return datetime.combine(day, self.clock)
        if self.number is not None:
            return datetime.combine(FIRST_DAY.date() + timedelta(days=self.number - 1), self.clock)
        day, zone = (before or FIRST_DAY), self.clock.tzinfo or (before.tzinfo if before else None)
        stamp = datetime.combine(day.date(), self.clock.replace(tzinfo=None), zone)
        far_behind = before is not None and before.tzinfo == zone and stamp < before - 12 * HOUR
        return stamp + timedelta(days=1) if far_behind else stamp


@dataclass(frozen=True)
class Times:
    """Moments of all rows, whether no row has a date, the lines whose day was assumed, a night of change, remarks."""

    stamps: tuple[datetime, ...]
    undated: bool
    assumed: frozenset[int]
    night: date | None
    remarks: tuple[str, ...]


def read_times(cells: list[tuple[int, str]], where: str) -> Times:
    """Moments of all rows; slashed dates are read one way for the whole file, and only if just one way is possible.

    Parameters: cells – line and what stands there, row by row
    Raises: InputError
    """
    told = [_told(line, cell, where) for line, cell in cells]
    day_first = _day_first(told, where)
    _check_halves(told, where)
    _check_dates(told, where)
    stamps: list[datetime] = []
    for number, one in enumerate(told):
        before = stamps[-1] if stamps else None
        stamp = one.moment(day_first, before)
        if before is not None:
            _check_zone(one, stamp, stamps[0], where)
            if stamp < before:
                raise _backwards(one, stamp, told[number - 1], before, where)
        stamps.append(stamp)
    return _with_remarks(told, tuple(stamps), where)


def has_date(cell: str) -> bool:
    """Whether a cell of times holds a date besides the clock."""
    match = _FORM.fullmatch(_plain(cell))
    return match is None or any(match[name] for name in ("year", "dotted", "slashed", "number"))


def _plain(cell: str) -> str:
    """A cell with plain single spaces, in small letters."""
    return " ".join(cell.lower().split())


def _told(line: int, cell: str, where: str) -> TypedTime:
    text = _plain(cell)
    match = _FORM.fullmatch(text)
    try:
        found = _by_form(line, cell, match) if match else _by_serial(line, cell, text)
    except ValueError:  # no such day, no such hour
        found = None
    if found is None:
        raise _refused(line, cell or say("error.nothing"), _why_not(text), where)
    if found.date is not None and not FIRST_YEAR <= found.date[0] <= LAST_YEAR:
        raise _refused(line, cell, say("log.year_right"), where)
    return found


def _by_form(line: int, cell: str, match: re.Match) -> TypedTime | None:
    clock, half = _clock(match), bool(match["half"])
    if match["number"]:
        return TypedTime(line, cell, clock, number=max(int(match["number"]), 1), half=half)
    if match["slashed"]:
        one, two, year = map(int, re.split("[-/]", match["slashed"]))
        return TypedTime(line, cell, clock, (year, one, two), slashed=True, half=half)
    if match["dotted"]:
        day, month, year = map(int, match["dotted"].split("."))
        moment = date(year if year > 99 else 2000 + year, month, day)
    elif match["year"]:
        moment = date(*(int(match[name]) for name in ("year", "month", "day")))
    else:
        hours = match["dot"] == "." and match["hour"] == "0"  # since the start; or 17:00-19:00, a stretch of time
        stretch = (match["zone"] or "").startswith("-")
        return None if hours or stretch else TypedTime(line, cell, clock, half=half)
    return TypedTime(line, cell, clock, (moment.year, moment.month, moment.day), half=half)


def _clock(match: re.Match) -> time:
    hour, half = int(match["hour"]), match["half"]
    if half:
        if not 1 <= hour <= 12:
            raise ValueError
        hour = hour % 12 + (12 if half == "p" else 0)
    return time(hour, int(match["minute"]), int(match["second"] or 0), tzinfo=_zone(match["zone"]))


def _zone(text: str | None) -> timezone | None:
    if not text:
        return None
    if text == "z":
        return UTC
    east = int(text[1:3]) * 60 + int(text[3:].strip(":") or 0)
    if east > 14 * 60:
        raise ValueError
    return timezone(timedelta(minutes=-east if text[0] == "-" else east))


def _by_serial(line: int, cell: str, text: str) -> TypedTime | None:
    """A spreadsheet's number of days, to the minute; three decimals are a minute and a half."""
    if not re.fullmatch(r"\d{5}[.,]\d{3,}", text, re.ASCII):
        return None
    days = float(text.replace(",", "."))
    if not SERIALS[0] <= days < SERIALS[1]:
        return None
    moment = SERIAL_ZERO + timedelta(minutes=round(1440 * days))
    return TypedTime(line, cell, moment.time(), (moment.year, moment.month, moment.day), serial=True)


def _why_not(text: str) -> str:
    if not text:
        return say("field.needed")
    if re.fullmatch(r"\d{5}([.,]\d{0,2})?", text):
        return say("log.serial_without_time")
    if re.fullmatch(r"\d{1,3}([.,]\d*)?", text):
        return say("log.no_time_hours")
    if re.fullmatch(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}", text):
        return say("log.no_time_of_day")
    if text in ("time", "date", "hours"):
        return say("log.no_time_header")
    return say("log.no_time")


def _refused(line: int, cell: str, why: str, where: str, allowed: str = "", example: str = EXAMPLE) -> InputError:
    place = say("file.line", where=where, line=line)
    return InputError(f"{place}, time", cell, why, allowed or say("log.times"), example)


def _day_first(told: list[TypedTime], where: str) -> bool:
    """Whether slashed dates have the day first. Raises: InputError where that is open, or differs from row to row."""
    slashed = [one for one in told if one.slashed]
    days, months = ([_slashed_day(one, first) for one in slashed] for first in (True, False))
    for one, day, month in zip(slashed, days, months):
        if day is None and month is None:
            raise _refused(one.line, one.cell, say("log.no_such_day"), where)
    if None in days and None in months:
        one = slashed[max(days.index(None), months.index(None))]
        raise _refused(one.line, one.cell, say("log.day_and_month"), where)
    if None not in days and None not in months and days != months:
        one = next(one for one, day, month in zip(slashed, days, months) if day != month)
        raise _refused(one.line, one.cell, say("log.day_or_month"), where)
    return None not in days


def _slashed_day(one: TypedTime, day_first: bool) -> date | None:
    if one.date is None:
        return None
    year, first, second = one.date
    try:
        return date(year, second, first) if day_first else date(year, first, second)
    except ValueError:
        return None


def _check_halves(told: list[TypedTime], where: str) -> None:
    """Where some times say AM or PM, an hour from 1 to 12 without it is open."""
    if not any(one.half for one in told):
        return
    for one in told:
        if not one.half and not one.serial and 1 <= one.clock.hour <= 12:
            why = say("log.half_missing")
            raise _refused(one.line, one.cell, why, where, say("log.half_everywhere"), "2026-11-20 5:00 PM")


def _check_dates(told: list[TypedTime], where: str) -> None:
    """Where rows have dates, the first has one too, and none counts the days of the log instead."""
    if not any(one.dated for one in told):
        return
    for one in told:
        if one.number is not None or (one is told[0] and not one.dated):
            raise _refused(one.line, one.cell, say("log.date_missing"), where)


def _check_zone(one: TypedTime, stamp: datetime, first: datetime, where: str) -> None:
    if (stamp.tzinfo is None) != (first.tzinfo is None):
        why = say("log.zone_missing")
        raise _refused(one.line, one.cell, why, where, say("log.zone_everywhere"), f"{EXAMPLE}+01:00")


def _backwards(one: TypedTime, stamp: datetime, last: TypedTime, before: datetime, where: str) -> InputError:
    name, allowed, example = "log.backwards", "log.not_earlier", "2026-11-21 01:00"
    if not one.dated:
        name = "log.backwards.undated"
    elif stamp.tzinfo is None and before - stamp <= HOUR and stamp.hour < NIGHT:
        name, allowed, example = "log.backwards.set_back", "log.not_earlier.zones", WITH_ZONE
    elif (stamp.year, stamp.month, before.month) == (before.year, 1, 12):
        name = "log.backwards.new_year"
    return _refused(one.line, one.cell, say(name, line=last.line), where, say(allowed), example)


# What was assumed, and what looks odd


def _with_remarks(told: list[TypedTime], stamps: tuple[datetime, ...], where: str) -> Times:
    undated = not any(one.dated for one in told)
    assumed = frozenset(one.line for one in told[1:] if not one.dated and one.number is None)
    night = None if undated or stamps[0].tzinfo else change_between(stamps[0], stamps[-1])
    remarks = [
        _serials(told), _assumed(assumed, stamps), _half_days(told, stamps), _changed(night), _zones(stamps),
        "" if undated else _far_year(told[0], stamps[0]),
    ]  # fmt: skip
    return Times(stamps, undated, assumed, night, tuple(filter(None, remarks)))


def _serials(told: list[TypedTime]) -> str:
    one = next((one for one in told if one.serial), None)
    if one is None or one.date is None:
        return ""
    read = datetime.combine(date(*one.date), one.clock)
    return say("log.serial", cell=one.cell, line=one.line, moment=read)


def _assumed(assumed: frozenset[int], stamps: tuple[datetime, ...]) -> str:
    if not assumed:
        return ""
    hours = (stamps[-1] - stamps[0]) / HOUR
    count, first = len(assumed), min(assumed)
    return say("log.undated.rows" if count > 1 else "log.undated.row", count=count, first=first, hours=hours)


def _half_days(told: list[TypedTime], stamps: tuple[datetime, ...]) -> str:
    """Times from 1 to 12 o'clock only, and half a day too long a gap where the next date begins."""
    if any(one.half or not 1 <= one.clock.hour <= 12 for one in told):
        return ""
    gaps = ((late - early) / HOUR for early, late in pairwise(stamps))
    if not any(12 < gap < 24 for gap in gaps):
        return ""
    return say("log.half_days")


def change_between(first: datetime, last: datetime) -> date | None:
    """The first Sunday on which clocks are changed somewhere and of whose night a log from first to last holds a part."""
    for year in range(first.year, last.year + 1):
        for month, which in CHANGES:
            midnight = datetime.combine(_sunday(year, month, which), time())
            if first < midnight + NIGHT * HOUR and last > midnight:
                return midnight.date()
    return None


def _sunday(year: int, month: int, which: int) -> date:
    """The first, second ... Sunday of a month; the last for 0."""
    last = date(year + month // 12, month % 12 + 1, 1) - timedelta(days=1)
    sundays = [date(year, month, day) for day in range(1, last.day + 1) if date(year, month, day).weekday() == 6]
    return sundays[which - 1]


def _changed(night: date | None) -> str:
    return "" if night is None else (say("log.clocks_changed", night=night))


def _zones(stamps: tuple[datetime, ...]) -> str:
    if len({stamp.utcoffset() for stamp in stamps}) < 2:
        return ""
    return say("log.zone_changes", zone=stamps[0])


def _far_year(one: TypedTime, stamp: datetime) -> str:
    years = (stamp.replace(tzinfo=None) - datetime.now()) / timedelta(days=365.25)
    if -PAST <= years <= AHEAD:
        return ""
    return say("log.ahead" if years > 0 else "log.ago", line=one.line, date=f"{stamp:%Y-%m-%d}", years=abs(years))
