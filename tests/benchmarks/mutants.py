"""Which small slips in the judging would no test see? Run: python tests/benchmarks/mutants.py [how many] [seed]

Each function of the judging is written many times, each time with one slip (a limit compared the other way, a word left
out, "and" for "or"); a sample of the slips is tried, each against the tests of its file. It prints the share that some
test saw, and those that none did. The slips are made by mutmut (the extra `bench`); the copy lies in a temporary folder.
"""

import ast
import difflib
import os
import random
import shutil
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
JUDGE, PLAN, LEARN = "tests/steps/judge/", "tests/steps/plan/", "tests/steps/learn/"
TESTS = {  # file below src/flakeyard/steps: what is tried against it, the quick ones first
    "judge/safety.py": ("test_safety_edges", "test_safety", "test_warm_hours", PLAN + "test_facts", "tests/test_cautions"),
    "judge/storing.py": ("test_storing", "test_packing", PLAN + "test_packs", PLAN + "test_facts", PLAN + "test_ranges"),
    "judge/facts.py": ("test_safety_edges", "test_safety", PLAN + "test_facts"),
    "judge/clock.py": ("test_clock", "test_safety_edges", "test_safety"),
    "judge/warm_hours.py": ("test_warm_hours", "test_safety_edges", "test_safety", LEARN + "test_clocks"),
    "plan/judging.py": (PLAN + "test_facts", PLAN + "test_ranges", PLAN + "test_packs", PLAN + "test_gains", LEARN + "test_clocks"),
    "plan/deadlines.py": (PLAN + "test_gains", LEARN + "test_clocks"),
}  # fmt: skip
ENOUGH = 300  # seconds until a slip that never ends counts as seen


def copy_with_slips(folder: Path) -> dict[str, tuple[str, str]]:
    """The project in a folder, every slip in it; of each slip its name: the file and the lines that differ."""
    from mutmut.mutation.file_mutation import mutate_file_contents

    for name in ("src", "tests", "data_demo", "workbooks", "pyproject.toml", "README.md", "DEVELOPERS.md", "LICENSE"):
        copy = shutil.copytree if (ROOT / name).is_dir() else shutil.copy
        copy(ROOT / name, folder / name)
    found = {}
    for file in TESTS:
        path = folder / "src/flakeyard/steps" / file
        made = mutate_file_contents(str(path), path.read_text(encoding="utf-8")).code
        path.write_text(made, encoding="utf-8")
        functions = {node.name: node for node in ast.walk(ast.parse(made)) if isinstance(node, ast.FunctionDef)}
        module = f"flakeyard.steps.{file[:-3].replace('/', '.')}"
        found |= {
            f"{module}.{name}": (file, _differing(functions[f"{name.rpartition('__mutmut_')[0]}__mutmut_orig"], node))
            for name, node in functions.items()
            if name.rpartition("__mutmut_")[2].isdigit()
        }
    return found


def _differing(right: ast.FunctionDef, slip: ast.FunctionDef) -> str:
    lines = [ast.unparse(function).splitlines()[1:] for function in (right, slip)]
    return "\n".join(
        f"    {line}" for line in difflib.unified_diff(*lines, n=0, lineterm="") if line[:2] not in ("--", "++", "@@")
    )


def seen(name: str, file: str) -> bool:
    """Whether a test fails with this slip, tried in a process of its own."""
    child = os.fork()
    if child == 0:
        import signal

        import pytest

        signal.alarm(ENOUGH)
        os.environ["MUTANT_UNDER_TEST"] = name
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1), os.dup2(quiet, 2)
        tests = [f"{one if '/' in one else JUDGE + one}.py" for one in TESTS[file]]
        os._exit(int(pytest.main(["-x", "-q", "-n0", "-p", "no:cacheprovider", *tests])))
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) != 0


def main(sample: int = 300, seed: int = 13) -> None:
    with tempfile.TemporaryDirectory() as place:
        slips = copy_with_slips(Path(place))
        os.chdir(place)
        sys.path[:0] = [f"{place}/src", f"{place}/tests"]
        import flakeyard.steps.plan.plan  # noqa: F401, the imports that every slip needs

        chosen = random.Random(seed).sample(sorted(slips), min(sample, len(slips)))
        for name in (missed := [name for name in chosen if not seen(name, slips[name][0])]):
            print(f"{name.removeprefix('flakeyard.steps.')}\n{slips[name][1]}")
        print(f"{len(chosen) - len(missed)} of {len(chosen)} slips seen ({len(slips)} in all)")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
