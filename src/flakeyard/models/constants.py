"""Constants of nature and exact units, each once. Plain numbers in SI; no files are read here.

What belongs to one published formula (its coefficients, its critical point) stands beside that formula. What decides a
verdict is no constant of nature: see `flakeyard.limits`.
"""

# Units, exact
HOUR, DAY = 3600.0, 86400.0  # s
KELVIN = 273.15  # K at 0 degC, definition of degC
REFERENCE_KELVIN = KELVIN + 25.0  # K at 25 degC, where solutions are tabled

# Exact by definition
GAS_CONSTANT = 8.314462618  # J/mol/K (SI of 2019, to the digits given)
STEFAN_BOLTZMANN = 5.670374e-8  # W/m2/K4 (SI of 2019, to the digits given)
GRAVITY = 9.80665  # m/s2, standard (SI)
STANDARD_PRESSURE = 101325.0  # Pa (icao_atmosphere)

# Molar masses, kg/mol: IUPAC standard atomic weights (recalled)
WATER_MOLAR_MASS = 0.01801528
NACL_MOLAR_MASS = 0.058443
SODIUM_MOLAR_MASS = 0.022990
SUCROSE_MOLAR_MASS = 0.34230
HEXOSE_MOLAR_MASS = 0.18016
ACETIC_MOLAR_MASS = 0.060052
SODIUM_PER_SALT = SODIUM_MOLAR_MASS / NACL_MOLAR_MASS  # kg Na per kg NaCl: 393.4 mg in a gram
SALT_PER_SODIUM = NACL_MOLAR_MASS / SODIUM_MOLAR_MASS  # kg NaCl per kg Na

# Air and vapour (ashrae_fundamentals, recalled; the heats belong together in the enthalpy of moist air)
DRY_AIR_GAS_CONSTANT = 287.042  # J/kg/K
VAPOUR_RATIO = 0.621945  # molar mass of water over that of dry air
AIR_HEAT, VAPOUR_HEAT, WATER_HEAT = 1006.0, 1860.0, 4186.0  # J/kg/K, water near 15 degC
LATENT_AT_ZERO = 2.501e6  # J/kg, evaporation at 0 degC
DRY_AIR_DENSITY = STANDARD_PRESSURE / DRY_AIR_GAS_CONSTANT  # kg K/m3, over the kelvin of the air: 353.0

# Water and flesh
WARM_WATER_HEAT = 4180.0  # J/kg/K, water near 40 degC (coolprop_water: 4179.4)
WATER_DENSITY = 998.2  # kg/m3 at 20 degC (coolprop_water: 998.21)
FLESH_DENSITY = 1060.0  # kg/m3, raw fish without bones at 20 degC (choi_okos_1986, for usual compositions)
SALOMETER_TEMPERATURE = (60.0 - 32.0) / 1.8  # degC, 60 degF: what a salometer is made for (salometer_manual)
