"""The tables: closed compositions, flags, names, densities and sources."""

import csv
import random
import re
from dataclasses import dataclass
from importlib.resources import files

import pytest

from flakeyard import tables
from flakeyard.units import InputError

DATA = files("flakeyard").joinpath("data")
RECORDS = [
    *tables.all_species(),
    *tables.ingredients(),
    *tables.packs(),
    *tables.yields(),
    *tables.dried_products(),
    *tables.kitchen_measures().values(),
]
WITH_COMPOSITION = [one for one in tables.all_species() if one.water is not None]
# Families named by the EU rules on histamine: Regulation (EU) 1019/2013, annex, footnote 17 (eu_histamine_2013, read)
EU_FAMILIES = {"Scombridae", "Clupeidae", "Engraulidae", "Coryphaenidae", "Pomatomidae", "Scomberesocidae"}


def test_every_record_knows_its_source_and_how():
    for record in RECORDS:
        assert record.source.title and record.how in tables.HOWS, record.id
        assert (record.how == "memory") == (
            record.source_id in {"recalled", "judgement", "metric_kitchen_measures", "imperial_gallon"}
        )


@pytest.mark.parametrize("fish", WITH_COMPOSITION, ids=lambda fish: fish.id)
def test_composition_closes_and_is_that_of_fish(fish):
    parts = (fish.water, fish.protein, fish.fat, fish.ash)
    assert sum(parts) + fish.carbohydrate == pytest.approx(1.0, abs=1e-12)
    assert all(0.0 < part < 1.0 for part in parts)
    if fish.usable:
        # fat-free solids vary little around 21 % (fish_lipid_moisture, read); the ends are a judgement
        assert 0.14 < (fish.protein + fish.ash) / (1 - fish.fat) < 0.28
        assert fish.salt is None or fish.salt < 0.006


def test_misfit_of_the_printed_parts_widens_the_water():
    for fish in WITH_COMPOSITION:
        if fish.printed_sum is not None:
            assert abs(fish.water - fish.water_g / 100) == pytest.approx(abs(1 - fish.printed_sum), abs=1e-9)
            assert fish.water_sd >= max(0.012, abs(1 - fish.printed_sum) / 2) - 1e-9
            assert (abs(1 - fish.printed_sum) > 0.02) == ("add up to" in fish.note)
        assert fish.fat_sd >= 0.003


def test_atlantic_mackerel_is_usable_with_wider_water():
    fish = tables.species("Atlantic mackerel")
    assert fish.usable and fish.printed_sum == pytest.approx(0.9739)
    assert fish.water == pytest.approx(0.6616) and fish.water_sd > 0.013
    assert fish.histamine_former is True


def test_treated_and_unknown_fish_are_flagged_with_a_reason():
    unusable = {fish.id for fish in tables.all_species() if not fish.usable}
    assert unusable == {"haddock", "flatfish", "sturgeon", "escolar", "oilfish"}
    treated = {fish.id for fish in tables.all_species() if fish.sodium_mg is not None and fish.sodium_mg > 200}
    assert treated == {"haddock", "flatfish", "sturgeon"}
    assert all(fish.note for fish in tables.all_species() if not fish.usable)


def test_histamine_families():
    for fish in tables.all_species():
        if EU_FAMILIES & set(fish.family.split(" and ")):
            assert fish.histamine_former is True, fish.id
        if fish.histamine_former is False:
            assert fish.histamine_how == "read"  # recalled limits may only make a verdict stricter
        assert fish.histamine_source.title
    assert {fish.id for fish in tables.all_species() if fish.advisory} == {"escolar", "oilfish"}
    assert tables.species("yellowtail").histamine_former and tables.species("oilfish").histamine_former


def test_names_find_their_record():
    assert (
        tables.species("rainbow trout, farmed")
        is tables.species("TROUT_rainbow_farmed")
        is tables.species("Farmed  trout")
    )
    assert tables.species("Gadus morhua").id == "cod_atlantic"
    assert tables.ingredient("Canning salt").id == "salt_pickling"
    assert tables.pack("mason jar").id == "glass_jar"


@pytest.mark.parametrize(
    "records", [tables.all_species(), tables.ingredients(), tables.packs()], ids=["fish", "brine", "pack"]
)
def test_no_name_stands_for_two_things(records):
    owners: dict[str, set[str]] = {}
    for one in records:
        for name in (one.id, one.common_name, *one.aliases):
            owners.setdefault(name.casefold(), set()).add(one.id)
    assert not {name: ids for name, ids in owners.items() if len(ids) > 1}


@pytest.mark.parametrize(
    ("look_up", "name", "offered"),
    [
        (tables.species, "macerel", "Atlantic mackerel"),
        (tables.species, "salmon", "Atlantic salmon, farmed"),
        (tables.species, "Salmo salar", "Atlantic salmon, wild"),
        (tables.ingredient, "pickling slat", "pickling salt"),
        (tables.pack, "glass jarr", "glass jar"),
    ],
)
def test_a_wrong_name_offers_near_ones(look_up, name, offered):
    with pytest.raises(InputError, match=offered) as caught:
        look_up(name, field="[fish] species")
    assert caught.value.field == "[fish] species" and caught.value.given == name


def offers(look_up, name):
    """What is asked after a wrong name ("did you mean ...?"); nothing where nothing is, None where the name is known."""
    try:
        look_up(name)
    except InputError as mistake:
        return re.findall(r'"([^"]+)"', mistake.why) if "did you mean" in mistake.why else []
    return None


LOOK_UPS = {"fish": tables.species, "brine": tables.ingredient, "pack": tables.pack}
NAMES = {
    kind: [(one, name) for one in rows for name in (one.common_name, *one.aliases)]
    for kind, rows in (("fish", tables.all_species()), ("brine", tables.ingredients()), ("pack", tables.packs()))
}


def slips(name: str, luck: random.Random):
    """A letter changed, left out, doubled, and two that changed places."""
    place = luck.randrange(len(name))
    head, letter, tail = name[:place], name[place], name[place + 1 :]
    other = luck.choice("abcdefghijklmnopqrstuvwxyz")
    return head + other + tail, head + tail, head + letter + letter + tail, head + tail[:1] + letter + tail[1:]


@pytest.mark.parametrize("kind", NAMES)
def test_a_slip_in_any_name_is_offered_something_of_its_kind_or_nothing(kind):
    luck, helped, tried = random.Random(1), 0, 0
    for record, name in NAMES[kind]:
        for slip in slips(name, luck):
            offered = offers(LOOK_UPS[kind], slip)
            if offered is None:
                found = LOOK_UPS[kind](slip)
                assert found is record or slip.casefold() in map(str.casefold, tables._own_names(found))
                continue
            meant = [LOOK_UPS[kind](one) for one in offered]
            assert all(tables._kinds(one) & tables._kinds(record) for one in meant), (slip, offered)
            assert not any(getattr(one, "advisory", "") for one in meant), (slip, offered)
            tried, helped = tried + 1, helped + (record in meant)
    assert helped > 0.6 * tried  # short names and names with a warning get no offer


OTHERS = {  # typed by someone who means just that: what may be offered at most
    "fish": {
        "redfish": (), "turbot": (), "scad": (), "chub": (), "king": (), "tilefish": (), "wolffish": (), "lingcod": (),
        "monkfish": (), "snake": (), "butterfish": (), "wax fish": (), "oil": (), "oil fsh": (), "oilfsh": (),
        "escolr": (), "white tuna": (), "puffer": (), "dolphin": (), "sea": (), "fish": (), "lake": (), "horse": (),
        "pollack": ("Atlantic pollock (saithe)", "Alaska pollock, not previously frozen"),
    },
    "brine": {
        "curing salt": (), "cure": (), "cure #1": (), "pink salt": (), "pickling cure": (), "pink curing salt": (),
        "prague powder": (), "saltpetre": (), "sodium nitrite": (), "salt substitute": (), "potassium salt": (),
        "epsom salt": (), "bath salt": (), "baking soda": (), "lime": (), "lye": (), "table": (), "white": (), "cup": (),
    },
    "pack": {"oil lamp": (), "lid": (), "glass": (), "plastic": (), "vacuum": ()},
}  # fmt: skip


@pytest.mark.parametrize(("kind", "name"), [(kind, name) for kind, names in OTHERS.items() for name in names])
def test_no_guess_turns_one_thing_into_another(kind, name):
    offered = offers(LOOK_UPS[kind], name)
    assert offered is None or set(offered) <= set(OTHERS[kind][name])


def test_no_name_is_taken_for_a_wild_guess():
    for name in ("", "xyz", "Dinosaur", "é", "a"):
        with pytest.raises(InputError):
            tables.species(name)


def test_ingredients_are_possible():
    for one in tables.ingredients():
        assert 0 < one.density_low <= one.density_mid <= one.density_high < 2200, one.id
        assert 0 <= one.salt_low <= one.salt <= one.salt_high <= 1
        assert -1e-12 <= one.water + one.salt + one.sugar + one.acid <= 1 + 1e-12, one.id
        assert one.density_source.title and one.density_how in tables.HOWS
        assert one.kind in {"salt", "sugar", "syrup", "water", "acid", "sauce", "aromatics"}


def test_a_cup_of_flakes_holds_about_half_the_salt_of_a_cup_of_table_salt():
    # grams per quarter cup: table 76.0, hollow flakes 45.2, pyramid flakes 33.2 (salt_by_weight_2012, read)
    cup = tables.kitchen("cup")
    table, hollow, pyramid = (
        tables.ingredient(name).mass_of(cup)[1] for name in ("table salt", "kosher flakes", "salt flakes")
    )
    assert hollow / table == pytest.approx(45.2 / 76.0, rel=0.05)  # 5 %: single weighings
    assert pyramid / table == pytest.approx(33.2 / 76.0, rel=0.05)
    low, _, high = tables.ingredient("salt").mass_of(cup)
    assert low < 0.133 and high > 0.304  # the lightest and heaviest cups weighed at home


def test_salt_is_at_least_as_pure_as_food_salt_must_be():
    # at least 97 % of the dry matter: CODEX STAN 150-1985, 3.1 (codex_salt, read)
    assert {one.salt_low for one in tables.ingredients() if one.kind == "salt"} == {0.97}


def test_soy_sauce_and_salted_cod_salt_from_sodium():
    # 5493 mg sodium per 100 g (usda_shoyu, read); 7027 mg in dried salted cod is 17.9 % salt (usda_sr28, read)
    assert tables.ingredient("soy sauce").salt == pytest.approx(0.05493 * tables.SALT_PER_SODIUM, abs=1e-4)
    cod = next(one for one in tables.dried_products() if one.id == "cod_dried_salted")
    assert cod.salt == pytest.approx(0.1786, abs=1e-4)


def test_own_syrup():
    one = tables.syrup(0.65, 1313.0)
    assert (one.sugar, one.water, one.density_low, one.density_high) == (0.65, pytest.approx(0.35), 1313.0, 1313.0)


def test_packs_are_ordered_and_the_tight_ones_are_called_airtight():
    for one in tables.packs():
        assert 0 <= one.transmission_low <= one.transmission_high and 0 <= one.leak_low <= one.leak_high
        assert one.transmission_high + one.leak_high > 0 and one.area > 0
        assert one.airtight or (one.barrier in {"none", "some"} and not one.removes_air)
    # water per day of a pack of 200 g at 38 °C and 90 %: jar, foil, vacuum pouch, freezer bag, thin bag, paper
    names = ("glass jar", "foil pouch", "vacuum bag", "freezer bag", "sandwich bag", "paper bag")
    daily = [one.transmission_high * one.area + one.leak_high for one in map(tables.pack, names)]
    assert daily[0] < 0.02 and daily[1] < 0.02 and daily[1:] == sorted(daily[1:])
    # 1 to 2 g mil per 100 square inches and day for low-density polyethylene (biosystems_engineering, table 11.2, read)
    thin = tables.pack("sandwich bag")  # 1 mil
    assert (thin.transmission_low, thin.transmission_high) == pytest.approx((15.5, 31.0), rel=0.001)


def test_yields_are_shares():
    for one in tables.yields():
        assert 0 < one.low <= one.mid <= one.high <= 1, one.id
    assert [one.id for one in tables.yields() if not one.usable] == ["fish_dried_statistics_factor_dried_product"]


def test_records_are_loaded_once_and_frozen():
    assert tables.all_species() is tables.all_species()
    with pytest.raises(AttributeError):
        tables.species("cod").usable = False


@dataclass
class NoSalt:
    common_name: "float"


@dataclass
class Sweet:
    sweetness: "float"


def test_a_broken_row_is_named():
    with pytest.raises(ValueError, match=r"salts\.csv, line 2: .* is not a float"):
        tables.read_records("salts.csv", NoSalt)
    with pytest.raises(ValueError, match=r"salts\.csv, line 2: no sweetness"):
        tables.read_records("salts.csv", Sweet)


OWN = [
    "species",
    "study_spread",
    "salts",
    "sugars",
    "liquids",
    "packs",
    "yields",
    "dried_products",
    "kitchen",
    "sources",
    "nomenclature",
]


@pytest.mark.parametrize("name", OWN)
def test_the_first_column_names_each_row_once(name):
    with DATA.joinpath(f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        _, *rows = csv.reader(lines)
    names = [row[0] for row in rows]
    assert len(names) == len(set(names)), sorted({one for one in names if names.count(one) > 1})
