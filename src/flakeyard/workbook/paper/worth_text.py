"""What to measure next, as text: one sentence where it is worth one, and a table of all that might be measured."""

from __future__ import annotations

import math

from flakeyard.messages import say
from flakeyard.steps.plan.plan import Outcome

WIDEST = 46  # letters of what is measured, in a table of 80 columns


def sentence(outcome: Outcome) -> str:
    """The measurements that would narrow hours and water activity most; "" where none is worth it."""
    from flakeyard.steps.learn.worth import worths  # a plan is told without the room of logs, but for this

    found, told = worths(outcome), outcome.drying["hours_to_target"]
    hours, activity = found.best("hours"), found.best("activity")
    parts = []
    if hours and told.known and told.mid:
        part = math.sqrt(hours.hours)
        span = {
            "low": _hours(told.low),
            "high": _hours(told.high),
            "soon": _hours(told.mid / part),
            "late": _hours(told.mid * part),
        }
        parts.append(say("worth.best_hours", what=hours.what, **span))
    if activity:
        parts.append(say("worth.best_activity", what=activity.what))
    told = "; ".join(parts)
    return say("worth.best", parts=told[0].upper() + told[1:]) if parts else ""


def _hours(hours: float | None) -> str:
    hours = hours or 0.0
    return f"{hours:.0f}" if hours >= 10 else f"{hours:.1f}"


def table(outcome: Outcome) -> list[str]:
    """A line for each measurement: with what error, and how wide hours and cautious water activity would be after it."""
    from flakeyard.steps.learn.worth import worths

    found = worths(outcome)
    rows = [
        tuple(say("worth.columns").split("|")),
        (say("worth.now"), "", _times(found.hours), f"{found.activity:.3f}"),
    ]
    rows += [(one.what, one.error, _times(one.hours), f"{one.activity:.3f}") for one in found.each]
    return [f"{what:{WIDEST}}  {error:>8}  {hours:>9}  {activity:>9}" for what, error, hours, activity in rows]


def _times(width: float) -> str:
    return f"x {width:.1f}"
