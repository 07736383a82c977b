"""The judging at its edges: each limit met and just missed, each missing fact named, each rung with its words."""

from dataclasses import replace

import pytest
from test_safety import FROZEN, HYGROMETER, MACKEREL, MEASURED, PAPER, RAW, SOUND, VACUUM, spoken

from flakeyard import limits
from flakeyard.steps.judge import safety
from flakeyard.steps.judge.facts import PLACES, Facts
from flakeyard.steps.judge.safety import KEEP, judge, place_kept
from flakeyard.steps.judge.shown import PLAN
from flakeyard.steps.judge.warm_hours import WarmHours, ladder

WILD = RAW | FROZEN | {"origin": "wild"}
TINY = 1e-3

EDGES = [  # the other facts, the fact, its last value that is let pass, the first that is not, the rule that then speaks
    (WILD, "frozen_at", limits.PARASITE_FREEZER, limits.PARASITE_FREEZER + TINY, "G3"),
    (WILD, "frozen_days", limits.PARASITE_DAYS, limits.PARASITE_DAYS - TINY, "G3"),
    ({"origin": "wild"}, "heat_core", limits.PARASITE_CORE, limits.PARASITE_CORE - TINY, "G3"),
    ({}, "heat_core", limits.KILL_CORE, limits.KILL_CORE_HELD - TINY, "K2"),
    ({"heat_core": limits.KILL_CORE_HELD}, "heat_hold_min", limits.KILL_HOLD, limits.KILL_HOLD - TINY, "K2"),
    ({}, "heat_hold_min", limits.KILL_HOLD_HOT, limits.KILL_HOLD_HOT - TINY, "K2"),
    ({"heat_core": limits.KILL_CORE - TINY}, "heat_hold_min", limits.KILL_HOLD, limits.KILL_HOLD_HOT, "K2"),
    (MACKEREL, "hours_above_4c", limits.HISTAMINE_COOL_HOURS, limits.HISTAMINE_COOL_HOURS + TINY, "G2"),
    (MACKEREL | {"hours_above_21c": 0.1}, "hours_above_4c", limits.HISTAMINE_WARM_HOURS, limits.HISTAMINE_WARM_HOURS + TINY, "G2"),
    ({"hours_above_21c": 1.5}, "warmest_held", limits.HOT_ROOM, limits.HOT_ROOM + TINY, "G4"),
    ({"warmest_held": 24.0}, "hours_above_21c", limits.ROOM_HOURS, limits.ROOM_HOURS + TINY, "G4"),
    ({"warmest_held": 34.0}, "hours_above_21c", limits.HOT_ROOM_HOURS, limits.HOT_ROOM_HOURS + TINY, "G4"),
    (RAW | {"hours_above_4c": 0.0, "hours_flesh_above_21": 0.0}, "hours_flesh_10_to_57", limits.CLOCK_HOURS, limits.CLOCK_HOURS + TINY, "T2"),
    (RAW | {"hours_above_4c": 0.0, "hours_flesh_10_to_57": 2.1}, "hours_flesh_above_21", limits.CLOCK_WARM_HOURS, limits.CLOCK_WARM_HOURS + TINY, "T2"),
    (RAW | {"hours_above_4c": 0.0}, "hours_flesh_10_to_57", limits.CLOCK_INNER_HOURS, limits.CLOCK_INNER_HOURS + TINY, "T6"),
    ({}, "cure_hours_above_4c", 0.0, TINY, "B1"),
    (MEASURED | {"measured_error": 0.0}, "water_activity_measured", limits.MOIST, limits.MOIST + TINY, "P1"),
    ({}, "water_activity_cautious", limits.CUPBOARD_ESTIMATE, limits.CUPBOARD_ESTIMATE + TINY, "L4"),
    ({}, "water_activity_mid", limits.CUPBOARD_AIM + safety.AIM_MET, limits.CUPBOARD_AIM + safety.AIM_MET + TINY, "L4"),
    (HYGROMETER, "water_activity_mid", limits.CUPBOARD_AIM, limits.CUPBOARD_AIM + 2 * TINY, "L4"),
    ({}, "fat_raw", limits.FATTY - TINY, limits.FATTY, "P8"),
]  # fmt: skip


@pytest.mark.parametrize(("others", "name", "last", "first", "rule"), EDGES)
def test_a_limit_is_let_pass_and_not_a_thousandth_more(others, name, last, first, rule):
    base = replace(SOUND, **others)
    passed, missed = (_spoken_against(replace(base, **{name: value})) for value in (last, first))
    assert rule not in passed and rule in missed, (passed, missed)


def _spoken_against(facts: Facts) -> set[str]:
    """Rules that speak, without a histamine former's word that it is still in time."""
    verdict = judge(facts)
    said = (*verdict.reasons, *verdict.cautions)
    return {one.rule for one in said if "within" not in one.row}


MISSING = [  # the other facts, what is not told, the facts then named
    ({}, ("gutted",), {"gutted"}),
    ({}, ("species_known",), {"species_known"}),
    ({"species_known": True}, ("histamine_former",), {"histamine_former"}),
    ({}, ("advisory_species",), {"advisory_species"}),
    ({}, ("refused_as",), {"refused_as"}),
    ({}, ("advisory_species", "refused_as"), {"advisory_species", "refused_as"}),
    (WILD, ("frozen_at",), {"frozen_at"}),
    (WILD, ("frozen_days",), {"frozen_days"}),
    (WILD, ("origin", "frozen_at"), {"origin", "frozen_at"}),
    (WILD, ("origin", "frozen_days"), {"origin", "frozen_days"}),
    (RAW | {"origin": "wild"}, ("stock",), {"stock"}),
    (RAW, ("origin", "stock"), {"origin", "stock"}),
    (RAW | {"stock": "fresh"}, ("origin", "frozen_at"), {"origin"}),
    ({}, ("smells_normal",), {"smells_normal"}),
    ({}, ("hours_above_4c",), {"hours_above_4c"}),
    ({"hours_above_4c": 1.5, "hours_above_21c": 1.5}, ("warmest_held",), {"warmest_held"}),
    ({"hours_above_4c": 0.5, "hours_above_21c": 0.5}, ("warmest_held",), set()),
    ({}, ("heat_hold_min",), {"heat_hold_min", "hours_flesh_10_to_57"} - {"hours_flesh_10_to_57"}),
    (RAW | {"heat_core": 63.0, "heat_probed": True}, ("heat_hold_min",), {"heat_hold_min"}),
    (RAW | {"heat_core": 74.0, "heat_hold_min": 1.0}, ("heat_probed",), {"heat_probed"}),
    ({}, ("warm",), {"warm"}),
    ({}, ("target_reached",), {"target_reached"}),
    ({}, ("water_activity_cautious",), {"water_activity_cautious"}),
    ({"target_reached": False, "pack": PAPER}, ("water_activity_cautious",), {"water_activity_cautious"}),
    (MEASURED, ("measured_error",), {"measured_error"}),
    ({"water_activity_cautious": 0.9}, ("pack",), {"pack"}),
    ({}, ("water_activity_mid",), {"water_activity_mid"}),
    (HYGROMETER, ("water_activity_cautious",), {"water_activity_cautious"}),
    ({}, ("fat_raw",), {"fat_raw"}),
    (RAW, ("hours_flesh_10_to_57",), {"hours_flesh_10_to_57"}),
    (RAW | {"hours_flesh_10_to_57": 9.0}, ("cure_hours_above_10c",), {"cure_hours_above_10c"}),
    (MACKEREL | {"hours_above_4c": 9.0}, ("cure_hours_above_4c",), {"cure_hours_above_4c"}),
    ({"refused_as": "reef_hunters"}, ("waters",), {"waters"}),
    ({}, ("waters",), set()),
]  # fmt: skip


@pytest.mark.parametrize(("others", "left_out", "named"), MISSING)
def test_what_is_missing_is_named_and_nothing_else(others, left_out, named):
    base = replace(SOUND, **others)
    named_before = set(judge(base).unknown)
    assert set(judge(replace(base, **dict.fromkeys(left_out))).unknown) - named_before == named - named_before


@pytest.mark.parametrize("rung", [one for one in ladder() if one.count], ids=lambda one: f"{one.rule} {one.count}")
def test_a_rung_speaks_with_its_hours_its_source_and_its_way_out(rung):
    """One count alone just past the rung; what is whole is at least as long as each part."""
    hours = rung.above_hours + 0.04
    counts = {"h": hours, "hs": 0.0, "f48": 0.0, "c54": 0.0, "c40": 0.0} | {rung.count: hours}
    verdict = judge(replace(SOUND, warm=WarmHours(**counts)))
    said = [one for one in (*verdict.reasons, *verdict.cautions) if one.rule == rung.rule]
    assert said and any(one.source == rung.source_id and one.way_out == (rung.way_out or "") for one in said)
    assert any(f"{rung.above_hours + 0.1:g} h" in one.text for one in said)  # rounded up, never down to the limit
    shown = verdict.cautions if rung.says == "caution" else verdict.reasons
    assert any(one.rule == rung.rule for one in shown)


def test_two_gentle_counts_are_one_sentence_with_both_hours():
    said = [one.text for one in judge(replace(SOUND, warm=WarmHours(4.26, 2.31, 1.0, 0.0, 0.0))).cautions if one.rule == "W1"]  # fmt: skip
    assert len(said) == 1 and "4.3" in said[0] and "2.4" in said[0] and "1.5" in said[0] and "3" in said[0]


@pytest.mark.parametrize("asked", [None, *PLACES])
@pytest.mark.parametrize("keep", KEEP)
def test_the_place_that_words_are_for_is_the_one_asked_or_the_mildest_allowed(asked, keep):
    found = place_kept(asked, keep)
    if keep not in PLACES.values():
        assert found is None
    elif asked is not None and KEEP.index(PLACES[asked]) >= KEEP.index(keep):
        assert found == asked
    else:
        assert PLACES[found] == keep


def test_every_pack_is_told_by_its_own_name():
    text = " ".join(one.text for one in judge(replace(SOUND, water_activity_cautious=0.9)).reasons if one.rule == "P1")
    vacuum = " ".join(one.text for one in judge(replace(SOUND, water_activity_cautious=0.9, pack=VACUUM)).reasons if one.rule == "P1")  # fmt: skip
    assert "jar" in text and "jar" not in vacuum and text != vacuum


def test_the_words_hang_on_what_the_fish_is():
    """Traits come in pairs, and each is there exactly when the fact behind it is."""

    def traits(**changes):
        return safety._scene(safety.Case(replace(SOUND, **changes)), PLAN, "cold", "ready").traits

    assert {"heated", "two_weeks", "reached", "no_laboratory"} <= traits() and not {"raw", "fatty", "moist"} & traits()
    assert {"raw"} <= traits(**RAW) and "heated" not in traits(**RAW)
    assert (
        "fatty" in traits(fat_raw=0.06) and "fatty" in traits(fat_raw=None) and "two_weeks" not in traits(fat_raw=0.06)
    )
    assert not {"fatty", "two_weeks"} & traits(brine_stays=True)
    assert "moist" in traits(water_activity_cautious=0.9) and "moist" in traits(target_reached=False)
    assert "reached" not in traits(target_reached=False) and "reached" not in traits(target_reached=None)
    assert "weak_salt" in traits(water_phase_salt=0.1) and not {"weak_salt"} & (
        traits(water_phase_salt=0.19) | traits()
    )
    assert "no_laboratory" not in traits(**MEASURED)
    assert "thawing_not_known" in traits(**FROZEN | {"thawed_in_vacuum": None})
    assert "thawing_not_known" not in traits(stock="fresh", thawed_in_vacuum=None) | traits(**FROZEN)


def test_a_wild_fish_is_told_as_wild_and_one_of_unknown_origin_as_that():
    rows = [next(one.row for one in judge(replace(SOUND, **(RAW | {"origin": origin}))).reasons if one.rule == "G3") for origin in ("wild", None)]  # fmt: skip
    assert rows[0] != rows[1] and "not_known" in rows[1]


def test_rules_that_speak_with_others_do_so():
    assert {"T1", "T2", "T6"} <= spoken(judge(replace(SOUND, **RAW | {"hours_flesh_10_to_57": 9.0})))
