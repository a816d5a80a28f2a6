"""The flags beside the readings of a frame, in words."""

from __future__ import annotations

from typing import Any

from dash import html

from isohume.analysis.readings import AirRecord
from isohume.dashboard.components.blocks import table
from isohume.dashboard.figures.flags import MEANINGS
from isohume.dashboard.formats import count


def flags(inside: AirRecord | None, outside: AirRecord | None) -> Any:
    """Say which flags stand beside how many readings, what they mean, and whether those readings count."""
    rows = [
        [
            side,
            name,
            count(n),
            "left out" if name in MEANINGS and MEANINGS[name].excludes else "counted",
            html.Span(MEANINGS[name].meaning if name in MEANINGS else "", className="long"),
        ]
        for side, air in (("inside", inside), ("room", outside))
        if air is not None
        for name, n in air.flag_counts.items()
        if n
    ]
    notes = [note for air in (inside, outside) if air is not None for note in air.notes]
    if not rows and not notes:
        return html.P("No reading is flagged.", className="note")
    told = [html.P(note, className="remark") for note in dict.fromkeys(notes)]
    if not rows:
        return html.Div(told)
    headings = ["Side", "Flag", "Readings", "In the findings", "What it means"]
    listed = table(headings, rows, caption="Flags of the whole record; no reading is altered or removed", numeric=(2,))
    return html.Div([html.Details([html.Summary(f"Flags: {_summary(inside, outside)}"), listed]), *told])


def _summary(inside: AirRecord | None, outside: AirRecord | None) -> str:
    told = [
        f"{count(air.n_excluded)} of {count(air.n_readings)} readings left out {place}"
        for place, air in (("inside", inside), ("in the room", outside))
        if air is not None
    ]
    return ", ".join(told)
