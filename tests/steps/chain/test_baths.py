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
