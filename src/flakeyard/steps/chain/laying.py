"""From the raw fish to the trays: every soak and rest in turn, and the heating step."""

from __future__ import annotations

from dataclasses import dataclass

from flakeyard.steps.chain import salting
from flakeyard.steps.chain.fish import RawFish, prepare_fish
from flakeyard.steps.chain.freshening import freshen
from flakeyard.steps.chain.heating import Heated, heat
from flakeyard.steps.chain.salting import Cured
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Draws


@dataclass(frozen=True)
class Laid:
    """The fish as it comes, after all its soaks and rests, as it is laid on the trays, and how it was heated (None: it was
    not)."""

    raw: RawFish
    salted: Cured
    cured: Cured
    heated: Heated | None


def soaked(batch: Batch, draws: Draws) -> Cured:
    """The fish after all its soaks and rests, before any heating."""
    cured = salting.raw(prepare_fish(batch, draws))
    for name in ("presoak", "brine"):
        soak = getattr(batch, name)
        cured = salting.cure(cured, soak, draws, name) if soak else cured
    if batch.rest:
        cured = salting.rest(cured, batch.rest, draws)
    for soak in batch.freshen:
        cured = freshen(cured, soak, draws)
    return cured


def until_laid(batch: Batch, draws: Draws) -> Laid:
    """The fish from raw to the trays; weighed after the heating, its water is no longer a matter of the laboratory."""
    if batch.heat and batch.heat.weight_after is not None:
        draws = draws.settled("water after salting")
    cured = soaked(batch, draws)
    heated = heat(cured, batch.heat, draws) if batch.heat else None
    return Laid(cured.fish, cured, heated.cured if heated else cured, heated)
