"""What may be meant by an answer that cannot be taken as it is: a reading inside it, to be offered and never just taken.

Extra words are left out ("garage fridge", "4 racks", "wild, I caught it"); what the person confirms then goes through
`asking.tell` like any other answer. Where an answer can be read in two ways nothing is offered that would be the milder
one: of a range the cautious end where there is one, of two different amounts or names nothing at all.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from flakeyard import refused, spoken, tables
from flakeyard.steps.intent.fields import NOT_KNOWN, Flag, Measure, Number, OneOf
from flakeyard.units import InputError, is_unit, read_amount
from flakeyard.workbook.asking import (
    COUNTED,
    COUNTED_IN,
    FLAG_WORDS,
    LONGER_IS_CAREFUL,
    LOOKED_UP,
    NO,
    NO_MORE,
    NO_WORDS,
    NUMBER_WORDS,
    OPEN_WORDS,
    YES,
    YES_WORDS,
    Question,
    Story,
    tell,
)  # fmt: skip

ACCEPTED, DECLINED = ("", *YES_WORDS), (*NO_WORDS, "wrong", "not that")  # what may be said to an offer
LONGEST = 6  # words that may make up one reading (judgement)
HOWEVER = re.compile(r"\b(?:but|except|although|though|unless|then|later|after|before|only|maybe|perhaps|sometimes|part|half|some)\b")  # fmt: skip
RAW = re.compile(r"\b(?:no|not|never|cold|raw|without|later|after|before|eat\w*|serv\w*|soup|pan|will)\b")
NEVER = re.compile(r"(?!)")  # speaks against nothing
SAID_OF = (  # places, what is said of them, what must not be said, and what it comes to; the first that fits
    (("heat",), re.compile(r"\bcold[ -]?smok\w*|\b(?:not|never|isn't|no) (?:be )?(?:heat\w*|cook\w*)|\buncooked\b"), NEVER, NO),
    (("heat",), re.compile(r"\b(?:oven|grill|hot[ -]smok\w*|steam\w*|simmer\w*|poach\w*|boil\w*|bak\w*|cook\w*|roast\w*|gas mark)\b|[0-9] ?(?:°|degrees)"), RAW, YES),
    (("freshen",), re.compile(r"\brins\w*"), re.compile(r"[0-9]|soak|bath|bowl|bucket|stand|lie|lay|hour|minute|while|night|" + RAW.pattern), NO),
    (("freshen",), re.compile(r"\bsoak\w*|\b(?:in|change\w*) (?:of )?(?:fresh|plain|cold|clean) water"), RAW, YES),
    (("rest",), re.compile(r"\b(?:rack|hang\w*|hung|pellicle|fridge|refrigerator|cellar|over ?night|rests?|hours?|hrs?|minutes?|mins?)\b|[0-9] ?(?:h|min\w*)\b"), re.compile(r"\b(?:no|not|never|without|don't)\b"), YES),
    (("rest",), re.compile(r"\b(?:straight|directly|right away|at once|that's (?:all|it))\b"), re.compile(r"[0-9]|hour|minute|night|while|counter|table|shed"), NO),
    (("presoak",), re.compile(r"\b(?:milk|buttermilk|sugar water|lemon water)\b"), RAW, "wet"),
    (("brine",), re.compile(r"vinegar|marinad|juice|soy"), re.compile(r"\bdry|\brub|" + RAW.pattern), "wet"),
    (("cut.skin",), re.compile(r"\bskins? (?:\w+ ){0,2}on\b|\bwith (?:the |its )?skin\b|\b(?:leave|left|keep|kept) the skin\b"), re.compile(r"\boff\b|\bno\b|skinless|without|skinned|\bif\b"), "one side"),
    (("cut.skin",), re.compile(r"\bskins? (?:\w+ ){0,2}off\b|\b(?:no|without) (?:the )?skin\b|skinless|\bskinned\b"), re.compile(r"\bon\b|\bif\b|part|half|some"), "off"),
    (("cut.form",), re.compile(r"\bbutterfl\w*|\bopened? (?:\w+ ){0,2}(?:flat|up|book|belly|back)\b|\bsplit\b|\bkipper\w*"), re.compile(r"strip|fillet|slice|\bnot\b"), "split"),
    (("keep.place",), re.compile(r"\b(?:shelf|shelves|pantry|larder|cabinet|back ?pack|ruck ?sack|room temperature|store ?room|drawer|worktop|counter|kitchen)\b"), re.compile(r"(?<!no )(?<!without a )(?:\bfridge|refrigerat)|freez"), "cupboard"),
    (("dryer.trays",), re.compile(r"^(?!.*[0-9]).*\b(?:hang\w*|hung|hooks?|strings?|lines?|sticks?|rods?|poles?)\b"), NEVER, "1"),
    (("dryer.faces",), re.compile(r"\b(?:solid|paper|(?<!mesh )sheets?|foil|silicone|board|plate|one side)\b"), re.compile(r"\b(?:no|not|without)\b"), "1"),
    (("dryer.faces",), re.compile(r"\b(?:mesh|nets?|grids?|racks?|wires?|hang\w*|hung|both|all (?:a?round|sides))\b"), RAW, "2"),
    (("room.altitude",), re.compile(r"\bsea[ -]level\b|\b(?:at|by|near|next to|on) the (?:sea|coast|shore|beach)\b"), re.compile(r"[0-9]|above|below|hill|mountain"), "0 m"),
    (("keep.pack",), re.compile(r"\bzip\w*"), re.compile(r"\b(?:no|not|without|or|paper|jars?|tub|tin|foil|freezer)\b|vac"), "zip bag"),
    (("keep.pack",), re.compile(r"^vac(?:uum)?\b(?![ -]?(?:seal|pack|bag))|\bvac(?:uum)?[ -]?(?:seal\w*|pack\w*|bag\w*)"), re.compile(r"\b(?:not?|never|without|or|paper|jars?|tub|tin)\b"), "vacuum pouch"),
    (("fish.hours_above_21c", "fish.hours_above_4c"), re.compile(r"^(?:none|zero|0|no time|not any)\b"), re.compile(r"^.+[0-9]|\b(?:but|except|maybe|only|half|hours? (?:in|on|at)|nights?|warm|hot|sun|or)\b"), "0"),
    (("brine",), re.compile(r"\b(?:sprinkl\w*|rub\w*|strew\w*|dust\w*|layers?|salted dry|dry[ -]salt\w*|dry[ -]cur\w*)\b"), re.compile(r"water|brine|bath|soak|vinegar|" + RAW.pattern), "dry"),
    (("brine",), re.compile(r"\b(?:salt ?water|salty water|brine)\b"), re.compile(r"\bdry|\brub|sprinkl|" + RAW.pattern), "wet"),
    (("heat.checked",), re.compile(r"\b(?:thermometer|probe)\b.*\b(?:in|into|inside)\b.*\b(?:middle|centre|center|core|thickest|fish|piece)\b"), re.compile(r"\b(?:not?|never|without|oven|air|surface|outside|should|will|broken|half|some)\b"), "probe"),
    (("fish.stock",), re.compile(r"\balive\b|\b(?:caught|landed|killed) (?:it |them )?(?:this|today|yesterday|last night|an hour)"), re.compile(r"fro[zs]e|freez|thaw"), "fresh"),
    (("fish.waters",), re.compile(r"tropic|\breefs?\b|coral|\bwarm\b"), re.compile(r"\b(?:no|not|never)\b"), refused.WATERS[1]),
    (("fish.waters",), re.compile(r"\b(?:cold|temperate|arctic)\b"), re.compile(r"\b(?:no|not|never)\b"), refused.WATERS[0]),
)  # fmt: skip
LARGER = (  # keys whose larger amount is the cautious one
    "hours_above_4c", "hours_above_21c", "warmest", "frozen_at", "thickness", "thickest", "width", "raw_weight", "to_tray", "wanted_days",
    "relative_humidity",
)  # fmt: skip
SMALLER = ("frozen_days", "hold", "trays", "tray_area", "heater", "fresh_air", "per_pack", "altitude")
TURNS = re.compile(  # a word that may turn what was said the other way, or make it less sure
    r"\b(?:but|except|although|though|unless|not|never|n't|\w+n't|hardly|almost|nearly|mostly|mainly|partly|part|half|some|most"
    r"|a bit|a little|slightly|kind of|sort of|or|maybe|perhaps|probably|think|guess|suppos\w*|should|later|after|before|will|going to"
    r"|to be|tonight|tomorrow|soon|still|until|yesterday|supposed|broken|freezer|freeze)\b"
)
IN_A_PACK = re.compile(r"vacuum|pack|bag|wrapp|seal|pouch")
SO = re.compile(r"[,;] *(?:(?:so|then|therefore) )?(yes|no)$")
A_HALF_MORE = re.compile(
    rf"\b(?:(?P<many>[0-9]+|{'|'.join(spoken.NUMBER_WORDS)})|(?:an? )?(?P<unit>hour|minute|day|week|month|pound|kilo|litre|liter|quart|cup|inch|centimetre|centimeter))"
    r" and (?:an? |one )?(?P<part>half|third|quarter)s?\b", re.IGNORECASE,
)  # fmt: skip
DEGREES = re.compile(r"(?<=[0-9]) ?(?:degrees?|deg|°)(?! ?(?:[cf]\b|cels|fahr|cent))", re.IGNORECASE)
CONCLUDED = re.compile(r"[,;] *(?:so|that's|that is|makes) ([^,;]*[0-9][^,;]*)$")  # "a five day hike, so 5"
ALL_OF = ("hours_above_4c", "hours_above_21c", "trays", "faces", "raw_weight", "amount", "changes", "frozen_days")
PLAINER = (  # keys (none: all), what is said, and the same plainer
    ((), re.compile(r"(?<![\w.,])\+(?=[0-9])"), ""),
    ((), re.compile(r"^(?:then|so|well|ok|okay|oh|hmm|ah),? (?=\w)", re.IGNORECASE), ""),
    (("hours_above_4c", "hours_above_21c"), re.compile(r"^(?:it )?(?:lay |was |kept )?on ice,? (?:then|and|but) ", re.IGNORECASE), ""),
    (("relative_humidity", "temperature", "altitude", "wanted_days"), re.compile(r"(?<=[0-9])ish\b"), ""),
    (("water", "protein", "fat", "ash"), re.compile(r"\b([0-9.,]+) ?g (?:per|in|of|/) ?100 ?g\b"), r"\1 %"),
    (ALL_OF, re.compile(r"(?<=\w) of (?:them|these|those|it)\b", re.IGNORECASE), ""),
    (("altitude",), re.compile(r"(?<=\b[0-9])[ '](?=[0-9]{3}\b)"), ""),
    (("what",), re.compile(r",? *\b(?:without|no|not|non)[ -](?:iodine|iodi[sz]ed|additives|anti-?caking(?: agents?)?)\b", re.IGNORECASE), ""),
    (("serving", "per_pack"), re.compile(r" *\b(?:per|a|each) (?:day|person|head|meal)\b"), ""),
    (("tray_area",), re.compile(r"(?<=[0-9]) times (?=[0-9])"), " x "),
)  # fmt: skip
EXACT = ("core", "hold", "measured_water_activity", "measured_error")
NEARLY = re.compile(
    r"\b(?:just|a little|a bit|a touch|slightly) (?:over|under|above|below|more than|less than) (?=[0-9])",
    re.IGNORECASE,
)
SALTED = re.compile(r"salt|brin|cur|marinad|marinat|soak|vinegar|sugar|pickl|rub|syrup|lemon|bath")
CHANGED = re.compile(  # beside an ingredient: it may be another one
    r"\b(?:substitute|low|lite|light|reduced|free|less|no|not|without|sodium|potassium|cur\w+|pink|nit\w+|mix\w*|blend|rub|and|or|with|plus)\b"
)
ANOTHER = re.compile(r"\b(?:or|not|no|maybe|perhaps|probably|think|guess|kind of|sort of|like|similar|mix\w*|and)\b")
AROUND = re.compile(r"\b(?:oxygen|absorber|packets?|vacuum|oil|foil|can|tin|tub|box|bags?|jars?|container|paper|pouch|wrap|and|or)\b")  # fmt: skip
MORE_THAN = re.compile(r"\b(?:more than|at least|over|above|longer than|min(?:imum)?|from)$")
LESS_THAN = re.compile(r"\b(?:less than|at most|under|up to|below|no more than|not more than|max(?:imum)?)$")
AT_MOST_AFTER = re.compile(r"^(?:tops|at most|max(?:imum)?|or less)\b")
AT_LEAST_AFTER = re.compile(r"^(?:or more|at least|plus|and more|min(?:imum)?)\b")
DENIED = re.compile(r"\b(?:not|never|no|\w+n't|without|minus|below|negative|nearly|almost)$")
BETWEEN = re.compile(r"^[\s,]*(?:or|to|till|-|–|(?:or )?(?:maybe|perhaps|possibly|even))+[\s,]*(?:maybe|perhaps|even)?[\s,]*$")  # fmt: skip
SEVERAL = re.compile(r"\b(?:each|every|per|twice|thrice|times|double|another|again|plus|then|also|both ways|more|daily|nightly|apiece)\b")  # fmt: skip
OF_THE_DAY = re.compile(r"\b(?:mornings?|afternoons?|evenings?|nights?|days?|weeks?|months?|hours?|minutes?|lunch)\b")
WEATHER = re.compile(
    r"\b(?:warm|hot|cold|cool|sunny|nice|grey|rainy) (?:days?|mornings?|afternoons?|evenings?|nights?)\b"
)
THINGS = re.compile(r"^(?:little|small|big|large|medium|ones|fish|pieces?|fillets?|filets?|strips?|sides?|trays?|racks?|bags?|jars?|people|kids|round|rounds)\b")  # fmt: skip
NUMBER = re.compile(r"[0-9½⅓⅔¼¾⅛⅜⅝⅞]|\b(?:half|quarter|third|" + "|".join(spoken.NUMBER_WORDS) + r")\b")
US = re.compile(
    r"(?:°\s*|[0-9 ])F\b|(?<![^\W\d])(?:in|inch|inches|lbs?|pounds?|oz|ounces?|qt|quarts?|gal|gallons?|feet|ft)\b|[0-9]\""
)
METRIC = re.compile(r"(?:°\s*|[0-9 ])C\b|(?<![^\W\d])(?:mm|cm|m|kg|g|grams?|l|litres?|liters?|ml)\b", re.IGNORECASE)
UNSURE = re.compile(r"\b(?:below|above|under|over|more|less|least|most|not|never|no|nearly|almost|up to)\b")
ROUGHLY = re.compile(r"about|around|rough|approx|circa|~|≈|or so|maybe|nearly|almost|think")
FROZEN_THEN = re.compile(r"\b(?:then|and|but) (?:\w+ ){0,2}froze\b|\bthen frozen\b")
SALMON = ("coho", "chinook", "chum", "silver")  # called so without the salmon
NIGHT = 6.0  # h: so long and no shorter is a night (judgement)
ENOUGH = 1  # amounts that show which system a story is told in; what is read so is confirmed with its unit (judgement)


@dataclass(frozen=True)
class Span:
    """Words of an answer that can be read, and where they stand."""

    begin: int
    end: int
    text: str
    value: object


def reading(story: Story, question: Question, text: str) -> str:
    """A reading of an answer that was not taken, such that `tell` takes it; "" where there is none, or more than one."""
    as_typed = " ".join(text.casefold().replace("’", "'").split())
    text = _plainer(story, question, " ".join(text.replace("’", "'").split()))
    said = text.casefold()
    found = (
        _no_more(question, said)
        or _open(said)
        or _all_the_time(story, question, said)
        or _said_of(question, said)
        or _of_kind(question, said, text)
    )
    found = found or _with_unit(story, question, said)
    if not found or found.casefold() == as_typed:
        return ""
    try:
        tell(story, question, "" if found == NOT_KNOWN else found)
    except InputError:
        return ""
    return found


def narrowed(story: Story, question: Question, text: str) -> str:
    """The one amount or name inside an answer, also where it is not allowed: what a refusal should be about; else the answer."""
    text = " ".join(text.split())
    if question.names:
        return _name(question, text.casefold(), text) or text
    spans = list(_amounts(question, text)) if isinstance(question.kind, Measure) else []
    if not spans:
        return _with_unit(story, question, text.casefold(), anything=True) or text
    return spans[0].text if len(spans) == 1 else text


def _plainer(story: Story, question: Question, text: str) -> str:
    """The same answer with its numbers as digits and without words that change no amount."""
    text = A_HALF_MORE.sub(mixed, text)
    for keys, pattern, plainer in PLAINER:
        if not keys or question.key in keys:
            text = pattern.sub(plainer, text)
    if question.key not in (*LONGER_IS_CAREFUL, *EXACT):
        text = NEARLY.sub("about ", text)
    concluded = CONCLUDED.search(text) if isinstance(question.kind, Measure | Number) else None
    text = concluded[1] if concluded else text
    system = system_of(story) if getattr(question.kind, "kinds", "") == "temperature" else ""
    return DEGREES.sub({"metric": " °C", "us": " °F"}[system], text) if system else text


def mixed(found: re.Match) -> str:
    """A number and a half, in digits: "two and a half", "hour and a half"."""
    part = spoken.in_digits(f"a {found['part'].lower()}")
    return f"{spoken.in_digits(found['many'])} {part}" if found["many"] else f"1 {part} {found['unit']}"


def _said_of(question: Question, said: str) -> str:
    """What the words of a cook come to, for the places that `SAID_OF` lists."""
    lead = _leading(said)[0] if question.door else ""
    here = (question.place, question.section if question.door else "")
    for places, pattern, against, word in SAID_OF:
        if not lead and not set(here).isdisjoint(places) and pattern.search(said) and not against.search(said):
            return word
    return ""


def _open(said: str) -> str:
    """ "Not known" for an answer that begins with such words and goes on."""
    first = re.split(r"[,;.]| but | the ", said, maxsplit=1)[0].strip()
    return NOT_KNOWN if len(first) > 1 and first in OPEN_WORDS and first != said else ""


def _no_more(question: Question, said: str) -> str:
    """ "No more", for "no, only salt"."""
    return NO_MORE if question.empty == NO_MORE and _leading(said)[0] == NO else ""


def _all_the_time(story: Story, question: Question, said: str) -> str:
    """The hours told before, for "all of them"."""
    hours = story.get("fish.hours_above_4c")
    all_of_them = question.key == "hours_above_21c" and re.match(
        r"(?:all\b|the whole (?:time|hour|day)|the same)", said
    )
    return str(hours) if all_of_them and hours is not None else ""


def _of_kind(question: Question, said: str, text: str) -> str:
    if isinstance(question.kind, Flag):
        found = _flag(said, *FLAG_WORDS.get(question.key, ((), ())))
        kept_tight = (
            question.key == "thawed_in_vacuum" and found == NO and IN_A_PACK.search(said.replace("unwrapped", ""))
        )
        return "" if kept_tight else found
    if isinstance(question.kind, OneOf):
        if question.key == "stock" and FROZEN_THEN.search(said) and not RAW.search(said):
            return question.kind.words[1]  # what it was before is no longer so
        return (_door(question, said) if question.door else "") or _choice(question.kind, said)
    if question.names:
        return _name(question, said, text)
    return _amount(question, text) if isinstance(question.kind, Measure | Number) else ""


# Words


def _leading(said: str) -> tuple[str, str]:
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


def _rest(said: str, spans) -> str:
    """What is left of an answer without some of its parts."""
    for begin, end in sorted(spans, reverse=True):
        said = f"{said[:begin]} | {said[end:]}"
    return said


def _flag(said: str, good: tuple[str, ...], bad: tuple[str, ...]) -> str:
    """Yes or no, said at the beginning or in the words of the question; nothing where anything speaks against it."""
    if found := SO.search(said):  # "it's fillets, so yes"
        said = f"{found[1]}, {said[: found.start()]}"
    lead, rest = _leading(said)
    at_good, at_bad = _phrases(rest if lead else said, good), _phrases(rest if lead else said, bad)
    at_good = [(a, b) for a, b in at_good if all(b <= c or a >= d for c, d in at_bad)]
    told = {YES} if at_good else set()
    told |= {NO} if at_bad else set()
    told |= {lead} if lead else set()
    left = _rest(rest if lead else said, [*at_good, *at_bad])
    return (
        told.pop() if len(told) == 1 and not TURNS.search(left) and _leading(left.strip(" |"))[0] in ("", lead) else ""
    )


def _door(question: Question, said: str) -> str:
    """The word of a choice at the beginning, where nothing after it says otherwise."""
    lead, rest = _leading(said)
    sure = lead in question.kind.words and not HOWEVER.search(rest) and _leading(rest)[0] in ("", lead)
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


def _choice(kind: OneOf, said: str) -> str:
    """The one word of a choice that is named among others."""
    lead, rest = _leading(said)
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
    unclear, left = any(one in said for one in kind.unclear), _rest(said, spans)
    return (
        meant.pop()
        if len(meant) == 1 and not unclear and not TURNS.search(left) and not re.search(r"\b(?:no|without)\b", left)
        else ""
    )


def _name(question: Question, said: str, text: str) -> str:
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
    left = _rest(said, [(one.begin, one.end) for one in spans]) if len(said) == len(text) else said
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


# Amounts


def _amount(question: Question, text: str) -> str:
    """The one amount in an answer, or the cautious end of a range of two; nothing where more is counted or left unsure."""
    text = re.sub(r"\b([0-9.]+) below(?: zero)?(?= ?°? ?[CF]\b)", r"-\1", text)
    spans = list(_amounts(question, text))
    left = _rest(text, [(one.begin, one.end) for one in spans]).casefold()
    if not spans or _unsure(question, text, left):
        return ""
    if len(spans) == 1:
        return spans[0].text if _single(question, text, spans[0]) else ""
    return _of_two(question, text, spans) if len(spans) == 2 else ""


def _unsure(question: Question, text: str, left: str) -> bool:
    """Whether what stands around an amount may add to it, or hides another one."""
    left = re.sub(r"\b(?:not|no) more than\b", " ", left)
    if getattr(question.kind, "exact", False) and ROUGHLY.search(text.casefold()):
        return True
    if question.key.startswith("measured") or SEVERAL.search(
        left.replace("each", "") if question.key == "tray_area" else left
    ):
        return True
    left = re.sub(r"\bhalf of (?:it|them)\b", " ", left)
    if question.key == "time" or (question.key in LONGER_IS_CAREFUL and _a_night(question, text)):  # "overnight, 12 h"
        left = (
            re.sub(r"\bover ?night\b", " ", left)
            if question.key != "time"
            else re.sub(r"\bover ?night[\s,(:–-]*(?=\|)|(?<=\|)[\s,():–-]*over ?night\b", " ", left)
        )
    if question.key in LONGER_IS_CAREFUL and re.search(r"\b(?:and|until|till|since)\b", left):
        return True
    timed = question.key in COUNTED_IN or getattr(question.kind, "kinds", "") == "time"
    if timed and (spoken.vague(left) or OF_THE_DAY.search(WEATHER.sub(" ", left))):
        return True
    return any(not _counts_something_else(left[found.end() :]) for found in NUMBER.finditer(left))


def _a_night(question: Question, text: str) -> bool:
    """Whether the one amount told is as long as a night."""
    spans = list(_amounts(question, text))
    return len(spans) == 1 and spans[0].value >= NIGHT


def _counts_something_else(after: str) -> bool:
    """Whether a number is followed by a thing or a unit that answers another question."""
    word = re.match(r"[0-9.,/½¼¾]*\s*(?:(?:or|to|-|–)\s*[0-9.,/]+\s*)?(\S*)", after)[1].strip(",.;()")
    return bool(THINGS.match(word) or word.startswith(("degree", "°")) or is_unit(word))


def _single(question: Question, text: str, span: Span) -> bool:
    """Whether the words before and after an amount leave it as it is, or make it the cautious end."""
    before, after = text[: span.begin].casefold().rstrip(" ,"), text[span.end :].casefold().lstrip(" ,")
    at_most = LESS_THAN.search(before) or AT_MOST_AFTER.match(after)
    at_least = (MORE_THAN.search(before) and not LESS_THAN.search(before)) or AT_LEAST_AFTER.match(after)
    if at_most or at_least:
        careful = larger(question) if at_most else smaller(question)
        return careful and not (at_most and at_least)
    return not DENIED.search(before)


def _of_two(question: Question, text: str, spans: list[Span]) -> str:
    """The cautious end of a range, where the key has one; the first of two that say the same."""
    one, two = sorted(spans, key=lambda span: span.begin)
    if _twice_the_same(text, one, two):
        return one.text
    if not (larger(question) or smaller(question)) or not _between(text, one, two):
        return ""
    if re.fullmatch(r"[0-9.,/]+", two.text) and (unit := re.sub(r"^[0-9.,/½¼¾ ]+", "", one.text)):
        again = f"{two.text} {unit}"  # "40 min, maybe 50"
        two = Span(two.begin, two.end, again, value_of(question, again, ""))
    return (max if larger(question) else min)(one, two, key=lambda span: span.value).text


def larger(question: Question) -> bool:
    """Whether the larger amount is the cautious one."""
    soaked = question.section in ("presoak", "brine", "rest", "freshen")
    waits = question.key == "time" and question.section in ("rest", "freshen")  # hours count, and salt goes out
    return question.key in LARGER or waits or (question.key == "temperature" and (soaked or question.section == "room"))


def smaller(question: Question) -> bool:
    """Whether the smaller amount is the cautious one: in a salt bath less salt goes in."""
    return question.key in SMALLER or (question.key == "time" and question.section in ("presoak", "brine"))


def _twice_the_same(text: str, one: Span, two: Span) -> bool:
    """Whether an amount is told in two units, such as "4 °C (40 °F)"."""
    units = {re.sub(r"^[-0-9.,/½¼¾ ]+", "", span.text) for span in (one, two)}
    near = abs(one.value - two.value) <= 0.03 * abs(one.value) + 0.6
    return len(units) == 2 and "" not in units and near and bool(re.fullmatch(r"[\s(,/=]*", text[one.end : two.begin]))


def _between(text: str, one: Span, two: Span) -> bool:
    between = text[one.end : two.begin].casefold()
    if re.fullmatch(r"\s*and\s*", between):
        return bool(re.search(r"between\s*$", text[: one.begin].casefold()))
    at_the_end = not text[two.end :].strip(" .,!")  # "3 hours in the bucket, maybe 4", and nothing more
    return bool(BETWEEN.match(between)) or (
        at_the_end and bool(re.fullmatch(r"[^0-9]*,\s*(?:maybe|perhaps|possibly|or|or maybe)\s*", between))
    )


def _amounts(question: Question, text: str) -> Iterator[Span]:
    """Amounts of the kind asked that stand in an answer, the longest first at each place; of a range both ends."""
    text = re.sub(r"(?<=[0-9])[-–](?=[0-9])", "\N{EN DASH}", text)  # "3-4 h"
    words = [(one.start(), one.end()) for one in re.finditer(r"[^\s,;()–]+(?:[.,][0-9]+\S*)?", text)]
    at = 0
    while at < len(words):
        span = _amount_at(question, text, words, at)
        if span is None:
            at += 1
            continue
        yield span
        at = next((n for n, (begin, _) in enumerate(words) if begin >= span.end), len(words))


def _amount_at(question: Question, text: str, words, at: int) -> Span | None:
    """The longest amount that begins at a word; a bare number there takes the unit of the one it makes a range with."""
    begin = words[at][0]
    start = text[begin : words[at][1]].casefold()
    if not (NUMBER.search(start) or start in ("a", "an", "-", "minus", "about") or start in ("round", "both")):
        return None
    unit = re.match(
        r"[0-9.,/½¼¾ ]+\s*(?:or|to|–|-)\s*(?:maybe |perhaps )?[0-9.,/½¼¾ ]+\s*([^\W\d][\w°]*|°\s*[CF])", text[begin:]
    )
    value = value_of(question, f"{start} {unit[1]}", "") if unit else None
    if value is not None:  # "2 or 3 weeks"
        return Span(begin, words[at][1], f"{start} {unit[1]}", value)
    for last in range(min(len(words), at + LONGEST) - 1, at - 1, -1):
        end = words[last][1]
        one = text[begin:end].rstrip(".")
        value = value_of(question, one, text[end:])
        if value is not None:
            return Span(begin, begin + len(one), one, value)
    return None


def value_of(question: Question, text: str, after: str) -> float | None:
    """An amount as a number, whether it is allowed or not; None for what is none, or is a number of something else."""
    kind, key = question.kind, question.key
    if (key, text.casefold()) in NUMBER_WORDS:
        return float(NUMBER_WORDS[key, text.casefold()].split()[0])
    try:
        if isinstance(kind, Measure):
            return read_amount(text, kind.kinds, key).value
        if key in COUNTED_IN and re.search(r"[^\W\d]", spoken.in_digits(text)):
            return read_amount(text, "time", key, low=0.0).value / COUNTED_IN[key]
        bare = re.sub(r"\s*(?:%|per ?cent|pct)$", "", text) if kind.share else text
        whole = re.sub(rf"(?<=\w) (?:{COUNTED[key]})$", "", bare, flags=re.IGNORECASE) if key in COUNTED else bare
        if (
            whole == text
            and re.match(r"\s*[^\s,.;()–]", after)
            and not re.match(r"\s*(?:or|to|maybe|tops|max|at|in|on)\b", after)
        ):
            return None  # "24 degrees" is no number of hours
        return read_amount(whole, "count", key, low=0.0).value
    except InputError:
        return None


def _with_unit(story: Story, question: Question, said: str, anything: bool = False) -> str:
    """The one number of an answer, where no unit is told, with the only one that makes it an allowed amount, or with that
    of the system all else is told in; with ``anything`` also one that is not allowed."""
    kind = question.kind
    if not (isinstance(kind, Measure) and question.us) or (kind.exact and ROUGHLY.search(said)):
        return ""
    said = re.sub(r"\b(?:minus|negative) (?=[0-9])", "-", said)
    found = re.search(
        r"(?:^|(?<=\s))(-?[0-9½¼¾⅛⅜⅝⅞][0-9.,/½¼¾⅛⅜⅝⅞ x×]*?)(?: ?(?:degrees?|deg|°)(?= (?![cf]\b|cels|fahr|cent))|(?: ?(?:degrees?|deg|°))?(?=$|[,;.)](?:\s|$)| (?:on|in|at|by|with|outside|inside|out|maybe|max|or so|there|today|now|all)\b))",
        said,
    )
    if not found:
        return ""
    before, after = said[: found.start()], said[found.end() :]
    if NUMBER.search(before + after) or SEVERAL.search(before + after) or UNSURE.search(before + after):
        return ""
    told = [f"{found[1].strip()} {re.sub(r'^[-0-9.,/ x]+', '', one)}" for one in (question.metric, question.us)]
    if system := system_of(story):
        told = told[:1] if system == "metric" else told[1:]
    can = [one for one in told if allowed(question, one) or (anything and system)]
    return can[0] if len(can) == 1 else ""


def system_of(story: Story) -> str:
    """The system that every amount of a story was told in; "" where there are few, or both."""
    told = [one for one in _texts(story.typed) if re.match(r"[^\W\d]*\s*[0-9]", one)]
    us = [bool(US.search(one)) for one in told]
    metric = [bool(METRIC.search(one)) for one in told]
    if sum(us) >= ENOUGH and not any(metric):
        return "us"
    return "metric" if sum(metric) >= ENOUGH and not any(us) else ""


def _texts(typed) -> Iterator[str]:
    for one in typed.values() if isinstance(typed, dict) else typed:
        if isinstance(one, dict | list):
            yield from _texts(one)
        elif isinstance(one, str):
            yield one


def allowed(question: Question, text: str) -> bool:
    try:
        question.kind.read(text, question.where)
    except InputError:
        return False
    return True
