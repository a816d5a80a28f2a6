"""The review of a month: every frame as it stood at the month's end, what changed, what is due."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from importlib.metadata import version
from typing import Any

import pandas as pd
from sqlalchemy.orm import Session

from isohume.dashboard.papers.review_before import ReviewBefore, review_before, stood_in
from isohume.dashboard.papers.review_files import FileInReview, files_of
from isohume.dashboard.papers.review_frame import FrameInReview
from isohume.dashboard.papers.review_frames import MONTHS_COMPARED, Moment, Progress, frames_found, frames_kept
from isohume.dashboard.papers.review_month import ReviewError, month_span, months_before
from isohume.dashboard.papers.review_rows import Written, figures_signed, written
from isohume.dashboard.urgency import urgency
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.due import Due, due
from isohume.ingest.archive.models import Collection

__all__ = ["Review", "ReviewError", "moment_of", "month_review", "month_span", "ready_review", "signed_review"]

SCHEMA = "isohume.review.2"


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """The review of one month.

    Attributes
    ----------
    month : str
        "2026-10".
    start, as_of : Timestamp
        Begin of the month, and its end or, in the running month, when it was computed.
    frames : tuple of FrameInReview
        Most urgent first.
    compared_with : str
        Month of the review before, "" for none.
    compared_is_signed : bool
        Whether that review was signed, or only looked at.
    signed : tuple of Written
        What is written for this month: the draft or review, and its addenda.
    number : int
        0 for the figures of the present record; else under which number they were signed.
    made_by : str
        The version of isohume that computed the figures.
    """

    month: str
    collection: str
    time_zone: str
    invented: bool
    second_signature: bool
    start: pd.Timestamp
    as_of: pd.Timestamp
    is_complete: bool
    frames: tuple[FrameInReview, ...]
    files: tuple[FileInReview, ...]
    due: tuple[Due, ...]
    compared_with: str
    compared_is_signed: bool
    signed: tuple[Written, ...]
    number: int = 0
    made_by: str = ""

    def figures(self) -> dict[str, Any]:
        """Return what is kept with a signature: everything that page and paper show of the month, but decisions."""
        return {
            "schema": SCHEMA,
            "isohume_version": self.made_by,
            "as_of_utc": f"{self.as_of:%Y-%m-%dT%H:%M:%SZ}",
            **{name: getattr(self, name) for name in _PLAIN},
            "frames": {one.summary.frame_id: one.document() for one in self.frames},
            "files": [_file_document(one) for one in self.files],
            "due": [one.document() for one in self.due],
        }

    def mark(self) -> str:
        """Return what changes with any figure: who signs must have seen these."""
        said = {name: value for name, value in self.figures().items() if name != "as_of_utc"}
        return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


_PLAIN = (
    "collection", "time_zone", "invented", "second_signature", "is_complete", "compared_with", "compared_is_signed",
)  # fmt: skip


def moment_of(archive: Archive, month: str, now: pd.Timestamp | None = None) -> Moment:
    """Return the moment a review of a month speaks of: its end or, in the running month, the present.

    Raises
    ------
    ReviewError
        The text is no month, or the month has not begun.
    """
    with archive.register.reading() as session:
        zone = archive.collection(session).time_zone
    start, end = month_span(month, zone)
    pinned = archive.as_of()
    present = pinned or now or pd.Timestamp.now("UTC").floor("s")
    if present <= start:
        raise ReviewError(f"The month {month} has not begun. Choose an earlier one.")
    as_of = min(end, present)
    return Moment(
        month=month, time_zone=zone, start=start, as_of=as_of, is_now=as_of == present, is_pinned=pinned is not None
    )


def ready_review(archive: Archive, month: str, *, now: pd.Timestamp | None = None) -> Review | None:
    """Review a month of which everything is kept; None where something has to be computed first.

    Raises
    ------
    ReviewError
        As `month_review`.
    """
    moment = moment_of(archive, month, now)
    keys, held = frames_kept(archive, moment)
    if keys.keys() != held.keys():
        return None
    return _finished(archive, moment, {name: FrameInReview.from_document(held[name]) for name in keys})


def month_review(
    archive: Archive,
    month: str,
    *,
    now: pd.Timestamp | None = None,
    progress: Progress = lambda _done, _of: None,
    n_processes: int = 1,
) -> Review:
    """Review a month; what was found is kept, so that the same month again takes seconds.

    Parameters
    ----------
    archive : Archive
        Open.
    month : str
        "2026-10".
    now : Timestamp, optional
        The present moment, UTC; default: the collection's own, or the clock's.
    progress : callable
        Told how many frames of how many are done.
    n_processes : int
        In how many processes many frames are computed.

    Raises
    ------
    ReviewError
        The text is no month, or the month has not begun.
    """
    moment = moment_of(archive, month, now)
    return _finished(archive, moment, frames_found(archive, moment, progress=progress, n_processes=n_processes))


def _finished(archive: Archive, moment: Moment, found: Mapping[str, FrameInReview]) -> Review:
    """Set the frames beside earlier reviews, and what is due and written beside them."""
    month = moment.month
    _start, end = month_span(month, moment.time_zone)
    # In the running month the figures hold for when they were computed, which may be earlier today.
    as_of = min([moment.as_of, *(one.summary.picture.end_utc for one in found.values())]).floor("s")
    with archive.register.reading() as session:
        before = review_before(archive, session, month)
        earlier = {
            name: stood_in(archive, session, name) for name in (months_before(month, n) for n in MONTHS_COMPARED)
        }
        mine = written(session, month)
        decisions = mine[-1].decisions if mine else {}
        frames = [
            replace(
                one,
                before=before.stood.get(frame_id),
                decided_before=before.decisions.get(frame_id),
                decision=decisions.get(frame_id),
                earlier=tuple(
                    replace(month_, stood=stood, half_time_days=half_time)
                    for month_ in one.earlier
                    for stood, half_time in [earlier[month_.month].get(frame_id, (None, None))]
                ),
            )
            for frame_id, one in found.items()
        ]
        return _review(session, archive.collection(session), moment, before, frames, as_of=as_of, ends=end, mine=mine)


def _review(
    session: Session,
    collection: Collection,
    moment: Moment,
    before: ReviewBefore,
    frames: list[FrameInReview],
    *,
    as_of: pd.Timestamp,
    ends: pd.Timestamp,
    mine: tuple[Written, ...],
) -> Review:
    return Review(
        month=moment.month,
        collection=collection.name,
        time_zone=collection.time_zone,
        invented=collection.invented,
        second_signature=collection.second_signature,
        start=moment.start,
        as_of=as_of,
        is_complete=as_of == ends,
        frames=_in_order(frames),
        files=files_of(session, moment.start, as_of),
        due=tuple(due(session, as_of.to_pydatetime())),
        compared_with=before.month,
        compared_is_signed=before.is_signed,
        signed=mine,
        made_by=version("isohume"),
    )


def signed_review(archive: Archive, month: str, number: int = 1) -> Review | None:
    """Return a review or an addendum with the figures it was signed with; None where they are not kept.

    Raises
    ------
    ReviewError
        The text is no month.
    """
    with archive.register.reading() as session:
        figures, rows = figures_signed(session, month, number), written(session, month)
    if figures is None or figures.get("schema") != SCHEMA:
        return None
    decisions = next(row.decisions for row in rows if row.number == number)
    frames = [
        replace(FrameInReview.from_document(kept), decision=decisions.get(frame_id))
        for frame_id, kept in figures["frames"].items()
    ]
    start, _end = month_span(month, figures["time_zone"])
    return Review(
        month=month,
        start=start,
        as_of=pd.Timestamp(figures["as_of_utc"]),
        frames=_in_order(frames),
        files=tuple(_file(one) for one in figures["files"]),
        due=tuple(_due(one) for one in figures["due"]),
        signed=rows,
        number=number,
        made_by=figures["isohume_version"],
        **{name: figures[name] for name in _PLAIN},
    )


def _in_order(frames: list[FrameInReview]) -> tuple[FrameInReview, ...]:
    return tuple(sorted(frames, key=lambda one: urgency(one.summary.standing, one.summary.data, one.summary.frame_id)))


def _file_document(file: FileInReview) -> dict[str, Any]:
    return {
        name: value.isoformat() if isinstance(value, pd.Timestamp) else value for name, value in asdict(file).items()
    }


def _file(document: Mapping[str, Any]) -> FileInReview:
    told: dict[str, Any] = {
        name: pd.Timestamp(value) if name.endswith("_utc") else value for name, value in document.items()
    }
    return FileInReview(**told)


def _due(document: Mapping[str, Any]) -> Due:
    return Due(
        kind=document["kind"], logger=document["logger"], place=document["place"],
        due=dt.datetime.fromisoformat(document["due_utc"]), is_overdue=document["overdue"], text=document["text"],
    )  # fmt: skip
