"""The one table of fields: every section and key of a batch file, its kind, its limits and an example.

A kind reads what was typed and writes a value back, so that reading, writing, forms and the page of all keys can never
disagree. Errors name the field, what was given, what is allowed and an example.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from flakeyard import refused, spoken
from flakeyard.messages import say
from flakeyard.models.constants import DAY, HOUR
from flakeyard.spelling import alike
from flakeyard.steps.intent import records
from flakeyard.units import InputError, allowed_amounts, read_amount

NOT_KNOWN, NONE = "not known", "none"
NEEDED = ("fish", "cut", "dryer")
WRITTEN_IN = {  # the unit in which a number without typed words is written: SI value of one of it
    "mass": ("g", 1e-3), "volume": ("mL", 1e-6), "length": ("mm", 1e-3), "area": ("cm2", 1e-4), "time": ("h", HOUR),
    "temperature": ("°C", 1.0), "power": ("W", 1.0), "flow": ("kg/h", 1 / HOUR), "volume_flow": ("m3/h", 1 / HOUR),
}  # fmt: skip


@dataclass(frozen=True)
class Measure:
    """An amount with a unit, typed as text; ``exact``: not "about" so much, since a rule hangs on it; ``careful``: which
    end of a range is the cautious one ("longer"), where one is."""

    kinds: str | tuple[str, ...]
    low: float | None
    high: float | dict | None
    example: str
    needed: bool = False
    may_be_unknown: bool = False
    exact: bool = False
    careful: str = ""
    may_be_none: bool = False

    def read(self, given, where: str):
        if self.may_be_none and isinstance(given, str) and given.strip().lower() == NONE:
            return 0.0
        if self.may_be_unknown and isinstance(given, str) and given.strip().lower() == NOT_KNOWN:
            return None
        if self.exact and isinstance(given, str) and spoken.is_rough(given):
            raise InputError(where, given, say("amount.exact"), self.allowed, self.example)
        amount = self._amount(given, where)
        return amount.value if isinstance(self.kinds, str) else self.record(**{amount.kind: amount.value})

    def _amount(self, given, where: str):
        try:
            return read_amount(given, self.kinds, where, low=self.low, high=self.high, example=self.example)
        except InputError as mistake:
            if not self.careful or mistake.why != say("amount.range"):
                raise
            why = say(f"amount.careful.{self.careful}")
            raise InputError(where, given, why, mistake.allowed, self.example) from None

    @property
    def record(self) -> type:
        """What holds an amount that may be told in two ways."""
        return records.Airflow if "flow" in self.kinds else records.Portion

    @property
    def allowed(self) -> str:
        return allowed_amounts(self.kinds, self.low, self.high)

    def write(self, value) -> str:
        """A value in words that read the same."""
        if self.may_be_none and value == 0.0:
            return NONE
        told = {self.kinds: value} if isinstance(self.kinds, str) else vars(value)
        kind, number = next((kind, number) for kind, number in told.items() if number is not None)
        unit, factor = WRITTEN_IN[kind]
        return f"{number / factor:.15g} {unit}"


@dataclass(frozen=True)
class Number:
    """A bare number; ``share`` turns per cent into a fraction."""

    low: float
    high: float
    example: str
    share: bool = False
    whole: bool = False
    needed: bool = False

    @property
    def allowed(self) -> str:
        name = "whole_number" if self.whole else "percent" if self.share else "number"
        return say(f"field.allowed.{name}", low=self.low, high=self.high)

    def read(self, given, where: str):
        allowed = self.allowed
        if isinstance(given, bool) or not isinstance(given, int | float):
            raise InputError(where, given, say("field.plain_number"), allowed, self.example)
        if not self.low <= given <= self.high:  # also refuses NaN
            raise InputError(where, given, say("field.outside"), allowed, self.example)
        if self.whole and given != int(given):
            raise InputError(where, given, say("field.whole"), allowed, self.example)
        return given / 100 if self.share else given

    def write(self, value):
        return float(f"{100 * value:.15g}") if self.share else value


@dataclass(frozen=True)
class OneOf:
    """One of a few words; ``also`` is what else people call them, where that is certain and never milder; ``unclear``
    is what must be asked back, with the message that does."""

    words: tuple[str, ...]
    needed: bool = False
    also: dict[str, tuple[str, ...]] = field(default_factory=dict, hash=False)
    unclear: dict[str, str] = field(default_factory=dict, hash=False)

    @property
    def example(self) -> str:
        return f'"{self.words[0]}"'

    @property
    def allowed(self) -> str:
        return " | ".join(self.words)

    def meant(self, text: str) -> str:
        """The one word that is meant, that begins like this or is also called so; else the text."""
        said = " ".join(text.casefold().split())
        called = [word for word, names in self.also.items() if said in names]
        begun = [word for word in self.words if word.startswith(said)]
        return said if said in self.words else called[0] if called else begun[0] if said and len(begun) == 1 else text

    def read(self, given, where: str):
        if isinstance(given, str) and given.strip().lower() in self.words:
            return given.strip().lower()
        near = [word for word in self.words if word == self.meant(str(given))] or alike(str(given), self.words)
        asked = self.unclear.get(str(given).strip().lower())
        meant = say("words.did_you_mean", meant=f'"{near[0]}"') if near else say("field.unknown_word")
        why = say(asked) if asked else meant
        raise InputError(where, given, why, self.allowed, self.example)

    def write(self, value: str) -> str:
        return value


@dataclass(frozen=True)
class Flag:
    """true or false."""

    example: str = "true"
    needed: bool = False
    allowed = "true | false"

    def read(self, given, where: str):
        if isinstance(given, bool):
            return given
        raise InputError(where, given, say("field.true_or_false"), self.allowed, self.example)

    def write(self, value: bool) -> bool:
        return value


@dataclass(frozen=True)
class Words:
    """Free text."""

    example: str
    needed: bool = False

    @property
    def allowed(self) -> str:
        return say("field.allowed.text")

    def read(self, given, where: str):
        if isinstance(given, str) and given.strip():
            return given.strip()
        raise InputError(where, given, say("field.few_words"), self.allowed, self.example)

    def write(self, value: str) -> str:
        return value


def _share(low: float, high: float, example: str) -> Number:
    return Number(low, high, example, share=True)


def _time(high: float, example: str, needed: bool = False) -> Measure:
    return Measure("time", None, high, example, needed)


def _sample(example: str) -> Measure:
    """A sample on a scale, before or after the oven."""
    return Measure("mass", 0.0002, 2.0, example)


def _kitchen(kilograms: float, example: str, needed: bool = False) -> Measure:
    """A weight, or a volume of up to a litre for each kilogram allowed."""
    return Measure(("mass", "volume"), None, {"mass": kilograms, "volume": kilograms / 1000}, example, needed)


FARMED = (
    "farm", "fish farm", "fishfarm", "trout farm", "salmon farm", "carp farm", "from a farm", "from a fish farm", "farm raised",
    "farm-raised", "aquaculture",
)  # fmt: skip
WILD = (
    "caught", "wild caught", "wild-caught", "caught wild", "caught it", "i caught it", "self-caught", "line caught", "line-caught", "caught in a lake", "caught in a river",
    "caught in the lake", "caught in the river", "caught in the sea", "caught at sea", "lake", "river", "sea",
    "ocean", "from a lake", "from a river", "from the lake", "from the river", "from the sea",
)  # fmt: skip
FRESH = (
    "never frozen",
    "not frozen",
    "never been frozen",
    "never been in the freezer",
    "just on ice",
    "chilled",
    "fresh, never frozen",
    "fresh, not frozen",
    "unfrozen",
)
FROZEN = (
    "froze",
    "froze it",
    "frozen before",
    "from frozen",
    "deep frozen",
    "deep-frozen",
    "previously frozen",
    "was frozen",
    "thawed",
    "frozen then thawed",
    "defrosted",
)
FORMS = {
    "strips": ("slices", "slice", "sliced", "jerky strips"),
    "fillets": (
        "filet", "filets", "filleted", "loin", "loins", "sides", "side", "a side", "skinless fillets", "skin-on fillets", "skin on fillets",
        "boneless fillets", "boneless skinless fillets", "skinless boneless fillets",
    ),
    "split": ("butterfly", "butterflied", "split open", "opened flat", "kippered"),
    "whole": ("whole fish", "uncut", "not cut"),
}  # fmt: skip
SKINS = {
    "off": ("skinless", "skin off", "skin-off", "skinned", "no skin", "without skin", "removed", "skin removed"),
    "one side": (
        "on", "skin on", "skin-on", "with skin", "left on", "still on", "on one side", "skin on one side", "skin side",
    ),
}  # fmt: skip
SALTED = {
    "wet": (
        "brine", "brined", "wet brine", "wet-brined", "wet brined", "in brine", "brining", "wet cure", "marinade", "marinated",
    ),
    "dry": ("dry salt", "dry salted", "dry-salted", "dry cure", "dry-cured", "dry cured", "dry brine", "dry-brined"),
}  # fmt: skip
CHECKED = {
    "probe": (
        "probe thermometer", "meat thermometer", "instant-read thermometer", "instant read thermometer", "with a probe",
        "with a probe thermometer", "with a meat thermometer",
    ),
    "not checked": ("no", "not", "not at all", "didn't check", "did not check", "never checked", "by eye", "by feel", "unchecked"),
}  # fmt: skip
THERMOMETER = dict.fromkeys(("thermometer", "a thermometer", "with a thermometer", "by thermometer"), "ask.thermometer")
HEATED = ("steamed", "simmered", "poached", "boiled", "yes in the oven", "yes, in the oven")  # how hot is asked then
PLACES = {
    "cupboard": (
        "pantry",
        "shelf",
        "counter",
        "kitchen cupboard",
        "cool cupboard",
        "food cupboard",
        "kitchen counter",
        "room temperature",
        "worktop",
    ),
    "refrigerator": ("fridge", "the fridge", "ice box", "icebox"),
    "freezer": ("deep freezer", "deep freeze", "chest freezer", "deep-freeze"),
}
HEATER = Measure("power", 30.0, 10_000.0, '"500 W"', may_be_unknown=True, may_be_none=True)
MOVED = {
    "fan": ("a fan", "has a fan", "with a fan", "yes"), "still": ("no", "none", "nothing", "no fan", "door ajar"),
    "wind": ("the wind", "a breeze", "outdoors", "outside"),
}  # fmt: skip
COLD_BATH = Measure("temperature", -5.0, 40.0, '"3 °C"')
INGREDIENT = {
    "what": Words('"pickling salt"', needed=True),
    "amount": _kitchen(200.0, '"160 g"', needed=True),
    "one_cup_weighs": Measure("mass", 0.15, 0.40, '"312 g"'),
    "brix": Number(0, 85, "65"),
    "recipe_sugar": _kitchen(20.0, '"2 cup"'),
    "recipe_liquid": _kitchen(20.0, '"1 cup"'),
}
SOAK = {
    "method": OneOf(("wet", "dry"), also=SALTED),
    "time": _time(30 * DAY, '"10 h"', needed=True),
    "temperature": replace(COLD_BATH, needed=True),
}
FIELDS: dict[str, dict] = {
    "": {"title": Words('"First evening"'), "serving": Measure("mass", 0.001, 1.0, '"30 g"')},
    "fish": {
        "species": Words('"rainbow trout, farmed"'),
        "water": _share(40, 90, "74.0"),
        "protein": _share(5, 35, "20.0"),
        "fat": _share(0, 35, "6.2"),
        "ash": _share(0, 6, "1.2"),
        "raw_weight": Measure("mass", 0.02, 200.0, '"1.8 kg"', needed=True),
        "stock": OneOf(("fresh", "frozen"), also={"fresh": FRESH, "frozen": FROZEN}),
        "frozen_at": Measure("temperature", -80.0, 0.0, '"-20 °C"'),
        "frozen_days": Number(0, 1000, "8"),
        "thawed_in_vacuum": Flag("false"),
        "origin": OneOf(("farmed", "wild"), also={"farmed": FARMED, "wild": WILD}),
        "gutted": Flag(),
        "hours_above_4c": Number(0, 2000, "0.5"),
        "hours_above_21c": Number(0, 2000, "0"),
        "warmest": Measure("temperature", -5.0, 60.0, '"12 °C"'),
        "smells_normal": Flag(),
        "waters": OneOf(refused.WATERS),
    },
    "cut": {
        "form": OneOf(("strips", "fillets", "split", "whole"), also=FORMS),
        "thickness": Measure("length", 0.002, 0.030, '"6 mm"', needed=True),
        "thinnest": Measure("length", 0.001, 0.040, '"5 mm"'),
        "thickest": Measure("length", 0.002, 0.040, '"8 mm"', careful="thicker"),
        "width": Measure("length", 0.005, 0.50, '"25 mm"'),
        "skin": OneOf(("off", "one side"), also=SKINS),
    },
    "presoak": SOAK,
    "brine": SOAK,
    "rest": {"time": _time(10 * DAY, '"12 h"', needed=True), "temperature": replace(COLD_BATH, needed=True)},
    "freshen": {
        "water": _kitchen(200.0, '"3 L"', needed=True),
        "time": _time(7 * DAY, '"1 h"', needed=True),
        "changes": Number(1, 20, "2", whole=True),
        "temperature": replace(COLD_BATH, needed=True),
    },
    "heat": {
        "core": Measure("temperature", 30.0, 110.0, '"74 °C"', needed=True, exact=True),
        "hold": Measure("time", 0.0, 6 * HOUR, '"1 min"'),
        "weight_after": Measure("mass", 0.01, 200.0, '"1.5 kg"'),
        "checked": OneOf(("probe", "not checked"), also=CHECKED, unclear=THERMOMETER),
        "to_tray": Measure("time", 0.0, 6 * HOUR, '"10 min"', careful="longer"),
    },
    "dryer": {
        "temperature": Measure("temperature", 0.0, 80.0, '"63 °C"', needed=True),
        "trays": Number(1, 60, "5", whole=True, needed=True),
        "tray_area": Measure("area", 0.005, 2.0, '"900 cm2"', needed=True),
        "faces": Number(1, 2, "2", whole=True),
        "heater": HEATER,
        "fresh_air": Measure(("flow", "volume_flow"), None, 1.0, '"not known"', may_be_unknown=True),
        "moving": OneOf(records.MOVING, also=MOVED),
        "rotated": Measure("time", HOUR / 4, DAY, '"1 h"'),
    },
    "air": {
        "time": Measure("time", HOUR, 30 * DAY, '"12 h"', needed=True),
        "temperature": Measure("temperature", 0.0, 80.0, '"8 °C"', needed=True),
        "room_temperature": Measure("temperature", -10.0, 45.0, '"8 °C"'),
        "relative_humidity": _share(2, 100, "70"),
        "heater": HEATER,
        "moving": OneOf(records.MOVING, also=MOVED),
        "once": Flag("true"),
    },
    "room": {
        "temperature": Measure("temperature", -10.0, 45.0, '"20 °C"'),
        "relative_humidity": _share(2, 100, "50"),
        "altitude": Measure("length", 0.0, 4500.0, '"150 m"'),
    },
    "measured": {
        "composition_error": _share(0.1, 2, "0.5"),
        "thickness_error": Measure("length", 0.00005, 0.005, '"0.3 mm"'),
        "scale_step": Measure("mass", 0.00001, 1.0, '"1 g"'),
        "raw_sample": _sample('"20 g"'),
        "raw_oven_dry": _sample('"5.2 g"'),
        "salted_weight": Measure("mass", 0.02, 300.0, '"1.7 kg"'),
        "strip_salt": _share(0.1, 26, "5.0"),
        "strip_error": _share(0.05, 10, "0.5"),
        "laid_sample": _sample('"20 g"'),
        "laid_oven_dry": _sample('"6.4 g"'),
        "dried_sample": _sample('"20 g"'),
        "dried_oven_dry": _sample('"12.5 g"'),
    },
    "keep": {
        "place": OneOf(("cupboard", "refrigerator", "freezer"), also=PLACES),
        "pack": Words('"glass jar"'),
        "wanted_days": Number(1, 730, "30", whole=True),
        "per_pack": Measure("mass", 0.01, 5.0, '"150 g"'),
        "target_moisture": _share(5, 60, "25"),
        "stop_at": Number(0.1, 1.0, "0.46"),
        "measured_water_activity": Number(0.2, 1.0, "0.78"),
        "measured_error": Number(0.0, 0.1, "0.01"),
        "measured_by": OneOf(records.METERS),
        "measured_at": Number(0.1, 1.0, "0.44"),
    },
}
LISTS = ("freshen", "air")
SOAKS = ("presoak", "brine")
RECORDS = {
    "fish": records.Fish, "cut": records.Cut, "presoak": records.Soak, "brine": records.Soak, "rest": records.Rest,
    "freshen": records.Freshen, "heat": records.Heat, "dryer": records.Dryer, "air": records.AirPhase, "room": records.Room, "measured": records.Measured,
    "keep": records.Keep,
}  # fmt: skip
