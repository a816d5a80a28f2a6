"""The archive's integrity: every hash, every account, the audit trail, and whether readings follow from originals."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import groupby

import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive import trail
from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.models_imports import Import, ImportFile, Part
from isohume.ingest.archive.models_register import Document
from isohume.ingest.archive.readings_store import content_hash
from isohume.ingest.archive.rebuild import Progress, is_sound, no_progress, parts_of
from isohume.ingest.archive.rereading import files_in_force, reread_logger


@dataclass(slots=True)
class AuditResult:
    """What an audit looked at and found.

    Attributes
    ----------
    n_originals, n_documents, n_parts, n_trail_lines : int
        Looked at.
    problems : list of str
        What is not as it must be, with what to do; empty: the archive is clean.
    remarks : list of str
        What is harmless, and worth knowing.
    """

    n_originals: int = 0
    n_documents: int = 0
    n_parts: int = 0
    n_trail_lines: int = 0
    problems: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    @property
    def is_clean(self) -> bool:
        """Whether nothing is wrong."""
        return not self.problems

    def report(self) -> str:
        """Return the result as text."""
        looked_at = (
            f"{self.n_originals} files as received, {self.n_documents} documents, {self.n_parts} logger-years of "
            f"readings and {self.n_trail_lines} lines of the audit trail were checked."
        )
        verdict = "The archive is clean." if self.is_clean else f"{len(self.problems)} problems:"
        return "\n".join([looked_at, verdict, *self.problems, *(f"Remark: {remark}" for remark in self.remarks)])


def audit(holdings: Holdings, *, deep: bool = True, progress: Progress = no_progress) -> AuditResult:
    """Check the archive; nothing is changed.

    Parameters
    ----------
    deep : bool
        Also read every original again and compare the readings that follow with those stored.
    """
    result = AuditResult()
    with holdings.register.reading() as session:
        _check_database(holdings, session, result)
        _check_originals(holdings, session, result)
        parts = parts_of(session)
        _check_parts(holdings, parts, result)
        _check_accounts(session, result)
        broken = list(trail.broken_lines(session))
        result.n_trail_lines = len(trail.lines(session))
        result.problems += [
            f"Audit trail, line {line}: altered, or a line before it removed. Compare with a backup."
            for line in broken
        ]
        if deep:
            _check_rereading(holdings, session, parts, result, progress)
    return result


def _check_database(holdings: Holdings, session: Session, result: AuditResult) -> None:
    if not holdings.register.is_sqlite:
        return  # PostgreSQL checks its own pages
    for check in ("PRAGMA integrity_check", "PRAGMA foreign_key_check"):
        for row in session.execute(sa.text(check)):
            if tuple(row) != ("ok",):
                result.problems.append(f"Register: {', '.join(map(str, row))}. Restore it from a backup.")


def _check_originals(holdings: Holdings, session: Session, result: AuditResult) -> None:
    received = dict(session.execute(sa.select(Import.sha256, Import.name).order_by(Import.id)).all())
    result.n_originals = len(received)
    for sha256, name in received.items():
        if not holdings.originals.is_sound(sha256):
            result.problems.append(
                f"Original {name} ({holdings.originals.path(sha256)}): missing or altered. "
                "Take it from a backup, or import the logger's own copy again."
            )
    documents = list(session.scalars(sa.select(Document)))
    result.n_documents = len(documents)
    for document in documents:
        if not holdings.documents.is_sound(document.sha256):
            result.problems.append(f"Document {document.name}: missing or altered. Take it from a backup.")
    result.problems += [
        f"Evidence as issued ({holdings.papers.path(sha256)}): altered. Take it from a backup, or issue it again."
        for sha256 in holdings.papers.all_hashes()
        if not holdings.papers.is_sound(sha256)
    ]
    strangers = set(holdings.originals.all_hashes()) - set(received)
    if strangers:
        result.remarks.append(
            f"{len(strangers)} files in originals/ belong to no import: left by an interrupted import, or received "
            "after the backup this register came from. They are kept; import them again if they are wanted."
        )


def _check_parts(holdings: Holdings, parts: list[Part], result: AuditResult) -> None:
    result.n_parts = len(parts)
    for part in parts:
        if not is_sound(holdings, part):
            paths = ", ".join(map(str, holdings.readings.paths(part)))
            result.problems.append(
                f"Readings of {part.logger} {part.year} ({paths}): missing or altered. `isohume rebuild` mends them."
            )


def _check_accounts(session: Session, result: AuditResult) -> None:
    for received, file in files_in_force(session):
        if file.n_new + file.n_equal + file.n_conflicting != file.n_readings:
            result.problems.append(f"Import {received.id}, {file.name}: its account of readings does not add up.")
    held = session.scalar(sa.select(sa.func.sum(Part.n_readings))) or 0
    read = session.scalar(
        sa.select(sa.func.sum(ImportFile.n_readings))
        .join(Import, Import.id == ImportFile.import_id)
        .where(Import.undone.is_(None))
    )
    if held > (read or 0):
        result.problems.append(f"{held} readings are held, but only {read or 0} were imported. Run `isohume rebuild`.")


def _check_rereading(
    holdings: Holdings, session: Session, parts: list[Part], result: AuditResult, progress: Progress
) -> None:
    stored = {(part.logger, part.year): part.content for part in parts}
    files = sorted(files_in_force(session), key=lambda pair: (pair[1].logger, pair[1].id))
    loggers = [(logger, list(mine)) for logger, mine in groupby(files, key=lambda pair: pair[1].logger)]
    lost: set[str] = set()
    for done, (logger, mine) in enumerate(loggers):
        progress(done, len(loggers))
        try:
            anew = reread_logger(holdings, mine)
        except ArchiveError as error:
            result.problems.append(str(error))
            lost.add(logger)
            continue
        for year, merged in anew.items():
            if stored.pop((logger, year), "") != content_hash(merged):
                versions = ", ".join(sorted({received.version for received, _ in mine}))
                result.problems.append(
                    f"Readings of {logger} {year} do not follow from the originals (imported by isohume {versions}). "
                    "`isohume rebuild` makes them anew."
                )
    result.problems += [
        f"Readings of {logger} {year} come from no import. `isohume rebuild` removes them."
        for logger, year in stored
        if logger not in lost
    ]
    progress(len(loggers), len(loggers))
