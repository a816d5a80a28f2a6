"""The inside of a frame without a logger: an estimate, which looks like one and is never evidence."""

from __future__ import annotations

from typing import Any

import pandas as pd
from dash import dcc, html

from isohume.analysis.wording_events import estimate_in_words
from isohume.dashboard.components.blocks import KeyFigure, key_figures, no_result
from isohume.dashboard.components.frame_exports import frame_table_links
from isohume.dashboard.formats import date, days, number
from isohume.dashboard.views import FrameView, Site

NO_LOGGER = "Estimated: no logger inside. Not evidence."
LOGGER_OUT = "Estimated since the logger came out. Not evidence."
WHAT_TO_DO = (
    "Give a half-time: describe the construction, or name a frame built alike, in the register; read the strip now "
    "and then and add it under Events; or place a logger inside."
)


def estimate(view: FrameView, site: Site) -> Any:
    """Say what the inside is estimated to be since there is no logger; None for a frame that has one."""
    found = view.assessment.estimate
    if found is None and not view.estimated:
        return None
    if found is None:
        why = view.assessment.no_estimate or "Nothing was logged inside this frame."
        register = dcc.Link("Open the register", href="/register/frames")
        return html.Div([no_result(f"{why} {WHAT_TO_DO}", lead="No estimate."), html.P(register, className="note")])
    newest = found.series.iloc[-1]
    when = date(pd.Timestamp(found.series.index[-1]), site.time_zone)
    figures = [
        KeyFigure(
            "Inside, estimated",
            number(float(newest["median"]), 1, "%RH"),
            f"95 % between {number(float(newest['low']))} and {number(float(newest['high']))}, {when}",
        ),
        KeyFigure("Half-time taken", days(found.half_time.days), f"from: {found.half_time.source}"),
        KeyFigure("Strips read", str(len(found.strip_differences)), "each pulls the estimate towards it"),
    ]
    sentences = estimate_in_words(view.assessment, time_zone=site.time_zone)
    return html.Div(
        [
            html.P(NO_LOGGER if view.estimated else LOGGER_OUT, className="estimated-mark"),
            key_figures(figures),
            html.Details([html.Summary("How it was estimated"), html.Ul([html.Li(one) for one in sentences])]),
            frame_table_links(view.facts.frame_id, "estimate", "Estimate"),
        ],
        className="estimate",
    )
