"""Who sits at which tablet of a room: the password, a folder for every signed-in browser, and what belongs to whom.

A browser that has given the password gets a signed cookie with a name of its own, and that name a folder that lasts as
long as the room: after a reload, an idle hour or in the next lesson its learner finds what was typed. A kernel answers
only the browser that started it, the folder can be taken home, and no answer shows a path or the inside of the program.
"""

from __future__ import annotations

import hashlib
import io
import secrets
import time
import zipfile
from collections import OrderedDict
from collections.abc import Callable
from http.client import responses
from pathlib import Path

from jupyter_server.auth.decorator import allow_unauthenticated
from jupyter_server.auth.identity import IdentityProvider
from jupyter_server.auth.login import LoginFormHandler
from jupyter_server.base.handlers import JupyterHandler
from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection
from tornado import web
from traitlets import Any

from flakeyard import files
from flakeyard.messages import say

PROTOCOL = "v1.kernel.websocket.jupyter.org"
FREE_TRIES = 3  # wrong passwords from one address before it has to wait
LONGEST_WAIT = 30.0  # s; a learner who mistyped is not shut out for the evening
MOST_ADDRESSES = 1000  # that are remembered
NOTHING_WRONG = r"(?!(?:[\w.@/~+,=-]|%[2-7][0-9A-Fa-f]){1,300}$)"  # a path that any page of the room could have
ODD = rf"{NOTHING_WRONG}.*|.*(?:\.\.|%2[eEfF]|%5[cC]).*"
TAKEN_HOME = (".toml", ".csv", ".pdf")


class Told(web.HTTPError):
    """A refusal in words of ours, which the visitor is to read."""


class Patience:
    """How long an address has to wait after wrong passwords: a second, then twice as long each time."""

    def __init__(self, clock: Callable[[], float] = time.monotonic):
        self.clock = clock
        self.wrong_ones: OrderedDict[str, tuple[int, float]] = OrderedDict()

    def wait(self, address: str) -> float:
        """Seconds until the next try counts; 0 for at once."""
        return max(0.0, self.wrong_ones.get(address, (0, 0.0))[1] - self.clock())

    def wrong(self, address: str) -> None:
        """A wrong password came from there."""
        tries = self.wrong_ones.pop(address, (0, 0.0))[0] + 1
        wait = 0.0 if tries < FREE_TRIES else min(2.0 ** (tries - FREE_TRIES), LONGEST_WAIT)
        self.wrong_ones[address] = (tries, self.clock() + wait)
        while len(self.wrong_ones) > MOST_ADDRESSES:
            self.wrong_ones.popitem(last=False)

    def right(self, address: str) -> None:
        """The password came from there."""
        self.wrong_ones.pop(address, None)


class RoomPassword(IdentityProvider):
    """One password for the room, the token; it can be typed, stands in the leader's link, and nobody can change it."""

    patience = Any(help="How long an address waits after wrong passwords.")
    logout_available = False  # leaving is a page of ours

    def __init__(self, **settings):
        super().__init__(**settings)
        self.patience, self.login_handler_class = Patience(), RoomLogin

    def process_login_form(self, handler):
        """A user when the password typed is right, else None."""
        right = self._is_right(handler, handler.get_argument("password", default="").strip())
        return self.generate_anonymous_user(handler) if right else None

    async def get_user_token(self, handler):
        """The browser's own user when its link or its header holds the password, a new one when it has none yet."""
        given = self.get_token(handler)
        if not given or not self._is_right(handler, given):
            return None
        return self.get_user_cookie(handler) or self.generate_anonymous_user(handler)

    def _is_right(self, handler, given: str) -> bool:
        """Whether it is the password; while an address has to wait nothing it sends is looked at."""
        address = handler.request.remote_ip
        if self.patience.wait(address):
            return False
        right = secrets.compare_digest(given.encode(), self.token.encode())
        (self.patience.right if right else self.patience.wrong)(address)
        return right


class RoomLogin(LoginFormHandler):
    """The page that asks for the password, and says how long to wait after wrong ones."""

    @allow_unauthenticated
    def post(self):
        """Let a visitor in, or say that it was not the password, or that it has to wait."""
        wait = self.identity_provider.patience.wait(self.request.remote_ip)
        if not wait:
            return super().post()
        self.set_status(429)
        return self._render(message={"wait": int(wait) + 1})


class Quiet:
    """Mistakes are answered with a number and a few words: no path, no trace of the program."""

    def write_error(self, status_code: int, **kwargs) -> None:
        trouble = (kwargs.get("exc_info") or (None, None))[1]
        plain = responses.get(status_code, say("room.not_possible"))
        self.set_status(status_code, plain)
        self.set_header("Content-Type", "text/html")
        told = trouble.reason if isinstance(trouble, Told) else plain
        self.finish(self.render_template("error.html", status_code=status_code, status_message=told))


def _named(handler: web.RequestHandler) -> str:
    """What the path of a request names: a kernel or a page; "" where it names nothing."""
    return next((part for part in (*handler.path_args, *handler.path_kwargs.values()) if part), "")


class OwnKernel:
    """A kernel is there for the browser that started it, and for no other."""

    async def prepare(self, **settings):
        await super().prepare(**settings)
        owner = self.kernel_manager.owners.get(_named(self))
        if self.current_user and not self._finished and owner != self.current_user.username:
            raise web.HTTPError(404)


class KnownPages:
    """Only the workbooks of the list are pages."""

    async def prepare(self, **settings):
        await super().prepare(**settings)
        if self.current_user and not self._finished and not self.is_known(_named(self)):
            raise web.HTTPError(404)

    def is_known(self, path: str) -> bool:
        return path in self.settings["room"].titles


class OnlyList(KnownPages):
    """Of the tree of folders only the list of workbooks."""

    def is_known(self, path: str) -> bool:
        return not path.strip("/")


class KnownFiles:
    """A path in which a file of the pages cannot be is not found."""

    def parse_url_path(self, url_path):
        try:
            return super().parse_url_path(url_path)
        except ValueError:
            raise web.HTTPError(404) from None


class NoSuchPage(web.RequestHandler):
    """The answer to a path that no page of the room could have."""

    def prepare(self):
        self.set_status(404)
        self.finish("404: Not Found")


class Leave(JupyterHandler):
    """Let the next learner at this tablet begin with nothing of the one before."""

    @allow_unauthenticated
    def get(self):
        self.identity_provider.clear_login_cookie(self)
        self.redirect("/login")


class TakeHome(JupyterHandler):
    """What a visitor has saved, as one file, or several in an archive."""

    @web.authenticated
    def get(self):
        saved = saved_files(self.settings["room"].kernel_manager.folder_of(self.current_user.username))
        if not saved:
            raise Told(404, reason=say("room.nothing_saved"))
        name, packed = saved[0].name, saved[0].read_bytes()
        if len(saved) > 1:
            name, packed = "my-batch.zip", _archive(saved)
        self.set_header("Content-Type", "application/octet-stream")
        self.set_header("Content-Disposition", f'attachment; filename="{name}"')
        self.set_header("Cache-Control", "no-store")
        self.finish(packed)


def saved_files(folder: Path) -> list[Path]:
    """What is worth taking home, the newest of each file: its numbered copies stay."""
    there = [path for path in sorted(folder.glob("*")) if path.suffix in TAKEN_HOME and path.is_file()]
    older = {copy for path in there for copy in files.kept_copies(path)}
    return [path for path in there if path not in older and not path.is_symlink()]


def _archive(saved: list[Path]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in saved:
            archive.write(path, path.name)
    return packed.getvalue()


def folder_name(visitor: str) -> str:
    """The name of a visitor's folder: nothing that a cookie could choose."""
    return f"visit-{hashlib.sha256(visitor.encode()).hexdigest()[:24]}"


class OneProtocol(ZMQChannelsWebsocketConnection):
    """Speaks to browsers in one way only: a picture sent in the older way keeps Voila 0.5 busy without end. What a kernel
    says of its own mistakes stays on the serving computer."""

    async def connect(self):
        """Go on with a browser that speaks the protocol; hang up on anything else."""
        if self.websocket_handler.selected_subprotocol != PROTOCOL:
            self.websocket_handler.close(1002, "another protocol is needed")
            return None
        connected = super().connect()
        return await connected if connected else None

    def handle_outgoing_message(self, stream, outgoing_msg):
        """Pass a message on to the browser, unless it tells of a mistake in the words of the program."""
        _, (_, *parts) = self.session.feed_identities(outgoing_msg)
        kind = self.session.unpack(parts[0])["msg_type"]
        warning = kind == "stream" and self.session.unpack(parts[3]).get("name") == "stderr"
        if kind != "error" and not warning:
            super().handle_outgoing_message(stream, outgoing_msg)
