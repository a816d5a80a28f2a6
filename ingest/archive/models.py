"""The register's tables: the collection, its rooms, loggers, frames, and what hung and measured where and when."""

from __future__ import annotations

import datetime as dt

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from isohume.ingest.archive.columns import Base, Table


class Collection(Base):
    """The one row that says whose archive this is."""

    __tablename__ = "collection"

    archive_id: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(default="")
    time_zone: Mapped[str] = mapped_column(default="UTC")
    invented: Mapped[bool] = mapped_column(default=False)
    as_of: Mapped[dt.datetime | None]  # the pinned "today" of a demonstration
    second_signature: Mapped[bool] = mapped_column(default=False)  # reviews ask for two


class Room(Base):
    """A room, whose air is the outside of the frames that hang in it."""

    __tablename__ = "rooms"

    id: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(default="")
    note: Mapped[str] = mapped_column(default="")


class Logger(Base):
    """An instrument that writes files."""

    __tablename__ = "loggers"

    id: Mapped[str] = mapped_column(primary_key=True)
    serial: Mapped[str] = mapped_column(default="")  # words to find in a file's name or preamble
    uncertainty_percent: Mapped[float | None]  # expanded, k = 2 [%RH]
    files: Mapped[list[str]] = mapped_column(default=list)  # name patterns of its files
    time_zone: Mapped[str] = mapped_column(default="")  # of its clock; "" = the collection's
    expect_every_days: Mapped[float | None]
    expect_from: Mapped[dt.datetime | None]  # files are expected from here on; None = from its first placement
    battery_changed: Mapped[dt.datetime | None]
    battery_months: Mapped[float | None]  # how long a battery lasts
    retired: Mapped[bool] = mapped_column(default=False)
    note: Mapped[str] = mapped_column(default="")


class Calibration(Base):
    """What a logger's humidity must be corrected by, from a date on."""

    __tablename__ = "calibrations"
    __table_args__ = (sa.UniqueConstraint("logger", "channel", "date"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    logger: Mapped[str] = mapped_column(sa.ForeignKey("loggers.id"))
    channel: Mapped[str] = mapped_column(default="")
    date: Mapped[dt.datetime]
    valid_until: Mapped[dt.datetime | None]
    method: Mapped[str] = mapped_column(default="offset")  # offset, salts, comparison, certificate
    offset_percent: Mapped[float | None]  # added to readings [%RH]
    # Two or three points: [[as found %RH, reference %RH], …]; straight lines between them.
    points: Mapped[list[list[float]] | None] = mapped_column(sa.JSON(none_as_null=True))
    temperature_offset_celsius: Mapped[float | None]  # added to readings [°C]
    uncertainty_percent: Mapped[float | None]  # expanded, k = 2 [%RH], after correction
    certificate: Mapped[str] = mapped_column(default="")
    as_found: Mapped[Table | None]  # the values behind the correction, as they were noted
    note: Mapped[str] = mapped_column(default="")


class ClockCorrection(Base):
    """How wrong a logger's clock was between two of its own times; straight line between the two offsets."""

    __tablename__ = "clock_corrections"
    __table_args__ = (sa.UniqueConstraint("logger", "start"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    logger: Mapped[str] = mapped_column(sa.ForeignKey("loggers.id"))
    start: Mapped[dt.datetime]
    end: Mapped[dt.datetime | None]
    add_seconds: Mapped[float]  # at the start
    add_seconds_at_end: Mapped[float | None]  # a clock that drifts; None = constant
    note: Mapped[str] = mapped_column(default="")


class Placement(Base):
    """Logger (and channel of its file) measured a frame's inside, or a room, from start to end."""

    __tablename__ = "placements"
    __table_args__ = (
        sa.UniqueConstraint("logger", "channel", "start"),
        sa.CheckConstraint("(frame IS NULL) <> (room IS NULL)", name="frame_or_room"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    logger: Mapped[str] = mapped_column(sa.ForeignKey("loggers.id"))
    channel: Mapped[str] = mapped_column(default="")
    frame: Mapped[str | None] = mapped_column(sa.ForeignKey("frames.id"), index=True)
    room: Mapped[str | None] = mapped_column(sa.ForeignKey("rooms.id"), index=True)
    start: Mapped[dt.datetime]
    end: Mapped[dt.datetime | None]
    note: Mapped[str] = mapped_column(default="")


class Frame(Base):
    """One sealed enclosure with its painting."""

    __tablename__ = "frames"

    id: Mapped[str] = mapped_column(primary_key=True)
    painting: Mapped[str] = mapped_column(default="")
    band: Mapped[list[float] | None]  # [low, high] %RH
    conditioned_percent: Mapped[float | None]
    conditioned_on: Mapped[dt.datetime | None]
    lifecycle: Mapped[str] = mapped_column(default="hanging")
    owner: Mapped[str] = mapped_column(default="")
    opened_by: Mapped[str] = mapped_column(default="")  # who may open it
    panel: Mapped[Table | None]  # fields of analysis.frame.Panel
    construction: Mapped[Table | None]  # fields of analysis.frame.Construction
    limits: Mapped[Table | None]  # fields of analysis.frame.Limits
    terms: Mapped[str] = mapped_column(default="")  # the climate terms agreed for it
    note: Mapped[str] = mapped_column(default="")


class Location(Base):
    """A frame hung in a room from start to end; absent end: it hangs there until the next location, or still."""

    __tablename__ = "locations"
    __table_args__ = (sa.UniqueConstraint("frame", "start"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    frame: Mapped[str] = mapped_column(sa.ForeignKey("frames.id"))
    room: Mapped[str] = mapped_column(sa.ForeignKey("rooms.id"), index=True)
    start: Mapped[dt.datetime]
    end: Mapped[dt.datetime | None]
    note: Mapped[str] = mapped_column(default="")


class FrameEvent(Base):
    """What hands did to a frame, and when."""

    __tablename__ = "events"
    __table_args__ = (sa.UniqueConstraint("frame", "time", "kind"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    frame: Mapped[str] = mapped_column(sa.ForeignKey("frames.id"))
    time: Mapped[dt.datetime]
    kind: Mapped[str]
    rh_percent: Mapped[float | None]
    water_g: Mapped[float | None]
    board_kg: Mapped[float | None]
    warp_mm: Mapped[float | None]
    warp_where: Mapped[str] = mapped_column(default="")
    warp_how: Mapped[str] = mapped_column(default="")
    room: Mapped[str] = mapped_column(default="")
    document: Mapped[str] = mapped_column(default="")  # SHA-256 of a photograph
    by: Mapped[str] = mapped_column(default="")
    note: Mapped[str] = mapped_column(default="")
