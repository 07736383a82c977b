"""A panel with nothing of fish in it, so that the panel machinery is tested by itself and fast."""

import numpy as np

from flakeyard.workbook.panels import figures
from flakeyard.workbook.panels.panel import Control, Panel, Said

CONTROLS = (
    Control("warmth", "Warm air", "air", "temperature", 10.0, 30.0, 1.0, 20.0),
    Control("depth", "Depth", "fish", "length", 0.001, 0.009, 0.001, 0.005),
)
ACROSS = np.linspace(0.0, 10.0, 50)


def compute(depth, warmth):
    if depth > 0.008 and warmth > 28.0:
        raise ValueError("depth is 9 mm; allowed at this warmth is up to 8 mm")
    if depth > 0.008 and warmth < 12.0:
        raise KeyError("lost")
    return {"depth": depth, "warmth": warmth, "curve": 100 * np.exp(-ACROSS * warmth / (4e3 * depth * 20.0))}


def picture(choice):
    made = figures.Picture(size=(4.0, 2.0), dpi=60)
    on = figures.axes(made, "hours", f"left ({choice.system})", (0, 10), (0, 100))
    figures.add_band(made, "band", on, 0, "band")
    figures.add_curve(made, "curve", on, 1, "curve")
    figures.add_point(made, "end", on, 2)
    figures.legend(on)
    return made


def draw(made, result, _choice):
    made["curve"].set_data(ACROSS, result["curve"])
    figures.set_band(made["band"], ACROSS, 0.9 * result["curve"], 1.1 * result["curve"])
    figures.set_point(made, "end", 5.0, result["curve"][25], "half way")


def tell(result, choice):
    depth = choice.show(result["depth"], "length")
    return Said(f"At {depth} the end is {result['curve'][-1]:.2f}.", "as sure as a toy", "not a real one")


def panel(choice=None, **more):
    return Panel("Toy", CONTROLS, compute, picture, draw, tell, choice=choice, look_for=("Which way?",), **more)
