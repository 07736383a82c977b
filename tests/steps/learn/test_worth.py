"""What a measurement would be worth: what is promised is about what comes of it, and nothing is promised for nothing."""

from pathlib import Path

import numpy as np
import pytest

from flakeyard.steps.chain.drying import activity
from flakeyard.steps.intent.batch_file import load_batch, with_typed
from flakeyard.steps.intent.spread import normal_quantile
from flakeyard.steps.learn import worth
from flakeyard.steps.learn.evidence import ln_finish
from flakeyard.steps.learn.members import Members, Schedule, course_of
from flakeyard.steps.plan import plan as batches
from flakeyard.steps.plan.measured import Reading

DEMO = Path(__file__).parents[3] / "data_demo"


@pytest.fixture(scope="module", params=["heron", "kingfisher", "otter"])
def outcome(request):
    return plan(load_batch(DEMO / f"{request.param}.toml"))


def plan(batch, members=200):
    return batches.plan(batch, members=members, sketch=True)


def widths(outcome):
    """Of ln hours and of the cautious water activity, as the table has them."""
    course = course_of(outcome, Members(outcome.load.hours.size), Schedule())
    ends = [np.quantile(one, [0.1, 0.9]) for one in (ln_finish(course), outcome.load.cautious_activity())]
    return np.array([high - low for low, high in ends])


def typed_in(outcome, name, share):
    """The batch of a plan with a meter, or a sample of the piece as laid, that reads what a share of the members say."""
    batch, load = outcome.batch, outcome.load
    keep = {"stop_at": load.mass_ratio}
    if name == "meter":
        read = float(np.quantile(activity(load.dried, load.isotherm), share))
        metered = {"measured_water_activity": read, "measured_error": 0.01, "measured_by": "laboratory"}
        return with_typed(batch, "keep", **keep, measured_at=load.mass_ratio, **metered)
    usual = outcome.laid.cured.flesh
    left = 20 * float(np.quantile((1 - usual.water / usual.mass)[1], share))
    sample = {"laid_sample": "20 g", "laid_oven_dry": f"{left:.4f} g", "scale_step": "0.1 g"}
    return with_typed(with_typed(batch, "keep", **keep), "measured", **sample)


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


@pytest.mark.parametrize("name", ["meter", "laid_sample"])
def test_what_is_promised_comes_about(outcome, name):
    """Over readings that may come, not only the middle one: at most half as wide again as promised, at least half of it."""
    found = next(one for one in worth.worths(outcome).each if one.name == name)
    came = np.mean([widths(plan(typed_in(outcome, name, share))) for share in (0.15, 0.5, 0.85)], axis=0)
    promised = np.array([np.log(found.hours), found.activity])
    assert np.all(came < [1.2, 1.5] * promised) and np.all(came > [0.8, 0.5] * promised), (came, promised)


def test_a_reading_that_goes_in_steps_counts_as_read_less_finely():
    """Said evenly, next to nothing is lost; two steps far apart are half lost to straight lines."""
    even = normal_quantile((np.arange(200) + 0.5) / 200)
    steps = np.where(even > 0, 1.0, -1.0)
    assert worth._seen(Reading(even, 0.0, 0.01, ""))[1] == pytest.approx(0.01, abs=1e-6)
    assert 0.3 < worth._seen(Reading(steps, 0.0, 0.01, ""))[1] < 0.6
    assert np.isinf(worth._seen(Reading(steps, 0.0, np.inf, ""))[1])  # it can only warn, and narrows nothing


def test_what_was_measured_is_not_offered_again(outcome):
    told = with_typed(outcome.batch, "measured", thickness_error="0.3 mm", strip_salt=6.0)
    names = {one.name for one in worth.worths(plan(told, members=50)).each}
    assert not {"thickness", "strip"} & names and {"weighed", "meter"} <= names


def test_an_exact_reading_of_the_hours_leaves_none_of_their_width():
    said = np.linspace(0.0, 1.0, 100)
    hours, other = worth._widths(said, np.tile([0.0, 1.0], 50), said, 1e-4)
    assert hours < 0.02 and other <= 1.0
    assert worth._widths(said, said, said, 100.0)[0] == pytest.approx(0.8, abs=0.02)
