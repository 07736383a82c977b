"""Wishes in words: what is asked on the command line, what cannot be met, what to buy, and the times by the clock."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime, timedelta

from flakeyard.messages import number, say
from flakeyard.models.constants import DAY, HOUR
from flakeyard.steps.plan import timetable
from flakeyard.steps.plan.plan import Outcome
from flakeyard.steps.plan.wishes import Carried, Task, Unmet, Wish, Wished
from flakeyard.units import InputError, read_amount, show, show_kitchen
from flakeyard.workbook import words

DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
NOON = {"noon": "12:00", "midnight": "00:00"}
LARGEST = 100.0  # kg
CLOCK = re.compile(r"(\d{1,2})(?::([0-5]\d))?")


# ---- reading


def read_wish(
    raw=None, dried=None, salt=None, done_by=None, no_work=None, carry=None, now: datetime | None = None
) -> Wish:
    """A wish as it was typed; None for what was not. Raises: InputError."""
    return Wish(
        raw=_mass(raw, "--raw", "5 kg"), dried=_mass(dried and re.sub(r"\s+dried$", "", dried.strip()), "--for", "1 kg dried"),
        most_salt=None if salt is None else read_amount(salt, "percent", "--salt", 0.001, 0.5, '"3 %"', bare=True).value,
        done_by=None if done_by is None else read_moment(done_by, now), no_work=None if no_work is None else _night(no_work),
        carried=None if carry is None else _carry(carry),
    )  # fmt: skip


def _mass(text: str | None, name: str, example: str) -> float | None:
    return None if text is None else read_amount(text, "mass", name, 0.02, LARGEST, f'"{example}"').value


def read_moment(text: str, now: datetime | None) -> datetime:
    """A date with an hour, or a day of the week with one: the next such day."""
    day, _, clock = text.strip().lower().partition(" ")
    hour = _minutes(NOON.get(clock.strip(), clock.strip()))
    if day in DAYS and hour is not None and now is not None:
        midnight = now.replace(hour=0, minute=0, second=0, microsecond=0)
        at = midnight + timedelta(days=(DAYS.index(day) - now.weekday()) % 7, minutes=hour)
        return at if at > now else at + timedelta(days=7)
    try:
        return datetime.fromisoformat(text.strip())
    except ValueError:
        raise InputError("--done-by", text, say("wish.no_moment"), say("wish.moment"), "Sunday 12:00") from None


def _minutes(text: str) -> int | None:
    found = CLOCK.fullmatch(text.strip())
    if not found or int(found[1]) > 24:
        return None
    return (60 * int(found[1]) + int(found[2] or 0)) % 1440


def _night(text: str) -> tuple[int, int]:
    ends = [_minutes(part) for part in re.split(r"-|–| to ", text.strip())]
    if len(ends) != 2 or None in ends or ends[0] == ends[1]:
        raise InputError("--no-work", text, say("wish.no_night"), say("wish.night_form"), "22:00-6:00")
    return ends[0], ends[1]


def _carry(text: str) -> Carried:
    days, _, warm = text.partition(" at ")
    return Carried(
        read_amount(days, "time", "--carry", HOUR, 400 * DAY, '"7 days at 30 °C"').value / DAY,
        read_amount(warm, "temperature", "--carry", -10.0, 60.0, '"7 days at 30 °C"').value,
    )


# ---- saying


def first(wished: Wished, units: str) -> list[str]:
    """What cannot be met, each in a sentence: it stands before everything else."""
    return [say("wish.not", what=say(f"wish.{one.wish}", **_told(one, units))) for one in wished.unmet]


def _told(one: Unmet, units: str) -> dict:
    """The values of a sentence in words."""
    told = dict(one.told)
    if one.wish == "night":
        night, morning = (f"{minutes // 60:02d}:{minutes % 60:02d}" for minutes in told["no_work"])
        return {"begin": night, "end": morning, "tasks": "; ".join(_grouped(told["tasks"], told["start"]))}
    if one.wish == "severer":
        return {name: " ".join(words.headline(told[name]).split()) for name in ("now", "before")}
    if one.wish == "loads":
        return {name: show_kitchen(told[name], "mass", units) for name in ("whole", "each")} | {"loads": told["loads"]}
    if one.wish == "salt":
        return {name: f"{number(100 * told[name], '.1f')} %" for name in ("most", "salt")}
    if one.wish == "done_by":
        told["end"] += timedelta(seconds=-(told["end"].timestamp() % -timetable.WHOLE))  # never earlier than it is
        return {name: f"{words.day(told[name])} {told[name]:%Y-%m-%d %H:%M}" for name in ("wished", "end")}
    if one.wish.startswith("carried"):
        days = say("wish.no_time") if told["granted"] is None else words.days_words(told["granted"])
        return {
            "days": words.days_words(told["days"]), "temperature": show(told["temperature"], "temperature", "both"),
            "granted": days,
        }  # fmt: skip
    return told


def _grouped(night: tuple[Task, ...], start: datetime) -> Iterator[str]:
    """Work at night, each kind with its hours: a run of weighings by its first and last."""
    kinds: dict[str, list[list[float]]] = {}
    for task in night:
        kind = "heat" if task.step in ("heat", "dry") else "weighing" if task.step in WEIGHINGS else "soak"
        runs = kinds.setdefault(say(f"wish.{kind}"), [])
        if runs and task.at - runs[-1][-1] < RUN:
            runs[-1].append(task.at)
        else:
            runs.append([task.at])
    for kind, runs in kinds.items():
        yield say("wish.task", step=kind, clock=", ".join(_run(run, start) for run in runs))


def _run(seconds: list[float], start: datetime) -> str:
    ends = [words.day_and_hour(timetable.clock(timetable.Moment("", at), start)) for at in (seconds[0], seconds[-1])]
    return ends[0] if ends[0] == ends[1] else say("wish.span", first=ends[0], last=ends[1])


RUN = 1.5 * HOUR  # s: hourly weighings are one run
WEIGHINGS = ("first weighing", timetable.MAY_BE_DONE, timetable.NEVER)


def times(outcome: Outcome, start: datetime, units: str) -> list[str]:
    """Each moment by the clock."""
    return [f"{words.when(moment, start)}  {words.what(moment, units)}" for moment in timetable.timetable(outcome)]
