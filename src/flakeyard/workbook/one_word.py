"""The one word of a choice, yes or no, or one name of a table that stands among other words of an answer.

Where anything beside it may turn it or make another thing of it, nothing is found.
"""

from __future__ import annotations

import re

from flakeyard import refused, tables
from flakeyard.steps.intent.fields import OneOf
from flakeyard.units import InputError
from flakeyard.workbook.as_value import LOOKED_UP
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO, NO_WORDS, YES, YES_WORDS
from flakeyard.workbook.span import LONGEST, NUMBER, Span, without_spans

HOWEVER = re.compile(r"\b(?:but|except|although|though|unless|then|later|after|before|only|maybe|perhaps|sometimes|part|half|some)\b")  # fmt: skip
TURNS = re.compile(  # a word that may turn what was said the other way, or make it less sure
    r"\b(?:but|except|although|though|unless|not|never|n't|\w+n't|hardly|almost|nearly|mostly|mainly|partly|part|half|some|most"
    r"|a bit|a little|slightly|kind of|sort of|or|maybe|perhaps|probably|think|guess|suppos\w*|should|later|after|before|will|going to"
    r"|to be|tonight|tomorrow|soon|still|until|yesterday|supposed|broken|freezer|freeze)\b"
)
SO = re.compile(r"[,;] *(?:(?:so|then|therefore) )?(yes|no)$")
SALTED = re.compile(r"salt|brin|cur|marinad|marinat|soak|vinegar|sugar|pickl|rub|syrup|lemon|bath")
CHANGED = re.compile(  # beside an ingredient: it may be another one
    r"\b(?:substitute|low|lite|light|reduced|free|less|no|not|without|sodium|potassium|cur\w+|pink|nit\w+|mix\w*|blend|rub|and|or|with|plus)\b"
)
ANOTHER = re.compile(r"\b(?:or|not|no|maybe|perhaps|probably|think|guess|kind of|sort of|like|similar|mix\w*|and)\b")
AROUND = re.compile(r"\b(?:oxygen|absorber|packets?|vacuum|oil|foil|can|tin|tub|box|bags?|jars?|container|paper|pouch|wrap|and|or)\b")  # fmt: skip
SALMON = ("coho", "chinook", "chum", "silver")  # called so without the salmon


def leading(said: str) -> tuple[str, str]:
    """Yes or no at the beginning, and what follows; "" where there is neither."""
    first, rest = re.fullmatch(r"([\w']*)[\s,.;:–-]*(.*)", said).groups() if said else ("", "")
    return (YES if first in YES_WORDS else NO if first in NO_WORDS and first != "not" else ""), rest


def _phrases(said: str, words) -> list[tuple[int, int]]:
    """Where some words or phrases stand, the longest first, none inside another."""
    found: list[tuple[int, int]] = []
    for one in sorted(words, key=len, reverse=True):
        for match in re.finditer(rf"(?<![\w'-]){re.escape(one)}(?![\w'-])", said):
            if all(match.end() <= begin or match.start() >= end for begin, end in found):
                found.append(match.span())
    return found


def flag_meant(said: str, good: tuple[str, ...], bad: tuple[str, ...]) -> str:
    """Yes or no, said at the beginning or in the words of the question; nothing where anything speaks against it."""
    if found := SO.search(said):  # "it's fillets, so yes"
        said = f"{found[1]}, {said[: found.start()]}"
    lead, rest = leading(said)
    at_good, at_bad = _phrases(rest if lead else said, good), _phrases(rest if lead else said, bad)
    at_good = [(a, b) for a, b in at_good if all(b <= c or a >= d for c, d in at_bad)]
    told = {YES} if at_good else set()
    told |= {NO} if at_bad else set()
    told |= {lead} if lead else set()
    left = without_spans(rest if lead else said, [*at_good, *at_bad])
    return (
        told.pop() if len(told) == 1 and not TURNS.search(left) and leading(left.strip(" |"))[0] in ("", lead) else ""
    )


def door_meant(question: Question, said: str) -> str:
    """The word of a choice at the beginning, where nothing after it says otherwise."""
    lead, rest = leading(said)
    sure = lead in question.kind.words and not HOWEVER.search(rest) and leading(rest)[0] in ("", lead)
    if sure and not (lead == NO and question.section != "heat" and SALTED.search(rest)):
        return lead
    if re.match(r"(?:nothing|none)\b", said) and not SALTED.search(said) and not NUMBER.search(said):
        return NO
    return _named_first(question.kind, said)


def _named_first(kind: OneOf, said: str) -> str:
    """The word that an answer begins with, "wet, a gallon of water with salt", where none of the others follows."""
    first, _, more = said.partition(",")
    others = [word for word in kind.words if word != first]
    named = first in kind.words and first != NO and more
    return first if named and not TURNS.search(more) and not _phrases(more, others) else ""


def choice_meant(kind: OneOf, said: str) -> str:
    """The one word of a choice that is named among others."""
    lead, rest = leading(said)
    dropped = lead == YES or (lead == NO and re.match(r"\w+[,;.:]", said) and not kind.unclear)
    said = rest if dropped and lead not in kind.words else said
    called = {name: word for word in kind.words for name in (word, *kind.also.get(word, ()))}
    spans = _phrases(
        said, [one for one in called if len(one) > 3 or len(said.split()) <= 3 or one == NO]
    )  # "off the boat"
    spans = [(a, b) for a, b in spans if called[said[a:b]] != NO or re.match(r"[,;.!]|$", said[b:])]  # "no water"
    meant = {called[said[begin:end]] for begin, end in spans}
    if first := _named_first(kind, said):
        return first
    unclear, left = any(one in said for one in kind.unclear), without_spans(said, spans)
    return (
        meant.pop()
        if len(meant) == 1 and not unclear and not TURNS.search(left) and not re.search(r"\b(?:no|without)\b", left)
        else ""
    )


def name_meant(question: Question, said: str, text: str) -> str:
    """The one name of a table that stands among other words; nothing where one of them may make it another thing."""
    against = (
        refused.substance(text) if question.key == "what" else refused.fish(text) if question.key == "species" else None
    )
    if against:
        return ""
    if question.key == "pack" and re.search(r"\bjars?\b.*\boxygen (?:packets?|absorbers?)", said):
        return "glass jar with oxygen absorber"
    words = [(one.start(), one.end()) for one in re.finditer(r"[^\s,;:()/]+", text)]
    spans: list[Span] = []
    for length in range(min(LONGEST, len(words)), 0, -1):
        for first in range(len(words) - length + 1):
            begin, end = words[first][0], words[first + length - 1][1]
            if all(end <= one.begin or begin >= one.end for one in spans) and (
                record := record_named(question, text[begin:end])
            ):
                spans.append(Span(begin, end, *record))
    left = without_spans(said, [(one.begin, one.end) for one in spans]) if len(said) == len(text) else said
    if (
        question.key == "what" and len(spans) > 1 and re.search(r"[0-9]|,", text)
    ):  # one at a time: what else is asked next
        first = min(spans, key=lambda one: one.begin)
        return "" if CHANGED.search(re.sub(r"\b(?:and|with|plus)\b", " ", left)) else first.text
    if question.key == "pack" and len(spans) == 2 and re.search(r"\b(?:in|inside|and)\b", left):
        tight = [one.text for one in spans if tables.pack(one.text).airtight]
        return tight[0] if len(tight) == 1 and not AROUND.search(re.sub(r"\band\b", " ", left)) else ""
    other = {"what": CHANGED, "pack": AROUND, "species": ANOTHER}.get(question.key, TURNS).search(left)
    return spans[0].text if len({one.value for one in spans}) == 1 and not other else ""


def record_named(question: Question, text: str) -> tuple[str, str] | None:
    """The name that a table knows and what it belongs to, of words as they stand, without the s of several, or in short."""
    short = text.casefold()
    longer = (
        f"{text} salt" if question.key == "what" and short == "kosher" else f"{text} salmon" if short in SALMON else ""
    )
    for one in (text, re.sub(r"s$", "", text), longer):
        try:
            return (one, LOOKED_UP[question.key](one).id) if len(one) > 2 else None
        except InputError:
            continue
    return None
