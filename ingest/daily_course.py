"""The daily course of the temperature, and by how much one record runs behind another."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from isohume.analysis.readings import TEMPERATURE, TIME
from isohume.ingest.clock_changes import Int64Array
from isohume.ingest.flags import FLAGS, excluding_mask
from isohume.ingest.quality_tests import FloatArray

HOUR_US, DAY_US = 3_600_000_000, 86_400_000_000
GRID_US = HOUR_US // 6
PER_HOUR, PER_DAY = HOUR_US // GRID_US, DAY_US // GRID_US
# Readings farther apart than this leave a gap: the course of a day is not known from a few of its hours.
LONGEST_BRIDGE_US = 3 * HOUR_US
WINDOW = 14 * PER_DAY
LARGEST_LAG = 4 * PER_HOUR
# Common practice: below these nothing is concluded from a window.
LEAST_SWING_KELVIN = 0.1
LEAST_CORRELATION = 0.6
LEAST_COVERAGE = 0.7
LEAST_COURSE_CORRELATION = 0.8


@dataclass(frozen=True, slots=True)
class Course:
    """A temperature record on a grid of 10 minutes, without its slow part.

    Attributes
    ----------
    times_us : (n,) int64 [µs since 1970, UTC]
    kelvin : (n,) array [K]
        Departure from the mean of the 24 h around; NaN in gaps.
    """

    times_us: Int64Array
    kelvin: FloatArray

    def daily(self, start_us: int, end_us: int, offset_us: int) -> FloatArray | None:
        """Return the mean departure by the time of day (144 values from midnight at the offset), None if unclear."""
        rows = slice(*np.searchsorted(self.times_us, (start_us, end_us)))
        known = ~np.isnan(self.kelvin[rows])
        if known.sum() < LEAST_COVERAGE * (end_us - start_us) / GRID_US:
            return None
        time_of_day = ((self.times_us[rows][known] + offset_us) // GRID_US) % PER_DAY
        counts = np.bincount(time_of_day, minlength=PER_DAY)
        if not counts.all():
            return None
        course = np.bincount(time_of_day, weights=self.kelvin[rows][known], minlength=PER_DAY) / counts
        return None if course.std() < LEAST_SWING_KELVIN else course


def on_grid(table: pl.DataFrame) -> Course | None:
    """Put the usable temperatures of one channel on the grid; None with less than two days of them."""
    usable = table.filter(
        pl.col(TEMPERATURE).is_not_null() & pl.col(TEMPERATURE).is_not_nan()
        & ((pl.col(FLAGS) & excluding_mask("temperature")) == 0)
    ).sort(TIME)  # fmt: skip
    times_us = usable[TIME].to_physical().to_numpy()
    if times_us.size < 2 or times_us[-1] - times_us[0] < 2 * DAY_US:
        return None
    grid_us = np.arange(-(-times_us[0] // GRID_US) * GRID_US, times_us[-1] + 1, GRID_US)
    kelvin = np.interp(grid_us, times_us, usable[TEMPERATURE].to_numpy())
    following = np.clip(np.searchsorted(times_us, grid_us), 1, times_us.size - 1)
    kelvin[times_us[following] - times_us[following - 1] > LONGEST_BRIDGE_US] = np.nan
    series = pl.Series(kelvin, nan_to_null=True)
    slow = series.rolling_mean(PER_DAY + 1, min_samples=int(LEAST_COVERAGE * PER_DAY), center=True)
    return Course(times_us=grid_us, kelvin=(series - slow).to_numpy())


def lags(course: Course | None, other: Course | None) -> tuple[Int64Array, FloatArray] | None:
    """Return how far one record runs behind another, for each fortnight they share.

    What is compared is how each day differs from the usual day of its fortnight: weather, visitors and a door left
    open reach two loggers of one building at the same moment. The usual day itself would not do, for one room may
    follow the sun and another the heating's clock, an hour apart in summer with both loggers right.

    Returns
    -------
    (middles [µs], lags [h]) or None
        Positive: the first runs behind. Fortnights that show nothing are left out; None without any.
    """
    if course is None or other is None:
        return None
    first = max(course.times_us[0], other.times_us[0])
    last = min(course.times_us[-1], other.times_us[-1])
    n_shared = int((last - first) // GRID_US) + 1
    if n_shared < WINDOW:
        return None
    mine, theirs = (c.kelvin[int((first - c.times_us[0]) // GRID_US) :][:n_shared] for c in (course, other))
    middles, hours = [], []
    for start in range(0, n_shared - WINDOW + 1, WINDOW):
        lag = _lag(_unusual(mine[start : start + WINDOW]), _unusual(theirs[start : start + WINDOW]))
        if lag is not None:
            middles.append(int(first) + (start + WINDOW // 2) * GRID_US)
            hours.append(lag)
    return (np.array(middles, dtype=np.int64), np.array(hours)) if middles else None


def _unusual(kelvin: FloatArray) -> FloatArray:
    """Return a fortnight's departures from its usual day."""
    days = kelvin.reshape(-1, PER_DAY)
    known = ~np.isnan(days)
    counts = np.maximum(known.sum(axis=0), 1)
    usual = np.where(known, days, 0.0).sum(axis=0) / counts
    return np.asarray((days - usual).ravel())


def _lag(mine: FloatArray, theirs: FloatArray) -> float | None:
    """Return the lag [h] at which two records of equal length agree best, None where they hardly do."""
    inner = mine[LARGEST_LAG:-LARGEST_LAG]
    correlations = np.array(
        [
            _correlation(inner, theirs[LARGEST_LAG - lag : theirs.size - LARGEST_LAG - lag])
            for lag in range(-LARGEST_LAG, LARGEST_LAG + 1)
        ]
    )
    best = int(np.argmax(correlations))
    if correlations[best] < LEAST_CORRELATION or best in (0, correlations.size - 1):
        return None
    return (best - LARGEST_LAG + _vertex(correlations[best - 1 : best + 2])) / PER_HOUR


def compare_courses(before: FloatArray | None, after: FloatArray | None) -> float | None:
    """Return by how much the course of the day comes later afterwards [h], None where the two are not alike."""
    if before is None or after is None:
        return None
    shifts = np.arange(-LARGEST_LAG, LARGEST_LAG + 1)
    correlations = np.array([np.corrcoef(np.roll(before, shift), after)[0, 1] for shift in shifts])
    best = int(np.argmax(correlations))
    if correlations[best] < LEAST_COURSE_CORRELATION or best in (0, shifts.size - 1):
        return None
    return float(shifts[best] + _vertex(correlations[best - 1 : best + 2])) / PER_HOUR


def _correlation(one: FloatArray, other: FloatArray) -> float:
    known = ~(np.isnan(one) | np.isnan(other))
    if known.sum() < LEAST_COVERAGE * one.size:
        return -1.0
    one, other = one[known], other[known]
    if min(one.std(), other.std()) < LEAST_SWING_KELVIN:
        return -1.0
    return float(np.corrcoef(one, other)[0, 1])


def _vertex(three: FloatArray) -> float:
    """Return where the parabola through three neighbouring values peaks, from the middle one."""
    bend = three[0] - 2 * three[1] + three[2]
    return float((three[0] - three[2]) / (2 * bend)) if bend < 0 else 0.0
