"""Enter a weighing, see the band shrink: the panel of workbook 08, and the logbook of one's own batch.

The slider steps through the weighings of a log; the form beside it adds one. A row is in the log file before anything
is computed from it, and what is wrong with it is told under the form, with everything typed still standing there.
"""

from __future__ import annotations

import html
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path

import ipywidgets as widgets
import numpy as np

from flakeyard import units
from flakeyard.files import why
from flakeyard.steps.intent.spread import UNKNOWN, Band
from flakeyard.steps.learn import lessons
from flakeyard.steps.learn.book import Book, Step, Trial, points, width
from flakeyard.steps.learn.learning import Learned
from flakeyard.steps.learn.log_trays import tray_name
from flakeyard.steps.learn.logbook import EVENTS, Log
from flakeyard.units import InputError
from flakeyard.workbook import words
from flakeyard.workbook.panels import batch_book, figures
from flakeyard.workbook.panels.batch_book import hours_words
from flakeyard.workbook.panels.figures import Picture
from flakeyard.workbook.panels.panel import Choice, Control, Panel, Said

HORIZONS = (6.0, 9.0, 12.0, 18.0, 24.0, 36.0, 48.0, 96.0)  # hours across the picture
ROWS, LEAST_ROWS = 9, 4  # forecasts that have room in the strip; bars are no thicker than those of so many
DRY = "dry by weight"  # in what was learned, once the marked piece has come down to its weight
LOOK_FOR = (
    "From weighing to weighing: does the band get narrower, and by how much each time?",
    "Which way did the plan err, and after which weighing did you know?",
    "Type a weight that cannot be, such as one that rose. What is said, and what is kept?",
)
OWN_LOOK_FOR = (
    "As laid: every tray and the marked thickest piece, the tray’s own weight taken off. These count most.",
    "Later: weigh again when the sentence says so. Enter a power cut or a pause under Event.",
    "Does the log not fit the plan? Stop, and look at the dryer and at the fish.",
)
NOT_SAFE = "A weight reached is not proof that fish is safe."
TRAYS_ONLY = "Nobody weighed the thickest piece by itself, so its lead over the trays is still the plan's guess."
SURE = {
    False: "this is a plan without a weighing; 8 of 10 batches should lie in the likely range.",
    True: "8 of 10 batches should lie in the likely range, as long as nothing about dryer and load changes.",
}


# The picture


@dataclass(frozen=True)
class Used(Control):
    """A slider that steps through the weighings of a log."""

    moments: tuple[float, ...] = ()

    def reading(self, value: float, choice: Choice) -> str:
        number = round(value)
        return (
            f"{number}, after {self.moments[number - 1]:.3g} h" if 0 < number <= len(self.moments) else "as laid only"
        )


def used_control(book: Book, start: int | None = None) -> Used:
    most = len(book.moments)
    start = most if start is None else min(start, most)
    return Used("used", "Weighings used so far", "keeping", "count", 0, max(most, 1), 1, start, moments=book.moments)


def rows_shown(most: int) -> list[int]:
    """Forecasts in the strip: all, or the first and the latest."""
    return list(range(most + 1)) if most < ROWS else [0, *range(most - ROWS + 2, most + 1)]


def horizon(book: Book) -> float:
    """Hours that the picture shows: the plan with room to spare."""
    hours = book.planned
    wanted = max(1.1 * (hours.high or 1.6 * (hours.mid or 30.0)), 1.05 * book.log.last)
    return next((reach for reach in HORIZONS if reach >= wanted), HORIZONS[-1])


def logbook_picture(book: Book, _choice: Choice) -> Picture:
    """Above: weight left against hours, forecast before and after. Below: the finish as forecast after each weighing."""
    picture = Picture(size=(7.4, 4.5))
    on = figures.axes(
        picture, "", "weight left, % of weight as laid", (0, horizon(book)), (30, 104), (0.085, 0.425, 0.9, 0.455)
    )
    figures.add_band(picture, "before", on, 1, "plan, 8 of 10 batches")
    figures.add_band(picture, "now", on, 0, "forecast now, likewise")
    figures.add_curve(picture, "middle", on, 0, None)
    figures.add_curve(picture, "stop", on, 3, "weight to stop at", width=1.8)
    for name, label, fill in (("later", "not used yet", "white"), ("used", "weighings used", figures.BLACK)):
        (dots,) = on.plot([], [], linestyle="", marker="o", markersize=7, color=figures.BLACK, label=label, zorder=5)
        picture.add(name, dots).set_markerfacecolor(fill)
    figures.add_point(picture, "done", on, 3)
    _add_strip(picture, book)
    (line,) = on.plot([], [], color=figures.BLACK, linewidth=1.4, label="what happened", zorder=2)
    picture.add("happened", line)
    figures.legend(on)
    return picture


def _add_strip(picture: Picture, book: Book) -> None:
    rows = rows_shown(len(book.moments))
    strip = figures.axes(
        picture,
        "hours since drying began",
        "",
        (0, horizon(book)),
        (max(len(rows), LEAST_ROWS) - 0.4, -0.6),
        (0.085, 0.1, 0.9, 0.235),
    )
    labels = [str(row) if row else "laid" if book.log.entries else "plan" for row in rows]
    strip.set_yticks(range(len(rows)), labels, fontsize=figures.FONT_SIZE - 2)
    strip.set_ylabel("weighing", fontsize=figures.FONT_SIZE)
    strip.grid(visible=False, axis="y")
    strip.set_title(
        "when it is done, as forecast after each weighing", fontsize=figures.FONT_SIZE - 0.5, loc="left", pad=4
    )
    for place in range(len(rows)):
        figures.add_band(picture, f"bar{place}", strip, 0, None)
        (tick,) = strip.plot([], [], linestyle="", marker="|", color=figures.BLACK, markersize=9, markeredgewidth=2.4)
        picture.add(f"tick{place}", tick).set_zorder(4)
    (line,) = strip.plot([], [], color=figures.BLACK, linewidth=1.4, zorder=2)
    picture.add("happened_below", line)


def draw_logbook(picture: Picture, step: Step, _choice: Choice) -> None:
    """Set bands, weighings, the weight to stop at, the bars of the forecasts and the line of what happened."""
    book, learned = step.book, step.learned
    hours = np.linspace(0.0, horizon(book), 97)
    known = learned.contradiction is None
    low, mid, high = 100 * step.curve(book.prior(learned.log), learned.log, hours)
    figures.set_band(picture["before"], hours, low, high)
    low, mid, high = 100 * step.curve(learned.course, learned.log, hours) if known else np.full((3, 97), np.nan)
    figures.set_band(picture["now"], hours if known else [], low if known else [], high if known else [])
    picture["middle"].set_data(hours, mid)
    seen, left = points(book.log, step.by_piece)
    now = seen <= (book.moments[step.used - 1] if step.used else 0.0) + 1e-9
    picture["used"].set_data(seen[now], 100 * left[now])
    picture["later"].set_data(seen[~now], 100 * left[~now])
    stop, done = 100 * step.stop, learned.hours_to_target.mid
    picture["stop"].set_data([0, horizon(book)], [stop, stop])
    figures.set_point(
        picture, "done", np.nan if done is None else done, stop, "" if done is None else f"done: {done:.1f} h"
    )
    happened = np.nan if step.happened is None else step.happened
    picture["happened"].set_data([happened] * 2, [30, 104])
    picture["happened_below"].set_data([happened] * 2, [-1, ROWS])
    _draw_bars(picture, step)


def _draw_bars(picture: Picture, step: Step) -> None:
    book = step.book
    for place, row in enumerate(rows_shown(len(book.moments))):
        made = step.made[row] if row <= step.used else UNKNOWN
        shown = made.mid is not None
        low = made.low if made.low is not None else 0.0
        high = made.high if made.high is not None else horizon(book)  # it may never get there
        ends, half = ([low, high], 0.38 if row == step.used else 0.22) if shown else ([], 0.0)
        figures.set_band(picture[f"bar{place}"], ends, [place - half] * len(ends), [place + half] * len(ends))
        picture[f"tick{place}"].set_data([made.mid] if shown else [], [place] if shown else [])


# The words


def tell_logbook(step: Step, choice: Choice) -> Said:
    """The new finish, what was learned, when to weigh again; what a tray cannot show; the verdict's first reason."""
    learned, verdict = step.learned, step.learned.outcome.verdict
    weighed = bool(step.used)
    made = f"After weighing {step.used}" if weighed else "As planned,"
    sentence = f"{made} {_forecast(step, choice)} {_taught(step)}{_again(learned)}"
    caution = " ".join(filter(None, (NOT_SAFE, words.first_reason(verdict), words.caution_line(verdict))))
    sure = SURE[weighed] if learned.contradiction is None else "not known until that is cleared up."
    sure = f"{sure} {TRAYS_ONLY}" if weighed and not step.by_piece and learned.contradiction is None else sure
    return Said(" ".join(sentence.split()), sure, caution, f"{_seen(step)} {sentence}")


def _forecast(step: Step, choice: Choice) -> str:
    learned = step.learned
    if learned.contradiction:
        return f"the log does not fit the plan, so when it is done is not known. {learned.contradiction}"
    hours, plan = (
        hours_words(one, choice) for one in (learned.hours_to_target, learned.plan.drying["hours_to_target"])
    )
    before = f"The plan said {plan}." if step.used else ""
    if learned.hours_to_target.mid is None:
        return f"it is not known whether the thickest piece will ever be dry enough. {before}"
    told = f"the thickest piece should be done after {hours}, counted from the start of drying. {before}"
    dry = next((line for line in learned.learned if DRY in line), "")
    done = learned.hours_to_target.mid <= learned.log.last and learned.log.weighings
    return f"{told} {dry or 'It may be done by now: weigh the thickest piece.'}" if done or dry else told


def _taught(step: Step) -> str:
    """What the weighings say of the dryer, and which of them were not believed."""
    learned = step.learned
    if not step.used or learned.contradiction or not learned.pace.known:
        return ""
    aside = [line for line in learned.learned if "set aside" in line or "taken for each other" in line]
    return " ".join([lessons.how_long(learned.pace), *aside, ""])


def _again(learned: Learned) -> str:
    if learned.next_weighing_h is None or learned.contradiction:
        return ""
    again, log = ("Weigh again" if learned.log.moments else "Weigh"), learned.log
    clock = f" ({log.clock(learned.next_weighing_h)[-5:]})" if log.began else ""
    return f"{again} {learned.next_weighing_h:.1f} h after drying began{clock}."


def _seen(step: Step) -> str:
    hours, left = points(step.learned.log, step.by_piece)
    what = "the marked piece" if step.by_piece else "the load"
    weighed = ", ".join(f"{100 * part:.0f} % at {hour:.3g} h" for hour, part in zip(hours, left, strict=True))
    happened = "" if step.happened is None else f" A vertical line marks what happened: {step.happened:.1f} h."
    bars = ", ".join("not known" if one.mid is None else f"{one.mid:.1f} h" for one in step.made)
    return (
        f"Falling bands of the weight left of {what}, as planned and as forecast now. Weighings used: {weighed or 'none'}. "
        f"Below, a bar for each forecast, its middle at {bars}.{happened}"
    )


# The form


HINT = (
    'Tray: a number; "thickest" for the marked piece by itself; "all" for everything at once. Weight: the fish alone; '
    "a number without a unit is grams."
)
LATE = 1.0  # s; what is typed so soon after a press of the button was meant by it
LABELS = {"time": "Time", "tray": "Tray", "mass": "Weight", "event": "Event", "note": "Note"}


def read_row(typed: dict[str, str]) -> dict:
    """A row for the log from what was typed; the weight may have any unit of mass and is kept in grams."""
    row = {name: typed[name].strip() for name in ("time", "tray", "event", "note") if typed[name].strip()}
    weight = typed["mass"].strip()
    if not row.get("time"):
        raise InputError("Time", "nothing", "when was it?", "a date with an hour, or an hour", "2026-11-20 19:00")
    if weight:
        with_unit = weight if any(letter.isalpha() for letter in weight) else f"{weight} g"
        grams = round(1000 * units.read_amount(with_unit, "mass", "Weight", example="249 g").value, 2)
        row["mass_g"] = int(grams) if grams == int(grams) else grams
    elif "event" not in row:
        raise InputError("Weight", "nothing", "what did the scale show?", "a weight, or something that happened", "249")
    return row


def keep_weighing(book: Book, typed: dict[str, str], used: int) -> tuple[bool, str]:
    """Put what was typed into the log file; whether it is there now, and what to tell the learner."""
    try:
        row = read_row(typed)
        if _is_last(book.upto(used), row):
            return True, "That is in the log already."
        book.keep(used, **row)
    except InputError as mistake:
        return False, f"Not kept: {mistake}"
    except OSError as trouble:
        return False, f"Not kept: {why(trouble)}"
    what = f"tray {row['tray']}, {row['mass_g']:g} g" if "mass_g" in row else row["event"]
    where = "tried in a scratch copy" if isinstance(book, Trial) else f"kept in {book.path.name}"
    return True, f"{row['time']}, {what}: {where}."


def _is_last(log: Log, row: dict) -> bool:
    """Whether the same row came a moment ago: a button pressed twice."""
    if not log.entries:
        return False
    last = log.entries[-1]
    grams = None if last.mass is None else round(1000 * last.mass, 2)
    tray = tray_name(row.get("tray", "all"), "Tray")
    same = (last.tray, grams, last.event) == (tray, row.get("mass_g"), row.get("event", ""))
    return same and log.clock(last.hours).endswith(row["time"])


class Form(widgets.VBox):
    """Fields for one row of the log, and buttons; what is said stands under them."""

    def __init__(self, keep: Callable[[dict[str, str]], tuple[bool, str]], then: Callable[[], str]):
        """Parameters: keep – puts what was typed away, whether it did, and what to tell; then – works on it, and tells."""
        self._keep, self._then, self._refused_at = keep, then, -np.inf
        style, layout = {"description_width": "8em"}, widgets.Layout(width="30em", max_width="100%")
        how = {"continuous_update": False, "style": style, "layout": layout}
        self.fields = {name: widgets.Text(description=LABELS[name], **how) for name in ("time", "tray", "mass", "note")}
        self.fields["mass"].placeholder = "249 g"
        happenings = [("weighed, nothing else", ""), *((f"{name}: {what}", name) for name, what in EVENTS.items())]
        self.fields["event"] = widgets.Dropdown(
            options=happenings, value="", description=LABELS["event"], style=style, layout=layout
        )
        self.told = widgets.HTML(html.escape(HINT), layout=widgets.Layout(min_height="7em", max_width="36em"))
        self.told.add_class("fy-live")
        self.buttons = widgets.HBox([], layout=widgets.Layout(flex_flow="row wrap"))
        self.add_button("Keep this weighing", self.press)
        for field in self.fields.values():
            field.observe(self._late, "value")
        super().__init__([*(self.fields[name] for name in LABELS), self.buttons, self.told])

    def add_button(self, label: str, what: Callable[[], object]) -> None:
        button = widgets.Button(description=label, layout=widgets.Layout(width="auto"))
        button.on_click(lambda _button: what())
        self.buttons.children = (*self.buttons.children, button)

    @property
    def typed(self) -> dict[str, str]:
        return {name: field.value for name, field in self.fields.items()}

    def tell(self, text: str) -> None:
        self.told.value = html.escape(text)

    def press(self) -> None:
        """Keep the row, make the fields ready for the next one, and only then work: the learner may type meanwhile."""
        done, told = self._keep(self.typed)
        self._refused_at = -np.inf if done else time.monotonic()
        if not done:
            self.tell(told)
            return
        self.fields["mass"].value = self.fields["note"].value = self.fields["event"].value = ""
        self.tell(f"{told} Working out the new forecast …")
        self.tell(f"{told} {self._then()}")

    def _late(self, _change) -> None:
        """While the kernel is busy the page may send a press of the button ahead of what was typed: then try again."""
        if time.monotonic() - self._refused_at < LATE:
            self._refused_at = -np.inf
            self.press()


# The panel


class LogbookPanel(Panel):
    """A log to step through and to write in: form and slider, one picture, the words, and what to change next time."""

    def __init__(self, book: Book, choice: Choice | None = None, start: int | None = None, clock=datetime.now):
        """Parameters: start – weighing at which the slider begins; clock – tells what time it is."""
        self.book, self._first, self._clock = book, start, clock
        self.form, self._table = Form(self._keep, self._learn), widgets.HTML().add_class("fy-live")
        self.form.add_button("What to change next time", self.show_changes)
        title = f"Logbook: {book.batch.title}"
        super().__init__(
            title, (used_control(book, start),), book.at, partial(logbook_picture, book), draw_logbook, tell_logbook,
            choice=choice, look_for=LOOK_FOR if isinstance(book, Trial) else OWN_LOOK_FOR,
        )  # fmt: skip
        self.children = (*self.children[:-1], self._table, self.children[-1])
        self.sliders["used"].observe(lambda _change: None if self._quiet else self._suggest(), "value")
        self._show_slider()
        self._suggest()
        if book.trouble:
            self.form.tell(f"{book.trouble} {HINT}")

    def _head(self, look_for) -> widgets.Box:
        head = super()._head(look_for)
        left, right = head.children
        left.children = (*left.children, self.form)
        if isinstance(self.book, Trial):
            right.children[-1].on_click(lambda _button: self._restore())
        else:
            right.children[0].value = right.children[0].value.replace("Look for", "On the evening")
        return head

    def _keep(self, typed: dict[str, str]) -> tuple[bool, str]:
        """The row goes into the log, and the form on to the next tray; nothing is worked out yet."""
        book, used = self.book, self.values["used"] if isinstance(self.book, Trial) else len(self.book.moments)
        self._before, log = self._likely(used), book.log
        done, told = keep_weighing(book, typed, used)
        if book.log is not log:
            self._next_tray()
        return done, told

    def _learn(self) -> str:
        most = len(self.book.moments)
        self._show_log(most)
        return narrower(self._before, self._likely(most))

    def _likely(self, used: int) -> Band:
        try:
            return self.book.learned(used).hours_to_target
        except ValueError:  # told by the panel
            return UNKNOWN

    def _show_log(self, used: int) -> None:
        """Show the log as it is now, with the slider at a weighing."""
        control = used_control(self.book, self._first)
        with self._without_redraw():
            self.controls = (control,)
            self.sliders["used"].options = control.options(self.choice)
            self.sliders["used"].value = used
        self.picture = self._make_picture(self.choice)
        self._show_slider()
        self.redraw()

    def _restore(self) -> None:
        self.book.restore()
        self._show_log(used_control(self.book, self._first).start)
        self._suggest()
        self.form.tell(HINT)

    def _show_slider(self) -> None:
        """Without a weighing there is nothing to step through."""
        steps = bool(self.book.moments)
        self.sliders["used"].layout.display = None if steps else "none"
        (self.add_class if steps else self.remove_class)("fy-panel")

    def _suggest(self) -> None:
        """Time and tray that are likely meant: in a trial those of the log's next row, else now."""
        book, fields = self.book, self.form.fields
        if not isinstance(book, Trial):
            fields["time"].value = fields["time"].value or f"{self._clock():%Y-%m-%d %H:%M}"
            fields["tray"].value = fields["tray"].value or "1"
            return
        used = self.values["used"]
        later = [*book.moments[used : used + 1], (book.moments or (0.0,))[-1] + 2.0]
        fields["time"].value, fields["tray"].value = book.log.clock(later[0]), "1"

    def _next_tray(self) -> None:
        tray, trays = self.form.fields["tray"], self.book.batch.dryer.trays
        if tray.value.strip().isdigit():
            tray.value = str(int(tray.value) % trays + 1)

    def show_changes(self) -> None:
        """Rank what to do otherwise next time, as the batch was learned."""
        self.form.tell("Working out what would have saved time …")
        table = batch_book.change_table(self.book, self.choice)
        self._table.value = table_html(table)
        self.form.tell("Ranked below, the most hours first. Each is tried by itself.")


def narrower(before: Band, after: Band) -> str:
    """How a row changed the width of the forecast, in words."""
    if None in (before.low, before.high, after.low, after.high):
        return "When it is done is not known." if after.mid is None else "The upper end is not known."
    wide = [width(one) for one in (before, after)]
    return f"The likely range went from {wide[0]:.1f} to {wide[1]:.1f} h wide."


def table_html(table: batch_book.Table) -> str:
    """A table for the page."""
    head = _cells(table.head, '<th scope="col" style="text-align:left;padding-right:1.5em">{}</th>')
    body = "".join(f"<tr>{_cells(row, '<td style=padding-right:1.5em>{}</td>')}</tr>" for row in table.rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _cells(texts: tuple[str, ...], form: str) -> str:
    return "".join(form.format(html.escape(text)) for text in texts)


def logbook_panel(book: Book | None = None, choice: Choice | None = None, start: int | None = None) -> LogbookPanel:
    """Step through the weighings of a log and add to it; Heron's, as weighed after two hours, when none is given."""
    return LogbookPanel(book, choice, start) if book else LogbookPanel(batch_book.demo_book(), choice, 1)


def own_logbook(folder: str | Path = ".", choice: Choice | None = None, start: str | None = None) -> LogbookPanel:
    """The logbook of one's own batch, with its card and its dryer; everything is kept in files beside the workbook.

    Parameters: start – when the fish meets the salt, for the batch card, such as "2026-12-05 18:00"
    """
    book = batch_book.own_book(folder)
    panel = LogbookPanel(book, choice)
    form = panel.form
    form.add_button(
        "Save the batch card",
        lambda: form.tell(batch_book.save_card(book.batch, folder, panel.choice.system, start)),
    )
    form.add_button("Keep what my dryer taught", lambda: form.tell(batch_book.keep_dryer(book, folder)))
    return panel
