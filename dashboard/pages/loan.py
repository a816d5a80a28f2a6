"""One loan: terms, results, papers."""

from __future__ import annotations

from collections.abc import Mapping

from dash import Dash, html

TITLE = "Loan"


def title(loan_id: str) -> str:
    """Name the page in the browser's window."""
    return f"Loan {loan_id}"


def layout(_loan_id: str, _query: Mapping[str, str]) -> html.Div:
    """Build the page."""
    head = html.Div(
        [html.H1("Loan"), html.P("One loan: terms, results, papers.", className="lede")], className="page-head"
    )
    return html.Div(head, className="page loan-page")


def register(app: Dash) -> None:
    """Nothing on this page answers yet."""
    del app
