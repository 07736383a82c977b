"""Several things told in one answer: what else a sentence says of questions that are still open.

`also` looks in an answer that was taken for what the questions after it ask, where that is said plainly and in an amount
of another kind; nothing is read twice, and nothing where there is doubt.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from flakeyard.messages import say
from flakeyard.steps.intent.fields import NOT_KNOWN, Flag, Measure, OneOf
from flakeyard.units import InputError, is_unit
from flakeyard.workbook.amounts_in import (
    COUNTED_TRAYS,
    DAMP,
    LENGTH,
    NIGHT,
    NUM,
    amounts,
    as_written,
    in_digits,
    plain_amounts,
)
from flakeyard.workbook.asking import question_at, questions
from flakeyard.workbook.by_finger import AS_THICK
from flakeyard.workbook.in_passing import told_in_passing
from flakeyard.workbook.loosely import ABOVE_WARM, FAN_ALONE, FRIDGE, HEAT_OFF, can_be, heard
from flakeyard.workbook.meant import Reading
from flakeyard.workbook.one_amount import value_of
from flakeyard.workbook.plainly import (
    AROUND_IT,
    BOUND,
    CLEAR,
    DOUBT,
    GUARDED,
    GUESS,
    ROUGHLY,
    TURNED,
    clear_words,
    doubted,
    numbers_in,
    plain_word,
)
from flakeyard.workbook.question import Question
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.summing_up import label
from flakeyard.workbook.unasked import PLACE as VERY_WARM
from flakeyard.workbook.which_units import system_of

FOLLOWING = {  # by key of the answer (or section of a door), the keys that may be told with it
    "species": ("raw_weight", "origin", "stock", "gutted", "smells_normal", "skin"),
    "raw_weight": ("origin", "stock", "gutted", "smells_normal", "skin"), "origin": ("stock", "gutted", "smells_normal", "skin"),
    "stock": ("origin", "frozen_at", "gutted", "smells_normal", "skin"), "hours_above_4c": ("hours_above_21c", "warmest", "gutted", "smells_normal"), "gutted": ("smells_normal", "skin"),
    "smells_normal": ("gutted",), "form": ("thickness", "skin"), "thickness": ("skin",), "skin": ("thickness",),
    "presoak": ("time", "temperature"), "brine": ("time", "temperature", "what"), "what": (), "time": ("temperature",), "rest": ("time", "temperature"),
    "freshen": ("water", "time", "temperature"), "water": ("time", "temperature"), "heat": ("core", "checked"), "core": ("checked",),
    "dryer": (), "temperature": ("trays", "tray_area", "faces", "heater", "moving", "relative_humidity"),
    "trays": ("tray_area", "faces", "heater", "moving"), "tray_area": ("faces", "heater", "moving", "trays"), "faces": ("heater", "moving"), "heater": ("moving",),
    "place": ("wanted_days", "pack"), "wanted_days": ("pack",), "pack": ("wanted_days",),
}  # fmt: skip
OF_A_RANGE = re.compile(rf"[0-9] ?(?:%|per ?cent)? ?(?:or|to|till|and|maybe|-|–) ?(?:maybe |even )?(?={DAMP.pattern})")
SOME = re.compile(r"\b(?:some|a few|few|others?|thickest|the thick|one or two|a couple)\b")  # of the pieces
HEATER = re.compile(r"\b(?:the )?(?:heater|heating|watts?|wattage|label)\b")
FAN = re.compile(r"\bfan\b")
NOT_FOR = re.compile(
    r"\b(?:each|every|per|apiece|ago|since|old|before|until|till|later|wide|long|then)\b"
)  # beside an amount
DEGREE = r"[0-9]+(?:[.,][0-9]+)? ?°? ?[cf]\b"
INSIDE = re.compile(
    rf"({DEGREE}),? (?:inside|in the (?:middle|thick\w*|core|centre|center)|at the core|internal|by (?:the |a )?probe)\b"
    rf"|\b(?:probe|inside|middle|core|internal)\b[^0-9,.;]{{0,40}}?(?<![0-9.,])({DEGREE})"
)
INSIDE_BARE = re.compile(
    r"\b(?:inside|middle|core|internal)\b[^0-9,.;]{0,40}?(?<![0-9.,])[0-9]{2,3}(?=$|[,;.!](?![0-9]))"
)
LAY_SINCE = re.compile(
    r"\bin (?:my|the|our) (?:fridge|refrigerator|freezer) (?:ever )?since\b|\bthermometer (?:\w+ ){0,3}says\b"
)
THEN_CUT = re.compile(r"\bthen (?:(?:i|we|i'll|we'll) )?(?=cut|slic)")
HEATS = r"(?:steam|heat|cook|poach|simmer|boil|bak)\w*"
HEATED_FIRST = re.compile(rf"\b{HEATS}\b[^.]*\bthen\b[^.]*\b(?:cut|slic)|\b(?:cut|slic)\w*\b[^.,;]*\bafter {HEATS}")
SAID_TWICE = re.compile(r" ?\([-−]?[0-9][0-9.,/ ]* ?[^)0-9]{1,6}\)")  # "4 °C (39 °F)"
KEPT_COOL = re.compile(r"\b(?:on ice|iced|ice ?box|cooler|cool[ -]?(?:bag|box)|a/?c|air[ -]?con\w*)\b")
WARM_FIRST = re.compile(  # the hours told may be those before the ice
    r"\b(?:then|before|after\w*|until|till?|rest|since|sun\w*|hot|warm|car|truck|boot|trunk|counter|bench|boat|while|filleting|cleaning|maybe|perhaps|probably|think|guess|part\w*|most\w*)\b"
)
WISHED = re.compile(r"\b(?:hopefully|i hope|if i can)\b")  # of keeping: a wish is what is asked
A_NIGHT = re.compile(r"\bover ?night\b|\ball (?:night|day)\b")
OTHER_WORDS = frozenset(  # of a list of what goes in: words that name nothing which goes in
    ["brine", "brined", "wet", "dry", "salted", "salt", "cure", "cured", "marinade", "marinated", "soak", "soaked", "rub", "rubbed", "fridge", "refrigerator", "overnight", "for", "hours", "hour", "cold", "cool", "at", "c", "f", "degrees", "kept", "keep", "it", "made", "make", "yes", "simple", "plain", "strong", "weak", "a", "the", "of", "in", "my", "own", "fish", "same", "said", "as", "used", "was", "else", "nothing", "strips", "fillets", "pieces", "stay", "stays", "lie", "lies", "put", "mix", "mixed", "dissolved", "stirred", "there", "this", "that", "with", "then"]
)  # fmt: skip


def also(story: Story, question: Question, text: str) -> Reading | None:
    """What an answer tells of open questions after it, as one reading; None where it tells nothing more."""
    said = " ".join(text.replace("’", "'").casefold().split())
    said = SAID_TWICE.sub("", said)
    said = FAN_ALONE.sub("fan", HEAT_OFF.sub("", said)) if question.section == "dryer" else said
    if question.section == "heat":
        said = re.sub(r"\b(?:until|till?) (?=(?:\w+ ){0,8}[0-9])", "to ", said)
    said = WISHED.sub("", said) if question.section == "keep" else said
    whole, said = said, _without_the_heater(said) if question.section == "dryer" else said
    if len(said.split()) < 2 or DOUBT.search(said):
        return None
    told: list[tuple[str, str]] = []
    shown: list[str] = []
    now = story
    if question.key == "skin" and (thicker := thicker_ones(story, said)):
        told, shown, now = list(thicker.told), [thicker.shown], thicker.put_in(story)
    for one in _open_after(story, question):
        nobody_knows = one.key == "heater" and said != whole
        for found in [_not_known(one)] if nobody_knows else _told_of(now, one, said, question):
            try:
                now = found.put_in(now)
            except InputError:
                continue
            told += found.told
            shown.append(found.shown)
    return Reading(tuple(told), "; ".join(shown), sure=True) if told else None


def cut_after_the_heat(question: Question, text: str) -> str:
    """What to say to who heats the fish before it is cut: the plan goes the other way round; "" elsewhere."""
    said = text.casefold()
    later = HEATED_FIRST.search(said) or (question.section == "heat" and re.search(r"\b(?:have|need) to cut\b", said))
    return say("cut.before_heat") if later and question.section in ("cut", "heat") else ""


def thicker_ones(story: Story, said: str) -> Reading | None:
    """That some pieces are thicker than the usual ones that were told, which is never milder."""
    one = question_at("cut.thickness")
    usual = value_of(one, str(story.get(one.place)), "") if story.get(one.place) else None
    parts = [part for part in re.split(r"[,;.](?![0-9])|\bbut\b", said) if SOME.search(part)]
    found = [size for part in parts for size in amounts(story, one, in_digits(one, part))]
    thickest = value_of(one, str(story.get("cut.thickest") or ""), "") or 0.0
    if usual is None or len(found) != 1 or found[0].value <= max(usual, thickest):
        return None
    told = Reading((("cut.thickest", found[0].text),), label(question_at("cut.thickest"), found[0].text))
    return next(iter(can_be(story, [told])), None)


def _without_the_heater(said: str) -> str:
    """An answer without the parts that say that nobody knows how strong the heater is."""
    parts = re.split(r"[,;.](?![0-9])", said)
    left = [part for part in parts if not (HEATER.search(part) and DOUBT.search(part)) or re.search("[0-9]", part)]
    return ",".join(left) if len(left) < len(parts) else said


def _not_known(one: Question) -> Reading:
    """That a question is left open, said with its name."""
    return Reading(((one.place, NOT_KNOWN),), label(one, say("begin.open")))


def to_confirm(story: Story, question: Question, text: str) -> dict[str, Reading]:
    """By place, what was told in passing and has to be confirmed there: a night as the time of a salting or a rest, that
    fish on ice was never very warm, and what `in_passing` finds."""
    return (
        told_in_passing(story, question, text)
        | _a_night_or_ice(story, question, text)
        | _by_hand_or_fan(story, question, text)
    )


def _by_hand_or_fan(story: Story, question: Question, text: str) -> dict[str, Reading]:
    """A finger as the thickness, told with the cut, and a fan that is only guessed, told with the trays."""
    wanted = {"form": ("cut.thickness", AS_THICK), "tray_area": ("dryer.moving", FAN)}
    place, cue = wanted.get(question.key, ("", FAN))
    parts = [part.strip() for part in re.split(r"[,;.](?![0-9])", text.casefold()) if cue.search(part)]
    here = next((one for one in questions(story) if one.place == place), None)
    if here is None or story.answered(place) or len(parts) != 1:
        return {}
    told = heard(story, here, parts[0]).readings
    return {place: told[0]} if len(told) == 1 and (place, NOT_KNOWN) not in told[0].told else {}


def _a_night_or_ice(story: Story, question: Question, text: str) -> dict[str, Reading]:
    if question.key == "hours_above_4c":
        said = text.casefold()
        cool = KEPT_COOL.search(said) and not (TURNED.search(said) or WARM_FIRST.search(said) or DOUBT.search(said))
        return {VERY_WARM: Reading(((VERY_WARM, "0"),), "0")} if cool and not story.answered(VERY_WARM) else {}
    wanted = {"time": A_NIGHT.search(text.casefold())}
    here = [
        one
        for one in questions(story)
        if one.section == question.section and wanted.get(one.key) and not story.answered(one.place)
    ]
    found = {
        one.place: heard(story, one, wanted[one.key][0]).readings
        for one in here
        if question.section in ("brine", "presoak", "rest")
    }
    return {place: told[0] for place, told in found.items() if len(told) == 1}


def _open_after(story: Story, question: Question) -> Iterator[Question]:
    """Open questions that may be told together with one, in the order of `FOLLOWING`."""
    keys = FOLLOWING.get(question.section if question.door else question.key, ())
    here = [
        one
        for one in questions(story)
        if not story.answered(one.place) and not one.door and one.place != question.place
    ]
    for key in keys:
        for one in here:
            near = one.section == question.section or one.place in ("cut.skin",)
            if (
                one.key == key
                and near
                and not (question.key == "temperature" and question.section not in ("dryer", "room"))
            ):
                yield one
                break


def _told_of(story: Story, one: Question, said: str, asked: Question) -> list[Reading]:
    """What a sentence plainly tells of one question."""
    if one.key == "what":
        return [] if story.get(one.place.rpartition(".ingredient.")[0] + ".ingredient") else _list_of(story, one, said)
    if one.key == "relative_humidity":
        found = DAMP.findall(said)
        return [labelled(one, found[0])] if len(set(found)) == 1 and not OF_A_RANGE.search(said) else []
    if one.key == "hours_above_21c":
        return _very_warm(story, one, said)
    if one.key == "core" and (inside := INSIDE.findall(_with_degrees(story, said))):
        told = {first or second for first, second in inside}
        return (
            [labelled(one, told.pop())] if len(told) == 1 and not (DOUBT.search(said) or ROUGHLY.search(said)) else []
        )
    if one.key == "trays":
        found = COUNTED_TRAYS.findall(in_digits(one, said))
        here = ", ".join(
            part for part in re.split(r"[,;.](?![0-9])", in_digits(one, said)) if COUNTED_TRAYS.search(part)
        )
        return [labelled(one, found[0])] if len(found) == 1 and not doubted(here) else []
    if one.key == "pack":
        return _pack_of(story, one, said)
    if isinstance(one.kind, OneOf | Flag) or one.key == "faces":
        return _word_of(one, said)
    if one.key == "temperature" and FRIDGE.search(said) and one.section in ("brine", "presoak", "rest"):
        degrees = _amount_of(story, one, said, asked)
        cold = heard(story, one, FRIDGE.search(said)[0]).sure
        return degrees or (
            [replace(cold, shown=label(one, cold.shown))] if cold and not plain_amounts(story, one, said) else []
        )
    return _amount_of(story, one, said, asked)


def _with_degrees(story: Story, said: str) -> str:
    """An answer with the degrees behind how hot the middle gets, where all else tells which they are."""
    unit = {"us": "f", "metric": "c"}.get(system_of(story), "")
    clear = unit and not any(AROUND_IT.search(found[0]) for found in INSIDE_BARE.finditer(said))
    return INSIDE_BARE.sub(rf"\g<0> °{unit}", said) if clear else said


def _very_warm(story: Story, one: Question, said: str) -> list[Reading]:
    """None of the hours, or all of them, where that is said of the limit itself."""
    found = ABOVE_WARM.search(said)
    if not found or doubted(said):
        return []
    return [labelled(one, str(story.get("fish.hours_above_4c")) if found["many"] == "all" else "0")]


def _word_of(one: Question, said: str) -> list[Reading]:
    """The clear word of a choice."""
    if one.key not in CLEAR and one.key != "moving":
        return []
    lead = re.match(r"(?:yes|no|nope|yep)\b[,.;] *", said)
    said = said[lead.end() :] if lead else said  # said of the question itself
    if one.key == "skin":
        said = re.sub(r"(?<!skin )(?<!skins )(?<!skin is )\boff\b(?! skin)", " ", said)  # "off the boat"
    if one.key == "faces":
        said = re.sub(r"(?<!baking )\bsheets?\b|\bplates?\b|\bboards?\b", " ", said)
    if one.key == "moving":
        fan = re.compile(r"\b(?:fan|convection|ventilator)\b")
        here = ", ".join(part for part in re.split(r"[,;.](?![0-9])", said) if fan.search(part))
        clear = here and not doubted(here) and not re.search(r"\b(?:no|not|without|broken|off)\b", said)
        return [labelled(one, "fan")] if clear else []
    words = clear_words(one, said)
    return [
        labelled(one, word)
        for word in words
        if len(words) == 1
        and plain_word(one, _clause(one, said), word)
        and (one.section == "dryer" or not _doubted_of(one, said))
    ]


def _doubted_of(one: Question, said: str) -> bool:
    """Whether doubt clouds a word of a choice; that the fish lay in the refrigerator since clouds not what it is."""
    return doubted(LAY_SINCE.sub(" ", said) if one.key in ("origin", "gutted", "skin") else said)


def _clause(one: Question, said: str) -> str:
    """The parts of a sentence that name a word of a choice."""
    return ", ".join(part.strip() for part in re.split(r"[,;.]", said) if clear_words(one, part))


def _amount_of(story: Story, one: Question, said: str, asked: Question) -> list[Reading]:
    """The one amount of a kind that no other question of this sentence has, with its unit."""
    if getattr(one.kind, "kinds", None) == getattr(asked.kind, "kinds", "") or not _may_be(one, said):
        return []
    if one.key == "thickness":
        said = re.sub(r"\b(?:in|into) (?=strips|fillets|slices)", " ", THEN_CUT.sub("", said))
        if re.search(r"\b(?:wide|width|long|length)\b", said):
            thick = re.findall(rf"{NUM} ?(?:{LENGTH}) thick\b", in_digits(one, said))
            return [labelled(one, thick[0].removesuffix(" thick"))] if len(thick) == 1 and not doubted(said) else []
        for part in (said, _parts_with_lengths(story, one, said)):
            sizes = heard(story, one, part).sure
            if sizes and any(place != one.place for place, _ in sizes.told) and not DOUBT.search(part):
                return [sizes]
    if one.key == "tray_area":
        for part in (said, *re.split(r"[,;](?![0-9])", said)):
            area = heard(story, one, _no_count(part))
            if (area.sure or (area.story and area.story.get(one.place))) and not doubted(part):
                return [labelled(one, area.sure.told[0][1] if area.sure else _no_count(part))]
        return []
    if one.key == "warmest":
        said = ABOVE_WARM.sub("", said)
    if one.key == "wanted_days" and (days := _days_wished(story, one, said)):
        return [labelled(one, days)]
    whole = in_digits(one, said)
    said = said if one.key in GUARDED else _part_with_amount(story, one, said)
    found = plain_amounts(story, one, said)
    values = {round(amount.value, 9) for amount in found}
    if len(values) != 1 or GUESS.search(said) or NOT_FOR.search(said):
        return []
    if one.key == "raw_weight" and not _of_all_of_it(whole, found[0].text):
        return []
    before, text = in_digits(one, said)[: found[0].begin], found[0].text
    unsure = BOUND.search(said) or TURNED.search(" ".join(before.split()[-4:]))
    if unsure or (A_NIGHT.search(said) and text == NIGHT):
        return []
    answer = heard(story, one, text)
    if answer.sure:
        return [labelled(one, answer.sure.told[0][1])]
    return [labelled(one, text)] if answer.story and answer.story.get(one.place) is not None else []


def _days_wished(story: Story, one: Question, said: str) -> str:
    """How long it is to keep, where one part of a sentence says so as a range: its longer end."""
    part = _part_with_amount(story, one, said)
    found = heard(story, one, part).sure if part != said and not doubted(re.sub(r"\bor\b", " ", part)) else None
    return found.told[0][1] if found else ""


def _no_count(said: str) -> str:
    """Words without the number of trays in them."""
    return COUNTED_TRAYS.sub(lambda found: found[0][len(found[1]) :], said).strip()


def _of_all_of_it(said: str, weight: str) -> bool:
    """Whether a weight is that of all the fish, cut: no other number stands beside it ("2 trout, 400 g")."""
    return numbers_in(said) == numbers_in(weight) and not re.search(r"\b(?:whole|ungutted|uncut|live)\b", said)


def _parts_with_lengths(story: Story, one: Question, said: str) -> str:
    """The parts of a sentence that name a length, also one without its unit."""
    parts = re.split(r"[,;.](?![0-9])", said)
    return ", ".join(part.strip() for part in parts if amounts(story, one, in_digits(one, part)))


def _part_with_amount(story: Story, one: Question, said: str) -> str:
    """The one part of a sentence that holds the amount, where it is one; else the sentence."""
    parts = [part for part in re.split(r"[,;](?![0-9])", said) if plain_amounts(story, one, part)]
    return parts[0].strip() if len(parts) == 1 else said


def _may_be(one: Question, said: str) -> bool:
    """Whether the words of a sentence leave an amount to be what one of the guarded questions asks."""
    if one.key == "core":
        return bool(re.search(r"\b(?:core|middle|inside|centre|center|internal|probe)\b", said)) and not re.search(
            r"\b(?:oven|air|water|steamer|dial)\b", said
        )
    if one.key == "frozen_at":
        return bool(re.search(r"froze\w*[^,.;0-9]* at (?:about )?(?:-|minus)", said))
    if one.key == "warmest":
        return "°" in said or bool(re.search(r"[0-9] ?[cf]\b|degrees", said))
    return one.key not in ("hold", "to_tray", "hours_above_21c", "frozen_days", "weight_after")


def _pack_of(story: Story, one: Question, said: str) -> list[Reading]:
    for part in (said, *re.split(r"[,;]", said)):
        if doubted(part) or re.search(r"\b(?:then|once|open\w*)\b", part):
            continue
        answer = heard(story, one, part.strip())
        if answer.sure or (answer.story and answer.story.get(one.place)):
            return [labelled(one, answer.sure.told[0][1] if answer.sure else part.strip())]
    return []


def _list_of(story: Story, one: Question, said: str) -> list[Reading]:
    """A list of what goes in, where amounts are told of two things or more and no word is left over."""
    reading = heard(story, one, said).sure
    if reading is None or sum(place.endswith(".amount") for place, _ in reading.told) < 2:
        return []
    left = [word for word in re.findall(r"[^\W\d]+", reading.rest) if word not in OTHER_WORDS and not is_unit(word)]
    return [] if left else [replace(reading, rest="")]


def labelled(question: Question, text: str) -> Reading:
    """A reading that says which question it answers."""
    text = as_written(text)
    return Reading(((question.place, text),), label(question, text))


def other_amount(story: Story, question: Question, text: str) -> str:
    """What to say where an answer holds an amount that is not asked and differs from what was told before; "" elsewhere."""
    kind, said = getattr(question.kind, "kinds", ""), text.casefold()
    for one in questions(story):
        told = story.get(one.place)
        if (
            told is None
            or one.section != question.section
            or one.place == question.place
            or not isinstance(one.kind, Measure)
        ):
            continue
        found = plain_amounts(story, one, said) if one.kind.kinds != kind and ".ingredient." not in one.place else []
        values = [value_of(one, str(told), ""), *(amount.value for amount in found)]
        if (
            found
            and one.key in ("raw_weight", "thickness", "time")
            and None not in values
            and max(values) > 1.02 * min(values)
        ):
            return say("begin.other_amount", amount=found[0].text, told=label(one, str(told)))
    return ""
