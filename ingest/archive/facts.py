"""What the register knows of a frame, as the analysis wants it."""

from __future__ import annotations

import datetime as dt
from typing import Any, cast

import pandas as pd
import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.analysis.frame import Construction, Event, FrameFacts, Limits, Panel
from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.models import Collection, Frame, FrameEvent


def frame_facts(session: Session, frame_id: str) -> FrameFacts:
    """Return the facts of one frame.

    Raises
    ------
    RegisterError
        There is no such frame.
    """
    frame = known_frame(session, frame_id)
    events = session.scalars(sa.select(FrameEvent).where(FrameEvent.frame == frame_id).order_by(FrameEvent.time))
    time_zone = session.scalars(sa.select(Collection.time_zone)).one()
    return facts_from(frame, list(events), time_zone)


def known_frame(session: Session, frame_id: str) -> Frame:
    """Return a frame's row, or refuse an id the register does not hold."""
    frame = session.get(Frame, frame_id)
    if frame is None:
        raise RegisterError(
            f'frame "{frame_id}"', found="no such frame in the register", expected="the id of a frame",
            remedy="List them with `isohume register show frames`.",
        )  # fmt: skip
    return frame


def facts_from(frame: Frame, events: list[FrameEvent], time_zone: str) -> FrameFacts:
    """Build the facts from a frame's rows; events in order of time."""
    return FrameFacts(
        frame_id=frame.id,
        painting=frame.painting,
        band=None if frame.band is None else (frame.band[0], frame.band[1]),
        conditioned_percent=frame.conditioned_percent,
        conditioned_on=timestamp(frame.conditioned_on),
        panel=None if frame.panel is None else Panel(**frame.panel),
        construction=Construction(**(frame.construction or {})),
        events=tuple(_event(row) for row in events),
        lifecycle=cast(Any, frame.lifecycle),  # checked when the record was put
        owner=frame.owner,
        opened_by=frame.opened_by,
        time_zone=time_zone,
        limits=Limits(**(frame.limits or {})),
    )


def timestamp(time: dt.datetime | None) -> pd.Timestamp | None:
    """Return a time of the register as pandas holds it."""
    return None if time is None else pd.Timestamp(time).tz_convert("UTC")


def _event(row: FrameEvent) -> Event:
    return Event(
        time_utc=pd.Timestamp(row.time).tz_convert("UTC"),
        kind=cast(Any, row.kind),  # checked when the record was put
        rh_percent=row.rh_percent,
        water_g=row.water_g,
        board_kg=row.board_kg,
        warp_mm=row.warp_mm,
        warp_where=row.warp_where,
        warp_how=row.warp_how,
        room=row.room,
        note=row.note,
    )
