"""The contract between rooms: what a record of readings looks like when `analysis` receives it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

RH = "rh_percent"
TEMPERATURE = "temperature_celsius"
TIME = "time_utc"

# Common practice for an uncalibrated capacitive logger: expanded uncertainty (k = 2) of 3 %RH.
UNCALIBRATED_UNCERTAINTY_PERCENT = 3.0
# Design: a stretch is covered if no longer than the larger of 1 h and 3 nominal steps, plus 1 %.
SHORTEST_BRIDGE = pd.Timedelta(hours=1)
BRIDGE_STEPS = 3
BRIDGE_TOLERANCE = 1.01


@dataclass(frozen=True, slots=True, kw_only=True)
class FlagRun:
    """Readings in a row that carry one flag."""

    name: str
    start_utc: pd.Timestamp
    end_utc: pd.Timestamp
    n_readings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AirRecord:
    """What the air of one place was, as logged: inside one frame, or in its room.

    Attributes
    ----------
    readings : DataFrame
        Index `time_utc` (UTC, strictly increasing); float64 columns `rh_percent` [%RH, 0-100] and
        `temperature_celsius` [°C]. NaN where there is no value fit for analysis.
    flag_counts : mapping
        Readings per flag name, over all readings, usable or not.
    flag_runs : tuple of FlagRun
        When they were, in order of time.
    n_readings, n_excluded : int
        Readings stored, and those of them that their flags exclude from analysis.
    uncertainty_percent : float [%RH]
        Expanded uncertainty (k = 2) of the relative humidity.
    calibrated_on : Timestamp or None
        Date of the last calibration in force, None if never calibrated.
    logger_changes : tuple of Timestamp
        Moments from which another logger, with another offset, measured here.
    notes : tuple of str
        Remarks of the reader that a person judging the record must see.
    """

    readings: pd.DataFrame
    flag_counts: Mapping[str, int] = field(default_factory=dict)
    flag_runs: tuple[FlagRun, ...] = ()
    n_readings: int = 0
    n_excluded: int = 0
    uncertainty_percent: float = UNCALIBRATED_UNCERTAINTY_PERCENT
    calibrated_on: pd.Timestamp | None = None
    logger_changes: tuple[pd.Timestamp, ...] = ()
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a table that breaks the contract."""
        for column in (RH, TEMPERATURE):
            check_series(self.readings[column])

    @property
    def rh_percent(self) -> pd.Series[float]:
        """Relative humidity [%RH]."""
        return self.readings[RH]

    @property
    def temperature_celsius(self) -> pd.Series[float]:
        """Air temperature [°C]."""
        return self.readings[TEMPERATURE]


def check_series(series: pd.Series[float]) -> None:
    """Refuse a series that is not float64 on a strictly increasing UTC index.

    Raises
    ------
    TypeError
        The index holds no aware UTC times, or the values are not float64.
    ValueError
        Times repeat or run backwards, or a value is infinite.
    """
    index = series.index
    if not isinstance(index, pd.DatetimeIndex) or str(index.tz) != "UTC":
        raise TypeError(f"{series.name}: the index must be a DatetimeIndex in UTC. Use tz_convert('UTC').")
    if series.dtype != np.float64:
        raise TypeError(f"{series.name}: values must be float64, found {series.dtype}. Use astype('float64').")
    if not (index.is_monotonic_increasing and index.is_unique):
        raise ValueError(f"{series.name}: times must increase without repeats. Sort them, drop duplicates.")
    if np.isinf(series.to_numpy()).any():
        raise ValueError(f"{series.name}: an infinite value; missing values must be NaN.")


def seconds_utc(index: pd.DatetimeIndex) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return the times as seconds since 1970 [s], (n,) float64."""
    return index.as_unit("us").asi8 / 1e6


def nominal_step(index: pd.DatetimeIndex) -> pd.Timedelta:
    """Return the mode of the time differences; the smallest mode where several are equally common.

    Returns
    -------
    Timedelta
        NaT with fewer than two readings.
    """
    if len(index) < 2:
        return pd.NaT  # type: ignore[return-value]  # pandas types NaT apart from Timedelta
    steps, counts = np.unique(np.diff(index.as_unit("us").asi8), return_counts=True)
    return pd.Timedelta(int(steps[counts.argmax()]), unit="us")


def bridge(index: pd.DatetimeIndex) -> pd.Timedelta:
    """Return the longest stretch between two readings that still counts as covered."""
    step = nominal_step(index)
    longest = SHORTEST_BRIDGE if pd.isna(step) else max(SHORTEST_BRIDGE, BRIDGE_STEPS * step)
    return longest * BRIDGE_TOLERANCE


def hourly(series: pd.Series[float]) -> pd.Series[float]:
    """Average a record onto whole UTC hours; hours without a reading stay NaN.

    Readings from half an hour before to half an hour after each whole hour are averaged, so that hourly readings
    pass through unchanged (interpolating them would correlate the noise of neighbouring hours) and faster ones
    lose noise.

    Returns
    -------
    Series
        Complete hourly index from the first to the last hour; empty for an empty or all-NaN record.
    """
    usable = series.dropna()
    if usable.empty:
        return usable.astype("float64")
    hour = np.floor(seconds_utc(pd.DatetimeIndex(usable.index)) / 3600 + 0.5).astype(np.int64)
    first, last = int(hour[0]), int(hour[-1])
    n_hours = last - first + 1
    counts = np.bincount(hour - first, minlength=n_hours)
    sums = np.bincount(hour - first, weights=usable.to_numpy(), minlength=n_hours)
    means = np.divide(sums, counts, out=np.full(n_hours, np.nan), where=counts > 0)
    index = pd.to_datetime(np.arange(first, last + 1) * 3600, unit="s", utc=True)
    return pd.Series(means, index=index, name=series.name).astype("float64")
