"""Changes that mend a refused plan: each promise is what the whole plan says of the changed batch."""

from dataclasses import replace

import pytest

from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.plan import mending
from flakeyard.steps.plan.plan import plan
from flakeyard.steps.plan.ways import grants

WILD = {
    "fish": {"species": "saithe", "raw_weight": "3 kg", "origin": "wild", "stock": "fresh", "hours_above_4c": 4, "hours_above_21c": 0, "gutted": True, "smells_normal": True},
    "cut": {"form": "fillets", "thickness": "2 cm", "thinnest": "5 mm", "thickest": "2.5 cm", "skin": "one side"},
    "brine": {"method": "dry", "time": "12 h", "temperature": "5 °C", "ingredient": [{"what": "coarse sea salt", "amount": "500 g"}]},
    "dryer": {"temperature": "50 °C", "trays": 2, "tray_area": "45 x 35 cm", "heater": "3 kW", "moving": "fan"},
    "keep": {"place": "cupboard", "pack": "glass jar"},
}  # fmt: skip


@pytest.fixture(scope="module")
def batch():
    return read_batch(WILD)


def test_all_reasons_are_mended_at_once_and_the_promise_is_kept(batch):
    outcome = plan(batch)
    assert not grants(outcome.verdict, "cupboard")
    found = list(mending.mends(outcome))
    assert found
    for mend in found:
        steps = [one for steps in mending._sets(batch) for one in steps if one.words in mend.changes]
        changed = mending._with(batch, {one.words: one for one in steps}.values())
        keep = replace(changed.keep, place=mend.way.place, pack=mend.way.pack)
        again = plan(replace(changed, keep=keep))
        assert grants(again.verdict, mend.way.place) and again.verdict.eat == mend.way.eat
        assert again.keep.days == mend.way.days


def test_what_does_not_help_is_left_out_and_farmed_fish_is_not_frozen(batch):
    farmed = replace(batch, fish=replace(batch.fish, origin="farmed"))
    words = {one.words for steps in mending._sets(farmed) for one in steps}
    assert not any("freeze it" in one for one in words) and any("thinner" in one for one in words)
    found = next(mending.mends(plan(batch)))
    assert len(found.changes) < max(map(len, mending._sets(batch)))


def test_warm_hours_that_are_over_cannot_be_mended(batch):
    late = replace(batch, fish=replace(batch.fish, hours_above_4c=60.0, hours_above_21c=30.0, warmest=30.0))
    assert not list(mending.mends(plan(late, 20)))


def test_half_of_the_fish_takes_half_of_all_that_goes_in(batch):
    (step,) = mending._halved(batch)
    half = step(batch)
    assert half.fish.raw_weight == batch.fish.raw_weight / 2
    assert half.brine.ingredients[0].amount.mass == batch.brine.ingredients[0].amount.mass / 2
