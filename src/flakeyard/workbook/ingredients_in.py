"""What goes in: every salt, sugar, liquid and spice of a list, with how much of it where that is said."""

from __future__ import annotations

import re
from dataclasses import replace

from flakeyard import refused, tables
from flakeyard.messages import say
from flakeyard.steps.intent.fields import INGREDIENT
from flakeyard.units import InputError, is_unit
from flakeyard.workbook.amounts_in import OF_EACH_WEIGHT, Found, amounts, guesses, in_digits
from flakeyard.workbook.as_value import soy_sauce
from flakeyard.workbook.meant import Reading
from flakeyard.workbook.one_word import record_named
from flakeyard.workbook.question import Question
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.span import LONGEST
from flakeyard.workbook.told_again import MORE_OF_IT, Thing, put_down, salty

OTHER_LIQUID = "sauce or drink, salt not known"
STOP = frozenset(
    ["a", "an", "the", "some", "of", "my", "our", "your", "and", "or", "with", "in", "into", "on", "to", "for", "it", "is", "its", "i", "we", "use", "put", "add", "then", "also", "plus", "just", "only", "well", "maybe", "about", "little", "bit", "pinch", "dash", "few", "handful", "head", "clove", "cloves", "bunch", "sprig", "splash", "each", "nothing", "no", "not", "yes", "from", "that", "this", "them", "one", "two", "three", "fresh", "dried", "ground", "crushed", "chopped", "cracked", "powder", "seeds", "seed", "good", "big", "small", "lot", "lots", "cup", "spoon", "enough", "cover", "so", "say", "else", "more", "other", "too", "very", "all", "over", "used", "than", "bag", "bags", "packet", "said", "same", "usual", "normal", "plain", "kind", "type", "twist", "taste", "needed", "fish", "was", "were", "have", "has", "got", "make", "made", "take", "took", "much", "need", "needs"]
)  # fmt: skip
QUESTION = re.compile(  # of the learner: nothing in it goes in
    r"(?:^|(?<=[.!;?,])) *(?:and |but |so )?(?:how|why|what|which|is|are|do|does|should|can|could|would)\b(?:[^.!;?,]|[.,](?=[0-9]))*\?"
)
PLAIN_SALT = frozenset(
    ["coarse", "fine", "table", "sea", "rock", "kosher", "pickling", "canning", "cooking", "kitchen", "plain", "normal", "ordinary", "white", "dry", "iodized", "iodised"]
)  # fmt: skip
PART_OF = re.compile(
    r"\b(?:half|third|quarter|part|most|some|over|than)\b"
)  # what is left of such words: no whole amount
DRY_SPICE = re.compile(r"\b(?:seasoning|spices?|herbs?|powder|flakes|seeds?|lea(?:f|ves)|zest|peel|pepper\w*)$")
SALTY_SAUCE = re.compile(r"\b(?:sauces?|soya?|shoyu|tamari)\b")
MIXED = re.compile(r"\b(?:substitute|low|lite|light|reduced|free|less|potassium|cur\w+|pink|nit\w+|season\w*|mix\w*|blend|rub|celery)\b")  # fmt: skip


def salt_mixed(words: str) -> bool:
    """Whether words tell of a salt with something else in it, which may be neither left out nor taken for water."""
    said = words.casefold()
    return bool(MIXED.search(said)) and not SALTY_SAUCE.search(said)


def unknown_things(story: Story, section: str, words: str) -> tuple[Reading, ...]:
    """What something may be that no table knows: a liquid, which counts as water, or a spice, which counts as nothing."""
    place = f"{section}.ingredient.{len(story.get(f'{section}.ingredient') or []) + 1}.what"
    flavour = f"{section}.flavour"
    kept = "; ".join(filter(None, [story.notes.get(flavour, ""), words]))
    liquid = Reading(((place, OTHER_LIQUID),), say("loosely.liquid"), notes=((f"{section}.unknown", words),))
    spice = Reading((), say("loosely.spice"), notes=((flavour, kept),))
    nothing = Reading((), say("loosely.left_out"))
    return (spice, liquid, nothing) if DRY_SPICE.search(words.casefold()) else (liquid, spice, nothing)


def things(story: Story, question: Question, text: str) -> list[Reading]:
    """Every salt, sugar, liquid and spice of a list, with how much of it where that is said; what stands already is not
    added again, and where another amount of it is told it is asked back which one counts."""
    if refused.substance(text):
        return []
    named, unknown = _named(story, question, soy_sauce(text))
    return put_down(story, question.place, named, ", ".join(unknown)) if named else []


def _named(story: Story, question: Question, text: str) -> tuple[list[Thing], list[str]]:
    """The things that a list names, in its order, and the words that nobody knows."""
    place = f"{question.place.rpartition('.')[0]}.amount"
    amount = Question(place, question.section, "ingredient.amount", INGREDIENT["amount"], "160 g", "1/2 cup")
    named: list[Thing] = []
    unknown: list[str] = []
    text = _not_denied(QUESTION.sub(" ", text))
    guessed = guesses(amount, text)
    for part in _parts(in_digits(amount, text)):
        names, left = _of_part(question, part)
        unknown += left
        found = amounts(story, amount, part) if not OF_EACH_WEIGHT.search(part) and not PART_OF.search(part) else []
        if not names and len(found) == 1 and named and not named[-1].much and re.match(r"\s*[0-9]", part):
            named[-1] = replace(named[-1], much=found[0].text, guess=found[0].text in guessed)  # "salt, half a kilo"
            continue
        more = bool(MORE_OF_IT.search(part))
        for name, begin, end in names:
            much = _much(part, found, begin, end, alone=len(names) == 1)
            named.append(Thing(name, much, more, guess=much in guessed))
    return named, unknown


def _parts(said: str) -> list[str]:
    """A list in its parts; of "its salt. Kosher salt" only what is told last."""
    said = re.sub(r"^(?:it'?s|that'?s|its|thats) (?:a )?salt[.,;] *(?=.*salt)", "", said)
    return re.split(r"(?<![0-9]),|,(?![0-9])|[;+&]|\b(?:and|plus|with|then|in|into)\b|\. ", said)


def _not_denied(text: str) -> str:
    """A sentence without its clauses that say what does not go in: "I don't hold with sugar"."""
    clauses = re.split(r"[,;](?![0-9])", text)
    return ",".join(one for one in clauses if not re.search(r"n't\b|\bnever\b", one.casefold()))


def _much(part: str, found: list[Found], begin: int, end: int, alone: bool) -> str:
    """How much of a thing: the amount right before it, or the only one beside the only thing."""
    before = [
        one
        for one in found
        if re.fullmatch(r" *(?:of|of the|the)? *(?:\w+ )?", part[one.end : begin]) and one.end <= begin
    ]
    if len(found) == 1 and alone:
        return found[0].text
    return before[-1].text if before and len(found) <= 4 and not alone else ""


def _of_part(question: Question, part: str) -> tuple[list[tuple[str, int, int]], list[str]]:
    """Names of the table in a part of a list, with where they stand; and words that nobody knows."""
    if re.search(r"\b(?:no|without|not|never|neither)\b|n't\b", part) and not re.match(r"\s*no[,;]", part):
        return [], []
    words = [(one.start(), one.end()) for one in re.finditer(r"[^\s:()/.]+", part)]
    spans: list[tuple[int, int, str]] = []
    for length in range(min(LONGEST, len(words)), 0, -1):
        for first in range(len(words) - length + 1):
            begin, end = words[first][0], words[first + length - 1][1]
            if all(end <= a or begin >= b for a, b, _ in spans) and record_named(question, part[begin:end]):
                spans.append((begin, end, part[begin:end]))
    spans.sort()
    left = [part[a:b] for a, b in words if all(b <= c or a >= d for c, d, _ in spans)]
    unknown = [
        one for one in left if one not in STOP and not re.search(r"[0-9]", one) and not is_unit(one) and len(one) > 2
    ]
    brought = any(salty(tables.ingredient(name)) for *_, name in spans)
    if (brought and MIXED.search(part)) or any(one not in PLAIN_SALT for one in _before_salt(part, spans)):
        return [], [part.strip()]
    names = [(name, begin, end) for begin, end, name in spans]
    return names, [" ".join(unknown)] if unknown and not names else []


def _before_salt(part: str, spans) -> list[str]:
    """The word right before a salt, or the spice, where it makes another thing of it: "garlic salt", "magic salt"."""
    told = []
    for begin, _end, name in spans:
        if tables.ingredient(name).kind == "salt":
            word = re.search(r"([^\W\d]+) $", part[:begin])
            brand = name.startswith("kosher") and word and not _known(word[1])
            if word and word[1] not in STOP and not is_unit(word[1]) and not brand:
                told.append(word[1])
    return told


def _known(word: str) -> bool:
    """Whether a word is something of the table."""
    try:
        return bool(tables.ingredient(word))
    except InputError:
        return False
