"""Salt in, salt out: directions, symmetry, balances of salt and water, and soaks typed anew."""

from dataclasses import replace

import numpy as np
import pytest

from flakeyard.models import salt_transport
from flakeyard.steps.chain.fish import prepare_fish
from flakeyard.steps.intent.batch_file import read_batch, said, with_typed, written
from flakeyard.steps.intent.spread import Draws
from flakeyard.steps.judge.storing import sodium_mg_per_serving
from flakeyard.steps.plan import soaking
from flakeyard.steps.plan.plan import plan
from flakeyard.units import InputError
from flakeyard.workbook.own import demo_batch

HERON = demo_batch("heron")
PIECE = {"thickness": 0.006, "fat": 0.06, "faces": 2, "strength": 0.08, "brine": 1.0, "time": 36_000.0, "waters": 0}


def soaked(moisture=0.4, **changes):
    return soaking.soak_piece(HERON, moisture, **PIECE | changes)


@pytest.mark.parametrize(
    ("changes", "part", "direction"),
    [
        ({"thickness": 0.012}, "middle", -1),
        ({"fat": 0.15}, "sodium", -1),
        ({"faces": 1.0}, "mean", -1),
        ({"strength": 0.12}, "mean", 1),
        ({"brine": 3.0}, "ceiling", 1),
        ({"time": 3600.0}, "mean", -1),
        ({"waters": 2.0}, "mean", -1),
        ({"moisture": 0.20}, "sodium", 1),
    ],
)
def test_directions(changes, part, direction):
    before, after = (getattr(soaked(**one), part).mid for one in ({}, changes))
    assert direction * (after - before) > 0.01 * before


def test_fresh_water_takes_salt_from_the_faces_before_the_middle():
    before, after = soaked(thickness=0.015), soaked(thickness=0.015, waters=2.0)
    left = after.profile[1] / before.profile[1]
    assert left[0] < 0.2 < 0.9 < left[20]


def test_skin_is_like_a_piece_twice_as_thick():
    """A closed face at L and two open faces at 2 L are one and the same diffusion: symmetry (crank_1975)."""
    skin, open_faces = soaked(thickness=0.006, faces=1.0), soaked(thickness=0.012, faces=2.0)
    assert skin.mean.mid == pytest.approx(open_faces.mean.mid, rel=1e-6)
    assert skin.profile[1][-1] == pytest.approx(open_faces.profile[1][20], rel=1e-6)


def test_rest_keeps_the_salt_and_narrows_the_difference():
    result = soaked(thickness=0.010, time=3600.0)
    assert np.ptp(result.rested) < 0.5 * np.ptp(result.brined)
    before, after = (np.trapezoid(profile, soaking.ACROSS) for profile in (result.brined, result.rested))
    assert after == pytest.approx(before, rel=0.02)  # the middle of the profiles is not the profile of one piece


def test_mean_does_not_pass_the_end_level():
    """What the brine ends at is a balance of salt and water; only traded water lets the model stray a little from it."""
    for strength in (0.02, 0.08, 0.16, 0.26):
        result = soaked(strength=strength, time=86400.0, thickness=0.003)
        assert result.mean.mid == pytest.approx(result.ceiling.mid, rel=0.02)


def test_end_level_is_the_balance_of_salt_and_water():
    """Mass balance by equilibrium_ratio, before any water is traded (weak brine: little is)."""
    fish = prepare_fish(HERON, Draws(20)).flesh
    water = float(np.median(fish.water))
    ratio = salt_transport.equilibrium_ratio(0.92 / water, 0.08 / 0.92, float(np.median(fish.salt)) / water)
    assert soaked(brine=1.0, strength=0.08).ceiling.mid == pytest.approx(ratio / (1 + ratio), rel=0.04)


def test_drying_concentrates_salt_and_keeps_all_of_it():
    cured = soaking.salted(HERON)
    for moisture in (0.5, 0.2):
        salt = soaking.dried_salt(cured, moisture)
        dry = 1 - moisture
        solids = (cured.flesh.mass - cured.flesh.water)[soaking.USUAL]
        assert salt * solids / dry == pytest.approx(cured.flesh.salt[soaking.USUAL])


def test_a_piece_already_drier_than_asked_is_left_as_it_is():
    cured = soaking.salted(HERON)
    raw = (cured.flesh.salt / cured.flesh.mass)[soaking.USUAL]
    assert soaking.dried_salt(cured, 0.99) == pytest.approx(raw)


def test_sodium_is_that_of_the_portion():
    salt = np.median(soaking.dried_salt(soaking.salted(soaking.piece(HERON, **PIECE)), 0.4))
    assert soaked().sodium.mid == pytest.approx(sodium_mg_per_serving(salt, 0.030), rel=1e-9)


def test_salted_is_the_first_part_of_the_plan():
    plain = replace(HERON, heat=None)
    cured, outcome = soaking.salted(plain, members=40), plan(plain, members=40)
    assert np.median(cured.water_phase_salt) == pytest.approx(outcome.salted["water_phase_salt"].mid)


def test_time_to_a_saltiness_and_back():
    seconds = soaking.time_to(HERON, 0.03)
    cured = soaking.salted(replace(HERON, brine=replace(HERON.brine, time=seconds.mid)), 100)
    assert np.median(cured.flesh.water_phase_salt[soaking.USUAL]) == pytest.approx(0.03, abs=0.003)
    assert seconds.low < seconds.mid < seconds.high


def test_a_saltiness_the_brine_cannot_give_has_no_time():
    assert soaking.time_to(HERON, 0.08).mid is None


def test_a_piece_is_the_batch_with_its_soaks_replaced_and_nothing_else():
    long = replace(HERON, presoak=HERON.brine, freshen=demo_batch("otter").freshen)
    piece = soaking.piece(long, **PIECE | {"faces": 1, "waters": 2})
    assert (piece.cut.thickness, piece.cut.sizes[0], piece.cut.skin_on) == (0.006, 0.006, True)
    assert piece.presoak is None and piece.rest is None and len(piece.freshen) == 1 and piece.freshen[0].waters == 2
    salt = sum(row.amount.mass for row in piece.brine.ingredients if row.what == "pickling salt")
    assert salt == pytest.approx(0.08 * 1.0 * HERON.fish.raw_weight)
    assert piece.brine.temperature == HERON.brine.temperature
    kept = {"fish": replace(HERON.fish, fat=0.06), "dryer": HERON.dryer, "keep": HERON.keep, "heat": HERON.heat}
    assert {name: getattr(piece, name) for name in kept} == kept


def test_a_fat_that_leaves_no_room_for_the_other_parts_is_refused():
    parts = {"raw_weight": "1 kg", "water": 75.0, "protein": 20.0, "fat": 4.0}
    told = read_batch(HERON.typed | {"fish": parts})
    with pytest.raises(InputError, match="adds up to about 100 %"):
        soaking.soak_piece(told, 0.4, **PIECE | {"fat": 0.15})


# soaks typed anew


TYPED = {"time": "6 h", "temperature": "2 °C", "water": "3 L", "each": "45 min", "at": "4 °C", "changes": 2, "serving": "1 oz"}  # fmt: skip


def test_soaks_typed_anew_stand_in_their_own_words_and_the_rest_stays():
    changed = soaking.with_soaks(HERON, **TYPED)
    assert changed.brine.time == 21_600.0 and changed.freshen[0].waters == 2 and said(changed, "serving") == "1 oz"
    assert said(changed, "freshen", 0, "time") == "45 min" and changed.freshen[0].temperature == soaking.COLD
    assert said(changed, "brine", "ingredient", 0, "amount") == said(HERON, "brine", "ingredient", 0, "amount")
    for name in ("fish", "cut", "dryer", "room", "keep", "heat"):
        assert written(changed)[name] == written(HERON)[name]


def test_no_fresh_water_takes_the_first_freshening_out_and_leaves_the_others():
    otter = demo_batch("otter")
    first, second = ({"water": water, "time": "1 h", "temperature": "4 °C"} for water in ("2 L", "5 L"))
    twice = read_batch(written(otter) | {"freshen": [first, second]})
    left = soaking.with_soaks(twice, time="6 h", temperature="3 °C")
    assert said(left, "freshen", 0, "water") == "5 L" and len(left.freshen) == 1
    assert soaking.with_soaks(otter, time="6 h", temperature="3 °C").freshen == ()


def test_a_time_of_the_brine_that_is_taken_out_is_missed_by_name():
    with pytest.raises(InputError, match="time"):
        soaking.with_soaks(with_typed(HERON, "brine", time="8 h"), temperature="3 °C")
