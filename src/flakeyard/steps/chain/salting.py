"""How salty the fish gets: salt and sugar through the thickness, and the water and solids that trade places with them.

Diffusion is solved with the flesh's water held still; then the water the flesh takes up or gives off is booked between
flesh and bath, so that water, salt and sugar of fish and bath together never change.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flakeyard.messages import say
from flakeyard.models import salt_transport as transport
from flakeyard.models import solutions, sorption
from flakeyard.models.constants import FLESH_DENSITY
from flakeyard.models.inputs import rising_root
from flakeyard.steps.chain.brining import Brine, mix
from flakeyard.steps.chain.fish import CLASS_WEIGHTS, Flesh, RawFish
from flakeyard.steps.intent.outside import Outside, beyond, joined
from flakeyard.steps.intent.records import Rest, Soak
from flakeyard.steps.intent.spread import Draws, band
from flakeyard.units import InputError, show

LEAST_WATER = 1e-3  # kg of a bath for each of the flesh's water: less is no bath (judgement)
COVERS = 0.5  # of the fish's volume: pieces lying loose leave a third of a vessel to the bath around them (judgement)
SEEN_LOSS = 95.0  # % of the weight before a dry cure: above it what was drawn and what went in are alike (judgement)
SYRUP_FULL = 2.0  # kg of sugar for each of a full syrup's water, 20 °C (sucrose_table)
SWEETEST = 10.0  # kg of sugar for each of a bath's water, which dissolves about a fifth of that (judgement)


@dataclass(frozen=True)
class Bath:
    """What surrounds the fish, in kg per kg of raw fish (members,); mean over the pieces.

    ``pull`` is the salt that would draw as much water as a kg of its sugar.
    """

    water: np.ndarray
    salt: np.ndarray
    sugar: np.ndarray
    solids: np.ndarray
    pull: np.ndarray | float = 0.0


@dataclass(frozen=True)
class Cured:
    """Fish after soaks: flesh of shape (classes, members), its solutes through the thickness, the last bath.

    ``native`` are the flesh's own solutes, osmol per kg of its water. ``pull`` is no mass: the sugar of the baths, told
    as the salt that draws as much water, and reaching inwards as quickly as salt does.
    """

    fish: RawFish
    flesh: Flesh
    salt: transport.SaltState
    sugar: transport.SaltState
    native: transport.SaltState
    pull: transport.SaltState
    bath: Bath | None
    brine: Brine | None = None
    notes: tuple[str, ...] = ()
    outside: tuple[Outside, ...] = ()

    @property
    def mass(self) -> np.ndarray:
        """Mass of the whole load now.

        Returns: (members,) [kg, above 0]
        Source: a balance of masses
        """
        return self.fish.mass * (CLASS_WEIGHTS @ self.flesh.mass)

    @property
    def water_phase_salt(self) -> np.ndarray:
        """Mean over the load (members,).

        Returns: (members,) [kg/kg, 0–0.3]
        Source: a balance of masses
        """
        return CLASS_WEIGHTS @ self.flesh.salt / (CLASS_WEIGHTS @ (self.flesh.salt + self.flesh.water))

    @property
    def water_phase_salt_centre(self) -> np.ndarray:
        """In the middle of the thickest piece, or under its skin (members,).

        Returns: (members,) [kg/kg, 0–0.3]
        Source: models.salt_transport.soak
        """
        centre = self.salt.centre[-1]
        return centre / (1 + centre)

    @property
    def native_share(self) -> np.ndarray:
        """Share of the flesh's own solutes still there, (classes, members); juice and drip take theirs along.

        Returns: (classes, members) [share, 0 up]
        Source: models.sorption.native_share
        """
        return np.asarray(sorption.native_share(self.native.mean * self.flesh.water, self.flesh.solids))

    @property
    def salt_fraction(self) -> np.ndarray:
        """Salt per fish, mean over the load.

        Returns: (members,) [kg/kg, 0–0.3]
        Source: a balance of masses
        """
        return CLASS_WEIGHTS @ self.flesh.salt / (CLASS_WEIGHTS @ self.flesh.mass)


def raw(fish: RawFish) -> Cured:
    """The fish before any soak, as the start of the chain."""
    shape = fish.thickness.shape
    flesh = Flesh(**{name: np.broadcast_to(getattr(fish.flesh, name), shape) for name in Flesh.__dataclass_fields__})
    salt = transport.fresh_state(fish.thickness, fish.open_faces, fish.width, flesh.salt / flesh.water)
    sugar = transport.fresh_state(fish.thickness, fish.open_faces, fish.width, 0.0)
    osmoles = sorption.native_osmoles(flesh.solids)
    native = transport.fresh_state(fish.thickness, fish.open_faces, fish.width, osmoles / flesh.water)
    return Cured(fish, flesh, salt, sugar, native, sugar, None)


def cure(before: Cured, soak: Soak, draws: Draws, where: str = "brine") -> Cured:
    """A wet brine or a dry cure, with the time and temperature of the soak."""
    brine = mix(soak, draws, where)
    if soak.dry:
        after = _under_dry_salt(before, brine, soak.time, draws)
    else:
        per_fish = before.fish.mass
        water, salt, sugar, other = (part / per_fish for part in (brine.water, brine.salt, brine.sugar, brine.other))
        bath = Bath(water, salt, sugar, other, _pull_of(brine, draws))
        after = soak_in(before, bath, soak.time, brine.temperature, draws, f"[[{where}.ingredient]]")
    more = _weighs_then(after) if soak.dry else uncovered(brine.volume / 1000.0, before.fish.mass)
    notes = before.notes + brine.notes + more
    return replace(after, brine=brine, notes=notes, outside=joined(after.outside, brine.outside))


def _weighs_then(cured: Cured) -> tuple[str, ...]:
    """What the fish weighs after a dry cure, drained, in words, where the salt drew water enough to see it on a scale."""
    share = band(100.0 * cured.mass / cured.fish.mass)
    low, middle, high = (f"{end:.0f}" for end in share.ends)
    return (say("plan.dry_salted", low=low, middle=middle, high=high),) if share.ends[1] < SEEN_LOSS else ()


def uncovered(bath, fish: float) -> tuple[str, ...]:
    """That a bath [m3] may not cover so much fish [kg], in words; nothing where it does, or is no bath at all."""
    volume, flesh = float(np.median(bath)), fish / FLESH_DENSITY
    if volume >= COVERS * flesh:
        return ()
    bath_said, fish_said = (show(one, "volume", "both") for one in (volume, flesh))
    return (say("plan.uncovered", bath=bath_said, fish=fish_said),)


def soak_in(before: Cured, bath: Bath, seconds: float, temperature: float, draws: Draws, where: str = "bath") -> Cured:
    """Leave the pieces in a bath of given make-up; every piece class meets its own share of the bath.

    Raises: InputError, naming ``where``, when there is next to no water, or far more sugar than it dissolves
    """
    flesh = before.flesh
    _check_bath(bath, flesh, where)
    ratio = bath.water / flesh.water
    rate = _salt_rate(before, temperature, draws)
    salt, strength = transport.soak(before.salt, seconds, rate, ratio, bath.salt / bath.water, _partition(draws))
    sugar_rate, sweet = rate * _sugar_ratio(draws), bath.sugar / bath.water
    sugar, sweetness = transport.soak(before.sugar, seconds, sugar_rate, ratio, sweet, _sugar_partition(sweet, draws))
    pull = _drawn_by_sugar(before.pull, seconds, rate, bath.pull * sweetness)
    native, _ = transport.soak(before.native, seconds, rate * _native_ratio(draws), ratio, 0.0)
    flesh = flesh.changed(salt=salt.mean * flesh.water, sugar=sugar.mean * flesh.water)
    water, solids = (np.broadcast_to(part, flesh.water.shape) for part in (bath.water, bath.solids))
    full = Bath(water, strength * bath.water, sweetness * bath.water, solids)
    outside = joined(before.outside, _outside(before, temperature))
    soaked = replace(before, flesh=flesh, salt=salt, sugar=sugar, native=native, pull=pull, outside=outside)
    return _trade_water(soaked, full, draws, bath.salt / (bath.salt + bath.water))


def _check_bath(bath: Bath, flesh: Flesh, where: str) -> None:
    allowed, example = say("brine.covers"), '"2 L"'
    water, sugar = float(np.min(bath.water / flesh.water)), float(np.max(bath.sugar / bath.water))
    if water < LEAST_WATER:
        raise InputError(where, say("brine.share_of_water", water=water), say("brine.far_too_little"), allowed, example)
    if sugar > SWEETEST:
        given, why = say("brine.sugar_in_water", sugar=sugar), say("brine.too_sweet")
        raise InputError(where, given, why, say("brine.sweetest", most=SWEETEST), '"100 g"')


def rest(before: Cured, pause: Rest, draws: Draws) -> Cured:
    """Out of the bath, in the refrigerator: salt evens out, nothing enters or leaves."""
    rate = _salt_rate(before, pause.temperature, draws)
    return replace(
        before,
        salt=transport.rest(before.salt, pause.time, rate),
        sugar=transport.rest(before.sugar, pause.time, rate * _sugar_ratio(draws)),
        native=transport.rest(before.native, pause.time, rate * _native_ratio(draws)),
        pull=transport.rest(before.pull, pause.time, rate) if np.any(before.pull.values) else before.pull,
        outside=joined(before.outside, _outside(before, pause.temperature)),
    )


def _under_dry_salt(before: Cured, dose: Brine, seconds: float, draws: Draws) -> Cured:
    """Salt strewn on the fish: the face is saturated for as long as undissolved salt is left; the pickle drains."""
    flesh = before.flesh
    saturated = solutions.nacl_saturation(max(dose.temperature, 0.2))
    rate = _salt_rate(before, dose.temperature, draws)
    per_water = dose.salt / before.fish.mass / flesh.water
    strongest = saturated / (1 - saturated)
    salt, left = transport.dry_cure(before.salt, seconds, rate, per_water, strongest, _partition(draws))
    sugar_rate = rate * _sugar_ratio(draws)
    sweet = dose.sugar / before.fish.mass / flesh.water
    kept_out = _sugar_partition(np.where(dose.sugar > 0, SYRUP_FULL, 0.0), draws)
    sugar, sweet_left = transport.dry_cure(before.sugar, seconds, sugar_rate, sweet, SYRUP_FULL, kept_out)
    nothing = np.zeros_like(flesh.water)
    salted = replace(before, salt=salt, flesh=flesh.changed(salt=salt.mean * flesh.water))
    pull = _pulled_by_pickle(salted, dose, seconds, rate, draws)
    flesh = flesh.changed(salt=salt.mean * flesh.water, sugar=sugar.mean * flesh.water)
    bath = Bath(dose.water / before.fish.mass + nothing, left * flesh.water, sweet_left * flesh.water, nothing)
    outside = joined(before.outside, _outside(before, dose.temperature))
    rinsed = draws.uniform("native solutes under dry salt", *transport.DRY_CURE_NATIVE_BAND)
    native = replace(before.native, values=before.native.values * rinsed[:, None, None])
    soaked = replace(before, flesh=flesh, salt=salt, sugar=sugar, native=native, pull=pull, outside=outside)
    return _trade_water(soaked, bath, draws)


def _pull_of(brine: Brine, draws: Draws) -> np.ndarray:
    """Salt that would draw as much water as a kg of the sugar of a brine (members,)."""
    all_sugar = np.where(brine.sugar > 0, brine.sugar, 1.0)
    size = draws.uniform("pull of sugar", *transport.SUGAR_PULL_BAND)
    return size * transport.sugar_as_salt(brine.sucrose / all_sugar, brine.hexose / all_sugar)


def _drawn_by_sugar(pull, seconds: float, rate, strength):
    """The pull of sugar after a soak: it reaches inwards as quickly as salt, from a face as strong as the bath."""
    if not np.any(strength) and not np.any(pull.values):
        return pull  # never any sugar
    return transport.soak(pull, seconds, rate, np.inf, strength)[0]


def _pulled_by_pickle(salted: Cured, dose: Brine, seconds: float, rate, draws: Draws):
    """The pull of sugar under a dry cure: its pickle is the sugar in the water it has drawn itself, or full syrup."""
    sugar, unit = dose.sugar / salted.fish.mass, _pull_of(dose, draws)
    if not np.any(sugar):
        return _drawn_by_sugar(salted.pull, seconds, rate, 0.0)

    left = _drawn_by_sugar(salted.pull, seconds, rate, 0.0)
    none = replace(salted.pull, values=0.0 * salted.pull.values)
    one = _drawn_by_sugar(none, seconds, rate, unit)  # by a kg of sugar in a kg of water

    def pulled(strength):
        return replace(left, values=left.values + one.values * strength[..., None, None])

    def surplus(strength):  # of sugar that the pickle would hold at a strength
        held = _held(replace(salted, pull=pulled(strength)), draws)[0]
        return strength * np.maximum(salted.flesh.water - held + dose.water / salted.fish.mass, 0.0) - sugar

    bound = np.zeros_like(salted.flesh.water)
    return pulled(rising_root(surplus, bound, bound + SYRUP_FULL, within=1e-6))


def _held(cured: Cured, draws: Draws, brine: np.ndarray | float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Water that the flesh holds, now that it is this salty and sugar has drawn on it; and that strength as salt.

    Sugar draws water as salt does, but only salt makes flesh swell. A strong ``brine`` [kg/kg] draws more while the rim is
    saltier than the middle; by how much was never read.
    """
    flesh = cured.flesh
    reached = flesh.salt / (flesh.salt + flesh.water)
    curve = {
        "crossover": draws.uniform("weight crossover", *transport.CROSSOVER_BAND),
        "saturated_hold": draws.normal("saturated hold", transport.SATURATED_HOLD, transport.SATURATED_HOLD_SD),
        "holding_factor": draws.study("water after salting"),
    }
    swelling = draws.uniform("swelling", *transport.SWELLING_BAND)
    salted = transport.water_held(np.minimum(reached, 0.30), swelling=swelling, **curve)
    if np.any(brine > transport.STRONG_BRINE[0]):
        size = draws.uniform("drawn from the rim", *transport.RIM_BAND)
        salted = salted + size * transport.water_less_while_uneven(cured.salt, brine, swelling=swelling, **curve)
    if np.any(cured.pull.values):
        ratio = flesh.salt / flesh.water + cured.pull.mean
        drawn = ratio / (1.0 + ratio)
        both, salt = (transport.water_held(np.minimum(c, 0.30), **curve) for c in (drawn, reached))
        salted, reached = salted + both - salt, drawn
    return cured.fish.flesh.water * salted, reached


def _trade_water(cured: Cured, bath: Bath, draws: Draws, brine: np.ndarray | float = 0.0) -> Cured:
    """Book the water and solids that the flesh takes up or gives off, now that it is this salty.

    Water that leaves takes salt and sugar along at the strength of the flesh; water that enters brings them at the
    strength of the bath. Leached solids go to the bath.
    """
    flesh, start = cured.flesh, cured.fish.flesh
    reached = flesh.salt / (flesh.salt + flesh.water)
    held, drawn = _held(cured, draws, brine)
    most = flesh.water + 0.95 * bath.water  # a small bath cannot give more than it has
    held = np.minimum(held, most)
    gain = np.maximum(held - flesh.water, 0.0)
    loss = np.maximum(flesh.water - held, 0.0)
    salt, salt_moved = _carried(cured.salt, flesh.water, held, gain, loss, bath.salt, bath.water)
    sugar, sugar_moved = _carried(cured.sugar, flesh.water, held, gain, loss, bath.sugar, bath.water)
    native, _ = _carried(cured.native, flesh.water, held, gain, loss, np.zeros_like(held), bath.water)
    kept = transport.solids_kept(np.minimum(reached, 0.30), draws.uniform("leaching", *transport.SATURATED_LOSS_BAND))
    kept = np.minimum(kept, flesh.protein / start.protein)  # leached solids do not come back
    leached = flesh.protein - kept * start.protein
    flesh = flesh.changed(
        water=held, salt=flesh.salt + salt_moved, sugar=flesh.sugar + sugar_moved, protein=kept * start.protein
    )
    bath = Bath(bath.water + loss - gain, bath.salt - salt_moved, bath.sugar - sugar_moved, bath.solids + leached)
    drawn = np.maximum(drawn, flesh.water_phase_salt) if np.any(cured.pull.values) else flesh.water_phase_salt
    outside = joined(cured.outside, beyond(transport.water_held_range, True, strength_fraction=drawn))
    return replace(cured, flesh=flesh, salt=salt, sugar=sugar, native=native, bath=bath, outside=outside)


def _carried(state, water, held, gain, loss, bath_solute, bath_water):
    """A solute's state after the trade of water, and the mass of solute that came in with it (negative: went out)."""
    strength = np.divide(bath_solute, bath_water, out=np.zeros_like(held), where=bath_water > 0)
    moved = gain * strength - loss * state.mean
    factor = np.where(gain > 0, water / held, 1.0)[..., None, None]
    return replace(state, values=state.values * factor + (gain * strength / held)[..., None, None]), moved


def _outside(cured: Cured, temperature: float) -> tuple[Outside, ...]:
    """What of fish and bath the salt's way was not tested for; a bath that is only colder salts a little slower."""
    tested, raw_flesh = transport.salt_diffusivity_range, cured.fish.flesh
    parts = {name: getattr(raw_flesh, name) for name in ("water", "protein", "fat")}
    return beyond(tested, True, **parts) + beyond(
        tested, temperature > tested.bounds["temperature"][1], temperature=temperature
    )


def _salt_rate(cured: Cured, temperature: float, draws: Draws) -> np.ndarray:
    raw_flesh = cured.fish.flesh
    middle = transport.salt_diffusivity(temperature, raw_flesh.water, raw_flesh.protein, raw_flesh.fat)
    return middle * draws.lognormal("salt diffusivity", 1.0, transport.DIFFUSIVITY_LN_SD) * draws.study("salting time")


def _partition(draws: Draws) -> np.ndarray:
    """Salt per water of flesh over that of a brine in balance with it."""
    return draws.normal("salt partition", transport.PARTITION, transport.PARTITION_SD)


def _sugar_ratio(draws: Draws) -> np.ndarray:
    """Sugar's diffusivity over salt's; table sugar and simple sugars lie inside the spread."""
    return draws.lognormal("sugar diffusivity", transport.SUGAR_RATIO["sucrose"], transport.SUGAR_LN_SD)


def _sugar_partition(strength, draws: Draws) -> np.ndarray:
    """Sugar per water of flesh over that of its bath at balance: strong syrup keeps its sugar out."""
    return transport.sugar_partition(strength, draws.uniform("sugar taken up", *transport.SUGAR_TAKEN_BAND))


def _native_ratio(draws: Draws) -> np.ndarray:
    """Diffusivity of the flesh's own solutes over salt's."""
    return draws.triangular(
        "native diffusivity", *transport.NATIVE_RATIO_BAND[:1], transport.NATIVE_RATIO, transport.NATIVE_RATIO_BAND[1]
    )
