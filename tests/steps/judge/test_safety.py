"""The judging: every rule by a table of cases, the limits by their sources, and that nothing makes a verdict milder."""

import csv
import json
from dataclasses import fields, replace
from importlib.resources import files
from types import SimpleNamespace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from flakeyard import limits, refused, tables
from flakeyard.models import growth, moist_air, solutions
from flakeyard.steps.intent.records import METERS
from flakeyard.steps.judge import safety
from flakeyard.steps.judge.facts import PLACES, PLAIN, fact_words, rule_texts
from flakeyard.steps.judge.safety import EAT, KEEP, Facts, judge
from flakeyard.steps.judge.warm_hours import WarmHours, ladder

JAR, PAPER, VACUUM = tables.pack("glass jar"), tables.pack("paper bag"), tables.pack("vacuum pouch")
SOUND = Facts(
    species_known=True,
    histamine_former=False,
    advisory_species=False,
    refused_as=PLAIN,
    gutted=True,
    origin="farmed",
    stock="fresh",
    hours_above_4c=0.5,
    hours_above_21c=0.0,
    smells_normal=True,
    thawed_in_vacuum=False,
    cure_hours_above_4c=0.0,
    cure_hours_above_10c=0.0,
    cure_hours_above_21c=0.0,
    vinegar_or_acid=False,
    sugar_used=False,
    freshened=False,
    heat_core=74.0,
    heat_hold_min=1.0,
    heat_probed=True,
    warm=WarmHours(2.5, 1.0, 1.0, 0.0, 0.0),
    hours_flesh_10_to_57=2.5,
    hours_flesh_above_21=2.0,
    water_activity_cautious=0.78,
    water_activity_mid=0.70,
    place="refrigerator",
    pack=JAR,
    fat_raw=0.02,
    target_reached=True,
)
RAW = {
    "heat_core": None,
    "heat_hold_min": None,
    "heat_probed": None,
    "hours_flesh_10_to_57": 1.0,
    "hours_flesh_above_21": 1.0,
}
FROZEN = {"stock": "frozen", "frozen_at": -20.0, "frozen_days": 7}
MEASURED = {"water_activity_measured": 0.84, "measured_error": 0.01, "measured_by": "laboratory"}
HYGROMETER = {"water_activity_measured": 0.70, "measured_error": 0.01, "measured_by": "household hygrometer"}
REEF = {"refused_as": "reef_hunters"}
MACKEREL = {"histamine_former": True}

CASES = [  # name, what differs from SOUND, keep, eat, rules that must speak
    ("sound", {}, "cupboard", "ready", "K1 L5 K5 P5 P7 P6 E4"),
    ("not gutted", {"gutted": False}, "nowhere", "no", "G1"),
    ("gutted not known", {"gutted": None}, "not_known", "not_known", "G1"),
    ("mackerel, cold", MACKEREL, "cupboard", "ready", "G2"),
    ("mackerel, 4.5 h with some warm", MACKEREL | {"hours_above_4c": 4.5, "hours_above_21c": 0.1}, "nowhere", "no", "G2"),
    ("mackerel, 8.5 h cool", MACKEREL | {"hours_above_4c": 8.5}, "nowhere", "no", "G2"),
    ("mackerel, history not known", MACKEREL | {"hours_above_4c": None}, "nowhere", "no", "G2"),
    ("mackerel, cure not known", MACKEREL | {"cure_hours_above_4c": None}, "nowhere", "no", "G2"),
    ("mackerel, cured 9 h at 8 °C", MACKEREL | {"cure_hours_above_4c": 9.0}, "nowhere", "no", "G2 B1"),
    ("family and history not known", {"histamine_former": None, "hours_above_21c": None}, "nowhere", "no", "G2 G5"),
    ("history not known", {"hours_above_4c": None}, "not_known", "not_known", "G4 T1"),
    ("wild, heated to 145 °F", {"origin": "wild", "heat_core": 62.78, "hours_flesh_10_to_57": 1.0, "hours_flesh_above_21": 1.0}, "cupboard", "cook_first", "K2"),
    ("wild, raw, not frozen", RAW | {"origin": "wild"}, "nowhere", "no", "G3"),
    ("wild, raw, frozen", RAW | FROZEN | {"origin": "wild"}, "cupboard", "cook_first", "K1 K3 K4"),
    ("wild, raw, frozen at -18 °C", RAW | FROZEN | {"origin": "wild", "frozen_at": -18.0}, "nowhere", "no", "G3"),
    ("wild, raw, frozen 6 days", RAW | FROZEN | {"origin": "wild", "frozen_days": 6.0}, "nowhere", "no", "G3"),
    ("origin not known, raw", RAW | {"origin": None}, "nowhere", "no", "G3"),
    ("smells", {"smells_normal": False}, "nowhere", "no", "G4"),
    ("smell not known", {"smells_normal": None}, "not_known", "not_known", "G4"),
    ("thawed in its vacuum", {"thawed_in_vacuum": True}, "nowhere", "no", "G4"),
    ("warm 2.5 h", {"hours_above_4c": 2.5, "hours_above_21c": 2.5, "warmest_held": 24.0}, "nowhere", "no", "G4"),
    ("hot 1.5 h", {"hours_above_4c": 1.5, "hours_above_21c": 1.5, "warmest_held": 34.0}, "nowhere", "no", "G4"),
    ("warm 1.5 h, how warm not known", {"hours_above_4c": 1.5, "hours_above_21c": 1.5}, "not_known", "not_known", "G4"),
    ("warm 1.5 h at 24 °C", {"hours_above_4c": 1.5, "hours_above_21c": 1.5, "warmest_held": 24.0}, "cupboard", "ready", ""),
    ("a fish with a warning", {"advisory_species": True}, "nowhere", "no", "G5"),
    ("a fish that purges", {"refused_as": "wax_fish"}, "nowhere", "no", "G5"),
    ("a poisonous fish, in cold water", {"refused_as": "puffers", "waters": "cold or temperate"}, "nowhere", "no", "G5"),
    ("a name of several fish", {"refused_as": "redfish", "waters": "cold or temperate"}, "not_known", "not_known", "G5"),
    ("a reef fish, waters not told", REEF, "not_known", "not_known", "G5"),
    ("a reef fish of warm reefs", REEF | {"waters": "tropical or reef"}, "nowhere", "no", "G5"),
    ("its kin of cold water", REEF | {"waters": "cold or temperate"}, "cupboard", "ready", ""),
    ("a trout of warm water", {"waters": "tropical or reef"}, "cupboard", "ready", ""),
    ("whether refused not known", {"refused_as": None}, "not_known", "not_known", "G5"),
    ("fish not known", {"species_known": False}, "not_known", "not_known", "G5"),
    ("brined warm", {"cure_hours_above_4c": 2.0}, "cupboard", "ready", "B1"),
    ("salted, dry", {"water_phase_salt": 0.12}, "cupboard", "ready", "B2 B3"),
    ("salted, moist", {"water_phase_salt": 0.12, "water_activity_cautious": 0.90}, "freezer", "ready", "B4 L3 P1 P2"),
    ("vinegar", {"vinegar_or_acid": True}, "cupboard", "ready", "B5"),
    ("freshened, sweet", {"freshened": True, "sugar_used": True}, "cupboard", "ready", "B6 B7"),
    ("raw, within the inner limit", RAW, "cupboard", "cook_first", "K1 K3 K4"),
    ("raw, between the limits", RAW | {"hours_flesh_10_to_57": 3.0}, "cupboard", "cook_first", "T1 T6"),
    ("raw, over 4 h", RAW | {"hours_flesh_10_to_57": 3.6}, "nowhere", "no", "T1 T2"),
    ("raw, over 2 h warm", RAW | {"hours_flesh_10_to_57": 2.2, "hours_flesh_above_21": 2.1}, "nowhere", "no", "T1 T2"),
    ("raw, clock not known", RAW | {"hours_flesh_above_21": None}, "not_known", "not_known", "T1"),
    ("heated too little, 6 h", {"heat_core": 63.0, "hours_flesh_10_to_57": 6.0}, "nowhere", "no", "K2 T1 T2 K5"),
    ("heated after a warm day", {"cure_hours_above_10c": 5.0}, "nowhere", "no", "T1 T2"),
    ("heated, 10 h of drying", {"warm": WarmHours(10.0, 5.0, 5.0, 0.0, 0.0)}, "cupboard", "ready", "W1 W12 T6"),
    ("heated, very moist for 7 h", {"warm": WarmHours(8.0, 7.0, 5.0, 0.0, 0.0)}, "cupboard", "not_known", "W2 T6"),
    ("heated, lukewarm for 7 h", {"warm": WarmHours(8.0, 5.0, 7.0, 0.0, 0.0)}, "cupboard", "not_known", "W3"),
    ("heated, in cool air for 3 h", {"warm": WarmHours(4.0, 3.0, 3.0, 3.0, 3.0)}, "cupboard", "not_known", "W4"),
    ("heated, in cool air for 5 h", {"warm": WarmHours(6.0, 5.0, 5.0, 5.0, 5.0)}, "nowhere", "no", "W7 T6"),
    ("heated, in air below 54 °C for 5 h", {"warm": WarmHours(6.0, 5.0, 5.0, 5.0, 0.0)}, "cupboard", "not_known", "W5"),
    ("heated, warm for 13 h", {"warm": WarmHours(13.0, 5.0, 5.0, 0.0, 0.0)}, "cupboard", "not_known", "W6"),
    ("heated, a day and more", {"warm": WarmHours(25.0, 5.0, 5.0, 0.0, 0.0)}, "nowhere", "no", "W10"),
    ("heated, lukewarm for 9 h", {"warm": WarmHours(9.0, 5.0, 9.0, 0.0, 0.0)}, "nowhere", "no", "W8"),
    ("heated, very moist for 13 h", {"warm": WarmHours(13.0, 13.0, 5.0, 0.0, 0.0)}, "nowhere", "no", "W9"),
    ("heated, drying not known", {"warm": None}, "cupboard", "not_known", "W11"),
    ("heated, not checked", RAW | {"heat_core": 74.0, "heat_hold_min": 1.0, "heat_probed": False}, "cupboard", "cook_first", "K1 K5"),
    ("heated, who checked not told", RAW | {"heat_core": 74.0, "heat_hold_min": 1.0}, "cupboard", "cook_first", "K1 K5"),
    ("74 °C for 10 s", RAW | {"heat_core": 74.0, "heat_hold_min": 10 / 60, "heat_probed": True}, "cupboard", "cook_first", "K2"),
    ("74 °C for 15 s", {"heat_core": 74.0, "heat_hold_min": 0.25}, "cupboard", "ready", "K1"),
    ("74 °C, hold not told", RAW | {"heat_core": 74.0, "heat_probed": True}, "cupboard", "cook_first", "K2"),
    ("wild, heated, not checked", {"origin": "wild", "heat_probed": False}, "nowhere", "no", "G3"),
    ("estimate above the aim", {"water_activity_mid": 0.72, "water_activity_cautious": 0.79}, "cold", "ready", "L4"),
    ("160 °F held", {"heat_core": 71.2, "heat_hold_min": 1.0}, "cupboard", "ready", "K1"),
    ("71 °C held, short of 160 °F", RAW | {"heat_probed": True, "heat_core": 71.0, "heat_hold_min": 5.0}, "cupboard", "cook_first", "K2"),
    ("160 °F held too short", RAW | {"heat_probed": True, "heat_core": 71.2, "heat_hold_min": 0.9}, "cupboard", "cook_first", "K2"),
    ("heated after a warm cure", {"cure_hours_above_10c": 1.0, "cure_hours_above_21c": 2.1}, "nowhere", "no", "T1 T2"),
    ("160 °F not held", RAW | {"heat_probed": True, "heat_core": 71.2}, "cupboard", "cook_first", "K2"),
    ("like fresh", {"water_activity_cautious": 0.98, "pack": PAPER}, "cold", "ready", "L1"),
    ("perishable", {"water_activity_cautious": 0.95, "pack": PAPER}, "cold", "ready", "L2"),
    ("semi-moist", {"water_activity_cautious": 0.86, "pack": PAPER}, "cold", "ready", "L3"),
    ("estimate at 0.83", {"water_activity_cautious": 0.83}, "cold", "ready", "L4"),
    ("estimate at 0.80", {"water_activity_cautious": 0.80}, "cupboard", "ready", "L5"),
    ("measured at 0.85", {"water_activity_cautious": 0.90} | MEASURED, "cupboard", "ready", "L5 L9"),
    ("by a checked meter", MEASURED | {"measured_by": "meter"}, "cupboard", "ready", "L5 L9"),
    ("by a household hygrometer", MEASURED | {"measured_by": "household hygrometer"}, "freezer", "ready", "L3 P1"),
    ("by what not told", MEASURED | {"measured_by": None}, "freezer", "ready", "L3 P1 L9"),
    ("a hygrometer alone", HYGROMETER | {"water_activity_cautious": 0.90, "pack": PAPER}, "cold", "ready", "L4"),
    ("a hygrometer alone in a jar", HYGROMETER | {"water_activity_cautious": 0.90}, "freezer", "ready", "L3 P1 L10"),
    ("a hygrometer alone in a vacuum", HYGROMETER | {"water_activity_cautious": 0.98, "pack": VACUUM}, "freezer", "ready", "L1 P1 L10"),
    ("a checked meter with a large error", MEASURED | {"measured_error": 0.03, "water_activity_measured": 0.7, "measured_by": "meter", "water_activity_cautious": 0.98}, "freezer", "ready", "L1 P1 L10"),
    ("a hygrometer and an estimate above the aim", HYGROMETER | {"water_activity_mid": 0.72}, "cold", "ready", "L4"),
    ("a hygrometer, no estimate", HYGROMETER | {"water_activity_cautious": None, "pack": PAPER}, "cold", "ready", "L4"),
    ("a hygrometer, no estimate, in a jar", HYGROMETER | {"water_activity_cautious": None}, "not_known", "not_known", "L1 P1 L10"),
    ("a hygrometer and the estimate agree", HYGROMETER, "cupboard", "ready", "L5"),
    ("a hygrometer's error not told", HYGROMETER | {"measured_error": None}, "not_known", "not_known", "L1"),
    ("measured above", MEASURED | {"measured_error": 0.02}, "freezer", "ready", "L3 P1"),
    ("measured without its error", MEASURED | {"measured_error": None}, "not_known", "not_known", "L1"),
    ("at 0.75", {"water_activity_cautious": 0.75}, "cupboard", "ready", "L6"),
    ("at 0.70", {"water_activity_cautious": 0.70}, "cupboard", "ready", "L7"),
    ("at 0.60", {"water_activity_cautious": 0.60}, "cupboard", "ready", "L7"),
    ("below 0.60", {"water_activity_cautious": 0.59}, "cupboard", "ready", "L8"),
    ("water activity not known", {"water_activity_cautious": None}, "not_known", "not_known", "L1 P1"),
    ("moist in a vacuum", {"water_activity_cautious": 0.86, "pack": VACUUM}, "freezer", "ready", "P1 P2 P3 P4 A1"),
    ("moist, pack not known", {"water_activity_cautious": 0.86, "pack": None}, "freezer", "ready", "P1"),
    ("dry, pack not known", {"pack": None}, "cupboard", "ready", ""),
    ("frozen, thawing not known", FROZEN | {"thawed_in_vacuum": None}, "cupboard", "ready", "P3"),
    ("fatty", {"fat_raw": 0.05}, "cupboard", "ready", "P8"),
    ("fat not known", {"fat_raw": None}, "cupboard", "ready", "P8"),
    ("out of range", {"outside_range": ("pieces of 30 mm",)}, "not_known", "not_known", "R1"),
    ("never dry", {"target_reached": False, "water_activity_cautious": None, "pack": PAPER}, "cold", "ready", "R2 L1"),
    ("never dry, though 0.80", {"target_reached": False, "water_activity_cautious": 0.80}, "freezer", "ready", "R2 L3 P1"),
    ("parts of another batch", {"borrowed": "dryer"}, "not_known", "not_known", "R4"),
    ("a cold cupboard", {"cupboard_outside": ("a cupboard at 12 °C",), "water_activity_cautious": 0.70}, "cold", "ready", "R3"),
    ("target not known", {"target_reached": None}, "not_known", "not_known", "R2 P1"),
    ("cupboard asked, cold allowed", {"place": "cupboard", "water_activity_cautious": 0.83}, "cold", "ready", "A1"),
    ("nothing known", {item.name: None for item in fields(Facts) if item.name != "outside_range"}, "nowhere", "no", "G2 G3"),
]  # fmt: skip


def spoken(verdict):
    return {said.rule for said in (*verdict.reasons, *verdict.cautions)}


@pytest.mark.parametrize(
    ("changes", "keep", "eat", "rules"), [case[1:] for case in CASES], ids=[case[0] for case in CASES]
)
def test_case(changes, keep, eat, rules):
    verdict = judge(replace(SOUND, **changes))
    assert (verdict.keep, verdict.eat) == (keep, eat)
    assert set(rules.split()) <= spoken(verdict)


def test_every_rule_speaks_in_some_case_and_is_silent_in_another():
    heard = [spoken(judge(replace(SOUND, **case[1]))) for case in CASES]
    shows = {row.rule: row.show for row in rule_texts().values()}
    rules = {rule for rule, show in shows.items() if show in ("reason", "caution")}
    assert {rule for rule in rules if not any(rule in said for said in heard)} == set()
    assert {rule for rule in rules if all(rule in said for said in heard)} == set()
    always = {rule for rule, show in shows.items() if show == "always"}
    assert all(always <= said for said in heard)


@pytest.mark.parametrize("trait", ["airtight", "removes_air"])
def test_a_pack_that_does_not_say_whether_it_lets_air_in_counts_as_airless(trait):
    moist = replace(SOUND, water_activity_cautious=0.90)
    traits = {"airtight": False, "removes_air": False}
    assert judge(replace(moist, pack=SimpleNamespace(**traits))).keep == "cold"
    assert judge(replace(moist, pack=SimpleNamespace(**(traits | {trait: None})))).keep == "freezer"
    assert judge(replace(moist, pack=object())).keep == "freezer"


def test_the_usual_cautions_are_always_there():
    """High risk, allergens, sodium, the teaching caution, whom to ask and when to call for help."""
    for changes in ({}, {"gutted": False}, {"outside_range": ("x",)}):
        assert {"H1", "H2", "H3", "H4", "E1", "E2", "E3"} <= spoken(judge(replace(SOUND, **changes)))


def test_no_advice_to_keep_stands_beside_a_refusal():
    verdict = judge(replace(SOUND, gutted=False, water_activity_cautious=0.9, place="cupboard"))
    assert not {said[0] for said in spoken(verdict)} & {"L", "P", "A"}
    verdict = judge(replace(SOUND, gutted=None))
    assert not {said for said in spoken(verdict) if said.startswith("L")}


def test_freeze_first_is_said():
    verdict = judge(replace(SOUND, **(RAW | {"origin": "wild"})))
    assert any(reason.text.startswith("Freeze first") for reason in verdict.reasons)


def test_an_estimate_is_called_an_estimate_with_its_cautious_end():
    text = next(reason.text for reason in judge(SOUND).reasons if reason.rule == "L5")
    assert "estimated 0.70" in text and "cautious end 0.78" in text
    text = next(reason.text for reason in judge(replace(SOUND, **MEASURED)).reasons if reason.rule == "L5")
    assert "measured 0.84" in text and "with its error 0.85" in text and "Water activity estimated" not in text


def test_a_fish_is_refused_in_the_words_of_its_own_row():
    for name in ("wax_fish", "puffers", "ocean_sunfish"):
        row = refused.row_of(name)
        said = next(reason for reason in judge(replace(SOUND, refused_as=name)).reasons if reason.rule == "G5")
        assert (said.text, said.source) == (row.why, row.source_id) and "Do not use this fish" in said.text


def test_what_was_not_told_of_waters_or_meter_is_named():
    assert judge(replace(SOUND, **REEF)).unknown == ("waters",)
    assert judge(replace(SOUND, **MEASURED, pack=PAPER)).unknown == ()
    assert judge(replace(SOUND, **MEASURED | {"measured_by": None})).unknown == ("measured_by",)


def test_no_error_of_a_household_hygrometer_is_smaller_than_its_own():
    for told, used in ((0.0, 0.75), (0.05, 0.75), (0.08, 0.78)):
        verdict = judge(replace(SOUND, **HYGROMETER | {"measured_error": told, "pack": PAPER}))
        assert verdict.water_activity_used == pytest.approx(used)


@pytest.mark.parametrize("by", [None, *METERS])
@pytest.mark.parametrize("pack", [None, PAPER, JAR, VACUUM, SimpleNamespace(airtight=False, removes_air=None)])
@pytest.mark.parametrize("error", [0.0, 0.02, 0.021, 0.05])
def test_in_a_pack_without_air_no_reading_but_a_good_one_makes_fish_drier_than_its_estimate(by, pack, error):
    read = {"water_activity_measured": 0.60, "measured_error": error, "measured_by": by, "pack": pack}
    used = [judge(replace(SOUND, **read, water_activity_cautious=one)).water_activity_used for one in (0.5, 0.8, 0.98)]
    alone = pack is PAPER or (by in ("laboratory", "meter") and error <= 0.02)
    end = 0.60 + (error if by in ("laboratory", "meter") else max(error, 0.05))
    assert used == pytest.approx([max(end, 0.0 if alone else one) for one in (0.5, 0.8, 0.98)])


def test_a_reading_that_does_not_count_is_said_beside_the_estimate_that_does():
    told = HYGROMETER | {"water_activity_cautious": 0.98, "pack": VACUUM}
    verdict = judge(replace(SOUND, **told))
    said = next(one.text for one in verdict.cautions if one.rule == "L10")
    assert "does not count" in said and "0.02" in said
    assert any("measured 0.70, with its error 0.75, but estimated up to 0.98" in one.text for one in verdict.reasons)
    assert "L10" not in spoken(judge(replace(SOUND, **told | {"water_activity_cautious": 0.74})))


def test_what_is_missing_is_named():
    verdict = judge(replace(SOUND, gutted=None, smells_normal=None, hours_above_4c=None, fat_raw=None))
    assert set(verdict.unknown) == {"gutted", "smells_normal", "hours_above_4c", "fat_raw"}
    assert judge(SOUND).unknown == ()
    assert set(judge(Facts()).unknown) <= set(fact_words())


@pytest.mark.parametrize(
    ("name", "value"),
    [
        *[("water_activity_cautious", 1.1), ("hours_above_4c", -1.0), ("frozen_days", float("nan")), ("fat_raw", -0.1)],
        *[("origin", "pond"), ("place", "cellar"), ("heat_core", float("inf")), ("measured_error", float("nan"))],
    ],
)
def test_impossible_facts_are_refused(name, value):
    with pytest.raises(ValueError, match=f"{name} = .* is impossible: allowed is"):
        replace(SOUND, **{name: value})


def test_an_endless_clock_is_over_the_limit():
    assert judge(replace(SOUND, **(RAW | {"hours_flesh_10_to_57": float("inf")}))).eat == "no"


# ---- limits against their sources


def test_hours_are_those_of_the_official_tables():
    """fda_hazards_app4, summary (read); fda_hazards_ch7 (from memory); usda_two_hours (read)."""
    assert (limits.CLOCK_HOURS, limits.CLOCK_WARM_HOURS, limits.CLOCK_INNER_HOURS) == (4.0, 2.0, 2.0)
    assert {(row.count, row.above_hours) for row in ladder() if row.rule == "W1"} == {("h", 3.0), ("hs", 1.5)}
    assert (limits.HISTAMINE_WARM_HOURS, limits.HISTAMINE_COOL_HOURS) == (4.0, 8.0)
    assert (limits.ROOM_HOURS, limits.HOT_ROOM_HOURS) == (2.0, 1.0)


def test_a_recalled_limit_is_never_the_milder_of_two():
    """5 h (T1, never above 70 °F) and 12 h (G2, once frozen) are recalled, milder than what is used, and not used.

    15 % salt only chooses between two aims, each with its own cap."""
    recalled = {row.id for row in limits.LIMITS.values() if row.how == "memory" and row.source_id != "judgement"}
    assert recalled == {"histamine_warm_hours", "histamine_cool_hours", "brine_salt"}
    assert limits.CLOCK_HOURS < 5.0 and limits.HISTAMINE_COOL_HOURS < 12.0
    cool = RAW | {"hours_above_21c": 0.0, "hours_flesh_above_21": 0.0, "hours_flesh_10_to_57": 4.4}
    assert judge(replace(SOUND, **cool)).eat == "no"
    assert judge(replace(SOUND, **(MACKEREL | FROZEN | {"hours_above_4c": 8.5}))).eat == "no"


def test_the_freezing_schedule_asked_for_is_the_longest_for_its_temperature():
    """fda_food_code_3_402_11: -20 degC, 7 days (read)."""
    rows = _rows("freezing_schedules.csv")
    used = [row for row in rows if row["used"] == "yes"]
    assert [(float(row["temperature_c"]), float(row["days"])) for row in used] == [(-20.0, 7.0)]
    assert (limits.PARASITE_FREEZER, limits.PARASITE_DAYS) == (-20.0, 7.0)
    assert all(float(row["days"]) <= 7.0 for row in rows)


def test_the_shelf_line_is_that_of_the_dried_fish_guidance():
    """fda_hazards_2001, chapter 14: 0.85 (read). No organism that makes fish dangerous may grow below the estimate's line."""
    rows = _rows("growth_limits.csv")
    assert float(next(row for row in rows if row["source_id"] == "fda_hazards_2001")["least_water_activity"]) == 0.85
    assert limits.MOIST == 0.85
    assert all(float(row["least_water_activity"]) > limits.CUPBOARD_ESTIMATE for row in rows)


def test_growth_limits_of_salt_and_water_activity_are_one_fact():
    """fda_hazards_a1: 5 % with 0.97, 10 % with 0.935 (both read): brine thermodynamics gives the one from the other."""
    rows = [row for row in _rows("growth_limits.csv") if row["organism"].startswith("Clostridium botulinum")]
    for row in rows:
        activity = solutions.nacl_water_activity(float(row["greatest_water_phase_salt"]))
        assert activity == pytest.approx(float(row["least_water_activity"]), abs=0.005)  # printed to 0.005


def test_figures_in_the_words_are_those_of_the_models():
    """B4: about 19 % salt for 0.85. K3: wet bulb 25–31 °C at 22 °C, 30–70 %, heated to 60–71 °C. L9: 0.753."""
    assert solutions.nacl_fraction_for(0.85) == pytest.approx(0.19, abs=0.005)
    ends = [(60.0, 0.30), (71.1, 0.70)]
    bulbs = [moist_air.wet_bulb(air, moist_air.humidity_ratio(22.0, humidity)) for air, humidity in ends]
    assert bulbs == pytest.approx([25.0, 31.0], abs=0.5)  # the text gives whole degrees
    assert solutions.nacl_water_activity(solutions.nacl_saturation(25.0)) == pytest.approx(0.753, abs=0.001)


@pytest.mark.parametrize(("organism", "logs"), [("listeria_salmon", 0.15), ("salmonella_finfish", 1.3)])
def test_fast_heat_is_no_kill_step(organism, logs):
    """ben_embarek_1993 and rajkowski_2012, D and z read from abstracts: what 145 °F for 15 s does, as rule K2 says."""
    row = next(row for row in _rows("lethality.csv") if row["id"] == organism)
    death = [float(row[name]) for name in ("decimal_time_s", "at_c", "z_k")]
    assert growth.log_reductions(15.0, limits.PARASITE_CORE, *death) == pytest.approx(logs, abs=0.05)
    assert f"{logs:g}" in rule_texts()["K2", ""].text


def test_the_kill_step_reaches_six_logs_for_every_germ_of_the_table_but_the_spores():
    """70 °C for 2 min is 6 log (mackey_bratchell_1989, read); our 160 °F for 1 min by the values read on fish."""
    for row in _rows("lethality.csv"):
        death = [float(row[name]) for name in ("decimal_time_s", "at_c", "z_k")]
        logs = growth.log_reductions(60.0, limits.KILL_CORE_HELD, *death)
        if row["id"] == "botulinum_spores":
            assert logs < 0.01
        elif row["id"] != "listeria_reference":  # the reference germ is the toughest on record: 4 logs
            assert logs > 6.0


def _rows(name):
    return list(csv.DictReader(files("flakeyard").joinpath("data", name).read_text(encoding="utf-8").splitlines()))


def test_no_growth_model_is_read_by_the_judging():
    """T5: a growth curve never makes a verdict milder."""
    assert "growth" not in vars(safety) and not any("growth_rate" in name for name in vars(safety))


def test_nothing_is_interpolated_between_rows():
    """T4 (fda_hazards_app4, read): the verdict is a step at the outer limit and nowhere else."""
    hours = [0.1, 1.9, 2.1, 3.0, 3.4, 3.6, 9.0]  # with half an hour of cold history
    eats = [judge(replace(SOUND, **(RAW | {"hours_flesh_10_to_57": hour}))).eat for hour in hours]
    assert eats == ["cook_first"] * 5 + ["no"] * 2


# ---- never milder

some = st.sampled_from
hours = st.floats(0.0, 12.0)
short = st.floats(0.0, 0.6)
MAYBE = {
    "species_known": some([True, False, None]),
    "histamine_former": some([True, False, None]),
    "advisory_species": some([True, False, None]),
    "refused_as": some([PLAIN, "wax_fish", "redfish", "reef_hunters", None]),
    "waters": some(["cold or temperate", "tropical or reef", None]),
    "gutted": some([True, False, None]),
    "origin": some(["wild", "farmed", None]),
    "stock": some(["fresh", "frozen", None]),
    "frozen_at": some([-25.0, -20.0, -18.0, None]),
    "frozen_days": some([1.0, 7.0, 30.0, None]),
    "hours_above_4c": st.none() | hours,
    "hours_above_21c": st.none() | short | hours,
    "warmest_held": some([10.0, 25.0, 35.0, None]),
    "smells_normal": some([True, False, None]),
    "thawed_in_vacuum": some([True, False, None]),
    "cure_hours_above_4c": st.none() | hours,
    "cure_hours_above_10c": st.none() | short | hours,
    "cure_hours_above_21c": st.none() | short | hours,
    "vinegar_or_acid": some([True, False, None]),
    "sugar_used": some([True, False, None]),
    "freshened": some([True, False, None]),
    "heat_core": st.none() | st.floats(40.0, 90.0),
    "heat_hold_min": st.none() | st.floats(0.0, 3.0),
    "heat_probed": st.none() | st.booleans(),
    "warm": st.none() | st.builds(WarmHours, *[st.none() | hours] * 5),
    "hours_flesh_10_to_57": st.none() | hours,
    "hours_flesh_above_21": st.none() | hours,
    "water_activity_cautious": st.none() | st.floats(0.5, 1.0),
    "water_activity_mid": st.none() | st.floats(0.5, 1.0),
    "water_activity_measured": st.none() | st.floats(0.5, 1.0),
    "measured_error": st.none() | st.floats(0.0, 0.1),
    "measured_by": some([*METERS, None]),
    "water_phase_salt": st.none() | st.floats(0.0, 0.27),
    "place": some([*PLACES, None]),
    "pack": some([JAR, PAPER, VACUUM, None]),
    "fat_raw": st.none() | st.floats(0.0, 0.3),
    "outside_range": some([(), ("thick pieces",)]),
    "target_reached": some([True, False, None]),
    "borrowed": some(["", "", "dryer"]),
}
NO_BREACH = MAYBE | {
    "advisory_species": some([False, None]),
    "refused_as": some([PLAIN, "reef_hunters", None]),
    "waters": some(["cold or temperate", None]),
    "gutted": some([True, None]),
    "smells_normal": some([True, None]),
    "thawed_in_vacuum": some([False, None]),
    "target_reached": some([True, None]),
    "outside_range": st.just(()),
    "borrowed": st.just(""),
    "hours_above_4c": st.none() | short,
    "hours_above_21c": st.none() | short,
    "cure_hours_above_4c": st.none() | short,
    "cure_hours_above_10c": st.none() | short,
    "cure_hours_above_21c": st.none() | short,
    "hours_flesh_10_to_57": st.none() | short,
    "hours_flesh_above_21": st.none() | short,
    "water_activity_measured": st.none() | st.floats(0.5, 0.75),
}
anything = st.builds(Facts, **MAYBE)
no_breach = st.builds(Facts, **NO_BREACH)


def never_milder(worse: Facts, better: Facts) -> bool:
    first, second = judge(worse), judge(better)
    return KEEP.index(first.keep) >= KEEP.index(second.keep) and EAT.index(first.eat) >= EAT.index(second.eat)


@settings(max_examples=300, deadline=None)
@given(no_breach, some([name for name in MAYBE if name not in ("outside_range", "borrowed")]))
def test_leaving_a_fact_out_is_never_milder(facts, name):
    assert never_milder(replace(facts, **{name: None}), facts)


@settings(max_examples=200, deadline=None)
@given(anything, st.floats(0.0, 40.0), st.floats(0.0, 3.0))
def test_less_heat_is_never_milder(facts, cooler, shorter):
    assume(facts.heat_core is not None)
    hold = None if facts.heat_hold_min is None else max(0.0, facts.heat_hold_min - shorter)
    assert never_milder(replace(facts, heat_core=facts.heat_core - cooler, heat_hold_min=hold), facts)
    assert never_milder(replace(facts, heat_core=None, heat_hold_min=None), facts)


@settings(max_examples=200, deadline=None)
@given(anything, some(["water_activity_cautious", "water_activity_measured", "measured_error"]), st.floats(0.0, 0.3))
def test_a_higher_water_activity_is_never_milder(facts, name, more):
    value = getattr(facts, name)
    assume(value is not None)
    assert never_milder(replace(facts, **{name: min(1.0, value + more)}), facts)


@settings(max_examples=200, deadline=None)
@given(anything, some([name for name in MAYBE if "hours" in name]), st.floats(0.0, 10.0))
def test_more_hours_are_never_milder(facts, name, more):
    value = getattr(facts, name)
    assume(value is not None)
    assert never_milder(replace(facts, **{name: value + more}), facts)


WORSE = [
    *[("gutted", False), ("smells_normal", False), ("thawed_in_vacuum", True), ("advisory_species", True)],
    *[("refused_as", "wax_fish"), ("refused_as", "reef_hunters"), ("waters", "tropical or reef")],
    ("measured_by", "household hygrometer"),
    *[("histamine_former", True), ("origin", "wild"), ("outside_range", ("thick pieces",)), ("warmest_held", 40.0)],
    *[("pack", JAR), ("pack", VACUUM), ("stock", "fresh"), ("frozen_at", -15.0), ("frozen_days", 0.5)],
    *[("fat_raw", 0.3), ("vinegar_or_acid", True), ("sugar_used", True), ("water_phase_salt", 0.26)],
    ("borrowed", "dryer"),
]


@settings(max_examples=300, deadline=None)
@given(no_breach, some(WORSE))
def test_a_downgrade_is_never_milder_and_no_cure_helps(facts, change):
    """Salt, sugar and vinegar do not move a verdict at all; the rest moves it one way."""
    assume(change[0] != "warmest_held" or facts.warmest_held is not None)
    worse = replace(facts, **dict([change]))
    assert never_milder(worse, facts)
    if change[0] in ("vinegar_or_acid", "sugar_used", "water_phase_salt", "fat_raw"):
        assert never_milder(facts, worse)


@settings(max_examples=200, deadline=None)
@given(anything)
def test_any_batch_gets_words_of_the_lists_and_the_cupboard_only_when_all_is_known(facts):
    verdict = judge(facts)
    assert verdict.keep in KEEP and verdict.eat in EAT
    assert all(
        "{" not in said.text and said.source in tables.sources() for said in (*verdict.reasons, *verdict.cautions)
    )
    json.dumps([said.__dict__ for said in verdict.reasons])
    if verdict.keep == "cupboard":
        limit = 0.80 if facts.water_activity_measured is None else 0.85
        assert verdict.water_activity_used <= limit
        assert facts.gutted and facts.smells_normal and facts.target_reached and facts.species_known
    if facts.heat_core is None:
        assert verdict.eat != "ready"
