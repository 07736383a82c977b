"""Small questions a learner answers before looking: a number to predict, or one of a few answers to choose.

Nothing is marked or stored. A prediction is compared with what the model says, with a tolerance that is told, and any
answer is followed by the reason. Both kinds work with the keyboard alone and without a browser: set the value of the
field, call `check()`, read `reply`.
"""

import html
import math
import re
import time
from collections.abc import Callable

import ipywidgets as widgets

from flakeyard import units
from flakeyard.messages import say
from flakeyard.workbook.accessible import Accessible

ALONE = re.compile(r"[0-9.,/½¼¾⅓⅔⅛ ]+")  # a number without a unit: in that of the example
LATE = 1.0  # s; an answer that arrives so soon after the button was meant by it


class Quiz(widgets.VBox):
    """A prompt, something to answer with, a button, and a reply that a screen reader speaks."""

    def __init__(self, prompt: str, answer_with: widgets.Widget, button: str):
        self.prompt, self.field, self.reply, self.right = prompt, answer_with, "", None
        self._checked_at = -math.inf
        self._text = widgets.HTML(layout=widgets.Layout(min_height="3em")).add_class("fy-live")
        self._button = widgets.Button(description=button, layout=widgets.Layout(width="16em"))
        self._button.on_click(lambda _button: self.check())
        self.field.observe(self._late, "value")
        asked = widgets.HTML(f'<span class="fy-title">{html.escape(prompt)}</span>')
        super().__init__([asked, answer_with, self._button, self._text, Accessible()])
        self.add_class("fy-box").add_class("fy-question")

    def _repr_mimebundle_(self, **_kwargs):
        """The live question, and beside it the question as on paper, where no widget can live."""
        asked = f"<p><strong>{html.escape(self.prompt)}</strong></p>{self._on_paper()}"
        return {**super()._repr_mimebundle_(**_kwargs), "text/html": asked, "text/plain": self.prompt}

    def _on_paper(self) -> str:
        """A line to write on."""
        return '<div class="write">' + html.escape(say("question.my_answer")) + "</div>"

    def check(self) -> bool | None:
        """Compare the answer given, show the reply; True when right, False when not, None when not yet readable."""
        self.right, self.reply = self._judge()
        self._checked_at = time.monotonic()
        look = {True: "fy-right", False: "fy-wrong", None: "fy-open"}[self.right]
        said = (
            self.reply
            if self.right is None
            else say("question.right" if self.right else "question.wrong", why=self.reply)
        )
        self._text.value = f'<span class="{look}">{html.escape(said)}</span>'
        return self.right

    def _late(self, _change) -> None:
        """While the kernel is busy the page may send a press of the button ahead of the answer: then judge again."""
        if time.monotonic() - self._checked_at < LATE:
            self.check()

    def _judge(self) -> tuple[bool | None, str]:
        raise NotImplementedError


class Prediction(Quiz):
    """Predict a number, then compare it with the model.

    Parameters:
        prompt : str – the question
        kind : str – what is asked for, a kind of `units` (length, time, temperature, percent, mass …)
        model : function of nothing, or float – what the model says, in SI; asked for only when the learner has answered
        within : float – a prediction counts as near when it is at most this share off (0.25: a quarter)
        off_by : float – … or at most this much off, in SI (for temperatures, where a share means nothing)
        why : str – the reason, shown after every answer
        example : str – what an answer looks like, such as "8 h"
    """

    def __init__(
        self,
        prompt: str,
        kind: str,
        model: Callable[[], float] | float,
        why: str,
        example: str,
        within: float = 0.0,
        off_by: float = 0.0,
        system: str = "both",
    ):
        if not within > 0 and not off_by > 0:
            raise ValueError(f"a prediction needs a tolerance above 0; within is {within} and off_by is {off_by}")
        self.kind, self.model, self.why, self.example = kind, model, why, example
        self.within, self.off_by, self.system = within, off_by, system
        # sent as a whole when the field is left: letter by letter, a quick press of the button overtakes the last one
        field = widgets.Text(
            description=say("question.my_prediction"),
            placeholder=say("question.example", example=example),
            continuous_update=False,
            style={"description_width": "8em"},
        )
        super().__init__(prompt, field, say("question.compare"))

    def _judge(self) -> tuple[bool | None, str]:
        typed = self.field.value.strip()
        if ALONE.fullmatch(typed):  # what it was read as stands in the reply
            typed = f"{typed} {units.read_amount(self.example, self.kind, self.prompt).unit}"
        try:
            guess = units.read_amount(typed, self.kind, say("question.your_prediction"), example=self.example)
        except units.InputError as trouble:
            return None, str(trouble)
        model = self.model() if callable(self.model) else self.model
        off = abs(guess.value - model)
        near = off <= max(self.within * abs(model), self.off_by) * (1 + 1e-9)
        return near, say(
            "question.compared", guess=guess, model=units.show(model, self.kind, self.system), why=self.why
        )


class Choosing(Quiz):
    """Choose one of a few answers; each wrong one may have a reply of its own.

    Parameters:
        prompt : str – the question
        answers : dict of str to str – answers in the order shown, each with the reply to it
        right : str – the right one of them
    """

    def __init__(self, prompt: str, answers: dict[str, str], right: str):
        if right not in answers:
            raise ValueError(f"right is {right!r}; allowed is one of the answers {list(answers)}")
        self.answers, self.answer = answers, right
        field = widgets.RadioButtons(options=list(answers), value=None, layout=widgets.Layout(width="auto"))
        super().__init__(prompt, field, say("question.check"))

    def _on_paper(self) -> str:
        """The answers to choose from, each with a box to tick."""
        return "".join(f"<p>☐ {html.escape(answer)}</p>" for answer in self.answers)

    def _judge(self) -> tuple[bool | None, str]:
        if self.field.value is None:
            return None, say("question.choose")
        return self.field.value == self.answer, self.answers[self.field.value]
