"""The worksheets of the course as pages for the printer, from the plain text files beside the workbooks.

A worksheet is a small part of Markdown: `# ` title, `## ` headings, paragraphs, `- [ ] ` and `- ` items, `1. ` numbered
questions, tables (empty cells are to be filled in), and a line of underscores for a rule to write on.
"""

from __future__ import annotations

import re
from pathlib import Path

from flakeyard.workbook.paper.sheet import MARGIN, TICK, Column, Page

SIZES = (12.5, 12.0, 11.5, 11.0, 10.5, 10.0, 9.5, 9.0, 8.5)  # points; the largest that fits on one page is taken
ITEM = re.compile(r"(?P<mark>- \[ \]|-|\d+\.)\s+(?P<text>.*)")
RULE = re.compile(r"_{4,}")
LINE = 2.1  # height of a line to write on, of a cell to write in: over the size of the type


def worksheet_files(folder: str | Path) -> list[Path]:
    """The worksheets of a course folder, in the order of the workbooks."""
    return sorted(Path(folder, "workbooks", "worksheets").glob("*.md"))


def worksheet(text: str, paper: str = "a4") -> Page:
    """One page for one worksheet, in the largest type that fits.

    Raises: ValueError when it does not fit on a page in the smallest type.
    """
    for size in SIZES:
        page = Page(paper)
        (column,) = page.columns(MARGIN)
        _set(column, text, size)
        if page.overfull <= 0:
            return page
    raise ValueError(f"the worksheet is {page.overfull:.0f} points too long for one page of {paper}; shorten it")


def _set(column: Column, text: str, size: float) -> None:
    for block in blocks(text):
        if block[0].startswith("|"):
            _table(column, block, size)
        elif block[0].startswith("# "):
            column.line(block[0][2:], 1.7 * size, bold=True)
            column.skip(3)
        elif block[0].startswith("## "):
            column.heading(block[0][3:], 1.2 * size)
        elif RULE.fullmatch(block[0]):
            column.write_on(height=LINE * size)
        elif item := ITEM.fullmatch(" ".join(block)):
            mark = TICK if item["mark"].startswith("- [") else item["mark"].replace("-", "•")
            _written(column, item["text"], size, mark)
        else:
            _written(column, " ".join(block), size)


def _written(column: Column, text: str, size: float, mark: str = "") -> None:
    """A paragraph or item; underscores at its end become a rule to write on below it."""
    said = plain(re.sub(r"\s*_{4,}\s*$", "", text))
    if mark:
        column.item(said, size, mark)
    else:
        column.paragraph(said, size)
        column.skip(3)
    if said != plain(text):
        column.write_on(height=LINE * size)


def _table(column: Column, block: list[str], size: float) -> None:
    rows = [[plain(cell.strip()) for cell in row.strip().strip("|").split("|")] for row in block]
    head, body = rows[0], [row for row in rows[1:] if not all(re.fullmatch(r":?-+:?", cell) for cell in row)]
    longest = [max(len(row[n]) for row in [head, *body]) for n in range(len(head))]
    word = [max(len(part) for row in [head, *body] for part in [*row[n].split(), ""]) for n in range(len(head))]
    column.skip(2)
    column.table(
        head,
        body,
        [max(min(share, 34), least + 3, 9) for share, least in zip(longest, word, strict=True)],
        size - 0.5,
        LINE * size,
    )


def blocks(text: str) -> list[list[str]]:
    """Lines that belong together: a table, an item with its following lines, a paragraph, a heading."""
    found: list[list[str]] = []
    fresh = True
    for line in text.splitlines():
        line = line.strip()
        table, alone = line.startswith("|"), bool(line.startswith("#") or RULE.fullmatch(line))
        starts = alone or ITEM.fullmatch(line) or fresh or table != found[-1][0].startswith("|")
        if not line:
            fresh = True
            continue
        if starts:
            found.append([line])
        else:
            found[-1].append(line)
        fresh = alone
    return found


def plain(text: str) -> str:
    """Text without the stars and back quotes of Markdown."""
    return re.sub(r"[*`]", "", text)
