"""A loan out of the register: its legs, venues, frames and terms together, and who changed what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

import pandas as pd
import sqlalchemy as sa

from isohume.analysis.terms import Air, ClimateTerms, published_terms
from isohume.dashboard import formats
from isohume.dashboard.moments import moment_of
from isohume.dashboard.papers.terms_chosen import chosen_terms, kept_terms
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.models_imports import TrailEntry

STATES = {
    "asked": "asked for", "agreed": "agreed", "running": "under way", "returned": "returned", "declined": "declined",
}  # fmt: skip
# Common practice: with no leg on record, lenders ask for the last year.
PERIOD_WITHOUT_LEGS = pd.Timedelta(days=365)
# Figures from memory must say so wherever they go.
FROM_MEMORY = "figures from memory, compare them with the publication before relying on them"


class UnknownLoanError(LookupError):
    """No loan of that name is registered."""

    def __init__(self, loan_id: str) -> None:
        super().__init__(f'No loan "{loan_id}" in this collection. The Loans page lists all of them.')


class AskedError(ValueError):
    """What was asked for is none; the message says what to give instead."""


@dataclass(frozen=True, slots=True)
class LoanLeg:
    """A journey or a stay.

    Attributes
    ----------
    facts : mapping
        The record.
    venue : str
        Name of the place; "" for none.
    start, end : Timestamp, Timestamp or None
    """

    facts: Mapping[str, Any]
    venue: str
    start: pd.Timestamp
    end: pd.Timestamp | None

    def in_words(self, zone: str) -> str:
        """Name the leg: Stay at Hall B, 1 Mar 2026 to 1 May 2026."""
        place = f" {'at' if self.facts['kind'] == 'stay' else 'to'} {self.venue}" if self.venue else ""
        until = f" to {formats.date(self.end, zone)}" if self.end is not None else " on"
        return f"{str(self.facts['kind']).capitalize()}{place}, {formats.date(self.start, zone)}{until}"


@dataclass(frozen=True, slots=True)
class LoanView:
    """One loan with all that belongs to it.

    Attributes
    ----------
    facts : mapping
        The record.
    legs : tuple of LoanLeg
        In order of time.
    frames : mapping
        Each frame's painting; None for one that is not in the register.
    terms : mapping or None
        The record of its climate terms.
    """

    facts: Mapping[str, Any]
    legs: tuple[LoanLeg, ...]
    frames: Mapping[str, str | None]
    terms: Mapping[str, Any] | None

    @property
    def loan_id(self) -> str:
        """Its id."""
        return str(self.facts["id"])

    @property
    def title(self) -> str:
        """Its title, or its id."""
        return str(self.facts["title"] or self.facts["id"])

    @property
    def span(self) -> tuple[pd.Timestamp, pd.Timestamp | None] | None:
        """First start and last end of its legs; no end while one is open."""
        if not self.legs:
            return None
        ends = [leg.end for leg in self.legs]
        return self.legs[0].start, None if None in ends else max(end for end in ends if end is not None)


def loan_address(loan_id: str, part: str = "", **query: str) -> str:
    """Return the address of a loan's page or of one of its parts; an id may hold any character."""
    asked = "&".join(f"{name}={quote(value, safe='')}" for name, value in query.items() if value)
    return f"/loan/{quote(loan_id, safe='')}{f'/{part}' if part else ''}{f'?{asked}' if asked else ''}"


def loan_of(archive: Archive, loan_id: str) -> LoanView:
    """Return one loan.

    Raises
    ------
    UnknownLoanError
        There is none of that name.
    """
    found = [one for one in loans_of(archive) if one.loan_id == loan_id]
    if not found:
        raise UnknownLoanError(loan_id)
    return found[0]


def loans_of(archive: Archive) -> list[LoanView]:
    """Return all loans, the newest first leg in front; those without a leg before them."""
    venues = {row["id"]: row["name"] or row["id"] for row in archive.records("venues")}
    terms = {row["id"]: row for row in archive.records("terms")}
    paintings = {row["id"]: row["painting"] for row in archive.records("frames")}
    legs: dict[str, list[LoanLeg]] = {}
    for row in archive.records("legs"):
        end = None if row["to"] is None else pd.Timestamp(row["to"])
        leg = LoanLeg(row, venues.get(row["venue"], row["venue"] or ""), pd.Timestamp(row["from"]), end)
        legs.setdefault(row["loan"], []).append(leg)
    found = [
        LoanView(
            row,
            tuple(sorted(legs.get(row["id"], []), key=lambda leg: leg.start)),
            {frame: paintings.get(frame) for frame in row["frames"]},
            terms.get(row["terms"]),
        )
        for row in archive.records("loans")
    ]
    ahead = pd.Timestamp.max.tz_localize("UTC")
    return sorted(found, key=lambda one: one.span[0] if one.span else ahead, reverse=True)


def state_of(archive: Archive) -> int:
    """Return what changes whenever anything in the archive does from which figures follow; issuing evidence is not."""
    with archive.register.reading() as session:
        return session.scalar(sa.select(sa.func.max(TrailEntry.id)).where(TrailEntry.kind != "evidence")) or 0


def period_of(
    loan: LoanView, asked: Mapping[str, str], *, now: pd.Timestamp, zone: str
) -> tuple[pd.Timestamp, pd.Timestamp]:
    """Return the period asked for by `from` and `to` (that day included), else that of the legs so far.

    Raises
    ------
    AskedError
        It is none.
    """
    start, end = usual_period(loan, now)
    try:
        if asked.get("from"):
            start = moment_of(asked["from"].strip(), zone)
        if asked.get("to"):
            text = asked["to"].strip()
            end = moment_of(text, zone)
            if len(text) == len("2026-11-15"):
                end = moment_of(f"{(pd.Timestamp(text) + pd.Timedelta(days=1)):%Y-%m-%d}", zone)
    except ValueError as error:
        raise AskedError(str(error)) from None
    if not start < end:
        raise AskedError(
            f"The period from {formats.moment(start, zone)} to {formats.moment(end, zone)} is none. "
            "Give a start before its end."
        )
    return start, end


def usual_period(loan: LoanView, now: pd.Timestamp) -> tuple[pd.Timestamp, pd.Timestamp]:
    """Return the legs' period as far as it has passed; the last year where none has begun."""
    span = loan.span
    if span is None or span[0] >= now:
        return now - PERIOD_WITHOUT_LEGS, now
    return span[0], now if span[1] is None else min(span[1], now)


def day_text(moment: pd.Timestamp, zone: str, *, is_end: bool = False) -> str:
    """Write a moment as the form of a period holds it: a date where it is a midnight of the site."""
    local = moment.tz_convert(zone)
    if local == local.normalize():
        return f"{(local - pd.Timedelta(days=1) if is_end else local):%Y-%m-%d}"
    return f"{local:%Y-%m-%d %H:%M}"


def terms_for(archive: Archive, loan: LoanView, frame_id: str, asked: Mapping[str, str]) -> tuple[ClimateTerms, ...]:
    """Return the climate terms to hold a frame to: those asked for, else the loan's, else those of the frame.

    Raises
    ------
    AskedError
        There are none of that name, or a clause of them cannot be judged.
    """
    named = asked.get("terms") or (loan.facts["terms"] or "")
    try:
        return chosen_terms(archive, frame_id, [named] if named else None, air=asked.get("air") or "room")
    except (KeyError, TypeError, ValueError) as error:
        raise AskedError(f"These climate terms cannot be judged. {error.args[0]}") from None


def published_copy(name: str, air: Air, *, terms_id: str) -> dict[str, Any]:
    """Return published terms as a record of the register, to be agreed or altered for a loan.

    Raises
    ------
    AskedError
        Nothing of that name is published here.
    """
    found = next((one for one in published_terms(air=air) if one.name == name), None)
    if found is None:
        raise AskedError(f'No published climate terms named "{name}".')
    remark = f", {FROM_MEMORY}" if found.status == "memory" else ""
    clauses = [
        {key: value for key in ("air", "quantity", "kind", "low", "high", "averaging_hours", "notice")
         if (value := getattr(clause, key)) not in (None, "")}
        for clause in found.clauses
    ]  # fmt: skip
    return {"id": terms_id, "name": name, "source": f"{found.source}{remark}", "clauses": clauses, "note": found.note}


def terms_in_words(row: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the clauses of a record as sentences.

    Raises
    ------
    AskedError
        A clause cannot be judged: it was kept by an earlier version, which did not check.
    """
    try:
        return tuple(clause.in_words() for clause in kept_terms(row).clauses)
    except (TypeError, ValueError) as error:
        raise AskedError(f"A clause cannot be judged: {error} Write it anew.") from None


def used_elsewhere(archive: Archive, terms_id: str, loan_id: str) -> list[str]:
    """Name the other loans and the frames that a set of terms holds for."""
    loans = [f"loan {row['title'] or row['id']}" for row in archive.records("loans")
             if row["terms"] == terms_id and row["id"] != loan_id]  # fmt: skip
    return loans + [f"frame {row['id']}" for row in archive.records("frames") if row["terms"] == terms_id]
