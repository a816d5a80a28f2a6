"""The parts of a frame's page about the object and its files: panel movement, dew point, row accounts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import html

from isohume.dashboard import ids
from isohume.dashboard.components.blocks import KeyFigure, key_figures, no_result, section, table
from isohume.dashboard.formats import count, date, moment, number
from isohume.dashboard.views import FrameView, Site

_UNITS = {
    "percent": "%",
    "celsius": "°C",
    "kelvin": "K",
    "mm": "mm",
    "g": "g",
    "kg": "kg",
    "hours": "h",
    "days": "days",
}


def panel(view: FrameView) -> html.Section:
    """Show what the support does, framed and unframed."""
    return section("panel", "Panel", _figures(view.assessment.panel), lede="Movement across the grain of the support.")


def dew_point(view: FrameView) -> html.Section:
    """Show how far surfaces are from condensation."""
    return section(
        "dew-point",
        "Dew point",
        _figures(view.assessment.dew_point),
        html.Div(html.P("Reading …", className="reading"), id=ids.FRAME_DEW_POINT),
        lede="A surface colder than the dew point beside it gets wet.",
    )


def _figures(finding: Mapping[str, Any]) -> Any:
    known = [KeyFigure(*_named(key, value)) for key, value in finding.items() if isinstance(value, int | float)]
    why = str(finding.get("why") or "")
    if not known:
        return no_result(why or "Nothing is known that would give a figure.")
    return html.Div([key_figures(known), html.P(why, className="remark") if why else None])


def _named(key: str, value: float) -> tuple[str, str]:
    words = key.split("_")
    unit = _UNITS.get(words[-1], "")
    name = " ".join(words[:-1] if unit else words).capitalize()
    return name, number(value, 1, unit)


def files(view: FrameView, site: Site) -> html.Section:
    """Account for every row of every file that tells about the frame."""
    if not view.files:
        return section("files", "Files", no_result("No file of this frame or its room has been kept."))
    rows = [
        [
            html.Span(file.file, title=f"SHA-256 {file.sha256}"),
            file.side,
            file.logger,
            f"{date(file.first_utc, site.time_zone)} to {date(file.last_utc, site.time_zone)}",
            count(file.in_file),
            count(file.kept),
            count(file.flagged),
            count(file.duplicate),
            count(file.conflicting),
            count(file.rejected),
            moment(file.imported_utc, site.time_zone),
        ]
        for file in view.files
    ]
    account = table(
        [
            "File",
            "Side",
            "Logger",
            "Period",
            "Rows",
            "Kept",
            "Flagged",
            "Duplicate",
            "Conflicting",
            "Rejected",
            "Kept on",
        ],
        rows,
        caption="Row account: kept + duplicate + conflicting + rejected = rows; flagged are part of kept",
        numeric=(4, 5, 6, 7, 8, 9),
    )
    words = html.Details(
        [
            html.Summary("How these files are read"),
            html.Dl(
                [html.Div([html.Dt(file.file), html.Dd(file.in_words)]) for file in view.files], className="facts"
            ),
        ]
    )
    return section("files", "Files", account, words, lede="Every row of every file behind this page.")
