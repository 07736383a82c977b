"""Constants of nature: against a library of physics, each other, and that no second value stands anywhere else."""

import ast
import re
from math import isclose
from pathlib import Path

import pytest
import scipy.constants as physics
from CoolProp.CoolProp import PropsSI

from flakeyard import tables
from flakeyard.models import constants, flesh, solutions

SOURCE = Path(tables.__file__).parent


def test_exact_constants_are_those_of_the_si():
    assert isclose(constants.GAS_CONSTANT, physics.R, rel_tol=1e-10)
    assert isclose(constants.STEFAN_BOLTZMANN, physics.Stefan_Boltzmann, rel_tol=1e-7)
    assert physics.g == constants.GRAVITY and physics.atm == constants.STANDARD_PRESSURE
    assert physics.hour == constants.HOUR and physics.day == constants.DAY
    assert physics.zero_Celsius == constants.KELVIN == constants.REFERENCE_KELVIN - 25.0


def test_salt_is_sodium_and_chlorine():
    """35.453 g/mol of chlorine (recalled), and 2 g of sodium in 5 g of salt (who_sodium_2012, read)."""
    assert isclose(constants.SODIUM_MOLAR_MASS + 0.035453, constants.NACL_MOLAR_MASS, rel_tol=1e-5)
    assert isclose(5.0 * constants.SODIUM_PER_SALT, 2.0, abs_tol=0.05)
    assert isclose(constants.SODIUM_PER_SALT * constants.SALT_PER_SODIUM, 1.0, rel_tol=1e-15)


def test_water_and_air_are_those_of_a_library():
    """CoolProp (IAPWS-95, Lemmon) at one atmosphere; heats to the digits that are printed."""
    atmosphere = ("P", constants.STANDARD_PRESSURE)

    def water(what, celsius):
        return PropsSI(what, "T", celsius + constants.KELVIN, *atmosphere, "Water")

    assert isclose(constants.WATER_MOLAR_MASS, PropsSI("M", "Water"), rel_tol=1e-5)
    assert isclose(constants.WATER_DENSITY, water("D", 20.0), abs_tol=0.02)
    assert isclose(constants.WATER_DENSITY, solutions.water_density(20.0), abs_tol=0.02)
    assert isclose(constants.WARM_WATER_HEAT, water("C", 40.0), rel_tol=1e-3)
    assert isclose(constants.WATER_HEAT, water("C", 15.0), rel_tol=1e-3)
    assert isclose(constants.DRY_AIR_DENSITY, 293.15 * PropsSI("D", "T", 293.15, *atmosphere, "Air"), rel_tol=1e-3)
    ratio = constants.DRY_AIR_GAS_CONSTANT * constants.WATER_MOLAR_MASS / constants.GAS_CONSTANT
    assert isclose(ratio, constants.VAPOUR_RATIO, rel_tol=1e-4)


@pytest.mark.parametrize("fish", [one for one in tables.all_species() if one.usable], ids=lambda fish: fish.id)
def test_one_density_serves_for_all_fish_of_the_table(fish):
    own = flesh.density(fish.water, fish.protein, fish.fat, fish.carbohydrate or 0.0, fish.ash)
    assert isclose(own, constants.FLESH_DENSITY, rel_tol=0.04)


NUMBERS = {273.15, 298.15, 8.314462618, 8.314, 101325.0, 58.443, 0.058443, 22.99, 22.98977, 0.02299, 35.453, 0.01801528}
NUMBERS |= {5.670374e-8, 9.80665, 287.042, 0.621945, 998.2, 998.3, 1060.0, 353.0, 15.56, 86400.0}
ALLOWED = (  # file, part of the line, why it is no second value
    ("units.py", "COLDEST = -273.15", "the ground floor reads no model"),
    ("units.py", '("days", 86400.0', "a unit as it is shown"),
)


def strays():
    for path in sorted(SOURCE.rglob("*.py")):
        if path.name == "constants.py":
            continue
        text = path.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Constant) and isinstance(node.value, int | float) and node.value in NUMBERS:
                yield path.relative_to(SOURCE).as_posix(), text.splitlines()[node.lineno - 1].strip()


def test_no_constant_has_a_second_value_in_code():
    allowed = [entry[:2] for entry in ALLOWED]
    assert not [
        (file, line)
        for file, line in strays()
        if not any(file.startswith(one) and part in line for one, part in allowed)
    ]


def test_every_constant_says_its_unit_or_source():
    lines = Path(constants.__file__).read_text(encoding="utf-8").splitlines()
    headed = False
    for line in lines:
        headed = line.startswith("# Molar masses") or (headed and bool(line))
        if re.match(r"[A-Z][A-Z_, ]* = ", line):
            assert headed or re.search(r"# \S", line), line
