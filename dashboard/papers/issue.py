"""Evidence issued: gathered, signed with the archive's key, and noted in its audit trail."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from isohume.analysis.terms import ClimateTerms
from isohume.dashboard.papers.evidence import EvidenceError
from isohume.dashboard.papers.gather import evidence_of
from isohume.dashboard.papers.keys import signing_key
from isohume.dashboard.papers.make_pack import document_id, given_of, make_pack
from isohume.dashboard.papers.pack import parsed, read_pack
from isohume.dashboard.papers.typeset import Paper
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.rebuild import Progress, no_progress


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """A pack as it leaves the house.

    Attributes
    ----------
    data : bytes
        The .zip.
    name : str
        A name for the file.
    document : str
        Its id.
    sha256 : str
        Of the .zip; under it the pack stays in the archive's folder `papers/`.
    fingerprint : str
        Of the signing key; the lender is told it by another way.
    """

    data: bytes
    name: str
    document: str
    sha256: str
    fingerprint: str


def issue_evidence(
    archive: Archive,
    frame_id: str,
    *,
    start: pd.Timestamp,
    end: pd.Timestamp,
    terms: Sequence[ClimateTerms] = (),
    paper: Paper = "a4",
    loan: str = "",
    previewed: str = "",
    progress: Progress = no_progress,
) -> Issued:
    """Make the evidence pack of one frame and period, and keep it.

    The key is made on first use and kept in the archive's folder, beside the register; the pack in its `papers/`.

    Parameters
    ----------
    archive : Archive
        Open, in the name of whoever issues.
    frame_id, start, end, terms, paper
        As for `evidence_of`.
    loan : str
        The loan it is issued for, for the audit trail.
    previewed : str
        Id of the document that somebody looked at and wants issued; "" for none.
    progress : callable
        Told how many steps of how many are done.

    Raises
    ------
    RegisterError
        There is no such frame.
    EvidenceError
        The period is none, nothing was measured in it, or the archive no longer gives what was previewed.
    """
    evidence = evidence_of(archive, frame_id, start=start, end=end, terms=terms, paper=paper)
    if previewed and previewed != (present := document_id(*given_of(evidence).values())):
        raise EvidenceError(
            f"The archive changed since the preview: what was {previewed} is now {present}. Look at it again."
        )
    key = signing_key(archive.folder)
    data = make_pack(evidence, key, progress=progress)
    document = str(parsed(read_pack(data).manifest_bytes)["document"])
    period = {"start_utc": f"{start:%Y-%m-%dT%H:%M:%SZ}", "end_utc": f"{end:%Y-%m-%dT%H:%M:%SZ}"}
    kept = archive.papers.keep(data)
    told: dict[str, object] = {
        "frame": frame_id, **period, "terms": [one.name for one in terms], "paper": paper, "bytes": len(data),
        "sha256": kept, "key": key.fingerprint, **({"loan": loan} if loan else {}),
    }  # fmt: skip
    with archive.register.writing() as session:
        archive.note(session, "issued", "evidence", document, after=told)
    return Issued(
        data=data, name=pack_name(frame_id, start), document=document, sha256=kept, fingerprint=key.fingerprint
    )


def pack_name(frame_id: str, start: pd.Timestamp) -> str:
    """Return a name for the file of a pack."""
    return f"evidence_{safe_name(frame_id)}_{start:%Y-%m-%d}.zip"


def safe_name(text: str) -> str:
    """Return a text as part of a file's name."""
    return "".join(sign if sign.isalnum() or sign in "-." else "_" for sign in text)
