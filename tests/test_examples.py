"""Every example of a docstring runs, and those of formulas show what the check value they name says."""

import doctest
import importlib
import re
from pathlib import Path

import pytest

from flakeyard import tables

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src"
MARK = "  # check value "


def examples():
    """Modules whose docstrings hold examples, and the examples of each."""
    for path in sorted(SOURCE.rglob("*.py")):
        if ">>> " in path.read_text(encoding="utf-8"):
            name = ".".join(path.relative_to(SOURCE).with_suffix("").parts)
            tests = doctest.DocTestFinder(exclude_empty=True).find(importlib.import_module(name))
            yield name, [one for test in tests for one in test.examples]


EXAMPLES = dict(examples())
CHECKED = [one for found in EXAMPLES.values() for one in found if MARK in one.source]


@pytest.mark.parametrize("module", EXAMPLES)
def test_examples_run(module, monkeypatch):
    monkeypatch.chdir(ROOT)
    failed, tried = doctest.testmod(importlib.import_module(module))
    assert tried == len(EXAMPLES[module]) > 0 and not failed


def test_formulas_have_examples():
    assert len(CHECKED) >= 16


@pytest.mark.parametrize("example", CHECKED, ids=lambda one: one.source.rpartition(" ")[2].strip())
def test_an_example_shows_what_its_check_value_says(example):
    call, _, id = example.source.strip().partition(MARK)
    (row,) = (one for one in tables.check_values() if one.id == id)
    name = row.function.rpartition(".")[2]
    assert f"{name}({', '.join(f'{key}={value}' for key, value in row.inputs.items())})" in call
    shown = example.want.strip().strip("'")
    last_digit = 10.0 ** (int(f"{float(shown):e}".partition("e")[2]) + 1 - int(re.search(r":\.(\d)g", call)[1]))
    assert float(shown) == pytest.approx(row.expected, abs=row.atol + row.rtol * abs(row.expected) + 0.5 * last_digit)
