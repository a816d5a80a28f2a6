"""All frames of the collection, most urgent first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, dcc, html, no_update
from flask import Response, abort

from isohume.analysis.results import StandingName
from isohume.dashboard import frame_tables, ids
from isohume.dashboard.components import frame_waiting
from isohume.dashboard.components.blocks import aria, message
from isohume.dashboard.components.frame_exports import FRAMES_TABLE, KINDS, export_links
from isohume.dashboard.components.frame_row import row_document
from isohume.dashboard.components.glyphs import standing_uri
from isohume.dashboard.current import current_archive, current_store
from isohume.dashboard.formats import count
from isohume.dashboard.in_browser import answer_in_browser
from isohume.dashboard.views import FrameSummary, Site

TITLE = "Frames"
ORDER: tuple[StandingName, ...] = (
    "damp risk",
    "needs reconditioning",
    "check seal",
    "leaving band",
    "cannot tell",
    "steady",
)
SORTS = {
    "urgency": "most urgent first",
    "due": "due date",
    "newest": "oldest reading first",
    "name": "frame",
    "room": "room",
}
PICTURE_KEY = (
    "Each picture shows 12 months: the inside as a line, the room’s daily means as a cloud, "
    "the agreed band as a stripe."
)
DECISION = ("decision", "Needs a decision", "The frame or its record asks for somebody.")
CHANGED = ("changed", "Changed since the last review", "Nothing to decide, but not as it was.")
UNCHANGED = ("calm", "Unchanged", "As at the last review.")
NOTHING_TO_DECIDE = ("calm", "Nothing to decide", "No rule asks for hands.")
WAITING = ("waiting", "Being assessed", "Each moves to its group as soon as its findings are there.")
LOOK_EVERY_MS = 1500
MOST_LOGGERS_NAMED = 4


def layout(*, q: str = "", show: str = "", room: str = "", sort: str = "urgency", **_other: str) -> html.Div:
    """Build the page; the arguments are those of its address."""
    store = current_store()
    site, frames = store.site(), store.known_summaries()
    if not frames:
        return html.Div(_nothing_yet(), className="page frames-page")
    missing = store.unassessed()
    standings = [name for name in show.split(",") if name in ORDER]
    sort = sort if sort in SORTS else "urgency"
    return html.Div(
        [
            _head(frames),
            frame_waiting.being_computed(missing, of="") if missing else None,
            _controls(frames, q=q, standings=standings, room=room, sort=sort),
            html.Div(id=ids.FRAMES_LIST, role="region", **aria(label="Frames")),
            export_links(FRAMES_TABLE, "All frames"),
            dcc.Store(id=ids.FRAMES_DATA, data=list_document(frames, site)),
            dcc.Store(id=ids.FRAMES_ADDRESS),
            dcc.Interval(id=ids.FRAMES_LOOK, interval=LOOK_EVERY_MS, disabled=not missing),
        ],
        className="page frames-page",
    )


def register(app: Dash) -> None:
    """Let the browser draw the list and keep the address of what is shown."""
    frame_waiting.register(app)
    app.server.add_url_rule(f"{FRAMES_TABLE}.<kind>", "frames_table", frames_table)

    @app.callback(
        Output(ids.FRAMES_DATA, "data"),
        Output(ids.FRAMES_LOOK, "disabled"),
        Input(ids.FRAMES_LOOK, "n_intervals"),
        prevent_initial_call=True,
    )
    def look(_n: int | None) -> tuple[Any, bool]:
        store = current_store()
        document = list_document(store.known_summaries(), store.site())
        is_over = not store.unassessed()
        return (document if document["frames"] else no_update), is_over

    answer_in_browser(
        app,
        "draw_frames",
        Output(ids.FRAMES_ADDRESS, "data"),
        Input(ids.FRAMES_DATA, "data"),
        Input(ids.FRAMES_SEARCH, "value"),
        Input(ids.FRAMES_STANDINGS, "value"),
        Input(ids.FRAMES_ROOM, "value"),
        Input(ids.FRAMES_SORT, "value"),
        prevent_initial_call=False,
    )


def frames_table(kind: str) -> Response:
    """Return the list of all frames for a spreadsheet."""
    if kind not in KINDS:
        abort(404, "A list comes as csv or xlsx.")
    store = current_store()
    headings, rows = frame_tables.all_frames(store.known_summaries(), store.site())
    return frame_tables.response(headings, rows, name="frames", kind=kind)


def list_document(frames: Sequence[FrameSummary], site: Site) -> dict[str, Any]:
    """Return what the browser draws the list from: the groups in their order, and one entry per frame."""
    reviewed = any(frame.changed is not None for frame in frames)
    groups = (DECISION, CHANGED, UNCHANGED) if reviewed else (DECISION, NOTHING_TO_DECIDE)
    if any(frame.computed == "never" for frame in frames):
        groups = (*groups, WAITING)
    return {
        "groups": [{"key": key, "title": title, "lede": lede} for key, title, lede in groups],
        "frames": [row_document(frame, site, place=place) for place, frame in enumerate(frames)],
    }


def _nothing_yet() -> html.Div:
    if current_archive() is None:
        return message("No frames yet", "These pages show findings without an archive, and there are none.")
    return message(
        "No frames yet",
        "A frame needs one file from its inside and one from its room.",
        html.Ol(
            [
                html.Li(
                    [
                        dcc.Link("Drop these two files", href="/files"),
                        ": you say which is which and name the frame, and its page answers at once.",
                    ]
                ),
                html.Li(
                    [
                        "Or describe the whole collection in the ",
                        dcc.Link("Register", href="/register"),
                        ", or load a list there; then add the files.",
                    ]
                ),
            ],
            className="prose first-steps",
        ),
    )


def _head(frames: Sequence[FrameSummary]) -> html.Div:
    n_decisions = sum(frame.needs_decision for frame in frames)
    asks = {0: "None needs a decision", 1: "One needs a decision"}.get(n_decisions, f"{n_decisions} need a decision")
    asks += " so far." if any(frame.computed == "never" for frame in frames) else "."
    return html.Div(
        [
            html.H1(f"{count(len(frames))} {'frame' if len(frames) == 1 else 'frames'}"),
            html.P([html.Strong(asks), f" {PICTURE_KEY}"], className="lede"),
            *_overdue(),
        ],
        className="page-head",
    )


def _overdue() -> list[html.P]:
    """Say which loggers owe a file, with the way to the page that takes it."""
    archive = current_archive()
    owed = [] if archive is None else [one for one in archive.due() if one.kind == "file" and one.is_overdue]
    if not owed:
        return []
    loggers = sorted({one.logger for one in owed})
    named = ", ".join(loggers[:MOST_LOGGERS_NAMED]) + (" …" if len(loggers) > MOST_LOGGERS_NAMED else "")
    told = "One file is overdue" if len(owed) == 1 else f"{count(len(owed))} files are overdue"
    return [html.P([f"{told} ({named}). ", dcc.Link("Add files", href="/files")], className="owed")]


def _controls(frames: Sequence[FrameSummary], *, q: str, standings: Sequence[str], room: str, sort: str) -> html.Div:
    known = [frame for frame in frames if frame.computed != "never"]
    present = [name for name in ORDER if any(frame.standing.name == name for frame in known)]
    chips = [
        dmc.Chip(
            [
                html.Img(src=standing_uri(name, None), width=18, height=18, alt=""),
                f" {name} ",
                html.Span(count(sum(frame.standing.name == name for frame in known)), className="count"),
            ],
            value=name,
            variant="outline",
        )
        for name in present
    ]
    rooms = sorted({frame.room for frame in frames if frame.room})
    return html.Div(
        [
            dmc.TextInput(
                id=ids.FRAMES_SEARCH,
                label="Search",
                placeholder="frame, painting or room",
                value=q,
                debounce=200,
                className="search",
            ),
            html.Div(
                [
                    html.Span("Standing", className="control-label", id="standing-label"),
                    html.Div(
                        dmc.ChipGroup(chips, id=ids.FRAMES_STANDINGS, multiple=True, value=list(standings)),
                        className="chips",
                        role="group",
                        **aria(labelledby="standing-label"),
                    ),
                ],
                className="standing-filter",
            ),
            dmc.Select(
                id=ids.FRAMES_ROOM,
                label="Room",
                data=rooms,
                value=room or None,
                clearable=True,
                placeholder="all rooms",
            ),
            dmc.Select(
                id=ids.FRAMES_SORT,
                label="Order",
                data=[{"value": value, "label": label} for value, label in SORTS.items()],
                value=sort,
                allowDeselect=False,
            ),
        ],
        className="controls",
    )
