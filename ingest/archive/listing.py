"""What was imported, and where imports contradict each other."""

from __future__ import annotations

from typing import Any

import polars as pl
import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive import merging
from isohume.ingest.archive.columns import utc_text
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.models_imports import Import, ImportFile, Part


def imports(session: Session) -> list[dict[str, Any]]:
    """Return all imports, the newest first, as values that JSON can hold; each with its files and their accounts."""
    by_import: dict[int, list[ImportFile]] = {}
    for file in session.scalars(sa.select(ImportFile).order_by(ImportFile.id)):
        by_import.setdefault(file.import_id, []).append(file)
    return [
        {
            "id": row.id,
            "file": row.name,
            "sha256": row.sha256,
            "bytes": row.n_bytes,
            "received_utc": utc_text(row.received),
            "by": row.by,
            "isohume_version": row.version,
            "undone_utc": None if row.undone is None else utc_text(row.undone),
            "undone_by": row.undone_by,
            "files": [_file(file) for file in by_import.get(row.id, [])],
        }
        for row in session.scalars(sa.select(Import).order_by(Import.id.desc()))
    ]


def _file(file: ImportFile) -> dict[str, Any]:
    return {
        "name": file.name,
        "logger": file.logger,
        "recognised_by": file.recognised_by,
        "recipe": file.recipe,
        "rows": file.ledger,
        "channels": file.channels,
        "first_utc": None if file.first is None else utc_text(file.first),
        "last_utc": None if file.last is None else utc_text(file.last),
        "readings": file.n_readings,
        "new": file.n_new,
        "equal": file.n_equal,
        "conflicting": file.n_conflicting,
        "notes": file.notes,
    }


def conflicts(holdings: Holdings, session: Session, logger: str | None = None) -> pl.DataFrame:
    """List the readings that contradict one of an earlier import.

    Returns
    -------
    DataFrame
        logger, time_utc, channel, kept_rh_percent, kept_temperature_celsius, kept_import, kept_line, rh_percent,
        temperature_celsius, import, line; the kept reading is the one in force.
    """
    query = sa.select(Part).where(Part.n_contested > 0).order_by(Part.logger, Part.year)
    if logger is not None:
        query = query.where(Part.logger == logger)
    files = dict(session.execute(sa.select(ImportFile.id, ImportFile.import_id)).all())
    tables = [
        merging.conflicts(holdings.readings.load(part)).select(pl.lit(part.logger).alias("logger"), pl.all())
        for part in session.scalars(query)
    ]
    table = pl.concat(tables or [merging.conflicts(merging.EMPTY).select(pl.lit("").alias("logger"), pl.all())])
    import_of = pl.Series("import", list(files.values()), dtype=pl.Int64)
    source = pl.Series("source", list(files), dtype=pl.UInt32)
    names = {"kept_source": "kept_import", "source": "import"}
    return table.with_columns(
        pl.col(column).replace_strict(source, import_of, default=None, return_dtype=pl.Int64) for column in names
    ).rename(names)
