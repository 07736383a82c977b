"""The workbooks as documents: outputs stored, budgets kept, links alive, every exercise answered.

That they run is shown by running them (nbval, on the same files); that their panels move is shown in tests/browser.
"""

import ast
import csv
import json
import re
from functools import cache
from pathlib import Path
from urllib.parse import unquote

import pytest

import flakeyard as fy

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "workbooks"
NAMES = sorted(path.name for path in FOLDER.glob("*.ipynb"))
EXPECTED = (
    "00-start-here", "01-fish-and-cut", "02-brine", "03-salt-in-salt-out", "04-warm-dry-air", "05-bound-water",
    "06-dry-to-weight", "07-keep-it", "08-plan-log-learn",
)  # fmt: skip
PLOTTING = re.compile(r"\b(matplotlib|pyplot|plt|ax\.|fig\.|subplots|set_xlabel|savefig|add_subplot)")
LINK = re.compile(r"(?<!!)\[[^\]]*\]\(([^)\s]+)\)")

each = pytest.mark.parametrize("name", NAMES)


@cache
def notebook(name: str) -> dict:
    return json.loads((FOLDER / name).read_text(encoding="utf-8"))


def cells(name: str, kind: str = "", tag: str = "") -> list[dict]:
    return [
        cell
        for cell in notebook(name)["cells"]
        if (not kind or cell["cell_type"] == kind) and (not tag or tag in tags(cell))
    ]


def tags(cell: dict) -> list[str]:
    return cell["metadata"].get("tags", [])


def source(cell: dict) -> str:
    return "".join(cell["source"])


def code_lines(cell: dict) -> list[str]:
    return [line for line in source(cell).splitlines() if line.strip() and not line.lstrip().startswith("#")]


def prose(name: str) -> str:
    return "\n".join(source(cell) for cell in cells(name, "markdown"))


def words(text: str) -> int:
    text = re.sub(r"<[^>]*>|\$[^$]*\$|\]\([^)]*\)", " ", text)
    return len(re.findall(r"[^\W\d_][\w’'-]*", text))


def headings(name: str, level: int) -> list[str]:
    return re.findall(rf"^{'#' * level} (.+)$", prose(name), flags=re.MULTILINE)


@cache
def folded_answers() -> tuple[str, ...]:
    """How each folded answer at the foot of a panel ends."""
    texts = (ROOT / "src/flakeyard/data/messages.csv").read_text(encoding="utf-8").splitlines()
    rows = [row for row in csv.DictReader(texts) if re.fullmatch(r"live\.\w+\.saw\w*_\d", row["name"])]
    assert len(rows) >= 3 * len(NAMES)
    return tuple(row["text"].split("}")[-1][-60:] for row in rows)


def replies_in(code: str) -> list[str]:
    """What the questions of a cell say to those who have answered."""
    found = []
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, ast.Dict):
            found += [value.value for value in node.values if isinstance(value, ast.Constant)]
        if isinstance(node, ast.keyword) and node.arg == "why":
            found.append(node.value.value)
    return found


def test_workbooks_are_numbered_as_the_course_is():
    assert [Path(name).stem for name in NAMES] == list(EXPECTED)


@each
def test_every_code_cell_was_run_once_in_order(name):
    counts = [cell["execution_count"] for cell in cells(name, "code") if source(cell).strip()]
    assert counts == list(range(1, len(counts) + 1))


@each
def test_compared_cells_have_a_stored_output(name):
    """A compared cell without a stored output would pass without comparing anything."""
    compared = cells(name, "code", "nbval-check-output")
    assert compared, "no cell of this workbook is compared"
    assert all(any(output["output_type"] != "error" for output in cell["outputs"]) for cell in compared)


@each
def test_no_error_is_stored_unless_it_is_meant(name):
    for cell in cells(name, "code"):
        failed = any(output["output_type"] == "error" for output in cell["outputs"])
        assert failed <= ("raises-exception" in tags(cell)), source(cell)


@each
def test_nothing_of_one_run_only_is_stored(name):
    """No widget state, no widget without a stand-in for paper, no timings, no path of somebody's computer."""
    assert "widgets" not in notebook(name)["metadata"]
    assert all("execution" not in cell["metadata"] for cell in notebook(name)["cells"])
    for cell in cells(name, "code"):
        for output in cell["outputs"]:
            assert "application/vnd.jupyter.widget-view+json" not in output.get("data", {}), source(cell)
    text = re.sub(r"[A-Za-z0-9+/=]{200,}", "", (FOLDER / name).read_text("utf-8"))  # leaving out the dots of pictures
    assert not re.search(r"(/(home|root|tmp|Users)/|[A-Z]:\\\\Users)", text)


@each
def test_size_budgets(name):
    assert 25 <= len(cells(name)) <= 45
    assert 700 <= words(prose(name)) <= 900
    assert 4 <= len(headings(name, 2)) <= 14  # the template has fourteen parts, not all of them with a heading
    assert len(headings(name, 1)) == 1


@each
def test_a_workbook_begins_at_its_picture_with_little_code_in_sight(name):
    first = next(place for place, cell in enumerate(cells(name)) if "panel" in tags(cell))
    before = "\n".join(source(cell) for cell in cells(name)[:first] if cell["cell_type"] == "markdown")
    open_code = [cell for cell in cells(name, "code") if not cell["metadata"].get("jupyter", {}).get("source_hidden")]
    assert words(before) <= 250
    assert sum(len(code_lines(cell)) for cell in open_code) <= 25


@each
def test_safety_stays_in_sight_and_comes_before_the_picture(name):
    first = next(place for place, cell in enumerate(cells(name)) if "panel" in tags(cell))
    (safety,) = (cell for cell in cells(name)[:first] if "safety" in tags(cell))
    assert source(safety).startswith("> **Before you start.**") and "<details>" not in source(safety)
    assert words(source(safety)) <= 75


@each
def test_no_answer_is_in_sight_before_it_is_asked_for(name):
    """Questions are folded with their answers in them; a check looks at what was typed, and nothing was typed yet."""
    for cell in cells(name, "code"):
        if "fy.ask(" in source(cell):
            assert cell["metadata"]["jupyter"]["source_hidden"], source(cell)
    for cell in cells(name, "markdown", "solution"):
        assert source(cell).startswith("<details>") and source(cell).endswith("</details>")
    for cell in cells(name, "code", "solution"):
        (told,) = {output["name"] for output in cell["outputs"]}
        assert told == "stdout" and "".join(cell["outputs"][0]["text"]).startswith("not yet"), source(cell)


@each
def test_nothing_that_is_stored_gives_an_answer_away(name):
    """Of a question the stored page keeps what is asked, and a line to write on or boxes to tick; of a panel no folded answer."""
    for cell in cells(name, "code"):
        stored = json.dumps(cell["outputs"], ensure_ascii=False)
        assert not [text for text in folded_answers() if text in stored], source(cell)
        if "fy.ask(" in source(cell):
            replies = replies_in(source(cell))
            assert replies and not [text for text in replies if text in stored], source(cell)
            assert ("My answer:" in stored) != ("☐" in stored)


@each
def test_code_cells_are_short_and_hold_no_plotting(name):
    for cell in cells(name, "code"):
        assert len(code_lines(cell)) <= 10, source(cell)
        assert len(re.findall(r"^\s*def ", source(cell), flags=re.MULTILINE)) <= 1, source(cell)
        assert not PLOTTING.search(source(cell)), source(cell)


@each
def test_at_least_twenty_words_for_a_line_of_code(name):
    lines = sum(len(code_lines(cell)) for cell in cells(name, "code"))
    assert words(prose(name)) >= 20 * lines


@each
def test_one_panel_or_two(name):
    assert 1 <= len(cells(name, "code", "panel")) <= 2


@each
def test_three_to_five_exercises_each_with_a_solution(name):
    """After each exercise, and before the next, stands a cell tagged solution that can be run."""
    marks = [
        "exercise" if "exercise" in tags(cell) else "solution"
        for cell in cells(name)
        if {"exercise", "solution"} & set(tags(cell)) and not (cell["cell_type"] == "code" and "exercise" in tags(cell))
    ]
    assert 3 <= marks.count("exercise") <= 5
    for place, mark in enumerate(marks):
        assert mark == "solution" or marks[place + 1 : place + 2] == ["solution"]
    assert all(cell["metadata"].get("jupyter", {}).get("source_hidden") for cell in cells(name, "code", "solution"))


@each
def test_set_up_comes_first_and_is_one_cell(name):
    assert len(cells(name, "code", "setup")) == 1
    assert cells(name, "code")[0] is cells(name, "code", "setup")[0]


@each
def test_each_workbook_runs_alone(name):
    for cell in cells(name, "code"):
        assert not re.search(r"%run|urllib|requests\.|https?://|\.ipynb", source(cell)), source(cell)


@each
def test_everything_comes_through_the_front_door(name):
    """One import of the package, and nothing of it by another way than a name of the door."""
    code = "\n".join(source(cell) for cell in cells(name, "code"))
    tree = ast.parse(code)
    imports = [ast.unparse(node) for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)]
    assert imports == ["import flakeyard as fy"]
    used = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute) and ast.unparse(node.value) == "fy"}
    assert "batch" in used or "study" in used
    assert used <= set(fy.__all__)


@each
def test_links_to_other_files_resolve(name):
    for target in LINK.findall(prose(name)):
        if not re.match(r"(https?:|mailto:|#)", target):
            assert (FOLDER / unquote(target.split("#")[0])).exists(), target


@each
def test_previous_and_next_stand_at_both_ends(name):
    place = NAMES.index(name)
    neighbours = NAMES[max(place - 1, 0) : place] + NAMES[place + 1 : place + 2]
    markdown = cells(name, "markdown")
    for neighbour in neighbours:
        assert any(f"({neighbour})" in source(cell) for cell in markdown[:2]), f"no link to {neighbour} at the top"
        assert any(f"({neighbour})" in source(cell) for cell in markdown[-3:]), f"no link to {neighbour} at the end"


@each
def test_pictures_in_the_text_have_words(name):
    assert not re.search(r"!\[\s*\]\(", prose(name))
    assert all('alt="' in picture for picture in re.findall(r"<img [^>]*>", prose(name)))


def test_every_workbook_has_a_worksheet_and_notes_for_the_leader():
    stems = [Path(name).stem for name in NAMES]
    assert [path.stem for path in sorted((FOLDER / "worksheets").glob("*.md"))] == stems
    notes = (FOLDER / "teaching.md").read_text(encoding="utf-8")
    assert [part[:2] for part in re.findall(r"^## (\d\d · .+)$", notes, flags=re.MULTILINE)] == [s[:2] for s in stems]
