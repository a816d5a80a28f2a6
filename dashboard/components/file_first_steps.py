"""The first frame: two files, a few words about them, and its page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from zoneinfo import available_timezones

import dash_mantine_components as dmc
from dash import dcc, html

from isohume.dashboard.components.blocks import aria
from isohume.dashboard.first_steps import INSIDE, NEITHER, ROOM, Record, guess
from isohume.dashboard.formats import count, date, number
from isohume.dashboard.views import Site

SIDES = [
    {"value": INSIDE, "label": "inside the frame"},
    {"value": ROOM, "label": "in its room"},
    {"value": NEITHER, "label": "neither: leave it out"},
]
PREFIX = "files-first"
NUMBERS = ("low", "high", "conditioned")


def first_steps(site: Site, rooms: Sequence[str], *, is_first: bool) -> html.Section:
    """Draw what is asked once about a new frame; which file is which is filled in when files have come."""
    percent = {"min": 0, "max": 100, "suffix": " %RH", "hideControls": True, "placeholder": "optional"}
    about_site = [
        dmc.TextInput(id=f"{PREFIX}-collection", label="Name of the collection", value=site.name or ""),
        dmc.Select(
            id=f"{PREFIX}-zone", label="Time zone of the museum", data=sorted(available_timezones()),
            value=None if is_first else site.time_zone, searchable=True, limit=40,
            description="taken from this computer; what clocks on its walls show",
        ),
    ]  # fmt: skip
    hidden: Any = {"hidden": not is_first}
    fields = [
        dmc.TextInput(id=f"{PREFIX}-frame", label="Frame: its number or name", placeholder="F01", required=True),
        dmc.TextInput(id=f"{PREFIX}-painting", label="Painting", placeholder="optional"),
        dmc.Autocomplete(
            id=f"{PREFIX}-room",
            label="Room it hangs in",
            placeholder="North gallery",
            required=True,
            value="",
            data=list(rooms),
        ),
        dmc.NumberInput(id=f"{PREFIX}-low", label="Agreed band, from", **percent),
        dmc.NumberInput(id=f"{PREFIX}-high", label="Agreed band, to", **percent),
        dmc.NumberInput(id=f"{PREFIX}-conditioned", label="Panel conditioned at", **percent),
    ]
    return html.Section(
        [
            html.H2("Which is which", id="first-title"),
            html.Div(
                html.P("As soon as two files are understood, say here which was inside.", className="row-note"),
                id=f"{PREFIX}-sides",
            ),
            html.H2("The frame"),
            html.Div(fields, className="received-said"),
            html.Div(about_site, className="received-said", **hidden),
            html.P(id=f"{PREFIX}-told", role="alert", className="received-told"),
            html.Div(
                dmc.Button("Make this frame and look at it", id=f"{PREFIX}-make", size="md"),
                className="received-actions",
            ),
            html.P(
                "This registers the frame, its room and the loggers, and keeps the files: all of it or nothing. "
                "It can be undone in one step.",
                className="row-note",
            ),
            dcc.Store(id=f"{PREFIX}-drawn"),
        ],
        className="first-frame",
        **aria(labelledby="first-title"),
    )


def sides(records: Sequence[Record], said: Mapping[str, str], site: Site) -> list[Any]:
    """Ask of each record which side it was; what somebody chose already stays."""
    guessed, why = guess(records)
    rows = []
    for place, record in enumerate(records):
        named: Any = {"id": {"type": "first-side", "job": record.job, "file": record.file, "channel": record.channel}}
        figures = ", ".join(
            [
                f"mean {number(record.mean)} %RH",
                f"moves {number(record.daily)} %RH in a usual day",
                f"{date_of(record.first, site)} to {date_of(record.last, site)}",
            ]
        )
        rows.append(
            html.Li(
                [
                    html.Div([html.Strong(record.name), html.Span(figures, className="row-note")]),
                    dmc.Select(
                        data=SIDES, value=said.get(side_key(record), guessed.get(place)), allowDeselect=False,
                        placeholder="choose", **named, **aria(label=f"Where {record.name} was measured"),
                    ),
                ]
            )
        )  # fmt: skip
    return [html.Ul(rows, className="first-sides"), html.P(why, className="first-why", role="status")]


def side_key(record: Record) -> str:
    """Name a record in what was said."""
    return f"{record.job}\n{record.file}\n{record.channel}"


def date_of(moment: Any, site: Site) -> str:
    """Write the date of a reading."""
    import pandas as pd

    return date(pd.Timestamp(moment), site.time_zone)


def standing_set_up(newest: Mapping[str, Any], site: Site) -> html.Div:
    """Say what the newest first steps made, with a way to undo all of it."""
    import pandas as pd

    n_files = len(newest["imports"])
    made = date(pd.Timestamp(newest["time_utc"]), site.time_zone)
    return html.Div(
        [
            html.P(
                f"Made in one step on {made} by {newest['by']}: {newest['name']}, with its room, its loggers and "
                f"{count(n_files)} {'file' if n_files == 1 else 'files'}."
            ),
            dmc.Button("Undo this step …", id="files-take-down", variant="default", size="xs"),
        ],
        className="files-made",
    )
