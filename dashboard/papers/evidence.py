"""What an evidence pack is made from: one table of readings and plain documents, all of them in the pack itself."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd
import polars as pl

from isohume.analysis.frame import Construction, Event, FrameFacts, Limits, Panel
from isohume.analysis.readings import AirRecord
from isohume.analysis.terms import Clause, ClimateTerms
from isohume.dashboard.exports import neutral_frame
from isohume.ingest.flags import FLAGS, flag_names, flags_from_names
from isohume.ingest.handover import air_record

PARAMETERS_SCHEMA = "isohume.evidence.parameters.1"
SIDES = ("inside", "room")
# Software whose version a figure or a page may depend on.
SOFTWARE = ("numpy", "scipy", "pandas", "polars", "matplotlib", "typst")
READINGS_SCHEMA = pl.Schema(
    {
        "side": pl.String(),
        "time_utc": pl.Datetime("us", "UTC"),
        "logger": pl.String(),
        "rh_percent": pl.Float64(),
        "temperature_celsius": pl.Float64(),
        "flags": pl.String(),
    }
)
# Readings leave us to the thousandth: finer than any logger, and every figure is computed from what is written.
DECIMALS = 3
MOST_READINGS = 5_000_000
_ISO = "%Y-%m-%dT%H:%M:%S%.fZ"


class EvidenceError(Exception):
    """No evidence can be made of what is asked for; the message ends with what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Everything that a pack holds before anything is computed.

    Attributes
    ----------
    readings : DataFrame
        `READINGS_SCHEMA`: both sides, calibrated, sorted by side and time; flags by name.
    parameters : mapping
        The frame's facts, period, loggers, uncertainties, terms and settings.
    calibrations, events, originals : sequences of mappings
        Of the loggers that measured; of the frame; of the files the readings came from.
    """

    readings: pl.DataFrame
    parameters: Mapping[str, Any]
    calibrations: Sequence[Mapping[str, Any]]
    events: Sequence[Mapping[str, Any]]
    originals: Sequence[Mapping[str, Any]]

    @property
    def start(self) -> pd.Timestamp:
        """First moment of the period."""
        return pd.Timestamp(self.parameters["period"]["start_utc"])

    @property
    def end(self) -> pd.Timestamp:
        """Last moment of the period."""
        return pd.Timestamp(self.parameters["period"]["end_utc"])

    @property
    def time_zone(self) -> str:
        """Zone of the site, for everything that people read."""
        zone: str = self.parameters["collection"]["time_zone"]
        return zone

    def frame(self) -> FrameFacts:
        """Return the facts of the frame, as far as they left the house."""
        known = self.parameters["frame"]
        panel, band = known["panel"], known["band"]
        return FrameFacts(
            frame_id=known["frame_id"],
            painting=known["painting"],
            band=None if band is None else (band[0], band[1]),
            conditioned_percent=known["conditioned_percent"],
            conditioned_on=_moment(known["conditioned_on"]),
            panel=None if panel is None else Panel(**panel),
            construction=Construction(**known["construction"]),
            events=tuple(Event(**{**event, "time_utc": pd.Timestamp(event["time_utc"])}) for event in self.events),
            lifecycle=known["lifecycle"],
            time_zone=self.time_zone,
            limits=Limits(**known["limits"]),
        )

    def terms(self) -> tuple[ClimateTerms, ...]:
        """Return the climate terms the record is held to."""
        return tuple(
            ClimateTerms(**{**one, "clauses": tuple(Clause(**clause) for clause in one["clauses"])})
            for one in self.parameters["terms"]
        )

    def table(self, side: str) -> pl.DataFrame:
        """Return the readings of one side."""
        return self.readings.filter(pl.col("side") == side)

    def record(self, side: str) -> AirRecord | None:
        """Return one side as analysis takes it; None where nothing was measured."""
        known, table = self.parameters["sides"][side], self.table(side)
        if known is None or table.is_empty():
            return None
        names = table[FLAGS].unique()
        masks = pl.Series([int(flags_from_names(name)) for name in names], dtype=pl.UInt32)
        return air_record(
            table.with_columns(table[FLAGS].replace_strict(names, masks, return_dtype=pl.UInt32).alias(FLAGS)),
            uncertainty_percent=known["uncertainty_percent"],
            calibrated_on=_moment(known["calibrated_on"]),
            logger_changes=tuple(pd.Timestamp(moment) for moment in known["logger_changes"]),
        )


def _moment(text: str | None) -> pd.Timestamp | None:
    return None if text is None else pd.Timestamp(text)


def readings_table(pieces: Sequence[tuple[str, str, pl.DataFrame]]) -> pl.DataFrame:
    """Put pieces of (side, logger, normalised table with calibrated values) into one table of readings."""
    tables = [
        piece.select(
            pl.lit(side).alias("side"),
            pl.col("time_utc"),
            pl.lit(logger).alias("logger"),
            pl.col("rh_percent").cast(pl.Float64).round(DECIMALS),
            pl.col("temperature_celsius").cast(pl.Float64).round(DECIMALS),
            spelled(piece[FLAGS]).alias(FLAGS),
        )
        for side, logger, piece in pieces
    ]
    table = pl.concat(tables) if tables else pl.DataFrame(schema=READINGS_SCHEMA)
    return table.cast(READINGS_SCHEMA).sort("side", "time_utc")


def spelled(masks: pl.Series) -> pl.Series:
    """Return flag masks as names."""
    distinct = masks.unique()
    names = pl.Series([flag_names(int(mask)) for mask in distinct], dtype=pl.String)
    return masks.replace_strict(distinct, names, return_dtype=pl.String).cast(pl.String)


def csv_of(readings: pl.DataFrame) -> bytes:
    """Return the readings as CSV: comma, UTF-8, LF, times as ISO 8601 with Z, numbers that are read back exactly."""
    no_flags = pl.when(pl.col(FLAGS) != "").then(pl.col(FLAGS))  # else an empty text would be written as ""
    written = neutral_frame(readings).with_columns(pl.col("time_utc").dt.to_string(_ISO), no_flags)
    return written.write_csv(line_terminator="\n").encode()


def parquet_of(readings: pl.DataFrame) -> bytes:
    """Return the readings as Parquet; uncompressed, since compressors differ between versions."""
    buffer = io.BytesIO()
    readings.rechunk().write_parquet(buffer, compression="uncompressed", row_group_size=1 << 20)
    return buffer.getvalue()


def from_csv(data: bytes) -> pl.DataFrame:
    """Read what `csv_of` wrote; texts stay as written there.

    Raises
    ------
    ValueError
        It is not such a table.
    """
    try:
        table = pl.read_csv(data, infer_schema=False)
        if table.columns != list(READINGS_SCHEMA):
            raise ValueError(f"its columns are {', '.join(table.columns)}")
        return table.with_columns(
            pl.col("time_utc").str.to_datetime("%+", time_unit="us", time_zone="UTC"),
            pl.col("rh_percent", "temperature_celsius").cast(pl.Float64),
            pl.col("side", "logger", FLAGS).fill_null(""),
        )
    except pl.exceptions.PolarsError as error:
        raise ValueError(str(error).splitlines()[0]) from error


def from_parquet(data: bytes) -> pl.DataFrame:
    """Read what `parquet_of` wrote.

    Raises
    ------
    ValueError
        It is not such a table.
    """
    try:
        # A small file can hold very many equal rows: asked for before any is unpacked.
        n_readings = pl.scan_parquet(io.BytesIO(data)).select(pl.len()).collect().item()
        if n_readings > MOST_READINGS:
            raise ValueError(f"it holds {n_readings} readings, and {MOST_READINGS} are the most we take")
        table = pl.read_parquet(data)
    except (pl.exceptions.PolarsError, OSError) as error:
        raise ValueError(str(error).splitlines()[0]) from error
    if dict(table.schema) != dict(READINGS_SCHEMA):
        raise ValueError("its columns are not those of a readings table")
    return table
