"""Brines from recipes: bands in order, the kitchen's directions, sums by hand, and published recipes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flakeyard import tables
from flakeyard.models import solutions
from flakeyard.steps.chain import brining
from flakeyard.steps.plan.recipes import make_brine, mix_by_volume, published_recipes, recompute, shared_strength
from flakeyard.units import CUP, InputError

START = {"fish": 1.8, "kind": "salt_pickling", "salt": CUP / 2, "water": 0.00175, "sugar": 0.0}
SALTS = sorted(row.id for row in tables.ingredients() if row.kind == "salt")


def middle(mixed, name="of the brine's weight"):
    return mixed.per_cents[name].mid


# in kitchen words


def test_four_per_cents_of_200_g_in_a_litre():
    """Sums by hand; the volume of such a brine is that of 1.2 kg at 1123 kg/m3 (WNT handbook: 16 % 1116, 18 % 1132)."""
    by = brining.per_cents(make_brine({"pickling salt": "200 g", "water": "1000 g"}))
    salt = 200 * 0.998  # pickling salt is 99.8 % salt in the table
    expected = (salt / 1200, salt / 1000, salt / (1200 / 1.1225), 100 * salt / 1200 / 0.26395)
    for found, wanted in zip(by.values(), expected, strict=True):
        assert np.median(found) == pytest.approx(wanted, rel=2e-3)


def test_a_float_is_right_in_plain_brine_and_reads_too_much_in_a_sweet_one():
    plain = make_brine({"table salt": "160 g", "water": "1.8 kg"})
    sweet = make_brine({"table salt": "160 g", "sugar": "100 g", "water": "1.8 kg"})
    shown = brining.hydrometer_degrees(plain)
    assert shown == pytest.approx(plain.salometer, rel=1e-3)  # traces that are no salt: 0.0005
    assert np.all(brining.hydrometer_degrees(sweet) > sweet.salometer + 5)


@pytest.mark.parametrize(
    ("ingredients", "temperature", "field"),
    [
        ({"tabel salt": "1 cup", "water": "1 L"}, "20 °C", "[brine.ingredient 1] what"),
        ({"table salt": "1 1/2", "water": "1 L"}, "20 °C", "[brine.ingredient 1] amount"),
        ({"syrup": {"amount": "1 cup", "one_cup_weighs": "200 g"}, "water": "1 L"}, "20 °C", "one_cup_weighs"),
        ({"table salt": "1 cup"}, "20 °C", "[[brine.ingredient]]"),
        ({}, "20 °C", "[[brine.ingredient]]"),
        ({"table salt": "1 cup", "water": "1 L"}, "60 °C", "[brine] temperature"),
    ],
)
def test_what_no_brine_can_be_made_of_is_refused_by_name(ingredients, temperature, field):
    with pytest.raises(InputError) as trouble:
        make_brine(ingredients, temperature)
    assert field in str(trouble.value)


# in cups and spoons, beside a fish


@given(
    fish=st.floats(0.25, 5.0),
    kind=st.sampled_from(SALTS),
    salt=st.floats(CUP / 4, 3.75 * CUP),
    water=st.floats(0.0005, 0.004),
    sugar=st.floats(0.0, CUP),
)
def test_bands_are_finite_ordered_and_never_above_a_full_brine(fish, kind, salt, water, sugar):
    mixed = mix_by_volume(kind, salt, water, sugar, fish)
    full = solutions.nacl_saturation(20.0)
    for reach in mixed.per_cents.values():
        assert 0 < reach.low <= reach.mid <= reach.high < np.inf
    assert np.all(mixed.water_phase <= full + 1e-12)
    assert np.all((mixed.brine.water_activity > 0.7) & (mixed.brine.water_activity < 1))
    alone = mixed.whole_salt / (mixed.whole_salt + mixed.brine.water)
    assert np.all(mixed.shared < alone)  # the water of the fish can only thin it


@pytest.mark.parametrize(
    ("change", "rises"),
    [
        ({"salt": CUP}, True),
        ({"water": 0.003}, False),
        ({"sugar": CUP}, False),
        ({"kind": "salt_pyramid"}, False),
    ],
)
def test_strength_by_weight_follows_the_kitchen(change, rises):
    before, after = middle(mix_by_volume(**START)), middle(mix_by_volume(**(START | change)))
    assert (after > before) == rises and abs(after - before) > 0.001


def test_more_fish_thins_the_shared_strength_but_not_the_brine():
    few, many = mix_by_volume(**(START | {"fish": 0.5})), mix_by_volume(**(START | {"fish": 5.0}))
    assert np.all(many.shared < few.shared)
    assert middle(few) == middle(many)


def test_salt_of_brine_and_fish_together_is_that_of_the_brine_alone():
    """Mass balance, the fish without salt of its own; 1.8 kg with 0.75 kg of water a kilogram."""
    mixed = mix_by_volume(**START)
    shared = mixed.shared / (1 - mixed.shared)  # salt per water
    assert shared * (mixed.brine.water + 1.8 * 0.75) == pytest.approx(mixed.whole_salt)


def test_salt_on_the_bottom_dissolves_into_the_water_of_the_fish_until_that_is_full_too():
    brine = make_brine({"pickling salt": "1 kg", "water": "1 L"})
    assert np.all(brine.undissolved > 0.5)
    full = solutions.nacl_saturation(20.0)
    assert shared_strength(brine, 0.2) == pytest.approx(full / (1 - full))
    assert np.all(shared_strength(brine, 20.0) < 0.1)


def test_sugar_lowers_water_activity_a_little_and_leaves_salt_per_water_alone():
    plain, sweet = mix_by_volume(**START), mix_by_volume(**(START | {"sugar": CUP}))
    assert middle(sweet, "of the water's weight") == pytest.approx(middle(plain, "of the water's weight"), rel=1e-12)
    fall = np.median(plain.brine.water_activity) - np.median(sweet.brine.water_activity)
    assert 0.002 < fall < 0.02


def test_a_kind_not_known_has_by_far_the_widest_range():
    """`salt_kosher` holds two sorts under one name, of which the panel shows each by itself."""
    widths = {}
    for kind in set(SALTS) - {"salt_kosher"}:
        reach = mix_by_volume(**(START | {"kind": kind})).per_cents["of the brine's weight"]
        widths[kind] = (reach.high - reach.low) / reach.mid
    unknown = widths.pop("salt_unknown")
    assert unknown > 1.5 * max(widths.values())


# as published


def test_published_strengths_that_are_printed_beside_their_recipe():
    """The sheet prints 15.8 % and 60 degrees for its grams (saltbrine_sheet); 360 g is called 100 degrees (ILO 1982)."""
    recipes = {recipe.id: recipe for recipe in published_recipes()}
    sixty = recompute(recipes["sheet_60"])
    assert np.median(sixty.salt_fraction) == pytest.approx(0.158, abs=0.0006)
    assert np.median(sixty.salometer) == pytest.approx(60, abs=0.3)
    assert np.median(recompute(recipes["ilo_full"]).salometer) == pytest.approx(100, abs=0.5)


def test_every_published_brine_is_told_in_full_and_names_a_source_that_exists():
    for recipe in published_recipes():
        assert recipe.source.title and recipe.how in tables.HOWS
        assert all((recipe.body, recipe.purpose, recipe.salt, recipe.water))
