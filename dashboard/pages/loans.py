"""Every loan with its frames, terms, legs and state; and a new one."""

from __future__ import annotations

from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, set_props
from dash.exceptions import PreventUpdate

from isohume.dashboard import formats, ids
from isohume.dashboard.access.gate import needs, person
from isohume.dashboard.components.blocks import message, section, table
from isohume.dashboard.components.frame_exports import export_links
from isohume.dashboard.components.record_form import failed, record_form
from isohume.dashboard.current import current_archive, current_store
from isohume.dashboard.loan_acts import NEW_LOAN_FORM, REFUSALS, keep_new_loan
from isohume.dashboard.loan_record import STATES, LoanView, loan_address, loans_of
from isohume.dashboard.loan_routes import LOANS_TABLE, add_routes
from isohume.dashboard.pages.loan import reason
from isohume.dashboard.views import Site
from isohume.ingest.archive.archive import Archive

TITLE = "Loans"
LEDE = (
    "Each loan holds its frames, legs, climate terms and papers in one place: from here a lender gets evidence, "
    "and a courier the handover sheet."
)
NEW_FIELDS = ("id", "title", "lender", "status", "frames", "contact", "note")


def layout(**_query: str) -> html.Div:
    """Build the page."""
    archive = current_archive()
    if archive is None:
        text = "These pages show findings without an archive, so there is no loan."
        return html.Div(message("No archive", text), className="page")
    head = html.Div([html.H1(TITLE), html.P(LEDE, className="lede")], className="page-head")
    loans = loans_of(archive)
    writes = person().may("contributor")
    listed = [_table(loans, current_store().site())] if loans else [_nothing(writes=writes)]
    parts: list[Any] = [head, *listed]
    if writes:
        parts.append(_new(archive, is_first=not loans))
    check = html.P(["A pack that came from somewhere else? ", dcc.Link("Check it", href="/verify"), "."])
    return html.Div([*parts, check, dcc.Store(id=ids.LOANS_KEPT)], className="page loans-page")


def _nothing(*, writes: bool) -> html.Div:
    text = (
        "Write the first one below: a short name and a title suffice, everything else can follow."
        if writes
        else "Somebody with the role contributor can write the first one."
    )
    return message("No loan yet", text)


def _table(loans: list[LoanView], site: Site) -> html.Div:
    heads = ("Loan", "Lender", "Frames", "Climate terms", "Legs", "State")
    rows = [_row(loan, site) for loan in loans]
    links = export_links(LOANS_TABLE, "All loans")
    return html.Div([table(heads, rows, caption="All loans, the newest first"), links], className="loans-list")


def _row(loan: LoanView, site: Site) -> list[Any]:
    zone = site.time_zone
    frames = ", ".join(loan.frames) or formats.MISSING
    terms = formats.MISSING if loan.terms is None else loan.terms["name"] or loan.terms["id"]
    legs = [html.Div(leg.in_words(zone)) for leg in loan.legs] or formats.MISSING
    named = dcc.Link(loan.title, href=loan_address(loan.loan_id))
    short = html.Div(loan.loan_id, className="note") if loan.title != loan.loan_id else None
    return [
        html.Div([named, short], className="long"),
        html.Span(loan.facts["lender"] or formats.MISSING, className="long"),
        html.Span(frames, className="long"), html.Span(terms, className="long"), html.Div(legs),
        STATES.get(loan.facts["status"], loan.facts["status"]),
    ]  # fmt: skip


def _new(archive: Archive, *, is_first: bool) -> html.Section:
    usual = {"id": free_id(archive), "status": "asked"}
    form = record_form(NEW_LOAN_FORM, "loans", usual, fields=NEW_FIELDS, submit="Keep this loan")
    return section("new", "New loan", html.Details([html.Summary("Write a loan"), form], open=is_first))


def free_id(archive: Archive) -> str:
    """Return a short name that no loan has: the year and a number."""
    year = current_store().site().now.tz_convert(current_store().site().time_zone).year
    taken = {one.loan_id for one in loans_of(archive)}
    return next(one for number in range(1, 100_000) if (one := f"{year}-{number:02d}") not in taken)


def register(app: Dash) -> None:
    """Connect the form of a new loan, and the files of both pages."""
    add_routes(app.server)

    @app.callback(
        Output(ids.LOANS_KEPT, "data"),
        Input({"type": "form-keep", "form": NEW_LOAN_FORM}, "n_clicks"),
        State({"type": "field", "form": NEW_LOAN_FORM, "name": ALL}, "value"),
        State({"type": "field", "form": NEW_LOAN_FORM, "name": ALL}, "id"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def keep(clicks: int | None, values: list[Any], names: list[dict[str, str]]) -> str:
        archive = current_archive()
        if archive is None or not clicks or not ctx.triggered:
            raise PreventUpdate
        try:
            made = keep_new_loan(archive.acting_as(person().name), values, names)
        except REFUSALS as error:
            set_props({"type": "form-told", "form": NEW_LOAN_FORM}, {"children": failed(reason(error))})
            return "refused"
        set_props(ids.URL, {"pathname": loan_address(made)})
        return "kept"
