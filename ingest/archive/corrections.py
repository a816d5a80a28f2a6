"""Calibration and clock corrections, applied whenever readings are read; what is stored stays as it was logged."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import polars as pl

from isohume.analysis.readings import UNCALIBRATED_UNCERTAINTY_PERCENT
from isohume.ingest.archive.models import Calibration, ClockCorrection, Logger
from isohume.ingest.clock_corrections import ClockShift, to_true_time

TIME = "time_utc"
RH, TEMPERATURE = "rh_percent", "temperature_celsius"


def with_clock_corrected(table: pl.DataFrame, corrections: Sequence[ClockCorrection]) -> pl.DataFrame:
    """Move the times of one logger to where they belong.

    Parameters
    ----------
    table : DataFrame
        Readings at the logger's own times, already in UTC.
    corrections : sequence of ClockCorrection
        Of this logger; each holds for logger times from its start to its end.

    Returns
    -------
    DataFrame
        Sorted; where two readings fall on one moment, the one from later in the logger's own time stays.
    """
    if not corrections or table.is_empty():
        return table
    shifts = [shift_of(row) for row in corrections]
    corrected = table.with_columns(to_true_time(table[TIME], shifts))
    return corrected.sort(TIME, maintain_order=True).unique([TIME, "channel"], keep="last", maintain_order=True)


def shift_of(row: ClockCorrection) -> ClockShift:
    """Return a clock correction of the register as it is applied."""
    return ClockShift(
        start=row.start, end=row.end, add_seconds=row.add_seconds, add_seconds_at_end=row.add_seconds_at_end,
        why=row.note,
    )  # fmt: skip


def with_calibration(table: pl.DataFrame, calibrations: Sequence[Calibration]) -> pl.DataFrame:
    """Correct the readings of one channel; each calibration holds from its date until the next.

    Readings from before the first calibration stay as logged. Beyond the points of a calibration the shift at its
    nearest point is used: extending the line would invent.
    """
    if not calibrations or table.is_empty():
        return table
    in_order = sorted(calibrations, key=lambda row: row.date)
    for row, later in pairwise([*in_order, None]):
        if row is None:
            continue
        within = pl.col(TIME) >= row.date
        if later is not None:
            within &= pl.col(TIME) < later.date
        rh, temperature = pl.col(RH), pl.col(TEMPERATURE)
        if row.points is not None:
            shift = pl.Series("shift", rh_shift(table[RH].to_numpy(), row.points))
            table = table.with_columns(shift)
            rh = rh + pl.col("shift")
        elif row.offset_percent is not None:
            rh = rh + row.offset_percent
        temperature = temperature + (row.temperature_offset_celsius or 0.0)
        table = table.with_columns(
            pl.when(within).then(rh).otherwise(RH).alias(RH),
            pl.when(within).then(temperature).otherwise(TEMPERATURE).alias(TEMPERATURE),
        ).drop("shift", strict=False)
    return table


def rh_shift(rh_percent: np.ndarray, points: Sequence[Sequence[float]]) -> np.ndarray:
    """Return what to add to readings, on straight lines between calibration points.

    Parameters
    ----------
    rh_percent : (n,) array [%RH]
        As logged.
    points : sequence of (as found, reference) [%RH]
        Rising.
    """
    found, reference = np.asarray(points, dtype=np.float64).T
    return np.asarray(np.interp(rh_percent, found, reference - found), dtype=np.float64)


def calibration_at(calibrations: Sequence[Calibration], moment: dt.datetime) -> Calibration | None:
    """Return the calibration in force at a moment, None before the first."""
    earlier = [row for row in calibrations if row.date <= moment]
    return max(earlier, key=lambda row: row.date) if earlier else None


def uncertainty_at(logger: Logger, calibrations: Sequence[Calibration], moment: dt.datetime) -> float:
    """Return the expanded uncertainty (k = 2) [%RH] of a logger's humidity at a moment."""
    in_force = calibration_at(calibrations, moment)
    if in_force is not None and in_force.uncertainty_percent is not None:
        return in_force.uncertainty_percent
    return UNCALIBRATED_UNCERTAINTY_PERCENT if logger.uncertainty_percent is None else logger.uncertainty_percent
