"""Stopping by the scale: what pieces and trays weigh at a moment, water inside, evening out."""

from dataclasses import replace

import numpy as np
import pytest

from flakeyard.steps.intent.batch_file import with_typed
from flakeyard.steps.plan import plan as batch
from flakeyard.steps.plan import weighing
from flakeyard.workbook.own import demo_batch

HERON = demo_batch("heron")
DAMP = with_typed(with_typed(HERON, "dryer", temperature="22 °C"), "room", temperature="22 °C", relative_humidity=95)


@pytest.fixture(scope="module")
def plan():
    return batch.plan(HERON, members=20)


@pytest.fixture(scope="module")
def never():
    return batch.plan(DAMP, members=20)


def test_when_done_agrees_with_the_plan(plan):
    done = weighing.when_done(plan)
    assert done.hours == plan.drying["hours_to_target"]
    assert done.left["thickest"].mid == pytest.approx(plan.drying["mass_ratio"].mid, abs=2e-3)
    assert done.activity.mid == pytest.approx(plan.dried["water_activity"].mid, abs=3e-3)
    load = plan.drying["target_mass_kg"].mid / plan.salted["mass_kg"].mid
    assert done.left["tray"].mid == pytest.approx(load, rel=0.03)  # a median of shares, not a share of medians


def test_thin_pieces_run_ahead_and_the_tray_lies_between(plan):
    left = weighing.when_done(plan).left
    assert left["thinnest"].mid < left["usual"].mid < left["tray"].mid < left["thickest"].mid


@pytest.mark.parametrize("share", [0.5, 0.6, 0.8])
def test_a_tray_that_weighs_right_hides_a_thick_piece_that_does_not(plan, share):
    moment = weighing.when_tray_weighs(plan, share)
    assert moment.left["tray"].mid == pytest.approx(share, abs=1e-6)
    assert moment.left["thickest"].mid > share + 0.02


def test_a_lighter_tray_is_later_and_drier(plan):
    early, late = (weighing.when_tray_weighs(plan, share) for share in (0.7, 0.5))
    assert early.hours.mid < late.hours.mid and early.activity.mid > late.activity.mid + 0.01


def test_what_is_never_reached_is_not_known(plan, never):
    for moment in (weighing.when_done(never), weighing.when_tray_weighs(plan, 0.05)):
        bands = (moment.hours, moment.activity, *moment.left.values())
        assert all(band.mid is None and band.high is None for band in bands)
    assert np.isnan(weighing.water_inside(never.load)).all()


@pytest.mark.parametrize("left", [-0.1, 1.2, np.nan])
def test_an_impossible_share_is_refused(plan, left):
    with pytest.raises(ValueError, match="left"):
        weighing.when_tray_weighs(plan, left)


def test_water_lies_in_the_middle_and_means_what_the_plan_means(plan):
    face, mean, middle = weighing.water_inside(plan.load)
    assert 0 < face < mean < middle < 0.75
    assert mean == pytest.approx(plan.marked["water_fraction"].mid, abs=0.01)


def test_evening_out_is_the_time_in_which_a_closed_slab_evens_out(plan):
    """Followed step by step on a fine grid: a slab with both faces closed, its difference a cosine, the slowest mode."""
    hours = weighing.evening_out(plan.load, 20.0)
    dryer = plan.load.result.dryer.take(slice(-20, None))
    moisture = plan.load.dried.water / (plan.load.dried.solids + plan.load.dried.sugar)
    rate = (dryer.warmth(293.15) * dryer.slowing(moisture[:, None]))[0, 0]
    x = (np.arange(200) + 0.5) / 200
    profile, step = np.cos(np.pi * x), 0.4 / 200**2 / rate
    for _ in range(round(3600 * hours[0] / step)):
        padded = np.pad(profile, 1, mode="edge")
        profile = profile + rate * step * 200**2 * (padded[2:] - 2 * profile + padded[:-2])
    assert profile[0] == pytest.approx(0.1 * np.cos(np.pi * x[0]), rel=0.01)


def test_evening_out_is_slower_in_the_cold_longer_to_less_and_with_the_square_of_the_way(plan):
    warm, cold = (weighing.evening_out(plan.load, degrees) for degrees in (20.0, 4.0))
    assert np.all(cold > warm) and np.all(warm > 0)
    further = weighing.evening_out(plan.load, 20.0, remaining=0.01)
    assert further == pytest.approx(2 * warm, rel=1e-9)
    dryer = plan.load.result.dryer
    twice = dryer._with({**dryer.columns, "rate": dryer.columns["rate"] / 4})
    thick = replace(plan.load, result=replace(plan.load.result, dryer=twice))
    assert weighing.evening_out(thick, 20.0) == pytest.approx(4 * warm, rel=1e-9)


def test_evening_out_refuses_what_cannot_be(plan):
    with pytest.raises(ValueError, match="temperature"):
        weighing.evening_out(plan.load, 120.0)
    with pytest.raises(ValueError, match="remaining"):
        weighing.evening_out(plan.load, 20.0, remaining=0.0)
