"""The pages' only door to data: findings are computed once, kept in the archive, and found again by their inputs."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

import pandas as pd
import sqlalchemy as sa

from isohume.analysis.assess import assess
from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord
from isohume.analysis.results import Assessment
from isohume.dashboard import file_accounts
from isohume.dashboard.drawn_record import DrawnRecord
from isohume.dashboard.summaries import from_document, newest_reading, summary, to_document
from isohume.dashboard.urgency import urgency
from isohume.dashboard.views import FrameSummary, FrameView, Site, UnknownFrameError
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.findings import Finding
from isohume.ingest.archive.models import Location, Room
from isohume.ingest.archive.models_imports import TrailEntry
from isohume.ingest.archive.timelines import stays_of_frames

SUMMARY = "frame summary"
# Frames whose readings and findings stay in memory: those that somebody looks at just now.
FRAMES_IN_MEMORY = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenFrame:
    """A frame that somebody looks at: facts, readings and findings of one state of the archive."""

    key: str
    facts: FrameFacts
    room: str
    inside: AirRecord | None
    outside: AirRecord | None
    assessment: Assessment
    record: DrawnRecord


class Store:
    """Implements `isohume.dashboard.views.FrameStore` over an archive.

    Parameters
    ----------
    archive : Archive
        Open; shared by all threads of the server.
    now : callable
        Returns the present moment, UTC; a collection that pins its own (a demonstration) does not ask.
    as_of : Timestamp, optional
        The moment to speak of instead, UTC.
    """

    def __init__(
        self,
        archive: Archive,
        *,
        now: Callable[[], pd.Timestamp] = lambda: pd.Timestamp.now("UTC"),
        as_of: pd.Timestamp | None = None,
    ) -> None:
        self._archive, self._now, self._as_of = archive, now, as_of
        self._lock = threading.RLock()
        self._state: tuple[int, str] = (-1, "")
        self._keys: dict[str, str] = {}
        self._overdue: dict[str, str] = {}
        self._summaries: tuple[FrameSummary, ...] = ()
        self._open: OrderedDict[str, OpenFrame] = OrderedDict()

    def site(self) -> Site:
        """Return the collection, its zone and its now."""
        with self._archive.register.reading() as session:
            collection = self._archive.collection(session)
        return Site(
            name=collection.name or "This collection",
            time_zone=collection.time_zone,
            invented=collection.invented,
            now=self._as_of or self._archive.as_of() or self._now(),
        )

    def summaries(self) -> tuple[FrameSummary, ...]:
        """Return all frames, most urgent first; only those whose inputs changed are computed."""
        with self._lock:
            if self._refresh() or len(self._summaries) != len(self._keys):
                self._summaries = self._all_summaries(self.site())
            return self._summaries

    def frame(self, frame_id: str) -> FrameView:
        """Return all findings of one frame; raises UnknownFrameError."""
        found = self._opened(frame_id)
        with self._archive.register.reading() as session:
            files = file_accounts.accounts(session, frame_id)
        ids = [summary.frame_id for summary in self.summaries()]
        place = ids.index(frame_id)
        return FrameView(
            facts=found.facts,
            room=found.room,
            estimated=found.inside is None,
            newest_utc=newest_reading(found.inside),
            assessment=found.assessment,
            files=files,
            previous_id=ids[place - 1] if place else None,
            next_id=ids[place + 1] if place + 1 < len(ids) else None,
        )

    def record(self, frame_id: str) -> DrawnRecord:
        """Return the readings of one frame and its rooms; raises UnknownFrameError."""
        return self._opened(frame_id).record

    def _refresh(self) -> bool:
        """Ask the archive whether anything changed; drop what no longer holds."""
        with self._archive.register.reading() as session:
            newest_change = session.scalar(sa.select(sa.func.max(TrailEntry.id))) or 0
        site = self.site()
        state = newest_change, f"{site.now.tz_convert(site.time_zone):%Y-%m-%d}"
        if state == self._state:
            return False
        if state[1] != self._state[1]:
            self._open.clear()
        self._keys = self._archive.findings_keys()
        with self._archive.register.reading() as session:
            self._overdue = file_accounts.overdue_files(session, site.now)
        for frame_id in [name for name, found in self._open.items() if self._keys.get(name) != found.key]:
            del self._open[frame_id]
        self._state = state
        return True

    def _all_summaries(self, site: Site) -> tuple[FrameSummary, ...]:
        day = self._state[1]
        kept = self._archive.kept_findings(SUMMARY)
        made: dict[str, Finding] = {}
        found: list[FrameSummary] = []
        for frame_id, key in self._keys.items():
            old = kept.get(frame_id)
            if old is not None and old.key == key and old.as_of == day:
                found.append(from_document(old.document))
                continue
            frame = self._assessed(frame_id, site)
            found.append(
                summary(frame.facts, frame.assessment, room=frame.room, inside=frame.inside, outside=frame.outside)
            )
            made[frame_id] = Finding(key, day, to_document(found[-1]))
        if made:
            self._archive.keep_findings(SUMMARY, made)
        return tuple(sorted(found, key=lambda one: urgency(one.standing, one.data, one.frame_id)))

    def _opened(self, frame_id: str) -> OpenFrame:
        with self._lock:
            self._refresh()
            if frame_id not in self._keys:
                raise UnknownFrameError(frame_id)
            if frame_id not in self._open:
                self._open[frame_id] = self._assessed(frame_id, self.site())
            self._open.move_to_end(frame_id)
            while len(self._open) > FRAMES_IN_MEMORY:
                self._open.popitem(last=False)
            return self._open[frame_id]

    def _assessed(self, frame_id: str, site: Site) -> OpenFrame:
        facts = self._archive.frame_facts(frame_id)
        inside = self._archive.inside_record(frame_id)
        outside = self._archive.outside_record(frame_id)
        with self._archive.register.reading() as session:
            serving = file_accounts.loggers_now(session, frame_id, site.now)
            stays = stays_of_frames(list(session.scalars(sa.select(Location).where(Location.frame == frame_id))))
            rooms = {room.id: room.name or room.id for room in session.scalars(sa.select(Room))}
        where = file_accounts.room_at(stays, site.now)
        return OpenFrame(
            key=self._keys[frame_id],
            facts=facts,
            room=rooms.get(where, where),
            inside=inside,
            outside=outside,
            assessment=assess(
                inside,
                outside,
                frame=facts,
                as_of=site.now,
                files_missing=[self._overdue[logger] for logger in serving if logger in self._overdue],
            ),
            record=DrawnRecord(inside, outside),
        )
