"""The learner's own numbers: what was told and nothing else, kept at once, never lost, never overwritten without a copy."""

import ipywidgets as widgets
import pytest

from flakeyard.steps.intent.batch_file import dump_batch, load_batch, read_batch, said, save_batch, with_typed
from flakeyard.steps.plan import plan as batches
from flakeyard.units import InputError
from flakeyard.workbook import own
from flakeyard.workbook.panels import air, brine, keeping, salt
from flakeyard.workbook.panels.panel import Choice

WEIGHT, THICKNESS = ("fish", "raw_weight"), ("cut", "thickness")
WHOLE = {
    ("fish", "species"): "Atlantic cod", WEIGHT: "1 kg", THICKNESS: "6 mm", ("dryer", "temperature"): "63 °C",
    ("dryer", "trays"): "4", ("dryer", "tray_area"): "900 cm2",
}  # fmt: skip
LESSONS = {  # what each form saves when a learner types one thing into it, and what its file then holds
    "numbers": (lambda folder: own.keep_numbers({WEIGHT: "1 kg"}, folder), {"fish": {"raw_weight": "1 kg"}}),
    "dryer": (lambda folder: air.keep_dryer({("dryer", "trays"): "3"}, folder), {"dryer": {"trays": 3}}),
    "room": (lambda folder: air.keep_dryer({("room", "temperature"): "22 °C"}, folder), {"room": {"temperature": "22 °C"}}),
    "keeping": (lambda folder: keeping.keep_keeping({("keep", "place"): "freezer"}, folder), {"keep": {"place": "freezer"}}),
    "heat": (lambda folder: keeping.keep_keeping({("heat", "core"): "70 °C"}, folder), {"heat": {"core": "70 °C"}}),
    "history": (lambda folder: keeping.keep_keeping({("fish", "gutted"): "no"}, folder), {"fish": {"gutted": False}}),
    "soaks": (lambda folder: salt.keep_soaks({"serving": "40 g"}, Choice(), folder), {"serving": "40 g"}),
    "brine": (
        lambda folder: brine.keep_brine(
            [("salt", "100 g", ""), ("water", "1 L", "")], {"time": "9 h", "temperature": "4 °C"}, folder
        ),
        {
            "brine": {
                "ingredient": [{"what": "salt", "amount": "100 g"}, {"what": "water", "amount": "1 L"}],
                "time": "9 h", "temperature": "4 °C",
            }
        },
    ),
}  # fmt: skip


def texts(widget):
    """Every field of a form, by its label."""
    found = {} if not hasattr(widget, "description") else {widget.description: widget}
    for child in getattr(widget, "children", ()):
        found |= texts(child)
    return found


def test_without_a_file_the_demo_batch_stands_in(tmp_path, capsys):
    assert own.own_batch(tmp_path).title == own.demo_batch("heron").title
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize("name", LESSONS)
def test_only_what_was_told_is_in_the_file(name, tmp_path):
    keep, expected = LESSONS[name]
    told = keep(tmp_path)
    assert told.startswith("Saved in my-batch.toml.") and "Still the demonstration's" in told
    assert own.own_told(tmp_path) == expected
    batch = own.own_batch(tmp_path)
    heron = own.demo_batch("heron")
    for section in ("heat", "brine", "presoak", "rest"):
        assert (getattr(batch, section) is None) == (section not in expected)
    assert batch.freshen == () and batch.keep == read_batch(heron.typed | {"keep": expected.get("keep", {})}).keep
    assert batch.room == read_batch(heron.typed | {"room": expected.get("room", {})}).room


def test_what_is_borrowed_is_named_and_no_verdict_rests_on_it(tmp_path, capsys):
    own.keep_numbers({WEIGHT: "1 kg", ("fish", "species"): "Atlantic cod"}, tmp_path)
    batch = own.own_batch(tmp_path)
    assert "Still the demonstration's" in (told := capsys.readouterr().out) and "cut, dryer." in told
    outcome = batches.plan(batch, members=12)
    assert {"cut.thickness", "dryer.temperature", "dryer.trays", "dryer.tray_area"} <= set(outcome.unknown)
    assert any(reason.rule == "R4" and "cut, dryer" in reason.text for reason in outcome.verdict.reasons)
    assert outcome.facts.borrowed == "cut, dryer" and not any(
        "was heated" in one.text for one in outcome.verdict.reasons
    )
    whole = {name: value for name, value in batch.typed.items() if name != "title"}
    assert batches.plan(read_batch(whole), members=12).facts.borrowed == ""  # the very same numbers, told
    assert with_typed(batch, "dryer", trays=3).borrowed == ("cut.thickness", "dryer.temperature", "dryer.tray_area")


def test_a_borrowed_species_says_nothing_of_the_learners_fish(tmp_path):
    own.keep_numbers({key: text for key, text in WHOLE.items() if key != ("fish", "species")}, tmp_path)
    facts = batches.plan(own.own_batch(tmp_path), members=12).facts
    assert facts.species_known is False and facts.histamine_former is facts.fat_raw is facts.refused_as is None
    assert facts.borrowed == "fish species"


def test_no_verdict_is_milder_for_what_is_borrowed(tmp_path):
    """A batch in good order, its heating probed, with one needed part after the other not told."""
    heron = own.demo_batch("heron").typed
    for section, key in (("fish", "raw_weight"), ("fish", "species"), ("cut", "thickness"), ("dryer", "trays")):
        told = heron | {section: {name: value for name, value in heron[section].items() if name != key}}
        verdict = batches.plan(own.whole(told), members=12).verdict
        assert verdict.keep in ("not_known", "nowhere") and verdict.eat in ("not_known", "no")


def test_a_file_that_is_whole_is_planned_by_the_command(tmp_path):
    told = own.keep_numbers(WHOLE, tmp_path)
    assert told == "Saved in my-batch.toml. Plan it with: flakeyard plan my-batch.toml"
    assert load_batch(tmp_path / own.FILE).dryer.trays == 4 and own.own_batch(tmp_path).borrowed == ()
    (tmp_path / own.FILE).unlink()
    own.keep_numbers({WEIGHT: "1 kg"}, tmp_path)
    with pytest.raises(InputError, match=r"\[cut\]|\[fish\]"):
        load_batch(tmp_path / own.FILE)  # the command asks for what is missing


def test_what_is_needed_is_the_learners_once_it_was_seen_and_saved(tmp_path):
    form = own.own_batch_form(tmp_path)
    shown = {label: field.value for label, field in texts(form).items() if label not in ("", "Save my numbers")}
    assert shown == {
        "Fish": "rainbow trout, farmed", "Weight, trimmed": "1.8 kg", "Usual thickness": "5 mm", "Thinnest piece": "",
        "Thickest piece": "", "Dryer set to": "70 °C",
    }  # fmt: skip
    texts(form)["Save my numbers"].click()
    told = own.own_told(tmp_path)
    assert told == {
        "fish": {"species": "rainbow trout, farmed", "raw_weight": "1.8 kg"}, "cut": {"thickness": "5 mm"},
        "dryer": {"temperature": "70 °C"},
    }  # fmt: skip
    assert own.own_batch(tmp_path).borrowed == ("dryer.trays", "dryer.tray_area")


def test_no_optional_field_shows_the_demonstration(tmp_path):
    for make in (air.dryer_form, keeping.own_keeping_form, lambda folder: salt.own_soaks_form(None, folder)):
        for label, field in texts(make(tmp_path)).items():
            if isinstance(field, widgets.HTML):
                continue
            needed = label in ("Dryer set to", "Trays", "Area of one tray")
            assert bool(getattr(field, "value", "")) == needed, label


def test_numbers_are_kept_with_a_numbered_copy_of_the_older_file(tmp_path):
    for weight in ("1.1 kg", "1.2 kg", "1.3 kg"):
        assert own.keep_numbers({WEIGHT: weight}, tmp_path).startswith("Saved in my-batch.toml")
    assert said(own.own_batch(tmp_path), *WEIGHT) == "1.3 kg"
    kept = {path.read_text(encoding="utf-8").split('"')[1] for path in tmp_path.glob("*.toml")}
    assert kept == {"1.1 kg", "1.2 kg", "1.3 kg"}


def test_a_mistake_is_told_and_changes_nothing(tmp_path):
    own.keep_numbers({WEIGHT: "1.1 kg"}, tmp_path)
    before = (tmp_path / own.FILE).read_bytes()
    told = own.keep_numbers({WEIGHT: "a bucket"}, tmp_path)
    assert told.startswith("Not saved: ") and "a bucket" in told and "raw_weight" in told
    assert (tmp_path / own.FILE).read_bytes() == before and len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize("broken", ["this is no batch file", '[fish]\nspecies = "no such fish"\n', "[fish\n"])
def test_a_file_that_cannot_be_read_is_told_and_stays(tmp_path, broken, capsys):
    (tmp_path / own.FILE).write_text(broken, encoding="utf-8")
    assert own.own_batch(tmp_path).title == own.demo_batch("heron").title
    assert "my-batch.toml cannot be used yet" in capsys.readouterr().out
    own.keep_numbers({WEIGHT: "1.1 kg"}, tmp_path)
    assert broken in [path.read_text(encoding="utf-8") for path in tmp_path.glob("*.toml")]


def test_the_form_saves_into_what_another_lesson_has_saved_meanwhile(tmp_path):
    form = own.own_batch_form(tmp_path)
    own.keep_numbers({("room", "temperature"): "25 °C"}, tmp_path)
    fields = texts(form)
    fields["Weight, trimmed"].value = "0.9 kg"
    fields["Save my numbers"].click()
    saved = own.own_batch(tmp_path)
    assert said(saved, *WEIGHT) == "0.9 kg" and saved.room.temperature == 25


def test_another_fish_has_another_history(tmp_path):
    metered = {"keep": {"place": "freezer", "measured_water_activity": 0.7, "measured_error": 0.01}}
    otter = read_batch(own.demo_batch("otter").typed | metered)
    (tmp_path / own.FILE).write_text(dump_batch(otter), encoding="utf-8")
    same = {WEIGHT: "0.9 kg", ("fish", "species"): "Atlantic mackerel"}
    own.keep_numbers(same, tmp_path)
    assert load_batch(tmp_path / own.FILE).fish.gutted is True
    own.keep_numbers(same | {("fish", "species"): "Atlantic cod"}, tmp_path)
    assert own.own_told(tmp_path)["fish"] == {"raw_weight": "0.9 kg", "species": "Atlantic cod"}
    assert own.own_told(tmp_path)["keep"] == {"place": "freezer"}


def test_naming_the_fish_at_last_keeps_what_was_told_of_it(tmp_path):
    keeping.keep_keeping({("fish", "gutted"): "yes", ("fish", "hours_above_21c"): "0"}, tmp_path)
    own.keep_numbers(WHOLE, tmp_path)
    fish = own.own_batch(tmp_path).fish
    assert fish.species == "Atlantic cod" and fish.gutted is True and fish.hours_above_21c == 0


def test_a_fish_told_by_its_composition_gives_way_to_a_species(tmp_path):
    told = {"raw_weight": "1 kg", "water": 78.0, "protein": 19.0, "fat": 2.0, "gutted": True}
    dryer = {"temperature": "63 °C", "trays": 2, "tray_area": "900 cm2"}
    save_batch(read_batch({"fish": told, "cut": {"thickness": "6 mm"}, "dryer": dryer}), tmp_path / own.FILE)
    assert texts(own.own_batch_form(tmp_path))["Fish"].value == ""  # no trout in the place of a fish that is told
    told = own.keep_numbers({("fish", "species"): "Atlantic cod", WEIGHT: "1 kg"}, tmp_path)
    assert told.startswith("Saved")
    kept = load_batch(tmp_path / own.FILE)
    assert kept.fish.species == "Atlantic cod" and kept.fish.gutted is None and kept.fish.water is None


def test_a_learner_without_a_probe_can_say_so(tmp_path):
    (tmp_path / own.FILE).write_text(dump_batch(own.demo_batch("heron")), encoding="utf-8")
    told = keeping.keep_keeping({("heat", "checked"): "not checked"}, tmp_path)
    assert "counts as raw" in told
    verdict = batches.plan(own.own_batch(tmp_path), members=12).verdict
    assert verdict.eat != "ready" and not any("was heated to" in reason.text for reason in verdict.reasons)
