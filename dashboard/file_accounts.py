"""The files behind a frame: the account of their rows, and which of them were expected and did not come."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

import pandas as pd
import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.analysis import phrases
from isohume.dashboard.views import FileAccount
from isohume.ingest.archive.collect import inside_stays, outside_stays
from isohume.ingest.archive.models import Logger
from isohume.ingest.archive.models_imports import Import, ImportFile
from isohume.ingest.archive.timelines import Stay
from isohume.ingest.recipe import Recipe


def accounts(session: Session, frame_id: str) -> tuple[FileAccount, ...]:
    """Return the account of every kept file with readings from inside the frame or from its rooms, newest first."""
    found: dict[tuple[str, int], FileAccount] = {}
    for side, stays in (("inside", inside_stays(session, frame_id)), ("room", outside_stays(session, frame_id))):
        loggers = {stay.who[0] for stay in stays}
        query = (
            sa.select(ImportFile, Import)
            .join(Import, Import.id == ImportFile.import_id)
            .where(ImportFile.logger.in_(loggers), Import.undone.is_(None))
        )
        for file, received in session.execute(query):
            if any(stay.who[0] == file.logger and _meets(stay, file) for stay in stays):
                found[side, file.id] = _account(side, file, received)
    return tuple(sorted(found.values(), key=lambda account: (account.side, -_seconds(account.last_utc))))


def missing_files(session: Session, frame_id: str, *, now: pd.Timestamp, zone: str) -> list[str]:
    """Say which loggers that serve the frame at this moment owe a file."""
    at = now.to_pydatetime()
    sentences = []
    stays = [*inside_stays(session, frame_id), *outside_stays(session, frame_id)]
    for logger_id in sorted({stay.who[0] for stay in stays if stay.start <= at < stay.end}):
        logger = session.get_one(Logger, logger_id)
        if logger.expect_every_days is None or logger.retired:
            continue
        since = logger.expect_from or min(stay.start for stay in stays if stay.who[0] == logger_id)
        newest = session.scalar(
            sa.select(sa.func.max(ImportFile.last))
            .join(Import, Import.id == ImportFile.import_id)
            .where(ImportFile.logger == logger_id, Import.undone.is_(None))
        )
        told_until = max(since, newest) if newest is not None else since
        expected = pd.Timestamp(told_until + dt.timedelta(days=logger.expect_every_days)).tz_convert("UTC")
        if expected < now:
            when = phrases.day(expected, time_zone=zone)
            sentences.append(f"A file of logger {logger_id} was expected by {when} and has not come.")
    return sentences


def _meets(stay: Stay, file: ImportFile) -> bool:
    return file.first is not None and file.last is not None and stay.start <= file.last and file.first < stay.end


def _account(side: str, file: ImportFile, received: Import) -> FileAccount:
    rows: dict[str, Any] = file.ledger.get("rows", file.ledger)
    return FileAccount(
        file=file.name,
        sha256=received.sha256,
        side=side,
        logger=file.logger,
        imported_utc=_utc(received.received),
        first_utc=_utc(file.first),
        last_utc=_utc(file.last),
        in_file=rows["in_file"],
        kept=rows["kept"],
        flagged=rows["flagged"],
        duplicate=rows["duplicate"],
        conflicting=rows["conflicting"],
        rejected=rows["rejected"],
        in_words=" ".join(_sentences(Recipe.from_toml(file.recipe).in_words())),
    )


def _sentences(words: str | Sequence[str]) -> Sequence[str]:
    return [words] if isinstance(words, str) else words


def _utc(time: dt.datetime | None) -> pd.Timestamp | None:
    return None if time is None else pd.Timestamp(time).tz_convert("UTC")


def _seconds(time: pd.Timestamp | None) -> float:
    return 0.0 if time is None else time.timestamp()


def room_at(stays: Sequence[Stay], now: pd.Timestamp) -> str:
    """Return the room a frame hangs in at a moment, else the last one it hung in; "" for none."""
    at = now.to_pydatetime()
    begun = [stay for stay in stays if stay.start <= at]
    return begun[-1].where if begun else ""
