"""One question of the talk in a terminal: what is said to an answer, what Enter means then, and what comes of it."""

import contextlib
import io

import pytest

from flakeyard.messages import say
from flakeyard.steps.intent.fields import NOT_KNOWN
from flakeyard.workbook import begin
from flakeyard.workbook.advised import end_of_the_dial, still_unmeasured
from flakeyard.workbook.asking import next_question, question_at
from flakeyard.workbook.dial import has_no_degrees, only_refused
from flakeyard.workbook.grouped import next_asked
from flakeyard.workbook.loosely import heard
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.told_at_the_end import told_at_the_end

FISH = {"species": "cod", "raw_weight": "2 kg", "origin": "wild", "stock": "fresh", "hours_above_4c": 0, "hours_above_21c": 0, "gutted": True, "smells_normal": True}  # fmt: skip
CUT = {"form": "fillets"}
US = FISH | {"raw_weight": "4 lb"}
SALT = {"method": "dry", "time": "12 h", "temperature": "7 °C", "ingredient": [{"what": "salt", "amount": "300 g"}]}


@pytest.fixture
def talk(monkeypatch, tmp_path):
    """Ask the next questions of a story until the answers end; returns the story and what was said, prompts included."""

    def run(typed: dict, *answers: str, left: dict | None = None) -> tuple[Story, str]:
        monkeypatch.chdir(tmp_path)
        given, out = iter(answers), io.StringIO()

        def type_in(prompt):
            print(prompt, end="")
            told = next(given, None)
            if told is None:
                raise EOFError
            print(told)
            return told

        monkeypatch.setattr(begin, "_typed", type_in)
        dialogue = begin.Dialogue("mine.toml", Story(typed, left or {}))
        dialogue.asked_all = True
        with contextlib.redirect_stdout(out), contextlib.suppress(EOFError):
            while dialogue.goes_on():
                pass
        return dialogue.story, " ".join(out.getvalue().split())

    return run


def place_of_next(story: Story) -> str:
    return next_asked(next_question(story, more=False), story).place


@pytest.mark.parametrize(("answer", "usual"), [("", "2 cm"), ("1 cm", "1 cm"), ("the same", "2 cm")])
def test_a_thick_end_is_the_thickest_piece_and_the_usual_one_is_asked(talk, answer, usual):
    story, said = talk({"fish": FISH, "cut": CUT}, "about 2 cm at the thick end", answer, "")
    assert "I read: thickest 2 cm." in said and "The thickest is 2 cm; how thick is a usual piece?" in said
    assert "(Enter: 2 cm, as the thickest)" in said
    assert story.get("cut.thickest") == "2 cm" and story.get("cut.thickness") == usual


def test_a_thick_end_told_with_the_cut_leaves_the_usual_piece_open(talk):
    story, said = talk({"fish": FISH}, "fillets, skin off, 15 mm at the thick end, thinner at the tail")
    assert story.get("cut.thickest") == "15 mm" and story.get("cut.thickness") is None
    assert said.endswith("(Enter: 15 mm, as the thickest) >")


def test_enter_keeps_its_meaning_where_an_answer_cannot_be_read(talk):
    rest = {"fish": FISH, "cut": CUT | {"thickness": "8 mm", "skin": "off"}}
    story, said = talk(rest | {"brine": {"method": "dry"}}, "overnight", "is that cold enough", "")
    assert said.count("I read: 12 h. Right? (Enter: yes; or type it again)") == 2
    assert story.get("brine.time") == "12 h"
    story, said = talk(rest | {"brine": {"method": "dry"}}, "overnight", "I don't know that", "hello")
    assert said.count("(Enter: yes; or type it again)") == 1 and "(Enter: not known)" in said
    story, said = talk(rest, "overnight or so", left={})  # of a door: no
    assert said.endswith("(Enter: no) >")


def test_what_enter_means_is_said_after_a_no(talk):
    story, said = talk({"fish": FISH, "cut": CUT, "brine": {"method": "dry"}} | {"cut": CUT | {"thickness": "8 mm", "skin": "off"}}, "overnight", "no", "")  # fmt: skip
    assert "Then once more. (for example 10 h; Enter: not known) >" in said
    assert story.get("brine.time") is None and "brine.time" in story.left


def test_a_finger_is_offered_as_its_thicker_end_with_a_help(talk):
    story, said = talk({"fish": FISH, "cut": CUT}, "as thick as my finger", "")
    assert (
        "I read: 20 mm (roughly 15 mm to 20 mm, and the thicker counts; a ruler at a cut edge is better). Right?"
        in said
    )
    assert story.get("cut.thickness") == "20 mm"
    story, said = talk({"fish": US, "cut": CUT}, "thick as my thumb", "")
    assert story.get("cut.thickness") == "1 in"
    story, said = talk({"fish": US, "cut": CUT}, "two fingers thick", "")
    assert story.get("cut.thickness") is None
    story, said = talk({"fish": FISH}, "strips about a finger's width thick, skin off", "")
    assert story.get("cut.thickness") == "20 mm" and "roughly" in said


def test_a_machine_that_can_be_set_to_anything_is_told_what_the_rule_advises(talk):
    ready = {"fish": US, "cut": CUT | {"thickness": "1/4 in", "skin": "off"}}
    left = {"brine": "no", "presoak": "no", "steps": "no", "heat": "no"}
    story, said = talk(ready, "160, I can set it to whatever", "", left=left)
    assert "Drying was tested up to 167 °F" in said and "Will you do it so: 160 °F?" in said
    assert story.get("dryer.temperature") == "160 °F"
    story, said = talk(ready, "I can set it to anything, 5 trays", "", left=left)
    assert "Will you do it so: 158 °F?" in said
    assert story.get("dryer.temperature") == "158 °F" and story.get("dryer.trays") == 5


def test_of_two_fishes_it_is_asked_which_and_enter_takes_none(talk):
    story, said = talk({}, "haddock or cod, 1.5 kg", "")
    assert "1: cod; 2: haddock: no numbers for it here" in said and "(Enter: not known)" in said
    assert story.get("fish.species") is None and "fish.species" in story.left
    story, said = talk({}, "haddock or cod, 1.5 kg", "1")
    assert story.typed["fish"] == {"species": "cod", "raw_weight": "1.5 kg"}


def test_a_refrigerator_is_mended_wherever_it_was_assumed(talk):
    salted = {"fish": FISH, "cut": CUT | {"thickness": "8 mm", "skin": "off"}, "brine": SALT, "rest": {"time": "2 h", "temperature": "7 °C"}}  # fmt: skip
    left = {"brine.ingredient.2.what": "no more", "presoak": "no", "heat": "no", "steps": "no", "freshen.1": "no"}
    story, said = talk(salted, "my fridge is 4 °C, not 7", "70 °C", left=left)
    assert "The refrigerator counts as 4 °C now" in said
    assert story.get("brine.temperature") == story.get("rest.temperature") == "4 °C"
    assert story.get("dryer.temperature") == "70 °C"  # the question stays
    story, said = talk(salted, "I think my fridge is 4", "70 °C", left=left)
    assert "such as: my fridge is 4 °C" in said and story.get("brine.temperature") == "7 °C"
    story, said = talk(salted, "I think my fridge is maybe 9", "70 °C", left=left)
    assert story.get("brine.temperature") == story.get("rest.temperature") == "9 °C"


def test_a_refrigerator_is_mended_in_what_is_offered(talk):
    ready = {"fish": FISH, "cut": CUT | {"thickness": "8 mm", "skin": "off"}}
    story, said = talk(ready, "soak it overnight in the fridge, a cup of soy sauce and half a cup brown sugar", "yes but my fridge is 4 °C")  # fmt: skip
    assert "temperature: 7 °C (a fridge without a thermometer)" in said
    assert story.get("brine.temperature") == "4 °C" and story.get("brine.ingredient.1.amount") == "1 cup"


CLOSED = {"brine": "no", "presoak": "no", "steps": "no", "heat": "no"}
READY = {"fish": US, "cut": CUT | {"thickness": "1/4 in", "skin": "off"}}
DRYER = {"temperature": "145 °F", "trays": 5, "tray_area": "13 x 12 in", "faces": 2, "heater": "400 W", "moving": "fan"}
WHOLE = READY | {"dryer": DRYER, "room": {"temperature": "65 °F", "relative_humidity": 60}, "keep": {"place": "cupboard", "wanted_days": 60, "pack": "jar"}}  # fmt: skip
BRINE = "wet brine, 2 quarts water, a cup kosher salt, half a cup brown sugar, overnight in the fridge"


def test_some_thicker_pieces_are_never_lost(talk):
    story, said = talk({"fish": US}, "sliced about a quarter inch, a few pieces three eighths")
    assert (story.get("cut.thickness"), story.get("cut.thickest")) == ("1/4 inch", "3/8 inch")
    story, said = talk({"fish": US, "cut": {"form": "strips", "thickness": "1/4 in"}}, "skin's off yes. but some are three eighths")  # fmt: skip
    assert story.get("cut.skin") == "off" and story.get("cut.thickest") == "3/8 in"
    assert "Also read: thickest: 3/8 in" in said


def test_how_warm_it_was_is_no_number_of_hours_where_a_time_is_told(talk):
    fish = {key: told for key, told in US.items() if not key.startswith("hours")}
    story, said = talk({"fish": fish}, "maybe an hour on the cleaning table, it's about 65 out there, then ice and then the fridge, which sits at 38 by the thermometer in it", "")  # fmt: skip
    assert "I read: 1 hour. Right?" in said and story.get("fish.hours_above_4c") == 1
    assert story.notes["refrigerator"] == "38 °F"  # told once, it counts for every cold place
    story, said = talk({"fish": fish}, "a couple of hours, maybe 4", "4? no, one hour", "")
    assert story.get("fish.hours_above_4c") == 1


def test_a_refrigerator_told_before_counts_where_the_fish_lies_in_it(talk):
    story, said = talk(READY, "dry, and my fridge is 38 °F", "12 h", "the fridge")
    assert story.get("brine.temperature") == "38 °F" and "without a thermometer" not in said


def test_what_mends_the_refrigerator_in_an_offer_loses_nothing_of_it(talk):
    for answer in ("I told you, there is a thermometer in my fridge and it says 38. The rest is right", "wet, and the fridge is 38 °F"):  # fmt: skip
        story, _ = talk(READY, BRINE, answer)
        assert story.get("brine.temperature") == "38 °F", answer
        assert [row["what"] for row in story.get("brine.ingredient")] == ["water", "kosher salt", "brown sugar"]


def test_a_list_that_was_offered_is_not_lost_where_something_else_is_typed(talk):
    story, said = talk(READY, BRINE, "no, dry, 6 h at 38 °F", "")
    assert story.get("brine.method") == "dry"
    assert "I read: water, 2 quarts; kosher salt, 1 cup; brown sugar, 1/2 cup. Right?" in said


@pytest.mark.parametrize(
    ("answer", "more"), [("looks right", ""), ("yes, a fan at the back", "fan"), ("that's fine", "")]
)
def test_a_yes_in_other_words_agrees_and_a_yes_with_more_takes_the_more(talk, answer, more):
    open_dryer = READY | {"dryer": {"temperature": "145 °F", "trays": 5}}
    story, said = talk(
        open_dryer, "13 by 12 inches I think, maybe 400 watts, plastic mesh, not sure", answer, left=CLOSED
    )
    assert "Not taken" not in said and "cannot read" not in said
    assert story.get("dryer.tray_area") and (story.get("dryer.moving") or "") == more


def test_what_stands_beside_an_unreadable_amount_is_kept_for_its_own_question(talk):
    story, _ = talk(READY | {"dryer": {"temperature": "145 °F", "trays": 5}}, "yes, a fan at the back", "13 x 12 in", "", "", "", left=CLOSED)  # fmt: skip
    assert story.get("dryer.moving") == "fan"


def test_the_ends_of_a_dial_are_no_setting_beside_one(talk):
    story, said = talk(READY, "the knob goes from 95 to 165, five trays. I'd set it to 145 I guess", "", left=CLOSED)
    assert story.get("dryer.temperature") == "145 °F" and story.get("dryer.trays") == 5
    story, said = talk(READY, "it only has a dial low medium high, I'd take medium", left=CLOSED)
    assert "A word on a dial is no number" in said and said.endswith("(Enter: not known) >")


def test_a_number_of_the_damp_counts_before_the_word(talk):
    story, _ = talk(READY | {"dryer": DRYER}, "around 65 in fall, damp, maybe 60 percent", "", left=CLOSED)
    assert story.get("room.relative_humidity") == 60
    story, _ = talk(READY | {"dryer": DRYER}, "60 percent is a number. 65 degrees and 60 percent", "", left=CLOSED)
    assert story.get("room.relative_humidity") == 60


def test_a_plain_sentence_at_the_summary_mends_what_it_is_about(talk, monkeypatch):
    monkeypatch.setattr(begin.Dialogue, "impossible", lambda self: False)
    salted = WHOLE | {"brine": SALT | {"temperature": "38 °F"}}
    left = CLOSED | {"brine.ingredient.2.what": "no more", "freshen.1": "no", "rest": "no"}
    del left["brine"]
    more = "", "only 6 hours in the brine, and some of the pieces are 3/8 inch", "I guess 4 hours in the brine", ""
    salted["keep"] = {"place": "cupboard", "wanted_days": 60}
    story, said = talk(salted, *more, left=left)
    assert story.get("brine.time") == "6 hours" and story.get("cut.thickest") == "3/8 inch"
    assert "I read: time: 6 hours; thickest: 3/8 inch." in said
    assert "Type the number of the line that is wrong, 1 to" in said  # to what is only guessed


def test_who_has_not_gutted_it_yet_is_told_to_do_it_now_and_has_to_agree(talk):
    fish = {key: told for key, told in FISH.items() if key != "gutted"}
    story, said = talk({"fish": fish}, "not yet, do I have to do that today?", "")
    assert "Gut it now" in said and "Will you do it so: gutted at once" in said and story.get("fish.gutted") is True
    story, said = talk({"fish": fish}, "not yet, do I have to do that today?", "no", "no")
    assert story.get("fish.gutted") is False


def test_a_question_beside_an_answer_leaves_the_answer_to_be_confirmed(talk):
    story, said = talk({"fish": FISH, "cut": {"form": "strips", "thickness": "6 mm"}}, "on, is that easier?", "")
    assert "I read: one side. Right?" in said and story.get("cut.skin") == "one side"


def test_what_goes_in_too_is_put_behind_the_list_that_was_offered(talk):
    begun = READY | {"brine": {"method": "wet", "time": "12 h", "temperature": "4 °C"}}
    listed = "1 cup soy sauce, two or three heaped spoons of brown sugar"
    story, said = talk(begun, listed, "yes but the vinegar too, about two tablespoons")
    assert "I read: soy sauce, 1 cup; brown sugar" in said
    assert [row["what"] for row in story.get("brine.ingredient")] == ["soy sauce", "brown sugar", "vinegar"]
    story, _ = talk(begun, listed, "yes but less soy sauce")
    assert not story.get("brine.ingredient")


def test_what_is_said_beside_the_skin_is_not_dropped_where_it_is_about_the_skin(talk):
    for answer in ("skin off, 3 of them still have it on", "skin's off but 2 in the bag have it on"):
        story, _ = talk({"fish": FISH, "cut": {"form": "strips", "thickness": "6 mm"}}, answer)
        assert story.get("cut.skin") != "off", answer


def test_a_yes_with_more_settles_nothing_that_decides_a_verdict(talk):
    fish = {key: told for key, told in FISH.items() if key != "smells_normal"}
    story, _ = talk({"fish": fish}, "it did that night", "yes, partly")
    assert story.get("fish.smells_normal") is None
    story, _ = talk(
        {"fish": {key: told for key, told in FISH.items() if key != "gutted"}}, "I'll do it after it is dry"
    )
    assert story.get("fish.gutted") is not True


def test_of_two_numbers_of_the_damp_none_is_taken_in_passing(talk):
    story, _ = talk(READY | {"dryer": DRYER}, "65 degrees, 60 or 50 percent", left=CLOSED)
    assert story.get("room.relative_humidity") is None


def test_how_cold_a_place_was_is_no_number_of_hours(talk):
    story = {"fish": {key: value for key, value in FISH.items() if not key.startswith("hours")}}
    _, said = talk(story, "half an hour on the bank at 15 degrees, then overnight in the fridge at 5")
    assert "12.5 h" in said and "5 hour" not in said.replace("12.5 hour", "") and "17.5" not in said


def test_a_guess_of_the_heater_is_asked_back():
    story = Story({"dryer": {"temperature": "70 °C", "trays": 6}})
    guesses = ("maybe 600?", "No idea, some 3 kilowatt for the whole oven I think")
    sure = {said: heard(story, question_at("dryer.heater"), said).readings[0].sure for said in ("600", *guesses)}
    assert sure == {"600": True} | dict.fromkeys(guesses, False)


@pytest.mark.parametrize(
    "answer", ["2250 g whole", "12 fish, 300 g each whole", "2250 g but that's with heads and guts", "2 kg, not gutted"]
)
def test_the_weight_of_whole_fish_is_not_taken_for_that_of_cut_fish(talk, answer):
    story = {"fish": {key: value for key, value in FISH.items() if key != "raw_weight"}}
    told, said = talk(story, answer, "1100 g")
    assert "a third to a half of it" in said and told.get("fish.raw_weight") == "1100 g"


@pytest.mark.parametrize(
    "answer", ["2 kg, the whole lot", "2 kg of fillets from whole fish", "2 kg gutted and trimmed"]
)
def test_a_weight_of_cut_fish_is_taken(talk, answer):
    story = {"fish": {key: value for key, value in FISH.items() if key != "raw_weight"}}
    _, said = talk(story, answer)
    assert "a third to a half of it" not in said and "2 kg" in said.partition("I read")[2]


NO_NUMBER_ON_IT = (
    "old dehydrator, four round trays, switch low medium high, no degrees on it. I'd take medium",
    "I do have a dryer, it just has no degrees. how warm is medium?",
    "I can't set 70, only low medium high. I could stick my meat thermometer in it?",
    "no! I don't know how hot it gets",
    "well, then I put it on high and check with the thermometer",
)


def test_a_dial_without_degrees_is_measured_first_and_no_number_is_offered(talk):
    story, said = talk(READY, *NO_NUMBER_ON_IT, "what do I pick?", "", "", left=CLOSED)
    for never in ("No dryer?", "Will you do it so", "Not taken", "cannot read", "°F. Right?"):
        assert never not in said
    assert said.count("Run it empty for half an hour") == 6 and said.count("type: flakeyard begin mine.toml") == 1
    assert story.left["dryer.temperature"] == NOT_KNOWN and story.get("dryer.trays") == 4
    assert say("ask.no_degrees") == still_unmeasured(story, question_at("dryer.temperature"))
    story, _ = talk(story.typed, "58 °C", left=CLOSED)  # measured
    assert story.get("dryer.temperature") == "58 °C"


def test_what_cannot_be_set_is_never_read_as_the_setting(talk):
    for refusal in ("I can't set 70", "it won't do 70", "no, it doesn't go over 60"):
        story, said = talk(READY, "what should it be?", refusal, left=CLOSED)
        assert "Will you do it so: 158 °F?" in said and said.endswith("(Enter: not known) >"), refusal
        assert story.get("dryer.temperature") is None and say("ask.no_such_setting") in said
    assert talk(READY, "I can't set it above 160, I use 150", left=CLOSED)[0].get("dryer.temperature") == "150 °F"


@pytest.mark.parametrize(
    ("said", "word"),
    [
        *((one, True) for one in NO_NUMBER_ON_IT), ("low/med/high", True), ("4 trays 30 cm round, low medium high", True), ("setting 6 of 10", True), ("on medium my thermometer shows 58 °c", False),
        ("it has no degrees, but a thermometer on the middle tray showed 61", False), ("hung low in the shed", False), ("how hot should it be?", False), ("goes from 40 to 70, no idea how hot it is", False),
    ],
)  # fmt: skip
def test_which_answers_tell_of_a_dial_without_degrees(said, word):
    assert has_no_degrees(said.casefold()) == word


def test_what_is_only_refused_and_the_top_of_a_dial():
    assert only_refused("i can't set it to seventy") and not only_refused("can't get to 70, max is 60")
    story, asked = Story(READY), question_at("dryer.temperature")
    tops = {
        "can't get to 150, max is 140": "140 °F",
        "it doesn't go over 140": "140 °F",
        "dial goes to 160, I'd set it to 155": "160 °F",
    }
    assert {said: end_of_the_dial(story, asked, said) for said in tops} == tops


@pytest.mark.parametrize(
    "answer", ["five-tray square dehydrator with a fan, dial goes to 160, I'd set it to 155", "155, five trays, a fan"]
)
def test_the_top_of_a_dial_is_not_the_setting_in_a_long_answer(talk, answer):
    story, _ = talk(READY, answer, "", left=CLOSED)
    assert story.typed["dryer"] == {"temperature": "155 °F", "trays": 5, "moving": "fan"}


def test_one_kind_is_planned_at_a_time_and_its_own_weight_is_asked(talk):
    story, said = talk({}, "five perch and one pike, in a cool box", "both", "2", "about a kilo of meat I guess, pike and perch together", "")  # fmt: skip
    assert said.count("flakeyard begin another-fish. Which is first? 1: perch; 2: pike.") == 2
    assert say("weight.of_more", fish="pike") in said and story.get("fish.raw_weight") == "1 kilo"
    assert "another-fish" not in talk({}, "perch or pike")[1]
    assert "alone" not in talk({"fish": {"species": "pike"}}, "1 kg pike")[1]


@pytest.mark.parametrize(
    ("answer", "hours"),
    [("6 hours in the cool box with two ice packs, half an hour in the fridge", ["6.5 h", "6 hours", "1/2 hour"]), ("3 hours with 3 bottles of ice", ["3 hours"]), ("3 ice then 2 fridge", ["5 h", "3", "2"])],
)  # fmt: skip
def test_things_that_are_counted_are_no_hours(answer, hours):
    found = heard(Story({"fish": {"species": "pike"}}), question_at("fish.hours_above_4c"), answer).readings
    assert [one.told[0][1] for one in found] == hours


def test_why_it_is_asked_whether_all_is_gutted_and_fillets_are(talk):
    open_now = {"fish": {key: one for key, one in FISH.items() if key != "gutted"}}
    story, said = talk(open_now, "yes, perch at the water right away, the pike only at home half an hour ago", "")
    assert say("ask.all_gutted") in said and story.left["fish.gutted"] == NOT_KNOWN
    story, said = talk(open_now, "they're fillets, so yes I guess", "")
    assert "I read: yes. Right?" in said and story.get("fish.gutted") is True
    assert "I read: yes. Right?" not in talk(open_now, "they're fillets I think, but not all")[1]


def test_it_is_asked_whether_few_warm_hours_were_very_warm(talk):
    open_now = {"fish": {key: one for key, one in FISH.items() if not key.startswith("hours")}}
    story, said = talk(open_now, "half an hour", "none of it was above 21")
    assert "How many of these hours above 21 °C" in said and story.get("fish.hours_above_21c") == 0


@pytest.mark.parametrize(
    ("said", "hours"),
    [("1 none of it was above 70", 0), ("none of it above 70 °F", 0), ("it was never above 70", 0), ("0 hours above 70", 0), ("none above 70, I think", None), ("none of it above 70 °C", None), ("not all above 70", None)],
)  # fmt: skip
def test_none_above_the_limit_may_be_said_at_the_end(said, hours):
    story = Story({"fish": {"species": "cod", "hours_above_4c": 0.5, "hours_above_21c": 0.5}})
    found = told_at_the_end(story, said)
    assert (found.put_in(story).get("fish.hours_above_21c") if found else None) == hours


def test_what_is_told_with_the_fish_is_not_asked_again(talk):
    bought = "4 lb farmed rainbow trout fillets, skin on, from the store two days ago, in my fridge since"
    story, said = talk({}, bought, "")
    assert story.get("fish.origin") == "farmed" and story.get("fish.raw_weight") == "4 lb"
    assert story.get("fish.gutted") is True and story.get("cut.skin") == "one side"
    story, said = talk({}, "4 lb farmed rainbow trout fillets, fresh", "0", "yes", "")
    assert "How do you cut it? I read: fillets. Right?" in said and story.get("cut.form") == "fillets"
    assert "Also read" not in talk({}, "farmed trout fillets I think", "")[1]
    for unclear in ("cod, gutted, some not, in my fridge since", "cod, skin off, some still on, in my fridge since"):
        told = talk({}, unclear)[0]
        assert told.get("fish.gutted") is None and told.get("cut.skin") is None, unclear


def test_the_middle_of_a_heating_told_with_its_step_is_not_lost(talk):
    told = "heating, I steam it until the middle is 160, I have a probe thermometer"
    story, _ = talk(READY, told, left={"brine": "no"})
    assert story.typed["heat"] == {"core": "160 °F", "checked": "probe"}
    story, _ = talk(READY, told.replace("middle", "middle of the oven"), left={"brine": "no"})
    assert "core" not in story.typed["heat"]


def test_a_thickness_told_after_a_heating_is_kept_and_the_order_is_said(talk):
    story, said = talk({"fish": US}, "steam it first in the fillets, then cut them about a quarter inch thick, skin is still on now")  # fmt: skip
    assert story.typed["cut"] == {"form": "fillets", "thickness": "1/4 inch", "skin": "one side"}
    assert say("cut.before_heat") in said and say("cut.before_heat") not in talk({"fish": US}, "strips, 1/4 inch")[1]


def test_skin_on_one_of_two_kinds_counts_as_on(talk):
    story, _ = talk({"fish": FISH, "cut": CUT | {"thickness": "8 mm"}}, "pike off, perch I'd leave it on", "")
    assert story.get("cut.skin") == "one side"
