"""Choosing a cut: what is read off one solve agrees with the whole plan, and moves the way thickness, fat and faces move it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some

from flakeyard import tables
from flakeyard.steps.intent.batch_file import with_typed
from flakeyard.steps.intent.spread import Draws
from flakeyard.steps.plan import cutting
from flakeyard.steps.plan import plan as batch
from flakeyard.workbook.own import demo_batch

HERON = with_typed(
    with_typed(demo_batch("heron"), "cut", thickness="6 mm", thinnest="5 mm", thickest="8 mm"),
    "dryer",
    temperature="63 °C",
)


@pytest.fixture(scope="module")
def cuts():
    return {faces: cutting.study_cuts(HERON, faces) for faces in (1, 2)}


@pytest.mark.parametrize(("thickness", "thicker"), [(0.004, 0.0), (0.006, 0.3), (0.010, 0.5)])
def test_agrees_with_the_whole_plan_of_the_same_pieces(thickness, thicker):
    """Unsalted, since a plan cures thick pieces by themselves and so a little less salty; in paper, since the fish dry
    enough for a jar is never reached by some, and reading between endless hours is rough. 3 %: reading between knots."""
    sizes = {"thickness": thickness, "thinnest": thickness, "thickest": thickness * (1 + thicker)}
    plain = replace(HERON, brine=None, cut=replace(HERON.cut, **sizes), keep=replace(HERON.keep, pack="paper"))
    hours = np.quantile(batch.plan(plain, cutting.MEMBERS, sketch=True).load.hours, (0.1, 0.5))
    low, mid, _ = cutting.study_cuts(plain).hours_for(thickness, thicker)[:, 0]
    assert (low, mid) == pytest.approx(hours, rel=0.03)


def test_agrees_with_the_plan_of_the_salted_batch_at_its_own_thickness(cuts):
    even = replace(HERON, cut=replace(HERON.cut, thinnest=0.006, thickest=0.006))
    hours = batch.plan(even, cutting.MEMBERS, sketch=True).drying["hours_to_target"]
    assert cuts[2].hours_for(0.006)[:, 0] == pytest.approx((hours.low, hours.mid, hours.high), rel=0.03)


def test_one_open_face_is_like_twice_the_thickness(cuts):
    """The way of the water is the same (crank_1975: half thickness with two faces); the load in the box differs a little."""
    one, two = cuts[1].hours_for([0.004, 0.006])[1], cuts[2].hours_for([0.008, 0.012])[1]
    assert one == pytest.approx(two, rel=0.10)


def test_hours_rise_with_thickness_and_percentiles_are_in_order(cuts):
    thickness = np.linspace(0.003, 0.015, 80)
    for study in cuts.values():
        low, mid, high = study.hours_for(thickness, 0.3)
        known = np.isfinite(high)
        assert known.sum() >= 8 and np.all(np.diff(mid[known]) > 0)
        assert np.all(low[known] < mid[known]) and np.all(mid[known] < high[known])


def test_twice_as_thick_lies_between_twice_and_four_times(cuts):
    """Four times where only the inside counts (the time of diffusion grows with the square of the way, crank_1975)."""
    thin, thick = cuts[2].hours_for([0.006, 0.012])[1]
    assert 2.0 < thick / thin < 4.0


def test_beyond_two_days_is_endless_not_a_number(cuts):
    slabs = cutting.study_cuts(replace(HERON, cut=replace(HERON.cut, form="split")), 1)
    assert np.isinf(slabs.hours_for(0.015, 0.6)).all()
    assert np.isfinite(cuts[1].hours_for(0.003)).all()
    assert cuts[1].middle_hours(0.015, 0.6) == np.inf and cuts[2].middle_hours(0.006) == cuts[2].hours_for(0.006)[1, 0]


def test_fat_takes_longer_and_leaves_more():
    lean, oily = (
        cutting.study_cuts(with_typed(HERON, "fish", species="Atlantic herring", fat=fat)) for fat in (4.5, 22)
    )
    assert oily.hours_for(0.006)[1] > lean.hours_for(0.006)[1]
    assert oily.weight_left.mid > lean.weight_left.mid


def test_parts_close_before_and_after_drying(cuts):
    study = cuts[2]
    assert study.raw.mass == pytest.approx(1.0, abs=1e-9)
    assert np.all(study.dried.mass < 0.75) and np.all(study.dried.water < study.raw.water)
    assert study.dried.fat == pytest.approx(study.raw.fat, rel=1e-9)  # no fat leaves in brine, heat or air


def test_tray_area_of_a_kilogram(cuts):
    """Flesh of about 1060 kg/m3 (choi_okos_1986): a kilogram 6 mm thick covers about 0.157 m2."""
    assert cuts[2].tray_area(0.006) == pytest.approx(1 / (1060 * 0.006), rel=0.01)
    assert cuts[2].tray_area(0.012) == pytest.approx(cuts[2].tray_area(0.006) / 2)


def test_one_cut_is_read_off_the_same_solve(cuts):
    one = cutting.one_cut(cuts[2], "trout", HERON.fish.record, 2, 0.006, 0.3)
    assert (one.seconds.low, one.seconds.mid, one.seconds.high) == tuple(3600 * cuts[2].hours_for(0.006, 0.3)[:, 0])
    assert np.interp(0.006, cutting.ACROSS, one.mid) == pytest.approx(one.seconds.mid / 3600, rel=1e-6)
    assert sum(one.raw) == pytest.approx(1.0, abs=0.005)
    assert sum(one.dried) == pytest.approx(one.weight_left.mid, rel=0.02)  # each part is a median of its own
    assert one.tested and not cutting.one_cut(cuts[2], "trout", None, 2, 0.012, 0.3).tested


def test_a_cut_of_a_fish_without_species_may_form_histamine_for_all_we_know(cuts):
    assert cutting.one_cut(cuts[2], "some fish", None, 2, 0.006, 0.0).histamine_former is None
    herring = cutting.one_cut(cuts[2], "herring", tables.species("herring_atlantic"), 2, 0.006, 0.0)
    assert herring.histamine_former is True


def test_repeated_draws_are_the_small_ensemble_again_and_again():
    small, again = Draws(5).normal("water", 0, 1), cutting.Repeated(15, blocks=3).normal("water", 0, 1)
    np.testing.assert_array_equal(again, np.tile(small, 3))


@given(at=some.floats(0.003, 0.015), power=some.floats(-1.0, 2.2))
def test_reading_between_knots_is_exact_for_a_power_of_thickness(at, power):
    hours = 5.0 * (cutting.KNOTS / 0.006) ** power * np.ones((3, 1))
    study = cutting.Cuts(None, None, hours[..., None], "refrigerator")
    expected = 5.0 * (at / 0.006) ** power
    assert study.hours_for(at)[1, 0] == pytest.approx(expected if expected <= cutting.LONGEST else np.inf, rel=1e-6)


def test_chum_salmon_dried_in_the_table_follows_from_the_raw_one():
    """usda_sr28: chum salmon raw (NDB 15079) and dried (NDB 35171). Protein and ash to 3 % or to rounding; fat is of
    another fish and may differ by half (the spread of fat between fish of a kind, see the species table)."""
    raw, dried = tables.species("salmon_chum"), next(r for r in tables.dried_products() if r.id == "salmon_chum_dried")
    protein, fat, ash = cutting.with_less_water(raw.water, raw.protein, raw.fat, raw.ash, dried.water_g / 100)
    assert 100 * protein == pytest.approx(dried.protein_g, rel=0.03)
    assert 100 * ash == pytest.approx(dried.ash_g, rel=0.05)
    assert 100 * fat == pytest.approx(dried.fat_g, rel=0.5)
