"""Times of a log: dates in the forms of hands and spreadsheets, and the nights in which clocks are changed.

Refused is what could be two moments: a date whose day may be its month, an hour that may be of the morning or of the
evening, a clock that runs backwards. What was assumed all the same is told in a remark.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, timezone

from flakeyard.units import InputError

WORDS = "2026-11-20 17:00, 20.11.2026 17:00, or only 17:00"
EXAMPLE, EXAMPLE_ZONE = "2026-11-20 17:00", "2026-10-25 02:30+01:00"
FIRST_YEAR, LAST_YEAR = 1900, 2199
LONGEST = 1000.0  # h from the start of drying: no batch lies longer on its trays (judgement)
AHEAD, PAST = 2, 5  # years from today beyond which a year looks mistyped (judgement)
SPREADSHEET_ZERO = datetime(1899, 12, 30)  # day 0 of a spreadsheet's serial dates, from 1900-03-01 on (from memory)
SERIALS = (36526, 73050)  # 2000-01-01 to 2099-12-31
FIRST_DAY = datetime(2000, 1, 1)  # stands for the day of the first row where no row has a date; never shown
CHANGES = ((3, 2), (3, -1), (4, 1), (9, -1), (10, 1), (10, -1), (11, 1))  # month, which Sunday: summer_time (memory)

_DATE = (
    r"(?P<year>\d{4})[-/.](?P<month>\d{1,2})[-/.](?P<day>\d{1,2})"
    r"|(?P<dotted>\d{1,2}\.\d{1,2}\.(?:\d{4}|\d{2}))"
    r"|(?P<slashed>\d{1,2}([/-])\d{1,2}\8\d{4})"
    r"|day (?P<number>\d{1,2})"
)
_CLOCK = (
    r"(?P<hour>\d{1,2})(?P<dot>[:.])(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,]\d{1,6})?)? ?"
    r"(?P<half>[ap]\.?m\.?)?"
)
_ZONE = r"(?P<zone>z|(?P<sign>[+-])(?P<east>\d{2}):?(?P<minutes>\d{2})?)?"
_FORM = re.compile(rf"(?:(?P<date>{_DATE.replace(chr(92) + '8', '(?P=dash)').replace('([/-])', '(?P<dash>[/-])')})(?:[t ,] ?|, ?))?{_CLOCK} ?{_ZONE}", re.ASCII)
