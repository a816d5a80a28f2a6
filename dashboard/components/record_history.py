"""The history of records: who changed what, when, from what to what; and a change put back."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
import pandas as pd
from dash import dcc, html

from isohume.dashboard.access.people import AT_THIS_MACHINE
from isohume.dashboard.components.blocks import aria
from isohume.dashboard.components.record_cells import name_of, words_of
from isohume.dashboard.components.record_links import address
from isohume.dashboard.components.record_words import KINDS as WORDS
from isohume.dashboard.components.record_words import PART, TABLES, field_words
from isohume.dashboard.exports import Cell
from isohume.dashboard.formats import MISSING, moment
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.kinds import KINDS, kind_named
from isohume.ingest.archive.register_work import trail_line

SHORT = 160
ACTIONS = {"added": "added", "changed": "changed", "removed": "removed"}
# Put back by a click; what is signed, received or secret goes its own way.
CANNOT_BE_PUT_BACK = frozenset({"reviews", "imports", "users"})


def changes_of(line: Mapping[str, Any], zone: str) -> list[tuple[str, str, str]]:
    """Return what a line of the trail changed: field, before, after, in words."""
    kind = line["kind"]
    before, after = line["before"] or {}, line["after"] or {}
    if kind not in KINDS:
        return [
            (name.replace("_", " "), _plain(before.get(name)), _plain(after.get(name))) for name in {**before, **after}
        ]
    found = []
    for name in _entries(kind, before, after):
        first, _, part = name.partition(PART)
        was, now = ((side.get(first) or {}).get(part) if part else side.get(first) for side in (before, after))
        if was != now and not (_is_nothing(was) and _is_nothing(now)):
            label = field_words(kind, name).label if first in kind_named(kind).fields else name
            label = f"{field_words(kind, first).label}: {label.lower()}" if part else label
            found.append((label, _words(kind, name, was, zone), _words(kind, name, now, zone)))
    return found


def _entries(kind: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> list[str]:
    names: list[str] = []
    for name in {**before, **after}:
        if name in TABLES and name != "clauses" and name in kind_named(kind).fields:
            held = {**(before.get(name) or {}), **(after.get(name) or {})}
            names += [f"{name}{PART}{part}" for part in held]
        else:
            names.append(name)
    return names


def _is_nothing(value: Any) -> bool:
    return value is None or value is False or value in ("", [], {})


def _words(kind: str, name: str, value: Any, zone: str) -> str:
    first, _, _part = name.partition(PART)
    if first not in kind_named(kind).fields:
        return _plain(value)
    if kind_named(kind).fields[first].secret:
        return "set" if value else MISSING
    try:
        return _shortened(words_of(kind, name, value, zone))
    except (TypeError, ValueError, KeyError, AttributeError):  # a record of an older version
        return _plain(value)


def _plain(value: Any) -> str:
    return MISSING if _is_nothing(value) else _shortened(str(value))


def _shortened(text: str) -> str:
    return text if len(text) <= SHORT else f"{text[:SHORT]}…"


def history(lines: Sequence[Mapping[str, Any]], zone: str, *, puts_back: bool) -> Any:
    """Draw the lines of one record, newest first."""
    if not lines:
        return html.P("Nothing stands in the audit trail about it.", className="row-note")
    return html.Ol([_line(line, zone, puts_back=puts_back) for line in lines], className="record-history")


def _line(line: Mapping[str, Any], zone: str, *, puts_back: bool) -> html.Li:
    changes = changes_of(line, zone)
    is_change = line["action"] == "changed"
    back: Any = None
    if puts_back and line["action"] in ("changed", "removed") and line["kind"] not in CANNOT_BE_PUT_BACK:
        text = "Put back as before" if is_change else "Bring it back"
        named = aria(label=f"{text}, {_when(line, zone)}")
        back = dmc.Button(
            text, id={"type": "register-back", "line": line["id"]}, variant="default", size="xs", **named
        )
    items = [
        html.Div(
            [
                html.Dt(label),
                html.Dd([html.Del(was), " → ", html.Ins(now)] if is_change else now if line["after"] else was),
            ]
        )
        for label, was, now in changes
    ]
    told = html.Dl(items, className="facts")
    shown = told if is_change or not items else html.Details([html.Summary("all its fields"), told])
    head = html.P(
        [html.Strong(ACTIONS.get(line["action"], line["action"])), f" by {who(line['by'])}, {_when(line, zone)}"]
    )
    return html.Li([html.Div([head, back], className="history-head"), shown])


def who(by: str) -> str:
    """Name somebody; at this machine nobody signs in."""
    return "this machine" if by == AT_THIS_MACHINE.name else by


def _when(line: Mapping[str, Any], zone: str) -> str:
    return moment(pd.Timestamp(line["time_utc"]), zone)


def put_back(archive: Archive, number: int, *, may: Callable[[str], bool]) -> str:
    """Undo one line of the trail by a further change; returns where the record stands.

    `may` tells whether whoever asks may change records of a kind.

    Raises
    ------
    RegisterError
        The line is none that can be put back, or what it changed was changed again since.
    """
    line = trail_line(archive, number)
    if line is None or line["kind"] not in KINDS or line["kind"] in CANNOT_BE_PUT_BACK or not line["before"]:
        raise RegisterError(
            "history", found=f"line {number}", expected="a change or removal of a record",
            remedy="Choose a line of this record’s history.",
        )  # fmt: skip
    kind, before, after = line["kind"], line["before"], line["after"]
    if not may(kind):
        raise RegisterError(
            "history", found=f"a change of {kind}", expected="somebody whose role reaches it",
            remedy="Ask an administrator.",
        )  # fmt: skip
    if after is None:
        archive.put(kind, before)
        return address(kind, before)
    present = archive.record(kind, {name: after[name] for name in kind_named(kind).key})
    changed = [name for name in after if after[name] != before.get(name)]
    if present is None or any(present[name] != after[name] for name in changed):
        raise RegisterError(
            "history", found="a later change of the same fields, or a removal",
            expected="fields that still stand as this line left them", remedy="Put the later change back first.",
        )  # fmt: skip
    archive.put(kind, {**{name: after[name] for name in kind_named(kind).key}, **{n: before.get(n) for n in changed}})
    return address(kind, present)


def trail_rows(lines: Sequence[Mapping[str, Any]], zone: str) -> list[list[Any]]:
    """Return lines of the trail as cells of a table on the page."""
    rows: list[list[Any]] = []
    for line in lines:
        changes = changes_of(line, zone) if line["action"] == "changed" else []
        told = "; ".join(f"{label}: {was} → {now}" for label, was, now in changes)
        rows.append(
            [_when(line, zone), who(line["by"]), line["action"], _kind_of(line["kind"]), _linked(line, zone), told]
        )
    return rows


def trail_table(lines: Sequence[Mapping[str, Any]]) -> tuple[list[str], list[list[Cell]]]:
    """Return lines of the trail as a table that leaves us."""
    rows: list[list[Cell]] = []
    for line in lines:
        told = "; ".join(f"{label}: {was} → {now}" for label, was, now in changes_of(line, "UTC"))
        rows.append(
            [line["id"], pd.Timestamp(line["time_utc"]), line["by"], line["action"], line["kind"], line["key"], told]
        )
    return ["Line", "When [UTC]", "By", "Action", "Kind", "Record", "Change (times in UTC)"], rows


def _kind_of(kind: str) -> str:
    return WORDS[kind].one if kind in WORDS else kind


def _linked(line: Mapping[str, Any], zone: str) -> Any:
    """Name the record of a line, with its address where it has one."""
    kind, record = line["kind"], line["after"] or line["before"] or {}
    if kind not in KINDS or any(name not in record for name in kind_named(kind).key):
        name = str(record.get("name") or "")
        return _shortened(f"{line['key']} · {name}" if name and name != line["key"] else line["key"])
    named = _shortened(name_of(kind, record, zone))
    return named if kind == "reviews" else dcc.Link(named, href=address(kind, record))
