"""Ways to heat fish through before it is dried: how hot they get, how long the middle takes, and what cooks out.

The ways are rows of ``data/heating_methods.csv``, the losses rows of ``data/cook_out.csv``. A time is for planning: only
a probe in the thickest piece shows that the step was done.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from flakeyard import limits
from flakeyard.messages import joined, say
from flakeyard.models import heating
from flakeyard.tables import Record, read_records
from flakeyard.units import InputError

ANY_KIND = "any"


@dataclass(frozen=True, kw_only=True)
class HeatingMethod(Record):
    """A way to heat fish: its medium ("boiling", less ``below_boiling_k``, or "oven") and three film coefficients.

    ``film_…`` is from the medium to the fish, ``warm_up_…`` from an oven to the dish (W/m2/K). ``timed`` is false
    where no time may be told.
    """

    id: str
    words: str
    medium: str
    below_boiling_k: float
    film_low: float
    film_mid: float
    film_high: float
    film_source_id: str
    film_how: str
    warm_up_low: float | None
    warm_up_mid: float | None
    warm_up_high: float | None
    timed: bool
    advice: str
    note: str

    @property
    def films(self) -> tuple[float, float, float]:
        """Film coefficients from the slow to the quick end.

        Returns: three [W/m2/K, above 0]
        Source: its own row
        """
        return self.film_low, self.film_mid, self.film_high


@dataclass(frozen=True, kw_only=True)
class CookOut(Record):
    """Part of the mass that cooks out of a kind of fish, kg per kg: low, middle and high of a triangle."""

    kind: str
    words: str
    families: tuple[str, ...]
    low: float
    mid: float
    high: float
    basis_source_id: str
    basis_how: str
    note: str


@cache
def heating_methods() -> dict[str, HeatingMethod]:
    """All ways to heat fish through, by id."""
    return {row.id: row for row in read_records("heating_methods.csv", HeatingMethod)}


def heating_method(name: str, field: str = "[heat] method") -> HeatingMethod:
    """One way to heat fish by its id or words, capitals ignored."""
    wanted = " ".join(str(name).casefold().split())
    found = [row for row in heating_methods().values() if wanted in (row.id, row.id.replace("_", " "), row.words)]
    if not found:
        allowed = " | ".join(heating_methods())
        raise InputError(field, name, say("heat.no_such_way"), allowed, '"steam"')
    return found[0]


def medium_temperature(method: HeatingMethod, altitude: float = 0.0, oven: float | None = None) -> float | None:
    """How hot steam, liquid or oven air around the fish is [degC].

    Parameters: altitude – height above the sea [m]; oven – of its air [degC], None for not known.
    Returns: float [°C, 80–120]; None where it hangs on an oven that is not known
    Source: models.heating.boiling_at; its own row
    """
    if method.medium == "oven":
        return oven
    return float(heating.boiling_at(altitude)) - method.below_boiling_k


def minutes_through(method: HeatingMethod, thickness: float, faces: int, *, conductivity: float,
                    thermal_diffusivity: float, start: float = 5.0, altitude: float = 0.0,
                    target: float = limits.KILL_CORE) -> tuple[float, float, float] | None:  # fmt: skip
    """Minutes until the middle of a piece by itself is hot, at the quick, middle and slow end of the film.

    Parameters: thickness [m]; faces – 2, or 1 with skin or a tray on one side; conductivity [W/m/K] and
    thermal_diffusivity [m2/s] of `models.heating.heat_spread`; start, target [degC]; altitude [m].
    Returns: three [min, 0 up], infinite where it never gets so hot; None where no time may be told. A covered dish
        first has to boil: see `models.heating.dish_seconds`
    Source: models.heating.seconds_to
    """
    medium = medium_temperature(method, altitude)
    if not method.timed or medium is None:
        return None
    inside = (conductivity, thermal_diffusivity)
    ends = [heating.seconds_to(target, thickness, faces, start, medium, film, *inside) for film in method.films]
    slow, middle, quick = (float(end) / 60.0 for end in ends)
    return quick, middle, slow


@cache
def cook_outs() -> dict[str, CookOut]:
    """What cooks out, by kind of fish."""
    return {row.kind: row for row in read_records("cook_out.csv", CookOut)}


def cook_out(family: str | None = None) -> CookOut:
    """What cooks out of fish of a family as the species table writes it ("Gadidae and Merlucciidae").

    Where the family is not known, or holds several kinds, the spread reaches over all of them.
    """
    *named, others = cook_outs().values()
    if not family or not family.strip():
        return _together((*named, others))
    parts = [part.strip() for part in family.split(" and ")]
    kinds = {next((row.kind for row in named if part in row.families), others.kind) for part in parts}
    return _together([row for row in cook_outs().values() if row.kind in kinds])


def _together(rows) -> CookOut:
    """One row, or a row as wide as several with its middle half way."""
    if len(rows) == 1:
        return rows[0]
    low, high = min(row.low for row in rows), max(row.high for row in rows)
    widest = max(rows, key=lambda row: row.high)
    words = joined("words.or", (row.words for row in rows))
    return CookOut(
        source_id="judgement", how="memory", kind=ANY_KIND, words=words, families=(), low=low, mid=0.5 * (low + high),
        high=high, basis_source_id=widest.basis_source_id, basis_how=widest.basis_how, note=say("heat.several_kinds"),
    )  # fmt: skip
