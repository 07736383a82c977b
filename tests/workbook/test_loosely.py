"""Answers in whatever words: what is found in them, what is never taken without being confirmed, and whole stories."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flakeyard import tables
from flakeyard.steps.intent.batch_file import mistakes
from flakeyard.steps.intent.fields import NOT_KNOWN, Measure, Number
from flakeyard.workbook.asking import question_at
from flakeyard.workbook.loosely import heard
from flakeyard.workbook.plainly import GUARDED
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.story_file import story_of, text_of
from flakeyard.workbook.together import also
from flakeyard.workbook.words_in import CAREFUL

FRIDGE_HOURS = "not known (a refrigerator that nobody measured counts as too warm: tell its hours too)"
METRIC = Story({"fish": {"species": "cod", "raw_weight": "2 kg", "hours_above_4c": 4}, "cut": {"thickness": "8 mm"}})
US = Story({"fish": {"species": "cod", "raw_weight": "4 lb"}, "brine": {"method": "wet"}})
BATH = Story({"fish": {"raw_weight": "2 kg"}, "brine": {"method": "wet"}})


def shown(story: Story, place: str, text: str) -> tuple[list[str], bool]:
    found = heard(story, question_at(place), text)
    assert found.readings or found.story is None
    return [one.shown for one in found.readings], bool(found.sure)


@pytest.mark.parametrize(
    ("place", "text", "taken"),
    [
        ("fish.raw_weight", "bout 4 lbs of fillets", "4 lbs"), 
        ("dryer.temperature", "I have no dryer. I have an oven with a fan, lowest it goes is 50, or else the cold shed.", "50 °C"), ("cut.thinnest", "tail ends are thinner eighth inch", "1/8 inch"), ("cut.width", "inch or so", "1 inch"),
        ("rest.time", "a day, abt 24 hours", "1 day"), 
        ("dryer.tray_area", "30 on 30 cm", "30 cm x 30 cm"), ("dryer.heater", "3 kilowatt for the whole oven", "3 kilowatt"),
        ("dryer.moving", "The fan in the oven", "fan"), ("room.relative_humidity", "Damp coast, maybe 60 or 65 indoors, guess", "65"), ("keep.wanted_days", "couple months if the kids dont eat it first", "2 months"),
        ("keep.pack", "glass with cover", "glass jar"), ("cut.form", "Fillets, the big ones I will cut lengthways in two", "fillets"), ("brine", "dry rub, salt and brown sugar", "dry"), ("measured", "Not yet, only caught them yesterday", "no"),
        ("fish.origin", "packet says line caught", "wild"), ("fish.stock", "never been near a freezer", "fresh"), ("cut.skin", "skin stays on", "one side"), ("dryer.heater", "none, sun only", "none"),
        ("fish.hours_above_21c", "zip, it is winter", "0"), ("fish.gutted", "I remove the insides", "yes"), ("fish.gutted", "wasnt gutted", "no"), ("fish.smells_normal", "Smells of sea and nothing else", "yes"), ("cut.skin", "off you always skin a catfish", "off"), ("fish.thawed_in_vacuum", "I cut the bag open", "no"), ("heat.checked", "I stick my meat thermometer in the thick one", "probe"), ("fish.hours_above_4c", "drive home, 30 min", "30 min"), ("keep.place", "in the loft, cool and dry", "cupboard"),
        ("fish.hours_above_4c", "half an hour, then ice", "1/2 hour"), ("fish.hours_above_21c", "none, ac was on", "0"), ("fish.gutted", "it's a fillet", "yes"), ("dryer.faces", "the plastic trays w holes", "2"), ("rest", "just pat it dry", "no"), ("freshen.1", "quick rinse", "no"), ("heat.core", "72 C by probe", "72 °C"), ("fish.species", "tilapia, from my own tanks", "tilapia"), ("cut.form", "fillets, then strips", "strips"),
        ("dryer.heater", "Oh I couldn't tell you, the label's worn away under the grease, it's a 16 amp thing", "not known"),
        ("brine", "Dry, I sprinkle plain coarse salt between the layers in a tub, no water, and it goes in the fridge overnight", "dry"), 
        ("dryer.faces", "They're plastic grids with slots, so the air gets through underneath, no paper.", "2"), ("dryer.faces", "plastic mesh, open, no sheets", "2"),
        ("dryer.temperature", "household dehydrator, 6 square trays, 32 x 30 cm, 450 W, set to 70 C", "70 °C"), ("fish.hours_above_21c", "0, kitchen is 18 C", "0"),
        ("fish.hours_above_4c", "about 30 min, while filleting, rest on ice", "30 min"), ("fish.smells_normal", "Smells lovely, like clean lake water, nothing off about it.", "yes"), ("fish.species", "farmed Atlantic salmon, fresh, filleted", "Atlantic salmon, farmed"),
    ],
)  # fmt: skip
def test_what_is_said_plainly_is_taken_with_an_echo(place, text, taken):
    assert shown(METRIC, place, text) == ([taken], True)


@pytest.mark.parametrize(
    ("place", "text", "offered"),
    [
        ("fish.hours_above_4c", "abt 4 hours in the bucket at maybe 8 degrees, then the fridge overnight", ["16 h", "12 h", "4 hours"]), ("fish.hours_above_4c", "maybe an hour till I got em cleaned", ["1 hour"]),
        ("fish.hours_above_21c", "most of it I guess, like an hour. it was around 85 outside", ["1 hour"]),
        ("fish.hours_above_21c", "5 h in the sun, I guess", ["5 h"]), ("fish.hours_above_21c", "an hour in the car and 30 outside", ["31 h", "30 hour", "1 hour"]),
        ("fish.hours_above_4c", "an hour or two maybe. It was a cold day. I don't know what my fridge is exactly", [FRIDGE_HOURS, "2 hour", "1 hour"]), ("fish.hours_above_4c", "2 h, then my fridge, no idea how cold", [FRIDGE_HOURS, "2 h"]),
        ("heat.to_tray", "couple minutes, 5 tops", ["5 minutes"]), ("heat.to_tray", "2 min, at most 5", ["5 min"]), ("heat.hold", "1 minute, 5 tops", ["1 minute"]),
        ("keep.place", "in the pantry, later in the car", ["not known (a car is no cupboard; the plan aims at the refrigerator)", "cupboard"]), ("keep.place", "in a cooler in my van", ["not known (a car is no cupboard; the plan aims at the refrigerator)", "refrigerator"]),
        ("room.temperature", "garage, in the 30s", ["39 °C (the warm end counts)"]), ("fish.warmest", "it was in the low 20s", ["24 °C (the warm end counts)"]),
        ("fish.hours_above_4c", "3 h in the sun and 1 in the shade", ["4 h", "3 h", "1 h"]), ("fish.hours_above_4c", "an hour in the car and an hour on the table", ["2 h", "1 hour"]), ("fish.hours_above_21c", "none, kitchen is 25 C", ["0"]), ("fish.hours_above_21c", "none, kitchen is 68", ["0"]), ("fish.hours_above_21c", "None at all dear, it hasn't been 21 degrees here since the summer of 1976", ["0"]),
        ("fish.stock", "caught it fresh, froze it myself that night", ["frozen"]), ("fish.stock", "fresh when I got it, it's frozen now", ["frozen"]), ("fish.stock", "fresh, then five days in my chest freezer at zero", ["frozen"]), ("fish.stock", "fresh, then it goes in the freezer", ["fresh", "frozen"]), ("heat.core", "72 °C for 2 minutes", ["72 °C"]), ("dryer.heater", "750 W, but heat's off", ["none"]), ("fish.species", "1.5 kg fresh farmed sea bass fillets", ["sea bass"]), ("room.relative_humidity", "70 percent, like I said, sometimes 80 when it's been raining", ["80"]), ("fish.raw_weight", "2 bags, 2 lb each", ["4 lb", "2 lb"]),
        ("fish.thawed_in_vacuum", "each in their own little plastic, in the fridge", ["yes"]), ("fish.warmest", "20 or 25", ["25 °C", "20 °C"]), ("heat.hold", "a minute or two", ["1 minute", "2 minute"]),
        ("fish.raw_weight", "All the fillets together about 3 kilos and a bit, there were 8 fish of maybe three quarters of a kilo each", ["3 kilos"]), ("cut.thickest", "bit more than 2 cm, say 2.5", ["2.5 cm"]), ("dryer.trays", "Two oven racks, three if I squeeze", ["2"]), ("brine.time", "Overnight, say from nine at night till seven or so in the morning.", ["10 h"]), ("brine.time", "Ten hours, I meant, nine till seven.", ["10 hours"]), ("dryer.trays", "5 of the 6, 2 fillets on each", ["5"]), ("fish.origin", "raised in my pond I feed em pellets", ["farmed"]), ("fish.origin", "farmed I guess", ["not known", "farmed"]), ("fish.stock", "frozen maybe", ["not known", "frozen"]),
        ("fish.smells_normal", "smells a bit off", ["no"]), ("fish.smells_normal", "no problem with that", ["yes"]), ("cut.thickness", "finger thick, thinner at tail", ["20 mm (roughly 15 mm to 20 mm, and the thicker counts; a ruler at a cut edge is better)"]), ("fish.hours_above_4c", "thawed overnight in the fridge, so zero", ["0, if a thermometer there shows 4 °C (40 °F) or less"]),
        ("cut.skin", "half of them skinless", ["not known", "off"]),
        ("brine.time", "overnight", ["12 h"]), ("rest.time", "all night", ["12 h"]), ("dryer.faces", "screens", ["2"]), ("brine.ingredient.1.amount", "40 g per kilo", ["80 g"]), ("brine.ingredient.1.amount", "a splash", ["1 tbsp"]), ("fish.hours_above_4c", "it was winter, 2 degrees outside, so none", ["0"]), ("fish.raw_weight", "8 fish of 300 g", ["2400 g", "300 g"]), ("fish.species", "channel cat out of my pond", ["Channel catfish, farmed", "Channel catfish, wild"]),
    ],
)  # fmt: skip
def test_what_could_be_milder_is_confirmed_and_the_cautious_one_comes_first(place, text, offered):
    assert shown(METRIC, place, text) == (offered, False)


@pytest.mark.parametrize(
    ("place", "text"),
    [
        ("fish.gutted", "not sure it was gutted"), ("fish.gutted", "fillets, gutted I hope"), ("fish.origin", "someone said farmed"), ("fish.stock", "dunno if frozen"), ("cut.skin", "skin off I hope"),
        ("fish.hours_above_21c", "no label, don't know"), ("dryer.trays", "no clue mate"), ("fish.thawed_in_vacuum", "no idea, it's old"), ("dryer.faces", "beats me"), ("keep.pack", "nothing"),
        ("fish.hours_above_21c", "dont know, not many"), ("fish.smells_normal", "no idea, smells fine I suppose"),
    ],
)  # fmt: skip
def test_doubt_counts_as_not_known(place, text):
    found = heard(METRIC, question_at(place), text)
    after = found.sure.put_in(METRIC) if found.sure else found.story
    assert after.get(place) == METRIC.get(place) is None and after.left[place] == NOT_KNOWN


@pytest.mark.parametrize(
    ("place", "text"),
    [
        ("fish.gutted", "I will gut them tonight"), ("fish.hours_above_4c", "more than 2 hours"), ("fish.hours_above_4c", "2 hours each way"), ("fish.hours_above_4c", "some"), ("fish.frozen_days", "bought 3 weeks ago"), ("fish.frozen_days", "less than 10 days"),
        ("heat.core", "about 75"), ("heat.checked", "no probe"), ("heat.checked", "probe in the oven"), ("fish.raw_weight", "1 grain"), ("brine.ingredient.1.what", "pink curing salt, brown sugar"),
        ("fish.smells_normal", "fishy"), ("fish.thawed_in_vacuum", "not in the bag"), ("fish.hours_above_4c", "1/4 in"), ("fish.hours_above_4c", "0.25 in thick"),
    ],
)  # fmt: skip
def test_what_would_be_a_guess_is_not_read(place, text):
    assert shown(BATH if place.startswith("brine") else METRIC, place, text) == ([], False)


def told(text: str) -> tuple[list[dict], str, str]:
    reading = heard(BATH, question_at("brine.ingredient.1.what"), text).sure
    after = reading.put_in(BATH)
    return after.get("brine.ingredient") or [], after.notes.get("brine.flavour", ""), reading.rest


def test_a_list_is_taken_apart_with_its_amounts_and_spices_need_none():
    rows, flavour, rest = told(
        "soy sauce worcestershire brown sugar garlic powder onion powder black pepper liquid smoke"
    )
    assert [row["what"] for row in rows] == ["soy sauce", "worcestershire", "brown sugar"] and not rest
    assert flavour == "garlic powder; onion powder; black pepper; liquid smoke"
    assert told("coarse sea salt, half a kilo or so")[0] == [{"what": "coarse sea salt", "amount": "1/2 kilo or so"}]
    assert told("100 g salt in 1,5 l water and some pepper") == (
        [{"what": "salt", "amount": "100 g"}, {"what": "water", "amount": "1,5 l"}], "pepper", "")  # fmt: skip
    assert told("a litre of water, 80g of table salt and two tablespoons of brown sugar")[0] == [
        {"what": "water", "amount": "1 litre"}, {"what": "table salt", "amount": "80g"}, {"what": "brown sugar", "amount": "2 tablespoons"}]  # fmt: skip
    rows, _, rest = told("table salt and marmalade")
    assert rows == [{"what": "table salt"}] and rest == "marmalade"
    assert told("40 g salt per kilo, 10 g sugar")[0] == [{"what": "salt"}, {"what": "sugar", "amount": "10 g"}]
    assert told("water, garlic salt")[2] == "garlic salt" and told("water, low sodium salt")[0] == [{"what": "water"}]


def test_soy_in_a_list_is_the_sauce_and_a_kind_with_less_salt_or_another_thing_is_not():
    assert told("half a cup of soy, brown sugar")[0] == [
        {"what": "soy sauce", "amount": "1/2 cup"},
        {"what": "brown sugar"},
    ]
    assert told("soy and honey")[0] == [{"what": "soy sauce"}, {"what": "honey"}]
    for text in (
        "water, low sodium soy",
        "water, reduced salt soy sauce",
        "water, soy milk",
        "water, light soy sauce",
        "water, soy sauce powder mix",
    ):
        assert "soy sauce" not in [row["what"] for row in told(text)[0]], text


@pytest.mark.parametrize("text", ["no", "No.", "nope", "none", "yes"])
def test_yes_or_no_to_the_skin_is_asked_back_the_skin_first(text):
    found = heard(METRIC, question_at("cut.skin"), text)
    assert found.story is None and not found.sure
    assert [one.told for one in found.readings] == [(("cut.skin", "one side"),), (("cut.skin", "off"),)]
    assert len({one.shown for one in found.readings}) == 2


def test_a_sauce_whose_salt_nobody_knows_brings_none():
    for name in ("worcestershire", "fish sauce", "sauce or drink, salt not known"):
        assert tables.ingredient(name).salt == 0 and tables.ingredient(name).water == 1


def test_sizes_of_one_answer_and_of_a_range_the_upper_end_is_the_usual_piece():
    def sizes(text):
        return heard(METRIC, question_at("cut.thickness"), text).sure.put_in(METRIC).typed["cut"]

    assert sizes("12 to 15mm in the middle") == {"thickness": "15mm", "thinnest": "12 mm", "thickest": "15mm"}
    assert sizes("0,6 cm, the thickest 0,8 cm") == {"thickness": "0,6 cm", "thickest": "0,8 cm"}
    assert sizes("5 mm, 7 mm and 9 mm") == {"thickness": "7 mm", "thinnest": "5 mm", "thickest": "9 mm"}


def test_what_was_said_and_not_read_stays_in_the_file():
    noted = heard(METRIC, question_at("room.temperature"), "room temp").story
    again = story_of(text_of(noted, "x.toml"), "x.toml")
    assert again == noted and again.notes == {"room.temperature": "room temp"}


PLACES = ("fish.gutted", "fish.smells_normal", "fish.origin", "fish.stock", "fish.hours_above_4c", "fish.frozen_days", "fish.warmest", "cut.skin", "heat.checked", "heat.hold", "fish.thawed_in_vacuum")  # fmt: skip
WORDS = st.sampled_from(["no", "yes", "not", "2", "3", "an", "hours", "h", "min", "days", "°C", "or", "and", "to", "maybe", "about", "each", "wild", "farm", "fresh", "frozen", "gutted", "off", "skin", "on", "fine", "bad", "never", "sure", "overnight", "probe", "bag", "the", ","])  # fmt: skip

UNSURE = {"maybe", "or", "each", "never"}  # words that never stand beside what is taken at once
OPPOSITE = {
    ("origin", "farmed"): {"wild", "no", "not"}, ("stock", "frozen"): {"fresh", "no", "not"}, ("gutted", "yes"): {"no", "not"}, ("smells_normal", "yes"): {"bad", "no", "not"},
    ("skin", "off"): {"on", "no", "not"}, ("checked", "probe"): {"no", "not"}, ("thawed_in_vacuum", "no"): {"yes"},
}  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(place=st.sampled_from(PLACES), words=st.lists(WORDS, min_size=2, max_size=7))
def test_nothing_that_decides_a_verdict_is_taken_towards_milder(place, words):
    question = question_at(place)
    said = " ".join(words)
    found = heard(METRIC, question, said)
    if found.sure:
        (at, text), *more = found.sure.told
        assert at == place and not more and question.key in GUARDED
        if text not in (NOT_KNOWN, CAREFUL.get(question.key)):
            assert not UNSURE & set(words), said
            assert not OPPOSITE.get((question.key, text), set()) & set(words), said
            assert not isinstance(question.kind, Measure | Number) or len(re.findall("[0-9]+|an", said)) <= 1, said
    for one in found.readings:
        assert not mistakes(one.put_in(METRIC).typed)


@pytest.mark.parametrize("text", ["my own pond", "pond raised", "in my tank"])
def test_of_a_pond_it_is_asked_back_what_the_fish_eats_and_wild_comes_first(text):
    found = heard(METRIC, question_at("fish.origin"), text)
    assert found.sure is None and [one.told[0][1] for one in found.readings] == ["wild", "farmed"]
    assert "lives there" in found.readings[0].shown and "dry feed alone" in found.readings[1].shown


def test_of_two_places_the_strictest_counts_and_the_rest_stays_as_a_note():
    for text, place in (("half in the pantry, half freezer", "cupboard"), ("fridge and freezer", "refrigerator")):
        (told,) = heard(METRIC, question_at("keep.place"), text).readings
        after = told.put_in(METRIC)
        assert after.get("keep.place") == place and "one place" in told.shown and text in after.notes.values()
        assert not told.sure


@pytest.mark.parametrize(
    "text",
    [
        "fridge, in a zip bag, two weeks, and then I take it along on hikes",
        "in the fridge until I put it in my backpack",
        "freezer and then my pack on the trail",
    ],
)
def test_fish_that_is_taken_along_is_not_cold_and_that_is_said_and_confirmed(text):
    (told,) = heard(METRIC, question_at("keep.place"), text).readings
    assert told.told == (("keep.place", "cupboard"),) and not told.sure
    assert "in a backpack it is not cold" in told.shown


@pytest.mark.parametrize(
    ("place", "text", "first"),
    [
        ("cut.form", "they are fillets already, but I can cut them into strips if that's better, finger thick, skin on", "fillets"),
        ("cut.form", "fillets, but I could do strips", "fillets"), ("cut.form", "strips if I can", "strips"), ("cut.form", "I could cut strips", "strips"),
        ("heat", "I've got an oven, I can if I should", "yes"), ("dryer.moving", "nothing, I could put a fan beside it", "still"), ("cut.skin", "it is on, I can take it off", "not known"),
    ],
)  # fmt: skip
def test_what_could_be_done_is_no_fact(place, text, first):
    found = heard(METRIC, question_at(place), text)
    assert found.readings[0].shown == first and found.sure is None and found.story is None
    assert len(found.readings) == (2 if first == "not known" else 1)


def test_a_refrigerator_without_a_thermometer_counts_as_a_warm_one():
    for text in ("in the icebox", "bottom of the fridge, on number 4 of 6, never had a thermometer in"):
        assert shown(METRIC, "brine.temperature", text) == (["7 °C (a fridge without a thermometer)"], True)


def test_fish_that_is_still_frozen_was_thawed_in_no_pack():
    said, sure = shown(METRIC, "fish.thawed_in_vacuum", "still frozen")
    assert said == ["no (still frozen: open its pack before it thaws)"] and sure
    assert shown(METRIC, "fish.thawed_in_vacuum", "yes i guess") == (["yes"], False)


def test_a_round_tray_is_shown_with_its_area():
    assert shown(US, "dryer.tray_area", "round, like 12 inch") == (["12 inch round, 730 cm² (110 in²)"], True)
    assert shown(METRIC, "dryer.tray_area", "5 round trays, 30 cm across")[0][0].startswith("30 cm round")
    assert shown(US, "dryer.tray_area", "round ones, 13 and a half inches across")[0][0].startswith(
        "13 1/2 inches round"
    )
    assert shown(METRIC, "dryer.tray_area", "is round, 33 cm")[0][0].startswith("round, 33 cm, 860 cm²")


def test_fish_of_one_genus_counts_as_the_one_in_the_table():
    for name in ("zander", "pike-perch", "sauger"):
        assert tables.species(name).id == "walleye"


def test_without_heat_only_how_warm_the_air_is_stays_to_be_asked():
    question, text = question_at("dryer.temperature"), "no heat. fan only, 8 trays"
    story = heard(Story(), question, text).sure.put_in(Story())
    assert story.get("dryer.heater") == "none" and not story.answered("dryer.temperature")
    assert dict(also(story, question, text).told) == {"dryer.trays": "8", "dryer.moving": "fan"}


def test_of_a_film_the_least_tight_pack_comes_first_and_none_is_taken():
    found = heard(METRIC, question_at("keep.pack"), "mylar bag")
    assert found.sure is None
    assert [one.told[0][1] for one in found.readings][:3] == [
        NOT_KNOWN,
        "polypropylene bag",
        "vacuum pouch (nylon and polyethylene)",
    ]


def test_what_stands_already_is_not_added_again_and_another_amount_is_asked_back():
    bath = BATH.told(
        "brine.ingredient", [{"what": "water", "amount": "1 L"}, {"what": "kosher salt", "amount": "80 g"}]
    )
    more = question_at("brine.ingredient.3.what")

    def rows(text: str) -> list[list[str]]:
        found = heard(bath, more, text)
        assert found.readings and found.story is None and bool(found.sure) == (len(found.readings) == 1)
        return [[row.get("amount", "") for row in one.put_in(bath).get("brine.ingredient")] for one in found.readings]

    for text in ("1000 ml water", "water", "kosher salt", "0.08 kg salt", "80 g kosher salt, 1 L water, some pepper"):
        assert rows(text) == [["1 L", "80 g"]], text
    assert rows("80 g salt, 10 g sugar") == [["1 L", "80 g", "10 g"]]
    assert rows("40 g kosher salt") == [["1 L", "40 g"], ["1 L", "80 g"], ["1 L", "80 g", "40 g"]]
    assert rows("90 g salt") == [["1 L", "80 g"], ["1 L", "90 g"], ["1 L", "80 g", "90 g"]]
    assert rows("2 L water")[0] == ["1 L", "80 g", "2 l"]  # the weaker bath first
    assert rows("another 80 g salt") == [["1 L", "80 g"], ["1 L", "80 g", "80 g"]]
    assert told("water, 1 cup water, 30 g salt")[0] == [{"what": "water", "amount": "1 cup"}, {"what": "salt", "amount": "30 g"}]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("165 then, I'll buy a thermometer", "165 °F"), ("165 I suppose, whatever is safe", "165 °F"), ("165 F then and I'll buy one", "165 °F"),
        ("165 or so then", ""), ("about 165 then, I'll buy one", ""), ("the oven says 165 then", ""), ("165 then, or 170", ""), ("not 165 then", ""), ("165 minutes then I stop", ""), ("at least 165 then", ""),
    ],
)  # fmt: skip
def test_a_core_temperature_with_words_behind_it_is_read_and_confirmed(text, read):
    found = heard(US.told("heat", {}), question_at("heat.core"), text)
    assert [one.shown for one in found.readings if one.shown != "not known"] == [read] * bool(read) and not found.sure


@pytest.mark.parametrize(
    ("text", "much"),
    [
        ("a handful", "1/8 cup"), ("a good handful", "1/8 cup"), ("two handfuls", "1/4 cup"), ("2 or 3 handfuls", "1/4 cup"), ("half a handful", "1/16 cup"), ("two and a half handfuls", "5/16 cup"), ("1½ handfuls", "3/16 cup"), ("2,5 heaped tablespoons", "2 1/2 tbsp"), ("a couple of big handfuls", "1/4 cup"), ("a handful or two", "1/8 cup"),
        ("two big spoons", "2 tbsp"), ("a heaped tablespoon", "1 tbsp"), ("3 heaped teaspoons", "3 tsp"), ("a spoonful", "1 tbsp"), ("two or three spoonfuls", "2 tbsp"),
    ],
)  # fmt: skip
def test_a_handful_and_a_heaped_spoon_are_guesses_said_so_and_confirmed(text, much):
    guess = f"{much} (a guess, the cautious end of it; weigh it to be sure)"
    assert shown(METRIC, "brine.ingredient.1.amount", text) == ([guess], False)
    found = heard(BATH, question_at("brine.ingredient.1.what"), f"2 litres of water, {text} of coarse sea salt")
    assert not found.sure and [one.shown for one in found.readings] == [f"water, 2 litres; coarse sea salt, {guess}"]
    assert found.readings[0].put_in(BATH).get("brine.ingredient.2.amount") == much


def test_a_smell_of_another_time_is_not_known_unless_it_is_meant_of_now():
    for text in (
        "it did that night, it's froze solid now",
        "It did when I caught it",
        "well, they did before the freezer",
    ):
        assert shown(METRIC, "fish.smells_normal", text) == (["not known", "yes"], False), text
    for text in ("it did not that night", "it didn't that night", "it was off that night", "it did stink that night"):
        found = heard(METRIC, question_at("fish.smells_normal"), text)
        assert not any(one.told[0][1] == "yes" for one in found.readings), text


@pytest.mark.parametrize(
    ("text", "much", "sure"),
    [
        ("1 L water, 80 g salt, a pinch of sugar", "1/8 tsp", False), ("1 L water, 80 g salt, a dash of honey", "1/8 tsp", False), ("1 L water, 80 g salt, two spoons of honey", "2 tbsp", False),
        ("1 L water, 2 spoons of coarse sea salt", "2 tsp", False), ("1 L water, 80 g salt, a spoon of sugar", "1 tbsp", False), ("1 L water, 2 big spoons of salt", "2 tbsp", False), ("1 L water, 80 g salt, a pinch of pepper", "80 g", True),
    ],
)  # fmt: skip
def test_a_guess_in_a_list_is_confirmed_and_of_flavour_none_is(text, much, sure):
    found = heard(BATH, question_at("brine.ingredient.1.what"), text)
    assert (
        bool(found.sure) == sure
        and [one for place, one in found.readings[0].told if place.endswith("amount")][-1] == much
    )


@pytest.mark.parametrize(
    ("place", "text", "sure"),
    [
        ("fish.hours_above_4c", "none, it was 15 C", False), ("fish.hours_above_4c", "none, it was 3 C", True), ("fish.hours_above_21c", "none, it was 15 C", True), ("fish.hours_above_21c", "none, it was cold, 25 C", False),
        ("fish.hours_above_21c", "none, kitchen's 68", True), ("fish.hours_above_21c", "none, kitchen's 78", False), ("fish.hours_above_21c", "none, kitchen's about 68", False), ("fish.hours_above_21c", "none I think, the kitchen is about 68, not hotter", False),
    ],
)  # fmt: skip
def test_no_hours_are_taken_only_where_the_degrees_bear_it_out(place, text, sure):
    found = heard(US, question_at(place), text)
    assert bool(found.sure) == sure and found.readings[0].told == ((place, "0"),)


@pytest.mark.parametrize(
    ("place", "text", "told"),
    [
        ("fish.raw_weight", "1.4 kg like I said, the fillets", "1.4 kg"), ("brine.time", "overnight, I told you, say from ten to seven", "9 h"), ("cut.thickness", "yeah 1.5 cm about, at the tail maybe 8 mm", "1.5 cm"),
        ("dryer.trays", "as I said 5", "5"), ("fish.hours_above_4c", "2 hours, I said", "2 hours"),
    ],
)  # fmt: skip
def test_that_it_was_said_before_changes_no_amount(place, text, told):
    assert heard(METRIC if place != "brine.time" else BATH, question_at(place), text).sure.told[0][1] == told
    assert not heard(METRIC, question_at("fish.hours_above_4c"), "2 hours he said, like I said").sure


@pytest.mark.parametrize(
    ("text", "offered"),
    [
        ("plastic slotted trays, air comes through", ["2"]), ("vented plastic", ["2"]), ("plastic", ["1", "2"]), ("plastic trays", ["1", "2"]),
        ("plastic, no air comes through", ["1", "2"]),
    ],
)  # fmt: skip
def test_plastic_trays_are_asked_back(text, offered):
    question = question_at("dryer.faces")
    found = heard(METRIC, question, text)
    assert [one.told for one in found.readings] == [((question.place, one),) for one in offered] and not found.sure


@pytest.mark.parametrize(
    ("place", "text"),
    [("keep.place", "in my truck"), ("keep.place", "car boot"), ("keep.pack", "a biscuit tin with a lid, is that all right?"), ("keep.pack", "a glass jar or a tin")],
)  # fmt: skip
def test_what_nobody_has_measured_is_neither_cupboard_nor_jar(place, text):
    found = heard(METRIC, question_at(place), text).sure
    assert found.told == ((place, NOT_KNOWN),) and found.put_in(METRIC).get(place) is None


def test_how_warm_it_was_is_no_count_of_hours():
    question = question_at("fish.hours_above_21c")
    assert dict(heard(METRIC, question, "most of it, it was 30").sure.told) == {question.place: "4"}
    assert all("85" not in one.shown for one in heard(METRIC, question, "some of it, it was 85").readings)
    for text in ("like an hour, it was around 30", "an hour I guess at 30", "like an hour. it was 85"):
        assert shown(METRIC, question.place, text) == (["1 hour"], False)
    assert shown(METRIC, question.place, "an hour in the car and 30 in the garage")[0][0] == "31 h"
    assert shown(METRIC, "keep.pack", "jars with tin lids")[0] == ["jar"]
