"""The files behind a month's review: those with readings of the month, and the account of their rows."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import cast

import pandas as pd
import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive.models_imports import Import, ImportFile


@dataclass(frozen=True, slots=True, kw_only=True)
class FileInReview:
    """One file with readings of the month."""

    file: str
    sha256: str
    logger: str
    received_utc: pd.Timestamp
    first_utc: pd.Timestamp
    last_utc: pd.Timestamp
    in_file: int
    kept: int
    flagged: int
    duplicate: int
    conflicting: int
    rejected: int


def files_of(session: Session, start: pd.Timestamp, end: pd.Timestamp) -> tuple[FileInReview, ...]:
    """Return the kept files with readings from `start` up to `end`, in order of logger and time."""
    query = (
        sa.select(ImportFile, Import)
        .join(Import, Import.id == ImportFile.import_id)
        .where(
            Import.undone.is_(None), ImportFile.last >= start.to_pydatetime(), ImportFile.first < end.to_pydatetime()
        )
        .order_by(ImportFile.logger, ImportFile.first, ImportFile.id)
    )
    return tuple(_file(file, received) for file, received in session.execute(query))


def _file(file: ImportFile, received: Import) -> FileInReview:
    rows = file.ledger
    return FileInReview(
        file=file.name,
        sha256=received.sha256,
        logger=file.logger,
        received_utc=pd.Timestamp(received.received).tz_convert("UTC"),
        first_utc=pd.Timestamp(cast("dt.datetime", file.first)).tz_convert("UTC"),
        last_utc=pd.Timestamp(cast("dt.datetime", file.last)).tz_convert("UTC"),
        in_file=rows["in_file"],
        kept=rows["kept"],
        flagged=rows["flagged"],
        duplicate=rows["duplicate"],
        conflicting=rows["conflicting"],
        rejected=rows["rejected"],
    )
