"""The whole chain: keys, order, the directions physics demands, and what common practice says."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from flakeyard import cli
from flakeyard.steps.intent.batch_file import load_batch, parse_batch, with_typed
from flakeyard.steps.plan import plan as batches

DEMO = Path(__file__).parents[3] / "data_demo"
KEYS = {
    "fish": ("water_fraction", "protein_fraction", "fat_fraction"),
    "brine": ("solute_fraction_salt", "solute_fraction_sugar", "salometer", "water_activity", "mass_kg", "volume_l"),
    "salted": ("water_phase_salt", "water_phase_salt_centre", "salt_fraction", "mass_kg"),
    "drying": (
        "wet_bulb_c", "hours_to_target", "hours_flesh_10_to_57_c", "hours_flesh_above_21_c", "target_mass_kg", "mass_ratio", "kwh",
    ),
    "dried": ("water_fraction", "salt_fraction", "water_activity", "sodium_mg_per_serving", "mass_kg", "yield_of_raw"),
    "marked": ("water_fraction", "salt_fraction", "water_activity"),
}  # fmt: skip
KEEP = ("cupboard", "cold", "freezer", "not_known", "nowhere")
EAT = ("ready", "cook_first", "not_known", "no")
THIN = """
[fish]
species = "tilapia"
raw_weight = "200 g"
gutted = true
origin = "farmed"
hours_above_4c = 0
hours_above_21c = 0
smells_normal = true
[cut]
thickness = "5 mm"
[heat]
core = "74 °C"
hold = "1 min"
weight_after = "165 g"
[dryer]
temperature = "60 °C"
trays = 6
tray_area = "900 cm2"
faces = 2
heater = "600 W"
fresh_air = "30 m3/h"
[room]
temperature = "20 °C"
relative_humidity = 50
[keep]
place = "freezer"
target_moisture = 25
"""


@pytest.fixture(scope="module")
def thin():
    return parse_batch(THIN)


def hours(batch) -> np.ndarray:
    return batches.plan(batch, members=60).load.hours


@pytest.mark.parametrize("name", ["heron", "otter", "kingfisher"])
def test_plan_has_every_key_in_order(name, capsys):
    assert cli.main(["plan", str(DEMO / f"{name}.toml"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    for section, keys in KEYS.items():
        for key in keys:
            value = told[section][key]
            if value["mid"] is None:
                assert f"{section}.{key}" in told["unknown"]
            else:
                assert value["low"] <= value["mid"] <= value["high"], (section, key)
    assert told["verdict"]["keep"] in KEEP and told["verdict"]["eat"] in EAT
    assert all(
        {"rule", "text", "source"} <= row.keys() for row in told["verdict"]["reasons"] + told["verdict"]["cautions"]
    )
    assert told["verdict"]["cautions"] and told["sources"]
    assert told["keep"]["limited_by"] in ("mould", "rancidity", "official_cap", "no_shelf_life")


@pytest.mark.parametrize("units", ["metric", "us", "both"])
def test_text_fits_eighty_columns_and_says_what_matters(units, capsys):
    assert cli.main(["plan", str(DEMO / "heron.toml"), "--units", units]) == 0
    told = capsys.readouterr().out
    assert max(map(len, told.splitlines())) <= 80
    for words in ("TO KEEP", "TO EAT", "STOP when", "Local rules come first", "teaching estimate"):
        assert words in told
    assert (" lb" in told) == (units != "metric") and ("kg" in told) == (units != "us")


def test_doubling_every_thickness(thin):
    ratio = hours(with_typed(thin, "cut", thickness="10 mm")) / hours(thin)
    assert 2.2 <= np.median(ratio) <= 4.5


@pytest.mark.parametrize(
    ("section", "change"),
    [
        ("cut", {"thickness": "6 mm"}),
        ("cut", {"thickest": "7 mm"}),
        ("dryer", {"temperature": "55 °C"}),
        ("dryer", {"faces": 1}),
    ],
)
def test_never_sooner(thin, section, change):
    before, after = hours(thin), hours(with_typed(thin, section, **change))
    assert np.all(after >= before * (1 - 1e-6))


def test_wetter_air_at_most_two_per_cent_sooner(thin):
    before, after = hours(thin), hours(with_typed(thin, "room", relative_humidity=90))
    assert np.all(after >= before * 0.98)


@pytest.mark.parametrize("name", ["heron", "otter", "kingfisher"])
def test_without_the_heating_step_never_milder(name):
    batch = load_batch(DEMO / f"{name}.toml")
    heated, raw = batches.plan(batch).verdict, batches.plan(replace(batch, heat=None)).verdict
    assert KEEP.index(raw.keep) >= KEEP.index(heated.keep)
    assert EAT.index(raw.eat) >= max(EAT.index(heated.eat), EAT.index("cook_first"))


def test_water_and_salt_are_booked_between_fish_and_bath():
    batch = load_batch(DEMO / "otter.toml")
    outcome = batches.plan(replace(batch, heat=None, freshen=()), members=50)
    cured, raw, brine = outcome.cured, outcome.raw, outcome.cured.brine
    for name, bath in (("water", brine.water), ("salt", brine.salt)):
        start = getattr(raw.flesh, name) + bath / raw.mass
        now = getattr(cured.flesh, name) + getattr(cured.bath, name)
        np.testing.assert_allclose(now, np.broadcast_to(start, now.shape), rtol=1e-9)
    np.testing.assert_allclose(cured.salt.mean * cured.flesh.water, cured.flesh.salt, rtol=1e-9)


def test_pieces_dry_in_order():
    shares = batches.plan(load_batch(DEMO / "heron.toml")).hours_by_share
    middle = [value.mid for value in shares.values()]
    assert middle == sorted(middle)


def test_same_file_same_plan():
    batch = load_batch(DEMO / "heron.toml")
    assert batches.plan(batch).as_dict() == batches.plan(batch).as_dict()


# common practice, no source: quarter-inch strips, 8-12 h in the refrigerator, half a cup of canning salt in four cups of
# liquid of which one is a heavy sugar syrup, for about four pounds of a medium-fat freshwater fish
PRACTICE = """
[fish]
species = "trout, mixed species"
raw_weight = "4 lb"
gutted = true
origin = "farmed"
hours_above_4c = 0.5
hours_above_21c = 0
smells_normal = true
[cut]
form = "strips"
thickness = "1/4 in"
thickest = "1/4 in"
width = "1 in"
skin = "off"
[brine]
time = "10 h"
temperature = "38 °F"
[[brine.ingredient]]
what = "pickling salt"
amount = "1/2 cup"
[[brine.ingredient]]
what = "syrup"
amount = "1 cup"
recipe_sugar = "2 cup"
recipe_liquid = "1 cup"
[[brine.ingredient]]
what = "water"
amount = "3 cup"
[heat]
core = "165 °F"
hold = "1 min"
checked = "probe"
[dryer]
temperature = "145 °F"
faces = 2
trays = 8
tray_area = "150 in2"
heater = "600 W"
[room]
temperature = "70 °F"
relative_humidity = 45
[keep]
place = "freezer"
pack = "freezer bag"
"""


def test_common_practice_brine_gives_very_salty_fish_that_wants_freshening():
    outcome = batches.plan(
        replace(parse_batch(PRACTICE), heat=None)
    )  # the practice dries raw fish; the verdict does not
    after_12_hours = np.median(np.array([np.interp(12 * 3600, outcome.load.result.times, m) for m in _usual(outcome)]))
    salt = outcome.cured.flesh.salt[1] / outcome.cured.flesh.mass[1]
    assert 0.10 <= np.median(salt) / after_12_hours <= 0.17  # common practice, no source
    wanted = "after the salting and before any heating or drying"
    assert any(note.startswith("Very salty") and wanted in note for note in outcome.notes)


def test_common_practice_strips_are_leathery_after_12_hours_and_not_for_the_shelf():
    outcome = batches.plan(replace(parse_batch(PRACTICE), heat=None))
    flesh, times = outcome.cured.flesh, outcome.load.result.times
    dead = (flesh.mass[1] - flesh.water[1]) / flesh.mass[1]
    touching, apart = (
        1 - dead / np.array([np.interp(12 * 3600, times, m) for m in pieces])
        for pieces in (outcome.load.courses[1].result.mass_ratio, _usual(outcome))
    )
    assert 0.10 <= np.median(touching) <= 0.35  # leathery, not brittle: common practice, no source
    assert np.median(apart) < np.median(touching) and np.quantile(apart, 0.75) > 0.10
    assert outcome.verdict.eat == "no"  # dried raw, past the official clock: stricter than the practice
    assert batches.plan(parse_batch(PRACTICE)).verdict.keep == "freezer"  # heated first: freezer, not the shelf


def _usual(outcome):
    shape = outcome.cured.flesh.mass.shape
    return outcome.load.result.mass_ratio.reshape(*shape, -1)[1]


def test_every_source_named_in_a_plan_is_known():
    from flakeyard import tables

    named = batches.plan(load_batch(DEMO / "otter.toml"), members=20).sources
    assert set(named) <= set(tables.sources())
