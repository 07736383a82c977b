"""Ways to keep a batch as text: a line where what was asked is not granted, a table of ways, changes that would earn it."""

from __future__ import annotations

import textwrap

from flakeyard.messages import number, say, translated
from flakeyard.steps.judge.facts import PLACES
from flakeyard.steps.judge.safety import KEEP
from flakeyard.steps.plan.plan import Outcome
from flakeyard.steps.plan.ways import Asked, Way, asked, nearest
from flakeyard.workbook import words

GAP, PACK = 2, 22  # letters between columns, and of a line of a pack: the table is no wider than the text
COOKED = "*"  # behind the days of fish that has to be cooked


def not_granted(outcome: Outcome, found: tuple[Way, ...]) -> str:
    """What was asked and is not granted, with the nearest way that is; nothing where it is granted."""
    if asked(outcome).granted:
        return ""
    best = nearest(outcome, found)
    if best is None:
        return f"{missed(outcome)} {say('ways.none')}"
    return f"{missed(outcome)} {say('ways.nearest', best=in_pack(best), rest=numbers(best))}"


def missed(outcome: Outcome) -> str:
    """That what was asked is not granted, of a plan that does not grant it."""
    aim, verdict = asked(outcome), outcome.verdict
    kept = KEEP.index(verdict.keep) <= KEEP.index(PLACES[aim.place])
    return say("ways.not_to_eat" if kept else "ways.not_granted", asked=what(aim), eat=words.eat_words(verdict.eat))


def what(aim: Asked) -> str:
    """What was asked, in words."""
    return in_pack(aim) if aim.pack else say(f"ways.{aim.place}")


def instead(best: Way) -> str:
    """The way that is granted, with its numbers."""
    return say("kitchen.instead", best=in_pack(best), rest=numbers(best))


def in_pack(way: Way | Asked) -> str:
    """A place and a pack by its name in the table, whatever was typed."""
    return say("ways.in_pack", place=say(f"ways.{way.place}"), pack=words.pack_name(way.pack))


def rows(found: tuple[Way, ...]) -> list[tuple[str, ...]]:
    """A head, and a row for each way: place, pack, weight to stop at, hours, days with the mark of what must be cooked."""
    told = [
        (
            translated(way.place),
            words.pack_name(way.pack),
            _percent(way),
            _hours(way),
            _days(way),
        )
        for way in found
    ]
    return [tuple(say("ways.columns").split("|")), *told]


def table(found: tuple[Way, ...]) -> list[str]:
    """The rows as lines of text, with a foot where something must be cooked."""
    told = [line for row in rows(found) for line in _wrapped(row)]
    widths = [max(len(row[column]) for row in told) + GAP for column in range(len(told[0]))]
    lines = ["".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in told]
    return [*lines, *foot(found)]


def _wrapped(row: tuple[str, ...]) -> list[tuple[str, ...]]:
    """A row, and beneath it the rest of a long name of a pack."""
    place, pack, *rest = row
    name, *more = textwrap.wrap(pack, PACK)
    return [(place, name, *rest), *(("", one, *[""] * len(rest)) for one in more)]


def foot(found: tuple[Way, ...]) -> list[str]:
    """What the mark means, where there is one."""
    return [f"{COOKED} {words.COOK}"] * any(way.eat == "cook_first" for way in found)


def wanted(outcome: Outcome, found: tuple[Way, ...]) -> str:
    """Which ways last as long as was wished; nothing where no wish was told."""
    days = outcome.batch.keep.wanted_days
    if days is None:
        return ""
    enough = [in_pack(way) for way in found if (way.days or 0) >= days]
    if not enough:
        return say("ways.too_long", days=f"{days:.0f}")
    return say("ways.long_enough", days=f"{days:.0f}", ways="; ".join(enough))


def change_lines(changes: tuple[Way, ...]) -> list[str]:
    """A line for each change that would earn what was asked."""
    if not changes:
        return [say("ways.no_change")]
    return [change_line(way) for way in changes]


def change_line(way: Way) -> str:
    """What to change, and what comes of it."""
    return say("ways.change", change=way.change, rest=numbers(way))


def numbers(way: Way) -> str:
    stop = say("ways.as_laid") if way.no_drying else say("ways.stop_at", percent=_percent(way))
    until = say("ways.no_days_said") if way.days is None else say("ways.days", days=words.days_words(way.days))
    eat = words.eat_words(way.eat)
    return say("ways.numbers", stop=stop, hours=_hours(way, "ways.about"), until=until, eat=eat)


def _percent(way: Way) -> str:
    return say("ways.as_laid") if way.no_drying else f"{words.stop_percent(way.mass_ratio)} %"


def _hours(way: Way, message: str = "ways.hours") -> str:
    hours = way.hours
    if way.no_drying:
        return say("ways.no_drying")
    if hours.mid is None:
        return say("ways.never")
    low, mid, high = (rounded(one) for one in (hours.low, hours.mid, hours.high))
    return say(message, low=low, mid=mid, high=high)


def rounded(hours: float | None) -> str:
    return say("ways.no_end") if hours is None else number(hours, ".0f" if hours >= 10 else ".1f")


def _days(way: Way) -> str:
    days = say("ways.no_days") if way.days is None else str(way.days)
    return f"{days} {COOKED}" if way.eat == "cook_first" else days
