"""Taking an import out again: the readings are then what they would be had it never come."""

from __future__ import annotations

from dataclasses import dataclass

import sqlalchemy as sa

from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.models_imports import Import, ImportFile
from isohume.ingest.archive.parts_work import PartsInWork, changing_parts
from isohume.ingest.archive.recipes_kept import forget_recipes


@dataclass(frozen=True, slots=True, kw_only=True)
class UndoResult:
    """What was taken out."""

    import_id: int
    name: str
    loggers: tuple[str, ...]
    n_readings_before: int
    n_readings_after: int

    def report(self) -> str:
        """Return the result as one line."""
        gone = self.n_readings_before - self.n_readings_after
        return (
            f"Import {self.import_id} ({self.name}) undone: {gone} readings fewer for "
            f"{', '.join(self.loggers)}. The file as received is still kept; import it again at any time."
        )


def undo(holdings: Holdings, import_id: int) -> UndoResult:
    """Take one import out of the readings; its file as received and its account stay.

    Raises
    ------
    ArchiveError
        There is no such import, or it was undone already.
    """
    with changing_parts(holdings) as work:
        return take_out(holdings, work, import_id)


def take_out(holdings: Holdings, work: PartsInWork, import_id: int) -> UndoResult:
    """Take one import out of the readings, within a writing transaction."""
    received = work.session.get(Import, import_id)
    if received is None or received.undone is not None:
        raise ArchiveError(
            f"import {import_id}",
            found="no such import" if received is None else f"undone on {received.undone:%Y-%m-%d %H:%M} UTC",
            expected="an import whose readings are in force",
            remedy="List the imports with `isohume archive imports`.",
        )
    files = list(work.session.scalars(sa.select(ImportFile).where(ImportFile.import_id == import_id)))
    n_before = n_after = 0
    sources = [file.id for file in files]
    for logger, year in sorted({(file.logger, year) for file in files for year in _years(file)}):
        before = work.get(logger, year)
        after = before.without(sources)
        n_before, n_after = n_before + before.in_force.height, n_after + after.in_force.height
        work.put(logger, year, after)
    received.undone, received.undone_by = holdings.now(), holdings.by
    work.session.flush()
    forget_recipes(work.session, {file.logger for file in files})
    holdings.note(work.session, "undone", "imports", str(import_id), before={"name": received.name})
    holdings.on_step("undo noted")
    return UndoResult(
        import_id=import_id,
        name=received.name,
        loggers=tuple(sorted({file.logger for file in files})),
        n_readings_before=n_before,
        n_readings_after=n_after,
    )


def _years(file: ImportFile) -> range:
    if file.first is None or file.last is None:
        return range(0)
    return range(file.first.year, file.last.year + 1)
