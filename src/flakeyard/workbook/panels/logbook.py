"""Enter a weighing, see the band shrink: the panel of workbook 08, and the logbook of one's own batch.

The slider steps through the weighings of a log; the form beside it (`log_form`) adds one.
"""

from __future__ import annotations

import html
import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import ipywidgets as widgets
import numpy as np

from flakeyard.display import NOTHING_STORED
from flakeyard.messages import number, say
from flakeyard.steps.intent.partial import nothing_told
from flakeyard.steps.intent.spread import UNKNOWN, Band
from flakeyard.steps.learn import lessons
from flakeyard.steps.learn.book import Book, Step, Trial, points, width
from flakeyard.steps.learn.learning import Learned
from flakeyard.workbook import own, words
from flakeyard.workbook.accessible import Accessible
from flakeyard.workbook.panels import batch_book, drawing
from flakeyard.workbook.panels.batch_book import hours_words
from flakeyard.workbook.panels.live import Lesson, Live, Told
from flakeyard.workbook.panels.log_form import Form, Keeper, aside_words, trays_of
from flakeyard.workbook.panels.panel import Choice, Control, StaticTwin

HORIZONS = (6.0, 9.0, 12.0, 18.0, 24.0, 36.0, 48.0, 96.0)  # hours across the picture
ROWS, LEAST_ROWS = 9, 4  # forecasts that have room; no row is higher than those of so many
WEIGHTS = (30.0, 104.0)  # % of the weight as laid, where the axis begins and ends
NEAR = 2.0  # points between a guess and the scale that count as near (judgement)
NOT_SAFE = say("live.log.weight_reached_not")
TRAYS_ONLY = say("live.log.nobody_weighed_thickest")
NEVER = say("live.log.never")
SURE = {False: say("live.log.sure_plan"), True: say("live.log.sure_weighed")}


# The picture


@dataclass(frozen=True)
class Used(Control):
    """A slider that steps through the weighings of a log."""

    moments: tuple[float, ...] = ()

    def reading(self, value: float, choice: Choice) -> str:
        used = round(value)
        if not 0 < used <= len(self.moments):
            return say("live.log.laid_only")
        return say("live.log.used_after", used=used, hours=number(self.moments[used - 1], ".3g"))


def used_controls(book: Book, start: int | None = None) -> tuple[Used, ...]:
    """The one slider; without a weighing there is nothing to step through."""
    most = len(book.moments)
    start = most if start is None else min(start, most)
    made = Used(
        "used", say("live.log.weighings_used_so"), "keeping", "count", 0, max(most, 1), 1, start, moments=book.moments
    )
    return (made,) if most else ()


def rows_shown(most: int) -> list[int]:
    """Forecasts that have room: all, or the first and the latest."""
    return list(range(most + 1)) if most < ROWS else [0, *range(most - ROWS + 2, most + 1)]


def horizon(book: Book) -> float:
    """Hours that the picture shows: the plan with room to spare."""
    hours = book.planned
    wanted = max(1.1 * (hours.high or 1.6 * (hours.mid or 30.0)), 1.05 * book.log.last)
    return next((reach for reach in HORIZONS if reach >= wanted), HORIZONS[-1])


def draw_logbook(step: Step, _choice: Choice) -> dict:
    """Left the weight left, as planned, as forecast now and as weighed so far; right the forecasts made on the way."""
    curves, book = _weights_field(step), step.book
    line = {"line": "later", "paper_words": "", "places": [0.0, *book.moments]}
    stands = line["places"][step.used]
    now = next((mark for mark in curves["marks"] if mark.get("style") == "now" and mark["kind"] == "curve"), None)
    return {
        "fields": [curves, _forecasts_field(step)],
        "handles": [drawing.handle("used", 0, WEIGHTS[0], "across", stands=stands, **line)] if book.moments else [],
        "buttons": [],
        "trace": {"0": {"x": now["x"], "y": now["y"]}} if now else {},
        "guessed": _guessed(step),
    }


def _guessed(step: Step) -> dict | None:
    """The next weighing, which comes to light once it was guessed; in a trial, where there is one."""
    following = next_weighing(step)
    if following is None or not isinstance(step.book, Trial):
        return None
    hour, seen = following[0], points(step.book.upto(step.used), step.by_piece)[1]
    wide = 0.05 * horizon(step.book)
    return {
        "field": 0, "axis": "up", "at": [hour], "names": [say("live.log.guess", hour=number(hour, ".3g"))],
        "start": float(round(100 * seen[-1])), "step": 1.0, "unit": "%", "ends": [hour - wide, hour + wide],
        "then": {"used": step.used + 1},
    }  # fmt: skip


def next_weighing(step: Step) -> tuple[float, float] | None:
    """Hour and weight left [1] of the weighing after the last one used; None where there is none."""
    seen, left = points(step.book.log, step.by_piece)
    after = [pair for pair in zip(seen, left, strict=True) if pair[0] > _reached(step) + 1e-9]
    return (float(after[0][0]), float(after[0][1])) if after else None


def _reached(step: Step) -> float:
    return step.book.moments[step.used - 1] if step.used else 0.0


def _weights_field(step: Step) -> dict:
    """Weight left against the hours: the plan's band, the forecast's, the weighings used and the weight to stop at."""
    book, learned = step.book, step.learned
    most = horizon(book)
    hours, stop, done = np.linspace(0.0, most, 97), 100 * step.stop, learned.hours_to_target.mid
    low, mid, high = _shown(step.curve(book.prior(learned.log), learned.log, hours))
    marks = [
        drawing.band("second", hours, low, high) | {"given": True},
        drawing.curve("second", hours, mid, say("live.log.plan"), given=True),
        {"kind": "note", "style": "now", "words": say("live.batch.band"), "given": True},
    ]
    if learned.contradiction is None:
        low, mid, high = _shown(step.curve(learned.course, learned.log, hours))
        marks += [drawing.band("now", hours, low, high), drawing.curve("now", hours, mid, say("live.log.now"))]
    if np.isfinite(stop):
        marks.append(
            drawing.curve("end", [0, most], [stop, stop], say("live.weight.stop", share=f"{stop:.0f}"), given=True)
        )
        if done is not None and done <= most:
            marks.append(drawing.point(done, stop, say("live.batch.done", hours=number(done, ".1f")), shape="s"))
    seen, left = points(book.log, step.by_piece)
    used = seen <= _reached(step) + 1e-9
    for hour, part in zip(seen[used], *_shown(left[used][None]), strict=True):
        marks.append(drawing.point(hour, part, "", given=True))
    across = drawing.axis(say("live.log.across"), 0.0, most, _ticks(most))
    up = drawing.axis(say("live.batch.up"), *WEIGHTS, range(40, 101, 20))
    return {"across": across, "up": up, "marks": marks, "share": 0.56}


def _shown(curves: np.ndarray) -> np.ndarray:
    return np.clip(100 * curves, *WEIGHTS)


def _ticks(most: float) -> np.ndarray:
    return np.linspace(0.0, most, 7 if most % 6 == 0 else 4)


def _forecasts_field(step: Step) -> dict:
    """A bar for each forecast made so far; what happened comes to light when it has."""
    book, most, rows = step.book, horizon(step.book), rows_shown(len(step.book.moments))
    foot = max(len(rows), LEAST_ROWS) + 0.3  # room for the words beneath
    marks = []
    for place, row in enumerate(rows):
        if row > step.used or step.made[row].mid is None:
            continue
        made = step.made[row]
        high, low = most if made.high is None else min(made.high, most), made.low or 0.0
        open_end = made.high is None or made.high > most  # it may never get there
        now = row == step.used
        marks.append(
            drawing.bar(
                "now" if now else "second", place, min(low, most), high, reading=say("live.batch.done", hours=number(made.mid, ".1f")),
                middle=min(made.mid, most), thick=14 if now else 9, open=open_end, strong=now,
            )
        )  # fmt: skip
    if step.happened is not None and step.happened <= _reached(step) + 1e-9:
        marks.append(drawing.curve("before", [step.happened] * 2, [-0.6, foot], say("live.log.happened")))
    names = [str(row) if row else say("live.log.row_laid" if book.log.entries else "live.log.row_plan") for row in rows]
    across = drawing.axis(say("live.log.across"), 0.0, most, _ticks(most)[::2])
    up = drawing.axis(say("live.log.forecasts"), foot, -0.6, range(len(rows)), names)
    return {"across": across, "up": up, "marks": marks, "margin": 60}


def reply_logbook(step: Step, guess: dict, choice: Choice) -> str:
    """What is said to a guess of the next weighing: what the scale showed, and what the forecast had said."""
    following = next_weighing(step)
    if following is None:
        return ""
    hour, seen = following
    told = {"guess": choice.show(guess["knots"][0] / 100, "percent"), "seen": choice.show(seen, "percent")}
    if step.learned.contradiction:
        return say("live.log.reply_unknown", **told)
    made = Band(*(float(one[0]) for one in step.curve(step.learned.course, step.learned.log, np.array([hour]))))
    near = abs(guess["knots"][0] - 100 * seen) <= NEAR
    return f"{say('live.log.reply', forecast=choice.show_band(made, 'percent'), **told)} {say('live.log.near' if near else 'live.log.far')}"


# The words


def tell_logbook(step: Step, choice: Choice) -> Told:
    """The new finish, what was learned, when to weigh again; what a tray cannot show; the verdict's first reason."""
    learned, verdict = step.learned, step.learned.outcome.verdict
    weighed = bool(step.used)
    sentence = " ".join([_forecast(step, choice), _taught(step), _again(learned)])
    caution = " ".join(filter(None, (NOT_SAFE, *_against_it(learned), words.caution_line(verdict))))
    sure = SURE[weighed] if learned.contradiction is None else say("live.log.until_cleared_up")
    sure = f"{sure} {TRAYS_ONLY}" if weighed and not step.by_piece and learned.contradiction is None else sure
    sentence = " ".join(sentence.split())
    numbers, chips = ((), ()) if learned.contradiction else (_numbers(step, choice), _chips(step))
    return Told(sentence, sure, caution, f"{_seen(step)} {sentence}", numbers, chips)


def _against_it(learned: Learned) -> tuple[str, ...]:
    """Whose numbers still stand in a batch, and the first reason against it; none against a batch that nobody has told."""
    batch = learned.outcome.batch
    reason = "" if nothing_told(batch) else words.first_reason(learned.outcome.verdict)
    return own.still_borrowed(batch), reason


def _numbers(step: Step, choice: Choice) -> tuple[tuple[str, str], ...]:
    """The hours large; their likely range and how wide it is, and what the plan had said."""
    made, plan = step.learned.hours_to_target, step.learned.plan.drying["hours_to_target"]
    unknown = say("live.not_known")
    seconds = Band(*(None if one is None else 3600 * one for one in vars(made).values()))
    middle, likely = choice.show(seconds.mid, "time"), choice.likely(seconds, "time")
    wide = unknown if None in (made.low, made.high) else f"{number(width(made), '.1f')} h"
    return (
        (say("live.log.done"), middle),
        (say("live.log.likely"), likely or (unknown if made.mid is None else middle)),
        (say("live.log.wide"), wide),
        (say("live.log.plan_said"), hours_words(plan, choice)),
    )


def _chips(step: Step) -> tuple[tuple[str, str], ...]:
    """What follows from it: when to weigh again, whether it is done, what the load teaches, what was not believed."""
    now = say("live.log.weighed", number=step.used) if step.used else say("live.log.planned")
    told = " ".join(filter(None, (_done(step), _taught(step).strip(), _again(step.learned))))
    return ((now, told),) if told else ()


def _forecast(step: Step, choice: Choice) -> str:
    learned, name = step.learned, "weighed_so" if step.used else "planned_so"
    if learned.contradiction:
        return f"{say(f'live.log.{name}_misfit', number=step.used)} {learned.contradiction}"
    hours, plan = (
        hours_words(one, choice) for one in (learned.hours_to_target, learned.plan.drying["hours_to_target"])
    )
    before = say("live.log.plan_was", plan=plan) if step.used else ""
    if learned.hours_to_target.mid is None:
        return f"{say(f'live.log.{name}_never', number=step.used)} {before}"
    return f"{say(f'live.log.{name}_done', number=step.used, hours=hours)} {before} {_done(step)}"


def _done(step: Step) -> str:
    """Whether the marked piece is down to its weight, or may be."""
    learned = step.learned
    if learned.hours_to_target.mid is None:
        return NEVER
    over = learned.hours_to_target.mid <= learned.log.last and learned.log.weighings
    return next(iter(lessons.done(learned)), say("live.log.may_be_done") if over else "")


def _taught(step: Step) -> str:
    """What the weighings say of the dryer, and which of them were not believed."""
    learned = step.learned
    if not step.used or learned.contradiction or not learned.pace.known:
        return ""
    return " ".join([lessons.how_long(learned.pace), *lessons.aside(learned), ""])


def _again(learned: Learned) -> str:
    if learned.next_weighing_h is None or learned.contradiction:
        return ""
    log = learned.log
    again = ("again" if log.moments else "first") + ("_clock" if log.began else "")
    clock = log.clock(learned.next_weighing_h)[-5:] if log.began else ""
    return say(f"live.log.{again}", hours=learned.next_weighing_h, clock=clock)


def _seen(step: Step) -> str:
    hours, left = points(step.learned.log, step.by_piece)
    weighed = [
        say("live.log.part_at", part=f"{100 * part:.0f}", hours=number(hour, ".3g"))
        for hour, part in zip(hours, left, strict=True)
    ]
    bars = [say("live.not_known") if one.mid is None else f"{number(one.mid, '.1f')} h" for one in step.made]
    told = say(
        "live.log.seen_piece" if step.by_piece else "live.log.seen_load",
        weighed=", ".join(weighed) or say("live.log.none"), bars=", ".join(bars),
    )  # fmt: skip
    return told if step.happened is None else f"{told} {say('live.log.line', hours=step.happened)}"


# The panel


class LogbookPanel(widgets.VBox):
    """A log to step through and to write in: the picture with its words, the form, and what to change next time."""

    def __init__(self, book: Book, choice: Choice | None = None, start: int | None = None, clock=datetime.now):
        """Parameters: start – weighing at which it begins; clock – tells what time it is."""
        self.book, self.choice, self._first, self._clock = book, choice or Choice(), start, clock
        self._keeper, self._table = Keeper(book), widgets.HTML().add_class("fy-live")
        self.form = Form(self._keep, self._learn, trays_of(book))
        self.form.add_button(say("log_form.undo"), self.undo)
        self.form.add_button(say("live.log.what_change_next"), self.show_changes)
        self.live = Live(self._lesson(), self.choice)
        self._quiet = False
        self.live.observe(self._moved, "record")
        super().__init__([self.live, widgets.VBox([self.form, self._table, Accessible()]).add_class("fy-box")])
        self._suggest()
        if book.trouble:
            self.form.tell(f"{book.trouble} {say('log_form.hint')}")

    def _lesson(self) -> Lesson:
        """The log as it is now, with a mark for each weighing."""
        book, trial = self.book, isinstance(self.book, Trial)
        asked = "look" if trial else "evening"
        return Lesson(
            say("live.log.logbook", title=book.batch.title), say("live.log.prompt" if trial else "live.log.own_prompt"),
            used_controls(book, self._first), lambda used=0.0: book.at(used), draw_logbook, tell_logbook, reply_logbook,
            say("live.log.guess_prompt") if trial else "",
            look_for=tuple((say(f"live.log.{asked}_{n}"), say(f"live.log.saw_{asked}_{n}")) for n in (1, 2, 3)),
            back=self._restore if trial else None,
        )  # fmt: skip

    @property
    def said(self) -> Told:
        return self.live.said

    @property
    def trouble(self) -> Exception | None:
        return self.live.trouble

    @property
    def values(self) -> dict[str, float]:
        return self.live.values

    def set(self, **values: float) -> None:
        """Go to a weighing."""
        self.live.set(**values)

    def static(self) -> StaticTwin:
        return self.live.static()

    def _repr_mimebundle_(self, **kwargs):
        """Live, and beside it the twin for places where no widget can live."""
        if NOTHING_STORED in os.environ:
            return super()._repr_mimebundle_(**kwargs)
        twin = self.static()
        stored = {"text/html": twin._repr_html_(), "text/plain": str(twin)}
        return {**super()._repr_mimebundle_(**kwargs), **stored}

    def _keep(self, typed: dict[str, str]) -> tuple[bool, str]:
        """The row goes into the log, and the form on to the next tray; nothing is worked out yet."""
        book, used = self.book, len(self.book.moments)
        used = round(self.values.get("used", used)) if isinstance(book, Trial) else used
        learned = self._forecast(used)
        self._before, log = _likely(learned), book.log
        done, told = self._keeper.keep(typed, used, learned)
        if done and book.log is not log:
            self._next_tray()
        return done, told

    def _learn(self) -> str:
        most = len(self.book.moments)
        self._show(most)
        learned = self._forecast(most)
        aside = aside_words(learned, self.book.log) if learned else ""
        return f"{aside} {narrower(self._before, _likely(learned))}".strip()

    def _show(self, used: int) -> None:
        """The picture of the log as it is now, at a weighing."""
        self._quiet = True  # the form has gone on to the next tray by itself
        self.form.offer(trays_of(self.book))
        self.live.renew(self._lesson(), **({"used": used} if self.book.moments else {}))
        self._quiet = False

    def _forecast(self, used: int) -> Learned | None:
        try:
            return self.book.learned(used)
        except ValueError:  # told by the panel
            return None

    def undo(self) -> None:
        """Take the last row back, and put what was typed into the fields again."""
        row, told = self._keeper.undo()
        if row is not None:
            self._show(row.used)
            self.form.put(row.typed)
        self.form.tell(told)

    def _moved(self, change) -> None:
        if change.new["values"] != change.old["values"] and not self._quiet:
            self._suggest()

    def _restore(self) -> None:
        """Back to the start: the log is as it was."""
        self.book.restore()
        self._keeper.kept.clear()
        self.live.renew(self._lesson())
        self._suggest()
        self.form.tell(say("log_form.hint"))

    def _suggest(self) -> None:
        """Time and tray that are likely meant: in a trial those of the log's next row, else now."""
        book, fields = self.book, self.form.fields
        if not isinstance(book, Trial):
            fields["time"].value = fields["time"].value or f"{self._clock():%Y-%m-%d %H:%M}"
            fields["tray"].value = fields["tray"].value or "1"
            return
        used = round(self.values.get("used", 0))
        later = [*book.moments[used : used + 1], (book.moments or (0.0,))[-1] + 2.0]
        fields["time"].value, fields["tray"].value = book.log.clock(later[0]), "1"

    def _next_tray(self) -> None:
        tray, trays = self.form.fields["tray"], self.book.batch.dryer.trays
        if tray.value.strip().isdigit():
            tray.value = str(int(tray.value) % trays + 1)

    def show_changes(self) -> None:
        """Rank what to do otherwise next time, as the batch was learned."""
        self.form.tell(say("live.log.working_out_what"))
        table = batch_book.change_table(self.book, self.choice)
        self._table.value = table_html(table)
        self.form.tell(say("live.log.ranked_below_most"))


def _likely(learned: Learned | None) -> Band:
    return UNKNOWN if learned is None else learned.hours_to_target


def narrower(before: Band, after: Band) -> str:
    """How a row changed the width of the forecast, in words."""
    if None in (before.low, before.high, after.low, after.high):
        return say("live.log.done_unknown" if after.mid is None else "live.log.upper_unknown")
    wide = [width(one) for one in (before, after)]
    return say("live.log.narrower", before=wide[0], after=wide[1])


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
        say("live.log.save_batch_card"),
        lambda: form.tell(batch_book.save_card(book.batch, folder, panel.choice.system, start)),
    )
    form.add_button(say("live.log.keep_what_my"), lambda: form.tell(batch_book.keep_dryer(book, folder)))
    return panel
