"""How much of a period a record covers, and every gap in it with what became of the readings there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from isohume.analysis.constants import HOUR_SECONDS
from isohume.analysis.integrals import covered_hours, linear_record, time_mean
from isohume.analysis.readings import AirRecord, bridge, seconds_utc


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A stretch of the period without usable humidity readings.

    Attributes
    ----------
    n_left_out : int
        Readings in it that their flags exclude.
    flags : tuple of str
        Names of the flags of those, in alphabetical order; empty where the logger wrote nothing.
    """

    start_utc: pd.Timestamp
    end_utc: pd.Timestamp
    hours: float
    n_left_out: int
    flags: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityRange:
    """Lowest, mean (over covered time) and highest of one quantity."""

    lowest: float
    lowest_utc: pd.Timestamp
    mean: float | None
    highest: float
    highest_utc: pd.Timestamp


@dataclass(frozen=True, slots=True, kw_only=True)
class SideCoverage:
    """What one side of a frame tells about a period.

    Attributes
    ----------
    n_readings, n_used : int
        Readings in the period, and those with a usable humidity.
    hours_of_period, hours_covered : float [h]
    share : float
        Of the period covered by usable humidity, 0-1.
    temperature_share : float
        Of the period covered by usable temperature, 0-1.
    """

    n_readings: int
    n_used: int
    hours_of_period: float
    hours_covered: float
    share: float
    temperature_share: float
    gaps: tuple[Gap, ...]
    rh_percent: QuantityRange | None
    temperature_celsius: QuantityRange | None


def side_coverage(record: AirRecord, flags: Sequence[str], *, start: pd.Timestamp, end: pd.Timestamp) -> SideCoverage:
    """Measure how much of a period a record covers.

    Parameters
    ----------
    record : AirRecord
        Readings of the period.
    flags : sequence of str, one per reading
        Names of its flags, joined by semicolons.
    start, end : Timestamp
        The period; what is missing at its edges is a gap too.
    """
    hours = (end - start).total_seconds() / HOUR_SECONDS
    covered = covered_hours(record.rh_percent)
    return SideCoverage(
        n_readings=len(record.readings),
        n_used=int(record.rh_percent.notna().sum()),
        hours_of_period=hours,
        hours_covered=covered,
        share=min(covered / hours, 1.0),
        temperature_share=min(covered_hours(record.temperature_celsius) / hours, 1.0),
        gaps=_gaps(record.rh_percent, flags, start, end),
        rh_percent=_range(record.rh_percent),
        temperature_celsius=_range(record.temperature_celsius),
    )


def _gaps(series: pd.Series[float], flags: Sequence[str], start: pd.Timestamp, end: pd.Timestamp) -> tuple[Gap, ...]:
    index = pd.DatetimeIndex(series.index)
    usable = linear_record(series)
    longest = bridge(index).total_seconds()
    first, last = start.timestamp(), end.timestamp()
    times = usable.hours * HOUR_SECONDS
    # A stretch inside is judged as the record judges it; one at an edge of the period by the same length.
    edges = np.concatenate(([first], times, [last])) if times.size else np.array([first, last])
    is_gap = np.diff(edges) > longest
    if times.size > 1:
        is_gap[1:-1] = ~usable.joined[1:]
    all_seconds = seconds_utc(index)
    found = []
    for place in np.flatnonzero(is_gap):
        a, b = float(edges[place]), float(edges[place + 1])
        inside = slice(int(np.searchsorted(all_seconds, a, "left")), int(np.searchsorted(all_seconds, b, "right")))
        left_out = np.flatnonzero(series.iloc[inside].isna().to_numpy()) + inside.start
        names = {name for row in left_out.tolist() for name in flags[row].split(";") if name}
        found.append(
            Gap(
                start_utc=_moment(a),
                end_utc=_moment(b),
                hours=(b - a) / HOUR_SECONDS,
                n_left_out=len(left_out),
                flags=tuple(sorted(names)),
            )
        )
    return tuple(found)


def _moment(seconds: float) -> pd.Timestamp:
    return pd.Timestamp(round(seconds), unit="s", tz="UTC")


def _range(series: pd.Series[float]) -> QuantityRange | None:
    usable = series.dropna()
    if usable.empty:
        return None
    low, high = int(usable.to_numpy().argmin()), int(usable.to_numpy().argmax())
    index = pd.DatetimeIndex(usable.index)
    return QuantityRange(
        lowest=float(usable.iloc[low]),
        lowest_utc=index[low],
        mean=time_mean(series),
        highest=float(usable.iloc[high]),
        highest_utc=index[high],
    )
