"""Who changed what about a loan, and which evidence was issued for it: out of the audit trail."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from isohume.dashboard.access.people import AT_THIS_MACHINE
from isohume.dashboard.loan_record import LoanView
from isohume.ingest.archive.archive import Archive


def history_of(archive: Archive, loan: LoanView) -> list[dict[str, Any]]:
    """Return every line of the audit trail about a loan, its legs and its terms, the newest first."""
    lines = archive.history("loans", loan.loan_id)
    lines += [line for line in archive.history("legs") if _loan_of_leg(line) == loan.loan_id]
    if loan.terms is not None:
        lines += archive.history("terms", loan.terms["id"])
    lines += issued_for(archive, loan)
    return sorted(lines, key=lambda line: str(line["time_utc"]), reverse=True)


def issued_for(archive: Archive, loan: LoanView) -> list[dict[str, Any]]:
    """Return the lines of the audit trail about evidence issued for a loan, or of its frames without a loan."""
    return [
        line
        for line in archive.history("evidence")
        if line["action"] == "issued"
        and (line["after"].get("loan", "") or (loan.loan_id if line["after"]["frame"] in loan.frames else ""))
        == loan.loan_id
    ]


def by_whom(name: str) -> str:
    """Say who did something, as the end of a sentence; at the machine itself nobody signs in."""
    return "at this machine" if name == AT_THIS_MACHINE.name else f"by {name}"


def _loan_of_leg(line: Mapping[str, Any]) -> str:
    return str((line["after"] or line["before"])["loan"])
