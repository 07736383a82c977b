"""How cold the refrigerator is, told at any later question: "my fridge is 4 °C, not 7".

It counts wherever a refrigerator without a thermometer was assumed. A warmer one always counts; a colder one only where it
is said plainly.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from flakeyard import spoken
from flakeyard.messages import say
from flakeyard.steps.intent.fields import SOAKS
from flakeyard.units import InputError, read_amount
from flakeyard.workbook.asking import questions
from flakeyard.workbook.loosely import EXACT_DEGREES, OWN_FRIDGE, UNMEASURED_FRIDGE
from flakeyard.workbook.meant import Reading
from flakeyard.workbook.plainly import BOUND, DOUBT, GUESS, MAY_BE
from flakeyard.workbook.question import Question
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.which_units import system_of

INSTEAD = re.compile(
    r"[,;]? *\b(?:and |but )?(?:not|isn't|instead of|rather than)(?: at)? [0-9]{1,2}(?![0-9.,]*[0-9])(?: ?(?:°|degrees?))?(?: ?[cf]\b)?"
)
FRIDGE = r"(?:fridge|refrigerator|ice ?box)"
IS = r"(?:is|was|it's|runs?|sits?|stays?|shows?|says?|reads?|keeps?|holds?)"
ABOUT = r"(?:(?:about|around|at|now|really|actually|only|exactly|more\slike|maybe|perhaps|probably|like)\s)*"
DEGREES = r"-?[0-9]+(?:[.,][0-9]+)?(?: ?(?:°|degrees?))?(?: ?[cf]\b)?"
NUMBER, UNIT = re.compile(r"-?[0-9]+(?:[.,][0-9]+)?"), re.compile(r"[cf]$")
SAID_OF_IT = re.compile(
    rf"\b{FRIDGE}(?:'s|(?:[^0-9.;]{{0,40}}? )?{IS}) {ABOUT}(?P<here>{EXACT_DEGREES.pattern})"
    rf"|\b{IS} {ABOUT}(?P<there>{DEGREES}) (?:inside |there )?in (?:my|our|the) {FRIDGE}\b"
)
TO = re.compile(rf" ?(?:to|or|-|–) ?(?P<to>{EXACT_DEGREES.pattern})")
LEAD = re.compile(r"^(?P<word>yes|yeah|yep|ok|okay|no|nope)\b[,;:.]* *(?:but|and|only)?\b *")
IN_IT = (-5.0, 25.0)  # °C that a refrigerator may have (judgement)
BESIDE_IT = frozenset(
    ["my", "our", "the", "this", "that", "it", "its", "s", "is", "was", "has", "have", "a", "an", "in", "there", "inside", "thermometer", "i", "we", "checked", "measured", "looked", "just", "and", "but", "by", "way", "well", "oh", "sorry", "wait", "actually", "which", "temperature", "about", "around", "at", "now", "so", "think", "guess", "maybe"]
)  # fmt: skip
ITSELF = "fridge"  # in an answer that goes on to be read
PLACES = (*SOAKS, "rest", "freshen")  # sections that may lie in a refrigerator


@dataclass(frozen=True)
class FridgeTold:
    """How cold the refrigerator is, the places where another number was counted for it, whether it is too unclear to make
    anything colder, and what else the answer says."""

    degrees: str
    places: tuple[str, ...]
    unclear: bool
    rest: str

    def put_in(self, story: Story) -> Story:
        """The story with the refrigerator as warm as it is."""
        for place in self.places:
            story = story.told(place, self.degrees)
        return story.noted(OWN_FRIDGE, self.degrees)

    def mended(self, reading: Reading) -> Reading:
        """A reading that is offered, with this in the place of what was assumed."""
        told = tuple((place, self.degrees if assumed(place, text) else text) for place, text in reading.told)
        shown = reading.shown
        for degrees in UNMEASURED_FRIDGE:
            shown = shown.replace(say("loosely.fridge", degrees=degrees), self.degrees)
        return replace(reading, told=told, shown=shown)


def assumed(place: str, text: str) -> bool:
    """Whether a warmth is what a refrigerator without a thermometer counts as."""
    section, _, key = place.partition(".")
    return section in PLACES and key.endswith("temperature") and text in UNMEASURED_FRIDGE


def fridge_told(story: Story, question: Question | None, offered: tuple[Reading, ...], typed: str) -> FridgeTold | None:
    """What an answer says of a refrigerator whose warmth was assumed, or told so before; None where it says nothing of it."""
    here = [(one.place, str(story.get(one.place))) for one in questions(story) if story.get(one.place) is not None]
    own = story.notes.get(OWN_FRIDGE)
    told = [(place, text) for place, text in here if assumed(place, text) or (own and _soaks_at(place, text, own))]
    counted = [*told, *(one for reading in offered[:1] for one in reading.told if assumed(*one))]
    said = INSTEAD.sub("", spoken.numbers(" ".join(typed.replace("’", "'").casefold().split())))
    lead = LEAD.match(said)
    said = said[lead.end() :] if lead else said
    found = SAID_OF_IT.search(said)
    degrees = _degrees(story, said, found) if found else ""
    if not degrees or degrees == own:
        return None
    if not counted:
        return _for_later(story, said, found, degrees, typed)
    colder = any(_celsius(degrees) < _celsius(text) for _, text in counted)
    clouded = any(one.search(_sentence(said, found)) for one in (DOUBT, GUESS, MAY_BE, BOUND))
    places = tuple(place for place, text in told if text != degrees)
    asks_it = question is not None and question.key == "temperature" and question.section in PLACES
    left = [lead["word"]] if lead else []
    return FridgeTold(degrees, places, colder and clouded, _rest(said, found, [*left, *([degrees] if asks_it else [])]))


def _for_later(story: Story, said: str, found: re.Match, degrees: str, typed: str) -> FridgeTold | None:
    """A refrigerator of which nothing was counted yet, told plainly or as a warm one: kept for where it is; the whole answer
    stays to be read."""
    begin = max(said.rfind(mark, 0, found.start()) for mark in ",;.")
    here = re.split(r"[.;!](?![0-9])", said[begin + 1 :])[0]
    clouded = any(one.search(here) for one in (DOUBT, GUESS, MAY_BE, BOUND))
    colder = _celsius(degrees) < _celsius(UNMEASURED_FRIDGE[0])
    return None if clouded and colder else FridgeTold(degrees, (), False, typed)


def _soaks_at(place: str, text: str, degrees: str) -> bool:
    return place.partition(".")[0] in PLACES and place.endswith(".temperature") and text == degrees


def _degrees(story: Story, said: str, found: re.Match) -> str:
    """The degrees that are told, of a range the warmer ones; "" where they can be none of a refrigerator."""
    told = [found["here"] or found["there"]]
    told += [then["to"]] if (then := TO.match(said, found.end())) else []
    unit = next((one[0] for one in map(UNIT.search, reversed(told)) if one), "")
    unit = unit or {"us": "f", "metric": "c"}.get(system_of(story), "")
    warmest = max((NUMBER.search(one)[0] for one in told), key=lambda one: float(one.replace(",", ".")))
    degrees = f"{warmest} °{unit.upper()}"
    return degrees if unit and IN_IT[0] <= _celsius(degrees) <= IN_IT[1] else ""


def _celsius(degrees: str) -> float:
    try:
        return read_amount(degrees, "temperature", "temperature").value
    except InputError:
        return IN_IT[1]


def _sentence(said: str, found: re.Match) -> str:
    """The sentence around what is said of the refrigerator."""
    begin = max(said.rfind(mark, 0, found.start()) for mark in (". ", ";", "!"))
    return re.split(r"[.;!](?![0-9])", said[begin + 1 :].lstrip(" .;!"))[0]


def _rest(said: str, found: re.Match, first: list[str]) -> str:
    """An answer without what it says of the refrigerator alone, behind its first words."""
    then = TO.match(said, found.end())
    end = then.end() if then else found.end()
    left = re.split(r"[,;.](?![0-9])", said[: found.start()])
    words = re.findall(r"[^\W\d_]+", left[-1])
    before = left[:-1] if set(words) <= BESIDE_IT else [*left[:-1], f"{left[-1].strip()} {ITSELF}"]
    after = re.split(r"[,;.](?![0-9])", said[end:])
    after = [one for one in after if not set(re.findall(r"[^\W\d_]+", one)) <= BESIDE_IT or re.search("[0-9]", one)]
    return ", ".join(part.strip() for part in (*first, *before, *after) if part.strip())
