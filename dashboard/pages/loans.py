"""Every loan with its terms, legs and papers."""

from __future__ import annotations

from dash import Dash, html

TITLE = "Loans"


def layout(**_query: str) -> html.Div:
    """Build the page."""
    head = html.Div(
        [html.H1("Loans"), html.P("Every loan with its terms, legs and papers.", className="lede")],
        className="page-head",
    )
    return html.Div(head, className="page loans-page")


def register(app: Dash) -> None:
    """Nothing on this page answers yet."""
    del app
