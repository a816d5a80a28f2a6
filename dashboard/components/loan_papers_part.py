"""The papers of a loan: what a pack would send out, the pack itself, those issued before, and the handover sheets."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

import dash_mantine_components as dmc
import pandas as pd
from dash import dcc, html

from isohume.dashboard import formats
from isohume.dashboard.access.gate import person
from isohume.dashboard.background import Progress
from isohume.dashboard.components.blocks import aria, facts, no_result, section, table
from isohume.dashboard.components.frame_exports import export_links
from isohume.dashboard.components.loan_asked import (
    asked_form,
    choice,
    period_fields,
    period_links,
    period_text,
    terms_choice,
    work_of,
)
from isohume.dashboard.components.long_work import long_work
from isohume.dashboard.current import background
from isohume.dashboard.loan_history import by_whom, issued_for
from isohume.dashboard.loan_packs import is_kept, period_words
from isohume.dashboard.loan_preview import Member, Preview, preview_of
from isohume.dashboard.loan_record import AskedError, LoanView, period_of
from isohume.dashboard.loan_routes import HANDOVER, LOAN_TABLES, PACKS
from isohume.dashboard.views import Site
from isohume.ingest.archive.archive import Archive

PART = "papers"
ASKED = ("frame", "from", "to", "terms", "air", "paper")
SIZES = ({"value": "a4", "label": "A4"}, {"value": "us-letter", "label": "US Letter"})
LEDE = (
    "An evidence pack is one .zip with the paper for people, every reading behind it, and a signature. First look at "
    "exactly what would leave; then issue it."
)
PROVES = (
    "The signature proves that nothing changed since it was signed here. It does not prove that the readings are "
    "true, or whose key it is: give the lender the fingerprint by another way, by telephone or on paper."
)


def part(archive: Archive, loan: LoanView, asked: Mapping[str, str], site: Site) -> html.Div:
    """Build the part: preview and issue, packs issued before, handover sheets."""
    return html.Div(
        [
            section("pack", "Evidence pack", *_pack(archive, loan, asked, site), lede=LEDE),
            section("issued", "Packs issued before", *_issued(archive, loan, site)),
            section("handover", "Handover sheets", *handover_sheets(loan, site),
                    lede="One page for each leg: what travels, who is called, what was agreed, who signs."),
        ]
    )  # fmt: skip


def issue_key(loan_id: str, document: str) -> str:
    """Name the work that issues one document."""
    return f"loan issue {loan_id} {document}"


def _pack(archive: Archive, loan: LoanView, asked: Mapping[str, str], site: Site) -> list[Any]:
    known = [one for one, painting in loan.frames.items() if painting is not None]
    if not known:
        return [no_result("No frame is on this loan yet. Choose them under Record.", lead="Nothing to send.")]
    shown: list[Any] = [_form(archive, loan, known, asked, site)]
    query = {name: asked[name] for name in ASKED if asked.get(name)}
    if "frame" not in query:
        return [*shown, no_result("Choose frame and period above, then look.", lead="Nothing previewed yet.")]
    try:
        period_of(loan, asked, now=site.now, zone=site.time_zone)
    except AskedError as error:
        return [*shown, no_result(str(error), lead="No such period.")]

    def work(progress: Progress) -> Preview:
        return preview_of(archive, loan, query, site, progress)

    found, waits = work_of(archive, "preview", loan, query, title=f"Preview of {query['frame']}", work=work)
    if found is None:
        return [*shown, waits]
    return [*shown, _preview(found, loan, query, site)]


def _form(archive: Archive, loan: LoanView, known: list[str], asked: Mapping[str, str], site: Site) -> html.Div:
    frames = [{"value": one, "label": f"{one} · {loan.frames[one]}" if loan.frames[one] else one} for one in known]
    fields = [
        choice(PART, "frame", "Frame", frames, asked["frame"] if asked.get("frame") in known else known[0],
               allowDeselect=False),
        *period_fields(PART, loan, asked, site),
        *terms_choice(PART, archive, loan, asked),
        choice(PART, "paper", "Paper", list(SIZES), asked.get("paper") or "a4", allowDeselect=False),
    ]  # fmt: skip
    return asked_form(PART, fields, submit="Look at the preview", more=period_links(loan, PART, site))


def _preview(found: Preview, loan: LoanView, query: Mapping[str, str], site: Site) -> html.Div:
    zone = site.time_zone
    placed = [
        [
            placement["place"],
            " ".join(text for text in (placement["logger"], placement["serial"], placement["channel"]) if text),
            formats.moment(pd.Timestamp(placement["first_utc"]), zone),
            formats.moment(pd.Timestamp(placement["last_utc"]), zone),
            formats.count(placement["n_readings"]),
        ]
        for placement in found.placements
    ]
    parameters = found.evidence.parameters
    events = ", ".join(f"{n} × {kind}" for kind, n in sorted(found.event_counts.items())) or "none in the period"
    calibrations = "; ".join(_calibration(one, zone) for one in found.evidence.calibrations)
    files = ", ".join(one["file"] for one in found.evidence.originals)
    rooms = "; ".join(
        f"{room['name']}, {formats.date(pd.Timestamp(room['from_utc']), zone)} to "
        f"{formats.date(pd.Timestamp(room['to_utc']), zone)}"
        for room in parameters["rooms"]
    )
    leaves = [
        ("Document", f"{found.document}; the pack will carry this id"),
        ("Frame", f"{found.frame_id} · {parameters['frame']['painting'] or formats.MISSING}"),
        ("Period", period_text(found.start, found.end, zone=zone)),
        ("Climate terms", "; ".join(one.name for one in found.terms) or "none: the record is held to the band only"),
        ("Readings", f"{formats.count(found.n_readings)}, corrected, with their quality flags"),
        ("Rooms it hung in", rooms or "none on record"),
        ("Work on the frame", f"{events}; without notes, names and photographs"),
        ("Calibrations", calibrations or "none on record"),
        ("Files behind it", f"{files or 'none'}; only their names, hashes and row accounts"),
    ]
    return html.Div(
        [
            html.H3("What would leave"),
            facts(leaves),
            table(
                ("Measured", "Logger", "First reading", "Last reading", "Readings"), placed,
                caption=f"Loggers whose readings are in the pack; times in {zone}", numeric=(4,),
            ),
            html.H4("Members of the pack"),
            html.Ul([_member(one) for one in found.members], className="pack-members"),
            html.H3("What stays"),
            html.Ul([html.Li(text) for text in found.stays], className="notes"),
            _issue(found, loan, query),
        ],
        className="pack-preview",
    )  # fmt: skip


def _calibration(one: Mapping[str, Any], zone: str) -> str:
    certificate = f", certificate {one['certificate']}" if one["certificate"] else ""
    return f"{one['logger']}: {formats.date(pd.Timestamp(one['date']), zone)}{certificate}"


def _member(one: Member) -> html.Li:
    size = _size(one.n_bytes) if one.n_bytes is not None else "made with the pack"
    head = [html.Code(one.name), html.Span(f"{one.what}, {size}", className="note")]
    if not one.text:
        return html.Li(head)
    verbatim = html.Pre(one.text, tabIndex="0", **aria(label=f"{one.name} as it would leave"))
    return html.Li([*head, html.Details([html.Summary("as it would leave"), verbatim])])


def _issue(found: Preview, loan: LoanView, query: Mapping[str, str]) -> html.Div:
    """Offer to issue what was previewed, or show how far that is and what came of it."""
    task = background().task(issue_key(loan.loan_id, found.document))
    if task is not None and task.state in ("waiting", "running"):
        return html.Div(long_work(task), className="pack-issue")
    shown: list[Any] = []
    if task is not None and task.state == "failed":
        shown.append(no_result(task.told, lead="Not issued."))
    if task is not None and task.state == "done":
        shown.append(_made(task.result))
    elif person().may("contributor"):
        asked = json.dumps({**query, "document": found.document}, sort_keys=True)
        shown.append(dmc.Button("Issue this pack", id={"type": "loan-act", "act": "issue", "about": asked}, size="md"))
        shown.append(
            html.P("It is signed with this archive’s key, kept here, and noted in the audit trail.", className="note")
        )
    else:
        shown.append(no_result("Issuing a pack needs the role contributor.", lead="You can look."))
    return html.Div(shown, className="pack-issue")


def _made(made: Mapping[str, str]) -> html.Div:
    return html.Div(
        [
            html.H3(f"Issued: {made['document']}"),
            html.P(
                [
                    html.A("Download the pack", href=f"{PACKS}/{made['sha256']}.zip", download="",
                           className="download"),
                    html.Span(f" {made['name']}, {_size(int(made['bytes']))}", className="note"),
                ]
            ),
            facts(
                [
                    ("Fingerprint", html.Code(made["fingerprint"], className="hash")),
                    ("SHA-256", html.Code(made["sha256"], className="hash")),
                ]
            ),
            html.P(PROVES, className="remark"),
            html.P(["The lender can check it on ", dcc.Link("the Verify page", href="/verify"), " of any isohume."]),
        ],
        className="pack-made",
        role="status",
    )  # fmt: skip


def _issued(archive: Archive, loan: LoanView, site: Site) -> list[Any]:
    lines = list(reversed(issued_for(archive, loan)))
    if not lines:
        return [no_result("No evidence was issued for this loan or its frames.", lead="None.")]
    zone = site.time_zone
    rows = []
    for line in lines:
        after = line["after"]
        sha256 = after["sha256"]
        have = (
            html.A("download", href=f"{PACKS}/{sha256}.zip", download="", **aria(label=f"Download {line['key']}"))
            if is_kept(archive, sha256)
            else "not kept here"
        )
        rows.append(
            [
                line["key"], after["frame"], period_words(after, zone),
                html.Span("; ".join(after.get("terms", [])) or formats.MISSING, className="long"),
                f"{formats.moment(pd.Timestamp(line['time_utc']), zone)} {by_whom(line['by'])}",
                "this loan" if after.get("loan") == loan.loan_id else "no loan named",
                html.Code(f"{sha256[:12]}…", title=sha256), have,
            ]
        )  # fmt: skip
    heads = ("Document", "Frame", "Period", "Terms", "Issued", "For", "SHA-256", "")
    caption = f"Out of the audit trail, newest first; times in {zone}"
    links = export_links(f"{LOAN_TABLES}/packs", f"Packs of loan {loan.loan_id}", loan=loan.loan_id)
    return [table(heads, rows, caption=caption), links]


def handover_sheets(loan: LoanView, site: Site) -> list[Any]:
    """Offer the sheet of each leg, on either paper."""
    if not loan.legs:
        return [no_result("Add the legs of the loan under Record; each has its own sheet.", lead="No leg yet.")]
    return [
        html.Ul(
            [
                html.Li([leg.in_words(site.time_zone), ": ", *sheet_links(loan, str(leg.facts["from"]))])
                for leg in loan.legs
            ],
            className="notes",
        )
    ]


def sheet_links(loan: LoanView, leg: str) -> list[Any]:
    """Link one leg's sheet on either paper."""
    links: list[Any] = []
    for size in SIZES:
        href = f"{HANDOVER}?{urlencode({'loan': loan.loan_id, 'leg': leg, 'paper': size['value']})}"
        label = aria(label=f"Handover sheet, {size['label']}, leg from {leg[:10]}")
        links += [html.A(f"PDF {size['label']}", href=href, target="_blank", **label), " · "]
    return links[:-1]


def _size(n_bytes: int) -> str:
    return f"{n_bytes / 1e6:.1f} MB" if n_bytes >= 1e6 else f"{max(n_bytes / 1e3, 0.1):.1f} kB"
