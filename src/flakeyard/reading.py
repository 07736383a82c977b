"""Text from outside: a file is looked at before it is opened, and what it holds is counted before it is parsed.

A pipe or a device never ends, and a page of brackets or dots can keep a parser busy for a night. The bounds are
judgement: many times what a batch file, a log or the profile of a dryer holds, and parsed within a moment.
"""

from __future__ import annotations

import os
import re
import stat
import tomllib

from flakeyard.messages import say
from flakeyard.units import InputError

LARGEST = 1_000_000  # bytes of a file, characters of a text
MOST_LINES, LONGEST_LINE = 5_000, 4_000
DEEPEST = 20  # brackets inside brackets, dots in one name
MOST_DOTS = 400  # outside quotes; time and memory of the parser grow with their square
MOST_VALUES = 2_000  # equals signs and commas outside quotes
LONGEST_TEXT = 500  # characters between quotes
MOST_ROWS = 20  # sections or values of one name: each soak and each ingredient is computed
LARGEST_WHOLE = 2**63  # whole numbers of TOML lie below it
KINDS = {
    "batch file": "heron.toml",
    "log": "heron-weighings.csv",
    "profile": "my-dryer.toml",
}  # what is read: an example
_QUOTED = re.compile(  # texts and remarks of TOML; one that does not end goes on to the end of its line, or of all
    r'"""(?:[^"\\]+|\\.|"(?!""))*+(?:"{3,5})?'
    r"|'''(?:[^']+|'(?!''))*+(?:'{3,5})?"
    r'|"(?:[^"\\\n]+|\\[^\n])*+"?'
    r"|'[^'\n]*+'?"
    r"|#[^\n]*+",
    re.DOTALL,
)
_CONTROL = re.compile(  # all that ends a line or turns it about, but plain ends of lines and tabs
    r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff]"
)


def named(path: str | os.PathLike) -> str:
    """How a file is called in messages."""
    told = os.fsdecode(path)
    return say("file.named", name=os.path.basename(told) or told)


def _allowed(what: str) -> tuple[str, str]:
    """What is allowed where a file is read, in words, and an example."""
    return say(f"file.allowed.{what.replace(' ', '_')}"), KINDS[what]


class _RefusedError(Exception):
    """Why a file is not read; read_bytes adds the rest."""


def read_bytes(path: str | os.PathLike, what: str) -> bytes:
    """A whole file.

    Parameters: what – a name of KINDS
    Raises: InputError where it is no plain file, is too large or cannot be read
    """
    try:
        _look_at(os.stat(path), what)
        with open(path, "rb", opener=_without_waiting) as file:
            _look_at(os.fstat(file.fileno()), what)
            content = file.read(LARGEST + 1)
        _weigh(len(content), what)
        return content
    except _RefusedError as refused:
        why = str(refused)
    except FileNotFoundError:
        why = say("file.missing")
    except (OSError, ValueError) as mistake:  # a name that no file can have is a ValueError
        why = say("file.unreadable", trouble=getattr(mistake, "strerror", None) or mistake)
    raise InputError(named(path), os.fsdecode(path), why, *_allowed(what))


def _look_at(seen: os.stat_result, what: str) -> None:
    if stat.S_ISDIR(seen.st_mode):
        raise _RefusedError(say("file.folder"))
    if not stat.S_ISREG(seen.st_mode):
        raise _RefusedError(say("file.device"))
    _weigh(seen.st_size, what)


def _weigh(size: int, what: str) -> None:
    if size > LARGEST:
        raise _RefusedError(say(f"file.too_large.{what.replace(' ', '_')}", size=size / 1e6))


def _without_waiting(path: str, flags: int) -> int:
    """Open a file that might have become a pipe just now, without waiting for its other end."""
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def read_text(path: str | os.PathLike, what: str) -> str:
    """A whole file in UTF-8, with or without its mark. Raises: InputError, as `read_bytes`."""
    try:
        return read_bytes(path, what).decode("utf-8-sig")
    except UnicodeDecodeError as mistake:
        why = say("file.not_utf8")
        raise InputError(named(path), say("file.byte", start=mistake.start), why, *_allowed(what)) from None


def check_lines(text: str, where: str) -> None:
    """Raises: InputError where a text is far longer than a page or two, or one of its lines is."""
    _check_counts(where, {"letters": (len(text), LARGEST)})
    lines = text.splitlines()
    _check_counts(where, {"lines": (len(lines), MOST_LINES)})
    longest = max(range(len(lines)), key=lambda number: len(lines[number]), default=None)
    if longest is not None:
        _check_counts(say("file.line", where=where, line=longest + 1), {"letters": (len(lines[longest]), LONGEST_LINE)})


def _check_counts(where: str, counts: dict[str, tuple[int, int]]) -> None:
    for of, (count, most) in counts.items():
        if count > most:
            why = say("file.far_more")
            raise InputError(
                where,
                say(f"file.count.{of}", count=count),
                why,
                say("file.at_most", most=most),
                say("file.such_as_heron"),
            )


def read_toml(text: str, where: str, example: str = 'time = "10 h"') -> dict:
    """The text of a TOML file as a dictionary.

    Parameters: where – what to call it in messages; example – a line as it should be
    Raises: InputError, with the line that is no TOML
    """
    check_lines(text, where)
    _check_signs(text, where)
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError, MemoryError) as mistake:
        why = say("file.not_toml", mistake=mistake)
        raise InputError(where, _line_of(text, str(mistake)), why, say("file.key_value"), example) from None


def _check_signs(text: str, where: str) -> None:
    """Count what a parser goes down into, outside texts and remarks."""
    bare = _QUOTED.sub('""', text)
    depth = deepest = 0
    for sign in re.findall(r"[\[\]{}]", bare):
        depth = depth + 1 if sign in "[{" else max(0, depth - 1)
        deepest = max(deepest, depth)
    counts = {
        "brackets": (deepest, DEEPEST),
        "dots_in_name": (max(part.count(".") for part in re.split(r"[=,\[\]{}\n]", bare)), DEEPEST),
        "dots": (bare.count("."), MOST_DOTS),
        "values": (bare.count("=") + bare.count(","), MOST_VALUES),
    }
    _check_counts(where, counts)


def check_values(typed: dict, where: str = "", most_rows: int = MOST_ROWS) -> None:
    """Refuse texts, numbers and lists that nobody types, wherever they stand. Raises: InputError."""
    waiting = [("", typed)]
    while waiting:
        name, value = waiting.pop()
        place = f"{where}, {name}".lstrip(", ")
        if isinstance(value, dict):
            waiting += ((f"{name}.{key}".lstrip("."), one) for key, one in value.items())
        elif isinstance(value, list):
            _check_counts(place, {"rows": (len(value), most_rows)})
            waiting += ((name, one) for one in value)
        elif why := _unusable(value):
            allowed = say("file.printable", most=LONGEST_TEXT)
            raise InputError(place, value, why, allowed, '"Heron"')


def _unusable(value) -> str | None:
    if isinstance(value, str) and len(value) > LONGEST_TEXT:
        return say("file.too_long")
    if isinstance(value, str) and (sign := _CONTROL.search(value)):
        return say("file.unprintable", code=ord(sign[0]))
    if isinstance(value, int) and not -LARGEST_WHOLE <= value < LARGEST_WHOLE:
        return say("amount.no_number")
    return None


def _line_of(text: str, message: str) -> str:
    """The line a TOML message points at, so that the learner sees what was typed."""
    digits = message.split("line ")[-1].split(",")[0] if "line " in message else ""
    lines = text.splitlines()
    number = int(digits) if digits.isdigit() else len(lines)
    return lines[number - 1].strip() if 0 < number <= len(lines) else say("file.its_end")
