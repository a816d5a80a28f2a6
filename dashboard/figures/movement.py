"""The width of a panel through the year: in its frame, and as it would have been unframed in the room."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from isohume.analysis.constants import YIELD_STRAIN
from isohume.analysis.frame import Event
from isohume.analysis.readings import seconds_utc
from isohume.dashboard import theme
from isohume.dashboard.figures.time_axis import wall_clock_ms


def movement_figure(course: pd.DataFrame, *, zone: str, conditioned_percent: float | None) -> go.Figure:
    """Draw both courses of the width [mm].

    `course` has a UTC index and the columns framed and unframed: width less the width at conditioning, or less the
    first one where that is not known.
    """
    times = wall_clock_ms(seconds_utc(pd.DatetimeIndex(course.index)), zone)
    figure = theme.new_figure(height=300)
    for column, name, colour, width in (
        ("unframed", "Unframed in the room", theme.ROOM_COLOUR, 1.6),
        ("framed", "In its frame", theme.INSIDE_COLOUR, 2.6),
    ):
        figure.add_scatter(
            x=times,
            y=course[column].to_numpy(),
            mode="lines",
            name=name,
            line={"color": colour, "width": width},
            hovertemplate=f"%{{y:+.2f}} mm<extra>{name}</extra>",
        )
    zero = "width when it was conditioned" if conditioned_percent is not None else "first width of the period"
    figure.add_hline(0, line={"color": theme.INK, "width": 1, "dash": "2px,4px"})
    figure.add_annotation(
        x=0, xref="paper", xanchor="left", y=0, yanchor="bottom", showarrow=False, text=zero,
        font={"size": 12, "color": theme.INK},
    )  # fmt: skip
    figure.update_layout(
        xaxis={"type": "date", "fixedrange": True, "hoverformat": "%-d %b %Y"},
        yaxis={"title": {"text": "Width across the grain [mm]"}, "fixedrange": True},
    )
    return figure


def strain_figure(strains_percent: Mapping[str, float], limits_percent: Mapping[str, float]) -> go.Figure:
    """Draw the largest strains of the year beside published limits [% of the width]."""
    figure = theme.new_figure(height=150 + 34 * len(strains_percent), bargap=0.5, hovermode="closest")
    names = list(strains_percent)
    figure.add_bar(
        x=list(strains_percent.values()),
        y=names,
        orientation="h",
        marker={"color": [theme.INSIDE_COLOUR if name == "In its frame" else theme.ROOM_COLOUR for name in names]},
        text=[f"{value:.2f} %" for value in strains_percent.values()],
        textposition="outside",
        cliponaxis=False,
        hoverinfo="skip",
        showlegend=False,
    )
    for place, (name, limit) in enumerate(limits_percent.items()):
        figure.add_vline(limit, line={"color": theme.INK, "width": 1, "dash": "2px,3px"})
        figure.add_annotation(
            x=limit, y=1.0, yref="paper", yanchor="bottom", yshift=2 + 15 * place, xanchor="left",
            text=f"{name} {limit:g} %", showarrow=False, font={"size": 12, "color": theme.INK},
        )  # fmt: skip
    longest = max(*strains_percent.values(), *limits_percent.values(), 100 * YIELD_STRAIN)
    figure.update_layout(
        margin={"t": 14 + 16 * len(limits_percent), "r": 90},
        xaxis={
            "range": [0, 1.15 * longest],
            "ticksuffix": " %",
            "title": {"text": "Largest free strain of the period [% of the width]"},
            "fixedrange": True,
        },
        yaxis={"showgrid": False, "fixedrange": True, "tickfont": {"color": theme.INK, "size": 13}},
    )
    return figure


def warp_figure(warps: Sequence[Event], *, zone: str) -> go.Figure:
    """Draw measured warps over time, one line for each place at which they were measured [mm]."""
    figure = theme.new_figure(height=220)
    places = sorted({event.warp_where for event in warps})
    for place, (where, symbol) in enumerate(zip(places, _symbols(len(places)), strict=True)):
        mine = sorted((event for event in warps if event.warp_where == where), key=lambda event: event.time_utc)
        name = theme.as_plot_text(where) or "place not noted"
        figure.add_scatter(
            x=wall_clock_ms(np.array([event.time_utc.timestamp() for event in mine]), zone),
            y=[event.warp_mm for event in mine],
            mode="lines+markers",
            name=name,
            line={"color": theme.COLOURWAY[place % len(theme.COLOURWAY)], "width": 1, "dash": "dot"},
            marker={"symbol": symbol, "size": 11},
            customdata=[theme.as_plot_text(event.warp_how) or "how not noted" for event in mine],
            hovertemplate="%{y:.1f} mm, %{customdata}<extra></extra>",
            showlegend=True,
        )
    figure.update_layout(
        hovermode="closest",
        xaxis={"type": "date", "fixedrange": True, "hoverformat": "%-d %b %Y"},
        yaxis={"title": {"text": "Warp [mm]"}, "fixedrange": True},
    )
    return figure


def _symbols(n: int) -> list[str]:
    shapes = ("circle", "square", "diamond", "triangle-up", "cross", "x")
    return [shapes[place % len(shapes)] for place in range(n)]
