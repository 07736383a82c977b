"""Salt in, salt out: a piece through brine, fresh waters and a night of rest; how long that takes, what a portion holds.

Saltiness is always water-phase salt, salt / (salt + water); sodium is of the piece dried to a chosen moisture, without
the juice (and salt) that a heating step would cook out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flakeyard.models import salt_transport as transport
from flakeyard.steps.chain.brining import mix
from flakeyard.steps.chain.fish import prepare_fish
from flakeyard.steps.chain.freshening import freshen
from flakeyard.steps.chain.laying import soaked
from flakeyard.steps.chain.salting import Cured, cure, raw, rest
from flakeyard.steps.intent.batch_file import check_composition, read_batch, written
from flakeyard.steps.intent.records import Batch, Cut, Freshen, Ingredient, Portion, Rest, Soak
from flakeyard.steps.intent.spread import UNKNOWN, Band, Draws, band
from flakeyard.steps.judge.storing import sodium_mg_per_serving
from flakeyard.steps.plan.measured import taken_in

MEMBERS = 20  # of the ensemble behind one move
USUAL = 1  # the class of pieces that is shown
ACROSS = np.linspace(0.0, 1.0, 41)  # places through the piece, from the upper face to the lower one
WATER_SHARE = 2.0  # kg of fresh water for each kg of fish, every hour anew (a usual amount, judgement)
REFRIGERATED = 8.0  # degC, up to which what is held that cold stands in a refrigerator (judgement)
COLD, HOUR, NIGHT = 4.0, 3600.0, 43200.0  # degC, s, s
FOREVER = 1e9  # s; by then every piece has evened out with its bath


def salted(batch: Batch, members: int = MEMBERS) -> Cured:
    """The fish of a batch after all its soaks and rests, before heating and drying."""
    return soaked(batch, taken_in(batch, Draws(members)))


def dried_salt(cured: Cured, moisture: float) -> np.ndarray:
    """Salt per kg of a usual piece dried to a moisture [kg/kg] (members,); a drier piece stays as it is.

    Returns: (members,) [kg/kg, 0–1]
    Source: a balance of masses
    """
    flesh = cured.flesh
    dry = (flesh.mass - flesh.water)[USUAL]
    left = np.minimum(moisture, flesh.water[USUAL] / flesh.mass[USUAL])
    return flesh.salt[USUAL] / dry * (1 - left)


def time_to(batch: Batch, saltiness: float, members: int = 100) -> Band:
    """Seconds in the batch's own wet brine until a usual piece has a mean water-phase salt; None: it never has.

    Returns: Band [s, 0 up]
    Source: models.salt_transport.hours_to_strength; steps.chain.salting
    """
    if batch.brine is None:
        return UNKNOWN
    draws = Draws(members)
    fish, brine = prepare_fish(batch, draws), mix(batch.brine, draws)
    flesh = fish.flesh
    hours = transport.hours_to_strength(
        saltiness / (1 - saltiness),
        fish.thickness[USUAL],
        fish.open_faces,
        transport.salt_diffusivity(brine.temperature, flesh.water, flesh.protein, flesh.fat)
        * draws.lognormal("salt diffusivity", 1.0, transport.DIFFUSIVITY_LN_SD),
        brine.water / fish.mass / flesh.water,
        brine.strength,
        flesh.salt / flesh.water,
        fish.width,
    )
    return band(3600.0 * hours)


@dataclass(frozen=True)
class Soaked:
    """A piece after its soaks: profiles [kg/kg water phase] at `ACROSS`, bands of mean, middle, ceiling and sodium [mg].

    `strength` and `brine` are those of the brine it lay in: salt per brine [kg/kg], and kg for each kg of fish.
    """

    strength: float
    brine: float
    thickness: float
    faces: int
    waters: int
    moisture: float
    serving: float
    brined: np.ndarray
    profile: tuple[np.ndarray, np.ndarray, np.ndarray]
    rested: np.ndarray
    mean: Band
    middle: Band
    ceiling: Band
    sodium: Band


def piece(batch: Batch, thickness, fat, faces, strength, brine, time, waters) -> Batch:
    """The batch with broad pieces of one thickness, in a plain brine and then in fresh waters, and with nothing else.

    Parameters: thickness [m]; fat – of the raw fish [kg/kg]; faces – 1: skin on, 2; strength – salt per brine [kg/kg];
    brine – kg for each kg of fish; time – in the brine [s]; waters – how many, of an hour each.
    Raises: InputError for a fat that does not go with the other parts told of the fish.
    """
    fish, mass = replace(batch.fish, fat=fat), batch.fish.raw_weight
    check_composition(fish)
    shares = {"water": 1 - strength, "pickling salt": strength}
    rows = tuple(Ingredient(what=what, amount=Portion(mass=share * brine * mass)) for what, share in shares.items())
    temperature = COLD if batch.brine is None else batch.brine.temperature
    fresh = Freshen(water=Portion(mass=WATER_SHARE * mass), time=HOUR, temperature=COLD, changes=int(waters))
    return replace(
        batch, fish=fish, cut=Cut(form="fillets", thickness=thickness, skin="off" if faces == 2 else "one side"),
        presoak=None, brine=Soak(time=time, temperature=temperature, ingredients=rows), rest=None,
        freshen=(fresh,) if waters else (),
    )  # fmt: skip


def soak_piece(batch: Batch, moisture: float, **values: float) -> Soaked:
    """Brine, fresh waters and a night in the refrigerator, for a `piece` that is then dried to a moisture [kg/kg]."""
    changed, draws = piece(batch, **values), Draws(MEMBERS)
    start, bath = raw(prepare_fish(changed, draws)), changed.brine
    assert bath is not None  # a piece always has one
    brined = cure(start, bath, draws)
    after = freshen(brined, changed.freshen[0], draws) if changed.freshen else brined
    night = rest(after, Rest(time=NIGHT, temperature=COLD), draws)
    endless = cure(start, replace(bath, time=FOREVER), draws)
    faces = int(values["faces"])
    profile = tuple(np.quantile(_profile(after, faces), [0.1, 0.5, 0.9], axis=0))
    sodium = sodium_mg_per_serving(dried_salt(after, moisture), batch.serving)
    return Soaked(
        values["strength"], values["brine"], values["thickness"], faces, int(values["waters"]), moisture, batch.serving,
        np.median(_profile(brined, faces), axis=0), profile, np.median(_profile(night, faces), axis=0),
        band(after.flesh.water_phase_salt[USUAL]), band(_fraction(after.salt.centre[USUAL])),
        band(endless.flesh.water_phase_salt[USUAL]), band(sodium),
    )  # fmt: skip


def _fraction(ratio):
    """Salt per water as salt per water phase."""
    return ratio / (1 + ratio)


def _profile(cured: Cured, faces: int) -> np.ndarray:
    """Water-phase salt of usual pieces at `ACROSS`, (members, places)."""
    position = np.abs(2 * ACROSS - 1) if faces == 2 else 1 - ACROSS
    return _fraction(cured.salt.profile(position)[USUAL])


def with_soaks(batch: Batch, **typed) -> Batch:
    """The batch with its soaks typed anew, as `soaks_told`. Raises: InputError on the first mistake."""
    return read_batch(soaks_told(written(batch), **typed))


def soaks_told(
    told: dict, *, time=None, temperature=None, water=None, each=None, at=None, changes=None, serving=None
) -> dict:
    """What is told of a batch, with brine time and temperature, fresh water, time in each water, its temperature, their
    number and the serving typed anew.

    What is None is taken out; without any fresh water the first freshening goes, the others stay.
    """
    first, *others = told.get("freshen") or [{}]
    first = _with(first, water=water, time=each, changes=changes, temperature=at)
    anew = {
        "brine": _with(told.get("brine", {}), time=time, temperature=temperature),
        "freshen": [first, *others] if first.keys() - {"temperature"} else others,
        "serving": serving,
    }
    return {name: value for name, value in (told | anew).items() if value}


def _with(section: dict, **typed) -> dict:
    """A section of a batch file with fields typed anew; None takes a field out."""
    return {name: value for name, value in (section | typed).items() if value is not None}
