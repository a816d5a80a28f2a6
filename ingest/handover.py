"""From the normalised table to the record that `analysis` takes: values their flags exclude become NaN."""

from __future__ import annotations

import numpy as np
import pandas as pd
import polars as pl

from isohume.analysis.readings import RH, TEMPERATURE, TIME, UNCALIBRATED_UNCERTAINTY_PERCENT, AirRecord, FlagRun
from isohume.ingest.flags import FLAG_TABLE, FLAGS, Flag, excluding_mask, flag_counts


def air_record(
    table: pl.DataFrame,
    *,
    uncertainty_percent: float = UNCALIBRATED_UNCERTAINTY_PERCENT,
    calibrated_on: pd.Timestamp | None = None,
    logger_changes: tuple[pd.Timestamp, ...] = (),
    notes: tuple[str, ...] = (),
) -> AirRecord:
    """Hand one place's readings over to analysis.

    Parameters
    ----------
    table : DataFrame
        The normalised table, of one channel: `time_utc`, `rh_percent` [%RH], `temperature_celsius` [°C], `flags`.
    uncertainty_percent : float [%RH]
        Expanded uncertainty (k = 2) of the humidity.
    calibrated_on : Timestamp, optional
        Date of the last calibration in force.
    logger_changes : tuple of Timestamp
        Moments from which another logger measured here.
    notes : tuple of str
        Remarks of the reader that a person judging the record must see.

    Returns
    -------
    AirRecord
        Readings in order of time; NaN where there is no value, or where its flags exclude it.

    Raises
    ------
    ValueError
        Two readings claim the same instant: the table holds several channels.
    """
    if not table[TIME].is_sorted():
        table = table.sort(TIME)
    times_us = table[TIME].to_physical().to_numpy()
    if times_us.size and not bool((np.diff(times_us) > 0).all()):
        raise ValueError("Two readings at one instant: choose one channel with table.filter(channel=…) first.")
    masks = table[FLAGS].to_numpy()
    index = pd.DatetimeIndex(times_us.astype("datetime64[us]"), tz="UTC", name=TIME)
    columns = {}
    is_excluded = np.zeros(table.height, dtype=bool)
    for column, excluding in ((RH, excluding_mask("rh")), (TEMPERATURE, excluding_mask("temperature"))):
        mine = (masks & np.uint32(excluding)) != 0
        is_excluded |= mine
        columns[column] = np.where(mine, np.nan, table[column].cast(pl.Float64).to_numpy())
    return AirRecord(
        readings=pd.DataFrame(columns, index=index, copy=False),
        flag_counts=flag_counts(table[FLAGS]) if masks.any() else {},
        flag_runs=flag_runs(index, masks),
        n_readings=table.height,
        n_excluded=int(is_excluded.sum()),
        uncertainty_percent=uncertainty_percent,
        calibrated_on=calibrated_on,
        logger_changes=logger_changes,
        notes=notes,
    )


def flag_runs(index: pd.DatetimeIndex, masks: np.ndarray[tuple[int, ...], np.dtype[np.uint32]]) -> tuple[FlagRun, ...]:
    """Return when which flag stood, from the flags of readings in order of time; gaps are told by the gaps themselves.

    Examples
    --------
    >>> times = pd.date_range("2026-01-01", periods=4, freq="h", tz="UTC")
    >>> spike = int(Flag.RH_SPIKE)
    >>> [(run.name, run.n_readings) for run in flag_runs(times, np.array([0, spike, spike, 0], dtype=np.uint32))]
    [('rh spike', 2)]
    """
    present = int(np.bitwise_or.reduce(masks)) if masks.size else 0
    runs = []
    for flag, facts in FLAG_TABLE.items():
        if flag is Flag.GAP_BEFORE or not present & int(flag):
            continue
        places = np.flatnonzero(masks & np.uint32(flag))
        for run in np.split(places, np.flatnonzero(np.diff(places) > 1) + 1):
            first, last = pd.Timestamp(index[run[0]]), pd.Timestamp(index[run[-1]])
            runs.append(FlagRun(name=facts.name, start_utc=first, end_utc=last, n_readings=int(run.size)))
    return tuple(sorted(runs, key=lambda run: run.start_utc))
