"""Corners of a grid: what a batch comes to at one setting of the pages that need no Python.

A number that is not known is NaN; verdicts are places in the lists of `safety`, which rise in severity.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from flakeyard.steps.chain import drying
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import MEMBERS as WHOLE
from flakeyard.steps.intent.spread import upper_end
from flakeyard.steps.judge.safety import EAT, KEEP
from flakeyard.steps.plan.explore import Explorer, Glimpse, told_by

MEMBERS = 40
NEAR = {"thickness": 1e-6, "fat": 0.01, "salt": 0.005, "temperature": 0.5}  # of what was told: m, shares, K
OF_THE_CURVE = {"fat", "salt", "temperature"}
THIN = 0.004  # m: thin enough to get to any water content asked for, so that hours do not decide
UNKNOWN = float("nan")


def placeless(batch: Batch) -> Batch:
    """The batch with no place asked for: days then belong to the place that the verdict names."""
    return replace(batch, keep=replace(batch.keep, place=None))


def drying_corner(batch: Batch, thickness: float, fat: float, salt: float, temperature: float) -> dict[str, float]:
    """Hours for the thickest piece, the weight to stop at over that as laid, and the verdict; settings as in `explore`.

    Returns: by name: low, mid, high [h, 0 up], ratio [share, 0–1], places of keep and eat in their orders [count, 0 up], days [days, 0 up]; not a number where not known
    Source: steps.plan.explore.explore
    """
    asked = {"thickness": thickness, "fat": fat, "salt": salt, "temperature": temperature}
    start = _as_told(batch, asked)
    own = start.keys() >= OF_THE_CURVE  # along the curve of the batch as told with as many members as its plan
    seen = _explorer(_roomy(batch, thickness), WHOLE if own else MEMBERS, tuple(start.items())).at(**asked)
    hours = seen.drying["hours_to_target"].as_dict()
    found = {name: UNKNOWN if value is None else value for name, value in hours.items()}
    return found | {"ratio": seen.drying["mass_ratio"].mid or UNKNOWN} | _verdict(seen)


@functools.lru_cache(maxsize=2)
def _explorer(batch: Batch, members: int, start: tuple) -> Explorer:
    """The explorer of the corner before: its fish lies salted already where only the dial is turned, and is dried already
    where it is only stopped at another water."""
    return Explorer(batch, members, dict(start))


def _as_told(batch: Batch, asked: Mapping[str, float]) -> dict[str, float]:
    """Those of some settings that are the batch's own, near enough."""
    told = told_by(batch, asked)
    return {name: value for name, value in asked.items() if abs(told[name] - value) <= NEAR[name]}


def keeping_corner(batch: Batch, fat: float, salt: float, water: float) -> dict[str, float]:
    """Water activity (likely low, estimate, cautious end) of fish dried to so much water [0–1], the verdict, and days.

    Returns: by name: low, mid, high [water activity, 0–1], places of keep and eat in their orders [count, 0 up], days [days, 0 up]; not a number where not known
    Source: steps.plan.explore.Explorer
    """
    settings = {"thickness": THIN, "fat": fat, "salt": salt, "temperature": batch.dryer.temperature}
    seen = _explorer(_roomy(batch, THIN), MEMBERS, ()).at(**settings, water=water)
    load = seen.load
    low, middle = np.quantile(drying.activity(load.dried, load.isotherm), [0.1, 0.5])
    cautious = upper_end(drying.activity(load.dried, load.isotherm, cautious=True))
    return {"low": low, "mid": middle, "high": cautious} | _verdict(seen)


def _roomy(batch: Batch, thickness: float) -> Batch:
    """The batch on trays that hold all of it side by side however thin it is cut: the pages speak of one piece."""
    room = max(1.0, batch.cut.thickness / thickness) * batch.dryer.tray_area
    return replace(batch, dryer=replace(batch.dryer, tray_area=room))


def _verdict(seen: Glimpse) -> dict[str, float]:
    verdict, days = seen.verdict, seen.keep.days
    return {"keep": KEEP.index(verdict.keep), "eat": EAT.index(verdict.eat), "days": UNKNOWN if days is None else days}
