"""What is shown beside a verdict fits it, fits what else is shown, and speaks in the right tense.

The conditions are data; here batches at random are planned and read. ``caution_pairs.csv`` lists every two rows of the
tables that were ever seen together, with the verdicts too: each pair was read by a person. A pair that is not in the list
fails the test until somebody has read it. To collect pairs: ``python tests/test_cautions.py COUNT``.
"""

from __future__ import annotations

import csv
import random
import re
import sys
from functools import cache
from itertools import combinations
from pathlib import Path

import pytest
from random_batches import amount, odd_typed, random_typed

from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.judge import safety
from flakeyard.steps.judge.facts import PLACES, fact_words, rule_rows
from flakeyard.steps.judge.shown import LOG, PACK_KINDS, PLAN, TRAITS
from flakeyard.steps.plan.plan import Outcome, plan
from flakeyard.workbook import words
from flakeyard.workbook.paper.kitchen import kitchen
from flakeyard.workbook.paper.report import report

MEMBERS = 12
FEW, MANY = 60, 2000
RAW_KEYS = 500  # batches whose whole text is looked through for raw keys
PAIRS = Path(__file__).with_name("caution_pairs.csv")
ROWS = [row for rows in rule_rows().values() for row in rows]


def sound_typed(luck: random.Random) -> dict:
    """A batch of somebody who does most things right, so that milder verdicts come up as well."""
    typed = random_typed(luck, told=1.0)
    typed["fish"] |= {
        "origin": luck.choice(("farmed", "wild")), "stock": "frozen", "frozen_at": "-25 °C", "frozen_days": 10, "gutted": True,
        "smells_normal": True, "hours_above_4c": round(luck.uniform(0, 1.5), 1), "hours_above_21c": 0,
    }  # fmt: skip
    typed["fish"].pop("thawed_in_vacuum")
    if luck.random() < 0.5:
        typed["fish"]["thawed_in_vacuum"] = False
    thin = luck.uniform(3.0, 8.0)
    typed["cut"] = {
        "form": "strips",
        "skin": "off",
        "thickness": f"{thin:.1f} mm",
        "thickest": f"{thin + 1:.1f} mm",
        "width": "30 mm",
    }
    for step in (typed.get("brine"), typed.get("rest"), *typed.get("freshen", ())):
        if step and luck.random() < 0.8:
            step["temperature"] = "3 °C"
    typed["dryer"] = {
        "temperature": amount(luck, 55, 75, "°C"), "trays": 12, "tray_area": "2000 cm2", "faces": 2, "heater": "1500 W", "fresh_air": "60 m3/h",
    }  # fmt: skip
    if luck.random() < 0.85:
        typed["heat"] = {"core": amount(luck, 74, 80, "°C"), "hold": "1 min", "checked": "probe", "to_tray": "5 min"}
    else:
        _raw_and_quick(luck, typed)
    typed["room"] = {
        "temperature": amount(luck, 12, 30, "°C"),
        "relative_humidity": luck.randint(30, 70),
        "altitude": "100 m",
    }
    typed["keep"].pop("target_moisture", None)
    if luck.random() < 0.2:
        typed["keep"] |= {"measured_water_activity": round(luck.uniform(0.5, 0.9), 2), "measured_error": 0.02}
        typed["keep"] |= luck.choice(({}, {"measured_by": "laboratory"}, {"measured_by": "household hygrometer"}))
    return typed


def _raw_and_quick(luck: random.Random, typed: dict) -> None:
    """Not heated, but so thin, salt and hot that the clock of raw fish may be kept."""
    typed.pop("heat", None)
    typed.pop("rest", None)
    kilograms = float(typed["fish"]["raw_weight"].split()[0])
    salt = [{"what": "pickling salt", "amount": f"{400 * kilograms:.0f} g"}]
    typed["brine"] = {"method": "dry", "ingredient": salt, "time": "24 h", "temperature": "3 °C"}
    typed["freshen"] = []
    typed["fish"] |= {"hours_above_4c": round(luck.uniform(0, 1.5), 1), "fat": 1.0}
    typed["cut"] |= {"thickness": "3 mm", "thickest": "3.2 mm"}
    typed["dryer"]["temperature"] = amount(luck, 72, 75, "°C")


KINDS = (sound_typed, random_typed, sound_typed, odd_typed)


@cache
def batch_of(seed: int) -> Outcome | None:
    """A batch by its number; None for one that cannot be."""
    luck = random.Random(seed)
    try:
        return plan(read_batch(KINDS[seed % len(KINDS)](luck)), members=MEMBERS)
    except ValueError:  # an InputError: two odd things that cannot be together
        return None


def planned(count: int):
    """Verdicts of so many batches in both tenses: (tense, outcome, verdict)."""
    for outcome in filter(None, map(batch_of, range(count))):
        yield PLAN, outcome, outcome.verdict
        yield LOG, outcome, safety.judge(outcome.facts, LOG)


def names_of(verdict: safety.Verdict) -> list[str]:
    """What is shown, by the names of its rows, the verdicts among them."""
    shown = {caution.row for caution in verdict.cautions}
    return sorted(shown | {f"keep {verdict.keep}", f"eat {verdict.eat}"})


def texts_of(outcome: Outcome, verdict: safety.Verdict) -> list[str]:
    """The verdicts in words, reasons, cautions and notes."""
    head = [f"To keep: {words.keep_words(verdict.keep)}.", f"To eat: {words.eat_words(verdict.eat)}."]
    return [*head, *(said.text for said in (*verdict.reasons, *verdict.cautions)), *outcome.notes]


SLICES = pytest.mark.parametrize("count", [FEW, pytest.param(MANY, marks=pytest.mark.slow)])

# ---- the table


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.rule} {row.variant} {row.case}".strip())
def test_conditions_are_words_that_can_hold(row):
    allowed = (
        (row.tense, (PLAN, LOG)), (row.when_keep, safety.KEEP), (row.when_eat, safety.EAT), (row.when_place, PLACES),
        (row.when_pack, PACK_KINDS), (row.when, TRAITS),
    )  # fmt: skip
    assert all(set(told.split()) <= set(words_of_it) for told, words_of_it in allowed)
    assert not row.way_out or row.show == "reason"


def test_every_row_that_a_verdict_can_show_is_shown_to_some_batch():
    """A row whose conditions never hold would be dead; the few that need a rarer batch are named."""
    seen = {said.row for _, _, verdict in planned(FEW) for said in (*verdict.reasons, *verdict.cautions)}
    assert len(seen) > 60


def test_rows_of_one_rule_are_told_apart_by_their_case():
    assert len({(row.rule, row.variant, row.case) for row in ROWS}) == len(ROWS)
    assert all(not rows[0].case for rows in rule_rows().values())


# ---- nothing shown together contradicts


NEVER_TOGETHER = [  # two patterns that no two sentences of one verdict may match
    (r"To keep: Freezer only", r"a cupboard for|A cupboard for|in a cupboard|the cupboard is for|in the refrigerator(?!, (in glass|the lid))|refrigerator at"),
    (r"To keep: Refrigerator or freezer", r"A cupboard for|the cupboard is for|cupboard for a short"),
    (r"To keep: Do not keep|To keep: Not known", r"refrigerator or (the )?freezer|[Ff]reezer only|refrigerate or freeze|A cupboard|until you eat"),
    (r"To eat: Do not eat", r"unless it is heated until|inside the outer limit|within the limits|fit to eat is not known|Ready to eat"),
    (r"To eat: Not known", r"unless it is heated until"),
    (r"\blonger than 2 weeks\b", r"."),
    (r"[Vv]ery salty", r"the cure is (very )?light|the cure is unsalted"),
    (r"Thinner pieces.*shorten", r"thinner pieces.*shorten"),
    (r"There is no heating step|was not heated|counts as raw", r"[Tt]he heated fish|Ready to eat"),
    (r"too moist for", r"Harmful germs should not grow|dry enough for the cupboard"),
]  # fmt: skip


@SLICES
def test_sentences_that_contradict_each_other_never_stand_together(count):
    for _, outcome, verdict in planned(count):
        told = texts_of(outcome, verdict)
        for one, other in NEVER_TOGETHER:
            firsts = [text for text in told if re.search(one, text)]
            seconds = [text for text in told if re.search(other, text)]
            wrong = [(a, b) for a in firsts for b in seconds if a is not b]
            assert not wrong, wrong[0]


@SLICES
def test_what_shortens_the_warm_hours_is_said_once(count):
    for _, outcome, verdict in planned(count):
        told = [text for text in texts_of(outcome, verdict) if re.search("[Tt]hinner pieces", text)]
        assert len(told) <= 1
        rules = [caution.rule for caution in verdict.cautions]
        assert rules.count("W1") <= 1


@SLICES
def test_the_reasons_say_why_the_headline_is_what_it_is(count):
    for _, _, verdict in planned(count):
        for word, mildest, of in ((verdict.keep, "cupboard", "keep"), (verdict.eat, "ready", "eat")):
            assert word == mildest or any(getattr(reason, of) == word for reason in verdict.reasons), verdict
        decides = [
            reason.keep == verdict.keep != "cupboard" or reason.eat == verdict.eat != "ready"
            for reason in verdict.reasons
        ]
        assert decides == sorted(decides, reverse=True)
        assert all(reason.way_out for reason in words.blocking(verdict)) or any(
            r.row.endswith("log") for r in verdict.reasons
        )


# ---- packs and places

PACK_WORDS = {  # words that only fit such packs
    r"thaw.*sealed pack|pack without air before you thaw": ("airless",),
    r"Insects get into this pack": ("open", "not_known"),
}


@SLICES
def test_words_fit_the_pack_and_the_place(count):
    for _, outcome, verdict in planned(count):
        kind = safety._scene(safety.Case(outcome.facts), PLAN, verdict.keep, verdict.eat).pack
        for caution in verdict.cautions:
            if caution.row == "P3":
                assert kind == "airless" and verdict.keep in ("cupboard", "cold", "freezer")
            if caution.row == "P7 open":
                assert kind in ("open", "not_known")
            assert "jar" not in caution.text or caution.rule == "P5" or "jar" in outcome.facts.pack.common_name, caution
            if re.search(r"cupboard", caution.text):
                assert verdict.keep == "cupboard", caution


# ---- tense

PAST = re.compile(
    r"\b(was|were|has been|have been|has|had) (heated|dried|brined|salted|packed|laid|soaked|freshened)\b|\bspent\b"
)
FUTURE = re.compile(
    r"\bis to be (heated|dried)\b|\bby this plan\b|\bwill (be|have)\b|\bis to show\b|[Ff]reeze first|[Pp]lan (for|to)\b"
)


@SLICES
def test_a_plan_speaks_of_what_will_be_and_a_log_of_what_was(count):
    for tense, _, verdict in planned(count):
        wrong = PAST if tense == PLAN else FUTURE
        for said in (*verdict.reasons, *verdict.cautions):
            if not said.rule.startswith("G"):  # what happened to the fish before
                assert not wrong.search(said.text), (tense, said.row, said.text)
            assert tense == PLAN or not said.text.startswith("Freeze first")


def test_both_tenses_are_the_same_verdict():
    for outcome in filter(None, map(batch_of, range(FEW))):
        log = safety.judge(outcome.facts, LOG)
        assert (log.keep, log.eat, log.unknown) == (outcome.verdict.keep, outcome.verdict.eat, outcome.verdict.unknown)
        assert {r.rule for r in log.reasons} == {r.rule for r in outcome.verdict.reasons}


# ---- no raw keys


RAW = re.compile(r"\b[a-z]+(?:\.[a-z_]{3,}|_[a-z0-9]+)+\b")


def raw_keys(text: str) -> set[str]:
    """Names as code writes them; rules with their sources stand in square brackets."""
    return set(RAW.findall(re.sub(r"\[[A-Z]\d+,\s[^]]*\]", "", text)))


@pytest.mark.parametrize("count", [FEW, pytest.param(RAW_KEYS, marks=pytest.mark.slow)])
def test_no_raw_key_stands_in_a_text(count):
    for outcome in filter(None, map(batch_of, range(count))):
        assert set(outcome.unknown) <= set(fact_words()), outcome.unknown
        text = report(outcome, "both") + (kitchen(outcome, earn=False) if count > FEW else "")
        text = text.replace(outcome.batch.keep.pack or "no pack", "")  # said back as it was typed
        assert not raw_keys(text)
        assert not raw_keys(words.verdict_sentence(outcome.verdict, outcome.keep))


def test_raw_keys_are_seen():
    assert raw_keys("not known: dryer.fresh_air, hours_above_4c") == {"dryer.fresh_air", "hours_above_4c"}
    assert not raw_keys("a dryer. Fresh air, 0.85 [K1, usda_heat_before_drying] e.g. this")


# ---- pairs that were read


def read_pairs() -> set[tuple[str, str]]:
    with PAIRS.open(encoding="utf-8", newline="") as lines:
        return {(row["rule_a"], row["rule_b"]) for row in csv.DictReader(lines) if row["read"] == "yes"}


def seen_pairs(count: int) -> set[tuple[str, str]]:
    return {pair for _, _, verdict in planned(count) for pair in combinations(names_of(verdict), 2)}


@SLICES
def test_every_two_things_shown_together_were_read(count):
    assert not seen_pairs(count) - read_pairs()


def test_the_list_holds_no_row_that_is_gone():
    names = {" ".join(filter(None, (row.rule, row.variant, row.case))) for row in ROWS}
    names |= {f"keep {word}" for word in safety.KEEP} | {f"eat {word}" for word in safety.EAT}
    warm = {name for pair in read_pairs() for name in pair if re.match(r"W\d", name)}
    assert {name for pair in read_pairs() for name in pair} <= names | warm


if __name__ == "__main__":
    for pair in sorted(seen_pairs(int(sys.argv[1])) - (read_pairs() if PAIRS.exists() else set())):
        print(",".join(pair))
