"""Whether something is said so plainly that it needs no confirming: one clear word, one amount, one name, and no doubt.

This holds for the keys that decide a verdict (`GUARDED`); what is plain is taken with an echo and shown once more before
the verdict. What is not plain is offered, the cautious reading first.
"""

from __future__ import annotations

import re

from flakeyard import limits, spoken
from flakeyard.steps.intent.fields import Flag, OneOf
from flakeyard.units import celsius
from flakeyard.workbook.as_value import FLAG_WORDS
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO, NO_WORDS, YES, YES_WORDS

GUARDED = (  # keys that decide a verdict
    "species", "origin", "waters", "stock", "frozen_at", "frozen_days", "thawed_in_vacuum", "hours_above_4c", "hours_above_21c", "warmest",
    "gutted", "smells_normal", "skin", "faces", "core", "hold", "checked", "to_tray",
)  # fmt: skip
CLEAR = {  # words that say one thing and no other, wherever they stand, by key: patterns
    "origin": {"farmed": r"farmed|farm[- ]raised|fish[ -]farms?|aquaculture", "wild": r"wild|(?:i|we) caught (?:it|them)|line[- ]caught"},
    "stock": {"fresh": r"fresh(?![- ]?water)|never (?:been )?frozen", "frozen": r"(?<!never )(?<!never been )(?<!not )frozen|thawed|defrosted"},
    "gutted": {YES: r"(?<!not )(?:gutted|cleaned)|fillets?|filets?|filleted|filleting|loins?|steaks?", NO: r"ungutted|not (?:gutted|cleaned)|guts? (?:\w+ )?in"},
    "smells_normal": {YES: r"smells? (?:is )?(?:fine|good|fresh|normal|ok|okay|right|clean|as it should)|doesn'?t smell", NO: r"smells? (?:is )?(?:\w+ )?(?:off|bad|sour|strange|odd|rotten|wrong)|stinks?"},
    "skin": {"off": r"skinless|skinned|skins? (?:is |are |taken )?off|(?:no|without(?: the)?) skins?|off", "one side": r"(?:with(?: the)? )skins?|(?<!no )(?<!without )skins? (?:\w+ ){0,2}on"},
    "faces": {"2": r"mesh|nets?|grids?|grates?|wires?|holes|slots?|slats?|both(?: sides)?", "1": r"solid|foil|paper|(?<!mesh )sheets?|mats?|boards?|plates?|one side"},
    "checked": {"probe": r"probe|meat thermometer|instant[- ]read(?: thermometer)?", "not checked": r"not checked|no probe|by eye|by feel"},
    "thawed_in_vacuum": {NO: r"unwrapped|(?:cut|slit) (?:the )?(?:bag|pack\w*|plastic|vacuum) open|(?:cut|slit|opened) (?:the )?(?:bag|pack\w*|plastic|vacuum)|(?:took|taken|take) (?:it |them )?out of (?:the |its )?(?:bag|pack\w*|plastic|vacuum)", YES: r"in (?:its|the|a) (?:sealed |vacuum )?(?:bag|pack\w*)|sealed"},
}  # fmt: skip
DOUBT = re.compile(r"not (?:so |really |quite )?(?:sure|certain)|unsure|don't know|dont know|no (?:idea|clue)|dunno|\bidk\b|some(?:one|body)|they (?:say|said|told)|(?:he|she|man|seller|shop|label) (?:says?|said|told)|hope|wonder|can't (?:say|tell)|cannot (?:say|tell)|unclear|forgot|might|\?")  # fmt: skip
GUESS = re.compile(r"\b(?:guess|suppose|think|maybe|perhaps|probably|probly|possibly|reckon|believe|should|mostly|nearly|almost|kind of|sort of|a bit|a little|some of|half|part|partly|but|except|or|if|will|when|tonight|tomorrow|later|soon)\b")  # fmt: skip
MORE_DOUBT = re.compile(r"\b(?:some|most|many|few|several|rest|others?|until|till|since|each|every|per|again|another|plus|twice|daily|also|both ways|that i know|as far as|only|hardly|barely|unless|before|after|supposed|usually|normally|often|sometimes|says|said|told)\b")  # fmt: skip
MAY_BE = re.compile(r"\b(?:if|could(?!n't)|can(?!'t|not)|might|would(?!n't))\b")  # what could be done is no fact
TURNED = re.compile(r"\b(?:not|never|no|none|without|nor|neither|cannot|isnt|wasnt|dont|doesnt|didnt|havent)\b|n't\b")
THEN_COLD = re.compile(r",? ?\b(?:and )?then (?:\w+ ){0,3}?(?:ice|iced|fridge|refrigerator|ref|cooler|icebox)\b")
MORE_TIME = re.compile(r"\b(?:then|and|over ?night|nights?|mornings?|afternoons?|evenings?|while|some|sun|lunch)\b")
BOUND = re.compile(r"\b(?:more than|less than|at least|at most|over|under|up to|above|below|longer|shorter|tops|max|minimum|maximum|(?<![0-9] )(?<![0-9])min|or more|or less)\b")  # fmt: skip
NOTHING = re.compile(
    r"^(?:no|nope|nah|none|never|zero|zip|nil|nought|nothing|0)\b[,;.]?(?: (?:of (?:it|them|that|those)|at all))?[,;.]*"
)
IT_WAS_COLD = re.compile(
    r"\b(?:a/?c|air ?con\w*|cold|cool|winter|autumn|spring|north|ice|iced|fridge|refrigerator|snow|freezing|frost|chilly)\b"
)
COLD_TIME = re.compile(
    r"\b(?:cold|cool|winter\w*|autumn|spring|grey|rainy|snowy) (?:day|night|morning|evening|afternoon)s?\b"
)
A_TIME = re.compile(r"\b(?:hours?|hrs?|minutes?|mins?|days?|weeks?|nights?|while|sun|warm|hot|time|summer)\b")
IN_THE_MIDDLE = re.compile(
    r"\b(?:probe|thermometer|middle|inside|core|centre|center|internal|in the (?:thick\w*|fish))\b"
)
AROUND_IT = re.compile(r"\b(?:oven|air|surface|outside|water|steam\w*|grill|smoker|dial|set)\b")
ROUGHLY = re.compile(r"about|around|rough|approx|circa|\bca\b|~|≈")
NOT_CLOSED = re.compile(
    r"\b(?:no|without|not) (?:\w+ )?(?:paper|sheets?|foil|mats?|solid\w*|boards?|plates?)\b|\b\w+ in the middle\b"
)
WORKING = re.compile(
    r"\bwhile \w+ing\b|,? ?\b(?:the )?rest (?:was |is )?(?:on|in) (?:the )?(?:ice|fridge|refrigerator|cooler|icebox)\b"
)
DEGREES = re.compile(r"(-?[0-9]+(?:[.,][0-9]+)?) ?°? ?([cf])\b")
WARM_THEN = "#"  # in place of more degrees than are asked
SHORT_WIPE = re.compile(r"\b(?:wip\w*|blot\w*|pat(?:ted|s)?|drain\w*|rins\w*)\b")
BESIDE = frozenset(  # words that may stand right before or behind the name of a fish and leave it what it is
    ["a", "an", "the", "my", "our", "your", "some", "of", "is", "it", "its", "and", "i", "we", "have", "got", "bought", "caught", "fresh", "frozen", "thawed", "farmed", "wild", "raised", "cleaned", "gutted", "filleted", "skinless", "lb", "lbs", "pound", "pounds", "kg", "kilo", "kilos", "g", "grams", "oz", "whole", "small", "big", "large", "nice", "fillet", "fillets", "filet", "filets", "loin", "loins", "steaks", "side", "sides", "strips", "in", "on", "at", "from", "off", "out", "with", "by", "for", "to", "that", "this", "these", "those", "them", "cut", "there", "here", "yesterday", "today", "just"]
)  # fmt: skip


def clear_words(question: Question, said: str) -> set[str]:
    """The words of a choice that an answer names clearly, under their official names or those of `CLEAR`."""
    if question.key == "faces":
        said = NOT_CLOSED.sub(" ", said)
    told = {word: [cue] for word, cue in CLEAR.get(question.key, {}).items()}
    if isinstance(question.kind, OneOf) and question.key not in CLEAR:
        for word in question.kind.words:
            also = (word, *question.kind.also.get(word, ()))
            told.setdefault(word, []).extend(re.escape(one) for one in also if len(one) > 3)
    for word, also in zip((YES, NO), FLAG_WORDS.get(question.key, ((), ())), strict=True):
        if isinstance(question.kind, Flag):
            told.setdefault(word, []).extend(re.escape(one) for one in also if " " in one)
    return {word for word, cues in told.items() for cue in cues if re.search(rf"(?<![\w'-])(?:{cue})(?![\w'-])", said)}


def doubted(said: str) -> bool:
    """Whether anything in an answer makes it less sure, or turns it."""
    return any(one.search(said) for one in (DOUBT, GUESS, MORE_DOUBT, MAY_BE))


def plain_word(question: Question, said: str, word: str) -> bool:
    """Whether a choice is said clearly: its word and no other one, nothing denied beside it, no doubt."""
    lead = re.match(r"[\w']+", said)
    begins = lead[0] if lead else ""
    yes_no = YES if begins in YES_WORDS else NO if begins in NO_WORDS else ""
    found = clear_words(question, said)
    rest = NOT_CLOSED.sub(" ", said) if question.key == "faces" else said
    for cue in CLEAR.get(question.key, {}).values():
        rest = re.sub(rf"(?<![\w'-])(?:{cue})(?![\w'-])", " ", rest)
    if isinstance(question.kind, Flag) and yes_no:
        found, rest = found | {yes_no}, rest[len(begins) :]
    if question.key == "skin" and word == "off" and re.search(r"\bon\b", rest):
        return False  # on some of the pieces
    return found == {word} and not doubted(said) and not TURNED.search(rest)


def plain_amount(question: Question, said: str, text: str, numbers: int) -> bool:
    """Whether one amount is said and nothing that may add to it; ``numbers`` is how many stand in the answer."""
    if question.key == "core" and (not IN_THE_MIDDLE.search(said) or AROUND_IT.search(said) or ROUGHLY.search(said)):
        return False
    if text == "0":
        begun = NOTHING.match(said)
        rest = COLD_TIME.sub("cold", said[begun.end() :] if begun else said)
        most = limits.WARM if question.key == "hours_above_21c" else limits.COLD
        rest = DEGREES.sub(lambda told: "cold" if _no_more(told, most) else WARM_THEN, rest)
        cold = not rest.strip(" .,!") or IT_WAS_COLD.search(rest)
        return (
            bool(begun and cold)
            and not doubted(said)
            and not A_TIME.search(rest)
            and WARM_THEN not in rest
            and not TURNED.search(rest)
        )
    said = WORKING.sub(" ", THEN_COLD.sub(" ", said))
    return numbers == 1 and not (
        doubted(_no_number(said)) or BOUND.search(said) or MORE_TIME.search(said) or TURNED.search(said)
    )


def _no_more(told: re.Match, most: float) -> bool:
    """Whether degrees that are told are no more than some [°C]."""
    degrees = float(told[1].replace(",", "."))
    return (celsius(degrees) if told[2] == "f" else degrees) <= most + 1e-6


def _no_number(said: str) -> str:
    """An answer without the "half" and "a few" of its amount."""
    return re.sub(r"\b(?:half an?|(?:an? )?half|a few|a couple of|a quarter of an)\b(?= \w)", " ", said)


def only_wiped(said: str) -> bool:
    """Whether an answer tells of a wipe or a rinse and of nothing that takes time."""
    return bool(SHORT_WIPE.search(said)) and not (
        doubted(said.replace("only", "")) or A_TIME.search(said) or MORE_TIME.search(re.sub(r"\band\b", "", said)) or re.search("[0-9]", said)
        or re.search(r"\b(?:soak\w*|lie|lay|stand|rack|hang\w*|hung|bowl|bucket|bath)\b", said)
    )  # fmt: skip


def plain_name(said: str, name: str) -> bool:
    """Whether a name stands among words that leave it what it is."""
    name, _, which = name.casefold().partition(", ")
    if which in ("farmed", "wild") and not re.search(rf"\b{which}\b", said):
        return False
    name = f"{name}, {which}" if which and f"{name}, {which}" in said else name
    at = said.find(name)
    here = said[:at].rpartition(",")[2] + said[at:].partition(",")[0]
    if at < 0 or doubted(said) or TURNED.search(here):
        return False
    before = re.search(r"([^\W\d]+)[ -]*$", said[:at])
    after = re.match(r"[ -]*([^\W\d]+)", said[at + len(name) :])
    hyphens = said[:at].endswith("-") or said[at + len(name) :].startswith("-")
    return not hyphens and all(one is None or one[1] in BESIDE for one in (before, after))


def numbers_in(said: str) -> int:
    """How many numbers an answer names, in digits or in words."""
    return len(re.findall(r"[0-9]+(?: [0-9]+/[0-9]+|[.,/][0-9]+)?|[½¼¾]", spoken.numbers(said)))
