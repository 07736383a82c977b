"""The words on the screen: verdicts, limits, cautions.

The texts of the rules themselves stand in ``data/safety_rules.csv``, where the judging reads them too. This module
adds the short words built on them, so that every panel, card and print-out says the same thing in the same words.
A verdict always comes with a plain shape and words; colour may be added but never carries the meaning.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from itertools import pairwise

from flakeyard import limits, tables
from flakeyard.messages import number, point, say, texts, translated, unfilled
from flakeyard.steps.intent.records import Fish
from flakeyard.steps.judge.facts import fact_words, rule_rows, rule_texts
from flakeyard.steps.judge.safety import EAT, Deadline, Reason, Verdict
from flakeyard.steps.judge.shown import PLAN, Scene
from flakeyard.steps.judge.storing import Keeping
from flakeyard.steps.judge.warm_hours import ladder
from flakeyard.steps.plan import timetable as times
from flakeyard.steps.plan.timetable import Moment
from flakeyard.units import INCH, celsius, fahrenheit, show

KEEP_WORDS, EAT_WORDS = unfilled("verdict.keep."), unfilled("verdict.eat.")
SHAPES = {
    "cupboard": "●",
    "ready": "●",
    "cold": "◆",
    "cook_first": "◆",
    "freezer": "■",
    "not_known": "?",
    "nowhere": "✕",
    "no": "✕",
}
SHORT_TIME = say("verdict.short_time")
COOK = say("verdict.cook", core=show(limits.KILL_CORE, "temperature", "both"))
NOT_KNOWN = say("verdict.not_known")
LIMITED_BY_WORDS = unfilled("verdict.limit.")
READING_WORDS = unfilled("verdict.reading.")
NOT_COVERED = "N6"  # the rule that names what is not covered
HEATED = "K1"  # the one rule whose reason may speak for the fish: it is heated through
REFUSED = ("nowhere", "not_known", "no")  # verdicts with which no batch is made
DO_NOT_MAKE, STILL_NEEDED = say("verdict.do_not_make"), say("verdict.still_needed")
WAY_OUT = say("verdict.way_out") + " "
FIVE_MINUTES = 12  # in an hour; a deadline is told to five minutes, rounded down
MAY_EAT, LATER_EAT = unfilled("verdict.may_eat."), unfilled("verdict.later.")


def days_words(days: float) -> str:
    """Days in words, rounded down: "1 day", "14 days", "less than a day"."""
    whole = math.floor(days)
    return say({0: "words.less_than_a_day", 1: "words.one_day"}.get(whole, "words.days"), days=whole)


def keep_words(keep: str, days: float | None = None) -> str:
    """The verdict on keeping, as it stands on cards and screens; ``days`` are those of the cupboard."""
    return KEEP_WORDS[keep].format(days=SHORT_TIME if days is None else days_words(days))


def eat_words(eat: str) -> str:
    """The verdict on eating, as it stands on cards and screens."""
    return EAT_WORDS[eat]


def headline(verdict: Verdict, keeping: Keeping | None = None) -> str:
    """Both verdicts on one line, each with its shape."""
    days = keeping.days if keeping and keeping.place == "cupboard" else None
    keep, eat = keep_words(verdict.keep, days), eat_words(verdict.eat)
    return f"{SHAPES[verdict.keep]} {keep}   {SHAPES[verdict.eat]} {eat}"


def keeping_sentence(keeping: Keeping) -> str:
    """Where, for how long at most, and what decides; what would go wrong next."""
    if keeping.days is None:
        return " ".join(reason.text for reason in keeping.reasons)
    told = {"place": translated(keeping.place), "days": days_words(keeping.days)}
    first = say("verdict.keeps", **told, limit=LIMITED_BY_WORDS[keeping.limited_by])
    return f"{first} {keeping.next_problem}".strip()


def verdict_sentence(verdict: Verdict, keeping: Keeping | None = None) -> str:
    """The verdict as sentences for a screen: headline, keeping, what to do; never without the fixed caution."""
    parts = [headline(verdict, keeping) + "."]
    if keeping is not None and not (refused(verdict) and keeping.place):  # no days for fish that nobody is to eat
        parts.append(keeping_sentence(keeping))
    if verdict.eat == "cook_first":
        parts.append(COOK)
    if "not_known" in (verdict.keep, verdict.eat):
        parts.append(NOT_KNOWN)
    parts += deadline_words(verdict.by)
    if verdict.unknown:
        parts.append(unknown_sentence(verdict.unknown))
    return " ".join([*parts, caution_line(verdict)])


def refused(verdict: Verdict) -> bool:
    """Whether a batch with this verdict is not made: not kept, not eaten, or nobody knows."""
    return verdict.keep in REFUSED or verdict.eat in REFUSED


def blocking(verdict: Verdict) -> tuple[Reason, ...]:
    """The reasons each of which alone would refuse the batch."""
    return tuple(reason for reason in verdict.reasons if reason.keep in REFUSED or reason.eat in REFUSED)


def changes_needed(verdict: Verdict) -> tuple[tuple[tuple[Reason, ...], str], ...]:
    """What stands against a batch: reasons that share a way out, and that way out ("" where none is told)."""
    told: dict[str, list[Reason]] = {}
    for reason in blocking(verdict):
        told.setdefault(reason.way_out, []).append(reason)
    return tuple((tuple(reasons), way) for way, reasons in told.items())


def first_reason(verdict: Verdict) -> str:
    """The first thing that speaks against eating or keeping the fish as it is; nothing where there is none."""
    return next((reason.text for reason in verdict.reasons if not speaks_for_it(reason)), "")


def speaks_for_it(reason: Reason) -> bool:
    """Whether a reason is the one that may speak for the fish: a heating that counts."""
    return reason.rule == HEATED and reason.eat == EAT[0]


# Deadlines


def hours_words(hours: float) -> str:
    """Hours in words, rounded down to five minutes: "7 h 30 min", "12 h", "40 min"."""
    whole, fives = divmod(math.floor(FIVE_MINUTES * hours + 1e-6), FIVE_MINUTES)
    parts = (f"{whole} h" if whole else "", f"{60 * fives // FIVE_MINUTES} min" if fives or not whole else "")
    return " ".join(filter(None, parts))


def share_words(share: float) -> str:
    """So many of ten, rounded down; never all of them."""
    tenths = math.floor(10 * share + 1e-9)
    if tenths >= 10:
        return say("words.nearly_all")
    return say("words.tenths", tenths=tenths) if tenths else say("words.less_than_a_tenth")


def chance_words(share: float) -> str:
    """How many batches make a deadline."""
    one = math.floor(10 * share + 1e-9) <= 1
    return say("words.chance_one" if one else "words.chance", share=share_words(share))


def deadline_words(
    by: Sequence[Deadline], clock: Callable[[float], str] | None = None, open_yet: bool = True
) -> tuple[str, ...]:
    """By when the marked piece must have its stop weight, and what holds later; nothing where no clock stands in the way.

    Parameters: by – of a verdict; clock – a time of day for hours since the heating, where it is known; open_yet – whether
    the piece is still on its way, so that the chance is told.
    """
    if not by or by[0].hours is None:
        return ()

    def until(hours: float) -> str:
        return hours_words(hours) + (f" ({clock(hours)})" if clock else "")

    first = {"eat": MAY_EAT[by[0].eat], "hours": until(by[0].hours), "chance": chance_words(by[0].chance)}
    told = [say("verdict.by_chance" if open_yet else "verdict.by", **first)]
    for before, one in pairwise(by):
        late = "verdict.by_later" if before is by[0] else "verdict.by_after"
        told.append(say(late, hours=until(before.hours), eat=LATER_EAT[one.eat]))
    return tuple(told)


# Numbers of a kitchen


def stop_percent(ratio: float) -> int:
    """The weight to stop at in per cent of the weight as laid, rounded down, so that no piece is taken off too early."""
    return math.floor(100 * ratio + 1e-6)


def stop_weight(percent: int, laid: int, unit: str) -> str:
    """So many whole per cent of a weight as laid, in g or oz, rounded down to what a kitchen scale shows; without the unit."""
    return f"{percent * laid // 100}" if unit == "g" else number(percent * laid / 100, ".2f")


def about_hours(hours: float, rounded: Callable[[float], int] = round) -> str:
    """Hours of a forecast: to the half hour below ten, whole ones above; they are never known better. Without the unit."""
    halves = 2 * rounded(hours) if hours >= 10 else max(rounded(2 * hours), 1)
    whole, half = divmod(halves, 2)
    return " ".join(filter(None, (str(whole) if whole or not half else "", "1/2" if half else "")))


def hours_range(low: float, high: float) -> str:
    """The ends of a forecast, rounded outwards: "3 to 13 h"."""
    return f"{say('amount.from_to', low=about_hours(low, math.floor), high=about_hours(high, math.ceil))} h"


NUMBER = r"[−-]?\d[\d./]*" if point() == "." else r"[−-]?\d(?:[\d./]|,(?=\d))*"
BETWEEN = "|".join(  # what stands in a range, and between two of a kind
    re.escape(joined.strip("|"))
    for joined in (
        say("amount.from_to", low="|", high="|"),
        *(say(f"words.{one}", one="|", other="|") for one in ("and", "or")),
    )
)
RANGE = rf"{NUMBER}(?:(?:{BETWEEN}| and |–){NUMBER})*"
UNITS = (  # metric, US, and how a number of the one becomes one of the other
    ("°C", "°F", fahrenheit, celsius),
    ("mm", "in", lambda length: 0.001 * length / INCH, lambda length: 1000 * INCH * length),
)
PAIRED = re.compile(  # an amount in both, which stays as it is in one
    r"(?P<metric>\b\d[\d.,/ –]*\s?(?:g|kg|mL|L|cm²|m²)) \((?P<us>\d[\d.,/ –]*\s?(?:oz|lb|tsp|tbsp|cup|qt|gal|in²|ft²))\)"
)


def in_system(text: str, system: str) -> str:
    """A text that gives its temperatures and thicknesses in both systems, in one of them only; what is given in the other
    alone, as somebody typed it, is counted over. "both" leaves the text as it is."""
    if system == "both":
        return text
    text = PAIRED.sub(r"\g<metric>" if system == "metric" else r"\g<us>", text)
    for metric, us, to_us, to_metric in UNITS:
        pair = rf"({RANGE}) {metric}(?: \(({RANGE}) {us}\)?|, ({RANGE}) {us})"
        text = re.sub(pair, rf"\1 {metric}" if system == "metric" else rf"\2\3 {us}", text)
        there, here, count = (us, metric, to_metric) if system == "metric" else (metric, us, to_us)
        text = re.sub(rf"({RANGE}) {there}\b", lambda found: f"{_counted_over(found[1], count)} {here}", text)  # noqa: B023
    return text


def _counted_over(numbers: str, count: Callable[[float], float]) -> str:
    """Every number of a range in the other unit, as far as it can be read: fractions stay as they are."""
    plain = numbers if point() == "." else numbers.replace(",", ".")
    return re.sub(r"[−-]?\d[\d.]*(?!/)", lambda one: number(count(float(one[0].replace("−", "-"))), ".3g"), plain)


# What is not known


def plain_words(names) -> tuple[str, ...]:
    """What is not known, by fact or by path of a plan, in plain words; each thing once."""
    told = fact_words()
    return tuple(dict.fromkeys(told.get(name, name.rpartition(".")[2].replace("_", " ")) for name in names))


def unknown_sentence(names) -> str:
    """Missing facts in plain words."""
    return say("verdict.not_told", what=", ".join(plain_words(names)))


def sodium_sentence(serving: str, low: float, high: float) -> str:
    """Sodium of a serving beside the daily limit; the serving in words ("30 g (1 oz)"), sodium in mg."""
    rounded = [f"{round(value, -1):.0f}" for value in (low, high)]
    return say("verdict.sodium", serving=serving, sodium="–".join(dict.fromkeys(rounded)), limit=limits.SODIUM_US)


def caution_line(verdict: Verdict | None = None) -> str:
    """The caution that goes with every result; beside a verdict in the words that fit it."""
    usual = rule_texts()["E1", ""]
    if verdict is None:
        return usual.text
    return Scene(PLAN, verdict.keep, verdict.eat, None, "not_known", frozenset()).row(usual).text


def where_to_ask() -> str:
    """Whose word counts more than this workbook's."""
    return rule_texts()["E2", ""].text


def when_ill() -> str:
    """Signs that need a poison centre or emergency care."""
    return rule_texts()["E3", ""].text


def not_covered() -> str:
    """What this workbook is not for."""
    return rule_texts()[NOT_COVERED, ""].text


def ladder_texts() -> list[tuple[str, str]]:
    """The rungs of water activity from moist to dry: the rule and what it says, without a number of any batch."""
    rungs = (
        row
        for row in rule_texts().values()
        if row.section == "ladder" and row.rule not in ("L9", "L10") and not row.variant
    )
    return [(row.rule, row.text.rpartition("{aw}. ")[2]) for row in rungs]


def all_texts() -> Iterator[tuple[str, str]]:
    """Every text that a verdict can show, and every message, with the place it stands; for checking them as a whole."""
    yield from ((f"message {name}", text) for name, text in texts().items())
    for row in (row for rows in rule_rows().values() for row in rows):
        name = " ".join(filter(None, (row.rule, row.variant, row.case)))
        yield name, row.text
        if row.way_out:
            yield f"{name} way out", row.way_out
    for rung in ladder():
        yield from (
            (f"{rung.rule} {rung.count} {name}", text)
            for name, text in (("", rung.text), ("way out", rung.way_out))
            if text
        )
    yield from ((f"fact {name}", text) for name, text in fact_words().items())


# The timetable


def what(moment: Moment, system: str = "both") -> str:
    """What to do at a moment of the timetable."""
    return say(f"moment.{moment.step.replace(' ', '_')}", turn=moment.turn, warmth=_warmth(moment, system))


def lasts(moment: Moment, system: str = "both") -> str:
    """How long it takes, and how warm a soak or a rest is; heating takes about so many hours."""
    if moment.lasts is None:
        return ""
    if moment.step == "heat":
        return f"{moment.lasts / 3600:.0f} h"
    return say("moment.lasts_at", time=show(moment.lasts, "time"), warmth=_warmth(moment, system))


def _warmth(moment: Moment, system: str) -> str:
    return "" if moment.temperature is None else show(moment.temperature, "temperature", system)


def fish_name(fish: Fish) -> str:
    """The fish as it was typed; in another language by its name of the table, where it has one there."""
    typed, record = fish.species or "", fish.record
    name = record.common_name if record else typed
    return typed if translated(name) == name else translated(name)


def pack_name(told: str) -> str:
    """A pack by its name in the table, whatever it was called."""
    return translated(tables.pack(told).common_name)


def when(moment: Moment, start: datetime | None = None) -> str:
    """A moment as a weekday with its hour, or as hours from the first salt."""
    if start is None:
        return f"+{number(moment.at / 3600, '.1f')} h"
    return day_and_hour(times.clock(moment, start))


def day_and_hour(at: datetime) -> str:
    """A time of day with its weekday, short: "Sat 18:00"."""
    return f"{say(f'weekday.{at.weekday()}')} {at:%H:%M}"


def day(at: datetime) -> str:
    """A weekday in full."""
    return say(f"weekday.long.{at.weekday()}")
