"""The warm clocks of a strip count on no edges: neither sooner dry through them, nor in warmer air without them."""

from dataclasses import replace

import numpy as np
import pytest

from flakeyard.models.sorption import water_activity_range
from flakeyard.steps.chain.drying import dry_load, stopped_for
from flakeyard.steps.chain.laying import until_laid
from flakeyard.steps.intent.spread import Draws, upper_end
from flakeyard.workbook.own import demo_batch

DRAWS = Draws(40)
SOLVED = 1e-6  # h: the same slab, solved among others


@pytest.fixture(scope="module", params=["heron", "kingfisher"])
def loads(request):
    """A load of strips, and the same fish as laid with pieces that have no edges."""
    batch = demo_batch(request.param)
    cured = until_laid(batch, DRAWS).cured
    slabs = replace(cured, fish=replace(cured.fish, width=np.inf))
    return dry_load(batch, cured, DRAWS), dry_load(batch, slabs, DRAWS)


def test_edges_shorten_the_hours_and_no_clock(loads):
    strips, slabs = loads
    assert strips.mass_ratio == slabs.mass_ratio
    assert np.all(strips.hours_by_class <= 1.02 * slabs.hours_by_class) and np.median(strips.hours) < 0.97 * np.median(
        slabs.hours
    )
    for one, other in zip(strips.counts, slabs.counts, strict=True):
        assert np.all(one >= other - SOLVED)
    for one, other in zip(strips.taken_off, slabs.taken_off, strict=True):
        assert np.all(one >= other - SOLVED)
    assert np.all(strips.growth_hours >= slabs.growth_hours - SOLVED) and np.all(
        strips.warm_hours >= slabs.warm_hours - SOLVED
    )
    assert np.all(strips.dry_hours >= slabs.dry_hours - SOLVED)


def test_the_clocks_read_the_worse_of_both_courses(loads):
    """The air of a box is cooler at first with edges and for longer without: a count may be longest with either."""
    strips, slabs = loads
    assert len(strips.courses) == 2 and len(slabs.courses) == 1
    edged, plain = (one.result for one in strips.courses)
    assert edged.moisture == pytest.approx(strips.result.moisture[-40:], nan_ok=True)
    assert plain.moisture == pytest.approx(slabs.result.moisture[-40:], rel=0.01)


def test_another_weight_to_stop_at_counts_on_no_edges_either(loads):
    strips, slabs = (stopped_for(load, replace(demo_batch("heron").keep, stop_at=0.6)) for load in loads)
    assert np.all(strips.growth_hours >= slabs.growth_hours - SOLVED) and np.all(strips.hours <= slabs.hours)


def test_another_weight_to_stop_at_is_looked_at_anew_for_what_was_not_tested(loads):
    """So dry that no water activity was measured there: said for that weight alone, and for no other."""
    load, keep = loads[0], demo_batch("heron").keep
    dry = stopped_for(load, replace(keep, stop_at=0.3))
    said = [one for one in dry.outside if one not in load.outside]
    assert [one.formula for one in said] == [water_activity_range.formula] and not said[0].decides
    assert stopped_for(dry, keep).outside == load.outside


@pytest.mark.parametrize("dial", [22.0, 45.0, 58.0, 70.0])
def test_no_clock_relies_on_a_dryer_that_is_not_as_its_dial_says(dial):
    """No upper end of a count, which verdicts read, is shorter than in a dryer just as told, and no stop weight moves. A member
    whose hours hang on the dial more than most may count a twentieth less."""
    batch = demo_batch("heron")
    batch = replace(batch, dryer=replace(batch.dryer, temperature=dial))
    drawn = Draws(60)
    as_told = replace(drawn, fixed={"dial": np.zeros(60)})
    one, two = (dry_load(batch, until_laid(batch, draws).cured, draws) for draws in (as_told, drawn))
    assert two.mass_ratio == one.mass_ratio and not np.allclose(two.hours, one.hours)
    for count, more in zip(one.taken_off, two.taken_off, strict=True):
        assert np.all(more >= 0.95 * count - 0.02) and upper_end(more) >= upper_end(count) - 0.02
    assert upper_end(two.warm_hours) >= upper_end(one.warm_hours) - 0.02
