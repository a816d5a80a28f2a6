"""One file into the archive: whose it is, how it is read, where it belongs, and then all of it in one transaction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from importlib.metadata import version
from pathlib import Path

import polars as pl
import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive import merging
from isohume.ingest.archive.files import sha256_of_bytes
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.import_results import ImportedFile, ImportResult, Status
from isohume.ingest.archive.models import Logger, Placement
from isohume.ingest.archive.models_imports import Import, ImportFile
from isohume.ingest.archive.parts_work import PartsInWork, changing_parts
from isohume.ingest.archive.placing import place
from isohume.ingest.archive.recipes_kept import keep_recipe, read_with_kept_recipe
from isohume.ingest.archive.recognise import (
    QUESTION,
    Recognised,
    ask,
    by_layout,
    by_name_or_preamble,
    head_text,
)
from isohume.ingest.archive.timelines import stays_of_loggers
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.questions import Answers, Question
from isohume.ingest.reading import FileReading
from isohume.ingest.recipe import Recipe
from isohume.ingest.source import SourceFile, open_source


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadFile:
    """One table of readings, read and not yet kept."""

    name: str
    recognised: Recognised
    time_zone: str
    answers: Answers
    reading: FileReading
    shape: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What the user said about a file beforehand; "" and None: nothing."""

    logger: str = ""
    time_zone: str = ""
    recipe: Recipe | None = None
    answers: Answers = field(default_factory=Answers)


def ingest(holdings: Holdings, source: Path | bytes, *, name: str, said: Said) -> ImportResult:
    """Import one file: kept whole, or not at all.

    Raises
    ------
    LoggerFileError
        Nothing in it can be read.
    StorageError
        It cannot be stored.
    """
    data = source if isinstance(source, bytes) else _bytes_of(source, name)
    sha256 = sha256_of_bytes(data)
    with holdings.register.reading() as session:
        earlier = _kept_before(session, sha256)
        if earlier is not None:
            return _already(earlier, name)
        loggers = list(session.scalars(sa.select(Logger).where(~Logger.retired).order_by(Logger.id)))
        site_zone = holdings.collection(session).time_zone
        read, questions, refused = _read_all(session, data, name=name, said=said, loggers=loggers, site_zone=site_zone)
    if questions:
        return ImportResult(name=name, sha256=sha256, status="asks", questions=tuple(questions))
    if not read:
        raise refused[0]
    holdings.on_step("file read")
    with changing_parts(holdings) as work:
        earlier = _kept_before(work.session, sha256)  # another process may have been quicker
        if earlier is not None:
            return _already(earlier, name)
        holdings.originals.keep(data)
        received = _received(holdings, sha256=sha256, name=name, n_bytes=len(data))
        work.session.add(received)
        work.session.flush()
        holdings.on_step("import noted")
        files = tuple(_keep(holdings, work, received, position, one) for position, one in enumerate(read))
        holdings.note(
            work.session, "imported", "imports", str(received.id),
            after={"name": name, "sha256": sha256, "files": [file.name for file in files],
                   "loggers": [file.logger for file in files]},
        )  # fmt: skip
    status: Status = "waiting" if all(file.waits for file in files) else "kept"
    return ImportResult(
        name=name, sha256=sha256, status=status, import_id=received.id, files=files, refused=tuple(map(str, refused))
    )


def _read_all(
    session: Session, data: bytes, *, name: str, said: Said, loggers: Sequence[Logger], site_zone: str
) -> tuple[list[ReadFile], list[tuple[str, Question]], list[LoggerFileError]]:
    read: list[ReadFile] = []
    questions: list[tuple[str, Question]] = []
    refused: list[LoggerFileError] = []
    for member in open_source(data, name=name):
        if isinstance(member, LoggerFileError):
            refused.append(member)
            continue
        try:
            found = _read(session, member, said=said, loggers=loggers, site_zone=site_zone)
        except LoggerFileError as error:
            refused.append(error)
            continue
        if isinstance(found, ReadFile):
            read.append(found)
        else:
            questions += [(member.name, question) for question in found]
    return read, questions, refused


def _read(
    session: Session, member: SourceFile, *, said: Said, loggers: Sequence[Logger], site_zone: str
) -> ReadFile | list[Question]:
    head = "" if member.is_spreadsheet else head_text(member.content)
    named = said.logger or said.answers.get(QUESTION) or ""
    recognised: Recognised | Question | None
    if named:
        chosen = [row for row in loggers if row.id == named]
        if not chosen:
            raise LoggerFileError(
                file=member.name, found=f'logger "{named}"', expected="a logger of the register, not retired",
                remedy="Add it to the register first, or correct its name.",
            )  # fmt: skip
        recognised = Recognised(chosen[0], "what you said")
    else:
        recognised = by_name_or_preamble(loggers, name=member.name, head=head)
    logger = recognised.logger if isinstance(recognised, Recognised) else None
    time_zone = said.time_zone or (logger.time_zone if logger else "") or site_zone
    reading, shape, same_layout = read_with_kept_recipe(
        session, member, logger=logger, time_zone=time_zone, recipe=said.recipe, answers=said.answers
    )
    if recognised is None:
        recognised = by_layout(loggers, same_layout) or ask([], loggers, name=member.name)
    questions = list(reading.questions)
    if isinstance(recognised, Question):
        return [recognised, *questions]
    if questions:
        return questions
    return ReadFile(
        name=member.name,
        recognised=recognised,
        time_zone=time_zone,
        answers=said.answers,
        reading=reading,
        shape=shape,
    )


def _keep(holdings: Holdings, work: PartsInWork, received: Import, position: int, file: ReadFile) -> ImportedFile:
    reading, logger = file.reading, file.recognised.logger
    table, ledger = reading.table, reading.ledger
    rows = {
        "in_file": ledger.in_file, "kept": ledger.kept, "flagged": ledger.flagged, "duplicate": ledger.duplicate,
        "conflicting": ledger.conflicting, "rejected": ledger.n_rejected,
    }  # fmt: skip
    row = ImportFile(
        import_id=received.id, position=position, name=file.name, logger=logger.id,
        recognised_by=file.recognised.by, recipe=reading.recipe.to_toml(),
        asked={"time_zone": file.time_zone, "answers": dict(file.answers.given)},
        ledger={**rows, "lines_in_file": ledger.lines_in_file, "other_lines": dict(ledger.other_lines),
                "rejected_rows": ledger.rejected.rows(named=True)},
        channels=table["channel"].unique().sort().to_list(), notes=list(reading.notes),
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
    keep_recipe(work.session, logger.id, file.shape, row.recipe, kept=holdings.now())
    stays = stays_of_loggers(list(work.session.scalars(sa.select(Placement).where(Placement.logger == logger.id))))
    holdings.on_step("file noted")
    return ImportedFile(
        name=file.name, logger=logger.id, recognised_by=file.recognised.by, rows=rows, n_new=row.n_new,
        n_equal=row.n_equal, n_conflicting=row.n_conflicting, placed=place(table, stays),
        recipe_words=reading.recipe.in_words(), notes=reading.notes,
    )  # fmt: skip


def _received(holdings: Holdings, *, sha256: str, name: str, n_bytes: int) -> Import:
    return Import(
        sha256=sha256, name=name, n_bytes=n_bytes, received=holdings.now(), by=holdings.by, version=version("isohume")
    )


def _kept_before(session: Session, sha256: str) -> Import | None:
    return session.scalars(sa.select(Import).where(Import.sha256 == sha256, Import.undone.is_(None))).first()


def _already(earlier: Import, name: str) -> ImportResult:
    return ImportResult(name=name, sha256=earlier.sha256, status="already kept", import_id=earlier.id)


def _bytes_of(path: Path, name: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise LoggerFileError(
            file=name, found=str(error.strerror), expected="a file that can be read",
            remedy="Check its name and permissions, or copy it to this machine first.",
        ) from None  # fmt: skip
