"""Reading typed amounts, showing values, and calling models with quantities.

Unit sizes are checked against scipy.constants (exact definitions) and pint; cups also in check_values/kitchen.csv.
"""

import math
import pickle
import subprocess
import sys
from fractions import Fraction

import numpy as np
import pytest
import scipy.constants as constants
from hypothesis import given
from hypothesis import strategies as st

from flakeyard import units
from flakeyard.units import Amount, InputError, read_amount, show, show_band, unit_choices, with_units

OF_A_COOK = {"month": 30, "year": 365}  # days, where pint knows those of the sky
CUP = 236.5882365e-6  # m3, US cup, exact: 231 cubic inches / 16
EVERY_KIND = tuple(units.KINDS)


def refusal(typed, kinds="mass", **options) -> str:
    with pytest.raises(InputError) as caught:
        read_amount(typed, kinds, "[brine] amount", **options)
    return str(caught.value)


@pytest.mark.parametrize(
    ("typed", "kind", "value"),
    [
        ("250 g", "mass", 0.25),
        ("1.8 kg", "mass", 1.8),
        ("1.250 kg", "mass", 1.25),
        ("0,125 kg", "mass", 0.125),
        ("4oz", "mass", 4 * constants.oz),
        ("3 lbs.", "mass", 3 * constants.pound),
        ("1 1/2 cup", "volume", 1.5 * CUP),
        ("1½ cup", "volume", 1.5 * CUP),
        ("1 ½ cups", "volume", 1.5 * CUP),
        ("½ cup", "volume", 0.5 * CUP),
        ("3 / 4 cup", "volume", 0.75 * CUP),
        ("1 1⁄2 cup", "volume", 1.5 * CUP),
        ("2½ tbsp", "volume", 2.5 * CUP / 16),
        ("1 Tbsp", "volume", CUP / 16),
        (".5 cup", "volume", 0.5 * CUP),
        ("1,5 L", "volume", 0.0015),
        ("750 ml", "volume", 0.00075),
        ("1 fl. oz.", "volume", constants.fluid_ounce),
        ("1 metric cup", "volume", 0.00025),
        ("1 Imperial gallon", "volume", constants.gallon_imp),
        ("6 mm", "length", 0.006),
        ("1/4 in", "length", 0.25 * constants.inch),
        ('3/8"', "length", 0.375 * constants.inch),
        ("500 ft", "length", 500 * constants.foot),
        ("900 cm2", "area", 0.09),
        ("900 cm²", "area", 0.09),
        ("63 °C", "temperature", 63.0),
        ("145°F", "temperature", (145 - 32) / 1.8),
        ("-20 °C", "temperature", -20.0),
        ("−20 degC", "temperature", -20.0),
        ("0 °F", "temperature", -160 / 9),
        ("9 °F", "temperature_difference", 5.0),
        ("45 min", "time", 2700.0),
        ("10 Hours", "time", 36000.0),
        ("2 weeks", "time", 1209600.0),
        ("500 W", "power", 500.0),
        ("0.5 KW", "power", 500.0),
        ("40 kg/h", "flow", 40 / 3600),
        ("30 m3/h", "volume_flow", 30 / 3600),
        ("1.05 kg/L", "density", 1050.0),
        ("12 %", "percent", 0.12),
        ("65 °Bx", "brix", 0.65),
        ("60 degrees salometer", "salometer", 60.0),
        ("5", "count", 5.0),
        (5, "count", 5.0),
    ],
)
def test_reads(typed, kind, value):
    amount = read_amount(typed, kind, "[x] y")
    assert amount.value == pytest.approx(value, rel=1e-14)
    assert (amount.kind, str(amount)) == (kind, str(typed))


@pytest.mark.parametrize(
    ("typed", "kind", "offers"),
    [
        ("60 C", ("mass", "volume"), ('did you mean "60 cup"?',)),
        ("70 C", ("temperature", "volume"), ('"70 °C" or "70 cup"',)),
        ("63 K", "temperature", ("not clear as a unit",)),
        ("63 °", "temperature", ('"63 °C" or "63 °F"',)),
        ("63 degrees", "temperature", ('"63 °C" or "63 °F"',)),
        ("2 C", "volume", ('did you mean "2 cup"?',)),
        ("2 C", "mass", ("not clear as a unit (known: ",)),
        ("1 t", "volume", ('"1 tsp"', '"1 tbsp"')),
        ("1.5 T", "volume", ('"1.5 tbsp"', '"1.5 tsp"')),
        ("1 c", "volume", ('did you mean "1 cup"?',)),
        ("2 ML", "volume", ('"2 mL"',)),
        ("5 pct", "percent", ('"5 %"',)),
        ("3 lb 20 oz", "mass", ('"4.25 lb"', '"68 oz"')),
        ("1.5 h 30 min", "time", ('"2 h"', '"120 min"')),
        ("30 min and 1 h", "time", ('"1.5 h"', '"90 min"')),
        ("1,500 g", "mass", ('"1500 g"', '"1.5 g"')),
        ("1.234,5 g", "mass", ('"1234.5 g"',)),
        ("1,234.5 g", "mass", ('"1234.5 g"',)),
        ("1,234,567 g", "mass", ('"1234567 g"',)),
        ("1 500 g", "mass", ('"1500 g"',)),
        ("1'500 g", "mass", ('"1500 g"',)),
        ("1-1/2 cup", "volume", ('"1 1/2 cup"',)),
        ("10", "time", ("a unit is missing", '"10 h"')),
        (10, "time", ("a unit is missing", '"10 h"')),
        ("250 mL", "mass", ("a volume", "needed is a mass")),
        ("4 fl oz", "mass", ("a volume",)),
        ("1 pinch", "mass", ('"pinch"', "oz")),
    ],
)
def test_refuses_and_offers(typed, kind, offers):
    message = refusal(typed, kind)
    assert all(offer in message for offer in offers), message
    assert message.startswith("[brine] amount: ")
    assert "Allowed: " in message and "Example: " in message


@pytest.mark.parametrize(
    "typed",
    ["", "g", "about g", "2-3 g", "2 to 3 g", "nan g", "inf g", "-5 g", "0 g", "1e3 g", "5 1/0 g", "1 3/2 g",
     "1//2 g", "1..2 g", "3.5.2 g", "٣ g", "5 %RH", "1 dash", "9" * 400 + " g", None, True, [5], math.nan, 10**400],
)  # fmt: skip
def test_refuses(typed):
    refusal(typed, "mass")
    refusal(typed, ("mass", "volume"), bare=False)


LB, OZ, INCH, FOOT = constants.pound, constants.oz, constants.inch, constants.foot


@pytest.mark.parametrize(
    ("typed", "kind", "value"),
    [
        ("165F", "temperature", (165 - 32) / 1.8), ("-18C", "temperature", -18.0), ("63 c", "temperature", 63.0),
        ("9 F", "temperature_difference", 5.0), ("50 degrees celsius", "temperature", 50.0), ("3 d", "time", 3 * 86400.0),
        ("2 w", "time", 14 * 86400.0), ("2 w", "power", 2.0), ("2 #", "mass", 2 * LB), ("5'", "length", 5 * FOOT),
        ("half an hour", "time", 1800.0), ("An hour", "time", 3600.0), ("two hours", "time", 7200.0), ("a day", "time", 86400.0),
        ("a month", "time", 30 * 86400.0), ("3 months", "time", 90 * 86400.0), ("2 years", "time", 730 * 86400.0),
        ("an hour and a half", "time", 5400.0), ("two and a half hours", "time", 9000.0), ("twenty-four hours", "time", 86400.0),
        ("half of an hour", "time", 1800.0), ("a quarter of an hour", "time", 900.0), ("1/2 an hour", "time", 1800.0),
        ("1 h 30 min", "time", 5400.0), ("1 h and 30 min", "time", 5400.0), ("1h30", "time", 5400.0), ("1h 30m", "time", 5400.0),
        ("3 lb 4 oz", "mass", 3 * LB + 4 * OZ), ("two pounds three ounces", "mass", 2 * LB + 3 * OZ),
        ("2 lb 3 1/2 oz", "mass", 2 * LB + 3.5 * OZ), ("6 foot 2 in", "length", 6 * FOOT + 2 * INCH),
        ("1 cup 2 tbsp", "volume", 1.125 * CUP), ("one and a half cups", "volume", 1.5 * CUP), ("quarter cup", "volume", CUP / 4),
        ("three quarters of an inch", "length", 0.75 * INCH), ("half a cm", "length", 0.005),
        ("two thirds cup", "volume", 2 * CUP / 3), ("a quarter kilo", "mass", 0.25), ("12-oz", "mass", 12 * OZ),
        ("about 2 kg", "mass", 2.0), ("~2 kg", "mass", 2.0), ("ca. 2 kg", "mass", 2.0), ("2 kg or so", "mass", 2.0),
        ("about half an hour", "time", 1800.0), ("twelve", "count", 12.0), ("one and a half", "count", 1.5),
        ("five hundred g", "mass", 0.5), ("a thousand feet", "length", 1000 * FOOT), ("an ounce", "mass", OZ), ("an hour and 30 min", "time", 5400.0),
        ("33 cm round", "area", math.pi * 0.165**2), ("13-inch round", "area", math.pi * (6.5 * INCH) ** 2),
        ("round, 33 cm", "area", math.pi * 0.165**2), ("33 cm in diameter", "area", math.pi * 0.165**2),
        ("33 cm across, round", "area", math.pi * 0.165**2),
        ("12 x 14 in", "area", 168 * INCH**2), ("30 cm by 40 cm", "area", 0.12), ('12" × 14"', "area", 168 * INCH**2),
        ("0.3 m x 40 cm", "area", 0.12), ("six by twelve inches", "area", 72 * INCH**2),
    ],
)  # fmt: skip
def test_reads_what_people_say(typed, kind, value):
    amount = read_amount(typed, kind, "x")
    assert amount.value == pytest.approx(value, rel=1e-12)
    assert (amount.kind, str(amount)) == (kind, typed)


@pytest.mark.parametrize(
    ("typed", "kind", "word"),
    [
        ("overnight", "time", "“overnight” does not say how long; write the hours"), ("a couple of hours", "time", "“a couple of”"),
        ("a few minutes", "time", "“a few”"), ("some salt", "mass", "“some” does not say how much"), ("a while", "time", "“a while”"),
        ("2-3 hours", "time", "a range"), ("two to three hours", "time", "a range"), ("10-12 h", "time", "a range"),
        ("between 2 and 3 h", "time", "a range"), ("2 or 3 h", "time", "a range"), ("-20 to -18 °C", "temperature", "a range"),
        ("6 mm - 8 mm", "length", "a range"), ("at least 2 h", "time", "begin with a number"), ("less than 2 h", "time", "begin"),
        ("two 1/2 cups", "volume", "begin with a number"), ("a 1/2 cup", "volume", "begin with a number"),
        ("two half cups", "volume", '"half cups"'), ("one,five g", "mass", "begin"), ("one 500 g", "mass", "begin"),
        ("twenty four 5 g", "mass", ""), ("a bucket", "mass", "begin with a number"), ("five hundred and fifty g", "mass", ""), ("-5 ft 2 in", "length", ""),
        ("2 lb 1,500 oz", "mass", ""), ("2 lb 3 fl oz", "mass", ""), ("5 °C 3 °C", "temperature", ""), ("1h5", "time", ""),
        ("5 ft 2", "length", ""), ("-12 x -14 in", "area", "more than zero"), ("12 x 0 in", "area", "more than zero"),
        ("12 x 14", "area", "unit is missing"), ("30 x 40 x 5 cm", "area", ""), ("30 x 40 cm2", "area", "needed is a length"),
        ("33 cm", "area", "that is a length"), ("12 x 14 in", "length", ""), ("33 cm round", "length", ""), ("-33 cm round", "area", ""),
        ("12-14 x 14 in", "area", ""), ("33 C round", "area", ""),
    ],
)  # fmt: skip
def test_nothing_is_guessed_from_what_people_say(typed, kind, word):
    assert word in refusal(typed, kind)


@given(st.integers(1, 30), st.integers(1, 15))
def test_two_units_are_their_sum(pounds, ounces):
    amount = read_amount(f"{pounds} lb {ounces} oz", ("mass", "volume"), "x")
    assert amount.value == float((16 * pounds + ounces) * Fraction("0.028349523125"))


@given(st.decimals("0.1", "90", places=1), st.decimals("0.1", "90", places=1))
def test_sides_and_diameters_make_the_area(one, other):
    assert read_amount(f"{one} x {other} cm", "area", "x").value == pytest.approx(float(one * other) * 1e-4)
    assert read_amount(f"{one} cm round", "area", "x").value == pytest.approx(math.pi / 4 * float(one) ** 2 * 1e-4)


def test_refuses_numbers_that_are_none_even_where_bare_is_allowed():
    for typed in (float("nan"), float("inf"), -1, 10**400, "nan"):
        refusal(typed, "percent", bare=True)


def test_bare_number_is_taken_in_the_first_unit_of_the_kind():
    assert read_amount(50, "percent", "x", bare=True).value == 0.5
    assert read_amount("50", "percent", "x", bare=True).value == 0.5
    assert read_amount("50 %", "percent", "x", bare=True).value == 0.5
    refusal(50, "percent")


def test_limits_are_included_and_named():
    day = 86400.0
    assert read_amount("30 days", "time", "x", low=0, high=30 * day).value == 30 * day
    assert read_amount("0 h", "time", "x", low=0).value == 0.0
    assert "between zero and 30 days" in refusal("31 days", "time", low=0, high=30 * day)
    assert "-5 °C (23 °F) and 40 °C (104 °F)" in refusal("120 °F", "temperature", low=-5.0, high=40.0)
    assert "absolute zero" in refusal("-300 °C", "temperature")
    both = {"mass": 200.0, "volume": 0.2}
    assert read_amount("150 L", ("mass", "volume"), "x", low=0, high=both).value == pytest.approx(0.15)
    message = refusal("250 L", ("mass", "volume"), low=0, high=both)
    assert "200 kg" in message and "200 L" in message


def test_error_keeps_its_parts_and_travels():
    error = InputError("[brine] time", "10", "a unit is missing", "a time", '"10 h"')
    assert (error.field, error.given, error.why, error.allowed, error.example) == error.args
    again = pickle.loads(pickle.dumps(error))
    assert (
        str(again)
        == str(error)
        == '[brine] time: "10" cannot be used: a unit is missing. Allowed: a time. Example: "10 h"'
    )
    assert len(str(InputError("x", "y" * 5000, "too long", "z", "z"))) < 200


@given(whole=st.integers(0, 99), top=st.integers(0, 63), bottom=st.integers(1, 64))
def test_mixed_numbers_are_exact(whole, top, bottom):
    text = f"{whole} {top}/{bottom} lb"
    if top >= bottom or (whole == 0 and top == 0):
        refusal(text, "mass")
    else:
        exact = (whole + Fraction(top, bottom)) * Fraction("0.45359237")
        assert read_amount(text, "mass", "x").value == float(exact)


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused_with_a_message(text):
    try:
        amount = read_amount(text, EVERY_KIND, "x", bare=True)
    except InputError as refused:
        assert "Allowed" in str(refused)
    else:
        assert math.isfinite(amount.value)


@given(st.decimals("0.01", "9999", places=2), st.sampled_from(["g", "oz", "cup", "mm", "in", "°F", "min", "W", "cm2"]))
def test_comma_and_point_say_the_same(number, unit):
    kind = next(kind for kind in EVERY_KIND if unit in unit_choices(kind))
    with_point = read_amount(f"{number} {unit}", kind, "x")
    assert read_amount(f"{number} {unit}".replace(".", ","), kind, "x").value == with_point.value


def test_every_listed_unit_is_read_and_has_the_size_pint_gives_it():
    by_pint = {
        "L": "liter", "mL": "milliliter", "tsp": "teaspoon", "tbsp": "tablespoon", "fl oz": "fluid_ounce", "m2": "m**2",
        "cm2": "cm**2", "in2": "inch**2", "ft2": "foot**2", "kg/m3": "kg/m**3", "m3/h": "m**3/h", "cfm": "ft**3/min",
        "imperial pint": "imperial_pint", "imperial gallon": "imperial_gallon", "h": "hour", "in": "inch",
        "month": "day", "year": "day",
    }  # fmt: skip
    kinds = (
        "mass",
        "volume",
        "length",
        "area",
        "time",
        "power",
        "energy",
        "flow",
        "volume_flow",
        "velocity",
        "pressure",
        "density",
    )
    for kind in kinds:
        assert unit_choices(kind)
        for unit in unit_choices(kind):
            value = read_amount(f"1 {unit}", kind, "x").value
            if not unit.startswith("metric "):  # pint knows no metric cup; check_values/kitchen.csv has it
                theirs = units.Quantity(OF_A_COOK.get(unit, 1.0), by_pint.get(unit, unit)).m_as(
                    units.KINDS[kind].pint_unit
                )
                assert value == pytest.approx(theirs, rel=1e-9), unit


@pytest.mark.parametrize(
    ("value", "kind", "metric", "us"),
    [
        (0.006, "length", "6 mm", "0.24 in"),
        (150.0, "length", "150 m", "490 ft"),
        (0.25, "mass", "250 g", "8.8 oz"),
        (1.84, "mass", "1.8 kg", "4.1 lb"),
        (0.9996, "mass", "1 kg", "2.2 lb"),
        (0.0015, "volume", "1.5 L", "1.6 qt"),
        (CUP, "volume", "240 mL", "1 cup"),
        (0.09, "area", "900 cm²", "140 in²"),
        (63.0, "temperature", "63 °C", "145 °F"),
        (-0.2, "temperature", "0 °C", "32 °F"),
        (5.0, "temperature_difference", "5 °C", "9 °F"),
        (36000.0, "time", "10 h", "10 h"),
        (5400.0, "time", "90 min", "90 min"),
        (86400.0 * 30, "time", "30 days", "30 days"),
        (500.0, "power", "500 W", "500 W"),
        (0.123, "percent", "12 %", "12 %"),
        (0.0, "mass", "0 mg", "0 oz"),
    ],
)
def test_shows_two_honest_digits(value, kind, metric, us):
    assert show(value, kind) == metric
    assert show(value, kind, "us") == us
    assert show(value, kind, "both") == (metric if kind in ("time", "power", "percent") else f"{metric} ({us})")
    assert show(value, kind, "both-us") == (us if kind in ("time", "power", "percent") else f"{us} ({metric})")


def test_shows_sixteenths_bands_and_what_is_not_known():
    assert show(0.0064, "length", "us", sixteenths=True) == "1/4 in"
    assert show(0.0302, "length", "us", sixteenths=True) == "1 3/16 in"
    assert show_band(6.2 * 3600, 8.7 * 3600, "time") == "6.2 to 8.7 h"
    assert show_band(60, 70, "temperature", "both") == "60 to 70 °C (140 to 158 °F)"
    assert show_band(0.25, 0.2501, "mass") == "250 g"
    for value in (None, math.nan, math.inf):
        assert show(value, "mass") == "not known"
    with pytest.raises(KeyError):
        show(1.0, "mass", "imperial")


@given(st.floats(1e-3, 1e4), st.sampled_from(["mass", "volume", "length", "area", "power"]), st.integers(2, 5))
def test_what_is_shown_can_be_typed_and_is_right_to_its_digits(value, kind, digits):
    again = read_amount(show(value, kind, "metric", digits), kind, "x")
    assert again.value == pytest.approx(value, rel=0.51 * 10.0 ** (1 - digits))


@given(st.floats(1e-3, 1e2), st.sampled_from(["mass", "length", "area"]))
def test_us_units_shown_are_right_to_two_digits(value, kind):
    again = read_amount(show(value, kind, "us"), kind, "x")
    assert again.value == pytest.approx(value, rel=0.051)


def test_learner_calls_a_model_with_quantities():
    @with_units(returns="time", thickness="length", air="temperature", water="fraction")
    def model(thickness, air=20.0, water=0.5):
        return thickness * air * water

    millimetres = units.Quantity(np.array([3.0, 6.0]), "mm")
    assert model(millimetres, units.Quantity(140, "degF")).m_as("second") == pytest.approx([0.09, 0.18])
    assert model(units.Quantity(6, "mm"), water=0.25).m == pytest.approx(0.03)  # the default stays a plain degC
    assert model.core(0.006, 60.0) == pytest.approx(0.18)
    for bad in (6, units.Quantity(6, "kg")):
        with pytest.raises(InputError, match="thickness"):
            model(bad)


def test_amount_becomes_a_quantity_of_the_one_registry():
    assert read_amount("6 mm", "length", "x").quantity == units.Quantity(0.006, "meter")
    assert read_amount("145 °F", "temperature", "x").quantity.m_as("degF") == pytest.approx(145)
    assert units.ureg is units.registry()
    assert Amount(1.0, "mass", "kg", "1 kg").quantity.units == units.ureg.kilogram


def test_reading_amounts_does_not_load_pint():
    code = (
        "import sys; from flakeyard import tables, units; units.read_amount('6 mm', 'length', 'x');"
        "tables.species('cod'); print({'pint', 'pandas', 'matplotlib'} & set(sys.modules))"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert told.strip() == "set()"


ANY_TEXT = st.text(st.characters(exclude_categories=()), max_size=3000)  # controls and halves of pairs too
LOOP: list = []
LOOP.append(LOOP)
DEEP: list = []
for _ in range(100_000):
    DEEP = [DEEP]
ODD_GIVEN = st.sampled_from([10**5000, -(10**5000), math.nan, LOOP, DEEP, {(1, 2): 3}, b"\xff", object(), "x" * 10**6])


@given(ANY_TEXT, ANY_TEXT | ODD_GIVEN, ANY_TEXT, ANY_TEXT, ANY_TEXT)
def test_a_refusal_can_always_be_shown_in_ten_lines(field, given_, why, allowed, example):
    told = str(InputError(field, given_, why, allowed, example))
    assert all(line.isprintable() for line in told.split("\n")) and told.encode("utf-8")
    assert sum(max(1, math.ceil(len(line) / 120)) for line in told.split("\n")) <= 10


def test_a_short_refusal_is_shown_whole():
    told = str(InputError("[fish] fat", 62, "outside what is allowed", "0 to 35", "[fish]\nfat = 6.2"))
    assert (
        told == "[fish] fat: 62 cannot be used: outside what is allowed. Allowed: 0 to 35. Example: [fish]\nfat = 6.2"
    )
