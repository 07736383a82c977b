"""Invent the weigh-in logs of the demo class: our own models, a hidden "true" dryer and fish, and a kitchen scale.

Nobody dried these batches. Run `python data_demo/make_logs.py` to write the three CSV files beside this script again.
"""

import csv
from pathlib import Path

import numpy as np

from flakeyard.steps.intent.batch_file import load_batch
from flakeyard.steps.intent.spread import Draws
from flakeyard.steps.plan.plan import plan
from flakeyard.tables import study_spread

HERE = Path(__file__).parent
SCALE_SD = (0.001, 0.003)  # kg, and share of the weight: invented
HIDDEN = {  # how this fish and dryer differ from the middle of the plan: invented
    "heron": {"drying diffusivity": 0.75 * 3.4e-10, "thickness": 1.05, "air speed": 0.8},
    "otter": {"drying diffusivity": 1.20 * 3.4e-10, "thickness": 0.97, "air speed": 1.3},
    "kingfisher": {"drying diffusivity": 0.95 * 3.4e-10, "thickness": 1.02, "air speed": 1.0},
}
WEIGHINGS = {"heron": (0, 2, 4, 5, 6, 7), "otter": (0, 2, 4.5, 7, 9, 12, 15), "kingfisher": (0, 1.5, 3, 4.5, 6)}


def log(name: str, seed: int) -> list[tuple]:
    """Rows of one log: hours since the start, tray, grams, note."""
    batch = load_batch(HERE / f"{name}.toml")
    middle = Draws(3)
    fixed = {key: np.full(3, value) for key, value in HIDDEN[name].items()}
    fixed |= {term.draw: np.ones(3) for term in study_spread()}  # this kitchen is like the laboratories
    load = plan(batch, draws=Draws(3, middle.seed, fixed)).load
    curve = np.median(load.result.mass_ratio.reshape(3, 3, -1)[1], axis=0)
    trays = batch.dryer.trays
    on_tray = plan(batch).salted["mass_kg"].mid / trays
    noise = np.random.default_rng(seed)
    rows = []
    for hours in WEIGHINGS[name]:
        left = np.interp(3600 * hours, load.result.times, curve)
        for tray in range(1, trays + 1):
            true = on_tray * (1 + 0.03 * np.sin(tray)) * left
            read = true + noise.normal(0, SCALE_SD[0]) + noise.normal(0, SCALE_SD[1] * true)
            clock = f"{17 + int(hours):02d}:{int(60 * (hours % 1)):02d}" if hours < 7 else ""
            stamp = f"2026-11-20 {clock}" if clock else f"2026-11-21 {int(hours) - 7:02d}:{int(60 * (hours % 1)):02d}"
            rows.append((stamp, tray, round(1000 * read), "as laid (invented)" if hours == 0 else ""))
    return rows


def main() -> None:
    for seed, name in enumerate(HIDDEN, 1):
        with (HERE / f"{name}-weighings.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(("time", "tray", "mass_g", "note"))
            writer.writerows(log(name, seed))


if __name__ == "__main__":
    main()
