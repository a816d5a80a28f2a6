"""Moist air: vapour pressure, dew point, vapour concentration, mixing ratio.

Relative humidity is with respect to liquid water at every temperature, below 0 °C too (WMO-No. 8, part I, ch. 4): that
is how loggers state it. A dew point below 0 °C is therefore the dew point over supercooled water, not the frost point.
Every function takes a number, an array or a pandas Series and returns the same; NaN in gives NaN out.
"""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from isohume.analysis.constants import (
    GAS_CONSTANT_VAPOUR,
    HYLAND_WEXLER_WATER,
    MAGNUS_A,
    MAGNUS_B_CELSIUS,
    MAGNUS_E0_PA,
    MOLAR_MASS_RATIO,
    STANDARD_PRESSURE_PA,
    ZERO_CELSIUS_KELVIN,
)

Quantity = TypeVar("Quantity", float, NDArray[np.float64], "pd.Series[float]")

# From a Magnus first guess, off by 0.3 %, Newton's method doubles the correct digits: three rounds reach 1e-12 K.
_NEWTON_ROUNDS = 3


def saturation_vapour_pressure_pa(temperature_celsius: Quantity) -> Quantity:
    """Compute the saturation vapour pressure over liquid water.

    Parameters
    ----------
    temperature_celsius : float, (n,) array or Series [°C]
        Given for 0 to 200 °C. Below 0 °C the water form is extrapolated; it stays within 0.1 % of Sonntag (1990), who
        covers supercooled water, down to -40 °C.

    Returns
    -------
    like the input [Pa]

    References
    ----------
    Hyland & Wexler (1983), as in ASHRAE Fundamentals (2017) ch. 1 Eq. 6.

    Examples
    --------
    >>> round(saturation_vapour_pressure_pa(20.0), 2)
    2338.8
    """
    pressure: Quantity = np.exp(_log_saturation_pressure(temperature_celsius))
    return pressure


def vapour_pressure_pa(rh_percent: Quantity, temperature_celsius: Quantity | float) -> Quantity:
    """Compute the partial pressure of water vapour [Pa] from RH [%RH] and air temperature [°C]."""
    pressure: Quantity = rh_percent / 100 * np.exp(_log_saturation_pressure(temperature_celsius))
    return pressure


def dew_point_from_vapour_pressure(vapour_pressure: Quantity) -> Quantity:
    """Invert the saturation vapour pressure over liquid water.

    Parameters
    ----------
    vapour_pressure : float, (n,) array or Series [Pa]
        Above 0; NaN is returned elsewhere, since dry air has no dew point.

    Returns
    -------
    like the input [°C]
        Exact inverse of `saturation_vapour_pressure_pa` to 1e-9 K from -60 to 100 °C.
    """
    positive = np.where(np.asarray(vapour_pressure) > 0, 1.0, np.nan)
    log_pressure: Any = np.log(vapour_pressure * positive)
    ratio = log_pressure - np.log(MAGNUS_E0_PA)
    celsius = MAGNUS_B_CELSIUS * ratio / (MAGNUS_A - ratio)
    for _ in range(_NEWTON_ROUNDS):
        celsius = celsius - (_log_saturation_pressure(celsius) - log_pressure) / _log_saturation_slope(celsius)
    dew_point: Quantity = celsius
    return dew_point


def dew_point_celsius(rh_percent: Quantity, temperature_celsius: Quantity | float) -> Quantity:
    """Compute the dew point over liquid water.

    Parameters
    ----------
    rh_percent : float, (n,) array or Series [%RH]
        Above 0; NaN is returned at 0, since dry air has no dew point.
    temperature_celsius : like `rh_percent` [°C]

    Returns
    -------
    like the input [°C]

    Examples
    --------
    >>> round(dew_point_celsius(50.0, 20.0), 2)
    9.27
    """
    return dew_point_from_vapour_pressure(vapour_pressure_pa(rh_percent, temperature_celsius))


def rh_from_dew_point(dew_point: Quantity, temperature_celsius: Quantity | float) -> Quantity:
    """Compute the relative humidity [%RH] of air at `temperature_celsius` [°C] whose dew point is `dew_point` [°C]."""
    log_ratio = _log_saturation_pressure(dew_point) - _log_saturation_pressure(temperature_celsius)
    rh_percent: Quantity = 100 * np.exp(log_ratio)
    return rh_percent


def rh_at_temperature(
    rh_percent: Quantity, temperature_celsius: Quantity | float, other_celsius: Quantity | float
) -> Quantity:
    """Compute the RH that air would have at another temperature, its vapour pressure unchanged.

    From the room's RH and temperature and the inside temperature it makes the drive u of the exchange model: the RH
    that the room's vapour would have at the temperature inside the frame.

    Parameters
    ----------
    rh_percent, temperature_celsius : float, (n,) array or Series [%RH], [°C]
        The air as it is.
    other_celsius : like the others [°C]
        The temperature it is brought to.

    Returns
    -------
    like the input [%RH]
        Not limited to 100: above it, water would condense.

    Examples
    --------
    >>> round(rh_at_temperature(50.0, 20.0, 10.0), 1)
    95.2
    """
    log_ratio = _log_saturation_pressure(temperature_celsius) - _log_saturation_pressure(other_celsius)
    other: Quantity = rh_percent * np.exp(log_ratio)
    return other


def absolute_humidity_g_per_m3(rh_percent: Quantity, temperature_celsius: Quantity | float) -> Quantity:
    """Compute the mass of water vapour per volume of air [g/m³], as an ideal gas (0.2 % low at 30 °C)."""
    kelvin: Any = temperature_celsius + ZERO_CELSIUS_KELVIN
    concentration: Quantity = (
        1000 * vapour_pressure_pa(rh_percent, temperature_celsius) / (GAS_CONSTANT_VAPOUR * kelvin)
    )
    return concentration


def saturation_concentration_g_per_m3(temperature_celsius: Quantity) -> Quantity:
    """Compute the vapour concentration of saturated air, c_s [g/m³].

    Examples
    --------
    >>> round(saturation_concentration_g_per_m3(20.0), 2)
    17.29
    """
    kelvin = temperature_celsius + ZERO_CELSIUS_KELVIN
    return 1000 * saturation_vapour_pressure_pa(temperature_celsius) / (GAS_CONSTANT_VAPOUR * kelvin)


def mixing_ratio_g_per_kg(
    rh_percent: Quantity, temperature_celsius: Quantity | float, *, pressure_pa: float = STANDARD_PRESSURE_PA
) -> Quantity:
    """Compute the mixing ratio, water vapour per dry air [g/kg], at air pressure `pressure_pa` [Pa].

    References
    ----------
    ASHRAE Fundamentals (2017) ch. 1 Eq. 20, without the enhancement factor (0.5 % low at room temperature).
    """
    vapour = vapour_pressure_pa(rh_percent, temperature_celsius)
    return 1000 * MOLAR_MASS_RATIO * vapour / (pressure_pa - vapour)


def _log_saturation_pressure(temperature_celsius: Any) -> Any:
    """Return ln of the saturation vapour pressure in Pa."""
    c8, c9, c10, c11, c12, c13 = HYLAND_WEXLER_WATER
    kelvin = temperature_celsius + ZERO_CELSIUS_KELVIN
    return c8 / kelvin + c9 + kelvin * (c10 + kelvin * (c11 + kelvin * c12)) + c13 * np.log(kelvin)


def _log_saturation_slope(temperature_celsius: Any) -> Any:
    """Return the derivative of ln p by temperature [1/K]."""
    c8, _, c10, c11, c12, c13 = HYLAND_WEXLER_WATER
    kelvin = temperature_celsius + ZERO_CELSIUS_KELVIN
    return -c8 / kelvin**2 + c10 + 2 * c11 * kelvin + 3 * c12 * kelvin**2 + c13 / kelvin
