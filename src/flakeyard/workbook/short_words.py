"""The short answers that every question understands: yes, no, none, nothing more, not known; and an answer without its trimmings."""

from __future__ import annotations

import re

from flakeyard.steps.intent.fields import NOT_KNOWN

NO, NO_MORE, YES = "no", "no more", "yes"
OPEN_WORDS = (
    "", NOT_KNOWN, "unknown", "don't know", "do not know", "i don't know", "i do not know", "dont know", "no idea", "no clue", "not told",
    "not sure", "i'm not sure", "unsure", "dunno", "idk", "not measured", "can't say", "cannot say", "can't tell", "i can't tell", "couldn't say", "couldn't tell", "couldn't tell you", "i couldn't tell you", "i couldn't say", "n/a", "?", "-",
)  # fmt: skip
_NOBODY = re.compile(
    r"(?:(?:there(?:'s| is) |i(?:'ve| have)? ?(?:got )?)?(?:no|not an?|haven't an?) (?:idea|clue|label|gauge|thermometer|scale)|(?:i )?(?:really |honestly )?(?:don'?t|do not) (?:really )?know|dunno|idk|(?:i'm )?not (?:\w+ )?(?:sure|certain)|unsure|(?:i )?(?:can'?t|cannot|couldn'?t) (?:\w+ )?(?:say|tell)(?: you)?|beats me|(?:who|god|heaven) knows|search me|(?:never|not) (?:measured|checked|weighed|looked)(?: (?:it|that))?)"
)
_BESIDE = re.compile(
    r"(?:well|oh|um+|hm+|sorry|mate|man|pal|honestly|really|exactly|precisely|at all|on it|there|i'm afraid|i am afraid|for (?:sure|certain)|about (?:it|that)|either)"
)
NOBODY_KNOWS = re.compile(
    rf"^(?:{_BESIDE.pattern}[,;.]? )*{_NOBODY.pattern}(?:[,;.]* (?:and |but )?(?:{_NOBODY.pattern}|{_BESIDE.pattern}))*$"
)
NONE_WORDS = ("none", "no", "never", "zero", "nope", "not at all")  # nought, where hours or days are counted
LEFT_OUT = (*NONE_WORDS, "n", "nah", "not", "nothing", "unsalted", "no salt", "without salt", "without")  # of a section
NO_MORE_WORDS = (
    *NONE_WORDS, NO_MORE, "nothing", "nowt", "nothing else", "nowt else", "nothing more", "that's all", "that is all", "that's it", "done", "finish", "finished", "that'll do", "that will do", "all",
)  # fmt: skip
YES_WORDS = ("yes", "y", "true", "yep", "yeah", "yup", "aye", "sure", "of course", "certainly", "definitely")
IT_IS = re.compile(r"(?:it|they|that) (?:is|are|do|does|did|was|were)(?: so)?$")  # a yes of more words
NO_WORDS = ("no", "n", "false", "nope", "nah", "not")
TOO = re.compile(
    r"(?<=\w),? (?:of course|certainly|it (?:is|was|does|did)|straight away|already|please|thanks|thank you)"
)
ARTICLE = re.compile(r"(?:(?:in|on|at|from|with|by) )?(?:(?:the|an?|my|our) )?(?=\w)", re.IGNORECASE)


def unknown(said: str) -> bool:
    """Whether an answer says nothing but that it is not known, in whatever words."""
    return said in OPEN_WORDS or bool(NOBODY_KNOWS.match(said))


def as_said(text: str) -> str:
    """An answer without capitals, curled apostrophes, the full stop and the "of course" at its end."""
    said = " ".join(text.casefold().replace("’", "'").rstrip(".!").split())
    end = TOO.search(said)
    return said[: end.start()] if end and end.end() == len(said) else said


def without_article(text: str) -> str:
    """Words without the "in the" before them."""
    return ARTICLE.sub("", text, count=1)


def unquoted(text: str) -> str:
    """An answer without the quotes that a file would want; an inch mark is none of them."""
    quoted = re.fullmatch(r'["“](.*)["”]', text)
    return quoted[1].strip() if quoted else text
