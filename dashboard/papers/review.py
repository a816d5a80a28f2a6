"""The review of a month: every frame as it stood at the month's end, what changed, what is due."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

import pandas as pd

from isohume.analysis.frame import Event
from isohume.analysis.results import StandingName
from isohume.dashboard.papers.review_files import FileInReview, files_of
from isohume.dashboard.papers.review_frames import Moment, MonthOfAir, Progress, frames_found, kept_name
from isohume.dashboard.urgency import urgency
from isohume.dashboard.views import FrameSummary
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.due import Due, due


class ReviewError(Exception):
    """No review can be made of what is asked for; the message ends with what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameInReview:
    """One frame in a review.

    Attributes
    ----------
    summary : FrameSummary
        As the list of frames shows it, at the review's moment.
    inside, room : MonthOfAir or None
    hours_outside : float or None [h]
        Outside the band within the month, as read; None without a band or an inside record.
    half_time_days, leave_from : float, Timestamp or None
        From the findings at the review's moment.
    before : tuple of standing and direction, or None
        In the review before; None where there is none.
    events : tuple of Event
        Of the month.
    decision : str
        What was decided, as noted in the review.
    """

    summary: FrameSummary
    inside: MonthOfAir | None
    room: MonthOfAir | None
    hours_outside: float | None
    half_time_days: float | None
    leave_from: pd.Timestamp | None
    before: tuple[StandingName, str | None] | None
    events: tuple[Event, ...]
    decision: str

    @property
    def changed(self) -> bool | None:
        """Whether the standing is another than in the review before; None where there is none."""
        now = self.summary.standing.name, self.summary.standing.direction
        return None if self.before is None else self.before != now


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """The review of one month.

    Attributes
    ----------
    month : str
        "2026-10".
    start, as_of : Timestamp
        Begin of the month, and its end or, in the running month, now.
    frames : tuple of FrameInReview
        Most urgent first.
    compared_with : str
        Month of the review before, "" for none.
    signed : sequence of mappings
        The records of this month's review and its addenda, as far as there are any.
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
    signed: tuple[Mapping[str, Any], ...]

    def figures(self) -> dict[str, Any]:
        """Return what is kept with a signature: the standing and data of every frame."""
        return {
            "as_of_utc": f"{self.as_of:%Y-%m-%dT%H:%M:%SZ}",
            "frames": {
                one.summary.frame_id: {
                    "standing": one.summary.standing.name,
                    "direction": one.summary.standing.direction,
                    "data": one.summary.data.name,
                }
                for one in self.frames
            },
        }


def month_span(month: str, time_zone: str) -> tuple[pd.Timestamp, pd.Timestamp]:
    """Return begin and end of a month in the site's zone, as UTC.

    Raises
    ------
    ReviewError
        The text is no month.
    """
    try:
        first = pd.Timestamp(f"{month}-01")
    except ValueError:
        first = None
    if first is None or f"{first:%Y-%m}" != month:
        raise ReviewError(f'Month "{month}": expected a month such as 2026-10.')
    later = first + pd.offsets.MonthBegin(1)
    return first.tz_localize(time_zone).tz_convert("UTC"), later.tz_localize(time_zone).tz_convert("UTC")


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
    with archive.register.reading() as session:
        collection = archive.collection(session)
    start, end = month_span(month, collection.time_zone)
    present = archive.as_of() or now or pd.Timestamp.now("UTC").floor("s")
    if present <= start:
        raise ReviewError(f"The month {month} has not begun. Choose an earlier one.")
    as_of = min(end, present)
    reviews = archive.records("reviews")
    before, compared_with = _review_before(archive, reviews, month)
    mine = tuple(row for row in reviews if row["month"] == month)
    decisions = {name: str(text) for row in mine for name, text in (row["decisions"] or {}).items()}
    pinned = archive.as_of() is not None
    moment = Moment(
        start=start,
        as_of=as_of,
        is_now=as_of == present,
        told_apart_by=as_of.isoformat()
        if pinned or as_of == end
        else f"{as_of.tz_convert(collection.time_zone):%Y-%m-%d}",
    )
    found = frames_found(archive, month, moment, progress=progress, n_processes=n_processes)
    frames = [
        FrameInReview(
            **parts,
            before=before.get(frame_id),
            events=tuple(event for event in facts.events if start <= event.time_utc < as_of),
            decision=decisions.get(frame_id, ""),
        )
        for frame_id, (facts, parts) in found.items()
    ]
    with archive.register.reading() as session:
        return Review(
            month=month,
            collection=collection.name,
            time_zone=collection.time_zone,
            invented=collection.invented,
            second_signature=collection.second_signature,
            start=start,
            as_of=as_of,
            is_complete=as_of == end,
            frames=tuple(sorted(frames, key=lambda one: _place(one.summary))),
            files=files_of(session, start, as_of),
            due=tuple(due(session, as_of.to_pydatetime())),
            compared_with=compared_with,
            signed=mine,
        )


def _place(found: FrameSummary) -> tuple[Any, ...]:
    return urgency(found.standing, found.data, found.frame_id)


def _review_before(
    archive: Archive, reviews: list[dict[str, Any]], month: str
) -> tuple[dict[str, tuple[StandingName, str | None]], str]:
    """Return the standings of the review before: the newest signed one, else the month before if it was looked at."""
    earlier = [row for row in reviews if row["month"] < month and row["figures"] and row["signed_by"]]
    if earlier:
        last = max(earlier, key=lambda row: (row["month"], row["number"]))
        kept = last["figures"].get("frames", {})
        return {name: (one["standing"], one["direction"]) for name, one in kept.items()}, str(last["month"])
    previous = f"{pd.Timestamp(f'{month}-01') - pd.Timedelta(days=1):%Y-%m}"
    looked_at = archive.kept_findings(kept_name(previous))
    standings = {name: one.document["summary"]["standing"] for name, one in looked_at.items()}
    found = {name: (cast("StandingName", one["name"]), one["direction"]) for name, one in standings.items()}
    return found, previous if found else ""
