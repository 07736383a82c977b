"""Published salting data against the model: which rows can be used, and how many the model's band contains.

The list (data/published/salting.csv) says for every row what had to be assumed and whether it is a test, was used to
choose a parameter (fitted) or cannot be used, with the reason. It was written before the model was run on it, though
a simpler sketch had been compared with part of these rows before; rows whose misses then led to a change of the model
are marked fitted. test_published_table prints the table.
"""

import csv
from importlib.resources import files

import numpy as np
import pytest
from scipy.special import ndtri

from flakeyard.models import salt_transport as salt
from flakeyard.models import solutions

DRAWS = 200
HOUR = 3600.0
DATA = files("flakeyard") / "data"


def published_rows():
    return list(csv.DictReader((DATA / "published" / "salting.csv").read_text(encoding="utf-8").splitlines()))


ROWS = {row["id"]: row for row in published_rows()}
TESTS = [row for row in ROWS.values() if row["use"] == "test"]
FITTED = [row for row in ROWS.values() if row["use"] == "fitted" and row["kind"]]  # compared too, but no test


class Draws:
    """Stratified draws of what a row leaves open; one stream for a name, whatever the row.

    ``study`` are factors on parameters by which one laboratory may differ from another; see test_study_spread.
    """

    def __init__(self, row, **study):
        self.row, self.study = row, study

    def share(self, name):
        rng = np.random.default_rng([20_261, *name.encode()])
        return (rng.permutation(DRAWS) + rng.uniform(size=DRAWS)) / DRAWS

    def between(self, name):
        low, high = float(self.row[name + "_low"]), float(self.row[name + "_high"])
        return np.full(DRAWS, low) if low == high else low + (high - low) * self.share(name)

    def within(self, name, band):
        return band[0] + (band[1] - band[0]) * self.share(name)

    def rate(self, water=None, protein=None):
        water, protein = (self.between(n) if g is None else g for n, g in (("water", water), ("protein", protein)))
        middle = salt.salt_diffusivity(self.between("temperature"), water, protein, self.between("fat"))
        factor = self.study.get("salt_diffusivity", 1.0)
        return factor * middle * np.exp(salt.DIFFUSIVITY_LN_SD * ndtri(self.share("diffusivity")))

    @property
    def partition(self):
        return salt.PARTITION + salt.PARTITION_SD * ndtri(self.share("partition"))

    def piece(self, ratio=0.0):
        return salt.fresh_state(self.between("thickness_mm") / 1000.0, int(self.row["faces"]), ratio=ratio)

    @property
    def brine(self):
        strength = float(self.row["brine_fraction"])
        return strength / (1.0 - strength)


def per_water_phase(ratio):
    return 100.0 * ratio / (1.0 + ratio)


def equilibrium(draws):
    bath_ratio = draws.between("bath_water") / draws.between("water")
    return salt.equilibrium_ratio(bath_ratio, draws.brine, partition=draws.partition)


def curve_of(draws):
    return {
        "crossover": draws.within("crossover", salt.CROSSOVER_BAND),
        "saturated_hold": salt.SATURATED_HOLD + salt.SATURATED_HOLD_SD * ndtri(draws.share("hold")),
        "swelling": draws.within("swelling", salt.SWELLING_BAND),
        "holding_factor": draws.study.get("holding_factor", 1.0),
    }


def held_part(draws, reached):
    """Water that flesh of a water-phase salt holds, per water at the start."""
    return salt.water_held(reached, **curve_of(draws))


def held_uneven(draws, state):
    """The same of a piece still in its brine, whose rim may be saltier than its middle."""
    less = salt.water_less_while_uneven(state, draws.brine / (1.0 + draws.brine), **curve_of(draws))
    return held_part(draws, state.mean / (1.0 + state.mean)) + draws.within("rim", salt.RIM_BAND) * less


def equilibrium_water(draws, given_loss=False):
    ratio = equilibrium(draws)
    reached = ratio / (1.0 + ratio)
    water = draws.between("water") * held_part(draws, reached)
    loss = draws.between("leached")
    kept = 1.0 - loss if given_loss else salt.solids_kept(reached, loss)
    return 100.0 * water / (water * (1.0 + ratio) + kept * (1.0 - draws.between("water")))


def saturated_brine(draws):
    strongest = solutions.nacl_saturation(draws.between("temperature"))
    return strongest / (1.0 - strongest)


def after_brine(draws):
    bath = draws.between("bath_water") / draws.between("water")
    seconds = float(draws.row["hours"]) * HOUR
    return salt.soak(draws.piece(), seconds, draws.rate(), bath, draws.brine, draws.partition)[0]


def salt_after_brine(draws):
    return after_brine(draws).mean * draws.between("water")


def weight(draws, ratio, entering, held):
    """Per weight at the start: salt per water as reached, and as strong as the bath in the water that entered."""
    before, fat, reached = draws.between("water"), draws.between("fat"), ratio / (1.0 + ratio)
    water = before * held
    salty = ratio * np.minimum(water, before) + entering * np.maximum(water - before, 0.0)
    kept = salt.solids_kept(reached, draws.between("leached"))
    return water + salty + fat + kept * (1.0 - before - fat)


def weight_after(draws):
    state = after_brine(draws)
    return 100.0 * weight(draws, state.mean, draws.brine, held_uneven(draws, state))


def weight_through(draws):
    """Of the live fish, salted to full strength; what was cut away before is gone."""
    full = draws.partition * saturated_brine(draws)
    return 100.0 * draws.between("trimmed") * weight(draws, full, full, held_part(draws, full / (1.0 + full)))


def water_lost(draws):
    return 100.0 * draws.between("water") * (1.0 - held_uneven(draws, after_brine(draws)))


def salt_gain(draws):
    return 100.0 * salt_after_brine(draws)


def salt_ratio(draws):
    return salt_after_brine(draws) / salt_after_brine(Draws(ROWS[draws.row["compared_with"]], **draws.study))


def hours_to_95(draws):
    thickness = draws.between("thickness_mm") / 1000.0
    return salt.hours_to_strength(0.95, thickness, int(draws.row["faces"]), draws.rate(), np.inf, 1.0)


def dry_strength(draws):
    seconds = float(draws.row["hours"]) * HOUR
    state, _ = salt.dry_cure(draws.piece(), seconds, draws.rate(), np.inf, saturated_brine(draws), draws.partition)
    return per_water_phase(state.mean)


def freshened(draws):
    water, other, start = draws.between("water"), 0.35, 0.20  # kg per kg dried fish, see the row's assumptions
    rate = draws.rate(water / (water + other), other / (water + other))
    state = draws.piece(start / water)
    seconds, bath_ratio = float(draws.row["hours"]) * HOUR, draws.between("bath_water") / water
    for _ in range(int(draws.row["baths"])):
        state, _ = salt.soak(state, seconds, rate, bath_ratio, 0.0, draws.partition)
    left = state.mean * water
    return 100.0 * left / (water + other + left)


def per_kelvin(draws):
    warm, cold = (salt.salt_diffusivity_in_water(draws.between("temperature") + step) for step in (0.5, -0.5))
    return 100.0 * np.log(warm / cold)


KINDS = {
    "equilibrium_strength": lambda draws: per_water_phase(equilibrium(draws)),
    "equilibrium_water": equilibrium_water,
    "equilibrium_water_given_loss": lambda draws: equilibrium_water(draws, given_loss=True),
    "saturated": lambda draws: per_water_phase(draws.partition * saturated_brine(draws)),
    "weight_after": weight_after,
    "weight_through": weight_through,
    "water_lost": water_lost,
    "salt_gain": salt_gain,
    "salt_ratio": salt_ratio,
    "hours_to_95": hours_to_95,
    "dry_strength": dry_strength,
    "freshened": freshened,
    "diffusivity": lambda draws: 1e10 * draws.rate(),
    "per_kelvin": per_kelvin,
}


def compared(row):
    """Model's 10th, 50th and 90th percentile; is the published middle inside, does the published range touch it."""
    low, mid, high = np.quantile(KINDS[row["kind"]](Draws(row)), (0.1, 0.5, 0.9))
    least, middle, most = (float(row["published_" + end]) for end in ("low", "mid", "high"))
    return low, mid, high, bool(low <= middle <= high), bool(low <= most and least <= high)


def test_every_row_says_how_it_is_used():
    sources = {row["source_id"] for row in csv.DictReader((DATA / "sources.csv").open(encoding="utf-8"))}
    assert len(ROWS) == len(published_rows()), "an id stands twice"
    for row in ROWS.values():
        assert row["use"] in {"test", "fitted", "not usable"} and row["reason"], row["id"]
        assert not row["source_id"] or row["source_id"] in sources, row["id"]
    for row in TESTS + FITTED:
        assert row["kind"] in KINDS and row["assumed"] and row["source_id"], row["id"]
        assert float(row["published_low"]) <= float(row["published_mid"]) <= float(row["published_high"])


@pytest.mark.parametrize("row", TESTS + FITTED, ids=lambda row: row["id"])
def test_model_gives_an_ordered_band(row):
    low, mid, high, *_ = compared(row)
    assert 0.0 < low <= mid <= high < np.inf


def test_bands_still_hold_what_they_held():
    """Own regression record, not a proof: a change of the model has to answer for each row that it loses."""
    held = {row["id"] for row in TESTS + FITTED if compared(row)[3]}
    assert held >= {"S09a", "S09b", "S10", "S11a", "S11b", "S11c", "X01", "E01", "S01c", "S02c", "S03b", "S04b"}
    assert held >= {"FS1", "FS2", "FS3", "FS4", "FS5", "SO1", "SO2"}


def implied_partition(name):
    """Salt per water of flesh over that of the brine it is in balance with, from the published strength of a row."""
    draws = Draws(ROWS[name])
    strength = float(draws.row["published_mid"]) / 100.0
    flesh = strength / (1.0 - strength)
    if draws.row["kind"] == "saturated":
        return flesh / np.mean(saturated_brine(draws))
    bath_water = np.mean(draws.between("bath_water")) / np.mean(draws.between("water"))
    return flesh / (draws.brine - flesh / bath_water)  # what the flesh took up the bath has lost


def test_partition_is_what_its_four_pairs_give():
    """medina_vivanco_tilapia (two) and gudjonsdottir_2015 (two), worked out from the published strengths."""
    found = [implied_partition(name) for name in ("S01c", "S02c", "S03b", "S04b")]
    np.testing.assert_allclose(found, [0.959, 0.977, 1.014, 1.014], atol=0.001)
    assert np.mean(found) == pytest.approx(salt.PARTITION, abs=0.005)
    assert np.std(found, ddof=1) == pytest.approx(salt.PARTITION_SD, abs=0.005)


PORK = {  # pork_sugar_2012: ten parts of a solution of 350 g salt and 1200 g sucrose per kg of water; 4 and 22 °C
    "id": "PK", "thickness_mm_low": 10, "thickness_mm_high": 10, "faces": 2, "temperature_low": 4, "temperature_high": 22,
    "water_low": 0.738, "water_high": 0.738, "protein_low": 0.2, "protein_high": 0.2, "fat_low": 0.03, "fat_high": 0.03,
}  # fmt: skip


def in_syrup(pull):
    """Water kept of its own and solids taken up by the pork cubes (two of three directions), salt drawing alone or not."""
    draws = Draws(PORK)
    cube, seconds, bath = salt.fresh_state(0.010, 2, 0.010), 5.0 * HOUR, 10.0 / 2.55 / 0.738
    slower = salt.SUGAR_RATIO["sucrose"] * np.exp(salt.SUGAR_LN_SD * ndtri(draws.share("sugar diffusivity")))
    taken = salt.sugar_partition(1.2, draws.within("sugar taken up", salt.SUGAR_TAKEN_BAND))
    salty = salt.soak(cube, seconds, draws.rate(), bath, 0.35, draws.partition)[0].mean
    sugar, left = salt.soak(cube, seconds, draws.rate() * slower, bath, 1.2, taken)
    size = draws.within("pull of sugar", salt.SUGAR_PULL_BAND) * salt.sugar_as_salt(left)
    drawing = salty + (salt.soak(cube, seconds, draws.rate(), np.inf, size)[0].mean if pull else 0.0)
    kept = held_part(draws, np.minimum(drawing / (1.0 + drawing), 0.30))
    return tuple(np.quantile(part, (0.1, 0.5, 0.9)) for part in (kept, 0.738 * kept * (salty + sugar.mean)))


def test_sugar_draws_water_from_pork_nearly_as_read():
    """Read: 0.42-0.51 of its water kept, 0.14-0.16 kg of solids taken up per kg (PK1, PK2). Ours: 0.62 (0.51-0.72) and
    0.19 (0.15-0.25); without the pull of the sugar 0.75 (0.70-0.80) and 0.23. Still too little drawn, the cautious side."""
    water, solids = in_syrup(pull=True)
    assert water == pytest.approx((0.51, 0.62, 0.72), abs=0.02) and solids == pytest.approx(
        (0.15, 0.19, 0.25), abs=0.02
    )
    assert water[0] < 0.514 + 0.01 and solids[0] < 0.16  # the read ranges are touched
    alone = in_syrup(pull=False)[0]
    assert alone[0] > 0.60 and water[1] - 0.468 < 0.65 * (alone[1] - 0.468)


def results():
    """Topic, row and comparison of every row that the model can be asked about, the fitted ones last."""
    return [("salting", row, compared(row)) for row in TESTS + FITTED]
