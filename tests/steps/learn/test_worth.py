"""What a measurement would be worth: what is promised is about what comes of it, and nothing is promised for nothing."""

from pathlib import Path

import numpy as np
import pytest

from flakeyard.steps.chain.drying import activity
from flakeyard.steps.intent.batch_file import load_batch, with_typed
from flakeyard.steps.learn import worth
from flakeyard.steps.plan import plan as batches

DEMO = Path(__file__).parents[3] / "data_demo"


@pytest.fixture(scope="module", params=["heron", "kingfisher", "otter"])
def outcome(request):
    return plan(load_batch(DEMO / f"{request.param}.toml"))


def plan(batch, members=200):
    return batches.plan(batch, members=members, sketch=True)


def width(outcome):
    low, high = np.quantile(outcome.load.cautious_activity(), [0.1, 0.9])
    return high - low


def test_no_measurement_widens_and_a_better_meter_is_worth_more(outcome):
    found = worth.worths(outcome)
    by_name = {one.name: one for one in found.each}
    hours = outcome.drying["hours_to_target"]
    assert hours.high is None or found.hours == pytest.approx(hours.high / hours.low, rel=0.2)
    assert all(one.hours <= found.hours + 1e-9 and one.activity <= found.activity + 1e-9 for one in found.each)
    assert by_name["meter"].activity < by_name["hygrometer"].activity
    assert found.best("hours").name == "weighed" and found.best("activity").name in (
        "meter",
        "laid_sample",
        "dried_sample",
    )


def test_what_is_promised_of_the_water_activity_comes_about(outcome):
    """A meter and a sample that read the middle of the plan, typed in: near what was promised, where that was much."""
    batch, load = outcome.batch, outcome.load
    found = {one.name: one.activity for one in worth.worths(outcome).each}
    keep = {"stop_at": load.mass_ratio, "measured_at": load.mass_ratio}
    read = float(np.median(activity(load.dried, load.isotherm)))
    metered = with_typed(
        batch, "keep", **keep, measured_water_activity=read, measured_error=0.01, measured_by="laboratory"
    )
    left = 20 * (1 - float(np.median(load.dried.water / load.dried.mass)))
    dried = with_typed(
        with_typed(batch, "keep", **keep),
        "measured",
        dried_sample="20 g",
        dried_oven_dry=f"{left:.3f} g",
        scale_step="0.1 g",
    )
    for name, told in (("meter", metered), ("dried_sample", dried)):
        assert width(plan(told)) <= max(2.0 * found[name], 0.9 * width(outcome)), name


def test_what_was_measured_is_not_offered_again(outcome):
    told = with_typed(outcome.batch, "measured", thickness_error="0.3 mm", strip_salt=6.0)
    names = {one.name for one in worth.worths(plan(told, members=50)).each}
    assert not {"thickness", "strip"} & names and {"weighed", "meter"} <= names


def test_an_exact_reading_of_the_hours_leaves_none_of_their_width():
    said = np.linspace(0.0, 1.0, 100)
    hours, other = worth._widths(said, np.tile([0.0, 1.0], 50), said, 1e-4)
    assert hours < 0.02 and other <= 1.0
    assert worth._widths(said, said, said, 100.0)[0] == pytest.approx(0.8, abs=0.02)
