"""Before anything is kept: whose each table of a file is, and how it is read; or what has to be asked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive.models import Collection, Logger
from isohume.ingest.archive.recipes_kept import loggers_with, read_by_kept_recipe, shape_of
from isohume.ingest.archive.recognise import QUESTION, Recognised, ask, by_layout, by_name_or_preamble, head_text
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.questions import Answers, Question
from isohume.ingest.reading import FileReading, read_source
from isohume.ingest.recipe import Recipe
from isohume.ingest.source import SourceFile, open_source


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What the user said about a file beforehand; "" and None: nothing."""

    logger: str = ""
    time_zone: str = ""
    recipe: Recipe | None = None
    answers: Answers = field(default_factory=Answers)


@dataclass(frozen=True, slots=True, kw_only=True)
class SettledFile:
    """One table of readings, read and not yet kept; `remembered`: as a person settled it for this logger before."""

    member: str
    recognised: Recognised
    time_zone: str
    answers: Answers
    by_hand: bool
    now: dt.datetime
    reading: FileReading
    remembered: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenFile:
    """One table of readings that leaves a question open: how its rows are read, or whose they are."""

    member: SourceFile
    time_zone: str
    reading: FileReading
    recognised: Recognised | None


@dataclass(slots=True)
class Settled:
    """A received file: what is clear, what is open and must be asked, what cannot be read."""

    files: list[SettledFile] = field(default_factory=list)
    open: list[OpenFile] = field(default_factory=list)
    questions: list[tuple[str, Question]] = field(default_factory=list)
    refused: list[LoggerFileError] = field(default_factory=list)


def settle(session: Session, data: bytes, *, name: str, said: Said, now: dt.datetime) -> Settled:
    """Read a received file, and tell for each table which logger wrote it.

    Raises
    ------
    LoggerFileError
        It is no file of readings at all.
    """
    settled = Settled()
    loggers = list(session.scalars(sa.select(Logger).where(~Logger.retired).order_by(Logger.id)))
    site_zone = session.scalars(sa.select(Collection.time_zone)).one()
    for member in open_source(data, name=name):
        if isinstance(member, LoggerFileError):
            settled.refused.append(member)
            continue
        try:
            _settle_member(session, member, settled, said=said, loggers=loggers, site_zone=site_zone, now=now)
        except LoggerFileError as error:
            settled.refused.append(error)
    return settled


def _settle_member(
    session: Session,
    member: SourceFile,
    settled: Settled,
    *,
    said: Said,
    loggers: Sequence[Logger],
    site_zone: str,
    now: dt.datetime,
) -> None:
    head = "" if member.is_spreadsheet else head_text(member.content)
    named = _named(said, loggers, member.name) or by_name_or_preamble(loggers, name=member.name, head=head)
    logger = named.logger if isinstance(named, Recognised) else None
    time_zone = said.time_zone or (logger.time_zone if logger else "") or site_zone
    readings, remembered = _readings(session, member, logger, said=said, time_zone=time_zone, now=now)
    for reading in readings:
        told = (
            named
            or by_name_or_preamble(loggers, name=reading.file, head="")  # a sheet may carry the logger's name
            or by_layout(loggers, loggers_with(session, shape_of(reading.recipe)))
            or ask([], loggers, name=reading.file)
        )
        settled.questions += [(reading.file, question) for question in reading.questions]
        if isinstance(told, Question):
            settled.questions.append((reading.file, told))
        if isinstance(told, Question) or not reading.is_settled:
            known = None if isinstance(told, Question) else told
            settled.open.append(OpenFile(member=member, time_zone=time_zone, reading=reading, recognised=known))
        else:
            settled.files.append(
                SettledFile(
                    member=member.name, recognised=told, time_zone=time_zone, answers=answers_for_reader(said),
                    by_hand=said.recipe is not None or bool(answers_for_reader(said).given), now=now, reading=reading,
                    remembered=remembered,
                )
            )  # fmt: skip


def _readings(
    session: Session, member: SourceFile, logger: Logger | None, *, said: Said, time_zone: str, now: dt.datetime
) -> tuple[tuple[FileReading, ...], bool]:
    """Read a file as said, else as a person settled it for this logger, else by itself, else as its earlier files.

    With it: whether a person settled it.
    """
    may_use_kept = logger is not None and said.recipe is None and not said.answers.given

    def by_kept(*, by_hand: bool) -> tuple[FileReading, ...]:
        if logger is None or not may_use_kept:
            return ()
        return read_by_kept_recipe(session, member, logger=logger.id, time_zone=time_zone, by_hand=by_hand, now=now)

    settled_by_hand = by_kept(by_hand=True)
    if settled_by_hand:
        return settled_by_hand, True
    afresh = read_source(
        member.content,
        name=member.name,
        time_zone=time_zone,
        recipe=said.recipe,
        answers=answers_for_reader(said),
        now=now,
    )
    if all(reading.is_settled for reading in afresh):
        return afresh, False
    return by_kept(by_hand=False) or afresh, False


def _named(said: Said, loggers: Sequence[Logger], file: str) -> Recognised | None:
    wanted = said.logger or said.answers.get(QUESTION)
    if not wanted:
        return None
    for logger in loggers:
        if logger.id == wanted:
            return Recognised(logger, "what you said")
    raise LoggerFileError(
        file=file, found=f'logger "{wanted}"', expected="a logger of the register, not retired",
        remedy="Add it to the register first, or correct its name.",
    )  # fmt: skip


def answers_for_reader(said: Said) -> Answers:
    """Return what the reader is told: all but whose file it is."""
    return Answers({key: value for key, value in said.answers.given.items() if key != QUESTION})
