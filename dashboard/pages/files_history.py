"""The lower half of the Files page: what is expected, contradictions, imports; their tables as files; and undoing."""

from __future__ import annotations

import time
from typing import Any

import dash_mantine_components as dmc
import sqlalchemy as sa
from dash import ALL, Dash, Input, Output, State, ctx, dcc, html
from dash.exceptions import PreventUpdate
from flask import Response, abort, request

from isohume.dashboard import exports
from isohume.dashboard.access.gate import needs, person
from isohume.dashboard.components import file_history
from isohume.dashboard.components.blocks import section
from isohume.dashboard.components.file_first_steps import standing_set_up
from isohume.dashboard.current import current_archive, current_store
from isohume.dashboard.import_history import count_imports, lines, loggers_with_imports, undo_effect
from isohume.dashboard.jobs import receive_again, worker_of
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.archive.models_imports import ImportFile

SHOWN_AT_ONCE = 30
REJECTED_HEADINGS = ("File", "Line", "Column", "Found", "Why")
MEDIA = {"csv": "text/csv", "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}


def places(logger: str = "") -> list[Any]:
    """Lay out where all of it goes; `logger` narrows the list of imports."""
    return [
        html.Div(id="files-expected"),
        html.Div(id="files-conflicts"),
        section(
            "history",
            "Imports",
            html.Div(
                [
                    dmc.Select(
                        id="files-logger",
                        label="Logger",
                        placeholder="all",
                        clearable=True,
                        searchable=True,
                        value=logger or None,
                        data=[logger] if logger else [],
                    ),
                    html.Div(id="files-exports"),
                ],
                className="files-controls",
            ),
            html.Div(id="files-history"),
            lede="Every file that was kept, what became of its rows, and where its readings went.",
        ),
    ]


def confirmation() -> Any:
    """Lay out the question that stands before every undo."""
    return html.Div(
        [
            dmc.Modal(
                id="files-confirm",
                title="Undo",
                opened=False,
                size="lg",
                children=[
                    html.Div(id="files-confirm-said"),
                    html.P(id="files-confirm-told", role="alert", className="received-told"),
                    html.Div(
                        [
                            dmc.Button("Undo it", id="files-confirm-yes", size="sm"),
                            dmc.Button("Leave it", id="files-confirm-no", variant="default", size="sm"),
                        ],
                        className="received-actions",
                    ),
                ],
            ),
            dcc.Store(id="files-confirm-what"),
        ]
    )


def register(app: Dash) -> None:
    """Draw the lists, hand them out as files, and undo what was confirmed."""
    app.server.add_url_rule(f"{file_history.TABLES}/<name>.<kind>", "files_table", table_file, methods=["GET"])
    _register_lists(app)
    _register_undo(app)
    _register_take_down(app)
    _register_answer(app)


def _register_lists(app: Dash) -> None:
    @app.callback(
        Output("files-history", "children"),
        Output("files-exports", "children"),
        Output("files-expected", "children"),
        Output("files-conflicts", "children"),
        Output("files-logger", "data"),
        Input("files-imports-state", "data"),
        Input("files-logger", "value"),
        Input({"type": "files-more", "of": ALL}, "n_clicks"),
    )
    def show(_state: Any, logger: str | None, more: list[int | None]) -> tuple[Any, ...]:
        held = current_archive()
        if held is None:
            raise PreventUpdate
        site, logger = current_store().site(), logger or ""
        asked = ctx.triggered_id is not None and any(more)
        with held.register.reading() as session:
            total = count_imports(session, logger)
            found = lines(session, logger=logger, most=None if asked else SHOWN_AT_ONCE)
            choices = loggers_with_imports(session)
        due = [one for one in held.due() if one.kind == "file"]
        writes = person().may("contributor")
        return (
            file_history.imports(found, total, site, writes=writes, logger=logger),
            file_history.exports("imports", logger=logger) if total else "",
            file_history.expected(due, site, opened_by(held)),
            file_history.conflicts(held.conflicts(logger or None), site, logger=logger),
            choices,
        )

    @app.callback(Output("files-set-up", "children"), Input("files-imports-state", "data"))
    def show_set_up(_state: Any) -> Any:
        held = current_archive()
        newest = None if held is None or not person().may("contributor") else held.newest_set_up()
        return standing_set_up(newest, current_store().site()) if newest else ""


def _register_undo(app: Dash) -> None:
    @app.callback(
        Output("files-confirm", "opened"),
        Output("files-confirm", "title"),
        Output("files-confirm-said", "children"),
        Output("files-confirm-told", "children"),
        Output("files-confirm-what", "data"),
        Input({"type": "files-undo", "import": ALL, "at": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def ask(_clicks: Any) -> tuple[Any, ...]:
        held = current_archive()
        if held is None or not ctx.triggered or not ctx.triggered[0]["value"]:
            raise PreventUpdate
        import_id = int(ctx.triggered_id["import"])
        effect = undo_effect(held, import_id)
        if effect is None:
            raise PreventUpdate
        said = file_history.undo_words(effect, current_store().site())
        return True, f"Undo import {import_id}?", said, "", {"import": import_id}


def _register_take_down(app: Dash) -> None:
    @app.callback(
        Output("files-confirm", "opened", allow_duplicate=True),
        Output("files-confirm", "title", allow_duplicate=True),
        Output("files-confirm-said", "children", allow_duplicate=True),
        Output("files-confirm-told", "children", allow_duplicate=True),
        Output("files-confirm-what", "data", allow_duplicate=True),
        Input("files-take-down", "n_clicks"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def ask_take_down(n_clicks: int | None) -> tuple[Any, ...]:
        held = current_archive()
        newest = None if held is None else held.newest_set_up()
        if not n_clicks or newest is None:
            raise PreventUpdate
        words = (
            f"{newest['name']}, its room and its placements are removed from the register, its loggers are retired, "
            f"and {len(newest['imports'])} imports are taken out. The files as received are kept."
        )
        return True, "Undo this step?", html.P(words), "", {"set_up": newest["name"]}


def _register_answer(app: Dash) -> None:
    @app.callback(
        Output("files-confirm", "opened", allow_duplicate=True),
        Output("files-confirm-told", "children", allow_duplicate=True),
        Output("files-changed", "data", allow_duplicate=True),
        Input("files-confirm-yes", "n_clicks"),
        Input("files-confirm-no", "n_clicks"),
        State("files-confirm-what", "data"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def answer(_yes: Any, _no: Any, what: dict[str, Any] | None) -> tuple[Any, ...]:
        held = current_archive()
        if held is None or what is None or not ctx.triggered or not ctx.triggered[0]["value"]:
            raise PreventUpdate
        if ctx.triggered_id == "files-confirm-yes":
            complaint = undo(held, what)
            if complaint:
                return True, complaint, str(time.time())
        return False, "", str(time.time())

    @app.callback(
        Output("files-changed", "data", allow_duplicate=True),
        Input({"type": "files-again", "import": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def read_again(_clicks: Any) -> str:
        held = current_archive()
        if held is None or not ctx.triggered or not ctx.triggered[0]["value"]:
            raise PreventUpdate
        receive_again(held, int(ctx.triggered_id["import"]), by=person().name)
        return str(time.time())

    @app.callback(
        Output("files-changed", "data", allow_duplicate=True),
        Input("files-go-on", "n_clicks"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def go_on(n_clicks: int | None) -> str:
        held = current_archive()
        if held is None or not n_clicks:
            raise PreventUpdate
        worker_of(held).wake()
        return str(time.time())


def opened_by(held: Archive) -> dict[str, str]:
    """Return who may open each frame."""
    return {one["id"]: one["opened_by"] for one in held.records("frames")}


def undo(held: Archive, what: dict[str, Any]) -> str:
    """Take out what was confirmed, in the name of whoever confirmed it; return why not, "" where it was done."""
    acting = held.acting_as(person().name)
    try:
        if "set_up" in what:
            newest = held.newest_set_up()
            if newest is None or newest["name"] != what["set_up"]:
                return "This step is not the newest one any more. Reload the page."
            acting.take_down()
        else:
            acting.undo(int(what["import"]))
    except ArchiveError as error:
        return str(error)
    return ""


def table_file(name: str, kind: str) -> Response:
    """Hand out one of the tables as CSV or XLSX."""
    held = current_archive()
    if held is None or kind not in MEDIA:
        abort(404)
    headings, rows = _table(held, name)
    content = exports.csv_bytes(headings, rows) if kind == "csv" else exports.xlsx_bytes({name: (headings, rows)})
    answer = Response(content, mimetype=MEDIA[kind])
    answer.headers["Content-Disposition"] = f'attachment; filename="isohume-{name}.{kind}"'
    return answer


def _table(held: Archive, name: str) -> tuple[tuple[str, ...], list[list[exports.Cell]]]:
    logger = request.args.get("logger", "")
    if name == "imports":
        with held.register.reading() as session:
            return file_history.IMPORT_HEADINGS, file_history.import_rows(lines(session, logger=logger))
    if name == "expected":
        due = [one for one in held.due() if one.kind == "file"]
        return file_history.DUE_HEADINGS, file_history.due_rows(due, opened_by(held))
    if name == "conflicts":
        return file_history.CONFLICT_HEADINGS, file_history.conflict_rows(held.conflicts(logger or None))
    if name == "rejected":
        return REJECTED_HEADINGS, _rejected(held, request.args.get("import", ""))
    return abort(404)


def _rejected(held: Archive, number: str) -> list[list[exports.Cell]]:
    import_id = int(number) if number.isascii() and number.isdigit() and len(number) < 16 else 0  # 0: of none
    with held.register.reading() as session:
        files = session.scalars(
            sa.select(ImportFile).where(ImportFile.import_id == import_id).order_by(ImportFile.position)
        )
        return [
            [file.name, row["line"], row["column"], row["found"], row["reason"]]
            for file in files
            for row in file.ledger.get("rejected_rows", [])
        ]
