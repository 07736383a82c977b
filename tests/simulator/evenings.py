"""Score what a log asks and what it carries over: `python tests/simulator/evenings.py changes --count 12`, or `carry`.

changes: batches weighed every hour, each once as it is and once with the dial turned down by 15 K and not noted. Asked
about by any forecast before the marked piece was done, and after the turn where there was one.
carry: several batches one after the other in one dryer, each planned with what the ones before taught; and what the
best use of the dryer's own history could do: the mean of the errors so far taken off.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from simulator import ALL, KINDS, Evening, simulate

TURNED, EVERY = -15.0, 1.0  # K; h
STEADY = tuple(name for name in ALL if name != "turned")
BATCHES = 6


def read(kitchen):
    from flakeyard.steps.intent.batch_file import read_batch
    from flakeyard.steps.learn.logbook import read_log

    return read_batch(kitchen.batch), read_log(kitchen.log_csv)


def asked_about(kind: str, seed: int, turned: float | None) -> bool | None:
    """Whether an evening's log asked about a change; None where nothing was weighed between the turn and the end."""
    from flakeyard.steps.learn import learning

    kitchen = simulate(kind, seed, STEADY, evening=Evening(EVERY, turned))
    found = learning.forecasts(*read(kitchen), sketch=True)
    since = next((c.hours for c in kitchen.truth.changes if c.what.startswith("dial")), 0.0)
    done = kitchen.truth.hours(found[-1][1].outcome.drying["mass_ratio"].mid)
    done = kitchen.truth.hours(kitchen.truth.hidden["aim"]) if np.isinf(done) else done
    own = [one.changed is not None or one.contradiction is not None for hours, one in found if since < hours <= done]
    return any(own) if own else None


def changes(kinds: list[str], start: int, count: int) -> None:
    seeds = range(start, start + 2 * count, 2)
    for kind in kinds:
        told = [f"{kind:16}"]
        for what, turned in (("with nothing", None), (f"with {TURNED:g} K", TURNED)):
            own = [one for one in (asked_about(kind, seed, turned) for seed in seeds) if one is not None]
            told.append(f"{what}: asked in {sum(own)} of {len(own)}")
        print("; ".join(told), flush=True)


@dataclass(frozen=True)
class Planned:
    """ln of truth over the middle of a plan, whether its band held it, and the band's high end over its low end."""

    off: float
    held: bool
    wide: float


def planned(kitchen, profile) -> tuple[Planned | None, object]:
    """One batch planned, and what it carries on once it is weighed to its end."""
    from flakeyard.steps.learn.learning import learn
    from flakeyard.steps.learn.logbook import Log

    batch, log = read(kitchen)
    before = learn(batch, Log(()), profile=profile, sketch=True)
    band, truth = before.hours_to_target, kitchen.truth.hours(before.outcome.drying["mass_ratio"].mid)
    after = learn(batch, log, profile=profile, sketch=True).profile(before=profile)
    if band.mid is None or np.isinf(truth):
        return None, after
    high = np.inf if band.high is None else band.high
    return Planned(float(np.log(truth / band.mid)), band.low <= truth <= high, high / band.low), after


def carry(kinds: list[str], start: int, count: int) -> None:
    for kind in kinds:
        alone, carried, ideal = [], [], []
        for dryer in range(start, start + 2 * count, 2):
            profile, so_far = None, []
            for number in range(BATCHES):
                kitchen = simulate(kind, 1000 * dryer + 2 * number + start % 2, evening=Evening(dryer=dryer))
                with_it, kept = planned(kitchen, profile)
                plain = planned(kitchen, None)[0] if number else with_it
                if number and with_it and plain:
                    alone.append(plain)
                    carried.append(with_it)
                    ideal.append(plain.off - np.sum(so_far) / (len(so_far) + 1.0))
                so_far += [plain.off] if plain else []
                profile = kept
        errors = [np.sqrt(np.mean(np.square(one))) for one in ([p.off for p in alone], [p.off for p in carried], ideal)]
        held = [np.mean([p.held for p in some]) for some in (alone, carried)]
        wide = [np.median([p.wide for p in some]) for some in (alone, carried)]
        print(
            f"{kind:16} {len(alone)} plans after the first: rms of ln {errors[0]:.2f} alone, {errors[1]:.2f} carried, "
            f"{errors[2]:.2f} with the mean error taken off; held {held[0]:.0%}, {held[1]:.0%}; high over low "
            f"{wide[0]:.1f}, {wide[1]:.1f}", flush=True,
        )  # fmt: skip


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    asked.add_argument("what", choices=("changes", "carry"))
    asked.add_argument("--count", type=int, default=4, help="evenings, or dryers, a kind")
    asked.add_argument("--kinds", nargs="*", default=list(KINDS), choices=list(KINDS))
    asked.add_argument("--start", type=int, default=0, help="first seed: even to tune, odd to score")
    given = asked.parse_args()
    {"changes": changes, "carry": carry}[given.what](given.kinds, given.start, given.count)


if __name__ == "__main__":
    main()
