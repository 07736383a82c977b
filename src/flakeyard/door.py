"""Behind the front door: a whole batch in a dozen functions that take typed text, plain records and Quantities.

What they give back is the record of the steps (Outcome, Learned, Log, Brine) which also makes a frame and Quantities.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace

from flakeyard.frames import Predicted, PredictedNumber, frame_of, headed, known, quantity_of
from flakeyard.messages import number, say
from flakeyard.quantities import in_words, is_quantity, number_in, typed
from flakeyard.steps.chain import brining
from flakeyard.steps.intent import batch_file
from flakeyard.steps.intent.fields import FIELDS, INGREDIENT, SOAKS
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Band, band
from flakeyard.steps.judge.safety import Verdict
from flakeyard.steps.judge.storing import Keeping
from flakeyard.steps.learn import dryer_profile, learning, logbook, worth
from flakeyard.steps.plan import plan as planning
from flakeyard.steps.plan import recipes
from flakeyard.steps.plan import ways as keeping_ways
from flakeyard.units import read_amount
from flakeyard.workbook import words
from flakeyard.workbook.table import Table

TOLD = FIELDS[""] | {  # kinds of what a batch tells, by section and key
    name: keys | ({"ingredient": INGREDIENT} if name in SOAKS else {}) for name, keys in FIELDS.items() if name
}
READ_AS = {  # numbers of a plan by their place in it: name, unit as read, SI size of one
    "fish.water_fraction": ("raw water", "%", 0.01), "fish.protein_fraction": ("raw protein", "%", 0.01),
    "fish.fat_fraction": ("raw fat", "%", 0.01),
    "brine.solute_fraction_salt": ("brine salt", "%", 0.01), "brine.solute_fraction_sugar": ("brine sugar", "%", 0.01),
    "brine.salometer": ("brine strength", "°SAL", 1), "brine.water_activity": ("brine water activity", "", 1),
    "brine.mass_kg": ("brine weight", "kg", 1), "brine.volume_l": ("brine volume", "L", 1),
    "salted.water_phase_salt": ("water-phase salt", "%", 0.01),
    "salted.water_phase_salt_centre": ("water-phase salt in the middle", "%", 0.01),
    "salted.salt_fraction": ("salt as laid", "%", 0.01), "salted.mass_kg": ("weight as laid", "kg", 1),
    "drying.wet_bulb_c": ("wet bulb", "°C", 1), "drying.hours_to_target": ("hours", "h", 1),
    "drying.hours_flesh_10_to_57_c": ("growth hours", "h", 1),
    "drying.hours_flesh_above_21_c": ("warm hours", "h", 1),
    "drying.target_mass_kg": ("weight when done", "kg", 1), "drying.mass_ratio": ("stop at", "%", 0.01),
    "drying.kwh": ("energy", "kWh", 1),
    "dried.water_fraction": ("water when dried", "%", 0.01), "dried.salt_fraction": ("salt when dried", "%", 0.01),
    "dried.water_activity": ("water activity", "", 1), "dried.sodium_mg_per_serving": ("sodium in a serving", "mg", 1),
    "dried.mass_kg": ("dried weight", "kg", 1), "dried.yield_of_raw": ("yield", "%", 0.01),
    "marked.water_fraction": ("water of the marked piece", "%", 0.01),
    "marked.salt_fraction": ("salt of the marked piece", "%", 0.01),
}  # fmt: skip
LOG_COLUMNS = {  # of a log's frame, by what a row of it reads: name, unit as read, SI size of one
    "dial": ("dial", "°C", 1), "room": ("room", "°C", 1), "room_humidity": ("room humidity", "%", 0.01),
    "strip_salt": ("salt by strip", "%", 0.01), "taste_salt": ("salt by taste", "%", 0.01),
    "oven_dry": ("oven-dry", "g", 0.001), "water_activity": ("water activity", "", 1),
    "water_activity_error": ("error of the meter", "", 1),
}  # fmt: skip
WAY_COLUMNS = (
    "change", "place", "pack", "stop at [%]", "hours, low [h]", "hours, middle [h]", "hours, high [h]", "to keep", "to eat",
    "at most [days]", "caution",
)  # fmt: skip
WORTH_COLUMNS = ("after", "error", "hours, high over low", "water activity, high less low", "caution")
LOG_QUANTITIES = {  # what a Quantity in a row of a log goes into: column, unit of pint
    "hours": ("hours", "hour"), "mass": ("mass_g", "gram"), "dial": ("dial_c", "degC"), "room": ("room_c", "degC"),
    "room_humidity": ("room_humidity_percent", "percent"), "oven_dry": ("oven_dry_g", "gram"),
}  # fmt: skip


# What the functions give back


@dataclass(frozen=True)
class Outcome(Predicted, planning.Outcome):
    """What to expect of a batch, as a record (``drying["hours_to_target"].mid``), a frame, and Quantities."""

    def numbers(self) -> dict[str, PredictedNumber]:
        """Every number of the plan, by the name in its frame; growth hours and warm hours are those of the middle of the
        thickest piece in the zone of growth, and above its warm part, as the official clocks have them."""
        return {name: _number(self._band(place), unit, size) for place, (name, unit, size) in READ_AS.items()}

    def _band(self, place: str) -> Band:
        section, key = place.split(".")
        return getattr(self, section)[key]

    def headline(self) -> str:
        """Where to keep it and whether to eat it, on one line."""
        return words.headline(self.verdict, self.keep)

    def sentence(self) -> str:
        """The verdict in sentences: where to keep it, until when, what to do, what is not known, the caution."""
        return words.verdict_sentence(self.verdict, self.keep)

    def caution(self) -> str:
        """The verdict, and the caution that fits it."""
        return _caution(self.verdict, self.keep)


@dataclass(frozen=True)
class Learned(Predicted, learning.Learned):
    """A new forecast from the scale, as a record, a frame, and Quantities; hours are from the start of drying."""

    def numbers(self) -> dict[str, PredictedNumber]:
        """Hours as planned and as forecast, weight of the whole load and of each tray when the thickest piece is done."""
        masses = {"weight when done": self.target_mass_kg}
        masses |= {f"weight when done, tray {tray}": mass for tray, mass in self.target_tray_kg.items()}
        told = {"hours as planned": self.plan.drying["hours_to_target"], "hours": self.hours_to_target}
        return {name: _number(one, "h", 1) for name, one in told.items()} | {
            name: _number(one, "kg", 1) for name, one in masses.items()
        }

    def caution(self) -> str:
        """Why nothing was learned, where that is so; the verdict, and the caution that fits it."""
        return " ".join(filter(None, (self.contradiction, _caution(self.outcome.verdict, self.outcome.keep))))


@dataclass(frozen=True)
class Brine(Predicted, brining.Brine):
    """A brine, as a record (arrays of draws), a frame, and Quantities."""

    def numbers(self) -> dict[str, PredictedNumber]:
        """The four meanings of per cent, what else is in it, water activity, and how much there is of it."""
        whole, of_water, by_volume, degrees = brining.per_cents(self).values()
        told = {
            "salt": (whole, "%", 0.01), "salt over water": (of_water, "%", 0.01), "salt by volume": (by_volume, "g/L", 0.001),
            "strength": (degrees, "°SAL", 1), "sugar": (self.sugar_fraction, "%", 0.01),
            "water activity": (self.water_activity, "", 1), "weight": (self.mass, "kg", 1), "volume": (self.volume, "L", 1),
            "salt that cannot dissolve": (self.undissolved, "g", 0.001),
        }  # fmt: skip
        return {name: _number(band(values), unit, size) for name, (values, unit, size) in told.items()}

    def caution(self) -> str:
        """What was noted of it, and the usual caution."""
        return " ".join([*self.notes, words.caution_line()])


@dataclass(frozen=True)
class Log(logbook.Log):
    """A log that was read, as a record (``weighings``, ``remarks`` …), a frame, and Quantities."""

    def frame(self):
        """A DataFrame with a row for each entry: time [h] since drying began, tray, weight [g], event, note, readings."""
        return frame_of([self._row(entry) for entry in self.entries])

    def _row(self, entry) -> dict:
        read = {name for one in self.entries for name in one.readings}
        weight = _in(entry.mass, 0.001)
        row = {"time [h]": entry.hours, "tray": entry.tray, "weight [g]": weight, "event": entry.event}
        row["note"] = entry.note
        for name, (column, unit, size) in LOG_COLUMNS.items():
            if name in read:
                row[headed(column, unit)] = _in(entry.readings.get(name), size)
        return row

    def quantity(self, what: str):
        """Time [h] or weight [g] of all weighings, as one pint Quantity.

        Parameters: what – "time" or "weight"
        """
        hours = known(what, ("time", "weight"), "what") == "time"
        values = [entry.hours if hours else _in(entry.mass, 0.001) for entry in self.weighings]
        return quantity_of(values, "h" if hours else "g")


class Ways(tuple):
    """Ways to keep a batch, each a record with place, pack, hours, verdict and days; and all of them as a frame."""

    __slots__ = ()

    def frame(self):
        """A DataFrame with a row for each way; hours are 10th, 50th and 90th percentile, ``<NA>`` where not known."""
        none = dict.fromkeys(WAY_COLUMNS) | {"place": say("table.none_granted"), "caution": words.caution_line()}
        return frame_of([self._row(way) for way in self] or [none])

    @staticmethod
    def _row(way: keeping_ways.Way) -> dict:
        days = way.days if way.place == "cupboard" else None
        cook = [words.COOK] if way.eat == "cook_first" else []
        cells = (
            way.change, way.place, way.pack, 100 * way.mass_ratio, way.hours.low, way.hours.mid, way.hours.high,
            words.keep_words(way.keep, days), words.eat_words(way.eat), way.days, " ".join([*cook, words.caution_line()]),
        )  # fmt: skip
        return dict(zip(WAY_COLUMNS, cells, strict=True))


class Worths(worth.Worths):
    """What each measurement would be worth, each a record; and all of them as a frame."""

    def frame(self):
        """A DataFrame with a row for each measurement, the first without any: its error, and how wide the hours (90th over
        10th percentile) and the cautious water activity (90th less 10th) may be expected to be after it."""
        now = (say("table.as_it_is"), None, self.hours, self.activity)
        rows = [now, *((one.what, one.error, one.hours, one.activity) for one in self.each)]
        return frame_of(dict(zip(WORTH_COLUMNS, (*row, words.caution_line()), strict=True)) for row in rows)


def _as(kind: type, record):
    """A record of the steps as the kind of it that makes frames."""
    return kind(**{one.name: getattr(record, one.name) for one in fields(record)})


def _number(told: Band, unit: str, size: float) -> PredictedNumber:
    return PredictedNumber(unit, *(_in(end, size) for end in (told.low, told.mid, told.high)))


def _in(value: float | None, size: float) -> float | None:
    return None if value is None else value / size


def _caution(verdict: Verdict, keeping: Keeping) -> str:
    return f"{' '.join(words.headline(verdict, keeping).split())}. {words.caution_line(verdict)}"


# A whole batch


def load_batch(source: str | os.PathLike | Mapping) -> Batch:
    """Read a batch: what a preserver intends.

    Parameters: source – a batch file (TOML), or the same as a dictionary of sections; amounts in it are typed text or
        Quantities
    Returns: Batch – a frozen record in SI; what was not told is None
    Raises: InputError naming the field, what was given, why it cannot be used, what is allowed, and an example
    Example:
        >>> load_batch("data_demo/heron.toml").cut.thickness  # in m
        0.005
    """
    if isinstance(source, Batch):
        return source
    if isinstance(source, Mapping):
        return batch_file.read_batch(in_words(source, TOLD))
    return batch_file.load_batch(source)


def change(batch: Batch, section: str, **told) -> Batch:
    """A copy of a batch with something told anew: the way to ask what would be if.

    Parameters: section – "fish", "cut", "brine", "dryer", "keep" …; told – keys of that section, typed text or
        Quantities; None takes a key out
    Returns: Batch – the other one; the batch given stays as it is
    Raises: InputError
    Example:
        >>> change(load_batch("data_demo/heron.toml"), "cut", thickness="7/32 in").cut.thickness
        0.00555625
    """
    return batch_file.with_typed(batch, section, **in_words(told, TOLD.get(section, {}) if section else TOLD))


def plan(batch) -> Outcome:
    """Carry a batch through the whole chain: brine, salt, heat, drying, verdict, keeping.

    Parameters: batch – a Batch, or whatever `load_batch` reads
    Returns: Outcome – every number with its 10th, 50th and 90th percentile; ``verdict`` and ``keep`` by the rules;
        ``unknown`` names what cannot be said; ``sentence()``, ``frame()``, and ``quantity("hours")`` in h
    Raises: InputError for what cannot be; what is odd but possible is computed and judged
    Source: ``Outcome.sources`` names those of the formulas and rules used
    """
    return _as(Outcome, planning.plan(load_batch(batch)))


def ways(outcome: planning.Outcome, changes: bool = False) -> Ways:
    """Ways to keep the batch of a plan: every place and pack that the rules grant, with the weight to stop at.

    Parameters: outcome – of `plan`; changes – also the smallest changes that would earn what was asked (takes seconds)
    Returns: Ways – records with place, pack, mass_ratio [share of the weight as laid], hours [h], keep, eat,
        days; ``frame()``
    """
    return Ways(keeping_ways.ways(outcome) + (keeping_ways.changes(outcome) if changes else ()))


def measure_next(outcome: planning.Outcome) -> Worths:
    """What each measurement that was not made yet would be worth: how wide the plan would be after it.

    Parameters: outcome – of `plan`
    Returns: Worths – ``hours`` and ``activity`` as wide as they are, ``each`` measurement with what is expected after it,
        ``best("hours")``, ``best("activity")``; ``frame()``
    Source: the draws of the plan; nothing is dried anew
    """
    return _as(Worths, worth.worths(outcome))


def brine(ingredients: Mapping, temperature="20 °C") -> Brine:
    """A brine from what a recipe says.

    Parameters: ingredients – by name the amount, a weight or a volume: ``{"pickling salt": "160 g", "water": "1.8 L"}``;
        temperature – of the brine, -5 to 40 °C
    Returns: Brine – salt by its four meanings, sugar, water activity, weight, volume; ``frame()``,
        ``quantity("salt")`` in % of the whole brine
    Raises: InputError for words, amounts or a brine that cannot be
    Example:
        >>> f"{brine({'pickling salt': '160 g', 'water': '1.8 L'}).quantity('salt', 'middle'):.1f}"
        '8.2 percent'
    """
    told = in_words(ingredients, dict.fromkeys(ingredients, INGREDIENT))
    return _as(Brine, recipes.make_brine(told, typed(temperature, "temperature")))


def read_log(source) -> Log:
    """Read the log of a batch: what was weighed, and what else happened.

    Parameters: source – a log file (CSV), its text, or rows: ``[{"hours": 0, "tray": "1", "mass_g": 322}]``, where
        ``"mass"`` may be a Quantity
    Returns: Log – ``weighings`` in kg and h since drying began; ``remarks`` on what was assumed or looks odd; ``frame()``
    Raises: InputError naming line and column
    """
    rows = not isinstance(source, str | bytes | os.PathLike)
    return _as(Log, logbook.read_log(_log_text(source) if rows else source))


def _log_text(rows: Iterable[Mapping]) -> str:
    """Rows of a log as the text of its file."""
    import csv
    import io

    told = [dict(_cell(name, value) for name, value in row.items()) for row in rows]
    columns = list(dict.fromkeys(name for row in told for name in row))
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(told)
    return text.getvalue()


def _cell(name: str, value) -> tuple[str, object]:
    if not is_quantity(value):
        return name, value
    column, unit = LOG_QUANTITIES[known(name, LOG_QUANTITIES, "column")]
    return column, f"{number_in(value, unit, name):.12g}"


def learn(batch, log, dryer: str | os.PathLike | dryer_profile.DryerProfile | None = None, scale=None) -> Learned:
    """Learn from the scale: a new forecast from the plan of a batch and its log.

    Parameters: batch – a Batch, or whatever `load_batch` reads; log – a Log, or whatever `read_log` reads;
        dryer – what batches before taught of this dryer, a profile or its file; scale – the step of the
        scale, 0.01 g to 1 kg; None: as its weights show
    Returns: Learned – ``hours_to_target`` [h from the start], ``target_mass_kg``, ``learned`` in sentences,
        ``contradiction`` where the log does not fit the plan; ``frame()``, ``quantity("hours")``
    Raises: InputError
    """
    log = log if isinstance(log, logbook.Log) else read_log(log)
    if isinstance(dryer, str | os.PathLike):
        dryer = dryer_profile.read_profile(dryer)
    if scale is not None:
        scale = read_amount(typed(scale, "scale"), "mass", "scale", low=0.00001, high=1.0, example='"2 g"').value
    found = learning.learn(load_batch(batch), log, profile=dryer, scale=learning.scale_of(scale))
    return _as(Learned, replace(found, outcome=_as(Outcome, found.outcome), plan=_as(Outcome, found.plan)))


def picture(outcome: planning.Outcome, system: str = "both"):
    """The drying of the thickest piece as a picture: weight left against hours, its band, and where to stop.

    Parameters: outcome – of `plan`; system – "metric", "us", "both" or "both-us"
    Returns: StaticTwin – a picture (``png``) with its words beside it: result, how sure, caution, text alternative
    """
    from flakeyard.workbook.panels.panel import Choice
    from flakeyard.workbook.panels.whole_batch import still

    return still(outcome, Choice(system))


def show_table(frame, digits: int = 3) -> Table:
    """A DataFrame as a table to be read; what is not known says so, and a caution stands beneath it once.

    Parameters: frame – of ``frame()``, or any other; digits – significant digits of its numbers
    Returns: Table – a table on a page, lines of text in a terminal
    """
    frame = frame.reset_index() if frame.index.name else frame
    shown = frame.drop(columns="caution", errors="ignore")
    rows = tuple(tuple(_cell_words(one, digits) for one in row) for row in shown.itertuples(index=False))
    return Table(tuple(map(str, shown.columns)), rows, tuple(dict.fromkeys(frame.get("caution", ()))))


def _cell_words(value, digits: int) -> str:
    from pandas import isna
    from pandas.api.types import is_bool, is_number

    if isna(value):
        return say("amount.not_known")
    if is_bool(value):
        return say("words.yes" if value else "words.no")
    return number(float(f"{value:.{digits}g}"), ".15g") if is_number(value) else str(value)
