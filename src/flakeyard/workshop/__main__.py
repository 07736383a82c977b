"""`python -m flakeyard.workshop install | start | check | unpack`: a hub for a class, on one computer."""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
from pathlib import Path

from flakeyard.messages import say

HERE = Path(__file__).resolve().parent
# below 6: nativeauthenticator 1.3 uses a part of JupyterHub that 6 has dropped, and nobody could log in
PARTS = ("jupyterhub>=5.2,<6", "jupyterhub-nativeauthenticator>=1.3", "jupyterhub-idle-culler>=1.4", "jupyterlab>=4.3")
PROXY = "configurable-http-proxy@5"


def main(arguments: list[str] | None = None) -> int:
    """Run one of the commands; returns the exit code."""
    parser = argparse.ArgumentParser(prog="python -m flakeyard.workshop", description=__doc__)
    parser.add_argument("command", choices=("install", "start", "check", "unpack"))
    parser.add_argument("--state", default="class-state", help=say("workshop.state"))
    parser.add_argument("--ip", default="127.0.0.1", help=say("workshop.ip"))
    parser.add_argument("--port", type=int, default=8000, help=say("workshop.port"))
    parser.add_argument("--memory-mb", type=int, default=1024, help=say("workshop.memory"))
    parser.add_argument("--demo", action="store_true", help=say("workshop.demo"))
    given = parser.parse_args(arguments)
    return {"install": install, "start": start, "check": check, "unpack": unpack}[given.command](given)


def install(given) -> int:
    """Put JupyterHub into this Python and the proxy into the state folder; both come from the usual registries."""
    if not shutil.which("npm"):
        print(say("workshop.npm"), file=sys.stderr)
        return 2
    Path(given.state).mkdir(mode=0o700, exist_ok=True)
    steps = (
        [sys.executable, "-m", "pip", "install", *PARTS],
        ["npm", "install", "--no-fund", "--no-audit", "--prefix", given.state, PROXY],
    )
    return next((code for step in steps if (code := subprocess.call(step))), 0)


def start(given) -> int:
    """Start the hub; it runs until Ctrl-C."""
    chosen = {
        "CLASS_STATE": given.state, "CLASS_IP": given.ip, "CLASS_PORT": str(given.port),
        "CLASS_MEMORY_MB": str(given.memory_mb), "CLASS_DEMO": "1" if given.demo else "0",
    }  # fmt: skip
    command = [sys.executable, "-m", "jupyterhub", "--config", str(HERE / "jupyterhub_config.py")]
    try:
        return subprocess.call(command, env={**os.environ, **chosen})
    except KeyboardInterrupt:
        return 0


def check(given) -> int:
    """Hold the values file for a cluster against the schema of the values we use."""
    from flakeyard.workshop import values

    wrong = values.problems((HERE / "values.yaml").read_text(encoding="utf-8"))
    print("\n".join(wrong) or say("workshop.values"))
    return 1 if wrong else 0


def unpack(given) -> int:
    """Copy the recipes into the state folder, to read and to change."""
    target = Path(given.state) / "recipes"
    shutil.copytree(HERE, target, dirs_exist_ok=True, ignore=shutil.ignore_patterns("__pycache__", "*.pyc"))
    print(say("cli.written", path=target))
    return 0


if __name__ == "__main__":
    sys.exit(main())
