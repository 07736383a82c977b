"""Files written whole: a reader sees the old file or the new one, and what stands only once is never lost.

New bytes go into a file of their own in the same folder, down to the disk, and take the place of the old file in one
move: a full disk, a folder that can only be read or a killed run leave the old file as it was. An older file stays as
a numbered copy where that is asked for (``my-batch-1.toml``, ``my-batch-2.toml`` ...), and the oldest copies go in the
end; which copies were made here is told in LEDGER, so that a file of the learner's own is never taken for one. Several
programs may save at once: they take turns.
"""

from __future__ import annotations

import errno
import hashlib
import os
import random
import re
import secrets
import stat
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from flakeyard.messages import say
from flakeyard.units import InputError

try:
    import fcntl
except ImportError:  # Windows, or Python in a browser
    fcntl = None
try:
    import msvcrt
except ImportError:
    msvcrt = None

COPIES = 50  # numbered copies of one file that are kept (judgement: all of an evening, and the folder stays readable)
OLD = 3600.0  # s; a file of a killed run is swept when so old (judgement: no save takes an hour)
WAIT = 30.0  # s; so long a turn is waited for (judgement: a save takes a fraction of a second)
STALE = 20.0  # s; without locks, a turn that lasts longer was that of a killed run (judgement, as above)
READERS = 2.0 if os.name == "nt" else 0.0  # s; Windows does not replace a file while it is read (judgement)
TURN, LEDGER = ".flakeyard-turn", ".flakeyard-copies"
SCRATCH = re.compile(r"\.flakeyard-(?P<run>[0-9]{1,10})-[0-9a-f]{16}\.part")
WHY = {  # disk.… of the messages
    errno.ENOSPC: "full", errno.EDQUOT: "used_up", errno.EROFS: "read_only", errno.EACCES: "denied", errno.EPERM: "denied",
    errno.ENOENT: "gone", errno.ETIMEDOUT: "wait",
}  # fmt: skip


def write_whole(path: str | os.PathLike, data: str | bytes, *, keep_copy: bool = False) -> Path:
    """Put a whole new file in the place of the old one, if there is one; returns its path.

    Parameters: data – bytes, or text to be written as UTF-8; keep_copy – keep the old file as a numbered copy first,
    unless its newest copy is just like it. Not to be asked for inside a `turn`.
    Raises: OSError when nothing was written; the old file is then as it was
    """
    real = _real_file(path)
    scratch = _put_down(real.parent, data.encode() if isinstance(data, str) else data)
    try:
        with suppress(OSError):  # a new file, or a file system without modes
            os.chmod(scratch, stat.S_IMODE(real.stat().st_mode))
        if keep_copy:
            with turn(real):
                copy = _keep(real)
                _replace(scratch, real)
                with suppress(OSError):  # a copy that could not be noted down stays for good
                    _remember(real, copy)
        else:
            _replace(scratch, real)
    finally:
        with suppress(OSError):
            scratch.unlink(missing_ok=True)
    _settle(real.parent)
    return Path(path)


def why(trouble: OSError) -> str:
    """Why a file could not be written, in plain words, and what to do."""
    known = WHY.get(trouble.errno or 0)
    reason = say(f"disk.{known}") if known else say("disk.other", why=trouble.strerror or trouble)
    return say("disk.then", reason=reason)


def refuse_overwrite(output: str | os.PathLike, *inputs: str | os.PathLike | None) -> None:
    """Look at where a file is to go before anything is computed.

    Parameters: inputs – files that are read for it; None stands for one that was not given
    Raises: InputError when the output is one of the inputs, a folder, or anything else that is not a plain file
    """
    told = os.fspath(output)
    if os.path.isdir(told) or told.endswith(("/", os.sep)):
        wrong = say("disk.folder_not_file")
    elif os.path.exists(told) and not os.path.isfile(told):
        wrong = say("disk.device_not_file")
    elif any(_same(told, given) for given in inputs if given is not None):
        wrong = say("disk.read_here")
    else:
        return
    raise InputError("output", told, wrong, say("disk.other_name"), "my-batch-card.pdf")


def _same(one: str | os.PathLike, other: str | os.PathLike) -> bool:
    try:
        return os.path.samefile(one, other)
    except OSError:  # one of them is not there
        return os.path.normcase(os.path.realpath(one)) == os.path.normcase(os.path.realpath(other))


# One file, put down and moved


def _real_file(path: str | os.PathLike) -> Path:
    """The file behind a link. Raises: OSError where it is no file, or is protected against writing."""
    real = Path(os.path.realpath(path))
    if real.is_dir():
        raise IsADirectoryError(errno.EISDIR, say("file.folder"), str(path))
    if real.exists() and not real.is_file():
        raise OSError(errno.EINVAL, say("file.device"), str(path))
    if real.exists() and not os.access(real, os.W_OK):
        raise PermissionError(errno.EACCES, say("disk.protected"), str(path))
    return real


def _put_down(folder: Path, content: bytes) -> Path:
    """A file of this call's own with the content, on the disk."""
    scratch = folder / f".flakeyard-{os.getpid()}-{secrets.token_hex(8)}.part"
    try:
        with open(scratch, "xb") as file:
            _sweep(folder, os.fstat(file.fileno()).st_mtime)
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        with suppress(OSError):
            scratch.unlink()
        raise
    return scratch


def _sweep(folder: Path, now: float) -> None:
    """Remove what killed runs left: old by the clock of the file system, and of no program that still runs."""
    with suppress(OSError):
        for path in folder.iterdir():
            found = SCRATCH.fullmatch(path.name)
            if found and now - path.stat().st_mtime > OLD and not _runs(int(found["run"])):
                path.unlink()


def _runs(run: int) -> bool:
    """Whether a program runs under this number here; where asking would end it, age alone must do."""
    if os.name == "nt":
        return False
    try:
        os.kill(run, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:  # another user's
        return True
    return True


def _replace(scratch: Path, path: Path) -> None:
    deadline = time.monotonic() + READERS
    while True:
        try:
            return os.replace(scratch, path)
        except PermissionError:
            if time.monotonic() >= deadline:
                raise
            time.sleep(0.02)


def _settle(folder: Path) -> None:
    """Have the folder's own entries on the disk too, where a folder can be opened."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


# Numbered copies


def kept_copies(path: str | os.PathLike) -> list[Path]:
    """The numbered copies of a file, the newest (with the highest number) first."""
    return [copy for _, copy in _numbered(Path(path))]


def _numbered(path: Path) -> list[tuple[int, Path]]:
    if not path.parent.is_dir():
        return []
    named = ((_copy_name(path).fullmatch(other.name), other) for other in path.parent.iterdir())
    return sorted(((int(found[1]), other) for found, other in named if found and other.is_file()), reverse=True)


def _copy_name(path: Path) -> re.Pattern:
    return re.compile(f"{re.escape(path.stem)}-([1-9][0-9]{{0,5}}){re.escape(path.suffix)}")


def _keep(path: Path) -> Path | None:
    """Keep a file under the number after the highest; the copy, or None where there is nothing to keep."""
    if not path.exists():
        return None
    newest, *_ = [*_numbered(path), (0, None)]
    digest = _digest(path)
    if digest and newest[1] and digest == _digest(newest[1]):
        return None
    number = newest[0] + 1
    while True:
        copy = path.with_name(f"{path.stem}-{number}{path.suffix}")
        try:
            _second(path, copy)
            return copy
        except FileExistsError:
            number += 1


def _second(path: Path, copy: Path) -> None:
    """The same file under a second name, or its content where the file system has no such names.

    Raises: FileExistsError when the name is taken
    """
    try:
        os.link(path, copy)
        return
    except FileExistsError:
        raise
    except (OSError, NotImplementedError, AttributeError):
        scratch = _put_down(path.parent, path.read_bytes())
    try:
        with open(copy, "xb"):  # the name is ours from here on
            pass
        _fill(copy, scratch)
    finally:
        scratch.unlink(missing_ok=True)


def _fill(copy: Path, scratch: Path) -> None:
    try:
        _replace(scratch, copy)
    except BaseException:
        copy.unlink(missing_ok=True)
        raise


def _digest(path: Path) -> str:
    """What tells a file's content from any other; nothing for a file that cannot be read."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


def _remember(path: Path, copy: Path | None) -> None:
    """Note down a copy just made, and remove the oldest ones noted down, unless somebody has changed them since.

    The list itself may be spoilt by a crash: then more copies stay.
    """
    if copy is None:
        return
    ledger, name = path.with_name(LEDGER), _copy_name(path)
    lines = ledger.read_text(encoding="utf-8", errors="replace").splitlines() if ledger.exists() else []
    lines.append(f"{_digest(copy)}  {copy.name}")
    ours = [line for line in lines if name.fullmatch(line.partition("  ")[2])]
    for line in ours[: max(0, len(ours) - COPIES)]:
        digest, _, old = line.partition("  ")
        if digest and digest == _digest(path.with_name(old)):
            _remove(path.with_name(old))
        lines.remove(line)
    ledger.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")


# Taking turns


@contextmanager
def turn(path: str | os.PathLike) -> Iterator[None]:
    """Read a file and write it anew, while every other program that asks for a turn in this folder waits.

    The turn of a killed program ends with it. Turns do not nest.
    Raises: TimeoutError, an OSError, when another turn does not end
    """
    lock = Path(os.path.realpath(path)).with_name(TURN)
    deadline = time.monotonic() + WAIT
    with ExitStack() as held:
        while not _taken(lock, held):
            if time.monotonic() > deadline:
                raise TimeoutError(errno.ETIMEDOUT, say("disk.busy"), str(path))
            time.sleep(random.uniform(0.0005, 0.004))
        yield


def _taken(lock: Path, held: ExitStack) -> bool:
    """Try once to take the turn, and leave in `held` what ends it.

    The lock's file goes with the turn, so one that was locked too late is no longer the one that others see. Where an
    open file cannot be removed (Windows) it stays, empty.
    """
    with ExitStack() as ending:
        handle = os.open(lock, os.O_RDONLY | os.O_CREAT, 0o666)
        ending.callback(os.close, handle)
        try:
            taken = locked(handle) and _is_at(handle, lock)
        except OSError:  # a file system without locks
            mark = lock.with_name(f"{lock.name}-taken")
            taken = _marked(mark, lock)
            if taken:
                ending.callback(_remove, mark)
        if taken:
            ending.callback(_remove, lock)
            held.push(ending.pop_all())
    return taken


def locked(handle: int) -> bool:
    """Lock an open file until it is closed, or not because another program has. Raises: OSError where locks are not known."""
    try:
        if fcntl:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        elif msvcrt:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            raise OSError(errno.ENOSYS, say("disk.no_locks"))
    except (BlockingIOError, PermissionError):
        return False
    return True


def _is_at(handle: int, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), os.stat(path))
    except FileNotFoundError:
        return False


def _marked(mark: Path, lock: Path) -> bool:
    """Make a file that only one program can make; one that a killed program left is taken away, for the next try."""
    try:
        os.close(os.open(mark, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
        return True
    except FileExistsError:
        with suppress(OSError):
            os.utime(lock)  # now, by the clock of the file system
            if lock.stat().st_mtime - mark.stat().st_mtime > STALE:
                away = mark.with_name(f".flakeyard-{os.getpid()}-{secrets.token_hex(8)}.part")
                os.rename(mark, away)  # of several programs that see it, one moves it
                away.unlink()
        return False


def _remove(path: Path) -> None:
    with suppress(OSError):
        path.unlink()
