"""One received file on the Files page: how it was understood, its picture, its account, its questions."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

import dash_mantine_components as dmc
from dash import html

from isohume.dashboard.components.blocks import aria, facts
from isohume.dashboard.formats import count

WIDTH, HEIGHT = 312, 60
STATES = {
    "waiting": "waits to be read", "reading": "is being read …", "asks": "asks a question", "settled": "understood",
    "to keep": "waits to be kept", "keeping": "is being kept …", "kept": "kept", "refused": "cannot be read",
    "failed": "failed",
}  # fmt: skip
TONES = {"asks": "soon", "settled": "calm", "kept": "calm", "refused": "act", "failed": "act"}
ROWS = {
    "in_file": "rows in the file", "kept": "kept", "flagged": "of these flagged", "duplicate": "twice the same",
    "conflicting": "conflicting", "rejected": "unreadable",
}  # fmt: skip


def received_file(job: dict[str, Any], loggers: list[str], *, writes: bool) -> html.Li:
    """Draw one received file; its name and everything read from it is text."""
    found, state, name = job["found"], job["state"], job["name"]
    tables = [table(one) for one in found.get("files", [])]
    told = [html.P(job["told"], className="received-told")] if job["told"] and state in ("refused", "failed") else []
    refused = [html.P(f"Not read: {text}") for text in found.get("refused", []) if state != "refused"]
    controls = said(job, loggers) if writes and state in ("asks", "settled", "refused", "failed") else []
    head = [html.H3(name), html.P(words(job), className="standing", role="status")]
    actions = html.Div(buttons(job), className="received-actions") if writes else None
    return html.Li(
        [html.Div(head, className="received-head"), *told, *refused, *tables, *controls, actions],
        className=f"received {TONES.get(state, 'unknown')}",
    )


def words(job: dict[str, Any]) -> str:
    """Say where the work on a file stands."""
    if job["state"] == "kept":
        already = "already kept" if job["told"] == "already kept" else "kept"
        wait = "; its logger is in no frame or room yet" if job["told"] == "waiting" else ""
        return f"{already} as import {job['import_id']}{wait}"
    return STATES.get(job["state"], str(job["state"]))


def table(one: dict[str, Any]) -> html.Div:
    """Draw one table of readings as it was understood."""
    places = [
        f"{place or 'no frame or room'}{f' ({channel})' if channel else ''}: {count(n)} readings, "
        f"{first[:16]} to {last[:16]} UTC"
        for place, channel, n, first, last in one["placed"]
    ]
    rows = ", ".join(f"{count(n)} {ROWS[key]}" for key, n in one["rows"].items() if n or key in ("in_file", "kept"))
    return html.Div(
        [
            html.Figure(
                [
                    html.Img(
                        src=picture(one["points"]),
                        alt=f"Relative humidity in {one['name']}",
                        className="small-picture",
                    ),
                    html.Figcaption(span_words(one["points"]), className="row-note"),
                ]
            ),
            facts(
                [
                    ("Understood as", one["words"]),
                    ("Logger", f"{one['logger']} (told by {one['by']})"),
                    ("Goes to", "; ".join(places) or "nowhere yet"),
                    ("Rows", rows),
                    *(("Note", note) for note in one["notes"]),
                ]
            ),
        ],
        className="received-table",
    )


def picture(points: list[list[float | None]]) -> str:
    """Draw the smallest and largest relative humidity of equal parts as an SVG address."""
    held = [value for pair in points for value in pair if value is not None]
    if not held:
        return "data:image/svg+xml," + quote(
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}"/>'
        )
    low, high = min(held), max(*held, min(held) + 1)
    across, up = WIDTH / len(points), (HEIGHT - 6) / (high - low)
    floor = HEIGHT - 3 + low * up
    bars = "".join(
        f"M{(place + 0.5) * across:.1f} {floor - bottom * up + 0.6:.1f}V{floor - top * up - 0.6:.1f}"
        for place, (bottom, top) in enumerate(points)
        if bottom is not None and top is not None
    )
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" preserveAspectRatio="none">'
        f'<path d="{bars}" stroke="#0072B2" stroke-width="{max(1.4, across):.2f}" fill="none"/></svg>'
    )
    return "data:image/svg+xml," + quote(svg)


def span_words(points: list[list[float | None]]) -> str:
    """Say between what the readings lie."""
    held = [value for pair in points for value in pair if value is not None]
    return f"{min(held):.0f} to {max(held):.0f} %RH, whole file" if held else "no relative humidity in it"


def said(job: dict[str, Any], loggers: list[str]) -> list[Any]:
    """Draw the questions with controls, and what can be corrected without a question."""
    chosen, answers = job["said"], job["said"].get("answers", {})
    controls: dict[str, Any] = {}
    for question in job["found"].get("questions", []):
        if question["control"] == "time zone" or question["id"] in controls:
            continue
        choices = [{"value": value, "label": text} for value, text in question["choices"]]
        controls[question["id"]] = select(
            job, f"answer:{question['id']}", question["text"], choices, answers.get(question["id"])
        )
    zone_asked = [q["text"] for q in job["found"].get("questions", []) if q["control"] == "time zone"]
    zone_label = zone_asked[0] if zone_asked else "Time zone of its clock"
    zone = dmc.TextInput(
        id=said_id(job, "time_zone"), label=zone_label, value=chosen.get("time_zone", ""),
        placeholder="as the register says; or Europe/Berlin, +01:00",
    )  # fmt: skip
    if "date_order" not in controls:
        orders = [{"value": "day-first", "label": "day first"}, {"value": "month-first", "label": "month first"}]
        controls["date_order"] = select(
            job, "answer:date_order", "Order of day and month", orders, answers.get("date_order")
        )
    if loggers and "logger" not in controls:
        data = [{"value": one, "label": one} for one in loggers]
        controls["logger"] = select(job, "logger", "Logger", data, chosen.get("logger"))
    asks = job["state"] == "asks"
    summary = html.Summary("Answer to go on" if asks else "Correct a wrong guess")
    return [
        html.Details(
            [
                summary,
                html.Div([*controls.values(), zone], className="received-said"),
                button(job, "again", "Read it so"),
            ],
            open=asks,
        )
    ]


def said_id(job: dict[str, Any], field: str) -> dict[str, str]:
    """Name a control of a file."""
    return {"type": "file-said", "job": job["id"], "field": field}


def select(job: dict[str, Any], field: str, text: str, data: list[Any], value: str | None) -> Any:
    """Draw a control with choices."""
    return dmc.Select(
        id=said_id(job, field), label=text, data=data, value=value, clearable=True, placeholder="as read"
    )


def button(job: dict[str, Any], act: str, text: str) -> Any:
    """Draw a button for one file."""
    named: Any = aria(label=f"{text}: {job['name']}")
    return dmc.Button(
        text, id={"type": "file-act", "act": act, "job": job["id"]}, variant="default", size="sm", **named
    )


def buttons(job: dict[str, Any]) -> list[Any]:
    """Return what can be done with a file now."""
    state = job["state"]
    acts = {"settled": [("keep", "Keep this"), ("aside", "Set aside")], "kept": [("aside", "Clear from this list")]}
    if state == "kept" and job["told"] != "already kept":
        return [button(job, "undo", "Undo this import"), button(job, "aside", "Clear from this list")]
    if state in ("asks", "refused", "failed"):
        return [button(job, "aside", "Set aside")]
    return [button(job, act, text) for act, text in acts.get(state, [])]
