"""The words of verdicts: what they must say, and what no text here may ever claim."""

import re

import pytest

from flakeyard.steps.judge.facts import rule_texts
from flakeyard.steps.judge.safety import EAT, KEEP, Facts, Verdict, judge
from flakeyard.steps.judge.storing import Keeping
from flakeyard.workbook import words

TEXTS = list(words.all_texts())
# A claim, and the words by which a text refuses that claim.
NEVER = {
    "free of danger": (r"\b(is|are|be|now|it's|perfectly|completely) safe\b|\bsafe to (eat|keep)\b|risk[- ]free", None),
    "approved": (r"\bcertif|\bcomplian|\bapproved\b|\bguarantee|\bvalidated\b", r"^No text here calls"),
    "kills all": (r"\bkills? (all|every)|\bsteril", r"\bnot sterile\b"),
    "kept by taste": (
        r"\b(vinegar|lemon|sourness|smoke|tastes?|colour|bend)\b",
        r"does not|do not taste|is never|tastes old|Not covered",
    ),
    "poison undone": (r"(remove|undo|destroy|take)s? .{0,20}(histamine|toxin)", r"does not|No text here says"),
    "shelf-stable": (r"shelf[- ]stable", None),
    "for sale": (r"\b(sell|selling|sale|sales)\b", r"process authority about selling|Not covered"),
}


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
        for match in re.finditer(r"[−\d–.]+(?: and [−\d–.]+)? °C", text):
            rest = text[match.end() : match.end() + 30]
            assert re.match(r" \([−\d–.]+(?: and [−\d–.]+)? °F\)", rest) or re.match(r", \d+ °F\)", rest), (
                f"{place}: {text}"
            )


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
            text = words.verdict_sentence(Verdict(keep, eat, None, (), (), ()))
            assert text.endswith(words.caution_line())
            assert (words.COOK in text) == (eat == "cook_first")
            assert (words.NOT_KNOWN in text) == ("not_known" in (keep, eat))


def test_keeping_is_said_with_its_place_its_limit_and_what_comes_next():
    keeping = Keeping(14, "official_cap", "cupboard", {}, "What would go wrong next: mould, after about 30 days.", ())
    text = words.verdict_sentence(Verdict("cupboard", "ready", 0.7, (), (), ()), keeping)
    assert "Cupboard, 14 days at most" in text and "In the cupboard 14 days at most" in text and "mould" in text
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
