"""Readings as Parquet by logger and year: new parts are written beside the old and switched in the register."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import urllib.parse
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.archive.files import StepHook, sha256_of_bytes, write_whole
from isohume.ingest.archive.merging import EMPTY, Merged
from isohume.ingest.archive.models_imports import Part

# Enough of a SHA-256 to be unique within one logger-year; the register holds all 64 digits.
NAME_DIGITS = 32
ROWS_PER_GROUP = 1 << 17


@dataclass(frozen=True, slots=True)
class WrittenPart:
    """One logger-year as just written: what the register must know of it."""

    sha256: str
    shadowed_sha256: str
    content: str
    merged: Merged

    def describe(self, part: Part) -> None:
        """Switch the register's row to this part."""
        part.sha256, part.shadowed_sha256, part.content = self.sha256, self.shadowed_sha256, self.content
        table = self.merged.in_force
        part.n_readings, part.n_contested = table.height, int(table["contested"].sum())
        part.first, part.last = _time(table["time_utc"].min()), _time(table["time_utc"].max())


def _time(value: object) -> dt.datetime:
    if not isinstance(value, dt.datetime):
        raise TypeError("A part holds at least one reading.")
    return value


class ReadingsStore:
    """The folder `readings/`.

    Parameters
    ----------
    folder : Path
        Holds one folder per logger, with `YEAR-HASH.parquet` files.
    """

    def __init__(self, folder: Path, *, on_step: StepHook) -> None:
        self.folder, self.on_step = folder, on_step

    def path(self, logger: str, year: int, sha256: str) -> Path:
        """Return where a part with this content stands."""
        # A point at the end of a folder name does not survive Windows; quote() leaves points as they are.
        name = "logger-" + urllib.parse.quote(logger, safe="").replace(".", "%2E")
        return self.folder / name / f"{year}-{sha256[:NAME_DIGITS]}.parquet"

    def paths(self, part: Part) -> list[Path]:
        """Return the files of one logger-year."""
        hashes = [part.sha256, part.shadowed_sha256] if part.shadowed_sha256 else [part.sha256]
        return [self.path(part.logger, part.year, sha256) for sha256 in hashes]

    def load(self, part: Part | None) -> Merged:
        """Read all rows of one logger-year; empty tables for none.

        Raises
        ------
        ArchiveError
            A part is missing or damaged.
        """
        if part is None:
            return EMPTY
        in_force = self._table(part, part.sha256)
        shadowed = self._table(part, part.shadowed_sha256) if part.shadowed_sha256 else EMPTY.shadowed
        return Merged(in_force, shadowed)

    def in_force(self, part: Part, columns: list[str] | None = None) -> pl.DataFrame:
        """Read the readings in force of one logger-year."""
        return pl.read_parquet(self.path(part.logger, part.year, part.sha256).read_bytes(), columns=columns)

    def empty(self) -> pl.DataFrame:
        """Return the readings in force of no logger-year."""
        return EMPTY.in_force

    def _table(self, part: Part, sha256: str) -> pl.DataFrame:
        path = self.path(part.logger, part.year, sha256)
        try:
            data = path.read_bytes()
        except FileNotFoundError:
            raise _damaged(path, "no file") from None
        if sha256_of_bytes(data) != sha256:
            raise _damaged(path, "other bytes than were written")
        return pl.read_parquet(data)

    def write(self, logger: str, year: int, merged: Merged) -> WrittenPart:
        """Write the tables of one logger-year as new files; the old ones stay until the register points here."""
        in_force = self._write(logger, year, merged.in_force)
        shadowed = "" if merged.shadowed.is_empty() else self._write(logger, year, merged.shadowed)
        return WrittenPart(in_force, shadowed, content_hash(merged), merged)

    def _write(self, logger: str, year: int, table: pl.DataFrame) -> str:
        data = parquet_bytes(table)
        sha256 = sha256_of_bytes(data)
        path = self.path(logger, year, sha256)
        # A file of this name that is damaged is written anew: `rebuild` mends it so.
        if not (path.exists() and sha256_of_bytes(path.read_bytes()) == sha256):
            write_whole(path, data, on_step=self.on_step, what="readings part")
        return sha256


def parquet_bytes(table: pl.DataFrame) -> bytes:
    """Return a table as Parquet; the same table gives the same bytes with the same version of polars."""
    buffer = io.BytesIO()
    table.rechunk().write_parquet(buffer, compression="zstd", row_group_size=ROWS_PER_GROUP)
    return buffer.getvalue()


def content_hash(merged: Merged) -> str:
    """Return a hash of the values themselves, which outlives the Parquet writer that stored them."""
    digest = hashlib.sha256()
    for table in (merged.in_force, merged.shadowed):
        digest.update(f"{table.height};".encode())
        for column in table.columns:
            digest.update(f"{column};".encode())
            series = table[column]
            if series.dtype == pl.String:
                digest.update("\0".join(series.to_list()).encode())
            else:
                digest.update(series.is_null().to_numpy().tobytes())
                physical = series.cast(pl.UInt8) if series.dtype == pl.Boolean else series.to_physical()
                digest.update(physical.fill_null(0).to_numpy().tobytes())
    return digest.hexdigest()


def _damaged(path: Path, found: str) -> ArchiveError:
    return ArchiveError(
        str(path),
        found=found,
        expected="the readings the register points to",
        remedy="Run `isohume audit` to see what else is damaged, then `isohume rebuild`: it mends readings "
        "from the originals.",
    )
