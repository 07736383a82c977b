"""Properties of flesh: mixtures lie between their parts. Published values: data/check_values."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flakeyard.models import flesh

FUNCTIONS = (flesh.density, flesh.heat_capacity, flesh.conductivity)


@given(st.floats(0.1, 0.85), st.floats(0.0, 1.0), st.floats(0.0, 75.0))
def test_a_mixture_lies_between_its_parts(water, lean, temperature):
    protein, fat = (1.0 - water) * lean, (1.0 - water) * (1.0 - lean)
    for function in FUNCTIONS:
        parts = [function(*np.eye(3)[i], temperature=temperature) for i in range(3)]
        assert min(parts) - 1e-9 <= function(water, protein, fat, temperature=temperature) <= max(parts) + 1e-9


def test_lean_fish_near_room_temperature():
    """Fish of 80 % water: 3.7 kJ/kg/K, 0.5 W/m/K, about 1050 kg/m3 (ashrae_refrigeration, from memory; 5 %)."""
    lean = {"water": 0.80, "protein": 0.18, "fat": 0.01, "ash": 0.01}
    assert flesh.heat_capacity(**lean) == pytest.approx(3700.0, rel=0.05)
    assert flesh.conductivity(**lean) == pytest.approx(0.53, rel=0.07)
    assert flesh.density(**lean) == pytest.approx(1050.0, rel=0.02)


def test_fat_makes_it_lighter_and_drying_makes_it_easier_to_warm():
    assert flesh.density(0.6, 0.2, 0.2) < flesh.density(0.8, 0.2, 0.0)
    assert flesh.heat_capacity(0.2, 0.7, 0.1) < flesh.heat_capacity(0.8, 0.175, 0.025)


def test_a_composition_that_does_not_close_is_refused():
    with pytest.raises(ValueError, match=r"water \+ protein"):
        flesh.density(0.5, 0.2, 0.1)
    with pytest.raises(ValueError, match=r"protein = -0\.1"):
        flesh.heat_capacity(0.9, -0.1, 0.2)
    with pytest.raises(ValueError, match="water"):
        flesh.conductivity(1.01, 0.0, 0.0)


def test_printed_compositions_may_miss_one_a_little():
    assert flesh.density(0.77, 0.20, 0.02) == pytest.approx(flesh.density(0.77 / 0.99, 0.20 / 0.99, 0.02 / 0.99))
