"""What an evidence pack would send out, before it is made: taken from the very documents the pack is made of."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from isohume.analysis.terms import ClimateTerms
from isohume.dashboard.background import Progress
from isohume.dashboard.loan_record import AskedError, LoanView, period_of, terms_for
from isohume.dashboard.papers.evidence import Evidence, EvidenceError, csv_of
from isohume.dashboard.papers.gather import TOLD_EVENTS, TOLD_OF_EVENTS, evidence_of
from isohume.dashboard.papers.make_pack import CSV, FINDINGS, MEMBERS, PAPER, README, document_id, given_of
from isohume.dashboard.papers.pack import MANIFEST, SIGNATURE
from isohume.dashboard.papers.typeset import PAPERS, Paper
from isohume.dashboard.views import Site
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.kinds import kind_named

WHAT = {
    README: "what the pack holds and how to check it",
    PAPER: "the paper for people",
    CSV: "every reading used, for spreadsheets",
    FINDINGS: "every figure computed from the readings",
    "readings.parquet": "the same readings, for programs",
    "parameters.json": "frame, period, loggers, terms and settings",
    "calibrations.json": "calibrations of the loggers that measured",
    "events.json": "work on the frame in the period",
    "originals.json": "names, hashes and row accounts of the files behind the readings",
    MANIFEST: "the hash and size of every member",
    SIGNATURE: "the signature over the manifest",
}
# Made after the preview, from the members before them: their size is not known yet.
MADE_LATER = (README, PAPER, FINDINGS, MANIFEST, SIGNATURE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One member of the pack to be.

    Attributes
    ----------
    name, what : str
    n_bytes : int or None
        None for those that are only made with the pack.
    text : str
        The member itself, as it would leave, where it is text for people to read.
    """

    name: str
    what: str
    n_bytes: int | None
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """What would leave the house, and what would stay.

    Attributes
    ----------
    document : str
        Id that the pack will have; another one means that something changed.
    evidence : Evidence
        The documents themselves, without the table of readings.
    n_readings : int
    members : tuple of Member
    stays : tuple of str
        What the archive holds beside it and the pack does not.
    """

    frame_id: str
    start: pd.Timestamp
    end: pd.Timestamp
    terms: tuple[ClimateTerms, ...]
    paper: Paper
    document: str
    evidence: Evidence
    n_readings: int
    members: tuple[Member, ...]
    stays: tuple[str, ...]

    @property
    def placements(self) -> Sequence[Mapping[str, Any]]:
        """Return which logger measured what, from when to when."""
        return tuple(self.evidence.parameters["placements"])

    @property
    def event_counts(self) -> Counter[str]:
        """Return how many events of each kind leave."""
        return Counter(str(event["kind"]) for event in self.evidence.events)


def asked_pack(
    archive: Archive, loan: LoanView, asked: Mapping[str, str], site: Site
) -> tuple[str, pd.Timestamp, pd.Timestamp, tuple[ClimateTerms, ...], Paper]:
    """Return frame, period, terms and paper that somebody asked for.

    Raises
    ------
    AskedError
        Something of it is none.
    """
    frame_id = asked.get("frame", "")
    if loan.frames.get(frame_id) is None:
        raise AskedError(f'Frame "{frame_id}" is not part of this loan.')
    start, end = period_of(loan, asked, now=site.now, zone=site.time_zone)
    size = asked.get("paper") or PAPERS[0]
    paper = next((one for one in PAPERS if one == size), None)
    if paper is None:
        raise AskedError(f'Paper "{size}": choose {" or ".join(PAPERS)}.')
    return frame_id, start, end, terms_for(archive, loan, frame_id, asked), paper


def preview_of(archive: Archive, loan: LoanView, asked: Mapping[str, str], site: Site, progress: Progress) -> Preview:
    """Gather what a pack would hold, without making it.

    Raises
    ------
    AskedError
        There would be no pack; the message says why.
    """
    frame_id, start, end, terms, paper = asked_pack(archive, loan, asked, site)
    progress(0, 2)
    try:
        evidence = evidence_of(archive, frame_id, start=start, end=end, terms=terms, paper=paper)
    except (EvidenceError, RegisterError) as error:
        raise AskedError(str(error)) from None
    progress(1, 2)
    given = given_of(evidence)
    written = {**given, CSV: csv_of(evidence.readings)}
    return Preview(
        frame_id=frame_id, start=start, end=end, terms=terms, paper=paper,
        document=document_id(*given.values()),
        evidence=replace(evidence, readings=evidence.readings.clear()),  # counted below, and large
        n_readings=evidence.readings.height,
        members=tuple(
            Member(
                name=name, what=WHAT[name], n_bytes=len(written[name]) if name in written else None,
                text=given[name].decode() if name.endswith(".json") and name in given else "",
            )
            for name in (*MEMBERS, MANIFEST, SIGNATURE)
        ),
        stays=what_stays(archive, evidence),
    )  # fmt: skip


def what_stays(archive: Archive, evidence: Evidence) -> tuple[str, ...]:
    """Say what the archive holds beside the evidence, by comparing the two."""
    known = evidence.parameters
    frame_id = known["frame"]["frame_id"]
    told = {"id", *known["frame"]}
    fields = [name.replace("_", " ") for name in kind_named("frames").fields if name not in told]
    of_events = set(kind_named("events").fields) - {*TOLD_OF_EVENTS, "frame", "time"}
    events = [row for row in archive.records("events") if row["frame"] == frame_id]
    n_kept_back = sum(row["kind"] not in TOLD_EVENTS for row in events)
    n_elsewhen = len(events) - n_kept_back - len(evidence.events)
    n_places = sum(row["frame"] == frame_id for row in archive.records("locations")) - len(known["rooms"])
    loggers = {placement["logger"] for placement in known["placements"]}
    n_frames, n_rooms = len(archive.frame_ids()) - 1, len(archive.records("rooms")) - len({
        room["id"] for room in known["rooms"]
    })  # fmt: skip
    n_loggers = len(archive.records("loggers")) - len(loggers)
    said = [
        (n_frames, f"{_n(n_frames, 'other frame')}, with all that is known of them"),
        (n_rooms, f"{_n(n_rooms, 'other room')} and {_n(n_loggers, 'other logger')}"),
        (n_places, f"{_n(n_places, 'place')} where this frame hung before or after"),
        (n_kept_back, f"{_n(n_kept_back, 'event')} that are notes or photographs"),
        (n_elsewhen, f"{_n(n_elsewhen, 'event')} before or after the period"),
        (len(fields), f"of the frame itself: {', '.join(fields)}"),
        (len(of_events), f"of its events: {', '.join(sorted(of_events))}"),
        (1, "the logger files as received; the pack names them with their hashes"),
        (1, "every reading before or after the period"),
    ]
    return tuple(text for n, text in said if n > 0)


def _n(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"
