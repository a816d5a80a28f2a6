"""What of a record is the logger's own: noise from reading to reading, and the step of its display."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from isohume.analysis.readings import seconds_utc

FloatArray = NDArray[np.float64]

# A year of 5-min readings tells noise and resolution as well as ten do.
_NEWEST_READINGS = 105_120
_LAGS = (1, 2, 3)
_FEWEST_PAIRS = 100
# Differences are multiples of the resolution when nearly all lie this close to a whole number of it.
_LATTICE_TOLERANCE = 0.05
_LATTICE_SHARE = 0.99
_FLOAT_DUST = 1e-6


def noise_variance(values: FloatArray) -> float:
    """Estimate the variance of the noise that is independent from one evenly spaced value to the next.

    The mean square differences v(h) = ½·E[y(t+h) - y(t)]² at one, two and three steps are run back to h = 0 by a
    parabola: 3·v(1) - 3·v(2) + v(3). What remains there is noise that no smoothness explains. Plain second differences
    would take the innovations of an autocorrelated climate for noise; this third-order form removes a linear start of
    v (autocorrelated weather) as well as a parabolic one (smooth buffered air).

    Parameters
    ----------
    values : (n,) array
        Evenly spaced; NaN where there is no reading.

    Returns
    -------
    float [unit squared]
        Not below 0; 0 with fewer than 100 pairs.
    """
    half_squares = []
    for lag in _LAGS:
        differences = values[lag:] - values[:-lag]
        differences = differences[~np.isnan(differences)]
        if differences.size < _FEWEST_PAIRS:
            return 0.0
        half_squares.append(float(differences @ differences) / (2 * differences.size))
    one, two, three = half_squares
    return max(0.0, 3 * one - 3 * two + three)


def resolution(values: FloatArray) -> float:
    """Find the step of which all differences between successive readings are multiples.

    Parameters
    ----------
    values : (n,) array
        In order of time; NaN where there is no reading.

    Returns
    -------
    float
        Unit of the values; 0 where the readings lie on no common step, or never change.
    """
    steps = np.abs(np.diff(values[~np.isnan(values)]))
    steps = steps[steps > _FLOAT_DUST]
    if steps.size == 0:
        return 0.0
    smallest = float(steps.min())
    multiples = steps / smallest
    on_lattice = np.abs(multiples - np.rint(multiples)) < _LATTICE_TOLERANCE
    return smallest if on_lattice.mean() >= _LATTICE_SHARE else 0.0


def coarse_step(series: pd.Series[float]) -> float:
    """Return the logger's resolution where its noise is too small to average it away, else 0.

    Noise of at least half a step spreads the readings over several steps, and means come out finer than the step. With
    less noise the rounding error stays the same from reading to reading and no mean removes it.
    """
    newest = series.iloc[-_NEWEST_READINGS:]
    values = np.asarray(newest.to_numpy(), dtype=np.float64)
    step = resolution(values)
    if step == 0:
        return 0.0
    seconds = seconds_utc(pd.DatetimeIndex(newest.index))
    spacing, counts = np.unique(np.diff(seconds), return_counts=True)
    even = np.append(True, np.diff(seconds) == spacing[counts.argmax()])
    noise = max(0.0, noise_variance(np.where(even, values, np.nan)) - step**2 / 12)
    return step if np.sqrt(noise) < step / 2 else 0.0
