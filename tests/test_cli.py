"""The command line: opening the course from an installed package, checking, exit codes."""

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
