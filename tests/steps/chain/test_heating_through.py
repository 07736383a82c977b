"""Ways of heating and what cooks out: the tables are whole, every fish has a spread, a slow end is never the quick one."""

import pytest

from flakeyard import tables
from flakeyard.steps.chain import heating_through as through
from flakeyard.units import InputError

INSIDE = {"conductivity": 0.532, "thermal_diffusivity": 1.434e-7}


def test_every_way_is_whole_and_knows_its_sources():
    assert set(through.heating_methods()) == {"steam", "simmer", "boil", "covered_dish", "open_oven"}
    for method in through.heating_methods().values():
        assert method.source.title and tables.source(method.film_source_id) and method.advice and method.note
        assert 0 < method.film_low <= method.film_mid <= method.film_high
        assert method.medium in ("boiling", "oven") and method.below_boiling_k >= 0
        assert (method.warm_up_low is None) == (method.id != "covered_dish")
        if method.timed:
            assert "74 °C (165 °F)" in method.advice and "15 seconds more" in method.advice


@pytest.mark.parametrize("name", ["steam", "Steam", "covered dish", "COVERED_DISH", "simmered in  its brine"])
def test_a_way_is_found_by_id_or_words(name):
    assert through.heating_method(name).id in ("steam", "covered_dish", "simmer")


def test_an_unknown_way_is_refused_with_what_is_allowed():
    with pytest.raises(InputError, match=r"\[heat\] method.*steam \| simmer"):
        through.heating_method("microwave")


def test_the_medium_hangs_on_the_height_or_on_the_oven():
    steam, simmer, oven = map(through.heating_method, ("steam", "simmer", "open oven"))
    assert through.medium_temperature(steam) == pytest.approx(99.97, abs=0.05)
    assert through.medium_temperature(simmer, 2400.0) == pytest.approx(87.0, abs=0.1)
    assert through.medium_temperature(oven) is None and through.medium_temperature(oven, oven=160.0) == 160.0


@pytest.mark.parametrize("name", ["steam", "simmer", "boil", "covered_dish"])
@pytest.mark.parametrize("thickness", [0.004, 0.008, 0.015])
def test_times_run_from_the_quick_to_the_slow_end_and_longer_higher_up(name, thickness):
    method = through.heating_method(name)
    low = through.minutes_through(method, thickness, 2, **INSIDE)
    high = through.minutes_through(method, thickness, 2, altitude=2400.0, **INSIDE)
    skin = through.minutes_through(method, thickness, 1, **INSIDE)
    assert low[0] < low[1] < low[2]
    assert all(b > a for a, b in zip(low, high, strict=True)) and all(b > a for a, b in zip(low, skin, strict=True))


def test_minutes_for_six_millimetres_in_steam():
    """0.9 min, 0.7 to 1.8 (heating_through_computed), 4.5 %."""
    quick, middle, slow = through.minutes_through(through.heating_method("steam"), 0.006, 2, **INSIDE)
    assert (quick, middle, slow) == pytest.approx((0.67, 0.86, 1.83), rel=0.05)


def test_no_time_is_told_for_an_open_oven():
    assert through.minutes_through(through.heating_method("open_oven"), 0.006, 2, **INSIDE) is None


@pytest.mark.parametrize(
    ("family", "ends"),
    [
        ("Salmonidae", (0.08, 0.25)),
        ("Gadidae", (0.15, 0.30)),
        ("Gadidae and Merlucciidae", (0.15, 0.30)),
        ("Lotidae", (0.15, 0.30)),
        ("Cichlidae", (0.10, 0.25)),
        ("Scombridae and Carangidae", (0.10, 0.25)),
        ("Salmonidae and others", (0.08, 0.25)),
        ("", (0.08, 0.30)),
        (None, (0.08, 0.30)),
    ],
)
def test_what_cooks_out_by_family(family, ends):
    row = through.cook_out(family)
    assert (row.low, row.high) == ends and row.low < row.mid < row.high and row.source.title


def test_every_fish_of_the_table_has_a_spread():
    kinds = {through.cook_out(fish.family).kind for fish in tables.all_species()}
    assert kinds == {"salmonids", "cod_kinds", "others"}


def test_what_was_read_lies_inside_the_spread():
    """Salmon, steamed or roasted: 11.6 to 16.2 % (gluchowski_2020)."""
    row = through.cook_out("Salmonidae")
    assert row.low < 0.116 < row.mid < 0.162 < row.high
