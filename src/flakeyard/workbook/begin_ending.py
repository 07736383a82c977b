"""The end of a batch told in a terminal: the verdict in words, what stands against it, and what would mend it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator

from flakeyard.messages import say
from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.intent.fields import FIELDS, NEEDED
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.plan.mending import mends
from flakeyard.steps.plan.next_answer import NextAnswer, next_answer
from flakeyard.steps.plan.plan import Outcome, already_dry, plan
from flakeyard.steps.plan.ways import asked, earning, ways
from flakeyard.units import InputError, show
from flakeyard.workbook import words
from flakeyard.workbook.asking import Story, refusal
from flakeyard.workbook.kept_story import still_needed
from flakeyard.workbook.paper import ways_text
from flakeyard.workbook.story_file import question_of

SLOW = ("T", "W")  # first letters of the rules that count warm and moist hours


def tell_end(story: Story, path: str, tell: Callable[[str], None]) -> None:
    """Say what became of a story, line by line as it is found: ``tell`` prints a paragraph."""
    print()
    print(say("story.working"), flush=True)
    try:
        outcome = plan(read_batch({name: {} for name in NEEDED} | story.typed))
    except InputError as mistake:
        tell(_no_plan(story, mistake, path))
        return
    for line in _ending(outcome, path):
        if line:
            tell(line)
            sys.stdout.flush()


def _no_plan(story: Story, mistake: InputError, path: str) -> str:
    found, open_now = getattr(mistake, "mistakes", (mistake,)), still_needed(story)
    if open_now and all(one.lacking for one in found):
        return say("begin.no_plan", fields=" ".join(one.words for one in open_now), file=path)
    return say("begin.cannot", why=refusal(mistake))


def _ending(outcome: Outcome, path: str) -> Iterator[str]:
    """The verdict in words, the weight to stop at, the hours, and what would help most; line by line as it is found."""
    if words.refused(outcome.verdict):
        yield from _refused_ending(outcome)
    else:
        found, reason = ways(outcome), words.first_reason(outcome.verdict)
        yield words.verdict_sentence(outcome.verdict, outcome.keep)
        yield say("begin.reason", reason=reason) if reason else ""
        yield from stop_words(outcome)
        yield ways_text.not_granted(outcome, found)
        yield change_words(outcome)
        yield ways_text.wanted(outcome, found)
        yield help_words(next_answer(outcome.batch))
    yield say("begin.more", file=path)


def _refused_ending(outcome: Outcome) -> Iterator[str]:
    """What stands against a plan, line by line with the way out of each, and what would mend all of it."""
    verdict = outcome.verdict
    yield say("begin.planned" if "no" in (verdict.eat, verdict.keep) or verdict.keep == "nowhere" else "begin.unsure")
    for number, (reasons, way) in enumerate(words.changes_needed(verdict), 1):
        yield say("begin.against", number=number, reason=" ".join(one.text for one in reasons))
        yield f"   {words.WAY_OUT}{way}" if way else ""
    yield words.unknown_sentence(verdict.unknown) if verdict.unknown else ""
    slow = any(one.rule[0] in SLOW for one in words.blocking(verdict))
    yield drying_words(outcome) if slow else ""
    yield say("begin.trying")
    yield from mend_words(outcome)
    help_next = next_answer(outcome.batch)
    yield help_words(help_next) if help_next else ""
    yield words.caution_line(verdict)


def mend_words(outcome: Outcome) -> Iterator[str]:
    """What would mend all that stands against a refused plan, a line for each set of changes."""
    found, wanted = tuple(mends(outcome)), outcome.batch.keep.wanted_days or 0.0
    for mend in found:
        best, rest = ways_text.in_pack(mend.way), ways_text.numbers(mend.way)
        yield say("begin.mend", changes="; ".join(mend.changes), best=best, rest=rest)
    if not found:
        yield say("begin.no_mend")
    elif all((mend.way.days or 0) < wanted for mend in found):
        yield say("begin.mend_short", days=f"{wanted:.0f}")


def drying_words(outcome: Outcome) -> str:
    """Where the hours of a plan come from: how long until the middle of the thickest piece is dry."""
    hours = outcome.drying["hours_to_target"]
    _least, _usual, most = outcome.batch.cut.sizes
    thick = show(most, "length", "both")
    if hours.mid is None:
        return say("begin.dries_never", thick=thick)
    return say("begin.dries", thick=thick, mid=ways_text.rounded(hours.mid), high=ways_text.rounded(hours.high))


def change_words(outcome: Outcome) -> str:
    """The smallest single change that would earn what was asked; nothing where it is granted, or none would."""
    if asked(outcome).granted:
        return ""
    way = next(earning(outcome.batch), None)
    return "" if way is None else say("begin.change", change=ways_text.change_line(way))


def stop_words(outcome: Outcome) -> list[str]:
    """When to stop, by weight and by the clock; nothing for fish that must not be kept."""
    if outcome.verdict.keep == "nowhere":
        return []
    if outcome.load.no_drying:
        return [already_dry(outcome.batch, outcome.load)]
    percent = str(words.stop_percent(outcome.drying["mass_ratio"].mid))
    return [say("begin.stop", percent=percent), hours_words(outcome.drying["hours_to_target"])]


def hours_words(hours: Band) -> str:
    """How long it likely takes, in a sentence."""
    if hours.mid is None:
        return say("begin.never")
    low, mid, high = (None if one is None else show(one, "count") for one in (hours.low, hours.mid, hours.high))
    if high is None:
        return say("begin.hours_open", mid=mid)
    return say("begin.hours", mid=mid, low=low, high=high)


def help_words(found: NextAnswer | None) -> str:
    """What to find out next; nothing that is left open may be answered better than is true."""
    if found is None:
        return say("begin.no_help")
    section, key = found.fact.section, found.fact.key
    question = question_of(section, f"{section}.{key}", FIELDS[section][key])
    verdict = " – ".join((words.keep_words(found.verdict.keep), words.eat_words(found.verdict.eat)))
    best = say("ask.yes") if found.fact.best is True else found.fact.best
    return say(
        "begin.help" if found.alone else "begin.help_first", question=question.words, answer=best, verdict=verdict
    )
