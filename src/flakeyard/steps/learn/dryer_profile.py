"""What a dryer taught, carried over to its next batch: a small TOML file the learner can read.

Each quantity is told as ``shift`` (how far its middle lies from the middle of a plan without a profile) and ``width``
(how sure that is), both in standard deviations of that plan, and in words. They are not independent: a scale cannot
tell thick pieces from slow ones, so what is known well is how they go together, and that is the table of correlations.

Batches differ more than dryers do. Of each quantity only a part (KEPT) is common to all batches of a dryer: what is built
into it, and how wrong the plan is of such fish there. The logs tell of that part, together the more the more there are;
the rest is new with every fish and knife and stays as wide as in the plan, however many batches were weighed. So neither a
long history nor a large class makes a forecast surer than it ought to be.
"""

from __future__ import annotations

import os
import textwrap
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from flakeyard import reading
from flakeyard.files import write_whole
from flakeyard.messages import say
from flakeyard.models.salt_transport import THICKNESS_LN_SD
from flakeyard.steps.chain.drying import AIR_SPEED_LN_SD, DIFFUSIVITY_LN_SD
from flakeyard.tables import study_term
from flakeyard.units import InputError

KEPT = {  # share of the variance that the batches of one dryer have in common: of a dryer much (judgement), of fish, knife
    # and the plan's errors little (tuned on simulated kitchens, even seeds: there two batches of one dryer agree hardly
    # better than two of other dryers, and both because the plan is wrong of such fish)
    "drying diffusivity": 0.2, "dry end": 0.2, "activation": 0.2, "fat effect": 0.2, "salt effect": 0.2,
    "air speed": 0.8, "fresh air": 0.8, "wall loss": 0.8, "thickness": 0.1, "study drying hours": 0.4, "dial": 0.8,
}  # fmt: skip
OF_DRYER = ("air speed", "fresh air", "wall loss", "dial")
OTHER_DRYER = 0.5  # of that variance, common to all dryers of a kind (judgement)

FACTORS = {  # ln sd
    "drying diffusivity": DIFFUSIVITY_LN_SD, "air speed": AIR_SPEED_LN_SD, "thickness": THICKNESS_LN_SD,
    "study drying hours": study_term("drying hours").sd,
}  # fmt: skip
FARTHEST, SUREST = 6.0, 0.02  # of a shift, and of a width, in a file
WIDEST = 112  # letters of a line of remarks
MOST_BATCHES = 400  # that a profile may name (judgement: one a week for years)
EXAMPLE = '[learned."air speed"]\nshift = -0.3\nwidth = 0.8'


@dataclass(frozen=True)
class DryerProfile:
    """A dryer's name, the batches it was learned from, and the normal distribution of its quantities."""

    title: str
    batches: tuple[str, ...]
    names: tuple[str, ...]
    middle: np.ndarray
    spread: np.ndarray  # covariance (names, names)

    @property
    def triangle(self) -> np.ndarray:
        """Lower triangle whose square is the covariance of the names.

        Returns: (names, names) [1, any]
        Source: the profile given
        """
        return np.linalg.cholesky(self.spread)

    def factor(self, name: str) -> tuple[float, float, float] | None:
        """A quantity's factor against the plan, with its 10th and 90th percentile first and last; None if it has none.

        Returns: three or None [1, above 0]
        Source: the profile given
        """
        if name not in FACTORS or name not in self.names:
            return None
        row = self.names.index(name)
        width = 1.2816 * np.sqrt(self.spread[row, row])
        steps = (-width, 0.0, width)
        first, middle, last = (float(np.exp(FACTORS[name] * (self.middle[row] + step))) for step in steps)
        return first, middle, last


@dataclass(frozen=True)
class _Common:
    """What batches have in common, as far as it is known: middle and covariance over the names, ``kept`` before any log."""

    names: tuple[str, ...]
    kept: np.ndarray
    middle: np.ndarray
    spread: np.ndarray

    @classmethod
    def of(cls, names: tuple[str, ...], profile: DryerProfile | None = None) -> _Common:
        """Of one dryer as a profile has it; of names that are not in it, as the plan."""
        kept = np.array([KEPT[name] for name in names])
        middle, spread = np.zeros(len(names)), np.diag(kept)
        known = [name for name in names if profile and name in profile.names]
        if profile and known:
            here, there = ([where.index(name) for name in known] for where in (names, profile.names))
            middle[here] = profile.middle[there]
            own = np.diag(1 - kept[here])
            spread[np.ix_(here, here)] = _positive(profile.spread[np.ix_(there, there)] - own, SUREST**2)
        return cls(names, kept, middle, spread)

    @property
    def own(self) -> np.ndarray:
        """Covariance of what is each batch's own."""
        return np.diag(1 - self.kept)

    def of_all_dryers(self) -> _Common:
        """What the same log tells of batches that share no dryer, only its kind."""
        share = np.array([OTHER_DRYER if name in OF_DRYER else 1.0 for name in self.names])
        told = share[:, None] * (self.spread - np.diag(self.kept)) * share
        return _Common(self.names, share * self.kept, share * self.middle, np.diag(share * self.kept) + told)

    def after(self, points: np.ndarray) -> _Common:
        """The same after one more batch, whose members (members, names) agree with its log."""
        gain = self.spread @ np.linalg.inv(self.spread + self.own)
        middle = self.middle + gain @ (points.mean(axis=0) - self.middle)
        spread = self.spread - gain @ self.spread + gain @ np.cov(points, rowvar=False) @ gain.T
        return _Common(self.names, self.kept, middle, spread)

    def profile(self, title: str, batches: tuple[str, ...]) -> DryerProfile:
        """For a batch to come."""
        return DryerProfile(title, batches, self.names, self.middle, _possible(self.spread + self.own))


def carried(
    title: str, placed: dict[str, np.ndarray], batches: tuple[str, ...], before: DryerProfile | None = None
) -> DryerProfile:
    """A profile from members that agree with a log (standard normal numbers by name), as far as it holds next time.

    Parameters: before – the profile with which that batch was planned
    """
    names = tuple(name for name in KEPT if name in placed)
    points = np.stack([placed[name] for name in names], axis=1)
    return _Common.of(names, before).after(points).profile(title, batches)


def pooled(profiles: list[DryerProfile], title: str, shared: bool = False) -> DryerProfile:
    """What several groups learned, each on its own batch, as one profile for a batch to come.

    ``shared``: all groups used one dryer. Else the next one is another dryer, which is like theirs only in part.
    """
    names = tuple(name for name in KEPT if all(name in profile.names for profile in profiles))
    told = [_Common.of(names, profile) for profile in profiles]
    told = told if shared else [one.of_all_dryers() for one in told]
    plan = np.diag(1 / told[0].kept)  # counts once
    sureness, pull = plan, np.zeros(len(names))
    for one in told:
        alone = np.linalg.inv(one.spread)
        sureness = sureness + _positive(alone - plan, 0.0)
        pull = pull + alone @ one.middle
    spread = np.linalg.inv(sureness)
    batches = tuple(dict.fromkeys(batch for profile in profiles for batch in profile.batches))
    return _Common(names, told[0].kept, spread @ pull, spread).profile(title, batches)


def _positive(matrix, least: float):
    values, vectors = np.linalg.eigh(0.5 * (matrix + matrix.T))
    return (vectors * np.maximum(values, least)) @ vectors.T


def _possible(spread):
    """The same covariance with no direction surer than SUREST nor less sure than the plan."""
    values, vectors = np.linalg.eigh(0.5 * (spread + spread.T))
    return (vectors * np.clip(values, SUREST**2, 1.0)) @ vectors.T


def write_profile(profile: DryerProfile, path: str | os.PathLike) -> Path:
    """Write a profile as TOML; an existing file stays as a numbered copy. Raises: OSError."""
    lines = [
        *_remark(say("profile.head")),
        f"title = {_quoted(profile.title)}", f"batches = [{', '.join(map(_quoted, profile.batches))}]", "",
    ]  # fmt: skip
    for row, name in enumerate(profile.names):
        factor = profile.factor(name)
        what = say(f"profile.{name.replace(' ', '_')}")
        if factor:
            what = say("profile.factor", what=what, low=factor[0], middle=factor[1], high=factor[2])
        width = np.sqrt(profile.spread[row, row])
        lines += [
            *_remark(what),
            f'[learned."{name}"]',
            f"shift = {profile.middle[row]:.4f}",
            f"width = {width:.4f}",
            "",
        ]
    width = np.sqrt(np.diag(profile.spread))
    rows = profile.spread / width / width[:, None]
    lines += [
        *_remark(say("profile.together")),
        "[together]",
        "correlation = [",
    ]
    lines += [f"  [{', '.join(f'{value:.4f}' for value in row)}]," for row in rows] + ["]", ""]
    return write_whole(path, "\n".join(lines), keep_copy=True)


def _remark(text: str) -> list[str]:
    """A text as remarks of a file."""
    return [f"# {line}" for line in textwrap.wrap(text, WIDEST)]


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ") + '"'


def read_profile(path: str | os.PathLike) -> DryerProfile:
    """Read a profile. Raises: InputError naming the file and the field."""
    where = reading.named(path)
    told = reading.read_toml(reading.read_text(path, "profile"), where, EXAMPLE)
    reading.check_values(told, where, MOST_BATCHES)
    learned = told.get("learned")
    if not isinstance(learned, dict) or not learned:
        raise InputError(where, learned, say("profile.nothing"), say("profile.sections"), EXAMPLE)
    for name in learned:
        if name not in KEPT:
            raise InputError(f'{where}, [learned."{name}"]', name, say("profile.quantity"), ", ".join(KEPT), EXAMPLE)
    names = tuple(learned)
    middle = np.array([_field(learned[n], "shift", -FARTHEST, FARTHEST, f'{where}, [learned."{n}"]') for n in names])
    width = np.array([_field(learned[n], "width", SUREST, 1.5, f'{where}, [learned."{n}"]') for n in names])
    batches = told.get("batches", [])
    if not isinstance(batches, list) or not all(isinstance(batch, str) for batch in batches):
        raise InputError(
            f"{where}, batches", batches, say("profile.names_needed"), say("profile.list"), 'batches = ["Heron"]'
        )
    correlation = _correlation(told.get("together"), len(names), where)
    spread = _possible(correlation * width * width[:, None])
    return DryerProfile(str(told.get("title", say("profile.dryer"))), tuple(batches), names, middle, spread)


def _field(section, name: str, low: float, high: float, where: str) -> float:
    value = section.get(name) if isinstance(section, dict) else None
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise InputError(
            f"{where} {name}",
            value,
            say("field.outside"),
            say("field.allowed.number", low=low, high=high),
            f"{name} = 0.8",
        )
    return float(value)


def _correlation(together, size: int, where: str) -> np.ndarray:
    """The table as an array; without one the quantities stand alone, and what is known of them together is lost."""
    rows = together.get("correlation") if isinstance(together, dict) else together
    if rows is None:
        return np.eye(size)
    example = "correlation = [[1, -0.5], [-0.5, 1]]"
    allowed = say("profile.correlation", size=size)
    try:
        table = np.array(rows, float)
    except (TypeError, ValueError):
        table = np.zeros(0)
    fits = (
        table.shape == (size, size) and np.all(np.abs(table) <= 1.0 + 1e-6) and np.allclose(table, table.T, atol=2e-4)
    )
    if not fits or not np.allclose(np.diag(table), 1.0, atol=2e-4) or np.linalg.eigvalsh(table).min() < -0.01:
        raise InputError(f"{where}, [together] correlation", rows, say("profile.no_correlation"), allowed, example)
    return table
