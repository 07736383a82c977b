"""Take salt out again in plain water, and how much of it is left."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from flakeyard.models.constants import WATER_DENSITY
from flakeyard.steps.chain.salting import Bath, Cured, soak_in, uncovered
from flakeyard.steps.intent.records import Freshen
from flakeyard.steps.intent.spread import Draws


def freshen(before: Cured, soak: Freshen, draws: Draws) -> Cured:
    """Soak in plain water, with every change of water in turn; ``time`` is for each water.

    The flesh swells again towards the water it held raw, so everything is computed anew afterwards.
    """
    water = soak.water.kilograms(WATER_DENSITY)
    after = replace(before, notes=before.notes + uncovered(water / WATER_DENSITY, before.fish.mass))
    for _ in range(soak.waters):
        plain = np.full(before.flesh.water.shape[-1], water / before.fish.mass)
        nothing = np.zeros_like(plain)
        after = soak_in(
            after, Bath(plain, nothing, nothing, nothing), soak.time, soak.temperature, draws, "[[freshen]] water"
        )
    return after
