"""A batch told in a terminal, question by question, and kept in its file after every answer.

Enter leaves a question open, ``?`` says why it is asked, ``<`` goes back to the one before. What cannot be used is told
and asked again. At the end stands the verdict in words, and the answer that would help most. Answers may come from a
pipe; where they end, what was told is kept and judged.
"""

from __future__ import annotations

import sys
import textwrap
from contextlib import suppress
from pathlib import Path

from flakeyard import reading as readers
from flakeyard.files import refuse_overwrite, write_whole
from flakeyard.messages import say
from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.intent.fields import FIELDS, NEEDED
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.plan.next_answer import NextAnswer, next_answer
from flakeyard.steps.plan.plan import Outcome, already_dry, plan
from flakeyard.steps.plan.ways import asked, earning, ways
from flakeyard.units import InputError, one_line, show
from flakeyard.workbook import words
from flakeyard.workbook.asking import (
    NO_MORE,
    NOT_KNOWN,
    Question,
    Story,
    how_to_tell,
    next_question,
    refusal,
    reopened,
    tell,
    undecided,
)
from flakeyard.workbook.kept_story import still_needed
from flakeyard.workbook.offering import ACCEPTED, DECLINED, narrowed, reading
from flakeyard.workbook.paper import ways_text
from flakeyard.workbook.story_file import question_of, story_of, text_of

DONE, STOPPED = 0, 130  # exit codes, as those of the command
WIDTH, LONGEST = 80, 5000  # characters of a line, and of a paragraph
WHY, BACK = "?", "<"
EMPTY = {NOT_KNOWN: "begin.open", NO_MORE: "begin.no_more"}  # what an empty answer is called; "no" for a section


def begin(path: str) -> int:
    """Tell a batch, or go on telling one; returns the exit code.

    Raises: InputError where the file is there and cannot be read as a batch; it is then left alone
    """
    with suppress(AttributeError, OSError):  # what a terminal cannot spell must not end the telling
        sys.stdin.reconfigure(errors="replace")
    with suppress(ImportError):  # where it is there, arrows bring back and mend what was typed before
        import readline  # noqa: F401
    refuse_overwrite(path)
    there = Path(path).exists()
    dialogue = Dialogue(path, _read(path) if there else Story())
    _say(say("begin.again" if there else "begin.hello", file=path))
    try:
        dialogue.run()
        _tell_end(dialogue.story, path)
    except KeyboardInterrupt:
        _say("")
        _say(say("begin.kept" if Path(path).exists() else "begin.nothing_kept", file=path))
        return STOPPED
    return DONE


def _read(path: str) -> Story:
    return reopened(story_of(readers.read_text(path, say("own.batch_file")), readers.named(path)))


def _say(text: str, indent: str = "") -> None:
    """Print a paragraph, whatever a file is called or an answer holds."""
    lines = textwrap.wrap(
        one_line(text, LONGEST), WIDTH, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False
    )
    print("\n".join(lines))


class Dialogue:
    """The asking: the story so far, those before it to go back to, and the file it is kept in."""

    def __init__(self, path: str, story: Story):
        self.path, self.story = path, story
        self.before: list[Story] = []
        self.written = False

    def run(self) -> None:
        """Ask until nothing is open any more, or nobody answers."""
        section = None
        try:
            while question := next_question(self.story):
                if question.section != section:
                    section = question.section
                    print(f"\n{say('section.' + (section or 'batch'))}\n")
                self.ask(question)
        except EOFError:
            _say("")
            _say(say("begin.ended", file=self.path))

    def ask(self, question: Question) -> None:
        """Ask until an answer can be taken, or the question before is wanted; a reading that was offered counts with Enter."""
        offered = ""
        _say(question.words)
        while True:
            typed = _typed(_prompt(question, offered))
            wish = typed.strip().casefold()
            if wish == WHY:
                _explain(question)
            elif wish == BACK:
                return self.back()
            elif offered and wish in DECLINED:
                offered = ""
                _say(say("offer.again"), "  ")
            else:
                try:
                    return self.take(question, offered if offered and wish in ACCEPTED else typed)
                except InputError as mistake:
                    offered = self.offer(question, typed, mistake)

    def offer(self, question: Question, typed: str, mistake: InputError) -> str:
        """Say what was read in an answer that cannot be taken as it is, and give it back; or say why it is not taken."""
        found = reading(self.story, question, typed)
        if found:
            _say(how_to_tell(question, typed), "  ")
            _say(say("offer.read", reading=one_line(found, WIDTH)), "  ")
        else:
            _say(_why_not(self.story, question, typed, mistake), "  ")
        return found

    def take(self, question: Question, typed: str) -> None:
        """Take an answer and keep it. Raises: InputError."""
        story = tell(self.story, question, typed)
        self.before.append(self.story)
        self.keep(story)
        if undecided(question, typed):
            _say(say("begin.undecided", given=one_line(typed.strip(), WIDTH)), "  ")
        if question.needed and question.place in story.left:
            _say(say("begin.needed"), "  ")

    def back(self) -> None:
        """Forget the last answer, to ask it again."""
        if self.before:
            self.keep(self.before.pop())
        else:
            _say(say("begin.first"), "  ")

    def keep(self, story: Story) -> None:
        """Write the story down; a file that was there before stays as a numbered copy."""
        self.story = story
        write_whole(self.path, text_of(story, self.path), keep_copy=not self.written)
        self.written = True


def _why_not(story: Story, question: Question, typed: str, mistake: InputError) -> str:
    """Why an answer is not taken; where one amount stands in it, why that one is not."""
    try:
        tell(story, question, narrowed(story, question, typed))
    except InputError as nearer:
        mistake = nearer
    return refusal(mistake, question)


def _prompt(question: Question, offered: str = "") -> str:
    if offered:
        return f"  ({say('offer.enter', reading=one_line(offered, WIDTH))}) > "
    empty = say("begin.enter", empty=say(EMPTY.get(question.empty, "begin.no")))
    if question.names or question.allowed.count("|") == 0:
        told = say("ask.for_example", examples=question.examples)
    else:
        told = question.allowed
    return f"  ({told}; {empty}) > "


def _typed(prompt: str) -> str:
    """What is typed; what comes from a pipe is shown."""
    typed = input(prompt)
    if not sys.stdin.isatty():
        print(one_line(typed, WIDTH))
    return typed


def _explain(question: Question) -> None:
    _say(say("ask.why", why=question.why), "  ")
    _say(say("ask.if_open", cost=question.cost), "  ")
    if question.names:
        _say(say("ask.names", names="; ".join(question.names)), "  ")
    else:
        _say(say("ask.allowed", allowed=question.allowed, examples=question.examples), "  ")


# The end


def _tell_end(story: Story, path: str) -> None:
    print()
    try:
        outcome = plan(read_batch({name: {} for name in NEEDED} | story.typed))
    except InputError as mistake:
        _say(_no_plan(story, mistake, path))
        return
    for line in _ending(outcome, path):
        _say(line)


def _no_plan(story: Story, mistake: InputError, path: str) -> str:
    found, open_now = getattr(mistake, "mistakes", (mistake,)), still_needed(story)
    if open_now and all(one.lacking for one in found):
        return say("begin.no_plan", fields=" ".join(one.words for one in open_now), file=path)
    return say("begin.cannot", why=refusal(mistake))


def _ending(outcome: Outcome, path: str) -> list[str]:
    """The verdict in words, the weight to stop at, the hours, and what would help most."""
    found = ways(outcome)
    reason = words.first_reason(outcome.verdict)
    lines = [
        words.verdict_sentence(outcome.verdict, outcome.keep),
        say("begin.reason", reason=reason) if reason else "",
        ways_text.not_granted(outcome, found),
        change_words(outcome),
        ways_text.wanted(outcome, found),
        *stop_words(outcome),
        help_words(next_answer(outcome.batch)),
        say("begin.more", file=path),
    ]
    return [line for line in lines if line]


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
