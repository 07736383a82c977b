"""Starts one learner's server, as that learner: limits first, then a copy of the course in their own home folder."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path

LARGEST_FILE = 50 * 1024 * 1024  # bytes, of any file a learner writes or uploads in pieces
MOST_PROCESSES = 400  # processes and threads together


def set_limits(memory_mb: int) -> None:
    """Limits for this process and all it starts: memory of each, size of any file, number of processes."""
    import resource

    memory = memory_mb * 1024 * 1024
    for what, most in (
        (resource.RLIMIT_DATA, memory),
        (resource.RLIMIT_FSIZE, LARGEST_FILE),
        (resource.RLIMIT_NPROC, MOST_PROCESSES),
        (resource.RLIMIT_CORE, 0),
    ):
        hard = resource.getrlimit(what)[1]
        most = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(what, (most, most))


def own_course(home: Path) -> Path:
    """The learner's copy of the course; what is there already stays as it is."""
    from flakeyard import cli

    os.chdir(home)
    source, target = cli.course_folder(), home / cli.COPY
    if source == target:
        return target
    for part in ("workbooks", "data_demo"):
        for original in sorted((source / part).rglob("*")):
            copy = target / original.relative_to(source)
            if original.is_file() and not copy.exists():
                copy.parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(original, copy)
    return target


def quiet_lab(settings: Path) -> None:
    """JupyterLab asks nobody for news or updates, and does not offer to."""
    file = settings / "@jupyterlab" / "apputils-extension" / "notification.jupyterlab-settings"
    if not file.exists():
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text('{"fetchNews": "false", "checkForUpdates": false}\n', encoding="utf-8")
    os.environ["JUPYTERLAB_SETTINGS_DIR"] = str(settings)


def main() -> None:
    """Become the learner's server."""
    os.umask(0o077)
    home = Path.home()
    (home / "tmp").mkdir(exist_ok=True)
    os.environ["TMPDIR"] = tempfile.tempdir = str(home / "tmp")  # /tmp is shared by all
    own_course(home)
    quiet_lab(home / ".lab-settings")
    set_limits(int(os.environ.get("CLASS_MEMORY_MB", "1024")))
    os.execv(sys.executable, [sys.executable, "-m", "jupyterhub.singleuser", *sys.argv[1:]])


if __name__ == "__main__":
    main()
