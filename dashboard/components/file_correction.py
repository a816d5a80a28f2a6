"""Correcting how a file was read: its first lines, with a choice over each column of what it holds."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import html

from isohume.dashboard.components.blocks import aria
from isohume.dashboard.components.file_controls import (
    Around,
    button,
    local_minute,
    places,
    said_id,
    select,
)
from isohume.ingest.corrections import NOT_USED
from isohume.ingest.recipe import WRITTEN_ZONE

ORDERS = [
    {"value": "day-first", "label": "day, month, year"},
    {"value": "month-first", "label": "month, day, year"},
    {"value": "year-first", "label": "year, month, day"},
]
DECIMALS = [{"value": ".", "label": "point: 45.2"}, {"value": ",", "label": "comma: 45,2"}]
# What a column can hold, most wanted first; grouped as they are chosen from.
GROUPS: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    ("", ((NOT_USED, "not used"),)),
    (
        "Values",
        (
            ("relative humidity, %", "relative humidity, %"),
            ("relative humidity, fraction", "relative humidity, 0 to 1"),
            ("temperature, °C", "temperature, °C"),
            ("temperature, °F", "temperature, °F"),
            ("temperature, K", "temperature, K"),
            ("dew point, °C", "dew point, °C"),
            ("dew point, °F", "dew point, °F"),
            ("dew point, K", "dew point, K"),
        ),
    ),
    (
        "Time",
        (
            ("time: moment", "date and time"),
            ("time: date", "date"),
            ("time: clock", "time of day"),
            ("time: year", "year"),
            ("time: month", "month"),
            ("time: day", "day of the month"),
            ("time: hour", "hour"),
            ("time: minute", "minute"),
            ("time: second", "second"),
            ("time: day of year", "day of the year"),
            ("time: hhmm", "time of day as 930"),
            ("time: hhmmss", "time of day as 93000"),
            ("time: epoch s", "seconds since 1970"),
            ("time: epoch ms", "milliseconds since 1970"),
            ("time: epoch us", "microseconds since 1970"),
            ("time: spreadsheet days", "spreadsheet day number"),
            ("time: day number", "whole spreadsheet day"),
            ("time: day fraction", "fraction of a day"),
        ),
    ),
)


def editor(job: dict[str, Any], around: Around) -> list[Any]:
    """Draw what can be set right about one file."""
    found = job["found"]
    parts = [_how_read(job, found)]
    loggers = sorted({one["logger"] for one in found.get("files", []) if one["logger"]})
    if not around.begins and loggers:
        parts.append(_whose(job, around, loggers[0]))
    return parts


def _how_read(job: dict[str, Any], found: dict[str, Any]) -> html.Fieldset:
    zone = "" if found["zone"] == WRITTEN_ZONE else found["zone"]
    controls = [
        dmc.TextInput(
            id=said_id(job, "zone"), label="Zone of its clock", value=zone,
            description="Europe/Berlin; +01:00 never changes to summer time"
            + ("; each time says its own" if found["zone"] == WRITTEN_ZONE else ""),
        ),
        select(job, "decimal", "Decimal mark", DECIMALS, found["decimal"], allowDeselect=False),
    ]  # fmt: skip
    if found["order"]:
        controls.insert(1, select(job, "order", "Order of day and month", ORDERS, found["order"], allowDeselect=False))
    return html.Fieldset(
        [
            html.Legend("How it is read"),
            html.Div(controls, className="received-said"),
            _columns(job, found),
            html.Div([button(job, "correct", "Read it so")], className="received-actions"),
        ]
    )


def _columns(job: dict[str, Any], found: dict[str, Any]) -> html.Div:
    """Draw the lines around the first row as a table; over each column stands what it holds."""
    width, first_row = len(found["roles"]), found["first_row"]
    if found["long"]:
        head: list[Any] = [html.Th(heading, scope="col") for heading in found["headings"]]
        remark = "Each row names its sensor or quantity: the columns of such a file cannot be chosen anew here."
    else:
        head = [
            html.Th(
                dmc.Select(
                    id=said_id(job, f"column:{column}"), data=_choices(), value=role, size="xs", allowDeselect=False,
                    comboboxProps={"withinPortal": True, "width": 220, "position": "bottom-start"},
                    **aria(label=f"What column {column} ({found['headings'][column - 1]}) holds"),
                ),
                scope="col",
            )
            for column, role in enumerate(found["roles"], start=1)
        ]  # fmt: skip
        remark = f"The first lines of the file. Rows begin in line {first_row}."
    lines = [
        html.Tr(
            [
                html.Th(number, scope="row", className="number"),
                *(html.Td(cells[place] if place < len(cells) else "") for place in range(width)),
            ],
            className="above" if number < first_row else None,
        )
        for number, cells in found["head"]
    ]
    whole = html.Table(
        [html.Caption(remark), html.Thead(html.Tr([html.Th("Line", scope="col"), *head])), html.Tbody(lines)],
        className="file-head",
    )
    return html.Div(whole, className="table-scroll", tabIndex="0", role="region", **aria(label="First lines"))


def _choices() -> list[dict[str, Any]]:
    chosen: list[dict[str, Any]] = []
    for group, items in GROUPS:
        entries = [{"value": value, "label": label} for value, label in items]
        chosen += [{"group": group, "items": entries}] if group else entries
    return chosen


def _whose(job: dict[str, Any], around: Around, logger: str) -> html.Fieldset:
    """Draw who wrote the file and where that logger was: the side its readings go to."""
    pictures = [picture for one in job["found"]["files"] for picture in one["pictures"]]
    channels = [picture["channel"] for picture in pictures if picture["channel"]]
    placed = [place for one in job["found"]["files"] for place, *_ in one["placed"] if place]
    first = min((picture["first"] for picture in pictures), default="")
    controls = [
        select(job, "logger", "Logger", list(around.loggers), logger, allowDeselect=False),
        dmc.Select(
            id=said_id(job, "where"), label="Where it was", data=places(around), value=placed[0] if placed else None,
            clearable=True, description="inside a frame, or in a room",
        ),
        dmc.TextInput(
            id=said_id(job, "since"), label="From when", value=local_minute(first, around.zone),
            description=f"wall clock in {around.zone}; its stay before ends then",
        ),
    ]  # fmt: skip
    if channels:
        controls.insert(1, select(job, "channel", "Channel of the file", channels, channels[0], allowDeselect=False))
    return html.Fieldset(
        [
            html.Legend("Whose it is, and which side it goes to"),
            html.Div(controls, className="received-said"),
            html.Div([button(job, "move", "Change this in the register")], className="received-actions"),
        ]
    )
