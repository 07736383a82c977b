"""A batch with a few things changed, as a slider would: quick enough to follow a hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from flakeyard.remembered import Remembered
from flakeyard.steps.chain import drying
from flakeyard.steps.chain.brining import mix
from flakeyard.steps.chain.drying import Thickest
from flakeyard.steps.chain.fish import prepare_fish
from flakeyard.steps.chain.laying import until_laid
from flakeyard.steps.intent.batch_file import check_composition
from flakeyard.steps.intent.records import Batch, Ingredient, Portion, Soak
from flakeyard.steps.intent.spread import Band, Draws, band, exact
from flakeyard.steps.judge import safety, storing
from flakeyard.steps.plan.judging import judge
from flakeyard.steps.plan.measured import taken_in

STARTING = 20  # draws for where a slider begins
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
    """A batch with five things that a slider changes; what a move leaves as it was is kept from the move before.

    ``start`` says at which marks the sliders stand for the batch as it was told: what stands there is left as told, and
    with all of them there the batch is that of its whole plan, to the last digit (``whole``; else a sketch of it).
    """

    def __init__(self, batch: Batch, members: int = 20, start: Mapping[str, float] | None = None, whole: bool = True):
        self.batch, self.draws = batch, taken_in(batch, Draws(members))
        self.start, self.whole = dict(start or {}), whole
        self._laid, self._dried = Remembered(most=1), Remembered(most=1)

    def at(
        self, *, thickness: float, fat: float, salt: float, temperature: float, stop_at: float = 0.0, water: float = 0.0
    ) -> Glimpse:
        """See `explore`; a move of the weight to stop at alone [share of that as laid], or of the water to stop at [share of
        the piece], dries nothing anew."""
        asked = {"thickness": thickness, "fat": fat, "salt": salt, "temperature": temperature}
        moved = {name: value for name, value in asked.items() if value != self.start.get(name)}
        batch = changed(self.batch, **moved)
        laid = self._laid((thickness, fat, salt), lambda: until_laid(batch, self.draws))
        dry = drying.dry_load if self.whole and not moved else drying.dry_thickest
        load = self._dried(tuple(asked.values()), lambda: dry(batch, laid.cured, self.draws))
        rules_ask = load.mass_ratio
        if stop_at or water:
            batch = stopped_at(batch, stop_at) if stop_at else dried_to(batch, water)
            load = drying.stopped_for(load, batch.keep)
        judged = judge(batch, laid, load)
        bands = {"hours_to_target": band(load.hours), "mass_ratio": exact(load.mass_ratio)}
        return Glimpse(batch, bands, judged.verdict, judged.keep, load, rules_ask)


def told_by(batch: Batch, fallback: Mapping[str, float]) -> dict[str, float]:
    """Where sliders stand for a batch as told, by their names; for what it has not, where others stand (``fallback``).

    Returns: by name: thickness [m, above 0], fat and salt [share, 0–1], temperature [°C, that of the dial]
    Source: as told; steps.chain.fish.prepare_fish, for a fat that was not
    """
    start = dict(fallback) | {"thickness": batch.cut.thickness, "temperature": batch.dryer.temperature}
    start["fat"] = prepare_fish(batch, Draws(STARTING)).fat_raw
    if batch.brine is None:
        start["salt"] = 0.0
    elif batch.wet_brine:
        start["salt"] = float(np.median(mix(batch.brine, Draws(STARTING)).salt_fraction))
    return start


def stopped_at(batch: Batch, share: float) -> Batch:
    """The batch with a weight to stop at of one's own, as a share of the weight as laid."""
    return replace(batch, keep=replace(batch.keep, stop_at=share, target_moisture=None))


def dried_to(batch: Batch, water: float) -> Batch:
    """The batch with the water to stop at, as a share of the piece then."""
    return replace(batch, keep=replace(batch.keep, target_moisture=water))


def changed(
    batch: Batch,
    thickness: float | None = None,
    fat: float | None = None,
    salt: float | None = None,
    temperature: float | None = None,
) -> Batch:
    """The batch with its usual thickness [m] (the other pieces keep their ratio to it), fat and salt of the brine
    [fraction of the whole brine; 0: no brine and no freshening] and dial [degC] changed; None leaves one as it was told."""
    other = batch
    if thickness is not None:
        other = replace(other, cut=batch.cut.scaled(thickness / batch.cut.thickness))
    if fat is not None:
        other = replace(other, fish=replace(batch.fish, fat=fat))
        check_composition(other.fish)
    if temperature is not None:
        other = replace(other, dryer=replace(batch.dryer, temperature=temperature), air=())
    if salt is None:
        return other
    return replace(other, brine=None, freshen=()) if salt <= 0 else replace(other, brine=salt_brine(batch, salt))


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
