"""The audit trail: who changed what, when; each line sealed by the hash of the one before."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterator
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive.columns import utc_text
from isohume.ingest.archive.models_imports import TrailEntry


def note(
    session: Session,
    *,
    time: dt.datetime,
    by: str,
    action: str,
    kind: str,
    key: str,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
) -> None:
    """Add one line to the trail, within the transaction that makes the change."""
    previous = session.scalar(sa.select(TrailEntry.sha256).order_by(TrailEntry.id.desc()).limit(1)) or ""
    entry = TrailEntry(
        time=time, by=by, action=action, kind=kind, key=key, before=before, after=after, previous=previous
    )
    entry.sha256 = seal(entry)
    session.add(entry)
    session.flush()


def seal(entry: TrailEntry) -> str:
    """Return the hash over a line's content and the hash of the line before."""
    content = [utc_text(entry.time), entry.by, entry.action, entry.kind, entry.key, entry.before, entry.after]
    text = json.dumps([*content, entry.previous], sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def broken_lines(session: Session) -> Iterator[int]:
    """Name the lines whose content or order is not what was sealed."""
    previous = ""
    for entry in session.scalars(sa.select(TrailEntry).order_by(TrailEntry.id)):
        if entry.previous != previous or seal(entry) != entry.sha256:
            yield entry.id
        previous = entry.sha256


def lines(session: Session, *, kind: str | None = None, key: str | None = None) -> list[TrailEntry]:
    """Return the trail, oldest first, of everything or of one record."""
    query = sa.select(TrailEntry).order_by(TrailEntry.id)
    if kind is not None:
        query = query.where(TrailEntry.kind == kind)
    if key is not None:
        query = query.where(TrailEntry.key == key)
    return list(session.scalars(query))
