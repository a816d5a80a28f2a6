"""The readings of the few frames that somebody looks at just now, kept in memory."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace

import pandas as pd

from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord
from isohume.dashboard.drawn_record import DrawnRecord
from isohume.ingest.archive.archive import Archive

FRAMES_IN_MEMORY = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenFrame:
    """Facts and readings of one frame, of one state of the archive and for one moment."""

    key: str
    moment: str
    facts: FrameFacts
    inside: AirRecord | None
    outside: AirRecord | None
    record: DrawnRecord


class OpenFrames:
    """Reads frames, and holds those that were asked for last."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive
        self._held: OrderedDict[str, OpenFrame] = OrderedDict()
        self._lock = threading.Lock()
        self._reading = threading.Lock()  # one frame at a time; whoever waits finds it read

    def opened(self, frame_id: str, *, key: str, moment: str, now: pd.Timestamp) -> OpenFrame:
        """Return a frame in the state told apart by `key` and `moment`, read if need be, and hold it."""
        with self._reading:
            found = self.held(frame_id, key=key, moment=moment) or self.read(frame_id, key=key, moment=moment, now=now)
            with self._lock:
                self._held[frame_id] = found
                self._held.move_to_end(frame_id)
                while len(self._held) > FRAMES_IN_MEMORY:
                    self._held.popitem(last=False)
        return found

    def held(self, frame_id: str, *, key: str, moment: str) -> OpenFrame | None:
        """Return a frame that is in memory in that state, None if it is not."""
        found = self._held.get(frame_id)
        return found if found is not None and (found.key, found.moment) == (key, moment) else None

    def read(self, frame_id: str, *, key: str, moment: str, now: pd.Timestamp) -> OpenFrame:
        """Read a frame up to a moment, without holding it."""
        # Cut by the archive, so that counts of flags and the last calibration are of that moment too.
        end = (now + pd.Timedelta(microseconds=1)).to_pydatetime()
        inside, outside = (
            until(record(frame_id, end=end), now)
            for record in (self._archive.inside_record, self._archive.outside_record)
        )
        return OpenFrame(
            key=key,
            moment=moment,
            facts=self._archive.frame_facts(frame_id),
            inside=inside,
            outside=outside,
            record=DrawnRecord(inside, outside),
        )

    def keep_only(self, held: AbstractSet[str]) -> None:
        """Let go of every other frame."""
        with self._lock:
            for frame_id in self._held.keys() - held:
                del self._held[frame_id]


def until(air: AirRecord | None, now: pd.Timestamp) -> AirRecord | None:
    """Leave out what was logged after the moment the pages speak of; None for a record without a reading."""
    if air is None or air.readings.empty:
        return None
    return air if air.readings.index[-1] <= now else replace(air, readings=air.readings.loc[:now])
