"""Every command, asked rightly and wrongly: how it ends, what it says, and that no file which is read is written over."""

import builtins
import functools
import io
import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import flakeyard
from flakeyard import cli
from flakeyard.steps.learn import learning
from flakeyard.steps.plan import plan
from flakeyard.workbook.pages import kitchen_page
from flakeyard.workbook.paper import handout, sheet

ROOT = Path(__file__).parents[1]
HERON, LOG = ROOT / "data_demo" / "heron.toml", ROOT / "data_demo" / "heron-weighings.csv"
DRYER = ROOT / "tests" / "old_files" / "heron-dryer.toml"
MEMBERS = 48  # whether there is a result, not how sure it is


@pytest.fixture(autouse=True)
def few_members(monkeypatch):
    monkeypatch.setattr(plan, "plan", functools.partial(plan.plan, members=MEMBERS))
    monkeypatch.setattr(kitchen_page, "exported", functools.partial(kitchen_page.exported, members=MEMBERS))
    for name in ("learn", "prior_course"):
        quick = functools.partial(getattr(learning, name), members=MEMBERS, sketch=True)
        monkeypatch.setattr(learning, name, quick)


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder of good and bad files to work in."""
    monkeypatch.chdir(tmp_path)
    Path("heron.toml").write_bytes(HERON.read_bytes())
    Path("heron-weighings.csv").write_bytes(LOG.read_bytes())
    Path("dryer.toml").write_bytes(DRYER.read_bytes())
    Path("otter.toml").write_bytes((HERON.parent / "otter.toml").read_bytes())
    Path("otter.csv").write_bytes((HERON.parent / "otter-weighings.csv").read_bytes())
    Path("link.toml").symlink_to("heron.toml")
    Path("latin.toml").write_bytes('title = "geräuchert"'.encode("latin-1"))
    Path("large.toml").write_bytes(b"#" * 2_000_000)
    Path("empty").write_bytes(b"")
    Path("bad.toml").write_text("title = \nserving = 3")
    Path("folder").mkdir()
    Path("groups").mkdir()
    for file in ("heron.toml", "heron-weighings.csv"):
        Path("groups", file).write_bytes(Path(file).read_bytes())
    if hasattr(os, "mkfifo"):
        os.mkfifo("pipe")
    return tmp_path


def ended(*words: str) -> int:
    """The exit code of a command."""
    try:
        return cli.main(list(words))
    except SystemExit as end:
        return end.code or 0


def contents(folder: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


WEIGHED = "log heron.toml heron-weighings.csv"
TABLE = (  # words, exit code, what it says
    ("plan heron.toml", 0, "TO KEEP:"),
    ("plan heron.toml --json", 0, '"verdict"'),
    ("plan heron.toml --units us", 0, "TO EAT:"),
    ("plan link.toml", 0, "TO KEEP:"),
    ("plan heron.toml --ways", 0, "Single changes"),
    ("plan heron.toml --all", 0, "Why this verdict"),
    ("plan heron.toml --debug", 0, "TO KEEP:"),
    ("--debug plan heron.toml", 0, "TO KEEP:"),
    ("plan", 2, "required"),
    ("plan nothing.toml", 2, "no such file"),
    ("plan folder", 2, "a folder, not a file"),
    ("plan .", 2, "a folder, not a file"),
    ("plan pipe", 2, "a device or a pipe"),
    ("plan /dev/zero", 2, "a device or a pipe"),
    ("plan latin.toml", 2, "UTF-8"),
    ("plan large.toml", 2, "2 MB are far too large"),
    ("plan empty", 2, "[fish]"),
    ("plan bad.toml", 2, "line 1"),
    ("plan heron-weighings.csv", 2, "file heron-weighings.csv"),
    ("plan \udce9\x1b[2J.toml", 2, "no such file"),
    (f"plan {'x' * 3000}", 2, "cannot be read"),
    ("plan heron.toml --units imperial", 2, "invalid choice"),
    ("plan heron.toml --nonsense", 2, "unrecognized"),
    ("plan heron.toml otter.toml", 2, "unrecognized"),
    (WEIGHED, 0, "What weighing taught"),
    (f"{WEIGHED} --json", 0, '"learned"'),
    (f"{WEIGHED} --units metric", 0, "STOP:"),
    (f"{WEIGHED} --all", 0, "TO KEEP:"),
    ("log otter.toml otter.csv --profile dryer.toml", 0, "STOP:"),
    ("log otter.toml otter.csv --dryer dryer.toml", 0, "STOP:"),
    (f"{WEIGHED} --dryer nothing.toml", 2, "no such file"),
    ("begin folder", 2, "this is a folder"),
    ("begin pipe", 2, "a device or a pipe"),
    ("begin bad.toml", 2, "line 1"),
    ("begin latin.toml", 2, "UTF-8"),
    ("begin dryer.toml", 2, "not known here"),
    (f"{WEIGHED} --keep-profile new.toml", 0, "written: new.toml"),
    ("log heron.toml nothing.csv", 2, "no such file"),
    ("log nothing.toml heron-weighings.csv", 2, "no such file"),
    ("log heron.toml heron.toml", 2, "file heron.toml"),
    ("log heron.toml folder", 2, "a folder, not a file"),
    ("log heron.toml pipe", 2, "a device or a pipe"),
    ("log heron.toml empty", 2, "empty"),
    ("log heron.toml large.toml", 2, "far too large for a log"),
    (f"{WEIGHED} --scale 2_m", 2, "--scale"),
    (f"{WEIGHED} --scale 0_g", 2, "--scale"),
    (f"{WEIGHED} --profile nothing.toml", 2, "no such file"),
    (f"{WEIGHED} --profile heron.toml", 2, "nothing learned"),
    (f"{WEIGHED} --profile dryer.toml", 2, "count twice"),
    (f"{WEIGHED} --keep-profile heron.toml", 2, "read here"),
    (f"{WEIGHED} --keep-profile link.toml", 2, "read here"),
    (f"{WEIGHED} --keep-profile folder/../heron-weighings.csv", 2, "read here"),
    ("log otter.toml otter.csv --profile dryer.toml --keep-profile dryer.toml", 2, "read here"),
    (f"{WEIGHED} --keep-profile folder", 2, "this is a folder"),
    (f"{WEIGHED} --keep-profile none/new.toml", 2, "cannot be written"),
    ("card heron.toml -o card.pdf --start 2026-12-05_18:00", 0, "written: card.pdf"),
    ("card heron.toml -o card.pdf --units us --paper letter", 0, "written: card.pdf"),
    ("card heron.toml", 0, "written: heron-card.pdf"),
    ("card nothing.toml", 2, "no such file"),
    ("card heron.toml --start tomorrow", 2, "start"),
    ("card heron.toml --start 9999-12-31", 2, "1970 to 2199"),
    ("card heron.toml --start 0001-01-01_00:00", 2, "1970 to 2199"),
    ("card heron.toml -o heron.toml", 2, "read here"),
    ("card link.toml -o heron.toml", 2, "read here"),
    ("card heron.toml -o folder", 2, "this is a folder"),
    ("card heron.toml -o pipe", 2, "a device or a pipe"),
    ("card heron.toml -o none/card.pdf", 2, "cannot be written"),
    ("card heron.toml --paper a5", 2, "invalid choice"),
    ("kitchen heron.toml", 0, "written: heron-kitchen.html"),
    ("kitchen heron.toml -o page.html --units us", 0, "written: page.html"),
    ("kitchen nothing.toml", 2, "no such file"),
    ("kitchen link.toml -o heron.toml", 2, "read here"),
    ("kitchen heron.toml -o none/page.html", 2, "cannot be written"),
    ("kitchen heron.toml --units both", 2, "invalid choice"),
    ("logbook nothing.toml --no-browser", 2, "no such file"),
    ("logbook heron.toml heron.toml --no-browser", 2, "read here"),
    ("logbook heron.toml folder --no-browser", 2, "this is a folder"),
    ("print -o folder", 2, "this is a folder"),
    (f"print -o {ROOT / 'workbooks' / 'worksheets' / '02-brine.md'}", 2, "read here"),
    ("handout heron.toml", 2, "a folder is meant"),
    (f"handout {ROOT / 'workbooks'}", 2, "read here"),
    ("explorers heron.toml", 2, "a folder is meant"),
    ("explorers new --batch nothing.toml", 2, "no such file"),
    ("class groups -o new", 0, "written: new"),
    ("class groups -o groups", 2, "read here"),
    ("class groups -o ./folder/../groups/", 2, "read here"),
    ("class groups -o heron.toml", 2, "a folder is meant"),
    ("class folder", 2, "no batch file"),
    ("class nothing", 2, "no batch file"),
    ("serve --port 99999", 2, "--port"),
    ("serve --port eight", 2, "invalid int"),
    ("serve --token short", 2, "--token"),
    ("serve --learners 0", 2, "--learners"),
    ("serve --idle-minutes nan", 2, "--idle-minutes"),
    ("kit heron.toml", 2, "a folder is meant"),
    (f"kit {ROOT}", 2, "read here"),
    ("kit new --platform none", 2, "--platform"),
    ("kit new --python 2.7", 2, "--python"),
    ("kit new --without wheels --without wings", 2, "--without"),
    ("--version", 0, f"flakeyard {flakeyard.__version__}"),
    ("--help", 0, "exit codes:"),
    ("card --help", 0, "--paper"),
    ("swim", 2, "invalid choice"),
    ("", 2, "required"),
)


@pytest.mark.parametrize(("words", "code", "said"), TABLE, ids=[f"{n} {row[0][:60]!a}" for n, row in enumerate(TABLE)])
def test_how_a_command_ends(words, code, said, place, capsys):
    """Underscores stand for spaces inside a word. What was there before is there after, bit by bit."""
    before = contents(place)
    assert ended(*(word.replace("_", " ") for word in words.split(" ") if word)) == code
    out, errors = capsys.readouterr()
    assert said in (out if code == 0 and "written: new.toml" not in said else errors)
    assert "Traceback" not in errors and all(sign.isprintable() or sign == "\n" for sign in out + errors)
    after = contents(place)
    assert {path: after.get(path) for path in before} == before
    assert code == 0 or not set(after) - set(before)


def test_there_are_enough_commands():
    assert len(TABLE) >= 60 and {words.split(" ")[0] for words, _, _ in TABLE} >= {
        "begin", "plan", "log", "card", "kitchen", "logbook", "print", "handout", "explorers", "class", "serve", "kit",
    }  # fmt: skip


@pytest.mark.parametrize("ending", ["csv", "png", "txt"])
def test_the_page_of_a_class_does_not_fall_on_a_log_by_a_link(ending, place, capsys):
    Path("new").mkdir()
    Path("new", f"class.{ending}").symlink_to(place / "groups" / "heron-weighings.csv")
    assert ended("class", "groups", "-o", "new") == 2
    assert "read here" in capsys.readouterr().err


def test_the_forecast_is_out_before_a_profile_is_written(place, capsys, monkeypatch):
    def full(*_given):
        assert "TO KEEP:" in capsys.readouterr().out
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("flakeyard.steps.learn.dryer_profile.write_profile", full)
    assert ended(*WEIGHED.split(), "--keep-profile", "new.toml") == 2
    assert "new.toml cannot be written: No space left" in capsys.readouterr().err


def test_a_kept_profile_leaves_json_alone(place, capsys):
    assert ended(*WEIGHED.split(), "--json", "--keep-profile", "new.toml") == 0
    assert json.loads(capsys.readouterr().out)["learned"] and Path("new.toml").exists()


def test_what_may_not_be_read_or_written_is_told(place, capsys, monkeypatch):
    def denied(path, *_given, **_named):
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(sheet, "write_whole", denied)
    assert ended("card", "heron.toml", "-o", "card.pdf") == 2
    assert "card.pdf cannot be written: Permission denied" in capsys.readouterr().err
    monkeypatch.setattr(handout, "write_handouts", denied)
    assert ended("handout", "new", "--no-pdf") == 2
    assert "new cannot be written" in capsys.readouterr().err
    monkeypatch.setattr(builtins, "open", denied)
    assert ended("plan", "heron.toml") == 2
    assert "it cannot be read: Permission denied" in capsys.readouterr().err


# Our own mistakes


def fails(trouble: BaseException):
    def compute(*_given, **_named):
        raise trouble

    return compute


@pytest.mark.parametrize(
    "trouble",
    [
        ZeroDivisionError("division by zero"),
        ValueError("water = 2 is impossible"),
        RecursionError("maximum recursion depth"),
        MemoryError(),
        ModuleNotFoundError("No module named 'flakeyard.nets'", name="flakeyard.nets"),
        FileNotFoundError(2, "No such file", str(cli.HOME / "data" / "none.csv")),
        KeyError("\x1b[2J\udce9" * 999),
    ],
)
def test_a_mistake_of_ours_is_called_that(trouble, place, capsys, monkeypatch):
    monkeypatch.setattr(plan, "plan", fails(trouble))
    assert ended("plan", "heron.toml", "--units", "us") == 3
    told = capsys.readouterr().err
    for words in ("mistake of the program", flakeyard.__version__, "command: plan, file heron.toml, units us"):
        assert words in told
    assert type(trouble).__name__ in told and "test_commands.py" in told and "Traceback" not in told
    assert len(told.splitlines()) <= 10 and all(line.isprintable() for line in told.splitlines())
    assert ended("plan", "heron.toml", "--debug") == 3
    assert "Traceback" in capsys.readouterr().err


def test_a_password_is_not_repeated(capsys, monkeypatch):
    from flakeyard import room

    monkeypatch.setattr(room, "serve", fails(ZeroDivisionError("x")))
    assert ended("serve", "--token", "heron-otter-5") == 3
    told = capsys.readouterr().err
    assert "command: serve, ip 127.0.0.1" in told and "otter" not in told


def test_a_part_that_is_not_installed_is_told_with_how_to_install_it(capsys, monkeypatch):
    monkeypatch.setitem(sys.modules, "jupyterlab", None)
    assert ended("open") == 2
    assert "pip install 'flakeyard[lab]'" in capsys.readouterr().err
    monkeypatch.delitem(sys.modules, "flakeyard.room", raising=False)
    monkeypatch.delattr(flakeyard, "room", raising=False)
    monkeypatch.setitem(sys.modules, "voila.app", None)
    assert ended("serve") == 2
    assert "pip install 'flakeyard[room]'" in capsys.readouterr().err


def test_a_tool_that_fails_is_told(place, capsys, monkeypatch):
    monkeypatch.setattr("flakeyard.kit.collect", fails(subprocess.CalledProcessError(1, ["pip", "wheel"])))
    assert ended("kit", "new") == 2
    assert "'pip', 'wheel'" in capsys.readouterr().err


# Terminals


def encoded(monkeypatch, encoding: str) -> io.BytesIO:
    """Standard output as a strict stream of an encoding."""
    received = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(received, encoding=encoding))
    return received


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "cp437", "utf-8", "utf-16"])
@pytest.mark.parametrize("words", ["plan heron.toml", WEIGHED, "check", "kit --help", "card heron.toml -o né–à.pdf"])
def test_no_terminal_is_too_poor(words, encoding, place, monkeypatch):
    received = encoded(monkeypatch, encoding)
    assert ended(*words.split()) == 0
    assert received.getvalue().decode(encoding)
    if encoding == "ascii" and words.startswith("plan"):
        assert b" 70 degC (158 degF)" in received.getvalue()


@pytest.mark.parametrize("encoding", ["ascii", "cp437", "utf-8"])
def test_json_says_the_same_on_every_terminal(encoding, place, monkeypatch):
    text = Path("heron.toml").read_text(encoding="utf-8").replace("Heron, first evening", "Heron ½ – Ω")
    Path("heron.toml").write_text(text, encoding="utf-8")
    told = []
    for one in ("utf-8", encoding):
        received = encoded(monkeypatch, one)
        assert ended("plan", "heron.toml", "--json") == 0
        told.append(json.loads(received.getvalue().decode(one)))
    assert told[0] == told[1]


def test_names_of_any_bytes_are_told(place, monkeypatch, capsys):
    received = encoded(monkeypatch, "utf-8")
    assert ended("card", "heron.toml", "-o", "\udce9.pdf") == 0
    assert "written: ?.pdf" in received.getvalue().decode("utf-8")


def test_no_output_at_all(place, monkeypatch):
    monkeypatch.setattr(sys, "stdout", None)
    assert ended("plan", "heron.toml") == 0


@pytest.mark.parametrize("columns", ["0", "-5", "1", "20", "80", "9" * 30, "wide", ""])
def test_no_width_of_a_terminal_matters(columns, place, monkeypatch, capsys):
    monkeypatch.setenv("COLUMNS", columns)
    for words, code in (("--help", 0), ("log --help", 0), ("plan heron.toml", 0), ("plan", 2), ("plan nothing", 2)):
        assert ended(*words.split()) == code
    assert "Traceback" not in capsys.readouterr().err


def test_the_help_names_every_exit_code_and_fits_a_terminal(monkeypatch, capsys):
    monkeypatch.setenv("COLUMNS", "80")
    assert ended("--help") == 0
    told = capsys.readouterr().out
    assert max(map(len, told.splitlines())) <= 80
    for code in (cli.RESULT, cli.CHECK_FAILED, cli.INPUT, cli.OURS, cli.STOPPED):
        assert f"\n  {code:<5}" in told


def test_ctrl_c_ends_without_a_traceback(place, capsys, monkeypatch):
    monkeypatch.setattr(plan, "plan", fails(KeyboardInterrupt()))
    assert ended("plan", "heron.toml") == 130
    assert capsys.readouterr().err == "flakeyard: stopped\n"


SLOW = (
    "import sys, time; from flakeyard import cli; from flakeyard.steps.plan import plan\n"
    "plan.plan = lambda batch: print('computing', flush=True) or time.sleep(60)\n"
    f"sys.exit(cli.main(['plan', {str(HERON)!r}]))"
)


@pytest.mark.skipif(os.name == "nt", reason="signals of this kind are not there")
def test_a_real_ctrl_c():
    with subprocess.Popen(
        [sys.executable, "-c", SLOW], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as run:
        assert run.stdout.readline() == "computing\n"
        run.send_signal(signal.SIGINT)
        _, errors = run.communicate(timeout=30)
    assert run.returncode == 130 and errors.endswith("flakeyard: stopped\n") and "Traceback" not in errors


@pytest.mark.skipif(os.name == "nt", reason="a closed pipe looks otherwise there")
@pytest.mark.parametrize("words", [("check",), ("--help",), ("plan", str(HERON))])
@pytest.mark.parametrize("buffered", ["", "1"])
def test_a_closed_pipe_is_quiet(words, buffered):
    command = [sys.executable, "-m", "flakeyard.cli", *words]
    environment = os.environ | {"PYTHONUNBUFFERED": buffered}
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment) as run:
        run.stdout.close()
        errors = run.stderr.read()
    others = [line for line in errors.splitlines() if not line.startswith("flakeyard: still ")]  # a busy machine
    assert (run.returncode, others) == (0, [])


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="there is no full disk to write to")
@pytest.mark.parametrize("buffered", ["", "1"])
def test_a_full_disk_behind_the_output_is_told(buffered):
    command = [sys.executable, "-m", "flakeyard.cli", "check"]
    with open("/dev/full", "w") as full:
        environment = os.environ | {"PYTHONUNBUFFERED": buffered}
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, env=environment)
    assert done.returncode == 2 and "written" in done.stderr and "Traceback" not in done.stderr


def test_a_terminal_of_ascii():
    command = [sys.executable, "-m", "flakeyard.cli", "kit", "--help"]
    done = subprocess.run(command, capture_output=True, env=os.environ | {"PYTHONIOENCODING": "ascii"})
    assert done.returncode == 0 and b"macos-arm64 ..." in done.stdout and not done.stderr


def test_the_package_is_run_by_its_name():
    done = subprocess.run([sys.executable, "-m", "flakeyard", "--version"], capture_output=True, text=True)
    assert (done.returncode, done.stdout.split()) == (0, ["flakeyard", flakeyard.__version__])
