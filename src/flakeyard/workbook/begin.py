"""A batch told in a terminal, question by question, and kept in its file after every answer.

Enter leaves a question open, ``?`` says why it is asked, ``<`` goes back to the one before. What cannot be used is told
and asked again. At the end stands the verdict in words, and the answer that would help most. Answers may come from a
pipe; where they end, what was told is kept and judged.
"""

from __future__ import annotations

import sys
import textwrap
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from flakeyard import reading as readers
from flakeyard import refused
from flakeyard.files import refuse_overwrite, write_whole
from flakeyard.messages import draft_line, say
from flakeyard.steps.intent.fields import Measure, Number
from flakeyard.units import InputError, one_line
from flakeyard.workbook.asking import (
    NO_MORE,
    NOT_KNOWN,
    YES_WORDS,
    Question,
    Story,
    how_to_tell,
    next_question,
    refusal,
    reopened,
    skipped,
    tell,
    undecided,
)
from flakeyard.workbook.begin_ending import tell_end
from flakeyard.workbook.kept_story import still_needed
from flakeyard.workbook.loosely import MIXED as MIXED_UP
from flakeyard.workbook.loosely import Reading, chosen, heard, plain, unknown_things
from flakeyard.workbook.offering import ACCEPTED, DECLINED, narrowed
from flakeyard.workbook.story_file import story_of, text_of

DONE, STOPPED = 0, 130  # exit codes, as those of the command
WIDTH, LONGEST = 80, 5000  # characters of a line, and of a paragraph
LONGEST_ECHO = 300  # characters of a list that was read
WHY, BACK = "?", "<"
NUMBERS, MARKS = "123456", "abcdef"  # of what may be chosen; letters where a number would be an answer
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
    if draft_line():
        _say(draft_line())
    try:
        dialogue.run()
        tell_end(dialogue.story, path, _say)
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


@dataclass(frozen=True)
class Offer:
    """Readings to choose from, with the mark of each, and the one that Enter takes."""

    readings: tuple[Reading, ...]
    marks: str
    enter: Reading

    def picked(self, wish: str) -> Reading | None:
        """The reading that is meant by what was typed."""
        if wish == "" or (wish in ACCEPTED and len(self.readings) == 1 and self.enter in self.readings):
            return self.enter
        at = self.marks.find(wish) if len(wish) == 1 else -1
        return self.readings[at] if 0 <= at < len(self.readings) else None

    @property
    def list(self) -> str:
        """The readings with their marks."""
        told = zip(self.marks, self.readings, strict=False)
        return "; ".join(say("offer.one", mark=mark, reading=one_line(one.shown, WIDTH)) for mark, one in told)


class Dialogue:
    """The asking: the story so far, those before it to go back to, and the file it is kept in."""

    def __init__(self, path: str, story: Story):
        self.path, self.story = path, story
        self.before: list[Story] = []
        self.written = self.asked_more = self.asked_again = False
        self.section = None

    def run(self) -> None:
        """Ask until nothing is open any more, or nobody answers."""
        try:
            while self.goes_on():
                pass
        except EOFError:
            _say("")
            _say(say("begin.ended", file=self.path))

    def goes_on(self) -> bool:
        """Ask the next question; what a plan needs once more, then what few can answer if they want to tell it."""
        question = next_question(self.story, more=self.asked_more)
        if question is None and not self.asked_again and (open_now := still_needed(self.story)):
            self.asked_again = True
            _say(say("begin.still", number=len(open_now)))
            self.story, self.section = reopened(self.story), None
            return True
        if question is None and not self.asked_more and next_question(self.story):
            self.asked_more = True
            self.more()
            return True
        if question is None:
            return False
        if question.section != self.section:
            self.section = question.section
            print(f"\n{say('section.' + (question.section or 'batch'))}\n")
        self.ask(question)
        return True

    def more(self) -> None:
        """Ask whether what few can answer is to be asked; Enter leaves all of it open."""
        _say("")
        _say(say("begin.few"))
        if _typed(f"  ({say('begin.skip')}) > ").strip().casefold() not in YES_WORDS:
            self.before.append(self.story)
            self.keep(skipped(self.story))

    def ask(self, question: Question) -> None:
        """Ask until an answer can be taken, or the question before is wanted; a reading that was offered counts with Enter."""
        offer = None
        _say(question.words)
        while True:
            typed = _typed(_prompt(question, offer))
            wish = typed.strip().casefold()
            if wish == WHY:
                _explain(question)
                continue
            if wish == BACK:
                return self.back()
            if offer and wish in DECLINED and len(offer.readings) == 1:
                offer = None
                _say(say("offer.again"), "  ")
                continue
            picked = offer.picked(wish) if offer else None
            offer = self.put(picked) if picked else self.answer(question, typed)
            if offer is None:
                return None

    def answer(self, question: Question, typed: str) -> Offer | None:
        """Take an answer, also by a reading that needs no confirming; else what may be meant by it."""
        said = heard(self.story, question, typed)
        if said.sure:
            _say(say("offer.taken", reading=one_line(said.sure.shown, LONGEST_ECHO)), "  ")
            return self.put(said.sure)
        if said.readings:
            _say(how_to_tell(question, typed), "  ")
            return self.offered(said.readings, question)
        if said.story is None:
            return self.refused(question, typed, said.mistake)
        if undecided(question, typed):
            _say(say("begin.undecided", given=one_line(typed.strip(), WIDTH)), "  ")
        return self.take(question, said.story)

    def offered(self, found: tuple[Reading, ...], question: Question) -> Offer:
        """Say what was read, to be confirmed or chosen from."""
        enter = found[0]
        if question.names and len(found) > 1:
            found = tuple(one for one in found if one.told[0][1] != NOT_KNOWN)
            enter = plain(question, NOT_KNOWN)
        offer = Offer(found, MARKS if amount_asked(question) else NUMBERS, enter)
        if len(found) == 1:
            _say(say("offer.read", reading=one_line(found[0].shown, WIDTH)), "  ")
        else:
            _say(say("offer.several" if enter in found else "offer.which", readings=offer.list), "  ")
        return offer

    def refused(self, question: Question, typed: str, mistake: InputError) -> Offer:
        """Say that an answer cannot be used, and what can; Enter then leaves it open and keeps the words."""
        open_now = Reading(((question.place, NOT_KNOWN),), say("begin.open"), notes=((question.place, typed.strip()),))
        if question.key == "what" and not refused.substance(typed) and not MIXED_UP.search(typed):
            words = typed.strip()
            _say(say("begin.unknown_thing", given=one_line(words, WIDTH)), "  ")
            found = unknown_things(self.story, question.section, words)
            offer = Offer(found, NUMBERS, replace(open_now, told=()))
            _say(say("offer.choose", readings=offer.list), "  ")
            return offer
        if words := chosen(question):
            offer = Offer(tuple(plain(question, one) for one in words), NUMBERS, open_now)
            why = "" if mistake.why in (say("ask.yes_or_no"), say("field.unknown_word")) else mistake.why
            _say(say("begin.cannot_read", given=one_line(typed.strip(), WIDTH), why=why), "  ")
            _say(say("offer.choose", readings=offer.list), "  ")
            return offer
        _say(_why_not(self.story, question, typed, mistake), "  ")
        return Offer((), "", open_now)

    def put(self, reading: Reading) -> Offer | None:
        """Take a reading; what of a list nobody knows is asked back."""
        before = self.story
        self.before.append(self.story)
        self.keep(reading.put_in(self.story))
        self.say_notes(before)
        if not reading.rest:
            return None
        section = reading.told[0][0].split(".")[0]
        _say(say("begin.unknown_thing", given=one_line(reading.rest, WIDTH)), "  ")
        found = unknown_things(self.story, section, reading.rest)
        offer = Offer(found, NUMBERS, found[0])
        _say(say("offer.several", readings=offer.list), "  ")
        return offer

    def take(self, question: Question, story: Story) -> None:
        """Keep what an answer made of the story."""
        before = self.story
        self.before.append(self.story)
        self.keep(story)
        self.say_notes(before)
        if question.needed and question.place in story.left:
            _say(say("begin.needed"), "  ")

    def say_notes(self, before: Story) -> None:
        """Say what is kept for the flavour alone."""
        for place, told in self.story.notes.items():
            if place.endswith(".flavour") and before.notes.get(place) != told:
                _say(say("begin.flavour", what=told), "  ")

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


def amount_asked(question: Question) -> bool:
    """Whether a number is asked, so that a number typed is an answer and no mark."""
    return isinstance(question.kind, Measure | Number)


def _why_not(story: Story, question: Question, typed: str, mistake: InputError) -> str:
    """Why an answer is not taken; where one amount stands in it, why that one is not."""
    try:
        tell(story, question, narrowed(story, question, typed))
    except InputError as nearer:
        mistake = nearer
    return refusal(mistake, question)


def _prompt(question: Question, offer: Offer | None = None) -> str:
    if offer:
        return f"  ({say('offer.enter', reading=one_line(offer.enter.shown, WIDTH))}) > "
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
