"""The one amount that stands among other words of an answer, or the cautious end of a range of two.

Where what stands around it may add to it, or hides another amount, nothing is found.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from flakeyard import spoken
from flakeyard.steps.intent.fields import Measure
from flakeyard.units import InputError, is_unit, read_amount
from flakeyard.workbook.as_value import COUNTED, COUNTED_IN, LONGER_IS_CAREFUL, NUMBER_WORDS
from flakeyard.workbook.careful_end import AT_LEAST_AFTER, AT_MOST_AFTER, DENIED, LESS_THAN, MORE_THAN, larger, smaller
from flakeyard.workbook.question import Question
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.span import LONGEST, NUMBER, Span, without_spans
from flakeyard.workbook.which_units import system_of

A_HALF_MORE = re.compile(
    rf"\b(?:(?P<many>[0-9]+|{'|'.join(spoken.NUMBER_WORDS)})|(?:an? )?(?P<unit>hour|minute|day|week|month|pound|kilo|litre|liter|quart|cup|inch|centimetre|centimeter))"
    r" and (?:an? |one )?(?P<part>half|third|quarter)s?\b", re.IGNORECASE,
)  # fmt: skip
BETWEEN = re.compile(r"^[\s,]*(?:or|to|till|-|–|(?:or )?(?:maybe|perhaps|possibly|even))+[\s,]*(?:maybe|perhaps|even)?[\s,]*$")  # fmt: skip
SEVERAL = re.compile(r"\b(?:each|every|per|twice|thrice|times|double|another|again|plus|then|also|both ways|more|daily|nightly|apiece)\b")  # fmt: skip
OF_THE_DAY = re.compile(r"\b(?:mornings?|afternoons?|evenings?|nights?|days?|weeks?|months?|hours?|minutes?|lunch)\b")
WEATHER = re.compile(
    r"\b(?:warm|hot|cold|cool|sunny|nice|grey|rainy) (?:days?|mornings?|afternoons?|evenings?|nights?)\b"
)
THINGS = re.compile(r"^(?:little|small|big|large|medium|ones|fish|pieces?|fillets?|filets?|strips?|sides?|trays?|racks?|bags?|jars?|people|kids|round|rounds)\b")  # fmt: skip
PACKS = re.compile(  # behind a number: things that were counted, such as "two ice packs"
    r"\s(?:(?:big|small|little|large|frozen|ice|gel|cold|cool|freezer|water|plastic)[ -]){0,3}(?:ice|gel)?(?:packs?|bags?|bottles?|blocks?|bricks?|jugs?|buckets?)\b"
)
UNSURE = re.compile(r"\b(?:below|above|under|over|more|less|least|most|not|never|no|nearly|almost|up to)\b")
ROUGHLY = re.compile(r"about|around|rough|approx|circa|~|≈|or so|maybe|nearly|almost|think")
INCHES = re.compile(r"\s*in\b(?! +(?!(?:thick|thin|wide|long|deep|high|across|by|x)\b)\w)")  # and not "2 in the cooler"
NIGHT = 6.0  # h: so long and no shorter is a night (judgement)


def mixed(found: re.Match) -> str:
    """A number and a half, in digits: "two and a half", "hour and a half"."""
    part = spoken.in_digits(f"a {found['part'].lower()}")
    return f"{spoken.in_digits(found['many'])} {part}" if found["many"] else f"1 {part} {found['unit']}"


def amount_meant(question: Question, text: str) -> str:
    """The one amount in an answer, or the cautious end of a range of two; nothing where more is counted or left unsure."""
    text = re.sub(r"\b([0-9.]+) below(?: zero)?(?= ?°? ?[CF]\b)", r"-\1", text)
    spans = list(amount_spans(question, text))
    left = without_spans(text, [(one.begin, one.end) for one in spans]).casefold()
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
    spans = list(amount_spans(question, text))
    return len(spans) == 1 and spans[0].value >= NIGHT


def _counts_something_else(after: str) -> bool:
    """Whether a number is followed by a thing or a unit that answers another question."""
    word = re.match(r"[0-9.,/½¼¾]*\s*(?:(?:or|to|-|–)\s*[0-9.,/]+\s*)?(\S*)", after)[1].strip(",.;()")
    return bool(PACKS.match(after) or THINGS.match(word) or word.startswith(("degree", "°")) or is_unit(word))


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


def amount_spans(question: Question, text: str) -> Iterator[Span]:
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
            and (INCHES.match(after) or not re.match(r"\s*(?:or|to|maybe|tops|max|at|in|on)\b", after))
        ):
            return None  # "24 degrees" is no number of hours
        return read_amount(whole, "count", key, low=0.0).value
    except InputError:
        return None


def with_unit(story: Story, question: Question, said: str, anything: bool = False) -> str:
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


def allowed(question: Question, text: str) -> bool:
    try:
        question.kind.read(text, question.where)
    except InputError:
        return False
    return True
