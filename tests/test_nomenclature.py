"""Each parameter of a model has a row in the nomenclature and a line in its docstring; each source named exists."""

import csv
import importlib
import inspect
import pkgutil
import re
from importlib.resources import files

import pytest

from flakeyard import models, tables

DATA = files("flakeyard").joinpath("data")


def public_functions():
    for info in pkgutil.iter_modules(models.__path__):
        module = importlib.import_module(f"flakeyard.models.{info.name}")
        for name, function in inspect.getmembers(module, inspect.isfunction):
            if function.__module__ == module.__name__ and not name.startswith("_"):
                yield pytest.param(function, id=f"{info.name}.{name}")


def parameters(function) -> list[str]:
    starred = (inspect.Parameter.VAR_POSITIONAL, inspect.Parameter.VAR_KEYWORD)
    return [name for name, one in inspect.signature(function).parameters.items() if one.kind not in starred]


def documented(function) -> list[str]:
    """Names before the colon in the Parameters block; several names may share a line."""
    text = inspect.cleandoc(function.__doc__ or "")
    block = re.search(r"^Parameters:[ \t]*\n?(.*?)(?=^\S|\Z)", text, re.MULTILINE | re.DOTALL)
    if not block:
        return []
    lines = re.findall(r"^\s*([a-z_0-9]+(?:\s*,\s*[a-z_0-9]+)*) : ", block[1], re.MULTILINE)
    return [name.strip() for line in lines for name in line.split(",")]


def data_files():
    for path in (*DATA.iterdir(), *DATA.joinpath("check_values").iterdir(), *DATA.joinpath("published").iterdir()):
        if path.name.endswith(".csv"):
            yield pytest.param(path, id=path.name)


@pytest.mark.parametrize("function", list(public_functions()))
def test_parameters_are_in_the_nomenclature(function):
    missing = [name for name in parameters(function) if name not in tables.nomenclature()]
    assert not missing, f"no row in nomenclature.csv for {missing}"


@pytest.mark.parametrize("function", list(public_functions()))
def test_docstring_and_signature_name_the_same_parameters(function):
    assert function.__doc__, "a public function needs a docstring"
    told, taken = set(documented(function)), set(parameters(function))
    assert told >= taken, f"not documented: {sorted(taken - told)}"
    if not any(one.kind is inspect.Parameter.VAR_KEYWORD for one in inspect.signature(function).parameters.values()):
        assert told == taken, f"documented, but not taken: {sorted(told - taken)}"


def test_nomenclature_rows_are_complete():
    for symbol in tables.nomenclature().values():
        assert symbol.name.isidentifier() and symbol.unit and symbol.meaning, symbol


@pytest.mark.parametrize("path", list(data_files()))
def test_sources_exist_and_how_is_one_of_three(path):
    with path.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    assert all(None not in row and None not in row.values() for row in rows), "a row has too many or too few cells"
    for number, row in enumerate(rows, 2):
        for column, text in row.items():
            if column.endswith("source_id") and text and path.name != "sources.csv":
                assert text in tables.sources(), f"line {number}: {text} is not in sources.csv"
            if column in ("how", "obtained") or column.endswith("_how"):
                assert text in tables.HOWS or (text == "" and column not in ("how", "obtained")), (
                    f"line {number}: {column} = {text!r}"
                )
