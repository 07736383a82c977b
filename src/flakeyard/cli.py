"""The command `flakeyard`: open the course, plan a batch from a file, check the formulas against published values.

However it ends, it ends with one of the numbers of ENDS and with words: what cannot be used is told and left alone, no
file that is read is written over, and what is the program's own mistake is called that.
"""

from __future__ import annotations

import argparse
import codecs
import json
import os
import re
import shutil
import subprocess
import sys
import textwrap
import threading
import traceback
from collections.abc import Iterable
from contextlib import contextmanager, suppress
from pathlib import Path

from flakeyard import __version__
from flakeyard.messages import say

HOME = Path(__file__).resolve().parent
COPY = "flakeyard-class"
RESULT, CHECK_FAILED, INPUT, OURS, STOPPED = 0, 1, 2, 3, 130
ENDS = (RESULT, CHECK_FAILED, INPUT, OURS, STOPPED)  # what each exit code means: cli.ends.… of the messages
SECRET = ("run", "debug", "token")  # never repeated in a report
SPELLED = {  # for terminals without these signs; others become "?"
    "°": "deg", "×": "x", "–": "-", "—": "-", "−": "-", "…": "...", "²": "2", "³": "3", "≤": "<=", "≥": ">=", "±": "+-",
    "½": " 1/2", "¼": " 1/4", "¾": " 3/4", "\u00a0": " ", "“": '"', "”": '"', "‘": "'", "’": "'",
    "●": "(o)", "◆": "<>", "■": "[]", "✕": "X",
}  # fmt: skip
CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")  # what a terminal might obey


def main(arguments: list[str] | None = None) -> int:
    """Run one command; returns the exit code, see ENDS."""
    for stream in (sys.stdout, sys.stderr):
        with suppress(AttributeError):  # none at all, or one that is not a terminal, a file or a pipe
            stream.reconfigure(errors="flakeyard")
    try:
        try:
            return _run(_parser().parse_args(arguments))
        finally:
            if sys.stdout:
                sys.stdout.flush()
    except BrokenPipeError:  # whoever reads has seen enough
        _let_go(sys.stdout, sys.stderr)
        return RESULT
    except ValueError as mistake:  # a language that is not there
        from flakeyard.units import InputError

        if not isinstance(mistake, InputError):
            raise
        return _tell(str(mistake), INPUT)
    except OSError as trouble:  # the disk behind ">" is full
        _let_go(sys.stdout)
        return _tell(say("cli.no_output", trouble=trouble.strerror or trouble), INPUT)
    except KeyboardInterrupt:
        return _tell(say("cli.stopped"), STOPPED)


def _run(given: argparse.Namespace) -> int:
    from flakeyard.units import InputError

    try:
        return given.run(given)
    except BrokenPipeError:
        raise
    except InputError as mistake:
        return _tell(str(mistake), INPUT)
    except ModuleNotFoundError as lacking:
        if not str(lacking.name).startswith("flakeyard"):
            return _tell(_not_installed(lacking.name, given.command), INPUT)
        return _tell_ours(lacking, given)
    except (OSError, subprocess.SubprocessError) as trouble:
        if _of_the_package(getattr(trouble, "filename", None)):
            return _tell_ours(trouble, given)
        return _tell(_what_failed(trouble), INPUT)
    except Exception as mistake:
        return _tell_ours(mistake, given)


def _tell(words: str, code: int) -> int:
    """Say something on the error stream, even where nobody can read it any more; returns the exit code."""
    with suppress(OSError):
        print(f"flakeyard: {words}", file=sys.stderr, flush=True)
    return code


def _say(text: str) -> None:
    """Print what may hold words of a file."""
    print(CONTROL.sub("?", text))


def _say_json(told: dict) -> None:
    """Print one JSON object, with letters beyond ASCII only where the other side reads UTF-8."""
    name = codecs.lookup(getattr(sys.stdout, "encoding", None) or "ascii").name
    print(json.dumps(told, ensure_ascii=name != "utf-8", indent=2))


def _spelled(trouble: UnicodeError) -> tuple[str, int]:
    """What stands in for signs that a stream cannot carry."""
    if not isinstance(trouble, UnicodeEncodeError):
        raise trouble
    signs = trouble.object[trouble.start : trouble.end]
    return "".join(SPELLED.get(sign, "?") for sign in signs), trouble.end


codecs.register_error("flakeyard", _spelled)


def _let_go(*streams) -> None:
    """Leave the interpreter nothing to write at its end, where writing fails."""
    for stream in streams:
        with suppress(OSError, ValueError, AttributeError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _not_installed(name: str | None, command: str) -> str:
    part = {"serve": "room", "card": "paper", "print": "paper"}.get(command, "lab")
    return say("cli.not_installed", name=name, part=part)


def _what_failed(trouble: Exception) -> str:
    from flakeyard.units import one_line

    where = getattr(trouble, "filename", None)
    told = one_line(getattr(trouble, "strerror", None) or str(trouble), 200)
    return say("cli.unusable", where=one_line(where, 100), told=told) if where else say("cli.unreadable", told=told)


def _of_the_package(path) -> bool:
    return isinstance(path, str | os.PathLike) and HOME in Path(path).absolute().parents


def _tell_ours(mistake: Exception, given: argparse.Namespace) -> int:
    """Say that the mistake is ours, and what to send in."""
    from flakeyard.units import one_line

    if given.debug:
        traceback.print_exc()
    at = traceback.extract_tb(mistake.__traceback__)[-1]
    options = (f"{name} {told}" for name, told in vars(given).items() if name not in (*SECRET, "command") and told)
    lines = (
        f"flakeyard {__version__}, Python {sys.version.split()[0]}, {sys.platform}",
        f"command: {given.command}, {', '.join(options)}",
        f"{type(mistake).__name__} in {Path(at.filename).name}, line {at.lineno}: {mistake}",
    )
    told = "\n".join(f"  {one_line(line, 240)}" for line in lines)
    return _tell(f"{textwrap.fill(say('cli.ours'), 98)}\n{told}", OURS)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="flakeyard", description=say("cli.help.flakeyard"), epilog=_ends(),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    parser.add_argument("--version", action="version", version=f"flakeyard {__version__}")
    parser.set_defaults(debug=False)
    commands = parser.add_subparsers(required=True, metavar="COMMAND", dest="command")
    for add in (_add_open, _add_batches, _add_papers, _add_class, _add_words, _add_serve, _add_kit):
        add(commands)
    checking = commands.add_parser("check", help=say("cli.help.check"))
    checking.set_defaults(run=_check)
    for one in (parser, *commands.choices.values()):
        one.add_argument(
            "--debug",
            action="store_true",
            default=argparse.SUPPRESS,
            help=say("cli.help.debug"),
        )
    return parser


def _ends() -> str:
    """What the exit codes mean."""
    lines = [
        textwrap.fill(say(f"cli.ends.{code}"), 79, initial_indent=f"  {code:<5}", subsequent_indent=" " * 7)
        for code in ENDS
    ]
    return "\n".join([say("cli.ends"), *lines])


def _add_open(commands) -> None:
    opening = commands.add_parser("open", help=say("cli.help.open"))
    opening.add_argument("--no-browser", action="store_true", help=say("cli.help.no_browser"))
    opening.set_defaults(run=_open)


def _add_units(command) -> None:
    command.add_argument("--units", choices=("metric", "us", "both"), default="both", help=say("cli.help.units"))


def _add_units_of_a_file(command, otherwise: str = "both") -> None:
    """``otherwise``: what a file gets that is not told in US units throughout."""
    known = ("metric", "us", "both") if otherwise == "both" else ("metric", "us")
    command.add_argument("--units", choices=known, help=say(f"cli.help.units.{otherwise}"))
    command.set_defaults(otherwise=otherwise)


def _units(given, batch) -> str:
    """The units asked for, else those that the batch was told in."""
    from flakeyard.workbook.which_units import told_in

    return given.units or ("us" if told_in(batch.typed) == "us" else given.otherwise)


def _add_paper(command) -> None:
    command.add_argument("--paper", choices=("a4", "letter"), default="a4", help=say("cli.help.paper"))


def _add_batches(commands) -> None:
    beginning = commands.add_parser("begin", help=say("cli.help.begin"))
    beginning.add_argument("file", nargs="?", default="my-batch.toml", help=say("cli.help.begin.file"))
    beginning.set_defaults(run=_begin)
    planning = commands.add_parser("plan", help=say("cli.help.plan"))
    planning.add_argument("file", help=say("cli.help.plan.file"))
    planning.add_argument("--all", action="store_true", help=say("cli.help.all"))
    planning.add_argument("--json", action="store_true", help=say("cli.help.json"))
    planning.add_argument("--ways", action="store_true", help=say("cli.help.ways"))
    _add_wishes(planning)
    _add_units_of_a_file(planning)
    planning.set_defaults(run=_plan)
    logging = commands.add_parser("log", help=say("cli.help.log"))
    logging.add_argument("file", help=say("cli.help.log.file"))
    logging.add_argument("log", help=say("cli.help.log.log"))
    logging.add_argument("--all", action="store_true", help=say("cli.help.all"))
    logging.add_argument("--json", action="store_true", help=say("cli.help.json"))
    _add_units_of_a_file(logging)
    logging.add_argument("--scale", help=say("cli.help.scale"))
    known = say("cli.help.dryer")
    logging.add_argument("--dryer", "--profile", dest="profile", metavar="FILE", help=known)
    logging.add_argument("--keep-profile", metavar="FILE", help=say("cli.help.keep_profile"))
    logging.set_defaults(run=_log)


def _add_wishes(planning) -> None:
    wishes = planning.add_argument_group("wishes", say("cli.help.wishes"))
    wishes.add_argument("--raw", metavar="MASS", help=say("cli.help.raw"))
    wishes.add_argument("--for", dest="dried", metavar="MASS", help=say("cli.help.dried"))
    wishes.add_argument("--salt", metavar="SHARE", help=say("cli.help.salt"))
    wishes.add_argument("--done-by", metavar="DAY", help=say("cli.help.done_by"))
    wishes.add_argument("--no-work", metavar="HOURS", help=say("cli.help.no_work"))
    wishes.add_argument("--carry", metavar="DAYS", help=say("cli.help.carry"))


def _add_papers(commands) -> None:
    carding = commands.add_parser("card", help=say("cli.help.card"))
    carding.add_argument("file", help=say("cli.help.batch_file"))
    carding.add_argument("-o", "--output", help=say("cli.help.card.output"))
    carding.add_argument("--start", help=say("cli.help.card.start"))
    _add_units_of_a_file(carding)
    _add_paper(carding)
    carding.set_defaults(run=_card)
    phoning = commands.add_parser("kitchen", help=say("cli.help.kitchen"))
    phoning.add_argument("file", help=say("cli.help.batch_file"))
    phoning.add_argument("-o", "--output", help=say("cli.help.kitchen.output"))
    _add_units_of_a_file(phoning, "metric")
    phoning.set_defaults(run=_kitchen)
    booking = commands.add_parser("logbook", help=say("cli.help.logbook"))
    booking.add_argument("file", help=say("cli.help.batch_file"))
    booking.add_argument("log", nargs="?", help=say("cli.help.logbook.log"))
    _add_units_of_a_file(booking, "metric")
    booking.add_argument("--no-browser", action="store_true", help=say("cli.help.no_browser"))
    booking.set_defaults(run=_logbook)
    printing = commands.add_parser("print", help=say("cli.help.print"))
    printing.add_argument("-o", "--output", default="worksheets.pdf", help=say("cli.help.print.output"))
    _add_units(printing)
    _add_paper(printing)
    printing.set_defaults(run=_print)
    handing = commands.add_parser("handout", help=say("cli.help.handout"))
    handing.add_argument("folder", help=say("cli.help.folder"))
    _add_paper(handing)
    handing.add_argument("--no-pdf", action="store_true", help=say("cli.help.no_pdf"))
    handing.set_defaults(run=_handout)
    exploring = commands.add_parser("explorers", help=say("cli.help.explorers"))
    exploring.add_argument("folder", help=say("cli.help.folder"))
    exploring.add_argument("--batch", help=say("cli.help.explorers.batch"))
    exploring.set_defaults(run=_explorers)


def _add_class(commands) -> None:
    classing = commands.add_parser("class", help=say("cli.help.class"))
    classing.add_argument("folder", help=say("cli.help.class.folder"))
    classing.add_argument("-o", "--output", default="class", help=say("cli.help.class.output"))
    _add_units(classing)
    _add_paper(classing)
    classing.set_defaults(run=_class)


def _add_words(commands) -> None:
    wording = commands.add_parser("words", help=say("cli.words.help"))
    wording.add_argument("file", help=say("cli.words.file"))
    wording.set_defaults(run=_words)


def _add_serve(commands) -> None:
    serving = commands.add_parser("serve", help=say("cli.help.serve"))
    serving.add_argument("--ip", default="127.0.0.1", help=say("cli.help.ip"))
    serving.add_argument("--port", type=int, default=8866, help=say("cli.help.port"))
    serving.add_argument("--token", help=say("cli.help.token"))
    serving.add_argument("--learners", type=int, default=40, help=say("cli.help.learners"))
    serving.add_argument("--idle-minutes", type=float, default=30, help=say("cli.help.idle"))
    serving.set_defaults(run=_serve)


def _add_kit(commands) -> None:
    kitting = commands.add_parser("kit", help=say("cli.help.kit"))
    kitting.add_argument("folder", help=say("cli.help.kit.folder"))
    kitting.add_argument("--platform", action="append", help=say("cli.help.platform"))
    kitting.add_argument("--python", action="append", help=say("cli.help.python"))
    kitting.add_argument("--without", action="append", default=[], help=say("cli.help.without"))
    kitting.set_defaults(run=_kit)
    sticking = commands.add_parser("stick", help=say("cli.help.stick"))
    sticking.add_argument("folder", help=say("cli.help.kit.folder"))
    sticking.add_argument("--batch", action="append", default=[], help=say("cli.help.stick.batch"))
    sticking.set_defaults(run=_stick)


def _begin(given) -> int:
    from flakeyard.workbook import begin

    return begin.begin(given.file)


def _plan(given) -> int:
    from datetime import datetime

    from flakeyard.steps.plan import plan as batches
    from flakeyard.steps.plan import ways, wishes
    from flakeyard.workbook.paper import wishes_text
    from flakeyard.workbook.paper.kitchen import kitchen
    from flakeyard.workbook.paper.report import report

    now = datetime.now()
    wish = wishes_text.read_wish(given.raw, given.dried, given.salt, given.done_by, given.no_work, given.carry, now)
    with _patience("plan"):
        batch = batches.load_batch(given.file)
        wished = None if wish == wishes.Wish() else wishes.granted(batch, wish, now)
        outcome, units = batches.plan(batch) if wished is None else wished.outcome, _units(given, batch)
        if given.json:
            from flakeyard.steps.learn.worth import worths

            told = outcome.as_dict() | ways.told(outcome, given.ways) | {"measure_next": worths(outcome).as_dict()}
            told |= {"wishes": wished.as_dict()} if wished else {}
        elif given.all:
            unmet, loads = (wishes_text.first(wished, units), wished.loads) if wished else ([], 1)
            told = "\n\n".join(
                [*(textwrap.fill(line, 80) for line in unmet), report(outcome, units, given.ways, loads)]
            )
        else:
            told = kitchen(outcome, units, given.ways, wished=wished)
    (_say_json if given.json else _say)(told)
    return RESULT


def _log(given) -> int:
    from flakeyard.files import refuse_overwrite
    from flakeyard.steps.learn import dryer_profile, learning
    from flakeyard.units import read_amount

    if given.keep_profile is not None:
        refuse_overwrite(given.keep_profile, given.file, given.log, given.profile)
    step = given.scale and read_amount(given.scale, "mass", "--scale", low=0.00001, high=1.0, example='"2 g"').value
    profile = dryer_profile.read_profile(given.profile) if given.profile else None
    with _patience("log"):
        learned = learning.learn_files(given.file, given.log, profile=profile, scale=learning.scale_of(step))
    if given.json:
        _say_json(learned.as_dict())
    else:
        from flakeyard.workbook.paper.log_text import log_text
        from flakeyard.workbook.paper.report import log_report

        _say((log_report if given.all else log_text)(learned, _units(given, learned.plan.batch)))
    if given.keep_profile is None:
        return RESULT
    sys.stdout.flush()  # the forecast is out, whatever becomes of the profile
    kept = learned.profile(profile.title if profile else "", profile)
    return _written(given.keep_profile, lambda path: dryer_profile.write_profile(kept, path), sys.stderr)


def _card(given) -> int:
    from flakeyard.files import refuse_overwrite
    from flakeyard.steps.plan import plan as batches
    from flakeyard.steps.plan import timetable
    from flakeyard.workbook.paper import card
    from flakeyard.workbook.paper import sheet as paper

    output = given.output or f"{Path(given.file).stem}-card.pdf"
    refuse_overwrite(output, given.file)
    start = timetable.read_start(given.start)
    with _patience("plan"):
        outcome = batches.plan(batches.load_batch(given.file))
    pages = card.batch_card(outcome, start, _units(given, outcome.batch), given.paper)
    return _written(output, lambda path: paper.save_pdf(pages, path, card.title(outcome), keep_copy=True))


def _kitchen(given) -> int:
    from flakeyard.files import refuse_overwrite
    from flakeyard.steps.intent.batch_file import load_batch
    from flakeyard.workbook.pages import kitchen_page

    output = given.output or f"{Path(given.file).stem}-kitchen.html"
    refuse_overwrite(output, given.file)
    with _patience("page"):
        batch = load_batch(given.file)
        page = kitchen_page.kitchen_page(batch, _units(given, batch), Path(given.file).stem)
    return _written(output, lambda path: kitchen_page.write_page(page, path))


def _logbook(given) -> int:
    from flakeyard.files import refuse_overwrite
    from flakeyard.steps.intent.batch_file import load_batch
    from flakeyard.workbook.pages import logbook_page

    log = Path(given.log) if given.log else Path(given.file).with_name(f"{Path(given.file).stem}-weighings.csv")
    refuse_overwrite(log, given.file)
    with suppress(KeyboardInterrupt):
        logbook_page.serve(given.file, log, _units(given, load_batch(given.file)), not given.no_browser, _say)
    return RESULT


def _words(given) -> int:
    from flakeyard import messages
    from flakeyard.files import write_whole

    path = Path(given.file)
    words = messages.to_fill_in(messages.read_language(path) if path.exists() else ())
    return _written(given.file, lambda file: write_whole(file, words, keep_copy=True))


def _print(given) -> int:
    from flakeyard.files import refuse_overwrite
    from flakeyard.workbook.paper import worksheets

    course = course_folder()
    for path in (given.output, worksheets.leader_path(given.output)):
        refuse_overwrite(path, *worksheets.worksheet_files(course))
    with _patience("worksheets"):
        done = _written(
            given.output, lambda path: worksheets.write_worksheets(course, path, given.paper, given.units)[0]
        )
    if done == RESULT:
        _say(say("worksheet.leader_written", path=worksheets.leader_path(given.output)))
    return done


def _handout(given) -> int:
    from flakeyard.workbook.paper import handout

    course = course_folder()
    _refuse_folder(given.folder, course / "workbooks", course)
    chromium = None if given.no_pdf else handout.find_chromium()
    with _patience("handouts"):
        done = _written(
            given.folder, lambda folder: handout.write_handouts(course, Path(folder), given.paper, chromium)[0]
        )
    if not chromium and not given.no_pdf:
        print(say("cli.no_chromium"))
    return done


def _explorers(given) -> int:
    from flakeyard.files import refuse_overwrite
    from flakeyard.steps.plan import plan as batches
    from flakeyard.workbook import own
    from flakeyard.workbook.pages import explorers

    _refuse_folder(given.folder, course_folder())
    for name in explorers.all_files():
        refuse_overwrite(Path(given.folder, name), given.batch)
    batch = batches.load_batch(given.batch) if given.batch else own.demo_batch("heron")

    def tell(line: str) -> None:
        _tell(line, RESULT)

    return _written(given.folder, lambda folder: explorers.write_explorers(batch, Path(folder), tell)[-1].parent)


def _serve(given) -> int:
    from flakeyard import room

    return room.serve(course_folder(), given.ip, given.port, given.token, given.learners, given.idle_minutes)


def _kit(given) -> int:
    from flakeyard import kit

    _refuse_folder(given.folder, course_folder())
    return kit.collect(course_folder(), Path(given.folder), given.platform, given.python, given.without)


def _stick(given) -> int:
    from flakeyard import stick

    _refuse_folder(given.folder, course_folder())
    return _written(given.folder, lambda folder: stick.fill(course_folder(), Path(folder), given.batch).parent)


def _class(given) -> int:
    from flakeyard.files import refuse_overwrite
    from flakeyard.workbook.paper import class_page

    _refuse_folder(given.output, given.folder)
    read = [path for ending in ("toml", "csv") for path in Path(given.folder).glob(f"*.{ending}")]
    for ending in ("csv", "pdf", "png", "txt"):
        refuse_overwrite(Path(given.output, f"class.{ending}"), *read)
    with _patience("logs"):
        done = _written(
            given.output, lambda out: class_page.write_class(given.folder, out, given.units, given.paper)[0].parent
        )
    if done == RESULT:
        _say(Path(given.output, "class.txt").read_text(encoding="utf-8").rstrip("\n"))
    return done


def _refuse_folder(output: str, *read: str | os.PathLike) -> None:
    """Look at the folder that is to be written to before anything is computed. Raises: InputError."""
    from flakeyard.units import InputError

    if os.path.exists(output) and not os.path.isdir(output):
        why = say("cli.a_file")
    elif _same_folder(output, read):
        why = say("cli.read_here")
    else:
        return
    raise InputError("folder", output, why, say("cli.own_folder"), "for-the-class")


def _same_folder(one: str, others: Iterable[str | os.PathLike]) -> bool:
    return os.path.realpath(one) in map(os.path.realpath, others)


def _written(output: str, write, stream=None) -> int:
    """Write a file and say where, on the output or another stream; 2 with a sentence when it cannot be written."""
    from flakeyard.units import one_line

    try:
        path = write(output)
    except OSError as trouble:
        return _tell(
            say("cli.not_written", output=one_line(output, 100), trouble=trouble.strerror or one_line(trouble, 200)),
            INPUT,
        )
    print(say("cli.written", path=CONTROL.sub("?", str(path))), file=stream)
    return RESULT


def _check(given) -> int:
    from flakeyard import check

    results = check.run()
    print(check.table(results))
    return RESULT if all(result.within for result in results) else CHECK_FAILED


def _open(given) -> int:
    import jupyterlab  # noqa: F401 – to say at once that it is not there

    course = course_folder()
    command = [
        sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={course}", "--LabApp.default_url=/lab/tree/workbooks/00-start-here.ipynb", "--ServerApp.ip=127.0.0.1",
        "--LabApp.news_url=None", "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
    ]  # fmt: skip
    command += ["--no-browser"] if given.no_browser else []
    command += ["--allow-root"] if _is_root() else []
    quiet = str(HOME / "workshop" / "quiet")  # JupyterLab does not offer to fetch its news
    search = os.pathsep.join(filter(None, [quiet, os.environ.get("JUPYTER_CONFIG_PATH")]))
    try:
        return subprocess.call(command, env=os.environ | {"JUPYTER_CONFIG_PATH": search})
    except KeyboardInterrupt:
        return RESULT


def _is_root() -> bool:
    return hasattr(os, "geteuid") and os.geteuid() == 0


def course_folder() -> Path:
    """Where the workbooks are: the source tree, or a copy of the installed ones in ./flakeyard-class.

    Copying never overwrites: what a learner has changed stays, and only files that are missing are added.
    """
    source = HOME.parents[1]
    if (source / "workbooks").is_dir() and (source / "pyproject.toml").is_file():
        return source
    target = Path.cwd() / COPY
    for original in sorted((HOME / "course").rglob("*")):
        copy = target / original.relative_to(HOME / "course")
        if original.is_file() and not copy.exists():
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(original, copy)
    return target


@contextmanager
def _patience(what: str):
    """A line on the error stream when something takes longer than two seconds."""
    timer = threading.Timer(2.0, _tell, (say(f"cli.still.{what}"), RESULT))
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


if __name__ == "__main__":
    sys.exit(main())
