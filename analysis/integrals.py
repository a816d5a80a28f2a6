"""Exact integrals of the piecewise-linear record, over the time it covers.

Between two usable readings the record runs straight. The stretch counts as covered only if it is no longer than the
bridge (`readings.bridge`). A reading without a value (NaN) is treated as if it had not been made: what counts is the
distance between the usable readings on either side, so one missing value in a quick record costs nothing and a missing
day is a gap. The nominal step that sets the bridge is taken from all readings, usable or not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from isohume.analysis.constants import HOUR_SECONDS
from isohume.analysis.readings import bridge, seconds_utc

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LinearRecord:
    """Usable readings and which stretches between them are covered.

    Attributes
    ----------
    hours : (n,) array [h]
        Times of the usable readings, since 1970 (UTC).
    readings : (n,) array
        Their values.
    joined : (n,) bool array
        Whether the stretch from the reading before is covered; False for the first reading.
    """

    hours: FloatArray
    readings: FloatArray
    joined: NDArray[np.bool_]

    @property
    def hours_covered(self) -> float:
        """Total length of the covered stretches [h]."""
        return float(np.diff(self.hours)[self.joined[1:]].sum())


@dataclass(frozen=True, slots=True)
class Runs:
    """Maximal runs of the record above zero, in order of time.

    Attributes
    ----------
    first, last : (k,) int arrays
        Numbers of the first and the last reading of each run.
    start, end : (k,) arrays [h]
        Interpolated crossings; at a gap or an end of the record the time of the reading.
    integral : float [unit of the values × h]
        Area of the record above zero.
    """

    first: NDArray[np.intp]
    last: NDArray[np.intp]
    start: FloatArray
    end: FloatArray
    integral: float

    @property
    def hours(self) -> float:
        """Total time above zero [h]."""
        return float((self.end - self.start).sum())


def linear_record(series: pd.Series[float]) -> LinearRecord:
    """Return the piecewise-linear record of a series (index UTC, strictly increasing)."""
    index = pd.DatetimeIndex(series.index)
    values = np.asarray(series.to_numpy(), dtype=np.float64)
    hours = seconds_utc(index) / HOUR_SECONDS
    usable = ~np.isnan(values)
    if not usable.all():
        hours, values = hours[usable], values[usable]
    longest = bridge(index).total_seconds() / HOUR_SECONDS
    joined = np.zeros(hours.size, dtype=np.bool_)
    joined[1:] = np.diff(hours) <= longest
    return LinearRecord(hours=hours, readings=values, joined=joined)


def runs_above_zero(record: LinearRecord, values: FloatArray) -> Runs:
    """Find the runs where `values`, running straight between the record's readings, lie strictly above zero.

    Parameters
    ----------
    record : LinearRecord
        Times and coverage.
    values : (n,) array
        One value per usable reading, without NaN. A stretch between two readings that are not above zero has no part
        above zero, so every run holds at least one reading; a lone reading between two gaps is a run of no length.
    """
    hours, joined = record.hours, record.joined
    above = values > 0
    beyond = np.flatnonzero(above)
    if beyond.size == 0:
        none = np.empty(0)
        return Runs(first=beyond, last=beyond, start=none, end=none, integral=0.0)
    # A reading continues a run if the one before is above zero too and the stretch between them is covered.
    continues = joined[beyond]
    continues[1:] &= np.diff(beyond) == 1
    continues[0] = False
    first = beyond[~continues]
    last = beyond[np.append(~continues[1:], True)]

    # At a covered crossing the run reaches past its readings; at a gap it does not.
    enters, leaves = joined[first], np.append(joined, False)[last + 1]
    inside, outside = first[enters], first[enters] - 1
    run_in = (hours[inside] - hours[outside]) * values[inside] / (values[inside] - values[outside])
    edge_area = (run_in * values[inside]).sum()
    start, end = hours[first], hours[last]
    start[enters] -= run_in
    inside, outside = last[leaves], last[leaves] + 1
    run_out = (hours[outside] - hours[inside]) * values[inside] / (values[inside] - values[outside])
    edge_area += (run_out * values[inside]).sum()
    end[leaves] += run_out

    inner = beyond[continues]
    trapezia = (hours[inner] - hours[inner - 1]) * (values[inner] + values[inner - 1])
    return Runs(first=first, last=last, start=start, end=end, integral=float(trapezia.sum() + edge_area) / 2)


def covered_hours(series: pd.Series[float]) -> float:
    """Return the hours that a series covers [h]."""
    return linear_record(series).hours_covered


def hours_both_covered(one: pd.Series[float], other: pd.Series[float]) -> float:
    """Return the hours that two series cover at the same time [h]."""
    first, second = linear_record(one), linear_record(other)
    if first.hours.size < 2 or second.hours.size < 2:
        return 0.0
    elapsed = np.concatenate(([0.0], np.cumsum(np.where(first.joined[1:], np.diff(first.hours), 0.0))))
    at_readings = np.interp(second.hours, first.hours, elapsed)
    return float(np.diff(at_readings)[second.joined[1:]].sum())


def hours_above(series: pd.Series[float], limit: float) -> float:
    """Return the covered hours strictly above `limit` [h]."""
    record = linear_record(series)
    return runs_above_zero(record, record.readings - limit).hours


def hours_below(series: pd.Series[float], limit: float) -> float:
    """Return the covered hours strictly below `limit` [h]."""
    record = linear_record(series)
    return runs_above_zero(record, limit - record.readings).hours


def longest_hours_above(series: pd.Series[float], limit: float) -> float:
    """Return the length of the longest uninterrupted covered run strictly above `limit` [h], 0 if there is none."""
    record = linear_record(series)
    runs = runs_above_zero(record, record.readings - limit)
    return float((runs.end - runs.start).max(initial=0.0))


def time_mean(series: pd.Series[float]) -> float | None:
    """Return the mean of the record over the time it covers; None where it covers nothing."""
    record = linear_record(series)
    covered = record.joined[1:]
    steps = np.diff(record.hours)[covered]
    if steps.size == 0:
        return None
    middles = (record.readings[:-1] + record.readings[1:])[covered] / 2
    return float((steps * middles).sum() / steps.sum())
