"""The list of the records of one kind: searched, sorted and drawn in the browser, exported as tables."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from isohume.dashboard.access.gate import person
from isohume.dashboard.components.blocks import aria, message, no_result
from isohume.dashboard.components.record_cells import LISTED, NEWEST_FIRST, Naming, heading, listed_cell, moment_words
from isohume.dashboard.components.record_drop import download
from isohume.dashboard.components.record_links import FOR_ADMINISTRATORS, address, new_address
from isohume.dashboard.components.record_values import entry
from isohume.dashboard.components.record_words import a, kind_words
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.kinds import kind_named
from isohume.ingest.archive.register_work import settled_recipes
from isohume.ingest.archive.timelines import Stay, frame_stays, logger_stays
from isohume.ingest.recipe import Recipe

LIST, DATA, SEARCH, DRAWN = "register-list", "register-data", "register-search", "register-drawn"
# Records that come by another way than a form.
COMES_BY: Mapping[str, tuple[str, str, str]] = {
    "documents": ("/register/documents/~new", "Keep a document", ""),
    "recipes": ("/files", "Files", "A way of reading is kept with each logger’s first file; correct it there."),
}
NAMED = {"frames": "painting", "rooms": "name", "loggers": "serial", "documents": "name", "terms": "name",
         "venues": "name", "loans": "title"}  # fmt: skip


def names_of(archive: Archive) -> Naming:
    """Return what records are called beside their short names."""
    return Naming(
        {
            (kind, str(row[kind_named(kind).key[0]])): str(row[field] or "")
            for kind, field in NAMED.items()
            for row in archive.records(kind)
        }
    )


def may_write(kind: str) -> bool:
    """Tell whether whoever looks may change records of a kind."""
    return person().may("administrator" if kind in FOR_ADMINISTRATORS else "contributor")


def record_list(archive: Archive, kind: str, zone: str, *, q: str = "") -> list[Any]:
    """Draw the records of a kind, with what leads on from them."""
    document = list_document(archive, kind, zone)
    words = kind_words(kind)
    link, text, _ = COMES_BY.get(kind, (new_address(kind), f"Add {a(words.one)}", ""))
    may_add = may_write(kind) and kind not in {"collection", "recipes"}
    acts = [
        dcc.Link(text, href=link, className="button") if may_add else None,
        download("Table as CSV", f"/register/export/{kind}.csv") if document["rows"] else None,
        download("as XLSX", f"/register/export/{kind}.xlsx") if document["rows"] else None,
    ]
    bar = html.Div([one for one in acts if one is not None], className="register-acts")
    if not document["rows"]:
        how = COMES_BY[kind][2] if kind == "recipes" else ""
        return [bar, message(f"No {words.many.lower()} yet", how or f"{words.lede}")]
    search = dmc.TextInput(
        id=SEARCH, label="Search", value=q, placeholder="any words", debounce=200, className="search"
    )
    return [
        html.Div([search, bar], className="controls"),
        html.Div(id=LIST, className="register-list", role="region", tabIndex="0", **aria(label=words.many)),
        dcc.Store(id=DATA, data=document),
        dcc.Store(id=DRAWN),
    ]


def list_document(archive: Archive, kind: str, zone: str) -> dict[str, Any]:
    """Return what the browser draws the list from: headings, and per record its cells, sort keys and address."""
    if kind == "recipes":
        return _recipes(archive, zone)
    naming, records = names_of(archive), _with_places(archive, kind)
    if kind in NEWEST_FIRST:
        moment = next(name for name in ("from", "time", "date") if name in kind_named(kind).fields)
        records = sorted(records, key=lambda row: str(row[moment]), reverse=True)
    columns = LISTED[kind]
    return {
        "headings": [heading(kind, name) for name in columns],
        "first": kind_words(kind).one,
        "rows": [
            {
                "href": address(kind, record),
                "cells": [listed_cell(kind, name, record, zone, naming) for name in columns],
                "keys": [_sort_key(entry(record, name)) for name in columns],
            }
            for record in records
        ],
    }


def _recipes(archive: Archive, zone: str) -> dict[str, Any]:
    naming = names_of(archive)
    rows = []
    for place, one in enumerate(settled_recipes(archive)):
        cells = [naming.of("loggers", one["logger"]), Recipe.from_toml(one["toml"]).in_words(),
                 "settled by a person" if one["by_hand"] else "told by the file",
                 moment_words(one["kept_utc"], zone)]  # fmt: skip
        keys = [one["logger"], place, cells[2], one["kept_utc"]]
        rows.append({"href": address("loggers", {"id": one["logger"]}), "cells": cells, "keys": keys})
    headings = ["Logger", "How its files are read", "Known because", "Kept"]
    return {"headings": headings, "first": "logger", "rows": rows}


def _sort_key(value: Any) -> str | float:
    if isinstance(value, bool) or value is None:
        return "" if value is None else float(value)
    return float(value) if isinstance(value, int | float) else str(value)


def _with_places(archive: Archive, kind: str) -> list[dict[str, Any]]:
    """Return the records of a kind; frames with the room they hang in now, loggers with what they measure now."""
    records = archive.records(kind)
    if kind not in {"frames", "loggers"}:
        return records
    with archive.register.reading() as session:
        stays = frame_stays(session) if kind == "frames" else logger_stays(session)
    now = places_at(stays, archive.today())
    rooms = {row["id"]: row["name"] or row["id"] for row in archive.records("rooms")}
    return [{**row, **_placed(kind, [rooms.get(one, one) for one in now.get(row["id"], [])])} for row in records]


def places_at(stays: Sequence[Stay], moment: dt.datetime) -> dict[str, list[str]]:
    """Return where each frame or logger is at a moment."""
    found: dict[str, list[str]] = {}
    for stay in stays:
        if stay.start <= moment < stay.end:
            found.setdefault(stay.who[0], []).append(stay.where)
    return found


def _placed(kind: str, where: list[str]) -> dict[str, str]:
    return {"room" if kind == "frames" else "place": ", ".join(dict.fromkeys(where))}


def not_registered(kind: str, part: str) -> list[Any]:
    """Say that an address names no record."""
    words = kind_words(kind)
    return [
        no_result(f"No {words.one} is registered as “{part}”.", lead="Not found."),
        html.P(dcc.Link(f"All {words.many.lower()}", href=f"/register/{kind}")),
    ]
