"""The records of reviews: drafts, signatures and addenda; who may sign what, and what stays as it was signed."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd
import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.dashboard.papers.review_frame import Decision
from isohume.dashboard.papers.review_month import ReviewError
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.editing import Editor
from isohume.ingest.archive.models import Frame
from isohume.ingest.archive.models_imports import TrailEntry
from isohume.ingest.archive.models_register import Review as Row

KIND = "reviews"
LONGEST_NAME, LONGEST_DECISION, LONGEST_TEXT = 80, 500, 3000


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What stands written for a month under one number: the review (1) or an addendum (2 and more), without figures.

    Attributes
    ----------
    decisions : mapping of frame to Decision
    text : str
        Remarks on the whole.
    signed_by, second_signed_by : str
        "" while nobody has.
    """

    month: str
    number: int
    decisions: Mapping[str, Decision]
    text: str
    signed_by: str
    signed_on: pd.Timestamp | None
    second_signed_by: str
    second_signed_on: pd.Timestamp | None

    @property
    def is_signed(self) -> bool:
        """Whether it is frozen."""
        return bool(self.signed_by)


def written(session: Session, month: str | None = None) -> tuple[Written, ...]:
    """Return what is written for a month, or for all, in order of month and number; figures are read apart."""
    columns = (
        Row.month, Row.number, Row.decisions, Row.text, Row.signed_by, Row.signed_on, Row.second_signed_by,
        Row.second_signed_on,
    )  # fmt: skip
    query = sa.select(*columns).order_by(Row.month, Row.number)
    if month is not None:
        query = query.where(Row.month == month)
    return tuple(
        Written(
            month=row.month,
            number=row.number,
            decisions={name: Decision.from_document(one) for name, one in (row.decisions or {}).items()},
            text=row.text,
            signed_by=row.signed_by,
            signed_on=_moment(row.signed_on),
            second_signed_by=row.second_signed_by,
            second_signed_on=_moment(row.second_signed_on),
        )
        for row in session.execute(query)
    )


def figures_signed(session: Session, month: str, number: int) -> dict[str, Any] | None:
    """Return what was kept with a signature."""
    query = sa.select(Row.figures).where(Row.month == month, Row.number == number, Row.signed_by != "")
    return session.scalars(query).one_or_none()


def last_signed(session: Session, *, before: str = "9999-12") -> tuple[str, dict[str, Any]] | None:
    """Return month and figures of the newest signed review or addendum of the months before one; None for none."""
    query = (
        sa.select(Row.month, Row.figures)
        .where(Row.month < before, Row.signed_by != "", Row.figures.is_not(None))
        .order_by(Row.month.desc(), Row.number.desc())
        .limit(1)
    )
    row = session.execute(query).one_or_none()
    return None if row is None or row.figures is None else (row.month, row.figures)


def open_number(rows: Sequence[Written]) -> int:
    """Return the number that is being written: that of the draft, or the one after the last signed."""
    if not rows:
        return 1
    return rows[-1].number + 1 if rows[-1].is_signed else rows[-1].number


def note_decision(archive: Archive, month: str, number: int, frame_id: str, decision: Decision) -> None:
    """Keep what was decided for a frame in the draft; an empty text takes it out.

    Raises
    ------
    ReviewError
        The draft was signed meanwhile, there is no such frame, or a text is too long.
    """
    said = Decision(
        text=tidy(decision.text, LONGEST_DECISION, "decision", lines=True),
        who=tidy(decision.who, LONGEST_NAME, "name"),
        by_date=_date(decision.by_date),
        noted_by=tidy(decision.noted_by, LONGEST_NAME, "name"),
    )
    with archive.register.writing() as session:
        rows = written(session, month)
        _refuse_if_signed(rows, number)
        if session.get(Frame, frame_id) is None:
            raise ReviewError("There is no such frame. Reload the page.")
        draft = next((row for row in rows if row.number == number), None)
        decisions = {name: one.document() for name, one in (draft.decisions if draft else {}).items()}
        if said.text or said.who or said.by_date:
            decisions[frame_id] = said.document()
        else:
            decisions.pop(frame_id, None)
        Editor(archive, session, place="Month").put(KIND, {"month": month, "number": number, "decisions": decisions})


def sign(archive: Archive, month: str, number: int, *, figures: Mapping[str, Any], text: str, name: str) -> None:
    """Sign the review of a month or an addendum: from now on it stays as it is.

    Raises
    ------
    ReviewError
        Nobody is named, or somebody else has signed meanwhile.
    """
    signer, remarks = tidy(name, LONGEST_NAME, "name"), tidy(text, LONGEST_TEXT, "text", lines=True)
    if not signer:
        raise ReviewError("Nobody is named. Write the name of whoever signs.")
    with archive.register.writing() as session:
        _refuse_if_signed(written(session, month), number)
        Editor(archive, session, place="Month").put(
            KIND,
            {"month": month, "number": number, "figures": dict(figures), "text": remarks, "signed_by": signer,
             "signed_on": archive.now()},
        )  # fmt: skip


def sign_second(archive: Archive, month: str, number: int, *, name: str) -> None:
    """Add the second signature, of somebody else than the first.

    Raises
    ------
    ReviewError
        Nobody is named, it is the same person, or there is nothing to sign.
    """
    signer = tidy(name, LONGEST_NAME, "name")
    if not signer:
        raise ReviewError("Nobody is named. Write the name of whoever signs.")
    with archive.register.writing() as session:
        row = next((one for one in written(session, month) if one.number == number), None)
        if row is None or not row.is_signed:
            raise ReviewError("The first signature is missing. Reload the page.")
        if row.second_signed_by:
            raise ReviewError(f"{row.second_signed_by} has signed already. Reload the page.")
        if is_same_person(signer, row.signed_by) or (
            archive.by != "local" and archive.by == _signed_at(session, month, number)
        ):
            raise ReviewError(
                f"{row.signed_by} gave the first signature: the second is for somebody else. Nothing was signed."
            )
        Editor(archive, session, place="Month").put(
            KIND,
            {"month": month, "number": number, "second_signed_by": signer, "second_signed_on": archive.now()},
        )


def is_same_person(one: str, other: str) -> bool:
    """Tell whether two written names are the same, however they are spaced and capitalised."""
    return _folded(one) == _folded(other)


def tidy(text: str, longest: int, what: str, *, lines: bool = False) -> str:
    """Return typed text without control characters and outer space.

    Raises
    ------
    ReviewError
        It is longer than `longest` characters.
    """
    kept = "".join(
        sign
        if (lines and sign == "\n") or not unicodedata.category(sign).startswith("C")
        else " "
        if sign in "\t\r\n"
        else ""
        for sign in unicodedata.normalize("NFC", text.replace("\r\n", "\n"))
    ).strip()
    if len(kept) > longest:
        raise ReviewError(f"The {what} has {len(kept)} characters: at most {longest} are kept. Shorten it.")
    return kept


def _refuse_if_signed(rows: Sequence[Written], number: int) -> None:
    if number != open_number(rows):
        raise ReviewError("Somebody has signed meanwhile: what is signed stays. Reload the page.")


def _signed_at(session: Session, month: str, number: int) -> str:
    """Return who was at work when the first signature was given, as the audit trail says."""
    lines = session.execute(
        sa.select(TrailEntry.by, TrailEntry.before, TrailEntry.after)
        .where(TrailEntry.kind == KIND, TrailEntry.key == f"{month} / {number}")
        .order_by(TrailEntry.id)
    )
    return next((line.by for line in lines if (line.after or {}).get("signed_by")), "")


def _folded(name: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def _date(text: str) -> str:
    if not text:
        return ""
    try:
        return f"{pd.Timestamp(text):%Y-%m-%d}"
    except ValueError:
        raise ReviewError("The date is none: expected one such as 2026-11-30.") from None


def _moment(time: Any) -> pd.Timestamp | None:
    return None if time is None else pd.Timestamp(time).tz_convert("UTC")
