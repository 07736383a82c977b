"""Published drying times, water activities and keeping times against the models: how many do their bands contain?

The three lists (data/published/drying.csv, water_activity.csv, rancidity.csv) say for every row what had to be
assumed and whether it is a test, chose a parameter (fitted) or cannot be used, with the reason: a drying row is a test
when at most one of thickness, air and end point has to be assumed. The lists were written before these models were
run on them, though a simpler sketch had been compared with part of the rows before; rows whose misses then led to a
change of the model are marked fitted. test_published_table prints the table.
"""

import csv
from functools import cache
from importlib.resources import files

import numpy as np
import pytest
from scipy.special import ndtri

from flakeyard.models import drying_physics, keeping, slab_drying, solutions, sorption
from flakeyard.steps.chain import drying
from flakeyard.steps.intent.spread import Draws, upper_end

DRAWS = 200
HOUR, DAY = 3600.0, 86400.0
LONGEST = 200.0 * HOUR
FACTOR = 2.0  # the clocks are said to be good to a factor of two: taken as the 10th to 90th percentile (judgement)
DATA = files("flakeyard") / "data"
TOPICS = ("drying", "water_activity", "rancidity")


def published_rows(topic):
    return list(csv.DictReader((DATA / "published" / f"{topic}.csv").read_text(encoding="utf-8").splitlines()))


ROWS = {topic: {row["id"]: row for row in published_rows(topic)} for topic in TOPICS}
TESTS = [(topic, name) for topic in TOPICS for name, row in ROWS[topic].items() if row["use"] == "test"]
FITTED = [(topic, n) for topic in TOPICS for n, row in ROWS[topic].items() if row["use"] == "fitted" and row["kind"]]
NAMES = ["-".join(place) for place in TESTS + FITTED]


class Case:
    """Draws of what a row leaves open, and of the model's own parameters with the spread that a plan uses.

    One more is drawn here than in a plan, which reads the strict factor for warm rancidity: `warmer`. The native
    solutes a piece has left are those of its row, all where the row has no such column; a plan computes them.
    ``study`` are factors on parameters by which one laboratory may differ from another; see test_study_spread.
    """

    def __init__(self, row, **study):
        self.row, self.draws, self.study = row, Draws(DRAWS), study

    def number(self, name):
        return float(self.row[name])

    def between(self, name):
        low, high = self.row[name + "_low"], self.row[name + "_high"]
        return self.draws.uniform("row " + name, float(low), float(high)) if low else np.zeros(DRAWS)

    def isotherm(self):
        return {
            "protein_factor": self.draws.lognormal("protein water", 1.0, sorption.PROTEIN_FACTOR_LN_SD),
            "gab_k": self.draws.triangular("isotherm moist end", *drying.GAB_K),
            "native": self.draws.normal("native solutes", 1.0, sorption.NATIVE_SD) * self.native_left,
        }

    @property
    def native_left(self):
        return self.between("native") if "native_low" in self.row else np.ones(DRAWS)

    def make_up(self):
        water, salt, fat = (self.between(name) for name in ("water", "salt", "fat"))
        sugar = self.between("sugar") if "sugar_low" in self.row else 0.0
        return {"water": water, "salt": salt, "fat": fat, "solids": 1.0 - water - salt - fat - sugar}

    def slab(self):
        draws = self.draws
        return slab_drying.Slab(
            thickness=self.between("thickness_mm") / 1000.0,
            faces=self.number("faces"),
            **self.make_up(),
            diffusivity=self.study.get("drying_rate", 1.0)
            * draws.lognormal("drying diffusivity", drying.DIFFUSIVITY, drying.DIFFUSIVITY_LN_SD),
            activation=draws.triangular("activation", *drying.ACTIVATION),
            dry_end=draws.triangular("dry end", *drying.DRY_END),
            fat_effect=draws.triangular("fat effect", *drying.FAT_EFFECT),
            salt_effect=draws.triangular("salt effect", *drying.SALT_EFFECT),
            salt_cap=draws.uniform("salt cap", *drying_physics.SALT_CAP_BAND),
            **self.isotherm(),
            start_temperature=draws.uniform("start temperature", 5.0, 25.0),
        )

    def air(self):
        speed = self.draws.lognormal("air speed", drying.AIR_SPEED[None], drying.AIR_SPEED_LN_SD)
        if self.row["velocity_low"]:
            speed = self.between("velocity")
        rate = self.study.get("drying_rate", 1.0)
        around = self.between("temperature"), self.between("humidity_ratio"), speed
        return slab_drying.Air(*around, film_factor=rate, radiation=rate * slab_drying.Air.radiation)

    @property
    def warmer(self):
        return self.draws.uniform("warm rancidity", *keeping.WARMER_BAND)

    def factor(self):
        return self.study.get("clocks", 1.0) * self.draws.lognormal("clock", 1.0, np.log(FACTOR) / ndtri(0.9))


def hours_to(case, moisture):
    """Hours to a moisture [kg water per kg dry matter]; infinite when it takes more than `LONGEST`."""
    found = slab_drying.dry(case.slab(), case.air(), [0.0, LONGEST], target=moisture, stop=True).time_to_target
    return np.nan_to_num(found / HOUR, nan=np.inf)


def hours_to_moisture(case):
    end = case.between("end")
    return hours_to(case, end / (1.0 - end))


def moisture_after(case):
    moisture = slab_drying.dry(case.slab(), case.air(), [0.0, case.number("hours") * HOUR]).moisture[:, -1]
    return 100.0 * moisture / (1.0 + moisture)


def hours_to_part(case, part=None):
    water = case.make_up()["water"]
    return hours_to(case, (case.number("part") if part is None else part) * water / (1.0 - water))


def apparent_diffusivity(case):
    """What the first term of a slab makes of the hours between half and a fifth of the water [1e-10 m2/s]."""
    seconds = HOUR * (hours_to_part(case, 0.2) - hours_to_part(case, 0.5))
    across = case.between("thickness_mm") / 1000.0 / case.number("faces")
    return 1e10 * np.log(0.5 / 0.2) * (2.0 * across / np.pi) ** 2 / seconds


def activity(case):
    parts, sugar = case.make_up(), case.between("sugar")
    parts["water"] = parts["water"] * case.study.get("flesh_water", 1.0)
    return sorption.water_activity(**parts, sugar=sugar, **case.isotherm())


def cautious_end(case):
    """What a verdict would read: the upper end of the higher rule with its margin."""
    return upper_end(sorption.water_activity_cautious(**case.make_up(), **case.isotherm()))


def fat_days(case):
    fat, temperature = case.between("fat"), case.between("temperature")
    return keeping.rancidity_days(fat, temperature, case.row["air"], warmer_factor=case.warmer)


def rancid(case):
    return case.factor() * fat_days(case)


def shelf(case):
    """The earlier of the two clocks, mould by the whole of the published days, not the half a plan counts on."""
    start, length = case.between("activity_start"), case.number("days") * DAY
    rise = case.number("activity_rise") * np.linspace(0.0, 1.0, 60)
    temperature, times = case.between("temperature"), length * np.linspace(0.0, 1.0, 60)
    mould = keeping.mould_clock_days(times, start[:, None] + rise, temperature, part=1.0)
    return case.factor() * np.minimum(mould, fat_days(case))


KINDS = {
    "hours_to_moisture": hours_to_moisture,
    "moisture_after": moisture_after,
    "hours_to_part": hours_to_part,
    "part_ratio": lambda case: (
        hours_to_part(case) / hours_to_part(Case(ROWS["drying"][case.row["compared_with"]], **case.study))
    ),
    "apparent_diffusivity": apparent_diffusivity,
    "shape": lambda case: hours_to_part(case, 0.1) / hours_to_part(case),
    "activity": activity,
    "rancid": rancid,
    "shelf": shelf,
}


@cache
def compared(topic, name):
    """Model's 10th, 50th and 90th percentile; is the published middle inside (None: only a bound), do they touch."""
    row = ROWS[topic][name]
    low, mid, high = np.quantile(KINDS[row["kind"]](Case(row)), (0.1, 0.5, 0.9), method="higher")
    middle = row["published_mid"]
    least, most = float(row["published_low"]), float(row["published_high"] or "inf")
    return low, mid, high, bool(low <= float(middle) <= high) if middle else None, bool(low <= most and least <= high)


def test_every_row_says_how_it_is_used():
    sources = {row["source_id"] for row in csv.DictReader((DATA / "sources.csv").open(encoding="utf-8"))}
    for topic in TOPICS:
        assert len(ROWS[topic]) == len(published_rows(topic)), f"an id stands twice in {topic}"
        for row in ROWS[topic].values():
            assert row["use"] in {"test", "fitted", "not usable"} and row["reason"], row["id"]
            assert row["source_id"] in sources, row["id"]
    for topic, name in TESTS + FITTED:
        row = ROWS[topic][name]
        assert row["kind"] in KINDS and row["assumed"], row["id"]
        ends = [float(row["published_" + end]) for end in ("low", "mid", "high") if row["published_" + end]]
        assert ends and ends == sorted(ends), row["id"]


@pytest.mark.parametrize("topic, name", TESTS + FITTED, ids=NAMES)
def test_model_gives_an_ordered_band(topic, name):
    low, mid, high, *_ = compared(topic, name)
    assert 0.0 < low <= mid <= high


@pytest.mark.parametrize("name", [name for topic, name in TESTS + FITTED if topic == "water_activity"])
def test_what_a_verdict_reads_is_never_below_the_published_water_activity(name):
    row = ROWS["water_activity"][name]
    assert cautious_end(Case(row)) >= float(row["published_mid"])


def test_bands_still_hold_what_they_held():
    """Own regression record, not a proof: a change of the model has to answer for each row that it loses."""
    held = {name for topic, name in TESTS + FITTED if compared(topic, name)[3]}
    # With native solutes the bands of moist pieces halved. T3 (0.931 to 0.939 against 0.930) and A2 (0.952 to 0.966
    # against 0.970) are now touched by them, both within the published error; A5, A9 and A10 came in.
    assert held >= {"S1", "K1a", "K1b", "K2a", "M1", "T1", "T4", "A5", "A6", "A7", "A9", "A10", "KJ"}
    touched = {name for topic, name in TESTS + FITTED if compared(topic, name)[4]}
    assert touched >= held | {"T2", "T3", "A2", "K2b", "CL", "BD"}


MOIST = ("T1", "T2", "T3", "T4", "A2")  # the pieces with the fewest inputs assumed; they helped to choose the curve
OTHERS = ("A5", "A6", "A7", "A9", "A10", "A11")


def rule_errors(names):
    """Bias and rms of the middle against the published water activity, for each way of joining protein and salt."""
    errors = {}
    for row in (ROWS["water_activity"][name] for name in names):
        case = Case(row)
        parts, curve, sugar = case.make_up(), case.isotherm(), case.between("sugar")
        brine = solutions.nacl_water_activity(parts["salt"] / (parts["salt"] + parts["water"]))
        brine = brine * solutions.sucrose_water_activity(sugar / (sugar + parts["water"]))
        unsalted = {**parts, "salt": 0.0, "fat": parts["fat"] + parts["salt"] + sugar}
        rules = {
            "additive, native solutes of the row": sorption.water_activity(**parts, sugar=sugar, **curve),
            "additive, all native solutes": sorption.water_activity(**parts, sugar=sugar, **{**curve, "native": 1.0}),
            "additive, none": sorption.water_activity(**parts, sugar=sugar, **{**curve, "native": 0.0}),
            "product, native solutes of the row": brine * sorption.water_activity(**unsalted, **curve),
            "brine alone": brine,
        }
        for rule, found in rules.items():
            errors.setdefault(rule, []).append(np.median(found) - float(row["published_mid"]))
    return {rule: (np.mean(found), np.sqrt(np.mean(np.square(found)))) for rule, found in errors.items()}


def test_rules_compare_as_told():
    """Bias and rms to three places, moist pieces then others; with native solutes no share between rules is needed."""
    moist, others = rule_errors(MOIST), rule_errors(OTHERS)
    told = {
        "additive, native solutes of the row": (-0.005, 0.008, 0.005, 0.036),
        "additive, all native solutes": (-0.011, 0.013, -0.002, 0.042),
        "additive, none": (-0.002, 0.006, 0.018, 0.035),
        "product, native solutes of the row": (0.001, 0.006, 0.018, 0.034),
        "brine alone": (0.004, 0.005, 0.033, 0.041),
    }  # fmt: skip
    for rule, numbers in told.items():
        assert (*moist[rule], *others[rule]) == pytest.approx(numbers, abs=0.0011), rule
    own, all_left = (f"additive, {which}" for which in ("native solutes of the row", "all native solutes"))
    assert moist[own][1] < moist[all_left][1] and others[own][1] < others[all_left][1]


def results():
    """Topic, row and comparison of every row that the model can be asked about, the fitted ones last."""
    return [(topic, ROWS[topic][name], compared(topic, name)) for topic, name in TESTS + FITTED]
