"""The course of water activity in a pack, against the clocks of the keeping step and against plain physics."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flakeyard import tables
from flakeyard.models import keeping, sorption
from flakeyard.steps.judge import packing, storing
from flakeyard.steps.judge.safety import Verdict

MEMBERS = 12
ISOTHERM = {
    "protein_factor": np.linspace(0.7, 1.3, MEMBERS),
    "gab_k": np.linspace(*sorption.GAB_K_RANGE, MEMBERS),
    "native": np.linspace(0.2, 1.0, MEMBERS),
}


def flesh(water=0.25, salt=0.1, fat=0.2, solids=1.0):
    wide = {"water": water, "salt": salt, "fat": fat, "solids": solids, "sugar": 0.0}
    return SimpleNamespace(**{name: np.full(MEMBERS, value) for name, value in wide.items()})


def course(days, *, dried=None, pack="cloth", place="cupboard", temperature=21.0, humidity=0.85, amount=0.2):
    record = tables.pack(pack) if pack else None
    room = {"temperature": temperature, "humidity": humidity}
    return packing.course(dried or flesh(), days, pack=record, place=place, isotherm=ISOTHERM, amount=amount, **room)


@pytest.mark.parametrize(("pack", "amount"), [("cloth", 0.2), ("zip bag", 0.2), ("zip bag", 1.0), (None, 0.2)])
def test_the_picture_and_the_verdict_count_the_same_days_to_mould(pack, amount):
    """The mould clock run along the course in 800 steps gives the days of `storing`, which is up to a tenth shorter.

    It counts each of its 60 steps at the moister of its two ends.
    """
    dried, days = flesh(), np.concatenate([[0.0], np.geomspace(0.01, 4000, 800)])
    along = course(days, dried=dried, pack=pack, amount=amount)
    clock = keeping.mould_clock_days(days * packing.DAY, np.minimum(along, storing.MOULD_WETTEST), 21.0)
    spread = np.multiply.outer(clock.min(axis=0), storing._between_studies())
    found = np.percentile(spread, storing.CAUTIOUS_END, method="lower")
    store = storing.Storage(
        pack=pack and tables.pack(pack), amount=amount, place="cupboard", room_temperature=21.0, room_humidity=0.85, fat_raw=0.1
    )  # fmt: skip
    until = storing.keep_until(dried, Verdict("cupboard", "ready", 0.78, (), (), ()), store, ISOTHERM)
    assert 0.98 <= found / until.clocks["mould"] <= 1.10


@given(st.floats(0.05, 0.9), st.floats(0.2, 0.95))
def test_fish_only_ever_moves_towards_the_air_around_it(water, humidity):
    along = course(np.geomspace(0.1, 1000, 30), dried=flesh(water), humidity=humidity)
    steps = np.diff(along, axis=-1)
    start = sorption.water_activity(water, 0.1, 0.2, 1.0, 21.0, **ISOTHERM)
    rising = start < humidity
    assert np.all(steps[:, rising] >= -1e-9) and np.all(steps[:, ~rising] <= 1e-9)


def test_a_leakier_pack_is_quicker_and_the_first_end_is_the_tighter():
    bag, cloth = course([20.0], pack="zip bag"), course([20.0], pack="cloth")
    assert np.all(cloth >= bag) and np.all(cloth[1] > bag[1] + 0.03)
    assert np.all(cloth[1] >= cloth[0]) and np.any(bag[1] > bag[0])


def test_a_pack_not_told_may_be_tight_or_open():
    tight, open_air = course([60.0], pack=None, dried=flesh(0.2))
    assert np.all(open_air > tight + 0.03)
    assert np.ptp(course([0.1, 1000.0], pack=None, dried=flesh(0.2))[0], axis=-1) == pytest.approx(0, abs=1e-3)


def test_in_the_freezer_nothing_moves_and_the_room_does_not_matter():
    still = course([1.0, 1000.0], place="freezer")
    assert np.ptp(still, axis=-1) == pytest.approx(0)
    assert course([100.0], place="refrigerator", humidity=0.3) == pytest.approx(
        course([100.0], place="refrigerator", humidity=0.9)
    )


@pytest.mark.parametrize("pack", ["zip bag", "paper bag", "cloth", "plastic_tub"])
def test_days_between_two_moistures_agree_with_the_closed_form_of_a_straight_isotherm(pack):
    """labuza_1988 in closed form over a stretch so short (0.02) that the isotherm is straight: to 1 %."""
    record, start, end = tables.pack(pack), 0.66, 0.68
    low, high = (float(sorption.water_for(one, 0, 0, 1, 25.0)) for one in (start, end))
    slope = (high - low) / (end - start)
    solids = 0.2 / (1 + low)
    expected = [
        keeping.straight_isotherm_seconds(low, high, low + slope * (0.85 - start), slope, solids, flow) / packing.DAY
        for flow in storing.let_in(record, 0.2, 25.0)
    ]
    found = packing.days_until(end, start=start, pack=record, temperature=25.0, humidity=0.85)
    assert found == pytest.approx(expected[::-1], rel=0.01)


def test_what_the_air_cannot_give_takes_for_ever():
    far = packing.days_until(0.75, start=0.6, pack=tables.pack("cloth"), temperature=25.0, humidity=0.7)
    assert far == (np.inf, np.inf)


def test_more_fish_in_a_larger_pack_lets_in_more_but_less_for_each_piece():
    bag = tables.pack("zip bag")
    small, large = storing.let_in(bag, 0.2, 25.0), storing.let_in(bag, 1.6, 25.0)
    assert large == pytest.approx([4 * end for end in small])  # 8 times the fish, 8^(2/3) times the area
    assert storing.let_in(bag, 0.05, 25.0) == pytest.approx(small)
