"""The questions a received file leaves open, with controls that answer them; and whose file it is."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import html

from isohume.dashboard.components.file_controls import (
    LOGGER_QUESTION,
    Around,
    asked,
    button,
    local_minute,
    places,
    said_id,
    select,
)
from isohume.dashboard.file_names import pattern_of


def questions(job: dict[str, Any], around: Around) -> list[Any]:
    """Draw the questions of a file with controls that answer them."""
    given = job["said"].get("answers", {})
    controls: dict[str, Any] = {}
    for question in job["found"].get("questions", []):
        if question["id"] in controls or question["id"] == LOGGER_QUESTION:
            continue
        name = f"answer:{question['id']}"
        if question["control"] == "time zone":
            offered = [{"value": value, "label": text} for value, text in question["choices"]]
            controls[question["id"]] = dmc.Autocomplete(
                id=said_id(job, name), label=question["text"], value=given.get(question["id"], ""),
                data=[one["value"] for one in offered], placeholder="Europe/Berlin, UTC, +01:00",
            )  # fmt: skip
        else:
            choices = [{"value": value, "label": text} for value, text in question["choices"]]
            controls[question["id"]] = select(job, name, question["text"], choices, given.get(question["id"]))
    parts: list[Any] = []
    if controls:
        n_alike = (around.alike or {}).get(asked(job), 0)
        more = [button(job, "alike", f"Read all {n_alike} that ask this so")] if n_alike > 1 else []
        parts += [
            html.Div([*controls.values()], className="received-said"),
            html.Div([button(job, "again", "Read it so"), *more], className="received-actions"),
        ]
    asks_logger = any(q["id"] == LOGGER_QUESTION for q in job["found"].get("questions", []))
    if asks_logger and not around.begins:
        parts += logger_form(job, around)
    return parts


def logger_form(job: dict[str, Any], around: Around) -> list[Any]:
    """Ask whose a file is, and where its logger was, in one go."""
    first = min((p["first"] for one in job["found"]["files"] for p in one["pictures"]), default="")
    pattern = pattern_of(job["name"])
    return [
        html.P("Nobody registered whose file this is. Say it once: the next is known.", className="received-ask"),
        html.Div(
            [
                dmc.Autocomplete(
                    id=said_id(job, "logger"), label="Logger", data=list(around.loggers),
                    description="one of the register, or the name of a new one",
                ),
                dmc.Autocomplete(
                    id=said_id(job, "where"), label="Where it was", data=places(around),
                    description="a frame, a room, or the name of a new room; empty: as the register says",
                ),
                dmc.TextInput(
                    id=said_id(job, "since"), label="From when", value=local_minute(first, around.zone),
                    description=f"wall clock in {around.zone}",
                ),
                dmc.TextInput(
                    id=said_id(job, "pattern"), label="Its files are called", value=pattern,
                    description="* stands for any text; empty: ask again next time",
                ),
            ],
            className="received-said",
        ),
        html.Div([button(job, "whose", "Remember this and read on")], className="received-actions"),
    ]  # fmt: skip
