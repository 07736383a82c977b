"""Hostile files: whatever stands in a batch file or a profile, there is a result or a refusal that says what is wrong."""

import pytest
from hostile import faults, few_members, outcome, page

SLICE, SOME, ALL = 25, 6, 2000  # pages in a test, tests of every run, pages of the long one


def spoiled(kind: str, numbers: range, folder) -> dict[int, str]:
    """What is wrong with the outcomes, by the number of the page: see it with ``hostile.page(kind, number)``."""
    with few_members():
        told = {number: outcome(kind, page(kind, number), folder) for number in numbers}
    assert {code for code, _, _ in told.values()} >= {0, 2} or len(numbers) < 20
    return {number: f"{found}: {told[number][2]}" for number in numbers if (found := faults(*told[number]))}


@pytest.mark.parametrize("part", range(SOME))
@pytest.mark.parametrize("kind", ["batch", "profile"])
def test_some_hostile_pages(kind, part, tmp_path):
    assert not spoiled(kind, range(part * SLICE, (part + 1) * SLICE), tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["batch", "profile"])
def test_many_hostile_pages(kind, tmp_path):
    assert not spoiled(kind, range(SOME * SLICE, ALL), tmp_path)


@pytest.mark.parametrize(
    ("code", "out", "errors"),
    [
        (3, "", "flakeyard: this is a mistake of the program"),
        (2, "", "flakeyard: no"),
        (2, "", "Example: \x1b[2J"),
        (2, "", "Example: x\n" * 11),
        (0, "", ""),
        (0, '{"days": NaN}', ""),
        (0, "a plan", "Traceback (most recent call last):"),
    ],
)
def test_a_bad_outcome_is_seen(code, out, errors):
    assert faults(code, out, errors)


def test_a_good_outcome_passes():
    assert not faults(0, '{"days": 3}', "flakeyard: still computing the plan …\n")
    assert not faults(2, "", "flakeyard: [fish] fat: 62 cannot be used: no. Allowed: 0 to 35. Example: fat = 6.2\n")
