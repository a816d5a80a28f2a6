"""Times that cannot be: clocks reset by a new battery, dates ahead of today, time running back, equal instants."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl

from isohume.analysis.readings import RH, TEMPERATURE, TIME
from isohume.ingest.clock_changes import EPOCH, BoolArray, Int64Array

CHANNEL = "channel"
MICROSECOND = timedelta(microseconds=1)
# Common practice: a clock that lost its power starts again at the first day of 1970 or 2000 (some at 1980). No
# logger file is older than 1990, so an earlier date is always a reset; one in 2000 only if the record lies elsewhere.
OLDEST_RECORD = datetime(1990, 1, 1, tzinfo=UTC)
RESET_STARTS = datetime(2000, 1, 1, tzinfo=UTC)
# Midnight of a zone may be the evening before in UTC.
ZONE_MARGIN = timedelta(hours=15)
LONGEST_RUN_AFTER_RESET = timedelta(days=400)
DETACHED = timedelta(days=180)
# A clock may be a zone ahead of the one it was read in; beyond a day it is wrong.
FUTURE_TOLERANCE = timedelta(days=1)
# A record that leaps ahead of now by more than this many of its usual steps, and a day, does not continue there.
LEAP_STEPS = 100
# With more reversals than this a file is out of order as a whole, not set back by hand.
MOST_REVERSALS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeFindings:
    """What is wrong with the times of a file.

    Attributes
    ----------
    rejected : dict of int to str
        Row number (from 0) and the reason.
    doubtful : (n,) bool or None
        Rows to keep with the flag `clock doubt`; None where there are none.
    notes : tuple of str
        Remarks for the reader of the file.
    """

    rejected: dict[int, str] = field(default_factory=dict)
    doubtful: BoolArray | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeats:
    """Rows of one channel that claim the same instant.

    Attributes
    ----------
    duplicate : (n,) bool
        Says again what an earlier row said.
    conflicting : (n,) bool
        Says something else than an earlier row, which is kept.
    contested : (n,) bool
        The earlier row that is kept and that a later one contradicts.
    """

    duplicate: BoolArray
    conflicting: BoolArray
    contested: BoolArray


def impossible_times(utc: pl.Series, *, now: datetime) -> TimeFindings:
    """Find rows dated by a reset clock, or dated ahead of now.

    Rows ahead of now that follow the record without a leap come from a clock that is fast (or from a computer whose
    own clock is slow): they are kept and doubted. Rows that leap ahead of now are rejected.

    Parameters
    ----------
    utc : Series of Datetime("us", "UTC")
        One per row, in file order; null where a row has no time.
    now : datetime
        The moment of reading, aware.
    """
    first, last = utc.min(), utc.max()
    if not isinstance(first, datetime) or not isinstance(last, datetime):
        return TimeFindings()
    rejected: dict[int, str] = {}
    notes: list[str] = []
    is_reset = reset_rows(utc)
    if is_reset.any():
        rows = np.flatnonzero(is_reset)
        years = (utc.gather(rows) + ZONE_MARGIN).dt.year().to_list()
        for row, year in zip(rows.tolist(), years, strict=True):
            rejected[row] = f"clock reset: dated {year}, as after a battery change"
        notes.append(
            f"The clock was reset: {_rows(rows.size)} dated {' and '.join(str(year) for year in sorted(set(years)))}."
        )
    elif abs(first - RESET_STARTS) <= ZONE_MARGIN:
        notes.append("The record starts on 2000-01-01, where a logger's clock starts whose time was never set.")
    doubtful = None
    if last > now + FUTURE_TOLERANCE:
        doubtful, ahead = _ahead_of_now(utc, now)
        rejected |= dict.fromkeys(
            np.flatnonzero(ahead).tolist(), f"dated ahead of today ({now:%Y-%m-%d}), detached from the record"
        )
        if doubtful.any():
            notes.append(
                f"{_rows(int(doubtful.sum()))} dated ahead of today ({now:%Y-%m-%d}), up to {last:%Y-%m-%d}: the "
                "logger's clock is fast, or this computer's is slow. A clock correction puts the logger's right."
            )
    return TimeFindings(
        rejected=rejected, doubtful=doubtful if doubtful is not None and doubtful.any() else None, notes=tuple(notes)
    )


def reset_rows(utc: pl.Series) -> BoolArray:
    """Return which rows carry the date of a clock that started again from nothing."""
    first = utc.min()
    if not isinstance(first, datetime) or first >= RESET_STARTS + LONGEST_RUN_AFTER_RESET:
        return np.zeros(len(utc), dtype=bool)
    times_us, known = _microseconds(utc)
    is_reset = known & (times_us < _us(OLDEST_RECORD))
    starts, ends = _us(RESET_STARTS - ZONE_MARGIN), _us(RESET_STARTS + LONGEST_RUN_AFTER_RESET)
    early = known & (times_us >= starts) & (times_us < ends)
    body = times_us[known & ~is_reset & ~early]
    if early.any() and body.size and body.min() - times_us[early].max() > DETACHED // MICROSECOND:
        is_reset |= early
    return is_reset


def re_anchor(utc: pl.Series, is_reset: BoolArray, *, row: int, true_utc: datetime) -> pl.Series:
    """Restore the times of one run of reset rows from the instant at which one of them was really taken.

    Parameters
    ----------
    utc : Series of Datetime("us", "UTC")
    is_reset : (n,) bool
        From `reset_rows`.
    row : int
        A reset row whose true instant is known (the last one at read-out, say).
    true_utc : datetime
        That instant, aware.

    Returns
    -------
    Series
        The unbroken run of reset rows around `row`, moved as a whole; give these rows the flag `re-anchored clock`.

    Raises
    ------
    ValueError
        The row is not one of the reset rows.
    """
    if not (0 <= row < len(utc) and is_reset[row]):
        raise ValueError(f"Row {row + 1} was not dated by a reset clock; name one of the rejected rows.")
    if true_utc.tzinfo is None:
        raise ValueError("The true instant needs a UTC offset, as in 2025-03-01T09:30+01:00.")
    times_us, _ = _microseconds(utc)
    # A run ends where the marks end or where the clock started again (a second battery).
    breaks = np.flatnonzero(np.diff(is_reset.astype(np.int8)) != 0) + 1
    again = np.flatnonzero(is_reset[1:] & is_reset[:-1] & (np.diff(times_us) < 0)) + 1
    borders = np.unique(np.concatenate([[0], breaks, again, [len(utc)]]))
    run = int(np.searchsorted(borders, row, side="right")) - 1
    shift = _us(true_utc) - int(times_us[row])
    moved = times_us.copy()
    moved[borders[run] : borders[run + 1]] += shift
    fresh = pl.Series(utc.name, moved).cast(pl.Datetime("us")).dt.replace_time_zone("UTC")
    return fresh.zip_with(utc.is_not_null(), utc)


def backward_times(table: pl.DataFrame) -> TimeFindings:
    """Find where time runs backwards in a channel, and doubt the stretch that a clock set back covers twice.

    A stretch covered twice at the same instants is a repeated download (see `repeats`); at other instants the clock
    was set back, and which readings belong where is in doubt.

    Parameters
    ----------
    table : DataFrame
        Columns `time_utc` (no nulls) and `channel`, in file order.
    """
    doubtful = np.zeros(table.height, dtype=bool)
    notes: list[str] = []
    for name, rows, times_us in _channels(table):
        steps = np.diff(times_us)
        n_back, n_forward = int((steps < 0).sum()), int((steps > 0).sum())
        reversals = np.flatnonzero(steps > 0 if n_back > n_forward else steps < 0)
        if not reversals.size:
            continue
        of_channel = f"{name}: " if name else ""
        if reversals.size > MOST_REVERSALS:
            notes.append(f"{of_channel}the rows are not in the order of time; they were sorted.")
            continue
        for reversal in reversals.tolist():
            before, after = (_at(int(times_us[reversal + k])) for k in (0, 1))
            notes.append(
                f"{of_channel}time runs backwards from {before:%Y-%m-%d %H:%M} to {after:%Y-%m-%d %H:%M} UTC."
            )
            earlier, later = times_us[: reversal + 1], times_us[reversal + 1 :]
            low, high = max(earlier.min(), later.min()), min(earlier.max(), later.max())
            twice = (times_us >= low) & (times_us <= high)
            if low < high and np.unique(times_us[twice]).size == twice.sum():
                doubtful[rows[twice]] = True
    return TimeFindings(doubtful=doubtful if doubtful.any() else None, notes=tuple(notes))


def repeats(table: pl.DataFrame) -> Repeats:
    """Find rows that claim the instant of an earlier row of their channel: equal readings, and contradicting ones.

    Parameters
    ----------
    table : DataFrame
        Columns `time_utc` (no nulls), `channel`, `rh_percent` and `temperature_celsius`, in file order.
    """
    found = Repeats(
        duplicate=np.zeros(table.height, dtype=bool),
        conflicting=np.zeros(table.height, dtype=bool),
        contested=np.zeros(table.height, dtype=bool),
    )
    for _, rows, times_us in _channels(table):
        steps = np.diff(times_us)
        if (steps > 0).all() or (steps < 0).all():
            continue
        order = np.argsort(times_us, kind="stable")
        is_first = np.append(True, np.diff(times_us[order]) > 0)
        first = order[np.maximum.accumulate(np.where(is_first, np.arange(order.size), 0))]
        later, first = rows[order[~is_first]], rows[first[~is_first]]
        equal = np.ones(later.size, dtype=bool)
        for quantity in (RH, TEMPERATURE):
            values = table[quantity].to_numpy()
            equal &= (values[later] == values[first]) | (np.isnan(values[later]) & np.isnan(values[first]))
        found.duplicate[later[equal]] = True
        found.conflicting[later[~equal]] = True
        found.contested[first[~equal]] = True
    return found


def _channels(table: pl.DataFrame) -> Iterator[tuple[str, Int64Array, Int64Array]]:
    """Yield name, row numbers and times [µs] of each channel."""
    times_us = table[TIME].to_physical().to_numpy()
    names = table[CHANNEL].unique(maintain_order=True).to_list()
    for name in names:
        rows = np.arange(table.height) if len(names) == 1 else np.flatnonzero((table[CHANNEL] == name).to_numpy())
        yield name, rows, times_us if len(names) == 1 else times_us[rows]


def _ahead_of_now(utc: pl.Series, now: datetime) -> tuple[BoolArray, BoolArray]:
    """Split the rows ahead of now into those that continue the record and those detached from it by a leap."""
    times_us, known = _microseconds(utc)
    order = np.argsort(times_us, kind="stable")
    order = order[known[order]]
    sorted_us = times_us[order]
    n_before = int(np.searchsorted(sorted_us, _us(now), side="right"))
    steps = np.diff(sorted_us)
    leaps = np.flatnonzero(steps[n_before:] > DETACHED // MICROSECOND) + n_before + 1
    longest = max(FUTURE_TOLERANCE // MICROSECOND, LEAP_STEPS * int(np.median(steps)) if steps.size else 0)
    if 0 < n_before < order.size and steps[n_before - 1] > longest:
        leaps = np.array([n_before])
    detached_from = int(leaps[0]) if leaps.size else order.size
    doubtful, detached = np.zeros(len(utc), dtype=bool), np.zeros(len(utc), dtype=bool)
    doubtful[order[n_before:detached_from]] = True
    detached[order[detached_from:]] = True
    return doubtful, detached


def _microseconds(utc: pl.Series) -> tuple[Int64Array, BoolArray]:
    """Return the times [µs since 1970] with 0 where unknown, and which are known."""
    physical = utc.to_physical()
    return physical.fill_null(0).to_numpy(), physical.is_not_null().to_numpy()


def _us(time: datetime) -> int:
    return (time - EPOCH) // MICROSECOND


def _at(time_us: int) -> datetime:
    return EPOCH + timedelta(microseconds=time_us)


def _rows(number: int) -> str:
    return "1 row is" if number == 1 else f"{number} rows are"
