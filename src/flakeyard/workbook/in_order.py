"""What to do with a batch, step by step in the order it is done, in the learner's units: only what the file tells."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flakeyard.messages import say
from flakeyard.steps.intent.fields import SOAKS
from flakeyard.steps.intent.records import UNTOLD_PLACE, Batch, Heat, Rest
from flakeyard.steps.plan import timetable
from flakeyard.steps.plan.plan import Outcome
from flakeyard.steps.plan.soaking import REFRIGERATED
from flakeyard.units import show, show_band, show_kitchen
from flakeyard.workbook import words
from flakeyard.workbook.paper import as_told, kitchen

PIECES = {"us": (1, "oz")}  # that the weight to stop at is shown by, in the units of a reader
PIECE = (30, "g")  # in any others
FEW_MINUTES = 300.0  # s from the heat to the trays, in which hardly anybody dries, weighs and lays it (judgement)


class Under(str):
    """A line that belongs to the one above it, and stands further in."""


@dataclass(frozen=True)
class Steps:
    """The words above a list, and what it lists: things to do, and beneath some of them how (`Under`, without a number)."""

    words: str
    steps: tuple[str, ...]


def in_order(outcome: Outcome, system: str = "both", freezing_to_do: bool = False, a_part: bool = False) -> Steps:
    """From the knife to the pack, with the weight to stop at; ``system`` as in `units.show`; ``freezing_to_do``: the fish
    is still to be frozen as the plan says; ``a_part``: there is more fish than is planned here."""
    batch = outcome.batch
    steps = (
        *_before_drying(outcome, system, freezing_to_do),
        *([] if outcome.load.no_drying else _drying(outcome, system)),
        *_kept(outcome),
    )
    done = "" if freezing_to_do else _frozen(batch, "order.frozen", system)
    part = _part(batch, system) if a_part else ""
    return Steps(" ".join(filter(None, (done, part, say("order.all")))), steps)


def _part(batch: Batch, system: str) -> str:
    """That only so much of the fish is planned, with as much of what goes in."""
    soaked = batch.freshen or any(getattr(batch, name) for name in SOAKS)
    load = show_kitchen(batch.fish.raw_weight, "mass", system)
    return say("order.part_soaked" if soaked else "order.part", load=load)


def _frozen(batch: Batch, name: str, system: str) -> str:
    """The freezing that was told, in words; "" where none was told in whole."""
    fish = batch.fish
    if fish.stock != "frozen" or fish.frozen_days is None or fish.frozen_at is None:
        return ""
    return say(name, cold=show(fish.frozen_at, "temperature", system), days=words.days_words(fish.frozen_days))


def _before_drying(outcome: Outcome, system: str, freezing_to_do: bool) -> Iterator[str]:
    batch = outcome.batch
    if freezing_to_do and (freeze := _frozen(batch, "order.freeze", system)):
        yield freeze
    yield _cut(batch, system)
    if batch.heat and batch.heat.probed and kitchen.too_thin(batch):
        yield Under(say("order.for_the_probe", thick=show_kitchen(timetable.WITNESS, "length", system)))
    yield from _soaked(batch, system)
    if batch.heat:
        yield from _heated(outcome, batch.heat, system)
    elif not outcome.load.no_drying:
        yield say("order.mark")


def _soaked(batch: Batch, system: str) -> Iterator[str]:
    """Every bath and rest, each with what is done when the fish comes out of it."""
    for name in SOAKS:
        if soak := getattr(batch, name):
            what = as_told.ingredients(batch, name, system)
            yield say("order.dry_salt" if soak.dry else "order.bath", what=what, **_held(soak, system))
    if any(getattr(batch, name) for name in SOAKS) and not batch.freshen:
        yield Under(say("order.rinse"))
    if batch.rest:
        yield say("order.rest", **_held(batch.rest, system))
    for row, bath in enumerate(batch.freshen):
        water = as_told.amount(batch, bath.water, system, "freshen", row, "water")
        yield say("order.water", waters=bath.waters, water=water, **_held(bath, system))


def _heated(outcome: Outcome, heat: Heat, system: str) -> Iterator[str]:
    """The heating, how it is done and seen, and what follows it before the minutes to the trays are over: what takes some of
    them is made ready before."""
    core, hold = kitchen.at_least(heat.core, system), show(heat.hold, "time") if heat.hold else ""
    heated = kitchen.aimed(say("order.heat_held", core=core, hold=hold) if hold else say("order.heat", core=core), heat)
    dried = not outcome.load.no_drying
    if dried:
        yield say("order.ready" if _in_a_dryer(outcome.batch) else "order.ready_no_dryer")
    yield heated if dried else _joined([heated, say("order.cool")])
    if heat.probed:
        told = {"ways": kitchen.minutes(outcome, system), "witness": kitchen.witness(outcome.batch, system)}
        yield Under(say("order.heat_so", **told))
    if dried:
        yield from _after_the_heat(heat)


def _after_the_heat(heat: Heat) -> Iterator[str]:
    """From the heat to the trays, in order, with the minutes that were told for all of it."""
    soon = show(heat.to_tray, "time") if heat.to_tray else ""
    counted = "probed" if heat.probed else "unseen"
    yield say("order.after_heat", when=say(f"order.when.{counted}", soon=soon) if soon else say("order.when.at_once"))
    if soon and heat.to_tray < FEW_MINUTES:
        yield Under(say("order.few_minutes", soon=soon))


def _in_a_dryer(batch: Batch) -> bool:
    """Whether there is something to warm up."""
    return not (batch.air or batch.dryer.open_air)


def _cut(batch: Batch, system: str) -> str:
    cut = batch.cut
    thin, usual, thick = cut.sizes
    ends = (thin, usual if cut.thickest is None else thick)
    sizes = show_band(*ends, "length", system, sixteenths=True)
    fish = say("order.gutted_fish" if batch.fish.gutted else "order.fish")
    return _joined(
        [
            say(f"order.cut.{cut.form or 'untold'}", fish=fish, sizes=sizes),
            say("order.skin_off") if cut.skin == "off" else "",
        ]
    )


def _joined(clauses: list[str]) -> str:
    return ", ".join(filter(None, clauses))


def _held(bath: Rest, system: str) -> dict[str, str]:
    """How long it lies there, and how cold: no refrigerator is to be made as warm as a plan reckons that it may be."""
    name = "order.in_refrigerator" if bath.temperature <= REFRIGERATED else "order.at"
    return {
        "time": show(bath.time, "time"),
        "cold": say(name, cold=show(bath.temperature, "temperature", system)),
    }


def _drying(outcome: Outcome, system: str) -> Iterator[str]:
    """The dryer with what goes in at once, and when to stop."""
    batch = outcome.batch
    name = "order.airs" if batch.air else "order.open_air" if batch.dryer.open_air else "order.dryer"
    dial = show(batch.dryer.temperature, "temperature", system)
    load = show_kitchen(batch.fish.raw_weight, "mass", system)
    fan = say("order.fan") if batch.dryer.moving == "fan" else ""
    mesh = say("order.mesh") if batch.dryer.faces == 2 else ""
    yield _joined([say(name, dial=dial), fan, mesh, say("order.load", load=load, trays=batch.dryer.trays)])
    yield say("order.stop", **stop_example(outcome, system))


def stop_example(outcome: Outcome, system: str) -> dict[str, str]:
    """The weight to stop at in per cent of that as laid, and what a small piece then weighs."""
    percent = words.stop_percent(outcome.drying["mass_ratio"].mid)
    laid, unit = PIECES.get(system, PIECE)
    return {
        "percent": str(percent),
        "laid": f"{laid} {unit}",
        "left": f"{words.stop_weight(percent, laid, unit)} {unit}",
    }


def _kept(outcome: Outcome) -> Iterator[str]:
    """Evening out, pack, place and days."""
    keep, pack = outcome.keep, outcome.batch.keep.pack
    days = say("ways.no_days_said") if keep.days is None else say("ways.days", days=words.days_words(keep.days))
    place = say(f"ways.{keep.place or UNTOLD_PLACE}")
    if rest := kitchen.evening_out(outcome):
        yield say("order.cool_rest", rest=rest)
    if pack is not None:
        yield say("order.pack", pack=words.pack_name(pack))
    yield say("order.keep", place=place, days=days)
