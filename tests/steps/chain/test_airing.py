"""Air that changes: balances close over any schedule, one air told as several is one air, and no verdict grows milder for it."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from flakeyard.models import moist_air
from flakeyard.models.drying_chain import Unsolved
from flakeyard.models.drying_physics import BINDING, BINDING_MOISTURE, SlabInAir
from flakeyard.models.slab_drying import Box, Slab, dry, dry_through
from flakeyard.steps.chain import airing, drying
from flakeyard.steps.chain.laying import until_laid
from flakeyard.steps.intent.batch_file import dump_batch, load_batch, parse_batch, read_batch, written
from flakeyard.steps.intent.spread import Draws
from flakeyard.steps.plan.plan import plan
from flakeyard.units import InputError

HERON = Path(__file__).parents[3] / "data_demo" / "heron.toml"
HOUR, MEMBERS = 3600.0, 12
DAY_NIGHT = [
    {"time": "12 h", "temperature": "14 °C", "relative_humidity": 55},
    {"time": "12 h", "temperature": "4 °C", "relative_humidity": 95},
]
OUTSIDE = {"heater": "none", "temperature": "8 °C", "moving": "wind"}


def told(air=(), room=None, **dryer):
    typed = written(load_batch(HERON))
    typed["dryer"] = {
        key: one for key, one in (typed["dryer"] | dryer).items() if not (key == "fresh_air" and "heater" in dryer)
    }
    typed |= {"air": list(air)} if air else {}
    typed["room"] = typed["room"] if room is None else room
    return read_batch(typed)


def dried(batch, members=MEMBERS):
    draws = Draws(members)
    return drying.dry_load(batch, until_laid(batch, draws).cured, draws)


# One air


@pytest.mark.parametrize("rows", [[("5 h", "70 °C"), ("7 h", "70 °C")], [("1 h", "70 °C")]])
def test_one_air_told_as_several_is_exactly_one_air(rows):
    alone = plan(told(), members=MEMBERS)
    split = plan(told([{"time": time, "temperature": warm} for time, warm in rows]), members=MEMBERS)
    assert np.array_equal(alone.load.result.moisture, split.load.result.moisture)
    assert np.array_equal(alone.load.hours, split.load.hours) and alone.verdict == split.verdict


def test_air_that_hardly_changes_is_hardly_other_air():
    rows = [{"time": "6 h", "temperature": "70.01 °C"}, {"time": "6 h", "temperature": "69.99 °C"}]
    alone, split = dried(told()), dried(told(rows))
    assert split.hours == pytest.approx(alone.hours, rel=0.01)


def test_a_dial_turned_down_changes_nothing_before_and_slows_after():
    rows = [{"time": "3 h", "temperature": "70 °C", "once": True}, {"time": "1 h", "temperature": "55 °C"}]
    alone, turned = dried(told()), dried(told(rows))
    assert airing.in_words(told(rows)).count("55") == 1 and len(airing.each(told(rows))) == 2
    early = turned.result.times <= 3 * HOUR
    there = np.stack(
        [np.interp(turned.result.times[early], alone.result.times, one) for one in alone.result.mass_ratio]
    )
    assert turned.result.mass_ratio[:, early] == pytest.approx(there, abs=4e-3)
    late = alone.hours > 3.1
    assert late.any() and np.all(turned.hours[late] > alone.hours[late])


@given(some.floats(3601.0, 40000.0), some.floats(3601.0, 40000.0))
@settings(max_examples=20, deadline=None)
def test_every_phase_ends_at_a_moment_that_is_reported(day, night):
    """However crooked its length; else what is handed on is the fish of a moment before."""
    batch = told([{"time": f"{time:.4f} s", "temperature": warm} for time, warm in ((day, "60 °C"), (night, "30 °C"))])
    begins = [begin for begin, _ in airing.phases(batch)]
    assert len(begins) > 50 and np.isin(begins, airing.moments(batch, drying.TIMES)).all()


# Balances


def slab(members=6):
    thick = np.linspace(0.004, 0.009, members)
    return Slab(thickness=thick, faces=2.0, water=0.70, salt=0.04, fat=0.06, solids=0.20)


def box(warm, ratio=0.008, heater=400.0, fresh=0.01):
    return Box(
        heater=heater, set_temperature=warm, fresh_air=fresh, load=1.5, room_temperature=min(warm, 20.0),
        room_humidity_ratio=ratio, velocity=1.0,
    )  # fmt: skip


def moments(begins, end):
    """A minute apart, and closer where the air has just changed."""
    soon = np.add.outer(begins, 60.0 * np.linspace(0.0, 1.0, 31) ** 3 * 20.0).ravel()
    return np.unique(np.concatenate([np.arange(0.0, end, 60.0), begins, soon[soon < end].round(3), [end]]))


def summed(values, times):
    """The integral up to the end (members,), by straight lines."""
    return np.trapezoid(values, times, axis=1)


air_told = some.tuples(
    some.floats(2.0, 6.0), some.floats(25.0, 70.0), some.floats(0.004, 0.012), some.sampled_from([0.0, 150.0, 400.0, 900.0]),
    some.floats(0.004, 0.03),
)  # fmt: skip


@given(some.lists(air_told, min_size=2, max_size=4))
@settings(max_examples=8, deadline=None)
def test_water_and_heat_close_over_any_schedule(told_air):
    """Heater and air in, less air out, walls, evaporation and what warms the fish: nothing is left over, to a hundredth.

    Reckoned from the air and the pieces alone, phase by phase. Where a dial is turned down, the thermostat holds the air
    although the fish is warmer: what cools it then is counted as taken away, and never drawn from the heater.
    """
    hours, boxes = [one[0] for one in told_air], [box(*one[1:]) for one in told_air]
    ends = np.cumsum(HOUR * np.array(hours)).round(3)  # each phase ends at a moment that is reported
    begins = np.concatenate([[0.0], ends[:-1]])
    times = moments(begins, ends[-1])
    found = dry_through(slab(2), list(zip(begins, boxes, strict=True)), times, tolerance=1e-5, longest_step=600.0)
    water = air = walls = cooled = to_fish = 0.0
    for begin, end, around in zip(begins, ends, boxes, strict=True):
        here = (times > begin + 1e-3) & (times <= end + 1e-3)  # at its end it is still the same phase
        at, dryer = times[here], SlabInAir(slab(2), around)
        warm, humid, piece = (
            one[:, here] for one in (found.air_temperature, found.air_humidity_ratio, found.temperature)
        )
        per_kelvin = around.fresh_air * (1006.0 + 1860.0 * around.room_humidity_ratio)
        out, lost = (each * (warm - around.room_temperature) for each in (per_kelvin, around.wall_loss))
        given_off = dryer.contact * (warm - piece)
        water = water + summed(around.fresh_air * (humid - around.room_humidity_ratio), at)
        air, walls, to_fish = air + summed(out, at), walls + summed(lost, at), to_fish + summed(given_off, at)
        cooled = cooled + summed(np.maximum(-(out + lost + given_off), 0.0), at)
    solids = 1.5 * (1 - 0.70)
    mean = found.moisture / found.dryer.solids_share
    middle, between = (0.5 * (one[:, 1:] + one[:, :-1]) for one in (mean, found.temperature))
    latent = moist_air.latent_heat(between) + BINDING * np.exp(-middle / BINDING_MOISTURE)
    leaving = -np.diff(found.moisture, axis=1) * solids
    area = 1.5 / found.dryer.density / slab(2).thickness[:, None] * 2.0
    stored = (area * found.dryer.heat_capacity(middle) * np.diff(found.temperature, axis=1)).sum(axis=1)
    evaporated, heater = (latent * leaving).sum(axis=1), found.heater_energy[:, -1]
    turnover = heater + np.abs(evaporated) + np.abs(stored)
    assert water == pytest.approx(leaving.sum(axis=1), rel=0.01, abs=1e-4)
    assert to_fish - evaporated - stored == pytest.approx(np.zeros(2), abs=0.01 * turnover.max())
    assert heater + cooled - air - walls - evaporated - stored == pytest.approx(np.zeros(2), abs=0.01 * turnover.max())
    most = np.array([boxes[i].heater for i in np.searchsorted(begins, times[1:] - 1e-3, side="right") - 1])
    drawn = np.diff(found.heater_energy, axis=1)
    assert np.all(drawn >= -1e-6) and np.all(drawn <= most * np.diff(times) * (1 + 1e-6) + 1e-3)
    assert found.mass_ratio == pytest.approx(1 - (found.moisture[:, :1] - found.moisture) * solids / 1.5, abs=1e-12)


def test_phases_hand_the_pieces_on_as_they_are():
    times = np.linspace(0, 20 * HOUR, 41)
    whole = dry(slab(), box(60.0), times)
    parts = dry_through(slab(), [(0.0, box(60.0)), (5 * HOUR, box(60.0)), (12 * HOUR, box(60.0))], times)
    assert parts.moisture == pytest.approx(whole.moisture, abs=3e-3) and parts.temperature == pytest.approx(
        whole.temperature, abs=0.1
    )
    assert parts.heater_energy == pytest.approx(whole.heater_energy, rel=1e-3, abs=100.0)
    assert np.array_equal(dry_through(slab(), [(0.0, box(60.0))], times).moisture, whole.moisture)


def test_damp_air_gives_water_back_and_never_more_than_its_balance():
    wet, dry_air = box(15.0, 0.0104, heater=0.0, fresh=np.inf), box(40.0, 0.004, heater=0.0, fresh=np.inf)
    times = np.linspace(0, 96 * HOUR, 97)
    found = dry_through(slab(), [(0.0, dry_air), (48 * HOUR, wet)], times)
    assert np.all(found.mass_ratio[:, -1] > found.mass_ratio[:, 48] + 0.01)
    assert np.all(np.diff(found.mass_ratio[:, 48:], axis=1) > -1e-6)
    activity = found.dryer.activity(found.surface[:, -1:] / found.dryer.solids_share, np.full((6, 1), 15.0))
    assert np.all(activity <= 0.98 + 0.02)


# Batches


@pytest.mark.parametrize("air", [(), DAY_NIGHT])
def test_trays_that_change_places_move_no_number_of_a_plan(air):
    """Only a log counts on it: nothing that was told makes a plan's verdict milder here."""
    still, turned = (plan(told(air, **how), members=4, sketch=True) for how in ({}, {"rotated": "1 h"}))
    assert np.array_equal(still.load.result.moisture, turned.load.result.moisture)
    assert still.verdict == turned.verdict and still.drying == turned.drying
    assert turned.batch.dryer.turning == (1.0, 5) and still.batch.dryer.turning == (np.inf, 1)


def test_day_and_night_outdoors_is_followed_for_weeks_and_never_granted():
    outcome = plan(told(DAY_NIGHT, room={}, **OUTSIDE), members=4, sketch=True)
    result = outcome.load.result
    assert result.times[-1] > 8 * 24 * HOUR and result.times[-1] <= airing.HORIZON
    assert np.max(np.diff(np.median(result.mass_ratio[-4:], axis=0))) > 0.005  # it takes up water at night
    assert outcome.verdict.keep in ("not_known", "nowhere") and outcome.verdict.eat in ("not_known", "no")
    assert any("over and over" in note for note in outcome.notes)


def test_hanging_at_five_degrees_answers_with_hours_and_weights_but_no_verdict():
    outcome = plan(told(room={"relative_humidity": 70}, **(OUTSIDE | {"temperature": "5 °C"})), members=60, sketch=True)
    assert outcome.drying["hours_to_target"].mid > 100 and outcome.drying["mass_ratio"].mid < 0.6
    assert outcome.verdict.keep in ("not_known", "nowhere") and outcome.verdict.eat in ("not_known", "no")


def test_still_air_and_an_oven_ajar_are_slower_and_not_known():
    fan, still = (plan(told(heater="2 kW", moving=how), members=MEMBERS) for how in ("fan", "still"))
    assert np.all(still.load.hours >= fan.load.hours) and still.verdict.eat in ("not_known", "no")


def test_a_schedule_is_written_and_read_again():
    batch = told([{**DAY_NIGHT[0], "once": True, "heater": "none", "moving": "still"}, DAY_NIGHT[1]])
    again = parse_batch(dump_batch(batch))
    assert again == batch and again.air[0].heater == 0.0 and again.air[1].once is None
    with pytest.raises(InputError, match="air 1"):
        told([{"time": "10 min", "temperature": "20 °C"}])


def test_air_in_which_nothing_can_be_worked_out_is_told_in_a_sentence(monkeypatch):
    def stuck(*_given, **_more):
        raise Unsolved("drying did not come to its end")

    monkeypatch.setattr(drying.slab_drying, "dry", stuck)
    with pytest.raises(InputError, match="the drying cannot be worked out"):
        plan(load_batch(HERON), members=8)
