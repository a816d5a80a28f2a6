"""What `isohume read` gives out: the JSON document of one reading, and the table of several as CSV or Parquet."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path, PurePath
from typing import Any

import polars as pl

from isohume.analysis.readings import RH, TEMPERATURE, TIME
from isohume.ingest.channels import CHANNEL, ChannelSummary, Extent
from isohume.ingest.flags import FLAGS, names_expression
from isohume.ingest.reading import FileReading

# Spreadsheets run a cell that begins so as a formula.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
OUT_SUFFIXES = (".csv", ".parquet")


def as_json(reading: FileReading) -> dict[str, Any]:
    """Return a reading as the JSON document of `isohume read --json`."""
    ledger = reading.ledger
    return {
        "file": reading.file,
        "sha256": reading.sha256,
        "recipe": {**reading.recipe.as_dict(), "in_words": reading.recipe.in_words()},
        "lines": {"in_file": ledger.lines_in_file, "other": dict(ledger.other_lines)},
        "rows": {
            "in_file": ledger.in_file,
            "kept": ledger.kept,
            "flagged": ledger.flagged,
            "duplicate": ledger.duplicate,
            "conflicting": ledger.conflicting,
            "rejected": ledger.n_rejected,
        },
        "channels": [_channel(channel) for channel in reading.channels],
        "rejected_rows": ledger.rejected.to_dicts(),
        "questions": [question.sentence() for question in reading.questions],
        "notes": list(reading.notes),
    }


def _channel(channel: ChannelSummary) -> dict[str, Any]:
    return {
        "name": channel.name,
        "rows_kept": channel.rows_kept,
        "first_utc": iso_utc(channel.first_utc),
        "last_utc": iso_utc(channel.last_utc),
        "step_s": channel.step_s,
        "rh_percent": _extent(channel.rh_percent),
        "temperature_celsius": _extent(channel.temperature_celsius),
        "cells": {
            quantity: {"usable": cells.usable, "empty": cells.empty, "unreadable": cells.unreadable}
            for quantity, cells in channel.cells.items()
        },
    }


def _extent(extent: Extent) -> dict[str, float | None]:
    return {"min": extent.min, "mean": extent.mean, "max": extent.max}


def iso_utc(time: object) -> str | None:
    """Return a time as ISO 8601 with Z; None for None."""
    return time.strftime("%Y-%m-%dT%H:%M:%SZ") if isinstance(time, datetime) else None


def out_table(readings: Sequence[FileReading]) -> pl.DataFrame:
    """Return the table of `--out`: `time_utc`, `channel`, `rh_percent`, `temperature_celsius`, `flags` (names).

    With several files the channel begins with the name of its file.
    """
    tables: list[pl.DataFrame] = []
    for reading in readings:
        table = reading.table
        if len(readings) > 1:
            named = pl.lit(PurePath(reading.file).name)
            joined = (
                pl.when(pl.col(CHANNEL) == "")
                .then(named)
                .otherwise(pl.concat_str(named, pl.lit(": "), pl.col(CHANNEL)))
            )
            table = table.with_columns(joined.alias(CHANNEL))
        tables.append(table.select(TIME, CHANNEL, RH, TEMPERATURE, names_expression().alias(FLAGS)))
    return pl.concat(tables)


def write_table(table: pl.DataFrame, path: Path) -> None:
    """Write the table of `--out`; the ending of the name says whether as CSV or Parquet.

    Raises
    ------
    ValueError
        The name ends otherwise.
    OSError
        The place cannot be written.
    """
    if path.suffix.lower() not in OUT_SUFFIXES:
        raise ValueError(f'expected a name that ends in .csv or .parquet, found "{path.name}"')
    if path.suffix.lower() == ".parquet":
        table.write_parquet(path)
        return
    is_formula = pl.any_horizontal([pl.col(CHANNEL).str.starts_with(start) for start in FORMULA_STARTS])
    neutral = pl.when(is_formula).then(pl.concat_str(pl.lit("'"), pl.col(CHANNEL))).otherwise(pl.col(CHANNEL))
    table.with_columns(pl.col(TIME).dt.strftime("%Y-%m-%dT%H:%M:%SZ"), neutral.alias(CHANNEL)).write_csv(path)
