"""All that one answer tells, joined to one reading: it is confirmed in one go, never twice; and which long answers need no
confirming because nothing is left over in them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from flakeyard import limits, refused, spoken
from flakeyard.messages import say
from flakeyard.steps.intent.fields import NOT_KNOWN, SOAKS
from flakeyard.units import InputError
from flakeyard.workbook.amounts_in import plain_amounts
from flakeyard.workbook.asking import question_at, questions
from flakeyard.workbook.grouped import complete
from flakeyard.workbook.loosely import MENDED
from flakeyard.workbook.meant import Reading, plain
from flakeyard.workbook.plainly import BOUND, DOUBT, GUARDED, GUESS, TURNED
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO_MORE, NO_WORDS, YES_WORDS
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.summing_up import label
from flakeyard.workbook.together import also, to_confirm
from flakeyard.workbook.unasked import PLACE as VERY_WARM
from flakeyard.workbook.words_in import names_in, without_fish

SEEN = ("faces", "skin")  # keys that are read only where they are said plainly, and are seen at a glance
WARMEST = "fish.warmest"
ELSEWHERE = re.compile(
    r"\b(?:then|after\w*|before|until|till|later|and|sun|car|truck|boot|trunk|boat|outside|outdoors)\b"
)
NOBODY = re.compile(r"\b(?:no idea|no clue|don't know|not sure)\b")
BESIDE_YES = frozenset(
    ["how", "it", "is", "the", "a", "cold", "warm", "that", "that's", "s", "right", "correct", "good", "fine", "exactly", "in", "of", "and", "ok", "okay", "please", "thanks", "i", "said", "so", "as", "this", "all"]
)  # fmt: skip
AGREES = (
    *YES_WORDS,
    "ok",
    "okay",
    "fine",
    "right",
    "correct",
    "exactly",
    "alright",
)  # to what is offered; elsewhere no answer
HAS_PROBE = re.compile(
    r"\b(?:i|we)(?:'ve| have)?(?: got)? (?:a|one|my) (?:(?:meat|kitchen|food|digital|thin|instant|read|good)[ -]){0,3}(?:thermometer|probe)\b"
)
TOLD_YOU = re.compile(r"^(?:like |as )?i (?:already )?(?:said|told you)(?: (?:so|that|it))?\b[,.;:]* *", re.IGNORECASE)
RIGHT = re.compile(  # a yes in other words
    r"^(?:(?:that|it|this|all|everything|the rest|all the rest)(?:'s| is| all)? )?(?:(?:looks?|sounds?|seems?|is) )?(?:all |about |just |quite )?(?:right|good|fine|correct|ok|okay)(?= *(?:[,.;:!]|$))"
)
LESS = re.compile(r"\b(?:less|more|only|half|double|twice|another)\b")  # of what was told
TELL_ME = re.compile(r"[,;.]* *(?:but |and )?(?:tell me|let me know|say so)\b.*$")  # a wish beside a yes
NOT_AT_ALL = frozenset(["no", "not", "never", "none", "without", "t"])
YES_AND = re.compile(rf"(?:{'|'.join(YES_WORDS)})\b[,.;:!]* *(?:but|and)?\b *", re.IGNORECASE)
WILL_DO_SO = re.compile(  # behind a yes
    r"(?:i can do (?:that|it|so)|(?:i|we|i'll|we'll|let's|lets)(?: will| shall)? do (?:that|it|so)|will do|sounds (?:good|fine|right|great)|works for me)\b"
)
HOW_TO = re.compile(  # a sentence of its own that asks how it is done, and proposes nothing else
    r"(?<=[.!;]) *(?:and |so |but )?(?:how|where|why) (?:do|does)\b(?:(?!\b(?:not|no|never|without|if|or|instead|rather|only|just|n't)\b)[^.!?0-9])*\?$"
)
BUT = re.compile(r"\b(?:but|except|although|though|or)\b")
NUMBER = re.compile(r"[0-9]+(?:[.,/][0-9]+)?")


def joined(story: Story, question: Question, text: str, reading: Reading) -> Reading:
    """A reading that has to be confirmed, with all else that the answer tells, also in passing."""
    if reading.rest or (question.place, NOT_KNOWN) in reading.told:
        return reading
    now, told, shown, notes = reading.put_in(story), list(reading.told), [reading.shown], list(reading.notes)
    for found in besides(now, question, text):
        try:
            now = found.put_in(now)
        except InputError:
            continue
        told += found.told
        notes += found.notes
        shown.append(found.shown)
    if ended := _ended(now, question.section):
        told += ended.told
        shown.append(ended.shown)
    return replace(reading, told=tuple(told), shown="; ".join(shown), notes=tuple(notes))


def besides(story: Story, question: Question, text: str) -> Iterator[Reading]:
    """What an answer tells of other questions, plainly or in passing, each with its name."""
    text = without_fish(question, text) if question.key == "species" else text
    if found := also(story, question, text):
        yield found
        story = found.put_in(story)
    passing = to_confirm(story, question, text)
    if question.key == "hours_above_4c" and VERY_WARM not in passing:
        passing |= _never_very_warm(story, text)
    for place, found in passing.items():
        if not story.answered(place):
            yield replace(found, shown=label(question_at(place), found.shown))


def _never_very_warm(story: Story, text: str) -> dict[str, Reading]:
    """That none of the hours was above `limits.WARM`, where the one warmth told is no more than that."""
    said = text.casefold()
    found = plain_amounts(story, question_at(WARMEST), said)
    values = {round(one.value, 6) for one in found}
    unclear = (
        story.answered(VERY_WARM)
        or ELSEWHERE.search(said)
        or BOUND.search(said)
        or DOUBT.search(said)
        or MENDED.search(said)
    )
    if len(values) != 1 or unclear or max(values) > limits.WARM + 1e-6:
        return {}
    return {VERY_WARM: plain(question_at(VERY_WARM), "0")}


def _ended(story: Story, section: str) -> Reading | None:
    """That nothing else goes in, where a whole list was told."""
    if section not in SOAKS or not complete(story, section):
        return None
    more = [one for one in questions(story) if one.section == section and one.empty == NO_MORE]
    still = [one.place for one in more if not story.answered(one.place)]
    return Reading(((still[0], NO_MORE),), say("joined.nothing_else")) if still else None


def accounted_for(reading: Reading, text: str) -> bool:
    """Whether nothing in an answer but what was read can matter, and none of what was read decides a verdict."""
    keys = {place.rpartition(".")[2] for place, _ in reading.told}
    return keys.isdisjoint(set(GUARDED) - set(SEEN)) and accounted(reading, text)


def accounted(reading: Reading, text: str) -> bool:
    """Whether nothing is left over in an answer but what was read: no other number, nothing denied, mended or doubted."""
    said = spoken.numbers(" ".join(text.casefold().split()))
    read = NUMBER.findall(" ".join(spoken.numbers(one.casefold()) for _, one in reading.told))
    left = [one for one in NUMBER.findall(said) if one not in read]
    clouded = (BUT, MENDED, DOUBT, GUESS, TURNED, BOUND)
    return not left and not any(one.search(re.sub(r"(?<=[0-9]) ?min\b", "", said)) for one in clouded)


def fish_agreed(readings: tuple[Reading, ...], question: Question, wish: str) -> Reading | None:
    """The fish that is offered, where a yes is followed by more that names no other one and denies nothing."""
    lead = YES_AND.match(wish)
    told = [one for one in readings[0].told if one[0] == question.place] if len(readings) == 1 else []
    if question.key != "species" or not lead or not told:
        return None
    more = wish[lead.end() :]
    clouded = any(one.search(more) for one in (MENDED, DOUBT, TURNED))
    if clouded or refused.fish(more) or set(names_in(question, more)) - {told[0][1]}:
        return None
    return plain(question, told[0][1])


def things_told(reading: Reading) -> Reading | None:
    """What goes in by a reading of more, as a reading of its own; None where it tells of nothing."""
    told = tuple(one for one in reading.told if ".ingredient." in one[0] and one[1] != NO_MORE)
    names = {place.rpartition(".")[0]: text for place, text in told if place.endswith(".what")}
    much = {place.rpartition(".")[0]: text for place, text in told if place.endswith(".amount")}
    if not told or not told[0][0].endswith(".what"):
        return None
    return Reading(told, "; ".join(f"{text}, {much[row]}" if row in much else text for row, text in names.items()))


def things_besides(question: Question, typed: str) -> str:
    """What stands behind a yes to a list of what goes in, where it takes nothing of the list back; "" elsewhere."""
    lead = YES_AND.match(typed) if question.key == "what" else None
    more = typed[lead.end() :].strip() if lead else ""
    return "" if any(one.search(more.casefold()) for one in (TURNED, MENDED, DOUBT, LESS)) else more


def unopposed(question: Question, typed: str) -> bool:
    """Whether an answer says nothing against what was offered: no number, no other name, nothing denied, mended or doubted."""
    said = typed.replace("’", "'").casefold()
    against = any(one.search(said.replace("?", " ")) for one in (TURNED, MENDED, DOUBT, BUT))
    other = refused.fish(said) or names_in(question, said) if question.names and question.key != "what" else None
    return not (against or other or question.key == "what" or NUMBER.search(spoken.numbers(said)))


def yes_and_more(question: Question, offered: Reading, typed: str) -> str:
    """What stands behind a yes to an offer that decides no verdict, where it says nothing against it; "" elsewhere."""
    guarded = any(place.rpartition(".")[2] in set(GUARDED) - set(SEEN) for place, _ in offered.told)
    lead = None if guarded else YES_AND.match(typed)
    more = typed[lead.end() :].strip() if lead else ""
    return more if more and unopposed(question, more) else ""


def said_again(reading: Reading, rest: str) -> str:
    """What is left of an answer that mended a part of an offer: a yes where it only repeats the offer, nothing where it is a no."""
    rest = TOLD_YOU.sub("", rest).strip(" ,.")
    if rest in NO_WORDS:
        return ""
    said = set(re.findall(r"[^\W_]+", reading.shown.casefold())) | BESIDE_YES | {"rest", "yes", "ok"}
    repeats = rest and set(re.findall(r"[^\W_]+", rest.casefold())) <= said - NOT_AT_ALL
    return "yes" if repeats else rest


def agreed(readings: tuple[Reading, ...], wish: str) -> Reading | None:
    """The one reading that is offered, where an answer says yes and then nothing but words of it; doubt
    beside it takes nothing back where no verdict hangs on it. Who agrees to do it may then ask how."""
    wish = RIGHT.sub("yes", TOLD_YOU.sub("", wish.replace("’", "'")))
    first, _, rest = TELL_ME.sub("", wish).partition(" ")
    if agreement := WILL_DO_SO.match(rest):
        rest = HOW_TO.sub("", rest[agreement.end() :])
    if len(readings) == 1 and ("heat.checked", "probe") in readings[0].told:
        rest = HAS_PROBE.sub(" ", rest)
    if len(readings) != 1 or first.strip(",.;:!") not in AGREES or BUT.search(rest) or MENDED.search(rest):
        return None
    guarded = any(place.rpartition(".")[2] in GUARDED for place, _ in readings[0].told)
    rest = rest if guarded else NOBODY.sub(" ", rest)
    said = set(re.findall(r"[^\W_]+", readings[0].shown.casefold())) | BESIDE_YES
    return readings[0] if set(re.findall(r"[^\W_]+", rest)) <= said - NOT_AT_ALL else None
