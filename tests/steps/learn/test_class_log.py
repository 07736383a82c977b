"""A class on the invented logs of the demo class: what was weighed beside what the plans had said."""

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from flakeyard.steps.intent.batch_file import load_batch
from flakeyard.steps.learn import class_log, lessons
from flakeyard.steps.learn.logbook import read_log
from flakeyard.units import InputError

DEMO = Path(__file__).resolve().parents[3] / "data_demo"
HEAD = "hours,tray,mass_g,event\n"


@pytest.fixture(scope="module")
def heron():
    return class_log.group_of("heron", load_batch(DEMO / "heron.toml"), read_log(DEMO / "heron-weighings.csv"))


def follow(group, text):
    """The weighings of another log beside the group's plan."""
    other = class_log.Group(group.name, group.batch, read_log(HEAD + text), group.learned, group.prior)
    return class_log.weighings([other])


def test_every_weighing_after_the_start_is_told_with_its_share(heron):
    rows = class_log.weighings([heron])
    laid = {entry.tray: entry.mass for entry in heron.log.weighings if entry.hours == 0}
    later = [entry for entry in heron.log.weighings if entry.hours > 0]
    assert [(row.hours, row.tray, row.mass) for row in rows] == [(one.hours, one.tray, one.mass) for one in later]
    assert [row.left for row in rows] == pytest.approx([one.mass / laid[one.tray] for one in later])
    for row in rows:
        assert row.predicted.low < row.predicted.mid < row.predicted.high
        assert row.inside == (row.predicted.low <= row.left <= row.predicted.high)


def test_the_prediction_is_whole_as_laid_and_falls(heron):
    told = heron.predicted(np.linspace(0.0, 12.0, 25))
    np.testing.assert_allclose(told[:, 0], 1.0, atol=1e-9)
    assert np.all(np.diff(told, axis=1) < 0) and np.all(np.diff(told, axis=0) >= 0)


def test_a_tray_first_weighed_late_is_followed_from_the_plan_of_that_hour(heron):
    """Weighed at 2 h as the plan's middle has it, then at 4 h likewise: both shares are the plan's own middle."""
    two, four = heron.predicted([2.0, 4.0])[1]
    (row,) = follow(heron, f"0,1,300,\n2,9,{300 * two:.3f},\n4,9,{300 * four:.3f},\n")
    assert row.tray == "9" and row.left == pytest.approx(four, abs=1e-4) and row.inside


def test_pieces_taken_out_do_not_count_as_dried(heron):
    left = heron.predicted([2.0, 4.0])[1]
    told = follow(heron, f"0,1,300,\n2,1,{150 * left[0]:.3f},taken out\n4,1,{150 * left[1]:.3f},\n")
    assert [row.hours for row in told] == [4.0] and told[0].left == pytest.approx(left[1], abs=1e-4)


def test_a_log_that_says_so_is_invented_and_a_marked_piece_is_seen(heron):
    assert heron.says_invented and not heron.marked
    other = class_log.Group(
        "x", heron.batch, read_log(HEAD + "0,thickest,30,\n2,thickest,20,\n"), heron.learned, heron.prior
    )
    assert other.marked and not other.says_invented


def test_next_time_a_change_is_told_only_where_it_saves_hours(heron, monkeypatch):
    tried = [lessons.Change("do it so", heron.learned.hours_to_target, saved) for saved in (0.38, 0.04)]
    monkeypatch.setattr(lessons, "changes", lambda *_: tried)
    assert lessons.next_time(heron.learned)[0] == "Do it so: saves about 40 % of the hours."
    assert lessons.next_time(heron.learned, faster=False) == []
    monkeypatch.setattr(lessons, "changes", lambda *_: tried[1:])
    assert lessons.next_time(heron.learned) == []
    (look,) = lessons.next_time(replace(heron.learned, contradiction="it does not fit"))
    assert look.startswith("Find out why")


def test_a_folder_is_read_by_pairs(tmp_path):
    with pytest.raises(InputError, match="no batch file with a log beside it"):
        class_log.read_class(tmp_path)
    shutil.copy(DEMO / "heron.toml", tmp_path / "b.toml")
    (tmp_path / "b-weighings.csv").write_text("hours,tray,mass_g\n0,1,300\n", encoding="utf-8")
    (tmp_path / "alone.toml").write_text("no log stands beside this one", encoding="utf-8")
    (group,) = class_log.read_class(tmp_path)
    assert group.name == "b" and class_log.weighings([group]) == []
