"""How warm the refrigerator is, told at another question: what is taken, what has to be said more plainly."""

import pytest

from flakeyard.workbook.asking import question_at
from flakeyard.workbook.fridge_told import fridge_told
from flakeyard.workbook.loosely import heard
from flakeyard.workbook.so_far import Story

ASSUMED = Story({"fish": {"raw_weight": "2 kg"}, "brine": {"method": "wet", "time": "12 h", "temperature": "7 °C"}})
MEASURED = Story({"fish": {"raw_weight": "2 kg"}, "brine": {"method": "wet", "time": "12 h", "temperature": "5 °C"}})
WHAT = question_at("brine.ingredient.1.what")


@pytest.mark.parametrize(
    ("text", "degrees", "unclear", "rest"),
    [
        ("my fridge is 4 °C, not 7", "4 °C", False, ""), ("the fridge's at 10 C", "10 °C", False, ""), ("it's 4 °C in my fridge", "4 °C", False, ""),
        ("1 L water, 50 g salt. my fridge is 4 C by the way", "4 °C", False, "1 l water, 50 g salt"), ("12 h in my fridge which is 4 °C", "4 °C", False, "12 h in my fridge"),
        ("my fridge is 3 to 5 °C", "5 °C", False, ""), ("I think my fridge is 4", "4 °C", True, ""), ("my fridge should be 4 °C", "", False, ""), ("I guess my fridge is 9 °C", "9 °C", False, ""),
        ("fridge isn't 7, it's 4 °C", "4 °C", False, ""), ("my fridge is not 7", "", False, ""), ("in the fridge, 3 cups water", "", False, ""), ("my fridge is set to 3", "", False, ""),
        ("my fridge is on 3", "", False, ""), ("my fridge is 3 days full", "", False, ""), ("my fridge is 40", "", False, ""), ("overnight in the fridge at 4 °C", "", False, ""),
    ],
)  # fmt: skip
def test_what_is_said_of_a_refrigerator(text, degrees, unclear, rest):
    found = fridge_told(ASSUMED, WHAT, (), text)
    assert ((found and (found.degrees, found.unclear, found.rest)) or ("", False, "")) == (degrees, unclear, rest)


def test_what_was_measured_stays():
    found = fridge_told(MEASURED, WHAT, (), "my fridge is 3 °C")
    assert found.put_in(MEASURED).get("brine.temperature") == "5 °C" and found.rest == "my fridge is 3 °C"
    assert fridge_told(MEASURED, WHAT, (), "I think my fridge is 3 °C") is None


def test_a_refrigerator_that_was_told_counts_where_one_is_named_later():
    story = fridge_told(ASSUMED, WHAT, (), "my fridge is 4 °C").put_in(ASSUMED)
    rest = question_at("rest.temperature")
    assert [one.shown for one in heard(story, rest, "in the fridge").readings] == ["4 °C"]
    again = fridge_told(story, WHAT, (), "no wait, my fridge is 6 °C")
    assert again.put_in(story).get("brine.temperature") == "6 °C"


def test_where_its_warmth_is_asked_the_degrees_answer_that_too():
    assert fridge_told(ASSUMED, question_at("rest.temperature"), (), "my fridge is 4 °C, not 7").rest == "4 °C"
