"""The learner's own numbers: kept at once, never lost, never overwritten without a copy."""

import pytest

from flakeyard.steps.intent.batch_file import dump_batch, load_batch, read_batch, said, save_batch
from flakeyard.steps.plan import plan as batches
from flakeyard.workbook import own

WEIGHT = ("fish", "raw_weight")


def test_without_a_file_the_demo_batch_stands_in(tmp_path):
    assert own.own_batch(tmp_path).title == own.demo_batch("heron").title


def test_numbers_are_kept_with_a_numbered_copy_of_the_older_file(tmp_path):
    for weight in ("1.1 kg", "1.2 kg", "1.3 kg"):
        told = own.keep_numbers(own.own_batch(tmp_path), {WEIGHT: weight}, tmp_path)
        assert told.startswith("Saved in my-batch.toml")
    assert said(load_batch(tmp_path / own.FILE), *WEIGHT) == "1.3 kg"
    kept = {said(load_batch(path), *WEIGHT) for path in tmp_path.glob("*.toml")}
    assert kept == {"1.1 kg", "1.2 kg", "1.3 kg"}


def test_a_mistake_is_told_and_changes_nothing(tmp_path):
    own.keep_numbers(own.own_batch(tmp_path), {WEIGHT: "1.1 kg"}, tmp_path)
    before = (tmp_path / own.FILE).read_bytes()
    told = own.keep_numbers(own.own_batch(tmp_path), {WEIGHT: "a bucket"}, tmp_path)
    assert told.startswith("Not saved: ") and "a bucket" in told and "raw_weight" in told
    assert (tmp_path / own.FILE).read_bytes() == before and len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize("broken", ["this is no batch file", '[fish]\nspecies = "no such fish"\n', "[fish\n"])
def test_a_file_that_cannot_be_read_is_told_and_stays(tmp_path, broken, capsys):
    (tmp_path / own.FILE).write_text(broken, encoding="utf-8")
    assert own.own_batch(tmp_path).title == own.demo_batch("heron").title
    assert "my-batch.toml cannot be used yet" in capsys.readouterr().out
    own.keep_numbers(own.own_batch(tmp_path), {WEIGHT: "1.1 kg"}, tmp_path)
    assert broken in [path.read_text(encoding="utf-8") for path in tmp_path.glob("*.toml")]


def test_the_form_saves_into_what_another_lesson_has_saved_meanwhile(tmp_path):
    form = own.own_batch_form(tmp_path)
    own.keep_numbers(own.own_batch(tmp_path), {("room", "temperature"): "25 °C"}, tmp_path)
    weight = next(field for field in form.children if getattr(field, "description", "") == "Weight, trimmed")
    weight.value = "0.9 kg"
    next(field for field in form.children if getattr(field, "description", "") == "Save my numbers").click()
    saved = load_batch(tmp_path / own.FILE)
    assert said(saved, *WEIGHT) == "0.9 kg" and saved.room.temperature == 25


def test_the_history_of_herons_fish_is_not_taken_for_that_of_the_learners(tmp_path):
    heron = own.demo_batch("heron")
    assert {"gutted", "hours_above_4c", "origin", "fat"} <= heron.typed["fish"].keys()
    own.keep_numbers(own.batch_to_keep(tmp_path), {WEIGHT: "0.9 kg"}, tmp_path)
    kept = load_batch(tmp_path / own.FILE)
    assert not set(own.HISTORY) & kept.typed["fish"].keys()
    assert kept.title != heron.title
    assert batches.plan(kept, members=20).verdict.eat == "not_known"


def test_another_fish_has_another_history(tmp_path):
    (tmp_path / own.FILE).write_text(dump_batch(own.demo_batch("otter")), encoding="utf-8")
    same = {WEIGHT: "0.9 kg", ("fish", "species"): "Atlantic mackerel"}
    own.keep_numbers(own.batch_to_keep(tmp_path), same, tmp_path)
    assert load_batch(tmp_path / own.FILE).fish.gutted is True
    own.keep_numbers(own.batch_to_keep(tmp_path), same | {("fish", "species"): "Atlantic cod"}, tmp_path)
    assert not set(own.HISTORY) & load_batch(tmp_path / own.FILE).typed["fish"].keys()


def test_a_fish_told_by_its_composition_gives_way_to_a_species(tmp_path):
    told = {"raw_weight": "1 kg", "water": 78.0, "protein": 19.0, "fat": 2.0, "gutted": True}
    dryer = {"temperature": "63 °C", "trays": 2, "tray_area": "900 cm2"}
    save_batch(read_batch({"fish": told, "cut": {"thickness": "6 mm"}, "dryer": dryer}), tmp_path / own.FILE)
    told = own.keep_numbers(own.batch_to_keep(tmp_path), {("fish", "species"): "Atlantic cod"}, tmp_path)
    assert told.startswith("Saved")
    kept = load_batch(tmp_path / own.FILE)
    assert kept.fish.species == "Atlantic cod" and kept.fish.gutted is None and kept.fish.water is None
