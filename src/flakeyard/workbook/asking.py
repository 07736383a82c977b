"""The story of a fish as questions, in the order a cook tells it: the fish, the cut, the salt, the heat, the dryer, keeping.

Every question is about a key of the one table `fields.FIELDS` and reads its answer by that key's own kind, or opens a
section. Which questions are asked follows from what was told so far: what the fish, the cut or the way of salting rules
out is not asked. A terminal and a form on the page ask the same: `questions` are those that apply, `tell` takes an
answer or refuses it, and the words come from `flakeyard.messages`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

from flakeyard import limits, refused, spoken, tables
from flakeyard.messages import number, say, texts
from flakeyard.models.constants import DAY, HOUR
from flakeyard.steps.chain import brining
from flakeyard.steps.chain.fish import UNTOLD_ASH
from flakeyard.steps.intent import records
from flakeyard.steps.intent.batch_file import SAMPLES, SERVING, mistakes, read_soak
from flakeyard.steps.intent.fields import FIELDS, HEATED, INGREDIENT, LISTS, NONE, NOT_KNOWN, SOAKS, Flag, Number, OneOf
from flakeyard.steps.intent.places import placed, taken_out
from flakeyard.steps.intent.spread import Draws
from flakeyard.steps.judge.storing import AMOUNT
from flakeyard.units import InputError, fahrenheit, is_unit, one_line, read_amount, show

NO, NO_MORE, YES = "no", "no more", "yes"
OPEN_WORDS = (
    "", NOT_KNOWN, "unknown", "don't know", "do not know", "i don't know", "i do not know", "dont know", "no idea", "no clue", "not told",
    "not sure", "i'm not sure", "unsure", "dunno", "idk", "not measured", "can't say", "cannot say", "can't tell", "i can't tell", "couldn't say", "couldn't tell", "couldn't tell you", "i couldn't tell you", "i couldn't say", "n/a", "?", "-",
)  # fmt: skip
_NOBODY = re.compile(
    r"(?:(?:there(?:'s| is) |i(?:'ve| have)? ?(?:got )?)?(?:no|not an?|haven't an?) (?:idea|clue|label|gauge|thermometer|scale)|(?:i )?(?:really |honestly )?(?:don'?t|do not) (?:really )?know|dunno|idk|(?:i'm )?not (?:\w+ )?(?:sure|certain)|unsure|(?:i )?(?:can'?t|cannot|couldn'?t) (?:\w+ )?(?:say|tell)(?: you)?|beats me|(?:who|god|heaven) knows|search me|(?:never|not) (?:measured|checked|weighed|looked)(?: (?:it|that))?)"
)
_BESIDE = re.compile(
    r"(?:well|oh|um+|hm+|sorry|mate|man|pal|honestly|really|exactly|precisely|at all|on it|there|i'm afraid|i am afraid|for (?:sure|certain)|about (?:it|that)|either)"
)
NOBODY_KNOWS = re.compile(
    rf"^(?:{_BESIDE.pattern}[,;.]? )*{_NOBODY.pattern}(?:[,;.]* (?:and |but )?(?:{_NOBODY.pattern}|{_BESIDE.pattern}))*$"
)
NONE_WORDS = ("none", "no", "never", "zero", "nope", "not at all")  # nought, where hours or days are counted
LEFT_OUT = (*NONE_WORDS, "n", "nah", "not", "nothing", "unsalted", "no salt", "without salt", "without")  # of a section
NO_MORE_WORDS = (
    *NONE_WORDS, NO_MORE, "nothing", "nowt", "nothing else", "nowt else", "nothing more", "that's all", "that is all", "that's it", "done", "finish", "finished", "that'll do", "that will do", "all",
)  # fmt: skip
YES_WORDS = ("yes", "y", "true", "yep", "yeah", "yup", "aye", "sure", "of course", "certainly", "definitely")
IT_IS = re.compile(r"(?:it|they|that) (?:is|are|do|does|did|was|were)(?: so)?$")  # a yes of more words
NO_WORDS = ("no", "n", "false", "nope", "nah", "not")
TOO = re.compile(
    r"(?<=\w),? (?:of course|certainly|it (?:is|was|does|did)|straight away|already|please|thanks|thank you)"
)
FLAG_WORDS = {  # how else people answer one question
    "smells_normal": (("normal", "fine", "fresh", "good", "smells of the sea", "of the sea", "smells like fish", "like fish", "course it does", "of course it does", "smells normal", "smells fine", "great", "smells great", "wonderful", "smells wonderful", "perfect", "lovely", "nothing wrong", "hardly smells", "no smell", "like the sea", "ok", "okay", "clean", "smells fresh", "smells good", "smells clean"), ("off", "bad", "smells off", "smells bad", "strange")),
    "gutted": ((
        "gutted", "cleaned", "filleted", "fillets", "filets", "nothing to gut", "already filleted", "gutted and cleaned", "cleaned and gutted", "right away", "at once", "straight away", "on the shore",
        "on the boat", "by the shop", "at the shop", "in the shop", "the shop did", "the shop did it", "the shop did that", "shop did", "shop did it", "shop did that", "the fishmonger did", "fishmonger did it", "by the fishmonger",
    ), ("not gutted", "ungutted", "not cleaned")),
    "thawed_in_vacuum": ((), ("unwrapped", "no, unwrapped")),
}  # fmt: skip
SHOP = (
    "shop", "store", "supermarket", "market", "fishmonger", "bought", "store-bought", "store bought", "shop-bought",
    "shop bought", "from a shop", "from a store", "from a supermarket", "from a market",
)  # fmt: skip
TELLS_NOTHING = {  # answers that do not decide a question: it stays not known
    "origin": SHOP, "stock": SHOP, "relative_humidity": ("normal", "average", "dry", "damp", "humid"),
    "to_tray": ("a few minutes", "few minutes", "a couple of minutes", "straight in", "straight on", "straight onto the trays", "directly", "straight away", "right away", "at once", "immediately"),
    "per_pack": ("a handful", "handful", "a few pieces", "one meal"), "serving": ("a fillet", "a piece", "a handful", "a portion", "one portion"),
    "wanted_days": ("as long as possible", "as long as i can", "as long as it keeps", "forever"),
    "fresh_air": (*NONE_WORDS, "fan", "has a fan", "some", "door ajar", "door is ajar", "vent open", "vents open"),
} | dict.fromkeys(("water", "protein", "fat", "ash", "weight_after", "measured_water_activity", "measured_error", "measured_by"), NONE_WORDS)  # fmt: skip
_NO_NUMBER = re.compile(rf"^(?!.*(?:[0-9½¼¾⅓⅔⅛]|\b(?:half|{'|'.join(spoken.NUMBER_WORDS)})\b|\bsea level\b))..")
UNDECIDED = dict.fromkeys(
    (
        "heater", "relative_humidity", "fat", "frozen_at", "frozen_days", "serving", "per_pack", "wanted_days", "hold", "core",
        "weight_after", "measured_water_activity", "measured_error",
    ), _NO_NUMBER,
) | dict.fromkeys(("room.temperature", "fish.water", "fish.protein", "fish.ash"), _NO_NUMBER) | {"fresh_air": re.compile(r"^[^0-9]{2,}$")}  # fmt: skip
COUNTED_PIECES = re.compile(
    rf"^(?:(?:an?|half an?|[0-9]+|{'|'.join(spoken.NUMBER_WORDS)}) )+(?:whole )?(?:fish|pieces?|fillets?|strips?|bits?)$"
)
NUMBER_WORDS = {
    ("faces", "both"): "2", ("faces", "both sides"): "2", ("faces", "mesh"): "2", ("faces", "open mesh"): "2",
    ("faces", "solid"): "1", ("faces", "solid tray"): "1", ("altitude", "sea level"): "0 m",
}  # fmt: skip
COUNTED = {
    "trays": "(?:round |wire |oven |mesh |baking |cooling )?(?:trays?|racks?|shelf|shelves|screens?|grids?|nets?|sheets?|(?:round )?ones)",
    "faces": "faces?|sides?",
    "changes": "waters?",
}  # what may stand behind a number
ARTICLE = re.compile(r"(?:(?:in|on|at|from|with|by) )?(?:(?:the|an?|my|our) )?(?=\w)", re.IGNORECASE)
CUTS = re.compile(r"(?<=\w) (?:fillets?|filets?|loins?|steaks?)$", re.IGNORECASE)
AMOUNT_TOO = re.compile(r"^[0-9½¼¾⅓⅔⅛]|,\s*[0-9½¼¾⅓⅔⅛]")  # an ingredient with how much of it
LONGER_IS_CAREFUL = ("hours_above_4c", "hours_above_21c")
ASKED_BACK = (  # a place, what is said there, and the message that tells how to answer
    ("dryer.temperature", re.compile(r"^(?!.*[0-9]).*\b(?:no dryer|none|no|hang|hangs|hung|hanging|shed|barn|attic|outside|outdoors|wind|air dr\w+|fridge)\b"), "ask.no_dryer"),
    ("dryer.trays", re.compile(r"^(?!.*[0-9]).*\b(?:hang|hangs|hung|hanging|none|no|hooks?|strings?|lines?|rods?|poles?)\b"), "ask.hung"),
    ("dryer.tray_area", re.compile(r"^(?:about )?[0-9][0-9.,/ ]*\s*(?:mm|cm|m|in|inch|inches|ft|\"|″)\.?$"), "ask.one_side"),
    *((f"{section}.temperature", re.compile(r"^(?!.*[0-9]).*\b(?:fridge|refrigerator|cellar|larder|cold|cool|ice)\b"), "ask.how_cold") for section in ("presoak", "brine", "rest", "freshen.1")),
)  # fmt: skip
COUNTED_IN = {"hours_above_4c": HOUR, "hours_above_21c": HOUR, "frozen_days": DAY, "wanted_days": DAY}  # s
ORDER = ("fish", "cut", "brine", "presoak", "rest", "freshen", "heat", "dryer", "room", "keep", "", "measured")
FLAVOUR = "aromatics"  # the kind of what goes in for the flavour alone
MOST_SOAKS = 3  # in plain water that are asked for; a file may hold more (judgement)
LONGEST_NOTE = 200  # letters of an answer that are kept as a note (judgement)
MOST_INGREDIENTS = 12  # that are asked for; a file may hold more (judgement)


def _always(_here: dict, _batch: dict) -> bool:
    return True


@dataclass(frozen=True)
class Ask:
    """A key that is asked: what an answer may look like in both systems, when it is asked at all, by what its own
    section and the whole batch tell so far, and when it is one of those that few can answer."""

    key: str
    metric: str
    us: str = ""
    when: Callable[[dict, dict], bool] = _always
    more: Callable[[dict, dict], bool] = lambda _here, _batch: False


def _names_no_fish(here: dict, _batch: dict) -> bool:
    return "species" not in here


def _names_fish(here: dict, _batch: dict) -> bool:
    return "species" in here


def _frozen(here: dict, _batch: dict) -> bool:
    return here.get("stock") == "frozen"


def _freezing_counts(here: dict, batch: dict) -> bool:
    """Only wild fish has to be frozen against parasites."""
    return _frozen(here, batch) and here.get("origin") != "farmed"


def of_warm_waters(here: dict, _batch: dict) -> bool:
    """Whether the waters decide about this kind of fish."""
    if "species" not in here:
        return False
    record = tables.species(here["species"])
    return len({getattr(refused.of(record, waters), "says", "") for waters in refused.WATERS}) > 1


def _was_warm(here: dict, _batch: dict) -> bool:
    return here.get("hours_above_4c") != 0


def _was_very_warm(here: dict, batch: dict) -> bool:
    """Whether it matters how warm: by the rule only after more than `limits.HOT_ROOM_HOURS`."""
    told = [one for one in (here.get("hours_above_4c"), here.get("hours_above_21c")) if isinstance(one, int | float)]
    return min(told, default=math.inf) > limits.HOT_ROOM_HOURS


def _strips(here: dict, _batch: dict) -> bool:
    return here.get("form") == "strips"


def _cut_open(here: dict, _batch: dict) -> bool:
    return here.get("form") != "whole"


def _both_faces_free(_here: dict, batch: dict) -> bool:
    cut = batch.get("cut", {})
    return cut.get("skin") == "off" and cut.get("form") != "whole"


def _syrup(*before: str) -> Callable[[dict, dict], bool]:
    """A syrup of which none of some keys is told."""
    return lambda here, _batch: _is_syrup(here.get("what")) and not any(key in here for key in before)


def _is_syrup(what: str | None) -> bool:
    return what is not None and tables.ingredient(what).kind == "syrup"


def _from_sugar(here: dict, _batch: dict) -> bool:
    return "recipe_sugar" in here


def _measured(here: dict, _batch: dict) -> bool:
    return "measured_water_activity" in here


def _measured_dried(here: dict, batch: dict) -> bool:
    return _measured(here, batch) or "dried_sample" in batch.get("measured", {})


def _heated(here: dict, _batch: dict) -> bool:
    return here.get("heater") != NONE


def _told(key: str) -> Callable[[dict, dict], bool]:
    return lambda here, _batch: key in here


def _own_water(_here: dict, batch: dict) -> bool:
    return not {"water", "fat"}.isdisjoint(batch.get("fish", {}))


def _salted(_here: dict, batch: dict) -> bool:
    return "brine" in batch or "presoak" in batch


def _weighed(here: dict, _batch: dict) -> bool:
    return any(f"{name}_sample" in here for name in SAMPLES) or "salted_weight" in here


ASKED = {
    "fish": (
        Ask("species", "rainbow trout, farmed"), Ask("water", "74", when=_names_no_fish),
        Ask("protein", "20", when=_names_no_fish), Ask("fat", "6.2", more=_names_fish), Ask("ash", "1.2", when=_names_no_fish),
        Ask("raw_weight", "1.8 kg", "4 lb"), Ask("origin", "farmed"), Ask("waters", "cold or temperate", when=of_warm_waters),
        Ask("stock", "frozen"), Ask("frozen_at", "-20 °C", "-4 °F", _freezing_counts), Ask("frozen_days", "8", when=_freezing_counts),
        Ask("thawed_in_vacuum", "no", when=_frozen), Ask("hours_above_4c", "0.5"), Ask("hours_above_21c", "0", when=_was_warm),
        Ask("warmest", "12 °C", "54 °F", _was_very_warm), Ask("gutted", "yes"), Ask("smells_normal", "yes"),
    ),
    "cut": (
        Ask("form", "strips"), Ask("thickness", "6 mm", "1/4 in"), Ask("thinnest", "5 mm", "3/16 in", more=_always),
        Ask("thickest", "8 mm", "5/16 in", more=_always), Ask("width", "25 mm", "1 in", _strips, more=_always), Ask("skin", "off", when=_cut_open),
    ),
    "soak": (Ask("time", "10 h"), Ask("temperature", "3 °C", "37 °F")),
    "ingredient": (
        Ask("what", "pickling salt"), Ask("amount", "160 g", "1/2 cup"), Ask("one_cup_weighs", "312 g", "11 oz", _syrup()),
        Ask("brix", "65", when=_syrup("one_cup_weighs")), Ask("recipe_sugar", "400 g", "2 cup", _syrup("one_cup_weighs", "brix")),
        Ask("recipe_liquid", "240 mL", "1 cup", _from_sugar),
    ),
    "rest": (Ask("time", "12 h"), Ask("temperature", "3 °C", "37 °F")),
    "freshen": (
        Ask("water", "3 L", "3 qt"), Ask("time", "1 h"), Ask("changes", "2"), Ask("temperature", "4 °C", "39 °F"),
    ),
    "heat": (
        Ask("core", "74 °C", "165 °F"), Ask("hold", "1 min"), Ask("checked", "probe"), Ask("to_tray", "10 min"),
        Ask("weight_after", "1.5 kg", "3.3 lb", more=_always),
    ),
    "dryer": (
        Ask("temperature", "63 °C", "145 °F"), Ask("trays", "5"), Ask("tray_area", "30 x 40 cm", "12 x 14 in"),
        Ask("faces", "mesh", when=_both_faces_free), Ask("heater", "500 W"), Ask("fresh_air", "30 m3/h", "18 cfm", _heated, _always),
        Ask("moving", "fan"),
    ),
    "room": (Ask("temperature", "20 °C", "68 °F"), Ask("relative_humidity", "50"), Ask("altitude", "150 m", "500 ft", more=_always)),
    "measured": (
        Ask("composition_error", "0.5", when=_own_water), Ask("thickness_error", "0.3 mm", "1/64 in"),
        Ask("raw_sample", "20 g", "0.7 oz"), Ask("raw_oven_dry", "5.2 g", "0.18 oz", _told("raw_sample")),
        Ask("salted_weight", "1.7 kg", "3.7 lb", _salted), Ask("strip_salt", "5.0", when=_salted),
        Ask("strip_error", "0.5", when=_told("strip_salt")), Ask("laid_sample", "20 g", "0.7 oz"),
        Ask("laid_oven_dry", "6.4 g", "0.22 oz", _told("laid_sample")), Ask("dried_sample", "20 g", "0.7 oz"),
        Ask("dried_oven_dry", "12.5 g", "0.44 oz", _told("dried_sample")), Ask("scale_step", "1 g", "0.1 oz", _weighed),
    ),
    "keep": (
        Ask("place", "refrigerator"), Ask("wanted_days", "30"), Ask("pack", "glass jar"), Ask("per_pack", "150 g", "5 oz", more=_always),
        Ask("measured_water_activity", "0.78", more=_always), Ask("measured_error", "0.01", when=_measured, more=_always),
        Ask("measured_by", "meter", when=_measured, more=_always), Ask("measured_at", "0.44", when=_measured_dried, more=_always),
    ),
    "": (Ask("serving", "30 g", "1 oz", more=_always), Ask("title", "First evening", more=_always)),
}  # fmt: skip
BY_HAND = {  # keys that are not asked, with the message that says why
    ("keep", "target_moisture"): "by_hand.moisture", ("keep", "stop_at"): "by_hand.stop",
    **dict.fromkeys((("air", key) for key in FIELDS["air"]), "by_hand.air"), ("dryer", "rotated"): "by_hand.rotated",
    ("presoak", "method"): "by_hand.method", ("brine", "method"): "by_hand.method",
}  # fmt: skip


def _doors() -> dict[str, OneOf]:
    """Sections that may be left out, with the words that open or close them; a soak is opened by its method."""
    words = dict.fromkeys(("rest", "freshen", "heat", "measured"), (YES, NO))
    return {name: replace(FIELDS[name]["method"], words=(*FIELDS[name]["method"].words, NO)) for name in SOAKS} | {
        name: OneOf(told, also={YES: HEATED} if name == "heat" else {}) for name, told in words.items()
    }


DOORS = _doors()
AFTER_SALT = ("rest", "freshen")  # sections that only salted fish can have


@dataclass(frozen=True)
class Story:
    """What was told so far: the batch as typed in a file, and what was left open on purpose, place by place, with the
    word for it ("not known", "no", "no more"); ``notes`` are words that were said and that nothing reads. A place is
    "fish.species", "brine.ingredient.2.what" or "heat"."""

    typed: dict = field(default_factory=dict)
    left: dict[str, str] = field(default_factory=dict)
    notes: dict[str, str] = field(default_factory=dict)

    def get(self, place: str):
        """What was typed at a place; None where nothing was."""
        found = self.typed
        for step in place.split("."):
            if step.isdigit():
                found = found[int(step) - 1] if isinstance(found, list) and len(found) >= int(step) else None
            else:
                found = found.get(step) if isinstance(found, dict) else None
        return found

    def told(self, place: str, value) -> Story:
        """The story with a value at a place."""
        left = {name: word for name, word in self.left.items() if name != place}
        notes = {name: words for name, words in self.notes.items() if name != place}
        return Story(placed(self.typed, place, value), left, notes)

    def left_open(self, place: str, word: str) -> Story:
        """The story with a place left open on purpose; what was told there, or under it, is forgotten."""
        left = {name: one for name, one in self.left.items() if not f"{name}.".startswith(f"{place}.")}
        return replace(self, typed=taken_out(self.typed, place), left=left | {place: word})

    def noted(self, place: str, words: str) -> Story:
        """The story with words that nothing reads, kept beside a place."""
        return replace(self, notes=self.notes | {place: one_line(words, LONGEST_NOTE)})

    def forgotten(self, place: str) -> Story:
        """The story with a place neither told nor left open."""
        left = {name: one for name, one in self.left.items() if not f"{name}.".startswith(f"{place}.")}
        return replace(self, typed=taken_out(self.typed, place), left=left)

    def answered(self, place: str) -> bool:
        return place in self.left or self.get(place) is not None


@dataclass(frozen=True)
class Question:
    """A question of the story: the place its answer goes to, the kind that reads it, its message and the section it
    stands under; ``empty`` is what an empty answer means, ``kind`` of a door is the choice that opens the section, ``of``
    is the ingredient it is about, ``more`` says that few can answer it."""

    place: str
    section: str
    message: str
    kind: object
    metric: str
    us: str = ""
    empty: str = NOT_KNOWN
    of: str = ""
    more: bool = False

    @property
    def key(self) -> str:
        return self.place.rpartition(".")[2]

    @property
    def door(self) -> bool:
        """Whether it only asks if there is such a section."""
        return isinstance(self.kind, OneOf) and NO in self.kind.words

    @property
    def needed(self) -> bool:
        """Whether no plan can be made while it is open."""
        return (self.kind.needed or self.key == "recipe_liquid") and self.empty == NOT_KNOWN

    @property
    def where(self) -> str:
        """How messages of mistakes call the place."""
        above, _, key = self.place.rpartition(".")
        if self.door or not above:
            return f"[{self.place}]" if self.door else key
        name, _, row = above.rpartition(".")
        return f"[{name} {row}] {key}" if row.isdigit() else f"[{above}] {key}"

    @property
    def words(self) -> str:
        """The question itself, which names the ingredient it is about."""
        if self.of and (self.key == "amount" or self.message == "gate.steps"):
            return say("ingredient.amounts.named" if self.together else f"{self.message}.named", what=self.of)
        return _filled(f"{self.message}.words")

    @property
    def together(self) -> bool:
        """Whether it asks for the amounts of several things at once."""
        return self.key == "amount" and "; " in self.of

    @property
    def several(self) -> str:
        """An answer that tells several things at once, as an example; "" where there is none."""
        return say(f"{self.message}.several") if self.message in SEVERAL else ""

    @property
    def why(self) -> str:
        """Why it is asked."""
        return _filled(f"{self.message}.why")

    @property
    def cost(self) -> str:
        """What it costs not to know it."""
        return _filled(f"{self.message}.cost")

    @property
    def examples(self) -> str:
        """How an answer may look, in both systems where they differ."""
        return say("ask.either", metric=self.metric, us=self.us) if self.us else self.metric

    def examples_in(self, system: str) -> str:
        """How an answer may look in one system; in both where that is not known yet ("")."""
        return {"metric": self.metric, "us": self.us or self.metric}.get(system, self.examples)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the table that may be answered; none where there is no table."""
        return NAMES[self.message]() if self.message in NAMES else ()

    @property
    def allowed(self) -> str:
        """What may be answered, in words."""
        if isinstance(self.kind, Flag):
            return say("ask.yes_no")
        return say("ask.name_of_table") if self.names else self.kind.allowed


def _filled(message: str) -> str:
    """A text of a question, with the limits and the figures that count where nothing is told."""
    if "{" not in texts()[message]:
        return say(message)
    return say(
        message, thickest=number(records.UNTOLD_THICKEST, "g"), ash=number(100 * UNTOLD_ASH, ".1f"), serving=SERVING,
        to_tray=show(records.UNTOLD_TO_TRAY, "time"), pack=show(AMOUNT, "mass", "both"), cold=_degrees(limits.COLD),
        warm=_degrees(limits.WARM), hot_room=_degrees(limits.HOT_ROOM), freezer=_degrees(limits.PARASITE_FREEZER),
        kill=_degrees(limits.KILL_CORE), kill_held=_at_least(limits.KILL_CORE_HELD), room_hours=number(limits.ROOM_HOURS, "g"),
        hot_room_hours=number(limits.HOT_ROOM_HOURS, "g"), freezing_days=number(limits.PARASITE_DAYS, "g"),
    )  # fmt: skip


def _degrees(celsius: float) -> str:
    return show(celsius, "temperature", "both")


def _at_least(celsius: float) -> str:
    """A temperature that has to be reached, rounded up."""
    return f"{math.ceil(celsius - 1e-6)} °C ({math.ceil(fahrenheit(celsius) - 1e-6)} °F)"


def _fish_names() -> tuple[str, ...]:
    """Fish of the table, without those that must not be used."""
    return tuple(fish.common_name for fish in tables.all_species() if fish.usable and not fish.advisory)


SEVERAL = (
    "fish.species",
    "fish.hours_above_4c",
    "room.temperature",
    "cut.form",
    "gate.brine",
    "ingredient.what",
    "dryer.temperature",
    "keep.place",
)
NAMES = {
    "fish.species": _fish_names,
    "ingredient.what": lambda: tuple(row.common_name for row in tables.ingredients()),
    "ingredient.more": lambda: tuple(row.common_name for row in tables.ingredients()),
    "keep.pack": lambda: tuple(pack.common_name for pack in tables.packs()),
}


# Which questions


def questions(story: Story) -> Iterator[Question]:
    """All questions that apply to what was told so far, answered or not, in their order."""
    for section in ORDER:
        if section in AFTER_SALT and not any(name in story.typed for name in SOAKS):
            continue
        if section in LISTS:
            yield from _repeated(story, section)
            continue
        if section in DOORS:
            yield _door(section, section)
            if section not in story.typed:
                continue
        yield from _of(story, section, "soak" if section in SOAKS else section, section)
        if section in SOAKS:
            yield from _ingredients(story, section)


def next_question(story: Story, more: bool = True, not_now: str = "") -> Question | None:
    """The first question that is not answered yet, those that few can answer last or (without ``more``) not at all; None
    where all are. ``not_now`` is a place that is left for later."""
    still = [one for one in questions(story) if not story.answered(one.place) and one.place != not_now]
    few = [one for one in still if one.more or one.section == "measured"]
    return next((one for one in still if one not in few), few[0] if few and more else None)


def _of(story: Story, section: str, asked: str, place: str) -> Iterator[Question]:
    """The questions of a section or row that apply."""
    fields = INGREDIENT if asked == "ingredient" else FIELDS[section]
    for one in ASKED[asked]:
        here = (story.get(place) if place else story.typed) or {}
        if one.when(here, story.typed):
            at = f"{place}.{one.key}" if place else one.key
            of = here.get("what", "") if asked == "ingredient" and one.key != "what" else ""
            more = one.more(here, story.typed)
            yield Question(at, section, message_of(section, at), fields[one.key], one.metric, one.us, of=of, more=more)


def message_of(section: str, place: str) -> str:
    """The message of a key, which both baths and all rows of ingredients share."""
    key = place.rpartition(".")[2]
    if ".ingredient." in place:
        return f"ingredient.{key}"
    return f"soak.{key}" if section in SOAKS else f"{section or 'batch'}.{key}"


def _door(section: str, place: str, message: str = "") -> Question:
    kind = DOORS[section]
    return Question(place, section, f"gate.{message or section}", kind, kind.words[0], empty=NO)


def _ingredients(story: Story, section: str) -> Iterator[Question]:
    """The ingredients told, and the first question of the next one."""
    rows = len(story.get(f"{section}.ingredient") or [])
    for count in range(1, min(rows + 1, max(rows, MOST_INGREDIENTS)) + 1):
        first, *others = _of(story, section, "ingredient", f"{section}.ingredient.{count}")
        yield first if count == 1 else replace(first, message="ingredient.more", metric="honey", empty=NO_MORE)
        if count <= rows:
            yield from others


def _repeated(story: Story, section: str) -> Iterator[Question]:
    """Soaks told, and the door to the next one."""
    rows = len(story.get(section) or [])
    for count in range(1, min(rows + 1, max(rows, MOST_SOAKS)) + 1):
        place = f"{section}.{count}"
        yield _door(section, place, "" if count == 1 else "again")
        if count <= rows:
            yield from _of(story, section, section, place)


# Answers


def tell(story: Story, question: Question, text: str) -> Story:
    """The story with an answer as it was typed; an empty one, or "not known", leaves the question open on purpose.

    Raises: InputError where the answer cannot be read, or cannot be with what was told before; the story stays as it is
    """
    text = _unquoted(text.strip())
    if tells_nothing(question, text):
        _check_bath(story, question)
        return story.left_open(question.place, question.empty)
    if question.door:
        return _opened(story, question, text)
    value = _typed(question, text)
    question.kind.read(value, question.where)
    told = _what_follows(story, story.told(question.place, value), question.place)
    before = {str(one) for one in mistakes(story.typed)}
    for mistake in mistakes(told.typed):
        if str(mistake) not in before:
            raise mistake
    _check_syrup(told, question)
    if question.key == "what" and tables.ingredient(value).kind == FLAVOUR:
        return _flavoured(story, question, value)
    return told


def _flavoured(story: Story, question: Question, name: str) -> Story:
    """The story with something that only gives flavour: it needs no amount, changes nothing and stays as a note."""
    place = f"{question.section}.flavour"
    told = [one for one in story.notes.get(place, "").split("; ") if one and one != name]
    return story.noted(place, "; ".join([*told, name]))


def tells_nothing(question: Question, text: str) -> bool:
    """Whether an answer leaves the question open: an empty one, "don't know", or one that does not decide it."""
    said = _said(_unquoted(text.strip()))
    if getattr(question.kind, "may_be_none", False) and said in NONE_WORDS:
        return False
    one_unit = any(is_unit(one) for one in re.findall(r"\ban? (\w+)", said))  # "an ounce"
    undecided_by = UNDECIDED.get(question.key, UNDECIDED.get(question.place))
    if undecided_by and not unknown(said) and undecided_by.search(said) and not one_unit:
        return True
    if question.key in ("serving", "per_pack") and COUNTED_PIECES.match(said):
        return True
    nothing = TELLS_NOTHING.get(question.key, ())
    if question.empty == NO_MORE and said in NO_MORE_WORDS:
        return True
    return unknown(said) or said in nothing or _bare(said) in nothing or _no_to_what(question, said)


def unknown(said: str) -> bool:
    """Whether an answer says nothing but that it is not known, in whatever words."""
    return said in OPEN_WORDS or bool(NOBODY_KNOWS.match(said))


def _no_to_what(question: Question, said: str) -> bool:
    """Whether a lone "no" is said where neither yes nor no can be an answer, nor nought."""
    if (
        said not in ("no", "nope", "nah", "nothing")
        or question.empty != NOT_KNOWN
        or question.key in ("what", "amount", "skin")
    ):
        return False
    if isinstance(question.kind, OneOf) and _word(question.kind, said) in question.kind.words:
        return False
    own = isinstance(question.kind, Flag) or (question.key in COUNTED_IN and question.kind.low == 0)
    return not (own or how_to_tell(question, said))


def undecided(question: Question, text: str) -> bool:
    """Whether something is told that does not decide the question."""
    open_word = question.empty != NOT_KNOWN or unknown(_said(_unquoted(text.strip())))
    return not open_word and tells_nothing(question, text)


def known_to_tell_nothing(question: Question, text: str) -> bool:
    """Whether an answer is one of those that are known not to decide the question."""
    said, nothing = _said(text), TELLS_NOTHING.get(question.key, ())
    return said in nothing or _bare(said) in nothing


def refusal(mistake: InputError, question: Question | None = None) -> str:
    """Why an answer was not taken, in plain words and without the name of a key."""
    why = mistake.why
    if question and question.place == "dryer.temperature" and why == say("amount.too_much"):
        why = say("ask.too_hot", most=show(question.kind.high, "temperature", "both"))
    if question and question.place == "dryer.tray_area" and why == say("amount.too_much"):
        why = say("ask.too_large")
    example = re.sub(r'^"([^"]*)"$', r"\1", str(mistake.example))
    given = one_line(str(mistake.given), 80)
    end = "" if why.endswith((".", "?")) else "."
    return say("story.refused", given=given, why=f"{why}{end}", allowed=mistake.allowed, example=example)


def _said(text: str) -> str:
    """An answer without capitals, curled apostrophes, the full stop and the "of course" at its end."""
    said = " ".join(text.casefold().replace("’", "'").rstrip(".!").split())
    end = TOO.search(said)
    return said[: end.start()] if end and end.end() == len(said) else said


def _bare(text: str) -> str:
    """Words without the "in the" before them."""
    return ARTICLE.sub("", text, count=1)


def _unquoted(text: str) -> str:
    """An answer without the quotes that a file would want; an inch mark is none of them."""
    quoted = re.fullmatch(r'["“](.*)["”]', text)
    return quoted[1].strip() if quoted else text


def _opened(story: Story, question: Question, text: str) -> Story:
    word = NO if _said(text) in LEFT_OUT else _word(question.kind, text)
    word = question.kind.read(word, question.where)
    if word == NO:
        return story.left_open(question.place, NO)
    before = story.get(question.place) or {}
    return story.told(question.place, before | {"method": word} if question.place in SOAKS else before)


def _what_follows(before: Story, now: Story, place: str) -> Story:
    """What an answer says besides itself: another fish has another history, and fish never above 4 °C was never above 21 °C."""
    old, new = before.get(place), now.get(place)
    if place == "fish.species" and old not in (None, new):
        kept = {key: value for key, value in now.typed["fish"].items() if key in ("species", "raw_weight")}
        left = {name: word for name, word in now.left.items() if not name.startswith("fish.")}
        return replace(now, typed=now.typed | {"fish": kept}, left=left)
    if place == "fish.hours_above_4c" and new == 0:
        return now.told("fish.hours_above_21c", 0)
    if place == "fish.hours_above_4c" and old == 0:
        return replace(now, typed=taken_out(now.typed, "fish.hours_above_21c"))
    return now


def _check_bath(story: Story, question: Question) -> None:
    """With the last ingredient told, look whether it can be a bath at all. Raises: InputError."""
    if question.empty != NO_MORE:
        return
    section = question.section
    try:
        brining.mix(read_soak(story.typed[section], section), Draws(1), section)
    except InputError as mistake:
        if not mistake.lacking:  # what is only missing may still be told
            raise


def _check_syrup(story: Story, question: Question) -> None:
    """Look whether a syrup can be as heavy as it was told. Raises: InputError."""
    row = story.get(question.place.rpartition(".")[0]) if question.key == "one_cup_weighs" else {}
    if "amount" in row:
        read = {key: INGREDIENT[key].read(value, key) for key, value in row.items()}
        brining.mass_of(records.Ingredient(**read), Draws(1))


def _typed(question: Question, text: str):
    """An answer as a file would hold it: yes and no as flags, numbers as numbers, beginnings of words as words."""
    kind, key = question.kind, question.key
    if isinstance(kind, Flag):
        return _flag(question, text)
    if isinstance(kind, OneOf):
        return _word(kind, text)
    text = NUMBER_WORDS.get((key, _bare(_said(text).removeprefix("at "))), text)
    _ask_back(question, text)
    if getattr(kind, "may_be_none", False) and _said(text) in NONE_WORDS:
        return NONE
    if isinstance(kind, Number):
        return _number(question, text)
    return _name(question, text) if question.names else text


def _ask_back(question: Question, text: str) -> None:
    """What people without a dryer or a ruler say, and how to tell it all the same. Raises: InputError."""
    if how := how_to_tell(question, text):
        raise InputError(question.where, text, how, question.allowed, question.kind.example)


def how_to_tell(question: Question, text: str) -> str:
    """How to tell what an answer says, where people without a dryer or a ruler say it often; "" elsewhere."""
    fits = (message for key, pattern, message in ASKED_BACK if question.place == key and pattern.search(_said(text)))
    return next(map(say, fits), "")


def _flag(question: Question, text: str) -> bool:
    """Yes or no, also as people answer this one question, and both in one ("yes, on the shore"). Raises: InputError."""
    said, (good, bad) = _said(text), FLAG_WORDS.get(question.key, ((), ()))
    first, _, more = said.replace(",", "").partition(" ")
    for value, plain, own in ((True, YES_WORDS, good), (False, NO_WORDS, bad)):
        if said in (*plain, *own) or (first in plain and more in own) or (value and IT_IS.match(said)):
            return value
    raise InputError(question.where, text, say("ask.yes_or_no"), question.allowed, say("ask.yes"))


def _word(kind: OneOf, text: str) -> str:
    """The word of a choice that is meant, else the text."""
    said = _said(text)
    said = "yes" if YES in kind.words and said in YES_WORDS else said
    found = [kind.meant(one) for one in (said, _bare(said))]
    return next((one for one in found if one in kind.words), text)


LOOKED_UP = {"species": tables.species, "what": tables.ingredient, "pack": tables.pack}


def _name(question: Question, text: str) -> str:
    """A name of the table: as typed, or without "in a" before it, "fillets" or the s of several bags behind it; else the text.

    Raises: InputError for an ingredient with its amount
    """
    whole = CUTS.sub("", text) if question.key == "species" else text
    several = re.sub(r"s$", "", _bare(text)) if question.key == "pack" else text
    for one in (text, _bare(text), whole, several, re.sub(r"(?<=\w) an? (?=\w)", " ", text)):
        try:
            LOOKED_UP[question.key](one)
        except InputError:
            continue
        return one
    if question.key == "what" and AMOUNT_TOO.search(text) and not refused.substance(text):
        raise InputError(question.where, text, say("ask.amount_next"), question.allowed, question.kind.example)
    return whole


def _number(question: Question, text: str):
    """A number, also with "%" where it is per cent, with what it counts, or as an amount of time where it counts hours
    or days; else the text. Raises: InputError for a time that cannot be read."""
    kind, key = question.kind, question.key
    if key in COUNTED_IN and kind.low == 0 and _said(text) in NONE_WORDS:
        return 0
    if key.startswith("measured") and spoken.is_rough(text):
        return text
    bare = re.sub(r"\s*(?:%|per ?cent|pct)$", "", text) if kind.share else text
    bare = re.sub(rf"(?<=\w) (?:{COUNTED[key]})$", "", bare) if key in COUNTED else bare
    try:
        return _plain(read_amount(bare, "count", key, low=0.0).value)
    except InputError:
        if key in COUNTED_IN and re.search(r"[^\W\d]", text):
            return _counted(question, text)
        raise InputError(question.where, text, say("ask.plain_number"), kind.allowed, kind.example) from None


def _counted(question: Question, text: str) -> int | float:
    """An amount of time in the hours or days that are asked; days of keeping are whole, and rather one more. Raises: InputError."""
    size, careful = COUNTED_IN[question.key], question.key in LONGER_IS_CAREFUL
    try:
        number = _plain(read_amount(text, "time", question.key, low=0.0).value / size)
        return math.ceil(number) if question.kind.whole else number
    except InputError as mistake:
        why = say("amount.careful.longer") if careful and mistake.why == say("amount.range") else mistake.why
        example = say("ask.example_hours" if size == HOUR else "ask.example_days")
        raise InputError(question.where, text, why, question.kind.allowed, example) from None


def _plain(number: float) -> int | float:
    number = float(f"{number:.12g}")
    return int(number) if number.is_integer() else number


def reopened(story: Story) -> Story:
    """The story with everything asked again that was left open although no plan can be made without it."""
    needed = {one.place for one in questions(story) if one.needed}
    if "species" not in story.typed.get("fish", {}):
        needed |= {f"fish.{key}" for key in ("species", "water", "protein", "fat")}
    return replace(story, left={place: word for place, word in story.left.items() if place not in needed})


def question_at(place: str) -> Question:
    """The question that belongs to a place, whatever was told so far."""
    section, key = place.split(".")[0], place.rpartition(".")[2]
    if place in DOORS or (section in LISTS and place.count(".") == 1):
        return _door(section, place)
    asked = "ingredient" if ".ingredient." in place else "soak" if section in SOAKS else section
    one = next(one for one in ASKED[asked] if one.key == key)
    kind = (INGREDIENT if asked == "ingredient" else FIELDS[section])[key]
    return Question(place, section, message_of(section, place), kind, one.metric, one.us)
