"""Imports run downwards only, and importing the package stays light."""

import ast
import graphlib
import subprocess
import sys
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[1] / "src" / "flakeyard"
FORBIDDEN = {
    "models": (
        "pint",
        "pandas",
        "matplotlib",
        "ipywidgets",
        "flakeyard.steps",
        "flakeyard.workbook",
        "flakeyard.tables",
        "flakeyard.limits",
        "flakeyard.units",
    ),
    "steps": ("matplotlib", "ipywidgets", "flakeyard.workbook", "flakeyard.cli"),
}


def imported(path: Path) -> set[str]:
    """Absolute names of everything a module imports, in functions too."""
    names = set()
    package = ["flakeyard", *path.relative_to(SOURCE).parent.parts]
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else []
            base = ".".join([*above, *([node.module] if node.module else [])])
            names |= {base} | {f"{base}.{alias.name}" for alias in node.names}
    return names


@pytest.mark.parametrize(
    ("storey", "path"),
    [(storey, path) for storey in FORBIDDEN for path in sorted((SOURCE / storey).rglob("*.py"))],
    ids=lambda value: value.name if isinstance(value, Path) else value,
)
def test_imports_run_downwards(storey, path):
    wrong = {name for name in imported(path) for ban in FORBIDDEN[storey] if name == ban or name.startswith(ban + ".")}
    assert not wrong


ROOMS = {  # from the ground up: a room imports only from rooms before it
    "steps": ("intent", "judge", "chain", "plan", "learn"),
    "workbook": ("panels", "paper", "pages"),
}


def test_rooms_of_the_steps_are_these():
    for storey, rooms in ROOMS.items():
        assert {path.parent.name for path in (SOURCE / storey).rglob("*.py")} == {storey, *rooms}


@pytest.mark.parametrize("room", ROOMS["steps"])
def test_imports_between_rooms_run_downwards(room):
    above = ROOMS["steps"][ROOMS["steps"].index(room) + 1 :]
    for path in (SOURCE / "steps" / room).glob("*.py"):
        wrong = {name for name in imported(path) for upper in above if name.startswith(f"flakeyard.steps.{upper}")}
        assert not wrong, path.name


def test_no_module_of_the_workbook_imports_one_that_imports_it():
    """However many rooms lie between; `CycleError` names them."""
    every = {
        ".".join(path.relative_to(SOURCE.parent).with_suffix("").parts): path
        for path in (SOURCE / "workbook").rglob("*.py")
    }
    needs = {name: imported(path) & set(every) for name, path in every.items()}
    assert set(graphlib.TopologicalSorter(needs).static_order()) == set(every)


def test_the_ground_imports_nothing_from_above():
    for name in ("units", "tables", "limits", "files", "reading", "remembered", "refused", "spoken"):
        path = SOURCE / f"{name}.py"
        wrong = {one for one in imported(path) if one.startswith(("flakeyard.steps", "flakeyard.workbook"))}
        assert not path.exists() or not wrong


def test_the_map_names_every_module():
    told = (SOURCE.parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
    missing = [
        path.stem
        for path in SOURCE.rglob("*.py")
        if path.stem not in ("__init__", "__main__") and path.stem not in told
    ]
    assert not missing


@pytest.mark.parametrize("module", ["flakeyard", "flakeyard.cli", "flakeyard.workbook.paper.kitchen"])
def test_importing_is_light(module):
    code = (
        f"import sys, {module}; print([m for m in ('matplotlib', 'ipywidgets', 'pandas', 'pint') if m in sys.modules])"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert told.strip() == "[]"


def test_one_unit_registry():
    makers = [p.name for p in SOURCE.rglob("*.py") if "UnitRegistry(" in p.read_text(encoding="utf-8")]
    assert makers == ["units.py"]
