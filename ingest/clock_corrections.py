"""A clock that was set wrong, or that runs fast or slow: corrections with validity, added up, and taken back.

What is stored stays at the logger's own times; a correction says what to add to them from one moment to another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl

from isohume.ingest.clock_changes import EPOCH

MICROSECOND = timedelta(microseconds=1)
FloatArray = np.ndarray[tuple[int], np.dtype[np.float64]]
# A quartz clock errs by a few seconds a day, a bad one by a minute; more is a clock that was set, not one that drifts.
LARGEST_DRIFT_SECONDS_PER_DAY = 600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockShift:
    """What to add to the times of a logger, from one of its own times to another.

    Attributes
    ----------
    start : datetime
        First logger time it holds for, aware.
    end : datetime or None
        First logger time it no longer holds for; None: for good.
    add_seconds : float [s]
        To add at the start: positive for a clock that was slow.
    add_seconds_at_end : float or None [s]
        To add at the end, on a straight line from the start; None: the same throughout.
    why : str
        Where this is known from.
    """

    start: datetime
    end: datetime | None = None
    add_seconds: float
    add_seconds_at_end: float | None = None
    why: str = ""

    def __post_init__(self) -> None:
        """Refuse a correction that cannot be applied or taken back.

        Raises
        ------
        ValueError
            A time without offset, an end before the start, a drift without end, or one that no clock has.
        """
        if self.start.tzinfo is None or (self.end is not None and self.end.tzinfo is None):
            raise ValueError("The times of a clock correction need a UTC offset, as in 2025-03-01T09:30+01:00.")
        if self.end is not None and self.end <= self.start:
            raise ValueError(f"The clock correction ends ({self.end}) before it starts ({self.start}).")
        if self.add_seconds_at_end is None:
            return
        if self.end is None:
            raise ValueError("A drifting clock needs the logger time at which its error was seen: give the end.")
        days = (self.end - self.start) / timedelta(days=1)
        per_day = abs(self.add_seconds_at_end - self.add_seconds) / days
        if per_day > LARGEST_DRIFT_SECONDS_PER_DAY:
            raise ValueError(
                f"A drift of {per_day:.0f} s per day is no clock's ({LARGEST_DRIFT_SECONDS_PER_DAY:.0f} at most): "
                "the clock was set wrong or set anew. Give a constant correction for each stretch."
            )

    def in_words(self) -> str:
        """Return the correction as a sentence."""
        until = f"to {_moment(self.end)}" if self.end else "on"
        span = f"from {_moment(self.start)} {until}"
        why = f" ({self.why})" if self.why else ""
        if self.add_seconds_at_end is None:
            return f"The clock was {_error(self.add_seconds)} {span}{why}."
        return (
            f"The clock ran from {_error(self.add_seconds)} to {_error(self.add_seconds_at_end)} evenly, {span}{why}."
        )


def drift_seen_at_read_out(
    *, set_at: datetime, shown_at_read_out: datetime, true_at_read_out: datetime, why: str = ""
) -> ClockShift:
    """Return the correction of a clock that was right when set and wrong when the logger was read out.

    Examples
    --------
    >>> from datetime import datetime, UTC
    >>> drift_seen_at_read_out(
    ...     set_at=datetime(2025, 1, 1, tzinfo=UTC),
    ...     shown_at_read_out=datetime(2025, 7, 1, 12, 4, tzinfo=UTC),
    ...     true_at_read_out=datetime(2025, 7, 1, 12, 0, tzinfo=UTC),
    ... ).in_words()
    'The clock ran from right to 4 min fast evenly, from 2025-01-01 00:00 UTC to 2025-07-01 12:04 UTC.'
    """
    error = (true_at_read_out - shown_at_read_out).total_seconds()
    return ClockShift(start=set_at, end=shown_at_read_out, add_seconds=0.0, add_seconds_at_end=error, why=why)


def to_true_time(utc: pl.Series, shifts: Sequence[ClockShift]) -> pl.Series:
    """Return where the times of a logger belong; shifts that hold at once add up.

    Parameters
    ----------
    utc : Series of Datetime("us", "UTC")
        Times by the logger's clock, in any order; null stays null.
    shifts : sequence of ClockShift
    """
    if not shifts or utc.is_empty():
        return utc
    logger_us = utc.to_physical().fill_null(0).to_numpy()
    starts_us, added_us, slopes = _segments(shifts)
    segment = np.searchsorted(starts_us, logger_us, side="right")
    # Differences first: µs since 1970 times a slope would lose microseconds in float64.
    from_start = logger_us - np.append(starts_us[0], starts_us)[segment]
    moved = logger_us + np.rint(added_us[segment] + slopes[segment] * from_start).astype(np.int64)
    return _times(utc, moved)


def to_logger_time(true_utc: pl.Series, shifts: Sequence[ClockShift]) -> pl.Series:
    """Return what the logger's clock showed at true times: the inverse of `to_true_time`.

    Where a clock was set back two of its times were the same moment; the later one, by its own count, is returned.
    Null where the clock skipped a moment when it was set.
    """
    if not shifts or true_utc.is_empty():
        return true_utc
    true_us = true_utc.to_physical().fill_null(0).to_numpy()
    starts_us, added_us, slopes = _segments(shifts)
    shown = np.zeros_like(true_us)
    is_known = np.zeros(true_us.size, dtype=bool)
    for segment in range(added_us.size):
        start = starts_us[max(0, segment - 1)]
        from_start = np.rint((true_us - start - added_us[segment]) / (1 + slopes[segment])).astype(np.int64)
        after = from_start >= 0 if segment else np.ones(true_us.size, dtype=bool)
        before = start + from_start < starts_us[segment] if segment < starts_us.size else after
        shown[after & before] = (start + from_start)[after & before]
        is_known |= after & before
    return _times(true_utc, shown).zip_with(pl.Series(is_known), pl.Series([None], dtype=true_utc.dtype))


def _segments(
    shifts: Sequence[ClockShift],
) -> tuple[np.ndarray[tuple[int], np.dtype[np.int64]], FloatArray, FloatArray]:
    """Return the borders of the segments [µs], and for the segments before, between and after them what is added at
    their start [µs] and its slope. The first segment starts, by convention, at the first border.
    """  # noqa: D205 - two facts of one sentence
    moments = [shift.start for shift in shifts] + [shift.end for shift in shifts if shift.end is not None]
    starts_us = np.unique(np.array([_us(moment) for moment in moments], dtype=np.int64))
    added_us, slopes = np.zeros(starts_us.size + 1), np.zeros(starts_us.size + 1)
    for shift in shifts:
        start, end = _us(shift.start), None if shift.end is None else _us(shift.end)
        slope = 0.0
        if end is not None and shift.add_seconds_at_end is not None:
            slope = (shift.add_seconds_at_end - shift.add_seconds) * 1e6 / (end - start)
        holds = (starts_us >= start) & (True if end is None else starts_us < end)
        added_us[1:][holds] += shift.add_seconds * 1e6 + slope * (starts_us[holds] - start)
        slopes[1:][holds] += slope
    return starts_us, added_us, slopes


def _times(like: pl.Series, times_us: np.ndarray[tuple[int], np.dtype[np.int64]]) -> pl.Series:
    moved = pl.Series(like.name, times_us).cast(pl.Datetime("us")).dt.replace_time_zone("UTC")
    return moved.zip_with(like.is_not_null(), like)


def _us(moment: datetime) -> int:
    return (moment - EPOCH) // MICROSECOND


def _moment(moment: datetime | None) -> str:
    return "" if moment is None else f"{moment.astimezone(UTC):%Y-%m-%d %H:%M} UTC"


def _error(add_seconds: float) -> str:
    """Return what was wrong with a clock that needs so many seconds added."""
    seconds = round(abs(add_seconds))
    if seconds == 0:
        return "right"
    days, rest = divmod(seconds, 86_400)
    hours, rest = divmod(rest, 3600)
    minutes, rest = divmod(rest, 60)
    parts = [f"{n} {unit}" for n, unit in ((days, "d"), (hours, "h"), (minutes, "min"), (rest, "s")) if n]
    return f"{' '.join(parts)} {'slow' if add_seconds > 0 else 'fast'}"
