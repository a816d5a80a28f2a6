"""Several readings made one: months of one logger, and humidity and temperature that came in separate files."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from isohume.analysis.readings import RH, TEMPERATURE, TIME
from isohume.ingest.channels import CHANNEL, TABLE_SCHEMA
from isohume.ingest.flags import FLAGS
from isohume.ingest.reading import FileReading

# Two loggers started by hand a moment apart log the same air; beyond half a step they would swap neighbours.
SHARE_OF_STEP = 0.5


def merge_readings(readings: Sequence[FileReading]) -> pl.DataFrame:
    """Join the readings of one place on time.

    A file with only humidity and one with only temperature complete each other: each humidity takes the nearest
    temperature within half a step. Of two readings of one instant the earlier file's stays.

    Parameters
    ----------
    readings : sequence of FileReading
        Settled, all of one place.

    Returns
    -------
    DataFrame
        A normalised table, sorted by channel and time.
    """
    tables = [reading.table for reading in readings if reading.table.height]
    if not tables:
        return pl.DataFrame(schema=TABLE_SCHEMA)
    only_rh = [table for table in tables if table[TEMPERATURE].null_count() == table.height]
    only_t = [table for table in tables if table[RH].null_count() == table.height]
    if only_rh and only_t:
        whole = [table for table in tables if not any(table is other for other in (*only_rh, *only_t))]
        tables = [_completed(_stacked(only_rh), _stacked(only_t)), *whole]
    return _stacked(tables)


def _stacked(tables: Sequence[pl.DataFrame]) -> pl.DataFrame:
    return (
        pl.concat(tables)
        .unique([CHANNEL, TIME], keep="first", maintain_order=True)
        .sort(CHANNEL, TIME, maintain_order=True)
    )


def _completed(humidity: pl.DataFrame, temperature: pl.DataFrame) -> pl.DataFrame:
    """Give each humidity the nearest temperature; temperatures without humidity stay by themselves."""
    step = min(_step_us(humidity), _step_us(temperature))
    tolerance = f"{max(int(step * SHARE_OF_STEP) - 1, 0)}us"
    same_names = set(humidity[CHANNEL].unique()) & set(temperature[CHANNEL].unique())
    by = CHANNEL if same_names else None
    right = temperature.select(
        pl.col(TIME).alias("other_time"), pl.col(TIME), pl.col(CHANNEL), pl.col(TEMPERATURE).alias("other"),
        pl.col(FLAGS).alias("other_flags"),
    ).sort(TIME)  # fmt: skip
    right = right if by else right.drop(CHANNEL)
    joined = humidity.sort(TIME).join_asof(
        right, on=TIME, by=by, strategy="nearest", tolerance=tolerance, check_sortedness=False
    )
    taken = joined["other_time"].drop_nulls()
    completed = joined.with_columns(
        pl.col("other").alias(TEMPERATURE), (pl.col(FLAGS) | pl.col("other_flags").fill_null(0)).alias(FLAGS)
    ).select(list(TABLE_SCHEMA))
    alone = temperature.filter(~pl.col(TIME).is_in(taken.implode()))
    if not by:
        names = humidity[CHANNEL].unique(maintain_order=True)
        alone = alone.with_columns(pl.lit(names[0]).alias(CHANNEL))
    return pl.concat([completed, alone])


def _step_us(table: pl.DataFrame) -> int:
    step = (
        table[TIME]
        .sort()
        .diff()
        .drop_nulls()
        .filter(pl.Series(table[TIME].sort().diff().drop_nulls().dt.total_microseconds() > 0))
    )
    common = step.dt.total_microseconds().mode()
    return int(common.min()) if len(common) else 0  # type: ignore[arg-type]  # polars types min() loosely
