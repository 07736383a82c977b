"""What is not asked cannot matter: over random batches every answer to it gives the same verdict."""

import functools
import random
from dataclasses import replace

import pytest
from random_batches import random_typed

from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.plan.judging import judge
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook import unasked
from flakeyard.workbook.so_far import Story

MEMBERS = 12


def stories(count: int, seed: int):
    """Random batches with few warm hours, of which it is not told how many were very warm."""
    luck = random.Random(seed)
    for _ in range(count):
        typed = random_typed(luck)
        fish = {key: one for key, one in typed["fish"].items() if key not in ("hours_above_21c", "warmest")}
        if luck.random() < 0.5:  # heated so that it counts: then the hours before it stand alone
            typed["heat"] = {"core": "75 °C", "hold": "2 min", "checked": "probe"}
        yield Story(typed | {"fish": fish | {"hours_above_4c": round(luck.uniform(0.1, 1.0), 2)}})


@pytest.mark.parametrize("count", [10, pytest.param(300, marks=pytest.mark.slow)])
def test_no_answer_would_have_changed_the_verdict(monkeypatch, count):
    monkeypatch.setattr(unasked, "plan", functools.partial(plan, members=MEMBERS))
    decided = 0
    for story in stories(count, seed=17):
        assert unasked.may_not_matter(story)
        told = unasked.counted(story)
        if told is None:
            continue
        decided += 1
        hours = told.get(unasked.PLACE)
        assert hours == story.get("fish.hours_above_4c") and unasked.PLACE in told.notes
        outcome = plan(read_batch(told.typed), MEMBERS)
        for very_warm in (0.0, hours / 2, hours):
            for warmest in (None, 5.0, 30.0, 55.0):
                fish = replace(outcome.batch.fish, hours_above_21c=very_warm, warmest=warmest)
                verdict = judge(replace(outcome.batch, fish=fish), outcome.laid, outcome.load).verdict
                assert (verdict.keep, verdict.eat) == (outcome.verdict.keep, outcome.verdict.eat)
    assert decided > count / 2


def test_many_warm_hours_or_none_are_asked():
    for hours in (0, 1.5, 30):
        assert not unasked.may_not_matter(Story({"fish": {"hours_above_4c": hours}}))
    assert (
        not unasked.may_not_matter(Story({"fish": {}}))
        and unasked.counted(Story({"fish": {"hours_above_4c": 1}})) is None
    )
