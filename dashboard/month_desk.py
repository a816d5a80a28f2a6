"""What lies on the desk when a month is opened: the review as signed, the present record, and what differs."""

from __future__ import annotations

import os
from dataclasses import dataclass

from isohume.dashboard.access.gate import person
from isohume.dashboard.assessing import FAILED
from isohume.dashboard.background import Task
from isohume.dashboard.current import background
from isohume.dashboard.papers.review import Review, ReviewError, month_review, ready_review, signed_review
from isohume.dashboard.papers.review_differences import Amendment, Difference, amendments, differences
from isohume.dashboard.papers.review_frames import kept_name
from isohume.dashboard.papers.review_month import month_in_words
from isohume.dashboard.papers.review_rows import Written, sign, written
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.findings import Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """One month, as far as it is known without computing.

    Attributes
    ----------
    month : str
    rows : tuple of Written
        The review or its draft, and the addenda.
    shown : Review or None
        What the page shows: as signed, else of the present record; None while that is computed.
    present : Review or None
        Of the present record.
    task : Task or None
        The computing, while it is needed.
    differences : tuple of Difference
        Between what was signed last and the present record.
    amendments : tuple of Amendment
        What the signed addenda changed.
    figures_lost : bool
        Signed by a version that kept fewer figures than the page shows.
    """

    month: str
    rows: tuple[Written, ...]
    shown: Review | None
    present: Review | None
    task: Task | None
    differences: tuple[Difference, ...] = ()
    amendments: tuple[Amendment, ...] = ()
    figures_lost: bool = False

    @property
    def signed(self) -> tuple[Written, ...]:
        """The signed ones of the rows."""
        return tuple(row for row in self.rows if row.is_signed)


def task_key(month: str) -> str:
    """Name the computing of a month among the long work."""
    return f"month {month}"


def open_month(archive: Archive, month: str, *, number: int = 1) -> Desk:
    """Lay out a month; what has to be computed is started, and goes on whether or not anybody waits.

    Parameters
    ----------
    archive : Archive
    month : str
        "2026-10".
    number : int
        Of a signed month: whose figures to show, the review's (1) or an addendum's.

    Raises
    ------
    ReviewError
        The text is no month, or the month has not begun.
    """
    present = ready_review(archive, month)
    task = None if present is not None else _computing(archive, month)
    with archive.register.reading() as session:
        rows = written(session, month)
    signed = [row.number for row in rows if row.is_signed]
    if not signed:
        return Desk(month=month, rows=rows, shown=present, present=present, task=task)
    shown = signed_review(archive, month, number if number in signed else 1)
    last = shown if shown is not None and shown.number == signed[-1] else signed_review(archive, month, signed[-1])
    return Desk(
        month=month,
        rows=rows,
        shown=shown or present,
        present=present,
        task=task,
        differences=differences(last, present) if last is not None and present is not None else (),
        amendments=amendments(archive, month),
        figures_lost=shown is None,
    )


def sign_seen(archive: Archive, month: str, number: int, *, mark: str, text: str, name: str) -> None:
    """Sign the present record of a month, if it still is the one that was looked at.

    Parameters
    ----------
    number : int
        1 for the review, 2 and more for an addendum.
    mark : str
        `Review.mark()` of what was on the page.

    Raises
    ------
    ReviewError
        The record or its signatures are others now, or nobody is named.
    """
    present = ready_review(archive, month)
    if present is None or present.mark() != mark:
        raise ReviewError("The record has changed since this page was opened. Reload it, look again, and sign then.")
    sign(archive, month, number, figures=present.figures(), text=text, name=name)


def failed_frames(review: Review | None) -> tuple[str, ...]:
    """Return the frames whose findings could not be computed."""
    frames = () if review is None else review.frames
    return tuple(
        one.summary.frame_id for one in frames if any(reason.rule == FAILED for reason in one.summary.standing.reasons)
    )


def try_again(archive: Archive, month: str) -> None:
    """Forget what failed, of the whole month or of single frames: the page starts it anew."""
    background().forget(task_key(month))
    failed = failed_frames(ready_review(archive, month))
    if failed:
        archive.keep_findings(kept_name(month), {frame_id: Finding("", "", {}) for frame_id in failed})


def _computing(archive: Archive, month: str) -> Task:
    found = background().task(task_key(month))
    if found is not None and found.state != "done":
        return found
    return background().start(
        task_key(month),
        f"Frames of {month_in_words(month)}",
        lambda progress: bool(month_review(archive, month, progress=progress, n_processes=os.cpu_count() or 1).frames),
        by=person().name,
    )
