"""The scale, the clock and the log of the simulated kitchen. All spreads are invented.

A learner does not write down what cannot be: a tray that seems to have gained weight is weighed again, and left out
with a word when it still has.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

BEGAN = datetime(2026, 11, 20, 17, 0)
HEADER = "time,tray,mass_g,event,dial_c,note"
GAINED, GAINED_GRAMS = 1.018, 1.5  # a learner believes a gain up to this; a little under what the log refuses
LEAST_SHARE = 0.13  # of the mass as laid; less than the dry matter of any fish


class Weighed:
    """What the scale shows of trays and marked piece at true hours."""

    def __init__(self, trays: int, dice, truth):
        self.truth, self.times = truth, truth.course.times
        self.rng = dice.rng("scale")
        self.step = dice("scale", "scale step", 0.0, lambda r: float(r.choice((1, 2, 5), p=(0.5, 0.3, 0.2))))
        self.gain = dice("scale", "gain", 1.0, lambda r: 1 + r.normal(0, 0.005))
        self.tare = dice("scale", "tare", np.zeros(trays), lambda r: r.normal(0, 1.0, trays))
        self.drift = dice("scale", "drift", 0.0, lambda r: r.normal(0, 0.15))
        self.drops = dice("wet trays", "drops", np.zeros(trays), lambda r: r.uniform(0, 4, trays))
        self.clock = dice.rng("clock") if "clock" in dice.on else None
        habit = dice("habit", "habit", "all", lambda r: str(r.choice(("all", "trays", "marked"), p=(0.6, 0.2, 0.2))))
        names = [str(tray + 1) for tray in range(trays)]
        self.names = {"all": [*names, "thickest"], "trays": names, "marked": [names[0], "thickest"]}[habit]

    def grams(self, name: str, hours: float) -> float:
        """True grams on the scale, with drops and errors."""
        if name == "thickest":
            true = 1000 * self.truth.marked_mass * float(np.interp(hours, self.times, self.truth.marked))
            return self._read(true, hours, 0.0)
        tray = int(name) - 1
        true = 1000 * float(np.interp(hours, self.times, self.truth.trays[:, tray]))
        return self._read(true + self.drops[tray] * np.exp(-hours / 1.5), hours, self.tare[tray])

    def _read(self, grams: float, hours: float, tare: float) -> float:
        if not self.step:
            return round(grams, 2)
        shown = grams * self.gain + tare + self.drift * min(hours, 12.0) + self.rng.normal(0, 0.3 * self.step)
        return max(self.step * round(shown / self.step), self.step)

    def noted(self, hours: float) -> float:
        """An hour of the learner's clock as noted: some minutes off and in quarters, when the clock is a mechanism."""
        return hours if self.clock is None else round(4 * (hours + self.clock.uniform(-0.2, 0.2))) / 4


def written(weighed: Weighed, moments: list[float], changes: list, late: float) -> str:
    """The log as text: weighings at true hours, and what else was logged; ``late``: true hour of the first row."""
    rows, last, laid, stamp = [], {}, {}, 0.0
    stamps = {}
    for moment in moments:
        stamp = max(weighed.noted(moment - late), stamp + 0.25) if moment else 0.0
        stamps[moment] = stamp
        rows += [(stamp, name, *_weighing(weighed, name, moment, last, laid)) for name in weighed.names]
        rows += _moves(changes, moment, stamp)
    rows += [row for change in changes for row in _other(change, stamps, late)]
    rows.sort(key=lambda row: row[0])
    return "\n".join([HEADER, *(_line(row) for row in rows)]) + "\n"


def _weighing(weighed: Weighed, name: str, moment: float, last: dict, laid: dict) -> tuple:
    """Mass, event, dial and note of one row; weighed twice more when it cannot be."""
    for _ in range(3):
        grams = weighed.grams(name, moment)
        before = last.get(name, np.inf)
        if (grams <= before * GAINED or grams <= before + GAINED_GRAMS) and grams >= LEAST_SHARE * laid.get(name, 0):
            last[name] = grams
            laid.setdefault(name, grams)
            return f"{grams:g}", "", "", "" if moment else "as laid (simulated)"
    return "", "", "", "the scale would not settle"


def _moves(changes: list, moment: float, stamp: float) -> list[tuple]:
    """Rows for trays that were moved at a weighing."""
    moved = [change for change in changes if change.what.startswith("moved") and change.hours == moment]
    return [(stamp, tray, "", "moved", "", "") for change in moved for tray in change.what.split(" ")[1:]]


def _other(change, stamps: dict, late: float) -> list[tuple]:
    """Rows for a pause or a turn of the dial; never noted before a weighing that came before it."""
    before = max(stamp for moment, stamp in stamps.items() if moment <= change.hours)
    noted = max(change.hours - late, before)
    if change.what == "pause":
        back = noted + change.length
        return [(noted, "", "", "pause cold", "", "in the refrigerator"), (back, "", "", "go on", "", "back in")]
    if change.what.startswith("dial"):
        return [(noted, "", "", "", change.what.split(" ")[1], "turned")]
    return []


def _line(row: tuple) -> str:
    hours, *cells = row
    return ",".join([(BEGAN + timedelta(minutes=round(60 * hours))).strftime("%Y-%m-%d %H:%M"), *cells])
