"""What an import would do, before anything is kept."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from isohume.ingest.archive.files import sha256_of_bytes
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.importing import bytes_of, kept_before
from isohume.ingest.archive.models import Placement
from isohume.ingest.archive.placing import Placed, place, still_asked
from isohume.ingest.archive.settling import Said, settle
from isohume.ingest.archive.timelines import logger_stays
from isohume.ingest.questions import Question
from isohume.ingest.reading import FileReading


@dataclass(frozen=True, slots=True, kw_only=True)
class PreviewedFile:
    """One table of readings as it was understood.

    Attributes
    ----------
    reading : FileReading
        Its readings, recipe and account.
    logger, recognised_by : str
        Who wrote it, and how that was told.
    placed : tuple of Placed
        Where its readings would belong.
    notes : tuple of str
        The reader's, without what the register answers.
    """

    reading: FileReading
    logger: str
    recognised_by: str
    placed: tuple[Placed, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """A received file as it was understood.

    Attributes
    ----------
    already_kept : int or None
        The import that brought the same bytes.
    files : tuple of PreviewedFile
        What is clear.
    questions : tuple of (str, Question)
        What must be answered first, by file.
    refused : tuple of str
        What cannot be read, with reasons.
    """

    name: str
    sha256: str
    already_kept: int | None
    files: tuple[PreviewedFile, ...]
    questions: tuple[tuple[str, Question], ...]
    refused: tuple[str, ...]


def preview(holdings: Holdings, source: Path | bytes, *, name: str, said: Said) -> Preview:
    """Read a file and say what an import would do; nothing is kept.

    Raises
    ------
    LoggerFileError
        It is no file of readings at all.
    """
    data = source if isinstance(source, bytes) else bytes_of(source, name)
    sha256 = sha256_of_bytes(data)
    with holdings.register.reading() as session:
        earlier = kept_before(session, sha256)
        settled = settle(session, data, name=name, said=said, now=holdings.now())
        files: list[PreviewedFile] = []
        for one in settled.files:
            logger, table = one.recognised.logger.id, one.reading.table
            stays = logger_stays(session, Placement.logger == logger)
            files.append(
                PreviewedFile(
                    reading=one.reading, logger=logger, recognised_by=one.recognised.by, placed=place(table, stays),
                    notes=still_asked(one.reading.notes, table, stays),
                )
            )  # fmt: skip
    return Preview(
        name=name,
        sha256=sha256,
        already_kept=None if earlier is None else earlier.id,
        files=tuple(files),
        questions=tuple(settled.questions),
        refused=tuple(map(str, settled.refused)),
    )
