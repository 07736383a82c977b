"""Salt (and sugar, and the flesh's own solutes) moving between a bath or dry salt and the water in a piece of fish.

Salt lives in the water of the flesh. Its strength is a ratio r, kg salt per kg water, and it spreads by Fick's law in a
slab (one open face over skin, or two open faces) or in a strip (thickness and width). A bath is well mixed and finite.
The flesh's own (native) solutes go the same way outwards: they start as osmol per kg water in a bath that has none.
The flesh's water and thickness are held constant while salt moves; the change of water is added afterwards by
`water_held`. Stirring, drip, pressure and injection are not modelled.

Two routes share one idea, the Laplace transform turned back on a short contour in the complex plane:
`slab_uptake` and `strip_uptake` start from an even piece and use the exact transfer function; `SaltState` (in
salt_profile, named here too) keeps the whole profile, so that soaks, rests and dry cures can follow in any order.
"""

import numpy as np

from flakeyard.messages import say
from flakeyard.models.constants import HEXOSE_MOLAR_MASS, HOUR, NACL_MOLAR_MASS, SUCROSE_MOLAR_MASS
from flakeyard.models.inputs import Range, checked, rising_root
from flakeyard.models.salt_profile import (
    NODES,
    WEIGHTS,
    SaltState,
    bath_share,
    checked_or_endless,
    diffusion_depth,
    dry_cure,
    fresh_state,
    plain,
    rest,
    soak,
)

# The chain of soaks (salt_profile) is passed on here beside the closed forms.
__all__ = [
    "SaltState",
    "dry_cure",
    "equilibrium_ratio",
    "evening_out_time",
    "fresh_state",
    "hours_to_strength",
    "left_with_water",
    "native_diffusivity",
    "obstruction",
    "rest",
    "salt_diffusivity",
    "salt_diffusivity_in_water",
    "slab_uptake",
    "soak",
    "solids_kept",
    "strip_uptake",
    "sugar_as_salt",
    "sugar_diffusivity",
    "sugar_partition",
    "water_held",
    "water_less_while_uneven",
]

# Limiting diffusion coefficients of the two ions in water, 1e-10 m2/s: value at 0 degC and rise per degC.
SODIUM_LINE = (6.06, 0.297)  # boudreau_1997, as tabulated in marelac_r
CHLORIDE_LINE = (9.60, 0.438)  # boudreau_1997, as tabulated in marelac_r
PROTEIN_DENSITY, FAT_DENSITY = 1.35, 0.92  # relative to water, from memory (usual food-engineering values)

DIFFUSIVITY_FACTOR = 0.8  # judgement, between 0.24 and 1.06 implied by measurements on fish and squid
DIFFUSIVITY_LN_SD = 0.5  # judgement: barretto_2018 gives 0.68, lee_2020 1.06, lee_1998 0.79 and 0.24
THICKNESS_LN_SD = 0.10  # judgement: pieces cut by hand
# Sugar against salt, diffusion coefficients in water at 25 degC (sugar: ribeiro_2006, table 5; salt: the lines above).
SUGAR_RATIO = {"sucrose": 0.523 / 1.628, "hexose": 0.6825 / 1.628}
SUGAR_LN_SD = 0.6  # judgement: salt's spread, and that flesh may sieve the larger molecule more than water does
# Dissolved parts of salt that draw water like one of sugar: twice the osmotic coefficient of dilute salt, 0.93
# (robinson_stokes_1965, recalled); strong syrup draws up to half as much again, and is not counted on
SALT_PARTS = 1.86
SUGAR_PULL_BAND = (0.5, 1.5)  # judgement: size in fish not known; pork (pork_sugar_2012) lies at 1.1 and above
# Strong syrup keeps its sugar out while it draws water: pork in 1.2 kg/kg took up 0.14-0.16 kg of solids, of which salt
# makes 0.10, so a tenth of what balance would give (pork_sugar_2012, computed). Fish may take more: judgement
SUGAR_TAKEN_BAND, SUGAR_TAKEN_AT = (0.1, 0.4), 0.3  # of balance; in full from that many kg sugar per kg bath water on
# Native solutes against salt, in flesh: creatine, lactate, potassium lie between (judgement; none was measured leaving)
NATIVE_RATIO, NATIVE_RATIO_BAND = 0.8, (0.5, 1.2)
# Under dry salt they go with the pickle, at the strength of the flesh. Salt put on anew and a rinse take more: up to a
# third more, drawn evenly. Judgement to the cautious side, for no loss was ever read
DRY_CURE_NATIVE_BAND = (2.0 / 3.0, 1.0)
# Salt per water of flesh over that of brine in balance with it. Four measured pairs give 0.959 and 0.977
# (medina_vivanco_tilapia), 1.014 twice (gudjonsdottir_2015): mean 0.991, sd 0.028, the chemist's error in it.
PARTITION, PARTITION_SD = 0.99, 0.025
RAW_SALT = 0.0014  # kg salt per kg raw flesh: 54 mg sodium per 100 g of raw cod, usda_fdc_171955

SATURATED_STRENGTH = 0.26395  # kg salt per kg saturated brine at 60 degF: 100 degrees salometer, salt_institute
CROSSOVER, CROSSOVER_BAND = 0.14, (0.10, 0.18)  # judgement: gain at 10 %, loss at 20 % (duan_2008, oh_1997)
SATURATED_HOLD, SATURATED_HOLD_SD = 0.60, 0.05  # judgement from 57-60 % water in fully salted cod, gudjonsdottir_2015
SALTED_THROUGH = 0.10  # kg/kg, judgement: weakest brine that two laboratories differ about (oh_1997)
SATURATED_LOSS, SATURATED_LOSS_BAND = 0.10, (0.05, 0.15)  # fillets: 12-13 % of protein, gildberg_2009; band judgement
SATURATED_LOSS_SMALL_WHOLE = 0.30  # small whole anchovy, oh_1997
# Strong brine draws water from the rim before salt is in the middle, weak brine was not seen to: herring still gains in
# the weaker of these (herring_brine_gain), tilapia and anchovy lose in the stronger (duan_2008, oh_1997); between: judgement
STRONG_BRINE = (0.165, 0.20)  # kg salt per kg brine
RIM_BAND = (0.0, 2.0)  # judgement: not at all, point by point (1), or twice that, water leaving quicker than salt comes
SWELLING_BAND = (0.0, 0.10)  # judgement: size of the gain in weak brine was not found; 5-15 % for cod from memory

salt_diffusivity_range = Range(
    "salt_diffusion",
    {
        "temperature": (2.0, 25.0, "°C"),
        "water": (0.60, 0.85, "kg/kg"),
        "protein": (0.10, 0.25, "kg/kg"),
        "fat": (0.0, 0.20, "kg/kg"),
    },
    "a factor of 1.65 either way in two cases of three (judgement)",
    "barretto_2018",
)
water_held_range = Range(
    "water_held",
    {"strength_fraction": (0.0, 0.264, "kg/kg")},
    "0.05 kg/kg at saturation; 0 to 0.10 kg/kg more in weak brine (judgement)",
    "gudjonsdottir_2015",
)

_WIDTH_MODES = 60  # strip_uptake is then right to about 5e-5 at its worst, when one Fourier number is tiny


# --- how fast: diffusion coefficients ---------------------------------------------------------------------------------


def salt_diffusivity_in_water(temperature):
    """Diffusion coefficient of sodium chloride in pure water, given the temperature.

    Parameters:
        temperature : float or array – water temperature [degC], allowed -15 to 100
    Returns: float or array – diffusion coefficient at infinite dilution [m2/s]
    Equation: D = 2 D_Na D_Cl / (D_Na + D_Cl), each ion a straight line in temperature
    Valid for: 0–30 degC; 1.3 % above the ions' tabulated values at 25 degC, 5–10 % above strong brine (from memory)
    Raises: ValueError when temperature is impossible
    Source: boudreau_1997 (ions), Nernst–Hartley relation
    """
    celsius = checked("temperature", temperature, -15.0, 100.0)
    sodium, chloride = (1e-10 * (start + slope * celsius) for start, slope in (SODIUM_LINE, CHLORIDE_LINE))
    return plain(2.0 * sodium * chloride / (sodium + chloride))


def obstruction(water, protein, fat):
    """Share of the free-water diffusion coefficient that is left in flesh, given its make-up.

    Parameters:
        water : float or array – water of the flesh [kg/kg], allowed 0–1, not 0
        protein : float or array – protein of the flesh [kg/kg], allowed 0–1
        fat : float or array – fat of the flesh [kg/kg], allowed 0–1
    Returns: float or array – obstruction factor [-], 0–1
    Equation: ((1 - phi) / (1 + phi))², phi = volume fraction of protein and fat
    Valid for: wet flesh, phi up to about 0.4; nothing in it is fitted to fish
    Raises: ValueError when a fraction is impossible
    Source: mackie_meares_1955 (from memory)
    """
    free = checked("water", water, 1e-6, 1.0)
    solid = checked("protein", protein, 0.0, 1.0) / PROTEIN_DENSITY
    solid = solid + checked("fat", fat, 0.0, 1.0) / FAT_DENSITY
    blocked = solid / (solid + free)
    return plain(((1.0 - blocked) / (1.0 + blocked)) ** 2)


def salt_diffusivity(temperature, water, protein, fat):
    """Diffusion coefficient of salt in the water of fish flesh (middle value), given temperature and make-up.

    Parameters:
        temperature : float or array – flesh temperature [degC], allowed -15 to 100
        water : float or array – water of the flesh [kg/kg], allowed 0–1, not 0
        protein : float or array – protein of the flesh [kg/kg], allowed 0–1
        fat : float or array – fat of the flesh [kg/kg], allowed 0–1
    Returns: float or array – diffusion coefficient, the factor 0.8 included [m2/s]
    Equation: D = 0.8 D_water(T) ((1 - phi)/(1 + phi))²
    Valid for: raw skinless fish in brine, 2–25 degC; ln-sd 0.5 (1 sd ×/÷ 1.65). Brine strength and freezing are ignored
    Raises: ValueError when an input is impossible
    Source: boudreau_1997, mackie_meares_1955; factor by judgement from barretto_2018, lee_2020, lee_1998
    """
    return DIFFUSIVITY_FACTOR * salt_diffusivity_in_water(temperature) * obstruction(water, protein, fat)


def sugar_diffusivity(temperature, water, protein, fat, sugar="sucrose"):
    """Diffusion coefficient of a sugar in the water of fish flesh, given temperature and make-up.

    Parameters:
        temperature : float or array – flesh temperature [degC], allowed -15 to 100
        water : float or array – water of the flesh [kg/kg], allowed 0–1, not 0
        protein : float or array – protein of the flesh [kg/kg], allowed 0–1
        fat : float or array – fat of the flesh [kg/kg], allowed 0–1
        sugar : text – "sucrose", or "hexose" for glucose, fructose and honey
    Returns: float or array – diffusion coefficient [m2/s]
    Equation: D_sugar = D_salt × (ratio of the two in water at 25 degC)
    Valid for: an estimate; colder water lowers the ratio by a few per cent (judgement), sieving by flesh is not known
    Raises: ValueError when an input is impossible or the sugar has no row
    Source: ribeiro_2006, table 5 (sugars at infinite dilution)
    """
    if sugar not in SUGAR_RATIO:
        raise ValueError(say("input.sugar", sugar=f"{sugar!r}", known=", ".join(SUGAR_RATIO)))
    return SUGAR_RATIO[sugar] * salt_diffusivity(temperature, water, protein, fat)


def sugar_as_salt(sucrose, hexose=0.0):
    """Salt that would draw water from flesh as strongly as the sugar of a bath does, given that sugar.

    Parameters:
        sucrose : float or array – table sugar for each kg of the bath's water [kg], allowed ≥ 0
        hexose : float or array – glucose, fructose, honey likewise [kg], allowed ≥ 0
    Returns: float or array – salt as strong [kg/kg water]
    Equation: r = M_salt / 1.86 × (r_sucrose / M_sucrose + r_hexose / M_hexose)
    Valid for: dilute syrup; draw the size from SUGAR_PULL_BAND. Read for pork only
    Raises: ValueError when an input is impossible
    Source: robinson_stokes_1965 (recalled); checked against pork_sugar_2012
    Example:
        >>> f"{float(sugar_as_salt(sucrose=1.2)):.3g}"  # check value pork_syrup_as_salt
        '0.11'
    """
    moles = checked("sucrose", sucrose) / SUCROSE_MOLAR_MASS + checked("hexose", hexose) / HEXOSE_MOLAR_MASS
    return plain(NACL_MOLAR_MASS / SALT_PARTS * moles)


def sugar_partition(sweetness, taken):
    """Sugar per water of flesh over that of its bath at balance, given how strong the syrup is.

    Parameters:
        sweetness : float or array – sugar of the bath [kg/kg water], allowed ≥ 0
        taken : float or array – what strong syrup leaves of it, drawn from SUGAR_TAKEN_BAND [-], allowed 0.1–1
    Returns: float or array – partition [-], 1 in plain water
    Equation: K = 1 - (1 - taken) min(1, sweetness / 0.3)
    Valid for: one meat, one laboratory; the straight line to plain water is judgement
    Raises: ValueError when an input is impossible
    Source: pork_sugar_2012, computed
    """
    full = np.minimum(1.0, checked("sweetness", sweetness) / SUGAR_TAKEN_AT)
    return plain(1.0 - (1.0 - checked("taken", taken, 0.1, 1.0)) * full)


def native_diffusivity(temperature, water, protein, fat):
    """Diffusion coefficient of the flesh's own solutes in its water, given temperature and make-up.

    Parameters:
        temperature : float or array – flesh temperature [degC], allowed -15 to 100
        water : float or array – water of the flesh [kg/kg], allowed 0–1, not 0
        protein : float or array – protein of the flesh [kg/kg], allowed 0–1
        fat : float or array – fat of the flesh [kg/kg], allowed 0–1
    Returns: float or array – diffusion coefficient, one for all of them [m2/s]
    Equation: D_native = 0.8 D_salt
    Valid for: an estimate; draw the ratio from NATIVE_RATIO_BAND. That they leave is physics, no loss in brine was read
    Raises: ValueError when an input is impossible
    Source: judgement
    """
    return NATIVE_RATIO * salt_diffusivity(temperature, water, protein, fat)


# --- how much, from an even start: closed forms -----------------------------------------------------------------------


def _slab_transfer(node, fourier):
    """Mean of a slab over the strength at its face, both Laplace-transformed."""
    root = np.sqrt(node / fourier)
    return np.tanh(root) / root


def _strip_transfer(node, shorter, longer):
    """The same for a strip; `longer` is the larger Fourier number, whose direction is expanded in modes."""
    odd = np.arange(1, 2 * _WIDTH_MODES, 2)
    weight, rate = 8.0 / (np.pi * odd) ** 2, (np.pi * odd / 2.0) ** 2
    shifted = node[..., None] + rate * longer[..., None]
    modes = (weight * _slab_transfer(shifted, shorter[..., None]) / shifted).sum(axis=-1)
    return _slab_transfer(node, longer) + node * modes


def _uptake(transfer, share):
    """Fraction of the equilibrium change, from the transfer function at the contour nodes (last axis)."""
    image = (1.0 + share) * transfer / (NODES * (1.0 + share * transfer))
    return plain(np.clip((WEIGHTS * image).real.sum(axis=-1), 0.0, 1.0))


def _fourier(name, value):
    """Fourier numbers on a new last axis; the floor and ceiling only keep 0 and inf computable."""
    return np.clip(checked_or_endless(name, value, 0.0), 1e-20, 1e6)[..., None]


def slab_uptake(fourier, bath_ratio):
    """Fraction of the way from start to equilibrium that an even slab has gone, given time and size of the bath.

    Parameters:
        fourier : float or array – D t / L², L half the thickness (two faces) or all of it (one face) [-], allowed ≥ 0
        bath_ratio : float or array – bath water per flesh water [kg/kg], allowed above 0, inf for an unlimited bath
    Returns: float or array – fraction of the equilibrium change, 0–1 [-]
    Equation: transform (1+g) H / (s (1 + g H)), H = tanh(√s)/√s, g = 1/bath_ratio, turned back numerically
    Valid for: well-mixed bath, constant D; numerical error below 1e-8
    Raises: ValueError when an input is impossible
    Source: crank_1975, plane sheet in a stirred solution of limited volume
    """
    number, share = _fourier("fourier", fourier), bath_share(bath_ratio)[..., None]
    return _uptake(_slab_transfer(NODES, number), share)


def strip_uptake(fourier_1, fourier_2, bath_ratio):
    """Fraction of the way from start to equilibrium that an even strip has gone, given time and size of the bath.

    Parameters:
        fourier_1 : float or array – D t / L² through the thickness [-], allowed ≥ 0
        fourier_2 : float or array – D t / (half width)² [-], allowed ≥ 0; 0 gives the slab
        bath_ratio : float or array – bath water per flesh water [kg/kg], allowed above 0, inf for an unlimited bath
    Returns: float or array – fraction of the equilibrium change, 0–1 [-]
    Equation: as the slab, with H of the product solution (1 - E_1)(1 - E_2)
    Valid for: well-mixed bath, constant D, long strips; numerical error below 1e-4
    Raises: ValueError when an input is impossible
    Source: crank_1975, product of two plane sheets; Duhamel's theorem for the falling bath
    """
    first, second = np.broadcast_arrays(_fourier("fourier_1", fourier_1), _fourier("fourier_2", fourier_2))
    share = bath_share(bath_ratio)[..., None]
    return _uptake(_strip_transfer(NODES, np.minimum(first, second), np.maximum(first, second)), share)


def equilibrium_ratio(bath_ratio, bath_strength, flesh_strength=0.0, partition=1.0):
    """Salt per water that the flesh comes to at last, given what it and its bath start with.

    Parameters:
        bath_ratio : float or array – bath water per flesh water [kg/kg], allowed above 0, inf for an unlimited bath
        bath_strength : float or array – salt of the bath at the start [kg/kg water], allowed ≥ 0
        flesh_strength : float or array – mean salt of the flesh at the start [kg/kg water], allowed ≥ 0
        partition : float or array – salt per water of flesh over that of the bath at balance [-], allowed 0.5–1.5
    Returns: float or array – salt per water of the flesh at last; the bath has 1/K times that [kg/kg water]
    Equation: r = K (B r_bath + r_flesh) / (B + K)
    Valid for: K from PARTITION and PARTITION_SD; four measured pairs lie between 0.96 and 1.02
    Raises: ValueError when an input is impossible
    Source: mass balance; checked against medina_vivanco_tilapia
    Example:
        >>> f"{float(equilibrium_ratio(bath_ratio=3.311, bath_strength=0.25)):.3g}"  # check value tilapia_20_percent_brine
        '0.192'
    """
    share, kept = bath_share(bath_ratio), checked("partition", partition, 0.5, 1.5)
    bath = checked("bath_strength", bath_strength, 0.0, 10.0)
    flesh = checked("flesh_strength", flesh_strength, 0.0, 10.0)
    return plain(kept * (bath + share * flesh) / (1.0 + share * kept))


def hours_to_strength(
    target, thickness, faces, diffusivity, bath_ratio, bath_strength, flesh_strength=0.0, width=np.inf
):
    """Hours in a bath until the mean salt of an even piece reaches a target, given piece and bath.

    Parameters:
        target : float or array – wanted mean salt [kg/kg water], allowed ≥ 0
        thickness : float or array – thickness of the piece [m], allowed above 0
        faces : int or array – open faces, 2, or 1 when the other is skin
        diffusivity : float or array – of salt in the flesh [m2/s], allowed 0–1e-6
        bath_ratio : float or array – bath water per flesh water [kg/kg], allowed above 0, inf for an unlimited bath
        bath_strength : float or array – salt of the bath at the start [kg/kg water], allowed ≥ 0
        flesh_strength : float or array – mean salt of the flesh at the start [kg/kg water], allowed ≥ 0
        width : float or array – width of a strip [m], allowed above 0, inf for a slab
    Returns: float or array – time [h]; 0 when already there or past it, inf when this bath can never do it
    Equation: strip_uptake(D t/L², D t/(width/2)²) = (target - r_flesh) / (r_equilibrium - r_flesh), by bisection
    Valid for: as strip_uptake
    Raises: ValueError when an input is impossible
    Source: crank_1975
    """
    depth, half_width = diffusion_depth(thickness, faces), checked_or_endless("width", width, 1e-6) / 2.0
    goal, start = checked("target", target, 0.0, 10.0), checked("flesh_strength", flesh_strength, 0.0, 10.0)
    change = equilibrium_ratio(bath_ratio, bath_strength, flesh_strength) - start
    part = np.divide(goal - start, change, out=np.full(np.broadcast(goal, change).shape, -1.0), where=change != 0.0)
    wanted = np.where(goal == start, 0.0, np.where(part < 0.0, 1.0, part))
    rate = checked("diffusivity", diffusivity, 0.0, 1e-6)
    bound = np.zeros(np.broadcast(wanted, depth, half_width, rate).shape)

    def surplus(exponent):
        fourier = 10.0**exponent
        return strip_uptake(fourier, fourier * (depth / half_width) ** 2, bath_ratio) - wanted

    with np.errstate(divide="ignore"):
        hours = 10.0 ** rising_root(surplus, bound - 12.0, bound + 2.0) * depth**2 / (rate * HOUR)
    return plain(np.where(wanted <= 0.0, 0.0, np.where(wanted >= 1.0, np.inf, hours)))


def evening_out_time(thickness, faces, diffusivity, remaining=0.1):
    """Time of rest out of the bath until the difference from face to centre has shrunk to a given part.

    Parameters:
        thickness : float or array – thickness of the piece [m], allowed above 0
        faces : int or array – faces that took up salt, 2, or 1 when the other is skin
        diffusivity : float or array – of salt in the flesh [m2/s], allowed 0–1e-6
        remaining : float or array – part of the difference that may be left [-], allowed 0–1, not 0
    Returns: float or array – time [s]
    Equation: t = -ln(remaining) L² / (π² D), the slowest mode of a slab with closed faces
    Valid for: slabs; a strip is faster
    Raises: ValueError when an input is impossible
    Source: crank_1975, plane sheet without flow through its faces
    Example:
        >>> f"{float(evening_out_time(thickness=0.01, faces=2, diffusivity=4e-10)):.3g}"  # check value evening_out_10mm
        '1.46e+04'
    """
    part = checked("remaining", remaining, 1e-12, 1.0)
    return plain(
        -np.log(part)
        * diffusion_depth(thickness, faces) ** 2
        / (np.pi**2 * checked("diffusivity", diffusivity, 0.0, 1e-6))
    )


# --- what the water and the solids do ---------------------------------------------------------------------------------


def water_held(strength_fraction, crossover=CROSSOVER, saturated_hold=SATURATED_HOLD, swelling=0.0, holding_factor=1.0):
    """Water that flesh holds once salted, per water at the start, given the water-phase salt it has reached.

    Parameters:
        strength_fraction : float or array – water-phase salt, salt/(salt + water) [kg/kg], allowed 0–0.30
        crossover : float or array – water-phase salt where the weight is back at the start [kg/kg], allowed 0.01–0.25
        saturated_hold : float or array – water held at saturation [kg/kg], allowed 0.3–1
        swelling : float or array – extra water at half the crossover [kg/kg], allowed 0–0.5
        holding_factor : float or array – times all that, where fish or laboratory differ; at a water-phase salt of
            0.10 and above, and less below in proportion [-], allowed 0.3–3
    Returns: float or array – water / water at the start [-]
    Equation: w = f^min(1, c/0.10) (1 - c + A c (1 - c/c0) + 4 s (c/c0)(1 - c/c0) below c0);
        A from w(saturation) = saturated_hold
    Valid for: signs only are published (gain up to 10 %, loss from 20 %); draw swelling from SWELLING_BAND
    Raises: ValueError when an input is impossible
    Source: own curve; duan_2008 and oh_1997 (signs), gudjonsdottir_2015 (saturated end)
    """
    c = checked("strength_fraction", strength_fraction, 0.0, 0.30)
    c0 = checked("crossover", crossover, 0.01, 0.25)
    end = checked("saturated_hold", saturated_hold, 0.3, 1.0)
    extra = checked("swelling", swelling, 0.0, 0.5)
    bend = (end - 1.0 + SATURATED_STRENGTH) / (SATURATED_STRENGTH * (1.0 - SATURATED_STRENGTH / c0))
    hump = np.maximum(0.0, (c / c0) * (1.0 - c / c0))
    factor = checked("holding_factor", holding_factor, 0.3, 3.0) ** np.minimum(1.0, c / SALTED_THROUGH)
    return plain(factor * (1.0 - c + bend * c * (1.0 - c / c0) + 4.0 * extra * hump))


def water_less_while_uneven(state, brine, **curve):
    """Water that flesh holds less than `water_held` of its mean says, while its rim is saltier than its middle.

    Parameters:
        state : SaltState – the piece in its brine
        brine : float or array – salt of the brine at the start [kg/kg], allowed 0–1
        curve : floats or arrays – as of `water_held`, one for each piece
    Returns: float or array – water / water at the start, never above 0 [-]
    Equation: ((mean of w(c) over the piece) - w(c of the mean)) × (how strong the brine is, 0–1), 0–1 over STRONG_BRINE
    Valid for: signs only are published; draw its size from RIM_BAND. So a piece loses first and regains as salt reaches its middle
    Raises: ValueError when an input is impossible
    Source: own; duan_2008, oh_1997 (loss), herring_brine_gain (gain)
    """
    weak, strong = STRONG_BRINE
    part = np.clip((checked("brine", brine, 0.0, 1.0) - weak) / (strong - weak), 0.0, 1.0)
    each = {name: np.asarray(value)[..., None, None] for name, value in curve.items()}

    def held(ratio, **how):
        ratio = np.maximum(ratio, 0.0)
        return water_held(np.minimum(ratio / (1.0 + ratio), 0.30), **how)

    uneven = state.mean_of(held(state.values, **each)) - held(state.mean, **curve)
    return plain(part * np.minimum(uneven, 0.0))


def solids_kept(strength_fraction, saturated_loss=SATURATED_LOSS):
    """Dry matter of the flesh that has not been leached, given the water-phase salt it has reached.

    Parameters:
        strength_fraction : float or array – water-phase salt, salt/(salt + water) [kg/kg], allowed 0–0.30
        saturated_loss : float or array – part leached at saturation [kg/kg], allowed 0–0.6
    Returns: float or array – solids / solids at the start [-]
    Equation: 1 - loss × min(1, c / c_saturated)
    Valid for: fillets 0.05–0.15 (judgement around gildberg_2009); small whole fish 0.30 (oh_1997)
    Raises: ValueError when an input is impossible
    Source: gildberg_2009; straight line by judgement
    """
    c = checked("strength_fraction", strength_fraction, 0.0, 0.30)
    loss = checked("saturated_loss", saturated_loss, 0.0, 0.6)
    return plain(1.0 - loss * np.minimum(1.0, c / SATURATED_STRENGTH))


def left_with_water(solute, water, water_after):
    """Solute left in flesh when water drips, cooks or is pressed out of it and takes its dissolved share along.

    Parameters:
        solute : float or array – dissolved in the flesh's water before [any], allowed 0 and above
        water : float or array – of the flesh before [kg], allowed above 0
        water_after : float or array – of the flesh after, in the unit of the former [kg], allowed 0 and above
    Returns: float or array – solute left [as it came]; never more than there was
    Equation: n = n0 min(1, W / W0)
    Valid for: juice as strong as the water that stays; drying takes no solute along
    Raises: ValueError when an input is impossible
    Source: mass balance
    """
    before = checked("water", water, 1e-12)
    return plain(checked("solute", solute) * np.minimum(1.0, checked("water_after", water_after) / before))
