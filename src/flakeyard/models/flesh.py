"""Density, heat capacity and heat conductivity of flesh from what it is made of.

Composition is given as mass fractions of water, protein, fat, carbohydrate and ash (salt counts as ash) that close
to one. Each component brings its own property, a quadratic in temperature; volumes and heats add up.
"""

from flakeyard.models.inputs import Numbers, Range, checked

COMPONENTS = ("water", "protein", "fat", "carbohydrate", "ash")
CLOSURE = 0.02  # kg/kg, by how much printed compositions may miss one

# Constant, linear and quadratic term in degC of each component, in the order of COMPONENTS (choi_okos_1986).
DENSITY_TERMS = (
    (997.18, 3.1439e-3, -3.7574e-3),
    (1329.9, -0.5184, 0.0),
    (925.59, -0.41757, 0.0),
    (1599.1, -0.31046, 0.0),
    (2423.8, -0.28063, 0.0),
)
HEAT_TERMS = (
    (4128.9, -9.0864e-2, 5.4731e-3),
    (2008.2, 1.2089, -1.3129e-3),
    (1984.2, 1.4733, -4.8008e-3),
    (1548.8, 1.9625, -5.9399e-3),
    (1092.6, 1.8896, -3.6817e-3),
)
CONDUCTIVITY_TERMS = (
    (0.57109, 1.7625e-3, -6.7036e-6),
    (0.17881, 1.1958e-3, -2.7178e-6),
    (0.18071, -2.7604e-4, -1.7749e-7),
    (0.20141, 1.3874e-3, -4.3312e-6),
    (0.32962, 1.4011e-3, -2.9069e-6),
)

flesh_range = Range(
    "flesh",
    {"temperature": (0.0, 75.0, "°C")},
    "components exact against a second library; mixtures about 5 % (judgement)",
    "choi_okos_1986",
)


def _shares(water, protein, fat, carbohydrate, ash):
    """The five mass fractions, checked and scaled to close to one."""
    given = (water, protein, fat, carbohydrate, ash)
    shares = [checked(name, value, 0.0, 1.0) for name, value in zip(COMPONENTS, given, strict=True)]
    total = sum(shares)
    checked("water + protein + fat + carbohydrate + ash", total, 1.0 - CLOSURE, 1.0 + CLOSURE)
    return [share / total for share in shares]


def _components(terms, temperature):
    """A property of the five pure components at a temperature."""
    t = checked("temperature", temperature, -40.0, 150.0)
    return [constant + t * (linear + t * quadratic) for constant, linear, quadratic in terms]


def density(
    water: Numbers,
    protein: Numbers,
    fat: Numbers,
    carbohydrate: Numbers = 0.0,
    ash: Numbers = 0.0,
    temperature: Numbers = 20.0,
) -> Numbers:
    """Density of flesh without pores.

    Parameters:
        water : float or array – mass fraction [kg/kg], allowed 0–1
        protein : float or array – mass fraction [kg/kg], allowed 0–1
        fat : float or array – mass fraction [kg/kg], allowed 0–1
        carbohydrate : float or array – mass fraction, sugar included [kg/kg], allowed 0–1
        ash : float or array – mass fraction, salt included [kg/kg], allowed 0–1
        temperature : float or array – of the flesh [degC], allowed -40–150
    Returns: float or array – density [kg/m3]
    Equation: 1/rho = Σ x_i / rho_i
    Valid for: unfrozen flesh, 0–75 degC (`flesh_range`); about 5 % (judgement)
    Raises: ValueError when a fraction is not between 0 and 1, or they miss one by more than 0.02
    Source: choi_okos_1986
    """
    shares = _shares(water, protein, fat, carbohydrate, ash)
    return 1.0 / sum(share / part for share, part in zip(shares, _components(DENSITY_TERMS, temperature), strict=True))


def heat_capacity(
    water: Numbers,
    protein: Numbers,
    fat: Numbers,
    carbohydrate: Numbers = 0.0,
    ash: Numbers = 0.0,
    temperature: Numbers = 20.0,
) -> Numbers:
    """Heat that warms flesh.

    Parameters:
        water : float or array – mass fraction [kg/kg], allowed 0–1
        protein : float or array – mass fraction [kg/kg], allowed 0–1
        fat : float or array – mass fraction [kg/kg], allowed 0–1
        carbohydrate : float or array – mass fraction, sugar included [kg/kg], allowed 0–1
        ash : float or array – mass fraction, salt included [kg/kg], allowed 0–1
        temperature : float or array – of the flesh [degC], allowed -40–150
    Returns: float or array – heat capacity [J/kg/K]
    Equation: c = Σ x_i c_i
    Valid for: unfrozen flesh, 0–75 degC (`flesh_range`); about 5 % (judgement)
    Raises: ValueError when a fraction is not between 0 and 1, or they miss one by more than 0.02
    Source: choi_okos_1986
    """
    shares = _shares(water, protein, fat, carbohydrate, ash)
    return sum(share * part for share, part in zip(shares, _components(HEAT_TERMS, temperature), strict=True))


def conductivity(
    water: Numbers,
    protein: Numbers,
    fat: Numbers,
    carbohydrate: Numbers = 0.0,
    ash: Numbers = 0.0,
    temperature: Numbers = 20.0,
) -> Numbers:
    """Heat conductivity of flesh, its components side by side.

    Parameters:
        water : float or array – mass fraction [kg/kg], allowed 0–1
        protein : float or array – mass fraction [kg/kg], allowed 0–1
        fat : float or array – mass fraction [kg/kg], allowed 0–1
        carbohydrate : float or array – mass fraction, sugar included [kg/kg], allowed 0–1
        ash : float or array – mass fraction, salt included [kg/kg], allowed 0–1
        temperature : float or array – of the flesh [degC], allowed -40–150
    Returns: float or array – conductivity [W/m/K]
    Equation: k = Σ v_i k_i, v_i = x_i rho / rho_i the volume fractions
    Valid for: unfrozen flesh, 0–75 degC (`flesh_range`); about 5 % (judgement)
    Raises: ValueError when a fraction is not between 0 and 1, or they miss one by more than 0.02
    Source: choi_okos_1986
    """
    shares = _shares(water, protein, fat, carbohydrate, ash)
    volumes = [share / part for share, part in zip(shares, _components(DENSITY_TERMS, temperature), strict=True)]
    parts = _components(CONDUCTIVITY_TERMS, temperature)
    return sum(volume * part for volume, part in zip(volumes, parts, strict=True)) / sum(volumes)
