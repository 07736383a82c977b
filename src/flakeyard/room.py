"""One server for a room: the workbooks as pages with sliders and forms, code hidden, for laptops and tablets.

Voila shows the pages. What is added here: a password in front of every page and kernel, a private folder for every
signed-in browser (`visitors`), a limit on how many kernels run, and pages that ask nothing of any other computer.

All that a room writes is below one folder. It goes when the room closes, by Ctrl-C, with its terminal, or at the
system's wish; what a killed room left goes when the next one opens. A room holds a lock as long as it lives, which the
system itself ends with it, so a living room is never taken for a dead one.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
import signal
import socket
import stat
import sys
import tempfile
import uuid
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from datetime import datetime
from pathlib import Path

import segno
from jinja2 import ChoiceLoader, FileSystemLoader
from jupyter_server import CallContext
from jupyter_server.base.handlers import JupyterHandler
from jupyter_server.services.kernels.handlers import KernelHandler
from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from tornado.ioloop import IOLoop
from traitlets import Dict, Integer, Unicode
from traitlets.config import Config
from voila.app import (
    TemplateStaticFileHandler,
    TornadoVoilaHandler,
    TornadoVoilaTreeHandler,
    Voila,
    VoilaContentsHandler,
    VoilaKernelWebsocketHandler,
    VoilaShutdownKernelHandler,
)  # fmt: skip

from flakeyard import files, visitors
from flakeyard.display import NOTHING_STORED
from flakeyard.messages import draft_line, say
from flakeyard.units import InputError
from flakeyard.workbook.paper.handout import MATH

WORKSHOP = Path(__file__).resolve().parent / "workshop"
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # easy to type on a tablet: no i, l, o, 0, 1
SHORTEST_TOKEN = 8
LIKELY = {"--port": 8866, "--learners": 40, "--idle-minutes": 30}
LARGEST_BODY = 64 * 1024  # bytes; there is no upload, only the form that asks for the password
LARGEST_MESSAGE = 1024 * 1024  # bytes of one message from a page to its kernel
FRONT_ENDS = ("@jupyter-widgets/jupyterlab-manager", "@voila-dashboards/widgets-manager8", "anywidget")
FOLDER, MARK = "room-", ".flakeyard-room"  # how the folder of a room begins, and the file in it that is locked
CLOSING = ("SIGHUP", "SIGTERM", "SIGBREAK")  # a closed terminal, the system's wish; Ctrl-C is known to Python itself
LOOPBACK = ("127.0.0.1", "localhost", "::1")
POLICY = (  # the browser itself refuses any request to another computer
    "default-src 'self' data: blob:; script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:; "
    "style-src 'self' 'unsafe-inline'; connect-src 'self' {sockets} data: blob:; "
    "frame-ancestors 'self'; form-action 'self'; object-src 'none'"
)
NO_CODE = re.compile(r"^.*\bShift \+ Enter\b.*$\n?", re.MULTILINE)  # how to run a cell: there is none to run here


class VisitKernels(AsyncMappingKernelManager):
    """Kernels that each belong to the browser that opened the page, and start in its folder; never more than `most`."""

    most = Integer(40, config=True, help="Kernels that may run at once.")
    visits = Unicode("", config=True, help="The folder in which every visitor gets one.")

    def __init__(self, **settings):
        super().__init__(**settings)
        self.owners: dict[str, str] = {}

    async def start_kernel(self, *, kernel_id=None, path=None, **settings):
        """Start a kernel for whoever asks, or answer 503 when the room is full."""
        if len(self.owners) >= self.most:
            raise visitors.Told(503, reason=say("room.full"))
        kernel_id = kernel_id or str(uuid.uuid4())
        visitor = self.owners[kernel_id] = CallContext.get(CallContext.JUPYTER_HANDLER).current_user.username
        folder = self.folder_of(visitor)
        folder.mkdir(mode=0o700, exist_ok=True)
        try:
            return await super().start_kernel(kernel_id=kernel_id, cwd=str(folder), **settings)
        except BaseException:
            self.owners.pop(kernel_id, None)
            raise

    def folder_of(self, visitor: str) -> Path:
        """Where all kernels of a visitor run, one after another and side by side, until the room closes."""
        return Path(self.visits) / visitors.folder_name(visitor)

    def remove_kernel(self, kernel_id):
        """Forget a kernel that has ended; what was saved in it stays."""
        self.owners.pop(kernel_id, None)
        return super().remove_kernel(kernel_id)


class CourseRoom(Voila):
    """Voila with the pages of this course around it; says its address and password once, on the screen it runs on."""

    titles = Dict(help="What each workbook is called in the list.")

    def init_settings(self) -> dict:
        """The settings of Voila, with our own pages for the list of workbooks and for the password."""
        settings = super().init_settings()
        own = FileSystemLoader([str(WORKSHOP / "pages"), str(WORKSHOP / "share/voila/templates/room")])
        settings["jinja2_env"].loader = ChoiceLoader([own, settings["jinja2_env"].loader])
        for pages in ("jinja2_env", "voila_jinja2_env"):
            settings[pages].globals.update(titles=self.titles, say=say, draft_line=draft_line)
        return settings | {"room": self}

    def init_handlers(self) -> list:
        """The pages of Voila, quiet about their mistakes and each for its own visitor; the list of files is closed."""
        kept = [_guarded(*one) for one in super().init_handlers() if one[1] is not VoilaContentsHandler]
        own = ((visitors.ODD, visitors.NoSuchPage), ("/leave", visitors.Leave), ("/my-batch", visitors.TakeHome))
        return [own[0], *(_guarded(*one) for one in own[1:]), *kept]

    def listen(self) -> None:
        """Open the port, say where, and serve until stopped."""
        try:
            self.app.listen(self.port, self.ip, max_body_size=LARGEST_BODY)
        except OSError as trouble:
            self.stop()
            why = say("room.not_opened", ip=self.ip, trouble=trouble.strerror)
            raise InputError("--port", self.port, why, say("room.free_port"), f"--port {self.port + 1}") from None
        print(announcement(self.ip, self.port, self.token), flush=True)
        show_code(_link(self.ip, self.port, self.token))
        self.ioloop = IOLoop.current()
        try:
            self.ioloop.start()
        except KeyboardInterrupt:
            with suppress(OSError):  # the terminal may be gone
                print(say("room.closing"), flush=True)
        finally:
            self.stop()

    def _handle_signal_stop(self, number, frame) -> None:
        _close(number, frame)


GUARDS = {
    KernelHandler: visitors.OwnKernel, VoilaKernelWebsocketHandler: visitors.OwnKernel,
    VoilaShutdownKernelHandler: visitors.OwnKernel, TornadoVoilaHandler: visitors.KnownPages,
    TornadoVoilaTreeHandler: visitors.OnlyList, TemplateStaticFileHandler: visitors.KnownFiles,
}  # fmt: skip


def _guarded(pattern: str, handler: type, *settings) -> tuple:
    """A page of the server with what the room adds to it."""
    guards = [visitors.Quiet] if issubclass(handler, JupyterHandler) else []  # the others are fixed files of the pages
    guards += [GUARDS[handler]] if handler in GUARDS else []
    return (pattern, type(handler.__name__, (*guards, handler), {}), *settings)


def serve(course: Path, ip: str, port: int, token: str | None, learners: int, idle_minutes: float) -> int:
    """Serve a private copy of the course until stopped; returns the exit code."""
    token = token or "".join(secrets.choice(LETTERS) for _ in range(12))
    check_choices(port, token, learners, idle_minutes)
    _listen_for_closing()
    with suppress(KeyboardInterrupt), own_folder() as place:
        pages, visits = place / "pages", place / "visits"
        visits.mkdir()
        titles = prepare(course, pages, idle_minutes)
        os.environ.update(_environment())
        room = CourseRoom(config=settings(pages, visits, ip, port, token, learners, idle_minutes), titles=titles)
        room.initialize([str(pages)])
        room.start()
    return 0


# --- what a room leaves behind ----------------------------------------------------------------------------------------


@contextmanager
def own_folder() -> Iterator[Path]:
    """A folder for one room, which goes with it; what killed rooms left goes first."""
    sweep(Path(tempfile.gettempdir()))
    place = Path(tempfile.mkdtemp(prefix=FOLDER))
    with ExitStack() as closing:
        closing.callback(_removed, place)
        closing.enter_context(_held(place / MARK))
        closing.callback(_empty, place)
        yield place


@contextmanager
def _held(mark: Path) -> Iterator[None]:
    """Lock a file for as long as this runs, and only then say in it whose it is: nobody looks at an empty one."""
    with open(mark, "x", encoding="utf-8") as file:
        with suppress(OSError):  # a file system without locks: then nobody can sweep here either
            files.locked(file.fileno())
        file.write(f"process {os.getpid()}, since {datetime.now().astimezone().isoformat(timespec='seconds')}\n")
        file.flush()
        yield


def sweep(among: Path) -> list[Path]:
    """Remove the folders of this user's rooms that no longer live; returns them."""
    return [place for place in among.glob(f"{FOLDER}*") if _is_ours(place) and _swept(place)]


def _is_ours(place: Path) -> bool:
    """Whether it is a folder, not a link, of the user who asks, with the mark of a room that had opened."""
    with suppress(OSError):
        told, mark = place.lstat(), (place / MARK).lstat()
        owned = not hasattr(os, "geteuid") or told.st_uid == mark.st_uid == os.geteuid()
        return stat.S_ISDIR(told.st_mode) and stat.S_ISREG(mark.st_mode) and mark.st_size > 0 and owned
    return False


def _swept(place: Path) -> bool:
    try:
        with open(place / MARK, "r+b") as mark:
            if not files.locked(mark.fileno()):
                return False
            _empty(place)
    except OSError:  # no locks here, or gone already
        return False
    return _removed(place)


def _empty(place: Path) -> None:
    for one in place.iterdir():
        if one.is_dir() and not one.is_symlink():
            shutil.rmtree(one, ignore_errors=True)
        elif one.name != MARK:
            with suppress(OSError):
                one.unlink()


def _removed(place: Path) -> bool:
    """Remove an emptied folder, its mark last: where something could not go yet, the next room finds it again."""
    with suppress(OSError):
        if [one.name for one in place.iterdir()] == [MARK]:
            (place / MARK).unlink()
        place.rmdir()
    return not place.exists()


def _listen_for_closing() -> None:
    for name in CLOSING:
        number = getattr(signal, name, None)
        if number and signal.getsignal(number) != signal.SIG_IGN:  # ignored: started to outlive its terminal
            signal.signal(number, _close)


def _close(number, frame) -> None:
    """Close as Ctrl-C does, once: a closing terminal may say so twice, and that must not stop the cleaning up."""
    for name in CLOSING:
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    raise KeyboardInterrupt


# --- before it opens --------------------------------------------------------------------------------------------------


def check_choices(port: int, token: str, learners: int, idle_minutes: float) -> None:
    """Raises: InputError for a password that is easily guessed, or numbers that make no room."""
    if len(token) < SHORTEST_TOKEN:
        raise InputError(
            "--token",
            token,
            say("room.too_short"),
            say("room.long_enough", least=SHORTEST_TOKEN),
            "--token heron-otter-5",
        )
    for option, given, low, high in (
        ("--port", port, 1, 65535),
        ("--learners", learners, 1, 1000),
        ("--idle-minutes", idle_minutes, 0.01, 1440),
    ):
        if not low <= given <= high:
            raise InputError(
                option,
                given,
                say("room.out_of_range"),
                say("room.between", low=low, high=high),
                f"{option} {LIKELY[option]}",
            )


def prepare(course: Path, pages: Path, idle_minutes: float) -> dict[str, str]:
    """Copy the workbooks, made ready for reading without code; returns the title of each file.

    Code of exercises and their answers is left out (nobody can change it here), links between workbooks are kept, and
    the first cell says how long what is typed is kept.
    """
    pages.mkdir(parents=True)
    titles = {}
    for workbook in sorted((course / "workbooks").glob("*.ipynb")):
        notebook = json.loads(workbook.read_text(encoding="utf-8"))
        notebook["cells"] = [_for_reading(cell) for cell in notebook["cells"] if not _is_exercise_code(cell)]
        notebook["cells"].insert(1, _text_cell(say("room.visit", minutes=f"{idle_minutes:g}")))
        titles[workbook.name] = _title("".join(notebook["cells"][0]["source"]))
        (pages / workbook.name).write_text(json.dumps(notebook), encoding="utf-8")
    if (course / "workbooks" / "images").is_dir():
        shutil.copytree(course / "workbooks" / "images", pages / "images")
    return titles


def _is_exercise_code(cell: dict) -> bool:
    return cell["cell_type"] == "code" and bool({"exercise", "solution"} & set(cell["metadata"].get("tags", ())))


def _for_reading(cell: dict) -> dict:
    """Point the link to the contents at the list of workbooks, set formulas as MathML, say nothing of running cells."""
    if cell["cell_type"] != "markdown":
        return cell
    text = NO_CODE.sub("", "".join(cell["source"])).replace("](../README.md)", "](/)")
    return {**cell, "source": MATH.sub(_formula, text)}


def _formula(match: re.Match) -> str:
    from latex2mathml.converter import convert

    shown = convert(match["block"] or match["inline"], display="block" if match["block"] else "inline")
    return shown.replace("\n", " ")


def _text_cell(text: str) -> dict:
    return {"cell_type": "markdown", "id": "this-visit", "metadata": {}, "source": text}


def _title(text: str) -> str:
    return next((line.lstrip("# ") for line in text.splitlines() if line.startswith("# ")), "untitled")


def settings(pages: Path, visits: Path, ip: str, port: int, token: str, learners: int, idle_minutes: float) -> Config:
    """Everything Voila is told; no configuration file of the computer is read."""
    seconds = max(1, round(60 * idle_minutes))
    return Config(
        Voila={
            "root_dir": str(pages), "ip": ip, "port": port, "token": token, "open_browser": False, "log_level": "ERROR",
            "connection_dir_root": str(visits.parent),
            "config_file_paths": [str(visits.parent / "none")], "identity_provider_class": visitors.RoomPassword,
            "kernel_websocket_connection_class": visitors.OneProtocol,
            "tornado_settings": {
                "headers": {"Content-Security-Policy": POLICY.format(sockets=_sockets(ip, port))},
                "websocket_max_message_size": LARGEST_MESSAGE,
            },
        },
        VoilaConfiguration={
            "template": "room", "classic_tree": True, "strip_sources": True, "file_allowlist": [],
            "allow_template_override": "NO", "allow_theme_override": "NO",
            "multi_kernel_manager_class": VisitKernels, "show_tracebacks": False,
            "extension_allowlist": list(FRONT_ENDS),
        },
        VisitKernels={
            "most": learners, "visits": str(visits), "cull_idle_timeout": seconds,
            "cull_interval": max(1, min(60, seconds // 2)), "cull_connected": True,
        },
    )  # fmt: skip


def _sockets(ip: str, port: int) -> str:
    """Older browsers do not count a websocket to the same address as 'self'."""
    hosts = LOOPBACK[:2] if ip in LOOPBACK else (_own_address(ip),)
    return " ".join(f"ws://{host}:{port}" for host in hosts)


def _environment() -> dict[str, str]:
    """For the kernels: our page templates first, one thread each, since many learners share the processors, and no pictures
    for print."""
    shared = [str(WORKSHOP / "share"), *filter(None, [os.environ.get("JUPYTER_PATH")])]
    one_thread = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
    return {
        "JUPYTER_PATH": os.pathsep.join(shared),
        "PYDEVD_DISABLE_FILE_VALIDATION": "1",
        NOTHING_STORED: "1",
        **one_thread,
    }


def _link(ip: str, port: int, token: str) -> str:
    return f"http://{_own_address(ip)}:{port}/?token={token}"


def show_code(link: str) -> None:
    """The link as a square to hold a tablet's camera to, on a screen that can show it."""
    if sys.stdout.isatty() and "utf" in (sys.stdout.encoding or "").lower():
        segno.make(link).terminal(border=2, compact=True)


def announcement(ip: str, port: int, token: str) -> str:
    """What the screen of the serving computer shows: address, password, and who can reach it."""
    lines = [say("room.open", link=_link(ip, port, token)), say("room.password", token=token)]
    if ip in LOOPBACK:
        lines.append(say("room.only_here"))
    else:
        lines.append(say("room.everyone"))
        lines.append(say("room.trust"))
    return "\n".join([*lines, say("room.stop")])


def _own_address(ip: str) -> str:
    """The address to type elsewhere: for "all interfaces", the one this computer would answer from."""
    if ip not in ("0.0.0.0", "::", ""):
        return f"[{ip}]" if ":" in ip else ip
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(
                ("192.0.2.1", 9)
            )  # an address reserved for documentation; a datagram socket sends nothing yet
            return probe.getsockname()[0]
        except OSError:
            return socket.gethostname()
