"""What one answer tells is confirmed in one go; the heating is told at once; who asks back what it should be is told the rule."""

from dataclasses import replace

import pytest

from flakeyard import limits
from flakeyard.units import read_amount
from flakeyard.workbook.advised import ADVISED, WILL_DO, advised
from flakeyard.workbook.asked import ASKED
from flakeyard.workbook.asking import question_at, questions
from flakeyard.workbook.grouped import asked_about, open_steps, steps_told
from flakeyard.workbook.heating_told import HEATING, asked_at_once, heating_told
from flakeyard.workbook.joined import accounted_for, agreed, joined
from flakeyard.workbook.loosely import heard
from flakeyard.workbook.meant import Reading
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.together import also

US = Story({"fish": {"species": "walleye", "raw_weight": "3 lb"}, "brine": {"method": "wet"}, "heat": {}})
METRIC = Story({"fish": {"species": "carp", "raw_weight": "3 kg"}, "brine": {"method": "wet"}, "heat": {}})


def all_told(story: Story, place: str, text: str) -> dict[str, str]:
    question = question_at(place)
    return dict(joined(story, question, text, heard(story, question, text).readings[0]).told)


@pytest.mark.parametrize(
    ("place", "text", "told"),
    [
        ("fish.species", "walleye, caught through the ice, been in my freezer five days", {"fish.origin": "wild", "fish.stock": "frozen", "fish.frozen_days": "5 days"}),
        ("fish.species", "walleye caught in my pond where they are fed", {}),
        ("fish.species", "some carp I think, three of them, cut to fillets, about 1.4 kg", {"fish.raw_weight": "1.4 kg"}),
        ("fish.species", "some carp I think, three of them, fillets, 1.4 kg each", {}),
        ("fish.species", "some carp I think, three of them, fillets, 4 kg whole", {}),
        ("fish.hours_above_4c", "maybe two hours on the table, the kitchen is at 21 C", {"fish.hours_above_21c": "0"}),
        ("fish.hours_above_4c", "maybe two hours on the table, the kitchen is at 22 C", {}),
        ("fish.hours_above_4c", "maybe two hours at 15 C and then in the car", {}),
        ("brine", "soak it overnight in the fridge, a cup of soy sauce and half a cup brown sugar", {"brine.time": "12 h", "brine.ingredient.3.what": "no more"}),
        ("brine", "soak it overnight, 1 L water and 40 g sugar", {"brine.time": "12 h"}),
    ],
)  # fmt: skip
def test_one_answer_is_confirmed_in_one_go(place, text, told):
    kept = ("fish.origin", "fish.stock", "fish.frozen_days", "fish.raw_weight", "fish.hours_above_21c", "brine.time")
    found = all_told(Story(), place, text)
    assert {name: much for name, much in found.items() if name in kept or much == "no more"} == told


@pytest.mark.parametrize(
    ("text", "agrees"),
    [
        ("yes wet, fridge, how cold it is no idea", True), ("yes", False), ("yeah that's right", True), ("yes but dry", False), ("yes, 8 h", False),
        ("yes and pepper", False), ("yes, not in the fridge", False), ("no, wet", False), ("yes, wild", False), ("yes, 8 °C", False), ("yes wet, or dry", False),
    ],
)  # fmt: skip
def test_a_yes_with_nothing_new_behind_it_is_a_yes(text, agrees):
    reading = Reading(
        (("brine", "wet"), ("brine.temperature", "7 °C")), "wet; temperature: 7 °C (a fridge without a thermometer)"
    )
    picked = agreed((reading,), text)
    assert (picked == reading) == (agrees or text == "yes")
    guarded = Reading((("fish.gutted", "yes"),), "yes")
    assert agreed((guarded,), "yes, no idea") is None


@pytest.mark.parametrize(
    ("text", "taken"),
    [
        ("a dehydrator at 65 degrees C, 6 trays about 30 by 30 cm, it says 500 watts", True), ("a dehydrator at 65 degrees C, 6 trays about 30 by 30 cm, not the 500 watts one", False),
        ("a dehydrator at 65 degrees C, 6 trays about 30 by 30 cm, I had it at 55 before", False), ("a dehydrator at 65 degrees C, 6 trays about 30 by 30 cm, 500 watts I think", False),
    ],
)  # fmt: skip
def test_a_long_answer_is_taken_only_where_nothing_is_left_over(text, taken):
    question = question_at("dryer.temperature")
    own = heard(METRIC, question, text).readings[0]
    assert accounted_for(joined(METRIC, question, text, own), text) == taken
    hours = Reading((("fish.hours_above_4c", "2 h"),), "2 h")
    assert not accounted_for(hours, "2 h in all on the table of our kitchen, with the window open")


@pytest.mark.parametrize(
    ("text", "told", "sure"),
    [
        ("165 F for a minute by a probe, on the trays within 10 min", {"core": "165 F", "hold": "1 minute", "checked": "probe", "to_tray": "10 min"}, True),
        ("74 °C (165 °F), for 1 min, by a probe, on the trays within 10 min", {"core": "74 °C", "hold": "1 min", "checked": "probe", "to_tray": "10 min"}, True),
        ("165, 1 min, probe, 10 min", {"core": "165 °F", "hold": "1 min", "checked": "probe", "to_tray": "10 min"}, True),
        ("160 F for five or ten minutes by probe, 5 to 15 min till it is on the trays", {"core": "160 F", "hold": "5 minutes", "checked": "probe", "to_tray": "15 min"}, False),
        ("about 165 F for 20 minutes by a probe", {"checked": "probe"}, False), ("165 F for about 5 minutes", {"core": "165 F", "hold": "about 5 minutes"}, False), ("at least 165 F by a probe", {"checked": "probe"}, False), ("not checked, 160 F", {"core": "160 F", "checked": "not checked"}, False), ("74 C, not held, by eye", {"core": "74 C", "checked": "not checked"}, False),
        ("165 F, not sure for how long", {"core": "165 F"}, False),
        ("oven 250 F till 165 in the middle, 5 min", {"core": "165 °F", "hold": "5 min"}, False), ("oven 180 C for 20 min until 74 C inside by a probe", {"core": "74 C", "checked": "probe"}, False),
        ("165 F for 1 min by a probe, on the trays in a couple minutes, 5 tops", {"core": "165 F", "hold": "1 min", "checked": "probe"}, False),
        ("165 F, 20 min in the oven", {"core": "165 F"}, False), ("165 F, 5 min to the trays", {"core": "165 F", "to_tray": "5 min"}, True),
    ],
)  # fmt: skip
def test_a_heating_is_told_at_once(text, told, sure):
    found = heating_told(US, text)
    assert {place.removeprefix("heat."): much for place, much in found.told} == told and found.sure == sure
    found.put_in(US)


@pytest.mark.parametrize("text", ["oven at 200 C for 20 minutes", "boiled for 5 minutes", "steam it", "74 C with a probe in the oven", "I don't know", "65 or 74 C", "74 C in the oven, a minute", "about 74 C"])  # fmt: skip
def test_what_is_no_heat_in_the_middle_is_asked_one_by_one(text):
    assert heating_told(METRIC, text) is None


@pytest.mark.parametrize("text", ["not heated", "No heating.", "I don't heat it"])
def test_fish_that_is_not_heated_has_no_heating(text):
    assert heating_told(METRIC, text).sure and "heat" not in heating_told(METRIC, text).put_in(METRIC).typed
    assert heating_told(METRIC, "not heated above 70") is None


def test_a_heating_is_asked_at_once_only_while_little_of_it_is_told():
    core = next(one for one in questions(US) if one.place == "heat.core")
    assert asked_at_once(US, core).place == HEATING and asked_at_once(US.left_open(HEATING, "yes"), core) is None
    assert asked_at_once(US.told("heat.checked", "probe").told("heat.to_tray", "5 min"), core) is None


@pytest.mark.parametrize("text", ["what should it be?", "you tell me", "I don't know, whatever's safe", "what’s safe"])
def test_who_asks_what_it_should_be_is_told_the_rule_and_nothing_is_filled_in(text):
    places = [
        f"{section}.{one.key}" for section in ("fish", "cut", "heat", "dryer", "room", "keep") for one in ASKED[section]
    ]
    for place in places:
        found = advised(METRIC, question_at(place), text)
        assert bool(found) == (place in ADVISED), place
        assert bool(found and found.offered) == (place in WILL_DO), place
        if found and found.offered:
            found.offered.put_in(METRIC)
    assert advised(METRIC, question_at("heat.core"), "165 then, if I should") is None


def test_what_is_offered_for_a_heating_counts_by_the_rule():
    told = dict(advised(US, question_at("heat"), "I've got an oven, I can if I should").offered.told)
    assert read_amount(told["heat.core"], "temperature", "core").value >= limits.KILL_CORE - 1e-6
    assert read_amount(told["heat.hold"], "time", "hold").value >= limits.KILL_HOLD_HOT * 60
    assert told["heat.checked"] == "probe"


@pytest.mark.parametrize(
    ("text", "left", "no"),
    [
        ("just pat them dry. do I need to heat it?", ["heat"], 3), ("why would I need a milk bath? I'd just rinse it and pat it dry", [], 4),
        ("pat dry only; should it rest? what is a plain-water soak?", ["rest", "freshen.1"], 2),
    ],
)  # fmt: skip
def test_a_step_that_is_asked_about_is_asked_alone(text, left, no):
    found = steps_told(METRIC_BEFORE, text)
    assert [much for _, much in found.told] == ["no"] * no
    assert [one.place for one in open_steps(found.put_in(METRIC_BEFORE))] == left
    assert asked_about(METRIC_BEFORE, text) and steps_told(METRIC_BEFORE, "do I need to heat it?") is None


METRIC_BEFORE = Story({"fish": {"raw_weight": "3 kg"}, "brine": {"method": "wet"}})


def test_what_there_is_of_a_dryer_is_told_with_its_trays():
    story = Story(
        {
            "cut": {"form": "strips", "skin": "off"},
            "dryer": {"temperature": "70 °C", "trays": 5, "tray_area": "30 x 30 cm"},
        }
    )
    text = "30 by 30 cm, maybe, plastic with slots, no idea of the heater, a fan hums"
    assert dict(also(story, question_at("dryer.tray_area"), text).told) == {"dryer.faces": "2", "dryer.heater": "not known", "dryer.moving": "fan"}  # fmt: skip
    assert "dryer.faces" not in dict(also(story, question_at("dryer.tray_area"), "30 by 30 cm, maybe mesh, a fan").told)


@pytest.mark.parametrize(
    ("text", "agrees"),
    [
        ("yeah i can do that. how do i stick a probe in a quarter inch strip though?", True), ("yes will do", True), ("sure, sounds good", True),
        ("yeah i can do that. how do i do it without a probe?", False), ("yeah i can do that. how about 150?", False), ("yeah i can do that tomorrow, or not", False),
        ("yeah i can't do that", False), ("yeah i can do that. is no probe fine?", False), ("ok", True), ("fine", True), ("ok, but not with a probe", False),
        ("yes, I have a meat thermometer", True), ("sure, i've got a good probe", True), ("yes, i have an oven thermometer", False), ("yes, i have a meat thermometer, broken", False), ("yes, i have no probe", False), ("yes i have a probe, 150", False),
        ("yes, tell me if it has to be the fridge", True), ("fine with a probe, but 150", False), ("ok how about 150", False),
    ],
)  # fmt: skip
def test_who_agrees_to_do_it_may_ask_how(text, agrees):
    reading = Reading((("heat.core", "165 °F"), ("heat.checked", "probe")), "heated to 165 °F, by a probe")
    assert (agreed((reading,), text.casefold()) == reading) == agrees


@pytest.mark.parametrize(
    ("text", "offered"),
    [
        ("I don't know which setting. It goes from 30 to 75 °C, 500 W", "75 °C"), ("fan, 30 to 75 °C, 500 W", "75 °C"), ("oven, 50 to 250 °C", "75 °C"), ("goes up to 60 °C", "60 °C"),
        ("it goes from 95 to 160 F", "160 °F"), ("55-60 °C", ""), ("20 to 60 °C in the sun", ""), ("63 °C, 5 mesh trays, fan", ""), ("dial goes up to 165. I run it wide open", ""), ("63 °C, 10 to 12 h", ""),
    ],
)  # fmt: skip
def test_the_range_of_a_dial_is_no_setting(text, offered):
    found = advised(METRIC, question_at("dryer.temperature"), text)
    assert (found.offered.told[0][1] if found else "") == offered


@pytest.mark.parametrize(
    ("of", "text", "told"),
    [
        ("salt", "how much salt do I need?", True), ("water; coarse salt", "how much do I need?", True), ("salt", "you tell me", True),
        ("salt", "how much, 80 g?", False), ("water", "how much do I need?", False), ("salt", "a handful", False),
    ],
)  # fmt: skip
def test_who_asks_how_much_salt_is_told_that_no_rule_asks_for_a_least_and_is_offered_none(of, text, told):
    question = replace(question_at("brine.ingredient.1.amount"), of=of)
    found = advised(METRIC, question, text)
    assert bool(found) == told
    assert not told or ("about 19 %" in found.words and "0.85" in found.words and found.offered is None)


def test_who_asks_how_much_salt_where_it_is_asked_what_goes_in_is_told_the_same():
    what = question_at("brine.ingredient.1.what")
    assert "about 19 %" in advised(METRIC, what, "salt and water, but how much salt do I need?").words
    assert advised(METRIC, what, "salt and water") is None and advised(METRIC, what, "how much water?") is None
