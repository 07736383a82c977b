"""Whether a forecast's band holds what it says where the model is right: simulation-based calibration.

Source of the method: talts_2018 (batches drawn from the prior; the rank of the truth among the forecast's members is
then uniform). The errors of the invented batches are those the learning assumes, drawn in full where it is linear; it
assumes a wet tray and a clock in quarter hours besides, so its bands are a little wider than these batches need. What
they hold in a kitchen that is not the model is scored in `tests/simulator`.
"""

from pathlib import Path

import numpy as np
import pytest
from invented_batches import invent
from scipy.stats import binom, chisquare

from flakeyard.steps.intent.batch_file import load_batch, with_typed
from flakeyard.steps.learn import learning

WEIGHED = (0.0, 2.0, 4.0, 6.0)
BINS = 20


@pytest.fixture(scope="module")
def batch():
    """A batch of about ten hours (demo batch with thicker pieces)."""
    demo = Path(__file__).parents[3] / "data_demo" / "heron.toml"
    return with_typed(load_batch(demo), "cut", thickness="8 mm", thinnest="7 mm", thickest="10 mm")


def forecast_all(batch, worlds, moments):
    """Per batch and moment: rank of the truth (0–1), whether the 80 % band holds it, its half-width and middle [h]."""
    prior = learning.prior_course(batch, worlds[0].log.until(0.0), sketch=True)
    told = np.full((len(worlds), len(moments), 4), np.nan)
    for number, world in enumerate(worlds):
        for moment, hours in enumerate(moments):
            learned = learning.learn(batch, world.log.until(hours), prior=prior, sketch=True)
            if learned.contradiction is None:
                true = world.finish(learned.outcome.load.mass_ratio)
                low, middle, high = np.quantile(learned.hours, [0.1, 0.5, 0.9], method="higher")
                told[number, moment] = np.mean(learned.hours < true), low <= true <= high, (high - low) / 2, middle
    return told


def table(told, moments) -> str:
    lines = ["weighed at      80 % band holds   chi-square p   half-width   of the middle"]
    for moment, hours in enumerate(moments):
        rank, holds, half, middle = told[~np.isnan(told[:, moment, 0]), moment].T
        finite = np.isfinite(half)
        lines.append(
            f"up to {hours:3.0f} h {holds.mean():16.3f} {uniform(rank):14.3f} {60 * np.median(half[finite]):8.0f} min {np.median(half[finite] / middle[finite]):12.2f}"
        )
    return "\n".join(lines)


def uniform(rank) -> float:
    counts = np.bincount(np.minimum((rank * BINS).astype(int), BINS - 1), minlength=BINS)
    return float(chisquare(counts).pvalue)


@pytest.mark.slow
def test_five_hundred_batches_are_forecast_as_surely_as_is_said(batch, capsys):
    told = forecast_all(batch, invent(batch, 500, WEIGHED, seed=2026), WEIGHED)
    with capsys.disabled():
        print("\n" + table(told, WEIGHED))
    assert np.isnan(told[:, :, 0]).mean() < 0.01  # false alarms
    for moment in range(len(WEIGHED)):
        holds = told[~np.isnan(told[:, moment, 0]), moment, 1]
        assert 0.75 <= holds.mean() <= 0.95
    assert np.nanmedian(told[:, 3, 2]) <= 0.6 * np.median(told[np.isfinite(told[:, 0, 2]), 0, 2])


def test_a_few_batches_are_forecast_as_surely_as_is_said(batch):
    """The same in small: the count of bands that hold the truth is one that 80 % would give (99.8 of 100 times)."""
    count = 14
    told = forecast_all(batch, invent(batch, count, (0.0, 3.0, 6.0), seed=3), (6.0,))[:, 0]
    assert not np.isnan(told).any()
    assert binom.ppf(0.001, count, 0.8) <= told[:, 1].sum() <= count
    assert 0.25 < told[:, 0].mean() < 0.75
    assert np.median(told[:, 2] / told[:, 3]) < 0.6 * 0.5  # the plan's half-width is about half of its hours
