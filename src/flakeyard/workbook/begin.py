"""A batch told in a terminal, question by question, and kept in its file after every answer.

Enter leaves a question open, ``?`` says why it is asked, ``<`` goes back to the one before. What cannot be used is told
and asked again. At the end stands the verdict in words, and the answer that would help most. Answers may come from a
pipe; where they end, what was told is kept and judged.
"""

from __future__ import annotations

import re
import sys
import textwrap
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from flakeyard import reading as readers
from flakeyard import refused
from flakeyard.files import refuse_overwrite, write_whole
from flakeyard.messages import draft_line, say
from flakeyard.steps.intent.fields import NOT_KNOWN, SOAKS, Measure, Number, OneOf
from flakeyard.units import InputError, one_line
from flakeyard.workbook import unasked
from flakeyard.workbook.advised import Advice, advised, end_of_the_dial, still_unmeasured
from flakeyard.workbook.as_value import how_to_tell, word_of
from flakeyard.workbook.asking import next_question, question_at, questions, reopened
from flakeyard.workbook.begin_ending import tell_end
from flakeyard.workbook.corrected import corrected
from flakeyard.workbook.fridge_told import FridgeTold, fridge_told
from flakeyard.workbook.grouped import (
    STEPS,
    amounts_told,
    asked_about,
    closed,
    complete,
    left_out,
    next_asked,
    one_by_one,
    open_steps,
    part_about,
    steps_told,
)
from flakeyard.workbook.heating_told import HEATING, asked_as, asked_singly, heating_told
from flakeyard.workbook.in_passing import fillets_told
from flakeyard.workbook.ingredients_in import salt_mixed, unknown_things
from flakeyard.workbook.joined import (
    YES_AND,
    accounted_for,
    agreed,
    besides,
    fish_agreed,
    joined,
    said_again,
    things_besides,
    things_told,
    unopposed,
    yes_and_more,
)
from flakeyard.workbook.kept_story import DIAL, listed, still_needed
from flakeyard.workbook.left_open import undecided
from flakeyard.workbook.loosely import Heard, can_be, heard
from flakeyard.workbook.meant import Reading, chosen, plain
from flakeyard.workbook.offering import ACCEPTED, DECLINED, narrowed
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO_MORE, YES
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.story_file import story_of, text_of
from flakeyard.workbook.summing_up import Item, label, lines, retold
from flakeyard.workbook.telling import refusal, tell
from flakeyard.workbook.together import also, cut_after_the_heat, other_amount, to_confirm
from flakeyard.workbook.told_at_the_end import told_at_the_end
from flakeyard.workbook.two_fishes import of_both, wants_both, weight_of_more
from flakeyard.workbook.which_units import system_of
from flakeyard.workbook.words import in_system
from flakeyard.workbook.words_in import no_composition, without_fish

DONE, STOPPED = 0, 130  # exit codes, as those of the command
WIDTH, LONGEST = 80, 5000  # characters of a line, and of a paragraph
LONG = 12  # words of an answer that is never taken without a look at all that was read in it (judgement)
LONGEST_ECHO = 300  # characters of a list that was read
WHY, BACK = "?", "<"
NO_TO_IT = re.compile(
    r"^(?:[^?]{1,40}\? *)?(?:no|nope|wrong)[,.;:!]* +(?=\w)", re.IGNORECASE
)  # before another answer than the one offered
NOTHING = re.compile(
    r"(?:nothing|none|no|nope|not|it'?s not|leave it out)\b|.*[.?!,;] *(?:nothing[,;]? )?leave it out\W*$"
)  # of what goes in
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
        tell_end(dialogue.story, path, _say, _typed, dialogue.asked_now)
    except KeyboardInterrupt:
        _say("")
        _say(say("begin.kept" if Path(path).exists() else "begin.nothing_kept", file=path))
        return STOPPED
    return DONE


def _read(path: str) -> Story:
    return reopened(story_of(readers.read_text(path, say("own.batch_file")), readers.named(path)))


def _say(text: str, indent: str = "", hanging: str = "") -> int:
    """Print a paragraph, whatever a file is called or an answer holds; ``hanging``: how much further in all its lines but
    the first stand. Gives back the number of lines."""
    lines = textwrap.wrap(
        one_line(text, LONGEST),
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent + hanging,
        break_on_hyphens=False,
    )
    print("\n".join(lines))
    return len(lines)


@dataclass(frozen=True)
class Offer:
    """Readings to choose from, with the mark of each, and the one that Enter takes."""

    readings: tuple[Reading, ...]
    marks: str
    enter: Reading
    was_said: bool = True  # and not only what a rule says
    words: str = ""  # the sentence that it was made with

    def picked(self, wish: str) -> Reading | None:
        """The reading that is meant by what was typed."""
        if wish == "" or (wish in ACCEPTED and len(self.readings) == 1 and self.enter in self.readings):
            return self.enter
        left_out = next((one for one in self.readings if not (one.told or one.notes)), None)
        if left_out and NOTHING.match(wish):
            return left_out
        wish = re.sub(r"^([0-9a-f])[,.):;] .*$", r"\1", wish)  # "1, the Atlantic one"
        at = self.marks.find(wish) if len(wish) == 1 else -1
        return self.readings[at] if 0 <= at < len(self.readings) else None

    @property
    def stands(self) -> bool:
        """Whether Enter takes what was read, and does not leave the question open."""
        return bool(self.words) and all(text != NOT_KNOWN for _, text in self.enter.told)

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
        self.asked_anew: set[str] = set()  # sections of which something could not be
        self.lists: set[str] = set()  # sections of which a whole list was told at once
        self.to_confirm: dict[str, Reading] = {}  # by place, what was told in passing
        self.sentence = self.section = ""
        self.written = self.asked_again = self.asked_all = self.told_when = False
        told_once = story.typed and next_question(story, more=False) is None
        self.ask_more = bool(told_once)  # also what few can answer

    def run(self) -> None:
        """Ask until nothing is open any more, or nobody answers."""
        try:
            while self.goes_on():
                pass
        except EOFError:
            _say("")
            _say(say("begin.ended", file=self.path))

    def goes_on(self) -> bool:
        """Ask the next question; then what a plan needs once more, then whether all was understood."""
        question = next_asked(next_question(self.story, self.ask_more), self.story)
        question = question and asked_as(self.story, question)
        if question is None and not self.asked_again and (open_now := still_needed(self.story)):
            self.asked_again = True
            _say(say("begin.still", number=len(open_now)))
            self.story, self.section = reopened(self.story), ""
            return True
        if question is None and self.before and self.impossible():
            return True
        if question is None and not self.asked_all and unasked.may_not_matter(self.story):
            self.asked_all = True
            self.keep(unasked.counted(self.story) or self.story)
            return True
        if question is None:
            return self.check_understood()
        if question.section != self.section:
            self.section = question.section
            print(f"\n{say('section.' + (question.section or 'batch'))}\n")
        self.ask(question)
        return True

    def impossible(self) -> bool:
        """Ask once more what cannot be, such as a bath of sugar alone: a mistake must not end the telling."""
        mistake = unasked.trouble(self.story)
        told = re.match(r"\[+(\w+)[^\]]*\]+ ?(\w*)", mistake.field) if mistake else None
        if told is None or told[1] in self.asked_anew:
            return False
        self.asked_anew.add(told[1])
        _say("")
        _say(say("begin.cannot_be", given=mistake.given, why=mistake.why.rstrip(".")))
        place = f"{told[1]}.ingredient" if told[1] in SOAKS else f"{told[1]}.{told[2]}".rstrip(".")
        self.before.append(self.story)
        self.keep(retold(self.story, Item(place, "")))
        self.section = ""
        return True

    def check_understood(self) -> bool:
        """Show once all that counts, to be mended; whether there is anything to go on with."""
        told = lines(self.story) if self.before else []
        if not told:
            return False
        _say("")
        _say(say("begin.understood"))
        for mark, (name, items) in enumerate(told, 1):
            _say(say("begin.line", mark=mark, what=name, told="; ".join(one.words for one in items)))
        try:
            wish = _typed(f"  ({say('begin.all_right')}) > ").strip().casefold()
        except EOFError:
            return False
        number = re.match(r"(?:(?:line|number|no\.?|the) )?([0-9])(?![0-9.,/]*[0-9])\W*(?:\w+\W*)?$", wish)
        if found := fridge_told(self.story, None, (), wish):
            self.fridge(found, None, None)
        elif wish == BACK:
            self.back()
        elif number and 1 <= int(number[1]) <= len(told):
            self.mend(told[int(number[1]) - 1][1])
        elif wish not in ACCEPTED:
            self.mend_by_words(wish, len(told))
        return wish not in ACCEPTED

    def mend_by_words(self, wish: str, lines_told: int) -> None:
        """Take what a sentence plainly mends of all that counts; else say what may be typed there."""
        if mended := told_at_the_end(self.story, wish):
            self.before.append(self.story)
            self.keep(mended.put_in(self.story))
            _say(say("offer.taken", reading=one_line(mended.shown, LONGEST_ECHO)), "  ")
        else:
            _say(say("begin.which_line", most=lines_told), "  ")

    def mend(self, items: list[Item]) -> None:
        """Ask again what one line tells, or the one thing of it that is chosen."""
        marks = "abcdefghijklmnopqrstuvwxyz"
        shown = "; ".join(
            say("offer.one", mark=mark, reading=one.words) for mark, one in zip(marks, items, strict=False)
        )
        if len(items) > 1:
            _say(say("begin.which_item", items=shown), "  ")
        wish = _typed(f"  ({say('begin.which_how')}) > ").strip().casefold() if len(items) > 1 else "a"
        at = _item_meant(items, wish, marks)
        if 0 <= at < len(items):
            self.before.append(self.story)
            self.keep(retold(self.story, items[at]))
            self.section = ""

    def ask(self, question: Question) -> None:
        """Ask until an answer can be taken, or the question before is wanted; a reading that was offered counts with Enter."""
        _say(in_system(question.words, system_of(self.story) or "both"))
        if still := still_unmeasured(self.story, question):
            _say(still, "  ")
        told = self.to_confirm.pop(question.place, None)
        offer = self.offered((told,), question) if told and can_be(self.story, [told]) else _as_the_thickest(question)
        declined = False
        while True:
            typed = _typed(_prompt(question, offer, self.story, tells_enter=declined or not self.before))
            typed = without_the_no(question, typed) if offer else typed
            if found := fridge_told(self.story, question, offer.readings if offer else (), typed):
                before, offer = offer, self.fridge(found, question, offer)
                typed = found.rest if offer == before else said_again(offer.readings[0], found.rest)
                if not typed:
                    continue
            wish = typed.strip().casefold()
            if wish == WHY:
                _explain(question)
                continue
            if wish == BACK:
                return self.back()
            if offer and wish in DECLINED and len(offer.readings) == 1:
                offer, declined = None, True
                _say(say("offer.again"), "  ")
                continue
            picked = (offer.picked(wish) or agreed(offer.readings, wish)) if offer else None
            if not picked and offer and (mended := corrected(self.story, question, offer.readings, typed)):
                self.sentence = ""  # the words before hold what was mended
                if not mended.sure:
                    offer = self.offered((mended,), question)
                    continue
                picked = mended
                _say(say("offer.taken", reading=mended.shown), "  ")
            if not picked and offer and offer.stands and (more := yes_and_more(question, offer.enter, typed)):
                picked, self.sentence = None if self.can_read(question, more) else offer.enter, more
            if not picked and offer and len(offer.readings) > 1 and wants_both(question, wish):
                _say(say("offer.one_kind", readings=offer.list), "  ")
                continue
            if not picked and offer and self.cannot_read(question, offer, typed):
                continue
            if not picked and offer and (more := self.goes_in_too(question, offer, typed)):
                question, offer, typed = self.next_row(question), None, more
            if not picked:
                self.not_lost(offer, question)
                picked = fish_agreed(offer.readings, question, wish) if offer else None
                self.sentence = YES_AND.sub("", typed) if picked else typed
            question = self.next_row(question)
            offer = self.put(picked, question) if picked else self.answer(question, typed)
            if offer is None:
                return None

    def fridge(self, found: FridgeTold, question: Question | None, offer: Offer | None) -> Offer | None:
        """Count the refrigerator as warm as it is told to be, also in what is offered; or say how to tell it plainly."""
        if found.unclear:
            _say(say("fridge.unclear", degrees=found.degrees), "  ")
            return offer
        self.before.append(self.story)
        self.keep(found.put_in(self.story))
        _say(say("fridge.counts", degrees=found.degrees), "  ")
        mended = tuple(map(found.mended, offer.readings)) if offer else ()
        return self.offered(mended, question) if offer and mended != offer.readings else offer

    def goes_in_too(self, question: Question, offer: Offer, typed: str) -> str:
        """What goes in besides a list that was offered, "yes, and two tablespoons of vinegar", once the list is taken; ""
        where nothing does."""
        more = things_besides(question, typed) if offer.stands and len(offer.readings) == 1 else ""
        if not more or not heard(self.story, question, more).readings:
            return ""
        self.sentence = ""
        self.put(offer.enter, question)
        return more

    def cannot_read(self, question: Question, offer: Offer, typed: str) -> bool:
        """Whether nothing is read in an answer that says nothing against an offer: it then stands as it was, and is said again."""
        if not offer.stands or not unopposed(question, typed) or self.can_read(question, typed):
            return False
        _say(say("begin.cannot_read", given=one_line(typed.strip(), WIDTH), why=""), "  ")
        _say(offer.words, "  ")
        return True

    def can_read(self, question: Question, typed: str) -> bool:
        """Whether anything can be read in an answer to a question."""
        if question.place in (STEPS, HEATING) or question.together or advised(self.story, question, typed):
            return True
        said = heard(self.story, question, typed)
        return bool(said.story or said.readings)

    def not_lost(self, offer: Offer | None, question: Question) -> None:
        """Keep what was offered together with an answer that is typed again: it is confirmed where it is asked."""
        if offer and offer.was_said and len(offer.readings) == 1:
            self.confirm_later(question, offer.readings[0])

    def confirm_later(self, question: Question, *readings: Reading) -> None:
        """Keep what is told beside the answer to a question, to be confirmed where it is asked."""
        for reading in readings:
            for place, text in reading.told:
                kept = place != question.place and ".ingredient." not in place and place.count(".") == 1
                if kept and text != NOT_KNOWN:
                    self.to_confirm.setdefault(place, plain(question_at(place), text))
            if listed_things := things_told(reading):
                self.to_confirm.setdefault(listed_things.told[0][0], listed_things)

    def asked_now(self, story: Story, question: Question) -> Story:
        """The story with the answer to one question more."""
        self.story = story
        self.ask(question)
        return self.story

    def next_row(self, question: Question) -> Question:
        """The question of the next thing that goes in, where the one that was asked is told: nothing is put over it."""
        if question.key != "what" or self.story.get(question.place) is None:
            return question
        rows = (one for one in questions(self.story) if one.section == question.section and one.key == "what")
        return next((one for one in rows if self.story.get(one.place) is None), question)

    def answer(self, question: Question, typed: str) -> Offer | None:
        """Take an answer, also by a reading that needs no confirming; else what may be meant by it."""
        if most := end_of_the_dial(self.story, question, typed):
            self.keep(self.story.noted(DIAL, most))
        if advice := advised(self.story, question, typed):
            return self.advise(question, advice)
        if question.place == STEPS:
            return self.steps(typed)
        if question.place == HEATING:
            return self.heating(question, typed)
        if question.together and (each := amounts_told(self.story, question, typed)):
            _say(say("offer.taken", reading=one_line(each.shown, LONGEST_ECHO)), "  ")
            return self.put(each, question)
        if question.together and re.search(r"(?<![0-9]),|[;+]|\band\b", typed):
            self.before.append(self.story)
            _say(say("begin.one_by_one"), "  ")
            return self.keep(one_by_one(self.story, question.section))
        if (without := left_out(self.story, question, typed)) is not None:
            _say(say("begin.taken_out", what=question.of), "  ")
            return self.take(question, without)
        said = heard(self.story, question, typed)
        of_more = weight_of_more(self.story, question, typed)
        if whole := self.all_of(question, typed, said):
            if of_more:
                _say(of_more, "  ")
            return self.offered((whole,), question)
        if said.sure and not of_more:
            _say(say("offer.taken", reading=one_line(said.sure.shown, LONGEST_ECHO)), "  ")
            return self.put(said.sure, question)
        if said.readings:
            _say(how_to_tell(question, typed) or of_more, "  ")
            one = len(said.readings) == 1
            return self.offered(
                (joined(self.story, question, typed, said.readings[0]),) if one else said.readings, question
            )
        if said.story is None:
            return self.refused(question, typed, said.mistake)
        if undecided(question, typed):
            _say(say("begin.undecided", given=one_line(typed.strip(), WIDTH)), "  ")
        return self.take(question, said.story)

    def all_of(self, question: Question, typed: str, said: Heard) -> Reading | None:
        """All that is read in a long answer, to be confirmed at once; None where it is short, or nothing in it is left over."""
        if (
            len(typed.split()) <= LONG
            or question.key == "what"
            or not (said.sure or (said.story and self.story != said.story))
        ):
            return None
        now = said.sure.put_in(self.story) if said.sure else said.story
        if question.place in now.left or (not said.sure and undecided(question, typed)):
            return None
        own = said.sure or plain(question, typed.strip())
        whole = joined(self.story, question, typed, own)
        besides = also(now, question, typed)
        in_passing = len(whole.told) > len(own.told) + (len(besides.told) if besides else 0)
        return None if accounted_for(whole, typed) and not in_passing else replace(whole, sure=False)

    def advise(self, question: Question, advice: Advice) -> Offer:
        """Say what the rule says, and offer what may be done by it: it counts only when confirmed."""
        _say(advice.words, "  ")
        if advice.besides:
            self.sentence = advice.besides
            self.confirm_later(question, *besides(self.story, question, advice.besides))
        if advice.left_open:
            self.keep(self.story.noted(question.place, advice.left_open))
        if advice.left_open and not self.told_when:
            self.told_when = True
            _say(say("dial.until_measured", file=self.path), "  ")
        if advice.offered is None:
            return Offer((), "", Reading(((question.place, NOT_KNOWN),), say("begin.open")))
        _say(words := say("offer.will", reading=advice.offered.shown), "  ")
        return Offer((advice.offered,), NUMBERS, advice.offered, was_said=False, words=words)

    def heating(self, question: Question, typed: str) -> Offer | None:
        """Take all that is told of the heating, sure or to be confirmed; what is left is asked one by one."""
        found = heating_told(self.story, typed)
        if found and not found.sure:
            return self.offered((found,), question)
        if found:
            _say(say("offer.taken", reading=found.shown), "  ")
            return self.put(found, question)
        self.before.append(self.story)
        story, said = asked_singly(self.story, question, typed)
        _say(said, "  ")
        return self.keep(story)

    def steps(self, typed: str) -> None:
        """Open the sections of what is done before the dryer and close the others; or ask one by one."""
        found, doors = steps_told(self.story, typed), open_steps(self.story)
        for door in asked_about(self.story, typed):
            _say(f"{door.why} {door.cost}", "  ")
        self.before.append(self.story)
        if found is None:
            _say(say("begin.one_by_one"), "  ")
            return self.keep(self.story.left_open(STEPS, YES))
        _say(say("offer.taken", reading=found.shown), "  ")
        self.keep(found.put_in(self.story))
        for door in doors:
            if self.story.get(door.place) is not None:
                self.take_also(door, part_about(door, doors, typed))
        return None

    def offered(self, found: tuple[Reading, ...], question: Question) -> Offer:
        """Say what was read, to be confirmed or chosen from."""
        enter = found[0]
        if question.names and question.key != "what" and len(found) > 1:
            found = tuple(one for one in found if one.told[0][1] != NOT_KNOWN or one.notes)
            enter = plain(question, NOT_KNOWN)
        offer = Offer(found, MARKS if amount_asked(question) else NUMBERS, enter)
        which = "offer.one_kind" if of_both(question, self.sentence) else "offer.which"
        words = say("offer.several" if enter in found else which, readings=offer.list)
        words = say("offer.read", reading=one_line(found[0].shown, LONGEST_ECHO)) if len(found) == 1 else words
        _say(words, "  ")
        return replace(offer, words=words)

    def refused(self, question: Question, typed: str, mistake: InputError) -> Offer:
        """Say that an answer cannot be used, and what can; Enter then leaves it open and keeps the words."""
        empty = say(EMPTY.get(question.empty, "begin.no"))
        open_now = Reading(((question.place, NOT_KNOWN),), empty, notes=((question.place, typed.strip()),))
        if question.key == "what" and not refused.substance(typed) and not salt_mixed(typed):
            words = typed.strip()
            _say(say("begin.unknown_thing", given=one_line(words, WIDTH)), "  ")
            found = unknown_things(self.story, question.section, words)
            offer = Offer(found, NUMBERS, replace(open_now, told=(), shown=say("loosely.left_out")))
            _say(say("offer.choose", readings=offer.list), "  ")
            return offer
        if question.key == "species" and not refused.fish(typed):
            why = no_composition(question, typed)
            told = {"given": one_line(typed.strip(), WIDTH)}
            _say(say("begin.fish_not_usable", why=why, **told) if why else say("begin.unknown_fish", **told), "  ")
            self.confirm_later(question, *besides(self.story, question, typed))
            return Offer((), "", open_now)
        if words := chosen(question):
            offer = Offer(tuple(plain(question, one) for one in words), NUMBERS, open_now)
            why = "" if mistake.why in (say("ask.yes_or_no"), say("field.unknown_word")) else mistake.why
            _say(say("begin.cannot_read", given=one_line(typed.strip(), WIDTH), why=why), "  ")
            _say(say("offer.choose", readings=offer.list), "  ")
            return offer
        _say(_why_not(self.story, question, typed, mistake), "  ")
        self.confirm_later(question, *besides(self.story, question, typed))
        return Offer((), "", open_now)

    def put(self, reading: Reading, question: Question) -> Offer | None:
        """Take a reading; what of a list nobody knows is asked back."""
        before = self.story
        self.before.append(self.story)
        self.keep(reading.put_in(self.story))
        if question.place == HEATING:
            self.keep(self.story.left_open(HEATING, YES))
        self.say_notes(before)
        if question.key == "what" and len(reading.told) > 1:
            self.lists.add(question.section)
        if not reading.rest:
            names = [text for place, text in reading.told if question.names and place == question.place]
            said = without_fish(question, self.sentence) if question.key == "species" else self.sentence
            self.take_also(question, ", ".join([said, *names]))
            return self.end_list(question)
        section = question.section
        self.lists.discard(section)
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
        self.take_also(question, self.sentence)
        self.end_list(question)

    def take_also(self, question: Question, typed: str) -> None:
        """Take what an answer tells of the questions after it; ``<`` takes back all of it at once."""
        if found := also(self.story, question, typed):
            _say(say("offer.also", readings=one_line(found.shown, LONGEST_ECHO)), "  ")
            self.keep(found.put_in(self.story))
        if question.key == "tray_area" and re.search(r"\bhole\b", typed.casefold()):
            _say(say("begin.hole"), "  ")
        for more in (other_amount(self.story, question, typed), cut_after_the_heat(question, typed)):
            if more:
                _say(more, "  ")
        self.to_confirm |= fillets_told(question, self.sentence)
        if question.key == "hours_above_4c":
            self.to_confirm.pop(unasked.PLACE, None)  # told again, perhaps warmer
        passing = to_confirm(self.story, question, typed)
        for place, told in passing.items():
            if told.sure:  # it leaves a question open
                _say(say("offer.also", readings=label(question_at(place), told.shown)), "  ")
                self.keep(told.put_in(self.story))
        self.to_confirm |= {place: told for place, told in passing.items() if not told.sure}

    def end_list(self, question: Question) -> None:
        """Ask for nothing more that goes in where a whole list was told at once."""
        section = question.section
        if section in self.lists and question.key in ("what", "amount") and complete(self.story, section):
            with suppress(InputError):  # what is wrong with it is said where it is asked
                self.keep(closed(self.story, section))
            self.lists.discard(section)

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


def _item_meant(items: list[Item], wish: str, marks: str) -> int:
    """Which item is meant by its letter, or by words of it ("the thickness"); -1 where none is."""
    if re.match(r"[a-z]\b", wish):
        return marks.find(wish[0])
    words = re.sub(r"^(?:the|my) ", "", wish)
    return next((at for at, one in enumerate(items) if len(words) > 2 and words in one.words.casefold()), -1)


def without_the_no(question: Question, typed: str) -> str:
    """An answer to an offer without the no before another amount or another word of the choice."""
    rest = NO_TO_IT.sub("", typed)
    first = re.split(r"[\s,.;!]", rest.casefold())[0]
    choice = isinstance(question.kind, OneOf) and word_of(question.kind, first) in question.kind.words
    return rest if amount_asked(question) or choice else typed


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


def _as_the_thickest(question: Question) -> Offer | None:
    """That the usual piece is as thick as the thickest, where only that one was told: what Enter takes."""
    if question.place != "cut.thickness" or not question.of:
        return None
    as_thick = Reading(((question.place, question.of),), say("cut.as_thickest", thickest=question.of))
    return Offer((), "", as_thick, words=question.words)


def _prompt(question: Question, offer: Offer | None, story: Story, tells_enter: bool) -> str:
    """What an answer may look like; what Enter means only where it is not what it means at most questions."""
    if offer and offer.readings == (offer.enter,):
        return f"  ({say('offer.yes')}) > "
    if offer:
        return f"  ({say('offer.enter', reading=one_line(offer.enter.shown, WIDTH))}) > "
    empty = f"; {say('begin.enter', empty=say(EMPTY.get(question.empty, 'begin.no')))}"
    if question.empty == NOT_KNOWN and not tells_enter:
        empty = ""
    if question.place == STEPS or question.together:
        told = say("begin.steps_example" if question.place == STEPS else "begin.amounts_example")
    elif question.several and not listed(question):
        told = say("ask.for_example", examples=question.several)
    elif question.several:
        told = f"{question.allowed}; {say('ask.for_example', examples=question.several)}"
    elif question.names or question.allowed.count("|") == 0:
        told = say("ask.for_example", examples=question.examples_in(system_of(story)))
    else:
        told = question.allowed
    return f"  ({in_system(told, system_of(story) or 'both')}{empty}) > "


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
    elif question.place == STEPS:
        _say(say("begin.steps_example"), "  ")
    else:
        _say(say("ask.allowed", allowed=question.allowed, examples=question.examples), "  ")
