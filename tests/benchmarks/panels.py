"""How long from a key on a slider to the new picture, for every panel of the course. Run: python tests/benchmarks/panels.py

Opens each workbook in a private JupyterLab, runs it, and presses an arrow key on every slider of its panel a few times,
each time to a setting not seen before where the slider is long enough.
"""

import shutil
import statistics
import tempfile
from pathlib import Path

from live import CLEAR, ROOT, SHOWN, WATCH, find_chromium, running_browser, running_lab, show_notebook

PRESSES = 5
QUIET = 300  # ms in which a later picture may still come


def times_of(page, panel) -> list[float]:
    panel.scroll_into_view_if_needed()
    panel.evaluate(WATCH)
    if (more := panel.locator(".fy-more > summary")).count():
        more.click()
    places = panel.locator("input[type=range]") if more.count() else panel.get_by_role("slider")
    taken = []
    for slider in places.all():
        slider.focus()
        for _ in range(PRESSES):
            page.evaluate(CLEAR)
            page.keyboard.press("ArrowRight")
            page.wait_for_timeout(QUIET)
            if not page.evaluate("() => bench.set.length + bench.pictures.length"):
                break  # at its end
            page.wait_for_function(SHOWN)
            page.wait_for_timeout(QUIET)
            taken.append(page.evaluate("() => bench.pictures.at(-1)"))
    return taken


def main() -> None:
    place = Path(tempfile.mkdtemp(prefix="panels-"))
    for part in ("workbooks", "data_demo"):
        shutil.copytree(ROOT / part, place / "course" / part)
    print(f"{'workbook':24s} {'presses':>8s} {'median ms':>10s} {'p90 ms':>8s}")
    with (
        running_lab(place, place / "course") as address,
        running_browser(place / "profile", find_chromium()) as context,
    ):
        for file in sorted((place / "course" / "workbooks").glob("*.ipynb")):
            page = show_notebook(context.new_page(), address, f"workbooks/{file.name}")
            panels = page.locator(".fy-panel, .fy-touch").all()
            taken = sorted(t for panel in panels for t in times_of(page, panel))
            slow = taken[round(0.9 * len(taken)) - 1]
            print(f"{file.stem:24s} {len(taken):8d} {statistics.median(taken):10.0f} {slow:8.0f}", flush=True)
            page.close()
    shutil.rmtree(place)


if __name__ == "__main__":
    main()
