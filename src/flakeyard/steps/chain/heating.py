"""Heat the fish through before drying: what cooks out of it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flakeyard.steps.chain.fish import CLASS_WEIGHTS
from flakeyard.steps.chain.salting import Cured
from flakeyard.steps.intent.records import Heat
from flakeyard.steps.intent.spread import Draws

COOK_OUT = (0.10, 0.25)  # judgement: kg lost per kg of fish when it is heated through without a weighing
WEIGHING_LN_SD = 0.01  # judgement: drained weight on a kitchen scale


@dataclass(frozen=True)
class Heated:
    """Core temperature [degC], hold [min], the fish after it, and what share of the mass cooked out (members,)."""

    core: float
    hold_minutes: float
    cured: Cured
    cook_out: np.ndarray


def heat(before: Cured, step: Heat, draws: Draws) -> Heated:
    """Cook out water with the salt and sugar dissolved in it; fat and the other solids stay.

    With ``weight_after`` the loss is what the scale says; without it the spread is wide.
    """
    mass = before.mass
    if step.weight_after is not None:
        weighed = step.weight_after * draws.lognormal("weight after heating", 1.0, WEIGHING_LN_SD)
        lost = np.clip(1 - weighed / mass, 0.0, 0.6)
    else:
        lost = draws.uniform("cook-out", *COOK_OUT)
    flesh = before.flesh
    juice = flesh.water + flesh.salt + flesh.sugar
    share = np.minimum(lost * (CLASS_WEIGHTS @ flesh.mass) / (CLASS_WEIGHTS @ juice), 0.9)
    left = 1 - share
    flesh = flesh.changed(water=flesh.water * left, salt=flesh.salt * left, sugar=flesh.sugar * left)
    return Heated(step.core, step.hold_minutes, replace(before, flesh=flesh), lost)
