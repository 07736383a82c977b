"""The story of one's own fish on one page: chapters, at most seven questions in view, and beneath them what follows.

Which questions are asked, in which order and words, and which answers are taken, `asking` says. Every answer that is
taken is in ``my-batch.toml`` at once; one that is not taken stays in its field, with the reason under it. Where nothing
that a plan needs is open any more, the verdict stands beneath, with the weight to stop at, the hours, the answer that
would help most and the ways to keep the fish.
"""

from __future__ import annotations

import html
import re
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import ipywidgets as widgets

from flakeyard.files import why
from flakeyard.messages import draft_line, say, translated
from flakeyard.steps.intent.fields import LISTS, NOT_KNOWN, SOAKS, Flag
from flakeyard.units import InputError, one_line
from flakeyard.workbook import own
from flakeyard.workbook.accessible import Accessible
from flakeyard.workbook.asking import (
    ASKED,
    DOORS,
    NO,
    YES,
    Question,
    Story,
    questions,
    refusal,
    tell,
    tells_nothing,
    undecided,
)
from flakeyard.workbook.kept_story import KeptStory, answer_in_field, listed
from flakeyard.workbook.loosely import MOST, heard
from flakeyard.workbook.meant import Reading
from flakeyard.workbook.offering import narrowed
from flakeyard.workbook.panels.panel import Choice
from flakeyard.workbook.panels.ruler import SIZES, ruler
from flakeyard.workbook.panels.story_result import StoryResult

CHAPTERS = {  # name of each, as a message, and its sections
    "section.fish": ("fish",), "section.cut": ("cut",), "section.brine": ("brine", "presoak", "rest", "freshen"),
    "section.heat": ("heat",), "section.dryer": ("dryer",), "story.keeping": ("room", "keep", "", "measured"),
}  # fmt: skip
LONGEST = 80  # letters of a reading on a button
IN_VIEW = 7  # questions on a page
OF_A_LABEL = ("fish.water", "fish.protein", "fish.ash")  # asked when the fish is not known by name


# Which questions, and where they stand


def asked(story: Story, chapter: str) -> list[Question]:
    """The questions of a chapter, those of a label only where no fish was named on purpose."""
    named = not story.answered("fish.species")
    return [
        one
        for one in questions(story)
        if one.section in CHAPTERS[chapter] and not (named and one.place in OF_A_LABEL and story.get(one.place) is None)
    ]


def _places(section: str, rows: int) -> Iterator[str]:
    """Every place of a section that a question may have, in their order, with one row more than were told."""
    if section in LISTS:
        for number in range(1, rows + 2):
            yield f"{section}.{number}"
            yield from (f"{section}.{number}.{one.key}" for one in ASKED[section])
        return
    if section in DOORS:
        yield section
    yield from (
        f"{section}.{one.key}" if section else one.key for one in ASKED["soak" if section in SOAKS else section]
    )
    if section in SOAKS:
        for number in range(1, rows + 2):
            yield from (f"{section}.ingredient.{number}.{one.key}" for one in ASKED["ingredient"])


class Row(widgets.VBox):
    """The place of one question on the page: empty until it is asked, then a field, a note, why it was refused, and a
    button with what may have been meant."""

    def __init__(self, place: str, took: Callable[[Row, Reading | None], None]):
        self.place, self.question, self.field = place, None, None
        self._took, self._shown, self._readings = took, "", ()
        self._note = widgets.HTML().add_class("fy-note")
        self._refused = widgets.HTML().add_class("fy-live").add_class("fy-why-not")
        self._offers = [_button("", lambda n=n: self._take_offer(n)).add_class("fy-hidden") for n in range(MOST)]
        super().__init__(())
        self.add_class("fy-ask").add_class("fy-hidden")

    @property
    def typed(self) -> str:
        return self.field.value if self.field else ""

    @property
    def refused(self) -> str:
        return self._refused.value

    def ask(self, question: Question) -> None:
        """Put the question on the page, if it is not there yet."""
        if self.field is None:
            self.field = _field_for(question)
            self.field.observe(self._changed, "value")
            self.children = (self.field, self._note, self._refused, *self._offers)
        self.question = question

    def show(self, story: Story, question: Question | None) -> None:
        """Be seen with a question and what is told of it, unless the field holds an answer that was refused; or hide."""
        _mark(self, "fy-hidden", question is None)
        if question is None:
            return
        self.ask(question)
        self._put(answer_in_field(story, self.question))
        left = story.get(self.place) is None
        reason = f'<div class="fy-reason">{html.escape(say("ask.why", why=self.question.why))}</div>'
        self._note.value = html.escape(self._cost() if left else "") + reason

    def _cost(self) -> str:
        cost = self.question.cost
        return say("ask.if_open", cost=cost) if self.question.empty == NOT_KNOWN else cost

    def _put(self, text: str) -> None:
        """Have a text in the field, unless the learner has typed something that is refused or not looked at yet."""
        if text != self._shown and self.field.value == self._shown:
            self._shown = text
            self.field.value = text

    def taken(self) -> None:
        """What stands in the field was taken."""
        self.refuse("")
        self._shown = self.typed

    def refuse(self, told: str, readings: tuple[Reading, ...] = ()) -> None:
        """Say why the answer was not taken, and what may have been meant; "" takes that back."""
        self._readings = readings
        for n, button in enumerate(self._offers):
            shown = say("offer.button", reading=one_line(readings[n].shown, LONGEST)) if n < len(readings) else ""
            button.description = shown
            _mark(button, "fy-hidden", not shown)
        self._refused.value = f'<span class="fy-wrong">{html.escape(told)}</span>' if told else ""
        _mark(self, "fy-refused", bool(told))

    def clear(self) -> None:
        """Empty the field."""
        self.taken()
        if self.field is not None:
            self._put("")

    def _take_offer(self, number: int) -> None:
        """What was offered is meant."""
        self._took(self, self._readings[number])

    def _changed(self, change) -> None:
        if self.refused or change.new != self._shown:
            self._took(self, None)


def _field_for(question: Question) -> widgets.Widget:
    """A list to choose from, a box that knows names, or a box for words and amounts."""
    if listed(question):
        told = (YES, NO) if isinstance(question.kind, Flag) else question.kind.words
        nothing = say("story.not_told" if question.door else "begin.open")
        return widgets.Dropdown(
            options=[(nothing, ""), *((translated(word), word) for word in told)],
            value="",
            description=_unparted(question.words),
        )
    example = say("ask.for_example", examples=question.examples)
    how = {"description": _unparted(question.words), "continuous_update": False, "placeholder": example}
    if question.names:
        return widgets.Combobox(options=(*question.names, *([NOT_KNOWN] if question.key == "species" else [])), **how)
    return widgets.Text(**how)


def _unparted(text: str) -> str:
    """Text in which no number is parted from its unit at the end of a line."""
    return re.sub(r"(?<=\d) (?=[^\d\s(])", "\N{NO-BREAK SPACE}", text)


class StoryForm(widgets.VBox):
    """The whole story, or some of its chapters, with what follows from it beneath.

    A page may send two answers at once on two threads, so whatever changes the form waits for its turn.
    """

    def __init__(self, folder: str | Path, choice: Choice | None = None, chapters: tuple[str, ...] = tuple(CHAPTERS)):
        self.kept, self.choice, self.chapters = KeptStory(folder), choice or Choice(), chapters
        self.chapter, self._first, self.result = chapters[0], "", StoryResult()
        self.rows: dict[str, Row] = {}
        self._turn = threading.RLock()
        self._sections = {section: widgets.VBox() for name in chapters for section in CHAPTERS[name]}
        self._turns = {name: _button("", lambda name=name: self.go(name)) for name in chapters}
        self._head, self._ruler, self.said = widgets.HTML().add_class("fy-page-head"), widgets.HTML(), widgets.HTML()
        self._reasons = widgets.ToggleButton(description=say("story.reasons"), layout=widgets.Layout(width="auto"))
        self._reasons.observe(lambda change: _mark(self, "fy-reasons", change.new), "value")
        self._back = _button(say("story.back"), self.back)
        self._forward = _button(say("story.next"), self.forward)
        self._save = _button(say("story.save"), self.save)
        self._helper = Accessible()
        self.said.value = html.escape(self.kept.trouble or say("story.nothing"))
        super().__init__(self._parts())
        self.add_class("fy-box").add_class("fy-story")
        self.choice.observe(self._choose, "system")
        self.follow()

    def _parts(self) -> list[widgets.Widget]:
        top = f'<span class="fy-title">{html.escape(self.title)}</span><br>{html.escape(" ".join([say("story.intro", file=own.FILE), draft_line()]).strip())}'
        chapters = widgets.HBox([*self._turns.values(), self._reasons]).add_class("fy-chapters")
        turn = widgets.HBox([self._back, self._forward, self._save]).add_class("fy-turn")
        page = widgets.VBox([*self._sections.values(), self._ruler])
        return [widgets.HTML(top), chapters, self._head, page, turn, self.said, self.result, self._helper]

    @property
    def title(self) -> str:
        return say("story.title" if len(self.chapters) > 1 else "story.taste")

    @property
    def story(self) -> Story:
        return self.kept.story

    # Turning pages

    def page(self) -> tuple[int, list[Question]]:
        """All questions of this chapter, and which of them is the first in view."""
        here = asked(self.story, self.chapter)
        return next((n for n, one in enumerate(here) if one.place == self._first), 0), here

    def go(self, chapter: str, first: str = "") -> None:
        """Open a chapter at its beginning, or at a place."""
        with self._turn:
            self.chapter, self._first = chapter, first
            self.follow()
            self._helper.focus = f".fy-page-head {chapter} {first}"

    def forward(self) -> None:
        """On to the next page, or the next chapter."""
        with self._turn:
            start, here = self.page()
            after = self.chapters[self.chapters.index(self.chapter) + 1 :]
            if start + IN_VIEW < len(here):
                self.go(self.chapter, here[start + IN_VIEW].place)
            elif after:
                self.go(after[0])

    def back(self) -> None:
        """To the page before, or the last one of the chapter before."""
        with self._turn:
            start, here = self.page()
            before = self.chapters[: self.chapters.index(self.chapter)]
            if start:
                self.go(self.chapter, here[max(0, start - IN_VIEW)].place)
            elif before:
                last = asked(self.story, before[-1])
                self.go(before[-1], last[(len(last) - 1) // IN_VIEW * IN_VIEW].place)

    # Answers

    def save(self) -> None:
        """Try again what could not be taken, and go to the verdict."""
        with self._turn:
            for row in self._refused():
                self._take(row)
            self.follow()
            self._helper.focus = f".fy-result {self._helper.focus}"

    def _take(self, row: Row, reading: Reading | None = None) -> None:
        """Take what was typed in a row, or a reading of it, and what still stands in fields that are asked again after it."""
        with self._turn:
            before, old = {one.place for one in questions(self.story)}, self.story.get("fish.species")
            if self._taken(row, reading):
                self._forget(_no_longer_true(row, old, self.story))
                while one := next(
                    (one for one in questions(self.story) if one.place not in before and self._stands(one)), None
                ):
                    before.add(one.place)
                    self._taken(self.rows[one.place])
            self.follow()

    def _taken(self, row: Row, reading: Reading | None = None) -> bool:
        """Take an answer or a reading of it; or say in its row why not, and what may have been meant."""
        said = heard(self.story, row.question, row.typed)
        reading = reading or said.sure
        if reading is None and (said.readings or said.mistake):
            row.refuse(self._why_not(row, said.mistake), said.readings)
            return False
        try:
            self.kept.put(reading) if reading else self.kept.take(row.question, row.typed)
            if undecided(row.question, row.typed) and not reading:
                self.kept.note(row.question, row.typed.strip())
        except InputError as mistake:
            row.refuse(self._why_not(row, mistake))
        except OSError as trouble:
            row.refuse(say("story.not_saved", why=why(trouble)))
        else:
            row.taken()
            flavour = self.story.notes.get(f"{row.question.section}.flavour", "")
            noted = say("begin.flavour", what=flavour) if flavour and row.question.key == "what" else ""
            self.said.value = html.escape(f"{say('story.saved', file=own.FILE)} {noted}".strip())
        return not row.refused

    def _why_not(self, row: Row, mistake: InputError | None) -> str:
        """Why an answer was not taken, about the one amount in it where there is one."""
        try:
            tell(self.story, row.question, narrowed(self.story, row.question, row.typed))
        except InputError as nearer:
            mistake = nearer
        return refusal(mistake, row.question) if mistake else say("story.unclear")

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

    def follow(self) -> None:
        """Show the page that is open, the chapters, and what follows from what was told."""
        start, here = self.page()
        for section in CHAPTERS[self.chapter]:
            self._make_room(section)
        shown = {one.place: one for one in here[start : start + IN_VIEW]}
        for place, row in sorted(self.rows.items(), key=lambda one: one[0] in shown):  # first hide, then show
            row.show(self.story, shown.get(place))
        self._head.value = html.escape(_head_words(self.chapter, start, len(here)))
        sizes = any(place == f"cut.{name}" for place in shown for name in SIZES)
        self._ruler.value = ruler(self.story.typed.get("cut", {}), self.choice) if sizes else ""
        self._show_chapters()
        last = self.chapter == self.chapters[-1] and start + IN_VIEW >= len(here)
        _mark(self._back, "fy-hidden", not start and self.chapter == self.chapters[0])
        _mark(self._forward, "fy-hidden", last)
        self.result.follow(self.story, [row.question for row in self._refused()], set(self._sections))

    def _choose(self, _change) -> None:
        with self._turn:
            self.follow()

    def _make_room(self, section: str) -> None:
        """Empty rows for every question a section may ask; those that are there stay where they are."""
        told = self.story.get(section if section in LISTS else f"{section}.ingredient") if section else None
        places = _places(section, len(told or []) if isinstance(told, list) else 0)
        new = [Row(place, self._take) for place in places if place not in self.rows]
        if new:
            self.rows |= {row.place: row for row in new}
            self._sections[section].children += tuple(new)

    def _show_chapters(self) -> None:
        for name, button in self._turns.items():
            number = sum(not self.story.answered(one.place) for one in asked(self.story, name))
            button.description = say("story.open" if number else "story.done", chapter=say(name), number=number)
            _mark(button, "fy-here", name == self.chapter)

    def _repr_mimebundle_(self, **_kwargs):
        """The live form, and beside it what it asks, where no widget can live."""
        chapters = ", ".join(f"{say(name)} ({len(asked(self.story, name))})" for name in self.chapters)
        text = say("story.on_paper", title=self.title, chapters=chapters)
        return {**super()._repr_mimebundle_(**_kwargs), "text/html": f"<p>{html.escape(text)}</p>", "text/plain": text}


def _button(text: str, press: Callable[[], None]) -> widgets.Button:
    button = widgets.Button(description=text, layout=widgets.Layout(width="auto"))
    button.on_click(lambda _button: press())
    return button


def _mark(widget: widgets.Widget, mark: str, on: bool) -> None:
    """Give the widget a class, or take it away."""
    (widget.add_class if on else widget.remove_class)(mark)


def _head_words(chapter: str, start: int, number: int) -> str:
    return say("story.head", chapter=say(chapter), first=start + 1, last=min(start + IN_VIEW, number), number=number)


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
