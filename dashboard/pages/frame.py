"""One frame: what it needs and why, its record, and every finding behind it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import dash_mantine_components as dmc
import pandas as pd
from dash import Dash, Input, Output, State, ctx, dcc, html

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
from isohume.dashboard.formats import moment
from isohume.dashboard.in_browser import answer_in_browser
from isohume.dashboard.record_window import PERIODS, choose_window, moment_asked
from isohume.dashboard.theme import figure_without_readings, new_figure
from isohume.dashboard.views import FrameView, Site, UnknownFrameError

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
    asked = moment_asked(query.get("from", "")), moment_asked(query.get("to", ""))
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
    is_known = view.computed != "never"
    return section(
        "record",
        "Record",
        frame_estimate.estimate(view, site) if is_known else None,
        frame_findings.record_figures(view) if is_known and not view.estimated else None,
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
