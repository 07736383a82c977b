"""A whole batch through the front door and nothing else: typed text and Quantities, records, frames, words, a picture."""

import pydoc
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import flakeyard as fy
from flakeyard import display
from flakeyard.steps.plan.plan import SECTIONS
from flakeyard.workbook import words
from flakeyard.workbook.reference import reference_page

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "data_demo"
MODULES = {"check", "formulas", "study", "tables"}
HEAVY = ("pandas", "pint", "matplotlib", "ipywidgets")
SOUR = {"pickling salt": "160 g", "water": "1.35 L", "vinegar": "0.45 L"}
TYPED = {
    "title": "A shelf of two trays",
    "serving": "30 g",
    "fish": {
        "species": "tilapia", "raw_weight": "0.8 kg", "hours_above_4c": 0.5, "hours_above_21c": 0, "fat": 1.7,
        "stock": "fresh", "origin": "farmed", "gutted": True, "smells_normal": True, "waters": "cold or temperate",
    },
    "cut": {"form": "fillets", "thickness": "4 mm", "thickest": "5 mm", "skin": "off"},
    "brine": {"time": "10 h", "temperature": "3 °C", "ingredient": [
        {"what": "pickling salt", "amount": "100 g"}, {"what": "water", "amount": "1.2 L"},
    ]},
    "freshen": [{"water": "3 L", "time": "1 h", "temperature": "4 °C", "changes": 2}],
    "heat": {"core": "74 °C", "hold": "1 min", "checked": "probe", "to_tray": "10 min"},
    "dryer": {"temperature": "75 °C", "trays": 2, "tray_area": "900 cm2", "faces": 2, "heater": "1000 W"},
    "room": {"temperature": "20 °C", "relative_humidity": 50},
    "keep": {"place": "refrigerator", "pack": "paper bag", "wanted_days": 7},
}  # fmt: skip


def in_quantities() -> dict:
    """The same batch, every amount of it a Quantity, some in other units."""
    of = fy.Quantity
    return TYPED | {
        "serving": of(0.03, "kg"),
        "fish": TYPED["fish"] | {"raw_weight": of(800, "g"), "hours_above_4c": of(30, "min"), "fat": of(1.7, "percent")},
        "cut": TYPED["cut"] | {"thickness": of(0.4, "cm"), "thickest": of(5, "mm")},
        "brine": {"time": of(600, "min"), "temperature": of(3, "degC"), "ingredient": [
            {"what": "pickling salt", "amount": of(100, "g")}, {"what": "water", "amount": of(1.2, "L")},
        ]},
        "freshen": [{"water": of(3, "L"), "time": of(1, "h"), "temperature": of(277.15, "K"), "changes": of(2, "")}],
        "heat": TYPED["heat"] | {"core": of(74, "degC"), "hold": of(60, "s"), "to_tray": of(10, "min")},
        "dryer": TYPED["dryer"] | {"temperature": of(75, "degC"), "tray_area": of(0.09, "m**2"), "heater": of(1, "kW")},
        "room": {"temperature": of(20, "degC"), "relative_humidity": of(0.5, "")},
        "keep": TYPED["keep"] | {"wanted_days": of(1, "week")},
    }  # fmt: skip


def log_rows(mass, hours) -> list[dict]:
    """Two trays weighed four times, by functions that write a weight of so many grams and so many hours."""
    weighed = ((0, 380, 375), (2, 290, 288), (4, 238, 236), (6, 207, 205))
    return [mass(grams) | hours(when) | {"tray": str(n)} for when, *both in weighed for n, grams in enumerate(both, 1)]


@pytest.fixture(scope="module")
def typed():
    rows = log_rows(lambda grams: {"mass_g": grams}, lambda when: {"hours": when})
    return whole_batch(fy.load_batch(TYPED), rows, "2 g")


@pytest.fixture(scope="module")
def quantities():
    rows = log_rows(lambda g: {"mass": fy.Quantity(g / 1000, "kg")}, lambda h: {"hours": fy.Quantity(60 * h, "min")})
    return whole_batch(fy.load_batch(in_quantities()), rows, fy.Quantity(0.002, "kg"))


def whole_batch(batch, rows, scale) -> dict:
    """Read, plan, ways, log, learn."""
    outcome, log = fy.plan(batch), fy.read_log(rows)
    return {
        "batch": batch, "outcome": outcome, "ways": fy.ways(outcome), "log": log, "learned": fy.learn(batch, log, scale=scale),
    }  # fmt: skip


# Typed text and Quantities


def test_typed_text_and_quantities_give_the_same_numbers(typed, quantities):
    assert typed["batch"] == quantities["batch"]
    for name in ("outcome", "ways", "log", "learned"):
        assert typed[name].frame().equals(quantities[name].frame()), name
    assert typed["learned"].learned == quantities["learned"].learned


def test_the_numbers_are_those_of_the_steps(typed):
    from flakeyard.steps.intent.batch_file import read_batch
    from flakeyard.steps.plan.plan import plan

    assert typed["outcome"].as_dict() == plan(read_batch(TYPED)).as_dict()


def test_a_change_may_be_told_either_way(typed):
    thin = fy.change(typed["batch"], "cut", thickness="3 mm", thickest=None)
    assert thin == fy.change(typed["batch"], "cut", thickness=fy.Quantity(0.3, "cm"), thickest=None)
    assert thin.cut.thickness == 0.003 and thin.cut.thickest is None


def test_a_brine_may_be_told_either_way():
    told = {"pickling salt": fy.Quantity(0.16, "kg"), "water": fy.amount("1.35 L"), "vinegar": fy.Quantity(450, "mL")}
    assert fy.brine(told, fy.Quantity(68, "degF")).frame().equals(fy.brine(SOUR).frame())


def test_quantities_of_another_registry_are_read():
    import pint

    other = pint.UnitRegistry()
    assert fy.amount(6 * other.mm).value == 0.006
    assert fy.amount(other.Quantity(145, "degF")).value == pytest.approx(fy.amount("145 °F").value, rel=1e-14)
    assert fy.show(other.Quantity(6, "mm")) == fy.show("6 mm") == fy.show(0.006, "length") == "6 mm (0.24 in)"


@pytest.mark.parametrize(
    ("number", "unit", "why"),
    [
        (6, "candela", "in candela"), (5, "delta_degC", "in delta_degree_Celsius"), (float("nan"), "mm", "one can measure"),
        (float("inf"), "mm", "one can measure"), ([1, 2], "mm", "scalar"), (63, "degC", "needed is a length"), (-6, "mm", "more than zero|too little"),
    ],
)  # fmt: skip
def test_a_quantity_that_cannot_be_is_refused_by_name(number, unit, why):
    with pytest.raises(fy.InputError, match=why):
        fy.amount(fy.Quantity(number, unit), "length")
    with pytest.raises(fy.InputError, match=why) as refused:
        fy.load_batch(TYPED | {"cut": {"thickness": fy.Quantity(number, unit)}})
    assert "thickness" in refused.value.field


def test_a_bare_number_in_a_wrong_unit_is_refused():
    with pytest.raises(fy.InputError, match="hours_above_4c"):
        fy.change(fy.load_batch(TYPED), "fish", hours_above_4c=fy.Quantity(3, "kg"))
    with pytest.raises(fy.InputError, match="its kind"):
        fy.show(0.006)
    with pytest.raises(fy.InputError, match="tray"):
        fy.read_log([{"hours": 0, "tray": fy.Quantity(1, "kg"), "mass_g": 300}])


@given(
    number=st.floats(1e-3, 1e3),
    unit=st.sampled_from(("kg", "lb", "mL", "gallon", "mm", "inch", "cm**2", "degF", "K", "min", "day", "W", "kg/L")),
)
def test_a_quantity_is_read_to_the_last_digits(number, unit):
    quantity = fy.Quantity(number, unit)
    read = fy.amount(quantity)
    back = read.quantity.to(quantity.units)
    # half of the 15th digit, and floating point of two changes of unit; a temperature is as sure as its zero, 459.67 °F
    assert back.magnitude == pytest.approx(number, rel=6e-15, abs=2e-12 if read.kind == "temperature" else 0)


def test_a_quantity_next_to_nothing_is_read_without_an_exponent():
    assert fy.amount(fy.Quantity(273.15000000000003, "K")).value == pytest.approx(0, abs=1e-12)
    assert fy.amount(fy.Quantity(1e-9, "kg")).value == pytest.approx(1e-9)


# Frames and Quantities out


def test_every_frame_of_a_prediction_carries_its_spread_and_its_caution(typed):
    for result in (typed["outcome"], typed["learned"], fy.brine(SOUR)):
        frame = result.frame()
        assert list(frame.columns) == ["low", "middle", "high", "caution"]
        assert (frame["low"] <= frame["high"]).all()
        assert frame["caution"].str.contains(words.caution_line()[:30], regex=False).all()
    frame = typed["ways"].frame()
    assert {"hours, low [h]", "hours, middle [h]", "hours, high [h]", "stop at [%]"} < set(frame.columns)
    assert (
        frame["caution"].str.contains(words.caution_line(), regex=False).all() and len(frame) == len(typed["ways"]) > 1
    )


def test_the_caution_stays_with_part_of_a_frame_and_with_its_file(typed):
    part = typed["outcome"].frame().loc[["hours [h]"]]
    assert words.keep_words(typed["outcome"].verdict.keep) in part["caution"].iloc[0]
    assert words.caution_line()[:30] in part.to_csv()


def test_a_batch_that_is_refused_says_so_in_every_row():
    raw = fy.plan(fy.change(fy.load_batch(TYPED), "fish", gutted=False))
    assert raw.verdict.keep == "nowhere"
    assert raw.frame()["caution"].str.contains("Do not keep").all()
    none = fy.ways(raw).frame()
    assert len(fy.ways(raw)) == 0 and none["place"].iloc[0] == "none can be granted" and none["caution"].iloc[0]
    assert none["at most [days]"].isna().all()


def test_numbers_in_a_frame_and_as_quantities_are_those_of_the_record(typed):
    outcome = typed["outcome"]
    hours, frame = outcome.drying["hours_to_target"], outcome.frame()
    assert list(frame.loc["hours [h]", ["low", "middle", "high"]]) == [hours.low, hours.mid, hours.high]
    assert list(outcome.quantity("hours").m_as("minute")) == pytest.approx(
        [60 * hours.low, 60 * hours.mid, 60 * hours.high]
    )
    assert outcome.quantity("stop at", "middle").m_as("") == pytest.approx(outcome.drying["mass_ratio"].mid)
    assert outcome.quantity("wet bulb", "high").m_as("degC") == outcome.drying["wet_bulb_c"].high
    assert len(frame) == sum(len(getattr(outcome, name)) for name in SECTIONS) - 1  # the water activity once
    assert typed["log"].quantity("weight").m_as("kg").sum() == pytest.approx(
        sum(e.mass for e in typed["log"].weighings)
    )


def test_what_is_not_known_never_passes_for_a_number():
    thick = fy.change(fy.load_batch(TYPED), "cut", thinnest="18 mm", thickness="20 mm", thickest="22 mm")
    damp = fy.change(thick, "room", temperature="22 °C", relative_humidity=95)
    outcome = fy.plan(fy.change(damp, "dryer", temperature="22 °C"))
    assert not outcome.drying["hours_to_target"].known
    with pytest.raises(ValueError, match="not known"):
        outcome.quantity("hours")
    with pytest.raises(TypeError):
        bool(outcome.frame().loc["hours [h]", "high"] > 10)
    assert "hours [h]  |  not known" in repr(fy.show_table(outcome.frame().loc[["hours [h]"]]))


def test_a_name_that_is_not_there_is_refused_with_those_that_are(typed):
    for ask in (lambda: typed["outcome"].quantity("days"), lambda: typed["outcome"].quantity("hours", "mean")):
        with pytest.raises(fy.InputError, match="no such name"):
            ask()
    with pytest.raises(fy.InputError, match="species"):
        fy.tables.frame("fishes")
    with pytest.raises(AttributeError, match="load_batch"):
        fy.lode_batch  # noqa: B018


@pytest.mark.parametrize("show", [fy.panel, fy.form, fy.table, fy.batch])
def test_what_is_not_there_to_be_shown_is_refused_with_what_is(show):
    with pytest.raises(fy.InputError, match=r"(?s)salted air.*(heron|cups|brine)"):
        show("salted air")


@pytest.mark.parametrize("places", [display.PANELS, display.FORMS, display.TABLES])
def test_everything_to_be_shown_stands_where_it_is_said_to(places):
    assert all(callable(display._named(place)) for place in places.values())


def test_units_are_shown_as_buttons_and_rule_what_is_shown():
    choice = fy.choose_units("us")
    assert "application/vnd.jupyter.widget-view+json" in choice._repr_mimebundle_()
    assert choice.show(0.00635, "length") == "0.25 in"
    cells = [cell for row in fy.table("cups", choice).rows for cell in row[1:]]
    assert cells and all(cell.endswith(" oz") for cell in cells)


def test_a_question_is_a_choice_or_a_number():
    assert fy.ask("Which?", {"this": "Yes.", "that": "No."}, "this").answer == "this"
    assert fy.ask("How long?", kind="time", model=3600, why="So.", example="2 h", within=0.1).model == 3600
    with pytest.raises(ValueError, match="right"):
        fy.ask("Which?", {"this": "Yes."}, "that")


@pytest.mark.parametrize("name", fy.tables.FRAMES)
def test_every_table_is_a_frame_with_its_units_and_sources(name):
    frame = fy.tables.frame(name)
    assert len(frame) > 3
    assert not {"water g", "sodium mg", "millilitres"} & set(frame.columns)
    if name not in ("nomenclature",):
        assert "source id" in frame.columns


def test_what_a_table_does_not_know_stays_not_known():
    frame = fy.tables.frame("species").set_index("id")
    unsure = [one for one in fy.tables.all_species() if one.histamine_former is None]
    for one in unsure:
        with pytest.raises(TypeError):
            bool(frame.loc[one.id, "histamine former"])
    missing = [one.id for one in fy.tables.all_species() if one.water_g is None]
    assert missing and frame.loc[missing, "water [g/100 g]"].isna().all()


def test_check_values_as_a_frame():
    frame = fy.check.frame()
    assert len(frame) == len(fy.tables.check_values()) and frame["within"].all()
    assert ((frame["computed"] - frame["published"] - frame["difference"]).abs() < 1e-9).all()


def test_a_table_shows_units_and_the_caution_once(typed):
    shown = fy.show_table(typed["outcome"].frame())
    assert shown.head == ("what", "low", "middle", "high") and len(shown.foot) == 1
    assert shown._repr_markdown_().count(shown.foot[0]) == repr(shown).count(shown.foot[0]) == 1
    assert "| hours [h] |" in shown._repr_markdown_()
    assert fy.show_table(fy.tables.frame("packs")).rows[0].count("yes") == 1


def test_a_picture_comes_with_words_and_caution(typed):
    twin = fy.picture(typed["outcome"])
    assert twin.png.startswith(b"\x89PNG") and len(twin.said.alt) > 40
    assert words.caution_line(typed["outcome"].verdict) in str(twin)
    assert f"{typed['outcome'].drying['mass_ratio'].mid:.0%}".strip("%") in twin.said.sentence


# The door itself


def test_help_speaks():
    told = pydoc.plain(pydoc.render_doc(fy))
    for name in fy.__all__:
        assert name in told and name in dir(fy)
    assert 10 <= len(fy.__all__) <= 24
    for name in set(fy.__all__) - MODULES:
        assert pydoc.splitdoc(getattr(fy, name).__doc__)[0] in " ".join(told.split()), name


def test_every_function_of_the_door_tells_what_goes_in_and_out():
    for name in set(fy.__all__) - MODULES:
        doc = getattr(fy, name).__doc__
        assert "Parameters:" in doc and "Returns:" in doc, name


def test_heavy_libraries_come_only_when_a_frame_or_a_quantity_is_asked_for():
    code = (
        f"import sys, flakeyard as fy\nheavy = lambda: [m for m in {HEAVY} if m in sys.modules]\n"
        f"batch = fy.load_batch(r'{DEMO / 'kingfisher.toml'}')\noutcome = fy.plan(batch)\n"
        "fy.ways(outcome); fy.brine({'pickling salt': '160 g', 'water': '1.8 L'}); fy.show('6 mm'); fy.species('cod')\n"
        f"fy.read_log(r'{DEMO / 'kingfisher-weighings.csv'}'); print(heavy())\n"
        "outcome.frame(); print(heavy())\noutcome.quantity('salt as laid'); print(heavy())"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert told.split("\n")[:3] == ["[]", "['pandas']", "['pandas', 'pint']"]


def shown_code():
    """The blocks of Python that the page of the front door and the page of the project begin with."""
    for path in ("README.md", "workbooks/reference.md"):
        text = (ROOT / path).read_text(encoding="utf-8")
        yield pytest.param(re.search(r"```python\n(import flakeyard.+?)```", text, re.DOTALL)[1], id=path)


@pytest.mark.parametrize("code", list(shown_code()))
def test_the_code_that_is_shown_runs(code, monkeypatch):
    monkeypatch.chdir(ROOT)
    names: dict = {}
    exec(code, names)
    assert names["outcome"].quantity("hours", "middle").m_as("h") > 0


def test_the_page_of_the_front_door_is_what_the_docstrings_say():
    assert (ROOT / "workbooks" / "reference.md").read_text(encoding="utf-8") == reference_page(), (
        "run: python -m flakeyard.workbook.reference > workbooks/reference.md"
    )
    assert "workbooks/reference.md" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_page_has_a_part_for_every_name():
    heads = [line for line in reference_page().splitlines() if line.startswith("## ")]
    assert all(any(head.startswith(f"## `fy.{name}") for head in heads) for name in fy.__all__)


def test_the_version_stands_in_one_place():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert "version" in project["project"]["dynamic"] and "version" not in project["project"]
    found = (ROOT / project["tool"]["hatch"]["version"]["path"]).read_text(encoding="utf-8")
    assert found.count(f'__version__ = "{fy.__version__}"') == 1
    assert fy.__version__ not in (ROOT / "README.md").read_text(encoding="utf-8")
    assert (ROOT / "src" / "flakeyard" / "py.typed").exists()


@pytest.mark.parametrize(
    ("command", "part"), [("card", "paper"), ("print", "paper"), ("serve", "room"), ("open", "lab")]
)
def test_a_missing_part_is_named_with_what_to_install(command, part):
    from flakeyard.cli import _not_installed

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert f"pip install 'flakeyard[{part}]'" in _not_installed("pypdf", command)
    assert part in project["optional-dependencies"]
