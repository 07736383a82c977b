"""How salty the fish gets: salt and sugar through the thickness, and the water and solids that trade places with them.

Diffusion is solved with the flesh's water held still; then the water the flesh takes up or gives off is booked between
flesh and bath, so that water, salt and sugar of fish and bath together never change.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flakeyard.models import salt_transport as transport
from flakeyard.models import solutions, sorption
from flakeyard.steps.chain.brining import Brine, mix
from flakeyard.steps.chain.fish import CLASS_WEIGHTS, Flesh, RawFish
from flakeyard.steps.intent.outside import Outside, beyond, joined
from flakeyard.steps.intent.records import Rest, Soak
from flakeyard.steps.intent.spread import Draws
from flakeyard.units import InputError

LEAST_WATER = 1e-3  # kg of a bath for each of the flesh's water: less is no bath (judgement)
SWEETEST = 10.0  # kg of sugar for each of a bath's water, which dissolves about a fifth of that (judgement)


@dataclass(frozen=True)
class Bath:
    """What surrounds the fish, in kg per kg of raw fish (members,); mean over the pieces."""

    water: np.ndarray
    salt: np.ndarray
    sugar: np.ndarray
    solids: np.ndarray


@dataclass(frozen=True)
class Cured:
    """Fish after soaks: flesh of shape (classes, members), its solutes through the thickness, the last bath.

    ``native`` are the flesh's own solutes, osmol per kg of its water.
    """

    fish: RawFish
    flesh: Flesh
    salt: transport.SaltState
    sugar: transport.SaltState
    native: transport.SaltState
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
    return Cured(fish, flesh, salt, sugar, native, None)


def cure(before: Cured, soak: Soak, draws: Draws, where: str = "brine") -> Cured:
    """A wet brine or a dry cure, with the time and temperature of the soak."""
    brine = mix(soak, draws, where)
    if soak.dry:
        after = _under_dry_salt(before, brine, soak.time, draws)
    else:
        per_fish = before.fish.mass
        bath = Bath(brine.water / per_fish, brine.salt / per_fish, brine.sugar / per_fish, brine.other / per_fish)
        after = soak_in(before, bath, soak.time, brine.temperature, draws, f"[[{where}.ingredient]]")
    return replace(after, brine=brine, notes=before.notes + brine.notes, outside=joined(after.outside, brine.outside))


def soak_in(before: Cured, bath: Bath, seconds: float, temperature: float, draws: Draws, where: str = "bath") -> Cured:
    """Leave the pieces in a bath of given make-up; every piece class meets its own share of the bath.

    Raises: InputError, naming ``where``, when there is next to no water, or far more sugar than it dissolves
    """
    flesh = before.flesh
    _check_bath(bath, flesh, where)
    ratio = bath.water / flesh.water
    rate = _salt_rate(before, temperature, draws)
    salt, strength = transport.soak(before.salt, seconds, rate, ratio, bath.salt / bath.water, _partition(draws))
    sugar_rate = rate * _sugar_ratio(draws)
    sugar, sweetness = transport.soak(before.sugar, seconds, sugar_rate, ratio, bath.sugar / bath.water)
    native, _ = transport.soak(before.native, seconds, rate * _native_ratio(draws), ratio, 0.0)
    flesh = flesh.changed(salt=salt.mean * flesh.water, sugar=sugar.mean * flesh.water)
    full = Bath(
        *(np.broadcast_to(part, flesh.water.shape) for part in (bath.water, bath.salt, bath.sugar, bath.solids))
    )
    full = replace(full, salt=strength * bath.water, sugar=sweetness * bath.water)
    outside = joined(before.outside, _outside(before, temperature))
    soaked = replace(before, flesh=flesh, salt=salt, sugar=sugar, native=native, outside=outside)
    return _trade_water(soaked, full, draws)


def _check_bath(bath: Bath, flesh: Flesh, where: str) -> None:
    allowed, example = 'water that covers the fish, or salt strewn on it (method = "dry")', '"2 L"'
    water, sugar = float(np.min(bath.water / flesh.water)), float(np.max(bath.sugar / bath.water))
    if water < LEAST_WATER:
        raise InputError(where, f"{water:.2g} of the water in the fish", "that is far too little", allowed, example)
    if sugar > SWEETEST:
        given, why = f"{sugar:.3g} kg of sugar in a kg of water", "water cannot dissolve so much"
        raise InputError(where, given, why, f"at most {SWEETEST:g} kg in a kg of water", '"100 g"')


def rest(before: Cured, pause: Rest, draws: Draws) -> Cured:
    """Out of the bath, in the refrigerator: salt evens out, nothing enters or leaves."""
    rate = _salt_rate(before, pause.temperature, draws)
    return replace(
        before,
        salt=transport.rest(before.salt, pause.time, rate),
        sugar=transport.rest(before.sugar, pause.time, rate * _sugar_ratio(draws)),
        native=transport.rest(before.native, pause.time, rate * _native_ratio(draws)),
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
    sugar, sweet_left = transport.dry_cure(before.sugar, seconds, sugar_rate, sweet, 2.0)  # sucrose: 2.0 kg/kg at 20 °C
    flesh = flesh.changed(salt=salt.mean * flesh.water, sugar=sugar.mean * flesh.water)
    nothing = np.zeros_like(flesh.water)
    bath = Bath(dose.water / before.fish.mass + nothing, left * flesh.water, sweet_left * flesh.water, nothing)
    outside = joined(before.outside, _outside(before, dose.temperature))
    rinsed = draws.uniform("native solutes under dry salt", *transport.DRY_CURE_NATIVE_BAND)
    native = replace(before.native, values=before.native.values * rinsed[:, None, None])
    soaked = replace(before, flesh=flesh, salt=salt, sugar=sugar, native=native, outside=outside)
    return _trade_water(soaked, bath, draws)


def _trade_water(cured: Cured, bath: Bath, draws: Draws) -> Cured:
    """Book the water and solids that the flesh takes up or gives off, now that it is this salty.

    Water that leaves takes salt and sugar along at the strength of the flesh; water that enters brings them at the
    strength of the bath. Leached solids go to the bath.
    """
    flesh, start = cured.flesh, cured.fish.flesh
    reached = flesh.salt / (flesh.salt + flesh.water)
    held = start.water * transport.water_held(
        np.minimum(reached, 0.30),
        draws.uniform("weight crossover", *transport.CROSSOVER_BAND),
        draws.normal("saturated hold", transport.SATURATED_HOLD, transport.SATURATED_HOLD_SD),
        draws.uniform("swelling", *transport.SWELLING_BAND),
        draws.study("water after salting"),
    )
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
    outside = joined(cured.outside, beyond(transport.water_held_range, True, strength_fraction=flesh.water_phase_salt))
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
    """Salt per water of flesh over that of a brine in balance with it; for sugar, not measured, one."""
    return draws.normal("salt partition", transport.PARTITION, transport.PARTITION_SD)


def _sugar_ratio(draws: Draws) -> np.ndarray:
    """Sugar's diffusivity over salt's; table sugar and simple sugars lie inside the spread."""
    return draws.lognormal("sugar diffusivity", transport.SUGAR_RATIO["sucrose"], transport.SUGAR_LN_SD)


def _native_ratio(draws: Draws) -> np.ndarray:
    """Diffusivity of the flesh's own solutes over salt's."""
    return draws.triangular(
        "native diffusivity", *transport.NATIVE_RATIO_BAND[:1], transport.NATIVE_RATIO, transport.NATIVE_RATIO_BAND[1]
    )
