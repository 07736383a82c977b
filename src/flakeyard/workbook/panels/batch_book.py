"""The book of a batch on the page: whose it is, its tables, its card, what the dryer taught.

A demonstration writes into a scratch copy. Files of one's own stand beside the workbook, and an older one stays as a
numbered copy.
"""

from __future__ import annotations

import base64
import html
import io
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path

from PIL import Image

from flakeyard.files import kept_copies, why
from flakeyard.messages import number, say
from flakeyard.steps.intent.batch_file import with_typed
from flakeyard.steps.intent.partial import borrowed_words
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.learn import dryer_profile, lessons, logbook
from flakeyard.steps.learn.book import Book, Trial, next_plan, points, profile_before, trays_as_laid
from flakeyard.steps.learn.worth import worths
from flakeyard.steps.plan import plan as batches
from flakeyard.steps.plan import ways
from flakeyard.steps.plan.timetable import read_start, timetable
from flakeyard.units import InputError
from flakeyard.workbook import own, words
from flakeyard.workbook.panels.panel import Choice
from flakeyard.workbook.paper import card, report, ways_text
from flakeyard.workbook.paper import sheet as paper
from flakeyard.workbook.table import Table, Text, heads

LOG, DRYER, CARD = "my-log.csv", "my-dryer.toml", "my-batch-card.pdf"


# Books of the course and of one's own


def demo_book(name: str = "heron", pack: str | None = None) -> Trial:
    """One of the invented batches of the demo class with its log; with a pack, as if it were to be kept in that."""
    folders = (
        own.course_folder_without_copying() / "data_demo",
        Path(str(files("flakeyard"))) / "course" / "data_demo",
    )
    path = next(path for folder in folders if (path := folder / f"{name}-weighings.csv").exists())
    batch = own.demo_batch(name)
    return Trial(with_typed(batch, "keep", pack=pack) if pack else batch, logbook.read_log(path))


def own_book(folder: str | Path = ".") -> Book:
    """One's own batch with ``my-log.csv``, and what ``my-dryer.toml`` knows of the dryer from batches before.

    What no plan can do without and nobody has told yet is Heron's, and is told as such; nothing else of Heron's is.
    """
    folder = Path(folder)
    book = Book(own.whole(own.own_told(folder)), folder / LOG)
    book.trouble = " ".join(filter(None, (_whose_plan(folder), book.trouble)))
    try:
        book.profile = profile_before(book, folder / DRYER)
    except InputError as mistake:
        book.trouble = " ".join(filter(None, (book.trouble, say("book.dryer_left_out", file=DRYER, why=mistake))))
    return book


def _whose_plan(folder: Path) -> str:
    try:
        told = own.read_told(folder)
        why = "" if told else say("book.no_file", file=own.FILE)
    except InputError as mistake:
        told, why = {}, say("book.file_unusable", file=own.FILE, why=mistake)
    words = borrowed_words(own.whole(told))
    still = say("book.still_herons", what=words) if words else ""
    return f"{why} {still}".strip()


# Tables for the page


def hours_words(hours: Band, choice: Choice) -> str:
    """A band of hours as text."""
    return choice.show_band(Band(*(None if one is None else 3600 * one for one in vars(hours).values())), "time")


def taught(book: Book) -> Text:
    """All that the whole log says, the most useful first."""
    return Text(book.learned(len(book.moments)).learned)


def by_when(book: Book, used: int) -> Text:
    """By when the marked piece had to be down to its weight, as the log said it after so many weighings."""
    return Text(tuple(report.log_deadlines(book.learned(used))) or (NO_DEADLINE,))


NO_DEADLINE = say("book.log_tells_no")


def ways_table(outcome: batches.Outcome) -> Table:
    """Each place and pack that can be granted to a batch: the weight to stop at, the hours, the days."""
    found = ways.ways(outcome)
    head, *rows = ways_text.rows(found)
    days = " ".join([head[-1], *ways_text.foot(found)])
    return Table((*head[:-1], days), tuple(rows) or (NO_WAY,))


NO_WAY = (say("book.none_can_granted"), "–", "–", "–", "–")


def measure_next_table(outcome: batches.Outcome) -> Table:
    """What each measurement would be worth: how wide hours and cautious water activity may be expected to be after it."""
    found = worths(outcome)
    rows = [
        (say("worth.now"), found.hours, found.activity),
        *((one.what, one.hours, one.activity) for one in found.each),
    ]
    head, _, *more = say("worth.columns").split("|")
    return Table(
        (head, *more),
        tuple((what, f"× {number(hours, '.1f')}", number(width, ".2f")) for what, hours, width in rows),
        (say("worth.below"),),
    )


def weighed_table(book: Book) -> Table:
    """The load on the scale at each weighing, in grams, and what is left of its weight as laid."""
    laid, moments = trays_as_laid(book.log), zip(*points(book.log, by_piece=False), strict=True)
    rows = [
        (f"{number(hour, '.3g')} h", f"{1000 * laid * part:.0f} g", f"{100 * part:.0f} %") for hour, part in moments
    ]
    return Table(heads("book.weighed_heads"), tuple(rows))


def history_table(book: Book, choice: Choice) -> Table:
    """Each forecast made on the way beside what the scale showed in the end."""
    last = book.at(len(book.moments))
    rows = []
    for used, (made, miss) in enumerate(zip(last.made, last.misses, strict=True)):
        off = say("live.not_known") if miss is None else f"{number(round(miss, 1) + 0.0, '+.1f')} h"
        name = f"{number(book.moments[used - 1], '.3g')} h" if used else say("book.as_laid")
        eat = words.eat_words(book.learned(used).outcome.verdict.eat)
        rows.append((name, hours_words(made, choice), off, eat))
    return Table(heads("book.history_heads"), tuple(rows))


def change_table(book: Book, choice: Choice) -> Table:
    """What to do otherwise next time, ranked by the hours it would have saved."""
    learned = book.learned(len(book.moments))
    if learned.contradiction:
        return Table(heads("book.change_heads"), ((say("book.contradicted"), "–", "–"),))
    rows = [
        (
            words.in_system(change.what, choice.system),
            hours_words(change.hours, choice),
            f"{round(100 * change.saved)} %",
        )
        for change in lessons.changes(learned.outcome.batch, learned)
    ]
    return Table(heads("book.change_heads"), tuple(rows))


def next_plan_table(book: Book, choice: Choice, batch: Batch | None = None) -> Table:
    """The plan of the next batch, without and with what this one taught of the dryer."""
    learned = book.learned(len(book.moments))
    rows = []
    for name, profile in (
        (say("book.without"), book.profile),
        (say("book.with"), learned.profile(before=book.profile)),
    ):
        hours = next_plan(batch or book.batch, profile)
        known = None not in (hours.low, hours.high)
        wide = f"× {number(hours.high / hours.low, '.1f')}" if known else say("live.not_known")
        rows.append((name, hours_words(hours, choice), wide))
    return Table(heads("book.next_heads"), tuple(rows))


# The batch card on the screen


@dataclass(frozen=True)
class CardPicture:
    """A batch card as a picture with its words."""

    png: bytes = field(repr=False)
    alt: str

    def __str__(self) -> str:
        return self.alt

    def _repr_html_(self) -> str:
        data = base64.b64encode(self.png).decode()
        return (
            f'<img alt="{html.escape(self.alt)}" style="width:100%;max-width:720px;border:1px solid #999" '
            f'src="data:image/png;base64,{data}">'
        )


def card_picture(
    outcome: batches.Outcome, start: str | None = None, choice: Choice | None = None
) -> CardPicture | Text:
    """The page for the wall of a plan's card, to look at. Start: when the fish meets the salt, such as "2026-12-05 18:00".

    As long as some of it is the demonstration's there is no card: a verdict on a mixture is nobody's.
    """
    if outcome.batch.borrowed:
        return Text((say("book.no_card", what=borrowed_words(outcome.batch)),))
    system = (choice or Choice()).system
    page, _why = card.batch_card(outcome, read_start(start), system)
    moments = [f"{words.when(moment)} {words.what(moment, system)}" for moment in timetable(outcome)]
    told = words.DO_NOT_MAKE if words.refused(outcome.verdict) else f"{'; '.join(moments)}."
    keep = " ".join(words.headline(outcome.verdict, outcome.keep).split())
    return CardPicture(_small(paper.as_png(page, 120)), f"{card.title(outcome)}. {keep}. {told}")


def _small(png: bytes) -> bytes:
    packed = io.BytesIO()
    Image.open(io.BytesIO(png)).convert("L").quantize(12).save(packed, "png", optimize=True)
    return packed.getvalue()


def save_card(batch: Batch, folder: str | Path = ".", system: str = "both", start: str | None = None) -> str:
    """Plan a batch and write its card as PDF beside the workbook; returns what to tell the learner."""
    try:
        outcome = batches.plan(batch)
        pages = card.batch_card(outcome, read_start(start), system)
        path = paper.save_pdf(pages, Path(folder) / CARD, card.title(outcome), keep_copy=True)
    except InputError as mistake:
        return say("book.not_saved", why=mistake)
    except OSError as trouble:
        return say("book.not_saved", why=why(trouble))
    return say("book.card_saved", file=path.name)


# What the dryer taught


def keep_dryer(book: Book, folder: str | Path = ".") -> str:
    """Write what this log taught of the dryer; an older file stays as a numbered copy. Returns what to tell."""
    path = Path(folder) / DRYER
    try:
        learned = book.learned(len(book.moments))
    except ValueError as mistake:
        return say("book.nothing_kept", why=mistake)
    if learned.contradiction or not book.moments:
        return say("book.nothing_fits")
    title = book.profile.title if book.profile else say("book.my_dryer")
    before = path.exists()
    try:
        dryer_profile.write_profile(learned.profile(title, book.profile), path)
    except OSError as trouble:
        return say("book.not_saved", why=why(trouble))
    told = say("book.dryer_saved", file=path.name)
    return f"{told} {say('book.one_before', file=kept_copies(path)[0].name)}" if before else told
