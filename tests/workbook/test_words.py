"""The words of verdicts: what they must say, and what no text here may ever claim."""

import re
from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flakeyard.steps.judge.facts import fact_words, rule_texts
from flakeyard.steps.judge.safety import EAT, KEEP, Deadline, Facts, Verdict, judge
from flakeyard.steps.judge.storing import Keeping
from flakeyard.steps.judge.warm_hours import ladder
from flakeyard.steps.plan.plan import HELPFUL, SECTIONS, plan
from flakeyard.workbook import own, words

TEXTS = list(words.all_texts())
# A claim, and the words by which a text refuses that claim.
NEVER = {
    "free of danger": (
        r"\b(is|are|be|now|it's|perfectly|completely) safe\b|\bsafe to (eat|keep)\b|risk[- ]free",
        r"is not proof that|do not certify",
    ),
    "approved": (
        r"\bcertif|\bcomplian|\bapproved\b|\bguarantee|\bvalidated\b",
        r"^No text here calls|certifies nothing|do not certify",
    ),
    "kills all": (r"\bkills? (all|every)|\bsteril", r"\bnot sterile\b"),
    "kept by taste": (
        r"\b(vinegar|lemon|sourness|smoke|tastes?|colour|bend)\b",
        r"does not|do not taste|is never|Not covered|taste and nothing else",
    ),
    "poison undone": (r"(remove|undo|destroy|take)s? .{0,20}(histamine|toxin)", r"does not|No text here says"),
    "shelf-stable": (r"shelf[- ]stable", None),
    "for sale": (r"\b(sell|selling|sale|sales)\b", r"process authority about selling|Not covered"),
}
NEVER_MISSING = {  # facts whose lack is no question to anybody: not asked, or the better value of another one
    "vinegar_or_acid", "sugar_used", "freshened", "water_phase_salt", "outside_range", "cupboard_outside", "borrowed",
    "place", "heat_core", "water_activity_measured",
}  # fmt: skip


@pytest.mark.parametrize("claim", NEVER)
def test_never_claimed(claim):
    pattern, refusal = NEVER[claim]
    for place, text in TEXTS:
        if re.search(pattern, text, re.IGNORECASE):
            assert refusal and re.search(refusal, text, re.IGNORECASE), f"{place}: {text}"


def test_the_patterns_catch_what_they_are_for():
    """The test above can fail: each of these sentences is caught and not excused."""
    bad = [
        "This fish is safe.",
        "Certified by us.",
        "Heat kills all bacteria.",
        "Vinegar makes it keep.",
        "Cooking removes histamine.",
    ]
    bad += ["It is shelf-stable.", "You may sell it."]
    for sentence, (pattern, refusal) in zip(bad, NEVER.values(), strict=True):
        assert re.search(pattern, sentence, re.IGNORECASE)
        assert not (refusal and re.search(refusal, sentence, re.IGNORECASE))


def test_every_temperature_stands_in_both_units():
    for place, text in TEXTS:
        text = re.sub(r'"[^"]*"', "", text)  # an example of what is typed
        for match in re.finditer(r"[−\d–.]+(?: and [−\d–.]+)? °C", text):
            rest = text[match.end() : match.end() + 30]
            assert re.match(r" \((?:[−\d–.]+, )*[−\d–.]+(?: and [−\d–.]+)? °F\)", rest) or re.match(
                r", \d+ °F\)", rest
            ), f"{place}: {text}"


def test_the_two_units_agree():
    for place, text in TEXTS:
        for celsius, fahrenheit in re.findall(r"(−?\d+) °C \((−?\d+) °F\)", text):
            degrees, other = (float(number.replace("−", "-")) for number in (celsius, fahrenheit))
            assert abs(degrees * 1.8 + 32 - other) <= 1.9, (
                f"{place}: {celsius} °C is not {fahrenheit} °F"
            )  # whole kitchen figures


def test_texts_are_plain():
    """Short sentences on average, no word of the trade left alone, no braces left open."""
    for place, text in TEXTS:
        sentences = [part for part in re.split(r"[.;:!?] ", text) if part]
        assert max(len(sentence.split()) for sentence in sentences) <= 45, f"{place}: {text}"
        assert text.count("{") == text.count("}")


def test_rules_have_a_source_a_basis_and_one_text_a_variant():
    for row in rule_texts().values():
        assert row.source is not None and row.basis in ("S", "J")
        assert row.basis == "J" or row.source_id != "judgement", row.rule
    assert len(rule_texts()) == len({(row.rule, row.variant) for row in rule_texts().values()})


def test_the_verdict_words_are_the_agreed_ones():
    assert words.keep_words("cupboard", 14) == "Cupboard, 14 days at most"
    assert [words.keep_words(keep) for keep in KEEP[1:]] == [
        "Refrigerator or freezer",
        "Freezer only",
        "Not known",
        "Do not keep",
    ]
    assert [words.eat_words(eat) for eat in EAT] == ["Ready to eat", "Cook before eating", "Not known", "Do not eat"]


def test_every_verdict_has_a_shape_and_the_worst_ones_their_own():
    assert set(words.SHAPES) == set(KEEP) | set(EAT)
    assert len({words.SHAPES[keep] for keep in KEEP}) == len(KEEP)
    assert len({words.SHAPES[eat] for eat in EAT}) == len(EAT)


def test_a_verdict_never_stands_without_the_caution():
    for keep in KEEP:
        for eat in EAT:
            verdict = Verdict(keep, eat, None, (), (), ())
            text = words.verdict_sentence(verdict)
            assert text.endswith(words.caution_line(verdict)) and text.endswith("When in doubt, throw it out.")
            advised = "refrigerate or freeze" in text
            assert advised == (keep in ("cupboard", "cold") and eat in ("ready", "cook_first"))
            assert (words.COOK in text) == (eat == "cook_first")
            assert (words.NOT_KNOWN in text) == ("not_known" in (keep, eat))


def test_keeping_is_said_with_its_place_its_limit_and_what_comes_next():
    keeping = Keeping(14, "official_cap", "cupboard", {}, "What would go wrong next: mould, after about 30 days.", ())
    text = words.verdict_sentence(Verdict("cupboard", "ready", 0.7, (), (), ()), keeping)
    assert "Cupboard, 14 days at most" in text and "In the cupboard 14 days at most" in text and "mould" in text
    assert "14 days" not in words.verdict_sentence(Verdict("cold", "not_known", 0.7, (), (), ()), keeping)
    elsewhere = Keeping(30, "mould", "refrigerator", {}, "", ())
    assert "Cupboard, a short time at most" in words.headline(Verdict("cupboard", "ready", 0.7, (), (), ()), elsewhere)
    assert words.days_words(0.4) == "less than a day" and words.days_words(1.9) == "1 day"


def test_what_is_missing_is_told_in_plain_words():
    text = words.verdict_sentence(judge(Facts()))
    assert "whether the fish was gutted" in text and "_" not in text


def test_sodium_stands_beside_the_daily_limit():
    assert words.sodium_sentence("30 g (1 oz)", 548.0, 633.0).startswith(
        "A serving of 30 g (1 oz) holds about 550–630 mg"
    )
    assert "about 590 mg" in words.sodium_sentence("30 g", 590.1, 590.1)


def test_the_ladder_can_be_shown_without_a_batch():
    rungs = words.ladder_texts()
    assert [rule for rule, _ in rungs] == ["L1", "L2", "L3", "L4", "L5", "L6", "L7", "L8"]
    assert all("{" not in text for _, text in rungs)


def test_the_fixed_texts_are_there():
    assert "When in doubt, throw it out" in words.caution_line()
    assert "Extension" in words.where_to_ask() and "laboratory" in words.where_to_ask()
    assert "poison centre" in words.when_ill() and "ungutted" in words.not_covered()


# ---- a batch that is not to be made


@pytest.mark.parametrize("keep", KEEP)
@pytest.mark.parametrize("eat", EAT)
def test_only_a_known_place_and_a_known_meal_let_a_batch_be_made(keep, eat):
    allowed = keep in ("cupboard", "cold", "freezer") and eat in ("ready", "cook_first")
    assert words.refused(Verdict(keep, eat, None, (), (), ())) == (not allowed)


def test_each_reason_that_refuses_a_batch_stands_with_its_way_out():
    raw = Facts(gutted=False, smells_normal=True, hours_above_4c=0.0, hours_above_21c=0.0, hours_flesh_10_to_57=9.0)
    changes = words.changes_needed(judge(raw))
    told = {reason.rule: way for reasons, way in changes for reason in reasons}
    assert told["G1"].startswith("Gut the fish") and "probe" in told["T1"] and told["T1"] == told["T2"]
    assert {"G2", "G3", "T1", "T2"} <= set(told) and all(told.values())
    assert len({way for _, way in changes}) == len(changes)


def test_every_row_that_can_refuse_has_a_way_out():
    """Whatever refuses says what to change: rows of the rules by what they do in a plan, rungs by what they say."""
    refusing = [judge(Facts(**{name: value})) for name, value in (
        ("gutted", False), ("gutted", None), ("smells_normal", False), ("thawed_in_vacuum", True), ("hours_above_21c", 9.0),
        ("advisory_species", True), ("species_known", False), ("outside_range", ("x",)), ("target_reached", None),
    )]  # fmt: skip
    assert all(reason.way_out for verdict in refusing for reason in words.blocking(verdict))
    assert all(rung.way_out for rung in ladder() if rung.says in ("not_known", "no"))


def test_the_first_reason_is_one_that_makes_the_verdict_what_it_is():
    verdict = judge(Facts(heat_core=74.0, heat_hold_min=1.0, heat_probed=True, gutted=False))
    assert words.first_reason(verdict) == words.blocking(verdict)[0].text
    assert not any(words.speaks_for_it(reason) for reason in words.blocking(verdict))


# ---- deadlines

READY, UNSURE, NO = Deadline(7.51, "ready", 0.75), Deadline(12.63, "not_known", 0.98), Deadline(None, "no", 1.0)


def test_deadlines_are_told_with_their_chance_and_what_holds_later():
    assert words.deadline_words((READY, UNSURE, NO)) == (
        "Ready to eat if the marked piece is down to its stop weight within 7 h 30 min of the heating: 7 of 10 such batches make it.",
        "Later: not known.", "After 12 h 35 min: do not eat.",
    )  # fmt: skip
    assert words.deadline_words((UNSURE, NO))[0].startswith("Whether it may be eaten is not known even if")
    assert words.deadline_words((READY, Deadline(None, "not_known", 1.0)))[1:] == ("Later: not known.",)


def test_where_no_clock_stands_in_the_way_nothing_is_told():
    assert words.deadline_words(()) == () == words.deadline_words((Deadline(None, "ready", 1.0),))


def test_deadlines_by_the_clock():
    told = words.deadline_words((READY, UNSURE, NO), lambda hours: f"at {hours:.2f}")
    assert (
        "within 7 h 30 min (at 7.51) of the heating" in told[0]
        and told[2] == "After 12 h 35 min (at 12.63): do not eat."
    )


@given(st.floats(0.0, 100.0))
def test_hours_are_rounded_down_to_five_minutes(hours):
    told = words.hours_words(hours)
    found = {unit: int(number) for number, unit in re.findall(r"(\d+) (h|min)", told)}
    minutes = 60 * found.get("h", 0) + found.get("min", 0)
    assert minutes % 5 == 0 and minutes <= 60 * hours + 1e-3 and 60 * hours - minutes < 5 + 1e-3


@pytest.mark.parametrize(
    ("share", "told"),
    [(1.0, "nearly all"), (0.999, "9 of 10"), (0.7, "7 of 10"), (0.09, "fewer than 1 of 10"), (0.0, "fewer")],
)
def test_chances_are_rounded_down_and_never_certain(share, told):
    assert words.chance_words(share).startswith(told)


# ---- what is not known


def test_every_path_of_a_plan_has_plain_words_of_its_own_or_shares_them():
    outcome = plan(own.demo_batch("kingfisher"), members=8, sketch=True)
    paths = [f"{name}.{key}" for name in SECTIONS for key in getattr(outcome, name)]
    paths += [f"{section}.{key}" for section, keys in HELPFUL.items() for key in keys]
    assert set(paths) | {item.name for item in fields(Facts)} - NEVER_MISSING <= set(fact_words())
    assert len(words.plain_words([path for path in paths if path.startswith("brine.")])) == 1
    assert words.plain_words(["gutted", "fish.gutted"]) == ("whether the fish was gutted",)
