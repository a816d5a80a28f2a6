"""The loan as a record: its facts, frames, legs and venues, each changed where it stands, and who changed what."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from isohume.dashboard import formats
from isohume.dashboard.access.gate import person
from isohume.dashboard.components.blocks import aria, facts, no_result, section, table
from isohume.dashboard.components.frame_exports import export_links
from isohume.dashboard.components.frame_row import frame_address, painting_words
from isohume.dashboard.components.loan_papers_part import sheet_links
from isohume.dashboard.components.record_form import record_form
from isohume.dashboard.components.record_history import trail_rows
from isohume.dashboard.components.record_links import address
from isohume.dashboard.loan_history import history_of
from isohume.dashboard.loan_record import STATES, LoanLeg, LoanView, loan_address
from isohume.dashboard.loan_routes import LOAN_TABLES
from isohume.dashboard.views import Site
from isohume.ingest.archive.archive import Archive

LOAN_FORM, VENUE_FORM, NEW_LEG_FORM, LEG_FORM = "loan-record", "loan-venue", "loan-leg-new", "loan-leg"
LOAN_FIELDS = ("id", "title", "lender", "status", "frames", "contact", "note")
LEG_FIELDS = ("kind", "venue", "from", "to", "crate", "courier", "handover", "note")


def part(archive: Archive, loan: LoanView, asked: Mapping[str, str], site: Site) -> html.Div:
    """Build the part."""
    writes = person().may("contributor")
    return html.Div(
        [
            section("loan", "The loan", *_loan(loan, writes=writes)),
            section("frames", "Frames", *_frames(archive, loan)),
            section("legs", "Legs", *_legs(loan, asked.get("leg", ""), site, writes=writes),
                    lede="Journeys and stays in order of time; each has a handover sheet."),
            section("history", "History", *_history(archive, loan, site),
                    lede="Who changed what, out of the audit trail: the loan, its legs, its terms, its evidence."),
        ]
    )  # fmt: skip


def _history(archive: Archive, loan: LoanView, site: Site) -> list[Any]:
    rows = trail_rows(history_of(archive, loan), site.time_zone)
    wide = [
        [html.Span(cell, className="long") if place > 3 else cell for place, cell in enumerate(row)] for row in rows
    ]
    caption = f"Newest first; times in {site.time_zone}"
    links = export_links(f"{LOAN_TABLES}/history", f"History of loan {loan.loan_id}", loan=loan.loan_id)
    return [table(("When", "By", "What", "Of", "Record", "Change"), wide, caption=caption), links]


def _loan(loan: LoanView, *, writes: bool) -> list[Any]:
    held = loan.facts
    named = "" if loan.terms is None else loan.terms["name"] or loan.terms["id"]
    terms = dcc.Link(named or "none agreed yet", href=loan_address(loan.loan_id, "terms"))
    pairs: list[tuple[str, Any]] = [
        ("Lender", held["lender"] or formats.MISSING),
        ("State", STATES.get(held["status"], held["status"])),
        ("Climate terms", terms),
        ("Contact", html.Span(held["contact"] or formats.MISSING, className="lines")),
        ("Note", html.Span(held["note"] or formats.MISSING, className="lines")),
    ]
    form = record_form(LOAN_FORM, "loans", held, fields=LOAN_FIELDS, fixed=("id",))
    return [facts(pairs), *([html.Details([html.Summary("Change the loan"), form])] if writes else [])]


def _frames(archive: Archive, loan: LoanView) -> list[Any]:
    if not loan.frames:
        return [no_result("Choose them above, under “Change the loan”.", lead="No frame yet.")]
    rows = {row["id"]: row for row in archive.records("frames")}
    items = []
    for one, painting in loan.frames.items():
        if painting is None:
            items.append(html.Li([html.Span(one, className="frame-id"), " is not in the register."]))
            continue
        band = rows[one]["band"]
        agreed = formats.band((band[0], band[1]) if band else None)
        link = dcc.Link(
            [html.Span(one, className="frame-id"), " ", *painting_words(painting)], href=frame_address(one)
        )
        items.append(html.Li([link, html.Span(f" · {agreed}", className="note")]))
    return [html.Ul(items, className="loan-frames")]


def _legs(loan: LoanView, changed: str, site: Site, *, writes: bool) -> list[Any]:
    shown: list[Any] = []
    if loan.legs:
        shown.append(
            html.Ol([_leg(leg, loan, site, writes=writes, changed=leg.facts["from"] == changed) for leg in loan.legs],
                    className="legs")
        )  # fmt: skip
        shown.append(export_links(f"{LOAN_TABLES}/legs", f"Legs of loan {loan.loan_id}", loan=loan.loan_id))
    else:
        shown.append(no_result("Add the first journey or stay.", lead="No leg yet."))
    if writes:
        usual = {"kind": "stay"}
        new = record_form(NEW_LEG_FORM, "legs", usual, fields=LEG_FIELDS, submit="Add this leg")
        venue = record_form(VENUE_FORM, "venues", {}, submit="Add this venue")
        shown.append(html.Details([html.Summary("Add a leg"), new], open=not loan.legs))
        shown.append(html.Details([html.Summary("Add a venue that is not on the list"), venue]))
    return shown


def _leg(leg: LoanLeg, loan: LoanView, site: Site, *, writes: bool, changed: bool) -> html.Li:
    zone, held = site.time_zone, leg.facts
    start = str(held["from"])
    ends = formats.moment(leg.end, zone) if leg.end is not None else "no end set"
    pairs: list[tuple[str, Any]] = [
        ("When", f"{formats.moment(leg.start, zone)} to {ends}"),
        *([("Venue", dcc.Link(leg.venue, href=address("venues", {"id": held["venue"]})))] if held["venue"] else []),
        *((name.capitalize(), held[name]) for name in ("crate", "courier", "handover", "note") if held[name]),
        ("Sheet", html.Span(sheet_links(loan, start))),
    ]
    parts: list[Any] = [
        html.H3(f"{str(held['kind']).capitalize()}{f': {leg.venue}' if leg.venue else ''}"),
        facts(pairs),
    ]
    if writes and changed:
        form = record_form(LEG_FORM, "legs", held, fields=LEG_FIELDS, fixed=("from",))
        named: Any = aria(label=f"Remove the leg from {formats.date(leg.start, zone)}")
        remove = dmc.Button(
            "Remove this leg", id={"type": "loan-act", "act": "remove-leg", "about": start}, variant="default",
            size="xs", **named,
        )  # fmt: skip
        note = html.P("A leg that starts at another time is a new leg: add it, and remove this one.", className="note")
        away = html.A("Leave it as it is", href=loan_address(loan.loan_id))
        parts.append(html.Div([form, note, html.P([remove, " ", away])], className="leg-change"))
    elif writes:
        label = aria(label=f"Change the leg from {formats.date(leg.start, zone)}")
        parts.append(html.P(html.A("Change", href=f"{loan_address(loan.loan_id, leg=start)}#legs", **label)))
    return html.Li(parts, className=f"leg {held['kind']}")
