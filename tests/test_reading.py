"""What is read from outside: plain files only, and never more than a page or two can hold reaches a parser."""

import errno
import os
import socket
import tomllib
from unittest.mock import Mock

import pytest
import tomli_w
from hypothesis import given
from hypothesis import strategies as st

from flakeyard import reading
from flakeyard.steps.intent.batch_file import load_batch
from flakeyard.steps.learn.dryer_profile import read_profile
from flakeyard.steps.learn.logbook import read_log
from flakeyard.units import InputError

READERS = (load_batch, read_profile, read_log)


def refused(read, *given_) -> str:
    with pytest.raises(InputError) as caught:
        read(*given_)
    return str(caught.value)


# Files


@pytest.mark.parametrize("read", READERS)
def test_what_is_no_plain_file_is_refused_by_name(read, tmp_path):
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "link.toml").symlink_to(tmp_path / "folder.toml")
    (tmp_path / "round.toml").symlink_to(tmp_path / "round.toml")
    assert "file folder.toml" in refused(read, tmp_path / "folder.toml")
    assert "folder" in refused(read, tmp_path / "link.toml")
    assert "file round.toml" in refused(read, tmp_path / "round.toml")
    assert "no such file" in refused(read, tmp_path / "none.toml")
    assert "no such file" in refused(read, tmp_path / "link-to-none" / "x.toml")
    for name in ("a\0b", "x" * 5000, "\udce9.toml"):
        assert "cannot be used" in refused(read, str(tmp_path / name))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with a name are of Unix")
@pytest.mark.parametrize("read", READERS)
def test_pipes_and_devices_are_never_opened(read, tmp_path, monkeypatch):
    os.mkfifo(tmp_path / "pipe.toml")
    (tmp_path / "link.toml").symlink_to(tmp_path / "pipe.toml")
    listening = socket.socket(socket.AF_UNIX)
    monkeypatch.chdir(tmp_path)
    listening.bind("socket.toml")
    monkeypatch.setattr(reading.os, "open", None)
    for path in ("pipe.toml", "link.toml", "socket.toml", "/dev/zero", "/dev/null"):
        told = refused(read, path)
        assert "device or a pipe" in told and f"file {os.path.basename(path)}" in told
    listening.close()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with a name are of Unix")
def test_a_file_that_becomes_a_pipe_is_not_waited_for(tmp_path, monkeypatch):
    (tmp_path / "plain").write_text("")
    os.mkfifo(tmp_path / "pipe")
    plain = os.stat(tmp_path / "plain")
    monkeypatch.setattr(reading.os, "stat", lambda _path: plain)
    assert "device or a pipe" in refused(reading.read_bytes, tmp_path / "pipe", "log")


@pytest.mark.parametrize("read", READERS)
def test_a_file_that_may_not_be_read(read, tmp_path, monkeypatch):
    """As the system says it to all but the administrator, who may read everything."""
    (tmp_path / "mine.toml").write_text("title = 1")
    monkeypatch.setattr(reading.os, "open", Mock(side_effect=PermissionError(errno.EACCES, "Permission denied")))
    assert "it cannot be read" in refused(read, tmp_path / "mine.toml")


def test_a_file_of_the_largest_size_is_read_and_one_byte_more_is_not(tmp_path):
    path = tmp_path / "x.toml"
    path.write_bytes(b"#" * reading.LARGEST)
    assert len(reading.read_bytes(path, "log")) == reading.LARGEST
    path.write_bytes(b"#" * (reading.LARGEST + 1))
    for read in READERS:
        assert "far too large for a" in refused(read, path)


def test_a_file_that_grows_while_it_is_read_is_not_read_to_its_end(tmp_path, monkeypatch):
    path = tmp_path / "x.toml"
    path.write_bytes(b"")
    small = os.stat(path)
    path.write_bytes(b"#" * (2 * reading.LARGEST))
    monkeypatch.setattr(reading.os, "fstat", lambda _handle: small)
    monkeypatch.setattr(reading.os, "stat", lambda _path: small)
    assert "far too large" in refused(reading.read_bytes, path, "log")


def test_utf8_with_its_mark_or_without(tmp_path):
    path = tmp_path / "x.toml"
    for encoding in ("utf-8", "utf-8-sig"):
        path.write_text('title = "gesalzene Forelle, geräuchert"', encoding=encoding)
        assert reading.read_toml(reading.read_text(path, "batch file"), "x")["title"].endswith("geräuchert")
    for encoding in ("latin-1", "utf-16", "utf-32"):
        path.write_text('title = "geräuchert"', encoding=encoding)
        assert "UTF-8" in refused(reading.read_text, path, "batch file")


# Counts: what is refused never reaches the parser, so neither time nor memory can grow


def dots(count: int, names: int = 1) -> str:
    return "\n".join(f"n{number}" + ".a" * count + " = 1" for number in range(names))


def nested(depth: int) -> str:
    return f"a = {'[' * depth}{']' * depth}"


def wrapped(text: str) -> str:
    return "\n".join(text[at : at + 3900] for at in range(0, len(text), 3900))


HOSTILE = {
    "one long line": "a" * (reading.LONGEST_LINE + 1),
    "many lines": "\n" * (reading.MOST_LINES + 1),
    "many letters": wrapped("#" * reading.LARGEST),
    "a name of 81 kB of dots": dots(40_000),
    "a name of dots": dots(reading.DEEPEST + 1),
    "dots with spaces": "a" + " . a" * 21 + " = 1",
    "dots of quoted names": "a" + ".''" * 21 + " = 1",
    "a heading of dots": "[a" + ".b" * 21 + "]",
    "many names of dots": dots(reading.DEEPEST, 21),
    "arrays in arrays": nested(reading.DEEPEST + 1),
    "arrays in arrays, over lines": wrapped("a = " + "[" * 900_000),
    "tables in tables": "a = " + "{a = " * 21 + "1" + "}" * 21,
    "closed before opened": "a = " + "]" * 900 + "[" * 900,
    "quotes that hide nothing": 'a = "\\"" # "\nb = ' + "[" * 21,
    "a text over lines that hides nothing": 'a = """\\""""\nb = ' + "[" * 21,
    "plain text that hides nothing": "a = '''\\'''\nb = " + "[" * 21,
    "four quotes at the end": 'a = """x""""\nb = ' + "[" * 21,
    "many values": f"a = [{wrapped('1, ' * 2001)}]",
    "many names": "\n".join(f"a{number} = 1" for number in range(2001)),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_what_would_keep_a_parser_busy_never_reaches_it(name, monkeypatch):
    monkeypatch.setattr(reading.tomllib, "loads", None)
    told = refused(reading.read_toml, HOSTILE[name], "file x.toml")
    assert "file x.toml" in told and "at most" in told


@pytest.mark.parametrize(
    "text",
    [
        dots(reading.DEEPEST),
        dots(reading.DEEPEST, 20),
        nested(reading.DEEPEST),
        "a = [[[1.5, 2.5], [3.5]], []]",
        'a = "' + "[" * 400 + '"',
        "a = '" + "." * 400 + "\\'",
        'a = """\n' + "]]]\n[[[" * 50 + '"""',
        "a = '''" + "{" * 400 + "'''",
        "# " + "[" * 3000 + "\na = 1",
        "a" * 3990 + " = 1",
    ],
)
def test_just_within_the_bounds_is_read(text):
    assert reading.read_toml(text, "x") == tomllib.loads(text)


TEXT = st.text(st.characters(exclude_categories=("Cs",)), max_size=30) | st.sampled_from(
    ["[[", ".", '"', "'''", "\\", "#"]
)
VALUE = st.recursive(
    TEXT | st.integers(-9, 9) | st.booleans() | st.floats(allow_nan=False),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
    max_leaves=12,
)


@given(st.dictionaries(TEXT, VALUE, max_size=4), st.booleans())
def test_every_page_that_is_written_is_read_the_same(told, over_lines):
    text = tomli_w.dumps(told, multiline_strings=over_lines)
    assert reading.read_toml(text, "x") == tomllib.loads(text)


def _depth(value) -> int:
    inside = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return bool(isinstance(value, dict | list)) + max(map(_depth, inside), default=0)


@given(VALUE, st.booleans())
def test_brackets_are_counted_as_the_parser_counts_them(value, over_lines):
    """With the bound at the depth that is really there the page is read; with less it is not."""
    text = tomli_w.dumps({"a": [0, value]}, multiline_strings=over_lines)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reading, "DEEPEST", 1 + _depth(value))
        assert reading.read_toml(text, "x")
        if _depth(value):
            patch.setattr(reading, "DEEPEST", _depth(value))
            assert "inside brackets" in refused(reading.read_toml, text, "x")


# Values


@pytest.mark.parametrize(
    "text",
    [
        f"a.b = {10**4000}"[:3990],
        "a.b = 0x" + "f" * 3900,
        "a.b = -9223372036854775809",
        f'a.b = "{"x" * (reading.LONGEST_TEXT + 1)}"',
        'a.b = "\\u0000"',
        'a.b = "\\u001b[2J"',
        'a.b = "\\u0085"',
        'a.b = "Heron\\ufeff"',
        'a.b = "\\u202enoreH"',
        'a.b = ["x", { c = "\\r" }]',
    ],
)
def test_texts_and_numbers_that_nobody_types(text):
    told = refused(reading.check_values, reading.read_toml(text, "x"), "file x.toml")
    assert told.startswith("file x.toml, a.b") and told.isprintable()


def test_more_rows_than_anybody_types():
    rows = [{"what": "salt"}] * (reading.MOST_ROWS + 1)
    assert refused(reading.check_values, {"brine": {"ingredient": rows}}).startswith("brine.ingredient")
    reading.check_values({"brine": {"ingredient": rows[1:]}})
    reading.check_values({"brine": {"ingredient": rows}}, most_rows=len(rows))


def test_texts_and_numbers_as_people_type_them():
    reading.check_values(tomllib.loads('a = ["½ cup", "line\\nand\\ttab", -9223372036854775808]\nb.c = 1e300'))


def test_a_parser_that_gives_up_is_told_as_a_mistake_of_the_page(monkeypatch):
    for trouble in (RecursionError("too deep"), MemoryError(), ValueError("digits")):

        def loads(_text, trouble=trouble):
            raise trouble

        monkeypatch.setattr(reading.tomllib, "loads", loads)
        assert "cannot be read" in refused(reading.read_toml, "a = 1", "x")


def test_a_log_is_bounded_too():
    assert "letters" in refused(read_log, "hours,tray,mass_g\n0,1," + "9" * 4000 + "\n")
    assert "lines" in refused(read_log, "hours,tray,mass_g\n" + "0,1,300\n" * reading.MOST_LINES)
