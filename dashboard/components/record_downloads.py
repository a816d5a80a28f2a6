"""What leaves the Register as a file: tables of every kind, the trail, descriptions, documents; and documents kept."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from dash import Dash
from flask import Response, abort, request

from isohume.dashboard.access.gate import needs, person
from isohume.dashboard.components.record_cells import flat_table
from isohume.dashboard.components.record_history import trail_table
from isohume.dashboard.components.record_links import EDITED, FOR_ADMINISTRATORS, address
from isohume.dashboard.components.record_words import kind_words
from isohume.dashboard.current import current_archive
from isohume.dashboard.exports import Cell, csv_bytes, xlsx_bytes
from isohume.dashboard.received import label
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import ArchiveError, RegisterError
from isohume.ingest.archive.files import sha256_of_bytes
from isohume.ingest.archive.register_work import settled_recipes, trail_page
from isohume.ingest.recipe import Recipe

LARGEST_DOCUMENT = 50_000_000
MOST_TRAIL_LINES = 100_000
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
Table = tuple[list[str], list[list[Cell]]]


def hidden_kinds() -> tuple[str, ...]:
    """Return the kinds whose lines of the trail whoever looks may not see."""
    return () if person().may("administrator") else ("users",)


def export(name: str) -> Response:
    """Send one table, or a description of the collection."""
    archive, (what, _, suffix) = _archive(), name.partition(".")
    if name == "description.toml":
        return _attached(archive.export_register().encode(), name, "application/toml")
    if what == "sheet" and suffix in ("csv", "xlsx"):
        return _attached(_sheet(archive, suffix), f"frames.{suffix}", _mimetype(suffix))
    if suffix not in ("csv", "xlsx"):
        abort(404, "Tables come as .csv or .xlsx.")
    if what in FOR_ADMINISTRATORS - {"collection"} and not person().may("administrator"):
        abort(403, "This table needs the role administrator.")
    headings, rows = table_of(archive, what)
    title = "Audit trail" if what == "trail" else kind_words(what).many
    data = csv_bytes(headings, rows) if suffix == "csv" else xlsx_bytes({title: (headings, rows)})
    return _attached(data, f"{what}.{suffix}", _mimetype(suffix))


def table_of(archive: Archive, what: str) -> Table:
    """Return all records of a kind, or the audit trail, as a table."""
    if what == "trail":
        lines, _ = trail_page(archive, n=MOST_TRAIL_LINES, without=hidden_kinds())
        return trail_table(lines)
    if what == "recipes":
        rows: list[list[Cell]] = [
            [
                one["logger"],
                Recipe.from_toml(one["toml"]).in_words(),
                one["time_zone"],
                one["by_hand"],
                one["kept_utc"],
            ]
            for one in settled_recipes(archive)
        ]
        return ["Logger", "How its files are read", "Time zone", "Settled by a person", "Kept [UTC]"], rows
    if what not in EDITED:
        abort(404, "There is no table of that name.")
    return flat_table(what, archive.records(what))


def _sheet(archive: Archive, suffix: str) -> bytes:
    with tempfile.TemporaryDirectory(prefix="isohume-") as folder:
        path = Path(folder) / f"frames.{suffix}"
        archive.export_frames(path)
        return path.read_bytes()


def document(sha256: str) -> Response:
    """Send a document by its hash, to be saved and never shown in these pages’ own name."""
    archive = _archive()
    record = archive.record("documents", {"sha256": sha256}) if "\0" not in sha256 else None
    if record is None:
        abort(404, "No document of that hash is kept.")
    try:
        data = archive.documents.bytes_of(record["sha256"])
    except ArchiveError as error:
        abort(500, str(error))
    return _attached(data, label(record["name"]), "application/octet-stream")


@needs("contributor")
def receive_document() -> Response:
    """Keep a photograph or paper: its bytes are the body, its name is a label."""
    request.max_content_length = LARGEST_DOCUMENT
    archive = _archive()
    if not request.content_length or request.content_length > LARGEST_DOCUMENT:
        abort(413, f"Empty, larger than {LARGEST_DOCUMENT // 1_000_000} MB, or of unknown size.")
    name = label(unquote(request.headers.get("X-File-Name", "")))
    about = _about(request.headers.get("X-About", ""))
    data = request.get_data(cache=False)
    if archive.record("documents", {"sha256": sha256_of_bytes(data)}) is None:
        try:
            archive.acting_as(person().name).keep_document(data, name=name, kind="other", **about)
        except RegisterError as error:
            abort(409, str(error))
    return Response(
        json.dumps({"go": address("documents", {"sha256": sha256_of_bytes(data)})}), mimetype="application/json"
    )


def _about(text: str) -> dict[str, str]:
    try:
        found: Any = json.loads(unquote(text) or "{}")
    except ValueError:
        return {}
    if not isinstance(found, dict):
        return {}
    return {name: value for name in ("frame", "logger") if isinstance(value := found.get(name), str)}


def _archive() -> Archive:
    archive = current_archive()
    if archive is None:
        abort(404, "There is no archive behind these pages.")
    return archive


def _mimetype(suffix: str) -> str:
    return "text/csv" if suffix == "csv" else XLSX


def _attached(data: bytes, name: str, mimetype: str) -> Response:
    plain = "".join(sign if sign.isascii() and (sign.isalnum() or sign in "-_. ") else "_" for sign in name)
    headers = {"Content-Disposition": f'attachment; filename="{plain}"', "Cache-Control": "no-store"}
    return Response(data, mimetype=mimetype, headers=headers)


def register(app: Dash) -> None:
    """Add the routes."""
    app.server.add_url_rule("/register/export/<name>", endpoint="register-export", view_func=export)
    app.server.add_url_rule("/register/document/<sha256>", endpoint="register-document", view_func=document)
    app.server.add_url_rule(
        "/register/receive-document", endpoint="register-receive", view_func=receive_document, methods=["POST"]
    )
