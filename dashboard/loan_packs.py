"""Evidence packs of a loan: issued in somebody's name, kept by their hash, and had again."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import pandas as pd

from isohume.dashboard import formats
from isohume.dashboard.background import Progress
from isohume.dashboard.exports import Cell
from isohume.dashboard.loan_history import issued_for
from isohume.dashboard.loan_preview import asked_pack
from isohume.dashboard.loan_record import AskedError, LoanView
from isohume.dashboard.papers.evidence import EvidenceError
from isohume.dashboard.papers.issue import issue_evidence, pack_name
from isohume.dashboard.views import Site
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import ArchiveError

_SHA256 = re.compile(r"[0-9a-f]{64}")


class NoPackError(LookupError):
    """There is no such pack to be had; the message says why."""


def issue(
    archive: Archive, loan: LoanView, asked: Mapping[str, str], site: Site, progress: Progress
) -> dict[str, str]:
    """Make, sign, keep and note the pack that was previewed.

    Parameters
    ----------
    archive : Archive
        In the name of whoever issues.
    loan : LoanView
    asked : mapping
        As for the preview, and `document`: the id it showed.
    site : Site
    progress : callable

    Returns
    -------
    dict
        document, sha256, fingerprint of the key, name of the file, and its size in bytes.

    Raises
    ------
    AskedError
        It cannot be made, or is no longer what was previewed.
    """
    frame_id, start, end, terms, paper = asked_pack(archive, loan, asked, site)
    if not asked.get("document"):
        raise AskedError("Look at the preview first: a pack is issued as it was previewed.")
    try:
        made = issue_evidence(
            archive, frame_id, start=start, end=end, terms=terms, paper=paper, loan=loan.loan_id,
            previewed=asked["document"], progress=progress,
        )  # fmt: skip
    except (EvidenceError, ArchiveError) as error:
        raise AskedError(str(error)) from None
    return {
        "document": made.document, "sha256": made.sha256, "fingerprint": made.fingerprint, "name": made.name,
        "bytes": str(len(made.data)),
    }  # fmt: skip


def kept_pack(archive: Archive, sha256: str) -> tuple[str, bytes]:
    """Return the file's name and bytes of a pack as it was issued.

    Raises
    ------
    NoPackError
        No such pack was issued, or it is not kept here unaltered.
    """
    if not _SHA256.fullmatch(sha256):
        raise NoPackError("No pack is named so: a pack is named by the 64 digits of its SHA-256.")
    issued = [line for line in archive.history("evidence") if (line["after"] or {}).get("sha256") == sha256]
    if not issued:
        raise NoPackError("No pack with this SHA-256 was issued here.")
    try:
        data = archive.papers.bytes_of(sha256)
    except ArchiveError:
        raise NoPackError(
            "This pack is not kept here, or was altered. The same evidence can be issued again from its preview."
        ) from None
    after = issued[-1]["after"]
    return pack_name(after["frame"], pd.Timestamp(after["start_utc"])), data


def is_kept(archive: Archive, sha256: str) -> bool:
    """Tell whether a pack's bytes are kept here; whether they are unaltered is checked when it is asked for."""
    return bool(_SHA256.fullmatch(sha256)) and archive.papers.path(sha256).is_file()


def packs_table(archive: Archive, loan: LoanView) -> tuple[list[str], list[list[Cell]]]:
    """Return the packs issued for a loan, for a spreadsheet."""
    heads = ["issued (UTC)", "by", "document", "frame", "period start (UTC)", "period end (UTC)", "terms", "SHA-256",
             "fingerprint of the key", "for this loan"]  # fmt: skip
    rows: list[list[Cell]] = [
        [
            pd.Timestamp(line["time_utc"]), line["by"], line["key"], line["after"]["frame"],
            pd.Timestamp(line["after"]["start_utc"]), pd.Timestamp(line["after"]["end_utc"]),
            "; ".join(line["after"].get("terms", [])), line["after"]["sha256"], line["after"]["key"],
            line["after"].get("loan") == loan.loan_id,
        ]
        for line in reversed(issued_for(archive, loan))
    ]  # fmt: skip
    return heads, rows


def period_words(after: Mapping[str, Any], zone: str) -> str:
    """Write the period of an issued pack."""
    start, end = (pd.Timestamp(after[name]) for name in ("start_utc", "end_utc"))
    return f"{formats.date(start, zone)} to {formats.date(end - pd.Timedelta(seconds=1), zone)}"
