"""The files of the loggers: received, understood, kept; and what came before or is expected."""

from __future__ import annotations

from typing import Any, cast
from urllib.parse import unquote

import dash_mantine_components as dmc
import sqlalchemy as sa
from dash import ALL, Dash, Input, Output, State, ctx, dcc, html
from dash.exceptions import PreventUpdate
from flask import Response, request

from isohume.dashboard.access.gate import needs, person
from isohume.dashboard.components.blocks import message, no_result, section, table
from isohume.dashboard.components.received_file import received_file
from isohume.dashboard.current import current_archive
from isohume.dashboard.formats import count
from isohume.dashboard.jobs import worker_of
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.models import Logger

TITLE = "Files"
MAX_FILE_BYTES = 200_000_000
RECEIVE = "/files/receive"
EMPTY = "Register frames, rooms and loggers first; then drop one file from inside a frame and one from its room."


def layout(**_query: str) -> html.Div:
    """Build the page."""
    held = current_archive()
    if held is None:
        return html.Div(
            message("No archive", "These pages show findings without an archive, so no file can be added.")
        )
    writes = person().may("contributor")
    lede = (
        EMPTY
        if not held.frame_ids()
        else "Files are read at once, and kept when you say so. Every import can be undone."
    )
    drop = html.Div(
        [
            html.P("Drop the files of your loggers here: any number at once, each up to 200 MB."),
            html.Button("Choose files", id="files-choose", className="files-choose", type="button"),
            html.P(id="files-progress", className="row-note", role="status"),
        ],
        id="files-drop",
        className="files-drop",
    )
    return html.Div(
        [
            html.Div([html.H1("Files"), html.P(lede, className="lede")], className="page-head"),
            drop if writes else no_result("Adding files needs the role contributor.", lead="You can look."),
            html.Div(
                dmc.Button("Keep all that are understood", id="files-keep-all", variant="default", size="sm"),
                className="received-actions",
                hidden=not writes,
            ),
            html.Div(id="files-list"),
            html.Div(id="files-history"),
            dcc.Store(id="files-version"),
            dcc.Store(id="files-changed"),
            dcc.Interval(id="files-look", interval=1500),
        ],
        className="page files-page",
    )


def register(app: Dash) -> None:
    """Take files in, and connect what can be done with them."""
    app.server.add_url_rule(RECEIVE, view_func=receive, methods=["POST"])

    @app.callback(
        Output("files-list", "children"),
        Output("files-history", "children"),
        Output("files-version", "data"),
        Input("files-look", "n_intervals"),
        Input("files-changed", "data"),
        State("files-version", "data"),
    )
    def show(_look: int | None, _changed: Any, version: str | None) -> tuple[Any, Any, str]:
        held = current_archive()
        if held is None:
            raise PreventUpdate
        received, imports = worker_of(held).received, held.imports()
        now = f"{received.version()} {[(one['id'], one['undone_utc']) for one in imports]}"
        if now == version:
            raise PreventUpdate
        with held.register.reading() as session:
            loggers = list(session.scalars(sa.select(Logger.id).where(~Logger.retired).order_by(Logger.id)))
        writes = person().may("contributor")
        rows = [received_file(job, loggers, writes=writes) for job in received.jobs()]
        return html.Ul(rows, className="received-list"), history(held, imports, writes=writes), now

    @app.callback(
        Output("files-changed", "data"),
        Input({"type": "file-act", "act": ALL, "job": ALL}, "n_clicks"),
        Input("files-keep-all", "n_clicks"),
        State({"type": "file-said", "job": ALL, "field": ALL}, "value"),
        State({"type": "file-said", "job": ALL, "field": ALL}, "id"),
    )
    @needs("contributor")
    def act(_clicks: Any, _all: Any, values: list[str | None], names: list[dict[str, str]]) -> str:
        held = current_archive()
        if held is None or not ctx.triggered or not ctx.triggered[0]["value"]:
            raise PreventUpdate
        done = ctx.triggered_id
        if done == "files-keep-all":
            for job in worker_of(held).received.jobs():
                if job["state"] == "settled":
                    keep(held, job)
        else:
            do(
                held,
                done["act"],
                done["job"],
                {n["field"]: v for n, v in zip(names, values, strict=True) if n["job"] == done["job"]},
            )
        return str(ctx.triggered)


def do(held: Archive, act: str, job_id: str, said: dict[str, str | None]) -> None:
    """Do one thing a person asked for, in that person's name."""
    worker = worker_of(held)
    if act == "undo-import":
        held.acting_as(person().name).undo(int(job_id))
        return
    job = worker.received.job(job_id)
    if job is None:
        return
    if act == "keep" and job["state"] == "settled":
        keep(held, job)
    elif act == "aside" and job["state"] not in ("keeping", "reading"):
        worker.received.set_aside(job_id)
    elif act == "undo" and job["state"] == "kept" and job["import_id"] is not None:
        held.acting_as(person().name).undo(job["import_id"])
        worker.received.set_aside(job_id)
    elif act == "again" and job["state"] in ("asks", "settled", "refused", "failed"):
        answers = {k.removeprefix("answer:"): v for k, v in said.items() if k.startswith("answer:") and v}
        told = {"answers": answers, "time_zone": said.get("time_zone") or "", "logger": said.get("logger") or ""}
        worker.received.change(job_id, said=told, state="waiting", told="")
        worker.wake()


def keep(held: Archive, job: dict[str, Any]) -> None:
    """Queue a file for keeping, in the name of whoever asked."""
    worker = worker_of(held)
    worker.received.change(job["id"], state="to keep", said={**job["said"], "by": person().name})
    worker.wake()


@needs("contributor")
def receive() -> Response:
    """Take one file: its bytes are the body, its name is a label."""
    request.max_content_length = MAX_FILE_BYTES
    held = current_archive()
    if held is None:
        return Response("There is no archive to add to.", status=409, mimetype="text/plain")
    if request.content_length is None or request.content_length > MAX_FILE_BYTES:
        return Response("Larger than 200 MB, or of unknown size.", status=413, mimetype="text/plain")
    worker = worker_of(held)
    job = worker.received.take(
        unquote(request.headers.get("X-File-Name", "")), cast("Any", request.stream), by=person().name
    )
    worker.wake()
    return Response(job, mimetype="text/plain")


def history(held: Archive, imports: list[dict[str, Any]], *, writes: bool) -> list[Any]:
    """Draw the imports so far, and what is expected."""
    rows = [
        [
            one["id"],
            one["file"],
            ", ".join(sorted({file["logger"] for file in one["files"]})),
            count(sum(file["new"] for file in one["files"])),
            f"{one['received_utc'][:16].replace('T', ' ')} by {one['by']}",
            f"undone by {one['undone_by']}" if one["undone_utc"] else undo_button(one, writes=writes),
        ]
        for one in imports
    ]
    owed = [[one.logger, one.place, f"{one.due:%Y-%m-%d}", one.text] for one in held.due() if one.kind == "file"]
    names = ("Import", "File", "Logger", "New readings", "Received (UTC)", "")
    return [
        section("expected", "Expected", table(("Logger", "Where", "Due", ""), owed, caption="Files to read out"))
        if owed
        else section("expected", "Expected", no_result("No file is due.", lead="Nothing.")),
        section("history", "Imports", table(names, rows, caption="All imports, newest first", numeric=(0, 3)))
        if rows
        else section("history", "Imports", no_result("Nothing was kept so far.", lead="None.")),
    ]


def undo_button(one: dict[str, Any], *, writes: bool) -> Any:
    """Draw the button that takes an import out again."""
    named: Any = {"id": {"type": "file-act", "act": "undo-import", "job": str(one["id"])}}
    return dmc.Button("Undo", variant="default", size="xs", **named) if writes else ""
