"""Reading an import's file again exactly as it was read when it came."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl
import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive.columns import utc_time
from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.merging import EMPTY, Merged, merge
from isohume.ingest.archive.models_imports import Import, ImportFile
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.questions import Answers
from isohume.ingest.reading import read_source
from isohume.ingest.recipe import Recipe
from isohume.ingest.source import SourceFile, open_source


def files_in_force(session: Session, logger: str | None = None) -> list[tuple[Import, ImportFile]]:
    """Return the imported files whose readings count, in the order in which they came."""
    query = (
        sa.select(Import, ImportFile)
        .join(ImportFile, ImportFile.import_id == Import.id)
        .where(Import.undone.is_(None))
        .order_by(ImportFile.id)
    )
    if logger is not None:
        query = query.where(ImportFile.logger == logger)
    return [(received, file) for received, file in session.execute(query)]


def reread(holdings: Holdings, received: Import, file: ImportFile) -> pl.DataFrame:
    """Read the rows of one imported file from its original, with the recipe, zone and answers of its import.

    Raises
    ------
    ArchiveError
        The original is lost or altered, or this version of isohume cannot read it as it was read.
    """
    data = holdings.originals.bytes_of(received.sha256)
    try:
        for member in open_source(data, name=received.name):
            if isinstance(member, SourceFile) and member.name == file.asked["member"]:
                (reading,) = read_source(
                    member.content,
                    name=member.name,
                    time_zone=file.asked["time_zone"],
                    recipe=Recipe.from_toml(file.recipe),
                    answers=Answers(file.asked["answers"]).known(),
                    now=utc_time(file.asked["now"]),
                )
                return reading.table.with_columns(source=pl.lit(file.id, dtype=pl.UInt32))
        found = f"no member {file.asked['member']}"
    except LoggerFileError as error:
        found = str(error)
    raise ArchiveError(
        f"import {received.id}, {received.name}", found=found, expected=f"what isohume {received.version} read there",
        remedy="Use that version for this archive, and report the difference.",
    )  # fmt: skip


def reread_logger(holdings: Holdings, files: Sequence[tuple[Import, ImportFile]]) -> dict[int, Merged]:
    """Return the readings of one logger by year, from its originals alone."""
    tables = [reread(holdings, received, file) for received, file in files]
    if not tables:
        return {}
    rows = pl.concat([table.select(EMPTY.shadowed.columns) for table in tables])
    by_year = rows.group_by(pl.col("time_utc").dt.year(), maintain_order=True)
    return {int(str(year)): merge(of_year) for (year,), of_year in by_year}
