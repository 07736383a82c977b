"""Every file that a person may write gets a plan or a sentence: never a traceback, never a number that is none."""

import json
import math
import random
import resource
import time

import pytest
import tomli_w
from random_batches import odd_typed, random_typed

from flakeyard import cli


def typed_of(number: int) -> dict:
    luck = random.Random(number)
    return odd_typed(luck) if number % 3 else random_typed(luck)


def numbers(value):
    if isinstance(value, dict | list):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from numbers(inner)
    elif isinstance(value, float):
        yield value


def ends(number: int, folder, capsys) -> int:
    """The exit code of a plan; a result holds numbers, a refusal a sentence."""
    path = folder / "batch.toml"
    path.write_text(tomli_w.dumps(typed_of(number)), encoding="utf-8")
    code = cli.main(["plan", str(path), "--json"])
    out, err = capsys.readouterr()
    assert code in (0, 2), (number, code, err)
    if code == 0:
        assert all(map(math.isfinite, numbers(json.loads(out)))), number
    else:
        assert "cannot be used" in err and "Traceback" not in err, (number, err)
    return code


@pytest.mark.parametrize("number", range(40))
def test_a_valid_file_has_a_plan_and_any_other_a_sentence(number, tmp_path, capsys):
    ends(number, tmp_path, capsys)


@pytest.mark.slow
def test_three_thousand_files(tmp_path, capsys):
    began, found = time.process_time(), []
    for number in range(3000):
        found.append(ends(number, tmp_path, capsys))
    with capsys.disabled():
        largest = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"\n{found.count(0)} plans, {found.count(2)} sentences, {time.process_time() - began:.0f} s, {largest:.0f} MB at most"
        )
