"""What the pages of the course show, by name: panels to explore, forms to fill in, tables, questions, units to read.

Whatever is shown is loaded when it is asked for.
"""

from __future__ import annotations

import sys
from importlib import import_module
from inspect import signature

from flakeyard.frames import known
from flakeyard.steps.intent.records import Batch
from flakeyard.units import InputError

SHOWN = "flakeyard.workbook"
NOTHING_STORED = (
    "FLAKEYARD_PAGES_ONLY"  # set for kernels whose pages are looked at and not stored: no picture for print
)
PANELS = {
    "whole batch": "panels.whole_batch.whole_batch_panel", "fish": "panels.fish.fish_panel",
    "brine": "panels.brine.brine_panel", "salt": "panels.salt.salt_panel", "air": "panels.air.air_panel",
    "water": "panels.water.water_panel", "weight": "panels.weight.weight_panel",
    "keeping": "panels.keeping.keeping_panel", "logbook": "panels.logbook.logbook_panel",
}  # fmt: skip
FORMS = {
    "numbers": "own.own_batch_form", "brine": "panels.brine.own_brine_form", "soaks": "panels.salt.own_soaks_form",
    "dryer": "panels.air.dryer_form", "keeping": "panels.keeping.own_keeping_form", "log": "panels.logbook.own_logbook",
    "logbook page": "pages.logbook_page.own_logbook_page",
    "story": "panels.story.story_form", "first taste": "panels.story.first_taste",
}  # fmt: skip
TABLES = {
    "by when": "panels.batch_book.by_when", "caps": "panels.keeping_tables.caps_table",
    "cases": "panels.keeping_tables.cases_table", "changes": "panels.batch_book.change_table", "checks": "table.check_table",
    "cups": "panels.brine.cup_table", "dried fish": "panels.fish.dried_table", "fish": "panels.fish.fish_table",
    "fish facts": "panels.fish.facts", "four per cents": "panels.brine.four_ways", "freezing": "panels.fish.freezing_table",
    "growth": "panels.water.growth_table", "heating": "panels.keeping_tables.heating_table", "history": "panels.batch_book.history_table",
    "ladder": "panels.keeping_tables.ladder_table", "measure next": "panels.batch_book.measure_next_table", "next plan": "panels.batch_book.next_plan_table",
    "measured fish": "panels.water.measured_table", "packs": "panels.keeping_tables.pack_table", "published brines": "panels.brine.published_table",
    "stop weights": "panels.weight.stop_table", "taught": "panels.batch_book.taught",
    "verdict": "panels.keeping_tables.verdict_page", "warm hours": "panels.keeping_tables.warm_table",
    "ways": "panels.batch_book.ways_table", "weighed": "panels.batch_book.weighed_table", "yield": "panels.fish.yield_table",
}  # fmt: skip


def _mistakes_in_words() -> None:
    """In a cell of a page a mistake in what was typed is said in words, without the lines of the program."""
    shell = sys.modules["IPython"].get_ipython() if "IPython" in sys.modules else None
    if shell is not None:
        shell.set_custom_exc(
            (InputError,), lambda _shell, _kind, mistake, _trace, **_how: print(mistake, file=sys.stderr)
        )


_mistakes_in_words()


def batch(name: str | None = None) -> Batch:
    """Your own batch, or one of the demo class.

    Parameters: name – heron, otter or kingfisher; without it your own numbers (``my-batch.toml`` beside the page), and
        Heron's as long as there are none
    Returns: Batch – what is still borrowed from Heron is named, in words and in ``borrowed``
    Raises: InputError for another name
    """
    from flakeyard.workbook import own

    if name is None:
        return own.own_batch()
    return own.demo_batch(known(name, own.DEMO_BATCHES, "batch"))


def panel(name: str, about=None, choice=None, **how):
    """A panel of the course: sliders, a picture that follows, and words beneath.

    Parameters: name – whole batch, fish, brine, salt, air, water, weight, keeping or logbook; about – a Batch (for the
        logbook a book of one, `study.demo_book`), without it Heron's; choice – of `choose_units`; how – in SI, where the
        whole batch, salt or weight begin elsewhere than the batch does, such as ``time=7200``
    Returns: Panel – ``set(...)`` moves its sliders, ``static()`` is the panel as it stands, for paper
    Raises: InputError for another name
    """
    return _named(PANELS[known(name, PANELS, "panel")])(about, choice, **how)


def form(name: str = "numbers", choice=None, **how):
    """A form of the course; what is typed is checked, and kept in ``my-batch.toml`` on Save.

    Parameters: name – numbers, brine, soaks, dryer, keeping, log, logbook page, story or first taste; choice – of `choose_units`;
        how – what one form takes besides, such as ``start`` of the log
    Returns: the form, to be shown
    Raises: InputError for another name
    """
    made = _named(FORMS[known(name, FORMS, "form")])
    return made(**how | ({"choice": choice} if "choice" in signature(made).parameters else {}))


def table(name: str, *about):
    """A table of the lessons.

    Parameters: name – such as "cups", "packs" or "ways"; another name is answered with all there are; about – what
        that table is about: a choice of units, a brine, an outcome, a book …
    Returns: the table, to be shown
    Raises: InputError for another name
    """
    return _named(TABLES[known(name, TABLES, "table")])(*about)


def ask(prompt: str, answers: dict[str, str] | None = None, right: str = "", **number):
    """A question to answer before looking: one of a few answers, or a number that is compared with the model.

    Parameters: answers – in the order shown, each with the reply to it; right – the right one of them; number – for a
        prediction: kind ("time" …), model [SI], why, example ("8 h"), and how near counts, within [share] or off_by [SI]
    Returns: a question that nobody marks and nothing stores
    Raises: ValueError for a right answer that is not there, or a prediction without a tolerance
    """
    from flakeyard.workbook.panels.questions import Choosing, Prediction

    return Prediction(prompt, **number) if answers is None else Choosing(prompt, answers, right)


def choose_units(system: str = "both"):
    """Units to read, to be handed to panels and tables; shown, they are buttons that change them all.

    Parameters: system – "metric" or "us" to begin with; "both": what was chosen in this folder before, if anything was
    Returns: Choice – ``show(0.006, "length")`` says a number in SI in these units
    """
    from flakeyard.workbook.panels.panel import Choice, kept_units

    return Choice(kept_units() if system == "both" else system)


def ready() -> str:
    """Whether this machine is ready for the course: versions, a small plan as a trial, and the word "ready".

    Parameters: none
    Returns: str
    """
    from flakeyard.workbook import start

    return start.check()


def _named(place: str):
    """A function of the workbook by module and name."""
    module, name = place.rsplit(".", 1)
    return getattr(import_module(f"{SHOWN}.{module}"), name)
