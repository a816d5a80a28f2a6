"""The review of a month: what changed, what is due, who signed."""

from __future__ import annotations

from collections.abc import Mapping

from dash import Dash, html

TITLE = "Month"


def layout(_month: str, _query: Mapping[str, str]) -> html.Div:
    """Build the page."""
    head = html.Div(
        [html.H1("Month"), html.P("The review of a month: what changed, what is due, who signed.", className="lede")],
        className="page-head",
    )
    return html.Div(head, className="page month-page")


def register(app: Dash) -> None:
    """Nothing on this page answers yet."""
    del app
