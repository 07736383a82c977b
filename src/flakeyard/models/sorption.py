"""Water activity of fish flesh from its water, salt, fat and temperature, and the way back.

Water in flesh has three holders, and the additive rule gives each its own share at one common water activity:

* protein, by a GAB curve on the fat-free, salt-free dry matter (fat holds none). Its end is flat: even at a water
  activity of one it holds no more than a third of its own mass;
* the flesh's own solutes (native: potassium, phosphate, lactate, creatine, amino acids), as an ideal solution;
* salt, as much as makes a brine of that water activity. At 0.753 dissolved and solid salt are there together and the
  flesh stays near it however much it dries (the plateau); below it salt is crystalline and holds no water.

Below the plateau more salt therefore buys nothing. The additive rule is the estimate; for a verdict
`water_activity_cautious` takes the higher of it and of the product rule, plus a margin.

**Native solutes leave** in brine, in fresh water and with the juice of cooking; `native` is the share still there. It
decides the moist end: unsalted flesh of 0.35 kg/kg stands at 0.85 with all of them, at 0.91 with half, and without any
it is as good as wet. A verdict that is not told the share counts on none.

How the curve was chosen. Twenty-one numbers of eleven sources (frozen white fish and cod, raw salmon, dried unsalted
fish, brined and smoked fish: data/published/moist_end.csv) were left out source by source, and scored by the others.
Frozen flesh is a measurement of the moist end, because the ice in it has a known water activity. Sums of the left-out
log scores (higher is better), and kg water per kg fat-free salt-free dry matter at 25 °C:

    curve                          scores    0.60   0.75   0.80   0.85   0.90   0.95   0.99
    one GAB, 0.060 and 0.99         -22.2   0.140  0.226  0.279  0.373  0.545  1.00   3.01
    one GAB, both free              -21.9
    GAB and native solutes          -10.7   0.140  0.220  0.269  0.344  0.481  0.847  3.49

One GAB is refuted by the frozen fish: there it holds up to a third too much. For unsalted, unsoaked flesh the middle
hardly moves; what moves is soaked fish, and the spread, which halves. Still missed: white fish at -12 °C by -0.22 in
the logarithm when it is left out.

Two ways of joining protein and salt (additive, product) were once mixed by a drawn share, because brined fish stood
nearer to the product. With the native solutes that each piece had left, the additive rule alone meets the same five
pieces (tilapia in two brines, anchovy in two, smoked salmon) with a bias of -0.005
and an rms of 0.008, as well as that share did, and six others with 0.036 in place of 0.042.
"""

from functools import cache

import numpy as np

from flakeyard.messages import say
from flakeyard.models import solutions
from flakeyard.models.constants import GAS_CONSTANT, KELVIN, NACL_MOLAR_MASS, REFERENCE_KELVIN, WATER_MOLAR_MASS
from flakeyard.models.inputs import Numbers, Range, checked, rising_root

# Common practice for unsalted dried fish (anchovy_drying, read): at these water fractions bacteria and moulds stop.
# The water activities beside them are judgement, about where such organisms stop. They are two of the numbers the
# curve was chosen by, so they are no test of it.
ANCHORS = ((0.25, 0.84, "bacteria stop"), (0.15, 0.69, "moulds stop"))
# The fit told above (computed here from data/published/moist_end.csv) gives 0.041 [0.033, 0.049] kg/kg fat-free
# salt-free, 0.858 [0.783, 0.923] and 1.80 [1.61, 1.98] osmol per kg of the same solids (10, 50, 90 %). They pull at one
# another: drawn apart, as below, they spread the water held at 0.85 by 15 % where the fit has 6 %.
GAB_MONOLAYER = 0.040
GAB_C = 12.0  # from memory, usual for muscle proteins; hardly matters above 0.4; spread 6–20
GAB_K = 0.86
GAB_K_RANGE = (0.76, 0.94)
PROTEIN_FACTOR_LN_SD = 0.18
# Counted one by one, raw cod has 2.0 osmol per kg solids (fish_extractives and memory); the freezing points of its
# fluid give 1.9 to 3.0 (simpson_haard). That such solutes go on holding water when it gets dry: lactate in place of
# salt, mole for mole, leaves the curve of pork where it is (lactate_pork).
NATIVE_OSMOLES, NATIVE_SD = 1.8, 0.11  # osmol/kg solids; sd of the share, 0.2 of 1.8 osmol
# J/mol of net heat per unit of -ln(aw), of protein water only: the activity of a solution hardly depends on the
# temperature. Chosen between the dry ends of sardine_isotherm (6.2) and crayfish_isotherm (12); the moist ends that are
# read (0.7 to 3.5 kJ/mol) are two to four times what this leaves, while beef shows no effect at all (beef_temperature)
# and stockfish at 3 and 20 °C wants about this (stockfish_2017).
BINDING_ENERGY = 7000.0
BINDING_KELVIN = BINDING_ENERGY / GAS_CONSTANT
PLATEAU = solutions.SATURATED_WATER_ACTIVITY
# Native solutes lower the plateau, first in proportion to osmol per kg of water, at most as 0.8 of them would:
# judgement, about half of what an ideal mixture would do
PLATEAU_FALL, PLATEAU_OSMOLES = 0.6 * WATER_MOLAR_MASS, 0.8
CAUTION_MARGIN = 0.03  # judgement: the product and additive rules differ by up to this in moist flesh

water_activity_range = Range(
    "flesh_activity",
    {"water_activity": (0.05, 0.995, ""), "temperature": (5.0, 70.0, "°C")},
    "0.03 to 0.05 near 0.85; in soaked fish the share of native solutes is computed, not measured",
    "fao_freezing",
)


def _fit_salt_water():
    """Quartic in √d for d / (molar mass x molality) of NaCl brine at 25 °C, d = -ln aw; off by 1.5e-5 in aw at most."""
    molality = np.linspace(0.02, 7.2, 400)
    dryness = solutions.nacl_log_activity(molality)
    return np.polyfit(np.sqrt(dryness), dryness / (NACL_MOLAR_MASS * molality), 4, w=molality)[::-1]


SALT_WATER = tuple(float(term) for term in _fit_salt_water())


def _salt_water(dryness):
    """Water in brine per kg salt times the dryness -ln aw, and the derivative of that product by the dryness."""
    s0, s1, s2, s3, s4 = SALT_WATER
    root = np.sqrt(dryness)
    scaled = s0 + root * (s1 + root * (s2 + root * (s3 + root * s4)))
    bend = (s1 + root * (2.0 * s2 + root * (3.0 * s3 + root * (4.0 * s4)))) / (root + root)
    return scaled, bend


LOWEST_PLATEAU = PLATEAU * (1.0 - PLATEAU_FALL * PLATEAU_OSMOLES)
PLATEAU_DRYNESS = -float(np.log(LOWEST_PLATEAU))
MIDWAY = 0.5 * float(_salt_water(PLATEAU_DRYNESS)[0]) / PLATEAU_DRYNESS  # half the plateau's width, kg water/kg salt
# Where the search starts. The dryness beyond that of the solutes alone is nearly one over a quadratic in the moisture:
# it is drawn through the curve at three dryness values; salt shifts and lifts it. Off by 0.05 in the logarithm (rms).
START_AT = (4.6, 1.75, 0.3)
START_SALT = (0.75, 0.65)
WETTEST, DRIEST = 1e-12, 1e-9  # least dryness; least moisture, kg/kg
FEW_NATIVE, EXACT = (0.3, 0.05), 8  # shares below which a turn more is taken each; turns that leave no error
SOFTNESS, SOFT_SALT = 0.001, 0.01  # rounding of the plateau's corners; kg/kg below which it is less


def _exponent(temperature):
    """Power p in b = K aw^p, where aw^p is the water activity the same protein water has at 25 °C."""
    return 1.0 / ((1.0 - BINDING_KELVIN / REFERENCE_KELVIN) + BINDING_KELVIN / (temperature + KELVIN))


class Isotherm:
    """Water activity of an ensemble of pieces against their moisture, quick enough for the inside of a solver.

    Moisture is kg water per kg fat-free salt-free solids, called x_ff; members lie on the first axis; nothing is
    checked. Inside, the unknown is the dryness -ln aw. `softness` rounds both corners of the plateau: the water
    activity is off by half of it there, and by less everywhere else. `turns` Newton steps are taken: one leaves an
    error of 1e-4 (rms; 1e-3 at worst), two 1e-5, where a third of the native solutes or more is left.
    """

    def __init__(self, salt, protein_factor, gab_k, share, softness=SOFTNESS, turns=None):
        few = 1 + sum(float(np.min(share, initial=1.0)) < least for least in FEW_NATIVE)
        self.salt, self.turns = salt, few if turns is None else turns  # kg/kg, -
        native = NATIVE_OSMOLES * share  # osmol/kg
        self.capacity, self.log_k = (GAB_C * GAB_MONOLAYER) * protein_factor, np.log(gab_k)
        self.salted = bool(np.any(salt > 0.0))
        self.solution = WATER_MOLAR_MASS * native  # water of the native solutes times the dryness
        self.half = np.where(salt > 0.0, MIDWAY * salt, np.inf)  # of the plateau's width; without salt there is none
        self.top = np.where(salt > 0.0, PLATEAU, 2.0)
        self.fall = np.where(salt > 0.0, (PLATEAU * PLATEAU_FALL) * native, 0.0)
        self.crowded = native / PLATEAU_OSMOLES  # moisture at which it has fallen half way
        self.reach = np.maximum(2.0 * softness * salt / (salt + SOFT_SALT), 1e-15)  # of the rounding
        self.widest = float(np.max(self.reach, initial=0.0))
        self.driest = float(np.min(self._middle(_exponent(100.0)), initial=np.inf))
        self.start = self._start()

    def protein_water(self, dryness, exponent=1.0):
        """Water the protein holds, and minus its derivative by the logarithm of the dryness."""
        drier = exponent * dryness
        b = np.exp(self.log_k - drier)
        many = (GAB_C - 1.0) * b
        room = (1.0 - b) * (1.0 + many)
        held = self.capacity * b / room
        return held, drier * held * (1.0 + many * b) / room

    def protein_dryness(self, x_ff, exponent=1.0):
        """Dryness when the protein holds all the water: `protein_water` turned round; 0 where it cannot."""
        linear = self.capacity - (GAB_C - 2.0) * x_ff
        b = (x_ff + x_ff) / (linear + np.sqrt(linear * linear + (4.0 * (GAB_C - 1.0)) * (x_ff * x_ff)))
        return np.maximum(self.log_k - np.log(b), 0.0) / exponent

    def _start(self):
        """The quadratic in the moisture that the first guess is one over, by divided differences of three points."""
        points = [self.protein_water(dryness)[0] + self.solution / dryness for dryness in START_AT]
        one, two, three = (1.0 / (dryness - self.solution / x) for dryness, x in zip(START_AT, points))
        first, second = (two - one) / (points[1] - points[0]), (three - two) / (points[2] - points[1])
        bend = (second - first) / (points[2] - points[0])
        slope = first - bend * (points[0] + points[1])
        return one - points[0] * (slope + bend * points[0]), slope, bend

    def _first_dryness(self, x, exponent, salt):
        """Dryness to about a twentieth of itself; salt is that in solution, or None."""
        level, slope, bend = self.start
        more, solution = 1.0, self.solution
        if salt is not None:
            more, solution = 1.0 + (bend * GAB_MONOLAYER) * salt, solution + START_SALT[0] * salt
            x = x - START_SALT[1] * salt
        return solution / x + more / (exponent * (level + x * (slope + x * bend)))

    def _rise(self, dryness, x, exponent, salt):
        """What the holders have too much at a dryness, times the dryness, and how fast that falls with the dryness."""
        held, fall = self.protein_water(dryness, exponent)
        free = x - held
        over, rise = self.solution - dryness * free, free + fall
        if salt is not None:
            scaled, bend = _salt_water(dryness)
            over, rise = over + salt * scaled, rise - salt * bend
        return over, rise

    def _dryness(self, x, exponent, salt=None):
        """Dryness at which protein, native solutes and the salt in solution (None: none) hold all the water."""
        dryness = self._first_dryness(x, exponent, salt)
        if self.turns == 1:
            over, rise = self._rise(dryness, x, exponent, salt)
            return dryness + over / rise
        # with few solutes the start may be far off; the protein alone would be wetter
        least = np.maximum(self.protein_dryness(x, exponent), WETTEST)
        dryness = np.where(self.solution + (0.0 if salt is None else salt) > 0.0, dryness, least)
        for _ in range(self.turns):
            over, rise = self._rise(dryness, x, exponent, salt)
            dryness = np.maximum(dryness + over / rise, least)
        return dryness

    def level(self, x):
        """Water activity of the plateau at a moisture; out of reach without salt."""
        return self.top - self.fall / (x + self.crowded)

    def _beyond(self, gap):
        """How far from the plateau, or 0: its corner rounded by a parabola of some reach; and its slope."""
        part = np.minimum(np.maximum(gap + self.reach, 0.0), 2.0 * self.reach)
        share = part / (2.0 * self.reach)
        return 0.5 * part * share + np.maximum(gap - self.reach, 0.0), share

    def water_on_plateau(self, activity):
        """Water at which the plateau has a water activity: `level` turned round, 0 below it and endless above."""
        sloping = np.maximum(self.fall / np.maximum(PLATEAU - activity, 1e-300) - self.crowded, 0.0)
        return np.where(activity > PLATEAU, np.inf, sloping)

    def _middle(self, exponent):
        """Moisture half way along the plateau; endless without salt."""
        return self.protein_water(PLATEAU_DRYNESS, exponent)[0] + self.solution / PLATEAU_DRYNESS + self.half

    def _salt_in_solution(self, x, exponent):
        """Salt above the plateau's middle, where it is all dissolved, and 0 below, where it holds nothing."""
        wet = x > self._middle(exponent)
        return self.salt * wet, wet

    def water_activity(self, x_ff, temperature):
        """Water activity, given the moisture and the temperature [degC]."""
        exponent, x = _exponent(temperature), np.maximum(x_ff, DRIEST)
        if not self.salted or x.max() < self.driest:  # no member has brine
            activity, side = np.exp(-self._dryness(x, exponent)), -1.0
            if not self.salted or activity.max() < LOWEST_PLATEAU - self.widest:
                return activity
        else:
            salt, wet = self._salt_in_solution(x, exponent)
            activity, side = np.exp(-self._dryness(x, exponent, salt)), 2.0 * wet - 1.0
        level = self.level(x)
        return level + side * self._beyond(side * (activity - level))[0]

    def state(self, x_ff, temperature):
        """Water activity, its derivative by moisture, and the net heat of sorption [J/mol], as `water_activity`."""
        exponent, x = _exponent(temperature), np.maximum(x_ff, DRIEST)
        salt, wet = self._salt_in_solution(x, exponent)
        dryness = self._dryness(x, exponent, salt)
        activity, fall = np.exp(-dryness), self.protein_water(dryness, exponent)[1]
        scaled, bend = _salt_water(dryness)
        drier = fall + (self.solution + salt * (scaled - dryness * bend)) / dryness  # minus dX / d ln dryness
        slope, heat = activity * dryness / drier, BINDING_ENERGY * exponent * dryness * fall / drier
        if not self.salted:
            return activity, slope, heat
        level, side = self.level(x), 2.0 * wet - 1.0
        beyond, share = self._beyond(side * (activity - level))
        rounded = level + side * beyond
        sloping = self.fall / (x + self.crowded) ** 2
        return rounded, share * slope + (1.0 - share) * sloping, share * heat * activity / rounded


def isotherm(
    salt_ratio: Numbers,
    protein_factor: Numbers = 1.0,
    gab_k: Numbers = GAB_K,
    native: Numbers = 1.0,
    softness: float = SOFTNESS,
    turns: int | None = None,
) -> Isotherm:
    """Prepare the isotherms of an ensemble of pieces, to be asked `.water_activity(x_ff, temperature)` again and again.

    Parameters:
        salt_ratio : float or array – salt per fat-free salt-free solids [kg/kg], allowed 0 and above
        protein_factor : float or array – times the water the middle curve gives the protein [-], allowed 0.05–20
        gab_k : float or array – K of the GAB curve [-], allowed 0.5–0.9999
        native : float or array – share of the flesh's own solutes still there [-], allowed 0–5
        softness : float – rounding of the plateau's corners in water activity [-], allowed 0–0.05
        turns : int – Newton steps [-], allowed 1 and above; left out: 1, and up to 3 where few native solutes are left
    Returns: Isotherm – its methods take kg water per kg fat-free salt-free solids and degC
    Equation: as `water_activity`
    Valid for: as `water_activity`
    Raises: ValueError when an input is impossible
    Source: as `water_activity`
    """
    ratio, factor = checked("salt_ratio", salt_ratio), checked("protein_factor", protein_factor, 0.05, 20.0)
    steepness, share = checked("gab_k", gab_k, 0.5, 0.9999), checked("native", native, 0.0, 5.0)
    rounding = float(checked("softness", softness, 0.0, 0.05))
    return Isotherm(
        ratio, factor, steepness, share, rounding, None if turns is None else int(checked("turns", turns, 1))
    )


def _sugar_water(activity):
    """Water per kg sucrose in a syrup of a water activity, kg/kg; also where sucrose would not stay dissolved."""
    return np.exp(np.interp(-activity, *_sugar_curve()))


@cache
def _sugar_curve():
    """Minus the water activities of syrups, rising, and the logarithm of the water per kg sucrose in each."""
    fraction = np.linspace(1e-4, 0.999, 2000)
    return -solutions.sucrose_water_activity(fraction), np.log((1.0 - fraction) / fraction)


def _per_solids(water, salt, fat, solids, sugar):
    """The inputs checked, and water, salt and sugar per kg fat-free salt-free solids (as good as none allowed)."""
    water, salt, sugar = checked("water", water), checked("salt", salt), checked("sugar", sugar)
    fat, solids = checked("fat", fat), checked("solids", solids)
    total = water + salt + sugar + fat + solids
    if np.any(total <= 0.0):
        raise ValueError(say("input.weighs"))
    solids = np.maximum(solids, 1e-9 * total)
    return water / solids, salt / solids, sugar / solids


def _water_held(curve, activity, exponent):
    """Water that protein and native solutes hold at a water activity, and what the salt holds once in solution."""
    dryness = np.maximum(-np.log(activity), WETTEST)
    unsalted = curve.protein_water(dryness, exponent)[0] + curve.solution / dryness
    return unsalted, curve.salt * _salt_water(dryness)[0] / dryness


def _reckoned(water, flesh_water):
    return checked("water", water) * checked("flesh_water", flesh_water, 0.1, 10.0)


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
    native: Numbers = 1.0,
    flesh_water: Numbers = 1.0,
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
        native : float or array – share of the flesh's own solutes still there; 1 before any soak [-], allowed 0–5
        flesh_water : float or array – times the water of the flesh as reckoned with; where laboratories differ
            [-], allowed 0.1–10
    Returns: float or array – water activity [-]
    Equation: X = f Xm C K b / ((1-Kb)(1-Kb+CKb)) + k n Mw / (-ln aw) + S / (M m(aw)), the last above the plateau only;
        b = aw^p, 1/p = 1 - (q/R)(1/298.15 - 1/T); plateau 0.753 (1 - 0.6 Mw k n / (X + k n / 0.8))
    Valid for: lean and fatty fish, 5–70 degC (`water_activity_range`); 0.03 to 0.05; solutions always as at 25 degC
    Raises: ValueError when an input is impossible
    Source: fao_freezing, sardine_isotherm, anchovy_drying (flesh), appelo_2015 (salt), norrish_1966 (sugar)
    Example:
        >>> f"{float(water_activity(water=0.25, salt=0.0, fat=0.0, solids=0.75)):.3g}"  # check value anchor_bacteria
        '0.844'
    """
    water = _reckoned(water, flesh_water)
    x, salt_ratio, sugar_ratio = _per_solids(water, salt, fat, solids, sugar)
    degrees = checked("temperature", temperature, -30.0, 150.0)
    curve = isotherm(salt_ratio, protein_factor, gab_k, native, softness=0.0, turns=EXACT)
    if not np.any(sugar_ratio > 0.0):
        return curve.water_activity(x, degrees)[()]
    exponent, level = _exponent(degrees), curve.level(x)

    def excess(activity):
        unsalted, in_brine = _water_held(curve, activity, exponent)
        return unsalted + np.where(activity >= level, in_brine, 0.0) + sugar_ratio * _sugar_water(activity) - x

    shape = np.broadcast_shapes(np.shape(excess(0.5)))
    return rising_root(excess, np.full(shape, 1e-6), 1.0, within=1e-10)


def native_osmoles(solids: Numbers, share: Numbers = 1.0) -> Numbers:
    """The flesh's own solutes, given its fat-free salt-free solids: what a soak starts from.

    Parameters:
        solids : float or array – fat-free, salt-free, sugar-free dry matter [kg], allowed 0 and above
        share : float or array – part of the raw flesh's solutes still there [-], allowed 0–5
    Returns: float or array – solutes [osmol]
    Equation: 1.8 osmol per kg of solids
    Valid for: raw lean sea fish; freshwater fish have a little less (about 1.5, judgement)
    Raises: ValueError when an input is impossible
    Source: as `water_activity`
    """
    return (NATIVE_OSMOLES * checked("share", share, 0.0, 5.0) * checked("solids", solids))[()]


def native_share(osmoles: Numbers, solids: Numbers) -> Numbers:
    """Share of the flesh's own solutes still there, from what a piece has of them: the `native` of the others.

    Parameters:
        osmoles : float or array – solutes of the piece [osmol], allowed 0 and above
        solids : float or array – its fat-free, salt-free, sugar-free dry matter [kg], allowed above 0
    Returns: float or array – share; above 1 where solids were lost and solutes were not [-]
    Equation: k = osmoles / (1.8 solids)
    Valid for: as `water_activity`
    Raises: ValueError when an input is impossible
    Source: as `water_activity`
    """
    return (checked("osmoles", osmoles) / (NATIVE_OSMOLES * checked("solids", solids, 1e-12)))[()]


def water_for(
    water_activity: Numbers,
    salt: Numbers,
    fat: Numbers,
    solids: Numbers,
    temperature: Numbers = 25.0,
    sugar: Numbers = 0.0,
    *,
    protein_factor: Numbers = 1.0,
    gab_k: Numbers = GAB_K,
    native: Numbers = 1.0,
    flesh_water: Numbers = 1.0,
) -> Numbers:
    """Find the water that flesh holds at a water activity: the inverse of `water_activity`.

    Parameters:
        water_activity : float or array – wanted [-], allowed 0–1
        salt : float or array – mass, in one unit with the others [kg], allowed 0 and above
        fat : float or array – mass; holds no water [kg], allowed 0 and above
        solids : float or array – fat-free, salt-free, sugar-free dry matter [kg], allowed 0 and above
        temperature : float or array – of the flesh [degC], allowed -30–150
        sugar : float or array – mass of table sugar [kg], allowed 0 and above
        protein_factor : float or array – times the water the middle curve gives the protein [-], allowed 0.05–20
        gab_k : float or array – K of the GAB curve [-], allowed 0.5–0.9999
        native : float or array – share of the flesh's own solutes still there; 1 before any soak [-], allowed 0–5
        flesh_water : float or array – times the water of the flesh as reckoned with; where laboratories differ
            [-], allowed 0.1–10
    Returns: float or array – mass of water, in the unit of the others [kg]; where the plateau is level the least;
        endless at 1, unless there are no solutes
    Equation: as `water_activity`
    Valid for: as `water_activity`, which see
    Raises: ValueError when an input is impossible
    Source: as `water_activity`
    Example:
        >>> f"{float(water_for(water_activity=0.74, salt=0.2, fat=0.0, solids=1.0)):.4g}"  # check value salt_step_dry
        '0.2127'
    """
    wanted = checked("water_activity", water_activity, 0.0, 1.0)
    masses = checked("salt", salt), checked("fat", fat), checked("solids", solids)
    _, salt_ratio, sugar_ratio = _per_solids(0.0, *masses, sugar)
    exponent = _exponent(checked("temperature", temperature, -30.0, 150.0))
    curve = isotherm(salt_ratio, protein_factor, gab_k, native)
    unsalted, in_brine = _water_held(curve, np.maximum(wanted, 1e-12), exponent)
    held = np.maximum(unsalted, np.minimum(unsalted + in_brine, curve.water_on_plateau(wanted)))
    if np.any(sugar_ratio > 0.0):
        held = held + sugar_ratio * _sugar_water(wanted)
    endless = (wanted == 1.0) & (curve.solution + curve.salt + sugar_ratio > 0.0)
    per_water = np.maximum(masses[2], 1e-9 * (sum(masses) + np.asarray(sugar))) / checked(
        "flesh_water", flesh_water, 0.1, 10.0
    )
    return (np.where(endless, np.inf, held) * per_water)[()]


def water_activity_cautious(
    water: Numbers,
    salt: Numbers,
    fat: Numbers,
    solids: Numbers,
    temperature: Numbers = 25.0,
    *,
    protein_factor: Numbers = 1.0,
    gab_k: Numbers = GAB_K,
    native: Numbers = 0.0,
    flesh_water: Numbers = 1.0,
    margin: float = CAUTION_MARGIN,
) -> Numbers:
    """Give the water activity to judge by: the higher of two mixing rules plus a margin; sugar is never counted on.

    How far laboratories differ (`flesh_water`) is part of the margin and not added to it: of eleven published fish in
    eight studies (data/published/water_activity.csv) each lies 0.03 or more below the 97.5th percentile with the margin
    alone, and below it by 0.002 or more with `flesh_water` drawn in place of the margin. In dry flesh, where the curve
    is steep, that draw says more than the margin: so the higher of both counts. On the plateau it says nothing.

    Parameters:
        water : float or array – mass, in one unit with the others [kg], allowed 0 and above
        salt : float or array – mass, dissolved or not [kg], allowed 0 and above
        fat : float or array – mass; holds no water [kg], allowed 0 and above
        solids : float or array – fat-free, salt-free, sugar-free dry matter [kg], allowed 0 and above
        temperature : float or array – of the flesh [degC], allowed -30–150
        protein_factor : float or array – times the water the middle curve gives the protein [-], allowed 0.05–20
        gab_k : float or array – K of the GAB curve [-], allowed 0.5–0.9999
        native : float or array – share of the flesh's own solutes known to be there; left out: none [-], allowed 0–5
        flesh_water : float or array – times the water of the flesh as reckoned with; where laboratories differ
            [-], allowed 0.1–10
        margin : float – added for what neither rule knows [-], allowed 0–0.5
    Returns: float or array – water activity, at most 1 [-]
    Equation: min(1, max(r(X) + margin, r(f X))), r = max(additive, flesh without salt x brine alone), f = flesh_water
    Valid for: as `water_activity`; certifies nothing, a meter or a laboratory does better
    Raises: ValueError when an input is impossible
    Source: as `water_activity`; product rule ross_1975
    Example:
        >>> f"{float(water_activity_cautious(water=0.5, salt=0.2, fat=0.02, solids=0.28)):.3g}"  # check value cautious_wet_salted
        '0.783'
    """
    kinds = {"protein_factor": protein_factor, "gab_k": gab_k, "native": native}

    def higher(reckoned):
        additive = water_activity(reckoned, salt, fat, solids, temperature, **kinds)
        unsalted = water_activity(reckoned, 0.0, np.add(fat, salt), solids, temperature, **kinds)
        brine = solutions.nacl_water_activity(salt / np.maximum(np.add(salt, reckoned), 1e-300))
        return np.maximum(additive, unsalted * brine)

    told = higher(water) + checked("margin", margin, 0.0, 0.5)
    if np.all(np.asarray(flesh_water) == 1.0):
        return np.minimum(told, 1.0)
    return np.minimum(np.maximum(told, higher(_reckoned(water, flesh_water))), 1.0)
