"""A batch told by halves: what is missing is borrowed and named, what is wrong is told, and nothing told is changed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.intent.fields import FIELDS
from flakeyard.steps.intent.partial import borrowed_words, filled
from flakeyard.units import InputError
from flakeyard.workbook.own import demo_batch

HERON, OTTER = demo_batch("heron"), demo_batch("otter")
WHOLE = OTTER.typed | {"rest": {"time": "12 h", "temperature": "3 °C"}}


@pytest.mark.parametrize(
    ("told", "borrowed", "words"),
    [
        ({"heat": {"checked": "probe"}}, "heat.core", "heat core"),
        ({"heat": {}}, "heat.core", "heat core"),
        ({"rest": {"time": "2 h"}}, "rest.temperature", "rest temperature"),
        ({"brine": {"method": "dry"}}, "brine.ingredient brine.time brine.temperature", "brine ingredient"),
        ({"brine": WHOLE["brine"] | {"ingredient": [{"what": "honey"}]}}, "brine.ingredient.1.amount", "brine ingredient amount"),
        ({"brine": WHOLE["brine"] | {"ingredient": []}}, "brine.ingredient", "brine ingredient"),
        ({"freshen": [{"water": "3 L"}]}, "freshen.1.time freshen.1.temperature", "freshen time, freshen temperature"),
        ({"presoak": {"time": "1 h", "temperature": "3 °C"}}, "presoak.ingredient", "presoak ingredient"),
    ],
)  # fmt: skip
def test_a_section_that_was_begun_is_borrowed_to_its_end(told, borrowed, words):
    batch = filled(WHOLE | told, HERON)
    assert batch.borrowed == tuple(borrowed.split()) and words in borrowed_words(batch)


def test_a_whole_batch_borrows_nothing():
    batch = filled(WHOLE, HERON)
    assert batch.borrowed == () and batch == read_batch(WHOLE)


@pytest.mark.parametrize("told", [{"cut": {"thinnest": "9 mm"}}, {"cut": {"thickest": "4 mm"}},
                                  {"heat": {"weight_after": "300 g", "core": "74 °C"}}])  # fmt: skip
def test_what_is_borrowed_goes_together_with_what_is_told(told):
    batch = filled(told, HERON)
    thin, usual, thick = batch.cut.sizes
    assert thin <= usual <= thick and {"cut.thickness", "fish.raw_weight"} <= set(batch.borrowed)


@pytest.mark.parametrize("told", [{"heat": "hot"}, {"brine": ["salt"]}, {"freshen": {"water": "3 L"}}, {"fish": 3},
                                  {"brine": {"ingredient": "salt"}}, {"freshen": ["3 L"]}])  # fmt: skip
def test_what_is_no_section_is_told(told):
    with pytest.raises(InputError):
        filled(told, HERON)


@given(st.data())
def test_nothing_told_is_changed_and_each_part_taken_out_is_named(data):
    section = data.draw(st.sampled_from(["fish", "cut", "dryer", "brine", "rest", "heat"]))
    keys = data.draw(st.sets(st.sampled_from(sorted(WHOLE[section])), min_size=1))
    told = WHOLE | {section: {key: value for key, value in WHOLE[section].items() if key not in keys}}
    batch = filled(told, HERON)
    for key, value in told[section].items():
        assert batch.typed[section][key] == value
    needed = {key for key in keys if key in ("species", "ingredient") or FIELDS[section][key].needed}
    assert {path.split(".")[1] for path in batch.borrowed} == needed
