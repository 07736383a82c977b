"""How laboratories and kitchens lie apart: one draw a batch, wider bands, and never a milder end."""

from dataclasses import replace

import numpy as np
import pytest

from flakeyard import tables
from flakeyard.models import sorption
from flakeyard.steps.chain import drying
from flakeyard.steps.chain.laying import until_laid
from flakeyard.steps.intent.spread import Draws, places_of_a_lognormal
from flakeyard.steps.judge import storing
from flakeyard.steps.learn.members import Members
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook.own import demo_batch

TERMS = {term.topic: term for term in tables.study_spread()}
DRAWN = set(TERMS) - {"rancidity"}  # which is laid over the days, whatever their number
MEMBERS = 100


def alike(draws=None, topics=DRAWN):
    """Draws of a world in which all laboratories agree."""
    draws = draws or Draws(MEMBERS)
    for topic in topics:
        draws = draws.settled(topic)
    return draws


@pytest.fixture(scope="module", params=["heron", "otter", "kingfisher"])
def both(request):
    """A demo batch planned as it is, and as if all laboratories agreed."""
    batch = demo_batch(request.param)
    return plan(batch, MEMBERS), plan(batch, draws=alike())


def test_a_plan_draws_each_term_by_its_name():
    members = Members(16)
    plan(demo_batch("otter"), draws=members, sketch=True)
    assert {TERMS[topic].draw for topic in DRAWN} <= set(members.names)


def test_a_factor_has_median_one_and_the_spread_of_its_row():
    for topic, term in TERMS.items():
        factor = np.log(Draws(400).study(topic))
        assert np.median(factor) == pytest.approx(0.0, abs=0.01) and factor.std() == pytest.approx(term.sd, rel=0.03)
    assert np.log(places_of_a_lognormal(0.9, 400)).std() == pytest.approx(0.9, rel=0.03)
    with pytest.raises(KeyError, match="weather"):
        Draws(4).study("weather")


def test_hours_are_spread_by_the_term_of_drying_hours(both):
    """Film, radiation and diffusivity are slower together, so hours go with the term, but where a heater is the limit."""
    told, agreed = (np.log(np.minimum(one.load.hours, 96.0)) for one in both)
    term = TERMS["drying hours"].sd if both[0].load.coolest_air > 65.0 else 0.6 * TERMS["drying hours"].sd
    assert told.std() == pytest.approx(np.hypot(agreed.std(), term), rel=0.15)
    assert np.median(told) == pytest.approx(np.median(agreed), abs=0.15)


def test_no_clock_is_shorter_at_its_upper_end(both):
    told, agreed = (one.facts for one in both)
    for name in ("h", "hs", "f48", "c54", "c40"):
        assert getattr(told.warm, name) >= getattr(agreed.warm, name) - 1e-9
    assert told.hours_flesh_10_to_57 > 1.2 * agreed.hours_flesh_10_to_57


def test_no_days_are_longer(both):
    told, agreed = both
    clocks = told.keep.clocks, agreed.keep.clocks
    assert all(clocks[0][name] <= 1.02 * clocks[1][name] for name in clocks[0])
    assert (told.keep.days or 0) <= (agreed.keep.days or 0)


def test_days_are_half_the_middle_or_what_the_spread_leaves_and_not_both():
    """rancidity: exp(-1.2816 x 0.9) = 0.32 of the middle days, where half of them was counted on before."""
    left = np.percentile(storing._between_studies(), storing.CAUTIOUS_END, method="lower")
    assert storing.RANCID_PART * left == pytest.approx(np.exp(-1.2816 * 0.9), rel=0.08)
    assert storing._between_studies().max() == 1.0


def test_weighing_after_the_heating_settles_the_water():
    batch = demo_batch("heron")
    weighed = replace(batch, heat=replace(batch.heat, weight_after=1.5))
    members = Members(16)
    until_laid(weighed, members)
    assert TERMS["water after salting"].draw not in members.names
    told, agreed = (
        until_laid(weighed, draws).cured.flesh.water for draws in (Draws(16), alike(Draws(16), ["water after salting"]))
    )
    assert told == pytest.approx(agreed)


def test_the_cautious_end_is_margin_or_spread_whichever_is_more(both):
    told, _ = both
    piece, isotherm = told.load.dried, told.load.isotherm
    cautious = drying.activity(piece, isotherm, cautious=True)
    for other in (isotherm | {"flesh_water": 1.0}, isotherm | {"margin": 0.0}):
        assert np.all(
            cautious
            >= sorption.water_activity_cautious(piece.water, piece.salt, piece.fat, piece.solids, **other) - 1e-12
        )
    assert np.all(cautious >= drying.activity(piece, isotherm) - 1e-9)  # sugar only lowers the estimate
