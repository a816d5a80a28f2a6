"""Every shared number of physics and trade practice, with its source and its valid range."""

from __future__ import annotations

ZERO_CELSIUS_KELVIN = 273.15

# Hyland & Wexler (1983) over liquid water, as in ASHRAE Fundamentals (2017) ch. 1 Eq. 6:
# ln p [Pa] = C8/T + C9 + C10·T + C11·T² + C12·T³ + C13·ln T, T in K, given for 0-200 °C.
HYLAND_WEXLER_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 6.5459673)
# WMO-No. 8 (CIMO guide) Annex 4.B, Magnus form over water; here only the first guess of the dew point.
MAGNUS_E0_PA, MAGNUS_A, MAGNUS_B_CELSIUS = 611.2, 17.62, 243.12

# Specific gas constant of water vapour, R / M = 8.314462618 / 0.01801528 [J/(kg·K)].
GAS_CONSTANT_VAPOUR = 461.5227
# Ratio of the molar masses of water and dry air: ASHRAE Fundamentals (2017) ch. 1 Eq. 20.
MOLAR_MASS_RATIO = 0.621945
# Standard pressure at sea level: ASHRAE Fundamentals (2017) ch. 1 Table 1.
STANDARD_PRESSURE_PA = 101325.0

HOUR_SECONDS = 3600.0
DAY_SECONDS = 86400.0
DAY_HOURS = 24
YEAR_DAYS = 365.25

# Seasonal cycle: a centred 30-day mean, as in EN 15757:2010 (from memory).
SEASON_HOURS = 720
# Common practice: a sealed frame may drift from 50 to 40 %RH over a heated winter and rebounds in summer.
WINTER_COURSE_START_PERCENT = 50.0
WINTER_COURSE_END_PERCENT = 40.0

# Crank, The Mathematics of Diffusion: plate. Diffusion coefficient of moisture across the grain; spruce by dynamic
# sorption 0.94e-10 (radial) and 1.00e-10 m²/s (tangential): Sánchez-Ferrer & Engelhardt (2026), Sci. Rep.
WOOD_DIFFUSIVITY_M2_PER_S = 1e-10

# Richard, Mecklenburg & Tumosa, in The Structural Conservation of Panel Paintings (Getty, 1998), about p. 525.
YIELD_STRAIN = 0.004  # initial yield, wood, paint, glue
YIELD_STRAIN_BRITTLE_GESSO = 0.0025
FAILURE_STRAIN = 0.009  # at least, 35-65 %RH; lower in degraded material
