"""The end of a telling: a verdict in few words, changes that can be taken by their number, and each of them as promised."""

import functools
import itertools
import random
from dataclasses import replace
from pathlib import Path

import pytest
from random_batches import odd_typed, random_typed
from test_why_days import COD

from flakeyard import limits
from flakeyard.steps.intent.batch_file import load_batch, read_batch
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.judge.warm_hours import COUNTS, WarmHours
from flakeyard.steps.plan import mending
from flakeyard.steps.plan.next_answer import Fact, NextAnswer
from flakeyard.steps.plan.plan import plan, salt_of
from flakeyard.steps.plan.ways import Way
from flakeyard.units import InputError
from flakeyard.workbook import begin, begin_ending, summing_up, words
from flakeyard.workbook.advised import end_of_the_dial
from flakeyard.workbook.asking import question_at
from flakeyard.workbook.in_order import Under, in_order
from flakeyard.workbook.kept_story import DIAL, beside, changed, to_freeze
from flakeyard.workbook.near_limit import first_limit
from flakeyard.workbook.own import course_folder_without_copying
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.story_file import story_of, text_of

FEW = 60
HERON = course_folder_without_copying() / "data_demo" / "heron.toml"
PIKE = {
    "fish": {"species": "northern pike", "raw_weight": "2 kg", "stock": "fresh", "gutted": True, "hours_above_4c": 2, "hours_above_21c": 0, "smells_normal": True},
    "cut": {"form": "strips", "thickness": "8 mm", "thickest": "10 mm", "skin": "off"},
    "brine": {"method": "dry", "time": "12 h", "temperature": "8 °C", "ingredient": [{"what": "coarse salt", "amount": "80 g"}]},
    "dryer": {"temperature": "60 °C", "trays": 3, "tray_area": "40 x 50 cm", "faces": 2, "heater": "1500 W", "moving": "still"},
    "keep": {"place": "cupboard", "pack": "cloth bag", "wanted_days": 90},
}  # fmt: skip
SALMON = {
    "fish": {"species": "Atlantic salmon, farmed", "raw_weight": "3 lb", "origin": "farmed", "stock": "fresh", "gutted": True, "hours_above_4c": 0.5, "hours_above_21c": 0, "smells_normal": True},
    "cut": {"form": "fillets", "thickness": "3/8 in", "skin": "one side"},
    "dryer": {"temperature": "145 °F", "trays": 5, "tray_area": "12 x 12 in", "heater": "600 W", "moving": "fan"},
    "keep": {"place": "cupboard", "pack": "zip bag"},
}  # fmt: skip
NOTED = Story(PIKE, {"heat": "no", "room.temperature": "not known"}, {"fish.origin": "my own pond"})


@pytest.fixture(autouse=True)
def few_members(monkeypatch, tmp_path):
    monkeypatch.setattr(mending, "MEMBERS", FEW)
    monkeypatch.setattr(mending, "TRIED", FEW)
    monkeypatch.setattr(begin_ending, "plan", functools.partial(plan, members=FEW))
    monkeypatch.setattr(begin_ending, "next_answer", lambda _batch: None)
    monkeypatch.chdir(tmp_path)


@functools.cache
def mends_of(us: bool) -> tuple[mending.Mend, ...]:
    """What mends one of the two batches, looked for once."""
    return tuple(mending.mends(plan(read_batch(SALMON if us else PIKE), FEW), us))


@pytest.fixture
def found_before(monkeypatch):
    monkeypatch.setattr(begin_ending, "mends", lambda _outcome, us=False: iter(mends_of(us)))


def told(story: Story, *answers: str, file: str = "mine.toml") -> str:
    """What is said at the end of a story, with some answers at its prompts, and then none."""
    Path(file).write_text(text_of(story, file), encoding="utf-8")
    said, left = [], list(answers)

    def typed(prompt: str) -> str:
        said.append(prompt)
        if not left:
            raise EOFError
        return left.pop(0)

    begin_ending.tell_end(
        story,
        file,
        lambda line, indent="", hanging="": said.append(line) or 1,
        typed,
        lambda one, question: one.told(question.place, True),
    )
    return "\n".join(said)


@pytest.mark.parametrize("typed", [PIKE, SALMON], ids=["metric", "US"])
def test_a_change_that_is_taken_gives_just_what_was_promised(typed):
    story, us = Story(typed), typed is SALMON
    assert mends_of(us)
    for mend in mends_of(us):
        text = text_of(changed(story, mend.told), "x")
        again = plan(read_batch(story_of(text, "x").typed), FEW)
        way = mend.way
        assert (again.verdict.keep, again.verdict.eat, again.keep.days) == (way.keep, way.eat, way.days)
        assert again.drying["hours_to_target"] == way.hours and not words.refused(again.verdict)


@pytest.mark.usefixtures("found_before")
def test_a_number_changes_the_file_and_keeps_the_one_before_it():
    said = told(NOTED, "5", "1")
    assert "must not be eaten" in said.splitlines()[0] and "Type 1" in said and "Ready to eat." in said
    before, now = load_batch("mine-1.toml"), story_of(Path("mine.toml").read_text("utf-8"), "mine.toml")
    assert before.typed.items() >= PIKE.items() and now.typed["heat"]["checked"] == "probe"
    assert now.typed["fish"] == PIKE["fish"] and now.notes["fish.origin"] == "my own pond"
    assert now.left == {"room.temperature": "not known", "heat.weight_after": "not known"}  # not asked for later


@pytest.mark.usefixtures("found_before")
def test_nothing_is_changed_where_nobody_answers_or_enter_is_pressed():
    for answers in ((), ("",)):
        assert "Changed in" not in told(NOTED, *answers)
        assert story_of(Path("mine.toml").read_text("utf-8"), "mine.toml") == NOTED and not Path("mine-1.toml").exists()


@pytest.mark.parametrize(("typed", "other"), [(PIKE, "°F"), (SALMON, "°C")], ids=["metric", "US"])
@pytest.mark.usefixtures("found_before")
def test_each_cause_is_said_once_in_the_system_of_the_story(typed, other):
    said = told(Story(typed))
    assert said.count("stays warm for up to") == 1 and other not in said
    assert len(said.split()) < 290
    assert "Cooperative Extension" in said and "teaching estimate" in said


def test_where_no_plan_helps_the_fish_is_eaten_fresh_or_thrown_out(monkeypatch):
    off = PIKE | {"fish": PIKE["fish"] | {"smells_normal": False}}
    said = told(Story(off))
    assert "take other fish" in said and "Way out" not in said and "thermometer" not in said
    cold = PIKE | {"dryer": PIKE["dryer"] | {"temperature": "8 °C", "heater": "none"}}
    said = told(Story(cold))
    assert (
        "Then, but only if it dries in a dryer with a fan and a heater of 500 W" in said
        and "2: as 1, but plan it for" in said
    )
    monkeypatch.setattr(begin_ending, "mends", lambda _outcome, us=False: iter(()))
    said = told(Story(cold), file="again.toml")
    assert "above 4 °C for 2 h so far, and the limit is 4 h in all" in said
    assert "eat it today; or freeze it raw today" in said and "Way out" not in said
    untold = {key: one for key, one in PIKE["fish"].items() if key != "hours_above_4c"}
    said = told(Story(cold | {"fish": untold}), file="untold.toml")
    assert "eat it today" not in said and "which counts as a no. Not known: hours above 4 °C" in said


def test_fish_that_was_warm_too_long_before_is_not_said_to_be_cooked_and_the_way_with_colder_hours_is_named():
    """Six and a half hours in a cool box: by rule T2 no cooking mends them, so no ending may send it to the pan."""
    said = told(Story(PIKE | {"fish": PIKE["fish"] | {"hours_above_4c": 6.5}}))
    assert "for 6.5 h before anything is done with it; the limit is 4 h" in said
    assert "eat it today" not in said and "Way out" not in said and "1: change" not in said
    assert "a: All of it hangs on the hours" in said and "Else do not eat this fish, cooked or dried" in said
    assert "Only if they do not count was a way to dry it found: " in said and "by a probe" in said


def test_where_the_weakest_heater_dries_nothing_the_ending_says_what_stands_against_it_even_so():
    weak = {"dryer": PIKE["dryer"] | {"heater": "30 W"}, "room": {"temperature": "30 °C", "relative_humidity": 95}}
    said = told(Story(PIKE | weak | {"fish": PIKE["fish"] | {"waters": "cold or temperate"}}))
    assert "not with all changes together" in said and "even so: Heated and wet, it stays lukewarm for" in said


def test_what_an_answer_would_mend_is_never_written_but_the_rest_can_be():
    """Nobody knows how it smells: the number changes what the cook decides, and the smell stays to be told."""
    unsure = PIKE | {"fish": {key: one for key, one in PIKE["fish"].items() if key != "smells_normal"}}
    said = told(Story(unsure), "1")
    now = story_of(Path("mine.toml").read_text("utf-8"), "mine.toml").typed
    assert "Then, but only if it smells as it should" in said and "smells_normal" not in now["fish"]
    assert now["heat"]["checked"] == "probe" and said.count("not known") and "Ready to eat." not in said


def test_a_heating_that_does_not_count_is_named():
    short = {"core": "71 °C", "hold": "3 s", "checked": "probe", "to_tray": "10 min"}
    ((why, way),) = [one for one in begin_ending.causes(outcome_of(heat=short)) if "heating" in one[0]]
    assert "Your heating (71 °C (160 °F), 3 s)" in why and "74 °C (165 °F) for 15 s, or 72 °C (160 °F) for 1 min" in way


def test_a_plan_that_cannot_be_made_asks_for_what_is_wrong():
    sweet = {
        "method": "wet",
        "time": "2 h",
        "temperature": "3 °C",
        "ingredient": [{"what": "water", "amount": "1 L"}, {"what": "sugar", "amount": "40 kg"}],
    }
    story, asked = Story(PIKE | {"brine": sweet}), []
    Path("mine.toml").write_text(text_of(story, "mine.toml"), encoding="utf-8")

    def ask(one: Story, question):
        asked.append(question.place)
        return None

    begin_ending.tell_end(story, "mine.toml", lambda *_: None, lambda _prompt: "a", ask)
    assert asked == ["brine.ingredient.1.amount"]  # the water, not what happens to be last


def test_what_was_asked_and_is_not_granted_can_be_earned():
    raw = HERON.read_text(encoding="utf-8").replace('"probe"', '"not checked"').replace('"1.8 kg"', '"1.2 kg"')
    said = told(story_of(raw, "raw.toml"), "1")
    assert "check the heating with a probe" in said and "Refrigerator or freezer" in said


def test_the_answer_that_would_help_most_can_be_given_there_and_then(monkeypatch):
    verdict = outcome_of().verdict
    facts = iter([NextAnswer(Fact("fish", {"gutted": True}), verdict, alone=True)])
    monkeypatch.setattr(begin_ending, "next_answer", lambda _batch: next(facts, None))
    monkeypatch.setattr(begin_ending, "mends", lambda _outcome, us=False: iter(()))
    typed = PIKE | {"fish": {key: one for key, one in PIKE["fish"].items() if key != "gutted"}}
    said = told(Story(typed), "a", file="answered.toml")
    assert "a: This answer would help most: Is it gutted?" in said and "a: answer it" in said
    assert said.count("It is not told whether it is gutted") == 1 and said.count("must not be eaten") == 2


@pytest.mark.parametrize(
    ("typed", "shown"),
    [({"frozen_at": "-20 c"}, "−20 °C"), ({"thawed_in_vacuum": False}, "no"), ({"gutted": True}, "yes")],
)
def test_an_answer_that_would_help_is_written_as_a_person_writes_it(typed, shown):
    found = NextAnswer(Fact("fish", typed), outcome_of().verdict, alone=True)
    said = begin_ending.help_words(found)
    assert shown in said and not any(one in said for one in ("-20 c", "True", "False"))


def test_what_is_told_is_looked_over_with_units_as_they_are_written():
    typed = {"fish": PIKE["fish"] | {"frozen_at": "-20 c", "stock": "frozen", "fat": 9.04}, "heat": {"core": "167f"}}
    sugar = {"method": "wet", "temperature": "4c", "ingredient": [{"what": "sugar", "amount": "2 c"}]}
    story = Story(typed | {"brine": sugar, "room": {"relative_humidity": 55}})
    said = [one.words for _, items in summing_up.lines(story) for one in items]
    assert {"fat: 9 %", "frozen at: −20 °C", "middle at: 167 °F", "4 °C", "sugar 2 c", "damp: 55 %"} <= set(said)


def test_no_change_is_told_by_one_that_was_not_told(monkeypatch):
    """All that is wrong is an answer: the first mend has no number, so the longer way is told in full."""
    typed = changed(Story(PIKE), mends_of(False)[0].told).typed
    typed = typed | {"fish": {key: one for key, one in typed["fish"].items() if key != "gutted"}}
    outcome = plan(read_batch(typed), FEW)
    fact = NextAnswer(Fact("fish", {"gutted": True}), outcome.verdict, alone=True)
    monkeypatch.setattr(begin_ending, "next_answer", lambda _batch: fact)
    (longer,) = [one for one in begin_ending.ending(outcome) if isinstance(one, begin_ending.Choice)]
    assert longer.words.startswith("If it is gutted: the freezer")


def outcome_of(**sections):
    return plan(read_batch(PIKE | {name: PIKE.get(name, {}) | one for name, one in sections.items()}), 20)


def test_every_refusal_has_a_cause_in_few_words():
    """Before the heating, after it, histamine, unknown hours: each is said once, with hours past their limit."""
    heat = {"core": "75 °C", "hold": "1 min", "checked": "probe"}
    warm = begin_ending.causes(outcome_of(heat=heat, brine={"temperature": "25 °C"}))
    assert any("Before it is heated" in why for why, _way in warm)
    after = begin_ending.causes(outcome_of(heat=heat, cut={"thickness": "15 mm", "thickest": "18 mm"}))
    assert any("Heated and wet" in why for why, _way in after)
    herring = begin_ending.causes(outcome_of(fish={"species": "Atlantic herring"}))
    assert any("histamine" in why for why, _way in herring) and any("Raw and wet" in why for why, _way in herring)
    untold = {name: one for name, one in PIKE["fish"].items() if name != "hours_above_4c"}
    unknown = begin_ending.causes(plan(read_batch(PIKE | {"fish": untold}), 20))
    assert sum("Not known" in why or "not known" in why for why, _way in unknown) >= 1
    assert all(len(why.split()) <= 45 for told in (warm, after, herring) for why, _way in told)


def test_a_granted_plan_says_what_to_do_in_order_and_only_what_its_file_tells():
    mend = mends_of(True)[0]
    story = changed(Story(SALMON), mend.told)
    outcome = plan(read_batch(story.typed), FEW)
    order = in_order(outcome, "us")
    said = "; ".join(order.steps)
    steps = [
        "fillet the gutted fish, if that is not done yet, and cut the fillets into strips",
        " in thick",
        "let the dryer warm up",
        "the scale set to zero",
        "heat the fish until its middle is at",
        "within 10 min of that reading",
        "pat it dry",
        "mark that thickest piece and weigh it",
        "lay all of it on the trays",
        "dry at",
        "stop when that piece",
        "let it cool",
        "zip bag",
    ]
    places = [said.index(one) for one in steps]
    assert places == sorted(places) and len([one for one in order.steps if not isinstance(one, Under)]) == 9
    assert not any(one in said for one in ("bath", "salt it", "°C", " g ", " mm", " kg"))
    lines = list(begin_ending.ending(outcome, "us"))
    assert order in lines and "heat.weight_after" in story.left
    heated = plan(read_batch(changed(Story(PIKE), mends_of(False)[0].told).typed), FEW)
    dry = "; ".join(in_order(heated, "metric").steps)
    assert "salt it dry for 12 h in the refrigerator, counted as" in dry and "°F" not in dry


def test_the_weight_to_stop_at_has_an_example_in_the_units_of_the_reader():
    outcome = outcome_of()
    percent = words.stop_percent(outcome.drying["mass_ratio"].mid)
    grams, ounces = (
        next(one for one in in_order(outcome, system).steps if one.startswith("stop")) for system in ("metric", "us")
    )
    assert grams.endswith(f"{percent} % of what it weighed: a piece of 30 g then weighs {percent * 30 // 100} g")
    assert ounces.endswith(f"a piece of 1 oz then weighs {percent / 100:.2f} oz")


@pytest.mark.usefixtures("found_before")
def test_what_to_do_is_one_numbered_step_a_line_that_hangs(capsys):
    story = changed(Story(PIKE), mends_of(False)[0].told)
    Path("mine.toml").write_text(text_of(story, "mine.toml"), encoding="utf-8")
    begin_ending.tell_end(story, "mine.toml", begin._say, lambda _prompt: "", lambda one, _question: one)
    lines = capsys.readouterr().out.splitlines()
    at = lines.index("What to do, in this order:") + 1
    here = list(itertools.takewhile(lambda line: line.startswith("   "), lines[at:]))
    numbers = [line.split(".")[0].strip() for line in here if line[3] != " "]
    assert numbers == [str(one) for one in range(1, len(numbers) + 1)] and len(numbers) > 6
    assert here[0].startswith("   1. fillet") and any(line.startswith("      ") for line in here)
    assert all(len(line) <= begin.WIDTH for line in here)


def test_the_order_says_what_goes_into_brine_and_cure_as_it_was_told():
    rows = [("water", "3 pints"), ("pickling salt", "180g"), ("sugar", "1/2 cup")]
    wet = {"method": "wet", "ingredient": [{"what": what, "amount": much} for what, much in rows]}
    freshened = [{"time": "30 min", "temperature": "4 °C", "water": "2 L", "changes": 2}]
    brined = plan(read_batch(PIKE | {"brine": PIKE["brine"] | wet, "freshen": freshened}), 20)
    both = "; ".join(in_order(brined).steps)
    assert "in a bath of 3 pints (1.4 L) water, 180g (6.3 oz) pickling salt, 1/2 cup (120 mL) sugar" in both
    assert "2 × 2 L (2 1/8 qt), 30 min each, in the refrigerator, counted as 4 °C (39 °F)" in both
    metric = words.in_system("; ".join(in_order(brined, "metric").steps), "metric")
    assert (
        "180g pickling salt, 1/2 cup (120 mL) sugar" in metric
        and "2 × 2 L, 30 min" in metric
        and "oz" not in metric
        and "qt" not in metric
    )
    assert "6.3 oz pickling salt" in words.in_system("; ".join(in_order(brined, "us").steps), "us")
    assert any(
        one.endswith("counted as 8 °C, with 80 g coarse salt; drain it and wipe the salt off")
        for one in in_order(outcome_of(), "metric").steps
    )


def test_a_warmer_soak_is_not_said_to_stand_in_a_refrigerator():
    warm = in_order(plan(read_batch(PIKE | {"brine": PIKE["brine"] | {"temperature": "10 °C"}}), 20), "metric").steps
    assert any(" at 10 °C, " in one for one in warm) and not any("reckoned" in one for one in warm)


FROZEN = (("fish.stock", "frozen"), ("fish.frozen_at", "-20 °C"), ("fish.frozen_days", 7))
TO_DO, DONE = "1. freeze it at -20 °C", "The fish was frozen 7 days at -20 °C. What to do, in this order:\n1. fillet"


@pytest.mark.usefixtures("found_before")
def test_a_freezing_that_came_from_a_change_is_a_thing_to_do_until_it_is_told():
    granted = changed(Story(PIKE), mends_of(False)[0].told)
    by_change, by_answer = changed(granted, FROZEN), granted
    for place, value in FROZEN:
        by_answer = by_answer.told(place, value)
    assert TO_DO in told(by_change) and DONE not in told(by_change)
    assert TO_DO in told(story_of(text_of(by_change, "x"), "x"))
    assert DONE in told(by_answer) and TO_DO not in told(by_answer)
    assert DONE in told(by_change.told("fish.frozen_days", 7))
    assert "(" not in told(by_change).partition(TO_DO)[2].partition("\n")[0]
    shown = [[one.words for _, items in summing_up.lines(one) for one in items] for one in (by_change, by_answer)]
    assert "days still to be frozen: 7" in shown[0] and "days frozen: 7" in shown[1]


def test_a_mend_that_freezes_is_kept_as_still_to_be_done():
    freeze = mending._frozen(read_batch(PIKE), us=False)["freeze"][-1]
    assert to_freeze(changed(Story(PIKE), freeze.told)) and not to_freeze(changed(Story(PIKE), mends_of(False)[0].told))


def test_a_pack_given_by_its_id_is_called_by_its_name():
    typed = PIKE | {"keep": {"place": "freezer", "pack": "freezer_bag"}}
    outcome = plan(read_batch(typed), 20)
    *_, pack, keep = in_order(outcome).steps
    assert pack == "pack it in: zip bag, freezer weight" and keep.startswith("keep it in")
    steps = {"keep": mending.Step("")}
    way = Way("", "freezer", "freezer_bag", 0.4, Band(1.0, 2.0, 3.0), "freezer", "ready", 7)
    assert "freezer, zip bag, freezer weight" in begin_ending.mend_words(mending.Mend(steps, way, way))
    untold = replace(way, pack="")
    assert "for the freezer, 7 days at most" in begin_ending.mend_words(mending.Mend(steps, untold, untold))
    assert "zip bag, freezer weight" in " ".join(
        one.words for _, items in summing_up.lines(Story(typed)) for one in items
    )


@pytest.mark.usefixtures("found_before")
def test_a_question_mark_says_what_the_numbers_do():
    assert told(NOTED, "?").count("A number puts its change into your file") == 1


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("2 then, all at once, my hike can be in 12 days", "2"), ("3, freezer's fine if that's safe", "3"), ("Option 1 please", "1"), ("a, I have a thermometer", "a"),
        ("2 or 3", ""), ("2, no, not so", ""), ("1 and a", ""), ("a thermometer costs 3", ""), ("2 weeks", ""), ("2?", ""), ("9, then", ""), ("12", ""), ("2, isn't it too thin", ""),
    ],
)  # fmt: skip
def test_a_mark_before_other_words_is_taken_where_no_other_one_is_named(typed, meant):
    told = iter([typed, ""])
    choices = {mark: begin_ending.Choice(mark, ()) for mark in "123a"}
    taken = begin_ending._chosen(choices, lambda *_: None, lambda _prompt: next(told))
    assert (taken.words if taken else "") == meant


def test_a_mend_is_told_by_the_one_before_it_only_where_nothing_else_is_left_out():
    def mend(place="cupboard", **words):
        way = Way("", place, "jar", 0.4, Band(1.0, 2.0, 3.0), "cupboard", "ready", 7)
        steps = {name: mending.Step(text, (("x", 1),) if text else ()) for name, text in words.items()}
        return mending.Mend(steps, way, way)

    first = mend(cut="cut thin", heat="heat it", load="half at a time", hot="")
    hot = mend(cut="cut thin", heat="heat it", load="", hot="set it hot")
    assert begin_ending.mend_words(hot, first) == "as 1, but set it hot; all of it at once. Then the same."
    raw = begin_ending.mend_words(mend(freeze="freeze it", cut="cut thin", load="", hot=""), first)
    assert raw.startswith("freeze it; cut thin. Then:")


@functools.cache
def granted() -> Story:
    """A story whose plan is granted, and whose fish is very salty."""
    return changed(Story(PIKE), mends_of(False)[0].told)


def test_very_salty_fish_is_offered_less_salt_that_gives_what_it_promises():
    cure = {
        "method": "dry",
        "time": "12 h",
        "temperature": "4 °C",
        "ingredient": [{"what": "coarse salt", "amount": "40 g"}],
    }
    typed = COD | {"brine": cure, "keep": {"place": "refrigerator", "pack": "glass jar"}}
    now = plan(read_batch(typed), FEW)
    assert begin_ending.asked(now).granted and salt_of(now.load) > limits.VERY_SALTY
    mend = mending.less_salted(now)
    after = plan(read_batch(changed(Story(typed), mend.told).typed), FEW)
    assert (after.verdict.keep, after.verdict.eat, after.keep.days) == (mend.way.keep, mend.way.eat, mend.way.days)
    assert salt_of(after.load) == mend.salt <= limits.VERY_SALTY and mending._as_strict(after, now)
    assert "take only" in mend.changes[0] and "coarse salt" in mend.changes[0]
    assert mending.less_salted(replace(now, verdict=replace(now.verdict, eat="cook_first"))) is None


def test_the_search_for_less_salt_takes_the_first_step_that_does_it():
    search = mending._Search(read_batch(granted().typed))
    lever = mending._less_salt(search.batch, us=False)
    salts = [salt_of(search.plan({"salt": step}, mending.FEWEST, sketch=True).load) for step in lever]
    assert salts == sorted(salts, reverse=True)
    for most in (1.0, *salts, 0.0):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(mending.limits, "VERY_SALTY", (most + 1e-9) / mending.SPARE)
            found = next((step for step, salt in zip(lever, salts, strict=True) if salt <= most + 1e-9), None)
            assert search.enough(lever, {}, "salt") is found


def test_a_search_works_out_no_plan_twice(monkeypatch):
    search, made = mending._Search(read_batch(granted().typed)), []
    monkeypatch.setattr(mending, "plan", lambda batch, *given, **how: made.append(given) or plan(batch, *given, **how))
    for _ in range(2):
        search.plan({}, mending.FEWEST, sketch=True)
    assert made == [(mending.FEWEST,)]


def test_very_salty_fish_is_offered_a_soak_that_gives_what_it_promises(monkeypatch):
    monkeypatch.setattr(begin_ending, "less_salted", lambda *_: None)
    now = plan(read_batch(granted().typed), FEW)
    mend = mending.freshened(now)
    after = changed(granted(), mend.told)
    again = plan(read_batch(story_of(text_of(after, "x"), "x").typed), FEW)
    assert salt_of(now.load) > limits.VERY_SALTY >= salt_of(again.load) == mend.salt
    assert (again.verdict.keep, again.verdict.eat, again.keep.days) == (mend.way.keep, mend.way.eat, mend.way.days)
    assert after.get("freshen.1.time") == "1 h" and after.left["freshen.2"] == "no"
    assert again.facts.freshened and again.batch.freshen[0].temperature == now.batch.brine.temperature == 8.0
    assert again.facts.cure_hours_above_4c == now.facts.cure_hours_above_4c + again.batch.freshen[0].hours
    said = told(granted(), "1", file="soaked.toml")
    assert said.count("Very salty") == 1 and said.index("looked for now") < said.index("1: or, so that")
    assert "1: or, so that it is less salty: soak salt out" in said
    assert "lay it in fresh water" in said and "quick rinse" not in said.partition("lay it in fresh water")[2]


def test_a_soak_is_as_cold_as_the_refrigerator_that_was_told_and_nobody_soaks_in_a_warm_room():
    cold = [read_batch(PIKE | {"brine": PIKE["brine"] | {"temperature": one}}) for one in ("2 °C", "7 °C", "15 °C")]
    told_cold = [dict(mending._soaks(one, us=False)[0].told)["freshen.1.temperature"] for one in cold]
    assert told_cold == ["4 °C", "7 °C", "4 °C"]
    assert dict(mending._soaks(cold[1], us=True)[0].told)["freshen.1.temperature"] == "45 °F"
    much = replace(cold[0], fish=replace(cold[0].fish, raw_weight=150.0))
    assert mending._soaks(much, us=False) == () and mending._soaks(cold[0], us=False)


def test_no_soak_is_offered_that_makes_a_verdict_milder_or_loses_the_place(monkeypatch):
    now = plan(read_batch(granted().typed), FEW)
    stricter = replace(now, verdict=replace(now.verdict, eat="cook_first"))
    assert mending.freshened(stricter) is None
    monkeypatch.setattr(begin_ending, "freshened", lambda *_: None)
    monkeypatch.setattr(begin_ending, "less_salted", lambda *_: None)
    said = told(granted())
    assert (
        "Very salty" in said
        and "with none is this plan still granted" in " ".join(said.split())
        and "(Enter: done; or ask)" in said
    )
    assert told(granted(), "can it be less salty?").count("with none is this plan still granted") == 2


def test_what_comes_out_of_salt_is_drained_and_all_is_patted_dry_before_it_is_weighed():
    steps = in_order(plan(read_batch(granted().typed), FEW), "metric").steps
    salt, rinse = next(pair for pair in itertools.pairwise(steps) if "salt it dry" in pair[0])
    assert salt.endswith("drain it and wipe the salt off") and isinstance(rinse, Under) and "common practice" in rinse
    (weighed,) = [one for one in steps if "weigh it" in one]
    assert weighed.index("pat it dry") < weighed.index("weigh it") < weighed.index("on the trays")
    raw = in_order(outcome_of(), "metric").steps
    assert sum("weigh it just before" in one for one in raw) == 1 and not any("that reading" in one for one in raw)
    wet = PIKE["brine"] | {
        "method": "wet",
        "ingredient": [{"what": "water", "amount": "2 L"}, {"what": "salt", "amount": "80 g"}],
    }
    assert any(one.endswith("drain it and throw the bath away") for one in in_order(outcome_of(brine=wet)).steps)
    assert not any("rinse" in one for one in in_order(plan(read_batch(SALMON), 20)).steps)


def test_a_heating_says_how_it_is_done_and_where_the_probe_goes():
    heat = {"core": "75 °C", "hold": "1 min", "checked": "probe"}
    thick, thin = outcome_of(heat=heat), outcome_of(heat=heat, cut={"thickness": "6 mm", "thickest": "7 mm"})
    for outcome, piece in ((thick, "the thickest piece"), (thin, "a piece 12 mm or thicker heated with it")):
        (how,) = [one for one in in_order(outcome, "metric").steps if isinstance(one, Under) and "A thin probe" in one]
        assert f"into the middle of {piece}, till its number stands still: by steam on a rack (plan " in how
        spare = [one for one in in_order(outcome, "metric").steps if "leave one piece 12 mm thick or thicker" in one]
        assert len(spare) == (outcome is thin) and all("cook it through" in one for one in spare)
    unseen = in_order(outcome_of(heat=heat | {"checked": "not checked"})).steps
    assert not any("probe" in one for one in unseen)


def test_heated_fish_that_is_dry_already_is_cooled_and_laid_on_no_tray():
    typed = {"fish": {"raw_weight": "1.2 kg"}, "heat": {"core": "75 °C", "hold": "1 min", "to_tray": "10 min"}}
    drying = outcome_of(**typed)
    done = replace(drying, load=replace(drying.load, mass_ratio=1.0))
    for outcome, said, unsaid in ((drying, "on the trays", "cool it"), (done, "cool it", "on the trays")):
        steps = "; ".join(in_order(outcome, "metric").steps)
        assert said in steps and unsaid not in steps


@pytest.mark.parametrize(
    ("to_tray", "checked", "when"),
    [
        ("10 min", "probe", "within 10 min of that reading"),
        ("10 min", "not checked", "within 10 min from then on"),
        (None, "probe", "at once"),
    ],
)
def test_what_takes_minutes_between_heat_and_trays_is_said_within_them(to_tray, checked, when):
    heat = {"core": "75 °C", "hold": "1 min", "checked": checked} | ({"to_tray": to_tray} if to_tray else {})
    steps = [one for one in in_order(outcome_of(heat=heat), "metric").steps if not isinstance(one, Under)]
    at = next(row for row, one in enumerate(steps) if one.startswith("heat the fish until its middle"))
    assert "scale set to zero" in steps[at - 1] and steps[at + 1].startswith(f"{when}, in this order: pat it dry")
    assert steps[at + 2].startswith("dry at") and "on the trays" not in steps[at]


def test_who_has_told_too_few_minutes_to_dry_weigh_and_lay_it_is_told_so():
    few, enough = (
        "; ".join(in_order(outcome_of(heat={"core": "75 °C", "hold": "1 min", "to_tray": soon}), "metric").steps)
        for soon in ("2 min", "10 min")
    )
    assert "2 min is what you told" in few and "is what you told" not in enough


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ("strips", "fillet the gutted fish, if that is not done yet, and cut the fillets into strips"),
        ("fillets", "fillet the gutted fish, if that is not done yet: fillets"),
        ("split", "split the gutted fish and open it flat"),
    ],
)
def test_the_knife_goes_through_fillets_before_it_cuts_strips(form, said):
    assert in_order(outcome_of(cut={"form": form}), "metric").steps[0].startswith(said)


def test_a_part_of_the_fish_is_said_to_be_one_until_its_weight_is_told():
    half = changed(granted(), (("fish.raw_weight", "600 g"),))
    part = "This is for a part of the fish, 600 g of it raw, with as much of salt"
    unsalted = in_order(plan(read_batch(SALMON), 20), a_part=True).words
    assert "of it raw; the rest waits in the freezer" in unsalted
    assert part in told(half) and part in told(story_of(text_of(half, "x"), "x"))
    assert part not in told(half.told("fish.raw_weight", "600 g")) and part not in told(granted())


def test_days_that_nobody_knows_are_not_said_to_be_too_many():
    outcome = outcome_of(keep={"place": "freezer", "wanted_days": 21})
    unknown, few = (replace(outcome, keep=replace(outcome.keep, days=days)) for days in (None, 7))
    assert begin_ending.days_words(unknown, 0, None) == "Whether it keeps for 21 days there is not known."
    assert begin_ending.days_words(few, 7, None) == "It does not keep for 21 days."


@pytest.mark.usefixtures("found_before")
def test_who_asks_why_is_told_where_every_rule_stands():
    assert told(NOTED, "Why must I heat it?").count("with --all at its end") == 1


@pytest.mark.usefixtures("found_before")
def test_who_asks_why_it_keeps_no_longer_is_told_that_and_asked_on():
    said = told(NOTED, "Why 90 days only? Old people kept it all winter", "9")
    asked = said.partition("or ask) > ")[2]
    assert asked.startswith("\nWhy 90 days in the freezer: ") and "--all" not in asked and "Type 1/2/3" in asked


def test_a_limit_other_than_that_of_raw_fish_says_why():
    heat = {"core": "75 °C", "hold": "1 min", "checked": "probe", "to_tray": "10 min"}
    outcome = outcome_of(heat=heat)
    reasons = {}
    for count in COUNTS:
        limit = first_limit(count)
        hours = WarmHours(**{one: limit if one == count else 0.0 for one in COUNTS} | {"h": limit})
        slow = outcome.drying | {"hours_to_target": Band(5.0, 6.0, 9.0)}
        said = begin_ending.moist_words(replace(outcome, drying=slow, facts=replace(outcome.facts, warm=hours)))
        assert f"the limit is {limit:g} h" in said and said.endswith(".") and "slower than planned" in said
        assert ("(raw fish: 4 h): " in said) == (limit != limits.CLOCK_HOURS) and ": " in said
        reasons[count] = said.rpartition(": ")[2]
    few = WarmHours(**dict.fromkeys(COUNTS, 0.0) | {"h": 0.5 * first_limit("h")})
    half = begin_ending.moist_words(replace(outcome, drying=slow, facts=replace(outcome.facts, warm=few)))
    assert "the limit is" in half and "slower than planned" not in half
    assert "official rules" in reasons["hs"] and "tuna" in reasons["f48"] and len(set(reasons.values())) == len(COUNTS)


@pytest.mark.usefixtures("found_before")
def test_a_long_ending_says_its_verdict_once_more_before_the_prompt(capsys):
    def ending_of(story):
        Path("mine.toml").write_text(text_of(story, "mine.toml"), encoding="utf-8")
        begin_ending.tell_end(story, "mine.toml", begin._say, lambda _prompt: "", lambda one, _question: one)
        return capsys.readouterr().out.strip().splitlines()

    long = ending_of(granted())
    percent = words.stop_percent(plan(read_batch(granted().typed), FEW).drying["mass_ratio"].mid)
    stop = f"{long[1]} Stop at {percent} % (30 g: {percent * 30 // 100} g)."
    assert " ".join(long[-2:]).startswith(stop) and "At its limit: " in " ".join(long[-2:]) and len(long) > 24
    short = ending_of(
        Story(PIKE | {"keep": PIKE["keep"] | {"wanted_days": 3}})
    )  # as long as is wished: no reason is told
    assert short[1].startswith("✕") and not short[-1].startswith("✕") and len(short) < 24


@pytest.mark.slow
def test_any_batch_ends_in_words_and_every_change_is_as_promised():
    """Sixty batches, half of them odd, in both systems of units."""
    for number in range(60):
        typed = (odd_typed, random_typed)[number % 2](random.Random(number))
        try:
            outcome = plan(read_batch(typed), FEW)
        except InputError:
            continue
        assert all(line is not None for line in begin_ending.ending(outcome))
        changes = mending.mends if words.refused(outcome.verdict) else mending.earned
        for mend in changes(outcome, number % 3 == 0):
            text = text_of(changed(Story(typed), mend.told), "x")
            again, way = plan(read_batch(story_of(text, "x").typed), FEW), mend.way
            assert (again.verdict.keep, again.verdict.eat, again.keep.days) == (way.keep, way.eat, way.days), number


@pytest.mark.parametrize(
    ("text", "mark"),
    [
        ("freezer sounds fine till the morning we go. and i only got the one dial, 165. number 3 i guess", "3"), ("ok number 2 please", "2"), ("not number 3", ""), ("i don't like number 3", ""),
        ("number 3 or number 2", ""), ("anything but option 3", ""), ("is it number 3?", ""), ("number 3 is no good", ""), ("number 7", ""),
    ],
)  # fmt: skip
def test_a_number_that_is_called_so_counts_anywhere_in_a_sentence(text, mark):
    assert begin_ending._mark_of(text, dict.fromkeys("123", begin_ending.Choice("", ()))) == mark


def test_a_change_beyond_the_end_of_the_dial_says_so_and_no_other_does():
    lines = [
        one.words
        for one in begin_ending.ending(plan(read_batch(PIKE), FEW), "metric")
        if isinstance(one, begin_ending.Choice)
    ]
    hot = [any("°C" in one for place, one in mend.told if place == "dryer.temperature") for mend in mends_of(False)]
    assert any(hot) and not any("Your dial" in one for one in lines)
    story = Story(PIKE, notes={DIAL: "64 °C"})
    said = told(story_of(text_of(story, "x"), "x"))
    assert said.count("Your dial, as told, ends at 64 °C") >= 1
    fits = told(Story(PIKE, notes={DIAL: "75 °C"}), file="fits.toml")
    assert "Your dial" not in fits and "Your dial" not in told(Story(PIKE, notes={DIAL: "50 °C"}), file="hot.toml")


def test_who_takes_a_change_from_the_cupboard_to_the_cold_is_told_what_it_is_not():
    cold = changed(Story(PIKE), (("keep.place", "freezer"),))
    assert beside(cold).cupboard_before and beside(changed(cold, (("keep.place", "refrigerator"),))).cupboard_before
    assert beside(story_of(text_of(cold, "x"), "x")).cupboard_before
    told_anew = cold.told("keep.place", "freezer")
    assert not beside(told_anew).cupboard_before and not beside(Story(PIKE)).cupboard_before
    assert not beside(changed(cold, (("keep.place", "cupboard"),))).cupboard_before


@pytest.mark.parametrize(
    ("text", "most"),
    [
        ("round thing with 5 trays, dial goes up to 160, I can set it to whatever", "160 °F"),
        ("from 35 to 70 c, don't know which setting", "70 °C"),
        ("165, that's all it goes to", "165 °F"),
        ("160 F max", "160 °F"),
        ("it only goes to 70 c", "70 °C"),
        ("145 F", ""),
        ("60, 5 trays", ""),
    ],
)
def test_the_end_of_a_dial_that_is_told_in_passing_is_noted(text, most):
    question = question_at("dryer.temperature")
    assert end_of_the_dial(Story(SALMON), question, text) == most
    assert end_of_the_dial(Story(SALMON), question_at("heat.core"), text) == ""


def test_hours_of_a_refrigerator_nobody_measured_can_be_told_again_before_fish_is_thrown_out(monkeypatch):
    fish = {"species": "Atlantic mackerel", "raw_weight": "1.1 kg", "origin": "wild", "stock": "fresh", "gutted": False}
    fish |= {"hours_above_4c": 10, "hours_above_21c": 0, "smells_normal": True}
    monkeypatch.setattr(begin_ending, "mends", lambda _outcome, us=False: iter(()))
    story = Story({name: one for name, one in PIKE.items() if name != "brine"} | {"fish": fish})
    outcome = plan(read_batch(story.typed), 20)
    nothing, found, then = begin_ending.fallback(outcome)
    assert "neither dried nor cooked and eaten" in nothing
    assert then == begin_ending.say("ending.if_cold_none")
    assert found.question.place == "fish.hours_above_4c" and "put a thermometer into the" in found.words
    assert "Else do not eat this fish, cooked or dried" in found.words
    warm, bad = (
        replace(outcome, batch=read_batch(story.typed | {"fish": fish | other}))
        for other in ({"hours_above_21c": 10}, {"smells_normal": False})
    )
    other_fish = [begin_ending.say("ending.other_fish")]
    assert [*begin_ending.fallback(warm)] == [*begin_ending.fallback(bad)] == other_fish
    said = told(story)
    assert "a: All of it hangs on the hours" in said and "Way out" not in said
    thrown = told(story.told("fish.smells_normal", False), file="thrown.toml")
    assert "Do not eat it" in thrown and "Way out" not in thrown and "Next time: gut it" in thrown


def test_a_plan_that_dries_names_the_page_that_takes_its_weights():
    assert "While it dries, flakeyard logbook mine.toml" in told(granted())
    assert "logbook" not in told(Story(PIKE | {"fish": PIKE["fish"] | {"smells_normal": False}}), file="bad.toml")


def test_a_granted_plan_says_who_should_not_eat_it():
    granted = plan(read_batch(changed(Story(SALMON), mends_of(True)[0].told).typed), FEW)
    said = [line for line in begin_ending.ending(granted, "us") if isinstance(line, str)]
    assert sum("pregnant" in line and "steaming hot" in line for line in said) == 1
