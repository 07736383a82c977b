"""The form of the workbooks: fields of a batch file, a button, and what is told under it.

A field shows what the learner has told. Where no batch can do without it, the demonstration's word stands there to be
seen, and pressing the button makes it the learner's. Everything else that was not told is empty, beside an example.
"""

from __future__ import annotations

import html
import threading
from collections.abc import Callable
from typing import NamedTuple

import ipywidgets as widgets

from flakeyard.messages import say, translated
from flakeyard.steps.intent.fields import FIELDS, Flag, Number, OneOf
from flakeyard.units import LARGEST, read_amount
from flakeyard.workbook.accessible import Accessible

NOT_TOLD = say("form.not_told")
FLAGS = {True: "yes", False: "no"}
TURN = threading.RLock()  # a page may press two buttons at once, on two threads; both write the learner's file
HOW = {"style": {"description_width": "13em"}, "layout": {"width": "29em", "max_width": "100%"}}


class FormField(NamedTuple):
    """A field of the batch file as a form asks for it."""

    section: str
    name: str
    label: str

    @property
    def kind(self):
        return FIELDS[self.section][self.name]

    def in_words(self, told: dict) -> str:
        """What is told of it, in the words of the form; "" where nothing is."""
        value = told.get(self.section, {}).get(self.name, "")
        return FLAGS[value] if isinstance(value, bool) else str(value)


def field(entry: FormField, told: dict, needed: dict) -> widgets.Widget:
    """A field with what is told of it, or with the word of ``needed``; choices and flags are lists to choose from."""
    now = entry.in_words(told) or entry.in_words(needed)
    if isinstance(entry.kind, OneOf | Flag):
        words = FLAGS.values() if isinstance(entry.kind, Flag) else entry.kind.words
        options = [(NOT_TOLD, ""), *((translated(word), word) for word in words)]
        return widgets.Dropdown(options=options, value=now, description=entry.label, **HOW)
    example = entry.kind.example.strip('"')
    return widgets.Text(value=now, placeholder=example, description=entry.label, continuous_update=False, **HOW)


def as_told(section: str, name: str, text: str):
    """What goes into the file for what stands in a field: nothing for an empty one, a plain number or a flag where the
    table of fields wants one, else the words. Raises: InputError for a number that is none."""
    text, kind = text.strip(), FIELDS[section][name]
    if not text:
        return None
    if isinstance(kind, Flag):
        return {word: flag for flag, word in FLAGS.items()}.get(text, text)
    if isinstance(kind, Number):
        where = f"[{section}] {name}"
        bare = text.rstrip("% ") if kind.share else text
        number = read_amount(bare, "count", where, low=-LARGEST, example=kind.example).value
        return int(number) if number.is_integer() else number
    return text


def form(parts: list, button: str, keep: Callable[[], str]) -> widgets.VBox:
    """Parts of a form, a button and what is told under it; ``keep`` is asked when the button is pressed."""
    save = widgets.Button(description=button, layout=widgets.Layout(width="16em"))
    told = widgets.HTML(html.escape(say("form.nothing_saved"))).add_class("fy-live")

    def press(_button) -> None:
        with TURN:
            told.value = html.escape(keep())

    save.on_click(press)
    return widgets.VBox([*parts, save, told, Accessible()]).add_class("fy-box")
