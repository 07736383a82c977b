"""Our formulas beside general-purpose libraries over whole grids: CoolProp, PsychroLib, PHREEQC."""

import numpy as np
import pytest

from flakeyard.models import flesh, moist_air, solutions

CoolProp = pytest.importorskip("CoolProp.CoolProp")
psychrolib = pytest.importorskip("psychrolib")


def coolprop(output, temperature, fluid, pressure=101325.0):
    return CoolProp.PropsSI(output, "T", temperature + 273.15, "P", pressure, fluid)


def coolprop_liquid(output, temperature, quality=0):
    return CoolProp.PropsSI(output, "T", temperature + 273.15, "Q", quality, "Water")


@pytest.fixture(scope="module")
def phreeqc():
    phreeqpython = pytest.importorskip("phreeqpython")
    return phreeqpython.PhreeqPython(database="pitzer.dat")


def ion_product(solution):
    return solution.activity("H+", units="mol") * solution.activity("OH-", units="mol")


def phreeqc_activity(phreeqc, molality, temperature, halite=False):
    """Water activity by its ion product over that of pure water (this interface does not hand out H2O itself)."""
    pure = phreeqc.add_solution({"units": "mol/kgw", "temp": temperature})
    brine = phreeqc.add_solution({"units": "mol/kgw", "temp": temperature, "Na": molality, "Cl": molality})
    if halite:
        brine.equalize(["Halite"], [0.0], [10.0])
    activity = ion_product(brine) / ion_product(pure)
    brine.forget()
    pure.forget()
    return activity


def test_brine_water_activity_is_that_of_phreeqc(phreeqc):
    """The same parameters in another code: to 1e-4, 0 to 60 °C, up to 6 mol/kg."""
    for temperature in (0.0, 10.0, 25.0, 40.0, 60.0):
        for molality in (0.1, 0.5, 1.0, 2.0, 4.0, 6.0):
            fraction = solutions.fraction_for_molality(molality)
            theirs = phreeqc_activity(phreeqc, molality, temperature)
            assert solutions.nacl_water_activity(fraction, temperature) == pytest.approx(theirs, abs=1e-4)


def test_saturated_brine_is_near_phreeqc(phreeqc):
    """0.753 is used at all temperatures; PHREEQC's halite gives 0.756 at 5 °C to 0.746 at 60 °C."""
    for temperature in (5.0, 25.0, 40.0, 60.0):
        theirs = phreeqc_activity(phreeqc, 5.0, temperature, halite=True)
        assert theirs == pytest.approx(solutions.SATURATED_WATER_ACTIVITY, abs=0.008)


def test_vapour_pressure_is_that_of_coolprop():
    temperature = np.linspace(0.02, 100.0, 51)
    theirs = np.array([coolprop_liquid("P", t) for t in temperature])
    assert moist_air.saturation_pressure(temperature) == pytest.approx(theirs, rel=1e-4)


def test_latent_heat_is_that_of_coolprop():
    temperature = np.linspace(0.02, 100.0, 26)
    theirs = np.array([coolprop_liquid("H", t, 1) - coolprop_liquid("H", t, 0) for t in temperature])
    assert moist_air.latent_heat(temperature) == pytest.approx(theirs, rel=3e-5)


def test_wet_bulb_is_that_of_psychrolib():
    psychrolib.SetUnitSystem(psychrolib.SI)
    for temperature in (5.0, 45.0, 80.0):
        for relative in (0.1, 0.5, 0.95):
            for pressure in (80e3, 101325.0):
                theirs = psychrolib.GetTWetBulbFromRelHum(temperature, relative, pressure)
                if theirs < 1.0:
                    continue  # near and below freezing that library takes ice
                ratio = moist_air.humidity_ratio(temperature, relative, pressure)
                assert moist_air.wet_bulb(temperature, ratio, pressure) == pytest.approx(theirs, abs=0.01)


def test_wet_bulb_is_near_that_of_real_gases():
    """CoolProp's humid air is a real gas with the enhancement of the vapour pressure: within 0.06 °C."""
    for temperature in (20.0, 45.0, 63.0, 75.0):
        for ratio in (0.004, 0.01, 0.03):
            if moist_air.relative_humidity(temperature, ratio) < 0.95:
                theirs = CoolProp.HAPropsSI("B", "T", temperature + 273.15, "W", ratio, "P", 101325.0) - 273.15
                assert moist_air.wet_bulb(temperature, ratio) == pytest.approx(theirs, abs=0.06)


def test_moist_air_density_is_near_that_of_real_gases():
    for temperature, ratio in ((20.0, 0.0073), (63.0, 0.0073), (63.0, 0.05)):
        dry_volume = CoolProp.HAPropsSI("Vda", "T", temperature + 273.15, "W", ratio, "P", 101325.0)
        assert moist_air.density(temperature, ratio) == pytest.approx((1.0 + ratio) / dry_volume, rel=2e-3)


def test_brine_density_is_near_coolprop():
    """Melinder's brine against ours, 2 to 23 %, 0 to 40 °C: 1.1 kg/m3 (two correlations of measurements)."""
    for fraction in (0.02, 0.05, 0.10, 0.15, 0.20, 0.23):
        for temperature in (0.0, 10.0, 20.0, 30.0, 40.0):
            theirs = coolprop("D", temperature, f"INCOMP::MNA[{fraction}]")
            assert solutions.nacl_density(fraction, temperature) == pytest.approx(theirs, abs=1.1)


def test_ice_line_is_that_of_coolprop():
    for fraction in np.linspace(0.01, 0.23, 12):
        theirs = coolprop("T_FREEZE", 25.0, f"INCOMP::MNA[{fraction}]") - 273.15
        assert solutions.freezing_point(fraction) == pytest.approx(theirs, abs=0.001)


@pytest.mark.parametrize("component", flesh.COMPONENTS)
def test_food_components_are_those_of_coolprop(component):
    pure = {name: 0.0 for name in ("water", "protein", "fat")} | {component: 1.0}
    for temperature in (0.0, 20.0, 40.0, 60.0, 75.0):
        fluid = f"INCOMP::Food{component.capitalize()}"
        for function, output in ((flesh.density, "D"), (flesh.heat_capacity, "C"), (flesh.conductivity, "L")):
            assert function(**pure, temperature=temperature) == pytest.approx(
                coolprop(output, temperature, fluid), rel=1e-5
            )
