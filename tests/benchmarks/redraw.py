"""How long from a key on a slider to the new picture, in a real browser. Run by hand: python tests/benchmarks/redraw.py

Opens a copy of workbook 00 in a private JupyterLab and walks with arrow keys over the sliders, each time to a setting not
seen before, in
  onwards  the panel of the workbook, as the learner has it, one slider moved on and on: while the hand rests it has
           worked out the next step
  hopping  another such panel, another slider moved every time, so that no step was foreseen: all computed anew
  usual    the same kind of picture wired the usual way: interactive_output, a new pyplot figure at every move, and a
           loop of scipy solves over 20 members (the thickest piece only, in constant air; salt, judging and keeping,
           which the panel computes too, are left out)
by turns, and prints median and 90th percentile of the time to the last change of the picture, all in one run on one machine.
"""

import argparse
import itertools
import json
import shutil
import statistics
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "browser"))

import nbformat  # noqa: E402
from conftest import find_chromium, running_browser, running_lab, show_notebook  # noqa: E402

HOPPING = """
from flakeyard.workbook.panels import whole_batch
hopping = whole_batch.whole_batch_panel()
hopping.add_class("bench-hopping")
"""
USUAL = """
import ipywidgets, matplotlib.pyplot as plt, numpy as np
from scipy.integrate import solve_ivp
from flakeyard.models import moist_air, sorption
HOURS, NODES, VAPOUR = np.linspace(0, 96, 193), 17, 1170.0
def one_member(thickness, fat, salt, temperature, factor):
    half, isotherm = thickness / 2, sorption.isotherm(2 * salt, 1.0, 0.99)
    width, solids, heat = half / NODES, 1060 * 0.24 * half, 1060 * half * 3400
    def rate(time, state):
        water, warm = state[:-1], state[-1]
        slowing = (0.22 + 0.78 * water**3 / (water**3 + 0.6**3)) * np.exp(-6 * fat - salt)
        diffusivity = 3.4e-10 * factor * slowing * np.exp(-4811 * (1 / (warm + 273.15) - 1 / 303.15))
        flux = -0.5 * (diffusivity[1:] + diffusivity[:-1]) * np.diff(water) / width
        free = np.squeeze(isotherm.water_activity(water[-1:], warm))
        leaving = 1.2e-7 * (free * moist_air.saturation_pressure(warm) - VAPOUR)
        warming = (21 * (temperature - warm) - 2.4e6 * leaving) / heat
        return np.append(-np.diff(np.concatenate([[0], flux, [leaving * half / solids]])) / width, warming)
    start = np.append(np.full(NODES, 2.75), 30.0)
    solved = solve_ivp(rate, (0, 96 * 3600), start, "LSODA", 3600 * HOURS, rtol=1e-3, atol=1e-4, lband=1, uband=1)
    return (1 + 0.24 / 0.34 * solved.y[:-1].mean(axis=0)) / (1 + 0.24 / 0.34 * 2.75)
def draw(thickness, fat, salt, temperature):
    spread = np.exp(0.4 * np.linspace(-1.7, 1.7, 20))
    left = [one_member(thickness / 1000, fat / 100, salt / 100, temperature, factor) for factor in spread]
    low, middle, high = np.quantile(left, [0.1, 0.5, 0.9], axis=0)
    figure, axes = plt.subplots(figsize=(7.4, 3.05))
    axes.fill_between(HOURS, 100 * low, 100 * high, alpha=0.3)
    axes.plot(HOURS, 100 * middle)
    axes.set(xlabel="hours", ylabel="weight left, %")
    plt.show()
names = {"thickness": (3, 15, 5), "fat": (0, 20, 6), "salt": (0, 20, 8), "temperature": (50, 75, 70)}
sliders = {name: ipywidgets.IntSlider(value, low, high) for name, (low, high, value) in names.items()}
box = ipywidgets.VBox([*sliders.values(), ipywidgets.interactive_output(draw, sliders)])
box.add_class("bench-usual")
"""
WATCH = """root => {
  const bench = window.bench ??= { pressed: 0, marks: [] };
  const mark = () => bench.marks.push(performance.now());
  const listen = image => { if (!image.heard) { image.heard = true; image.addEventListener('load', mark); } };
  document.addEventListener('keydown', () => { bench.pressed = performance.now(); bench.marks.length = 0; }, true);
  root.querySelectorAll('img').forEach(listen);
  new MutationObserver(changes => changes.forEach(change => change.addedNodes.forEach(node => {
    if (node.nodeType !== 1) return;
    for (const image of node.matches('img') ? [node] : node.querySelectorAll('img')) {
      listen(image); if (image.complete) mark();
    }
  }))).observe(root, { subtree: true, childList: true });
}"""
SETTLED = "quiet => window.bench.marks.length && performance.now() - window.bench.marks.at(-1) > quiet"
TAKEN = "window.bench.marks.at(-1) - window.bench.pressed"


def prepared(folder: Path) -> str:
    """A copy of workbook 00 with the cells for comparison at its end; the name of the copy."""
    notebook = nbformat.read(ROOT / "workbooks" / "00-start-here.ipynb", as_version=4)
    for source, name in ((HOPPING, "hopping"), (USUAL, "box")):
        notebook.cells.append(nbformat.v4.new_code_cell(source.strip() + f"\n{name}"))
    nbformat.write(notebook, folder / "workbooks" / "redraw.ipynb")
    return "workbooks/redraw.ipynb"


def onwards():
    """Slider and key: up and down the thickness, 3–15 mm, with one step of the fat (not timed) at each end."""
    place, way = 5, 1
    while True:
        if not 3 <= place + way <= 15:
            way = -way
            yield 1, "ArrowRight", False
        place += way
        yield 0, "ArrowRight" if way > 0 else "ArrowLeft", True


def hopping():
    """Slider and key: thickness, fat, salt and warmth in turn, all up and then all down, the warmth lagging behind."""
    for press in itertools.count():
        yield press % 4, "ArrowRight" if press // 4 % 10 < 5 or press % 4 == 3 else "ArrowLeft", True


def timed(page, root, moves, quiet: int) -> list[float]:
    """Milliseconds from key to picture for some moves."""
    sliders = root.get_by_role("slider").all()
    root.scroll_into_view_if_needed()
    taken = []
    for slider, key, counts in moves:
        sliders[slider].focus()
        page.keyboard.press(key)
        page.wait_for_function(SETTLED, arg=quiet)
        taken += [page.evaluate(TAKEN)] if counts else []
    return taken


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--presses", type=int, default=20)
    presses = parser.parse_args().presses
    place = Path(tempfile.mkdtemp(prefix="redraw-"))
    shutil.copytree(ROOT / "workbooks", place / "course" / "workbooks")
    shutil.copytree(ROOT / "data_demo", place / "course" / "data_demo")
    name = prepared(place / "course")
    with (
        running_lab(place, place / "course") as address,
        running_browser(place / "profile", find_chromium()) as context,
    ):
        page = show_notebook(context.new_page(), address, name)
        walks = {
            "onwards": (page.locator(".fy-panel").first, onwards(), 200),
            "hopping": (page.locator(".bench-hopping").first, hopping(), 200),
            "usual": (page.locator(".bench-usual").first, onwards(), 800),
        }
        for root, _, _ in walks.values():
            root.evaluate(WATCH)
        taken = {name: [] for name in walks}
        for _ in range(presses // 4 + 1):  # by turns, so that whatever else the machine does meets all of them
            for name, (root, moves, quiet) in walks.items():
                taken[name] += timed(page, root, itertools.islice(moves, 4), quiet)
        taken = {name: times[4:] for name, times in taken.items()}  # the first round warms up
    print(f"{'wiring':8s} {'median ms':>10s} {'p90 ms':>8s} {'ratio':>7s}   key on a slider -> picture")
    ours = statistics.median(taken["hopping"])
    for name, times in taken.items():
        median, slow = statistics.median(times), sorted(times)[round(0.9 * len(times)) - 1]
        print(f"{name:8s} {median:10.0f} {slow:8.0f} {median / ours:7.2f}")
    print(json.dumps({name: [round(value, 1) for value in times] for name, times in taken.items()}))
    shutil.rmtree(place)


if __name__ == "__main__":
    main()
