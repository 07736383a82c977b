"""Score what a log asks and what it carries over: `python tests/simulator/evenings.py changes --count 12`; `carry`; `pool`.

changes: batches weighed every hour, each once as it is and once with the dial turned down by 15 K and not noted. Asked
about, or refused, by any forecast before the marked piece was done, and after the turn where there was one; and how many
of these forecasts held the truth.
carry: several batches one after the other in one dryer, each planned with what the ones before taught; and what the
best use of the dryer's own history could do: the mean of the errors so far taken off.
pool: groups of a class weigh a batch each, in one dryer or each in its own; another batch of such a dryer is planned.
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
from simulator.score import fitted

TURNED, EVERY = -15.0, 1.0  # K; h
STEADY = tuple(name for name in ALL if name != "turned")
BATCHES = 6
GROUPS, NEXT = 5, 2  # of a class; batches planned after


def read(kitchen):
    from flakeyard.steps.intent.batch_file import read_batch
    from flakeyard.steps.learn.logbook import read_log

    return read_batch(kitchen.batch), read_log(kitchen.log_csv)


@dataclass(frozen=True)
class Asked:
    """What the forecasts of an evening did between the turn and the end: asked about a change, or refused, at any time;
    of those not refused, where the piece gets dry at all, how many there were and held the truth, alike of those that asked.
    """

    asked: bool
    refused: bool
    made: int
    held: int
    asked_made: int
    asked_held: int


def asked_about(kind: str, seed: int, turned: float | None) -> Asked | None:
    """An evening's log read as `learning.learn` reads it, without its verdicts; None where nothing was weighed between the
    turn and the end."""
    from flakeyard.steps.learn import learning
    from flakeyard.steps.learn.members import schedule

    kitchen = simulate(kind, seed, STEADY, evening=Evening(EVERY, turned))
    batch, log = read(kitchen)
    prior = learning.prior_course(batch, log, sketch=True)
    since = next((c.hours for c in kitchen.truth.changes if c.what.startswith("dial")), 0.0)
    truth = kitchen.truth.hours(prior.outcome.drying["mass_ratio"].mid)
    done = kitchen.truth.hours(kitchen.truth.hidden["aim"]) if np.isinf(truth) else truth
    whole = schedule(log, batch.dryer.temperature)
    own = []
    for so_far in (log.until(hours) for hours in log.moments if since < hours <= done):
        found, _ = fitted(batch, so_far, prior)
        if found is None:
            own.append((False, True, 0, 0))
            continue
        low, high = np.exp(np.quantile(found.ln_hours, [0.1, 0.9]))
        within = low <= whole.drying(truth) <= (high if high < prior.times[-1] / 3600 else np.inf)
        known = bool(np.isfinite(truth))
        own.append((found.step is not None, False, int(known), int(known and within)))
    if not own:
        return None
    asked, refused, made, held = np.array(own, int).T
    return Asked(
        bool(asked.any()), bool(refused.any()), *map(int, (made.sum(), held.sum(), made @ asked, held @ asked))
    )


def changes(kinds: list[str], start: int, count: int) -> None:
    for kind in kinds:
        told = [f"{kind:16}"]
        for what, turned in (("with nothing", None), (f"with {TURNED:g} K", TURNED)):
            own = [
                one for one in (asked_about(kind, seed, turned) for seed in range(start, start + 2 * count, 2)) if one
            ]
            asked, refused, either = (
                sum(some) for some in zip(*((o.asked, o.refused, o.asked or o.refused) for o in own), strict=True)
            )
            told.append(f"{what}: asked in {asked}, refused in {refused}, either in {either} of {len(own)}")
            made, held, asked_made, asked_held = (
                sum(getattr(o, name) for o in own) for name in ("made", "held", "asked_made", "asked_held")
            )
            told.append(f"held {held} of {made} forecasts, {asked_held} of {asked_made} that asked")
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
    weighed = learn(batch, log, profile=profile, sketch=True)
    after = profile if weighed.contradiction else weighed.profile(before=profile)
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
        best = np.sqrt(np.mean(np.square(ideal)))
        print(f"{kind:16} {_beside(alone, carried)}, {best:.2f} with the mean error taken off", flush=True)


def _beside(alone: list[Planned], taught: list[Planned]) -> str:
    """Error, coverage and width of plans alone and of the same plans with what was learned before."""
    errors = [np.sqrt(np.mean([p.off**2 for p in some])) for some in (alone, taught)]
    held = [np.mean([p.held for p in some]) for some in (alone, taught)]
    wide = [np.median([p.wide for p in some]) for some in (alone, taught)]
    return (
        f"{len(alone)} plans: held {held[0]:.0%} alone, {held[1]:.0%} taught; high over low {wide[0]:.1f}, {wide[1]:.1f}; "
        f"rms of ln {errors[0]:.2f}, {errors[1]:.2f}"
    )


def pool(kinds: list[str], start: int, count: int) -> None:
    from flakeyard.steps.learn import dryer_profile

    for kind in kinds:
        for shared in (True, False):
            alone, taught = [], []
            for room in range(start, start + 2 * count, 2):
                seeds = [1000 * room + 2 * number + start % 2 for number in range(GROUPS + NEXT)]
                kitchens = [simulate(kind, seed, evening=Evening(dryer=room if shared else None)) for seed in seeds]
                said = [planned(kitchen, None) for kitchen in kitchens]
                profile = dryer_profile.pooled([profile for _, profile in said[:GROUPS] if profile], "class", shared)
                for kitchen, (plain, _) in zip(kitchens[GROUPS:], said[GROUPS:], strict=True):
                    with_it = planned(kitchen, profile)[0] if plain else None
                    if with_it:
                        alone.append(plain)
                        taught.append(with_it)
            print(f"{kind:16} {'one dryer' if shared else 'own dryers':10} {_beside(alone, taught)}", flush=True)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    asked.add_argument("what", choices=("changes", "carry", "pool"))
    asked.add_argument("--count", type=int, default=4, help="evenings, dryers or classes, a kind")
    asked.add_argument("--kinds", nargs="*", default=list(KINDS), choices=list(KINDS))
    asked.add_argument("--start", type=int, default=0, help="first seed: even to tune, odd to score")
    given = asked.parse_args()
    {"changes": changes, "carry": carry, "pool": pool}[given.what](given.kinds, given.start, given.count)


if __name__ == "__main__":
    main()
