"""What the archive knows about frames, rooms, loggers and people."""

from __future__ import annotations

from collections.abc import Mapping

from dash import Dash, html

TITLE = "Register"


def layout(_below: tuple[str, ...], _query: Mapping[str, str]) -> html.Div:
    """Build the page."""
    head = html.Div(
        [
            html.H1("Register"),
            html.P("What the archive knows about frames, rooms, loggers and people.", className="lede"),
        ],
        className="page-head",
    )
    return html.Div(head, className="page records-page")


def register(app: Dash) -> None:
    """Nothing on this page answers yet."""
    del app
