"""Files are whole or as they were, nothing that stands only once is lost, and programs that save at once take turns."""

import ast
import errno
import io
import multiprocessing
import os
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

from flakeyard import files
from flakeyard.files import kept_copies, refuse_overwrite, turn, why, write_whole
from flakeyard.messages import say
from flakeyard.steps.learn import logbook
from flakeyard.units import InputError

SAVES = 150
BODY = "a line of a file that is long enough to be caught half written\n" * 40


def contents(path: Path) -> list[str]:
    """The file and its copies, from old to new."""
    return [one.read_text(encoding="utf-8") for one in (*reversed(kept_copies(path)), path)]


def numbers(path: Path) -> list[int]:
    return [int(copy.stem.rpartition("-")[2]) for copy in reversed(kept_copies(path))]


def only_files(folder: Path, *names: str) -> None:
    """Nothing is left over but the list of copies."""
    assert {path.name for path in folder.iterdir()} - {files.LEDGER} == set(names)


def refuse(number: int):
    """Something the system refuses."""

    def refusing(*_given, **_options):
        raise OSError(number, os.strerror(number))

    return refusing


# One program


def test_a_file_appears_and_is_replaced(tmp_path):
    path = tmp_path / "page.html"
    assert write_whole(path, "über\n") == path and path.read_bytes() == "über\n".encode()
    assert write_whole(str(path), b"\x00\r\n") == path and path.read_bytes() == b"\x00\r\n"
    only_files(tmp_path, "page.html")


def test_older_files_stay_as_numbered_copies(tmp_path):
    path = tmp_path / "mine.toml"
    for text in ("one", "two", "three"):
        write_whole(path, text, keep_copy=True)
    assert contents(path) == ["one", "two", "three"] and numbers(path) == [1, 2]
    only_files(tmp_path, "mine.toml", "mine-1.toml", "mine-2.toml")


def test_the_same_content_is_kept_once(tmp_path):
    path = tmp_path / "mine.toml"
    for text in ("one", "one", "one", "two", "one"):
        write_whole(path, text, keep_copy=True)
    assert contents(path) == ["one", "two", "one"]


def test_names_without_a_suffix_and_with_odd_letters(tmp_path):
    for name in ("batch", "b[a]*(t).c+h", "two.parts.toml"):
        for text in ("one", "two"):
            write_whole(tmp_path / name, text, keep_copy=True)
        assert contents(tmp_path / name) == ["one", "two"]


def test_numbers_rise_and_a_free_one_below_is_not_filled(tmp_path):
    path = tmp_path / "mine.toml"
    for text in ("one", "two", "three"):
        write_whole(path, text, keep_copy=True)
    (tmp_path / "mine-1.toml").unlink()
    (tmp_path / "mine-3.toml").mkdir()
    write_whole(path, "four", keep_copy=True)
    assert numbers(path) == [2, 4] and contents(path) == ["two", "three", "four"]


def test_the_newest_copies_are_kept(tmp_path):
    path = tmp_path / "mine.toml"
    for number in range(1, files.COPIES + 13):
        write_whole(path, f"{number}", keep_copy=True)
    assert numbers(path) == list(range(12, files.COPIES + 12))
    assert contents(path) == [f"{number}" for number in range(12, files.COPIES + 13)]


def test_a_file_of_ones_own_is_never_taken_for_an_old_copy(tmp_path, monkeypatch):
    monkeypatch.setattr(files, "COPIES", 3)
    path, own, mended = tmp_path / "mine.toml", tmp_path / "mine-1.toml", tmp_path / "mine-3.toml"
    own.write_text("my second batch", encoding="utf-8")
    for number in range(4):
        write_whole(path, f"{number}", keep_copy=True)
    mended.write_text("a copy gone on with", encoding="utf-8")
    for number in range(4, 12):
        write_whole(path, f"{number}", keep_copy=True)
    assert own.read_text(encoding="utf-8") == "my second batch"
    assert mended.read_text(encoding="utf-8") == "a copy gone on with"
    assert numbers(path) == [1, 3, 10, 11, 12]


@pytest.mark.parametrize("ledger", [b"", b"\xff\xfe nonsense", b"../other.toml\n  \n0  mine-1.toml"])
def test_a_spoilt_list_of_copies_only_means_that_more_stay(tmp_path, monkeypatch, ledger):
    path = tmp_path / "mine.toml"
    for text in ("one", "two"):
        write_whole(path, text, keep_copy=True)
    (tmp_path / files.LEDGER).write_bytes(ledger)
    monkeypatch.setattr(files, "COPIES", 1)
    for text in ("three", "four"):
        write_whole(path, text, keep_copy=True)
    assert contents(path) == ["one", "three", "four"]


def test_a_link_and_modes_stay_as_they_were(tmp_path):
    (tmp_path / "there").mkdir()
    path, link = tmp_path / "there" / "mine.toml", tmp_path / "mine.toml"
    path.write_text("one", encoding="utf-8")
    path.chmod(0o640)
    link.symlink_to(path)
    write_whole(link, "two", keep_copy=True)
    assert link.is_symlink() and path.stat().st_mode & 0o777 == 0o640
    assert contents(path) == ["one", "two"]


def test_a_new_file_has_the_mode_that_new_files_have(tmp_path):
    (tmp_path / "usual").write_text("")
    path = write_whole(tmp_path / "mine.toml", "one")
    assert path.stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_only_a_file_is_replaced(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    for place in (tmp_path, tmp_path / "pipe", Path(os.devnull)):
        with pytest.raises(OSError, match="not a file"):
            write_whole(place, "one", keep_copy=True)
    assert not Path(os.devnull).is_file()
    only_files(tmp_path, "pipe")


def test_a_protected_file_stays(tmp_path, monkeypatch):
    path = write_whole(tmp_path / "mine.toml", "one")
    monkeypatch.setattr(os, "access", lambda _path, _mode: False)  # as for anybody but the superuser
    with pytest.raises(PermissionError, match="protected"):
        write_whole(path, "two", keep_copy=True)
    assert contents(path) == ["one"]


# File systems and faults


@pytest.mark.parametrize(
    "missing", [OSError(errno.EPERM, "no"), PermissionError(), NotImplementedError(), AttributeError()]
)
def test_without_hard_links_copies_are_made_all_the_same(tmp_path, monkeypatch, missing):
    def no_link(*_names):
        raise missing

    monkeypatch.setattr(os, "link", no_link)
    path = tmp_path / "mine.toml"
    for number in range(6):
        write_whole(path, f"{number}", keep_copy=True)
    assert contents(path) == [f"{number}" for number in range(6)] and numbers(path) == [1, 2, 3, 4, 5]


def test_a_name_that_is_taken_meanwhile_is_never_overwritten(tmp_path, monkeypatch):
    """With and without hard links: another program makes the copy's file just before."""
    path, really = write_whole(tmp_path / "mine.toml", "one"), os.link

    def late(old, new, link=True):
        if not Path(new).exists() and new.name in ("mine-1.toml", "mine-3.toml"):
            new.write_text("another's", encoding="utf-8")
        return really(old, new) if link else refuse(errno.EPERM)()

    monkeypatch.setattr(os, "link", late)
    write_whole(path, "two", keep_copy=True)
    monkeypatch.setattr(os, "link", lambda old, new: late(old, new, link=False))
    write_whole(path, "three", keep_copy=True)
    assert contents(path) == ["another's", "one", "another's", "two", "three"]


class FullDisk(io.FileIO):
    """A file on a disk with room for a few bytes."""

    def write(self, content) -> int:
        super().write(bytes(content)[:7])
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def full_disk(path, mode="r", *_given, **_options):
    return FullDisk(path, mode.replace("b", ""))


FAULTS = {
    "full disk": ("builtins.open", full_disk),
    "full disk, late": ("os.fsync", refuse(errno.ENOSPC)),
    "no room for a name": ("builtins.open", refuse(errno.ENOSPC)),
    "read-only folder": ("builtins.open", refuse(errno.EACCES)),
    "read-only disk": ("builtins.open", refuse(errno.EROFS)),
    "read-only at the last move": ("os.replace", refuse(errno.EACCES)),
    "no lock can be made": ("os.open", refuse(errno.ENOSPC)),
}


@pytest.mark.parametrize("links", [True, False])
@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_leaves_the_old_file_and_nothing_else(tmp_path, monkeypatch, fault, links):
    path = tmp_path / "mine.toml"
    for text in ("one", "two"):
        write_whole(path, text, keep_copy=True)
    with monkeypatch.context() as broken:
        broken.setattr(*FAULTS[fault])
        if not links:
            broken.setattr("os.link", refuse(errno.EPERM))
        with pytest.raises(OSError) as caught:
            write_whole(path, "three", keep_copy=True)
    assert why(caught.value).startswith(("the disk is full", "this folder"))
    assert path.read_text(encoding="utf-8") == "two" and contents(path)[0] == "one"
    assert set(contents(path)) == {"one", "two"}
    assert not [one for one in tmp_path.iterdir() if one.name.endswith(".part") or one.name == files.TURN]
    write_whole(path, "three", keep_copy=True)  # the fault is over
    assert contents(path) == ["one", "two", "three"]


def test_a_copy_that_has_no_room_leaves_the_old_file(tmp_path, monkeypatch):
    """Without hard links the copy itself may find the disk full: the second thing that is put down."""
    path, seen, really = write_whole(tmp_path / "mine.toml", "one"), [], os.fsync
    monkeypatch.setattr(os, "link", refuse(errno.EPERM))
    monkeypatch.setattr(os, "fsync", lambda handle: refuse(errno.ENOSPC)() if seen else seen.append(really(handle)))
    with pytest.raises(OSError, match=os.strerror(errno.ENOSPC)):
        write_whole(path, "two", keep_copy=True)
    assert path.read_text(encoding="utf-8") == "one"
    only_files(tmp_path, "mine.toml")


def test_what_comes_after_the_move_cannot_spoil_it(tmp_path, monkeypatch):
    path = write_whole(tmp_path / "mine.toml", "one")
    monkeypatch.setattr(files, "_digest", refuse(errno.EIO))  # asked for by the list of copies
    monkeypatch.setattr(files, "_numbered", lambda _path: [])
    monkeypatch.setattr(files, "_keep", lambda _path: tmp_path / "mine-1.toml")
    assert write_whole(path, "two", keep_copy=True).read_text(encoding="utf-8") == "two"


@pytest.mark.parametrize(("number", "words"), [(n, w) for n, w in files.WHY.items()])
def test_why_is_told_in_plain_words(number, words):
    told = why(OSError(number, "E_SOMETHING"))
    assert told.startswith(say(f"disk.{words}")) and "E_SOMETHING" not in told and "press the button again" in told


def test_any_other_trouble_is_told_as_it_came():
    assert why(OSError("no PDF came")).startswith("no PDF came. Mend that, then")
    assert why(OSError(errno.EIO, "Input/output error")).startswith("Input/output error. Mend that, then")


KILLED = """
import os, sys
from flakeyard import files
path, at, links, count = sys.argv[1], sys.argv[2], sys.argv[3], int(sys.argv[4])
if links == "no":
    def no_link(*_): raise PermissionError
    os.link = no_link
really, left = getattr(os, at), [count]
def killed(*given, **how):
    if left[0] == 0:
        os._exit(9)
    left[0] -= 1
    return really(*given, **how)
setattr(os, at, killed)
files.write_whole(path, "three " * 5000, keep_copy=True)
"""


@pytest.mark.parametrize(
    ("at", "links", "count"),
    [("fsync", "yes", 0), ("replace", "yes", 0), ("link", "yes", 0), ("fsync", "no", 1), ("replace", "no", 0), ("replace", "no", 1)],
)  # fmt: skip
def test_a_run_killed_in_the_middle_leaves_the_old_file_whole(tmp_path, at, links, count):
    path = tmp_path / "mine.toml"
    for text in ("one", "two"):
        write_whole(path, text, keep_copy=True)
    done = subprocess.run([sys.executable, "-c", KILLED, str(path), at, links, str(count)], timeout=60, check=False)
    assert done.returncode == 9
    assert path.read_text(encoding="utf-8") == "two"
    assert set(contents(path)) <= {"one", "two", ""}  # a name without content at most, and never half a copy
    assert [one for one in tmp_path.iterdir() if files.SCRATCH.fullmatch(one.name)]
    begun = time.monotonic()
    write_whole(path, "four", keep_copy=True)
    assert time.monotonic() - begun < files.WAIT / 2  # a killed run's turn has ended with it
    assert path.read_text(encoding="utf-8") == "four" and "two" in contents(path)


def left_over(folder: Path, run: int, age: float, token: str = "0123456789abcdef") -> Path:
    path = folder / f".flakeyard-{run}-{token}.part"
    path.write_text("half a fi", encoding="utf-8")
    os.utime(path, (time.time() - age,) * 2)
    return path


def test_only_old_files_of_runs_that_have_ended_are_swept(tmp_path):
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    old = left_over(tmp_path, ended.pid, 2 * files.OLD)
    beyond = left_over(tmp_path, 9_999_999_999, 2 * files.OLD)  # a number of another system
    young = left_over(tmp_path, ended.pid, files.OLD / 2, "f" * 16)
    alive = left_over(tmp_path, os.getppid(), 2 * files.OLD)
    other = tmp_path / ".mine.part"
    other.write_text("not ours", encoding="utf-8")
    os.utime(other, (0, 0))
    write_whole(tmp_path / "mine.toml", "one")
    assert not old.exists() and not beyond.exists()
    only_files(tmp_path, "mine.toml", young.name, alive.name, other.name)


# Several programs at once


def without(what: str) -> None:
    """A file system that lacks something."""
    if what == "links":
        os.link = refuse(errno.EPERM)
    elif what == "locks":
        files.fcntl = files.msvcrt = None


def save_many(path: Path, name: str, saves: int, lacking: str, copies: int, start, told) -> None:
    """One program: it saves so many times, and reads in between what others may be writing."""
    without(lacking)
    files.COPIES = copies
    done, trouble = 0, []
    start.wait(60)
    for number in range(saves):
        try:
            write_whole(path, f"{name} {number}\n{BODY}", keep_copy=True)
            done += 1
            if not path.read_text(encoding="utf-8").endswith(f"\n{BODY}"):
                trouble.append("half a file")
        except Exception as mistake:
            trouble.append(repr(mistake))
    told.put((done, trouble))


def together(worker, *arguments: tuple) -> list:
    """Run a worker in a process of its own for each set of arguments, and gather what they put away."""
    context = multiprocessing.get_context("spawn")
    start, told = context.Barrier(len(arguments)), context.Queue()
    runs = [context.Process(target=worker, args=(*given, start, told)) for given in arguments]
    for run in runs:
        run.start()
    gathered = [told.get(timeout=60) for _ in runs]
    for run in runs:
        run.join(timeout=60)
    assert [run.exitcode for run in runs] == [0] * len(runs)
    return gathered


@pytest.mark.parametrize(
    ("programs", "saves", "lacking"), [(2, SAVES, ""), (4, SAVES, ""), (3, 40, "links"), (3, 40, "locks")]
)
def test_programs_that_save_at_once_lose_nothing(tmp_path, programs, saves, lacking):
    path, cap = tmp_path / "mine.toml", programs * saves
    gathered = together(save_many, *((path, f"program {one}", saves, lacking, cap) for one in range(programs)))
    assert gathered == [(saves, [])] * programs
    assert numbers(path) == list(range(1, programs * saves))
    found = Counter(text.partition("\n")[0] for text in contents(path))
    assert found == Counter(f"program {one} {number}" for one in range(programs) for number in range(saves))
    assert all(text.endswith(f"\n{BODY}") for text in contents(path))
    kept = {copy.name for copy in kept_copies(path)}
    only_files(tmp_path, "mine.toml", *kept)


def test_programs_that_save_at_once_keep_the_newest_copies(tmp_path):
    path, saves = tmp_path / "mine.toml", 40
    gathered = together(save_many, *((path, f"program {one}", saves, "", files.COPIES) for one in range(2)))
    assert gathered == [(saves, [])] * 2
    assert numbers(path) == list(range(2 * saves - files.COPIES, 2 * saves))
    only_files(tmp_path, "mine.toml", *(copy.name for copy in kept_copies(path)))


def append_many(path: Path, name: str, rows: int, start, told) -> None:
    start.wait(60)
    try:
        for row in range(rows):
            logbook.append(path, time="2026-11-20 17:00", tray=f"{name}{row}", mass_g=300 + row)
        told.put(rows)
    except Exception as mistake:
        told.put(repr(mistake))


def test_programs_that_append_at_once_lose_no_row(tmp_path):
    path, rows = tmp_path / "log.csv", 40
    assert together(append_many, *((path, name, rows) for name in "abc")) == [rows] * 3
    found = [(entry.tray, round(1000 * entry.mass)) for entry in logbook.read_log(path).entries]
    assert sorted(found) == sorted((f"{name}{row}", 300 + row) for name in "abc" for row in range(rows))
    only_files(tmp_path, "log.csv")


def test_a_turn_that_does_not_end_is_told(tmp_path, monkeypatch):
    path = write_whole(tmp_path / "mine.toml", "one")
    monkeypatch.setattr(files, "WAIT", 0.05)
    with turn(path), pytest.raises(TimeoutError) as caught:
        write_whole(path, "two", keep_copy=True)
    assert why(caught.value).startswith("another program is writing here")
    assert contents(path) == ["one"]
    write_whole(path, "two", keep_copy=True)
    only_files(tmp_path, "mine.toml", "mine-1.toml")


def test_without_locks_a_killed_run_holds_its_turn_for_a_while_only(tmp_path, monkeypatch):
    monkeypatch.setattr(files, "fcntl", None)
    monkeypatch.setattr(files, "msvcrt", None)
    path, mark = write_whole(tmp_path / "mine.toml", "one"), tmp_path / f"{files.TURN}-taken"
    mark.write_text("")
    monkeypatch.setattr(files, "WAIT", 0.05)
    with pytest.raises(TimeoutError):
        write_whole(path, "two", keep_copy=True)
    os.utime(mark, (time.time() - 2 * files.STALE,) * 2)
    write_whole(path, "three", keep_copy=True)
    assert contents(path) == ["one", "three"]
    assert not mark.exists()


# Where a file is to go


@pytest.fixture
def batch(tmp_path, monkeypatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return write_whole(tmp_path / "mine.toml", "one")


@pytest.mark.parametrize("output", ["mine.toml", "./mine.toml", "there/../mine.toml", "link.toml", "hard.toml"])
def test_an_input_is_never_overwritten(batch, output):
    Path("there").mkdir()
    Path("link.toml").symlink_to(batch)
    os.link(batch, "hard.toml")
    with pytest.raises(InputError, match="would overwrite") as caught:
        refuse_overwrite(output, None, "there", batch)
    assert caught.value.field == "output" and caught.value.given == output


def test_an_output_that_is_yet_to_come_may_be_a_name_for_an_input(batch):
    Path("link.toml").symlink_to("later.toml")
    with pytest.raises(InputError, match="would overwrite"):
        refuse_overwrite("link.toml", "later.toml")


@pytest.mark.parametrize(
    ("output", "why_not"), [(".", "folder"), ("cards/", "folder"), ("pipe", "pipe"), (os.devnull, "device")]
)
def test_an_output_is_a_file(batch, output, why_not):
    os.mkfifo("pipe")
    with pytest.raises(InputError, match=why_not):
        refuse_overwrite(output, batch)


def test_other_files_may_be_replaced(batch):
    write_whole("old.pdf", "old")
    for output in ("new.pdf", "old.pdf", Path("old.pdf"), "no-such-folder/new.pdf"):
        refuse_overwrite(output, batch, None)
    refuse_overwrite("mine.toml")


def test_files_stand_on_nothing_but_messages_and_units():
    tree = ast.walk(ast.parse(Path(files.__file__).read_text(encoding="utf-8")))
    assert {node.module for node in tree if isinstance(node, ast.ImportFrom) and "flakeyard" in node.module} == {
        "flakeyard.messages",
        "flakeyard.units",
    }
