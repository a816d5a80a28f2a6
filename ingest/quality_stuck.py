"""When does a reading that does not change accuse the sensor? A tight frame is calm for days, and rightly so.

A value that stands still is held against what moves: the other quantity of the same logger, which the sealed air
answers too (0.2-0.4 %RH per kelvin in a buffered frame), and the record's own usual day. So a calm frame in a calm
room is never accused, however long its value stays within one digit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from isohume.ingest.clock_changes import BoolArray, Int64Array
from isohume.ingest.quality_tests import SUSPECT, FloatArray, flat_line

HOUR_US, DAY_US = 3_600_000_000, 86_400_000_000
# Records are scanned in half days: a value that stands still for a day fills at least one of them.
SCAN_US = DAY_US // 2
RESOLUTION_SAMPLE = 20_000
SMALLEST_RESOLUTION = 0.005  # finer differences are computed, not logged


@dataclass(frozen=True, slots=True, kw_only=True)
class StuckRule:
    """How long a quantity may stand still while the other one moves. All values are common practice.

    Attributes
    ----------
    unusual_after_days, usual_day_in_digits, other_moved : float
        Unusual: still for so long, in a record whose usual day moves by so many of its digits, while the other
        quantity moved by at least this much and half of its own usual day.
    long_after_days, other_moved_far, other_moved_digits : float
        Long: still for so long (at 0.1 resolution; with its square where coarser, because noise no longer reaches
        the next digit), while the other quantity moved by this much, and by so many times the digit of this one.
    both_after_days, alone_after_days : float
        Both quantities still, or no other quantity to compare with (at 0.1 resolution; in proportion where coarser).
    """

    unusual_after_days: float = 1.0
    usual_day_in_digits: float = 10.0
    other_moved: float
    long_after_days: float
    other_moved_far: float
    other_moved_digits: float
    both_after_days: float = 14.0
    alone_after_days: float = 30.0


# A frame answers 1 K with 0.1 %RH at least: 20 digits of RH in kelvins are 2 digits of RH.
RH_STUCK = StuckRule(other_moved=1.0, long_after_days=3.0, other_moved_far=2.0, other_moved_digits=20.0)
# Temperature in a store below ground stands for days while the humidity does not: it gets a week and 5 %RH.
TEMPERATURE_STUCK = StuckRule(other_moved=2.0, long_after_days=7.0, other_moved_far=5.0, other_moved_digits=0.0)


def resolution(values: FloatArray) -> float:
    """Return the smallest step between the values that occur, the last digit of the logger; 0 for a single value."""
    sample = values[:: max(1, values.size // RESOLUTION_SAMPLE)]
    steps = np.diff(np.sort(sample))
    steps = steps[steps >= SMALLEST_RESOLUTION]
    return float(steps.min()) if steps.size else 0.0


def stuck_rows(
    times_us: Int64Array, values: FloatArray, other: FloatArray, step_us: int, rule: StuckRule
) -> BoolArray:
    """Return which values belong to a stretch over which the sensor stood still.

    Parameters
    ----------
    times_us : (n,) int64 [µs]
        Increasing.
    values : (n,) array
        The quantity judged, without NaN.
    other : (n,) array
        The other quantity of the same rows, NaN where missing.
    step_us : int [µs]
        Nominal step of the channel.
    rule : StuckRule
    """
    stuck = np.zeros(values.size, dtype=bool)
    n_scan = max(2, SCAN_US // step_us)
    starts = np.arange(0, values.size, n_scan)
    lows, highs = np.minimum.reduceat(values, starts), np.maximum.reduceat(values, starts)
    still = lows == highs
    # The last block may be short, or a single value: it is still only if the one before is.
    if still.size > 1 and values.size % n_scan:
        still[-1] &= still[-2]
    if not still.any():
        return stuck

    digit = max(resolution(values), SMALLEST_RESOLUTION)
    blocks = np.flatnonzero(np.convolve(still, [1, 1, 1])[1:-1])
    rows = (blocks[:, None] * n_scan + np.arange(n_scan)).ravel()
    rows = rows[rows < values.size]
    joined = np.insert(values[rows], breaks := np.flatnonzero(np.diff(rows) > 1) + 1, np.nan)
    after_s = rule.unusual_after_days * 86_400
    codes = flat_line(
        np.arange(joined.size) * step_us / 1e6,
        joined,
        suspect_after_s=after_s,
        fail_after_s=after_s,
        tolerance=digit / 2,
    )
    is_end = np.delete(codes, breaks + np.arange(breaks.size)) >= SUSPECT
    days = _Days.of(lows, highs, other, starts)
    n_window = int(rule.unusual_after_days * DAY_US // step_us)
    ends = np.flatnonzero(is_end & ~np.append(is_end[1:] & (np.diff(rows) == 1), False))
    begins = np.flatnonzero(is_end & ~np.append(False, is_end[:-1] & (np.diff(rows) == 1)))
    for begin, end in zip(rows[begins] - n_window, rows[ends] + 1, strict=True):
        stretch = slice(max(0, int(begin)), int(end))
        if days.accuse(times_us[stretch], other[stretch], digit, rule):
            stuck[stretch] = True
    return stuck


@dataclass(frozen=True, slots=True)
class _Days:
    """What a usual day of the record looks like."""

    usual_range: float
    other_usual_range: float
    other_digit: float

    @classmethod
    def of(cls, lows: FloatArray, highs: FloatArray, other: FloatArray, starts: Int64Array) -> _Days:
        known = other[~np.isnan(other)]
        other_lows, other_highs = np.fmin.reduceat(other, starts), np.fmax.reduceat(other, starts)
        return cls(
            usual_range=_usual_day(lows, highs),
            other_usual_range=_usual_day(other_lows, other_highs),
            other_digit=max(resolution(known), SMALLEST_RESOLUTION) if known.size else np.nan,
        )

    def accuse(self, times_us: Int64Array, other: FloatArray, digit: float, rule: StuckRule) -> bool:
        """Return whether standing still over this stretch is the sensor's fault."""
        duration_days = (times_us[-1] - times_us[0]) / DAY_US
        coarse = max(1.0, digit / 0.1)
        known = other[~np.isnan(other)]
        if known.size < 2:
            return bool(duration_days >= rule.alone_after_days * coarse)
        moved = float(known.max() - known.min())
        if moved < self.other_digit / 2:
            coarsest = max(coarse, self.other_digit / 0.1)
            return bool(duration_days >= rule.both_after_days * coarsest)
        is_unusual = (
            self.usual_range >= rule.usual_day_in_digits * digit
            and moved >= rule.other_moved
            and moved >= self.other_usual_range / 2
        )
        is_long = duration_days >= rule.long_after_days * coarse**2 and moved >= max(
            rule.other_moved_far, rule.other_moved_digits * digit
        )
        return bool(is_unusual or is_long)


def _usual_day(lows: FloatArray, highs: FloatArray) -> float:
    """Return the median range of a day, from the extremes of half days; 0 for less than a day."""
    n_days = lows.size // 2
    if n_days == 0:
        return 0.0
    day_highs = np.fmax.reduceat(highs[: 2 * n_days], np.arange(0, 2 * n_days, 2))
    day_lows = np.fmin.reduceat(lows[: 2 * n_days], np.arange(0, 2 * n_days, 2))
    ranges = day_highs - day_lows
    ranges = ranges[~np.isnan(ranges)]
    return float(np.median(ranges)) if ranges.size else 0.0
