"""A bath must be one: water enough for the fish, and no more sugar than water can hold."""

from dataclasses import replace

import numpy as np
import pytest

from flakeyard.steps.chain import salting
from flakeyard.steps.chain.fish import prepare_fish
from flakeyard.steps.chain.freshening import freshen
from flakeyard.steps.intent.records import Freshen, Ingredient, Portion, Soak
from flakeyard.steps.intent.spread import Draws
from flakeyard.units import InputError
from flakeyard.workbook.own import demo_batch

HERON, DRAWS = demo_batch("heron"), Draws(8)
RAW = salting.raw(prepare_fish(HERON, DRAWS))


def wet(**amounts: float) -> Soak:
    """A wet brine of so many kilograms."""
    rows = tuple(Ingredient(what=what.replace("_", " "), amount=Portion(mass=mass)) for what, mass in amounts.items())
    return replace(HERON.brine, ingredients=rows)


@pytest.mark.parametrize(
    ("soak", "words"),
    [(wet(water=0.0005, salt=0.0001), "far too little"), (wet(water=1.0, sugar=11.0), "cannot dissolve")],
)
def test_what_is_no_bath_is_refused_by_name(soak, words):
    with pytest.raises(InputError, match=words) as caught:
        salting.cure(RAW, soak, DRAWS, "presoak")
    assert caught.value.field == "[[presoak.ingredient]]"


def test_freshening_needs_water():
    drops = Freshen(water=Portion(mass=0.001), time=3600.0, temperature=4.0)
    with pytest.raises(InputError, match=r"\[\[freshen\]\] water.*far too little"):
        freshen(salting.cure(RAW, HERON.brine, DRAWS), drops, DRAWS)


@pytest.mark.parametrize("soak", [wet(water=0.002, salt=0.0005), wet(water=1.0, sugar=9.9)])
def test_an_odd_bath_that_can_be_is_computed(soak):
    cured = salting.cure(RAW, soak, DRAWS)
    assert np.all(np.isfinite(cured.salt.mean)) and np.all(cured.flesh.water > 0)


def kept(cured) -> tuple[float, float]:
    """Weight and water of the load over those of the raw fish, in the middle."""
    water = salting.CLASS_WEIGHTS @ cured.flesh.water / (salting.CLASS_WEIGHTS @ RAW.flesh.water)
    return float(np.median(cured.mass / RAW.mass)), float(np.median(water))


def test_sugar_draws_water_and_strong_syrup_keeps_its_sugar_out():
    """A kilogram of sugar in Heron's brine made the fish 25 % heavier when sugar drew nothing and went in freely."""
    plain, sweet = (kept(salting.cure(RAW, wet(water=1.8, salt=0.16, **more), DRAWS)) for more in ({}, {"sugar": 1.0}))
    assert sweet[1] < plain[1] and sweet[0] < 1.15
    weight, water = kept(salting.cure(RAW, wet(water=1.8, sugar=1.0), DRAWS))
    assert water < 0.99 and weight < 1.10


def test_without_sugar_nothing_draws_but_salt_and_without_time_nothing_does():
    assert salting.cure(RAW, wet(water=1.8, salt=0.16), DRAWS).pull is RAW.pull
    sweet, plain = (
        kept(salting.cure(RAW, replace(wet(water=1.8, **more), time=0.0), DRAWS)) for more in ({"sugar": 1.0}, {})
    )
    assert sweet[1] == pytest.approx(plain[1], abs=1e-9)


@pytest.mark.parametrize("sugar", [0.01, 0.3, 1.5])
def test_the_pickle_of_a_dry_cure_is_its_sugar_in_the_water_it_drew(sugar):
    soak = replace(wet(salt=0.1, sugar=sugar), method="dry", time=40 * 3600.0)
    cured = salting.cure(RAW, soak, DRAWS)
    drawn = RAW.flesh.water - salting._held(cured, DRAWS)[0]
    dose = sugar / RAW.fish.mass
    full = cured.pull.mean / salting._pull_of(cured.brine, DRAWS)  # after 40 h the flesh is pulled as by its pickle
    np.testing.assert_allclose(full, np.minimum(dose / np.maximum(drawn, 1e-9), salting.SYRUP_FULL), rtol=0.05)
    assert np.all(
        cured.flesh.water < salting.cure(RAW, replace(wet(salt=0.1), method="dry", time=40 * 3600.0), DRAWS).flesh.water
    )


def test_plain_water_takes_the_pull_of_sugar_back():
    sweet = salting.cure(RAW, wet(water=1.8, sugar=1.0), DRAWS)
    soaked = freshen(sweet, Freshen(water=Portion(mass=8.0), time=48 * 3600.0, temperature=4.0), DRAWS)
    assert np.all(soaked.pull.mean < 0.1 * sweet.pull.mean) and kept(soaked)[1] > kept(sweet)[1]


@pytest.mark.parametrize(("water", "told"), [(0.5, True), (1.2, False)])
def test_a_bath_that_may_not_cover_the_fish_is_told(water, told):
    """Heron's 1.8 kg of fish are 1.7 L; half of that is where the words begin."""
    brined = salting.cure(RAW, wet(water=water, salt=0.05), DRAWS)
    soak = Freshen(water=Portion(mass=water), time=3600.0, temperature=4.0)
    for notes in (brined.notes, freshen(RAW, soak, DRAWS).notes):
        assert any("may not cover" in note for note in notes) == told
    dry = salting.cure(RAW, replace(wet(salt=0.1), method="dry"), DRAWS).notes
    assert not any("may not cover" in note for note in dry)


def test_strong_brine_draws_from_the_rim_and_its_water_is_booked():
    """Brine of 24 %: lighter in the first hour by the draws that draw most; weaker brine and dry salt are as they were."""
    strong = salting.cure(RAW, replace(wet(water=6.0, salt=1.9), time=1800.0), DRAWS)
    still = replace(DRAWS, fixed={"drawn from the rim": np.zeros(DRAWS.members)})
    even = salting.cure(RAW, replace(wet(water=6.0, salt=1.9), time=1800.0), still)
    assert np.all(strong.flesh.water <= even.flesh.water) and np.mean(even.mass - strong.mass) > 0.01 * RAW.fish.mass
    for found in (strong, even):
        water = found.flesh.water + found.bath.water
        np.testing.assert_allclose(water, RAW.flesh.water + found.brine.water / RAW.fish.mass, rtol=1e-12)
        salt = found.flesh.salt + found.bath.salt
        np.testing.assert_allclose(salt, RAW.flesh.salt + found.brine.salt / RAW.fish.mass, rtol=1e-9)
    for soak in (wet(water=1.8, salt=0.3), replace(wet(salt=0.3), method="dry")):
        np.testing.assert_array_equal(salting.cure(RAW, soak, DRAWS).mass, salting.cure(RAW, soak, still).mass)


def test_the_weight_after_dry_salting_is_told_and_lies_where_published_yields_do():
    """Salted through, a trimmed fish keeps 62 to 92 % of its weight (FS1 to FS5, what was cut away taken off)."""
    soak = replace(wet(salt=0.8), method="dry", time=10 * 24 * 3600.0)
    cured = salting.cure(RAW, soak, DRAWS)
    share = 100 * np.median(cured.mass / RAW.mass)
    assert f"should weigh about {share:.0f} %" in cured.notes[-1]
    assert 62 < share < 92
