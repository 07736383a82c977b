"""The log: what is read, what is refused and how it is said, and that appending loses nothing."""

import os
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flakeyard.steps.learn import log_course
from flakeyard.steps.learn.logbook import append, read_log
from flakeyard.units import InputError

HEAD = "time,tray,mass_g,note"
FIRST = "2026-11-20 17:00,1,322,as laid"
GOOD = f"{HEAD}\n{FIRST}\n2026-11-20 19:00,1,249,\n"


def lines(*rows: str, head: str = HEAD) -> str:
    return "\n".join([head, *rows, ""])


@pytest.mark.parametrize(
    "text",
    [
        GOOD,
        "\ufeff" + GOOD,
        GOOD.replace("\n", "\r\n"),
        GOOD.replace(",", ";"),
        GOOD.replace(",", "\t"),
        "time;tray;mass_g;note\n20.11.2026 17:00;1;322,0;\n20.11.2026 19:00;1;249,0;\n",
        "Time,Tray,Mass (g),Note\n2026-11-20T17:00:00,1,322,\n2026-11-20T19:00,1,249,\n",
        "time,tray,mass_kg\n2026-11-20 17:00,1,0.322\n2026-11-20 19:00,1,0.249\n",
        "# my first batch\n\ntime,tray,mass_g\n17:00,1,322\n19:00,1,249\n",
        "time,tray,mass_g\n5:00 PM,1,322\n7:00 pm,1,249\n",
        "time,tray,mass_g\n11/20/2026 17:00,1,322\n11/20/2026 19:00,1,249\n",
        "time,tray,mass_g\n20/11/2026 17:00,1,322\n20/11/2026 19:00,1,249\n",
        "time,tray,mass_g\n2026-11-20 17:00+01:00,1,322\n2026-11-20 18:00Z,1,249\n",
        "hours,tray,mass_g\n0,1,322\n2,1,249\n",
        'time,tray,mass_g,note\n2026-11-20 17:00,1,"322,0","laid, skin down"\n2026-11-20 19:00,1,"249,0",\n',
    ],
)  # fmt: skip
def test_one_log_in_many_hands(text):
    log = read_log(text)
    assert [(entry.hours, entry.tray, round(entry.mass, 6)) for entry in log.entries] == [
        (0, "1", 0.322),
        (2, "1", 0.249),
    ]


def test_ounces_are_the_avoirdupois_ones():
    # 1 oz = 28.349523125 g exactly (international yard and pound agreement, 1959; from memory)
    log = read_log("hours,tray,mass_oz\n0,1,10\n")
    assert log.entries[0].mass == pytest.approx(0.28349523125, rel=1e-12)


def test_files_of_spreadsheets(tmp_path):
    for encoding in ("utf-8", "utf-8-sig", "utf-16", "cp1252"):
        path = tmp_path / f"{encoding}.csv"
        path.write_bytes(lines(FIRST, "2026-11-20 19:00,1,249,63 °C").encode(encoding))
        assert read_log(path).entries[1].note == "63 °C"


def test_a_night_passes_with_only_the_clock():
    log = read_log("time,tray,mass_g\n23:30,1,322\n00:30,1,300\n06:30,1,200\n")
    assert [entry.hours for entry in log.entries] == [0, 1, 7]


def test_what_came_before_drying_has_hours_below_zero():
    head = "time,tray,mass_g,event,strip_salt_percent"
    log = read_log(
        lines("2026-11-20 16:00,,,,3.1", "2026-11-20 16:30,all,640,drained,", "2026-11-20 17:00,1,322,,", head=head)
    )
    assert [entry.hours for entry in log.entries] == [-1, -0.5, 0]
    assert log.entries[0].readings == {"strip_salt": pytest.approx(0.031)}
    assert log.trays == ("1",)


def test_events_and_readings():
    head = "hours,tray,mass_g,event,dial_f,room_c,room_humidity_percent,water_activity,water_activity_error"
    log = read_log(
        lines("0,1,322,,145,20,50,,", "2,,,pause,,,,,", "3,,,go on,,,,,", "6,thickest,30,,,,,0.84,0.01", head=head)
    )
    assert log.entries[0].readings == pytest.approx({"dial": (145 - 32) / 1.8, "room": 20, "room_humidity": 0.5})
    assert [entry.hours for entry in log.events("pause", "go on")] == [2, 3]
    assert log.entries[3].readings == {"water_activity": 0.84, "water_activity_error": 0.01}
    assert log.until(2.5).last == 2


def test_other_columns_are_left_alone_and_remarked_on():
    log = read_log("hours,tray,mass_g,who\n0,1,322,me\n")
    assert len(log.entries) == 1
    assert "who" in log.remarks[0]


# text, where it must point, what was given, a word of the reason
MALFORMED = {
    "empty": ("\n\n", "log", "nothing", "empty"),
    "no weighing": (HEAD + "\n", "log", "only column names", "no weighing"),
    "mass without unit": ("time,tray,mass\n17:00,1,322\n", "line 1, mass", "mass", "unit is missing"),
    "misspelt column": ("time,tray,mas_g\n17:00,1,322\n", "line 1, mas_g", "mas_g", 'did you mean "mass_g"'),
    "two units": ("time,tray,mass_g,note,mass_oz\n17:00,1,322,,11\n", "line 1, mass_oz", "mass_oz", "another unit"),
    "column twice": ("time,tray,mass_g,mass_g\n17:00,1,322,322\n", "line 1, mass_g", "mass_g", "twice"),
    "no time": ("tray,mass_g\n1,322\n", "line 1", "tray, mass_g", "when"),
    "time and hours": ("time,hours,tray,mass_g\n17:00,0,1,322\n", "line 1", "time, hours, tray, mass_g", "when"),
    "no mass": ("time,tray,note\n17:00,1,laid\n", "line 1", "time, tray, note", "no column holds a mass"),
    "gain": (lines(FIRST, "2026-11-20 19:00,1,331,"), "line 3, mass", "331 g", "gained more than 2 %"),
    "time backwards": (lines(FIRST, "2026-11-20 16:00,1,249,"), "line 3, time", "2026-11-20 16:00", "backwards"),
    "hours backwards": ("hours,tray,mass_g\n2,1,322\n1,1,300\n", "line 3, hours", 1.0, "backwards"),
    "mass zero": (lines(FIRST, "2026-11-20 19:00,1,0,"), "line 3, mass_g", "0", "cannot be"),
    "mass below zero": (lines(FIRST, "2026-11-20 19:00,1,-249,"), "line 3, mass_g", "-249", "cannot be"),
    "unit in the cell": (lines(FIRST, "2026-11-20 19:00,1,249 g,"), "line 3, mass_g", "249 g", "unit belongs"),
    "word for mass": (lines(FIRST, "2026-11-20 19:00,1,light,"), "line 3, mass_g", "light", "not a number"),
    "not a number": (lines(FIRST, "2026-11-20 19:00,1,nan,"), "line 3, mass_g", "nan", "not a number"),
    "thousands": ('time;tray;mass_g\n17:00;1;1,249\n', "line 2, mass_g", "1,249", "thousands"),
    "digit missing": (lines(FIRST, "2026-11-20 19:00,1,24,"), "line 3, mass", "24 g", "digit missing"),
    "decimal comma": (lines("2026-11-20 17:00,1,322,5,laid"), "line 2", "2026-11-20 17:00,1,322,5,laid", "decimal comma"),
    "two weights": (lines(FIRST, "2026-11-20 17:00,1,310,"), "line 3, mass", "310 g", "two weights"),
    "time missing": (lines(FIRST, ",1,249,"), "line 3, time", "nothing", "needed"),
    "time in words": (lines(FIRST, "in the evening,1,249,"), "line 3, time", "in the evening", "not understood"),
    "day or month": ("time,tray,mass_g\n11/12/2026 17:00,1,322\n", "line 2, time", "11/12/2026 17:00", "day first"),
    "no such day": (lines(FIRST, "2026-11-31 19:00,1,249,"), "line 3, time", "2026-11-31 19:00", "not understood"),
    "zone and none": (lines(FIRST, "2026-11-20 19:00Z,1,249,"), "line 3, time", "2026-11-20 19:00Z", "zone"),
    "tray missing": (lines(FIRST, "2026-11-20 19:00,,249,"), "line 3, tray", "nothing", "which tray"),
    "quotes": (lines(FIRST, '2026-11-20 19:00,1,249,"open'), "line 3", '2026-11-20 19:00,1,249,"open', "quotes"),
    "unknown event": ("hours,tray,mass_g,event\n0,1,322,paus\n", "line 2, event", "paus", 'did you mean "pause"'),
    "pause twice": ("hours,tray,mass_g,event\n0,1,322,\n1,,,pause\n2,,,pause\n", "line 4, event", "pause", "has not ended"),
    "no pause": ("hours,tray,mass_g,event\n0,1,322,\n1,,,go on\n", "line 3, event", "go on", "no pause"),
    "taken out, not weighed": ("hours,tray,mass_g,event\n0,1,322,\n1,1,,taken out\n", "line 3, mass", "nothing", "must be weighed"),
    "dial too hot": ("hours,tray,mass_g,dial_c\n0,1,322,145\n", "line 2, dial_c", "145", "outside"),
    "oven made it heavier": ("hours,tray,mass_g,oven_dry_g\n6,1,24,30\n", "line 2, oven_dry_g", "30", "less than"),
}  # fmt: skip


@pytest.mark.parametrize("name", MALFORMED)
def test_what_cannot_be_is_refused_with_line_and_column(name):
    text, where, given, why = MALFORMED[name]
    with pytest.raises(InputError) as refused:
        read_log(text)
    mistake = refused.value
    assert mistake.field.endswith(where)
    assert mistake.given == given
    assert why in mistake.why
    assert mistake.allowed and mistake.example


def test_the_table_of_malformed_logs_is_long():
    assert len(MALFORMED) >= 25


@pytest.mark.parametrize("content", [b"PK\x03\x04\x00\x00 a zipped sheet\n", b"\xff\xfe\x00"])
def test_bytes_that_are_not_text(tmp_path, content):
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    with pytest.raises(InputError, match=r"log\.csv"):
        read_log(path)


def test_no_file_and_a_folder(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        read_log(tmp_path / "none.csv")
    with pytest.raises(InputError, match="folder"):
        read_log(tmp_path)


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(text):
    try:
        read_log(HEAD + "\n" + text)
    except InputError as mistake:
        assert str(mistake)


@given(st.lists(st.floats(0.0, 0.2), min_size=1, max_size=8))
def test_any_falling_course_is_read_as_written(losses):
    mass, rows, masses = 400.0, [], []
    for hour, loss in enumerate(losses):
        mass *= 1 - loss
        masses.append(round(mass, 1))
        rows.append(f"{hour},1,{masses[-1]}")
    if masses[-1] < 1.02 * log_course.LEAST_LEFT * masses[0]:
        return
    log = read_log("hours,tray,mass_g\n" + "\n".join(rows) + "\n")
    assert [round(1000 * entry.mass, 6) for entry in log.entries] == masses


def test_appending_begins_a_file_and_goes_on(tmp_path):
    path = tmp_path / "log.csv"
    append(path, time="2026-11-20 17:00", tray=1, mass_g=322, note="laid, skin down")
    log = append(path, time="2026-11-20 19:00", tray=1, mass_g=249.5)
    assert [round(1000 * entry.mass, 3) for entry in log.entries] == [322, 249.5]
    assert read_log(path) == log
    assert log.clock(0.5) == "2026-11-20 17:30"
    assert log.began + timedelta(hours=2) == read_log(path).began + timedelta(hours=log.last)


@pytest.mark.parametrize("ending", ["\n", "\r\n", ""])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_appending_keeps_every_byte_before(tmp_path, encoding, ending):
    path = tmp_path / "log.csv"
    before = f"time;tray;mass_g;note{ending or chr(10)}20.11.2026 17:00;1;322,5;63 °C{ending}".encode(encoding)
    path.write_bytes(before)
    append(path, time="20.11.2026 19:00", tray=1, mass_g=249.5)
    after = path.read_bytes()
    assert after.startswith(before)
    assert "249,5".encode(encoding.replace("-sig", "").replace("utf-16", "utf-16-le")) in after


def test_a_refused_row_changes_nothing(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(GOOD, encoding="utf-8")
    with pytest.raises(InputError, match="gained more"):
        append(path, time="2026-11-20 21:00", tray=1, mass_g=300)
    with pytest.raises(InputError, match="no such column"):
        append(path, time="2026-11-20 21:00", tray=1, mass_oz=7)
    assert path.read_text(encoding="utf-8") == GOOD
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_crash_while_writing_loses_nothing(tmp_path, monkeypatch, step):
    path = tmp_path / "log.csv"
    path.write_text(GOOD, encoding="utf-8")

    def crash(*_):
        raise OSError("power cut")

    monkeypatch.setattr(os, step, crash)
    with pytest.raises(OSError, match="power cut"):
        append(path, time="2026-11-20 21:00", tray=1, mass_g=200)
    assert path.read_text(encoding="utf-8") == GOOD
