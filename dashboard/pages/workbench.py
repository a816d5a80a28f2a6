"""Reckoned ahead, not measured: nothing here is evidence."""

from __future__ import annotations

from collections.abc import Mapping

from dash import Dash, html

TITLE = "Workbench"


def layout(_tool: str, _query: Mapping[str, str]) -> html.Div:
    """Build the page."""
    head = html.Div(
        [html.H1("Workbench"), html.P("Reckoned ahead, not measured: nothing here is evidence.", className="lede")],
        className="page-head",
    )
    return html.Div(head, className="page workbench-page")


def register(app: Dash) -> None:
    """Nothing on this page answers yet."""
    del app
