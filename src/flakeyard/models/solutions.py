"""Brines and syrups: density, saturation, water activity and freezing point of salt, sugars and vinegar in water.

"Per cent" has four meanings in recipes: grams per 100 g of brine, per 100 g of water, per litre, and per cent of
saturation (the salometer). Here a solute is always `solute_fraction`, kg solute per kg solution, unless the name says
`molality` (mol per kg water). The formulas describe the liquid before fish goes in.
"""

import numpy as np

from flakeyard.models.constants import (
    ACETIC_MOLAR_MASS,
    HEXOSE_MOLAR_MASS,
    KELVIN,
    NACL_MOLAR_MASS,
    REFERENCE_KELVIN,
    SUCROSE_MOLAR_MASS,
    WATER_MOLAR_MASS,
)
from flakeyard.models.inputs import Numbers, Range, checked, rising_root

SALOMETER_FULL = 0.26395  # kg/kg, saturated brine at 60 °F is 100 degrees (salt_institute; salometer_manual)
NACL_EUTECTIC_FRACTION = 0.2331  # kg/kg at -21.1 °C (salt_institute)
SATURATED_WATER_ACTIVITY = 0.753  # over undissolved salt, 25 °C: 0.7529 phreeqc_pitzer, 0.7525 crc_humidity

# Apparent density of the solute in laliberte_2009: c0..c4, temperature in degC.
LALIBERTE_NACL = (-0.00324112223655149, 0.0636354335906616, 1.01371399467365, 0.0145951015210159, 3317.34854426537)
LALIBERTE_ACETIC = (647.289243971958, -1054.58226029586, -1.74610768626879, 0.000365566432763641, -822.999507010544)

# Temperature terms p0..p5 of the Pitzer parameters of NaCl (appelo_2015, as in the PHREEQC file pitzer.dat).
PITZER_BETA0 = (7.534e-2, 9598.4, 35.48, -5.8731e-2, 1.798e-5, -5e5)
PITZER_BETA1 = (0.2769, 1.377e4, 46.8, -6.9512e-2, 2e-5, -7.4823e5)
PITZER_C = (1.48e-3, -120.5, -0.2081, 0.0, 1.166e-7, 11121.0)
PITZER_B, PITZER_ALPHA = 1.2, 2.0  # pitzer_mayorga_1973, from memory
GREATEST_MOLALITY = 40.0  # mol/kg, upper end of the searches; far beyond any salt brine

# Rows: powers 0..4 of (t - 20)/100; in a row the powers 1.. of the sucrose fraction, kg/m3 (icumsa_density).
SUCROSE_DENSITY_TERMS = (
    (385.1761, 135.3705, 40.9299, -3.9643, 13.4853, -17.2890),
    (-46.2720, -7.1720, 1.1597, 5.1126, 17.5254),
    (59.7712, 7.2491, 12.3630, -35.4791),
    (-47.2207, -21.6977, 27.6301),
    (18.3184, 12.3081),
)
# Solubility of sucrose, kg/kg solution (sucrose_table); newer evaluations lie 0.003 to 0.005 lower (from memory).
SUCROSE_SATURATION_TABLE = ((0.0, 10.0, 20.0, 25.0, 40.0, 60.0), (0.6418, 0.6558, 0.6709, 0.6789, 0.7042, 0.7418))
NORRISH_SUCROSE = 6.47  # norrish_1966, value seen as a default in a public source file
NORRISH_HEXOSE = 2.25  # glucose and fructose, from memory

nacl_density_range = Range(
    "brine_density",
    {"solute_fraction": (0.0, 0.266, "kg/kg"), "temperature": (0.0, 60.0, "°C")},
    "1.1 kg/m3 against 120 tabulated and computed points",
    "crc_rogers_pitzer",
)
nacl_saturation_range = Range(
    "salt_solubility", {"temperature": (0.1, 60.0, "°C")}, "0.0006 kg/kg between three sources", "salt_institute"
)
nacl_water_activity_range = Range(
    "brine_activity",
    {"solute_fraction": (0.0, 0.2645, "kg/kg"), "temperature": (0.0, 60.0, "°C")},
    "0.0013 against five other equations, 0.009 at saturation",
    "phreeqc_pitzer",
)
freezing_point_range = Range("brine_freezing", {"solute_fraction": (0.0, 0.233, "kg/kg")}, "0.01 °C", "crc_freezing")
sucrose_density_range = Range(
    "syrup_density",
    {"solute_fraction": (0.0, 0.84, "kg/kg"), "temperature": (0.0, 60.0, "°C")},
    "0.9 kg/m3 against 42 tabulated points at 20 °C",
    "crc_sucrose",
)
sucrose_saturation_range = Range(
    "sugar_solubility", {"temperature": (0.0, 60.0, "°C")}, "0.005 kg/kg between evaluations", "sucrose_table"
)
sucrose_water_activity_range = Range(
    "syrup_activity",
    {"solute_fraction": (0.0, 0.68, "kg/kg"), "temperature": (15.0, 35.0, "°C")},
    "0.01 against coarse tables, 0.02 at saturation",
    "humectant_table",
)
mixture_water_activity_range = Range(
    "mixed_activity",
    {"salt": (0.0, 0.20, "kg per kg brine"), "sucrose": (0.0, 0.20, "kg per kg brine")},
    "no measured mixture was found; 0.017 above the other common mixing rule at 20 % of each, so on the cautious side",
    "ross_1975",
)


def molality_for(solute_fraction: Numbers, molar_mass: Numbers = NACL_MOLAR_MASS) -> Numbers:
    """Molality of a solution, given the solute's mass fraction.

    Parameters:
        solute_fraction : float or array – solute per solution [kg/kg], allowed 0–1, below 1
        molar_mass : float or array – of the solute, salt unless given [kg/mol], allowed above 0
    Returns: float or array – moles of solute per kg water [mol/kg]
    Equation: m = w / ((1 - w) M)
    Valid for: any solution
    Raises: ValueError when a fraction is not between 0 and 1
    Source: definition
    """
    fraction = checked("solute_fraction", solute_fraction, 0.0, 1.0 - 1e-9)
    return fraction / ((1.0 - fraction) * checked("molar_mass", molar_mass, 1e-3))


def fraction_for_molality(molality: Numbers, molar_mass: Numbers = NACL_MOLAR_MASS) -> Numbers:
    """Mass fraction of a solute, given its molality: the inverse of `molality_for`.

    Parameters:
        molality : float or array – moles of solute per kg water [mol/kg], allowed 0 and above
        molar_mass : float or array – of the solute, salt unless given [kg/mol], allowed above 0
    Returns: float or array – kg solute per kg solution [kg/kg]
    Equation: w = m M / (1 + m M)
    Valid for: any solution
    Raises: ValueError when the molality is negative
    Source: definition
    """
    ratio = checked("molality", molality) * checked("molar_mass", molar_mass, 1e-3)
    return ratio / (1.0 + ratio)


def water_density(temperature: Numbers) -> Numbers:
    """Density of pure water at atmospheric pressure.

    Parameters:
        temperature : float or array – of the water [degC], allowed -30–150
    Returns: float or array – density [kg/m3]
    Equation: fifth-degree polynomial in t over (1 + 0.01687985 t)
    Valid for: 0–100 degC; 0.02 kg/m3
    Raises: ValueError when the temperature is impossible
    Source: laliberte_2009, equation for water
    """
    t = checked("temperature", temperature, -30.0, 150.0)
    terms = (-2.8054253e-10, 1.0556302e-7, -4.6170461e-5, -0.0079870401, 16.945176, 999.83952)
    return np.polyval(terms, t) / (1.0 + 0.01687985 * t)


def _with_apparent_density(fraction, temperature, terms):
    """Density when one solute keeps the apparent density of laliberte_2009 in the water (volumes are added)."""
    c0, c1, c2, c3, c4 = terms
    t = checked("temperature", temperature, -30.0, 150.0)
    apparent = (c0 * fraction + c1) * np.exp(1e-6 * (t + c4) ** 2) / (fraction + c2 + c3 * t)
    return 1.0 / ((1.0 - fraction) / water_density(t) + fraction / apparent)


def nacl_density(solute_fraction: Numbers, temperature: Numbers) -> Numbers:
    """Density of salt brine, given its strength and temperature.

    Parameters:
        solute_fraction : float or array – salt per brine [kg/kg], allowed 0–1
        temperature : float or array – of the brine [degC], allowed -30–150
    Returns: float or array – density [kg/m3]
    Equation: 1/rho = (1-w)/rho_w + w/rho_a; rho_a = (c0 w + c1) exp(1e-6 (t + c4)²) / (w + c2 + c3 t)
    Valid for: 0–60 degC up to saturation; 0.1 % (`nacl_density_range`)
    Raises: ValueError when the fraction or temperature is impossible
    Source: laliberte_2009, coefficients of NaCl
    """
    return _with_apparent_density(checked("solute_fraction", solute_fraction, 0.0, 1.0), temperature, LALIBERTE_NACL)


def nacl_fraction_for_density(density: Numbers, temperature: Numbers = 20.0) -> Numbers:
    """Strength of plain salt brine, from the weight of a measured volume: the inverse of `nacl_density`.

    Parameters:
        density : float or array – mass of the brine over its volume [kg/m3], allowed that of water to that of 40 % salt
        temperature : float or array – of the brine [degC], allowed -30–150
    Returns: float or array – salt per brine [kg/kg]
    Equation: nacl_density(w, t) = rho, solved for w
    Valid for: salt and water alone (sugar passes for salt), up to saturation; 0.001 kg/kg for 0.1 % of density
    Raises: ValueError when the density is below water's or above that of 40 % salt
    Source: laliberte_2009
    """
    t = checked("temperature", temperature, -30.0, 150.0)
    lightest, heaviest = np.min(water_density(t)), np.max(nacl_density(0.4, t))
    target, t = np.broadcast_arrays(checked("density", density, float(lightest), float(heaviest)), t)
    return rising_root(lambda w: nacl_density(w, t) - target, np.zeros(target.shape), 0.4)


def nacl_saturation(temperature: Numbers) -> Numbers:
    """Strength of saturated salt brine, given its temperature.

    Parameters:
        temperature : float or array – of the brine [degC], allowed -30–150
    Returns: float or array – salt per brine [kg/kg]
    Equation: w = 0.2628 + 62.75e-6 t + 1.084e-6 t²
    Valid for: 0.1–60 degC (`nacl_saturation_range`); below 0.1 degC the solid is the dihydrate
    Raises: ValueError when the temperature is impossible
    Source: sparrow_2003
    """
    t = checked("temperature", temperature, -30.0, 150.0)
    return 0.2628 + 62.75e-6 * t + 1.084e-6 * t**2


def _pitzer_term(terms, kelvin):
    """Pitzer parameter at a temperature, from its six temperature terms."""
    p0, p1, p2, p3, p4, p5 = terms
    start = REFERENCE_KELVIN
    reciprocal = p1 * (1 / kelvin - 1 / start) + p5 * (1 / kelvin**2 - 1 / start**2)
    return p0 + reciprocal + p2 * np.log(kelvin / start) + p3 * (kelvin - start) + p4 * (kelvin**2 - start**2)


def nacl_osmotic_coefficient(molality: Numbers, temperature: Numbers = 25.0) -> Numbers:
    """Osmotic coefficient of salt brine: how far its water activity departs from that of an ideal solution.

    Parameters:
        molality : float or array – moles of salt per kg water [mol/kg], allowed 0 and above
        temperature : float or array – of the brine [degC], allowed -30–150
    Returns: float or array – osmotic coefficient [-]
    Equation: phi = 1 - A √m/(1 + 1.2 √m) + m (b0 + b1 exp(-2 √m)) + C m²
    Valid for: 0–6 mol/kg, 0–60 degC; 0.005
    Raises: ValueError when the molality is negative
    Source: pitzer_mayorga_1973 (form), appelo_2015 (b0, b1, C), steiger_2008 (A)
    """
    m = checked("molality", molality)
    kelvin = checked("temperature", temperature, -30.0, 150.0) + KELVIN
    debye = np.polyval((9.338559e-12, 0.0, -7.149397e-6, 5.251284e-3, -0.817653), kelvin)
    debye = debye - 0.8685276 / (kelvin - 222.0) + 19251.0 / kelvin**2
    root = np.sqrt(m)
    near = _pitzer_term(PITZER_BETA0, kelvin) + _pitzer_term(PITZER_BETA1, kelvin) * np.exp(-PITZER_ALPHA * root)
    return 1.0 - debye * root / (1.0 + PITZER_B * root) + m * near + _pitzer_term(PITZER_C, kelvin) * m**2


def nacl_log_activity(molality: Numbers, temperature: Numbers = 25.0) -> Numbers:
    """Minus the natural logarithm of the water activity of salt brine, a rising function of the molality.

    Parameters:
        molality : float or array – moles of salt per kg water [mol/kg], allowed 0 and above
        temperature : float or array – of the brine [degC], allowed -30–150
    Returns: float or array – -ln aw [-]
    Equation: -ln aw = 2 Mw m phi
    Valid for: as `nacl_osmotic_coefficient`
    Raises: ValueError when the molality is negative
    Source: pitzer_mayorga_1973, appelo_2015
    """
    return 2.0 * WATER_MOLAR_MASS * molality * nacl_osmotic_coefficient(molality, temperature)


def nacl_water_activity(solute_fraction: Numbers, temperature: Numbers = 25.0) -> Numbers:
    """Water activity of salt brine; more salt than dissolves leaves it at that of saturated brine.

    Parameters:
        solute_fraction : float or array – salt per brine [kg/kg], allowed 0–1
        temperature : float or array – of the brine [degC], allowed -30–150
    Returns: float or array – water activity [-]
    Equation: aw = exp(-2 Mw m phi), never below 0.753
    Valid for: up to saturation, 0–60 degC; 0.0013, at saturation 0.009 (`nacl_water_activity_range`)
    Raises: ValueError when the fraction is not between 0 and 1
    Source: pitzer_mayorga_1973, appelo_2015; floor phreeqc_pitzer
    """
    fraction = checked("solute_fraction", solute_fraction, 0.0, 1.0)
    molality = molality_for(np.minimum(fraction, 0.3))
    return np.maximum(np.exp(-nacl_log_activity(molality, temperature)), SATURATED_WATER_ACTIVITY)


def nacl_fraction_for(water_activity: Numbers, temperature: Numbers = 25.0) -> Numbers:
    """Strength of the salt brine that has a given water activity: the inverse of `nacl_water_activity`.

    Parameters:
        water_activity : float or array – wanted [-], allowed 0.753–1: salt alone cannot go lower
        temperature : float or array – of the brine [degC], allowed -30–150
    Returns: float or array – salt per brine [kg/kg]
    Equation: 2 Mw m phi(m) = -ln aw, solved for m
    Valid for: as `nacl_water_activity`
    Raises: ValueError when the water activity is below that of saturated brine or above 1
    Source: pitzer_mayorga_1973, appelo_2015
    """
    wanted = checked("water_activity", water_activity, SATURATED_WATER_ACTIVITY, 1.0)
    target, t = np.broadcast_arrays(-np.log(wanted), np.asarray(temperature, dtype=float))
    molality = rising_root(lambda m: nacl_log_activity(m, t) - target, np.zeros(target.shape), 8.0)
    return fraction_for_molality(molality)


def freezing_point(solute_fraction: Numbers) -> Numbers:
    """Temperature at which ice begins to form in salt brine.

    Parameters:
        solute_fraction : float or array – salt per brine [kg/kg], allowed 0–0.27
    Returns: float or array – temperature [degC]
    Equation: quartic in 100 w through the ice line
    Valid for: 0–23.3 % (`freezing_point_range`), beyond it salt falls out first; 0.01 degC
    Raises: ValueError when the fraction is impossible
    Source: coolprop_mna, fitted here (worst 0.0005 degC)
    """
    percent = 100.0 * checked("solute_fraction", solute_fraction, 0.0, 0.27)
    return np.polyval((2.29692378e-6, -6.05589278e-4, -1.90054974e-4, -0.595154184, 0.0), percent)


def salometer(solute_fraction: Numbers) -> Numbers:
    """Salometer degrees of plain salt brine at 60 °F (15.56 °C): per cent of saturation.

    Parameters:
        solute_fraction : float or array – salt per brine [kg/kg], allowed 0–1
    Returns: float or array – degrees [-]
    Equation: degrees = 100 w / 0.26395
    Valid for: salt alone (sugar lifts a hydrometer too); scales with 100 degrees = 25 % exist
    Raises: ValueError when the fraction is not between 0 and 1
    Source: salometer_manual, salt_institute
    Example:
        >>> f"{float(salometer(solute_fraction=0.158)):.3g}"  # check value salometer_60
        '59.9'
    """
    return 100.0 * checked("solute_fraction", solute_fraction, 0.0, 1.0) / SALOMETER_FULL


def fraction_for_salometer(degrees: Numbers) -> Numbers:
    """Strength of plain salt brine from its salometer degrees at 60 °F: the inverse of `salometer`.

    Parameters:
        degrees : float or array – salometer degrees [-], allowed 0–378
    Returns: float or array – salt per brine [kg/kg]
    Equation: w = 0.26395 degrees / 100
    Valid for: salt alone, up to 100 degrees
    Raises: ValueError when the degrees are negative or mean more than pure salt
    Source: salometer_manual, salt_institute
    """
    return SALOMETER_FULL * checked("degrees", degrees, 0.0, 100.0 / SALOMETER_FULL) / 100.0


def sucrose_density(solute_fraction: Numbers, temperature: Numbers) -> Numbers:
    """Density of sugar syrup, given its strength and temperature.

    Parameters:
        solute_fraction : float or array – sugar per syrup [kg/kg], allowed 0–1
        temperature : float or array – of the syrup [degC], allowed -30–150
    Returns: float or array – density [kg/m3]
    Equation: rho = rho_w + Σ_i tau^i Σ_k B_ik w^k, tau = (t - 20)/100
    Valid for: 0–84 % (`sucrose_density_range`); 0.9 kg/m3
    Raises: ValueError when the fraction or temperature is impossible
    Source: icumsa_density
    """
    w = checked("solute_fraction", solute_fraction, 0.0, 1.0)
    t = checked("temperature", temperature, -30.0, 150.0)
    rows = [np.polyval((*row[::-1], 0.0), w) for row in SUCROSE_DENSITY_TERMS]
    tau = (t - 20.0) / 100.0
    return water_density(t) + sum(tau**power * row for power, row in enumerate(rows))


def sucrose_saturation(temperature: Numbers) -> Numbers:
    """Strength of saturated sugar syrup, given its temperature.

    Parameters:
        temperature : float or array – of the syrup [degC], allowed -30–150
    Returns: float or array – sugar per syrup [kg/kg]
    Equation: straight lines between six tabulated values; the end values outside 0–60 degC
    Valid for: 0–60 degC (`sucrose_saturation_range`); 0.005
    Raises: ValueError when the temperature is impossible
    Source: sucrose_table
    """
    return np.interp(checked("temperature", temperature, -30.0, 150.0), *SUCROSE_SATURATION_TABLE)


def _norrish(fraction, molar_mass, factor):
    """Water activity of one non-electrolyte by norrish_1966: aw = (1 - x) exp(-K x²), x its mole fraction."""
    moles, water_moles = fraction / molar_mass, (1.0 - fraction) / WATER_MOLAR_MASS
    mole_fraction = moles / (moles + water_moles)
    return (1.0 - mole_fraction) * np.exp(-factor * mole_fraction**2)


def sucrose_water_activity(solute_fraction: Numbers, temperature: Numbers = 25.0) -> Numbers:
    """Water activity of table sugar syrup.

    Parameters:
        solute_fraction : float or array – sugar per syrup [kg/kg], allowed 0–1
        temperature : float or array – of the syrup; has no effect here, checked only [degC], allowed -30–150
    Returns: float or array – water activity [-]
    Equation: aw = (1 - x) exp(-6.47 x²), x mole fraction of sucrose
    Valid for: 0–68 %, 15–35 degC (`sucrose_water_activity_range`); 0.01, at saturation 0.02
    Raises: ValueError when the fraction is not between 0 and 1
    Source: norrish_1966
    """
    fraction = checked("solute_fraction", solute_fraction, 0.0, 1.0)
    return _norrish(fraction, SUCROSE_MOLAR_MASS, NORRISH_SUCROSE) + 0.0 * checked("temperature", temperature, -30, 150)


def hexose_water_activity(solute_fraction: Numbers, temperature: Numbers = 25.0) -> Numbers:
    """Water activity of a syrup of simple sugars (glucose, fructose: honey, inverted sugar).

    Parameters:
        solute_fraction : float or array – sugar per syrup [kg/kg], allowed 0–1
        temperature : float or array – of the syrup; has no effect here, checked only [degC], allowed -30–150
    Returns: float or array – water activity [-]
    Equation: aw = (1 - x) exp(-2.25 x²), x mole fraction of hexose
    Valid for: 0–85 %, 15–35 degC; up to 0.04 high for honey
    Raises: ValueError when the fraction is not between 0 and 1
    Source: norrish_1966
    """
    fraction = checked("solute_fraction", solute_fraction, 0.0, 1.0)
    return _norrish(fraction, HEXOSE_MOLAR_MASS, NORRISH_HEXOSE) + 0.0 * checked("temperature", temperature, -30, 150)


def acetic_density(solute_fraction: Numbers, temperature: Numbers) -> Numbers:
    """Density of vinegar, taken as acetic acid in water.

    Parameters:
        solute_fraction : float or array – acetic acid per vinegar [kg/kg], allowed 0–1
        temperature : float or array – of the vinegar [degC], allowed -30–150
    Returns: float or array – density [kg/m3]
    Equation: as `nacl_density` with the coefficients of acetic acid
    Valid for: vinegars up to 10 %; 1 kg/m3 (judgement)
    Raises: ValueError when the fraction or temperature is impossible
    Source: laliberte_2009, coefficients of acetic acid
    """
    return _with_apparent_density(checked("solute_fraction", solute_fraction, 0.0, 1.0), temperature, LALIBERTE_ACETIC)


def acetic_water_activity(solute_fraction: Numbers) -> Numbers:
    """Water activity of vinegar: acid in water, taken as ideal. Vinegar does not preserve by its water activity.

    Parameters:
        solute_fraction : float or array – acetic acid per vinegar [kg/kg], allowed 0–1
    Returns: float or array – water activity [-]
    Equation: aw = 1 - x, x mole fraction of acetic acid
    Valid for: vinegars up to 10 %; 0.002 (judgement)
    Raises: ValueError when the fraction is not between 0 and 1
    Source: ideal solution
    """
    return _norrish(checked("solute_fraction", solute_fraction, 0.0, 1.0), ACETIC_MOLAR_MASS, 0.0)


def mixture_density(
    water: Numbers,
    salt: Numbers = 0.0,
    sucrose: Numbers = 0.0,
    hexose: Numbers = 0.0,
    acetic_acid: Numbers = 0.0,
    temperature: Numbers = 20.0,
) -> Numbers:
    """Density of a mixed brine: each solute takes the room it takes alone in the same water.

    Parameters:
        water : float or array – mass, in one unit with the solutes [kg], allowed above 0
        salt : float or array – mass, dissolved [kg], allowed 0 and above
        sucrose : float or array – mass of table sugar [kg], allowed 0 and above
        hexose : float or array – mass of simple sugars, given the room of sucrose [kg], allowed 0 and above
        acetic_acid : float or array – mass [kg], allowed 0 and above
        temperature : float or array – of the brine [degC], allowed -30–150
    Returns: float or array – density [kg/m3]
    Equation: V = V_water + Σ (V_solution,i - V_water); rho = total mass / V
    Valid for: kitchen brines; an excess volume of the mixture is left out, 0.5 % (judgement)
    Raises: ValueError when a mass is negative or there is no water
    Source: laliberte_2009 (rule of added volumes), icumsa_density
    """
    water = checked("water", water, 1e-12)
    plain = water / water_density(temperature)
    solutes = (
        (checked("salt", salt), nacl_density),
        (checked("sucrose", sucrose) + checked("hexose", hexose), sucrose_density),
        (checked("acetic_acid", acetic_acid), acetic_density),
    )
    volume, mass = plain, water
    for solute, density in solutes:
        solution = water + solute
        volume = volume + solution / density(solute / solution, temperature) - plain
        mass = mass + solute
    return mass / volume


def mixture_water_activity(
    water: Numbers,
    salt: Numbers = 0.0,
    sucrose: Numbers = 0.0,
    hexose: Numbers = 0.0,
    acetic_acid: Numbers = 0.0,
    temperature: Numbers = 25.0,
) -> Numbers:
    """Water activity of a mixed brine: the product of what each solute would give alone in all the water.

    Parameters:
        water : float or array – mass, in one unit with the solutes [kg], allowed above 0
        salt : float or array – mass, undissolved salt included [kg], allowed 0 and above
        sucrose : float or array – mass of table sugar [kg], allowed 0 and above
        hexose : float or array – mass of simple sugars [kg], allowed 0 and above
        acetic_acid : float or array – mass [kg], allowed 0 and above
        temperature : float or array – of the brine [degC], allowed -30–150
    Returns: float or array – water activity [-]
    Equation: aw = Π aw_i
    Valid for: kitchen brines (`mixture_water_activity_range`); the cautious (higher) one of two common rules
    Raises: ValueError when a mass is negative or there is no water
    Source: ross_1975
    """
    water = checked("water", water, 1e-12)
    salt, sucrose, hexose = checked("salt", salt), checked("sucrose", sucrose), checked("hexose", hexose)
    acid = checked("acetic_acid", acetic_acid)
    sugars = sucrose_water_activity(sucrose / (sucrose + water)) * hexose_water_activity(hexose / (hexose + water))
    vinegar = acetic_water_activity(acid / (acid + water))
    return nacl_water_activity(salt / (salt + water), temperature) * sugars * vinegar


def syrup_fraction_for_density(density: Numbers, temperature: Numbers = 20.0) -> Numbers:
    """Sugar in a syrup of unknown strength, from the weight of a measured volume: the inverse of `sucrose_density`.

    Parameters:
        density : float or array – mass of the syrup over its volume [kg/m3], allowed that of water to that of sugar
        temperature : float or array – of the syrup [degC], allowed -30–150
    Returns: float or array – sugar per syrup [kg/kg]
    Equation: sucrose_density(w, t) = rho, solved for w
    Valid for: syrups of sugar and water alone; a cup misread by 3 % means a fraction wrong by 0.08
    Raises: ValueError when the density is below water's or above that of pure sugar
    Source: icumsa_density
    Example:
        >>> f"{float(syrup_fraction_for_density(density=1176.5)):.4g}"  # check value syrup_by_weight_40pct
        '0.4'
    """
    t = checked("temperature", temperature, -30.0, 150.0)
    lightest, heaviest = np.min(water_density(t)), np.max(sucrose_density(1.0, t))
    target, t = np.broadcast_arrays(checked("density", density, float(lightest), float(heaviest)), t)
    return rising_root(lambda w: sucrose_density(w, t) - target, np.zeros(target.shape), 1.0)
