"""What a frame's part in a review rests on, as one hash: a file of a later month changes nothing in it."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import fields
from importlib.metadata import version

import pandas as pd

from isohume.analysis.forecast.present_room import has_moved
from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord
from isohume.dashboard import file_accounts
from isohume.dashboard.papers.review_frame import EventInReview
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.findings import METHOD

END_INCLUDED = pd.Timedelta(microseconds=1)


def inputs_hash(
    archive: Archive, facts: FrameFacts, as_of: pd.Timestamp, *, room: str, events: Sequence[EventInReview]
) -> str:
    """Hash everything that was known of a frame up to a moment.

    The keys of kept findings hold the readings of whole years: after every import they call for all months anew. This
    hash, which costs the reading of one record, tells which of them really have to be computed.

    Returns
    -------
    str
        "" for a frame without a logger inside, whose findings may rest on other frames.
    """
    end = (as_of + END_INCLUDED).to_pydatetime()
    inside = archive.inside_record(facts.frame_id, end=end)
    if inside is None or inside.readings.empty:
        return ""
    outside = archive.outside_record(facts.frame_id, end=end)
    around = archive.room_record(facts.frame_id, as_of.to_pydatetime()) if has_moved(facts) else None
    with archive.register.reading() as session:
        overdue = file_accounts.overdue_files(session, as_of)
        owed = [overdue.get(logger) for logger in file_accounts.loggers_now(session, facts.frame_id, as_of)]
    told = [version("isohume"), METHOD, facts, room, list(events), owed]
    digest = hashlib.sha256(repr(told).encode())
    for record in (inside, outside):
        digest.update(_record_bytes(record))
    digest.update(_readings_bytes(None if around is None else around.readings.loc[:as_of]))
    return digest.hexdigest()


def _record_bytes(record: AirRecord | None) -> bytes:
    if record is None:
        return b"none"
    told = [(field.name, getattr(record, field.name)) for field in fields(record) if field.name != "readings"]
    return repr(told).encode() + _readings_bytes(record.readings)


def _readings_bytes(readings: pd.DataFrame | None) -> bytes:
    return b"none" if readings is None else pd.util.hash_pandas_object(readings).to_numpy().tobytes()
