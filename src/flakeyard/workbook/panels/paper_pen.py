"""The pen for paper: a drawing as a matplotlib Figure, with the numbers, colours, dashes and hatches of the page."""

from __future__ import annotations

import io

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle
from PIL import Image

from flakeyard.messages import say
from flakeyard.workbook.panels.drawing import RAMPS, STYLES, curve

POINTS = 0.75  # in a CSS px
INK, QUIET = "#1b1b1b", "#444444"
SIZE, DPI = (8.4, 3.6), 132
SCALE = 53  # CSS px of a kitchen scale and its words
LINE = 14  # CSS px from one line of small words to the next
LETTER = 5.2  # points that a letter of a title is wide, about
WIDTH = round(SIZE[0] * 96)  # CSS px of the picture on a page


def on_paper(drawing: dict) -> Figure:
    """The drawing as it stands, with its ghost and its guess."""
    figure = Figure(figsize=SIZE, facecolor="white")
    FigureCanvasAgg(figure)
    draw_on(figure, drawing)
    return figure


def draw_on(figure, drawing: dict) -> None:
    """The drawing on a figure, or on a part of one; a field alone has all of it."""
    share = drawing["fields"][0].get("share", 0.4) if len(drawing["fields"]) > 1 else 1.0
    for number, field in enumerate(drawing["fields"]):
        on = figure.add_axes(
            _place(field, *((0.0, share), (share, 1.0))[number], _size(figure)),
            xlim=_limits(field["across"]),
            ylim=_limits(field["up"]),
        )
        (_quiet_axes if field.get("quiet") else _axes)(on, field)
        tags: list = []
        marks = _apart(on, field["marks"])
        for mark in [*_ghost(drawing, number), *marks, *_lines(drawing, number), *_guess(drawing, number)]:
            PENS[mark["kind"]](on, mark, tags)
        _ghost_faces(on, drawing, number)
        _tags(on, tags)


def png(drawing: dict) -> bytes:
    """The drawing as a small PNG, for print and for stored notebooks."""
    packed, flat = io.BytesIO(), io.BytesIO()
    on_paper(drawing).savefig(packed, format="png", dpi=DPI)
    Image.open(packed).convert("RGB").quantize(96).save(flat, "png", optimize=True)
    return flat.getvalue()


def _size(figure) -> tuple[float, float]:
    """Width and height over those of the usual picture: what stands beside axes does not shrink with them."""
    return tuple(getattr(figure.bbox, side) / figure.dpi / usual for side, usual in zip(("width", "height"), SIZE))


def _place(field: dict, left: float, right: float, size: tuple[float, float]) -> tuple[float, float, float, float]:
    """Where the axes of a field stand in its part of the sheet: room beside them for words."""
    if field.get("quiet"):
        return left + 0.01, 0.02, right - left - 0.02, 0.93
    before, after = 0.055 / size[0], (0.12 if "margin" not in field else field["margin"] / WIDTH + 0.02) / size[0]
    return left + before, 0.14 / size[1], right - left - before - after, 1 - 0.28 / size[1]


def _limits(axis: dict) -> tuple[float, float]:
    return axis["low"], axis["high"]


def _ghost(drawing: dict, number: int) -> list[dict]:
    ghost = drawing["ghost"] or {}
    trace = ghost.get(str(number), {})
    return [curve("ghost", trace["x"], trace["y"], ghost["words"])] if "x" in trace else []


def _lines(drawing: dict, number: int) -> list[dict]:
    """The lines that handles move, where they stand."""
    held = [one for one in drawing["handles"] if one["field"] == number and "line" in one]
    field = drawing["fields"][number]
    across = [_limits(field["across"]) if one["axis"] == "up" else (one["stands"],) * 2 for one in held]
    up = [(one["stands"],) * 2 if one["axis"] == "up" else _limits(field["up"]) for one in held]
    return [curve(one["line"], x, y, one["paper_words"]) for one, x, y in zip(held, across, up, strict=True)]


def _guess(drawing: dict, number: int) -> list[dict]:
    guess, asked = drawing["guess"], drawing.get("guessed")
    return (
        [curve("guess", guess["x"], guess["y"], say("live.your_guess"))]
        if guess and asked and asked["field"] == number
        else []
    )


def _ghost_faces(on, drawing: dict, number: int) -> None:
    ghost = drawing["ghost"] or {}
    for left, right, bottom in ghost.get(str(number), {}).get("bottoms", ()):
        on.plot([left, right + 0.6], [bottom] * 2, **_line("ghost"), zorder=4)
    for x0, y0, x1, y1 in ghost.get(str(number), {}).get("strokes", ()):
        on.plot([x0, x1], [y0, y1], **_line("ghost"), zorder=4)


def _apart(on, marks: list[dict]) -> list[dict]:
    """The marks, the words of rungs no nearer to each other than a line of them is high."""
    rungs = sorted((mark for mark in marks if mark["kind"] == "rung"), key=lambda mark: -mark["at"])
    placed, least = {}, LINE * _px(on, "y")
    for rung in rungs:
        placed[id(rung)] = min([rung["at"], *(before - least for before in list(placed.values())[-1:])])
    return [mark | {"at": placed[id(mark)]} if id(mark) in placed else mark for mark in marks]


def _axes(on, field: dict) -> None:
    for name, axis in (("x", field["across"]), ("y", field["up"])):
        getattr(on, f"set_{name}ticks")([at for at, _ in axis["ticks"]], [words for _, words in axis["ticks"]])
    before = 0.034 / (_size(on.figure)[0] * on.get_position().width)
    on.set_title(field["up"]["label"], fontsize=9.5, loc="left", color=QUIET, x=-min(0.08, before))
    on.set_xlabel(field["across"]["label"], fontsize=9.5, loc="left", color=QUIET)
    on.tick_params(labelsize=9.5, color="#888888", labelcolor=QUIET, left=False)
    ruled = field.get("ruled", False)  # to draw on by hand
    on.grid(axis="both" if ruled else "y", color="#bbbbbb" if ruled else "#dddddd", linewidth=0.6)
    on.set_axisbelow(True)
    on.spines[["top", "right"] if ruled else ["top", "right", "left"]].set_visible(False)


def _quiet_axes(on, field: dict) -> None:
    """No axes, and to scale: what lies across follows from the length of a mm up and down."""
    on.set_axis_off()
    if field.get("rests"):
        return _resting_axes(on, field)
    below = 6.5 if any(mark["kind"] == "scale" for mark in field["marks"]) else 0
    foot, top = field["up"]["low"] + below, -field.get("head", 3.5)
    box, wide = on.get_window_extent(), field["across"]["high"] - field["across"]["low"]
    words = field.get("margin", 0) + 320 * max(0.0, 1 - _size(on.figure)[0])  # to the right of it: they do not shrink
    room = box.width - words * POINTS * on.figure.dpi / 72
    size = max((foot - top) * room / box.height, wide + 1)
    on.set_ylim(top + size * box.height / room, top)  # the height may follow from the width
    on.set_xlim(-0.6, -0.6 + size * box.width / room)


def _resting_axes(on, field: dict) -> None:
    """As many mm as have room above a scale."""
    (across, up), box = (_limits(field[name]) for name in ("across", "up")), on.get_window_extent()
    pixel = on.figure.dpi / 72 * POINTS  # dots in a CSS px
    mm = max(
        (up[0] - up[1]) / (box.height / pixel - SCALE - 20), (across[1] - across[0]) / (box.width / pixel)
    )  # in a px
    foot = up[0] + SCALE * mm
    on.set(ylim=(foot, foot - box.height / pixel * mm), xlim=(across[0], across[0] + box.width / pixel * mm))


def _line(name: str) -> dict:
    style = STYLES[name]
    dashes = (0, [length / style["width"] for length in style["dash"]]) if style["dash"] else "-"
    return {
        "color": style["light"], "linewidth": POINTS * style["width"], "linestyle": dashes, "dash_capstyle": "round",
    }  # fmt: skip


def _curve(on, mark, tags) -> None:
    on.plot(mark["x"], mark["y"], **_line(mark["style"]), solid_capstyle="round", label=mark["style"], zorder=3)
    if mark["words"]:
        tags.append((mark["x"][-1], mark["y"][-1], mark["words"], mark["style"]))


def _hatched(name: str) -> dict:
    style = STYLES[name]
    return {
        "facecolor": style["light"] + "1A", "edgecolor": style["light"] + "8C", "hatch": 5 * style["hatch"], "lw": 0,
    }  # fmt: skip


def _band(on, mark, _tags) -> None:
    on.fill_between(mark["x"], mark["low"], mark["high"], label=mark["style"], **_hatched(mark["style"]))


def _point(on, mark, _tags) -> None:
    on.plot([mark["x"]], [mark["y"]], mark.get("shape", "o"), color=INK, markersize=6, zorder=5)
    left = mark["x"] / np.diff(on.get_xlim())[0] > on.get_xlim()[0] / np.diff(on.get_xlim())[0] + 0.62
    level = mark.get("level", False)
    words = on.annotate(
        mark["words"], (mark["x"], mark["y"]), (-8 if left else 8, 0 if level else 8 if mark.get("above", True) else -8),
        textcoords="offset points", fontsize=9.5, weight="bold", ha="right" if left else "left",
        va="center" if level else "bottom" if mark.get("above", True) else "top", zorder=6,
    )  # fmt: skip
    words.set_bbox({"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1})


def _whole(on, **look) -> Rectangle:
    return on.add_patch(Rectangle((0, 0), 1, 1, transform=on.transAxes, **look))


def _area(on, mark, _tags) -> None:
    _whole(on, facecolor=STYLES[mark["style"]]["light"], alpha=0.13, linewidth=0, zorder=0)
    over = {"y": 1.02, "va": "bottom"} if on.axison else {"y": 0.95, "va": "center"}
    on.text(0.03, s=mark["words"], transform=on.transAxes, fontsize=9, color=QUIET, **over)


def _note(on, mark, _tags) -> None:
    wide = on.get_window_extent().width * 72 / on.figure.dpi
    line = LINE * _px(on, "y") / abs(np.diff(on.get_ylim())[0])
    over = line if len(on.get_title(loc="left")) * LETTER > 0.76 * wide + 14 else 0.0  # a line higher than a long title
    box = _whole(on, clip_on=False, **_hatched(mark["style"]))
    box.set_bounds(0.78, 1.045 + over, 0.055, 0.055)
    on.text(0.86, 1.07 + over, mark["words"], transform=on.transAxes, fontsize=9, color=QUIET, va="center")


def _cut(on, mark, _tags) -> None:
    left, right, top, bottom = mark["left"], mark["right"], mark["top"], mark["bottom"]
    ramp = LinearSegmentedColormap.from_list(mark["tint"], RAMPS[mark["tint"]])
    limits = on.get_xlim(), on.get_ylim()  # imshow would move them
    if mark["shade"]:  # else it is left to be shaded by hand
        on.imshow(
            np.asarray(mark["shade"])[:, None], cmap=ramp, vmin=0, vmax=1, extent=(left, right, bottom, top), aspect="auto",
            interpolation="bilinear", zorder=1.5,
        )  # fmt: skip
    else:
        on.add_patch(
            Rectangle((left, bottom), right - left, top - bottom, fill=False, ec=QUIET, lw=0.8, ls=(0, (3, 3)))
        )
    on.set(xlim=limits[0], ylim=limits[1])
    edge = {"color": STYLES["now"]["light"], "linewidth": 4.5 if mark["skin"] else 2.2}
    on.plot([left, right], [top] * 2, color=INK, linewidth=1, zorder=3)
    on.plot([left, right], [bottom] * 2, zorder=3, **edge)
    size = -np.diff(on.get_ylim())[0]
    low = max(bottom, top + 0.085 * size) if mark["upper"] else bottom  # words apart on a thin piece
    on.text(right + 0.9, top, mark["upper"], fontsize=9, color="#555555", va="center")
    on.text(
        right + 0.9, low, mark.get("reading", "").replace(" (", "\n("), fontsize=9.5, weight="bold",
        color=STYLES["now"]["light"], va="top" if low > bottom else "center", linespacing=1.2,
    )  # fmt: skip
    for one in mark["words"] if bottom - top > 0.15 * size else ():
        on.text(
            (left + right) / 2, top + one["at"] * (bottom - top), one["words"], fontsize=9, ha="center", va="center", zorder=4,
            color=one["ink"],
        )  # fmt: skip


def _scale(on, mark, _tags) -> None:
    """A kitchen scale beneath a cut, with what it reads."""
    foot, mm = on.get_ylim()[0], _px(on, "y") * SCALE / 6.5
    middle, wide = (mark["left"] + mark["right"]) / 2, 7.5 * mm
    box = Rectangle((middle - wide / 2, foot - 6.2 * mm), wide, 4.2 * mm, fc="white", ec=INK, lw=1.2, zorder=3)
    on.add_patch(box)
    on.text(middle, foot - 4.1 * mm, mark["words"], fontsize=10, weight="bold", ha="center", va="center", zorder=4)
    on.text(middle, foot - 0.9 * mm, mark["small"], fontsize=9, color=QUIET, ha="center", va="center")


def _px(on, side: str) -> float:
    """What a CSS px is worth along an axis."""
    box, (low, high) = on.get_window_extent(), on.get_xlim() if side == "x" else on.get_ylim()
    return abs(high - low) / (box.width if side == "x" else box.height) * on.figure.dpi / 72 * POINTS


def _bar(on, mark, _tags) -> None:
    """Along its row; an open one ends in an arrow."""
    half = mark["thick"] / 2 * _px(on, "y")
    at, start, end = mark["at"], mark["from"], mark["to"]
    nose = 9 * _px(on, "x") if mark["open"] else 0.0
    shape = [(start, at - half), (end, at - half), (end + nose, at), (end, at + half), (start, at + half)]
    hatched = _hatched(mark["style"]) if STYLES[mark["style"]]["hatch"] else {"facecolor": "none"}
    colour = STYLES[mark["style"]]["light"]
    on.add_patch(
        Polygon(shape, clip_on=False, **hatched | {"edgecolor": colour, "lw": 0.9}, label=mark["style"], zorder=2)
    )
    if "middle" in mark:
        on.plot([mark["middle"]] * 2, [at - 1.3 * half, at + 1.3 * half], color=INK, linewidth=1.8, zorder=4)
    bold = {"weight": "bold" if mark["strong"] else "normal"}
    up = {"textcoords": "offset points", "fontsize": 9, "annotation_clip": False, "zorder": 6}
    on.annotate(mark["words"], (start, at), (0, POINTS * (mark["thick"] / 2 + 4)), va="bottom", color=INK, **up, **bold)
    words = on.annotate(mark["reading"], (end + nose, at), (5, 0), va="center", **up, **bold)
    words.set_bbox({"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 0.5})


def _flame(on, mark, _tags) -> None:
    on.plot([mark["x"]], [mark["y"]], "^", color=STYLES["air"]["light"], mec=STYLES["stop"]["light"], ms=9, zorder=5)


def _box(on, mark, _tags) -> None:
    (left, right), (top, foot) = mark["x"], mark["y"]
    if "tint" in mark:
        ramp = LinearSegmentedColormap.from_list(mark["tint"], RAMPS[mark["tint"]])
        look = {"facecolor": ramp(mark["shade"]), "lw": 0}
    else:
        look = _hatched(mark["style"]) if "style" in mark else {"facecolor": "none", "lw": 0}
    on.add_patch(Rectangle((left, foot), right - left, top - foot, zorder=1.5, **look))
    if "edge" in mark:
        line = {
            "edgecolor": INK if mark["edge"] == "line" else "#666666",
            "ls": "-" if mark["edge"] == "line" else "--",
        }
        on.add_patch(Rectangle((left, foot), right - left, top - foot, fill=False, lw=0.9, zorder=2, **line))
    if "reading" in mark:
        words = mark["reading"].replace(" (", "\n(")
        on.annotate(
            words, (right, top), (6, 0), textcoords="offset points", fontsize=9.5, weight="bold", va="center",
            color=STYLES["now"]["light"], linespacing=1.2,
        )  # fmt: skip
    if mark["words"]:
        _fitting(on, mark, (left, right), (top, foot))


def _fitting(on, mark, across, up) -> None:
    """The words of a box, where there is room for them."""
    words = on.text(
        sum(across) / 2, sum(up) / 2, mark["words"], fontsize=9, ha="center", va="center", zorder=4, color=mark["ink"]
    )
    size, corners = words.get_window_extent(), on.transData.transform([(across[0], up[0]), (across[1], up[1])])
    if size.width > abs(np.diff(corners[:, 0])[0]) or size.height > abs(np.diff(corners[:, 1])[0]):
        words.remove()


def _outline(on, mark, _tags) -> None:
    on.plot(mark["x"], mark["y"], color=INK, linewidth=1.4, solid_joinstyle="round", zorder=3, clip_on=False)


def _label(on, mark, _tags) -> None:
    anchor = {"start": "left", "middle": "center", "end": "right"}[mark["anchor"]]
    bold = {"weight": "bold", "color": INK} if mark.get("strong") else {"color": QUIET}
    on.annotate(
        mark["words"], (mark["x"], mark["y"]), (POINTS * mark.get("away", 0), 0), textcoords="offset points",
        fontsize=9, ha=anchor, va="center", annotation_clip=False, zorder=5, **bold,
    )  # fmt: skip


def _arrow(on, mark, _tags) -> None:
    start, end = zip(mark["x"], mark["y"])
    arrow = {"arrowstyle": "->", "color": "#143F8C", "linewidth": 1.6, "shrinkA": 0, "shrinkB": 0}
    on.annotate("", end, start, arrowprops=arrow, zorder=4)


LAMPS = {"grows": "full", "perhaps": "left", "stopped": "none"}  # how much of a lamp is lit


def _rung(on, mark, _tags) -> None:
    """A line across, and at its end a lamp with its words; those of what is stopped are paler."""
    low, high = on.get_xlim()
    wide = _px(on, "x") * np.sign(high - low)
    on.plot(
        [low, high, high + 8 * wide],
        [mark["y"], mark["y"], mark["at"]],
        color="#777777",
        lw=0.7,
        ls=(0, (1, 2)),
        clip_on=False,
        zorder=1,
    )
    spot = high + 15 * wide
    if mark["state"] == "unknown":
        on.text(spot, mark["at"], "?", fontsize=9.5, weight="bold", ha="center", va="center")
    else:
        lamp = {"fillstyle": LAMPS[mark["state"]], "markerfacecoloralt": "white", "markersize": 7, "color": INK}
        on.plot([spot], [mark["at"]], "o", clip_on=False, zorder=4, **lamp)
    grey = QUIET if mark["state"] == "stopped" else INK
    on.text(high + 25 * wide, mark["at"], f"{mark['number']} {mark['words']}", fontsize=9, va="center", color=grey)


def _tags(on, tags) -> None:
    """Words at the ends of curves, pushed apart where they would touch."""
    low, high = on.get_ylim()
    wide, apart = abs(np.diff(on.get_xlim())[0]), max(0.075 * abs(high - low), LINE * _px(on, "y"))
    placed: list[tuple] = []
    for x, y, words, style in sorted(tags, key=lambda tag: -tag[1]):
        for before, above, *_ in placed:
            if abs(before - x) < 0.3 * wide and above - y < apart:
                y = above - apart
        placed.append((x, y, words, style))
    over = max([0.0, *(low - y for _, y, *_ in placed)]) if high > low else 0.0  # none beneath the axis
    for x, y, words, style in placed:
        tag = on.annotate(
            words, (x, y + over), (5, 0), textcoords="offset points", fontsize=9.5, color=STYLES[style]["light"], va="center",
            weight="bold" if style == "now" else "normal", annotation_clip=False,
        )  # fmt: skip
        if tag.get_window_extent().x1 > on.figure.bbox.x1:  # then before the end, over the curve
            tag.set(ha="right", va="bottom", position=(-4, 3))


PENS = {
    "curve": _curve, "band": _band, "point": _point, "area": _area, "note": _note, "cut": _cut, "scale": _scale,
    "bar": _bar, "flame": _flame, "rung": _rung, "box": _box, "outline": _outline, "label": _label,
    "arrow": _arrow,
}  # fmt: skip
