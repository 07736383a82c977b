"""What to measure next, as text: a sentence where it is worth one, and a table of all that might be measured."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from flakeyard.messages import number, say
from flakeyard.steps.plan.plan import Outcome
from flakeyard.units import show
from flakeyard.workbook.words import hours_range

if TYPE_CHECKING:
    from flakeyard.steps.learn.worth import Worth, Worths

WIDEST = 46  # letters of what is measured, in a table of 80 columns


def sentences(outcome: Outcome) -> str:
    """The measurements that would narrow hours and water activity most; "" where none is worth it."""
    best = _worths(outcome).best("activity")
    return f"{of_hours(outcome)} {say('worth.best_activity', what=best.what) if best else ''}".strip()


def of_hours(outcome: Outcome) -> str:
    """What would narrow the hours most, and what would be left of them; "" where nothing is worth it."""
    found, told = _worths(outcome).best("hours"), outcome.drying["hours_to_target"]
    if found is None or not told.known:
        return ""
    part = math.sqrt(found.hours)
    return say("worth.best_hours", what=found.what, range=hours_range(told.mid / part, told.mid * part))


def where() -> str:
    """Where a reading is written down, by the names that the phone page has for them."""
    return say("readings.where", readings=", ".join(named().values()))


def named() -> dict[str, str]:
    """What may be read of the fish itself, as the phone page calls it."""
    return {kind: say(f"phone.kind_{kind}") for kind in ("meter", "strip", "oven")}


def _worths(outcome: Outcome) -> Worths:
    from flakeyard.steps.learn.worth import worths  # a plan is told without the room of logs, but for this

    return worths(outcome)


def table(outcome: Outcome, system: str) -> list[str]:
    """A line for each measurement: with what error, and how wide hours and cautious water activity would be after it."""
    found = _worths(outcome)
    rows = [
        tuple(say("worth.columns").split("|")),
        (say("worth.now"), "", _times(found.hours), number(found.activity, ".3f")),
    ]
    rows += [(one.what, _error(one, system), _times(one.hours), number(one.activity, ".3f")) for one in found.each]
    return [f"{what:{WIDEST}}  {error:>8}  {hours:>9}  {activity:>9}" for what, error, hours, activity in rows]


def _error(one: Worth, system: str) -> str:
    """The error in one system, as there is no room for two."""
    if one.kind:
        return show(one.error, one.kind, "us" if system == "us" else "metric")
    return f"{100 * one.error:.0f} %" if one.name == "strip" else number(one.error, ".2f")


def _times(width: float) -> str:
    return f"x {number(width, '.1f')}"
