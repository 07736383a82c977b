"""Who asks at the end about the work itself is answered with the numbers of the plan, and plan and steps say the same number."""

import functools

import pytest

from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.plan import mending
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook import begin_ending, words
from flakeyard.workbook.ending_asked import Said, answers
from flakeyard.workbook.in_order import in_order
from flakeyard.workbook.near_limit import at_limit
from flakeyard.workbook.paper import kitchen

TROUT = {  # granted with a few minutes to spare
    "fish": {"species": "farmed rainbow trout", "raw_weight": "4 pounds", "stock": "fresh", "origin": "farmed", "gutted": True, "hours_above_4c": 0.5, "hours_above_21c": 0, "smells_normal": True},
    "cut": {"form": "strips", "thickness": "7/32 in", "thinnest": "3/16 in", "thickest": "1/4 in", "skin": "off"},
    "brine": {"method": "wet", "time": "12 h", "temperature": "38 °F", "ingredient": [{"what": "water", "amount": "2 quarts"}, {"what": "kosher salt", "amount": "1 cup"}, {"what": "maple syrup", "amount": "1 cup"}]},
    "heat": {"core": "160 °F", "hold": "1 minute", "checked": "probe", "to_tray": "20 minutes"},
    "dryer": {"temperature": "158 °F", "trays": 5, "tray_area": "13 x 13 in", "faces": 2, "heater": "400 W", "moving": "fan"},
    "room": {"temperature": "70 °F"},
    "keep": {"place": "refrigerator", "pack": "vacuum pouch", "wanted_days": 21},
}  # fmt: skip
WARM = TROUT | {"fish": TROUT["fish"] | {"species": "northern pike", "origin": "wild", "hours_above_4c": 6.5}}


@functools.cache
def of(kind: str):
    typed = {"granted": TROUT, "hotter": TROUT | {"dryer": TROUT["dryer"] | {"temperature": "167 °F"}}, "refused": WARM}
    outcome = plan(read_batch(typed[kind]), 100)
    assert words.refused(outcome.verdict) == (kind == "refused")
    return outcome


def told(wish: str, kind: str = "granted") -> str:
    return " ".join(answers(wish, Said(of(kind)), "us"))


def test_plan_and_steps_say_one_heat_and_it_is_the_one_that_was_told():
    text = " ".join(kitchen.kitchen(of("granted"), "us").split())
    steps = "; ".join(in_order(of("granted"), "us").steps)
    assert "shows 160 °F for 1 minute (better 165 °F, as a probe may be off)" in text
    assert "is at 160 °F for 1 min (better 165 °F, as a probe may be off)" in words.in_system(steps, "us")
    hot = TROUT | {"heat": TROUT["heat"] | {"core": "167 °F"}}
    assert "better" not in "; ".join(in_order(plan(read_batch(hot), 20), "us").steps)


def test_a_heating_that_does_not_count_is_never_shown_cooler_than_one_that_does():
    short = TROUT | {"heat": TROUT["heat"] | {"core": "150 °F"}}
    assert "165 °F" in words.in_system(kitchen.heat(plan(read_batch(short), 20), "us"), "us")


def test_the_pieces_even_out_between_the_weight_to_stop_at_and_the_pack():
    steps = in_order(of("granted"), "us").steps
    (row,) = [n for n, one in enumerate(steps) if "even out before packing" in one]
    assert "days. Drops inside" in steps[row] and steps[row - 1].startswith("stop when") and "pack it" in steps[row + 1]


def test_each_weighing_of_the_plan_says_what_it_is_for():
    text = " ".join(kitchen.kitchen(of("granted"), "us").split())
    assert "For the weight to stop at, look first after" in text
    assert "weigh the marked piece after" not in text or "Only to know the hours better, weigh" in text


def test_a_plan_at_its_limit_says_so_beneath_its_verdict_and_before_the_prompt():
    near = at_limit(of("granted"))
    assert near and near.share > 0.9 and at_limit(of("hotter")) is None and at_limit(of("refused")) is None
    second = [line for line in begin_ending.ending(of("granted"), "us") if line][1]
    assert second.startswith("At its limit: heated, moist and lukewarm, up to") and "thinner pieces" in second
    assert "At its limit: " in begin_ending.in_short(of("granted"), "us")
    assert "At its limit" not in begin_ending.in_short(of("hotter"), "us")


@pytest.mark.parametrize(
    ("wish", "part"),
    [
        ("how do I know when it's dry?", "the marked piece is down to 45 % of its weight as laid"),
        ("what should they write down while it's drying?", "the time, the weight of the marked piece, and what happened"),
        ("what can a student do wrong with this?", "the probe in the middle shows 160 °F for 1 min; on the trays within 20"),
        ("why do I have to cut it before I steam it? I wanted to steam the fillets whole and then cut", "cuts first"),
        ("what if I don't get it dry in 6 hours?", "Past 6 h of them it must not be kept and must not be eaten"),
        ("what if I don't get it in 6 hours, lukewarm, what do I do then", "For fish that is taken off before it is dry"),
        ("my dial only says 155 and 160, is 160 ok?", "160 °F is no cooler than the 158 °F"),
        ("is 150 on the dial ok", "No: 150 °F is cooler"),
        ("is 175 on the dial ok", "Not known: drying was tested up to 167 °F only"),
        ("And the perch?", "nothing here holds for another fish"),
        ("I'd steam it 3 minutes first and then dry it on high, would that do?", "Minutes are no heating that counts"),
        ("who must not eat it?", "Fish is a major allergen"),
        ("can the jar stand in the pantry all winter?", "No, not in the cupboard as planned."),
        ("is low, medium or high right on my dryer?", "are no degrees"),
        ("should I steam the strips first? How hot and how long?", "165 °F held for 15 seconds"),
    ],
)  # fmt: skip
def test_questions_about_the_work_are_answered_from_the_plan(wish, part):
    assert part in told(wish) and "of old" not in told(wish)


def test_who_asks_about_the_fish_of_the_batch_is_not_sent_to_another_file():
    assert "another fish" not in told("and the trout?") and "of farmed rainbow trout alone" in told("and the perch?")


@pytest.mark.parametrize(
    "wish", ["how do I know when it's dry?", "what can go wrong?", "what if it is not dry in time?"]
)
def test_where_nothing_is_granted_no_weight_and_no_number_of_the_plan_is_told(wish):
    assert told(wish, "refused").startswith("As planned it is for nobody to eat") and "45 %" not in told(
        wish, "refused"
    )


def test_worms_are_answered_by_the_rule_where_a_plan_is_denied():
    said = told("Can I get rid of the worms in my own freezer, how long?", "refused")
    assert "-4 °F or colder for 7 days" in said.replace("−", "-") and "parasites alone" in said


def test_a_late_gutting_is_answered_with_the_hours_that_count():
    wish = "So is the pike already spoiled because I gutted it late?"
    assert "6.5 h, and the limit is 4 h. That is past it: do not eat it" in told(wish, "refused")
    assert "0.5 h" in told(wish) and "past it" not in told(wish)


def test_no_sodium_of_a_serving_is_told_of_fish_that_is_served_to_nobody():
    assert "mg of sodium" in told("how salty is it?") and "mg of sodium" not in told("how salty is it?", "refused")
    assert "mg of sodium" not in told("may my grandson eat it?", "refused")


def test_the_plan_of_fish_that_was_warm_too_long_before_offers_no_way_out_of_it():
    text = " ".join(kitchen.kitchen(of("refused"), "metric").split())
    assert "for 6.5 h before anything is done with it; the limit is 4 h." in text
    assert "No change of the plan mends that." in text and "WAY OUT: Heat the fish before it dries" not in text


def test_an_amount_that_a_change_tells_can_be_read_where_the_decimal_sign_is_a_comma(monkeypatch):
    """A sixteenth of half a cup, "5,545 mL", was refused as thousands or decimals, and the ending with it."""
    monkeypatch.setattr(mending, "point", lambda: ",")
    monkeypatch.setattr(mending, "show", lambda *_amount, **_how: "5,545 mL")
    assert mending._amount("volume", 5.545e-6, False) == "5.545 mL"
