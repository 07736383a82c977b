"""Input that cannot be gets its own clear error; odd but possible input is computed and judged."""

import json
import tomllib
from pathlib import Path

import pytest

from flakeyard import cli
from flakeyard.steps.intent.batch_file import (
    dump_batch,
    load_batch,
    mistakes,
    parse_batch,
    read_batch,
    save_batch,
    with_typed,
)
from flakeyard.steps.plan import plan as batches
from flakeyard.units import InputError, InputErrors

DEMO = Path(__file__).parents[3] / "data_demo"
HERON = (DEMO / "heron.toml").read_text(encoding="utf-8")
SALT = '{ what = "pickling salt", amount = "160 g" }'


def changed(old: str, new: str) -> str:
    assert old in HERON, old
    return HERON.replace(old, new, 1)


# name: (text of the file, words the error must hold: the field, what was given or why, what is allowed or an example)
BAD = {
    "temperature with a lone K": (changed('temperature = "70 °C"', 'temperature = "60 K"'), ("[dryer] temperature", 'did you mean "60 °C"?')),
    "temperature with a lone degree": (changed('temperature = "70 °C"', 'temperature = "140 °"'), ("[dryer] temperature", "140 °F")),
    "amount with a lone C": (changed('"1.8 L"', '"2 C"'), ("brine.ingredient 3] amount", '"2 cup"')),
    "about so hot": (changed('core = "74 °C"', 'core = "about 74 °C"'), ("[heat] core", "rule of safety")),
    "a range with a cautious end": (changed('thickest = "6 mm"', 'thickest = "7-8 mm"'), ("thickest", "the thicker one is the cautious one")),
    "overnight": (changed('time = "10 h"', 'time = "overnight"'), ("[brine] time", "does not say how long", '"10 h"')),
    "another word for a choice": (changed('form = "strips"', 'form = "filets"'), ("[cut] form", 'did you mean "fillets"?')),
    "negative weight": (changed('"1.8 kg"', '"-1.8 kg"'), ("[fish] raw_weight", "-1.8 kg", "kg")),
    "zero salt": (changed('"160 g"', '"0 g"'), ("brine.ingredient 1] amount", "0 g", "more than zero")),
    "not a number": (changed("frozen_days = 8", "frozen_days = nan"), ("[fish] frozen_days", "0 to 1000")),
    "infinite": (changed("frozen_days = 8", "frozen_days = inf"), ("[fish] frozen_days", "0 to 1000")),
    "thickness of a roast": (changed('thickness = "5 mm"', 'thickness = "60 mm"'), ("[cut] thickness", "60 mm", "mm")),
    "dryer too hot": (changed('temperature = "70 °C"', 'temperature = "95 °C"'), ("[dryer] temperature", "95 °C", "80 °C")),
    "species unknown": (changed("rainbow trout, farmed", "rainbow trot"), ("[fish] species", "rainbow trot", "ainbow trout")),
    "species missing": (changed('species = "rainbow trout, farmed"\n', "").replace("fat = 6.2\n", ""), ("[fish] species", "water", "protein")),
    "composition of 115 %": (
        changed('species = "rainbow trout, farmed"', "water = 80\nprotein = 25\nash = 3.8"), ("115 %", "93 %", "103 %"),
    ),
    "two units in one amount": (changed('"1.8 kg"', '"3 lb 20 oz"'), ("[fish] raw_weight", "two units", "68 oz")),
    "two units of time": (changed('time = "10 h"', 'time = "30 min 1 h"'), ("[brine] time", "two units", "1.5 h")),
    "thinnest above thickest": (changed('thinnest = "4 mm"', 'thinnest = "9 mm"'), ("thinnest", "9 mm", "≤")),
    "thickest below usual": (changed('thickest = "6 mm"', 'thickest = "4 mm"'), ("thickest", "4 mm", "≤")),
    "empty file": ("", ("[fish]", "[cut]", "[dryer]")),
    "only a title": ('title = "x"', ("[fish]", "[cut]", "[dryer]")),
    "no dryer": (HERON.split("[dryer]")[0], ("[dryer]", "missing", "temperature")),
    "syntax error": (changed('form = "strips"', "form = strips"), ("line 19", "column 8", "form = strips")),
    "bare amount": (changed('raw_weight = "1.8 kg"', "raw_weight = 1.8"), ("[fish] raw_weight", "1.8", "unit")),
    "amount without unit": (changed('time = "10 h"', 'time = "10"'), ("[brine] time", "unit is missing", "10 h")),
    "wrong kind of unit": (changed('thickness = "5 mm"', 'thickness = "6 g"'), ("[cut] thickness", "mass", "length")),
    "unit not known": (changed('"2 tbsp"', '"2 pinch"'), ("brine.ingredient 2] amount", "pinch", "tbsp")),
    "thousands or decimals": (changed('"160 g"', '"1,500 g"'), ("amount", '"1500 g"', '"1.5 g"')),
    "unknown key": (changed("origin =", "orgin ="), ("[fish] orgin", "origin")),
    "unknown section": (changed("[dryer]", "[drier]"), ("drier", "dryer")),
    "unknown word": (changed('stock = "frozen"', 'stock = "frosen"'), ("[fish] stock", "frozen", "fresh | frozen")),
    "unknown form": (changed('form = "strips"', 'form = "balls"'), ("[cut] form", "balls", "strips | fillets")),
    "flag in quotes": (changed("gutted = true", 'gutted = "yes"'), ("[fish] gutted", "yes", "true | false")),
    "fat above all fish": (changed("fat = 6.2", "fat = 62"), ("[fish] fat", "62", "0 to 35")),
    "fat as text": (changed("fat = 6.2", 'fat = "6.2 %"'), ("[fish] fat", "plain number", "6.2")),
    "half a tray": (changed("trays = 5", "trays = 4.5"), ("[dryer] trays", "4.5", "whole number")),
    "three faces": (changed("faces = 2", "faces = 3"), ("[dryer] faces", "3", "1 to 2")),
    "humidity of 140": (changed("relative_humidity = 50", "relative_humidity = 140"), ("[room] relative_humidity", "140", "100")),
    "brine for three months": (changed('time = "10 h"', 'time = "90 days"'), ("[brine] time", "90 days", "30 days")),
    "hot brine": (changed('temperature = "3 °C"', 'temperature = "60 °C"'), ("[brine] temperature", "60 °C", "40 °C")),
    "brine without ingredients": (changed("[[brine.ingredient]]", "[[fish.ingredient]]").split("[[fish")[0] + "[dryer]", ("brine.ingredient", "at least one")),
    "ingredient not known": (changed('"pickling salt"', '"moon salt"'), ("brine.ingredient 1] what", "moon salt", "salt")),
    "brine without water": (changed('what = "water"', 'what = "table salt"').replace('"1.8 L"', '"20 g"').replace('"honey"', '"table salt"'), ("brine.ingredient", "water")),
    "pack not known": (changed('"glass jar"', '"paper hat"'), ("[keep] pack", "paper hat", "jar")),
    "place not known": (changed('"refrigerator"', '"porch"'), ("[keep] place", "porch", "cupboard")),
    "water activity above one": (HERON + "measured_water_activity = 78\n", ("[keep] measured_water_activity", "78", "0.2 to 1")),
    "heavier after heating": (changed('hold = "1 min"', 'weight_after = "4 kg"'), ("[heat] weight_after", "4 kg", "130 %")),
    "freshen not a list": (HERON + '[freshen]\nwater = "3 L"\ntime = "1 h"\ntemperature = "4 °C"\n', ("[freshen]", "[[freshen]]")),
    "section as a value": (changed("[room]", 'room = "warm"\n[rum]'), ("room",)),
    "below absolute zero": (changed('frozen_at = "-20 °C"', 'frozen_at = "-300 °C"'), ("[fish] frozen_at", "-300 °C")),
    "range instead of an amount": (changed('thickness = "5 mm"', 'thickness = "6-8 mm"'), ("[cut] thickness", "range", "6 mm")),
    "syrup lighter than water": (
        changed('what = "honey"', 'what = "syrup"\none_cup_weighs = "160 g"'), ("one_cup_weighs", "160 g", "340 g"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_named(name, tmp_path, capsys):
    text, expected = BAD[name]
    file = tmp_path / "batch.toml"
    file.write_text(text, encoding="utf-8")
    assert cli.main(["plan", str(file)]) == 2
    told = capsys.readouterr().err
    assert "Traceback" not in told
    for words in expected:
        assert words in told, told
    assert "Allowed:" in told and "Example:" in told


def test_bad_files(tmp_path, capsys):
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * 50_000_000)
    latin = tmp_path / "latin.toml"
    latin.write_bytes('title = "Forelle, geräuchert"'.encode("latin-1"))
    cases = {tmp_path: "folder", tmp_path / "nothing.toml": "no such file", large: "50 MB", latin: "UTF-8"}
    for path, words in cases.items():
        assert cli.main(["plan", str(path)]) == 2
        assert words in capsys.readouterr().err


def test_there_are_enough_bad_cases():
    assert len(BAD) >= 40


# name: (text of the file, what must be true of the outcome)
ODD = {
    "decimal comma": (changed('"1.8 L"', '"1,5 L"'), lambda o: abs(o.brine["mass_kg"].mid - (1.5 * 0.998 + 0.16 + 0.042)) < 0.01),
    "mixed number": (changed('"2 tbsp"', '"1 1/2 cup"'), lambda o: 0.45 < o.brine["mass_kg"].mid - 1.797 - 0.16 < 0.56),
    "fraction sign": (changed('"160 g"', '"½ cup"'), lambda o: o.brine["salometer"].low < o.brine["salometer"].high),
    "warm brine for ten hours": (changed('temperature = "3 °C"', 'temperature = "20 °C"'), lambda o: o.verdict.eat == "no"),
    "more salt than dissolves": (changed('"160 g"', '"900 g"'), lambda o: any("cannot dissolve" in note for note in o.notes)),
    "more fish than trays": (changed('"1.8 kg"', '"9 kg"'), lambda o: any("Overload" in note for note in o.notes)),
    "no heating step": (HERON.replace('[heat]\ncore = "74 °C"\nhold = "1 min"\nchecked = "probe"\nto_tray = "10 min"\n', ""), lambda o: o.verdict.eat in ("cook_first", "no")),
    "no cold history": (
        changed("hours_above_4c = 0.5\n", "").replace("hours_above_21c = 0\n", ""),
        lambda o: o.verdict.keep == "not_known" and "fish.hours_above_4c" in o.unknown,
    ),
    "not gutted": (changed("gutted = true", "gutted = false"), lambda o: (o.verdict.keep, o.verdict.eat) == ("nowhere", "no")),
    "smells wrong": (changed("smells_normal = true", "smells_normal = false"), lambda o: o.verdict.keep == "nowhere"),
    "heated too little": (changed('core = "74 °C"', 'core = "63 °C"'), lambda o: o.verdict.eat != "ready"),
    "cupboard with moist aim": (
        changed('place = "refrigerator"', 'place = "cupboard"\ntarget_moisture = 35'), lambda o: o.verdict.keep != "cupboard",
    ),
    "unsalted": (HERON.split("[brine]")[0] + "[heat]" + HERON.split("[heat]")[1], lambda o: o.brine["salometer"].mid == 0),
    "nothing known of the dryer": (changed('heater = "500 W"', 'heater = "not known"'), lambda o: "dryer.heater" in o.unknown),
    "a room not described": (HERON.split("[room]")[0], lambda o: "room.relative_humidity" in o.unknown),
    "very thick piece": (changed('thickest = "6 mm"', 'thickest = "22 mm"'), lambda o: o.verdict.keep in ("not_known", "nowhere")),
    "whole fish": (changed('form = "strips"', 'form = "whole"'), lambda o: o.verdict.keep in ("not_known", "nowhere")),
    "cold dryer": (changed('temperature = "70 °C"', 'temperature = "12 °C"'), lambda o: o.verdict.keep in ("not_known", "nowhere")),
    "composition instead of species": (
        changed('species = "rainbow trout, farmed"', "water = 73.0\nprotein = 20.0\nash = 1.2"),
        lambda o: o.fish["protein_fraction"].mid > 0.18,
    ),
    "dry cure": (changed('method = "wet"', 'method = "dry"'), lambda o: o.brine["mass_kg"].mid is None and "brine.mass_kg" in o.unknown),
    "vinegar": (changed('what = "honey"', 'what = "vinegar"').replace("2 tbsp", "1 cup"), lambda o: o.verdict.keep != "cupboard"),
    "weighed after heating": (changed('hold = "1 min"', 'hold = "1 min"\nweight_after = "1.5 kg"'), lambda o: o.salted["mass_kg"].high - o.salted["mass_kg"].low < 0.08),
    "syrup by a weighed cup": (
        changed('what = "honey"', 'what = "syrup"\none_cup_weighs = "312 g"').replace("2 tbsp", "1 cup"),
        lambda o: 0.05 < o.brine["solute_fraction_sugar"].mid < 0.12,
    ),
    "escolar-like fat": (changed("fat = 6.2", "fat = 24"), lambda o: o.fish["fat_fraction"].mid > 0.2),
    "capital letters and spaces": (changed('place = "refrigerator"', 'place = " Freezer "'), lambda o: o.verdict.keep != "cupboard"),
}  # fmt: skip


@pytest.mark.parametrize("name", ODD)
def test_odd_input_is_computed_and_judged(name):
    text, holds = ODD[name]
    outcome = batches.plan(parse_batch(text), members=40)
    assert holds(outcome), json.dumps(outcome.as_dict(), ensure_ascii=False)[:1500]


def test_there_are_enough_odd_cases():
    assert len(ODD) >= 20


@pytest.mark.parametrize("name", ["heron", "otter", "kingfisher"])
def test_round_trip_keeps_every_word(name):
    batch = load_batch(DEMO / f"{name}.toml")
    assert tomllib.loads(dump_batch(batch)) == tomllib.loads((DEMO / f"{name}.toml").read_text(encoding="utf-8"))
    assert parse_batch(dump_batch(batch)) == batch


def test_saving_never_loses_a_file(tmp_path):
    path = tmp_path / "mine.toml"
    first = parse_batch(HERON)
    save_batch(first, path)
    second = with_typed(first, "fish", raw_weight="2 kg")
    save_batch(second, path)
    save_batch(first, path)
    assert load_batch(path) == first
    assert load_batch(tmp_path / "mine-1.toml") == first
    assert load_batch(tmp_path / "mine-2.toml") == second


def test_changed_copy_is_checked():
    batch = parse_batch(HERON)
    with pytest.raises(InputError, match="60 mm"):
        with_typed(batch, "cut", thickness="60 mm")
    assert with_typed(batch, "fish", fat=None).fish.fat is None


def test_empty_dictionary_says_what_is_needed():
    with pytest.raises(InputError, match=r"\[cut\]"):
        read_batch({})


def test_what_people_say_is_read_and_kept_in_their_words():
    said = {
        'temperature = "70 °C"': 'temperature = "145F"',
        '"1.8 kg"': '"about 3 lb 4 oz"',
        'time = "10 h"': 'time = "half a day"',
    }
    said |= {'"900 cm2"': '"12 x 14 in"', 'to_tray = "10 min"': 'to_tray = "ten minutes"'}
    text = HERON
    for old, new in said.items():
        text = text.replace(old, new, 1)
    batch = parse_batch(text)
    assert batch.dryer.temperature == pytest.approx((145 - 32) / 1.8) and batch.brine.time == 12 * 3600
    assert batch.fish.raw_weight == pytest.approx(52 * 0.028349523125)
    assert batch.dryer.tray_area == pytest.approx(168 * 0.0254**2)
    again = dump_batch(batch)
    assert all(word in again for word in ('"145F"', '"about 3 lb 4 oz"', '"half a day"', '"12 x 14 in"'))


# All mistakes at once

SEVERAL = (  # what to change, and a word of each mistake that must be told
    ({'"1.8 kg"': '"1.8"', '"6 mm"': '"60 mm"', "trays = 5": "trays = 4.5"}, ("raw_weight", "60 mm", "4.5")),
    ({'"pickling salt"': '"moon salt"', '"honey"': '"moon dust"', '"glass jar"': '"paper hat"'}, ("moon salt", "moon dust", "hat")),
    ({"origin =": "orgin =", "gutted =": "guted =", "[dryer]": "[drier]"}, ("orgin", "guted", "drier", '[dryer]: "nothing"')),
    ({'raw_weight = "1.8 kg"': "", '"rainbow trout, farmed"': '"moon fish"'}, ("raw_weight", "moon fish")),
    ({'thickness = "5 mm"': 'thickness = "9 mm"', 'core = "74 °C"': 'core = "74 K"'}, ("rising order", "[heat] core")),
)  # fmt: skip


@pytest.mark.parametrize(("changes", "words"), SEVERAL, ids=[row[1][0] for row in SEVERAL])
def test_all_mistakes_of_a_file_are_told_at_once(changes, words):
    text = HERON
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new, 1)
    with pytest.raises(InputErrors) as raised:
        parse_batch(text)
    assert len(raised.value.mistakes) == len(words)
    told = str(raised.value)
    assert all(word in told for word in words) and len(told.splitlines()) == 1 + len(words)
    assert raised.value.field == raised.value.mistakes[0].field


def test_at_most_ten_lines_of_mistakes_are_told():
    text = (
        HERON.replace(" kg", " kgs")
        .replace(" mm", " mms")
        .replace(" W", " Ws")
        .replace(" h", " hs")
        .replace(" g", " gs")
    )
    with pytest.raises(InputErrors) as raised:
        parse_batch(text.replace("°C", "K"))
    lines = str(raised.value).splitlines()
    assert len(raised.value.mistakes) > 10 == len(lines) and f"{len(raised.value.mistakes) - 8} more" in lines[-1]


def test_a_mistake_does_not_lead_to_another_that_is_none():
    """A fish that cannot be read is not called missing, nor are the pieces out of order when one of them is no length."""
    for old, new in (('"rainbow trout, farmed"', "3"), ('thinnest = "4 mm"', 'thinnest = "5 g"')):
        with pytest.raises(InputError) as raised:
            parse_batch(changed(old, new))
        assert not isinstance(raised.value, InputErrors)


def test_what_is_only_missing_is_no_mistake_yet():
    assert mistakes({}) == () == mistakes({"fish": {}, "cut": {"thinnest": "3 mm"}, "brine": {"time": "3 h"}})
    told = {"fish": {"species": "moon fish", "water": 80}, "cut": {"thickness": "6 mm", "thickest": "5 mm"}, "heat": {}}
    assert [mistake.field for mistake in mistakes(told)] == ["[fish] species", "[cut] thinnest, thickness, thickest"]
