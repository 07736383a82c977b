"""An answer as a file would hold it: yes and no as flags, numbers as numbers, words of a choice and names as the tables have them.

What people without a dryer or a ruler say often is asked back here, with how to tell it all the same.
"""

from __future__ import annotations

import math
import re

from flakeyard import refused, spoken, tables
from flakeyard.messages import say
from flakeyard.models.constants import DAY, HOUR
from flakeyard.steps.intent.fields import NONE, Flag, Number, OneOf
from flakeyard.units import InputError, read_amount
from flakeyard.workbook.dial import has_no_degrees, only_refused
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import IT_IS, NO_WORDS, NONE_WORDS, YES, YES_WORDS, as_said, without_article

FLAG_WORDS = {  # how else people answer one question
    "smells_normal": (("normal", "fine", "fresh", "good", "smells of the sea", "of the sea", "smells like fish", "like fish", "course it does", "of course it does", "smells normal", "smells fine", "great", "smells great", "wonderful", "smells wonderful", "perfect", "lovely", "nothing wrong", "hardly smells", "no smell", "like the sea", "ok", "okay", "clean", "smells fresh", "smells good", "smells clean"), ("off", "bad", "smells off", "smells bad", "strange")),
    "gutted": ((
        "gutted", "cleaned", "filleted", "fillets", "filets", "nothing to gut", "already filleted", "gutted and cleaned", "cleaned and gutted", "right away", "at once", "straight away", "on the shore",
        "on the boat", "by the shop", "at the shop", "in the shop", "the shop did", "the shop did it", "the shop did that", "shop did", "shop did it", "shop did that", "the fishmonger did", "fishmonger did it", "by the fishmonger",
    ), ("not gutted", "ungutted", "not cleaned")),
    "thawed_in_vacuum": ((), ("unwrapped", "no, unwrapped")),
}  # fmt: skip
NUMBER_WORDS = {
    ("faces", "both"): "2", ("faces", "both sides"): "2", ("faces", "mesh"): "2", ("faces", "open mesh"): "2",
    ("faces", "solid"): "1", ("faces", "solid tray"): "1", ("altitude", "sea level"): "0 m",
}  # fmt: skip
COUNTED = {
    "trays": "(?:round |wire |oven |mesh |baking |cooling )?(?:trays?|racks?|shelf|shelves|screens?|grids?|nets?|sheets?|(?:round )?ones)",
    "faces": "faces?|sides?",
    "changes": "waters?",
}  # what may stand behind a number
CUTS = re.compile(r"(?<=\w) (?:fillets?|filets?|loins?|steaks?)$", re.IGNORECASE)
AMOUNT_TOO = re.compile(r"^[0-9½¼¾⅓⅔⅛]|,\s*[0-9½¼¾⅓⅔⅛]")  # an ingredient with how much of it
LONGER_IS_CAREFUL = ("hours_above_4c", "hours_above_21c")
ASKED_BACK = (  # a place, what is said there, and the message that tells how to answer
    ("dryer.temperature", re.compile(r"^(?!.*[0-9]).*\b(?:no dryer|none|no|hang|hangs|hung|hanging|shed|barn|attic|outside|outdoors|wind|air dr\w+|fridge)\b"), "ask.no_dryer"),
    ("fish.raw_weight", re.compile(r"^(?=.*[0-9])(?!.*\b(?:trimmed|fillets?|filets?|filleted|cut up|(?<!not )gutted|cleaned)\b).*\b(?:whole(?! (?:lot|batch|thing|amount|load|bunch))|ungutted|not (?:yet )?(?:gutted|cut|cleaned)|(?:with|and) (?:the |their |its )?(?:heads?|guts|bones)|uncut)\b"), "ask.whole_weight"),
    ("fish.gutted", re.compile(r"\b(?:yes|gutted|cleaned)\b."), "ask.all_gutted"),
    ("dryer.trays", re.compile(r"^(?!.*[0-9]).*\b(?:hang|hangs|hung|hanging|none|no|hooks?|strings?|lines?|rods?|poles?)\b"), "ask.hung"),
    ("dryer.tray_area", re.compile(r"^(?:about )?[0-9][0-9.,/ ]*\s*(?:mm|cm|m|in|inch|inches|ft|\"|″)\.?$"), "ask.one_side"),
    *((f"cut.{key}", re.compile(rf"^(?!.*(?:[0-9½¼¾⅓⅔⅛]|\b(?:half|finger|thumb|{'|'.join(spoken.NUMBER_WORDS)})\b)).*\b(?:thin|thinly|thick|thickly|chunky|medium|average|normal)\b"), "ask.how_thick") for key in ("thickness", "thinnest", "thickest")),
    *((f"{section}.temperature", re.compile(r"^(?!.*[0-9]).*\b(?:fridge|refrigerator|cellar|larder|cold|cool|ice)\b"), "ask.how_cold") for section in ("presoak", "brine", "rest", "freshen.1")),
)  # fmt: skip
NOT_HELD = re.compile(  # of a heating that ends when it is as hot as it gets
    r"(?:(?:i|we|it|it's|it is|it was) )?(?:none|no|nope|nah|never|zero|0|not at all|straight out|no time|no hold(?:ing)?(?: time)?|not (?:held|holding)(?: it)?|(?:don't|dont|do not|didn't|didnt|did not|doesn't) hold(?: it| them)?)(?: at all| there)?"
)
SOY = re.compile(r"\bsoya?\b(?= *(?:$|[0-9,;.+&]|(?:and|with|plus|in)\b))", re.IGNORECASE)
LOOKED_UP = {"species": tables.species, "what": tables.ingredient, "pack": tables.pack}
COUNTED_IN = {"hours_above_4c": HOUR, "hours_above_21c": HOUR, "frozen_days": DAY, "wanted_days": DAY}  # s


def valued(question: Question, text: str):
    """An answer as a file would hold it: yes and no as flags, numbers as numbers, beginnings of words as words."""
    kind, key = question.kind, question.key
    if isinstance(kind, Flag):
        return _flag(question, text)
    if isinstance(kind, OneOf):
        return word_of(kind, text)
    text = NUMBER_WORDS.get((key, without_article(as_said(text).removeprefix("at "))), text)
    text = "0 min" if not_held(question, text) else text
    _ask_back(question, text)
    if getattr(kind, "may_be_none", False) and as_said(text) in NONE_WORDS:
        return NONE
    if isinstance(kind, Number):
        return _number(question, text)
    return _name(question, text) if question.names else text


def _ask_back(question: Question, text: str) -> None:
    """What people without a dryer or a ruler say, and how to tell it all the same. Raises: InputError."""
    if how := how_to_tell(question, text):
        raise InputError(question.where, text, how, question.allowed, question.kind.example)


def how_to_tell(question: Question, text: str) -> str:
    """How to tell what an answer says, where people without a dryer or a ruler say it often; "" elsewhere."""
    if question.place == "dryer.temperature" and has_no_degrees(as_said(text)):
        return say("ask.no_degrees")
    if question.place == "dryer.temperature" and only_refused(as_said(text)):
        return say("ask.no_such_setting")
    fits = (message for key, pattern, message in ASKED_BACK if question.place == key and pattern.search(as_said(text)))
    return next(map(say, fits), "")


def not_held(question: Question, text: str) -> bool:
    """Whether it is said of a heating that it is held for no time."""
    return question.place == "heat.hold" and bool(NOT_HELD.fullmatch(as_said(text)))


def _flag(question: Question, text: str) -> bool:
    """Yes or no, also as people answer this one question, and both in one ("yes, on the shore"). Raises: InputError."""
    said, (good, bad) = as_said(text), FLAG_WORDS.get(question.key, ((), ()))
    first, _, more = said.replace(",", "").partition(" ")
    for value, plain, own in ((True, YES_WORDS, good), (False, NO_WORDS, bad)):
        if said in (*plain, *own) or (first in plain and more in own) or (value and IT_IS.match(said)):
            return value
    raise InputError(question.where, text, say("ask.yes_or_no"), question.allowed, say("ask.yes"))


def word_of(kind: OneOf, text: str) -> str:
    """The word of a choice that is meant, else the text."""
    said = as_said(text)
    said = "yes" if YES in kind.words and said in YES_WORDS else said
    found = [kind.meant(one) for one in (said, without_article(said))]
    return next((one for one in found if one in kind.words), text)


def _name(question: Question, text: str) -> str:
    """A name of the table: as typed, or without "in a" before it, "fillets" or the s of several bags behind it; else the text.

    Raises: InputError for an ingredient with its amount
    """
    whole = CUTS.sub("", text) if question.key == "species" else text
    several = re.sub(r"s$", "", without_article(text)) if question.key == "pack" else text
    text = soy_sauce(text) if question.key == "what" else text
    for one in (text, without_article(text), whole, several, re.sub(r"(?<=\w) an? (?=\w)", " ", text)):
        try:
            LOOKED_UP[question.key](one)
        except InputError:
            continue
        return one
    if question.key == "what" and AMOUNT_TOO.search(text) and not refused.substance(text):
        raise InputError(question.where, text, say("ask.amount_next"), question.allowed, question.kind.example)
    return whole


def soy_sauce(text: str) -> str:
    """Words with the soy sauce in full where "soy" stands alone in them; soy milk stays what it is."""
    return SOY.sub("soy sauce", text)


def _number(question: Question, text: str):
    """A number, also with "%" where it is per cent, with what it counts, or as an amount of time where it counts hours
    or days; else the text. Raises: InputError for a time that cannot be read."""
    kind, key = question.kind, question.key
    if key in COUNTED_IN and kind.low == 0 and as_said(text) in NONE_WORDS:
        return 0
    if key.startswith("measured") and spoken.is_rough(text):
        return text
    bare = re.sub(r"\s*(?:%|per ?cent|pct)$", "", text) if kind.share else text
    bare = re.sub(rf"(?<=\w) (?:{COUNTED[key]})$", "", bare) if key in COUNTED else bare
    try:
        return _plain(read_amount(bare, "count", key, low=0.0).value)
    except InputError:
        if key in COUNTED_IN and re.search(r"[^\W\d]", text):
            return _counted(question, text)
        raise InputError(question.where, text, say("ask.plain_number"), kind.allowed, kind.example) from None


def _counted(question: Question, text: str) -> int | float:
    """An amount of time in the hours or days that are asked; days of keeping are whole, and rather one more. Raises: InputError."""
    size, careful = COUNTED_IN[question.key], question.key in LONGER_IS_CAREFUL
    try:
        number = _plain(read_amount(text, "time", question.key, low=0.0).value / size)
        return math.ceil(number) if question.kind.whole else number
    except InputError as mistake:
        why = say("amount.careful.longer") if careful and mistake.why == say("amount.range") else mistake.why
        example = say("ask.example_hours" if size == HOUR else "ask.example_days")
        raise InputError(question.where, text, why, question.kind.allowed, example) from None


def _plain(number: float) -> int | float:
    number = float(f"{number:.12g}")
    return int(number) if number.is_integer() else number
