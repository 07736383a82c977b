"""What is meant by an answer in whatever words: amounts, known words and names are looked for anywhere in the sentence.

This is the lenient reader beneath `asking.tell` and `offering.reading`. What it finds goes through `tell` like any other
answer. A reading that is exact, and cannot make a verdict milder, is taken with an echo (``sure``); every other one has to
be confirmed, and where there are several the cautious one comes first. Nothing is ever read towards milder: what was said
with doubt counts as not known, of two amounts the cautious end is offered, hours are offered as their sum.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from flakeyard import refused, spoken, tables
from flakeyard.messages import say
from flakeyard.spelling import alike
from flakeyard.steps.intent.fields import INGREDIENT, NONE, NOT_KNOWN, Flag, Measure, Number, OneOf
from flakeyard.units import InputError, is_unit, read_amount
from flakeyard.workbook import offering
from flakeyard.workbook.asking import (
    COUNTED,
    COUNTED_IN,
    FLAG_WORDS,
    FLAVOUR,
    LONGER_IS_CAREFUL,
    NO,
    NO_MORE,
    YES,
    YES_WORDS,
    Question,
    Story,
    known_to_tell_nothing,
    question_at,
    questions,
    tell,
    undecided,
)  # fmt: skip
from flakeyard.workbook.plainly import (
    DOUBT,
    GUARDED,
    GUESS,
    TURNED,
    doubted,
    only_wiped,
    plain_amount,
    plain_name,
    plain_word,
)

OTHER_LIQUID = "sauce or drink, salt not known"
LEAST_SURE = re.compile(r"\b(?:ago|bought|before|best|packed|since|date|next)\b")  # of days in a freezer
MOST = 4  # readings to choose from (judgement)
UNMEASURED_FRIDGE = ("7 °C", "45 °F")  # judgement, from memory: many kitchen refrigerators run warmer than they should
FRIDGE = re.compile(r"\b(?:fridge|refrigerator|ice ?box)\b")
NIGHT = "12 h"  # as which a night counts, to be confirmed (judgement)
CAREFUL = {  # the word that is never milder than the others, by key
    "origin": "wild", "stock": "fresh", "skin": "one side", "gutted": NO, "smells_normal": NO, "thawed_in_vacuum": YES,
    "checked": "not checked", "waters": refused.WATERS[1], "place": "cupboard", "moving": "still", "faces": "1",
}  # fmt: skip
TAKEN_FOR = ("origin", "place", "moving", "faces")  # where words that nobody knows are offered as the cautious word
CUES = {  # how else a word of a choice is said, by key: patterns for whole words
    "origin": {"farmed": r"farm\w*|pellets?|fish ?ponds?|raised|cages?|aquacultur\w*", "wild": r"wild|caught|rivers?|lakes?|sea|ocean|angl\w+|hooked|pier|boat|trawl\w*"},
    "stock": {"fresh": r"fresh|alive|never (?:\w+ ){0,3}free\w+|caught (?:it |them )?(?:today|yesterday)", "frozen": r"froze\w*|thaw\w*|defrost\w*|freez\w*"},
    "gutted": {YES: r"gutted|cleaned|fillet\w*|filet\w*|loins?|steaks?|insides?|guts? (?:\w+ )?(?:out|removed|gone)", NO: r"ungutted|whole|guts? (?:\w+ )?in"},
    "smells_normal": {YES: r"(?:doesn'?t|does not|hardly|barely) (?:\w+ )?smells?|fine|fresh|good|normal|(?:like |of )?nothing(?: else| wrong| bad)?|sea|lovely|sweet|ok|okay|clean|as it should|like fish|great", NO: r"off|bad|sour|ammonia|sickly|stink\w*|stinks?|rotten|strange|funny|rank|strong|rancid|odd|wrong(?<!nothing wrong)"},
    "thawed_in_vacuum": {YES: r"in (?:its|the|a) (?:vacuum )?(?:bag|pack\w*|plastic|wrap\w*)|sealed|still", NO: r"no (?:bag|pack\w*|vacuum)|cut|open(?:ed)?|out of|took|unwrapped|slit|pierced|bowl|plate"},
    "form": {"strips": r"strip\w*|slices?|sliced|jerky|sticks?", "fillets": r"fillet\w*|filet\w*|loins?|cubes?|chunks?|portions?|steaks?", "split": r"butterfl\w*|split|opened?|kippered", "whole": r"whole|uncut"},
    "skin": {"off": r"off|skinless|skinned|without (?:the )?skin|no skin|peel\w*|removed?", "one side": r"skins? (?:\w+ ){0,2}on|with (?:the )?skin|left on|stays?"},
    "presoak": {"wet": r"soak\w*|milk|bath|water|juice", "dry": r"strewn|sprinkl\w*|rub\w*", NO: r"straight|directly|only|just the"},
    "brine": {"wet": r"brine\w*|soak\w*|marinad\w*|salt ?water|wet|bath|soy|vinegar", "dry": r"dry|rub\w*|sprinkl\w*|strew\w*|layer\w*|coat\w*|buried"},
    "rest": {YES: r"hang\w*|hung|racks?|fridge|refrigerator|hours?|hrs?|minutes?|overnight|rest\w*", NO: r"straight|directly|wipe\w*|blot\w*|pat(?:ted|s)?(?: it| them)?(?: dry)?"},
    "freshen": {YES: r"soak\w*|freshen\w*", NO: r"rins\w*|wash\w*|tap"},
    "heat": {YES: r"oven|steam\w*|boil\w*|bak\w*|simmer\w*|poach\w*"},
    "checked": {"probe": r"probe|meat thermometer|instant[- ]read", "not checked": r"by eye|by feel|guess\w*"},
    "moving": {"fan": r"fan\w*|ventilator|blower|convection", "still": r"nothing|none|no fan|still|vents?", "wind": r"wind\w*|breeze"},
    "place": {"cupboard": r"cupboard|pantry|shelf|shelves|cellar|basement|drawer|larder|shed|kitchen|closet|hang\w*|hung|counter|room", "refrigerator": r"fridge|refrigerator|ref|ice ?box|cooler", "freezer": r"freezer|deep[- ]freeze|frozen"},
    "faces": {"2": r"mesh|nets?|grids?|racks?|wires?|holes?|slots?|slats?|gaps?|both|bars", "1": r"solid|paper|foil|sheet|board|plate|mat"},
    "measured": {NO: r"not yet|nothing|haven't|none"},
}  # fmt: skip
LAST_CUT = re.compile(
    r"\b(?:filet|fillet|side|loin)\w*\b.*\b(?:then|in|into)(?: \w+){0,2} (?:strip|slice)\w*$|\b(?:filet|fillet|side|loin)\w*\b.*\b(?:then|in|into)(?: \w+){0,2} (?:strip|slice)\w*[ ,](?!and|or)"
)
CUED_PACKS = {  # how packs are called beside their names, as patterns
    "vacuum pouch": r"vacuum|vac", "zip bag": r"zip\w*", "tub": r"tubs?|box(?:es)?|container", "glass jar": r"jars?|glass(?:es)?",
    "sandwich bag": r"(?:sandwich|plastic|thin|produce) bags?", "kitchen foil": r"foil", "paper bag": r"paper", "cloth": r"cloth|linen|cotton|muslin|basket|loose|open",
}  # fmt: skip
CONTRACTED = re.compile(r"\b(was|is|are|did|does|do|has|have|had|were)nt\b", re.IGNORECASE)
SAME = re.compile(r"\b(?:same|ditto|as much|likewise)\b")
AGAIN = re.compile(r"\b(?:each|every|per|twice|thrice|times|double|both ways|again|another|daily)\b")
NOT_IN_THE_FISH = re.compile(r"\b(?:oven|air|surface|outside|broken|should|will|would)\b")  # of a probe
NEGATED = re.compile(r"(?:\b(?:not|no|never|without|neither|nor|cannot)|n't|\b(?:isnt|wasnt|dont|doesnt|didnt|havent))(?: \w+){0,2} $")  # fmt: skip
NONE_AT_ALL = re.compile(r"^(?:no|nope|nah|none|never|zero|zip|nil|nought|nothing)\b(?!.*(?:[0-9]|\b(?:but|except|only|maybe|not sure|an|half|or|idea|clue)\b))")  # fmt: skip
LITTLE = {  # amounts without a number, to be confirmed (judgement)
    "pinch|dash": "1/8 tsp", "splash|squeeze|drizzle|spoonful": "1 tbsp", "glug": "2 tbsp", "handful": "1/4 cup",
}  # fmt: skip
NONE_AT_LAST = re.compile(r"[,;.] ?(?:so )?(?:none|zero)$")
NUM = r"(?:[0-9]+ [0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+(?:[.,][0-9]+)?)"
ONE_NUMBER = re.compile(rf"(?<![\w.,/])-?{NUM}(?![0-9/])")
SAYS_WHICH = re.compile(r"(?:\bsay|\bso|\bcall it|\bmakes?|\bthat's|\bthat is|\bcomes? to|\bin all|\bin total|\bal?together|\ball told|=)[,:]? *(?:(?:about|abt|ca\.?|roughly|maybe|around|some) *)?$")  # fmt: skip
SAYS_ALL = re.compile(r"^,? *(?:in all|in total|all told|all together|altogether|together|total)\b")
OF_EACH = re.compile(r"^ *(?:\w+ )?(?:each|apiece|per|every)\b")
DEGREES_TOLD = re.compile(r"[0-9] ?(?:°|degrees?\b|deg\b|grad\b)")
BETWEEN = re.compile(r"^[\s,]*(?:or|to|till|until|bis|–|-|maybe|perhaps)(?:[\s,]*(?:maybe|perhaps|even))?[\s,]*$")
BOUND = re.compile(r"\b(?:more than|less than|at least|at most|over|under|up to|tops|max|min|or more|or less)\b")
PER_WEIGHT = re.compile(
    r"^ *(?:(?:per|for each|for every|to the|to each|each|a|on each|on a|pro)|/) *(kilo|kg|kilogram|lb|pound)\b"
)
OF_EACH_WEIGHT = re.compile(r"\b(?:per|each|every) (?:kilo|kg|kilogram|lb|pound)|/ ?(?:kg|kilo|lb)\b")
SMALL = re.compile(r"\b(?:just|a little|a bit|bit|a touch|slightly) (?:over|under|above|below|more than|less than)$")
FRACTION = re.compile(r"\b(?:(?P<many>an?|one|two|three|four|five|seven|[1357]) )?(?P<part>half|third|quarter|eighth|sixteenth)s?(?P<of> of(?: an?)?| an?)?(?= (?P<next>\w+)|[,.]|$)")  # fmt: skip
SIDES = re.compile(
    rf"({NUM}) ?([a-z\"]+)? ?(?:x|×|\*|by|on|times|mal) ?({NUM}) ?(mm|cm|m|in|inch|inches|ft|feet|\")?(?![\w/])"
)
SQUARE = re.compile(rf"({NUM}) ?([a-z\"]+) square\b")
ONE_LENGTH = re.compile(rf"({NUM}) ?(mm|cm|m|inches|inch|in|ft|\")(?![\w/])")
ACROSS = re.compile(rf"({NUM}) ?(mm|cm|m|in|inch|inches|ft|\")(?= (?:across|round|wide|diameter))")
PASSES = (
    "or", "to", "till", "and", "maybe", "perhaps", "by", "at", "in", "on", "max", "tops", "if", "each", "all", "so", "but", "for", "with",
)  # fmt: skip
ABROAD = {  # units of time that visitors write in their own words
    "stunde": ("h",), "stunden": ("h",), "std": ("h",), "tag": ("day",), "tage": ("day",), "woche": ("week",), "wochen": ("week",), "monat": ("month",), "monate": ("month",),
    "heure": ("h",), "heures": ("h",), "jours": ("day",), "hora": ("h",), "horas": ("h",), "dias": ("day",), "gramos": ("g",), "timer": ("h",), "dager": ("day",),
}  # fmt: skip
NO_UNIT = ("in", "a", "at", "to", "on", "s", "m", "h", "l", "c", "f", "second", "seconds", "sec")  # words first
STOP = frozenset(
    ["a", "an", "the", "some", "of", "my", "our", "your", "and", "or", "with", "in", "into", "on", "to", "for", "it", "is", "its", "i", "we", "use", "put", "add", "then", "also", "plus", "just", "only", "well", "maybe", "about", "little", "bit", "pinch", "dash", "few", "handful", "head", "clove", "cloves", "bunch", "sprig", "splash", "each", "nothing", "no", "not", "yes", "from", "that", "this", "them", "one", "two", "three", "fresh", "dried", "ground", "crushed", "chopped", "cracked", "powder", "seeds", "seed", "good", "big", "small", "lot", "lots", "cup", "spoon", "enough", "cover", "so", "say", "else", "more", "other", "too", "very", "all", "over"]
)  # fmt: skip
PLAIN_SALT = frozenset(
    ["coarse", "fine", "table", "sea", "rock", "kosher", "pickling", "canning", "cooking", "kitchen", "plain", "normal", "ordinary", "white", "dry", "iodized", "iodised"]
)  # fmt: skip
DRY_SPICE = re.compile(r"\b(?:seasoning|spices?|herbs?|powder|flakes|seeds?|lea(?:f|ves)|zest|peel|pepper\w*)$")
ENDED = re.compile(r"^(?:no|nope|nah|nothing|none|that's|thats|that is|done|finished)\b")  # of what goes in
MIXED = re.compile(r"\b(?:substitute|low|lite|light|reduced|free|less|potassium|cur\w+|pink|nit\w+|season\w*|mix\w*|blend|rub|celery)\b")  # fmt: skip


@dataclass(frozen=True)
class Reading:
    """What an answer may mean: places with texts that `tell` takes, what to show of it, whether it needs no confirming,
    words of a list that nobody knows, and words to keep as a note."""

    told: tuple[tuple[str, str], ...]
    shown: str
    sure: bool = False
    rest: str = ""
    notes: tuple[tuple[str, str], ...] = ()

    def put_in(self, story: Story) -> Story:
        """The story with this told. Raises: InputError."""
        for place, words in self.notes:
            story = story.noted(place, words)
        for place, text in self.told:
            question = next((one for one in questions(story) if one.place == place), None) or question_at(place)
            story = tell(story, question, "" if text in (NOT_KNOWN, NO_MORE) else text)
        return story


@dataclass(frozen=True)
class Found:
    """An amount in a sentence: where it stands, as text, its value, and its unit ("" where none was said)."""

    begin: int
    end: int
    text: str
    value: float
    unit: str


def readings(story: Story, question: Question, text: str) -> tuple[Reading, ...]:
    """What an answer that was not taken may mean, the cautious one first; nothing where it cannot be told."""
    text = CONTRACTED.sub(r"\1n't", " ".join(text.replace("’", "'").split()))
    if not text or len(text) > 1000:
        return ()
    if question.key == "what":
        found = _can_be(story, _things(story, question, text))
        ended = not found and question.empty == NO_MORE and ENDED.search(text.casefold())
        return (replace(plain(question, NO_MORE), sure=True),) if ended else found
    if question.place == "cut.thickness" and (sizes := _sizes(story, question, text)):
        return _can_be(story, sizes)
    careful = "" if _looked_at_closer(question, text.casefold()) else offering.reading(story, question, text)
    if careful == NOT_KNOWN and (amounts := _amount_texts(story, question, text)):
        return _of(story, question, text, amounts)
    if careful:
        return _of(story, question, text, [careful])
    return _of(story, question, text, _texts(story, question, text))


@dataclass(frozen=True)
class Heard:
    """What an answer came to: the story with it, or why it was not taken, and what else it may mean."""

    story: Story | None
    mistake: InputError | None
    readings: tuple[Reading, ...]

    @property
    def sure(self) -> Reading | None:
        """The one reading that needs no confirming."""
        return self.readings[0] if len(self.readings) == 1 and self.readings[0].sure else None


def heard(story: Story, question: Question, text: str) -> Heard:
    """What an answer comes to; what does not decide the question is kept as a note, and may still hold a reading."""
    try:
        told, mistake = tell(story, question, text), None
    except InputError as refusal:
        told, mistake = None, refusal
    if told and not undecided(question, text):
        return Heard(told, None, ())
    found = () if told and known_to_tell_nothing(question, text) else readings(story, question, text)
    if told:
        told = told.noted(question.place, text.strip())
        found = tuple(one for one in found if one.told != ((question.place, NOT_KNOWN),))
    return Heard(told, mistake, found)


def _looked_at_closer(question: Question, said: str) -> bool:
    """Whether only this reader sees what stands around the words: doubt, or how many fish a weight is of."""
    worded = isinstance(question.kind, OneOf | Flag) and question.key in GUARDED
    dated = question.key == "frozen_days" and LEAST_SURE.search(said)
    elsewhere = question.key == "checked" and NOT_IN_THE_FISH.search(said)
    return question.key == "raw_weight" or bool(dated or elsewhere or (worded and DOUBT.search(said)))


def chosen(question: Question) -> tuple[str, ...]:
    """The words that may be answered, where they are few."""
    if isinstance(question.kind, Flag):
        return (YES, NO)
    return question.kind.words if isinstance(question.kind, OneOf) else ()


def plain(question: Question, word: str) -> Reading:
    """A word of a choice as a reading."""
    return Reading(((question.place, word),), say("begin.open") if word == NOT_KNOWN else word)


def unknown_things(story: Story, section: str, words: str) -> tuple[Reading, ...]:
    """What something may be that no table knows: a liquid, which counts as water, or a spice, which counts as nothing."""
    place = f"{section}.ingredient.{len(story.get(f'{section}.ingredient') or []) + 1}.what"
    flavour = f"{section}.flavour"
    kept = "; ".join(filter(None, [story.notes.get(flavour, ""), words]))
    liquid = Reading(((place, OTHER_LIQUID),), say("loosely.liquid"), notes=((f"{section}.unknown", words),))
    spice = Reading((), say("loosely.spice"), notes=((flavour, kept),))
    return (spice, liquid) if DRY_SPICE.search(words.casefold()) else (liquid, spice)


def _of(story: Story, question: Question, text: str, texts: list[str]) -> tuple[Reading, ...]:
    """Readings of one question; the first of several must be one that can be taken, or there is none."""
    texts = list(dict.fromkeys(texts))[:MOST]
    said = text.casefold()
    sure = len(texts) == 1 and (
        _plain(story, question, said, texts[0]) if question.key in GUARDED else _sure(question, said, texts[0])
    )
    found = [replace(plain(question, one), sure=sure) for one in texts]
    if not found or not _can_be(story, found[:1]):
        return ()
    return _can_be(story, found)


def _can_be(story: Story, found) -> tuple[Reading, ...]:
    """Those that can be told."""
    return tuple(one for one in found if _taken(story, one))


def _taken(story: Story, one: Reading) -> bool:
    try:
        one.put_in(story)
    except InputError:
        return False
    return True


def _sure(question: Question, said: str, text: str) -> bool:
    """Whether a reading of a key that decides no verdict needs no confirming: it is exact."""
    if text == NOT_KNOWN:
        return False
    if SAME.search(said) and question.key in ("amount", "temperature") and not re.search("[0-9]", said):
        return not (DOUBT.search(said) or GUESS.search(said))
    if (not question.door and SAME.search(said) and not re.search("[0-9]", said)) or (
        text == NIGHT and not re.search("[0-9]", said)
    ):
        return False
    if text in UNMEASURED_FRIDGE or (BOUND.search(said) and not re.search(r"\b(?:say|so|call it)\b", said)):
        return False
    if question.door:
        lead = re.match(r"(?:no|nope|nah|none|not)\b", said)
        return bool(lead) or only_wiped(said) if text == NO else True
    if text == CAREFUL.get(question.key):
        return bool(_named(question, said))
    units = [one for one in re.findall(r"[^\W\d]+", text.casefold()) if is_unit(one)]
    heavy = "mass" in str(getattr(question.kind, "kinds", "")) and not any(one in said for one in units)
    if (
        question.key == "amount"
        and re.search(r"\b(?:per|each|every|kilo|kg)\b|/ *(?:kg|kilo|lb)", said)
        and text not in said
    ):
        return False
    little = question.key == "amount" and any(re.search(rf"\b(?:{word})", said) for word in LITTLE)
    return not question.key.startswith("measured") and not heavy and not little


def _plain(story: Story, question: Question, said: str, text: str) -> bool:
    """Whether a reading of a key that decides a verdict is said so plainly that it needs no confirming."""
    if text == NOT_KNOWN:
        return True
    if text == CAREFUL.get(question.key) and question.key not in ("gutted", "smells_normal") and _named(question, said):
        return True
    if question.key == "hours_above_21c" and text == str(story.get("fish.hours_above_4c")):
        return True  # all of them
    if question.key in ("gutted", "smells_normal") and _named(question, said) == [text] and not doubted(said):
        return text == NO or not TURNED.search(re.sub(r"\bnothing (?:else|wrong|bad)\b", " ", said))
    if isinstance(question.kind, OneOf | Flag) or question.key == "faces":
        return plain_word(question, said, text)
    if question.names:
        return plain_name(said, text)
    return plain_amount(question, said, text, len(ONE_NUMBER.findall(in_digits(question, said))))


def _texts(story: Story, question: Question, text: str) -> list[str]:
    kind, said = question.kind, text.casefold()
    if question.names:
        return _names(question, text)
    if isinstance(kind, OneOf | Flag) or question.key == "faces":
        return _words(question, said)
    if question.key in LONGER_IS_CAREFUL and NONE_AT_ALL.search(said):
        return ["0"]
    if question.key in LONGER_IS_CAREFUL and NONE_AT_LAST.search(said) and not _amount_texts(story, question, text):
        return ["0"]
    if (
        getattr(kind, "may_be_none", False)
        and re.search(r"^(?:no|nothing|without)\b|\bnone\b|\bno heater\b", said)
        and not DOUBT.search(said)
    ):
        return [NONE]
    if SAME.search(said) and not re.search("[0-9]", said) and (before := _told_before(story, question)):
        return [before]
    if (
        question.key == "temperature"
        and offering.larger(question)
        and FRIDGE.search(said)
        and not re.search("[0-9]", said)
    ):
        return [UNMEASURED_FRIDGE[offering.system_of(story) == "us"]]
    return _amount_texts(story, question, text) if isinstance(kind, Measure | Number) else []


def _told_before(story: Story, question: Question) -> str:
    """What "the same" means: the amount of the ingredient before, or the degrees of the salting."""
    row, _, key = question.place.rpartition(".")
    above, _, number = row.rpartition(".")
    if key == "amount" and number.isdigit():
        return str(story.get(f"{above}.{int(number) - 1}.amount") or "") if int(number) > 1 else ""
    return str(story.get("brine.temperature") or "") if key == "temperature" and row in ("rest", "presoak") else ""


# Words


def _words(question: Question, said: str) -> list[str]:
    """The words of a choice that are named; doubt leaves what is milder open, and a guess offers it second."""
    found = [] if question.key == "checked" and NOT_IN_THE_FISH.search(said) else _named(question, said)
    if not found:
        plainly = re.match(r"(?:no|not|none|nothing|never|nope)\b|.*\b(?:none|no need)\b", said)
        if question.door:
            return [NO] if plainly and not DOUBT.search(said) else []
        told = question.key in TAKEN_FOR and " " in said.strip() and not DOUBT.search(said)
        return [CAREFUL[question.key]] if told and not alike(said, chosen(question)) else []
    if question.key == "form" and LAST_CUT.search(said):
        return ["strips"]
    careful = CAREFUL.get(question.key)
    found.sort(key=lambda word: word != careful)
    if question.key not in GUARDED or found == [careful]:
        return found
    if DOUBT.search(said):
        return [careful] if careful in found and question.key == "origin" else [NOT_KNOWN]
    unsure = len(found) > 1 or GUESS.search(said)
    return list(dict.fromkeys([*([NOT_KNOWN] if unsure and careful not in found else []), *found]))


def _named(question: Question, said: str) -> list[str]:
    """The words of a choice that stand in an answer, under any of their names, and are not denied."""
    key = question.section if question.door else question.key
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
    if isinstance(question.kind, Flag):  # the "no" of "no stink" belongs to the stink
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
    if question.key == "place" and not re.search(r"\bor\b|,", said) and len(set(words)) > 1:
        words = [word for word in words if word != "cupboard"]
    return list(dict.fromkeys(words))


def _denied(before: str) -> bool:
    """Whether what follows is said not to be so."""
    return bool(NEGATED.search(re.split(r"[,;.]| but ", before)[-1]))


def _names(question: Question, text: str) -> list[str]:
    """Names of a table that stand anywhere in an answer, begun words among them ("channel cat")."""
    if question.key == "species" and refused.fish(text):
        return []
    said = text.casefold()
    found = _records(question, text)
    if question.key == "pack":
        found = found or [name for name, cue in CUED_PACKS.items() if re.search(rf"\b(?:{cue})\b", said)]
        return [NOT_KNOWN, *found] if len(found) > 1 else found
    return found or _begun(question, said)


def _records(question: Question, text: str) -> list[str]:
    """The longest names of the table in a text, each thing once."""
    words = [(one.start(), one.end()) for one in re.finditer(r"[^\s,;:()/.]+", text)]
    spans: list[tuple[int, int, str, str]] = []
    for length in range(min(offering.LONGEST, len(words)), 0, -1):
        for first in range(len(words) - length + 1):
            begin, end = words[first][0], words[first + length - 1][1]
            if all(end <= a or begin >= b for a, b, *_ in spans) and (
                record := offering.record_named(question, text[begin:end])
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


# Amounts


def _amount_texts(story: Story, question: Question, text: str) -> list[str]:
    """The amounts in an answer as `tell` reads them, the cautious one first; nothing where one of them may be more."""
    if getattr(question.kind, "exact", False) or question.key.startswith("measured"):
        return []
    if question.key in LONGER_IS_CAREFUL and AGAIN.search(text.casefold()):
        return []
    if question.key == "frozen_days" and LEAST_SURE.search(text.casefold()):
        return []
    if question.key == "tray_area":
        return _areas(story, question, text.casefold())
    said = in_digits(question, text)
    found = amounts(story, question, said)
    kept = [one for one in found if not _open_ended(question, said, one)]
    if not kept or (found and _first(question, found).value != _first(question, kept).value):
        return []
    told = [one.text for one in _ordered(question, said, kept)]
    if question.key == "amount" and len(kept) == 1 and (of_each := PER_WEIGHT.match(said[kept[0].end :])):
        return _per_weight(story, kept[0], of_each[1])
    if question.key == "raw_weight" and len(kept) == 1 and (several := _of_several(said, kept[0])):
        return [several, *told]
    plain_range = question.key not in GUARDED and question.key != "raw_weight" and len({one.unit for one in kept}) == 1
    return told[:1] if plain_range and (offering.larger(question) or offering.smaller(question)) else told


def _per_weight(story: Story, one: Found, unit: str) -> list[str]:
    """So much for each kilogram or pound of the fish: nothing where the fish was not weighed."""
    weight, number = story.get("fish.raw_weight"), re.match(r"[0-9]+(?:[.,][0-9]+)?(?= |[a-z])", one.text)
    if weight is None or not number:
        return []
    times = read_amount(weight, "mass", "raw_weight").value / read_amount(f"1 {unit}", "mass", "raw_weight").value
    return [f"{float(number[0].replace(',', '.')) * times:.4g} {one.unit}"]


def _of_several(said: str, one: Found) -> str:
    """The weight of all fish, where one amount is that of each: "8 fish of 300 g"."""
    count = re.search(
        r"\b([0-9]+) (?:\w+ ){0,2}?(?:fish|fillets?|filets?|pieces?|ones|trout|sides?)\b", said[: one.begin]
    )
    each = OF_EACH.search(said[one.end :]) or re.search(
        r"\b(?:of|each|at)(?: (?:about|maybe|some))? *$", said[: one.begin]
    )
    number = re.match(r"[0-9]+(?:[.,][0-9]+)?(?= |[a-z])", one.text)
    if not (count and each and number):
        return ""
    return f"{int(count[1]) * float(number[0].replace(',', '.')):.10g} {one.unit}"


def _ordered(question: Question, said: str, found: list[Found]) -> list[Found]:
    """Of several amounts the one that is said to be it, else the cautious one first, of hours their sum before it."""
    several = [one for one in found if not OF_EACH.search(said[one.end :])] or found
    if question.key == "time" and len(several) > 1:  # "overnight, 10 hours" is one time
        several = [one for one in several if one.text != NIGHT] or several
    which = [one for one in several if SAYS_WHICH.search(said[: one.begin]) or SAYS_ALL.search(said[one.end :])]
    if which and (question.key not in LONGER_IS_CAREFUL or SAYS_ALL.search(said[which[-1].end :])):
        return which[-1:]
    values = {round(one.value, 9): one for one in reversed(several)}
    if len(values) == 1:
        return several[:1]
    if offering.larger(question) or offering.smaller(question):
        several = sorted(several, key=lambda one: one.value, reverse=offering.larger(question))
    one, two = sorted(several, key=lambda span: span.begin)[:2]
    if question.key in LONGER_IS_CAREFUL and not (len(several) == 2 and BETWEEN.match(said[one.end : two.begin])):
        whole = sum(values)
        several = [Found(0, 0, f"{whole:.10g} h", whole, "h"), *several]
    return several


def _first(question: Question, found: list[Found]) -> Found:
    """The cautious one of some amounts."""
    if not (offering.larger(question) or offering.smaller(question)):
        return found[0]
    return (max if offering.larger(question) else min)(found, key=lambda one: one.value)


def _open_ended(question: Question, said: str, one: Found) -> bool:
    """Whether an amount is only a bound on the side that is not cautious, or is denied."""
    before, after = said[: one.begin].rstrip(" ,"), said[one.end :].lstrip(" ,")
    if SMALL.search(before) and question.key not in LONGER_IS_CAREFUL:
        return False
    if question.key not in GUARDED and not offering.DENIED.search(before):
        return False
    at_most = offering.LESS_THAN.search(before) or offering.AT_MOST_AFTER.match(after)
    at_least = not at_most and (offering.MORE_THAN.search(before) or offering.AT_LEAST_AFTER.match(after))
    if at_most:
        return offering.smaller(question)
    return offering.larger(question) if at_least else bool(offering.DENIED.search(before))


def amounts(story: Story, question: Question, said: str) -> list[Found]:
    """Every amount of the kind asked in a sentence in digits; one without a unit takes that of another one."""
    found = [one for match in ONE_NUMBER.finditer(said) if (one := _amount_at(question, said, match))]
    if not isinstance(question.kind, Measure):
        return _counted_alike(question, found)
    units = [one for one in found if one.unit]
    told = [one for here in found for one in _with_unit(story, question, said, here, units)]
    return told or _lone_unit(question, said)


def plain_amounts(story: Story, question: Question, text: str) -> list[Found]:
    """The amounts of the kind asked that have a unit of their own; one number of degrees where all else tells which."""
    said = in_digits(question, text)
    found = [one for match in ONE_NUMBER.finditer(said) if (one := _amount_at(question, said, match)) and one.unit]
    if found or not _hot(question) or not DEGREES_TOLD.search(spoken.numbers(text.casefold())):
        return found
    told = [one for one in amounts(story, question, said) if one.unit]
    return told if len(told) == len(_units_of(story, question)) == 1 else []


def _counted_alike(question: Question, found: list[Found]) -> list[Found]:
    """Numbers of hours or days; one without a unit takes that of another: "a month or two"."""
    units = [one.unit for one in found if one.unit]
    if question.key not in COUNTED_IN or not units:
        return found
    told = [one if one.unit else replace(one, text=f"{one.text} {units[0]}", unit=units[0]) for one in found]
    values = [offering.value_of(question, one.text, "") for one in told]
    return [replace(one, value=value) for one, value in zip(told, values, strict=True) if value is not None]


def _amount_at(question: Question, said: str, match: re.Match) -> Found | None:
    """The longest amount that begins at a number; a bare number where none of another kind follows."""
    begin, tail = match.start(), said[match.end() :]
    ends = [one.end() for one in re.finditer(r"[^\s,;()–]+", tail)][:4]
    counted = question.key in COUNTED
    for end in reversed(ends):
        text = said[begin : match.end() + end].rstrip(".,;!?")
        if re.search(r"[^\W\d]|[%\"″°]", text[match.end() - begin :]) and not _in_the(text, tail):
            value = offering.value_of(question, text, "")
            if value is not None and (not counted or not re.search(r"[^\W\d]", text[match.end() - begin :])):
                return Found(begin, begin + len(text), text, value, text[match.end() - begin :].strip())
    word = re.match(r"\s*([^\W\d]+|[°\"″%]+)?", tail)[1] or ""
    if meant := _unit_meant(question, word):
        text = f"{match[0]} {meant}"
        return Found(begin, match.end(), text, offering.value_of(question, text, ""), meant)
    if re.match(r"[^\W\d]{2}", tail) and not is_unit(word):
        return None
    other = is_unit(word) and word not in NO_UNIT and not counted
    another = word.startswith(("degree", "°")) and "temperature" not in str(getattr(question.kind, "kinds", ""))
    if other or another or (not counted and offering.THINGS.match(word)) or tail.startswith((":", "st", "th", "nd")):
        return None
    if isinstance(question.kind, Number):
        value = offering.value_of(question, match[0], "")
        return None if value is None else Found(begin, match.end(), match[0], value, "")
    if not _hot(question) and word and word not in PASSES:
        return None  # "3 grain" is no 3 kg
    return Found(begin, match.end(), match[0], 0.0, "")


def _unit_meant(question: Question, word: str) -> str:
    """The unit that is spelled a little otherwise: "kgs", "gramm", "litter"; "" where there is none."""
    if word in NO_UNIT or len(word) < 3:
        return ""
    tried = (word.rstrip("s"), word[:-1], re.sub(r"([a-z])\1", r"\1", word))
    near = (*ABROAD.get(word, ()), *(one for one in tried if one not in NO_UNIT))
    return next((one for one in near if _fits(question, one)), "")


def _in_the(text: str, tail: str) -> bool:
    """Whether the "in" behind a number is no inch."""
    return bool(re.search(r"\d in$", text) and re.match(r"\s*in (?:the|my|here|there|a|our|it|all|total|an)\b", tail))


def _with_unit(story: Story, question: Question, said: str, one: Found, units: list[Found]) -> Iterator[Found]:
    """An amount with its unit: its own, that of its neighbour, or the one all else was told in; both where either fits."""
    if one.unit:
        yield one
        return
    after = [other for other in units if other.begin > one.begin and BETWEEN.match(said[one.end : other.begin])]
    near = after or sorted(units, key=lambda other: abs(other.begin - one.begin))
    told = [near[0].unit] if near else _units_of(story, question)
    for unit in told:
        text = f"{one.text} {unit}"
        value = offering.value_of(question, text, "")
        if value is not None and (near or len(told) == 1 or offering.allowed(question, text)):
            yield Found(one.begin, one.end, text, value, unit)


def _units_of(story: Story, question: Question) -> list[str]:
    """Units in which an amount may be told, by the examples and by what all else was told in."""
    if not question.us:
        return []
    told = [re.sub(r"^[-0-9.,/ x]+", "", one) for one in (question.metric, question.us)]
    system = offering.system_of(story)
    return told[:1] if system == "metric" else told[1:] if system else told


def _lone_unit(question: Question, said: str) -> list[Found]:
    """A unit without a number is one of it: "inch or so", "tablespoon"."""
    for one in re.finditer(r"[^\W\d]{3,}", said):
        text = f"1 {one[0]}"
        if one[0] not in NO_UNIT and (value := offering.value_of(question, text, "")) is not None:
            return [Found(*one.span(), text, value, one[0])]
    return []


def in_digits(question: Question, text: str) -> str:
    """An answer with digits for the words of its numbers, in small letters but for the degrees."""
    said = offering.A_HALF_MORE.sub(offering.mixed, text.casefold())
    said = re.sub(r"(?<=[0-9])-(?=[0-9]+(?!/))", "–", said)
    timed = question.key in COUNTED_IN or getattr(question.kind, "kinds", "") == "time"
    if timed:
        said = re.sub(r"\bover ?night\b|\ball (?:night|day)\b", NIGHT, said)
        said = re.sub(r"\b(?:a )?fortnight\b", "14 days", said)
    if question.key == "amount":
        for word, much in LITTLE.items():
            said = re.sub(rf"\b(?:(?:an?|one|some) )?(?:little |small |good )?(?:{word})s?(?! [0-9])\b", much, said)
    said = re.sub(r"\b(hour|day|week|month)s? or (?=(?:two|three|four|so|[0-9])\b)(?!so)", r"1 \1 or ", said)
    said = FRACTION.sub(lambda found: _fraction(question, found), said)
    counted = question.key in COUNTED
    for word, number in (("couple(?: of)?", "2"), ("few", "3"), ("dozen", "12")):
        said = re.sub(
            rf"\b(?:a )?{word}(?= (\w+))", lambda one, n=number: n if _fits(question, one[1]) else one[0], said
        )
    said = re.sub(
        r"\bone\b(?! (?:and|side))(?= (\w+))", lambda one: "1" if counted or _fits(question, one[1]) else "one", said
    )
    said = spoken.numbers(re.sub(r"\bone\b", "_one_", said)).replace("_one_", "one")
    said = re.sub(r"\ban? (?=(\w+))", lambda one: "1 " if _fits(question, one[1]) and len(one[1]) > 1 else one[0], said)
    said = re.sub(r"\b(?:minus|negative) (?=[0-9])", "-", said)
    said = re.sub(r"([0-9])ish\b", r"\1", said)
    said = re.sub(r"([0-9]) ?(?:grad|grads|degr|deg)\b(?! ?[cf]\b)", r"\1 degrees", said)
    said = re.sub(r"([0-9]) ?(?:procent|percent|per cent|pct|%)", r"\1 ", said)
    return re.sub(r"([0-9]) ?(?:degrees?|°)(?! ?[cf]\b| ?cels| ?fahr| ?cent)", r"\1", said) if _hot(question) else said


def _hot(question: Question) -> bool:
    return getattr(question.kind, "kinds", "") == "temperature"


def _fits(question: Question, unit: str) -> bool:
    """Whether a word is a unit of what is asked."""
    return is_unit(unit) and offering.value_of(question, f"1 {unit}", "") is not None


def _fraction(question: Question, found: re.Match) -> str:
    """Digits for "three quarters of a kilo"; the words themselves where no unit follows and it may be no amount."""
    parts = {"half": 2, "third": 3, "quarter": 4, "eighth": 8, "sixteenth": 16}[found["part"]]
    many = found["many"] or "1"
    count = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "seven": 7}.get(many) or int(many)
    clear = _fits(question, found["next"] or "") or (parts >= 8 and not found["next"])
    return f"{count}/{parts}" if clear and count < parts else found[0]


def _areas(story: Story, question: Question, said: str) -> list[str]:
    """The area of a tray by its sides, or across."""
    said = spoken.numbers(offering.A_HALF_MORE.sub(offering.mixed, said))
    if (square := SQUARE.search(said)) and is_unit(square[2]):
        return [f"{square[1]} x {square[1]} {square[2]}"]
    if across := ACROSS.search(said):
        return [f"{across[1]} {across[2]} round"]
    if re.search(r"\b(?:round|circular|diameter)\b", said) and (across := ONE_LENGTH.search(said)):
        return [f"{across[1]} {across[2]} round"]
    if not (sides := SIDES.search(said)):
        return []
    one, first, two, unit = sides.groups()
    unit = unit or (first if first and is_unit(first) else "")
    if unit:
        return [f"{one} {first if first and is_unit(first) else unit} x {two} {unit}"]
    system = offering.system_of(story)
    return [f"{one} x {two} {name}" for name in {"metric": ["cm"], "us": ["in"]}.get(system, ["cm", "in"])]


def _sizes(story: Story, question: Question, text: str) -> list[Reading]:
    """Usual, thinnest and thickest piece of one answer; of a range the upper end is also the usual piece."""
    said = in_digits(question, text)
    found = amounts(story, question, said)
    kept = list({round(one.value, 9): one for one in found if not _open_ended(question, said, one)}.values())
    if not 1 < len(kept) < 4 or len(kept) != len({one.value for one in found}):
        return []
    if len(kept) == 3:
        least, usual, most = sorted(kept, key=lambda one: one.value)
        told = {"thickness": usual, "thinnest": least, "thickest": most}
    else:
        one, two = sorted(kept, key=lambda one: one.begin)
        low, high = sorted(kept, key=lambda one: one.value)
        if BETWEEN.match(said[one.end : two.begin]) and "maybe" not in said[one.end : two.begin]:
            told = {"thickness": high, "thinnest": low, "thickest": high}
        elif re.search(r"\b(?:thin\w*|tails?|least)\b[^0-9]*$", said[: one.begin]) and one is low:
            told = {"thickness": high, "thinnest": low}
        else:
            told = {"thickness": one, ("thickest" if two is high else "thinnest"): two}
    shown = ", ".join(say("loosely.size", what=say(f"story.{name}"), size=one.text) for name, one in told.items())
    return [Reading(tuple((f"cut.{name}", one.text) for name, one in told.items()), shown, sure=True)]


# What goes in


def _things(story: Story, question: Question, text: str) -> list[Reading]:
    """Every salt, sugar, liquid and spice of a list, with how much of it where that is said."""
    if refused.substance(text):
        return []
    list_place, _, _key = question.place.rpartition(".")
    above, _, row = list_place.rpartition(".")
    number, rows = int(row), len(story.get(above) or [])
    told, shown, unknown = [], [], []
    here = [tables.ingredient(one["what"]).id for one in story.get(above) or [] if "what" in one]
    amount = Question(
        f"{list_place}.amount", question.section, "ingredient.amount", INGREDIENT["amount"], "160 g", "1/2 cup"
    )
    said = in_digits(amount, text)
    for part in re.split(r"(?<![0-9]),|,(?![0-9])|[;+&]|\b(?:and|plus|with|then|in|into)\b|\. ", said):
        names, left = _of_part(question, part)
        unknown += left
        found = amounts(story, amount, part) if names and not OF_EACH_WEIGHT.search(part) else []
        for name, begin, end in names:
            record = tables.ingredient(name)
            if record.id in here and not found and record.kind != FLAVOUR:
                continue
            here.append(record.id)
            much = _much(part, found, begin, end, alone=len(names) == 1)
            told.append((f"{above}.{number}.what", name))
            shown.append(f"{name}, {much}" if much else name)
            if record.kind == FLAVOUR:
                continue
            if much:
                told.append((f"{above}.{number}.amount", much))
            number = max(number, rows) + 1
    if not told:
        return []
    return [Reading(tuple(told), "; ".join(shown), sure=True, rest=", ".join(unknown))]


def _much(part: str, found: list[Found], begin: int, end: int, alone: bool) -> str:
    """How much of a thing: the amount right before it, or the only one beside the only thing."""
    before = [
        one
        for one in found
        if re.fullmatch(r" *(?:of|of the|the)? *(?:\w+ )?", part[one.end : begin]) and one.end <= begin
    ]
    if len(found) == 1 and alone:
        return found[0].text
    return before[-1].text if before and len(found) <= 4 and not alone else ""


def _of_part(question: Question, part: str) -> tuple[list[tuple[str, int, int]], list[str]]:
    """Names of the table in a part of a list, with where they stand; and words that nobody knows."""
    if re.search(r"\b(?:no|without|not)\b", part) and not re.match(r"\s*no[,;]", part):
        return [], []
    words = [(one.start(), one.end()) for one in re.finditer(r"[^\s:()/.]+", part)]
    spans: list[tuple[int, int, str]] = []
    for length in range(min(offering.LONGEST, len(words)), 0, -1):
        for first in range(len(words) - length + 1):
            begin, end = words[first][0], words[first + length - 1][1]
            if all(end <= a or begin >= b for a, b, _ in spans) and offering.record_named(question, part[begin:end]):
                spans.append((begin, end, part[begin:end]))
    spans.sort()
    left = [part[a:b] for a, b in words if all(b <= c or a >= d for c, d, _ in spans)]
    unknown = [
        one for one in left if one not in STOP and not re.search(r"[0-9]", one) and not is_unit(one) and len(one) > 2
    ]
    salty = [name for *_, name in spans if tables.ingredient(name).kind == "salt"]
    if salty and (MIXED.search(part) or any(one not in PLAIN_SALT for one in _before_salt(part, spans))):
        return [], [part.strip()]
    names = [(name, begin, end) for begin, end, name in spans]
    return names, [" ".join(unknown)] if unknown and not names else []


def _before_salt(part: str, spans) -> list[str]:
    """The word right before a salt, or the spice, where it makes another thing of it: "garlic salt", "magic salt"."""
    told = []
    for begin, _end, name in spans:
        if tables.ingredient(name).kind == "salt":
            word = re.search(r"([^\W\d]+) $", part[:begin])
            if word and word[1] not in STOP and not is_unit(word[1]):
                told.append(word[1])
    return told
