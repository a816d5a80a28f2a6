"""One received file on the Files page: how it was understood, its picture, its account, its questions."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from isohume.dashboard.components.blocks import aria, facts
from isohume.dashboard.components.file_picture import dates, readings_picture
from isohume.dashboard.components.file_rows import row_account
from isohume.dashboard.formats import count

STATES = {
    "waiting": "waits to be read", "reading": "is being read …", "asks": "asks a question", "settled": "understood",
    "to keep": "waits to be kept", "keeping": "is being kept …", "kept": "kept", "refused": "cannot be read",
    "failed": "failed", "undone": "undone", "twice": "the same bytes twice",
}  # fmt: skip
TONES = {"asks": "soon", "settled": "calm", "kept": "calm", "refused": "act", "failed": "act", "undone": "soon"}
LOGGER_QUESTION = "logger"
# Work shorter than this needs no word about how long it takes.
NOTABLE_BYTES = 2_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What a file is drawn among.

    Attributes
    ----------
    zone : str
        The site's.
    loggers, frames, rooms : sequence of str
        Ids in the register.
    writes : bool
        Whether who looks may add files.
    begins : bool
        The files are to become a new frame: whose logger wrote them is asked there.
    alike : mapping of str to int
        How many files ask the very same, by `asked`.
    """

    zone: str
    loggers: Sequence[str] = ()
    frames: Sequence[str] = ()
    rooms: Sequence[str] = ()
    writes: bool = False
    begins: bool = False
    alike: dict[str, int] | None = None


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


def only_logger_open(job: dict[str, Any]) -> bool:
    """Whether a file is understood but for the logger that wrote it."""
    asked = [question["id"] for question in job["found"].get("questions", [])]
    return bool(asked) and set(asked) == {LOGGER_QUESTION} and not job["found"].get("refused")


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
                            ("Read as", one["words"]),
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
        from urllib.parse import quote

        return ["inside ", dcc.Link(f"frame {name}", href=f"/frame/{quote(name, safe='')}")]
    return [place or "no frame or room at that time"]


def asked(job: dict[str, Any]) -> str:
    """Return what stands for the questions of a file: two files with the same text here can be answered alike."""
    return repr(
        sorted(
            {(q["id"], repr(q["choices"])) for q in job["found"].get("questions", []) if q["id"] != LOGGER_QUESTION}
        )
    )


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
    from isohume.dashboard.file_names import pattern_of

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


def places(around: Around) -> list[str]:
    """List where a logger can be."""
    return [*(f"frame {one}" for one in around.frames), *(f"room {one}" for one in around.rooms)]


def local_minute(moment: str, zone: str) -> str:
    """Write a moment as it is typed: 2026-03-01 10:00 on the site's wall clock."""
    import pandas as pd

    if not moment or moment == "None":
        return ""
    return f"{pd.Timestamp(moment).tz_convert(zone):%Y-%m-%d %H:%M}"


def said_id(job: dict[str, Any], field: str) -> dict[str, str]:
    """Name a control of a file."""
    return {"type": "file-said", "job": job["id"], "field": field}


def select(job: dict[str, Any], field: str, text: str, data: list[Any], value: str | None, **more: Any) -> Any:
    """Draw a control with choices."""
    return dmc.Select(id=said_id(job, field), label=text, data=data, value=value, **more)


def button(job: dict[str, Any], act: str, text: str) -> Any:
    """Draw a button for one file."""
    named: Any = aria(label=f"{text}: {job['name']}")
    main = act in ("keep", "again", "whose", "correct")
    return dmc.Button(
        text, id={"type": "file-act", "act": act, "job": job["id"]}, variant="filled" if main else "default",
        size="sm", **named,
    )  # fmt: skip


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
