"""What concerns the archive as a whole: its key for evidence packs, its storage, its integrity, its backup."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import dash_mantine_components as dmc
import pandas as pd
from dash import Dash, Input, Output, ctx, dcc, html, set_props
from dash.exceptions import PreventUpdate
from flask import Response, abort, send_file

from isohume.dashboard import ids
from isohume.dashboard.access.gate import needs, person
from isohume.dashboard.background import Progress
from isohume.dashboard.components.blocks import facts, no_result, section
from isohume.dashboard.components.long_work import long_work
from isohume.dashboard.components.record_cells import moment_words
from isohume.dashboard.components.record_drop import download
from isohume.dashboard.components.record_history import who
from isohume.dashboard.current import background, current_archive
from isohume.dashboard.formats import count
from isohume.dashboard.papers.keys import KEY_FILE, signing_key
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.register_work import newest_line, note_backup

AUDIT, BACKUP, STARTED = "register-audit", "register-backup", "register-work-started"
AUDIT_KEY, BACKUP_KEY = "register audit", "register backup"
COMMAND = "isohume verify on a machine of their own, without this archive"
WHAT_INTEGRITY = "Every hash, the account of every row and the audit trail."
FOLDER, MADE_HERE = "backups", "archive-"
PARTS = {
    "originals": "Files as they came",
    "readings": "Readings", "documents": "Documents", "papers": "Evidence packs issued",
    "received": "Received, not yet kept", "backups": "Backups",
}  # fmt: skip


def proof(archive: Archive) -> list[Any]:
    """Show the public key and its fingerprint, and say what a lender does with them."""
    if not (archive.folder / KEY_FILE).exists():
        why = "It is made with the first evidence pack; its fingerprint stands here from then on."
        return [no_result(why, lead="No key yet."), _what_it_proves()]
    key = signing_key(archive.folder)
    return [
        html.P("Fingerprint of the key that signs evidence packs here:", className="row-note"),
        html.P(key.fingerprint, className="fingerprint"),
        facts(
            [
                ("Public key", html.Code(key.public_hex, className="hash")),
                ("Kind", "Ed25519 (RFC 8032)"),
                ("As a file", download("public key", "/register/public-key.txt")),
            ]
        ),
        _what_it_proves(),
    ]


def _what_it_proves() -> html.Div:
    page = dcc.Link("Verify", href="/verify")
    steps: list[Any] = [
        "You give the lender the fingerprint by another way than the pack: on paper, or over the telephone.",
        html.Span(["The lender drops the pack on ", page, " and types the fingerprint in, or runs ", COMMAND, "."]),
        "Every hash, the signature and every figure are checked again, the figures from the readings in the pack.",
    ]
    limits = (
        "A signature shows that the pack is as it left this archive. It does not show that a logger hung where the "
        "register says, nor who sat at this machine. The private key lies beside the register, readable by its owner "
        "only; whoever holds it can sign."
    )
    return html.Div([html.Ol([html.Li(step) for step in steps], className="prose"), html.P(limits, className="prose")])


def storage(archive: Archive, zone: str) -> list[Any]:
    """Show what is kept, and offer the check of its integrity and a backup."""
    sizes = {name: folder_size(archive.folder / name) for name in PARTS}
    register = sum(path.stat().st_size for path in archive.folder.glob("register.sqlite3*"))
    kept = [(words, _size(*sizes[name])) for name, words in PARTS.items() if sizes[name][0]]
    newest = newest_line(archive, "backed up")
    last = "none is noted" if newest is None else f"{moment_words(newest['time_utc'], zone)}, by {who(newest['by'])}"
    where = [("Folder", str(archive.folder))] if person().may("administrator") else []
    whole = facts([*where, *kept, ("Register", _size(1, register) if register else "in a database of its own")])
    remarks = [html.P(remark, className="no-result") for remark in archive.remarks]
    return [
        section("kept", "What is kept", *remarks, whole),
        section("integrity", "Integrity", *_integrity(), lede=WHAT_INTEGRITY),
        section("backup", "Backup", html.P(f"Last backup: {last}."), *_backup(archive, zone),
                lede="One file with everything but the keys; isohume restore makes an archive of it again."),
        html.Div(id=STARTED),
    ]  # fmt: skip


def _integrity() -> list[Any]:
    task = background().task(AUDIT_KEY)
    button = dmc.Button("Check the integrity now", id=AUDIT, variant="default", size="sm")
    parts: list[Any] = [button] if person().may("contributor") else [_needs("contributor"), html.Div(id=AUDIT)]
    if task is None:
        return parts
    if task.state != "done":
        return [*parts, long_work(task)]
    lines = [html.P(line) for line in str(task.result[0]).splitlines()]
    head = "Clean" if task.result[1] else "Not clean"
    return [
        *parts,
        html.Div([html.H3(head), *lines], className=f"register-answer {'calm' if task.result[1] else 'act'}"),
    ]


def _backup(archive: Archive, zone: str) -> list[Any]:
    if not person().may("administrator"):
        return [_needs("administrator"), html.Div(id=BACKUP)]
    task, ready = background().task(BACKUP_KEY), newest_backup(archive)
    parts: list[Any] = [dmc.Button("Make a backup now", id=BACKUP, variant="default", size="sm")]
    if task is not None and task.state != "done":
        parts.append(long_work(task))
    if ready is not None:
        made = pd.Timestamp(ready.stat().st_mtime, unit="s", tz="UTC")
        text = f"Download the backup of {moment_words(made, zone)}"
        told = (
            f" {_size(1, ready.stat().st_size)}. It holds everything, users’ password hashes included: keep it safe."
        )
        parts.append(html.P([download(text, "/register/backup"), told]))
    return parts


def _needs(role: str) -> html.P:
    return no_result(f"This needs the role {role}.", lead="You can look.")


def folder_size(folder: Path) -> tuple[int, int]:
    """Return how many files a folder holds, and their bytes."""
    sizes = [path.stat().st_size for path in folder.rglob("*") if path.is_file()] if folder.is_dir() else []
    return len(sizes), sum(sizes)


def _size(n: int, n_bytes: int) -> str:
    amount = f"{n_bytes / 1e6:.1f} MB" if n_bytes < 1e9 else f"{n_bytes / 1e9:.2f} GB"
    return amount if n == 1 else f"{count(n)} files, {amount}"


def newest_backup(archive: Archive) -> Path | None:
    """Return the newest backup that was made on this page."""
    return max(
        (archive.folder / FOLDER).glob(f"{MADE_HERE}*.zip"), default=None, key=lambda path: path.stat().st_mtime
    )


def make_backup(archive: Archive, progress: Progress) -> str:
    """Write a backup into the archive's folder, in place of the one before, and note it in the audit trail."""
    folder = archive.folder / FOLDER
    folder.mkdir(exist_ok=True)
    before = list(folder.glob(f"{MADE_HERE}*.zip"))
    made = archive.back_up(folder / f"{MADE_HERE}{dt.datetime.now(dt.UTC):%Y%m%dT%H%M%S%f}.zip", progress=progress)
    note_backup(archive, made.file.name, made.n_bytes)
    for path in before:
        path.unlink(missing_ok=True)
    return made.file.name


@needs("administrator")
def send_backup() -> Response:
    """Send the newest backup."""
    archive = current_archive()
    path = None if archive is None else newest_backup(archive)
    if path is None:
        abort(404, "No backup was made here yet.")
    return send_file(path, as_attachment=True, download_name=f"isohume-{path.name}", mimetype="application/zip")


def send_public_key() -> Response:
    """Send the public key as text."""
    archive = current_archive()
    if archive is None or not (archive.folder / KEY_FILE).exists():
        abort(404, "No key was made yet.")
    key = signing_key(archive.folder)
    text = f"isohume evidence key, Ed25519\npublic key: {key.public_hex}\nfingerprint: {key.fingerprint}\n"
    return Response(
        text, mimetype="text/plain", headers={"Content-Disposition": 'attachment; filename="public-key.txt"'}
    )


def register(app: Dash) -> None:
    """Add the downloads, and start the long work when it is asked for."""
    app.server.add_url_rule("/register/backup", endpoint="register-backup", view_func=send_backup)
    app.server.add_url_rule("/register/public-key.txt", endpoint="register-key", view_func=send_public_key)

    @app.callback(
        Output(STARTED, "children"), Input(AUDIT, "n_clicks"), Input(BACKUP, "n_clicks"), prevent_initial_call=True
    )
    @needs("contributor")
    def start(_audit: int | None, _backup: int | None) -> Any:
        archive = current_archive()
        if archive is None or not ctx.triggered or not ctx.triggered[0]["value"]:
            raise PreventUpdate
        asked, acting = ctx.triggered_id, archive.acting_as(person().name)
        if asked == BACKUP and not person().may("administrator"):
            abort(403, "A backup needs the role administrator.")
        if asked == BACKUP:
            background().start(BACKUP_KEY, "Backup", lambda progress: make_backup(acting, progress), by=person().name)
        else:
            background().start(
                AUDIT_KEY, "Check of the integrity", lambda _far: _audit_result(acting), by=person().name
            )
        set_props(ids.WORK_ENDED, {"data": f"begun {dt.datetime.now(dt.UTC).isoformat()}"})
        return ""


def _audit_result(archive: Archive) -> tuple[str, bool]:
    found = archive.audit(deep=False)
    return found.report(), found.is_clean
