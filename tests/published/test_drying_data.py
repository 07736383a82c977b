"""Published drying times, water activities and keeping times against the models: how many do their bands contain?

The three lists (data/published/drying.csv, water_activity.csv, rancidity.csv) say for every row what had to be
assumed and whether it is a test, chose a parameter (fitted) or cannot be used, with the reason: a drying row is a test
when at most one of thickness, air and end point has to be assumed. The lists were written before these models were
run on them, though a simpler sketch had been compared with part of the rows before. Run this file by itself to print
the table.
"""

import csv
from functools import cache
from importlib.resources import files

import numpy as np
import pytest
from scipy.special import ndtri
from scipy.stats import binomtest

from flakeyard.models import keeping, slab_drying, sorption
from flakeyard.steps import drying
from flakeyard.steps.spread import Draws, upper_end

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
NAMES = ["-".join(place) for place in TESTS]


class Case:
    """Draws of what a row leaves open, and of the model's own parameters with the spread that a plan uses."""

    def __init__(self, row):
        self.row, self.draws = row, Draws(DRAWS)

    def number(self, name):
        return float(self.row[name])

    def between(self, name):
        low, high = self.row[name + "_low"], self.row[name + "_high"]
        return self.draws.uniform("row " + name, float(low), float(high)) if low else np.zeros(DRAWS)

    def isotherm(self):
        return {
            "protein_factor": self.draws.lognormal("protein water", 1.0, sorption.PROTEIN_FACTOR_LN_SD),
            "gab_k": self.draws.triangular("isotherm moist end", *drying.GAB_K),
        }

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
            diffusivity=draws.lognormal("drying diffusivity", drying.DIFFUSIVITY, drying.DIFFUSIVITY_LN_SD),
            activation=draws.triangular("activation", *drying.ACTIVATION),
            dry_end=draws.triangular("dry end", *drying.DRY_END),
            fat_effect=draws.triangular("fat effect", *drying.FAT_EFFECT),
            salt_effect=draws.triangular("salt effect", *drying.SALT_EFFECT),
            **self.isotherm(),
            start_temperature=draws.uniform("start temperature", 5.0, 25.0),
        )

    def air(self):
        speed = self.draws.lognormal("air speed", drying.AIR_SPEED, drying.AIR_SPEED_LN_SD)
        if self.row["velocity_low"]:
            speed = self.between("velocity")
        return slab_drying.Air(self.between("temperature"), self.between("humidity_ratio"), speed)

    def factor(self):
        return self.draws.lognormal("clock", 1.0, np.log(FACTOR) / ndtri(0.9))


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


def activity(case):
    sugar = case.between("sugar")
    return sorption.water_activity(**case.make_up(), sugar=sugar, **case.isotherm())


def cautious_end(case):
    """What a verdict would read: the upper end of the higher rule with its margin."""
    return upper_end(sorption.water_activity_cautious(**case.make_up(), **case.isotherm()))


def rancid(case):
    return case.factor() * keeping.rancidity_days(case.between("fat"), case.between("temperature"), case.row["air"])


def shelf(case):
    """The earlier of the two clocks, mould by the whole of the published days, not the half a plan counts on."""
    start, length = case.between("activity_start"), case.number("days") * DAY
    rise = case.number("activity_rise") * np.linspace(0.0, 1.0, 60)
    temperature, times = case.between("temperature"), length * np.linspace(0.0, 1.0, 60)
    mould = keeping.mould_clock_days(times, start[:, None] + rise, temperature, part=1.0)
    fat_clock = keeping.rancidity_days(case.between("fat"), temperature, case.row["air"])
    return case.factor() * np.minimum(mould, fat_clock)


KINDS = {
    "hours_to_moisture": hours_to_moisture,
    "moisture_after": moisture_after,
    "hours_to_part": hours_to_part,
    "part_ratio": lambda case: hours_to_part(case) / hours_to_part(Case(ROWS["drying"][case.row["compared_with"]])),
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
    for topic, name in TESTS:
        row = ROWS[topic][name]
        assert row["kind"] in KINDS and row["assumed"], row["id"]
        ends = [float(row["published_" + end]) for end in ("low", "mid", "high") if row["published_" + end]]
        assert ends and ends == sorted(ends), row["id"]


@pytest.mark.parametrize("topic, name", TESTS, ids=NAMES)
def test_model_gives_an_ordered_band(topic, name):
    low, mid, high, *_ = compared(topic, name)
    assert 0.0 < low <= mid <= high


@pytest.mark.parametrize("name", [name for topic, name in TESTS if topic == "water_activity"])
def test_what_a_verdict_reads_is_never_below_the_published_water_activity(name):
    row = ROWS["water_activity"][name]
    assert cautious_end(Case(row)) >= float(row["published_mid"])


def test_bands_still_hold_what_they_held():
    """Own regression record, not a proof: a change of the model has to answer for each row that it loses."""
    held = {name for topic, name in TESTS if compared(topic, name)[3]}
    assert held >= {"S1", "K1a", "K1b", "K2a", "T3", "A6", "A7", "A10", "KJ"}


def table():
    """One line a test row, and per topic the share inside with its 95 % binomial interval."""
    for topic, name in TESTS:
        row = ROWS[topic][name]
        low, mid, high, inside, touching = compared(topic, name)
        published = "/".join(row["published_" + end] for end in ("low", "mid", "high"))
        words = "inside" if inside else "touching" if touching else "outside"
        end = f"  cautious end {cautious_end(Case(row)):.3f}" if topic == "water_activity" else ""
        print(
            f"{name:5} {row['product'][:38]:38} {row['quantity'][:34]:34} {published:18} "
            f"{low:7.3g} {mid:7.3g} {high:7.3g} {row['unit']:6} {words}{end}"
        )
    for topic in TOPICS:
        report(topic, [compared(*place) for place in TESTS if place[0] == topic])
    report("all", [compared(*place) for place in TESTS])


def report(topic, results):
    """Print the share inside (bounds left out) and the share inside or touching."""
    for name, flags in (
        ("inside", [result[3] for result in results if result[3] is not None]),
        ("inside or touching", [result[4] for result in results]),
    ):
        span = binomtest(sum(flags), len(flags)).proportion_ci(method="exact")
        share = sum(flags) / len(flags)
        print(f"{topic}, {name}: {sum(flags)} of {len(flags)} = {share:.0%} ({span.low:.0%} to {span.high:.0%})")


if __name__ == "__main__":
    table()
