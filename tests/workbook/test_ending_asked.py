"""Who asks something at the end is answered from the plan and its rules, never milder than they are."""

import functools
import itertools
from dataclasses import replace

import pytest
from test_why_days import COD

from flakeyard import limits
from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.plan.plan import plan, salt_of
from flakeyard.workbook import cupboard_takes, ending_asked, words
from flakeyard.workbook.ending_asked import Said, answers

COLD = {"keep": {"place": "refrigerator", "pack": "glass jar"}}
RAW = {name: one for name, one in COD.items() if name != "heat"} | {"fish": COD["fish"] | {"origin": "wild"}}
OFFERED = {
    "1": (("heat.core", "75 °C"), ("dryer.temperature", "75 °C")),
    "2": (("fish.stock", "frozen"), ("dryer.temperature", "70 °C")),
}


@pytest.fixture(autouse=True)
def few_members(monkeypatch):
    monkeypatch.setattr(ending_asked, "plan", functools.partial(plan, members=40))


@functools.cache
def of(kind: str) -> Said:
    """An ending of a batch that is granted a cupboard, one granted the refrigerator, and one that is refused."""
    outcome = plan(read_batch({"dry": COD, "moist": COD | COLD, "refused": RAW}[kind]), 40)
    assert words.refused(outcome.verdict) == (kind == "refused")
    return Said(outcome, (), (), OFFERED if kind == "refused" else {})


def told(wish: str, kind: str = "dry") -> str:
    return " ".join(answers(wish, of(kind), "metric"))


def test_less_salt_is_answered_with_what_was_found_or_why_nothing_was_looked_for():
    found = replace(of("dry"), salt=("1: or, so that it is less salty: soak it",))
    assert answers("can it be less salty?", found, "metric") == list(found.salt)
    assert "Less was not looked for" in told("can it be less salty?")
    later = told("is there a way with less salt", "refused")
    assert "once a plan is granted" in later and "not looked for" not in later


def test_how_salty_it_is_comes_from_the_plan():
    said, outcome = told("how salty is it?"), of("dry").outcome
    assert (
        f"about {100 * salt_of(outcome.load):.0f} % salt" in said and "mg of sodium; adults: at most 2,300 mg" in said
    )


@pytest.mark.parametrize(
    "who", ["my kids", "a pregnant woman", "my old mother", "somebody with high blood pressure", "a baby"]
)
@pytest.mark.parametrize("kind", ["dry", "moist", "refused"])
def test_who_asks_for_somebody_is_told_the_caution_of_the_rules_and_nothing_milder(who, kind):
    said = told(f"can {who} eat it?", kind)
    (caution,) = [one.text for one in of(kind).outcome.verdict.cautions if one.rule == "H1"]
    assert caution in said and "no rule here knows: ask a doctor" in said and "safe" not in said
    assert ("for nobody to eat" in said) == (kind == "refused")
    salt = who in ("my kids", "somebody with high blood pressure", "a baby") and kind != "refused"  # served to nobody
    assert ("mg of sodium" in said) == salt


def test_who_asks_of_an_allergy_is_told_that_fish_is_an_allergen():
    assert "major allergen" in told("my son is allergic to shellfish") and "allergen" not in told("is it for kids")
    assert told("how salty, with her blood pressure?").count("mg of sodium") == 1


@pytest.mark.parametrize(
    "wish", ["how long does it keep in a backpack?", "and out of the fridge?", "can I leave it out", "on the shelf?"]
)
def test_out_of_the_cold_counts_as_the_cupboard_or_as_nothing(wish):
    days = of("dry").outcome.keep.days
    assert f"as in the cupboard: {days} days at most in all" in told(wish) and "there is not known" in told(wish)
    assert "is not known. Treat that as not at all" in told(wish, "moist") and "days at most" not in told(wish, "moist")
    assert "for nobody to eat" in told(wish, "refused") and "days at most" not in told(wish, "refused")


def test_how_long_it_keeps_is_what_the_plan_grants():
    assert f"{of('dry').outcome.keep.days} days at most" in told("how long will it keep?")
    assert told("how long will it keep?", "refused").startswith("As planned it is for nobody")
    unknown = of("moist").outcome
    unknown = Said(replace(unknown, keep=replace(unknown.keep, days=None)))
    assert answers("how long does it last?", unknown, "metric") == ["How long it keeps is not known."]


def test_who_asks_whether_it_must_be_heated_is_told_what_comes_of_it_without(monkeypatch):
    verdict = []
    monkeypatch.setattr(ending_asked, "plan", lambda batch: verdict.append((batch, plan(batch, 40))) or verdict[-1][1])
    said = told("do I really have to cook it first?")
    ((batch, raw),) = verdict
    assert batch.heat is None and batch.cut == of("dry").outcome.batch.cut
    assert said.startswith("Without the heating, and with all else the same: ") and ending_asked._headline(raw) in said
    assert "Without heating it first: change 2." in told("must I heat it?", "refused") and len(verdict) == 1
    nothing = replace(of("refused"), offered={"1": OFFERED["1"]})
    assert "No change that is offered here does without it" in " ".join(answers("must I heat it?", nothing, "metric"))


def test_a_heating_that_is_told_stays_in_every_change_that_does_not_take_it_out():
    heated = replace(of("refused").outcome, batch=read_batch(COD))
    said = answers("do I have to cook it?", Said(heated, (), (), OFFERED), "metric")
    assert "No change that is offered here does without it" in " ".join(said)


@pytest.mark.parametrize(
    "wish",
    ["I've no probe", "i don’t have a thermometer", "can I do it without a probe?", "must I use a thermometer?"],
)
def test_who_has_no_probe_is_told_what_counts_without_one(wish):
    (said,) = answers(wish, of("dry"), "metric")
    assert "Only a probe counts" in said and "judged as raw" in said


@pytest.mark.parametrize(
    ("wish", "marks"),
    [
        ("my dryer only goes to 70", "change 1:"),
        ("the dial ends at 149 f", "change 1 and 2:"),
        ("my oven only does 80 c", ""),
    ],
)
def test_a_dial_that_is_said_to_end_lower_tells_which_changes_are_beyond_it(wish, marks):
    said = told(wish, "refused")
    assert marks in said if marks else said.startswith("The dryer") or said.startswith("No change")


def test_several_questions_are_answered_one_after_the_other_and_no_other():
    said = answers("it's for my kids, can it be less salty? my dryer only goes to 60", of("dry"), "metric")
    assert len(said) == 4 and "Less was not looked for" in said[1] and "kids" not in "".join(said)
    assert "The dryer of this plan is set hotter than 60 °C" in said[3]
    (of_old,) = answers("my grandmother kept hers all winter", of("dry"), "metric")
    assert "of old is not this plan" in of_old
    assert answers("hello", of("dry"), "metric") == answers("", of("dry"), "metric") == []


def test_fish_for_the_cold_is_not_taken_for_that_of_a_cupboard():
    outcome = of("moist").outcome
    wet, dry, unknown = (
        replace(
            outcome,
            facts=replace(outcome.facts, water_activity_cautious=used),
            verdict=replace(outcome.verdict, keep="cold"),
        )
        for used in (limits.MOIST + 0.01, limits.MOIST - 0.01, None)
    )
    said = [
        bool(cupboard_takes.not_for_it(one, before))
        for one, before in itertools.product((wet, dry, unknown), (False, True))
    ]
    assert said == [True, True, False, True, True, True]
    assert "it is for the refrigerator" in cupboard_takes.not_for_it(wet, False)
    assert not cupboard_takes.not_for_it(of("dry").outcome, True)


@pytest.mark.parametrize(
    ("wish", "kind", "said"),
    [
        ("what's the freezer good for, two months?", "moist", "Granted: the freezer, "),
        ("would the fridge do?", "moist", "Granted: the refrigerator, "),
        ("would the fridge do?", "refused", "for nobody to eat"),
        ("what is poison of germs, doesn't cooking kill it?", "dry", "neither poison is undone by cooking"),
        ("is the salt enough?", "dry", "No rule here asks for a least amount of salt"),
        ("is 165 all right?", "dry", "this plan counts it at 75 °C"),
        ("why does it dry 30 hours?", "refused", "twice as thick takes up to four times as long"),
        ("why 54 hours?", "refused", "at the slow end of what is likely"),
        ("the old-timers kept it all winter", "dry", "no guidance was found that lets a larder keep fish for months"),
        ("how do I heat it to 167?", "dry", "by steam on a rack"),
    ],
)
def test_what_testers_asked_is_answered(wish, kind, said):
    answered = told(wish, kind)
    assert said in answered and "safe" not in answered and answered.count(said) == 1


def test_a_question_about_heating_is_not_taken_for_one_whether_to_heat():
    assert "Without the heating" not in told("how do I heat it to 167?")


def test_a_place_that_is_granted_says_how_it_may_be_eaten_and_none_else_is_named():
    eaten = of("moist").outcome
    said = told("the freezer?", "moist")
    assert said.count("ready to eat") == said.count("Granted: ") and "cupboard" not in said
    nothing = Said(replace(eaten, verdict=replace(eaten.verdict, keep="nowhere")))
    assert "Granted" not in " ".join(answers("the freezer?", nothing, "metric"))
