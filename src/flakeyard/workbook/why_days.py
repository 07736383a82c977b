"""Why fish keeps no longer than is told, by the very row or clock that made the number, and where it would keep longer."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from flakeyard import limits
from flakeyard.messages import say
from flakeyard.steps.judge.storing import BRINE, Keeping, climate_around
from flakeyard.steps.plan.plan import Outcome
from flakeyard.steps.plan.ways import Way, lasts
from flakeyard.units import show
from flakeyard.workbook import words

ASKS = re.compile(
    r"\b(?:why|how come)\b.*\b(?:days?|weeks?|months?|years?|short|long\w*|little|few|soon|more|winter)\b"
    r"|\b(?:how|can|could|what)\b.*\b(?:longer|more days)\b"
)


@dataclass(frozen=True)
class Why:
    """So many days, the reason for them, and where it would be more ("" where that has been said)."""

    days: int | None
    because: str
    more: str

    @property
    def words(self) -> str:
        return " ".join(filter(None, (self.because, self.more)))


def why(outcome: Outcome, until: Keeping | None, longest: Way | None) -> Why | None:
    """Why fish of this kind keeps so long and no longer, and the way in which it keeps longest; None where nothing is kept.

    ``until`` – as the rules have it for this plan or for one that mends it: fish and room are the same in both
    """
    if until is None or until.cap is None:
        return None
    because = _because(outcome, until)
    if until.days is None:
        return Why(None, because, _more(until, longest))
    line = say("why_days.line", days=words.days_words(until.days), place=say(f"ways.{until.place}"), why=because)
    return Why(until.days, line, _more(until, longest))


def falls_short(outcome: Outcome, days: int | None) -> bool:
    """Whether so many days want a reason: none is wanted where it keeps as long as was wished."""
    wanted = outcome.batch.keep.wanted_days
    return wanted is None or (days or 0) < wanted


def _because(outcome: Outcome, until: Keeping) -> str:
    """The reason that decides, in words of its own; a freezer without days says all of it."""
    if until.days is None:
        return until.reasons[0].text
    if until.limited_by != "official_cap":
        return say(f"why_days.{until.limited_by}", around=around(outcome, until.place))
    return say(f"why_days.{_row(outcome, until)}", fatty=f"{100 * limits.FATTY:g}", moist=f"{limits.MOIST:.2f}")


def _row(outcome: Outcome, until: Keeping) -> str:
    """Which row of the guidance decides, as the end of the name of its message."""
    cap, lean = until.cap, outcome.facts.fat_raw is not None and outcome.facts.fat_raw < limits.FATTY
    if cap.state == BRINE:
        return "brine"
    if until.place == "refrigerator":
        return f"refrigerator_{cap.state}"
    if until.place == "freezer" and cap.fat == "fatty" and lean:
        return "freezer_sooner"
    untold = "_untold" if outcome.facts.fat_raw is None and cap.fat == "fatty" else ""
    return f"{until.place}_{cap.fat}{untold}"


def around(outcome: Outcome, place: str) -> str:
    """How warm and damp it is counted there, and that a room that was not told counts as warm and damp."""
    room = outcome.batch.room
    temperature, humidity = climate_around(place, room.temperature, room.relative_humidity)
    told = {"warmth": show(temperature, "temperature", "both"), "damp": f"{100 * humidity:.0f}"}
    untold = place == "cupboard" and None in (room.temperature, room.relative_humidity)
    return say("why_days.around_untold" if untold else "why_days.around", **told)


def _more(until: Keeping, longest: Way | None) -> str:
    """Where it keeps longest of all that was tried; that nothing gives more, where that is so."""
    if until.days is None:
        return ""
    if longest is None or lasts(longest) <= until.days:
        return say("why_days.no_more")
    if longest.days is None:
        return say("why_days.more_unsaid")
    place = say(f"ways.{longest.place}")
    best = say("ways.in_pack", place=place, pack=words.pack_name(longest.pack)) if longest.pack else place
    eat = words.eat_words(longest.eat).lower()
    return say("why_days.more", best=best, days=words.days_words(longest.days), eat=eat)


def answer(wish: str, told: Sequence[Why | None]) -> list[str]:
    """What to say to somebody who asks why it keeps no longer: the reasons of the days that are named, else of all; nothing
    where something else is asked."""
    if not ASKS.search(wish):
        return []
    known = [one for one in told if one is not None]
    named = [one for one in known if str(one.days) in re.findall("[0-9]+", wish)]
    return list({one.because: one.words for one in reversed(named or known)}.values())[::-1]
