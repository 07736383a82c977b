"""The form that puts a weighing into a log: a choice of the plan's trays, one row a press, and the last one taken back.

A row is in the log file before anything is computed from it. What is wrong with it is told under the form, with everything
typed still standing there; a weight far from the one expected is asked back before it stays.
"""

from __future__ import annotations

import html
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import ipywidgets as widgets
import numpy as np

from flakeyard import units
from flakeyard.files import turn, why, write_whole
from flakeyard.messages import number, say
from flakeyard.steps.learn.book import Book, Trial
from flakeyard.steps.learn.jumps import Jump, jump
from flakeyard.steps.learn.learning import Learned
from flakeyard.steps.learn.log_trays import ALL, THICKEST, tray_name
from flakeyard.steps.learn.logbook import EVENTS, Log, event_words
from flakeyard.units import InputError

LATE = 1.0  # s; what is typed so soon after a press of the button was meant by it, and a second press is the first one
LABELS = {name: say(f"log_form.label_{name}") for name in ("time", "tray", "mass", "event", "note")}


def read_row(typed: dict[str, str]) -> dict:
    """A row for the log from what was typed; the weight may have any unit of mass and is kept in grams."""
    row = {name: typed[name].strip() for name in ("time", "tray", "event", "note") if typed[name].strip()}
    weight = typed["mass"].strip()
    if not row.get("time"):
        raise InputError(
            LABELS["time"],
            say("live.salt.nothing"),
            say("log_form.when_was"),
            say("log_form.date_hour_hour"),
            "2026-11-20 19:00",
        )
    if weight and "tray" not in row:
        raise InputError(
            LABELS["tray"],
            say("live.salt.nothing"),
            say("log_form.which_tray_was"),
            say("log_form.tray_marked_piece"),
            "tray 1",
        )
    if weight:
        with_unit = weight if any(letter.isalpha() for letter in weight) else f"{weight} g"
        grams = round(1000 * units.read_amount(with_unit, "mass", LABELS["mass"], example="249 g").value, 2)
        row["mass_g"] = int(grams) if grams == int(grams) else grams
    elif "event" not in row:
        raise InputError(
            LABELS["mass"],
            say("live.salt.nothing"),
            say("log_form.what_did_scale"),
            say("log_form.weight_something_happened"),
            "249",
        )
    return row


def keep_weighing(book: Book, typed: dict[str, str], used: int) -> tuple[bool, str]:
    """Put what was typed into the log file; whether it is there now, and what to tell the learner."""
    try:
        row = read_row(typed)
        if _is_last(book.upto(used), row):
            return True, say("log_form.log_already")
        book.keep(used, **row)
    except InputError as mistake:
        return False, say("log_form.not_kept", why=mistake)
    except OSError as trouble:
        return False, say("log_form.not_kept", why=why(trouble))
    what = f"{tray_words(row['tray'])}, {number(row['mass_g'], 'g')} g" if "mass_g" in row else row["event"]
    kept = "log_form.tried" if isinstance(book, Trial) else "log_form.kept"
    return True, say(kept, time=row["time"], what=what, file=book.path.name)


def _is_last(log: Log, row: dict) -> bool:
    """Whether the same row came a moment ago: a button pressed twice."""
    if not log.entries:
        return False
    last = log.entries[-1]
    grams = None if last.mass is None else round(1000 * last.mass, 2)
    tray = tray_name(row.get("tray", "all"), LABELS["tray"])
    same = (last.tray, grams, last.event) == (tray, row.get("mass_g"), row.get("event", ""))
    return same and log.clock(last.hours).endswith(row["time"])


@dataclass(frozen=True)
class KeptRow:
    """A row that the form put into the file: what was typed, the file before and after it, weighings used then."""

    typed: dict[str, str]
    before: bytes | None
    after: bytes | None
    used: int


class Keeper:
    """Puts rows into the log of a book, asks back where one jumps, and takes the last one back."""

    def __init__(self, book: Book):
        self.book, self.kept, self._asked = book, [], None

    def keep(self, typed: dict[str, str], used: int, learned: Learned | None) -> tuple[bool, str]:
        """Whether the row is in the file now, and what to tell.

        Parameters: used – weighings used; learned – the forecast before this row, None where there is none
        """
        book, log, before = self.book, self.book.log, content(self.book.path)
        done, told = keep_weighing(book, typed, used)
        if book.log is log:
            return done, told
        row = KeptRow(typed, before, content(book.path), used)
        odd = jump(learned, book.log) if learned is not None else None
        if odd and typed != self._asked and self._back(row)[0]:
            self._asked = typed
            return False, jump_words(odd)
        self._asked = None
        self.kept.append(row)
        return True, told

    def undo(self) -> tuple[KeptRow | None, str]:
        """Take back the last row that was kept from here: that row, or None where there is none, and what to tell."""
        if not self.kept:
            return None, say("log_form.nothing", file=self.book.path.name)
        row = self.kept[-1]
        done, told = self._back(row)
        if done:
            self.kept.pop()
            return row, say("log_form.back", row=", ".join(filter(None, row.typed.values())))
        return None, told

    def _back(self, row: KeptRow) -> tuple[bool, str]:
        """Whether the file is again what it was before a row; where it is not, why."""
        try:
            return put_back(self.book, row), say("log_form.changed", file=self.book.path.name)
        except OSError as trouble:
            return False, say("log_form.not_back", why=why(trouble))


def content(path) -> bytes | None:
    return path.read_bytes() if path.exists() else None


def put_back(book: Book, row: KeptRow) -> bool:
    """Bring the file back to what it was before a row, unless something else has written to it since; whether it is."""
    with turn(book.path):
        if content(book.path) != row.after:
            return False
        if row.before is None:
            book.path.unlink()
        else:
            write_whole(book.path, row.before)
    book.read()
    return True


def jump_words(odd: Jump) -> str:
    """The question that is asked back."""
    more = "log_form.heavier" if odd.off > 0 else "log_form.lighter"
    told = {"weight": f"{1000 * odd.entry.kg:.0f} g", "usual": f"{1000 * odd.expected:.0f} g"}
    return say(more, tray=tray_words(odd.entry.tray), percent=f"{100 * abs(odd.off):.0f}", **told)


def tray_words(tray: str) -> str:
    """A tray as the form names it."""
    name = {THICKEST: "marked", ALL: "all", "": "no_tray"}.get(tray, "tray")
    return say(f"log_form.{name}", tray=tray)


def trays_of(book: Book) -> list[str]:
    """What may be on the scale: the trays of the plan, the marked piece, the whole load; and what the log names besides."""
    plan = [*map(str, range(1, book.batch.dryer.trays + 1)), THICKEST, ALL]
    return list(dict.fromkeys([*plan, *(entry.tray for entry in book.log.entries if entry.tray)]))


def aside_words(learned: Learned, log: Log) -> str:
    """That the weighing just kept was set aside; "" where it counts."""
    lines = {entry.line for entry in learned.set_aside}
    return say("log_form.aside") if log.entries and log.entries[-1].line in lines else ""


class Form(widgets.VBox):
    """Fields for one row of the log, and buttons; what is said stands under them."""

    def __init__(
        self, keep: Callable[[dict[str, str]], tuple[bool, str]], then: Callable[[], str], trays: Sequence[str] = ("1",)
    ):
        """Parameters: keep – puts what was typed away, whether it did, and what to tell; then – works on it, and tells;
        trays – to choose from."""
        self._keep, self._then, self._refused_at, self._done_at = keep, then, -np.inf, -np.inf
        self._left: dict[str, str] = {}  # what stood in the fields after the last press
        style, layout = {"description_width": "8em"}, widgets.Layout(width="30em", max_width="100%")
        how = {"continuous_update": False, "style": style, "layout": layout}
        self.fields = {name: widgets.Text(description=LABELS[name], **how) for name in ("time", "mass", "note")}
        self.fields["mass"].placeholder = "249 g"
        self.fields["tray"] = widgets.Dropdown(description=LABELS["tray"], style=style, layout=layout)
        self.offer(trays)
        happenings = [
            (say("log_form.weighed_nothing_else"), ""),
            *((f"{name}: {what}", name) for name, what in zip(EVENTS, map(event_words, EVENTS))),
        ]
        self.fields["event"] = widgets.Dropdown(
            options=happenings, value="", description=LABELS["event"], style=style, layout=layout
        )
        self.told = widgets.HTML(
            html.escape(say("log_form.hint")), layout=widgets.Layout(min_height="7em", max_width="36em")
        )
        self.told.add_class("fy-live")
        self.buttons = widgets.HBox([], layout=widgets.Layout(flex_flow="row wrap"))
        self.add_button(say("log_form.keep_weighing"), self.press)
        for field in self.fields.values():
            field.observe(self._late, "value")
        super().__init__([*(self.fields[name] for name in LABELS), self.buttons, self.told])

    def add_button(self, label: str, what: Callable[[], object]) -> None:
        button = widgets.Button(description=label, layout=widgets.Layout(width="auto"))
        button.on_click(lambda _button: what())
        self.buttons.children = (*self.buttons.children, button)

    def offer(self, trays: Sequence[str]) -> None:
        """The trays to choose from; the one chosen stays."""
        field = self.fields["tray"]
        options = tuple((tray_words(tray), tray) for tray in (*trays, ""))
        if options != field.options:
            chosen = field.value if field.value in trays else trays[0]
            field.options, field.value = options, chosen

    @property
    def typed(self) -> dict[str, str]:
        return {name: self.fields[name].value for name in LABELS}

    def put(self, typed: dict[str, str]) -> None:
        """Have the fields hold a row, for it to be corrected."""
        self._refused_at = -np.inf
        for name, text in typed.items():
            self.fields[name].value = text

    def tell(self, text: str) -> None:
        self.told.value = html.escape(text)

    def press(self) -> None:
        """Keep the row, make the fields ready for the next one, and only then work: the learner may type meanwhile.

        The second press of a double click, which may wait until the work is done, says nothing new.
        """
        if self.typed == self._left and time.monotonic() - self._done_at < LATE:
            return
        done, told = self._keep(self.typed)
        self._refused_at = -np.inf if done else time.monotonic()
        if done:
            self.fields["mass"].value = self.fields["note"].value = self.fields["event"].value = ""
        self._left = self.typed
        if done:
            self.tell(f"{told} {say('log_form.working')}")
            told = f"{told} {self._then()}"
        self.tell(told)
        self._done_at = time.monotonic()

    def _late(self, _change) -> None:
        """While the kernel is busy the page may send a press of the button ahead of what was typed: then try again."""
        if time.monotonic() - self._refused_at < LATE:
            self._refused_at = -np.inf
            self.press()
