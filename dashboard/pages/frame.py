"""One frame: what it needs and why, its record, and every finding behind it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import dash_mantine_components as dmc
import pandas as pd
from dash import Dash, Input, Output, State, ctx, dcc, html
from dash.exceptions import PreventUpdate

from isohume.dashboard import frame_routes, ids
from isohume.dashboard.components import (
    frame_estimate,
    frame_events,
    frame_files,
    frame_findings,
    frame_flags,
    frame_terms,
    frame_verdict,
    frame_waiting,
)
from isohume.dashboard.components.blocks import aria, graph, message, no_result, section
from isohume.dashboard.components.frame_exports import frame_table_links
from isohume.dashboard.current import current_store
from isohume.dashboard.figures.dew_point import dew_point_figure
from isohume.dashboard.figures.record import N_BUCKETS, record_figure
from isohume.dashboard.figures.season import season_figure
from isohume.dashboard.figures.time_axis import seconds_from_wall_clock
from isohume.dashboard.formats import moment
from isohume.dashboard.in_browser import answer_in_browser
from isohume.dashboard.theme import figure_without_readings, new_figure
from isohume.dashboard.views import FrameView, Site, UnknownFrameError

DAY = 86_400.0
PERIODS = {"all": "all", "365": "12 months", "90": "90 days", "30": "30 days", "7": "7 days"}
# A record up to this long is shown whole at first, a longer one by its last 12 months.
LONGEST_SHOWN_WHOLE = 450 * DAY
SHORTEST_WINDOW = 3600.0
PARTS = (
    ("record", "Record"),
    ("events", "Events"),
    ("excursions", "Outside the band"),
    ("buffering", "Buffering"),
    ("season", "Season"),
    ("exchange", "Exchange"),
    ("seal", "Seal check"),
    ("forecast", "Forecast"),
    ("helped", "Did it help"),
    ("panel", "Panel"),
    ("dew-point", "Dew point"),
    ("terms", "Climate terms"),
    ("files", "Files"),
)
# Of a frame without a logger inside: everything else needs readings from there.
PARTS_OF_ESTIMATED = frozenset({"record", "events", "season", "panel", "dew-point", "terms", "files"})
# What is there before any finding is.
PARTS_AT_ONCE = frozenset({"record", "events", "terms", "files"})


def title(frame_id: str) -> str:
    """Name the page in the browser's window."""
    return f"Frame {frame_id}"


def layout(frame_id: str, query: Mapping[str, str]) -> html.Div:
    """Build the page of one frame; its address chooses the stretch of the record and the terms shown."""
    store = current_store()
    try:
        view = store.known_frame(frame_id)
    except UnknownFrameError as error:
        lost = message("No such frame", str(error), dcc.Link("All frames", href="/frames"))
        return html.Div(lost, className="page frame-page")
    site, is_known = store.site(), view.computed != "never"
    waiting = frame_waiting.being_computed([frame_id], of=frame_id) if view.computed != "now" else None
    parts = _parts(view)
    return html.Div(
        [
            frame_verdict.head(view, site),
            frame_verdict.outdated(view, site),
            waiting,
            frame_verdict.verdict(view, site) if is_known else frame_verdict.not_yet(view, site),
            html.Div(
                [
                    html.Nav(
                        [html.A(name, href=f"#{anchor}") for anchor, name in parts],
                        className="parts",
                        **aria(label="Parts of this page"),
                    ),
                    html.Div(
                        [
                            _record(view, site, query),
                            frame_events.events(view, site),
                            *(frame_findings.sections(view, site) if is_known else ()),
                            frame_terms.terms(view, query),
                            frame_files.files(view, site),
                        ],
                        className="sections",
                    ),
                ],
                className="with-parts",
            ),
            dcc.Store(id=ids.FRAME_ID, data=frame_id),
            dcc.Store(id=ids.FRAME_ADDRESS),
            dcc.Store(id=ids.FRAME_ASKED),
        ],
        className="page frame-page",
    )


def _parts(view: FrameView) -> list[tuple[str, str]]:
    """Return anchor and name of the parts that the page of this frame has."""
    if view.computed == "never":
        return [part for part in PARTS if part[0] in PARTS_AT_ONCE]
    if view.estimated:
        kept = [part for part in PARTS if part[0] in PARTS_OF_ESTIMATED]
        return [*kept[:2], (frame_findings.WITHOUT_A_LOGGER, "Needs a logger"), *kept[2:]]
    return list(PARTS)


def _record(view: FrameView, site: Site, query: Mapping[str, str]) -> html.Section:
    asked = _moment_of(query.get("from", "")), _moment_of(query.get("to", ""))
    window = list(asked) if asked[0] is not None and asked[1] is not None and asked[0] < asked[1] else None
    controls = html.Div(
        [
            dmc.SegmentedControl(
                id=ids.FRAME_PERIOD,
                data=[{"value": value, "label": label} for value, label in PERIODS.items()],
                value=None if window else "start",
                size="sm",
            ),
            html.Div(
                [
                    dmc.Button("← earlier", id=ids.FRAME_EARLIER, variant="default", size="sm"),
                    dmc.Button("later →", id=ids.FRAME_LATER, variant="default", size="sm"),
                ],
                className="steps",
            ),
            html.P(id=ids.FRAME_WINDOW_WORDS, className="window-words", role="status"),
        ],
        className="record-controls",
    )
    figure = graph(
        new_figure(height=560),
        graph_id=ids.FRAME_RECORD,
        description="Relative humidity and temperature, inside and in the room, over time.",
    )
    estimated = frame_estimate.estimate(view, site) if view.computed != "never" else None
    return section(
        "record",
        "Record",
        estimated,
        frame_findings.record_figures(view) if estimated is None and view.computed != "never" else None,
        controls,
        dcc.Loading(
            figure,
            delay_show=300,
            overlay_style={"visibility": "visible", "opacity": 0.5},
            custom_spinner=html.Span("Reading …", className="reading"),
        ),
        html.Div(id=ids.FRAME_FLAGS),
        frame_table_links(view.facts.frame_id, "readings", "Hourly means of the record"),
        dcc.Store(id=ids.FRAME_WINDOW, data=window),
        lede=(
            "Drag across the picture to look closer; double-click to see it all. Long stretches are drawn by the "
            f"smallest and largest reading of {N_BUCKETS} equal parts; gaps in the record stay open."
        ),
    )


def register(app: Dash) -> None:
    """Connect the record with its controls, and fill the figures that need readings."""
    frame_routes.register(app)

    @app.callback(
        Output(ids.FRAME_RECORD, "figure"),
        Output(ids.FRAME_WINDOW, "data"),
        Output(ids.FRAME_WINDOW_WORDS, "children"),
        Output(ids.FRAME_PERIOD, "value"),
        Input(ids.FRAME_ID, "data"),
        Input(ids.FRAME_RECORD, "relayoutData"),
        Input(ids.FRAME_PERIOD, "value"),
        Input(ids.FRAME_EARLIER, "n_clicks"),
        Input(ids.FRAME_LATER, "n_clicks"),
        Input(ids.FRAME_ASKED, "data"),
        State(ids.FRAME_WINDOW, "data"),
    )
    def draw(
        frame_id: str,
        relayout: dict[str, Any] | None,
        period: str | None,
        _earlier: int | None,
        _later: int | None,
        asked: list[float] | None,
        window: list[float] | None,
    ) -> tuple[Any, list[float], str, str | None]:
        store = current_store()
        site, record = store.site(), store.record(frame_id)
        if record.span is None:
            return figure_without_readings("No reading of this frame or its room."), [], "", None
        chosen, period = choose_window(
            ctx.triggered_id,
            asked=asked,
            relayout=relayout,
            period=period,
            window=window,
            span=record.span,
            zone=site.time_zone,
        )
        view = store.known_frame(frame_id)
        found = view.assessment
        figure = record_figure(
            record,
            window=chosen,
            zone=site.time_zone,
            band=view.facts.band,
            excursions=found.band.excursions if found.band else (),
            events=view.facts.events,
            estimate=found.estimate.series if found.estimate else None,
        )
        first, last = (moment(pd.Timestamp(t, unit="s", tz="UTC"), site.time_zone) for t in chosen)
        return figure, list(chosen), f"{first} to {last}", period

    @app.callback(
        Output(ids.FRAME_SEASON, "children"),
        Output(ids.FRAME_DEW_POINT, "children"),
        Input(ids.FRAME_SEASON, "id"),  # there only once findings are
        State(ids.FRAME_ID, "data"),
    )
    def draw_findings(_there: str, frame_id: str) -> tuple[Any, Any]:
        store = current_store()
        site, view, record = store.site(), store.known_frame(frame_id), store.record(frame_id)
        if record.span is None:
            missing = no_result("There is no reading of this frame or its room.")
            return missing, missing
        return (
            graph(
                season_figure(record, view=view, zone=site.time_zone),
                description="30-day means of relative humidity inside and in the room through the year.",
            ),
            graph(
                dew_point_figure(record, zone=site.time_zone),
                description="Dew point of the air inside and in the room.",
            ),
        )

    @app.callback(Output(ids.FRAME_FLAGS, "children"), Input(ids.FRAME_ID, "data"))
    def say_flags(frame_id: str) -> Any:
        return frame_flags.flags(*current_store().air(frame_id))

    answer_in_browser(
        app,
        "draw_excursions",
        Output(ids.FRAME_EXCURSIONS_DRAWN, "data"),
        Input(ids.FRAME_EXCURSIONS_DATA, "data"),
        prevent_initial_call=False,
    )
    answer_in_browser(
        app,
        "window_address",
        Output(ids.FRAME_ADDRESS, "data"),
        Input(ids.FRAME_WINDOW, "data"),
        State(ids.FRAME_PERIOD, "value"),
    )


def choose_window(
    trigger: Any,
    *,
    asked: list[float] | None,
    relayout: dict[str, Any] | None,
    period: str | None,
    window: list[float] | None,
    span: tuple[float, float],
    zone: str,
) -> tuple[tuple[float, float], str | None]:
    """Return the stretch to show [s since 1970] and the named period it is, if any."""
    first, last = span
    if trigger == ids.FRAME_RECORD:
        if relayout and "xaxis.range[0]" in relayout:
            start, end = (seconds_from_wall_clock(relayout[f"xaxis.range[{place}]"], zone) for place in (0, 1))
            return _within(start, end, span), None
        if relayout and relayout.get("xaxis.autorange"):
            return span, "all"
        raise PreventUpdate
    if trigger == ids.FRAME_ASKED and asked:
        return _within(asked[0], asked[1], span), None
    if trigger in (ids.FRAME_EARLIER, ids.FRAME_LATER) and window:
        step = (window[1] - window[0]) * (-0.5 if trigger == ids.FRAME_EARLIER else 0.5)
        step = min(max(step, first - window[0]), last - window[1])
        return _within(window[0] + step, window[1] + step, span), None
    if trigger != ids.FRAME_PERIOD and window:
        return _within(window[0], window[1], span), None
    if period not in PERIODS:
        period = "all" if last - first <= LONGEST_SHOWN_WHOLE else "365"
    return (span if period == "all" else _within(last - float(period) * DAY, last, span)), period


def _within(start: float, end: float, span: tuple[float, float]) -> tuple[float, float]:
    start = min(max(start, span[0]), span[1] - SHORTEST_WINDOW)
    return start, max(min(end, span[1]), start + SHORTEST_WINDOW)


def _moment_of(text: str) -> float | None:
    try:
        time = pd.Timestamp(text)
    except ValueError:
        return None
    if pd.isna(time):
        return None
    return float((time.tz_localize("UTC") if time.tzinfo is None else time).timestamp())
