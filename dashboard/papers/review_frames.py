"""What a month's review finds of each frame: computed once and kept in the archive."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import repeat
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import pandas as pd
import sqlalchemy as sa

from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord
from isohume.analysis.results import Assessment
from isohume.dashboard.papers.review_air import air_in_review
from isohume.dashboard.papers.review_frame import EarlierMonth, EventInReview, FrameInReview
from isohume.dashboard.papers.review_inputs import END_INCLUDED, inputs_hash
from isohume.dashboard.papers.review_month import month_span, months_before
from isohume.dashboard.store import Store
from isohume.dashboard.summaries import summary
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.findings import Finding
from isohume.ingest.archive.models import FrameEvent, Location, Room
from isohume.ingest.archive.timelines import stays_of_frames

# The small picture shows 52 weeks; a little more, so that its first week is whole.
PICTURE = pd.Timedelta(days=371)
MONTHS_COMPARED = (1, 12)  # the month before, and the same month of the year before
AT_A_TIME = 4  # frames computed between two writes of what was found, at most
# Raised when what is kept of a frame in a month changes its form: what was kept before is then computed anew.
FORM = 4
INPUTS = "inputs"  # name of the hash among what is kept
Progress = Callable[[int, int], None]
Documents = dict[str, Mapping[str, Any]]


def kept_name(month: str) -> str:
    """Return the name under which a month's findings are kept in the archive."""
    return f"review {month}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """The moment a review speaks of.

    Attributes
    ----------
    month, time_zone : str
    start, as_of : Timestamp
        Begin of the month, and the moment.
    is_now : bool
        Whether it is the present, whose findings the archive keeps anyway.
    is_pinned : bool
        Whether that present stands still.
    """

    month: str
    time_zone: str
    start: pd.Timestamp
    as_of: pd.Timestamp
    is_now: bool
    is_pinned: bool

    @property
    def told_apart_by(self) -> str:
        """What was kept is used again while this stays the same: the moment itself, or the day of a running month."""
        still = self.is_pinned or not self.is_now
        moment = self.as_of.isoformat() if still else f"{self.as_of.tz_convert(self.time_zone):%Y-%m-%d}"
        return f"{moment} form {FORM}"


def frames_kept(archive: Archive, moment: Moment) -> tuple[dict[str, str], Documents]:
    """Return the keys of all frames, and what is kept and still holds of them."""
    keys, kept = archive.findings_keys(), archive.kept_findings(kept_name(moment.month))
    holds = {
        frame_id: old.document
        for frame_id, old in kept.items()
        if old.key == keys.get(frame_id) and old.as_of == moment.told_apart_by
    }
    return keys, holds


def frames_found(
    archive: Archive, moment: Moment, *, progress: Progress, n_processes: int = 1
) -> dict[str, FrameInReview]:
    """Return the findings of every frame, kept or computed; what is computed is kept as it comes."""
    keys, held = frames_kept(archive, moment)
    documents: Documents = dict(held)
    progress(len(documents), len(keys))
    missing = [frame_id for frame_id in keys if frame_id not in documents]
    older = {
        name: old.document
        for name, old in archive.kept_findings(kept_name(moment.month), missing).items()
        if old.as_of == moment.told_apart_by
    }
    for made in _computed(archive, missing, older, moment, n_processes=n_processes):
        documents.update(made)
        findings = {name: Finding(keys[name], moment.told_apart_by, document) for name, document in made.items()}
        archive.keep_findings(kept_name(moment.month), findings)
        progress(len(documents), len(keys))
    return {frame_id: FrameInReview.from_document(documents[frame_id]) for frame_id in keys}


def _computed(
    archive: Archive, frame_ids: list[str], older: Documents, moment: Moment, *, n_processes: int
) -> Iterator[Documents]:
    """Compute some frames, a few at a time; many of them in several processes."""
    at_a_time = max(1, min(AT_A_TIME, len(frame_ids) // (4 * n_processes)))  # few frames: told one by one
    few = [frame_ids[first : first + at_a_time] for first in range(0, len(frame_ids), at_a_time)]
    if n_processes < 2 or len(few) < 2 * n_processes:
        for some in few:
            yield _some_documents(archive, some, older, moment)
        return
    parts = [{name: older[name] for name in some if name in older} for some in few]
    # A fresh interpreter each: a copy of this one would share its connections and threads.
    with ProcessPoolExecutor(n_processes, mp_context=get_context("spawn")) as pool:
        yield from pool.map(_documents_elsewhere, repeat(archive.folder), few, parts, repeat(moment))


def _documents_elsewhere(folder: Path, frame_ids: list[str], older: Documents, moment: Moment) -> Documents:
    """Compute some frames in another process."""
    with Archive.open(folder) as archive:
        return _some_documents(archive, frame_ids, older, moment)


def _some_documents(archive: Archive, frame_ids: list[str], older: Documents, moment: Moment) -> Documents:
    """Return what the review keeps of some frames: as it was, where nothing up to its moment has changed."""
    store = Store(archive) if moment.is_now else Store(archive, as_of=moment.as_of)
    rooms = _rooms(archive, moment.as_of)
    found: Documents = {}
    for name in frame_ids:
        facts, room = archive.frame_facts(name), rooms.get(name, "")
        events = _events(archive, name, moment.start.to_pydatetime(), moment.as_of.to_pydatetime())
        inputs = inputs_hash(archive, facts, moment.as_of, room=room, events=events)
        if inputs and name in older and older[name].get(INPUTS) == inputs:
            found[name] = older[name]
            continue
        frame = _frame(archive, store.assessment(name), facts, moment, room=room, events=events)
        found[name] = {**frame.document(), INPUTS: inputs}
    return found


def _rooms(archive: Archive, as_of: pd.Timestamp) -> dict[str, str]:
    """Return the room of every frame at a moment."""
    at = as_of.to_pydatetime()
    with archive.register.reading() as session:
        names = {room.id: room.name or room.id for room in session.scalars(sa.select(Room))}
        stays = stays_of_frames(list(session.scalars(sa.select(Location))))
    return {stay.who[0]: names.get(stay.where, stay.where) for stay in stays if stay.start <= at}


def _frame(
    archive: Archive,
    found: Assessment,
    facts: FrameFacts,
    moment: Moment,
    *,
    room: str,
    events: tuple[EventInReview, ...],
) -> FrameInReview:
    as_of = moment.as_of
    spans = {
        month: month_span(month, moment.time_zone)
        for month in (months_before(moment.month, n) for n in MONTHS_COMPARED)
    }
    first = min(as_of - PICTURE, *(start for start, _end in spans.values())).to_pydatetime()
    # A reading at the very end of the month closes its last stretch.
    last = (as_of + END_INCLUDED).to_pydatetime()
    inside, outside = (
        _usable(record(facts.frame_id, start=first, end=last))
        for record in (archive.inside_record, archive.outside_record)
    )
    return FrameInReview(
        summary=summary(facts, found, room=room, inside=inside, outside=outside),
        air=air_in_review(inside, outside, moment.start, as_of, band=facts.band),
        half_time_days=found.exchange.half_time_days if found.exchange.determined else None,
        leave_from=found.forecast.earliest_plausible,
        earlier=tuple(
            EarlierMonth(month=month, air=air_in_review(inside, outside, start, end, band=facts.band))
            for month, (start, end) in spans.items()
        ),
        events=events,
    )


def _usable(air: AirRecord | None) -> AirRecord | None:
    return None if air is None or air.readings.empty else air


def _events(archive: Archive, frame_id: str, start: dt.datetime, end: dt.datetime) -> tuple[EventInReview, ...]:
    query = (
        sa.select(FrameEvent)
        .where(FrameEvent.frame == frame_id, FrameEvent.time >= start, FrameEvent.time < end)
        .order_by(FrameEvent.time, FrameEvent.kind)
    )
    with archive.register.reading() as session:
        return tuple(
            EventInReview(
                time_utc=pd.Timestamp(row.time).tz_convert("UTC"), kind=row.kind, by=row.by, note=row.note,
                rh_percent=row.rh_percent, water_g=row.water_g, board_kg=row.board_kg, warp_mm=row.warp_mm,
            )
            for row in session.scalars(query)
        )  # fmt: skip
