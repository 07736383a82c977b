"""What is measured narrows a plan, is never milder than its error allows, and is left out where nothing explains it."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from flakeyard.steps.chain import drying
from flakeyard.steps.chain.laying import until_laid
from flakeyard.steps.intent.batch_file import load_batch, read_batch, with_typed
from flakeyard.steps.intent.records import Measured
from flakeyard.steps.intent.spread import Draws, upper_end
from flakeyard.steps.judge.safety import EAT, KEEP
from flakeyard.steps.plan import measured
from flakeyard.steps.plan import plan as batches
from flakeyard.units import InputError

DEMO = Path(__file__).parents[3] / "data_demo"
AT = 0.44  # of the weight as laid, where Heron's plan stops
GRAM = {"scale_step": "0.1 g"}


@pytest.fixture(scope="module")
def heron():
    return load_batch(DEMO / "heron.toml")


@pytest.fixture(scope="module")
def plain(heron):
    return plan(heron)


def plan(batch):
    return batches.plan(batch, sketch=True)


def with_measured(batch, **typed):
    return with_typed(batch, "measured", **typed)


def sample(flesh, grams=20.0, moister=0.0):
    """A sample and what an oven leaves of it, where the middle of the plan is right, or so much moister."""
    left = grams * (1.0 - moister - float(np.median(flesh.water / flesh.mass)))
    return f"{grams:g} g", f"{left:.3f} g"


def usual(laid):
    return drying._select(laid.cured.flesh, 1)


def width(values):
    low, high = np.quantile(values, [0.1, 0.9])
    return high - low


# What each reading narrows


def laid_with(batch, **typed):
    told = with_measured(batch, **typed)
    return until_laid(told, measured.taken_in(told, Draws()))


def test_a_sample_of_the_raw_fish_narrows_its_water_as_its_error_says(heron, plain):
    whole, dry = sample(plain.raw.flesh)
    water = laid_with(heron, raw_sample=whole, raw_oven_dry=dry, **GRAM).raw.flesh.water
    before, sd = plain.raw.flesh.water.std(), np.hypot(measured.OVEN_SD, measured.STEP_SD * 0.0001 / 0.020)
    assert water.std() == pytest.approx(1 / np.hypot(1 / before, 1 / sd), rel=0.1)
    assert water.mean() == pytest.approx(np.median(plain.raw.flesh.water), abs=0.3 * water.std())


@pytest.mark.parametrize("moister", [-0.02, 0.02])
def test_a_sample_as_laid_moves_and_narrows_the_fish_and_its_weight_to_stop_at(heron, plain, moister):
    whole, dry = sample(usual(plain.laid), moister=moister)
    told = plan(with_measured(heron, laid_sample=whole, laid_oven_dry=dry, **GRAM))
    shares = [usual(one.laid).water / usual(one.laid).mass for one in (plain, told)]
    assert shares[1].std() < 0.45 * shares[0].std()
    assert np.sign(shares[1].mean() - np.median(shares[0])) == np.sign(moister)
    middle = plan(
        with_measured(heron, **dict(zip(("laid_sample", "laid_oven_dry"), sample(usual(plain.laid)))), **GRAM)
    )
    assert middle.load.mass_ratio >= plain.load.mass_ratio  # surer, and so sooner dry enough
    assert np.sign(middle.load.mass_ratio - told.load.mass_ratio) == np.sign(moister)


def test_weights_and_strips_narrow_what_they_weigh(heron, plain):
    mass, strip = (float(np.median(one)) for one in (plain.laid.salted.mass, plain.cured.water_phase_salt))
    weighed = laid_with(heron, salted_weight=f"{mass:.4f} kg", scale_step="5 g")
    assert np.log(weighed.salted.mass).std() < 0.3 * np.log(plain.laid.salted.mass).std()
    salted = laid_with(heron, strip_salt=round(100 * strip, 2), strip_error=0.5)
    assert salted.cured.water_phase_salt.std() < plain.cured.water_phase_salt.std()


def test_a_caliper_and_a_laboratory_narrow_what_is_drawn(heron, plain):
    fish = laid_with(heron, thickness_error="0.2 mm").raw
    assert fish.thickness[1].std() == pytest.approx(0.05 * 0.005, rel=0.15)
    composed = with_typed(heron, "fish", water=73.0, protein=19.5, fat=6.2, ash=1.3)
    before, after = (
        until_laid(one, Draws()).raw.flesh for one in (composed, with_measured(composed, composition_error=0.5))
    )
    for part in ("water", "fat", "protein"):
        assert getattr(after, part).std() < 0.65 * getattr(before, part).std(), part
    coarse = until_laid(with_measured(composed, composition_error=2.0), Draws()).raw.flesh
    assert coarse.water.std() > before.water.std()


def test_samples_and_meters_of_the_dried_piece_count_where_it_is_told_how_dry_it_was(heron, plain):
    whole, dry = sample(plain.load.dried)
    told = with_measured(heron, dried_sample=whole, dried_oven_dry=dry, **GRAM)
    assert measured.taken_in(told, Draws()).moved == {}
    at = with_typed(told, "keep", measured_at=AT, stop_at=AT)
    assert width(plan(at).load.cautious_activity()) < 0.2 * width(plain.load.cautious_activity())


def test_the_log_begins_from_the_narrower_plan(heron, plain):
    from flakeyard.steps.learn.learning import learn
    from flakeyard.steps.learn.logbook import read_log

    whole, dry = sample(usual(plain.laid))
    told = with_measured(heron, laid_sample=whole, laid_oven_dry=dry, **GRAM)
    log = read_log("hours,tray,mass_g\n0,all,1500\n")
    before, after = (learn(one, log, sketch=True).plan for one in (heron, told))
    share = [usual(one.laid).water / usual(one.laid).mass for one in (before, after)]
    assert width(share[1]) < 0.5 * width(share[0])
    assert after.load.hours == pytest.approx(plan(told).load.hours, rel=2e-3)


# What is not told, or cannot be, never helps


def test_nothing_measured_moves_nothing(heron):
    draws = Draws()
    assert measured.taken_in(heron, draws) is draws
    assert measured.taken_in(with_measured(heron, raw_sample="20 g"), draws) is draws
    assert (
        measured.taken_in(with_typed(heron, "keep", measured_water_activity=0.7, measured_error=0.01), draws) is draws
    )


def test_an_untold_step_counts_as_a_coarse_scale(heron, plain):
    whole, dry = sample(plain.raw.flesh)
    spread = [laid_with(heron, raw_sample=whole, raw_oven_dry=dry, **step).raw.flesh.water.std() for step in (GRAM, {})]
    assert spread[0] < 0.6 * spread[1] and spread[1] > 0.95 * plain.raw.flesh.water.std()


@pytest.mark.parametrize(
    "typed",
    [
        {"raw_sample": "20 g", "raw_oven_dry": "12 g"},
        {"salted_weight": "1.1 kg"},
        {"strip_salt": 25.0, "strip_error": 0.5},
    ],
)
def test_what_no_plan_explains_is_said_and_not_used(heron, plain, typed):
    told = plan(with_measured(heron, **typed, **GRAM))
    assert told.load.hours == pytest.approx(plain.load.hours) and told.verdict == plain.verdict
    assert sum("Not counted:" in note for note in told.notes) == 1 and not any(
        "counts here" in note for note in told.notes
    )


def test_of_two_readings_that_contradict_each_other_one_is_left_out(plain):
    said, none = plain.raw.flesh.water, np.zeros(200)
    readings = [
        measured.Reading(said + none, float(said.mean()) + away, 0.004, f"{away}") for away in (0.02, -0.02, 0.021)
    ]
    used, strange = measured.explained(readings)
    assert [one.words for one in strange] == ["-0.02"] and len(used) == 2


# Never milder than the error allows


def metered(batch, read, by, error=0.01, at=AT, pack="vacuum pouch"):
    return with_typed(
        batch, "keep", measured_water_activity=read, measured_error=error, measured_by=by, measured_at=at, pack=pack
    )


@pytest.mark.parametrize("read", [0.40, 0.74, 0.95])
def test_a_household_hygrometer_moves_nothing_and_warns_by_the_rules(heron, read):
    """It may neither dry the fish nor shorten the hours of moister fish; in the verdict its moister word counts."""
    assert measured.taken_in(metered(heron, read, "household hygrometer"), Draws()).moved == {}
    assert measured.taken_in(metered(heron, read, "meter"), Draws()).moved != {} or read == 0.95


def test_a_better_meter_brings_what_hangs_on_no_straight_line_near_its_reading():
    """Slices dried on the plateau and below it: the middle of the members then says about what was read."""
    batch = load_batch(DEMO / "kingfisher.toml")
    told = metered(batch, 0.62, "laboratory", at=0.34, pack="glass jar")
    draws = measured.taken_in(told, Draws())
    piece, isotherm = drying.marked_as_laid(until_laid(told, draws).cured, draws)
    said = drying.activity(drying.dried_to(piece, 0.34), isotherm)
    assert np.median(said) == pytest.approx(0.62, abs=0.01) and width(said) < 0.08


def test_only_readings_that_open_an_airless_pack_make_fish_drier(heron):
    for by, error, pack, may in (
        ("meter", 0.01, "vacuum pouch", True), ("meter", 0.05, "vacuum pouch", False), ("meter", 0.05, "paper bag", True),
        ("household hygrometer", 0.01, "paper bag", False), (None, 0.01, "paper bag", False), ("laboratory", None, "paper bag", False),
    ):  # fmt: skip
        assert measured.may_dry(metered(heron, 0.7, by, error, pack=pack).keep) is may, (by, error, pack)


def test_no_weight_to_stop_at_lies_above_that_at_which_it_was_read(heron):
    dry = plan(metered(heron, 0.60, "laboratory", at=0.40))
    assert dry.load.mass_ratio <= 0.40
    with pytest.raises(InputError, match="it was drier"):
        with_typed(metered(heron, 0.60, "laboratory", at=0.40), "keep", stop_at=0.5)


def test_moister_readings_of_the_fish_as_laid_are_never_milder(heron, plain):
    verdicts = []
    for moister in (-0.03, 0.03):
        whole, dry = sample(usual(plain.laid), moister=moister)
        told = plan(with_measured(with_typed(heron, "keep", stop_at=AT), laid_sample=whole, laid_oven_dry=dry, **GRAM))
        verdicts.append(
            (KEEP.index(told.verdict.keep), EAT.index(told.verdict.eat), upper_end(told.load.cautious_activity()))
        )
    assert verdicts == sorted(verdicts)


def test_a_sample_is_heavier_before_the_oven(heron):
    with pytest.raises(InputError, match="of the sample"):
        with_measured(heron, raw_sample="20 g", raw_oven_dry="20 g")
    assert read_batch(heron.typed).measured == Measured()
    assert {field.name for field in dataclasses.fields(Measured)} > {"scale_step"}


def test_an_error_that_says_nothing_was_measured_is_refused(heron):
    with pytest.raises(InputError, match=r"thickness_error.*at most half the thickness"):
        laid_with(heron, thickness_error="3 mm")


def test_a_thinner_piece_may_be_known_as_roughly_as_that(heron):
    """What is tried thinner than it was typed keeps the error that was told: it is no mistake of whoever typed it."""
    told = with_measured(heron, thickness_error="2 mm")
    thinner = dataclasses.replace(told, cut=told.cut.scaled(0.5))
    assert until_laid(thinner, Draws()).raw.thickness[1].std() > 0
