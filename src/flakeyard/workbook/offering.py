"""What may be meant by an answer that cannot be taken as it is: a reading inside it, to be offered and never just taken.

Extra words are left out ("garage fridge", "4 racks", "wild, I caught it"); what the person confirms then goes through
`telling.tell` like any other answer. Where an answer can be read in two ways nothing is offered that would be the milder
one: of a range the cautious end where there is one, of two different amounts or names nothing at all.
"""

from __future__ import annotations

import re

from flakeyard import refused
from flakeyard.steps.intent.fields import NOT_KNOWN, Flag, Measure, Number, OneOf
from flakeyard.units import InputError
from flakeyard.workbook.as_value import FLAG_WORDS, LONGER_IS_CAREFUL
from flakeyard.workbook.one_amount import A_HALF_MORE, amount_meant, amount_spans, mixed, with_unit
from flakeyard.workbook.one_word import choice_meant, door_meant, flag_meant, leading, name_meant
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO, NO_MORE, NO_WORDS, OPEN_WORDS, YES, YES_WORDS
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.telling import tell
from flakeyard.workbook.which_units import system_of

ACCEPTED, DECLINED = ("", *YES_WORDS), (*NO_WORDS, "wrong", "not that")  # what may be said to an offer
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
IN_A_PACK = re.compile(r"vacuum|pack|bag|wrapp|seal|pouch")
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
FROZEN_THEN = re.compile(r"\b(?:then|and|but) (?:\w+ ){0,2}froze\b|\bthen frozen\b")


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
    found = found or with_unit(story, question, said)
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
        return name_meant(question, text.casefold(), text) or text
    spans = list(amount_spans(question, text)) if isinstance(question.kind, Measure) else []
    if not spans:
        return with_unit(story, question, text.casefold(), anything=True) or text
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


def _said_of(question: Question, said: str) -> str:
    """What the words of a cook come to, for the places that `SAID_OF` lists."""
    lead = leading(said)[0] if question.door else ""
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
    return NO_MORE if question.empty == NO_MORE and leading(said)[0] == NO else ""


def _all_the_time(story: Story, question: Question, said: str) -> str:
    """The hours told before, for "all of them"."""
    hours = story.get("fish.hours_above_4c")
    all_of_them = question.key == "hours_above_21c" and re.match(
        r"(?:all\b|the whole (?:time|hour|day)|the same)", said
    )
    return str(hours) if all_of_them and hours is not None else ""


def _of_kind(question: Question, said: str, text: str) -> str:
    if isinstance(question.kind, Flag):
        found = flag_meant(said, *FLAG_WORDS.get(question.key, ((), ())))
        kept_tight = (
            question.key == "thawed_in_vacuum" and found == NO and IN_A_PACK.search(said.replace("unwrapped", ""))
        )
        return "" if kept_tight else found
    if isinstance(question.kind, OneOf):
        if question.key == "stock" and FROZEN_THEN.search(said) and not RAW.search(said):
            return question.kind.words[1]  # what it was before is no longer so
        return (door_meant(question, said) if question.door else "") or choice_meant(question.kind, said)
    if question.names:
        return name_meant(question, said, text)
    return amount_meant(question, text) if isinstance(question.kind, Measure | Number) else ""
