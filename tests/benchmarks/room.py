"""How many learners a room can hold: everyone opens a workbook and moves its sliders, over the same protocol as a browser.

    python tests/benchmarks/room.py --learners 30 --moves 20
    python tests/benchmarks/room.py --learners 60 --moves 20

Starts a room of its own on this computer, measures, prints a table (and JSON with --json FILE), and closes it again.
"""

from __future__ import annotations

import argparse
import contextlib
import http.cookiejar
import itertools
import json
import random
import re
import secrets
import socket
import struct
import subprocess
import sys
import threading
import time
import urllib.request
import uuid
from dataclasses import dataclass, field

import numpy as np
import psutil
import websocket

PAGE = re.compile(r'id="jupyter-config-data" type="application/json">\s*(\{.*?\})\s*</script>', re.DOTALL)
PATIENCE = 600.0  # s, for a page; 60 s for a move


def packed(channel: str, *parts: dict) -> bytes:
    """A message as browsers send it (v1.kernel.websocket.jupyter.org): count, offsets, channel, four parts of JSON."""
    pieces = [channel.encode(), *(json.dumps(part).encode() for part in parts)]
    starts = itertools.accumulate(map(len, pieces), initial=8 * (len(pieces) + 2))
    return struct.pack(f"<{len(pieces) + 2}Q", len(pieces) + 1, *starts) + b"".join(pieces)


def unpacked(frame: bytes) -> dict:
    """A message as browsers get it: type, the message it answers, content, and binary parts."""
    count = struct.unpack_from("<Q", frame)[0]
    offsets = struct.unpack_from(f"<{count}Q", frame, 8)
    parts = [frame[start:stop] for start, stop in itertools.pairwise(offsets)]
    header, parent, _, content = (json.loads(part) for part in parts[1:5])
    return {"type": header["msg_type"], "answers": parent.get("msg_id"), "content": content, "buffers": parts[5:]}


@dataclass
class Learner:
    """One browser: opens the page, moves handles, waits for the picture of each move."""

    address: str
    token: str
    workbook: str
    start: float = float("nan")
    first: list[float] = field(default_factory=list)
    settled: list[float] = field(default_factory=list)
    trouble: list[str] = field(default_factory=list)

    def visit(
        self,
        moves: int,
        think: float,
        delay: float,
        opened: threading.Semaphore,
        go: threading.Event,
        seen: threading.Barrier,
    ) -> None:
        """The whole visit; what goes wrong is written down, never raised."""
        time.sleep(delay)
        try:
            self.open_page()
        except Exception as trouble:
            self.trouble.append(f"page: {trouble!r}"[:200])
        opened.release()
        if not self.trouble:
            try:
                self.listen(go)
                for number in range(moves):
                    time.sleep(random.uniform(0.5, 1.5) * think)
                    self.move(number)
            except Exception as trouble:
                self.trouble.append(f"move: {trouble!r}"[:200])
        seen.wait()

    def listen(self, go: threading.Event) -> None:
        """Answer the pings of the server until all are there, as a browser does."""
        self.channel.settimeout(1.0)
        while not go.is_set():
            with contextlib.suppress(websocket.WebSocketTimeoutException):
                self.channel.recv()
        self.channel.settimeout(60.0)

    def open_page(self) -> None:
        """Fetch the page, which runs the workbook, then learn of its widgets as a browser does."""
        begun = time.monotonic()
        request = urllib.request.Request(
            f"{self.address}/voila/render/{self.workbook}", headers={"Authorization": f"token {self.token}"}
        )
        jar = http.cookiejar.CookieJar()
        browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(jar))
        with browser.open(request, timeout=PATIENCE) as answer:
            page = answer.read().decode()
        kept = "; ".join(f"{one.name}={one.value}" for one in jar)
        kernel = json.loads(PAGE.search(page)[1])["kernelId"]
        self.channel = websocket.create_connection(
            f"ws{self.address[4:]}/api/kernels/{kernel}/channels",
            header=[f"Authorization: token {self.token}", f"Cookie: {kept}"], timeout=60,
            subprotocols=["v1.kernel.websocket.jupyter.org"],
        )  # fmt: skip
        states = self._states()
        self.start = time.monotonic() - begun
        pictures = {
            name: model["state"] for name, model in states.items() if "controls" in model["state"].get("setup", {})
        }
        if not pictures:
            raise RuntimeError("no picture with handles on the page")
        self.picture, state = next(iter(pictures.items()))
        self.controls, self.values = state["setup"]["controls"], dict(state["record"]["values"])

    def _states(self) -> dict:
        asked = self._send("kernel_info_request", {})  # what is sent before the kernel is reached would be lost
        while True:
            message = unpacked(self.channel.recv())
            if message["answers"] == asked and message["type"] == "kernel_info_reply":
                break
        comm = uuid.uuid4().hex
        self._send("comm_open", {"comm_id": comm, "target_name": "jupyter.widget.control", "data": {}}, version="1.0.0")
        self._send("comm_msg", {"comm_id": comm, "data": {"method": "request_states"}})
        while True:
            message = unpacked(self.channel.recv())
            if message["type"] == "comm_msg" and message["content"]["data"].get("method") == "update_states":
                return message["content"]["data"]["states"]

    def _send(self, kind: str, content: dict, **metadata) -> str:
        name = uuid.uuid4().hex
        header = {"msg_id": name, "username": "", "session": "load", "msg_type": kind, "version": "5.3"}
        self.channel.send_binary(packed("shell", header, {}, metadata, content))
        return name

    def move(self, number: int) -> None:
        """Move one handle by one mark; times until its picture, and until the kernel rests."""
        control = self.controls[number % len(self.controls)]
        marks, rest = control["values"], dict(self.values)
        place = marks.index(rest[control["name"]])
        self.values[control["name"]] = marks[place + 1 if place + 1 < len(marks) else place - 1]
        begun = time.monotonic()
        asked = {"who": "load", "serial": number + 1, "values": self.values, "rest": rest, "guess": None}
        data = {"method": "custom", "content": asked}
        name, drawn = self._send("comm_msg", {"comm_id": self.picture, "data": data}), None
        while True:
            message = unpacked(self.channel.recv())
            if message["answers"] != name:
                continue
            content = message["content"]
            of_picture = message["type"] == "comm_msg" and content["comm_id"] == self.picture
            if of_picture and content["data"].get("state", {}).get("record", {}).get("serial") == number + 1:
                drawn = drawn or time.monotonic() - begun
            if message["type"] in ("error", "stream"):
                raise RuntimeError(str(content)[:150])
            if message["type"] == "status" and content["execution_state"] == "idle":
                break
        if drawn is None:
            raise RuntimeError(f"{control['name']} moved and no picture came")
        self.first.append(drawn)
        self.settled.append(time.monotonic() - begun)


def memory(server: psutil.Process) -> dict:
    """Megabytes of the server, and of its kernels: resident, proportional (shared pages divided), own."""
    kernels = [
        child.memory_full_info()
        for child in server.children(recursive=True)
        if "ipykernel" in " ".join(child.cmdline())
    ]
    mega = 1024 * 1024
    told = {"server_rss": server.memory_info().rss / mega, "kernels": len(kernels)}
    for part in ("rss", "pss", "uss"):
        values = [getattr(info, part) / mega for info in kernels] or [float("nan")]
        told |= {f"kernel_{part}_median": float(np.median(values)), f"kernels_{part}_all": float(np.sum(values))}
    return told


def measure(learners: int, moves: int, think: float, arrive: float, workbook: str) -> dict:
    """Open a room, let the learners in, and put what happened into numbers."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    token = secrets.token_hex(8)
    command = [
        sys.executable,
        "-m",
        "flakeyard.cli",
        "serve",
        f"--port={port}",
        f"--token={token}",
        f"--learners={learners + 2}",
    ]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    server = psutil.Process(process.pid)
    try:
        while "Ctrl-C" not in process.stdout.readline():
            if process.poll() is not None:
                raise SystemExit("the room did not open")
        people = [Learner(f"http://127.0.0.1:{port}", token, workbook) for _ in range(learners)]
        opened, go, seen = threading.Semaphore(0), threading.Event(), threading.Barrier(learners + 1)
        threads = [
            threading.Thread(
                target=one.visit, args=(moves, think, arrive * number / learners, opened, go, seen), daemon=True
            )
            for number, one in enumerate(people)
        ]
        begun = time.monotonic()
        for thread in threads:
            thread.start()
        for _ in people:
            opened.acquire()
        all_open = time.monotonic() - begun
        go.set()
        seen.wait()
        told = memory(server)
    finally:
        process.terminate()
        process.wait(60)
    return {"learners": learners, "workbook": workbook, "all_open_s": all_open, **told, **_times(people, moves)}


def _times(people: list[Learner], moves: int) -> dict:
    starts = [one.start for one in people if one.start == one.start]
    first, settled = ([time for one in people for time in getattr(one, part)] for part in ("first", "settled"))
    told = {
        "succeeded": sum(len(one.first) == moves for one in people),
        "moves": len(first),
        "moves_asked": moves * len(people),
    }
    for name, values in (("start_s", starts), ("slider_s", first), ("settled_s", settled)):
        for word, share in (("median", 50), ("p95", 95), ("max", 100)):
            told[f"{name}_{word}"] = float(np.percentile(values, share)) if values else None
    return told | {"trouble": [text for one in people for text in one.trouble][:10]}


def table(told: dict) -> str:
    """Two columns: what, how much."""

    def shown(value) -> str:
        return f"{value:.2f}" if isinstance(value, float) else str(value)

    return "\n".join(f"{name:24}{shown(value)}" for name, value in told.items())


def main() -> None:
    """Read the choices, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--learners", type=int, default=3)
    parser.add_argument("--moves", type=int, default=20, help="slider moves of each learner (default 20)")
    parser.add_argument("--think", type=float, default=3.0, help="mean seconds between moves (default 3)")
    parser.add_argument(
        "--arrive", type=float, default=0.0, help="seconds over which they arrive (default 0: all at once)"
    )
    parser.add_argument("--workbook", default="06-dry-to-weight.ipynb")
    parser.add_argument("--json", help="also write the numbers to this file")
    given = parser.parse_args()
    told = measure(given.learners, given.moves, given.think, given.arrive, given.workbook)
    print(table(told))
    if given.json:
        with open(given.json, "w", encoding="utf-8") as out:
            json.dump(told, out, indent=2)


if __name__ == "__main__":
    main()
