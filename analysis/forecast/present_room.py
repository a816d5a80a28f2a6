"""Which record tells of the room a frame hangs in now: what it met elsewhere is no guide to the months ahead."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord

MOVING_KINDS = frozenset({"moved", "loan leg"})


def has_moved(frame: FrameFacts) -> bool:
    """Tell whether a frame came to another room, or went on loan, within its record."""
    return any(event.kind in MOVING_KINDS for event in frame.events)


def present_room(
    inside: AirRecord,
    outside: AirRecord,
    *,
    frame: FrameFacts,
    at: pd.Timestamp,
    room_now: AirRecord | None = None,
) -> tuple[AirRecord, AirRecord]:
    """Return the inside since the frame came to its present room, and the record of that room.

    Parameters
    ----------
    inside, outside : AirRecord
        Of the frame, and of the rooms it hung in.
    frame : FrameFacts
        Its moves and loan legs.
    at : Timestamp
        "Now": later moves are not known yet.
    room_now : AirRecord or None
        Record of the present room over all time; without it the stretch since the last move has to do.
    """
    came = max(
        (event.time_utc for event in frame.events if event.kind in MOVING_KINDS and event.time_utc <= at), default=None
    )
    if came is None:
        return inside, outside
    since = replace(inside, readings=inside.readings.loc[came:])
    return since, room_now or replace(outside, readings=outside.readings.loc[came:])
