"""The story of one's own fish on one page: chapters, at most seven questions in view, and beneath them what follows.

Which questions are asked, in which order and words, `asking` says, and which answers are taken `telling`. Every answer
that is taken is in ``my-batch.toml`` at once; one that is not taken stays in its field, with the reason under it. What
is told stands in short above the questions, to be changed with a click; a page that is open does not move under the
learner. Where nothing that a plan needs is open any more, the verdict stands beneath, with the weight to stop at, the
hours, the answer that would help most and the ways to keep the fish.
"""

from __future__ import annotations

import html
import threading
from collections.abc import Callable, Iterator
from contextlib import suppress
from itertools import count
from math import inf
from pathlib import Path
from time import monotonic

import ipywidgets as widgets

from flakeyard import refused
from flakeyard.files import why
from flakeyard.messages import draft_line, say, texts
from flakeyard.steps.intent.fields import LISTS, NOT_KNOWN, SOAKS
from flakeyard.units import InputError, one_line
from flakeyard.workbook import own, words
from flakeyard.workbook.accessible import Accessible
from flakeyard.workbook.advised import Advice, advice, advised, end_of_the_dial
from flakeyard.workbook.as_value import how_to_tell
from flakeyard.workbook.asked import AFTER_HEAT, ASKED, DOORS
from flakeyard.workbook.asking import questions
from flakeyard.workbook.grouped import (
    STEP_DOORS,
    STEPS,
    closed,
    complete,
    next_asked,
    open_steps,
    part_about,
    steps_told,
)
from flakeyard.workbook.heating_told import HEATING, asked_as, asked_singly, heating_told
from flakeyard.workbook.ingredients_in import salt_mixed, unknown_things
from flakeyard.workbook.kept_story import DIAL, FREEZING, KeptStory, answer_in_field, changed, to_freeze
from flakeyard.workbook.left_open import tells_nothing, undecided
from flakeyard.workbook.loosely import heard
from flakeyard.workbook.meant import Reading
from flakeyard.workbook.offering import narrowed
from flakeyard.workbook.panels.panel import Choice
from flakeyard.workbook.panels.ruler import SIZES, ruler
from flakeyard.workbook.panels.story_result import StoryResult
from flakeyard.workbook.panels.story_row import Row, button, mark, mark_of
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO, NO_MORE, YES
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.telling import refusal, tell
from flakeyard.workbook.together import also, to_confirm
from flakeyard.workbook.which_units import system_of
from flakeyard.workbook.words_in import no_composition

BENEATH_HEAT = "freezing"  # what is asked of the freezing stands after the heat
CHAPTERS = {  # name of each, as a message, and its sections
    "section.fish": ("fish",), "section.cut": ("cut",), "story.salt": ("brine", STEPS, "presoak", "rest", "freshen", "heat", BENEATH_HEAT),
    "story.drying": ("dryer", "room"), "story.keeping": ("keep", "", "measured"),
}  # fmt: skip
FEW = "story.few"  # the chapter of what few can tell, from all sections; it may be skipped
IN_VIEW = 7  # questions on a page
MOMENT = 1.5  # s that a question is in view before it can be passed by (judgement)
LONGEST, LONGEST_ECHO = 60, 300  # letters of an answer in short, and of what is said back
OF_A_LABEL = ("fish.water", "fish.protein", "fish.fat", "fish.ash")  # asked when the fish is not known by name


# Which questions, and where they stand


def asked(story: Story, chapter: str) -> list[Question]:
    """The questions of a chapter, those of a label only where no fish was named on purpose."""
    named = not story.answered("fish.species")
    return [
        one
        for one in _together(story)
        if _chapter_of(one) == chapter and not (named and one.place in OF_A_LABEL and story.get(one.place) is None)
    ]


def _together(story: Story) -> Iterator[Question]:
    """All questions that apply; what may be done before the dryer, and the heating, as one question each while they are open."""
    yielded: set[str] = set()
    for one in questions(story):
        as_one = one if story.answered(one.place) else _as_one(story, one)
        if as_one.place not in yielded:
            yield as_one
        yielded.add(as_one.place)


def _as_one(story: Story, question: Question) -> Question:
    """The question that asks an open one, alone or together with others."""
    return next_asked(question, story) if question.place in STEP_DOORS else asked_as(story, question)


def _chapter_of(question: Question) -> str:
    if question.more or question.section == "measured":
        return FEW
    return next(name for name, sections in CHAPTERS.items() if _room_of(question) in sections)


def _room_of(question: Question) -> str:
    """Under which section of the page a question stands."""
    return BENEATH_HEAT if question.place in AFTER_HEAT else question.section


def _places(section: str, rows: int) -> Iterator[str]:
    """Every place of a section that a question may have, in their order, with one row more than were told."""
    if section in (STEPS, BENEATH_HEAT):
        yield from AFTER_HEAT if section == BENEATH_HEAT else (STEPS,)
        return
    if section in LISTS:
        for number in range(1, rows + 2):
            yield f"{section}.{number}"
            yield from (f"{section}.{number}.{one.key}" for one in ASKED[section])
        return
    if section in DOORS:
        yield section
    if section == "heat":
        yield HEATING
    keys = (one.key for one in ASKED["soak" if section in SOAKS else section])
    places = (f"{section}.{key}" if section else key for key in keys)
    yield from (place for place in places if place not in AFTER_HEAT)
    if section in SOAKS:
        for number in range(1, rows + 2):
            yield from (f"{section}.ingredient.{number}.{one.key}" for one in ASKED["ingredient"])


class StoryForm(widgets.VBox):
    """The whole story, or some of its chapters, with what follows from it beneath.

    A page may send two answers at once on two threads, so whatever changes the form waits for its turn.
    """

    def __init__(self, folder: str | Path, choice: Choice | None = None, chapters: tuple[str, ...] = tuple(CHAPTERS)):
        self.kept, self.choice, self.chapters = KeptStory(folder), choice or Choice(), chapters
        self.result = StoryResult(self.open_at, self.change, self.take_back, self._system)
        self.rows: dict[str, Row] = {}
        self._page: list[str] = []  # places of the questions in view
        self._seen: set[str] = set()  # places asked when the page was opened, or since
        self._passed: set[str] = set()  # places that were left open by turning the page
        self._came: dict[str, float] = {}  # when questions came up on a page that was open
        self._before: list[tuple[str, list[str]]] = []  # pages to go back to
        self._lists: set[str] = set()  # sections of which a whole list was told at once
        self._in_passing: dict[str, tuple[str, Reading]] = {}  # by place, what was told before it was asked, and where
        self._turn = threading.RLock()
        self._sections = {section: widgets.VBox() for name in chapters for section in CHAPTERS[name]}
        self._turns = {name: button("", lambda name=name: self.go(name)) for name in self.all_chapters}
        self._told, self._chips = widgets.HBox().add_class("fy-told"), {}
        self._head, self._ruler, self.said = widgets.HTML().add_class("fy-page-head"), widgets.HTML(), widgets.HTML()
        self._heard = widgets.HTML().add_class("fy-live")  # what was read of a question that is gone from the page
        self._reasons = widgets.ToggleButton(description=say("story.reasons"), layout=widgets.Layout(width="auto"))
        self._reasons.observe(lambda change: mark(self, "fy-reasons", change.new), "value")
        self._back, self._forward = button(say("story.back"), self.back), button(say("story.next"), self.forward)
        self._save = button(say("story.save" if len(chapters) > 1 else "story.save_taste"), self.save)
        self._changes: list[tuple[Story, Story]] = []  # the story after each change that was taken, and before it
        self._helper, self._moves = Accessible(), count()
        self.said.value = html.escape(self.kept.trouble or say("story.nothing"))
        super().__init__(self._parts())
        self.add_class("fy-box").add_class("fy-story")
        self.choice.observe(self._choose, "system")
        self.chapter = next(filter(self._unasked, chapters), chapters[0])
        self._turn_to(self.chapter)

    def _parts(self) -> list[widgets.Widget]:
        top = f'<span class="fy-title">{html.escape(self.title)}</span><br>{html.escape(" ".join([say("story.intro", file=own.FILE), draft_line()]).strip())}'
        chapters = widgets.HBox([*self._turns.values(), self._reasons]).add_class("fy-chapters")
        turn = widgets.HBox([self._forward, self._back, self._save]).add_class("fy-turn")
        page = widgets.VBox([*self._sections.values(), self._ruler])
        return [
            widgets.HTML(top),
            chapters,
            self._told,
            self._head,
            self._heard,
            page,
            turn,
            self.said,
            self.result,
            self._helper,
        ]

    @property
    def all_chapters(self) -> tuple[str, ...]:
        """The chapters, and the one of what few can tell where the story is asked whole."""
        return (*self.chapters, FEW) if len(self.chapters) > 1 else self.chapters

    @property
    def title(self) -> str:
        return say("story.title" if len(self.chapters) > 1 else "story.taste")

    @property
    def story(self) -> Story:
        return self.kept.story

    # Turning pages

    def go(self, chapter: str) -> None:
        """Open a chapter, with everything in view again that is open in it."""
        with self._turn:
            self._passed -= {one.place for one in asked(self.story, chapter)}
            self._turn_to(chapter)
            self._focus(".fy-page-head")

    def open_at(self, place: str) -> None:
        """Open the page on which a question stands, or the one that opens its section, and go to its field."""
        with self._turn:
            there = {one.place: name for name in self.all_chapters for one in asked(self.story, name)}
            section = place.partition(".")[0]
            together = (HEATING,) if section == "heat" else ()
            place = next((one for one in (place, *together, section, STEPS) if one in there), "")
            if not place:
                return
            if there[place] != self.chapter:
                self._turn_to(there[place], place)
            elif place not in self._page:
                self._page.append(place)
                self.follow(place)
            self._focus(f".{mark_of(place)}")

    def forward(self) -> None:
        """On to what is open in this chapter, or in the next ones; what was not answered here stays open, but for what came
        up too short ago to be seen."""
        with self._turn:
            seen = {place for place in self._page if monotonic() - self._came.get(place, -inf) > MOMENT}
            self._passed |= {place for place in seen if not self.story.answered(place)}
            if after := self._after():
                self._turn_to(after)
                self._focus(".fy-page-head")

    def _after(self) -> str:
        """The next chapter with questions that were not in view yet; "" where there is none."""
        here = self.chapters.index(self.chapter) if self.chapter in self.chapters else len(self.chapters)
        return next(filter(self._unasked, self.chapters[here:]), "")

    def back(self) -> None:
        """To the page before, as it was."""
        with self._turn:
            *before, (chapter, places) = self._before or [(self._chapter_before(), [])]
            self._passed -= set(places)
            self._turn_to(chapter)
            self._before, self._page = before, places or self._page
            self.follow()
            self._focus(".fy-page-head")

    def _chapter_before(self) -> str:
        return self.all_chapters[max(0, self.all_chapters.index(self.chapter) - 1)]

    def _unasked(self, chapter: str) -> list[Question]:
        """Questions of a chapter that are open and were not passed by."""
        return [
            one
            for one in asked(self.story, chapter)
            if not self.story.answered(one.place) and one.place not in self._passed
        ]

    def _due(self, here: list[Question]) -> list[Question]:
        """Those questions of a chapter whose turn has come: how it was frozen only after the heat, told or passed by."""
        heat = [one for one in here if one.section in (STEPS, "heat")]
        hot = any(not self.story.answered(one.place) and one.place not in self._passed for one in heat)
        return [one for one in here if one.place not in AFTER_HEAT or self.story.answered(one.place) or not hot]

    def _turn_to(self, chapter: str, first: str = "") -> None:
        """Open a chapter with its first open questions, or with one more."""
        if self._page:
            self._before.append((self.chapter, self._page))
        self._heard.value = ""
        self.chapter, self._seen = chapter, {one.place for one in self._due(asked(self.story, chapter))}
        self._page = [one.place for one in self._due(self._unasked(chapter))][: IN_VIEW - bool(first)]
        if first and first not in self._page:
            self._page.append(first)
        self.follow(first)

    def _focus(self, where: str) -> None:
        """Lead the keyboard to a place of the page, also if it was led there before."""
        self._helper.focus = f"{where} {next(self._moves)}"

    # Answers

    def save(self) -> None:
        """Try again what could not be taken, and go to the verdict."""
        with self._turn:
            for row in self._refused():
                self._take(row)
            self._to_the_verdict()

    def change(self, told) -> None:
        """Put a change that was offered into the story, and go to the verdict that comes of it."""
        with self._turn:
            self.kept.refresh()
            before = self.story
            if self._now(changed(before, told), "story.changed") and self.story != before:
                self._changes.append((self.story, before))
            self._to_the_verdict()

    def take_back(self) -> None:
        """Have the story as it was before the last change; a story in which something was told since stays as it is."""
        with self._turn:
            self.kept.refresh()
            if self._may_take_back() and self._now(self._changes[-1][1], "story.taken_back"):
                self._changes.pop()
            self._to_the_verdict()

    def _may_take_back(self) -> bool:
        return bool(self._changes) and self.story == self._changes[-1][0]

    def _now(self, story: Story, done: str) -> bool:
        """Keep another story and say what was done; or why it could not be kept."""
        try:
            self.kept.keep(story)
        except OSError as trouble:
            self.said.value = html.escape(say("story.not_saved", why=why(trouble)))
            return False
        self.said.value = html.escape(say(done, file=own.FILE))
        return True

    def _to_the_verdict(self) -> None:
        self.follow()
        self._focus(".fy-result")

    def _system(self) -> str:
        """The units to speak in: those that were chosen, else those of the answers."""
        return self.choice.system if self.choice.system != "both" else system_of(self.story) or "both"

    def _take(self, row: Row, reading: Reading | None = None) -> None:
        """Take what was typed in a row, or a reading of it, and what still stands in fields that are asked again after it."""
        with self._turn:
            self.kept.refresh()
            before, old = {one.place for one in questions(self.story)}, self.story.get("fish.species")
            open_ones = {place for place in self._page if not self.story.answered(place)}
            self._remember(row.question)
            if self._taken(row, reading):
                self._forget(_no_longer_true(row, old, self.story))
                while one := next(
                    (one for one in questions(self.story) if one.place not in before and self._stands(one)), None
                ):
                    before.add(one.place)
                    self._taken(self.rows[one.place])
            told = {place for place in open_ones - {row.place} if self.story.answered(place)}
            self._page = [place for place in self._page if place not in told or self.rows[place].pending]
            self.follow(row.place)
            gone = row.place not in self._page and not row.refused
            self._heard.value = row.became if gone else ""

    def _taken(self, row: Row, reading: Reading | None = None) -> bool:
        """Take an answer or a reading of it; or say in its row why not, and what may have been meant."""
        if most := end_of_the_dial(self.story, row.question, row.typed):
            with suppress(OSError):  # why nothing can be kept is said of the answer itself
                self.kept.keep(self.story.noted(DIAL, most))
        if row.place == STEPS:
            return self._steps_taken(row)
        told = advised(self.story, row.question, row.typed)
        if told and reading is None:
            row.refuse(*_by_the_rule(told), _left_open(row))
            return False
        if row.place == HEATING:
            return self._heating_taken(row, reading)
        said = heard(self.story, row.question, row.typed)
        if reading is None and not said.sure and (said.readings or said.mistake):
            row.refuse(*self._asked_back(row, said.readings, said.mistake), _left_open(row))
            return False
        typed = told.besides if told else row.typed.strip()
        picked, reading = reading is not None, reading or said.sure
        undecided_now = undecided(row.question, typed) and not reading
        kept = self._kept(row, lambda: self._put(row, typed, reading, undecided_now, picked))
        if kept and reading and reading.rest:  # of a list, what no table knows
            found = unknown_things(self.story, row.question.section, reading.rest)
            row.refuse(say("begin.unknown_thing", given=one_line(reading.rest, LONGEST)), found)
        return kept

    def _kept(self, row: Row, put: Callable[[], str]) -> bool:
        """Do what keeps an answer, and say in its row what it was read as, or why it was not taken."""
        try:
            read = put()
        except InputError as mistake:
            row.refuse(self._why_not(row, mistake))
        except OSError as trouble:
            row.refuse(say("story.not_saved", why=why(trouble)))
        else:
            row.taken(read)
            self.said.value = html.escape(say("story.saved", file=own.FILE))
            return True
        return False

    def _put(self, row: Row, typed: str, reading: Reading | None, undecided_now: bool, picked: bool) -> str:
        """Keep an answer with all that it tells besides; returns what is to be said of it. Raises: InputError, OSError."""
        question = row.question
        self.kept.put(reading) if reading else self.kept.take(question, row.typed)
        if undecided_now:
            self.kept.note(question, typed)
        names = [text for _place, text in reading.told if question.names] if reading else []
        sentence = "" if reading and reading.rest else ", ".join([typed, *names])
        more = "" if undecided_now else self._also(question, sentence)
        self._listen(question, sentence)
        self._end_list(question, reading)
        read = "" if picked and len(reading.told) == 1 else self._read(question, typed, reading, undecided_now)
        return " ".join(filter(None, (read, more)))

    def _also(self, question: Question, typed: str) -> str:
        """Keep what an answer tells of the questions after it; returns it in words."""
        found = also(self.story, question, typed)
        if found is None:
            return ""
        self.kept.put(found)
        return say("offer.also", readings=one_line(found.shown, LONGEST_ECHO))

    def _listen(self, question: Question, typed: str) -> None:
        """Keep in mind what an answer tells of questions that come later, in the place of what was heard there before; it
        is asked back with them, and counts only then."""
        anew = "fish." if question.place == "fish.species" else question.place  # another fish has another history
        self._in_passing = {
            place: (told_at, one) for place, (told_at, one) in self._in_passing.items() if not told_at.startswith(anew)
        } | {place: (question.place, one) for place, one in to_confirm(self.story, question, typed).items()}

    def _told_before(self, place: str) -> Reading | None:
        """What was told of an open question before it was asked."""
        return None if self.story.answered(place) else self._in_passing.get(place, ("", None))[1]

    def _end_list(self, question: Question, reading: Reading | None) -> None:
        """Ask for nothing more that goes in where a whole list was told at once."""
        if reading and question.key == "what" and len(reading.told) > 1 and not reading.rest:
            self._lists.add(question.section)
        if question.section in self._lists and complete(self.story, question.section):
            self._lists.discard(question.section)
            with suppress(InputError):  # what is wrong with it is said where it is asked
                self.kept.keep(closed(self.story, question.section))

    def _steps_taken(self, row: Row) -> bool:
        """Open the sections of what is done before the dryer and close the others; or ask one by one."""
        found, doors = steps_told(self.story, row.typed), open_steps(self.story)

        def put() -> str:
            if found is None:
                self.kept.keep(self.story.left_open(STEPS, YES))
                return ""
            self.kept.put(found)
            opened = [one for one in doors if self.story.get(one.place) is not None]
            more = []
            for one in opened:
                part = part_about(one, doors, row.typed)
                more.append(self._also(one, part))
                self._listen(one, part)
            read = say("story.told", what=say("section.steps"), answer=found.shown)
            return " ".join([f"{read}.", *filter(None, more)])

        return self._kept(row, put)

    def _heating_taken(self, row: Row, reading: Reading | None) -> bool:
        """Take all that is told of the heating, or ask back what is not plain; what is left is asked one by one."""
        found = reading or heating_told(self.story, row.typed)
        if found and not (reading or found.sure):
            row.refuse(say("story.meant"), (found,))
            return False

        def put() -> str:
            if found is None:
                story, said = asked_singly(self.story, row.question, row.typed)
                self.kept.keep(story)
                return said
            self.kept.put(found)
            self.kept.keep(self.story.left_open(HEATING, YES))
            return say("story.told", what=say("section.heat"), answer=found.shown) + "."

        return self._kept(row, put)

    def _advise(self, row: Row) -> None:
        """Say what the rule of a question says; what may be done by it counts when its button is pressed."""
        with self._turn:
            row.advise(*_by_the_rule(advice(row.question, self._system())))

    def _read(self, question: Question, typed: str, reading: Reading | None, undecided_now: bool) -> str:
        """What of an answer is said back: what was read in other words, or kept without deciding anything."""
        if undecided_now:
            return say("begin.undecided", given=one_line(typed, LONGEST))
        if reading and [typed.casefold()] != [text.casefold() for _place, text in reading.told[:1]]:
            return say("offer.taken", reading=one_line(reading.shown, LONGEST_ECHO))
        flavour = self.story.notes.get(f"{question.section}.flavour", "") if question.key == "what" else ""
        return say("begin.flavour", what=flavour) if flavour else ""

    def _asked_back(
        self, row: Row, readings: tuple[Reading, ...], mistake: InputError | None
    ) -> tuple[str, tuple[Reading, ...]]:
        """What is said of an answer that cannot be taken as it is, and the readings to choose from; none where it is refused."""
        question, given = row.question, one_line(row.typed.strip(), LONGEST)
        if readings:
            how = how_to_tell(question, row.typed)
            return how or say("story.which" if len(readings) > 1 else "story.meant"), readings
        if question.key == "what" and not refused.substance(given) and not salt_mixed(given):
            return say("begin.unknown_thing", given=given), unknown_things(self.story, question.section, given)
        if question.key == "species" and not refused.fish(given):
            why = no_composition(question, given)
            if why:
                return say("story.fish_not_usable", given=given, why=why), ()
            return say("story.unknown_fish", given=given), ()
        return self._why_not(row, mistake), ()

    def _why_not(self, row: Row, mistake: InputError) -> str:
        """Why an answer was not taken, about the one amount in it where there is one."""
        try:
            tell(self.story, row.question, narrowed(self.story, row.question, row.typed))
        except InputError as nearer:
            mistake = nearer
        return refusal(mistake, row.question)

    def _remember(self, door: Question) -> None:
        """Put what is told of a section into its fields, so that closing it loses nothing."""
        for one in questions(self.story) if door.door else ():
            if one.section == door.section and one.place in self.rows and one.place != door.place:
                self.rows[one.place].hold(self.story, one)

    def _stands(self, question: Question) -> bool:
        """Whether a field holds an answer that is not told, such as those of a section that was closed and is open again."""
        row = self.rows.get(question.place)
        return bool(row and row.typed.strip() and not row.refused and not self.story.answered(question.place))

    def _forget(self, places: str) -> None:
        """Empty the fields under a place of which nothing is told."""
        for place, row in self.rows.items():
            if places and place.startswith(places) and self.story.get(place) is None:
                row.clear()

    def _refused(self) -> list[Row]:
        """Rows with an answer that was not taken."""
        asked_now = {one.place for one in questions(self.story)}
        return [row for place, row in self.rows.items() if row.refused and place in asked_now]

    # The page

    def follow(self, last: str = "") -> None:
        """Show the page that is open, the chapters, and what follows from what was told; ``last`` is where the learner is."""
        here = asked(self.story, self.chapter)
        for section in self._sections:
            if any(_room_of(one) == section for one in here):
                self._make_room(section)
        shown = self._in_view(here, last)
        self._page = list(shown)
        for place, row in sorted(self.rows.items(), key=lambda one: one[0] in shown):  # first hide, then show
            row.show(self.story, shown.get(place))
            row.confirm(self._told_before(place) if place in shown else None)
        open_here = sum(not self.story.answered(place) for place in shown)
        more = len(self._unasked(self.chapter)) - open_here
        self._head.value = html.escape(_head_words(self.chapter, len(shown), open_here, more))
        self._show_told(here)
        sizes = any(place == f"cut.{name}" for place in shown for name in SIZES)
        self._ruler.value = ruler(self.story.typed.get("cut", {}), self.choice) if sizes else ""
        self._show_chapters()
        mark(self._back, "fy-hidden", not self._before and self.chapter == self.chapters[0])
        mark(self._forward, "fy-hidden", more <= 0 and not self._later())
        self.result.back.disabled = not self._may_take_back()
        self.result.follow(self.story, [row.question for row in self._refused()], set(self._sections))

    def _later(self) -> bool:
        """Whether chapters after this one have questions that were not in view yet."""
        if self.chapter not in self.chapters:
            return False
        return any(map(self._unasked, self.chapters[self.chapters.index(self.chapter) + 1 :]))

    def _in_view(self, here: list[Question], last: str) -> dict[str, Question]:
        """The questions in view: those of the page as it was opened, and those that came up since; if they are too many,
        what is told goes first."""
        due = {one.place for one in self._due(here)}
        new = {place for place in due - self._seen if not self.story.answered(place)}
        self._seen |= due
        self._came |= dict.fromkeys(new, monotonic())
        shown = [one for one in here if one.place in self._page or one.place in new]
        while len(shown) > IN_VIEW:
            others = [one for one in shown if one.place != last and not self._waits(one.place)]
            told = [one for one in others if self.story.answered(one.place)]
            shown.remove((told or others[::-1] or shown[::-1])[0])
        return {one.place: one for one in shown}

    def _waits(self, place: str) -> bool:
        return place in self.rows and bool(self.rows[place].refused)

    def _show_told(self, here: list[Question]) -> None:
        """What of this chapter is told, or was passed by, in short: a button each, which opens its question again."""
        chips, closed = [], {one.place for one in here} - set(self._page)
        for one in here:
            with_name = one.key == "amount" and one.place.replace(".amount", ".what") in closed
            short = self._in_short(one) if one.place in closed and not with_name else ""
            if short:
                chip = self._chips.setdefault(one.place, button("", lambda place=one.place: self.open_at(place)))
                chip.description = short
                mark(chip, "fy-untold", self.story.get(one.place) is None)
                chips.append(chip)
        if tuple(chips) != self._told.children:
            self._told.children = chips
        mark(self._told, "fy-hidden", not chips)

    def _in_short(self, question: Question) -> str:
        """An answer in short; "" where a question is still to come."""
        if self._waits(question.place):
            answer = say("story.not_taken_short")
        elif self.story.answered(question.place):
            answer = self._answer(question)
        elif question.place in self._passed:
            answer = say("begin.open")
        else:
            return ""
        return say("story.told", what=_short(question, self.story), answer=one_line(answer, LONGEST))

    def _answer(self, question: Question) -> str:
        """What is told of a question, with how much of it where it goes in; that it is open on purpose."""
        told = answer_in_field(self.story, question) or say("begin.open")
        if question.key == "faces" and told in ("1", "2"):
            return say("label.one_side" if told == "1" else "label.both_sides")
        if question.key == "pack" and self.story.get(question.place):
            return words.pack_name(told)
        much = self.story.get(question.place.replace(".what", ".amount")) if question.key == "what" else None
        return f"{told}, {much}" if much else told

    def _choose(self, _change) -> None:
        with self._turn:
            self.follow()

    def _make_room(self, section: str) -> None:
        """Empty rows for every question a section may ask; those that are there stay where they are."""
        told = self.story.get(section if section in LISTS else f"{section}.ingredient") if section else None
        places = _places(section, len(told or []) if isinstance(told, list) else 0)
        new = [Row(place, self._take, self._advise) for place in places if place not in self.rows]
        if new:
            self.rows |= {row.place: row for row in new}
            self._sections[section].children += tuple(new)

    def _show_chapters(self) -> None:
        for name, one in self._turns.items():
            number = sum(not self.story.answered(place.place) for place in asked(self.story, name))
            one.description = say("story.open" if number else "story.done", chapter=say(name), number=number)
            mark(one, "fy-here", name == self.chapter)

    def _repr_mimebundle_(self, **_kwargs):
        """The live form, and beside it what it asks, where no widget can live."""
        chapters = ", ".join(f"{say(name)} ({len(asked(self.story, name))})" for name in self.all_chapters)
        text = say("story.on_paper", title=self.title, chapters=chapters)
        return {**super()._repr_mimebundle_(**_kwargs), "text/html": f"<p>{html.escape(text)}</p>", "text/plain": text}


def _short(question: Question, story: Story) -> str:
    """A short name of a question: its label or its section, what it is about, else its words."""
    if question.of and question.key == "amount":
        return question.of
    if question.empty == NO_MORE and story.get(question.place) is None:
        return say("label.more")
    if question.door:
        return say(f"section.{question.section}")
    if question.place == FREEZING and to_freeze(story):
        return say("label.days_to_freeze")
    key = question.section if question.place in ("dryer.temperature", "room.temperature") else question.key
    return say(f"label.{key}") if f"label.{key}" in texts() else one_line(question.words.partition("?")[0], LONGEST)


def _head_words(chapter: str, number: int, open_here: int, more: int) -> str:
    """The heading of a page: how many of its questions are open, and how many come after them."""
    if not number:
        return say("story.all_told", chapter=say(chapter))
    here = say("story.head" if open_here else "story.head_done", chapter=say(chapter), number=open_here)
    return say("story.head_more", head=here, more=more) if more > 0 else here


def _by_the_rule(told: Advice) -> tuple[str, tuple[Reading, ...]]:
    """What the page says of a rule, and what may be done by it."""
    if told.offered is None:
        return told.words, ()
    return say("story.advised", rule=told.words), (told.offered,)


def _left_open(row: Row) -> Reading | None:
    """That a question is left open, with the words kept that nothing reads; None where no plan can do without its answer."""
    if row.question.needed or row.question.empty != NOT_KNOWN or row.place == "fish.species":
        return None
    return Reading(((row.place, NOT_KNOWN),), say("begin.open"), notes=((row.place, row.typed.strip()),))


def _no_longer_true(row: Row, old_species, story: Story) -> str:
    """The place under which fields no longer say anything true after an answer; "" for none."""
    if row.place == "fish.species" and old_species not in (None, story.get("fish.species")):
        return "fish."
    if row.question.key == "what" and tells_nothing(row.question, row.typed):
        return row.place.rpartition("ingredient.")[0] + "ingredient."
    return f"{row.question.section}." if row.question.section in LISTS and row.question.door and row.typed == NO else ""


def story_form(folder: str | Path = ".", choice: Choice | None = None) -> StoryForm:
    """The story of one's own fish from the beginning, kept in ``my-batch.toml`` in a folder."""
    return StoryForm(folder, choice)


def first_taste(folder: str | Path = ".", choice: Choice | None = None) -> StoryForm:
    """The first chapter of the same form."""
    return StoryForm(folder, choice, tuple(CHAPTERS)[:1])
