"""What the register alone says of every frame, for lists that do not wait for findings."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import sqlalchemy as sa

from isohume.analysis.frame import FrameFacts
from isohume.analysis.results import DataQuality, Reason, Standing
from isohume.dashboard.file_accounts import room_at
from isohume.dashboard.summaries import N_WEEKS
from isohume.dashboard.views import FrameSummary, SmallPicture
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.models import Frame, Location, Placement, Room
from isohume.ingest.archive.timelines import stays_of_frames

WAITING = "not computed yet"


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownFrame:
    """One frame as registered, and where it hangs."""

    frame_id: str
    painting: str
    room: str
    lifecycle: str
    band: tuple[float, float] | None
    estimated: bool  # no logger was ever placed inside


def known_frames(archive: Archive, now: pd.Timestamp) -> dict[str, KnownFrame]:
    """Return all frames of the register, with the room each hangs in at a moment."""
    with archive.register.reading() as session:
        frames = list(session.scalars(sa.select(Frame).order_by(Frame.id)))
        stays = stays_of_frames(list(session.scalars(sa.select(Location))))
        rooms = {room.id: room.name or room.id for room in session.scalars(sa.select(Room))}
        logged = set(session.scalars(sa.select(Placement.frame).where(Placement.frame.is_not(None))))
        found = {}
        for frame in frames:
            where = room_at([stay for stay in stays if stay.who[0] == frame.id], now)
            found[frame.id] = KnownFrame(
                frame_id=frame.id,
                painting=frame.painting,
                room=rooms.get(where, where),
                lifecycle=frame.lifecycle,
                band=None if frame.band is None else (frame.band[0], frame.band[1]),
                estimated=frame.id not in logged,
            )
        return found


def with_room_names(archive: Archive, facts: FrameFacts) -> FrameFacts:
    """Return the facts with rooms named in its events as people call them, for screens."""
    if not any(event.room for event in facts.events):
        return facts
    with archive.register.reading() as session:
        names = {room.id: room.name for room in session.scalars(sa.select(Room))}
    named = tuple(replace(event, room=names.get(event.room) or event.room) for event in facts.events)
    return replace(facts, events=named)


def waiting(known: KnownFrame, before: FrameSummary | None, *, end_utc: pd.Timestamp) -> FrameSummary:
    """Return a row for a frame whose findings are not computed yet: as it stood before, or as registered."""
    if before is not None:
        return replace(
            before,
            painting=known.painting,
            room=known.room,
            lifecycle=known.lifecycle,
            band=known.band,
            computed="before",
        )
    nothing = np.full(N_WEEKS, np.nan)
    why = Reason(rule=WAITING, text="Its findings are being computed.")
    return FrameSummary(
        frame_id=known.frame_id,
        painting=known.painting,
        room=known.room,
        lifecycle=known.lifecycle,
        band=known.band,
        standing=Standing(name="cannot tell", reasons=(why,)),
        data=DataQuality(name="too little", reasons=(why,)),
        newest_utc=None,
        estimated=known.estimated,
        needs_decision=False,
        changed=None,
        picture=SmallPicture(end_utc=end_utc, inside=nothing, room_low=nothing, room_high=nothing),
        computed="never",
    )
