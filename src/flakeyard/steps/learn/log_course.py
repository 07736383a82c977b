"""The course of a log: what each row allows but one after the other forbids, and what a person should look at again."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import pairwise
from statistics import median
from typing import Any

from flakeyard.messages import say
from flakeyard.steps.learn.log_cells import in_other_units, unit_slip
from flakeyard.steps.learn.log_trays import ALL, THICKEST
from flakeyard.units import InputError

GAIN, GAIN_GRAMS = 0.02, 0.002  # kg/kg and kg: fish that dries does not gain more from one weighing to the next
LEAST_LEFT = 0.12  # kg/kg: less than the dry matter of any fish, so a digit is missing (judgement)
STEPS = (0.005, 0.002, 0.001)  # kg: steps that a scale betrays when every weight is a multiple; none finer is believed
BETRAYED = 6  # weights, from which on that is no chance: under 1 in 60 for 2 g
RESTARTS = ("taken out", "freshened")
JUMP = 0.25  # kg/kg from one weighing to the next: worth a second look when it is too fast (judgement)
FASTEST = 0.85  # 1/h of ln mass: strips of 2.5 mm at 75 °C lose at most 0.81 in the drying model (computed)
FAST, FASTER = 0.45, 2.5  # 1/h, and over the pace before, as drying only slows down: a day may have passed (judgement)
CLEAR, CLEAR_GRAMS = 0.2, 0.012  # of ln mass, and kg: a loss that is no error of a kitchen scale (judgement)
LONGEST_GAP = 96.0  # h from one row to the next: the forecast looks no farther
LONGEST = 1000.0  # h from the start of drying, as in the column of hours
AS_LAID = {THICKEST: (0.005, 2.0), ALL: (0.1, 60.0)}  # kg: what a piece and a load may weigh (judgement)
TRAY_AS_LAID = 0.04, 4.0  # kg, likewise a tray
ALIKE = 8.0  # kg/kg between the trays of one load as laid (judgement)
LATE = 0.5  # h after which the first weighing is not one as laid


def step_of(masses) -> float:
    """The step of a scale by the weights it showed: the coarsest of which many are all multiples.

    Returns: float [kg, above 0]
    Source: the weighings given; judgement, BETRAYED
    """
    if len(masses) < BETRAYED:
        return STEPS[-1]
    return next(
        (step for step in STEPS if all(abs(mass / step - round(mass / step)) < 1e-6 for mass in masses)), STEPS[-1]
    )


def odd_piece_aside(entries: list) -> tuple[list, list[str]]:
    """The rows with one odd weight of the marked piece taken out of its course, and what is said of it by its line.

    Where two rows could be the odd one, it is the lighter: then the piece counts as moister. A weight as laid stays.
    """
    own = [entry for entry in entries if entry.weighed and entry.tray == THICKEST]
    step = step_of([entry.mass for entry in entries if entry.weighed])
    if any(entry.event in RESTARTS for entry in own) or not _gains(own, step):
        return entries, []
    number = next(number for number, (one, other) in enumerate(pairwise(own)) if _gained(one, other, step))
    for odd in (own[number] if number else None, own[number + 1]):
        if odd is not None and not _gains([entry for entry in own if entry is not odd], step):
            told = say("log.odd_piece", line=odd.line, weight=_grams(odd))
            rest = replace(odd, mass=None, note=odd.note or say("log.odd_note", weight=_grams(odd)))
            return [rest if entry is odd else entry for entry in entries], [told]
    return entries, []


def _gains(own: list, step: float) -> bool:
    return any(_gained(one, other, step) for one, other in pairwise(own))


def _gained(previous, entry, step: float) -> bool:
    """Whether more was gained than a restless scale of this step shows."""
    return entry.mass > previous.mass * (1 + GAIN) and entry.mass > previous.mass + max(GAIN_GRAMS, step)


def check_course(entries, where: str, column: str, began, assumed: frozenset = frozenset(), night=None) -> None:
    """What is possible row by row but not one after the other.

    Parameters: entries – of the log; column – of the masses; began – None where hours were typed; assumed – lines whose
    day was not written; night – in which clocks may have been changed
    Raises: InputError
    """
    last: dict[str, Any] = {}
    first: dict[str, Any] = {}
    pace: dict[str, Any] = {}
    paused, before = False, -math.inf
    step = step_of([entry.mass for entry in entries if entry.weighed])
    for entry in entries:
        place = say("file.line", where=where, line=entry.line)
        _check_hours(entry, before, place, began)
        before, paused = entry.hours, _check_pause(entry, paused, place)
        if not entry.weighed:
            continue
        previous = last.get(entry.tray)
        if previous is not None and entry.event not in RESTARTS:
            _check_moment(previous, entry, place, night)
            _check_pair(previous, entry, first[entry.tray], place, column, step)
            pace[entry.tray] = _check_day(previous, entry, place, pace.get(entry.tray), assumed)
        last[entry.tray] = entry
        first[entry.tray] = entry.mass if previous is None or entry.event in RESTARTS else first[entry.tray]


def _check_hours(entry, before: float, place: str, began) -> None:
    if began is None and entry.hours < before:
        raise InputError(
            f"{place}, hours", entry.hours, say("log.runs_backwards"), say("log.or_more", before=before), f"{before:g}"
        )
    if abs(entry.hours) > LONGEST:
        raise InputError(
            f"{place}, time", say("log.from_start", hours=entry.hours), say("log.so_long"),
            say("log.at_most_hours", most=LONGEST), "2026-11-20 17:00",
        )  # fmt: skip


def _check_pause(entry, paused: bool, place: str) -> bool:
    """Whether the dryer stands still after this row."""
    if entry.event not in ("pause", "pause cold", "go on"):
        return paused
    if paused == (entry.event != "go on"):
        why = say("log.pause_open") if paused else say("log.no_pause")
        raise InputError(f"{place}, event", entry.event, why, say("log.pause_allowed"), "go on")
    return not paused


def _grams(entry) -> str:
    return say("log.grams", mass=1000 * entry.mass)


def _check_moment(previous, entry, place: str, night) -> None:
    """Refuse a second weight of the same moment."""
    if entry.hours != previous.hours or entry.mass == previous.mass:
        return
    name = "log.two_weights.night" if night else "log.two_weights"
    why = say(name, tray=entry.tray, before=_grams(previous), line=previous.line, night=night)
    raise InputError(f"{place}, mass", _grams(entry), why, say("log.one_of_them"), say("log.leave_row_out"))


def _check_pair(previous, entry, first: float, place: str, column: str, step: float) -> None:
    """Refuse a gain while drying, and a loss beyond all water; a mass in another unit is one or the other."""
    before = say("log.weight_in_line", weight=_grams(previous), line=previous.line)
    if _gained(previous, entry, step):
        slip = unit_slip(entry.mass / previous.mass, column)
        raise InputError(
            f"{place}, mass", _grams(entry),
            say("log.gained.slip" if slip else "log.gained", tray=entry.tray, before=before, line=previous.line, slip=slip),
            say("log.at_most_grams", most=1000 * previous.mass * (1 + GAIN)), say("log.gain_example"),
        )  # fmt: skip
    if entry.mass < LEAST_LEFT * first:
        slip = unit_slip(previous.mass / entry.mass, column)
        raise InputError(
            f"{place}, mass", _grams(entry), " ".join(filter(None, [say("log.lost_all", tray=entry.tray), slip])),
            say("log.at_least_grams", least=1000 * LEAST_LEFT * first), say("log.loss_example"),
        )  # fmt: skip


def _too_fast(previous, entry) -> bool:
    """Whether more was lost than drying can take away in that time."""
    hours = entry.hours - previous.hours
    return entry.mass < (1 - JUMP) * previous.mass and math.log(previous.mass / entry.mass) > FASTEST * hours


def _check_day(previous, entry, place: str, before: float | None, assumed: frozenset) -> float | None:
    """The pace of this loss [1/h of ln mass]; refused where it is too fast and a day more may have passed.

    Parameters: before – the pace until the previous weighing, or None
    """
    hours, lost = entry.hours - previous.hours, math.log(previous.mass / entry.mass)
    if not hours:
        return before
    too_fast = lost / hours > (FAST if before is None else FASTER * before)
    clear = lost > CLEAR and previous.mass - entry.mass > CLEAR_GRAMS
    if too_fast and clear and any(previous.line < line <= entry.line for line in assumed):
        raise InputError(
            f"{place}, time", say("log.hours_after", hours=hours, line=previous.line),
            say("log.fell", tray=entry.tray, before=_grams(previous), after=_grams(entry)),
            say("log.dates_allowed"), "2026-11-21 18:00",
        )  # fmt: skip
    return lost / hours


# What a person should look at again


def odd_course(entries, column: str) -> tuple[str, ...]:
    """Sentences on what is possible but unlikely: masses, jumps, gaps, names.

    Parameters: entries – of a log without faults; column – of the masses
    """
    weighed = [entry for entry in entries if entry.weighed]
    return (
        *_odd_masses(weighed, column), *_jumps(weighed), *_gaps(entries), *_odd_names(weighed), *_late_start(entries, weighed),
        *_idle(entries),
    )  # fmt: skip


def _as_laid(weighed) -> dict:
    """The first weighing of each tray."""
    first: dict[str, Any] = {}
    for entry in weighed:
        first.setdefault(entry.tray, entry)
    return first


def _odd_masses(weighed, column: str):
    laid = _as_laid(weighed)
    light, heavy = ([entry for entry in laid.values() if off(entry)] for off in (_light, _heavy))
    for size, odd in (("little", light), ("much", heavy)):
        if odd:
            entry = odd[0]
            other = in_other_units(entry.mass, column, *AS_LAID.get(entry.tray, TRAY_AS_LAID))
            words = {"whose": _whose(entry.tray), "weight": _grams(entry), "column": column, "other": other}
            name = f"log.very_{size}.more" if len(odd) > 1 else f"log.very_{size}"
            yield say(name, line=entry.line, more=len(odd) - 1, **words).strip()
    trays = [entry for tray, entry in laid.items() if tray not in AS_LAID]
    usual = median(entry.mass for entry in trays) if trays else 0.0
    for entry in trays:
        if abs(math.log(entry.mass / usual)) > math.log(ALIKE):
            words = {"tray": entry.tray, "weight": _grams(entry), "slip": unit_slip(usual / entry.mass, column)}
            yield say("log.unlike_others", line=entry.line, usual=1000 * usual, **words).strip()


def _light(entry) -> bool:
    return entry.mass < AS_LAID.get(entry.tray, TRAY_AS_LAID)[0]


def _heavy(entry) -> bool:
    return entry.mass > AS_LAID.get(entry.tray, TRAY_AS_LAID)[1]


def _whose(tray: str) -> str:
    return {ALL: say("log.whole"), THICKEST: say("log.piece")}.get(tray, say("log.tray", tray=tray))


def _jumps(weighed):
    """Losses too fast for any drying, or far beyond those of the other trays."""
    last: dict = {}
    pairs = []
    for entry in weighed:
        if entry.tray in last and entry.event not in RESTARTS:
            pairs.append((last[entry.tray], entry))
        last[entry.tray] = entry
    others: dict = {}
    for early, late in pairs:
        if late.tray not in AS_LAID:
            others.setdefault((early.hours, late.hours), []).append(late.mass / early.mass)
    for early, late in pairs:
        lost = say("log.lost_since", percent=100 * (1 - late.mass / early.mass), line=early.line)
        beside = others.get((early.hours, late.hours), ())
        usual = median(beside) if len(beside) > 2 else None
        if _too_fast(early, late):
            yield say("log.too_fast", line=late.line, whose=_whose(late.tray), lost=lost)
        elif usual and late.tray not in AS_LAID and abs(math.log(late.mass / early.mass / usual)) > -math.log(1 - JUMP):
            words = {"whose": _whose(late.tray), "lost": lost, "beside": 100 * (1 - usual)}
            yield say("log.unlike_beside", line=late.line, **words)


def _gaps(entries):
    for early, late in pairwise(entries):
        if late.hours - early.hours > LONGEST_GAP and late.hours > 0.0:
            hours = late.hours - early.hours
            yield say("log.gap", line=late.line, hours=hours, before=early.line)


def _odd_names(weighed):
    laid = {tray: entry for tray, entry in _as_laid(weighed).items() if tray not in AS_LAID}
    started = any(entry.hours <= LATE for entry in laid.values())
    for tray, entry in laid.items():
        bare = re.fullmatch(r".*?\D0*(\d+)", tray)
        if bare and bare[1] in laid:
            yield say("log.two_trays", tray=tray, other=bare[1], line=entry.line, before=laid[bare[1]].line)
        if started and entry.hours > LATE and entry.event not in RESTARTS:
            yield say("log.new_tray", line=entry.line, tray=tray)


def _idle(entries):
    """Rows that say nothing: often a cell was left out before the mass."""
    for entry in entries:
        if entry.mass is None and not (entry.event or entry.note or entry.readings):
            yield say("log.idle", line=entry.line)


def _late_start(entries, weighed):
    """Hours that were typed and do not begin near 0."""
    if weighed and weighed[0].hours >= 1.0 and not any(entry.hours <= LATE for entry in entries):
        yield (say("log.late_start", line=weighed[0].line, hours=weighed[0].hours))


def against_plan(weighed, planned: float, trays: int, column: str) -> str:
    """A question where the trays as laid are far from what the plan lays on them, and all of them were not weighed.

    Parameters: weighed – weighings of the log; planned – mass of the load as laid [kg]; trays – of the dryer; column – of
    the masses
    """
    laid = _as_laid(entry for entry in weighed if entry.tray not in AS_LAID)
    if not laid or len(laid) >= trays:
        return ""
    usual = median(entry.mass for entry in laid.values())
    share = planned / trays / usual
    if abs(math.log(share)) < math.log(ALIKE):
        return ""
    asked = unit_slip(share, column) or say("log.unit_or_weight")
    return say("log.against_plan", usual=1000 * usual, planned=1000 * planned / trays, asked=asked)
