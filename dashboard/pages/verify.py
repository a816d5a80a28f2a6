"""Whether an evidence pack is as it was signed, and its figures follow from its readings."""

from __future__ import annotations

from dash import Dash, html

TITLE = "Verify"


def layout(**_query: str) -> html.Div:
    """Build the page."""
    head = html.Div(
        [
            html.H1("Verify"),
            html.P(
                "Whether an evidence pack is as it was signed, and its figures follow from its readings.",
                className="lede",
            ),
        ],
        className="page-head",
    )
    return html.Div(head, className="page verify-page")


def register(app: Dash) -> None:
    """Nothing on this page answers yet."""
    del app
