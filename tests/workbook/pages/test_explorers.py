"""The pages without Python: what they interpolate against the full model, and that a verdict is never made milder."""

import base64
import json
import re
from dataclasses import replace

import numpy as np
import pytest

from flakeyard.steps.judge.safety import EAT, KEEP
from flakeyard.steps.plan import corners
from flakeyard.workbook import own, words
from flakeyard.workbook.pages import explorers

HERON = corners.placeless(own.demo_batch("heron"))
MOST = 0.0001  # the page promises that every setting was computed


def small(explorer, count: int = 2):
    """The explorer on a few corners only."""
    axes = tuple(
        replace(axis, marks=tuple(axis.marks[:: max(1, (len(axis.marks) - 1) // count)][: count + 1])) for axis in explorer.axes
    )  # fmt: skip
    return replace(explorer, axes=axes)


def anywhere(explorer, luck) -> dict[str, float]:
    return {axis.name: float(axis.stops[luck.integers(len(axis.stops))]) for axis in explorer.axes}


@pytest.mark.parametrize("explorer", explorers.EXPLORERS, ids=lambda explorer: explorer.name)
@pytest.mark.parametrize("number", range(4))
def test_what_is_shown_is_what_is_computed(explorer, number):
    luck = np.random.default_rng(number)
    settings = anywhere(explorer, luck)
    shown = explorers.interpolate(explorer, lambda place: explorers.corner(explorer, HERON, place), settings)
    full = explorer.point(HERON, **settings)
    for name in explorer.numbers:
        assert np.isnan(shown[name]) or shown[name] == pytest.approx(full[name], rel=MOST), name
    assert shown["keep"] >= full["keep"] and shown["eat"] >= full["eat"]
    assert np.isnan(shown["days"]) or shown["keep"] > full["keep"] or shown["days"] <= full["days"] + 1e-9


@pytest.mark.slow
@pytest.mark.parametrize("explorer", explorers.EXPLORERS, ids=lambda explorer: explorer.name)
def test_what_is_shown_is_what_is_computed_in_many_places(explorer, capsys):
    luck, worst = np.random.default_rng(99), 0.0
    for _ in range(60):
        settings = anywhere(explorer, luck)
        shown = explorers.interpolate(explorer, lambda place: explorers.corner(explorer, HERON, place), settings)
        full = explorer.point(HERON, **settings)
        off = [abs(shown[name] / full[name] - 1) for name in explorer.numbers if np.isfinite(shown[name])]
        worst = max([worst, *off])
        assert shown["keep"] >= full["keep"] and shown["eat"] >= full["eat"]
    with capsys.disabled():
        print(f"\n{explorer.name}: worst difference {worst:.2%}")
    assert worst <= MOST


def made_up(explorer):
    """A grid of invented numbers in which every corner differs, for the rules alone."""
    luck = np.random.default_rng(5)
    shape = tuple(len(axis.marks) for axis in explorer.axes)
    grid = {name: luck.uniform(2, 9, shape) for name in explorer.numbers}
    return grid | {
        "keep": luck.integers(0, len(KEEP), shape), "eat": luck.integers(0, len(EAT), shape), "days": luck.uniform(1, 90, shape),
    }  # fmt: skip


@pytest.mark.parametrize("explorer", explorers.EXPLORERS, ids=lambda explorer: explorer.name)
def test_at_a_corner_the_corner_is_shown(explorer):
    grid = made_up(explorer)
    place = tuple(len(axis.marks) - 1 for axis in explorer.axes)
    shown = explorers.interpolate(explorer, grid, {axis.name: axis.marks[-1] for axis in explorer.axes})
    for name, values in grid.items():
        assert shown[name] == pytest.approx(values[place])


def test_between_corners_the_strictest_verdict_and_the_fewest_days_are_shown():
    explorer = small(explorers.DRYING_TIME, 1)
    grid = made_up(explorer)
    between = {
        axis.name: float(np.sqrt(axis.marks[0] * axis.marks[1]) if axis.log else np.mean(axis.marks[:2]))
        for axis in explorer.axes
    }
    shown = explorers.interpolate(explorer, grid, between)
    corner = (slice(0, 2),) * len(explorer.axes)
    assert shown["keep"] == grid["keep"][corner].max() and shown["eat"] == grid["eat"][corner].max()
    assert shown["days"] == grid["days"][corner].min()
    assert shown["mid"] == pytest.approx(np.exp(np.log(grid["mid"][corner]).mean()))
    grid["days"][0, 0, 0, 0] = grid["mid"][0, 0, 0, 0] = np.nan
    unknown = explorers.interpolate(explorer, grid, between)
    assert np.isnan(unknown["days"]) and np.isnan(unknown["mid"])


@pytest.fixture(scope="module", params=explorers.EXPLORERS, ids=lambda explorer: explorer.name)
def made(request):
    explorer = small(request.param, 1)
    grid = explorers.compute(explorer, HERON)
    return explorer, grid, explorers.page(explorer, grid, HERON)


def test_a_page_is_whole_and_asks_for_nothing(made):
    _, grid, page = made
    assert not re.search(r"@[A-Z]+@", page)
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", page)
    assert "default-src 'none'" in page and words.caution_line() in page
    data = json.loads(re.search(r"const D = (\{.*\});\n", page)[1].replace("<\\/", "</"))
    for name, values in grid.items():
        kept = np.frombuffer(base64.b64decode(data["grid"][name]), "<f4").reshape(values.shape)
        np.testing.assert_allclose(kept, values, rtol=1e-6)
    assert [key for key in data["keys"]] == list(KEEP)


def test_readings_are_in_both_unit_systems(made):
    explorer, _, _ = made
    for axis in explorer.axes:
        readings = axis.as_dict()["readings"]
        assert len(readings["metric"]) == len(readings["us"]) == len(axis.stops) == len(set(readings["metric"]))
    by_name = {axis.name: axis for axis in explorer.axes}
    if "temperature" in by_name:
        assert by_name["temperature"].reading(63.0, "us") == "145 °F"


def test_sliders_stop_within_their_grid():
    for explorer in explorers.EXPLORERS:
        for axis in explorer.axes:
            assert axis.marks[0] <= min(axis.stops) and max(axis.stops) <= axis.marks[-1] and axis.start in axis.stops
