"""What need not be known because no answer to it can matter: few warm hours, all of them counted as very warm.

An open answer gives no verdict, so it is never left open for this: the cautious answer is told in its place, with a note,
and only where the verdict is the same as with the mildest one.
"""

from __future__ import annotations

from dataclasses import replace

from flakeyard import limits
from flakeyard.messages import say
from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.judge.safety import Verdict
from flakeyard.steps.plan.judging import judge
from flakeyard.steps.plan.plan import plan
from flakeyard.units import InputError
from flakeyard.workbook.so_far import Story

FEW = 2  # members of a plan that is made only to see whether it can be
PLACE = "fish.hours_above_21c"


def may_not_matter(story: Story) -> bool:
    """Whether so few warm hours are told that it may not matter how many of them were very warm, which is not known."""
    hours = story.get("fish.hours_above_4c")
    return hours is not None and 0 < hours <= limits.HOT_ROOM_HOURS and story.get(PLACE) is None


def counted(story: Story) -> Story | None:
    """The story with all its few warm hours counted as very warm; None where that changes the verdict, or nothing can be planned."""
    hours = story.get("fish.hours_above_4c")
    all_of_them = story.told(PLACE, hours)
    try:
        batch = read_batch(all_of_them.typed)
        worst = plan(batch)
    except InputError:
        return None
    none_of_them = replace(batch, fish=replace(batch.fish, hours_above_21c=0.0))
    best = judge(none_of_them, worst.laid, worst.load).verdict
    return all_of_them.noted(PLACE, say("unasked.very_warm")) if _said(best) == _said(worst.verdict) else None


def trouble(story: Story) -> InputError | None:
    """Why no plan can be made of what is told, though nothing is lacking."""
    try:
        plan(read_batch(story.typed), members=FEW)
    except InputError as mistake:
        return None if any(one.lacking for one in getattr(mistake, "mistakes", (mistake,))) else mistake
    return None


def _said(verdict: Verdict) -> tuple:
    """What a verdict says, whatever the numbers in its reasons."""
    return verdict.keep, verdict.eat, tuple(one.row for one in verdict.reasons), verdict.unknown, verdict.by
