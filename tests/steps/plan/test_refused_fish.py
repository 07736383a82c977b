"""Fish that purge or poison, fish of warm reefs, and curing salts, from the batch file to the verdict."""

from pathlib import Path

import pytest

from flakeyard import refused
from flakeyard.steps.intent.batch_file import parse_batch
from flakeyard.steps.plan.plan import plan
from flakeyard.units import InputError

HERON = (Path(__file__).parents[3] / "data_demo" / "heron.toml").read_text(encoding="utf-8")
SPECIES = 'species = "rainbow trout, farmed"'
OWN = "water = 72\nprotein = 19"  # with the fat of the file
SALT = 'what = "pickling salt"'


def changed(old: str, new: str) -> str:
    assert old in HERON
    return HERON.replace(old, new, 1)


def judged(species: str, more: str = ""):
    return plan(parse_batch(changed(SPECIES, f'species = "{species}"\n{more}')), members=12).verdict


@pytest.mark.parametrize("name", ["escolar", "oilfish", "Ruvettus pretiosus", "snake mackerel"])
def test_fish_that_purges_is_planned_and_refused_in_its_own_words(name):
    verdict = judged(name, OWN)
    assert (verdict.keep, verdict.eat) == ("nowhere", "no")
    assert refused.row_of("wax_fish").why in [reason.text for reason in verdict.reasons]


@pytest.mark.parametrize("name", ["escolar", "oilfish"])
def test_without_a_composition_its_warning_is_the_reason(name):
    with pytest.raises(InputError, match="Do not use this fish"):
        parse_batch(changed(SPECIES, f'species = "{name}"'))


@pytest.mark.parametrize("name", ["fugu", "walu", "redfish", "grouper", "escolr", "butterfish"])
def test_a_name_with_something_against_it_gets_no_other_name(name):
    for more in ("", OWN):
        with pytest.raises(InputError) as caught:
            parse_batch(changed(SPECIES, f'species = "{name}"\n{more}'))
        assert refused.fish(name).why in caught.value.why and "trout" not in str(caught.value)


@pytest.mark.parametrize("name", ["sea bass", "snapper", "yellowtail", "amberjack", "Pacific mackerel"])
def test_kin_of_reef_fish_depend_on_the_waters(name):
    told = judged(name)
    assert "waters" in told.unknown and "not_known" in (told.keep, told.eat)
    assert judged(name, 'waters = "tropical or reef"').eat == "no"
    cold = judged(name, 'waters = "cold or temperate"')
    assert cold.eat == "ready" and "waters" not in cold.unknown
    assert not any(reason.rule == "G5" for reason in cold.reasons)


def test_other_fish_do_not_ask_for_the_waters():
    assert judged("Atlantic cod").eat == judged("Atlantic cod", 'waters = "tropical or reef"').eat == "ready"


@pytest.mark.parametrize("name", ["curing salt", "Cure #1", "cure #2", "pink curing salt", "prague powder", "E250"])
def test_a_curing_salt_is_refused_with_its_reason_and_no_other_salt_is_guessed(name):
    for text in (changed(SALT, f'what = "{name}"'), HERON + f'\n[presoak]\ntime = "1 h"\ntemperature = "3 °C"\n[[presoak.ingredient]]\nwhat = "{name}"\namount = "5 g"\n'):  # fmt: skip
        with pytest.raises(InputError, match="Curing salts with nitrite or nitrate are not used here") as caught:
            parse_batch(text)
        assert "ingredient 1] what" in caught.value.field
        assert "did you mean" not in str(caught.value) and '"pickling salt"' not in str(caught.value)


def test_pink_salt_is_a_question_that_has_an_answer():
    for name in ("pink salt", "pink rock salt", "Himalayan salt"):
        with pytest.raises(InputError, match="call it rock salt") as caught:
            parse_batch(changed(SALT, f'what = "{name}"'))
        assert "did you mean" not in str(caught.value)
    assert parse_batch(changed(SALT, 'what = "rock salt"')).brine.ingredients[0].record.salt == 0.985
