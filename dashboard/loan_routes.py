"""What the Loans and Loan pages send and take outside of Dash: tables, packs, handover sheets, venue records."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any, cast
from urllib.parse import unquote

import pandas as pd
from flask import Flask, Response, request

from isohume.dashboard.access.gate import LOCAL_NAMES, needs, person
from isohume.dashboard.components.frame_exports import KINDS
from isohume.dashboard.components.record_history import changes_of
from isohume.dashboard.current import current_archive, current_store
from isohume.dashboard.exports import Cell
from isohume.dashboard.frame_tables import response
from isohume.dashboard.loan_history import history_of
from isohume.dashboard.loan_packs import NoPackError, kept_pack, packs_table
from isohume.dashboard.loan_record import (
    STATES,
    AskedError,
    LoanView,
    UnknownLoanError,
    loan_address,
    loan_of,
    loans_of,
)
from isohume.dashboard.loan_results import results_of, results_table
from isohume.dashboard.loan_trial import trial_of, trial_table
from isohume.dashboard.loan_venues import MOST_BYTES, MOST_RECORDS, VenueRecords
from isohume.dashboard.papers.handover import handover_sheet
from isohume.dashboard.papers.issue import safe_name
from isohume.dashboard.papers.terms_chosen import kept_terms
from isohume.dashboard.papers.typeset import PAPERS
from isohume.ingest.archive.archive import Archive

LOANS_TABLE, LOAN_TABLES, PACKS, HANDOVER = "/loans/table", "/loans/tables", "/loans/pack", "/loans/handover"
RECEIVE = "/loans/venue-record"
Table = tuple[list[str], list[list[Cell]]]


class _MissingError(LookupError):
    """What was asked for is not here; the message is for people."""


def add_routes(server: Flask) -> None:
    """Connect the addresses."""
    server.add_url_rule(f"{LOANS_TABLE}.<kind>", "loans_table", loans_table)
    server.add_url_rule(f"{LOAN_TABLES}/<what>.<kind>", "loan_table", loan_table)
    server.add_url_rule(f"{PACKS}/<path:sha256>", "loan_pack", pack)
    server.add_url_rule(HANDOVER, "loan_handover", handover)
    server.add_url_rule(RECEIVE, "loan_venue_record", receive, methods=["POST"])


def loans_table(kind: str) -> Response:
    """Send all loans."""
    try:
        archive = _archive()
        _known(kind in KINDS, f'No table as "{kind}": csv or xlsx.')
    except _MissingError as error:
        return _plain(str(error))
    heads, rows = loans_rows(archive)
    return response(heads, rows, name="loans", kind=kind)


def loan_table(what: str, kind: str) -> Response:
    """Send one table of a loan's page."""
    try:
        archive = _archive()
        loan = loan_of(archive, request.args.get("loan", ""))
        _known(what in TABLES and kind in KINDS, f'No table "{what}.{kind}" of a loan.')
        heads, rows = TABLES[what](archive, loan)
    except (_MissingError, UnknownLoanError, AskedError) as error:
        return _plain(str(error))
    return response(heads, rows, name=f"loan {loan.loan_id} {what}", kind=kind)


def pack(sha256: str) -> Response:
    """Send a pack as it was issued; named by its SHA-256 and by nothing else."""
    try:
        name, data = kept_pack(_archive(), sha256.removesuffix(".zip"))
    except (_MissingError, NoPackError) as error:
        return _plain(str(error))
    answer = Response(data, mimetype="application/zip")
    answer.headers["Content-Disposition"] = f'attachment; filename="{_ascii(name)}"'
    return answer


def handover() -> Response:
    """Send the handover sheet of one leg."""
    asked = request.args
    try:
        archive = _archive()
        loan = loan_of(archive, asked.get("loan", ""))
        leg = next((leg for leg in loan.legs if leg.facts["from"] == asked.get("leg")), None)
        _known(leg is not None, "This loan has no leg that begins then. Its page lists all of them.")
        paper = next((size for size in PAPERS if size == asked.get("paper", PAPERS[0])), None)
        _known(paper is not None, f"No such paper: {' or '.join(PAPERS)}.")
        terms = None if loan.terms is None else _terms(loan)
    except (_MissingError, UnknownLoanError, AskedError) as error:
        return _plain(str(error))
    if leg is None or paper is None:  # refused above
        return _plain("Nothing was chosen.")
    site = current_store().site()
    venues = {row["id"]: row for row in archive.records("venues")}
    data = handover_sheet(
        collection={"name": site.name, "time_zone": site.time_zone, "invented": site.invented},
        loan=loan.facts,
        leg=leg.facts,
        venue=venues.get(leg.facts["venue"]),
        frames=[archive.frame_facts(one) for one, painting in loan.frames.items() if painting is not None],
        terms=terms,
        as_of=site.now,
        address=f"{server_address()}{loan_address(loan.loan_id)}" if server_address() else "",
        paper=paper,
    )
    answer = Response(data, mimetype="application/pdf")
    name = _ascii(f"handover_{safe_name(loan.loan_id)}_{leg.start:%Y-%m-%d}.pdf")
    answer.headers["Content-Disposition"] = f'inline; filename="{name}"'
    return answer


@needs("contributor")
def receive() -> Response:
    """Take one climate record of a venue: its bytes are the body, its name is a label."""
    request.max_content_length = MOST_BYTES
    if request.content_length is None or request.content_length > MOST_BYTES:
        text = f"Larger than {MOST_BYTES // 1_000_000} MB, or of unknown size. Send a shorter record."
        return _plain(text, HTTPStatus.REQUEST_ENTITY_TOO_LARGE)
    try:
        archive = _archive()
        loan = loan_of(archive, unquote(request.headers.get("X-Loan", "")))
    except (_MissingError, UnknownLoanError) as error:
        return _plain(str(error))
    if len(VenueRecords(archive).of_loan(loan.loan_id)) >= MOST_RECORDS:
        text = f"This loan holds {MOST_RECORDS} venue records already. Remove one that is not needed."
        return _plain(text, HTTPStatus.CONFLICT)
    name = unquote(request.headers.get("X-File-Name", ""))
    taken = VenueRecords(archive).take(name, cast("Any", request.stream), loan=loan.loan_id, by=person().name)
    return Response(taken, mimetype="text/plain")


def server_address() -> str:
    """Return the address people reach this server at; "" on this machine only, where a code would lead nowhere."""
    host = request.host.rsplit(":", 1)[0].strip("[]")
    return "" if host in LOCAL_NAMES else request.url_root.rstrip("/")


def loans_rows(archive: Archive) -> Table:
    """List all loans for a spreadsheet."""
    heads = ["loan", "title", "lender", "frames", "terms", "state", "first leg starts (UTC)", "last leg ends (UTC)",
             "legs", "contact", "note"]  # fmt: skip
    rows: list[list[Cell]] = []
    for loan in loans_of(archive):
        start, end = loan.span or (None, None)
        terms = "" if loan.terms is None else loan.terms["name"] or loan.terms["id"]
        rows.append(
            [loan.loan_id, loan.facts["title"], loan.facts["lender"], "; ".join(loan.frames), terms,
             STATES.get(loan.facts["status"], loan.facts["status"]), start, end, len(loan.legs),
             loan.facts["contact"], loan.facts["note"]]
        )  # fmt: skip
    return heads, rows


def _legs(_archive: Archive, loan: LoanView) -> Table:
    names = ("crate", "courier", "handover", "note")
    heads = ["kind", "place", "from (UTC)", "to (UTC)", *names]
    return heads, [
        [leg.facts["kind"], leg.venue, leg.start, leg.end, *(leg.facts[name] for name in names)] for leg in loan.legs
    ]


def _clauses(_archive: Archive, loan: LoanView) -> Table:
    heads = ["terms", "source", "clause", "notice agreed"]
    if loan.terms is None:
        return heads, []
    terms = _terms(loan)
    return heads, [[terms.name, terms.source, one.in_words(), one.notice] for one in terms.clauses]


def _terms(loan: LoanView) -> Any:
    try:
        return kept_terms(loan.terms or {})
    except (TypeError, ValueError) as error:
        raise AskedError(f"A clause of this loan’s terms cannot be judged: {error}") from None


def _results(archive: Archive, loan: LoanView) -> Table:
    return results_table(results_of(archive, loan, request.args, current_store().site(), _silent))


def _trial(archive: Archive, loan: LoanView) -> Table:
    return trial_table(trial_of(archive, loan, request.args, current_store().site(), _silent))


def _history(archive: Archive, loan: LoanView) -> Table:
    heads = ["when (UTC)", "by", "action", "kind", "record", "change (times in UTC)"]
    rows: list[list[Cell]] = []
    for line in history_of(archive, loan):
        told = "; ".join(f"{label}: {was} → {now}" for label, was, now in changes_of(line, "UTC"))
        rows.append([pd.Timestamp(line["time_utc"]), line["by"], line["action"], line["kind"], line["key"], told])
    return heads, rows


TABLES = {
    "history": _history,
    "legs": _legs,
    "terms": _clauses,
    "results": _results,
    "trial": _trial,
    "packs": packs_table,
}


def _silent(_done: int, _total: int) -> None:
    """Compute without telling how far it is."""


def _archive() -> Archive:
    held = current_archive()
    if held is None:
        raise _MissingError("These pages show findings without an archive: there is no loan.")
    return held


def _known(is_known: bool, text: str) -> None:  # noqa: FBT001 - a condition, read at the call
    if not is_known:
        raise _MissingError(text)


def _plain(text: str, status: HTTPStatus = HTTPStatus.NOT_FOUND) -> Response:
    return Response(text, status=status, mimetype="text/plain; charset=utf-8")


def _ascii(name: str) -> str:
    return name.encode("ascii", "replace").decode().replace("?", "_")
