"""Two kinds of fish in one answer: neither is lost, and one with words beside it stays one."""

import pytest

from flakeyard.steps.intent.fields import NOT_KNOWN
from flakeyard.workbook.asking import question_at
from flakeyard.workbook.two_fishes import two_fishes

SPECIES = question_at("fish.species")


@pytest.mark.parametrize(
    ("text", "known", "other"),
    [
        ("haddock or cod", ["cod"], "haddock"), ("cod I think, or maybe haddock", ["cod"], "haddock"), ("cod or tuna", ["cod", "Yellowfin tuna"], ""), ("salmon or trout", ["trout", "Atlantic salmon, farmed"], ""),
        ("cod or gurnard", ["cod"], "gurnard"), ("perch or walleye, 3 lb", ["perch", "walleye"], ""), ("cod fillets or loins", [], ""), ("cod in a bucket or something", [], ""), ("two lb of cod or so", [], ""),
        ("fresh or frozen cod", [], ""), ("trout and salt", [], ""), ("rainbow trout, farmed or wild", [], ""), ("cod, not haddock", [], ""),
    ],
)  # fmt: skip
def test_which_fishes_an_answer_leaves_open(text, known, other):
    found = two_fishes(SPECIES, text)
    named = [one.told[0][1] for one in found if one.told[0][1] != NOT_KNOWN]
    assert named[: len(known)] == known and bool(named) == bool(known)
    assert [one.shown.partition(":")[0] for one in found if one.told[0][1] == NOT_KNOWN] == ([other] if other else [])
