"""A story in its file: every key stands there with what is allowed, and what was told or left open is read again."""

import re
import tomllib
from pathlib import Path

import pytest

from flakeyard.steps.intent.batch_file import load_batch, parse_batch, read_batch
from flakeyard.steps.intent.fields import FIELDS, INGREDIENT
from flakeyard.units import InputError, InputErrors
from flakeyard.workbook.asking import next_question
from flakeyard.workbook.keys import keys_page
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.story_file import story_of, text_of
from flakeyard.workbook.telling import tell

ROOT = Path(__file__).parents[2]
ANSWERS = {
    "fish.species": "Atlantic cod", "fish.raw_weight": "2 lb", "cut.thickness": "1/4 in", "presoak": "wet", "presoak.time": "1 h",
    "presoak.temperature": "3 °C", "presoak.ingredient.1.what": "water", "presoak.ingredient.1.amount": "1 L", "brine": "dry",
    "brine.time": "8 h", "brine.temperature": "37 °F", "brine.ingredient.1.what": "table salt", "brine.ingredient.1.amount": "2 oz",
    "brine.ingredient.2.what": "sugar", "brine.ingredient.2.amount": "1 tbsp", "freshen.1": "yes", "freshen.1.water": "2 L",
    "freshen.1.time": "30 min", "freshen.1.temperature": "3 °C", "freshen.2": "yes", "freshen.2.water": "1 L", "freshen.2.time": "1 h",
    "freshen.2.temperature": "3 °C", "heat": "yes", "heat.core": "165 °F", "dryer.temperature": "145 °F", "dryer.trays": "4",
    "dryer.tray_area": "30 x 30 cm", "title": 'A "title" with # and \\ in it',
}  # fmt: skip


@pytest.fixture(scope="module")
def story() -> Story:
    told = Story()
    while question := next_question(told):
        told = tell(told, question, ANSWERS.get(question.place, ""))
    return told


def test_what_was_told_and_left_open_is_read_again(story):
    again = story_of(text_of(story, "mine.toml"), "mine.toml")
    assert again == story and next_question(again) is None


def test_at_every_moment_the_file_can_be_gone_on_with():
    told = Story()
    while question := next_question(told):
        again = story_of(text_of(told, "mine.toml"), "mine.toml")
        assert again.left == told.left and next_question(again) == question
        told = tell(told, question, ANSWERS.get(question.place, ""))


def test_the_file_is_a_batch_file(story):
    assert parse_batch(text_of(story, "mine.toml")) == read_batch(story.typed)


@pytest.mark.parametrize("story_told", [Story(), "story"])
def test_every_key_stands_there_with_what_is_allowed_and_an_example(story_told, request):
    told = request.getfixturevalue(story_told) if isinstance(story_told, str) else story_told
    blocks = re.split(r"\n(?=(?:# )?\[)", text_of(told, "mine.toml"))
    named = {re.match(r"(?:# )?\[*([a-z.]*)", block)[1]: block for block in blocks}
    for section, fields in (*FIELDS.items(), ("brine.ingredient", INGREDIENT)):
        for key, kind in fields.items():
            block = blocks[0] if not section else named[section]
            assert re.search(rf"^(# )?{key} = ", block, re.MULTILINE), (section, key)
            assert kind.allowed in block or (section, key) in (("fish", "species"), ("keep", "pack")) or key == "what"


def test_an_example_without_its_mark_is_a_told_key():
    text = text_of(Story(), "mine.toml")
    assert tomllib.loads(text) == {name: {} for name in ("fish", "cut", "dryer", "room", "keep")}
    told = re.sub(r"(?m)^# (\[|\w+ = )", r"\1", text)
    parse_batch(told.replace("stop_at", "# stop_at"))


def test_a_file_written_by_hand_is_gone_on_with():
    heron = story_of((ROOT / "data_demo" / "heron.toml").read_text(encoding="utf-8"), "heron")
    assert heron.left == {} and next_question(heron).place == "fish.thawed_in_vacuum"
    assert parse_batch(text_of(heron, "heron.toml")) == load_batch(ROOT / "data_demo" / "heron.toml")


def test_a_file_that_cannot_be_read_is_refused_with_all_its_mistakes():
    with pytest.raises(InputErrors) as refused:
        story_of('[fish]\nraw_weight = "3"\norgin = "wild"\n[cut]\nthickness = "6 mm"', "mine")
    assert len(refused.value.mistakes) == 2
    with pytest.raises(InputError, match="not TOML"):
        story_of("[fish", "mine")


# The page of all keys


def test_the_page_of_all_keys_is_what_the_tables_say():
    assert (ROOT / "workbooks" / "keys.md").read_text(encoding="utf-8") == keys_page(), (
        "run: python -m flakeyard.workbook.keys > workbooks/keys.md"
    )


def test_the_page_has_a_line_for_every_key_and_every_cell_is_filled():
    rows = [line.strip("| ").split(" | ") for line in keys_page().splitlines() if line.startswith("| `")]
    keys = sum(map(len, FIELDS.values())) + 2 * len(INGREDIENT)
    assert len(rows) == keys and all(len(row) == 6 and all(row) for row in rows)
    assert "workbooks/keys.md" in (ROOT / "README.md").read_text(encoding="utf-8")
