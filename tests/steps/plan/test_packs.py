"""Trying packs: bands in order, clocks that run as kitchens know, rules that hold wherever a pack may stand."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flakeyard import limits, tables
from flakeyard.steps.chain import drying
from flakeyard.steps.plan import packs
from flakeyard.workbook.own import demo_batch

NOT_TOLD, CLOTH, PAPER, JAR, ABSORBER = None, "cloth", "paper_bag", "glass_jar", "glass_jar_absorber"
PACKS = (NOT_TOLD, CLOTH, PAPER, "zip_bag", "plastic_tub", JAR, "vacuum_pouch", ABSORBER)
FREEZER, REFRIGERATOR = ("freezer", limits.FREEZER), ("refrigerator", limits.COLD)
COOLEST, ROOM, WARMEST = (("cupboard", warmth) for warmth in (12.0, 20.0, 35.0))
SPOTS = (FREEZER, REFRIGERATOR, COOLEST, ROOM, WARMEST)
START = {"fat": 0.06, "activity": 0.70, "pack": JAR, "humidity": 0.50, "spot": ROOM}


@pytest.fixture(scope="module")
def laid():
    return packs.lay_piece(demo_batch("heron"))


def at(laid, **change):
    told = START | change
    place, temperature = told.pop("spot")
    pack = told.pop("pack")
    return packs.try_pack(laid, **told, pack=pack and tables.pack(pack), place=place, temperature=temperature)


@settings(max_examples=60, deadline=None)
@given(
    fat=st.floats(0, 0.2), activity=st.floats(0.6, 0.95), pack=st.sampled_from(PACKS),
    humidity=st.floats(0.3, 0.9), spot=st.sampled_from(SPOTS),
)  # fmt: skip
def test_bands_are_ordered_and_the_days_keep_to_every_clock_and_to_the_rules(laid, fat, activity, pack, humidity, spot):
    kept = at(laid, fat=fat, activity=activity, pack=pack, humidity=humidity, spot=spot)
    assert np.all((kept.low >= 0) & (kept.low <= kept.mid) & (kept.mid <= kept.high) & (kept.high <= 1))
    clocks = kept.keeping.clocks
    if kept.keeping.days is None:  # in the freezer, where the clock of rancid fat was never tested, it came first
        assert kept.keeping.place == "freezer" and min(clocks, key=clocks.get) == "rancidity"
    else:
        assert kept.keeping.days <= min(clocks.values())
    assert kept.cautious >= kept.estimate
    if kept.cautious > limits.CUPBOARD_ESTIMATE:
        assert kept.keeping.place != "cupboard"
    if kept.keeping.place == "cupboard":
        assert kept.keeping.days <= (14 if fat < limits.FATTY else 7)
    if kept.cautious > limits.MOIST and pack not in (CLOTH, PAPER):
        assert kept.verdict.keep == "freezer"


def test_it_begins_with_an_honest_cupboard(laid):
    kept = at(laid)
    assert kept.verdict.keep == "cupboard" and kept.keeping.limited_by == "official_cap" and kept.keeping.days == 7


@pytest.mark.parametrize(
    ("slow", "quick", "clock"),
    [
        ({"fat": 0.02}, {"fat": 0.15}, "rancidity"),
        ({"pack": ABSORBER}, {"pack": JAR}, "rancidity"),
        ({"spot": COOLEST}, {"spot": WARMEST}, "rancidity"),
        ({"pack": JAR, "humidity": 0.9}, {"pack": CLOTH, "humidity": 0.9}, "mould"),
        ({"pack": CLOTH, "humidity": 0.5}, {"pack": CLOTH, "humidity": 0.9}, "mould"),
        ({"spot": COOLEST}, {"spot": WARMEST}, "mould"),
        ({"fat": 0.04}, {"fat": 0.06}, "official_cap"),
        ({"spot": FREEZER}, {"spot": ROOM}, "official_cap"),
    ],
)
def test_clocks_run_as_kitchens_know(laid, slow, quick, clock):
    assert at(laid, **slow).keeping.clocks[clock] > at(laid, **quick).keeping.clocks[clock]


def test_moist_fish_in_a_tight_pack_is_for_the_freezer_and_paper_lets_it_into_the_refrigerator(laid):
    tight, paper = (at(laid, activity=0.85, pack=pack, spot=REFRIGERATOR) for pack in (JAR, PAPER))
    assert (tight.keeping.place, paper.keeping.place) == ("freezer", "refrigerator")
    assert not tight.allowed and paper.allowed
    assert at(laid, activity=0.85, pack=NOT_TOLD).verdict.keep == "freezer"


def test_fish_in_a_jar_stays_and_in_cloth_it_follows_the_room(laid):
    jar, cloth = at(laid, pack=JAR, humidity=0.9), at(laid, pack=CLOTH, humidity=0.9)
    assert jar.mid[np.searchsorted(packs.DAYS, 100)] == pytest.approx(jar.mid[0], abs=0.01)
    assert cloth.mid[-1] == pytest.approx(0.9, abs=0.01)


def test_the_weight_told_is_the_one_at_which_the_middle_estimate_is_reached(laid):
    for activity in (0.65, 0.80, 0.90):
        _, dried = packs.dry_to(laid, activity, 0.06)
        assert np.median(drying.activity(dried, laid.isotherm)) == pytest.approx(activity, abs=0.01)
    light, heavy = at(laid, activity=0.7).weight, at(laid, activity=0.85).weight
    assert 0.3 < light < heavy < 0.8


def test_another_fat_leaves_the_lean_flesh_as_it_was(laid):
    lean, oily = laid.with_fat(0.0), laid.with_fat(0.18)
    assert np.all(lean.fat == 0) and np.median(oily.fat) > 0.15
    assert oily.water / oily.solids == pytest.approx(lean.water / lean.solids, rel=1e-9)
    assert oily.mass == pytest.approx(1.0)
    same = laid.with_fat(float(np.median(laid.fat_raw)))
    assert same.fat == pytest.approx(laid.piece.fat)
