"""Long records made light enough for the browser: extremes survive, gaps stay gaps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from isohume.analysis.readings import bridge, seconds_utc

FloatArray = npt.NDArray[np.float64]
IndexArray = npt.NDArray[np.int64]

# Up to this many readings per bucket are sent as they are: thinning them would save little.
READINGS_PER_BUCKET_LEFT_ALONE = 3


class Clock(NamedTuple):
    """The times of a record [s since 1970], and the longest stretch between two of them that is no gap [s]."""

    seconds: FloatArray
    bridge_seconds: float

    @classmethod
    def of(cls, index: pd.DatetimeIndex) -> Clock:
        """Read the index of a record."""
        return cls(seconds_utc(index), bridge(index).total_seconds())


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """One quantity of one record, ready to be drawn in any window.

    Attributes
    ----------
    seconds : (n,) array [s since 1970, UTC]
        Times of the usable readings, increasing.
    quantity : (n,) array
        The readings; no NaN.
    bridge_seconds : float [s]
        The longest stretch between two readings that is drawn as a line; anything longer is a gap.
    """

    seconds: FloatArray
    quantity: FloatArray
    bridge_seconds: float

    @classmethod
    def of(cls, series: pd.Series[float], *, clock: Clock | None = None) -> Trace:
        """Take a series of the record contract (UTC index, float64, NaN where unusable).

        `clock` spares the work of reading its index where several series share one.
        """
        clock = clock or Clock.of(pd.DatetimeIndex(series.index))
        values = np.asarray(series, dtype=np.float64)
        usable = np.isfinite(values)
        if usable.all():
            return cls(seconds=clock.seconds, quantity=values, bridge_seconds=clock.bridge_seconds)
        return cls(seconds=clock.seconds[usable], quantity=values[usable], bridge_seconds=clock.bridge_seconds)

    def window(self, start: float, end: float, *, n_buckets: int) -> tuple[FloatArray, FloatArray]:
        """Return times and values to draw between `start` and `end` [s since 1970].

        Every bucket, one `n_buckets`-th of the window, keeps its smallest and its largest reading at their own times.
        A gap wider than a bucket keeps both its ends, with one NaN between them; a narrower one cannot be seen.

        Returns
        -------
        times, values : (m,) arrays
            At most four points per bucket, and one reading beyond either edge so that the line runs out of the window.
        """
        first = max(int(np.searchsorted(self.seconds, start, "left")) - 1, 0)
        last = min(int(np.searchsorted(self.seconds, end, "right")) + 1, self.seconds.size)
        seconds, values = self.seconds[first:last], self.quantity[first:last]
        bucket_seconds = (end - start) / n_buckets
        if seconds.size <= READINGS_PER_BUCKET_LEFT_ALONE * n_buckets:
            return with_gaps(seconds, values, longest_line=self.bridge_seconds)
        longest_line = max(self.bridge_seconds, bucket_seconds)
        kept = _extremes(values, _bucket_starts(seconds, start, bucket_seconds))
        gap_after = np.flatnonzero(np.diff(seconds) > longest_line)
        kept = np.unique(np.concatenate([kept, gap_after, gap_after + 1, [0, seconds.size - 1]]))
        return _split(seconds[kept], values[kept], np.searchsorted(kept, gap_after))


def with_gaps(seconds: FloatArray, values: FloatArray, *, longest_line: float) -> tuple[FloatArray, FloatArray]:
    """Put one NaN into every stretch between readings that is longer than `longest_line` [s]."""
    return _split(seconds, values, np.flatnonzero(np.diff(seconds) > longest_line))


def _split(seconds: FloatArray, values: FloatArray, gap_after: IndexArray) -> tuple[FloatArray, FloatArray]:
    if gap_after.size == 0:
        return seconds, values
    middles = (seconds[gap_after] + seconds[gap_after + 1]) / 2
    return np.insert(seconds, gap_after + 1, middles), np.insert(values, gap_after + 1, np.nan)


def _bucket_starts(seconds: FloatArray, start: float, bucket_seconds: float) -> IndexArray:
    """Return the position of the first reading of every bucket that holds one."""
    first_bucket = int((seconds[0] - start) // bucket_seconds)
    last_bucket = int((seconds[-1] - start) // bucket_seconds)
    edges = start + bucket_seconds * np.arange(first_bucket + 1, last_bucket + 1)
    return np.unique(np.concatenate([[0], np.searchsorted(seconds, edges)])).astype(np.int64)


def _extremes(values: FloatArray, starts: IndexArray) -> IndexArray:
    """Return the positions of each bucket's smallest and largest value, in any order."""
    sizes = np.diff(np.append(starts, values.size))
    bucket = np.repeat(np.arange(starts.size), sizes)
    found = []
    for extreme in (np.minimum.reduceat(values, starts), np.maximum.reduceat(values, starts)):
        candidates = np.flatnonzero(values == extreme[bucket])
        _, first_of_bucket = np.unique(bucket[candidates], return_index=True)
        found.append(candidates[first_of_bucket])
    return np.concatenate(found)
