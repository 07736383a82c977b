"""One batch, one number: whatever tells of a demo batch names the same weight to stop at, the same hours and days."""

import json
import math
import re
import shutil
from functools import cache
from pathlib import Path

import pytest

import flakeyard as fy
from flakeyard.steps.judge import safety
from flakeyard.steps.learn import class_log
from flakeyard.steps.plan import ways
from flakeyard.steps.plan.plan import plan
from flakeyard.steps.plan.weighing import when_done
from flakeyard.workbook import words
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.pages import explorers
from flakeyard.workbook.panels.weight import weight_panel
from flakeyard.workbook.panels.whole_batch import whole_batch_panel
from flakeyard.workbook.paper import card, class_page, kitchen, report, ways_text

ROOT = Path(__file__).parents[1]
DEMOS = ("heron", "kingfisher", "otter")


@cache
def whole(name: str):
    """The plan of a demo batch as everybody gets it: with the usual draws."""
    return plan(demo_batch(name))


def percent(name: str) -> int:
    return words.stop_percent(whole(name).drying["mass_ratio"].mid)


def drawn(name: str) -> str:
    return " ".join(text.get_text() for page in card.batch_card(whole(name)) for text in page.figure.texts)


@pytest.mark.parametrize("name", DEMOS)
def test_a_weight_to_stop_at_is_a_whole_per_cent_so_that_every_page_means_what_it_shows(name):
    outcome = whole(name)
    assert 100 * outcome.drying["mass_ratio"].mid == pytest.approx(percent(name), abs=1e-9)
    assert all(
        100 * way.mass_ratio == pytest.approx(round(100 * way.mass_ratio), abs=1e-9) for way in ways.ways(outcome)
    )


@pytest.mark.parametrize("name", DEMOS)
def test_texts_card_table_and_front_door_name_the_same_weight(name):
    outcome, share = whole(name), percent(name)
    told = {
        "kitchen": kitchen.kitchen(outcome, earn=False), "report": report.report(outcome), "card": drawn(name),
        "table": "\n".join(ways_text.table(ways.ways(outcome))),
    }  # fmt: skip
    for page, text in told.items():
        flat = " ".join(text.split())
        shares = set(map(int, re.findall(r"(?:(?<!then )weighs|down to|becomes) (\d+)(?: %| g)", flat)))
        assert shares <= {share} and f"{share} %" in flat, (page, shares)
    assert f"becomes {share} g" in told["kitchen"] and f"becomes {share} g" in told["report"]
    assert fy.plan(demo_batch(name)).drying["mass_ratio"].mid == outcome.drying["mass_ratio"].mid
    assert when_done(outcome).left["thickest"].mid == pytest.approx(outcome.drying["mass_ratio"].mid, abs=2e-3)


@pytest.mark.parametrize("name", DEMOS)
def test_texts_and_table_name_the_same_hours_and_days(name):
    outcome = whole(name)
    hours, aim = outcome.drying["hours_to_target"], outcome.batch.keep
    own = next(way for way in ways.ways(outcome) if (way.place, way.pack) == (aim.aim, aim.pack))
    assert (own.hours, own.days) == (hours, outcome.keep.days)
    text = " ".join(kitchen.kitchen(outcome, earn=False).split())
    assert (
        f"About {words.about_hours(hours.mid)} h; 8 of 10 such batches take {words.hours_range(hours.low, hours.high)}"
        in text
    )
    if outcome.keep.days is not None:
        days = set(map(int, re.findall(r"(\d+) days (?:at most|after packing)", text)))
        assert days == {outcome.keep.days}


# ---- panels, pages without Python, the page of a class


@pytest.mark.parametrize("name", DEMOS)
@pytest.mark.parametrize("make", [whole_batch_panel, weight_panel])
def test_a_panel_starts_on_the_numbers_of_the_plan(make, name):
    outcome, panel = whole(name), make(demo_batch(name))
    result, drying = panel.result(**panel.values), outcome.drying
    stop, done = (
        (result.stop_ratio.mid, result.stop_time) if make is whole_batch_panel else (result.stop, result.thickest_done)
    )
    ends = [None if end is None else end / 3600 for end in vars(done).values()]
    assert stop == drying["mass_ratio"].mid and ends == pytest.approx(list(vars(drying["hours_to_target"]).values()))
    assert result.verdict == outcome.verdict
    text = " ".join(f"{what}: {told}" for what, told in panel.said.numbers)
    assert f" {percent(name)} %" in text or f" {percent(name)} g" in text
    assert panel.choice.show(3600 * drying["hours_to_target"].mid, "time") in text


@pytest.mark.parametrize("make", [whole_batch_panel, weight_panel])
def test_a_slider_moved_and_put_back_shows_the_plan_again(make):
    """Whatever is drawn with fewer members in between."""
    panel = make(demo_batch("heron"))
    at_first, thickness = panel.said.numbers, panel.values["thickness"]
    panel.set(thickness=1.2 * thickness)
    assert panel.said.numbers != at_first
    panel.set(thickness=thickness)
    assert panel.said.numbers == at_first
    assert re.search(rf"\b{percent('heron')} (?:%|g)", " ".join(told for _, told in at_first))


@pytest.mark.parametrize("name", DEMOS)
def test_the_page_without_python_begins_on_the_numbers_of_the_plan(name):
    batch, drying = demo_batch(name), whole(name).drying
    explorer = explorers.at_the_batch(explorers.DRYING_TIME, batch)
    shown = explorers.interpolate(
        explorer,
        lambda place: explorers.corner(explorer, batch, place),
        {axis.name: axis.start for axis in explorer.axes},
    )
    assert shown["ratio"] == pytest.approx(drying["mass_ratio"].mid)
    hours = drying["hours_to_target"]
    assert [shown[end] for end in ("low", "mid", "high")] == pytest.approx([hours.low, hours.mid, hours.high])
    assert int(shown["keep"]) == safety.KEEP.index(whole(name).verdict.keep)
    assert (None if math.isnan(shown["days"]) else int(shown["days"])) == whole(name).keep.days


@pytest.mark.parametrize("name", DEMOS)
def test_the_page_of_a_class_says_what_the_plan_said(name, tmp_path):
    """Its plan has as many draws as learning from a log: to the half hour in which plans are told."""
    for file in (f"{name}.toml", f"{name}-weighings.csv"):
        shutil.copy(ROOT / "data_demo" / file, tmp_path / file)
    text = class_page.read_out(class_log.read_class(tmp_path))
    drying = whole(name).drying
    assert f"planned {words.about_hours(drying['hours_to_target'].mid)} h" in text
    assert f"Stop at {words.stop_percent(drying['mass_ratio'].mid)} %" in text


# ---- what the course prints and says of Heron

PROSE = {  # a text of the course, and where in it Heron's weight to stop at stands
    "00-start-here.ipynb": (r"\*\*(\d+) g\*\*\. 100 g becomes", r"of the thickest piece have become (\d+) g"),
    "06-dry-to-weight.ipynb": (r"Stop at (\d+) % of the weight as laid", r"as laid is done at (\d+(?:\.\d)?) g", r"thickest +(\d+) % left when"),
    "08-plan-log-learn.ipynb": (r"Heron stops at (\d+) % for a jar", r"refrigerator +\| +glass jar +\| +(\d+) %"),
    "teaching.md": (r"jar of its card \((\d+) %", r"done at about (\d+) g; ", r"for a jar, (\d+) %", r'"(\d+) %\? Cold fish'),
}  # fmt: skip


def course(name: str) -> str:
    """What a text of the course says and what its cells have printed."""
    text = (ROOT / "workbooks" / name).read_text(encoding="utf-8")
    if not name.endswith("ipynb"):
        return text
    parts = []
    for cell in json.loads(text)["cells"]:
        outputs = [
            output.get("text", output.get("data", {}).get("text/plain", [])) for output in cell.get("outputs", ())
        ]
        parts += ["".join(cell["source"]), *("".join(output) for output in outputs)]
    return "\n".join(parts)


@pytest.mark.parametrize("name", PROSE)
def test_the_course_names_herons_weight(name):
    text = course(name)
    for pattern in PROSE[name]:
        found = re.findall(pattern, text)
        assert found, pattern
        assert {float(one) for one in found} == {float(percent("heron"))}, (pattern, found)


def test_the_sum_by_hand_comes_to_the_same():
    """36 g of everything else, at the water the plan gives."""
    water = whole("heron").dried["water_fraction"].mid
    told = re.search(
        r"when (\d+) % of the piece is water\. The other (\d+) % are those 36 g:\s+36 ÷ 0\.(\d+) = \*\*(\d+) g",
        course("00-start-here.ipynb"),
    )
    wet, dry, share, grams = map(int, told.groups())
    assert wet == round(100 * water) and dry == share == 100 - wet and grams == int(36 / (dry / 100))


def test_a_forecast_before_any_weighing_is_told_as_wide_as_it_is():
    said = r"(\d+(?: 1/2)?) hours may turn out anything from (\d+) to (\d+)"
    hours = whole("heron").drying["hours_to_target"]
    for text in (course("00-start-here.ipynb"), explorers.DRYING_TIME.sure):
        middle, *ends = re.search(said, text.replace("½", " 1/2")).groups()
        assert words.about_hours(hours.mid) == middle
        assert [round(end) for end in (hours.low, hours.high)] == [int(end) for end in ends]


def test_the_weighing_by_hand_is_worked_out_with_the_hours_of_the_plan():
    """Lesson 08: the plan's hours, how late the weighing is, and what comes of it."""
    said = r"About (\d\.\d+) hours\.\n.*4 ÷ \1 = (\d\.\d\d) times\.\n.*The plan said (\d\.\d) hours\. \3 × \2 = \*\*(\d\.\d) hours"
    seen, late, planned, done = map(float, re.search(said, course("08-plan-log-learn.ipynb"), re.IGNORECASE).groups())
    book = fy.study.demo_book("heron")
    assert late == pytest.approx(4 / seen, abs=0.005) and done == pytest.approx(planned * late, abs=0.05)
    assert planned == round(book.learned(0).hours_to_target.mid, 1)
    assert done == round(fy.study.hours_by_hand(book, 2), 1)


BY_THE_PANEL = [  # exercises done as written: a lesson, its panel, where it begins, what is moved; what is seen, what the answer says
    ("00-start-here", "whole batch", {}, {"thickness": 0.010}, "To eat: ? Not known", "More than twice, and *not known*"),
    ("03-salt-in-salt-out", "salt", {}, {"time": 7200.0}, "670 mg", "out after 2 hours"),
    ("03-salt-in-salt-out", "salt", {}, {"time": 36_000.0, "waters": 1.0}, "530 mg", "or one fresh water"),
    ("05-bound-water", "water", {}, {"fat": 0.0}, "0.85 at 50 %", "from 50 to 59 %"),
    ("05-bound-water", "water", {}, {"fat": 0.15}, "0.85 at 59 %", "from 50 to 59 %"),
    ("07-keep-it", "keeping", {"pack": 2, "humidity": 0.70}, {}, "In the cupboard 7 days", "14 instead of 7"),
    ("07-keep-it", "keeping", {"pack": 2, "humidity": 0.70}, {"fat": 0.0}, "In the cupboard 14 days", "14 instead of 7"),
    ("07-keep-it", "keeping", {"pack": 2, "humidity": 0.70}, {"spot": 1}, "In the refrigerator 11 days", "30 instead of 11"),
    ("07-keep-it", "keeping", {"pack": 2, "humidity": 0.70}, {"spot": 1, "fat": 0.0}, "In the refrigerator 30 days", "30 instead of 11"),
]  # fmt: skip


@pytest.mark.parametrize(("lesson", "name", "begins", "moves", "seen", "told"), BY_THE_PANEL)
def test_an_exercise_by_the_panel_ends_as_its_answer_says(lesson, name, begins, moves, seen, told):
    panel = fy.panel(name, demo_batch("heron"), fy.choose_units("metric"), **begins)
    panel.set(**moves)
    said = panel.said
    assert seen in " ".join((said.sentence, said.how_sure, *sum(said.numbers, ())))
    assert told in course(f"{lesson}.ipynb")
