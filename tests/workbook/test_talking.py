"""One question of the talk in a terminal: what is said to an answer, what Enter means then, and what comes of it."""

import contextlib
import io

import pytest

from flakeyard.workbook import begin
from flakeyard.workbook.asking import next_question
from flakeyard.workbook.grouped import next_asked
from flakeyard.workbook.so_far import Story

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
