"""Who asks for a cupboard and does not get it is told what a cupboard would take, and what is in the way."""

from dataclasses import replace

import pytest
from test_why_days import COD

from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook import begin_ending, cupboard_takes

SALMON = COD | {"fish": COD["fish"] | {"species": "Atlantic salmon, farmed"}}


def test_a_refused_cupboard_says_what_it_would_take_and_what_is_missing():
    outcome = plan(read_batch(SALMON), 40)
    assert outcome.verdict.keep == "freezer"
    said = [one for one in begin_ending.ending(outcome, "metric") if isinstance(one, str)]
    (line,) = [one for one in said if one.startswith("What a cupboard takes: ")]
    assert "0.70 by the estimate" in line and "0.80 at most" in line and "Here the cautious end is" in line
    late = replace(outcome, facts=replace(outcome.facts, target_reached=False))
    assert "of the weight as laid, and it is not sure to get there (about 4 h)" in cupboard_takes.takes(
        late, "about 4 h"
    )
    colder = plan(read_batch(SALMON | {"keep": {"place": "freezer", "pack": "glass jar"}}), 20)
    granted = plan(read_batch(COD), 40)
    for one in (colder, granted):
        assert not cupboard_takes.refused_there(one)
    nowhere = replace(outcome, verdict=replace(outcome.verdict, keep="nowhere"))
    assert not cupboard_takes.refused_there(nowhere)


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"target_reached": True, "water_activity_cautious": 0.8101}, "the cautious end is 0.82: dry it further"),
        ({"target_reached": True, "water_activity_cautious": 0.81, "brine_stays": True}, "brine stands at 0.75"),
        ({"target_reached": True, "water_activity_cautious": None}, "is not known"), ({"cupboard_outside": ("cold",)}, "no cupboard can be judged"),
    ],
)  # fmt: skip
def test_what_is_missing_is_what_the_rules_miss(facts, said):
    outcome = plan(read_batch(SALMON), 20)
    assert said in cupboard_takes.takes(replace(outcome, facts=replace(outcome.facts, **facts)), "about 4 h")
