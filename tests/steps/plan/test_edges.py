"""At the edges of the physics: already dry, air that gives water, meters that only count up, labels that do not add up."""

import random
from dataclasses import replace

import numpy as np
import pytest
from random_batches import odd_typed, random_typed

from flakeyard.steps.intent.batch_file import read_batch, with_typed
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook.own import demo_batch

HERON = demo_batch("heron")


def notes(batch) -> str:
    return " ".join(plan(batch, members=20).notes)


@pytest.mark.parametrize("fat", [6, 20, 30])
def test_no_weight_to_stop_at_lies_above_the_weight_as_laid(fat):
    batch = with_typed(with_typed(HERON, "fish", fat=fat), "keep", target_moisture=60)
    outcome = plan(batch, members=20)
    assert outcome.drying["mass_ratio"].mid <= 1.0 and outcome.drying["target_mass_kg"].high <= outcome.salted["mass_kg"].high + 1e-9  # fmt: skip
    assert ("Already that dry" in " ".join(outcome.notes)) == (outcome.drying["mass_ratio"].mid == 1.0)


def test_fish_that_is_drier_than_its_aim_is_told_so():
    oily = with_typed(HERON, "fish", water=58, protein=18, fat=22.6, ash=1.4)
    assert "Already that dry" in notes(with_typed(oily, "keep", target_moisture=60))
    assert "Already that dry" not in notes(HERON)


def test_air_that_gives_water_to_the_fish_is_told():
    damp = replace(
        HERON,
        dryer=replace(HERON.dryer, temperature=22.0),
        room=replace(HERON.room, temperature=32.0, relative_humidity=0.9),
    )
    assert "takes up water" in notes(damp) and "takes up water" not in notes(HERON)


def test_a_composition_that_does_not_add_up_is_told():
    assert "adds up to 103 %" in notes(with_typed(HERON, "fish", water=76, protein=19.6, fat=6.2, ash=1.2))
    assert "adds up to" not in notes(with_typed(HERON, "fish", water=73, protein=19.6, fat=6.2, ash=1.2))


@pytest.mark.parametrize("number", range(24))
def test_a_heater_never_gives_energy_back_and_no_piece_holds_less_salt_than_none(number):
    luck = random.Random(number)
    outcome = plan(read_batch(odd_typed(luck) if number % 2 else random_typed(luck)), members=8)
    assert np.all(np.nan_to_num(np.diff(outcome.load.result.heater_energy, axis=-1)) >= 0)
    assert outcome.cured.salt.values.min() >= -1e-12 and outcome.cured.sugar.values.min() >= -1e-12
    assert outcome.drying["mass_ratio"].mid <= 1.0
