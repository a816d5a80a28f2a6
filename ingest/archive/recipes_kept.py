"""How each logger's files were read before: what a person settled is used again, before and instead of asking."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive.files import sha256_of_bytes
from isohume.ingest.archive.models_imports import Import, ImportFile
from isohume.ingest.archive.models_imports import Recipe as KeptRecipe
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.reading import FileReading, read_source
from isohume.ingest.recipe import Recipe
from isohume.ingest.source import SourceFile


def shape_of(recipe: Recipe) -> str:
    """Return the hash that stands for a layout."""
    return sha256_of_bytes(recipe.to_toml().encode())


def read_by_kept_recipe(
    session: Session, member: SourceFile, *, logger: str, time_zone: str, by_hand: bool, now: dt.datetime
) -> tuple[FileReading, ...]:
    """Read a file by the logger's newest recipe that fits it; empty where none does.

    A recipe that a person settled (`by_hand`) comes before anything found in the file. One that was itself found in
    a file comes only where this file leaves a question open: what a file says of itself is never overruled by an
    earlier file, which may have had fewer columns.

    Only recipes settled under the same time zone count: a logger's clock may have been set anew. A workbook is read
    afresh, since a recipe knows one sheet.
    """
    if member.is_spreadsheet:
        return ()
    kept = (
        sa.select(KeptRecipe.toml)
        .filter_by(logger=logger, time_zone=time_zone, by_hand=by_hand)
        .order_by(KeptRecipe.kept.desc())
    )
    for toml in session.scalars(kept):
        try:
            readings = read_source(
                member.content, name=member.name, time_zone=time_zone, recipe=Recipe.from_toml(toml), now=now
            )
        except LoggerFileError:
            continue
        if all(reading.is_settled for reading in readings):
            return readings
    return ()


def loggers_with(session: Session, shape: str) -> list[str]:
    """Return the loggers that had files of this layout."""
    return list(session.scalars(sa.select(KeptRecipe.logger).where(KeptRecipe.shape == shape).distinct()))


def keep_recipe(
    session: Session, logger: str, recipe: Recipe, *, time_zone: str, by_hand: bool, kept: dt.datetime
) -> None:
    """Remember how a logger's file was read."""
    shape = shape_of(recipe)
    row = session.scalars(sa.select(KeptRecipe).filter_by(logger=logger, shape=shape)).one_or_none()
    if row is None:
        session.add(
            KeptRecipe(
                logger=logger, shape=shape, toml=recipe.to_toml(), time_zone=time_zone, by_hand=by_hand, kept=kept
            )
        )
    else:
        row.kept, row.time_zone, row.by_hand = kept, time_zone, row.by_hand or by_hand
    session.flush()


def forget_recipes(session: Session, loggers: Iterable[str]) -> None:
    """Forget how files were read of which none is in force any more: an undone mistake is not repeated."""
    for logger in loggers:
        in_force = (
            sa.select(ImportFile.recipe)
            .join(Import, Import.id == ImportFile.import_id)
            .where(ImportFile.logger == logger, Import.undone.is_(None))
        )
        session.execute(sa.delete(KeptRecipe).where(KeptRecipe.logger == logger, KeptRecipe.toml.not_in(in_force)))
