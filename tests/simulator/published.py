"""The simulator beside published drying times: `python tests/simulator/published.py` prints the table.

This coarse comparison set the free constants of `flesh.MIDDLE` and the film (by hand: most rows within a factor of two);
they lean on the same rows as the package does, so neither is a test of the other's middle. What a row leaves open is put in the middle of the range it states; the trout rows give no thickness and are asked at 10 mm.
"""

from __future__ import annotations

import csv
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from simulator.air import DILUTE, SEA_LEVEL, Box, Room, saturation
from simulator.drying import Course, Pieces, dry
from simulator.flesh import MIDDLE, MakeUp
from simulator.mechanisms import SALT_SLOWING

TABLE = Path(__file__).parents[2] / "src" / "flakeyard" / "data" / "published" / "drying.csv"
LAW = replace(MIDDLE, salt_slowing=SALT_SLOWING)
TROUT_MM, TROUT_FAT = 10.0, 0.06  # not printed with the trout rows: invented


def rows() -> dict[str, dict]:
    """Published rows that say enough to be asked, by id."""
    with TABLE.open(encoding="utf-8") as file:
        told = {row["id"]: row for row in csv.DictReader(file)}
    asked = {name: row for name, row in told.items() if name.startswith("Y") or row["use"] == "test"}
    return {name: row for name, row in asked.items() if row["kind"] != "apparent_diffusivity"}  # no course to be asked


def one_piece(thickness: float, water: float, salt: float = 0.0, fat: float = 0.02, faces: int = 2) -> Pieces:
    """A single flat piece with open faces."""
    one = np.ones((1, 1))
    made = MakeUp(water * one, salt * one, 0 * one, fat * one, (1 - water - salt - fat) * one)
    return Pieces(thickness * one, 0.01 * one, made, one, (faces - 1) * one, one, 0 * one)


def even_air(celsius: float, humidity_ratio: float, speed: float) -> tuple[Box, Room]:
    """Air that stays as it is."""
    damp = humidity_ratio * SEA_LEVEL / DILUTE / float(saturation(20.0))
    return Box(celsius, speed=speed), Room(20.0, damp)


def hours_to(course: Course, kept: float) -> float:
    """Hours until the first piece is down to a share of its mass as laid."""
    mass = course.mass[:, 0, 0] / course.mass[0, 0, 0]
    return float(np.interp(-kept, -mass, course.times)) if mass[-1] <= kept else np.inf


def ours(row: dict) -> float:
    """What the simulator says of a row, in the row's unit."""
    if row["id"].startswith("Y"):
        salt, celsius = (float(row["product"].split(", ")[n].split(" ")[0]) for n in (1, 2))
        water = 0.74 - salt / 100
        course = dry(
            one_piece(TROUT_MM / 1000, water, salt / 100, TROUT_FAT), LAW, *even_air(celsius, 0.008, 1.0), horizon=300
        )
        return hours_to(course, (1 - water) / 0.75)
    middle = {name: _middle(row, name) for name in ("thickness_mm", "temperature", "humidity_ratio", "water", "salt")}
    speed, fat = _middle(row, "velocity") or 1.0, _middle(row, "fat")
    water = middle["water"]
    piece = one_piece(middle["thickness_mm"] / 1000, water, middle["salt"], fat, int(row["faces"]))
    course = dry(piece, LAW, *even_air(middle["temperature"], middle["humidity_ratio"], speed), horizon=300)
    if row["kind"] == "moisture_after":
        kept = np.interp(float(row["hours"]), course.times, course.mass[:, 0, 0] / course.mass[0, 0, 0])
        return float(100 * (1 - (1 - water) / kept))
    if row["kind"] == "hours_to_moisture":
        return hours_to(course, (1 - water) / (1 - _middle(row, "end")))
    part = float(row["part"])
    hours = hours_to(course, 1 - water * (1 - part))
    if row["kind"] == "shape":
        return hours_to(course, 1 - 0.9 * water) / hours
    return hours / ours(rows()[row["compared_with"]]) if row["kind"] == "part_ratio" else hours


def _middle(row: dict, name: str) -> float:
    low, high = row[name + "_low"], row[name + "_high"]
    return 0.5 * (float(low) + float(high)) if low else 0.0


def table() -> list[tuple[str, str, float, float]]:
    """Rows of (id, what, published, ours)."""
    return [
        (name, f"{row['product']}: {row['quantity']} [{row['unit']}]", float(row["published_mid"]), ours(row))
        for name, row in rows().items()
    ]


def main() -> None:
    found = table()
    for name, what, published, said in found:
        print(f"{name:4} {what[:78]:78} {published:7.2f} {said:7.2f}  x {said / published:.2f}")
    within = sum(0.5 <= said / published <= 2 for _, _, published, said in found)
    print(f"within a factor of two: {within} of {len(found)}")


if __name__ == "__main__":
    main()
