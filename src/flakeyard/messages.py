"""What a learner reads, said in one place: a table of messages in English, and other languages beside it.

The texts are rows of ``data/messages.csv``; what stands in braces is filled in. A translation is a catalogue of gettext,
``data/locale/LANGUAGE/LC_MESSAGES/flakeyard.mo``, from the English text to the other, and the language is the one the
computer is set to. What has no translation, or one whose braces do not fit, is said in English.
"""

from __future__ import annotations

import gettext
from collections.abc import Iterable
from functools import cache, reduce

from flakeyard.packaged import DATA, rows

DOMAIN = "flakeyard"
LOCALE = DATA / "locale"


@cache
def texts() -> dict[str, str]:
    """All messages in English, by name."""
    return {row["name"]: row["text"] for row in rows("messages.csv")}


@cache
def _catalogue() -> gettext.NullTranslations:
    return gettext.translation(DOMAIN, str(LOCALE), fallback=True)


def _(text: str) -> str:
    """A text in the language of the computer."""
    return _catalogue().gettext(text)


def say(name: str, /, **words) -> str:
    """A message by its name, with words put into its braces."""
    text = texts()[name]
    try:
        return _(text).format(**words)
    except (LookupError, ValueError, AttributeError):  # a slip of the translator's
        return text.format(**words)


def joined(name: str, parts: Iterable[str]) -> str:
    """Parts in a row, two by two put into a message such as "{one} or {other}"; "" where there is none."""
    told = list(parts)
    return reduce(lambda one, other: say(name, one=one, other=other), told) if told else ""


def unfilled(place: str) -> dict[str, str]:
    """The messages of a place with their braces as they stand, by the rest of their names: for a page that fills them itself."""
    return {name.removeprefix(place): _(text) for name, text in texts().items() if name.startswith(place)}


def template() -> str:
    """What a translator starts from: every text with its names, as a .pot file of gettext."""
    named: dict[str, list[str]] = {}
    for name, text in texts().items():
        named.setdefault(text, []).append(name)
    head = 'msgid ""\nmsgstr "Content-Type: text/plain; charset=UTF-8\\n"\n'
    entries = (f'#: {" ".join(names)}\nmsgid {_quoted(text)}\nmsgstr ""\n' for text, names in named.items())
    return "\n".join([head, *entries])


def _quoted(text: str) -> str:
    plain = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{plain}"'


if __name__ == "__main__":
    print(template())
