"""The tables of the package: data/*.csv read once into frozen records, each of which knows its source.

Looking something up by name raises InputError with the nearest names when there is no such thing, or more than one.
What a table does not know is None, and None is never taken for harmless.
"""

from __future__ import annotations

import functools
import json
import re
from collections.abc import Callable
from dataclasses import dataclass, field, fields, replace

from flakeyard.frames import frame_of, headed, known
from flakeyard.messages import joined, rows_said, say
from flakeyard.models.constants import SALT_PER_SODIUM
from flakeyard.packaged import DATA
from flakeyard.spelling import alike
from flakeyard.units import InputError

HOWS = ("read", "computed", "memory")
OTHER_FISH = {"turbot"}  # right names of other fish, a slip away from one of the table (burbot)


@dataclass(frozen=True)
class Source:
    """A publication, person or memory that figures come from."""

    source_id: str
    body_or_authors: str
    year: str
    title: str
    edition_or_doi: str
    url: str
    read_on: str

    def __str__(self) -> str:
        return ", ".join(part for part in (self.body_or_authors, self.year, self.title, self.edition_or_doi) if part)

    @property
    def short(self) -> str:
        """Who and when, as beside a number in a sentence: ``Kenyon and others, 2022``."""
        first, *others = self.body_or_authors.split(", ")
        who = re.sub(r"(?<=[a-z])( [A-Z][A-Z.]{0,3})+$", "", first)
        return ", ".join(filter(None, [say("table.and_others", who=who) if others else who, self.year]))


@dataclass(frozen=True, kw_only=True)
class Record:
    """A row with its source; ``how`` is read, computed or memory."""

    source_id: str
    how: str

    @property
    def source(self) -> Source:
        return source(self.source_id)


@dataclass(frozen=True, kw_only=True)
class Species(Record):
    """Raw flesh of a fish, kg per kg; None where nothing is known.

    ``water`` is what protein, fat, ash and carbohydrate leave of 1, so the parts always add up. ``water_sd`` is the
    spread at a given fat: 0.012 (judgement) and half the misfit of the printed parts, combined as squares. ``fat_sd``
    is the larger of 0.003, 0.3 of the fat and a quarter of the season range that was read (judgement). ``salt`` follows
    from sodium and is part of the ash. ``usable`` is false where the composition must not be used; ``note`` says why.
    """

    id: str
    common_name: str
    latin_name: str
    aliases: tuple[str, ...]
    family: str
    habitat: str
    water_g: float | None
    protein_g: float | None
    fat_g: float | None
    ash_g: float | None
    carbohydrate_g: float | None
    sodium_mg: float | None
    water_sd: float | None
    fat_sd: float | None
    fat_low_g: float | None = field(metadata={"column": "fat_low"})
    fat_high_g: float | None = field(metadata={"column": "fat_high"})
    season_source_id: str
    histamine_former: bool | None
    histamine_source_id: str
    histamine_how: str
    advisory: str
    usable: bool
    note: str
    locator: str

    @property
    def protein(self) -> float | None:
        return _fraction(self.protein_g)

    @property
    def fat(self) -> float | None:
        return _fraction(self.fat_g)

    @property
    def ash(self) -> float | None:
        return _fraction(self.ash_g)

    @property
    def carbohydrate(self) -> float | None:
        return _fraction(self.carbohydrate_g)

    @property
    def water(self) -> float | None:
        if self.protein_g is None:
            return None
        return 1.0 - self.protein - self.fat - self.ash - (self.carbohydrate or 0.0)

    @property
    def printed_sum(self) -> float | None:
        """What the printed parts add up to; None where the source prints no water."""
        parts = (self.water_g, self.protein_g, self.fat_g, self.ash_g, self.carbohydrate_g)
        return None if self.water_g is None else sum(part or 0.0 for part in parts) / 100.0

    @property
    def salt(self) -> float | None:
        return None if self.sodium_mg is None else self.sodium_mg * 1e-5 * SALT_PER_SODIUM

    @property
    def fat_low(self) -> float | None:
        return _fraction(self.fat_low_g)

    @property
    def fat_high(self) -> float | None:
        return _fraction(self.fat_high_g)

    @property
    def histamine_source(self) -> Source:
        return source(self.histamine_source_id)


@dataclass(frozen=True, kw_only=True)
class Substance(Record):
    """Something for a brine or cure: parts in kg per kg, and how much a filled volume of it weighs (kg/m3).

    The density carries the spread of the filling; a weight carries none. ``salt_low`` and ``salt_high`` are the spread
    of purity. ``acid`` is acetic acid. What the parts leave of 1 is neither water nor solute.
    """

    id: str
    common_name: str
    aliases: tuple[str, ...]
    kind: str
    density_low: float
    density_mid: float
    density_high: float
    density_how: str
    density_source_id: str
    water: float
    salt_low: float
    salt: float
    salt_high: float
    sucrose: float
    hexose: float
    acid: float
    note: str

    @property
    def sugar(self) -> float:
        return self.sucrose + self.hexose

    @property
    def density_source(self) -> Source:
        return source(self.density_source_id)

    def mass_of(self, volume: float) -> tuple[float, float, float]:
        """Low, middle and high mass [kg] of a volume [m3] of it."""
        return volume * self.density_low, volume * self.density_mid, volume * self.density_high


@dataclass(frozen=True, kw_only=True)
class Pack(Record):
    """A way to pack dried fish. Transmission is in g of water per m2 and day at 38 °C and 90 % humidity, leak in g per
    whole pack and day at the same. ``airtight`` and ``removes_air`` are for the rules on moist fish: a closed bag or
    jar counts as airtight. ``area`` [m2] is that of a pack of 200 g (judgement).
    """

    id: str
    common_name: str
    aliases: tuple[str, ...]
    transmission_low: float
    transmission_high: float
    leak_low: float
    leak_high: float
    airtight: bool
    removes_air: bool
    barrier: str
    area: float
    note: str


@dataclass(frozen=True, kw_only=True)
class Yield(Record):
    """Share of the weight that is left when a fish is cut: low, mid, high."""

    id: str
    fish: str
    from_form: str
    to_form: str
    low: float
    mid: float
    high: float
    usable: bool
    note: str


@dataclass(frozen=True, kw_only=True)
class DriedProduct(Record):
    """Published composition of a dried or smoked fish, g per 100 g as printed."""

    id: str
    common_name: str
    kind: str
    water_g: float
    protein_g: float
    fat_g: float
    ash_g: float
    carbohydrate_g: float
    sodium_mg: float | None
    note: str
    locator: str

    @property
    def salt(self) -> float | None:
        """Salt from sodium, kg per kg."""
        return None if self.sodium_mg is None else self.sodium_mg * 1e-5 * SALT_PER_SODIUM


@dataclass(frozen=True, kw_only=True)
class KitchenMeasure(Record):
    """A spoon or cup, and whose it is."""

    id: str
    names: tuple[str, ...]
    millilitres: float
    whose: str
    note: str
    locator: str


@dataclass(frozen=True)
class Symbol:
    """A parameter name: symbol, unit, meaning."""

    name: str
    symbol: str
    unit: str
    meaning: str
    basis: str
    usual_range: str


@dataclass(frozen=True, kw_only=True)
class CheckValue:
    """A published value that one of our functions must give."""

    id: str
    topic: str
    function: str
    inputs: dict = field(metadata={"column": "inputs_json"})
    expected: float
    unit: str
    rtol: float
    atol: float
    why_tolerance: str
    source_id: str
    locator: str
    obtained: str

    @property
    def source(self) -> Source:
        return source(self.source_id)


@dataclass(frozen=True, kw_only=True)
class StudySpread(Record):
    """How far studies (and kitchens) lie apart beyond all that is drawn: a log-normal factor on one parameter.

    ``draw`` names the draw, one for a batch, and none where the learner has weighed or measured; ``sd`` is of the
    logarithm, known to a factor of two (``sd_low`` to ``sd_high``). ``result_sd`` is what it comes to in the result.
    """

    topic: str
    parameter: str
    factor: str
    draw: str
    sd: float
    sd_low: float
    sd_high: float
    result_sd: float
    result_unit: str
    basis: str


def _fraction(grams: float | None) -> float | None:
    return None if grams is None else grams / 100.0


def _optional(convert):
    return lambda text: convert(text) if text else None


_TRUTH = {"true": True, "false": False}
_CONVERT = {
    "str": str,
    "float": float,
    "bool": _TRUTH.__getitem__,
    "float | None": _optional(float),
    "bool | None": _optional(_TRUTH.__getitem__),
    "tuple[str, ...]": lambda text: tuple(text.split("|")) if text else (),
    "dict": json.loads,
}


def read_records(name: str, kind: type, **extra) -> tuple:
    """All rows of data/``name`` as records of a dataclass, converted by the type written at each field."""
    return tuple(_record(row, kind, extra, f"{name}, line {number}") for number, row in enumerate(rows_said(name), 2))


def _record(row: dict[str, str], kind: type, extra: dict, where: str):
    values = dict(extra)
    for item in fields(kind):
        if item.name in extra:
            continue
        column = item.metadata.get("column", item.name)
        text = row.get(column)
        if text is None:
            raise ValueError(f"{where}: no {column}")
        try:
            values[item.name] = _CONVERT[item.type](text)
        except (KeyError, TypeError, ValueError) as mistake:
            raise ValueError(f"{where}: {item.name} = {text!r} is not a {item.type}") from mistake
    return kind(**values)


@functools.cache
def sources() -> dict[str, Source]:
    """All sources by id."""
    return {row.source_id: row for row in read_records("sources.csv", Source)}


def source(source_id: str) -> Source:
    """One source by its id."""
    return sources()[source_id]


@functools.cache
def all_species() -> tuple[Species, ...]:
    """All fish of the table, those without a usable composition included."""
    return read_records("species.csv", Species)


@functools.cache
def ingredients() -> tuple[Substance, ...]:
    """All salts, sugars and liquids."""
    return tuple(row for name in ("salts.csv", "sugars.csv", "liquids.csv") for row in read_records(name, Substance))


@functools.cache
def packs() -> tuple[Pack, ...]:
    """All ways to pack."""
    return read_records("packs.csv", Pack)


@functools.cache
def yields() -> tuple[Yield, ...]:
    """All cutting yields."""
    return read_records("yields.csv", Yield)


@functools.cache
def dried_products() -> tuple[DriedProduct, ...]:
    """All published dried and smoked products."""
    return read_records("dried_products.csv", DriedProduct)


@functools.cache
def kitchen_measures() -> dict[str, KitchenMeasure]:
    """All spoons and cups by id."""
    return {row.id: row for row in read_records("kitchen.csv", KitchenMeasure)}


def kitchen(measure: str) -> float:
    """Volume of a kitchen measure, m3 (``kitchen("cup")`` is the US cup)."""
    return kitchen_measures()[measure].millilitres * 1e-6


@functools.cache
def nomenclature() -> dict[str, Symbol]:
    """All parameter names."""
    return {row.name: row for row in read_records("nomenclature.csv", Symbol)}


@functools.cache
def study_spread() -> tuple[StudySpread, ...]:
    """All terms by which one study differs from another."""
    return read_records("study_spread.csv", StudySpread)


def study_term(topic: str) -> StudySpread:
    """The term of a topic. Raises: KeyError for a topic without one."""
    return {row.topic: row for row in study_spread()}[topic]


@functools.cache
def check_values() -> tuple[CheckValue, ...]:
    """All published check values; the topic is the name of the file."""
    names = sorted(item.name for item in (DATA / "check_values").glob("*.csv"))
    return tuple(row for name in names for row in read_records(f"check_values/{name}", CheckValue, topic=name[:-4]))


def species(name: str, field: str = "species") -> Species:
    """A fish of the table by id, common name, other name or Latin name, capitals ignored.

    Parameters: field – where it was typed, for the message
    Returns: Species – raw flesh in kg per kg (``water``, ``protein``, ``fat``, ``ash``), None where nothing is known;
        ``advisory``, ``histamine_former``, ``usable``, ``source``
    Raises: InputError with the nearest names
    Example:
        >>> species("tilapia").fat
        0.017
    """
    return _find(name, all_species, field, say("table.fish"))


def ingredient(name: str, field: str = "what") -> Substance:
    """A salt, sugar or liquid by id or any of its names."""
    return _find(name, ingredients, field, say("table.ingredient"))


def pack(name: str, field: str = "pack") -> Pack:
    """A way to pack by id or any of its names."""
    return _find(name, packs, field, say("table.pack"))


def syrup(strength: float, density: float) -> Substance:
    """A sugar syrup of a known strength [kg sucrose per kg] and density [kg/m3]."""
    plain = {"density_low": density, "density_mid": density, "density_high": density}
    return replace(ingredient("syrup"), sucrose=strength, water=1.0 - strength, note="", **plain)


def bulk_density(name: str) -> float:
    """Middle weight of a filled volume of an ingredient, kg/m3."""
    return ingredient(name).density_mid


FRAMES = ("species", "ingredients", "packs", "yields", "dried_products", "kitchen_measures", "sources", "nomenclature")
UNITS = {  # of columns: the unit in which they are printed
    **dict.fromkeys(("water_g", "protein_g", "fat_g", "fat_low_g", "fat_high_g", "ash_g", "carbohydrate_g"), "g/100 g"),
    **dict.fromkeys(("water", "water_sd", "fat_sd", "salt", "salt_low", "salt_high", "sucrose", "hexose", "acid"), "kg/kg"),
    **dict.fromkeys(("density_low", "density_mid", "density_high"), "kg/m³"), "sodium_mg": "mg/100 g", "millilitres": "mL",
    **dict.fromkeys(("transmission_low", "transmission_high"), "g/m²/day"), "area": "m²",
    **dict.fromkeys(("leak_low", "leak_high"), "g/day"),
}  # fmt: skip


def frame(name: str):
    """A whole table as a DataFrame: a row for each record, the unit of a column in its name, ``<NA>`` where not known.

    Parameters: name – one of FRAMES
    Raises: InputError for another name
    Example:
        >>> float(frame("species").set_index("id").loc["cod_atlantic", "fat [g/100 g]"])
        0.67
    """
    every = {"species": all_species}.get(name) or globals()[known(name, FRAMES, "table")]
    found = every()
    return frame_of([_row(one) for one in (found.values() if isinstance(found, dict) else found)])


def _row(record) -> dict:
    names = sorted((one.name for one in fields(record)), key=("source_id", "how").__contains__)
    named = {name: getattr(record, name) for name in names}
    return {_head(name): " | ".join(one) if isinstance(one, tuple) else one for name, one in named.items()}


def _head(name: str) -> str:
    plain = name.removesuffix("_g").removesuffix("_mg") if name in UNITS else name
    return headed(plain.replace("_", " "), UNITS.get(name, ""))


def _find(name: str, table: Callable[[], tuple], where: str, wanted: str):
    wanted_name, records = " ".join(str(name).casefold().split()), table()
    for named in _by_name(table):
        found = named.get(wanted_name, ())
        if len(found) == 1:
            return found[0]
        if found:
            several = [record.common_name for record in found]
            raise InputError(where, name, say("table.several"), " | ".join(several), f'"{several[0]}"')
    near = [f'"{one}"' for one in _near(wanted_name, records)]
    meant = joined("words.or", near)
    why = say("words.did_you_mean", meant=meant) if near else say("table.no_such_name")
    some = "; ".join(record.common_name for record in records[:6])
    raise InputError(
        where,
        name,
        why,
        say("table.such_as", wanted=wanted, some=some),
        near[0] if near else f'"{records[0].common_name}"',
    )


@functools.cache
def _by_name(table: Callable[[], tuple]) -> tuple[dict[str, list], ...]:
    """The records of a table by their own names and by their other names, capitals ignored."""
    found: tuple[dict[str, list], ...] = ({}, {})
    for named, names in zip(found, (_own_names, _other_names), strict=True):
        for record in table():
            for one in {one.casefold() for one in names(record)}:
                named.setdefault(one, []).append(record)
    return found


def _own_names(record) -> tuple[str, ...]:
    return (record.id, record.common_name, *record.aliases)


def _other_names(record) -> tuple[str, ...]:
    return (getattr(record, "latin_name", ""),)


def _near(name: str, records: tuple) -> list[str]:
    """Up to five common names that may have been meant: never a fish with a warning, nor a guess at another fish's name.

    Those of whose names it holds the noun ("wild salmon"), else those of one kind that are spelled alike.
    """
    if name in OTHER_FISH:
        return []
    offered = [record for record in records if not getattr(record, "advisory", "")]
    words = set(_words(name))
    named = [record for record in offered if any(_noun(one) in words <= set(_words(one)) for one in _names(record))]
    named = named or _of_one_kind(_spelled_alike(name, offered))
    return list(dict.fromkeys(record.common_name for record in named))[:5]


def _spelled_alike(name: str, records: list) -> list:
    """Records of which a whole name, or else the noun of one, is a slip away from what was typed."""
    whole = [record for record in records if alike(name, map(str.casefold, _names(record)))]
    return whole or [record for record in records if alike(name, map(_noun, _names(record)))]


def _of_one_kind(records: list) -> list:
    """The records where all are of one kind, else none: a guess must not turn one kind of thing into another."""
    kinds = [_kinds(record) for record in records]
    return records if kinds and frozenset.intersection(*kinds) else []


def _kinds(record) -> frozenset:
    """Families of a fish, kind of an ingredient, what a pack does about air."""
    if isinstance(record, Species):
        return frozenset(record.family.split(" and "))
    return frozenset([record.kind if isinstance(record, Substance) else (record.airtight, record.removes_air)])


def _names(record) -> tuple[str, ...]:
    return (record.common_name, *record.aliases)


def _words(name: str) -> list[str]:
    return name.casefold().replace(",", " ").split()


def _noun(name: str) -> str:
    """The word that says what it is: the last one before a comma, a bracket or a "with"."""
    return (_words(re.split(r"[,(]| with | under | in ", name)[0]) or [""])[-1]
