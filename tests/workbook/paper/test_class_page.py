"""The teacher's page on the invented logs of the demo class."""

import shutil
from pathlib import Path

import pandas as pd
import pytest
from PIL import Image

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


def test_picture_and_words_are_written(made):
    with Image.open(made[1]) as picture:
        assert picture.size[0] > 1000 and len(picture.convert("RGB").getcolors(1 << 20)) > 20
    text = made[2].read_text(encoding="utf-8")
    assert "heron: planned" in text and "kingfisher: planned" in text and words.caution_line() in text


def test_a_folder_without_pairs_is_refused(tmp_path):
    with pytest.raises(InputError, match="no batch file with a log beside it"):
        class_page.write_class(tmp_path, tmp_path / "out")
    assert not (tmp_path / "out").exists()
