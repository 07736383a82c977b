"""Refused substances and fish: every spelling is caught, plain salt and plain fish pass, a question stays a question."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flakeyard import refused, tables
from flakeyard.refused import SAYS, fish, substance
from flakeyard.units import InputError

CURING = [
    "curing salt", "Curing Salts", "pink curing salt", "PINK CURE", "Cure #1", "cure#2", "CURE-1", "cure 2", "cures",
    "Prague powder", "Prague Powder No. 1", "prague-powder #2", "praguepowder", "Prauge powder", "saltpetre", "saltpeter",
    "Salt Petre", "salt-peter", "salpetre", "sel de salpêtre", "salitre", "nitrite", "nitrates", "sodium nitrite",
    "potassium  nitrate", "nitrite salt", "Nitritpökelsalz", "Natriumnitrit", "sel nitrité", "E249", "E 250", "e-251",
    "E252", "INS 250", "KNO3", "NaNO2", "tinted cure", "tinted curing mixture", "TCM", "quickcure", "sugar cure mix",
    "no 1 cure", "No. 2 curing salt", "cure, nitrate-free", "zero nitrite cure", "salt without nitrite, with nitrate",
    "celery powder", "Celery Juice Powder", "cultured celery", "fermented celery juice", "Swiss chard powder",
]  # fmt: skip
PLAIN = [
    "pickling salt", "kosher salt", "Kosher Salts", "sea salt", "fine sea-salt", "salt", "rock salt", "table salt",
    "iodized salt", "smoked salt", "salt, cure-free", "nitrite-free salt", "salt (no nitrites or nitrates)",
    "salt without added nitrite", "nitrite/nitrate-free sea salt", "sodium citrate", "citric acid", "celery",
    "celery seed", "pink peppercorns", "sugar", "water", "black pepper", "secret mix", "", "   ",
]  # fmt: skip


@pytest.mark.parametrize("name", CURING)
def test_curing_salts_are_refused_in_every_spelling(name):
    found = substance(name)
    assert found.says == "refuse" and "Take plain salt" in found.why and tables.source(found.source_id).title


@pytest.mark.parametrize("name", PLAIN)
def test_plain_things_are_not_refused(name):
    assert substance(name) is None


@pytest.mark.parametrize(
    "name",
    ["pink salt", "Pink-Salt", "pink rock salt", "Himalayan salt", "pink Himalayan salts", "himalyan", "sel rose"],
)
def test_pink_rock_salt_is_a_question(name):
    found = substance(name)
    assert found.says == "ask" and "?" in found.why and "nitrite" in found.why


@pytest.mark.parametrize("name", ["celery salt", "uncured salt", "cured salt"])
def test_other_open_questions(name):
    assert substance(name).says == "ask"


@pytest.mark.parametrize("name", ["nitirte", "nitrte salt", "curring salt", "salpeeter", "saltepter", "pragque powder"])
def test_a_slip_of_the_pen_is_asked_about(name):
    found = substance(name)
    assert found.says in ("ask", "refuse")
    if found.says == "ask":
        assert found.why.startswith("Did you mean ") and name in found.why


def test_refusing_beats_asking():
    assert substance("pink salt with sodium nitrite").says == "refuse"
    assert fish("white tuna", family="Gempylidae").says == "refuse"


def test_no_ingredient_of_the_tables_is_refused():
    for one in tables.ingredients():
        for name in (one.id, one.common_name, *one.aliases):
            assert substance(name) is None, name


BAD_FISH = [
    "escolar", "Escolars", "oilfish", "Oil Fish", "oil-fish", "oilfishes", "walu", "Hawaiian butterfish",
    "super white tuna", "snake mackerel", "fugu", "Puffer", "puffer fish", "pufferfishes", "blowfish", "globe fish",
    "swellfish", "northern puffer", "porcupine-fish", "sea squab", "silver-cheeked toadfish", "ocean sunfish",
]  # fmt: skip


@pytest.mark.parametrize("name", BAD_FISH)
def test_fish_that_purge_or_poison_are_refused(name):
    found = fish(name)
    assert found.says == "refuse" and "Do not use this fish" in found.why and tables.source(found.source_id).title


@pytest.mark.parametrize(
    ("latin", "family"),
    [("Lepidocybium flavobrunneum", ""), ("Ruvettus pretiosus", ""), ("", "Gempylidae"), ("Takifugu rubripes", ""),
     ("Lagocephalus sceleratus", ""), ("", "Tetraodontidae"), ("", "Diodontidae"), ("Mola mola", "")],
)  # fmt: skip
def test_latin_names_and_families_are_enough(latin, family):
    assert fish("a fish", latin, family).says == "refuse"
    assert fish("", latin, family, "cold or temperate").says == "refuse"  # no answer about waters helps


REEF = [
    "barracuda", "Great Barracudas", "moray eel", "grouper", "groper", "red snapper", "jack", "crevalle", "amberjack",
    "hogfish", "hog fish", "parrot-fish", "surgeonfish", "lion fish", "king mackerel", "coral trout", "sea bass",
]  # fmt: skip


@pytest.mark.parametrize("name", REEF)
def test_reef_hunters_ask_for_the_waters(name):
    asked = fish(name)
    assert asked.says == "ask" and "cold or temperate" in asked.why and "tropical or reef" in asked.why
    assert fish(name, waters="tropical or reef").says == "refuse"
    assert fish(name, waters="cold or temperate").says == "allow"


@pytest.mark.parametrize(
    "family", ["Serranidae and Moronidae", "Scombridae and Carangidae", "lutjanidae", "Muraenidae"]
)
def test_families_as_the_species_table_writes_them(family):
    assert fish("some fish", family=family).says == "ask"


def test_waters_are_one_of_two():
    with pytest.raises(InputError, match=r"cold or temperate \| tropical or reef"):
        fish("snapper", waters="warm")


def test_redfish_is_its_own_fish():
    for name in ("redfish", "Red Fish", "redfishes"):
        found = fish(name)
        assert found.says == "ask" and "oilfish" not in found.why.casefold() and found.id == "redfish"


@pytest.mark.parametrize("name", ["butterfish", "white tuna", "rudderfish", "snoek", "toadfish"])
def test_names_shared_with_a_bad_fish_are_asked_about(name):
    assert fish(name).says == "ask" and fish(name, waters="cold or temperate").says == "ask"


@pytest.mark.parametrize(
    "name", ["escolor", "escoler", "oilfsh", "pufer fish", "blowfsh", "baracuda", "snaper", "gruoper"]
)
def test_a_misspelled_fish_is_asked_about(name):
    assert fish(name).says == "ask" and name in fish(name).why


@pytest.mark.parametrize(
    "name",
    ["trout", "mackerel", "cod", "sunfish", "goldfish", "tilefish", "dogfish", "hagfish", "catfish", "monkfish", "bluefish",
     "rockfish", "lumpfish", "weakfish", "milkfish", "flatfish", "cuttlefish", "needlefish", "wolffish", "boarfish", "dory",
     "tilapia", "herring", "eel", "perch", "swordfish", "mahi-mahi", "jackfish", ""],
)  # fmt: skip
def test_other_fish_pass(name):
    assert fish(name) is None


def test_the_species_table_agrees():
    says = {one.id: fish(one.common_name, one.latin_name, one.family) for one in tables.all_species()}
    assert {name for name, found in says.items() if found and found.says == "refuse"} == {"escolar", "oilfish"}
    assert {name for name, found in says.items() if found and found.says == "ask"} == {
        "snapper", "sea_bass", "yellowtail", "mackerel_pacific"}  # fmt: skip
    for one in tables.all_species():
        for name in one.aliases:
            found = fish(name)
            assert not found or says[one.id], name  # an other name of a plain fish raises no question


@given(st.sampled_from([*CURING, *BAD_FISH]), st.sampled_from(["", " ", "  ", "-", "_"]), st.booleans())
def test_capitals_spaces_and_hyphens_make_no_difference(name, glue, loud):
    changed = name.replace(" ", glue or " ")
    changed = changed.upper() if loud else changed.title()
    look_up = substance if name in CURING else fish
    assert look_up(f"  {changed} ").says == look_up(name).says == "refuse"


@given(st.text(max_size=40))
def test_any_text_gets_an_answer(text):
    for found in (substance(text), fish(text), fish(text, text, text)):
        assert found is None or (found.says in SAYS and found.why)


def test_every_row_is_whole():
    for row in refused.refused_rows():
        assert row.kind in ("substance", "fish") and row.says in SAYS and row.source.title and row.words
        assert row.waters in ("", *refused.WATERS) and (row.how == "memory") == (
            row.source_id in ("recalled", "judgement")
        )
        assert ("?" in row.why) == (row.says == "ask") and row.why.endswith((".", "?"))
        assert bool(row.names or row.families) == (not row.waters)
        look_up = substance if row.kind == "substance" else fish
        for name in row.names:
            found = look_up(name.replace("+", " "))
            assert SAYS.index(found.says) >= SAYS.index(row.says), name
    ids = [(row.id, row.waters) for row in refused.refused_rows()]
    assert len(ids) == len(set(ids))
