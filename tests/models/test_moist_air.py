"""Moist air: physics that must hold, worked examples, and refusals. Published values: data/check_values."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flakeyard.models import moist_air

air_temperature = st.floats(-5.0, 95.0)
humid = st.floats(0.01, 0.99)
pressures = st.floats(75e3, 105e3)


@given(air_temperature, humid, pressures)
def test_humidity_ratio_and_relative_humidity_are_inverses(temperature, relative, pressure):
    if relative * moist_air.saturation_pressure(temperature) < 0.95 * pressure:
        ratio = moist_air.humidity_ratio(temperature, relative, pressure)
        assert moist_air.relative_humidity(temperature, ratio, pressure) == pytest.approx(relative, rel=1e-12)


@given(st.floats(-5.0, 100.0), st.floats(0.0, 1.0), pressures)
def test_wet_bulb_lies_between_dew_point_and_air(temperature, ratio, pressure):
    wet = moist_air.wet_bulb(temperature, ratio, pressure)
    dew = moist_air.dew_point(ratio, pressure)
    assert np.isfinite(wet)
    assert min(dew, temperature) - 1e-6 <= wet <= temperature + 1e-9


@given(st.floats(-5.0, 90.0), humid)
def test_evaporating_into_air_down_to_the_wet_bulb_keeps_its_heat(temperature, relative):
    """The definition, tried the other way round: add water of the wet bulb's temperature until the air is saturated."""
    ratio = moist_air.humidity_ratio(temperature, relative, 110e3)
    wet = moist_air.wet_bulb(temperature, ratio, 110e3)
    saturated = moist_air.humidity_ratio(wet, 1.0, 110e3)
    added = (saturated - ratio) * moist_air.WATER_HEAT * wet
    left = moist_air.enthalpy(temperature, ratio) + added - moist_air.enthalpy(wet, saturated)
    assert abs(left) < 1e-6 * (moist_air.LATENT_AT_ZERO * saturated + 1e4)


@given(st.floats(0.001, 0.2), st.floats(0.0, 90.0), st.floats(0.5, 10.0))
def test_wet_bulb_rises_with_warmth_and_humidity(ratio, temperature, more):
    first = moist_air.wet_bulb(temperature, ratio)
    assert moist_air.wet_bulb(temperature + more, ratio) >= first
    assert moist_air.wet_bulb(temperature, ratio * (1.0 + 0.1 * more)) >= first


def test_foggy_air_has_its_own_temperature_as_wet_bulb():
    assert moist_air.wet_bulb(20.0, 0.05) == pytest.approx(20.0, abs=1e-9)
    assert moist_air.relative_humidity(20.0, 0.05) > 1.0


def test_saturated_air_has_one_temperature():
    ratio = moist_air.humidity_ratio(30.0, 1.0)
    assert moist_air.wet_bulb(30.0, ratio) == pytest.approx(30.0, abs=1e-6)
    assert moist_air.dew_point(ratio) == pytest.approx(30.0, abs=1e-6)


def test_room_air_warmed_in_a_dryer():
    """20 °C and half humid: 0.0073 kg/kg; at 63 °C 5.1 %, wet bulb 26.8 °C; 43.9 kJ/kg to warm it (psychrolib)."""
    ratio = moist_air.humidity_ratio(20.0, 0.5)
    assert ratio == pytest.approx(0.00726, abs=2e-5)
    assert moist_air.relative_humidity(63.0, ratio) == pytest.approx(0.051, abs=5e-4)
    assert moist_air.wet_bulb(63.0, ratio) == pytest.approx(26.8, abs=0.05)
    assert moist_air.enthalpy(63.0, ratio) - moist_air.enthalpy(20.0, ratio) == pytest.approx(43.9e3, rel=5e-3)


def test_moist_air_is_lighter_than_dry_air():
    assert moist_air.density(40.0, 0.03) < moist_air.density(40.0, 0.0)


def test_film_of_a_common_dryer():
    """Air of 63 °C at 1 m/s along 0.1 m: 12 W/m2/K and 0.013 m/s (flat_plate, computed by hand with air tables)."""
    heat, mass = moist_air.film(63.0, 1.0, 0.1)
    assert heat == pytest.approx(12.2, abs=0.3)
    assert mass == pytest.approx(0.0131, abs=0.0003)


@given(st.floats(0.0, 90.0), st.floats(0.5, 5.0), st.floats(0.02, 0.5))
def test_film_goes_as_the_root_of_speed_over_length_in_a_wind(temperature, velocity, length):
    still = np.array(moist_air.film(temperature, velocity, length, difference=0.0))
    faster = np.array(moist_air.film(temperature, 4.0 * velocity, length, difference=0.0))
    longer = np.array(moist_air.film(temperature, velocity, 4.0 * length, difference=0.0))
    assert faster == pytest.approx(2.0 * still, rel=1e-12)
    assert longer == pytest.approx(0.5 * still, rel=1e-12)


def test_still_air_has_a_floor():
    """Natural convection in gases about 5 to 10 W/m2/K (from memory, textbooks)."""
    heat, mass = moist_air.film(60.0, 0.0, 0.1)
    assert 3.0 < heat < 10.0
    assert mass > 0.0


def test_radiation_adds_about_six():
    """4 e s T³ at 45 °C and 0.9 is 6.6 W/m2/K (by hand)."""
    assert moist_air.radiation_coefficient(45.0, 45.0) == pytest.approx(6.57, abs=0.02)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: moist_air.humidity_ratio(20.0, 1.2), "relative_humidity"),
        (lambda: moist_air.humidity_ratio(20.0, np.nan), "relative_humidity"),
        (lambda: moist_air.humidity_ratio(100.0, 1.0), "relative_humidity"),
        (lambda: moist_air.wet_bulb(20.0, -0.01), "humidity_ratio"),
        (lambda: moist_air.wet_bulb(np.nan, 0.01), "temperature"),
        (lambda: moist_air.density(20.0, 0.01, -5.0), "pressure"),
        (lambda: moist_air.altitude_pressure(20e3), "altitude"),
        (lambda: moist_air.film(60.0, -1.0, 0.1), "velocity"),
        (lambda: moist_air.radiation_coefficient(20.0, 60.0, 1.2), "emissivity"),
    ],
)
def test_impossible_air_is_refused(call, name):
    with pytest.raises(ValueError, match=f"{name} = "):
        call()


def test_arrays_broadcast():
    temperature, ratio = np.linspace(-5.0, 100.0, 8)[:, None], np.linspace(0.0, 0.5, 5)
    assert moist_air.wet_bulb(temperature, ratio).shape == (8, 5)
    assert moist_air.film(temperature, ratio + 0.1, 0.1)[0].shape == (8, 5)
    assert np.ndim(moist_air.wet_bulb(60.0, 0.01)) == 0


@given(st.floats(0.001, 0.05), st.floats(5.0, 90.0), st.floats(1.0, 10.0))
def test_warmer_air_takes_more_and_damper_air_less(ratio, temperature, more):
    first = moist_air.drying_capacity(temperature, ratio)
    assert moist_air.drying_capacity(temperature + more, ratio) >= first >= 0.0
    assert moist_air.drying_capacity(temperature, ratio * (1.0 + 0.1 * more)) <= first


def test_full_and_foggy_air_takes_nothing():
    full = moist_air.humidity_ratio(30.0, 1.0)
    assert moist_air.drying_capacity(30.0, full) == pytest.approx(0.0, abs=1e-9)
    assert moist_air.drying_capacity(20.0, 0.05) == 0.0


@given(st.floats(1e3, 4e5))
def test_water_boils_where_its_vapour_pressure_is_that_of_the_air(pressure):
    assert moist_air.saturation_pressure(moist_air.boiling_temperature(pressure)) == pytest.approx(pressure, rel=1e-9)


def test_boiling_refuses_what_is_no_air_pressure():
    with pytest.raises(ValueError, match="pressure = 101"):
        moist_air.boiling_temperature(101.0)
