"""How many learners the hub on one computer can hold: each signs in, gets a server, runs a workbook and moves its sliders.

    python tests/benchmarks/hub.py --python HUB/bin/python --proxy STATE/node_modules --learners 8

Starts the hub's demo (`python -m flakeyard.workshop start --demo`: the same spawner and the same kernels, one system
account) with a Python that has JupyterHub and the proxy that `python -m flakeyard.workshop install` puts in place,
measures, prints a table (and JSON with --json FILE), and closes it again.
"""

from __future__ import annotations

import argparse
import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from pathlib import Path

import psutil
import requests
import room
import websocket

MEGA = 1024 * 1024
PARTS = {"server": "jupyterhub.singleuser", "kernel": "ipykernel", "proxy": "configurable-http-proxy"}


@dataclass
class HubLearner(room.Learner):
    """A learner with a name: signs in, starts a server, runs the workbook cell by cell, moves handles."""

    name: str = ""
    turned_away: int = 0

    def open_page(self) -> None:
        begun = time.monotonic()
        server = self._own_server()
        path = f"{server}/api/contents/workbooks/{self.workbook}"
        cells = self.session.get(path, timeout=room.PATIENCE).json()["content"]["cells"]
        kernel = self._posted(f"{server}/api/kernels", {"path": "workbooks"}).json()["id"]
        self.channel = websocket.create_connection(
            f"ws{server[4:]}/api/kernels/{kernel}/channels", header=[f"Authorization: token {self.own}"], timeout=room.PATIENCE,
            subprotocols=["v1.kernel.websocket.jupyter.org"],
        )  # fmt: skip
        shown: dict[str, dict] = {}
        for cell in cells:
            if cell["cell_type"] == "code" and not {"exercise", "solution"} & set(cell["metadata"].get("tags", ())):
                self._run(cell["source"], shown)
        self.start = time.monotonic() - begun
        pictures = {name: state for name, state in shown.items() if "controls" in state.get("setup", {})}
        if not pictures:
            raise RuntimeError("no picture with handles in the workbook")
        self.picture, state = next(iter(pictures.items()))
        self.controls, self.values = state["setup"]["controls"], dict(state["record"]["values"])

    def _own_server(self) -> str:
        """Sign in, start the server and wait for it; returns its address."""
        self.session = requests.Session()
        self.session.headers["Sec-Fetch-Mode"] = "navigate"
        login = f"{self.address}/hub/login"
        self.session.get(login, timeout=room.PATIENCE)
        form = {"_xsrf": self._key(), "username": self.name, "password": self.token}
        self.session.post(login, params={"next": "/hub/home"}, data=form, timeout=room.PATIENCE).raise_for_status()
        own = f"{self.address}/hub/api/users/{self.name}"
        self._posted(f"{own}/server")
        end = time.monotonic() + room.PATIENCE
        while not self.session.get(own, headers=self._keyed(), timeout=60).json()["servers"].get("", {}).get("ready"):
            if time.monotonic() > end:
                raise RuntimeError("the server did not start")
            time.sleep(1.0)
        self.own = self._posted(f"{own}/tokens", {"note": "load"}).json()["token"]
        self.session = requests.Session()
        self.session.headers["Authorization"] = f"token {self.own}"
        return f"{self.address}/user/{self.name}"

    def _key(self) -> str:
        found = [one.value for one in self.session.cookies if one.name == "_xsrf" and one.path == "/hub/"]
        return found[0] if found else ""

    def _keyed(self) -> dict:
        return {"X-XSRFToken": self._key()}

    def _posted(self, address: str, told: dict | None = None) -> requests.Response:
        """The answer; the hub starts a few servers at a time, and asks the others to come again."""
        end = time.monotonic() + room.PATIENCE
        while True:
            answer = self.session.post(address, headers=self._keyed(), json=told, timeout=room.PATIENCE)
            if answer.status_code != 429 or time.monotonic() > end:
                answer.raise_for_status()
                return answer
            self.turned_away += 1
            time.sleep(float(answer.headers.get("Retry-After", 5)))

    def _run(self, code: str, shown: dict[str, dict]) -> None:
        """Run a cell to its end, and keep the state of every widget that it makes."""
        asked = self._send(
            "execute_request", {"code": code, "silent": False, "store_history": True, "allow_stdin": False}
        )
        while True:
            message = room.unpacked(self.channel.recv())
            if message["answers"] != asked:
                continue
            content = message["content"]
            if message["type"] == "error":
                raise RuntimeError(f"{content['ename']}: {content['evalue']}"[:150])
            if message["type"] == "comm_open":
                shown[content["comm_id"]] = content["data"].get("state", {})
            if message["type"] == "status" and content["execution_state"] == "idle":
                return


def memory(hub: psutil.Process) -> dict:
    """Megabytes, shared pages divided, of the hub itself, its proxy, the learners' servers and their kernels."""
    told = {f"{part}s_MB": 0.0 for part in (*PARTS, "hub")} | {f"{part}s": 0 for part in PARTS}
    for one in hub.children(recursive=True):
        words = " ".join(one.cmdline())
        part = next((part for part, sign in PARTS.items() if sign in words), "hub")
        told[f"{part}s_MB"] += one.memory_full_info().pss / MEGA
        if part in PARTS:
            told[f"{part}s"] += 1
    return told | {"all_MB": sum(value for name, value in told.items() if name.endswith("_MB"))}


def measure(given) -> dict:
    """Open a hub, let the learners in, and put what happened into numbers."""
    password, state = secrets.token_hex(8), Path(tempfile.mkdtemp(prefix="hub-load-"))
    os.symlink(Path(given.proxy).resolve(), state / "node_modules")
    command = [given.python, "-m", "flakeyard.workshop", "start", "--demo", f"--state={state}", f"--port={given.port}"]
    with open(state / "log", "wb") as log:
        environment = os.environ | {"CLASS_LEADER_PASSWORD": password}
        process = subprocess.Popen(command, stdout=log, stderr=log, cwd=state, env=environment)
    try:
        address = _opened(f"http://127.0.0.1:{given.port}", process, state / "log")
        people = [HubLearner(address, password, given.workbook, name=f"learner{n}") for n in range(given.learners)]
        opened, go, seen = threading.Semaphore(0), threading.Event(), threading.Barrier(given.learners + 1)
        begun = time.monotonic()
        for number, one in enumerate(people):
            wait = given.arrive * number / given.learners
            threading.Thread(
                target=one.visit, args=(given.moves, given.think, wait, opened, go, seen), daemon=True
            ).start()
        for _ in people:
            opened.acquire()
        all_open = time.monotonic() - begun
        go.set()
        seen.wait()
        told = memory(psutil.Process(process.pid))
    finally:
        _closed(process)
        shutil.rmtree(state, ignore_errors=True)
    away = sum(one.turned_away for one in people)
    return {"learners": given.learners, "all_open_s": all_open, "turned_away": away, **told} | room._times(
        people, given.moves
    )


def _opened(address: str, process: subprocess.Popen, log: Path) -> str:
    for _ in range(240):
        with socket.socket() as probe:
            if (
                probe.connect_ex(("127.0.0.1", int(address.rpartition(":")[2]))) == 0
                and requests.get(f"{address}/hub/login").ok
            ):
                return address
        if process.poll() is not None:
            break
        time.sleep(0.5)
    raise SystemExit(f"the hub did not open: {log.read_text()[-800:]}")


def _closed(process: subprocess.Popen) -> None:
    """As Ctrl-C would: the hub proper is a child of the command, and ends the learners' servers."""
    if process.poll() is None:
        below = psutil.Process(process.pid).children(recursive=True)
        for child in psutil.Process(process.pid).children():
            child.terminate()
        process.wait(120)
        for left in psutil.wait_procs(below, timeout=20)[1]:
            left.kill()


def main() -> None:
    """Read the choices, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--python", default=sys.executable, help="a Python with JupyterHub and this package")
    parser.add_argument("--proxy", default="class-state/node_modules", help="where the proxy was installed")
    parser.add_argument("--port", type=int, default=8960)
    parser.add_argument("--learners", type=int, default=3)
    parser.add_argument("--moves", type=int, default=20, help="slider moves of each learner (default 20)")
    parser.add_argument("--think", type=float, default=3.0, help="mean seconds between moves (default 3)")
    parser.add_argument("--arrive", type=float, default=0.0, help="seconds over which they arrive (default 0)")
    parser.add_argument("--workbook", default="06-dry-to-weight.ipynb")
    parser.add_argument("--json", help="also write the numbers to this file")
    given = parser.parse_args()
    told = measure(given)
    print(room.table(told))
    if given.json:
        Path(given.json).write_text(json.dumps(told, indent=2), encoding="utf-8")


if __name__ == "__main__":
    main()
