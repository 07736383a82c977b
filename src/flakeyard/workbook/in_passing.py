"""What an answer tells of questions that come much later: that the fish lay in a freezer, how cold and for how long, how
many trays there are, that the fish was caught, what its fillets weigh. Each is confirmed with the answer it stands in, or
where it is asked. Only that the air is dry, which is no number, is taken: it leaves its question open.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace

from flakeyard.messages import say
from flakeyard.steps.intent.fields import NOT_KNOWN
from flakeyard.units import InputError
from flakeyard.workbook.amounts_in import COUNTED_TRAYS, in_digits, plain_amounts
from flakeyard.workbook.asking import question_at
from flakeyard.workbook.meant import Reading, plain
from flakeyard.workbook.plainly import BOUND, DOUBT, TURNED, doubted
from flakeyard.workbook.question import Question
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.telling import tell
from flakeyard.workbook.words_in import records_in

CAUGHT = re.compile(r"\b(?:caught|hooked|netted|speared|angled)\b")
FARMED = re.compile(r"\b(?:farm\w*|ponds?|tanks?|cages?|pellets?|raised|aquacultur\w*|bought|shop|store|market)\b")
CUT_UP = re.compile(r"\b(?:fillet(?:s|ed)?|filet(?:s|ed)?|loins?|steaks?|trimmed|strips)\b")
NOT_CUT = re.compile(r"\b(?:whole|ungutted|uncut|live|each|every|per|apiece|before|bags?|packs?|boxes)\b")
A_WEIGHT = re.compile(
    r"(?:(?:it|they|all|is|are|weighs?|makes?|about|around|roughly|approximately|some|ca\.?|of|the|fresh|farmed|wild|fillets?|filets?|fish|meat|together|in all)\b\.? *)*"
)
FORM = "cut.form"
ORIGIN, WEIGHT = "fish.origin", "fish.raw_weight"
STOCK, TRAYS, DAMP_AIR = "fish.stock", "dryer.trays", "room.relative_humidity"
FREEZING = ("fish.frozen_at", "fish.frozen_days")
IN_A_FREEZER = re.compile(
    r"\b(?:(?:been|was|were|lay|lain|sat|kept|stayed|spent|then) (?:\w+ ){0,4}in (?:\w+ ){0,3}freezer"
    r"|in (?:my|our|the|a) (?:\w+ ){0,2}freezer (?:\w+ ){0,6}for|was (?:\w+ )?frozen|(?:i|we) froze (?:it|them)|frozen (?:for )?[0-9])\b"
)
STILL_TO_COME = re.compile(
    r"\b(?:put|puts|go|goes|going|want|wants|plan|plans|shall|would|could|can|must|ago|since|old|each|at a time)\b"
)
OTHER_COLD = re.compile(r"\b(?:fridge|refrigerator|ice|cooler|broken)\b")
ZERO, BELOW_ZERO = re.compile(r"\bzero\b"), re.compile(r"\bminus (?=[0-9])")
NO_DEGREES = re.compile(r"\bdegrees? (?=[cf]\b|fahrenheit|celsius|centigrade)")
PER_CENT = re.compile(r"[0-9] ?(?:%|per ?cent|pct)")
DRY_AIR = re.compile(
    r"^(?:(?:it is|it's|its|the|air|room|kitchen|is|and|but|real|really|very|quite|pretty|fairly|too|so|always|rather)\b ?)*"
    r"(?:(?:dry|damp|humid|moist)|(?:normal|average|usual|ordinary) (?:air|humidity|damp))(?: (?:air|here|there|in|indoors|the|winter|summer|now|this|time|of|year|room|kitchen)\b)*$"
)


def parts_of(said: str) -> list[str]:
    """The parts of a sentence between commas and the like."""
    return [part.strip() for part in re.split(r"[,;.](?![0-9])", said)]


def told_in_passing(story: Story, question: Question, text: str) -> dict[str, Reading]:
    """By place, what an answer tells of a freezing, of the trays or of the air, where it is still open."""
    said = " ".join(re.sub("[()]", " ", text.replace("’", "'")).casefold().split())
    looks = {"fish": (_freezing,), "dryer": (_trays,), "room": (_air,)}
    every = (*looks.get(question.section, ()), *((_caught, _weight) if question.key == "species" else ()))
    found = [one for look in every for one in look(story, said)]
    return {
        one.told[0][0]: one for one in found if one.told[0][0] != question.place and not story.answered(one.told[0][0])
    }


def _freezing(story: Story, said: str) -> Iterator[Reading]:
    """That the fish lay frozen, how cold and how long, where one part of the sentence says it of the past."""
    days = question_at(FREEZING[1])
    here = [part for part in parts_of(said) if _lay_frozen(in_digits(days, part))]
    if len(here) != 1 or "?" in said:
        return
    yield plain(question_at(STOCK), "frozen")
    said = BELOW_ZERO.sub("-", NO_DEGREES.sub("", ZERO.sub("0", here[0])))
    for place in FREEZING:
        question = question_at(place)
        found = plain_amounts(story, question, said)
        if len({round(one.value, 9) for one in found}) == 1 and not BOUND.search(said):
            yield from _if_taken(story, question, found[0].text)


def _caught(_story: Story, said: str) -> Iterator[Reading]:
    """That the fish was caught wild, which is the cautious word."""
    if CAUGHT.search(said) and not (FARMED.search(said) or TURNED.search(said) or doubted(said)):
        yield plain(question_at(ORIGIN), "wild")


def _weight(story: Story, said: str) -> Iterator[Reading]:
    """The weight of fish that is cut already, where it stands alone in a part of the sentence."""
    question = question_at(WEIGHT)
    here = [part for part in parts_of(said) if plain_amounts(story, question, part)]
    if len(here) != 1 or not CUT_UP.search(said) or NOT_CUT.search(said):
        return
    found = plain_amounts(story, question, here[0])
    left = in_digits(question, here[0]).replace(found[0].text, "")
    if len(found) == 1 and A_WEIGHT.fullmatch(left.strip()):
        yield from _if_taken(story, question, found[0].text)


def fillets_told(question: Question, text: str) -> dict[str, Reading]:
    """That the fish is cut in fillets, told with its name: offered where the cut is asked."""
    said = text.casefold()
    if question.key != "species" or re.search(r"\bstrips?\b", said) or NOT_CUT.search(said):
        return {}
    names = "|".join(re.escape(one.partition(",")[0]) for one in records_in(question, said))
    clear = names and re.search(rf"\b(?:{names}) fil(?:l)?ets\b", said)
    return {FORM: plain(question_at(FORM), "fillets")} if clear else {}


def _if_taken(story: Story, question: Question, text: str) -> Iterator[Reading]:
    with suppress(InputError):  # a freezer at 5 °C
        tell(story, question, text)
        yield plain(question, text)


def _lay_frozen(part: str) -> bool:
    against = doubted(part) or TURNED.search(part) or STILL_TO_COME.search(part) or OTHER_COLD.search(part)
    return bool(IN_A_FREEZER.search(part)) and not against


def _trays(_story: Story, said: str) -> Iterator[Reading]:
    """The number of trays, where the part that tells it is not in doubt though the sentence is."""
    question = question_at(TRAYS)
    here = [part for part in parts_of(in_digits(question, said)) if COUNTED_TRAYS.search(part)]
    if len(here) == 1 and len(found := COUNTED_TRAYS.findall(here[0])) == 1 and not doubted(here[0]):
        yield plain(question, found[0])


def _air(_story: Story, said: str) -> Iterator[Reading]:
    """That the air is dry or damp is no number: it stays not known, with the words as a note, where no number is told."""
    if PER_CENT.search(said):
        return
    for part in parts_of(said):
        if DRY_AIR.search(part) and not (DOUBT.search(part) or TURNED.search(part)):
            unknown = plain(question_at(DAMP_AIR), NOT_KNOWN)
            yield replace(unknown, shown=say("loosely.dry_air"), sure=True, notes=((DAMP_AIR, part),))
