"""Pictures that are quick to draw again: the frame is drawn once, and only what moves is drawn anew.

A `Picture` keeps one matplotlib Figure on the Agg canvas (never pyplot). Axes, grid and labels make up its *frame*;
they are drawn once and kept as pixels. The artists added by name with `Picture.add` move: at every redraw they are
painted over the kept frame, and the whole is packed as JPEG with undivided colour (PNG where Pillow has no JPEG): five
times quicker to pack than WebP, truer to thin coloured lines, and twice its size. Draw functions take a picture and a
result, set the data of the named artists, and know nothing of widgets.
"""

import io

import numpy as np
from matplotlib.artist import Artist
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from PIL import Image, features

# Colours that people with the common kinds of colour blindness can tell apart: Okabe and Ito, Color Universal Design.
BLACK, ORANGE, SKY, GREEN = "#000000", "#E69F00", "#56B4E9", "#009E73"
YELLOW, BLUE, VERMILION, PURPLE = "#F0E442", "#0072B2", "#D55E00", "#CC79A7"
# Colour is never the only cue: the n-th curve of any picture has the n-th dash pattern, area hatch and marker too.
COLOURS = (BLUE, VERMILION, GREEN, PURPLE, ORANGE, SKY)
DASHES = ("-", "--", "-.", ":", (0, (8, 2)), (0, (1, 3)))
HATCHES = ("///", "\\\\\\", "...", "xxx", "---", "ooo")
MARKERS = ("o", "s", "^", "D", "v", "P")

FORMAT = "jpeg" if features.check("jpg") else "png"
_PACKING = {"jpeg": {"quality": 90, "subsampling": 0}, "png": {"compress_level": 1}}
_DOTS = {"jpeg": "RGBX", "png": "RGB"}  # what is packed without being turned into something else first
CSS_DPI = 96  # a CSS inch; the picture itself has more dots, for sharp text on dense screens
DPI = 132
FONT_SIZE = 10.5


class Picture:
    """A figure kept alive, its frame kept as pixels, its moving artists known by name.

    There is one kept frame for each set of axis limits used, so a picture that goes to and fro between two scales pays
    for each of them once.
    """

    def __init__(self, size: tuple[float, float] = (7.4, 3.05), dpi: float = DPI):
        self.figure = Figure(figsize=size, dpi=dpi, facecolor="white")
        self.canvas = FigureCanvasAgg(self.figure)
        self.width = round(size[0] * CSS_DPI)
        self.height = round(size[1] * CSS_DPI)
        self._moving: dict[str, Artist] = {}
        self._frames: dict[tuple, object] = {}

    def add(self, name: str, artist: Artist) -> Artist:
        """Let this artist move: it is left out of the frame and painted at every redraw."""
        artist.set_animated(True)
        self._moving[name] = artist
        self._frames.clear()
        return artist

    def __getitem__(self, name: str) -> Artist:
        return self._moving[name]

    def image(self, moving: bool = True) -> bytes:
        """The picture as packed bytes; without its moving artists when there is nothing to show."""
        packed = io.BytesIO()
        self._dots(moving, _DOTS[FORMAT]).save(packed, FORMAT, **_PACKING[FORMAT])
        return packed.getvalue()

    def png(self, moving: bool = True) -> bytes:
        """The picture as a small PNG, for print and for stored notebooks."""
        packed = io.BytesIO()
        self._dots(moving).quantize(64).save(packed, "png", optimize=True)
        return packed.getvalue()

    def _dots(self, moving: bool, mode: str = "RGB") -> Image.Image:
        limits = tuple((*on.get_xlim(), *on.get_ylim()) for on in self.figure.axes)
        if limits not in self._frames:
            self.canvas.draw()
            self._frames[limits] = self.canvas.copy_from_bbox(self.figure.bbox)
        self.canvas.restore_region(self._frames[limits])
        if moving:
            for artist in sorted(self._moving.values(), key=lambda artist: artist.get_zorder()):
                self.figure.draw_artist(artist)
        size, dots = self.canvas.get_width_height(), self.canvas.buffer_rgba()
        return Image.frombuffer("RGBX", size, dots, "raw", "RGBX", 0, 1).convert(mode)


def axes(picture: Picture, across: str, up: str, across_limits, up_limits, place=(0.09, 0.155, 0.89, 0.735)):
    """Add plain axes with named and numbered sides to a picture, and return them."""
    made = picture.figure.add_axes(place, xlim=across_limits, ylim=up_limits)
    made.set_xlabel(across, fontsize=FONT_SIZE)
    made.set_ylabel(up, fontsize=FONT_SIZE)
    made.tick_params(labelsize=FONT_SIZE - 1)
    made.grid(color="#cccccc", linewidth=0.6)
    made.set_axisbelow(True)
    made.spines[["top", "right"]].set_visible(False)
    return made


def set_across(on, high: float, parts: int = 6) -> None:
    """Let the axes run from 0 to high in equal parts; does nothing when they already do."""
    if on.get_xlim() != (0.0, high):
        on.set_xlim(0.0, high)
        on.set_xticks(np.linspace(0.0, high, parts + 1))


def add_curve(picture: Picture, name: str, on, style: int, label: str, width: float = 2.2):
    """Add a curve that will move; `style` picks its colour and its dashes together."""
    (line,) = on.plot([], [], color=COLOURS[style], linestyle=DASHES[style], linewidth=width, label=label, zorder=3)
    return picture.add(name, line)


def add_band(picture: Picture, name: str, on, style: int, label: str):
    """Add a hatched band (from low to high) that will move."""
    area = PolyCollection([], facecolor=COLOURS[style] + "26", edgecolor=COLOURS[style] + "66", linewidth=0.6, zorder=1)
    area.set(hatch=HATCHES[style], label=label)
    on.add_collection(area, autolim=False)
    return picture.add(name, area)


def add_point(picture: Picture, name: str, on, style: int, label: str | None = None):
    """Add a point, `name`, and its words, `name` + "_words", that will move together."""
    (dot,) = on.plot([], [], linestyle="", marker=MARKERS[style], markersize=10, color=BLACK, label=label, zorder=5)
    words = on.annotate("", (0, 0), (9, 6), textcoords="offset points", fontsize=FONT_SIZE, zorder=6)
    words.set_bbox({"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1.5})
    picture.add(f"{name}_words", words)
    return picture.add(name, dot)


def set_band(area: PolyCollection, across, low, high) -> None:
    """Give a band its new edges; arrays of one length."""
    across = np.asarray(across, float)
    edge = np.concatenate([across, across[::-1]]), np.concatenate([np.asarray(low), np.asarray(high)[::-1]])
    area.set_verts([np.column_stack(edge)])


def set_point(picture: Picture, name: str, across: float, up: float, words: str, falling: bool = True) -> None:
    """Move a point and its words; a point that is not known (NaN) is hidden with its words.

    The words stand on the free side of a curve that is falling or rising there: left or right of it as room allows.
    """
    dot, text = picture[name], picture[f"{name}_words"]
    known = bool(np.isfinite(across) and np.isfinite(up))
    dot.set_visible(known)
    text.set_visible(known)
    if not known:
        return
    left, right = dot.axes.get_xlim()
    to_left = across > left + 0.62 * (right - left)
    above = falling != to_left
    dot.set_data([across], [up])
    text.set(text=words, ha="right" if to_left else "left", va="bottom" if above else "top")
    text.xyann = (-9 if to_left else 9, 6 if above else -6)
    text.xy = (across, up)


def legend(on, columns: int = 3) -> None:
    """A legend above the axes, where no curve can run through it; it shows every labelled artist, moving ones too."""
    on.legend(
        loc="lower left", bbox_to_anchor=(0.0, 0.99), ncols=columns, fontsize=FONT_SIZE - 1, frameon=False,
        handlelength=2.6, columnspacing=2.0, borderaxespad=0.0,
    )  # fmt: skip
