"""Water activity of flesh: physics that must hold, worked examples, refusals. Published values: data/check_values."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from flakeyard.models import solutions, sorption

water = st.floats(0.02, 5.0)
salt = st.floats(0.0, 0.8)
temperatures = st.floats(0.0, 80.0)
activities = st.floats(0.05, 0.995)
factors = st.floats(0.7, 1.4)
steepness = st.floats(*sorption.GAB_K_RANGE)
natives = st.floats(0.0, 1.5)
PLATEAU = sorption.PLATEAU


@given(activities, salt, st.floats(0.0, 0.5), temperatures, factors, steepness, st.floats(0.05, 1.5))
def test_water_and_water_activity_are_inverses(activity, salt, fat, temperature, factor, k, native):
    """With no native solutes at all wet flesh has one water activity for many waters: the next test."""
    kinds = {"protein_factor": factor, "gab_k": k, "native": native}
    held = sorption.water_for(activity, salt, fat, 1.0, temperature, **kinds)
    assert sorption.water_activity(held, salt, fat, 1.0, temperature, **kinds) == pytest.approx(activity, abs=2e-9)


@given(activities, salt, st.floats(0.0, 0.6))
def test_sugar_holds_water_both_ways(activity, salt, sugar):
    held = sorption.water_for(activity, salt, 0.1, 1.0, sugar=sugar)
    assert sorption.water_activity(held, salt, 0.1, 1.0, sugar=sugar) == pytest.approx(activity, abs=2e-9)
    assert held >= sorption.water_for(activity, salt, 0.1, 1.0)


@given(activities, st.floats(0.0, 0.5), temperatures, factors, steepness)
def test_without_native_solutes_the_protein_alone_can_be_turned_round(activity, fat, temperature, factor, k):
    kinds = {"protein_factor": factor, "gab_k": k, "native": 0.0}
    held = sorption.water_for(activity, 0.0, fat, 1.0, temperature, **kinds)
    assert sorption.water_activity(held, 0.0, fat, 1.0, temperature, **kinds) == pytest.approx(activity, abs=2e-9)
    most = sorption.water_for(1.0, 0.0, fat, 1.0, temperature, **kinds)
    assert sorption.water_activity(1.001 * most, 0.0, fat, 1.0, temperature, **kinds) == pytest.approx(1.0, abs=1e-9)
    assert sorption.water_for(1.0, 0.0, fat, 1.0, temperature, native=0.01) == np.inf


@given(st.floats(0.01, 0.8))
def test_on_the_plateau_the_least_water_is_given(salt):
    least = sorption.water_for(PLATEAU, salt, 0.0, 1.0, native=0.0)
    assert least == pytest.approx(sorption.water_for(PLATEAU, 0.0, 0.0, 1.0, native=0.0), rel=1e-12)
    assert sorption.water_activity(1.001 * least, salt, 0.0, 1.0, native=0.0) == pytest.approx(PLATEAU, abs=1e-12)


@given(st.floats(0.1, 0.8), natives)
def test_native_solutes_lower_the_plateau_a_little(salt, native):
    """At most by 0.6 x 0.018 x 0.8, and the less the more water there is: 0.7497 for 0.5 kg of water on 0.23."""
    moist = np.linspace(0.3, 0.1 + 2.7 * salt, 18)
    level = sorption.water_activity(moist, salt, 0.0, 1.0, native=native)
    assert np.all((level > sorption.LOWEST_PLATEAU - 1e-12) & (level <= PLATEAU))
    assert np.all(np.diff(level) >= 0.0)
    assert sorption.water_activity(0.50, 0.25, 0.0, 0.23) == pytest.approx(0.7497, abs=1e-4)
    assert pytest.approx(0.753 * (1 - 0.6 * 0.018015 * 0.8), abs=1e-5) == sorption.LOWEST_PLATEAU


@given(st.lists(water, min_size=2, max_size=6), salt, temperatures, factors, steepness, natives)
def test_wetter_flesh_never_has_a_lower_water_activity(waters, salt, temperature, factor, k, native):
    kinds = {"protein_factor": factor, "gab_k": k, "native": native}
    rising = sorption.water_activity(np.sort(waters), salt, 0.1, 1.0, temperature, **kinds)
    assert np.all(np.diff(rising) >= -1e-12)
    assert np.all((rising > 0.0) & (rising <= 1.0))


@given(water, salt, salt, temperatures, natives)
def test_more_salt_never_raises_the_water_activity(water, one, other, temperature, native):
    less, more = sorted((one, other))
    drier = sorption.water_activity(water, more, 0.0, 1.0, temperature, native=native)
    assert drier <= sorption.water_activity(water, less, 0.0, 1.0, temperature, native=native) + 1e-9


@given(water, salt, temperatures, factors, steepness, natives, natives)
def test_more_native_solutes_never_raise_the_water_activity(water, salt, temperature, factor, k, one, other):
    fewer, more = (
        sorption.water_activity(water, salt, 0.1, 1.0, temperature, protein_factor=factor, gab_k=k, native=share)
        for share in sorted((one, other))
    )
    assert more <= fewer + 1e-9


@given(water, st.floats(0.01, 0.8), temperatures, natives)
def test_salt_takes_no_flesh_below_the_plateau(water, salt, temperature, native):
    unsalted = sorption.water_activity(water, 0.0, 0.0, 1.0, temperature, native=native)
    salted = sorption.water_activity(water, salt, 0.0, 1.0, temperature, native=native)
    lowest = PLATEAU if native == 0.0 else sorption.LOWEST_PLATEAU
    assert salted >= min(unsalted, lowest) - 1e-12
    if unsalted <= lowest:
        assert salted == pytest.approx(unsalted, abs=1e-12)


@given(water, salt, st.floats(0.0, 1.0), temperatures)
def test_fat_holds_no_water(water, salt, fat, temperature):
    lean = sorption.water_activity(water, salt, 0.0, 1.0, temperature)
    assert sorption.water_activity(water, salt, fat, 1.0, temperature) == pytest.approx(lean, abs=1e-12)


@given(water, salt, temperatures, st.floats(0.0, 20.0))
def test_warmer_flesh_gives_its_water_up_more_readily(water, salt, temperature, warmer):
    cool = sorption.water_activity(water, salt, 0.0, 1.0, temperature)
    assert sorption.water_activity(water, salt, 0.0, 1.0, temperature + warmer) >= cool - 1e-12


@given(water, salt, st.floats(0.1, 10.0))
def test_only_proportions_count(water, salt, scale):
    once = sorption.water_activity(water, salt, 0.1, 1.0)
    assert sorption.water_activity(scale * water, scale * salt, scale * 0.1, scale) == pytest.approx(once, abs=1e-11)


@given(water, salt, st.floats(0.0, 0.5), st.floats(0.0, 0.5))
def test_sugar_lowers_the_estimate_and_never_helps_the_verdict(water, salt, sugar, fat):
    plain = sorption.water_activity(water, salt, fat, 1.0)
    sweet = sorption.water_activity(water, salt, fat, 1.0, sugar=sugar)
    assert sweet <= plain + 1e-9
    assert "sugar" not in sorption.water_activity_cautious.__code__.co_varnames
    assert sorption.water_activity_cautious(water, salt, fat, 1.0) >= min(plain + sorption.CAUTION_MARGIN, 1.0)


def test_a_trace_of_sugar_is_no_sugar():
    moist = np.array([0.1, 0.3, 1.0, 3.0])
    plain = sorption.water_activity(moist, 0.1, 0.0, 1.0)
    assert sorption.water_activity(moist, 0.1, 0.0, 1.0, sugar=1e-9) == pytest.approx(plain, abs=1e-7)


@given(st.floats(0.01, 0.3))
def test_without_flesh_it_is_brine(salt):
    brine = solutions.nacl_water_activity(salt / (1.0 + salt))
    assert sorption.water_activity(1.0, salt, 0.0, 0.0) == pytest.approx(brine, abs=5e-5)


@given(st.lists(st.tuples(water, salt, factors, steepness, temperatures, st.floats(0.05, 1.3)), min_size=1, max_size=8))
def test_the_quick_isotherm_agrees_with_the_exact_one(members):
    x, ratio, factor, k, temperature, native = np.array(members).T
    quick = sorption.isotherm(ratio, factor, k, native).water_activity(x, temperature)
    exact = sorption.water_activity(x, ratio, 0.0, 1.0, temperature, protein_factor=factor, gab_k=k, native=native)
    assert quick == pytest.approx(exact, abs=0.001)


@example(0.3125, 0.03125, 1.0, 5.0, 1.0)  # at the corner of a short plateau
@given(st.floats(0.05, 4.0), salt, factors, st.floats(5.0, 75.0), st.floats(0.1, 1.3))
def test_slope_and_net_heat_are_those_of_the_curve(x, ratio, factor, temperature, native):
    curve = sorption.isotherm(ratio, factor, native=native, turns=5)
    activity, slope, heat = curve.state(np.array([x]), temperature)
    assert activity == pytest.approx(curve.water_activity(np.array([x]), temperature), abs=1e-6)
    if activity[0] > 0.9999:
        return
    step = 1e-5 * x
    rise = (curve.water_activity(x + step, temperature) - curve.water_activity(x - step, temperature)) / (2.0 * step)
    assert slope[0] == pytest.approx(rise, rel=1e-3, abs=3e-4)  # on the plateau nearly level
    warm, cool = (1.0 / (temperature + 273.15 + change) for change in (0.01, -0.01))
    logs = [np.log(curve.water_activity(x, temperature + change)) for change in (0.01, -0.01)]
    by_definition = -sorption.GAS_CONSTANT * (logs[0] - logs[1]) / (warm - cool)
    assert heat[0] == pytest.approx(by_definition, rel=2e-3, abs=2.0)


@given(st.floats(0.0001, 0.6), factors, st.floats(0.1, 1.3))
def test_the_quick_isotherm_is_smooth_over_the_plateau(ratio, factor, native):
    x = np.geomspace(0.05, 4.0, 4001)
    activity, slope, _ = sorption.isotherm(ratio, factor, native=native).state(x, 25.0)
    assert activity == pytest.approx(sorption.isotherm(ratio, factor, native=native).water_activity(x, 25.0), abs=1e-12)
    assert np.all(np.diff(activity) > 0.0)
    assert np.all(slope > 0.0)
    assert np.abs(np.diff(activity)).max() < 0.005


def test_the_anchors_are_met():
    """25 % moisture stops bacteria, 15 % moulds: common practice (anchovy_drying, read); the curve was chosen so."""
    for moisture, activity, _ in sorption.ANCHORS:
        assert sorption.water_activity(moisture, 0.0, 0.0, 1.0 - moisture) == pytest.approx(activity, abs=0.0101)


def test_the_form_of_the_curve_hardly_matters():
    """Oswin and Halsey through the same points at 25 and 15 % moisture lie within 0.013 from 0.6 to 0.97."""
    activity = np.linspace(0.60, 0.97, 38)
    moist, dry = (sorption.water_activity(one, 0.0, 0.0, 1.0) for one in (0.25 / 0.75, 0.15 / 0.85))
    rise = np.log((0.25 / 0.75) / (0.15 / 0.85))
    oswin = rise / np.log(moist / (1.0 - moist) * (1.0 - dry) / dry)
    halsey = rise / np.log(np.log(dry) / np.log(moist))
    held = {
        "oswin": 0.25 / 0.75 * (activity / (1.0 - activity) * (1.0 - moist) / moist) ** oswin,
        "halsey": 0.25 / 0.75 * (np.log(moist) / np.log(activity)) ** halsey,
    }
    for moisture in held.values():
        assert sorption.water_activity(moisture, 0.0, 0.0, 1.0) == pytest.approx(activity, abs=0.013)


def net_heat(moisture):
    return sorption.isotherm(0.0, turns=5).state(np.array([moisture]), 25.0)[2][0]


def test_net_heat_of_dry_flesh_is_near_the_published_one():
    """sardine_isotherm (fat-free basis): 12.07 kJ/mol; the constant behind it was chosen here and on the next ones."""
    assert net_heat(0.0276 / 0.9) == pytest.approx(12_070.0, rel=0.25)


@pytest.mark.parametrize(
    ("moisture", "heat", "part"),
    [(0.375 / 0.9, 0.86, 0.21), (0.12, 3.5, 0.56), (0.2222, 1.7, 0.41), (0.4325, 0.7, 0.24)],
    ids=["sardine_moist", "crayfish", "hairtail_dry", "hairtail_moist"],
)
def test_net_heats_of_moist_flesh_are_a_known_part_of_the_published_ones(moisture, heat, part):
    """kJ/mol: sardine_isotherm, crayfish_isotherm, hairtail_isotherm less 43.9 for water (30 °C); none: beef_temperature.

    Moist flesh holds much of its water by solutes, whose activity hardly depends on the temperature, so only the heat
    of the protein's own water is left: a fifth to a half of what was read on fish, where beef shows none at all.
    """
    assert net_heat(moisture) == pytest.approx(1000.0 * part * heat, rel=0.25)
    assert 0.0 < net_heat(moisture) < 1000.0 * heat


def test_colder_stockfish_holds_a_little_more_water():
    """stockfish_2017: 5 % more water at 3 than at 20 °C in air of 80 % (points or per cent is not clear)."""
    cold, warm = (sorption.water_for(0.80, 0.0, 0.0, 1.0, degrees) for degrees in (3.0, 20.0))
    assert 1.02 < cold / warm < 1.06


def test_fish_is_as_moist_as_the_additive_rule_says():
    """Moisture for 0.85: 26 % unsalted, 41 % with 0.10 salt per dry matter, 55 % with 0.30 (worked by hand).

    Protein 0.144 (GAB), native solutes 1.8 x 0.018015 / 0.16252 = 0.1995, and brine of 19.08 %: 4.24 kg water per kg
    salt; so 0.344, 0.768, 1.616 over 1 + salt + water.
    """
    salts = np.array([0.0, 0.10, 0.30])
    held = sorption.water_for(0.85, salts, 0.0, 1.0)
    by_hand = np.array([0.344, 0.768, 1.616])
    assert held == pytest.approx(by_hand, abs=0.002)
    assert held / (1.0 + salts + held) == pytest.approx([0.256, 0.411, 0.554], abs=0.001)


def test_the_product_rule_is_never_used_to_look_drier():
    """At 16 % moisture and 4 % salt the product rule says 0.61, the additive more: the verdict must not take 0.61."""
    dry = (0.16, 0.04, 0.02, 0.78)
    additive = sorption.water_activity(*dry)
    unsalted = sorption.water_activity(0.16, 0.0, 0.06, 0.78)
    assert unsalted * solutions.nacl_water_activity(0.2) < 0.63 < additive
    assert sorption.water_activity_cautious(*dry, native=1.0) == pytest.approx(
        additive + sorption.CAUTION_MARGIN, abs=1e-12
    )
    moist = sorption.water_activity_cautious(0.65, 0.05, 0.02, 0.28)
    assert moist > sorption.water_activity(0.65, 0.05, 0.02, 0.28) + sorption.CAUTION_MARGIN + 0.005


@given(water, salt, st.floats(0.0, 0.5), st.floats(0.0, 0.3), natives, natives, factors, steepness)
def test_a_verdict_never_reads_less_than_any_estimate_with_the_same_native_solutes_or_more(
    x, ratio, fat, sugar, one, other, factor, k
):
    few, many = sorted((one, other))
    kinds = {"protein_factor": factor, "gab_k": k}
    estimate = sorption.water_activity(x, ratio, fat, 1.0, sugar=sugar, native=many, **kinds)
    cautious = sorption.water_activity_cautious(x, ratio, fat, 1.0, native=few, **kinds)
    assert cautious >= min(estimate + sorption.CAUTION_MARGIN, 1.0) - 1e-9
    brine = solutions.nacl_water_activity(ratio / (ratio + x))
    product = brine * sorption.water_activity(x, 0.0, fat, 1.0, native=few, **kinds)
    assert cautious >= min(product + sorption.CAUTION_MARGIN, 1.0) - 1e-9


@given(water, salt, natives)
def test_a_verdict_that_is_not_told_of_native_solutes_counts_on_none(x, ratio, native):
    told_nothing = sorption.water_activity_cautious(x, ratio, 0.1, 1.0)
    assert told_nothing == sorption.water_activity_cautious(x, ratio, 0.1, 1.0, native=0.0)
    assert told_nothing >= sorption.water_activity_cautious(x, ratio, 0.1, 1.0, native=native) - 1e-9


@given(st.floats(0.02, 2.5), natives)
def test_fish_stays_on_the_plateau_while_salt_lies_there_undissolved(x, native):
    """Salt for more than the saturated brine of all the water: 0.3595 kg per kg (crc_solubility, 26.4 %)."""
    assert sorption.water_activity(x, 0.37 * x + 0.01, 0.1, 1.0, native=native) <= PLATEAU + 1e-6


@pytest.mark.parametrize("place", range(4), ids=["water", "salt", "fat", "solids"])
@pytest.mark.parametrize("wrong", [-0.1, np.nan, np.inf])
def test_impossible_masses_are_refused(place, wrong):
    masses = [0.5, 0.1, 0.1, 0.3]
    masses[place] = wrong
    name = ("water", "salt", "fat", "solids")[place]
    for function in (sorption.water_activity, sorption.water_activity_cautious):
        with pytest.raises(ValueError, match=f"{name} = "):
            function(*masses)


def test_other_impossible_inputs_are_refused():
    with pytest.raises(ValueError, match="all 0"):
        sorption.water_activity(0.0, 0.0, 0.0, 0.0)
    with pytest.raises(ValueError, match=r"water_activity = 1\.2"):
        sorption.water_for(1.2, 0.1, 0.0, 1.0)
    with pytest.raises(ValueError, match="temperature"):
        sorption.water_activity(0.5, 0.1, 0.1, 0.3, temperature=400.0)
    with pytest.raises(ValueError, match="protein_factor"):
        sorption.isotherm(0.1, -1.0)
    for function in (sorption.water_activity, sorption.water_activity_cautious):
        with pytest.raises(ValueError, match=r"native = -0\.1"):
            function(0.5, 0.1, 0.1, 0.3, native=-0.1)


def test_shapes():
    assert np.ndim(sorption.water_activity(0.5, 0.1, 0.1, 0.3)) == 0
    assert np.ndim(sorption.water_for(0.8, 0.1, 0.1, 0.3)) == 0
    assert np.ndim(sorption.water_activity(0.5, 0.1, 0.1, 0.3, sugar=0.1)) == 0
    classes, members = np.array([[0.3], [0.5], [0.7]]), np.linspace(0.8, 1.2, 5)
    for function in (sorption.water_activity, sorption.water_activity_cautious):
        assert function(classes, 0.05, 0.05, 0.3, protein_factor=members).shape == (3, 5)
    sweet = sorption.water_activity(classes, 0.05, 0.05, 0.3, sugar=0.1, protein_factor=members)
    assert sweet.shape == (3, 5)
    assert sweet[1, 2] == pytest.approx(sorption.water_activity(0.5, 0.05, 0.05, 0.3, sugar=0.1), abs=1e-10)


def test_one_member_that_is_not_known_does_not_dry_out_the_others():
    curve = sorption.isotherm(np.array([0.15, 0.15]))
    told = curve.water_activity(np.array([np.nan, 3.0]), 25.0)
    assert np.isnan(told[0])
    assert told[1] == pytest.approx(sorption.water_activity(3.0, 0.15, 0.0, 1.0), abs=1e-3)


@pytest.mark.parametrize("native", [0.1, 1.0])
def test_a_moisture_that_rounding_put_below_nothing_is_dry(native):
    curve = sorption.isotherm(np.array([0.0, 0.15]), native=native)
    assert curve.water_activity(np.array([-1e-9, -1e-9]), 25.0) == pytest.approx([0.0, 0.0], abs=1e-6)


@given(water, salt, temperatures, natives, st.floats(0.6, 1.6))
def test_where_laboratories_differ_the_flesh_counts_as_moister_or_drier(x, ratio, temperature, native, factor):
    told = sorption.water_activity(x, ratio, 0.1, 1.0, temperature, native=native, flesh_water=factor)
    assert told == sorption.water_activity(factor * x, ratio, 0.1, 1.0, temperature, native=native)
    held = sorption.water_for(0.8, ratio, 0.1, 1.0, temperature, native=native, flesh_water=factor)
    assert factor * held == pytest.approx(sorption.water_for(0.8, ratio, 0.1, 1.0, temperature, native=native))


@given(water, salt, natives, st.floats(0.6, 1.6))
def test_a_verdict_reads_the_margin_or_how_laboratories_differ_whichever_is_more(x, ratio, native, factor):
    flesh = (x, ratio, 0.1, 1.0)
    cautious = sorption.water_activity_cautious(*flesh, native=native, flesh_water=factor)
    margin = sorption.water_activity_cautious(*flesh, native=native)
    spread = sorption.water_activity_cautious(factor * x, ratio, 0.1, 1.0, native=native, margin=0.0)
    assert cautious == pytest.approx(max(margin, spread), abs=1e-12)


def test_on_the_plateau_it_says_nothing_where_laboratories_differ():
    told = sorption.water_activity(0.5, 0.4, 0.0, 1.0, native=0.0, flesh_water=np.array([0.8, 1.0, 1.25]))
    assert told == pytest.approx(PLATEAU, abs=1e-9)
    with pytest.raises(ValueError, match="flesh_water"):
        sorption.water_activity(0.5, 0.4, 0.0, 1.0, flesh_water=0.0)


@given(st.floats(0.3, 0.97), salt, st.floats(0.0, 1.0), temperatures, st.floats(0.05, 1.5))
def test_an_evened_out_piece_is_as_moist_as_its_mean_however_its_salt_lies(activity, salt, apart, temperature, native):
    """Salt and native solutes hold water in proportion: two halves at one water activity are the mean piece."""
    own = [salt * (1.0 - apart), salt * (1.0 + apart)], [native * (1.0 + 0.3 * apart), native * (1.0 - 0.3 * apart)]
    held = [
        sorption.water_for(activity, one, 0.0, 1.0, temperature, native=part) for one, part in zip(*own, strict=True)
    ]
    as_one = sorption.water_activity(np.mean(held), salt, 0.0, 1.0, temperature, native=native)
    assert as_one == pytest.approx(activity, abs=2e-3)  # the plateau of each half lies a little elsewhere
