"""The brine panel, its tables and the form for one's own brine, without a browser."""

import io
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from flakeyard import tables
from flakeyard.models import solutions
from flakeyard.steps.intent.batch_file import dump_batch, load_batch, said, save_batch, with_typed, written
from flakeyard.steps.plan import recipes
from flakeyard.units import CUP
from flakeyard.workbook.own import FILE, demo_batch, own_batch, own_told
from flakeyard.workbook.panels import brine as bp
from flakeyard.workbook.panels.panel import Choice

START = {"fish": 1.8, "kind": 7, "salt": CUP / 2, "water": 0.00175, "sugar": 0.0, "weighed": 0}
CONTROLS = {control.name: control for control in bp.controls(demo_batch("heron"))}


@pytest.fixture(scope="module")
def panel():
    return bp.brine_panel(choice=Choice("metric"))


def marks(panel, kind, field=0):
    return [mark for mark in panel.record["fields"][field]["marks"] if mark["kind"] == kind]


def reading(panel, name) -> str:
    control = next(one for one in panel.controls if one.name == name)
    return control.reading(panel.values[name], panel.choice)


def level(box) -> float:
    return box["y"][1] - box["y"][0]


def middle(mixed, name="of the brine's weight"):
    return mixed.per_cents[name].mid


# the panel


@pytest.mark.parametrize("end", ["low", "start", "high"])
@pytest.mark.parametrize("name", CONTROLS)
def test_every_end_of_every_slider_is_computed_and_told(panel, name, end):
    panel.set(**{control.name: control.start for control in CONTROLS.values()})
    panel.set(**{name: getattr(CONTROLS[name], end)})
    assert panel.trouble is None
    text = " ".join(str(getattr(panel.said, field.name)) for field in fields(panel.said))
    assert not any(word in text for word in ("nan", "None", "inf "))
    assert "Salt does not make this fish keep." in panel.said.caution and "throw it out" in panel.said.caution


def test_kinds_run_from_the_lightest_cup_to_the_heaviest_and_leave_none_out():
    weights = [tables.bulk_density(name) for name, _ in bp.KINDS[1:]]
    assert weights == sorted(weights)
    known = {row.id for row in tables.ingredients() if row.kind == "salt"}
    assert known - {name for name, _ in bp.KINDS} == {"salt_kosher", "salt_rock"}  # of no one grain


def test_salt_that_cannot_dissolve_is_told_and_lies_on_the_bottom(panel):
    panel.set(**(START | {"salt": 2.5 * CUP, "water": 0.0005}))
    assert "stays on the bottom" in panel.said.sentence and panel.said.chips[-1][0] == "Stays on the bottom"
    assert level(marks(panel, "box")[-1]) > 3
    panel.set(**START)
    assert "stays on the bottom" not in panel.said.sentence and level(marks(panel, "box")[-1]) == 0


def test_the_vessels_are_as_full_as_what_is_in_them(panel):
    panel.set(**START)
    mixed, (jug, _, jar, _) = panel.result(**panel.values), marks(panel, "box")
    for box, volume in ((jug, mixed.filled), (jar, np.median(mixed.brine.volume) / 1000)):
        round_area = np.pi / 4 * (box["x"][1] - box["x"][0]) ** 2
        assert level(box) * round_area == pytest.approx(1e9 * volume, rel=0.005)
    salt, water = panel.record["handles"]
    for handle, box, name in ((salt, jug, "salt"), (water, jar, "water")):
        assert handle["offset"] + handle["scale"] * panel.values[name] == pytest.approx(box["y"][0], abs=0.05)
    assert jar["shade"] == pytest.approx(middle(mixed) / solutions.nacl_saturation(20.0), abs=0.001)


def test_a_cup_of_flakes_is_weaker_and_as_many_grams_are_as_strong(panel):
    panel.set(**START)
    dense, jug = middle(panel.result(**panel.values)), level(marks(panel, "box")[0])
    panel.set(kind=1)
    cup = panel.result(**panel.values)
    assert middle(cup) < 0.6 * dense and level(marks(panel, "box")[0]) == jug
    panel.set(weighed=1)
    scale = panel.result(**panel.values)
    assert middle(scale) == pytest.approx(dense, rel=0.02) and level(marks(panel, "box")[0]) > 2 * jug
    weight = scale.per_cents["of the brine's weight"]
    assert weight.high - weight.low < 0.2 * (cup.per_cents["of the brine's weight"].high - middle(cup))
    assert scale.weighs.low == scale.weighs.high == pytest.approx(recipes.recipe_weight(CUP / 2))


def test_curves_go_through_the_numbers_and_never_above_a_full_brine(panel):
    panel.set(**START)
    mixed = panel.result(**panel.values)
    for name, curve in mixed.course.items():
        assert np.all(np.diff(curve, axis=1) >= -1e-12) and np.all(np.diff(curve, axis=0) >= -1e-12)
        assert np.interp(mixed.asked, recipes.AMOUNTS, curve[1]) == pytest.approx(middle(mixed, name), rel=1e-6)
    assert mixed.course["of the brine's weight"].max() <= solutions.nacl_saturation(20.0)


@pytest.mark.parametrize(("cups", "told"), [(0.5, "too little"), (1.1, "likely range"), (2.0, "too much")])
def test_a_guess_of_the_flakes_is_answered(panel, cups, told):
    panel.set(**START)
    assert told in bp.reply_brine(panel.result(**panel.values), {"knots": [cups]}, panel.choice)


@pytest.mark.parametrize("system", ["metric", "us", "both"])
def test_what_is_written_on_paper_lies_inside_the_sheet(system):
    panel = bp.brine_panel(choice=Choice(system))
    for salt, water, kind in ((CUP / 4, 0.004, 7), (2.5 * CUP, 0.0005, 1)):
        panel.set(salt=salt, water=water, kind=kind)
        figure = panel.paper()
        for text in (text for on in figure.axes for text in on.texts if text.get_text()):
            box = text.get_window_extent()
            assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= figure.bbox.x1 and box.y1 <= figure.bbox.y1, text


def test_units_change_readings_words_and_nothing_else():
    choice = Choice("metric")
    panel = bp.brine_panel(choice=choice)
    before, metric = panel.values, panel.said.sentence
    choice.system = "us"
    assert panel.values == before
    assert " g" in metric and "oz" in panel.said.sentence and "oz" not in metric
    assert reading(panel, "salt") == "0.5 cup, 5.2 oz" and reading(panel, "kind") == "pickling salt"


def test_the_sliders_start_at_the_batch():
    start = bp.starting_values(demo_batch("heron"))
    assert bp.KINDS[start["kind"]][0] == "salt_pickling"
    assert start["salt"] * tables.bulk_density("salt_pickling") == pytest.approx(0.160, rel=0.01)
    assert start["water"] == pytest.approx(0.0018, rel=0.01)


@pytest.mark.parametrize("change", ["unsalted", "dry"])
def test_a_batch_without_a_wet_brine_still_has_a_panel(change):
    heron = demo_batch("heron")
    batch = replace(heron, brine=None if change == "unsalted" else replace(heron.brine, method="dry"))
    assert bp.brine_panel(batch).trouble is None


def test_static_picture_and_words(panel):
    twin = panel.static()
    assert f"Kind of salt {reading(panel, 'kind')}" in twin.settings
    assert Image.open(io.BytesIO(twin.png)).size[0] > 600
    assert panel.said.sentence in panel.said.alt


# the tables


@given(st.floats(0.001, 0.26), st.floats(0.0, 40.0))
def test_strength_from_density_is_the_inverse_of_density(salt_fraction, temperature):
    density = solutions.nacl_density(salt_fraction, temperature)
    assert solutions.nacl_fraction_for_density(density, temperature) == pytest.approx(salt_fraction, abs=1e-8)


@pytest.mark.parametrize("density", [900.0, 2000.0, np.nan])
def test_a_density_no_brine_has_is_refused(density):
    with pytest.raises(ValueError, match="density"):
        solutions.nacl_fraction_for_density(density)


def test_a_weighed_brine_is_one_number_and_a_scooped_one_a_range():
    choice = Choice("metric")
    weighed = bp.four_ways(recipes.make_brine({"table salt": "80 g", "water": "1 L"}), choice)
    scooped = bp.four_ways(recipes.make_brine({"table salt": "1/4 cup", "water": "1 L"}), choice)
    assert not any("likely" in row[1] for row in weighed.rows)
    assert all("likely" in row[1] for row in scooped.rows)


def test_tables_are_whole_as_markdown_and_as_text():
    choice = Choice("both")
    for table in (bp.cup_table(choice), bp.published_table(choice)):
        lines = table._repr_markdown_().splitlines()
        assert len(lines) == len(table.rows) + 2 == len(repr(table).splitlines()) + 1
        assert len({line.count("|") for line in lines}) == 1
        assert "not known" not in table._repr_markdown_().replace("kind not known", "")


# one's own brine

SOAK = {"time": "10 h", "temperature": "3 °C"}


def form_texts(form) -> list[str]:
    rows = [child for child in form.children if hasattr(child, "children")]
    return [field.value for row in rows for field in row.children]


def test_own_brine_is_kept_and_the_rest_of_the_batch_with_it(tmp_path):
    told = bp.keep_brine([("table salt", "1 1/2 cup", ""), ("water", "1 gallon", "")], SOAK, tmp_path)
    assert told.startswith("Saved") and "°SAL" in told and "likely" in told
    kept = own_told(tmp_path)
    assert [row["what"] for row in kept["brine"]["ingredient"]] == ["table salt", "water"]
    assert kept.keys() == {"brine"} and "Still the demonstration's" in told  # nothing that nobody told
    (tmp_path / FILE).write_text(dump_batch(demo_batch("otter")), encoding="utf-8")
    bp.keep_brine([("table salt", "1 1/2 cup", ""), ("water", "1 gallon", "")], SOAK, tmp_path)
    otter, kept = written(demo_batch("otter")), own_told(tmp_path)
    assert {name: kept[name] for name in otter if name != "brine"} == {name: otter[name] for name in otter if name != "brine"}  # fmt: skip


def test_what_the_form_does_not_show_stays(tmp_path):
    rows = [("pickling salt", "100 g", ""), ("water", "1 L", ""), ("syrup", "1 cup", "")]
    bp.keep_brine(rows, SOAK, tmp_path)
    text = (tmp_path / FILE).read_text(encoding="utf-8").replace('"1 cup"', '"1 cup", brix = 65')
    (tmp_path / FILE).write_text(text, encoding="utf-8")
    bp.keep_brine([("pickling salt", "120 g", ""), *rows[1:]], SOAK, tmp_path)
    kept = own_batch(tmp_path)
    assert said(kept, "brine", "ingredient", 0, "amount") == "120 g" and kept.brine.ingredients[2].brix == 65
    assert (tmp_path / "my-batch-1.toml").read_text(encoding="utf-8") == text


@pytest.mark.parametrize(
    ("rows", "soak", "word"),
    [
        ([("table salt", "1 1/2", ""), ("water", "1 L", "")], SOAK, "unit is missing"),
        ([("sugar", "1 cup", ""), ("tabel salt", "1 cup", ""), ("water", "1 L", "")], SOAK, "table salt"),
        ([("table salt", "1 cup", "")], SOAK, "water"),
        ([("syrup", "1 cup", "200 g"), ("water", "1 L", "")], SOAK, "lighter than water"),
        ([("", "1 cup", ""), ("water", "1 L", "")], SOAK, "what"),
        ([], SOAK, "at least one ingredient"),
        ([("table salt", "1 cup", ""), ("water", "1 L", "")], {"time": "", "temperature": "3 °C"}, "time"),
    ],
)
def test_a_mistake_is_explained_and_nothing_is_written(tmp_path, rows, soak, word):
    told = bp.keep_brine(rows, soak, tmp_path)
    assert told.startswith("Not saved") and word in told
    assert list(tmp_path.iterdir()) == []


def test_a_dry_cure_is_kept_as_one(tmp_path):
    rows = [{"what": "table salt", "amount": "100 g"}]
    save_batch(with_typed(demo_batch("heron"), "brine", method="dry", ingredient=rows), tmp_path / FILE)
    told = bp.keep_brine([("table salt", "120 g", "")], SOAK, tmp_path)
    assert "dry cure" in told and load_batch(tmp_path / FILE).brine.dry


def test_a_first_brine_shows_the_demonstration_only_as_an_example(tmp_path):
    form = bp.own_brine_form(tmp_path)
    assert set(form_texts(form)) == {""}
    rows = [child for child in form.children if hasattr(child, "children")]
    assert rows[0].children[0].placeholder == "pickling salt" and rows[-1].children[0].placeholder == "10 h"
    next(child for child in form.children if hasattr(child, "click")).click()
    assert not list(tmp_path.iterdir())  # an empty form is no brine


def test_the_form_shows_what_is_in_the_file_and_saves_it_by_its_button(tmp_path):
    bp.keep_brine([("table salt", "1 cup", ""), ("syrup", "1 cup", "312 g"), ("water", "1 gallon", "")], SOAK, tmp_path)
    form = bp.own_brine_form(tmp_path)
    texts = form_texts(form)
    assert texts[:6] == ["table salt", "1 cup", "", "syrup", "1 cup", "312 g"] and "10 h" in texts
    first_amount = form.children[0].children[1]
    first_amount.value = "2 cups"
    button = next(child for child in form.children if hasattr(child, "click"))
    button.click()
    assert said(own_batch(tmp_path), "brine", "ingredient", 0, "amount") == "2 cups"
    told = next(child for child in form.children if "fy-live" in child._dom_classes)
    assert "Saved in my-batch.toml" in told.value


def test_the_folded_answers_say_what_the_panel_says():
    """Each question is done as it is written, and its answer names these numbers."""
    panel = bp.brine_panel(choice=Choice("both"))
    start, saw = panel.values, [answer for _, answer in panel.setup["look_for"]]

    def told(**values):
        panel.set(**start | values)
        return [text for _, text in panel.said.numbers], dict(panel.said.chips)

    assert "7.7 % falls to 3.6 %" in saw[0] and told()[0][0] == "7.7 %" and told(kind=1)[0][0] == "3.6 %"
    assert "7.6 % again" in saw[0] and told(kind=1, weighed=1)[0][0] == "7.6 %"
    assert "likely 4.6 to 7.4 %" in saw[0] and told(kind=0)[1]["Likely"] == "4.6 to 7.4 %"
    assert "falls to 7 %" in saw[1] and "stays at 8.5 %" in saw[1]
    assert told()[0][1] == "8.5 %" and told(sugar=CUP)[0][:2] == ["7 %", "8.5 %"]
    assert "2 1/4 cups" in saw[2] and "about 0.75" in saw[2]
    assert "Stays on the bottom" not in told(salt=2.0 * CUP)[1]
    full, over = told(salt=2.25 * CUP), told(salt=2.5 * CUP)
    assert full[0] == over[0] and full[1]["Water activity"] == over[1]["Water activity"] == "0.75"
    assert "Stays on the bottom" in full[1]
