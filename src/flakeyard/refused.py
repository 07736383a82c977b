"""What must not go into a batch: curing salts with nitrite or nitrate, and fish whose poison nothing takes out.

Names, reasons and sources are rows of ``data/refused.csv``. Capitals, accents, hyphens, spaces, "#" and a plural s make
no difference; a word one slip away from a listed one leads to a question. A question is no permission: as long as it
is open, the fish or packet is not to be used.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from flakeyard import tables
from flakeyard.messages import say
from flakeyard.spelling import SHORTEST, one_slip
from flakeyard.tables import Record, read_records
from flakeyard.units import InputError

SAYS = ("allow", "ask", "refuse")  # severity rises
WATERS = ("cold or temperate", "tropical or reef")

LONGEST_RUN = 4  # words that may make up one name
NOT_A_SLIP = {"citrate", "during", "dogfish", "hagfish", "alitre"}  # words that only look like a listed one
_DENIED = "(?:nitrite|nitrate|cure|curing salt|curing agent|curing|saltpetre|saltpeter)"
_DENIALS = re.compile(
    rf"\b(?:no|non|zero|without)(?: added| any)? {_DENIED}(?: (?:and|or) {_DENIED})*\b(?! [0-9])"
    rf"|\b{_DENIED}(?: (?:and|or) {_DENIED})* free\b"
)


@dataclass(frozen=True, kw_only=True)
class RefusedRow(Record):
    """A row of the table. ``names``: words in a row ("a+b": words anywhere); ``stems``: parts of a word ("b$": its end)."""

    id: str
    kind: str
    says: str
    waters: str
    words: str
    names: tuple[str, ...]
    stems: tuple[str, ...]
    families: tuple[str, ...]
    why: str
    note: str


@dataclass(frozen=True)
class Refusal:
    """What is said of a name: ``says`` is refuse, ask or allow; ``why`` is the reason, or the question."""

    says: str
    why: str
    source_id: str
    how: str
    id: str


@cache
def refused_rows() -> tuple[RefusedRow, ...]:
    """All rows of the table."""
    return read_records("refused.csv", RefusedRow)


def substance(name: str) -> Refusal | None:
    """What is said of something for a brine or cure, by the name it was given; None where nothing is known against it.

    A substance that the name says is not in it ("nitrite-free") does not count, but all other words do.
    """
    told = _DENIALS.sub(" ", " ".join(_words(name)))
    return _severest(name, "substance", told.split(), ())


def fish(name: str, latin: str = "", family: str = "", waters: str = "") -> Refusal | None:
    """What is said of a fish, by common and Latin name and family; None where nothing is known against it.

    ``waters`` ("cold or temperate", "tropical or reef") answers the question that some families call for.
    """
    if waters and waters not in WATERS:
        raise InputError("[fish] waters", waters, say("refused.one_of_two"), " | ".join(WATERS), f'"{WATERS[0]}"')
    families = tuple(part.strip().casefold() for part in re.split(r" and |[,/]", family))
    return _severest(name, "fish", [*_words(name), "", *_words(latin)], families, waters)


def ingredient(name: str, field: str = "what") -> tables.Substance:
    """A row of the tables of salts, sugars and liquids, by a name against which nothing is known.

    Raises: InputError with the reason, or the question, and no other name; or what `tables.ingredient` raises.
    """
    if against := substance(name):
        allowed = say("refused.without_nitrite")
        raise InputError(field, name, against.why, allowed, say("refused.packet"))
    return tables.ingredient(name, field)


def species(name: str, field: str = "species") -> tables.Species:
    """A row of the table of fish; a refused fish that stands in it is found too, for the rules to refuse.

    Raises: InputError with the reason or question where the name is not in the table but something is known against it.
    """
    try:
        return tables.species(name, field)
    except InputError:
        if against := fish(name):
            why = say("refused.no_such_fish", why=against.why)
            raise InputError(field, name, why, say(f"refused.fish_allowed.{against.says}"), '"Atlantic cod"') from None
        raise


@cache
def of(record: tables.Species, waters: str = "") -> Refusal | None:
    """What is said of a fish of the table of species."""
    return fish(record.common_name, record.latin_name, record.family, waters)


def row_of(id: str, waters: str | None = None) -> RefusedRow:
    """A row by its id: the one that fits the waters, where it has one."""
    return _answered(next(row for row in refused_rows() if row.id == id), waters or "")


def _severest(given: str, kind: str, words: list[str], families: tuple[str, ...], waters: str = "") -> Refusal | None:
    found = []
    for row in refused_rows():
        if row.kind != kind or not (row.names or row.families):
            continue
        if _named(row, words) or any(name.casefold() in families for name in row.families):
            found.append(_refusal(_answered(row, waters)))
        elif slip := _slip(row, words):
            asked = say("refused.slip", slip=slip, words=row.words, given=given, why=row.why)
            found.append(_refusal(row, asked, "ask"))
    return max(found, key=lambda one: SAYS.index(one.says), default=None)


def _refusal(row: RefusedRow, why: str = "", says: str = "") -> Refusal:
    return Refusal(says or row.says, why or row.why, row.source_id, row.how, row.id)


def _answered(row: RefusedRow, waters: str) -> RefusedRow:
    """The row that fits the waters, where it has one."""
    return next((one for one in refused_rows() if (one.id, one.waters) == (row.id, waters)), row)


def _named(row: RefusedRow, words: list[str]) -> bool:
    runs = _runs(words)
    pairs = {*words, *(a + b for a, b in pairwise(words) if a and b)}
    whole = any(_all_there(name, runs) for name in row.names)
    return whole or any(
        word.endswith(stem[:-1]) if stem.endswith("$") else stem in word for stem in row.stems for word in pairs
    )


def _all_there(name: str, runs: set[str]) -> bool:
    return all("".join(_words(part)) in runs for part in name.split("+"))


def _slip(row: RefusedRow, words: list[str]) -> str | None:
    """A listed word that one of the words is one slip away from."""
    listed = [name for name in row.names if name.isalpha() and len(name) >= SHORTEST]
    tried = [run for run in _runs(words) if len(run) >= SHORTEST - 1 and run not in NOT_A_SLIP]
    return next((name for name in listed for run in tried if one_slip(run, name)), None)


def _runs(words: list[str]) -> set[str]:
    """All runs of up to four words written as one; an empty word parts them."""
    starts = range(len(words))
    spans = (words[start : start + length] for start in starts for length in range(1, LONGEST_RUN + 1))
    return {"".join(span) for span in spans if all(span)}


def _words(text: str) -> list[str]:
    """Words and numbers in plain small letters, without plural s."""
    plain = unicodedata.normalize("NFKD", str(text).casefold()).replace("/", " or ").replace("&", " and ")
    plain = "".join(sign for sign in plain if not unicodedata.combining(sign))
    return [re.sub(r"(?<=sh)es$|(?<=[a-z]{3})(?<!s)s$", "", word) for word in re.findall(r"[a-z]+|[0-9]+", plain)]
