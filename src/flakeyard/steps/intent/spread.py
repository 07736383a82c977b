"""Draws of uncertain parameters and the percentiles shown for them.

Every uncertain number of a batch is drawn by name. A name always gives the same column of draws for the same
seed, whatever else is drawn, so two plans that differ in one setting differ in nothing else, member by member.
The columns are stratified (a Latin hypercube): with 200 members each of 200 equal slices of a distribution is
met once, which is far steadier than plain random draws.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field, replace
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from flakeyard import tables
from flakeyard.messages import say
from flakeyard.remembered import Remembered

MEMBERS = 200
UPPER_END = 0.975  # of a prediction: what verdicts read
SEED = 20_261  # any fixed number; it only makes two runs agree
EDGE = 1e-9  # of a share: keeps a far member finite

normal_share = np.vectorize(NormalDist().cdf, otypes=[float])
normal_quantile = np.vectorize(NormalDist().inv_cdf, otypes=[float])  # loads in a tenth of the time of SciPy's


@dataclass(frozen=True)
class Band:
    """The 10th, 50th and 90th percentile of a prediction; all equal when it is exact, None when it cannot be said."""

    low: float | None
    mid: float | None
    high: float | None

    def as_dict(self) -> dict[str, float | None]:
        """Low, middle and high by name.

        Returns: by name [unit of the band, any; None where not known]
        Source: the draws it was made of
        """
        return {"low": self.low, "mid": self.mid, "high": self.high}

    @property
    def known(self) -> bool:
        return self.low is not None and self.mid is not None and self.high is not None

    @property
    def ends(self) -> tuple[float, float, float]:
        """Low, middle and high, where all of them are known.

        Returns: three [unit of the band, any]
        Raises: ValueError where one is not known
        Source: the draws it was made of
        """
        if self.low is None or self.mid is None or self.high is None:
            raise ValueError(say("input.band", band=self))
        return self.low, self.mid, self.high

    @property
    def width(self) -> float:
        """High less low.

        Returns: float [unit of the band, 0 up, infinite where an end is not known]
        Source: the draws it was made of
        """
        return np.inf if self.low is None or self.high is None else self.high - self.low


UNKNOWN = Band(None, None, None)


def band(values, weights=None) -> Band:
    """Percentiles of draws; an infinite or missing percentile (a target never reached) becomes None.

    Returns: 10th, 50th and 90th percentile [unit of the values, any]
    Source: the draws given
    """
    draws = np.asarray(values, float).ravel()
    if draws.size == 0 or np.isnan(draws).all():
        return UNKNOWN
    draws = np.where(np.isnan(draws), np.inf, draws)
    if weights is None:
        points = np.quantile(draws, [0.1, 0.5, 0.9], method="linear" if np.isfinite(draws).all() else "higher")
    else:
        order = np.argsort(draws)
        share = np.cumsum(np.asarray(weights, float)[order])
        points = draws[order][np.searchsorted(share, np.array([0.1, 0.5, 0.9]) * share[-1])]
    return Band(*(float(point) if np.isfinite(point) else None for point in points))


def exact(value: float) -> Band:
    """A number without spread, in the same dress as the others.

    Returns: three times the value [unit of the value, any]
    Source: the value given
    """
    return Band(float(value), float(value), float(value))


def upper_end(values) -> float:
    """97.5th percentile: the cautious end that every verdict reads.

    Returns: float [unit of the values, any]
    Source: the draws given; judgement, that a verdict reads this percentile
    """
    return float(np.quantile(np.asarray(values, float), UPPER_END, method="higher"))


@dataclass(frozen=True)
class Draws:
    """Named, seeded, stratified draws.

    ``fixed`` holds a name's values instead of drawing them (used when weighings of a batch have sharpened them); ``moved``
    standard normal numbers (members,) that stand for its place in its distribution. ``asked`` collects the names that were
    drawn. ``taken``: what to say of the measurements that moved them; None where none of a batch were taken in yet.
    """

    members: int = MEMBERS
    seed: int = SEED
    fixed: dict[str, np.ndarray] = field(default_factory=dict)
    moved: dict[str, np.ndarray] = field(default_factory=dict, repr=False)
    asked: Remembered = field(default_factory=Remembered, repr=False, compare=False)
    taken: tuple[str, ...] | None = None

    def normals(self, names) -> np.ndarray:
        """Standard normal numbers (members, names) that stand for the members' places in the distributions.

        Returns: (members, names) [1, any]
        Source: the draws
        """
        return np.stack([self._normal(name) for name in names], axis=1)

    def uniform(self, name: str, low: float, high: float) -> np.ndarray:
        """Draws between two ends, all alike likely.

        Returns: (members,) [unit of the ends, low–high]
        Source: the ends given
        """
        return self._column(name, lambda share: low + (high - low) * share)

    def normal(self, name: str, mid: float, sd: float) -> np.ndarray:
        """Draws from a normal distribution.

        Returns: (members,) [unit of the middle, any]
        Source: middle and spread given
        """
        return self._column(name, lambda share: mid + sd * normal_quantile(share))

    def lognormal(self, name: str, mid: float, ln_sd: float) -> np.ndarray:
        """Draws whose logarithm is normal, ``ln_sd`` its standard deviation.

        Returns: (members,) [unit of the middle, above 0]
        Source: middle and spread given
        """
        return self._column(name, lambda share: mid * np.exp(ln_sd * normal_quantile(share)))

    def triangular(self, name: str, low: float, mid: float, high: float) -> np.ndarray:
        """Draws from a triangular distribution.

        Returns: (members,) [unit of the ends, low–high]
        Source: ends and middle given
        """
        return self._column(name, lambda share: triangular_quantile(share, low, mid, high))

    def study(self, topic: str) -> np.ndarray:
        """The factor by which laboratories, and kitchens, lie apart beyond all else that is drawn: one draw a batch.

        Parameters: topic – of `tables.study_spread`, whose row names the parameter that it multiplies
        Returns: (members,) [1, above 0]
        Source: seeded draws, as wide as the row says
        """
        term = tables.study_term(topic)
        return self.lognormal(term.draw, 1.0, term.sd)

    def settled(self, topic: str) -> Draws:
        """The same draws where weighing or measuring has settled how this kitchen differs: no factor of that topic."""
        return replace(self, fixed=self.fixed | {tables.study_term(topic).draw: np.ones(self.members)})

    def _column(self, name: str, quantile) -> np.ndarray:
        if name in self.fixed:
            return self.fixed[name]
        return quantile(self._shares(name))

    def _normal(self, name: str) -> np.ndarray:
        return self.moved[name] if name in self.moved else normal_quantile(places(self.members, self.seed, name))

    def _shares(self, name: str) -> np.ndarray:
        self.asked(name, lambda: None)
        if name not in self.moved:
            return places(self.members, self.seed, name)
        return np.clip(normal_share(self.moved[name]), EDGE, 1 - EDGE)


@lru_cache(maxsize=1024)
def places(members: int, seed: int, name: str) -> np.ndarray:
    """Places of the members in the distribution of a name, each in its own slice (members,); not to be written to.

    Returns: (members,) [share, 0–1]
    Source: a seeded Latin hypercube
    """
    generator = np.random.default_rng([seed, zlib.crc32(name.encode())])
    slices = generator.permutation(members)
    shares = (slices + generator.uniform(size=members)) / members
    shares.flags.writeable = False
    return shares


def places_of_a_lognormal(ln_sd: float, slices: int) -> np.ndarray:
    """Factors in the middles of slices of equal chance, the smallest first.

    Returns: (slices,) [1, above 0], of median one
    Source: the spread given
    """
    return np.exp(ln_sd * normal_quantile((np.arange(slices) + 0.5) / slices))


def triangular_quantile(share, low: float, mid: float, high: float) -> np.ndarray:
    """Value below which the given share of a triangular distribution lies.

    Returns: array [unit of the ends, low–high]
    Source: ends and middle given
    """
    if high <= low:
        return np.full(np.shape(share), float(mid))
    split = (mid - low) / (high - low)
    rising = low + np.sqrt(np.maximum(share * (high - low) * (mid - low), 0.0))
    falling = high - np.sqrt(np.maximum((1 - share) * (high - low) * (high - mid), 0.0))
    return np.where(share < split, rising, falling)


def triangular_share(value, low: float, mid: float, high: float) -> np.ndarray:
    """Share of a triangular distribution that lies below the value.

    Returns: array [share, 0–1]
    Source: ends and middle given
    """
    value = np.clip(value, low, high)
    if high <= low:
        return np.ones(np.shape(value))
    width = high - low
    rising = (value - low) ** 2 / (width * max(mid - low, 1e-12))
    falling = 1 - (high - value) ** 2 / (width * max(high - mid, 1e-12))
    return np.where(value < mid, rising, falling)
