"""Limits of growth and the humidity over wet salts, against general formulas and each other."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flakeyard import limits
from flakeyard.models import solutions, sorption
from flakeyard.steps.judge import water_check

# RH = A exp(B/T), crc_humidity (read): generally good to 2 % of humidity
CRC = {"magnesium chloride": (29.26, 34.0), "table salt": (69.20, 25.0), "potassium chloride": (49.38, 159.0)}


@pytest.mark.parametrize("row", water_check.humidity_points(), ids=lambda row: f"{row.salt} {row.temperature_c:g}")
def test_humidity_over_a_salt_agrees_with_a_second_compilation(row):
    factor, rise = CRC[row.salt]
    other = factor * math.exp(rise / (row.temperature_c + 273.15)) / 100
    assert row.humidity == pytest.approx(other, abs=0.02)  # crc_humidity: 2 %
    assert 0 < row.error < 0.01


def test_table_salt_is_the_salt_of_the_brine_model():
    """greenspan_1977_table: 75.29 ± 0.12 at 25 °C; the model is computed from Pitzer's equations."""
    model = solutions.nacl_water_activity(solutions.nacl_saturation(25.0))
    assert water_check.humidity_over("table salt", 25.0) == pytest.approx(model, abs=0.0012)


def test_between_two_rows_lies_between_them_and_outside_is_not_known():
    assert 0.7529 < water_check.humidity_over("table salt", 22.0) < 0.7547
    assert water_check.humidity_over("table salt", 10.0) is None
    assert water_check.humidity_over("table salt", 35.0) is None
    assert water_check.humidity_over("sea sand", 25.0) is None


def test_a_hygrometer_that_is_right_over_salt_is_left_alone():
    assert water_check.corrected_reading(0.68, 0.7529, 25.0) == pytest.approx(0.68)


@given(st.floats(0, 1), st.floats(0, 1), st.floats(15, 30))
def test_a_hygrometer_that_reads_high_over_salt_is_corrected_downwards(reading, over_salt, temperature):
    right = water_check.humidity_over("table salt", temperature)
    told = water_check.corrected_reading(reading, over_salt, temperature)
    assert 0 <= told <= 1
    assert (told <= reading) if over_salt >= right else (told >= reading)


def test_an_impossible_reading_is_refused_and_a_cold_jar_is_not_known():
    with pytest.raises(ValueError, match=r"reading = 68 is impossible: allowed is a number between 0 and 1"):
        water_check.corrected_reading(68, 0.75)
    with pytest.raises(ValueError, match="reading_over_salt"):
        water_check.corrected_reading(0.68, math.nan)
    assert water_check.corrected_reading(0.68, 0.75, 4.0) is None


def test_limits_come_from_moist_to_dry_and_each_has_a_source():
    limits = [row.least_water_activity for row in water_check.growth_limits()]
    assert limits == sorted(limits, reverse=True) and len(limits) > 25
    assert all(row.source.title and row.how in ("read", "memory") for row in water_check.growth_limits())


@given(st.floats(0, 1), st.floats(0, 1))
def test_drier_never_lets_more_grow(first, second):
    dry, moist = sorted((first, second))
    assert set(water_check.growing(dry)) <= set(water_check.growing(moist))


def test_nothing_that_makes_fish_dangerous_grows_at_the_limit_for_an_estimate():
    """fda_hazards_a1 and fda_hazards_2001; below the line only moulds and salt-loving bacteria are left."""
    left = {row.organism for row in water_check.growing(limits.CUPBOARD_ESTIMATE)}
    assert "Eurotium repens" in left and "halophilic bacteria (pink)" in left
    assert not any("Staphylococcus" in name or "Clostridium" in name or "Listeria" in name for name in left)


def test_a_limit_counts_as_growing_and_not_known_is_refused():
    assert water_check.limit_of("Listeria monocytogenes") in water_check.growing(0.92)
    for value in (math.nan, -0.1, 1.2):
        with pytest.raises(ValueError, match="allowed is a number between 0 and 1"):
            water_check.growing(value)


def test_published_fish_lie_near_the_estimate_and_none_is_moister_than_the_cautious_end():
    """medina_vivanco_tilapia, oh_1997 (complete): within 0.015; sanchez_parra_2023 (salt assumed) is the worst, by 0.05."""
    rows = {row.product: row for row in water_check.measured_fish()}
    assert len(rows) >= 10
    for product in ("Nile tilapia fillet, 20 % brine", "small anchovy, 10 % brine", "small anchovy, saturated brine"):
        row = rows[product]
        assert sum(row.flesh) == pytest.approx(1.0)
        assert sorption.water_activity(*row.flesh, native=row.native) == pytest.approx(row.published_mid, abs=0.015)
    moister = {
        name: row.published_mid - sorption.water_activity(*row.flesh, native=row.native) for name, row in rows.items()
    }
    assert max(moister, key=moister.get) == "dry-cured tuna, finished"
    assert max(moister.values()) == pytest.approx(0.05, abs=0.01)
    for row in rows.values():
        assert sorption.water_activity_cautious(*row.flesh, native=row.native) > row.published_mid
