"""All frames of the collection, most urgent first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, ctx, dcc, html

from isohume.analysis.results import StandingName
from isohume.dashboard import ids
from isohume.dashboard.components.blocks import aria, message
from isohume.dashboard.components.frame_row import frame_row
from isohume.dashboard.components.glyphs import standing_uri
from isohume.dashboard.current import current_store
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
# A browser draws this many rows at once; more of a group are one click away.
ROWS_AT_ONCE = 60


def layout(*, q: str = "", show: str = "", room: str = "", sort: str = "urgency", **_other: str) -> html.Div:
    """Build the page; the arguments are those of its address."""
    store = current_store()
    site, frames = store.site(), store.summaries()
    if not frames:
        return html.Div(
            message(
                "No frames yet",
                "Register the frames and rooms of the collection, then add the files of their loggers.",
            )
        )
    standings = [name for name in show.split(",") if name in ORDER]
    sort = sort if sort in SORTS else "urgency"
    return html.Div(
        [
            _head(frames),
            _controls(frames, q=q, standings=standings, room=room, sort=sort),
            html.Div(groups(frames, site=site, q=q, standings=standings, room=room, sort=sort), id=ids.FRAMES_LIST),
            dcc.Store(id=ids.FRAMES_ADDRESS),
        ],
        className="page frames-page",
    )


def register(app: Dash) -> None:
    """Connect the controls with the list, and the address with the controls."""

    @app.callback(
        Output(ids.FRAMES_LIST, "children"),
        Input(ids.FRAMES_SEARCH, "value"),
        Input(ids.FRAMES_STANDINGS, "value"),
        Input(ids.FRAMES_ROOM, "value"),
        Input(ids.FRAMES_SORT, "value"),
        Input({"type": ids.FRAMES_SHOW_ALL, "group": "decision"}, "n_clicks", allow_optional=True),
        Input({"type": ids.FRAMES_SHOW_ALL, "group": "calm"}, "n_clicks", allow_optional=True),
        State(ids.URL, "search"),
        prevent_initial_call=True,
    )
    def choose(q: str, standings: list[str], room: str | None, sort: str, *_more: Any) -> list[Any]:
        store = current_store()
        everything = isinstance(ctx.triggered_id, dict)
        return groups(
            store.summaries(),
            site=store.site(),
            q=q or "",
            standings=standings or [],
            room=room or "",
            sort=sort or "urgency",
            everything=everything,
        )

    answer_in_browser(
        app,
        "frames_address",
        Output(ids.FRAMES_ADDRESS, "data"),
        Input(ids.FRAMES_SEARCH, "value"),
        Input(ids.FRAMES_STANDINGS, "value"),
        Input(ids.FRAMES_ROOM, "value"),
        Input(ids.FRAMES_SORT, "value"),
    )


def groups(
    frames: Sequence[FrameSummary],
    *,
    site: Site,
    q: str,
    standings: Sequence[str],
    room: str,
    sort: str,
    everything: bool = False,
) -> list[Any]:
    """Return the frames that were asked for, in their groups."""
    chosen = sorted_by(sort, [frame for frame in frames if is_wanted(frame, q=q, standings=standings, room=room)])
    if not chosen:
        return [message("No frame fits", "Clear the search, or choose other standings or another room.")]
    parts = []
    for key, title, lede, members in _grouped(chosen):
        shown = members if everything else members[:ROWS_AT_ONCE]
        rest = len(members) - len(shown)
        more = (
            dmc.Button(
                f"Show the other {count(rest)}", id={"type": ids.FRAMES_SHOW_ALL, "group": key}, variant="default"
            ),
        )
        parts.append(
            html.Section(
                [
                    html.Div(
                        [html.H2([title, " ", html.Span(count(len(members)), className="count")]), html.P(lede)],
                        className="group-head",
                    ),
                    html.Ul([frame_row(frame, site) for frame in shown], className="frame-list"),
                    *(more if rest else ()),
                ],
                className="group",
            )
        )
    return parts


def _grouped(
    frames: Sequence[FrameSummary],
) -> list[tuple[str, str, str, list[FrameSummary]]]:
    decision = [frame for frame in frames if frame.needs_decision]
    changed = [frame for frame in frames if not frame.needs_decision and frame.changed]
    calm = [frame for frame in frames if not frame.needs_decision and not frame.changed]
    reviewed = any(frame.changed is not None for frame in frames)
    listed = [
        ("decision", "Needs a decision", "The frame or its record asks for somebody.", decision),
        ("changed", "Changed since the last review", "Nothing to decide, but not as it was.", changed),
        ("calm", "Unchanged", "As at the last review.", calm)
        if reviewed
        else ("calm", "Nothing to decide", "No rule asks for hands.", calm),
    ]
    return [group for group in listed if group[3]]


def is_wanted(frame: FrameSummary, *, q: str, standings: Sequence[str], room: str) -> bool:
    """Tell whether a frame fits the search words, the standings and the room."""
    told = f"{frame.frame_id} {frame.painting} {frame.room} {frame.standing.name} {frame.data.name}".casefold()
    return (
        all(word in told for word in q.casefold().split())
        and (not standings or frame.standing.name in standings)
        and (not room or frame.room == room)
    )


def sorted_by(sort: str, frames: Sequence[FrameSummary]) -> list[FrameSummary]:
    """Order frames; the store hands them over most urgent first, and ties keep that order."""
    if sort == "due":
        return sorted(frames, key=lambda f: (f.standing.by is None, f.standing.by.timestamp() if f.standing.by else 0))
    if sort == "newest":
        return sorted(frames, key=lambda f: f.newest_utc.timestamp() if f.newest_utc else float("-inf"))
    if sort in ("name", "room"):
        return sorted(frames, key=lambda f: f.frame_id if sort == "name" else (f.room, f.frame_id))
    return list(frames)


def _head(frames: Sequence[FrameSummary]) -> html.Div:
    n_decisions = sum(frame.needs_decision for frame in frames)
    asks = {0: "None needs a decision.", 1: "One needs a decision."}.get(
        n_decisions, f"{n_decisions} need a decision."
    )
    return html.Div(
        [
            html.H1(f"{count(len(frames))} frames"),
            html.P(
                [
                    html.Strong(asks),
                    f" {PICTURE_KEY}",
                ],
                className="lede",
            ),
        ],
        className="page-head",
    )


def _controls(frames: Sequence[FrameSummary], *, q: str, standings: Sequence[str], room: str, sort: str) -> html.Div:
    present = [name for name in ORDER if any(frame.standing.name == name for frame in frames)]
    chips = [
        dmc.Chip(
            [
                html.Img(src=standing_uri(name, None), width=18, height=18, alt=""),
                f" {name} ",
                html.Span(count(sum(frame.standing.name == name for frame in frames)), className="count"),
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
