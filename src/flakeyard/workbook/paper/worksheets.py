"""The worksheets of the course as pages for the printer, from the plain text files beside the workbooks, and for the class
leader the panels at three settings each.

A worksheet is a small part of Markdown: `# ` title, `## ` headings, paragraphs, `- [ ] ` and `- ` items, `1. ` numbered
questions, tables (empty cells are to be filled in), underscores for a rule to write on, and `---` for the next page. On a
line of their own, `[sketch]`, `[cut]` and `[picture]` are the lesson's pictures to draw in (`lesson_pictures`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from flakeyard.messages import say
from flakeyard.workbook import words
from flakeyard.workbook.panels import paper_pen
from flakeyard.workbook.paper.lesson_pictures import Pictures
from flakeyard.workbook.paper.sheet import MARGIN, TICK, Page, save_pdf

SIZES = (12.5, 12.0, 11.5, 11.0, 10.5, 10.0)  # points; the largest with which every page holds what is on it
ITEM = re.compile(r"(?P<mark>- \[ \]|-|\d+\.)\s+(?P<text>.*)")
RULE = re.compile(r"_{4,}")
BLANK = "_" * 11  # within a line
LINE = 24.0  # points: a line to write on, a cell to write in
LEAST = {"[sketch]": 190.0, "[cut]": 74.0, "[picture]": 150.0}  # points: how high a picture is at least
DRAWN = {"[sketch]": "guess", "[cut]": "cut", "[picture]": "empty"}
MOST, MOST_LINE = 1.9, 38.0  # times that, and points: what a page gives to its pictures and blanks where it has room
TURN, HEAD = "---", 14.0


def worksheet_files(folder: str | Path) -> list[Path]:
    """The worksheets of a course folder, in the order of the workbooks."""
    return sorted(Path(folder, "workbooks", "worksheets").glob("*.md"))


def write_worksheets(course: Path, path: str | Path, paper: str = "a4", system: str = "both") -> tuple[Path, Path]:
    """Write the sheets for the learners and, beside them, the leader's: nothing on the first answers a question.

    Raises: OSError when a file cannot be written
    """
    sheets, shown = [], []
    for file in worksheet_files(course):
        text, pictures = file.read_text(encoding="utf-8"), Pictures(file.stem[:2], system)
        sheets += worksheet(text, paper, pictures)
        shown.append(leader_sheet(title_of(text), paper, pictures))
    leader = leader_path(path)
    save_pdf(shown, leader, say("worksheet.leader_title"), language="en")
    return save_pdf(sheets, path, say("worksheet.title"), language="en"), leader


def leader_path(path: str | Path) -> Path:
    """Where the leader's sheets go: beside those for the learners."""
    return Path(path).with_name(f"{Path(path).stem}-leader.pdf")


def title_of(text: str) -> str:
    return next(line[2:].strip() for line in text.splitlines() if line.startswith("# "))


def worksheet(text: str, paper: str = "a4", pictures: Pictures | None = None) -> list[Page]:
    """The pages of one worksheet, in the largest type that fits; what is left of a page its pictures and blanks get.

    Raises: ValueError when a page does not hold its part in the smallest type.
    """
    system = pictures.system if pictures else "both"
    parts = re.split(rf"^{TURN}$", text, flags=re.MULTILINE)
    for size in SIZES:
        over = [Setting(Page(paper), part, size, system=system).over for part in parts]
        if max(over) <= 0:
            pages = [_filled(paper, part, size, pictures) for part in parts]
            return [_signed(page, title_of(text), number) for number, page in enumerate(pages, 1)]
    raise ValueError(f"the worksheet is {max(over):.0f} points too long for its pages of {paper}; shorten it")


def _signed(page: Page, title: str, number: int) -> Page:
    """Which sheet it is, for when the pages come apart."""
    page.text(page.width - page.margin, page.height - 16, f"{title} · {number}", 8, align="right")
    return page


def _filled(paper: str, part: str, size: float, pictures: Pictures | None) -> Page:
    """A page whose pictures are as high as there is room, and then its blanks."""
    system = pictures.system if pictures else "both"
    tall = _largest(paper, part, size, MOST, "tall", system=system)
    line = _largest(paper, part, size, MOST_LINE, "line", tall=tall, system=system)
    return Setting(Page(paper), part, size, tall=tall, line=line, pictures=pictures, system=system).page


def _largest(paper: str, part: str, size: float, most: float, name: str, **how) -> float:
    """The largest of a measure with which the page still holds its part."""
    least = getattr(Setting, name)
    for step in range(20, 0, -1):
        tried = least + (most - least) * step / 20
        if Setting(Page(paper), part, size, **how | {name: tried}).over <= 0:
            return tried
    return least


@dataclass
class Setting:
    """A part of a worksheet set on a page; without pictures their places stay empty."""

    page: Page
    part: str
    size: float
    tall: float = 1.0  # times the least height of a picture
    line: float = LINE
    pictures: Pictures | None = None
    system: str = "both"

    def __post_init__(self):
        (self.column,) = self.page.columns(MARGIN)
        for block in blocks(self.part):
            self._block(block)

    @property
    def over(self) -> float:
        """Points over the foot of the page; below 0 the room that is left."""
        return self.page.overfull

    def _block(self, block: list[str]) -> None:
        column, size = self.column, self.size
        if block[0] in LEAST:
            self._picture(block[0])
        elif block[0].startswith("|"):
            self._table(block)
        elif block[0].startswith("# "):
            column.line(block[0][2:], 1.6 * size, bold=True)
            column.skip(2)
        elif block[0].startswith("## "):
            column.heading(block[0][3:], 1.15 * size)
        elif RULE.fullmatch(block[0]):
            column.write_on(height=self.line)
        elif item := ITEM.fullmatch(" ".join(block)):
            self._written(item["text"], TICK if item["mark"].startswith("- [") else item["mark"].replace("-", "•"))
        else:
            self._written(" ".join(block))

    def _plain(self, text: str) -> str:
        return words.in_system(plain(text), self.system)

    def _picture(self, name: str) -> None:
        column, height = self.column, self.tall * LEAST[name]
        if self.pictures:
            drawing = getattr(self.pictures, DRAWN[name])()
            paper_pen.draw_on(self.page.part(column.left, column.top, column.width, height), drawing)
        column.skip(height)

    def _written(self, text: str, mark: str = "") -> None:
        """A paragraph or item; underscores at its end become a rule to write on below it, others a blank in a high line."""
        ending = re.sub(r"\s*_{4,}\s*$", "", text)
        said = self._plain(ending)
        column, size, pitch = self.column, self.size, self.line if RULE.search(said) else None
        if mark:
            self.page.text(column.left, column.top + (pitch or size), mark, size)
        column.paragraph(RULE.sub(BLANK, said), size, indent=1.6 * size if mark else 0.0, pitch=pitch)
        column.skip(8 if pitch else 0.15 * size if mark else 3)
        if ending != text:
            column.write_on(height=self.line)

    def _table(self, block: list[str]) -> None:
        rows = [[self._plain(cell.strip()) for cell in row.strip().strip("|").split("|")] for row in block]
        head, body = rows[0], [row for row in rows[1:] if not all(re.fullmatch(r":?-+:?", cell) for cell in row)]
        longest = [max(len(row[n]) for row in [head, *body]) for n in range(len(head))]
        word = [max(len(part) for row in [head, *body] for part in [*row[n].split(), ""]) for n in range(len(head))]
        shares = [max(min(share, 34), least + 3, 9) for share, least in zip(longest, word, strict=True)]
        self.column.skip(2)
        self.column.table(head, body, shares, self.size - 0.5, self.line)


def leader_sheet(title: str, paper: str, pictures: Pictures) -> Page:
    """A lesson's panel at three settings, for a class without screens, when the guesses are down."""
    page = Page(paper)
    (column,) = page.columns(MARGIN)
    column.line(say("worksheet.leader", title=title), HEAD, bold=True)
    column.paragraph(say("worksheet.when", title=title), 9.5)
    states = pictures.states()
    foot = 12.5 * (1 + column.lines_for(others := say("worksheet.others", others=pictures.others()), 9))
    height = (column.room - foot) / len(states) - 44
    for state in states:
        column.heading(state.setting, 11)
        paper_pen.draw_on(page.part(column.left, column.top, column.width, height), state.drawing)
        column.skip(height)
        column.paragraph(_numbers(state.numbers), 9.5)
    column.skip(4)
    if pictures.others():
        column.paragraph(others, 9)
    return page


def _numbers(numbers: Sequence[tuple[str, str]]) -> str:
    return " · ".join(f"{name}: {text}" for name, text in numbers)


def blocks(text: str) -> list[list[str]]:
    """Lines that belong together: a table, an item with its following lines, a paragraph, a heading."""
    found: list[list[str]] = []
    fresh = True
    for line in text.splitlines():
        line = line.strip()
        table, alone = line.startswith("|"), bool(line.startswith("#") or line in LEAST or RULE.fullmatch(line))
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
