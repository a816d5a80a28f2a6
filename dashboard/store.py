"""The pages' only door to data: findings are computed once, kept in the archive, and found again by their inputs."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from typing import cast

import pandas as pd
import sqlalchemy as sa

from isohume.analysis.estimated_inside import KnownHalfTime
from isohume.analysis.forecast.present_room import has_moved
from isohume.analysis.readings import AirRecord
from isohume.analysis.results import Assessment
from isohume.dashboard import assessing, file_accounts, frames_known, kept_assessment
from isohume.dashboard.assessing import Found, Inputs
from isohume.dashboard.drawn_record import DrawnRecord
from isohume.dashboard.frames_known import KnownFrame
from isohume.dashboard.open_frames import OpenFrame, OpenFrames, until
from isohume.dashboard.signed_standings import SignedStanding, changed, signed_standings
from isohume.dashboard.summaries import from_document, summary, to_document
from isohume.dashboard.urgency import urgency
from isohume.dashboard.views import Computed, FrameSummary, FrameView, Site, UnknownFrameError
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.findings import Finding
from isohume.ingest.archive.models_imports import TrailEntry

SUMMARY, ASSESSMENT = "frame summary", "assessment"
Progress = Callable[[int, int], None]


def _untold(_done: int, _total: int) -> None:
    """Tell nobody how far the work is."""


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
    n_processes : int
        Many frames may be assessed in so many processes at once.
    """

    def __init__(
        self,
        archive: Archive,
        *,
        now: Callable[[], pd.Timestamp] = lambda: pd.Timestamp.now("UTC"),
        as_of: pd.Timestamp | None = None,
        n_processes: int = 1,
    ) -> None:
        self._archive, self._now, self._as_of, self._n_processes = archive, now, as_of, n_processes
        self._lock = threading.RLock()  # of what is in memory; held for moments only
        self._work = threading.RLock()  # one assessment at a time; whoever waits finds it done
        self._state: tuple[int, str] = (-1, "")
        self._keys: dict[str, str] = {}
        self._overdue: dict[str, str] = {}
        self._signed: dict[str, SignedStanding] = {}
        self._known: dict[str, KnownFrame] = {}
        self._before: dict[str, FrameSummary] | None = None  # kept for an earlier state; None: not asked yet
        self._summaries: dict[str, FrameSummary] = {}
        self._assessments: dict[str, Assessment] = {}
        self._open = OpenFrames(archive)

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
        """Return all frames, most urgent first; those whose inputs changed are computed first."""
        self.complete()
        return self.known_summaries()

    def known_summaries(self) -> tuple[FrameSummary, ...]:
        """Return all frames, most urgent first, at once: what is not computed yet as it was known before."""
        keys = self._with_kept()
        found = [
            changed(self._summaries[frame_id], self._signed)
            if frame_id in self._summaries
            else frames_known.waiting(
                self._known[frame_id], (self._before or {}).get(frame_id), end_utc=self.site().now
            )
            for frame_id in keys
        ]
        return tuple(sorted(found, key=lambda one: urgency(one.standing, one.data, one.frame_id)))

    def unassessed(self) -> tuple[str, ...]:
        """Return the frames whose findings are not computed yet."""
        keys = self._with_kept()
        return tuple(frame_id for frame_id in keys if frame_id not in self._summaries)

    def complete(self, frame_ids: Sequence[str] | None = None, *, progress: Progress = _untold) -> None:
        """Compute what is missing for some frames (default: all), and keep it frame by frame."""
        missing = self.unassessed() if frame_ids is None else [one for one in frame_ids if self._current(one) is None]
        progress(0, len(missing))
        for done, found in enumerate(self._findings(missing), start=1):
            self._take(found)
            progress(done, len(missing))

    def frame(self, frame_id: str) -> FrameView:
        """Return all findings of one frame, without its readings; raises UnknownFrameError."""
        self.assessment(frame_id)
        return self.known_frame(frame_id)

    def known_frame(self, frame_id: str) -> FrameView:
        """Return one frame at once: where its findings are not computed, those before, or none."""
        rows = self.known_summaries()
        places = [place for place, row in enumerate(rows) if row.frame_id == frame_id]
        if not places:
            raise UnknownFrameError(frame_id)
        place = places[0]
        facts = frames_known.with_room_names(self._archive, self._archive.frame_facts(frame_id))
        found, computed = self._current(frame_id), "now"
        if found is None:
            found, computed = self._kept(frame_id, any_state=True), "before"
        if found is None:
            found, computed = assessing.nothing_known(facts, self.site().now), "never"
        with self._archive.register.reading() as session:
            files = file_accounts.accounts(session, frame_id)
        return FrameView(
            facts=facts,
            room=rows[place].room,
            estimated=rows[place].estimated,
            newest_utc=rows[place].newest_utc,
            assessment=found,
            computed=cast("Computed", computed),
            files=files,
            previous_id=rows[place - 1].frame_id if place else None,
            next_id=rows[place + 1].frame_id if place + 1 < len(rows) else None,
        )

    def record(self, frame_id: str) -> DrawnRecord:
        """Return the readings of one frame and its rooms; raises UnknownFrameError."""
        return self._opened(frame_id, hold=True).record

    def air(self, frame_id: str) -> tuple[AirRecord | None, AirRecord | None]:
        """Return the record of the inside and that of the rooms of one frame; raises UnknownFrameError."""
        opened = self._opened(frame_id, hold=True)
        return opened.inside, opened.outside

    def assessment(self, frame_id: str) -> Assessment:
        """Return all findings of one frame: from memory, from the archive, or computed now and kept."""
        found = self._current(frame_id)
        if found is None:
            with self._work:
                found = self._current(frame_id)
                if found is None:
                    made = self.found(frame_id)
                    self._take(made)
                    found = made.assessment
        return found

    def found(self, frame_id: str) -> Found:
        """Compute all findings of one frame, without keeping them."""
        opened = self._opened(frame_id, hold=False)
        inputs = self._inputs(frame_id, opened)
        assessment = assessing.assessed(inputs)
        row = summary(
            opened.facts, assessment, room=self._known[frame_id].room, inside=opened.inside, outside=opened.outside
        )
        return Found(frame_id=frame_id, key=opened.key, moment=opened.moment, assessment=assessment, summary=row)

    def _findings(self, missing: Sequence[str]) -> Iterator[Found]:
        """Compute frames one after the other, or many in several processes."""
        if min(self._n_processes, len(missing) // assessing.FEWEST_FOR_PROCESSES) > 1 and self._as_of is None:
            yield from assessing.in_processes(self._archive.folder, missing, n_processes=self._n_processes)
            return
        for frame_id in missing:
            with self._work:
                yield self.found(frame_id)

    def _take(self, found: Found) -> None:
        """Keep findings, in the archive and, where they still hold, in memory."""
        if self._as_of is None and not found.failed:
            for name, document in (
                (ASSESSMENT, kept_assessment.to_document(found.assessment)),
                (SUMMARY, to_document(found.summary)),
            ):
                self._archive.keep_findings(name, {found.frame_id: Finding(found.key, found.moment, document)})
        with self._lock:
            if self._keys.get(found.frame_id) == found.key and self._state[1] == found.moment:
                self._assessments[found.frame_id] = found.assessment
                self._summaries[found.frame_id] = found.summary

    def _current(self, frame_id: str) -> Assessment | None:
        """Return the findings that hold now, from memory or the archive; None if they are not computed."""
        if frame_id not in self._refreshed():
            raise UnknownFrameError(frame_id)
        found = self._assessments.get(frame_id) or self._kept(frame_id)
        if found is not None:
            self._assessments[frame_id] = found
        return found

    def _kept(self, frame_id: str, *, any_state: bool = False) -> Assessment | None:
        old = self._archive.kept_findings(ASSESSMENT, [frame_id]).get(frame_id)
        if old is None or not (any_state or (old.key, old.as_of) == (self._keys[frame_id], self._state[1])):
            return None
        try:
            return kept_assessment.from_document(old.document)
        except kept_assessment.OutdatedFindingError:
            return None

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
                for cache in (self._summaries, self._assessments):
                    for frame_id in cache.keys() - held:
                        del cache[frame_id]
                self._open.keep_only(held)
                with self._archive.register.reading() as session:
                    self._overdue = file_accounts.overdue_files(session, site.now)
                    self._signed = signed_standings(session)
                self._known = frames_known.known_frames(self._archive, site.now)
                self._keys, self._state, self._before = fresh, state, None
            return self._keys

    def _with_kept(self) -> dict[str, str]:
        """Return the keys of all frames, with every row that the archive keeps in memory."""
        with self._lock:
            keys = self._refreshed()
            if self._before is None:
                self._before = {}
                missing = keys.keys() - self._summaries.keys()
                for frame_id, old in (self._archive.kept_findings(SUMMARY) if missing else {}).items():
                    if frame_id not in missing:
                        continue
                    rows = (
                        self._summaries if (old.key, old.as_of) == (keys[frame_id], self._state[1]) else self._before
                    )
                    rows[frame_id] = from_document(old.document)
            return keys

    def _moment(self, site: Site) -> str:
        """Return what tells moments apart: a pinned one holds to the second, the running one for its day."""
        if self._as_of is not None or self._archive.as_of() is not None:
            return site.now.isoformat()
        return f"{site.now.tz_convert(site.time_zone):%Y-%m-%d}"

    def _opened(self, frame_id: str, *, hold: bool) -> OpenFrame:
        keys = self._refreshed()
        if frame_id not in keys:
            raise UnknownFrameError(frame_id)
        key, moment, now = keys[frame_id], self._state[1], self.site().now
        if hold:
            return self._open.opened(frame_id, key=key, moment=moment, now=now)
        return self._open.held(frame_id, key=key, moment=moment) or self._open.read(
            frame_id, key=key, moment=moment, now=now
        )

    def _inputs(self, frame_id: str, opened: OpenFrame) -> Inputs:
        now = self.site().now
        with self._archive.register.reading() as session:
            serving = file_accounts.loggers_now(session, frame_id, now)
        has_room_now = has_moved(opened.facts)
        room_now = self._archive.room_record(frame_id, now.to_pydatetime()) if has_room_now else None
        return Inputs(
            now=now,
            facts=opened.facts,
            inside=opened.inside,
            outside=opened.outside,
            room_now=until(room_now, now),
            known_half_time=self._half_time_of_a_sister(opened),
            owed=tuple(self._overdue[logger] for logger in serving if logger in self._overdue),
        )

    def _half_time_of_a_sister(self, opened: OpenFrame) -> KnownHalfTime | str | None:
        """Return the half-time of the frame that one without a logger was built like, as found for that frame."""
        sister = opened.facts.construction.built_like
        if opened.inside is not None or sister not in self._keys or sister == opened.facts.frame_id:
            return None
        return assessing.half_time_of_sister(sister, self.assessment(sister).exchange)
