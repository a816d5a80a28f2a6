"""Evidence out of the archive: of one frame and one period, and of nothing else.

What leaves the house is listed here, field by field. Other frames, other rooms, who may open the frame, notes, and
rows of a file that belong elsewhere stay.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from importlib.metadata import version
from typing import Any

import pandas as pd
import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.analysis.frame import FrameFacts
from isohume.analysis.terms import ClimateTerms
from isohume.dashboard.assessment_json import iso, plain
from isohume.dashboard.papers.evidence import PARAMETERS_SCHEMA, SOFTWARE, Evidence, EvidenceError, readings_table
from isohume.dashboard.papers.typeset import Paper
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.collect import Gathered, gather, inside_stays, outside_stays
from isohume.ingest.archive.merging import COMPOSITE
from isohume.ingest.archive.models import Calibration, Location, Logger, Room
from isohume.ingest.archive.models_imports import Import, ImportFile
from isohume.ingest.archive.timelines import stays_of_frames

# Events that are work on the frame; notes and photographs are the house's own.
TOLD_EVENTS = frozenset(
    {"sealed", "opened", "reconditioned", "new buffer", "seal repaired", "moved", "logger placed", "logger taken out",
     "logger changed", "strip read", "warp measured", "loan leg"}
)  # fmt: skip
TOLD_OF_EVENTS = ("time_utc", "kind", "rh_percent", "water_g", "board_kg", "warp_mm", "warp_where", "warp_how")
ROW_ACCOUNT = ("lines_in_file", "in_file", "kept", "flagged", "duplicate", "conflicting", "rejected")


def evidence_of(
    archive: Archive,
    frame_id: str,
    *,
    start: pd.Timestamp,
    end: pd.Timestamp,
    terms: Sequence[ClimateTerms] = (),
    paper: Paper = "a4",
    seed: int = 0,
) -> Evidence:
    """Gather what a pack about one frame and one period holds.

    Parameters
    ----------
    archive : Archive
        Open.
    frame_id : str
        The frame.
    start, end : Timestamp
        The period; readings from `start` up to, not including, `end`.
    terms : sequence of ClimateTerms
        What the record is held to.
    paper : {"a4", "us-letter"}
        Size of the PDF's pages.
    seed : int
        Of the bootstrap and the ensembles.

    Raises
    ------
    RegisterError
        There is no such frame.
    EvidenceError
        The period is none, or nothing was measured in it.
    """
    if not start < end:
        raise EvidenceError(
            f"The period from {start:%Y-%m-%d %H:%M} to {end:%Y-%m-%d %H:%M} UTC is none. Give a start before its end."
        )
    first, last = start.to_pydatetime(), end.to_pydatetime()
    facts = archive.frame_facts(frame_id)
    with archive.register.reading() as session:
        stays = {"inside": inside_stays(session, frame_id), "room": outside_stays(session, frame_id)}
    sides = {side: gather(archive, mine, start=first, end=last) for side, mine in stays.items()}
    pieces = [(side, piece) for side, found in sides.items() if found is not None for piece in found.pieces]
    readings = readings_table([(side, piece.stay.who[0], piece.table) for side, piece in pieces])
    if readings.is_empty():
        raise EvidenceError(
            f"No reading of frame {frame_id} or its room between {start:%Y-%m-%d} and {end:%Y-%m-%d}. "
            "Choose a period that the loggers cover, or import their files first."
        )
    used = Counter[tuple[int, str]]()
    for side, piece in pieces:
        used.update((source, side) for source in piece.table["source"].to_list())
    with archive.register.reading() as session:
        collection = archive.collection(session)
        rooms = _rooms(session, frame_id, first, last)
        placements = _placements(session, pieces, {room["id"]: room["name"] for room in rooms})
        loggers = {placement["logger"] for placement in placements}
        parameters = {
            "schema": PARAMETERS_SCHEMA,
            "isohume_version": version("isohume"),
            "software": {name: version(name) for name in SOFTWARE},
            "collection": {
                "name": collection.name,
                "time_zone": collection.time_zone,
                "invented": collection.invented,
            },
            "frame": _frame(facts),
            "period": {"start_utc": iso(start), "end_utc": iso(end)},
            "rooms": rooms,
            "placements": placements,
            "sides": {side: _side(found) for side, found in sides.items()},
            "terms": [_terms(one) for one in terms],
            "seed": seed,
            "paper": paper,
        }
        return Evidence(
            readings=readings,
            parameters=plain(parameters),
            calibrations=plain(_calibrations(session, loggers, last)),
            events=plain(_events(facts, start, end)),
            originals=plain(_originals(session, used)),
        )


def _frame(facts: FrameFacts) -> dict[str, Any]:
    return {
        "frame_id": facts.frame_id,
        "painting": facts.painting,
        "band": facts.band,
        "conditioned_percent": facts.conditioned_percent,
        "conditioned_on": facts.conditioned_on,
        "panel": None if facts.panel is None else asdict(facts.panel),
        "construction": asdict(facts.construction),
        "lifecycle": facts.lifecycle,
        "limits": asdict(facts.limits),
    }


def _side(found: Gathered | None) -> dict[str, Any] | None:
    if found is None or not found.pieces:
        return None
    return {
        "uncertainty_percent": found.uncertainty_percent,
        "calibrated_on": found.calibrated_on,
        "logger_changes": found.logger_changes,
    }


def _terms(terms: ClimateTerms) -> dict[str, Any]:
    return {**asdict(terms), "clauses": [asdict(clause) for clause in terms.clauses]}


def _rooms(session: Session, frame_id: str, first: dt.datetime, last: dt.datetime) -> list[dict[str, Any]]:
    """Return where the frame hung in the period; nothing before or after it."""
    stays = stays_of_frames(list(session.scalars(sa.select(Location).where(Location.frame == frame_id))))
    within = [part for stay in stays if (part := stay.within(first, last)) is not None]
    names = {room.id: room.name or room.id for room in session.scalars(sa.select(Room))}
    return [
        {
            "id": stay.where,
            "name": names.get(stay.where, stay.where),
            "from_utc": pd.Timestamp(stay.start),
            "to_utc": pd.Timestamp(stay.end),
        }
        for stay in within
    ]


def _placements(session: Session, pieces: Iterable[Any], rooms: Mapping[str, str]) -> list[dict[str, Any]]:
    """Return which logger measured what, with the first and last reading that it gave."""
    found = []
    for side, piece in pieces:
        logger = session.get_one(Logger, piece.stay.who[0])
        times = piece.table["time_utc"]
        room = piece.stay.where.removeprefix("room ")
        found.append(
            {
                "side": side,
                "place": "inside the frame" if side == "inside" else rooms.get(room, room),
                "logger": logger.id,
                "serial": logger.serial,
                "channel": piece.stay.who[1],
                "first_utc": pd.Timestamp(times.min()),
                "last_utc": pd.Timestamp(times.max()),
                "n_readings": piece.table.height,
            }
        )
    return found


def _calibrations(session: Session, loggers: set[str], last: dt.datetime) -> list[dict[str, Any]]:
    rows = session.scalars(
        sa.select(Calibration)
        .where(Calibration.logger.in_(loggers), Calibration.date < last)
        .order_by(Calibration.logger, Calibration.channel, Calibration.date)
    )
    return [
        {
            "logger": row.logger,
            "channel": row.channel,
            "date": pd.Timestamp(row.date),
            "valid_until": None if row.valid_until is None else pd.Timestamp(row.valid_until),
            "method": row.method,
            "offset_percent": row.offset_percent,
            "points": row.points,
            "temperature_offset_celsius": row.temperature_offset_celsius,
            "uncertainty_percent": row.uncertainty_percent,
            "certificate": row.certificate,
            "as_found": row.as_found,
        }
        for row in rows
    ]


def _events(facts: FrameFacts, start: pd.Timestamp, end: pd.Timestamp) -> list[dict[str, Any]]:
    """Return the work on the frame in the period, without notes and without the names of rooms."""
    return [
        {name: getattr(event, name) for name in TOLD_OF_EVENTS}
        for event in facts.events
        if event.kind in TOLD_EVENTS and start <= event.time_utc < end
    ]


def _originals(session: Session, used: Counter[tuple[int, str]]) -> list[dict[str, Any]]:
    """Return the files that the readings came from, with the account of their rows and how many are used here."""
    query = (
        sa.select(ImportFile, Import)
        .join(Import, Import.id == ImportFile.import_id)
        .where(ImportFile.id.in_({source for source, _ in used} - {COMPOSITE}))
        .order_by(ImportFile.name, ImportFile.id)
    )
    return [
        {
            "file": file.name,
            "sha256": received.sha256,
            "bytes": received.n_bytes,
            "received_utc": pd.Timestamp(received.received).floor("s"),
            "read_by": f"isohume {received.version}",
            "logger": file.logger,
            "rows": {name: file.ledger[name] for name in ROW_ACCOUNT},
            "used": {side: used[file.id, side] for side in ("inside", "room")},
        }
        for file, received in session.execute(query)
    ]
