"""The register's further tables: documents, climate terms, loans, reviews, users, and what is kept for speed."""

from __future__ import annotations

import datetime as dt
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from isohume.ingest.archive.columns import Base, Table


class Document(Base):
    """A photograph or paper, kept by its hash in the folder `documents/`."""

    __tablename__ = "documents"

    sha256: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str]
    kind: Mapped[str] = mapped_column(default="photograph")
    frame: Mapped[str | None] = mapped_column(sa.ForeignKey("frames.id"), index=True)
    logger: Mapped[str | None] = mapped_column(sa.ForeignKey("loggers.id"))
    taken: Mapped[dt.datetime | None]
    n_bytes: Mapped[int] = mapped_column(sa.BigInteger)
    note: Mapped[str] = mapped_column(default="")


class Terms(Base):
    """A named set of climate clauses, from a publication or a loan."""

    __tablename__ = "terms"

    id: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(default="")
    source: Mapped[str] = mapped_column(default="")
    clauses: Mapped[list[Any]] = mapped_column(default=list)
    note: Mapped[str] = mapped_column(default="")


class Venue(Base):
    """A place that borrows."""

    __tablename__ = "venues"

    id: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(default="")
    address: Mapped[str] = mapped_column(default="")
    contact: Mapped[str] = mapped_column(default="")
    note: Mapped[str] = mapped_column(default="")


class Loan(Base):
    """Frames lent out."""

    __tablename__ = "loans"

    id: Mapped[str] = mapped_column(primary_key=True)
    title: Mapped[str] = mapped_column(default="")
    lender: Mapped[str] = mapped_column(default="")
    frames: Mapped[list[str]] = mapped_column(default=list)
    terms: Mapped[str | None] = mapped_column(sa.ForeignKey("terms.id"))
    contact: Mapped[str] = mapped_column(default="")
    status: Mapped[str] = mapped_column(default="asked")
    note: Mapped[str] = mapped_column(default="")


class Leg(Base):
    """One stretch of a loan: a journey or a stay."""

    __tablename__ = "legs"
    __table_args__ = (sa.UniqueConstraint("loan", "start"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    loan: Mapped[str] = mapped_column(sa.ForeignKey("loans.id"))
    kind: Mapped[str] = mapped_column(default="stay")
    venue: Mapped[str | None] = mapped_column(sa.ForeignKey("venues.id"))
    start: Mapped[dt.datetime]
    end: Mapped[dt.datetime | None]
    crate: Mapped[str] = mapped_column(default="")
    courier: Mapped[str] = mapped_column(default="")
    handover: Mapped[str] = mapped_column(default="")  # what both sides noted
    note: Mapped[str] = mapped_column(default="")


class Review(Base):
    """The review of a month; once signed it stands, and later changes become an addendum."""

    __tablename__ = "reviews"
    __table_args__ = (sa.UniqueConstraint("month", "number"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    month: Mapped[str]  # "2026-10"
    number: Mapped[int]  # 1: the review; 2 and more: its addenda
    figures: Mapped[Table | None]  # what was seen when it was signed
    decisions: Mapped[Table | None]  # by frame
    text: Mapped[str] = mapped_column(default="")
    signed_by: Mapped[str] = mapped_column(default="")
    signed_on: Mapped[dt.datetime | None]
    second_signed_by: Mapped[str] = mapped_column(default="")
    second_signed_on: Mapped[dt.datetime | None]


class User(Base):
    """Somebody who may work in the archive from another machine."""

    __tablename__ = "users"

    name: Mapped[str] = mapped_column(primary_key=True)
    full_name: Mapped[str] = mapped_column(default="")
    role: Mapped[str] = mapped_column(default="viewer")
    email: Mapped[str] = mapped_column(default="")
    password_hash: Mapped[str] = mapped_column(default="")
    active: Mapped[bool] = mapped_column(default=True)


class KeptFinding(Base):
    """A finding of one frame, kept so that it is computed once for the same inputs."""

    __tablename__ = "findings"

    frame: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(primary_key=True)  # which finding
    key: Mapped[str]  # hash of everything it was computed from
    as_of: Mapped[str] = mapped_column(default="")  # the moment it holds for, as its writer wants it told apart
    computed: Mapped[dt.datetime]
    document: Mapped[str]  # JSON


class Watched(Base):
    """A file of a watched folder that was taken or refused."""

    __tablename__ = "watched"

    path: Mapped[str] = mapped_column(primary_key=True)
    n_bytes: Mapped[int] = mapped_column(sa.BigInteger)
    modified_ns: Mapped[int] = mapped_column(sa.BigInteger)
    outcome: Mapped[str]
    import_id: Mapped[int | None]
    seen: Mapped[dt.datetime]
