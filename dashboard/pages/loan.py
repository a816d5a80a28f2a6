"""One loan: its record, its terms, what the record says of them, the venue trial, and its papers."""

from __future__ import annotations

import time
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, set_props
from dash.exceptions import PreventUpdate

from isohume.dashboard import formats, ids
from isohume.dashboard.access.gate import needs, person
from isohume.dashboard.components import (
    loan_papers_part,
    loan_record_part,
    loan_results_part,
    loan_terms_part,
    loan_trial_part,
)
from isohume.dashboard.components.blocks import aria, message
from isohume.dashboard.components.loan_asked import AGREED
from isohume.dashboard.components.loan_record_part import LEG_FORM
from isohume.dashboard.components.record_form import failed
from isohume.dashboard.current import background, current_archive, current_store
from isohume.dashboard.loan_acts import FORMS, REFUSALS, act, keep_form
from isohume.dashboard.loan_record import STATES, LoanView, UnknownLoanError, loan_address, loan_of
from isohume.dashboard.views import Site
from isohume.ingest.archive.archive import Archive

TITLE = "Loan"
PARTS = {"": "Record", "terms": "Terms", "results": "Results", "trial": "Venue trial", "papers": "Papers"}
LEDE = "One loan from the asking to the return: record, terms, results, venue trial, papers."


def title(loan_id: str) -> str:
    """Name the page in the browser's window."""
    return f"Loan {loan_id}"


def layout(loan_id: str, query: Mapping[str, str], part: str = "") -> html.Div:
    """Build one part of a loan's page; what it shows is asked by the address."""
    archive = current_archive()
    back = dcc.Link("All loans", href="/loans")
    if archive is None:
        text = "These pages show findings without an archive, so there is no loan."
        return html.Div(message("No archive", text), className="page")
    try:
        loan = loan_of(archive, loan_id)
    except UnknownLoanError as error:
        return html.Div(message("No such loan", str(error), back), className="page")
    if part not in PARTS:
        text = f"A loan has the parts {', '.join(name.lower() for name in PARTS.values())}."
        return html.Div(message("No such part", text, dcc.Link(loan.title, href=loan_address(loan_id))))
    site = current_store().site()
    return html.Div(
        [
            html.Nav(back, className="crumbs", **aria(label="Back")),
            _head(loan, site),
            html.Nav(
                [
                    dcc.Link(name, href=loan_address(loan_id, one), className="here" if one == part else "")
                    for one, name in PARTS.items()
                ],
                className="loan-parts",
                **aria(label="Parts of this loan"),
            ),
            _part(archive, loan, part, query, site),
            html.Div(id=ids.LOAN_TOLD, role="alert", className="loan-told"),
            dcc.Store(id=ids.LOAN_ID, data=loan_id),
            dcc.Store(id=ids.LOAN_LEG, data=query.get("leg", "")),
            dcc.Store(id=ids.LOAN_ACTED),
        ],
        className="page loan-page",
    )


def _head(loan: LoanView, site: Site) -> html.Div:
    zone, span = site.time_zone, loan.span
    told = [STATES.get(loan.facts["status"], loan.facts["status"])]
    if loan.facts["lender"]:
        told.append(f"lender: {loan.facts['lender']}")
    told.append(f"{len(loan.frames)} frame{'' if len(loan.frames) == 1 else 's'}")
    if span is not None:
        told.append(f"{formats.date(span[0], zone)} to {formats.date(span[1], zone) if span[1] else 'open'}")
    lines = [html.H1(loan.title), html.P(" · ".join(told), className="loan-facts"), html.P(LEDE, className="lede")]
    return html.Div(lines, className="page-head")


def _part(archive: Archive, loan: LoanView, part: str, query: Mapping[str, str], site: Site) -> Any:
    if part == "terms":
        return loan_terms_part.part(archive, loan)
    if part == "results":
        return loan_results_part.part(archive, loan, query, site)
    if part == "trial":
        return loan_trial_part.part(archive, loan, query, site)
    if part == "papers":
        return loan_papers_part.part(archive, loan, query, site)
    return loan_record_part.part(archive, loan, query, site)


def rebuilt() -> str:
    """Return what has the page built again."""
    return f"loan {time.time()}"


def register(app: Dash) -> None:
    """Connect the forms and buttons; whatever writes asks for the role on the server."""

    @app.callback(
        Output(ids.URL, "search", allow_duplicate=True),
        Output(ids.WORK_ENDED, "data", allow_duplicate=True),
        Input({"type": "loan-show", "part": ALL}, "n_clicks"),
        State({"type": "loan-asked", "part": ALL, "name": ALL}, "value"),
        State({"type": "loan-asked", "part": ALL, "name": ALL}, "id"),
        prevent_initial_call=True,
    )
    def show(_clicks: Any, values: list[str | None], names: list[dict[str, str]]) -> tuple[str, str]:
        _only_clicked()
        part = ctx.triggered_id["part"]
        asked = {
            name["name"]: value.strip()
            for name, value in zip(names, values, strict=True)
            if name["part"] == part and value and value != AGREED
        }
        return f"?{urlencode(asked)}", rebuilt()

    @app.callback(
        Output(ids.WORK_ENDED, "data", allow_duplicate=True),
        Input({"type": "loan-again", "key": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )
    def again(_clicks: Any) -> str:
        _only_clicked()
        key = str(ctx.triggered_id["key"])
        if key.startswith("loan "):
            background().forget(key)
        return rebuilt()

    for form in (*FORMS, LEG_FORM):
        _keep(app, form)

    @app.callback(
        Output(ids.LOAN_ACTED, "data", allow_duplicate=True),
        Output(ids.LOAN_TOLD, "children"),
        Input({"type": "loan-act", "act": ALL, "about": ALL}, "n_clicks"),
        State({"type": "loan-said", "about": ALL, "name": ALL}, "value"),
        State({"type": "loan-said", "about": ALL, "name": ALL}, "id"),
        State(ids.LOAN_ID, "data"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def do(_clicks: Any, values: list[Any], names: list[dict[str, str]], loan_id: str) -> tuple[str, Any]:
        _only_clicked()
        done = ctx.triggered_id
        answers = {
            name["name"]: value for name, value in zip(names, values, strict=True) if name["about"] == done["about"]
        }
        acting, loan = _at_work(loan_id)
        try:
            act(acting, loan, done["act"], done["about"], site=current_store().site(), answers=answers)
        except REFUSALS as error:
            return "refused", html.P([html.Strong("Not done. "), reason(error)], className="form-failed")
        set_props(ids.WORK_ENDED, {"data": rebuilt()})
        return "done", ""


def _keep(app: Dash, form: str) -> None:
    """Connect one form."""

    @app.callback(
        Output(ids.LOAN_ACTED, "data", allow_duplicate=True),
        Input({"type": "form-keep", "form": form}, "n_clicks"),
        State({"type": "field", "form": form, "name": ALL}, "value"),
        State({"type": "field", "form": form, "name": ALL}, "id"),
        State(ids.LOAN_ID, "data"),
        State(ids.LOAN_LEG, "data"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def keep(_clicks: int | None, values: list[Any], names: list[Any], loan_id: str, leg: str | None) -> str:
        _only_clicked()
        acting, loan = _at_work(loan_id)
        try:
            keep_form(acting, loan, form, (values, names), leg=leg or "")
        except REFUSALS as error:
            set_props({"type": "form-told", "form": form}, {"children": failed(reason(error))})
            return "refused"
        if form == LEG_FORM:
            set_props(ids.URL, {"search": ""})  # the leg is shown as it now stands, its form closed
        set_props(ids.WORK_ENDED, {"data": rebuilt()})
        return "kept"


def reason(error: Exception) -> str:
    """Return why nothing was kept, for people: of a record, what was expected of it."""
    expected, found = getattr(error, "expected", ""), getattr(error, "found", "")
    if not expected:
        return str(error.args[0] if error.args else error)
    told = f", found {found}" if len(found) < 120 else ""
    return f"Expected {expected}{told}."


def _only_clicked() -> None:
    if not ctx.triggered or not ctx.triggered[0]["value"]:
        raise PreventUpdate


def _at_work(loan_id: str) -> tuple[Archive, LoanView]:
    archive = current_archive()
    if archive is None:
        raise PreventUpdate
    acting = archive.acting_as(person().name)
    return acting, loan_of(acting, loan_id)
