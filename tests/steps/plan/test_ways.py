"""Ways to keep a batch: what is promised is what the plan gives, and what can be granted is found."""

import random
from dataclasses import replace

import numpy as np
import pytest
from random_batches import amount, odd_typed, random_typed
from test_safety_under_uncertainty import well_kept

from flakeyard import limits, tables
from flakeyard.steps.chain.drying import stopped_for
from flakeyard.steps.chain.stopping import activity
from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.judge.facts import PLACES
from flakeyard.steps.judge.safety import KEEP
from flakeyard.steps.plan import ways
from flakeyard.steps.plan.judging import judge
from flakeyard.steps.plan.plan import plan
from flakeyard.units import InputError
from flakeyard.workbook.own import demo_batch

MEMBERS = 20
RATIOS = np.linspace(0.25, 1.0, 16)


@pytest.fixture(scope="module")
def heron():
    return plan(demo_batch("heron"))


def batch_of(number: int):
    """Mostly fish that was well kept and heated, so that something can be granted; every fourth as it comes."""
    luck = random.Random(number)
    if number % 4 == 0:
        return read_batch(odd_typed(luck) if number % 8 == 0 else random_typed(luck, told=1.0))
    typed = well_kept(luck)
    if luck.random() < 0.8:
        typed["heat"] = {"core": "75 °C", "hold": "1 min", "checked": "probe", "to_tray": "5 min"}
    typed["cut"] |= {"thinnest": "4 mm", "thickness": "5 mm", "thickest": amount(luck, 5, 9, "mm")}
    typed["dryer"] |= {"temperature": amount(luck, 55, 75, "°C"), "trays": 12, "faces": 2}
    return read_batch(typed)


def check_promises(outcome) -> int:
    """Every way, applied to the batch and planned anew, gives the weight, the hours and the verdict it promised."""
    found = ways.ways(outcome)
    for way in found:
        keep = replace(outcome.batch.keep, place=way.place, pack=way.pack, target_moisture=None, stop_at=None)
        again = plan(replace(outcome.batch, keep=keep), MEMBERS)
        assert (again.verdict.keep, again.verdict.eat, again.keep.days) == (way.keep, way.eat, way.days)
        assert again.drying["mass_ratio"].mid == way.mass_ratio and again.drying["hours_to_target"] == way.hours
        assert ways.asked(again).granted
    return len(found)


def check_found(outcome) -> None:
    """Wherever some weight and pack earn a place no worse than the one asked, a way holds such a place."""
    order = list(PLACES)
    wanted = order[: order.index(outcome.batch.keep.aim) + 1]
    if not any(way.place in wanted for way in ways.ways(outcome)):
        assert not any(_can_be_granted(outcome, place) for place in wanted)


def _can_be_granted(outcome, place: str) -> bool:
    bone_dry = 0.9 * np.median(1.0 - outcome.load.piece.water)  # a tenth below, as where the stop weight is found
    for pack in ("glass jar", "paper bag", "vacuum pouch"):
        for ratio in RATIOS[bone_dry <= RATIOS]:  # no scale shows less
            keep = replace(outcome.batch.keep, place=place, pack=pack, stop_at=float(ratio), target_moisture=None)
            load = stopped_for(outcome.load, keep)
            wet = activity(load.dried, load.isotherm) > limits.MOIST  # with half of the members so, fresh fish put by
            verdict = judge(replace(outcome.batch, keep=keep), outcome.laid, load).verdict
            if np.mean(wet) < 0.5 and ways.grants(verdict, place):
                return True
    return False


@pytest.mark.parametrize("number", range(12))
def test_a_way_gives_exactly_what_it_promised_and_none_is_missed(number):
    outcome = plan(batch_of(number), MEMBERS)
    check_promises(outcome)
    check_found(outcome)


@pytest.mark.slow
def test_a_thousand_batches_keep_their_promises_and_miss_no_way(capsys):
    found = []
    for number in range(1000):
        try:
            outcome = plan(batch_of(number), MEMBERS)
        except InputError:  # a batch that cannot be: tests of the files see to it that it is told why
            continue
        found.append(check_promises(outcome))
        check_found(outcome)
    with capsys.disabled():
        print(f"\n{sum(found)} ways in {len(found)} batches, {sum(one == 0 for one in found)} batches without one")


def test_heron_reaches_the_refrigerator_in_its_jar(heron):
    asked = ways.asked(heron)
    assert (asked.place, asked.pack, asked.granted) == ("refrigerator", "glass jar", True)
    assert heron.verdict.keep == "cold" and heron.verdict.water_activity_used <= 0.85


def test_the_largest_weight_that_is_granted_is_taken(heron):
    """A per cent heavier, and the jar is for the freezer only."""
    keep = replace(heron.batch.keep, stop_at=heron.drying["mass_ratio"].mid + 0.01)
    heavier = plan(replace(heron.batch, keep=keep))
    assert heavier.verdict.keep == "freezer" and not ways.asked(heavier).granted


def test_paper_needs_less_drying_than_a_jar_and_the_cupboard_most(heron):
    found = {(way.place, way.pack): way for way in ways.ways(heron)}
    jar, paper, cupboard = (found[key] for key in (("refrigerator", "glass jar"), ("refrigerator", "paper bag"), ("cupboard", "glass jar")))  # fmt: skip
    assert cupboard.mass_ratio < jar.mass_ratio < paper.mass_ratio
    assert cupboard.hours.mid > jar.hours.mid > paper.hours.mid
    assert cupboard.days <= 7 and paper.days <= 14


def test_an_own_weight_to_stop_at_is_taken_as_it_is(heron):
    own = plan(replace(heron.batch, keep=replace(heron.batch.keep, stop_at=0.46)), MEMBERS)
    assert own.drying["mass_ratio"].mid == 0.46


def test_changes_that_would_earn_what_was_asked_are_run(heron):
    raw = plan(replace(heron.batch, heat=None), MEMBERS)
    assert not ways.asked(raw).granted
    found = ways.changes(raw, MEMBERS)
    assert any("heat" in way.change for way in found) and all(way.keep == "cold" for way in found)


def test_places_rise_in_severity_as_verdicts_do():
    assert [KEEP.index(verdict) for verdict in PLACES.values()] == sorted(
        KEEP.index(verdict) for verdict in PLACES.values()
    )
    assert tables.pack(ways.TIGHT).airtight and not tables.pack(ways.OPEN).airtight


@pytest.mark.parametrize(
    ("asked", "packs"),
    [
        ("jar", ("jar", "paper bag")),
        ("paper", ("paper", "glass jar")),
        ("zip bag", ("zip bag", "glass jar", "paper bag")),
    ],
)
def test_a_pack_is_compared_once_whatever_it_is_called(asked, packs):
    assert ways._packs(asked) == packs
