"""Every tested range speaks: a batch just outside one gets its sentence, and no verdict there is fine."""

import importlib
import pkgutil
from pathlib import Path

import pytest

from flakeyard import models
from flakeyard.models.inputs import Range
from flakeyard.steps.intent.batch_file import parse_batch
from flakeyard.steps.intent.fields import FIELDS
from flakeyard.steps.plan.plan import plan

HERON = (Path(__file__).parents[3] / "data_demo" / "heron.toml").read_text(encoding="utf-8")
RANGES = {
    f"{module.name}.{name}": value
    for module in pkgutil.iter_modules(models.__path__)
    for name, value in vars(importlib.import_module(f"flakeyard.models.{module.name}")).items()
    if isinstance(value, Range) and module.name != "slab_drying"  # which hands on the range of `drying_physics`
}
TROUT, FAT = 'species = "rainbow trout, farmed"\n', "fat = 6.2\n"
OWN = "water = {}\nprotein = {}\nfat = {}\n"
COLD_BRINE = ('temperature = "3 °C"', 'temperature = "-3 °C"')
HONEY = ('amount = "2 tbsp"', 'amount = "1.5 kg"')
SYRUP = ('what = "honey"\namount = "2 tbsp"', 'what = "syrup of your own"\namount = "2 tbsp"\nbrix = 85')
STRONG = ('amount = "160 g"', 'amount = "900 g"')
HOT_CURE = (
    'method = "wet"\ntime = "10 h"\ntemperature = "3 °C"',
    'method = "dry"\ntime = "20 days"\ntemperature = "40 °C"',
)


def cupboard(temperature: float) -> tuple[tuple[str, str], ...]:
    return (
        ('place = "refrigerator"', 'place = "cupboard"'),
        ('[room]\ntemperature = "20 °C"', f'[room]\ntemperature = "{temperature} °C"'),
    )


OUTSIDE = {  # range: changes of the demo batch that leave it, and whether the verdict must be "not known" then
    "solutions.nacl_density_range": ((COLD_BRINE,), False),
    "solutions.nacl_saturation_range": ((COLD_BRINE,), False),
    "solutions.nacl_water_activity_range": ((COLD_BRINE,), False),
    "solutions.freezing_point_range": ((COLD_BRINE, STRONG), False),
    "solutions.sucrose_density_range": ((SYRUP,), False),
    "solutions.sucrose_saturation_range": ((COLD_BRINE,), False),
    "solutions.sucrose_water_activity_range": ((HONEY, ('amount = "1.8 L"', 'amount = "200 mL"')), False),
    "solutions.mixture_water_activity_range": ((HONEY,), False),
    "salt_transport.salt_diffusivity_range": (((TROUT + 'raw_weight = "1.8 kg"\n' + FAT, OWN.format(58, 19, 21.5) + 'raw_weight = "1.8 kg"\n'),), True),
    "salt_transport.water_held_range": ((HOT_CURE, ('amount = "160 g"', 'amount = "2.5 kg"')), True),
    "drying_physics.salt_effect_range": ((('amount = "160 g"', 'amount = "800 g"'),), False),
    "edges.edges_range": ((('width = "25 mm"', 'width = "10 mm"'),), False),
    "drying_physics.drying_range": (((FAT, "fat = 30\n"),), True),
    "flesh.flesh_range": ((('temperature = "70 °C"', 'temperature = "76 °C"'),), True),
    "moist_air.moist_air_range": ((('altitude = "150 m"', 'altitude = "4500 m"'),), True),
    "sorption.water_activity_range": ((('pack = "glass jar"', 'pack = "glass jar"\nstop_at = 0.2'),), False),
    "keeping.mould_range": (cupboard(12), True),
    "keeping.rancidity_range": ((('place = "refrigerator"', 'place = "freezer"'),), False),
}  # fmt: skip
NOT_REACHED = {  # why no batch file can leave a range
    "moist_air.film_range": "the dial ends below 90 °C, the speed of the air and the length of a piece are our own middle values",
    "growth.growth_range": "drawn in lessons only; no plan and no verdict reads it",
    "growth.death_range": "drawn in lessons only; a heating step is judged by its rule",
    "heating.heating_range": "told by the step that heats through",
    "heating.dish_range": "told by the step that heats through",
}  # fmt: skip


def changed(*changes: tuple[str, str]):
    text = HERON
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return plan(parse_batch(text), members=60)


def said(outcome) -> str:
    return "\n".join([*outcome.notes, *(reason.text for reason in (*outcome.verdict.reasons, *outcome.keep.reasons))])


def test_every_range_is_either_spoken_of_or_never_left():
    assert set(RANGES) == set(OUTSIDE) | set(NOT_REACHED)


@pytest.mark.parametrize("name", OUTSIDE)
def test_a_batch_outside_a_range_is_told_so(name):
    changes, decides = OUTSIDE[name]
    formula = RANGES[name].formula
    words = "whole fish" if formula == "whole fish" else formula
    outcome = changed(*changes)
    assert words in said(outcome)
    if decides:
        assert outcome.verdict.keep not in (
            ("cupboard",) if name == "keeping.mould_range" else ("cupboard", "cold", "freezer")
        )


def test_inside_every_range_nothing_is_said_but_of_the_clocks_in_the_cold():
    notes = [note for note in changed().notes if "tested for" in note]
    assert all(note.startswith(("rancidity clock: fat", "mould clock: temperature 4 °C")) for note in notes)


@pytest.mark.parametrize(
    "changes",
    [
        ((FAT, "fat = 30\n"),),
        ((TROUT, OWN.format(48, 35, 14)), (FAT, "")),
        (('altitude = "150 m"', 'altitude = "4500 m"'),),
        (('thickest = "6 mm"', 'thickest = "16 mm"'),),
        (('temperature = "70 °C"', 'temperature = "76 °C"'),),
    ],
    ids=("fat", "water", "altitude", "thickness", "dial"),
)  # fmt: skip
def test_outside_what_the_drying_was_tested_for_the_verdict_is_not_known(changes):
    verdict = changed(*changes).verdict
    assert verdict.keep in ("not_known", "nowhere") and verdict.eat in ("not_known", "no")


def test_no_batch_file_reaches_the_end_of_the_air_film():
    assert FIELDS["dryer"]["temperature"].high <= RANGES["moist_air.film_range"].bounds["temperature"][1]
