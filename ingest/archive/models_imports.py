"""The register's tables of imports: which bytes came when, how they were read, and where their readings stand."""

from __future__ import annotations

import datetime as dt
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from isohume.ingest.archive.columns import Base, Table


class Recipe(Base):
    """How a logger's files are read, as settled by an import or a person."""

    __tablename__ = "recipes"
    __table_args__ = (sa.UniqueConstraint("logger", "shape"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    logger: Mapped[str] = mapped_column(sa.ForeignKey("loggers.id"))
    shape: Mapped[str]  # hash of the recipe: which of the logger's layouts this is
    time_zone: Mapped[str]  # the zone that was given when it was settled
    by_hand: Mapped[bool]  # a person gave it, or answered a question
    toml: Mapped[str]
    kept: Mapped[dt.datetime]


class Import(Base):
    """One file as received."""

    __tablename__ = "imports"
    # An id is never used twice, even after the last import was undone.
    __table_args__ = ({"sqlite_autoincrement": True},)

    id: Mapped[int] = mapped_column(primary_key=True)
    sha256: Mapped[str] = mapped_column(index=True)
    name: Mapped[str]
    n_bytes: Mapped[int] = mapped_column(sa.BigInteger)
    received: Mapped[dt.datetime]
    by: Mapped[str]
    version: Mapped[str]  # of isohume, whose reader read it
    undone: Mapped[dt.datetime | None]
    undone_by: Mapped[str] = mapped_column(default="")


class ImportFile(Base):
    """One table of readings in a received file; a .zip holds several. Its id marks its rows in the readings."""

    __tablename__ = "import_files"
    __table_args__ = ({"sqlite_autoincrement": True},)

    id: Mapped[int] = mapped_column(primary_key=True)
    import_id: Mapped[int] = mapped_column(sa.ForeignKey("imports.id"), index=True)
    position: Mapped[int]  # within the received file, from 0
    name: Mapped[str]
    logger: Mapped[str] = mapped_column(sa.ForeignKey("loggers.id"), index=True)
    recognised_by: Mapped[str]  # how the logger was told
    recipe: Mapped[str]  # TOML
    asked: Mapped[Table]  # member of the pack, time zone, answers and moment it was read with
    ledger: Mapped[Table]  # the account of every row
    channels: Mapped[list[Any]]
    notes: Mapped[list[str]]
    first: Mapped[dt.datetime | None]
    last: Mapped[dt.datetime | None]
    n_readings: Mapped[int]
    n_new: Mapped[int]
    n_equal: Mapped[int]  # already held with the same values
    n_conflicting: Mapped[int]  # already held with other values: the earlier stays


class Part(Base):
    """Where the readings of one logger and year stand: two Parquet files named by their content."""

    __tablename__ = "parts"

    logger: Mapped[str] = mapped_column(sa.ForeignKey("loggers.id"), primary_key=True)
    year: Mapped[int] = mapped_column(primary_key=True)
    sha256: Mapped[str]  # of the readings in force
    shadowed_sha256: Mapped[str] = mapped_column(default="")  # of rows that an earlier import already holds
    content: Mapped[str]  # of the values, whatever Parquet writer wrote them
    n_readings: Mapped[int]
    n_contested: Mapped[int]
    first: Mapped[dt.datetime]
    last: Mapped[dt.datetime]


class TrailEntry(Base):
    """One line of the audit trail; each carries the hash of the one before, and none is ever changed."""

    __tablename__ = "trail"

    id: Mapped[int] = mapped_column(primary_key=True)
    time: Mapped[dt.datetime]
    by: Mapped[str]
    action: Mapped[str]
    kind: Mapped[str]
    key: Mapped[str]
    before: Mapped[Table | None]
    after: Mapped[Table | None]
    previous: Mapped[str]
    sha256: Mapped[str]
