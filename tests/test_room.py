"""The room for a class: who gets in, what a visit can reach and leaves behind, and how many fit."""

import asyncio
import collections
import contextlib
import http.cookiejar
import importlib.util
import io
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
import zipfile
from pathlib import Path
from types import SimpleNamespace
from urllib.parse import urlparse

import nbformat
import pytest
import tornado.httpclient
import tornado.httpserver
import tornado.netutil
import tornado.web
from jupyter_client.session import Session

from flakeyard import cli
from flakeyard.units import InputError

pytest.importorskip("voila")
room = pytest.importorskip("flakeyard.room")
visitors = pytest.importorskip("flakeyard.visitors")
spec = importlib.util.spec_from_file_location("load", Path(__file__).parent / "benchmarks" / "room.py")
load = sys.modules["load"] = importlib.util.module_from_spec(spec)
spec.loader.exec_module(load)
PASSWORD = "invented-for-tests"
PAGE = re.compile(r'id="jupyter-config-data" type="application/json">\s*(\{.*?\})\s*</script>', re.DOTALL)
CELLS = (
    "import os, pathlib; print('HERE', os.getcwd(), sorted(os.listdir()))",
    "pathlib.Path('my-batch.toml').write_text('mine'); print('THREADS', os.environ['OMP_NUM_THREADS'])",
)


def write_course(folder: Path, *cells: str) -> Path:
    """A course of one workbook that has these code cells."""
    (folder / "workbooks" / "images").mkdir(parents=True)
    (folder / "workbooks" / "images" / "rack.svg").write_text("<svg xmlns='http://www.w3.org/2000/svg'/>")
    text = (
        "# 01 · Trial\n\n[Contents](../README.md) $L^2$\n\nPress **Shift + Enter** to run it.\n\n![r](images/rack.svg)"
    )
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_markdown_cell(text)])
    notebook.cells += [nbformat.v4.new_code_cell(cell) for cell in cells]
    notebook.cells.append(nbformat.v4.new_code_cell("print('ANSWER')", metadata={"tags": ["solution"]}))
    notebook.metadata.kernelspec = {"name": "python3", "display_name": "Python 3", "language": "python"}
    nbformat.write(notebook, folder / "workbooks" / "01-trial.ipynb")
    return folder


@contextlib.contextmanager
def open_room(place: Path, *options: str):
    """The address of a room with the course in `place`; everything it makes for itself is made below `place`."""
    with started(place, *options) as (address, _):
        yield address


@contextlib.contextmanager
def started(place: Path, *options: str, **settings):
    """The address and the process of a room, as above."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    code = f"from flakeyard import cli; import pathlib; cli.course_folder = lambda: pathlib.Path({str(place)!r}); cli.main()"
    command = [sys.executable, "-c", code, "serve", f"--port={port}", f"--token={PASSWORD}", *options]
    (place / "tmp").mkdir(exist_ok=True)
    log = place / f"room-{port}.log"
    with log.open("wb") as file:
        settings = {"stdout": file, "stderr": file, "env": {**os.environ, "TMPDIR": str(place / "tmp")}, **settings}
        process = subprocess.Popen(command, **settings)
    try:
        yield waited_for(f"http://127.0.0.1:{port}", process, log), process
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGTERM)
        process.wait(30)


def waited_for(address: str, process: subprocess.Popen, log: Path) -> str:
    """The address, once somebody answers there."""
    for _ in range(300):
        with contextlib.suppress(urllib.error.URLError):
            get(f"{address}/login", None)
            return address
        assert process.poll() is None, log.read_text()
        time.sleep(0.1)
    raise AssertionError(log.read_text())


class Stay(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_):
        return None


JARS = collections.defaultdict(http.cookiejar.CookieJar)  # the cookies of each browser


def get(address, token=PASSWORD, method="GET", data=None, browser="first", **headers) -> tuple[int, str]:
    """Status and text; redirects are not followed. Whoever gives the password does so in a browser that keeps cookies."""
    headers |= {"Authorization": f"token {token}"} if token else {}
    request = urllib.request.Request(address, headers=headers, method=method, data=data)
    jar = JARS[urlparse(address).netloc, browser] if token == PASSWORD else http.cookiejar.CookieJar()
    try:
        with urllib.request.build_opener(Stay, urllib.request.HTTPCookieProcessor(jar)).open(
            request, timeout=60
        ) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as refusal:
        return refusal.code, refusal.read().decode()


def cookies_of(address: str, browser: str = "first") -> str:
    """What a browser sends along."""
    return "; ".join(f"{one.name}={one.value}" for one in JARS[urlparse(address).netloc, browser])


def opened(address: str, browser: str = "first") -> tuple[str, str]:
    """A page and the kernel behind it."""
    page = get(f"{address}/voila/render/01-trial.ipynb", browser=browser)[1]
    return page, json.loads(PAGE.search(page)[1])["kernelId"]


def shut(address: str, kernel: str, browser: str = "first") -> int:
    """Leave a page, as a browser tells the server that does."""
    return get(f"{address}/voila/api/shutdown/{kernel}", method="POST", data=b"", browser=browser)[0]


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    return write_course(tmp_path_factory.mktemp("course"), *CELLS)


@pytest.fixture(scope="module")
def address(place):
    with open_room(place, "--learners=2") as address:
        yield address


@pytest.fixture(scope="module")
def besieged(tmp_path_factory):
    """A room at which wrong passwords are tried."""
    with open_room(write_course(tmp_path_factory.mktemp("besieged"), *CELLS)) as address:
        yield address


# --- who gets in ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("token", [None, "", "wrong", PASSWORD[:-1], PASSWORD.upper()])
@pytest.mark.parametrize(
    "path",
    ["/", "/voila/tree", "/voila/render/01-trial.ipynb", "/voila/api/contents", "/voila/api/contents/01-trial.ipynb"],
)
def test_nothing_opens_without_the_password(besieged, path, token):
    status, text = get(besieged + path, token)
    closed = (302, 403) if "contents" not in path else (404,)
    assert status in closed
    assert "Trial" not in text
    assert get(f"{besieged}{path}?token={token or ''}", None)[0] in closed


class Asking:
    """What a password provider sees of a request."""

    def __init__(self, given: str, address: str = "10.0.0.7"):
        self.request = SimpleNamespace(remote_ip=address, headers={}, host="room")
        self.given, self.log, self.token = given, SimpleNamespace(debug=lambda *_: None), PASSWORD

    def get_argument(self, name, default=""):
        return self.given

    def get_secure_cookie(self, *_, **__):
        return None


@pytest.mark.parametrize("given", ["", "wrong", PASSWORD[:-1], PASSWORD.upper(), PASSWORD + "x", "ä"])
def test_only_the_password_is_the_password(given):
    provider = visitors.RoomPassword(token=PASSWORD)
    assert provider.process_login_form(Asking(given)) is None
    assert provider.process_login_form(Asking(PASSWORD)) is not None
    assert asyncio.run(provider.get_user_token(Asking(given, "10.0.0.8"))) is None
    assert asyncio.run(provider.get_user_token(Asking(PASSWORD, "10.0.0.8"))) is not None


def test_wrong_passwords_make_an_address_wait_and_no_other():
    now = [100.0]
    patience = visitors.Patience(lambda: now[0])
    waits = []
    for _ in range(9):
        patience.wrong("one")
        waits.append(patience.wait("one"))
        now[0] += waits[-1]
    assert waits == [0, 0, 1, 2, 4, 8, 16, 30, 30] and patience.wait("other") == 0
    patience.right("one")
    patience.wrong("one")
    assert patience.wait("one") == 0
    for number in range(2 * visitors.MOST_ADDRESSES):
        patience.wrong(str(number))
    assert len(patience.wrong_ones) == visitors.MOST_ADDRESSES


def test_while_an_address_waits_even_the_right_password_is_not_looked_at():
    provider = visitors.RoomPassword(token=PASSWORD)
    provider.patience = visitors.Patience(lambda: 100.0)
    for _ in range(visitors.FREE_TRIES):
        asyncio.run(provider.get_user_token(Asking("wrong")))
    assert provider.process_login_form(Asking(PASSWORD)) is None
    assert provider.process_login_form(Asking(PASSWORD, "10.0.0.8")) is not None


def test_page_of_the_password_says_how_long_to_wait(besieged):
    jar = http.cookiejar.CookieJar()
    browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(jar))
    browser.open(f"{besieged}/login", timeout=60).read()
    xsrf = next(one.value for one in jar if one.name == "_xsrf")
    for wrong in range(2 * visitors.FREE_TRIES):
        with pytest.raises(urllib.error.HTTPError) as refusal:
            browser.open(f"{besieged}/login", data=f"password=no{wrong}&_xsrf={xsrf}".encode(), timeout=60)
        status, text = refusal.value.code, refusal.value.read().decode()
        if status == 429:
            break
        assert status == 401 and "not the password" in text
    assert status == 429 and re.search(r"Wait \d+ s", text)


def test_kernel_is_closed_to_whoever_has_no_password_and_to_every_other_browser(address):
    _, kernel = opened(address)
    upgrade = {"Upgrade": "websocket", "Connection": "Upgrade", "Sec-WebSocket-Version": "13", "Sec-WebSocket-Key": "MDEyMzQ1Njc4OWFiY2RlZg=="}  # fmt: skip
    for path in (f"/api/kernels/{kernel}", f"/api/kernels/{kernel}/channels"):
        assert get(address + path, None, **upgrade)[0] == 403
        assert get(address + path, browser="second", **upgrade)[0] == 404
    assert get(f"{address}/voila/api/shutdown/{kernel}", None, method="POST", data=b"")[0] == 403
    assert shut(address, kernel, "second") == 404
    assert get(f"{address}/api/kernels/{kernel}")[0] == 200
    assert shut(address, kernel) == 204
    assert shut(address, kernel) == 404


def test_kernel_of_the_same_browser_outlives_another_browsers_tries(address):
    _, kernel = opened(address)
    for method in ("DELETE", "PUT", "PATCH"):
        assert get(f"{address}/api/kernels/{kernel}", method=method, data=b"", browser="second")[0] in (403, 404, 405)
    assert get(f"{address}/api/kernels/{kernel}")[0] == 200
    assert shut(address, kernel) == 204


ODD = (
    "/voila/render/none.ipynb", "/voila/render/", "/voila/render/../01-trial.ipynb", "/voila/render/%00", "/voila/render/%ff.ipynb",
    "/voila/render/images", "/voila/render/01-trial.ipynb/x", "/voila/render/%2e%2e%2f.flakeyard-room", "/voila/render/" + "a" * 5000,
    "/voila/tree/none", "/voila/tree/images", "/voila/tree/%00", "/voila/files/%00", "/voila/static/%00", "/voila/static/../../x",
    "/voila/templates/%00", "/voila/templates/none", "/voila/api/themes/%00", "/voila/api/contents/%00", "/voila/labextensions/%00",
    "/voila/api/shutdown/none", "/api/kernels/none", "/none", "/%", "/a%0d%0ab", "/logout", "/voila/render/caf%C3%A9.ipynb",
)  # fmt: skip


@pytest.mark.parametrize("path", ODD)
def test_odd_paths_are_not_found_and_show_nothing(address, place, path):
    for method in ("GET", "POST"):
        status, text = get(address + path, method=method, data=b"" if method == "POST" else None)
        assert status in ((404,) if method == "GET" and "shutdown" not in path else (403, 404, 405)), (method, path)
        assert not says_too_much(text, place)


def says_too_much(text: str, place: Path) -> bool:
    """Whether an answer shows where things lie, or the inside of the program."""
    return any(
        word in text for word in (str(place), str(Path(room.__file__).parent), "Traceback", "site-packages", ".py")
    )


def test_a_mistake_of_the_program_is_answered_without_its_inside(monkeypatch, tmp_path):
    """Whatever a page raises: a number, plain words, and no path."""

    class Fails(visitors.Quiet, tornado.web.RequestHandler):
        def get(self):
            if self.get_argument("kind") == "http":
                raise tornado.web.HTTPError(500, log_message=f"in {__file__}", reason=f"in {__file__}")
            raise ValueError(__file__)

        def render_template(self, name, **words):
            return f"{words['status_code']} {words['status_message']}"

    async def asked(kind):
        server = tornado.httpserver.HTTPServer(tornado.web.Application([("/", Fails)]))
        sockets = tornado.netutil.bind_sockets(0, "127.0.0.1")
        server.add_sockets(sockets)
        link = f"http://127.0.0.1:{sockets[0].getsockname()[1]}/?kind={kind}"
        answer = await tornado.httpclient.AsyncHTTPClient().fetch(link, raise_error=False)
        server.stop()
        return answer

    for kind in ("http", "other"):
        answer = asyncio.run(asked(kind))
        assert (answer.code, answer.reason, answer.body.decode()) == (
            500,
            "Internal Server Error",
            "500 Internal Server Error",
        )


def test_page_whose_workbook_fails_shows_no_traceback(tmp_path):
    write_course(tmp_path, "import pathlib; pathlib.Path('/none').read_text()", "print('AFTER')")
    with open_room(tmp_path) as address:
        page, kernel = opened(address)
        assert "AFTER" in page or "error" in page.lower()
        assert "FileNotFoundError" not in page and "Traceback" not in page and str(tmp_path) not in page
        shut(address, kernel)


def test_files_and_uploads_are_closed_even_with_the_password(address):
    for path in ("01-trial.ipynb", "images/rack.svg", "../.flakeyard-room"):
        assert get(f"{address}/voila/files/{path}")[0] in (403, 404)
    assert get(f"{address}/voila/api/contents/new.txt", method="PUT", data=b"{}")[0] == 404
    assert get(f"{address}/api/kernels", method="POST", data=b"{}")[0] == 404
    too_much = b"password=" + b"x" * (room.LARGEST_BODY + 1)
    with contextlib.suppress(OSError):  # the server may hang up before the whole body has come
        assert get(f"{address}/login", None, method="POST", data=too_much)[0] in (400, 413)


def test_kernel_takes_moves_of_sliders_but_no_code(address):
    with channel_of(address, subprotocols=["v1.kernel.websocket.jupyter.org"]) as channel:
        content = {"code": "print('ran')", "silent": False, "store_history": False, "allow_stdin": False}
        answered = set()
        while "kernel_info_reply" not in answered:  # asked again, since what comes before the kernel is reached is lost
            for kind in ("execute_request", "kernel_info_request"):
                header = {"msg_id": kind, "username": "", "session": "s", "msg_type": kind, "version": "5.3"}
                channel.send_binary(load.packed("shell", header, {}, {}, content))
            message = load.unpacked(channel.recv())
            answered.add(message["type"])
    assert not answered & {"execute_reply", "stream"}


def test_other_protocol_is_hung_up_on(address):
    """A picture sent in the older protocol would keep the server busy without end, for everyone."""
    with channel_of(address) as channel:
        assert channel.recv() in ("", b"")
    assert get(address + "/")[0] == 200


@contextlib.contextmanager
def channel_of(address, **options):
    """A connection to the kernel of a page that has just been opened."""
    websocket = pytest.importorskip("websocket")
    _, kernel = opened(address)
    place = f"ws{address[4:]}/api/kernels/{kernel}/channels"
    channel = websocket.create_connection(
        place, header=[f"Authorization: token {PASSWORD}", f"Cookie: {cookies_of(address)}"], timeout=30, **options
    )
    yield channel
    channel.close()
    shut(address, kernel)


# --- a visit ----------------------------------------------------------------------------------------------------------


def test_a_browser_keeps_one_folder_through_reloads_and_lessons_and_no_other_sees_it(address, place):
    """What was saved before a reload, or before the kernel ended, is there again; every browser begins with nothing."""
    seen = {}
    for browser in ("mine", "theirs", "mine"):
        page, kernel = opened(address, browser)
        found = re.search(r"HERE (\S+) (\[.*?\])", page)
        assert "THREADS 1" in page and Path(found[1]).stat().st_mode & 0o077 == 0
        assert found[2] == ("[]" if browser not in seen else "[&#39;my-batch.toml&#39;]")
        assert seen.setdefault(browser, found[1]) == found[1]
        assert shut(address, kernel, browser) == 204
    assert seen["mine"] != seen["theirs"]
    assert not (place / "workbooks" / "my-batch.toml").exists()


def test_room_that_is_full_says_so(address):
    kernels = [opened(address)[1] for _ in range(2)]
    status, text = get(f"{address}/voila/render/01-trial.ipynb", browser="third")
    assert status == 503 and "The room is full" in text
    for kernel in kernels:
        assert shut(address, kernel) == 204


def test_what_was_saved_can_be_taken_home_and_only_ones_own(address):
    assert get(f"{address}/my-batch", None)[0] == 302
    status, text = get(f"{address}/my-batch", browser="empty")
    assert status == 404 and "Nothing is saved yet" in text
    shut(address, opened(address, "home")[1], "home")
    assert get(f"{address}/my-batch", browser="home") == (200, "mine")
    assert get(f"{address}/my-batch", browser="empty")[0] == 404


def test_whoever_leaves_begins_anew(address):
    shut(address, opened(address, "leaving")[1], "leaving")
    assert get(f"{address}/leave", browser="leaving")[0] == 302
    assert get(f"{address}/my-batch", browser="leaving")[0] == 404


def test_several_files_go_home_in_one_archive_without_older_copies(tmp_path):
    for name in ("my-batch.toml", "my-batch-1.toml", "my-log.csv", "my-log.csv.lock", "notes.txt", ".hidden"):
        (tmp_path / name).write_text(name)
    saved = visitors.saved_files(tmp_path)
    assert [path.name for path in saved] == ["my-batch.toml", "my-log.csv"]
    with zipfile.ZipFile(io.BytesIO(visitors._archive(saved))) as archive:
        assert archive.namelist() == ["my-batch.toml", "my-log.csv"]
    assert visitors.saved_files(tmp_path / "none") == []


def test_a_folder_cannot_be_chosen_by_a_cookie():
    assert {visitors.folder_name(name) for name in ("../x", "..%2fx", "/etc")}.isdisjoint({"x", "etc"})
    assert all(re.fullmatch("visit-[0-9a-f]{24}", visitors.folder_name(name)) for name in ("../x", "", "ä" * 999))


def test_page_hides_code_and_answers_and_says_what_is_kept(address):
    page, kernel = opened(address)
    assert "os.listdir" not in page and "ANSWER" not in page and "Shift + Enter" not in page
    assert "until the class leader closes the room" in page and 'href="/my-batch"' in page
    assert "<math" in page
    assert 'href="/"' in page
    assert "data:image/svg+xml;base64" in page
    assert not re.search(r"""(?:src|href)=["']https?:""", page), "the page asks another computer"
    shut(address, kernel)


def test_list_and_login_ask_no_other_computer(address):
    for path, token in (("/", PASSWORD), ("/login", None), ("/voila/render/none.ipynb", PASSWORD)):
        assert not re.search(r"""(?:src|href|url\()=?["']?https?:""", get(address + path, token)[1])


@pytest.mark.slow
def test_page_left_alone_ends_and_its_numbers_stay_until_the_room_closes(tmp_path):
    write_course(tmp_path, *CELLS)
    with open_room(tmp_path, "--idle-minutes=0.05") as address:
        page, kernel = opened(address)
        folder = Path(re.search(r"HERE (\S+)", page)[1])
        end = time.monotonic() + 60
        while get(f"{address}/api/kernels/{kernel}")[0] == 200:
            assert time.monotonic() < end, "the kernel was not ended"
            time.sleep(0.5)
        assert f"HERE {folder} [&#39;my-batch.toml&#39;]" in opened(address)[0]
    assert [path.name for path in (tmp_path / "tmp").iterdir() if path.name.startswith(("room-", "visit-"))] == []


# --- what it leaves behind --------------------------------------------------------------------------------------------


def visit(address: str) -> Path:
    """The folder of a page that has just been opened, with what its learner saved in it."""
    folder = Path(re.search(r"HERE (\S+)", get(f"{address}/voila/render/01-trial.ipynb")[1])[1])
    assert (folder / "my-batch.toml").read_text() == "mine"
    return folder


@pytest.fixture
def quiet_place(tmp_path):
    return write_course(tmp_path, *CELLS)


posix = pytest.mark.skipif(os.name == "nt", reason="signals and terminals of this kind are not there")


def heed_the_terminal():
    """Also where these tests were started so as to outlive theirs, which a room would take over."""
    signal.signal(signal.SIGHUP, signal.SIG_DFL)


@posix
@pytest.mark.parametrize("name", ["SIGHUP", "SIGTERM", "SIGINT"])
def test_room_that_is_closed_leaves_nothing(quiet_place, name):
    """Said again and again, as a shell and its terminal may."""
    with started(quiet_place, preexec_fn=heed_the_terminal) as (address, process):
        visit(address)
        process.send_signal(getattr(signal, name))
        for _ in range(600 if name != "SIGINT" else 0):  # Ctrl-C pressed again means: no cleaning up, end
            if process.poll() is not None:
                break
            process.send_signal(getattr(signal, name))
            time.sleep(0.05)
        assert process.wait(30) == 0
    assert list((quiet_place / "tmp").iterdir()) == []


@posix
def test_room_whose_terminal_is_closed_leaves_nothing(quiet_place):
    import fcntl
    import termios

    ours, theirs = os.openpty()
    terminal = dict.fromkeys(("stdin", "stdout", "stderr"), theirs)

    def attach():
        heed_the_terminal()
        fcntl.ioctl(0, termios.TIOCSCTTY, 0)

    with started(quiet_place, start_new_session=True, preexec_fn=attach, **terminal) as (address, process):
        os.close(theirs)
        visit(address)
        os.close(ours)
        process.wait(30)
    assert list((quiet_place / "tmp").iterdir()) == []


@posix
def test_room_started_to_outlive_its_terminal_does(quiet_place):
    def ignore():  # as nohup does
        signal.signal(signal.SIGHUP, signal.SIG_IGN)

    with started(quiet_place, preexec_fn=ignore) as (address, process):
        process.send_signal(signal.SIGHUP)
        assert visit(address).exists() and process.poll() is None
    assert list((quiet_place / "tmp").iterdir()) == []


@posix
def test_next_room_sweeps_what_a_killed_one_left_and_touches_no_living_one(quiet_place):
    with started(quiet_place) as (living, _), started(quiet_place) as (killed, process):
        kept, left = visit(living), visit(killed)
        process.kill()
        process.wait(30)
        assert left.exists(), "nothing to sweep"
        with started(quiet_place) as (address, _):
            assert not [path for path in (left, left.parents[1]) if path.exists()]
            assert (kept / "my-batch.toml").read_text() == "mine"
            assert get(f"{living}/")[0] == get(f"{address}/")[0] == 200
            assert visit(living).parent == kept.parent
    assert list((quiet_place / "tmp").iterdir()) == []


def test_only_folders_that_were_rooms_of_ours_are_swept(tmp_path):
    """A folder that begins alike, one whose room is just opening, a link, and a room of this process stay."""
    dead = tmp_path / "room-dead"
    for name in ("room-dead", "room-of-mine", "room-opening", "elsewhere"):
        (tmp_path / name / "visits").mkdir(parents=True)
    for name in ("room-dead", "elsewhere"):
        (tmp_path / name / room.MARK).write_text("process 1")
    (tmp_path / "room-opening" / room.MARK).touch()
    if os.name != "nt":
        (tmp_path / "room-link").symlink_to("elsewhere")
        (dead / "link").symlink_to(tmp_path / "elsewhere")
    (tmp_path / "room-living" / "visits").mkdir(parents=True)
    with room._held(tmp_path / "room-living" / room.MARK):
        before = {path.name for path in tmp_path.iterdir()}
        assert room.sweep(tmp_path) == [dead]
        assert before - {path.name for path in tmp_path.iterdir()} == {"room-dead"}
    assert room.sweep(tmp_path) == [tmp_path / "room-living"]
    assert (tmp_path / "elsewhere" / "visits").exists()


def test_folders_of_another_user_are_not_swept(tmp_path, monkeypatch):
    if not hasattr(os, "geteuid"):
        pytest.skip("files have no owners here")
    (tmp_path / "room-theirs").mkdir()
    (tmp_path / "room-theirs" / room.MARK).write_text("process 1")
    monkeypatch.setattr(os, "geteuid", lambda: (tmp_path).stat().st_uid + 1)
    assert room.sweep(tmp_path) == []
    assert (tmp_path / "room-theirs").exists()


def test_without_locks_nothing_is_swept(tmp_path, monkeypatch):
    """Where the system cannot say who lives, no folder is taken for a dead one."""

    def no_locks(_):
        raise OSError("no locks")

    monkeypatch.setattr(room.files, "locked", no_locks)
    (tmp_path / "room-unknown").mkdir()
    (tmp_path / "room-unknown" / room.MARK).write_text("process 1")
    assert room.sweep(tmp_path) == []
    monkeypatch.setattr(room.tempfile, "tempdir", str(tmp_path))
    with room.own_folder() as place:
        assert (place / room.MARK).read_text().startswith(f"process {os.getpid()}, since ")
    assert not place.exists()


def test_what_cannot_be_removed_is_found_again(tmp_path, monkeypatch):
    left = tmp_path / "room-left"
    (left / "visits").mkdir(parents=True)
    (left / room.MARK).write_text("process 1")
    with monkeypatch.context() as stuck:
        stuck.setattr(room.shutil, "rmtree", lambda *_, **__: None)
        assert room.sweep(tmp_path) == []
        assert (left / room.MARK).exists()
    assert room.sweep(tmp_path) == [left]


# --- before it opens --------------------------------------------------------------------------------------------------


def test_course_is_copied_not_served_in_place(tmp_path):
    course = write_course(tmp_path / "course", *CELLS)
    before = (course / "workbooks" / "01-trial.ipynb").read_bytes()
    assert room.prepare(course, tmp_path / "pages", 30) == {"01-trial.ipynb": "01 · Trial"}
    copy = json.loads((tmp_path / "pages" / "01-trial.ipynb").read_text())
    assert "After 30 minutes" in copy["cells"][1]["source"]
    assert (course / "workbooks" / "01-trial.ipynb").read_bytes() == before


def test_every_workbook_of_the_course_runs_without_its_exercises(tmp_path):
    """Leaving out the code of exercises must not take a name away that a later cell needs."""
    import ast
    import builtins

    room.prepare(cli.course_folder(), tmp_path / "pages", 30)
    for path in sorted((tmp_path / "pages").glob("*.ipynb")):
        cells = [cell for cell in json.loads(path.read_text())["cells"] if cell["cell_type"] == "code"]
        tree = ast.parse("\n".join("".join(cell["source"]) for cell in cells))
        names = [node for node in ast.walk(tree) if isinstance(node, ast.Name)]
        known = {node.id for node in names if isinstance(node.ctx, ast.Store)} | set(dir(builtins))
        known |= {node.arg for node in ast.walk(tree) if isinstance(node, ast.arg)}
        known |= {node.name for node in ast.walk(tree) if isinstance(node, (ast.FunctionDef, ast.ExceptHandler))}
        known |= {alias.asname or alias.name for node in ast.walk(tree) if isinstance(node, (ast.Import, ast.ImportFrom)) for alias in node.names}  # fmt: skip
        assert {node.id for node in names} - known - {"get_ipython", "display"} == set(), path.name


def test_closed_to_the_network_and_with_a_password_unless_asked(monkeypatch):
    asked = {}
    monkeypatch.setattr(room, "serve", lambda *choices: asked.update(choices=choices) or 0)
    assert cli.main(["serve"]) == 0
    assert asked["choices"][1:] == ("127.0.0.1", 8866, None, 40, 30)


def test_screen_says_who_can_reach_it():
    closed, opened = (room.announcement(ip, 8866, "abcdefgh") for ip in ("127.0.0.1", "0.0.0.0"))
    assert "Only this computer" in closed and "nothing on the way is encrypted" not in closed
    assert "nothing on the way is encrypted" in opened and "0.0.0.0" not in opened


def test_leaders_screen_shows_the_link_as_a_square_where_it_can(monkeypatch, capsys):
    link = room._link("127.0.0.1", 8866, "abcdefgh")
    room.show_code(link)
    assert capsys.readouterr().out == ""
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    made = []
    real = room.segno.make
    monkeypatch.setattr(room.segno, "make", lambda text: made.append(text) or real(text))
    room.show_code(link)
    lines = capsys.readouterr().out.splitlines()
    assert (
        made == ["http://127.0.0.1:8866/?token=abcdefgh"] and len(lines) >= (real(link).symbol_size(border=2)[1]) // 2
    )


@pytest.mark.parametrize(
    "choices",
    [
        (8866, "short", 40, 30),
        (0, PASSWORD, 40, 30),
        (8866, PASSWORD, 0, 30),
        (8866, PASSWORD, 40, 0),
        (8866, PASSWORD, 40, float("nan")),
    ],
)
def test_choices_that_make_no_room_are_refused(choices):
    with pytest.raises(InputError):
        room.check_choices(*choices)


def test_taken_port_is_said_and_nothing_is_left(tmp_path):
    write_course(tmp_path)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        code = f"import sys; from flakeyard import cli; import pathlib; cli.course_folder = lambda: pathlib.Path({str(tmp_path)!r}); sys.exit(cli.main())"
        (tmp_path / "tmp").mkdir()
        told = subprocess.run(
            [sys.executable, "-c", code, "serve", f"--port={taken.getsockname()[1]}"],
            capture_output=True, text=True, timeout=60, env={**os.environ, "TMPDIR": str(tmp_path / "tmp")},
        )  # fmt: skip
    assert told.returncode == 2
    assert "--port" in told.stderr and "Traceback" not in told.stderr
    assert not [path for path in (tmp_path / "tmp").iterdir() if path.name.startswith("room-")]
    shutil.rmtree(tmp_path / "tmp")


@pytest.mark.parametrize(
    ("kind", "content", "passes"),
    [("error", {"evalue": "/a/path"}, False), ("stream", {"name": "stderr"}, False), ("stream", {"name": "stdout"}, True),
     ("comm_msg", {}, True)],
)  # fmt: skip
def test_what_a_kernel_says_of_its_mistakes_stays_on_the_serving_computer(kind, content, passes, monkeypatch):
    sent, session = [], Session(key=b"a key")
    one = session.serialize(session.msg(kind, content))
    plain = visitors.ZMQChannelsWebsocketConnection
    monkeypatch.setattr(plain, "handle_outgoing_message", lambda _self, _stream, message: sent.append(message))
    guarded = object.__new__(visitors.OneProtocol)
    monkeypatch.setattr(visitors.OneProtocol, "session", session)
    visitors.OneProtocol.handle_outgoing_message(guarded, "iopub", one)
    assert bool(sent) == passes
