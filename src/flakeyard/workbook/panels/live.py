"""Panels one can touch: pictures drawn in the page, whose handles move at once whatever Python is doing.

A panel is put together from plain functions and holds no arithmetic itself:

    compute(**values) -> result        numbers in, a record out
    draw(result, choice) -> drawing    the picture as plain data (`drawing`)
    tell(result, choice) -> Told       what it says in words
    reply(result, guess, choice)       what is said to a learner's guess

The page asks by message and never writes a trait; Python answers by one trait and never asks. So nothing is echoed, and a
page opened again finds the newest picture. An answer carries who asked and the number of the question, and the page drops
what was overtaken. JupyterLab may deliver messages in a second thread while a cell runs: what answers takes its turn.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from importlib.resources import files

import anywidget
import traitlets

from flakeyard.display import NOTHING_STORED
from flakeyard.messages import draft_line, point, say
from flakeyard.remembered import Remembered
from flakeyard.workbook.panels.drawing import RAMPS, STYLES
from flakeyard.workbook.panels.panel import GROUPS, Choice, Control, Said, StaticTwin, told_trouble
from flakeyard.workbook.words import in_system

KEPT = 200  # pictures that are kept for when a handle comes back
KNOTS = 9  # of a guess, at most
SHORT = 7  # letters of where a control stood that have room beside a curve
SOURCE = files("flakeyard.workbook").joinpath("panels")


@dataclass(frozen=True)
class Told(Said):
    """What a live panel says: `numbers` are (name, text), the first of them large; `chips` are (name, text) that light up
    when they change. `sentence` says all of it in one piece, for paper and for those who hear it."""

    numbers: tuple[tuple[str, str], ...] = ()
    chips: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Lesson:
    """What a live panel is made of; `in_view` names the controls that are not folded away, `plays` the one that can run by
    itself, `look_for` holds questions with their folded answers."""

    title: str
    prompt: str
    controls: tuple[Control, ...]
    compute: Callable
    draw: Callable
    tell: Callable
    reply: Callable | None = None
    guess_prompt: str = ""
    in_view: tuple[str, ...] = ()
    plays: str = ""
    play_words: tuple[str, str] = ("", "")  # to play, and one step on where no motion is wanted
    look_for: tuple[tuple[str, str], ...] = ()
    start: dict = field(default_factory=dict)
    back: Callable | None = None  # what else goes back to the start when the learner does

    def __post_init__(self):
        ordered = sorted(self.controls, key=lambda control: GROUPS.index(control.group))
        held = tuple(replace(one, start=one.nearest(self.start.get(one.name, one.start))) for one in ordered)
        object.__setattr__(self, "controls", held)

    def setup(self, choice: Choice) -> dict:
        """What stands still while the picture lives."""
        controls = [
            {
                "name": one.name, "label": one.label, "values": one.values(), "start": one.start,
                "readings": [one.reading(value, choice) for value in one.values()],
                "in_view": one.name in self.in_view or not self.in_view,
            }
            for one in self.controls
        ]  # fmt: skip
        words = {name: say(f"live.{name}") for name in PAGE_WORDS}
        return {
            "title": self.title, "prompt": self.prompt, "guess_prompt": self.guess_prompt, "controls": controls,
            "styles": STYLES, "ramps": RAMPS, "plays": self.plays, "play_words": self.play_words,
            "look_for": self.look_for, "words": words, "point": point(),
        }  # fmt: skip

    def nearest(self, values: dict) -> dict[str, float]:
        return {one.name: one.nearest(float(values[one.name])) for one in self.controls}


PAGE_WORDS = (
    "back", "large", "more", "look_for", "guess", "guess_again", "show", "pause", "late", "guess_said", "caution", "sure",
)  # fmt: skip


class Live(anywidget.AnyWidget):
    """A lesson's picture, alive; see the module."""

    _esm = SOURCE.joinpath("live.js").read_text(encoding="utf-8")
    _css = SOURCE.joinpath("live.css").read_text(encoding="utf-8")
    setup = traitlets.Dict().tag(sync=True)
    record = traitlets.Dict().tag(sync=True)

    def __init__(self, lesson: Lesson, choice: Choice | None = None):
        self.lesson, self.choice, self.controls = lesson, choice or Choice(), lesson.controls
        self.said, self.trouble, self._turn, self._kept = Told("", ""), None, threading.RLock(), Remembered(KEPT)
        start = lesson.nearest({one.name: one.start for one in self.controls})
        super().__init__(setup=lesson.setup(self.choice), record=self._record(start, start, None))
        self.on_msg(self._asked)
        self.choice.observe(self._choose, "system")

    @property
    def title(self) -> str:
        return self.lesson.title

    @property
    def values(self) -> dict[str, float]:
        """The settings of the picture shown, in the units of the models."""
        return dict(self.record["values"])

    def set(self, **values: float) -> None:
        """Move handles from Python, each to its nearest mark; where they stood becomes the ghost."""
        with self._turn:
            before = self.values
            known = {name: value for name, value in values.items() if name in before}
            self.record = self._record(before | known, before, self.record["guess"])

    def renew(self, lesson: Lesson, **values: float) -> None:
        """Show another lesson, such as one with more marks on a control, at these settings; no ghost, no guess."""
        with self._turn, self.hold_sync():
            self.lesson, self.controls, self._kept = lesson, lesson.controls, Remembered(KEPT)
            values = lesson.nearest({one.name: one.start for one in self.controls} | values)
            self.setup = lesson.setup(self.choice)
            self.record = self._record(values, values, None) | {"who": "", "serial": 0}

    def at(self, **values: float) -> dict:
        """What the page would be shown at some settings, with nothing before them and no guess."""
        with self._turn:
            return self._record(values, values, None)

    def result(self, **values: float):
        """What is computed for some settings, kept for when they come back."""
        values = self.lesson.nearest(values)
        return self._kept(tuple(values.values()), lambda: self.lesson.compute(**values))

    def _asked(self, _widget, question: dict, _buffers) -> None:
        """A message of the page: a question, or settings to work out while the hand rests."""
        with self._turn:
            if "ahead" in question:
                if question.get("spare") and _others_work():
                    return
                with suppress(Exception):  # what is wrong there is told when somebody goes there
                    self.result(**self.values | question["ahead"])
                return
            if question.get("back") and self.lesson.back:
                self.lesson.back()
            who = {"who": question["who"], "serial": question["serial"]}
            values, rest = self.values | question["values"], self.values | question["rest"]
            self.record = self._record(values, rest, question.get("guess")) | who

    def _choose(self, _change) -> None:
        """Other units: new readings and words, same settings, same places."""
        with self._turn, self.hold_sync():
            self.setup = self.lesson.setup(self.choice)
            values = self.values
            self.record = self._record(values, values, self.record["guess"]) | {"who": "", "serial": 0}

    def _record(self, values: dict, rest: dict, guess: dict | None) -> dict:
        """The picture with the ghost of a resting place and a guess; trouble becomes words, and a picture without curves."""
        try:
            record = self._drawn(values, rest, _checked_guess(guess))
            self.trouble = None
            return record
        except Exception as trouble:  # a learner is shown words, never a traceback; tests read .trouble
            self.trouble, said = trouble, told_trouble(trouble)
            self.said = Told(said.sentence, said.how_sure, alt=said.alt)
            known = {one.name: one.start for one in self.controls} | self._known(values)
            last = self.record or {"fields": [], "handles": [], "buttons": []}
            kept = [
                {**one, "marks": [m for m in one["marks"] if m["kind"] in ("cut", "area")]} for one in last["fields"]
            ]
            return {
                **last, **_words_of(self.said, self.said), "fields": kept, "values": known, "ghost": None, "guess": None,
                "reply": "",
            }  # fmt: skip

    def _known(self, values: dict) -> dict[str, float]:
        """Those of the settings that are marks of their controls."""
        with suppress(Exception):
            return self.lesson.nearest(values)
        return self.values if self.record else {}

    def _drawn(self, values: dict, rest: dict, guess: dict | None) -> dict:
        values, rest = self.lesson.nearest(values), self.lesson.nearest(rest)
        result, choice = self.result(**values), self.choice
        drawing, self.said = self.lesson.draw(result, choice), self._tell(result)
        moved = [one for one in self.controls if values[one.name] != rest[one.name]]
        ghost, before = None, self.said
        if moved:
            with suppress(Exception):  # where it rested nothing could be worked out: then it leaves no ghost
                was = self.result(**rest)
                before = self._tell(was)
                readings = ", ".join(_stood(one, rest[one.name], choice) for one in moved)
                what = readings if len(readings) <= SHORT else ""  # more has no room beside a curve
                ghost = self.lesson.draw(was, choice)["trace"] | {"words": say("live.before", what=what).strip()}
        replied = self._reply(guess) if guess else ""
        return {
            **drawing, **_words_of(self.said, before), "values": values, "ghost": ghost, "guess": guess,
            "reply": replied,
        }  # fmt: skip

    def _tell(self, result) -> Told:
        """What the lesson says, cautions too, in the units that were chosen."""
        said = self.lesson.tell(result, self.choice)
        texts = {
            name: in_system(getattr(said, name), self.choice.system)
            for name in ("sentence", "how_sure", "caution", "alt")
        }
        texts["caution"] = " ".join(filter(None, [texts["caution"], draft_line()]))
        return replace(said, **texts)

    def _reply(self, guess: dict) -> str:
        """What is said to a guess, by what is computed for the settings it was made for."""
        return self.lesson.reply(self.result(**self.lesson.nearest(guess["values"])), guess, self.choice)

    def paper(self):
        """The picture as it stands now, for print: a matplotlib Figure."""
        from flakeyard.workbook.panels import paper_pen

        return paper_pen.on_paper(self.record)

    def static(self) -> StaticTwin:
        """The panel as it stands, without handles, for print."""
        from flakeyard.workbook.panels import paper_pen  # a drawing library: not for a page that is only looked at

        settings = "; ".join(f"{one.label} {one.reading(self.values[one.name], self.choice)}" for one in self.controls)
        return StaticTwin(self.title, settings, self.said, paper_pen.png(self.record), paper_pen.WIDTH)

    def _repr_mimebundle_(self, **kwargs):
        """The live panel, and beside it its twin for places where no widget can live."""
        made = super()._repr_mimebundle_(**kwargs)
        bundle, *more = made if isinstance(made, tuple) else (made,)
        if NOTHING_STORED in os.environ:
            return made
        twin = self.static()
        bundle = {**(bundle or {}), "text/html": twin._repr_html_(), "text/plain": str(twin)}
        return (bundle, *more) if more else bundle


def _stood(control: Control, value: float, choice: Choice) -> str:
    """Where a control stood; a bare number needs its name."""
    reading = control.reading(value, choice).partition(" (")[0]
    return f"{control.label}: {reading}" if control.kind == "count" else reading


def _others_work() -> bool:
    """Whether this computer has other work than the picture that was just shown, such as the kernels of a class; where it
    does not tell, it has."""
    try:
        return os.getloadavg()[0] > (os.cpu_count() or 1) / 2
    except (AttributeError, OSError):
        return True


def _words_of(said: Told, before: Told) -> dict:
    """What the page shows and speaks, with what each number was at the resting place."""
    was = dict(before.numbers)
    numbers = [
        {"name": name, "text": text, "was": was.get(name, text) if was.get(name, text) != text else ""}
        for name, text in said.numbers
    ]
    told = [
        say("live.changed", what=one["name"], text=one["text"], was=one["was"]) if one["was"]
        else say("live.stands", what=one["name"], text=one["text"])
        for one in numbers
    ]  # fmt: skip
    return {
        "numbers": numbers, "chips": [{"name": name, "text": text} for name, text in said.chips],
        "spoken": " ".join(told) or said.sentence, "sentence": "" if numbers else said.sentence, "sure": said.how_sure,
        "caution": said.caution, "alt": said.alt or said.sentence,
    }  # fmt: skip


def _checked_guess(guess: dict | None) -> dict | None:
    """A guess as the page sends it: some numbers, or nothing."""
    if not guess or not 1 <= len(guess["knots"]) <= KNOTS:
        return None
    made = {name: [float(value) for value in guess[name][:200]] for name in ("x", "y", "knots")}
    return made | {"values": dict(guess["values"])}
