"""Salt transport: published values, physical direction, conservation, and refusal of impossible input."""

import csv
import importlib
import json
from importlib.resources import files

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from flakeyard.models import salt_transport as salt
from flakeyard.models import sorption

RATE = 4e-10  # m2/s, lean fish near 5 degC; any ordinary value serves these tests
HOUR = 3600.0
untimed = settings(deadline=None)


def check_rows():
    table = files("flakeyard") / "data" / "check_values" / "salt_transport.csv"
    return list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))


@pytest.mark.parametrize("row", check_rows(), ids=lambda row: row["id"])
def test_published_value(row):
    module, name = row["function"].rsplit(".", 1)
    got = getattr(importlib.import_module(f"flakeyard.{module}"), name)(**json.loads(row["inputs_json"]))
    assert got == pytest.approx(float(row["expected"]), rel=float(row["rtol"]), abs=float(row["atol"]))


# --- hypothesis: what physics allows ----------------------------------------------------------------------------------

thickness = some.floats(0.003, 0.04)
hours = some.floats(0.05, 200.0)
strength = some.floats(0.0, 0.35)
bath_ratio = some.one_of(some.floats(0.3, 30.0), some.just(np.inf))
faces = some.sampled_from([1, 2])
width = some.one_of(some.floats(0.01, 0.1), some.just(np.inf))
# The profile is kept on nodes: right after a very short soak its mean can be off by this part of the change.
NODE_ERROR = 4e-3


def soaked(thickness, faces, width, start, hours, bath_ratio, strength, rate=RATE):
    return salt.soak(salt.fresh_state(thickness, faces, width, start), hours * HOUR, rate, bath_ratio, strength)


@untimed
@given(thickness, faces, width, strength, hours, bath_ratio, strength)
def test_salt_is_neither_made_nor_lost(thickness, faces, width, start, hours, bath_ratio, strength):
    state, after = soaked(thickness, faces, width, start, hours, bath_ratio, strength)
    if np.isinf(bath_ratio):
        assert after == pytest.approx(strength, abs=1e-14)
    else:
        assert state.mean + bath_ratio * after == pytest.approx(start + bath_ratio * strength, rel=1e-12, abs=1e-13)


@untimed
@given(thickness, faces, width, strength, hours, bath_ratio, strength)
def test_mean_lies_between_start_and_bath(thickness, faces, width, start, hours, bath_ratio, strength):
    state, after = soaked(thickness, faces, width, start, hours, bath_ratio, strength)
    low, high = min(start, strength), max(start, strength)
    slack = 1e-9
    for value in (state.mean, after):
        assert low - slack <= value <= high + slack
    assert low - 1e-3 * (high - low) - slack <= state.centre <= high + 1e-3 * (high - low) + slack


@untimed
@given(thickness, faces, width, strength, hours, bath_ratio, strength, some.floats(0.9, 1.1))
def test_salt_is_kept_whatever_the_partition(thickness, faces, width, start, hours, bath_ratio, strength, partition):
    before = salt.fresh_state(thickness, faces, width, start)
    state, bath = salt.soak(before, hours * HOUR, RATE, bath_ratio, strength, partition)
    if np.isfinite(bath_ratio):
        assert state.mean + bath_ratio * bath == pytest.approx(start + bath_ratio * strength, rel=1e-12, abs=1e-13)
    cured, left = salt.dry_cure(before, hours * HOUR, RATE, 0.1, 0.358, partition)
    assert cured.mean + left == pytest.approx(start + 0.1, rel=1e-12)


@pytest.mark.parametrize("bath_ratio", [0.5, 3.0, np.inf])
@pytest.mark.parametrize("partition", [0.95, 1.03])
def test_long_soaks_end_at_the_partition(bath_ratio, partition):
    state, bath = salt.soak(salt.fresh_state(0.004, 2, ratio=0.002), 4000 * HOUR, RATE, bath_ratio, 0.2, partition)
    assert state.mean == pytest.approx(partition * bath, rel=1e-9)
    assert state.centre == pytest.approx(partition * bath, rel=1e-9)
    assert state.mean == pytest.approx(salt.equilibrium_ratio(bath_ratio, 0.2, 0.002, partition), rel=1e-9)
    cured, _ = salt.dry_cure(salt.fresh_state(0.004, 2), 4000 * HOUR, RATE, np.inf, 0.358, partition)
    assert cured.mean == pytest.approx(partition * 0.358, rel=1e-9)


@untimed
@given(thickness, faces, width, hours, bath_ratio, strength, some.floats(0.9, 1.1), some.floats(0.8, 0.99))
def test_flesh_that_takes_less_is_never_saltier(t, faces, width, hours, bath_ratio, strength, partition, less):
    raw = salt.fresh_state(t, faces, width)
    more, fewer = (
        salt.soak(raw, hours * HOUR, RATE, bath_ratio, strength, k)[0].mean for k in (partition, partition * less)
    )
    assert fewer <= more + 1e-9


@untimed
@given(thickness, faces, width, hours, bath_ratio, strength, some.floats(0.1, 0.99))
def test_weaker_brine_shorter_time_and_cold_never_salt_more(t, faces, width, hours, bath_ratio, strength, less):
    warm, cold = salt.salt_diffusivity(12.0, 0.78, 0.19, 0.02), salt.salt_diffusivity(12.0 * less, 0.78, 0.19, 0.02)
    full = soaked(t, faces, width, 0.0, hours, bath_ratio, strength, warm)[0].mean
    assert soaked(t, faces, width, 0.0, hours, bath_ratio, strength * less, warm)[0].mean <= full + 1e-9
    assert soaked(t, faces, width, 0.0, hours * less, bath_ratio, strength, warm)[0].mean <= full + 1e-9
    assert soaked(t, faces, width, 0.0, hours, bath_ratio, strength, cold)[0].mean <= full + 1e-9
    # Only with an unlimited bath: in a small one a thicker strip may be nearer its end by some 1e-5, and truly so.
    full = soaked(t, faces, width, 0.0, hours, np.inf, strength, warm)[0].mean
    assert soaked(t / less, faces, width, 0.0, hours, np.inf, strength, warm)[0].mean <= full + 1e-9


@untimed
@given(thickness, faces, width, hours, bath_ratio, some.floats(0.01, 0.35), some.floats(0.1, 0.99))
def test_freshening_is_the_reverse(t, faces, width, hours, bath_ratio, start, less):
    left = soaked(t, faces, width, start, hours, bath_ratio, 0.0)[0].mean
    assert left <= start + 1e-9
    assert soaked(t, faces, width, start, hours * less, bath_ratio, 0.0)[0].mean >= left - 1e-9
    assert soaked(t, faces, width, start, hours, bath_ratio, 0.0, RATE * less)[0].mean >= left - 1e-9
    assert soaked(t, faces, width, start, hours, bath_ratio, start * (1 - less))[0].mean >= left - 1e-9


@untimed
@given(thickness, faces, width, hours, bath_ratio, strength)
def test_even_start_agrees_with_the_closed_form(thickness, faces, width, hours, bath_ratio, strength):
    state, _ = soaked(thickness, faces, width, 0.0, hours, bath_ratio, strength)
    spread = RATE * hours * HOUR
    part = salt.strip_uptake(spread * (faces / thickness) ** 2, spread * (2.0 / width) ** 2, bath_ratio)
    ceiling = salt.equilibrium_ratio(bath_ratio, strength)
    assert state.mean == pytest.approx(part * ceiling, abs=NODE_ERROR * strength + 1e-12)


@untimed
@given(thickness, faces, width, hours, hours, some.floats(0.01, 0.3))
def test_rest_keeps_the_mean_and_closes_the_gap(thickness, faces, width, soak_hours, rest_hours, strength):
    before, _ = soaked(thickness, faces, width, 0.0, soak_hours, np.inf, strength)
    after = salt.rest(before, rest_hours * HOUR, RATE)
    assert after.mean == pytest.approx(before.mean, rel=1e-12)
    assert abs(after.centre - after.mean) <= abs(before.centre - before.mean) + 1e-3 * strength


@untimed
@given(thickness, faces, width, hours, some.floats(0.0, 0.6), strength)
def test_dry_salt_is_conserved_and_never_exceeds_the_dose(thickness, faces, width, hours, dose, start):
    state, left = salt.dry_cure(salt.fresh_state(thickness, faces, width, start), hours * HOUR, RATE, dose, 0.358)
    assert state.mean + left == pytest.approx(start + dose, rel=1e-12, abs=1e-13)
    assert 0.0 <= left <= dose + 1e-12
    assert state.mean <= max(0.358, start) + 1e-9


def test_simple_sugars_draw_as_their_molecules_and_weak_syrup_keeps_nothing_out():
    assert salt.sugar_as_salt(0.0, 1.0) / salt.sugar_as_salt(1.0) == pytest.approx(342.30 / 180.16)
    assert salt.sugar_as_salt(0.0) == 0.0 and salt.sugar_partition(0.0, 0.2) == 1.0
    falling = salt.sugar_partition(np.array([0.0, 0.1, 0.2, 0.3, 1.2]), 0.2)
    assert np.all(np.diff(falling)[:3] < 0.0) and falling[-2:] == pytest.approx(0.2)


@untimed
@given(some.floats(0.0, 0.3), some.floats(0.10, 0.18), some.floats(0.55, 0.65), some.floats(0.0, 0.1))
def test_water_held_starts_at_one_and_stays_possible(c, crossover, hold, swelling):
    assert salt.water_held(0.0, crossover, hold, swelling) == pytest.approx(1.0)
    dissolved = min(c, salt.SATURATED_STRENGTH)
    assert 0.54 < salt.water_held(dissolved, crossover, hold, swelling) < 1.15
    if c > dissolved:  # the line goes on past saturation, downwards
        assert (
            0.39 < salt.water_held(c, crossover, hold, swelling) < salt.water_held(dissolved, crossover, hold, swelling)
        )
    # At the crossover water lost and salt gained weigh the same: (1 - c) water × (1 + r) = 1.
    assert salt.water_held(crossover, crossover, hold, swelling) == pytest.approx(1.0 - crossover)


# --- chains, shapes, special cases ------------------------------------------------------------------------------------


def test_two_soaks_without_a_change_of_bath_are_one_long_soak():
    start = salt.fresh_state([0.008, 0.02], 2, 0.03, ratio=0.002)
    once, bath_once = salt.soak(start, 5 * HOUR, RATE, 2.0, 0.1)
    half, bath = salt.soak(start, 2 * HOUR, RATE, 2.0, 0.1)
    twice, bath_twice = salt.soak(half, 3 * HOUR, RATE, 2.0, bath)
    np.testing.assert_allclose(twice.values, once.values, atol=1e-9)
    np.testing.assert_allclose(bath_twice, bath_once, atol=1e-10)


def test_members_and_classes_agree_with_pieces_taken_one_by_one():
    rng = np.random.default_rng(1)
    thickness, rate = rng.uniform(0.004, 0.02, (3, 5)), rng.uniform(2e-10, 8e-10, 5)
    state, bath = salt.soak(salt.fresh_state(thickness, 2, 0.025), 4 * HOUR, rate, 1.5, 0.12)
    state, bath = salt.soak(state, HOUR, rate, 3.0, 0.0)
    for i, j in np.ndindex(3, 5):
        single, _ = salt.soak(salt.fresh_state(thickness[i, j], 2, 0.025), 4 * HOUR, rate[j], 1.5, 0.12)
        single, alone = salt.soak(single, HOUR, rate[j], 3.0, 0.0)
        assert (state.mean[i, j], state.centre[i, j], bath[i, j]) == pytest.approx(
            (single.mean, single.centre, alone), abs=1e-12
        )


def test_unlimited_and_finite_baths_may_share_one_call():
    state, bath = salt.soak(salt.fresh_state(0.01, 2), 3 * HOUR, RATE, [np.inf, 1e6, 2.0], 0.1)
    assert bath[0] == 0.1
    assert state.mean[1] == pytest.approx(state.mean[0], rel=1e-5)
    assert state.mean[2] < state.mean[0]


def test_skin_on_one_face_is_twice_the_thickness():
    skin, _ = salt.soak(salt.fresh_state(0.01, 1), 3 * HOUR, RATE, 2.0, 0.1)
    double, _ = salt.soak(salt.fresh_state(0.02, 2), 3 * HOUR, RATE, 2.0, 0.1)
    assert (skin.mean, skin.centre) == pytest.approx((double.mean, double.centre), rel=1e-12)


def test_no_time_changes_nothing():
    state = salt.soak(salt.fresh_state(0.01, 2, 0.03), HOUR, RATE, 2.0, 0.1)[0]
    after, bath = salt.soak(state, 0.0, RATE, 2.0, 0.3)
    cured, left = salt.dry_cure(state, 0.0, RATE, 0.05, 0.358)
    assert np.array_equal(after.values, state.values) and bath == 0.3
    assert np.array_equal(cured.values, state.values) and left == pytest.approx(0.05)


def test_measured_dose_ends_evenly_at_dose_over_water():
    state, left = salt.dry_cure(salt.fresh_state(0.006, 2, ratio=0.001), 400 * HOUR, RATE, 0.05, 0.358)
    assert (state.mean, state.centre, left) == pytest.approx((0.051, 0.051, 0.0), abs=1e-9)


def test_dry_salt_in_excess_is_a_bath_that_stays_saturated():
    fresh = salt.fresh_state(0.012, 2, 0.03)
    cured, left = salt.dry_cure(fresh, 6 * HOUR, RATE, np.inf, 0.358)
    soaked_state, _ = salt.soak(fresh, 6 * HOUR, RATE, np.inf, 0.358)
    np.testing.assert_allclose(cured.values, soaked_state.values, atol=1e-12)
    assert left == np.inf


def test_flesh_past_saturation_takes_up_nothing():
    state, left = salt.dry_cure(salt.fresh_state(0.01, 2, ratio=0.4), 10 * HOUR, RATE, 0.1, 0.358)
    assert (state.mean, left) == pytest.approx((0.4, 0.1), abs=1e-12)


def weight_in(brine, hours, size):
    """Of lean flesh in a kilogram of brine water for each of fish, over its weight before; ``size`` of RIM_BAND."""
    state, _ = salt.soak(salt.fresh_state(0.010, 2), 3600.0 * hours, RATE, 1.3, brine / (1.0 - brine))
    reached = state.mean / (1.0 + state.mean)
    held = salt.water_held(reached) + size * salt.water_less_while_uneven(state, brine)
    return 0.78 * held * (1.0 + state.mean) + 0.22 * salt.solids_kept(reached)


def test_in_strong_brine_fish_may_lose_first_and_regain_in_weak_brine_it_only_gains():
    """duan_2008, duan_2012 and oh_1997: weight gained in 10 % brine; from 20 % on lost, which is inside the band."""
    none, most = salt.RIM_BAND
    hours = (0.25, 0.5, 1.0, 2.0, 4.0)
    strong, weak = ([weight_in(brine, hour, most) for hour in hours] for brine in (0.20, 0.10))
    assert strong[0] < 0.997 and strong[-1] > 1.002 and np.all(np.diff(strong[1:]) > 0.0), strong
    assert np.all(np.array(weak) > 1.0) and np.all(np.diff(weak) > 0.0), weak
    assert weight_in(0.26, 1.0, most) < 0.99 < 1.0 < weight_in(0.26, 1.0, none)


@given(some.floats(0.0, 0.26), some.floats(0.0, 48.0), some.floats(0.0, 0.1))
@untimed
def test_an_uneven_piece_never_holds_more_and_an_even_one_holds_as_its_mean(brine, hours, swelling):
    fresh = salt.fresh_state(0.010, 2, 0.030, 0.02)
    state, _ = salt.soak(fresh, 3600.0 * hours, RATE, 3.0, brine / (1.0 - brine))
    assert salt.water_less_while_uneven(state, brine, swelling=swelling) <= 0.0
    assert salt.water_less_while_uneven(fresh, brine, swelling=swelling) == pytest.approx(0.0, abs=1e-12)
    if brine <= salt.STRONG_BRINE[0]:  # herring gains in brine of 16.5 %: herring_brine_gain
        assert salt.water_less_while_uneven(state, brine, swelling=swelling) == 0.0


def test_rescaling_keeps_the_salt():
    state, _ = salt.soak(salt.fresh_state(0.01, 2), 3 * HOUR, RATE, 2.0, 0.1)
    factor = np.array([0.6, 1.0, 1.3])
    np.testing.assert_allclose(state.rescaled(factor).mean * factor, state.mean, rtol=1e-12)


def test_profile_runs_from_centre_to_bath_and_averages_to_the_mean():
    state, bath = salt.soak(salt.fresh_state([0.01, 0.02], 2), 3 * HOUR, RATE, 2.0, 0.1)
    place = np.linspace(0.0, 1.0, 2001)
    line = state.profile(place)
    assert line.shape == (2, 2001)
    np.testing.assert_allclose(line[:, 0], state.centre, atol=1e-12)
    np.testing.assert_allclose(line[:, -1], bath, atol=1e-12)
    np.testing.assert_allclose(np.trapezoid(line, place), state.mean, atol=1e-7)
    assert np.ndim(state.profile(0.5)) == 1


def test_scalars_in_floats_out():
    state, bath = salt.soak(salt.fresh_state(0.01, 2), HOUR, RATE, 2.0, 0.1)
    for number in (state.mean, state.centre, bath, state.profile(0.3), salt.slab_uptake(0.1, 2.0)):
        assert isinstance(number, float)


def test_hours_to_strength_is_the_inverse_of_soaking():
    pieces = {"thickness": 0.014, "faces": 1, "width": 0.04}
    wanted = np.array([0.01, 0.03, 0.06])
    hours = salt.hours_to_strength(wanted, diffusivity=RATE, bath_ratio=2.0, bath_strength=0.12, **pieces)
    state, _ = salt.soak(salt.fresh_state(**pieces), hours * HOUR, RATE, 2.0, 0.12)
    np.testing.assert_allclose(state.mean, wanted, rtol=2e-4)


def test_hours_to_strength_says_never_and_already():
    ask = {"thickness": 0.01, "faces": 2, "diffusivity": RATE, "bath_ratio": 2.0}
    ceiling = salt.equilibrium_ratio(2.0, 0.1)
    assert salt.hours_to_strength(ceiling * 1.01, bath_strength=0.1, **ask) == np.inf
    assert salt.hours_to_strength(0.02, bath_strength=0.1, flesh_strength=0.02, **ask) == 0.0
    assert (
        salt.hours_to_strength(0.01, bath_strength=0.1, flesh_strength=0.02, **ask) == np.inf
    )  # salting, not freshening
    assert np.isfinite(salt.hours_to_strength(0.05, bath_strength=0.0, flesh_strength=0.1, **ask))
    assert salt.hours_to_strength(0.02, 0.01, 2, 0.0, 2.0, 0.1) == np.inf  # nothing moves


def test_evening_out_time_leaves_a_tenth():
    piece, _ = salt.soak(salt.fresh_state(0.015, 2), 12 * HOUR, RATE, np.inf, 0.1)  # long enough for the slowest mode
    first = salt.rest(piece, HOUR, RATE)
    later = salt.rest(first, salt.evening_out_time(0.015, 2, RATE), RATE)
    gap = [state.profile(1.0) - state.centre for state in (first, later)]
    assert gap[1] / gap[0] == pytest.approx(0.1, rel=0.02)


def test_cold_and_fat_slow_salt_down():
    rate = salt.salt_diffusivity([2.0, 10.0, 20.0], 0.78, 0.19, 0.02)
    assert np.all(np.diff(rate) > 0)
    assert np.all(np.diff(salt.salt_diffusivity(5.0, [0.80, 0.72, 0.65], [0.18, 0.20, 0.19], [0.01, 0.07, 0.15])) < 0)
    assert salt.salt_diffusivity(5.0, 0.8, 0.18, 0.01) < salt.salt_diffusivity_in_water(5.0)


def test_temperature_effect_of_the_trade():
    # Salting time shortens by 2.5 to 3.6 % per kelvin, handbook page (fish_salting_handbook_ru); time goes with 1/D.
    rate = salt.salt_diffusivity(np.array([2.0, 15.0]), 0.78, 0.19, 0.02)
    per_kelvin = np.log(rate[1] / rate[0]) / 13.0
    assert 0.025 <= per_kelvin <= 0.036


@given(some.floats(0.1, 20.0), some.floats(0.5, 96.0), some.floats(0.004, 0.03))
def test_native_solutes_leave_like_salt_but_outwards(bath_ratio, hours, thickness):
    """A third solute in the same routine: what the flesh loses the bath has, and at last both have one strength."""
    start = 0.40  # osmol per kg water
    rate = salt.native_diffusivity(5.0, 0.78, 0.19, 0.02)
    state, bath = salt.soak(salt.fresh_state(thickness, 2, ratio=start), hours * HOUR, rate, bath_ratio, 0.0)
    assert state.mean + bath_ratio * bath == pytest.approx(start, rel=1e-9)
    least = start / (1.0 + bath_ratio)
    assert least - 1e-9 <= state.mean <= start + 1e-9
    by_series = 1.0 - salt.slab_uptake(rate * hours * HOUR / (0.5 * thickness) ** 2, bath_ratio)
    assert state.mean == pytest.approx(least + (start - least) * by_series, abs=1e-4)


def test_native_solutes_are_as_slow_as_told():
    flesh = (5.0, 0.78, 0.19, 0.02)
    assert salt.native_diffusivity(*flesh) == pytest.approx(0.8 * salt.salt_diffusivity(*flesh), rel=1e-12)
    low, high = salt.NATIVE_RATIO_BAND
    assert low < salt.NATIVE_RATIO < high


@given(some.floats(0.0, 1.0), some.floats(0.1, 0.9), some.floats(0.001, 1.0))
def test_juice_takes_its_share_along_and_drink_brings_none(solute, water, after):
    left = salt.left_with_water(solute, water, after)
    assert 0.0 <= left <= solute
    if after >= water:
        assert left == solute
    elif solute > 0.0 and after > 0.0:
        assert left / after == pytest.approx(solute / water)


def test_each_soak_and_the_heating_take_some_of_the_native_solutes():
    """6 mm strips, 10 h in twice their own water at 3 °C, nearly the third that is left at last; then cooked to 0.6."""
    water, solids = 0.74, 0.19
    state = salt.fresh_state(0.006, 2, 0.025, sorption.native_osmoles(solids) / water)
    rate = salt.native_diffusivity(3.0, water, solids, 0.05)
    soaked, _ = salt.soak(state, 10 * HOUR, rate, 2.0, 0.0)
    share = sorption.native_share(soaked.mean * water, solids)
    assert 1.0 / 3.0 <= share < 0.45
    cooked = salt.left_with_water(soaked.mean * water, water, 0.6 * water)
    assert sorption.native_share(cooked, solids) == pytest.approx(0.6 * share)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: salt.slab_uptake(-0.1, 1.0), "fourier"),
        (lambda: salt.slab_uptake(0.1, 0.0), "bath_ratio"),
        (lambda: salt.slab_uptake(np.nan, 1.0), "fourier"),
        (lambda: salt.strip_uptake(0.1, -1.0, 1.0), "fourier_2"),
        (lambda: salt.fresh_state(0.0, 2), "thickness"),
        (lambda: salt.fresh_state(0.01, 3), "faces"),
        (lambda: salt.fresh_state(0.01, 2, width=[0.02, np.inf]), "width"),
        (lambda: salt.fresh_state(0.01, 2, ratio=-0.1), "ratio"),
        (lambda: salt.soak(salt.fresh_state(0.01, 2), -1.0, RATE, 1.0, 0.1), "seconds"),
        (lambda: salt.soak(salt.fresh_state(0.01, 2), 1.0, np.nan, 1.0, 0.1), "diffusivity"),
        (lambda: salt.soak(salt.fresh_state(0.01, 2), 1.0, RATE, 1.0, -0.1), "bath_strength"),
        (lambda: salt.dry_cure(salt.fresh_state(0.01, 2), 1.0, RATE, -0.1, 0.36), "dose"),
        (lambda: salt.soak(salt.fresh_state(0.01, 2), 1.0, RATE, 1.0, 0.1, 0.0), "partition"),
        (lambda: salt.equilibrium_ratio(1.0, 0.1, partition=2.0), "partition"),
        (lambda: salt.fresh_state(0.01, 2).profile(1.1), "position"),
        (lambda: salt.fresh_state(0.01, 2).rescaled(0.0), "factor"),
        (lambda: salt.salt_diffusivity(5.0, 80.0, 18.0, 1.0), "water"),
        (lambda: salt.sugar_diffusivity(5.0, 0.8, 0.18, 0.01, sugar="syrup"), "sugar"),
        (lambda: salt.sugar_as_salt(-0.1), "sucrose"),
        (lambda: salt.sugar_partition(-0.1, 0.3), "sweetness"),
        (lambda: salt.sugar_partition(0.1, 0.05), "taken"),
        (lambda: salt.water_held(20.0), "strength_fraction"),
        (lambda: salt.evening_out_time(0.01, 2, RATE, 0.0), "remaining"),
        (lambda: salt.left_with_water(-0.1, 0.7, 0.5), "solute"),
        (lambda: salt.left_with_water(0.1, 0.0, 0.5), "water"),
        (lambda: salt.left_with_water(0.1, 0.7, np.nan), "water_after"),
        (lambda: sorption.native_osmoles(0.2, -0.1), "share"),
        (lambda: sorption.native_share(0.1, 0.0), "solids"),
    ],
)
def test_impossible_input_is_refused_by_name(call, named):
    with pytest.raises(ValueError, match=rf"^{named} "):
        call()
