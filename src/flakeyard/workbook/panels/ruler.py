"""A ruler with the pieces of a batch beside it, in true size, in millimetres and sixteenths of an inch."""

from __future__ import annotations

import html

from flakeyard import units
from flakeyard.messages import say
from flakeyard.steps.intent.fields import FIELDS
from flakeyard.workbook.panels.panel import Choice

SIZES = ("thinnest", "thickness", "thickest")
RULER, INCH = 50, 1000 * units.INCH  # mm: its length (judgement), and an inch


def ruler(cut: dict, choice: Choice) -> str:
    """A ruler with the pieces beside it, in true size, as a picture in HTML; ``cut`` as told."""
    sizes = {name: FIELDS["cut"][name].read(cut[name], name) for name in SIZES if name in cut}
    said = {
        name: f"{say(f'story.{name}')} {choice.show(size, 'length', sixteenths=True)}" for name, size in sizes.items()
    }
    bars = "".join(
        f'<rect x="1" y="{6 * n + 1}" width="{1000 * size:.2f}" height="4" fill="#E69F00" stroke="currentColor" stroke-width=".2"/>'
        f'<text x="{1000 * size + 2.5:.2f}" y="{6 * n + 4.3}">{html.escape(said[name])}</text>'
        for n, (name, size) in enumerate(sizes.items())
    )
    top = 6 * len(sizes) + 1
    alt = html.escape("; ".join([say("story.ruler"), *said.values()]))
    return (
        f'<svg role="img" aria-label="{alt}" width="62mm" height="{top + 18}mm" viewBox="0 0 62 {top + 18}" '
        f'font-size="3.2" fill="currentColor">{bars}<g stroke="currentColor" stroke-width=".15">{_marks(top)}</g>'
        f"{_figures(top)}</svg><div>{html.escape(say('story.true_size'))}</div>"
    )


def _marks(top: float) -> str:
    """Marks for millimetres, pointing down, and for sixteenths of an inch, pointing up."""
    long = {0: 4.0, 5: 3.0}
    marks = [(at, top, long.get(at % 10, 2.0)) for at in range(RULER + 1)]
    deep = {16: 5.0, 8: 4.0, 4: 3.0, 2: 2.2, 1: 1.5}
    for part in range(int(16 * RULER / INCH) + 1):
        length = next(deep[step] for step in deep if part % step == 0)
        marks.append((part * INCH / 16, top + 13 - length, length))
    lines = "".join(
        f'<line x1="{1 + x:.3f}" y1="{y:g}" x2="{1 + x:.3f}" y2="{y + length:g}"/>' for x, y, length in marks
    )
    return f'{lines}<path d="M1 {top} h{RULER}  M1 {top + 13} h{RULER}"/>'


def _figures(top: float) -> str:
    """Centimetres and inches beside their marks."""
    metric = "".join(f'<text x="{at + 1.5}" y="{top + 6.5}">{at}</text>' for at in range(10, RULER, 10))
    return f'{metric}<text x="{RULER + 2}" y="{top + 4}">mm</text><text x="{INCH + 2}" y="{top + 17}">1 in</text>'
