"""Water in air and in wood, as the simulated frames need it; written apart from `isohume.analysis` on purpose.

The analysis is tested on these frames. Were both to share one formula, a slip in it would go unseen.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

KELVIN = 273.15
# Specific gas constant of water vapour, 461.5 J/(kg K), as used in the vapour formulas of ASHRAE Fundamentals ch. 1.
WATER_GAS_CONSTANT = 461.5
# Vapour permeability of still air, kg/(m s Pa); from memory, the round value of building physics.
AIR_PERMEABILITY = 2.0e-10


class SorptionTerms(NamedTuple):
    """Coefficients of the sorption equation at given temperatures."""

    scale: FloatArray  # 1800 / W [% MC]
    k: FloatArray
    k1k: FloatArray  # K1·K
    k1k2kk: FloatArray  # K1·K2·K²


def saturation_pressure_pa(temperature_celsius: FloatArray) -> FloatArray:
    """Compute the saturation vapour pressure over liquid water.

    Parameters
    ----------
    temperature_celsius : array [°C]
        From -40 to 60 °C.

    Returns
    -------
    array [Pa]

    References
    ----------
    Sonntag (1990), Z. Meteorol. 70, 340-344, ITS-90 form.

    Examples
    --------
    >>> saturation_pressure_pa(np.array([20.0])).round(2)
    array([2339.25])
    """
    kelvin = temperature_celsius + KELVIN
    exponent = -6096.9385 / kelvin + 21.2409642 - 2.711193e-2 * kelvin + 1.673952e-5 * kelvin**2
    return np.exp(exponent + 2.433502 * np.log(kelvin))


def vapour_g_per_m3_pa(temperature_celsius: FloatArray) -> FloatArray:
    """Return the vapour content of air per vapour pressure [g/(m³ Pa)], ideal gas."""
    return 1000.0 / (WATER_GAS_CONSTANT * (temperature_celsius + KELVIN))


def sorption_terms(temperature_celsius: FloatArray) -> SorptionTerms:
    """Return the coefficients of the sorption equation.

    References
    ----------
    Wood Handbook, FPL-GTR-282 (2021), ch. 4, eq. 4-5, metric coefficients; -1 to 55 °C.
    """
    t = temperature_celsius
    w = 349.0 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    return SorptionTerms(1800.0 / w, k, k1 * k, k1 * k2 * k**2)


def moisture_and_slope(activity: FloatArray, terms: SorptionTerms) -> tuple[FloatArray, FloatArray]:
    """Return the equilibrium moisture content and its slope against humidity.

    Parameters
    ----------
    activity : array [1]
        Relative humidity as a fraction, 0 < h < 1.
    terms : SorptionTerms
        Coefficients at the wood's temperature.

    Returns
    -------
    moisture : array [% of dry mass]
    slope : array [% of dry mass per unit of `activity`]
    """
    free = terms.k * activity
    first = terms.k1k * activity
    second = terms.k1k2kk * activity * activity
    dry = 1.0 - free
    bound = 1.0 + first + second
    upper = first + 2.0 * second
    moisture = terms.scale * (free / dry + upper / bound)
    upper_slope = (first + 4.0 * second) * bound - upper * upper
    slope = terms.scale * (terms.k / (dry * dry) + upper_slope / (activity * bound * bound))
    return moisture, slope


def equilibrium_moisture_percent(rh_percent: FloatArray, temperature_celsius: FloatArray) -> FloatArray:
    """Compute the equilibrium moisture content of wood [% of dry mass] from humidity [%RH] and temperature [°C].

    Examples
    --------
    >>> equilibrium_moisture_percent(np.array([50.0]), np.array([20.0])).round(3)
    array([9.271])
    """
    return moisture_and_slope(np.asarray(rh_percent) / 100.0, sorption_terms(np.asarray(temperature_celsius)))[0]
