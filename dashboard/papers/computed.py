"""Every figure of an evidence pack, computed from what the pack itself holds: used to make it and to check it."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.metadata import version
from typing import Any

import pandas as pd

from isohume.analysis.assess import NoOverlapError, assess
from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord
from isohume.analysis.results import Assessment
from isohume.analysis.terms import ClimateTerms
from isohume.analysis.terms_judge import ClauseResult, judge_terms
from isohume.dashboard.assessment_json import assessment_document, plain
from isohume.dashboard.papers.coverage import SideCoverage, side_coverage
from isohume.dashboard.papers.evidence import SIDES, Evidence, EvidenceError

FINDINGS_SCHEMA = "isohume.evidence.findings.1"


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedTerms:
    """A set of climate terms with the result of each clause."""

    terms: ClimateTerms
    results: tuple[ClauseResult, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Computed:
    """All figures of a pack.

    Attributes
    ----------
    coverage : mapping of side to SideCoverage or None
        None where nothing was measured.
    compared : bool
        Whether inside and room were measured at the same time, so that buffering could be looked for.
    """

    frame: FrameFacts
    inside: AirRecord | None
    room: AirRecord | None
    assessment: Assessment
    terms: tuple[JudgedTerms, ...]
    coverage: dict[str, SideCoverage | None]
    compared: bool

    def document(self) -> dict[str, Any]:
        """Return the figures as `findings.json` holds them."""
        return {
            "schema": FINDINGS_SCHEMA,
            "isohume_version": version("isohume"),
            "assessment": assessment_document(
                self.assessment, inside=self.inside, outside=self.room, frame=self.frame
            ),
            "terms": [
                {
                    "name": judged.terms.name,
                    "source": judged.terms.source,
                    "clauses": [
                        {**plain(result), "in_words": result.clause.in_words(), "beyond_doubt": result.beyond_doubt}
                        for result in judged.results
                    ],
                }
                for judged in self.terms
            ],
            "coverage": plain(self.coverage),
        }


def compute(evidence: Evidence) -> Computed:
    """Compute every figure.

    Raises
    ------
    EvidenceError
        Nothing was measured in the period.
    """
    frame, start, end = evidence.frame(), evidence.start, evidence.end
    inside, room = (evidence.record(side) for side in SIDES)
    if inside is None and room is None:
        raise EvidenceError(
            f"No reading of frame {frame.frame_id} or its room between {start:%Y-%m-%d} and {end:%Y-%m-%d}. "
            "Choose a period that the loggers cover, or import their files first."
        )
    seed = int(evidence.parameters["seed"])
    try:
        assessment, compared = assess(inside, room, frame=frame, as_of=end, seed=seed), True
    except NoOverlapError:
        assessment, compared = assess(inside, None, frame=frame, as_of=end, seed=seed), False
    return Computed(
        frame=frame,
        inside=inside,
        room=room,
        assessment=assessment,
        terms=judged_terms(evidence, inside=inside, room=room),
        coverage={
            side: _coverage(evidence, side, record, start, end)
            for side, record in zip(SIDES, (inside, room), strict=True)
        },
        compared=compared and inside is not None and room is not None,
    )


def judged_terms(evidence: Evidence, *, inside: AirRecord | None, room: AirRecord | None) -> tuple[JudgedTerms, ...]:
    """Hold the records of the evidence to its terms, clause by clause."""
    start, end = evidence.start, evidence.end
    return tuple(
        JudgedTerms(terms=terms, results=judge_terms(terms, inside=inside, room=room, start=start, end=end))
        for terms in evidence.terms()
    )


def _coverage(
    evidence: Evidence, side: str, record: AirRecord | None, start: pd.Timestamp, end: pd.Timestamp
) -> SideCoverage | None:
    if record is None:
        return None
    return side_coverage(record, evidence.table(side)["flags"].to_list(), start=start, end=end)
