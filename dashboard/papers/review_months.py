"""The months of a collection: those with readings, and how far the review of each is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

import pandas as pd
import sqlalchemy as sa

from isohume.dashboard.papers.review_month import FIRST_YEAR, LAST_YEAR, month_span, months_before
from isohume.dashboard.papers.review_rows import Written, written
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.models_imports import Part

State = Literal["open", "begun", "half signed", "signed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthListed:
    """One month in the list.

    Attributes
    ----------
    month : str
    has_readings : bool
    is_running : bool
        Whether it is not over.
    state : str
        open; begun: something is noted; half signed: the second signature is missing; signed.
    n_addenda : int
        Signed ones.
    """

    month: str
    has_readings: bool
    is_running: bool
    state: State
    n_addenda: int


def months_listed(archive: Archive, now: pd.Timestamp) -> tuple[MonthListed, ...]:
    """Return the months with readings or with something written, oldest first; none later than the present one."""
    with archive.register.reading() as session:
        collection = archive.collection(session)
        parts = session.execute(sa.select(Part.first, Part.last)).all()
        rows = written(session)
    zone = ZoneInfo(collection.time_zone)
    present = f"{now.tz_convert(collection.time_zone):%Y-%m}"
    covered: set[str] = set()
    for first, last in {(part.first.astimezone(zone), part.last.astimezone(zone)) for part in parts}:
        covered |= _months(f"{first:%Y-%m}", min(f"{last:%Y-%m}", present))
    by_month: dict[str, list[Written]] = {}
    for row in rows:
        by_month.setdefault(row.month, []).append(row)
    _start, ends = month_span(present, collection.time_zone)
    return tuple(
        MonthListed(
            month=month,
            has_readings=month in covered,
            is_running=month == present and now < ends,
            state=_state(by_month.get(month, []), two=collection.second_signature),
            n_addenda=sum(row.is_signed and row.number > 1 for row in by_month.get(month, [])),
        )
        for month in sorted(covered | by_month.keys())
        if month <= present
    )


def newest_to_review(listed: tuple[MonthListed, ...]) -> str | None:
    """Return the newest complete month with readings, else the running one; None where nothing was measured."""
    with_readings = [one for one in listed if one.has_readings]
    complete = [one.month for one in with_readings if not one.is_running]
    return complete[-1] if complete else with_readings[-1].month if with_readings else None


def _months(first: str, last: str) -> set[str]:
    found, month = set(), max(first, f"{FIRST_YEAR}-01")
    while month <= min(last, f"{LAST_YEAR}-12"):
        found.add(month)
        month = months_before(month, -1)
    return found


def _state(rows: list[Written], *, two: bool) -> State:
    if not rows:
        return "open"
    signed = [row for row in rows if row.is_signed]
    if not signed:
        return "begun"
    return "half signed" if two and any(not row.second_signed_by for row in signed) else "signed"
