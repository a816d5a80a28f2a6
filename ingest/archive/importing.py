"""One file into the archive: whose it is, how it is read, where it belongs, and then all of it in one transaction."""

from __future__ import annotations

from importlib.metadata import version
from pathlib import Path

import polars as pl
import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive import merging
from isohume.ingest.archive.columns import utc_text
from isohume.ingest.archive.files import sha256_of_bytes
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.import_results import ImportedFile, ImportResult, Status
from isohume.ingest.archive.models import Placement
from isohume.ingest.archive.models_imports import Import, ImportFile
from isohume.ingest.archive.parts_work import PartsInWork, changing_parts
from isohume.ingest.archive.placing import place, still_asked
from isohume.ingest.archive.recipes_kept import keep_recipe
from isohume.ingest.archive.settling import Said, Settled, SettledFile, settle
from isohume.ingest.archive.timelines import logger_stays
from isohume.ingest.errors import LoggerFileError

# Of a file with more rejected rows the register lists so many; all of them can be read again from the original.
MOST_ROWS_LISTED = 10_000


def ingest(holdings: Holdings, source: Path | bytes, *, name: str, said: Said) -> ImportResult:
    """Import one file: kept whole, or not at all.

    Raises
    ------
    LoggerFileError
        Nothing in it can be read.
    StorageError
        It cannot be stored.
    """
    data = source if isinstance(source, bytes) else bytes_of(source, name)
    sha256 = sha256_of_bytes(data)
    with holdings.register.reading() as session:
        earlier = kept_before(session, sha256)
        if earlier is not None:
            return _already(earlier, name)
        settled = settle(session, data, name=name, said=said, now=holdings.now())
    if settled.questions:
        return ImportResult(name=name, sha256=sha256, status="asks", questions=tuple(settled.questions))
    if not settled.files:
        raise settled.refused[0]
    holdings.on_step("file read")
    with changing_parts(holdings) as work:
        earlier = kept_before(work.session, sha256)  # another process may have been quicker
        if earlier is not None:
            return _already(earlier, name)
        return keep_settled(holdings, work, data, name=name, settled=settled)


def keep_settled(holdings: Holdings, work: PartsInWork, data: bytes, *, name: str, settled: Settled) -> ImportResult:
    """Keep a file whose questions are answered, within a writing transaction."""
    sha256 = sha256_of_bytes(data)
    holdings.originals.keep(data)
    received = _received(holdings, sha256=sha256, name=name, n_bytes=len(data))
    work.session.add(received)
    work.session.flush()
    holdings.on_step("import noted")
    files = tuple(_keep(holdings, work, received, position, one) for position, one in enumerate(settled.files))
    holdings.note(
        work.session, "imported", "imports", str(received.id),
        after={"name": name, "sha256": sha256, "files": [file.name for file in files],
               "loggers": [file.logger for file in files]},
    )  # fmt: skip
    status: Status = "waiting" if all(file.waits for file in files) else "kept"
    return ImportResult(
        name=name,
        sha256=sha256,
        status=status,
        import_id=received.id,
        files=files,
        refused=tuple(map(str, settled.refused)),
    )


def _keep(holdings: Holdings, work: PartsInWork, received: Import, position: int, file: SettledFile) -> ImportedFile:
    reading, logger = file.reading, file.recognised.logger
    table, ledger = reading.table, reading.ledger
    rows = {
        "in_file": ledger.in_file, "kept": ledger.kept, "flagged": ledger.flagged, "duplicate": ledger.duplicate,
        "conflicting": ledger.conflicting, "rejected": ledger.n_rejected,
    }  # fmt: skip
    stays = logger_stays(work.session, Placement.logger == logger.id)
    notes = still_asked(reading.notes, table, stays)
    row = ImportFile(
        import_id=received.id, position=position, name=reading.file, logger=logger.id,
        recognised_by=file.recognised.by, recipe=reading.recipe.to_toml(),
        asked={"member": file.member, "time_zone": file.time_zone, "answers": dict(file.answers.given),
               "now": utc_text(file.now)},
        ledger={**rows, "lines_in_file": ledger.lines_in_file, "other_lines": dict(ledger.other_lines),
                "rejected_rows": ledger.rejected.head(MOST_ROWS_LISTED).rows(named=True)},
        channels=table["channel"].unique().sort().to_list(), notes=list(notes),
        first=table["time_utc"].min(), last=table["time_utc"].max(), n_readings=table.height,
        n_new=0, n_equal=0, n_conflicting=0,
    )  # fmt: skip
    work.session.add(row)
    work.session.flush()
    for merged in work.join(logger.id, table.with_columns(source=pl.lit(row.id, dtype=pl.UInt32))):
        found = merging.outcome(merged, row.id)
        row.n_new += found.n_new
        row.n_equal += found.n_equal
        row.n_conflicting += found.n_conflicting
    keep_recipe(
        work.session, logger.id, reading.recipe, time_zone=file.time_zone, by_hand=file.by_hand, kept=holdings.now()
    )
    holdings.on_step("file noted")
    return ImportedFile(
        name=reading.file, logger=logger.id, recognised_by=file.recognised.by, rows=rows, n_new=row.n_new,
        n_equal=row.n_equal, n_conflicting=row.n_conflicting, placed=place(table, stays),
        notes=notes,
    )  # fmt: skip


def _received(holdings: Holdings, *, sha256: str, name: str, n_bytes: int) -> Import:
    return Import(
        sha256=sha256, name=name, n_bytes=n_bytes, received=holdings.now(), by=holdings.by, version=version("isohume")
    )


def kept_before(session: Session, sha256: str) -> Import | None:
    """Return the import in force that brought these bytes."""
    return session.scalars(sa.select(Import).where(Import.sha256 == sha256, Import.undone.is_(None))).first()


def _already(earlier: Import, name: str) -> ImportResult:
    return ImportResult(name=name, sha256=earlier.sha256, status="already kept", import_id=earlier.id)


def bytes_of(path: Path, name: str) -> bytes:
    """Return what a file holds.

    Raises
    ------
    LoggerFileError
        It cannot be read.
    """
    try:
        return path.read_bytes()
    except OSError as error:
        raise LoggerFileError(
            file=name, found=str(error.strerror), expected="a file that can be read",
            remedy="Check its name and permissions, or copy it to this machine first.",
        ) from None  # fmt: skip
