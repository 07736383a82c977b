"""Helps build.sh: is the Pyodide distribution new enough, and the workbooks with a first cell that installs the package."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path

LEAST = {"numpy": (2, 0), "scipy": (1, 14), "pandas": (2, 2), "matplotlib": (3, 8)}
INSTALL = "%pip install -q flakeyard pypdf ipywidgets anywidget"


def too_old(lock: dict) -> list[str]:
    """What the distribution lacks, one line each; empty when all is there."""
    packages = {name.lower(): entry["version"] for name, entry in lock["packages"].items()}
    wrong = []
    for name, least in LEAST.items():
        found = packages.get(name)
        if found is None or tuple(int(part) for part in found.split(".")[:2]) < least:
            wrong.append(f"{name} {'.'.join(map(str, least))} or newer is needed, the distribution has {found}")
    return wrong


def prepare(course: Path, files: Path) -> None:
    """Copy the course; each workbook begins by installing the package from the wheels that came with the page."""
    shutil.copytree(course / "data_demo", files / "data_demo")
    shutil.copytree(course / "workbooks", files / "workbooks", ignore=shutil.ignore_patterns(".*", "__pycache__"))
    for workbook in (files / "workbooks").glob("*.ipynb"):
        notebook = json.loads(workbook.read_text(encoding="utf-8"))
        cell = {
            "cell_type": "code",
            "id": "install",
            "metadata": {},
            "execution_count": None,
            "outputs": [],
            "source": INSTALL,
        }
        notebook["cells"].insert(1, cell)
        notebook["metadata"]["kernelspec"] = {
            "name": "python",
            "display_name": "Python (Pyodide)",
            "language": "python",
        }
        workbook.write_text(json.dumps(notebook, indent=1, ensure_ascii=False), encoding="utf-8")


def main(task: str, *places: str) -> int:
    """`lock FILE` or `course FROM TO`."""
    if task == "course":
        prepare(Path(places[0]), Path(places[1]))
        return 0
    wrong = too_old(json.loads(Path(places[0]).read_text(encoding="utf-8")))
    print("\n".join(wrong), file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
