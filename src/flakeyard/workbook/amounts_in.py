"""Amounts that stand anywhere in a sentence: in digits or words, with their unit or that of their neighbour, the cautious one first."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from flakeyard import limits, spoken
from flakeyard.messages import say
from flakeyard.steps.intent.fields import Measure, Number
from flakeyard.units import is_unit, read_amount
from flakeyard.workbook.as_value import COUNTED, COUNTED_IN, LONGER_IS_CAREFUL
from flakeyard.workbook.careful_end import AT_LEAST_AFTER, AT_MOST_AFTER, DENIED, LESS_THAN, MORE_THAN, larger, smaller
from flakeyard.workbook.meant import Reading
from flakeyard.workbook.one_amount import A_HALF_MORE, INCHES, PACKS, THINGS, allowed, mixed, value_of
from flakeyard.workbook.plainly import (
    GUARDED,
)
from flakeyard.workbook.question import Question
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.which_units import system_of

LEAST_SURE = re.compile(r"\b(?:ago|bought|before|best|packed|since|date|next)\b")  # of days in a freezer
NIGHT = "12 h"  # as which a night counts, to be confirmed (judgement)
DAMP = re.compile(r"(?<![\w.,])([0-9]{1,3}) ?(?:%|per ?cent|pct|procent)(?: (?:humid\w*|damp|rh))?")
COUNTED_TRAYS = re.compile(
    r"(?<![\w.,])([0-9]{1,2})[ -](?:(?:round|square|big|small|large|wire|mesh|oven|plastic|steel|stacking|stackable|stacked) ){0,2}(?:trays?|racks?|shelves|screens?|grids?)\b"
)
AGAIN = re.compile(r"\b(?:each|every|per|twice|thrice|times|double|both ways|again|another|daily)\b")
LITTLE = {  # amounts without a number, to be confirmed (judgement)
    "pinch|dash": "1/8 tsp", "splash|squeeze|drizzle": "1 tbsp", "glug": "2 tbsp",
}  # fmt: skip
HOW_MANY = {
    "half a": "1/2",
    "half": "1/2",
    "one": "1",
    "two": "2",
    "couple": "2",
    "few": "2",
    "three": "3",
    "four": "4",
    "five": "5",
    "six": "6",
}
GUESSED = re.compile(  # a measure that is a guess, the first and smaller number of two: to be confirmed
    rf"(?:(?<![\w.,/])(?P<many>{'|'.join(HOW_MANY)}|(?:[0-9]+ )?[0-9]+/[1-9][0-9]*|[0-9]+[.,][0-9]+|[0-9]*[½¼¾]|[0-9]+)(?: of)?(?: ?(?:or|to|-|–) ?(?:[0-9]+|{'|'.join(HOW_MANY)}))? )?(?:\b(?:an?|some) )?"
    r"(?:(?:\b(?:good|big|large|small|little|generous|full|heaped|heaping) )*\b(?P<hand>hand|fist)fuls?"
    r"|(?:\b(?:good|big|large|generous|full|heaped|heaping|rounded|soup|serving|eating) )+(?:tea|table)?spoon(?:ful)?s?|\bspoonfuls?|(?<!tea )(?<!table )\b(?P<bare>spoons?)\b(?=(?P<salt>(?: of)? (?:[^\W\d]+ ){0,3}salt\b)?))\b"
    r"(?: (?:or|to) (?:two|three|so|more|[0-9]+)\b)?"
)
HANDFUL = "1/8 cup"  # as which a handful counts: a small one, for it is salt that protects (judgement)
NUM = r"(?:[0-9]+ [0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+(?:[.,][0-9]+)?)"
LENGTH = r"mm|millimet\w+|cm|centimet\w+|m|inches|inch|in|ft|foot|feet|\""
ONE_NUMBER = re.compile(rf"(?<![\w.,/])-?{NUM}(?![0-9/])")
SAYS_WHICH = re.compile(r"(?:\bsay|\bso|\bcall it|\bmakes?|\bthat's|\bthat is|\bcomes? to|\bin all|\bin total|\bal?together|\ball told|=)[,:]? *(?:(?:about|abt|ca\.?|roughly|maybe|around|some) *)?$")  # fmt: skip
SAYS_ALL = re.compile(r"^,? *(?:in all|in total|all told|all together|altogether|together|total)\b")
OF_EACH = re.compile(r"^ *(?:\w+ )?(?:each|apiece|per|every)\b")
DEGREES_TOLD = re.compile(r"[0-9] ?(?:°|degrees?\b|deg\b|grad\b)")
BETWEEN = re.compile(r"^[\s,]*(?:or|to|till|until|bis|–|-|maybe|perhaps)(?:[\s,]*(?:maybe|perhaps|even))?[\s,]*$")
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
MORE_THAN_DEGREES = re.compile(rf"{DAMP.pattern}|{COUNTED_TRAYS.pattern}|{SIDES.pattern}")
ONE_LENGTH = re.compile(rf"({NUM}) ?({LENGTH})(?![\w/])")
ACROSS = re.compile(rf"({NUM}) ?({LENGTH})(?= (?:across|round|wide|diameter))")
AT_THE_THICK_END = re.compile(
    r"\b(?:thick(?:er|est)?|fat(?:test)?) (?:ends?|parts?|bits?|spots?|places?|points?|sides?|ones?|pieces?|middle)\b|\bthickest\b"
)
MORE_THERE = re.compile(r"\b(?:more|thicker|bigger|a bit|a little)\b")  # with no amount of it
THIN_END = re.compile(r"\b(?:thin\w*|tails?|least)\b")
PASSES = (
    "or", "to", "till", "and", "maybe", "perhaps", "by", "at", "in", "on", "max", "tops", "if", "each", "all", "so", "but", "for", "with",
)  # fmt: skip
IT_WAS = re.compile(  # before a number of degrees
    r"\b(?:it|day|air|kitchen|room|garage|weather|temperature|temp) ?(?:was|'s|is|were)(?: \w+)? $|\bat $"
)
OF_THE_CLOCK = r" ?(?:am|pm|a\.m\.|p\.m\.|o'?clock|at night|in the (?:evening|morning|afternoon)|or so|ish)?"
CLOCK = re.compile(
    rf"\bfrom (?P<begin>[0-9]{{1,2}}){OF_THE_CLOCK}{OF_THE_CLOCK} (?:till?|until|to) (?P<end>[0-9]{{1,2}})(?! ?(?:h|hours?|hrs?|min\w*|days?)\b){OF_THE_CLOCK}{OF_THE_CLOCK}"
)
PIECES = re.compile(r"^(?:fish|pieces?|fillets?|filets?|strips?|bags?|jars?|people|kids|each)\b")
ABROAD = {  # units of time that visitors write in their own words
    "stunde": ("h",), "stunden": ("h",), "std": ("h",), "tag": ("day",), "tage": ("day",), "woche": ("week",), "wochen": ("week",), "monat": ("month",), "monate": ("month",),
    "heure": ("h",), "heures": ("h",), "jours": ("day",), "hora": ("h",), "horas": ("h",), "dias": ("day",), "gramos": ("g",), "mil": ("mm",), "mils": ("mm",), "timer": ("h",), "dager": ("day",),
}  # fmt: skip
NO_UNIT = ("in", "a", "at", "to", "on", "s", "m", "h", "l", "c", "f", "second", "seconds", "sec")  # words first


@dataclass(frozen=True)
class Found:
    """An amount in a sentence: where it stands, as text, its value, and its unit ("" where none was said)."""

    begin: int
    end: int
    text: str
    value: float
    unit: str


def as_written(text: str) -> str:
    """An amount with the capital letter of its unit: 70 C, 500 W."""
    return re.sub(r"(?<=[0-9 °])([cfw])$", lambda unit: unit[1].upper(), text)


def amount_texts(story: Story, question: Question, text: str) -> list[str]:
    """The amounts in an answer as they are written, the cautious one first."""
    return [as_written(one) for one in _amount_texts(story, question, text)]


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
    every = amounts(story, question, said)
    found = [one for one in every if not _is_a_warmth(question, said, one, every)]
    kept = [one for one in found if not _open_ended(question, said, one)]
    if not kept or (found and _first(question, found).value != _first(question, kept).value):
        return []
    if most := _most_of_a_range(question, said, kept):
        return [most.text]
    told = [one.text for one in _ordered(question, said, kept)]
    if question.key == "amount" and len(kept) == 1 and (of_each := PER_WEIGHT.match(said[kept[0].end :])):
        return _per_weight(story, kept[0], of_each[1])
    if question.key == "raw_weight" and len(kept) == 1 and (several := _of_several(said, kept[0])):
        return [several, *told]
    plain_range = question.key not in GUARDED and question.key != "raw_weight" and len({one.unit for one in kept}) == 1
    return told[:1] if plain_range and (larger(question) or smaller(question)) else told


def _is_a_warmth(question: Question, said: str, one: Found, every: list[Found]) -> bool:
    """Whether a number without a unit is how warm it was and no count of hours: "most of it, it was around 85"; asked for
    all warm hours only where a time is told beside it."""
    alone = re.fullmatch(r"[0-9]+", said[one.begin : one.end].strip())
    timed = any(re.search(r"[^\W\d]", said[other.begin : other.end]) for other in every if other != one)
    if question.key != "hours_above_21c" and not (question.key == "hours_above_4c" and timed):
        return False
    at = timed and said[: one.begin].endswith("at ")  # an hour of the day, or degrees
    return bool(alone and (at or float(alone[0]) > limits.WARM) and IT_WAS.search(said[: one.begin]))


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
        r"\b([0-9]+) (?:\w+ ){0,2}?(?:bags?|packs?|packets?|packages?|boxes|fish|fillets?|filets?|pieces?|ones|trout|sides?)\b",
        said[: one.begin],
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
    adds_up = question.key in LONGER_IS_CAREFUL and len(several) > 1  # "an hour in the car and an hour on the table"
    if len(values) == 1 and not adds_up:
        return several[:1]
    if larger(question) or smaller(question):
        several = sorted(several, key=lambda one: one.value, reverse=larger(question))
    one, two = sorted(several, key=lambda span: span.begin)[:2]
    if question.key in LONGER_IS_CAREFUL and not (len(several) == 2 and BETWEEN.match(said[one.end : two.begin])):
        whole = sum(one.value for one in several)
        several = [Found(0, 0, f"{whole:.10g} h", whole, "h"), *several]
    return several


def _first(question: Question, found: list[Found]) -> Found:
    """The cautious one of some amounts."""
    if not (larger(question) or smaller(question)):
        return found[0]
    return (max if larger(question) else min)(found, key=lambda one: one.value)


def at_most(said: str, one: Found) -> bool:
    """Whether an amount is said to be the most it can be: "5 tops", "at most 5"."""
    before, after = said[: one.begin].rstrip(" ,"), said[one.end :].lstrip(" ,")
    return bool(LESS_THAN.search(before) or AT_MOST_AFTER.match(after))


def _most_of_a_range(question: Question, said: str, found: list[Found]) -> Found | None:
    """The most that is told after a usual amount, "a couple of minutes, 5 tops", where more is the cautious end; hours that
    may add up have none."""
    if len(found) < 2 or not larger(question) or question.key in LONGER_IS_CAREFUL:
        return None
    most = max(found, key=lambda one: one.value)
    return most if at_most(said, most) else None


def _open_ended(question: Question, said: str, one: Found) -> bool:
    """Whether an amount is only a bound on the side that is not cautious, or is denied."""
    before, after = said[: one.begin].rstrip(" ,"), said[one.end :].lstrip(" ,")
    if SMALL.search(before) and question.key not in LONGER_IS_CAREFUL:
        return False
    if question.key not in GUARDED and not DENIED.search(before):
        return False
    bound = at_most(said, one)
    at_least = not bound and (MORE_THAN.search(before) or AT_LEAST_AFTER.match(after))
    if bound:
        return smaller(question)
    return larger(question) if at_least else bool(DENIED.search(before))


def amounts(story: Story, question: Question, said: str) -> list[Found]:
    """Every amount of the kind asked in a sentence in digits; one without a unit takes that of another one."""
    found = all_amounts(question, said)
    if not isinstance(question.kind, Measure):
        return _counted_alike(question, found)
    units = [one for one in found if one.unit]
    if units and getattr(question.kind, "kinds", "") in ("temperature", "time"):  # "5 trays at 70 °C"
        found = [one for one in found if one.unit or _in_a_range(said, one, units) or at_most(said, one)]
    told = [one for here in found for one in _with_unit(story, question, said, here, units)]
    return told or _lone_unit(question, said)


def all_amounts(question: Question, said: str) -> list[Found]:
    """Amounts one after the other, none inside another: "2 lb 10 oz" is one."""
    found: list[Found] = []
    for match in ONE_NUMBER.finditer(said):
        one = _amount_at(question, said, match) if not found or match.start() >= found[-1].end else None
        found += [one] if one else []
    return found


def one_or_a_range(question: Question, said: str) -> bool:
    """Whether one amount of the kind asked is named, or the two ends of one range."""
    found = all_amounts(question, said)
    return len(found) < 2 or (len(found) == 2 and bool(BETWEEN.match(said[found[0].end : found[1].begin])))


def _in_a_range(said: str, one: Found, units: list[Found]) -> bool:
    """Whether an amount is one end of a range whose other end has a unit."""
    pairs = ((one, other) if one.begin < other.begin else (other, one) for other in units)
    return any(BETWEEN.match(said[first.end : second.begin]) for first, second in pairs)


def plain_amounts(story: Story, question: Question, text: str) -> list[Found]:
    """The amounts of the kind asked that have a unit of their own; one number of degrees where all else tells which."""
    said = in_digits(question, text)
    found = [one for one in all_amounts(question, said) if one.unit]
    if found or not hot(question) or not DEGREES_TOLD.search(spoken.numbers(text.casefold())):
        return found
    told = [one for one in amounts(story, question, said) if one.unit]
    return told if len(told) == len(_units_of(story, question)) == 1 else []


def _counted_alike(question: Question, found: list[Found]) -> list[Found]:
    """Numbers of hours or days; one without a unit takes that of another: "a month or two"."""
    units = [one.unit for one in found if one.unit]
    if question.key not in COUNTED_IN or not units:
        return found
    told = [one if one.unit else replace(one, text=f"{one.text} {units[0]}", unit=units[0]) for one in found]
    values = [value_of(question, one.text, "") for one in told]
    return [replace(one, value=value) for one, value in zip(told, values, strict=True) if value is not None]


def _amount_at(question: Question, said: str, match: re.Match) -> Found | None:
    """The longest amount that begins at a number; a bare number where none of another kind follows."""
    begin, tail = match.start(), said[match.end() :]
    ends = [one.end() for one in re.finditer(r"[^\s,;()–]+", tail)][:4]
    counted = question.key in COUNTED
    for end in reversed(ends):
        text = said[begin : match.end() + end].rstrip(".,;!?")
        if re.search(r"[^\W\d]|[%\"″°]", text[match.end() - begin :]) and not _in_the(text, tail):
            value = value_of(question, text, "")
            if value is not None and (not counted or not re.search(r"[^\W\d]", text[match.end() - begin :])):
                return Found(begin, begin + len(text), text, value, text[match.end() - begin :].strip())
    word = re.match(r"\s*([^\W\d]+|[°\"″%]+)?", tail)[1] or ""
    if (
        PACKS.match(tail)
        or (counted and PIECES.match(word))
        or (not hot(question) and re.match(r"\s*°?\s*[cf]\b", tail))
    ):
        return None
    if meant := _unit_meant(question, word):
        text = f"{match[0]} {meant}"
        value = value_of(question, text, "")
        return None if value is None else Found(begin, match.end(), text, value, meant)
    if re.match(r"[^\W\d]{2}", tail) and not is_unit(word):
        return None
    unit = (is_unit(word) or is_unit(word.upper())) and word not in NO_UNIT and not counted
    other = INCHES.match(tail) or unit
    another = word.startswith(("degree", "°")) and "temperature" not in str(getattr(question.kind, "kinds", ""))
    if other or another or (not counted and THINGS.match(word)) or tail.startswith((":", "st", "th", "nd")):
        return None
    if isinstance(question.kind, Number):
        value = value_of(question, match[0], "")
        return None if value is None else Found(begin, match.end(), match[0], value, "")
    if not hot(question) and word and word not in PASSES:
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
        value = value_of(question, text, "")
        if value is not None and (near or len(told) == 1 or allowed(question, text)):
            yield Found(one.begin, one.end, text, value, unit)


def _units_of(story: Story, question: Question) -> list[str]:
    """Units in which an amount may be told, by the examples and by what all else was told in."""
    if not question.us:
        return ["W"] if question.key == "heater" else []
    told = [re.sub(r"^[-0-9.,/ x]+", "", one) for one in (question.metric, question.us)]
    system = system_of(story)
    return told[:1] if system == "metric" else told[1:] if system else told


def _lone_unit(question: Question, said: str) -> list[Found]:
    """A unit without a number is one of it: "inch or so", "tablespoon"."""
    for one in re.finditer(r"[^\W\d]{3,}", said):
        text = f"1 {one[0]}"
        if one[0] not in NO_UNIT and (value := value_of(question, text, "")) is not None:
            return [Found(*one.span(), text, value, one[0])]
    return []


def in_digits(question: Question, text: str) -> str:
    """An answer with digits for the words of its numbers, in small letters but for the degrees."""
    said = A_HALF_MORE.sub(mixed, text.casefold())
    said = re.sub(r"(?<=[0-9])-(?=[0-9]+(?!/))", "–", said)
    said = _of_the_clock(question, said)
    timed = question.key in COUNTED_IN or getattr(question.kind, "kinds", "") == "time"
    if timed:
        said = re.sub(r"\bover ?night\b|\ball (?:night|day)\b", NIGHT, said)
        said = re.sub(r"\b(?:a )?fortnight\b", "14 days", said)
    if question.key == "amount":
        said = GUESSED.sub(lambda told: _guessed(told, question.of), said)
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
    return re.sub(r"([0-9]) ?(?:degrees?|°)(?! ?[cf]\b| ?cels| ?fahr| ?cent)", r"\1", said) if hot(question) else said


def guesses(question: Question, text: str) -> set[str]:
    """The amounts of an answer that are guesses, in digits; a pinch is one."""
    said = A_HALF_MORE.sub(mixed, text.casefold())
    little = {much for word, much in LITTLE.items() if re.search(rf"\b(?:{word})s?\b", said)}
    return little | {_guessed(one, question.of) for one in GUESSED.finditer(said)}


def _guessed(told: re.Match, of: str) -> str:
    """Handfuls and heaped spoons as level cups and spoons; a spoon of no size is a tablespoon, of salt a teaspoon."""
    if told["bare"] and not (told["many"] or re.match("an? ", told[0])):
        return told[0]  # "two wooden spoons"
    many = HOW_MANY.get(told["many"] or "one", told["many"])
    for sign, part in (("½", " 1/2"), ("¼", " 1/4"), ("¾", " 3/4"), (",", ".")):
        many = many.replace(sign, part)
    small = "teaspoon" in told[0] or (told["bare"] and (told["salt"] or "salt" in of.casefold()))
    each, unit = HANDFUL.split() if told["hand"] else ("1", "tsp" if small else "tbsp")
    whole, part = divmod(sum(map(Fraction, many.split())) * Fraction(each), 1)
    return " ".join([*([str(whole)] * bool(whole)), *([str(part)] * bool(part or not whole)), unit])


def _of_the_clock(question: Question, said: str) -> str:
    """The hours from one time of the day to another: "from nine at night till seven in the morning"."""
    if getattr(question.kind, "kinds", "") != "time":
        return said
    return CLOCK.sub(lambda told: f"{(int(told['end']) - int(told['begin'])) % 12 or 12} h", spoken.numbers(said))


def hot(question: Question) -> bool:
    return getattr(question.kind, "kinds", "") == "temperature"


def _fits(question: Question, unit: str) -> bool:
    """Whether a word is a unit of what is asked."""
    return is_unit(unit) and value_of(question, f"1 {unit}", "") is not None


def _fraction(question: Question, found: re.Match) -> str:
    """Digits for "three quarters of a kilo"; the words themselves where no unit follows and it may be no amount."""
    parts = {"half": 2, "third": 3, "quarter": 4, "eighth": 8, "sixteenth": 16}[found["part"]]
    many = found["many"] or "1"
    count = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "seven": 7}.get(many) or int(many)
    clear = _fits(question, found["next"] or "") or (parts >= 8 and not found["next"])
    return f"{count}/{parts}" if clear and count < parts else found[0]


def _areas(story: Story, question: Question, said: str) -> list[str]:
    """The area of a tray by its sides, or across."""
    said = spoken.numbers(A_HALF_MORE.sub(mixed, said))
    said = re.sub(r"\b(?:a|1) (?=f(?:oo|ee)t\b|met(?:er|re)\b)", "1 ", re.sub(r"(?<=[0-9])[ -]odd\b", "", said))
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
    system = system_of(story)
    return [f"{one} x {two} {name}" for name in {"metric": ["cm"], "us": ["in"]}.get(system, ["cm", "in"])]


def sizes(story: Story, question: Question, text: str) -> list[Reading]:
    """Usual, thinnest and thickest piece of one answer; of a range the upper end is also the usual piece."""
    said = in_digits(question, text)
    found = amounts(story, question, said)
    kept = list({round(one.value, 9): one for one in found if not _open_ended(question, said, one)}.values())
    if not 0 < len(kept) < 4 or len(kept) != len({one.value for one in found}):
        return []
    if len(kept) < 3 and (at_the_end := _of_the_thick_end(said, kept)):
        told = at_the_end
    elif len(kept) == 1:
        return []
    elif len(kept) == 3:
        least, usual, most = sorted(kept, key=lambda one: one.value)
        told = {"thickness": usual, "thinnest": least, "thickest": most}
    else:
        one, two = sorted(kept, key=lambda one: one.begin)
        low, high = sorted(kept, key=lambda one: one.value)
        if BETWEEN.match(said[one.end : two.begin]) and "maybe" not in said[one.end : two.begin]:
            told = {"thickness": high, "thinnest": low, "thickest": high}
        elif re.search(rf"{THIN_END.pattern}[^0-9]*$", said[: one.begin]) and one is low:
            told = {"thickness": high, "thinnest": low}
        else:
            told = {"thickness": one, ("thickest" if two is high else "thinnest"): two}
    shown = ", ".join(say("loosely.size", what=say(f"story.{name}"), size=one.text) for name, one in told.items())
    return [Reading(tuple((f"cut.{name}", one.text) for name, one in told.items()), shown, sure=True)]


def _of_the_thick_end(said: str, found: list[Found]) -> dict[str, Found]:
    """The thickest piece, where the largest amount is said of the thick end, and the thinnest or usual one beside it; the
    usual one then stays to be asked where it is not told."""
    most, least = (end(found, key=lambda one: one.value) for end in (max, min))
    first, last = sorted((most, least), key=lambda one: one.begin)
    if not AT_THE_THICK_END.search(beside := _beside(said, most, found)) or MORE_THERE.search(beside):
        return {}
    if most is least or BETWEEN.match(said[first.end : last.begin]):
        return {"thickest": most}
    return {"thinnest" if THIN_END.search(_beside(said, least, found)) else "thickness": least, "thickest": most}


def _beside(said: str, one: Found, found: list[Found]) -> str:
    """The words around an amount, up to a comma or to another amount."""
    begin = max((other.end for other in found if other.end <= one.begin), default=0)
    end = min((other.begin for other in found if other.begin >= one.end), default=len(said))
    after = re.sub(r"^, *(?=(?:at|in) )", "", said[one.end : end].lstrip())
    before = re.split(r"[,;.](?![0-9])", said[begin : one.begin])[-1]
    return f"{before} | {re.split('[,;.](?![0-9])', after)[0]}"
