"""The files behind a frame: the account of their rows, and which of them were expected and did not come."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

import pandas as pd
import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.dashboard.views import FileAccount
from isohume.ingest.archive.collect import inside_stays, outside_stays
from isohume.ingest.archive.due import due
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


def overdue_files(session: Session, now: pd.Timestamp) -> dict[str, str]:
    """Return for each logger that owes a file the sentence that says so."""
    listed = due(session, now.to_pydatetime())
    return {one.logger: one.text for one in listed if one.kind == "file" and one.is_overdue}


def loggers_now(session: Session, frame_id: str, now: pd.Timestamp) -> list[str]:
    """Return the loggers that serve the frame at a moment, inside it or in its room."""
    at = now.to_pydatetime()
    stays = [*inside_stays(session, frame_id), *outside_stays(session, frame_id)]
    return sorted({stay.who[0] for stay in stays if stay.start <= at < stay.end})


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
