"""The published tests of single readings, each answering with the QARTOD codes.

Definitions follow the QARTOD manual for temperature and salinity observations (NOAA IOOS, 2020); the Hampel
identifier is common practice. Every function takes one series and returns one code per value; a missing value (NaN)
gets MISSING, a value whose neighbours are missing gets NOT_EVALUATED where its test needs them.
"""

from __future__ import annotations

import numpy as np
import polars as pl

FloatArray = np.ndarray[tuple[int], np.dtype[np.float64]]
Codes = np.ndarray[tuple[int], np.dtype[np.uint8]]

PASS, NOT_EVALUATED, SUSPECT, FAIL, MISSING = 1, 2, 3, 4, 9

# The scatter of normal errors is 1.4826 times their median absolute deviation, 1 / Φ⁻¹(3/4).
MAD_TO_SIGMA = 1.4826


def gross_range(
    values: FloatArray, *, fail_span: tuple[float, float], suspect_span: tuple[float, float] | None = None
) -> Codes:
    """Return FAIL outside one span and SUSPECT outside a narrower one; the ends belong to the spans.

    Examples
    --------
    >>> gross_range(np.array([50.0, 101.0, np.nan]), fail_span=(0.0, 100.0))
    array([1, 4, 9], dtype=uint8)
    """
    codes = np.full(values.size, PASS, dtype=np.uint8)
    if suspect_span is not None:
        codes[(values < suspect_span[0]) | (values > suspect_span[1])] = SUSPECT
    codes[(values < fail_span[0]) | (values > fail_span[1])] = FAIL
    codes[np.isnan(values)] = MISSING
    return codes


def spike_average(values: FloatArray, *, suspect_threshold: float, fail_threshold: float) -> Codes:
    """Judge the distance of each value from the average of its two neighbours.

    The neighbours of a large spike are accused with it: the average that they are measured against holds the spike.
    """
    distance = np.full(values.size, np.nan)
    distance[1:-1] = np.abs(values[1:-1] - (values[:-2] + values[2:]) / 2)
    return _judged(values, distance, suspect_threshold, fail_threshold)


def spike_neighbours(values: FloatArray, *, suspect_threshold: float, fail_threshold: float) -> Codes:
    """Judge the smaller of the two distances to the neighbours, where both lie on the same side of the value.

    Only the spike itself is accused, and no step is: a value on a slope has a neighbour on either side.

    Examples
    --------
    >>> spike_neighbours(np.array([50.0, 50.0, 62.0, 50.0, 50.0]), suspect_threshold=5, fail_threshold=10)
    array([2, 1, 4, 1, 2], dtype=uint8)
    """
    distance = np.full(values.size, np.nan)
    before, after = values[1:-1] - values[:-2], values[1:-1] - values[2:]
    same_side = before * after  # NaN beside a missing value, which the product with 0 keeps
    distance[1:-1] = np.where(same_side > 0, np.minimum(np.abs(before), np.abs(after)), 0 * same_side)
    return _judged(values, distance, suspect_threshold, fail_threshold)


def _judged(values: FloatArray, distance: FloatArray, suspect_threshold: float, fail_threshold: float) -> Codes:
    codes = np.full(values.size, PASS, dtype=np.uint8)
    codes[distance > suspect_threshold] = SUSPECT
    codes[distance > fail_threshold] = FAIL
    codes[np.isnan(distance)] = NOT_EVALUATED
    codes[np.isnan(values)] = MISSING
    return codes


def hampel(values: FloatArray, *, half_width: int, n_sigma: float, floor: float) -> Codes:
    """Judge the distance of each value from the median of the values around it.

    SUSPECT where the distance exceeds the floor and `n_sigma` times the scatter of the window (from its median
    absolute deviation). The floor keeps a calm record, whose scatter is that of its last digit, from being accused.
    NOT_EVALUATED with fewer than 5 values in the window of 2 · half_width + 1.

    Examples
    --------
    >>> calm = np.full(9, 50.0)
    >>> calm[[4, 5]] = 56.0
    >>> hampel(calm, half_width=3, n_sigma=5, floor=3.0)
    array([2, 1, 1, 1, 3, 3, 1, 1, 2], dtype=uint8)
    """
    width = 2 * half_width + 1
    series = pl.Series(values, nan_to_null=True)
    median = series.rolling_median(width, min_samples=5, center=True).to_numpy()
    distance = np.abs(values - median)
    codes = np.full(values.size, PASS, dtype=np.uint8)
    codes[np.isnan(median)] = NOT_EVALUATED
    far = np.flatnonzero(distance > floor)
    if far.size:
        padded = np.pad(values, half_width, constant_values=np.nan)
        windows = np.lib.stride_tricks.sliding_window_view(padded, width)[far]
        scatter = MAD_TO_SIGMA * np.nanmedian(np.abs(windows - median[far, None]), axis=1)
        codes[far[distance[far] > n_sigma * scatter]] = SUSPECT
    codes[np.isnan(values)] = MISSING
    return codes


def rate_of_change(
    seconds: FloatArray, values: FloatArray, *, threshold_per_s: float, smallest_change: float = 0.0
) -> Codes:
    """Judge the change from each value to the next by time: SUSPECT where it was faster than the threshold.

    A value with nothing before it passes, as the manual has it.

    Parameters
    ----------
    seconds, values : (n,) arrays
        Times [s], increasing, and the values.
    threshold_per_s : float
        Largest plausible rate.
    smallest_change : float
        A change smaller than this passes at any rate: noise over a short step is no fast change of the air.
    """
    codes = np.full(values.size, PASS, dtype=np.uint8)
    change = np.abs(np.diff(values))
    is_fast = (change > threshold_per_s * np.diff(seconds)) & (change > smallest_change)
    codes[1:][is_fast] = SUSPECT
    codes[np.isnan(values)] = MISSING
    return codes


def flat_line(
    seconds: FloatArray, values: FloatArray, *, suspect_after_s: float, fail_after_s: float, tolerance: float
) -> Codes:
    """Judge how long the values up to each one have stayed within a tolerance.

    Durations are turned into whole numbers of the median interval, as in the public implementation of the manual.

    Parameters
    ----------
    seconds, values : (n,) arrays
        Times [s], increasing, and the values.
    suspect_after_s, fail_after_s : float [s]
    tolerance : float
        The range of the values, largest minus smallest, stays below it.
    """
    codes = np.full(values.size, PASS, dtype=np.uint8)
    if values.size > 1:
        interval_s = float(np.median(np.diff(seconds)))
        series = pl.Series(values, nan_to_null=True)
        for after_s, code in ((suspect_after_s, SUSPECT), (fail_after_s, FAIL)):
            n_values = int(after_s // interval_s) + 1
            if n_values <= values.size:
                spread = series.rolling_max(n_values) - series.rolling_min(n_values)
                codes[(spread < tolerance).fill_null(value=False).to_numpy()] = code
    codes[np.isnan(values)] = MISSING
    return codes
