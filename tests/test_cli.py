"""The command line: opening the course from an installed package, checking, exit codes."""

import json
from pathlib import Path

import pytest

from flakeyard import cli


def test_check_prints_every_row_inside_its_tolerance(capsys):
    assert cli.main(["check"]) == 0
    told = capsys.readouterr().out
    assert len(told.splitlines()) > 40
    assert max(map(len, told.splitlines())) <= 80


def test_source_tree_is_opened_in_place():
    assert (cli.course_folder() / "workbooks" / "00-start-here.ipynb").exists()


def test_installed_course_is_copied_once_and_never_overwritten(tmp_path, monkeypatch):
    installed = tmp_path / "site" / "flakeyard"
    (installed / "course" / "workbooks").mkdir(parents=True)
    (installed / "course" / "workbooks" / "00-start-here.ipynb").write_text("{}")
    monkeypatch.setattr(cli, "HOME", installed)
    monkeypatch.chdir(tmp_path)
    copy = cli.course_folder() / "workbooks" / "00-start-here.ipynb"
    assert copy.is_relative_to(tmp_path / "flakeyard-class")
    copy.write_text("mine")
    assert cli.course_folder() == tmp_path / "flakeyard-class"
    assert copy.read_text() == "mine"


def test_no_command_is_an_error():
    with pytest.raises(SystemExit) as stop:
        cli.main([])
    assert stop.value.code == 2


DEMO = Path(__file__).parents[1] / "data_demo"


def test_a_log_prints_the_new_forecast(capsys, tmp_path):
    profile = tmp_path / "dryer.toml"
    files = [str(DEMO / "heron.toml"), str(DEMO / "heron-weighings.csv")]
    assert cli.main(["log", *files, "--json", "--keep-profile", str(profile)]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["hours_to_target"]["low"] < told["hours_to_target"]["mid"] < told["hours_to_target"]["high"]
    assert told["drying"]["target_mass_kg"] == told["target_mass_kg"]
    assert told["learned"] and told["contradiction"] is None
    assert cli.main(["log", *files, "--profile", str(profile)]) == 2
    assert "count twice" in capsys.readouterr().err


def test_a_log_as_text_says_when_to_stop_and_what_was_learned(capsys, tmp_path):
    log = tmp_path / "log.csv"
    log.write_text("time,tray,mass_g\n17:00,1,322\n19:00,1,249\n", encoding="utf-8")
    assert cli.main(["log", str(DEMO / "heron.toml"), str(log), "--scale", "1 g", "--units", "metric"]) == 0
    told = capsys.readouterr().out
    for words in ("DONE:", "STOP:", "WEIGH:", "times as long as planned", "throw", "local rules still holds"):
        assert words in told
    assert max(map(len, told.splitlines())) <= 80


def test_a_log_that_contradicts_the_plan_is_told_first_and_exits_well(capsys, tmp_path):
    log = tmp_path / "log.csv"
    log.write_text("hours,tray,mass_g\n0,1,322\n5,1,318\n", encoding="utf-8")
    assert cli.main(["log", str(DEMO / "heron.toml"), str(log)]) == 0
    told = capsys.readouterr().out
    assert told.index("THE LOG CONTRADICTS THE PLAN") < told.index("DONE:") < told.index("TO KEEP:")
    assert "Not known" in told


@pytest.mark.parametrize(
    ("text", "word"), [("time,tray,mass_g\n17:00,1,322\n19:00,1,400\n", "line 3, mass"), ("mass\n3\n", "line 1, mass")]
)
def test_a_log_that_cannot_be_read_exits_with_two(capsys, tmp_path, text, word):
    log = tmp_path / "log.csv"
    log.write_text(text, encoding="utf-8")
    assert cli.main(["log", str(DEMO / "heron.toml"), str(log)]) == 2
    assert word in capsys.readouterr().err


@pytest.mark.parametrize("units", ["metric", "us", "both"])
def test_a_plan_as_text_says_what_to_do_and_when_to_stop(capsys, units):
    assert cli.main(["plan", str(DEMO / "otter.toml"), "--units", units]) == 0
    told = capsys.readouterr().out
    for words in ("TO KEEP:", "TO EAT:", "plain water: 2 ×", "1 h each", "STOP when", "--all"):
        assert words in told
    assert cli.main(["plan", str(DEMO / "otter.toml"), "--units", units, "--all"]) == 0
    told = capsys.readouterr().out
    for words in ("TO KEEP:", "TO EAT:", "Freshen: 2 ×", "STOP when it weighs", "Why this verdict", "[K1"):
        assert words in told
    assert max(map(len, told.splitlines())) <= 80


def test_a_card_is_written_and_a_start_that_is_no_date_exits_with_two(capsys, tmp_path):
    files = ["card", str(DEMO / "kingfisher.toml"), "-o", str(tmp_path / "card.pdf"), "--start"]
    assert cli.main([*files, "2026-12-05 18:00"]) == 0
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF")
    assert cli.main([*files, "tomorrow"]) == 2
    assert "year-month-day" in capsys.readouterr().err
