"""Keeping: which clock decides, at which place, and that nothing lengthens it without cause."""

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flakeyard import tables
from flakeyard.models import keeping, sorption
from flakeyard.steps.judge import storing
from flakeyard.steps.judge.facts import PLACES
from flakeyard.steps.judge.safety import KEEP, Verdict
from flakeyard.steps.judge.storing import Storage, cap_for, keep_until, place_kept, sodium_mg_per_serving

JAR, PAPER, POUCH = tables.pack("glass jar"), tables.pack("paper bag"), tables.pack("vacuum pouch")
FOIL = tables.pack("foil laminate pouch")


@dataclass(frozen=True)
class Piece:
    """Dried flesh, as the steps before hand it over; any unit of mass."""

    water: np.ndarray
    salt: float
    fat: float
    solids: float
    sugar: float = 0.0


def piece(activity, salt=0.04, fat=0.02, solids=0.8, members=50):
    solids = solids * np.linspace(0.95, 1.05, members)
    return Piece(sorption.water_for(activity, salt, fat, solids, native=0.0), salt, fat, solids)  # none are told


def verdict(keep="cupboard", activity=0.75):
    return Verdict(keep, "ready", activity, (), (), ())


def keep(activity=0.65, allowed="cupboard", used=None, *, fat=0.02, fat_raw=0.02, **how):
    given = {"pack": JAR, "room_temperature": 20.0, "room_humidity": 0.5, "fat_raw": fat_raw} | how
    used = activity + 0.05 if used is None else used
    return keep_until(piece(activity, fat=fat), verdict(allowed, used), Storage(**given))


def days(kept) -> int:
    """Days that may be counted on: none where they are not known."""
    return kept.days or 0


CAPS = [  # place, water activity used, fat of the raw fish, days: strict ends of keeping_caps.csv, sources in each row
    ("cupboard", 0.80, 0.02, 14),
    ("cupboard", 0.85, 0.05, 7),
    ("cupboard", 0.80, None, 7),
    ("refrigerator", 0.85, 0.02, 30),
    ("refrigerator", 0.85, 0.20, 30),
    ("refrigerator", 0.86, 0.02, 14),
    ("refrigerator", 0.97, 0.02, 14),
    ("refrigerator", 0.98, 0.02, 3),
    ("refrigerator", None, 0.02, 3),
    ("freezer", 0.70, 0.049, 180),
    ("freezer", 0.98, 0.05, 90),
    ("freezer", 0.98, None, 90),
]


@pytest.mark.parametrize(("place", "activity", "fat", "days"), CAPS)
def test_caps(place, activity, fat, days):
    assert cap_for(place, activity, fat).days == days


def test_every_row_of_the_caps_is_used_and_none_is_longer_than_its_source():
    """Longest times read for similar food: uwyo_jerky 14 days at room temperature; fsis_storage_table home jerky 30–60
    days, smoked fish 14–45 days chilled, lean raw fish 180–300, fatty 60–90 days frozen; umn_preserving_fish 3 days."""
    used = {cap_for(place, activity, fat) for place, activity, fat, _ in CAPS}
    assert used == set(storing.caps())
    longest = {("cupboard", "dry"): 14, ("refrigerator", "dry"): 30, ("refrigerator", "moist"): 14}
    longest |= {("refrigerator", "like_fresh"): 3, ("freezer", "any"): 180}
    assert all(cap.days <= longest[cap.place, cap.state] for cap in storing.caps())


def test_the_strictest_of_several_caps_wins(monkeypatch):
    dry = next(cap for cap in storing.caps() if cap.place == "refrigerator" and cap.state == "dry")
    for rows in ((dry, replace(dry, days=9.0)), (replace(dry, days=9.0), dry)):
        monkeypatch.setattr(storing, "caps", lambda rows=rows: rows)
        assert cap_for("refrigerator", 0.7, 0.02).days == 9


def test_rancidity_counts_by_less_than_half():
    """dried_fish_rancidity: no life was shorter than half the middle estimate; where laboratories differ, a third is."""
    fish = replace(piece(0.6, members=1), salt=0.0)
    given = keep_until(fish, verdict(), Storage(pack=JAR, place="freezer", fat_raw=0.02)).clocks["rancidity"]
    share = fish.fat / float(fish.water[0] + fish.fat + fish.solids[0])
    assert given == pytest.approx(np.exp(-1.2816 * 0.9) * keeping.rancidity_days(share, -18.0), rel=0.08)
    assert given < 0.5 * keeping.rancidity_days(share, -18.0)


def test_moist_fish_has_no_cap_in_a_cupboard():
    with pytest.raises(ValueError, match="not kept there"):
        cap_for("cupboard", 0.86, 0.02)


@pytest.mark.parametrize(
    ("asked", "allowed", "place"),
    [
        ("cupboard", "cupboard", "cupboard"),
        ("freezer", "cupboard", "freezer"),
        (None, "cupboard", "cupboard"),
        ("cupboard", "cold", "refrigerator"),
        ("refrigerator", "cold", "refrigerator"),
        ("refrigerator", "freezer", "freezer"),
        (None, "freezer", "freezer"),
        ("freezer", "nowhere", None),
        ("refrigerator", "not_known", None),
    ],
)
def test_the_place_asked_if_allowed_else_the_mildest(asked, allowed, place):
    assert place_kept(asked, allowed) == place


@pytest.mark.parametrize("allowed", ["nowhere", "not_known"])
def test_no_verdict_no_days(allowed):
    kept = keep(allowed=allowed)
    assert (kept.days, kept.limited_by) == (None, "no_shelf_life")
    assert [reason.rule for reason in kept.reasons] == ["S4"]


def test_each_clock_decides_somewhere():
    assert keep(0.60).limited_by == "official_cap"
    damp = keep(0.79, used=0.80, room_temperature=28.0, room_humidity=0.85)
    assert damp.limited_by == "mould" and damp.days < 14
    fatty = keep(0.60, fat=0.30, fat_raw=0.15, place="refrigerator")
    assert fatty.limited_by == "rancidity" and fatty.days < 30


def test_a_clock_far_colder_than_it_was_tested_gives_no_days():
    fatty = keep(0.60, fat=0.30, fat_raw=0.15, place="freezer")
    assert fatty.days is None and fatty.limited_by == "rancidity" and fatty.clocks["rancidity"] < 90
    assert [reason.rule for reason in fatty.reasons] == ["S2", "S5"] and not fatty.next_problem
    lean = keep(0.65, fat=0.01, place="freezer", pack=POUCH)
    assert lean.limited_by == "official_cap" and lean.days == 180 and not lean.next_problem
    between = keep(0.60, fat=0.01, place="freezer")
    assert 90 <= between.clocks["rancidity"] < 180 and between.days == 90
    assert any("rancidity clock" in one.words for one in lean.outside)


def test_days_are_the_first_clock_rounded_down_and_what_comes_next_is_said():
    kept = keep(0.79, used=0.80, room_temperature=28.0, room_humidity=0.85)
    assert kept.days == math.floor(min(kept.clocks.values())) and isinstance(kept.days, int)
    following = sorted(kept.clocks.values())[1]
    assert f"{math.floor(following)} days" in kept.next_problem
    assert [reason.rule for reason in kept.reasons] == ["S1", "S5"]
    assert all(reason.source in tables.sources() for reason in keep(0.6).reasons)


def test_the_cautious_end_is_read():
    """One bad tenth of the ensemble decides: two bad ones do so at the middle of what laboratories leave of the days."""
    good, bad = piece(0.66, members=80), piece(0.80, members=20)
    mixed = replace(
        good, water=np.concatenate([good.water, bad.water]), solids=np.concatenate([good.solids, bad.solids])
    )
    room = {"room_temperature": 25.0, "room_humidity": 0.6, "pack": FOIL, "fat_raw": 0.02}
    clocks = [keep_until(fish, verdict(), Storage(**room)).clocks["mould"] for fish in (good, mixed, bad)]
    left = np.percentile(storing._between_studies(), storing.CAUTIOUS_END, method="lower")
    assert clocks[2] < clocks[1] < 1.1 * clocks[2] / left
    assert 1.1 * clocks[2] < clocks[0]


def test_the_refrigerator_does_not_mind_the_room_and_the_freezer_has_no_mould():
    cold = [
        keep(0.75, place="refrigerator", room_temperature=t, room_humidity=h).clocks for t, h in ((5, 0.3), (35, 0.9))
    ]
    assert cold[0] == cold[1]
    assert keep(0.75, place="freezer").clocks["mould"] == math.inf


def test_an_unknown_room_is_warm_and_damp_and_an_unknown_pack_the_worse_of_two():
    known = keep(0.70, room_temperature=18.0, room_humidity=0.5).clocks
    unknown = keep(0.70, room_temperature=None, room_humidity=None).clocks
    assert unknown["mould"] < known["mould"] and unknown["rancidity"] < known["rancidity"]
    for humidity in (0.4, 0.85):
        mould = {pack: keep(0.74, pack=pack, room_humidity=humidity).clocks["mould"] for pack in (None, PAPER, FOIL)}
        assert mould[None] <= 1.02 * min(mould[PAPER], mould[FOIL])


def test_a_jar_keeps_moisture_out_and_a_paper_bag_does_not():
    damp = {"room_temperature": 25.0, "room_humidity": 0.8}
    assert keep(0.60, pack=PAPER, **damp).clocks["mould"] < 0.3 * keep(0.60, pack=JAR, **damp).clocks["mould"]


def test_a_pack_without_air_slows_rancidity_and_a_jar_does_not():
    """kenya_sardine_2015: vacuum twice as long as air; lee_1985: foil 1.4 times."""
    times = {pack: keep(0.6, pack=pack, place="freezer").clocks["rancidity"] for pack in (JAR, PAPER, POUCH, FOIL)}
    assert times[JAR] == times[PAPER]
    assert times[POUCH] / times[JAR] == pytest.approx(2.0)
    assert times[FOIL] / times[JAR] == pytest.approx(1.4)


def test_a_higher_meter_reading_shortens_the_mould_clock_and_a_lower_one_does_not_lengthen_it():
    plain, high, low = (keep(0.72, measured=value).clocks["mould"] for value in (None, 0.82, 0.50))
    assert high < plain == low


def test_moist_fish_in_the_refrigerator():
    assert keep(0.98, "cold", used=1.0, pack=PAPER).days == 3
    assert keep(0.88, "cold", used=0.93, pack=PAPER).days <= 14


def test_arrays_of_classes_and_members_and_of_rooms():
    flat = piece(0.70, members=30)
    shaped = replace(flat, water=flat.water.reshape(3, 10), solids=flat.solids.reshape(3, 10))
    room = {"pack": JAR, "room_temperature": np.full(30, 20.0), "room_humidity": np.full(30, 0.6), "fat_raw": 0.02}
    both = [keep_until(fish, verdict(), Storage(**room)) for fish in (flat, shaped)]
    assert both[0].clocks == both[1].clocks


def test_a_smaller_pack_gains_no_less_moisture():
    damp = {"pack": PAPER, "room_temperature": 22.0, "room_humidity": 0.8}
    small, usual, large = (keep(0.60, amount=amount, **damp).clocks["mould"] for amount in (0.05, 0.2, 1.0))
    assert small < usual < large
    bag = damp | {"pack": tables.pack("zip bag")}
    usual, large = (keep(0.50, amount=amount, **bag).clocks["mould"] for amount in (0.2, 1.6))
    assert usual < large < 2.1 * usual  # eight times the fish in four times the film: up to twice as long


@settings(max_examples=40, deadline=None)
@given(
    st.floats(0.4, 0.80), st.floats(0.0, 0.3), st.floats(5.0, 35.0), st.floats(0.2, 0.95),
    st.sampled_from(["cupboard", "refrigerator", "freezer"]), st.sampled_from([JAR, PAPER, POUCH, FOIL, None]),
)  # fmt: skip
def test_never_longer_than_the_caps_and_never_longer_when_fatter_or_warmer(
    activity, fat, temperature, humidity, place, pack
):
    how = {"place": place, "pack": pack, "room_humidity": humidity}
    base = keep(activity, used=0.80, fat=fat, room_temperature=temperature, **how)
    assert 0 <= days(base) <= {"cupboard": 14, "refrigerator": 30, "freezer": 180}[place]
    fatty = keep(activity, used=0.80, fat=fat + 0.1, fat_raw=0.10, room_temperature=temperature, **how)
    assert fatty.clocks["rancidity"] <= base.clocks["rancidity"] * (1 + 1e-12)
    assert fatty.clocks["official_cap"] <= base.clocks["official_cap"]
    unknown = keep(activity, used=0.80, fat=fat, fat_raw=None, room_temperature=temperature, **how)
    assert days(unknown) <= days(base)


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(KEEP), st.sampled_from(["cupboard", "refrigerator", "freezer", None]))
def test_days_are_only_for_a_place_that_is_allowed(allowed, asked):
    kept = keep(allowed=allowed, place=asked)
    if kept.days is None:
        assert allowed in ("not_known", "nowhere") or (kept.place, kept.limited_by) == ("freezer", "rancidity")
    else:
        assert KEEP.index(PLACES[kept.place]) >= KEEP.index(allowed)


def test_sodium_of_a_serving():
    """Atomic weights (from memory): 22.990 of 58.443, so 30 g at 5 % salt hold 590 mg."""
    assert sodium_mg_per_serving(0.05, 0.030) == pytest.approx(590.1, abs=0.1)
    assert sodium_mg_per_serving(np.array([0.0, 0.1]), 0.01) == pytest.approx([0.0, 393.4], abs=0.1)
    for salt, serving in ((1.2, 0.03), (-0.1, 0.03), (0.05, -1.0), (float("nan"), 0.03)):
        with pytest.raises(ValueError, match="is impossible: allowed is"):
            sodium_mg_per_serving(salt, serving)


def test_a_cupboard_is_judged_up_to_the_ends_of_its_room_and_not_beyond():
    warmest = keeping.mould_range.bounds["temperature"][1]
    for inside in (None, storing.COOLEST_CUPBOARD, 20.0, warmest):
        assert storing.cupboard_outside(inside) == ()
    for outside in (storing.COOLEST_CUPBOARD - 0.1, warmest + 0.1):
        (words,) = storing.cupboard_outside(outside)
        assert (
            words.count("°C") == 2 and words.count("°F") == 2
        )  # the room's own warmth and what is judged, both systems


def test_a_freezer_says_by_the_right_words_why_its_days_are_not_known():
    caps = [row.days for row in storing.caps() if row.place == "freezer"]
    cap = next(row for row in storing.caps() if row.place == "freezer" and row.days == max(caps))
    never = storing._in_the_freezer({"official_cap": cap.days, "rancidity": min(caps) - 1.0}, cap, ())
    assert never.days is None and f"{min(caps):g} at the very most" in never.reasons[0].text
    both = storing._in_the_freezer({"official_cap": cap.days, "rancidity": cap.days}, cap, ())
    assert both.days == cap.days and both.reasons[0].source == cap.source_id
