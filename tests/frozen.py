"""Freeze what `flakeyard plan --json` and `log --json` say of many invented batches, and compare with it later.

    python tests/frozen.py make FOLDER       before a change that must not move a number
    python tests/frozen.py compare FOLDER    after it: every difference by batch and item; exit 1 where there is one

Inputs stand in the folder beside the results, so both runs read the same files.
"""

from __future__ import annotations

import contextlib
import csv
import io
import json
import random
import sys
from pathlib import Path

import tomli_w

BATCHES, LOGS, SEED, CLOSE = 60, 20, 2026, 1e-12
HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "data_demo")]


def told(*words: str):
    """What the command prints as JSON, or its exit code and error in words."""
    from flakeyard import cli

    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = cli.main([*words, "--json"])
    return json.loads(out.getvalue()) if code == 0 else {"exit": code, "said": err.getvalue().strip()}


def write_inputs(folder: Path) -> None:
    import make_logs
    from random_batches import odd_typed, random_typed

    folder.mkdir(parents=True)
    for number in range(BATCHES):
        luck = random.Random(SEED + number)
        typed = odd_typed(luck) if number % 3 == 0 else random_typed(luck)
        (folder / f"batch-{number:02d}.toml").write_text(tomli_w.dumps(typed), encoding="utf-8")
    for number in range(LOGS):
        name = tuple(make_logs.HIDDEN)[number % len(make_logs.HIDDEN)]
        (folder / f"log-{number:02d}-{name}.toml").write_bytes((HERE / "old_files" / f"{name}.toml").read_bytes())
        with (folder / f"log-{number:02d}-{name}.csv").open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows([("time", "tray", "mass_g", "note"), *make_logs.log(name, 100 + number)])


def results(folder: Path):
    for path in sorted(folder.glob("*.toml")):
        log = path.with_suffix(".csv")
        yield path.stem, told("log", str(path), str(log)) if log.exists() else told("plan", str(path))


def differences(before, after, path: str = ""):
    if isinstance(before, dict) and isinstance(after, dict):
        for key in dict.fromkeys([*before, *after]):
            yield from differences(before.get(key, "nothing"), after.get(key, "nothing"), f"{path}.{key}".lstrip("."))
    elif isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        for number, pair in enumerate(zip(before, after, strict=True)):
            yield from differences(*pair, f"{path}[{number}]")
    elif isinstance(before, float) and isinstance(after, float):
        if abs(before - after) > CLOSE * max(1.0, abs(before)):
            yield path, before, after
    elif before != after:
        yield path, before, after


def main(what: str, where: str) -> int:
    folder = Path(where)
    if what == "make":
        write_inputs(folder)
        for name, result in results(folder):
            (folder / f"{name}.json").write_text(json.dumps(result, ensure_ascii=False, indent=1), encoding="utf-8")
        return 0
    changed = 0
    for name, result in results(folder):
        before = json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))
        for path, old, new in differences(before, result):
            changed += 1
            print(f"{name} {path}: {old!r} -> {new!r}")
    print(f"{changed} differences in {len(list(folder.glob('*.json')))} results")
    return 1 if changed else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
