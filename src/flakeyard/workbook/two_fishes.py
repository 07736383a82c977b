"""Two kinds of fish in one answer, "haddock or cod": which one it is stays to be told, and neither is lost."""

from __future__ import annotations

import re

from flakeyard import refused, tables
from flakeyard.messages import say
from flakeyard.steps.intent.fields import NOT_KNOWN
from flakeyard.workbook.asking import question_at
from flakeyard.workbook.meant import Reading, plain
from flakeyard.workbook.plainly import BESIDE
from flakeyard.workbook.question import Question
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.words_in import names_in, records_in, usable_fish

BETWEEN = re.compile(
    r"[\s,(]+(?P<word>or|and|maybe|perhaps|possibly)\b(?:[\s,(]+(?:or|maybe|perhaps|possibly|probably|it's|is|an?|even|the|some)\b)*[\s,(]+",
    re.IGNORECASE,
)
BOTH = re.compile(r"\b(?:both|together)\b", re.IGNORECASE)
AND = re.compile(r"\b(?:and|plus)\b|[&+]", re.IGNORECASE)
OR = re.compile(r"\b(?:or|maybe|perhaps|possibly|probably|might|not sure)\b")
SPECIES = "fish.species"
NO_FISH = BESIDE | frozenset(["so", "something", "similar", "thereabouts", "whatever", "such", "more", "less", "not", "skin", "half", "bones", "other", "another", "white", "fish", "like", "two", "three", "four"])  # fmt: skip
WORD = re.compile(r"[^\W\d][\w'-]{2,}")
PASSES = BESIDE | frozenset(
    ["think", "guess", "suppose", "reckon", "believe", "might", "could", "maybe", "perhaps", "probably", "be"]
)
MOST = 5  # fishes to choose from (judgement)


def two_fishes(question: Question, text: str) -> tuple[Reading, ...]:
    """Every fish that an answer leaves open, also one that no plan can be made with; nothing where it names only one."""
    if question.key != "species" or refused.fish(text):
        return ()
    named: dict[str, None] = {}
    for found in BETWEEN.finditer(text):
        named |= dict.fromkeys(_of_both_sides(question, text, found))
    if len(named) < 2:
        return ()
    known = [name for name in named if name in question.names or _is_usable(question, name)]
    known.sort(key=lambda name: name.casefold() not in text.casefold())  # the words themselves first
    unknown = [name for name in named if name not in known]
    other = [_unknown(question, name, text) for name in unknown]
    return (*(plain(question, name) for name in known[:MOST]), *other) if known else ()


def of_both(question: Question, text: str) -> bool:
    """Whether an answer tells of several kinds, and does not only leave open which one it is."""
    said = text.casefold()
    joined = AND.search(said) and not OR.search(said)
    return question.key == "species" and bool(joined or BOTH.search(said)) and len(records_in(question, text)) > 1


def wants_both(question: Question, text: str) -> bool:
    """Whether an answer to which of several kinds it is wants both of them, and names none."""
    return question.key == "species" and bool(BOTH.search(text)) and not records_in(question, text)


def weight_of_more(story: Story, question: Question, text: str) -> str:
    """What to say where a weight is told of another kind of fish too; "" elsewhere."""
    kind = story.get(SPECIES)
    if question.key != "raw_weight" or kind is None:
        return ""
    others = [one for one in records_in(question_at(SPECIES), text) if tables.species(one) != tables.species(kind)]
    return say("weight.of_more", fish=kind) if others and (BOTH.search(text) or AND.search(text)) else ""


def _of_both_sides(question: Question, text: str, found: re.Match) -> list[str]:
    """The fishes right before and right behind an "or"; none where neither side names one."""
    left = re.split(r"[,;.:]", text[: found.start()])[-1]
    right = re.split(r"[,;.:]", text[found.end() :])[0]
    before, after = _next_to(question, left, last=True), _next_to(question, right, last=False)
    if not (before or after):
        return []
    sure = found["word"].casefold() != "and"
    return [*(before or _only_a_word(question, left, -1, sure)), *(after or _only_a_word(question, right, 0, sure))]


def _next_to(question: Question, side: str, last: bool) -> list[str]:
    """The fish of the table that one side ends or begins with, but for words that leave it what it is."""
    for name in records_in(question, side):
        begin, _, end = side.casefold().partition(name.casefold())
        if all(word in PASSES for word in WORD.findall(end if last else begin)):
            return [name]
    return []


def _only_a_word(question: Question, side: str, at: int, sure: bool) -> list[str]:
    """The fishes that the one word beside an "or" begins, else that word itself."""
    words = re.findall(r"[\w'-]+", side.casefold())
    if not words or words[at] in NO_FISH or not WORD.fullmatch(words[at]):
        return []
    return names_in(question, words[at]) or [words[at]] * sure


def _is_usable(question: Question, name: str) -> bool:
    return bool(records_in(question, name)) and usable_fish(name)


def _unknown(question: Question, name: str, text: str) -> Reading:
    """A fish that no plan can be made with: it stays open."""
    shown = say("species.unknown_one", fish=name)
    return Reading(((question.place, NOT_KNOWN),), shown, notes=((question.place, text),))
