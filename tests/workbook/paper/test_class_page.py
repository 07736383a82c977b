"""The teacher's page on the invented logs of the demo class."""

import shutil
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from matplotlib.colors import to_rgba
from PIL import Image
from pypdf import PdfReader

from flakeyard.steps.intent.batch_file import load_batch
from flakeyard.steps.learn import class_log, lessons
from flakeyard.steps.learn.logbook import read_log
from flakeyard.units import InputError
from flakeyard.workbook import words
from flakeyard.workbook.paper import class_page

DEMO = Path(__file__).resolve().parents[3] / "data_demo"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("class")
    for name in ("heron", "kingfisher"):
        for file in (f"{name}.toml", f"{name}-weighings.csv"):
            shutil.copy(DEMO / file, folder / file)
    (folder / "alone.toml").write_text("no log stands beside this one", encoding="utf-8")
    return class_page.write_class(folder, folder / "out")


def test_every_weighing_after_the_start_is_a_row(made):
    table = pd.read_csv(made[0])
    assert list(table.columns) == list(class_page.COLUMNS)
    for name in ("heron", "kingfisher"):
        log = read_log(DEMO / f"{name}-weighings.csv")
        assert (table["group"] == name).sum() == sum(entry.hours > 0 for entry in log.weighings)


def test_what_is_measured_is_the_weight_over_that_as_laid(made):
    table = pd.read_csv(made[0])
    weighings = read_log(DEMO / "heron-weighings.csv").weighings
    first = {entry.tray: entry.mass for entry in weighings if entry.hours == 0}
    for row, entry in zip(
        table[table["group"] == "heron"].itertuples(), (e for e in weighings if e.hours > 0), strict=True
    ):
        assert row.measured_left_percent == pytest.approx(100 * entry.mass / first[entry.tray], abs=0.06)


def test_the_prediction_is_a_band_that_falls_with_the_hours(made):
    table = pd.read_csv(made[0])
    assert (table["predicted_left_low_percent"] < table["predicted_left_mid_percent"]).all()
    assert (table["predicted_left_mid_percent"] < table["predicted_left_high_percent"]).all()
    for _, own in table.groupby(["group", "tray"]):
        assert own.sort_values("hours")["predicted_left_mid_percent"].is_monotonic_decreasing


def test_inside_means_inside(made):
    for row in pd.read_csv(made[0]).itertuples():
        within = (
            row.predicted_left_low_percent - 0.06 <= row.measured_left_percent <= row.predicted_left_high_percent + 0.06
        )
        assert within or row.inside == "no"


def test_sheet_and_words_are_written(made):
    assert [path.name for path in made] == ["class.csv", "class.pdf", "class.png", "class.txt"]
    with Image.open(made[2]) as picture:
        assert picture.size == (1240, 1753)
    text = made[3].read_text(encoding="utf-8")
    for name in ("heron", "kingfisher"):
        assert f"{name}:\n  Keep: " in text
    assert words.caution_line() in text
    (page,) = PdfReader(made[1]).pages
    printed = " ".join(page.extract_text().split())
    for line in text.splitlines():
        if not line.endswith(":"):
            assert " ".join(line.split()[-4:]) in printed


# ---- the sheet


@pytest.fixture(scope="module")
def heron():
    return class_log.group_of("heron", load_batch(DEMO / "heron.toml"), read_log(DEMO / "heron-weighings.csv"))


@pytest.fixture
def eight(heron, monkeypatch):
    """Eight groups that all dried the same, their next step the longest that is told."""
    long = "cut a quarter thinner (3.8 mm, 0.15 in), a quarter less fish"
    monkeypatch.setattr(lessons, "changes", lambda *_: [lessons.Change(long, heron.learned.hours_to_target, 0.4)])
    return [
        replace(heron, name=name) for name in ["alder", "birch", "cedar", "elm", "hazel", "maple", "rowan", "willow"]
    ]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_eight_groups_have_room_on_one_sheet_each_with_a_shape_of_its_own(eight, paper, monkeypatch):
    drawn = []
    monkeypatch.setattr(class_page, "_draw", lambda page, on, group, marker: drawn.append((on, group.name, marker)))
    (page,) = class_page.poster(eight, paper=paper)
    assert page.overfull <= 0
    assert len({marker for _, _, marker in drawn}) == len({name for _, name, _ in drawn}) == 8
    assert all(on.tall > 50 and (on.hours, on.lowest) == (drawn[0][0].hours, drawn[0][0].lowest) for on, _, _ in drawn)
    titles = [text.get_text() for text in page.figure.texts if text.get_fontsize() == 9.5]
    assert titles == [f"{group.name} ({shape})" for group, shape in zip(eight, class_page.SHAPES, strict=True)]


def test_a_ninth_group_begins_another_sheet(eight):
    assert len(class_page.poster([*eight, replace(eight[0], name="yew")])) == 2


def test_nothing_lies_over_the_pictures_but_what_belongs_to_them(eight, monkeypatch):
    """The key and the words stand outside every picture; all is black, white or grey."""
    pictures = []
    real = class_page._draw
    monkeypatch.setattr(class_page, "_draw", lambda page, on, *more: pictures.append(on) or real(page, on, *more))
    (page,) = class_page.poster(eight)
    for text in page.figure.texts:
        x, y = text.get_position()
        left, base = x * page.width, (1 - y) * page.height
        assert not any(on.left < left < on.left + on.width and on.top < base < on.top + on.tall for on in pictures)
    for line in page.figure.lines:
        red, green, blue, _ = to_rgba(line.get_color())
        assert red == green == blue


def test_dots_lie_at_their_hours_and_shares(heron):
    on = class_page.Picture(10.0, 20.0, 300.0, 106.0, 10.0, 0.0)
    assert on.across(5.0) == 160.0 and on.down(class_page.TOP) == 20.0 and on.down(0.0) == 126.0
    assert on.down(0.53) == pytest.approx(73.0)


def test_a_class_that_lies_all_inside_is_said_to_be_too_good_and_an_invented_one_invented(heron, monkeypatch):
    rows = class_log.weighings([heron])
    some = [replace(rows[0], left=2.0), *rows[1:]]
    for weighed, inside in ((rows, len(rows)), (some, len(rows) - 1)):
        monkeypatch.setattr(class_log, "weighings", lambda _, weighed=weighed: weighed)
        told = " ".join(class_page.honesty([heron]))
        assert f"{inside} of {len(rows)} weighings" in told and "Invented logs" in told and "heron" in told
        assert ("too good" in told) == (inside == len(rows))


def test_lost_fish_is_told_its_way_out_and_no_shortcut(heron, monkeypatch):
    monkeypatch.setattr(lessons, "changes", lambda *_: [lessons.Change("hurry", heron.learned.hours_to_target, 0.4)])
    fish = replace(heron.batch.fish, hours_above_4c=30.0)
    old = class_log.group_of("old", replace(heron.batch, fish=fish), heron.log)
    told = class_page.group_words(old)
    assert told[0] == "Keep: ✕ Do not keep. Eat: ✕ Do not eat." and "Hurry" not in told[-1]
    assert told[-1].startswith("Next time: ") and len(told[-1]) > len("Next time: ")
    assert "Hurry: saves about 40 %" in class_page.group_words(heron)[-1]


def test_a_folder_without_pairs_is_refused(tmp_path):
    with pytest.raises(InputError, match="no batch file with a log beside it"):
        class_page.write_class(tmp_path, tmp_path / "out")
    assert not (tmp_path / "out").exists()
