"""Moisture that wood holds in equilibrium with the air: the handbook's sorption equation, its slope, its inverse."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from isohume.analysis.psychrometrics import Quantity

FloatArray = NDArray[np.float64]

# Wood Handbook (FPL-GTR-282, 2021; same in GTR-190, 2010) Eq. 4-5, coefficients for °C: c0 + c1·t + c2·t².
# Table 4-2 behind it covers -1.1 to 132 °C and 5 to 95 %RH; anything else is extrapolation.
_W = (349.0, 1.29, 0.0135)
_K = (0.805, 0.000736, -0.00000273)
_K1 = (6.27, -0.00938, -0.000303)
_K2 = (1.91, 0.0407, -0.000293)
_NUMERATOR = 1800.0

_MOST_ROUNDS = 60  # bisection alone would then reach 1e-16; Newton's steps end after about six
_TOLERANCE = 1e-12  # of RH as a fraction


class _Terms(NamedTuple):
    """Temperature-dependent terms of Eq. 4-5."""

    scale: FloatArray  # 1800 / W [%]
    k: FloatArray
    k1: FloatArray
    k1k2: FloatArray


def emc_percent(rh_percent: Quantity, temperature_celsius: Quantity | float) -> Quantity:
    """Compute the equilibrium moisture content of wood.

    Parameters
    ----------
    rh_percent : float, (n,) array or Series [%RH]
        0 to 100; the table behind the equation covers 5 to 95.
    temperature_celsius : float, (n,) array or Series [°C]
        From -1.1 °C; colder is extrapolation.

    Returns
    -------
    like the input [% of dry mass]
        NaN where an input is NaN. Between adsorption and desorption, mostly Sitka spruce; species differ little below
        70 %RH and much near saturation.

    References
    ----------
    USDA Wood Handbook, FPL-GTR-282 (2021), Eq. 4-5; meets its Table 4-2 to the rounding of the table.

    Examples
    --------
    >>> round(emc_percent(50.0, 20.0), 3)
    9.271
    """
    terms = _terms(temperature_celsius)
    percent: Quantity = terms.scale * _shape(terms, rh_percent / 100)
    return percent


def emc_slope(rh_percent: Quantity, temperature_celsius: Quantity | float) -> Quantity:
    """Compute the slope of the sorption isotherm, % of dry mass per %RH.

    Ten times the slope is the moisture reservoir of wood in g per kg and %RH.

    Examples
    --------
    >>> round(emc_slope(50.0, 20.0), 3)
    0.161
    """
    terms = _terms(temperature_celsius)
    slope: Quantity = terms.scale * _shape_slope(terms, rh_percent / 100) / 100
    return slope


def rh_for_emc(emc: Quantity, temperature_celsius: Quantity | float) -> Quantity:
    """Invert the sorption equation: the RH at which wood keeps the moisture content `emc`.

    Parameters
    ----------
    emc : float, (n,) array or Series [% of dry mass]
    temperature_celsius : float, (n,) array or Series [°C]

    Returns
    -------
    like the input [%RH]
        NaN where `emc` is negative, or above the equation's value at 100 %RH (28.8 % at 20 °C): liquid water then.

    Examples
    --------
    >>> round(rh_for_emc(9.271, 20.0), 2)
    50.0
    """
    terms = _terms(temperature_celsius)
    target = np.asarray(emc, dtype=np.float64) / terms.scale
    low, high = np.zeros_like(target), np.ones_like(target)
    humidity = np.full_like(target, 0.5)
    for _ in range(_MOST_ROUNDS):
        excess = _shape(terms, humidity) - target
        low, high = np.where(excess <= 0, humidity, low), np.where(excess >= 0, humidity, high)
        newton = humidity - excess / _shape_slope(terms, humidity)
        following = np.where((newton >= low) & (newton <= high), newton, (low + high) / 2)
        step = np.abs(following - humidity)
        humidity = following
        if not (step > _TOLERANCE).any():
            break
    possible = (target >= 0) & (target <= _shape(terms, np.ones_like(target)))
    percent = np.where(possible, 100 * humidity, np.nan)
    rh_percent: Quantity = emc * 0 + percent  # type: ignore[assignment]  # takes the kind of `emc`, and its index
    return rh_percent


def _terms(temperature_celsius: ArrayLike) -> _Terms:
    celsius = np.asarray(temperature_celsius, dtype=np.float64)
    w, k, k1, k2 = (c0 + celsius * (c1 + celsius * c2) for c0, c1, c2 in (_W, _K, _K1, _K2))
    return _Terms(scale=_NUMERATOR / w, k=k, k1=k1, k1k2=k1 * k2)


def _shape(terms: _Terms, humidity: Any) -> Any:
    """Return the moisture content relative to `scale`, at RH as a fraction."""
    kh = terms.k * humidity
    first, second = terms.k1 * kh, terms.k1k2 * kh * kh
    return kh / (1 - kh) + (first + 2 * second) / (1 + first + second)


def _shape_slope(terms: _Terms, humidity: Any) -> Any:
    """Return the derivative of `_shape` by RH as a fraction."""
    kh = terms.k * humidity
    first, second = terms.k1 * kh, terms.k1k2 * kh * kh
    bound = (terms.k1 + 4 * terms.k1k2 * kh + first * terms.k1k2 * kh) / (1 + first + second) ** 2
    return terms.k * (1 / (1 - kh) ** 2 + bound)
