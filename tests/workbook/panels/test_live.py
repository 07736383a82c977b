"""Live panels without a browser: the same settings give the same picture, paper shows its numbers, every slider tells."""

import json
import threading
from functools import partial

import numpy as np
import pytest

from flakeyard.display import NOTHING_STORED
from flakeyard.workbook.panels import (
    air,
    brine,
    drawing,
    fish,
    keeping,
    live,
    paper_pen,
    salt,
    water,
    weight,
    whole_batch,
)
from flakeyard.workbook.panels.live import Lesson, Live, Told
from flakeyard.workbook.panels.panel import Choice, Control

PANELS = {
    "salt": salt.salt_panel, "whole batch": whole_batch.whole_batch_panel, "weight": weight.weight_panel,
    "water": water.water_panel, "fish": fish.fish_panel, "brine": brine.brine_panel, "air": air.air_panel,
    "keeping": partial(keeping.keeping_panel, pack=2, humidity=0.70),
}  # fmt: skip
MOVED = {
    "thickness": 0.010,
    "left": 0.70,
    "salt": 0.000237,
    "load": 3.0,
    "day": 9,
}  # where the first handle of each panel is moved
WORDS_ALONE = {"moisture"}  # it changes the sodium of a portion, which stands in figures
VISIBLE = 0.01  # of the height or width of a field: a move that can be seen


@pytest.fixture(scope="module", params=PANELS)
def panel(request):
    return PANELS[request.param](choice=Choice("metric"))


@pytest.fixture
def start(panel):
    panel.set(**{one.name: one.start for one in panel.controls})
    return panel.values


def ask(panel, **more):
    question = {"who": "me", "serial": 1, "values": {}, "rest": panel.values, "guess": None}
    panel._asked(panel, question | more, [])
    return panel.record


def moved(panel) -> dict[str, float]:
    """The thing itself, moved."""
    control = panel.record["handles"][0]["control"]
    return {control: MOVED[control]}


def places(drawing: dict) -> list[np.ndarray]:
    """Where everything stands, as shares of its field, mark by mark."""
    found = []
    for field in drawing["fields"]:
        wide, high = (field[side]["high"] - field[side]["low"] for side in ("across", "up"))
        for mark in field["marks"]:
            for name, size in (("y", high), ("low", high), ("bottom", high), ("x", wide), ("shade", 1.0)):
                if name in mark:
                    found.append(np.atleast_1d(mark[name]) / size)
    return found


def words(record: dict) -> tuple:
    return record["sentence"], [one["text"] for one in record["numbers"]], [one["text"] for one in record["chips"]]


# one record


def test_a_record_is_plain_data_and_the_same_for_the_same_settings(panel, start):
    first = ask(panel)
    assert json.loads(json.dumps(first)) == first == ask(panel)
    assert first["ghost"] is None and not any(one["was"] for one in first["numbers"])


def test_what_moved_leaves_a_ghost_and_numbers_say_what_they_were(panel, start):
    record, (held,) = ask(panel, values=moved(panel)), moved(panel)
    control = next(one for one in panel.controls if one.name == held)
    stood = control.reading(start[held], panel.choice)  # said where it has room
    assert record["ghost"]["words"] == ("before" if len(stood) > live.SHORT else f"{stood} before")
    assert record["numbers"][0]["was"] and "was" in record["spoken"]
    assert record["ghost"]["1"]["y"] == panel.lesson.draw(panel.result(**start), panel.choice)["trace"]["1"]["y"]


@pytest.mark.parametrize("system", ["metric", "us"])
def test_what_is_said_is_in_the_units_that_were_chosen(panel, system):
    stood, panel.choice.system = panel.choice.system, system
    said, panel.choice.system = panel.said, stood
    told = " ".join((said.sentence, said.how_sure, said.caution, said.alt, *sum(said.numbers + said.chips, ())))
    assert ("°F" if system == "metric" else "°C") not in told


def test_axes_stand_still_whatever_a_handle_does(panel, start):
    held = {one["control"] for one in panel.record["handles"]} | {panel.lesson.plays} - {""}
    frames = set()
    for control in (one for one in panel.controls if one.name in held):
        for value in (control.low, control.high):
            fields = ask(panel, values=start | {control.name: value})["fields"]
            frames.add(json.dumps([(field["across"], field["up"]) for field in fields]))
    assert len(frames) == 1


def test_every_slider_tells(panel, start):
    """Between its ends the words change, and something in the picture moves by a hundredth of its field, or comes or goes."""
    for control in panel.controls:
        marks = control.values()
        low, high = (ask(panel, values=start | {control.name: value}) for value in (marks[0], marks[-1]))
        assert panel.trouble is None, control.name
        assert words(low) != words(high), control.name
        one, other = places(low), places(high)
        same = len(one) == len(other) and all(
            a.shape == b.shape and np.abs(a - b).max() < VISIBLE for a, b in zip(one, other)
        )
        assert same == (control.name in WORDS_ALONE), control.name


LOOKS = [  # panel, settings of a question at its foot, what is then said, and how its folded answer (of which) says it, with its
    # first number as it is told, or in whole hours
    ("whole batch", {"thickness": 0.006}, "That takes", 0, "about {whole} h"),
    ("whole batch", {"thickness": 0.012}, "That takes", 0, "then {whole} h"),
    ("whole batch", {"salt": 0.16}, "58 %", 1, "Heavier"),
    ("whole batch", {"stop_at": 0.50}, "Freezer only", 2, "Freezer only"),
    ("whole batch", {"thickness": 0.006}, "To eat: ? Not known", 2, "ends at 6 mm"),
    ("whole batch", {"thickness": 0.012}, "To keep: ■ Freezer only", 2, "to keep at 13 mm"),
    ("whole batch", {"thickness": 0.013}, "To keep: ? Not known", 2, "to keep at 13 mm"),
    ("weight", {"thicker": 0.0}, "is done at", 0, "alike about {first}"),
    ("weight", {"thicker": 0.2}, "is done at", 0, "20 % about {first}"),
    ("weight", {"thicker": 0.6}, "is done at", 0, "60 % about {first}"),
    ("weight", {"fat": 0.02}, "done at 40 g", 1, "about 40 g"),
    ("weight", {"fat": 0.18}, "done at 55 g", 1, "55 g"),
    ("weight", {"thickness": 0.013}, "The thickest piece is 16 mm", 2, "13 mm"),
    ("water", {"salt": 0.05}, "0.85 at 45 %", 0, "at about 45, 54, 62, 73 % left"),
    ("water", {}, "0.85 at 54 % left, the cautious end only at 47 %", 2, "From 54 to 47 %"),
    ("water", {"salt": 0.20}, "0.85 at 62 %", 0, "at about 45, 54, 62, 73 % left"),
    ("water", {"salt": 0.30}, "0.85 at 73 %", 0, "at about 45, 54, 62, 73 % left"),
    ("water", {"salt": 0.20, "left": 0.42}, "0.75", 1, "At 0.75"),
    ("water", {"left": 0.30}, "not known", 2, "At 30 % the answer is not known"),
    ("keeping", {"humidity": 0.30}, "7 days at most", 0, "7 days"),
    ("keeping", {"humidity": 0.90}, "15 days", 0, "15 at 90 %"),
    ("keeping", {"activity": 0.71}, "To keep: ◆ Refrigerator", 1, "At 0.71 the cupboard is lost"),
    ("keeping", {"activity": 0.74}, "Dried to 40 %", 1, "from 40 to 49 %"),
    ("keeping", {"activity": 0.76}, "cautious end 0.91", 1, "to 0.91"),
    ("keeping", {"activity": 0.76, "pack": 5}, "Freezer only", 1, "freezer only"),
    ("keeping", {"fat": 0.0, "pack": 1, "humidity": 0.90, "spot": 5}, "5 days at most; what decides is mould", 2, "Mould, after 5 days"),
]  # fmt: skip


@pytest.fixture(scope="module")
def made():
    return {name: PANELS[name](choice=Choice("metric")) for name in {one[0] for one in LOOKS}}


@pytest.mark.parametrize(("name", "moves", "seen", "which", "told"), LOOKS)
def test_each_question_at_the_foot_is_done_as_written_and_its_answer_is_what_is_seen(
    made, name, moves, seen, which, told
):
    panel = made[name]
    panel.set(**{one.name: one.start for one in panel.controls} | moves)
    drawn = json.dumps(panel.record["fields"], ensure_ascii=False)
    assert seen in " ".join((panel.said.sentence, panel.said.how_sure, *sum(panel.said.numbers, ()), drawn))
    first = panel.said.numbers[0][1]
    whole = f"{float(first.split()[0]):.0f}" if "{whole}" in told else ""
    assert told.format(first=first, whole=whole) in panel.setup["look_for"][which][1]


def test_every_end_of_every_slider_stays_inside_its_fields(panel, start):
    for control in panel.controls:
        for value in (control.values()[0], control.values()[-1]):
            for field in ask(panel, values=start | {control.name: value})["fields"]:
                for mark in field["marks"]:
                    for axis, names in (("across", ("x",)), ("up", ("y", "low", "high", "bottom"))):
                        low, high = sorted((field[axis]["low"], field[axis]["high"]))
                        ends = [v for name in names if name in mark for v in np.atleast_1d(mark[name])]
                        assert all(low - 1e-6 <= v <= high + 1e-6 for v in ends), (control.name, value, mark["kind"])


def test_a_control_starts_at_one_of_its_marks(panel):
    for told, control in zip(panel.setup["controls"], panel.controls, strict=True):
        assert told["start"] in told["values"] and len(told["readings"]) == len(told["values"]) == len(control.values())
    assert sum(one["in_view"] for one in panel.setup["controls"]) <= 3


def test_other_units_change_words_and_no_place(panel, start):
    before, metric = places(panel.record), panel.record["fields"][1]
    panel.choice.system = "us"
    try:
        first = panel.setup["controls"][0]["readings"][0]
        assert panel.values == start and (panel.controls[0].kind != "length" or first.endswith(" in"))
        assert all(np.array_equal(a, b) for a, b in zip(places(panel.record), before, strict=True))
        if "mm" in metric["across"]["label"]:
            assert panel.record["fields"][1]["across"]["label"].startswith("inches")
    finally:
        panel.choice.system = "metric"
    assert panel.record["fields"][1] == metric


def test_set_values_and_static_are_those_of_any_panel(panel, start):
    ((name, value),) = moved(panel).items()
    panel.set(**{name: 1.01 * value, "nothing": 1.0})
    twin = panel.static()
    assert panel.values == panel.lesson.nearest(start | {name: 1.01 * value}) != start
    assert twin.said == panel.said and panel.said.sentence in str(twin) and panel.said.caution in str(twin)
    assert all(control.label in twin.settings for control in panel.controls)
    assert set(panel._repr_mimebundle_()[0]) >= {"text/html", "text/plain"}


def test_words_for_those_who_hear_it(panel, start):
    assert panel.said.sentence in panel.record["alt"] and panel.record["caution"] == panel.said.caution
    assert panel.said.how_sure == panel.record["sure"]


# guesses


def guess_of(panel):
    asked = panel.record["guessed"]
    knots = [asked["start"] for _ in asked["names"]]
    across = {"x": knots * 2, "y": asked["ends"]}
    shape = {"x": asked["at"], "y": knots} if asked["axis"] == "up" else across
    return {**shape, "knots": knots, "values": panel.values}


def test_a_guess_is_kept_and_answered_in_words(panel, start):
    guess = guess_of(panel)
    record = ask(panel, guess=guess)
    assert record["guess"] == guess and record["reply"]
    after = ask(panel, values=moved(panel), guess=guess)
    assert after["reply"] == record["reply"]  # it was made for the settings it was made for
    plot = panel.paper().axes[panel.record["guessed"]["field"]]
    assert "your guess" in [text.get_text() for text in plot.texts]


@pytest.mark.parametrize("broken", [{"x": "?"}, {"knots": []}, {"values": {}}])
def test_a_broken_guess_breaks_nothing(panel, start, broken):
    ask(panel, guess=guess_of(panel) | broken)
    ask(panel)
    assert panel.trouble is None and panel.record["guess"] is None


# the whole batch: how dry it gets, and what becomes of the verdict


@pytest.fixture(scope="module")
def batch():
    return whole_batch.whole_batch_panel(choice=Choice("metric"))


def verdicts(panel, **values) -> dict[str, str]:
    panel.set(**{one.name: one.start for one in panel.controls} | values)
    return {one["name"]: one["text"] for one in panel.record["numbers"]}


def test_the_line_stands_where_the_rules_ask_until_a_hand_moves_it(batch):
    verdicts(batch)
    line = batch.record["handles"][1]
    assert line["stands"] == line["auto"] == pytest.approx(44.0, abs=1.0) and batch.values["stop_at"] == 0.0
    verdicts(batch, stop_at=0.50)
    moved = batch.record["handles"][1]
    assert moved["stands"] == pytest.approx(50.0) and moved["auto"] == line["auto"]
    verdicts(batch, salt=0.16)
    assert batch.record["handles"][1]["auto"] > line["auto"] + 5


def test_how_dry_and_how_thick_move_the_verdict(batch):
    """The words are those of the rules; moister or thicker is never milder."""
    keep = [verdicts(batch, stop_at=share)["to keep"] for share in (0.42, 0.50, 0.70)]
    assert keep == ["◆ Refrigerator or freezer", "■ Freezer only", "■ Freezer only"]
    eat = [verdicts(batch, thickness=mm / 1000)["to eat"] for mm in (5, 6, 13)]
    assert eat == ["● Ready to eat", "? Not known", "? Not known"]
    assert verdicts(batch, thickness=0.013)["to keep"] == "? Not known"


@pytest.mark.parametrize(("hours", "told"), [(1.0, "too little"), (6.0, "likely range"), (20.0, "too much")])
def test_a_guess_of_the_hours_is_answered(batch, hours, told):
    takes = verdicts(batch)["until the thickest piece is done"]
    reply = whole_batch.reply_whole_batch(batch.result(**batch.values), {"knots": [hours]}, batch.choice)
    assert told in reply and takes in reply


def test_the_words_of_the_rules_are_never_milder_than_the_plan(batch):
    """What is shown at the rules' own weight is rounded to the dry side."""
    verdicts(batch)
    told = float(batch.record["handles"][1]["auto_words"].split()[1])
    assert told <= batch.record["handles"][1]["auto"] < told + 0.1


# paper


def test_paper_shows_the_numbers_dashes_and_hatches_of_the_record(panel, start):
    record = ask(panel, values=moved(panel))
    sheet = panel.paper().axes
    plot = sheet[1]
    for one in record["handles"]:
        assert "line" not in one or one["line"] in [line.get_label() for line in sheet[one["field"]].lines]
    drawn = {line.get_label(): line for line in plot.lines}
    lines = {mark["style"]: mark for mark in record["fields"][1]["marks"] if mark["kind"] == "curve"}
    for style, mark in lines.items():
        np.testing.assert_array_equal(drawn[style].get_ydata(), mark["y"])
        assert (drawn[style].get_linestyle() == "-") == (not drawing.STYLES[style]["dash"])
    np.testing.assert_array_equal(drawn["ghost"].get_xdata(), record["ghost"]["1"]["x"])
    bands = [mark["style"] for mark in record["fields"][1]["marks"] if mark["kind"] == "band"]
    areas = {one.get_label(): one for one in plot.collections}
    assert bands and all(areas[name].get_hatch().startswith(drawing.STYLES[name]["hatch"]) for name in bands)


def test_paper_is_a_small_picture(panel, start):
    assert panel.static().png.startswith(b"\x89PNG") and len(panel.static().png) < 60_000


def test_styles_differ_by_more_than_colour():
    lines = [name for name in drawing.STYLES if name not in ("air", "stop")]
    assert len({tuple(drawing.STYLES[name]["dash"]) for name in lines}) == len(lines)


# the machine, with nothing of fish in it


def toy(compute=lambda depth: depth, **more):
    def draw(depth, _choice):
        line = drawing.curve("now", [0, 1], [0, 1000 * depth])
        plot = {"across": drawing.axis("", 0, 1), "up": drawing.axis("", 0, 9), "marks": [line]}
        return {"fields": [plot], "handles": [], "buttons": [], "trace": {"0": {"x": [0], "y": [depth]}}}

    def tell(depth, choice):
        return Told("It is so.", "as sure as a toy", "a toy", "", (("deep", choice.show(depth, "length")),))

    control = Control("depth", "Depth", "fish", "length", 0.001, 0.009, 0.001, 0.0052)
    return Live(Lesson("Toy", "", (control,), compute, draw, tell, **more), Choice("metric"))


def test_an_answer_says_who_asked_and_which_question():
    record = ask(toy(), serial=7, values={"depth": 0.008})
    assert (record["who"], record["serial"], record["values"]) == ("me", 7, {"depth": 0.008})


def test_trouble_becomes_words_and_no_old_curve_is_left():
    def deep(depth):
        if depth > 0.008:
            raise ValueError("depth is 9 mm; allowed is up to 8 mm")
        return depth

    live = toy(deep)
    record = ask(live, values={"depth": 0.009})
    assert isinstance(live.trouble, ValueError) and "allowed is up to 8 mm" in record["sentence"]
    assert record["fields"][0]["marks"] == [] and not record["numbers"] and record["serial"] == 1
    assert ask(live, values={"depth": 0.008}, rest={"depth": 0.009})["numbers"] and live.trouble is None
    assert "KeyError" in ask(live, values={"depth": None})["sentence"] or live.trouble


def test_the_next_step_is_worked_out_and_not_shown():
    asked = []
    live = toy(lambda depth: asked.append(depth) or depth)
    before = live.record
    live._asked(live, {"ahead": {"depth": 0.007}}, [])
    assert asked == [0.005, 0.007] and live.record is before
    ask(live, values={"depth": 0.007})
    assert asked == [0.005, 0.007]


def test_two_threads_take_turns():
    inside, most = [], []

    def slow(depth):
        inside.append(depth)
        most.append(len(inside))
        threading.Event().wait(0.02)
        inside.remove(depth)
        return depth

    live = toy(slow)
    threads = [threading.Thread(target=ask, args=(live,), kwargs={"values": {"depth": n / 1000}}) for n in (1, 2, 3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert max(most) == 1 and live.trouble is None


def test_a_lesson_may_begin_elsewhere():
    assert toy(start={"depth": 0.0031}).values == {"depth": 0.003}
    assert toy().values == {"depth": 0.005}  # the nearest mark: page and Python would round apart


def test_a_picture_stands_alone_on_paper():
    assert paper_pen.on_paper(toy().record | {"guess": None}).axes


def test_no_picture_for_print_is_drawn_where_nothing_is_stored(monkeypatch):
    shown = toy()
    assert "text/html" in _bundle(shown)
    monkeypatch.setenv(NOTHING_STORED, "1")
    monkeypatch.setattr(shown, "static", lambda: pytest.fail("drawn for print"))
    assert "application/vnd.jupyter.widget-view+json" in _bundle(shown)


def _bundle(shown) -> dict:
    made = shown._repr_mimebundle_()
    return made[0] if isinstance(made, tuple) else made
