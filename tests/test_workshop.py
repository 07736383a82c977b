"""The recipes for many learners: the values of the cluster, and a real hub with three learners when one can be run."""

import contextlib
import json
import os
import re
import shutil
import subprocess
import sys
import time
import uuid
from pathlib import Path

import pytest

from flakeyard import cli
from flakeyard.workshop import values
from flakeyard.workshop.__main__ import HERE, main

requests = pytest.importorskip("requests")
websocket = pytest.importorskip("websocket")
PASSWORD = "twelve-winter-evenings"
LEARNERS = ("anna", "bodil", "carl")


# --- the values for a cluster ---------------------------------------------------------------------------------------


def test_values_for_the_cluster_are_known_and_of_the_right_kind(capsys):
    assert main(["check"]) == 0
    assert "every value" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ("singleuser:", "singelUser:", "singelUser"),
        ("limit: 1G", "limit: [1G]", "singleuser.memory.limit"),
        ("enabled: true", "enabled: 5 minutes", "proxy.https.enabled"),
        ("type: dynamic", "type: shared", "singleuser.storage.type"),
    ],
)
def test_mistake_in_the_values_is_named(before, after, told):
    text = (HERE / "values.yaml").read_text(encoding="utf-8")
    assert before in text
    assert any(told in line for line in values.problems(text.replace(before, after, 1)))


def test_recipes_lock_what_they_promise_to_lock():
    chosen = values.read((HERE / "values.yaml").read_text(encoding="utf-8"))
    assert chosen["hub"]["config"]["JupyterHub"]["authenticator_class"] not in ("dummy", "null")
    assert chosen["singleuser"]["networkPolicy"]["enabled"]
    assert chosen["singleuser"]["cloudMetadata"]["blockWithIptables"]
    assert chosen["proxy"]["https"]["enabled"]
    image = (HERE / "Dockerfile").read_text(encoding="utf-8")
    assert re.search(r"^USER (?!root|0\b)\S+", image, re.MULTILINE)


def test_unpacked_recipes_hold_every_file_the_readme_names(tmp_path):
    assert main(["unpack", "--state", str(tmp_path)]) == 0
    readme = (tmp_path / "recipes" / "README.md").read_text(encoding="utf-8")
    named = re.findall(r"`([\w/.-]+\.(?:py|yaml|sh|json)|Dockerfile)`", readme.partition("## To read and change")[2])
    assert len(set(named)) >= 5
    assert [name for name in named if not (tmp_path / "recipes" / name).exists()] == []


# --- in the browser without an install ----------------------------------------------------------------------------------


def test_old_distribution_for_the_browser_is_refused(tmp_path):
    """The versions are those of two releases of Pyodide: 0.26.4 (numpy 1.26) and 0.27.7, from memory."""
    place = tmp_path / "pyodide-lock.json"
    for versions, good in (
        (("1.26.4", "1.12.0", "2.2.0", "3.5.2"), False),
        (("2.0.2", "1.14.1", "2.2.3", "3.8.4"), True),
    ):
        packages = {name: {"version": one} for name, one in zip(("numpy", "scipy", "pandas", "matplotlib"), versions)}
        place.write_text(json.dumps({"packages": packages}))
        told = subprocess.run(
            [sys.executable, HERE / "lite" / "prepare.py", "lock", place], capture_output=True, text=True
        )
        assert (told.returncode == 0) is good
        assert ("numpy 2.0 or newer" in told.stderr) is not good


def test_workbooks_for_the_browser_install_the_package_first(tmp_path):
    course = cli.course_folder()
    script = HERE / "lite" / "prepare.py"
    subprocess.run([sys.executable, script, "course", course, tmp_path], check=True)
    made = sorted((tmp_path / "workbooks").glob("*.ipynb"))
    assert len(made) == len(list((course / "workbooks").glob("*.ipynb"))) > 0
    for path in made:
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        code = [cell["source"] for cell in cells if cell["cell_type"] == "code"]
        assert code[0].startswith("%pip install")


def test_build_script_is_a_script_and_says_how_it_is_used():
    script = HERE / "lite" / "build.sh"
    assert subprocess.run(["sh", "-n", script]).returncode == 0
    told = subprocess.run(["sh", script], capture_output=True, text=True)
    assert told.returncode == 2 and "PYODIDE WHEELS COURSE OUT" in told.stderr


# --- a real hub -----------------------------------------------------------------------------------------------------


def hub_python() -> str | None:
    """A Python that has JupyterHub: the one named, or this one."""
    named = os.environ.get("FLAKEYARD_HUB_PYTHON", sys.executable)
    probe = "import jupyterhub, nativeauthenticator, jupyterhub_idle_culler, jupyterlab, flakeyard"
    return named if subprocess.run([named, "-c", probe], capture_output=True).returncode == 0 else None


class Visitor:
    """A browser, as far as the hub can tell."""

    def __init__(self, address: str, name: str):
        self.address, self.name, self.session = address, name, requests.Session()
        self.session.headers["Sec-Fetch-Mode"] = "navigate"

    def form(self, page: str, **fields):
        """Open a page, then send the form on it."""
        self.session.get(f"{self.address}/hub/{page}")
        return self.session.post(f"{self.address}/hub/{page}", data={"_xsrf": self._key(), **fields})

    def _key(self) -> str:
        return next(
            cookie.value for cookie in self.session.cookies if cookie.name == "_xsrf" and cookie.path == "/hub/"
        )

    def sign_up(self, password: str = PASSWORD):
        return self.form("signup", username=self.name, signup_password=password, signup_password_confirmation=password)

    def log_in(self, password: str = PASSWORD) -> bool:
        self.form("login?next=%2Fhub%2Fhome", username=self.name, password=password)
        return "/hub/login" not in self.session.get(f"{self.address}/hub/home").url

    def api(self, method: str, path: str, **more):
        return self.session.request(
            method, f"{self.address}/hub/api/{path}", headers={"X-XSRFToken": self._key()}, **more
        )

    def own_server(self) -> "Server":
        """Start the server of this learner and wait until it is ready."""
        self.api("POST", f"users/{self.name}/server").raise_for_status()
        end = time.monotonic() + 180
        while not self.api("GET", f"users/{self.name}").json()["servers"].get("", {}).get("ready"):
            assert time.monotonic() < end, f"the server of {self.name} did not start"
            time.sleep(0.5)
        token = self.api("POST", f"users/{self.name}/tokens", json={"note": "test"}).json()["token"]
        return Server(f"{self.address}/user/{self.name}", token)


class Server:
    """A learner's own server, spoken to with a token."""

    def __init__(self, address: str, token: str):
        self.address, self.headers = address, {"Authorization": f"token {token}"}

    def ask(self, method: str, path: str, **more):
        return requests.request(method, f"{self.address}/api/{path}", headers=self.headers, **more)

    def run(self, code: str) -> str:
        """What the code prints, or the name of the error it ends in."""
        kernel = self.ask("POST", "kernels", json={"path": "workbooks"}).json()["id"]
        channel = websocket.create_connection(
            f"ws{self.address[4:]}/api/kernels/{kernel}/channels",
            header=[f"Authorization: {self.headers['Authorization']}"],
            timeout=90,
        )
        message = {
            "header": {"msg_id": uuid.uuid4().hex, "username": "", "session": "s", "msg_type": "execute_request", "version": "5.3"},
            "parent_header": {}, "metadata": {}, "channel": "shell",
            "content": {"code": code, "silent": False, "store_history": False, "allow_stdin": False},
        }  # fmt: skip
        channel.send(json.dumps(message))
        told, reply, rests = "", None, False
        while not (reply and rests):  # the two come by different ways, in any order
            answer = json.loads(channel.recv())
            if answer["parent_header"].get("msg_id") != message["header"]["msg_id"]:
                continue
            content = answer["content"]
            told += content.get("text", "") if answer["msg_type"] == "stream" else ""
            reply = content if answer["msg_type"] == "execute_reply" else reply
            rests = rests or (answer["msg_type"] == "status" and content["execution_state"] == "idle")
        channel.close()
        self.ask("DELETE", f"kernels/{kernel}")
        return told.strip() if reply["status"] == "ok" else reply["ename"]


@pytest.fixture(scope="module")
def hub(tmp_path_factory):
    """The address of a running hub; the accounts it makes are removed again."""
    python, modules = hub_python(), os.environ.get("FLAKEYARD_HUB_PROXY")
    if not python or not modules or os.name != "posix" or os.geteuid() != 0:
        pytest.skip(
            "needs root, FLAKEYARD_HUB_PYTHON (a Python with JupyterHub) and FLAKEYARD_HUB_PROXY (node_modules)"
        )
    from_others = [name for name in LEARNERS if _account(name)]
    assert from_others == [], "these accounts exist already"
    state = tmp_path_factory.mktemp("hub")
    shutil.copytree(modules, state / "node_modules", symlinks=True)
    log = (state / "log").open("wb")
    command = [python, "-m", "flakeyard.workshop", "start", f"--state={state}", "--port=8953"]
    process = subprocess.Popen(
        command, stdout=log, stderr=log, cwd=state, env={**os.environ, "CLASS_LEADER_PASSWORD": PASSWORD}
    )
    try:
        _wait_for("http://127.0.0.1:8953/hub/login", process, state / "log")
        yield "http://127.0.0.1:8953"
    finally:
        _stop(process)
        for name in LEARNERS:
            if _account(name):
                subprocess.run(["userdel", "--remove", f"class-{name}"], capture_output=True)


def _account(name: str) -> bool:
    return subprocess.run(["getent", "passwd", f"class-{name}"], capture_output=True).returncode == 0


def _wait_for(address: str, process, log: Path) -> None:
    for _ in range(120):
        with contextlib.suppress(requests.ConnectionError):
            if requests.get(address).ok:
                return
        assert process.poll() is None, log.read_text()[-2000:]
        time.sleep(0.5)
    raise AssertionError("the hub did not start")


def _stop(process) -> None:
    """End the hub as Ctrl-C would: its child is the hub proper, which ends the learners' servers."""
    import psutil

    for child in psutil.Process(process.pid).children():
        child.terminate()
    process.wait(60)


@pytest.fixture(scope="module")
def servers(hub):
    """The servers of three learners, after sign-up, the leader's consent, and login."""
    visitors = {name: Visitor(hub, name) for name in LEARNERS}
    for visitor in visitors.values():
        visitor.sign_up()
        assert not visitor.log_in(), "nobody comes in before the leader agrees"
    leader = Visitor(hub, "leader")
    assert leader.log_in()
    for name in LEARNERS:
        leader.session.get(f"{hub}/hub/authorize/{name}")
    assert all(visitor.log_in() for visitor in visitors.values())
    return {name: visitor.own_server() for name, visitor in visitors.items()}


@pytest.mark.slow
def test_names_and_passwords_that_are_refused(hub):
    for name, password in (("root", "short"), ("doris", "short"), ("doris", "1234567890")):
        visitor = Visitor(hub, name)
        visitor.sign_up(password)
        assert not visitor.log_in(password)
    for name in ("Anna/../x", "a", "1anna", "anna-root", "x" * 40):
        assert "successful" not in Visitor(hub, name).sign_up().text
    assert not Visitor(hub, "leader").log_in("guess")


@pytest.mark.slow
def test_every_learner_has_an_account_of_their_own_and_the_course(servers):
    told = {
        name: server.run("import os, getpass; print(getpass.getuser(), os.getuid())")
        for name, server in servers.items()
    }
    assert {text.split()[0] for text in told.values()} == {f"class-{name}" for name in LEARNERS}
    assert len({text.split()[1] for text in told.values()} - {"0"}) == 3
    code = "import flakeyard as fy\nprint(fy.plan(fy.batch()).verdict.keep)"
    assert servers["anna"].run(code) in ("cupboard", "cold", "freezer", "not_known", "nowhere")


@pytest.mark.slow
def test_no_learner_reads_or_writes_the_files_of_another(servers):
    servers["anna"].run("open('my-batch.toml', 'w').write('title = \"secret\"')")
    home = servers["anna"].run("import os; print(os.getcwd())")
    assert servers["anna"].run("print(open('my-batch.toml').read())") == 'title = "secret"'
    for attempt in (f"open('{home}/my-batch.toml')", f"open('{home}/x', 'w')", f"__import__('os').listdir('{home}')"):
        assert servers["bodil"].run(attempt) == "PermissionError"
    path = servers["bodil"].run("import tempfile; print(tempfile.mkstemp()[1])")
    assert servers["anna"].run(f"open('{path}')") == "PermissionError"
    stolen = Server(servers["anna"].address, servers["bodil"].headers["Authorization"].split()[1])
    assert stolen.ask("GET", "contents").status_code in (403, 404)


@pytest.mark.slow
def test_limits_hold(servers):
    anna = servers["anna"]
    assert anna.run("b = bytearray(2 * 1024**3)") == "MemoryError"
    assert anna.run("with open('big', 'wb') as f: f.write(bytes(60 * 1024**2))") == "OSError"
    body = {"type": "file", "format": "text", "content": "x" * 21_000_000}
    with contextlib.suppress(requests.ConnectionError):  # the server may hang up before the whole body has come
        assert anna.ask("PUT", "contents/upload.txt", json=body).status_code >= 400
    assert anna.ask("GET", "contents/upload.txt").status_code == 404


@pytest.mark.slow
def test_without_login_nothing_opens(hub, servers):
    for path in ("/user/anna/lab", "/user/anna/api/contents", "/hub/api/users", "/hub/authorize"):
        told = requests.get(hub + path)
        assert told.status_code in (401, 403, 404) or "/hub/login" in told.url, path
