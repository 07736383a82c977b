"""Water activity of fish flesh from its water, salt, fat and temperature, and the way back.

Water in flesh is held in two ways, and the additive rule gives each holder its own share at one common water activity:

* protein water, by a GAB curve on the fat-free, salt-free dry matter (fat holds none);
* salt water, as much as makes a brine of that water activity. At 0.753 dissolved and solid salt are there together
  and the flesh stays at 0.753 however much it dries (the plateau); below it salt is crystalline and holds no water.

Below the plateau more salt therefore buys nothing. The additive rule is the estimate; for a verdict
`water_activity_cautious` takes the higher of it and of the product rule, plus a margin.

How the rule was chosen. The product rule (protein water activity times that of the salt in all the water) says the
other extreme: no water is kept from the salt. Bias and rms of the middle against what was measured on fish, five
moist pieces (tilapia in two brines, anchovy in two, smoked salmon) and six others with one or more inputs not told:

    rule                                     moist: bias, rms     others: bias, rms
    additive                                -0.011   0.013        -0.003   0.043
    product                                 +0.002   0.005        +0.012   0.042
    brine alone, no protein                 +0.004   0.005        +0.034   0.042
    between, by water / (water + solids)    -0.001   0.006        +0.006   0.044
    higher of additive and product          +0.002   0.005        +0.014   0.042
    additive to higher, drawn evenly        -0.005   0.008        +0.005   0.042

In moist flesh the product is nearer; in dry salty flesh it misses the read step of salted meat at 0.75
(meat_salt_isotherm) and gives 0.1 less at 16 % moisture and 4 % salt. So the product is heeded only where it is the higher, and how far is
left open: `mixing` from 0 (additive) to 1 (the higher), drawn over `MIXING_BAND`. The moist pieces chose that; the
others neither favour nor refute it.

How the curve was chosen. No table of measured points for fish could be read, so five forms were put through the same
two anchors (`ANCHORS`) and asked for what else was read. kg water per kg fat-free salt-free dry matter at 25 °C:

    water activity            0.25   0.60   0.75   0.85   0.90   0.95   0.99   at 0.14 kg/kg   at 4.0 kg/kg
    GAB 0.060, 12, 0.990      0.064  0.140  0.226  0.373  0.545  1.00   3.01   0.600           0.995
    Oswin 0.0999, 0.755       0.044  0.136  0.229  0.370  0.525  0.92   3.21   0.610           0.993
    Halsey 0.0775, 0.863      0.058  0.138  0.227  0.372  0.541  1.01   4.11   0.604           0.990
    Peleg (third, fourth
    point: 0.3, 0.992)        0.054  0.151  0.210  0.401  0.784  1.84   3.85   0.563           0.992
    Henderson                 0.025  0.129  0.233  0.365  0.481  0.70   1.29   0.620           1.000
    read                                                                       0.60 shrimp     0.99 raw salmon
                                                                               (shrimp_isotherm) (salmon_table)

GAB, Oswin and Halsey agree within 0.013 in water activity from 0.6 up: the form hardly matters, the anchors do, and
those are rules of thumb. GAB also has the read monolayer of sardine (0.0494 per dry matter, 0.055 fat-free), meets the
shrimp point, is the form measurements of raw pork, fresh beef, lean beef and pork liver chose over two to four others
(pork_isotherm, beef_isotherm, lean_beef_isotherm, liver_isotherm; sardine up to 0.75 chose Oswin), and turns round in
closed form. Washed fish protein holds less above 0.8: near 0.85 the estimate may be 0.03 to 0.05 too low, which is
what `PROTEIN_FACTOR_LN_SD` and `GAB_K_RANGE` carry into every verdict.
"""

from dataclasses import dataclass

import numpy as np

from flakeyard.models import solutions
from flakeyard.models.constants import GAS_CONSTANT, KELVIN, REFERENCE_KELVIN
from flakeyard.models.inputs import Numbers, Range, checked, rising_root

# Common practice for unsalted dried fish (anchovy_drying, read): at these water fractions bacteria and moulds stop.
# The water activities beside them are judgement, about where such organisms stop. The curve was picked to meet both
# within 0.01, so they are no test of it.
ANCHORS = ((0.25, 0.84, "bacteria stop"), (0.15, 0.69, "moulds stop"))
GAB_MONOLAYER = 0.060  # kg/kg fat-free salt-free: 0.055 read (sardine_isotherm); spread 0.050–0.075, judgement
GAB_C = 12.0  # from memory, usual for muscle proteins; hardly matters above 0.4; spread 6–20
GAB_K = 0.990  # meets the anchors and raw flesh at 0.99 (salmon_table)
GAB_K_RANGE = (0.96, 0.995)  # judgement; decides above 0.85
PROTEIN_FACTOR_LN_SD = 0.22  # judgement: spread of the monolayer, and 0.03–0.05 in water activity near 0.85 as one sd
# J/mol of net heat per unit of -ln(aw). Read net heats give 4.6 and 6.0 (sardine_isotherm), 5.7 and 8.9
# (crayfish_isotherm), 5.0 and 5.8 kJ/mol (hairtail_isotherm) at their two ends each, a steadier number than the heat.
BINDING_ENERGY = 5500.0
PLATEAU = solutions.SATURATED_WATER_ACTIVITY
MIXING_BAND = (0.0, 1.0)  # judgement: from the additive rule to the higher of both, see above
NEARLY = 0.02  # below the plateau by this much, brine alters the water activity by less than 1e-6
CAUTION_MARGIN = 0.03  # judgement: the product and additive rules differ by up to this in moist flesh

water_activity_range = Range(
    "water activity of flesh",
    {"water_activity": (0.05, 0.995, ""), "temperature": (5.0, 70.0, "°C")},
    "0.03 to 0.05 near 0.85; the salted curve is argued from physics and spot-checked, not validated",
    "sardine_isotherm",
)
LEAST_WET = 1.0 - 1.1 * (1.0 - PLATEAU) + 1e-9  # the search above the plateau goes no lower


def _fit_salt_water():
    """Cubic in √(1 - aw) for (1 - aw) / (molar mass x molality) of NaCl brine at 25 °C; off by 2e-5 in aw at most."""
    molality = np.linspace(0.02, 7.2, 400)
    dryness = -np.expm1(-solutions.nacl_log_activity(molality))
    return np.polyfit(np.sqrt(dryness), dryness / (solutions.NACL_MOLAR_MASS * molality), 3, w=molality)[::-1]


SALT_WATER = tuple(float(term) for term in _fit_salt_water())
SALT_LINE = (0.548, 0.60)  # the same by a straight line in 1 - aw, off by 0.003 in aw: only starts the search


def _salt_water(dryness):
    """Water in brine per kg salt times the dryness 1 - aw, and minus the derivative of that water by the dryness."""
    s0, s1, s2, s3 = SALT_WATER
    root = np.sqrt(dryness)
    scaled = s0 + root * (s1 + root * (s2 + root * s3))
    bend = 0.5 * root * (s1 + root * (2.0 * s2 + root * (3.0 * s3)))
    return scaled, (scaled - bend) / (dryness * dryness)


def _exponent(temperature):
    """Power p in b = aw^p, where b is the water activity the same protein water has at 25 °C."""
    warmth = 1.0 / REFERENCE_KELVIN - 1.0 / (temperature + KELVIN)
    return 1.0 / (1.0 - (BINDING_ENERGY / GAS_CONSTANT) * warmth)


def _softly_least(first, second, softness):
    """The lesser of two, its corner rounded over `softness`, and the weight that the first has in it."""
    gap = first - second
    corner = np.sqrt(gap * gap + softness * softness)
    return 0.5 * (first + second - corner), 0.5 - 0.5 * gap / (corner + 1e-300)


@dataclass(frozen=True)
class Isotherm:
    """Water activity of an ensemble of pieces against their moisture, quick enough for the inside of a solver.

    Moisture is kg water per kg fat-free salt-free solids, called x_ff; members lie on the first axis; nothing is
    checked. `softness` rounds both corners of the plateau: the water activity is off by half of it there, and by less
    everywhere else, when salt is present. `turns` Newton steps are taken above the plateau: one leaves an error of
    1e-4, two 1e-7, three none.
    """

    salt_ratio: np.ndarray
    protein_factor: np.ndarray
    gab_k: np.ndarray
    softness: float
    turns: int
    salted: bool
    mixed: bool

    def protein_water(self, activity, exponent=1.0):
        """Water the protein holds, and its derivative by the water activity."""
        b = self.gab_k * activity**exponent
        many = (GAB_C - 1.0) * b
        room = (1.0 - b) * (1.0 + many)
        held = self.protein_factor * ((GAB_MONOLAYER * GAB_C) * b / room)
        return held, held * exponent * (1.0 + many * b) / (room * activity)

    def protein_activity(self, x_ff, exponent=1.0):
        """Water activity when the protein holds all the water: `protein_water` turned round."""
        x = x_ff / self.protein_factor
        linear = GAB_MONOLAYER * GAB_C - (GAB_C - 2.0) * x
        b = (x + x) / (linear + np.sqrt(linear * linear + (4.0 * (GAB_C - 1.0)) * (x * x)))
        return np.minimum(b / self.gab_k, 1.0) ** (1.0 / exponent)

    def _first_dryness(self, x, exponent):
        """Dryness 1 - aw above the plateau to 0.003, by a quadratic: both holdings go nearly as one over it."""
        fixed, rising = SALT_LINE
        gap, pull = 1.0 - self.gab_k, self.gab_k * exponent
        free = np.maximum(x - self.salt_ratio * rising, 0.02 * x)
        salt = self.salt_ratio * fixed
        half = 0.5 * (gap * free - self.protein_factor * GAB_MONOLAYER - salt * pull)
        square = pull * free
        dryness = (np.sqrt(half * half + square * salt * gap) - half) / square
        return np.minimum(np.maximum(dryness, 1e-7), 1.0 - PLATEAU)

    def _above_plateau(self, x, exponent):
        """Water activity that shares all the water out, and the rise by it of protein water and of all water."""
        dryness = self._first_dryness(x, exponent)
        for _ in range(self.turns):
            held, protein_rise = self.protein_water(1.0 - dryness, exponent)
            scaled, salt_rise = _salt_water(dryness)
            rise = protein_rise + self.salt_ratio * salt_rise
            step = (held + self.salt_ratio * scaled / dryness - x) / rise
            dryness = np.minimum(np.maximum(dryness + step, 1e-7), 1.1 * (1.0 - PLATEAU))
        return 1.0 - dryness, protein_rise, rise

    def water_activity(self, x_ff, temperature):
        """Water activity, given the moisture and the temperature [degC]."""
        exponent = _exponent(temperature)
        x = np.maximum(x_ff, 1e-9)
        dry = self.protein_activity(x, exponent)
        if not self.salted:
            return dry
        upper = PLATEAU
        if (
            not dry.max() <= PLATEAU - NEARLY
        ):  # else no member has brine, and the search above the plateau can be left out
            upper = -_softly_least(-self._above_plateau(x, exponent)[0], -PLATEAU, self.softness)[0]
        activity = _softly_least(dry, upper, self.softness)[0]
        return np.where(self.salt_ratio > 0.0, activity, dry) if self.mixed else activity

    def state(self, x_ff, temperature):
        """Water activity, its derivative by moisture, and the net heat of sorption [J/mol], as `water_activity`."""
        exponent = _exponent(temperature)
        x = np.maximum(x_ff, 1e-9)
        dry = self.protein_activity(x, exponent)
        dry_slope = np.where(dry < 1.0, 1.0 / self.protein_water(dry, exponent)[1], 0.0)
        dry_heat = -BINDING_ENERGY * exponent * np.log(dry)
        if not self.salted:
            return dry, dry_slope, dry_heat
        wet, protein_rise, rise = self._above_plateau(x, exponent)
        upper, level = _softly_least(-wet, -PLATEAU, self.softness)
        level = np.where(wet <= LEAST_WET, 0.0, level)  # the search was held there, so it does not follow the moisture
        activity, share = _softly_least(dry, -upper, self.softness)
        wet_heat = -BINDING_ENERGY * exponent * np.log(wet) * protein_rise / rise
        slope = share * dry_slope + (1.0 - share) * level / rise
        heat = share * dry_heat + (1.0 - share) * level * wet_heat
        salted = self.salt_ratio > 0.0
        results = ((activity, dry), (slope, dry_slope), (heat, dry_heat))
        return tuple(np.where(salted, with_salt, without) for with_salt, without in results)


def isotherm(
    salt_ratio: Numbers,
    protein_factor: Numbers = 1.0,
    gab_k: Numbers = GAB_K,
    softness: float = 0.001,
    turns: int = 1,
) -> Isotherm:
    """Prepare the isotherms of an ensemble of pieces, to be asked `.water_activity(x_ff, temperature)` again and again.

    Parameters:
        salt_ratio : float or array – salt per fat-free salt-free solids [kg/kg], allowed 0 and above
        protein_factor : float or array – times the water the middle curve gives the protein [-], allowed 0.05–20
        gab_k : float or array – K of the GAB curve [-], allowed 0.5–0.9999
        softness : float – rounding of the plateau's corners in water activity [-], allowed 0–0.05
        turns : int – Newton steps above the plateau [-], allowed 1 and above
    Returns: Isotherm – its methods take kg water per kg fat-free salt-free solids and degC
    Equation: as `water_activity`
    Valid for: as `water_activity`
    Raises: ValueError when an input is impossible
    Source: as `water_activity`
    """
    ratio = checked("salt_ratio", salt_ratio)
    factor = checked("protein_factor", protein_factor, 0.05, 20.0)
    steepness = checked("gab_k", gab_k, 0.5, 0.9999)
    rounding = float(checked("softness", softness, 0.0, 0.05))
    salted = ratio > 0.0
    some, every = bool(np.any(salted)), bool(np.all(salted))
    return Isotherm(ratio, factor, steepness, rounding, int(checked("turns", turns, 1)), some, some and not every)


def _sugar_water(activity):
    """Water per kg sucrose in a syrup of a water activity, kg/kg; also where sucrose would not stay dissolved."""
    fraction = np.linspace(1e-4, 0.999, 2000)
    held = np.log((1.0 - fraction) / fraction)
    return np.exp(np.interp(-activity, -solutions.sucrose_water_activity(fraction), held))


def _per_solids(water, salt, fat, solids, sugar):
    """The inputs checked, and water, salt and sugar per kg fat-free salt-free solids (as good as none allowed)."""
    water, salt, sugar = checked("water", water), checked("salt", salt), checked("sugar", sugar)
    fat, solids = checked("fat", fat), checked("solids", solids)
    total = water + salt + sugar + fat + solids
    if np.any(total <= 0.0):
        raise ValueError("water, salt, fat, solids and sugar are all 0: allowed is a piece that weighs something")
    solids = np.maximum(solids, 1e-9 * total)
    return water / solids, salt / solids, sugar / solids


def _water_held(curve, activity, sugar_ratio, exponent, above):
    """All water held at a water activity per kg solids; salt holds some only where `above` is true."""
    dryness = np.maximum(1.0 - activity, 1e-9)
    salt = np.where(above, curve.salt_ratio * _salt_water(dryness)[0] / dryness, 0.0)
    return curve.protein_water(activity, exponent)[0] + salt + sugar_ratio * _sugar_water(activity)


def water_activity(
    water: Numbers,
    salt: Numbers,
    fat: Numbers,
    solids: Numbers,
    temperature: Numbers = 25.0,
    sugar: Numbers = 0.0,
    *,
    protein_factor: Numbers = 1.0,
    gab_k: Numbers = GAB_K,
    mixing: Numbers = 0.0,
) -> Numbers:
    """Estimate the water activity of flesh from what it is made of: the additive rule, no margin.

    Parameters:
        water : float or array – mass, in one unit with the others [kg], allowed 0 and above
        salt : float or array – mass, dissolved or not [kg], allowed 0 and above
        fat : float or array – mass; holds no water [kg], allowed 0 and above
        solids : float or array – fat-free, salt-free, sugar-free dry matter [kg], allowed 0 and above
        temperature : float or array – of the flesh [degC], allowed -30–150
        sugar : float or array – mass of table sugar [kg], allowed 0 and above
        protein_factor : float or array – times the water the middle curve gives the protein [-], allowed 0.05–20
        gab_k : float or array – K of the GAB curve [-], allowed 0.5–0.9999
        mixing : float or array – 0 the additive rule, 1 the higher of it and the product rule [-], allowed 0–1
    Returns: float or array – water activity [-]
    Equation: X = f Xm C K b / ((1-Kb)(1-Kb+CKb)) + S / (M m(aw)), the last above 0.753 only; b = aw^p,
        1/p = 1 - (q/R)(1/298.15 - 1/T); then aw + mixing max(0, product - aw)
    Valid for: lean and fatty fish, 5–70 degC (`water_activity_range`); 0.03 to 0.05; brine always as at 25 degC
    Raises: ValueError when an input is impossible
    Source: sardine_isotherm, anchovy_drying (protein), appelo_2015 (salt), norrish_1966 (sugar), ross_1975 (product)
    """
    share = checked("mixing", mixing, 0.0, 1.0)
    kinds = {"protein_factor": protein_factor, "gab_k": gab_k}
    additive = _additive(water, salt, fat, solids, temperature, sugar, **kinds)
    if not np.any(share > 0.0):
        return additive
    product = _product(water, salt, fat, solids, temperature, sugar, **kinds)
    return (additive + share * np.maximum(product - additive, 0.0))[()]


def _additive(water, salt, fat, solids, temperature, sugar, protein_factor, gab_k):
    """Water activity at which protein, salt and sugar together hold all the water."""
    x, salt_ratio, sugar_ratio = _per_solids(water, salt, fat, solids, sugar)
    exponent = _exponent(checked("temperature", temperature, -30.0, 150.0))
    curve = isotherm(salt_ratio, protein_factor, gab_k, softness=0.0, turns=4)
    if not np.any(sugar_ratio > 0.0):
        return curve.water_activity(x, temperature)[()]

    def excess(activity):
        return _water_held(curve, activity, sugar_ratio, exponent, activity >= PLATEAU) - x

    shape = np.broadcast_shapes(np.shape(excess(0.5)))
    return rising_root(excess, np.full(shape, 1e-6), 1.0)


def _product(water, salt, fat, solids, temperature, sugar, **kinds):
    """Water activity of the protein with all the water, times those of the salt and of the sugar with all of it."""
    ballast = np.add(fat, salt) + np.asarray(sugar, float)
    alone = _additive(water, 0.0, ballast, solids, temperature, 0.0, **kinds)
    brine = solutions.nacl_water_activity(salt / np.maximum(np.add(salt, water), 1e-300))
    syrup = solutions.sucrose_water_activity(sugar / np.maximum(np.add(sugar, water), 1e-300))
    return alone * brine * syrup


def water_for(
    water_activity: Numbers,
    salt: Numbers,
    fat: Numbers,
    solids: Numbers,
    temperature: Numbers = 25.0,
    *,
    protein_factor: Numbers = 1.0,
    gab_k: Numbers = GAB_K,
) -> Numbers:
    """Find the water that flesh holds at a water activity: the inverse of `water_activity`.

    Parameters:
        water_activity : float or array – wanted [-], allowed 0–1
        salt : float or array – mass, in one unit with the others [kg], allowed 0 and above
        fat : float or array – mass; holds no water [kg], allowed 0 and above
        solids : float or array – fat-free, salt-free, sugar-free dry matter [kg], allowed 0 and above
        temperature : float or array – of the flesh [degC], allowed -30–150
        protein_factor : float or array – times the water the middle curve gives the protein [-], allowed 0.05–20
        gab_k : float or array – K of the GAB curve [-], allowed 0.5–0.9999
    Returns: float or array – mass of water, in the unit of the others [kg]; on the plateau (0.753, salted) the least
    Equation: as `water_activity`
    Valid for: as `water_activity`, which see
    Raises: ValueError when an input is impossible
    Source: as `water_activity`
    """
    wanted = checked("water_activity", water_activity, 0.0, 1.0)
    masses = checked("salt", salt), checked("fat", fat), checked("solids", solids)
    _, salt_ratio, _ = _per_solids(0.0, *masses, 0.0)
    exponent = _exponent(checked("temperature", temperature, -30.0, 150.0))
    curve = isotherm(salt_ratio, protein_factor, gab_k)
    held = _water_held(curve, np.maximum(wanted, 1e-12), 0.0, exponent, wanted > PLATEAU)
    return (held * np.maximum(masses[2], 1e-9 * sum(masses)))[()]


def water_activity_cautious(
    water: Numbers,
    salt: Numbers,
    fat: Numbers,
    solids: Numbers,
    temperature: Numbers = 25.0,
    *,
    protein_factor: Numbers = 1.0,
    gab_k: Numbers = GAB_K,
    margin: float = CAUTION_MARGIN,
) -> Numbers:
    """Give the water activity to judge by: the higher of two mixing rules plus a margin; sugar is never counted on.

    Parameters:
        water : float or array – mass, in one unit with the others [kg], allowed 0 and above
        salt : float or array – mass, dissolved or not [kg], allowed 0 and above
        fat : float or array – mass; holds no water [kg], allowed 0 and above
        solids : float or array – fat-free, salt-free, sugar-free dry matter [kg], allowed 0 and above
        temperature : float or array – of the flesh [degC], allowed -30–150
        protein_factor : float or array – times the water the middle curve gives the protein [-], allowed 0.05–20
        gab_k : float or array – K of the GAB curve [-], allowed 0.5–0.9999
        margin : float – added for what neither rule knows [-], allowed 0–0.5
    Returns: float or array – water activity, at most 1 [-]
    Equation: min(1, max(additive, protein alone x brine alone) + margin)
    Valid for: as `water_activity`; certifies nothing, a meter or a laboratory does better
    Raises: ValueError when an input is impossible
    Source: as `water_activity`; product rule ross_1975
    """
    kinds = {"protein_factor": protein_factor, "gab_k": gab_k}
    additive = water_activity(water, salt, fat, solids, temperature, **kinds)
    product = _product(water, salt, fat, solids, temperature, 0.0, **kinds)
    return np.minimum(np.maximum(additive, product) + checked("margin", margin, 0.0, 0.5), 1.0)
