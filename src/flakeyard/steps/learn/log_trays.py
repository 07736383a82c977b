"""Names of trays as people write them, and the rows a spreadsheet adds up: "Tray 1" is 1, a total is no tray."""

from __future__ import annotations

import difflib
import re
import unicodedata

from flakeyard.messages import say
from flakeyard.steps.learn.log_cells import COLUMNS, read_number
from flakeyard.units import InputError

ALL, THICKEST = "all", "thickest"
EVERYTHING = ("all", "all trays", "all together", "everything", "load", "the load", "whole", "whole load")
NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
SUMS = (
    "total",
    "totals",
    "total mass",
    "total weight",
    "grand total",
    "subtotal",
    "sub-total",
    "sum",
    "sums",
    "σ",
    "∑",
)
MEANS = ("mean", "average", "avg", "median")
LONGEST = 40  # letters of a name
ADDED_UP = 0.02  # share within which a total is that of its trays (judgement)
_NUMBERED = re.compile(r"(?:(?:trays?|t|no|nr|number|#)[ .:_-]*)*0*(\d+)(?:[.,]0+)?", re.ASCII)
_MARKED = re.compile(r"(?:the )?(?:marked,? ?)?(?:thickest|marked)(?: (?:one|piece|strip|slice|fillet))?")
DOUBTFUL = re.compile(r"(?:the )?(?:thick|piece|thick (?:one|piece|strip|slice|fillet))")


def tray_name(cell: str, place: str) -> str:
    """The name of a tray: "Tray 1", "tray  1", "1.0", "#1" are 1; "the marked piece" is thickest; "ALL" is all.

    Raises: InputError for what is nearly "thickest", and for a name in doubt
    """
    if "?" in cell or len(cell) > LONGEST:
        raise InputError(place, cell, say("log.which_tray"), say("log.short_name"), "1")
    name = " ".join(unicodedata.normalize("NFKC", cell).lower().split()).strip("()[].:' ")
    numbered = _NUMBERED.fullmatch(_digits(name))
    if numbered:
        return numbered[1]
    if _MARKED.fullmatch(name):
        return THICKEST
    if name in EVERYTHING:
        return ALL
    if DOUBTFUL.fullmatch(name):
        why = say("log.piece_or_tray")
        raise InputError(place, cell, why, say("log.piece_allowed", piece=THICKEST), THICKEST)
    if difflib.get_close_matches(name, (THICKEST, "thickest piece", "marked piece"), 1, cutoff=0.8):
        raise InputError(
            place, cell, say("words.did_you_mean", meant=f'"{THICKEST}"'), say("log.name_or_all"), THICKEST
        )
    return name


def _digits(name: str) -> str:
    """A name with its number in digits: tray one is tray 1."""
    *before, last = name.split() or [""]
    return " ".join([*before, str(NUMBERS.index(last) + 1)]) if last in NUMBERS else name


def without_sums(rows: list[tuple[int, dict]], where: str) -> tuple[list[tuple[int, dict]], list[str]]:
    """The rows without those that add up others, and what to say of them; a total of no tray at all is the whole load.

    Returns: rows, each with its line [1, from 1], and sentences
    Raises: InputError where a total is not that of the trays of its moment
    Source: the log given
    """
    kept, remarks, single = [], [], _single(rows)
    for line, row in rows:
        word = _word(row)
        if not word:
            kept.append((line, row))
        elif word in MEANS or not _when(row) or _word({"tray": _when(row)}):
            remarks.append(say("log.left_out", line=line, word=word))
        elif not single:
            kept.append((line, row | {"tray": ALL}))
            remarks.append(say("log.whole_load", line=line, word=word))
        else:
            _check_sum(line, row, single.get(_when(row), []), where)
            remarks.append(say("log.sum", line=line, word=word))
    return kept, remarks


def _word(row: dict) -> str:
    """The word by which a row tells that it adds up others, or nothing."""
    told = (row.get(name, "").lower().strip(" :.=") for name in ("tray", "time", "date", "hours"))
    return next((word for word in told if word in SUMS or word in MEANS), "")


def _when(row: dict) -> str:
    return row.get("time") or row.get("hours") or ""


def _mass(row: dict) -> tuple[str, str]:
    """Name of the column of masses, and what stands there."""
    name = next(name for name in row if name in COLUMNS and COLUMNS[name].means == "mass")
    return name, row[name]


def _single(rows: list[tuple[int, dict]]) -> dict[str, list[tuple[int, dict]]]:
    """Rows in which a single tray was weighed, by moment as written."""
    found: dict[str, list[tuple[int, dict]]] = {}
    for line, row in rows:
        tray = row.get("tray", "").lower()
        if _mass(row)[1] and not (_word(row) or _MARKED.fullmatch(tray) or tray in EVERYTHING):
            found.setdefault(_when(row), []).append((line, row))
    return found


def _check_sum(line: int, row: dict, trays: list[tuple[int, dict]], where: str) -> None:
    told, *masses = (
        read_number(*_mass(one)[::-1], say("file.line", where=where, line=at)) for at, one in [(line, row), *trays]
    )
    added = sum(mass or 0.0 for mass in masses)
    if told is not None and abs(told - added) > ADDED_UP * max(told, added):
        why = say("log.sum_or_load")
        raise InputError(
            f"{say('file.line', where=where, line=line)}, tray",
            row.get("tray") or _when(row),
            why,
            say("log.sum_allowed"),
            "all",
        )
