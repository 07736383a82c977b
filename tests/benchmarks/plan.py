"""Where the time of a whole plan goes: imports, reading, salting, drying, judging; and one move of the panel.

Run by hand: python tests/benchmarks/plan.py. It prints what this machine needs; compare shares, not seconds.
"""

import cProfile
import itertools
import os
import pstats
import statistics
import subprocess
import sys
import time
from pathlib import Path

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "heron.toml"
PARTS = {
    "fish.py": "fish", "brining.py": "brine", "salting.py": "salt", "heating.py": "heat", "slab_drying.py": "drying solver",
    "drying.py": "drying, rest", "safety.py": "judging", "storing.py": "keeping", "batch_file.py": "reading",
}  # fmt: skip
ENTRIES = {"prepare_fish", "mix", "cure", "heat", "dry", "dry_load", "judge", "keep_until", "load_batch"}


def median(call, repeats: int = 5) -> float:
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def process(*arguments: str) -> float:
    """CPU seconds of a whole process, which other work on the machine does not stretch; the least of three."""
    spent = []
    for _ in range(3):
        before = os.times()
        subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
        after = os.times()
        spent.append(after.children_user + after.children_system - before.children_user - before.children_system)
    return min(spent)


def shares(call) -> dict[str, float]:
    """Cumulative seconds in the entry function of each step."""
    profile = cProfile.Profile()
    profile.runcall(call)
    found = {}
    for (file, _, name), (*_, cumulative, _callers) in pstats.Stats(profile).stats.items():
        part = PARTS.get(Path(file).name)
        if part and name in ENTRIES and "flakeyard" in file:
            found[part] = found.get(part, 0.0) + cumulative
    found["drying, rest"] = found.get("drying, rest", 0.0) - found.get("drying solver", 0.0)
    return found


def main() -> None:
    bare = process("-c", "pass")
    imports = process("-c", "import flakeyard.steps.plan.plan") - bare
    command = process("-m", "flakeyard.cli", "plan", str(DEMO), "--json")
    print(
        f"flakeyard plan, whole command  {command:6.2f} s CPU, of which imports {imports:.2f} s, bare Python {bare:.2f} s"
    )

    from flakeyard.steps.plan import plan as batch

    batch.plan(batch.load_batch(DEMO), members=8)
    whole = median(lambda: batch.plan(batch.load_batch(DEMO)))
    print(f"plan of 200 members, warm      {whole:6.2f} s")
    found = shares(lambda: batch.plan(batch.load_batch(DEMO)))
    for part, seconds in sorted(found.items(), key=lambda item: -item[1]):
        print(f"  {part:<16} {100 * seconds / sum(found.values()):5.1f} %")

    from flakeyard.workbook import own
    from flakeyard.workbook.panels import panel as panels
    from flakeyard.workbook.panels import whole_batch

    panel = whole_batch.whole_batch_panel(own.demo_batch("heron"), panels.Choice("both"))
    marks = itertools.product((0.05, 0.06, 0.07, 0.08, 0.09), (0.005, 0.006, 0.007, 0.008))  # never twice the same
    move = median(lambda: panel.set(**dict(zip(("fat", "thickness"), next(marks), strict=True))), 20)
    print(f"one move of the panel          {1000 * move:6.0f} ms, kernel side")


if __name__ == "__main__":
    main()
