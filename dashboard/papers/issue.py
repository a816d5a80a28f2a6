"""Evidence issued: gathered, signed with the archive's key, and noted in its audit trail."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from isohume.analysis.terms import ClimateTerms
from isohume.dashboard.papers.gather import evidence_of
from isohume.dashboard.papers.keys import signing_key
from isohume.dashboard.papers.make_pack import make_pack
from isohume.dashboard.papers.pack import parsed, read_pack, sha256
from isohume.dashboard.papers.typeset import Paper
from isohume.ingest.archive.archive import Archive


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
    fingerprint : str
        Of the signing key; the lender is told it by another way.
    """

    data: bytes
    name: str
    document: str
    fingerprint: str


def issue_evidence(
    archive: Archive,
    frame_id: str,
    *,
    start: pd.Timestamp,
    end: pd.Timestamp,
    terms: Sequence[ClimateTerms] = (),
    paper: Paper = "a4",
) -> Issued:
    """Make the evidence pack of one frame and period.

    The key is made on first use and kept in the archive's folder, beside the register.

    Raises
    ------
    RegisterError
        There is no such frame.
    EvidenceError
        The period is none, or nothing was measured in it.
    """
    evidence = evidence_of(archive, frame_id, start=start, end=end, terms=terms, paper=paper)
    key = signing_key(archive.folder)
    data = make_pack(evidence, key)
    document = str(parsed(read_pack(data).manifest_bytes)["document"])
    period = {"start_utc": f"{start:%Y-%m-%dT%H:%M:%SZ}", "end_utc": f"{end:%Y-%m-%dT%H:%M:%SZ}"}
    with archive.register.writing() as session:
        archive.note(
            session, "issued", "evidence", document,
            after={"frame": frame_id, **period, "sha256": sha256(data), "key": key.fingerprint},
        )  # fmt: skip
    return Issued(data=data, name=pack_name(frame_id, start), document=document, fingerprint=key.fingerprint)


def pack_name(frame_id: str, start: pd.Timestamp) -> str:
    """Return a name for the file of a pack."""
    return f"evidence_{safe_name(frame_id)}_{start:%Y-%m-%d}.zip"


def safe_name(text: str) -> str:
    """Return a text as part of a file's name."""
    return "".join(sign if sign.isalnum() or sign in "-." else "_" for sign in text)
