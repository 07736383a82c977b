"""Load a dryer: how warm its air and the fish are, hour by hour, for so much fish in such a dryer and room.

The fish is salted and heated once, by `lay`; each load then dries anew, with twenty draws of what is not known.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flakeyard.models.constants import FLESH_DENSITY
from flakeyard.models.inputs import checked
from flakeyard.steps.chain.drying import Drying, dry_load
from flakeyard.steps.chain.laying import until_laid
from flakeyard.steps.chain.salting import Cured
from flakeyard.steps.intent.fields import FIELDS
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import UNKNOWN, Band, Draws, band
from flakeyard.steps.judge.warm_hours import WarmHours
from flakeyard.steps.plan.cutting import LONGEST
from flakeyard.steps.plan.judging import heating_counts, warm_so_far
from flakeyard.steps.plan.measured import taken_in

MEMBERS = 20  # of the ensemble behind one load
EARLY = 2.0  # hours in which a wet load cools the air most


@dataclass(frozen=True)
class WarmLoad:
    """Temperatures [degC] of one load at each of `hours`, the last of them when the thickest piece is done.

    `fish` holds the low, middle and high curve of the thickest piece, `air` the air in the box; `done` and `clock` (in
    the growth zone while moist) are in seconds, `energy` in joules; `coverage` is the area of the fish over that of the
    trays, `warm` the cautious end of the warm hours after a heating that counts, None without one.
    """

    hours: np.ndarray
    fish: np.ndarray
    air: np.ndarray
    dial: float
    wet_bulb: float
    coolest: float
    done: Band
    clock: Band
    energy: Band
    coverage: float
    warm: WarmHours | None

    def fish_at(self, hours: float) -> float:
        """Middle estimate of the fish's temperature at a moment, that of the end after the end.

        Returns: float [°C, any]
        Source: models.slab_drying.dry
        """
        return float(np.interp(hours, self.hours, self.fish[1]))


def lay(batch: Batch) -> Cured:
    """The fish of a batch as it is laid on the trays, salted, freshened and heated as the batch says."""
    return until_laid(batch, taken_in(batch, Draws(MEMBERS))).cured


def holds(batch: Batch, laid: Cured) -> float:
    """How much fish, as it is laid, covers all trays of a batch side by side.

    Returns: float [kg, above 0]
    Source: models.constants.FLESH_DENSITY; the trays as told
    """
    raw = FLESH_DENSITY * laid.fish.typed_thickness[1] * batch.dryer.area
    return float(raw * np.median(laid.mass) / laid.fish.mass)


def fill_dryer(
    batch: Batch, laid: Cured, *, load: float, temperature: float, humidity: float, heater: float, faces: float = 2.0
) -> WarmLoad:
    """Dry some of the fish in a dryer and a room other than the batch's own.

    Parameters: laid – from `lay`; load – fish as laid [kg]; temperature – of the dial [degC]; humidity – of the room
    [0–1]; heater [W]; faces – 1 or 2 open faces (a skin counts as a closed one whatever is said here).
    Raises: ValueError for what no batch file may say
    """
    _check("dryer", temperature=temperature, heater=heater, faces=faces)
    _check("room", relative_humidity=100 * humidity)
    dryer = replace(batch.dryer, temperature=temperature, heater=heater, faces=int(faces))
    room = replace(batch.room, relative_humidity=humidity)
    raw_mass = laid.fish.mass * load / float(np.median(laid.mass))
    portion = replace(laid, fish=replace(laid.fish, mass=raw_mass))
    dried = dry_load(replace(batch, dryer=dryer, room=room), portion, Draws(MEMBERS), sketch=True)
    warm = warm_so_far(batch, dried.taken_off) if heating_counts(batch.heat) else None
    return _warm_load(dried, temperature, warm)


def _check(section: str, **told: float) -> None:
    """Hold numbers to the limits of their fields in a batch file."""
    for name, value in told.items():
        checked(name, value, FIELDS[section][name].low, FIELDS[section][name].high)


def _warm_load(load: Drying, dial: float, warm: WarmHours | None) -> WarmLoad:
    result, done = load.result, band(3600 * load.hours)
    all_hours = result.times / 3600
    end = LONGEST if done.mid is None else done.mid / 3600
    hours = np.append(all_hours[all_hours < end], end)
    pieces = result.temperature.reshape(-1, MEMBERS, all_hours.size)
    air = np.median(result.air_temperature.reshape(pieces.shape)[1], axis=0)  # around the usual pieces
    fish = np.quantile(pieces[-1], [0.1, 0.5, 0.9], axis=0)  # the thickest pieces come last
    return WarmLoad(
        hours=hours, fish=np.array([np.interp(hours, all_hours, curve) for curve in fish]),
        air=np.interp(hours, all_hours, air), dial=dial, wet_bulb=float(np.median(load.wet_bulb)),
        coolest=float(air[all_hours <= EARLY].min()), done=done, clock=band(3600 * load.growth_hours),
        energy=band(3.6e6 * load.kwh) if load.reached else UNKNOWN, coverage=load.load_area_ratio,
        warm=warm,
    )  # fmt: skip
