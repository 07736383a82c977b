"""The kitchen page as a file: whole, small, asking nobody, its words from the table; and no step for fish that is refused."""

import json
import re
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from flakeyard import messages
from flakeyard.models.constants import HOUR
from flakeyard.steps.judge.warm_hours import COUNTS
from flakeyard.steps.learn.exported import exported
from flakeyard.steps.learn.members import Members, Schedule, follow
from flakeyard.workbook import own
from flakeyard.workbook.pages import kitchen_page, logbook_page

HERON = own.demo_batch("heron")
MEMBERS = 60
SCRIPT = files("flakeyard.workbook").joinpath("pages", "kitchen_page.js").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def made():
    return exported(HERON, MEMBERS)


@pytest.fixture(scope="module")
def page():
    return kitchen_page.kitchen_page(HERON, name="heron")


def test_the_page_is_one_small_file_that_asks_nobody(page):
    assert len(page.encode()) < 400_000
    addresses = set(re.findall(r"https?://[^\s'\"`)]+", page))
    assert addresses <= {"http://www.w3.org/2000/svg"}
    assert "default-src 'none'" in page and "connect-src" not in page and not re.search(r"@[A-Z_]+@", page)
    assert not re.search(r"\b(src|href)=\"(?!data:)", page)


def test_every_word_of_the_page_is_in_the_table(page):
    table = messages.unfilled("phone.")
    asked = set(re.findall(r"say\('(\w+)'", SCRIPT))
    assert asked and asked <= set(table)
    source = SCRIPT + "".join(Path(one.__file__).read_text(encoding="utf-8") for one in (kitchen_page, logbook_page))
    built = ("why_", "event_", "kind_", "field_", "help_")  # names that are put together
    assert not [name for name in table if not name.startswith(built) and not re.search(rf"['\".]{name}['\"]", source)]
    told = json.loads(re.search(r'<script type="application/json" id="data">(.*?)</script>', page, re.S)[1])
    assert told["words"] == table


def test_the_curves_that_travel_are_those_of_the_plan(made):
    numbers, home = made.numbers, made.numbers["home"]
    course = follow(HERON, Schedule((), ((0.0, HERON.dryer.temperature),), ()), Members(MEMBERS))
    hours = course.times / HOUR
    places = numbers["numbers"][home].T.astype(float)
    curves = np.exp(numbers["shapes"][0] + places @ numbers["shapes"][1:])
    for curve, true in zip(np.split(curves, 2, axis=1), (course.pieces[-1], course.load), strict=True):
        kept = np.stack([np.interp(numbers["hours"], hours, one) for one in true])
        assert np.abs(curve / kept - 1).max() < 0.01


def test_the_clocks_that_travel_are_those_of_the_plan(made):
    course = follow(HERON, Schedule((), ((0.0, HERON.dryer.temperature),), ()), Members(MEMBERS))
    hours, clocks = course.times / HOUR, made.numbers["clocks"][made.numbers["home"]]
    for name, count in zip(COUNTS, course.counts, strict=True):
        told = np.clip(hours - clocks[f"{name}_from"][:, None], 0.0, clocks[f"{name}_most"][:, None])
        assert (told >= count - 1e-4).all()  # never milder
        assert (told - count).max() < 0.3


def test_the_dial_travels_no_farther_than_drying_was_tested(made):
    assert made.numbers["dials"] == [60.0, 65.0, 70.0, 75.0]


@pytest.mark.parametrize(
    ("what", "said"),
    [({"smells_normal": False}, "Do not make this batch"), ({"gutted": None}, "Not known")],
)
def test_fish_that_is_refused_gets_no_step_and_no_stop_weight(what, said):
    batch = replace(HERON, fish=replace(HERON.fish, **what))
    told = kitchen_page.kitchen_page(batch)
    assert said in told and "<script" not in told and "extension" in told.lower()
    assert "Way out" in told and not re.search(r"\b44 %", told)
