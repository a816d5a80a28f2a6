"""What a month's review finds of each frame: computed once and kept in the archive."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

import pandas as pd
import sqlalchemy as sa

from isohume.analysis.constants import HOUR_SECONDS
from isohume.analysis.excursions import hours_outside
from isohume.analysis.frame import FrameFacts
from isohume.analysis.integrals import covered_hours, time_mean
from isohume.analysis.readings import AirRecord
from isohume.analysis.results import Assessment
from isohume.dashboard.store import Store
from isohume.dashboard.summaries import from_document, summary, to_document
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.findings import Finding
from isohume.ingest.archive.models import Location, Room
from isohume.ingest.archive.timelines import stays_of_frames

# The small picture shows 52 weeks; a little more, so that its first week is whole.
PICTURE = pd.Timedelta(days=371)
KEEP_EVERY = 5  # frames computed between two writes of what was found
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthOfAir:
    """One side's humidity in the month [%RH]; None where nothing was usable."""

    coverage: float  # of the month up to the review's moment, 0-1
    mean: float | None
    lowest: float | None
    highest: float | None


def kept_name(month: str) -> str:
    """Return the name under which a month's findings are kept in the archive."""
    return f"review {month}"


def frames_found(
    archive: Archive, month: str, start: pd.Timestamp, as_of: pd.Timestamp, *, is_now: bool, progress: Progress
) -> dict[str, tuple[FrameFacts, dict[str, Any]]]:
    """Return the facts and findings of every frame, computed or kept."""
    keys, kept = archive.findings_keys(), archive.kept_findings(kept_name(month))
    store = Store(archive) if is_now else Store(archive, as_of=as_of)
    rooms = _rooms(archive, as_of)
    found: dict[str, tuple[FrameFacts, dict[str, Any]]] = {}
    made: dict[str, Finding] = {}
    for done, (frame_id, key) in enumerate(keys.items()):
        progress(done, len(keys))
        facts, old = archive.frame_facts(frame_id), kept.get(frame_id)
        if old is not None and old.key == key and old.as_of == as_of.isoformat():
            document: Mapping[str, Any] = old.document
        else:
            document = _document(archive, store.assessment(frame_id), facts, rooms.get(frame_id, ""), start)
            made[frame_id] = Finding(key, as_of.isoformat(), document)
        found[frame_id] = facts, _parts(document)
        if len(made) >= KEEP_EVERY:
            archive.keep_findings(kept_name(month), made)
            made = {}
    if made:
        archive.keep_findings(kept_name(month), made)
    progress(len(keys), len(keys))
    return found


def _rooms(archive: Archive, as_of: pd.Timestamp) -> dict[str, str]:
    """Return the room of every frame at a moment."""
    at = as_of.to_pydatetime()
    with archive.register.reading() as session:
        names = {room.id: room.name or room.id for room in session.scalars(sa.select(Room))}
        stays = stays_of_frames(list(session.scalars(sa.select(Location))))
    return {stay.who[0]: names.get(stay.where, stay.where) for stay in stays if stay.start <= at}


def _document(
    archive: Archive, found: Assessment, facts: FrameFacts, room: str, start: pd.Timestamp
) -> dict[str, Any]:
    as_of = found.as_of
    first, last = (as_of - PICTURE).to_pydatetime(), as_of.to_pydatetime()
    inside = _usable(archive.inside_record(facts.frame_id, start=first, end=last))
    outside = _usable(archive.outside_record(facts.frame_id, start=first, end=last))
    leave = found.forecast.earliest_plausible
    return {
        "summary": to_document(summary(facts, found, room=room, inside=inside, outside=outside)),
        "inside": _month(inside, start, as_of),
        "room": _month(outside, start, as_of),
        "hours_outside": _hours_outside(inside, facts, start),
        "half_time_days": found.exchange.half_time_days if found.exchange.determined else None,
        "leave_from": None if leave is None else leave.isoformat(),
    }


def _usable(air: AirRecord | None) -> AirRecord | None:
    return None if air is None or air.readings.empty else air


def _month(air: AirRecord | None, start: pd.Timestamp, as_of: pd.Timestamp) -> dict[str, Any] | None:
    series = None if air is None else air.rh_percent.loc[start:]
    if series is None or series.dropna().empty:
        return None
    hours = (as_of - start).total_seconds() / HOUR_SECONDS
    coverage = min(covered_hours(series) / hours, 1.0)
    return asdict(
        MonthOfAir(coverage=coverage, mean=time_mean(series), lowest=float(series.min()), highest=float(series.max()))
    )


def _hours_outside(inside: AirRecord | None, facts: FrameFacts, start: pd.Timestamp) -> float | None:
    series = None if inside is None else inside.rh_percent.loc[start:]
    if series is None or series.dropna().empty or facts.band is None:
        return None
    low, high = facts.band
    found = hours_outside(series, low=low, high=high, uncertainty_percent=0.0)
    return found.hours_below + found.hours_above


def _parts(document: Mapping[str, Any]) -> dict[str, Any]:
    leave = document["leave_from"]
    return {
        "summary": from_document(document["summary"]),
        **{side: None if document[side] is None else MonthOfAir(**document[side]) for side in ("inside", "room")},
        "hours_outside": document["hours_outside"],
        "half_time_days": document["half_time_days"],
        "leave_from": None if leave is None else pd.Timestamp(leave),
    }
