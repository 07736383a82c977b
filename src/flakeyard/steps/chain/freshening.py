"""Take salt out again in plain water, and how much of it is left."""

from __future__ import annotations

import numpy as np

from flakeyard.steps.chain.salting import Bath, Cured, soak_in
from flakeyard.steps.intent.spread import Draws


def freshen(before: Cured, soak: dict, draws: Draws) -> Cured:
    """Soak in plain water, with every change of water in turn; ``time`` is for each water.

    The flesh swells again towards the water it held raw, so everything is computed anew afterwards.
    """
    amount = soak["water"]
    water = amount.value * (998.2 if amount.kind == "volume" else 1.0)  # kg/m3 at 20 °C
    after = before
    for _ in range(int(soak.get("changes", 1))):
        plain = np.full(before.flesh.water.shape[-1], water / before.fish.mass)
        nothing = np.zeros_like(plain)
        after = soak_in(
            after, Bath(plain, nothing, nothing, nothing), soak["time"].value, soak["temperature"].value, draws
        )
    return after
