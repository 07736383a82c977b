"""Trays that change places: in a log they then differ less, as much less as places were shared; only where it was told."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some

from flakeyard.steps.intent.batch_file import load_batch, with_typed
from flakeyard.steps.learn import evidence
from flakeyard.steps.learn.learning import learn
from flakeyard.steps.learn.logbook import read_log
from flakeyard.steps.learn.members import Schedule

HERON = load_batch(Path(__file__).parents[3] / "data_demo" / "heron.toml")
ROWS = "time,tray,mass_g,event\n18:00,1,322,\n18:00,2,318,\n20:00,1,232,\n20:00,2,228,\n"
NOTED = "20:00,all,,moved\n"
LATER = "22:00,1,180,\n"


def places(turning=evidence.STAYING, text=ROWS + LATER):
    return evidence.rows_of(read_log(text), Schedule(), turning=turning).places


@given(some.floats(0.25, 24.0), some.integers(2, 8))
def test_a_tray_was_always_somewhere_and_differs_less_the_more_places_it_had(every, among):
    shares = places((every, among))
    assert np.all(shares >= 0.0) and shares.sum(axis=1) == pytest.approx(np.ones(len(shares)))
    still, own = (np.sum(one**2, axis=1) for one in (places(), shares))
    assert np.all(own <= still + 1e-9) and np.all(own >= 1.0 / among - 1e-9)


def test_places_are_shared_evenly_after_whole_rounds_and_not_at_all_before_the_first_change():
    assert np.sum(places((1.0, 4))[-1] ** 2) == pytest.approx(1 / 4)  # tray 1 after four hours
    assert np.sum(places((5.0, 4))[-1] ** 2) == pytest.approx(1.0)


def test_what_was_told_and_noted_as_well_counts_once():
    text = ROWS + NOTED + LATER
    assert np.sum(places((2.0, 5), text)[-1] ** 2) == pytest.approx(np.sum(places((2.0, 5))[-1] ** 2))
    assert np.sum(places(text=text)[-1] ** 2) == pytest.approx(1 / 2)  # noted alone: two places


def test_a_log_is_narrower_for_it_only_where_it_was_told():
    log = read_log(ROWS)
    widths = []
    for rotated in (None, "12 h", "30 min"):
        batch = HERON if rotated is None else with_typed(HERON, "dryer", rotated=rotated)
        hours = learn(batch, log, sketch=True).hours_to_target
        widths.append(np.log(hours.high / hours.low))
    assert widths[1] == pytest.approx(widths[0], rel=1e-9) and widths[2] < widths[0]
