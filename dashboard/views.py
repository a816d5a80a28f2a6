"""What the pages are told: typed views, and the one door (`FrameStore`) through which they come."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

import pandas as pd

from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord, FlagRun
from isohume.analysis.results import Assessment, DataQuality, Standing
from isohume.dashboard.thinning import FloatArray, Trace

# For which state of the archive findings hold: the present one, an earlier one, or none at all.
Computed = Literal["now", "before", "never"]


class UnknownFrameError(LookupError):
    """No frame of that name is registered."""

    def __init__(self, frame_id: str) -> None:
        super().__init__(f'No frame "{frame_id}" in this collection. The Frames page lists all of them.')


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """The collection whose frames are shown."""

    name: str
    time_zone: str
    invented: bool
    now: pd.Timestamp  # the moment the pages speak of, UTC; pinned for the demonstration


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallPicture:
    """The last 12 months of one frame, week by week; NaN in a week without readings.

    Attributes
    ----------
    inside, room_low, room_high : (n,) arrays [%RH]
        Mean of the inside, smallest and largest daily mean of the room, in each of n equal weeks ending at `end_utc`.
    inside_low, inside_high : (n,) arrays [%RH] or None
        Ends of the 95 % interval of an inside that is estimated.
    """

    end_utc: pd.Timestamp
    inside: FloatArray
    room_low: FloatArray
    room_high: FloatArray
    inside_low: FloatArray | None = None
    inside_high: FloatArray | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameSummary:
    """One frame in the list of all frames."""

    frame_id: str
    painting: str
    room: str
    lifecycle: str
    band: tuple[float, float] | None
    standing: Standing
    data: DataQuality
    newest_utc: pd.Timestamp | None  # newest inside reading
    estimated: bool  # no logger inside: strip readings and the room only
    needs_decision: bool
    changed: bool | None  # since the last review; None while there is none
    picture: SmallPicture
    computed: Computed = "now"


@dataclass(frozen=True, slots=True, kw_only=True)
class FileAccount:
    """What became of one file that tells about this frame."""

    file: str
    sha256: str
    side: str  # inside, room
    logger: str
    imported_utc: pd.Timestamp | None
    first_utc: pd.Timestamp | None
    last_utc: pd.Timestamp | None
    in_file: int
    kept: int
    flagged: int
    duplicate: int
    conflicting: int
    rejected: int
    in_words: str  # how the file was read


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameView:
    """Everything the page of one frame says in words."""

    facts: FrameFacts
    room: str
    estimated: bool
    newest_utc: pd.Timestamp | None
    assessment: Assessment
    files: tuple[FileAccount, ...]
    previous_id: str | None  # neighbours in the order of the list of frames
    next_id: str | None
    computed: Computed = "now"


class Record(Protocol):
    """The readings of one frame and its rooms, ready to be drawn."""

    @property
    def inside_rh(self) -> Trace:
        """Humidity inside [%RH]."""

    @property
    def room_rh(self) -> Trace:
        """Humidity of the room [%RH]."""

    @property
    def inside_temperature(self) -> Trace:
        """Temperature inside [°C]."""

    @property
    def room_temperature(self) -> Trace:
        """Temperature of the room [°C]."""

    @property
    def inside_dew_point(self) -> Trace:
        """Dew point inside [°C]."""

    @property
    def room_dew_point(self) -> Trace:
        """Dew point of the room [°C]."""

    @property
    def inside_mean30d(self) -> Trace:
        """Centred 30-day mean inside [%RH]."""

    @property
    def room_mean30d(self) -> Trace:
        """Centred 30-day mean of the room [%RH]."""

    @property
    def flags(self) -> tuple[tuple[str, FlagRun], ...]:
        """Which flags stand beside readings, and when: side (inside, room) and run."""

    @property
    def span(self) -> tuple[float, float] | None:
        """First and last moment of the inside, of the room where there is no inside [s since 1970]; None if empty."""


class FrameStore(Protocol):
    """The pages' only door to data."""

    def site(self) -> Site:
        """Return the collection, its zone and its now."""

    def summaries(self) -> tuple[FrameSummary, ...]:
        """Return all frames, most urgent first; may take seconds for each whose inputs changed."""

    def known_summaries(self) -> tuple[FrameSummary, ...]:
        """Return all frames at once; `computed` tells which are as they stood before, or not known yet."""

    def unassessed(self) -> tuple[str, ...]:
        """Return the frames whose findings are not computed yet."""

    def complete(self, frame_ids: Sequence[str] | None = None, *, progress: Callable[[int, int], None] = ...) -> None:
        """Compute the missing findings of some frames, of all by default; tells how many are done of how many."""

    def frame(self, frame_id: str) -> FrameView:
        """Return all findings of one frame; raises UnknownFrameError. May take seconds."""

    def known_frame(self, frame_id: str) -> FrameView:
        """Return one frame at once; `computed` tells whether its findings hold. Raises UnknownFrameError."""

    def record(self, frame_id: str) -> Record:
        """Return the readings of one frame and its rooms, to be drawn; raises UnknownFrameError."""

    def air(self, frame_id: str) -> tuple[AirRecord | None, AirRecord | None]:
        """Return the record of the inside and that of the rooms of one frame; raises UnknownFrameError."""
