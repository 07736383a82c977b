"""A brine from kitchen measures: exact by weight, spread by volume, and syrups three ways."""

import numpy as np
import pytest

from flakeyard.steps.chain.brining import mix
from flakeyard.steps.intent.batch_file import parse_batch
from flakeyard.steps.intent.spread import Draws, band

HEAD = '[fish]\nspecies = "tilapia"\nraw_weight = "1 kg"\n[cut]\nthickness = "6 mm"\n[dryer]\ntemperature = "60 °C"\ntrays = 4\ntray_area = "900 cm2"\n'


def brine(*rows: str, method: str = "wet"):
    soak = f'[brine]\nmethod = "{method}"\ntime = "10 h"\ntemperature = "4 °C"\n'
    text = HEAD + soak + "".join(f"[[brine.ingredient]]\n{row}\n" for row in rows)
    return mix(parse_batch(text).brine, Draws(100))


def test_salt_by_weight_is_exact():
    made = brine('what = "pickling salt"\namount = "200 g"', 'what = "water"\namount = "1000 g"')
    assert band(made.salt_fraction).low == pytest.approx(0.2 / 1.2, rel=0.01)  # salt is a little less than pure
    assert band(made.salt_fraction).low == band(made.salt_fraction).high
    assert band(made.volume).mid == pytest.approx(1.068, abs=0.004)  # L; Laliberté and Cooper 2004, 20 °C


def test_one_cup_of_flakes_is_about_half_a_cup_of_table_salt():
    water = 'what = "water"\namount = "1 gallon"'
    table, flake = (
        brine(f'what = "{name}"\namount = "1 cup"', water).salt.mean() for name in ("table salt", "pyramid flake salt")
    )
    assert 0.35 < flake / table < 0.6  # home weighings of 2011 and 2012: 133 g against 231-304 g a cup


def test_full_brine_leaves_the_rest_undissolved():
    made = brine('what = "pickling salt"\namount = "500 g"', 'what = "water"\namount = "1 kg"')
    assert band(made.salometer).mid == pytest.approx(99.6, abs=0.5)  # Sparrow 2003: 26.3 % at 4 °C
    assert band(made.undissolved).mid == pytest.approx(0.5 - 0.357, abs=0.01)
    assert any("cannot dissolve" in note for note in made.notes)


@pytest.mark.parametrize(
    "strength", ["brix = 65", 'one_cup_weighs = "311.5 g"', 'recipe_sugar = "650 g"\nrecipe_liquid = "350 g"']
)
def test_syrup_strength_three_ways(strength):
    rows = ('what = "pickling salt"\namount = "50 g"', 'what = "water"\namount = "1 kg"')
    made = brine(*rows, f'what = "syrup"\namount = "100 g"\n{strength}')
    assert band(made.sucrose).mid == pytest.approx(0.065, abs=0.001)  # 65 °Bx has 1.3163 kg/L, ICUMSA, 20 °C


def test_dry_cure_needs_no_water():
    made = brine('what = "pickling salt"\namount = "50 g"', method="dry")
    assert np.all(made.water == 0) and band(made.salt).mid == pytest.approx(0.05, rel=0.01)


def test_vinegar_is_said_not_to_keep_fish():
    made = brine(
        'what = "pickling salt"\namount = "50 g"',
        'what = "water"\namount = "1 kg"',
        'what = "vinegar"\namount = "1 cup"',
    )
    assert any("no verdict counts on it" in note for note in made.notes)
    assert np.all(made.acid > 0.01)
