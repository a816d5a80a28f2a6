"""The slow breath of a frame: 30-day means inside and in the room, beside the usual winter course."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from isohume.dashboard import theme
from isohume.dashboard.figures.time_axis import wall_clock_ms
from isohume.dashboard.views import FrameView, Record

HEIGHT = 340
N_BUCKETS = 600
# Common practice: a sealed frame may drift from 50 to 40 %RH over a heated winter, and comes back.
USUAL_WINTER_DRIFT_PERCENT = 10.0


def season_figure(record: Record, *, view: FrameView, zone: str) -> go.Figure:
    """Draw the 30-day centred means of the whole record with the conditioned humidity and the lowest and highest."""
    figure = theme.new_figure(height=HEIGHT)
    span = record.span or (0.0, 1.0)
    for trace, name, colour, width in (
        (record.room_mean30d, "Room", theme.ROOM_COLOUR, 1.4),
        (record.inside_mean30d, "Inside", theme.INSIDE_COLOUR, 2.6),
    ):
        times, values = trace.window(*span, n_buckets=N_BUCKETS)
        figure.add_scatter(
            x=wall_clock_ms(times, zone),
            y=values.astype(np.float32),
            mode="lines",
            name=name,
            line={"color": colour, "width": width},
            hovertemplate=f"%{{y:.1f}} %RH<extra>{name}</extra>",
        )
    drift, facts = view.assessment.drift, view.facts
    if facts.band is not None:
        figure.add_hrect(*facts.band, fillcolor=theme.BAND_COLOUR, opacity=0.1, line_width=0, layer="below")
    if facts.conditioned_percent is not None:
        figure.add_hline(facts.conditioned_percent, line={"color": theme.INK, "width": 1, "dash": "2px,4px"})
        figure.add_annotation(
            x=0, xref="paper", xanchor="left", y=facts.conditioned_percent, yanchor="bottom", showarrow=False,
            text=f"conditioned at {facts.conditioned_percent:g} %RH", font={"size": 12, "color": theme.INK},
        )  # fmt: skip
        figure.add_hline(
            facts.conditioned_percent - USUAL_WINTER_DRIFT_PERCENT,
            line={"color": theme.ROOM_GREY, "width": 1, "dash": "1px,3px"},
        )
        figure.add_annotation(
            x=0, xref="paper", xanchor="left", y=facts.conditioned_percent - USUAL_WINTER_DRIFT_PERCENT,
            yanchor="top", showarrow=False, text="usual low of a heated winter",
            font={"size": 12, "color": theme.QUIET},
        )  # fmt: skip
    marks = [(mean, word) for mean, word in ((drift.lowest30d, "lowest"), (drift.highest30d, "highest")) if mean]
    if marks:
        figure.add_scatter(
            x=wall_clock_ms(np.array([mean.date.timestamp() for mean, _ in marks]), zone),
            y=[mean.percent for mean, _ in marks],
            mode="markers+text",
            text=[f"{word} {mean.percent:.1f}" for mean, word in marks],
            textposition=["bottom center" if word == "lowest" else "top center" for _, word in marks],
            cliponaxis=False,
            marker={"size": 9, "color": theme.SHEET, "line": {"color": theme.INSIDE_COLOUR, "width": 2}},
            showlegend=False,
            hoverinfo="skip",
        )
    left, right = wall_clock_ms(np.array(span), zone)
    figure.update_layout(
        xaxis={"type": "date", "range": [left, right], "fixedrange": True, "hoverformat": "%-d %b %Y"},
        yaxis={"title": {"text": "Relative humidity, 30-day mean [%]"}, "fixedrange": True},
    )
    return figure
