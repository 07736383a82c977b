"""One picture as plain data, for two pens: `live.js` draws it in a page, `paper_pen` on paper, with the same numbers.

A drawing is made of dicts, lists, numbers and words, so that it travels as it is. Its places are in the units of the model's
own pictures (mm, per cent, hours), whatever the learner reads: other units change the words at the marks, never a place.

    fields    what is beside one another: axes that never follow a handle, and marks in them; a `quiet` field has no axes
              and is to scale: a mm across is as long as a mm down, and where it `rests` on a scale it fills from
              below; `margin` (and `slim` where it is narrow): px for words right of it; `tall`: px that it needs at
              least where it is not beside the controls; `slender`: px that a quiet one is high where it is narrow,
              `head`: mm above it on paper
    handles   what a hand can hold: a control, its place (offset + scale × value, or one of its `places`) up or across a
              field, `along` a curve where it has one; `auto`: where it stands while the control is at its first mark
    buttons   what a click turns over: a control, the value it gets, and its place: `under` a handle or with its `top` at a place
    trace     what this drawing leaves behind as a ghost: per field a curve {x, y}, the bottoms of cuts {bottoms} or short
              {strokes}, each from x, y to x, y
    guessed   where a learner puts down a guess: places and names of its knots, up or across a field; `then`: settings
              that follow when it is down

Marks: curve, band, point, area, note, cut, scale, bar, flame, rung, box, outline, label, arrow. An area may say something `hushed`
while a guess is made. `given` marks stay in sight while a guess is made.
Colour, dashes and hatch come together under one name and mean the same in every lesson and with both pens.
"""

from __future__ import annotations

import numpy as np

from flakeyard import units
from flakeyard.messages import number, say

INCH = 1000 * units.INCH  # mm
STYLES = {  # dashes and widths in CSS px; colours after Okabe and Ito, lighter on dark pages
    "now": {"light": "#0072B2", "dark": "#56B4E9", "dash": [], "width": 2.8, "hatch": "/"},
    "second": {"light": "#B34700", "dark": "#F0894A", "dash": [9, 4], "width": 2.4, "hatch": "\\"},
    "end": {"light": "#007A59", "dark": "#2BC49A", "dash": [10, 4, 2, 4], "width": 1.8, "hatch": ""},
    "later": {"light": "#8A4278", "dark": "#DD9BC0", "dash": [3, 3], "width": 2.0, "hatch": ""},
    "stop": {"light": "#B34700", "dark": "#F0894A", "dash": [7, 4], "width": 1.8, "hatch": ""},
    "before": {"light": "#007A59", "dark": "#2BC49A", "dash": [6, 3, 1, 3], "width": 1.8, "hatch": ""},
    "guess": {"light": "#8A4278", "dark": "#DD9BC0", "dash": [0.1, 5.5], "width": 3.2, "hatch": ""},
    "ghost": {"light": "#767676", "dark": "#A0A0A0", "dash": [5, 4], "width": 1.8, "hatch": ""},
    "untested": {"light": "#767676", "dark": "#A0A0A0", "dash": [2, 2], "width": 1.2, "hatch": "\\"},
    "zone": {"light": "#8A6D00", "dark": "#D9B94A", "dash": [1, 6], "width": 1.2, "hatch": "\\"},
    "air": {"light": "#E69F00", "dark": "#E69F00", "dash": [], "width": 1.0, "hatch": ""},
}
RAMPS = {  # from little to much
    "salt": ["#F6D8C8", "#A7A2CF", "#143F8C"],
    "water": ["#8A5A34", "#D9A98A", "#F6D8C8", "#DCE9F2"],
    "warm": ["#7FA8DC", "#D6E4F0", "#F7E3B5", "#F0A468", "#DB6A48"],
}


def curve(style: str, x, y, words: str = "", **more) -> dict:
    return {"kind": "curve", "style": style, "x": numbers(x), "y": numbers(y), "words": words, **more}


def band(style: str, x, low, high) -> dict:
    return {"kind": "band", "style": style, "x": numbers(x), "low": numbers(low), "high": numbers(high)}


def point(x: float, y: float, words: str, **more) -> dict:
    """A dot with words above it (`above` False: below, `level`: beside); on a page, `under` has them beneath a rising curve,
    with so many more under them."""
    return {"kind": "point", "x": float(f"{x:.4g}"), "y": float(f"{y:.4g}"), "words": words, **more}


def cut(left: float, right: float, bottom: float, shade, tint: str, **more) -> dict:
    """A piece cut across: faces at `top` and `bottom`; `held` names the control whose handle moves its lower face."""
    shade = [round(float(part), 3) for part in np.clip(shade, 0, 1)]
    return {
        "kind": "cut", "left": left, "right": right, "bottom": float(f"{bottom:.5g}"), "shade": shade, "tint": tint,
        "words": [], "upper": "", "skin": False, "held": "", "top": 0.0, **more,
    }  # fmt: skip


def bar(style: str, at: float, start: float, end: float, words: str = "", reading: str = "", **more) -> dict:
    """A bar along the row `at`, its words above it and its reading behind it; `open`: it goes on beyond its axis."""
    return {
        "kind": "bar", "style": style, "at": at, "from": float(f"{start:.4g}"), "to": float(f"{end:.4g}"), "words": words,
        "reading": reading, "thick": 12, "open": False, "strong": False, **more,
    }  # fmt: skip


def box(x, y, words: str = "", **more) -> dict:
    """A body from x to x and from its top to its foot: `tint` and `shade` of a ramp, or the hatch of a `style`; `held` names
    the control whose handle moves its top, `edge` is line or dash, `ink` the colour of its words."""
    return {"kind": "box", "x": numbers(x), "y": numbers(y), "words": words, "ink": "#1b1b1b", **more}


def outline(x, y) -> dict:
    """The walls of a vessel or a box, in ink."""
    return {"kind": "outline", "x": numbers(x), "y": numbers(y), "given": True}


def label(x: float, y: float, words: str, **more) -> dict:
    """Words in a place of their own; `anchor` start, middle or end, `away` px to the right, `strong` for bold,
    `halo` over lines."""
    return {"kind": "label", "x": float(f"{x:.4g}"), "y": float(f"{y:.4g}"), "words": words, "anchor": "start", **more}


def arrow(x, y) -> dict:
    """The way that something takes, from x, y to x, y, to scale."""
    return {"kind": "arrow", "x": numbers(x), "y": numbers(y), "given": True}


def rung(y: float, at: float, number: str, words: str, state: str) -> dict:
    """A line across at `y`; its lamp and its words stand at the height `at`. States: grows, perhaps, stopped, unknown."""
    return {
        "kind": "rung", "y": y, "at": float(f"{at:.4g}"), "number": number, "words": words, "state": state, "given": True,
    }  # fmt: skip


def axis(label: str, low: float, high: float, ticks=(), words=None) -> dict:
    """An axis; `words` are what stands at its ticks, where these are not the numbers themselves."""
    words = [number(tick, "g") for tick in ticks] if words is None else words
    return {"label": label, "low": low, "high": high, "ticks": [[float(t), w] for t, w in zip(ticks, words)]}


def depth_axis(system: str, high: float) -> dict:
    """Millimetres under the upper face, or inches in quarters: the places stay millimetres."""
    if system == "us":
        ticks = np.arange(0.0, high / INCH + 1e-9, 0.25)
        words = ["0", "¼", "½", "¾", "1"]
        return axis(say("live.depth_inches"), 0.0, high, ticks * INCH, words[: len(ticks)])
    return axis(say("live.depth_mm"), 0.0, high, np.arange(0.0, high + 1e-9, 5.0))


def cuts_field(across: float, down: float, marks: list[dict], share: float = 0.4, **more) -> dict:
    """A field of cuts to scale, in mm; the air or brine around them comes first among its marks."""
    return {
        "across": axis("", 0, across),
        "up": axis("", down, -1.0),
        "quiet": True,
        "share": share,
        "marks": marks,
        **more,
    }


def handle(control: str, field: int, at: float, axis: str = "up", **more) -> dict:
    """What holds a control: on the line `at` across the other axis, at offset + scale × value along its own."""
    return {
        "control": control,
        "field": field,
        "axis": axis,
        "at": at,
        "offset": 0.0,
        "scale": 1.0,
        "down": False,
    } | more


def pair_handles(thin: tuple[float, float], thick: tuple[float, float], size: float, readings: list[str]) -> list[dict]:
    """Two pieces side by side, each from left to right in mm: the lower face of one is its thickness, now `size` [mm], that of
    the other how much thicker it is, which reads as a thickness too."""
    thicker = {"offset": size, "scale": size, "readings": readings}
    return [
        handle("thickness", 0, sum(thin) / 2, scale=1000.0, down=True, right=thin[1]),
        handle("thicker", 0, sum(thick) / 2, down=True, right=thick[1], **thicker),
    ]


def skin_button(faces: int, left: float, put_on: str, take_off: str) -> dict:
    """A click on it closes the lower face of a piece, or opens it again."""
    words, value = (take_off, 2.0) if faces == 1 else (put_on, 1.0)
    return {
        "control": "faces", "field": 0, "left": left, "under": "thickness", "words": words, "value": value,
        "pressed": faces == 1,
    }  # fmt: skip


def numbers(values) -> list[float]:
    return [float(f"{value:.4g}") for value in np.asarray(values, float)]
