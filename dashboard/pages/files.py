"""The files of the loggers: received, understood, kept; and what came before or is expected."""

from __future__ import annotations

from typing import Any, cast
from urllib.parse import unquote

import dash_mantine_components as dmc
from dash import ALL, MATCH, Dash, Input, Output, State, ctx, dcc, html, no_update, set_props
from dash.exceptions import PreventUpdate
from flask import Response, request

from isohume.dashboard.access.gate import needs, person
from isohume.dashboard.components.blocks import aria, message, no_result
from isohume.dashboard.components.file_correction import editor
from isohume.dashboard.components.file_first_steps import first_steps
from isohume.dashboard.components.received_summary import FILTERS, shown_by, summary
from isohume.dashboard.current import current_archive, current_store
from isohume.dashboard.file_acts import ACTS, do, keep
from isohume.dashboard.files_drawn import around, redrawn
from isohume.dashboard.import_history import state_of, undone
from isohume.dashboard.in_browser import answer_in_browser
from isohume.dashboard.jobs import resume, worker_of
from isohume.dashboard.pages import files_first, files_history
from isohume.dashboard.received import Received
from isohume.ingest.archive.archive import Archive

TITLE = "Files"
MAX_FILE_BYTES = 200_000_000
RECEIVE = "/files/receive"
# Files drawn at once; more are drawn on demand, and all can be kept without being drawn.
DRAWN_AT_ONCE = 40
LOOK_EVERY_MS = 1500
BEGIN = (
    "Drop one file from inside a frame and one from the room it hangs in. Each is read at once; you say which is "
    "which, name the frame, and see how well it buffers."
)
LEDE = (
    "Drop the month’s files: each says how it was understood, and is kept when you say so. Every import can be undone."
)
INVENTED = (
    "This collection is invented. To start your own, stop this program (Ctrl+C in its window) and start isohume "
    "without the word demo: it opens an empty collection of yours and asks for two files."
)
DEMONSTRATION = (
    "To look at an invented collection first, stop this program (Ctrl+C in its window) and start “isohume demo”: "
    "it builds a museum from sample files in a temporary folder. Nothing of it enters your collection."
)


def layout(*, begin: str = "", show: str = "all", logger: str = "", **_query: str) -> html.Div:
    """Build the page; its address says which files are shown, and `begin=frame` asks for a new frame."""
    held = current_archive()
    if held is None:
        return html.Div(
            message("No archive", "These pages show findings without an archive, so no file can be added.")
        )
    writes, site = person().may("contributor"), current_store().site()
    is_first = not held.frame_ids() and all(one["retired"] for one in held.records("loggers"))
    begins = writes and (is_first or begin == "frame")
    title = ("Begin with two files" if is_first else "A new frame from two files") if begins else "Files"
    head = html.Div([html.H1(title), html.P(BEGIN if begins else LEDE, className="lede")], className="page-head")
    another = "" if begins or not writes else "/files?begin=frame"
    return html.Div(
        [
            head,
            html.P(INVENTED, className="files-note") if site.invented else None,
            _drop(another) if writes else no_result("Adding files needs the role contributor.", lead="You can look."),
            html.Div(id="files-summary", role="status"),
            _controls(show if show in FILTERS else "all", writes=writes and not begins),
            html.Ul(id="files-list", className="received-list"),
            html.Button("Show more files", id="files-show-more", className="text-button", hidden=True, type="button"),
            first_steps(site, [one["id"] for one in held.records("rooms")], is_first=is_first) if begins else None,
            html.P(DEMONSTRATION, className="files-note") if is_first and writes else None,
            html.Div(id="files-set-up"),
            *(() if is_first else files_history.places(logger)),
            files_history.confirmation(),
            *(dcc.Store(id=f"files-{name}") for name in ("version", "changed", "imports-state", "address")),
            dcc.Store(id="files-begins", data=begins),
            dcc.Interval(id="files-look", interval=LOOK_EVERY_MS),
        ],
        className="page files-page",
    )


def _drop(another: str) -> html.Div:
    return html.Div(
        [
            html.P("Drop files or folders here: any number at once, each up to 200 MB. CSV, text, .xlsx, .gz, .zip."),
            html.Div(
                [
                    html.Button("Choose files", id="files-choose", className="files-choose", type="button"),
                    html.A("For a frame that is not registered yet", href=another) if another else None,
                ],
                className="files-ways",
            ),
            html.P(id="files-progress", className="row-note", role="status"),
        ],
        id="files-drop",
        className="files-drop",
    )


def _controls(shown: str, *, writes: bool) -> html.Div:
    choices = [{"value": name, "label": words} for name, (words, _) in FILTERS.items()]
    show: Any = dmc.SegmentedControl(id="files-filter", data=choices, value=shown, **aria(label="Show files"))
    everything = [
        dmc.Button("Keep all that are understood", id="files-keep-all", size="sm"),
        dmc.Button("Clear what is kept", id="files-clear-kept", variant="default", size="sm"),
    ]
    acts = html.Div(everything, className="received-actions", hidden=not writes)
    return html.Div([show, acts], id="files-controls", className="files-controls", hidden=True)


def register(app: Dash) -> None:
    """Take files in, and connect what can be done with them."""
    app.server.add_url_rule(RECEIVE, "files_receive", receive, methods=["POST"])
    files_history.register(app)
    files_first.register(app)
    held = getattr(app.server.config.get("ISOHUME_STORE"), "archive", None)
    if isinstance(held, Archive):
        resume(held)
    _register_list(app)
    _register_acts(app)
    answer_in_browser(
        app, "files_address", Output("files-address", "data"), Input("files-filter", "value"),
        Input("files-logger", "value"), prevent_initial_call=True,
    )  # fmt: skip


def _register_list(app: Dash) -> None:
    @app.callback(
        Output("files-list", "children"),
        Output("files-summary", "children"),
        Output("files-controls", "hidden"),
        Output("files-show-more", "hidden"),
        Output("files-keep-all", "disabled"),
        Output("files-clear-kept", "disabled"),
        Output("files-version", "data"),
        Output("files-imports-state", "data"),
        Input("files-look", "n_intervals"),
        Input("files-changed", "data"),
        Input("files-filter", "value"),
        Input("files-show-more", "n_clicks"),
        State("files-version", "data"),
        State("files-begins", "data"),
    )
    def show(
        _look: Any, _changed: Any, which: str, more: int | None, version: dict[str, Any] | None, begins: Any
    ) -> tuple[Any, ...]:
        held = current_archive()
        if held is None:
            raise PreventUpdate
        worker, before = worker_of(held), version or {}
        imports = _follow_imports(held, worker.received, before)
        listed = worker.received.listed()
        told, far = summary(listed, worker, begins=bool(begins)), (which, more or 0)
        now: dict[str, Any] = {"listed": listed[-1:] and max(one[2] for one in listed), "n": len(listed),
                               "far": list(far), "told": told.key, "imports": imports}  # fmt: skip
        if now == {key: before.get(key) for key in now}:
            raise PreventUpdate
        wanted = [one for one in listed if one[1] in shown_by(which)]
        drawn = wanted[: DRAWN_AT_ONCE * (1 + (more or 0))]
        children, now["drawn"] = redrawn(held, worker.received, drawn, before.get("drawn"), begins=bool(begins))
        return (
            children,
            told.content,
            bool(begins) or len(listed) == 0,
            len(drawn) == len(wanted),
            all(state != "settled" for _, state, _ in listed),
            all(state != "kept" for _, state, _ in listed),
            now,
            no_update if before.get("imports") == imports else imports,
        )


def _register_acts(app: Dash) -> None:
    @app.callback(
        Output("files-changed", "data"),
        Input({"type": "file-act", "act": ALL, "job": ALL}, "n_clicks"),
        Input("files-keep-all", "n_clicks"),
        Input("files-clear-kept", "n_clicks"),
        State({"type": "file-said", "job": ALL, "field": ALL}, "value"),
        State({"type": "file-said", "job": ALL, "field": ALL}, "id"),
    )
    @needs("contributor")
    def act(_clicks: Any, _all: Any, _kept: Any, values: list[str | None], names: list[dict[str, str]]) -> str:
        held = current_archive()
        if held is None or not ctx.triggered or not ctx.triggered[0]["value"]:
            raise PreventUpdate
        done = ctx.triggered_id
        if done == "files-keep-all":
            for job in worker_of(held).received.jobs("settled"):
                keep(held, job)
            return str(ctx.triggered)
        if done == "files-clear-kept":
            worker_of(held).received.change_all("set aside", from_states=("kept",))
            return str(ctx.triggered)
        job_id, name = str(done["job"]), str(done["act"])
        said = {n["field"]: v or "" for n, v in zip(names, values, strict=True) if n["job"] == job_id}
        if name not in ACTS:
            raise PreventUpdate
        complaint = do(held, name, job_id, said)
        if complaint:
            set_props(cast("Any", {"type": "file-complaint", "job": job_id}), {"children": complaint})
            raise PreventUpdate
        return str(ctx.triggered)

    @app.callback(
        Output({"type": "file-editor", "job": MATCH}, "children"),
        Output({"type": "file-correct", "job": MATCH}, "aria-expanded"),
        Input({"type": "file-correct", "job": MATCH}, "n_clicks"),
        State({"type": "file-correct", "job": MATCH}, "id"),
        State("files-begins", "data"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def correct(n_clicks: int | None, named: dict[str, str], begins: Any) -> tuple[Any, str]:
        held = current_archive()
        job = None if held is None else worker_of(held).received.job(named["job"])
        if held is None or job is None or not n_clicks or n_clicks % 2 == 0 or not job["found"].get("recipe"):
            return [], "false"
        return editor(job, around(held, begins=bool(begins))), "true"


def _follow_imports(held: Archive, received: Received, before: dict[str, Any]) -> str:
    """Notice imports that were undone from elsewhere, and return what tells the imports' state."""
    with held.register.reading() as session:
        state = state_of(session)
        if before.get("imports") == state:
            return state
        kept = [job["import_id"] for job in received.jobs("kept") if job["import_id"] is not None]
        gone = undone(session, kept)
    if gone:
        received.follow_undone(gone)
    return state


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
