"""What the figures mean, where they come from, and what they must not be used for."""

from __future__ import annotations

from dash import Dash, html

TITLE = "Methods"


def layout(**_query: str) -> html.Div:
    """Build the page."""
    return html.Div("", className="page methods-page")


def register(app: Dash) -> None:
    """Nothing on this page answers."""
    del app
