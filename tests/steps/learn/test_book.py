"""A batch and its log: forecasts made once, what the scale showed, what if, and a file that loses nothing."""

from pathlib import Path

import numpy as np
import pytest

from flakeyard.steps.intent.batch_file import load_batch
from flakeyard.steps.intent.spread import UNKNOWN, Band
from flakeyard.steps.learn.book import Book, Trial, hours_by_hand, only, points, retyped, trays_as_laid, width
from flakeyard.steps.learn.logbook import Log, read_log
from flakeyard.units import InputError

DEMO = Path(__file__).parents[3] / "data_demo"


@pytest.fixture(scope="module")
def heron():
    batch = load_batch(DEMO / "heron.toml")
    return Trial(batch, read_log(DEMO / "heron-weighings.csv"))


def test_every_weighing_makes_the_forecast_no_wider_than_the_plan(heron):
    wide = [width(heron.learned(used).hours_to_target) for used in (0, 1, 5)]
    assert wide[0] > 1.3 * wide[1] > 1.3 * wide[2]
    assert heron.learned(1) is heron.learned(1)


def test_steps_tell_what_the_scale_showed(heron):
    step = heron.at(6)
    assert len(step.made) == 7 and not step.by_piece
    hours, left = points(heron.log, by_piece=False)
    assert left[0] == 1 and np.all(np.diff(left) < 0)
    assert left[1] == pytest.approx(1070 / 1570)
    assert hours[1] < step.happened < hours[-1]
    assert np.interp(step.happened, hours, left) == pytest.approx(step.stop, abs=1e-6)


def test_a_tray_that_was_taken_from_drops_out_of_the_points():
    log = read_log(
        "hours,tray,mass_g,event\n0,1,300,\n0,2,300,\n2,1,200,\n2,2,200,\n3,1,90,taken out\n4,1,80,\n4,2,150,\n"
    )
    hours, left = points(log, by_piece=False)
    assert hours.tolist() == [0, 2, 4]
    assert left.tolist() == pytest.approx([1, 2 / 3, 0.5])


def test_the_marked_piece_is_followed_by_itself():
    log = read_log("hours,tray,mass_g\n0,1,300\n0,thickest,30\n2,1,200\n2,thickest,24\n")
    assert points(log, by_piece=True)[1].tolist() == pytest.approx([1, 0.8])
    assert points(log, by_piece=False)[1].tolist() == pytest.approx([1, 2 / 3])


def test_the_rule_by_hand_is_the_rule_of_three(heron):
    """What the plan reaches at t and the scale at h makes all hours h / t times as long."""
    course, left = heron.prior(heron.log), 824 / 1570
    planned = np.interp(-left, -np.median(course.load, axis=0), course.times / 3600)
    assert hours_by_hand(heron, 2) == pytest.approx(np.median(course.finish[-1]) * 4 / planned)


def test_a_wrong_digit_is_set_aside_and_a_small_mistake_is_not(heron):
    line = next(entry.line for entry in heron.log.entries if entry.hours == 4 and entry.tray == "3")
    assert line == 14
    wrong, small = (heron.what_if(retyped(heron.upto(2), line, grams)) for grams in (142, 157))
    assert [entry.line for entry in wrong.set_aside] == [line] and not small.set_aside
    assert small.hours_to_target.mid < heron.learned(2).hours_to_target.mid


def test_only_keeps_one_moment(heron):
    log = only(heron.log, 6.0)
    assert log.moments == (6.0,) and len(log.entries) == 10


def test_width_of_a_forecast_without_an_end():
    assert width(Band(2.0, 3.0, 5.0)) == 3 and width(Band(2.0, 3.0, None)) == np.inf


def test_a_trial_goes_on_from_the_weighing_in_use_and_can_be_restored(heron):
    trial = Trial(heron.batch, heron.log)
    with pytest.raises(InputError, match="gained"):
        trial.keep(1, time="2026-11-20 21:00", tray="1", mass_g=280)
    assert trial.moments == heron.moments and read_log(trial.path).moments == heron.moments
    trial.keep(1, time="2026-11-20 21:00", tray="1", mass_g=207)
    assert trial.moments == (2.0, 4.0)
    trial.restore()
    assert [vars(entry) for entry in trial.log.entries] == [
        vars(entry) | {"line": number} for number, entry in enumerate(heron.log.entries, 2)
    ]


def test_each_forecast_is_told_beside_what_happened(heron):
    step = heron.at(6)
    assert step.misses == [made.mid - step.happened for made in step.made]
    young = Trial(heron.batch, heron.upto(1)).at(1)
    assert young.happened is None and young.misses == [None, None]


def test_all_trays_as_laid_without_the_marked_piece(heron):
    assert trays_as_laid(heron.log) == pytest.approx(1.570)
    assert trays_as_laid(read_log("hours,tray,mass_g\n0,1,300\n0,thickest,30\n2,1,200\n")) == pytest.approx(0.3)


def test_a_book_without_a_file_has_a_plan_and_no_log(heron, tmp_path):
    book = Book(heron.batch, tmp_path / "log.csv")
    assert book.log == Log(()) and book.trouble == "" and book.moments == ()
    assert book.planned == heron.learned(0).plan.drying["hours_to_target"] != UNKNOWN


def test_a_note_with_a_comma_goes_through_a_scratch_copy(heron):
    log = read_log(
        'time,tray,mass_g,note\n2026-11-20 17:00,1,322,"warm, windy"\n2026-11-20 19:00,1,249,"a ""hard"" rim"\n'
    )
    trial = Trial(heron.batch, log)
    assert [entry.note for entry in trial.log.entries] == ["warm, windy", 'a "hard" rim']
