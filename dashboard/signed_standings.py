"""How the frames stood when a review was last signed: what the list of frames counts changes from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.dashboard.views import FrameSummary
from isohume.ingest.archive.models_register import Review

SignedStanding = tuple[str, str | None, str]  # standing, direction, record


def signed_standings(session: Session) -> dict[str, SignedStanding]:
    """Return how every frame stood in the newest signed review or addendum; empty while there is none."""
    query = (
        sa.select(Review.figures)
        .where(Review.signed_by != "", Review.figures.is_not(None))
        .order_by(Review.month.desc(), Review.number.desc())
        .limit(1)
    )
    figures = session.scalars(query).one_or_none() or {}
    return {
        frame_id: (one["standing"], one["direction"], one["data"])
        for frame_id, one in figures.get("frames", {}).items()
    }


def changed(found: FrameSummary, signed: Mapping[str, SignedStanding]) -> FrameSummary:
    """Return a frame of the list with whether it stands otherwise than signed; a frame new since then has changed."""
    if not signed:
        return found
    now = found.standing.name, found.standing.direction, found.data.name
    return replace(found, changed=signed.get(found.frame_id) != now)
