"""The record of one frame's inside or of its room, gathered from the loggers that measured there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import pandas as pd
import polars as pl
import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.analysis.readings import AirRecord
from isohume.ingest.archive.corrections import calibration_at, uncertainty_at, with_calibration, with_clock_corrected
from isohume.ingest.archive.facts import known_frame, timestamp
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.models import Calibration, ClockCorrection, Location, Logger, Placement
from isohume.ingest.archive.models_imports import Part
from isohume.ingest.archive.placing import stays_of_channel
from isohume.ingest.archive.timelines import FAR_FUTURE, Stay, stays_of_frames, stays_of_loggers
from isohume.ingest.flags import FLAG_TABLE, Flag
from isohume.ingest.handover import air_record

LONG_AGO = dt.datetime(1, 1, 1, tzinfo=dt.UTC)
OUTSIDE_PLACEMENT = FLAG_TABLE[Flag.OUTSIDE_PLACEMENT].name
TRIES = 5  # to read parts that an import in another process is just replacing
NORMALISED = ["time_utc", "channel", "rh_percent", "temperature_celsius", "flags", "line"]


@dataclass(frozen=True, slots=True)
class LoggerReadings:
    """All that one logger tells in a period: readings with corrections applied, and what to know about them."""

    logger: Logger
    calibrations: list[Calibration]
    stays: list[Stay]
    table: pl.DataFrame  # normalised, clock corrected, not calibrated

    def channels(self) -> list[str]:
        """Return the names of its channels."""
        return self.table["channel"].unique().sort().to_list()

    def calibrations_of(self, channel: str) -> list[Calibration]:
        """Return the calibrations of one channel; one without a channel holds for all."""
        return [row for row in self.calibrations if row.channel in {"", channel}]

    def during(self, stay: Stay, *, calibrated: bool = True) -> pl.DataFrame:
        """Return the readings of a stay's channel within it; none where the channel is not clear."""
        channels = self.channels()
        mine = [channel for channel in channels if stays_of_channel([stay], channel, channels)]
        if not mine:
            return self.table.clear()
        within = (pl.col("channel") == mine[0]) & (pl.col("time_utc") >= stay.start) & (pl.col("time_utc") < stay.end)
        found = self.table.filter(within)
        return with_calibration(found, self.calibrations_of(mine[0])) if calibrated else found

    def n_outside_placements(self, stay: Stay, *, start: dt.datetime, end: dt.datetime) -> int:
        """Count readings of a period from just before a stay, and after the last, that belong to no place."""
        channels = self.channels()
        mine = [channel for channel in channels if stays_of_channel([stay], channel, channels)]
        if not mine:
            return 0
        same = stays_of_channel(self.stays, mine[0], channels)
        time = pl.col("time_utc")
        loose = pl.lit(value=False)
        if any(one.start == stay.start for one in same):
            before = max((one.end for one in same if one.end <= stay.start), default=LONG_AGO)
            loose |= (time >= before) & (time < stay.start)
        if stay.end == max(one.end for one in same):
            loose |= time >= stay.end
        return self.table.filter(loose & (time >= start) & (time < end) & (pl.col("channel") == mine[0])).height


def inside_stays(session: Session, frame_id: str) -> list[Stay]:
    """Return when which logger measured inside a frame."""
    known_frame(session, frame_id)
    return stays_of_loggers(list(session.scalars(sa.select(Placement).where(Placement.frame == frame_id))))


def outside_stays(session: Session, frame_id: str) -> list[Stay]:
    """Return when which logger measured the room that the frame hung in at that time."""
    known_frame(session, frame_id)
    rooms = stays_of_frames(list(session.scalars(sa.select(Location).where(Location.frame == frame_id))))
    measured = sa.select(Placement).where(Placement.room.in_({stay.where for stay in rooms}))
    loggers = stays_of_loggers(list(session.scalars(measured)))
    joined = [
        part
        for hung in rooms
        for stay in loggers
        if stay.where == f"room {hung.where}" and (part := stay.within(hung.start, hung.end)) is not None
    ]
    return sorted(joined, key=lambda stay: (stay.start, stay.who))


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """The readings that one logger (and channel of its files) gives to a place.

    Attributes
    ----------
    stay : Stay
        When it was there, as far as asked for.
    table : DataFrame
        The normalised table, corrected, and the column `source`: id of the imported file.
    """

    stay: Stay
    table: pl.DataFrame


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """The readings of some stays, one piece after the other, and what to know about them.

    Attributes
    ----------
    uncertainty_percent : float [%RH]
        Expanded (k = 2): the largest of the loggers'.
    calibrated_on : Timestamp or None
        Of the last logger.
    logger_changes : tuple of Timestamp
        First readings of another logger.
    n_outside : int
        Readings from before or after a logger was placed, which are left out.
    """

    pieces: tuple[Piece, ...]
    uncertainty_percent: float
    calibrated_on: pd.Timestamp | None
    logger_changes: tuple[pd.Timestamp, ...]
    n_outside: int
    empty: pl.DataFrame


def gather(
    holdings: Holdings,
    stays: Sequence[Stay],
    *,
    start: dt.datetime | None,
    end: dt.datetime | None,
) -> Gathered | None:
    """Gather the readings of some stays.

    Where two loggers measured at once, the one that was there first counts as long as it has readings.

    Returns
    -------
    Gathered or None
        None where no logger was ever placed.
    """
    wanted = [part for stay in stays if (part := stay.within(start or LONG_AGO, end or FAR_FUTURE)) is not None]
    if not wanted:
        return None
    told = {logger: logger_readings(holdings, logger, wanted) for logger in dict.fromkeys(s.who[0] for s in wanted)}
    pieces: list[Piece] = []
    changes: list[pd.Timestamp] = []
    uncertainty, calibrated_on, n_outside, before = 0.0, None, 0, ""
    until = LONG_AGO
    for stay in wanted:
        mine = told[stay.who[0]]
        n_outside += mine.n_outside_placements(stay, start=start or LONG_AGO, end=end or FAR_FUTURE)
        piece = mine.during(stay).filter(pl.col("time_utc") > until)
        if piece.is_empty():
            continue
        first, last = piece["time_utc"].min(), piece["time_utc"].max()
        if not isinstance(first, dt.datetime) or not isinstance(last, dt.datetime):
            raise TypeError("Times of readings are datetimes.")
        if before not in {"", stay.who[0]}:
            changes.append(pd.Timestamp(first).tz_convert("UTC"))
        calibrations = mine.calibrations_of(stay.who[1])
        uncertainty = max(uncertainty, uncertainty_at(mine.logger, calibrations, last))
        in_force = calibration_at(calibrations, last)
        calibrated_on = None if in_force is None else timestamp(in_force.date)
        pieces.append(Piece(stay=stay, table=piece))
        before, until = stay.who[0], last
    return Gathered(
        pieces=tuple(pieces),
        uncertainty_percent=uncertainty or uncertainty_at(told[wanted[-1].who[0]].logger, [], LONG_AGO),
        calibrated_on=calibrated_on,
        logger_changes=tuple(changes),
        n_outside=n_outside,
        empty=next(iter(told.values())).table.clear(),
    )


def present_room_stays(session: Session, frame_id: str, at: dt.datetime) -> list[Stay]:
    """Return which logger measured the room that a frame hangs in at a moment, over all time."""
    known_frame(session, frame_id)
    rooms = stays_of_frames(list(session.scalars(sa.select(Location).where(Location.frame == frame_id))))
    now = [stay.where for stay in rooms if stay.start <= at < stay.end]
    return stays_of_loggers(list(session.scalars(sa.select(Placement).where(Placement.room.in_(now)))))


def record(
    holdings: Holdings,
    stays: Sequence[Stay],
    *,
    start: dt.datetime | None,
    end: dt.datetime | None,
) -> AirRecord | None:
    """Gather the readings of some stays into one record; None where no logger was ever placed."""
    found = gather(holdings, stays, start=start, end=end)
    if found is None:
        return None
    table = pl.concat([piece.table for piece in found.pieces]) if found.pieces else found.empty
    gathered = air_record(
        table.select(NORMALISED),
        uncertainty_percent=found.uncertainty_percent,
        calibrated_on=found.calibrated_on,
        logger_changes=found.logger_changes,
    )
    if not found.n_outside:
        return gathered
    note = (
        f"{found.n_outside} readings from before a logger was placed or after it was taken out are kept and left out."
    )
    return replace(
        gathered,
        flag_counts={**gathered.flag_counts, OUTSIDE_PLACEMENT: found.n_outside},
        n_readings=gathered.n_readings + found.n_outside,
        n_excluded=gathered.n_excluded + found.n_outside,
        notes=(*gathered.notes, note),
    )


def logger_readings(holdings: Holdings, logger_id: str, stays: Sequence[Stay]) -> LoggerReadings:
    """Read what one logger logged around some stays, with its clock corrected."""
    first = min(stay.start for stay in stays if stay.who[0] == logger_id)
    last = max(stay.end for stay in stays if stay.who[0] == logger_id)
    for left in reversed(range(TRIES)):
        with holdings.register.reading() as session:
            logger = session.get_one(Logger, logger_id)
            calibrations = list(session.scalars(sa.select(Calibration).where(Calibration.logger == logger_id)))
            clock = list(session.scalars(sa.select(ClockCorrection).where(ClockCorrection.logger == logger_id)))
            placements = list(session.scalars(sa.select(Placement).where(Placement.logger == logger_id)))
            query = sa.select(Part).where(Part.logger == logger_id).order_by(Part.year)
            if not clock:
                query = query.where(Part.last >= first, Part.first < last)
            parts = list(session.scalars(query))
        try:
            tables = [holdings.readings.in_force(part) for part in parts]
        except FileNotFoundError:
            if not left:
                raise
            continue  # just switched by another process: ask the register again
        break
    table = pl.concat(tables) if tables else holdings.readings.empty()
    contested = pl.when("contested").then(int(Flag.CONFLICTING_TIME)).otherwise(0).cast(pl.UInt32)
    table = with_clock_corrected(table.with_columns(flags=pl.col("flags") | contested), clock)
    return LoggerReadings(logger, calibrations, stays_of_loggers(placements), table)
