"""Findings kept between runs: computed once for the same inputs, found again by a hash of all of them."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive.columns import Base, UtcTime, utc_text
from isohume.ingest.archive.facts import known_frame
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.models import (
    Calibration,
    ClockCorrection,
    Frame,
    FrameEvent,
    Logger,
    Placement,
)
from isohume.ingest.archive.models_imports import Part
from isohume.ingest.archive.models_register import KeptFinding
from isohume.ingest.archive.timelines import Stay, frame_stays, logger_stays

# Raised when the same inputs give other findings although the version of isohume stays, as during development.
METHOD = 4


@dataclass(frozen=True, slots=True)
class Finding:
    """A kept finding.

    Attributes
    ----------
    key : str
        Hash of what it was computed from: `Archive.findings_key`.
    as_of : str
        The moment it holds for, as its writer tells moments apart (a date, say); "" if it does not depend on it.
    document : mapping
        The finding, as JSON holds it.
    """

    key: str
    as_of: str
    document: Mapping[str, Any]


def keys(session: Session, frame_ids: Iterable[str] | None = None) -> dict[str, str]:
    """Return for each frame the hash of everything its findings depend on, except the date.

    Hashed are the frame's facts, events, rooms and placements; for each logger inside or in its rooms the
    calibrations, clock corrections, uncertainty and the content of its readings in the time it served the frame;
    the site's zone; the same of the frame it was built like; and the version.
    """
    zone = session.scalar(sa.text("SELECT time_zone FROM collection"))
    basis = f"{version('isohume')} {METHOD} {zone}"
    frames = _rows(session, Frame)
    sister: dict[str, str] = {facts["id"]: (facts["construction"] or {}).get("built_like", "") for facts in frames}
    asked = None if frame_ids is None else set(frame_ids)
    wanted = None if asked is None else asked | {sister.get(frame_id, "") for frame_id in asked}
    loggers = _hashes_by_logger(session)
    parts = _by(_rows(session, Part), "logger")
    measured: dict[str, list[Stay]] = defaultdict(list)  # by place
    for stay in logger_stays(session):
        measured[stay.where].append(stay)
    hung: dict[str, list[Stay]] = defaultdict(list)
    for stay in frame_stays(session):
        hung[stay.who[0]].append(stay)
    events = _by(_rows(session, FrameEvent), "frame")
    found: dict[str, str] = {}
    for facts in frames:
        frame_id = facts["id"]
        if wanted is not None and frame_id not in wanted:
            continue
        rooms = hung[frame_id]
        in_rooms = [stay for room in sorted({stay.where for stay in rooms}) for stay in measured[f"room {room}"]]
        stays = [*measured[f"frame {frame_id}"], *in_rooms]
        told = [(stay, loggers[stay.who[0]], _content(parts[stay.who[0]], stay)) for stay in stays]
        content = [basis, facts, events[frame_id], _texts(rooms), [[*_texts([stay]), *rest] for stay, *rest in told]]
        found[frame_id] = _hash(content)
    return {
        # A frame without a logger takes its half-time from the one it was built like.
        frame_id: _hash([own, found[sister[frame_id]]]) if sister[frame_id] in found else own
        for frame_id, own in found.items()
        if asked is None or frame_id in asked
    }


def key(session: Session, frame_id: str) -> str:
    """Return the hash of everything one frame's findings depend on, except the date."""
    known_frame(session, frame_id)
    return keys(session, [frame_id])[frame_id]


def _hashes_by_logger(session: Session) -> dict[str, str]:
    """Return for each logger the hash of what changes the meaning of its readings."""
    calibrations = _by(_rows(session, Calibration), "logger")
    clocks = _by(_rows(session, ClockCorrection), "logger")
    placements = _by(_rows(session, Placement), "logger")  # what lies outside them is counted
    return {
        row["id"]: _hash(
            [row["uncertainty_percent"], calibrations[row["id"]], clocks[row["id"]], placements[row["id"]]]
        )
        for row in _rows(session, Logger)
    }


def _content(parts: Sequence[Mapping[str, Any]], stay: Stay) -> list[str]:
    """Return the content hashes of a logger's years around a stay; a corrected clock may reach into a neighbour."""
    first, last = stay.start.year - 1, stay.end.year + 1 if stay.end.year < dt.MAXYEAR else dt.MAXYEAR
    return [part["content"] for part in parts if first <= part["year"] <= last]


def _rows(session: Session, model: type[Base]) -> list[dict[str, Any]]:
    """Return a table's rows as plain values; ids that only number rows are left out."""
    table = model.__table__
    columns = [
        # Times stay the texts they are stored as.
        sa.type_coerce(column, sa.Text).label(column.name) if isinstance(column.type, UtcTime) else column
        for column in table.columns
        if not (column.name == "id" and isinstance(column.type, sa.Integer))
    ]
    return [dict(row) for row in session.execute(sa.select(*columns).order_by(*table.primary_key)).mappings()]


def _by(rows: Iterable[dict[str, Any]], column: str) -> dict[str, list[dict[str, Any]]]:
    grouped: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        grouped[row[column]].append(row)
    return grouped


def _texts(stays: Iterable[Stay]) -> list[list[str]]:
    return [[*stay.who, utc_text(stay.start), utc_text(stay.end), stay.where] for stay in stays]


def _hash(content: Any) -> str:
    text = json.dumps(content, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def kept(session: Session, name: str, frame_ids: Iterable[str] | None = None) -> dict[str, Finding]:
    """Return the kept findings of one name by frame, whether they are still in force or not."""
    query = sa.select(KeptFinding.frame, KeptFinding.key, KeptFinding.as_of, KeptFinding.document)
    query = query.where(KeptFinding.name == name)
    if frame_ids is not None:
        query = query.where(KeptFinding.frame.in_(list(frame_ids)))
    return {
        frame: Finding(found_key, as_of, json.loads(document))
        for frame, found_key, as_of, document in session.execute(query)
    }


def keep(holdings: Holdings, session: Session, name: str, findings: Mapping[str, Finding]) -> None:
    """Keep findings by frame, in place of earlier ones of the same name."""
    session.execute(sa.delete(KeptFinding).where(KeptFinding.name == name, KeptFinding.frame.in_(list(findings))))
    now = holdings.now()
    session.add_all(
        KeptFinding(
            frame=frame, name=name, key=finding.key, as_of=finding.as_of, computed=now,
            document=json.dumps(finding.document, ensure_ascii=False, separators=(",", ":"), allow_nan=False),
        )
        for frame, finding in findings.items()
    )  # fmt: skip
