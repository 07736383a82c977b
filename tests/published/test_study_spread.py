"""How far one study lies from another, and what the bands hold with that told: each study judged by the others.

A term is a draw on a parameter (data/study_spread.csv), one for a study, so one for a batch. A row's misfit is measured
against the model's own spread, the published error, and the term times what the row feels of it. The size of a term
is the most likely one; its range loses half a unit of log likelihood. For the share of rows inside, the term comes from
all studies (tuned) or from the other studies only (left out); only the second says something about the next kitchen.

No row is left out because it misses. Rows that are advice, an optimum, a factor of statistics or a prediction, not a
measurement, and rows outside the tested range of their formula are marked: they do not size a term, and both counts
are given. Run this file by itself to write `study_spread_table.txt` anew; a test holds it.
The table says how the rows lay before the present curve, edges and cap, and how they lie now.
"""

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import test_drying_data as drying_data
import test_salting_data as salting_data

from flakeyard import tables

STORED = Path(__file__).with_name("study_spread_table.txt")
TENTH = 1.2816  # standard deviations from the middle to the 10th or 90th percentile
STEP = 0.1  # of the logarithm of a parameter, to see what a row feels of it
SIZES_NOTHING = {
    "S08a": "schedules judged to give the same product",
    "S08c": "schedules judged to give the same product",
    "E01": "a rule of the trade",
    "E2": "advice to lay people",
    "E5": "an optimum of a fitted surface",
    "SO1": "an optimum of a fitted surface",
    "SO2": "an optimum of a fitted surface",
    "SO3": "an optimum of a fitted surface",
    "SM1": "brine below 0 °C: outside the tested range",
    "FS1": "a factor of statistics",
    "FS2": "a factor of statistics",
    "FS3": "a factor of statistics",
    "FS4": "a factor of statistics",
    "FS5": "a factor of statistics",
    "JP25": "predicted by its authors",
    "JP35": "predicted by its authors",
}
plain = (lambda value: value, "")
logarithm = (np.log, "ln ")
# topic of study_spread.csv: rows, scale on which they are compared; the parameter is named there
ROWS = {
    "water after salting": (
        ("S01b", "S02b", "S11a", "S11b", "S11c", "HB1", "SO1", "SO2", "FS1", "FS2", "FS3", "FS4", "FS5"),
        plain,
    ),
    "salting time": (("S08a", "S08c", "S09a", "S09b", "S10", "X01", "D04", "E01", "SM1", "SO3"), logarithm),
    "drying hours": (("S1", "K1a", "K1b", "K2a", "K2b", "E2", "E5", "M1"), logarithm),
    "water activity": (("A5", "A6", "A7", "A9", "A10", "A11", "T1", "T2", "T3", "T4", "A2"), plain),
    "rancidity": (("KJ", "CP", "CH", "L55", "JP25", "JP35"), logarithm),
    "": (("S01c", "S02c", "S03b", "S04b"), plain),  # water-phase salt at balance: no term was found
}
TERMS = {term.topic: term for term in tables.study_spread()}
GRID = np.concatenate(([0.0], np.geomspace(0.003, 4.0, 400)))


@dataclass(frozen=True)
class Row:
    """One comparison: misfit (published less middle), the two spreads of it, and what it feels of the term."""

    name: str
    study: str
    misfit: float
    own: float
    published: float
    felt: float
    inside: bool

    def covered(self, term: float) -> bool:
        return abs(self.misfit) <= TENTH * np.sqrt(self.own**2 + self.published**2 + (self.felt * term) ** 2)


def drawn(name, **study):
    """The row and its ensemble, with factors on parameters."""
    for topic in drying_data.TOPICS:
        if name in drying_data.ROWS[topic]:
            row = drying_data.ROWS[topic][name]
            return row, drying_data.KINDS[row["kind"]](drying_data.Case(row, **study))
    row = salting_data.ROWS[name]
    return row, salting_data.KINDS[row["kind"]](salting_data.Draws(row, **study))


@cache
def rows(topic):
    names, (scale, _) = ROWS[topic]
    found = []
    for name in names:
        row, ensemble = drawn(name)
        low, middle, high = scale(np.quantile(ensemble, (0.1, 0.5, 0.9), method="higher"))
        least, published, most = (scale(float(row["published_" + end])) for end in ("low", "mid", "high"))
        felt = 0.0
        if topic:
            less, more = (
                scale(np.median(drawn(name, **{TERMS[topic].factor: np.exp(side * STEP)})[1])) for side in (-1.0, 1.0)
            )
            felt = (more - less) / (2.0 * STEP)
        spreads = (high - low) / (2.0 * TENTH), (most - least) / (2.0 * TENTH)
        found.append(Row(name, row["source_id"], published - middle, *spreads, felt, low <= published <= high))
    return tuple(found)


def unlikely(term, some):
    """Minus the log likelihood of a term: misfits of one study share one draw of it."""
    total = 0.0
    for study in {row.study for row in some}:
        own = [row for row in some if row.study == study]
        misfit, felt = (np.array([getattr(row, what) for row in own]) for what in ("misfit", "felt"))
        spread = np.diag([row.own**2 + row.published**2 + 1e-8 for row in own]) + term**2 * np.outer(felt, felt)
        total += 0.5 * misfit @ np.linalg.solve(spread, misfit) + 0.5 * np.linalg.slogdet(spread)[1]
    return total


def most_likely(some):
    """The term that fits best, and the range of those nearly as good."""
    cost = np.array([unlikely(term, some) for term in GRID])
    near = GRID[cost <= cost.min() + 0.5]
    return float(GRID[cost.argmin()]), float(near[0]), float(near[-1])


def measured(some):
    return tuple(row for row in some if row.name not in SIZES_NOTHING)


def left_out(topic):
    """Term for each row by the measured rows of the other studies; nan where there is no other study."""
    sized = measured(rows(topic))
    terms = {}
    for row in rows(topic):
        others = [one for one in sized if one.study != row.study]
        terms[row.name] = most_likely(others)[0] if others and topic else 0.0 if not topic else np.nan
    return terms


def counts(topic, some):
    """Rows inside: the band, with the published error, with the tuned term, with the left-out one."""
    tuned = most_likely(measured(rows(topic)))[0] if topic else 0.0
    others = left_out(topic)
    return (
        sum(row.inside for row in some),
        sum(row.covered(0.0) for row in some),
        sum(row.covered(tuned) for row in some),
        sum(bool(row.covered(others[row.name])) for row in some),  # not a number: not covered
    )


def test_no_row_is_left_out_because_it_misses():
    """All rows with a published middle: the two that only publish a bound cannot size anything."""
    usable = [
        name for topic, name in drying_data.TESTS + drying_data.FITTED if drying_data.ROWS[topic][name]["published_mid"]
    ]
    usable += [row["id"] for row in salting_data.TESTS + salting_data.FITTED]
    assert sorted(name for names, _ in ROWS.values() for name in names) == sorted(usable)
    assert set(SIZES_NOTHING) <= set(usable)
    assert set(ROWS) - {""} == set(TERMS)


@pytest.mark.parametrize("topic", TERMS)
def test_a_term_is_known_to_a_factor_of_two(topic):
    """Told range = half to twice; what the rows make likely meets it. Drying: its term rests on one row of advice."""
    term = TERMS[topic]
    assert (term.sd_low, term.sd_high) == pytest.approx((0.5 * term.sd, 2.0 * term.sd))
    _, low, high = most_likely(measured(rows(topic)))
    assert low <= term.sd_high and high >= term.sd_low
    if topic == "salting time":  # cold brine, 3.7 times the salt we give: it would ask for six times the term
        colder = most_likely((*measured(rows(topic)), *(row for row in rows(topic) if row.name == "SM1")))
        assert colder == pytest.approx((1.31, 0.80, 2.05), abs=0.05)
    if topic == "drying hours":
        found = most_likely([row for row in rows(topic) if row.name != "E5"])[0]
        assert found == pytest.approx(0.44, abs=0.02) and found < term.sd  # 0.52 without M1: the wider is kept


@pytest.mark.parametrize("topic", TERMS)
def test_a_term_comes_to_what_is_told_in_the_result(topic):
    felt = [abs(row.felt) for row in measured(rows(topic)) if abs(row.felt) > 0.01]
    assert np.median(felt) * TERMS[topic].sd == pytest.approx(TERMS[topic].result_sd, rel=0.25)


def test_shares_inside_are_as_told():
    """Of 52 rows inside: the band 32, with the published error 37, with tuned terms 42, with left-out terms 40."""
    whole = np.sum([counts(topic, rows(topic)) for topic in ROWS], axis=0)
    sized = np.sum([counts(topic, measured(rows(topic))) for topic in ROWS], axis=0)
    assert whole.tolist() == [32, 37, 42, 40]
    assert sized.tolist() == [24, 27, 32, 30]
    assert sum(len(rows(topic)) for topic in ROWS) == 52 == sum(len(measured(rows(topic))) for topic in ROWS) + 16


def test_a_term_found_again():
    """Made-up studies whose true term is 0.5: found to a third."""
    random = np.random.default_rng(3)
    some = []
    for study in range(60):
        shift = 0.5 * random.standard_normal()
        some += [
            Row("", str(study), shift * felt + 0.2 * random.standard_normal(), 0.2, 0.0, felt, True)
            for felt in (1.0, 0.7)
        ]
    term, low, high = most_likely(some)
    assert low < term < high and term == pytest.approx(0.5, rel=0.33)


BEFORE = {  # rows whose middle lay inside the band, with one GAB curve, no edges and no cap: not fitted, and all
    "salting": ("8 of 13", "12 of 17"), "drying": ("4 of 7", "4 of 7"), "water_activity": ("2 of 6", "6 of 11"),
    "rancidity": ("1 of 3", "1 of 4"), "all": ("15 of 29", "23 of 39"),
}  # fmt: skip
ACTIVITY_BEFORE = {  # our middle for the water activity of each row, likewise
    "A5": 0.793, "A6": 0.760, "A7": 0.817, "A9": 0.753, "A10": 0.858, "A11": 0.910, "T1": 0.879, "T2": 0.797, "T3": 0.934,
    "T4": 0.760, "A2": 0.962,
}  # fmt: skip


def before_and_now():
    """Lines: rows inside by topic, then residuals of the water activity by source (published less our middle)."""
    lines = ["", "inside the band by topic: not fitted before, now; all before, now"]
    everything = [("salting", row, one) for _, row, one in salting_data.results()] + drying_data.results()
    for topic in BEFORE:
        found = [
            (row["use"], one[3]) for about, row, one in everything if topic in (about, "all") and one[3] is not None
        ]
        counts_now = [
            f"{sum(inside for _, inside in some)} of {len(some)}"
            for some in ([one for one in found if one[0] == "test"], found)
        ]
        pairs = "; ".join(f"{was}, {now}" for was, now in zip(BEFORE[topic], counts_now, strict=True))
        lines.append(f"    {topic:16}{pairs}")
    lines += ["", "water activity, published less our middle: before, now"]
    for row in sorted(rows("water activity"), key=lambda one: one.study):
        was = float(drying_data.ROWS["water_activity"][row.name]["published_mid"]) - ACTIVITY_BEFORE[row.name]
        lines.append(f"    {row.study:25}{row.name:5}{was:+.3f}, {row.misfit:+.3f}")
    return lines


def test_the_stored_table_says_what_the_models_say():
    """Number by number, to a twentieth of a unit of the last place but one: other computers round otherwise."""
    number = re.compile(r"[-+]?\d+\.?\d*")
    stored, now = STORED.read_text(encoding="utf-8"), report()
    assert number.sub("#", stored).split() == number.sub("#", now).split()
    pairs = zip(number.findall(stored), number.findall(now), strict=True)
    assert not [(one, other) for one, other in pairs if abs(float(one) - float(other)) > 0.003 + 0.02 * abs(float(one))]


def report():
    told = "{:.3f} ({:.3f}-{:.3f})".format
    head = ("topic", "rows", "studies", "mean", "rms", "term by measured rows", "by all rows")
    lines = ["", "{:20}{:>5}{:>8}{:>8}{:>7}  {:23}{:23}".format(*head) + "inside: band, + error, + tuned, + left out"]
    whole = np.zeros((2, 5), int)
    for topic in ROWS:
        every, sized = rows(topic), measured(rows(topic))
        misfit = np.array([row.misfit for row in every])
        studies, rms = len({row.study for row in every}), np.sqrt((misfit**2).mean())
        size = f"{len(every):5}{studies:8}{misfit.mean():+8.3f}{rms:7.3f}"
        terms = [told(*most_likely(some)) if topic else "none" for some in (sized, every)]
        parts = [(*counts(topic, some), len(some)) for some in (every, sized)]
        whole += np.array(parts)
        covered = "; measured: ".join("{}, {}, {}, {} of {}".format(*part) for part in parts)
        lines.append(f"{topic or 'salt at balance':20}{size}  {terms[0]:23}{terms[1]:23}{covered}")
        others = left_out(topic)
        for row in every:
            spreads = (
                f"misfit {row.misfit:+.3f}, own {row.own:.3f}, published {row.published:.3f}, feels {row.felt:+.2f}"
            )
            why = f"  [{SIZES_NOTHING[row.name]}]" if row.name in SIZES_NOTHING else ""
            lines.append(f"    {row.name:5}{row.study:25}{spreads}, left-out term {others[row.name]:.3f}{why}")
    covered = "; measured: ".join("{}, {}, {}, {} of {}".format(*part) for part in whole)
    return "\n".join([*lines, f"all: {covered}", *before_and_now()]).lstrip("\n") + "\n"


if __name__ == "__main__":
    STORED.write_text(report(), encoding="utf-8")
    print(report())
