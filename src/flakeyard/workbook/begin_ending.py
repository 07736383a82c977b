"""The end of a batch told in a terminal: the verdict, what stands against it in a few words, and what to do about it.

What to do is numbered and can be taken there and then: it is put into the story as answers are, and the new verdict
comes from the new file. The rules in full stand in the plan; here each cause is said once, with the number that was
exceeded. `changed` is all that a page needs to take the same changes.
"""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace

from flakeyard import limits
from flakeyard.files import write_whole
from flakeyard.messages import say, texts, translated
from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.intent.fields import FIELDS, NEEDED, SOAKS
from flakeyard.steps.intent.records import Heat
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.judge.safety import Case, Reason, Verdict
from flakeyard.steps.judge.warm_hours import rung
from flakeyard.steps.plan.judging import TESTED_THICKNESS
from flakeyard.steps.plan.mending import Mend, all_changed, earned, freshened, lasting, less_salted, mends
from flakeyard.steps.plan.next_answer import NextAnswer, next_answer
from flakeyard.steps.plan.plan import Outcome, already_dry, plan, salt_of, very_salty
from flakeyard.steps.plan.ways import Way, asked, longest, ways
from flakeyard.tables import ingredient
from flakeyard.units import InputError, fahrenheit, show, show_band
from flakeyard.workbook import cupboard_takes, why_days, words
from flakeyard.workbook.advised import still_unmeasured
from flakeyard.workbook.asked import ASKED
from flakeyard.workbook.asking import questions
from flakeyard.workbook.ending_asked import Said, answers, hottest, percent
from flakeyard.workbook.in_order import Steps, Under, in_order, stop_example
from flakeyard.workbook.kept_story import NOTHING_BESIDE, Beside, beside, changed, still_needed
from flakeyard.workbook.meant import as_written
from flakeyard.workbook.near_limit import (
    RAW_CLOCK,
    at_limit,
    at_limit_words,
    first_limit,
    nearest_of_heated,
    up,
    warm_already,
)
from flakeyard.workbook.paper import ways_text
from flakeyard.workbook.question import Question
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.story_file import question_of, text_of
from flakeyard.workbook.telling import refusal
from flakeyard.workbook.which_units import system_of
from flakeyard.workbook.why_days import Why

WARM_HOURS = ("W2", "W3", "W4", "W5", "W6", "W7", "W8", "W9", "W10")
OF_DRYING = (*WARM_HOURS, "G3", "R1", "P1")  # rules that say nothing against the fish as it is before it is heated
OTHERWISE = {"load": "ending.all_at_once", "cut": "ending.as_thick"}  # what a mend without a change of another one does
Asking = Callable[[Story, Question], Story]
LONG = 20  # lines behind the verdict, from which on it is said once more: a terminal shows 24 (judgement)
WHY = "?"
ANSWER = "a"  # the mark of a question to answer
GAP = "\n"  # an empty line
CHOSEN_FIRST = re.compile(
    r"(?:number |option )?([0-9a-z])(?=[,.:;)!]| (?:then|please|is|it is|sounds|looks|seems|would|will)\b)"
)
SAID_MARK = re.compile(r"\b(?:number|option|no\.) ?([0-9a-z])\b(?![.,][0-9])")
UNLIKED = re.compile(
    r"\b(?:no|not|never|neither|nor|without|except|than|instead of|but|cannot|if)\b[^.;!]*$|n't\b[^.;!]*$"
)  # right before a mark
UNCHOSEN = re.compile(r"\W*(?:\w+\W+){0,2}(?:no|not|never|or|wait|sorry)\b|\W*[^,;.]*n't\b")  # right behind a mark
ALONE = re.compile(r"(?<![\w.,])[0-9]+(?!\w|[.,][0-9])|(?<=\bor )a\b|(?<=\band )a\b")  # marks among other words
FURTHER_IN = "   "  # how a line begins that belongs to the one above it
MOST_SENTENCES = 2  # of a rule that has no short words
AT_HIGH_RISK = "H1"  # the rule on who should not eat it
NEAR_ITS_LIMIT = 0.7  # of the hours that count: what a batch slower than planned may use up (judgement)


@dataclass(frozen=True)
class Choice:
    """Something that can be changed there and then: its words, and what is told then, place by place; why it then keeps no
    longer."""

    words: str
    told: tuple[tuple[str, object], ...]
    why: Why | None = None
    of_salt: bool = False  # whether it is there for less salt


@dataclass(frozen=True)
class Answer:
    """A question that was left open and can be answered there and then."""

    words: str
    question: Question


class Looking(str):
    """What is being looked for, said before it is found."""


class OfSalt(str):
    """That less salt was looked for and not found, as a line."""


class NoWay(str):
    """That no plan was found, as a line."""


class WhyLine(str):
    """The reason of the days that are granted, as a line; ``why`` is the whole of it."""

    why: Why | None = None


Line = str | Choice | Answer | Steps


def tell_end(story: Story, path: str, tell: Callable[..., int], typed: Callable[[str], str], ask: Asking) -> None:
    """Say what became of a story, and take a change that is chosen, until none is.

    Parameters: path – of the story's file; tell – prints a paragraph and gives back its number of lines; typed – asks with a prompt for what is typed; ask –
    puts a question and gives back the story with its answer
    """
    with suppress(EOFError):  # where the answers end, all is left as it is
        while story is not None:
            story = _told_once(story, path, tell, typed, ask)


def _told_once(story: Story, path: str, tell: Callable[..., int], typed: Callable, ask: Asking) -> Story | None:
    """The story with what was chosen; None where nothing is to be changed."""
    print()
    print(say("story.working"), flush=True)
    try:
        outcome = plan(read_batch({name: {} for name in NEEDED} | story.typed))
    except InputError as mistake:
        tell(_no_plan(story, mistake, path))
        question = _to_mend(story, mistake)
        chosen = _chosen({ANSWER: Answer("", question)} if question else {}, tell, typed)
        return chosen and ask(story, question)
    system, choices, rows, lines = system_of(story) or "both", {}, 0, []
    for line in _ending(outcome, path, system, story):
        lines.append(line)
        if line == GAP:
            print()
            rows += 1
        elif isinstance(line, Steps):
            rows += _tell_steps(line, system, tell)
        elif line:
            rows += tell(
                words.in_system(_marked(line, choices), system),
                FURTHER_IN * (not isinstance(line, str) or isinstance(line, Under)),
            )
            sys.stdout.flush()
    if rows > LONG:
        tell(in_short(outcome, system))
    chosen = _chosen(choices, tell, typed, lambda wish: answers(wish, _said(outcome, lines, choices), system))
    if isinstance(chosen, Answer):
        return ask(story, chosen.question)
    return chosen and _kept(changed(story, chosen.told), path, tell)


def in_short(outcome: Outcome, system: str) -> str:
    """The verdict once more, with the weight to stop at where there is one, for who has seen it scroll away."""
    if words.refused(outcome.verdict) or outcome.load.no_drying:
        return _headline(outcome)
    told = {"headline": _headline(outcome)} | stop_example(outcome, system)
    if (near := at_limit(outcome)) is None:
        return say("ending.in_short", **told)
    return say("ending.in_short_limit", hours=near.told["hours"], limit=near.told["limit"], **told)


def _tell_steps(told: Steps, system: str, tell: Callable[..., int]) -> int:
    """What to do, a numbered step a line; what does not fit on it, and how it is done, stands beneath its words. Gives back
    the number of lines."""
    rows, row = tell(words.in_system(told.words, system)), 0
    for step in told.steps:
        if isinstance(step, Under):
            rows += tell(words.in_system(step, system), FURTHER_IN + " " * len(f"{row}. "))
            continue
        row += 1
        step = words.in_system(say("order.step", number=row, what=step), system)
        rows += tell(step, FURTHER_IN, " " * len(f"{row}. "))
    return rows


def _marked(line: str | Choice | Answer, choices: dict[str, Choice | Answer]) -> str:
    """A line as it is said; something to choose gets its mark, a number for a change and a letter for an answer."""
    if isinstance(line, str):
        return line
    mark = ANSWER if isinstance(line, Answer) else str(1 + sum(isinstance(one, Choice) for one in choices.values()))
    choices[mark] = line
    return say("ending.choice", mark=mark, words=line.words)


def _said(outcome: Outcome, lines: list[Line], choices: dict[str, Choice | Answer]) -> Said:
    """What has been said that somebody may ask about."""
    changes = {mark: one for mark, one in choices.items() if isinstance(one, Choice)}
    salt = [say("ending.choice", mark=mark, words=one.words) for mark, one in changes.items() if one.of_salt]
    return Said(
        outcome,
        tuple(getattr(one, "why", None) for one in lines),
        (*salt, *(one for one in lines if isinstance(one, OfSalt))),
        {mark: one.told for mark, one in changes.items()},
    )


def _chosen(
    choices: dict[str, Choice | Answer],
    tell: Callable[..., None],
    typed: Callable,
    answered: Callable[[str], list[str]] | None = None,
) -> Choice | Answer | None:
    """What is wanted; nothing with Enter. ``answered``: what is said to a question; None where nothing can be asked."""
    prompt = f"  ({_prompt(choices, answered is not None)}) > "
    while choices or answered:
        wish = typed(prompt).strip().rstrip(".:)").casefold()
        if mark := _mark_of(wish, choices):
            return choices[mark]
        if not wish:
            return None
        for one in (answered and answered(wish)) or [_what_may_be_typed(wish, choices, answered is not None)]:
            tell(one)
    return None


def _prompt(choices: dict[str, Choice | Answer], may_ask: bool) -> str:
    """What may be typed, in few words."""
    if not choices:
        return say("ending.done")
    changes = "/".join(mark for mark in choices if mark != ANSWER)
    offered = [say("ending.change_so", numbers=changes)] * bool(changes)
    offered += [say("ending.answer_it", mark=ANSWER)] * (ANSWER in choices) + [say("ending.ask_it")] * may_ask
    return say("ending.which", choices="; ".join(offered))


def _what_may_be_typed(wish: str, choices: dict[str, Choice | Answer], may_ask: bool) -> str:
    """What a mark does, to who asks; else which marks there are; and what may be asked."""
    told = [say("ending.ask")] * may_ask
    if wish != WHY:
        return " ".join([say("ending.no_such", numbers="/".join(choices))] * bool(choices) + told)
    does = [say("ending.numbers_do")] * any(mark != ANSWER for mark in choices)
    return " ".join([*does, *([say("ending.letter_does", mark=ANSWER)] * (ANSWER in choices)), *told])


def _mark_of(wish: str, choices: dict[str, Choice | Answer]) -> str:
    """The mark that is typed, alone, before other words ("2 then, all at once") or called a number among them; "" where
    none is, or another one too."""
    if wish in choices:
        return wish
    called = list(SAID_MARK.finditer(wish))
    first = CHOSEN_FIRST.match(wish) or (called[0] if called else None)
    if (
        first is None
        or first[1] not in choices
        or UNCHOSEN.match(wish[first.end() :])
        or UNLIKED.search(wish[: first.start()])
    ):
        return ""
    others = {*ALONE.findall(wish[first.end() :]), *(one[1] for one in called)} & set(choices) - {first[1]}
    return "" if others or "?" in wish else first[1]


def _kept(story: Story, path: str, tell: Callable[..., None]) -> Story:
    """The story, written down; the file before it stays as a numbered copy."""
    write_whole(path, text_of(story, path), keep_copy=True)
    tell(say("ending.changed", file=path))
    return story


def _no_plan(story: Story, mistake: InputError, path: str) -> str:
    found, open_now = getattr(mistake, "mistakes", (mistake,)), still_needed(story)
    if open_now and all(one.lacking for one in found):
        asked = [part for one in open_now for part in (one.words, still_unmeasured(story, one)) if part]
        return say("begin.no_plan", fields=" ".join(asked).rstrip("."), file=path)
    return say("begin.cannot", why=refusal(mistake))


def _to_mend(story: Story, mistake: InputError) -> Question | None:
    """The question that a mistake is about, or the first of those that a plan needs; None where no question is."""
    if open_now := still_needed(story):
        return open_now[0]
    field = getattr(mistake, "mistakes", (mistake,))[0].field
    asked_of = [one for one in questions(story) if story.answered(one.place)]
    here = [one for one in asked_of if one.section and re.match(rf"\[+{one.section}\b", field)]
    exact = [one for one in here if one.where == field]
    amounts = [one for one in here if one.key in ("amount", "thickness")]
    return next(iter([*exact, *_of_the_bath(story, here), *amounts[-1:], *here]), None)


def _of_the_bath(story: Story, here: list[Question]) -> Iterator[Question]:
    """Of a wet bath that cannot be, how much water goes in; where none does, what else goes in."""
    section = here[0].section if here else ""
    if section not in SOAKS or (story.get(section) or {}).get("method") != "wet":
        return
    yield from (one for one in here if one.key == "amount" and ingredient(one.of).kind == "water")
    yield from (
        one for one in questions(story) if one.section == section and one.key == "what" and story.get(one.place) is None
    )


def _ending(outcome: Outcome, path: str, system: str, story: Story) -> Iterator[Line]:
    """Line by line, as it is found."""
    yield from ending(outcome, system, beside(story))
    dries = not (words.refused(outcome.verdict) or outcome.load.no_drying)
    yield say("begin.more_dries" if dries else "begin.more", file=path)


def ending(outcome: Outcome, system: str = "both", told: Beside = NOTHING_BESIDE) -> Iterator[Line]:
    """What is said of a plan and what can be changed in it, line by line, for a terminal and for a page; ``told`` besides the
    batch."""
    if words.refused(outcome.verdict):
        yield from _refused(outcome, system, told.dial_end)
    else:
        yield from _granted(outcome, system, told)
    yield GAP
    yield f"{words.caution_line(outcome.verdict)} {say('ending.whose_word')}"


def _granted(outcome: Outcome, system: str, besides: Beside) -> Iterator[Line]:
    verdict, dial_end = outcome.verdict, besides.dial_end
    yield _headline(outcome)
    yield at_limit_words(outcome)
    yield words.COOK if verdict.eat == "cook_first" else ""
    granted = asked(outcome).granted
    yield in_order(outcome, system, besides.freezing_to_do, besides.part) if granted else keeps_words(outcome)
    yield "" if granted else ways_text.missed(outcome)
    yield cupboard_takes.not_for_it(outcome, besides.cupboard_before) if granted else ""
    if cupboard_takes.refused_there(outcome):
        yield cupboard_takes.takes(outcome, hours_words(outcome.drying["hours_to_target"]))
    yield " ".join(words.deadline_words(verdict.by))
    told = stop_words(outcome)
    yield " ".join([*(told[1:] if granted and not outcome.load.no_drying else told), moist_words(outcome)]).strip()
    found = ways(outcome)
    yield days_words(outcome, outcome.keep.days or 0, max(found, key=lambda one: one.days or 0, default=None))
    yield _why_line(outcome, why_days.why(outcome, outcome.keep, longest(outcome, found)))
    yield " ".join(one.text for one in verdict.cautions if one.rule == AT_HIGH_RISK)
    if not granted:
        for one in earned(outcome, system == "us"):
            yield _choice(outcome, one, mend_words(one) + _beyond(one, dial_end))
    yield from _less_salt(outcome, system, granted, dial_end)
    yield from _to_answer(next_answer(outcome.batch))


def _choice(outcome: Outcome, mend: Mend, told: str, of_salt: bool = False) -> Choice:
    """A mend as something to choose, with the reason of its days."""
    return Choice(told, mend.decided, why_days.why(outcome, mend.way.until, mend.longest), of_salt)


def _beyond(mend: Mend, dial_end: float | None, first: Mend | None = None) -> str:
    """That a mend asks for more heat than the dial gives, as a sentence behind it; "" where the one before it said so."""
    if first and _told_by(first, mend) and first.steps.get("hot") == mend.steps.get("hot"):
        return ""
    hotter = hottest(mend.told)
    if dial_end is None or hotter is None or hotter <= dial_end + 0.5:
        return ""
    return f" {say('ending.dial_ends', most=show(dial_end, 'temperature', 'both'))}"


def _why_line(outcome: Outcome, why: Why | None, more_said: bool = False) -> str:
    """Why it keeps no longer; nothing where it keeps as long as was wished. ``more_said``: where it keeps longer stands there
    already."""
    if why is None or not why_days.falls_short(outcome, why.days):
        return ""
    line = WhyLine(why.because if more_said else why.words)
    line.why = why
    return line


def _headline(outcome: Outcome) -> str:
    """The verdict in a line."""
    verdict = outcome.verdict
    if not words.refused(verdict):
        return f"{words.headline(verdict, outcome.keep)}."
    return say("begin.planned" if "no" in (verdict.eat, verdict.keep) or verdict.keep == "nowhere" else "begin.unsure")


def _less_salt(outcome: Outcome, system: str, granted: bool, dial_end: float | None) -> Iterator[str | Choice]:
    """That it is very salty, and less salt or the soak in plain water that mends it, as something to choose."""
    if not (told := very_salty(outcome.load)):
        return
    yield say("ending.salty", salt=percent(salt_of(outcome.load))) if granted else told
    if not granted:
        return
    yield Looking(say("ending.trying_salt"))
    found = 0
    for search in (less_salted, freshened):
        if mend := search(outcome, system == "us"):
            found += 1
            change = mend_words(mend) + _beyond(mend, dial_end)
            said = say("ending.less_salt", change=change, salt=percent(mend.salt or 0.0))
            yield _choice(outcome, mend, said, of_salt=True)
    if not found:
        yield OfSalt(say("ending.salty_anyhow"))


def _refused(outcome: Outcome, system: str, dial_end: float | None) -> Iterator[Line]:
    """What stands against a plan, and what would mend all of it; where nothing does, the way out of each cause."""
    yield _headline(outcome)
    found = causes(outcome)
    for row, (why, _way) in enumerate(found, 1):
        yield say("ending.cause", number=row, why=why)
    help_next = next_answer(outcome.batch)
    yield from _to_answer(help_next)
    way_words: Callable[[str], str] | None = _way_out
    for line in _mends(outcome, system, dial_end, answer_does=help_next is not None and help_next.alone):
        if isinstance(
            line, (Choice, NoWay)
        ):  # a change is a way out of all at once, and without one no way out is a plan
            way_words = None
        elif line == say("ending.other_fish"):
            way_words = _next_time
        yield line
    for row, (_why, way) in enumerate(found, 1):
        if way and way_words:
            yield Under(say("ending.cause", number=row, why=way_words(way)))


def _way_out(way: str) -> str:
    return f"{words.WAY_OUT}{way}"


def _next_time(way: str) -> str:
    """A way out for other fish, where this one is to be thrown away."""
    return say("ending.next_time", way=way)


def _mends(outcome: Outcome, system: str, dial_end: float | None, answer_does: bool) -> Iterator[Line]:
    """What would mend a plan, each as something to choose; of what rests on an answer, the rest of it. ``answer_does``: an
    answer that would do it by itself has been told already."""
    found: list[Mend] = []
    if not answer_does:
        yield from (GAP, Looking(say("begin.trying")))
    for mend in mends(outcome, system == "us"):
        if mend.decided:
            first = found[0] if found else None
            yield _choice(outcome, mend, mend_words(mend, first) + _beyond(mend, dial_end, first))
        elif not answer_does:
            yield mend_words(mend)
        found.append(mend)
    if not found:
        yield from () if answer_does else fallback(outcome, system)
        return
    short = max(one.way.days or 0 for one in found) < (outcome.batch.keep.wanted_days or 0)
    yield say("ending.too_long", days=f"{outcome.batch.keep.wanted_days:.0f}") if short else ""
    first = found[0]
    yield _why_line(
        outcome, why_days.why(outcome, first.way.until, first.longest), more_said=short and bool(lasting(first))
    )
    if short:
        yield from _longer(outcome, found, dial_end)


def _longer(outcome: Outcome, found: list[Mend], dial_end: float | None) -> Iterator[Choice]:
    """The place where it keeps longest, where it does not keep as long as was wished."""
    if (best := lasting(found[0])) and best.decided:
        first = found[0] if found[0].decided else None
        yield _choice(outcome, best, mend_words(best, first) + _beyond(best, dial_end, first))


def fallback(outcome: Outcome, system: str = "both") -> Iterator[str | Answer]:
    """What is left to do with fish for which no plan was found: to eat it fresh or freeze it, where it may be eaten; to look
    whether the refrigerator was cold, where it all hangs on hours in it, and what would be found then."""
    strongest = all_changed(outcome)
    if _only_of_drying(strongest.verdict):
        yield NoWay(say("ending.no_plan"))
        yield from (NoWay(say("ending.even_so", why=why)) for why, _way in causes(strongest)[:1])
        yield _raw_now(outcome)
    elif (colder := _of_a_refrigerator(outcome)) is not None:
        told = say("ending.cold_hours", cold=show(limits.COLD, "temperature", "both"))
        yield NoWay(say("ending.with_these_hours"))
        yield Answer(told, _question("fish", "hours_above_4c"))
        found = next((mend for mend in mends(colder, system == "us")), None)
        yield NoWay(say("ending.if_cold", mend=mend_words(found)) if found else say("ending.if_cold_none"))
    else:
        yield say("ending.other_fish")


def _raw_now(outcome: Outcome) -> str:
    """What may be done with the raw fish as it lies there, by what was told of it alone."""
    as_told, hours = all_changed(outcome, at_best=False), outcome.batch.fish.hours_above_4c
    besides = [one for one in words.blocking(as_told.verdict) if one.rule not in OF_DRYING]
    if hours is None or besides:
        why = _cause(as_told, besides[0])[0] if besides else ""
        return say("ending.raw_not_known", why=why).strip()
    return say(
        "ending.eat_fresh",
        hours=up(hours),
        limit=f"{limits.CLOCK_HOURS:g}",
        core=show(limits.KILL_CORE, "temperature", "both"),
        cold=show(limits.COLD, "temperature", "both"),
        freezer=show(limits.FREEZER, "temperature", "both"),
    )


def _of_a_refrigerator(outcome: Outcome) -> Outcome | None:
    """The plan without the hours that may be those of a refrigerator nobody measured, where all that no plan mends hangs on
    them; else None."""
    fish = outcome.batch.fish
    warmer = fish.hours_above_21c or 0.0  # no refrigerator is as warm as that
    if fish.hours_above_4c is None or fish.hours_above_4c <= warmer:
        return None
    if not _only_of_drying(all_changed(outcome, ("fish.hours_above_4c", warmer)).verdict):
        return None
    return replace(outcome, batch=replace(outcome.batch, fish=replace(fish, hours_above_4c=warmer)))


def _only_of_drying(verdict: Verdict) -> bool:
    """Whether nothing stands against the fish as it is before it is dried."""
    return all(one.rule in OF_DRYING for one in words.blocking(verdict))


# Causes


def causes(outcome: Outcome) -> list[tuple[str, str]]:
    """What stands against a batch in a few words, each cause once, with its way out."""
    found = {}
    for reason in words.blocking(outcome.verdict):
        found.setdefault(_cause_of(reason), reason)
    short = {"raw": _raw_cause, "warm": _warm_cause, "G2": _histamine_cause}
    return [short[name](outcome) if name in short else _cause(outcome, one) for name, one in found.items()]


def _cause_of(reason: Reason) -> str:
    if reason.rule in WARM_HOURS:
        return "warm"
    return "raw" if reason.rule in RAW_CLOCK and reason.row != "T1 not_known" else reason.row


def _raw_cause(outcome: Outcome) -> tuple[str, str]:
    """That the raw fish is warm for too long: while it dries, or before it is heated."""
    case = Case(outcome.facts)
    clock, warm = case.raw_clock("cure_hours_above_10c"), case.raw_warm_clock
    hours, limit = (
        (clock.hours, limits.CLOCK_HOURS) if clock.past(limits.CLOCK_HOURS) else (warm.hours, limits.CLOCK_WARM_HOURS)
    )
    told = {"hours": up(hours), "limit": f"{limit:g}"}
    if already := warm_already(outcome):
        return already, say("ending.warm.cold")
    if case.killed:
        return say("ending.warm.before", **told), say("ending.warm.cold")
    if (heat := outcome.batch.heat) is not None:
        return say("ending.warm.uncounted", heated=_heated_words(heat), **told), say(
            "ending.warm.heat_so", **_counts_from()
        )
    return say("ending.warm.raw", takes=_drying_words(outcome), **told), say("ending.warm.heat")


def _heated_words(heat: Heat) -> str:
    """A heating as it was told."""
    held = say("ending.held_untold") if heat.hold is None else show(heat.hold, "time")
    return say("ending.heated", core=show(heat.core, "temperature", "both"), held=held)


def _counts_from() -> dict[str, str]:
    """From when on a heating counts; rounded up, so that what is told does."""
    core, cooler = (
        say("mending.both", metric=f"{math.ceil(one - 1e-6)} °C", us=f"{math.ceil(fahrenheit(one) - 1e-6)} °F")
        for one in (limits.KILL_CORE, limits.KILL_CORE_HELD)
    )
    held, longer = (show(60 * one, "time") for one in (limits.KILL_HOLD_HOT, limits.KILL_HOLD))
    return {"core": core, "hold": held, "cooler": cooler, "longer": longer}


def _warm_cause(outcome: Outcome) -> tuple[str, str]:
    """That the heated fish is moist and warm for too long, with the count that is furthest beyond its limit."""
    hits = [
        one for one in rung(outcome.facts.warm)[1] if one.rung.says in ("not_known", "no") and one.hours is not None
    ]
    worst = max(hits, key=lambda one: one.hours / first_limit(one.rung.count))
    told = {"hours": up(worst.hours), "limit": f"{first_limit(worst.rung.count):g}", "takes": _drying_words(outcome)}
    return say("ending.warm.heated", **told), say("ending.warm.quicker")


def _histamine_cause(outcome: Outcome) -> tuple[str, str]:
    case = Case(outcome.facts)
    clock, warm = case.raw_clock("cure_hours_above_4c"), case.raw_warm_clock.past(0.0)
    limit = limits.HISTAMINE_WARM_HOURS if warm else limits.HISTAMINE_COOL_HOURS
    told = {"hours": up(clock.hours), "limit": f"{limit:g}"}
    return say("ending.G2", **told), say("ending.G2.way")


def _cause(outcome: Outcome, reason: Reason) -> tuple[str, str]:
    """A rule in its short words; where it has none, the first sentences of its own."""
    name = f"ending.{reason.row.replace(' ', '_')}"
    told = {
        "what": min(outcome.facts.outside_range, key=len, default="").partition(":")[0],
        "freezer": show(limits.PARASITE_FREEZER, "temperature", "both"),
        "core": show(limits.KILL_CORE, "temperature", "both"),
        "tested": show_band(*TESTED_THICKNESS, "length", "both", sixteenths=True),
    }
    if name in texts():
        return say(name, **told), say(f"{name}.way", **told)
    sentences = reason.text.split(". ")[:MOST_SENTENCES]
    return ". ".join(sentences).rstrip(".") + ".", reason.way_out


# Sentences


def mend_words(mend: Mend, first: Mend | None = None) -> str:
    """What to change, and what comes of it; beside a mend that was told first, only what is other than there."""
    way, changes = mend.way, mend.changes
    first = first if first and _told_by(first, mend) else None
    if first:
        back = [name for name in OTHERWISE if first.does(name) and not mend.does(name)]
        changes = (*(one for one in changes if one not in first.changes), *(say(OTHERWISE[name]) for name in back))
    until = say("ways.no_days_said") if way.days is None else say("ways.days", days=words.days_words(way.days))
    kept, eat = say("ending.kept", best=_place(way), until=until), words.eat_words(way.eat).lower()
    doing = "; ".join(changes)
    if mend.if_so and not (first and first.if_so == mend.if_so):
        what = "; ".join(mend.if_so)
        return say("ending.mend_if" if doing else "ending.if_so", changes=doing, what=what, kept=kept, eat=eat)
    if not doing:
        told = say("ending.instead", kept=kept, eat=eat)
    elif first and _granted_by(way) == _granted_by(first.way):
        told = say("ending.mend_same", changes=doing)
    else:
        told = say("ending.mend", changes=doing, eat=eat, kept=kept)
    return say("ending.as_first", changes=told) if first else told


def _told_by(first: Mend, mend: Mend) -> bool:
    """Whether a mend may be told by the one before it: nothing that is done there is left out but what has words of its own."""
    return all(mend.does(name) for name in first.steps if first.does(name) and name not in (*OTHERWISE, "keep"))


def _granted_by(way: Way) -> tuple:
    return way.place, way.pack, way.days, way.eat


def _place(way: Way) -> str:
    """Place and pack in few words."""
    place = say(f"ways.{way.place}")
    return say("ways.in_pack", place=place, pack=words.pack_name(way.pack)) if way.pack else place


def keeps_words(outcome: Outcome) -> str:
    """How long it keeps at most; nothing where the headline says it."""
    place, days = outcome.keep.place, outcome.keep.days
    if days is None:
        return say("ending.keeps_unsaid")
    return (
        "" if place == "cupboard" else say("ending.keeps", place=translated(place or ""), days=words.days_words(days))
    )


def days_words(outcome: Outcome, days: int, longest: Way | None) -> str:
    """Whether it keeps as long as was wished, where a wish was told, and where it does."""
    wanted = outcome.batch.keep.wanted_days
    if wanted is None or days >= wanted:
        return ""
    name = "ending.longer" if longest and (longest.days or 0) >= wanted else "ending.too_long"
    if outcome.keep.days is None and name == "ending.too_long":
        name = "ending.days_not_known"
    return say(name, days=f"{wanted:.0f}", best=_place(longest) if longest else "")


def _drying_words(outcome: Outcome) -> str:
    """How long until the middle of the thickest piece is dry."""
    hours = outcome.drying["hours_to_target"]
    return say("begin.dries_never") if hours.mid is None else say("begin.dries", hours=hours_words(hours))


def hours_words(hours: Band) -> str:
    """How long it likely takes, and how long it may."""
    if hours.mid is None:
        return say("ways.never")
    mid = ways_text.rounded(hours.mid)
    return (
        say("ending.hours_open", mid=mid)
        if hours.high is None
        else say("ending.hours", mid=mid, high=ways_text.rounded(hours.high))
    )


def stop_words(outcome: Outcome) -> list[str]:
    """When to stop, by weight and by the clock; nothing for fish that must not be kept."""
    if outcome.verdict.keep == "nowhere":
        return []
    if outcome.load.no_drying:
        return [already_dry(outcome.batch, outcome.load)]
    percent = str(words.stop_percent(outcome.drying["mass_ratio"].mid))
    hours = outcome.drying["hours_to_target"]
    return [
        say("begin.stop", percent=percent),
        say("begin.never") if hours.mid is None else say("begin.hours", hours=hours_words(hours)),
    ]


def moist_words(outcome: Outcome) -> str:
    """Which of many hours count of heated fish, by the count that is nearest its limit; nothing where they are few or not known."""
    drying = outcome.drying["hours_to_target"]
    if (
        outcome.load.no_drying
        or outcome.facts.warm.unsure
        or not Case(outcome.facts).killed
        or drying.high is None
        or drying.high <= limits.CLOCK_HOURS
    ):
        return ""
    worst = nearest_of_heated(outcome)
    limit = worst.limit
    if worst.share > 1:
        return ""
    told = say("ending.moist_hours", hours=up(worst.hours), limit=f"{limit:g}")
    why = say(f"ending.so_long.{worst.count}")
    slower = [say("ending.slower")] if worst.share > NEAR_ITS_LIMIT else []
    if limit == limits.CLOCK_HOURS:
        return " ".join([say("ending.why_limit", told=told, why=why), *slower])
    return " ".join([say("ending.why_so_long", told=told, raw=f"{limits.CLOCK_HOURS:g}", why=why), *slower])


def _to_answer(found: NextAnswer | None) -> Iterator[Answer]:
    """The one answer that would help most, to be given there and then."""
    if found:
        yield Answer(help_words(found), _question(found.fact.section, found.fact.key))


def _question(section: str, key: str) -> Question:
    """The question about a fact, as it is asked."""
    place = f"{section}.{key}"
    asked_so = next((one for one in ASKED[section] if one.key == key), None)
    question = question_of(section, place, FIELDS[section][key])
    return question if asked_so is None else replace(question, metric=asked_so.metric, us=asked_so.us)


def help_words(found: NextAnswer | None) -> str:
    """What to find out next; nothing that is left open may be answered better than is true."""
    if found is None:
        return ""
    question = _question(found.fact.section, found.fact.key)
    verdict = " – ".join((words.keep_words(found.verdict.keep), words.eat_words(found.verdict.eat)))
    best = found.fact.best
    best = say("ask.yes" if best else "begin.no") if isinstance(best, bool) else as_written(question, str(best))
    return say(
        "begin.help" if found.alone else "begin.help_first", question=question.words, answer=best, verdict=verdict
    )
