"""One question of the story on the page: a field, what it costs not to know, and what became of the answer.

An answer that was read in other words is said as it was read; one that may mean several things is asked back, with a
button for each; one that cannot be taken stays in its field with the reason beneath.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable

import ipywidgets as widgets

from flakeyard.messages import say, translated
from flakeyard.steps.intent.fields import NOT_KNOWN, Flag
from flakeyard.units import one_line
from flakeyard.workbook.advised import WILL_DO
from flakeyard.workbook.grouped import STEPS
from flakeyard.workbook.kept_story import answer_in_field, listed
from flakeyard.workbook.loosely import MOST
from flakeyard.workbook.meant import Reading
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO, YES
from flakeyard.workbook.so_far import Story

LONGEST = 80  # letters of a reading on a button
TAKEN, UNCLEAR, REFUSED = "fy-right", "fy-open", "fy-wrong"  # what became of an answer


class Row(widgets.VBox):
    """The place of one question on the page: empty until it is asked."""

    def __init__(
        self,
        place: str,
        took: Callable[[Row, Reading | None], None],
        ask_back: Callable[[Row], None] = lambda _row: None,
    ):
        """Parameters: took – takes what was typed, or a reading of it; ask_back – says what it should be by its rule"""
        self.place, self.question, self.field, self._ask_back = place, None, None, ask_back
        self._took, self._shown, self._readings, self._waits = took, "", (), False
        self._before: Reading | None = None  # what was told of it before it was asked
        self._putting = False  # the field is being filled by the form
        self._offers: list[widgets.Button] = []
        self._left = None
        super().__init__(())
        self.add_class("fy-ask").add_class("fy-hidden").add_class(mark_of(place))

    @property
    def typed(self) -> str:
        return self.field.value if self.field else ""

    @property
    def refused(self) -> str:
        """Why the answer was not taken as it stands; "" where it was."""
        return self._became.value if self._waits else ""

    @property
    def became(self) -> str:
        """What is said of the answer."""
        return self._became.value

    @property
    def pending(self) -> bool:
        """Whether something stands in the field that is refused or not looked at yet."""
        return self.field is not None and self.field.value != self._shown

    def ask(self, question: Question) -> None:
        """Put the question on the page, if it is not there yet."""
        if self.field is None:
            self._make(question)
        self.question, self.field.description = question, _unparted(question.words)

    def _make(self, question: Question) -> None:
        """Make the field and what stands with it: most places are never asked, and each part takes its time."""
        self.field = _field_for(question)
        self.field.observe(self._changed, "value")
        self._note = widgets.HTML().add_class("fy-note")
        self._became = widgets.HTML().add_class("fy-live").add_class("fy-why-not")
        rule = button(say("story.what_should"), lambda: self._ask_back(self)).add_class("fy-ask-back")
        self._rule = (rule,) if self.place in WILL_DO else ()
        self._leave = button(say("story.leave_open"), lambda: self._took(self, self._left)).add_class("fy-hidden")
        self._make_offers(0)

    def show(self, story: Story, question: Question | None) -> None:
        """Be seen with a question and what is told of it, unless the field holds an answer that was refused; or hide."""
        mark(self, "fy-hidden", question is None)
        if question is None:
            return
        self.hold(story, question)
        left = story.get(self.place) is None
        reason = f'<div class="fy-reason">{html.escape(say("ask.why", why=self.question.why))}</div>'
        self._note.value = html.escape(self._cost() if left else "") + reason
        for one in self._rule:
            mark(one, "fy-hidden", not left)

    def hold(self, story: Story, question: Question) -> None:
        """Have what is told of a question in the field, seen or not."""
        self.ask(question)
        self._put(answer_in_field(story, question))

    def _cost(self) -> str:
        cost = self.question.cost
        return say("ask.if_open", cost=cost) if self.question.empty == NOT_KNOWN else cost

    def _put(self, text: str) -> None:
        """Have a text in the field, unless the learner has typed something that is refused or not looked at yet."""
        if text != self._shown and self.field.value == self._shown:
            self._shown, self._putting = text, True
            self.field.value = text
            self._putting = False

    def confirm(self, told: Reading | None) -> None:
        """Ask whether what was told before is meant, or no longer ask; an answer that waits comes first."""
        if self._waits or told == self._before:
            return
        self._before = told
        self._say(UNCLEAR, say("story.told_before") if told else "", (told,) if told else (), waits=False)

    def taken(self, read: str = "") -> None:
        """What stands in the field was taken, as it was read where that is to be said."""
        self._before = None
        self._say(TAKEN, read, waits=False)
        self._shown = self.typed

    def refuse(self, told: str, readings: tuple[Reading, ...] = (), left: Reading | None = None) -> None:
        """Say why the answer was not taken, or what may have been meant; ``left`` leaves the question open, where it may be."""
        self._before = None
        self._say(UNCLEAR if readings else REFUSED, told, readings, waits=True)
        self._left = left
        mark(self._leave, "fy-hidden", left is None)

    def advise(self, told: str, readings: tuple[Reading, ...]) -> None:
        """Say what the rule says, and offer what may be done by it; an answer that waits goes on waiting."""
        self._say(UNCLEAR, told, readings, waits=self._waits)

    def _say(self, became: str, told: str, readings: tuple[Reading, ...] = (), *, waits: bool) -> None:
        self._readings, self._waits = readings, waits
        mark(self._leave, "fy-hidden", True)
        self._make_offers(min(len(readings), MOST))
        for n, one in enumerate(self._offers):
            shown = one_line(readings[n].shown, LONGEST) if n < len(readings) else ""
            one.description = say("offer.button", reading=shown) if shown and len(readings) == 1 else shown
            mark(one, "fy-hidden", not shown)
        self._became.value = f'<span class="{became}">{html.escape(told)}</span>' if told else ""
        mark(self, "fy-refused", self._waits)

    def _make_offers(self, number: int) -> None:
        """Have at least so many buttons for readings."""
        new = range(len(self._offers), number)
        self._offers += [button("", lambda n=n: self._take_offer(n)) for n in new]
        if new or not self.children:
            self.children = (self.field, self._note, *self._rule, self._became, *self._offers, self._leave)

    def clear(self) -> None:
        """Empty the field."""
        if self.field is not None:
            self.taken()
            self._put("")

    def _take_offer(self, number: int) -> None:
        """What was offered is meant."""
        self._took(self, self._readings[number])

    def _changed(self, change) -> None:
        if not self._putting and (self.refused or change.new != self._shown):
            self._took(self, None)


def _field_for(question: Question) -> widgets.Widget:
    """A list to choose from, a box that knows names, or a box for words and amounts."""
    if question.place == STEPS:
        return widgets.Text(continuous_update=False, placeholder=say("story.steps_example"))
    if listed(question):
        told = (YES, NO) if isinstance(question.kind, Flag) else question.kind.words
        nothing = say("story.not_told" if question.door else "begin.open")
        return widgets.Dropdown(
            options=[(nothing, ""), *((translated(word), word) for word in told)],
            value="",
        )
    example = say("ask.for_example", examples=question.several or question.examples)
    how = {"continuous_update": False, "placeholder": example}
    if question.names:
        return widgets.Combobox(options=(*question.names, *([NOT_KNOWN] if question.key == "species" else [])), **how)
    return widgets.Text(**how)


def _unparted(text: str) -> str:
    """Text in which no number is parted from its unit at the end of a line."""
    return re.sub(r"(?<=\d) (?=[^\d\s(])", "\N{NO-BREAK SPACE}", text)


def mark_of(place: str) -> str:
    """The class by which the page finds a row."""
    return f"fy-at-{place.replace('.', '-')}"


def button(text: str, press: Callable[[], None]) -> widgets.Button:
    one = widgets.Button(description=text, layout=widgets.Layout(width="auto"))
    one.on_click(lambda _button: press())
    return one


def mark(widget: widgets.Widget, name: str, on: bool) -> None:
    """Give the widget a class, or take it away."""
    (widget.add_class if on else widget.remove_class)(name)
