"""Loads of fish in a dryer: the right directions, the load asked for, refusal of what cannot be."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from flakeyard.steps.intent.batch_file import with_typed
from flakeyard.steps.judge.safety import EAT, KEEP
from flakeyard.steps.plan import loading
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook.own import demo_batch

HERON = with_typed(
    with_typed(demo_batch("heron"), "cut", thickness="6 mm", thinnest="5 mm", thickest="8 mm"),
    "dryer",
    temperature="63 °C",
    trays=14,
)
LAID = loading.lay(HERON)
START = {"load": 1.5, "faces": 2.0, "temperature": 63.0, "heater": 500.0, "humidity": 0.5}


def run(**values):
    return loading.fill_dryer(HERON, LAID, **(START | values))


@pytest.fixture(scope="module")
def usual():
    return run()


def test_wet_fish_is_cooler_than_air_and_air_never_passes_the_dial(usual):
    assert usual.fish_at(1.0) < usual.air[0] < usual.dial
    assert (usual.fish[1] <= usual.air + 0.5).all()  # half a degree: thickest pieces beside the air of the usual ones


def test_more_fish_makes_the_box_cooler_the_fish_cooler_and_the_hours_longer(usual):
    more = run(load=4.0)
    assert more.coolest < usual.coolest - 5
    assert more.fish_at(1.0) < usual.fish_at(1.0) - 2
    assert more.done.mid > usual.done.mid and more.clock.mid > usual.clock.mid and more.energy.mid > usual.energy.mid


def test_but_more_fish_at_once_takes_less_electricity_for_each_kilogram(usual):
    assert run(load=3.0).energy.mid / 3.0 < usual.energy.mid / 1.5


def test_one_open_face_takes_much_longer(usual):
    assert run(faces=1.0).done.mid > 2 * usual.done.mid


def test_a_stronger_heater_keeps_the_box_warmer_under_the_same_load():
    weak, strong = run(load=4.0, heater=300.0), run(load=4.0, heater=1500.0)
    assert weak.coolest < strong.coolest and weak.done.mid > strong.done.mid


def test_humid_rooms_make_a_warmer_wet_bulb_and_a_slower_load(usual):
    dry, humid = run(humidity=0.1), run(humidity=0.9)
    assert dry.wet_bulb < usual.wet_bulb < humid.wet_bulb
    assert dry.fish_at(0.5) < humid.fish_at(0.5)


def test_the_load_as_laid_is_the_load_asked_for():
    raw_mass = LAID.fish.mass
    twice = run(load=2 * float(np.median(LAID.mass)))
    assert twice.coverage == pytest.approx(2 * raw_mass / (1060.0 * 0.006 * 14 * 0.09), rel=1e-6)


def test_pieces_that_lie_on_each_other_dry_as_one_thick_piece_and_no_clock_runs_shorter(usual):
    """Judgement: a heap two deep is a slab of twice the thickness without edges. The clocks go on reading the piece that
    lies by itself too."""
    few = replace(HERON, dryer=replace(HERON.dryer, trays=2))
    heap = loading.fill_dryer(few, LAID, **START)
    assert 1.0 < heap.coverage < 2.0 and heap.done.mid > 2.5 * usual.done.mid
    assert all(heap.warm.known()[count] >= hours - 1e-9 for count, hours in usual.warm.known().items())
    split = replace(few, cut=replace(few.cut, form="split"))
    laid = loading.lay(split)
    thick = replace(laid, fish=replace(laid.fish, thickness=2 * laid.fish.thickness))
    twice = loading.fill_dryer(replace(split, dryer=HERON.dryer), thick, **START)
    assert loading.fill_dryer(split, laid, **START).done.mid == pytest.approx(twice.done.mid, rel=0.03)


def test_a_load_that_only_fits_pushed_together_loses_its_edges_and_nothing_else(usual):
    tight = replace(HERON, dryer=replace(HERON.dryer, tray_area=usual.coverage / 1.05 * HERON.dryer.tray_area))
    pushed = loading.fill_dryer(tight, LAID, **START)
    split = replace(HERON, cut=replace(HERON.cut, form="split"))
    flat = loading.fill_dryer(split, loading.lay(split), **START)
    assert pushed.coverage == pytest.approx(1.05)
    assert usual.done.mid < pushed.done.mid == pytest.approx(flat.done.mid, rel=0.1)


def test_fewer_trays_are_never_milder_and_a_heap_thicker_than_was_tested_is_not_known():
    found = [plan(replace(HERON, dryer=replace(HERON.dryer, trays=trays)), members=12) for trays in (14, 3, 2, 1)]
    order = [(KEEP.index(one.verdict.keep), EAT.index(one.verdict.eat)) for one in found]
    assert [one.load.layers for one in found] == [1, 1, 2, 3]
    for fewer, more in pairwise(reversed(order)):
        assert fewer[0] >= more[0] and fewer[1] >= more[1]
    assert found[-1].verdict.eat in ("not_known", "no") and "3 deep" in " ".join(found[-1].notes)
    words = ["", "Crowded", "Overload", "Overload"]
    for one, word in zip(found, words, strict=True):
        assert [note for note in one.notes if note.startswith(("Crowded", "Overload"))][:1] == [
            note for note in one.notes if word and note.startswith(word)
        ]


def test_a_load_of_hundreds_of_times_the_trays_has_a_plan_that_is_not_known():
    crammed = plan(replace(HERON, dryer=replace(HERON.dryer, trays=1, tray_area=0.001)), members=12)
    assert crammed.load.layers == 10 and crammed.verdict.eat in ("not_known", "no")


def test_a_dial_below_57_is_a_stay_in_the_growth_zone_for_as_long_as_the_fish_is_moist():
    """Dried for a paper bag, the fish is taken off while it is moist; for a jar it goes on, and the clock stands still."""
    bag = replace(HERON, keep=replace(HERON.keep, pack="paper bag"))
    split = replace(bag, cut=replace(bag.cut, form="split"))
    cool = loading.fill_dryer(split, loading.lay(split), **(START | {"temperature": 50.0}))
    assert cool.clock.mid == pytest.approx(cool.done.mid, rel=1e-6)
    strips = loading.fill_dryer(bag, LAID, **(START | {"temperature": 50.0}))
    assert strips.done.mid < strips.clock.mid == pytest.approx(cool.clock.mid, rel=0.02)  # no clock counts on edges
    dry = replace(split, keep=HERON.keep)
    jar = loading.fill_dryer(dry, loading.lay(dry), **(START | {"temperature": 50.0}))
    assert cool.clock.mid < jar.clock.mid < jar.done.mid


@pytest.mark.parametrize(
    ("name", "value"),
    [("temperature", 145.0), ("heater", 5.0), ("faces", 3.0), ("humidity", 50.0), ("humidity", np.nan), ("load", -1.0)],
)
def test_what_no_batch_file_may_say_is_refused_by_name(name, value):
    with pytest.raises(ValueError, match=name):
        run(**{name: value})


def test_a_skin_stays_a_closed_face_whatever_the_trays(usual):
    skin = replace(HERON, cut=replace(HERON.cut, skin="one side"))
    one = loading.fill_dryer(skin, LAID, **START)
    assert one.done.mid == pytest.approx(run(faces=1.0).done.mid)
