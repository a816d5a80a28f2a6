"""Where loggers and frames were over time; nothing is in two places at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise, zip_longest
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.models import Location, Placement

FAR_FUTURE = dt.datetime.max.replace(tzinfo=dt.UTC)


@dataclass(frozen=True, slots=True, order=True)
class Stay:
    """Something was somewhere from start up to, not including, end.

    Attributes
    ----------
    who : tuple of str
        A frame; or a logger and its channel.
    start, end : datetime (UTC)
        `FAR_FUTURE`: still there.
    where : str
        The room; or "frame …" or "room …".
    """

    who: tuple[str, ...]
    start: dt.datetime
    end: dt.datetime
    where: str

    def within(self, start: dt.datetime, end: dt.datetime) -> Stay | None:
        """Return the part of the stay in a period, None if there is none."""
        first, last = max(self.start, start), min(self.end, end)
        return Stay(self.who, first, last, self.where) if first < last else None


def stays_of_frames(locations: Sequence[Location | sa.Row[*tuple[Any, ...]]]) -> list[Stay]:
    """Return where frames hung; a location without end lasts until the frame's next one."""
    stays = sorted(Stay((row.frame,), row.start, row.end or FAR_FUTURE, row.room) for row in locations)
    open_ended = {(row.frame, row.start) for row in locations if row.end is None}
    ended: list[Stay] = []
    for stay, later in zip_longest(stays, stays[1:]):
        is_followed = later is not None and later.who == stay.who and (stay.who[0], stay.start) in open_ended
        ended.append(Stay(stay.who, stay.start, later.start, stay.where) if is_followed and later else stay)
    return ended


def stays_of_loggers(placements: Sequence[Placement | sa.Row[*tuple[Any, ...]]]) -> list[Stay]:
    """Return where loggers measured."""
    return sorted(
        Stay(
            (row.logger, row.channel),
            row.start,
            row.end or FAR_FUTURE,
            f"frame {row.frame}" if row.frame else f"room {row.room}",
        )
        for row in placements
    )


def logger_stays(session: Session, *conditions: sa.ColumnElement[bool]) -> list[Stay]:
    """Return where loggers measured, of the placements that meet the conditions: plain rows, quicker than records."""
    columns = (Placement.logger, Placement.channel, Placement.frame, Placement.room, Placement.start, Placement.end)
    return stays_of_loggers(session.execute(sa.select(*columns).where(*conditions)).all())


def frame_stays(session: Session, *conditions: sa.ColumnElement[bool]) -> list[Stay]:
    """Return where frames hung, of the locations that meet the conditions."""
    columns = (Location.frame, Location.room, Location.start, Location.end)
    return stays_of_frames(session.execute(sa.select(*columns).where(*conditions)).all())


def refuse_impossible_timelines(session: Session, place: str) -> None:
    """Refuse a logger in two places, or a frame in two rooms, at once.

    Raises
    ------
    RegisterError
        Two stays of the same thing overlap.
    """
    for stays, word in ((logger_stays(session), "logger"), (frame_stays(session), "frame")):
        for who, mine in groupby(stays, key=lambda stay: stay.who):
            for first, second in pairwise(mine):
                if second.start < first.end:
                    raise RegisterError(
                        f"{place}, {word} {' '.join(who).strip()}",
                        found=f"{first.where} until {_day(first.end)} and {second.where} from {_day(second.start)}",
                        expected="one place at a time",
                        remedy='End the first stay before the second begins ("to"); the register is unchanged.',
                    )


def _day(time: dt.datetime) -> str:
    return "now" if time == FAR_FUTURE else f"{time:%Y-%m-%d %H:%M} UTC"
