"""How frames stood in earlier reviews: the one that changes are counted from, and those of the months compared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.dashboard.papers.review_frame import Decision, Stood
from isohume.dashboard.papers.review_frames import kept_name
from isohume.dashboard.papers.review_month import months_before
from isohume.dashboard.papers.review_rows import last_signed, written
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.models_register import Review as Row


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewBefore:
    """The review that changes are counted from; month "" for none.

    Attributes
    ----------
    month : str
    is_signed : bool
        Whether it was signed, or only looked at.
    stood : mapping of frame to Stood
    decisions : mapping of frame to Decision
        Later addenda of that month included.
    """

    month: str = ""
    is_signed: bool = False
    stood: Mapping[str, Stood] = field(default_factory=dict)
    decisions: Mapping[str, Decision] = field(default_factory=dict)


def review_before(archive: Archive, session: Session, month: str) -> ReviewBefore:
    """Return the newest signed review before a month, else the month before if it was looked at."""
    signed = last_signed(session, before=month)
    if signed is not None:
        decisions: dict[str, Decision] = {}
        for row in written(session, signed[0]):
            if row.is_signed:
                decisions |= row.decisions
        stood = {name: Stood.from_document(one) for name, one in signed[1]["frames"].items()}
        return ReviewBefore(month=signed[0], is_signed=True, stood=stood, decisions=decisions)
    previous = months_before(month, 1)
    looked_at = {name: stood for name, (stood, _days) in _looked_at(archive, previous).items()}
    return ReviewBefore(month=previous, stood=looked_at) if looked_at else ReviewBefore()


def stood_in(archive: Archive, session: Session, month: str) -> dict[str, tuple[Stood, float | None]]:
    """Return standing and half-time of every frame in a month's review: as signed last, else as looked at."""
    query = (
        sa.select(Row.figures)
        .where(Row.month == month, Row.signed_by != "", Row.figures.is_not(None))
        .order_by(Row.number.desc())
        .limit(1)
    )
    figures = session.scalars(query).one_or_none()
    if figures is None:
        return _looked_at(archive, month)
    return {name: (Stood.from_document(one), one.get("half_time_days")) for name, one in figures["frames"].items()}


def _looked_at(archive: Archive, month: str) -> dict[str, tuple[Stood, float | None]]:
    kept = {name: one.document for name, one in archive.kept_findings(kept_name(month)).items() if one.key}
    return {
        name: (
            Stood(
                standing=one["summary"]["standing"]["name"],
                direction=one["summary"]["standing"]["direction"],
                data=one["summary"]["data"]["name"],
            ),
            one["half_time_days"],
        )
        for name, one in kept.items()
    }
