"""How each logger's files were read before: kept recipes, tried first the next time."""

from __future__ import annotations

import datetime as dt

import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive.files import sha256_of_bytes
from isohume.ingest.archive.models import Logger
from isohume.ingest.archive.models_imports import Recipe as KeptRecipe
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.questions import Answers
from isohume.ingest.reading import FileReading, read_source
from isohume.ingest.recipe import Recipe
from isohume.ingest.source import SourceFile


def read_with_kept_recipe(
    session: Session,
    member: SourceFile,
    *,
    logger: Logger | None,
    time_zone: str,
    recipe: Recipe | None,
    answers: Answers,
) -> tuple[FileReading, str, list[str]]:
    """Read one table of readings, by the recipe given, else by one of the logger's own, else afresh.

    Returns
    -------
    tuple
        The reading; the hash that stands for its layout; the loggers with files of this layout.

    Raises
    ------
    LoggerFileError
        It cannot be read.
    """
    reading = None
    if recipe is None and logger is not None and not answers.given:
        reading = _by_kept(session, member, logger.id, time_zone)
    if reading is None:
        (reading,) = read_source(member.content, name=member.name, time_zone=time_zone, recipe=recipe, answers=answers)
    shape = sha256_of_bytes(reading.recipe.to_toml().encode())
    same = session.scalars(sa.select(KeptRecipe.logger).where(KeptRecipe.shape == shape).distinct())
    return reading, shape, list(same)


def _by_kept(session: Session, member: SourceFile, logger: str, time_zone: str) -> FileReading | None:
    """Read by the logger's newest recipe that fits; None where none does."""
    kept = sa.select(KeptRecipe.toml).where(KeptRecipe.logger == logger).order_by(KeptRecipe.kept.desc())
    for toml in session.scalars(kept):
        try:
            (reading,) = read_source(
                member.content, name=member.name, time_zone=time_zone, recipe=Recipe.from_toml(toml)
            )
        except LoggerFileError:
            continue
        if not reading.questions:
            return reading
    return None


def keep_recipe(session: Session, logger: str, shape: str, toml: str, *, kept: dt.datetime) -> None:
    """Remember how a logger's file was read."""
    row = session.scalars(sa.select(KeptRecipe).filter_by(logger=logger, shape=shape)).one_or_none()
    if row is None:
        session.add(KeptRecipe(logger=logger, shape=shape, toml=toml, kept=kept))
    else:
        row.kept = kept
    session.flush()
