"""The answer that would help most: it is one that was left open, it is better than none, and it is no verdict."""

import random
from dataclasses import replace

import pytest
from random_batches import random_typed

from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.intent.fields import FIELDS
from flakeyard.steps.plan import next_answer as module
from flakeyard.steps.plan.next_answer import Fact, mildness, next_answer, untold
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook.own import demo_batch

MEMBERS = 12


def heron(section: str, **changes):
    batch = demo_batch("heron")
    return replace(batch, **{section: replace(getattr(batch, section), **changes)})


def found(batch):
    return next_answer(batch, MEMBERS)


def test_every_best_answer_is_one_that_a_file_may_hold():
    for section, typed in module.BEST:
        for key, value in typed.items():
            assert FIELDS[section][key].read(value, key) is not None
    keys = {key for _, typed in module.BEST for key in typed}
    assert set(module.ONLY_RULES) | set(module.NEEDS) <= keys


@pytest.mark.parametrize(
    ("section", "key"),
    [("fish", "gutted"), ("fish", "smells_normal"), ("heat", "checked"), ("heat", "hold"), ("fish", "hours_above_4c")],
)
def test_the_one_fact_that_stands_in_the_way_is_found(section, key):
    also = {"hours_above_21c": None} if key == "hours_above_4c" else {}
    batch = heron(section, **{key: None}, **also)
    answer = found(batch)
    assert (answer.fact.section, answer.fact.key, answer.alone) == (section, key, True)
    assert mildness(answer.verdict, batch) > mildness(plan(batch, MEMBERS).verdict, batch)


def test_where_several_stand_in_the_way_the_first_is_named_with_what_all_of_them_earn():
    batch = heron("fish", gutted=None, smells_normal=None, hours_above_4c=None, hours_above_21c=None)
    answer = found(batch)
    assert not answer.alone and answer.fact.key == "gutted"
    assert answer.verdict.keep == plan(demo_batch("heron"), MEMBERS).verdict.keep


def test_where_all_is_told_no_answer_is_named():
    assert found(heron("dryer", fresh_air=None)) is None
    assert found(heron("fish", gutted=False)) is None


def test_the_kind_of_fish_is_a_fact_like_others():
    batch = heron("fish", species=None, water=0.73, protein=0.2, fat=0.06)
    assert found(batch).fact.key == "species"


def test_waters_decide_for_a_fish_of_reefs():
    batch = heron("fish", species="sea bass", fat=None)
    assert found(batch).fact == Fact("fish", {"waters": "cold or temperate"})


@pytest.mark.parametrize("number", range(8))
def test_what_was_told_is_never_changed_and_never_named(number):
    batch = read_batch(random_typed(random.Random(number), told=0.5))
    for fact in untold(batch):
        assert getattr(getattr(batch, fact.section), fact.key) is None
        changed = fact.put_in(batch)
        for section in ("fish", "cut", "dryer", "room", "keep", "heat"):
            before, after = getattr(batch, section), getattr(changed, section)
            kept = before and {key: value for key, value in vars(before).items() if value is not None}
            assert not kept or {key: getattr(after, key) for key in kept} == kept


@pytest.mark.parametrize("number", range(5))
def test_no_answer_makes_it_worse(number):
    batch = read_batch(random_typed(random.Random(100 + number), told=0.6))
    answer = found(batch)
    if answer is not None:
        assert mildness(answer.verdict, batch) > mildness(plan(batch, MEMBERS).verdict, batch)
        assert answer.fact in untold(batch)
