"""The text for the kitchen: nothing that has to be said is lost, a refused batch gets no steps, one system of units at a time."""

import random
import re
from dataclasses import replace
from functools import cache

import pytest
from test_cautions import FEW, MEMBERS, batch_of, raw_keys

from flakeyard.messages import texts
from flakeyard.steps.intent.batch_file import read_batch, with_typed, without, written
from flakeyard.steps.judge.facts import rule_rows
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook import own, words
from flakeyard.workbook.paper import as_told, kitchen
from flakeyard.workbook.paper.kitchen import short
from flakeyard.workbook.paper.report import report

DEMOS = ("heron", "kingfisher", "otter")
MUST_SAY = {  # a row that a verdict shows, by the beginning of its name, and what the text must then say in some words
    "E1": "teaching estimate.*throw it out", "E2": "Local rules come first.*Cooperative Extension.*process authority.*food laboratory",
    "E3": "Double vision.*swallowing.*rash.*(poison|emergency)", "E4": "food laboratory", "G1": "gutted", "G2 within": "histamine.*does not take",
    "G3": "parasites", "G4 vacuum": "[Tt]hrow it out", "H1": "Pregnant, under 5, older, weak immune system", "H2": "allerg",
    "H3": r"2,300\s?mg", "H4": "[Mm]ercury", "K1": "probe|no heating step|counts as raw", "K2": "not enough|15 seconds more",
    "K3": "dial of the dryer is not a heating", "K4": "not been tested for fish|never tested for fish", "K5": "does not undo histamine.*Staphylococcus.*spores",
    "B1": "in the refrigerator", "B2": "[Nn]ot (count on|make)", "B3": "[Nn]ot (count on|make)", "B4": "[Nn]ot (count on|make)", "B5": "does not make it keep", "B6": "takes up water again|puts? water back", "B7": "not make it keep",
    "W1 h": "gloves or tongs.*toxin that no heat undoes|heating again does not undo|Heat does not undo.*toxin.*hands.*gloves or tongs", "W1 hs": "spores|Spores", "W12": "Bacillus", "T6": "hard crust is not dryness",
    "T1": "official limit|2 h limit|nobody can tell how many", "P1": "too moist for|Too moist for", "P2": "more than 10 days", "P3": "throw it out", "P5": "even out|[Cc]ondition",
    "P6": "throw out the whole pack", "P7": "tight container", "P8": "turns rancid", "L1": "fresh fish", "L2": "Listeria and botulism", "L3": "Staphylococcus and moulds",
    "L5": "not sterile", "L5 brine": "pink bacteria", "L4 brine": "[Bb]rine", "R2": "not reach|not known whether the thickest", "R1": "not known", "A1": "warmer than this fish allows",
}  # fmt: skip

SAID_TOGETHER = (
    "B2",
    "B3",
    "B4",
    "B7",
    "P1",
    "P2",
    "L2",
    "K5",
    "W1",
    "H4",
    "E2",
)  # said in one sentence, in other words


@cache
def planned(name: str, members: int = 60):
    return plan(own.demo_batch(name), members=members)


@cache
def flat(name: str, units: str = "both") -> str:
    return " ".join(kitchen.kitchen(planned(name), units).split())


def test_an_amount_is_told_in_the_words_of_its_unit_with_the_other_system_beside_it():
    rows = [
        {"what": "water", "amount": "2 litres"},
        {"what": "salt", "amount": "180g"},
        {"what": "honey", "amount": "2 tbsp"},
    ]
    batch = own.demo_batch("heron")
    told = read_batch(written(batch) | {"brine": written(batch)["brine"] | {"ingredient": rows}})
    assert (
        as_told.ingredients(told, "brine", "both")
        == "2 litres (2 1/8 qt) water, 180g (6.3 oz) salt, 2 tbsp (30 mL) honey"
    )
    assert as_told.ingredients(told, "brine", "metric") == "2 litres water, 180g salt, 2 tbsp (30 mL) honey"
    assert as_told.ingredients(told, "brine", "us") == "2 1/8 qt water, 6.3 oz salt, 2 tbsp honey"


def test_trays_that_change_places_are_said_where_it_was_told():
    told = with_typed(own.demo_batch("heron"), "dryer", rotated="45 min")
    turning = " ".join(text_of(plan(told, members=60)).split())
    assert "Every 45 min let the trays change places" in turning and "change places" not in flat("heron")


def test_a_schedule_of_air_is_told_once():
    turned = [{"time": "9 h", "temperature": "72 °C", "once": True}, {"time": "12 h", "temperature": "71 °C"}]
    outcome = plan(read_batch(written(own.demo_batch("kingfisher")) | {"air": turned}), members=60)
    assert not words.refused(outcome.verdict)
    for text in (text_of(outcome), report(outcome)):
        assert " ".join(text.split()).count("9 h at 72 °C") == 1


def text_of(outcome, units: str = "both") -> str:
    return kitchen.kitchen(outcome, units, earn=False)


def read(outcome) -> str:
    return " ".join(text_of(outcome).split())


@cache
def some() -> tuple:
    """Batches of all kinds, mild and severe, with their text."""
    found = [outcome for outcome in map(batch_of, range(FEW // 3)) if outcome is not None]
    return tuple((outcome, text_of(outcome)) for outcome in (*found, *map(planned, DEMOS)))


def must(row: str) -> str | None:
    """What a row of the rules asks the text to say: by the longest beginning of its name that is in the list."""
    fits = [name for name in MUST_SAY if row == name or row.startswith(f"{name} ")]
    return MUST_SAY[max(fits, key=len)] if fits else None


def test_every_caution_and_reason_of_a_verdict_is_in_the_text():
    seen = set()
    for outcome, lines in some():
        text = " ".join(lines.split())
        for one in (*outcome.verdict.reasons, *outcome.verdict.cautions):
            seen.add(one.row)
            told = must(one.row)
            assert told is None or re.search(told, text), (one.row, text)
            if one.rule not in ("E1", "H3", *SAID_TOGETHER) and not kitchen.only_in_all(one, outcome.batch):
                assert " ".join(short(one).split()) in text or " ".join(one.text.split()) in text, one.row
    assert len(seen) > 45


def test_what_is_left_to_the_whole_of_it_stands_there_and_must_not_be_said_here():
    """Whoever asks for the refrigerator needs no word on why it is no cupboard; the verdict names both."""
    left = {one.row for outcome, _ in some() for one in (*outcome.verdict.reasons, *outcome.verdict.cautions)
            if kitchen.only_in_all(one, outcome.batch)}  # fmt: skip
    assert {"P4", "L4"} <= left and not any(must(row) for row in left)
    outcome = planned("otter")
    said = {one.text for one in outcome.verdict.cautions if kitchen.only_in_all(one, outcome.batch)}
    whole = " ".join(report(outcome).split())
    assert said and all(" ".join(text.split()) in whole for text in said)


def test_two_cautions_said_together_say_both():
    for message, parts in kitchen.TOGETHER_SAID:
        for part in parts:
            assert re.search(must(part.removeprefix("short.")), texts()[message])


def test_the_list_of_what_must_be_said_names_rows_there_are():
    rows = {row.rule for found in rule_rows().values() for row in found} | {"W1", "W12"}
    assert {name.split()[0] for name in MUST_SAY} <= rows
    named = {name.removeprefix("short.") for name in texts() if name.startswith("short.")}
    known = {" ".join(filter(None, (r.rule, r.variant, r.case))) for found in rule_rows().values() for r in found}
    assert named <= known | {"W1 h", "W1 hs", "W1 h hs"}


def test_short_words_say_what_the_rule_must_say():
    for name, text in texts().items():
        told = must(name.removeprefix("short.")) if name.startswith("short.") else None
        if told and not name.startswith("short.H3"):
            assert re.search(told, text), name


@pytest.mark.parametrize("name", DEMOS)
def test_the_text_leads_from_the_knife_to_the_last_day(name):
    text, outcome = flat(name), planned(name)
    order = ["TO KEEP:", "TO EAT:", "Before you start", "[ ]", "Do this", " 1. Cut", "Mark the thickest", "Heat the wet fish", "Probe read ____",
             "Weigh the marked piece", "Dryer at", "STOP when", "Cool.", "Label: fish, date, last day", "Who should not eat it", "--all"]  # fmt: skip
    places = [text.index(words_of_it) for words_of_it in order]
    assert places == sorted(places)
    assert text.index("teaching estimate") < places[0]
    percent = words.stop_percent(outcome.drying["mass_ratio"].mid)
    assert f"down to {percent} % of its weight as laid: 100 g becomes {percent} g" in text
    if outcome.keep.days is not None:
        assert text.count(f"{outcome.keep.days} days") >= 2


@pytest.mark.parametrize("name", DEMOS)
def test_it_is_shorter_than_all_of_it_and_fits_the_page(name):
    short_text, whole = kitchen.kitchen(planned(name)), report(planned(name))
    lines = short_text.splitlines()
    assert max(map(len, lines)) <= 80 and len(lines) <= 57
    assert len(lines) < 0.75 * len(whole.splitlines())


def test_no_text_is_wider_than_the_page():
    for _, text in some():
        assert max(map(len, text.splitlines()[2:])) <= 80


@pytest.mark.parametrize("name", DEMOS)
def test_one_system_at_a_time(name):
    assert "°C" not in flat(name, "us") and not re.search(r"\d (g|kg|mL|L|mm)\b", flat(name, "us"))
    assert "°F" not in flat(name, "metric") and not re.search(r"\d (oz|lb|qt|in)\b", flat(name, "metric"))
    assert re.search(r"\d °C \(\d+ °F\)", flat(name))
    whole = {units: " ".join(report(planned(name), units).split()) for units in ("us", "metric")}
    assert "°C" not in whole["us"] and not re.search(r"\d (g|kg|mL|L|mm)\b", whole["us"])
    assert "°F" not in whole["metric"] and not re.search(r"\d (oz|lb|qt|in)\b", whole["metric"])


def test_no_text_in_one_system_keeps_degrees_of_the_other():
    for outcome, _ in some()[:8]:
        for told in (lambda units, made=outcome: text_of(made, units), lambda units, made=outcome: report(made, units)):
            us, metric = (" ".join(told(units).split()) for units in ("us", "metric"))
            assert "°C" not in us and not re.search(r"\d (g|kg|mL|L|mm|cm)\b", us)
            assert "°F" not in metric and not re.search(r"\d (oz|lb|qt|in)\b", metric)


def test_what_was_typed_is_said_in_the_words_of_whoever_typed_it():
    rows = [{"what": "pickling salt", "amount": "1/2 cup"}, {"what": "water", "amount": "1.8 L"}]
    batch = with_typed(own.demo_batch("heron"), "brine", ingredient=rows)
    text = read(plan(batch, members=MEMBERS))
    assert "1/2 cup (120 mL) pickling salt" in text and "1.8 L (1 7/8 qt) water" in text


HERON = own.demo_batch("heron")
REFUSED = {
    "raw": without(with_typed(HERON, "dryer", temperature="30 °C"), "heat"),
    "not gutted": with_typed(HERON, "fish", gutted=False),
    "not known": with_typed(HERON, "fish", smells_normal=None),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_batch_that_is_refused_gets_reasons_and_ways_out_but_no_step(name):
    outcome = plan(REFUSED[name], members=20)
    assert words.refused(outcome.verdict)
    text = read(outcome)
    assert text.index("TO EAT:") < text.index(words.DO_NOT_MAKE)
    for reasons, way in words.changes_needed(outcome.verdict):
        assert way in text and all(" ".join(reason.text.split()) in text for reason in reasons)
    for never in ("STOP", "Do this", "Dryer at", "Label:", "days at most", "after packing", "Before you start"):
        assert never not in text
    assert all(one in text for one in words.plain_words(outcome.unknown))


def test_what_was_asked_and_is_not_granted_is_said_first_with_what_would_earn_it():
    batch = own.demo_batch("otter")
    outcome = plan(replace(batch, keep=replace(batch.keep, place="refrigerator", pack="glass jar")), members=40)
    assert not words.refused(outcome.verdict)
    text = " ".join(kitchen.kitchen(outcome).split())
    if "Not as you asked" not in text:
        outcome = plan(replace(batch, keep=replace(batch.keep, place="cupboard", pack="glass jar")), members=40)
        text = " ".join(kitchen.kitchen(outcome).split())
    assert (
        text.index("Not as you asked")
        < text.index("TO KEEP:")
        < text.index("Why not the")
        < text.index("Who should not")
    )
    assert "What would earn it" in text or "None of the single changes" in text
    assert "As it is: the" in text


def test_fish_that_salt_alone_made_dry_enough_is_not_dried():
    batch = with_typed(HERON, "keep", stop_at=1.0, place="freezer", pack="paper bag")
    outcome = plan(batch, members=20)
    text = read(outcome)
    assert outcome.load.no_drying and text.count("there is nothing to dry") == 1
    assert "STOP when" not in text and "Dryer at" not in text and "Label:" in text


def test_no_raw_key_and_no_open_brace():
    for outcome, text in some():
        assert not raw_keys(text.replace(outcome.batch.keep.pack or "no pack", "")) and "{" not in text


# ---- numbers


def test_rounding_never_takes_a_piece_off_early_nor_narrows_a_forecast():
    luck = random.Random(5)
    for _ in range(200):
        ratio, low, wide = luck.uniform(0.2, 0.9), luck.uniform(0.3, 30), luck.uniform(1, 3)
        assert words.stop_percent(ratio) <= 100 * ratio + 1e-6 < words.stop_percent(ratio) + 1
        ends = [eval_half(end) for end in words.hours_range(low, wide * low).removesuffix(" h").split(" to ")]
        assert ends[0] <= max(low, 0.5) and ends[1] >= wide * low
    assert words.about_hours(5.39) == "5 1/2" and words.about_hours(9.8) == "10" and words.about_hours(0.2) == "1/2"


def eval_half(told: str) -> float:
    return sum({"1/2": 0.5}.get(part) or float(part) for part in told.split())


def test_one_system_is_taken_out_of_a_text_in_both():
    told = "between 10 and 57 °C (50 and 135 °F), at −20 °C (−4 °F), 0.753 at 25 °C, 77 °F"
    assert words.in_system(told, "us") == "between 50 and 135 °F, at −4 °F, 0.753 at 77 °F"
    assert words.in_system(told, "metric") == "between 10 and 57 °C, at −20 °C, 0.753 at 25 °C"
    assert words.in_system(told, "both") == told
    typed = "a dryer at 9.05 °C: tested for 20–75 °C (68–167 °F), pieces of 20–26 mm: 3–15 mm (1/8–5/8 in)"
    assert (
        words.in_system(typed, "us") == "a dryer at 48.3 °F: tested for 68–167 °F, pieces of 0.787–1.02 in: 1/8–5/8 in"
    )
    assert words.in_system("63 °C (145 °F), 5 mm (3/16 in), 150 °F", "metric") == "63 °C, 5 mm, 65.6 °C"
    assert words.in_system("1.9 L (2 qt) of brine for 1.8 kg (4 lb)", "us") == "2 qt of brine for 4 lb"
    assert words.in_system("1.9 L (2 qt) of brine for 900 cm² (140 in²)", "metric") == "1.9 L of brine for 900 cm²"
