"""What the rooms of the steps give back as numbers says its unit, its range and where it comes from."""

import importlib
import inspect
import pkgutil
import re

import pytest

from flakeyard import steps, tables

ROOMS = ("intent", "judge", "chain", "plan", "learn")
NUMBER = re.compile(r"\b(float|int|ndarray|Band)\b")
UNITS = {
    "kg", "kg/kg", "kg/s", "kg per kg dry solids", "mg", "m", "m2", "m2/kg", "s", "min", "h", "days", "°C", "share", "count", "1",
    "water activity", "degrees", "L", "kg/L", "W/m2/K", "h/kg", "0–1",
}  # fmt: skip
OF_WHAT_IS_GIVEN = re.compile(r"unit of the (values?|band|ends|middle)")
OURS = (
    "as told",
    "judgement",
    "given",
    "draws",
    "balance of masses",
    "own row",
    "the rules",
    "the facts",
    "the timetable",
    "seeded",
)


def functions():
    """Public functions and methods whose result is annotated as a number, by their place."""
    for room in ROOMS:
        package = importlib.import_module(f"{steps.__name__}.{room}")
        for info in pkgutil.iter_modules(package.__path__):
            module = importlib.import_module(f"{package.__name__}.{info.name}")
            for name, thing in vars(module).items():
                if getattr(thing, "__module__", "") == module.__name__ and not name.startswith("_"):
                    yield from _numbers(f"{room}.{info.name}.{name}", thing)


def _numbers(place, thing):
    if inspect.isclass(thing):
        for name, member in vars(thing).items():
            if not name.startswith("_"):
                yield from _numbers(f"{place}.{name}", getattr(member, "fget", getattr(member, "func", member)))
    elif inspect.isfunction(thing) and NUMBER.search(str(thing.__annotations__.get("return", ""))):
        yield place, thing


FUNCTIONS = dict(functions())
each = pytest.mark.parametrize("place", FUNCTIONS)


def test_there_are_functions_in_every_room():
    assert len(FUNCTIONS) >= 60 and {place.split(".")[0] for place in FUNCTIONS} == set(ROOMS)


@each
def test_what_comes_back_has_a_unit_and_a_range(place):
    doc = inspect.getdoc(FUNCTIONS[place]) or ""
    told = re.search(r"^(?:.* )?Returns: ([^\n]*(?:\n +[^\n]+)*)", doc, re.MULTILINE)
    assert told, doc
    marks = [mark.partition(", ") for mark in re.findall(r"\[([^\]]+)\]", told[1])]
    assert marks and all(unit in UNITS or OF_WHAT_IS_GIVEN.fullmatch(unit) for unit, _, _ in marks), told[1]
    assert all(extent or unit == "0–1" for unit, _, extent in marks), told[1]


@each
def test_what_comes_back_says_where_it_comes_from(place):
    doc = inspect.getdoc(FUNCTIONS[place]) or ""
    told = re.search(r"^(?:.* )?Source: ([^\n]*(?:\n +[^\n]+)*)", doc, re.MULTILINE)
    assert told, doc
    for part in told[1].split("; "):
        first = re.split(r"[ ,]", part)[0]
        assert first in tables.sources() or any(word in part for word in OURS) or _stands(first), part


def _stands(path: str) -> bool:
    """Whether a dotted name below the package leads to something."""
    for name in (f"flakeyard.{path}", f"flakeyard.{path.rpartition('.')[0]}"):
        try:
            module = importlib.import_module(name)
        except ImportError:
            continue
        return name.endswith(path) or hasattr(module, path.rpartition(".")[2])
    return False
