"""Readings made anew from the originals: what `audit` found damaged is mended."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.archive.files import sha256_of_file
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.merging import EMPTY
from isohume.ingest.archive.models import Logger
from isohume.ingest.archive.models_imports import Part
from isohume.ingest.archive.parts_work import PartsInWork, changing_parts
from isohume.ingest.archive.readings_store import content_hash
from isohume.ingest.archive.rereading import files_in_force, reread_logger

Progress = Callable[[int, int], None]


def no_progress(_done: int, _of: int) -> None:
    """Tell nobody."""


@dataclass(slots=True)
class RebuildResult:
    """What a rebuild found and did, by logger-year such as "L01 2026"."""

    n_sound: int = 0
    mended: list[str] = field(default_factory=list)
    changed: list[str] = field(default_factory=list)  # this version reads them otherwise
    refused: list[str] = field(default_factory=list)  # an original is lost

    def report(self) -> str:
        """Return the result as text."""
        lines = [f"{self.n_sound} logger-years were sound."]
        if self.mended:
            lines.append(f"Mended from the originals: {', '.join(self.mended)}.")
        if self.changed:
            lines.append(f"Read otherwise by this version, and replaced: {', '.join(self.changed)}.")
        return "\n".join([*lines, *(f"Not rebuilt: {reason}" for reason in self.refused)])


def rebuild(holdings: Holdings, *, progress: Progress = no_progress) -> RebuildResult:
    """Make the readings anew, one logger after the other; each logger's change is one transaction."""
    result = RebuildResult()
    with holdings.register.reading() as session:
        loggers = list(session.scalars(sa.select(Logger.id).order_by(Logger.id)))
    for done, logger in enumerate(loggers):
        progress(done, len(loggers))
        try:
            with changing_parts(holdings) as work:
                found = _rebuild_logger(holdings, work, logger)
        except ArchiveError as error:
            result.refused.append(str(error))
            continue
        result.n_sound += found.n_sound
        result.mended += found.mended
        result.changed += found.changed
    progress(len(loggers), len(loggers))
    return result


def _rebuild_logger(holdings: Holdings, work: PartsInWork, logger: str) -> RebuildResult:
    result = RebuildResult()
    anew = reread_logger(holdings, files_in_force(work.session, logger))
    holdings.on_step("logger read again")
    parts = {part.year: part for part in work.session.scalars(sa.select(Part).where(Part.logger == logger))}
    for year in sorted(set(anew) | set(parts)):
        part, name = parts.get(year), f"{logger} {year}"
        if part is None or year not in anew or content_hash(anew[year]) != part.content:
            result.changed.append(name)
        elif not is_sound(holdings, part):
            result.mended.append(name)
        else:
            result.n_sound += 1
            continue
        work.put(logger, year, anew.get(year, EMPTY))
    if result.changed or result.mended:
        holdings.note(
            work.session, "rebuilt", "readings", logger, after={"mended": result.mended, "changed": result.changed}
        )
    return result


def is_sound(holdings: Holdings, part: Part) -> bool:
    """Whether the files of a logger-year hold the bytes that were written."""
    hashes = [part.sha256, part.shadowed_sha256] if part.shadowed_sha256 else [part.sha256]
    paths = holdings.readings.paths(part)
    return all(path.is_file() and sha256_of_file(path) == sha256 for path, sha256 in zip(paths, hashes, strict=True))


def parts_of(session: Session) -> list[Part]:
    """Return all logger-years."""
    return list(session.scalars(sa.select(Part).order_by(Part.logger, Part.year)))
