"""Two states of a dried batch: the marked piece at its stop, and the load with each piece taken out at its own weight."""

from dataclasses import replace

import numpy as np
import pytest

from flakeyard.steps.plan.plan import plan
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.paper.report import report

HERON = demo_batch("heron")
MEMBERS = 60


@pytest.fixture(scope="module")
def heron():
    return plan(HERON, members=MEMBERS)


def test_the_load_is_the_sum_of_pieces_at_their_own_weights(heron):
    """Only water leaves: what is dry in the load is what was dry as laid, and each piece keeps the same share."""
    load, laid = heron.load, heron.cured.flesh
    weights = load.masses / laid.mass
    for name in ("salt", "fat", "protein", "sugar"):
        np.testing.assert_allclose(
            getattr(load.taken_out, name), (weights * getattr(laid, name)).sum(axis=0), rtol=1e-9
        )
    np.testing.assert_allclose(load.taken_out.mass, load.done_at * load.masses.sum(axis=0), rtol=5e-3)
    assert heron.dried["yield_of_raw"].mid == pytest.approx(heron.dried["mass_kg"].mid / HERON.fish.raw_weight)


def test_what_stays_in_dries_on(heron):
    """If nothing is taken out before the marked piece is done, the load is lighter, and a portion of it saltier."""
    assert heron.drying["target_mass_kg"].mid < 0.97 * heron.dried["mass_kg"].mid
    text = " ".join(report(heron).split())
    assert "if nothing was taken out before the marked piece was done" in text
    assert "The marked piece at its stop" in text and "each piece taken out at its own weight" in text


def test_thin_pieces_bring_more_salt_than_the_marked_one(heron):
    thin, _, thick = (np.median(heron.load.pieces.salt, axis=-1)[place] for place in range(3))
    assert thin > thick
    assert heron.dried["salt_fraction"].mid > heron.marked["salt_fraction"].mid
    portion = heron.dried["salt_fraction"].mid * 1e6 * HERON.serving * 0.3934
    assert heron.dried["sodium_mg_per_serving"].mid == pytest.approx(portion, rel=1e-3)


def test_all_safety_is_read_from_the_marked_piece(heron):
    assert heron.facts.water_activity_mid == pytest.approx(heron.marked["water_activity"].mid)
    assert heron.dried["water_activity"] == heron.marked["water_activity"]


def test_pieces_of_one_size_are_the_marked_piece_over_and_over():
    cut = replace(HERON.cut, thinnest=HERON.cut.thickness, thickest=HERON.cut.thickness)
    even = plan(replace(HERON, cut=cut), members=20)
    for name in ("water_fraction", "salt_fraction"):
        assert even.dried[name].mid == pytest.approx(even.marked[name].mid, abs=1e-9)
    assert even.dried["mass_kg"].mid == pytest.approx(even.drying["target_mass_kg"].mid, rel=2e-3)


def test_a_salty_thin_piece_that_cannot_be_so_light_comes_out_with_the_marked_one():
    """Its dry matter alone weighs more than the stop: it is never there by its own weight, and not left in for ever."""
    cut = replace(HERON.cut, thinnest=0.003, thickness=0.009, thickest=0.012)
    brine = replace(HERON.brine, time=1800.0)
    salty = plan(replace(HERON, cut=cut, brine=brine, keep=replace(HERON.keep, stop_at=0.30)), members=20)
    order = [value.high for value in salty.hours_by_share.values() if value.high is not None]
    assert order == sorted(order)
    load = salty.load
    assert np.all(load.taken_out.water > 0) and np.all(
        load.taken_out.mass >= 0.99 * load.done_at * load.masses.sum(axis=0)
    )
