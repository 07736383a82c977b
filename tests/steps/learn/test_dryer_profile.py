"""What carries over from batch to batch: a file that reads back as written, and never surer than it ought to be."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_batches import invent

from flakeyard.steps.intent.batch_file import load_batch
from flakeyard.steps.learn import dryer_profile, learning
from flakeyard.steps.learn.dryer_profile import KEPT, carried, pooled, read_profile, write_profile
from flakeyard.units import InputError

NAMES = tuple(KEPT)


def points(seed: int, members: int = 200, width: float = 0.5):
    return dict(
        zip(NAMES, width * np.random.default_rng(seed).standard_normal((len(NAMES), members)) + 0.3, strict=True)
    )


@given(st.integers(0, 1000), st.floats(0.05, 1.0))
def test_reads_back_as_written(tmp_path_factory, seed, width):
    profile = carried('my "box"', points(seed, width=width), ("Heron, 2026-11-20 17:00",))
    path = write_profile(profile, tmp_path_factory.mktemp("profile") / "dryer.toml")
    again = read_profile(path)
    assert (again.title, again.batches, again.names) == (profile.title, profile.batches, profile.names)
    np.testing.assert_allclose(again.middle, profile.middle, atol=1e-4)
    np.testing.assert_allclose(again.spread, profile.spread, atol=1e-3)


@given(st.integers(0, 1000), st.floats(0.05, 2.0))
def test_no_direction_is_less_sure_than_the_plan_or_surer_than_a_new_fish_allows(seed, width):
    values = np.linalg.eigvalsh(carried("box", points(seed, width=width), ()).spread)
    assert values.max() <= 1 + 1e-9
    assert values.min() >= 1 - max(KEPT.values()) ** 2 - 1e-9


@given(st.integers(0, 1000), st.integers(1, 30), st.booleans())
def test_no_history_and_no_class_is_surer_of_the_next_fish_than_fish_are_alike(seed, count, shared):
    logs = [points(seed + number, members=40, width=0.05) for number in range(count)]
    profile = None
    for log in logs:
        profile = carried("box", log, (), profile)
    for known in (profile, pooled([carried("box", log, ()) for log in logs], "class", shared)):
        sureness = known.spread - np.diag([1 - KEPT[name] for name in NAMES])
        assert np.linalg.eigvalsh(sureness).min() > -1e-9
        assert np.all(np.diag(known.spread) <= 1 + 1e-9)
        assert np.all(np.sign(known.middle) == 1)  # all logs lie on one side of the plan


def test_batches_one_after_the_other_tell_as_much_as_side_by_side():
    logs = [points(seed, members=5000) for seed in range(4)]
    exact = [{name: (log[name] - log[name].mean()) / log[name].std() * 0.5 + 0.3 for name in NAMES} for log in logs]
    first = carried("box", exact[0], ())
    gained = pooled([first, first], "class", shared=True)
    # the second batch as its log puts it when it was planned with what the first had taught
    sure = np.linalg.inv(first.spread) + np.linalg.inv(np.cov([exact[0][n] for n in NAMES])) - np.eye(len(NAMES))
    pull = np.linalg.solve(first.spread, first.middle) + 0.3 * np.linalg.inv(np.cov([exact[0][n] for n in NAMES])).sum(
        axis=1
    )
    middle, root = np.linalg.solve(sure, pull), np.linalg.cholesky(np.linalg.inv(sure))
    draws = np.random.default_rng(5).standard_normal((20_000, len(NAMES)))
    second = carried("box", dict(zip(NAMES, (middle + draws @ root.T).T, strict=True)), (), first)
    np.testing.assert_allclose(second.middle, gained.middle, atol=0.02)
    np.testing.assert_allclose(second.spread, gained.spread, atol=0.02)


def test_nothing_learned_carries_nothing():
    plan = carried(
        "box",
        {
            name: column
            for name, column in zip(NAMES, np.random.default_rng(1).standard_normal((len(NAMES), 20_000)), strict=True)
        },
        (),
    )
    np.testing.assert_allclose(plan.spread, np.eye(len(NAMES)), atol=0.05)
    np.testing.assert_allclose(plan.middle, 0, atol=0.05)


def test_groups_that_agree_are_surer_together():
    one, other = (carried("box", points(seed), (f"batch {seed}",)) for seed in (1, 2))
    both = pooled([one, other], "class", shared=True)
    assert both.batches == ("batch 1", "batch 2")
    alone = pooled([one], "class", shared=True)
    assert np.all(np.diag(both.spread) < np.diag(alone.spread) + 1e-9)
    assert np.all(np.diag(alone.spread) >= np.diag(one.spread) - 1e-9)  # another group's fish and knife
    assert np.all(np.abs(alone.middle) <= np.abs(one.middle) + 1e-9)


def test_the_file_is_for_people(tmp_path):
    path = write_profile(carried("box", points(1), ("Heron",)), tmp_path / "dryer.toml")
    told = path.read_text(encoding="utf-8")
    assert "# how fast water moves in the flesh: ×" in told
    assert 'batches = ["Heron"]' in told


GOOD = '[learned."air speed"]\nshift = -0.3\nwidth = 0.8\n[learned.thickness]\nshift = 0.1\nwidth = 0.9\n'


def test_without_correlations_each_stands_alone(tmp_path):
    path = tmp_path / "dryer.toml"
    path.write_text(GOOD, encoding="utf-8")
    profile = read_profile(path)
    np.testing.assert_allclose(profile.spread, np.diag([0.64, 0.81]), atol=1e-9)
    assert profile.factor("air speed")[1] == pytest.approx(
        np.exp(-0.3 * 0.5)
    )  # ln sd of the air speed in the plan: 0.5


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "nothing learned"),
        ("shift = ", "cannot be read"),
        (GOOD.replace("air speed", "air sped"), "not known"),
        (GOOD.replace("-0.3", "30"), "from -6 to 6"),
        (GOOD.replace("0.8", "0"), "from 0.02 to 1.5"),
        (GOOD.replace("0.8", "nan"), "from 0.02 to 1.5"),
        (GOOD.replace("0.8", '"wide"'), "from 0.02 to 1.5"),
        ("batches = 2\n" + GOOD, "names of batches"),
        (GOOD + "[together]\ncorrelation = [[1, 0.5]]\n", "not a table of correlations"),
        (GOOD + "[together]\ncorrelation = [[1, 2], [2, 1]]\n", "not a table of correlations"),
        (GOOD + "[together]\ncorrelation = [[1, 0.5], [0.1, 1]]\n", "not a table of correlations"),
        (GOOD + '[together]\ncorrelation = "none"\n', "not a table of correlations"),
    ],
)
def test_a_file_that_cannot_be_used_says_where(tmp_path, text, word):
    path = tmp_path / "dryer.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=r"file dryer\.toml") as refused:
        read_profile(path)
    assert word in str(refused.value)


def test_a_slow_dryer_is_expected_to_be_slow_again(demo_batch):
    worlds = invent(demo_batch, 30, (0, 2, 4), seed=9)
    prior = learning.prior_course(demo_batch, worlds[0].log.until(0), sketch=True)
    ratio = prior.outcome.load.mass_ratio
    slow = max((world for world in worlds if np.isfinite(world.finish(ratio))), key=lambda world: world.finish(ratio))
    learned = learning.learn(demo_batch, slow.log, prior=prior, sketch=True)
    profile = learned.profile("box")
    assert len(profile.batches) == 1
    plan = learned.plan.drying["hours_to_target"]
    again = learning.learn(demo_batch, worlds[0].log.until(0), profile=profile, sketch=True).hours_to_target
    assert plan.mid < again.mid < learned.hours_to_target.mid
    assert np.linalg.eigvalsh(profile.spread)[0] < 0.95  # surer of something
    assert np.log(again.high / again.low) < 1.1 * np.log(plan.high / plan.low)  # though what is slow is less sure


def test_a_class_learns_together(demo_batch):
    worlds = invent(demo_batch, 3, (0, 3), seed=5)
    groups = [(replace(demo_batch, title=f"group {number}"), world.log) for number, world in enumerate(worlds)]
    profile = learning.pool(groups, members=60)
    assert len(profile.batches) == 3
    assert set(profile.names) == set(dryer_profile.KEPT) & set(profile.names)
    assert np.linalg.eigvalsh(profile.spread).max() <= 1 + 1e-9


@pytest.fixture(scope="module")
def demo_batch():
    return load_batch(Path(__file__).parents[3] / "data_demo" / "heron.toml")
