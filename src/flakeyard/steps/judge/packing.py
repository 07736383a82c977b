"""What the air around a pack does to the fish inside: its water activity, day after day, for a picture.

The same pack, flesh and air as `storing` counts with, shown as a course in time. It never makes a verdict.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from flakeyard.models import keeping, sorption
from flakeyard.models.constants import DAY
from flakeyard.steps.judge.storing import AMOUNT, climate_around, let_in, pack_of


def course(
    dried, days, *, pack, place: str, temperature: float, humidity: float, isotherm: dict, amount: float
) -> np.ndarray:
    """Water activity of packed fish on some days, by both ends of what the pack lets in.

    Parameters: dried – flesh with ``water``, ``salt``, ``fat``, ``solids``, ``sugar`` over members, in one unit; days –
    since packing, rising; pack – a record of the packs table or None; place, temperature [degC], humidity [0–1] – of the
    room; isotherm – ``protein_factor``, ``gab_k``, ``native`` over members; amount – kg of fish in the pack.
    Returns: array (2, members, days) [water activity, 0–1], the tighter end of the pack first. In the freezer nothing moves.
    Source: models.keeping.moisture_course; leak and transmission of the pack's own row
    """
    flesh, curve = pack_of(dried, amount), dict(isotherm)
    at_packing = np.asarray(sorption.water_activity(**flesh, **curve))
    if place == "freezer":
        return np.broadcast_to(at_packing[:, None], (2, np.size(at_packing), len(days)))
    temperature, humidity = climate_around(place, temperature, humidity)
    conductance = np.array(let_in(pack, amount, temperature))[:, None]
    twice: dict[str, Any] = {name: np.broadcast_to(part, (2, np.size(part))) for name, part in flesh.items()}
    moments, activity = keeping.moisture_course(
        **twice,
        humidity=humidity, conductance=conductance, temperature=temperature, **curve,
    )  # fmt: skip
    at = np.asarray(days, float) * DAY
    rows = [np.interp(at, *row) for row in zip(moments.reshape(-1, moments.shape[-1]), _rows(activity), strict=True)]
    return np.reshape(rows, (*moments.shape[:-1], len(at)))


def _rows(values: np.ndarray) -> np.ndarray:
    return values.reshape(-1, values.shape[-1])


def days_until(
    water_activity: float, *, start: float, pack, temperature: float, humidity: float
) -> tuple[float, float]:
    """Days until lean, unsalted fish of one water activity has reached another in a pack; the leakier end first.

    Infinite where the air cannot take it so far. For comparing packs, not for a batch.

    Returns: the leakier end, the tighter end [days, 0 up, or infinite]
    Source: models.keeping.passage_seconds; leak and transmission of the pack's own row
    """
    rows = np.linspace(start, water_activity, 40)
    water = np.asarray(sorption.water_for(rows, 0.0, 0.0, 1.0, temperature))
    solids = AMOUNT / (1.0 + water[0])
    ends = np.array(let_in(pack, AMOUNT, temperature))
    seconds = np.asarray(keeping.passage_seconds(water * solids, rows, np.full(2, humidity), ends))
    tight, leaky = (float(end) / DAY for end in seconds[:, -1])
    return leaky, tight
