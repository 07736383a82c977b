"""The story of a fish as questions: nothing of the file's format is left out, and nothing is asked that is ruled out."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flakeyard.messages import texts
from flakeyard.steps.intent.batch_file import mistakes, read_batch
from flakeyard.steps.intent.fields import FIELDS, INGREDIENT, OneOf
from flakeyard.units import InputError
from flakeyard.workbook.as_value import valued
from flakeyard.workbook.asked import ASKED, BY_HAND, DOORS
from flakeyard.workbook.asking import next_question, question_at, questions, reopened
from flakeyard.workbook.left_open import undecided
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO_MORE
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.telling import refusal, tell

DEMO = Path(__file__).parents[2] / "data_demo"
TROUT = {
    "fish.species": "rainbow trout, farmed",
    "fish.raw_weight": "1 kg",
    "fish.origin": "farmed",
    "fish.stock": "fresh",
}
NEEDED = {
    "cut.thickness": "6 mm", "dryer.temperature": "63 °C", "dryer.trays": "5", "dryer.tray_area": "900 cm2",
    "brine.time": "10 h", "brine.temperature": "3 °C", "brine.ingredient.1.what": "pickling salt",
    "brine.ingredient.1.amount": "60 g", "brine.ingredient.2.what": "water", "brine.ingredient.2.amount": "1 L",
    "heat.core": "74 °C", "freshen.1.water": "3 L", "freshen.1.time": "1 h", "freshen.1.temperature": "4 °C",
    "rest.time": "2 h", "rest.temperature": "3 °C",
}  # fmt: skip


def told(answers: dict[str, str], story: Story | None = None) -> tuple[Story, list[str]]:
    """The story with some answers by place, all others left open, and the places asked in their order."""
    story, asked = story or Story(), []
    while question := next_question(story):
        asked.append(question.place)
        story = tell(story, question, answers.get(question.place, ""))
    return story, asked


def question(place: str, story: Story | None = None) -> Question:
    return next(one for one in questions(story or Story()) if one.place == place)


def every_question() -> list[Question]:
    """All questions there are, with everything opened and of every kind."""
    syrup = {"presoak": "wet", "brine": "wet", "rest": "yes", "freshen.1": "yes", "heat": "yes"} | NEEDED
    warm = {
        "fish.species": "sea bass",
        "fish.origin": "wild",
        "fish.stock": "frozen",
        "cut.form": "strips",
        "cut.skin": "off",
    }
    syrup |= {
        "brine.ingredient.3.what": "syrup",
        "brine.ingredient.3.amount": "1 cup",
        "keep.measured_water_activity": "0.7",
        "measured": "yes",
        "measured.raw_sample": "20 g",
        "measured.laid_sample": "20 g",
        "measured.dried_sample": "20 g",
        "measured.strip_salt": "5",
        "fish.fat": "6",
    }
    recipe = {"brine.ingredient.3.recipe_sugar": "1 cup"}
    stories = [told(syrup)[0], told(syrup | warm | recipe)[0]]
    return [one for story in stories for one in questions(story)]


# Nothing is left out


def test_every_key_of_the_file_is_asked_or_told_by_hand_for_a_reason():
    asked = {(one.section, one.key) for one in every_question() if not one.door and ".ingredient." not in one.place}
    by_hand = set(BY_HAND)
    for section, fields in FIELDS.items():
        assert {(section, key) for key in fields} <= asked | by_hand, section
    assert not asked & by_hand
    assert all(texts()[message] for message in BY_HAND.values())
    assert {one.key for one in every_question() if ".ingredient." in one.place} == set(INGREDIENT)


def test_nothing_is_asked_that_the_file_does_not_know():
    for section, asked in ASKED.items():
        fields = INGREDIENT if section == "ingredient" else FIELDS["brine" if section == "soak" else section]
        assert {one.key for one in asked} <= set(fields)
    assert set(DOORS) <= set(FIELDS)


def test_a_question_reads_by_the_kind_of_its_key():
    for one in every_question():
        if not one.door:
            fields = INGREDIENT if ".ingredient." in one.place else FIELDS[one.section]
            assert one.kind is fields[one.key]


@pytest.mark.parametrize("system", ["metric", "us"])
def test_every_example_can_be_answered(system):
    for one in every_question():
        example = getattr(one, system) or one.metric
        assert one.kind.read(valued(one, example), one.where) is not None, one.place


def test_every_question_says_why_it_is_asked_and_what_not_knowing_costs():
    for one in every_question():
        for text in (one.words, one.why, one.cost):
            assert text and "{" not in text and "_" not in text, one.place
        assert one.words.endswith(("?", "."))


def test_what_a_table_names_can_be_answered():
    for place in ("fish.species", "brine.ingredient.1.what", "keep.pack"):
        story = Story({"brine": {"method": "wet"}}) if place.startswith("brine") else Story()
        one = question(place, story)
        assert len(one.names) > 10
        for name in one.names:
            if name != "aromatics":  # kept as a note
                assert tell(story, one, name).get(place) == name


# Nothing is asked that is ruled out

FROZEN = {"fish.stock": "frozen", "fish.origin": "wild"}


@pytest.mark.parametrize(
    ("answers", "not_asked", "asked"),
    [
        ({}, ("fish.frozen_at", "fish.thawed_in_vacuum", "fish.water", "brine.time", "rest", "freshen.1", "heat.core"), ("heat", "brine")),
        ({"fish.species": ""}, ("fish.waters",), ("fish.water", "fish.protein", "fish.ash")),
        ({"fish.stock": "frozen"}, ("fish.frozen_at", "fish.frozen_days"), ("fish.thawed_in_vacuum",)),
        ({"fish.stock": "frozen", "fish.origin": "wild"}, (), ("fish.frozen_at", "fish.frozen_days")),
        ({**FROZEN, "heat": "yes", "heat.core": "63 °C", "heat.checked": "probe"}, ("fish.frozen_at", "fish.frozen_days"), ()),
        ({**FROZEN, "heat": "yes", "heat.core": "62 °C", "heat.checked": "probe"}, (), ("fish.frozen_at", "fish.frozen_days")),
        ({**FROZEN, "heat": "yes", "heat.core": "74 °C", "heat.checked": "no"}, (), ("fish.frozen_at", "fish.frozen_days")),
        ({**FROZEN, "heat": "yes", "heat.core": "74 °C"}, (), ("fish.frozen_at", "fish.frozen_days")),
        ({**FROZEN, "heat": "yes", "heat.core": "", "heat.checked": "probe"}, (), ("fish.frozen_at", "fish.frozen_days")),
        ({"fish.species": "sea bass"}, (), ("fish.waters",)),
        ({"fish.species": "Atlantic cod"}, ("fish.waters",), ()),
        ({"fish.hours_above_4c": "0"}, ("fish.hours_above_21c", "fish.warmest"), ()),
        ({"fish.hours_above_4c": "2", "fish.hours_above_21c": "0"}, ("fish.warmest",), ()),
        ({"fish.hours_above_4c": "2", "fish.hours_above_21c": "1.5"}, (), ("fish.warmest",)),
        ({"fish.hours_above_4c": "2", "fish.hours_above_21c": "1"}, ("fish.warmest",), ()),
        ({"fish.hours_above_4c": "1"}, ("fish.warmest",), ("fish.hours_above_21c",)),
        ({"cut.form": "fillets"}, ("cut.width",), ("cut.skin",)),
        ({"cut.form": "strips"}, (), ("cut.width",)),
        ({"cut.form": "whole"}, ("cut.width", "cut.skin", "dryer.faces"), ()),
        ({"cut.skin": "one side"}, ("dryer.faces",), ()),
        ({"cut.skin": "off"}, (), ("dryer.faces",)),
        ({}, ("measured.raw_sample", "keep.measured_at"), ("measured",)),
        ({"measured": "yes"}, ("measured.salted_weight", "measured.raw_oven_dry", "measured.scale_step"), ("measured.thickness_error",)),
        ({"measured": "yes", "measured.dried_sample": "20 g"}, (), ("measured.dried_oven_dry", "measured.scale_step", "keep.measured_at")),
        ({"brine": "dry"}, ("brine.method",), ("brine.time", "rest", "freshen.1", "brine.ingredient.1.what")),
        ({"heat": "yes"}, (), ("heat.core", "heat.checked", "heat.to_tray")),
        ({"keep.place": "freezer"}, ("keep.measured_error", "keep.measured_by"), ("keep.pack",)),
        ({"keep.measured_water_activity": "0.7"}, (), ("keep.measured_error", "keep.measured_by")),
    ],
    ids=lambda value: str(value)[:40],
)  # fmt: skip
def test_what_is_ruled_out_is_not_asked(answers, not_asked, asked):
    _, places = told(TROUT | NEEDED | answers)
    assert not set(not_asked) & set(places) and set(asked) <= set(places)


def test_the_story_goes_as_a_cook_tells_it():
    _, places = told(TROUT | NEEDED | {"brine": "wet", "heat": "yes", "freshen.1": "yes"})
    first = [places.index(place) for place in ("fish.species", "cut.form", "brine", "freshen.1", "heat", "dryer.temperature", "keep.place")]  # fmt: skip
    assert first == sorted(first) and places[0] == "fish.species" and len(places) == len(set(places))


def test_a_syrup_is_told_in_one_of_three_ways():
    before = NEEDED | {"brine": "wet", "brine.ingredient.3.what": "syrup", "brine.ingredient.3.amount": "1 cup"}
    keys = ("one_cup_weighs", "brix", "recipe_sugar", "recipe_liquid")
    for answers, asked in (
        ({}, keys[:3]), ({"one_cup_weighs": "312 g"}, keys[:1]), ({"brix": "65"}, keys[:2]), ({"recipe_sugar": "2 cup"}, keys),
    ):  # fmt: skip
        _, places = told(before | {f"brine.ingredient.3.{key}": text for key, text in answers.items()})
        assert [key for key in keys if f"brine.ingredient.3.{key}" in places] == list(asked)


# Answers


@pytest.mark.parametrize(
    ("place", "text", "value"),
    [
        ("fish.gutted", "yes", True), ("fish.gutted", "N", False), ("fish.gutted", "true", True),
        ("fish.fat", "6,2", 6.2), ("fish.fat", "6.2 %", 6.2), ("fish.fat", "6 1/2", 6.5),
        ("fish.hours_above_4c", "30 min", 0.5), ("fish.hours_above_4c", "2 h", 2), ("fish.hours_above_4c", "none", 0),
        ("keep.wanted_days", "2 weeks", 14), ("room.relative_humidity", "55%", 55),
        ("fish.origin", "Wild", "wild"), ("cut.form", "fil", "fillets"), ("cut.skin", "one", "one side"),
        ("fish.raw_weight", '"1.8 kg"', "1.8 kg"), ("keep.place", "porch", None), ("keep.place", "fridge", "refrigerator"), ("cut.thickness", "1/4 in", "1/4 in"),
        ("dryer.tray_area", "30 x 35 cm", "30 x 35 cm"), ("dryer.tray_area", "12 in × 10 in", "12 in × 10 in"),
        ("dryer.tray_area", "900 cm2", "900 cm2"), ("dryer.tray_area", "33 cm round", "33 cm round"),
        ("fish.gutted", "Yep.", True), ("fish.gutted", "yes, of course", True), ("fish.gutted", "cleaned", True), ("fish.gutted", "nope", False),
        ("fish.smells_normal", "smells fine", True), ("fish.smells_normal", "a bit off", None), ("fish.smells_normal", "off", False),
        ("fish.smells_normal", "yes, but a bit strong", None), ("fish.gutted", "fine", None), ("fish.gutted", "yes, mostly", None),
        ("fish.hours_above_4c", "half an hour", 0.5), ("fish.hours_above_4c", "an hour or so", 1), ("fish.hours_above_4c", "not at all", 0),
        ("keep.wanted_days", "3 months", 90), ("keep.wanted_days", "a month", 30), ("keep.wanted_days", "ten days", 10),
        ("fish.fat", "about 6 %", 6), ("room.relative_humidity", "40 percent", 40), ("dryer.trays", "six", 6), ("dryer.trays", "5 trays", 5),
        ("dryer.trays", "five or six", None), ("dryer.faces", "both sides", 2), ("dryer.faces", "three", None),
        ("room.altitude", "at sea level", "0 m"), ("keep.measured_water_activity", "about 0.78", None),
        ("fish.origin", "caught", "wild"), ("fish.origin", "From a fish farm", "farmed"), ("fish.origin", "somewhere", None),
        ("fish.stock", "never frozen", "fresh"), ("fish.stock", "previously frozen", "frozen"),
        ("cut.form", "filets", "fillets"), ("cut.form", "loins", "fillets"), ("cut.form", "slices", "strips"), ("cut.form", "steaks", None),
        ("cut.skin", "skinned", "off"), ("cut.skin", "skin-on", "one side"), ("cut.skin", "none", None), ("cut.skin", "no", None),
        ("keep.place", "in the fridge", "refrigerator"), ("keep.place", "on the counter", "cupboard"), ("keep.place", "cellar", None),
        ("keep.pack", "in a jar", "jar"), ("keep.pack", "jar with a lid", "jar with lid"), ("keep.pack", "freezer bag", "freezer bag"), ("keep.pack", "in glass jars", "glass jar"),
        ("fish.species", "carp fillets", "carp"), ("fish.species", "mackerel fillets", None), ("fish.species", "escolar fillets", None),
        ("heat.checked", "meat thermometer", "probe"), ("heat.checked", "thermometer", None), ("heat.checked", "by eye", "not checked"),
        ("heat.core", "165F", "165F"), ("heat.core", "about 165 °F", None), ("dryer.temperature", "60", None), ("dryer.temperature", "60 degrees", None),
        ("fish.gutted", "yes right away", True), ("fish.gutted", "Yes, on the shore.", True), ("fish.gutted", "no, ungutted", False),
        ("fish.smells_normal", "yes, clean", True), ("fish.smells_normal", "no, smells bad", False),
        ("fish.species", "sockeye", "sockeye"), ("fish.species", "farm raised channel catfish", "farm raised channel catfish"),
        ("cut.form", "skin-on fillets", "fillets"), ("cut.form", "Skinless fillets", "fillets"), ("cut.form", "skin-on", None),
        ("dryer.faces", "open mesh", 2), ("dryer.faces", "solid", 1), ("dryer.faces", "mesh with sheets", None),
        ("dryer.tray_area", "13 1/2 in across, round", "13 1/2 in across, round"), ("dryer.tray_area", "13 in across", None),
        ("keep.wanted_days", "half a year", 183), ("keep.pack", "vacuum packed", "vacuum packed"),
        ("brine.time", "overnight", None), ("brine.time", "half a day", "half a day"), ("brine.temperature", "fridge", None),
    ],
)  # fmt: skip
def test_answers_as_they_are_typed(place, text, value):
    story = Story(
        {"brine": {"method": "wet"}, "heat": {}, "cut": {"skin": "off"}, "keep": {"measured_water_activity": 0.8}}
    )
    one = question(place, story)
    if value is None:
        with pytest.raises(InputError):
            tell(story, one, text)
    else:
        assert tell(story, one, text).get(place) == value


def test_how_it_was_frozen_is_asked_when_it_is_known_whether_heat_makes_it_needless():
    asked = told(FROZEN)[1]
    at = asked.index("fish.frozen_at")
    assert asked[at - 1 : at + 3] == ["heat", "fish.frozen_at", "fish.frozen_days", "dryer.temperature"]


def test_how_it_was_frozen_stays_in_view_where_it_is_told_though_heat_makes_it_needless():
    heated = {"core": "74 °C", "checked": "probe"}
    story = Story({"fish": {"stock": "frozen", "frozen_at": "-20 °C"}, "heat": heated})
    places = [one.place for one in questions(story)]
    assert "fish.frozen_at" in places and "fish.frozen_days" not in places


@pytest.mark.parametrize(
    "text",
    ["don't hold it", "no hold", "not held", "No hold.", "I don’t hold it", "didn't hold it", "not held at all", "it is not held", "no holding", "none", "no", "not at all", "0", "straight out"],
)  # fmt: skip
def test_heating_that_is_not_held_is_held_for_no_time(text):
    story = tell(Story({"heat": {"core": "74 °C"}}), question("heat.hold", Story({"heat": {}})), text)
    assert FIELDS["heat"]["hold"].read(story.get("heat.hold"), "hold") == 0


@pytest.mark.parametrize(
    "text", ["maybe not held", "not long", "don't hold it long", "not measured", "don't know", "some"]
)
def test_a_hold_that_nobody_can_tell_is_no_number(text):
    story = tell(Story({"heat": {}}), question("heat.hold", Story({"heat": {}})), text)
    assert story.get("heat.hold") is None


@pytest.mark.parametrize("text", ["thin", "Thick.", "very thin", "thin slices", "pretty thick", "medium", "paper thin"])
@pytest.mark.parametrize("key", ["thickness", "thickest"])
def test_thin_is_no_number_and_what_to_measure_is_said(text, key):
    one = question(f"cut.{key}")
    with pytest.raises(InputError) as refused:
        tell(Story(), one, text)
    said = refusal(refused.value, one)
    assert "ruler" in said and "6 mm (1/4 in)" in said and "Not taken" not in said and "begin with a number" not in said


@pytest.mark.parametrize("text", ["soy", "Soy", "soya"])
def test_soy_alone_is_the_sauce(text):
    story = tell(Story({"brine": {"method": "wet"}}), question_at("brine.ingredient.1.what"), text)
    assert story.get("brine.ingredient.1.what") == "soy sauce"


@pytest.mark.parametrize(
    ("place", "text", "said_something"),
    [
        ("fish.fat", "not sure", False), ("fish.fat", "I don’t know.", False), ("fish.fat", "none", True), ("fish.fat", "no", True),
        ("fish.origin", "from the supermarket", True),
        ("fish.stock", "from the shop", True), ("fish.gutted", "dunno", False), ("room.relative_humidity", "normal", True),
        ("heat.to_tray", "a few minutes", True), ("dryer.fresh_air", "a fan", True), ("keep.measured_water_activity", "no", True),
        ("keep.wanted_days", "as long as possible", True), ("fish.fat", "idk", False),
    ],
)  # fmt: skip
def test_an_answer_that_does_not_decide_leaves_it_not_known(place, text, said_something):
    story = Story({"fish": {"fat": 3.0}, "heat": {}})
    one = question(place, story)
    told = tell(story, one, text)
    assert told.get(place) is None and told.left[place] == "not known"
    assert undecided(one, text) is said_something


@pytest.mark.parametrize(
    ("place", "text", "method"),
    [("brine", "brined", "wet"), ("brine", "in a marinade", "wet"), ("brine", "Dry salted", "dry"), ("brine", "dry brine", "dry"), ("brine", "unsalted", None), ("brine", "nope", None)],
)  # fmt: skip
def test_a_way_of_salting_in_other_words(place, text, method):
    told = tell(Story(), question(place), text)
    assert told.get("brine.method") == method and told.left.get("brine") == (None if method else "no")


@pytest.mark.parametrize("text", ["1/2 cup kosher salt", "½ cup salt", "table salt, 1/4 cup"])
def test_an_ingredient_with_its_amount_is_told_what_comes_next(text):
    story = Story({"brine": {"method": "wet"}})
    with pytest.raises(InputError, match="without its amount"):
        tell(story, question("brine.ingredient.1.what", story), text)


def test_a_curing_salt_with_its_amount_is_refused_for_what_it_is():
    story = Story({"brine": {"method": "wet"}})
    with pytest.raises(InputError, match="nitrite"):
        tell(story, question("brine.ingredient.1.what", story), "1 tsp pink curing salt")


@pytest.mark.parametrize("text", ["steamed", "yes, in the oven", "yes in the oven", "Boiled."])
def test_a_way_of_heating_opens_the_questions_about_it_and_answers_none(text):
    told = tell(Story(), question("heat"), text)
    assert told.typed == {"heat": {}} and question("heat.core", told).needed


@pytest.mark.parametrize("text", ["salted", "yes", "cured", "curing salt"])
def test_salted_is_asked_how(text):
    with pytest.raises(InputError, match=r"wet \| dry \| no"):
        tell(Story(), question("brine"), text)


@pytest.mark.parametrize("text", ["no more", "that's all", "Nope", "done."])
def test_nothing_more_goes_in(text):
    story = Story({"brine": {"method": "dry", "ingredient": [{"what": "salt", "amount": "60 g"}]}})
    assert tell(story, question("brine.ingredient.2.what", story), text).left["brine.ingredient.2.what"] == "no more"


def test_no_other_word_for_a_choice_means_two_of_its_words():
    for section in (*FIELDS.values(), INGREDIENT):
        for kind in section.values():
            if isinstance(kind, OneOf):
                names = [name for also in kind.also.values() for name in also]
                assert set(kind.also) <= set(kind.words) and len(names) == len(set(names))
                assert all(kind.meant(name) == word for word, also in kind.also.items() for name in also)


@pytest.mark.parametrize(
    ("place", "text", "word"),
    [
        ("fish.raw_weight", "1.8", "unit is missing"), ("fish.species", "moon fish", "no such name"),
        ("fish.species", "escolar", "wax"), ("fish.species", "redfish", "Latin name"), ("fish.fat", "60", "0 to 35"),
        ("fish.gutted", "perhaps", "yes or no is needed"), ("cut.form", "balls", "strips | fillets"), ("heat", "perhaps", "yes | no"),
        ("fish.hours_above_4c", "-1", "0 to 2000"), ("fish.hours_above_4c", "1,500", "number alone"),
        ("keep.pack", "paper hat", "[keep] pack"), ("title", "\x1b[2J", "cannot be printed"), ("dryer.tray_area", "a x b", "number"),
        ("fish.gutted", "no, but tomorrow", "yes | no"), ("fish.smells_normal", "yes, a touch muddy", "yes | no"),
        ("fish.smells_normal", "yes, off", "yes | no"), ("fish.smells_normal", "no, fresh", "yes | no"),
        ("fish.gutted", "no, right away", "yes | no"), ("fish.thawed_in_vacuum", "no, in a bag", "yes | no"),
        ("fish.hours_above_4c", "overnight", "how long"), ("keep.wanted_days", "182.5", "whole number"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_and_changes_nothing(place, text, word):
    story = Story({"fish": {"raw_weight": "1 kg", "stock": "frozen"}})
    with pytest.raises(InputError, match=r"(?s)" + word.replace("[", r"\[").replace("|", r"\|")):
        tell(story, question(place, story), text)
    assert story == Story({"fish": {"raw_weight": "1 kg", "stock": "frozen"}})


def test_the_sentence_of_a_refusal_is_that_of_the_file():
    story = Story()
    for place, text in (("fish.raw_weight", "1.8"), ("fish.species", "moon fish"), ("cut.form", "balls")):
        with pytest.raises(InputError) as refused:
            tell(story, question(place), text)
        section, key = place.split(".")
        assert [str(one) for one in mistakes({section: {key: text}})] == [str(refused.value)]


def test_what_does_not_go_together_is_refused_at_once():
    story = tell(Story(), question("cut.thickness"), "6 mm")
    with pytest.raises(InputError, match="rising order"):
        tell(story, question("cut.thickest"), "5 mm")
    own = Story({"fish": {"water": 80, "protein": 25}})
    with pytest.raises(InputError, match="115 %"):
        tell(own, question("fish.fat", own), "10")
    heated = Story({"fish": {"raw_weight": "1 kg"}, "heat": {"core": "74 °C"}})
    with pytest.raises(InputError, match="300%"):
        tell(heated, question("heat.weight_after", heated), "3 kg")


def test_a_curing_salt_is_refused_as_soon_as_it_is_named():
    salted = Story({"brine": {"method": "wet"}})
    with pytest.raises(InputError, match="nitrite"):
        tell(salted, question("brine.ingredient.1.what", salted), "pink curing salt")


def test_a_wet_brine_without_water_is_refused_when_nothing_more_goes_in():
    dry = {key: text for key, text in (TROUT | NEEDED).items() if not key.startswith("brine.ingredient.2")}
    with pytest.raises(InputError, match="needs water"):
        told(dry | {"brine": "wet"})
    assert told(dry | {"brine": "dry"})[0].get("brine.method") == "dry"


def test_a_syrup_lighter_than_water_is_refused_at_once():
    row = {"what": "syrup", "amount": "1 cup"}
    story = Story({"brine": {"method": "wet", "ingredient": [row]}})
    with pytest.raises(InputError, match="lighter than water"):
        tell(story, question("brine.ingredient.1.one_cup_weighs", story), "160 g")


def test_left_open_on_purpose_is_remembered_and_told_later_all_the_same():
    story, _ = told(TROUT | NEEDED)
    assert story.left["fish.gutted"] == "not known" and story.left["heat"] == "no"
    again = tell(story, question("fish.gutted", story), "yes")
    assert again.get("fish.gutted") is True and "fish.gutted" not in again.left
    closed = tell(tell(again, question("heat", again), "yes"), question("heat", again), "none")
    assert "heat" not in closed.typed and closed.left["heat"] == "no"


def test_what_no_plan_can_do_without_is_asked_again():
    story, _ = told({"fish.species": "Atlantic cod"})
    again = reopened(story)
    _, places = told({}, again)
    assert set(places) == {"fish.raw_weight", "cut.thickness", "dryer.temperature", "dryer.trays", "dryer.tray_area"}
    nameless, _ = told({})
    assert {"fish.species", "fish.water", "fish.protein", "fish.fat"} <= set(told({}, reopened(nameless))[1])


def test_another_fish_has_another_history():
    story, _ = told(TROUT | NEEDED | {"fish.gutted": "yes", "fish.hours_above_4c": "0"})
    cod = tell(story, question("fish.species", story), "Atlantic cod")
    assert cod.typed["fish"] == {"species": "Atlantic cod", "raw_weight": "1 kg"}
    same = tell(story, question("fish.species", story), "rainbow trout, farmed")
    assert same.typed["fish"] == story.typed["fish"]


def test_fish_that_was_never_warm_was_never_very_warm_and_no_longer():
    story = tell(Story(), question("fish.hours_above_4c"), "0")
    assert story.get("fish.hours_above_21c") == 0
    again = tell(story, question("fish.hours_above_4c", story), "3")
    assert again.get("fish.hours_above_21c") is None and next_question(again).place == "fish.species"


def test_a_way_of_salting_is_changed_without_losing_what_goes_in():
    story, _ = told(TROUT | NEEDED | {"brine": "wet"})
    dry = tell(story, question("brine", story), "dry")
    assert dry.typed["brine"] == story.typed["brine"] | {"method": "dry"}


@pytest.mark.parametrize("name", ["heron", "otter", "kingfisher"])
def test_a_file_told_as_answers_is_the_same_batch(name):
    typed = tomllib.loads((DEMO / f"{name}.toml").read_text(encoding="utf-8"))
    source = Story(typed)

    def answer(one: Question) -> str:
        value = source.get(one.place)
        if one.door and value is not None:
            return value.get("method", "yes")
        return "" if value is None else {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)

    story = Story()
    while one := next_question(story):
        story = tell(story, one, answer(one))
    batch, wanted = read_batch(story.typed), read_batch(typed)
    told_of = {
        name: getattr(batch, name)
        for name in ("cut", "brine", "freshen", "heat", "dryer", "room", "keep", "title", "serving")
    }
    assert told_of == {name: getattr(wanted, name) for name in told_of}


@given(
    texts=st.lists(
        st.one_of(st.text(max_size=30), st.sampled_from(["yes", "wet", "dry", "1 kg", "3 mm", "5", "salt", "no"])),
        max_size=90,
    )
)
def test_whatever_is_typed_is_taken_or_refused(texts):
    story = Story()
    for text in texts:
        one = next_question(story)
        if one is None:
            break
        try:
            story = tell(story, one, text)
        except InputError as mistake:
            assert str(mistake)
            story = tell(story, one, "") if one.empty != NO_MORE else story.left_open(one.place, NO_MORE)
    assert not mistakes(story.typed)


def test_doors_are_choices_with_a_no():
    assert all(isinstance(kind, OneOf) and kind.words[-1] == "no" for kind in DOORS.values())


def test_a_dryer_without_a_heater_or_a_fan_can_be_told():
    heater, moving = question("dryer.heater"), question("dryer.moving")
    for said in ("none", "No", "nothing heats it"):
        if said == "nothing heats it":
            assert "dryer.heater" in tell(Story(), heater, said).left  # it tells no number, and is no plain "none"
            continue
        story = tell(Story(), heater, said)
        assert story.get("dryer.heater") == "none"
        assert "dryer.fresh_air" not in {one.place for one in questions(story)}
    assert tell(Story(), moving, "no fan").get("dryer.moving") == "still"
