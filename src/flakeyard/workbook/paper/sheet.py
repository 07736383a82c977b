"""Pages for the printer: text set line by line into columns on A4 or Letter, written as a PDF with its fonts inside.

Lengths are in points (1/72 inch) from the top left corner of the page. Everything is black on white, so a page loses
nothing on a printer without colour.
"""

from __future__ import annotations

import functools
import io
import re
from collections.abc import Iterable, Sequence
from contextlib import contextmanager
from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.backends.backend_pdf import FigureCanvasPdf, PdfPages
from matplotlib.figure import Figure
from matplotlib.font_manager import findfont, get_font
from matplotlib.gridspec import GridSpec
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon, Rectangle

from flakeyard.files import write_whole
from flakeyard.messages import code

PAPERS = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}  # ISO 216; ANSI/ASME Y14.1
MARGIN = 34.0
FAMILY = "DejaVu Sans"
LEADING = 1.28  # line height over font size
UNIT = re.compile(  # the space between a number and its unit, and between the sign of a verdict and its word
    r"(?<=\d) (?=[^\d\s(]{1,3}(?![^\W\d])|°SAL)|(?<=[●◆■✕]) |(?<=: \?) "
)
TICK = "☐"
GREY = "#555555"
EMBEDDED = {  # TrueType inside: text can be searched and read aloud; a picture sets letters as wide as the PDF does
    "pdf.fonttype": 42, "font.family": FAMILY, "text.hinting": "none",
}  # fmt: skip


@functools.cache
def _advance(letter: str, bold: bool) -> float:
    """Width of one letter at a font size of 1."""
    font = get_font(findfont(f"{FAMILY}:{'bold' if bold else 'regular'}"))
    font.set_size(100, 72)
    return font.load_char(ord(letter)).linearHoriAdvance / 65536 / 100


def width_of(text: str, size: float, bold: bool = False) -> float:
    """Width of a line of text, in points."""
    return size * sum(_advance(letter, bold) for letter in text)


def wrap(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """Lines of text no wider than `width`, no number parted from its unit; a longer word stands on a line of its own."""
    lines, line = [], ""
    for word in UNIT.sub("\u00a0", " ".join(text.split())).split(" "):
        longer = f"{line} {word}".strip()
        if line and width_of(longer, size, bold) > width:
            lines.append(line)
            line = word
        else:
            line = longer
    return [*lines, line] if line else lines


class Column:
    """Part of a page that is filled from the top; `top` is where the next line goes."""

    def __init__(self, page: Page, left: float, width: float, top: float, bottom: float):
        self.page, self.left, self.width, self.top, self.bottom = page, left, width, top, bottom

    @property
    def room(self) -> float:
        return self.bottom - self.top

    def lines_for(self, text: str, size: float, indent: float = 0.0) -> int:
        return len(wrap(text, self.width - indent, size))

    def skip(self, points: float) -> None:
        self.top += points

    def line(self, text: str, size: float, bold: bool = False, indent: float = 0.0, pitch: float | None = None) -> None:
        """One line; `pitch` is its height where that is not the usual one of its size."""
        self.page.text(self.left + indent, self.top + (pitch or size), text, size, bold)
        self.top += pitch or size * LEADING

    def heading(self, text: str, size: float = 10.5) -> None:
        self.skip(5)
        self.line(text, size, bold=True)
        self.page.rule(self.left, self.top, self.width)
        self.skip(3)

    def paragraph(
        self, text: str, size: float = 8.5, bold: bool = False, indent: float = 0.0, pitch: float | None = None
    ) -> None:
        for line in wrap(text, self.width - indent, size, bold):
            self.line(line, size, bold, indent, pitch)

    def item(self, text: str, size: float = 8.5, mark: str = "•") -> None:
        """A paragraph with a mark in front of its first line."""
        self.page.text(self.left, self.top + size, mark, size)
        self.paragraph(text, size, indent=1.6 * size)
        self.skip(0.15 * size)

    def write_on(self, lines: int = 1, height: float = 19.0) -> None:
        """Rules to write on."""
        for _ in range(lines):
            self.skip(height)
            self.page.rule(self.left, self.top, self.width, GREY)
        self.skip(3)

    def table(self, head: Sequence[str], rows: Iterable[Sequence[str]], shares, size=8.0, height=None) -> None:
        """A ruled table; `shares` are the widths of its columns as parts of the whole, an empty cell is to be filled."""
        widths = [self.width * share / sum(shares) for share in shares]
        for number, row in enumerate([head, *rows]):
            wrapped = [wrap(cell, width - 5, size, number == 0) for cell, width in zip(row, widths, strict=True)]
            tall = max(height if height and number else 0, size * LEADING * max(1, *map(len, wrapped)) + 4)
            left = self.left
            for lines, width in zip(wrapped, widths, strict=True):
                self.page.box(left, self.top, width, tall, "#e8e8e8" if number == 0 else None)
                for place, line in enumerate(lines):
                    self.page.text(left + 2.5, self.top + 1.5 + size * (1 + LEADING * place), line, size, number == 0)
                left += width
            self.top += tall
        self.skip(4)

    def rows(self, rows: Iterable[tuple[Sequence[str], bool]], widths: Sequence[float], size: float) -> None:
        """Rows of cells, some of them bold, each above a fine line."""
        for cells, bold in rows:
            wrapped = [wrap(cell, width - 4, size, bold) for cell, width in zip(cells, widths, strict=True)]
            left = self.left
            for lines, width in zip(wrapped, widths, strict=True):
                for place, line in enumerate(lines):
                    self.page.text(left, self.top + size * (1 + LEADING * place), line, size, bold)
                left += width
            self.top += size * LEADING * max(1, *map(len, wrapped))
            self.page.rule(self.left, self.top, self.width, "#bbbbbb")
            self.skip(1.5)


class Flow:
    """Text that fills columns one after another; what does not fit in the last one makes it overfull."""

    def __init__(self, columns: Sequence[Column], size: float):
        self.columns, self.size = list(columns), size

    @property
    def column(self) -> Column:
        return self.columns[0]

    def _turn(self, lines: int, before: float = 0.0) -> None:
        """Go to the next column where so many lines do not fit in this one."""
        if len(self.columns) > 1 and before + lines * self.size * LEADING > self.column.room:
            self.columns.pop(0)

    def section(self, title: str, lines: Iterable[str], mark: str = "•") -> None:
        """A heading with paragraphs under it; nothing where there are none."""
        for number, line in enumerate(lines):
            needed = self.column.lines_for(line, self.size, 1.6 * self.size)
            self._turn(needed, before=3.5 * self.size if number == 0 else 0.0)
            if number == 0:
                self.column.heading(title, self.size + 1.5)
            self.column.item(line, self.size, mark)


class Page:
    """One page of paper; `overfull` tells how many points of a column went over its foot."""

    def __init__(self, paper: str = "a4", margin: float = MARGIN):
        if paper not in PAPERS:
            raise ValueError(f"paper is {paper!r}; allowed is one of {', '.join(PAPERS)}")
        self.margin, (self.width, self.height) = margin, PAPERS[paper]
        self.figure = Figure(figsize=(self.width / 72, self.height / 72), facecolor="white")
        FigureCanvasPdf(self.figure)
        self._columns: list[Column] = []

    @property
    def inside(self) -> float:
        """Width between the margins."""
        return self.width - 2 * self.margin

    @property
    def overfull(self) -> float:
        return max((column.top - column.bottom for column in self._columns), default=0.0)

    def columns(
        self, top: float, shares: Sequence[float] = (1.0,), gap: float = 14.0, foot: float = 0.0
    ) -> list[Column]:
        """Columns side by side from `top` to the foot of the page, or so far above it."""
        free = self.inside - gap * (len(shares) - 1)
        left, made = self.margin, []
        for share in shares:
            width = free * share / sum(shares)
            made.append(Column(self, left, width, top, self.height - self.margin - foot))
            left += width + gap
        self._columns += made
        return made

    def text(self, left: float, base: float, words: str, size: float, bold: bool = False, align: str = "left") -> None:
        self.figure.text(
            left / self.width, 1 - base / self.height, words, fontsize=size, ha=align, va="baseline",
            fontfamily=FAMILY, fontweight="bold" if bold else "normal", parse_math=False,
        )  # fmt: skip

    def rule(self, left: float, top: float, width: float, colour: str = "black", dashes: str = "-") -> None:
        self.stroke([left, left + width], [top, top], colour, dashes=dashes)

    def stroke(
        self,
        across: Sequence[float],
        down: Sequence[float],
        colour: str = "black",
        width: float = 0.6,
        dashes: str = "-",
    ) -> None:
        """A line through points."""
        places = np.asarray(across) / self.width, 1 - np.asarray(down) / self.height
        self.figure.add_artist(Line2D(*places, color=colour, linewidth=width, linestyle=dashes))

    def marks(self, across: Sequence[float], down: Sequence[float], shape: str, filled: bool = True) -> None:
        """The same mark at each of some points: black, or white with a black edge; above the lines."""
        places = np.asarray(across) / self.width, 1 - np.asarray(down) / self.height
        how = {"markersize": 5.0, "markeredgewidth": 0.8, "markeredgecolor": "black", "zorder": 3}
        face = "black" if filled else "white"
        self.figure.add_artist(Line2D(*places, linestyle="", marker=shape, markerfacecolor=face, **how))

    def area(self, across: Sequence[float], high: Sequence[float], low: Sequence[float], fill: str) -> None:
        """What lies between two lines through points, beneath everything else."""
        there, back = np.asarray(across) / self.width, np.asarray(across)[::-1] / self.width
        down = np.concatenate([np.asarray(high), np.asarray(low)[::-1]])
        corners = np.column_stack([np.concatenate([there, back]), 1 - down / self.height])
        self.figure.add_artist(Polygon(corners, closed=True, facecolor=fill, edgecolor="none", zorder=-1))

    def part(self, left: float, top: float, width: float, height: float):
        """A part of the page to draw on, as on a figure of its own."""
        across = (left, width, self.width - left - width)
        down = (top, height, self.height - top - height)
        grid = GridSpec(3, 3, self.figure, width_ratios=across, height_ratios=down)
        return self.figure.add_subfigure(grid[1, 1])

    def box(
        self, left: float, top: float, width: float, height: float, fill: str | None = None, edge: float = 0.5
    ) -> None:
        corner = left / self.width, 1 - (top + height) / self.height
        self.figure.add_artist(
            Rectangle(
                corner, width / self.width, height / self.height, facecolor=fill or "none", lw=edge, zorder=-1,
                edgecolor=GREY if edge < 1 else "black",
            )
        )  # fmt: skip


def save_pdf(pages: Sequence[Page], path: str | Path, title: str, keep_copy: bool = False, language: str = "") -> Path:
    """Write pages as one PDF with title and language; the file appears whole or not at all. The same pages make the same
    file, whenever they are written; ``keep_copy``: an older file stays as a numbered copy; ``language``: where it is not the one
    chosen."""
    packed = io.BytesIO()
    with _embedded(), PdfPages(packed, metadata={"Title": title, "Creator": "flakeyard", "CreationDate": None}) as pdf:
        for page in pages:
            pdf.savefig(page.figure)
    return _with_language(packed, Path(path), keep_copy, language or code())


@contextmanager
def _embedded():
    with mpl.rc_context(EMBEDDED):
        yield


def _with_language(packed: io.BytesIO, path: Path, keep_copy: bool, language: str) -> Path:
    """Say in the file what language it is in and that a reader is to show its title: what a screen reader asks for."""
    from pypdf import PdfReader, PdfWriter
    from pypdf.generic import BooleanObject, DictionaryObject, NameObject, TextStringObject

    writer = PdfWriter(clone_from=PdfReader(packed))
    writer.root_object[NameObject("/Lang")] = TextStringObject(language)
    show_title = DictionaryObject({NameObject("/DisplayDocTitle"): BooleanObject(True)})
    writer.root_object[NameObject("/ViewerPreferences")] = show_title
    whole = io.BytesIO()
    writer.write(whole)
    return write_whole(path, whole.getvalue(), keep_copy=keep_copy)


def as_png(page: Page, dpi: float = 110) -> bytes:
    """The page as a picture, for a screen or for looking it over."""
    packed = io.BytesIO()
    with _embedded():
        page.figure.savefig(packed, format="png", dpi=dpi)
    return packed.getvalue()
