"""What is meant by an answer in whatever words: amounts, known words and names are looked for anywhere in the sentence.

This is the lenient reader beneath `telling.tell` and `offering.reading`. What it finds goes through `tell` like any
other answer. A reading that is exact, and cannot make a verdict milder, is taken with an echo (``sure``); every other
one has to be confirmed, and where there are several the cautious one comes first. Nothing is ever read towards milder:
what was said with doubt counts as not known, of two amounts the cautious end is offered, hours are offered as their
sum.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from flakeyard import limits, spoken
from flakeyard.messages import say
from flakeyard.steps.intent.fields import NONE, NOT_KNOWN, Flag, Measure, Number, OneOf
from flakeyard.units import InputError, is_unit, read_amount, show
from flakeyard.workbook.amounts_in import (
    COUNTED_TRAYS,
    DAMP,
    GUESSED,
    LEAST_SURE,
    LENGTH,
    LITTLE,
    MORE_THAN_DEGREES,
    NIGHT,
    ONE_NUMBER,
    SIDES,
    amount_texts,
    as_written,
    hot,
    in_digits,
    one_or_a_range,
    sizes,
)
from flakeyard.workbook.as_value import LONGER_IS_CAREFUL, how_to_tell
from flakeyard.workbook.asking import question_at
from flakeyard.workbook.by_finger import finger_thick
from flakeyard.workbook.careful_end import larger
from flakeyard.workbook.dial import DIAL, without_the_ends, without_the_refused
from flakeyard.workbook.ingredients_in import QUESTION, things
from flakeyard.workbook.left_open import known_to_tell_nothing, undecided
from flakeyard.workbook.meant import Reading, chosen, plain
from flakeyard.workbook.offering import reading
from flakeyard.workbook.one_amount import ROUGHLY, UNSURE, with_unit
from flakeyard.workbook.plainly import (
    AROUND_IT,
    BOUND,
    DOUBT,
    GUARDED,
    GUESS,
    MAY_BE,
    TURNED,
    doubted,
    numbers_in,
    only_wiped,
    plain_amount,
    plain_name,
    plain_word,
)
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO, NO_MORE, NO_WORDS, NONE_WORDS, YES, YES_WORDS, as_said
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.telling import tell
from flakeyard.workbook.told_again import stands_already
from flakeyard.workbook.two_fishes import two_fishes
from flakeyard.workbook.which_units import system_of
from flakeyard.workbook.words_in import CAREFUL, NOT_IN_THE_FISH, TAKEN_ALONG, named, names_in, no_composition, words_of

SHORT = 6  # words of an answer that can hardly be misread (judgement)
SAID_BEFORE = re.compile(  # what changes nothing of an amount
    r",? *\b(?:like|as) i (?:already )?(?:said|told you)\b,?|(?:^|, *)i (?:already )?(?:said|told you)\b *(?:,|$)|^(?:yeah|yep|yes|well|oh|ok|okay)\b[,.]? (?=[^,]*[0-9])",
    re.IGNORECASE,
)
BESIDE_SIZES = frozenset(  # words that leave sizes what they are
    ["about", "around", "roughly", "maybe", "perhaps", "or", "so", "a", "an", "the", "at", "in", "on", "to", "and", "of", "is", "are", "it", "its", "they", "most", "mostly", "usual", "usually", "thick", "thin", "thinner", "thicker", "thinnest", "thickest", "tail", "tails", "end", "ends", "edge", "edges", "middle", "part", "parts", "piece", "pieces", "ones", "little", "big", "down", "few", "some", "other", "others", "but", "slice", "sliced", "slices", "cut", "strips", "fillets", "i", "into"]
)  # fmt: skip
MENDED = re.compile(r"\b(?:i meant|meant|sorry|actually|i said|rather|instead|wrong|wait)\b")
STILL_FROZEN = re.compile(
    r"\b(?:still (?:rock )?frozen|(?:not|haven't) (?:yet )?(?:been )?thaw\w*|thaw\w* (?:it )?(?:tonight|tomorrow|later|soon)|(?:will|going to) thaw)"
)
BUT = re.compile(r"\b(?:but|except|rest|although|though)\b")  # what comes after may turn it
HELD = re.compile(r",? *\b(?:(?:held|kept) (?:for|there)|for (?=an? |[0-9]|two|three)).*$")  # after how hot it gets
HEAT_OFF = re.compile(
    r"\bheat(?:er|ing)?(?:'s| is)? (?:turned |switched )?off\b|\b(?:no|without(?: any)?) heat(?:er|ing)?\b"
)
FAN_ALONE = re.compile(r"\bfan only\b|\b(?:only|just) (?:a |the )?fan\b")
ALL_THE_TIME = re.compile(r"\b(?:the )?(?:whole|entire|all the) (?:time|day|way)\b|\balways\b|\bstraight\b")
SMELLED = re.compile(r"(?:(?:yes|yeah|well|oh),? )?(?:it|they) (?:did|was|were|smelled|smelt)\b(?! not\b)")
NO_PROBLEM = re.compile(r"\bno (?:problem|issue|complaint)s?\b")  # a yes that begins with no
EXACT_DEGREES = re.compile(
    r"(?<![\w.,/-])([0-9]+(?:[.,][0-9]+)?)(?![0-9%/])(?: ?(?:°|degrees?) ?)?(?: ?\b([cf])\b)?(?! ?(?:h|hours?|hrs?|m|min\w*|s|sec\w*|days?|mm|cm|in|inch\w*|lbs?|kg|g|w|watts?)\b)"
)
ROOM_AT = re.compile(  # degrees of a room without their unit
    r"\b(?:kitchen|room|house|garage|cellar|basement|shed)(?:'s| is| was)(?: at)? [0-9]{2}(?=$|[,.;])"
)
SIDES_SHOWN = {"1": "loosely.one_side", "2": "loosely.both_sides"}  # from which air reaches a piece
MOST_OF_IT = re.compile(r"\bmost of (?:it|them|that|the (?:time|hours?))\b")
DECADE = re.compile(
    r"\b(?:(?P<part>low|mid|middle|high|upper)[ -])?(?P<tens>[1-9]|1[01])0'?s\b(?: ?°? ?(?P<unit>[cf])\b)?"
)
PART_OF_TEN = {"low": 4, "mid": 6, "middle": 6}  # the warm end of a part of ten degrees (judgement)
UNMEASURED = {  # by key, what nobody has measured, and what is said of it
    "place": (re.compile(r"\b(?:cars?|trucks?|vans?|pick-?ups?|lorry|campers?|caravans?|boot|trunk|dash ?board|glove ?box)\b"), "place.in_a_car"),
    "pack": (re.compile(r"\btins?\b(?! ?(?:foil|lids?))"), "pack.in_a_tin"),
    "hours_above_4c": (re.compile(rf"(?:{DOUBT.pattern})[^.;!]*\b(?:fridge|refrigerator)\b|\b(?:fridge|refrigerator)\b[^.;!]*(?:{DOUBT.pattern})"), "hours.in_a_fridge"),
}  # fmt: skip
MOST = 4  # readings to choose from (judgement)
UNMEASURED_FRIDGE = ("7 °C", "45 °F")  # judgement, from memory: many kitchen refrigerators run warmer than they should
OWN_FRIDGE = "refrigerator"  # the note that tells how warm the learner's is
FRIDGE = re.compile(r"\b(?:fridge|refrigerator|ice ?box)\b")
CONTRACTED = re.compile(r"\b(was|is|are|did|does|do|has|have|had|were)nt\b", re.IGNORECASE)
ABOVE_WARM = re.compile(
    r"[,;]? *\b(?:and )?(?P<many>none|nothing|never|no time|no hours?|(?:0|zero)(?: h\b| hours?)?|all)(?: of (?:it|them|that|those|(?:these|the|those) hours))? (?:(?:was|were|is|got|went|ever) )*(?:above|over|warmer than|hotter than) (?:21(?! ?°?(?:degrees )?f)|70(?! ?°?(?:degrees )?c))(?![0-9]|[.,][0-9])(?: ?°?(?:degrees )?[cf]\b)?(?: \(\d+ ?°?[cf]\))?"
)
SENTENCE = re.compile(r"[,;.](?![0-9])|\bbut\b")
SKIN = re.compile(r"\b(?:skin\w*|on|off|still|have|has|it|them|with|without)\b")
A_LENGTH = re.compile(rf"[0-9] ?(?:{LENGTH})(?!\w)|[0-9]/[0-9]")
THICKNESS = question_at("cut.thickness")
POND = re.compile(
    r"\b(?:ponds?|tanks?|backyard|aquaponic\w*|(?:i|we) (?:raise|grow|breed)|(?:raised|grown|bred) (?:\w+ ){0,2}(?:myself|ourselves))\b"
)
HOW_FED = re.compile(r"\b(?:pellets?|dry feed|wild|caught|farm\w*|cages?|hunt\w*|insects?)\b")
SAME = re.compile(r"\b(?:same|ditto|as much|likewise)\b")
NONE_AT_ALL = re.compile(r"^(?:no|nope|nah|none|never|zero|zip|nil|nought|nothing)\b(?!.*\b(?:but|except|only|maybe|not sure|an|half|or|idea|clue)\b)")  # fmt: skip
TIMED = re.compile(
    r"(?<![\w.,])[0-9.,/]+ ?(?:h|hours?|hrs?|m|min\w*|days?)\b|^\w+[,;.! ]+[0-9.,/]+\W*$"
)  # a time, or a bare number
NONE_AT_LAST = re.compile(r"[,;.] ?(?:so )?(?:none|zero)$")
ENDED = re.compile(r"^(?:no|nope|nah|nothing|none|that's|thats|that is|done|finished)\b")  # of what goes in


def readings(story: Story, question: Question, text: str) -> tuple[Reading, ...]:
    """What an answer that was not taken may mean, the cautious one first; nothing where it cannot be told."""
    text = CONTRACTED.sub(r"\1n't", " ".join(text.replace("’", "'").split()))
    if not text or len(text) > 1000:
        return ()
    if question.key == "what":
        return _of_a_list(story, question, text)
    if isinstance(question.kind, Measure | Number):
        text = SAID_BEFORE.sub(", ", text).strip(" ,") or text
    text, whole = _of_this_question(question, text), text
    if question.key == "core" and text != whole and (held := _of(story, question, whole, [text])):
        return tuple(replace(one, sure=False) for one in held)
    if (
        found := _none_of_them(story, question, text)
        or _still_frozen(question, text)
        or _of_a_pond(question, text)
        or _of_nobody_measured(story, question, text)
        or _of_two_places(question, text)
        or two_fishes(question, text)
        or _of_ten_degrees(story, question, text)
        or _yes_or_no_to_the_skin(question, text)
        or _of_sizes(story, question, text)
    ):
        return found
    if question.key == "heater" and HEAT_OFF.search(text.casefold()):
        return _of(story, question, text, [NONE])
    if (
        found := _unheated(story, question, whole)
        or can_be(story, finger_thick(story, question, text))
        or _kept_cold(story, question, text)
    ):
        return found
    careful = "" if _looked_at_closer(question, text.casefold()) else reading(story, question, text)
    counted = isinstance(question.kind, Measure | Number)
    if careful == NOT_KNOWN and counted and (amounts := amount_texts(story, question, text)):
        return _of(story, question, text, amounts)
    return (
        _of(story, question, text, [careful] if careful else _texts(story, question, text))
        or _lone_degrees(story, question, text)
        or _smelled_right(question, text)
        or _beside_a_question(story, question, text)
    )


def _beside_a_question(story: Story, question: Question, text: str) -> tuple[Reading, ...]:
    """What else an answer says that asks something in a part of it, to be confirmed."""
    told = QUESTION.sub("", text).strip(" ,.;")
    if not (isinstance(question.kind, OneOf | Flag) and QUESTION.search(text) and told):
        return ()
    found = readings(story, question, told) or _told_plainly(story, question, told)
    return tuple(replace(one, sure=False) for one in found)


def _told_plainly(story: Story, question: Question, text: str) -> tuple[Reading, ...]:
    """An answer that is taken as it stands, as a reading; nothing where it leaves the question open."""
    told = heard(story, question, text).story
    value = told.get(question.place) if told else None
    said = {True: YES, False: NO}.get(value, value) if not question.door else None
    return (plain(question, said),) if isinstance(said, str) else ()


def _smelled_right(question: Question, text: str) -> tuple[Reading, ...]:
    """Fish that is said to have smelled right at another time: not known, unless that is meant of now."""
    said = text.casefold()
    told = question.key == "smells_normal" and SMELLED.match(said) and NO not in named(question, said)
    return tuple(plain(question, one) for one in (NOT_KNOWN, YES)) if told else ()


def _lone_degrees(story: Story, question: Question, text: str) -> tuple[Reading, ...]:
    """The one number of an answer that asks for exact degrees, whatever is said behind it: to be confirmed."""
    said = text.casefold()
    found = EXACT_DEGREES.findall(said)
    clouded = any(one.search(said) for one in (DOUBT, ROUGHLY, UNSURE, BOUND, AROUND_IT))
    if not (hot(question) and question.kind.exact) or len(found) != 1 or clouded:
        return ()
    number, unit = found[0]
    told = f"{number} °{unit.upper()}" if unit else with_unit(story, question, number)
    return can_be(story, [plain(question, told)]) if told and len(re.findall("[0-9.,]*[0-9]", said)) == 1 else ()


def _of_this_question(question: Question, text: str) -> str:
    """An answer without what it plainly says of other questions, such as trays beside degrees."""
    said = text.casefold()
    if question.key == "hours_above_4c" and ABOVE_WARM.search(said):
        return ABOVE_WARM.sub("", said)
    if question.key == "skin":
        return _without_lengths(text)
    if question.key == "core" and HELD.search(said):
        text = as_written(HELD.sub("", said))
        said = text.casefold()
    if hot(question) and DIAL.search(said):
        text = said = DIAL.sub(" ", said)
    if question.place == "dryer.temperature" and (alone := without_the_refused(without_the_ends(said))) != said:
        text = said = alone
    if hot(question) and MORE_THAN_DEGREES.search(said):
        return COUNTED_TRAYS.sub(" ", DAMP.sub(" ", SIDES.sub(" ", text)))
    if hot(question) and COUNTED_TRAYS.search(spoken.numbers(said)):
        return COUNTED_TRAYS.sub(" ", spoken.numbers(said))
    return text


def _without_lengths(text: str) -> str:
    """An answer without the parts that tell a length and say nothing of the skin."""
    said = text.casefold()
    parts = [
        part for part in SENTENCE.split(said) if A_LENGTH.search(in_digits(THICKNESS, part)) and not SKIN.search(part)
    ]
    for part in parts:
        said = re.sub(rf"(?:[,;.]|\bbut\b)?{re.escape(part)}", " ", said)
    return said.strip(" ,;.") or text if parts else text


def _of_a_list(story: Story, question: Question, text: str) -> tuple[Reading, ...]:
    """What goes in, or that nothing more does."""
    found = can_be(story, things(story, question, text))
    ended = not found and question.empty == NO_MORE and ENDED.search(text.casefold())
    return (replace(plain(question, NO_MORE), sure=True),) if ended else found


def _of_sizes(story: Story, question: Question, text: str) -> tuple[Reading, ...]:
    told = sizes(story, question, text) if question.place == "cut.thickness" else []
    return can_be(story, [replace(one, sure=len(text.split()) <= SHORT + 2 or _sizes_alone(text)) for one in told])


def _sizes_alone(text: str) -> bool:
    """Whether nothing stands beside sizes but where they are."""
    left = ONE_NUMBER.sub(" ", in_digits(THICKNESS, text))
    return all(one in BESIDE_SIZES or is_unit(one) for one in re.findall(r"[^\W\d]+", left))


def _none_of_them(story: Story, question: Question, text: str) -> tuple[Reading, ...]:
    """No hours, where an answer begins so and names no time after it."""
    said = text.casefold()
    if question.key not in LONGER_IS_CAREFUL or not NONE_AT_ALL.search(said) or TIMED.search(spoken.numbers(said)):
        return ()
    return _of(story, question, text, ["0"])


def _unheated(story: Story, question: Question, text: str) -> tuple[Reading, ...]:
    """No heater, where that is said instead of degrees: how warm the air is then stays to be asked."""
    said = text.casefold()
    if question.place != "dryer.temperature" or not (HEAT_OFF.search(said) or FAN_ALONE.search(said)):
        return ()
    if DOUBT.search(said) or amount_texts(story, question, _of_this_question(question, text)):
        return ()
    return (Reading((("dryer.heater", NONE),), say("loosely.unheated"), sure=True),)


def _kept_cold(story: Story, question: Question, text: str) -> tuple[Reading, ...]:
    """No warm hours for fish that lay in the refrigerator all the time, where a thermometer bears that out: to be confirmed."""
    said = text.casefold()
    if question.key not in LONGER_IS_CAREFUL or not FRIDGE.search(said) or re.search("[0-9]", spoken.numbers(said)):
        return ()
    if DOUBT.search(said) or BUT.search(said) or not (ALL_THE_TIME.search(said) or NONE_AT_LAST.search(said)):
        return ()
    return (
        replace(plain(question, "0"), shown=say("loosely.cold_enough", cold=show(limits.COLD, "temperature", "both"))),
    )


def _still_frozen(question: Question, text: str) -> tuple[Reading, ...]:
    """Fish that is not thawed yet was thawed in no pack; how to thaw it is said with it."""
    if question.key != "thawed_in_vacuum" or not STILL_FROZEN.search(text.casefold()):
        return ()
    return (replace(plain(question, NO), shown=say("thaw.still_frozen"), sure=len(text.split()) <= SHORT),)


def _of_a_pond(question: Question, text: str) -> tuple[Reading, ...]:
    """Fish of a pond is farmed only where it eats nothing that lives there: parasites come with live food."""
    said = text.casefold()
    if question.key != "origin" or not POND.search(said) or HOW_FED.search(said):
        return ()
    told = (("wild", "origin.hunts"), ("farmed", "origin.fed"))
    return tuple(Reading(((question.place, word),), say(shown)) for word, shown in told)


def _of_nobody_measured(story: Story, question: Question, text: str) -> tuple[Reading, ...]:
    """A car is no cupboard, a tin no jar, and a refrigerator of which nothing is known not cold: not known, before what else
    is told."""
    cue, why = UNMEASURED.get(question.key, (None, ""))
    if cue is None or not cue.search(text.casefold()):
        return ()
    told = {"place": lambda: named(question, cue.sub(" ", text.casefold())), "pack": list}
    others = [plain(question, one) for one in told.get(question.key, lambda: amount_texts(story, question, text))()]
    unknown = replace(plain(question, NOT_KNOWN), shown=say(why), notes=((question.place, text),))
    return (replace(unknown, sure=not others), *others)


def _of_ten_degrees(story: Story, question: Question, text: str) -> tuple[Reading, ...]:
    """The warm end of "the 80s" where that is the cautious one, to be confirmed."""
    found = list(DECADE.finditer(text.casefold()))
    if not hot(question) or not larger(question) or len(found) != 1:
        return ()
    tens, unit = int(found[0]["tens"]), found[0]["unit"] or {"us": "f", "metric": "c"}.get(system_of(story), "")
    if not unit:
        return ()
    degrees = f"{10 * tens + PART_OF_TEN.get(found[0]['part'], 9)} °{unit.upper()}"
    return can_be(story, [replace(plain(question, degrees), shown=say("loosely.warm_end", degrees=degrees))])


def _of_two_places(question: Question, text: str) -> tuple[Reading, ...]:
    """The strictest of several places; the whole answer stays as a note."""
    words = named(question, text.casefold()) if question.key == "place" else []
    if len(words) < 2:
        return ()
    strictest = next(one for one in chosen(question) if one in words)
    shown = say("place.taken_along" if TAKEN_ALONG.search(text.casefold()) else "place.strictest", place=strictest)
    return (Reading(((question.place, strictest),), shown, notes=((question.place, text),)),)


def _yes_or_no_to_the_skin(question: Question, text: str) -> tuple[Reading, ...]:
    """Both that a lone yes or no may mean, asked whether the skin is off or on."""
    if question.key != "skin" or as_said(text) not in (*YES_WORDS, *NO_WORDS, *NONE_WORDS):
        return ()
    told = ((CAREFUL["skin"], "skin.still_on"), ("off", "skin.is_off"))
    return tuple(Reading(((question.place, word),), say(shown)) for word, shown in told)


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
    if question.key == "what" and stands_already(story, question.place, text):
        return Heard(None, None, _of_a_list(story, question, text))
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
    denied = question.key == "smells_normal" and NO_PROBLEM.search(said)
    most_of_it = question.key == "hours_above_21c" and MOST_OF_IT.search(said)
    could_be = isinstance(question.kind, OneOf | Flag) and MAY_BE.search(said)
    doubt = worded and DOUBT.search(said)
    return question.key == "raw_weight" or bool(denied or dated or elsewhere or doubt or could_be or most_of_it)


def _of(story: Story, question: Question, text: str, texts: list[str]) -> tuple[Reading, ...]:
    """Readings of one question; the first of several must be one that can be taken, or there is none."""
    texts = list(dict.fromkeys(texts))[:MOST]
    said = text.casefold()
    sure = len(texts) == 1 and _clear(question, said, texts[0])
    sure = sure and (
        _plain(story, question, said, texts[0]) if question.key in GUARDED else _sure(question, said, texts[0])
    )
    guess = question.key == "amount" and GUESSED.search(said)
    found = [
        replace(
            plain(question, one),
            sure=sure and not guess,
            shown=say("ingredient.guess", amount=one)
            if guess
            else _shown(question, one)
            if len(texts) == 1
            else _one_of(question, one),
        )
        for one in texts
    ]
    if not found or not can_be(story, found[:1]):
        return ()
    return can_be(story, found)


def _clear(question: Question, said: str, text: str) -> bool:
    """Whether an answer is short, or long and can hardly be misread: one number of the kind asked, nothing denied or
    mended, or the word in its beginning."""
    words = said.split()
    if len(words) <= SHORT or text in (NOT_KNOWN, CAREFUL.get(question.key), *UNMEASURED_FRIDGE):
        return True
    if question.names:
        return text.casefold().partition(", ")[0] in re.split(r"[,;.]", said)[0]
    if question.key == "tray_area":
        return numbers_in(said) == numbers_in(text)
    if question.key != "faces" and isinstance(question.kind, Measure | Number):
        denied = question.key in GUARDED and text != "0" and TURNED.search(said)
        return one_or_a_range(question, in_digits(question, said)) and not (MENDED.search(said) or denied)
    begins = " ".join(words[:SHORT])
    return text.casefold() in begins or text in named(question, begins) or begins.startswith(("yes", "no"))


def _one_of(question: Question, text: str) -> str:
    """What to show of one of several readings: of the sides in words, as beside a letter a number alone is unclear."""
    return say(SIDES_SHOWN[text]) if question.key == "faces" and text in SIDES_SHOWN else _shown(question, text)


def _shown(question: Question, text: str) -> str:
    """What to show of a reading: of a round tray its area too."""
    if text in UNMEASURED_FRIDGE:
        return say("loosely.fridge", degrees=text)
    if question.key == "tray_area" and "round" in text:
        return say("tray.round", across=text, area=show(read_amount(text, "area", "tray_area").value, "area", "both"))
    return plain(question, text).shown


def can_be(story: Story, found) -> tuple[Reading, ...]:
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
        return True
    if question.key == "raw_weight" and how_to_tell(question, said):
        return False  # that of whole fish
    if SAME.search(said) and question.key in ("amount", "temperature") and not re.search("[0-9]", said):
        return not (DOUBT.search(said) or GUESS.search(said))
    if (not question.door and SAME.search(said) and not re.search("[0-9]", said)) or (
        text == NIGHT and not re.search("[0-9]", said)
    ):
        return False
    if text in UNMEASURED_FRIDGE:
        return not doubted(said)
    if question.key == "heater" and (DOUBT.search(said) or GUESS.search(said)):
        return False  # more watts dry sooner: a guess of them is confirmed
    if BOUND.search(said) and not re.search(r"\b(?:say|so|call it)\b", said):
        return False
    if BUT.search(said) and not question.door:
        return False
    if isinstance(question.kind, OneOf | Flag) and MAY_BE.search(said):
        return False
    if question.door:
        lead = re.match(r"(?:no|nope|nah|none|not)\b", said)
        return bool(lead) or only_wiped(said) if text == NO else True
    if text == CAREFUL.get(question.key):
        return bool(named(question, said))
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
    if question.key in ("gutted", "smells_normal") and said.startswith(text) and named(question, said) == [text]:
        return not (DOUBT.search(said) or GUESS.search(said))
    own = ("gutted", "smells_normal", "thawed_in_vacuum")
    if text == CAREFUL.get(question.key) and question.key not in own and named(question, said):
        return True
    if question.key == "hours_above_21c" and text == "0" and ABOVE_WARM.fullmatch(said.strip(" .!")):
        return True
    if question.key == "hours_above_21c" and text == str(story.get("fish.hours_above_4c")):
        return True  # all of them
    if question.key in ("gutted", "smells_normal") and named(question, said) == [text] and not doubted(said):
        turned = text == YES and TURNED.search(re.sub(r"\bnothing (?:else|wrong|bad)\b", " ", said))
        return not turned or plain_word(question, said, text)
    if isinstance(question.kind, OneOf | Flag) or question.key == "faces":
        return plain_word(question, said, text)
    if question.names:
        return plain_name(said, text) and not (question.key == "species" and no_composition(question, said))
    if question.key == "hours_above_21c" and (unit := {"us": "f", "metric": "c"}.get(system_of(story))):
        said = ROOM_AT.sub(rf"\g<0> {unit}", said)
    return plain_amount(question, said, text, len(ONE_NUMBER.findall(in_digits(question, said))))


def _texts(story: Story, question: Question, text: str) -> list[str]:
    kind, said = question.kind, text.casefold()
    if question.names:
        return names_in(question, text)
    if isinstance(kind, OneOf | Flag) or question.key == "faces":
        return words_of(question, said)
    hours = story.get("fish.hours_above_4c") if question.key == "hours_above_21c" else None
    if hours is not None and MOST_OF_IT.search(said) and not amount_texts(story, question, text):
        return [str(hours)]
    if question.key in LONGER_IS_CAREFUL and NONE_AT_LAST.search(said) and not amount_texts(story, question, text):
        return ["0"]
    if (
        getattr(kind, "may_be_none", False)
        and re.search(r"^(?:no|nothing|without)\b|\bnone\b|\bno heat(?:er)?\b|\bheat(?:er)?(?:'s| is)? off\b", said)
        and not DOUBT.search(said)
    ):
        return [NONE]
    if SAME.search(said) and not re.search("[0-9]", said) and (before := _told_before(story, question)):
        return [before]
    if question.key == "temperature" and larger(question) and FRIDGE.search(said) and not re.search("[0-9]", said):
        return [story.notes.get(OWN_FRIDGE) or UNMEASURED_FRIDGE[system_of(story) == "us"]]
    return amount_texts(story, question, text) if isinstance(kind, Measure | Number) else []


def _told_before(story: Story, question: Question) -> str:
    """What "the same" means: the amount of the ingredient before, or the degrees of the salting."""
    row, _, key = question.place.rpartition(".")
    above, _, number = row.rpartition(".")
    if key == "amount" and number.isdigit():
        return str(story.get(f"{above}.{int(number) - 1}.amount") or "") if int(number) > 1 else ""
    return str(story.get("brine.temperature") or "") if key == "temperature" and row in ("rest", "presoak") else ""
