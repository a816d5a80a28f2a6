"""What came before and what is expected: imports, files that did not come, readings that contradict each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote, urlencode

import dash_mantine_components as dmc
import pandas as pd
import polars as pl
from dash import dcc, html

from isohume.analysis.phrases import MONTHS
from isohume.dashboard.components.blocks import aria, no_result, section, table
from isohume.dashboard.components.file_rows import WORDS
from isohume.dashboard.exports import Cell
from isohume.dashboard.formats import count, date, moment, number
from isohume.dashboard.import_history import ImportLine, UndoEffect
from isohume.dashboard.views import Site
from isohume.ingest.archive.due import Due

TABLES = "/files/table"
MOST_CONFLICTS = 100
IMPORT_HEADINGS = (
    "Import", "File", "Table", "Logger", "Where", "First reading (UTC)", "Last reading (UTC)", "Rows", "Kept",
    "Flagged", "Duplicate", "Conflicting rows", "Rejected", "New readings", "Held already", "Contradicting",
    "Received (UTC)", "By", "Undone (UTC)", "Undone by",
)  # fmt: skip
DUE_HEADINGS = ("Logger", "Where", "May be opened by", "Due (UTC)", "Overdue", "Why")
CONFLICT_HEADINGS = (
    "Logger", "Time (UTC)", "Channel", "In force (%RH)", "In force (°C)", "Of import", "In line",
    "Contradicting (%RH)", "Contradicting (°C)", "Of import ", "In line ",
)  # fmt: skip


def exports(name: str, **query: str) -> html.P:
    """Offer a table as a file."""
    asked = f"?{urlencode({k: v for k, v in query.items() if v})}" if any(query.values()) else ""
    links = [
        html.A(kind.upper(), href=f"{TABLES}/{name}.{kind}{asked}", **aria(label=f"{name} as {kind.upper()}"))
        for kind in ("csv", "xlsx")
    ]
    return html.P(["As a table: ", links[0], ", ", links[1]], className="row-note exports")


def where_links(places: Sequence[str]) -> list[Any]:
    """Name frames and rooms, frames linked to their pages."""
    parts: list[Any] = []
    for place in places:
        kind, _, name = place.partition(" ")
        linked = dcc.Link(f"frame {name}", href=f"/frame/{quote(name, safe='')}") if kind == "frame" else place
        parts += [", ", linked] if parts else [linked]
    return parts or ["nowhere"]


def imports(found: Sequence[ImportLine], total: int, site: Site, *, writes: bool, logger: str) -> list[Any]:
    """Draw the imported files, newest first."""
    if not found:
        return [no_result("Nothing was kept so far." if not logger else "No file of this logger came.", lead="None.")]
    rows = []
    first_of: set[int] = set()
    for one in found:
        rows.append(
            [
                one.import_id,
                html.Span(one.table, className="file-name"),
                one.logger,
                html.Span(where_links(one.places)),
                _period(one, site),
                _account(one),
                count(one.n_new),
                html.Span([moment(one.received, site.time_zone), f" by {one.by}"]),
                "" if one.import_id in first_of else _undone(one, site, writes=writes) or _undo(one, writes=writes),
            ]
        )
        first_of.add(one.import_id)
    names = ("Import", "File", "Logger", "Where it was", "Readings of", "Rows", "New", "Received", "Undone")
    caption = (
        f"The newest {count(len(found))} of {count(total)} files" if len(found) < total else f"{count(total)} files"
    )
    more: list[Any] = []
    if len(found) < total:
        more = [dmc.Button("Show more", id={"type": "files-more", "of": "history"}, variant="default", size="xs")]
    return [table(names, rows, caption=f"{caption}, newest first", numeric=(0, 6)), *more]


def _period(one: ImportLine, site: Site) -> str:
    return f"{date(one.first, site.time_zone)} to {date(one.last, site.time_zone)}"


def _account(one: ImportLine) -> Any:
    rows = one.rows
    others = {**WORDS, "flagged": "of them flagged"}
    words = [f"{count(rows[kind])} {others[kind]}" for kind in others if rows.get(kind) and kind != "kept"]
    told = ", ".join([f"{count(rows['kept'])} of {count(rows['in_file'])} kept", *words])
    if not rows.get("rejected"):
        return told
    link = html.A("rejected rows", href=f"{TABLES}/rejected.csv?{urlencode({'import': one.import_id})}")
    return html.Span([told, " (", link, ")"])


def _undone(one: ImportLine, site: Site, *, writes: bool) -> Any:
    if one.undone is None:
        return None
    told = f"{date(one.undone, site.time_zone)} by {one.undone_by}"
    named: Any = {"id": {"type": "files-again", "import": one.import_id}}
    label: Any = aria(label=f"Read the file of import {one.import_id} again, {one.file}")
    again = html.Button("Read again", className="text-button", type="button", **named, **label)
    return html.Span([told, html.Br(), again]) if writes else told


def _undo(one: ImportLine, *, writes: bool) -> Any:
    named: Any = {"id": {"type": "files-undo", "import": one.import_id, "at": "history"}}
    label: Any = aria(label=f"Undo import {one.import_id}, {one.file}")
    return dmc.Button("Undo …", variant="default", size="xs", **named, **label) if writes else ""


def undo_words(effect: UndoEffect, site: Site) -> list[Any]:
    """Say what taking an import out will change, before it is done."""
    loggers = ", ".join(effect.loggers)
    span = f", {date(effect.first, site.time_zone)} to {date(effect.last, site.time_zone)}" if effect.first else ""
    told = f"{count(effect.n_fewer)} readings of logger {loggers}{span} are taken out."
    if not effect.n_fewer:
        told = f"no reading of logger {loggers} is lost: another import holds all its moments{span}."
    said = [html.P(f"{effect.file}: {told}")]
    if effect.frames:
        one = len(effect.frames) == 1
        verb = "is computed anew without them." if one else "are computed anew without them."
        said.append(html.P(["What is said of ", *where_links([f"frame {f}" for f in effect.frames]), f" {verb}"]))
    if effect.reviews:
        months = ", ".join(f"{MONTHS[int(month[5:]) - 1]} {month[:4]}" for month in effect.reviews)
        said.append(html.P(f"The signed review of {months} stays as it is; the change becomes an addendum."))
    said.append(html.P("The file as received is kept, and can be read again at any time."))
    return said


def expected(due: Sequence[Due], site: Site, opened_by: Mapping[str, str]) -> html.Section:
    """Draw the files that should come, and those that should have; and who may open the frame they come from."""
    rows = [
        [
            one.logger,
            html.Span(where_links([one.place])),
            opened_by.get(one.frame, ""),
            date(pd.Timestamp(one.due), site.time_zone),
            html.Strong("overdue") if one.is_overdue else "to come",
            one.text,
        ]
        for one in due
    ]
    n_late = sum(one.is_overdue for one in due)
    caption = f"{count(n_late)} overdue, {count(len(due) - n_late)} to come"
    lede = "Of which loggers a file is owed, where each hangs, and since when."
    content = (
        [
            table(("Logger", "Where", "May be opened by", "Due", "State", "Why"), rows, caption=caption),
            exports("expected"),
        ]
        if rows
        else [
            html.P(
                [
                    html.Strong("None. "),
                    "No logger says how often its files come. Say it in the ",
                    dcc.Link("Register", href="/register"),
                    ", with each logger.",
                ],
                className="no-result",
            )
        ]
    )
    return section("expected", "Expected", *content, lede=lede)


def conflicts(found: pl.DataFrame, site: Site, *, logger: str) -> list[Any]:
    """Draw the readings of two imports that contradict each other, both values side by side."""
    if found.is_empty():
        return []
    rows = [
        [
            row["logger"],
            moment(pd.Timestamp(row["time_utc"]), site.time_zone),
            row["channel"],
            f"{_pair(row['kept_rh_percent'], row['kept_temperature_celsius'])}, import {row['kept_import']}",
            f"{_pair(row['rh_percent'], row['temperature_celsius'])}, import {row['import']}, line {row['line']}",
        ]
        for row in found.head(MOST_CONFLICTS).iter_rows(named=True)
    ]
    shown = (
        f"the first {MOST_CONFLICTS} of {count(found.height)}"
        if found.height > MOST_CONFLICTS
        else count(found.height)
    )
    names = ("Logger", "Time", "Channel", "In force", "Contradicting, not used")
    lede = "Two files give different values for one moment. The earlier import stays in force, the later is listed."
    return [
        section(
            "conflicts", "Contradicting readings",
            table(names, rows, caption=f"{shown} readings, times in {site.time_zone}"),
            exports("conflicts", logger=logger), lede=lede,
        )
    ]  # fmt: skip


def _pair(rh: float | None, temperature: float | None) -> str:
    return f"{number(rh, 1, '%RH')}, {number(temperature, 1, '°C')}"


def import_rows(found: Sequence[ImportLine]) -> list[list[Cell]]:
    """Return the imports as rows of a file."""
    return [
        [
            one.import_id, one.file, one.table, one.logger, ", ".join(one.places), one.first, one.last,
            *(one.rows.get(kind) for kind in ("in_file", "kept", "flagged", "duplicate", "conflicting", "rejected")),
            one.n_new, one.n_equal, one.n_conflicting, one.received, one.by, one.undone, one.undone_by,
        ]
        for one in found
    ]  # fmt: skip


def due_rows(found: Sequence[Due], opened_by: Mapping[str, str]) -> list[list[Cell]]:
    """Return the expected files as rows of a file."""
    return [
        [one.logger, one.place, opened_by.get(one.frame, ""), pd.Timestamp(one.due), one.is_overdue, one.text]
        for one in found
    ]


def conflict_rows(found: pl.DataFrame) -> list[list[Cell]]:
    """Return the contradictions as rows of a file."""
    names = (
        "logger", "time_utc", "channel", "kept_rh_percent", "kept_temperature_celsius", "kept_import", "kept_line",
        "rh_percent", "temperature_celsius", "import", "line",
    )  # fmt: skip
    return [
        [pd.Timestamp(value) if name == "time_utc" else value for name, value in zip(names, row, strict=True)]
        for row in found.select(names).iter_rows()
    ]
