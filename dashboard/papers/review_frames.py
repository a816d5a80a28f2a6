"""What a month's review finds of each frame: computed once and kept in the archive."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from itertools import repeat
from multiprocessing import get_context
from pathlib import Path
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
AT_A_TIME = 4  # frames computed between two writes of what was found
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """The moment a review speaks of.

    Attributes
    ----------
    start, as_of : Timestamp
        Begin of the month, and the moment.
    is_now : bool
        Whether it is the present, whose findings the archive keeps anyway.
    told_apart_by : str
        What was kept is used again while this stays the same: the moment itself, or the day of a running month.
    """

    start: pd.Timestamp
    as_of: pd.Timestamp
    is_now: bool
    told_apart_by: str


def frames_found(
    archive: Archive, month: str, moment: Moment, *, progress: Progress, n_processes: int = 1
) -> dict[str, tuple[FrameFacts, dict[str, Any]]]:
    """Return the facts and findings of every frame, kept or computed; what is computed is kept as it comes."""
    keys, kept = archive.findings_keys(), archive.kept_findings(kept_name(month))
    documents: dict[str, Mapping[str, Any]] = {
        frame_id: old.document
        for frame_id, old in kept.items()
        if old.key == keys.get(frame_id) and old.as_of == moment.told_apart_by
    }
    progress(len(documents), len(keys))
    missing = [frame_id for frame_id in keys if frame_id not in documents]
    for made in _computed(archive, missing, moment, n_processes=n_processes):
        documents.update(made)
        findings = {name: Finding(keys[name], moment.told_apart_by, document) for name, document in made.items()}
        archive.keep_findings(kept_name(month), findings)
        progress(len(documents), len(keys))
    return {frame_id: (archive.frame_facts(frame_id), _parts(documents[frame_id])) for frame_id in keys}


def _computed(
    archive: Archive, frame_ids: list[str], moment: Moment, *, n_processes: int
) -> Iterator[dict[str, dict[str, Any]]]:
    """Compute some frames, a few at a time; many of them in several processes."""
    few = [frame_ids[first : first + AT_A_TIME] for first in range(0, len(frame_ids), AT_A_TIME)]
    if n_processes < 2 or len(few) < 2 * n_processes:
        for some in few:
            yield _some_documents(archive, some, moment)
        return
    # A fresh interpreter each: a copy of this one would share its connections and threads.
    with ProcessPoolExecutor(n_processes, mp_context=get_context("spawn")) as pool:
        yield from pool.map(_documents_elsewhere, repeat(archive.folder), few, repeat(moment))


def _documents_elsewhere(folder: Path, frame_ids: list[str], moment: Moment) -> dict[str, dict[str, Any]]:
    """Compute some frames in another process."""
    with Archive.open(folder) as archive:
        return _some_documents(archive, frame_ids, moment)


def _some_documents(archive: Archive, frame_ids: list[str], moment: Moment) -> dict[str, dict[str, Any]]:
    store = Store(archive) if moment.is_now else Store(archive, as_of=moment.as_of)
    rooms = _rooms(archive, moment.as_of)
    return {
        name: _document(archive, store.assessment(name), archive.frame_facts(name), rooms.get(name, ""), moment.start)
        for name in frame_ids
    }


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
