"""A private JupyterLab on 127.0.0.1 and the Chromium of the system, driven by Playwright.

Nothing may leave this machine: every request that is not to 127.0.0.1 is refused and written down, and each test fails
if there was one. Without Chromium the tests are skipped, unless FLAKEYARD_BROWSER=required.
"""

import atexit
import contextlib
import functools
import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import nbformat
import pytest

ROOT = Path(__file__).resolve().parents[2]
SHOTS = os.environ.get("FLAKEYARD_SHOTS")  # a folder, when screenshots are wanted
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-sync", "--disable-component-update", "--disable-dev-shm-usage", "--disable-domain-reliability",
]  # fmt: skip
# no start-up question, no look-ups; every cell is in the page even when it is scrolled away
SETTINGS = {
    "apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False, "doNotDisturbMode": True},
    "notebook-extension/tracker": {"windowingMode": "none", "renderCellOnIdle": False},
}
IDLE = "window.jupyterapp?.shell?.currentWidget?.sessionContext?.session?.kernel?.status === 'idle'"
ALL_RAN = """() => {
  const shown = window.jupyterapp.shell.currentWidget;
  const code = [...shown.content.widgets].filter(cell => cell.model.type === 'code');
  return code.every(cell => cell.model.executionCount || !cell.model.sharedModel.source.trim())
    && shown.sessionContext.session.kernel.status === 'idle'; }"""


def find_chromium() -> str | None:
    return os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@contextlib.contextmanager
def serve(command, address, environment, log: Path, patience=60.0):
    """Start a server, wait until it answers, and stop exactly that process afterwards."""
    with log.open("wb") as out:
        process = subprocess.Popen(command, stdout=out, stderr=subprocess.STDOUT, env=environment)
        try:
            _wait_for(process, address, patience, log)
            yield process
        finally:
            process.terminate()
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait(10)


def _wait_for(process, address, patience, log):
    end = time.monotonic() + patience
    while True:
        try:
            urllib.request.urlopen(address, timeout=2).close()
            return
        except OSError:
            if process.poll() is not None or time.monotonic() > end:
                raise RuntimeError(f"the server did not start; its log ends: {log.read_text()[-800:]}") from None
            time.sleep(0.1)


def private_environment(place: Path) -> dict[str, str]:
    """Environment in which Jupyter reads and writes nothing of the user's own."""
    names = {
        "JUPYTER_CONFIG_DIR": "config", "JUPYTER_DATA_DIR": "data", "JUPYTER_RUNTIME_DIR": "run",
        "IPYTHONDIR": "ipython", "MPLCONFIGDIR": "mpl", "JUPYTERLAB_SETTINGS_DIR": "settings",
        "JUPYTERLAB_WORKSPACES_DIR": "workspaces",
    }  # fmt: skip
    for name, content in SETTINGS.items():
        file = place / "settings" / "@jupyterlab" / f"{name}.jupyterlab-settings"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps(content))
    return {**os.environ, "JUPYTER_PLATFORM_DIRS": "1", **{key: str(place / part) for key, part in names.items()}}


@contextlib.contextmanager
def running_lab(place: Path, notebooks: Path):
    """The address of a JupyterLab that serves the folder `notebooks`."""
    port = free_port()
    command = [
        sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", "--ip=127.0.0.1", f"--port={port}",
        "--ServerApp.port_retries=0", "--IdentityProvider.token=", "--PasswordIdentityProvider.hashed_password=",
        f"--ServerApp.root_dir={notebooks}", "--LabApp.expose_app_in_browser=True", "--LabApp.news_url=None",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
    ]  # fmt: skip
    address = f"http://127.0.0.1:{port}"
    with serve(command, f"{address}/api", private_environment(place), place / "lab.log"):
        yield address


@functools.cache
def _playwright():
    """The one of this process: two of them cannot be open beside each other."""
    from playwright.sync_api import sync_playwright

    started = sync_playwright().start()
    atexit.register(started.stop)
    return started


@contextlib.contextmanager
def running_browser(profile: Path, chromium: str, **options):
    """A Chromium with a fresh profile whose requests to anywhere else are refused and listed in `.outside`."""
    context = _playwright().chromium.launch_persistent_context(
        str(profile), executable_path=chromium, headless=True, args=FLAGS,
        viewport={"width": 1280, "height": 900}, **options,
    )  # fmt: skip
    context.set_default_timeout(180_000)
    context.outside = []
    context.route(
        lambda url: not url.startswith(("http://127.0.0.1:", "data:", "blob:", "file:")),
        lambda route: (context.outside.append(route.request.url), route.abort()),
    )
    yield context
    context.close()


def show_notebook(page, address: str, name: str, run: bool = True):
    """Open a notebook in JupyterLab and, if asked, run every cell and wait until the kernel rests."""
    page.goto(f"{address}/lab/tree/{name}?reset")
    page.wait_for_selector(".jp-Notebook .jp-Cell")
    page.wait_for_function("window.jupyterapp?.shell?.currentWidget?.context?.isReady")
    page.wait_for_function(IDLE)
    if run:
        run_all(page, name)
    return page


def run_all(page, name: str) -> None:
    """Run every cell of the notebook shown, and wait until the kernel rests."""
    page.evaluate("window.jupyterapp.commands.execute('notebook:run-all-cells')")
    try:
        page.wait_for_function(ALL_RAN)
    except Exception:
        failed = page.locator("[data-mime-type='application/vnd.jupyter.error']").all_inner_texts()
        raise AssertionError(f"{name} did not run to its end: {failed or 'no error is shown'}") from None


def write_notebook(path: Path, *cells: str) -> None:
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(cell) for cell in cells])
    notebook.metadata.kernelspec = {"name": "python3", "display_name": "Python 3", "language": "python"}
    nbformat.write(notebook, path)


@pytest.fixture(scope="session")
def chromium() -> str:
    found = find_chromium()
    if not found and os.environ.get("FLAKEYARD_BROWSER") == "required":
        pytest.fail("FLAKEYARD_BROWSER=required, and there is no Chromium")
    if not found:
        pytest.skip("no Chromium on this computer")
    return found


@pytest.fixture(scope="session")
def notebooks(tmp_path_factory) -> Path:
    """A folder laid out like the course, with copies of the workbooks; tests may add notebooks of their own."""
    course = tmp_path_factory.mktemp("course")
    for part in ("workbooks", "data_demo"):
        if (ROOT / part).is_dir():
            shutil.copytree(ROOT / part, course / part)
    (course / "workbooks").mkdir(exist_ok=True)
    return course / "workbooks"


@pytest.fixture(scope="session")
def lab(chromium, notebooks, tmp_path_factory):
    with running_lab(tmp_path_factory.mktemp("lab"), notebooks.parent) as address:
        yield address


@pytest.fixture(scope="session")
def context(chromium, tmp_path_factory):
    with running_browser(tmp_path_factory.mktemp("profile"), chromium) as context:
        yield context


@pytest.fixture
def page(context):
    """A page that must end without a script error and without a request to anywhere else."""
    context.outside.clear()
    page = context.new_page()
    errors = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    yield page
    page.close()
    assert errors == []
    assert context.outside == []


@pytest.fixture
def open_notebook(lab, page):
    """Open a notebook of the `notebooks` folder, run all of it, and wait until the kernel rests."""
    return lambda name, run=True: show_notebook(page, lab, f"workbooks/{name}", run)


@pytest.fixture
def shoot(page):
    """Keep a screenshot when a folder for them is named."""

    def take(name: str, **options):
        if SHOTS:
            page.screenshot(path=Path(SHOTS) / f"{name}.png", **options)

    return take
