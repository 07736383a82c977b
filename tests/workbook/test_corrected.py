"""What is typed again after an offer and mends a part of it: the rest stays."""

import pytest

from flakeyard.workbook.asking import question_at
from flakeyard.workbook.corrected import WEIGHT, corrected
from flakeyard.workbook.meant import Reading
from flakeyard.workbook.so_far import Story

US = Story({"fish": {"species": "tilapia", "raw_weight": "1.4 lb"}})
FISH = (("fish.species", "tilapia"), (WEIGHT, "4 lbs"), ("fish.gutted", "yes"))


@pytest.mark.parametrize(
    ("text", "mends"),
    [
        ("the 4 lbs was the whole fish before I cut them up", True), ("I weighed them whole, 4 lb", True), ("the whole lot is 5 lb", False),
        ("no, it's whole trout, 4 lb", False), ("they were whole", False), ("pufferfish, 4 lb whole", False),
    ],
)  # fmt: skip
def test_a_weight_of_the_whole_fish_is_forgotten_and_the_fish_kept(text, mends):
    found = corrected(Story(), question_at("fish.species"), (Reading(FISH, "tilapia"),), text)
    assert bool(found) == mends
    if found:
        assert dict(found.told) == {"fish.species": "tilapia", "fish.gutted": "yes"} and not found.sure
    without = Reading((FISH[0], FISH[2]), "tilapia")
    assert corrected(Story(), question_at("fish.species"), (without,), text) is None


@pytest.mark.parametrize(
    ("text", "thickest"),
    [
        ("up to 3/8 in the thick ones", "3/8 in"), ("1/2 in at the thickest", "1/2 in"), ("3/16 at the thickest", ""), ("3/8 in", ""),
        ("all 3/8 in, also the thick ones", ""), ("1/4 to 3/8 in the thick ones", ""),
    ],
)  # fmt: skip
def test_the_thickest_is_told_beside_the_usual_piece(text, thickest):
    question = question_at("cut.thickness")
    offered = (Reading(((question.place, "about 1/4 in"),), "about 1/4 in"),)
    found = corrected(US, question, offered, text)
    told = {question.place: "about 1/4 in", "cut.thickest": thickest}
    assert (dict(found.told) if found else {}) == (told if thickest else {})
    assert corrected(US, question, offered * 2, text) is None
