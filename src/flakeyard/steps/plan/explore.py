"""A batch with a few things changed, as a slider would: quick enough to follow a hand."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from flakeyard.remembered import Remembered
from flakeyard.steps.chain import drying
from flakeyard.steps.chain.brining import mix
from flakeyard.steps.chain.drying import Thickest
from flakeyard.steps.chain.laying import until_laid
from flakeyard.steps.intent.batch_file import check_composition
from flakeyard.steps.intent.records import Batch, Ingredient, Portion, Soak
from flakeyard.steps.intent.spread import Band, Draws, band, exact
from flakeyard.steps.judge import safety, storing
from flakeyard.steps.plan.judging import judge

USUAL_BRINE = Soak(time=36_000.0, temperature=3.0)  # of a batch that has none: ten hours in the cold


@dataclass(frozen=True)
class Glimpse:
    """What follows a slider: how the thickest piece dries, the weight to stop at, the verdict and the keeping.

    `asked` is the weight that the way to keep it asks for, over the weight as laid, whatever weight it is stopped at.
    """

    batch: Batch
    drying: dict[str, Band]
    verdict: safety.Verdict
    keep: storing.Keeping
    load: Thickest = field(repr=False)
    asked: float


class Explorer:
    """A batch with five things that a slider changes; what a move leaves as it was is kept from the move before."""

    def __init__(self, batch: Batch, members: int = 20):
        self.batch, self.draws = batch, Draws(members)
        self._laid, self._dried = Remembered(most=1), Remembered(most=1)

    def at(self, *, thickness: float, fat: float, salt: float, temperature: float, stop_at: float = 0.0) -> Glimpse:
        """See `explore`; a move of the weight to stop at alone dries nothing anew."""
        batch = changed(self.batch, thickness, fat, salt, temperature)
        laid = self._laid((thickness, fat, salt), lambda: until_laid(batch, self.draws))
        load = self._dried(
            (thickness, fat, salt, temperature), lambda: drying.dry_thickest(batch, laid.cured, self.draws)
        )
        asked = load.mass_ratio
        if stop_at:
            batch = stopped_at(batch, stop_at)
            load = drying.stopped_for(load, batch.keep)
        judged = judge(batch, laid, load)
        bands = {"hours_to_target": band(load.hours), "mass_ratio": exact(load.mass_ratio)}
        return Glimpse(batch, bands, judged.verdict, judged.keep, load, asked)


def stopped_at(batch: Batch, share: float) -> Batch:
    """The batch with a weight to stop at of one's own, as a share of the weight as laid."""
    return replace(batch, keep=replace(batch.keep, stop_at=share, target_moisture=None))


def changed(batch: Batch, thickness: float, fat: float, salt: float, temperature: float, stop_at: float = 0.0) -> Batch:
    """The batch with its usual thickness [m] (the other pieces keep their ratio to it), fat and salt of the brine
    [fraction of the whole brine; 0: no brine and no freshening], dial [degC] and, above 0, the weight to stop at changed."""
    if stop_at:
        batch = stopped_at(batch, stop_at)
    cut = batch.cut.scaled(thickness / batch.cut.thickness)
    fish = replace(batch.fish, fat=fat)
    check_composition(fish)
    other = replace(batch, cut=cut, fish=fish, dryer=replace(batch.dryer, temperature=temperature))
    if salt <= 0:
        return replace(other, brine=None, freshen=())
    return replace(other, brine=salt_brine(batch, salt))


def salt_brine(batch: Batch, salt: float) -> Soak:
    """The brine of a batch with nothing in it but water and so much salt [fraction of the whole brine]."""
    water = brine_water(batch)
    rows = (
        Ingredient(what="water", amount=Portion(mass=water)),
        Ingredient(what="pickling salt", amount=Portion(mass=water * salt / (1 - salt))),
    )
    return replace(batch.brine or USUAL_BRINE, method="wet", ingredients=rows)


def brine_water(batch: Batch) -> float:
    """Water of the batch's own brine, kg; without one, or for a dry cure, a brine of the fish's own weight.

    Returns: float [kg, above 0]
    Source: as told; judgement where there is no brine
    """
    if batch.brine is None or not batch.wet_brine:
        return batch.fish.raw_weight
    return float(np.median(mix(batch.brine, Draws(1)).water))


def explore(
    batch: Batch, *, thickness: float, fat: float, salt: float, temperature: float, members: int = 20
) -> Glimpse:
    """The batch with four things changed, as a slider would: usual thickness [m], fat [fraction], salt of the
    brine [fraction of the whole brine] and dryer temperature [°C]. The other pieces keep their ratio to it. Drying is
    a sketch of two days (`plan`). An `Explorer` is quicker for move after move.
    """
    return Explorer(batch, members).at(thickness=thickness, fat=fat, salt=salt, temperature=temperature)
