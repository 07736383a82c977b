"""Moisture through a pack, the mould clock and the rancidity clock."""

import csv
from importlib.resources import files

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flakeyard.models import keeping, moist_air, sorption

DAY = keeping.DAY
FLESH = {"salt": 0.01, "fat": 0.02, "solids": 0.15}  # kg in a pack


def course(activity, humidity, conductance=3e-9, nodes=60, **changes):
    parts = FLESH | changes
    water = sorption.water_for(activity, parts["salt"], parts["fat"], parts["solids"])
    return keeping.moisture_course(np.array([water]), **parts, humidity=humidity, conductance=conductance, nodes=nodes)


def test_many_small_steps_give_the_closed_form():
    """labuza_1988: a straight isotherm step by step against its closed form."""
    dry, slope, room, flow = 0.2, 0.35, 0.75, 2.8e-9
    activity = np.linspace(0.55, 0.70, 7)
    by_pieces = keeping.passage_seconds(dry * slope * activity, activity, room, flow)[-1]
    closed = keeping.straight_isotherm_seconds(slope * 0.55, slope * 0.70, slope * 0.75, slope, dry, flow)
    assert by_pieces == pytest.approx(closed, rel=1e-12)
    time, step, now = 0.0, 200.0, 0.55  # and by brute force
    while now < 0.70:
        now += step * flow * (room - now) / (dry * slope)
        time += step
    assert closed == pytest.approx(time, rel=1e-3)


def test_a_curved_isotherm_against_brute_force():
    times, activity = course(0.60, 0.80)
    water = sorption.water_for(0.60, *FLESH.values())
    grid = np.linspace(0.5, 0.8, 3001)
    held = sorption.water_for(grid, *FLESH.values())
    now, time, step = float(water), 0.0, 2000.0
    while np.interp(now, held, grid) < 0.72:
        now += step * 3e-9 * (0.80 - np.interp(now, held, grid))
        time += step
    assert np.interp(0.72, activity[0], times[0]) == pytest.approx(time, rel=5e-3)


def test_the_film_value_crosses_over_to_another_temperature():
    """Without an activation energy only the vapour pressure is left: 1.33 from 30 to 35 °C (psychrometric tables)."""
    at = [keeping.film_permeance(1e-7, t, 0.0) * moist_air.saturation_pressure(t) for t in (30.0, 35.0)]
    assert at[1] / at[0] == pytest.approx(1.33, abs=0.01)
    assert keeping.film_permeance(1e-7, 38.0, 33e3) == pytest.approx(keeping.film_permeance(1e-7, 38.0, 0.0))


def test_a_leak_at_test_conditions_is_the_leak():
    """1 g a day against dry air at 38 °C and 90 % is 1/0.9 g a day for a full difference of water activity."""
    leak = 1e-3 / DAY
    assert keeping.pack_conductance(0.0, 0.0, 38.0, leak) == pytest.approx(leak / 0.9)


def test_fish_in_balance_with_the_room_stays_as_it_is():
    times, activity = course(0.65, 0.65)
    assert activity[0] == pytest.approx(0.65, abs=1e-3)
    assert times.shape == activity.shape


def test_a_dry_room_dries_and_a_damp_room_wets():
    for humidity, sign in ((0.4, -1.0), (0.8, 1.0)):
        times, activity = course(0.65, humidity)
        assert np.all(sign * np.diff(activity[0]) >= -1e-9)
        assert np.all(np.diff(times[0]) >= 0.0) and activity[0, -1] == pytest.approx(humidity, abs=2e-3)


def test_salted_fish_waits_on_the_plateau():
    """Salt takes up water at 0.753 before the fish gets any damper: more salt, a longer wait (appelo_2015 for 0.753)."""
    waits = []
    for salt in (0.01, 0.03):
        times, activity = course(0.70, 0.85, salt=salt)
        waits.append(np.interp(0.77, activity[0], times[0]) - np.interp(0.74, activity[0], times[0]))
    assert waits[1] > 2.0 * waits[0]


@settings(max_examples=40, deadline=None)
@given(st.floats(0.3, 0.9), st.floats(0.2, 0.95), st.floats(0.0, 0.05), st.floats(1.1, 5.0))
def test_a_leakier_pack_is_quicker_in_proportion(activity, humidity, salt, factor):
    slow, _ = course(activity, humidity, 1e-9, salt=salt)
    fast, _ = course(activity, humidity, 1e-9 * factor, salt=salt)
    known = np.isfinite(slow)
    assert np.array_equal(known, np.isfinite(fast))
    assert fast[known] * factor == pytest.approx(slow[known], rel=1e-9)


def test_mould_is_dated_on_the_cautious_side_and_closes_in_with_more_points():
    coarse, fine = (float(keeping.mould_clock_days(*course(0.6, 0.8, nodes=n), 25.0)[0]) for n in (60, 1000))
    assert fine * 0.95 < coarse <= fine


def test_mould_at_a_constant_water_activity_is_the_line_halved():
    for activity, temperature in ((0.75, 21.0), (0.80, 27.0), (0.85, 30.0)):
        clock = keeping.mould_clock_days([0.0, 1e12], [activity, activity], temperature)
        assert clock == pytest.approx(0.5 * keeping.mould_free_days(activity, temperature))


def test_the_parts_of_two_spells_are_added():
    """Half the life at 0.80, then the rest at 0.75."""
    at_80, at_75 = (0.5 * keeping.mould_free_days(activity, 21.0) for activity in (0.80, 0.75))
    change = 0.5 * at_80 * DAY
    clock = keeping.mould_clock_days([0.0, change, change], [0.80, 0.80, 0.75], 21.0)
    assert clock == pytest.approx(0.5 * at_80 + 0.5 * at_75)


def test_no_mould_below_its_driest():
    """wflo_dried_fish: a few moulds grow at 65 % humidity."""
    assert keeping.mould_free_days(0.649, 25.0) == np.inf
    assert keeping.mould_clock_days([0.0, np.inf], [0.6, 0.6], 25.0) == np.inf


def test_the_mould_line_against_salted_fish():
    """At 0.75 and 30 °C: dried salted sardine 28 days (sophonphong_1991), pink salt cod 24–27 (lorentzen_2015), both
    read; the line is from cakes, so a factor of two is all it can be asked for."""
    for observed in (24.0, 28.0):
        assert observed / 2.0 < keeping.mould_free_days(0.75, 30.0) < observed * 2.0


@settings(max_examples=100, deadline=None)
@given(st.floats(0.5, 1.0), st.floats(0.0, 0.3), st.floats(-10.0, 40.0), st.floats(0.0, 20.0))
def test_damper_or_warmer_is_never_longer_free_of_mould(activity, damper, temperature, warmer):
    base = keeping.mould_free_days(activity, temperature)
    assert keeping.mould_free_days(min(1.0, activity + damper), temperature) <= base
    assert keeping.mould_free_days(activity, temperature + warmer) <= base * (1 + 1e-12)


def rancid_rows():
    text = files("flakeyard").joinpath("data/rancidity.csv").read_text(encoding="utf-8")
    for row in csv.DictReader(text.splitlines()):
        fat, temperature = float(row["fat_assumed"]), float(row["temperature_c"])
        model = keeping.rancidity_days(fat, temperature, row["air"], row["salted"] == "yes")
        yield float(model), float(row["observed_days"])


def test_rancidity_against_the_storage_it_was_set_on():
    """Twelve rows read from abstracts, fat contents assumed: a fit, not a proof. Spread a factor of 1.5, as stated."""
    logs = np.log([model / observed for model, observed in rancid_rows()])
    assert len(logs) == 12
    assert np.exp(logs.mean()) == pytest.approx(0.90, abs=0.02)
    assert np.exp(logs.std(ddof=1)) == pytest.approx(1.54, abs=0.06)


def test_half_the_middle_estimate_never_passes_an_observed_life():
    assert all(0.5 * model < observed for model, observed in rancid_rows())


@pytest.mark.parametrize(("cooler", "warmer", "q"), [(0.0, 25.0, 1.2), (25.0, 35.0, 2.0)])
def test_cold_helps_rancidity_less_than_one_hopes(cooler, warmer, q):
    """kenya_sardine_2015: 1.16 for 10 K (read); lee_1985: 1.4."""
    gain = keeping.rancidity_days(0.1, cooler) / keeping.rancidity_days(0.1, warmer)
    assert gain == pytest.approx(q ** ((warmer - cooler) / 10.0))


def test_a_plan_counts_on_the_strict_end_of_warm_rancidity():
    """lee_1985: paper and PE bags, 94 days at 35 and 49 at 55 °C, is 1.39 for 10 K; the middle says 2."""
    band = [float(keeping.rancidity_days(0.1, 35.0, warmer_factor=q)) for q in keeping.WARMER_BAND]
    assert min(band) == keeping.rancidity_days(0.1, 35.0)
    assert min(keeping.WARMER_BAND) == pytest.approx((94.0 / 49.0) ** 0.5, abs=0.02)
    assert keeping.rancidity_days(0.1, 20.0, warmer_factor=1.4) == keeping.rancidity_days(0.1, 20.0)


def test_air_salt_light_and_overdrying_have_the_direction_read():
    base = keeping.rancidity_days(0.1, 20.0)
    assert keeping.rancidity_days(0.1, 20.0, "vacuum") == pytest.approx(
        2.0 * base
    )  # kenya_sardine_2015: 90 for 45 days
    assert keeping.rancidity_days(0.1, 20.0, "barrier") > base  # lee_1985
    assert keeping.rancidity_days(0.1, 20.0, salted=True) < base  # aubourg_2000
    assert keeping.rancidity_days(0.1, 20.0, lit=True) < base  # manzocco_2012
    assert keeping.rancidity_days(0.1, 20.0, water_activity=0.1) < base  # judgement


@settings(max_examples=60, deadline=None)
@given(st.floats(0.0, 0.4), st.floats(0.0, 0.4), st.floats(-20.0, 40.0), st.floats(0.0, 20.0))
def test_fatter_or_warmer_is_never_longer_free_of_rancidity(fat, more, temperature, warmer):
    base = keeping.rancidity_days(fat, temperature)
    assert keeping.rancidity_days(min(1.0, fat + more), temperature) <= base * (1 + 1e-12)
    assert keeping.rancidity_days(fat, temperature + warmer) <= base * (1 + 1e-12)


@pytest.mark.parametrize(
    "call",
    [
        lambda: keeping.mould_free_days(1.2, 20.0),
        lambda: keeping.rancidity_days(-0.1, 20.0),
        lambda: keeping.rancidity_days(0.1, 20.0, "bag"),
        lambda: keeping.film_permeance(-1.0, 20.0),
        lambda: keeping.pack_conductance(1e-7, -0.1, 20.0),
        lambda: keeping.straight_isotherm_seconds(0.1, 0.2, 0.3, 0.3, 0.0, 1e-9),
        lambda: keeping.moisture_course(0.02, 0.0, 0.0, 0.1, 1.3, 1e-9),
        lambda: keeping.mould_clock_days([0.0, 1.0], [0.8, 0.8], 20.0, part=0.0),
    ],
)
def test_impossible_input_is_refused(call):
    with pytest.raises(ValueError, match="is impossible: allowed is"):
        call()
