"""Drying: what must hold whatever the numbers, the air in a box, and what the results mean."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flakeyard import limits
from flakeyard.models import moist_air, slab_drying
from flakeyard.models.drying_chain import Chain, follow
from flakeyard.models.drying_physics import SALT_CAP, SALT_CAP_BAND, SlabInAir, salt_effect_range
from flakeyard.models.inputs import outside
from flakeyard.models.slab_drying import Air, Box, Slab, dry, hours_between

HOUR = 3600.0
ZONE, MOIST = (limits.GROWTH_BOTTOM, limits.GROWTH_TOP), limits.MOIST
TIMES = HOUR * np.linspace(0.0, 48.0, 97)
PIECE = Slab(thickness=0.008, faces=2, water=0.77, salt=0.025, fat=0.02, solids=0.185)
WARM = Air(temperature=63.0, humidity_ratio=0.0073, velocity=1.0)
DRYER = Box(
    heater=600.0, set_temperature=63.0, fresh_air=0.006, load=2.0,
    room_temperature=20.0, room_humidity_ratio=0.0073, velocity=1.0,
)  # fmt: skip

changed = dataclasses.replace


# --- what is refused


@pytest.mark.parametrize(
    ("record", "field", "value"),
    [
        (PIECE, "thickness", -0.008), (PIECE, "thickness", 0.0), (PIECE, "faces", 3), (PIECE, "water", -0.1),
        (PIECE, "salt", float("nan")), (PIECE, "solids", 0.0), (PIECE, "diffusivity", 0.0), (PIECE, "dry_end", 1.5),
        (PIECE, "gab_k", 1.0), (WARM, "temperature", 120.0), (WARM, "humidity_ratio", -0.001),
        (WARM, "pressure", 0.0), (WARM, "velocity", float("inf")), (DRYER, "load", 0.0), (DRYER, "heater", -1.0),
        (DRYER, "fresh_air", 0.0),
    ],
)  # fmt: skip
def test_impossible_input_is_refused_by_name(record, field, value):
    slab, air = (
        (changed(record, **{field: value}), WARM) if record is PIECE else (PIECE, changed(record, **{field: value}))
    )
    with pytest.raises(ValueError, match=field):
        dry(slab, air, TIMES)


@pytest.mark.parametrize("times", [[0.0, -1.0], [0.0, 0.0], [5.0, 1.0], [0.0], [[0.0, 1.0]], [0.0, float("nan")]])
def test_times_have_to_rise(times):
    with pytest.raises(ValueError, match="times"):
        dry(PIECE, WARM, times)


def test_a_negative_target_is_refused():
    with pytest.raises(ValueError, match="target"):
        dry(PIECE, WARM, TIMES, target=-0.1)


# --- ensembles


def test_shapes_follow_the_ensemble():
    slab = changed(PIECE, thickness=np.array([[0.005], [0.008], [0.011]]), diffusivity=np.array([2e-10, 3e-10]))
    result = dry(slab, WARM, TIMES, target=0.25)
    assert result.moisture.shape == result.mass_ratio.shape == result.air_temperature.shape == (3, 2, 97)
    assert result.time_to_target.shape == hours_between(result, *ZONE, MOIST).shape == (3, 2)
    assert dry(PIECE, WARM, TIMES).moisture.shape == (1, 97)


@pytest.mark.parametrize("air", [WARM, DRYER], ids=["air", "box"])
def test_a_member_does_not_feel_its_neighbours(air, monkeypatch):
    monkeypatch.setattr(slab_drying, "CHUNK", 3)
    thickness = np.array([0.003, 0.012, 0.006, 0.008, 0.02])
    together = dry(changed(PIECE, thickness=thickness), air, TIMES, target=0.3)
    for member, one in enumerate(thickness):
        alone = dry(changed(PIECE, thickness=one), air, TIMES, target=0.3)
        # slopes by small differences carry rounding that depends on the width of the arrays: 1e-8
        np.testing.assert_allclose(together.moisture[member], alone.moisture[0], rtol=1e-6)
        np.testing.assert_allclose(together.temperature[member], alone.temperature[0], rtol=1e-6)
        np.testing.assert_allclose(together.heater_energy[member], alone.heater_energy[0], rtol=1e-6)
        np.testing.assert_allclose(together.time_to_target[member], alone.time_to_target[0], rtol=1e-6)


def test_reported_moments_do_not_change_the_answer():
    few = dry(PIECE, WARM, HOUR * np.array([1.0, 10.0, 48.0]), target=0.25)
    many = dry(PIECE, WARM, TIMES, target=0.25)
    np.testing.assert_allclose(few.moisture, many.moisture[:, [2, 20, 96]], rtol=1e-12)
    np.testing.assert_allclose(few.time_to_target, many.time_to_target, rtol=1e-12)


# --- targets


def test_the_target_is_met_at_its_time():
    target = np.array([1.0, 0.5, 0.25, 0.1])
    reached = dry(PIECE, WARM, TIMES, target=target).time_to_target
    assert np.all(np.diff(reached) > 0.0)
    for goal, moment in zip(target, reached, strict=True):
        # the two solves end their steps at different moments: twice the solver's own error of 0.3 % at worst
        assert dry(PIECE, WARM, [moment]).moisture[0, 0] == pytest.approx(goal, rel=6e-3)


def test_a_target_already_met_and_one_never_met():
    result = dry(PIECE, WARM, TIMES, target=np.array([5.0, 1e-4]))
    assert result.time_to_target[0] == 0.0
    assert np.isnan(result.time_to_target[1])
    assert np.isnan(dry(PIECE, WARM, TIMES).time_to_target[0])


def test_a_target_after_the_last_moment_is_not_reached():
    late = dry(PIECE, WARM, TIMES, target=0.25).time_to_target[0]
    thin = changed(PIECE, thickness=np.array([0.008, 0.003]))  # the thin one goes along beyond the end or not
    result = dry(thin, WARM, [0.5 * late, 0.95 * late], target=0.25)
    assert np.isnan(result.time_to_target[0]) and np.isfinite(result.time_to_target[1])


def test_stopping_changes_nothing_before_the_target():
    slab = changed(PIECE, thickness=np.array([0.004, 0.008, 0.016]))
    whole, stopped = (dry(slab, WARM, TIMES, target=0.3, stop=stop) for stop in (False, True))
    np.testing.assert_allclose(stopped.time_to_target[:2], whole.time_to_target[:2], rtol=1e-4)
    assert np.isnan(stopped.time_to_target[2]) == np.isnan(whole.time_to_target[2])
    for member in range(2):
        last = np.searchsorted(TIMES, stopped.time_to_target[member])
        assert np.isfinite(stopped.moisture[member, : last + 1]).all()
        assert np.isnan(stopped.moisture[member, last + 10 :]).all()  # a step is 4 h at most, eight of the moments
        np.testing.assert_allclose(stopped.moisture[member, :last], whole.moisture[member, :last], rtol=3e-3)


# --- water and heat


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.integers(5, 40), st.floats(1.0, 2.0))
def test_what_the_layers_lose_is_what_the_surface_gives_off(seed, nodes, power):
    random = np.random.default_rng(seed)
    members = 4
    slab = changed(PIECE, thickness=random.uniform(0.002, 0.02, members), salt=random.uniform(0.0, 0.1, members))
    chain = Chain(SlabInAir(slab, WARM), nodes, power)
    state = np.hstack((random.uniform(0.02, 5.0, (members, nodes)), random.uniform(275.0, 340.0, (members, 1))))
    mean = state[:, :nodes] @ chain.width[:, None]
    leaving = chain.dryer.surface(state[:, nodes - 1 : nodes], state[:, nodes:], mean)[0] / chain.dryer.solids_per_area
    rate = chain.rates(state)
    scale = np.abs(rate[:, :nodes]) @ chain.width
    np.testing.assert_array_less(np.abs(rate[:, :nodes] @ chain.width + leaving[:, 0]), 1e-12 * scale)


def test_evaporation_over_time_is_the_loss_of_water():
    times = HOUR * np.concatenate((np.linspace(0.0, 1.0, 721), np.linspace(1.01, 24.0, 2300)))
    result = dry(PIECE, WARM, times, tolerance=1e-5, longest_step=300.0)
    dryer, share = result.dryer, result.dryer.solids_share
    leaving = (
        dryer.surface(result.surface / share, result.temperature + 273.15, result.moisture / share)[0]
        / dryer.solids_per_area
        * share
    )
    given_off = np.trapezoid(leaving, times, axis=1)
    # a trapezoid rule over steps of 5 and 36 s: 1e-4 of the loss
    assert given_off[0] == pytest.approx(result.moisture[0, 0] - result.moisture[0, -1], rel=3e-4)


def test_mass_ratio_is_one_minus_the_water_lost():
    result = dry(PIECE, WARM, TIMES)
    dry_matter = 1.0 - PIECE.water
    np.testing.assert_allclose(result.mass_ratio, dry_matter * (1.0 + result.moisture), rtol=1e-12)
    assert result.mass_ratio[0, 0] == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(("temperature", "ratio"), [(63.0, 0.0073), (35.0, 0.010), (75.0, 0.015)])
def test_a_freely_wet_piece_sits_at_the_wet_bulb(temperature, ratio):
    """While the surface is wet and nothing radiates, the piece is a wet-bulb thermometer (moist_air.wet_bulb)."""
    wet = changed(PIECE, thickness=0.02, salt=0.0, solids=0.21, diffusivity=1e-7, start_temperature=20.0)
    air = Air(temperature, ratio, velocity=1.0, radiation=0.0)
    piece = dry(wet, air, HOUR * np.array([0.5, 1.0, 1.5])).temperature[0, 1]
    # 0.8 K: a wet surface is not an adiabatic saturator (Lewis number 0.87) and its water activity is 0.99
    assert piece == pytest.approx(moist_air.wet_bulb(temperature, ratio), abs=0.8)


def test_a_piece_in_balance_stays_as_it_is():
    """The end of drying is the isotherm at the air's own relative humidity."""
    air = Air(40.0, moist_air.humidity_ratio(40.0, 0.5), 1.0)
    thin = changed(PIECE, thickness=0.002, salt=0.0, solids=0.21)
    result = dry(thin, air, HOUR * np.linspace(1.0, 480.0, 50))
    share = result.dryer.solids_share
    activity = result.dryer.isotherm.water_activity(result.moisture[:, -1:] / share, 40.0)
    assert activity[0, 0] == pytest.approx(0.5, abs=2e-3)
    assert result.temperature[0, -1] == pytest.approx(40.0, abs=0.02)


# --- the box


def test_a_box_with_endless_air_and_heat_is_constant_air():
    endless = changed(DRYER, heater=np.inf, fresh_air=np.inf)
    room_air = dry(PIECE, endless, TIMES, target=0.25)
    constant = dry(PIECE, WARM, TIMES, target=0.25)
    np.testing.assert_allclose(room_air.moisture, constant.moisture, rtol=1e-5)
    np.testing.assert_allclose(room_air.air_humidity_ratio, 0.0073, rtol=1e-5)
    assert np.isnan(constant.heater_energy).all() and np.isfinite(room_air.heater_energy).all()


def test_an_overloaded_box_runs_cooler_and_wetter_and_later():
    result = dry(PIECE, changed(DRYER, load=np.array([0.5, 1.0, 2.0, 4.0, 8.0])), TIMES, target=0.3)
    assert np.all(np.diff(result.air_temperature[:, 1:9], axis=0) < 1e-9)
    assert np.all(np.diff(result.air_humidity_ratio[:, 2:9], axis=0) > 0.0)
    assert result.air_temperature[-1, 4] < 50.0 < result.air_temperature[0, 4] <= 63.0
    late = np.where(np.isnan(result.time_to_target), np.inf, result.time_to_target)
    assert np.all(np.diff(late[np.isfinite(late)]) > 0.0)


def test_the_thermostat_is_never_passed_and_the_heater_never_exceeded():
    result = dry(PIECE, changed(DRYER, heater=np.array([100.0, 300.0, 600.0, 2000.0])), TIMES)
    assert result.air_temperature.max() <= 63.0 + 1e-9
    power = np.diff(result.heater_energy, axis=1) / np.diff(TIMES)
    assert np.all(power >= -1e-9) and np.all(power.max(axis=1) <= np.array([100.0, 300.0, 600.0, 2000.0]) * (1 + 1e-9))


def test_fresh_air_carries_off_the_water_that_the_load_loses():
    times = HOUR * np.concatenate((np.linspace(0.0, 1.0, 241), np.linspace(1.05, 48.0, 940)))
    result = dry(PIECE, DRYER, times, tolerance=1e-5, longest_step=600.0)
    carried = np.trapezoid(DRYER.fresh_air * (result.air_humidity_ratio - 0.0073), times, axis=1)
    lost = DRYER.load * (result.mass_ratio[:, 0] - result.mass_ratio[:, -1])
    np.testing.assert_allclose(carried, lost, rtol=1e-3)  # trapezoid rule over steps of 15 and 180 s


def test_the_heater_pays_for_air_walls_and_evaporation():
    times = HOUR * np.concatenate((np.linspace(0.0, 1.0, 241), np.linspace(1.05, 48.0, 940)))
    result = dry(PIECE, DRYER, times, tolerance=1e-5, longest_step=600.0)
    losses = DRYER.fresh_air * (1006.0 + 1860.0 * 0.0073) + DRYER.wall_loss
    to_room = np.trapezoid(losses * (result.air_temperature - 20.0), times, axis=1)
    lost = DRYER.load * (result.mass_ratio[:, 0] - result.mass_ratio[:, -1])
    to_fish = result.heater_energy[:, -1] - to_room
    # per kg of water: 2.39 MJ to evaporate at 45 degC (coolprop_water), 0.17 to warm it from 5 degC, 0.03 for the flesh
    # left behind, 0.02 to 0.10 for sorption
    assert 2.55e6 < to_fish[0] / lost[0] < 2.75e6


def test_the_usual_piece_sets_the_area_of_the_load():
    thickest = changed(PIECE, thickness=0.012)
    by_itself, among_thin = (dry(thickest, changed(DRYER, load_thickness=x), TIMES) for x in (None, 0.006))
    assert among_thin.air_humidity_ratio[0, 2] > by_itself.air_humidity_ratio[0, 2]
    doubled = dry(thickest, changed(DRYER, load_thickness=0.012, load=2.0), TIMES)
    np.testing.assert_allclose(doubled.moisture, by_itself.moisture, rtol=1e-12)


# --- hours in a window


def test_hours_are_those_counted_minute_by_minute():
    fine = dry(PIECE, WARM, HOUR * np.linspace(0.0, 24.0, 1441))
    inside = (fine.temperature >= 30.0) & (fine.temperature <= 50.0) & (fine.centre_water_activity >= MOIST)
    coarse = dry(PIECE, WARM, HOUR * np.linspace(0.0, 24.0, 97))
    assert hours_between(fine, 30.0, 50.0, MOIST)[0] == pytest.approx(inside.sum() / 60.0, abs=0.05)
    # straight lines over a quarter of an hour
    assert hours_between(coarse, 30.0, 50.0, MOIST)[0] == pytest.approx(inside.sum() / 60.0, abs=0.1)


@settings(max_examples=20, deadline=None)
@given(st.floats(5.0, 62.0), st.floats(0.3, 0.95), st.floats(0.0, 50.0))
def test_hours_of_two_windows_add_up(middle, limit, until):
    result = test_hours_of_two_windows_add_up.result
    parts = hours_between(result, 0.0, middle, limit, until * HOUR) + hours_between(
        result, middle, 70.0, limit, until * HOUR
    )
    whole = hours_between(result, 0.0, 70.0, limit, until * HOUR)
    np.testing.assert_allclose(parts, whole, atol=1e-9)
    assert np.all(whole <= min(until, 48.0) + 1e-9)


test_hours_of_two_windows_add_up.result = dry(changed(PIECE, thickness=np.array([0.004, 0.008, 0.012])), WARM, TIMES)


def test_hours_not_followed_are_not_known():
    stopped = dry(PIECE, WARM, TIMES, target=0.3, stop=True)
    assert np.isnan(hours_between(stopped, *ZONE, MOIST)[0])
    known = hours_between(stopped, *ZONE, MOIST, until=stopped.time_to_target)
    whole = hours_between(dry(PIECE, WARM, TIMES), *ZONE, MOIST, until=stopped.time_to_target)
    np.testing.assert_allclose(known, whole, rtol=1e-2)
    assert known[0] > 1.0


def test_a_wet_strip_in_hot_air_is_not_hot():
    """Warm air is no kill step: hours pass below 54 degC while the centre is moist (the reason for heating first)."""
    result = dry(PIECE, WARM, TIMES)
    assert result.temperature[0, 2] < 45.0
    assert hours_between(result, 0.0, 54.0, MOIST)[0] > 3.0


# --- directions, over the ranges the parameters are said to have

pieces = st.fixed_dictionaries(
    {
        "thickness": st.floats(0.002, 0.024),
        "faces": st.sampled_from([1, 2]),
        "water": st.floats(0.5, 0.85),
        "salt": st.one_of(st.just(0.0), st.floats(0.0, 0.08)),
        "fat": st.floats(0.0, 0.2),
        "diffusivity": st.floats(1.5e-10, 5e-10),
        "activation": st.floats(30e3, 60e3),
        "dry_end": st.floats(0.1, 0.4),
        "protein_factor": st.floats(0.8, 1.25),
        "gab_k": st.floats(0.96, 0.995),
    }
)
airs = st.tuples(st.floats(20.0, 80.0), st.floats(0.05, 0.6), st.floats(0.2, 5.0))


def slab_of(numbers, **changes):
    share = 1.0 - numbers["water"]  # what is not water, shared so that some solids are left
    parts = {"salt": min(numbers["salt"], 0.4 * share), "fat": min(numbers["fat"], 0.4 * share)}
    return Slab(**{**numbers, **parts, "solids": share - sum(parts.values()), "start_temperature": 20.0, **changes})


def air_of(conditions):
    temperature, humidity, velocity = conditions
    return Air(temperature, min(moist_air.humidity_ratio(temperature, humidity), 0.014), velocity)


def hours(slab, air, moisture):
    reached = dry(slab, air, HOUR * np.linspace(0.0, 96.0, 13), target=moisture).time_to_target
    return np.where(np.isnan(reached), np.inf, reached)


SLACK = 1.003  # the solver's own error in time, 0.3 %


@settings(max_examples=40, deadline=None)
@given(pieces, airs, st.floats(0.15, 1.0))
def test_thicker_one_faced_slower_flesh_never_dries_sooner(numbers, conditions, moisture):
    thickness, faces, rate = numbers["thickness"], numbers["faces"], numbers["diffusivity"]
    slab = slab_of(
        numbers,
        thickness=thickness * np.array([1.0, 1.2, 1.0, 1.0]),
        faces=np.array([faces, faces, 1, faces]),
        diffusivity=rate * np.array([1.0, 1.0, 1.0, 0.8]),
    )
    usual, *slower = hours(slab, air_of(conditions), moisture)
    assert all(usual <= one * SLACK for one in slower)


@settings(max_examples=40, deadline=None)
@given(pieces, airs, st.floats(0.15, 1.0), st.floats(1.0, 15.0))
def test_cooler_air_never_dries_sooner(numbers, conditions, moisture, cooler):
    air = air_of(conditions)
    usual, cool = hours(slab_of(numbers), changed(air, temperature=air.temperature - np.array([0.0, cooler])), moisture)
    assert usual <= cool * SLACK


@settings(max_examples=40, deadline=None)
@given(pieces, airs, st.floats(0.15, 1.0), st.floats(1.0, 1.5))
def test_moister_air_dries_at_most_a_little_sooner(numbers, conditions, moisture, moister):
    """Moister air also makes the piece warmer, and warm flesh lets water through faster: 2 % sooner could be physics."""
    air = air_of(conditions)
    ratio = air.humidity_ratio * np.array([1.0, moister])
    usual, moist = hours(slab_of(numbers), changed(air, humidity_ratio=ratio), moisture)
    assert usual <= moist * 1.02 * SLACK


@settings(max_examples=60, deadline=None)
@given(pieces, airs)
def test_results_are_finite_and_in_order(numbers, conditions):
    result = dry(slab_of(numbers), air_of(conditions), TIMES)
    assert all(
        np.isfinite(values).all() for values in (result.moisture, result.surface, result.centre, result.temperature)
    )
    start = result.moisture[0, 0]
    slack = 2e-3 * start
    assert np.all(np.diff(result.moisture) <= slack) and result.moisture.min() > 0.0
    # 20 degC as laid is above the dew point of all these airs, so no dew: wettest in the middle
    assert np.all(result.surface <= result.centre + slack)
    assert np.all((result.moisture <= result.centre + slack) & (result.surface <= result.moisture + slack))
    assert result.temperature.max() <= max(conditions[0], 20.0) + 0.5 and result.temperature.min() > 0.0


# --- the salt plateau


def test_steps_do_not_creep_round_the_corner_of_the_plateau():
    """Air that holds the surface at the kink of a salted isotherm: steps stay as few as anywhere else."""
    humid = np.linspace(0.70, 0.76, 241)
    air = Air(17.3, moist_air.humidity_ratio(17.3, humid), 1.0, film_factor=3.0)
    slab = Slab(0.0047, 2, water=0.695, salt=0.017, fat=0.127, solids=0.161, diffusivity=1.2e-10, activation=56e3)
    track = follow(SlabInAir(slab, air), TIMES, np.full(241, -1.0), False, 17, 1.5, 6e-4, 7200.0)
    assert track.time.shape[1] < 200


@pytest.mark.parametrize("salt", [0.004, 0.017, 0.05])
@pytest.mark.parametrize("native", [0.1, 1.0])
def test_short_plateaus_do_not_make_steps_creep(salt, native):
    """Raw fish has salt enough for a short plateau: its corners lie close together, and both sides of it are steep."""
    humid = np.linspace(0.70, 0.77, 71)
    air = Air(45.0, moist_air.humidity_ratio(45.0, humid), 1.0, film_factor=3.0)
    slab = Slab(
        0.0047, 2, water=0.695, salt=salt, fat=0.127, solids=0.178 - salt,
        diffusivity=1.2e-10, activation=56e3, native=native,
    )  # fmt: skip
    track = follow(SlabInAir(slab, air), 2.0 * TIMES, np.full(71, -1.0), False, 17, 1.5, 6e-4, 7200.0)
    assert track.time.shape[1] < 200


@pytest.mark.parametrize("cap", [0.04, 0.10])
def test_salt_slows_drying_up_to_its_cap_and_no_further(cap):
    salts = np.array([0.02, cap, cap + 0.02, 0.19])
    slab = Slab(0.008, 2, water=0.60, salt=salts, fat=0.02, solids=0.38 - salts, salt_cap=cap)
    rate = SlabInAir(slab, WARM).rate[:, 0]
    assert rate[1] / rate[0] == pytest.approx(np.exp(-0.10 * 100.0 * (cap - 0.02)), rel=1e-12)
    np.testing.assert_allclose(rate[1:], rate[1], rtol=1e-12)


def test_more_than_ten_per_cent_salt_is_outside_what_was_tested():
    assert outside(salt_effect_range, salt=0.10) == ()
    assert "outside the tested" in outside(salt_effect_range, salt=0.12)[0]
    assert "not known" in outside(salt_effect_range, salt=None)[0]
    low, high = SALT_CAP_BAND
    assert low < SALT_CAP < high == salt_effect_range.bounds["salt"][1]


def test_native_solutes_lost_let_the_end_of_drying_go_faster():
    """Fewer solutes hold less water back: the surface stays moister at the same moisture, and the piece dries sooner."""
    hours = dry(changed(PIECE, native=np.array([0.0, 0.5, 1.0])), WARM, TIMES, target=0.15).time_to_target
    assert np.all(np.diff(hours) > 0.0)
