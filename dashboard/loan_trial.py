"""What a venue's climate would do to a frame, beside the terms: reckoned, not evidence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import pandas as pd
import sqlalchemy as sa

from isohume.analysis.forecast.room import NAMED_CLIMATES, venue_room
from isohume.analysis.readings import RH, TEMPERATURE, AirRecord
from isohume.analysis.terms import Clause
from isohume.analysis.terms_judge import ClauseResult, judge_terms
from isohume.dashboard import formats
from isohume.dashboard.ahead import Ahead, NoForecastError, trial
from isohume.dashboard.background import Progress
from isohume.dashboard.exports import Cell
from isohume.dashboard.loan_record import AskedError, LoanLeg, LoanView, terms_for
from isohume.dashboard.loan_venues import NoVenueRecordError, VenueRecords
from isohume.dashboard.moments import moment_of
from isohume.dashboard.views import Site
from isohume.ingest.archive import collect
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.models import Placement
from isohume.ingest.archive.timelines import stays_of_loggers

LENGTHS = (30, 60, 90, 120, 180, 365)
USUAL_DAYS = 90
RECORD, ROOM, CLIMATE = "record", "room", "climate"
YEARS_BACK = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class VenueTrial:
    """One trial.

    Attributes
    ----------
    ahead : Ahead
        The course inside the frame.
    where : str
        The climate, for people.
    since : Timestamp or None
        From when on the venue's record was taken; None for a named climate.
    days : int
    clauses : tuple of Clause
        Ranges agreed for the air inside, drawn as limits.
    sentences : tuple of str
        When the courses pass those limits.
    room : tuple of ClauseResult
        What the venue's record says of the clauses about the room's air.
    """

    ahead: Ahead
    where: str
    since: pd.Timestamp | None
    days: int
    clauses: tuple[Clause, ...]
    sentences: tuple[str, ...]
    room: tuple[ClauseResult, ...]


def rooms_with_loggers(archive: Archive) -> dict[str, str]:
    """Return the rooms that were measured, with their names."""
    measured = {row["room"] for row in archive.records("placements") if row["room"]}
    return {row["id"]: row["name"] or row["id"] for row in archive.records("rooms") if row["id"] in measured}


def usual_stay(loan: LoanView) -> LoanLeg | None:
    """Return the loan's first stay with an end."""
    return next((leg for leg in loan.legs if leg.facts["kind"] == "stay" and leg.end is not None), None)


def usual_days(loan: LoanView) -> int:
    """Return the length on offer nearest to the loan's stay."""
    stay = usual_stay(loan)
    if stay is None or stay.end is None:
        return USUAL_DAYS
    n_days = (stay.end - stay.start).days
    return min(LENGTHS, key=lambda length: abs(length - n_days))


def trial_of(archive: Archive, loan: LoanView, asked: Mapping[str, str], site: Site, progress: Progress) -> VenueTrial:
    """Try a frame of the loan in the climate asked for.

    Parameters
    ----------
    archive : Archive
    loan : LoanView
    asked : mapping
        `frame`; `where`: `record:ID`, `room:ID` or `climate:NAME`; `place`: the series of a record; `days`;
        `since`: from when on the record is taken.
    site : Site
    progress : callable

    Raises
    ------
    AskedError
        It cannot be tried; the message says why.
    """
    frame_id = asked.get("frame", "")
    if frame_id not in loan.frames:
        raise AskedError(f'Frame "{frame_id}" is not part of this loan.')
    days = _days(asked.get("days") or str(usual_days(loan)))
    kind, _, name = asked.get("where", "").partition(":")
    progress(0, 3)
    try:
        terms = terms_for(archive, loan, frame_id, {})
    except AskedError:
        terms = ()
    clauses = [clause for one in terms for clause in one.clauses]
    venue, where, since = None, name, None
    if kind != CLIMATE:
        whole, where = _venue(archive, kind, name, asked.get("place", ""))
        since = since_when(whole, asked.get("since", ""), loan, days, site.time_zone)
        venue = replace(whole, readings=whole.readings.loc[since:])
        _refuse_flagged(venue, where)
        try:
            venue_room(venue, n_days=days, n_members=1)  # whether it is long enough, before the frame is fitted
        except ValueError as error:
            raise AskedError(str(error)) from None
    elif name not in {climate.name for climate in NAMED_CLIMATES}:
        raise AskedError(f'No climate named "{name}".')
    progress(1, 3)
    try:
        ahead = trial(archive, frame_id, days=days, venue=venue, climate=name if kind == CLIMATE else None)
    except (NoForecastError, ValueError) as error:
        raise AskedError(str(error)) from None
    progress(2, 3)
    ranges = tuple(
        clause for clause in clauses
        if clause.air == "inside" and clause.quantity == RH and clause.kind == "range"
    )  # fmt: skip
    room: tuple[ClauseResult, ...] = ()
    if venue is not None and since is not None:
        about_room = [replace(one, clauses=tuple(c for c in one.clauses if c.air == "room")) for one in terms]
        end = since + pd.Timedelta(days=days)
        room = tuple(
            result for one in about_room for result in judge_terms(one, inside=None, room=venue, start=since, end=end)
        )
    return VenueTrial(
        ahead=ahead, where=where, since=since, days=days, clauses=ranges, room=room,
        sentences=tuple(_passes(ahead.series, clause, site.time_zone) for clause in ranges),
    )  # fmt: skip


def _refuse_flagged(venue: AirRecord, where: str) -> None:
    """Refuse a record of which a quantity is missing, and say what its readings were left out for."""
    for column, name in ((RH, "humidity"), (TEMPERATURE, "temperature")):
        if not venue.readings[column].notna().any():
            flags = "; ".join(f"{formats.count(n)} flagged {flag}" for flag, n in venue.flag_counts.items() if n)
            left_out = f" ({flags})" if flags else ""
            raise AskedError(f"{where} holds no usable {name}{left_out}. A trial needs both; ask for another record.")


def _days(text: str) -> int:
    if text not in {str(length) for length in LENGTHS}:
        raise AskedError(f'Length "{text}": choose {", ".join(map(str, LENGTHS))} days.')
    return int(text)


def _venue(archive: Archive, kind: str, name: str, place: str) -> tuple[AirRecord, str]:
    """Return the record of a venue or room, and what it is called."""
    if kind == RECORD:
        try:
            records = VenueRecords(archive)
            found, called = records.record(name, place), str(records.one(name)["name"])
        except NoVenueRecordError as error:
            raise AskedError(str(error)) from None
    elif kind == ROOM:
        rooms = rooms_with_loggers(archive)
        if name not in rooms:
            raise AskedError(f'No logger measured a room "{name}" in this archive.')
        gathered = room_record(archive, name)
        if gathered is None:
            raise AskedError(f"Nothing was logged in {rooms[name]}.")
        found, called = gathered, rooms[name]
    else:
        raise AskedError("Choose the climate: an uploaded record, a room of this archive, or a named climate.")
    if found.readings.empty:
        raise AskedError(f"{called} holds no reading.")
    return found, called


def room_record(archive: Archive, room_id: str) -> AirRecord | None:
    """Return the air of a room over all time; None where it was never measured."""
    with archive.register.reading() as session:
        stays = stays_of_loggers(list(session.scalars(sa.select(Placement).where(Placement.room == room_id))))
    return collect.record(archive, stays, start=None, end=None)


def since_when(record: AirRecord, asked: str, loan: LoanView, days: int, zone: str) -> pd.Timestamp:
    """Return from when on a record is taken: as asked, else the same season as the loan's stay, else its start."""
    first, last = (pd.Timestamp(record.readings.index[place]) for place in (0, -1))
    if asked:
        try:
            since = moment_of(asked.strip(), zone)
        except ValueError as error:
            raise AskedError(str(error)) from None
        if not first <= since < last:
            since = first if since.normalize() == first.normalize() else since
        if not first <= since < last:
            raise AskedError(
                f"The record runs from {formats.date(first, zone)} to {formats.date(last, zone)}; "
                f"{formats.date(since, zone)} lies outside it."
            )
        return since
    stay = usual_stay(loan)
    length = pd.Timedelta(days=days)
    if stay is not None:
        for years in range(YEARS_BACK):
            since = pd.Timestamp(stay.start - pd.DateOffset(years=years))
            if first <= since and since + length <= last:
                return since
    return first


def _passes(series: pd.DataFrame, clause: Clause, zone: str) -> str:
    """Say when the courses pass the limits of a clause on the air inside."""
    outside = {}
    for name, low, high in (("half", "median", "median"), ("one course in ten", "low10", "high90")):
        is_out = pd.Series(data=False, index=series.index)
        if clause.low is not None:
            is_out |= series[low] < clause.low
        if clause.high is not None:
            is_out |= series[high] > clause.high
        outside[name] = is_out[is_out].index
    if not len(outside["one course in ten"]):
        return f"{clause.in_words()} Fewer than one course in ten passes this limit on any day."
    first = pd.Timestamp(outside["one course in ten"][0])
    day = (first - pd.Timestamp(series.index[0])).days
    text = f"{clause.in_words()} One course in ten is past this limit by day {day} ({formats.date(first, zone)})"
    if not len(outside["half"]):
        return f"{text}; half of them never."
    half = pd.Timestamp(outside["half"][0])
    return f"{text}, half of them by day {(half - pd.Timestamp(series.index[0])).days} ({formats.date(half, zone)})."


def trial_table(found: VenueTrial) -> tuple[list[str], list[list[Cell]]]:
    """Return the course for a spreadsheet; its heading says what it is not."""
    heads = [
        "day (UTC)", "RECKONED, NOT EVIDENCE: median inside %RH", "one course in ten below %RH",
        "one course in ten above %RH", "climate",
    ]  # fmt: skip
    rows: list[list[Cell]] = [
        [pd.Timestamp(str(time)), *(round(float(row[name]), 2) for name in ("median", "low10", "high90")), found.where]
        for time, row in found.ahead.series.iterrows()
    ]
    return heads, rows
