"""Brines and syrups: physics that must hold, worked examples, and refusals. Published values: data/check_values."""

import inspect

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flakeyard.models import solutions
from flakeyard.models.inputs import Range

below_saturation = st.floats(0.0, 0.26)
told_apart = below_saturation.map(
    lambda fraction: round(fraction, 12)
)  # a density has 16 digits, so has no smaller step
kitchen = st.floats(0.0, 60.0)


@given(below_saturation, kitchen)
def test_brine_strength_and_water_activity_are_inverses(fraction, temperature):
    activity = solutions.nacl_water_activity(fraction, temperature)
    if activity > solutions.SATURATED_WATER_ACTIVITY:
        assert solutions.nacl_fraction_for(activity, temperature) == pytest.approx(fraction, abs=1e-11)


@given(st.lists(told_apart, min_size=2, max_size=6, unique=True), kitchen)
def test_more_salt_is_heavier_and_drier(fractions, temperature):
    fractions = np.sort(fractions)
    assert np.all(np.diff(solutions.nacl_density(fractions, temperature)) >= 0.0)
    assert np.all(np.diff(solutions.nacl_water_activity(fractions, temperature)) <= 1e-15)
    assert np.all(np.diff(solutions.freezing_point(fractions)) <= 0.0)


@given(st.floats(0.27, 1.0), kitchen)
def test_undissolved_salt_lowers_water_activity_no_further(fraction, temperature):
    assert solutions.nacl_water_activity(fraction, temperature) == solutions.SATURATED_WATER_ACTIVITY


@given(st.floats(0.0, 0.999), st.floats(0.01, 0.5))
def test_molality_and_fraction_are_inverses(fraction, molar_mass):
    molality = solutions.molality_for(fraction, molar_mass)
    assert solutions.fraction_for_molality(molality, molar_mass) == pytest.approx(fraction, rel=1e-12, abs=1e-15)


@given(st.floats(0.0, 1.0))
def test_salometer_and_fraction_are_inverses(fraction):
    assert solutions.fraction_for_salometer(solutions.salometer(fraction)) == pytest.approx(fraction, rel=1e-14)


@given(st.floats(0.0, 0.85), st.floats(0.0, 40.0))
def test_a_weighed_cup_gives_back_the_syrup(fraction, temperature):
    density = solutions.sucrose_density(fraction, temperature)
    assert solutions.syrup_fraction_for_density(density, temperature) == pytest.approx(fraction, abs=1e-10)


@given(st.floats(0.0, 0.25), st.floats(0.0, 0.25), st.floats(0.0, 0.1), st.floats(0.0, 0.05))
def test_every_further_solute_lowers_the_water_activity(salt, sucrose, hexose, acid):
    several = solutions.mixture_water_activity(1.0, salt, sucrose, hexose, acid)
    alone = (
        solutions.mixture_water_activity(1.0, salt=salt),
        solutions.mixture_water_activity(1.0, sucrose=sucrose),
        solutions.mixture_water_activity(1.0, hexose=hexose),
        solutions.mixture_water_activity(1.0, acetic_acid=acid),
    )
    assert several <= min(alone) + 1e-15
    assert several == pytest.approx(np.prod(alone), rel=1e-14)


@given(st.floats(0.0, 0.35), kitchen)
def test_a_mixture_of_one_solute_is_that_solution(salt, temperature):
    fraction = salt / (1.0 + salt)
    density = solutions.mixture_density(1.0, salt, temperature=temperature)
    assert density == pytest.approx(solutions.nacl_density(fraction, temperature), rel=1e-12)
    activity = solutions.mixture_water_activity(1.0, salt, temperature=temperature)
    assert activity == pytest.approx(solutions.nacl_water_activity(fraction, temperature), rel=1e-14)


def test_a_brine_by_hand():
    """200 g of salt in a litre (0.998 kg) of water: 16.7 % of the brine, 63 degrees, 1.068 litres of brine.

    Source of the figures: definitions, salt_institute for 26.395 %, crc_rogers_pitzer density (0.1 %).
    """
    fraction = 0.200 / 1.1982
    assert solutions.salometer(fraction) == pytest.approx(63.2, abs=0.05)
    assert 1.1982 / solutions.nacl_density(fraction, 20.0) * 1000.0 == pytest.approx(1.068, abs=0.001)


def test_salt_alone_needs_a_fifth_of_the_water_phase_for_085():
    """0.85 at 19 % (fda_hazards_guide: 20 % is beyond it; computed with phreeqc_pitzer: 4.03 mol/kg)."""
    assert solutions.nacl_fraction_for(0.85) == pytest.approx(4.034 * 0.058443 / (1.0 + 4.034 * 0.058443), abs=3e-4)


def test_temperature_hardly_moves_the_water_activity():
    """Within 0.0055 of 25 °C from 0 to 60 °C (steiger_2008 and phreeqc_pitzer say 0.005)."""
    fraction, temperature = np.meshgrid(np.linspace(0.0, 0.26, 27), np.linspace(0.0, 60.0, 13))
    change = solutions.nacl_water_activity(fraction, temperature) - solutions.nacl_water_activity(fraction)
    assert 0.003 < np.abs(change).max() < 0.0055


def test_the_eutectic_is_where_the_ice_line_ends():
    """-21.12 °C at 23.31 % (salt_institute, read)."""
    assert solutions.freezing_point(solutions.NACL_EUTECTIC_FRACTION) == pytest.approx(-21.1, abs=0.15)


def test_sugar_is_flavour_at_kitchen_strength():
    """5 % sugar in a 10 % brine lowers the water activity by 0.007 to 0.008 (two mixing rules, computed)."""
    plain = solutions.mixture_water_activity(0.90, 0.10)
    sweet = solutions.mixture_water_activity(0.85, 0.10, 0.05)
    assert plain - sweet == pytest.approx(0.0075, abs=0.001)


ONE_SOLUTE = [
    solutions.nacl_density,
    solutions.nacl_water_activity,
    solutions.sucrose_density,
    solutions.sucrose_water_activity,
    solutions.hexose_water_activity,
    solutions.acetic_density,
    solutions.acetic_water_activity,
    solutions.salometer,
    solutions.freezing_point,
]


@pytest.mark.parametrize("function", ONE_SOLUTE, ids=lambda function: function.__name__)
@pytest.mark.parametrize("wrong", [-0.01, 1.01, np.nan])
def test_impossible_strengths_are_refused(function, wrong):
    rest = {"temperature": 20.0} if "temperature" in inspect.signature(function).parameters else {}
    with pytest.raises(ValueError, match="solute_fraction"):
        function(wrong, **rest)


@pytest.mark.parametrize("function", ONE_SOLUTE, ids=lambda function: function.__name__)
def test_scalars_give_scalars_and_arrays_broadcast(function):
    rest = {"temperature": 20.0} if "temperature" in inspect.signature(function).parameters else {}
    assert np.ndim(function(0.1, **rest)) == 0
    strengths = np.array([[0.0, 0.1], [0.2, 0.25]])
    both = function(strengths, **rest)
    assert both.shape == (2, 2)
    assert both[1, 0] == function(0.2, **rest)


def test_other_impossible_inputs_are_refused():
    with pytest.raises(ValueError, match="water_activity"):
        solutions.nacl_fraction_for(0.70)
    with pytest.raises(ValueError, match="water"):
        solutions.mixture_water_activity(0.0, 0.1)
    with pytest.raises(ValueError, match="sucrose"):
        solutions.mixture_density(1.0, 0.1, -0.1)
    with pytest.raises(ValueError, match="density"):
        solutions.syrup_fraction_for_density(900.0)
    with pytest.raises(ValueError, match="temperature"):
        solutions.nacl_saturation(200.0)


def test_every_range_has_bounds_an_error_and_a_source():
    records = [record for name, record in vars(solutions).items() if name.endswith("_range")]
    assert len(records) >= 8
    for record in records:
        assert isinstance(record, Range)
        assert record.error and record.source_id and record.bounds
