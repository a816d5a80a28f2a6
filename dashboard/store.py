"""The pages' only door to data: findings are computed once, kept in the archive, and found again by their inputs."""

from __future__ import annotations

import logging
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace

import pandas as pd
import sqlalchemy as sa

from isohume.analysis.assess import NoOverlapError, assess
from isohume.analysis.forecast.present_room import has_moved
from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord
from isohume.analysis.results import Assessment, DataQuality, Reason, Standing
from isohume.dashboard import file_accounts, kept_assessment
from isohume.dashboard.drawn_record import DrawnRecord
from isohume.dashboard.summaries import from_document, summary, to_document
from isohume.dashboard.urgency import urgency
from isohume.dashboard.views import FrameSummary, FrameView, Site, UnknownFrameError
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.findings import Finding
from isohume.ingest.archive.models import Location, Room
from isohume.ingest.archive.models_imports import TrailEntry
from isohume.ingest.archive.timelines import stays_of_frames
from isohume.ingest.clock_doubt import with_clock_doubted

log = logging.getLogger(__name__)

SUMMARY, ASSESSMENT = "frame summary", "assessment"
# Frames whose readings stay in memory: those that somebody looks at just now.
FRAMES_IN_MEMORY = 6
FAILED = "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenFrame:
    """A frame that somebody looks at: facts and readings of one state of the archive."""

    key: str
    facts: FrameFacts
    room: str
    inside: AirRecord | None
    outside: AirRecord | None
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
        The moment to speak of instead, UTC; what is found for it is not kept.
    """

    def __init__(
        self,
        archive: Archive,
        *,
        now: Callable[[], pd.Timestamp] = lambda: pd.Timestamp.now("UTC"),
        as_of: pd.Timestamp | None = None,
    ) -> None:
        self._archive, self._now, self._as_of = archive, now, as_of
        self._lock = threading.RLock()  # of what is in memory; held for moments only
        self._work = threading.RLock()  # one assessment at a time; whoever waits finds it done
        self._state: tuple[int, str] = (-1, "")
        self._keys: dict[str, str] = {}
        self._overdue: dict[str, str] = {}
        self._summaries: dict[str, FrameSummary] = {}
        self._assessments: dict[str, Assessment] = {}
        self._open: OrderedDict[str, OpenFrame] = OrderedDict()

    @property
    def archive(self) -> Archive:
        """Return the archive behind the pages, for those that write to it."""
        return self._archive

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
        keys = self._refreshed()
        if self._summaries.keys() != keys.keys():
            with self._work:
                self._complete_summaries()
        found = [self._summaries[frame_id] for frame_id in keys if frame_id in self._summaries]
        return tuple(sorted(found, key=lambda one: urgency(one.standing, one.data, one.frame_id)))

    def frame(self, frame_id: str) -> FrameView:
        """Return all findings of one frame, without its readings; raises UnknownFrameError."""
        if frame_id not in self._refreshed():
            raise UnknownFrameError(frame_id)
        rows = self.summaries()
        place = [row.frame_id for row in rows].index(frame_id)
        with self._archive.register.reading() as session:
            files = file_accounts.accounts(session, frame_id)
        return FrameView(
            facts=self._archive.frame_facts(frame_id),
            room=rows[place].room,
            estimated=rows[place].estimated,
            newest_utc=rows[place].newest_utc,
            assessment=self.assessment(frame_id),
            files=files,
            previous_id=rows[place - 1].frame_id if place else None,
            next_id=rows[place + 1].frame_id if place + 1 < len(rows) else None,
        )

    def record(self, frame_id: str) -> DrawnRecord:
        """Return the readings of one frame and its rooms; raises UnknownFrameError."""
        return self._opened(frame_id).record

    def assessment(self, frame_id: str) -> Assessment:
        """Return all findings of one frame: from memory, from the archive, or computed now and kept."""
        self._refreshed()
        found = self._assessments.get(frame_id)
        if found is None:
            with self._work:
                found = self._assessments.get(frame_id) or self._kept(frame_id) or self._computed(frame_id)
                self._assessments[frame_id] = found
        return found

    def _refreshed(self) -> dict[str, str]:
        """Ask the archive whether anything changed, drop what no longer holds, and return the keys of all frames."""
        with self._archive.register.reading() as session:
            newest_change = session.scalar(sa.select(sa.func.max(TrailEntry.id))) or 0
        site = self.site()
        state = newest_change, self._moment(site)
        with self._lock:
            if state != self._state:
                same_moment = state[1] == self._state[1]
                fresh = self._archive.findings_keys()
                held = {name for name, key in fresh.items() if same_moment and self._keys.get(name) == key}
                for cache in (self._summaries, self._assessments, self._open):
                    for frame_id in cache.keys() - held:
                        del cache[frame_id]
                with self._archive.register.reading() as session:
                    self._overdue = file_accounts.overdue_files(session, site.now)
                self._keys, self._state = fresh, state
            return self._keys

    def _moment(self, site: Site) -> str:
        """Return what tells moments apart: a pinned one holds to the second, the running one for its day."""
        if self._as_of is not None or self._archive.as_of() is not None:
            return site.now.isoformat()
        return f"{site.now.tz_convert(site.time_zone):%Y-%m-%d}"

    def _complete_summaries(self) -> None:
        kept = self._archive.kept_findings(SUMMARY)
        for frame_id, key in self._refreshed().items():
            if frame_id in self._summaries:
                continue
            old = kept.get(frame_id)
            if old is not None and old.key == key and old.as_of == self._state[1]:
                self._summaries[frame_id] = from_document(old.document)
                continue
            opened = self._read(frame_id)
            assessment = self._assessments.get(frame_id) or self._kept(frame_id) or self._computed(frame_id, opened)
            self._summaries[frame_id] = summary(
                opened.facts, assessment, room=opened.room, inside=opened.inside, outside=opened.outside
            )
            if any(reason.rule == FAILED for reason in assessment.standing.reasons):
                continue  # tried again at the next change
            self._keep(SUMMARY, frame_id, to_document(self._summaries[frame_id]))

    def _opened(self, frame_id: str) -> OpenFrame:
        keys = self._refreshed()
        if frame_id not in keys:
            raise UnknownFrameError(frame_id)
        with self._lock:
            if frame_id not in self._open:
                self._open[frame_id] = self._read(frame_id)
            self._open.move_to_end(frame_id)
            while len(self._open) > FRAMES_IN_MEMORY:
                self._open.popitem(last=False)
            return self._open[frame_id]

    def _read(self, frame_id: str) -> OpenFrame:
        now = self.site().now
        with self._archive.register.reading() as session:
            stays = stays_of_frames(list(session.scalars(sa.select(Location).where(Location.frame == frame_id))))
            rooms = {room.id: room.name or room.id for room in session.scalars(sa.select(Room))}
        where = file_accounts.room_at(stays, now)
        inside, outside = (
            _until(record, now)
            for record in (self._archive.inside_record(frame_id), self._archive.outside_record(frame_id))
        )
        return OpenFrame(
            key=self._keys[frame_id],
            facts=self._archive.frame_facts(frame_id),
            room=rooms.get(where, where),
            inside=inside,
            outside=outside,
            record=DrawnRecord(inside, outside),
        )

    def _kept(self, frame_id: str) -> Assessment | None:
        old = self._archive.kept_findings(ASSESSMENT, [frame_id]).get(frame_id)
        if old is None or old.key != self._keys[frame_id] or old.as_of != self._state[1]:
            return None
        try:
            return kept_assessment.from_document(old.document)
        except kept_assessment.OutdatedFindingError:
            return None

    def _computed(self, frame_id: str, opened: OpenFrame | None = None) -> Assessment:
        opened, now = opened or self._opened(frame_id), self.site().now
        with self._archive.register.reading() as session:
            serving = file_accounts.loggers_now(session, frame_id, now)
        owed = [self._overdue[logger] for logger in serving if logger in self._overdue]
        room_now = self._archive.room_record(frame_id, now.to_pydatetime()) if has_moved(opened.facts) else None
        inside, outside = opened.inside, opened.outside
        if inside is not None:
            inside = with_clock_doubted(inside, outside, site_zone=opened.facts.time_zone)
        try:
            found = assess(
                inside, outside, frame=opened.facts, as_of=now, files_missing=owed, room_now=_until(room_now, now)
            )
        except NoOverlapError as error:
            # The page of such a frame still shows its inside, and says first what is wrong.
            found = assess(inside, None, frame=opened.facts, as_of=now, files_missing=owed)
            apart = Reason(rule="never together", text=str(error))
            found = replace(found, data=DataQuality(name="too little", reasons=(apart, *found.data.reasons)))
        except Exception as error:  # one frame's failure must not take the others off the page
            log.exception("frame %s could not be assessed", frame_id)
            return _not_assessed(opened.facts, now, error)
        self._keep(ASSESSMENT, frame_id, kept_assessment.to_document(found))
        return found

    def _keep(self, name: str, frame_id: str, document: dict[str, object]) -> None:
        if self._as_of is None:
            self._archive.keep_findings(name, {frame_id: Finding(self._keys[frame_id], self._state[1], document)})


def _not_assessed(facts: FrameFacts, now: pd.Timestamp, error: Exception) -> Assessment:
    """Return what stands in the place of findings that failed: nothing known, and why."""
    text = f"The findings of this frame could not be computed ({type(error).__name__}: {error})."
    failed = Standing(
        name="cannot tell",
        reasons=(Reason(rule=FAILED, text=text),),
        next_step="Its readings are kept and can be looked at. The server's log says where the computation failed.",
    )
    return replace(assess(None, None, frame=facts, as_of=now), standing=failed)


def _until(air: AirRecord | None, now: pd.Timestamp) -> AirRecord | None:
    """Leave out what was logged after the moment the pages speak of; None for a record without a reading."""
    if air is None or air.readings.empty:
        return None
    return air if air.readings.index[-1] <= now else replace(air, readings=air.readings.loc[:now])
