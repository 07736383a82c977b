"""What a learner reads, said in one place: a table of messages in English, and other languages beside it.

The texts are rows of ``data/messages.csv``; what stands in braces is filled in. A language is one CSV file with the columns
name, english, translation and status: ``data/messages.es.csv`` comes with the package, a leader's own lies anywhere
(``flakeyard words FILE`` makes it). It is used only where it was chosen, by FLAKEYARD_LANGUAGE (``es``, or the path of a
file) or `language`, once and before anything is said; never because the computer is set to it. A text without a
translation, one whose English has changed since, or one whose braces do not fit is said in English. As long as one row in
use does not have the status "read", the language is a draft, and `draft_line` says so wherever something is shown.

Words out of other tables are translated by their English, the columns of SHOWN as they are read, those of NAMED where they
are shown, because a learner types them too.
"""

from __future__ import annotations

import csv
import io
import os
import string
from collections.abc import Iterable, Iterator
from functools import cache, reduce
from numbers import Real
from pathlib import Path

from flakeyard.packaged import DATA, rows

CHOSEN = "FLAKEYARD_LANGUAGE"
COLUMNS = ("name", "english", "translation", "status")
READ = "read"  # the status of a row that somebody has read
SHOWN = {
    "safety_rules.csv": ("text", "way_out"), "warm_ladder.csv": ("text", "way_out"), "fact_words.csv": ("words",),
    "refused.csv": ("words", "why"), "species.csv": ("advisory", "note"), "heating_methods.csv": ("advice",),
}  # fmt: skip
NAMED = {
    "species.csv": ("common_name",), "packs.csv": ("common_name",), "salts.csv": ("common_name",),
    "sugars.csv": ("common_name",), "liquids.csv": ("common_name",), "dried_products.csv": ("common_name",),
    "yields.csv": ("fish", "from_form", "to_form"), "heating_methods.csv": ("words",), "freezing_schedules.csv": ("method", "where_measured"),
    "published/brines.csv": ("purpose",), "published/water_activity.csv": ("product", "use"),
}  # fmt: skip


@cache
def texts() -> dict[str, str]:
    """All messages in English, by name."""
    with (DATA / "messages.csv").open(encoding="utf-8", newline="") as lines:
        next(lines)  # its head
        return dict(csv.reader(lines))  # type: ignore[arg-type]


def say(name: str, /, **words) -> str:
    """A message by its name, with words put into its braces; numbers among them with the decimal sign of the language."""
    text = texts()[name]
    if not _catalogue():
        return text.format(**words)
    return (
        _Filled().format(translated(text, name), **words) if point() == "," else translated(text, name).format(**words)
    )


def translated(text: str, name: str = "") -> str:
    """A text in the language that was chosen; the English one where there is no translation of it."""
    found = _catalogue()
    return found.get((name, text)) or found.get(("", text), text)


def rows_said(table: str) -> list[dict[str, str]]:
    """The rows of a table, with what a learner only reads in the language that was chosen."""
    found = rows(table)
    for row in found if _catalogue() else ():
        row.update({column: translated(row[column], table) for column in SHOWN.get(table, ())})
    return found


def joined(name: str, parts: Iterable[str]) -> str:
    """Parts in a row, two by two put into a message such as "{one} or {other}"; "" where there is none."""
    told = list(parts)
    return reduce(lambda one, other: say(name, one=one, other=other), told) if told else ""


def unfilled(place: str) -> dict[str, str]:
    """The messages of a place with their braces as they stand, by the rest of their names: for a page that fills them itself."""
    return {
        name.removeprefix(place): translated(text, name) for name, text in texts().items() if name.startswith(place)
    }


# Numbers


def point() -> str:
    """The decimal sign of the language."""
    return "," if _catalogue() and translated(texts()["language.point"], "language.point") == "," else "."


def code() -> str:
    """The language as a page names it: "en", "es"."""
    return say("language.code")


def number(value, form: str = "") -> str:
    """A number as text, with the signs of the language: 2,300 and 0.75, or 2 300 and 0,75."""
    return in_signs(format(value, form))


def in_signs(english: str) -> str:
    """A number that was written as in English with the signs of the language."""
    return english if point() == "." else english.replace(",", "\u00a0").replace(".", ",")


class _Filled(string.Formatter):
    def format_field(self, value, form):
        made = super().format_field(value, form)
        return in_signs(made) if isinstance(value, Real) else made


# Languages


def language(chosen: str) -> None:
    """Choose the language of all that is said, before anything else is asked for.

    Parameters: chosen – "es", or the path of a file of one's own (CSV)
    Returns: nothing
    Raises: InputError for a language that is not there, a file that is none, or a language chosen too late
    """
    from flakeyard.units import InputError

    if chosen != os.environ.get(CHOSEN, "") and _catalogue.cache_info().currsize:
        why, allowed = say("language.late"), say("language.first")
        raise InputError("language", chosen, why, allowed, 'language("es")')
    os.environ[CHOSEN] = chosen
    _catalogue()


def draft_line() -> str:
    """That the language is a draft which nobody has read yet; nothing where it is none."""
    return say("language.draft") if _is_draft() else ""


@cache
def _language_rows() -> tuple[dict[str, str], ...]:
    chosen = os.environ.get(CHOSEN, "").strip()
    if chosen.lower().endswith(".csv"):  # the same file for what is started from here, in whatever folder
        chosen = os.environ[CHOSEN] = str(Path(chosen).absolute())
    os.environ[CHOSEN] = ""  # as long as it is read, so that a refusal of it is said in English
    found = tuple(read_language(_file_of(chosen))) if chosen and chosen != "en" else ()
    os.environ[CHOSEN] = chosen
    return found


def _file_of(chosen: str) -> Path:
    """The file of a language: a path that ends in .csv, or the code of one that comes with the package."""
    return Path(chosen) if chosen.lower().endswith(".csv") else DATA / f"messages.{chosen}.csv"


def read_language(path: Path) -> list[dict[str, str]]:
    """The rows of a file of words. Raises: InputError."""
    from flakeyard.units import InputError

    there = ", ".join(sorted(file.name.split(".")[1] for file in DATA.glob("messages.*.csv")))
    allowed, example = f"{there or 'none yet'}, or the path of a CSV file of one's own", f"{CHOSEN}=my-words.csv"
    try:
        with path.open(encoding="utf-8-sig", newline="") as lines:
            found = list(csv.DictReader(lines))
    except (OSError, ValueError, csv.Error) as trouble:
        raise InputError(CHOSEN, path.name, "this language cannot be read", allowed, example) from trouble
    if not found or not set(COLUMNS) <= set(found[0]):
        raise InputError(
            CHOSEN, path.name, f"the file needs the columns {', '.join(COLUMNS)} and a row", allowed, example
        )
    return [{column: (row[column] or "").strip() for column in COLUMNS} for row in found]


def _used() -> Iterator[dict[str, str]]:
    """The rows that are used: translated, of a text that is still the same, and with its braces."""
    for row in _language_rows():
        same = texts().get(row["name"], row["english"]) == row["english"]
        if row["translation"] and same and _fits(row["english"], row["translation"]):
            yield row


@cache
def _catalogue() -> dict[tuple[str, str], str]:
    """Translations by name and English text, and by the English text alone."""
    found: dict[tuple[str, str], str] = {}
    for row in _used():
        found[row["name"], row["english"]] = row["translation"]
        found.setdefault(("", row["english"]), row["translation"])
    return found


@cache
def _is_draft() -> bool:
    return any(row["status"] != READ for row in _used())


def _fits(english: str, translation: str) -> bool:
    try:
        return _braces(english) == _braces(translation)
    except ValueError:
        return False


def _braces(text: str) -> set[tuple]:
    return {(field, form, how) for _, field, form, how in string.Formatter().parse(text) if field is not None}


# A file to fill in


def all_words() -> Iterator[tuple[str, str]]:
    """Every text that can be translated: where it stands, and its English."""
    yield from texts().items()
    told: set[str] = set()
    for table in sorted(SHOWN.keys() | NAMED.keys()):
        columns = SHOWN.get(table, ()) + NAMED.get(table, ())
        for text in (row[column].strip() for row in rows(table) for column in columns):
            if text and text not in told:
                told.add(text)
                yield table, text


def to_fill_in(old: list[dict[str, str]] = ()) -> str:
    """A file of words as CSV: every text, with the translation and status that an older file has for it."""
    known = {(row["name"], row["english"]): row for row in old}
    by_text = {row["english"]: row for row in old if row["translation"]}
    made = io.StringIO()
    writer = csv.writer(made, lineterminator="\n")
    writer.writerow(COLUMNS)
    for name, english in all_words():
        row = known.get((name, english)) or by_text.get(english) or dict.fromkeys(COLUMNS, "")
        writer.writerow((name, english, row["translation"], row["status"]))
    return made.getvalue()
