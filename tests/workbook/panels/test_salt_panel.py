"""The salt panel: both ends of every slider, directions, what is said, and the learner's own soaks."""

import re

import numpy as np
import pytest

from flakeyard.models import salt_transport
from flakeyard.steps.intent import batch_file
from flakeyard.steps.judge.storing import sodium_mg_per_serving
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook import own
from flakeyard.workbook.panels import salt as salt_panel
from flakeyard.workbook.panels.panel import Choice

HERON = own.demo_batch("heron")
START = {control.name: control.start for control in salt_panel.controls_for(HERON)}
ENDS = [(control.name, value) for control in salt_panel.CONTROLS for value in (control.low, control.high)]


def soaked(**changes):
    return salt_panel.soak_piece(HERON, **START | changes)


@pytest.fixture(scope="module")
def panel():
    return salt_panel.salt_panel()


def check_orders(result):
    low, mid, high = result.profile
    assert np.isfinite([low, mid, high, result.brined, result.rested]).all()
    assert (low <= mid).all() and (mid <= high).all() and low.min() >= 0 and high.max() < 0.31
    for band in (result.mean, result.middle, result.ceiling, result.sodium):
        assert 0 < band.low <= band.mid <= band.high
    assert result.sodium.high < 30_000 * 0.4  # the portion is not salt alone


@pytest.mark.parametrize(("name", "value"), [("thickness", START["thickness"]), *ENDS])
def test_every_end_of_every_slider_computes_and_tells(name, value, panel):
    check_orders(soaked(**{name: value}))
    panel.set(**START | {name: value})
    assert panel.trouble is None
    told = " ".join((panel.said.sentence, panel.said.how_sure, panel.said.caution, panel.said.alt))
    assert not re.search(r"nan|None|inf\b|not known", told)
    assert panel.said.sentence in panel.said.alt and "When in doubt, throw it out." in panel.said.caution


@pytest.mark.parametrize("faces", [1.0, 2.0])
@pytest.mark.parametrize("waters", [0.0, 6.0])
def test_corners_of_all_sliders_together(faces, waters):
    lowest = {control.name: control.low for control in salt_panel.CONTROLS}
    highest = {control.name: control.high for control in salt_panel.CONTROLS}
    for corner in (lowest, highest):
        check_orders(salt_panel.soak_piece(HERON, **corner | {"faces": faces, "waters": waters}))


def test_moving_any_slider_changes_picture_and_sentence(panel):
    for name, slider in panel.sliders.items():
        panel.set(**START)
        seen = []
        for index in (0, len(slider.options) - 1):
            slider.index = index
            seen.append((panel._image.value, panel.said.sentence))
        assert seen[0][0] != seen[1][0] and seen[0][1] != seen[1][1], name


@pytest.mark.parametrize(
    ("changes", "part", "direction"),
    [
        ({"thickness": 0.012}, "middle", -1),
        ({"fat": 0.15}, "sodium", -1),
        ({"faces": 1.0}, "mean", -1),
        ({"strength": 0.12}, "mean", 1),
        ({"brine": 3.0}, "ceiling", 1),
        ({"time": 3600.0}, "mean", -1),
        ({"waters": 2.0}, "mean", -1),
        ({"moisture": 0.20}, "sodium", 1),
    ],
)
def test_directions(changes, part, direction):
    before, after = (getattr(soaked(**one), part).mid for one in ({}, changes))
    assert direction * (after - before) > 0.01 * before


def test_fresh_water_takes_salt_from_the_faces_before_the_middle():
    before, after = soaked(thickness=0.015), soaked(thickness=0.015, waters=2.0)
    left = after.profile[1] / before.profile[1]
    assert left[0] < 0.2 < 0.9 < left[20]


def test_skin_is_like_a_piece_twice_as_thick():
    """A closed face at L and two open faces at 2 L are one and the same diffusion: symmetry (crank_1975)."""
    skin, open_faces = soaked(thickness=0.006, faces=1.0), soaked(thickness=0.012, faces=2.0)
    assert skin.mean.mid == pytest.approx(open_faces.mean.mid, rel=1e-6)
    assert skin.profile[1][-1] == pytest.approx(open_faces.profile[1][20], rel=1e-6)


def test_rest_keeps_the_salt_and_narrows_the_difference():
    result = soaked(thickness=0.010, time=3600.0)
    assert np.ptp(result.rested) < 0.5 * np.ptp(result.brined)
    before, after = (np.trapezoid(profile, salt_panel.ACROSS) for profile in (result.brined, result.rested))
    assert after == pytest.approx(before, rel=0.02)  # the middle of the profiles is not the profile of one piece


def test_mean_does_not_pass_the_end_level():
    """What the brine ends at is a balance of salt and water; only traded water lets the model stray a little from it."""
    for strength in (0.02, 0.08, 0.16, 0.26):
        result = soaked(strength=strength, time=86400.0, thickness=0.003)
        assert result.mean.mid == pytest.approx(result.ceiling.mid, rel=0.02)


def test_end_level_is_the_balance_of_salt_and_water():
    """Mass balance by equilibrium_ratio, before any water is traded (weak brine: little is)."""
    fish = salt_panel.prepare_fish(HERON, salt_panel.Draws(20)).flesh
    water = float(np.median(fish.water))
    ratio = salt_transport.equilibrium_ratio(0.92 / water, 0.08 / 0.92, float(np.median(fish.salt)) / water)
    assert soaked(brine=1.0, strength=0.08).ceiling.mid == pytest.approx(ratio / (1 + ratio), rel=0.04)


def test_drying_concentrates_salt_and_keeps_all_of_it():
    cured = salt_panel.salted(HERON)
    for moisture in (0.5, 0.2):
        salt = salt_panel.dried_salt(cured, moisture)
        dry = 1 - moisture
        solids = (cured.flesh.mass - cured.flesh.water)[salt_panel.USUAL]
        assert salt * solids / dry == pytest.approx(cured.flesh.salt[salt_panel.USUAL])


def test_a_piece_already_drier_than_asked_is_left_as_it_is():
    cured = salt_panel.salted(HERON)
    raw = (cured.flesh.salt / cured.flesh.mass)[salt_panel.USUAL]
    assert salt_panel.dried_salt(cured, 0.99) == pytest.approx(raw)


def test_sodium_is_that_of_the_portion():
    result = soaked()
    salt = np.median(salt_panel.dried_salt(salt_panel.salted(salt_panel.piece(HERON, **without_moisture())), 0.4))
    assert result.sodium.mid == pytest.approx(sodium_mg_per_serving(salt, 0.030), rel=1e-9)


def without_moisture():
    return {name: value for name, value in START.items() if name != "moisture"}


def test_salted_is_the_first_part_of_the_plan():
    plain = HERON.without("heat")
    cured, outcome = salt_panel.salted(plain, members=40), plan(plain, members=40)
    assert np.median(cured.water_phase_salt) == pytest.approx(outcome.salted["water_phase_salt"].mid)


def test_time_to_a_saltiness_and_back():
    minutes = salt_panel.time_to(HERON, 0.03)
    soak = {"time": f"{minutes.mid:.0f} s"}
    cured = salt_panel.salted(HERON.with_("brine", **soak), 100)
    assert np.median(cured.flesh.water_phase_salt[salt_panel.USUAL]) == pytest.approx(0.03, abs=0.003)
    assert minutes.low < minutes.mid < minutes.high


def test_a_saltiness_the_brine_cannot_give_has_no_time():
    assert salt_panel.time_to(HERON, 0.08).mid is None
    assert Choice().show_band(salt_panel.time_to(HERON, 0.08), "time") == "not known"


def test_a_very_salty_portion_is_warned_of(panel):
    panel.set(**START | {"strength": 0.26})
    assert "more than half of a day's sodium" in panel.said.caution
    panel.set(**START | {"strength": 0.02})
    assert "more than half" not in panel.said.caution and "Salt has not made this fish keep" in panel.said.caution


def test_soaked_fish_is_called_fresh_fish(panel):
    panel.set(**START | {"waters": 2.0})
    assert "Soaking salt out puts water back in" in panel.said.caution


def test_units_follow_the_choice():
    choice = Choice("metric")
    shown = salt_panel.salt_panel(choice=choice)
    assert shown.sliders["thickness"].label == "6 mm" and "30 g of" not in shown.said.sentence
    assert "30 g holds" in shown.said.sentence
    choice.system = "us"
    assert shown.sliders["thickness"].label == "0.24 in" and "1.1 oz holds" in shown.said.sentence
    assert shown.picture["now"].axes.get_xlabel().startswith("inches")


def test_sliders_start_at_the_batch_and_stay_inside():
    otter = {control.name: control.start for control in salt_panel.controls_for(own.demo_batch("otter"))}
    assert (otter["thickness"], otter["strength"], otter["time"]) == (0.009, 0.12, 21600.0)
    thick = HERON.with_("cut", thickness="28 mm", thinnest=None, thickest=None)
    assert {c.name: c.start for c in salt_panel.controls_for(thick)}["thickness"] == 0.020
    kingfisher = salt_panel.salt_panel(own.demo_batch("kingfisher"))  # dry salted: the brine sliders start as usual
    assert kingfisher.trouble is None and kingfisher.values["strength"] == 0.08


def test_trouble_is_told_in_the_panel():
    shown = salt_panel.salt_panel()
    shown._compute = lambda **_values: salt_transport.evening_out_time(-0.006, 2, 3e-10)
    shown.redraw()
    assert "cannot be worked out" in shown.said.sentence and isinstance(shown.trouble, ValueError)
    assert shown._image.value == shown.picture.image(moving=False)


# the learner's own soaks

TYPED = {"time": "6 h", "temperature": "3 °C", "water": "3 L", "each": "45 min", "changes": "2", "serving": "1 oz"}


def test_own_soaks_are_kept_and_an_older_file_stays(tmp_path):
    first = salt_panel.keep_soaks(TYPED, Choice("metric"), tmp_path)
    assert first.startswith("Saved in my-batch.toml.") and "throw it out" in first
    kept = batch_file.load_batch(tmp_path / own.FILE)
    assert kept.brine["time"].value == 21600.0 and kept.freshen[0]["changes"] == 2 and kept.typed["serving"] == "1 oz"
    assert (
        kept.typed["fish"] == own.batch_to_keep(tmp_path / "empty").typed["fish"]
        and kept.typed["dryer"] == HERON.typed["dryer"]
    )
    salt_panel.keep_soaks(TYPED | {"time": "8 h"}, Choice(), tmp_path)
    assert batch_file.load_batch(tmp_path / "my-batch-1.toml").brine["time"].value == 21600.0


def test_own_soaks_keep_what_another_form_saved_meanwhile(tmp_path):
    form = salt_panel.own_soaks_form(Choice(), tmp_path)
    own.keep_numbers(HERON, {("cut", "thickness"): "5 mm"}, tmp_path)
    form.children[len(salt_panel.SOAKS)].click()
    assert batch_file.load_batch(tmp_path / own.FILE).cut["thickness"].value == 0.005


def test_empty_fields_take_the_fresh_waters_out(tmp_path):
    salt_panel.keep_soaks(TYPED, Choice(), tmp_path)
    salt_panel.keep_soaks(TYPED | dict.fromkeys(("water", "each", "changes", "serving"), " "), Choice(), tmp_path)
    kept = batch_file.load_batch(tmp_path / own.FILE)
    assert kept.freshen == () and "serving" not in kept.typed


@pytest.mark.parametrize(
    ("field", "typed", "told"),
    [
        ("time", "10", "a unit is missing"),
        ("time", "", "time"),
        ("water", "", "water"),
        ("changes", "2.5", "whole number"),
        ("changes", "many", "How many waters"),
        ("serving", "30 °C", "a mass"),
    ],
)
def test_a_mistake_is_told_and_nothing_is_written(field, typed, told, tmp_path):
    reply = salt_panel.keep_soaks(TYPED | {field: typed}, Choice(), tmp_path)
    assert reply.startswith("Not saved:") and told in reply
    assert list(tmp_path.iterdir()) == []


def test_form_shows_what_the_file_says(tmp_path):
    salt_panel.keep_soaks(TYPED, Choice(), tmp_path)
    form = salt_panel.own_soaks_form(Choice(), tmp_path)
    shown = [field.value for field in form.children[: len(salt_panel.SOAKS)]]
    assert shown == list(TYPED.values())
