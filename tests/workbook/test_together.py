"""Several things told in one answer: what is read beside the answer itself, and never towards milder."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flakeyard.steps.intent.batch_file import mistakes, read_batch
from flakeyard.workbook.asking import next_question, question_at
from flakeyard.workbook.grouped import STEPS, amounts_told, complete, next_asked, open_steps, part_about, steps_told
from flakeyard.workbook.loosely import heard
from flakeyard.workbook.question import Question
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.telling import tell
from flakeyard.workbook.together import also, other_amount, to_confirm

FISH = {"fish": {"species": "cod", "raw_weight": "4 lb"}}
CUT = FISH | {"cut": {"form": "strips", "skin": "off"}}
SALTED = FISH | {"brine": {"method": "wet", "time": "2 h", "temperature": "38 °F"}}


def answered(typed: dict, place: str, text: str) -> Story:
    story, question = Story(typed), question_at(place)
    said = heard(story, question, text)
    return said.sure.put_in(story) if said.sure else said.story or story


def told_too(typed: dict, place: str, text: str) -> dict[str, str]:
    found = also(answered(typed, place, text), question_at(place), text)
    return {name.partition(".")[2]: one for name, one in found.told} if found else {}


@pytest.mark.parametrize(
    ("place", "text", "told"),
    [
        ("fish.species", "4 lb farmed rainbow trout, fresh, gutted", {"raw_weight": "4 lb", "origin": "farmed", "stock": "fresh", "gutted": "yes"}),
        ("fish.species", "wild cod 1 kg, previously frozen", {"raw_weight": "1 kg", "origin": "wild", "stock": "frozen"}),
        ("fish.stock", "frozen at -20 C", {"frozen_at": "-20 C"}),
        ("fish.species", "cod fillets, never frozen, skin on", {"stock": "fresh", "gutted": "yes", "skin": "one side"}),
        ("fish.hours_above_4c", "30 min, none of it above 70 °F", {"hours_above_21c": "0"}), ("cut.form", "strips, 6 mm, skin off", {"thickness": "6 mm", "skin": "off"}), ("cut.form", "strips 1 cm wide, 5 mm thick", {"thickness": "5 mm"}),
        ("cut.form", "6 to 8 mm strips with skin on", {"thickness": "8 mm", "thinnest": "6 mm", "thickest": "8 mm", "skin": "one side"}),
        ("brine", "wet, 12 h at 4 °C (39 °F)", {"time": "12 h", "temperature": "4 °C"}), ("brine", "dry rub, 2 days in the fridge", {"time": "2 days", "temperature": "45 °F"}),
        ("brine", "1 L water, 80 g salt, 10 h at 3 C", {"time": "10 h", "temperature": "3 C", "ingredient.1.what": "water", "ingredient.1.amount": "1 l", "ingredient.2.what": "salt", "ingredient.2.amount": "80 g"}),
        ("dryer.temperature", "145 °F, 5 mesh trays 12 x 14 in, fan", {"trays": "5", "tray_area": "12 x 14 in", "faces": "2", "moving": "fan"}),
        ("dryer.trays", "4 round trays, 33 cm", {"tray_area": "33 cm round"}), ("room.temperature", "68 °F, 50 %", {"relative_humidity": "50"}),
        ("keep.place", "pantry, 3 or 4 weeks hopefully, in ziploc bags", {"wanted_days": "4 weeks", "pack": "zip bag"}), ("keep.place", "shelf, 3 weeks or maybe not", {}),
        ("keep.place", "refrigerator, 30 days, glass jar", {"wanted_days": "30 days", "pack": "glass jar"}), ("keep.place", "ziploc in the pantry", {"pack": "zip bag"}), ("keep.place", "fridge, zip bags, good for a couple weeks on the ice trips", {"pack": "zip bags", "wanted_days": "2 weeks"}),
        ("heat", "heated to 75 °C in the middle with a probe", {"core": "75 °C", "checked": "probe"}), ("heat", "in the oven at 135 °C until the probe in the thickest strip shows 71 °C", {"core": "71 °C", "checked": "probe"}),
        ("fish.species", "2 lb 10 oz of farmed Atlantic salmon, fresh, filleted", {"raw_weight": "2 lb 10 oz", "origin": "farmed", "stock": "fresh", "gutted": "yes"}),
        ("keep.place", "refrigerator, 4 weeks, in glass jars with screw lids, 3 or 4 C", {"wanted_days": "4 weeks", "pack": "glass jar"}),
        ("dryer.tray_area", "round, 13 inches across with a hole in the middle", {}),
    ],
)  # fmt: skip
def test_what_a_sentence_tells_of_the_questions_after_it(place, text, told):
    typed = {"dryer": CUT, "fish.species": {}}.get(place.split(".")[0] if place != "fish.species" else place, FISH)
    assert told_too(typed, place, text) == told


@pytest.mark.parametrize(
    ("place", "text"),
    [
        ("fish.species", "2 trout, 400 g"), ("fish.species", "less than 2 kg cod"), ("fish.species", "sea bass from the lake shop"), ("fish.species", "cod, farmed I guess"), ("fish.species", "trout, someone said farmed"),
        ("fish.species", "cod, frozen or fresh"), ("fish.species", "cod, will be gutted"), ("fish.hours_above_4c", "2 hours, maybe none of it above 21"), ("fish.hours_above_4c", "half an hour in the sun"),
        ("cut.form", "strips 1 cm wide, 5 mm"), ("heat", "oven at 100 C"), ("heat", "steamed for 10 minutes"), ("heat", "to about 75 C in the middle"), ("keep.place", "freezer, then the fridge once I open one"),
        ("fish.stock", "frozen, bought 10 days ago"), ("cut.form", "fillets, I can take the skin off"), ("dryer.temperature", "60 °C, I could put it on mesh"), ("fish.species", "carp, fed pellets, 5 fish, 7.4 kg whole"),
    ],
)  # fmt: skip
def test_what_is_not_plain_is_asked(place, text):
    assert told_too(FISH if not place.startswith("fish.species") else {}, place, text) == {}


WORDS = st.sampled_from(["cod", "2", "kg", "h", "°C", "wild", "farmed", "fresh", "frozen", "gutted", "skin", "off", "on", "not", "no", "never", "maybe", "or", "each", "ago", "over", "probe", "smells", "fine", "bad", "the", ",", ",", "7"])  # fmt: skip
DOUBTED = {"maybe", "or", "each"}
AGAINST = {"farmed": {"wild"}, "frozen": {"fresh"}, "off": {"on"}, "probe": {"no probe"}}


@settings(max_examples=150, deadline=None)
@given(
    place=st.sampled_from(["fish.species", "fish.origin", "fish.stock", "cut.form", "heat", "fish.hours_above_4c"]),
    words=st.lists(WORDS, min_size=3, max_size=9),
)
def test_nothing_is_read_beside_an_answer_towards_milder(place, words):
    said, story = " ".join(words), Story(FISH if place != "fish.species" else {})
    found = also(story, question_at(place), said)
    if found is None:
        return
    assert not DOUBTED & set(words), said
    assert not mistakes(found.put_in(story).typed)
    for name, text in found.told:
        assert not AGAINST.get(text, set()) & set(words), said
        before = said[: said.find(text)].split(",")[-1] if text in said else ""
        assert name == "cut.skin" or not re.search(r"\b(?:not|no|never|over)\b", before), said
        assert not re.search("[0-9]", text) or said.count(text.split()[0]) == 1 or "ago" not in words, said


def test_four_doors_are_one_question_and_no_closes_them_all():
    story = Story(SALTED | {"cut": {"form": "strips", "thickness": "6 mm", "skin": "off"}})
    doors = open_steps(story)
    assert [one.place for one in doors] == ["presoak", "rest", "freshen.1", "heat"]
    question = next_asked(doors[0], story)
    assert question.place == STEPS and len(question.words.split()) <= 14 and question.why and question.cost
    assert [one.place for one in open_steps(Story(FISH))] == ["presoak", "heat"]  # without salt

    def left(text):
        return {place: word for place, word in steps_told(story, text).told if word != "no"}

    for text in (
        "",
        "no",
        "nope",
        "none of these",
        "just pat it dry",
        "straight into the dryer",
        "no, I cook it later",
        "only a quick rinse",
    ):
        assert left(text) == {}, text
    assert left("2 h on a rack in the fridge") == {"rest": "yes"}
    assert left("a soak in milk first, then I steam it") == {"presoak": "wet", "heat": "yes"}
    assert left("no milk, no rest, but soaked in fresh water for 1 h") == {"freshen.1": "yes"}
    for text in ("yes", "not sure", "well"):
        assert steps_told(story, text) is None  # then one by one
    told = steps_told(story, "rest 2 h at 4 °C, steamed to 75 °C in the middle").put_in(story)
    assert part_about(doors[1], doors, "rest 2 h at 4 °C, steamed to 75 °C in the middle") == "rest 2 h at 4 °c"
    assert told.get("rest") == {} and told.get("heat") == {} and not open_steps(told)


def test_a_night_told_in_passing_is_confirmed_where_it_is_asked():
    text = "teriyaki marinade overnight in the fridge"
    found = to_confirm(answered(FISH, "brine", text), question_at("brine"), text)
    assert {place: one.shown for place, one in found.items()} == {"brine.time": "12 h"}
    assert not to_confirm(Story(FISH), question_at("fish.stock"), "fresh, overnight in the fridge")


def confirmed_later(typed: dict, place: str, text: str) -> dict[str, str]:
    found = to_confirm(Story(typed), question_at(place), text)
    return {place.partition(".")[2]: one.shown for place, one in found.items()}


CHEST = "six walleye in our chest freezer (about zero Fahrenheit) in bags for five days"
THREE = {"stock": "frozen", "frozen_at": "0 fahrenheit", "frozen_days": "5 days"}


@pytest.mark.parametrize(
    ("place", "text", "told"),
    [
        ("fish.species", CHEST, THREE),
        ("fish.species", "walleye, skinned fillets, been in my chest freezer five days", {"stock": "frozen", "frozen_days": "5 days"}),
        ("fish.stock", "fresh, then five days in my chest freezer at zero", {"frozen_days": "5 days"}),
        ("fish.origin", "wild, and it lay 2 weeks in the freezer at -18 C", {"stock": "frozen", "frozen_at": "−18 °C", "frozen_days": "2 weeks"}),
        ("fish.species", "cod, was in the freezer for 8 days at minus 20 degrees C", {"stock": "frozen", "frozen_at": "−20 °C", "frozen_days": "8 days"}),
        ("fish.species", "cod, was in the freezer for 8 days at 5 C", {"stock": "frozen", "frozen_days": "8 days"}),
        ("room.temperature", "kitchen, about 68, real dry in winter", {"relative_humidity": "not known (words are no number)"}),
        ("dryer.temperature", "a round dehydrator with five trays, I think 155 or 160", {"trays": "5"}),
    ],
)  # fmt: skip
def test_what_was_told_before_its_question_is_confirmed_there(place, text, told):
    assert confirmed_later({}, place, text) == told


@pytest.mark.parametrize(
    ("place", "text"),
    [
        ("fish.species", "cod, I will put it in the freezer for 5 days"), ("fish.species", "cod for the freezer, 5 days"), ("fish.species", "cod, was in the freezer for at most 8 days"), ("fish.species", "cod, not frozen, 2 days on ice"), ("fish.species", "cod, it goes in the freezer for a week"),
        ("fish.species", "cod, maybe it was in a freezer for 5 days"), ("fish.species", "cod, my freezer is broken"), ("fish.species", "cod, put in the freezer 5 days ago or so"), ("fish.stock", "fresh, never in the freezer"),
        ("fish.species", "cod, shall I put it in the freezer?"), ("fish.species", "cod, 2 kg, I have a freezer for 5 days of food"), ("keep.place", "in the freezer for 5 days"), ("room.temperature", "68, I have dry socks"), ("room.temperature", "68, not dry"),
    ],
)  # fmt: skip
def test_a_freezing_or_dry_air_that_is_not_said_to_be_is_not_confirmed(place, text):
    assert confirmed_later({}, place, text) == {}


PLANNED = {
    "cut": {"form": "strips", "thickness": "6 mm"},
    "dryer": {"temperature": "60 °C", "trays": 3, "tray_area": "30 x 30 cm"},
}


def test_frozen_fish_that_was_told_before_is_put_into_the_story_as_it_was_said():
    story = Story(FISH)
    for one in to_confirm(story, question_at("fish.species"), CHEST).values():
        story = one.put_in(story)
    batch = read_batch(PLANNED | story.typed)
    assert (batch.fish.stock, batch.fish.frozen_days) == ("frozen", 5)
    assert batch.fish.frozen_at == pytest.approx(-17.78, abs=0.01)


@pytest.mark.parametrize(
    "text",
    [
        "a Presto at 65 degrees, 6 trays about 30 by 30 cm, it says 500 watts",
        "65 °C, with 6 trays, the label says 500 W",
    ],
)
def test_doubt_about_another_thing_leaves_the_number_of_trays(text):
    assert told_too(CUT, "dryer.temperature", text).get("trays") == "6" or confirmed_later(CUT, "dryer.temperature", text) == {"trays": "6"}  # fmt: skip
    assert "trays" not in told_too(CUT, "dryer.temperature", "65 °C, maybe 6 trays")
    assert confirmed_later(CUT, "dryer.temperature", "65 °C, maybe 6 trays") == {}


def bath(*rows: dict) -> tuple[Story, Question]:
    story = Story(FISH | {"brine": {"method": "wet", "ingredient": list(rows)}})
    question = next(
        one
        for one in iter(
            [question_at(f"brine.ingredient.{n}.amount") for n, row in enumerate(rows, 1) if "amount" not in row]
        )
    )
    return story, question


def test_amounts_of_several_things_are_told_in_one_answer():
    story, question = bath({"what": "soy sauce"}, {"what": "brown sugar"}, {"what": "kosher salt"}, {"what": "water"})
    assert next_asked(question, story).together and not next_asked(question, bath({"what": "salt"})[0]).together

    def told(text):
        found = amounts_told(story, question, text)
        return [much for _, much in found.told] if found else None

    assert told("half a cup, same, 1/4 cup, like 3 cups") == ["half a cup", "half a cup", "1/4 cup", "3 cups"]
    assert told("half a cup, ditto, one cup, packed down") == ["half a cup", "half a cup", "one cup"]
    assert told("1/2 cup each") == ["1/2 cup"] * 4
    found = amounts_told(story, question, "3 cups water, 1/4 cup kosher salt")
    assert found.told == (("brine.ingredient.4.amount", "3 cups"), ("brine.ingredient.3.amount", "1/4 cup"))
    assert (
        told("half a cup") is None
        and told("some, a cup") is None
        and told("1 cup, 2 cups, 3 cups, 4 cups, 5 cups") is None
    )


def test_a_list_is_whole_with_a_salt_all_amounts_and_something_wet():
    whole = [{"what": "salt", "amount": "80 g"}, {"what": "water", "amount": "1 L"}]
    assert complete(bath(*whole, {"what": "sugar"})[0], "brine") is False
    assert complete(Story({"brine": {"method": "wet", "ingredient": whole}}), "brine")
    assert not complete(Story({"brine": {"method": "wet", "ingredient": whole[:1]}}), "brine")
    assert complete(Story({"brine": {"method": "dry", "ingredient": whole[:1]}}), "brine")
    assert not complete(Story({"brine": {"method": "wet", "ingredient": whole[1:]}}), "brine")


def test_the_doors_stay_questions_of_their_own_for_the_page():
    story = Story(SALTED)
    assert next_question(story).place != STEPS
    closed = steps_told(story, "no").put_in(story)
    assert not open_steps(closed) and tell(closed, question_at("heat"), "yes").get("heat") == {}


def test_an_amount_that_is_not_asked_is_not_lost_without_a_word():
    told = Story({"fish": {"species": "cod", "raw_weight": "2 lb"}})
    said = other_amount(told, question_at("fish.origin"), "no its 4 lb total. wild caught says the bag")
    assert said == "4 lb is not what is asked; weight: 2 lb stays. < changes it."
    assert (
        other_amount(told, question_at("fish.origin"), "wild, 2 lb as I said")
        == other_amount(told, question_at("fish.stock"), "fresh")
        == ""
    )


@pytest.mark.parametrize(
    "text", ["half an hour in the car, then on ice", "an hour on the boat, the rest on ice", "30 min, maybe on ice"]
)
def test_hours_before_the_ice_are_not_offered_as_cool(text):
    asked, story = question_at("fish.hours_above_4c"), Story({"fish": {"species": "Atlantic cod"}})
    assert to_confirm(story, asked, "half an hour in a cool bag") and not to_confirm(story, asked, text)
