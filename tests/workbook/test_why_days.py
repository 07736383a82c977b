"""Why fish keeps no longer: the reason is that of the row or clock that made the number, and is given to who asks."""

import functools
from dataclasses import replace

import pytest

from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.judge import storing
from flakeyard.steps.plan.plan import plan
from flakeyard.steps.plan.ways import longest, ways
from flakeyard.workbook import begin_ending, why_days
from flakeyard.workbook.ending_asked import Said, answers

COD = {
    "fish": {"species": "Atlantic cod", "raw_weight": "0.3 kg", "origin": "farmed", "stock": "fresh", "gutted": True, "hours_above_4c": 0, "hours_above_21c": 0, "smells_normal": True},
    "cut": {"form": "strips", "thickness": "3 mm", "skin": "off"},
    "heat": {"core": "75 °C", "hold": "1 min", "checked": "probe", "to_tray": "5 min"},
    "dryer": {"temperature": "75 °C", "trays": 6, "tray_area": "40 x 50 cm", "faces": 2, "heater": "1500 W", "moving": "fan"},
    "room": {"temperature": "20 °C", "relative_humidity": 40},
    "keep": {"place": "cupboard", "pack": "glass jar"},
}  # fmt: skip
SALTED = {"method": "dry", "time": "48 h", "temperature": "4 °C", "ingredient": [{"what": "salt", "amount": "240 g"}]}
GRANTED = [
    ({}, 14, "guidance gives meat dried at home about 2 weeks"),
    ({"fish": {"species": "channel catfish, farmed"}}, 7, "raw, it has 5 % fat or more"),
    ({"brine": SALTED}, 7, "pink bacteria of salt fish"),
    ({"keep": {"place": "refrigerator"}}, None, "the shorter counts"),
    ({"keep": {"place": "freezer"}}, None, "months"),
]


@functools.cache
def outcome_of(row: int):
    return plan(read_batch(COD | {name: COD.get(name, {}) | one for name, one in GRANTED[row][0].items()}), 40)


@pytest.mark.parametrize("row", range(len(GRANTED)))
def test_an_ending_says_why_it_keeps_no_longer_and_where_it_would(row):
    outcome, (_, days, reason) = outcome_of(row), GRANTED[row]
    said = [one for one in begin_ending.ending(outcome, "metric") if isinstance(one, str)]
    (line,) = [one for one in said if one.startswith("Why ")]
    assert line.startswith(f"Why {outcome.keep.days} days in the {outcome.keep.place}: ") and reason in line
    assert days is None or outcome.keep.days == days
    best = longest(outcome, ways(outcome))
    assert best is not None
    assert ("Longer by the same rules" in line) == (best.days is not None and best.days > outcome.keep.days)


def test_no_reason_is_given_where_it_keeps_as_long_as_was_wished():
    outcome = outcome_of(0)
    for wanted, told in ((14, False), (15, True), (None, True)):
        other = replace(outcome, batch=replace(outcome.batch, keep=replace(outcome.batch.keep, wanted_days=wanted)))
        assert any("Why 14 days" in one for one in begin_ending.ending(other) if isinstance(one, str)) == told


def test_each_row_of_the_guidance_and_each_clock_has_its_own_words():
    outcome, said = outcome_of(0), set()
    unknown = replace(outcome, facts=replace(outcome.facts, fat_raw=None))
    for cap in storing.caps():
        for batch in (outcome, unknown):
            until = storing.Keeping(7, "official_cap", cap.place, {}, "", (), cap=cap)
            said.add(why_days.why(batch, until, None).because)
    untold = replace(outcome, batch=replace(outcome.batch, room=replace(outcome.batch.room, temperature=None)))
    for clock in ("mould", "rancidity"):
        until = storing.Keeping(7, clock, "cupboard", {}, "", (), cap=storing.caps()[0])
        told = why_days.why(untold, until, None).because
        assert "the room is not told in full, so 25 °C" in told and "40 % humidity" in told
        said.add(told)
    assert len(said) == 11


def test_a_pack_without_air_is_offered_where_rancid_fat_decides():
    outcome = outcome_of(1)
    rancid = replace(outcome, keep=replace(outcome.keep, limited_by="rancidity", days=3))
    vacuum = longest(rancid, ())
    assert (vacuum.place, vacuum.pack) == ("cupboard", "vacuum bag")
    assert "vacuum pouch" in why_days.why(rancid, rancid.keep, vacuum).words and longest(outcome, ()) is None


@pytest.mark.parametrize(
    ("wish", "which"),
    [
        ("why only 7 days?", "7"), ("Why 7 days only? Old people kept salt cod all winter", "7"), ("why so short?", "7 90"), ("how can it keep longer?", "7 90"),
        ("how come just a week", "7 90"), ("why 90 days", "90"), ("why?", ""), ("2", ""), ("why not the oven?", ""), ("not so long please", ""),
    ],
)  # fmt: skip
def test_who_asks_why_it_keeps_no_longer_is_told(wish, which):
    told = [None, why_days.Why(7, "7", ""), why_days.Why(7, "7", "more"), why_days.Why(90, "90", "")]
    assert " ".join(why_days.answer(wish.casefold(), told)) == which


def test_the_prompt_of_an_ending_answers_with_the_reason_and_asks_on():
    said, left = [], iter(["why only 14 days?", ""])
    one = begin_ending.Choice("do so", (), why_days.why(outcome_of(0), outcome_of(0).keep, None))
    reasons = functools.partial(answers, said=Said(outcome_of(0), (one.why,)), system="metric")
    assert begin_ending._chosen({"1": one}, said.append, lambda _prompt: next(left), reasons) is None
    assert len(said) == 1 and "Why 14 days in the cupboard" in said[0]
