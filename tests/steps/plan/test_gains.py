"""What would gain time before a deadline: only where one stands, each change as if it had been planned itself."""

from pathlib import Path

import pytest

from flakeyard.steps.chain.drying import dry_thickest
from flakeyard.steps.chain.laying import until_laid
from flakeyard.steps.intent.batch_file import load_batch, with_typed
from flakeyard.steps.intent.spread import Draws, band
from flakeyard.steps.judge.safety import Deadline
from flakeyard.steps.plan import deadlines
from flakeyard.steps.plan.plan import plan

DEMO = Path(__file__).parents[3] / "data_demo"
HERON = with_typed(
    with_typed(load_batch(DEMO / "heron.toml"), "cut", thickness="6 mm", thinnest="5 mm", thickest="8 mm"),
    "dryer",
    temperature="63 °C",
)
LATE = with_typed(HERON, "cut", thickness="8 mm", thinnest="7 mm", thickest="10 mm")


def gains_of(batch):
    outcome = plan(batch, members=40)
    return outcome, {one.change: one for one in deadlines.gains(batch, outcome.facts, outcome.verdict.by)}


def test_nothing_is_tried_where_no_deadline_stands():
    outcome, found = gains_of(load_batch(DEMO / "kingfisher.toml"))
    assert not deadlines.stands(outcome.verdict.by) and found == {}
    assert deadlines.gains(LATE, outcome.facts, ()) == ()
    assert deadlines.stands((Deadline(6.0, "ready", 0.5), Deadline(None, "no", 1.0)))


def test_each_change_is_quicker_than_the_plan_it_changes():
    outcome, found = gains_of(LATE)
    assert list(found) == ["thinner", "half", "warmer"]
    before = dry_thickest(LATE, outcome.cured, Draws(deadlines.SKETCHED)).hours
    for one in found.values():
        assert one.hours.mid < band(before).mid and one.in_time >= outcome.verdict.by[0].chance - 0.1


def test_a_change_takes_the_hours_of_the_batch_typed_so():
    _, found = gains_of(LATE)
    typed = with_typed(LATE, "cut", thickness="6 mm", thinnest="5.25 mm", thickest="7.5 mm")
    draws = Draws(deadlines.SKETCHED)
    hours = band(dry_thickest(typed, until_laid(typed, draws).cured, draws).hours)
    assert found["thinner"].hours.mid == pytest.approx(hours.mid)
    warm = with_typed(LATE, "dryer", temperature="70 °C")
    hours = band(dry_thickest(warm, until_laid(warm, draws).cured, draws).hours)
    assert found["warmer"].hours.mid == pytest.approx(hours.mid)


def test_no_change_leads_out_of_what_was_tested():
    thin = with_typed(LATE, "cut", thinnest="3.5 mm")
    hot = with_typed(LATE, "dryer", temperature="69 °C")
    by = (Deadline(6.0, "ready", 0.5), Deadline(None, "no", 1.0))
    facts = plan(LATE, members=8).facts
    assert [one.change for one in deadlines.gains(thin, facts, by, 8)] == ["half", "warmer"]
    assert [one.change for one in deadlines.gains(hot, facts, by, 8)] == ["thinner", "half"]
