"""The command `flakeyard`: open the course, plan a batch from a file, check the formulas against published values."""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import threading
from contextlib import contextmanager
from pathlib import Path

HOME = Path(__file__).resolve().parent
COPY = "flakeyard-class"


def main(arguments: list[str] | None = None) -> int:
    """Run one command; returns the exit code: 0 for every verdict, 2 for input that cannot be read or cannot be."""
    from flakeyard.units import InputError

    given = _parser().parse_args(arguments)
    try:
        return given.run(given)
    except InputError as mistake:
        print(f"flakeyard: {mistake}", file=sys.stderr)
        return 2


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="flakeyard", description="Preserving fish at home: plan, dry by weight, judge, keep."
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    opening = commands.add_parser("open", help="open the workbooks in JupyterLab")
    opening.add_argument("--no-browser", action="store_true", help="print the address instead of opening a browser")
    opening.set_defaults(run=_open)
    planning = commands.add_parser("plan", help="a whole plan from a batch file")
    planning.add_argument("file", help="a batch file (TOML), such as data_demo/heron.toml")
    planning.add_argument("--json", action="store_true", help="one JSON object instead of text")
    planning.add_argument(
        "--units", choices=("metric", "us", "both"), default="both", help="units of the text (default both)"
    )
    planning.set_defaults(run=_plan)
    logging = commands.add_parser("log", help="a new forecast from the weighings of a batch")
    logging.add_argument("file", help="the batch file (TOML)")
    logging.add_argument("log", help="its log (CSV), such as data_demo/heron-weighings.csv")
    logging.add_argument("--json", action="store_true", help="one JSON object instead of text")
    logging.add_argument("--units", choices=("metric", "us", "both"), default="both", help="default both")
    logging.add_argument("--scale", default="2 g", help="error of the scale besides 0.5 %% of the weight (default 2 g)")
    logging.add_argument("--profile", help="what batches before taught about this dryer (TOML), to begin from")
    logging.add_argument(
        "--keep-profile", metavar="FILE", help="write what is known of the dryer now; once, at the end"
    )
    logging.set_defaults(run=_log)
    carding = commands.add_parser("card", help="one page for the kitchen wall, as PDF")
    carding.add_argument("file", help="a batch file (TOML)")
    carding.add_argument("-o", "--output", default="card.pdf", help="the PDF to write (default card.pdf)")
    carding.add_argument("--start", help='when the fish meets the salt, such as "2026-12-05 18:00"')
    carding.add_argument("--units", choices=("metric", "us", "both"), default="both", help="default both")
    carding.add_argument("--paper", choices=("a4", "letter"), default="a4", help="default a4")
    carding.set_defaults(run=_card)
    printing = commands.add_parser("print", help="the worksheets of the course, as one PDF")
    printing.add_argument("-o", "--output", default="worksheets.pdf", help="the PDF to write (default worksheets.pdf)")
    printing.add_argument("--paper", choices=("a4", "letter"), default="a4", help="default a4")
    printing.set_defaults(run=_print)
    handing = commands.add_parser("handout", help="every workbook as a page that needs neither Python nor a network")
    handing.add_argument("folder", help="the folder to write them to")
    handing.add_argument("--paper", choices=("a4", "letter"), default="a4", help="of the PDFs (default a4)")
    handing.add_argument("--no-pdf", action="store_true", help="pages only, even where a Chromium is found")
    handing.set_defaults(run=_handout)
    exploring = commands.add_parser("explorers", help="two pages with sliders that need no Python (takes some minutes)")
    exploring.add_argument("folder", help="the folder to write them to")
    exploring.add_argument("--batch", help="a batch file to start from (default: the demo batch Heron)")
    exploring.set_defaults(run=_explorers)
    classing = commands.add_parser("class", help="every group's log on one figure, predicted beside measured")
    classing.add_argument("folder", help="a folder with NAME.toml and NAME-weighings.csv for each group")
    classing.add_argument("-o", "--output", default="class", help="the folder to write to (default class)")
    classing.set_defaults(run=_class)
    serving = commands.add_parser("serve", help="the workbooks as pages for a whole room, code hidden")
    serving.add_argument("--ip", default="127.0.0.1", help="0.0.0.0 opens it to the room (default: this computer only)")
    serving.add_argument("--port", type=int, default=8866, help="default 8866")
    serving.add_argument("--token", help="the password of the room (default: a new one each time)")
    serving.add_argument("--learners", type=int, default=40, help="pages that may be open at once (default 40)")
    serving.add_argument("--idle-minutes", type=float, default=30, help="a page untouched so long ends (default 30)")
    serving.set_defaults(run=_serve)
    kitting = commands.add_parser("kit", help="a folder from which a class installs everything without a network")
    kitting.add_argument("folder", help="the folder to write it to, such as a USB stick")
    kitting.add_argument("--platform", action="append", help="linux-x86_64, macos-arm64 … (default: all; may repeat)")
    kitting.add_argument("--python", action="append", help="3.11, 3.12 or 3.13 (default: all; may repeat)")
    kitting.add_argument("--without", action="append", default=[], help="wheels, explorers, handouts or papers")
    kitting.set_defaults(run=_kit)
    checking = commands.add_parser("check", help="published values beside what is computed here")
    checking.set_defaults(run=_check)
    return parser


def _plan(given) -> int:
    from flakeyard.steps.plan import plan as batches

    with _patience("computing the plan"):
        outcome = batches.plan(batches.load_batch(given.file))
    if given.json:
        print(json.dumps(outcome.as_dict(), ensure_ascii=False, indent=2))
    else:
        from flakeyard.workbook.paper.report import report

        print(report(outcome, given.units))
    return 0


def _card(given) -> int:
    from flakeyard.steps.plan import plan as batches
    from flakeyard.steps.plan import timetable
    from flakeyard.workbook.paper import card
    from flakeyard.workbook.paper import sheet as paper

    start = timetable.read_start(given.start)
    with _patience("computing the plan"):
        outcome = batches.plan(batches.load_batch(given.file))
    page = card.batch_card(outcome, start, given.units, given.paper)
    return _written(given.output, lambda path: paper.save_pdf([page], path, f"Batch card: {outcome.batch.title}"))


def _print(given) -> int:
    from flakeyard.workbook.paper import sheet as paper
    from flakeyard.workbook.paper import worksheets

    files = worksheets.worksheet_files(course_folder())
    pages = [worksheets.worksheet(file.read_text(encoding="utf-8"), given.paper) for file in files]
    return _written(given.output, lambda path: paper.save_pdf(pages, path, "Worksheets of the course"))


def _handout(given) -> int:
    from flakeyard.workbook.paper import handout

    chromium = None if given.no_pdf else handout.find_chromium()
    with _patience("writing handouts"):
        done = _written(
            given.folder, lambda folder: handout.write_handouts(course_folder(), Path(folder), given.paper, chromium)[0]
        )
    if not chromium and not given.no_pdf:
        print("no Chromium was found: pages only, no PDF")
    return done


def _explorers(given) -> int:
    from flakeyard.steps.plan import plan as batches
    from flakeyard.workbook import own
    from flakeyard.workbook.pages import explorers

    batch = batches.load_batch(given.batch) if given.batch else own.demo_batch("heron")

    def tell(line: str) -> None:
        print(f"flakeyard: {line}", file=sys.stderr, flush=True)

    return _written(given.folder, lambda folder: explorers.write_explorers(batch, Path(folder), tell)[-1].parent)


def _serve(given) -> int:
    try:
        from flakeyard import room
    except ImportError:
        print("flakeyard: Voila is not installed here; install it with: pip install 'flakeyard[room]'", file=sys.stderr)
        return 2
    return room.serve(course_folder(), given.ip, given.port, given.token, given.learners, given.idle_minutes)


def _kit(given) -> int:
    from flakeyard import kit

    return kit.collect(course_folder(), Path(given.folder), given.platform, given.python, given.without)


def _class(given) -> int:
    from flakeyard.workbook.paper import class_page

    with _patience("learning from the logs"):
        done = _written(given.output, lambda out: class_page.write_class(given.folder, out)[0].parent)
    if done == 0:
        print(Path(given.output, "class.txt").read_text(encoding="utf-8"), end="")
    return done


def _written(output: str, write) -> int:
    """Write a file and say where; 2 with a sentence when it cannot be written."""
    try:
        path = write(output)
    except OSError as trouble:
        print(f"flakeyard: {output} cannot be written: {trouble.strerror or trouble}", file=sys.stderr)
        return 2
    print(f"written: {path}")
    return 0


def _log(given) -> int:
    from flakeyard.steps.learn import dryer_profile, learning
    from flakeyard.units import read_amount

    grams = read_amount(given.scale, "mass", "--scale", low=0.00001, high=1.0, example='"2 g"').value
    profile = dryer_profile.read_profile(given.profile) if given.profile else None
    with _patience("learning from the log"):
        learned = learning.learn_files(given.file, given.log, profile=profile, scale=(grams, learning.SCALE[1]))
    if given.keep_profile:
        before = profile.title if profile else "my dryer"
        dryer_profile.write_profile(learned.profile(before, profile), given.keep_profile)
    if given.json:
        print(json.dumps(learned.as_dict(), ensure_ascii=False, indent=2))
    else:
        from flakeyard.workbook.paper.report import log_report

        print(log_report(learned, given.units))
    return 0


def _check(given) -> int:
    from flakeyard import check

    results = check.run()
    print(check.table(results))
    return 0 if all(result.within for result in results) else 1


def _open(given) -> int:
    course = course_folder()
    try:
        import jupyterlab  # noqa: F401
    except ImportError:
        print(
            "flakeyard: JupyterLab is not installed here; install it with: pip install 'flakeyard[lab]'",
            file=sys.stderr,
        )
        return 2
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
        return 0


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
    timer = threading.Timer(2.0, lambda: print(f"flakeyard: still {what} …", file=sys.stderr, flush=True))
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


if __name__ == "__main__":
    sys.exit(main())
