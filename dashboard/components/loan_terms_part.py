"""The climate terms of a loan: those agreed in words, chosen from publications, or written clause by clause."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import html

from isohume.analysis.terms import published_terms
from isohume.dashboard.access.gate import person
from isohume.dashboard.components.blocks import no_result, section
from isohume.dashboard.components.frame_exports import export_links
from isohume.dashboard.components.loan_asked import AIRS
from isohume.dashboard.components.record_form import record_form
from isohume.dashboard.loan_record import AskedError, LoanView, terms_in_words, used_elsewhere
from isohume.dashboard.loan_routes import LOAN_TABLES
from isohume.ingest.archive.archive import Archive

TERMS_FORM, NEW_TERMS_FORM = "loan-terms", "loan-terms-new"
CHOSEN = "chosen"
PUBLISHED, KEPT = "published", "kept"
LEDE = "What the record is held to. Light, shock, vibration and pollutants are not judged; the contract prevails."
KINDS_IN_WORDS = (
    ("range", "the value stays between a low and a high limit, as read or averaged over some hours"),
    ("swing in 24 h", "largest minus smallest reading in any closed 24 hours is at most the high limit"),
    ("distance from 24-h mean", "every reading stays within ± the high limit of the mean of its 24 hours"),
    ("seasonal allowance", "the 30-day mean stays within low below and high above the period’s mean; needs 300 days"),
    ("dew-point margin", "the coldest measured surface stays the low limit [K] or more above the dew point"),
)  # fmt: skip


def part(archive: Archive, loan: LoanView) -> html.Div:
    """Build the part."""
    writes = person().may("contributor")
    parts = [section("terms", "Climate terms", *_agreed(archive, loan, writes=writes), lede=LEDE)]
    if writes:
        parts.append(section("choose", "Take other terms", *_choose(archive, loan)))
        parts.append(section("own", "Write own terms", *_own(archive, loan)))
    return html.Div(parts)


def _agreed(archive: Archive, loan: LoanView, *, writes: bool) -> list[Any]:
    row = loan.terms
    if row is None:
        text = "Take published ones, or write those of the contract clause by clause."
        return [no_result(text if writes else "Nobody entered them yet.", lead="None agreed yet.")]
    shown: list[Any] = [html.H3(row["name"] or row["id"])]
    try:
        sentences = terms_in_words(row)
        items = [
            html.Li([sentence, html.P(f"If broken: {clause['notice']}", className="notice-agreed")
                     if clause.get("notice") else None])
            for sentence, clause in zip(sentences, row["clauses"], strict=True)
        ]  # fmt: skip
        shown.append(
            html.Ol(items, className="terms-agreed") if items else no_result("Write one.", lead="No clause yet.")
        )
    except AskedError as error:
        shown.append(no_result(str(error), lead="Cannot be judged."))
    told = [f"Source: {row['source']}." if row["source"] else "No source is named.", row["note"]]
    shown.append(html.P(" ".join(text for text in told if text), className="remark"))
    others = used_elsewhere(archive, row["id"], loan.loan_id)
    if others:
        warning = f"These terms hold for {', '.join(others)} as well: a change here changes them there."
        shown.append(html.P(warning, className="remark"))
    if sentences_known(row):
        shown.append(export_links(f"{LOAN_TABLES}/terms", f"Terms of loan {loan.loan_id}", loan=loan.loan_id))
    if writes:
        form = record_form(TERMS_FORM, "terms", row, fixed=("id",), submit="Keep these clauses")
        shown.append(html.Details([html.Summary("Change these clauses"), kinds_explained(), form]))
    return shown


def sentences_known(row: Any) -> bool:
    """Tell whether every clause of a record can be judged."""
    try:
        terms_in_words(row)
    except AskedError:
        return False
    return True


def _choose(archive: Archive, loan: LoanView) -> list[Any]:
    kept = [
        {"value": f"{KEPT}:{row['id']}", "label": row["name"] or row["id"]}
        for row in archive.records("terms") if loan.terms is None or row["id"] != loan.terms["id"]
    ]  # fmt: skip
    published = [{"value": f"{PUBLISHED}:{one.name}", "label": one.name} for one in published_terms()]
    data = [{"group": "Published", "items": published}]
    if kept:
        data.insert(0, {"group": "Of the register", "items": kept})
    fields = [
        dmc.Select(id=_id("terms"), label="Terms", data=data, searchable=True, placeholder="by name",
                   nothingFoundMessage="Nothing of that name"),
        dmc.Select(id=_id("air"), label="Published terms speak of the air", value="room", allowDeselect=False,
                   data=[{"value": value, "label": label} for value, label in AIRS]),
        dmc.Button("Take these", id={"type": "loan-act", "act": "take-terms", "about": CHOSEN}, size="sm"),
    ]  # fmt: skip
    text = (
        "Published terms are copied into the register with their source, so that a clause can be altered for this "
        "loan. They speak of the room; a lender may agree that they hold for the air inside the frame. Every "
        "guideline says that panels need limits of their own."
    )
    return [html.P(text, className="remark"), html.Div(fields, className="asked-fields")]


def _own(archive: Archive, loan: LoanView) -> list[Any]:
    lender = loan.facts["lender"]
    usual = {
        "id": free_id(archive, loan),
        "name": f"Terms of {loan.title}",
        "source": f"Loan agreement with {lender}" if lender else "Loan agreement",
    }
    form = record_form(NEW_TERMS_FORM, "terms", usual, submit="Keep and agree them for this loan")
    return [html.Details([html.Summary("Write them clause by clause"), kinds_explained(), form])]


def free_id(archive: Archive, loan: LoanView) -> str:
    """Return a short name for terms of this loan that no others have."""
    taken = {row["id"] for row in archive.records("terms")}
    wanted = [f"{loan.loan_id} terms", *(f"{loan.loan_id} terms {n}" for n in range(2, 1000))]
    return next(one for one in wanted if one not in taken)


def kinds_explained() -> html.Details:
    """Say what each kind of clause limits."""
    items = [html.Div([html.Dt(name), html.Dd(text)]) for name, text in KINDS_IN_WORDS]
    return html.Details([html.Summary("What each kind of clause means"), html.Dl(items, className="facts kinds")])


def _id(name: str) -> dict[str, str]:
    return {"type": "loan-said", "about": CHOSEN, "name": name}
