"""Fish under dry salt: brine that does not dry away, fish that salt alone made dry enough, hours beside the trade's. Invented batches."""

from dataclasses import replace

import numpy as np
import pytest

from flakeyard import limits, tables
from flakeyard.models import sorption
from flakeyard.steps.chain.stopping import brine_stays, dried_to, salted_as_its_middle
from flakeyard.steps.intent.batch_file import parse_batch, with_typed
from flakeyard.steps.judge.facts import Facts
from flakeyard.steps.judge.safety import judge
from flakeyard.steps.judge.storing import Storage, cap_for, keep_until
from flakeyard.steps.plan import timetable
from flakeyard.steps.plan.packs import IN_ORDER
from flakeyard.steps.plan.plan import plan
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.paper.card import batch_card
from flakeyard.workbook.paper.kitchen import kitchen
from flakeyard.workbook.paper.report import report

COD = parse_batch("""
title = "Invented cod"
[fish]
species = "Atlantic cod"
raw_weight = "2 kg"
stock = "frozen"
frozen_at = "-21 °C"
frozen_days = 9
origin = "wild"
gutted = true
hours_above_4c = 0.5
hours_above_21c = 0
smells_normal = true
[cut]
form = "split"
thickness = "12 mm"
thinnest = "9 mm"
thickest = "15 mm"
skin = "off"
[brine]
method = "dry"
time = "4 days"
temperature = "3 °C"
[[brine.ingredient]]
what = "pickling salt"
amount = "700 g"
[heat]
core = "75 °C"
hold = "1 min"
checked = "probe"
to_tray = "10 min"
[dryer]
temperature = "40 °C"
trays = 10
tray_area = "1100 cm2"
faces = 2
heater = "1000 W"
[room]
temperature = "21 °C"
relative_humidity = 50
[keep]
place = "cupboard"
pack = "glass jar"
""")
MEMBERS = 60


def planned(batch=COD, **keep):
    return plan(replace(batch, keep=replace(batch.keep, **keep)), members=MEMBERS)


@pytest.fixture(scope="module")
def cupboard():
    return planned()


@pytest.fixture(scope="module")
def refrigerator():
    return planned(place="refrigerator")


# ---- brine that stays


def test_what_brine_gives_lies_above_the_aim_for_the_cupboard():
    assert limits.CUPBOARD_AIM < sorption.LOWEST_PLATEAU < sorption.PLATEAU < limits.CUPBOARD_ESTIMATE


def test_so_salty_a_fish_is_told_that_the_aim_is_out_of_reach(cupboard):
    assert cupboard.facts.brine_stays and cupboard.facts.water_activity_mid > limits.CUPBOARD_AIM + 0.03
    assert "0.70, the aim for the cupboard, cannot be reached" in " ".join(report(cupboard).split())
    assert cupboard.dried["water_fraction"].mid > 0.35  # not dried to the bone, to 9 % of water and 38 % of salt
    assert cupboard.drying["hours_to_target"].mid is not None


def test_it_may_stand_in_the_cupboard_for_a_week_at_its_cautious_end(cupboard):
    assert cupboard.facts.water_activity_cautious <= limits.CUPBOARD_ESTIMATE
    assert (cupboard.verdict.keep, cupboard.keep.days) == ("cupboard", int(limits.BRINE_DAYS))
    assert any(reason.row == "L5 brine" for reason in cupboard.verdict.reasons)
    lean = [cap_for("cupboard", 0.75, 0.01, stays).days for stays in (False, True)]
    assert lean == [14, limits.BRINE_DAYS] and cap_for("cupboard", 0.75, 0.2, True).days == 7
    assert cap_for("refrigerator", 0.75, 0.01, True) == cap_for("refrigerator", 0.75, 0.01)


def test_a_moister_one_goes_to_the_next_place_in_words():
    outcome = planned(stop_at=1.0)
    assert outcome.facts.brine_stays and outcome.verdict.keep == "cold"
    reason = next(one for one in outcome.verdict.reasons if one.rule == "L4")
    assert "0.70 cannot be reached" in reason.text and "Refrigerator or freezer" in reason.text


BRINY = {"place": "cupboard", "water_activity_mid": 0.75, "fat_raw": 0.01, "measured_by": None}


@pytest.mark.parametrize("stays", [None, False, True])
@pytest.mark.parametrize("end", [0.79, 0.801])
def test_only_told_brine_and_a_low_cautious_end_open_the_cupboard(stays, end):
    facts = replace(IN_ORDER, **BRINY, water_activity_cautious=end, brine_stays=stays)
    assert (judge(facts).keep == "cupboard") == (stays is True and end <= limits.CUPBOARD_ESTIMATE)
    assert judge(replace(facts, place="refrigerator")).keep == "cold"
    assert Facts().brine_stays is None


def test_the_mould_clock_stands_on_the_plateau_at_least(cupboard):
    """However dry the estimate says it is: brine may still be in it."""
    bone_dry = dried_to(cupboard.load.piece, 0.42)
    facts = replace(IN_ORDER, **BRINY, water_activity_cautious=0.79, brine_stays=True)
    store = Storage(pack=tables.pack("glass jar"), place="cupboard", fat_raw=0.01, room_temperature=21.0)
    days = [
        keep_until(bone_dry, judge(facts), replace(store, brine_stays=stays), cupboard.load.isotherm).clocks["mould"]
        for stays in (False, True)
    ]
    assert days[1] == pytest.approx(cupboard.keep.clocks["mould"], rel=0.1) and days[1] < 0.7 * days[0]


def test_a_middle_that_the_salt_has_not_reached_counts():
    early = planned(with_typed(COD, "brine", time="14 h"))
    load = early.load
    assert np.median(load.salt_centre * load.piece.water / load.piece.salt) < 0.9
    assert load.cautious_activity().max() >= early.facts.water_activity_cautious
    middle = salted_as_its_middle(load.dried, load.piece, load.salt_centre)
    assert np.all(middle.salt <= load.dried.salt) and np.any(middle.salt < load.dried.salt)


def test_a_lighter_cure_keeps_the_aim_it_had():
    lighter = plan(demo_batch("kingfisher"), members=MEMBERS)
    assert not brine_stays(lighter.load.piece, lighter.load.isotherm)
    assert lighter.facts.water_activity_mid <= limits.CUPBOARD_AIM + 1e-3


def test_more_salt_than_was_ever_dried_in_a_test_is_told(cupboard):
    assert "outside what was tested" in " ".join(cupboard.notes)
    assert "outside what was tested" not in " ".join(plan(demo_batch("kingfisher"), members=8).notes)


# ---- salt alone


def test_fish_that_salt_alone_made_dry_enough_is_not_to_be_dried(refrigerator):
    text = " ".join(report(refrigerator).split())
    assert refrigerator.load.no_drying and refrigerator.verdict.keep == "cold"
    assert "salt alone brought it there" in text
    for words in ("STOP when", "down to 100 %", "0.0 h", "Pieces done", "Dry at"):
        assert words not in text, words
    assert [moment.step for moment in timetable.timetable(refrigerator)] == ["brine", "heat", timetable.NO_DRYING]


def test_the_text_for_the_kitchen_says_so_too(refrigerator):
    text = " ".join(kitchen(refrigerator).split())
    assert "salt alone brought it there" in text
    for words in ("STOP when", "STOP at", "100 g becomes", "0.0 h", "Lay "):
        assert words not in text, words


def test_its_card_says_so_too(refrigerator):
    front, back = (" ".join(text.get_text() for text in page.figure.texts) for page in batch_card(refrigerator))
    card = " ".join(f"{front} {back}".split())
    assert "salt alone brought it there" in card and "Nothing to dry" in card
    for words in ("STOP AT", "My weighings", "when all is done"):
        assert words not in card, words


def test_pieces_are_done_in_the_order_of_their_size(refrigerator, cupboard):
    for outcome in (refrigerator, cupboard):
        middle = [value.mid for value in outcome.hours_by_share.values()]
        assert middle == sorted(middle)
