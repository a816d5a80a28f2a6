"""Links to the tables of a page, for spreadsheets."""

from __future__ import annotations

from urllib.parse import urlencode

from dash import html

from isohume.dashboard.components.blocks import aria

KINDS = {"csv": "CSV", "xlsx": "XLSX"}
FRAME_TABLES, FRAMES_TABLE = "/frame-tables", "/frames-table"


def export_links(path: str, what: str, **query: str) -> html.P:
    """Offer one table as CSV and as XLSX; `path` is that of the route without its ending."""
    asked = f"?{urlencode(query)}" if query else ""
    links = [
        html.A(name, href=f"{path}.{kind}{asked}", download="", **aria(label=f"{what} as {name}"))
        for kind, name in KINDS.items()
    ]
    return html.P([html.Span("Table: "), links[0], " · ", links[1]], className="exports")


def frame_table_links(frame_id: str, table: str, what: str, **query: str) -> html.P:
    """Offer one table of a frame's page."""
    return export_links(f"{FRAME_TABLES}/{table}", what, **{"frame": frame_id, **query})
