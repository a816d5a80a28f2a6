"""Centred and trailing means on the hourly grid, defined only where their window is full.

The window runs from edge to edge of the piecewise-linear record: of the readings on its two edges half belongs to it
(weights ½, 1, … 1, ½). A centred 24-hour mean of 25 hourly values so removes the daily cycle entirely, and a 30-day
mean has the gain of the continuous one. Hours without a value are left out and the rest weighted up; each half of the
window needs its coverage, else the mean would drift towards the fuller half.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from isohume.analysis.constants import HOUR_SECONDS
from isohume.analysis.readings import seconds_utc

FloatArray = NDArray[np.float64]

# Design, definition 2: each half of a window must be covered by this share.
LEAST_COVERAGE = 0.8
_HOUR = pd.Timedelta(hours=1)


def centred_mean(
    hourly: pd.Series[float], *, window: pd.Timedelta, least_coverage: float = LEAST_COVERAGE
) -> pd.Series[float]:
    """Compute the centred moving average of an hourly record.

    Parameters
    ----------
    hourly : (n,) Series
        Complete hourly index as `readings.hourly` makes it; NaN where there is no reading.
    window : Timedelta
        An even number of hours.
    least_coverage : float
        Share of each half of the window that must hold values, 0 to 1.

    Returns
    -------
    (n,) Series
        Unit of the input. NaN where the window is not full or not covered, so half a window at either end.

    Raises
    ------
    ValueError
        The index is not hourly, or the window not an even number of hours.
    """
    half = _whole_hours(window) // 2
    if window != 2 * half * _HOUR:
        raise ValueError(f"Window {window}: a centred mean needs an even number of hours.")
    _check_hourly(hourly)
    return pd.Series(centred_means(_array(hourly), 2 * half, least_coverage), index=hourly.index, name=hourly.name)


def trailing_mean(
    hourly: pd.Series[float], *, window: pd.Timedelta, least_coverage: float = LEAST_COVERAGE
) -> pd.Series[float]:
    """Compute the mean of the window that ends with each hour.

    Parameters
    ----------
    hourly : (n,) Series
        Complete hourly index; NaN where there is no reading.
    window : Timedelta
        Whole hours.
    least_coverage : float
        Share of the whole window that must hold values, 0 to 1.

    Returns
    -------
    (n,) Series
        Unit of the input. NaN during the first window, and where the window is not covered.

    Raises
    ------
    ValueError
        The index is not hourly, or the window not whole hours.
    """
    length = _whole_hours(window)
    if window != length * _HOUR or length < 1:
        raise ValueError(f"Window {window}: a trailing mean needs whole hours.")
    _check_hourly(hourly)
    means = np.full(len(hourly), np.nan)
    if len(hourly) > length:
        level, weights, sums = _running_sums(_array(hourly), length)
        means[length:] = level + _divide(sums, weights, weights >= least_coverage * length)
    return pd.Series(means, index=hourly.index, name=hourly.name)


def centred_means(values: FloatArray, n_hours: int, least_coverage: float = LEAST_COVERAGE) -> FloatArray:
    """Compute the centred moving average of hourly values as an array; `n_hours` is the even window."""
    means = np.full(values.size, np.nan)
    half = n_hours // 2
    if values.size > n_hours:
        level, weights, sums = _running_sums(values, half)
        early, late = slice(None, -half), slice(half, None)
        enough = np.minimum(weights[early], weights[late]) >= least_coverage * half
        means[half:-half] = level + _divide(sums[early] + sums[late], weights[early] + weights[late], enough)
    return means


def _running_sums(values: FloatArray, length: int) -> tuple[float, FloatArray, FloatArray]:
    """Sum each stretch of `length` hours, its edges counted half.

    Returns a level, and for each of the n - `length` stretches the weight of the hours with values and the weighted
    sum of the values less the level. Taking the level off first keeps the running total short and exact.
    """
    known = ~np.isnan(values)
    level = float(values[known].mean()) if known.any() else 0.0
    centred = np.where(known, values - level, 0.0)
    return level, _edge_to_edge(known.astype(np.float64), length), _edge_to_edge(centred, length)


def _edge_to_edge(values: FloatArray, length: int) -> FloatArray:
    total = np.concatenate(([0.0], np.cumsum((values[:-1] + values[1:]) / 2)))
    sums: FloatArray = total[length:] - total[:-length]
    return sums


def _divide(sums: FloatArray, weights: FloatArray, enough: NDArray[np.bool_]) -> FloatArray:
    means = np.full(sums.size, np.nan)
    np.divide(sums, weights, out=means, where=enough & (weights > 0))
    return means


def _array(series: pd.Series[float]) -> FloatArray:
    return np.asarray(series.to_numpy(), dtype=np.float64)


def _whole_hours(window: pd.Timedelta) -> int:
    return int(window // _HOUR)


def _check_hourly(hourly: pd.Series[float]) -> None:
    if not (np.diff(seconds_utc(pd.DatetimeIndex(hourly.index))) == HOUR_SECONDS).all():
        raise ValueError(f"{hourly.name}: the index must step by one hour without a break. Use readings.hourly first.")
