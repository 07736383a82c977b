"""The logbook by itself: the kitchen page on the laptop, which keeps its log in a file and asks Python what it teaches.

The page is the one of the phone. Each change comes here as the whole log; it goes into the file before anything is computed
from it, and never over rows that the page has not seen. A small server of this computer answers it (`serve`), or the kernel
of a workbook (`logbook_cell`).
"""

from __future__ import annotations

import html
import json
import secrets
import threading
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from flakeyard import reading
from flakeyard.files import why, write_whole
from flakeyard.messages import say
from flakeyard.steps.intent.batch_file import load_batch
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.learn import learning
from flakeyard.steps.learn.dryer_profile import DryerProfile
from flakeyard.steps.learn.logbook import read_log
from flakeyard.units import InputError
from flakeyard.workbook.pages.kitchen_page import SYSTEMS, kitchen_page
from flakeyard.workbook.paper.log_text import log_text

MOST = 1_000_000  # bytes of a log, as of one that is read from a file
KERNEL = "kernel"  # where the page asks when it lives in a cell


class Kept:
    """A log file behind a page: what came from the page goes into it, and what Python makes of it goes back."""

    def __init__(self, batch: Batch, path: str | Path, profile: DryerProfile | None = None, note: str = ""):
        self.batch, self.path, self.profile, self.note = batch, Path(path), profile, note
        self._turn = threading.Lock()
        self._seen = self._content()

    def _content(self) -> bytes | None:
        return reading.read_bytes(self.path, say("log_form.log")) if self.path.exists() else None

    @property
    def text(self) -> str:
        """The log as it stands, for the page to begin with."""
        return "" if self._seen is None else self._seen.decode("utf-8-sig", errors="replace")

    def take(self, text: str) -> dict:
        """Keep a log that the page sends, and say what it teaches: texts by unit system, or one trouble in words."""
        with self._turn:
            trouble = self._keep(text)
        return {"trouble": trouble} if trouble else self._taught(text)

    def _keep(self, text: str) -> str:
        """Put it into the file; why not, where it is refused."""
        try:
            if self._content() != self._seen:
                return say("phone.changed_elsewhere", file=self.path.name)
            new = text.encode()
            if new != self._seen and not (self._seen is None and text.count("\n") < 2):  # no file for an empty log
                write_whole(self.path, new, keep_copy=self._seen is not None and not self._ours)
                self._seen, self._ours = new, True
        except InputError as mistake:
            return str(mistake)
        except OSError as mistake:
            return why(mistake)
        return ""

    _ours = False  # whether the file is one that was written here; any other stays as a numbered copy

    def _taught(self, text: str) -> dict:
        if text.count("\n") < 2:
            return {system: "" for system in SYSTEMS}
        try:
            learned = learning.learn(self.batch, read_log(text), profile=self.profile)
        except InputError as mistake:
            return {"trouble": str(mistake)}
        return {system: log_text(learned, system) for system in SYSTEMS}


def page_of(kept: Kept, system: str, name: str, ask: str, token: str = "") -> str:
    """The kitchen page with a log to begin with and somebody to ask."""
    told = {"log_name": kept.path.name, "note": kept.note}
    return kitchen_page(kept.batch, system, name, ask=ask, token=token, log=kept.text, **told)


# ---- on the laptop, by itself


def serve(
    batch_file: str | Path, log_file: str | Path, system: str = "metric", browser: bool = True,
    tell: Callable[[str], None] = print, ready: Callable[[ThreadingHTTPServer], None] = lambda _server: None,
) -> None:  # fmt: skip
    """Open the logbook of a batch in a browser, and answer it until it is stopped.

    Parameters: browser – whether to open one; tell – says where the page is; ready – is given the server before it answers
    Raises: InputError, OSError
    """
    kept, token = Kept(load_batch(batch_file), log_file), secrets.token_urlsafe(16)
    server = ThreadingHTTPServer(
        ("127.0.0.1", 0), _answerer(kept, token, system, Path(log_file).stem.removesuffix("-weighings"))
    )
    server.daemon_threads = True
    address = f"http://127.0.0.1:{server.server_port}/{token}/"
    tell(say("phone.served", address=address, file=kept.path.name))
    if browser:
        with suppress(webbrowser.Error):
            webbrowser.open(address)
    ready(server)
    with server:
        server.serve_forever()


def _answerer(kept: Kept, token: str, system: str, name: str):
    """What answers the page: at one secret address, to this computer alone."""

    class Answerer(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            if not self._is_ours(f"/{token}/"):
                return self.send_error(404)
            return self._send(page_of(kept, system, name, f"{self._home}/{token}/log", token), "text/html")

        def do_POST(self) -> None:
            size = int(self.headers.get("Content-Length") or 0)
            if not self._is_ours(f"/{token}/log") or not 0 < size <= MOST or self.headers.get("X-Token") != token:
                return self.send_error(404)
            told = kept.take(self.rfile.read(size).decode("utf-8", errors="replace"))
            return self._send(json.dumps(told), "application/json")

        @property
        def _home(self) -> str:
            return f"http://127.0.0.1:{self.server.server_port}"

        def _is_ours(self, path: str) -> bool:
            """Whether it is asked for by its own name and from its own page."""
            host, origin = self.headers.get("Host"), self.headers.get("Origin")
            return self.path == path and f"http://{host}" == self._home and origin in (None, self._home)

        def _send(self, text: str, kind: str) -> None:
            data = text.encode()
            self.send_response(200)
            for header, value in (
                ("Content-Type", f"{kind}; charset=utf-8"), ("Content-Length", str(len(data))),
                ("Cache-Control", "no-store"), ("Referrer-Policy", "no-referrer"), ("X-Content-Type-Options", "nosniff"),
            ):  # fmt: skip
                self.send_header(header, value)
            self.end_headers()
            self.wfile.write(data)

        def log_message(self, *_words) -> None:
            """Nothing: the page says what is to be said."""

    return Answerer


# ---- in a workbook

FRAME = """
export default { render({ model, el }) {
  const frame = document.createElement('iframe');
  Object.assign(frame, { srcdoc: model.get('page'), title: model.get('title') });
  frame.style.cssText = 'width:100%;max-width:36rem;height:min(54rem,80vh);border:1px solid #888;border-radius:8px';
  const hear = event => { if (event.source === frame.contentWindow && typeof event.data?.log === 'string') model.send({ log: event.data.log }); };
  const answer = told => frame.contentWindow?.postMessage({ told }, '*');
  addEventListener('message', hear); model.on('msg:custom', answer); el.append(frame);
  return () => { removeEventListener('message', hear); model.off('msg:custom', answer); };
} };
"""


def logbook_cell(kept: Kept, system: str = "metric"):
    """The logbook in a cell of a workbook: the same page, answered by the kernel; system – units at first."""
    import anywidget
    import traitlets

    class LogbookCell(anywidget.AnyWidget):
        _esm = FRAME
        page = traitlets.Unicode().tag(sync=True)
        title = traitlets.Unicode().tag(sync=True)

        def __init__(self, kept: Kept):
            self.kept = kept
            title = f"{say('phone.book')}: {kept.batch.title}"
            super().__init__(page=page_of(kept, system, kept.path.stem, KERNEL), title=title)
            self.on_msg(lambda _widget, told, _buffers: self.send(self.kept.take(str(told["log"])[:MOST])))

        def _repr_mimebundle_(self, **kwargs):
            """The page, and words for places where no page can live."""
            made = super()._repr_mimebundle_(**kwargs)
            bundle, *more = made if isinstance(made, tuple) else (made,)
            bundle = {
                **(bundle or {}),
                "text/html": f"<p>{html.escape(say('phone.in_cell', title=self.title))}</p>",
                "text/plain": self.title,
            }
            return (bundle, *more) if more else bundle

    return LogbookCell(kept)


def own_logbook_page(folder: str | Path = ".", choice=None):
    """The logbook of one's own batch as a page, beside the workbook."""
    from flakeyard.workbook.panels import batch_book

    book = batch_book.own_book(folder)
    system = "us" if choice is not None and choice.system == "us" else "metric"
    return logbook_cell(Kept(book.batch, book.path, book.profile, book.trouble), system)
