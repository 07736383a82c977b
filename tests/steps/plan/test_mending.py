"""Changes that mend a refused plan: each promise is what the whole plan says of the changed batch."""

from dataclasses import replace

import pytest

from flakeyard.steps.intent.batch_file import read_batch, written
from flakeyard.steps.intent.places import put
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


@pytest.fixture(autouse=True)
def few_members(monkeypatch):
    monkeypatch.setattr(mending, "MEMBERS", 20)
    monkeypatch.setattr(mending, "TRIED", 20)


@pytest.fixture(scope="module")
def batch():
    return read_batch(WILD)


def after(batch, mend):
    """The plan of the file that a mend makes."""
    return plan(read_batch(put(written(batch), mend.told)), 20)


def test_all_reasons_are_mended_at_once_and_the_promise_is_kept(batch):
    outcome = plan(batch, 20)
    assert not grants(outcome.verdict, "cupboard")
    found = list(mending.mends(outcome))
    assert found
    for mend in found:
        again, way = after(batch, mend), mend.way
        assert grants(again.verdict, way.place) and not mend.if_so
        assert (again.verdict.keep, again.verdict.eat, again.keep.days) == (way.keep, way.eat, way.days)
        assert again.drying["hours_to_target"] == way.hours and again.drying["mass_ratio"].mid == way.mass_ratio


def test_what_does_not_help_is_left_out_and_farmed_fish_is_not_frozen(batch):
    farmed = replace(batch, fish=replace(batch.fish, origin="farmed"))
    assert mending._frozen(farmed, us=False) == {} and mending._frozen(batch, us=False)
    found = next(mending.mends(plan(batch, 20)))
    assert any("strips" in one for one in found.changes) and len(found.changes) < len(mending._levers(batch, us=False))


def test_warm_hours_that_are_over_cannot_be_mended(batch):
    late = replace(batch, fish=replace(batch.fish, hours_above_4c=60.0, hours_above_21c=30.0, warmest=30.0))
    assert not list(mending.mends(plan(late, 20)))


def test_part_of_the_fish_takes_as_much_of_all_that_goes_in(batch):
    quarter = read_batch(put(written(batch), mending._loads(batch, us=False)[1].told))
    assert quarter.fish.raw_weight == pytest.approx(batch.fish.raw_weight / 4)
    assert quarter.brine.ingredients[0].amount.mass == pytest.approx(batch.brine.ingredients[0].amount.mass / 4)
