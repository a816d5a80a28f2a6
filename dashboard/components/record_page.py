"""One record of the register: its form or its facts, what belongs to it, its history, and how it ends."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import unquote

import dash_mantine_components as dmc
from dash import dcc, html

from isohume.dashboard.components.blocks import facts, section
from isohume.dashboard.components.record_cells import (
    LISTED,
    Naming,
    heading,
    listed_cell,
    moment_words,
    name_of,
    words_of,
)
from isohume.dashboard.components.record_drop import download, drop
from isohume.dashboard.components.record_form import control, record_form
from isohume.dashboard.components.record_history import history, who
from isohume.dashboard.components.record_links import (
    NEW,
    address,
    dependants,
    key_of,
    new_address,
    record_at,
    refused_removal,
    trail_key,
)
from isohume.dashboard.components.record_list import may_write, names_of, not_registered
from isohume.dashboard.components.record_users import password_form, user_form
from isohume.dashboard.components.record_values import entry
from isohume.dashboard.components.record_words import a, field_words, flat_names, kind_words
from isohume.dashboard.formats import MISSING
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.kinds import kind_named
from isohume.ingest.archive.register_work import lines_of

FORM, SEEN, HISTORY = "register", "register-seen", "register-history"
REMOVE, RETIRE, ENDED, BACK_TOLD = "register-remove", "register-retire", "register-ended", "register-back-told"
RETIRES: Mapping[str, dict[str, Any]] = {"frames": {"lifecycle": "retired"}, "loggers": {"retired": True}}
NOT_TYPED: Mapping[str, tuple[str, ...]] = {"documents": ("sha256", "n_bytes", "name")}
NEW_FRAME = ("id", "painting", "band")
MOST_LISTED = 12
SPEAKS_FOR_ITSELF = frozenset({
    "id", "name", "kind", "time", "date", "frame", "room", "logger", "what", "note", "painting", "title", "role",
})  # fmt: skip
# Which records can be added from another one's page.
ADDED_TO: Mapping[str, tuple[str, ...]] = {
    "frames": ("locations", "placements", "events"), "loggers": ("placements", "calibrations", "clock_corrections"),
    "rooms": ("placements", "locations"), "loans": ("legs",),
}  # fmt: skip
_SHORT_MOMENT = re.compile(r"(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d)Z")


def fingerprint(record: Mapping[str, Any]) -> str:
    """Return what tells one state of a record from another."""
    return hashlib.sha256(json.dumps(record, sort_keys=True, default=str).encode()).hexdigest()


def record_page(archive: Archive, kind: str, part: str, zone: str) -> tuple[str, list[Any]]:
    """Return the heading and the content for one record, an empty form, or what is left of a removed record."""
    words = kind_words(kind)
    if part == NEW or part.startswith(f"{NEW}~"):
        return f"New {words.one}", new_record(kind, part)
    record = record_at(archive, kind, part)
    if record is None:
        return words.many, _gone(archive, kind, part, zone)
    writes = may_write(kind)
    body: list[Any] = [_form(kind, record) if writes else _facts(archive, kind, record, zone)]
    if kind == "documents":
        body.insert(0, html.P(download("Open the file", f"/register/document/{record['sha256']}")))
    if kind == "users" and writes:
        body.append(section("password", "New password", password_form(str(record["name"]))))
    if kind == "frames":
        body.insert(
            0, html.P(dcc.Link("Its climate and findings", href=f"/frame/{record['id']}"), className="row-note")
        )
    lines = history(lines_of(archive, kind, trail_key(kind, record)), zone, puts_back=writes)
    body += [
        *_related(archive, kind, record, zone),
        section("history", "History", html.Div(id=BACK_TOLD, role="status"), html.Div(lines, id=HISTORY)),
        _ends(archive, kind, record) if writes and kind not in {"collection", "users"} else None,
        dcc.Store(id=SEEN, data={"kind": kind, "part": part, "state": fingerprint(record)}),
    ]
    return name_of(kind, record, zone), [one for one in body if one is not None]


def _form(kind: str, record: Mapping[str, Any]) -> Any:
    about = kind_named(kind)
    wanted = [name for name in about.fields if name not in NOT_TYPED.get(kind, ()) or name == "name"]
    return record_form(FORM, kind, record, fields=wanted, fixed=about.key)


def new_record(kind: str, part: str) -> list[Any]:
    """Draw an empty form; the address may say what is known already (`~new~frame~F01`)."""
    if not may_write(kind):
        return [html.P("Adding needs another role.", className="no-result")]
    told = key_of_new(kind, part)
    seen = html.Div([dcc.Store(id=SEEN, data={"kind": kind, "part": NEW, "state": ""}), html.Div(id=HISTORY)])
    if kind == "users":
        return [user_form(), seen]
    if kind == "documents":
        return [_document_drop(told), seen]
    if kind == "frames":
        where = [
            control(FORM, "locations", "room", told.get("room"), named="location:room"),
            control(FORM, "locations", "from", None, named="location:from"),
        ]
        text = "These suffice. Panel, construction and limits can be told afterwards, on the frame’s own page here."
        form = record_form(FORM, kind, told, fields=NEW_FRAME, more=where, submit="Register the frame")
        return [html.P(text, className="row-note"), form, seen]
    return [record_form(FORM, kind, told, submit=f"Keep this {kind_words(kind).one}"), seen]


def key_of_new(kind: str, part: str) -> dict[str, str]:
    """Read what the address of an empty form says already: pairs of field and value."""
    pairs = part.removeprefix(NEW).removeprefix("~").split("~")
    found = {name: unquote(value) for name, value in zip(pairs[::2], pairs[1::2], strict=False)}
    return {name: value for name, value in found.items() if name in kind_named(kind).fields}


def _document_drop(told: Mapping[str, str]) -> html.Div:
    about = {name: told.get(name, "") for name in ("frame", "logger")}
    text = "Drop a photograph or paper here, up to 50 MB. What it is and shows can be told afterwards."
    return drop(text, "/register/receive-document", largest=50_000_000, about=about)


def _facts(archive: Archive, kind: str, record: Mapping[str, Any], zone: str) -> Any:
    naming = names_of(archive)
    names = [name for name in flat_names(kind) if not kind_named(kind).fields.get(name, _PLAIN).secret]
    pairs = [
        (field_words(kind, name).label, words_of(kind, name, entry(record, name), zone, naming))
        for name in names
        if entry(record, name) not in (None, "", [], {}, False)
    ]
    if record.get("clauses"):
        pairs.append(("Clauses", words_of(kind, "clauses", record["clauses"], zone)))
    return facts(pairs)


_PLAIN = kind_named("rooms").fields["id"]


def _related(archive: Archive, kind: str, record: Mapping[str, Any], zone: str) -> list[Any]:
    naming, held = names_of(archive), {one.kind: one.records for one in dependants(archive, kind, record)}
    mine = {"frames": "frame", "rooms": "room", "loggers": "logger", "loans": "loan"}.get(kind, "")
    parts = []
    for other in dict.fromkeys([*ADDED_TO.get(kind, ()), *held]):
        words, rows = kind_words(other), list(held.get(other, ()))
        moment = next((name for name in ("from", "time", "date") if name in kind_named(other).fields), "")
        rows.sort(key=lambda row: str(row[moment]) if moment else "", reverse=True)
        shown = [
            html.Li(dcc.Link(_in_one_line(other, row, mine, zone, naming), href=address(other, row)))
            for row in rows[:MOST_LISTED]
        ]
        rest = len(rows) - MOST_LISTED
        more = html.P(dcc.Link(f"and {rest} more", href=f"/register/{other}")) if rest > 0 else None
        add = None
        if other in ADDED_TO.get(kind, ()) and may_write(other):
            add = html.P(dcc.Link(f"Add {a(words.one)}", href=new_address(other, **{mine: str(record["id"])})))
        none = None if rows else html.P("None.", className="row-note")
        parts.append(section(f"its-{other}", words.many, none, html.Ul(shown, className="related"), more, add))
    return parts


def _in_one_line(kind: str, record: Mapping[str, Any], mine: str, zone: str, naming: Naming) -> str:
    """Say what a record is, beside the one it belongs to."""
    known = {*kind_named(kind).fields, "what", "correction"}
    cells = [
        (name, listed_cell(kind, name, record, zone, naming))
        for name in LISTED[kind]
        if name != mine and name in known
    ]
    said = [(name, text) for name, text in cells if text != MISSING]
    return ", ".join(
        text if name in SPEAKS_FOR_ITSELF else f"{heading(kind, name).lower()} {text}" for name, text in said
    )


def _ends(archive: Archive, kind: str, record: Mapping[str, Any]) -> Any:
    """Offer to retire or remove the record; say plainly what stands against it."""
    words, why = kind_words(kind), refused_removal(archive, kind, record)
    retired = RETIRES.get(kind)
    parts: list[Any] = []
    if retired and any(record[name] != value for name, value in retired.items()):
        parts.append(html.P("Retired, it stays with all that is known of it, and asks for nothing more."))
        parts.append(dmc.Button(f"Retire this {words.one}", id=RETIRE, variant="default", size="sm"))
    if why:
        parts.append(html.P([html.Strong("It cannot be removed. "), why]))
    else:
        parts.append(html.P("Its last state stays in the audit trail, from which it can be brought back."))
        parts.append(dmc.Button(f"Remove this {words.one}", id=REMOVE, variant="default", size="sm"))
    there = {part.id for part in parts if isinstance(part, dmc.Button)}
    # The callback behind the buttons wants both of them to be there.
    parts += [html.Div(id=one) for one in (RETIRE, REMOVE) if one not in there]
    summary = html.Summary("Retire or remove" if retired else "Remove")
    return html.Details([summary, *parts, html.Div(id=ENDED, role="status")], className="record-part ends")


def _gone(archive: Archive, kind: str, part: str, zone: str) -> list[Any]:
    """Show what the audit trail holds of a record that is there no more."""
    key = key_of(kind, part)
    full = "" if key is None else " / ".join(_SHORT_MOMENT.sub(r"\1.000000Z", value) for value in key.values())
    lines = lines_of(archive, kind, full) if full else []
    if not lines or (kind == "users" and not may_write(kind)):
        return not_registered(kind, part)
    newest = lines[0]
    said = f"This {kind_words(kind).one} was removed by {who(newest['by'])}, {moment_words(newest['time_utc'], zone)}."
    return [
        html.P(said, className="no-result"),
        section(
            "history",
            "History",
            html.Div(id=BACK_TOLD, role="status"),
            history(lines, zone, puts_back=may_write(kind)),
        ),
    ]


def state_fields(kind: str, names: Sequence[str]) -> list[str]:
    """Return the names among some that belong to a kind of record."""
    return [name for name in names if name.partition(":")[0] in kind_named(kind).fields]
