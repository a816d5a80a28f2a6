"""The record of a loan's frames held to climate terms, clause by clause, from what a pack would hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import pandas as pd

from isohume.analysis.readings import AirRecord
from isohume.analysis.terms import ClimateTerms
from isohume.analysis.terms_judge import judge_terms
from isohume.dashboard.background import Progress
from isohume.dashboard.exports import Cell
from isohume.dashboard.loan_record import AskedError, LoanView, period_of, terms_for
from isohume.dashboard.papers.computed import JudgedTerms, judged_terms
from isohume.dashboard.papers.evidence import SIDES, EvidenceError
from isohume.dashboard.papers.evidence_findings import SWAPPED
from isohume.dashboard.papers.gather import evidence_of
from isohume.dashboard.store import Store
from isohume.dashboard.views import Site
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import RegisterError


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameResults:
    """What the record of one frame says of the terms.

    Attributes
    ----------
    terms : tuple of JudgedTerms
        Empty where nothing was agreed, or where they cannot be judged.
    inside, room : AirRecord or None
        The period's readings, as a pack would hold them.
    has_inside : bool
        Whether the inside was measured.
    doubts : tuple of str
        Why its records may mislead, as they stand now.
    why : str
        Why there is no result.
    """

    frame_id: str
    painting: str
    terms: tuple[JudgedTerms, ...] = ()
    inside: AirRecord | None = None
    room: AirRecord | None = None
    has_inside: bool = False
    doubts: tuple[str, ...] = ()
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoanResults:
    """The results of all frames of a loan over one period."""

    start: pd.Timestamp
    end: pd.Timestamp
    frames: tuple[FrameResults, ...]


def results_of(
    archive: Archive, loan: LoanView, asked: Mapping[str, str], site: Site, progress: Progress
) -> LoanResults:
    """Hold every frame of a loan to its terms.

    Parameters
    ----------
    archive : Archive
    loan : LoanView
    asked : mapping
        `from` and `to` of the period, `terms` and `air`, as in the address; what is missing is the loan's own.
    site : Site
    progress : callable
        Told how many frames of how many are done.

    Raises
    ------
    AskedError
        The period is none.
    """
    start, end = period_of(loan, asked, now=site.now, zone=site.time_zone)
    found = []
    for done, frame_id in enumerate(loan.frames):
        progress(done, len(loan.frames))
        found.append(_frame(archive, loan, frame_id, asked, (start, end)))
    progress(len(loan.frames), len(loan.frames))
    return LoanResults(start=start, end=end, frames=tuple(found))


def _frame(
    archive: Archive,
    loan: LoanView,
    frame_id: str,
    asked: Mapping[str, str],
    period: tuple[pd.Timestamp, pd.Timestamp],
) -> FrameResults:
    start, end = period
    painting = loan.frames[frame_id] or ""
    if loan.frames[frame_id] is None:
        return FrameResults(frame_id=frame_id, painting="", why="This frame is not in the register.")
    try:
        terms = terms_for(archive, loan, frame_id, asked)
    except AskedError as error:
        return FrameResults(frame_id=frame_id, painting=painting, why=str(error))
    if not terms:
        why = "No climate terms are agreed for this loan or this frame. Choose some above, or write them under Terms."
        return FrameResults(frame_id=frame_id, painting=painting, why=why)
    try:
        evidence = evidence_of(archive, frame_id, start=start, end=end, terms=terms)
    except EvidenceError as error:
        return FrameResults(frame_id=frame_id, painting=painting, terms=_unjudged(terms, start, end), why=str(error))
    except RegisterError as error:
        return FrameResults(frame_id=frame_id, painting=painting, why=str(error))
    inside, room = (evidence.record(side) for side in SIDES)
    return FrameResults(
        frame_id=frame_id,
        painting=painting,
        terms=judged_terms(evidence, inside=inside, room=room),
        inside=inside,
        room=room,
        has_inside=inside is not None,
        doubts=_doubts(archive, frame_id) if inside is not None else (),
    )


def _doubts(archive: Archive, frame_id: str) -> tuple[str, ...]:
    """Return what the findings that are already known warn of; none are computed for it."""
    found = Store(archive).known_frame(frame_id).assessment
    swapped = [reason.text for reason in found.standing.reasons if reason.rule == SWAPPED]
    doubtful = [reason.text for reason in found.data.reasons] if found.data.name == "doubtful" else []
    return tuple(dict.fromkeys([*swapped, *doubtful]))


def without_readings(found: FrameResults) -> FrameResults:
    """Return the results alone, light enough to be remembered."""
    return replace(found, inside=None, room=None)


def _unjudged(terms: Sequence[ClimateTerms], start: pd.Timestamp, end: pd.Timestamp) -> tuple[JudgedTerms, ...]:
    return tuple(
        JudgedTerms(terms=one, results=judge_terms(one, inside=None, room=None, start=start, end=end)) for one in terms
    )


def results_table(results: LoanResults) -> tuple[list[str], list[list[Cell]]]:
    """Return the results for a spreadsheet."""
    heads = [
        "frame", "painting", "period start (UTC)", "period end (UTC)", "terms", "clause", "result", "beyond doubt",
        "hours breached as read", "hours breached beyond the uncertainty", "uncertainty", "worst", "unit",
        "worst at (UTC)", "share covered", "notice agreed", "why unknown",
    ]  # fmt: skip
    rows: list[list[Cell]] = []
    for frame in results.frames:
        same: list[Cell] = [frame.frame_id, frame.painting, results.start, results.end]
        for judged in frame.terms:
            rows += [
                [
                    *same, judged.terms.name, result.clause.in_words(), result.verdict, result.beyond_doubt,
                    *((None, None, None) if result.verdict == "cannot say"
                      else (result.hours_breached, result.hours_beyond_doubt, result.uncertainty)),
                    result.worst, result.clause.unit, result.worst_utc,
                    None if result.verdict == "cannot say" else result.coverage, result.clause.notice, result.why,
                ]
                for result in judged.results
            ]  # fmt: skip
        if not frame.terms:
            rows.append([*same, *([None] * (len(heads) - len(same) - 1)), frame.why])
    return heads, rows
