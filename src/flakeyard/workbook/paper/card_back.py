"""The second page of the batch card: what to weigh out, how to heat, why this verdict, every caution, and the sources."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from flakeyard import tables
from flakeyard.messages import draft_line, number, say, translated
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.plan import timetable as times
from flakeyard.steps.plan.plan import Outcome
from flakeyard.units import show, show_band
from flakeyard.workbook import words
from flakeyard.workbook.paper import kitchen, worth_text
from flakeyard.workbook.paper.report import by_when, portion
from flakeyard.workbook.paper.sheet import TICK, Flow, Page

MARGIN = 30.0  # pt
SIZES = tuple(9.5 - step / 4 for step in range(13))  # pt, the largest at which everything has room
LOOK_FOR = ("card.look_1", "card.look_2", "card.look_3")


def back(outcome: Outcome, start: datetime | None, system: str, paper: str, foot: float = 0.0) -> Page:
    """The page in the largest type at which all of it has room.

    Parameters: as of `card.batch_card`; foot – pt that stay empty at its foot, where a label is cut from the other side.
    """
    sections = list(_sections(outcome, start, system))
    pages = (_page(outcome, sections, system, paper, size, foot) for size in SIZES)
    return next(page for page in pages if page.overfull <= 0 or page.size == SIZES[-1])


class _Back(Page):
    """A page that knows the size of its type."""

    def __init__(self, paper: str, size: float):
        super().__init__(paper, MARGIN)
        self.size = size


def _page(outcome: Outcome, sections, system: str, paper: str, size: float, foot: float) -> _Back:
    page = _Back(paper, size)
    (head,) = page.columns(MARGIN, foot=foot)
    head.paragraph(say("card.back", title=outcome.batch.title), 12, bold=True)
    if draft_line():
        head.paragraph(draft_line(), size)
    flow = Flow(page.columns(head.top + 2, (1.0, 1.0), foot=foot), size)
    for title, lines, mark in sections:
        flow.section(title, [words.in_system(line, system) for line in lines], mark)
    return page


def _sections(outcome: Outcome, start: datetime | None, system: str) -> Iterator[tuple[str, list[str], str]]:
    refused = words.refused(outcome.verdict)
    if not refused:
        yield say("card.weigh_out"), list(weigh_out(outcome, system)), TICK
        yield from _heating(outcome, system)
    yield say("card.by_when"), by_when(outcome, system, _clock(outcome, start) if not refused else None), "•"
    if not refused:
        yield say("card.look_for"), list(map(say, LOOK_FOR)), TICK
        yield say("card.scale"), list(_scale(outcome, system)), "•"
    if not refused and not outcome.load.no_drying:
        yield say("card.readings"), _readings(system), "•"
    yield say("card.why"), list(_why(outcome, refused)), "•"
    yield words.STILL_NEEDED, list(words.plain_words(outcome.unknown)) if refused else _not_told(outcome), "•"
    cautions = outcome.verdict.cautions
    yield say("card.cautions"), [f"{caution.text} [{caution.rule}]" for caution in cautions], "•"
    yield say("card.remarks"), kitchen.notes(outcome), "•"
    yield say("card.sources"), list(_sources(outcome)), "•"


def _heating(outcome: Outcome, system: str) -> Iterator[tuple[str, list[str], str]]:
    if outcome.batch.heat is not None:
        yield say("card.heat"), [kitchen.heat(outcome, system)], "•"


def _clock(outcome: Outcome, start: datetime | None):
    """A time of day for hours since the heating, where the start is known."""
    if start is None:
        return None
    heated = times.since_heating(outcome)
    return lambda hours: words.day_and_hour(times.early_clock(heated + 3600 * hours, start))


def weigh_out(outcome: Outcome, system: str) -> Iterator[str]:
    """What to weigh out, line by line."""
    batch = outcome.batch
    yield say(
        "card.trimmed",
        weight=show(batch.fish.raw_weight, "mass", system),
        fish=words.fish_name(batch.fish) or say("card.any_fish"),
    )
    for row in times.shopping(batch):
        yield ": ".join(
            filter(
                None, (f"{portion(row.amount, system, digits=3)} {translated(row.what)}", _weighs(row.weighs, system))
            )
        )
    for soak in batch.freshen:
        yield say("card.plain_water", waters=soak.waters, water=portion(soak.water, system))


def _weighs(weight: Band | None, system: str) -> str:
    return "" if weight is None else say("card.weighs", weight=show_band(weight.low, weight.high, "mass", system))


def _scale(outcome: Outcome, system: str) -> Iterator[str]:
    """How strong the brine is, what a tray and the load weigh, and the sodium of a serving."""
    brine = outcome.brine
    if brine["mass_kg"].mid:
        salt = number(100 * brine["solute_fraction_salt"].mid, ".1f")
        yield say("card.brine", salt=salt, degrees=f"{brine['salometer'].mid:.0f}")
    trays, laid, end = outcome.batch.dryer.trays, outcome.salted["mass_kg"], outcome.drying["target_mass_kg"]
    if outcome.load.no_drying:
        return
    if end.known:
        yield say("card.trays", laid=_share(laid, trays, system), end=_share(end, trays, system), trays=trays)
    load, sodium = outcome.dried["mass_kg"], outcome.dried["sodium_mg_per_serving"]
    if load.known and sodium.known:
        told = {"mass": _share(load, 1, system), "sodium": f"{round(sodium.low, -1):.0f}–{round(sodium.high, -1):.0f}"}
        yield say("card.load", serving=show(outcome.batch.serving, "mass", system), **told)


def _readings(system: str) -> list[str]:
    """Blanks for what is read of the fish itself, by the names that the phone page has for them."""
    blanks = say("readings.blanks", **worth_text.named())
    return [blanks, say("readings.soaked", unit="oz" if system == "us" else "g"), say("readings.laptop")]


def _share(mass: Band, trays: int, system: str) -> str:
    if not mass.known or mass.high is None:
        return say("amount.not_known")
    return say("card.about", mass=show_band(mass.low / trays, mass.high / trays, "mass", system))


def _why(outcome: Outcome, refused: bool) -> Iterator[str]:
    """Every reason with its rule; where a batch is refused, each with its way out; what decides the days."""
    told = words.changes_needed(outcome.verdict) if refused else ()
    for reasons, way in told:
        yield from (f"{reason.text} [{reason.rule}]" for reason in reasons)
        yield from [f"{words.WAY_OUT}{way}"] if way else []
    blocking = [reason for reasons, _ in told for reason in reasons]
    yield from (f"{reason.text} [{reason.rule}]" for reason in outcome.verdict.reasons if reason not in blocking)
    if not refused and outcome.keep.days is not None:
        yield say("card.decides", limit=words.LIMITED_BY_WORDS[outcome.keep.limited_by])


def _not_told(outcome: Outcome) -> list[str]:
    return list(words.plain_words(name for name in outcome.unknown))


def _sources(outcome: Outcome) -> Iterator[str]:
    """Who says so: each source once, with the rules that go back to it."""
    rules: dict[str, list[str]] = {}
    for one in (*outcome.verdict.reasons, *outcome.verdict.cautions, *outcome.keep.reasons):
        if one.source and one.rule not in rules.setdefault(one.source, []):
            rules[one.source].append(one.rule)
    for name, found in rules.items():
        yield say("card.source", rules=", ".join(found), source=tables.sources()[name])
