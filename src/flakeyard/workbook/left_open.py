"""Which answers leave a question open: an empty one, one that it is not known, and one that says something and decides nothing."""

from __future__ import annotations

import re

from flakeyard import spoken
from flakeyard.steps.intent.fields import NOT_KNOWN, Flag, OneOf
from flakeyard.units import is_unit
from flakeyard.workbook.as_value import COUNTED_IN, how_to_tell, not_held, word_of
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import (
    NO_MORE,
    NO_MORE_WORDS,
    NONE_WORDS,
    as_said,
    unknown,
    unquoted,
    without_article,
)

SHOP = (
    "shop", "store", "supermarket", "market", "fishmonger", "bought", "store-bought", "store bought", "shop-bought",
    "shop bought", "from a shop", "from a store", "from a supermarket", "from a market",
)  # fmt: skip
TELLS_NOTHING = {  # answers that do not decide a question: it stays not known
    "origin": SHOP, "stock": SHOP, "relative_humidity": ("normal", "average", "dry", "damp", "humid"),
    "to_tray": ("a few minutes", "few minutes", "a couple of minutes", "straight in", "straight on", "straight onto the trays", "directly", "straight away", "right away", "at once", "immediately"),
    "per_pack": ("a handful", "handful", "a few pieces", "one meal"), "serving": ("a fillet", "a piece", "a handful", "a portion", "one portion"),
    "wanted_days": ("as long as possible", "as long as i can", "as long as it keeps", "forever"),
    "fresh_air": (*NONE_WORDS, "fan", "has a fan", "some", "door ajar", "door is ajar", "vent open", "vents open"),
} | dict.fromkeys(("water", "protein", "fat", "ash", "weight_after", "measured_water_activity", "measured_error", "measured_by"), NONE_WORDS)  # fmt: skip
_NO_NUMBER = re.compile(rf"^(?!.*(?:[0-9½¼¾⅓⅔⅛]|\b(?:half|{'|'.join(spoken.NUMBER_WORDS)})\b|\bsea level\b))..")
UNDECIDED = dict.fromkeys(
    (
        "heater", "relative_humidity", "fat", "frozen_at", "frozen_days", "serving", "per_pack", "wanted_days", "hold", "core",
        "weight_after", "measured_water_activity", "measured_error",
    ), _NO_NUMBER,
) | dict.fromkeys(("room.temperature", "fish.water", "fish.protein", "fish.ash"), _NO_NUMBER) | {"fresh_air": re.compile(r"^[^0-9]{2,}$")}  # fmt: skip
COUNTED_PIECES = re.compile(
    rf"^(?:(?:an?|half an?|[0-9]+|{'|'.join(spoken.NUMBER_WORDS)}) )+(?:whole )?(?:fish|pieces?|fillets?|strips?|bits?)$"
)


def tells_nothing(question: Question, text: str) -> bool:
    """Whether an answer leaves the question open: an empty one, "don't know", or one that does not decide it."""
    said = as_said(unquoted(text.strip()))
    if getattr(question.kind, "may_be_none", False) and said in NONE_WORDS:
        return False
    if not_held(question, said):
        return False
    one_unit = any(is_unit(one) for one in re.findall(r"\ban? (\w+)", said))  # "an ounce"
    undecided_by = UNDECIDED.get(question.key, UNDECIDED.get(question.place))
    if undecided_by and not unknown(said) and undecided_by.search(said) and not one_unit:
        return True
    if question.key in ("serving", "per_pack") and COUNTED_PIECES.match(said):
        return True
    nothing = TELLS_NOTHING.get(question.key, ())
    if question.empty == NO_MORE and said in NO_MORE_WORDS:
        return True
    return unknown(said) or said in nothing or without_article(said) in nothing or _no_to_what(question, said)


def _no_to_what(question: Question, said: str) -> bool:
    """Whether a lone "no" is said where neither yes nor no can be an answer, nor nought."""
    if (
        said not in ("no", "nope", "nah", "nothing")
        or question.empty != NOT_KNOWN
        or question.key in ("what", "amount", "skin")
    ):
        return False
    if isinstance(question.kind, OneOf) and word_of(question.kind, said) in question.kind.words:
        return False
    own = isinstance(question.kind, Flag) or (question.key in COUNTED_IN and question.kind.low == 0)
    return not (own or how_to_tell(question, said))


def undecided(question: Question, text: str) -> bool:
    """Whether something is told that does not decide the question."""
    open_word = question.empty != NOT_KNOWN or unknown(as_said(unquoted(text.strip())))
    return not open_word and tells_nothing(question, text)


def known_to_tell_nothing(question: Question, text: str) -> bool:
    """Whether an answer is one of those that are known not to decide the question."""
    said, nothing = as_said(text), TELLS_NOTHING.get(question.key, ())
    return said in nothing or without_article(said) in nothing
