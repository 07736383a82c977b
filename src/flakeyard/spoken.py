"""Amounts as people say them, turned into the digits that `units` reads: "half an hour", "two and a half cups", "about 2 kg".

Only what has one meaning is turned; all else is handed on as it was and refused there. A word that hides how much is
meant ("overnight", "a couple of") is named, so that it can be asked for.
"""

from __future__ import annotations

import re

_ONES = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9}
_TEENS = {
    "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16, "seventeen": 17,
    "eighteen": 18, "nineteen": 19,
}  # fmt: skip
_TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90,
}  # fmt: skip
_WHOLE = _ONES | _TEENS | _TENS
_PARTS = {"half": 2, "third": 3, "quarter": 4, "eighth": 8, "sixteenth": 16}
NUMBER_WORDS = tuple(_WHOLE)
_WORDS = "|".join(_WHOLE)
_WHOLE_WORD = re.compile(
    rf"(?<![.,/])\b(?:({'|'.join(_TENS)})[ -]({'|'.join(_ONES)})|({_WORDS}))\b(?!\s*[0-9]|[.,/])", re.IGNORECASE
)  # before digits ("two 1/2 cups") it could be read two ways
_ROUGH = re.compile(
    r"(?:(?:about|around|roughly|approximately|circa|approx\b\.?|ca\b\.?)\s+|[~≈]\s*)(?=\S)", re.IGNORECASE
)
_ROUGH_END = re.compile(r"(?<=\S),?\s+(?:or so|or thereabouts|roughly|approximately|approx\b\.?)$", re.IGNORECASE)
_PART = rf"(?:(?:(?P<many>an?|[0-9]+)[ -])?(?P<part>{'|'.join(_PARTS)})s?|(?P<digits>[0-9]+/[0-9]+))"
_MIXED = re.compile(rf"(?P<whole>[0-9]+)[ -]and[ -]{_PART}(?:[ -](?P<unit>[^\W\d].*))?", re.IGNORECASE)
_TRAILING = re.compile(rf"(?P<whole>an?|[0-9]+) (?P<unit>[^\W\d]+) and {_PART}", re.IGNORECASE)
_PART_OF = re.compile(rf"{_PART}(?:[ -]of)?(?:[ -]an?)?(?:[ -](?P<unit>[^\W\d].*))?", re.IGNORECASE)
_HUNDREDS = re.compile(r"(?P<many>an?|[0-9]{1,2}) (?P<size>hundred|thousand) (?P<unit>[^\W\d].*)", re.IGNORECASE)
_VAGUE = re.compile(
    r"\b(overnight|all (?:day|night)|(?:a )?couple(?: of)?|(?:a )?few|several|some|dozens?|(?:a )?while|(?:a )?bit)\b",
    re.IGNORECASE,
)
_RANGE = re.compile(
    r"(?![0-9]+-[0-9]+/)[-+]?[0-9][0-9.,/]*\s*(?:[°\"″']|[^\W\d])*\s*(?:-|–|to|till|bis|or)\s*-?[0-9]|between\s*-?[0-9]",
    re.IGNORECASE,
)  # "1-1/2" is none
_SIDES = re.compile(r"([^x×*]+?)\s*(?:x|×|\*|\bby\b)\s*([^x×*]+)", re.IGNORECASE)
_ROUND = re.compile(
    r"(?:round|circular|diameter|[øØ⌀])(?: of|,|:)?\s*(?P<after>[0-9].*?)(?: (?:across|wide))?"
    r"|(?P<before>[0-9].*?),?(?: across,?)?\s+(?:round|circular|(?:in |wide )?diameter)(?: (?:trays?|racks?))?",
    re.IGNORECASE,
)


def is_rough(text: str) -> bool:
    """Whether an amount is said to be no more than about right."""
    return bool(_ROUGH.match(text.strip()) or _ROUGH_END.search(text.strip()))


def vague(text: str) -> str:
    """The word that hides how much is meant; "" where there is none."""
    found = _VAGUE.search(text)
    return found[0] if found else ""


def numbers(text: str) -> str:
    """A sentence with digits for its whole numbers in words."""
    return _WHOLE_WORD.sub(_whole, text)


def is_range(text: str) -> bool:
    """Whether two amounts are told, of which one is meant."""
    return bool(_RANGE.match(text))


def in_digits(text: str) -> str:
    """An amount with digits where words stood for them; what else is said, "an hour" too, stays as it is."""
    text = _ROUGH_END.sub("", _ROUGH.sub("", text.strip(), count=1) if _ROUGH.match(text.strip()) else text.strip())
    text = _WHOLE_WORD.sub(_whole, text)
    for pattern in (_MIXED, _TRAILING, _PART_OF):
        found = pattern.fullmatch(text)
        told = found and _fraction(found)
        if told:
            return told
    if found := _HUNDREDS.fullmatch(text):
        count = int(found["many"]) if found["many"].isdigit() else 1
        return f"{count * {'hundred': 100, 'thousand': 1000}[found['size'].lower()]} {found['unit']}"
    return re.sub(r"(?<=[0-9])-(?=[^\W\d_])", " ", text)


def _whole(found: re.Match) -> str:
    ten, one, alone = (word and word.lower() for word in found.groups())
    return str(_TENS[ten] + _ONES[one] if ten else _WHOLE[alone])


def _fraction(found: re.Match) -> str:
    """A whole number, if there is one, a fraction and the unit behind it; "" where it is no part of one ("4 halves")."""
    told = found.groupdict()
    part = told["digits"] or _part(told["many"], told["part"])
    whole = {"a": "1", "an": "1"}.get((told.get("whole") or "").lower(), told.get("whole"))
    return " ".join(filter(None, [whole, part, told["unit"]])) if part else ""


def _part(many: str | None, part: str) -> str:
    count, parts = int(many) if many and many.isdigit() else 1, _PARTS[part.lower()]
    return f"{count}/{parts}" if count < parts else ""


def sides(text: str) -> tuple[str, str] | None:
    """Length and width of "30 x 35 cm" or "30 cm by 35 cm", each with its unit; None where that is not said."""
    found = _SIDES.fullmatch(text)
    if not found:
        return None
    first, second = found.groups()
    unit = re.sub(r"^[-+0-9.,/ ]+", "", second)
    return (f"{first} {unit}" if re.fullmatch(r"[-+0-9.,/ ]+", first) else first), second


def diameter(text: str) -> str:
    """The diameter of "33 cm round"; "" where no circle is said."""
    found = _ROUND.fullmatch(text)
    return (found["after"] or found["before"]) if found else ""
