"""The bridge from a batch file to the rules: what is typed, and what the rules are told of it, one fact at a time."""

from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

from flakeyard import tables
from flakeyard.steps.chain.drying import activity
from flakeyard.steps.intent.batch_file import parse_batch
from flakeyard.steps.intent.spread import upper_end
from flakeyard.steps.judge.facts import PLAIN, Facts
from flakeyard.steps.plan import judging
from flakeyard.steps.plan.judging import facts_of
from flakeyard.steps.plan.plan import plan

HERON = (Path(__file__).parents[2] / "old_files" / "heron.toml").read_text(encoding="utf-8")
SPECIES = 'species = "rainbow trout, farmed"'
PRESOAK = """
[presoak]
time = "3 h"
temperature = "{}"
[[presoak.ingredient]]
what = "{}"
amount = "100 g"
[[presoak.ingredient]]
what = "water"
amount = "2 L"
"""
FRESHEN = """
[[freshen]]
water = "3 L"
time = "2 h"
changes = {}
temperature = "{}"
"""
COLD = 'time = "10 h"\ntemperature = "3 °C"'
DRYER = "[dryer]"


def brine_at(degrees: str) -> tuple[str, str]:
    return (COLD, f'time = "10 h"\ntemperature = "{degrees}"')


def before_dryer(text: str) -> tuple[str, str]:
    return (DRYER, f"{text}\n{DRYER}")


ROWS = [  # fact, change of the file (old text, new text), what the rules must be told
    ("species_known", None, True),
    ("species_known", (SPECIES, "water = 74\nprotein = 19.5"), False),
    ("histamine_former", None, False),
    ("histamine_former", (SPECIES, 'species = "Atlantic mackerel"'), True),
    ("histamine_former", (SPECIES, "water = 74\nprotein = 19.5"), None),
    ("advisory_species", None, False),
    ("advisory_species", (SPECIES, 'species = "escolar"\nwater = 74\nprotein = 19.5'), True),
    ("advisory_species", (SPECIES, "water = 74\nprotein = 19.5"), None),
    ("refused_as", None, PLAIN),
    ("refused_as", (SPECIES, 'species = "escolar"\nwater = 74\nprotein = 19.5'), "wax_fish"),
    ("refused_as", (SPECIES, 'species = "snapper"'), "reef_hunters"),
    ("refused_as", (SPECIES, "water = 74\nprotein = 19.5"), None),
    ("waters", None, None),
    ("waters", ("gutted = true", 'gutted = true\nwaters = "tropical or reef"'), "tropical or reef"),
    ("gutted", None, True),
    ("gutted", ("gutted = true", "gutted = false"), False),
    ("gutted", ("gutted = true\n", ""), None),
    ("origin", None, "farmed"),
    ("origin", ('origin = "farmed"', 'origin = "wild"'), "wild"),
    ("origin", ('origin = "farmed"\n', ""), None),
    ("stock", None, "frozen"),
    ("stock", ('stock = "frozen"', 'stock = "fresh"'), "fresh"),
    ("stock", ('stock = "frozen"\n', ""), None),
    ("frozen_at", None, -20.0),
    ("frozen_at", ('"-20 °C"', '"-4 °F"'), -20.0),
    ("frozen_at", ('frozen_at = "-20 °C"\n', ""), None),
    ("frozen_days", None, 8),
    ("frozen_days", ("frozen_days = 8\n", ""), None),
    ("hours_above_4c", None, 0.5),
    ("hours_above_4c", ("hours_above_4c = 0.5\n", ""), None),
    ("hours_above_21c", ("hours_above_21c = 0", "hours_above_21c = 1.5"), 1.5),
    ("hours_above_21c", ("hours_above_21c = 0\n", ""), None),
    ("warmest_held", None, None),
    ("warmest_held", ("gutted = true", 'gutted = true\nwarmest = "59 °F"'), 15.0),
    ("smells_normal", None, True),
    ("smells_normal", ("smells_normal = true", "smells_normal = false"), False),
    ("smells_normal", ("smells_normal = true\n", ""), None),
    ("thawed_in_vacuum", None, None),
    ("thawed_in_vacuum", ("gutted = true", "gutted = true\nthawed_in_vacuum = true"), True),
    ("cure_hours_above_4c", None, 0.0),
    ("cure_hours_above_4c", brine_at("5 °C"), 10.0),
    ("cure_hours_above_4c", before_dryer(PRESOAK.format("8 °C", "salt")), 3.0),
    ("cure_hours_above_4c", before_dryer('[rest]\ntime = "6 h"\ntemperature = "6 °C"'), 6.0),
    ("cure_hours_above_4c", before_dryer(FRESHEN.format(3, "8 °C")), 6.0),
    ("cure_hours_above_10c", brine_at("9 °C"), 0.0),
    ("cure_hours_above_10c", brine_at("11 °C"), 10.0),
    ("cure_hours_above_10c", before_dryer(PRESOAK.format("12 °C", "salt")), 3.0),
    ("cure_hours_above_10c", before_dryer(FRESHEN.format(3, "15 °C")), 6.0),
    ("cure_hours_above_21c", brine_at("20 °C"), 0.0),
    ("cure_hours_above_21c", brine_at("23 °C"), 10.0),
    ("cure_hours_above_21c", before_dryer(PRESOAK.format("25 °C", "salt")), 3.0),
    ("cure_hours_above_21c", before_dryer(FRESHEN.format(2, "22 °C")), 4.0),
    ("vinegar_or_acid", None, False),
    ("vinegar_or_acid", ('what = "honey"', 'what = "cider vinegar"'), True),
    ("vinegar_or_acid", before_dryer(PRESOAK.format("3 °C", "lemon juice")), True),
    ("sugar_used", None, True),
    ("sugar_used", ('what = "honey"', 'what = "water"'), False),
    ("freshened", None, False),
    ("freshened", before_dryer(FRESHEN.format(1, "3 °C")), True),
    ("heat_core", None, 74.0),
    ("heat_core", ('core = "74 °C"', 'core = "160 °F"'), (160 - 32) / 1.8),
    ("heat_core", ('[heat]\ncore = "74 °C"\nhold = "1 min"\n', ""), None),
    ("heat_hold_min", None, 1.0),
    ("heat_hold_min", ('hold = "1 min"\n', ""), 0.0),
    ("heat_hold_min", ('[heat]\ncore = "74 °C"\nhold = "1 min"\n', ""), None),
    ("heat_probed", ('[heat]\ncore = "74 °C"\nhold = "1 min"\n', '[heat]\ncore = "74 °C"\nhold = "1 min"\nchecked = "probe"\n'), True),
    ("heat_probed", ('[heat]\ncore = "74 °C"\nhold = "1 min"\n', '[heat]\ncore = "74 °C"\nhold = "1 min"\nchecked = "not checked"\n'), False),
    ("heat_probed", None, None),
    ("heat_probed", ('[heat]\ncore = "74 °C"\nhold = "1 min"\n', ""), None),
    ("water_activity_measured", None, None),
    ("water_activity_measured", ('pack = "glass jar"', "measured_water_activity = 0.78"), 0.78),
    ("measured_error", ('pack = "glass jar"', "measured_water_activity = 0.78"), None),
    ("measured_error", ('pack = "glass jar"', "measured_water_activity = 0.78\nmeasured_error = 0.02"), 0.02),
    ("measured_by", ('pack = "glass jar"', "measured_water_activity = 0.78"), None),
    ("measured_by", ('pack = "glass jar"', 'measured_by = "meter"'), "meter"),
    ("place", None, "refrigerator"),
    ("place", ('place = "refrigerator"', 'place = "cupboard"'), "cupboard"),
    ("place", ('place = "refrigerator"\n', ""), None),
    ("pack", None, tables.pack("glass jar")),
    ("pack", ('pack = "glass jar"', 'pack = "paper bag"'), tables.pack("paper bag")),
    ("pack", ('pack = "glass jar"', ""), None),
    ("outside_range", None, ()),
    ("cupboard_outside", None, ()),
    ("borrowed", None, ""),
    ("brine_stays", None, False),
    ("brine_stays", ('place = "refrigerator"', 'place = "cupboard"'), False),
    ("target_reached", ('thickest = "8 mm"', 'thickest = "6 mm"'), True),
    ("target_reached", ('pack = "glass jar"', "target_moisture = 6"), False),
]  # fmt: skip
OF_THE_FORECAST = {  # facts that follow from what was computed: the forecast they are the cautious end of
    "hours_flesh_10_to_57": lambda o: upper_end(o.load.growth_hours),
    "hours_flesh_above_21": lambda o: upper_end(o.load.warm_hours),
    "water_activity_cautious": lambda o: upper_end(activity(o.load.dried, o.load.isotherm, cautious=True)),
    "water_activity_mid": lambda o: np.median(activity(o.load.dried, o.load.isotherm)),
    "water_phase_salt": lambda o: np.quantile(o.cured.water_phase_salt_centre, 0.025),
    "warm": lambda o: upper_end(o.load.taken_off.h) + 0.5,
    "fat_raw": lambda o: np.median(o.raw.flesh.fat),
}


def changed(change):
    old, new = change or ("", "")
    assert old in HERON
    return plan(parse_batch(HERON.replace(old, new, 1)), members=20)


def told(outcome) -> Facts:
    return facts_of(outcome.batch, outcome.laid, outcome.load)


def test_every_fact_has_a_row():
    assert {item.name for item in fields(Facts)} == {row[0] for row in ROWS} | set(OF_THE_FORECAST)


@pytest.mark.parametrize(("fact", "change", "expected"), ROWS)
def test_what_is_typed_reaches_the_rules(fact, change, expected):
    found = getattr(told(changed(change)), fact)
    assert found is expected if expected is None or isinstance(expected, bool) else found == pytest.approx(expected) if isinstance(expected, float) else found == expected  # fmt: skip


@pytest.mark.parametrize("fact", OF_THE_FORECAST)
def test_forecasts_reach_the_rules_at_their_cautious_end(fact):
    outcome = changed(None)
    found = getattr(told(outcome), fact)
    assert (found.h if fact == "warm" else found) == pytest.approx(float(OF_THE_FORECAST[fact](outcome)))
    assert told(outcome).hours_flesh_10_to_57 > np.median(outcome.load.growth_hours)
    assert told(outcome).water_phase_salt < np.median(outcome.cured.water_phase_salt_centre)


def test_longer_hours_of_a_log_reach_the_rules():
    outcome = changed(None)
    load = replace(outcome.load, growth_hours=outcome.load.growth_hours + 48, warm_hours=outcome.load.warm_hours + 48)
    facts = facts_of(outcome.batch, outcome.laid, load)
    assert facts.hours_flesh_10_to_57 == pytest.approx(told(outcome).hours_flesh_10_to_57 + 48)
    assert facts.hours_flesh_above_21 == pytest.approx(told(outcome).hours_flesh_above_21 + 48)


def test_time_between_heating_and_trays_reaches_every_warm_count():
    outcome = changed(None)
    untold, load = told(outcome).warm.filled(), outcome.load
    quick = changed(('hold = "1 min"', 'hold = "1 min"\nto_tray = "6 min"'))
    assert {name: untold[name] - hours for name, hours in told(quick).warm.filled().items()} == pytest.approx(dict.fromkeys(untold, 0.4))  # fmt: skip
    assert {name: untold[name] - upper_end(getattr(load.taken_off, name)) for name in untold} == pytest.approx(dict.fromkeys(untold, 0.5))  # fmt: skip


def test_soaks_of_every_kind_add_up():
    text = HERON.replace(*brine_at("12 °C"), 1).replace(DRYER, PRESOAK.format("12 °C", "salt") + FRESHEN.format(3, "12 °C") + DRYER)  # fmt: skip
    assert facts_of_text(text).cure_hours_above_10c == pytest.approx(10 + 3 + 6)


def facts_of_text(text: str) -> Facts:
    return told(plan(parse_batch(text), members=20))


def test_what_is_borrowed_reaches_the_rules_in_words():
    batch = replace(parse_batch(HERON), borrowed=("cut.thickness", "dryer.trays", "brine.ingredient"))
    assert told(plan(batch, members=12)).borrowed == "cut, dryer trays, brine ingredient"


def test_what_was_outside_a_tested_range_reaches_the_rules():
    assert "4500" not in HERON
    outcome = changed(('altitude = "150 m"', 'altitude = "4500 m"'))
    assert any(reason.rule == "R1" for reason in outcome.verdict.reasons)
    cold = changed(('[room]\ntemperature = "20 °C"', '[room]\ntemperature = "12 °C"'))
    assert told(cold).cupboard_outside


def test_how_it_is_kept_reaches_the_clocks_of_keeping(monkeypatch):
    """Each thing told about place, pack, room, fat and meter, one by one."""
    outcome, asked = changed(None), {}
    monkeypatch.setattr(judging.storing, "keep_until", lambda dried, verdict, store, curve: asked.update(vars(store)))
    batch = replace(
        outcome.batch,
        keep=replace(outcome.batch.keep, place="cupboard", pack="paper bag", per_pack=0.3, measured_water_activity=0.6, measured_error=0.02, measured_by="laboratory"),
        room=replace(outcome.batch.room, temperature=23.0, relative_humidity=0.81),
    )  # fmt: skip
    judging.keeping_of(batch, outcome.laid, outcome.load, outcome.verdict)
    told = {
        "amount": 0.3,
        "place": "cupboard",
        "room_temperature": 23.0,
        "room_humidity": 0.81,
        "lit": False,
        "brine_stays": False,
    }
    assert asked == told | {"pack": tables.pack("paper bag"), "fat_raw": outcome.laid.raw.fat_raw, "measured": pytest.approx(0.62)}  # fmt: skip
