"""A collection described in one file: tried first, kept when somebody says so; and exported again."""

from __future__ import annotations

import datetime as dt
import io
import tempfile
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast
from urllib.parse import unquote

import dash_mantine_components as dmc
from dash import Dash, Input, Output, ctx, html, set_props
from dash.exceptions import PreventUpdate
from flask import Response, abort, request

from isohume.dashboard import ids
from isohume.dashboard.access.gate import needs, person
from isohume.dashboard.components.blocks import no_result, section, table
from isohume.dashboard.components.long_work import long_work
from isohume.dashboard.components.record_drop import download, drop
from isohume.dashboard.components.record_history import trail_rows
from isohume.dashboard.current import background, current_archive
from isohume.dashboard.formats import count
from isohume.dashboard.received import label
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.register_work import Trial, load_description, try_description

RECEIVE, KEEP, FORGET, ANSWER = "/register/receive-description", "describe-keep", "describe-forget", "describe-answer"
LARGEST, LARGEST_UNPACKED = 10_000_000, 200_000_000
MOST_SHOWN = 300
WHAT = (
    "Drop a .csv or .xlsx with the columns frame, painting, room and band (panel, size and construction may follow), "
    "or a whole collection described in .toml."
)
TRIED_FIRST = "You see what it would change before anything is kept."
WHOLE = "Rooms, loggers, frames, events, terms, loans; loading it again gives the same register."
SUFFIXES = (".toml", ".csv", ".xlsx")


@dataclass(frozen=True, slots=True)
class Described:
    """A description as it was received, and what it would change."""

    name: str
    data: bytes
    trial: Trial


def description(zone: str) -> list[Any]:
    """Draw the page: a place to drop a file, what it would change, and the exports."""
    tried, loaded = background().task(_key("try")), background().task(_key("load"))
    parts: list[Any] = [html.Div(id=ANSWER)]
    if not person().may("contributor"):
        parts.append(no_result("Loading a description needs the role contributor.", lead="You can look."))
    elif tried is None:
        parts += [drop(WHAT, RECEIVE, largest=LARGEST, told=TRIED_FIRST), html.Div(id=KEEP), html.Div(id=FORGET)]
        if loaded is not None:
            parts.append(html.Div(long_work(loaded), className="describe-told"))
            if loaded.state == "done":
                parts.append(html.P(f"{loaded.result}.", className="form-kept"))
    elif tried.state == "done":
        parts.append(_preview(tried.result, zone))
    else:
        parts.append(long_work(tried))
        if tried.state == "failed":
            parts += [dmc.Button("Choose another file", id=FORGET, variant="default", size="sm"), html.Div(id=KEEP)]
    return [*parts, _exports()]


def _preview(found: Described, zone: str) -> html.Section:
    summary, lines = found.trial.summary, found.trial.lines
    rows = [
        [action, kind, getattr(key, "children", key), told]  # not linked: it is not there yet
        for _, _, action, kind, key, told in trail_rows(lines[:MOST_SHOWN], zone)
    ]
    said = f"{summary.report()}. Nothing is kept yet, and nothing would be removed."
    more = f"The first {MOST_SHOWN} of {count(len(lines))} changes." if len(lines) > MOST_SHOWN else "All changes"
    shown = table(("What", "Kind", "Record", "Change"), rows, caption=more) if rows else None
    acts = html.Div(
        [
            dmc.Button("Keep all of this", id=KEEP, size="sm", disabled=not lines),
            dmc.Button("Set it aside", id=FORGET, variant="default", size="sm"),
        ],
        className="received-actions",
    )
    return section("tried", f"What {found.name} would change", acts, shown, lede=said)


def _exports() -> html.Section:
    ways = [
        ("/register/export/description.toml", "Everything described, as TOML", WHOLE),
        ("/register/export/sheet.xlsx", "Frames as a spreadsheet", "In the form that can be loaded here again."),
        ("/register/export/sheet.csv", "Frames as CSV", "The same, as text."),
    ]  # fmt: skip
    items = [html.Li([download(text, href), html.P(told, className="row-note")]) for href, text, told in ways]
    return section("exports", "Exports", html.Ul(items, className="related"))


def _key(step: str) -> str:
    return f"describe {step} {person().name}"


@needs("contributor")
def receive() -> Response:
    """Take a description, and find out what it would change."""
    request.max_content_length = LARGEST
    archive, name = current_archive(), label(unquote(request.headers.get("X-File-Name", "")))
    suffix = Path(name).suffix.lower()
    if archive is None:
        abort(409, "There is no archive to describe.")
    if suffix not in SUFFIXES:
        abort(415, f"“{name}” is neither .toml, .csv nor .xlsx.")
    _refuse_whole(name)
    if request.content_length is None or request.content_length > LARGEST:
        abort(413, f"Larger than {LARGEST // 1_000_000} MB, or of unknown size.")
    data, acting = request.get_data(cache=False), archive.acting_as(person().name)
    background().forget(_key("load"))
    background().start(
        _key("try"), f"Reading {name}", lambda _far: tried(acting, name, data), by=person().name, is_personal=True
    )
    return Response("{}", mimetype="application/json")


def _refuse_whole(name: str) -> None:
    """Refuse a whole description of whoever may not change settings; roles change between trying and keeping, too."""
    if Path(name).suffix.lower() == ".toml" and not person().may("administrator"):
        abort(403, "A whole description may change settings: it needs the role administrator. A spreadsheet does not.")


def tried(archive: Archive, name: str, data: bytes) -> Described:
    """Say what a received description would change.

    Raises
    ------
    RegisterError
        It is none, or something in it is not what its kind of record requires.
    """
    refuse_bomb(name, data)
    with tempfile.TemporaryDirectory(prefix="isohume-") as folder:
        return Described(name, data, try_description(archive, _written(Path(folder), name, data)))


def refuse_bomb(name: str, data: bytes) -> None:
    """Refuse a workbook that would unpack to very much.

    Raises
    ------
    RegisterError
        It would, or it is no workbook.
    """
    if not name.lower().endswith(".xlsx"):
        return
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            unpacked = sum(member.file_size for member in book.infolist())
    except (zipfile.BadZipFile, ValueError, OSError) as error:
        raise RegisterError(name, found=f'"{error}"', expected="an .xlsx workbook", remedy="Save it again.") from error
    if unpacked > LARGEST_UNPACKED:
        raise RegisterError(
            name, found=f"{unpacked // 1_000_000} MB once unpacked", expected="a table of frames",
            remedy="Save the one sheet by itself.",
        )  # fmt: skip


def _written(folder: Path, name: str, data: bytes) -> Path:
    # The name only labels messages: letters and digits of it, never a path.
    stem = "".join(sign if sign.isalnum() or sign in "-_" else "_" for sign in Path(name).stem)[:80] or "description"
    path = folder / f"{stem}{Path(name).suffix.lower()}"
    path.write_bytes(data)
    return path


def keep(archive: Archive, found: Described) -> str:
    """Load a description that was tried; returns what it changed."""
    with tempfile.TemporaryDirectory(prefix="isohume-") as folder:
        summary = load_description(archive, _written(Path(folder), found.name, found.data))
    return f"{found.name}: {summary.report()}"


def register(app: Dash) -> None:
    """Take descriptions in, and keep them when somebody says so."""
    app.server.add_url_rule(RECEIVE, endpoint="register-describe", view_func=receive, methods=["POST"])

    @app.callback(
        Output(ANSWER, "children"), Input(KEEP, "n_clicks"), Input(FORGET, "n_clicks"), prevent_initial_call=True
    )
    @needs("contributor")
    def decide(_keep: int | None, _forget: int | None) -> Any:
        archive, task = current_archive(), background().task(_key("try"))
        if archive is None or task is None or not ctx.triggered or not ctx.triggered[0]["value"]:
            raise PreventUpdate
        if ctx.triggered_id == KEEP and task.state == "done":
            acting, found = archive.acting_as(person().name), cast("Described", task.result)
            _refuse_whole(found.name)
            background().start(
                _key("load"), f"Keeping {found.name}", lambda _far: keep(acting, found), by=person().name,
                is_personal=True,
            )  # fmt: skip
        background().forget(_key("try"))
        set_props(ids.WORK_ENDED, {"data": f"decided {dt.datetime.now(dt.UTC).isoformat()}"})
        return ""
