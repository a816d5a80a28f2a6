"""The Register at a glance: each kind of record, how many there are, and what is missing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import sqlalchemy as sa
from dash import dcc, html

from isohume.dashboard.access.gate import person
from isohume.dashboard.components.blocks import section
from isohume.dashboard.components.record_links import FOR_ADMINISTRATORS, GROUPS
from isohume.dashboard.components.record_list import places_at
from isohume.dashboard.components.record_words import kind_words
from isohume.dashboard.formats import count
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.kinds import KINDS
from isohume.ingest.archive.models_imports import Recipe
from isohume.ingest.archive.timelines import frame_stays, logger_stays

Records = list[dict[str, Any]]
FIRST_STEPS = (
    ("rooms", "Add the rooms"), ("frames", "register the frames that hang in them"),
    ("loggers", "add the loggers"), ("placements", "and say which logger is in which frame or room"),
)  # fmt: skip


def overview(archive: Archive) -> list[Any]:
    """Draw the kinds in their groups, and the ways to what concerns all of them."""
    counts = counts_of(archive)
    missing = missing_of(archive)
    parts: list[Any] = []
    if not counts["frames"] and not counts["rooms"]:
        parts.append(_first_steps())
    for title, kinds in GROUPS.items():
        shown = [
            kind for kind in kinds if kind not in FOR_ADMINISTRATORS - {"collection"} or person().may("administrator")
        ]
        items = [_kind(kind, counts[kind], missing.get(kind, [])) for kind in shown]
        parts.append(section(f"group-{kinds[0]}", title, html.Ul(items, className="register-kinds")))
    ways = [
        ("/register/description", "Describe or export the collection",
         "Frames from a spreadsheet of four columns, or everything as one file."),
        ("/register/trail", "Audit trail", "Who did what and when, newest first."),
        ("/register/proof", "Key for evidence packs", "Its fingerprint, and what a lender does with it."),
        ("/register/storage", "Storage", "How much is kept, its integrity, and a backup of all of it."),
        ("/verify", "Check an evidence pack",
         "Whether it is as it was signed, and its figures follow from its readings."),
    ]  # fmt: skip
    items = [html.Li([html.H3(dcc.Link(name, href=href)), html.P(told)]) for href, name, told in ways]
    parts.append(section("whole", "The archive as a whole", html.Ul(items, className="register-kinds")))
    return parts


def _kind(kind: str, n: int, missing: list[str]) -> html.Li:
    words = kind_words(kind)
    number: list[Any] = [] if kind == "collection" else [" ", html.Span(count(n), className="count")]
    return html.Li(
        [
            html.H3([dcc.Link(words.many, href=f"/register/{kind}"), *number]),
            html.P(words.lede),
            html.P([html.Strong("Missing: "), "; ".join(missing), "."], className="missing") if missing else None,
        ]
    )


def _first_steps() -> html.Div:
    told: list[Any] = []
    for place, (kind, text) in enumerate(FIRST_STEPS):
        told += [", " if place else "", dcc.Link(text, href=f"/register/{kind}")]
    other = dcc.Link("a spreadsheet or a description", href="/register/description")
    return html.Div(
        [html.P(["Nothing is registered yet. ", *told, ". Or bring ", other, "."])], className="first-steps"
    )


def counts_of(archive: Archive) -> dict[str, int]:
    """Return how many records of each kind there are."""
    with archive.register.reading() as session:
        found = {
            kind: session.scalar(sa.select(sa.func.count()).select_from(KINDS[kind].model)) or 0
            for kinds in GROUPS.values()
            for kind in kinds
            if kind in KINDS
        }
        found["recipes"] = session.scalar(sa.select(sa.func.count()).select_from(Recipe)) or 0
    return found


def missing_of(archive: Archive) -> dict[str, list[str]]:
    """Say for each kind what is missing, in words."""
    now = archive.today()
    with archive.register.reading() as session:
        hang = places_at(frame_stays(session), now)
        measure = places_at(logger_stays(session), now)
    measured = {place for places in measure.values() for place in places}
    frames = [frame for frame in archive.records("frames") if frame["lifecycle"] != "retired"]
    loggers = [logger for logger in archive.records("loggers") if not logger["retired"]]
    calibrated = {row["logger"] for row in archive.records("calibrations")}
    rooms_with_frames = {room for rooms in hang.values() for room in rooms}
    overdue = [one for one in archive.due(now) if one.is_overdue and one.kind == "calibration"]
    asked: Mapping[str, list[tuple[Records, Callable[[dict[str, Any]], bool], str]]] = {
        "frames": [
            (frames, lambda row: not row["band"], "an agreed band for {}"),
            (frames, lambda row: row["conditioned_percent"] is None, "the conditioning of {}"),
            (frames, lambda row: not row["panel"], "the panel of {}"),
            (frames, lambda row: row["id"] not in hang, "the room of {}"),
            (frames, lambda row: f"frame {row['id']}" not in measured, "a logger now in {}"),
        ],
        "rooms": [
            (
                archive.records("rooms"),
                lambda row: row["id"] in rooms_with_frames and f"room {row['id']}" not in measured,
                "a logger now in {}, where frames hang",
            )
        ],
        "loggers": [
            (
                loggers,
                lambda row: row["uncertainty_percent"] is None and row["id"] not in calibrated,
                "the uncertainty of {}",
            ),
            (loggers, lambda row: row["id"] not in measure, "a place now for {}"),
        ],
        "terms": [(archive.records("terms"), lambda row: not row["clauses"], "clauses of {}")],
    }  # fmt: skip
    found = {kind: [told for one in questions if (told := _named(*one))] for kind, questions in asked.items()}
    if overdue:
        found["calibrations"] = [f"a new calibration of {_some(sorted({one.logger for one in overdue}))}"]
    if not archive.records("users") and person().may("administrator"):
        found["users"] = ["nobody may sign in from another machine, until somebody is registered"]
    return found


def _named(records: Records, is_missing: Callable[[dict[str, Any]], bool], text: str) -> str:
    names = [str(row["id"]) for row in records if is_missing(row)]
    return text.format(_some(names)) if names else ""


def _some(names: list[str]) -> str:
    return ", ".join(names) if len(names) <= 3 else f"{', '.join(names[:2])} and {count(len(names) - 2)} more"
