"""What the Month page asks by address: its paper and tables, and a decision noted for one frame."""

from __future__ import annotations

from html import escape
from typing import Any, cast

from flask import Flask, Response, request

from isohume.dashboard.access.gate import needs, person
from isohume.dashboard.access.people import AT_THIS_MACHINE
from isohume.dashboard.current import background, current_archive
from isohume.dashboard.exports import csv_bytes, xlsx_bytes
from isohume.dashboard.papers.issue import safe_name
from isohume.dashboard.papers.review import Review, ReviewError, moment_of, ready_review, signed_review
from isohume.dashboard.papers.review_differences import Amendment, amendments, differences
from isohume.dashboard.papers.review_frame import Decision
from isohume.dashboard.papers.review_month import month_in_words
from isohume.dashboard.papers.review_paper import review_pdf
from isohume.dashboard.papers.review_rows import note_decision
from isohume.dashboard.papers.review_tables import Sheet, review_tables
from isohume.ingest.archive.archive import Archive

# A paper of more frames than this takes longer than anybody waits for a page.
MOST_FRAMES_AT_ONCE = 250
ASK_AGAIN_SECONDS = 2
LONGEST_NUMBER = 6
TYPES = {
    "pdf": "application/pdf",
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def add(server: Flask) -> None:
    """Add the addresses to a server."""
    server.add_url_rule("/month/<month>/review.<kind>", view_func=paper, methods=["GET"], endpoint="month_paper")
    server.add_url_rule("/month/<month>/<table>.csv", view_func=one_table, methods=["GET"], endpoint="month_table")
    server.add_url_rule("/month/<month>/decision", view_func=decide, methods=["POST"], endpoint="month_decision")


def paper(month: str, kind: str) -> Response:
    """Hand out a month's review: of a signed month the figures it was signed with."""
    held = current_archive()
    if held is None or kind not in TYPES:
        return _plain("There is no such paper.", 404)
    review = _asked(held, month)
    if isinstance(review, Response):
        return review
    if kind == "pdf":
        return _pdf(held, review)
    sheets = _tables(held, review)
    return _file(csv_bytes(*sheets["frames"]) if kind == "csv" else xlsx_bytes(sheets), review, kind)


def one_table(month: str, table: str) -> Response:
    """Hand out one table of a month's review."""
    held = current_archive()
    review = _plain("There is no such table.", 404) if held is None else _asked(held, month)
    if held is None or isinstance(review, Response):
        return cast("Response", review)
    sheet = _tables(held, review).get(table.replace("_", " "))
    if sheet is None:
        return _plain("There is no such table.", 404)
    return _file(csv_bytes(*sheet), review, "csv", what=table)


def asked_number(text: str) -> int:
    """Return the number of a review that an address names; 1 for anything that is none."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < LONGEST_NUMBER else 1


def _asked(held: Archive, month: str) -> Review | Response:
    """Return the review that an address asks for, or why there is none."""
    number = request.args.get("number", "1")
    try:
        review = signed_review(held, month, asked_number(number))
        review = review or ready_review(held, month)
    except ReviewError as error:
        return _plain(str(error), 404)
    if review is None:
        return _plain(f"{month_in_words(month)} is not computed yet. Open its page, and wait until it is there.", 409)
    return review


def _tables(held: Archive, review: Review) -> dict[str, Sheet]:
    """Return the tables of a review; of a signed one with what reads otherwise since."""
    signed = [row.number for row in review.signed if row.is_signed]
    last = signed_review(held, review.month, signed[-1]) if signed else None
    present = ready_review(held, review.month) if last is not None else None
    since = () if last is None or present is None else differences(last, present)
    return review_tables(review, amendments(held, review.month), since)


def _pdf(held: Archive, review: Review) -> Response:
    amended = amendments(held, review.month)
    if len(review.frames) <= MOST_FRAMES_AT_ONCE:
        return _file(review_pdf(review, amendments=amended), review, "pdf")
    key, title = _paper_key(review, amended), f"Paper of {month_in_words(review.month)}"
    task = background().task(key) or background().start(
        key, title, lambda _progress: review_pdf(review, amendments=amended), by=person().name
    )
    if task.state == "done":
        return _file(task.result, review, "pdf")
    if task.state == "failed":
        background().forget(task.key)
        return _plain(f"{task.title}: {task.told} Open the address again to try once more.", 500)
    return _waiting(task.title)


def _paper_key(review: Review, amended: tuple[Amendment, ...]) -> str:
    signatures = [
        (row.number, row.signed_by, row.second_signed_by, row.text, sorted(row.decisions.items()))
        for row in review.signed
    ]
    return f"month paper {review.month} {review.number} {review.mark()} {len(amended)} {hash(str(signatures))}"


def _waiting(title: str) -> Response:
    """Answer with a page that asks again by itself until the paper is there; it needs no script."""
    body = (
        f'<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        f'<meta http-equiv="refresh" content="{ASK_AGAIN_SECONDS}"></head>'
        f"<body><p>{escape(title)}: it is being set. This page asks again by itself.</p></body></html>"
    )
    return Response(body, status=202, mimetype="text/html")


def _file(data: bytes, review: Review, kind: str, *, what: str = "review") -> Response:
    addendum = f"_addendum_{review.number - 1}" if review.number > 1 else ""
    name = f"{safe_name(what)}_{safe_name(review.month)}{addendum}.{kind}"
    response = Response(data, content_type=TYPES[kind])
    response.headers["Content-Disposition"] = f'{"inline" if kind == "pdf" else "attachment"}; filename="{name}"'
    response.headers["Cache-Control"] = "no-store"
    return response


@needs("contributor")
def decide(month: str) -> Response:
    """Keep what was decided for one frame in the draft of a month's review."""
    held = current_archive()
    said: Any = request.get_json(silent=True)
    if held is None or not isinstance(said, dict):
        return _plain("Nothing was noted: the request was not understood.", 400)
    who = person()
    decision = Decision(
        **{name: str(said.get(name) or "") for name in ("text", "who", "by_date")},
        noted_by="" if who == AT_THIS_MACHINE else who.full_name or who.name,
    )
    try:
        moment_of(held, month)  # only a month that can be reviewed gets a draft
        note_decision(held.acting_as(who.name), month, 1, str(said.get("frame") or ""), decision)
    except ReviewError as error:
        return _plain(str(error), 409)
    return _plain("noted", 200)


def _plain(text: str, status: int) -> Response:
    return Response(text, status=status, mimetype="text/plain")
