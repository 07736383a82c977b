"""Files that learners wrote with earlier versions are still read: their batches, their logs, their dryer."""

import json
from pathlib import Path

import pytest

from flakeyard import cli
from flakeyard.steps.intent.batch_file import dump_batch, load_batch, parse_batch
from flakeyard.steps.learn.dryer_profile import read_profile, write_profile

OLD = Path(__file__).parent / "old_files"
BATCHES = sorted(set(OLD.glob("*.toml")) - set(OLD.glob("*-dryer.toml")))
PROFILES = sorted(OLD.glob("*-dryer.toml"))


@pytest.mark.parametrize("path", BATCHES, ids=lambda path: path.stem)
def test_an_old_batch_is_planned_and_written_back_in_its_own_words(path, capsys):
    batch = load_batch(path)
    assert parse_batch(dump_batch(batch)) == batch and parse_batch(dump_batch(batch)).typed == batch.typed
    assert cli.main(["plan", str(path), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["drying"]["hours_to_target"]["mid"] > 0 and told["verdict"]["keep"]


@pytest.mark.parametrize("path", BATCHES, ids=lambda path: path.stem)
def test_an_old_log_is_learned_from(path, capsys):
    assert cli.main(["log", str(path), str(path.with_name(f"{path.stem}-weighings.csv")), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["learned"] and told["contradiction"] is None and told["hours_to_target"]["mid"] > 0


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_an_old_profile_narrows_a_plan_and_is_written_back(path, capsys, tmp_path):
    again = read_profile(write_profile(read_profile(path), tmp_path / "again.toml"))
    assert again.names == read_profile(path).names and again.batches == read_profile(path).batches
    words = ["log", str(OLD / "otter.toml"), str(OLD / "otter-weighings.csv"), "--profile", str(path), "--json"]
    assert cli.main(words) == 0 and json.loads(capsys.readouterr().out)["learned"]


def test_there_are_old_files():
    assert len(BATCHES) == 3 and len(PROFILES) == 1
