"""One received file on the Files page: how it was understood, its picture, its account, its questions."""

from __future__ import annotations

import time
from typing import Any
from urllib.parse import quote

import dash_mantine_components as dmc
from dash import dcc, html

from isohume.dashboard.components.blocks import aria, facts
from isohume.dashboard.components.file_controls import Around, button, only_logger_open
from isohume.dashboard.components.file_picture import dates, readings_picture
from isohume.dashboard.components.file_questions import questions
from isohume.dashboard.components.file_rows import row_account
from isohume.dashboard.formats import count

STATES = {
    "waiting": "waits to be read", "reading": "is being read …", "asks": "asks a question", "settled": "understood",
    "to keep": "waits to be kept", "keeping": "is being kept …", "kept": "kept", "refused": "cannot be read",
    "failed": "failed", "undone": "undone", "twice": "the same bytes twice",
}  # fmt: skip
TONES = {"asks": "soon", "settled": "calm", "kept": "calm", "refused": "act", "failed": "act", "undone": "soon"}
REMEMBERED = " So it was settled by hand for this logger before."
# Work shorter than this needs no word about how long it takes.
NOTABLE_BYTES = 2_000_000


def received_file(job: dict[str, Any], around: Around) -> html.Li:
    """Draw one received file; its name and everything read from it is text."""
    found, state = job["found"], job["state"]
    tables = [table(one, around) for one in found.get("files", [])] if state != "twice" else []
    told = told_of(job)
    refused = [html.P(f"Not read: {text}") for text in found.get("refused", []) if state != "refused"]
    controls = questions(job, around) if around.writes and state == "asks" else []
    head = [html.H2(job["name"]), html.P(words(job, around), className="standing", role="status")]
    actions = html.Div(buttons(job, around), className="received-actions") if around.writes else None
    named: Any = {"id": {"type": "file-card", "job": job["id"]}}
    clear = around.begins and state == "asks" and only_logger_open(job)
    tone = "calm" if clear else TONES.get(state, "unknown")
    editor: Any = {"id": {"type": "file-editor", "job": job["id"]}}
    complaint: Any = {"id": {"type": "file-complaint", "job": job["id"]}}
    return html.Li(
        [
            html.Div(head, className="received-head"),
            *told,
            *refused,
            *tables,
            *controls,
            html.P(role="alert", className="received-told", **complaint),
            actions,
            html.Div(className="file-editor", **editor),
        ],
        className=f"received {tone}",
        **named,
    )


def told_of(job: dict[str, Any]) -> list[Any]:
    """Say why a file is where it is."""
    state, told = job["state"], job["told"]
    if state in ("refused", "failed") and told:
        again = " It was read as you corrected it: correct it once more, or go back to how it reads by itself."
        return [html.P(told + (again if job["said"].get("recipe") else ""), className="received-told")]
    if state == "twice":
        return [html.P(f"{told} holds the same bytes and is in this list already.")]
    if job["said"].get("recipe") and state in ("settled", "kept"):
        return [html.P("Read as you corrected it. Kept so, it is remembered for this logger.", className="row-note")]
    return []


def words(job: dict[str, Any], around: Around) -> str:
    """Say where the work on a file stands."""
    state = job["state"]
    if state == "kept":
        already = "already kept" if job["told"] == "already kept" else "kept"
        wait = "; its logger is in no frame or room yet" if job["told"] == "waiting" else ""
        return f"{already} as import {job['import_id']}{wait}"
    if state == "undone":
        return f"import {job['import_id']} was undone by {job['told']}"
    if state == "asks" and only_logger_open(job):
        return "understood" if around.begins else "asks whose it is"
    if state in ("reading", "keeping") and job["n_bytes"] > NOTABLE_BYTES:
        return f"{STATES[state]} {job['n_bytes'] / 1e6:.0f} MB, for {max(0, time.time() - job['changed']):.0f} s"
    return STATES.get(state, str(state))


def table(one: dict[str, Any], around: Around) -> html.Div:
    """Draw one table of readings as it was understood."""
    places = [
        html.Li(
            [
                *place_link(place),
                f" (channel {channel})" if channel else "",
                f": {count(n)} readings, {dates(first, last, around.zone)}",
            ]
        )
        for place, channel, n, first, last in one["placed"]
    ]
    logger = [("Logger", f"{one['logger']} (told by {one['by']})")] if one["logger"] else []
    nowhere = "told once the question is answered" if one["logger"] else "nowhere yet: whose it is is asked below"
    goes = [("Goes to", html.Ul(places) if places else nowhere)]
    return html.Div(
        [
            readings_picture(one, around.zone),
            html.Div(
                [
                    facts(
                        [
                            ("Read as", one["words"] + (REMEMBERED if one.get("remembered") else "")),
                            *logger,
                            *([] if around.begins else goes),
                            *(("Note", note) for note in one["notes"]),
                        ]
                    ),
                    row_account(one),
                ]
            ),
        ],
        className="received-table",
    )


def place_link(place: str) -> list[Any]:
    """Name a frame or room; a frame is linked."""
    kind, _, name = place.partition(" ")
    if kind == "frame":
        return ["inside ", dcc.Link(f"frame {name}", href=f"/frame/{quote(name, safe='')}")]
    return [place or "no frame or room at that time"]


def buttons(job: dict[str, Any], around: Around) -> list[Any]:
    """Return what can be done with a file now."""
    state, can_correct = job["state"], bool(job["found"].get("recipe"))
    correct: Any = {"id": {"type": "file-correct", "job": job["id"]}}
    named: Any = aria(label=f"Correct how this was read: {job['name']}", expanded="false")
    correction = [dmc.Button("Correct how this was read", variant="default", size="sm", **correct, **named)]
    acts = []
    if state == "settled" and not around.begins:
        acts = [button(job, "keep", "Keep this")]
    elif state == "failed":
        acts = [button(job, "retry", "Try again")]
    elif state == "undone":
        acts = [button(job, "restore", "Read it again")]
    elif state == "kept" and job["told"] != "already kept":
        acts = [_undo(job)]
    if can_correct and state in ("asks", "settled", "refused", "failed"):
        acts += correction
    if job["said"].get("recipe") and state in ("settled", "asks", "refused", "failed"):
        acts.append(button(job, "afresh", "Read it as by itself"))
    if state in ("kept", "undone", "twice"):
        return [*acts, button(job, "aside", "Clear from this list")]
    return acts if state in ("reading", "keeping", "to keep") else [*acts, button(job, "aside", "Set aside")]


def _undo(job: dict[str, Any]) -> Any:
    named: Any = {"id": {"type": "files-undo", "import": job["import_id"], "at": job["id"]}}
    label: Any = aria(label=f"Undo this import: {job['name']}")
    return dmc.Button("Undo this import …", variant="default", size="sm", **named, **label)
