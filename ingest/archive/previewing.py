"""What an import would do, before anything is kept."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from isohume.ingest.archive.files import sha256_of_bytes
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.importing import bytes_of, kept_before
from isohume.ingest.archive.models import Placement
from isohume.ingest.archive.placing import Placed, place, still_asked
from isohume.ingest.archive.settling import OpenFile, Said, answers_for_reader, settle
from isohume.ingest.archive.timelines import logger_stays
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.questions import Answers, Question
from isohume.ingest.reading import FileReading, read_source

# An answer may raise the next question; a file has no more than a few.
MOST_ROUNDS = 4


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
    remembered : bool
        Read as a person settled it for this logger before.
    notes : tuple of str
        The reader's, without what the register answers.
    """

    reading: FileReading
    logger: str
    recognised_by: str
    placed: tuple[Placed, ...]
    notes: tuple[str, ...]
    remembered: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenPreview:
    """One table of readings that leaves a question open, as far as it can be shown.

    Attributes
    ----------
    reading : FileReading
        As the file alone tells; empty while a question about its rows is open.
    tentative : FileReading or None
        What it would hold with the likeliest answer to each of those questions, to be looked at before one answers.
    logger, recognised_by : str
        Who wrote it, "" where that is what is asked.
    """

    reading: FileReading
    tentative: FileReading | None
    logger: str
    recognised_by: str

    @property
    def shown(self) -> FileReading:
        """The reading to draw."""
        return self.tentative or self.reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """A received file as it was understood.

    Attributes
    ----------
    already_kept : int or None
        The import that brought the same bytes.
    files : tuple of PreviewedFile
        What is clear.
    open : tuple of OpenPreview
        What leaves a question open.
    questions : tuple of (str, Question)
        What must be answered first, by file.
    refused : tuple of str
        What cannot be read, with reasons.
    """

    name: str
    sha256: str
    already_kept: int | None
    files: tuple[PreviewedFile, ...]
    open: tuple[OpenPreview, ...]
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
                    notes=still_asked(one.reading.notes, table, stays), remembered=one.remembered,
                )
            )  # fmt: skip
    return Preview(
        name=name,
        sha256=sha256,
        already_kept=None if earlier is None else earlier.id,
        files=tuple(files),
        open=tuple(_open(one, said, holdings.now()) for one in settled.open),
        questions=tuple(settled.questions),
        refused=tuple(map(str, settled.refused)),
    )


def _open(one: OpenFile, said: Said, now: dt.datetime) -> OpenPreview:
    return OpenPreview(
        reading=one.reading,
        tentative=None if one.reading.is_settled else tentative(one, said, now),
        logger=one.recognised.logger.id if one.recognised else "",
        recognised_by=one.recognised.by if one.recognised else "",
    )


def tentative(one: OpenFile, said: Said, now: dt.datetime) -> FileReading | None:
    """Read a table with the first answer to each question it leaves open; None where that cannot be read."""
    answers = dict(answers_for_reader(said).given)
    reading = one.reading
    for _ in range(MOST_ROUNDS):
        answers |= {question.id: question.choices[0].value for question in reading.questions if question.choices}
        try:
            found = read_source(
                one.member.content, name=one.member.name, time_zone=one.time_zone, recipe=said.recipe,
                answers=Answers(answers), now=now,
            )  # fmt: skip
        except LoggerFileError:
            return None
        reading = next((other for other in found if other.file == one.reading.file), reading)
        if reading.is_settled:
            return reading
    return None
