"""Words of a choice and names of a table that stand anywhere in a sentence, under whatever name, where they are not denied."""

from __future__ import annotations

import re

from flakeyard import refused
from flakeyard.messages import say
from flakeyard.spelling import alike
from flakeyard.steps.intent.fields import NOT_KNOWN, Flag
from flakeyard.workbook.as_value import FLAG_WORDS
from flakeyard.workbook.asked import of_warm_waters
from flakeyard.workbook.meant import chosen
from flakeyard.workbook.one_word import record_named
from flakeyard.workbook.plainly import (
    DOUBT,
    GUARDED,
    GUESS,
    MAY_BE,
    TURNED,
    doubted,
)
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO, YES, YES_WORDS, unknown
from flakeyard.workbook.span import LONGEST

ORIGIN = re.compile(r"\b(?:farmed|wild)\b", re.IGNORECASE)
FILLETS_NOW = re.compile(
    r"\b(?:(?:they|these|those)(?:'re| are)|it(?:'s| is)|(?:bought|came|got) (?:it |them )?as)(?: (?:just|only|all|already|bought|skinless|farmed))* (?:fillets?|filets?|loins?|steaks?)\b"
)
CAREFUL = {  # the word that is never milder than the others, by key
    "origin": "wild", "stock": "fresh", "skin": "one side", "gutted": NO, "smells_normal": NO, "thawed_in_vacuum": YES,
    "checked": "not checked", "waters": refused.WATERS[1], "place": "cupboard", "moving": "still", "faces": "1",
}  # fmt: skip
TAKEN_FOR = ("origin", "place", "moving", "faces")  # where words that nobody knows are offered as the cautious word
CUES = {  # how else a word of a choice is said, by key: patterns for whole words
    "origin": {"farmed": r"farm\w*|pellets?|fish ?ponds?|raised|cages?|aquacultur\w*", "wild": r"wild|caught|rivers?|lakes?|sea|ocean|angl\w+|hooked|pier|boat|trawl\w*"},
    "stock": {"fresh": r"fresh|alive|never (?:\w+ ){0,3}free\w+|caught (?:it |them )?(?:today|yesterday)", "frozen": r"froze\w*|thaw\w*|defrost\w*|freez\w*"},
    "gutted": {YES: r"gutted|cleaned|fillet\w*|filet\w*|loins?|steaks?|insides?|guts? (?:\w+ )?(?:out|removed|gone)", NO: r"ungutted|whole|guts? (?:\w+ )?in"},
    "smells_normal": {YES: r"no (?:problems?|issues?|complaints?)|(?:doesn'?t|does not|hardly|barely) (?:\w+ )?smells?|fine|fresh|good|normal|(?:like |of )?nothing(?: else| wrong| bad)?|sea|lovely|sweet|ok|okay|clean|as it should|like fish|great", NO: r"off(?! the\b)|bad|sour|ammonia|sickly|stink\w*|stinks?|rotten|strange|funny|rank|strong|rancid|odd|wrong(?<!nothing wrong)"},
    "thawed_in_vacuum": {YES: r"in (?:its|the|a|their)(?: \w+){0,2} (?:bag|pack\w*|plastic|wrap\w*)|sealed|still", NO: r"no (?:bag|pack\w*|vacuum)|cut|open(?:ed)?|out of|took|unwrapped|slit|pierced|bowl|plate"},
    "form": {"strips": r"strip\w*|slices?|sliced|jerky|sticks?", "fillets": r"fillet\w*|filet\w*|loins?|cubes?|chunks?|portions?|steaks?", "split": r"butterfl\w*|split|opened?|kippered", "whole": r"whole|uncut"},
    "skin": {"off": r"off|skinless|skinned|without (?:the )?skin|no skin|peel\w*|removed?", "one side": r"skins? (?:\w+ ){0,2}on|with (?:the )?skin|left on|leav\w+ (?:it|them|the skin) on|stays?|(?:have|has|having|keep|kept) (?:it|them|theirs|skin|the skin) on|(?:still|rest|others) on(?! (?:ice|the|a|my)\b)|on (?:some|most|the (?:rest|others|small|big|thick|thin))"},
    "presoak": {"wet": r"soak\w*|milk|bath|water|juice", "dry": r"strewn|sprinkl\w*|rub\w*", NO: r"straight|directly|only|just the"},
    "brine": {"wet": r"(?:litres?|liters?|l|cups?|quarts?|qts?) (?:of )?water|brine\w*|soak\w*|marinad\w*|salt ?water|wet|bath|soy|vinegar", "dry": r"dry|rub\w*|sprinkl\w*|strew\w*|layer\w*|coat\w*|buried"},
    "rest": {YES: r"hang\w*|hung|racks?|fridge|refrigerator|hours?|hrs?|minutes?|overnight|rest\w*", NO: r"straight|directly|wipe\w*|blot\w*|pat(?:ted|s)?(?: it| them)?(?: dry)?"},
    "freshen": {YES: r"soak\w*|freshen\w*", NO: r"rins\w*|wash\w*|tap"},
    "heat": {YES: r"heat\w*|cook\w*|oven|steam\w*|boil\w*|bak\w*|simmer\w*|poach\w*"},
    "checked": {"probe": r"probe|meat thermometer|instant[- ]read", "not checked": r"by eye|by feel|guess\w*"},
    "moving": {"fan": r"fan\w*|ventilator|blower|convection", "still": r"nothing|none|no fan|still|vents?|dra(?:ft|ught)s?", "wind": r"wind\w*|breeze"},
    "place": {"cupboard": r"cupboard|pantry|shelf|shelves|cellar|basement|drawer|larder|in (?:my|the|a) packs?|packs? on|on the (?:hill|trail|road|mountain)|loft|attic|back ?packs?|ruck ?sacks?|hiking|hikes?|pockets?|shed|kitchen|closet|hang\w*|hung|counter|room", "refrigerator": r"fridge|refrigerator|ref|ice ?box|cooler", "freezer": r"freezer|deep[- ]freeze|frozen"},
    "faces": {"2": r"mesh|nets?|netting|screens?|grids?|racks?|wires?|holes|slots?|slats?|slotted|slatted|perforated|vented|gaps?|both|bars|(?<!any )(?<!little )air (?:comes|goes|gets|passes|flows|blows) through", "1": r"solid|paper|foil|sheet|board|plate|mat"},
    "measured": {NO: r"not yet|nothing|haven't|none"},
}  # fmt: skip
TAKEN_ALONG = re.compile(
    r"\b(?:in (?:my|the|a) packs?|packs? on|on the (?:hill|trail|road|mountain)|back ?packs?|ruck ?sacks?|hik(?:ing|es?)|pockets?)\b"
)
PLASTIC = re.compile(r"\bplastic\b")  # of trays: they may be closed or open
A_BIT = re.compile(r"\ba (?:bit|little) of\b")
FROZE = re.compile(
    r"\bfroze (?:it|them|those|these|the)\b|\bfrozen now\b|\bthen (?:for )?\w+ (?:days?|weeks?|months?) in (?:\w+ ){0,3}freezer\b|\b(?:then|later) (?:\w+ ){0,2}fro[sz]en?\b"
)
NO_SMELL = re.compile(r"\bnothing but |\boff (?=the )")  # "smells of nothing but the sea", "off the hook"
LAST_CUT = re.compile(
    r"\b(?:filet|fillet|side|loin)\w*\b.*\b(?:then|in|into)(?: \w+){0,2} (?:strip|slice)\w*$|\b(?:filet|fillet|side|loin)\w*\b.*\b(?:then|in|into)(?: \w+){0,2} (?:strip|slice)\w*[ ,](?!and|or)"
)
CUED_PACKS = {  # how packs are called beside their names, as patterns
    "vacuum pouch": r"vacuum|vac", "zip bag": r"zip\w*", "tub": r"tubs?|tupper\w*|box(?:es)?|container", "glass jar": r"jars?|glass(?:es)?",
    "sandwich bag": r"(?:sandwich|plastic|thin|produce) bags?|baggies|baggy", "kitchen foil": r"foil", "paper bag": r"paper", "cloth": r"cloth|linen|cotton|muslin|basket|loose|open",
}  # fmt: skip
MADE_OF = (  # what several packs are made of, and their names
    (re.compile(r"\bmylar\b"), re.compile(r"^(?:polypropylene bag|vacuum pouch|foil laminate)")),
    (re.compile(r"^(?:\w+ )?plastic\W*$"), re.compile(r"^(?:thin polyethylene bag|zip bag, storage|plastic tub)")),
)
TIGHT = re.compile(r"^(?:vacuum|foil laminate)")
NOT_IN_THE_FISH = re.compile(r"\b(?:oven|air|surface|outside|broken|should|will|would)\b")  # of a probe
NEGATED = re.compile(r"(?:\b(?:not|no|nothing|never|without|neither|nor|cannot)|n't|\b(?:isnt|wasnt|dont|doesnt|didnt|havent))(?: \w+){0,2} $")  # fmt: skip


def words_of(question: Question, said: str) -> list[str]:
    """The words of a choice that are named; doubt leaves what is milder open, and a guess offers it second."""
    found = [] if question.key == "checked" and NOT_IN_THE_FISH.search(said) else named(question, said)
    if not found and question.key in GUARDED and unknown(re.split(r"[,;.]", said)[0].strip()):
        return [NOT_KNOWN]
    if not found and question.key == "faces" and PLASTIC.search(said) and not DOUBT.search(said):
        return [CAREFUL["faces"], "2"]
    if not found:
        plainly = re.match(r"(?:no|not|none|nothing|never|nope)\b|.*\b(?:none|no need)\b", said)
        if question.door:
            return [NO] if plainly and not DOUBT.search(said) else []
        told = question.key in TAKEN_FOR and " " in said.strip() and not DOUBT.search(said)
        return [CAREFUL[question.key]] if told and not alike(said, chosen(question)) else []
    if MAY_BE.search(said) and (settled := named(question, _settled(said))):
        return settled[:1]
    if question.key == "form" and LAST_CUT.search(said):
        return ["strips"]
    if question.key == "stock" and len(found) > 1 and FROZE.search(said):
        return ["frozen"]
    careful = CAREFUL.get(question.key)
    found.sort(key=lambda word: word != careful)
    if question.key not in GUARDED or found == [careful]:
        return found
    if DOUBT.search(said):
        return [careful] if careful in found and question.key == "origin" else [NOT_KNOWN]
    said_first = re.match(r"yes\b|yep\b|yeah\b", said) and found == [YES] and not GUESS.search(A_BIT.sub(" ", said))
    said_first = said_first or (question.key == "gutted" and found == [YES] and _fillets_by_now(said))
    unsure = len(found) > 1 or ((GUESS.search(said) or MAY_BE.search(said)) and not said_first)
    return list(dict.fromkeys([*([NOT_KNOWN] if unsure and careful not in found else []), *found]))


def _fillets_by_now(said: str) -> bool:
    """Whether the fish is said to be fillets already, whatever is guessed from that."""
    guessed = re.sub(r"\bi (?:guess|suppose|think)\b", " ", said)
    clouded = any(one.search(guessed) for one in (GUESS, MAY_BE, TURNED))
    return bool(FILLETS_NOW.search(said)) and not clouded


def _settled(said: str) -> str:
    """An answer without the parts that say what could be done."""
    return ", ".join(part for part in re.split(r"[,;.]| but ", said) if not MAY_BE.search(part))


def named(question: Question, said: str) -> list[str]:
    """The words of a choice that stand in an answer, under any of their names, and are not denied."""
    key = question.section if question.door else question.key
    said = NO_SMELL.sub("", said)
    told = {word: [re.escape(word)] for word in chosen(question)}
    others = {} if question.place == "presoak" else getattr(question.kind, "also", {})
    for word, also in others.items():
        told[word] += map(re.escape, (one for one in also if len(one) > 2 and one != "no"))
    for word, also in zip((YES, NO), FLAG_WORDS.get(key, ()), strict=False):
        told[word] += map(re.escape, also)
    for word, cue in CUES.get(key, {}).items():
        told.setdefault(word, []).append(cue)
    if YES in told:
        told[YES] += map(re.escape, YES_WORDS[2:])
    spans: list[tuple[int, int, str]] = []
    for word, cues in told.items():
        for cue in cues:
            spans += [(*one.span(), word) for one in re.finditer(rf"(?<![\w'-])(?:{cue})(?![\w'-])", said)]
    if isinstance(question.kind, Flag) or question.door:  # the "no" of "no stink" belongs to the stink
        spans = [one for one in spans if said[one[0] : one[1]] != NO or re.match(r"[,;.!]|$", said[one[1] :])]
    spans.sort(key=lambda one: one[0] - one[1])
    kept: list[tuple[int, int, str]] = []
    for one in spans:
        if all(one[1] <= other[0] or one[0] >= other[1] for other in kept):
            kept.append(one)
    words = []
    for begin, end, word in sorted(kept):
        if not _denied(said[:begin]):
            words.append(word)
        elif word == YES and CAREFUL.get(question.key) == NO and not said[begin:end].startswith("no"):
            words.append(NO)
    if (
        question.key == "place"
        and not re.search(r"\bor\b|,", said)
        and len(set(words)) > 1
        and not TAKEN_ALONG.search(said)
    ):
        words = [word for word in words if word != "cupboard"]
    return list(dict.fromkeys(words))


def _denied(before: str) -> bool:
    """Whether what follows is said not to be so."""
    return bool(NEGATED.search(re.split(r"[,;.]| but ", before)[-1]))


def names_in(question: Question, text: str) -> list[str]:
    """Names of a table that stand anywhere in an answer, begun words among them ("channel cat")."""
    if question.key == "species":
        return _fish(question, text)
    said = text.casefold()
    found = records_in(question, text)
    if question.key == "pack":
        found = found or [
            name for cue, which in MADE_OF if cue.search(said) for name in question.names if which.match(name)
        ]
        found = sorted(found, key=lambda name: bool(TIGHT.match(name)))  # the least tight first
        found = found or [name for name, cue in CUED_PACKS.items() if re.search(rf"\b(?:{cue})\b", said)]
        return [NOT_KNOWN, *found] if len(found) > 1 else found
    return found or _begun(question, said)


def _fish(question: Question, text: str) -> list[str]:
    """Kinds of fish; where something is known against a name, only one whose waters are asked for next."""
    said, against = text.casefold(), refused.fish(text)
    found = records_in(question, text) if against else records_in(question, text) or _begun(question, said)
    found = [one for one in found if usable_fish(one)] or found
    if against and (against.says == "refuse" or not all(of_warm_waters({"species": one}, {}) for one in found)):
        return []
    return _of_one_kind(found, said)


def usable_fish(name: str) -> bool:
    """Whether the table knows what a fish is made of."""
    return refused.species(name).usable


def no_composition(question: Question, text: str) -> str:
    """Why a fish that is named cannot be reckoned with, though it stands in the table; "" where none such is named."""
    notes = [refused.species(one).note for one in records_in(question, text) if not usable_fish(one)]
    return say("batch_file.no_composition", note=notes[0]) if notes else ""


def without_fish(question: Question, text: str) -> str:
    """An answer without the names of fish in it, but for "farmed" or "wild": which of two it is makes nothing else doubtful."""
    names = "|".join(re.escape(one.partition(",")[0]) for one in records_in(question, text))
    named = re.compile(rf"\b(?:{names})(?: or (?:{names}))*\b", re.IGNORECASE)
    return named.sub(lambda one: " ".join(["", *ORIGIN.findall(one[0]), ""]), text) if names else text


def _of_one_kind(names: list[str], said: str) -> list[str]:
    """The farmed or the wild one of two rows of one kind, where it is said which."""
    told = {word for word in ("farmed", "wild") if re.search(rf"\b{word}\b", said)}
    kinds = {name.casefold().rpartition(",")[0] for name in names}
    meant = [name for name in names if name.casefold().rpartition(", ")[2] in told]
    return meant if len(names) == 2 and len(kinds) == len(told) == len(meant) == 1 and not doubted(said) else names


def records_in(question: Question, text: str) -> list[str]:
    """The longest names of the table in a text, each thing once."""
    words = [(one.start(), one.end()) for one in re.finditer(r"[^\s,;:()/.]+", text)]
    spans: list[tuple[int, int, str, str]] = []
    for length in range(min(LONGEST, len(words)), 0, -1):
        for first in range(len(words) - length + 1):
            begin, end = words[first][0], words[first + length - 1][1]
            if all(end <= a or begin >= b for a, b, *_ in spans) and (
                record := record_named(question, text[begin:end])
            ):
                spans.append((begin, end, *record))
    once: dict[str, str] = {}
    for _begin, _end, name, id in sorted(spans):
        if not _denied(text[:_begin].casefold()):
            once.setdefault(id, name)
    return list(once.values())


def _begun(question: Question, said: str) -> list[str]:
    """Names of the table of which some words in a row are the beginnings, one of them whole."""
    words, found = re.findall(r"[\w'-]+", said), []
    for name in question.names:
        parts = re.findall(r"[\w']+", name.casefold().split(",")[0])
        for at in range(len(words) - len(parts) + 1 if len(parts) > 1 else 0):
            here = words[at : at + len(parts)]
            begun = all(len(one) > 2 and part.startswith(one) for one, part in zip(here, parts, strict=True))
            if begun and any(one == part for one, part in zip(here, parts, strict=True)):
                found.append(name)
    near = [] if found else [name for word in words for name in alike(word, question.names)]
    nouns = [name for name in question.names if re.findall(r"[\w']+", name.casefold().split(",")[0])[-1] in words]
    return list(dict.fromkeys(found or near or nouns))
