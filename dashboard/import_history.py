"""The imports of an archive as the Files page lists them: quick to ask whether they changed, and what an undo does."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd
import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.models import Placement
from isohume.ingest.archive.models_imports import Import, ImportFile, Part
from isohume.ingest.archive.models_register import Review
from isohume.ingest.archive.timelines import Stay, frame_stays, logger_stays


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportLine:
    """One table of an imported file.

    Attributes
    ----------
    places : tuple of str
        "frame …" and "room …" where its logger was meanwhile.
    rows : mapping
        The account of its rows.
    n_new, n_equal, n_conflicting : int
        Readings that were new, held already with the same values, or contradicted by an earlier import.
    """

    import_id: int
    file: str
    table: str
    logger: str
    places: tuple[str, ...]
    received: pd.Timestamp
    by: str
    undone: pd.Timestamp | None
    undone_by: str
    first: pd.Timestamp | None
    last: pd.Timestamp | None
    rows: dict[str, Any]
    n_new: int
    n_equal: int
    n_conflicting: int


def state_of(session: Session) -> str:
    """Return a text that changes whenever an import comes or is undone."""
    counted = session.execute(sa.select(sa.func.max(Import.id), sa.func.count(Import.undone))).one()
    return f"{counted[0]} {counted[1]}"


def undone(session: Session, import_ids: Sequence[int]) -> dict[int, str]:
    """Return which of some imports were undone, and by whom."""
    query = sa.select(Import.id, Import.undone_by).where(Import.id.in_(import_ids), Import.undone.is_not(None))
    return dict(session.execute(query).all())


def loggers_with_imports(session: Session) -> list[str]:
    """Return the loggers of which a file came."""
    return list(session.scalars(sa.select(ImportFile.logger).distinct().order_by(ImportFile.logger)))


def count_imports(session: Session, logger: str = "") -> int:
    """Return how many tables were imported."""
    query = sa.select(sa.func.count(ImportFile.id))
    return int(session.scalar(query.where(ImportFile.logger == logger) if logger else query) or 0)


def lines(session: Session, *, logger: str = "", most: int | None = None) -> list[ImportLine]:
    """Return the imported tables, the newest first."""
    query = sa.select(ImportFile, Import).join(Import, Import.id == ImportFile.import_id)
    if logger:
        query = query.where(ImportFile.logger == logger)
    query = query.order_by(ImportFile.import_id.desc(), ImportFile.position).limit(most)
    found = session.execute(query).all()
    stays: dict[str, list[Stay]] = {}
    for stay in logger_stays(session, Placement.logger.in_({file.logger for file, _ in found})):
        stays.setdefault(stay.who[0], []).append(stay)
    return [_line(file, received, stays.get(file.logger, [])) for file, received in found]


def _line(file: ImportFile, received: Import, stays: Sequence[Stay]) -> ImportLine:
    where = tuple(dict.fromkeys(stay.where for stay in stays if _meets(stay, file.first, file.last)))
    return ImportLine(
        import_id=received.id, file=received.name, table=file.name, logger=file.logger, places=where,
        received=_utc(received.received), by=received.by,
        undone=None if received.undone is None else _utc(received.undone), undone_by=received.undone_by,
        first=None if file.first is None else _utc(file.first), last=None if file.last is None else _utc(file.last),
        rows=dict(file.ledger), n_new=file.n_new, n_equal=file.n_equal, n_conflicting=file.n_conflicting,
    )  # fmt: skip


def _meets(stay: Stay, first: dt.datetime | None, last: dt.datetime | None) -> bool:
    return first is not None and last is not None and stay.start <= last and first < stay.end


@dataclass(frozen=True, slots=True, kw_only=True)
class UndoEffect:
    """What taking an import out will change.

    Attributes
    ----------
    n_fewer : int
        Readings in force that go; where another import holds the same moments, its readings take their place.
    frames : tuple of str
        Frames whose findings are computed anew.
    reviews : tuple of str
        Signed months that will get an addendum.
    """

    import_id: int
    file: str
    loggers: tuple[str, ...]
    first: pd.Timestamp | None
    last: pd.Timestamp | None
    n_fewer: int
    frames: tuple[str, ...]
    reviews: tuple[str, ...]


def undo_effect(held: Archive, import_id: int) -> UndoEffect | None:
    """Say what an undo will change; None where the import is not in force."""
    with held.register.reading() as session:
        received = session.get(Import, import_id)
        if received is None or received.undone is not None:
            return None
        files = list(session.scalars(sa.select(ImportFile).where(ImportFile.import_id == import_id)))
        sources, n_fewer = [file.id for file in files], 0
        years = {
            (file.logger, year)
            for file in files
            if file.first and file.last
            for year in range(file.first.year, file.last.year + 1)
        }
        for key in years:
            before = held.readings.load(session.get(Part, key))
            n_fewer += before.in_force.height - before.without(sources).in_force.height
        firsts = [file.first for file in files if file.first]
        lasts = [file.last for file in files if file.last]
        return UndoEffect(
            import_id=import_id,
            file=received.name,
            loggers=tuple(sorted({file.logger for file in files})),
            first=_utc(min(firsts)) if firsts else None,
            last=_utc(max(lasts)) if lasts else None,
            n_fewer=n_fewer,
            frames=_frames(session, files),
            reviews=_reviews(session, min(firsts), max(lasts)) if firsts else (),
        )


def _frames(session: Session, files: Sequence[ImportFile]) -> tuple[str, ...]:
    found: set[str] = set()
    hung = frame_stays(session)
    for file in files:
        for stay in logger_stays(session, Placement.logger == file.logger):
            if not _meets(stay, file.first, file.last):
                continue
            kind, _, name = stay.where.partition(" ")
            if kind == "frame":
                found.add(name)
            else:
                found |= {one.who[0] for one in hung if one.where == name and _meets(one, file.first, file.last)}
    return tuple(sorted(found))


def _reviews(session: Session, first: dt.datetime, last: dt.datetime) -> tuple[str, ...]:
    signed = session.scalars(sa.select(Review.month).where(Review.signed_on.is_not(None)).distinct())
    return tuple(sorted(month for month in signed if f"{first:%Y-%m}" <= month <= f"{last:%Y-%m}"))


def _utc(time: dt.datetime) -> pd.Timestamp:
    return pd.Timestamp(time).tz_convert("UTC")
