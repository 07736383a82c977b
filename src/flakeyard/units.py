"""Amounts: reading what a learner types, showing what we computed, and the one registry of units.

Inside the package every number is a plain float in SI (temperature in degC, per cent as a fraction 0-1). Here is the
only way in and out. Typed amounts go through the small grammar below and never through the parser of pint, which reads
"1 1/2 cup" as half a cup and "60 C" as coulombs. Pint is loaded only when a Quantity is asked for.
"""

from __future__ import annotations

import functools
import json
import math
import numbers
import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from flakeyard import spoken
from flakeyard.messages import in_signs, joined, say
from flakeyard.packaged import rows

COLDEST = -273.15  # degC, absolute zero: exact, SI definition of degC
LARGEST = 1e15  # a bare number above this is a slip
LONGEST = 60  # characters of a typed amount


class InputError(ValueError):
    """Something typed cannot be used; says where, what, why, what is allowed, and shows an example."""

    def __init__(self, field: str, given, why: str, allowed: str, example: str):
        super().__init__(field, given, why, allowed, example)
        self.field, self.given, self.why, self.allowed, self.example = field, given, why, allowed, example

    @property
    def lacking(self) -> bool:
        """Whether nothing was given."""
        return self.given == say("error.nothing")

    def __str__(self) -> str:
        """At most ten lines that any screen can show, whatever was typed."""
        field, why, allowed = one_line(self.field, 100), one_line(self.why, 420), one_line(self.allowed, 260)
        why = why if why.endswith(("?", ".")) else f"{why}."
        example = "\n".join(one_line(line, 80) for line in str(self.example).split("\n")[:3])
        given = one_line(_as_written(self.given), 80)
        return say("error.input", field=field, given=given, why=why, allowed=allowed, example=example)


class InputErrors(InputError):
    """Several things typed cannot be used; what a single one says of itself, this one says of the first of them."""

    SHOWN = 8  # of so many each is told: with the line above and the one below these are ten

    def __init__(self, mistakes: Iterable[InputError]):
        self.mistakes = tuple(mistakes)
        first = self.mistakes[0]
        super().__init__(first.field, first.given, first.why, first.allowed, first.example)

    def __str__(self) -> str:
        """At most ten lines."""
        shown = [f"- {' '.join(str(mistake).splitlines())}" for mistake in self.mistakes[: self.SHOWN]]
        more = len(self.mistakes) - len(shown)
        last = [say("mistakes.more", number=more)] if more else []
        return "\n".join([say("mistakes.several", number=len(self.mistakes)), *shown, *last])


def one_line(text: str, most: int) -> str:
    """Text as one line of at most so many characters; what does not print (controls, halves of a pair) is "?"."""
    text = str(text)[: 4 * most]
    text = "".join(sign if sign.isprintable() else " " if sign.isspace() else "?" for sign in text)
    return text if len(text) <= most else f"{text[: most - 4]} ..."


def _as_written(given) -> str:
    """A value as a file would have it, or its kind where there is no end to it."""
    try:
        return json.dumps(given, ensure_ascii=False, default=str)
    except (TypeError, ValueError, ArithmeticError, RecursionError, MemoryError):
        return say("amount.of_a_kind", kind=type(given).__name__)


@dataclass(frozen=True)
class Kind:
    """A kind of amount: its name, the SI unit pint knows it by, and examples of how it is typed."""

    name: str
    pint_unit: str
    examples: tuple[str, ...]

    @property
    def words(self) -> str:
        return say(f"kind.{self.name}")

    @property
    def example(self) -> str:
        told = joined("words.or", self.examples)
        return say("amount.as_quantity", example=told) if self.name == "diffusivity" else told


KINDS = {
    "mass": Kind("mass", "kilogram", ('"250 g"', '"4 oz"')),
    "volume": Kind("volume", "meter ** 3", ('"1.5 L"', '"1 1/2 cup"')),
    "length": Kind("length", "meter", ('"6 mm"', '"1/4 in"')),
    "area": Kind("area", "meter ** 2", ('"900 cm2"', '"140 in2"')),
    "temperature": Kind("temperature", "degree_Celsius", ('"63 °C"', '"145 °F"')),
    "temperature_difference": Kind("temperature_difference", "delta_degree_Celsius", ('"5 °C"', '"9 °F"')),
    "time": Kind("time", "second", ('"10 h"', '"45 min"')),
    "power": Kind("power", "watt", ('"500 W"', '"0.5 kW"')),
    "energy": Kind("energy", "joule", ('"1.2 kWh"',)),
    "flow": Kind("flow", "kilogram / second", ('"40 kg/h"',)),
    "volume_flow": Kind("volume_flow", "meter ** 3 / second", ('"30 m3/h"', '"20 cfm"')),
    "velocity": Kind("velocity", "meter / second", ('"1.5 m/s"',)),
    "pressure": Kind("pressure", "pascal", ('"101.3 kPa"',)),
    "density": Kind("density", "kilogram / meter ** 3", ('"1.05 kg/L"',)),
    "diffusivity": Kind("diffusivity", "meter ** 2 / second", ('"3e-10 m2/s"',)),
    "percent": Kind("percent", "", ('"12 %"',)),
    "brix": Kind("brix", "", ('"65 °Bx"',)),
    "salometer": Kind("salometer", "", ('"60 °SAL"',)),
    "fraction": Kind("fraction", "", ("0.12",)),
    "count": Kind("count", "", ('"5"',)),
}
SIGNED = ("temperature", "temperature_difference")


@dataclass(frozen=True)
class Unit:
    """One unit a learner may type; SI value = number x factor + offset."""

    name: str
    kind: str
    factor: Fraction
    offset: Fraction = Fraction(0)

    def to_si(self, number: Fraction) -> float:
        return float(number * self.factor + self.offset)


# What a lone letter might have meant. None of them is guessed.
_UNCLEAR = {
    "C": ("°C", "cup"), "c": ("cup", "°C"), "F": ("°F",), "f": ("°F",), "K": ("°C",), "°": ("°C", "°F"),
    "deg": ("°C", "°F"), "degrees": ("°C", "°F"), "T": ("tbsp", "tsp"), "t": ("tsp", "tbsp"), "tb": ("tbsp",),
    "G": ("g",), "M": ("m", "mm"), "MG": ("mg",), "Mg": ("mg",), "ML": ("mL",), "Ml": ("mL",), "H": ("h",), "S": ("s",),
    "d": ("days",), "D": ("days",), "w": ("W", "weeks"), "#": ("lb",), "'": ("ft",), "pct": ("%",),
}  # fmt: skip
_FRACTION_SIGNS = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5", "⅘": "4/5",
    "⅙": "1/6", "⅚": "5/6", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
}  # fmt: skip
_SAME_SIGN = str.maketrans(
    {"\u00a0": " ", "\u202f": " ", "\u2212": "-", "\u2044": "/", "º": "°", "˚": "°", "℃": "°C", "℉": "°F"}
)


@dataclass(frozen=True)
class Amount:
    """A typed amount: SI value, kind, the unit it came in, and the words typed."""

    value: float
    kind: str
    unit: str
    typed: str

    def __str__(self) -> str:
        return self.typed

    @property
    def quantity(self):
        """The amount as a pint Quantity in its SI unit."""
        return registry().Quantity(self.value, _pint_unit(self.kind))


class _RefusedError(Exception):
    """Why a typed amount is refused; read_amount adds the rest."""


@functools.cache
def _units() -> tuple[dict[tuple[str, bool], Unit], dict[tuple[str, bool], Unit]]:
    """All units, as written and with capitals ignored; the key is (name, is it a temperature difference)."""
    exact = {}
    for row in rows("units.csv"):
        names = row["names"].split("|")
        unit = Unit(names[0], row["kind"], Fraction(row["factor"]), Fraction(row["offset"]))
        exact |= {(name, unit.kind == "temperature_difference"): unit for name in names}
    for row in rows("kitchen.csv"):
        names = row["names"].split("|")
        exact |= {(name, False): Unit(names[0], "volume", Fraction(row["millilitres"]) / 10**6) for name in names}
    folded = {(name.casefold(), group): unit for (name, group), unit in exact.items() if len(name) > 1}
    return exact, folded


def is_unit(name: str) -> bool:
    """Whether a word is the name of a unit."""
    exact, folded = _units()
    return (name, False) in exact or (name.casefold(), False) in folded


def unit_choices(kind: str) -> tuple[str, ...]:
    """Labels of the units a learner may choose for a kind, for a drop-down."""
    exact, _ = _units()
    return tuple(dict.fromkeys(unit.name for unit in exact.values() if unit.kind == kind))


def read_amount(
    typed, kinds, field: str, low=None, high=None, example: str | None = None, bare: bool = False
) -> Amount:
    """Read an amount such as "1 1/2 cup", "1,5 L", "6 mm" or "145 °F".

    Parameters:
        typed : str – what the learner typed; with ``bare`` (or for a count) also an int or float
        kinds : str or tuple – the kinds accepted, names of KINDS
        field : str – where it was typed, for the message
        low, high : float, dictionary by kind or None – limits in SI, both included; without ``low`` it must be above
            zero (a temperature only above absolute zero)
        example : str or None – what to show when it is refused
        bare : bool – a number without a unit is taken in the unit of the first kind (50 for 50 %)
    Returns: Amount, its value in SI
    Raises: InputError
    """
    kinds = (kinds,) if isinstance(kinds, str) else tuple(kinds)
    try:
        number, unit = _parse(typed, kinds, bare)
        value = unit.to_si(number)
        _check(value, unit, kinds, _limit(low, unit.kind), _limit(high, unit.kind))
    except _RefusedError as refused:
        allowed = allowed_amounts(kinds, low, high)
        raise InputError(field, typed, str(refused), allowed, example or _examples(kinds)) from None
    return Amount(value, unit.kind, unit.name, str(typed).strip())


def _parse(typed, kinds: tuple[str, ...], bare: bool) -> tuple[Fraction, Unit]:
    bare_unit = _bare_unit(kinds, bare)
    if isinstance(typed, numbers.Real) and not isinstance(typed, bool):
        if not abs(typed) <= LARGEST:  # also refuses NaN
            raise _RefusedError(say("amount.no_number"))
        if bare_unit is None:
            raise _RefusedError(say("amount.unit_in_quotes", example=_examples(kinds)))
        return Fraction(str(typed)), bare_unit
    if not isinstance(typed, str):
        raise _RefusedError(say("amount.number_and_unit"))
    if len(typed) > LONGEST:
        raise _RefusedError(say("amount.too_long"))
    said = " ".join(_spell_fractions(typed.translate(_SAME_SIGN)).split())
    text = _one_unit(spoken.in_digits(said))
    _refuse_unclear(said, text, kinds)
    return (_surface(text) if "area" in kinds else None) or _number_and_unit(text, kinds, bare_unit)


def _number_and_unit(text: str, kinds: tuple[str, ...], bare_unit: Unit | None) -> tuple[Fraction, Unit]:
    """Number and unit of an amount in digits."""
    match = re.match(r"([-+]?\s*[0-9.,][0-9.,/ '’]*|)(.*)", text, re.DOTALL | re.ASCII)
    digits, rest = match[1].strip(" '’"), match[0][len(match[1].rstrip(" '’")) :].strip()
    if not digits:
        thermometer = kinds == ("temperature",) and text[:1].isalpha()
        raise _RefusedError(say("amount.degrees") if thermometer else say("amount.no_beginning"))
    if not rest:
        number = _number(digits, "")
        if bare_unit is None:
            raise _RefusedError(say("amount.no_unit"))
        return number, bare_unit
    summed = _sum(digits, rest, kinds)
    if summed:
        return summed
    unit = _unit(rest, digits, kinds)
    return _number(digits, f" {rest}"), unit


def _refuse_unclear(said: str, text: str, kinds: tuple[str, ...]) -> None:
    """Refuse a word that hides how much is meant, and two amounts of which one is meant; ``text`` is in digits."""
    if spoken.is_range(text):
        raise _RefusedError(say("amount.range"))
    word = spoken.vague(said)
    if word:
        raise _RefusedError(say("amount.vague_time" if kinds == ("time",) else "amount.vague", word=word))


def _one_unit(text: str) -> str:
    """Digits for the "an" of "an hour", where a unit follows; any other text as it is."""
    found = re.match(r"an? (([^\W\d]+).*)", text, re.IGNORECASE)
    exact, folded = _units()
    names = (found[1], found[2]) if found else ()
    return f"1 {found[1]}" if any((one, False) in exact or (one.casefold(), False) in folded for one in names) else text


def _surface(text: str) -> tuple[Fraction, Unit] | None:
    """The area of a rectangle told by its sides, or of a circle by its diameter; None where neither is told."""
    across, sides = spoken.diameter(text), spoken.sides(text)
    if across:
        return Fraction(math.pi) / 4 * _side(across) ** 2, _units()[0]["m2", False]
    return (_side(sides[0]) * _side(sides[1]), _units()[0]["m2", False]) if sides else None


def _side(text: str) -> Fraction:
    """A length in m, above zero."""
    number, unit = _number_and_unit(text, ("length",), None)
    if unit.kind != "length":
        raise _RefusedError(say("amount.other_kind", given=KINDS[unit.kind].words, needed=_words(("length",))))
    if number <= 0:
        raise _RefusedError(say("amount.above_zero"))
    return number * unit.factor


def _bare_unit(kinds: tuple[str, ...], bare: bool) -> Unit | None:
    """The unit of a number typed alone, if that is allowed."""
    if "count" in kinds:
        return Unit("", "count", Fraction(1))
    if not bare:
        return None
    return next((unit for unit in _units()[0].values() if unit.kind == kinds[0]), Unit("", kinds[0], Fraction(1)))


def _spell_fractions(text: str) -> str:
    for sign, words in _FRACTION_SIGNS.items():
        text = text.replace(sign, f" {words}")
    return text


def _number(digits: str, rest: str) -> Fraction:
    """A whole number, decimal, fraction or mixed number; ``rest`` is what follows, for the offers."""
    digits = re.sub(r"\s*/\s*", "/", digits)
    sign = -1 if digits.startswith("-") else 1
    digits = digits.lstrip("+-").strip()
    if re.fullmatch(
        r"[1-9][0-9]{0,2}(,[0-9]{3})+|[0-9]{1,3}([ '’][0-9]{3})+|[0-9]{1,3}([.,' ][0-9]{3})+[.,][0-9]+", digits
    ):
        _refuse_thousands(digits, rest)
    if re.fullmatch(r"[0-9]*[.,]?[0-9]+", digits):
        return sign * Fraction(digits.replace(",", "."))
    mixed = re.fullmatch(r"(?:([0-9]+) )?([0-9]+)/([0-9]+)", digits)
    if not mixed:
        raise _RefusedError(say("amount.not_read", digits=digits))
    whole, top, bottom = int(mixed[1] or 0), int(mixed[2]), int(mixed[3])
    if bottom == 0 or (mixed[1] and top >= bottom):
        raise _RefusedError(say("amount.no_fraction", digits=digits))
    return sign * (whole + Fraction(top, bottom))


def _refuse_thousands(digits: str, rest: str) -> None:
    """Refuse "1,500", "1.234,5" and the like, with what they may have meant."""
    groups = re.split(r"[^0-9]", digits)
    offers = []
    if len(groups[-1]) == 3:
        offers.append("".join(groups))
    if (len(groups) == 2 and "," in digits) or len(set(re.findall("[^0-9]", digits))) == 2:
        offers.append(_plain(Fraction(f"{''.join(groups[:-1])}.{groups[-1]}"), 12))
    offered = joined("words.or", (f'"{offer}{rest}"' for offer in offers))
    raise _RefusedError(say("amount.thousands", offers=offered))


def _unit(words: str, digits: str, kinds: tuple[str, ...]) -> Unit:
    exact, folded = _units()
    words = words.replace("° ", "°")
    words = words if re.search(r"[0-9]", words) else words.replace(".", "").strip()  # "oz." but not "3 lb 4.5 oz"
    groups = (True, False) if "temperature_difference" in kinds and "temperature" not in kinds else (False,)
    for group in groups:
        if (words, group) in exact:
            return exact[words, group]
    clear = _clear_letter(words, kinds)
    if clear:
        return clear
    if words in _UNCLEAR:
        offers = [f'"{digits} {name}"' for name in _UNCLEAR[words] if _may_mean(name, kinds)]
        if offers:
            raise _RefusedError(say("amount.unit_meant", unit=words, offers=joined("words.or", offers)))
        raise _RefusedError(_with_known("amount.unit_unclear", words, kinds))
    for group in groups:
        if (words.casefold(), group) in folded:
            return folded[words.casefold(), group]
    _refuse_two(digits, words)
    raise _RefusedError(_with_known("amount.unit_unknown", words, kinds))


def _clear_letter(words: str, kinds: tuple[str, ...]) -> Unit | None:
    """What a lone letter means where one kind is asked, no volume, and one unit of it fits; "K" is never a degree C."""
    if len(words) != 1 or words == "K" or len(kinds) != 1 or kinds == ("volume",):
        return None
    names = [name for name in _UNCLEAR.get(words, ()) if _may_mean(name, kinds)]
    return _units()[0][names[0], kinds == ("temperature_difference",)] if len(names) == 1 else None


def _may_mean(name: str, kinds: tuple[str, ...]) -> bool:
    """Whether a unit measures what is asked for; any unit does where nothing is asked."""
    found = {unit.kind for (one, _), unit in _units()[0].items() if one == name}
    return not kinds or bool(found & set(kinds))


def _with_known(name: str, unit: str, kinds: tuple[str, ...]) -> str:
    """A message on a unit, with the units that are known where a kind is asked for."""
    known = ", ".join(choice for kind in kinds for choice in unit_choices(kind))
    return say(f"{name}.known" if known else name, unit=unit, known=known)


_TWO_UNITS = re.compile(r"([^0-9]+?)[ ,]*(?:and )?([0-9][0-9.,/ ]*?) ?([^0-9 ][^0-9]*)?")


def _sum(digits: str, rest: str, kinds: tuple[str, ...]) -> tuple[Fraction, Unit] | None:
    """Two amounts of one kind as their sum, the larger unit first ("2 lb 3 oz", "1h30"); None where it is none, or
    where it is an odd one: a broken number of the larger unit, or more of the smaller than make one of it."""
    pieces = None if (rest, False) in _units()[0] else _TWO_UNITS.fullmatch(rest)
    if not pieces or not digits.isdigit():
        return None
    try:
        first = _unit(pieces[1], digits, kinds)
        minutes = first.name == "h" and pieces[3] in (None, "m") and re.fullmatch("[0-9]{2}", pieces[2])
        second = _unit("min" if minutes else pieces[3] or "", pieces[2], kinds)
        more = _number(pieces[2], "") * second.factor
    except _RefusedError:
        return None
    if first.kind != second.kind or first.kind in SIGNED or not 0 < more < first.factor:
        return None
    return int(digits) + more / first.factor, first


def _refuse_two(digits: str, rest: str) -> None:
    """Refuse a range, or two amounts in one ("3 lb 4 oz"), with the single amount it comes to."""
    if re.match(r"(-|–|to\b|bis\b|or\b)\s*[0-9]", rest):
        mixed = re.fullmatch(r"-\s*([0-9]+/[0-9]+) ?(.*)", rest)
        meant = say("words.did_you_mean", meant=f'"{digits} {mixed[1]} {mixed[2]}"') if mixed else ""
        raise _RefusedError(meant or say("amount.a_range"))
    pieces = re.fullmatch(r"([^0-9]+?)[ ,]*(?:and )?([0-9][0-9.,/]*) ?([^0-9]+)", rest)
    if not pieces:
        return
    try:
        first, second = _unit(pieces[1], digits, ()), _unit(pieces[3], pieces[2], ())
        total = _number(digits, "") * first.factor + _number(pieces[2], "") * second.factor
    except _RefusedError:
        return
    if first.kind == second.kind and not first.offset:
        sums = [(total / unit.factor, unit.name) for unit in (first, second)]
        exact = [f'"{_plain(number)} {name}"' for number, name in sums if Fraction(_plain(number)) == number]
        raise _RefusedError(say("amount.two_units", offers=joined("words.or", exact)))


def _check(value: float, unit: Unit, kinds: tuple[str, ...], low: float | None, high: float | None) -> None:
    if unit.kind not in kinds:
        raise _RefusedError(say("amount.other_kind", given=KINDS[unit.kind].words, needed=_words(kinds)))
    if unit.kind == "temperature" and value < COLDEST:
        raise _RefusedError(say("amount.too_cold"))
    if low is None and unit.kind not in SIGNED and value <= 0:
        raise _RefusedError(say("amount.above_zero"))
    if low is not None and value < low:
        raise _RefusedError(say("amount.less_than_nothing") if low == 0 else say("amount.too_little"))
    if high is not None and value > high:
        raise _RefusedError(say("amount.too_much"))


def _limit(limit, kind: str) -> float | None:
    return limit.get(kind) if isinstance(limit, dict) else limit


def _words(kinds: tuple[str, ...]) -> str:
    return joined("words.or", (KINDS[kind].words for kind in kinds))


def _examples(kinds: tuple[str, ...]) -> str:
    return joined("words.or", (KINDS[kind].example for kind in kinds))


def allowed_amounts(kinds: str | tuple[str, ...], low, high) -> str:
    """The limits of `read_amount` in words, kind by kind."""
    kinds = (kinds,) if isinstance(kinds, str) else kinds
    told = []
    for kind in kinds:
        least, most = (_limit_words(_limit(limit, kind), kind) for limit in (low, high))
        limits = "between" if least and most else "up_to" if most else "from" if least else "any"
        limits = "positive" if limits == "any" and kind not in SIGNED else limits
        told.append(say(f"amount.limits.{limits}", kind=KINDS[kind].words, least=least, most=most))
    return joined("words.or", told)


def _limit_words(limit: float | None, kind: str) -> str | None:
    if limit is None or (limit == 0 and kind not in SIGNED):
        return limit if limit is None else say("amount.zero")
    return show(limit, kind, "both", 2 if kind in SIGNED else 3)


def _plain(number: Fraction | float, digits: int = 6) -> str:
    """A number as people write it: rounded to so many significant digits, no exponent, no idle zeros."""
    number = float(number)
    if number == 0:
        return "0"
    rounded = float(f"{number:.{digits - 1}e}")
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(rounded))))
    text = f"{rounded:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


# Display: (label, SI size of one, number from which the next label takes over)
_METRIC = {
    "mass": (("mg", 1e-6, 1000), ("g", 1e-3, 1000), ("kg", 1.0, math.inf)),
    "volume": (("mL", 1e-6, 1000), ("L", 1e-3, math.inf)),
    "length": (("mm", 1e-3, 1000), ("m", 1.0, math.inf)),
    "area": (("cm²", 1e-4, 10_000), ("m²", 1.0, math.inf)),
    "time": (("s", 1.0, 60), ("min", 60.0, 120), ("h", 3600.0, 72), ("days", 86400.0, math.inf)),
    "power": (("W", 1.0, 1000), ("kW", 1000.0, math.inf)),
    "energy": (("Wh", 3600.0, 1000), ("kWh", 3.6e6, math.inf)),
    "flow": (("kg/h", 1 / 3600, math.inf),),
    "volume_flow": (("m³/h", 1 / 3600, math.inf),),
    "velocity": (("m/s", 1.0, math.inf),),
    "pressure": (("kPa", 1000.0, math.inf),),
    "density": (("kg/L", 1000.0, math.inf),),
    "percent": (("%", 0.01, math.inf),),
    "brix": (("°Bx", 0.01, math.inf),),
    "salometer": (("°SAL", 1.0, math.inf),),
    "fraction": (("", 1.0, math.inf),),
    "count": (("", 1.0, math.inf),),
}
POUND, INCH, FOOT, CUP = (
    0.45359237,
    0.0254,
    0.3048,
    236.5882365e-6,
)  # SI; US cup; exact, as in data/units.csv and kitchen.csv
OUNCE = POUND / 16  # exact, by definition
UNIT_WORDS = ("day", "days", "tsp", "tbsp", "cup", "qt", "gal")  # labels that are words: unit.… of the messages
_US = {
    "mass": (("oz", OUNCE, 16), ("lb", POUND, math.inf)),
    "volume": (
        ("tsp", CUP / 48, 3),
        ("tbsp", CUP / 16, 4),
        ("cup", CUP, 4),
        ("qt", CUP * 4, 4),
        ("gal", CUP * 16, math.inf),
    ),
    "length": (("in", INCH, 36), ("ft", FOOT, math.inf)),
    "area": (("in²", INCH**2, 144), ("ft²", FOOT**2, math.inf)),
    "flow": (("lb/h", POUND / 3600, math.inf),),
    "volume_flow": (("cfm", FOOT**3 / 60, math.inf),),
    "velocity": (("ft/min", FOOT / 60, math.inf),),
    "density": (("lb/gal", POUND / (CUP * 16), math.inf),),
}


def fahrenheit(degrees: float) -> float:
    """degF of degC, exact (NIST SP 811)."""
    return 1.8 * degrees + 32.0


def celsius(degrees: float) -> float:
    """degC of degF, exact (NIST SP 811)."""
    return (degrees - 32.0) / 1.8


def show(value, kind: str, system: str = "metric", digits: int = 2, sixteenths: bool = False) -> str:
    """An SI value as text, rounded to ``digits`` significant digits (a temperature: to whole degrees, 3 for tenths).

    Parameters:
        value : float or None – in SI; None or NaN reads "not known"
        kind : str – a name of KINDS
        system : str – "metric", "us", "both" (metric first, US in brackets) or "both-us"
        sixteenths : bool – inches as a fraction to the nearest 1/16
    """
    return show_band(value, value, kind, system, digits, sixteenths)


def show_band(low, high, kind: str, system: str = "metric", digits: int = 2, sixteenths: bool = False) -> str:
    """A range of SI values as text in one common unit, such as "6 to 8 h"; see show."""
    if any(value is None or not math.isfinite(value) for value in (low, high)):
        return say("amount.not_known")
    first, second = {
        "metric": ("metric", None),
        "us": ("us", None),
        "both": ("metric", "us"),
        "both-us": ("us", "metric"),
    }[system]
    told = _told(low, high, kind, first, digits, sixteenths)
    if second is None or (kind not in _US and kind not in SIGNED):
        return told
    return f"{told} ({_told(low, high, kind, second, digits, sixteenths)})"


def _told(low: float, high: float, kind: str, system: str, digits: int, sixteenths: bool) -> str:
    if kind in SIGNED:
        return _told_degrees(low, high, kind, system, digits)
    label, size = _shown_in(high, kind, system, digits)
    write = _in_sixteenths if sixteenths and label == "in" else functools.partial(_plain, digits=digits)
    ends = list(dict.fromkeys(write(value / size) for value in (low, high)))
    label = "day" if label == "days" and ends == ["1"] else label
    return f"{_range(ends)} {_unit_word(label)}".strip()


def _shown_in(value: float, kind: str, system: str, digits: int) -> tuple[str, float]:
    """The unit in which an amount is shown: its label, and the SI size of one."""
    ladder = _US.get(kind, _METRIC[kind]) if system == "us" else _METRIC[kind]
    return next(rung[:2] for rung in ladder if abs(float(_plain(value / rung[1], digits))) < rung[2])


def _unit_word(label: str) -> str:
    """The label of a unit, in the language of the learner where it is a word."""
    return say(f"unit.{label}") if label in UNIT_WORDS else label


def _range(ends: list[str]) -> str:
    """One number, or two as a range, with the decimal sign of the language."""
    said = [in_signs(end) for end in ends]
    return say("amount.from_to", low=said[0], high=said[-1]) if len(said) > 1 else said[0]


def _told_degrees(low: float, high: float, kind: str, system: str, digits: int) -> str:
    if system == "us":
        low, high = (1.8 * value + (32.0 if kind == "temperature" else 0.0) for value in (low, high))
    decimals = max(0, digits - 2)
    ends = list(dict.fromkeys(f"{round(value, decimals) + 0.0:.{decimals}f}" for value in (low, high)))
    return f"{_range(ends)} °{'F' if system == 'us' else 'C'}"


def _in_sixteenths(inches: float) -> str:
    parts = round(inches * 16)
    whole, rest = divmod(parts, 16)
    fraction = Fraction(rest, 16)
    return " ".join(filter(None, [str(whole) if whole or not rest else "", str(fraction) if rest else ""]))


KITCHEN = {"lb": (1, 2, 4), "oz": (1, 2, 4), "qt": (1, 2, 4, 8), "gal": (1, 2, 4), "cup": (1, 2, 3, 4), "tbsp": (1, 2), "tsp": (1, 2, 4), "in": (1, 2, 4, 8, 16)}  # fmt: skip
KITCHEN_GOOD_TO = 0.015  # of the amount (judgement): what a fraction may be off before decimals are written
THIN_GOOD_TO = 0.08  # the same of an inch on a ruler: a sixteenth is as fine as it goes


def show_kitchen(value, kind: str, system: str = "both") -> str:
    """The same as `show`, with US amounts in the fractions of spoons, cups and rulers where one is near enough."""
    if value is None or not math.isfinite(value) or system == "metric" or kind not in ("mass", "volume", "length"):
        return show(value, kind, system)
    us = _in_fractions(value, kind) or show(value, kind, "us")
    return us if system == "us" else f"{show(value, kind)} ({us})"


def _in_fractions(value: float, kind: str) -> str:
    """An amount of "2.5 cup" as "2 1/2 cup"; "" where no fraction is near enough."""
    label, size = _shown_in(value, kind, "us", 2)
    number, good_to = value / size, THIN_GOOD_TO if label == "in" else KITCHEN_GOOD_TO
    for parts in KITCHEN.get(label, ()):
        near = Fraction(round(number * parts), parts)
        if near and abs(float(near) / number - 1) <= good_to:
            whole, rest = divmod(near, 1)
            return f"{' '.join(str(part) for part in (int(whole), rest) if part)} {_unit_word(label)}"
    return ""


@functools.cache
def registry():
    """The one pint registry of the package; made on first use, since loading pint takes a third of a second."""
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def __getattr__(name: str):
    if name == "ureg":
        return registry()
    if name == "Quantity":
        return registry().Quantity
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


@functools.cache
def _pint_unit(kind: str):
    return registry().Unit(KINDS[kind].pint_unit)


def magnitude(value, kind: str, name: str = "value"):
    """Float or array of a Quantity in the SI unit of a kind; a bare number is refused unless the kind has no unit."""
    words, pint_unit = KINDS[kind].words, KINDS[kind].pint_unit
    is_quantity = isinstance(value, registry().Quantity)
    if is_quantity and value.dimensionality == _pint_unit(kind).dimensionality:
        return value.m_as(_pint_unit(kind))
    if not is_quantity and pint_unit == "":
        return value
    why = say("amount.it_is_in", units=value.units) if is_quantity else say("amount.no_unit")
    raise InputError(name, value, why, say("amount.a_quantity", words=words), f'Quantity(2.5, "{pint_unit}")')


def with_units(function=None, /, *, returns: str | None = None, **kinds: str):
    """Let a function of plain SI numbers be called with quantities; the function itself stays reachable as ``.core``.

    Parameters:
        returns : str or None – kind of the result; None hands it back as it is
        kinds : kind of each parameter that takes a Quantity; omitted defaults stay as they are
    """
    if function is None:
        return functools.partial(with_units, returns=returns, **kinds)
    import inspect

    signature = inspect.signature(function)

    @functools.wraps(function)
    def called(*given, **named):
        bound = signature.bind(*given, **named)
        for name in kinds.keys() & bound.arguments.keys():
            bound.arguments[name] = magnitude(bound.arguments[name], kinds[name], name)
        result = function(*bound.args, **bound.kwargs)
        return result if returns is None else registry().Quantity(result, _pint_unit(returns))

    called.core = function
    return called
